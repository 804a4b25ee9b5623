/* A forecast can throw an estimate back by weeks: its job, which was published for days to come, would be over before it was
 * ever asked for, and the next step would come before it. What the list still asks for has not been done, so the
 * stage that the job brings about is not estimated for a day that would leave it behind. */
#define DB_PURE
#include "engine/jobs.h"

#include "base/banned.h"

/* Stages that somebody brings about and whose day is worked out. */
static bool is_awaited(int stage)
{
    return stage == DB_STAGE_PRICKED_OUT || stage == DB_STAGE_HARDENING || stage == DB_STAGE_PLANTED;
}

static enum db_status make_room(struct db_jobs *jobs, struct db_arena *into)
{
    const size_t sowings = db_garden_sowings(jobs->view.garden);

    jobs->ahead = db_arena_get(into, sowings, sizeof *jobs->ahead);
    if (!jobs->ahead)
        return DB_FULL;
    for (size_t s = 0; s < sowings; s++)
        for (int stage = 0; stage < DB_STAGE_COUNT; stage++)
            jobs->ahead[s].from[stage] = DB_NO_DATE;
    jobs->clocks.ahead = jobs->ahead;
    return DB_OK;
}

enum db_status db_jobs_hold_ahead(struct db_jobs *jobs, const struct db_job *job, const struct db_position *published,
                                  struct db_arena *into)
{
    const struct db_date today = jobs->view.today;
    const int stage = jobs->uses[job->rule].stage;

    if (job->state != DB_JOB_MISSED || !is_awaited(stage) || db_date_known(published->gone) ||
        published->last.day < today.day)
        return DB_OK;
    if (!jobs->ahead && make_room(jobs, into) != DB_OK)
        return DB_FULL;

    const struct db_date first = published->first.day < today.day ? published->first : today;
    struct db_date *from = &jobs->ahead[job->sowing].from[stage];

    if (db_date_known(*from)) /* once was not enough: it hangs on something else */
        return DB_OK;
    *from = db_date_add(jobs->courses[job->sowing].life.stage[stage].likely, first.day - job->first.day);
    jobs->held_ahead = jobs->held_ahead || db_date_known(*from);
    return DB_OK;
}
