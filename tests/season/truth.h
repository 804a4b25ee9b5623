/* What really happens in a garden that is played: the same plan with crops that are quicker or slower than their tables say,
 * in the weather as it came. The program under test never sees it. */
#ifndef DB_TESTS_SEASON_TRUTH_H
#define DB_TESTS_SEASON_TRUTH_H

#include "dewbell/job.h"
#include "read/read.h"

struct truth;

/* The crops of each sowing are off by up to `spread` (0.15: 15 % either way), drawn from `seed`. weather: as it came, to the
 * end of the play. Everything lives in the arena. */
struct truth *truth_new(const struct db_estate *estate, const struct db_weather *weather, double spread, uint64_t seed,
                        struct db_arena *arena);

/* The day on which a stage comes in truth, given what was really done so far; no date if it does not. Looked up for all
 * sowings by truth_look(). */
void truth_look(struct truth *truth, const struct db_diary *done, struct db_date today, struct db_arena *work);
struct db_date truth_day(const struct truth *truth, size_t sowing, enum db_stage stage);

/* The low as it came in the air above the bed on the morning of `date`, degC. */
double truth_low(const struct truth *truth, struct db_date date);

#endif
