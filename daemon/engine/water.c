#define DB_PURE
#include "engine/water.h"

#include <math.h>

#include "base/banned.h"

enum {
    DAYS_MOST = 800,    /* of one sowing's books; what lives longer is not told about further on */
    FRESH_DAYS = 10,    /* after planting in which roots have not left the plug. An estimate */
    SHORTEST_LIFE = 10, /* days from first leaf to first harvest, for the shapes below */
    WET = 0,
    DRY = 1,
    BOUNDS /* of what the ground may have lost, where that is not known */
};

/* A life's shape between its first leaf (or planting) and its first harvest: it grows from `begin` to `full` of that time.
 * The four lengths of FAO-56 table 11 come to a fifth and, mostly, half to two thirds. Estimates. */
static const double grow_begin = 0.2, grow_full = 0.6;

static const double kcb_begin = 0.15;  /* FAO-56 table 17, all vegetables */
static const double kc_wet = 1.15;     /* wet bare ground, of the reference: FAO-56's Kc,max in calm humid air */
static const double kc_over_kcb = 0.1; /* what FAO-56's table 12 has above its table 17 at mid season */
static const double topsoil = 0.10;    /* m: FAO-56's Ze, and how deep a seedling's roots are */

/* Estimates: the strip along a drill and the patch about a plant that are wetted while it is small; how much of the topsoil's
 * ready water a plug's roots may miss; how deep seed must lie to be out of the first dryness. */
static const double strip = 0.15 /* m */, patch = 0.07 /* m2 */, fresh_part = 0.5;
static const double seed_near = 20, seed_far = 100 /* mm */;

/* Estimates, too. How far into what lies between RAW and TAW: Ks is down to 0.8 there. And what a pot uses of what the same
 * plants use in a bed, as it is warm all round and leaves hang over it. */
static const double bear_part = 0.2, pot_use = 1.5;

/* A gardener who is told waters, and seldom notes it: after so many days on which watering was due, and no rain that would
 * make up for it was forecast for the next, it is taken as done. Estimates; the shipped rules wait by the same figures. */
enum { ASKED_SEED = 2, ASKED_ROOTS = 3 };
static const double wait_part = 0.7, wait_most = 1.25; /* of what is lost; of the limit */

static const double near_enough = 2; /* mm between the two bounds: then the ground's loss counts as known */

struct db_pump {
    const struct db_clocks *clocks;
    const struct db_course *courses;
    struct db_arena *arena;
    const unsigned char *told; /* of each day of the series: its weather was observed or is forecast */
    int32_t last;              /* the last such day */
    struct db_date *waterings;
    size_t waterings_room;
    size_t sowing; /* whose books these are; SIZE_MAX: nobody's */
    struct db_moisture moisture;
    struct db_wet_day days[DAYS_MOST];
    enum db_status status;
};

/* The sowing that is being worked on. */
struct books {
    const struct db_clocks *clocks;
    const struct db_sowing *sowing;
    const struct db_crop_facts *crop;
    struct db_holding ground;
    struct db_cover_water cover;
    bool in_tray;         /* it was sown in a tray, and these are the books of the ground it was planted into */
    bool in_mix;          /* pots, troughs: mix gives up its water all at once */
    int32_t start, grows; /* first day; the day from which it drinks with roots */
    double length;        /* days from there to the first harvest; NaN: not known */
    double end_length;    /* days from the first harvest to the last; 0: not known */
    double reach;         /* m: root depth, full grown; NaN: not known */
    double top[BOUNDS], root[BOUNDS]; /* mm lost */
    double available;                 /* TAW of the day before */
    bool facts;                       /* all that the plants' drinking is reckoned from is known */
    bool sure;
    int asked; /* days on which watering was due, one after the other */
    int32_t full;
    enum db_filled filled;
};

/* What is the same for both bounds on one day. */
struct drink {
    enum db_drinks from;
    double reference;             /* mm, under the cover */
    double rain;                  /* mm that counts */
    double kcb, available, ready; /* of roots */
    double grown;                 /* 0..1: how far roots and leaves have spread */
};

struct db_pump *db_pump_new(const struct db_clocks *clocks, const struct db_course *courses, struct db_arena *arena)
{
    const struct db_weather *weather = clocks->view->weather;
    struct db_pump *pump = db_arena_get(arena, 1, sizeof *pump);
    unsigned char *told = db_arena_get(arena, clocks->days, 1);

