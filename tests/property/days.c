/* Random gardens with random days: what must hold of the days that jobs are put on, whatever the plan. SEED=n repeats one. */
#include "dewbell/job.h"

#include <inttypes.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "kit/sketch.h"

#include "kit/calm.h"

#include "base/banned.h"

static const char *const day_rules =
    "[sow]\njob = Sow {crop} in {bed}\nduring = planned .. planned + 14 days\nrecords = sown\neffort = 25 min\n"
    "tool = line and rake\n"
    "[look]\njob = Look for {crop}\nduring = early(up) .. late(up)\nevery = 1 days\nrecords = up\neffort = 2 min\n"
    "[thin]\njob = Thin {crop}\nfor = raised in drill\nduring = up + 10 days .. up + 24 days\nbest = up + 14 days\n"
    "prefer = sum(rain, 2 days back) > 3 mm\nrecords = thinned\neffort = 40 min\n"
    "tool = scissors\n"
    "[prick-out]\njob = Prick out {crop}\nduring = pricked_out .. pricked_out + 7 days\nrecords = pricked_out\n"
    "effort = 30 min\nurgency = soon\n"
    "tool = potting mix\n"
    "[harden]\njob = Harden off {crop}\nduring = hardening .. hardening + 9 days\nhold = low < 2 °C\n"
    "records = hardening\neffort = 10 min\n"
    "[plant-out]\njob = Plant {crop} out in {into}\nduring = planted .. planted + 14 days\n"
    "hold = not noted(planted) and min(low, 3 days ahead) < 3 °C\nrecords = planted\neffort = 45 min\nurgency = soon\n"
    "tool = trowel\n"
    "[net]\njob = Net {crop}\nfor = moves\nduring = planted .. planted + 14 days\n"
    "hold = not noted(planted) and min(low, 3 days ahead) < 3 °C\nrecords = netted\neffort = 20 min\n"
    "urgency = cannot wait\n"
    "tool = net and hoops\n"
    "[fleece]\njob = Cover {crop}\nfor = outdoors\nduring = up .. cleared\nwhile = low_tonight < 2 °C\n"
    "until = low_tonight > 4 °C\nrecords = covered\neffort = 10 min\nurgency = cannot wait\n"
    "tool = fleece\n"
    "[pick]\njob = Pick {crop}\nduring = cropping .. cleared\nevery = crop.pick_every\nrecords = picked\n"
    "effort = 15 min\n"
    "tool = basket\n"
    "[weed]\njob = Weed {crop}\nduring = up + 20 days .. up + 60 days\nrecords = weeded\neffort = 60 min\n"
    "urgency = when there is time\n"
    "tool = hoe\n"
    "[lift]\njob = Lift {crop}\nfor = not (crop.pick_every is known)\nduring = cropping .. cleared\nrecords = "
    "cleared\neffort = 50 min\n"
    "tool = fork\n";

struct own_days { /* a week with its times away */
    struct db_week week;
    struct db_away away[3];
};

static void draw_days(struct own_days *own, struct db_date today, uint64_t *draws)
{
    int32_t day = today.day - 30;

    *own = (struct own_days){ .week = { .given = true, .counted = next(draws) % 6 != 0, .away = own->away } };
    for (int i = 0; i < 7; i++)
        own->week.minutes[i] = next(draws) % 2 ? between(draws, 1, 12) * 15 : 0;
    own->week.minutes[5] = own->week.minutes[5] ? own->week.minutes[5] : 120;
    own->week.away_count = next(draws) % 4;
    for (size_t i = 0; i < own->week.away_count; i++) {
        day += between(draws, 2, 60);
        own->away[i].first.day = day;
        day += between(draws, 0, 20);
        own->away[i].last.day = day;
        day++;
    }
}

static struct plot build_with(struct sketch *s, const struct own_days *own, const int *order)
{
    struct plot plot;

    s->rules = day_rules;
    plot = build(s, order);
    db_garden_set_week(plot.garden, &own->week);
    return plot;
}

static bool is_urgent(const struct db_job *job)
{
    return job->urgency == 1;
}

static void fail_of(const struct db_jobs *jobs, const struct db_job *job, const char *wrong)
{
    char line[LINE], day[11];

    tell(jobs, job, line);
    fail_msg("seed %" PRIu64 ": %s: on %s, today %d: %s", seed, wrong, db_date_iso(job->on, day),
             db_jobs_view(jobs)->today.day, line);
}

