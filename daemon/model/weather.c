#define DB_PURE
#include "dewbell/weather.h"

#include "base/limits.h"

#include <math.h>
#include <stdint.h>

#include "base/banned.h"

struct db_weather {
    struct db_date first;
    size_t days, futures;
    double *figures;        /* [future][figure][day] */
    unsigned char *origins; /* [figure][day]; one for all futures: they differ only in climate days */
    double *shifts;         /* [low, high][day], K: of forecast days */
    struct db_date past;    /* day of lows[0] */
    size_t low_count;
    const double *lows; /* NULL: none */
};

const char *db_origin_word(enum db_origin origin)
{
    static const char *const words[] = { "none", "climate", "forecast", "observed" };

    return (size_t) origin < sizeof words / sizeof words[0] ? words[origin] : "none";
}

struct db_weather *db_weather_new(struct db_arena *arena, struct db_date first, size_t count, size_t futures)
{
    struct db_weather *weather;

    if (!db_date_known(first) || count > DB_LIMIT_WEATHER_DAYS || !futures || futures > DB_LIMIT_FUTURES)
        return NULL;
    weather = db_arena_get(arena, 1, sizeof *weather);
    if (!weather)
        return NULL;
    *weather = (struct db_weather){ .first = first, .days = count, .futures = futures };
    weather->figures = db_arena_get(arena, futures * DB_FIGURE_COUNT * count, sizeof *weather->figures);
    weather->origins = db_arena_get(arena, DB_FIGURE_COUNT * count, sizeof *weather->origins);
    weather->shifts = db_arena_get(arena, 2 * count, sizeof *weather->shifts);
    if (!weather->figures || !weather->origins || !weather->shifts)
        return NULL;
    for (size_t i = 0; i < futures * DB_FIGURE_COUNT * count; i++)
        weather->figures[i] = (double) NAN;
    return weather;
}

struct db_date db_weather_first(const struct db_weather *weather)
{
    return weather->first;
}

size_t db_weather_days(const struct db_weather *weather)
{
    return weather->days;
}

size_t db_weather_futures(const struct db_weather *weather)
{
    return weather->futures;
}

/* The day's index; SIZE_MAX outside the series. */
static size_t index_of(const struct db_weather *weather, struct db_date date)
{
    const int64_t at = (int64_t) date.day - weather->first.day;

    return db_date_known(date) && at >= 0 && (uint64_t) at < weather->days ? (size_t) at : SIZE_MAX;
}

static double *cell(const struct db_weather *weather, size_t future, enum db_figure figure, size_t day)
{
    return &weather->figures[(future * DB_FIGURE_COUNT + figure) * weather->days + day];
}

static unsigned char *origin_cell(const struct db_weather *weather, enum db_figure figure, size_t day)
{
    return &weather->origins[figure * weather->days + day];
}

void db_weather_put(struct db_weather *weather, struct db_date date, enum db_figure figure, enum db_origin origin,
                    double value)
{
    const size_t day = index_of(weather, date);

    if (day == SIZE_MAX || isnan(value) || *origin_cell(weather, figure, day) > (unsigned char) origin)
        return;
    *origin_cell(weather, figure, day) = (unsigned char) origin;
    for (size_t f = 0; f < weather->futures; f++)
        *cell(weather, f, figure, day) = value;
}

void db_weather_put_future(struct db_weather *weather, size_t future, struct db_date date, enum db_figure figure,
                           double value)
{
    const size_t day = index_of(weather, date);

    if (day == SIZE_MAX || future >= weather->futures || isnan(value) ||
        *origin_cell(weather, figure, day) > DB_ORIGIN_CLIMATE)
        return;
    *origin_cell(weather, figure, day) = DB_ORIGIN_CLIMATE;
    *cell(weather, future, figure, day) = value;
}

void db_weather_set_shift(struct db_weather *weather, struct db_date date, enum db_figure figure, double shift)
{
    const size_t day = index_of(weather, date);

    if (day != SIZE_MAX && figure <= DB_FIGURE_HIGH)
        weather->shifts[figure * weather->days + day] = shift;
}

double db_weather_shift(const struct db_weather *weather, struct db_date date, enum db_figure figure)
{
    const size_t day = index_of(weather, date);

    return day != SIZE_MAX && figure <= DB_FIGURE_HIGH && *origin_cell(weather, figure, day) == DB_ORIGIN_FORECAST
               ? weather->shifts[figure * weather->days + day]
               : 0;
}

/* The same day of the calendar `years` earlier. */
static struct db_date years_before(struct db_date date, int years)
{
    int year, month, day;
    struct db_date there;

