/* Random gardens under forecasts that wobble from hour to hour: no published job moves more often than docs/models.md,
 * "Calm", allows, whatever the weather does; and a note moves its sowing's jobs at once. SEED=n repeats a garden. */
#include "dewbell/job.h"

#include <inttypes.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "kit/calm.h"
#include "kit/plot.h"
#include "kit/rules.h"

#include "base/banned.h"

enum {
    GARDENS = 6,
    SOWINGS = 10,
    DAYS = 30,
    TIMES = 6,
    BACK = 480,
    AHEAD = 460,
    FORECAST = 9,
    CROPS = 5,
    TRACKS = 4096
};

static const char rules[] =
    "[sow]\njob = Sow {crop} in {bed}\nduring = planned .. planned + 14 days\nrecords = sown\n"
    "[look]\njob = Look for {crop} by {late(up)}\nduring = early(up) .. late(up)\nbest = up\nrecords = up\n"
    "[thin]\njob = Thin {crop}\nfor = raised in drill\nduring = up + 10 days .. up + 24 days\nbest = up + 14 days\n"
    "prefer = sum(rain, 2 days back) > 3 mm\nrecords = thinned\n"
    "[shade]\njob = Shade {crop}\nduring = sown .. up\nwhile = max(soil_high, 2 days ahead) > crop.hot_limit\n"
    "until = soil_high < crop.hot_limit - 4 K\n"
    "[prick-out]\njob = Prick out {crop}\nduring = pricked_out .. pricked_out + 7 days\nrecords = pricked_out\n"
    "[harden]\njob = Harden off {crop}\nduring = hardening .. hardening + 9 days\nhold = low < 2 °C\n"
    "records = hardening\n"
    "[plant-out]\njob = Plant {crop} out in {into}\nduring = planted .. planted + 14 days\n"
    "hold = min(low, 3 days ahead) < 3 °C\nrecords = planted\n"
    "[fleece]\njob = Cover {crop}\nfor = outdoors\nduring = sown .. cleared\nwhile = low_tonight < 4 °C\n"
    "until = low_tonight > 5 °C\nhow = It will be {low_tonight}.\nrecords = covered\n"
    "[pick]\njob = Pick {crop}\nduring = cropping .. cleared\nevery = 7 days\nrecords = picked\n"
    "[lift]\njob = Lift {crop}\nduring = cropping .. cleared\nrecords = cleared\n";

static const char *const crop_names[CROPS] = { "carrot", "lettuce", "kale", "tomato", "rocket" };
static const enum db_way crop_ways[CROPS] = { DB_WAY_DRILL, DB_WAY_PLUGS, DB_WAY_POT, DB_WAY_POT, DB_WAY_DRILL };

static struct {
    struct db_date start;
    double mean, low[BACK + DAYS + AHEAD], wobble[FORECAST + 1];
    struct {
        char id[8];
        int crop, day; /* from the start */
        bool done;
    } sowing[SOWINGS];
    const char *noted, *word; /* sowing that has a note on the day; NULL: none */
} g;
static uint64_t seed, state;
static size_t moves, evaluations;

static uint64_t next(void) /* splitmix64, after Steele, Lea & Flood 2014 */
{
    uint64_t z = state += UINT64_C(0x9e3779b97f4a7c15);

    z = (z ^ z >> 30) * UINT64_C(0xbf58476d1ce4e5b9);
    z = (z ^ z >> 27) * UINT64_C(0x94d049bb133111eb);
    return z ^ z >> 31;
}

static int between(int low, int high)
{
    return low + (int) (next() % (uint64_t) (high - low + 1));
}

static double real(double low, double high)
{
    return low + (high - low) * (double) (next() >> 11) / 9007199254740992.0;
}

static void draw(void)
{
    double drift = 0;

    memset(&g, 0, sizeof g);
    g.start.day = on(2015, 3, 1).day + between(0, 200);
    g.mean = real(6, 13);
    for (int i = 0; i < BACK + DAYS + AHEAD; i++) {
        drift = 0.7 * drift + real(-3, 3);
        g.low[i] = drift;
    }
    for (int i = 0; i < SOWINGS; i++) {
        (void) snprintf(g.sowing[i].id, sizeof g.sowing[i].id, "s%02d", i);
        g.sowing[i].crop = between(0, CROPS - 1);
        g.sowing[i].day = between(-90, 40);
        g.sowing[i].done = g.sowing[i].day < 0 && next() % 4;
    }
}

/* The error of the forecast for each day ahead, larger the farther off, moves by a degree or so from time to time. */
static void wobble(void)
{
    for (int d = 0; d <= FORECAST; d++)
        g.wobble[d] = 0.8 * g.wobble[d] + real(-1, 1) * (1 + 0.3 * d);
}

