/* Dates beyond the known weather: each past year is one way in which the season may go on. The futures are gone through one
 * after the other, so that their sums lie in memory once; what every sowing made of each is kept in two bytes a day. */
#define DB_PURE
#include "engine/life.h"

#include <math.h>

#include "base/banned.h"

enum { NEVER = UINT16_MAX }; /* not reached in this future, or not before the series ends */

/* The open stages of one sowing: `dates` are [open stage][end][year], days from the series' first. RIPE stands behind them. */
enum { RIPE = DB_STAGE_COUNT, OPEN_COUNT };
struct open {
    unsigned stages; /* bits 1 << enum db_stage, or 1 << RIPE */
    uint16_t *dates;
};

/* The stages that this way of raising goes through. */
static unsigned stages_of(const struct db_sowing *sowing)
{
    const unsigned tray = 1u << DB_STAGE_ROOTED | 1u << DB_STAGE_HARDENING | 1u << DB_STAGE_PLANTED;
    const unsigned all = 1u << DB_STAGE_UP | 1u << DB_STAGE_CROPPING | 1u << DB_STAGE_CLEARED;

    return all | (sowing->way == DB_WAY_PLUGS ? tray : 0) |
           (sowing->way == DB_WAY_POT ? tray | 1u << DB_STAGE_PRICKED_OUT : 0);
}

/* A stage may hang on days after it: on the nights after planting, on growth that comes to a standstill. */
enum { FORESEEN = DB_STILL_DAYS + DB_CALM_NIGHTS };

/* Stages that hang, or may hang, on days that differ from one future to another. What a later note has overtaken does not. */
static unsigned open_stages(const struct db_sowing *sowing, const struct db_life *life, struct db_date shared)
{
    unsigned stages = 0;
    int noted = 0; /* the last step that was noted */

    if (!db_date_known(life->stage[DB_STAGE_SOWN].likely))
        return 0;
    for (int s = DB_STAGE_COUNT - 1; s > DB_STAGE_SOWN && db_stage_step((enum db_stage) s) >= noted; s--) {
        const struct db_turn *turn = &life->stage[s];

        if (turn->how == DB_NOTED)
            noted = noted ? noted : db_stage_step((enum db_stage) s);
        else if ((stages_of(sowing) >> s & 1) && (turn->how == DB_UNKNOWN || turn->late.day + FORESEEN >= shared.day))
            stages |= 1u << s;
    }
    if ((stages >> DB_STAGE_CROPPING & 1) && sowing->into->manured_count)
        stages |= 1u << RIPE;
    return stages;
}

static size_t count_bits(unsigned bits)
{
    size_t count = 0;

    for (; bits; bits &= bits - 1)
        count++;
    return count;
}

static enum db_status open_sowings(const struct db_clocks *clocks, const struct db_course *courses, size_t years,
                                   struct open *open)
{
    const struct db_view *view = clocks->view;
    const struct db_date shared = db_date_add(clocks->first, (int32_t) db_weather_shared(view->weather));

    for (size_t i = 0; i < db_garden_sowings(view->garden); i++) {
        open[i].stages = open_stages(db_garden_sowing(view->garden, i), &courses[i].life, shared);
        open[i].dates = db_arena_get(clocks->arena, count_bits(open[i].stages) * DB_ENDS * years, sizeof(uint16_t));
        if (!open[i].dates)
            return DB_FULL;
    }
    return DB_OK;
}

static uint16_t packed(const struct db_clocks *clocks, struct db_date date)
{
    const int64_t at = (int64_t) date.day - clocks->first.day;

    return db_date_known(date) && at >= 0 && at < NEVER ? (uint16_t) at : NEVER;
}

static enum db_status live_once(struct db_clocks *clocks, const struct db_course *courses, size_t year, size_t years,
                                struct open *open)
{
    struct db_ends ends[OPEN_COUNT];

