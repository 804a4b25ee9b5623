/* placing_lp SEED CASE TASKS : a random case of tasks to be placed as a mixed integer programme (LP format) on standard
 * output, for a solver that knows nothing of ours; on standard error what db_placing_solve() comes to. */
#define assert_true(what) ((what) ? (void) 0 : abort())
#define assert_non_null(what) assert_true((what) != NULL)

#include <stdlib.h>

#include "kit/placings.h"

#include "base/banned.h"

/* x: task on choice; z: leader on one choice while its follower is on another; y, t: a bed, a tool has a task on the day; o:
 * minutes that are too many on a day. */
static void put_goal(const struct db_placing *p)
{
    printf("Minimize\n cost:");
    for (size_t i = 0; i < p->count; i++) {
        const struct db_task *t = &p->tasks[i], *l = t->leader == DB_TASK_NONE ? NULL : &p->tasks[t->leader];

        for (uint32_t c = t->first_choice; c < t->first_choice + t->choice_count; c++) {
            if (!l) {
                printf(" + %" PRId64 " x%" PRIu32 "\n", plain_own(p, t, c, 0), c);
                continue;
            }
            for (uint32_t k = l->first_choice; k < l->first_choice + l->choice_count; k++)
                printf(" + %" PRId64 " z%" PRIu32 "_%" PRIu32 "\n", plain_own(p, t, c, p->choices[k].day), k, c);
        }
    }
    for (size_t d = 0; d < p->days; d++) {
        if (p->minutes[d] >= 0)
            printf(" + 4 o%zu\n", d);
        for (uint32_t g = 0; g < 5; g++)
            printf(" + %d y%" PRIu32 "_%zu + %d t%" PRIu32 "_%zu\n", PLAIN_BED, g, d, PLAIN_TOOL, g, d);
    }
}

static void put_bounds(const struct db_placing *p)
{
    printf("Subject To\n");
    for (size_t i = 0; i < p->count; i++) {
        const struct db_task *t = &p->tasks[i], *l = t->leader == DB_TASK_NONE ? NULL : &p->tasks[t->leader];

        for (uint32_t c = t->first_choice; c < t->first_choice + t->choice_count; c++)
            printf(" + x%" PRIu32, c);
        printf(" = 1\n");
        for (uint32_t c = t->first_choice; c < t->first_choice + t->choice_count; c++) {
            for (int g = 0; g < DB_GROUPINGS; g++)
                if (t->group[g] != DB_TASK_NONE)
                    printf(" %c%" PRIu32 "_%" PRId32 " - x%" PRIu32 " >= 0\n", "yt"[g], t -> group[g],
                           p -> choices[c].day, c);
            for (uint32_t k = l ? l->first_choice : 0; l && k < l->first_choice + l->choice_count; k++)
                printf(" z%" PRIu32 "_%" PRIu32 " - x%" PRIu32 " - x%" PRIu32 " >= -1\n", k, c, k, c);
        }
    }
    for (size_t d = 0; d < p->days; d++) {
        if (p->minutes[d] < 0)
            continue;
        printf(" o%zu", d);
        for (size_t i = 0; i < p->count; i++)
            for (uint32_t c = p->tasks[i].first_choice; c < p->tasks[i].first_choice + p->tasks[i].choice_count; c++)
                if (p->choices[c].day == (int32_t) d)
                    printf(" - %" PRId32 " x%" PRIu32, p->tasks[i].minutes, c);
        printf(" >= %" PRId32 "\n", -p->minutes[d]);
    }
    printf("Binary\n");
    for (size_t c = 0; c < p->choice_count; c++)
        printf(" x%zu\n", c);
    printf("End\n");
}

int main(int count, char **words)
{
    struct db_arena *arena = db_arena_new(SIZE_MAX);
    struct db_placing_work work;
    struct heap h;
    int64_t cost;

    if (count != 4 || !arena)
        return 2;
    seed = strtoull(words[1], NULL, 10);
    draws = seed + UINT64_C(1000003) * strtoull(words[2], NULL, 10);
    const bool standing = chance(2), leaders = chance(2);

    const size_t tasks = strtoul(words[3], NULL, 10);

    heap_begin(&h, tasks, tasks * 16, tasks + 14);
    heap_week(&h, between(2, 4), 30, 240);
    while (h.p.count < tasks)
        heap_draw_task(&h, standing, leaders);
    if (db_placing_solve(&h.p, arena, &work) != DB_OK || db_placing_cost(&h.p, arena, &cost) != DB_OK ||
        cost != plain_cost(&h.p))
        return 1;
    put_goal(&h.p);
    put_bounds(&h.p);
    fprintf(stderr, "%" PRId64 "\n", cost);
    heap_free(&h);
    (void) db_arena_free(arena);
    return 0;
}
