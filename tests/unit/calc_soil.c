/* Seed-zone temperature. "Recalc" = worked out from the same formula by a program apart from this one; the form of the
 * annual wave was read in the soil physics toolkit of Oklahoma State University, after Hillel 1982. */
#include "dewbell/soil.h"

#include "tables.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "kit/value.h"

#include "base/banned.h"

static void lags_agree(void **state)
{
    (void) state;
    close_to("lag at 2 cm", db_soil_lag(2), 0.48, 1e-12);
    close_to("smoothing at 2 cm (recalc)", db_soil_alpha(2), 0.87549, 1e-5);
    close_to("lag at 10 cm", db_soil_lag(10), 1.20, 1e-12);
    close_to("smoothing at 10 cm (recalc)", db_soil_alpha(10), 0.56540, 1e-5);
}

static void ten_days_agree(void **state)
{
    static const double low[] = { 4, 5, 6, 7, 3, 4, 7, 8, 6, 5 }, high[] = { 12, 14, 15, 13, 11, 16, 18, 17, 15, 14 };
    static const struct {
        double z, mean[10];
    } known[] = { /* recalc, latitude 52, days 100..109 of the year */
                  { 2, { 8.953, 10.238, 11.286, 10.759, 8.238, 10.837, 13.299, 13.480, 11.764, 10.686 } },
                  { 5, { 9.096, 10.072, 11.076, 10.787, 8.646, 10.532, 12.827, 13.327, 11.996, 10.919 } },
                  { 10, { 9.271, 9.921, 10.777, 10.724, 9.116, 10.298, 12.193, 12.935, 12.135, 11.229 } }
    };
    double mean[10], swing[10];
    struct db_date first;

    (void) state;
    assert_int_equal(db_date_of(2026, 4, 10, &first), DB_OK);
    assert_int_equal(db_date_day_of_year(first), 100);
    for (size_t i = 0; i < sizeof known / sizeof known[0]; i++) {
        assert_int_equal(db_soil_days(52, first, 10, low, high, known[i].z, DB_COVER_OPEN, 0, mean, swing, NULL),
                         DB_OK);
        for (size_t d = 0; d < 10; d++) {
            close_to("soil", mean[d], known[i].mean[d], 0.001);
            close_to("swing", swing[d], 1.05 * exp(-known[i].z / 12) * (high[d] - low[d]) / 2, 1e-9);
        }
    }
}

static double seed_zone[RECORD_DAYS];

static double soil_on(int year, int month, int day)
{
    struct db_date date;

    assert_int_equal(db_date_of(year, month, day, &date), DB_OK);
    return seed_zone[date.day - RECORD_FIRST];
}

static void four_years_of_seattle_agree(void **state)
{
    const struct record *data = seattle();
    double most = -99;

    (void) state;
    assert_int_equal(db_soil_days(47.45, data->first, RECORD_DAYS, data->low, data->high, 1, DB_COVER_OPEN, 0,
                                  seed_zone, NULL, NULL),
                     DB_OK);
    close_to("2014-01-01 (recalc)", soil_on(2014, 1, 1), 5.148, 0.001);
    close_to("2014-04-01 (recalc)", soil_on(2014, 4, 1), 11.213, 0.001);
    close_to("2014-07-15 (recalc)", soil_on(2014, 7, 15), 24.577, 0.001);
    for (size_t i = 0; i < RECORD_DAYS; i++)
        most = fmax(most, seed_zone[i]);
    close_to("warmest (recalc)", most, 28.27, 0.01);
}

/* A series cut in two at New Year of a leap year and of a common one gives the same days of the year. */
static void the_day_of_the_year_is_counted_across_new_year(void **state)
{
    const struct record *data = seattle();
    static double part[RECORD_DAYS];

    (void) state;
    assert_int_equal(db_soil_days(47.45, data->first, RECORD_DAYS, data->low, data->high, 1, DB_COVER_OPEN, 0,
                                  seed_zone, NULL, NULL),
                     DB_OK);
    for (size_t from = 300; from < 1200; from += 150) {
        assert_int_equal(db_soil_days(47.45, db_date_add(data->first, (int32_t) from), RECORD_DAYS - from,
                                      data->low + from, data->high + from, 1, DB_COVER_OPEN, 0, part, NULL, NULL),
                         DB_OK);
        for (size_t i = 60; from + i < RECORD_DAYS; i++) /* by then the start is forgotten */
            close_to("the same day", part[i], seed_zone[from + i], 1e-9);
    }
}

static void indoors_is_the_gardeners_own_figure(void **state)
{
    double got[3] = { 0 }, swing[3] = { 1, 1, 1 };

    (void) state;
    assert_int_equal(db_soil_days(0, DB_NO_DATE, 3, NULL, NULL, 1, DB_COVER_INDOORS, 18, got, swing, NULL), DB_OK);
    for (size_t i = 0; i < 3; i++)
        assert_true(got[i] == 18 && swing[i] == 0);
    assert_int_equal(db_soil_days(0, DB_NO_DATE, 3, NULL, NULL, 1, DB_COVER_INDOORS, NAN, got, swing, NULL), DB_RANGE);
}

