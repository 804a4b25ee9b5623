/* Jobs that read as one: the same advice, on the same days, in the same bed, for several sowings; or, in one bed, the open
 * jobs of one round, whatever their rules and last days. */
#include "write/private.h"

#include "base/sort.h"

#include <string.h>

#include "base/banned.h"

struct item {
    const struct db_job *job;
    const struct db_bed *bed;
    const char *round;         /* "": none, or not open */
    const char *how, *caution; /* rendered only where a neighbour might be grouped with it */
    int step, urgency;         /* see settle_order() */
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

static int by_day(struct db_date a, struct db_date b)
{
    return a.day < b.day ? -1 : a.day > b.day;
}

static int compare_sowings(const void *left, const void *right, const void *context)
{
    const struct item *a = left, *b = right;
    int order = by_bed(a->bed, b->bed);

    (void) context;
    return order ? order : by_number(a->job->sowing, b->job->sowing);
}

static int compare_rounds(const void *left, const void *right, const void *context)
{
    const struct item *a = left, *b = right;
    int order = by_bed(a->bed, b->bed);

    (void) context;
    return order ? order : strcmp(a->round, b->round);
}

static int compare(const void *left, const void *right, const void *context)
{
    const struct item *a = left, *b = right;
    const int orders[] = { by_bed(a->bed, b->bed),
                           a->urgency - b->urgency,
                           a->step - b->step,
                           strcmp(a->round, b->round),
                           *a->round ? by_day(a->job->last, b->job->last) : 0,
                           by_number(a->job->rule, b->job->rule),
                           (int) a->job->state - (int) b->job->state,
                           by_day(a->job->on, b->job->on),
                           by_day(a->job->last, b->job->last),
                           by_number(a->job->sowing, b->job->sowing),
                           by_number(a->job->occurrence, b->job->occurrence) };

    (void) context;
    for (size_t i = 0; i < sizeof orders / sizeof orders[0]; i++)
        if (orders[i])
            return orders[i];
    return 0;
}

/* In a bed the urgent comes first; and what brings a sowing to a stage comes before its other jobs (plant, then net), so
 * that it is as urgent as they are. A round is as urgent as the most urgent of it. */
static enum db_status settle_order(const struct db_jobs *jobs, struct item *items, size_t count, struct db_arena *arena)
{
    const struct db_rules *rules = db_jobs_view(jobs)->rules;
    enum db_status settled = db_sort(items, count, sizeof *items, compare_sowings, NULL, arena);

    if (settled != DB_OK)
        return settled;
    for (size_t i = 0, end; i < count; i = end) {
        int urgency = 9;

        for (end = i; end < count && compare_sowings(&items[i], &items[end], NULL) == 0; end++) {
            int stage = db_stage_find(db_rule_records(rules, items[end].job->rule));
            items[end].step = stage < 0 ? DB_STAGE_COUNT : stage;
            items[end].urgency = items[end].job->urgency;
            urgency = items[end].urgency < urgency ? items[end].urgency : urgency;
        }
        for (size_t k = i; k < end; k++)
            if (items[k].step < DB_STAGE_COUNT)
                items[k].urgency = urgency;
    }
    settled = db_sort(items, count, sizeof *items, compare_rounds, NULL, arena);
    for (size_t i = 0, end; settled == DB_OK && i < count; i = end) {
        int urgency = 9, step = DB_STAGE_COUNT;

        for (end = i; end < count && compare_rounds(&items[i], &items[end], NULL) == 0; end++) {
            urgency = items[end].urgency < urgency ? items[end].urgency : urgency;
            step = items[end].step < step ? items[end].step : step;
        }
        for (size_t k = i; k < end && *items[k].round; k++) {
            items[k].urgency = urgency;
            items[k].step = step;
        }
    }
    if (settled != DB_OK)
        return settled;
    return db_sort(items, count, sizeof *items, compare, NULL, arena);
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
    *ret = a->bed == b->bed && *a->round && strcmp(a->round, b->round) == 0 && a->job->sowing != b->job->sowing;
    if (*ret)
        return DB_OK;
    *ret = a->bed == b->bed && a->job->rule == b->job->rule && a->job->state == b->job->state &&
           a->job->on.day == b->job->on.day && a->job->last.day == b->job->last.day && a->job->sowing != b->job->sowing;
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
        items[i].round = list[i]->state == DB_JOB_OPEN ? db_job_round(jobs, list[i], arena) : "";
        if (!items[i].round)
            return DB_FULL;
    }
    if (settle_order(jobs, items, count, arena) != DB_OK)
        return DB_FULL;
    for (size_t i = 0; i < count; i++) {
        bool same = false;

        list[i] = items[i].job;
        if (i && alike(jobs, &items[first], &items[i], arena, &same) != DB_OK)
            return DB_FULL;
        if (same) {
            groups[made - 1].count++;
            groups[made - 1].round = *items[i].round ? items[i].round : NULL;
        } else {
            groups[made++] = (struct db_group){ .jobs = &list[i], .count = 1, .bed = items[i].bed };
            first = i;
        }
    }
    *ret = groups;
    *ret_count = made;
    return DB_OK;
}

