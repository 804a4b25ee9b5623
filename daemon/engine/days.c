#define DB_PURE
#include "engine/days.h"

#include "base/sort.h"
#include "engine/placing.h"
#include "rules/run.h"

#include <math.h>
#include <string.h>

#include "base/banned.h"

enum {
    AVOIDED = 20,    /* points of a day on which `avoid` holds */
    UNPREFERRED = 5, /* points of a day on which `prefer` does not hold */
    GAP_MOST = 14,   /* days after which what hangs on a job is worked out anew anyway */
    NEAR = 3,        /* days: further off, a forecast that forbids the best day may change its mind again */
    LAST_STEP = 100,
    /* Of days that call for one another in twos or threes the last is the first then: worked out again it stays. */
    ROUNDS = 6
};

struct days {
    struct db_jobs *jobs;
    struct db_arena *scratch;
    const struct db_week *week;
    int32_t today, known; /* known: last day of observed or forecast weather */
    int32_t last_note;    /* day of the last one up to today */
    struct db_placing p;
    struct db_choice *choices;
    struct db_job **job;             /* of each task */
    uint32_t (*led)[DB_STAGE_COUNT]; /* of each sowing and stage: the task that brings it about, counted from 1 */
    uint32_t *latest;                /* of each sowing: its latest task so far, counted from 1 */
    uint32_t *before;                /* of each task: the one of its sowing before it, counted from 1 */
    uint32_t *bed; /* of each sowing, where it is sown and planted: number of the bed in the order of ids */
};

static int32_t days_off(const struct days *d, struct db_date date)
{
    return date.day - d->today;
}

struct db_date db_job_due(const struct db_jobs *jobs, const struct db_job *job)
{
    return job->best.day < jobs->view.today.day ? jobs->view.today : job->best;
}

/* The day that was the job's before today. */
static struct db_date day_before(const struct db_job *job)
{
    return job->published && db_date_known(job->published->on) ? job->published->on : job->best;
}

/* Its day has gone by, and nothing was noted since: who notes nothing may well have done it. */
static bool is_left(const struct days *d, const struct db_job *job)
{
    const struct db_date day = day_before(job);

    return job->state == DB_JOB_OPEN && day.day < d->today && day.day > d->last_note;
}

bool db_job_is_fixed(const struct db_jobs *jobs, const struct db_job *job)
{
    return job->urgency <= (jobs->uses[job->rule].shape == DB_SHAPE_WHILE ? 3 : 2);
}

static bool is_act(int stage)
{
    return stage == DB_STAGE_SOWN || stage == DB_STAGE_PRICKED_OUT || stage == DB_STAGE_HARDENING ||
           stage == DB_STAGE_PLANTED;
}

static int step_of(const struct db_rule_use *use)
{
    return is_act(use->stage) ? db_stage_step((enum db_stage) use->stage) : LAST_STEP;
}

unsigned db_rule_hangs_on(const struct db_rule_use *use)
{
    unsigned stages = 0;

    for (int s = 0; s < DB_STAGE_COUNT; s++)
        if (is_act(s) && db_stage_step((enum db_stage) s) < step_of(use) &&
            (use->after >> s & 1 || step_of(use) < LAST_STEP))
            stages |= 1U << s;
    return stages;
}

/* Its days after the leader's, as they were worked out: one that is late takes what hangs on it along. -1: too far off, or not
 * after it. */
static int32_t gap_of(const struct db_jobs *jobs, const struct db_job *leader, const struct db_job *job)
{
    const int32_t led = leader->best.day, gap = job->first.day - led;

    if (led > db_job_due(jobs, job).day || gap > GAP_MOST)
        return -1;
    return gap > 0 ? gap : 0;
}

bool db_job_leads(const struct db_jobs *jobs, const struct db_job *leader, const struct db_job *job)
{
    const struct db_rule_use *use = &jobs->uses[leader->rule];

    if (leader->sowing == job->sowing && leader->state == DB_JOB_OPEN && jobs->uses[job->rule].follows == leader->rule)
        return true;
    return leader != job && leader->sowing == job->sowing && leader->state == DB_JOB_OPEN && is_act(use->stage) &&
           db_rule_hangs_on(&jobs->uses[job->rule]) >> use->stage & 1 && gap_of(jobs, leader, job) >= 0;
}

