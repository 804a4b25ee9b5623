#define DB_PURE
#include "dewbell/thermal.h"

#include <math.h>
#include <stdbool.h>
#include <stdint.h>

#include "base/banned.h"

#define PI 3.14159265358979323846
#define FALL 5.0 /* K above the top within which the rate falls to 0: an estimate */

static double point_rate(const struct db_emergence *table, size_t i)
{
    return table->days[i] > 0 ? 1 / table->days[i] : 0;
}

static double rate_below(const struct db_emergence *table, double t)
{
    double first = table->temperature[0], base = table->base;

    return t > base && base < first ? point_rate(table, 0) * (t - base) / (first - base) : 0;
}

static double rate_above(const struct db_emergence *table, double t)
{
    double last = table->temperature[table->count - 1], top = table->top > last ? table->top : last;

    return point_rate(table, table->count - 1) * fmin(1, fmax(0, (top + FALL - t) / FALL));
}

double db_emergence_rate(const struct db_emergence *table, double t)
{
    if (isnan(t) || !table->count)
        return 0;
    if (t < table->temperature[0])
        return rate_below(table, t);
    for (size_t i = 1; i < table->count; i++)
        if (t < table->temperature[i]) {
            double here = table->temperature[i - 1], rate = point_rate(table, i - 1);
            return rate + (point_rate(table, i) - rate) * (t - here) / (table->temperature[i] - here);
        }
    return rate_above(table, t);
}

double db_emergence_rate_day(const struct db_emergence *table, double t, double half)
{
    double step = half * 0.70710678118654752440;

    if (half == 0)
        return db_emergence_rate(table, t);
    return (db_emergence_rate(table, t - step) + db_emergence_rate(table, t + step)) / 2;
}

enum db_status db_emergence_fit(const struct db_emergence *table, size_t from, size_t to, double *ret_base,
                                double *ret_sum, double *ret_r2)
{
    double mean_t = 0, mean_r = 0, tt = 0, tr = 0, rr = 0;

    if (to >= table->count || from >= to)
        return DB_RANGE;
    double n = (double) (to - from + 1);
    for (size_t i = from; i <= to; i++) {
        if (!(table->days[i] > 0))
            return DB_RANGE;
        mean_t += table->temperature[i] / n;
        mean_r += point_rate(table, i) / n;
    }
    for (size_t i = from; i <= to; i++) {
        double t = table->temperature[i] - mean_t, r = point_rate(table, i) - mean_r;
        tt += t * t;
        tr += t * r;
        rr += r * r;
    }
    if (!(tt > 0 && tr > 0))
        return DB_RANGE;
    *ret_sum = tt / tr;
    *ret_base = mean_t - mean_r * tt / tr;
    *ret_r2 = tr * tr / (tt * rr);
    return DB_OK;
}

enum db_status db_emergence_linear(double base, double sum, double optimum, double top, struct db_emergence *ret_table)
{
    if (!(base < optimum && optimum <= top && sum > 0) || !isfinite(base) || !isfinite(top) || !isfinite(sum))
        return DB_RANGE;
    *ret_table = (struct db_emergence){
        .count = 2,
        .temperature = { base, optimum },
        .days = { 0, sum / (optimum - base) },
        .base = base,
        .top = top,
    };
    return DB_OK;
}

/* Degree-days above a threshold of a sine through low and high. */
static double sine_above(double low, double high, double threshold)
{
    double middle = (low + high) / 2, half = (high - low) / 2;

    if (low >= threshold)
        return middle - threshold;
    if (high <= threshold)
        return 0;
    double angle = asin((threshold - middle) / half);
    return ((middle - threshold) * (PI / 2 - angle) + half * cos(angle)) / PI;
}

static double within(double value, double least, double most)
{
    return fmin(most, fmax(least, value));
}

enum db_status db_degree_days(enum db_degree_method method, double low, double high, double base, double upper,
                              double *ret_sum)
{
    bool cut = method == DB_DEGREE_MODIFIED || method == DB_DEGREE_HORIZONTAL || method == DB_DEGREE_INTERMEDIATE;

    if (!(low <= high) || !isfinite(low) || !isfinite(high) || !isfinite(base) || (cut && !(base < upper)))
        return DB_RANGE;
    switch (method) {
    case DB_DEGREE_AVERAGE:
        *ret_sum = fmax(0, (low + high) / 2 - base);
        return DB_OK;
    case DB_DEGREE_MODIFIED:
        *ret_sum = (within(low, base, upper) + within(high, base, upper)) / 2 - base;
        return DB_OK;
    case DB_DEGREE_SINE:
        *ret_sum = sine_above(low, high, base);
        return DB_OK;
    case DB_DEGREE_HORIZONTAL:
        *ret_sum = fmax(0, sine_above(low, high, base) - sine_above(low, high, upper));
        return DB_OK;
    case DB_DEGREE_INTERMEDIATE: /* a very hot day takes back more than it gave: nothing, then, for a clock cannot run back */
        *ret_sum = fmax(0, sine_above(low, high, base) - 2 * sine_above(low, high, upper));
        return DB_OK;
    }
    return DB_RANGE;
}

size_t db_sums_reach(const double *sums, size_t count, size_t from, double amount)
{
    size_t before = from, at = count;

    if (amount <= 0)
        return 0;
    if (from > count || !(sums[count] - sums[from] >= amount))
        return SIZE_MAX;
    while (at - before > 1) { /* not yet reached at `before`, reached at `at` */
        size_t middle = before + (at - before) / 2;

        if (sums[middle] - sums[from] >= amount)
            at = middle;
        else
            before = middle;
    }
    return at - from;
}

double db_chill_day(double mean, double from, double best, double to)
{
    if (isnan(mean) || isnan(from) || isnan(best) || isnan(to))
        return (double) NAN;
    if (mean <= from || mean >= to)
        return 0;
    return mean <= best ? mean - from : (best - from) * (to - mean) / (to - best);
}

double db_quantile(const double *sorted, size_t count, double p)
{
    double h = (double) (count - 1) * within(p, 0, 1);
    size_t below = (size_t) h;

    if (below + 1 >= count)
        return sorted[count - 1];
    return sorted[below] + (h - (double) below) * (sorted[below + 1] - sorted[below]);
}
