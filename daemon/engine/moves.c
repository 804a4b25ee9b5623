/* What has to be remembered of the jobs once they are published. */
#define DB_PURE
#include "engine/jobs.h"

#include <string.h>

#include "base/banned.h"

static struct db_position position_of(const struct db_jobs *jobs, const struct db_job *job)
{
    const struct db_position *old = job->published;
    const struct db_date today = jobs->view.today;
    struct db_position p = { .rule = db_rule_name(jobs->view.rules, job->rule),
                             .sowing = db_garden_sowing(jobs->view.garden, job->sowing)->id,
                             .occurrence = job->occurrence,
                             .first = job->first,
                             .best = job->best,
                             .last = job->last,
                             .on = db_job_put(job),
                             .moved = old ? old->moved : DB_NO_DATE,
                             .there = job->there,
                             .gone = DB_NO_DATE };

    db_job_identity(jobs, job, p.identity);
    db_job_inputs(jobs, job->rule, job->sowing, p.inputs);
    if (old && db_job_stays(jobs, job))
        memcpy(p.words, old->words, sizeof p.words);
    else
        db_job_words(jobs, job, p.words);
    if (old && (old->first.day != p.first.day || old->best.day != p.best.day || old->last.day != p.last.day))
        p.moved = today;
    if (!db_date_known(job->worked)) /* it waits */
        p.gone = old && db_date_known(old->gone) && old->gone.day <= today.day ? old->gone : today;
    return p;
}

static bool is_same(const struct db_position *a, const struct db_position *b)
{
    return a->first.day == b->first.day && a->best.day == b->best.day && a->last.day == b->last.day &&
           a->on.day == b->on.day && a->moved.day == b->moved.day && a->there == b->there &&
           a->gone.day == b->gone.day && memcmp(a->inputs, b->inputs, 16) == 0 && memcmp(a->words, b->words, 16) == 0;
}

enum db_status db_jobs_moves(const struct db_jobs *jobs, struct db_arena *into, struct db_positions *ret)
{
    const struct db_positions none = { NULL, 0 }, *old = jobs->view.published ? jobs->view.published : &none;
    struct db_position *rows = db_arena_get(into, jobs->count + old->count, sizeof *rows);
    bool *there = db_arena_get(into, old->count, sizeof *there);
    size_t count = 0;

    if (!rows || !there)
        return DB_FULL;
    for (size_t i = 0; i < jobs->count; i++) {
        const struct db_job *job = &jobs->jobs[i];
        const struct db_position p = position_of(jobs, job);

        if (job->published)
            there[job->published - old->rows] = true;
        if (!job->published || !is_same(&p, job->published))
            rows[count++] = p;
    }
    for (size_t i = 0; i < old->count; i++)
        if (!there[i] && (!db_date_known(old->rows[i].gone) || old->rows[i].gone.day > jobs->view.today.day)) {
            rows[count] = old->rows[i];
            rows[count++].gone = jobs->view.today;
        }
    *ret = (struct db_positions){ rows, count };
    return DB_OK;
}
