#include "dewbell/units.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "base/banned.h"

#define DEGREE "\xC2\xB0"
#define SQUARED "\xC2\xB2"

/* Outside: strtod of the C library in the C locale. */
static void numbers_agree_with_the_c_library(void **state)
{
    static const char *const fixed[] = { "0",
                                         "-0",
                                         "1e22",
                                         "1e23",
                                         "123456789012345678901234567890",
                                         "0.1",
                                         "2.5",
                                         "1e-30",
                                         "3E+2",
                                         "-17.25",
                                         "+8.0",
                                         "1e308",
                                         "4.9e-324",
                                         "0.30000000000000004",
                                         "179.99999999999999" };
    const char *seed_text = getenv("SEED");
    unsigned seed = seed_text ? (unsigned) strtoul(seed_text, NULL, 10) : 20260614u;
    char text[64];
    double value;
    size_t used;

    (void) state;
    print_message("seed %u\n", seed);
    for (size_t i = 0; i < 100000; i++) {
        if (i < sizeof fixed / sizeof fixed[0])
            (void) snprintf(text, sizeof text, "%s", fixed[i]);
        else {
            seed = seed * 1664525u + 1013904223u;
            unsigned other = seed * 22695477u + 1;
            (void) snprintf(text, sizeof text, "%s%u.%0*u%s", i % 3 ? "" : "-", seed % 100000, (int) (i % 9) + 1,
                            other % 10, i % 5 ? "" : "e-3");
        }
        double expected = strtod(text, NULL);
        assert_int_equal(db_number_read(text, strlen(text), &value, &used), DB_OK);
        assert_int_equal(used, strlen(text));
        if (value != expected)
            fail_msg("%s: %.17g expected, %.17g read", text, expected, value);
    }
}

static void a_number_ends_where_it_ends(void **state)
{
    static const struct {
        const char *text;
        size_t used; /* 0: no number */
        double value;
    } known[] = {
        { "10 days", 2, 10 },
        { "1..5", 1, 1 },
        { "1.", 1, 1 },
        { "1.5.2", 3, 1.5 },
        { "2e", 1, 2 },
        { "2e+", 1, 2 },
        { "2eggs", 1, 2 },
        { "0x10", 1, 0 },
        { "1,5", 1, 1 },
        { ".5", 0, 0 },
        { "-", 0, 0 },
        { "nan", 0, 0 },
        { "inf", 0, 0 },
        { "", 0, 0 },
        { "1e999", 0, 0 },
        { "1e-999", 6, 0 },
        { "--1", 0, 0 },
        { " 1", 0, 0 },
        { "\xE2\x88\x92"
          "2.5",
          6, -2.5 },
        { "1e99999999999999999999", 0, 0 },
        { "0e99999", 7, 0 },
    };
    double value;
    size_t used;

    (void) state;
    for (size_t i = 0; i < sizeof known / sizeof known[0]; i++) {
        value = 7;
        enum db_status got = db_number_read(known[i].text, strlen(known[i].text), &value, &used);
        if (got != (known[i].used ? DB_OK : DB_RANGE) || used != known[i].used ||
            value != (known[i].used ? known[i].value : 7))
            fail_msg("\"%s\": %zu bytes, %g", known[i].text, used, value);
    }
    assert_int_equal(db_number_read("12345", 2, &value, &used), DB_OK); /* no further than it was told */
    assert_true(used == 2 && value == 12);
}