/* -- beds ---------------------------------------------------------------------------------------------------------- */

static int by_bed_id(const void *a, const void *b, const void *context)
{
    const struct db_garden *garden = context;

    return strcmp(db_garden_bed(garden, *(const uint32_t *) a)->id, db_garden_bed(garden, *(const uint32_t *) b)->id);
}

/* Numbers that do not hang on the order of the plan. */
static enum db_status number_beds(struct days *d)
{
    const struct db_garden *garden = d->jobs->view.garden;
    const size_t beds = db_garden_beds(garden), sowings = db_garden_sowings(garden);
    uint32_t *order = db_arena_get(d->scratch, beds, sizeof *order),
             *rank = db_arena_get(d->scratch, beds, sizeof *rank);

    d->bed = db_arena_get(d->scratch, 2 * sowings, sizeof *d->bed);
    if (!order || !rank || !d->bed)
        return DB_FULL;
    for (size_t i = 0; i < beds; i++)
        order[i] = (uint32_t) i;
    if (db_sort(order, beds, sizeof *order, by_bed_id, garden, d->scratch) != DB_OK)
        return DB_FULL;
    for (size_t i = 0; i < beds; i++)
        rank[order[i]] = (uint32_t) i;
    for (size_t s = 0; s < sowings; s++) {
        const struct db_sowing *sowing = db_garden_sowing(garden, s);
        const struct db_bed *at[2] = { sowing->bed, sowing->into };

        for (int i = 0; i < 2; i++) {
            const size_t bed = db_garden_find_bed_index(garden, at[i]->id);

            d->bed[2 * s + (size_t) i] = bed == SIZE_MAX ? DB_TASK_NONE : rank[bed];
        }
    }
    return DB_OK;
}

/* -- the days of one job ------------------------------------------------------------------------------------------- */

static bool at_home(const struct days *d, struct db_date date)
{
    return !db_week_away(d->week, date);
}

/* Points of the weather of a day; -1: the rule forbids the day. */
static int32_t weather_of(const struct days *d, const struct db_job *job, struct db_scope *scope, struct db_date day)
{
    const struct db_rules *rules = d->jobs->view.rules;
    const struct db_rule_use *use = &d->jobs->uses[job->rule];

    scope->day = day;
    if (use->holds && (day.day != job->best.day || day.day <= d->today + NEAR) &&
        db_rule_holds(rules, job->rule, DB_CLAUSE_HOLD, scope))
        return -1;
    if (use->avoids && day.day <= d->known && db_rule_holds(rules, job->rule, DB_CLAUSE_AVOID, scope))
        return AVOIDED;
    if (use->prefers && day.day <= d->known && !db_rule_holds(rules, job->rule, DB_CLAUSE_PREFER, scope))
        return UNPREFERRED;
    return 0;
}

/* The day at home that lies nearest to the best one, the earlier of two, among those that the rule does not forbid; the last of
 * them where it forbids all; the best one where none is at home. */
static struct db_date nearest(const struct days *d, const struct db_job *job, struct db_scope *scope,
                              struct db_date from, struct db_date to)
{
    const struct db_date due = db_job_due(d->jobs, job);
    struct db_date last = due;

    for (int32_t i = 0; i <= to.day - from.day; i++) {
        const struct db_date days[2] = { db_date_add(due, -i), db_date_add(due, i) };

        for (int k = 0; k < 2; k++) {
            if (days[k].day < from.day || days[k].day > to.day || !at_home(d, days[k]))
                continue;
            if (weather_of(d, job, scope, days[k]) >= 0)
                return days[k];
            last = days[k].day > last.day || !at_home(d, last) ? days[k] : last;
        }
    }
    return last;
}

static void put_choice(struct days *d, struct db_task *t, int32_t day, int32_t weather)
{
    d->choices[d->p.choice_count++] = (struct db_choice){ day, weather };
    t->choice_count++;
}

/* The first and last of the days that are looked at. */
static void reach(const struct days *d, const struct db_job *job, struct db_date *ret_from, struct db_date *ret_to)
{
    const struct db_date due = db_job_due(d->jobs, job);
    const int32_t from = due.day - DB_DAYS_BEFORE, to = due.day + DB_DAYS_AFTER;

    ret_from->day = job->first.day > from ? job->first.day : from;
    ret_from->day = ret_from->day > d->today ? ret_from->day : d->today;
    ret_to->day = job->last.day < to ? job->last.day : to;
    ret_to->day = ret_to->day > due.day ? ret_to->day : due.day;
}

