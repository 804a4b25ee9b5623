/* How a garden differs from its forecast: what is learnt from which days, what begins it anew, and what is done with it. The
 * differences are planted; 14 days of 2 degrees make a shift of 2 (calc_bias.c). */
#include "service/learn.h"

#include "read/records.h"
#include "read/source.h"
#include "service/told.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include <cmocka.h>

#include "kit/files.h"
#include "kit/folder.h"
#include "kit/value.h"

#include "base/banned.h"

#define CLIMATE                                                                                                              \
    "[climate]\njanuary = 1.5 °C .. 7 °C, 60 mm\nfebruary = 1.5 °C .. 7.5 °C, 45 mm\nmarch = 2.5 °C .. 10 °C, 48 mm\n" \
    "april = 4 °C .. 13 °C, 50 mm\nmay = 7 °C .. 16.5 °C, 55 mm\njune = 10 °C .. 19.5 °C, 55 mm\n"                     \
    "july = 12 °C .. 22 °C, 52 mm\naugust = 12 °C .. 21.5 °C, 62 mm\nseptember = 9.5 °C .. 18.5 °C, 58 mm\n"           \
    "october = 7 °C .. 14.5 °C, 70 mm\nnovember = 4 °C .. 10 °C, 65 mm\ndecember = 2 °C .. 7.5 °C, 65 mm\n"

static const char source[] = "[source plain]\ntitle = Plain\nshape = csv\ntime = date\nlow = low\nlow_unit = °C\n"
                             "high = high\nhigh_unit = °C\n";

/* What differs between plans. */
struct words {
    const char *garden, *forecast, *weather, *url, *source;
};
static const struct words usual = { "", "", "observed = w.csv\n", "http://sky.example/a", source };

static struct {
    char folder[64], garden[96];
    struct db_record *record;
    struct db_arena *arena;
    struct db_estate estate;
    struct db_date today; /* 16 October 2026 */
} bench;

static void write_in(const char *name, const char *text)
{
    char path[128];

    (void) snprintf(path, sizeof path, "%s/%s", bench.folder, name);
    write_file(path, text);
}

static void plan(struct words words)
{
    struct db_mistakes *mistakes = db_mistakes_new(bench.arena);
    char text[4096];

    (void) snprintf(text, sizeof text,
                    "[garden]\nname = Dell\nkey = 5a0d8b1e-3c52-4f0e-9a41-7be2f1c6d9a3\nlatitude = 52.1\n"
                    "longitude = -1.9\nzone = Europe/London\n%s" CLIMATE
                    "[bed north]\n[weather]\n%s[forecast]\nsource = plain\nsources = s.ini\nurl = %s\n%s",
                    words.garden, words.weather, words.url, words.forecast);
    write_in("garden.ini", text);
    write_in("s.ini", words.source);
    if (db_estate_read(bench.garden, "rules", bench.arena, mistakes, &bench.estate) != DB_OK)
        fail_msg("%s", db_mistakes_at(mistakes, 0)->what);
}

/* Noon of a day, unix seconds. */
static int64_t noon(struct db_date day)
{
    return (int64_t) day.day * 86400 + 43200;
}

static char body[4096];

/* An answer that came on `day`: so many days from it on, each with these figures. */
static void comes(struct db_date day, int days, double low, double high)
{
    struct db_told_day told[20];
    char date[11];
    size_t length = (size_t) snprintf(body, sizeof body, "date,low,high\n");
    const char *url = db_source_address(bench.estate.source, bench.estate.source->url,
                                        db_garden_site(bench.estate.garden), bench.arena);

    for (int d = 0; d < days; d++) {
        told[d] = (struct db_told_day){ db_date_add(day, d), { low, high, (double) NAN, (double) NAN } };
        length += (size_t) snprintf(body + length, sizeof body - length, "%s,%.1f,%.1f\n",
                                    db_date_iso(told[d].date, date), low, high);
    }
    const struct db_told all = { .source = "Plain", .issued = noon(day), .days = told, .count = (size_t) days };
    const struct db_answer_row row = { "plain", url, noon(day), noon(day), 0, "", "", body, length };
    assert_int_equal(db_record_put_answer(bench.record, &row, &all, db_date_add(day, -60)), DB_OK);
    assert_int_equal(db_learn_said(bench.record, &bench.estate, url, &all, day), DB_OK);
}