static void units_have_their_worth(void **state)
{
    static const struct {
        const char *text;
        size_t used;
        enum db_kind kind;
        double one; /* what "1" of it is in the kind's own unit */
    } known[] = {
        /* Weights and Measures Act 1985 (gallon) and the international yard and pound agreement of 1959 */
        { "inch", 4, DB_KIND_LENGTH, 25.4 },
        { "inches deep", 6, DB_KIND_LENGTH, 25.4 },
        { "in", 2, DB_KIND_LENGTH, 25.4 },
        { "ft", 2, DB_KIND_LENGTH, 304.8 },
        { "yards", 5, DB_KIND_LENGTH, 914.4 },
        { "sq ft", 5, DB_KIND_AREA, 0.09290304 },
        { "gallon", 6, DB_KIND_VOLUME, 4.54609 },
        { "pint", 4, DB_KIND_VOLUME, 4.54609 / 8 },
        { "mph", 3, DB_KIND_SPEED, 1609.344 / 3600 },
        { "knots", 5, DB_KIND_SPEED, 1852.0 / 3600 },
        { "m * row", 1, DB_KIND_LENGTH, 1000 },
        { "m" SQUARED, 3, DB_KIND_AREA, 1 },
        { "m2)", 2, DB_KIND_AREA, 1 },
        { "m/s", 3, DB_KIND_SPEED, 1 },
        { "min per m", 3, DB_KIND_TIME, 1.0 / 1440 },
        { "mm", 2, DB_KIND_LENGTH, 1 },
        { "h 30 min", 1, DB_KIND_TIME, 1.0 / 24 },
        { "weeks", 5, DB_KIND_TIME, 7 },
        { "months", 6, DB_KIND_TIME, 30.44 },
        { DEGREE "C", 3, DB_KIND_TEMPERATURE, 1 },
        { "deg C", 5, DB_KIND_TEMPERATURE, 1 },
        { DEGREE "C d", 5, DB_KIND_THERMAL, 1 },
        { "K d", 3, DB_KIND_THERMAL, 1 },
        { "K", 1, DB_KIND_WARMTH, 1 },
        { "F d", 3, DB_KIND_THERMAL, 5.0 / 9 },
        { "%", 1, DB_KIND_NUMBER, 0.01 },
        { "ml", 2, DB_KIND_VOLUME, 0.001 },
        { "litres", 6, DB_KIND_VOLUME, 1 },
        { "g per m", 1, DB_KIND_WEIGHT, 1 },
        { "kg", 2, DB_KIND_WEIGHT, 1000 },
        { "oz", 2, DB_KIND_WEIGHT, 28.349523125 },
        { "lbs", 3, DB_KIND_WEIGHT, 453.59237 },
        { DEGREE "F", 3, DB_KIND_TEMPERATURE, (1 - 32) / 1.8 },
    };
    static const char *const none[] = { "",           "mmm",   "daze", "m3",      "m\xC2\xB3",
                                        "K\xC2\xB7s", "minty", "Day",  "degrees", "_m" };

    (void) state;
    for (size_t i = 0; i < sizeof known / sizeof known[0]; i++) {
        size_t used = 0;
        const struct db_unit *unit = db_unit_find(known[i].text, strlen(known[i].text), &used);
        if (!unit || unit->kind != known[i].kind || used != known[i].used ||
            !(fabs(unit->factor + unit->offset - known[i].one) < 1e-5 * fabs(known[i].one)))
            fail_msg("%s", known[i].text);
    }
    for (size_t i = 0; i < sizeof none / sizeof none[0]; i++)
        if (db_unit_find(none[i], strlen(none[i]), NULL))
            fail_msg("\"%s\" was taken for a unit", none[i]);
    /* handbook table of soil temperatures and hardening minima: 32, 40, 45, 50, 60, 65, 95 degrees F; 43 as in XHT1087 below */
    static const double fahrenheit[][2] = { { 32, 0 },  { 40, 4.4 },  { 43, 6.11 }, { 45, 7.2 },
                                            { 50, 10 }, { 60, 15.6 }, { 65, 18.3 }, { 95, 35 } };
    const struct db_unit *f = db_unit_find(DEGREE "F", 3, NULL);
    for (size_t i = 0; i < sizeof fahrenheit / sizeof fahrenheit[0]; i++)
        assert_true(fabs(fahrenheit[i][0] * f->factor + f->offset - fahrenheit[i][1]) < 0.05);
    /* 300 F d above 43 F are 166.7 K d (University of Wisconsin XHT1087, cabbage maggot) */
    assert_true(fabs(300 * db_unit_find("F d", 3, NULL)->factor - 166.7) < 0.05);
}