/* Its days are those with time; where it has none of them, the nearest one at home; else the best one. */
static void choose_days(struct days *d, struct db_task *t, const struct db_job *job)
{
    const struct db_date due = db_job_due(d->jobs, job);
    struct db_scope scope;
    struct db_date from, to;

    t->first_choice = (uint32_t) d->p.choice_count;
    t->choice_count = 0;
    reach(d, job, &from, &to);
    if (!db_job_is_fixed(d->jobs, job) || t->leader != DB_TASK_NONE) {
        db_scope_fill(d->jobs, job->sowing, due, &scope);
        for (struct db_date day = from; day.day <= to.day; day.day++) {
            int32_t weather;

            if (db_week_minutes(d->week, day) == 0)
                continue;
            weather = weather_of(d, job, &scope, day);
            if (weather >= 0)
                put_choice(d, t, days_off(d, day), weather);
        }
        if (t->choice_count == 0)
            put_choice(d, t, days_off(d, nearest(d, job, &scope, from, to)), 0);
    } else {
        put_choice(d, t, days_off(d, due), 0);
    }
}

/* -- the tasks ----------------------------------------------------------------------------------------------------- */

/* What was done today has taken its part of the day. */
static bool is_done_today(const struct days *d, const struct db_job *job)
{
    return job->state == DB_JOB_DONE && job->on.day == d->today && job->done.day == d->today;
}

static bool is_task(const struct days *d, const struct db_job *job)
{
    if (is_left(d, job))
        return false;
    return job->state == DB_JOB_OPEN ? days_off(d, db_job_due(d->jobs, job)) < DB_DAYS_AHEAD - DB_DAYS_AFTER
                                     : is_done_today(d, job);
}

/* Where it was put when it was last published. What did not come from the weather since may put it elsewhere. */
static int32_t stood(const struct days *d, const struct db_job *job)
{
    const struct db_position *p = job->published;
    unsigned char inputs[16];

    if (d->jobs->rounds && d->jobs->uses[job->rule].stage == DB_STAGE_SOWN && d->jobs->put[job->sowing] >= d->today)
        return d->jobs->put[job->sowing] - d->today;
    if (!p || !db_date_known(p->on) || p->on.day < d->today)
        return -1;
    db_job_inputs(d->jobs, job->rule, job->sowing, inputs);
    return memcmp(inputs, p->inputs, sizeof inputs) == 0 ? days_off(d, p->on) : -1;
}

/* Whether it has no other day than its best one. */
static bool is_bound(const struct days *d, const struct db_task *t)
{
    return t->choice_count < 2 && d->choices[t->first_choice].day == t->best;
}

/* What its rule follows comes on a day before it, whatever else it hangs on. */
static void follow(const struct days *d, struct db_task *t, const struct db_job *job)
{
    const size_t follows = d->jobs->uses[job->rule].follows;
    uint32_t at = follows == SIZE_MAX ? 0 : d->latest[job->sowing];

    while (at && (d->job[at - 1]->rule != follows || d->job[at - 1]->state != DB_JOB_OPEN))
        at = d->before[at - 1];
    if (!at)
        return;

    const int32_t gap = job->first.day - d->job[at - 1]->best.day;

    t->leader = at - 1;
    t->gap = gap < 1 ? 1 : gap > GAP_MOST ? GAP_MOST : gap;
}

/* The task before this one that it hangs on: of several the latest. */
static void find_leader(const struct days *d, struct db_task *t, const struct db_job *job)
{
    const unsigned stages = db_rule_hangs_on(&d->jobs->uses[job->rule]);

    t->leader = DB_TASK_NONE;
    for (int s = 0; s < DB_STAGE_COUNT; s++) {
        const uint32_t at = d->led[job->sowing][s];
        const int32_t gap = stages >> s & 1 && at ? gap_of(d->jobs, d->job[at - 1], job) : -1;

        if (gap < 0 || is_bound(d, &d->p.tasks[at - 1]) ||
            (t->leader != DB_TASK_NONE && d->p.tasks[t->leader].best > d->p.tasks[at - 1].best))
            continue;
        t->leader = at - 1;
        t->gap = gap;
    }
    follow(d, t, job);
}

