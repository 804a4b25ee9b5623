/* What comes after a sowing. Growth in steady warmth is worked out by hand: a cool crop at a mean of 15 degC gathers 10 K d a
 * day, so its days to crop are those of its table as long as the day has twelve hours. */
#include "engine/jobs.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "kit/plot.h"
#include "kit/rules.h"

#include "base/banned.h"

enum { DAYS = 1000 };

static struct plot plot;
static struct db_crop_facts radish, lettuce;
static const struct db_bed *north;

/* At the latitude of 20 degrees no day is shorter than 10.8 hours: only the mean counts, and a little the day's length. */
static void begin(double latitude)
{
    const struct db_date first = on(2014, 6, 1);

    radish = kit_crop("carrot");
    radish.id = "radish";
    crop_amount(&radish, DB_FACT_CROP_TIME, 20, 40);
    crop_amount(&radish, DB_FACT_HARVEST_TIME, 10, 10);
    lettuce = radish;
    lettuce.id = "lettuce";
    plot = plot_new(latitude, 0);
    north = plot_bed(&plot, "north", DB_COVER_OPEN);
    plot_weather(&plot, first, DAYS);
    for (int i = 0; i < DAYS; i++)
        plot_day(&plot, db_date_add(first, i), 15, 15, 0);
    plot.view.today = on(2015, 7, 1);
    plot_rules(&plot, "[x]\njob = X\nduring = sown .. sown + 1 day\n");
}

static size_t sow(const char *id, const struct db_crop_facts *crop, struct db_date day, double again,
                  const char *serves)
{
    return plot_sow(&plot, (struct db_sowing){ .id = id,
                                               .crop = crop,
                                               .bed = north,
                                               .planned = day,
                                               .sown = DB_NO_DATE,
                                               .again = again,
                                               .serves = serves });
}

static const struct db_jobs *evaluate(void)
{
    const struct db_jobs *jobs = NULL;

    plot_close_diary(&plot);
    assert_int_equal(db_garden_evaluate(&plot.view, plot.arena, &jobs), DB_OK);
    return jobs;
}

static void nothing_is_looked_at_that_nobody_asks_for(void **state)
{
    (void) state;
    begin(20);
    sow("a", &radish, on(2015, 7, 1), 0, NULL);
    sow("b", &radish, on(2015, 9, 1), 0, NULL);
    assert_null(evaluate()->following);
    plot_free(&plot);
}

static void the_next_is_wanted_when_the_plan_says(void **state)
{
    (void) state;
    begin(20);
    const size_t a = sow("a", &radish, on(2015, 7, 1), 14, NULL);
    const size_t b = plot_sow(&plot, (struct db_sowing){ .id = "b",
                                                         .crop = &lettuce,
                                                         .bed = north,
                                                         .planned = on(2015, 7, 2),
                                                         .sown = DB_NO_DATE,
                                                         .again_after = "up" });
    const size_t c = sow("c", &radish, on(2015, 7, 3), 14, NULL), d = sow("d", &lettuce, on(2015, 7, 2), 0, NULL);
    const struct db_jobs *jobs = evaluate();
    const struct db_following *f = jobs->following;

    assert_int_equal(f[a].again.day, on(2015, 7, 15).day);
    assert_int_equal(f[b].again.day, db_jobs_life(jobs, b)->stage[DB_STAGE_UP].likely.day);
    assert_true(f[a].followed);
    assert_false(f[c].followed);
    assert_false(f[b].followed); /* one of the same day is no later one */
    assert_false(f[d].looked_at);
    plot_free(&plot);
}

/* Radishes sown on 1 July crop from 31 July (30 days) for ten; the next, of 1 September, from 1 October: nothing from 11
 * August to 30 September, and a sowing by 12 July closes it. */