static void every_spelling_finds_itself(void **state)
{
    const struct db_unit *unit;
    size_t count = 0, used;

    (void) state;
    while ((unit = db_unit_at(count++))) {
        const struct db_unit *found = db_unit_find(unit->name, strlen(unit->name), &used);
        assert_ptr_equal(found, unit);
        assert_int_equal(used, strlen(unit->name));
        assert_true(unit->factor > 0 && isfinite(unit->offset));
    }
    assert_true(count > 50);
    for (int kind = DB_KIND_NUMBER; kind <= DB_KIND_WORD; kind++)
        assert_non_null(db_kind_text((enum db_kind) kind));
}

static void amounts_read_as_a_gardener_writes(void **state)
{
    static const struct {
        enum db_kind kind;
        double value;
        const char *metric, *imperial;
    } known[] = {
        { DB_KIND_LENGTH, 10, "10 mm", "0.39 inch" },
        { DB_KIND_LENGTH, 2.44, "2.4 mm", "0.1 inch" },
        { DB_KIND_LENGTH, 25.4, "25 mm", "1 inch" },
        { DB_KIND_LENGTH, 50, "5 cm", "2 inches" },
        { DB_KIND_LENGTH, 45, "45 mm", "1.75 inches" },
        { DB_KIND_LENGTH, 125, "12.5 cm", "5 inches" },
        { DB_KIND_LENGTH, 450, "45 cm", "18 inches" },
        { DB_KIND_LENGTH, 1200, "1.2 m", "3.9 ft" },
        { DB_KIND_LENGTH, 99.9, "10 cm", "4 inches" },
        { DB_KIND_LENGTH, 999, "1 m", "3.3 ft" },
        { DB_KIND_AREA, 3.6, "3.6 m" SQUARED, "39 sq ft" },
        { DB_KIND_VOLUME, 4.54609, "4.5 litres", "1 gallon" },
        { DB_KIND_VOLUME, 0.15, "150 ml", "0.3 pints" },
        { DB_KIND_WEIGHT, 0.0756, "0.08 g", "0.003 oz" },
        { DB_KIND_WEIGHT, 0.31, "0.3 g", "0.011 oz" },
        { DB_KIND_WEIGHT, 28.35, "28 g", "1 oz" },
        { DB_KIND_WEIGHT, 2500, "2.5 kg", "5.5 lb" },
        { DB_KIND_WEIGHT, 999.7, "1 kg", "2.2 lb" },
        { DB_KIND_TEMPERATURE, 27, "27 " DEGREE "C", "81 " DEGREE "F" },
        { DB_KIND_TEMPERATURE, -2.04, "-2 " DEGREE "C", "28 " DEGREE "F" },
        { DB_KIND_TEMPERATURE, 7.25, "7.3 " DEGREE "C", "45 " DEGREE "F" },
        { DB_KIND_WARMTH, 1.5, "1.5 K", "1.5 K" },
        { DB_KIND_TIME, 12, "12 days", "12 days" },
        { DB_KIND_TIME, 35, "5 weeks", "5 weeks" },
        { DB_KIND_TIME, 7, "7 days", "7 days" },
        { DB_KIND_TIME, 1, "1 day", "1 day" },
        { DB_KIND_TIME, 365.25, "1 year", "1 year" },
        { DB_KIND_TIME, 4 * 365.25, "4 years", "4 years" },
        { DB_KIND_TIME, 364, "52 weeks", "52 weeks" },
        { DB_KIND_TIME, 366, "366 days", "366 days" },
        { DB_KIND_TIME, 6 * 30.44, "6 months", "6 months" },
        { DB_KIND_TIME, 61, "61 days", "61 days" },
        { DB_KIND_TIME, 30.44, "30.4 days", "30.4 days" },
        { DB_KIND_TIME, 13.461, "13.5 days", "13.5 days" },
        { DB_KIND_TIME, 10.0 / 1440, "10 min", "10 min" },
        { DB_KIND_TIME, 14.5 / 24, "14 h 30 min", "14 h 30 min" },
        { DB_KIND_TIME, 14.0 / 24, "14 h", "14 h" },
        { DB_KIND_TIME, 1439.8 / 1440, "1 day", "1 day" },
        { DB_KIND_TIME, -0.5, "-12 h", "-12 h" },
        { DB_KIND_TIME, 0, "0 min", "0 min" },
        { DB_KIND_THERMAL, 110.2, "110 K d", "198 " DEGREE "F d" },
        { DB_KIND_SPEED, 5.25, "5.3 m/s", "12 mph" },
        { DB_KIND_DATE, 20618, "14 June 2026", "14 June 2026" },
        { DB_KIND_DATE, (double) INT32_MIN, "no date", "no date" },
        { DB_KIND_TRUTH, 1, "yes", "yes" },
        { DB_KIND_NUMBER, 0.6, "0.6", "0.6" },
        { DB_KIND_NUMBER, 1234.4, "1234", "1234" },
        { DB_KIND_LENGTH, NAN, "unknown", "unknown" },
    };
    char buffer[40];

    (void) state;
    for (size_t i = 0; i < sizeof known / sizeof known[0]; i++) {
        struct db_amount amount = { known[i].value, known[i].kind };
        assert_int_equal(db_amount_text(amount, false, buffer, sizeof buffer), strlen(known[i].metric));
        assert_string_equal(buffer, known[i].metric);
        assert_int_equal(db_amount_text(amount, true, buffer, sizeof buffer), strlen(known[i].imperial));
        assert_string_equal(buffer, known[i].imperial);
        for (size_t size = 0; size < 12; size++) {
            memset(buffer, '#', sizeof buffer);
            size_t length = db_amount_text(amount, false, buffer, size);
            assert_true(size ? length < size && buffer[length] == '\0' : length == 0);
            assert_int_equal(buffer[size], '#');
        }
    }
}

