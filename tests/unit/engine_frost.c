/* The garden's frosts as rules and lives see them. Days by their odds: made-up springs whose tenths are worked out by hand
 * (type 7 of Hyndman & Fan 1996: h = (n - 1) p), and the four recorded years of Seattle, worked out by a program apart from
 * this one from the file named in tests/data/README.md ("recalc"). That tender plants wait for the last frost in nine years of
 * ten, or for a cover, is common practice (no source). */
#include "engine/jobs.h"

#include "tables.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "kit/plot.h"
#include "kit/rules.h"

#include "base/banned.h"

enum { SERIES = 900, YEARS = 11, PAST = YEARS * 366 };

static struct plot plot;
static double past_low[PAST];
static struct db_crop_facts tomato, bean;
static const struct db_bed *bench, *north, *frame;

/* Always mild: 14 to 22 degC, so that nothing but the odds holds a plant back. */
static void begin(double latitude, struct db_date today)
{
    tomato = kit_crop("tomato");
    crop_amount(&tomato, DB_FACT_FROST_LIMIT, 5, 5); /* as db_crops_add would */
    bean = kit_crop("carrot");
    plot = plot_new(latitude, 0);
    bench = plot_bed(&plot, "bench", DB_COVER_INDOORS);
    north = plot_bed(&plot, "north", DB_COVER_OPEN);
    frame = plot_bed(&plot, "frame", DB_COVER_FRAME);
    plot_weather(&plot, db_date_add(today, -400), SERIES);
    for (int i = 0; i < SERIES; i++)
        plot_day(&plot, db_date_add(today, i - 400), 14, 22, 0);
    plot.view.today = today;
}

static void given(struct db_season_day last, struct db_season_day first)
{
    struct db_site *site = (struct db_site *) (uintptr_t) db_garden_site(plot.garden);

    site->frosts[DB_FROST_LAST] = last;
    site->frosts[DB_FROST_FIRST] = first;
}

/* Eleven years to the end of 2014 with one frost in spring, on 1, 2, ... 11 May (in no order), and one in autumn, from 10 to
 * 20 October. */
static void eleven_years(void)
{
    const struct db_date first = on(2004, 1, 1);

    for (size_t i = 0; i < PAST; i++)
        past_low[i] = 5;
    for (int y = 0; y < YEARS; y++) {
        past_low[on(2004 + y, 5, 1 + y * 4 % 11).day - first.day] = -1;
        past_low[on(2004 + y, 10, 10 + y * 4 % 11).day - first.day] = 0;
    }
    db_weather_keep_lows(plot.weather, first, PAST, past_low);
}

static size_t sow_tomatoes(const struct db_bed *into, struct db_date day)
{
    return plot_sow(&plot, (struct db_sowing){ .id = into->id,
                                               .crop = &tomato,
                                               .bed = bench,
                                               .into = into,
                                               .way = DB_WAY_POT,
                                               .planned = day,
                                               .sown = DB_NO_DATE });
}

/* A tender crop in the open, of which the plan wants more. */
static size_t sow_beans(void)
{
    bean.text[DB_FACT_HARDINESS] = "frost-tender";
    crop_amount(&bean, DB_FACT_FROST_LIMIT, 0, 0);
    return plot_sow(
        &plot,
        (struct db_sowing){
            .id = "beans", .crop = &bean, .bed = north, .planned = on(2015, 6, 1), .sown = DB_NO_DATE, .again = 14 });
}

static const struct db_jobs *evaluate(void)
{
    const struct db_jobs *jobs = NULL;

    plot_close_diary(&plot);
    assert_int_equal(db_garden_evaluate(&plot.view, plot.arena, &jobs), DB_OK);
    return jobs;
}

static struct db_date own(const struct db_jobs *jobs, size_t sowing, enum db_own which, int end)
{
    struct db_scope scope;

    db_scope_fill(jobs, sowing, plot.view.today, &scope);
    return isnan(scope.own[which][end]) ? DB_NO_DATE : (struct db_date){ (int32_t) lround(scope.own[which][end]) };
}

static const char plain_rules[] = "[x]\njob = X\nduring = later(planted, sown) .. later(planted, sown) + 9 days\n"
                                  "[spring]\njob = Wait, until {late(last_frost)}\nduring = last_frost .. last_frost\n"
                                  "[autumn]\njob = Pick, by {early(first_frost)}\nduring = first_frost .. first_frost\n"
                                  "[more]\njob = Sow more\nduring = last_sowing .. last_sowing\n";

