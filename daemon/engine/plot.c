/* Stays: from which day to which day a sowing has ground in the bed where it grows. */
#define DB_PURE
#include "engine/plot.h"

#include "base/sort.h"

#include <math.h>
#include <string.h>

#include "base/banned.h"

static bool in_tray(const struct db_sowing *sowing)
{
    return sowing->way == DB_WAY_PLUGS || sowing->way == DB_WAY_POT;
}

static struct db_date end_of(const struct db_turn *turn, int end)
{
    return end == 0 ? turn->early : end == 1 ? turn->likely : turn->late;
}

static double fact_at(const struct db_crop_facts *crop, enum db_fact fact, int end)
{
    return end == 0 ? crop->low[fact] : end == 2 ? crop->high[fact] : db_crop_middle(crop, fact);
}

/* What ends its time: it is cleared, or, where it is lifted for the store as soon as it is ready, harvested. */
static const struct db_turn *end_turn(const struct db_sowing *sowing, const struct db_life *life)
{
    const struct db_turn *cleared = &life->stage[DB_STAGE_CLEARED], *cropping = &life->stage[DB_STAGE_CROPPING];

    return isnan(sowing->crop->low[DB_FACT_CURE_TIME]) || cleared->how == DB_NOTED || !db_date_known(cropping->likely)
               ? cleared
               : cropping;
}

/* Where the weather does not say when it is over (a sowing from before the record), the days of the crop's table do. */
static struct db_date gone(const struct db_sowing *sowing, const struct db_turn *ends, const struct db_stay *stay,
                           int end)
{
    const double days =
        fact_at(sowing->crop, DB_FACT_CROP_TIME, end) + fact_at(sowing->crop, DB_FACT_HARVEST_TIME, end);
    struct db_date to = db_date_known(ends->likely) ? end_of(ends, end) : DB_NO_DATE;

    if (!db_date_known(to) && !isnan(days))
        to = db_date_add(stay->from[end], (int32_t) lround(days));
    return db_date_known(to) && to.day < stay->from[end].day ? stay->from[end] : to;
}

static void find_stay(struct db_plot *plot, size_t index)
{
    const struct db_jobs *jobs = plot->jobs;
    const struct db_sowing *sowing = db_garden_sowing(jobs->view.garden, index);
    const struct db_life *life = &jobs->courses[index].life;
    const struct db_turn *comes = &life->stage[in_tray(sowing) ? DB_STAGE_PLANTED : DB_STAGE_SOWN];
    const struct db_turn *ends = end_turn(sowing, life);
    struct db_stay *stay = &plot->stays[index];

    *stay = (struct db_stay){ .sowing = index, .host = SIZE_MAX };
    for (int e = 0; e < 3; e++)
        stay->from[e] = stay->takes[e] = stay->to[e] = DB_NO_DATE;
    if (!db_date_known(comes->likely))
        return;
    if (!in_tray(sowing) || sowing->into != sowing->bed)
        stay->bed = sowing->into;
    stay->noted = comes->how == DB_NOTED;
    stay->over = ends->how == DB_NOTED;
    for (int e = 0; e < 3; e++) {
        stay->takes[e] = stay->from[e] = end_of(comes, e);
        stay->to[e] = gone(sowing, ends, stay, e);
        stay->ground[e] = db_sowing_ground(sowing, e);
    }
}

/* Between the rows of another it takes no ground until that one is gone. */
static void find_host(struct db_plot *plot, size_t index)
{
    const struct db_garden *garden = plot->jobs->view.garden;
    const char *between = db_garden_sowing(garden, index)->between;
    const size_t host = between ? db_garden_find_sowing(garden, between) : SIZE_MAX;
    struct db_stay *stay = &plot->stays[index];

    if (host == SIZE_MAX || host == index || !stay->bed || plot->stays[host].bed != stay->bed)
        return;
    stay->host = host;
    for (int e = 0; e < 3; e++) {
        const struct db_date leaves = plot->stays[host].to[e];

        if (!db_date_known(leaves))
            stay->takes[e] = DB_NO_DATE;
        else if (leaves.day > stay->takes[e].day)
            stay->takes[e] = leaves;
    }
}

/* Bed, then the day on which it comes, then id: no trace of the plan's order. */
static int by_bed(const void *a, const void *b, const void *context)
{
    const struct db_plot *plot = context;
    const uint32_t x = *(const uint32_t *) a, y = *(const uint32_t *) b;
    const struct db_stay *s = &plot->stays[x], *t = &plot->stays[y];
    const int order = strcmp(s->bed->id, t->bed->id);

    if (order != 0)
        return order;
    if (s->from[1].day != t->from[1].day)
        return s->from[1].day < t->from[1].day ? -1 : 1;
    return plot->jobs->ranks[x] < plot->jobs->ranks[y] ? -1 : 1;
}

static int by_bed_id(const void *a, const void *b, const void *context)
{
    const struct db_plot_bed *x = a, *y = b;

    (void) context;
    return strcmp(x->bed->id, y->bed->id);
}