static void add_task(struct days *d, struct db_job *job)
{
    struct db_task *t = &d->p.tasks[d->p.count];
    const int stage = d->jobs->uses[job->rule].stage;

    *t = (struct db_task){ .best = days_off(d, db_job_due(d->jobs, job)),
                           .minutes = (int32_t) ceilf(job->minutes),
                           .stood = -1,
                           .group = { DB_TASK_NONE, DB_TASK_NONE },
                           .leader = DB_TASK_NONE,
                           .first_choice = (uint32_t) d->p.choice_count,
                           .urgency = job->urgency };
    if (job->state == DB_JOB_DONE) {
        t->best = 0;
        put_choice(d, t, 0, 0);
    } else {
        t->stood = stood(d, job);
        t->group[DB_GROUP_BED] = d->bed[2 * job->sowing + job->there];
        if (d->jobs->uses[job->rule].tool != DB_NO_TOOL)
            t->group[DB_GROUP_TOOL] = d->jobs->uses[job->rule].tool;
        if (d->jobs->uses[job->rule].shape != DB_SHAPE_WHILE) /* a spell goes by the weather of its own days */
            find_leader(d, t, job);
        choose_days(d, t, job);
        if (is_act(stage) && !d->led[job->sowing][stage])
            d->led[job->sowing][stage] = (uint32_t) d->p.count + 1;
        d->before[d->p.count] = d->latest[job->sowing];
        d->latest[job->sowing] = (uint32_t) d->p.count + 1;
    }
    d->job[d->p.count++] = job;
}

/* Minutes of what stood on today and was done, and stands there no more: its note took away what asked for it, or ended one spell
 * of weather, and the next goes by its name. */
static enum db_status count_gone(struct days *d)
{
    struct db_jobs *jobs = d->jobs;
    const struct db_positions none = { NULL, 0 }, *published = jobs->view.published ? jobs->view.published : &none;
    const size_t rows = published->count;
    bool *there = db_arena_get(d->scratch, rows, sizeof *there);

    jobs->gone_minutes = 0;
    if (!published->rows)
        return DB_OK;
    if (!there)
        return DB_FULL;
    for (size_t i = 0; i < jobs->count; i++) {
        const struct db_job *job = &jobs->jobs[i];

        if (job->published && job->on.day == d->today && (job->state == DB_JOB_OPEN || is_done_today(d, job)))
            there[job->published - published->rows] = true;
    }
    for (size_t i = 0; i < rows; i++) {
        const struct db_position *p = &published->rows[i];
        const size_t rule = there[i] || p->on.day != d->today ? SIZE_MAX : db_rules_find(jobs->view.rules, p->rule);
        const size_t sowing = rule == SIZE_MAX ? SIZE_MAX : db_garden_find_sowing(jobs->view.garden, p->sowing);
        struct db_scope scope;

        if (sowing == SIZE_MAX ||
            db_diary_last_by(jobs->view.diary, sowing, jobs->uses[rule].records, jobs->view.today).day != d->today)
            continue;
        db_scope_fill(jobs, sowing, jobs->view.today, &scope);
        jobs->gone_minutes += (int32_t) ceilf(db_rule_minutes(jobs->view.rules, rule, &scope));
    }
    return DB_OK;
}

/* Steps that are no stages come after those that are, each after the one that it follows. */
static int place_of(const struct db_jobs *jobs, const struct db_rule_use *use)
{
    int place = step_of(use);

    for (; use->follows != SIZE_MAX; use = &jobs->uses[use->follows])
        place++;
    return place;
}

struct need {
    int step;
    struct db_job *job;
};

static int by_step(const void *a, const void *b, const void *context)
{
    const struct need *x = a, *y = b;

    (void) context;
    return x->step - y->step;
}

/* What others hang on goes first; else they stay in the order of the jobs. */
static enum db_status list_tasks(struct days *d)
{
    struct db_jobs *jobs = d->jobs;
    struct need *needs = db_arena_get(d->scratch, jobs->count, sizeof *needs);
    size_t count = 0, room = 0;

