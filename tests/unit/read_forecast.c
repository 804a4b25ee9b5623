/* Forecasts in the three shapes of JSON and as CSV. The figures of tests/data/forecasts are invented; the shapes are those
 * that the services' own documentation shows (named in rules/sources/public.ini). What a day must come to is worked out
 * here by hand beside each check. */
#include "read/forecast.h"

#include "base/limits.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "kit/value.h"

#include "base/banned.h"

#define NEAR(a, b) assert_true(fabs((a) - (b)) < 1e-6)

struct bench {
    struct db_arena *arena;
    struct db_mistakes *mistakes;
    struct db_site site;
    struct db_answer answer;
};

static int set_up(void **state)
{
    static struct bench bench;

    bench = (struct bench){ .arena = db_arena_new((size_t) 256 << 20) };
    bench.mistakes = db_mistakes_new(bench.arena);
    bench.site = (struct db_site){ .latitude = 52.1, .longitude = -1.9, .altitude = 60, .zone = "Europe/London" };
    *state = &bench;
    return bench.mistakes ? 0 : -1;
}

static int tear_down(void **state)
{
    const struct bench *bench = *state;

    (void) db_arena_free(bench->arena);
    return 0;
}

static int64_t utc(int year, int month, int day, int hour)
{
    struct db_date date;

    assert_int_equal(db_date_of(year, month, day, &date), DB_OK);
    return (int64_t) date.day * 86400 + hour * 3600;
}

static const struct db_source *shipped(struct bench *b, const char *id)
{
    const struct db_source *source = NULL;

    assert_int_equal(db_source_read(id, (struct db_place){ 0 }, "rules", NULL, b->arena, b->mistakes, &source), DB_OK);
    return source;
}

/* A description made for one test. */
static const struct db_source *described(struct bench *b, const char *keys)
{
    char name[] = "/tmp/dewbell-source-XXXXXX";
    const struct db_source *source = NULL;
    const int fd = mkstemp(name);
    FILE *file = fdopen(fd, "w");

    assert_non_null(file);
    fprintf(file, "[source test]\ntitle = Test\nurl = https://weather.example/\n%s", keys);
    assert_int_equal(fclose(file), 0);
    const enum db_status status =
        db_source_read("test", (struct db_place){ 0 }, "rules", name, b->arena, b->mistakes, &source);
    assert_int_equal(remove(name), 0);
    if (status != DB_OK)
        fail_msg("%s", db_mistakes_at(b->mistakes, 0)->what);
    return source;
}

static enum db_status read_text(struct bench *b, const struct db_source *source, const char *text, int64_t now)
{
    const struct db_asker asker = { .site = &b->site, .name = "answer", .fetched = now, .now = now };

    return db_forecast_read(source, &asker, text, strlen(text), b->arena, b->mistakes, &b->answer);
}

static enum db_status read_file(struct bench *b, const struct db_source *source, const char *name, int64_t now)
{
    char path[128];
    FILE *file;
    char *text = db_arena_get(b->arena, DB_LIMIT_FORECAST, 1);

    (void) snprintf(path, sizeof path, "tests/data/forecasts/%s", name);
    file = fopen(path, "re");
    assert_non_null(file);
    text[fread(text, 1, DB_LIMIT_FORECAST - 1, file)] = '\0';
    (void) fclose(file);
    return read_text(b, source, text, now);
}

static const char *said(const struct bench *b, size_t index)
{
    const struct db_mistake *mistake = db_mistakes_at(b->mistakes, index);

    return mistake ? mistake->what : "";
}

static const double *day_told(const struct bench *b, struct db_date date)
{
    for (size_t i = 0; i < b->answer.told.count; i++)
        if (b->answer.told.days[i].date.day == date.day)
            return b->answer.told.days[i].figures;
    fail_msg("day %d is not told", date.day);
    return NULL;
}

