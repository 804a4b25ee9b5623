/* Where else there is room for a sowing that does not fit where the plan wants it, or for a tray that it names no bed for: in a bed of the same kind that its
 * family has kept off for long enough, whose manure is old enough, and where it fits as long as it stays. */
#define DB_PURE
#include "engine/plot.h"

#include "base/sort.h"

#include <math.h>

#include "base/banned.h"

/* What is taken of a bed, likely, at the closest distances: from each day on until the next. A tree over it knows the most of
 * any run. */
struct db_steps {
    struct step {
        int32_t day;
        double ground;
    } * at;
    double *most; /* the tree: leaves from `leaves` on */
    size_t count, leaves;
};

static int by_day(const void *a, const void *b, const void *context)
{
    const struct step *x = a, *y = b;

    (void) context;
    return (x->day > y->day) - (x->day < y->day);
}

static enum db_status build_tree(struct db_steps *steps, struct db_arena *arena)
{
    steps->leaves = 1;
    while (steps->leaves < steps->count)
        steps->leaves *= 2;
    steps->most = db_arena_get(arena, 2 * steps->leaves, sizeof *steps->most);
    if (!steps->most)
        return DB_FULL;
    for (size_t i = 0; i < steps->count; i++)
        steps->most[steps->leaves + i] = steps->at[i].ground;
    for (size_t i = steps->leaves - 1; i; i--)
        steps->most[i] = fmax(steps->most[2 * i], steps->most[2 * i + 1]);
    return DB_OK;
}

static enum db_status build_steps(const struct db_plot *plot, struct db_plot_bed *bed)
{
    struct db_steps *steps = db_arena_get(plot->arena, 1, sizeof *steps);
    double sum = 0;
    size_t kept = 0;

    if (!steps || !(steps->at = db_arena_get(plot->arena, 2 * bed->count + 1, sizeof *steps->at)))
        return DB_FULL;
    steps->at[steps->count++] = (struct step){ INT32_MIN, 0 };
    for (size_t i = 0; i < bed->count; i++) {
        const struct db_stay *stay = &plot->stays[plot->order[bed->from + i]];

        if (isnan(stay->ground[0]) || !db_date_known(stay->takes[1]) || stay->takes[1].day >= db_plot_end(stay->to[1]))
            continue;
        steps->at[steps->count++] = (struct step){ stay->takes[1].day, stay->ground[0] };
        steps->at[steps->count++] = (struct step){ db_plot_end(stay->to[1]), -stay->ground[0] };
    }
    if (db_sort(steps->at, steps->count, sizeof *steps->at, by_day, NULL, plot->arena) != DB_OK)
        return DB_FULL;
    for (size_t i = 0; i < steps->count; i++) {
        sum += steps->at[i].ground;
        if (i + 1 == steps->count || steps->at[i + 1].day != steps->at[i].day)
            steps->at[kept++] = (struct step){ steps->at[i].day, sum };
    }
    steps->count = kept;
    bed->steps = steps;
    return build_tree(steps, plot->arena);
}

/* The step that holds on that day. */
static size_t step_on(const struct db_steps *steps, int32_t day)
{
    size_t low = 0, high = steps->count;

    while (high - low > 1) {
        const size_t middle = low + (high - low) / 2;

        if (steps->at[middle].day <= day)
            low = middle;
        else
            high = middle;
    }
    return low;
}

/* The last step of [from, to] on which more than `ground` is taken; SIZE_MAX: none. */
static size_t last_above(const struct db_steps *steps, size_t node, size_t first, size_t width, size_t from, size_t to,
                         double ground)
{
    size_t found;

    if (first > to || first + width <= from || steps->most[node] <= ground)
        return SIZE_MAX;
    if (width == 1)
        return first;
    found = last_above(steps, 2 * node + 1, first + width / 2, width / 2, from, to, ground);
    return found != SIZE_MAX ? found : last_above(steps, 2 * node, first, width / 2, from, to, ground);
}

/* The first day from `from` up to `until` on which no more than `ground` is taken for `length` days; no date: none. */
static struct db_date first_day(const struct db_steps *steps, int32_t from, int32_t until, int32_t length,
                                double ground)
{
    while (from <= until) {
        const size_t first = step_on(steps, from), last = step_on(steps, from + length - 1);
        const size_t full = last_above(steps, 1, 0, steps->leaves, first, last, ground);

        if (full == SIZE_MAX)
            return (struct db_date){ from };
        if (full + 1 == steps->count)
            break;
        from = steps->at[full + 1].day;
    }
    return DB_NO_DATE;
}

static bool under_sky(enum db_cover cover)
{
    return cover == DB_COVER_OPEN || cover == DB_COVER_BOARD || cover == DB_COVER_FLEECE;
}