static struct plot build(int day)
{
    struct plot plot = plot_new(51.5, 0);
    const struct db_bed *bench = plot_bed(&plot, "bench", DB_COVER_INDOORS);
    const struct db_bed *north = plot_bed(&plot, "north", DB_COVER_OPEN);
    struct db_crops *crops = db_crops_new(plot.arena);
    const struct db_date today = db_date_add(g.start, day);

    assert_non_null(crops);
    for (int c = 0; c < CROPS; c++) {
        const struct db_crop_facts crop = kit_crop(crop_names[c]);

        assert_int_equal(db_crops_add(crops, &crop), DB_OK);
    }
    for (int i = 0; i < SOWINGS; i++) {
        const enum db_way way = crop_ways[g.sowing[i].crop];
        const struct db_date sown = db_date_add(g.start, g.sowing[i].day);

        plot_sow(&plot, (struct db_sowing){ .id = g.sowing[i].id,
                                            .crop = db_crops_find(crops, crop_names[g.sowing[i].crop]),
                                            .bed = way == DB_WAY_DRILL ? north : bench,
                                            .into = north,
                                            .way = way,
                                            .planned = sown,
                                            .sown = g.sowing[i].done ? sown : DB_NO_DATE });
    }
    if (g.noted)
        plot_note(&plot, g.noted, g.word, today);
    plot_close_diary(&plot);
    plot_rules(&plot, rules);
    plot_weather(&plot, db_date_add(g.start, -BACK), BACK + DAYS + AHEAD);
    for (int i = -BACK; i < DAYS + AHEAD; i++) {
        const struct db_date date = db_date_add(g.start, i);
        const int lead = i - day;
        const bool known = lead <= FORECAST;
        const enum db_origin origin = lead < 0 ? DB_ORIGIN_OBSERVED : known ? DB_ORIGIN_FORECAST : DB_ORIGIN_CLIMATE;
        const double wave = 7 * cos((date.day - on(2015, 7, 21).day) / 365.2425 * 2 * 3.14159265358979323846);
        const double error = known && lead >= 0 ? g.wobble[lead] : 0;
        const double mean = g.mean + wave + (known ? g.low[i + BACK] + error : 0);

        db_weather_put(plot.weather, date, DB_FIGURE_LOW, origin, mean - 5);
        db_weather_put(plot.weather, date, DB_FIGURE_HIGH, origin, mean + 5);
        db_weather_put(plot.weather, date, DB_FIGURE_RAIN, origin,
                       known && g.low[i + BACK] + error < -2 ? -2 * (g.low[i + BACK] + error) : 0);
    }
    plot.view.today = today;
    return plot;
}

static const struct db_jobs *evaluate(struct plot *plot, const struct shelf *shelf)
{
    const struct db_jobs *jobs = NULL;

    plot->view.published = shelf ? &shelf->all : NULL;
    assert_int_equal(db_garden_evaluate(&plot->view, plot->arena, &jobs), DB_OK);
    return jobs;
}

/* What the check itself remembers of a job, apart from what the engine does. */
static struct track {
    unsigned char identity[16];
    char name[48];
    size_t rule, sowing;
    int32_t first, best, last, moved; /* days; moved INT32_MIN: never */
    enum db_job_state state;
    size_t seen; /* evaluation */
    int32_t day; /* of that evaluation */
} tracks[TRACKS];
static size_t track_count;

static struct track *track_of(const unsigned char identity[16])
{
    size_t i = 0;

    while (i < track_count && memcmp(tracks[i].identity, identity, 16) != 0)
        i++;
    if (i == track_count) {
        assert_true(track_count < TRACKS);
        tracks[track_count++] = (struct track){ .moved = INT32_MIN };
        memcpy(tracks[i].identity, identity, 16);
    }
    return &tracks[i];
}

static size_t called_off; /* jobs of today that their rule came to forbid */
static size_t held_ahead; /* notes that would have put a job of days to come into the past */

static void wrong(const struct track *t, const struct db_job *job, int32_t today, const char *what)
{
    fail_msg("seed %" PRIu64 ", day %d: %s: %s: %d %d %d became %d %d %d (days from today), moved %d", seed,
             today - g.start.day, t->name, what, t->first - today, t->best - today, t->last - today,
             job ? job->first.day - today : 0, job ? job->best.day - today : 0, job ? job->last.day - today : 0,
             t->moved == INT32_MIN ? -999 : t->moved - today);
}