static void is_day(const struct bench *b, struct db_date date, double low, double high, double rain)
{
    const double *figures = day_told(b, date), expected[] = { low, high, rain };

    for (int f = 0; f < 3; f++)
        if (isnan(expected[f]) ? !isnan(figures[f]) : !(fabs(figures[f] - expected[f]) < 1e-6))
            fail_msg("day %d, figure %d: %g and not %g", date.day, f, figures[f], expected[f]);
}

static void columns(void **state)
{
    struct bench *b = *state;

    assert_int_equal(read_file(b, shipped(b, "open-meteo"), "columns.json", utc(2026, 6, 1, 9)), DB_OK);
    assert_int_equal(b->answer.told.count, 7);
    assert_string_equal(b->answer.told.source, "Open-Meteo");
    is_day(b, on(2026, 6, 1), 9.1, 18.2, 0);
    is_day(b, on(2026, 6, 2), 10.4, 21.3, 3.2);
    /* a low that is null makes the temperatures unknown, not zero; its rain stays */
    is_day(b, on(2026, 6, 5), (double) NAN, (double) NAN, 12.7);
    is_day(b, on(2026, 6, 6), 7.5, 16.1, (double) NAN);
    assert_int_equal(db_mistakes_advice(b->mistakes), 0);
    assert_false(b->answer.part_of_today);
    assert_true(isnan(day_told(b, on(2026, 6, 1))[DB_FIGURE_WIND]));
}

/* The fixture's temperatures run on straight lines from 8 degC at 04 UTC to 20 at 16 UTC, and are n degC warmer from 00 UTC
 * of day n on; London is an hour ahead. 2 June runs from 23 UTC of 1 June: lowest at 04 UTC (8 + 1), highest at 16 UTC
 * (20 + 1). Rain: half a millimetre each in the hours from 22, 23 and 30 UTC after the start, of which 22 to 23 UTC is
 * 23 to 24 h of 1 June, the others are 2 June; next_6_hours say the same again and must not count. */
static void records(void **state)
{
    struct bench *b = *state;

    assert_int_equal(read_file(b, shipped(b, "met-norway"), "records.json", utc(2026, 6, 1, 1)), DB_OK);
    assert_int_equal(b->answer.told.issued, utc(2026, 6, 1, 0) + 13 * 60);
    is_day(b, on(2026, 6, 1), 8, 20, 0.5);
    is_day(b, on(2026, 6, 2), 9, 21, 1.0);
    /* from the third day on six hours at a time. 66 to 72 h is 19 to 1 h in London: of its 1.2 mm five parts of six fall on
     * 3 June, one on the 4th; 72 to 78 h is 1 to 7 h of 4 June */
    is_day(b, on(2026, 6, 3), 10, 22, 1.0);
    is_day(b, on(2026, 6, 4), 11, 23, 0.2 + 1.2);
    /* wind: 2 m/s and a twelfth more each hour of the UTC day, on lines between: London's 2 June has 23 UTC (47/12) falling
     * to 2 within an hour, then 0 to 23 UTC; in five-minute cells the mean is 35.5/12 or nearly so */
    assert_true(fabs(day_told(b, on(2026, 6, 2))[DB_FIGURE_WIND] - 35.5 / 12) < 0.01);
    /* the last entries reach to 6 June, 06 UTC: that is 7 h of that day, too little */
    assert_int_equal(b->answer.told.days[b->answer.told.count - 1].date.day, on(2026, 6, 5).day);
}

/* Kansas in June is five hours behind UTC. A night's low, 00 to 13 UTC, is 19 h of the evening before to 8 h: its middle
 * lies in the morning. Highs of the day run from 7 to 20 h. */