    if (!pump || !told)
        return NULL;
    for (size_t i = 0; i < clocks->days; i++) {
        const struct db_date date = db_date_add(clocks->first, (int32_t) i);

        told[i] = db_weather_origin(weather, date, DB_FIGURE_LOW) >= DB_ORIGIN_FORECAST &&
                  db_weather_origin(weather, date, DB_FIGURE_HIGH) >= DB_ORIGIN_FORECAST &&
                  db_weather_origin(weather, date, DB_FIGURE_RAIN) >= DB_ORIGIN_FORECAST;
    }
    pump->clocks = clocks;
    pump->courses = courses;
    pump->arena = arena;
    pump->told = told;
    pump->last = db_weather_known(weather).day;
    pump->sowing = SIZE_MAX;
    return pump;
}

enum db_status db_pump_status(const struct db_pump *pump)
{
    return pump->status;
}

/* -- the shape of a life ------------------------------------------------------------------------------------------- */

/* How far it has come from `begin` to `full` of its time, 0..1. */
static double along(const struct books *b, int32_t day, double begin)
{
    const double part = (day - b->grows) / b->length;

    return fmin(1, fmax(0, (part - begin) / (grow_full - begin)));
}

static double kcb_on(const struct books *b, int32_t day)
{
    const double mid = db_crop_middle(b->crop, DB_FACT_KCB_MID), end = db_crop_middle(b->crop, DB_FACT_KCB_END);
    const double past = day - b->grows - b->length; /* days since the first harvest */

    if (past > 0 && b->end_length > 0 && !isnan(end))
        return mid + (end - mid) * fmin(1, past / b->end_length);
    return kcb_begin + (mid - kcb_begin) * along(b, day, grow_begin);
}

/* Ground is watered when plants can take but four fifths of what they want, mix before they lack any; and neither for less
 * than its topsoil loses easily. */
static double limit_on(const struct books *b, const struct drink *d)
{
    const double depth = db_crop_middle(b->crop, DB_FACT_DEPTH);

    switch (d->from) {
    case DB_DRINKS_SEEDBED:
        return b->ground.ready +
               (b->ground.total - b->ground.ready) * fmin(0.5, fmax(0, (depth - seed_near) / (seed_far - seed_near)));
    case DB_DRINKS_FRESH:
        return b->ground.ready * fresh_part;
    case DB_DRINKS_ROOTS:
        break;
    }
    return fmin(fmax(d->ready + (b->in_mix ? 0 : bear_part) * (d->available - d->ready), b->ground.ready),
                0.8 * d->available);
}

/* m2 that are wetted: a strip or a patch that spreads with the plants over all of their ground. */
static double wetted(const struct books *b, double grown)
{
    const struct db_sowing *s = b->sowing;
    const double all = db_sowing_ground(s, 1), stands = db_sowing_stands(s);
    double small = (double) NAN;

    if (s->row > 0)
        small = s->row / 1000 * strip;
    if (s->row > 0 && s->way == DB_WAY_STATIONS) /* close places are watered like a drill */
        small = fmin(small, s->row / db_sowing_apart(s, 1) * patch);
    if (isnan(small) && stands > 0)
        small = stands * patch;
    if (isnan(small))
        return all;
    if (isnan(all))
        return grown > 0 ? all : small;
    return fmin(small, all) + fmax(0, all - small) * grown;
}

/* -- days ---------------------------------------------------------------------------------------------------------- */

static struct drink drink_on(const struct books *b, int32_t day)
{
    const size_t at = (size_t) (day - b->clocks->first.day);
    const double reference = b->clocks->reference[at] * b->cover.use;
    struct drink d = { .from = day < b->grows                               ? DB_DRINKS_SEEDBED
                               : b->in_tray && day - b->start <= FRESH_DAYS ? DB_DRINKS_FRESH
                                                                            : DB_DRINKS_ROOTS,
                       .reference = reference,
                       .rain = db_water_effective(b->clocks->figures[DB_FIGURE_RAIN][at] * b->cover.rain, reference) };

