/* Jobs of one evaluation: how they are gathered and what is kept with them, so that their texts can be filled in later. */
#ifndef DB_ENGINE_JOBS_H
#define DB_ENGINE_JOBS_H

#include "engine/life.h"

enum { DB_JOBS_BACK = 60, DB_JOBS_AHEAD = 400 }; /* days around today that a job's window must touch */

/* What is asked of each rule for every sowing, looked up once. */
struct db_rule_use {
    const char *records;
    int stage; /* that `records` names; -1: a word of its own */
    enum db_shape shape;
    bool holds, prefers, has_until, prints_days;
};
/* One a rule; NULL when the arena is full. */
struct db_rule_use *db_rule_uses(const struct db_rules *rules, struct db_arena *arena);

struct db_jobs {
    struct db_view view;
    struct db_clocks clocks;
    struct db_course *courses;      /* one a sowing */
    unsigned char (*words)[16];     /* of each sowing: db_sowing_words */
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

/* Adds all jobs of one sowing. */
DB_MUST_USE enum db_status db_jobs_gather(struct db_clocks *clocks, const struct db_rule_use *uses, size_t sowing,
                                          const struct db_course *course, struct db_job_list *to);

/* 128 bits over all that a text can print of a sowing, its crop and its beds, but for dates. */
void db_sowing_words(const struct db_sowing *sowing, unsigned char ret_hash[16]);

#endif