static void series(void **state)
{
    struct bench *b = *state;

    b->site = (struct db_site){ .latitude = 39.76, .longitude = -97.09, .zone = "America/Chicago" };
    assert_int_equal(read_file(b, shipped(b, "us-weather-service"), "series.json", utc(2026, 6, 1, 12)), DB_OK);
    /* 2 June: low 50 degF, high 71 degF; rain of 18 to 24 UTC of 1 June and 00 to 06 UTC of 2 June are 13 to 19 h and
     * 19 to 1 h there: a quarter of an inch wholly on 1 June, of the next five parts of six */
    is_day(b, on(2026, 6, 1), (60 - 5 - 32) / 1.8, (70 - 32) / 1.8, 6.35 + 6.35 * 5 / 6);
    is_day(b, on(2026, 6, 2), (50 - 32) / 1.8, (71 - 32) / 1.8, 6.35 / 6);
    is_day(b, on(2026, 6, 3), (49 - 32) / 1.8, (72 - 32) / 1.8, 0);
    /* the low of the night to 4 June is null: what is known is the temperature itself, 55 degF at the least */
    is_day(b, on(2026, 6, 4), (55 - 32) / 1.8, (73 - 32) / 1.8, 0);
    NEAR(day_told(b, on(2026, 6, 2))[DB_FIGURE_WIND], 2.5); /* 9 km/h */
}

static void csv(void **state)
{
    struct bench *b = *state;
    const struct db_source *source = described(b, "shape = csv\ntime = date\nlow = t_min\nlow_unit = °F\nhigh = t_max\n"
                                                  "high_unit = °F\nrain = precip\nrain_unit = inch\nmissing = -9999\n");

    assert_int_equal(read_file(b, source, "daily.csv", utc(2026, 6, 1, 12)), DB_OK);
    is_day(b, on(2026, 6, 1), 10, 20, 2.54);
    is_day(b, on(2026, 6, 2), 9, 21.5, (double) NAN);
    is_day(b, on(2026, 6, 3), (double) NAN, (double) NAN, 0); /* -9999 is not a low */
    is_day(b, on(2026, 6, 4), 11, 22, (double) NAN);          /* "NaN" is not rain */
}

#define HOURLY                                                                                                          \
    "shape = columns\ntime = /t\nlow = /v\nlow_unit = °C\nhigh = /v\nhigh_unit = °C\nrain = /r for 1 h\nrain_unit = " \
    "mm\n"

/* Hours of UTC from `from` on, `count` of them: the temperature is the hour of the row, the rain 1 mm an hour. */
static const char *hourly(struct bench *b, int64_t from, int count)
{
    const size_t room = (size_t) count * 64 + 64;
    char *text = db_arena_get(b->arena, room, 1);
    size_t length = (size_t) snprintf(text, room, "{\"t\":[");

    for (int i = 0; i < count; i++)
        length += (size_t) snprintf(text + length, room - length, "%s%lld", i ? "," : "", (long long) from + i * 3600);
    length += (size_t) snprintf(text + length, room - length, "],\"v\":[");
    for (int i = 0; i < count; i++)
        length += (size_t) snprintf(text + length, room - length, "%s%d", i ? "," : "", i % 50);
    length += (size_t) snprintf(text + length, room - length, "],\"r\":[");
    for (int i = 0; i < count; i++)
        length += (size_t) snprintf(text + length, room - length, "%s1", i ? "," : "");
    (void) snprintf(text + length, room - length, "]}");
    return text;
}