    db_date_parts(date, &year, &month, &day);
    if (month == 2 && day == 29)
        day = db_date_days_in_month(year - years, month);
    return db_date_of(year - years, month, day, &there) == DB_OK ? there : DB_NO_DATE;
}

/* The past as far as it may be looked at. */
struct past {
    int32_t first, end; /* days; end is not in it */
    const double *low, *high;
};

static struct past past_of(struct db_date first, size_t count, const double *low, const double *high,
                           struct db_date today)
{
    const int64_t end = (int64_t) first.day + (int64_t) count;

    return (struct past){ first.day, end < today.day ? (int32_t) end : today.day, low, high };
}

static bool has_day(const struct past *past, struct db_date date)
{
    return date.day >= past->first && date.day < past->end && !isnan(past->low[date.day - past->first]) &&
           !isnan(past->high[date.day - past->first]);
}

/* The day that stands for `date`: so many years before it, or one more where the past has ended by then. */
static struct db_date stand_in(const struct past *past, struct db_date date, int back)
{
    const struct db_date there = years_before(date, back);

    return there.day < past->end ? there : years_before(date, back + 1);
}

size_t db_weather_past_years(struct db_date first, size_t count, const double *low, const double *high,
                             struct db_date today, int *ret_back, size_t room)
{
    enum { GAP = 10, YEAR = 365, HALF = 182 };
    const struct past past = past_of(first, count, low, high, today);
    size_t found = 0;

    for (int back = 1; found < room; back++) {
        const struct db_date begin = years_before(today, back);
        int gap = 0;

        if (!db_date_known(begin) || begin.day + YEAR <= past.first)
            break;
        if (begin.day + HALF > past.end)
            continue;
        for (int32_t day = 0; day < YEAR && gap < GAP; day++)
            gap = has_day(&past, stand_in(&past, db_date_add(today, day), back)) ? 0 : gap + 1;
        if (gap < GAP)
            ret_back[found++] = back;
    }
    return found;
}

void db_weather_put_past(struct db_weather *weather, size_t future, struct db_date first, size_t count,
                         double *const figures[DB_FIGURE_COUNT], struct db_date today, int back)
{
    const struct past past = past_of(first, count, figures[DB_FIGURE_LOW], figures[DB_FIGURE_HIGH], today);

    for (size_t day = 0; day < weather->days; day++) {
        const struct db_date date = db_date_add(weather->first, (int32_t) day), there = stand_in(&past, date, back);

        if (!has_day(&past, there))
            continue;
        for (enum db_figure f = DB_FIGURE_LOW; f < (enum db_figure) DB_FIGURE_COUNT; f++)
            if (figures[f])
                db_weather_put_future(weather, future, date, f, figures[f][there.day - past.first]);
    }
}

void db_weather_keep_lows(struct db_weather *weather, struct db_date first, size_t count, const double *low)
{
    weather->past = first;
    weather->low_count = count;
    weather->lows = low;
}

const double *db_weather_lows(const struct db_weather *weather, struct db_date *ret_first, size_t *ret_count)
{
    *ret_first = weather->past;
    *ret_count = weather->low_count;
    return weather->lows;
}

/* The part of the way from the middle of month `*ret_from` to that of `*ret_to` (0..11) that has passed at noon. */
static double between_months(struct db_date date, int *ret_from, int *ret_to)
{
    int year, month, day;

    db_date_parts(date, &year, &month, &day);
    const double middle = db_date_days_in_month(year, month) / 2.0;
    const double noon = day - 0.5;
    const int other = noon < middle ? (month + 10) % 12 : month % 12; /* 0..11: the month before or after */
    const int other_year = year + (noon < middle && month == 1 ? -1 : noon >= middle && month == 12 ? 1 : 0);
    const double span = middle + db_date_days_in_month(other_year, other + 1) / 2.0;

    *ret_from = noon < middle ? other : month - 1;
    *ret_to = noon < middle ? month - 1 : other;
    return noon < middle ? (span - middle + noon) / span : (noon - middle) / span;
}

static double normal_figure(const struct db_normal normals[12], struct db_date date, enum db_figure figure)
{
    int from, to, year, month;
    const double part = between_months(date, &from, &to);

    db_date_parts(date, &year, &month, NULL);
    switch (figure) {
    case DB_FIGURE_LOW:
        return normals[from].low + part * (normals[to].low - normals[from].low);
    case DB_FIGURE_HIGH:
        return normals[from].high + part * (normals[to].high - normals[from].high);
    case DB_FIGURE_RAIN:
        return normals[month - 1].rain / db_date_days_in_month(year, month);
    case DB_FIGURE_WIND:
        break;
    }
    return normals[month - 1].wind;
}

