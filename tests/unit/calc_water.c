/* Water. FAO-56 is FAO Irrigation and Drainage Paper 56 (1998). Its examples 15 and 20 were read through the tests of
 * programs that quote them; equations 73 and 74 through one that states them; table 19, the ten drying days of chapter 7,
 * the soils of example 36 and the note under table 22 are from memory, and their values were worked out again by a program
 * apart from this one ("recalc"). The record is NOAA's of Seattle: tests/data/README.md. */
#include "dewbell/almanac.h"
#include "dewbell/water.h"

#include "tables.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "kit/value.h"

#include "base/banned.h"

static double reference(double low, double high, double ra)
{
    double mm = (double) NAN;

    assert_int_equal(db_water_reference(low, high, ra, &mm), DB_OK);
    return mm;
}

static void the_reference_agrees(void **state)
{
    double ra, untouched = 7;

    (void) state;
    close_to("Lyon in July, FAO-56 example 20", reference(14.8, 26.6, 40.6), 5.0, 0.05);
    close_to("the same, recalc", reference(14.8, 26.6, 40.6), 5.039, 0.001);
    assert_int_equal(db_almanac_radiation(45.72, 196, &ra), DB_OK);
    close_to("the same with radiation worked out", reference(14.8, 26.6, ra), 5.033, 0.001);
    close_to("a day as warm as its night", reference(12, 12, 30), 0, 0);
    close_to("beyond the cold that the formula knows", reference(-30, -20, 5), 0, 0);
    assert_int_equal(db_water_reference(15, 14.9, 30, &untouched), DB_RANGE);
    assert_int_equal(db_water_reference((double) NAN, 20, 30, &untouched), DB_RANGE);
    assert_int_equal(db_water_reference(10, (double) INFINITY, 30, &untouched), DB_RANGE);
    assert_int_equal(db_water_reference(10, 20, -1, &untouched), DB_RANGE);
    close_to("what a refusal leaves alone", untouched, 7, 0);
}

/* Recalc: the same four years by a program apart from this one, to a tenth of a mm. */
static void four_years_of_reference_agree(void **state)
{
    static const double known[4] = { 799.1, 832.0, 866.2, 898.8 }, july[4] = { 130.6, 153.5, 158.3, 163.6 };
    const struct record *record = seattle();
    double year_sum[4] = { 0 }, july_sum[4] = { 0 };

    (void) state;
    for (int32_t i = 0; i < RECORD_DAYS; i++) {
        const struct db_date date = db_date_add(record->first, i);
        int year, month;
        double ra;

        db_date_parts(date, &year, &month, NULL);
        assert_int_equal(db_almanac_radiation(47.45, db_date_day_of_year(date), &ra), DB_OK);
        const double mm = reference(record->low[i], record->high[i], ra);
        year_sum[year - 2012] += mm;
        july_sum[year - 2012] += month == 7 ? mm : 0;
    }
    for (int y = 0; y < 4; y++) {
        close_to("a year", year_sum[y], known[y], 0.1);
        close_to("a July", july_sum[y], july[y], 0.1);
    }
}