    if (d.from == DB_DRINKS_SEEDBED)
        return d;
    d.grown = along(b, day, 0);
    d.kcb = kcb_on(b, day);
    d.available = db_water_available(b->ground.capacity, b->ground.wilting,
                                     fmin(topsoil, b->reach) + fmax(0, b->reach - topsoil) * d.grown);
    d.ready =
        d.available * db_water_easy_part(db_crop_middle(b->crop, DB_FACT_DEPLETION), (d.kcb + kc_over_kcb) * reference);
    return d;
}

static double *lost_in(struct books *b, const struct drink *d)
{
    return d->from == DB_DRINKS_SEEDBED ? b->top : b->root;
}

static void fill(struct books *b, int32_t day, enum db_filled filled)
{
    for (int i = WET; i < BOUNDS; i++)
        b->top[i] = b->root[i] = 0;
    b->sure = true;
    b->asked = 0;
    b->full = day;
    b->filled = filled;
}

/* A day whose weather nobody measured or forecast: anything may have happened to the ground. */
static void lose_sight(struct books *b, const struct drink *d)
{
    b->top[WET] = b->root[WET] = 0;
    b->top[DRY] = b->ground.total;
    b->root[DRY] = d->available;
    b->sure = false;
    b->asked = 0;
    b->filled = DB_FILLED_UNKNOWN;
}

static void pass_day(struct books *b, const struct drink *d, int32_t day)
{
    const bool rained_full = d->rain > 0 && lost_in(b, d)[DRY] <= d->rain;

    if (!b->sure && d->available > b->available) /* roots reach ground of which nothing is known */
        b->root[DRY] += d->available - b->available;
    for (int i = WET; i < BOUNDS; i++) {
        const double wet_use = (fmax(kc_wet, d->kcb + 0.05) - d->kcb) * d->reference;
        const double gone = db_topsoil_day(&b->ground, d->rain, wet_use, &b->top[i]);

        if (d->from != DB_DRINKS_SEEDBED)
            db_root_zone_day(d->available, d->ready, d->rain, gone, d->kcb * d->reference, &b->root[i]);
    }
    if (rained_full) {
        b->full = day;
        b->filled = DB_FILLED_RAIN;
    }
    if (!b->sure && lost_in(b, d)[DRY] - lost_in(b, d)[WET] <= near_enough)
        b->sure = true;
}

static struct db_wet_day write_down(struct books *b, const struct drink *d)
{
    struct db_wet_day w = {
        .limit = limit_on(b, d), .full = b->full, .filled = (unsigned char) b->filled, .drinks = (unsigned char) d->from
    };
    const double *lost = lost_in(b, d);

    w.dry = b->sure ? (lost[WET] + lost[DRY]) / 2 : (double) NAN;
    if (d->from != DB_DRINKS_SEEDBED && !b->facts)
        w.dry = w.limit = (double) NAN;
    w.water = w.dry * wetted(b, d->grown);
    return w;
}

/* Whether it was due for so long that it is taken as done. */
static bool is_watered_untold(struct books *b, const struct db_wet_day *w, int32_t day)
{
    const size_t morrow = (size_t) (day - b->clocks->first.day) + 1;
    const double coming = morrow < b->clocks->days ? b->clocks->figures[DB_FIGURE_RAIN][morrow] * b->cover.rain : 0;

    if (!(w->dry >= w->limit))
        b->asked = 0;
    else if (!(coming >= wait_part * w->dry) || w->dry >= wait_most * w->limit)
        b->asked++;
    return b->asked >= (w->drinks == DB_DRINKS_ROOTS ? ASKED_ROOTS : ASKED_SEED);
}

/* -- a sowing ------------------------------------------------------------------------------------------------------ */

