/* Last and first frosts of a record. Dates and quantiles of Seattle and New York: worked out by a program apart from this
 * one from the files named in tests/data/README.md ("recalc"); the season's split on 24 July, early and late as tenths and
 * the two parts of a chance are those of frost-date services (Midwestern Regional Climate Center; Utah Climate Center). */
#include "dewbell/frost.h"

#include "tables.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "kit/value.h"

#include "base/banned.h"

static const struct db_date the_end = { RECORD_FIRST + RECORD_DAYS };

static struct db_frosts frosts_of(const struct record *record, struct db_date until, enum db_frost which,
                                  double threshold)
{
    struct db_frosts frosts;

    assert_int_equal(db_frost_seasons(record->first, RECORD_DAYS, record->low, until, false, which, threshold, &frosts),
                     DB_OK);
    assert_int_equal(frosts.seasons, frosts.count + frosts.none);
    return frosts;
}

/* Days of the year of the last and first lows of 0 degrees and less, and quantiles of type 7 of the last (Hyndman & Fan
 * 1996): recalc. */
static void frosts_of_two_cities_agree(void **state)
{
    static const struct {
        const struct record *(*of)(void);
        double last[4], first[4], tenth, median, ninetieth;
    } known[] = { { seattle, { 40, 63, 63, 79 }, { 315, 316, 325, 327 }, 46.9, 63.0, 74.2 },
                  { new_york, { 87, 88, 94, 106 }, { 0 }, 87.3, 91.0, 102.4 } };

    (void) state;
    for (size_t k = 0; k < sizeof known / sizeof known[0]; k++) {
        const struct db_frosts last = frosts_of(known[k].of(), the_end, DB_FROST_LAST, 0),
                               first = frosts_of(known[k].of(), the_end, DB_FROST_FIRST, 0);

        assert_int_equal(last.seasons, 4);
        assert_int_equal(last.none, 0);
        assert_int_equal(first.seasons, 4);
        for (int y = 0; y < 4; y++) {
            close_to("last", last.days[y], known[k].last[y], 0);
            if (known[k].first[y] > 0)
                close_to("first", first.days[y], known[k].first[y], 0);
        }
        close_to("10 %", db_frost_quantile(&last, 0.1), known[k].tenth, 1e-9);
        close_to("50 %", db_frost_quantile(&last, 0.5), known[k].median, 1e-9);
        close_to("90 %", db_frost_quantile(&last, 0.9), known[k].ninetieth, 1e-9);
    }
}

/* On a day of the record only the days before it exist: the spring of 2015 is not known in May 2015, nor is its frost. */
static void a_day_does_not_see_its_own_future(void **state)
{
    (void) state;
    for (int year = 2012; year <= 2015; year++) {
        const size_t before = (size_t) (year - 2012);

        assert_int_equal(frosts_of(seattle(), on(year, 5, 15), DB_FROST_LAST, 0).seasons, before);
        assert_int_equal(frosts_of(seattle(), on(year, 7, 24), DB_FROST_LAST, 0).seasons, before + 1);
        assert_int_equal(frosts_of(seattle(), on(year, 12, 20), DB_FROST_FIRST, 0).seasons, before);
    }
    assert_int_equal(frosts_of(seattle(), seattle()->first, DB_FROST_LAST, 0).seasons, 0);
    assert_true(isnan(db_frost_quantile(&(struct db_frosts){ 0 }, 0.5)));
    assert_true(isnan(db_frost_chance(&(struct db_frosts){ 0 }, DB_FROST_LAST, 5)));
}

/* A made-up place: 5 degrees every night but for one of each winter. */
enum { YEARS = 31, DAYS = 366 * YEARS };
static double low[DAYS];
static struct db_date made_first;

static void make(void)
{
    made_first = on(1980, 1, 1);
    for (size_t i = 0; i < DAYS; i++)
        low[i] = 5;
}

static void cold_on(struct db_date date, double value)
{
    low[date.day - made_first.day] = value;
}

static struct db_frosts made(bool south, enum db_frost which, double threshold)
{
    struct db_frosts frosts;

    assert_int_equal(db_frost_seasons(made_first, DAYS, low, on(2010, 1, 1), south, which, threshold, &frosts), DB_OK);
    return frosts;
}

/* 30 springs with their last frost on 1, 2, ... 30 April; 10 of them after the 20th: 10/31 = 0.3226 by Weibull. Type 7 by
 * hand: h = 29 p; at 0.1 between the 3rd and 4th day: 3.9 April. */