/* A high that was observed may lie below a low that the climate gave, or a forecast one below a low that was corrected. */
static void mend(struct db_weather *weather, size_t day)
{
    if (*origin_cell(weather, DB_FIGURE_LOW, day) == DB_ORIGIN_OBSERVED &&
        *origin_cell(weather, DB_FIGURE_HIGH, day) == DB_ORIGIN_OBSERVED)
        return;
    for (size_t f = 0; f < weather->futures; f++) {
        double *low = cell(weather, f, DB_FIGURE_LOW, day), *high = cell(weather, f, DB_FIGURE_HIGH, day);

        if (*low > *high)
            *low = *high = (*low + *high) / 2;
    }
}

enum db_status db_weather_fill(struct db_weather *weather, const struct db_normal normals[12])
{
    for (size_t i = 0; i < 12; i++) {
        const struct db_normal *n = &normals[i];

        if (!isfinite(n->low) || !isfinite(n->high) || n->low > n->high || isinf(n->rain) || isinf(n->wind))
            return DB_RANGE;
    }
    for (size_t day = 0; day < weather->days; day++) {
        const struct db_date date = db_date_add(weather->first, (int32_t) day);

        for (enum db_figure figure = DB_FIGURE_LOW; figure < (enum db_figure) DB_FIGURE_COUNT; figure++) {
            const double value = normal_figure(normals, date, figure);

            if (isnan(value) || *origin_cell(weather, figure, day) > DB_ORIGIN_CLIMATE)
                continue;
            *origin_cell(weather, figure, day) = DB_ORIGIN_CLIMATE;
            for (size_t f = 0; f < weather->futures; f++)
                if (isnan(*cell(weather, f, figure, day)))
                    *cell(weather, f, figure, day) = value;
        }
        mend(weather, day);
    }
    return DB_OK;
}

enum db_status db_weather_normals(struct db_date first, size_t count, const double *low, const double *high,
                                  const double *rain, struct db_date until, struct db_normal ret_normals[12])
{
    /* February's mean length over the Gregorian cycle of 400 years is 28.2425 days. */
    static const double month_days[12] = { 31, 28.2425, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31 };
    struct {
        double low, high, rain;
        size_t days, rain_days;
    } sum[12] = { 0 };

    for (size_t i = 0; i < count; i++) {
        const struct db_date date = db_date_add(first, (int32_t) i);
        int month;

        if (date.day >= until.day)
            break;
        db_date_parts(date, NULL, &month, NULL);
        if (!isnan(low[i]) && !isnan(high[i])) {
            sum[month - 1].low += low[i];
            sum[month - 1].high += high[i];
            sum[month - 1].days++;
        }
        if (rain && !isnan(rain[i])) {
            sum[month - 1].rain += rain[i];
            sum[month - 1].rain_days++;
        }
    }
    for (size_t m = 0; m < 12; m++)
        if (sum[m].days < 20)
            return DB_ABSENT;
    for (size_t m = 0; m < 12; m++) {
        ret_normals[m].low = sum[m].low / (double) sum[m].days;
        ret_normals[m].high = sum[m].high / (double) sum[m].days;
        ret_normals[m].rain =
            sum[m].rain_days < 20 ? (double) NAN : sum[m].rain / (double) sum[m].rain_days * month_days[m];
        ret_normals[m].wind = (double) NAN;
    }
    return DB_OK;
}

const double *db_weather_figures(const struct db_weather *weather, size_t future, enum db_figure figure)
{
    return cell(weather, future, figure, 0);
}

enum db_origin db_weather_origin(const struct db_weather *weather, struct db_date date, enum db_figure figure)
{
    const size_t day = index_of(weather, date);

    return day == SIZE_MAX ? DB_ORIGIN_NONE : (enum db_origin) * origin_cell(weather, figure, day);
}

size_t db_weather_shared(const struct db_weather *weather)
{
    size_t day = 0;

    while (day < weather->days && *origin_cell(weather, DB_FIGURE_LOW, day) >= DB_ORIGIN_FORECAST &&
           *origin_cell(weather, DB_FIGURE_HIGH, day) >= DB_ORIGIN_FORECAST)
        day++;
    return day;
}

struct db_date db_weather_known(const struct db_weather *weather)
{
    for (size_t day = weather->days; day-- > 0;)
        if (*origin_cell(weather, DB_FIGURE_LOW, day) >= DB_ORIGIN_FORECAST &&
            *origin_cell(weather, DB_FIGURE_HIGH, day) >= DB_ORIGIN_FORECAST)
            return db_date_add(weather->first, (int32_t) day);
    return DB_NO_DATE;
}
