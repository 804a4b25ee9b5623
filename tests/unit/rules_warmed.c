/* The day by which a warmth was gathered. The four years of Seattle: sums of the single sine (Baskerville & Emin 1969) made
 * independently in Python from the same daily figures; the thresholds are those of published pest models (cabbage root fly,
 * small white, carrot fly). An arithmetic check, no entomology. */
#include "rules/expr.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>

#include <cmocka.h>

#include "dewbell/arena.h"
#include "unit/tables.h"

#include "base/banned.h"

static double day(int year, int month, int date)
{
    struct db_date ret;

    assert_int_equal(db_date_of(year, month, date, &ret), DB_OK);
    return ret.day;
}

static double warmed(double latitude, double today, double amount, double base, int month, struct db_warmths *kept)
{
    struct db_arena *arena = db_arena_new((size_t) 1 << 20);
    const struct db_site site = { .name = "x", .key = "k", .latitude = latitude, .zone = "UTC" };
    const struct db_view view = { .garden = db_garden_new(arena, &site), .today = { (int32_t) today } };
    struct db_scope scope = { .view = &view, .first = seattle()->first, .days = RECORD_DAYS, .warmths = kept };

    assert_non_null(view.garden);
    scope.sky[0][DB_SKY_LOW] = seattle()->low;
    scope.sky[0][DB_SKY_HIGH] = seattle()->high;

    const double ret = db_warmed_day(&scope, amount, base, month);

    arena = db_arena_free(arena);
    return ret;
}

static void pests_of_four_years(void **state)
{
    static const struct {
        double amount, base;
        int month, dates[4][2];
    } cases[] = {
        { 130, 6, 1, { { 4, 8 }, { 3, 27 }, { 3, 9 }, { 2, 16 } } },
        { 83, 10, 1, { { 5, 7 }, { 4, 28 }, { 4, 21 }, { 3, 29 } } },
        { 258, 5, 3, { { 5, 7 }, { 4, 25 }, { 4, 21 }, { 4, 18 } } },
    };

    (void) state;
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++)
        for (int y = 0; y < 4; y++) /* whatever day of the year is today */
            for (int month = 1; month <= 12; month += 11)
                assert_true(warmed(47.45, day(2012 + y, month, 15), cases[i].amount, cases[i].base, cases[i].month,
                                   NULL) == day(2012 + y, cases[i].dates[y][0], cases[i].dates[y][1]));
}

/* South of the equator March is September, and the season runs from July to June. */
static void the_south_is_half_a_year_on(void **state)
{
    (void) state;
    const double mirrored = warmed(-47.45, day(2013, 1, 15), 50, 5, 3, NULL);

    assert_true(mirrored >= day(2012, 9, 1) && mirrored < day(2012, 9, 15)); /* a warm September */
    assert_true(warmed(-47.45, day(2012, 8, 1), 50, 5, 3, NULL) == mirrored);
    assert_true(warmed(-47.45, day(2012, 5, 1), 50, 5, 3, NULL) != warmed(-47.45, day(2012, 5, 1), 50, 5, 9, NULL));
    assert_true(isnan(warmed(-47.45, day(2012, 5, 1), 50, 5, 3, NULL))); /* September 2011: not in the record */
    /* November of the north's models is May: the end of the season that began in July */
    assert_true(warmed(-47.45, day(2012, 8, 1), 1, 0, 11, NULL) >= day(2013, 5, 1));
    assert_true(warmed(-47.45, day(2013, 6, 1), 1, 0, 11, NULL) < day(2013, 5, 10));
}

static void what_is_never_gathered_is_unknown(void **state)
{
    (void) state;
    assert_true(isnan(warmed(47.45, day(2013, 6, 1), 5000, 5, 1, NULL)));
    assert_true(isnan(warmed(47.45, day(2016, 6, 1), 10, 5, 1, NULL)));
    assert_true(isnan(warmed(47.45, day(2013, 6, 1), (double) NAN, 5, 1, NULL)));
}

static void what_is_kept_is_the_same(void **state)
{
    struct db_warmths kept = { .count = 0 };

    (void) state;
    for (int round = 0; round < 3; round++)
        for (int i = 0; i < 40; i++) { /* more than are kept */
            const double amount = 10 + i, fresh = warmed(47.45, day(2014, 6, 1), amount, 5, 1 + i % 3, NULL);

            assert_true(warmed(47.45, day(2014, 6, 1), amount, 5, 1 + i % 3, &kept) == fresh);
        }
    assert_int_equal(kept.count, sizeof kept.list / sizeof kept.list[0]);
}

/* Carrot: nothing at -1 and 16 degC, most at 6.5; 126 K d bring the first bolters, so 31.5 days at 3 degC, 16.8 at 6.5,
 * 26.6 at 10, 39.9 at 12: J. Hort. Sci. 65:423-429, 1990, worked out by hand from its cardinal points. */
static void cold_counts_as_published(void **state)
{
    (void) state;
    assert_true(fabs(db_chill_day(3, -1, 6.5, 16) - 4) < 1e-3);
    assert_true(fabs(db_chill_day(6.5, -1, 6.5, 16) - 7.5) < 1e-3);
    assert_true(fabs(db_chill_day(10, -1, 6.5, 16) - 4.737) < 1e-3);
    assert_true(fabs(db_chill_day(12, -1, 6.5, 16) - 3.158) < 1e-3);
    assert_true(db_chill_day(16, -1, 6.5, 16) == 0 && db_chill_day(25, -1, 6.5, 16) == 0);
    assert_true(db_chill_day(-1, -1, 6.5, 16) == 0 && db_chill_day(-9, -1, 6.5, 16) == 0);
    assert_true(fabs(126 / db_chill_day(3, -1, 6.5, 16) - 31.5) < 0.05);
    assert_true(fabs(126 / db_chill_day(12, -1, 6.5, 16) - 39.9) < 0.05);
    assert_true(isnan(db_chill_day((double) NAN, -1, 6.5, 16)) && isnan(db_chill_day(3, (double) NAN, 6.5, 16)));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(pests_of_four_years),
        cmocka_unit_test(the_south_is_half_a_year_on),
        cmocka_unit_test(what_is_never_gathered_is_unknown),
        cmocka_unit_test(what_is_kept_is_the_same),
        cmocka_unit_test(cold_counts_as_published),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
