/* Random tasks to be placed, and what they cost worked out a second time, in the plainest way. Include after cmocka.h. */
#ifndef DB_TESTS_KIT_PLACINGS_H
#define DB_TESTS_KIT_PLACINGS_H

#include "engine/placing.h"

#include <inttypes.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static uint64_t seed, draws;

static inline uint64_t next(void) /* splitmix64, after Steele, Lea & Flood 2014 */
{
    uint64_t z = draws += UINT64_C(0x9e3779b97f4a7c15);

    z = (z ^ z >> 30) * UINT64_C(0xbf58476d1ce4e5b9);
    z = (z ^ z >> 27) * UINT64_C(0x94d049bb133111eb);
    return z ^ z >> 31;
}

static inline int32_t between(int32_t low, int32_t high)
{
    return low + (int32_t) (next() % (uint64_t) (high - low + 1));
}

static inline bool chance(int in)
{
    return next() % (uint64_t) in == 0;
}

struct heap { /* tasks with all that they refer to */
    struct db_placing p;
    struct db_choice *choices;
    int32_t *minutes;
    size_t task_room, choice_room;
};

static inline void heap_begin(struct heap *h, size_t tasks, size_t choices, size_t days)
{
    *h = (struct heap){ .task_room = tasks, .choice_room = choices };
    h->p.tasks = calloc(tasks, sizeof *h->p.tasks);
    h->choices = calloc(choices, sizeof *h->choices);
    h->minutes = calloc(days, sizeof *h->minutes);
    assert_non_null(h->p.tasks);
    assert_non_null(h->choices);
    assert_non_null(h->minutes);
    h->p.choices = h->choices;
    h->p.minutes = h->minutes;
    h->p.days = days;
}

static inline void heap_free(struct heap *h)
{
    free(h->p.tasks);
    free(h->choices);
    free(h->minutes);
}

/* Free days of the week, some with an hour and some with an afternoon. */
static inline void heap_week(struct heap *h, int free_days, int32_t least, int32_t most)
{
    int32_t week[7];

    for (int i = 0; i < 7; i++)
        week[i] = -1;
    for (int i = 0; i < free_days; i++)
        week[between(0, 6)] = between(least / 15, most / 15) * 15;
    for (size_t d = 0; d < h->p.days; d++)
        h->minutes[d] = week[d % 7];
}

/* Its days: the free ones of first..last; all of them where none is. */
static inline void heap_task(struct heap *h, struct db_task t, int32_t first, int32_t last)
{
    bool any = false;

    assert_true(h->p.count < h->task_room);
    for (int32_t d = first; d <= last; d++)
        any = any || h->minutes[d] >= 0;
    t.first_choice = (uint32_t) h->p.choice_count;
    for (int32_t d = first; d <= last; d++)
        if (!any || h->minutes[d] >= 0) {
            assert_true(h->p.choice_count < h->choice_room);
            h->choices[h->p.choice_count++] = (struct db_choice){ d, chance(4) ? (chance(2) ? 20 : 8) : 0 };
            t.choice_count++;
        }
    h->p.tasks[h->p.count++] = t;
}

static inline void heap_draw_task(struct heap *h, bool standing, bool leaders)
{
    static const unsigned char urgencies[] = { 3, 3, 5, 5, 5, 5, 5, 9 };
    const int32_t days = (int32_t) h->p.days, first = between(0, days - 4);
    const int32_t room = days - 1 - first, last = first + between(0, room < 14 ? room : 14);
    struct db_task t = { .best = between(first, last),
                         .minutes = chance(4) ? between(1, 3) * 2 : between(1, 18) * 5,
                         .stood = standing && !chance(5) ? between(first, last) : -1,
                         .group = { chance(2) ? DB_TASK_NONE : (uint32_t) between(0, 4),
                                    chance(2) ? DB_TASK_NONE : (uint32_t) between(0, 4) },
                         .leader = DB_TASK_NONE,
                         .urgency = urgencies[next() % sizeof urgencies] };

    if (leaders && h->p.count && chance(3)) {
        const uint32_t leader = (uint32_t) between(0, (int32_t) h->p.count - 1);
        const struct db_task *l = &h->p.tasks[leader];

        if (l->best <= t.best) {
            t.leader = leader;
            t.gap = first > l->best ? first - l->best : 0;
            if (chance(2)) { /* as netting hangs on planting: the same day, and it cannot wait */
                t.urgency = 1;
                t.best = l->best > first ? l->best : first;
                t.gap = 0;
            }
        }
    }
    heap_task(h, t, first, last);
}