/* b: the bed that the plan names; NULL: none, and open ground will do. */
static bool is_alike(const struct db_bed *a, const struct db_bed *b)
{
    if (!b)
        return under_sky(a->cover) && a->texture != DB_TEXTURE_MIX;
    return (a->cover == b->cover || (under_sky(a->cover) && under_sky(b->cover))) &&
           (a->texture == DB_TEXTURE_MIX) == (b->texture == DB_TEXTURE_MIX);
}

/* Its family has kept off for long enough, and no raw manure would hold the harvest. */
static bool may_follow(const struct db_plot *plot, const struct db_bed *bed, const struct db_stay *stay)
{
    const struct db_crop_facts *crop = db_garden_sowing(plot->jobs->view.garden, stay->sowing)->crop;
    const double off = crop->low[DB_FACT_KEEP_OFF];
    const struct db_date ripe = plot->jobs->courses[stay->sowing].life.ripe.likely;
    int seasons;

    return (isnan(off) || !db_plot_grew(plot, bed, stay, &seasons) || seasons * 365.25 >= off) &&
           db_bed_harvest(bed, db_crop_manure_wait(crop), ripe, NULL).day == ripe.day;
}

static enum db_status first_in(const struct db_plot *plot, const struct db_bed *bed, const struct db_stay *stay,
                               int32_t from, struct db_date *ret)
{
    const int32_t length =
        db_date_known(stay->to[1]) && stay->to[1].day > stay->takes[1].day ? stay->to[1].day - stay->takes[1].day : 365;
    struct db_plot_bed *grows = db_plot_bed_of(plot, bed);
    const double ground = db_bed_ground(bed) - stay->ground[0] - grows->promised + DB_PLOT_HAIR;
    enum db_status status = DB_OK;

    *ret = DB_NO_DATE;
    if (ground < 0)
        return DB_OK;
    if (!grows->steps)
        status = build_steps(plot, grows);
    if (status == DB_OK)
        *ret = first_day(grows->steps, from, from + DB_ELSEWHERE_AHEAD, length, ground);
    return status;
}

static enum db_status look_for(struct db_plot *plot, const struct db_stay *stay, struct db_room *room)
{
    const struct db_garden *garden = plot->jobs->view.garden;
    const int32_t today = plot->jobs->view.today.day, from = stay->takes[1].day > today ? stay->takes[1].day : today;
    const size_t beds = db_garden_beds(garden);
    int looked = 0;

    for (size_t b = 0; b < beds && looked < DB_ELSEWHERE_BEDS; b++) {
        const struct db_bed *bed = db_garden_bed(garden, b);
        struct db_date day;
        enum db_status status;

        if (bed == stay->bed || !(db_bed_ground(bed) > 0) || !is_alike(bed, stay->bed))
            continue;
        looked++;
        if ((status = first_in(plot, bed, stay, from, &day)) != DB_OK)
            return status;
        if (db_date_known(day) && (!db_date_known(room->ready[1]) || day.day < room->ready[1].day) &&
            (!room->elsewhere || day.day < room->elsewhere_from.day) && may_follow(plot, bed, stay)) {
            room->elsewhere = bed;
            room->elsewhere_from = day;
        }
    }
    return DB_OK;
}

/* Who needs the ground first is sent first. */
static int by_need(const void *a, const void *b, const void *context)
{
    const struct db_plot *plot = context;
    const uint32_t x = *(const uint32_t *) a, y = *(const uint32_t *) b;
    const int32_t s = plot->rooms[x].day.day, t = plot->rooms[y].day.day;

    return s != t ? (s < t ? -1 : 1) : plot->jobs->ranks[x] < plot->jobs->ranks[y] ? -1 : 1;
}

enum db_status db_plot_elsewhere(struct db_plot *plot)
{
    const size_t sowings = db_garden_sowings(plot->jobs->view.garden);
    const int32_t today = plot->jobs->view.today.day;
    uint32_t *waiting = db_arena_get(plot->arena, sowings, sizeof *waiting);
    size_t count = 0;
    enum db_status status = DB_OK;

    if (!waiting)
        return DB_FULL;
    for (size_t s = 0; s < sowings; s++) {
        const struct db_room *room = &plot->rooms[s];
        const bool homeless = !plot->stays[s].bed && db_date_known(room->day) && !isnan(room->needs);

        if ((room->fit == DB_FIT_NO || homeless) && room->day.day <= today + DB_ELSEWHERE_SOON &&
            room->day.day >= today - DB_ELSEWHERE_AHEAD)
            waiting[count++] = (uint32_t) s;
    }
    if (db_sort(waiting, count, sizeof *waiting, by_need, plot, plot->arena) != DB_OK)
        return DB_FULL;
    for (size_t i = 0; i < count && status == DB_OK; i++) {
        struct db_room *room = &plot->rooms[waiting[i]];

        status = look_for(plot, &plot->stays[waiting[i]], room);
        if (room->elsewhere)
            db_plot_bed_of(plot, room->elsewhere)->promised += room->needs;
    }
    return status;
}
