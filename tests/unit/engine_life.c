/* A sowing's life against examples worked by hand. Where the weather is made constant, so is the seed zone, and a stage's
 * day is amount / rate, rounded up. At the equator no day is shorter than 12 hours: nothing is slowed. */
#include "engine/life.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "kit/plot.h"

#include "base/banned.h"

enum { DAYS = 900 };
static struct plot plot;
static struct db_crop_facts crops[6];
enum { CARROT, LETTUCE, KALE, TOMATO, ROCKET, GARLIC };
static struct db_date first;
static const struct db_bed *bench, *north; /* indoors at 18 degC; in the open */

static void begin(double latitude, double low, double high)
{
    static const char *const names[] = { "carrot", "lettuce", "kale", "tomato", "rocket", "garlic" };

    for (size_t i = 0; i < 6; i++)
        crops[i] = kit_crop(names[i]);
    crops[TOMATO].low[DB_FACT_FROST_LIMIT] = crops[TOMATO].high[DB_FACT_FROST_LIMIT] = 5; /* as db_crops_add would */
    plot = plot_new(latitude, 0);
    bench = plot_bed(&plot, "bench", DB_COVER_INDOORS);
    north = plot_bed(&plot, "north", DB_COVER_OPEN);
    first = on(2015, 1, 1);
    plot_weather(&plot, first, DAYS);
    for (int i = 0; i < DAYS; i++)
        plot_day(&plot, db_date_add(first, i), low, high, 0);
    plot.view.today = on(2015, 3, 1);
}

/* Raised on the bench, planted out into the north bed. */
static size_t sow_pot(const char *id, int crop, struct db_date planned, struct db_date sown)
{
    return plot_sow(&plot, (struct db_sowing){ .id = id,
                                               .crop = &crops[crop],
                                               .bed = bench,
                                               .into = north,
                                               .way = DB_WAY_POT,
                                               .planned = planned,
                                               .sown = sown });
}

static size_t sow_here(const char *id, int crop, struct db_date planned, struct db_date sown)
{
    return plot_sow(
        &plot, (struct db_sowing){ .id = id, .crop = &crops[crop], .bed = north, .planned = planned, .sown = sown });
}

static struct db_life live(size_t sowing)
{
    struct db_clocks clocks;
    struct db_course course = { 0 };

    plot_close_diary(&plot);
    assert_int_equal(db_clocks_begin(&clocks, &plot.view, plot.arena), DB_OK);
    assert_int_equal(db_course_work(&clocks, sowing, &course), DB_OK);
    return course.life;
}

static void stage_is(const struct db_life *life, enum db_stage stage, enum db_knowing how, struct db_date early,
                     struct db_date likely, struct db_date late)
{
    const struct db_turn *turn = &life->stage[stage];
    char a[11], b[11], c[11], d[11], e[11], f[11];

    if (turn->how != how || turn->early.day != early.day || turn->likely.day != likely.day ||
        turn->late.day != late.day)
        fail_msg("%s: expected %d %s %s %s, worked out %d %s %s %s", db_stage_word(stage), (int) how,
                 db_date_iso(early, a), db_date_iso(likely, b), db_date_iso(late, c), (int) turn->how,
                 db_date_iso(turn->early, d), db_date_iso(turn->likely, e), db_date_iso(turn->late, f));
}

static void exactly(const struct db_life *life, enum db_stage stage, enum db_knowing how, struct db_date date)
{
    stage_is(life, stage, how, date, date, date);
}

static void absent(const struct db_life *life, enum db_stage stage)
{
    exactly(life, stage, DB_UNKNOWN, DB_NO_DATE);
}

/* Air 15 all day gives a drive of 15 + 0.10 (0 - 5) = 14.5, so the seed zone is 14.5. The carrot's rate between 10 and
 * 15 degC: 1/17.3 + 0.9 (1/10.1 - 1/17.3) = 0.094889 a day; 0.8, 1 and 1.3 take 8.43, 10.54 and 13.70 days. Growth:
 * 15 K d a day above 0 degC; 1050, 1200 and 1350 K d from sowing are 70, 80 and 90 days; the harvest lasts 30. */