static void rain_is_told_in_millimetres(void **state)
{
    char text[32];

    (void) state;
    (void) db_water_text(50, false, text, sizeof text);
    assert_string_equal(text, "50 mm");
    (void) db_water_text(134.6, false, text, sizeof text);
    assert_string_equal(text, "135 mm");
    (void) db_water_text(4.26, false, text, sizeof text);
    assert_string_equal(text, "4.3 mm");
    (void) db_water_text(50.8, true, text, sizeof text);
    assert_string_equal(text, "2 inches");
    (void) db_water_text((double) NAN, false, text, sizeof text);
    assert_string_equal(text, "unknown");
}

/* What is written can be read again, to within its rounding. */
static void amounts_can_be_read_again(void **state)
{
    static const enum db_kind kinds[] = { DB_KIND_LENGTH,      DB_KIND_AREA,   DB_KIND_VOLUME,  DB_KIND_WEIGHT,
                                          DB_KIND_TEMPERATURE, DB_KIND_WARMTH, DB_KIND_THERMAL, DB_KIND_SPEED };
    char buffer[40];

    (void) state;
    for (size_t k = 0; k < sizeof kinds / sizeof kinds[0]; k++)
        for (double value = 0.01; value < 1e5; value *= 1.7)
            for (int imperial = 0; imperial < 2; imperial++) {
                struct db_amount amount = { value, kinds[k] };
                size_t length = db_amount_text(amount, imperial, buffer, sizeof buffer), used, more;
                double number;

                assert_int_equal(db_number_read(buffer, length, &number, &used), DB_OK);
                const struct db_unit *unit = db_unit_find(buffer + used + 1, length - used - 1, &more);
                assert_non_null(unit);
                assert_int_equal(unit->kind, kinds[k]);
                assert_int_equal(used + 1 + more, length);
                if (value > 20 && !(fabs(number * unit->factor + unit->offset - value) <
                                    value * 0.12)) /* a quarter of an inch is 3 mm */
                    fail_msg("%g became %s", value, buffer);
            }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(numbers_agree_with_the_c_library),
        cmocka_unit_test(a_number_ends_where_it_ends),
        cmocka_unit_test(units_have_their_worth),
        cmocka_unit_test(every_spelling_finds_itself),
        cmocka_unit_test(amounts_read_as_a_gardener_writes),
        cmocka_unit_test(rain_is_told_in_millimetres),
        cmocka_unit_test(amounts_can_be_read_again),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