/* h = 10 p: the tenth is the second day, the half the sixth, nine tenths the tenth. Counted from 1 January a day of May in the
 * leap years 2004, 2008 and 2012 is one further on, so the days of the springs, by hand, are 122 122 123 124 125 127 127 128 129
 * 130 132, and those of the autumns 284 284 285 286 287 289 289 290 291 292 294. */
static void odds_of_eleven_years_are_named(void **state)
{
    (void) state;
    begin(52, on(2015, 3, 1));
    plot_rules(&plot, plain_rules);
    eleven_years();
    const size_t here = sow_tomatoes(north, on(2015, 2, 1));
    const struct db_jobs *jobs = evaluate();

    assert_int_equal(own(jobs, here, DB_OWN_LAST_FROST, 0).day, on(2015, 5, 2).day);
    assert_int_equal(own(jobs, here, DB_OWN_LAST_FROST, 1).day, on(2015, 5, 7).day);
    assert_int_equal(own(jobs, here, DB_OWN_LAST_FROST, 2).day, on(2015, 5, 10).day);
    assert_int_equal(own(jobs, here, DB_OWN_FIRST_FROST, 0).day, on(2015, 10, 11).day);
    assert_int_equal(own(jobs, here, DB_OWN_FIRST_FROST, 1).day, on(2015, 10, 16).day);
    assert_int_equal(own(jobs, here, DB_OWN_FIRST_FROST, 2).day, on(2015, 10, 19).day);
    plot_free(&plot);
}

static void expect_why(const struct db_jobs *jobs, const char *rule, const char *words)
{
    for (size_t j = 0; j < db_jobs_count(jobs); j++) {
        const struct db_job *job = db_jobs_at(jobs, j);
        struct db_reason reasons[16];
        size_t count = 0;

        if (strcmp(db_rule_name(plot.view.rules, job->rule), rule) != 0)
            continue;
        assert_int_equal(db_job_why(jobs, job, plot.arena, reasons, 16, &count), DB_OK);
        for (size_t i = 0; i < count; i++)
            if (strstr(reasons[i].text, words))
                return;
        fail_msg("no reason of %s says \"%s\"; the first: %s", rule, words, count ? reasons[0].text : "none");
    }
    fail_msg("no job of %s", rule);
}

static void why_names_the_odds_and_their_source(void **state)
{
    (void) state;
    begin(52, on(2015, 3, 1));
    plot_rules(&plot, plain_rules);
    eleven_years();
    (void) sow_tomatoes(north, on(2015, 2, 1));
    (void) sow_beans();
    const struct db_jobs *jobs = evaluate();

    expect_why(jobs, "more",
               "before the first frost: none comes before 11 October in nine years of ten (11 years on record).");
    expect_why(jobs, "spring", "in half of the years, by 10 May in nine of ten (11 years on record).");
    expect_why(jobs, "autumn", "and not before 11 October in nine of ten (11 years on record).");
    expect_why(jobs, "x",
               "tender plants wait for the last frost, which is over by then in nine years of ten (11 years "
               "on record)");
    plot_free(&plot);

    begin(52, on(2015, 3, 1));
    plot_rules(&plot, plain_rules);
    given((struct db_season_day){ 5, 20 }, (struct db_season_day){ 10, 3 });
    (void) sow_tomatoes(north, on(2015, 2, 1));
    (void) sow_beans();
    jobs = evaluate();
    expect_why(jobs, "more", "before the first frost: it is due from 3 October on, as the plan says.");
    expect_why(jobs, "spring", "The last frost of spring is over by 20 May, as the plan says.");
    expect_why(jobs, "autumn", "The first frost of autumn is due from 3 October on, as the plan says.");
    expect_why(jobs, "x", "tender plants wait for the last frost, which is over by then, as the plan says");
    plot_free(&plot);
}

/* The four last frosts of Seattle: days 79, 63, 40 and 63 of 2012 to 2015; on 1 March 2015 the first three are known, of which
 * no tenths are said: 9 February, 4 March and, 79 being 20 March in any but a leap year, 20 March. */
static void few_years_give_the_earliest_and_the_latest(void **state)
{
    (void) state;
    begin(47.45, on(2015, 3, 1));
    plot_rules(&plot, plain_rules);
    db_weather_keep_lows(plot.weather, seattle()->first, RECORD_DAYS, seattle()->low);
    const size_t here = sow_tomatoes(north, on(2015, 2, 1));
    const struct db_jobs *jobs = evaluate();

    assert_int_equal(own(jobs, here, DB_OWN_LAST_FROST, 0).day, on(2015, 2, 9).day);
    assert_int_equal(own(jobs, here, DB_OWN_LAST_FROST, 1).day, on(2015, 3, 4).day);
    assert_int_equal(own(jobs, here, DB_OWN_LAST_FROST, 2).day, on(2015, 3, 20).day);
    expect_why(jobs, "spring", "by 20 March in all (3 years on record).");
    plot_free(&plot);
}

