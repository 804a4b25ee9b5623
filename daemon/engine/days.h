/* Jobs on the gardener's days: which tasks the placement is given, and what it answers put back into the jobs. */
#ifndef DB_ENGINE_DAYS_H
#define DB_ENGINE_DAYS_H

#include "engine/jobs.h"

/* Days from a job's best day that are looked at, and days from today on that anything is placed on. */
enum { DB_DAYS_BEFORE = 21, DB_DAYS_AFTER = 42, DB_DAYS_AHEAD = 520 };

/* Where the sowings were put when their jobs were last published. */
DB_MUST_USE enum db_status db_jobs_put_sowings(struct db_jobs *jobs, struct db_arena *into);
/* Whether the jobs at hand put some of them elsewhere; those days count from now on. */
bool db_jobs_put_anew(struct db_jobs *jobs);

/* Sets `on` and `placed` of every job, and puts the jobs in order. */
DB_MUST_USE enum db_status db_jobs_place(struct db_jobs *jobs, struct db_arena *into);

/* Best day, or today where that has gone by. */
struct db_date db_job_due(const struct db_jobs *jobs, const struct db_job *job);

/* Whether it stands on its own day whatever the week looks like, unless it hangs on another job: what cannot wait, and what
 * answers the weather of a day and is to be done soon. */
bool db_job_is_fixed(const struct db_jobs *jobs, const struct db_job *job);

/* Stages that the window of a job of this rule is counted from and that somebody brings about, as bits; of one that records
 * such a stage, those before it too. */
unsigned db_rule_hangs_on(const struct db_rule_use *use);

/* Whether the job brings about a stage that `job` hangs on, both of one sowing, not long before it. */
bool db_job_leads(const struct db_jobs *jobs, const struct db_job *leader, const struct db_job *job);

#endif