static void odds_of_thirty_springs(void **state)
{
    (void) state;
    make();
    for (int y = 0; y < 30; y++)
        cold_on(on(1980 + y, 4, y * 7 % 30 + 1), 0); /* in no order */
    struct db_frosts frosts = made(false, DB_FROST_LAST, 0);

    assert_int_equal(frosts.seasons, 30);
    assert_int_equal(frosts.none, 0);
    /* 1 April is day 91, in a leap year 92: the days of the leap years lie one further on. */
    close_to("the least", frosts.days[0], 92, 0); /* 1 April 1980 */
    close_to("P", db_frost_chance(&frosts, DB_FROST_LAST, 111.5), 10.0 / 31, 1e-12);
    close_to("P before all", db_frost_chance(&frosts, DB_FROST_LAST, 1), 30.0 / 31, 1e-12);
    close_to("P after all", db_frost_chance(&frosts, DB_FROST_LAST, 200), 0, 0);
    assert_int_equal(db_frost_date(1982, false, db_frost_day(&frosts, DB_FROST_LAST, 0.5)).day, on(1982, 4, 16).day);
    frosts = (struct db_frosts){ .seasons = 30, .count = 30 };
    for (int i = 0; i < 30; i++)
        frosts.days[i] = i + 1;
    close_to("10 %", db_frost_day(&frosts, DB_FROST_LAST, 0.1), 3.9, 1e-12);
    close_to("90 %", db_frost_day(&frosts, DB_FROST_FIRST, 0.9), 27.1, 1e-12);
    close_to("Weibull", db_frost_chance(&frosts, DB_FROST_LAST, 20), 0.3226, 1e-4);
    close_to("Weibull, first", db_frost_chance(&frosts, DB_FROST_FIRST, 20), 20.0 / 31, 1e-12);
}

/* Years without frost are not dates: among twelve of them, four without, a last frost counts as earlier than any, a first
 * one as later. */
static void years_without_frost_are_counted_apart(void **state)
{
    struct db_frosts f = { .seasons = 12, .none = 4, .count = 8, .days = { 10, 20, 30, 40, 50, 60, 70, 80 } };

    (void) state;
    close_to("of those that had one", db_frost_quantile(&f, 0.5), 45, 1e-12);
    close_to("half of all have had their last", db_frost_day(&f, DB_FROST_LAST, 0.5), 25, 1e-12); /* h = 5.5 */
    close_to("half of all have had their first", db_frost_day(&f, DB_FROST_FIRST, 0.5), 65, 1e-12);
    assert_true(isnan(db_frost_day(&f, DB_FROST_LAST, 0.1))); /* h = 1.1: a year without */
    assert_true(isnan(db_frost_day(&f, DB_FROST_LAST, 0.3))); /* h = 3.3: between one without and one with */
    assert_true(isnan(db_frost_day(&f, DB_FROST_FIRST, 0.9)));
    close_to("the latest of all", db_frost_day(&f, DB_FROST_LAST, 1), 80, 0);
    close_to("chance", db_frost_chance(&f, DB_FROST_LAST, 45), 4.0 / 13, 1e-12);
    /* With fewer than ten, tenths are not said. */
    f = (struct db_frosts){ .seasons = 4, .count = 4, .days = { 40, 63, 63, 79 } };
    close_to("earliest", db_frost_day(&f, DB_FROST_LAST, 0.1), 40, 0);
    close_to("median", db_frost_day(&f, DB_FROST_LAST, 0.5), 63, 0);
    close_to("latest", db_frost_day(&f, DB_FROST_LAST, 0.9), 79, 0);
    assert_true(isnan(db_frost_day(&(struct db_frosts){ .seasons = 3, .none = 3 }, DB_FROST_FIRST, 0.5)));
    make();
    f = made(false, DB_FROST_FIRST, 0);
    assert_int_equal(f.seasons, 30);
    assert_int_equal(f.none, 30);
}

/* A winter is one season on both sides of New Year: a first frost in January belongs to the autumn before, a last one in
 * December to the spring after. */
static void a_season_spans_the_winter(void **state)
{
    struct db_frosts f;

    (void) state;
    make();
    cold_on(on(1990, 1, 20), -4); /* winter of 1989 to 1990: its first and its last */
    cold_on(on(1990, 12, 10), -4);
    cold_on(on(1990, 12, 12), -4);
    f = made(false, DB_FROST_FIRST, -4);
    assert_int_equal(f.count, 2);
    close_to("10 December", f.days[0], 344, 0);
    close_to("20 January", f.days[1], 385, 0);
    assert_int_equal(db_frost_date(1989, false, f.days[1]).day, on(1990, 1, 20).day);
    f = made(false, DB_FROST_LAST, -4);
    assert_int_equal(f.count, 2);
    close_to("12 December before", f.days[0], -19, 0);
    close_to("20 January", f.days[1], 20, 0);
    assert_int_equal(made(false, DB_FROST_LAST, -4.5).count, 0);
}