/* Sown on 1 February at 18 degC the plugs are filled in April, and the air is mild: planting waits for the last frost alone, and
 * hardening off for two weeks before it, but not for what goes into a frame. */
static void tender_plants_wait_for_the_last_frost(void **state)
{
    (void) state;
    begin(52, on(2015, 3, 1));
    plot_rules(&plot, plain_rules);
    given((struct db_season_day){ 5, 20 }, (struct db_season_day){ 0 });
    const size_t here = sow_tomatoes(north, on(2015, 2, 1)), there = sow_tomatoes(frame, on(2015, 2, 1));
    const struct db_jobs *jobs = evaluate();
    const struct db_life *open = db_jobs_life(jobs, here), *covered = db_jobs_life(jobs, there);

    assert_true(covered->stage[DB_STAGE_PLANTED].likely.day < on(2015, 5, 1).day);
    assert_int_equal(open->stage[DB_STAGE_PLANTED].likely.day, on(2015, 5, 20).day);
    assert_int_equal(open->stage[DB_STAGE_HARDENING].likely.day, on(2015, 5, 6).day);
    assert_true(open->stage[DB_STAGE_CROPPING].likely.day > covered->stage[DB_STAGE_CROPPING].likely.day);
    assert_false(db_date_known(covered->frost));
    plot_free(&plot);

    begin(52, on(2015, 7, 1)); /* sown in summer the frosts of that year are over */
    plot_rules(&plot, plain_rules);
    given((struct db_season_day){ 5, 20 }, (struct db_season_day){ 0 });
    const size_t late = sow_tomatoes(north, on(2015, 7, 1));

    jobs = evaluate();
    assert_in_range(db_jobs_life(jobs, late)->stage[DB_STAGE_PLANTED].likely.day, on(2015, 8, 10).day,
                    on(2015, 9, 20).day);
    plot_free(&plot);
}

/* South of the equator the last frost of spring is in October, the first of autumn in May of the next year. */
static void the_south_has_its_own_seasons(void **state)
{
    (void) state;
    begin(-41, on(2015, 8, 1));
    plot_rules(&plot, plain_rules);
    given((struct db_season_day){ 10, 25 }, (struct db_season_day){ 5, 4 });
    const size_t here = sow_tomatoes(north, on(2015, 8, 1));
    const struct db_jobs *jobs = evaluate();

    assert_int_equal(own(jobs, here, DB_OWN_LAST_FROST, 2).day, on(2015, 10, 25).day);
    assert_int_equal(own(jobs, here, DB_OWN_FIRST_FROST, 1).day, on(2016, 5, 4).day);
    assert_int_equal(db_jobs_life(jobs, here)->stage[DB_STAGE_PLANTED].likely.day, on(2015, 10, 25).day);
    plot_free(&plot);
}

/* What is sown in autumn and crops in the next year has that year's spring before it, and its own autumn. */
static void a_crop_of_two_years_has_the_winter_between(void **state)
{
    (void) state;
    begin(52, on(2015, 10, 1));
    plot_rules(&plot, plain_rules);
    given((struct db_season_day){ 4, 20 }, (struct db_season_day){ 10, 30 });
    crop_amount(&bean, DB_FACT_CROP_TIME, 220, 240);
    const size_t a = plot_sow(
        &plot,
        (struct db_sowing){ .id = "a", .crop = &bean, .bed = north, .planned = on(2015, 10, 20), .sown = DB_NO_DATE });
    const struct db_jobs *jobs = evaluate();

    assert_int_equal(own(jobs, a, DB_OWN_LAST_FROST, 1).day, on(2016, 4, 20).day);
    assert_int_equal(own(jobs, a, DB_OWN_FIRST_FROST, 1).day, on(2015, 10, 30).day);
    plot_free(&plot);
}