static void bad_days_are_refused_and_named(void **state)
{
    static const double bad[][2] = { { 12, 11.9 }, { NAN, 10 }, { 3, NAN }, { 3, INFINITY } };
    double low[9], high[9], got[9];
    size_t at = 99;

    (void) state;
    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++) {
        for (size_t d = 0; d < 9; d++) {
            low[d] = 5;
            high[d] = 12;
            got[d] = -7;
        }
        low[6] = bad[i][0];
        high[6] = bad[i][1];
        assert_int_equal(db_soil_days(52, (struct db_date){ 0 }, 9, low, high, 1, DB_COVER_OPEN, 0, got, NULL, &at),
                         DB_RANGE);
        assert_int_equal(at, 6);
        assert_true(got[0] == -7);
        assert_int_equal(db_soil_days(52, (struct db_date){ 0 }, 6, low, high, 1, DB_COVER_OPEN, 0, got, NULL, NULL),
                         DB_OK);
    }
    assert_int_equal(db_soil_days(52, (struct db_date){ 0 }, 6, low, high, 15.1, DB_COVER_OPEN, 0, got, NULL, NULL),
                     DB_RANGE);
    assert_int_equal(db_soil_days(91, (struct db_date){ 0 }, 6, low, high, 1, DB_COVER_OPEN, 0, got, NULL, NULL),
                     DB_RANGE);
    assert_int_equal(db_soil_days(52, (struct db_date){ 0 }, 0, NULL, NULL, 1, DB_COVER_OPEN, 0, got, NULL, NULL),
                     DB_OK);
}

static void covers_keep_their_order(void **state)
{
    static const char *const words[] = { "open", "board", "fleece", "frame", "tunnel", "indoors" };

    (void) state;
    for (int cover = DB_COVER_OPEN; cover < DB_COVER_COUNT; cover++)
        assert_string_equal(db_cover_word((enum db_cover) cover), words[cover]);
    struct db_cover_effect open = db_cover_effect(DB_COVER_OPEN), board = db_cover_effect(DB_COVER_BOARD),
                           fleece = db_cover_effect(DB_COVER_FLEECE), tunnel = db_cover_effect(DB_COVER_TUNNEL);
    assert_true(open.mean == 0 && open.swing == 1 && open.night == 0);
    assert_true(board.mean < 0 && board.swing < 0.5); /* shade cools and steadies */
    /* Oregon State University, row covers 1983-84: nights 0.2 to 1.8 K warmer under fleece, never promised more */
    assert_in_range(fleece.night * 10, 2, 18);
    /* Savage 1980, plastic tunnel: day maximum +4.2 K, night minimum +1.3 K, so the mean between them */
    close_to("tunnel, night", tunnel.night, 1.3, 1e-9);
    close_to("tunnel, mean", tunnel.mean, (4.2 + 1.3) / 2, 1e-9);
}

static void waves_agree(void **state)
{
    const double day = db_soil_damping(0.5e-6, 86400), year = db_soil_damping(0.5e-6, 86400 * 365.0);

    (void) state;
    close_to("damping depth of a day (recalc)", day, 0.1173, 0.0005);
    close_to("damping depth of a year (recalc)", year, 2.240, 0.0005);
    close_to("swing left at 5 cm (recalc)", exp(-0.05 / day), 0.653, 0.001);
    close_to("lag at 5 cm, hours (recalc)", 0.05 / day * 24 / (2 * acos(-1.0)), 1.63, 0.01);
    close_to("swing left at 5 cm, kappa 0.3 (recalc)", exp(-0.05 / db_soil_damping(0.3e-6, 86400)), 0.577, 0.001);
    close_to("lag, kappa 0.3 (recalc)", 0.05 / db_soil_damping(0.3e-6, 86400) * 24 / (2 * acos(-1.0)), 2.10, 0.01);
    close_to("annual wave, day 120 (recalc)", db_soil_wave(10, 7, 0.05, year, 120, 20), 10.876, 0.001);
    close_to("coldest day at the surface", db_soil_wave(10, 7, 0, year, 20, 20), 3, 1e-12);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(lags_agree),
        cmocka_unit_test(ten_days_agree),
        cmocka_unit_test(four_years_of_seattle_agree),
        cmocka_unit_test(the_day_of_the_year_is_counted_across_new_year),
        cmocka_unit_test(indoors_is_the_gardeners_own_figure),
        cmocka_unit_test(bad_days_are_refused_and_named),
        cmocka_unit_test(covers_keep_their_order),
        cmocka_unit_test(waves_agree),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