/* In London 29 March 2026 has 23 hours, 25 October 25 (Directive 2000/84/EC): a millimetre an hour makes as many. */
static void short_and_long_days(void **state)
{
    struct bench *b = *state;
    const struct db_source *source = described(b, HOURLY);

    assert_int_equal(read_text(b, source, hourly(b, utc(2026, 3, 28, 0), 100), utc(2026, 3, 28, 6)), DB_OK);
    NEAR(day_told(b, on(2026, 3, 28))[DB_FIGURE_RAIN], 24);
    NEAR(day_told(b, on(2026, 3, 29))[DB_FIGURE_RAIN], 23);
    NEAR(day_told(b, on(2026, 3, 30))[DB_FIGURE_RAIN], 24);
    NEAR(day_told(b, on(2026, 3, 29))[DB_FIGURE_LOW], 24); /* midnight is row 24 ... */
    assert_int_equal(read_text(b, source, hourly(b, utc(2026, 10, 24, 23), 100), utc(2026, 10, 25, 6)), DB_OK);
    NEAR(day_told(b, on(2026, 10, 25))[DB_FIGURE_RAIN], 25);
    NEAR(day_told(b, on(2026, 10, 25))[DB_FIGURE_LOW], 0);
    assert_true(fabs(day_told(b, on(2026, 10, 25))[DB_FIGURE_HIGH] - 25) < 0.1); /* to row 25, the next midnight */
    NEAR(day_told(b, on(2026, 10, 26))[DB_FIGURE_RAIN], 24);
}

/* Local readings without an offset: 1 h comes twice on 25 October, and both hours have their rain. */
static void an_hour_that_comes_twice(void **state)
{
    struct bench *b = *state;
    const struct db_source *source = described(b, HOURLY);
    char text[2048] = "{\"t\":[", values[256] = "", rain[256] = "";

    for (int i = 0; i < 25; i++) {
        const int reading = i < 2 ? i : i - 1;
        const size_t at = strlen(text), v = strlen(values), r = strlen(rain);

        (void) snprintf(text + at, sizeof text - at, "%s\"2026-10-25T%02d:00\"", i ? "," : "", reading);
        (void) snprintf(values + v, sizeof values - v, "%s%d", i ? "," : "", 10);
        (void) snprintf(rain + r, sizeof rain - r, "%s%d", i ? "," : "", i == 1 || i == 2 ? 4 : 0);
    }
    const size_t at = strlen(text);
    (void) snprintf(text + at, sizeof text - at, "],\"v\":[%s],\"r\":[%s]}", values, rain);
    assert_int_equal(read_text(b, source, text, utc(2026, 10, 25, 3)), DB_OK);
    assert_int_equal(db_mistakes_advice(b->mistakes), 0);
    NEAR(day_told(b, on(2026, 10, 25))[DB_FIGURE_RAIN], 8);
}

/* Under 20 hours a day is no day, unless it is today. */
static void parts_of_days(void **state)
{
    struct bench *b = *state;
    const struct db_source *source = described(b, HOURLY);

    b->site.zone = "UTC";
    assert_int_equal(read_text(b, source, hourly(b, utc(2026, 6, 1, 5), 19 + 24 + 19), utc(2026, 6, 1, 6)), DB_OK);
    assert_int_equal(b->answer.told.count, 2);
    assert_true(b->answer.part_of_today);
    NEAR(day_told(b, on(2026, 6, 1))[DB_FIGURE_RAIN], 19);
    assert_int_equal(read_text(b, source, hourly(b, utc(2026, 6, 1, 5), 19 + 24 + 20), utc(2026, 6, 1, 6)), DB_OK);
    assert_int_equal(b->answer.told.count, 3);
    assert_int_equal(read_text(b, source, hourly(b, utc(2026, 6, 1, 5), 19 + 24 + 20), utc(2026, 6, 2, 6)), DB_OK);
    assert_int_equal(b->answer.told.count, 2); /* the first is yesterday now */
    assert_false(b->answer.part_of_today);
}

#define DAILY                                                                                                          \
    "shape = columns\ntime = /t\nlow = /l\nlow_unit = /u\nhigh = /h\nhigh_unit = /u\nrain = /r\nrain_unit = mm\n"      \
    "missing = -9999, 999.9\nlatitude = /lat\nlongitude = /lon\n"

static enum db_status daily(struct bench *b, const char *format_low, const char *high, const char *rain)
{
    char text[1024];