static void ground_holds_what_table_19_says(void **state)
{
    /* FAO-56 table 19, from memory: ranges of field capacity, of wilting point, of the water between them, of REW, TEW. */
    static const struct {
        const char *word;
        double capacity[2], wilting[2], between[2], ready[2], total[2];
    } known[] = {
        { "loam", { .20, .30 }, { .07, .17 }, { .13, .18 }, { 8, 10 }, { 16, 22 } },
        { "sand", { .07, .17 }, { .02, .07 }, { .05, .11 }, { 2, 7 }, { 6, 12 } },
        { "loamy sand", { .11, .19 }, { .03, .10 }, { .06, .12 }, { 4, 8 }, { 9, 14 } },
        { "sandy loam", { .18, .28 }, { .06, .16 }, { .11, .15 }, { 6, 10 }, { 15, 20 } },
        { "silt loam", { .22, .36 }, { .09, .21 }, { .13, .19 }, { 8, 11 }, { 18, 25 } },
        { "silt", { .28, .36 }, { .12, .22 }, { .16, .20 }, { 8, 11 }, { 22, 26 } },
        { "silty clay loam", { .30, .37 }, { .17, .24 }, { .13, .18 }, { 8, 11 }, { 22, 27 } },
        { "silty clay", { .30, .42 }, { .17, .29 }, { .13, .19 }, { 8, 12 }, { 22, 28 } },
        { "clay", { .32, .40 }, { .20, .24 }, { .12, .20 }, { 8, 12 }, { 22, 29 } },
    };

    (void) state;
    for (size_t i = 0; i < sizeof known / sizeof known[0]; i++) {
        const struct db_holding h = db_texture_holding((enum db_texture) i);
        const double total = db_water_evaporable(h.capacity, h.wilting, 0.10);

        assert_string_equal(db_texture_word((enum db_texture) i), known[i].word);
        close_to(known[i].word, h.capacity, (known[i].capacity[0] + known[i].capacity[1]) / 2, 1e-9);
        close_to(known[i].word, h.capacity - h.wilting, (known[i].between[0] + known[i].between[1]) / 2, 1e-9);
        close_to(known[i].word, h.ready, (known[i].ready[0] + known[i].ready[1]) / 2, 1e-9);
        close_to(known[i].word, h.total, (known[i].total[0] + known[i].total[1]) / 2, 1e-9);
        if (h.wilting < known[i].wilting[0] || h.wilting > known[i].wilting[1])
            fail_msg("%s wilts at %.3f", known[i].word, h.wilting);
        if (total < known[i].total[0] || total > known[i].total[1])
            fail_msg("%s: eq 73 gives %.1f mm", known[i].word, total);
    }
    assert_string_equal(db_texture_word(DB_TEXTURE_MIX), "potting mix");
    assert_string_equal(db_texture_word((enum db_texture) DB_TEXTURE_COUNT), "?");
}

static void equations_agree(void **state)
{
    (void) state;
    close_to("eq 73", db_water_evaporable(.25, .12, .10), 19.0, 1e-9);
    close_to("eq 74 while it slows (recalc)", db_water_drying(14, 9, 20), 6.0 / 11, 1e-4);
    close_to("eq 74 while wet", db_water_drying(5, 9, 20), 1, 0);
    close_to("eq 74 dry", db_water_drying(20, 9, 20), 0, 0);
    close_to("eq 74 beyond dry", db_water_drying(25, 9, 20), 0, 0);
    /* FAO-56 example 36: onion, tomato and maize on loamy sand, silt and silty clay. */
    close_to("onion on silt, TAW", db_water_available(.32, .15, .4), 68, 1e-9);
    close_to("onion on silt, RAW", .30 * db_water_available(.32, .15, .4), 20.4, 1e-9);
    close_to("tomato on loamy sand, RAW", .40 * db_water_available(.15, .06, .8), 28.8, 1e-9);
    close_to("maize on silty clay, RAW", .55 * db_water_available(.35, .23, 1.2), 79.2, 1e-9);
    close_to("p of .40 at 3 mm", db_water_easy_part(.40, 3), .48, 1e-9);
    close_to("p of .30 at 8 mm", db_water_easy_part(.30, 8), .18, 1e-9);
    close_to("p of .20 at 12 mm is kept at its least", db_water_easy_part(.20, 12), .10, 1e-9);
    close_to("p of .75 at 1 mm is kept at its most", db_water_easy_part(.75, 1), .80, 1e-9);
    close_to("a rain of less than a fifth of the reference", db_water_effective(.9, 5), 0, 0);
    close_to("a rain of a fifth of it", db_water_effective(1, 5), 1, 0);
    /* by definition */
    close_to("10 litres on 3.6 m2 in mm", 10 / (1.2 * 3), 2.778, 0.001);
}

/* The drying of wet bare ground in FAO-56 chapter 7: TEW 20, REW 9, reference 4.5 mm, Kc,max 1.20, Kcb 0.15. */
static void ten_days_of_drying_agree(void **state)
{
    static const double lost[] = { 4.7, 9.5, 14.0, 16.6, 18.0, 18.9, 19.4, 19.6, 19.8, 19.9 },
                        gone[] = { 4.7, 4.7, 4.5, 2.6, 1.5, .8, .5, .3, .2, .1 };
    const struct db_holding ground = { .capacity = .25, .wilting = .10, .ready = 9, .total = 20 };
    double now = 0;

    (void) state;
    for (size_t day = 0; day < 10; day++) {
        close_to("evaporation", db_topsoil_day(&ground, 0, 4.5 * (1.20 - 0.15), &now), gone[day], 0.06);
        close_to("lost", now, lost[day], 0.06);
    }
}

