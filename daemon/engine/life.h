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

/* The life of another batch like this one, raised the same way in the same beds, if it were sown on that day. Each of a stage's
 * three dates stands for itself: a slow batch may never come to it though a likely one does, and then `late` is no date. */
DB_MUST_USE enum db_status db_course_suppose(struct db_clocks *clocks, size_t sowing, struct db_date sown,
                                             struct db_life *ret_life);
/* The ends of an estimate. */
enum db_stage_end { DB_EARLY, DB_LIKELY, DB_LATE };
enum { DB_ENDS = DB_LATE + 1 };
struct db_ends {
    struct db_date at[DB_ENDS];
};

/* All stages of this sowing in the future that the clocks show, and then `ripe`. `course` is what was worked out for it before:
 * notes are taken from there. */
DB_MUST_USE enum db_status db_course_ends(struct db_clocks *clocks, size_t sowing, const struct db_course *course,
                                          struct db_ends ret_ends[DB_STAGE_COUNT + 1]);

/* Puts `course` where it stands from its planting on. */
void db_course_settle(const struct db_sowing *sowing, struct db_course *course);

/* futures.c: works the stages beyond the known weather out anew in each past year of it, and pools them: likely is the
 * median of the likely days, early and late are a tenth and nine tenths of all three days of all years. Does nothing where
 * the weather has no past years. */
DB_MUST_USE enum db_status db_courses_pool(const struct db_clocks *clocks, struct db_course *courses);

/* Stages in the order in which they come; rooted and hardening share a step, for a plug is hardened while it fills. */
int db_stage_step(enum db_stage stage);

#endif