    (void) snprintf(
        text, sizeof text,
        "{\"lat\":52.1,\"lon\":-1.9,\"u\":\"°C\",\"t\":[\"2026-06-01\",\"2026-06-02\"],\"l\":[%s],\"h\":[%s],"
        "\"r\":[%s]}",
        format_low, high, rain);
    return read_text(b, described(b, DAILY), text, utc(2026, 6, 1, 9));
}

static void unknown_is_never_zero(void **state)
{
    static const char *const unknown[] = { "null", "NaN", "\"NaN\"", "\"\"", "-9999", "999.9", "\"n/a\"", "\"-9999\"" };
    struct bench *b = *state;

    for (size_t i = 0; i < sizeof unknown / sizeof unknown[0]; i++) {
        char low[64];

        (void) snprintf(low, sizeof low, "%s, 4", unknown[i]);
        assert_int_equal(daily(b, low, "20, 21", "0, 1"), DB_OK);
        is_day(b, on(2026, 6, 1), (double) NAN, (double) NAN, 0);
        is_day(b, on(2026, 6, 2), 4, 21, 1);
        assert_int_equal(daily(b, "\"5.5\", 4", "20, 21", low), DB_OK);
        is_day(b, on(2026, 6, 1), 5.5, 20, (double) NAN);
    }
}

/* A day that cannot be true goes, with one word about it; the other stays. */
static void days_that_cannot_be(void **state)
{
    static const struct {
        const char *low, *high, *rain, *what;
    } cases[] = {
        { "15, 4", "12, 21", "0, 1", "2026-06-01 is left out: its low is above its high" },
        { "5, 4", "70, 21", "0, 1", "2026-06-01 is left out: its high of 70 °C cannot be true" },
        { "-61, 4", "7, 21", "0, 1", "2026-06-01 is left out: its low of -61 °C cannot be true" },
        { "5, 4", "7, 21", "501, 1", "2026-06-01 is left out: its rain of 501 mm cannot be true" },
        { "5, 4", "7, 21", "-1, 1", "2026-06-01 is left out: its rain of -1 mm cannot be true" },
        { "5, 4", "1e400, 21", "0, 1", "2026-06-01 is left out: its high of 999999999 °C cannot be true" },
    };

    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        struct bench *b = *state;

        b->mistakes = db_mistakes_new(b->arena);
        assert_int_equal(daily(b, cases[i].low, cases[i].high, cases[i].rain), DB_OK);
        assert_int_equal(b->answer.told.count, 1);
        is_day(b, on(2026, 6, 2), 4, 21, 1);
        assert_int_equal(db_mistakes_advice(b->mistakes), 1);
        assert_string_equal(said(b, 0), cases[i].what);
    }
}

/* Values of the units by the International System of Units (BIPM 2019) and the yard and pound agreement of 1959. */
static void units(void **state)
{
    static const struct {
        const char *name;
        enum db_kind kind;
        double given, value;
    } cases[] = {
        { "°F", DB_KIND_TEMPERATURE, 212, 100 },
        { "fahrenheit", DB_KIND_TEMPERATURE, 32, 0 },
        { "K", DB_KIND_TEMPERATURE, 273.15, 0 },
        { "celsius", DB_KIND_TEMPERATURE, 7, 7 },
        { "wmoUnit:degC", DB_KIND_TEMPERATURE, 7, 7 },
        { "unit:degF", DB_KIND_TEMPERATURE, 50, 10 },
        { "inch", DB_KIND_LENGTH, 1, 25.4 },
        { "cm", DB_KIND_LENGTH, 1, 10 },
        { "wmoUnit:mm", DB_KIND_LENGTH, 3, 3 },
        { "kg/m2", DB_KIND_LENGTH, 3, 3 },
        { "km/h", DB_KIND_SPEED, 36, 10 },
        { "m/s", DB_KIND_SPEED, 4, 4 },
        { "mph", DB_KIND_SPEED, 100, 44.704 },
        { "mp/h", DB_KIND_SPEED, 100, 44.704 },
        { "wmoUnit:km_h-1", DB_KIND_SPEED, 18, 5 },
        { "kn", DB_KIND_SPEED, 3600, 1852 },
    };
    double factor, offset;

    (void) state;
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        assert_true(db_forecast_unit(cases[i].name, strlen(cases[i].name), cases[i].kind, &factor, &offset));
        NEAR(cases[i].given * factor + offset, cases[i].value);
    }
    assert_false(db_forecast_unit("mm", 2, DB_KIND_TEMPERATURE, &factor, &offset));
    assert_false(db_forecast_unit("", 0, DB_KIND_LENGTH, &factor, &offset));
    assert_false(db_forecast_unit("wmoUnit:", 8, DB_KIND_LENGTH, &factor, &offset));
}