/* Whether the window has a day at home with time, and one at home, from today on, no further from the best day than a job is
 * moved. Rules with `hold` forbid some of them. */
static void look_at_window(const struct db_jobs *jobs, const struct db_job *job, bool *ret_time, bool *ret_home)
{
    const struct db_week *week = db_garden_week(db_jobs_view(jobs)->garden);
    const int32_t today = db_jobs_view(jobs)->today.day, best = job->best.day > today ? job->best.day : today;

    *ret_time = *ret_home = false;
    for (int32_t day = job->first.day; day <= job->last.day; day++)
        if (day >= today && day >= best - 21 && day <= best + 42 && !db_week_away(week, (struct db_date){ day })) {
            *ret_home = true;
            *ret_time = *ret_time || db_week_minutes(week, (struct db_date){ day }) != 0;
        }
}

static void check_windows(struct sketch *s)
{
    struct own_days own;

    draw_days(&own, s->today, &s->draws);
    struct plot plot = build_with(s, &own, NULL);
    const struct db_jobs *jobs = evaluate(&plot);

    for (size_t i = 0; i < db_jobs_count(jobs); i++) {
        const struct db_job *job = db_jobs_at(jobs, i);
        const bool holds = strcmp(db_rule_name(plot.view.rules, job->rule), "harden") == 0 ||
                           strcmp(db_rule_name(plot.view.rules, job->rule), "plant-out") == 0;
        bool with_time, home;

        if (i && db_jobs_at(jobs, i - 1)->on.day > job->on.day)
            fail_of(jobs, job, "it stands before one of an earlier day");
        if (job->state != DB_JOB_OPEN) {
            if (job->on.day != job->best.day)
                fail_of(jobs, job, "what is done or over was put elsewhere");
            continue;
        }
        if (!job->placed)
            fail_of(jobs, job, "it was not placed");
        if (job->on.day < job->first.day || job->on.day > job->last.day)
            fail_of(jobs, job, "its day is outside its window");
        if (job->on.day < s->today.day && job->on.day != job->best.day)
            fail_of(jobs, job, "it was put into the past");
        look_at_window(jobs, job, &with_time, &home);
        if (is_urgent(job) || job->on.day < s->today.day || holds)
            continue;
        if (with_time && db_week_minutes(&own.week, job->on) == 0)
            fail_of(jobs, job, "it stands on a day without time, and has another");
        if (home && db_week_away(&own.week, job->on))
            fail_of(jobs, job, "it stands on a day away, and has another");
    }
    plot_free(&plot);
}

static void every_job_stands_inside_its_window_on_a_day_with_time(void **state)
{
    (void) state;
    each_garden(150, check_windows);
}

/* What a day's jobs take is what they say; a day is over its minutes only where no job of it could go elsewhere without
 * another day being over. */
static size_t over_days, days_seen;

static void check_loads(struct sketch *s)
{
    struct own_days own;

    draw_days(&own, s->today, &s->draws);
    struct plot plot = build_with(s, &own, NULL);
    const struct db_jobs *jobs = evaluate(&plot);

    for (int32_t day = 0; day < 400; day++) {
        const struct db_date date = db_date_add(s->today, day);
        const struct db_day said = db_jobs_day(jobs, date);
        int32_t takes = 0;

        for (size_t i = 0; i < db_jobs_count(jobs); i++) {
            const struct db_job *job = db_jobs_at(jobs, i);

            if (job->on.day == date.day &&
                (job->state == DB_JOB_OPEN || (job->state == DB_JOB_DONE && job->done.day == date.day)))
                takes += (int32_t) job->minutes; /* whole in these rules */
        }
        assert_int_equal(said.takes, takes);
        assert_int_equal(said.has, db_week_minutes(&own.week, date));
        assert_ptr_equal(said.away, db_week_away(&own.week, date));
        days_seen++;
        over_days += said.has > 0 && takes > said.has;
    }
    plot_free(&plot);
}

static void a_day_takes_what_its_jobs_say(void **state)
{
    (void) state;
    each_garden(60, check_loads);
    print_message("%zu of %zu days have more than their time\n", over_days, days_seen);
}

static void check_same_bytes(struct sketch *s)
{
    struct own_days own;
    int order[SOWINGS + 1];

    draw_days(&own, s->today, &s->draws);
    for (int i = 0; i < s->sowings; i++)
        order[i] = s->sowings - 1 - i;
    struct plot one = build_with(s, &own, NULL), again = build_with(s, &own, NULL),
                shuffled = build_with(s, &own, order);
    const struct db_jobs *jobs = evaluate(&one);

    same_jobs(jobs, evaluate(&again), NULL);
    same_jobs(jobs, evaluate(&shuffled), NULL);
    plot_free(&one);
    plot_free(&again);
    plot_free(&shuffled);
}

