/* A season played day by day: the program sees the plan, what was observed so far, a forecast that errs and the gardener's
 * notes; what really happens follows crops that are off their tables in the weather as it came (truth.h). A simulated
 * gardener does what the day's list says as far as it can be done, and notes it.
 *
 * season GARDEN RULES FROM DAYS GARDENER SEED
 *   GARDEN    a plan whose observed weather is the record (record_ahead must be 0: the forecast is made here)
 *   GARDENER  watchful: notes what shows on the day it shows; obedient: looks only when a job says so; away: obedient, and
 *             gone for two weeks from the 140th day on, which her plan says; silent: does the jobs on their days and notes nothing
 *
 * Prints a line "NAME VALUE" for each figure, and what went wrong in words on standard error. */
#include "season/acts.h"
#include "season/truth.h"

#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "kit/erring.h"
#include "write/write.h"

enum { SEEN_MOST = 16384, ROUNDS = 6, AWAY_FROM = 140, AWAY_DAYS = 14, LOOK_BACK = 7 };

enum gardener { WATCHFUL, OBEDIENT, AWAY, SILENT, GARDENERS };
static const char *const gardener_words[GARDENERS] = { "watchful", "obedient", "away", "silent" };

/* A job as the gardener came to know it. */
struct seen {
    unsigned char identity[16];
    char name[96];
    bool could;   /* on some day it stood on the list, could have been done, and there was time for it */
    bool pressed; /* on some day all but the time was there: its own day had gone by, and today's jobs come first */
    bool open;    /* on some day at home its window was open and it could have been done, wherever it stood */
    bool missed;  /* it was given up undone */
    bool done;    /* by a gardener who notes nothing */
    bool soon;    /* it stood on a day before the step under it was done */
    bool stood;   /* it was open on a day that had come */
};

/* What the program said of a stage some days before it came. */
struct said {
    struct db_date up, planted, cropping;
};

static struct play {
    enum gardener gardener;
    struct db_estate estate;
    struct truth *truth;
    struct acts done, noted; /* what was really done; what the program knows of it */
    struct seen seen[SEEN_MOST];
    size_t seen_count;
    struct said (*said)[LOOK_BACK + 1]; /* of each sowing, on the last days */
    struct db_position *positions;
    struct db_positions published;
    bool away;
    bool *board; /* of each sowing: lies on it */
    /* figures */
    size_t jobs_done, missed, missed_excused, missed_open, days_over, days_unsaid, boards, board_late, board_days_late,
        tender, frosted, busiest, visits;
    size_t frost_met, frost_unwarned, missed_pressed, eased, too_soon;
    bool *killed; /* of each sowing: its first frost of autumn has been */
    double minutes, most_minutes, all_minutes, minutes_over, minutes_had;
    bool unsaid; /* a job of today went beyond its minutes, and the list did not say so */
    size_t up_count, up_worst, crop_count, crop_worst;
    double up_sum, crop_sum;
} play;

static _Noreturn void fail(const char *what)
{
    (void) fprintf(stderr, "season: %s\n", what);
    exit(1);
}

static void need(bool good, const char *what)
{
    if (!good)
        fail(what);
}

/* It happened; whoever notes, notes it. */
static void happened(size_t sowing, const char *word, struct db_date date)
{
    acts_put(&play.done, sowing, word, date);
    if (play.gardener != SILENT)
        acts_put(&play.noted, sowing, word, date);
}

/* -- one evaluation -------------------------------------------------------------------------------------------------- */

static char *copy(const char *text)
{
    char *ret = strdup(text);

    need(ret, "out of memory");
    return ret;
}

static void remember(const struct db_jobs *jobs, struct db_arena *work)
{
    struct db_positions moves;

    need(db_jobs_moves(jobs, work, &moves) == DB_OK, "the moves were not found");
    for (size_t i = 0; i < moves.count; i++) {
        size_t at = 0;

        while (at < play.published.count && memcmp(play.positions[at].identity, moves.rows[i].identity, 16) != 0)
            at++;
        if (at == play.published.count) {
            play.positions = realloc(play.positions, ++play.published.count * sizeof *play.positions);
            need(play.positions, "out of memory");
        } else {
            free((void *) (uintptr_t) play.positions[at].rule);
            free((void *) (uintptr_t) play.positions[at].sowing);
        }
        play.positions[at] = moves.rows[i];
        play.positions[at].rule = copy(moves.rows[i].rule);
        play.positions[at].sowing = copy(moves.rows[i].sowing);
    }
    play.published.rows = play.positions;
}

