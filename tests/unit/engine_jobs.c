/* The three shapes of rules, by windows worked out on the fingers. Weather is made for the purpose. */
#include "dewbell/job.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "kit/plot.h"
#include "kit/rules.h"

#include "base/banned.h"

enum { BEFORE = 450, AHEAD = 430, FORECAST = 5 };
static struct plot plot;
static struct db_crop_facts carrot, kale;
static const struct db_bed *north;
static struct db_date today;

/* Days of 8 .. 18 degC without rain, known to five days ahead. */
static void begin(const char *rules)
{
    carrot = kit_crop("carrot");
    kale = kit_crop("kale");
    today = on(2015, 6, 10);
    plot = plot_new(51.5, 0);
    north = plot_bed(&plot, "north", DB_COVER_OPEN);
    plot_rules(&plot, rules);
    plot_weather(&plot, db_date_add(today, -BEFORE), BEFORE + AHEAD);
    for (int i = -BEFORE; i <= FORECAST; i++)
        plot_day(&plot, db_date_add(today, i), 8, 18, 0);
    for (int i = FORECAST + 1; i < AHEAD; i++) {
        db_weather_put(plot.weather, db_date_add(today, i), DB_FIGURE_LOW, DB_ORIGIN_CLIMATE, 8);
        db_weather_put(plot.weather, db_date_add(today, i), DB_FIGURE_HIGH, DB_ORIGIN_CLIMATE, 18);
        db_weather_put(plot.weather, db_date_add(today, i), DB_FIGURE_RAIN, DB_ORIGIN_CLIMATE, 0);
    }
    plot.view.today = today;
}

static void set_low(int day, double low)
{
    db_weather_put(plot.weather, db_date_add(today, day), DB_FIGURE_LOW, DB_ORIGIN_OBSERVED, low);
}

/* A carrot sown `days` from today. */
static void sow(const char *id, int days)
{
    plot_sow(&plot,
             (struct db_sowing){
                 .id = id, .crop = &carrot, .bed = north, .planned = DB_NO_DATE, .sown = db_date_add(today, days) });
}

static const struct db_jobs *evaluate(void)
{
    const struct db_jobs *jobs = NULL;

    plot_close_diary(&plot);
    assert_int_equal(db_garden_evaluate(&plot.view, plot.arena, &jobs), DB_OK);
    assert_non_null(jobs);
    return jobs;
}

/* Days are counted from today. */
static const struct db_job *expect(const struct db_jobs *jobs, const char *name, int first, int best, int last,
                                   enum db_job_state state)
{
    const struct db_job *job = db_jobs_find(jobs, name);

    if (!job) {
        fail_msg("there is no job %s", name);
        return NULL;
    }
    if (job->first.day - today.day != first || job->best.day - today.day != best || job->last.day - today.day != last ||
        job->state != state)
        fail_msg("%s: expected %d %d %d state %d, worked out %d %d %d state %d", name, first, best, last, (int) state,
                 job->first.day - today.day, job->best.day - today.day, job->last.day - today.day, (int) job->state);
    return job;
}

static void once_has_a_window_and_a_note_ends_it(void **state)
{
    (void) state;
    begin("[weed]\njob = Weed {crops}\nduring = sown + 10 days .. sown + 20 days\nbest = sown + 14 days\n"
          "records = weeded\neffort = 10 min\nurgency = soon\n");
    sow("soon", 0);
    sow("late", -30);
    sow("long-ago", -200);
    sow("done", -12);
    sow("done-late", -40);
    plot_note(&plot, "done", "weeded", db_date_add(today, -1));
    plot_note(&plot, "done-late", "weeded", db_date_add(today, -2));
    plot_note(&plot, "soon", "weeded", db_date_add(today, 3)); /* a slip of the pen: that day is to come */
    const struct db_jobs *jobs = evaluate();

    const struct db_job *job = expect(jobs, "weed/soon", 10, 14, 20, DB_JOB_OPEN);
    assert_true(job->minutes > 9.99F && job->minutes < 10.01F);
    assert_int_equal(job->urgency, 3);
    expect(jobs, "weed/late", -20, -16, -10, DB_JOB_MISSED);
    assert_null(db_jobs_find(jobs, "weed/long-ago"));
    assert_int_equal(expect(jobs, "weed/done", -2, -1, 8, DB_JOB_DONE)->done.day, today.day - 1);
    expect(jobs, "weed/done-late", -30, -2, -2, DB_JOB_DONE);
    assert_int_equal(db_jobs_count(jobs), 4);
    plot_free(&plot);
}