/* False: there is no ground to keep books of. */
static bool open_books(const struct db_pump *pump, size_t sowing, struct books *ret)
{
    const struct db_sowing *s = db_garden_sowing(pump->clocks->view->garden, sowing);
    const struct db_turn *stage = pump->courses[sowing].life.stage;
    const bool in_tray = s->way == DB_WAY_PLUGS || s->way == DB_WAY_POT;
    const struct db_bed *bed = in_tray ? s->into : s->bed;
    const struct db_date start = stage[in_tray ? DB_STAGE_PLANTED : DB_STAGE_SOWN].likely;
    const struct db_date up = stage[DB_STAGE_UP].likely, crops = stage[DB_STAGE_CROPPING].likely,
                         cleared = stage[DB_STAGE_CLEARED].likely;

    if (bed->cover == DB_COVER_INDOORS || !db_date_known(start) || (in_tray && s->into == s->bed))
        return false;
    *ret = (struct books){ .clocks = pump->clocks,
                           .sowing = s,
                           .crop = s->crop,
                           .ground = db_texture_holding(bed->texture),
                           .cover = db_cover_water(bed->cover),
                           .in_tray = in_tray,
                           .start = start.day,
                           .reach = s->crop->low[DB_FACT_ROOT_DEPTH] / 1000 };
    ret->grows = in_tray ? start.day : up.day;
    if (!in_tray && !db_date_known(up))
        ret->grows = s->way == DB_WAY_SETS ? start.day : INT32_MAX;
    ret->length =
        db_date_known(crops) && ret->grows != INT32_MAX ? fmax(SHORTEST_LIFE, crops.day - ret->grows) : (double) NAN;
    if (db_date_known(crops) && cleared.day > crops.day)
        ret->end_length = cleared.day - crops.day;
    ret->facts = !isnan(ret->reach) && !isnan(ret->length) && !isnan(s->crop->low[DB_FACT_KCB_MID]) &&
                 !isnan(s->crop->low[DB_FACT_DEPLETION]);
    if (bed->depth > 0 && bed->depth / 1000 < ret->reach)
        ret->reach = bed->depth / 1000;
    if (bed->depth > 0 && bed->depth / 1000 < topsoil) {
        ret->ground.ready *= bed->depth / 1000 / topsoil;
        ret->ground.total *= bed->depth / 1000 / topsoil;
    }
    ret->in_mix = bed->texture == DB_TEXTURE_MIX;
    if (ret->in_mix)
        ret->cover.use *= pot_use;
    return true;
}

/* Days on which it was noted watered, oldest first, none after today. */
static size_t read_waterings(struct db_pump *pump, size_t sowing)
{
    const struct db_view *view = pump->clocks->view;
    size_t count = db_diary_dates(view->diary, sowing, "watered", pump->waterings, pump->waterings_room);

    if (count > pump->waterings_room) {
        struct db_date *dates = db_arena_get(pump->arena, 2 * count, sizeof *dates);

        if (!dates) {
            pump->status = DB_FULL;
            return 0;
        }
        pump->waterings = dates;
        pump->waterings_room = 2 * count;
        count = db_diary_dates(view->diary, sowing, "watered", dates, pump->waterings_room);
    }
    while (count && pump->waterings[count - 1].day > view->today.day)
        count--;
    return count;
}

const struct db_moisture *db_pump_run(void *of, size_t sowing)
{
    struct db_pump *pump = of;
    const int32_t first = pump->clocks->first.day;
    struct books b;
    size_t waterings, w = 0;
    int32_t day;

    if (pump->sowing == sowing)
        return &pump->moisture;
    pump->sowing = sowing;
    pump->moisture = (struct db_moisture){ .days = pump->days };
    if (!open_books(pump, sowing, &b))
        return &pump->moisture;
    waterings = read_waterings(pump, sowing);
    day = b.start > first ? b.start : first;
    pump->moisture.first = day;
    if (b.start < first) {
        const struct drink d = drink_on(&b, first);

        lose_sight(&b, &d);
    }
    for (; day <= pump->last && pump->moisture.count < DAYS_MOST; day++) {
        const struct drink d = drink_on(&b, day);

        if (day == b.grows && day > b.start) /* the roots begin in the seedbed's ground */
            for (int i = WET; i < BOUNDS; i++)
                b.root[i] = fmin(b.top[i], d.available);
        if (day == b.start) /* watered in */
            fill(&b, day, b.in_tray ? DB_FILLED_PLANTED : DB_FILLED_SOWN);
        else if (!pump->told[day - first])
            lose_sight(&b, &d);
        else
            pass_day(&b, &d, day);
        pump->days[pump->moisture.count] = write_down(&b, &d);
        b.available = d.available;
        if (is_watered_untold(&b, &pump->days[pump->moisture.count++], day))
            fill(&b, day, DB_FILLED_ASKED);
        for (; w < waterings && pump->waterings[w].day <= day; w++)
            if (pump->waterings[w].day == day)
                fill(&b, day, DB_FILLED_WATERED);
    }
    return &pump->moisture;
}