static struct seen *seen_of(const struct db_jobs *jobs, const struct db_job *job)
{
    unsigned char identity[16];
    struct seen *seen;

    db_job_identity(jobs, job, identity);
    for (size_t i = 0; i < play.seen_count; i++)
        if (memcmp(play.seen[i].identity, identity, 16) == 0)
            return &play.seen[i];
    need(play.seen_count + 1 < SEEN_MOST, "too many jobs");
    seen = &play.seen[play.seen_count++];
    memcpy(seen->identity, identity, 16);
    (void) db_job_name(jobs, job, seen->name, sizeof seen->name);
    return seen;
}

/* -- the gardener ---------------------------------------------------------------------------------------------------- */

/* Nothing comes of what was only planned. */
static bool is_sown(size_t sowing, struct db_date today)
{
    const struct db_date sown = db_garden_sowing(play.estate.garden, sowing)->sown;

    return db_date_known(acts_when(&play.done, sowing, "sown")) || (db_date_known(sown) && sown.day <= today.day);
}

static bool truly(size_t sowing, enum db_stage stage, struct db_date today)
{
    const struct db_date day = truth_day(play.truth, sowing, stage);

    return is_sown(sowing, today) && db_date_known(day) && day.day <= today.day;
}

/* Plants go up the ladder of hardening off step by step: who were not out by day yet do not stay out at night. */
static bool is_too_soon(size_t sowing, const char *word, struct db_date today)
{
    const bool night = strcmp(word, "out_at_night") == 0, full = strcmp(word, "out_in_full") == 0;
    const struct db_date below = acts_when(&play.done, sowing, night ? "hardening" : "out_at_night");

    return (night || full) && (!db_date_known(below) || below.day >= today.day);
}

/* Whether it can be done at all on that day: nobody thins a row that has not come up. */
static bool possible(const struct db_jobs *jobs, const struct db_job *job, struct db_date today)
{
    const char *word = db_rule_records(play.estate.rules, job->rule);
    const int stage = db_stage_find(word);
    const bool sown = is_sown(job->sowing, today);

    (void) jobs;
    if (strcmp(word, "unshaded") == 0 && !play.board[job->sowing])
        return false;
    if (is_too_soon(job->sowing, word, today))
        return false;
    if (stage == DB_STAGE_SOWN)
        return !sown;
    if (!sown)
        return false;
    if (stage == DB_STAGE_UP || stage == DB_STAGE_ROOTED || stage == DB_STAGE_CROPPING)
        return truly(job->sowing, (enum db_stage) stage, today);
    if (strcmp(word, "looked") == 0 || strcmp(word, "shaded") == 0 || strcmp(word, "fleeced") == 0 ||
        strcmp(word, "watered") == 0)
        return true;
    return db_garden_sowing(play.estate.garden, job->sowing)->way == DB_WAY_SETS ||
           truly(job->sowing, DB_STAGE_UP, today);
}

/* Whether the forecast of the days to come showed a frost that hurts it. */
static bool forecast_hurts(const struct db_view *view, size_t sowing)
{
    const struct db_crop_facts *crop = db_garden_sowing(view->garden, sowing)->crop;
    const double *low = db_weather_figures(view->weather, 0, DB_FIGURE_LOW);
    const struct db_bed *into = db_garden_sowing(view->garden, sowing)->into;
    const double limit = crop->low[DB_FACT_FROST_LIMIT];

    if (isnan(limit) || limit < 0)
        return false;
    for (int d = 1; d <= 4; d++)
        if (low[view->today.day + d - db_weather_first(view->weather).day] + db_cover_effect(into->cover).night <=
            limit)
            return true;
    return false;
}

/* Whether the day's list says that it is too long. */
static bool says_over(const struct db_jobs *jobs)
{
    struct db_arena *arena = db_arena_new((size_t) 1 << 28);
    struct db_bytes text = { 0 };
    bool said;

    need(arena && db_digest_day(jobs, db_jobs_view(jobs)->today, DB_TELLING_LINES, arena, &text) == DB_OK,
         "the day was not told");
    said = strstr(text.data, " more than the ") || strstr(text.data, " has no time for the ");
    db_bytes_free(&text);
    (void) db_arena_free(arena);
    return said;
}