static void without_a_record_or_a_day_nothing_is_known(void **state)
{
    (void) state;
    begin(52, on(2015, 3, 1));
    plot_rules(&plot, plain_rules);
    const size_t here = sow_tomatoes(north, on(2015, 2, 1));
    const struct db_jobs *jobs = evaluate();

    assert_false(db_date_known(own(jobs, here, DB_OWN_LAST_FROST, 1)));
    assert_false(db_date_known(own(jobs, here, DB_OWN_FIRST_FROST, 1)));
    assert_false(db_date_known(db_jobs_life(jobs, here)->frost));
    plot_free(&plot);

    begin(52, on(2015, 3, 1)); /* a record without a frost, too */
    plot_rules(&plot, plain_rules);
    eleven_years();
    for (size_t i = 0; i < PAST; i++)
        past_low[i] = 5;
    const size_t mild = sow_tomatoes(north, on(2015, 2, 1));

    jobs = evaluate();
    assert_false(db_date_known(own(jobs, mild, DB_OWN_LAST_FROST, 1)));
    assert_true(db_jobs_life(jobs, mild)->stage[DB_STAGE_PLANTED].likely.day < on(2015, 5, 1).day);
    plot_free(&plot);
}

/* The screen at 1.5 degC: on a calm night (1 m/s) the ground is 2.58 K colder, in a breeze (5 m/s) 1.84 K (means of Dublin's
 * nights, own count), and a frame keeps the sky out and 2 K in. */
static void the_ground_is_colder_the_calmer_it_is(void **state)
{
    static const char rules[] =
        "[frost]\njob = Cover\nduring = sown .. sown + 20 days\nwhile = ground_tonight <= -1 °C\n"
        "[near]\njob = Look\nduring = sown .. sown + 20 days\nwhile = ground_tonight <= 0 °C\n";
    const struct db_date calm = on(2015, 3, 11), breeze = on(2015, 3, 13);
    size_t frost = 0, near = 0, under = 0;

    (void) state;
    begin(52, on(2015, 3, 5));
    plot_rules(&plot, rules);
    plot_day(&plot, calm, 1.5, 12, 0);
    plot_day(&plot, breeze, 1.5, 12, 0);
    db_weather_put(plot.weather, calm, DB_FIGURE_WIND, DB_ORIGIN_OBSERVED, 1);
    db_weather_put(plot.weather, breeze, DB_FIGURE_WIND, DB_ORIGIN_OBSERVED, 5);
    for (int i = 0; i < 2; i++)
        (void) plot_sow(&plot, (struct db_sowing){ .id = i ? "under" : "open",
                                                   .crop = &bean,
                                                   .bed = i ? frame : north,
                                                   .planned = on(2015, 3, 5),
                                                   .sown = DB_NO_DATE });
    const struct db_jobs *jobs = evaluate();

    for (size_t j = 0; j < db_jobs_count(jobs); j++) {
        const struct db_job *job = db_jobs_at(jobs, j);

        under += job->sowing == 1;
        if (strcmp(db_rule_name(plot.view.rules, job->rule), "frost") == 0) {
            frost++;
            assert_int_equal(job->first.day, calm.day - 1); /* the evening before */
        } else {
            near++;
        }
    }
    assert_int_equal(frost, 1);
    assert_int_equal(near, 2);
    assert_int_equal(under, 0);
    expect_why(jobs, "frost", "The low at the ground in the night after 10 March");
    plot_free(&plot);
}

/* Of a forecast the report's own figure is named, and how often grass freezes then: 50 nights of 100 at 2 degC (Dublin, own
 * count). */
static void why_names_the_report_beside_the_ground(void **state)
{
    static const char rules[] =
        "[frost]\njob = Cover\nduring = sown .. sown + 20 days\nwhile = ground_tonight <= 0.5 °C\n";
    const struct db_date today = on(2015, 3, 5);

    (void) state;
    begin(52, today);
    plot_rules(&plot, rules);
    plot_weather(&plot, db_date_add(today, -400), SERIES);
    for (int i = 0; i < SERIES; i++) {
        const struct db_date day = db_date_add(today, i - 400);
        const enum db_origin origin = i <= 400 ? DB_ORIGIN_OBSERVED : DB_ORIGIN_FORECAST;

        db_weather_put(plot.weather, day, DB_FIGURE_LOW, origin, i == 401 ? 2 : 9);
        db_weather_put(plot.weather, day, DB_FIGURE_HIGH, origin, 14);
    }
    (void) plot_sow(
        &plot, (struct db_sowing){ .id = "bean", .crop = &bean, .bed = north, .planned = today, .sown = DB_NO_DATE });
    expect_why(
        evaluate(), "frost",
        "Tonight's low at the ground is forecast at 0.2 °C (2 °C in the weather report; grass freezes in 50 of 100 "
        "such nights)");
    db_weather_set_shift(plot.weather, db_date_add(today, 1), DB_FIGURE_LOW, -1);
    expect_why(
        evaluate(), "frost",
        "Tonight's low at the ground is forecast at 0.2 °C (3 °C in the weather report, 1 degree less here; grass "
        "freezes in 50 of 100 such nights)");
    plot_free(&plot);
}

