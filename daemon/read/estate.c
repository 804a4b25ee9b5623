#include "read/read.h"

#include "base/limits.h"
#include "read/files.h"
#include "read/load.h"
#include "read/source.h"

#include <math.h>
#include <stdint.h>
#include <string.h>

#include "base/banned.h"

/* What the series covers around today. */
enum { DAYS_BACK = 400, DAYS_ON = 430, DAYS_BEFORE_SOWING = 30 };
/* Past years that stand for the time to come: fewer tell less than the climate's averages, more than the latest are of
 * another climate. */
enum { LEAST_YEARS = 3, MOST_YEARS = 30 };

/* A plan's own address takes the place of the description's. */
static enum db_status read_source(struct db_load *load, const struct db_forecast_wish *wish, const char *shipped,
                                  const struct db_source **ret)
{
    struct db_source *source = db_arena_get(load->arena, 1, sizeof *source);
    const struct db_source *described = NULL;
    enum db_status status;

    if (!source)
        return DB_FULL;
    status = db_source_load(load, wish->source, wish->at, shipped, wish->sources, &described);
    if (status != DB_OK)
        return status == DB_MISTAKEN ? DB_OK : status; /* told; the rest of the plan is read all the same */
    *source = *described;
    if (wish->url) {
        source->url = wish->url;
        source->find = source->found = NULL;
    }
    if (!source->url && !source->find)
        db_mistakes_add(load->mistakes, wish->at, "write url = ... in [forecast]",
                        "the source \"%s\" does not say where to ask", wish->source);
    *ret = source;
    return DB_OK;
}

static enum db_status read_all(struct db_load *load, const char *garden_file, const char *shipped,
                               struct db_estate *ret)
{
    struct db_plan plan;
    enum db_status status = db_plan_open(load, garden_file, &plan);

    if (status == DB_OK)
        status = db_crops_read(load, shipped, plan.own_crops, plan.own_crops_at, &ret->crops);
    if (status == DB_OK)
        status = db_rule_files_read(load, shipped, plan.own_rules, plan.own_rules_at, &ret->rules);
    if (status == DB_OK)
        status = db_plan_garden(load, &plan, ret->crops, &ret->garden);
    if (status == DB_OK)
        status = db_plan_records(load, &plan, &ret->records);
    if (status == DB_OK)
        status = db_plan_outlets(load, &plan, &ret->outlets);
    if (status == DB_OK && ret->outlets.forecast.source)
        status = read_source(load, &ret->outlets.forecast, shipped, &ret->source);
    ret->folder = plan.folder;
    return status;
}

enum db_status db_estate_read(const char *garden_file, const char *shipped, struct db_arena *arena,
                              struct db_mistakes *mistakes, struct db_estate *ret_estate)
{
    struct db_load load = { .arena = arena, .scratch = db_arena_new(DB_LIMIT_SCRATCH), .mistakes = mistakes };
    const size_t before = db_mistakes_count(mistakes);
    struct db_estate estate = { 0 };
    enum db_status status;

    if (!load.scratch)
        return DB_FULL;
    status = read_all(&load, garden_file, shipped, &estate);
    estate.files = load.files;
    estate.folders = load.folders;
    estate.seen = load.seen;
    (void) db_arena_free(load.scratch);
    if (status == DB_OK && db_mistakes_count(mistakes) > before)
        status = DB_MISTAKEN;
    if (status == DB_OK)
        *ret_estate = estate;
    else {
        ret_estate->files = estate.files; /* a service goes on watching them: the mistake will be mended there */
        ret_estate->folders = estate.folders;
        ret_estate->seen = estate.seen;
    }
    return status;
}

bool db_estate_stands(const struct db_estate *estate)
{
    return db_seen_stands(estate->seen);
}

enum db_status db_estate_read_copies(const char *copies, const char *garden_file, const char *shipped,
                                     struct db_arena *arena, struct db_mistakes *mistakes, struct db_estate *ret_estate)
{
    db_files_from(copies);
    enum db_status status = db_estate_read(garden_file, shipped, arena, mistakes, ret_estate);
    db_files_from(NULL);
    return status;
}

static struct db_date first_day(const struct db_garden *garden, struct db_date today)
{
    struct db_date first = db_date_add(today, -DAYS_BACK);
    /* Older than the longest series that may be: nothing hangs on those days any more. */
    const int32_t oldest = today.day + DAYS_ON - DB_LIMIT_WEATHER_DAYS + 1;

    for (size_t i = 0; i < db_garden_sowings(garden); i++) {
        const struct db_sowing *sowing = db_garden_sowing(garden, i);
        const struct db_date days[] = { sowing->planned, sowing->sown };

        for (size_t d = 0; d < 2; d++)
            if (db_date_known(days[d]) && days[d].day - DAYS_BEFORE_SOWING < first.day)
                first = db_date_add(days[d], -DAYS_BEFORE_SOWING);
    }
    if (first.day < oldest)
        first.day = oldest;
    return first;
}

/* Puts the record's days from..to into the series. */
static void put_days(struct db_weather *weather, const struct db_days *days, struct db_date from, struct db_date to,
                     enum db_origin origin)
{
    for (struct db_date day = from; day.day <= to.day; day = db_date_add(day, 1))
        for (enum db_figure f = DB_FIGURE_LOW; f < (enum db_figure) DB_FIGURE_COUNT; f++)
            db_weather_put(weather, day, f, origin, db_days_figure(days, day, f)); /* NaN puts nothing */
}