static void a_gap_is_named_with_the_day_to_sow(void **state)
{
    (void) state;
    begin(20);
    const size_t a = sow("a", &radish, on(2015, 7, 1), 14, NULL), b = sow("b", &radish, on(2015, 9, 1), 0, NULL);
    const struct db_jobs *jobs = evaluate();
    const struct db_following *f = &jobs->following[a];
    struct db_life life;

    assert_int_equal(f->gap_from.day, db_jobs_life(jobs, a)->stage[DB_STAGE_CLEARED].likely.day + 1);
    assert_int_equal(f->gap_to.day, db_jobs_life(jobs, b)->stage[DB_STAGE_CROPPING].likely.day - 1);
    assert_in_range(f->gap_from.day, on(2015, 8, 9).day, on(2015, 8, 12).day);
    assert_in_range(f->sow_by.day, on(2015, 7, 10).day, on(2015, 7, 13).day);
    /* the day is the last one: the day after it crops too late */
    assert_int_equal(db_course_suppose((struct db_clocks *) (uintptr_t) &jobs->clocks, a, f->sow_by, &life), DB_OK);
    assert_true(life.stage[DB_STAGE_CROPPING].likely.day <= f->gap_from.day);
    assert_int_equal(
        db_course_suppose((struct db_clocks *) (uintptr_t) &jobs->clocks, a, db_date_add(f->sow_by, 1), &life), DB_OK);
    assert_true(life.stage[DB_STAGE_CROPPING].likely.day > f->gap_from.day);
    assert_false(db_date_known(jobs->following[b].gap_from));
    plot_free(&plot);
}

/* Radishes of 1 June are over when those that could follow at once would have to be sown already. Part of the gap is filled by a
 * sowing that crops three days before it ends, and the last day for that stays the same from one day to the next. */
static void a_gap_that_began_has_a_last_day_for_part_of_it(void **state)
{
    const struct db_jobs *jobs;
    struct db_life life;
    int32_t by = 0;

    (void) state;
    for (int day = 0; day < 3; day++) {
        begin(20);
        plot.view.today = db_date_add(plot.view.today, day);

        const size_t a = sow("a", &radish, on(2015, 6, 1), 14, NULL);
        const struct db_following *f;

        sow("b", &radish, on(2015, 9, 1), 0, NULL);
        jobs = evaluate();
        f = &jobs->following[a];
        by = day ? by : f->sow_by.day;
        assert_int_equal(f->sow_by.day, by);
        assert_in_range(by, on(2015, 8, 25).day, on(2015, 8, 31).day);
        assert_int_equal(db_course_suppose((struct db_clocks *) (uintptr_t) &jobs->clocks, a, f->sow_by, &life), DB_OK);
        assert_int_equal(life.stage[DB_STAGE_CROPPING].likely.day, f->gap_to.day - 3);
        plot_free(&plot);
    }
}

static void what_serves_together_closes_the_gap(void **state)
{
    (void) state;
    begin(20);
    const size_t a = sow("a", &radish, on(2015, 7, 1), 0, "salad"), b = sow("b", &radish, on(2015, 9, 1), 0, "salad"),
                 c = sow("c", &lettuce, on(2015, 7, 12), 0, "salad"),
                 d = sow("d", &lettuce, on(2015, 7, 22), 0, "salad");
    const struct db_following *f = evaluate()->following;

    assert_false(db_date_known(f[a].gap_from)); /* lettuce goes on */
    assert_false(db_date_known(f[c].gap_from));
    assert_true(db_date_known(f[d].gap_from)); /* the last before September's */
    assert_false(db_date_known(f[b].gap_from));
    plot_free(&plot);
}

static void the_order_of_the_plan_does_not_matter(void **state)
{
    (void) state;
    begin(20);
    const size_t b = sow("b", &radish, on(2015, 9, 1), 0, NULL), y = sow("y", &radish, on(2015, 7, 1), 14, NULL),
                 x = sow("x", &radish, on(2015, 7, 1), 14, NULL);
    const struct db_following *f = evaluate()->following;

    assert_true(db_date_known(f[x].gap_from)); /* of two alike the first by name */
    assert_false(db_date_known(f[y].gap_from));
    assert_false(db_date_known(f[b].gap_from));
    plot_free(&plot);
}