/* `hold` of the two rules above that have one. */
static bool is_forbidden(const struct db_jobs *jobs, const struct db_job *job, int32_t day)
{
    const struct db_view *view = db_jobs_view(jobs);
    const char *rule = db_rule_name(view->rules, job->rule);
    const double *low =
        db_weather_figures(view->weather, 0, DB_FIGURE_LOW) + (day - db_weather_first(view->weather).day);

    if (strcmp(rule, "harden") == 0)
        return low[0] < 2;
    return strcmp(rule, "plant-out") == 0 && fmin(fmin(low[0], low[1]), fmin(low[2], low[3])) < 3;
}

static bool has_hold(const struct db_jobs *jobs, const struct db_job *job)
{
    const char *rule = db_rule_name(db_jobs_view(jobs)->rules, job->rule);

    return strcmp(rule, "harden") == 0 || strcmp(rule, "plant-out") == 0;
}

/* The table, written down a second time. */
static void check_move(const struct db_jobs *jobs, const struct track *t, const struct db_job *job, int32_t today)
{
    const struct db_rules *compiled = db_jobs_view(jobs)->rules;
    const bool spell = db_rule_shape(compiled, job->rule) == DB_SHAPE_WHILE;
    const int32_t off = t->best - today, shift = abs(job->best.day - t->best);
    const int32_t rested = t->moved == INT32_MIN ? 9999 : today - t->moved;

    if (off == 0 && (is_forbidden(jobs, job, t->best) || (has_hold(jobs, job) && job->first.day > today))) {
        called_off++;
        return; /* nobody is sent out into a frost */
    }
    if (off == 0)
        wrong(t, job, today, "today's job moved");
    if (job->best.day < today)
        wrong(t, job, today, "put into the past");
    if (spell && (job->best.day <= today + 1 || off < 0))
        return; /* tonight's frost is never held back */
    if (off <= 3 && off > 0 && is_forbidden(jobs, job, t->best))
        return;
    if (off > 14 &&
        (shift < (off / 20 > 4 ? off / 20 : 4) || (rested < 7 && (job->best.day - today > 3 || rested < 1))))
        wrong(t, job, today, "more than two weeks off: moved by too little or too soon");
    if (off >= 4 && off <= 14 && (shift < 2 || rested < 1))
        wrong(t, job, today, "4 to 14 days off: moved by too little or too soon");
    if (off < 4 && rested < 1)
        wrong(t, job, today, "moved twice in a day");
}

static void check_job(const struct db_jobs *jobs, const struct db_job *job, int32_t today)
{
    unsigned char identity[16];

    if (job->first.day > job->best.day || job->best.day > job->last.day)
        fail_msg("seed %" PRIu64 ": a job outside its window", seed);
    if ((job->state == DB_JOB_MISSED) != (job->last.day < today) && job->state != DB_JOB_DONE)
        fail_msg("seed %" PRIu64 ": a job that is over and not", seed);
    db_job_identity(jobs, job, identity);
    struct track *t = track_of(identity);
    if (t->seen == evaluations)
        fail_msg("seed %" PRIu64 ": two jobs with one identity", seed);
    const bool there = t->seen && t->seen == evaluations - 1;
    if (there && t->best != job->best.day && job->state != DB_JOB_DONE) {
        moves++;
        check_move(jobs, t, job, today);
    }
    if (there && (t->first != job->first.day || t->best != job->best.day || t->last != job->last.day))
        t->moved = today;
    else if (!there)
        t->moved = INT32_MIN;
    (void) db_job_name(jobs, job, t->name, sizeof t->name);
    t->rule = job->rule;
    t->sowing = job->sowing;
    t->first = job->first.day;
    t->best = job->best.day;
    t->last = job->last.day;
    t->state = job->state;
    t->seen = evaluations;
    t->day = today;
}

/* What was there an hour ago and is not over is still there, unless another spell has taken its days over. */
static void check_gone(const struct db_jobs *jobs, int32_t today)
{
    for (size_t i = 0; i < track_count; i++) {
        const struct track *t = &tracks[i];
        bool covered = false;

        if (t->seen != evaluations - 1 || t->day != today || t->last < today || t->state == DB_JOB_DONE ||
            db_rule_shape(db_jobs_view(jobs)->rules, t->rule) == DB_SHAPE_EVERY)
            continue;
        for (size_t j = 0; j < db_jobs_count(jobs); j++) {
            const struct db_job *job = db_jobs_at(jobs, j);

            covered |= job->rule == t->rule && job->sowing == t->sowing && job->first.day <= t->first &&
                       job->last.day >= t->last && (t->best > today + 1 || t->best < today || t->best == job->best.day);
        }
        if (!covered)
            wrong(t, NULL, today, "gone within the day");
    }
}

/* Whether the list that was published still asks for what would be over if it were worked out anew: that stays, and moves what
 * hangs on it. */