static const char *deep(struct bench *b, size_t depth)
{
    char *text = db_arena_get(b->arena, depth + 1, 1);

    memset(text, '[', depth);
    return text;
}

static const char *many(struct bench *b, const char *what, size_t count)
{
    const size_t length = strlen(what);
    char *text = db_arena_get(b->arena, count * length + 1, 1);

    for (size_t i = 0; i < count; i++)
        memcpy(text + i * length, what, length);
    return text;
}

/* What makes the whole answer useless, and the words that say it. */
static void refused(void **state)
{
#define DAYS2 "\"t\":[\"2026-06-01\",\"2026-06-02\"]"
#define HERE "\"lat\":52.1,\"lon\":-1.9,\"u\":\"°C\","
    static const struct {
        const char *text, *what;
    } cases[] = {
        { "", "it ends in the middle" },
        { "<html>", "it is no JSON" },
        { "{\"lat\":52.1,", "it ends in the middle" },
        { "{} {}", "it is no JSON" },
        { "{}", "/lat finds nothing" },
        { "{\"lat\":40.7,\"lon\":-74.0}",
          "it is for a place 5435 km from the garden" }, /* by the spherical law of cosines, R = 6371 km */
        { "{\"lat\":52.4,\"lon\":-1.9}", "it is for a place 33 km from the garden" },
        { "{\"lat\":\"NaN\",\"lon\":-1.9}", "it does not say for which place it is" },
        { "{\"lat\":true,\"lon\":-1.9}", "/lat finds a yes or no, not a number" },
        { "{" HERE "\"t\":7}", "/t finds a number, not an array" },
        { "{" HERE "\"t\":[{}]}", "/t finds an object, not a time" },
        { "{" HERE "\"t\":[\"tomorrow\\n\"]}", "/t finds \"tomorrow?\", not a time" },
        { "{" HERE "\"t\":[\"2026-06-31\"]}", "/t finds \"2026-06-31\", not a time" },
        { "{" HERE DAYS2 "}", "/l finds nothing" },
        { "{" HERE DAYS2 ",\"l\":[1,2,3]}", "/l has 3 entries, /t has 2" },
        { "{" HERE DAYS2 ",\"l\":[1,\"cold\"]}", "/l finds \"cold\", not a number" },
        { "{" HERE DAYS2 ",\"l\":[1,[]]}", "/l finds an array, not a number" },
        { "{\"lat\":52.1,\"lon\":-1.9," DAYS2 ",\"l\":[1,2]}", "/u finds nothing" },
        { "{\"lat\":52.1,\"lon\":-1.9,\"u\":\"mm\"," DAYS2 ",\"l\":[1,2]}",
          "/u finds \"mm\", no unit of a temperature" },
        { "{" HERE "\"t\":[\"2026-06-02\",\"2026-06-01\"],\"l\":[1,2],\"h\":[3,4],\"r\":[0,0]}",
          "the times at /t go backwards: 2026-05-31 23:00 UTC follows 2026-06-01 23:00 UTC" },
        { "{" HERE "\"t\":[\"2016-06-01\"],\"l\":[1],\"h\":[3],\"r\":[0]}",
          "it tells no whole day of the next three weeks" },
        { "{" HERE "\"t\":[],\"l\":[],\"h\":[],\"r\":[]}", "it tells no whole day of the next three weeks" },
    };
    struct bench *b = *state;
    const struct db_source *source = described(b, DAILY);

    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        b->mistakes = db_mistakes_new(b->arena);
        assert_int_equal(read_text(b, source, cases[i].text, utc(2026, 6, 1, 9)), DB_MISTAKEN);
        assert_string_equal(said(b, 0), cases[i].what);
    }
    b->mistakes = db_mistakes_new(b->arena);
    assert_int_equal(read_text(b, source, deep(b, 33), utc(2026, 6, 1, 9)), DB_MISTAKEN);
    assert_string_equal(said(b, 0), "it is nested more than 32 deep");
    b->mistakes = db_mistakes_new(b->arena);
    assert_int_equal(read_text(b, source, deep(b, 10 << 20), utc(2026, 6, 1, 9)), DB_MISTAKEN);
    assert_string_equal(said(b, 0), "it is longer than 2 MiB");
    b->mistakes = db_mistakes_new(b->arena);
    assert_int_equal(read_text(b, source, deep(b, 300000), utc(2026, 6, 1, 9)), DB_MISTAKEN);
    assert_string_equal(said(b, 0), "it has more than 200000 values");
    b->mistakes = db_mistakes_new(b->arena);
    assert_int_equal(read_text(b, source, many(b, "0,", 900000), utc(2026, 6, 1, 9)), DB_MISTAKEN);
    assert_string_equal(said(b, 0), "it has more than 200000 values");
}