/* Nights below 4 on days 2, 3 and 4: the job is held to day 5 and its window with it. */
static void hold_moves_the_job_and_its_window_on(void **state)
{
    (void) state;
    begin("[set]\njob = Set it\nduring = sown .. sown + 6 days\nbest = sown + 2 days\nhold = low < 4 °C\n");
    for (int d = 2; d <= 4; d++)
        set_low(d, 3);
    sow("a", 0);
    expect(evaluate(), "set/a", 0, 5, 9, DB_JOB_OPEN);
    plot_free(&plot);
}

static void hold_gives_up_after_sixty_days(void **state)
{
    (void) state;
    begin("[set]\njob = Set it\nduring = sown .. sown + 6 days\nhold = low < 40 °C\n");
    sow("a", 0);
    expect(evaluate(), "set/a", 0, 60, 66, DB_JOB_OPEN);
    plot_free(&plot);
}

/* Rain on days 1, 3 and 6; best is day 4. Day 3 is nearer than 1; day 6's weather is not known. */
static void prefer_takes_the_nearest_known_day(void **state)
{
    (void) state;
    begin("[thin]\njob = Thin\nduring = sown .. sown + 20 days\nbest = sown + 14 days\nprefer = rain > 3 mm\n");
    for (int d = 1; d <= 3; d += 2)
        db_weather_put(plot.weather, db_date_add(today, d), DB_FIGURE_RAIN, DB_ORIGIN_OBSERVED, 5);
    db_weather_put(plot.weather, db_date_add(today, 6), DB_FIGURE_RAIN, DB_ORIGIN_CLIMATE, 5);
    sow("a", -10);
    sow("overdue", -17); /* best was 3 days ago, and no day of its window up to then had rain */
    const struct db_jobs *jobs = evaluate();

    expect(jobs, "thin/a", -10, 3, 10, DB_JOB_OPEN);
    expect(jobs, "thin/overdue", -17, 1, 3, DB_JOB_OPEN);
    plot_free(&plot);
}

/* Rain today and on days 1, 2 and 5, which is the last that is known. */
static void avoid_drives_it_off_its_best_day(void **state)
{
    static const int wet[] = { 0, 1, 2, 5 };

    (void) state;
    begin("[till]\njob = Till\nduring = sown .. sown + 20 days\nbest = sown + 10 days\navoid = rain > 3 mm\n"
          "[thin]\njob = Thin\nduring = sown .. sown + 20 days\nbest = sown + 10 days\navoid = rain > 3 mm\n"
          "prefer = low < 5 °C\n");
    for (size_t i = 0; i < sizeof wet / sizeof wet[0]; i++)
        db_weather_put(plot.weather, db_date_add(today, wet[i]), DB_FIGURE_RAIN, DB_ORIGIN_OBSERVED, 5);
    set_low(2, 4);
    sow("at", -9);    /* best on day 1: day 3 is the nearest, as no day gone by is taken */
    sow("dry", -6);   /* on day 4, which is dry */
    sow("last", -5);  /* on day 5 */
    sow("beyond", 0); /* on day 10, of which nothing is known */
    sow("short", -18);
    const struct db_jobs *jobs = evaluate();

    expect(jobs, "till/at", -9, 3, 11, DB_JOB_OPEN);
    expect(jobs, "till/dry", -6, 4, 14, DB_JOB_OPEN);
    expect(jobs, "till/last", -5, 4, 15, DB_JOB_OPEN);
    expect(jobs, "till/beyond", 0, 10, 20, DB_JOB_OPEN);
    /* Its best day has gone by, and was dry. */
    expect(jobs, "till/short", -18, -8, 2, DB_JOB_OPEN);
    /* The one day that is preferred is to be avoided; what is left is to keep off the rain. */
    expect(jobs, "thin/at", -9, 3, 11, DB_JOB_OPEN);
    plot_free(&plot);
}

static const char picking[] = "[pick]\njob = Pick\nduring = sown + 10 days .. sown + 30 days\nevery = 7 days\n"
                              "records = picked\n";

/* Window -10 .. 10. Without notes: due on -10, -3, 4; of those gone by only the latest is left. */
static void every_counts_from_the_window(void **state)
{
    (void) state;
    begin(picking);
    sow("a", -20);
    const struct db_jobs *jobs = evaluate();

    expect(jobs, "pick/a/2", -3, -3, 3, DB_JOB_OPEN);
    expect(jobs, "pick/a/3", 4, 4, 10, DB_JOB_OPEN);
    assert_int_equal(db_jobs_count(jobs), 2);
    plot_free(&plot);
}