    if (!needs)
        return DB_FULL;
    for (size_t i = 0; i < jobs->count; i++) {
        struct db_job *job = &jobs->jobs[i];
        struct db_date from, to;

        if (!is_task(d, job))
            continue;
        needs[count++] =
            (struct need){ job->state == DB_JOB_OPEN ? place_of(jobs, &jobs->uses[job->rule]) : LAST_STEP, job };
        reach(d, job, &from, &to);
        room += to.day >= from.day ? (size_t) (to.day - from.day) + 1 : 1;
    }
    d->p.tasks = db_arena_get(d->scratch, count, sizeof *d->p.tasks);
    d->job = db_arena_get(d->scratch, count, sizeof *d->job);
    d->p.choices = d->choices = db_arena_get(d->scratch, room, sizeof *d->choices);
    d->led = db_arena_get(d->scratch, db_garden_sowings(jobs->view.garden), sizeof *d->led);
    d->latest = db_arena_get(d->scratch, db_garden_sowings(jobs->view.garden), sizeof *d->latest);
    d->before = db_arena_get(d->scratch, count, sizeof *d->before);
    if (!d->p.tasks || !d->job || !d->choices || !d->led || !d->latest || !d->before ||
        db_sort(needs, count, sizeof *needs, by_step, NULL, d->scratch) != DB_OK)
        return DB_FULL;
    for (size_t i = 0; i < count; i++)
        add_task(d, needs[i].job);
    return DB_OK;
}

/* Away, nothing is counted: whatever has to stay there is for somebody else. */
static enum db_status count_minutes(struct days *d)
{
    int32_t *minutes = db_arena_get(d->scratch, DB_DAYS_AHEAD, sizeof *minutes);

    if (!minutes)
        return DB_FULL;
    for (int32_t i = 0; i < DB_DAYS_AHEAD; i++) {
        const struct db_date date = { d->today + i };

        minutes[i] = at_home(d, date) ? db_week_minutes(d->week, date) : DB_MINUTES_ANY;
    }
    if (minutes[0] > 0) /* what was done today and is gone has taken its part of it, too */
        minutes[0] = minutes[0] > d->jobs->gone_minutes ? minutes[0] - d->jobs->gone_minutes : 0;
    d->p.minutes = minutes;
    d->p.days = DB_DAYS_AHEAD;
    return DB_OK;
}

/* Where nobody chooses: the day of what is done or over stays as it was. */
static void stand(const struct days *d, struct db_job *job)
{
    job->on = job->best;
    job->placed = false;
    if (!d->week->given || job->state == DB_JOB_DONE)
        return;
    if (job->state == DB_JOB_MISSED && job->published && db_date_known(job->published->on)) {
        job->on = job->published->on;
        job->placed = true;
    } else if (job->state == DB_JOB_OPEN) {
        job->on = is_left(d, job) ? day_before(job) : db_job_due(d->jobs, job);
        job->placed = true;
    }
}

/* The day of the last note up to today; that a plan says `sown` is one too. */
static int32_t last_note(const struct db_view *view)
{
    int32_t last = DB_NO_DATE.day;

    for (size_t i = 0; view->diary && i < db_diary_count(view->diary); i++) {
        const struct db_note *note = db_diary_at(view->diary, i);

        if (!note->struck && note->date.day <= view->today.day && note->date.day > last)
            last = note->date.day;
    }
    for (size_t s = 0; s < db_garden_sowings(view->garden); s++) {
        const struct db_date sown = db_garden_sowing(view->garden, s)->sown;

        if (sown.day <= view->today.day && sown.day > last)
            last = sown.day;
    }
    return last;
}

static enum db_status place(struct days *d)
{
    struct db_placing_work work;
    enum db_status status = number_beds(d);

    if (status == DB_OK)
        status = count_gone(d);
    if (status == DB_OK)
        status = count_minutes(d);
    if (status == DB_OK)
        status = list_tasks(d);
    if (status == DB_OK && d->p.count)
        status = db_placing_solve(&d->p, d->scratch, &work);
    for (size_t i = 0; status == DB_OK && i < d->p.count; i++)
        if (d->job[i]->state == DB_JOB_OPEN)
            d->job[i]->on = (struct db_date){ d->today + d->p.tasks[i].day };
    return status;
}