/* Whether this job goes beyond the minutes of the day, with those before it. */
static bool goes_over(const struct db_jobs *jobs, const struct db_job *job)
{
    const int32_t has = db_week_minutes(db_garden_week(play.estate.garden), db_jobs_view(jobs)->today);

    return has >= 0 && play.minutes + (double) job->minutes > has + 0.01;
}

static void do_job(const struct db_jobs *jobs, const struct db_job *job, struct seen *seen)
{
    const struct db_view *view = db_jobs_view(jobs);
    const char *word = db_rule_records(play.estate.rules, job->rule);
    const char *name = db_rule_name(play.estate.rules, job->rule);

    if (strcmp(name, "lay-the-board") == 0 || strcmp(name, "sow-in-the-evening") == 0)
        play.board[job->sowing] = true;
    if (strcmp(word, "unshaded") == 0)
        play.board[job->sowing] = false;
    play.boards += play.board[job->sowing] && strcmp(word, "sown") == 0;
    if (db_garden_week(view->garden)->given && !says_over(jobs) && goes_over(jobs, job)) {
        char today[11];

        play.unsaid = true;
        (void) fprintf(stderr, "%s: no time was left for %s, and the list did not say so\n",
                       db_date_iso(view->today, today), seen->name);
    }
    happened(job->sowing, word, view->today);
    if (db_rule_also(play.estate.rules, job->rule))
        happened(job->sowing, db_rule_also(play.estate.rules, job->rule), view->today);
    /* Who looks under a board and finds seedlings does what the job says then. */
    if (strcmp(name, "look-under-the-board") == 0 && truly(job->sowing, DB_STAGE_UP, view->today)) {
        play.board[job->sowing] = false;
        if (!db_date_known(acts_when(&play.noted, job->sowing, "up")))
            happened(job->sowing, "up", view->today);
        happened(job->sowing, "unshaded", view->today);
    }
    seen->done = true;
    play.jobs_done++;
    play.minutes += job->minutes;
    if (strcmp(word, "planted") == 0 && forecast_hurts(view, job->sowing)) {
        play.tender++;
        char today[11];

        (void) fprintf(stderr, "%s: %s planted although the forecast shows a frost that hurts it\n",
                       db_date_iso(view->today, today), seen->name);
    }
}

/* What shows today is noted by who looks at everything every day. */
static void look_around(struct db_date today)
{
    static const enum db_stage shows[] = { DB_STAGE_UP, DB_STAGE_CROPPING };

    for (size_t s = 0; s < db_garden_sowings(play.estate.garden); s++)
        for (size_t i = 0; i < sizeof shows / sizeof shows[0]; i++)
            if (truly(s, shows[i], today) && !db_date_known(acts_when(&play.noted, s, db_stage_word(shows[i]))))
                happened(s, db_stage_word(shows[i]), today);
}

/* One look at the list: does what can be done, and what is open from earlier days as far as there is time left. Returns whether anything was. */
static bool work_through(const struct db_jobs *jobs, size_t *tries)
{
    const struct db_date today = db_jobs_view(jobs)->today;
    bool any = false;

    for (size_t k = 0; k < 2 * db_jobs_count(jobs); k++) {
        const bool left = k >= db_jobs_count(jobs);
        const struct db_job *job = db_jobs_at(jobs, k % db_jobs_count(jobs));
        struct seen *seen = seen_of(jobs, job);

        if (left != (job->on.day < today.day))
            continue;
        if (job->state == DB_JOB_OPEN && !play.away && job->first.day <= today.day && job->last.day >= today.day &&
            !seen->open && possible(jobs, job, today))
            seen->open = true;
        if (job->state != DB_JOB_OPEN || job->on.day > today.day || job->last.day < today.day)
            continue;
        (*tries)++;
        if (play.gardener == SILENT && seen->done)
            continue;
        if (!possible(jobs, job, today)) {
            if (!left && !seen->soon &&
                is_too_soon(job->sowing, db_rule_records(play.estate.rules, job->rule), today)) {
                char iso[11];

                seen->soon = true;
                play.too_soon++;
                (void) fprintf(stderr, "%s: %s stood before the step under it was done\n", db_date_iso(today, iso),
                               seen->name);
            }
            continue;
        }
        if (left && goes_over(jobs, job)) {
            seen->pressed = true;
            continue;
        }
        seen->could = true;
        if (play.away)
            continue;
        do_job(jobs, job, seen);
        any = true;
        if (db_stage_find(db_rule_records(play.estate.rules, job->rule)) >= 0)
            return true; /* a stage moves what follows: look at the list anew */
    }
    return any;
}