/* Picked on -8 and on -1: the next is 7 days after the last, whatever the calendar said. A note from before the window
 * is no picking of this crop. */
static void every_counts_from_what_was_done(void **state)
{
    (void) state;
    begin(picking);
    sow("a", -20);
    plot_note(&plot, "a", "picked", db_date_add(today, -15));
    plot_note(&plot, "a", "picked", db_date_add(today, -8));
    plot_note(&plot, "a", "picked", db_date_add(today, -1));
    const struct db_jobs *jobs = evaluate();

    expect(jobs, "pick/a/1", -8, -8, -8, DB_JOB_DONE);
    expect(jobs, "pick/a/2", -1, -1, -1, DB_JOB_DONE);
    expect(jobs, "pick/a/3", 6, 6, 10, DB_JOB_OPEN);
    assert_int_equal(db_jobs_count(jobs), 3);
    plot_free(&plot);
}

static const char frost[] = "[fleece]\njob = Cover\nduring = sown .. sown + 60 days\nwhile = low < 2 °C\n"
                            "until = low > 4 °C\nrecords = covered\n";

/* Cold on -30, on -5 (and 3 degrees, not yet mild, on -4), from -1 to 1 and from 4 on. Each spell keeps its number although the
 * oldest is no job any more. A running spell is for today. */
static void spells_begin_and_end_at_their_own_thresholds(void **state)
{
    (void) state;
    begin(frost);
    set_low(-30, 0);
    set_low(-5, 1);
    set_low(-4, 3);
    set_low(-1, 1);
    set_low(0, 3);
    set_low(1, 1);
    set_low(4, -1);
    set_low(5, -1);
    sow("a", -40);
    const struct db_jobs *jobs = evaluate();

    expect(jobs, "fleece/a/2", -5, -5, -4, DB_JOB_MISSED);
    expect(jobs, "fleece/a/3", -1, 0, 1, DB_JOB_OPEN);
    expect(jobs, "fleece/a/4", 4, 4, 5, DB_JOB_OPEN); /* known so far; the climate after it makes no spell */
    assert_int_equal(db_jobs_count(jobs), 3);
    plot_free(&plot);
}

/* Covered the evening before the first spell, and once in the second; the third is not done by those. */
static void a_spell_is_done_by_a_note_inside_it_or_on_its_eve(void **state)
{
    (void) state;
    begin(frost);
    set_low(-9, 0);
    set_low(-8, 0);
    set_low(-2, 0);
    set_low(-1, 0);
    set_low(3, 0);
    sow("a", -40);
    plot_note(&plot, "a", "covered", db_date_add(today, -10));
    plot_note(&plot, "a", "covered", db_date_add(today, -1));
    const struct db_jobs *jobs = evaluate();

    expect(jobs, "fleece/a/1", -9, -9, -8, DB_JOB_DONE);
    expect(jobs, "fleece/a/2", -2, -1, -1, DB_JOB_DONE);
    expect(jobs, "fleece/a/3", 3, 3, 3, DB_JOB_OPEN);
    plot_free(&plot);
}

/* The kale was planted: nobody needs to sow, prick out or harden it any more, noted or not. */
static void life_overtakes_earlier_jobs(void **state)
{
    (void) state;
    begin("[sow]\njob = Sow\nduring = sown .. sown + 30 days\nrecords = sown\n"
          "[prick]\njob = Prick out\nduring = sown .. sown + 90 days\nrecords = pricked_out\n"
          "[harden]\njob = Harden off\nduring = sown .. sown + 90 days\nrecords = hardening\n"
          "[plant]\njob = Plant out\nduring = sown .. sown + 90 days\nrecords = planted\n"
          "[pick]\njob = Pick\nduring = sown .. sown + 90 days\nrecords = picked\n");
    const struct db_bed *bench = plot_bed(&plot, "bench", DB_COVER_INDOORS);

    plot_sow(&plot, (struct db_sowing){ .id = "k",
                                        .crop = &kale,
                                        .bed = bench,
                                        .into = north,
                                        .way = DB_WAY_POT,
                                        .planned = db_date_add(today, -40),
                                        .sown = DB_NO_DATE });
    plot_note(&plot, "k", "planted", db_date_add(today, -2));
    const struct db_jobs *jobs = evaluate();

    assert_null(db_jobs_find(jobs, "sow/k"));
    assert_null(db_jobs_find(jobs, "prick/k"));
    assert_null(db_jobs_find(jobs, "harden/k"));
    expect(jobs, "plant/k", -40, -2, 50, DB_JOB_DONE);
    expect(jobs, "pick/k", -40, -40, 50, DB_JOB_OPEN);
    plot_free(&plot);
}