/* Tomatoes sown on 1 April at 18 degC are planted in May or June and crop in summer, for eight to twelve weeks: a frost of
 * autumn ends that, one of spring and one of -0.5 degC do not, and in a frame it is 2 K milder. */
static void the_first_frost_ends_a_tender_crop(void **state)
{
    size_t here, there, late;
    const struct db_jobs *jobs;

    (void) state;
    begin(52, on(2015, 6, 20));
    plot_rules(&plot, plain_rules);
    here = sow_tomatoes(north, on(2015, 4, 1));
    jobs = evaluate();

    const struct db_life unhurt = *db_jobs_life(jobs, here);
    const struct db_date slight = db_date_add(unhurt.stage[DB_STAGE_CROPPING].likely, 8), hard = db_date_add(slight, 6);

    assert_true(unhurt.stage[DB_STAGE_CLEARED].likely.day > hard.day);
    assert_true(hard.day > on(2015, 7, 24).day); /* where autumn begins */
    plot_free(&plot);

    begin(52, on(2015, 6, 20));
    plot_rules(&plot, plain_rules);
    plot_day(&plot, on(2015, 6, 10), -1, 12, 0);
    plot_day(&plot, slight, -0.5, 12, 0);
    plot_day(&plot, hard, -1, 12, 0);
    here = sow_tomatoes(north, on(2015, 4, 1));
    there = sow_tomatoes(frame, on(2015, 4, 1));
    late = plot_sow(&plot, (struct db_sowing){ .id = "late",
                                               .crop = &tomato,
                                               .bed = bench,
                                               .into = north,
                                               .way = DB_WAY_POT,
                                               .planned = on(2015, 5, 10),
                                               .sown = DB_NO_DATE });
    jobs = evaluate();
    assert_int_equal(db_jobs_life(jobs, here)->stage[DB_STAGE_CLEARED].likely.day, hard.day);
    assert_true(db_jobs_life(jobs, there)->stage[DB_STAGE_CLEARED].likely.day > hard.day);
    assert_int_equal(db_jobs_life(jobs, late)->stage[DB_STAGE_CROPPING].how, DB_UNKNOWN);
    plot_free(&plot);
}

/* The climate's averages know no cold night: beyond the known weather the first frost of half of the years ends the harvest,
 * but not in a frame. */
static void the_odds_end_what_the_averages_do_not(void **state)
{
    (void) state;
    begin(52, on(2015, 6, 20));
    plot_rules(&plot, plain_rules);
    given((struct db_season_day){ 0 }, (struct db_season_day){ 9, 5 });
    plot_weather(&plot, on(2014, 5, 1), SERIES);
    for (int i = 0; i < SERIES; i++) {
        const struct db_date day = db_date_add(on(2014, 5, 1), i);
        const enum db_origin origin = day.day <= on(2015, 6, 25).day ? DB_ORIGIN_OBSERVED : DB_ORIGIN_CLIMATE;

        db_weather_put(plot.weather, day, DB_FIGURE_LOW, origin, 14);
        db_weather_put(plot.weather, day, DB_FIGURE_HIGH, origin, 22);
    }
    const size_t here = sow_tomatoes(north, on(2015, 3, 1)), there = sow_tomatoes(frame, on(2015, 5, 1));
    const struct db_jobs *jobs = evaluate();

    assert_true(db_jobs_life(jobs, here)->stage[DB_STAGE_CROPPING].likely.day < on(2015, 9, 5).day);
    assert_int_equal(db_jobs_life(jobs, here)->stage[DB_STAGE_CLEARED].likely.day, on(2015, 9, 5).day);
    assert_true(db_jobs_life(jobs, there)->stage[DB_STAGE_CLEARED].likely.day > on(2015, 9, 5).day);
    plot_free(&plot);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(odds_of_eleven_years_are_named),
        cmocka_unit_test(why_names_the_odds_and_their_source),
        cmocka_unit_test(few_years_give_the_earliest_and_the_latest),
        cmocka_unit_test(tender_plants_wait_for_the_last_frost),
        cmocka_unit_test(the_south_has_its_own_seasons),
        cmocka_unit_test(a_crop_of_two_years_has_the_winter_between),
        cmocka_unit_test(without_a_record_or_a_day_nothing_is_known),
        cmocka_unit_test(the_ground_is_colder_the_calmer_it_is),
        cmocka_unit_test(why_names_the_report_beside_the_ground),
        cmocka_unit_test(the_first_frost_ends_a_tender_crop),
        cmocka_unit_test(the_odds_end_what_the_averages_do_not),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
