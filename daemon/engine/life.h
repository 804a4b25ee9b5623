/* A sowing's course: when it comes up, is planted, crops. The models and their sources: docs/models.md, "A sowing's
 * life". */
#ifndef DB_ENGINE_LIFE_H
#define DB_ENGINE_LIFE_H

#include "engine/clocks.h"

/* A sowing's life, and where its seed and plants stand: before planting and after it (the same where it stays). */
struct db_course {
    struct db_life life;
    struct db_seedbed *seedbed[2];
    struct db_date moved; /* from this day on it stands in the second place; far off when it never moves */
};

DB_MUST_USE enum db_status db_course_work(struct db_clocks *clocks, size_t sowing, struct db_course *ret_course);

/* The life of another batch like this one, raised the same way in the same beds, if it were sown on that day. */
DB_MUST_USE enum db_status db_course_suppose(struct db_clocks *clocks, size_t sowing, struct db_date sown,
                                             struct db_life *ret_life);

/* Stages in the order in which they come; rooted and hardening share a step, for a plug is hardened while it fills. */
int db_stage_step(enum db_stage stage);

#endif