/* w.csv: `count` days before today. */
static void measure(const char *name, int count, double low, double high)
{
    char text[4096], date[11];
    size_t length = (size_t) snprintf(text, sizeof text, "date,low [°C],high [°C]\n");

    for (int d = count; d > 0; d--)
        length += (size_t) snprintf(text + length, sizeof text - length, "%s,%.1f,%.1f\n",
                                    db_date_iso(db_date_add(bench.today, -d), date), low, high);
    write_in(name, text);
}

/* Once a day, as the service does. */
static bool take_note(void)
{
    bool news = false;

    assert_int_equal(db_forecast_observed(bench.record, &bench.estate, noon(bench.today), bench.arena, &news), DB_OK);
    return news;
}

static const struct db_told *told_on(struct db_date day)
{
    struct db_mistakes *mistakes = db_mistakes_new(bench.arena);
    const struct db_told *told = NULL;

    if (db_forecast_told(bench.record, &bench.estate, noon(day), bench.arena, mistakes, &told) != DB_OK)
        return NULL;
    return told;
}

static double shift_now(enum db_figure figure)
{
    const struct db_told *told = told_on(bench.today);

    assert_non_null(told);
    return told->bias[figure].shift;
}

/* A fortnight of forecasts of 6 and 14, each made the evening before, today's of the 16th; of nights of 4 and days of 14.5. */
static void fortnight(void)
{
    for (int d = -15; d <= 0; d++)
        comes(db_date_add(bench.today, d), 10, 6, 14);
    measure("w.csv", 14, 4, 14.5);
}

static int set_up(void **state)
{
    char trouble[256] = "", path[128];

    (void) state;
    memset(&bench, 0, sizeof bench);
    (void) snprintf(bench.folder, sizeof bench.folder, "/tmp/dewbell-learn-XXXXXX");
    if (!mkdtemp(bench.folder))
        return -1;
    (void) snprintf(bench.garden, sizeof bench.garden, "%s/garden.ini", bench.folder);
    (void) snprintf(path, sizeof path, "%s/record.sqlite", bench.folder);
    bench.arena = db_arena_new((size_t) 1 << 28);
    bench.today = on(2026, 10, 16);
    measure("w.csv", 0, 0, 0);
    if (db_record_open(path, &bench.record, trouble) != DB_OK)
        fail_msg("%s", trouble);
    return bench.arena ? 0 : -1;
}

static int tear_down(void **state)
{
    (void) state;
    bench.record = db_record_close(bench.record);
    bench.arena = db_arena_free(bench.arena);
    remove_tree(bench.folder);
    return 0;
}

static void a_fortnight_teaches(void **state)
{
    char here[160];

    (void) state;
    plan(usual);
    fortnight();
    plan(usual); /* the file was written to */
    close_to("before it is taken note of", shift_now(DB_FIGURE_LOW), 0, 0);
    assert_true(take_note());
    assert_false(take_note()); /* the same again is no news */
    const struct db_told *told = told_on(bench.today);
    assert_int_equal(told->bias[DB_FIGURE_LOW].days, 14);
    close_to("low", told->bias[DB_FIGURE_LOW].shift, -2, 0);
    close_to("high", told->bias[DB_FIGURE_HIGH].shift, 0.5, 0); /* 0.5 * 14 / 16 = 0.44 */
    assert_string_equal(db_told_here(told, db_garden_site(bench.estate.garden), here),
                        "Nights are 2 degrees colder here than forecast (14 measured), days 0.5 degrees warmer (14 "
                        "measured).");
    /* The figures stay as they were told, so that an answer that says the same is known again. */
    close_to("told", told->days[told->count - 1].figures[DB_FIGURE_LOW], 6, 0);
    /* A day before, one night fewer was known. */
    assert_null(told_on(db_date_add(bench.today, -1))); /* that answer had not come */
    comes(db_date_add(bench.today, -1), 10, 6, 14);
    assert_int_equal(told_on(db_date_add(bench.today, -1))->bias[DB_FIGURE_LOW].days, 13);
    close_to("13 days", told_on(db_date_add(bench.today, -1))->bias[DB_FIGURE_LOW].shift, 0, 0);
    /* A file that begins later takes nothing back, and one that says otherwise is believed. */
    measure("w.csv", 3, 4, 14.5);
    plan(usual);
    assert_false(take_note());
    assert_int_equal(told_on(bench.today)->bias[DB_FIGURE_LOW].days, 14);
    measure("w.csv", 14, 6, 14);
    plan(usual);
    assert_true(take_note());
    close_to("mended", shift_now(DB_FIGURE_LOW), 0, 0);
}

