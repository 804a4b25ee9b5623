/* The series: whose figure holds, what fills the gaps, what is known. */
#include "base/limits.h"
#include "dewbell/weather.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdint.h>
#include <stdio.h>

#include <cmocka.h>

#include "kit/value.h"

#include "base/banned.h"

static void near_to(double got, double expected, double within)
{
    if (!(fabs(got - expected) <= within))
        fail_msg("%.6f, not %.6f", got, expected);
}

static void a_better_origin_holds(void **state)
{
    struct db_arena *arena = db_arena_new(1 << 20);
    const struct db_date first = on(2015, 6, 1);
    struct db_weather *w = db_weather_new(arena, first, 10, 2);
    const double *low = db_weather_figures(w, 0, DB_FIGURE_LOW), *other = db_weather_figures(w, 1, DB_FIGURE_LOW);

    (void) state;
    assert_true(isnan(low[3]));
    assert_false(db_date_known(db_weather_known(w)));
    db_weather_put(w, db_date_add(first, 3), DB_FIGURE_LOW, DB_ORIGIN_FORECAST, 8);
    db_weather_put(w, db_date_add(first, 3), DB_FIGURE_LOW, DB_ORIGIN_OBSERVED, 9);
    db_weather_put(w, db_date_add(first, 3), DB_FIGURE_LOW, DB_ORIGIN_FORECAST, 10); /* too late */
    db_weather_put(w, db_date_add(first, 3), DB_FIGURE_LOW, DB_ORIGIN_OBSERVED, (double) NAN);
    assert_true(low[3] == 9 && other[3] == 9);
    assert_int_equal(db_weather_origin(w, db_date_add(first, 3), DB_FIGURE_LOW), DB_ORIGIN_OBSERVED);
    db_weather_put_future(w, 1, db_date_add(first, 3), DB_FIGURE_LOW, 4); /* the past is the same in every future */
    db_weather_put_future(w, 1, db_date_add(first, 5), DB_FIGURE_LOW, 5);
    assert_true(other[3] == 9 && other[5] == 5 && isnan(low[5]));
    db_weather_put(w, db_date_add(first, -1), DB_FIGURE_LOW, DB_ORIGIN_OBSERVED, 1); /* outside */
    db_weather_put(w, db_date_add(first, 10), DB_FIGURE_LOW, DB_ORIGIN_OBSERVED, 1);
    assert_int_equal(db_weather_origin(w, db_date_add(first, 10), DB_FIGURE_LOW), DB_ORIGIN_NONE);
    assert_false(db_date_known(db_weather_known(w))); /* a low alone is no day */
    db_weather_put(w, db_date_add(first, 3), DB_FIGURE_HIGH, DB_ORIGIN_FORECAST, 19);
    assert_int_equal(db_weather_known(w).day, first.day + 3);
    assert_string_equal(db_origin_word(DB_ORIGIN_CLIMATE), "climate");
    (void) db_arena_free(arena);
}

/* Months of a place that was never measured: low = 1, 2 ... 12, high 10 K above, rain 31 mm, no wind. */
static void plain_normals(struct db_normal normals[12])
{
    for (int m = 0; m < 12; m++)
        normals[m] = (struct db_normal){ m + 1, m + 11, 31, (double) NAN };
}

static void the_climate_runs_in_straight_lines_between_mid_months(void **state)
{
    struct db_arena *arena = db_arena_new(1 << 20);
    const struct db_date first = on(2015, 1, 1);
    struct db_weather *w = db_weather_new(arena, first, 730, 1);
    const double *low = db_weather_figures(w, 0, DB_FIGURE_LOW), *rain = db_weather_figures(w, 0, DB_FIGURE_RAIN);
    const double *wind = db_weather_figures(w, 0, DB_FIGURE_WIND);
    struct db_normal normals[12];
    double sum = 0;

    (void) state;
    plain_normals(normals);
    assert_int_equal(db_weather_fill(w, normals), DB_OK);
    /* Noon of 16 January is the middle of a month of 31 days: by hand. */
    near_to(low[15], 1, 1e-12);
    /* April has 30 days: its middle is the midnight after the 15th; 0.5 day on the way to May, 15 + 15.5 days off. */
    near_to(low[on(2015, 4, 16).day - first.day], 4 + 0.5 / 30.5, 1e-12);
    near_to(low[on(2015, 4, 15).day - first.day], 4 - 0.5 / 30.5, 1e-12);
    /* 1 January lies 15 days before the middle of January, on the way from December's middle 31 days before it. */
    near_to(low[0], 1 + 15.0 / 31 * 11, 1e-12);
    near_to(low[365], low[0], 1e-12);
    near_to(db_weather_figures(w, 0, DB_FIGURE_HIGH)[0], low[0] + 10, 1e-12);
    /* 29 February 2016 stands between the two middles. */
    assert_true(low[on(2016, 2, 29).day - first.day] > 2 && low[on(2016, 2, 29).day - first.day] < 3);
    for (int i = 0; i < 28; i++)
        sum += rain[31 + i];
    near_to(sum, 31, 1e-9);
    assert_true(isnan(wind[0]));
    assert_int_equal(db_weather_origin(w, first, DB_FIGURE_LOW), DB_ORIGIN_CLIMATE);
    assert_int_equal(db_weather_origin(w, first, DB_FIGURE_WIND), DB_ORIGIN_NONE);
    assert_false(db_date_known(db_weather_known(w)));
    (void) db_arena_free(arena);
}

