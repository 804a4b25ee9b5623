/* What the parts of the benchmark share. */
#ifndef DB_BENCH_H
#define DB_BENCH_H

#include <stddef.h>
#include <stdint.h>

/* count.c: every malloc, calloc, realloc of the process is counted. */
size_t bench_allocations(void);

/* garden.c: writes a plan of `sowings` sowings into the folder (garden.ini, sowings in files of 1 000, weather.csv). The
 * same seed gives the same plan. 0, or -1 with errno. */
int bench_garden_write(const char *folder, size_t sowings, uint64_t seed);
/* The day that the plan is about: YYYY-MM-DD. */
extern const char bench_today[];

/* yardstick.c: the events of a feed, taken apart once; then built from their texts, serialised and freed with libical
 * alone, one after the other. */
struct yardstick;
struct yardstick *yardstick_new(const char *feed);
void yardstick_free(struct yardstick *yardstick);
size_t yardstick_events(const struct yardstick *yardstick);
/* Builds and serialises all events into a buffer of its own; returns the bytes, valid until the next call. */
const char *yardstick_run(struct yardstick *yardstick, size_t *ret_length);
/* The same events as JSON, for the script. 0, or -1. */
int yardstick_dump(const struct yardstick *yardstick, const char *path);

/* measure.c: a set of measured ratios or times. */
struct samples {
    double at[64];
    size_t count;
};
void samples_add(struct samples *samples, double value);
double samples_least(const struct samples *samples);
double samples_middle(const struct samples *samples);
double samples_most(const struct samples *samples);
double bench_seconds(void);
/* Slope of a straight line through (log n, log t). */
double bench_exponent(const double *n, const double *t, size_t count);

#endif
