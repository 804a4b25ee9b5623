/* Weather from files: the real record whole, units, and what is known on which day. */
#include "base/limits.h"
#include "dewbell/garden.h"
#include "read/files.h"
#include "read/read.h"
#include "read/weather_csv.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include <cmocka.h>

#include "kit/files.h"
#include "kit/value.h"

#include "base/banned.h"

struct reading {
    struct db_arena *arena;
    struct db_mistakes *mistakes;
};

static int set_up(void **state)
{
    static struct reading reading;

    reading.arena = db_arena_new((size_t) 256 << 20);
    reading.mistakes = db_mistakes_new(reading.arena);
    *state = &reading;
    return reading.mistakes ? 0 : -1;
}

static int tear_down(void **state)
{
    const struct reading *reading = *state;

    (void) db_arena_free(reading->arena);
    return 0;
}

static struct db_days read_csv(const struct reading *r, const char *file, const char *columns)
{
    const struct db_reader to = { r->arena, r->mistakes };
    struct db_words words = db_words_plain(columns);
    struct db_columns mapping = { 0 };
    struct db_days days;
    char *text = NULL;
    size_t length = 0;

    if (*columns)
        assert_true(db_columns_read(db_span_all(&words), r->arena, to, &mapping));
    assert_int_equal(
        db_file_read(file, DB_LIMIT_WEATHER_FILE, (struct db_place){ 0 }, r->arena, r->mistakes, &text, &length),
        DB_OK);
    assert_int_equal(db_weather_csv_read(file, text, length, &mapping, true, r->arena, to, &days), DB_OK);
    return days;
}

/* Counted in the file with another program, year by year. The file: daily weather of Seattle, NOAA, as carried by the npm
 * package vega-datasets (tests/data/README.md). */
static void the_four_years_are_read_whole(void **state)
{
    static const struct {
        int year, frosts, hot, wet;
        double rain;
    } years[] = { { 2012, 21, 8, 148, 1226.0 },
                  { 2013, 30, 15, 119, 828.0 },
                  { 2014, 22, 17, 123, 1232.8 },
                  { 2015, 15, 23, 116, 1139.2 } };
    const struct reading *r = *state;
    const struct db_days days =
        read_csv(r, "tests/data/seattle-weather.csv",
                 "date=date, low=temp_min [°C], high=temp_max [°C], rain=precipitation [mm], wind=wind [m/s]");

    assert_int_equal(db_mistakes_count(r->mistakes), 0);
    assert_int_equal(days.first.day, on(2012, 1, 1).day);
    assert_int_equal(days.count, 1461);
    for (size_t y = 0; y < 4; y++) {
        int frosts = 0, hot = 0, wet = 0;
        double rain = 0;

        for (struct db_date d = on(years[y].year, 1, 1); d.day <= on(years[y].year, 12, 31).day;
             d = db_date_add(d, 1)) {
            frosts += db_days_figure(&days, d, DB_FIGURE_LOW) <= 0;
            hot += db_days_figure(&days, d, DB_FIGURE_HIGH) >= 30;
            wet += db_days_figure(&days, d, DB_FIGURE_RAIN) >= 1;
            rain += db_days_figure(&days, d, DB_FIGURE_RAIN);
            assert_true(db_days_figure(&days, d, DB_FIGURE_WIND) >= 0);
        }
        assert_int_equal(frosts, years[y].frosts);
        assert_int_equal(hot, years[y].hot);
        assert_int_equal(wet, years[y].wet);
        assert_true(fabs(rain - years[y].rain) < 1e-6);
    }
    assert_true(isnan(db_days_figure(&days, on(2011, 12, 31), DB_FIGURE_LOW)));
    assert_true(isnan(db_days_figure(&days, on(2016, 1, 1), DB_FIGURE_LOW)));
}