/* Days may be as much warmer as they are; nights are taken to be milder by 2 K at most, and the sentence says what is done. */
static void milder_nights_are_believed_in_part(void **state)
{
    char here[160];

    (void) state;
    plan(usual);
    for (int d = -15; d <= 0; d++)
        comes(db_date_add(bench.today, d), 10, 2, 14);
    measure("w.csv", 14, 6.5, 18.5);
    plan(usual);
    assert_true(take_note());
    close_to("low", shift_now(DB_FIGURE_LOW), 2, 0);
    close_to("high", shift_now(DB_FIGURE_HIGH), 4, 0); /* 4.5 * 14 / 16 = 3.94 */
    assert_string_equal(db_told_here(told_on(bench.today), db_garden_site(bench.estate.garden), here),
                        "Nights are 2 degrees warmer here than forecast (14 measured), days 4 degrees warmer (14 "
                        "measured).");
}

/* What is said of a day once it has begun is half known already, or of its last hours only: it is not learnt from. */
static void the_day_itself_comes_too_late(void **state)
{
    (void) state;
    plan(usual);
    for (int d = -15; d <= 0; d++) {
        comes(db_date_add(bench.today, d), 1, 12, 14); /* of the day itself */
        comes(db_date_add(bench.today, d), 10, 6, 14);
        comes(db_date_add(bench.today, d), 1, 12, 14);
    }
    measure("w.csv", 14, 4, 14);
    plan(usual);
    assert_true(take_note());
    close_to("shift", shift_now(DB_FIGURE_LOW), -2, 0);
}

static void no_is_no(void **state)
{
    struct words words = usual;

    (void) state;
    plan(usual);
    fortnight();
    plan(usual);
    assert_true(take_note());
    words.forecast = "learn = no\n";
    plan(words);
    close_to("learn = no", shift_now(DB_FIGURE_LOW), 0, 0);
    assert_int_equal(told_on(bench.today)->bias[DB_FIGURE_LOW].days, 0);
    words = usual;
    words.weather = "";
    plan(words);
    close_to("nothing observed", shift_now(DB_FIGURE_LOW), 0, 0);
    words = usual;
    words.garden = "colder_nights = 1 K\n";
    plan(words);
    close_to("the plan says it of nights", shift_now(DB_FIGURE_LOW), 0, 0);
    close_to("and not of days", shift_now(DB_FIGURE_HIGH), 0.5, 0);
    plan(usual);
    close_to("as before", shift_now(DB_FIGURE_LOW), -2, 0);
}

static void what_begins_it_anew(void **state)
{
    char other[sizeof source + 64];
    const struct {
        const char *what;
        struct words words;
    } changes[] = { { "another address", { "", "", usual.weather, "http://sky.example/b", source } },
                    { "another description", { "", "", usual.weather, usual.url, other } },
                    { "another file of measurements", { "", "", "observed = v.csv\n", usual.url, source } } };

    (void) state;
    (void) snprintf(other, sizeof other, "%.*s for 24 h\n%s", (int) (strstr(source, "low = low\n") + 9 - source),
                    source, strstr(source, "low_unit"));
    for (size_t i = 0; i < sizeof changes / sizeof changes[0]; i++) {
        plan(usual);
        fortnight();
        measure("v.csv", 14, 5, 14.5);
        plan(usual);
        (void) take_note();
        close_to("at first", shift_now(DB_FIGURE_LOW), -2, 0);
        plan(changes[i].words);
        comes(bench.today, 10, 6, 14);
        (void) take_note();
        const struct db_told *told = told_on(bench.today);
        assert_non_null(told);
        if (told->bias[DB_FIGURE_LOW].days || fabs(told->bias[DB_FIGURE_LOW].shift) > 0)
            fail_msg("%s: %zu days", changes[i].what, told->bias[DB_FIGURE_LOW].days);
    }
}

static const struct db_weather *weather_now(void)
{
    struct db_mistakes *mistakes = db_mistakes_new(bench.arena);
    struct db_weather *weather = NULL;

    bench.estate.told = told_on(bench.today);
    assert_int_equal(db_estate_weather(&bench.estate, bench.today, bench.arena, mistakes, &weather), DB_OK);
    return weather;
}

static double figure(const struct db_weather *weather, struct db_date day, enum db_figure f)
{
    return db_weather_figures(weather, 0, f)[day.day - db_weather_first(weather).day];
}