static void a_low_above_the_high_is_mended_between_origins_only(void **state)
{
    struct db_arena *arena = db_arena_new(1 << 20);
    const struct db_date first = on(2015, 1, 16);
    struct db_weather *w = db_weather_new(arena, first, 2, 1);
    struct db_normal normals[12];

    (void) state;
    plain_normals(normals);
    db_weather_put(w, first, DB_FIGURE_HIGH, DB_ORIGIN_OBSERVED, -5); /* the climate's low is 1 */
    db_weather_put(w, db_date_add(first, 1), DB_FIGURE_LOW, DB_ORIGIN_OBSERVED, 3);
    db_weather_put(w, db_date_add(first, 1), DB_FIGURE_HIGH, DB_ORIGIN_OBSERVED, 2); /* what was read so stays so */
    assert_int_equal(db_weather_fill(w, normals), DB_OK);
    near_to(db_weather_figures(w, 0, DB_FIGURE_LOW)[0], -2, 1e-12);
    near_to(db_weather_figures(w, 0, DB_FIGURE_HIGH)[0], -2, 1e-12);
    near_to(db_weather_figures(w, 0, DB_FIGURE_LOW)[1], 3, 0);
    near_to(db_weather_figures(w, 0, DB_FIGURE_HIGH)[1], 2, 0);
    (void) db_arena_free(arena);
}

static void bad_normals_and_sizes_are_refused(void **state)
{
    struct db_arena *arena = db_arena_new(1 << 20);
    struct db_weather *w = db_weather_new(arena, on(2015, 1, 1), 5, 1);
    struct db_normal normals[12];

    (void) state;
    plain_normals(normals);
    normals[6].low = 40;
    assert_int_equal(db_weather_fill(w, normals), DB_RANGE);
    assert_true(isnan(db_weather_figures(w, 0, DB_FIGURE_LOW)[0]));
    normals[6].low = (double) NAN;
    assert_int_equal(db_weather_fill(w, normals), DB_RANGE);
    assert_null(db_weather_new(arena, DB_NO_DATE, 5, 1));
    assert_null(db_weather_new(arena, on(2015, 1, 1), 5, 0));
    assert_null(db_weather_new(arena, on(2015, 1, 1), DB_LIMIT_WEATHER_DAYS + 1, 1));
    assert_null(db_weather_new(arena, on(2015, 1, 1), DB_LIMIT_WEATHER_DAYS, 100)); /* more than the arena holds */
    (void) db_arena_free(arena);
}

static void normals_ask_for_twenty_days_of_each_month(void **state)
{
    enum { DAYS = 365 };
    static double low[DAYS], high[DAYS], rain[DAYS];
    const struct db_date first = on(2015, 1, 1);
    struct db_normal normals[12];

    (void) state;
    for (int i = 0; i < DAYS; i++) {
        int month;

        db_date_parts(db_date_add(first, i), NULL, &month, NULL);
        low[i] = month;
        high[i] = month + 8;
        rain[i] = 2;
    }
    assert_int_equal(db_weather_normals(first, DAYS, low, high, rain, db_date_add(first, DAYS), normals), DB_OK);
    near_to(normals[6].low, 7, 1e-12);
    near_to(normals[6].high, 15, 1e-12);
    near_to(normals[6].rain, 62, 1e-9);
    /* Nothing from `until` on is looked at: 19 days of December are too few, 20 are enough. */
    assert_int_equal(db_weather_normals(first, DAYS, low, high, rain, on(2015, 12, 20), normals), DB_ABSENT);
    assert_int_equal(db_weather_normals(first, DAYS, low, high, rain, on(2015, 12, 21), normals), DB_OK);
    for (int i = 0; i < 12; i++)
        low[i] = (double) NAN; /* 19 days of January are left */
    assert_int_equal(db_weather_normals(first, DAYS, low, high, NULL, db_date_add(first, DAYS), normals), DB_ABSENT);
    low[0] = 1;
    assert_int_equal(db_weather_normals(first, DAYS, low, high, NULL, db_date_add(first, DAYS), normals), DB_OK);
    assert_true(isnan(normals[0].rain)); /* no rain was measured: not known, which is not none */
}

/* A record of four years, low 1 in the first, 2 in the second ...; high 10 above. */
enum { RECORD = 4 * 365 + 1 }; /* 2012 to 2015 */
static double past_low[RECORD], past_high[RECORD], past_rain[RECORD];
static double *const past[DB_FIGURE_COUNT] = { past_low, past_high, past_rain, NULL };

static struct db_date make_past(void)
{
    const struct db_date first = on(2012, 1, 1);

