/* What is free of a bed from day to day. */
#define DB_PURE
#include "engine/plot.h"

#include "base/sort.h"

#include <math.h>

#include "base/banned.h"

/* A sowing comes or goes, as one of the three would have it. */
struct change {
    int32_t day;
    int at; /* index of `left` */
    double ground;
};

static int by_day(const void *a, const void *b, const void *context)
{
    const struct change *x = a, *y = b;

    (void) context;
    return (x->day > y->day) - (x->day < y->day);
}

static size_t changes_of(const struct db_stay *stay, struct change *to)
{
    size_t count = 0;

    for (int at = 0; at < 3; at++) {
        const int32_t comes = stay->takes[at].day, goes = db_plot_end(stay->to[2 - at]);

        if (isnan(stay->ground[0]) || !db_date_known(stay->takes[at]) || goes <= comes)
            continue;
        to[count++] = (struct change){ comes, at, -stay->ground[0] };
        to[count++] = (struct change){ goes, at, stay->ground[0] };
    }
    return count;
}

/* A bed that is more than full has nothing left. */
static void add(struct db_step *steps, size_t *count, struct db_date from, const double left[3])
{
    steps[*count].from = from;
    for (int at = 0; at < 3; at++)
        steps[*count].left[at] = fmax(left[at], 0);
    (*count)++;
}

enum db_status db_plot_steps(const struct db_plot *plot, const struct db_bed *bed, struct db_date first,
                             struct db_date last, struct db_arena *into, const struct db_step **ret, size_t *ret_count)
{
    const size_t stays = db_plot_count(plot, bed);
    struct change *changes = db_arena_get(into, 6 * stays, sizeof *changes);
    struct db_step *steps = db_arena_get(into, 6 * stays + 1, sizeof *steps);
    double left[3] = { db_bed_ground(bed), db_bed_ground(bed), db_bed_ground(bed) };
    size_t count = 0, kept = 0, done = 0;

    *ret = steps;
    *ret_count = 0;
    if (!changes || !steps)
        return DB_FULL;
    if (!(left[0] > 0))
        return DB_OK;
    for (size_t i = 0; i < stays; i++)
        count += changes_of(db_plot_at(plot, bed, i), changes + count);
    if (db_sort(changes, count, sizeof *changes, by_day, NULL, into) != DB_OK)
        return DB_FULL;
    for (size_t i = 0; i < count && changes[i].day <= first.day; i++, done++)
        left[changes[i].at] += changes[i].ground;
    add(steps, &kept, first, left);
    while (done < count && changes[done].day <= last.day) {
        const struct db_date day = { changes[done].day };
        const double before = left[1];

        for (; done < count && changes[done].day == day.day; done++)
            left[changes[done].at] += changes[done].ground;
        if (fabs(left[1] - before) > 1e-6)
            add(steps, &kept, day, left);
    }
    *ret_count = kept;
    return DB_OK;
}