    for (size_t i = 0; i < db_garden_sowings(clocks->view->garden); i++) {
        uint16_t *to = open[i].dates + year;

        if (!open[i].stages)
            continue;
        const enum db_status status = db_course_ends(clocks, i, &courses[i], ends);
        if (status != DB_OK)
            return status;
        for (int s = 0; s < OPEN_COUNT; s++)
            for (int e = 0; (open[i].stages >> s & 1) && e < DB_ENDS; e++, to += years)
                *to = packed(clocks, ends[s].at[e]);
    }
    return DB_OK;
}

static void sort(uint16_t *days, size_t count)
{
    for (size_t i = 1; i < count; i++) {
        const uint16_t day = days[i];
        size_t at = i;

        for (; at > 0 && days[at - 1] > day; at--)
            days[at] = days[at - 1];
        days[at] = day;
    }
}

/* Quantile of type 7 of rising days, which may end in NEVER; NaN where it falls on that. */
static double quantile(const uint16_t *days, size_t count, double p)
{
    const double h = (double) (count - 1) * p;
    const size_t below = (size_t) h;
    const double part = h - (double) below;
    const uint16_t next = part > 0 && below + 1 < count ? days[below + 1] : days[below];

    return next == NEVER ? (double) NAN : days[below] + part * (next - days[below]);
}

/* `dates`: the early, the likely and the late days of all years, one after the other. They are sorted. */
static void pool(uint16_t *dates, size_t years, struct db_date first, struct db_turn *turn)
{
    double early, likely, late;
    size_t count = DB_ENDS * years;

    sort(dates + DB_LIKELY * years, years);
    likely = quantile(dates + DB_LIKELY * years, years, 0.5);
    if (isnan(likely)) { /* in half of the years it does not come */
        *turn = (struct db_turn){ DB_NO_DATE, DB_NO_DATE, DB_NO_DATE, DB_UNKNOWN };
        return;
    }
    sort(dates, count);
    early = quantile(dates, count, 0.1);
    late = quantile(dates, count, 0.9);
    while (isnan(late)) { /* the last ones of some years never come: the last that do */
        while (dates[count - 1] == NEVER)
            count--;
        late = dates[count - 1];
    }
    *turn = (struct db_turn){ db_date_add(first, (int32_t) floor(early)), db_date_add(first, (int32_t) lround(likely)),
                              db_date_add(first, (int32_t) ceil(late)), DB_ESTIMATED };
}

static void pool_all(const struct db_clocks *clocks, struct db_course *courses, size_t years, struct open *open)
{
    for (size_t i = 0; i < db_garden_sowings(clocks->view->garden); i++) {
        struct db_life *life = &courses[i].life;
        uint16_t *dates = open[i].dates;

        for (int s = 0; s < OPEN_COUNT; s++)
            if (open[i].stages >> s & 1) {
                pool(dates, years, clocks->first, s == RIPE ? &life->ripe : &life->stage[s]);
                dates += DB_ENDS * years;
            }
        if (!db_garden_sowing(clocks->view->garden, i)->into->manured_count)
            life->ripe = life->stage[DB_STAGE_CROPPING];
        life->pooled = (unsigned char) (open[i].stages & ~(1u << RIPE));
        if (open[i].stages)
            db_course_settle(db_garden_sowing(clocks->view->garden, i), &courses[i]);
    }
}

enum db_status db_courses_pool(const struct db_clocks *clocks, struct db_course *courses)
{
    const struct db_view *view = clocks->view;
    const size_t years = db_weather_futures(view->weather) - 1;
    struct db_clocks ahead;
    struct open *open;
    enum db_status status;

    if (!years)
        return DB_OK;
    open = db_arena_get(clocks->arena, db_garden_sowings(view->garden), sizeof *open);
    if (!open)
        return DB_FULL;
    if ((status = open_sowings(clocks, courses, years, open)) != DB_OK)
        return status;
    db_clocks_beside(clocks, &ahead);
    for (size_t year = 0; year < years; year++) {
        db_clocks_turn(&ahead, 1 + year);
        if ((status = live_once(&ahead, courses, year, years, open)) != DB_OK)
            return status;
    }
    pool_all(clocks, courses, years, open);
    return DB_OK;
}