static void count_missed(const struct db_jobs *jobs)
{
    for (size_t i = 0; i < db_jobs_count(jobs); i++) {
        const struct db_job *job = db_jobs_at(jobs, i);
        struct seen *seen = seen_of(jobs, job);
        char first[11], last[11], today[11];

        seen->stood |= job->state == DB_JOB_OPEN && job->on.day <= db_jobs_view(jobs)->today.day;
        if (job->state != DB_JOB_MISSED || seen->missed || (play.gardener == SILENT && seen->done))
            continue;
        seen->missed = true;
        /* The weather eased by the day on which its spell was to stand: nothing was left to be done. */
        if (db_rule_shape(play.estate.rules, job->rule) == DB_SHAPE_WHILE && !seen->stood) {
            play.eased++;
            continue;
        }
        if (seen->open) {
            play.missed_open++;
            (void) fprintf(stderr, "%s: not done on any day at home: %s (%s to %s)\n",
                           db_date_iso(db_jobs_view(jobs)->today, today), seen->name, db_date_iso(job->first, first),
                           db_date_iso(job->last, last));
        }
        if (!seen->could) { /* never while it stood on the list */
            play.missed_excused += !seen->pressed;
            play.missed_pressed += seen->pressed;
            continue;
        }
        play.missed++;
        (void) fprintf(stderr, "%s: missed %s (%s to %s)\n", db_date_iso(db_jobs_view(jobs)->today, today), seen->name,
                       db_date_iso(job->first, first), db_date_iso(job->last, last));
    }
}

/* Whether the list has a job of today that says so, or had one whose note still answers it. */
static bool warned(const struct db_jobs *jobs, size_t sowing)
{
    static const char *const rules[] = { "fleece-tender-plants", "pick-before-the-frost", "bring-in-before-frost" };
    const struct db_date today = db_jobs_view(jobs)->today;

    for (size_t i = 0; i < db_jobs_count(jobs); i++) {
        const struct db_job *job = db_jobs_at(jobs, i);

        for (size_t r = 0; job->sowing == sowing && r < sizeof rules / sizeof rules[0]; r++)
            if (job->first.day <= today.day && today.day <= job->last.day &&
                strcmp(db_rule_name(play.estate.rules, job->rule), rules[r]) == 0)
                return true;
    }
    return false;
}

/* The first frost of autumn on a tender crop that still stands in the open: did the list say so by the evening before? */
static void meet_first_frost(const struct db_jobs *jobs, size_t s, struct db_date today)
{
    const struct db_sowing *sowing = db_garden_sowing(play.estate.garden, s);
    const bool tray = sowing->way == DB_WAY_PLUGS || sowing->way == DB_WAY_POT;
    const double limit = sowing->crop->low[DB_FACT_FROST_LIMIT];
    int month;

    db_date_parts(today, NULL, &month, NULL);
    if (month < 8 || play.killed[s] || isnan(limit) || limit < 0 || sowing->way == DB_WAY_SETS ||
        sowing->into->cover != DB_COVER_OPEN || db_date_known(acts_when(&play.done, s, "cleared")) ||
        !(tray ? db_date_known(acts_when(&play.done, s, "planted")) : truly(s, DB_STAGE_UP, today)) ||
        truth_low(play.truth, db_date_add(today, 1)) > -1)
        return;
    play.killed[s] = true;
    play.frost_met++;
    if (!warned(jobs, s)) {
        char iso[11];

        play.frost_unwarned++;
        (void) fprintf(stderr, "%s: %s was lost to the first frost, and the list did not warn of it\n",
                       db_date_iso(today, iso), sowing->id);
    }
}

