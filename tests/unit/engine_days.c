/* Jobs on the gardener's days, worked out on the fingers. 10 June 2015 is a Wednesday. */
#include "dewbell/job.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "kit/plot.h"
#include "kit/rules.h"

#include "kit/calm.h"

#include "base/banned.h"

enum { BEFORE = 450, AHEAD = 430, FORECAST = 5 };
enum { WED, THU, FRI, SAT, SUN, MON, TUE }; /* days from today */
static struct plot plot;
static struct db_crop_facts carrot;
static const struct db_bed *north, *south;
static struct db_date today;
static struct db_away away[4];
static struct shelf shelf;

static const char *const rules =
    "[sow]\njob = Sow {crops}\nduring = planned .. planned + 10 days\nrecords = sown\neffort = 40 min\n"
    "[weed]\njob = Weed {crops}\nfor = noted(sown)\nduring = sown + 10 days .. sown + 20 days\nbest = sown + 14 "
    "days\nrecords = weeded\n"
    "effort = 30 min\nurgency = when there is time\n"
    "[rescue]\njob = Rescue {crops}\nfor = noted(sown)\nduring = sown + 30 days .. sown + 32 days\nrecords = rescued\n"
    "effort = 50 min\nurgency = cannot wait\n"
    "[net]\njob = Net {crops}\nfor = plants > 0\nduring = planned .. planned + 14 days\nrecords = netted\n"
    "[peg]\njob = Peg {crops} down\nfor = plugs > 0\nduring = sown .. sown + 14 days\nrecords = pegged\n"
    "effort = 20 min\nurgency = cannot wait\n";

static void begin_on(const char *text, struct db_date day)
{
    carrot = kit_crop("carrot");
    today = day;
    plot = plot_new(51.5, 0);
    north = plot_bed(&plot, "north", DB_COVER_OPEN);
    south = plot_bed(&plot, "south", DB_COVER_OPEN);
    plot_rules(&plot, text);
    plot_mild(&plot, today, BEFORE, AHEAD, FORECAST);
}

static void begin(void)
{
    begin_on(rules, on(2015, 6, 10));
}

/* Minutes of Monday .. Sunday. */
static void set_week(const int minutes[7], size_t times_away)
{
    struct db_week week = { .given = true, .counted = minutes, .away = away, .away_count = times_away };

    for (int i = 0; minutes && i < 7; i++)
        week.minutes[i] = minutes[i];
    db_garden_set_week(plot.garden, &week);
}

static void plan(const char *id, const struct db_bed *bed, int day)
{
    plot_sow(&plot,
             (struct db_sowing){
                 .id = id, .crop = &carrot, .bed = bed, .planned = db_date_add(today, day), .sown = DB_NO_DATE });
}

static void sown(const char *id, int day)
{
    plot_sow(&plot,
             (struct db_sowing){
                 .id = id, .crop = &carrot, .bed = north, .planned = DB_NO_DATE, .sown = db_date_add(today, day) });
}

static const struct db_jobs *evaluate(void)
{
    const struct db_jobs *jobs = NULL;

    plot_close_diary(&plot);
    assert_int_equal(db_garden_evaluate(&plot.view, plot.arena, &jobs), DB_OK);
    return jobs;
}

/* The day that it stands on, from today. */
static int day_of(const struct db_jobs *jobs, const char *name)
{
    const struct db_job *job = db_jobs_find(jobs, name);

    if (!job)
        fail_msg("there is no job %s", name);
    return job->on.day - today.day;
}

static void says(const struct db_jobs *jobs, const char *name, const char *expected)
{
    assert_string_equal(db_job_days(jobs, db_jobs_find(jobs, name), plot.arena), expected);
}

static void without_days_it_stands_on_its_best_day(void **state)
{
    (void) state;
    begin();
    plan("one", north, THU);
    const struct db_jobs *jobs = evaluate();

    assert_int_equal(day_of(jobs, "sow/one"), THU);
    assert_false(db_jobs_find(jobs, "sow/one")->placed);
    says(jobs, "sow/one", "");
    assert_int_equal(db_jobs_day(jobs, db_date_add(today, THU)).has, DB_MINUTES_ANY);
    assert_int_equal(db_jobs_day(jobs, db_date_add(today, THU)).takes, 40);
    plot_free(&plot);
}

