#define DB_PURE
#include "base/limits.h"
#include "base/sort.h"
#include "engine/days.h"
#include "engine/plot.h"
#include "engine/water.h"
#include "rules/run.h"

#include <string.h>

#include "base/banned.h"

static int by_id(const void *a, const void *b, const void *context)
{
    const struct db_garden *garden = context;

    return strcmp(db_garden_sowing(garden, *(const uint32_t *) a)->id,
                  db_garden_sowing(garden, *(const uint32_t *) b)->id);
}

/* The place of each sowing in the order of ids, so that jobs are sorted by numbers. */
static enum db_status rank_sowings(struct db_jobs *jobs, struct db_arena *into)
{
    const struct db_garden *garden = jobs->view.garden;
    const size_t count = db_garden_sowings(garden);
    uint32_t *order = db_arena_get(into, count, sizeof *order), *ranks = db_arena_get(into, count, sizeof *ranks);

    if (!order || !ranks)
        return DB_FULL;
    for (size_t i = 0; i < count; i++)
        order[i] = (uint32_t) i;
    if (db_sort(order, count, sizeof *order, by_id, garden, into) != DB_OK)
        return DB_FULL;
    for (size_t i = 0; i < count; i++)
        ranks[order[i]] = (uint32_t) i;
    jobs->ranks = ranks;
    return DB_OK;
}

/* Day, rule (they are held in order of name), sowing's id, occurrence: no trace of the plan's order. */
int db_job_by_day(const void *a, const void *b, const void *context)
{
    const struct db_job *x = a, *y = b;
    const uint32_t *ranks = context;

    if (x->on.day != y->on.day)
        return x->on.day < y->on.day ? -1 : 1;
    if (x->rule != y->rule)
        return x->rule < y->rule ? -1 : 1;
    if (x->sowing != y->sowing)
        return ranks[x->sowing] < ranks[y->sowing] ? -1 : 1;
    return (x->occurrence > y->occurrence) - (x->occurrence < y->occurrence);
}

static enum db_status lay_out(struct db_jobs *jobs, const struct db_job_list *list, struct db_arena *into)
{
    jobs->jobs = db_arena_get(into, list->count, sizeof *jobs->jobs);
    if (!jobs->jobs)
        return DB_FULL;
    for (const struct db_job_batch *batch = list->first; batch; batch = batch->next) {
        memcpy(jobs->jobs + jobs->count, batch->jobs, batch->count * sizeof *batch->jobs);
        jobs->count += batch->count;
    }
    return DB_OK;
}

/* Lives, then jobs, then the days that these stand on. */
static enum db_status work_once(struct db_jobs *jobs, struct db_arena *into)
{
    const size_t sowings = db_garden_sowings(jobs->view.garden);
    struct db_job_list list = { .arena = into };
    enum db_status status;

    jobs->count = 0;
    jobs->pump = db_pump_new(&jobs->clocks, jobs->courses, into);
    if (!jobs->pump)
        return DB_FULL;
    for (size_t s = 0; s < sowings; s++) {
        memset(&jobs->courses[s], 0, sizeof jobs->courses[s]);
        if ((status = db_course_work(&jobs->clocks, s, &jobs->courses[s])) != DB_OK)
            return status;
    }
    if ((status = db_courses_pool(&jobs->clocks, jobs->courses)) != DB_OK)
        return status;
    if ((status = db_succession_work(jobs, into, &jobs->following)) != DB_OK ||
        (status = db_plot_work(jobs, into, &jobs->plot)) != DB_OK)
        return status;
    for (size_t s = 0; s < sowings; s++) /* what stands beside a sowing may count: all courses come first */
        if ((status = db_jobs_gather(jobs, s, &list)) != DB_OK || (status = db_pump_status(jobs->pump)) != DB_OK)
            return status;
    if ((status = lay_out(jobs, &list, into)) != DB_OK)
        return status;
    if (jobs->view.published && jobs->view.published->count && (status = db_jobs_calm(jobs, into)) != DB_OK)
        return status;
    return db_jobs_place(jobs, into);
}

enum db_status db_garden_evaluate(const struct db_view *view, struct db_arena *into, const struct db_jobs **ret_jobs)
{
    const size_t sowings = db_garden_sowings(view->garden);
    struct db_jobs *jobs = db_arena_get(into, 1, sizeof *jobs);
    const struct db_rule_use *uses;
    enum db_status status;