/* A forecast figure as it is here: shift K from what was told. Where a better figure stands it is not said. */
static void put_forecast(struct db_weather *weather, struct db_date day, enum db_figure figure, double told,
                         double shift)
{
    if (isnan(told))
        return;
    db_weather_put(weather, day, figure, DB_ORIGIN_FORECAST, told + shift);
    db_weather_set_shift(weather, day, figure, shift);
}

/* The plan's forecast file: nothing is learnt of it, as nobody keeps what it said before. */
static void put_file(struct db_weather *weather, const struct db_days *days, struct db_date from, struct db_date to,
                     double nights)
{
    for (struct db_date day = from; day.day <= to.day; day = db_date_add(day, 1))
        for (enum db_figure f = DB_FIGURE_LOW; f < (enum db_figure) DB_FIGURE_COUNT; f++)
            put_forecast(weather, day, f, db_days_figure(days, day, f), f == DB_FIGURE_LOW ? nights : 0);
}

/* A day that was forecast and has gone by without being observed keeps its forecast. What the plan says of the nights
 * goes before what was learnt of them. */
static void put_told(struct db_weather *weather, const struct db_told *told, const struct db_site *site)
{
    for (size_t i = 0; told && i < told->count; i++)
        for (enum db_figure f = DB_FIGURE_LOW; f < (enum db_figure) DB_FIGURE_COUNT; f++) {
            const double learnt = f <= DB_FIGURE_HIGH ? told->bias[f].shift : 0;
            const bool planned = f == DB_FIGURE_LOW && site->nights_known;

            put_forecast(weather, told->days[i].date, f, told->days[i].figures[f],
                         planned ? -site->colder_nights : learnt);
        }
}

static bool has_day(const struct db_days *days, struct db_date day)
{
    return !isnan(db_days_figure(days, day, DB_FIGURE_LOW)) && !isnan(db_days_figure(days, day, DB_FIGURE_HIGH));
}

/* The past as it would have been here: what the gardener measured is of this garden already. */
static enum db_status past_here(const struct db_records *records, double nights, struct db_arena *arena,
                                struct db_days *ret)
{
    const double *low = records->past.figures[DB_FIGURE_LOW], *high = records->past.figures[DB_FIGURE_HIGH];
    double *lows;

    *ret = records->past;
    if (!ret->count || records->past_is_observed || !(fabs(nights) > 0))
        return DB_OK;
    lows = db_arena_get(arena, ret->count, sizeof *lows);
    if (!lows)
        return DB_FULL;
    for (size_t i = 0; i < ret->count; i++)
        lows[i] = low[i] + nights > high[i] ? high[i] : low[i] + nights; /* NaN compares false */
    ret->figures[DB_FIGURE_LOW] = lows;
    return DB_OK;
}

/* Past years as far as they were over by `today`; where they do not cover every month, the plan's [climate]. */
static bool climate_of(const struct db_records *records, const struct db_days *past, double nights,
                       struct db_date today, struct db_normal ret[12])
{
    if (past->count &&
        db_weather_normals(past->first, past->count, past->figures[DB_FIGURE_LOW], past->figures[DB_FIGURE_HIGH],
                           past->figures[DB_FIGURE_RAIN], today, ret) == DB_OK)
        return true;
    for (size_t m = 0; records->climate && m < 12; m++) {
        ret[m] = records->normals[m];
        ret[m].low = fmin(ret[m].low + nights, ret[m].high);
    }
    return records->climate;
}

enum db_status db_estate_weather(const struct db_estate *estate, struct db_date today, struct db_arena *arena,
                                 struct db_mistakes *mistakes, struct db_weather **ret_weather)
{
    const struct db_records *records = estate->records;
    const struct db_site *site = db_garden_site(estate->garden);
    const double nights = site->nights_known ? -site->colder_nights : 0;
    const struct db_date first = first_day(estate->garden, today), last = db_date_add(today, DAYS_ON);
    const bool forecast_today = has_day(&records->forecast, today);
    const size_t count = (size_t) ((int64_t) last.day - first.day + 1);
    struct db_normal normals[12];
    struct db_weather *weather;
    struct db_days past;
    int back[MOST_YEARS];
    size_t years;
    char buffer[11];

    if (past_here(records, nights, arena, &past) != DB_OK)
        return DB_FULL;
    if (!climate_of(records, &past, nights, today, normals)) {
        db_mistakes_add(mistakes, records->at, "write [climate] with its twelve months",
                        "before %s the past years hold fewer than 20 days of some month", db_date_iso(today, buffer));
        return DB_MISTAKEN;
    }
    years = past.count ? db_weather_past_years(past.first, past.count, past.figures[DB_FIGURE_LOW],
                                               past.figures[DB_FIGURE_HIGH], today, back, MOST_YEARS)
                       : 0;
    years = years < LEAST_YEARS ? 0 : years;
    weather = db_weather_new(arena, first, count, 1 + years);
    if (!weather)
        return DB_FULL;
    put_days(weather, &records->observed, first, db_date_add(today, forecast_today ? -1 : 0), DB_ORIGIN_OBSERVED);
    put_days(weather, &records->observed, db_date_add(today, 1), db_date_add(today, records->ahead),
             DB_ORIGIN_FORECAST);
    put_file(weather, &records->forecast, first, last, nights);
    put_told(weather, estate->told, site);
    if (past.count)
        db_weather_keep_lows(weather, past.first, past.count, past.figures[DB_FIGURE_LOW]);
    for (size_t y = 0; y < years; y++)
        db_weather_put_past(weather, 1 + y, past.first, past.count, past.figures, today, back[y]);
    if (db_weather_fill(weather, normals) != DB_OK)
        return DB_RANGE;
    *ret_weather = weather;
    return DB_OK;
}