static void it_goes_to_a_day_with_time(void **state)
{
    static const int saturdays[7] = { [5] = 60 };

    (void) state;
    begin();
    set_week(saturdays, 0);
    plan("one", north, THU);
    const struct db_jobs *jobs = evaluate();

    assert_int_equal(day_of(jobs, "sow/one"), SAT);
    assert_int_equal(db_jobs_find(jobs, "sow/one")->best.day - today.day, THU);
    says(jobs, "sow/one",
         "Its best day, Thursday 11 June, has no time for the garden. It is put on Saturday 13 June, which has 1 h "
         "for "
         "the garden, and its jobs take 40 min.");
    plot_free(&plot);
}

/* Two of 40 min in an hour: one goes to the next Saturday, and all is well when there are two Saturdays' time. */
static void a_full_day_takes_no_more(void **state)
{
    static const int saturdays[7] = { [5] = 60 };

    (void) state;
    begin();
    set_week(saturdays, 0);
    plan("one", north, THU);
    plan("two", north, THU);
    const struct db_jobs *jobs = evaluate();

    assert_int_equal(day_of(jobs, "sow/one") + day_of(jobs, "sow/two"), SAT + SAT + 7);
    assert_int_equal(db_jobs_day(jobs, db_date_add(today, SAT)).takes, 40);
    plot_free(&plot);
}

/* It stands where it must, and the others make room. */
static void what_cannot_wait_stays_and_takes_its_time(void **state)
{
    static const int saturdays[7] = { [5] = 60 };

    (void) state;
    begin();
    set_week(saturdays, 0);
    plan("one", north, THU);
    sown("old", SAT - 30);
    sown("older", TUE - 30);
    const struct db_jobs *jobs = evaluate();

    assert_int_equal(day_of(jobs, "rescue/old"), SAT);
    assert_int_equal(day_of(jobs, "sow/one"), SAT + 7);
    assert_int_equal(day_of(jobs, "rescue/older"), TUE);
    says(jobs, "rescue/older",
         "It cannot wait for another day; Tuesday 16 June has no time for the garden, and its jobs "
         "take 50 min.");
    assert_int_equal(db_jobs_day(jobs, db_date_add(today, TUE)).has, 0);
    plot_free(&plot);
}

/* From Saturday to the Monday after next: what has a day before goes there, what has one after goes there, the rest is for
 * somebody else. */
static void times_away_are_kept_free(void **state)
{
    (void) state;
    begin();
    away[0] = (struct db_away){ db_date_add(today, SAT), db_date_add(today, MON + 7) };
    set_week(NULL, 1);
    sown("before", -10);
    sown("after", -2);
    plan("later", north, SUN);
    sown("never", SUN - 30);
    const struct db_jobs *jobs = evaluate();

    assert_int_equal(day_of(jobs, "weed/before"), FRI);
    assert_int_equal(day_of(jobs, "weed/after"), TUE + 7);
    assert_int_equal(day_of(jobs, "sow/later"), TUE + 7);
    assert_int_equal(day_of(jobs, "rescue/never"), SUN);
    says(jobs, "sow/later",
         "On its best day you are away from Saturday 13 June to Monday 22 June. It is put on Tuesday 23 "
         "June, which has as much time as it needs.");
    says(jobs, "rescue/never",
         "You are away from Saturday 13 June to Monday 22 June, and it has no day on which you are at "
         "home: it is for somebody else.");
    assert_ptr_equal(db_jobs_day(jobs, db_date_add(today, SUN)).away, &away[0]);
    plot_free(&plot);
}

/* Pegging cannot wait, but not for what is not sown yet. */
static void what_follows_a_job_goes_with_it(void **state)
{
    static const int saturdays[7] = { [5] = 60 };

    (void) state;
    begin();
    set_week(saturdays, 0);
    plot_sow(&plot, (struct db_sowing){ .id = "one",
                                        .crop = &carrot,
                                        .bed = north,
                                        .plugs = 10,
                                        .planned = db_date_add(today, THU),
                                        .sown = DB_NO_DATE });
    const struct db_jobs *jobs = evaluate();

    assert_int_equal(day_of(jobs, "sow/one"), SAT);
    assert_int_equal(day_of(jobs, "peg/one"), SAT);
    says(jobs, "peg/one",
         "It cannot wait for another day; Saturday 13 June has 1 h for the garden, and its jobs take 1 h.");
    plot_free(&plot);
}