/* A board that lies on seedlings, and tender plants that stood in frost uncovered. */
static void walk_round(const struct db_jobs *jobs, struct db_date today)
{
    for (size_t s = 0; s < db_garden_sowings(play.estate.garden); s++) {
        const struct db_sowing *sowing = db_garden_sowing(play.estate.garden, s);
        const struct db_date planted = acts_when(&play.done, s, "planted"),
                             fleeced = acts_when(&play.done, s, "fleeced"),
                             taken_off = acts_when(&play.done, s, "unfleeced");
        const double limit = sowing->crop->low[DB_FACT_FROST_LIMIT];

        if (play.board[s] && truly(s, DB_STAGE_UP, today)) { /* it is evening: who looks, sees them today */
            play.board_days_late++;
            play.board_late += truth_day(play.truth, s, DB_STAGE_UP).day == today.day;
        }
        if (db_date_known(planted) && !isnan(limit) && limit >= 0 && sowing->into->cover == DB_COVER_OPEN &&
            today.day < planted.day + 120 &&
            truth_low(play.truth, db_date_add(today, 1)) <= limit - 1 - (limit > 0 ? limit : 0) &&
            (!db_date_known(fleeced) || taken_off.day >= fleeced.day))
            play.frosted++;
        meet_first_frost(jobs, s, today);
    }
}

/* How far off the program's date was a week before. */
static void judge(const struct db_jobs *jobs, struct db_date today)
{
    for (size_t s = 0; s < db_garden_sowings(play.estate.garden); s++) {
        const struct db_life *life = db_jobs_life(jobs, s);
        struct said *now = &play.said[s][today.day % (LOOK_BACK + 1)];
        const struct said *before = &play.said[s][(today.day + 1) % (LOOK_BACK + 1)];
        const struct db_date up = truth_day(play.truth, s, DB_STAGE_UP),
                             crop = truth_day(play.truth, s, DB_STAGE_CROPPING);

        if (up.day == today.day && db_date_known(before->up)) {
            const size_t off = (size_t) abs(before->up.day - up.day);

            play.up_count++;
            play.up_sum += (double) off;
            play.up_worst = off > play.up_worst ? off : play.up_worst;
        }
        if (crop.day == today.day && db_date_known(before->cropping)) {
            const size_t off = (size_t) abs(before->cropping.day - crop.day);

            play.crop_count++;
            play.crop_sum += (double) off;
            play.crop_worst = off > play.crop_worst ? off : play.crop_worst;
        }
        now->up = life->stage[DB_STAGE_UP].likely;
        now->planted = life->stage[DB_STAGE_PLANTED].likely;
        now->cropping = life->stage[DB_STAGE_CROPPING].likely;
    }
}

static void live_day(const struct db_view *view, struct db_arena *work)
{
    const struct db_jobs *jobs = NULL;
    bool again = true;

    play.minutes = 0;
    play.unsaid = false;
    size_t tries = 0;
    for (int round = 0; again && round < 200; round++) {
        struct db_view own = *view;

        own.diary = acts_diary(&play.noted, play.estate.garden, work);
        own.published = play.published.count ? &play.published : NULL;
        truth_look(play.truth, acts_diary(&play.done, play.estate.garden, work), view->today, work);
        if (round == 0 && play.gardener == WATCHFUL && !play.away) {
            look_around(view->today);
            own.diary = acts_diary(&play.noted, play.estate.garden, work);
        }
        need(db_garden_evaluate(&own, work, &jobs) == DB_OK, "the garden was not evaluated");
        if (round == 0)
            judge(jobs, view->today);
        again = work_through(jobs, &tries);
        remember(jobs, work);
    }
    need(!again, "the list of one day never ends");
    const int32_t has = db_week_minutes(db_garden_week(play.estate.garden), view->today);
    play.all_minutes += play.minutes;
    play.minutes_had += has > 0 ? has : 0;
    if (has >= 0 && play.minutes > has + 0.01) {
        play.days_over++;
        play.minutes_over += play.minutes - has;
        play.days_unsaid += play.unsaid;
    }
    play.visits += play.minutes > 0;
    play.most_minutes = play.minutes > play.most_minutes ? play.minutes : play.most_minutes;
    count_missed(jobs);
    walk_round(jobs, view->today);
}

static int64_t numeral(const char *text)
{
    char *end;
    const long long number = strtoll(text, &end, 10);

    need(*text && !*end, "a number is needed");
    return number;
}