static void shapes_that_are_wrong(void **state)
{
    struct bench *b = *state;
    const int64_t now = utc(2026, 6, 1, 9);
    const char *const place = "{\"geometry\":{\"coordinates\":[-1.9,52.1]},\"properties\":{\"meta\":{\"updated_at\":"
                              "\"2026-06-01T00:00:00Z\",\"units\":{\"air_temperature\":\"celsius\"}},\"timeseries\":";
    char text[1024];

    (void) snprintf(text, sizeof text, "%s{}}}", place);
    assert_int_equal(read_text(b, shipped(b, "met-norway"), text, now), DB_MISTAKEN);
    assert_string_equal(said(b, 0), "/properties/timeseries finds an object, not an array");
    b->mistakes = db_mistakes_new(b->arena);
    (void) snprintf(text, sizeof text, "%s[{\"at\":1}]}}", place);
    assert_int_equal(read_text(b, shipped(b, "met-norway"), text, now), DB_MISTAKEN);
    assert_string_equal(said(b, 0), "/time finds nothing in entry 0 of /properties/timeseries");
    b->mistakes = db_mistakes_new(b->arena);
    (void) snprintf(text, sizeof text, "%s[{\"time\":\"2026-06-01T00:00:00Z\",\"data\":7}]}}", place);
    assert_int_equal(read_text(b, shipped(b, "met-norway"), text, now), DB_MISTAKEN);
    assert_string_equal(said(b, 0),
                        "/data/instant/details/air_temperature finds nothing in any entry of /properties/timeseries");
    b->mistakes = db_mistakes_new(b->arena);
    assert_int_equal(
        read_text(b,
                  described(b, "shape = columns\ntime = /t\nlow = /v\nlow_unit = °C\nhigh = /v\nhigh_unit = °C\n"
                               "rain = /r\nrain_unit = mm\n"),
                  hourly(b, now, 30), now),
        DB_MISTAKEN);
    assert_string_equal(said(b, 0),
                        "the rain at /r has no span of time: write \"for 1 h\" after it in the description");
}

