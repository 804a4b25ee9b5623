/* Which day each of a set of tasks is done on: plain arrays, nothing of a garden. Days are counted from today, which is 0.
 *
 * What a placement costs is the sum over all tasks of
 *   weight * DB_POINTS_EARLY   for each day before the best one
 *   weight * DB_POINTS_LATE    for each day after it
 *   weight * DB_POINTS_LAST    on the last of its days, if that lies after the best one and there was another
 *   weather                    of its day, as given
 *   DB_POINTS_MOVED            on another day than the one where it stood
 *   DB_POINTS_BEFORE           for each day that it comes too early after its leader (below)
 * and over all days of
 *   DB_POINTS_OVER             for each minute beyond what the day has
 *   DB_POINTS_SETUP            for each bed in which any task is done that day
 *   DB_POINTS_FETCH            for each tool that any task of that day asks for: it is fetched once
 * The weight of a task is that of its urgency: db_placing_weight().
 *
 * A task may hang on another one, its leader (netting on planting). It comes no sooner than leader's day + gap, or on its
 * last day if that is sooner; and when the leader is put off beyond its best day, the best day of what hangs on it is put
 * off by as much (no further than its last day). A leader stands before its followers in the array.
 *
 * The least total cannot be found in reasonable time (it contains bin packing). db_placing_solve() sets out from the days
 * where tasks stood, puts the others in by earliest last day, each where it costs least, and then takes every change
 * that lowers the total: one task moved, what hangs on it along with it; one moved and another making room for it; all of
 * a bed or of a tool moved from one day to another, or gathered there. When nothing stands yet, it sets out in several ways,
 * keeps the best, and of few tasks shakes some loose and settles again. It ends where no such change is left, so that the
 * same tasks, standing where it put them, stay there. */
#ifndef DB_ENGINE_PLACING_H
#define DB_ENGINE_PLACING_H

#include "dewbell/arena.h"
#include "dewbell/status.h"

#include <stdint.h>

/* A tool is a little less than a bed: an ordinary task comes a day early for it (4 points), and no day late (6). The two
 * together are less than to be moved, so that nothing that stands is drawn away by them. */
enum {
    DB_POINTS_EARLY = 2,
    DB_POINTS_LATE = 3,
    DB_POINTS_LAST = 3,
    DB_POINTS_MOVED = 15,
    DB_POINTS_BEFORE = 200,
    DB_POINTS_OVER = 4,
    DB_POINTS_SETUP = 6,
    DB_POINTS_FETCH = 5
};

/* What tasks of one day may share. */
enum { DB_GROUP_BED, DB_GROUP_TOOL, DB_GROUPINGS };

#define DB_TASK_NONE UINT32_MAX

struct db_choice {
    int32_t day, weather; /* weather: points, 0 or more */
};

struct db_task {
    int32_t best, minutes;               /* minutes: 0 or more */
    int32_t stood;                       /* day where it was published; -1: nowhere */
    uint32_t group[DB_GROUPINGS];        /* any numbers, its bed's and its tool's; DB_TASK_NONE: it has none */
    uint32_t leader;                     /* index of a task before this one; DB_TASK_NONE: it hangs on nothing */
    int32_t gap;                         /* days to its leader, 0 or more */
    uint32_t first_choice, choice_count; /* its days in `choices`, rising; at least one */
    unsigned char urgency;               /* 1, 3, 5 or 9 */
    int32_t day;                         /* the answer */
};

struct db_placing {
    struct db_task *tasks;
    size_t count; /* below UINT32_MAX */
    const struct db_choice *choices;
    size_t choice_count;
    const int32_t *minutes; /* that each day has; -1: nothing is counted on it */
    size_t days;            /* all choices lie below it */
};

/* What a search took, for tests of growth. */
struct db_placing_work {
    uint64_t tried; /* changes whose cost was worked out */
    unsigned sweeps;
};

int64_t db_placing_weight(unsigned char urgency);

/* Sets `day` of each task. Takes `count` tasks with n choices in all in O(n log n) a sweep. DB_FULL: no memory; nothing is
 * set. The order of tasks counts only between changes that cost the same. */
DB_MUST_USE enum db_status db_placing_solve(const struct db_placing *placing, struct db_arena *scratch,
                                            struct db_placing_work *ret_work);

/* What the days that the tasks have cost in all. DB_FULL: no memory. */
DB_MUST_USE enum db_status db_placing_cost(const struct db_placing *placing, struct db_arena *scratch,
                                           int64_t *ret_cost);

#endif
