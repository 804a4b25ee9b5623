#define DB_PURE
#include "dewbell/date.h"

#include "base/text.h"

#include <string.h>

#include "base/banned.h"

static const char *const weekdays[] = { "Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday" };
static const char *const brief_weekdays[] = { "Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun" };
static const char *const months[] = { "January", "February", "March",     "April",   "May",      "June",
                                      "July",    "August",   "September", "October", "November", "December" };
static const char *const brief_months[] = { "Jan", "Feb", "Mar", "Apr", "May", "Jun",
                                            "Jul", "Aug", "Sep", "Oct", "Nov", "Dec" };

static bool leap(int year)
{
    return year % 4 == 0 && (year % 100 != 0 || year % 400 == 0);
}

int db_date_days_in_month(int year, int month)
{
    static const int days[] = { 31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31 };

    if (month < 1 || month > 12)
        return 0;
    return days[month - 1] + (month == 2 && leap(year));
}

/* Days before the given month in a year that begins with March: 0, 31, 61, 92 ... so that the leap day comes last. */
static int days_before(int march_month)
{
    return (153 * march_month + 2) / 5;
}

enum { ERA = 146097, TO_1970 = 719468 }; /* days in 400 years; from 0000-03-01 to 1970-01-01 */

enum db_status db_date_of(int year, int month, int day, struct db_date *ret_date)
{
    if (year < 1583 || year > 9999 || month < 1 || month > 12 || day < 1 || day > db_date_days_in_month(year, month))
        return DB_RANGE;
    int y = month > 2 ? year : year - 1, m = month > 2 ? month - 3 : month + 9;
    ret_date->day = 365 * y + y / 4 - y / 100 + y / 400 + days_before(m) + day - 1 - TO_1970;
    return DB_OK;
}

void db_date_parts(struct db_date date, int *ret_year, int *ret_month, int *ret_day)
{
    int64_t n = (int64_t) date.day + TO_1970, era = (n >= 0 ? n : n - (ERA - 1)) / ERA;
    int in_era = (int) (n - era * ERA);
    /* leap days of the era so far are taken out before the division by 365 */
    int y = (in_era - in_era / 1460 + in_era / 36524 - in_era / (ERA - 1)) / 365;
    int in_year = in_era - (365 * y + y / 4 - y / 100), m = (5 * in_year + 2) / 153;

    if (ret_year)
        *ret_year = (int) (era * 400) + y + (m > 9);
    if (ret_month)
        *ret_month = m < 10 ? m + 3 : m - 9;
    if (ret_day)
        *ret_day = in_year - days_before(m) + 1;
}

int db_date_day_of_year(struct db_date date)
{
    int year, month, day;

    db_date_parts(date, &year, &month, &day);
    return month > 2 ? days_before(month - 3) + 59 + leap(year) + day : 31 * (month - 1) + day;
}

int db_date_weekday(struct db_date date)
{
    return (date.day % 7 + 7 + 3) % 7 + 1; /* 1970-01-01 was a Thursday */
}

static bool digits(const char *text, size_t count, int *ret_number)
{
    int number = 0;

    for (size_t i = 0; i < count; i++) {
        if (text[i] < '0' || text[i] > '9')
            return false;
        number = number * 10 + (text[i] - '0');
    }
    *ret_number = number;
    return count > 0;
}

static bool letter(char c)
{
    return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z');
}

static int month_called(const char *text, size_t length)
{
    char word[10] = "";

    if (length >= sizeof word)
        return 0;
    memcpy(word, text, length);
    for (int i = 0; i < 12; i++)
        if (db_text_same(word, months[i]) || db_text_same(word, brief_months[i]))
            return i + 1;
    return db_text_same(word, "Sept") ? 9 : 0;
}

/* "14 June 2026": the three words and nothing else. */
static bool read_words(const char *text, size_t length, int *year, int *month, int *day)
{
    size_t starts[3], lengths[3], at = 0;

    for (int i = 0; i < 3; i++) {
        starts[i] = at;
        while (at < length && text[at] != ' ')
            at++;
        lengths[i] = at - starts[i];
        while (i < 2 && at < length && text[at] == ' ')
            at++;
    }
    if (at != length || lengths[0] > 2 || lengths[2] != 4)
        return false;
    for (size_t i = 0; i < lengths[1]; i++)
        if (!letter(text[starts[1] + i]))
            return false;
    *month = month_called(text + starts[1], lengths[1]);
    return *month && digits(text + starts[0], lengths[0], day) && digits(text + starts[2], 4, year);
}

enum db_status db_date_read(const char *text, size_t length, struct db_date *ret_date)
{
    int year, month, day;
    bool iso = length == 10 && text[4] == '-' && text[7] == '-' && digits(text, 4, &year) &&
               digits(text + 5, 2, &month) && digits(text + 8, 2, &day);

    if (!iso && !read_words(text, length, &year, &month, &day))
        return DB_RANGE;
    return db_date_of(year, month, day, ret_date) == DB_OK ? DB_OK : DB_ABSENT;
}

static char *put_digits(char *to, int number, int count)
{
    for (int i = count; i--; number /= 10)
        to[i] = (char) ('0' + number % 10);
    return to + count;
}

char *db_date_iso(struct db_date date, char buffer[11])
{
    int year, month, day;
    char *to = buffer;

    db_date_parts(date, &year, &month, &day);
    if (!db_date_known(date) || year < 0 || year > 9999) {
        memcpy(buffer, "-", 2);
        return buffer;
    }
    to = put_digits(to, year, 4);
    *to++ = '-';
    to = put_digits(to, month, 2);
    *to++ = '-';
    *put_digits(to, day, 2) = '\0';
    return buffer;
}

const char *db_date_weekday_name(int weekday, bool brief)
{
    if (weekday < 1 || weekday > 7)
        return "?";
    return (brief ? brief_weekdays : weekdays)[weekday - 1];
}

const char *db_date_month_name(int month, bool brief)
{
    if (month < 1 || month > 12)
        return "?";
    return (brief ? brief_months : months)[month - 1];
}