static bool is_held_ahead(const struct db_jobs *jobs, const struct db_job *job, const struct shelf *shelf)
{
    const char *records = db_rule_records(db_jobs_view(jobs)->rules, job->rule);
    unsigned char identity[16];

    if (job->state != DB_JOB_MISSED ||
        (strcmp(records, "pricked_out") != 0 && strcmp(records, "hardening") != 0 && strcmp(records, "planted") != 0))
        return false;
    db_job_identity(jobs, job, identity);
    for (size_t i = 0; i < shelf->all.count; i++)
        if (memcmp(shelf->all.rows[i].identity, identity, sizeof identity) == 0)
            return !db_date_known(shelf->all.rows[i].gone) &&
                   shelf->all.rows[i].last.day >= db_jobs_view(jobs)->today.day;
    return false;
}

/* Where every job of a sowing would stand if nothing had been published. */
static void check_note(int day, const struct shelf *shelf)
{
    struct plot plot, fresh;
    size_t found = 0;

    g.noted = g.sowing[between(0, SOWINGS - 1)].id;
    g.word = next() % 2 ? "up" : "watered_by_hand";
    plot = build(day);
    fresh = build(day);
    const struct db_jobs *calm = evaluate(&plot, shelf), *as_worked = evaluate(&fresh, NULL);
    const size_t sowing = db_garden_find_sowing(plot.garden, g.noted);
    bool ahead = false;

    for (size_t i = 0; i < db_jobs_count(as_worked); i++) {
        const struct db_job *job = db_jobs_at(as_worked, i);
        char name[48];

        if (job->sowing != sowing || !is_held_ahead(as_worked, job, shelf))
            continue;
        ahead = true;
        (void) db_job_name(as_worked, job, name, sizeof name);
        if (!db_jobs_find(calm, name) || db_jobs_find(calm, name)->state != DB_JOB_OPEN)
            fail_msg("seed %" PRIu64 ": %s was taken away unasked", seed, name);
    }
    held_ahead += ahead;
    for (size_t i = 0; i < db_jobs_count(as_worked) && !ahead; i++) {
        const struct db_job *job = db_jobs_at(as_worked, i), *same = NULL;
        char name[48];

        if (job->sowing != sowing || db_rule_shape(plot.view.rules, job->rule) == DB_SHAPE_WHILE)
            continue;
        (void) db_job_name(as_worked, job, name, sizeof name);
        same = db_jobs_find(calm, name);
        if (!same || same->first.day != job->first.day || same->best.day != job->best.day ||
            same->last.day != job->last.day || same->state != job->state)
            fail_msg("seed %" PRIu64 ": a note did not move %s at once", seed, name);
        found++;
    }
    (void) found;
    g.noted = NULL;
    plot_free(&plot);
    plot_free(&fresh);
}

static void one_garden(void)
{
    struct shelf shelf = { 0 };

    draw();
    track_count = 0;
    evaluations = 0;
    for (int day = 0; day < DAYS; day++)
        for (int time = 0; time < TIMES; time++) {
            wobble();
            struct plot plot = build(day);
            const struct db_jobs *jobs = evaluate(&plot, &shelf);

            evaluations++;
            for (size_t i = 0; i < db_jobs_count(jobs); i++)
                check_job(jobs, db_jobs_at(jobs, i), plot.view.today.day);
            if (time)
                check_gone(jobs, plot.view.today.day);
            (void) shelf_put(&shelf, jobs, plot.arena);
            /* The same hour again: nothing changes, and the same bytes come out. */
            if (time == 0) {
                struct plot again = build(day);
                struct db_positions none;

                const struct db_jobs *same = evaluate(&again, &shelf);
                assert_int_equal(db_jobs_count(same), db_jobs_count(jobs));
                assert_int_equal(db_jobs_moves(same, again.arena, &none), DB_OK);
                if (none.count)
                    fail_msg("seed %" PRIu64 ": %s/%s moved though nothing had changed", seed, none.rows[0].rule,
                             none.rows[0].sowing);
                plot_free(&again);
            }
            plot_free(&plot);
            if (time == 3)
                check_note(day, &shelf);
        }
    shelf_free(&shelf);
}

static void no_job_moves_more_often_than_it_may(void **ignored)
{
    const char *given = getenv("SEED");
    const uint64_t base = given ? strtoull(given, NULL, 10) : UINT64_C(20260614);

    (void) ignored;
    print_message("seed %" PRIu64 "%s\n", base, given ? "" : " and those after it");
    for (int i = 0; i < (given ? 1 : GARDENS); i++) {
        state = seed = base + (uint64_t) i;
        one_garden();
    }
    print_message("%zu moves seen, %zu of jobs of that day; %zu jobs were not taken away by a note\n", moves,
                  called_off, held_ahead);
    assert_true(given || moves > 100); /* the weather did wobble */
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(no_job_moves_more_often_than_it_may),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
