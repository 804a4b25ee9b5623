/* Clock, spread and growth. */
#include "bench.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

double bench_seconds(void)
{
    struct timespec now;

    (void) clock_gettime(CLOCK_MONOTONIC, &now);
    return (double) now.tv_sec + 1e-9 * (double) now.tv_nsec;
}

void samples_add(struct samples *samples, double value)
{
    if (samples->count < sizeof samples->at / sizeof samples->at[0])
        samples->at[samples->count++] = value;
}

static int compare(const void *a, const void *b)
{
    double x = *(const double *) a, y = *(const double *) b;

    return (x > y) - (x < y);
}

static double quantile(const struct samples *samples, double p)
{
    struct samples sorted = *samples;

    if (!sorted.count)
        return NAN;
    qsort(sorted.at, sorted.count, sizeof sorted.at[0], compare);
    return sorted.at[(size_t) lround(p * (double) (sorted.count - 1))];
}

double samples_least(const struct samples *samples)
{
    return quantile(samples, 0);
}

double samples_middle(const struct samples *samples)
{
    return quantile(samples, 0.5);
}

double samples_most(const struct samples *samples)
{
    return quantile(samples, 1);
}

double bench_exponent(const double *n, const double *t, size_t count)
{
    double x = 0, y = 0, xx = 0, xy = 0, k = (double) count;

    for (size_t i = 0; i < count; i++) {
        double u = log(n[i]), v = log(t[i]);
        x += u;
        y += v;
        xx += u * u;
        xy += u * v;
    }
    return (k * xy - x * y) / (k * xx - x * x);
}