/* The freezing and boiling points of water, the inch of 1959; quotes as in RFC 4180; gaps and unknown cells. */
static void units_quotes_and_gaps(void **state)
{
    const struct reading *r = *state;
    char folder[] = "/tmp/dewbell-test-XXXXXX", path[64];

    assert_non_null(mkdtemp(folder));
    snprintf(path, sizeof path, "%s/w.csv", folder);
    write_file(
        path, "\xEF\xBB\xBF# from a station of our own\r\nplace,\"high [°F]\",low [°F],date,rain [inch],wind [km/h]\r\n"
              "\"Bank, \"\"Lark\"\"\",104,32,2024-02-28,1,36\r\n\r\n"
              "x, 50 ,NA,2024-03-01,,\r\n");
    const struct db_days days = read_csv(r, path, "");
    (void) unlink(path);
    (void) rmdir(folder);
    assert_int_equal(db_mistakes_count(r->mistakes), 0);
    assert_int_equal(days.count, 3);
    const struct db_date first = on(2024, 2, 28);
    assert_true(fabs(db_days_figure(&days, first, DB_FIGURE_LOW)) < 1e-12);
    assert_true(fabs(db_days_figure(&days, first, DB_FIGURE_HIGH) - 40) < 1e-12);
    assert_true(fabs(db_days_figure(&days, first, DB_FIGURE_RAIN) - 25.4) < 1e-12);
    assert_true(fabs(db_days_figure(&days, first, DB_FIGURE_WIND) - 10) < 1e-12);
    assert_true(
        isnan(db_days_figure(&days, db_date_add(first, 1), DB_FIGURE_LOW))); /* 29 February is not in the file */
    assert_true(isnan(db_days_figure(&days, db_date_add(first, 2), DB_FIGURE_LOW)));
    assert_true(isnan(db_days_figure(&days, db_date_add(first, 2), DB_FIGURE_RAIN)));
    assert_true(fabs(db_days_figure(&days, db_date_add(first, 2), DB_FIGURE_HIGH) - 10) < 1e-12);
}

static struct db_estate read_estate(const struct reading *r)
{
    struct db_estate estate;

    assert_int_equal(db_estate_read("tests/data/seattle-garden/garden.ini", "rules", r->arena, r->mistakes, &estate),
                     DB_OK);
    return estate;
}

static const struct db_weather *weather_on(const struct reading *r, const struct db_estate *estate,
                                           struct db_date today)
{
    struct db_weather *weather = NULL;

    assert_int_equal(db_estate_weather(estate, today, r->arena, r->mistakes, &weather), DB_OK);
    return weather;
}

static void each_day_knows_where_its_figures_came_from(void **state)
{
    const struct reading *r = *state;
    const struct db_estate estate = read_estate(r);
    const struct db_date today = on(2014, 6, 15);
    const struct db_weather *w = weather_on(r, &estate, today);
    const struct db_date first = db_weather_first(w);
    const double *low = db_weather_figures(w, 0, DB_FIGURE_LOW), *high = db_weather_figures(w, 0, DB_FIGURE_HIGH);

    /* The first sowing was planned for 12 April 2013: 30 days before it, which is more than 400 days back. */
    assert_int_equal(first.day, on(2013, 3, 13).day);
    assert_int_equal(first.day + (int32_t) db_weather_days(w) - 1, today.day + 430);
    assert_int_equal(db_weather_known(w).day, today.day + 5);
    for (int32_t d = first.day; d <= today.day + 430; d++) {
        const enum db_origin expected = d <= today.day       ? DB_ORIGIN_OBSERVED
                                        : d <= today.day + 5 ? DB_ORIGIN_FORECAST
                                                             : DB_ORIGIN_CLIMATE;

        assert_int_equal(db_weather_origin(w, (struct db_date){ d }, DB_FIGURE_LOW), expected);
        assert_false(isnan(low[d - first.day]) || isnan(high[d - first.day]));
        assert_true(low[d - first.day] <= high[d - first.day]);
        if (expected != DB_ORIGIN_CLIMATE)
            assert_true(low[d - first.day] ==
                        db_days_figure(&estate.records->observed, (struct db_date){ d }, DB_FIGURE_LOW));
    }
}

/* Standing on a day, nothing hangs on what was measured after it but for the days that stand in for a forecast. */
static void no_day_is_known_before_it_comes(void **state)
{
    const struct reading *r = *state;
    const struct db_estate estate = read_estate(r);
    const struct db_date today = on(2014, 6, 15);
    struct db_records cut = *estate.records;
    struct db_estate short_of_it = estate;

    cut.observed.count = (size_t) (today.day - cut.observed.first.day) + 1 + (size_t) cut.ahead;
    cut.past.count = (size_t) (today.day - cut.past.first.day);
    short_of_it.records = &cut;
    const struct db_weather *a = weather_on(r, &estate, today), *b = weather_on(r, &short_of_it, today);
    assert_int_equal(db_weather_days(a), db_weather_days(b));
    for (enum db_figure f = 0; f < (enum db_figure) DB_FIGURE_COUNT; f++)
        assert_memory_equal(db_weather_figures(a, 0, f), db_weather_figures(b, 0, f),
                            db_weather_days(a) * sizeof(double));
}

/* In the first year of a record there are not yet past years enough. */
static void too_few_past_years_are_said(void **state)
{
    const struct reading *r = *state;
    const struct db_estate estate = read_estate(r);
    struct db_weather *weather = NULL;

    assert_int_equal(db_estate_weather(&estate, on(2012, 12, 10), r->arena, r->mistakes, &weather), DB_MISTAKEN);
    assert_null(weather);
    assert_int_equal(db_mistakes_count(r->mistakes), 1);
    assert_int_equal(db_mistakes_at(r->mistakes, 0)->at.line, 12);
    assert_non_null(weather_on(r, &estate, on(2012, 12, 31)));
}