static void a_drill_comes_up_and_crops(void **state)
{
    (void) state;
    begin(0, 15, 15);
    const struct db_date sown = on(2015, 2, 20);
    const size_t carrot = sow_here("c", CARROT, DB_NO_DATE, sown);
    const struct db_life life = live(carrot);

    exactly(&life, DB_STAGE_SOWN, DB_NOTED, sown);
    stage_is(&life, DB_STAGE_UP, DB_ESTIMATED, db_date_add(sown, 9), db_date_add(sown, 11), db_date_add(sown, 14));
    absent(&life, DB_STAGE_PRICKED_OUT);
    absent(&life, DB_STAGE_ROOTED);
    absent(&life, DB_STAGE_HARDENING);
    absent(&life, DB_STAGE_PLANTED);
    stage_is(&life, DB_STAGE_CROPPING, DB_ESTIMATED, db_date_add(sown, 70), db_date_add(sown, 80),
             db_date_add(sown, 90));
    stage_is(&life, DB_STAGE_CLEARED, DB_ESTIMATED, db_date_add(sown, 100), db_date_add(sown, 110),
             db_date_add(sown, 120));
    plot_free(&plot);
}

/* On the bench at 18 degC: rate 1/8.7 + 0.6 (1/5.8 - 1/8.7) = 0.149425: 5.35, 6.69 and 8.70 days. Growth above 0 degC is
 * 18 K d a day there, 15 outside. Pricking out 140 K d after that: 7.78 days. The plug: 525, 577.5, 630 K d: 29.2, 32.1,
 * 35 days. Hardening 3 days before, planting 7 days after that. Cropping 1200, 1425, 1650 K d: the bench gives no more than the
 * plug's 525, 577.5, 630; the rest at 15 a day: 45, 56.5 and 68 days. */
static void a_pot_is_pricked_out_hardened_and_planted(void **state)
{
    (void) state;
    begin(0, 15, 15);
    const struct db_date sown = on(2015, 2, 20);
    const size_t kale = sow_pot("k", KALE, DB_NO_DATE, sown);
    const struct db_life life = live(kale);

    stage_is(&life, DB_STAGE_UP, DB_ESTIMATED, db_date_add(sown, 6), db_date_add(sown, 7), db_date_add(sown, 9));
    stage_is(&life, DB_STAGE_PRICKED_OUT, DB_ESTIMATED, db_date_add(sown, 14), db_date_add(sown, 15),
             db_date_add(sown, 17));
    stage_is(&life, DB_STAGE_ROOTED, DB_ESTIMATED, db_date_add(sown, 30), db_date_add(sown, 33), db_date_add(sown, 35));
    stage_is(&life, DB_STAGE_HARDENING, DB_ESTIMATED, db_date_add(sown, 27), db_date_add(sown, 30),
             db_date_add(sown, 32));
    stage_is(&life, DB_STAGE_PLANTED, DB_ESTIMATED, db_date_add(sown, 34), db_date_add(sown, 37),
             db_date_add(sown, 39));
    stage_is(&life, DB_STAGE_CROPPING, DB_ESTIMATED, db_date_add(sown, 34 + 45), db_date_add(sown, 37 + 57),
             db_date_add(sown, 39 + 68));
    plot_free(&plot);
}

/* The same, but the seedlings were seen five days late, on day 12: what follows moves with them. Pricking out 7.78 days
 * later is day 20; the plug is 5 days (90 K d) behind: 37.1 days. */
static void a_note_beats_the_model_and_moves_what_follows(void **state)
{
    (void) state;
    begin(0, 15, 15);
    const struct db_date sown = on(2015, 2, 10);
    const size_t kale = sow_pot("k", KALE, DB_NO_DATE, sown);
    plot_note(&plot, "k", "up", db_date_add(sown, 12));
    plot_note(&plot, "k", "rooted", on(2015, 5, 1)); /* a day to come: nothing was seen then */
    const struct db_life life = live(kale);

    exactly(&life, DB_STAGE_UP, DB_NOTED, db_date_add(sown, 12));
    exactly(&life, DB_STAGE_PRICKED_OUT, DB_ESTIMATED, db_date_add(sown, 20));
    assert_int_equal(life.stage[DB_STAGE_ROOTED].how, DB_ESTIMATED);
    assert_int_equal(life.stage[DB_STAGE_ROOTED].likely.day, sown.day + 38);
    assert_int_equal(life.stage[DB_STAGE_HARDENING].likely.day, sown.day + 35);
    assert_int_equal(life.stage[DB_STAGE_PLANTED].likely.day, sown.day + 42);
    plot_free(&plot);
}

