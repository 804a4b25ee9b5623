/* Local time by the library's zones, held against the C library's, which reads the same database by itself. */
#include "read/zone.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include <cmocka.h>

#include "kit/thrift.h"

#include "base/banned.h"

static const char *const names[] = { "Europe/London", "America/New_York", "Asia/Kolkata",        "Asia/Calcutta",
                                     "UTC",           "Europe/Jersey",    "Australia/Lord_Howe", "America/Havana",
                                     "Etc/GMT-14",    "Asia/Kathmandu",   "America/Sao_Paulo",   "Asia/Beirut" };
enum { NAMES = sizeof names / sizeof names[0] };

static void agrees(const char *name)
{
    const struct db_zone *zone = db_zone_find(name);

    assert_non_null(zone);
    assert_int_equal(setenv("TZ", name, 1), 0);
    tzset();
    for (int64_t utc = 1735689600; utc < 2082758400; utc += 435600) { /* 2025 .. 2035 in steps of 121 h */
        const time_t at = (time_t) utc;
        struct tm there = { 0 };
        struct db_date day;

        assert_non_null(localtime_r(&at, &there));
        if (there.tm_gmtoff != db_zone_offset(zone, utc))
            fail_msg("%s at %lld: %ld and %d", name, (long long) utc, there.tm_gmtoff, (int) db_zone_offset(zone, utc));
        assert_int_equal(db_date_of(there.tm_year + 1900, there.tm_mon + 1, there.tm_mday, &day), DB_OK);
        assert_int_equal(db_zone_day(zone, utc).day, day.day);
    }
}

/* Every zone and link that the database lists: "Z NAME ..." and "L TARGET NAME". */
static void offsets_agree(void **state)
{
    FILE *table = fopen("/usr/share/zoneinfo/tzdata.zi", "re");
    char line[256];
    int count = 0;

    (void) state;
    assert_non_null(table);
    while (fgets(line, sizeof line, table)) {
        char *at = line[0] == 'L' && line[1] == ' ' ? strchr(line + 2, ' ') : line + 1;

        if ((line[0] != 'Z' && line[0] != 'L') || !at || *at != ' ')
            continue;
        at++;
        at[strcspn(at, " \n")] = '\0';
        if (count++ % thrift(1, 9) == 0)
            agrees(at);
    }
    (void) fclose(table);
    assert_true(count > 400);
    assert_null(db_zone_find("Europe/Atlantis"));
}

/* A day starts where the day before has ended: one second earlier is yesterday, and that holds for every day. */
static void days_start_where_they_do(void **state)
{
    (void) state;
    for (size_t i = 0; i < NAMES; i++) {
        const struct db_zone *zone = db_zone_find(names[i]);
        struct db_date day;

        assert_int_equal(db_date_of(2025, 1, 1, &day), DB_OK);
        for (int n = 0; n < thrift(2 * 365, 80); n++, day = db_date_add(day, thrift(1, 9))) {
            const int64_t start = db_zone_day_start(zone, day);

            assert_int_equal(db_zone_day(zone, start).day, day.day);
            assert_int_equal(db_zone_day(zone, start - 1).day, day.day - 1);
        }
    }
}

static int hours(const char *name, int year, int month, int day)
{
    struct db_date date;

    assert_int_equal(db_date_of(year, month, day, &date), DB_OK);
    const struct db_zone *zone = db_zone_find(name);
    return (int) ((db_zone_day_start(zone, db_date_add(date, 1)) - db_zone_day_start(zone, date)) / 3600);
}

/* The days of change as the governments set them: Directive 2000/84/EC (last Sundays of March and October), US Energy
 * Policy Act of 2005 (second Sunday of March, first of November). In Sao Paulo clocks skipped midnight on 4 November 2018
 * (decree 9.242 of 2017). */
static void long_and_short_days(void **state)
{
    (void) state;
    assert_int_equal(hours("Europe/London", 2026, 3, 29), 23);
    assert_int_equal(hours("Europe/London", 2026, 3, 30), 24);
    assert_int_equal(hours("Europe/London", 2026, 10, 25), 25);
    assert_int_equal(hours("America/New_York", 2026, 3, 8), 23);
    assert_int_equal(hours("America/New_York", 2026, 11, 1), 25);
    assert_int_equal(hours("America/Sao_Paulo", 2018, 11, 4), 23);
    assert_int_equal(hours("Asia/Kolkata", 2026, 3, 29), 24);
}

static void moments(void **state)
{
    const struct db_zone *paris = db_zone_find("Europe/Paris");
    struct db_date day;

    (void) state;
    assert_int_equal(db_date_of(2026, 6, 1, &day), DB_OK);
    assert_int_equal(db_zone_moment(paris, day, 6 * 60 + 30), (int64_t) day.day * 86400 + 4 * 3600 + 1800);
    /* 02:30 does not exist on 29 March 2026: half an hour after the skip, 03:30 summer time, 01:30 UTC */
    assert_int_equal(db_date_of(2026, 3, 29, &day), DB_OK);
    assert_int_equal(db_zone_moment(paris, day, 150), (int64_t) day.day * 86400 + 5400);
    /* 02:30 comes twice on 25 October 2026: the first is 00:30 UTC */
    assert_int_equal(db_date_of(2026, 10, 25, &day), DB_OK);
    assert_int_equal(db_zone_moment(paris, day, 150), (int64_t) day.day * 86400 + 1800);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(offsets_agree),
        cmocka_unit_test(days_start_where_they_do),
        cmocka_unit_test(long_and_short_days),
        cmocka_unit_test(moments),
    };

    return cmocka_run_group_tests_name("read_zone", tests, NULL, NULL);
}