static enum db_status group(struct db_plot *plot, size_t sowings)
{
    const struct db_garden *garden = plot->jobs->view.garden;

    plot->bed_count = db_garden_beds(garden);
    plot->beds = db_arena_get(plot->arena, plot->bed_count, sizeof *plot->beds);
    plot->order = db_arena_get(plot->arena, sowings, sizeof *plot->order);
    if (!plot->beds || !plot->order)
        return DB_FULL;
    for (size_t b = 0; b < plot->bed_count; b++)
        plot->beds[b].bed = db_garden_bed(garden, b);
    for (size_t s = 0; s < sowings; s++)
        if (plot->stays[s].bed)
            plot->order[plot->staying++] = (uint32_t) s;
    if (db_sort(plot->beds, plot->bed_count, sizeof *plot->beds, by_bed_id, NULL, plot->arena) != DB_OK ||
        db_sort(plot->order, plot->staying, sizeof *plot->order, by_bed, plot, plot->arena) != DB_OK)
        return DB_FULL;
    for (size_t b = 0, i = 0; b < plot->bed_count; b++) {
        plot->beds[b].from = i;
        while (i < plot->staying && plot->stays[plot->order[i]].bed == plot->beds[b].bed)
            i++;
        plot->beds[b].count = i - plot->beds[b].from;
    }
    return DB_OK;
}

static void add_inputs(struct db_plot *plot)
{
    for (size_t b = 0; b < plot->bed_count; b++)
        for (size_t i = 0; i < plot->beds[b].count; i++) {
            unsigned char inputs[16];

            db_stay_inputs(plot->jobs, plot->order[plot->beds[b].from + i], inputs);
            for (size_t at = 0; at < sizeof inputs; at++)
                plot->beds[b].inputs[at] = (unsigned char) (plot->beds[b].inputs[at] + inputs[at]);
        }
}

enum db_status db_plot_work(struct db_jobs *jobs, struct db_arena *into, const struct db_plot **ret)
{
    const size_t sowings = db_garden_sowings(jobs->view.garden);
    struct db_plot *plot = db_arena_get(into, 1, sizeof *plot);
    enum db_status status;

    if (!plot)
        return DB_FULL;
    plot->jobs = jobs;
    plot->arena = into;
    plot->stays = db_arena_get(into, sowings, sizeof *plot->stays);
    plot->rooms = db_arena_get(into, sowings, sizeof *plot->rooms);
    if (!plot->stays || !plot->rooms)
        return DB_FULL;
    for (size_t s = 0; s < sowings; s++)
        find_stay(plot, s);
    for (size_t s = 0; s < sowings; s++)
        find_host(plot, s);
    if ((status = group(plot, sowings)) != DB_OK || (status = db_plot_make_room(plot)) != DB_OK ||
        (status = db_plot_families(plot)) != DB_OK || (status = db_plot_elsewhere(plot)) != DB_OK)
        return status;
    add_inputs(plot);
    *ret = plot;
    return DB_OK;
}

struct db_plot_bed *db_plot_bed_of(const struct db_plot *plot, const struct db_bed *bed)
{
    size_t low = 0, high = plot->bed_count;

    while (low < high) {
        const size_t middle = low + (high - low) / 2;
        const int order = strcmp(plot->beds[middle].bed->id, bed->id);

        if (order == 0)
            return &plot->beds[middle];
        if (order < 0)
            low = middle + 1;
        else
            high = middle;
    }
    return NULL;
}

const struct db_plot *db_jobs_plot(const struct db_jobs *jobs)
{
    return jobs->plot;
}

const struct db_stay *db_plot_stay(const struct db_plot *plot, size_t sowing)
{
    return sowing < db_garden_sowings(plot->jobs->view.garden) && plot->stays[sowing].bed ? &plot->stays[sowing] : NULL;
}

const struct db_room *db_plot_room(const struct db_plot *plot, size_t sowing)
{
    return sowing < db_garden_sowings(plot->jobs->view.garden) && db_date_known(plot->stays[sowing].from[1])
               ? &plot->rooms[sowing]
               : NULL;
}

size_t db_plot_count(const struct db_plot *plot, const struct db_bed *bed)
{
    const struct db_plot_bed *found = db_plot_bed_of(plot, bed);

    return found ? found->count : 0;
}

const struct db_stay *db_plot_at(const struct db_plot *plot, const struct db_bed *bed, size_t index)
{
    const struct db_plot_bed *found = db_plot_bed_of(plot, bed);

    return found && index < found->count ? &plot->stays[plot->order[found->from + index]] : NULL;
}

double db_plot_taken(const struct db_plot *plot, const struct db_bed *bed, struct db_date day, int end, int at)
{
    const struct db_plot_bed *found = db_plot_bed_of(plot, bed);
    double taken = 0;

    for (size_t i = 0; found && i < found->count; i++) {
        const struct db_stay *stay = &plot->stays[plot->order[found->from + i]];

        if (!isnan(stay->ground[at]) && db_plot_takes(stay, end, day))
            taken += stay->ground[at];
    }
    return taken;
}