/* Kale that is pricked out on its day on the bench, which is put off, and labelled at once. */
static void what_follows_says_so(void **state)
{
    static const int saturdays[7] = { [5] = 60 };
    static struct db_crop_facts kale;

    (void) state;
    begin_on("[prick-out]\njob = Prick out {crops}\nduring = pricked_out .. pricked_out + 10 days\n"
             "records = pricked_out\neffort = 30 min\n"
             "[label]\njob = Label {crops}\nduring = pricked_out .. pricked_out + 10 days\nrecords = labelled\n"
             "effort = 5 min\nurgency = cannot wait\n",
             on(2015, 6, 10));
    set_week(saturdays, 0);
    kale = kit_crop("kale");
    plot_sow(&plot, (struct db_sowing){ .id = "one",
                                        .crop = &kale,
                                        .bed = plot_bed(&plot, "bench", DB_COVER_INDOORS),
                                        .into = south,
                                        .way = DB_WAY_POT,
                                        .planned = DB_NO_DATE,
                                        .sown = db_date_add(today, -10) });
    const struct db_jobs *jobs = evaluate();
    const struct db_job *prick = db_jobs_find(jobs, "prick-out/one"), *label = db_jobs_find(jobs, "label/one");

    assert_non_null(prick);
    assert_non_null(label);
    assert_int_not_equal(db_date_weekday(prick->best), 6);
    assert_int_equal(db_date_weekday(prick->on), 6);
    assert_int_equal(label->on.day, prick->on.day);
    assert_non_null(strstr(db_job_days(jobs, label, plot.arena), "What it follows is put off to Saturday "));
    plot_free(&plot);
}

/* Tying in is best on Friday, two days after earthing up; that has to wait for Saturday, and tying in goes with it to the next
 * day with time that is not sooner than two days after. Without `follows` both would be on Saturday.
 * A rule between the two that is switched off takes nothing away. */
static void steps_that_are_no_stages_keep_their_order(void **state)
{
    static const int week[7] = { [1] = 60, [5] = 60, [6] = 60 };
    static const char *const tie[3] = { "", "follows = earth\n", "follows = label\n" };

    (void) state;
    for (int follows = 0; follows < 3; follows++) {
        char text[600];

        (void) snprintf(
            text, sizeof text,
            "[a-tie]\njob = Tie {crops} in\nfor = noted(sown)\nduring = sown + 12 days .. sown + 20 days\n"
            "records = tied\neffort = 10 min\n%s"
            "[earth]\njob = Earth {crops} up\nfor = noted(sown)\nduring = sown + 10 days .. sown + 20 days\n"
            "records = earthed\neffort = 30 min\n"
            "[label]\njob = Label {crops}\nduring = sown + 11 days .. sown + 20 days\nrecords = labelled\n"
            "follows = earth\noff = yes\n",
            tie[follows]);
        begin_on(text, on(2015, 6, 10));
        set_week(week, 0);
        sown("one", -10);
        const struct db_jobs *jobs = evaluate();

        assert_int_equal(day_of(jobs, "earth/one"), SAT);
        assert_int_equal(day_of(jobs, "a-tie/one"), follows ? TUE : SAT);
        if (follows)
            says(jobs, "a-tie/one",
                 "What it follows is put off to Saturday 13 June. It is put on Tuesday 16 June, which has 1 h for the "
                 "garden, and its jobs take 10 min.");
        plot_free(&plot);
    }
}

