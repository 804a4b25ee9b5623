/* The open data of tests/data, read by the simplest means, so that a fault of our own readers cannot hide one of a model. */
#ifndef TESTS_TABLES_H
#define TESTS_TABLES_H

#include "dewbell/date.h"
#include "dewbell/thermal.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { RECORD_DAYS = 1461, RECORD_FIRST = 15340 }; /* 2012-01-01 .. 2015-12-31 */

struct record {
    struct db_date first;
    double low[RECORD_DAYS], high[RECORD_DAYS], rain[RECORD_DAYS];
};

static inline void table_missing(const char *what)
{
    (void) fprintf(stderr, "tests/data: %s; run the tests from the top folder\n", what);
    abort();
}

static inline void record_read(const char *path, struct record *record)
{
    FILE *file = fopen(path, "r");
    char line[128];
    size_t count = 0;

    if (!file || !fgets(line, sizeof line, file))
        table_missing(path);
    while (count < RECORD_DAYS && fgets(line, sizeof line, file)) {
        struct db_date date;
        if (db_date_read(line, 10, &date) != DB_OK || date.day != RECORD_FIRST + (int) count ||
            sscanf(line + 11, "%lf,%lf,%lf", &record->rain[count], &record->high[count], &record->low[count]) != 3)
            table_missing(line);
        count++;
    }
    if (count != RECORD_DAYS || fgets(line, sizeof line, file))
        table_missing("a daily record does not hold 1461 days");
    (void) fclose(file);
    record->first = (struct db_date){ RECORD_FIRST };
}

static inline const struct record *seattle(void)
{
    static struct record record;

    if (!record.first.day)
        record_read("tests/data/seattle-weather.csv", &record);
    return &record;
}

static inline const struct record *new_york(void)
{
    static struct record record;

    if (!record.first.day)
        record_read("tests/data/new-york-weather.csv", &record);
    return &record;
}

struct hours {
    double at[365][24];
};

/* Hourly normals of the air temperature at Seattle, a common year; the first hour of all is not in the source: NAN. */
static inline const struct hours *seattle_hours(void)
{
    static struct hours hours;
    FILE *file = fopen("tests/data/seattle-hourly-normals.csv", "r");
    char line[256];
    size_t day = 0;

    if (!file || !fgets(line, sizeof line, file))
        table_missing("seattle-hourly-normals.csv cannot be read");
    for (; day < 365 && fgets(line, sizeof line, file); day++) {
        char *at = line + 10; /* behind the date */

        for (size_t hour = 0; hour < 24; hour++) {
            char *from = at + 1;

            hours.at[day][hour] = strtod(from, &at);
            if (from[-1] != ',' || (at == from && (day || hour)))
                table_missing(line);
        }
    }
    if (day != 365 || fgets(line, sizeof line, file))
        table_missing("seattle-hourly-normals.csv does not hold 365 days");
    (void) fclose(file);
    hours.at[0][0] = (double) NAN;
    return &hours;
}

/* The emergence table of a crop: with decimals, or in whole days. The rate is 0 below the lowest temperature tested, the
 * last rate holds to `top`. */
static inline struct db_emergence emergence_of(const char *crop, bool whole, double top)
{
    struct db_emergence table = { 0 };
    FILE *file = fopen("tests/data/emergence.csv", "r");
    char line[128], name[32];
    double t, days, whole_days;

    if (!file)
        table_missing("emergence.csv cannot be read");
    while (fgets(line, sizeof line, file))
        if (sscanf(line, "%31[^,],%lf,%lf,%lf", name, &t, &days, &whole_days) == 4 && strcmp(name, crop) == 0) {
            table.temperature[table.count] = t;
            table.days[table.count++] = whole ? whole_days : days;
        }
    (void) fclose(file);
    if (!table.count)
        table_missing(crop);
    table.base = table.temperature[0];
    table.top = top;
    return table;
}

#endif