/* Recalc: a seedbed of loam from the first of July on, watered to full on each day by which it has lost REW. */
static void july_waterings_agree(void **state)
{
    static const struct {
        int year, times;
        double mm;
    } known[] = { { 2012, 12, 141.5 }, { 2015, 15, 186.1 } };
    const struct record *record = seattle();
    const struct db_holding loam = { .capacity = .25, .wilting = .12, .ready = 9, .total = 19 };

    (void) state;
    for (size_t k = 0; k < sizeof known / sizeof known[0]; k++) {
        struct db_date first;
        double lost = 0, given = 0;
        int times = 0;

        assert_int_equal(db_date_of(known[k].year, 7, 1, &first), DB_OK);
        for (int32_t i = first.day - record->first.day; i < first.day - record->first.day + 31; i++) {
            double ra;

            assert_int_equal(db_almanac_radiation(47.45, db_date_day_of_year(db_date_add(record->first, i)), &ra),
                             DB_OK);
            const double mm = reference(record->low[i], record->high[i], ra);
            (void) db_topsoil_day(&loam, db_water_effective(record->rain[i], mm), 1.15 * mm, &lost);
            if (lost >= loam.ready) {
                given += lost;
                lost = 0;
                times++;
            }
        }
        assert_int_equal(times, known[k].times);
        close_to("given in July", given, known[k].mm, 0.1);
    }
}

static void a_root_zone_keeps_its_books(void **state)
{
    double lost = 0;

    (void) state;
    db_root_zone_day(60, 24, 0, 1, 5, &lost); /* nothing is lacking: what evaporates and what plants want */
    close_to("one day", lost, 6, 1e-9);
    db_root_zone_day(60, 24, 2, 1, 5, &lost); /* rain goes first */
    close_to("a day with rain", lost, 10, 1e-9);
    db_root_zone_day(60, 24, 30, 0, 4, &lost); /* what the ground cannot hold runs off below */
    close_to("a wet day", lost, 4, 1e-9);
    lost = 42; /* half way between RAW and TAW: plants take half (eq 84) */
    db_root_zone_day(60, 24, 0, 0, 6, &lost);
    close_to("short of water", lost, 45, 1e-9);
    lost = 60;
    db_root_zone_day(60, 24, 0, 3, 6, &lost);
    close_to("never more than there is", lost, 60, 0);
}

static void covers_and_air_are_bounded(void **state)
{
    (void) state;
    for (int c = 0; c < DB_COVER_COUNT; c++) {
        const struct db_cover_water effect = db_cover_water((enum db_cover) c);

        assert_true(effect.rain >= 0 && effect.rain <= 1 && effect.use >= 0 && effect.use <= 1);
    }
    close_to("no rain under glass", db_cover_water(DB_COVER_FRAME).rain, 0, 0);
    close_to("open ground", db_cover_water(DB_COVER_OPEN).rain * db_cover_water(DB_COVER_OPEN).use, 1, 0);
    close_to("inland", db_air_factor(DB_AIR_INLAND), 1, 0);
    close_to("maritime", db_air_factor(DB_AIR_MARITIME), 0.8, 0);
    assert_string_equal(db_air_word(DB_AIR_INLAND), "inland");
    assert_string_equal(db_air_word(DB_AIR_MARITIME), "maritime");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_reference_agrees),
        cmocka_unit_test(four_years_of_reference_agree),
        cmocka_unit_test(ground_holds_what_table_19_says),
        cmocka_unit_test(equations_agree),
        cmocka_unit_test(ten_days_of_drying_agree),
        cmocka_unit_test(july_waterings_agree),
        cmocka_unit_test(a_root_zone_keeps_its_books),
        cmocka_unit_test(covers_and_air_are_bounded),
    };

    return cmocka_run_group_tests_name("calc_water", tests, NULL, NULL);
}
