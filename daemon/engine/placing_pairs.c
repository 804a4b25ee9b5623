/* Beds and tools by day: how the pairs are numbered, and which tasks may be done where. */
#define DB_PURE
#include "engine/placing_search.h"

#include "base/sort.h"

#include <string.h>

#include "base/banned.h"

enum { NEVER_EMPTY = 1 << 30 };

struct sorting {
    const struct db_task *tasks;
    int grouping;
};

static int by_group(const void *a, const void *b, const void *context)
{
    const struct sorting *s = context;
    const uint32_t x = s->tasks[*(const uint32_t *) a].group[s->grouping];
    const uint32_t y = s->tasks[*(const uint32_t *) b].group[s->grouping];

    return (x > y) - (x < y);
}

/* Numbers the pairs of one group day by day. on_day: all zeros, and so again in the end. */
static void number_group(struct db_search *s, int grouping, const uint32_t *tasks, size_t count, uint32_t *on_day)
{
    const struct db_choice *choices = s->p->choices;
    int32_t low = INT32_MAX, high = -1;

    for (size_t i = 0; i < count; i++) {
        const struct db_task *t = &s->tasks[tasks[i]];
        const uint32_t end = t->first_choice + t->choice_count;

        for (uint32_t c = t->first_choice; c < end; c++)
            on_day[choices[c].day] = 1;
        low = choices[t->first_choice].day < low ? choices[t->first_choice].day : low;
        high = choices[end - 1].day > high ? choices[end - 1].day : high;
    }
    for (int32_t day = low; day <= high; day++)
        on_day[day] = on_day[day] ? s->pairs++ : 0;
    for (size_t i = 0; i < count; i++) {
        const struct db_task *t = &s->tasks[tasks[i]];

        for (uint32_t c = t->first_choice; c < t->first_choice + t->choice_count; c++)
            s->seat[c].pair[grouping] = on_day[choices[c].day];
    }
    for (int32_t day = low; day <= high; day++)
        on_day[day] = 0;
}

static enum db_status number_grouping(struct db_search *s, int grouping, uint32_t *order, uint32_t *on_day,
                                      struct db_arena *scratch)
{
    const struct sorting sorting = { s->tasks, grouping };
    size_t count = 0;

    for (uint32_t i = 0; i < s->p->count; i++)
        if (s->tasks[i].group[grouping] != DB_TASK_NONE)
            order[count++] = i;
    if (db_sort(order, count, sizeof *order, by_group, &sorting, scratch) != DB_OK)
        return DB_FULL;
    for (size_t from = 0, to; from < count; from = to) {
        for (to = from + 1; to < count && by_group(&order[from], &order[to], &sorting) == 0; to++)
            ;
        number_group(s, grouping, order + from, to - from, on_day);
    }
    return DB_OK;
}

/* A counting sort that keeps the order of tasks. One with a single day cannot be asked to join others. */
static enum db_status list_offers(struct db_search *s, struct db_arena *scratch)
{
    uint32_t most = 0;

    s->offer_from = db_arena_get(scratch, (size_t) s->pairs + 1, sizeof *s->offer_from);
    if (!s->offer_from)
        return DB_FULL;
    for (uint32_t i = 0; i < s->p->count; i++)
        for (uint32_t k = 0; s->tasks[i].choice_count > 1 && k < s->tasks[i].choice_count; k++)
            for (int g = 0; g < DB_GROUPINGS; g++) {
                const uint32_t pair = s->seat[s->tasks[i].first_choice + k].pair[g];

                s->offer_from[pair + 1] += pair > 0;
            }
    for (uint32_t pair = 0; pair < s->pairs; pair++) {
        most = s->offer_from[pair + 1] > most ? s->offer_from[pair + 1] : most;
        s->offer_from[pair + 1] += s->offer_from[pair];
    }
    s->offers = db_arena_get(scratch, s->offer_from[s->pairs], sizeof *s->offers);
    s->offer_cost = db_arena_get(scratch, most, sizeof *s->offer_cost);
    if (!s->offers || !s->offer_cost)
        return DB_FULL;
    for (uint32_t i = 0; i < s->p->count; i++)
        for (uint32_t k = 0; s->tasks[i].choice_count > 1 && k < s->tasks[i].choice_count; k++)
            for (int g = 0; g < DB_GROUPINGS; g++) {
                const uint32_t choice = s->tasks[i].first_choice + k, pair = s->seat[choice].pair[g];

                if (pair)
                    s->offers[s->offer_from[pair]++] = (struct db_offer){ choice, i };
            }
    memmove(s->offer_from + 1, s->offer_from, s->pairs * sizeof *s->offer_from); /* each stands where the next begins */
    s->offer_from[0] = 0;
    return DB_OK;
}

enum db_status db_pairs_number(struct db_search *s, struct db_arena *scratch)
{
    uint32_t *order = db_arena_get(scratch, s->p->count, sizeof *order);
    uint32_t *on_day = db_arena_get(scratch, s->p->days, sizeof *on_day);

    s->pairs = 1;
    if (!order || !on_day)
        return DB_FULL;
    if (number_grouping(s, DB_GROUP_BED, order, on_day, scratch) != DB_OK)
        return DB_FULL;
    s->first_tool = s->pairs;
    if (number_grouping(s, DB_GROUP_TOOL, order, on_day, scratch) != DB_OK || list_offers(s, scratch) != DB_OK)
        return DB_FULL;
    s->in_pair = db_arena_get(scratch, s->pairs, sizeof *s->in_pair);
    s->pair_from = db_arena_get(scratch, (size_t) s->pairs + 1, sizeof *s->pair_from);
    if (!s->in_pair || !s->pair_from)
        return DB_FULL;
    db_pairs_clear(s);
    return DB_OK;
}

void db_pairs_clear(struct db_search *s)
{
    memset(s->in_pair, 0, s->pairs * sizeof *s->in_pair);
    s->in_pair[0] = NEVER_EMPTY;
}