    for (int i = 0; i < RECORD; i++) {
        int year;

        db_date_parts(db_date_add(first, i), &year, NULL, NULL);
        past_low[i] = year - 2011;
        past_high[i] = past_low[i] + 10;
        past_rain[i] = 0.1 * (year - 2011);
    }
    return first;
}

static size_t years_on(struct db_date today, int back[10])
{
    return db_weather_past_years(on(2012, 1, 1), RECORD, past_low, past_high, today, back, 10);
}

/* A year stands for the time to come if it was over, from today's date of it on, when today began. */
static void past_years_end_before_today(void **state)
{
    int back[10];
    const struct db_date first = make_past();

    (void) state;
    assert_int_equal(years_on(on(2015, 6, 10), back), 3); /* the years from 10 June 2014, 2013, 2012 */
    assert_true(back[0] == 1 && back[1] == 2 && back[2] == 3);
    assert_int_equal(years_on(on(2013, 6, 10), back), 1);
    assert_int_equal(years_on(on(2012, 12, 20), back), 0);
    assert_int_equal(years_on(first, back), 0);
    /* Eleven years after the record: 2015 is half over on 10 June, and its spring stands in for that of 2016. */
    assert_int_equal(years_on(on(2026, 6, 10), back), 4);
    assert_true(back[0] == 11 && back[3] == 14);
    assert_int_equal(years_on(on(2026, 9, 10), back), 3); /* no half of a year is left of 2015 */
    assert_int_equal(db_weather_past_years(first, RECORD, past_low, past_high, on(2015, 6, 10), back, 2), 2);
    for (int d = 0; d < 9; d++)
        past_low[on(2014, 8, 1).day - first.day + d] = (double) NAN;
    assert_int_equal(years_on(on(2015, 6, 10), back), 3); /* nine days in a row are borne */
    past_high[on(2014, 8, 10).day - first.day] = (double) NAN;
    assert_int_equal(years_on(on(2015, 6, 10), back), 2);
    assert_int_equal(back[0], 2);
}

static void a_future_goes_on_with_a_past_year(void **state)
{
    struct db_arena *arena = db_arena_new(1 << 20);
    const struct db_date begin = on(2015, 6, 1), today = on(2015, 6, 10), first = make_past();
    struct db_weather *w = db_weather_new(arena, begin, 430, 3);
    const double *low = db_weather_figures(w, 1, DB_FIGURE_LOW), *rain = db_weather_figures(w, 1, DB_FIGURE_RAIN);
    struct db_normal normals[12];

    (void) state;
    plain_normals(normals);
    for (int i = 0; i < 12; i++) { /* observed and forecast up to 12 June */
        db_weather_put(w, db_date_add(begin, i), DB_FIGURE_LOW, DB_ORIGIN_OBSERVED, 20);
        db_weather_put(w, db_date_add(begin, i), DB_FIGURE_HIGH, DB_ORIGIN_OBSERVED, 30);
    }
    past_high[on(2014, 7, 1).day - first.day] = (double) NAN;
    db_weather_put_past(w, 1, first, RECORD, past, today, 1);
    db_weather_put_past(w, 2, first, RECORD, past, today, 3);
    assert_int_equal(db_weather_shared(w), 12);
    assert_int_equal(db_weather_known(w).day, begin.day + 11);
    near_to(low[11], 20, 0);
    near_to(low[12], 3, 0);
    near_to(rain[12], 0.3, 1e-12);
    near_to(low[on(2015, 12, 31).day - begin.day], 3, 0);
    near_to(low[on(2016, 1, 1).day - begin.day], 4, 0);  /* 1 January 2015 */
    near_to(low[on(2016, 2, 29).day - begin.day], 4, 0); /* 28 February 2015 */
    near_to(low[on(2016, 6, 9).day - begin.day], 4, 0);  /* yesterday, a year on */
    near_to(low[on(2016, 6, 10).day - begin.day], 3, 0); /* today's own weather is not the past */
    near_to(db_weather_figures(w, 2, DB_FIGURE_LOW)[12], 1, 0);
    near_to(db_weather_figures(w, 2, DB_FIGURE_LOW)[on(2016, 7, 1).day - begin.day], 2, 0);
    assert_true(isnan(low[30])); /* 1 July: its high is missing, so the low is of no use */
    assert_true(isnan(db_weather_figures(w, 0, DB_FIGURE_LOW)[12]));
    assert_int_equal(db_weather_fill(w, normals), DB_OK);
    near_to(low[30], db_weather_figures(w, 0, DB_FIGURE_LOW)[30], 0); /* the averages fill it */
    near_to(low[29], 3, 0);
    near_to(low[12], 3, 0);
    assert_int_equal(db_weather_shared(w), 12);
    (void) db_arena_free(arena);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_better_origin_holds),
        cmocka_unit_test(the_climate_runs_in_straight_lines_between_mid_months),
        cmocka_unit_test(a_low_above_the_high_is_mended_between_origins_only),
        cmocka_unit_test(bad_normals_and_sizes_are_refused),
        cmocka_unit_test(normals_ask_for_twenty_days_of_each_month),
        cmocka_unit_test(past_years_end_before_today),
        cmocka_unit_test(a_future_goes_on_with_a_past_year),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
