/* What the files of the placement share: a search that is under way. */
#ifndef DB_ENGINE_PLACING_SEARCH_H
#define DB_ENGINE_PLACING_SEARCH_H

#include "engine/placing.h"

#include <stdbool.h>

enum { DB_SEARCH_CHANGES = 64 }; /* tasks that one change may move */

/* A pair is a bed or a tool and a day. A task may be done on the day by this choice. */
struct db_offer {
    uint32_t choice, task;
};

/* What is asked of a choice again and again. */
struct db_seat {
    int64_t own;                 /* what its task costs there by itself; of one that has a leader not known */
    uint32_t pair[DB_GROUPINGS]; /* numbers of its pairs; 0: it has none. Those of beds come first */
    int32_t day;
};

struct db_change {
    uint32_t task, choice; /* choice: the one that it had */
};

struct db_search {
    const struct db_placing *p;
    struct db_task *tasks;
    uint32_t *at;               /* choice of each task, as an index into all */
    struct db_seat *seat;       /* of each choice */
    uint32_t *in_pair;          /* tasks that are done in each pair; of pair 0 always many */
    int32_t *load;              /* minutes of each day */
    uint32_t *follower;         /* first follower of each task; DB_TASK_NONE: none */
    uint32_t *sibling;          /* next follower of the same leader */
    uint32_t pairs, first_tool; /* first_tool: the first pair that is of a tool */
    struct db_offer *offers;    /* of each pair those from offer_from on, up to those of the next one */
    uint32_t *offer_from;
    int64_t *offer_cost; /* room for the most that one pair has */
    /* Tasks by day and by pair as they stood when they were last listed. */
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

/* placing_pairs.c: numbers the pairs, and lists what is offered for each. DB_FULL: no memory. */
DB_MUST_USE enum db_status db_pairs_number(struct db_search *s, struct db_arena *scratch);
/* Nothing is counted in any of them. */
void db_pairs_clear(struct db_search *s);

/* Counts a task in at one of its choices, or out again. */
static inline void db_pairs_in(struct db_search *s, uint32_t choice)
{
    for (int g = 0; g < DB_GROUPINGS; g++)
        s->in_pair[s->seat[choice].pair[g]]++;
}

static inline void db_pairs_out(struct db_search *s, uint32_t choice)
{
    for (int g = 0; g < DB_GROUPINGS; g++)
        s->in_pair[s->seat[choice].pair[g]]--;
}

/* What the pairs of a choice cost of which not more than `most` tasks are done. */
static inline int64_t db_pairs_points(const struct db_search *s, uint32_t choice, uint32_t most)
{
    return (s->in_pair[s->seat[choice].pair[DB_GROUP_BED]] <= most ? DB_POINTS_SETUP : 0) +
           (s->in_pair[s->seat[choice].pair[DB_GROUP_TOOL]] <= most ? DB_POINTS_FETCH : 0);
}

#endif