/* In the south all is half a year on: seasons from 24 January, frost years from 1 July. */
static void the_south_is_half_a_year_on(void **state)
{
    struct db_frosts f;

    (void) state;
    make();
    cold_on(on(1990, 5, 30), 0);
    cold_on(on(1990, 9, 10), 0);
    cold_on(on(1991, 1, 23), 0); /* the last day of that season */
    cold_on(on(1991, 1, 24), 0); /* the first of the next */
    f = made(true, DB_FROST_FIRST, 0);
    assert_int_equal(f.count, 2);
    close_to("24 January", f.days[0], 208, 0);
    close_to("30 May", f.days[1], 334, 0);
    f = made(true, DB_FROST_LAST, 0);
    assert_int_equal(f.count, 2);
    close_to("24 January before", f.days[0], 1 - 158, 0); /* 158 days before 1 July 1991 */
    close_to("23 January", f.days[1], 207, 0);
    assert_int_equal(db_frost_date(1990, true, 207).day, on(1991, 1, 23).day);
    assert_int_equal(db_frost_year(on(1991, 1, 23), true), 1990);
    assert_int_equal(db_frost_year(on(1991, 7, 1), true), 1991);
    assert_int_equal(db_frost_year(on(1991, 1, 23), false), 1991);
}

/* Nine days missing in a row are borne, ten are not; they only matter in the half that is looked at. */
static void a_season_with_a_gap_is_left_out(void **state)
{
    (void) state;
    make();
    for (int d = 1; d <= 9; d++)
        cold_on(on(1990, 3, d), (double) NAN);
    assert_int_equal(made(false, DB_FROST_LAST, 0).seasons, 30);
    cold_on(on(1990, 3, 10), (double) NAN);
    assert_int_equal(made(false, DB_FROST_LAST, 0).seasons, 29);
    assert_int_equal(made(false, DB_FROST_FIRST, 0).seasons, 30);
    assert_int_equal(
        db_frost_seasons(DB_NO_DATE, DAYS, low, the_end, false, DB_FROST_LAST, 0, &(struct db_frosts){ 0 }), DB_RANGE);
    assert_int_equal(
        db_frost_seasons(made_first, DAYS, low, the_end, false, DB_FROST_LAST, NAN, &(struct db_frosts){ 0 }),
        DB_RANGE);
}

static int32_t given(int year, bool south, enum db_frost which, int month, int day)
{
    return db_frost_given(year, south, which, (struct db_season_day){ month, day }).day;
}

/* A day of the calendar belongs to the season in which that frost is looked for; by hand from the split on 24 July. */
static void a_given_day_is_found_in_its_season(void **state)
{
    (void) state;
    assert_int_equal(given(2015, false, DB_FROST_LAST, 5, 12), on(2015, 5, 12).day);
    assert_int_equal(given(2015, false, DB_FROST_LAST, 12, 20), on(2014, 12, 20).day);
    assert_int_equal(given(2015, false, DB_FROST_FIRST, 10, 20), on(2015, 10, 20).day);
    assert_int_equal(given(2015, false, DB_FROST_FIRST, 1, 5), on(2016, 1, 5).day);
    assert_int_equal(given(2015, true, DB_FROST_LAST, 10, 12), on(2015, 10, 12).day);
    assert_int_equal(given(2015, true, DB_FROST_FIRST, 4, 20), on(2016, 4, 20).day);
    assert_int_equal(given(2015, false, DB_FROST_LAST, 2, 29), on(2015, 2, 28).day);
    assert_int_equal(given(2016, false, DB_FROST_LAST, 2, 29), on(2016, 2, 29).day);
    assert_false(db_date_known(db_frost_given(2015, false, DB_FROST_LAST, (struct db_season_day){ 0 })));
}

/* Means of Dublin Airport's nights by the day's mean wind, 6 and 15 knots being 3.087 and 7.717 m/s: own count (recalc). */
static void calm_nights_are_coldest_over_grass(void **state)
{
    (void) state;
    close_to("calm", db_frost_ground(1), 2.58, 0);
    close_to("6 knots", db_frost_ground(3.08), 2.58, 0);
    close_to("a breeze", db_frost_ground(3.1), 1.84, 0);
    close_to("15 knots", db_frost_ground(7.71), 1.84, 0);
    close_to("a gale", db_frost_ground(7.73), 1.27, 0);
    close_to("not known", db_frost_ground((double) NAN), 1.84, 0);
    /* share of those nights in which grass froze, by the screen's low: the same count */
    close_to("0 degC", db_frost_ground_chance(0), .86, 0);
    close_to("2 degC", db_frost_ground_chance(2), .50, 1e-12);
    close_to("2.5 degC", db_frost_ground_chance(2.5), .41, 1e-12);
    close_to("4 degC", db_frost_ground_chance(4), .21, 1e-12);
    close_to("6 degC", db_frost_ground_chance(6), .06, 1e-12);
    assert_true(isnan(db_frost_ground_chance(-1)) && isnan(db_frost_ground_chance(7)) &&
                isnan(db_frost_ground_chance((double) NAN)));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(frosts_of_two_cities_agree),
        cmocka_unit_test(a_day_does_not_see_its_own_future),
        cmocka_unit_test(odds_of_thirty_springs),
        cmocka_unit_test(years_without_frost_are_counted_apart),
        cmocka_unit_test(a_season_spans_the_winter),
        cmocka_unit_test(the_south_is_half_a_year_on),
        cmocka_unit_test(a_season_with_a_gap_is_left_out),
        cmocka_unit_test(a_given_day_is_found_in_its_season),
        cmocka_unit_test(calm_nights_are_coldest_over_grass),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