static void what_was_done_today_has_taken_its_time(void **state)
{
    static const int wednesdays[7] = { [2] = 60 };

    (void) state;
    begin();
    set_week(wednesdays, 0);
    plan("one", north, WED);
    sown("two", -12);
    assert_int_equal(day_of(evaluate(), "weed/two"), WED + 7);
    assert_int_equal(day_of(evaluate(), "sow/one"), WED);
    plot_free(&plot);

    begin();
    set_week(wednesdays, 0);
    sown("one", WED); /* today */
    plan("two", north, WED);
    plan("three", north, WED);
    plot_note(&plot, "two", "sown", today);
    const struct db_jobs *jobs = evaluate();

    assert_int_equal(day_of(jobs, "sow/three"), WED + 7);
    assert_int_equal(db_jobs_day(jobs, today).takes, 40);
    plot_free(&plot);
}

/* Sunday: Saturday's job is still open. Whoever notes other things has not done it; whoever notes nothing may have. */
static void what_was_not_noted_is_put_on_the_next_day_if_anything_was(void **state)
{
    static const int days[7] = { [1] = 60, [5] = 60 };

    (void) state;
    for (int noted = 0; noted < 2; noted++) {
        begin();
        set_week(days, 0);
        plan("one", north, SAT);
        plan("two", south, 60);
        (void) shelf_put(&shelf, evaluate(), plot.arena);
        if (noted)
            plot_note(&plot, "two", "netted", db_date_add(today, SAT));
        today = plot.view.today = db_date_add(today, SUN);
        plot.view.published = &shelf.all;
        const struct db_jobs *jobs = evaluate();

        assert_int_equal(day_of(jobs, "sow/one"), noted ? TUE - SUN : -1);
        says(jobs, "sow/one",
             noted ? "It was to be done on Saturday 13 June; other things were noted since, this was not. Today "
                     "has no time for the garden. It is put on Tuesday 16 June, which has 1 h for the "
                     "garden, and its jobs take 40 min."
                   : "Its day went by, and nothing was noted since: it may be done already.");
        /* What follows goes by the day on which it was put. */
        assert_int_equal(db_jobs_life(jobs, 0)->stage[DB_STAGE_SOWN].likely.day - today.day, noted ? TUE - SUN : -1);
        shelf_free(&shelf);
        plot_free(&plot);
    }
}

/* A day away that is found out later moves what was put there, and nothing else. */
static void a_change_of_days_moves_what_it_must(void **state)
{
    static const int days[7] = { [5] = 60, [6] = 60 };

    (void) state;
    begin();
    set_week(days, 0);
    plan("one", north, FRI);
    plan("two", south, SUN);
    const struct db_jobs *jobs = evaluate();
    assert_int_equal(day_of(jobs, "sow/one"), SAT);
    (void) shelf_put(&shelf, jobs, plot.arena);
    plot.view.published = &shelf.all;
    away[0] = (struct db_away){ db_date_add(today, SAT), db_date_add(today, SAT) };
    set_week(days, 1);
    jobs = evaluate();
    assert_int_equal(day_of(jobs, "sow/two"), SUN);
    assert_int_equal(day_of(jobs, "sow/one"), SAT + 7);
    shelf_free(&shelf);
    plot_free(&plot);
}

/* A net for the north bed on Friday and one for the south bed on Saturday: a day early costs less than to fetch the nets
 * twice (4 points and 5). There it stays, even when the other one is done beforehand. */
static void what_wants_the_same_tool_goes_together(void **state)
{
    static const int days[7] = { [4] = 60, [5] = 60 };
    static const char *const text =
        "[net]\njob = Net {crops}\nfor = noted(sown)\nduring = sown + 20 days .. sown + 40 days\n"
        "best = sown + 30 days\nrecords = netted\neffort = 20 min\n%s";

    (void) state;
    for (int with = 0; with < 2; with++) {
        char words[400];

        (void) snprintf(words, sizeof words, text, with ? "tool = net and hoops\n" : "");
        begin_on(words, on(2015, 6, 10));
        set_week(days, 0);
        sown("one", FRI - 30);
        plot_sow(&plot, (struct db_sowing){ .id = "two",
                                            .crop = &carrot,
                                            .bed = south,
                                            .planned = DB_NO_DATE,
                                            .sown = db_date_add(today, SAT - 30) });
        const struct db_jobs *jobs = evaluate();

        assert_int_equal(day_of(jobs, "net/one"), FRI);
        assert_int_equal(day_of(jobs, "net/two"), with ? FRI : SAT);
        if (with) {
            says(jobs, "net/two",
                 "It goes with other work that wants the same tool: net and hoops. It is put on Friday 12 June, which "
                 "has 1 h for the garden, and its jobs take 40 min.");
            (void) shelf_put(&shelf, jobs, plot.arena);
            plot.view.published = &shelf.all;
            assert_int_equal(day_of(evaluate(), "net/two"), FRI);
            plot_note(&plot, "one", "netted", today);
            jobs = evaluate();
            assert_int_equal(day_of(jobs, "net/two"), FRI);
            says(
                jobs, "net/two",
                "It stays on the day on which it was put when it was published. It is put on Friday 12 June, which has "
                "1 h for the garden, and its jobs take 20 min.");
            shelf_free(&shelf);
        }
        plot_free(&plot);
    }
}

