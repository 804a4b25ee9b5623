/* The clock that stands on another day. The days and hours are those of Python's zoneinfo (tzdata):
 *   from datetime import datetime; from zoneinfo import ZoneInfo
 *   datetime(2026, 11, 25, 8, 44, 54, tzinfo=ZoneInfo("UTC")).astimezone(ZoneInfo("America/Los_Angeles"))  # 00:44:54 -08:00
 *   datetime(2015, 6, 26, 0, 44, 54, tzinfo=ZoneInfo("America/Los_Angeles")).timestamp()                   # 1435304694
 *   datetime(2015, 6, 26, 7, 0, tzinfo=ZoneInfo("America/Los_Angeles")).timestamp()                        # 1435327200
 *   datetime(2015, 3, 8, 2, 30, tzinfo=ZoneInfo("America/Los_Angeles")).astimezone(ZoneInfo("UTC"))        # 10:30, skipped hour */
#include "service/clock_shift.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "kit/value.h"

#include "base/banned.h"

static int64_t wall_now, asked_wall;

static int64_t wall(void *context)
{
    (void) context;
    return wall_now;
}

static int64_t steady(void *context)
{
    (void) context;
    return 77;
}

static int wait_for(void *context, int epoll, struct epoll_event *events, int room, int64_t until, int64_t wall_until)
{
    (void) context;
    (void) epoll;
    (void) events;
    (void) until;
    asked_wall = wall_until;
    return room;
}

static const struct db_clock under = { .wall = wall, .steady = steady, .wait = wait_for };

static void same_hour_of_the_other_day(void **state)
{
    const struct db_zone *zone = db_zone_find("America/Los_Angeles");
    struct db_clock clock;

    (void) state;
    assert_non_null(zone);
    wall_now = INT64_C(1795596294123); /* 2026-11-25 08:44:54.123 UTC */
    int64_t shift = db_clock_shift_to(zone, on(2015, 6, 26), wall_now);
    assert_int_equal(db_clock_shift(&under, shift, &clock), DB_OK);
    assert_int_equal(clock.wall(clock.context), INT64_C(1435304694123)); /* summer time there, winter time here */
    wall_now += 3600000;
    assert_int_equal(clock.wall(clock.context), INT64_C(1435308294123)); /* it runs on */
    assert_int_equal(clock.steady(clock.context), 77);
    db_clock_shift_free(&clock);
}

static void an_hour_that_clocks_skip(void **state)
{
    const struct db_zone *zone = db_zone_find("America/Los_Angeles");

    (void) state;
    assert_non_null(zone);
    wall_now = INT64_C(1795602600000); /* 2026-11-25 02:30 there */
    assert_int_equal(wall_now + db_clock_shift_to(zone, on(2015, 3, 8), wall_now),
                     INT64_C(1425810600000)); /* 2015-03-08 10:30 UTC */
}

static void an_hour_that_is_named(void **state)
{
    const struct db_zone *zone = db_zone_find("America/Los_Angeles");
    static const char *const no_moments[] = { "",
                                              "2015-06-31",
                                              "2015-06-26T",
                                              "2015-06-26T7:00",
                                              "2015-06-26T24:00",
                                              "2015-06-26T07:60",
                                              "2015-06-26T07:00:00",
                                              "2015-06-26 07:00",
                                              "T07:00",
                                              "2015-06-26T07.00" };
    int64_t shift = 5;

    (void) state;
    assert_non_null(zone);
    wall_now = INT64_C(1795596294123);
    for (size_t i = 0; i < sizeof no_moments / sizeof no_moments[0]; i++)
        assert_int_equal(db_clock_shift_read(zone, no_moments[i], wall_now, &shift), DB_RANGE);
    assert_int_equal(shift, 5);
    assert_int_equal(db_clock_shift_read(zone, "2015-06-26T07:00", wall_now, &shift), DB_OK);
    assert_int_equal(wall_now + shift, INT64_C(1435327200000));
    assert_int_equal(db_clock_shift_read(zone, "2015-06-26", wall_now, &shift), DB_OK);
    assert_int_equal(wall_now + shift, INT64_C(1435304694123));
}

static void waits_are_moved_back(void **state)
{
    struct db_clock clock;

    (void) state;
    assert_int_equal(db_clock_shift(&under, -1000, &clock), DB_OK);
    assert_int_equal(clock.wait(clock.context, -1, NULL, 5, INT64_MAX, 9000), 5);
    assert_int_equal(asked_wall, 10000);
    assert_int_equal(clock.wait(clock.context, -1, NULL, 5, INT64_MAX, INT64_MAX), 5);
    assert_true(asked_wall == INT64_MAX); /* for ever stays for ever */
    db_clock_shift_free(&clock);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(same_hour_of_the_other_day),
        cmocka_unit_test(an_hour_that_clocks_skip),
        cmocka_unit_test(an_hour_that_is_named),
        cmocka_unit_test(waits_are_moved_back),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