/* Measured days, and days of the climate, are not touched by what was learnt; a forecast keeps its name. */
static void what_is_corrected(void **state)
{
    const struct db_date morrow = db_date_add(on(2026, 10, 16), 1), past = db_date_add(morrow, -3),
                         later = db_date_add(morrow, 30);
    struct words words = usual;

    (void) state;
    plan(usual);
    fortnight();
    plan(usual);
    const struct db_weather *before = weather_now();
    assert_true(take_note());
    const struct db_weather *after = weather_now();
    close_to("as told", figure(before, morrow, DB_FIGURE_LOW), 6, 0);
    close_to("as here", figure(after, morrow, DB_FIGURE_LOW), 4, 0);
    close_to("high", figure(after, morrow, DB_FIGURE_HIGH), 14.5, 0);
    assert_int_equal(db_weather_origin(after, morrow, DB_FIGURE_LOW), DB_ORIGIN_FORECAST);
    close_to("how much", db_weather_shift(after, morrow, DB_FIGURE_LOW), -2, 0);
    close_to("how much of the past", db_weather_shift(after, past, DB_FIGURE_LOW), 0, 0);
    close_to("measured", figure(after, past, DB_FIGURE_LOW), 4, 0);
    close_to("climate", figure(after, later, DB_FIGURE_LOW), figure(before, later, DB_FIGURE_LOW), 0);
    /* The plan's own figure is of forecast and climate. */
    words.garden = "colder_nights = 2.7 °F\n"; /* 1.5 K */
    plan(words);
    const struct db_weather *planned = weather_now();
    close_to("forecast by the plan", figure(planned, morrow, DB_FIGURE_LOW), 4.5, 1e-9);
    close_to("climate by the plan", figure(planned, later, DB_FIGURE_LOW), figure(before, later, DB_FIGURE_LOW) - 1.5,
             1e-9);
    close_to("measured, by the plan", figure(planned, past, DB_FIGURE_LOW), 4, 0);
    close_to("high by the plan", figure(planned, later, DB_FIGURE_HIGH), figure(before, later, DB_FIGURE_HIGH), 0);
}

/* Without a pair every figure is what it is without learning; so it is for a garden that says learn = no. */
static void no_pairs_no_change(void **state)
{
    struct words words = usual;

    (void) state;
    words.forecast = "learn = no\n";
    plan(words);
    comes(bench.today, 10, 6, 14);
    const struct db_weather *bare = weather_now();
    plan(usual);
    comes(bench.today, 10, 6, 14);
    (void) take_note();
    const struct db_weather *learning = weather_now();
    for (enum db_figure f = DB_FIGURE_LOW; f < (enum db_figure) DB_FIGURE_COUNT; f++)
        assert_memory_equal(db_weather_figures(bare, 0, f), db_weather_figures(learning, 0, f),
                            db_weather_days(bare) * sizeof(double));
}

/* A file of forecasts has no past to learn from: it is as it stands, but for what the plan says. Past years of another file
 * are colder by the plan, the gardener's own are not; the odds of frost are counted from them. */
static void files_of_the_plan(void **state)
{
    struct words words = usual;
    struct db_date first;
    size_t count;

    (void) state;
    write_in("f.csv", "date,low [°C],high [°C]\n2026-10-17,5,12\n");
    words.weather = "observed = w.csv\nforecast = f.csv\npast_years = w.csv\n";
    measure("w.csv", 14, 4, 14.5);
    plan(words);
    close_to("a file", figure(weather_now(), on(2026, 10, 17), DB_FIGURE_LOW), 5, 0);
    words.garden = "colder_nights = 1.5 K\n";
    plan(words);
    const struct db_weather *weather = weather_now();
    close_to("a file, by the plan", figure(weather, on(2026, 10, 17), DB_FIGURE_LOW), 3.5, 0);
    close_to("the gardener's past", db_weather_lows(weather, &first, &count)[0], 4, 0);
    measure("p.csv", 14, 4, 14.5);
    words.weather = "observed = w.csv\npast_years = p.csv\n";
    plan(words);
    close_to("somebody else's past", db_weather_lows(weather_now(), &first, &count)[0], 2.5, 0);
    words.garden = "colder_nights = -3 K\n";
    measure("p.csv", 14, 4, 6);
    plan(words);
    close_to("never above the high", db_weather_lows(weather_now(), &first, &count)[0], 6, 0);
}

int main(void)
{
#define TEST(name) cmocka_unit_test_setup_teardown(name, set_up, tear_down)
    const struct CMUnitTest tests[] = {
        TEST(a_fortnight_teaches),
        TEST(milder_nights_are_believed_in_part),
        TEST(the_day_itself_comes_too_late),
        TEST(no_is_no),
        TEST(what_begins_it_anew),
        TEST(what_is_corrected),
        TEST(no_pairs_no_change),
        TEST(files_of_the_plan),
    };

    return cmocka_run_group_tests_name("service_learn", tests, NULL, NULL);
}