static void print(void)
{
    printf("done %zu\nmissed %zu\nmissed_at_home %zu\nnever_possible %zu\nno_time_left %zu\neased %zu\n"
           "steps_too_soon %zu\n",
           play.jobs_done, play.missed, play.missed_open, play.missed_excused, play.missed_pressed, play.eased,
           play.too_soon);
    printf("boards %zu\nboards_late %zu\nboard_days_late %zu\n", play.boards, play.board_late, play.board_days_late);
    printf("tender_into_frost %zu\nnights_uncovered %zu\n", play.tender, play.frosted);
    printf("frost_met %zu\nfrost_unwarned %zu\n", play.frost_met, play.frost_unwarned);
    printf("working_days %zu\nhours %.0f\nhours_in_plan %.0f\nmost_minutes %.0f\n", play.visits, play.all_minutes / 60,
           play.minutes_had / 60, play.most_minutes);
    printf("days_over %zu\nhours_over %.1f\ndays_over_unsaid %zu\n", play.days_over, play.minutes_over / 60,
           play.days_unsaid);
    printf("up_judged %zu\nup_off_mean %.2f\nup_off_worst %zu\n", play.up_count,
           play.up_count ? play.up_sum / (double) play.up_count : 0, play.up_worst);
    printf("crop_judged %zu\ncrop_off_mean %.2f\ncrop_off_worst %zu\n", play.crop_count,
           play.crop_count ? play.crop_sum / (double) play.crop_count : 0, play.crop_worst);
}

int main(int argc, char **argv)
{
    struct db_arena *arena = db_arena_new((size_t) 1 << 30);
    struct db_mistakes *mistakes = arena ? db_mistakes_new(arena) : NULL;
    struct erring errors;
    struct db_weather *record;
    struct db_date from;

    need(argc == 7 && mistakes, "GARDEN RULES FROM DAYS GARDENER SEED");
    need(db_date_read(argv[3], strlen(argv[3]), &from) == DB_OK, "FROM is no date");
    const int days = (int) numeral(argv[4]);
    const uint64_t seed = (uint64_t) numeral(argv[6]);
    while (play.gardener < GARDENERS && strcmp(gardener_words[play.gardener], argv[5]) != 0)
        play.gardener++;
    need(play.gardener < GARDENERS, "GARDENER is watchful, obedient, away or silent");
    need(db_estate_read(argv[1], argv[2], arena, mistakes, &play.estate) == DB_OK, "the plan has mistakes");
    need(db_estate_weather(&play.estate, db_date_add(from, days + ERRING_AHEAD), arena, mistakes, &record) == DB_OK,
         "the record has mistakes");
    play.truth = truth_new(&play.estate, record, 0.15, seed, arena);
    play.said = calloc(db_garden_sowings(play.estate.garden), sizeof *play.said);
    play.board = calloc(db_garden_sowings(play.estate.garden), sizeof *play.board);
    play.killed = calloc(db_garden_sowings(play.estate.garden), sizeof *play.killed);
    need(play.said && play.board && play.killed, "out of memory");
    for (size_t s = 0; s < db_garden_sowings(play.estate.garden); s++)
        for (int d = 0; d <= LOOK_BACK; d++)
            play.said[s][d] = (struct said){ DB_NO_DATE, DB_NO_DATE, DB_NO_DATE };
    erring_begin(&errors, from, seed + 1);
    for (int day = 0; day < days; day++) {
        const struct db_date today = db_date_add(from, day);
        struct db_arena *work = db_arena_new((size_t) 1 << 30);
        struct db_told_day told_days[ERRING_AHEAD];
        const struct db_told told = { .source = "made for the test", .days = told_days, .count = ERRING_AHEAD };
        struct db_weather *weather;

        need(work, "out of memory");
        erring_step(&errors, today.day, 24);
        erring_tell(record, &errors, 6, 1, told_days);
        play.estate.told = &told;
        play.away = play.gardener == AWAY && day >= AWAY_FROM && day < AWAY_FROM + AWAY_DAYS;
        need(db_estate_weather(&play.estate, today, work, mistakes, &weather) == DB_OK, "the weather has mistakes");
        live_day(
            &(struct db_view){
                .garden = play.estate.garden, .rules = play.estate.rules, .weather = weather, .today = today },
            work);
        work = db_arena_free(work);
    }
    print();
    return 0;
}
