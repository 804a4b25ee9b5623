/* What the files of the placement share: a search that is under way. */
#ifndef DB_ENGINE_PLACING_SEARCH_H
#define DB_ENGINE_PLACING_SEARCH_H

#include "engine/placing.h"

#include <stdbool.h>

enum { DB_SEARCH_CHANGES = 64 }; /* tasks that one change may move */

/* A group and a day on which a task of it may be done, by which choice. */
struct db_pair {
    uint32_t group;
    int32_t day;
    uint32_t choice, task;
};

struct db_change {
    uint32_t task, choice; /* choice: the one that it had */
};

struct db_search {
    const struct db_placing *p;
    struct db_task *tasks;
    uint32_t *at;       /* choice of each task, as an index into all */
    uint32_t *pair;     /* of each choice: number of its group and day; 0: it has no group */
    uint32_t *in_pair;  /* tasks that are done in each pair */
    int32_t *load;      /* minutes of each day */
    uint32_t *follower; /* first follower of each task; DB_TASK_NONE: none */
    uint32_t *sibling;  /* next follower of the same leader */
    size_t pairs;
    const struct db_pair *offers; /* all choices of tasks that have a group, in order of pair */
    size_t offer_count;
    /* Tasks by day and by pair as they stood when the sweep began. */
    uint32_t *of_day, *day_from, *of_pair, *pair_from;
    /* What the change at hand has moved so far, until it is kept or taken back. */
    struct db_change changes[DB_SEARCH_CHANGES];
    size_t changed;
    int64_t enough; /* a change must lower the total by more than this */
    /* Sweeps are numbered: the last one that changed a day, and that looked at a task. */
    uint32_t *stirred, *seen, number;
    uint64_t tried;
};

/* Nothing is counted in load and in_pair yet, and every task is at its first choice. */
DB_MUST_USE enum db_status db_search_begin(struct db_search *s, const struct db_placing *p, struct db_arena *scratch);

/* What a task costs on one of its days while its leader is on `led`. */
int64_t db_task_cost(const struct db_placing *p, const struct db_task *t, uint32_t choice, int32_t led);
/* What minutes beyond those of the day cost. */
int64_t db_day_cost(const struct db_placing *p, int32_t day, int64_t load);
int64_t db_search_total(const struct db_search *s);
/* What the total rises by when the task goes to another of its days, all others staying. */
int64_t db_search_cost(struct db_search *s, uint32_t task, uint32_t choice);

int32_t db_search_day(const struct db_search *s, uint32_t task);
/* The task's choice of that day; DB_TASK_NONE: it has none. */
uint32_t db_search_choice(const struct db_search *s, uint32_t task, int32_t day);

/* Moves a task, and what hangs on it, directly or through another, where that is better off elsewhere then. Returns what
 * the total rises by. */
int64_t db_search_shift(struct db_search *s, uint32_t task, uint32_t choice);
/* Whether the change at hand has moved it. */
bool db_search_moved(const struct db_search *s, uint32_t task);
/* Takes the change at hand back until `count` tasks of it are left. */
void db_search_back(struct db_search *s, size_t count);
void db_search_keep(struct db_search *s);

int db_pair_order(const void *a, const void *b, const void *context);

#endif