static void a_cleared_bed_asks_for_nothing(void **state)
{
    (void) state;
    begin("[weed]\njob = Weed\nduring = sown .. sown + 90 days\n[dig]\njob = Fork over\nduring = cleared .. cleared + "
          "9 days\n");
    sow("a", -40);
    plot_note(&plot, "a", "cleared", db_date_add(today, -2));
    const struct db_jobs *jobs = evaluate();

    assert_null(db_jobs_find(jobs, "weed/a"));
    expect(jobs, "dig/a", -2, -2, 7, DB_JOB_OPEN);
    plot_free(&plot);
}

static void a_plan_long_past_asks_for_nothing(void **state)
{
    (void) state;
    begin("[sow]\njob = Sow\nduring = planned .. planned + 20 days\nrecords = sown\n"
          "[thin]\njob = Thin\nduring = up .. up + 9 days\n");
    plot_sow(&plot,
             (struct db_sowing){
                 .id = "a", .crop = &carrot, .bed = north, .planned = db_date_add(today, -100), .sown = DB_NO_DATE });
    plot_sow(&plot,
             (struct db_sowing){
                 .id = "b", .crop = &carrot, .bed = north, .planned = db_date_add(today, -10), .sown = DB_NO_DATE });
    const struct db_jobs *jobs = evaluate();

    expect(jobs, "sow/b", -10, -10, 10, DB_JOB_OPEN);
    assert_non_null(db_jobs_find(jobs, "thin/b"));
    assert_int_equal(db_jobs_count(jobs), 2);
    plot_free(&plot);
}

static void names_are_found_and_cut_where_they_do_not_fit(void **state)
{
    char name[32];

    (void) state;
    begin(picking);
    sow("a", -20);
    sow("a/1", -20); /* an id with a slash in it does no harm */
    const struct db_jobs *jobs = evaluate();

    for (size_t i = 0; i < db_jobs_count(jobs); i++) {
        const size_t length = db_job_name(jobs, db_jobs_at(jobs, i), name, sizeof name);

        assert_int_equal(length, strlen(name));
        assert_ptr_equal(db_jobs_find(jobs, name), db_jobs_at(jobs, i));
        assert_int_equal(db_job_name(jobs, db_jobs_at(jobs, i), name, 4), length);
        assert_string_equal(name, "pic");
        assert_int_equal(db_job_name(jobs, db_jobs_at(jobs, i), name, 0), length);
    }
    assert_null(db_jobs_find(jobs, "pick"));
    assert_null(db_jobs_find(jobs, "pick/a"));
    assert_null(db_jobs_find(jobs, "pick/a/2/"));
    assert_null(db_jobs_find(jobs, ""));
    assert_int_equal(db_jobs_from(jobs, db_date_add(today, -3)), 0);
    assert_int_equal(db_jobs_from(jobs, today), 2);
    assert_int_equal(db_jobs_from(jobs, db_date_add(today, 99)), db_jobs_count(jobs));
    plot_free(&plot);
}

/* What the job is stays; what it says changes with its dates, its state, its bed and its crop. */
static void identity_and_meaning(void **state)
{
    unsigned char identity[16], meaning[16], again[16];

    (void) state;
    begin(picking);
    sow("a", -20);
    const struct db_jobs *jobs = evaluate();
    db_job_identity(jobs, db_jobs_find(jobs, "pick/a/3"), identity);
    db_job_meaning(jobs, db_jobs_find(jobs, "pick/a/3"), meaning);

    jobs = evaluate();
    db_job_meaning(jobs, db_jobs_find(jobs, "pick/a/3"), again);
    assert_memory_equal(again, meaning, 16);

    plot_note(&plot, "a", "picked", db_date_add(today, -9)); /* all later ones move by a day or more */
    plot_note(&plot, "a", "picked", db_date_add(today, -2));
    jobs = evaluate();
    const struct db_job *moved = db_jobs_find(jobs, "pick/a/3");
    assert_non_null(moved);
    assert_int_equal(moved->best.day, today.day + 5);
    db_job_identity(jobs, moved, again);
    assert_memory_equal(again, identity, 16);
    db_job_meaning(jobs, moved, again);
    assert_memory_not_equal(again, meaning, 16);

    memcpy(meaning, again, 16);
    carrot.high[DB_FACT_THIN] += 10;
    jobs = evaluate();
    db_job_meaning(jobs, db_jobs_find(jobs, "pick/a/3"), again);
    assert_memory_not_equal(again, meaning, 16);
    plot_free(&plot);
}

