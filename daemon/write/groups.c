/* Jobs that read as one: the same advice, on the same days, in the same bed, for several sowings. */
#include "write/private.h"

#include "base/sort.h"

#include <string.h>

#include "base/banned.h"

struct item {
    const struct db_job *job;
    const struct db_bed *bed;
    const char *how, *caution; /* rendered only where a neighbour might be grouped with it */
};

static int by_number(size_t a, size_t b)
{
    return a < b ? -1 : a > b;
}

static int by_bed(const struct db_bed *a, const struct db_bed *b)
{
    int order = strcmp(a->name, b->name);

    return order ? order : strcmp(a->id, b->id);
}

static int compare(const void *left, const void *right, const void *context)
{
    const struct item *a = left, *b = right;
    int order = by_bed(a->bed, b->bed);

    (void) context;
    if (!order)
        order = (int) a->job->urgency - (int) b->job->urgency;
    if (!order)
        order = by_number(a->job->rule, b->job->rule);
    if (!order)
        order = (int) a->job->state - (int) b->job->state;
    if (!order)
        order = a->job->best.day < b->job->best.day ? -1 : a->job->best.day > b->job->best.day;
    if (!order)
        order = a->job->last.day < b->job->last.day ? -1 : a->job->last.day > b->job->last.day;
    if (!order)
        order = by_number(a->job->sowing, b->job->sowing);
    return order ? order : by_number(a->job->occurrence, b->job->occurrence);
}

static bool render(const struct db_jobs *jobs, struct item *item, struct db_arena *arena)
{
    if (!item->how)
        item->how = db_job_how(jobs, item->job, arena);
    if (!item->caution)
        item->caution = db_job_caution(jobs, item->job, arena);
    return item->how && item->caution;
}

/* Whether the two read as one. DB_FULL: the arena is. */
static enum db_status alike(const struct db_jobs *jobs, struct item *a, struct item *b, struct db_arena *arena,
                            bool *ret)
{
    *ret = a->bed == b->bed && a->job->rule == b->job->rule && a->job->state == b->job->state &&
           a->job->best.day == b->job->best.day && a->job->last.day == b->job->last.day &&
           a->job->sowing != b->job->sowing;
    if (!*ret)
        return DB_OK;
    if (!render(jobs, a, arena) || !render(jobs, b, arena))
        return DB_FULL;
    *ret = strcmp(a->how, b->how) == 0 && strcmp(a->caution, b->caution) == 0;
    return DB_OK;
}

enum db_status db_groups_make(const struct db_jobs *jobs, const struct db_job **list, size_t count,
                              struct db_arena *arena, struct db_group **ret, size_t *ret_count)
{
    struct item *items = db_arena_get(arena, count, sizeof *items);
    struct db_group *groups = db_arena_get(arena, count, sizeof *groups);
    size_t made = 0, first = 0;

    if (!items || !groups)
        return DB_FULL;
    for (size_t i = 0; i < count; i++) {
        items[i].job = list[i];
        items[i].bed = db_telling_bed(jobs, list[i]);
    }
    if (db_sort(items, count, sizeof *items, compare, NULL, arena) != DB_OK)
        return DB_FULL;
    for (size_t i = 0; i < count; i++) {
        bool same = false;

        list[i] = items[i].job;
        if (i && alike(jobs, &items[first], &items[i], arena, &same) != DB_OK)
            return DB_FULL;
        if (same) {
            groups[made - 1].count++;
        } else {
            groups[made++] = (struct db_group){ .jobs = &list[i], .count = 1, .bed = items[i].bed };
            first = i;
        }
    }
    *ret = groups;
    *ret_count = made;
    return DB_OK;
}

const char *db_group_others(const struct db_jobs *jobs, const struct db_group *group, struct db_arena *arena)
{
    static const char before[] = "the same for ";
    size_t length = sizeof before;

    if (group->count < 2)
        return "";
    for (size_t i = 1; i < group->count; i++)
        length +=
            strlen(db_telling_crop(jobs, group->jobs[i])) + strlen(db_telling_sowing(jobs, group->jobs[i])->id) + 8;
    char *text = db_arena_get(arena, length, 1), *at = text;
    if (!text)
        return NULL;
    at = stpcpy(at, before);
    for (size_t i = 1; i < group->count; i++) {
        at = stpcpy(at, i == 1 ? "" : i + 1 == group->count ? " and " : ", ");
        at = stpcpy(at, db_telling_crop(jobs, group->jobs[i]));
        at = stpcpy(at, " (");
        at = stpcpy(at, db_telling_sowing(jobs, group->jobs[i])->id);
        at = stpcpy(at, ")");
    }
    return db_clean_line(text, arena);
}
