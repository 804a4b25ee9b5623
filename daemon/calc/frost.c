#define DB_PURE
#include "dewbell/frost.h"

#include "dewbell/thermal.h"

#include <math.h>
#include <stdint.h>

#include "base/banned.h"

/* The record as far as it may be looked at. */
struct nights {
    int32_t first, end; /* days; end is not in it */
    const double *low;
};

static bool missing(const struct nights *nights, int32_t day)
{
    return day < nights->first || day >= nights->end || isnan(nights->low[day - nights->first]);
}

/* 1 January of the year; in the south 1 July. */
static int32_t midwinter(int year, bool south)
{
    struct db_date date = DB_NO_DATE;

    return db_date_of(year, south ? 7 : 1, 1, &date) == DB_OK ? date.day : INT32_MIN;
}

/* 24 July of the year; in the south, 24 January of the next one. */
static int32_t midsummer(int year, bool south)
{
    struct db_date date = DB_NO_DATE;

    return db_date_of(south ? year + 1 : year, south ? 1 : 7, 24, &date) == DB_OK ? date.day : INT32_MIN;
}

/* Whether none of the gaps from..to is too long. */
static bool is_known(const struct nights *nights, int32_t from, int32_t to)
{
    int gap = 0;

    for (int32_t day = from; day <= to; day++) {
        gap = missing(nights, day) ? gap + 1 : 0;
        if (gap >= DB_FROST_GAP)
            return false;
    }
    return true;
}

/* The first cold night on the way from `from` to `to`, which may be a way back; INT32_MIN if there is none before the end or
 * a gap that is too long. */
static int32_t find_cold(const struct nights *nights, int32_t from, int32_t to, double threshold)
{
    const int32_t step = from <= to ? 1 : -1;
    int gap = 0;

    for (int32_t day = from; day != to + step && gap < DB_FROST_GAP; day += step) {
        gap = missing(nights, day) ? gap + 1 : 0;
        if (!gap && nights->low[day - nights->first] <= threshold)
            return day;
    }
    return INT32_MIN;
}

static void insert(struct db_frosts *frosts, double day)
{
    size_t at = frosts->count++;

    for (; at > 0 && frosts->days[at - 1] > day; at--)
        frosts->days[at] = frosts->days[at - 1];
    frosts->days[at] = day;
}

enum db_status db_frost_seasons(struct db_date first, size_t count, const double *low, struct db_date until, bool south,
                                enum db_frost which, double threshold, struct db_frosts *ret_frosts)
{
    struct nights nights = { .first = first.day, .low = low };
    struct db_frosts frosts = { 0 };
    int from, to;

    if (!db_date_known(first) || !db_date_known(until) || isnan(threshold) || count > INT32_MAX / 2)
        return DB_RANGE;
    nights.end = first.day + (int32_t) count;
    if (nights.end > until.day)
        nights.end = until.day;
    db_date_parts(first, &from, NULL, NULL);
    db_date_parts((struct db_date){ nights.end }, &to, NULL, NULL);
    for (int year = from - 1; nights.end > nights.first && year <= to && frosts.seasons < DB_FROST_SEASONS; year++) {
        const int32_t winter = midwinter(year, south), summer = midsummer(year, south);
        int32_t found;

        if (winter == INT32_MIN || summer == INT32_MIN)
            continue;
        if (which == DB_FROST_LAST) {
            if (!is_known(&nights, winter, summer - 1))
                continue;
            found = find_cold(&nights, summer - 1, midsummer(year - 1, south), threshold);
        } else {
            if (!is_known(&nights, summer, midwinter(year + 1, south) - 1))
                continue;
            found = find_cold(&nights, summer, midsummer(year + 1, south) - 1, threshold);
        }
        frosts.seasons++;
        if (found == INT32_MIN)
            frosts.none++;
        else
            insert(&frosts, found - winter + 1);
    }
    *ret_frosts = frosts;
    return DB_OK;
}

double db_frost_ground(double wind)
{
    static const double knot = 1852.0 / 3600;

    return wind <= 6 * knot ? 2.58 : wind > 15 * knot ? 1.27 : 1.84; /* NaN compares false */
}

double db_frost_ground_chance(double low)
{
    static const double share[] = { .86, .72, .50, .32, .21, .11, .06 };
    const int last = sizeof share / sizeof share[0] - 1;
    int below;

    if (!(low >= 0 && low <= last)) /* NaN fails here too */
        return (double) NAN;
    below = low < last ? (int) low : last - 1;
    return share[below] + (low - below) * (share[below + 1] - share[below]);
}

double db_frost_quantile(const struct db_frosts *frosts, double p)
{
    return frosts->count ? db_quantile(frosts->days, frosts->count, p) : (double) NAN;
}

double db_frost_day(const struct db_frosts *frosts, enum db_frost which, double p)
{
    const size_t before = which == DB_FROST_LAST ? frosts->none : 0; /* seasons that come before all days */
    double h, part;
    size_t below;

    if (!frosts->count)
        return (double) NAN;
    if (frosts->seasons < DB_FROST_FEW && !(p >= 0.5 && p <= 0.5))
        return frosts->days[p < 0.5 ? 0 : frosts->count - 1];
    h = (double) (frosts->seasons - 1) * fmin(fmax(p, 0), 1); /* type 7 */
    below = (size_t) h;
    part = h - (double) below;
    if (below < before || below - before + (part > 0) >= frosts->count)
        return (double) NAN;
    below -= before;
    return part > 0 ? frosts->days[below] + part * (frosts->days[below + 1] - frosts->days[below])
                    : frosts->days[below];
}

double db_frost_chance(const struct db_frosts *frosts, enum db_frost which, double day)
{
    size_t hit = 0;

    if (!frosts->seasons)
        return (double) NAN;
    for (size_t i = 0; i < frosts->count; i++)
        hit += which == DB_FROST_LAST ? frosts->days[i] > day : frosts->days[i] <= day;
    return (double) hit / (double) (frosts->seasons + 1);
}

struct db_date db_frost_date(int year, bool south, double day)
{
    const int32_t winter = midwinter(year, south);

    return winter == INT32_MIN || !(fabs(day) < 1e4) ? DB_NO_DATE
                                                     : (struct db_date){ winter + (int32_t) lround(day) - 1 };
}

struct db_date db_frost_given(int year, bool south, enum db_frost which, struct db_season_day given)
{
    const int season = which == DB_FROST_LAST ? year - 1 : year; /* it begins in the midsummer of that year */

    for (int y = season; given.month > 0 && y <= season + 2; y++) {
        const bool absent = given.month == 2 && given.day == 29 && db_date_days_in_month(y, 2) < 29;
        struct db_date date = DB_NO_DATE;

        if (db_date_of(y, given.month, absent ? 28 : given.day, &date) == DB_OK &&
            date.day >= midsummer(season, south) && date.day < midsummer(season + 1, south))
            return date;
    }
    return DB_NO_DATE;
}

int db_frost_year(struct db_date date, bool south)
{
    int year, month;

    db_date_parts(date, &year, &month, NULL);
    return south && month < 7 ? year - 1 : year;
}
