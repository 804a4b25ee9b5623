/* A year of the real loop and keeper on a clock that jumps to whatever comes next, and a clock that is set and sleeps. Nothing
 * here is random. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "kit/yard.h"

#include "read/zone.h"

#include "base/banned.h"

/* 2028 has 29 February; British clocks change on 26 March and 29 October 2028 (last Sundays: The Summer Time Order 2002). */
static void each_local_day_of_a_leap_year_is_worked_out_once_at_its_midnight(void **state)
{
    struct yard *yard = *state;
    const struct db_zone *zone = db_zone_find("Europe/London");
    struct db_date first, leap;

    run_for(yard, 366 * DAY);
    assert_int_equal(db_date_of(2028, 1, 3, &first), DB_OK);
    assert_int_equal(db_date_of(2028, 2, 29, &leap), DB_OK);
    assert_int_equal(yard->evaluations, 367); /* at the start, and at 366 midnights */
    for (int i = 0; i < yard->evaluations; i++) {
        assert_int_equal(yard->days[i], first.day + i);
        if (i > 0) {
            assert_int_equal(yard->moments[i] / 1000, db_zone_day_start(zone, (struct db_date){ yard->days[i] }));
            /* 00:00 by local clocks: UTC in winter, 23:00 UTC of the day before in summer */
            int64_t into = yard->moments[i] / 1000 % 86400;
            bool summer = yard->days[i] > first.day + 83 && yard->days[i] <= first.day + 300;
            assert_int_equal(into, summer ? 23 * 3600 : 0);
        }
    }
    assert_true(leap.day > first.day && leap.day < first.day + 366);
    /* Asleep in between: a wake-up a midnight, and the few of our own writing to the record's folder. */
    assert_in_range(db_loop_wakes(yard->house.loop), 366, 366 * 3);
    assert_false(db_loop_flooded(yard->house.loop));
}

static void a_clock_that_is_set_makes_another_day_and_no_day_twice(void **state)
{
    struct yard *yard = *state;
    static const struct sim_event events[] = {
        { .at = 10 * DAY, .set = HOUR },
        { .at = 20 * DAY, .set = -HOUR },
        { .at = 30 * DAY, .set = 2 * DAY },
        { .at = 40 * DAY, .set = -2 * DAY },
        { .at = 50 * DAY, .sleep = 7 * DAY },
        { .at = 70 * DAY + 11 * HOUR + HOUR / 2, .set = HOUR },
        { .at = 80 * DAY + 12 * HOUR + HOUR / 4, .set = -3 * HOUR },
    };
    int twice = 0;

    yard->sim.events = events;
    yard->sim.count = sizeof events / sizeof events[0];
    run_for(yard, 100 * DAY);
    for (int i = 1; i < yard->evaluations; i++) {
        int32_t step = yard->days[i] - yard->days[i - 1];
        if (step == 0)
            fail_msg("day %d was worked out at %lld and again at %lld", (int) yard->days[i],
                     (long long) yard->moments[i - 1], (long long) yard->moments[i]);
        if (step < 0)
            twice++;
        else
            assert_true(step == 1 || step == 2 || step == 7); /* 2: set on by two days; 7: a week asleep */
    }
    /* Set back by two days, and by three hours just after midnight: days come again then, and only then. */
    assert_int_equal(twice, 2);
}

/* The plan's jobs are over in the summer of 2029; 400 days after they have left the feeds their rows go, at midnight, with
 * what is written then. What was noted stays. */
static void the_ledger_forgets_in_years_what_the_diary_keeps(void **state)
{
    static const char *const feeds[] = { "jobs", "mornings", "tasks" };
    struct yard *yard = *state;
    const struct db_note note = {
        .sowing = "carrot-1", .word = "sown", .date = { 21288 }, .text = ""
    }; /* 14 April 2028 */
    struct db_record *record = db_keeper_record(yard->keeper);
    size_t most = 0, last = 0;
    int64_t number = 0, floor;

    assert_int_equal(db_record_add_note(record, &note, 1839283200, &number), DB_OK);
    for (int quarter = 0; quarter < 14; quarter++) {
        run_for(yard, 91 * DAY);
        last = 0;
        for (size_t i = 0; i < 3; i++) {
            struct db_ledger *ledger = NULL;

            assert_int_equal(db_record_ledger(record, feeds[i], &ledger), DB_OK);
            last += db_ledger_count(ledger);
            (void) db_ledger_free(ledger);
        }
        most = last > most ? last : most;
    }
    print_message("rows of the ledger: %zu at the most, %zu after three and a half years\n", most, last);
    assert_true(most > 30);
    assert_in_range(last, 3, most / 4);
    assert_int_equal(db_record_floor(record, "jobs", &floor), DB_OK);
    assert_true(floor > 0);
    struct db_arena *arena = db_arena_new((size_t) 1 << 20);
    struct db_diary *diary = db_diary_new(arena);
    assert_int_equal(db_record_read_notes(record, arena, diary), DB_OK);
    assert_int_equal(db_diary_count(diary), 1);
    (void) db_arena_free(arena);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(the_ledger_forgets_in_years_what_the_diary_keeps, set_up, tear_down),
        cmocka_unit_test_setup_teardown(each_local_day_of_a_leap_year_is_worked_out_once_at_its_midnight, set_up,
                                        tear_down),
        cmocka_unit_test_setup_teardown(a_clock_that_is_set_makes_another_day_and_no_day_twice, set_up, tear_down),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