static void the_last_of_two_counts(void **state)
{
    struct bench *b = *state;
    const char *const text = "{" HERE "\"t\":[\"2026-06-01\",\"2026-06-01\",\"2026-06-02\"],\"l\":[1,5,2],"
                             "\"h\":[30,9,8],\"r\":[9,0,3]}";

    assert_int_equal(read_text(b, described(b, DAILY), text, utc(2026, 6, 1, 9)), DB_OK);
    is_day(b, on(2026, 6, 1), 5, 9, 0);
    assert_string_equal(said(b, 0), "1 time of low at /t came twice: the last one was taken");
}

static void age(void **state)
{
    struct bench *b = *state;
    const struct db_source *source = shipped(b, "met-norway");

    assert_int_equal(read_file(b, source, "records.json", utc(2026, 6, 2, 12)), DB_OK); /* 35 h 47 min old */
    assert_false(b->answer.told.stale);
    assert_int_equal(read_file(b, source, "records.json", utc(2026, 6, 2, 13)), DB_OK);
    assert_true(b->answer.told.stale);
    assert_true(b->answer.told.count >= 4); /* its days count all the same */
}

/* Coordinates are cut, not rounded; the zone goes into an address as RFC 3986 has it. */
static void addresses(void **state)
{
    struct bench *b = *state;
    struct db_site site = { .latitude = 52.199999, .longitude = -1.987654, .altitude = 60.4, .zone = "Etc/GMT+5" };
    const struct db_source *source = shipped(b, "open-meteo");
    const char *url = db_source_address(source, source->url, &site, b->arena);

    assert_non_null(strstr(url, "latitude=52.19&longitude=-1.98&timezone=Etc/GMT%2B5&daily="));
    source = shipped(b, "met-norway");
    assert_string_equal(db_source_address(source, source->url, &site, b->arena),
                        "https://api.met.no/weatherapi/locationforecast/2.0/complete?lat=52.19&lon=-1.98&altitude=60");
    source = shipped(b, "us-weather-service");
    assert_string_equal(db_source_address(source, source->find, &site, b->arena),
                        "https://api.weather.gov/points/52.19,-1.98");
    site.latitude = 0.29; /* 28.999... hundredths in binary */
    site.longitude = 0.001;
    assert_string_equal(db_source_address(source, source->find, &site, b->arena),
                        "https://api.weather.gov/points/0.29,0");
}

static void found(void **state)
{
    struct bench *b = *state;
    const struct db_source *source = shipped(b, "us-weather-service");
    const char *url = NULL;

#define FOUND(text) db_forecast_found(source, "answer", text, strlen(text), b->arena, b->mistakes, &url)
    assert_int_equal(FOUND("{\"properties\":{\"forecastGridData\":\"https://api.weather.gov/gridpoints/TOP/32,81\"}}"),
                     DB_OK);
    assert_string_equal(url, "https://api.weather.gov/gridpoints/TOP/32,81");
    assert_int_equal(FOUND("{\"properties\":{\"forecastGridData\":\"file:///etc/passwd\"}}"), DB_MISTAKEN);
    assert_int_equal(FOUND("{\"properties\":{}}"), DB_MISTAKEN);
    assert_string_equal(said(b, 0), "/properties/forecastGridData finds no address");
    assert_string_equal(said(b, 1), "/properties/forecastGridData finds nothing");
}

int main(void)
{
#define TEST(name) cmocka_unit_test_setup_teardown(name, set_up, tear_down)
    const struct CMUnitTest tests[] = {
        TEST(columns),
        TEST(records),
        TEST(series),
        TEST(csv),
        TEST(units),
        TEST(parts_of_days),
        TEST(short_and_long_days),
        TEST(an_hour_that_comes_twice),
        TEST(unknown_is_never_zero),
        TEST(days_that_cannot_be),
        TEST(refused),
        TEST(shapes_that_are_wrong),
        TEST(the_last_of_two_counts),
        TEST(age),
        TEST(addresses),
        TEST(found),
    };

    return cmocka_run_group_tests_name("read_forecast", tests, NULL, NULL);
}
