/* Room: what is left for each sowing by those that are in its bed before it. They are taken one after another, and what
 * the earlier ones take is summed by the day on which they are gone, in a tree of partial sums (Fenwick 1994): every
 * question is a walk down the tree. */
#define DB_PURE
#include "engine/plot.h"

#include "base/sort.h"
#include "dewbell/space.h"

#include <math.h>

#include "base/banned.h"

/* The stays of one bed by the day on which they are gone, at one end of the estimates. */
struct leaving {
    int32_t *days;  /* rising */
    uint32_t *rank; /* of each stay of the bed, in the order at hand: its place among `days` */
    double *sums;   /* the tree: from 1 on */
    size_t count;
    double total;
};

struct waiting {
    struct db_plot *plot;
    uint32_t *line; /* stays of the bed: those that are there, then by the day on which they need their ground */
    size_t count;
    struct leaving leaving[3];
    double *kept; /* of each in line: ground that it takes as long as it stands there, after its guests */
};

static struct db_stay *stay_at(const struct waiting *w, size_t index)
{
    return &w->plot->stays[w->line[index]];
}

static void put(struct leaving *l, size_t index, double ground)
{
    l->total += ground;
    for (size_t i = l->rank[index] + 1; i <= l->count; i += i & (~i + 1))
        l->sums[i] += ground;
}

/* What those that are gone by `day` took. */
static double gone_by(const struct leaving *l, int32_t day)
{
    size_t low = 0, high = l->count;
    double sum = 0;

    while (low < high) {
        const size_t middle = low + (high - low) / 2;

        if (l->days[middle] <= day)
            low = middle + 1;
        else
            high = middle;
    }
    for (; low; low -= low & (~low + 1))
        sum += l->sums[low];
    return sum;
}

/* The day by which `ground` has been left. */
static int32_t left_on(const struct leaving *l, double ground)
{
    size_t at = 0, step = 1;

    while (step * 2 <= l->count)
        step *= 2;
    for (; step; step /= 2)
        if (at + step <= l->count && l->sums[at + step] < ground - DB_PLOT_HAIR) {
            at += step;
            ground -= l->sums[at];
        }
    return at < l->count ? l->days[at] : DB_PLOT_EVER;
}

/* The line of a bed: who is there first, then who needs the ground first. */
static int by_turn(const void *a, const void *b, const void *context)
{
    const struct db_plot *plot = context;
    const uint32_t x = *(const uint32_t *) a, y = *(const uint32_t *) b;
    const struct db_stay *s = &plot->stays[x], *t = &plot->stays[y];

    if (s->noted != t->noted)
        return s->noted ? -1 : 1;
    if (s->takes[1].day != t->takes[1].day)
        return s->takes[1].day < t->takes[1].day ? -1 : 1;
    return plot->jobs->ranks[x] < plot->jobs->ranks[y] ? -1 : 1;
}

struct leaver {
    int32_t day;
    uint32_t index;
};

static int by_leaving(const void *a, const void *b, const void *context)
{
    const struct leaver *x = a, *y = b;

    (void) context;
    return (x->day > y->day) - (x->day < y->day);
}

static enum db_status line_up(struct waiting *w, struct db_arena *aside, size_t from, size_t count)
{
    struct leaver *leavers = db_arena_get(aside, count, sizeof *leavers);

    w->count = count;
    w->line = db_arena_get(aside, count, sizeof *w->line);
    w->kept = db_arena_get(aside, count, sizeof *w->kept);
    if (!leavers || !w->line || !w->kept)
        return DB_FULL;
    for (size_t i = 0; i < count; i++)
        w->line[i] = w->plot->order[from + i];
    if (db_sort(w->line, count, sizeof *w->line, by_turn, w->plot, aside) != DB_OK)
        return DB_FULL;
    for (int e = 0; e < 3; e++) {
        struct leaving *l = &w->leaving[e];

        *l = (struct leaving){ .days = db_arena_get(aside, count, sizeof *l->days),
                               .rank = db_arena_get(aside, count, sizeof *l->rank),
                               .sums = db_arena_get(aside, count + 1, sizeof *l->sums),
                               .count = count };
        if (!l->days || !l->rank || !l->sums)
            return DB_FULL;
        for (size_t i = 0; i < count; i++)
            leavers[i] = (struct leaver){ db_plot_end(stay_at(w, i)->to[e]), (uint32_t) i };
        if (db_sort(leavers, count, sizeof *leavers, by_leaving, NULL, aside) != DB_OK)
            return DB_FULL;
        for (size_t i = 0; i < count; i++) {
            l->days[i] = leavers[i].day;
            l->rank[leavers[i].index] = (uint32_t) i;
        }
    }
    return DB_OK;
}