/* A date in the job's own words is part of what it says, even when the job stays where it is. */
static void printed_dates_are_part_of_the_meaning(void **state)
{
    unsigned char silent[16], told[16], again[16];

    (void) state;
    begin("[silent]\njob = Weed\nduring = sown .. sown + 60 days\n"
          "[told]\njob = Weed\nduring = sown .. sown + 60 days\nhow = They are up by {late(up)}.\n");
    sow("a", -3);
    const struct db_jobs *jobs = evaluate();
    db_job_meaning(jobs, db_jobs_find(jobs, "silent/a"), silent);
    db_job_meaning(jobs, db_jobs_find(jobs, "told/a"), told);
    for (int d = 0; d <= FORECAST; d++) /* cold days put the seedlings off */
        set_low(d, -10);
    jobs = evaluate();
    db_job_meaning(jobs, db_jobs_find(jobs, "silent/a"), again);
    assert_memory_equal(again, silent, 16);
    db_job_meaning(jobs, db_jobs_find(jobs, "told/a"), again);
    assert_memory_not_equal(again, told, 16);
    plot_free(&plot);
}

/* Seen from an earlier day, nothing that was noted after it has happened: not for the life, not for a rule that asks. */
static void notes_of_days_to_come_count_nowhere(void **state)
{
    (void) state;
    begin("[hoe]\njob = Hoe\nfor = not noted(weeded)\nduring = sown .. sown + 60 days\n"
          "[mulch]\njob = Mulch\nfor = noted(weeded)\nduring = last(weeded) .. last(weeded) + 9 days\n"
          "[weed]\njob = Weed\nduring = sown .. sown + 60 days\nrecords = weeded\n");
    sow("a", -3);
    sow("b", -3);
    plot_note(&plot, "a", "weeded", db_date_add(today, 1));
    plot_note(&plot, "b", "weeded", db_date_add(today, -1));
    plot_note(&plot, "b", "weeded", db_date_add(today, 2));
    const struct db_jobs *jobs = evaluate();

    expect(jobs, "hoe/a", -3, -3, 57, DB_JOB_OPEN);
    expect(jobs, "weed/a", -3, -3, 57, DB_JOB_OPEN);
    expect(jobs, "weed/b", -3, -1, 57, DB_JOB_DONE);
    expect(jobs, "mulch/b", -1, -1, 8, DB_JOB_OPEN);
    assert_int_equal(db_jobs_count(jobs), 4);
    plot_free(&plot);
}

/* A series with a hole in it is refused, and nothing is handed back. */
static void weather_must_be_filled(void **state)
{
    const struct db_jobs *jobs = NULL;

    (void) state;
    begin(picking);
    sow("a", -20);
    plot_weather(&plot, db_date_add(today, -BEFORE), BEFORE + AHEAD);
    plot_close_diary(&plot);
    assert_int_equal(db_garden_evaluate(&plot.view, plot.arena, &jobs), DB_RANGE);
    assert_null(jobs);
    plot_free(&plot);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(once_has_a_window_and_a_note_ends_it),
        cmocka_unit_test(hold_moves_the_job_and_its_window_on),
        cmocka_unit_test(hold_gives_up_after_sixty_days),
        cmocka_unit_test(prefer_takes_the_nearest_known_day),
        cmocka_unit_test(avoid_drives_it_off_its_best_day),
        cmocka_unit_test(every_counts_from_the_window),
        cmocka_unit_test(every_counts_from_what_was_done),
        cmocka_unit_test(spells_begin_and_end_at_their_own_thresholds),
        cmocka_unit_test(a_spell_is_done_by_a_note_inside_it_or_on_its_eve),
        cmocka_unit_test(life_overtakes_earlier_jobs),
        cmocka_unit_test(a_cleared_bed_asks_for_nothing),
        cmocka_unit_test(a_plan_long_past_asks_for_nothing),
        cmocka_unit_test(names_are_found_and_cut_where_they_do_not_fit),
        cmocka_unit_test(identity_and_meaning),
        cmocka_unit_test(printed_dates_are_part_of_the_meaning),
        cmocka_unit_test(notes_of_days_to_come_count_nowhere),
        cmocka_unit_test(weather_must_be_filled),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
