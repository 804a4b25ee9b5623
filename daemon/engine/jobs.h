/* Jobs of one evaluation: how they are gathered and what is kept with them, so that their texts can be filled in later. */
#ifndef DB_ENGINE_JOBS_H
#define DB_ENGINE_JOBS_H

#include "engine/life.h"
#include "engine/succession.h"

enum {
    DB_JOBS_BACK = 60,
    DB_JOBS_AHEAD = 400, /* days around today that a job's window must touch */
    DB_SPELL_BACK = 14   /* days: an older spell of weather is of no interest */
};

#define DB_NO_TOOL UINT32_MAX

/* What is asked of each rule for every sowing, looked up once. */
struct db_rule_use {
    const char *records;
    int stage;      /* that `records` names; -1: a word of its own */
    size_t follows; /* rule whose job comes first; SIZE_MAX: none */
    enum db_shape shape;
    unsigned after; /* stages that its window is counted from: bits 1 << enum db_stage */
    uint32_t tool;  /* the same for rules that fetch the same; DB_NO_TOOL: nothing */
    bool holds, prefers, avoids, has_until, comes_again, prints_days, reads_beds;
};
/* One a rule; NULL when the arena is full. */
struct db_rule_use *db_rule_uses(const struct db_rules *rules, struct db_arena *arena);

struct db_plot;

struct db_jobs {
    struct db_view view;
    struct db_clocks clocks;
    struct db_warmths *warmths;
    struct db_course *courses;            /* one a sowing */
    struct db_pump *pump;                 /* works out the water of one sowing at a time */
    unsigned char (*words)[16];           /* of each sowing: db_sowing_words */
    unsigned char (*inputs)[16];          /* of each sowing: db_sowing_inputs */
    const struct db_following *following; /* one a sowing; NULL: no plan asks */
    const struct db_plot *plot;
    int32_t *put;                   /* of each sowing: as in the clocks; NULL: the plan knows no days */
    bool *sows;                     /* of each sowing: a job of this round has it sown; room where put is */
    struct db_ahead *ahead;         /* of each sowing: as in the clocks */
    bool held_ahead;                /* a stage was held ahead in this round */
    int32_t gone_minutes;           /* of what was done today and is no job any more */
    int rounds;                     /* how often jobs were put on their days and lives worked out anew */
    const struct db_rule_use *uses; /* one a rule */
    const uint32_t *ranks;          /* place of each sowing in the order of ids */
    struct db_job *jobs;
    size_t count;
};

/* Jobs as they are found, in batches, so that none is copied while they grow. */
struct db_job_batch {
    struct db_job_batch *next;
    size_t count;
    struct db_job jobs[170];
};
struct db_job_list {
    struct db_arena *arena;
    struct db_job_batch *first, *last;
    size_t count;
};

/* What the rules see of this sowing on `day`. All courses are worked out by now. */
void db_scope_fill(const struct db_jobs *jobs, size_t sowing, struct db_date day, struct db_scope *ret_scope);

/* Whether a note on `date` answers a spell from `first` to `last`. The day before counts, for a gardener who acts in time; but
 * not of a rule that comes again after each note (`every`). */
static inline bool db_note_answers(const struct db_rule_use *use, struct db_date date, struct db_date first,
                                   struct db_date last)
{
    return date.day >= first.day - (use->comes_again ? 0 : 1) && date.day <= last.day;
}

/* The day that it was put on by the gardener's days; no date: on none. */
static inline struct db_date db_job_put(const struct db_job *job)
{
    return job->placed ? job->on : DB_NO_DATE;
}

/* ahead.c: a job is over as worked out now, though it was published for days that are not: from the next round on its stage is
 * not estimated so early, and held_ahead asks for that round. */
DB_MUST_USE enum db_status db_jobs_hold_ahead(struct db_jobs *jobs, const struct db_job *job,
                                              const struct db_position *published, struct db_arena *into);

/* Adds all jobs of one sowing. */
DB_MUST_USE enum db_status db_jobs_gather(struct db_jobs *jobs, size_t sowing, struct db_job_list *to);

/* Moves the jobs back to where they were published unless the weather has shifted by enough. jobs->jobs is made anew, in
 * order of rule, sowing, occurrence. */
DB_MUST_USE enum db_status db_jobs_calm(struct db_jobs *jobs, struct db_arena *into);

/* By day, rule, sowing, occurrence; the context are the ranks of the sowings. */
int db_job_by_day(const void *a, const void *b, const void *context);

/* By rule, sowing, occurrence; the context is not used. */
int db_job_by_subject(const void *a, const void *b, const void *context);

/* 128 bits over what a sowing's jobs hang on besides weather and rules: its words, dates in the plan, place, crop's
 * emergence table, and notes no later than today. */
void db_sowing_inputs(const struct db_jobs *jobs, size_t sowing, unsigned char ret_hash[16]);
/* 128 bits over what the plan and the notes say of a sowing's time and ground in its bed: what counts for the others there. */
void db_stay_inputs(const struct db_jobs *jobs, size_t sowing, unsigned char ret_hash[16]);
/* Those of the sowing with the rule, and with all that is in its bed where the rule looks at that. */
void db_job_inputs(const struct db_jobs *jobs, size_t rule, size_t sowing, unsigned char ret_hash[16]);
/* Over the job's texts as they would print today; zero where they print no dates or figures. */
void db_job_words(const struct db_jobs *jobs, const struct db_job *job, unsigned char ret_hash[16]);
/* Whether it stands, unchanged, where and as it was published. */
bool db_job_stays(const struct db_jobs *jobs, const struct db_job *job);

/* 128 bits over all that a text can print of a sowing, its crop and its beds, but for dates. */
void db_sowing_words(const struct db_sowing *sowing, unsigned char ret_hash[16]);

#endif