/* Two nets in the south bed: one has both to go with. */
static void a_shared_bed_is_said_beside_a_shared_tool(void **state)
{
    static const int days[7] = { [4] = 60, [5] = 60 };

    (void) state;
    begin_on("[net]\njob = Net {crops}\nfor = noted(sown)\nduring = sown + 20 days .. sown + 40 days\n"
             "best = sown + 30 days\nrecords = netted\neffort = 20 min\ntool = net and hoops\n",
             on(2015, 6, 10));
    set_week(days, 0);
    sown("one", FRI - 30);
    sown("two", SAT - 30);
    says(evaluate(), "net/two",
         "It goes with other work in the same bed, and with other work that wants the same tool: net and hoops. It is "
         "put on Friday 12 June, which has 1 h for the garden, and its jobs take 40 min.");
    plot_free(&plot);
}

/* A sowing that a note calls off is put on no day any more: what follows goes by its plan again, at once, and not only once that
 * has been published. */
static void what_is_not_asked_for_any_more_is_put_on_no_day(void **state)
{
    static const int days[7] = { [5] = 60 };

    (void) state;
    begin_on("[sow]\njob = Sow {crops}\nfor = not noted(called_off)\nduring = planned .. planned + 10 days\n"
             "records = sown\neffort = 40 min\n"
             "[look]\njob = Look\nduring = sown + 20 days .. sown + 29 days\nrecords = looked\n"
             "[call-off]\njob = Call off\nduring = planned .. planned + 9 days\nrecords = called_off\n",
             on(2015, 6, 10));
    set_week(days, 0);
    plan("one", north, THU);
    const struct db_jobs *jobs = evaluate();

    assert_int_equal(day_of(jobs, "sow/one"), SAT);
    assert_int_equal(db_jobs_find(jobs, "look/one")->first.day - today.day, SAT + 20);
    (void) shelf_put(&shelf, jobs, plot.arena);
    plot.view.published = &shelf.all;
    plot_note(&plot, "one", "called_off", today);
    jobs = evaluate();
    assert_null(db_jobs_find(jobs, "sow/one"));
    assert_int_equal(db_jobs_find(jobs, "look/one")->first.day - today.day, THU + 20);
    (void) shelf_put(&shelf, jobs, plot.arena);
    assert_int_equal(shelf_put(&shelf, evaluate(), plot.arena), 0);
    shelf_free(&shelf);
    plot_free(&plot);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(without_days_it_stands_on_its_best_day),
        cmocka_unit_test(it_goes_to_a_day_with_time),
        cmocka_unit_test(a_full_day_takes_no_more),
        cmocka_unit_test(what_cannot_wait_stays_and_takes_its_time),
        cmocka_unit_test(times_away_are_kept_free),
        cmocka_unit_test(what_follows_a_job_goes_with_it),
        cmocka_unit_test(what_follows_says_so),
        cmocka_unit_test(steps_that_are_no_stages_keep_their_order),
        cmocka_unit_test(what_was_done_today_has_taken_its_time),
        cmocka_unit_test(what_was_not_noted_is_put_on_the_next_day_if_anything_was),
        cmocka_unit_test(a_change_of_days_moves_what_it_must),
        cmocka_unit_test(what_wants_the_same_tool_goes_together),
        cmocka_unit_test(a_shared_bed_is_said_beside_a_shared_tool),
        cmocka_unit_test(what_is_not_asked_for_any_more_is_put_on_no_day),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