/* Planting is noted on day 15, before the model has anything pricked out: what must have come before is put not later. */
static void a_later_note_draws_earlier_stages_before_it(void **state)
{
    (void) state;
    begin(0, 15, 15);
    const struct db_date sown = on(2015, 2, 10);
    const size_t kale = sow_pot("k", KALE, sown, DB_NO_DATE);
    plot_note(&plot, "k", "planted", db_date_add(sown, 15));
    const struct db_life life = live(kale);

    exactly(&life, DB_STAGE_SOWN, DB_PLANNED, sown); /* it must have been sown: it is not put off to today */
    exactly(&life, DB_STAGE_PLANTED, DB_NOTED, db_date_add(sown, 15));
    exactly(&life, DB_STAGE_ROOTED, DB_ESTIMATED, db_date_add(sown, 15));
    for (int s = DB_STAGE_SOWN; s < DB_STAGE_PLANTED; s++)
        assert_true(life.stage[s].late.day <= sown.day + 15);
    plot_free(&plot);
}

/* Nights of 8 until 20 May, of 12 from then on. The tomato wants hardening nights of 10 and, in its new place, five
 * nights above 5 + 2. */
static void planting_waits_for_mild_nights(void **state)
{
    (void) state;
    begin(0, 8, 20);
    const struct db_date mild = on(2015, 5, 20), sown = on(2015, 3, 1);

    for (struct db_date day = mild; day.day < first.day + DAYS; day.day++)
        plot_day(&plot, day, 12, 20, 0);
    const size_t tomato = sow_pot("t", TOMATO, DB_NO_DATE, sown);
    const struct db_life life = live(tomato);

    /* 539 K d at 12 a day: 44.9 days, 15 April; 14 mild nights begin with that of 19 to 20 May; planting the day after the
     * last of them. It is not out to harden for two months before it: three weeks, half as long again as the ladder. */
    assert_int_equal(life.stage[DB_STAGE_ROOTED].likely.day, sown.day + 45);
    assert_int_equal(life.stage[DB_STAGE_HARDENING].likely.day, on(2015, 5, 12).day);
    assert_int_equal(life.stage[DB_STAGE_PLANTED].likely.day, on(2015, 6, 2).day);
    plot_free(&plot);
}

/* Cold for good: no day can be named, and none is made up. */
static void no_mild_night_no_planting_day(void **state)
{
    (void) state;
    begin(0, 6, 16);
    const size_t tomato = sow_pot("t", TOMATO, DB_NO_DATE, on(2015, 2, 1));
    const struct db_life life = live(tomato);

    absent(&life, DB_STAGE_PLANTED);
    absent(&life, DB_STAGE_CROPPING);
    plot_free(&plot);
}

/* Sown in May, the tomato (660, 797.5, 935 K d above 6 degC from planting) is given 14 a day until 1 September, then 0.81:
 * planted at the end of June, the first are ripe in August; the last of the batch come by the time growth stands still.
 * Sown in June, none is. */
static void a_warm_crop_is_ripe_before_the_cold_or_never(void **state)
{
    static const int month[] = { 5, 6 };

    (void) state;
    begin(0, 15, 25);
    const struct db_date cold = on(2015, 9, 1);

    for (struct db_date day = cold; day.day < on(2016, 4, 1).day; day.day++)
        plot_day(&plot, day, 1, 9, 0);
    for (int i = 0; i < 2; i++) {
        const size_t tomato = sow_pot(i ? "late" : "early", TOMATO, on(2015, month[i], 1), DB_NO_DATE);
        const struct db_life life = live(tomato);
        const struct db_turn *cropping = &life.stage[DB_STAGE_CROPPING];

        if (i == 0) { /* rooted after 45 days, planted 7 later; 57.0 days, and the end of growth */
            assert_int_equal(life.stage[DB_STAGE_PLANTED].likely.day, on(2015, 5, 1).day + 52);
            assert_int_equal(cropping->likely.day, on(2015, 5, 1).day + 52 + 57);
            /* Of the 30 days after it two are warm: 28 + 28 * 0.81 = 50.8 K d; with a third it would be 64. */
            assert_int_equal(cropping->late.day, cold.day - 3);
        } else {
            assert_true(db_date_known(life.stage[DB_STAGE_PLANTED].likely));
            absent(&life, DB_STAGE_CROPPING);
        }
    }
    plot_free(&plot);
}

/* The carrot (1050, 1200, 1350 K d above 0 degC) is given 15 a day until 1 September, then nothing until April. It stands still from
 * 28 August on, as of the 30 days after that three are warm: 45 K d. Sown 75 days before, with 1125 K d by then, the first is ready
 * and the others are harvested small; sown 40 days before, with 600, none is near enough. What does not say that it is eaten before
 * spring grows on in April. */