/* Whether another of the group has the same crop: then its id has to be said. */
static bool has_namesake(const struct db_jobs *jobs, const struct db_group *group, size_t index)
{
    const char *crop = db_telling_crop(jobs, group->jobs[index]);

    for (size_t i = 0; i < group->count; i++)
        if (i != index && strcmp(db_telling_crop(jobs, group->jobs[i]), crop) == 0)
            return true;
    return false;
}

static enum db_status add_items(const struct db_jobs *jobs, const struct db_group *group, struct db_arena *arena,
                                struct db_bytes *out)
{
    enum db_status status = db_bytes_format(out, "%s:", group->round);

    for (size_t i = 0; status == DB_OK && i < group->count; i++) {
        const char *item = db_job_item(jobs, group->jobs[i], arena);

        if (!item)
            return DB_FULL;
        status = db_bytes_format(out, "%s %s", i ? ";" : "", item);
        if (status == DB_OK && has_namesake(jobs, group, i))
            status = db_bytes_format(out, " (%s)", db_telling_sowing(jobs, group->jobs[i])->id);
    }
    return status;
}

/* As the line's own job names its crop: "Thin carrots ...; the same for beetroot (beetroot-2)". */
static const char *other_crops(const struct db_jobs *jobs, const struct db_job *job)
{
    const char *plural = db_telling_sowing(jobs, job)->crop->text[DB_FACT_PLURAL];

    return plural ? plural : db_telling_crop(jobs, job);
}

static enum db_status add_others(const struct db_jobs *jobs, const struct db_group *group, struct db_arena *arena,
                                 struct db_bytes *out)
{
    const char *summary = db_job_summary(jobs, group->jobs[0], arena);
    enum db_status status = summary ? db_bytes_text(out, summary) : DB_FULL;

    for (size_t i = 1; status == DB_OK && i < group->count; i++)
        status = db_bytes_format(out, "%s%s (%s)",
                                 i == 1                  ? "; the same for "
                                 : i + 1 == group->count ? " and "
                                                         : ", ",
                                 other_crops(jobs, group->jobs[i]), db_telling_sowing(jobs, group->jobs[i])->id);
    return status;
}

const char *db_group_line(const struct db_jobs *jobs, const struct db_group *group, struct db_arena *arena)
{
    struct db_bytes text = { 0 };
    enum db_status status = (group->round ? add_items : add_others)(jobs, group, arena, &text);
    const char *line = status == DB_OK ? db_clean_line(text.data, arena) : NULL;

    db_bytes_free(&text);
    return line;
}

struct db_date db_group_last(const struct db_group *group, bool all)
{
    struct db_date last = group->jobs[0]->last;

    for (size_t i = 1; i < group->count; i++)
        if (all == (group->jobs[i]->last.day > last.day))
            last = group->jobs[i]->last;
    return last;
}