/* Monthly means of the same file by another program: January and July of the four years. */
static void the_climate_of_past_years_is_their_mean(void **state)
{
    const struct reading *r = *state;
    const struct db_estate estate = read_estate(r);
    const struct db_days *past = &estate.records->past;
    struct db_normal normals[12];

    assert_int_equal(db_weather_normals(past->first, past->count, past->figures[DB_FIGURE_LOW],
                                        past->figures[DB_FIGURE_HIGH], past->figures[DB_FIGURE_RAIN], on(2016, 1, 1),
                                        normals),
                     DB_OK);
    assert_true(fabs(normals[0].low - 2.6968) < 5e-5 && fabs(normals[0].high - 8.2290) < 5e-5 &&
                fabs(normals[0].rain - 116.5) < 5e-5);
    assert_true(fabs(normals[6].low - 14.1976) < 5e-5 && fabs(normals[6].high - 25.9984) < 5e-5 &&
                fabs(normals[6].rain - 12.05) < 5e-5);
    assert_true(fabs(normals[1].low - 4.0549) < 5e-5 && fabs(normals[1].rain - 105.4720) < 5e-5);
}

/* The plan's own values, in metric and imperial units, values over two lines, both ways of writing a day. */
static void the_plan_says_what_it_says(void **state)
{
    const struct reading *r = *state;
    const struct db_estate estate = read_estate(r);
    const struct db_garden *g = estate.garden;
    const struct db_sowing *carrot = db_garden_sowing(g, db_garden_find_sowing(g, "carrot-1"));
    const struct db_sowing *kale = db_garden_sowing(g, db_garden_find_sowing(g, "kale-1"));
    const struct db_bed *north = db_garden_find_bed(g, "north"), *bench = db_garden_find_bed(g, "bench");

    assert_int_equal(db_mistakes_advice(r->mistakes), 0);
    assert_string_equal(db_garden_site(g)->name, "Lark Bank");
    assert_true(db_garden_site(g)->latitude == 47.45 && db_garden_site(g)->longitude == -122.3);
    assert_true(fabs(north->width - 1219.2) < 1e-9 && fabs(north->length - 3048) < 1e-9);
    assert_true(fabs(bench->warmth - 18) < 1e-9 && bench->cover == DB_COVER_INDOORS);
    assert_string_equal(carrot->variety, "Early Nantes");
    assert_true(fabs(carrot->row - 66 * 25.4) < 1e-9);
    assert_int_equal(carrot->planned.day, on(2013, 4, 12).day);
    assert_int_equal(carrot->sown.day, on(2013, 4, 14).day);
    assert_int_equal(carrot->way, DB_WAY_DRILL); /* the crop's first way */
    assert_ptr_equal(carrot->into, carrot->bed);
    assert_int_equal(carrot->at.line, 22);
    assert_int_equal(kale->way, DB_WAY_POT);
    assert_ptr_equal(kale->bed, bench);
    assert_ptr_equal(kale->into, north);
    assert_true(kale->plants == 6 && kale->plugs == 0);
    assert_false(db_date_known(kale->sown));
    size_t files = 0;
    while (estate.files[files])
        files++;
    assert_true(files > 10);
    assert_string_equal(estate.files[0], "tests/data/seattle-garden/garden.ini");
}

/* Too little memory is said, whatever it was wanted for. */
static void any_limit_of_memory_is_survived(void **state)
{
    (void) state;
    for (size_t limit = 4096;; limit += limit / 3) {
        struct db_arena *arena = db_arena_new(limit);
        struct db_mistakes *mistakes = db_mistakes_new(arena);
        struct db_estate estate = { 0 };
        const enum db_status status =
            mistakes ? db_estate_read("tests/data/seattle-garden/garden.ini", "rules", arena, mistakes, &estate)
                     : DB_FULL;

        assert_true(status == DB_OK || status == DB_FULL);
        assert_int_equal(estate.garden != NULL, status == DB_OK);
        (void) db_arena_free(arena);
        if (status == DB_OK) {
            print_message("least memory: under %zu KiB\n", limit / 1024);
            return;
        }
        assert_true(limit < (size_t) 64 << 20);
    }
}

int main(void)
{
#define TEST(function) cmocka_unit_test_setup_teardown(function, set_up, tear_down)
    const struct CMUnitTest tests[] = {
        TEST(the_four_years_are_read_whole),
        TEST(units_quotes_and_gaps),
        TEST(each_day_knows_where_its_figures_came_from),
        TEST(no_day_is_known_before_it_comes),
        TEST(too_few_past_years_are_said),
        TEST(the_climate_of_past_years_is_their_mean),
        TEST(the_plan_says_what_it_says),
        TEST(any_limit_of_memory_is_survived),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