static void same_inputs_same_bytes(void **state)
{
    (void) state;
    each_garden(60, check_same_bytes);
}

/* Published and worked out again, with nothing new: nothing is put elsewhere, nothing has to be remembered. */
static void check_stays(struct sketch *s)
{
    struct own_days own;
    struct shelf shelf = { 0 };

    draw_days(&own, s->today, &s->draws);
    struct plot plot = build_with(s, &own, NULL);
    const struct db_jobs *jobs = evaluate(&plot);

    (void) shelf_put(&shelf, jobs, plot.arena);
    plot.view.published = &shelf.all;
    const struct db_jobs *again = evaluate(&plot);
    same_jobs(jobs, again, NULL);
    assert_int_equal(shelf_put(&shelf, again, plot.arena), 0);
    plot_free(&plot);
    shelf_free(&shelf);
}

static void what_was_put_stays(void **state)
{
    (void) state;
    each_garden(100, check_stays);
}

static void add_one_more(struct sketch *s)
{
    s->sowing[s->sowings] = s->sowing[0];
    (void) snprintf(s->sowing[s->sowings].id, sizeof s->sowing[0].id, "more");
    s->sowing[s->sowings].day = between(&s->draws, 0, 60);
    s->sowing[s->sowings++].done = false;
}

/* One sowing more, with time enough on every day that has any: no other job is put elsewhere. */
static void check_one_more(struct sketch *s)
{
    struct own_days own;
    struct shelf shelf = { 0 };

    draw_days(&own, s->today, &s->draws);
    for (int i = 0; i < 7; i++)
        own.week.minutes[i] = own.week.minutes[i] ? 1440 : 0;
    struct plot plot = build_with(s, &own, NULL);

    (void) shelf_put(&shelf, evaluate(&plot), plot.arena);
    add_one_more(s);
    plot.view.published = &shelf.all;
    struct plot more = build_with(s, &own, NULL);
    more.view.published = &shelf.all;
    same_jobs(evaluate(&plot), evaluate(&more), "more");
    plot_free(&plot);
    plot_free(&more);
    shelf_free(&shelf);
}

static void one_more_moves_nothing_where_there_is_room(void **state)
{
    (void) state;
    each_garden(60, check_one_more);
}

/* The same where days are full: others make way, but few of them. */
static size_t moved_by_one, standing_by_one;

static void check_one_more_on_full_days(struct sketch *s)
{
    struct own_days own;
    struct shelf shelf = { 0 };

    draw_days(&own, s->today, &s->draws);
    own.week.counted = true;
    struct plot plot = build_with(s, &own, NULL);

    (void) shelf_put(&shelf, evaluate(&plot), plot.arena);
    plot.view.published = &shelf.all;
    const struct db_jobs *before = evaluate(&plot);

    add_one_more(s);
    struct plot more = build_with(s, &own, NULL);
    more.view.published = &shelf.all;
    const struct db_jobs *after = evaluate(&more);

    for (size_t i = 0; i < db_jobs_count(before); i++) {
        const struct db_job *job = db_jobs_at(before, i), *now;
        char name[64];

        (void) db_job_name(before, job, name, sizeof name);
        now = db_jobs_find(after, name);
        moved_by_one += !now || now->on.day != job->on.day;
        standing_by_one += job->state == DB_JOB_OPEN;
    }
    plot_free(&plot);
    plot_free(&more);
    shelf_free(&shelf);
}

static void one_more_moves_few_where_days_are_full(void **state)
{
    const char *given = getenv("SEED");

    (void) state;
    each_garden(60, check_one_more_on_full_days);
    print_message("%zu of %zu jobs made way for the jobs of one more sowing in each garden\n", moved_by_one,
                  standing_by_one);
    if (!given)
        assert_true(moved_by_one * 20 < standing_by_one);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_job_stands_inside_its_window_on_a_day_with_time),
        cmocka_unit_test(a_day_takes_what_its_jobs_say),
        cmocka_unit_test(same_inputs_same_bytes),
        cmocka_unit_test(what_was_put_stays),
        cmocka_unit_test(one_more_moves_nothing_where_there_is_room),
        cmocka_unit_test(one_more_moves_few_where_days_are_full),
    };

    return cmocka_run_group_tests(tests, read_record, NULL);
}