static void what_is_nearly_ready_is_eaten_before_spring(void **state)
{
    const struct db_date cold = on(2015, 9, 1), warm = on(2016, 4, 1), still = on(2015, 8, 28);

    (void) state;
    for (int i = 0; i < 4; i++) {
        begin(0, 15, 15);
        for (struct db_date day = cold; day.day < warm.day; day.day++)
            plot_day(&plot, day, -2, -1, 0);
        if (i != 2)
            crop_amount(&crops[CARROT], i == 3 ? DB_FACT_STANDS_TO : DB_FACT_LIFT_LOW, i == 3 ? 252 : -5,
                        i == 3 ? 252 : -5);
        const struct db_date sown = db_date_add(still, i == 1 ? -40 : -75);
        const struct db_life life = live(sow_here("c", CARROT, DB_NO_DATE, sown));
        const struct db_turn *cropping = &life.stage[DB_STAGE_CROPPING];

        if (i == 1) {
            assert_true(cropping->early.day > warm.day);
        } else if (i == 2) {
            assert_int_equal(cropping->early.day, sown.day + 70);
            assert_true(cropping->likely.day >= warm.day);
        } else {
            stage_is(&life, DB_STAGE_CROPPING, DB_ESTIMATED, db_date_add(sown, 70), still, still);
        }
        plot_free(&plot);
    }
}

/* Kale that comes up as slowly as okra, in 20 days, in plugs that are reckoned full after 21 days of 15 K d: at 18 degC after 18. Half
 * of the ladder before that it is not up, and hardening off waits until it has been up for a week. */
static void seedlings_of_the_day_are_not_hardened_off(void **state)
{
    (void) state;
    begin(0, 15, 25);
    crop_amount(&crops[KALE], DB_FACT_PLUG_TIME, 21, 21);
    crop_amount(&crops[KALE], DB_FACT_HARDEN_TIME, 14, 14);
    for (size_t i = 0; i < crops[KALE].emergence.count; i++)
        crops[KALE].emergence.days[i] = 19.5;

    const struct db_date sown = on(2015, 5, 1);
    const struct db_life life = live(plot_sow(&plot, (struct db_sowing){ .id = "k",
                                                                         .crop = &crops[KALE],
                                                                         .bed = bench,
                                                                         .into = north,
                                                                         .way = DB_WAY_PLUGS,
                                                                         .planned = DB_NO_DATE,
                                                                         .sown = sown }));

    assert_int_equal(life.stage[DB_STAGE_UP].likely.day, sown.day + 20);
    assert_int_equal(life.stage[DB_STAGE_HARDENING].likely.day, sown.day + 27);
    plot_free(&plot);
}

/* The solstices of 2015 by two astronomy libraries: 21 June 16:37 UTC, 22 December 04:48 UTC. */
static void bolters_wait_for_the_solstice(void **state)
{
    static const struct {
        double latitude;
        int month, day;           /* planned */
        int held_month, held_day; /* sown then; 0: as planned */
        double lead;
        bool anyway;
    } cases[] = {
        { 51.5, 5, 10, 6, 21, 0, false },   { 51.5, 5, 10, 6, 14, 7, false }, { 51.5, 6, 18, 0, 0, 7, false },
        { 51.5, 5, 10, 0, 0, 0, true },     { 51.5, 7, 15, 0, 0, 0, false },  { 51.5, 3, 20, 6, 21, 0, false },
        { -37.8, 11, 5, 12, 22, 0, false }, { -37.8, 5, 10, 0, 0, 0, false }, { 10, 5, 10, 0, 0, 0, false },
    };

    (void) state;
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        begin(cases[i].latitude, 10, 20);
        crop_amount(&crops[ROCKET], DB_FACT_SOLSTICE_LEAD, cases[i].lead, cases[i].lead);
        const struct db_date plan = on(2015, cases[i].month, cases[i].day);
        const struct db_date held = cases[i].held_month ? on(2015, cases[i].held_month, cases[i].held_day) : plan;
        const size_t rocket = plot_sow(&plot, (struct db_sowing){ .id = "r",
                                                                  .crop = &crops[ROCKET],
                                                                  .bed = north,
                                                                  .planned = plan,
                                                                  .sown = DB_NO_DATE,
                                                                  .anyway = cases[i].anyway });
        const struct db_life life = live(rocket);

        exactly(&life, DB_STAGE_SOWN, DB_PLANNED, held);
        assert_int_equal(life.planned.day, held.day);
        assert_int_equal(life.held, held.day != plan.day);
        plot_free(&plot);
    }
}