static inline void heap_draw(struct heap *h, size_t tasks, size_t days, bool standing, bool leaders)
{
    heap_begin(h, tasks, tasks * 16, days);
    heap_week(h, between(1, 4), 30, 180);
    for (size_t i = 0; i < tasks; i++)
        heap_draw_task(h, standing, leaders);
}

enum { PLAIN_BED = 6, PLAIN_TOOL = 5 }; /* points of a bed and of a tool that any task of a day asks for */

static inline int64_t plain_weight(const struct db_task *t)
{
    return t->urgency == 1 ? 50 : t->urgency == 3 ? 3 : t->urgency == 5 ? 2 : 1;
}

/* What one task costs by itself on its day, its leader being on `led`. */
static inline int64_t plain_own(const struct db_placing *p, const struct db_task *t, uint32_t choice, int32_t led)
{
    const int32_t day = p->choices[choice].day;
    const int32_t last = p->choices[t->first_choice + t->choice_count - 1].day;
    int32_t best = t->best;
    int64_t cost = p->choices[choice].weather;

    if (t->leader != DB_TASK_NONE) {
        int32_t soonest = led + t->gap;

        if (led > p->tasks[t->leader].best && best < last) {
            best += led - p->tasks[t->leader].best;
            if (best > last)
                best = last;
        }
        if (soonest > last)
            soonest = last;
        if (day < soonest)
            cost += 200 * (soonest - day);
    }
    if (day < best)
        cost += plain_weight(t) * 2 * (best - day);
    if (day > best) {
        cost += plain_weight(t) * 3 * (day - best);
        if (day == last && t->choice_count > 1)
            cost += plain_weight(t) * 3;
    }
    if (t->stood >= 0 && t->stood != day)
        cost += 15;
    return cost;
}

/* The cost of the days that the tasks have, by the words of placing.h. */
static inline int64_t plain_cost(const struct db_placing *p)
{
    int64_t cost = 0;

    for (size_t i = 0; i < p->count; i++) {
        const struct db_task *t = &p->tasks[i];
        uint32_t choice = t->first_choice;
        bool first_there = t->group[0] != DB_TASK_NONE, first_with = t->group[1] != DB_TASK_NONE;

        while (p->choices[choice].day != t->day)
            choice++;
        assert_true(choice < t->first_choice + t->choice_count);
        cost += plain_own(p, t, choice, t->leader == DB_TASK_NONE ? 0 : p->tasks[t->leader].day);
        for (size_t k = 0; k < i; k++) {
            first_there = first_there && !(p->tasks[k].group[0] == t->group[0] && p->tasks[k].day == t->day);
            first_with = first_with && !(p->tasks[k].group[1] == t->group[1] && p->tasks[k].day == t->day);
        }
        cost += (first_there ? PLAIN_BED : 0) + (first_with ? PLAIN_TOOL : 0);
    }
    for (size_t d = 0; d < p->days; d++) {
        int64_t load = 0;

        for (size_t i = 0; i < p->count; i++)
            load += p->tasks[i].day == (int32_t) d ? p->tasks[i].minutes : 0;
        if (p->minutes[d] >= 0 && load > p->minutes[d])
            cost += 4 * (load - p->minutes[d]);
    }
    return cost;
}

#endif
