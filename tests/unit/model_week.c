/* The gardener's days. Days of the week are those of any calendar: 14 June 2026 is a Sunday. */
#include "dewbell/week.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "base/banned.h"

static struct db_date on(int year, int month, int day)
{
    struct db_date date;

    assert_int_equal(db_date_of(year, month, day, &date), DB_OK);
    return date;
}

static void minutes_of_a_date(void **state)
{
    const struct db_away away[] = { { on(2026, 6, 20), on(2026, 7, 4) }, { on(2026, 8, 1), on(2026, 8, 1) } };
    const struct db_week week = {
        .given = true, .counted = true, .minutes = { [2] = 30, [5] = 180 }, .away = away, .away_count = 2
    };

    (void) state;
    assert_int_equal(db_week_minutes(&week, on(2026, 6, 14)), 0);
    assert_int_equal(db_week_minutes(&week, on(2026, 6, 17)), 30);  /* a Wednesday */
    assert_int_equal(db_week_minutes(&week, on(2026, 6, 13)), 180); /* a Saturday */
    assert_null(db_week_away(&week, on(2026, 6, 19)));
    for (int day = 20; day <= 30; day++) {
        assert_ptr_equal(db_week_away(&week, on(2026, 6, day)), &away[0]);
        assert_int_equal(db_week_minutes(&week, on(2026, 6, day)), 0);
    }
    assert_ptr_equal(db_week_away(&week, on(2026, 7, 4)), &away[0]);
    assert_null(db_week_away(&week, on(2026, 7, 5)));
    assert_null(db_week_away(&week, on(2026, 7, 31)));
    assert_ptr_equal(db_week_away(&week, on(2026, 8, 1)), &away[1]);
    assert_null(db_week_away(&week, on(2026, 8, 2)));
}

static void nothing_is_counted_where_nothing_is_said(void **state)
{
    const struct db_away away = { on(2026, 6, 20), on(2026, 7, 4) };
    const struct db_week none = { .away = &away, .away_count = 1 }, gone = { true, false, { 0 }, &away, 1 };

    (void) state;
    assert_int_equal(db_week_minutes(&none, on(2026, 6, 22)), DB_MINUTES_ANY);
    assert_null(db_week_away(&none, on(2026, 6, 22)));
    assert_int_equal(db_week_minutes(&gone, on(2026, 6, 14)), DB_MINUTES_ANY);
    assert_int_equal(db_week_minutes(&gone, on(2026, 6, 22)), 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(minutes_of_a_date),
        cmocka_unit_test(nothing_is_counted_where_nothing_is_said),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