/* A gardener who notes nothing sows all the same: what follows is counted from the planned day until a note says more. */
static void a_planned_sowing_counts_as_done_on_its_day(void **state)
{
    (void) state;
    begin(51.5, 10, 20);
    const struct db_date plan = on(2015, 2, 20);
    const size_t carrot = sow_here("c", CARROT, plan, DB_NO_DATE);
    const size_t sown = sow_here("d", CARROT, plan, plan);
    struct db_life life, other = live(sown);

    for (int day = 20; day < 50; day++) { /* whatever day it is looked at */
        plot.view.today = db_date_add(on(2015, 2, 1), day);
        life = live(carrot);
        exactly(&life, DB_STAGE_SOWN, DB_PLANNED, plan);
        assert_int_equal(life.stage[DB_STAGE_UP].likely.day, other.stage[DB_STAGE_UP].likely.day);
    }
    plot_note(&plot, "c", "sown", on(2015, 3, 2));
    life = live(carrot);
    exactly(&life, DB_STAGE_SOWN, DB_NOTED, on(2015, 3, 2));
    assert_true(life.stage[DB_STAGE_UP].likely.day > other.stage[DB_STAGE_UP].likely.day);
    plot_free(&plot);
}

/* Set on 20 October, 220 to 280 days of the calendar, its winter in them: lifted between 28 May and 27 July. */
static void garlic_counts_days_of_the_calendar(void **state)
{
    (void) state;
    begin(51.5, 5, 12);
    const size_t garlic = plot_sow(&plot, (struct db_sowing){ .id = "g",
                                                              .crop = &crops[GARLIC],
                                                              .bed = north,
                                                              .way = DB_WAY_SETS,
                                                              .planned = on(2015, 10, 20),
                                                              .sown = DB_NO_DATE });
    const struct db_life life = live(garlic);

    absent(&life, DB_STAGE_UP);
    stage_is(&life, DB_STAGE_CROPPING, DB_ESTIMATED, on(2016, 5, 27), on(2016, 6, 26), on(2016, 7, 26));
    plot_free(&plot);
}

static void short_days_slow_growth(void **state)
{
    static const double known[][3] = {
        { 16, 1, 1 }, { 12, 1, 1 }, { 10.5, 0.6, 0.75 }, { 9, 0.2, 0.5 }, { 0, 0.2, 0.5 }
    };

    (void) state;
    for (size_t i = 0; i < sizeof known / sizeof known[0]; i++) {
        assert_true(fabs(db_slow_factor(known[i][0], false) - known[i][1]) < 1e-12);
        assert_true(fabs(db_slow_factor(known[i][0], true) - known[i][2]) < 1e-12);
    }
}

/* Frame: the day's mean gains 4 K and the night 2 (docs/models.md), so a day of 0 .. 10 is one of 2 .. 16 inside; in
 * warmth it is opened: 15 .. 28 has no higher high than outside. */
static void plants_feel_their_cover(void **state)
{
    (void) state;
    begin(51.5, 0, 10);
    plot_day(&plot, db_date_add(first, 1), 15, 28, 0);
    const struct db_bed *frame = plot_bed(&plot, "frame", DB_COVER_FRAME);
    struct db_clocks clocks;

    assert_int_equal(db_clocks_begin(&clocks, &plot.view, plot.arena), DB_OK);
    const struct db_air *air = db_clocks_air(&clocks, frame);
    assert_non_null(air);
    assert_true(fabs(air->low[0] - 2) < 1e-12 && fabs(air->high[0] - 16) < 1e-12);
    assert_true(fabs(air->low[1] - 17) < 1e-12 && fabs(air->high[1] - 28) < 1e-12);
    plot_free(&plot);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_drill_comes_up_and_crops),
        cmocka_unit_test(a_pot_is_pricked_out_hardened_and_planted),
        cmocka_unit_test(a_note_beats_the_model_and_moves_what_follows),
        cmocka_unit_test(a_later_note_draws_earlier_stages_before_it),
        cmocka_unit_test(planting_waits_for_mild_nights),
        cmocka_unit_test(no_mild_night_no_planting_day),
        cmocka_unit_test(a_warm_crop_is_ripe_before_the_cold_or_never),
        cmocka_unit_test(what_is_nearly_ready_is_eaten_before_spring),
        cmocka_unit_test(seedlings_of_the_day_are_not_hardened_off),
        cmocka_unit_test(bolters_wait_for_the_solstice),
        cmocka_unit_test(a_planned_sowing_counts_as_done_on_its_day),
        cmocka_unit_test(garlic_counts_days_of_the_calendar),
        cmocka_unit_test(short_days_slow_growth),
        cmocka_unit_test(plants_feel_their_cover),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
