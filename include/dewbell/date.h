/* Days of the proleptic Gregorian calendar. A date has no hour and no zone: which day "today" is gets decided once, at
 * the top, in the garden's zone. */
#ifndef DEWBELL_DATE_H
#define DEWBELL_DATE_H

#include "dewbell/status.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#ifdef __cplusplus
extern "C" {
#endif

/* day: days since 1970-01-01, which is 0. INT32_MIN: no date. Compare the field. Usable range: the years 1583..9999. */
struct db_date {
    int32_t day;
};

#define DB_NO_DATE ((struct db_date){ INT32_MIN })

static inline bool db_date_known(struct db_date date)
{
    return date.day != INT32_MIN;
}

/* `days` later (earlier if negative); no date stays no date. */
static inline struct db_date db_date_add(struct db_date date, int32_t days)
{
    struct db_date moved = { date.day == INT32_MIN ? INT32_MIN : date.day + days };
    return moved;
}

/* year 1583..9999, month 1..12, day 1..31. DB_RANGE for a day that the month does not have (31 June, 29 February 2026). */
DB_MUST_USE enum db_status db_date_of(int year, int month, int day, struct db_date *ret_date);

/* The parts of a known date; any ret_ may be NULL. */
void db_date_parts(struct db_date date, int *ret_year, int *ret_month, int *ret_day);

/* 1 (1 January) .. 366. */
int db_date_day_of_year(struct db_date date);

/* 1 (Monday) .. 7 (Sunday), ISO 8601. */
int db_date_weekday(struct db_date date);

int db_date_days_in_month(int year, int month);

/* Reads "2026-06-14" (ISO 8601) or "14 June 2026" ("14 Jun 2026"; month names in English, any case) from the whole of
 * `length` bytes. DB_RANGE: not a date at all; DB_ABSENT: written as a date, but the calendar has no such day. */
DB_MUST_USE enum db_status db_date_read(const char *text, size_t length, struct db_date *ret_date);

/* "2026-06-14" into a buffer of at least 11 bytes; returns buffer. "no date" is written "-". */
char *db_date_iso(struct db_date date, char buffer[11]);

/* "Sunday", "Sun", "June", "Jun": constant English text. weekday 1..7, month 1..12. */
const char *db_date_weekday_name(int weekday, bool brief);
const char *db_date_month_name(int month, bool brief);

#ifdef __cplusplus
}
#endif
#endif