/* Days of ten hours end at 52 degrees on 26 October 2015 (sunrise to sunset; worked out with two astronomy libraries, a day
 * either way): ten days of harvest before it leave the 15th to crop by. Slow, likely and quick ends are in order. */
static void the_last_sowing_leaves_time_to_harvest(void **state)
{
    (void) state;
    begin(52);
    const size_t a = sow("a", &radish, on(2015, 7, 1), 14, NULL);
    const struct db_jobs *jobs = evaluate();
    const struct db_date *last = jobs->following[a].last;
    struct db_life life;

    assert_true(last[0].day < last[1].day && last[1].day < last[2].day);
    assert_int_equal(db_course_suppose((struct db_clocks *) (uintptr_t) &jobs->clocks, a, last[1], &life), DB_OK);
    assert_in_range(life.stage[DB_STAGE_CROPPING].likely.day, on(2015, 10, 13).day, on(2015, 10, 17).day);
    /* slowed by days shorter than twelve hours: more than the 30 days of June before the 16th */
    assert_in_range(last[1].day, on(2015, 9, 5).day, on(2015, 9, 15).day);
    plot_free(&plot);
    begin(20); /* where days stay long there is no last day */
    const size_t b = sow("b", &radish, on(2015, 7, 1), 14, NULL);

    assert_false(db_date_known(evaluate()->following[b].last[1]));
    plot_free(&plot);
}

/* A tender crop of 20 to 40 days at 15 degC, with ten days of harvest before a first frost on 20 October, has to crop by the
 * tenth: 30 days before it, give or take what days shorter than twelve hours cost, is the likely day; ten days before and after
 * it are the ends. Under a roof, and where no frost is known, there is none. */
static void the_first_frost_ends_tender_crops(void **state)
{
    struct db_site *site;

    (void) state;
    begin(20);
    radish.text[DB_FACT_HARDINESS] = "frost-tender";
    site = (struct db_site *) (uintptr_t) db_garden_site(plot.garden);
    site->frosts[DB_FROST_FIRST] = (struct db_season_day){ 10, 20 };
    const struct db_bed *tunnel = plot_bed(&plot, "tunnel", DB_COVER_TUNNEL);
    const size_t a = sow("a", &radish, on(2015, 7, 1), 14, NULL);
    const size_t b = plot_sow(
        &plot,
        (struct db_sowing){
            .id = "b", .crop = &radish, .bed = tunnel, .planned = on(2015, 7, 1), .sown = DB_NO_DATE, .again = 14 });
    const struct db_following *f = evaluate()->following;

    assert_in_range(f[a].last[1].day, on(2015, 9, 6).day, on(2015, 9, 10).day);
    assert_in_range(f[a].last[0].day, f[a].last[1].day - 13, f[a].last[1].day - 9);
    assert_in_range(f[a].last[2].day, f[a].last[1].day + 9, f[a].last[1].day + 13);
    assert_false(db_date_known(f[b].last[1]));
    plot_free(&plot);

    begin(20);
    radish.text[DB_FACT_HARDINESS] = "frost-tender";
    const size_t c = sow("c", &radish, on(2015, 7, 1), 14, NULL);

    assert_false(db_date_known(evaluate()->following[c].last[1]));
    plot_free(&plot);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(nothing_is_looked_at_that_nobody_asks_for),
        cmocka_unit_test(the_next_is_wanted_when_the_plan_says),
        cmocka_unit_test(a_gap_is_named_with_the_day_to_sow),
        cmocka_unit_test(a_gap_that_began_has_a_last_day_for_part_of_it),
        cmocka_unit_test(what_serves_together_closes_the_gap),
        cmocka_unit_test(the_order_of_the_plan_does_not_matter),
        cmocka_unit_test(the_last_sowing_leaves_time_to_harvest),
        cmocka_unit_test(the_first_frost_ends_tender_crops),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