enum db_status db_jobs_put_sowings(struct db_jobs *jobs, struct db_arena *into)
{
    const struct db_positions *published = jobs->view.published;
    const size_t sowings = db_garden_sowings(jobs->view.garden);

    if (!db_garden_week(jobs->view.garden)->given)
        return DB_OK;
    jobs->put = db_arena_get(into, sowings, sizeof *jobs->put);
    jobs->sows = db_arena_get(into, sowings, sizeof *jobs->sows);
    if (!jobs->put || !jobs->sows)
        return DB_FULL;
    for (size_t s = 0; s < sowings; s++)
        jobs->put[s] = DB_NO_DATE.day;
    jobs->clocks.put = jobs->put;
    for (size_t i = 0; published && i < published->count; i++) {
        const struct db_position *p = &published->rows[i];
        const size_t rule = db_date_known(p->on) ? db_rules_find(jobs->view.rules, p->rule) : SIZE_MAX;
        const size_t sowing = rule != SIZE_MAX && jobs->uses[rule].stage == DB_STAGE_SOWN
                                  ? db_garden_find_sowing(jobs->view.garden, p->sowing)
                                  : SIZE_MAX;

        /* One that stood through its day and is over since still says on which day that was. */
        if (sowing != SIZE_MAX && (!db_date_known(p->gone) || p->gone.day > p->on.day) && p->on.day > jobs->put[sowing])
            jobs->put[sowing] = p->on.day;
    }
    return DB_OK;
}

/* A sowing that no job asks for any more is put on no day to come: else what follows it would go by that day until the job is
 * published as gone. Returns whether lives went by one. */
static bool forget_put(struct db_jobs *jobs)
{
    bool anew = false;

    for (size_t s = 0; s < db_garden_sowings(jobs->view.garden); s++) {
        if (jobs->sows[s] || jobs->put[s] < jobs->view.today.day)
            continue;
        anew = anew || jobs->courses[s].life.stage[DB_STAGE_SOWN].likely.day == jobs->put[s];
        jobs->put[s] = DB_NO_DATE.day;
    }
    return anew;
}

bool db_jobs_put_anew(struct db_jobs *jobs)
{
    bool anew = false;

    if (!jobs->put)
        return false;
    memset(jobs->sows, 0, db_garden_sowings(jobs->view.garden) * sizeof *jobs->sows);
    for (size_t i = 0; i < jobs->count; i++)
        if (jobs->uses[jobs->jobs[i].rule].stage == DB_STAGE_SOWN)
            jobs->sows[jobs->jobs[i].sowing] = true;
    for (size_t i = 0; i < jobs->count; i++) {
        const struct db_job *job = &jobs->jobs[i];

        if (job->state == DB_JOB_DONE || !job->placed || jobs->uses[job->rule].stage != DB_STAGE_SOWN ||
            jobs->put[job->sowing] == job->on.day)
            continue;
        anew = anew || jobs->courses[job->sowing].life.stage[DB_STAGE_SOWN].likely.day != job->on.day;
        jobs->put[job->sowing] = job->on.day;
    }
    anew = forget_put(jobs) || anew;
    return anew && ++jobs->rounds < ROUNDS;
}

enum db_status db_jobs_place(struct db_jobs *jobs, struct db_arena *into)
{
    const struct db_week *week = db_garden_week(jobs->view.garden);
    struct days d = { .jobs = jobs,
                      .week = week,
                      .today = jobs->view.today.day,
                      .last_note = week->given ? last_note(&jobs->view) : DB_NO_DATE.day,
                      .known = db_weather_known(jobs->view.weather).day };
    enum db_status status;

    for (size_t i = 0; i < jobs->count; i++)
        stand(&d, &jobs->jobs[i]);
    status = db_sort(jobs->jobs, jobs->count, sizeof *jobs->jobs, db_job_by_day, jobs->ranks, into);
    if (status != DB_OK || !week->given)
        return status;
    d.scratch = db_arena_new(SIZE_MAX);
    status = d.scratch ? place(&d) : DB_FULL;
    (void) db_arena_free(d.scratch);
    if (status == DB_OK)
        status = db_sort(jobs->jobs, jobs->count, sizeof *jobs->jobs, db_job_by_day, jobs->ranks, into);
    return status;
}