    if (!jobs)
        return DB_FULL;
    jobs->view = *view;
    if (!(jobs->warmths = db_arena_get(into, 1, sizeof *jobs->warmths)))
        return DB_FULL;
    if ((status = db_clocks_begin(&jobs->clocks, &jobs->view, into)) != DB_OK)
        return status;
    if ((status = rank_sowings(jobs, into)) != DB_OK)
        return status;
    uses = db_rule_uses(view->rules, into);
    jobs->uses = uses;
    jobs->courses = db_arena_get(into, sowings, sizeof *jobs->courses);
    jobs->words = db_arena_get(into, sowings, sizeof *jobs->words);
    jobs->inputs = db_arena_get(into, sowings, sizeof *jobs->inputs);
    if (!uses || !jobs->courses || !jobs->words || !jobs->inputs)
        return DB_FULL;
    for (size_t s = 0; s < sowings; s++) {
        db_sowing_words(db_garden_sowing(view->garden, s), jobs->words[s]);
        db_sowing_inputs(jobs, s, jobs->inputs[s]);
    }
    if ((status = db_jobs_put_sowings(jobs, into)) != DB_OK)
        return status;
    /* What follows a sowing goes by the day on which that is put, which is found out at the end: seldom more than twice. */
    do {
        jobs->held_ahead = false;
        if ((status = work_once(jobs, into)) != DB_OK)
            return status;
    } while (db_jobs_put_anew(jobs) || jobs->held_ahead);
    *ret_jobs = jobs;
    return DB_OK;
}

size_t db_jobs_count(const struct db_jobs *jobs)
{
    return jobs->count;
}

const struct db_job *db_jobs_at(const struct db_jobs *jobs, size_t index)
{
    return index < jobs->count ? &jobs->jobs[index] : NULL;
}

size_t db_jobs_from(const struct db_jobs *jobs, struct db_date from)
{
    size_t low = 0, high = jobs->count;

    while (low < high) {
        const size_t middle = low + (high - low) / 2;

        if (jobs->jobs[middle].on.day < from.day)
            low = middle + 1;
        else
            high = middle;
    }
    return low;
}

const struct db_view *db_jobs_view(const struct db_jobs *jobs)
{
    return &jobs->view;
}

const struct db_life *db_jobs_life(const struct db_jobs *jobs, size_t sowing)
{
    return sowing < db_garden_sowings(jobs->view.garden) ? &jobs->courses[sowing].life : NULL;
}

static const char *fill_in(const struct db_jobs *jobs, const struct db_job *job, enum db_template which,
                           struct db_arena *into)
{
    struct db_scope scope;

    db_scope_fill(jobs, job->sowing, job->on, &scope);
    return db_rule_text(jobs->view.rules, job->rule, which, &scope, into);
}

const char *db_job_summary(const struct db_jobs *jobs, const struct db_job *job, struct db_arena *into)
{
    return fill_in(jobs, job, DB_TEMPLATE_JOB, into);
}

const char *db_job_how(const struct db_jobs *jobs, const struct db_job *job, struct db_arena *into)
{
    return fill_in(jobs, job, DB_TEMPLATE_HOW, into);
}

const char *db_job_caution(const struct db_jobs *jobs, const struct db_job *job, struct db_arena *into)
{
    return fill_in(jobs, job, DB_TEMPLATE_CAUTION, into);
}

static const char *fill_in_if(const struct db_jobs *jobs, const struct db_job *job, enum db_template which,
                              struct db_arena *into)
{
    return db_rule_has_text(jobs->view.rules, job->rule, which) ? fill_in(jobs, job, which, into) : "";
}

const char *db_job_round(const struct db_jobs *jobs, const struct db_job *job, struct db_arena *into)
{
    return fill_in_if(jobs, job, DB_TEMPLATE_ROUND, into);
}

const char *db_job_item(const struct db_jobs *jobs, const struct db_job *job, struct db_arena *into)
{
    return fill_in_if(jobs, job, DB_TEMPLATE_ITEM, into);
}

enum db_status db_job_why(const struct db_jobs *jobs, const struct db_job *job, struct db_arena *into,
                          struct db_reason *ret, size_t room, size_t *ret_count)
{
    struct db_scope scope;
    struct db_job worked = *job;

    db_scope_fill(jobs, job->sowing, job->best, &scope);
    /* The weather speaks for the day that was worked out of it, even where the job stays on another. */
    if (db_date_known(job->worked)) {
        worked.best = job->worked;
        scope.day = job->worked;
    }
    return db_rule_explain(jobs->view.rules, job->rule, &scope, &worked, into, ret, room, ret_count);
}
