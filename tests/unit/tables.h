/* The open data of tests/data, read by the simplest means, so that a fault of our own readers cannot hide one of a model. */
#ifndef TESTS_TABLES_H
#define TESTS_TABLES_H

#include "dewbell/date.h"
#include "dewbell/thermal.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { SEATTLE_DAYS = 1461, SEATTLE_FIRST = 15340 }; /* 2012-01-01 .. 2015-12-31 */

struct seattle {
    struct db_date first;
    double low[SEATTLE_DAYS], high[SEATTLE_DAYS], rain[SEATTLE_DAYS];
};

static inline void table_missing(const char *what)
{
    (void) fprintf(stderr, "tests/data: %s; run the tests from the top folder\n", what);
    abort();
}

static inline const struct seattle *seattle(void)
{
    static struct seattle data;
    FILE *file = fopen("tests/data/seattle-weather.csv", "r");
    char line[128];
    size_t count = 0;

    if (!file || !fgets(line, sizeof line, file))
        table_missing("seattle-weather.csv cannot be read");
    while (count < SEATTLE_DAYS && fgets(line, sizeof line, file)) {
        struct db_date date;
        if (db_date_read(line, 10, &date) != DB_OK || date.day != SEATTLE_FIRST + (int) count ||
            sscanf(line + 11, "%lf,%lf,%lf", &data.rain[count], &data.high[count], &data.low[count]) != 3)
            table_missing(line);
        count++;
    }
    if (count != SEATTLE_DAYS || fgets(line, sizeof line, file))
        table_missing("seattle-weather.csv does not hold 1461 days");
    (void) fclose(file);
    data.first = (struct db_date){ SEATTLE_FIRST };
    return &data;
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