/* How many fit: counted on the whole bed by its sides, on a part of it by ground alone. */
static double plants_on(const struct db_bed *bed, const struct db_sowing *sowing, double ground)
{
    const double apart = db_sowing_apart(sowing, 1), rows = db_crop_middle(sowing->crop, DB_FACT_ROW_SPACING);

    if (isnan(ground) || isnan(apart) || isnan(rows))
        return (double) NAN;
    if (ground >= db_bed_ground(bed) - DB_PLOT_HAIR)
        return db_plants_in_bed(bed->width, bed->length, apart, rows);
    return floor(ground * 1e6 / (apart * rows) + DB_PLOT_HAIR);
}

static void ask(struct waiting *w, const struct db_stay *stay)
{
    struct db_room *room = &w->plot->rooms[stay->sowing];
    const struct db_sowing *sowing = db_garden_sowing(w->plot->jobs->view.garden, stay->sowing);
    const double has = db_bed_ground(stay->bed), most = has * DB_BED_CROWDED;
    const struct db_date day = stay->takes[1];

    room->day = day;
    if (!(has > 0) || !db_date_known(day))
        return;
    for (int e = 0; e < 3; e++) {
        const struct leaving *l = &w->leaving[e];
        const double taken = l->total - gone_by(l, day.day), left = has - taken;

        room->left[2 - e] = left > DB_PLOT_HAIR ? left : 0;
        if (isnan(room->needs))
            continue;

        const int32_t by = taken + room->needs <= most + DB_PLOT_HAIR ? day.day
                           : room->needs > most + DB_PLOT_HAIR        ? DB_PLOT_EVER
                                                                      : left_on(l, l->total + room->needs - most);

        room->ready[e] = by == DB_PLOT_EVER ? DB_NO_DATE : (struct db_date){ by > day.day ? by : day.day };
        if (e == 1)
            room->fit = room->ready[e].day == day.day ? DB_FIT_YES : DB_FIT_NO;
    }
    for (int e = 0; e < 3; e++)
        room->plants[e] = plants_on(stay->bed, sowing, room->left[e]);
}

/* Where a sowing's host stands in the line (place: of each sowing), if that has its ground by now. */
static size_t host_of(const struct db_stay *stay, size_t count, const uint32_t *place)
{
    return stay->host != SIZE_MAX && place[stay->host] < count ? place[stay->host] : SIZE_MAX;
}

static void take_turn(struct waiting *w, size_t index, size_t host)
{
    const struct db_stay *stay = stay_at(w, index);
    const double ground = isnan(stay->ground[0]) ? 0 : stay->ground[0];

    if (host != SIZE_MAX) /* its host's ground is its own to be */
        for (int e = 0; e < 3; e++)
            put(&w->leaving[e], host, -w->kept[host]);
    if (!stay->noted)
        ask(w, stay);
    if (host != SIZE_MAX) {
        w->kept[host] -= fmin(ground, w->kept[host]);
        for (int e = 0; e < 3; e++)
            put(&w->leaving[e], host, w->kept[host]);
    }
    if (!db_date_known(stay->takes[1]))
        return;
    w->kept[index] = ground;
    for (int e = 0; e < 3; e++)
        put(&w->leaving[e], index, ground);
}

static enum db_status make_room_in(struct db_plot *plot, const struct db_plot_bed *bed, uint32_t *place)
{
    struct waiting w = { .plot = plot };
    struct db_arena *aside = db_arena_new(SIZE_MAX);
    enum db_status status = aside ? line_up(&w, aside, bed->from, bed->count) : DB_FULL;

    for (size_t i = 0; i < w.count && status == DB_OK; i++)
        place[w.line[i]] = (uint32_t) i;
    for (size_t i = 0; i < w.count && status == DB_OK; i++)
        take_turn(&w, i, host_of(stay_at(&w, i), i, place));
    (void) db_arena_free(aside);
    return status;
}

enum db_status db_plot_make_room(struct db_plot *plot)
{
    const size_t sowings = db_garden_sowings(plot->jobs->view.garden);
    uint32_t *place = db_arena_get(plot->arena, sowings, sizeof *place);
    enum db_status status = place ? DB_OK : DB_FULL;

    for (size_t s = 0; s < sowings; s++) {
        struct db_room *room = &plot->rooms[s];

        *room =
            (struct db_room){ .day = plot->stays[s].bed || plot->stays[s].noted ? DB_NO_DATE : plot->stays[s].takes[1],
                              .needs = plot->stays[s].ground[0],
                              .elsewhere_from = DB_NO_DATE };
        for (int e = 0; e < 3; e++) {
            room->left[e] = room->plants[e] = (double) NAN;
            room->ready[e] = DB_NO_DATE;
        }
    }
    for (size_t b = 0; b < plot->bed_count && status == DB_OK; b++)
        status = make_room_in(plot, &plot->beds[b], place);
    return status;
}
