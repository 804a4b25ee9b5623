/* A forecast that errs: the record of the ten days from today on with an error on each day's low, high and rain. The error
 * of a day grows with its lead time: standard deviation 1.2 + 0.35 K a day for temperatures (1.5 K a day ahead, 3.6 K a week
 * ahead: about the skill that weather services state; from memory), 0.5 + 0.4 mm a day for rain. From one hour's issue to
 * the next it is an AR(1) process with coefficient 0.9, unit variance and a process of its own for each day and figure, so
 * that a temperature a week ahead moves by 1.6 K from hour to hour (standard deviation). */
#ifndef DB_TESTS_KIT_ERRING_H
#define DB_TESTS_KIT_ERRING_H

#include "dewbell/weather.h"

#include <math.h>
#include <string.h>

enum { ERRING_AHEAD = 10, ERRING_KINDS = 3 };

static uint64_t erring_state;

static inline double erring_uniform(void) /* splitmix64, after Steele, Lea & Flood 2014 */
{
    uint64_t z = erring_state += UINT64_C(0x9e3779b97f4a7c15);

    z = (z ^ z >> 30) * UINT64_C(0xbf58476d1ce4e5b9);
    z = (z ^ z >> 27) * UINT64_C(0x94d049bb133111eb);
    return ((double) ((z ^ z >> 31) >> 11) + 0.5) / 9007199254740992.0;
}

static inline double erring_normal(void) /* Box and Muller 1958 */
{
    const double radius = sqrt(-2 * log(erring_uniform()));

    return radius * cos(2 * 3.14159265358979323846 * erring_uniform());
}

struct erring {
    int32_t first;                        /* day of element 0 */
    double z[ERRING_AHEAD][ERRING_KINDS]; /* low, high, rain */
};

static inline void erring_step(struct erring *errors, int32_t today, int hours)
{
    while (errors->first < today) {
        memmove(errors->z[0], errors->z[1], sizeof errors->z - sizeof errors->z[0]);
        for (int k = 0; k < ERRING_KINDS; k++)
            errors->z[ERRING_AHEAD - 1][k] = erring_normal();
        errors->first++;
    }
    for (int h = 0; h < hours; h++)
        for (int d = 0; d < ERRING_AHEAD; d++)
            for (int k = 0; k < ERRING_KINDS; k++)
                errors->z[d][k] = 0.9 * errors->z[d][k] + sqrt(1 - 0.9 * 0.9) * erring_normal();
}

static inline void erring_tell(const struct db_weather *record, const struct erring *errors, int hour, double noise,
                               struct db_told_day days[ERRING_AHEAD])
{
    for (int d = 0; d < ERRING_AHEAD; d++) {
        const double lead = d + 0.5 - hour / 24.0 > 0 ? d + 0.5 - hour / 24.0 : 0;
        const double warmth = noise * (1.2 + 0.35 * lead), wet = noise * (0.5 + 0.4 * lead);
        struct db_told_day *day = &days[d];

        day->date.day = errors->first + d;
        for (int f = 0; f < DB_FIGURE_COUNT; f++)
            day->figures[f] =
                db_weather_figures(record, 0, (enum db_figure) f)[day->date.day - db_weather_first(record).day];
        day->figures[DB_FIGURE_LOW] += warmth * errors->z[d][0];
        day->figures[DB_FIGURE_HIGH] += warmth * errors->z[d][1];
        if (day->figures[DB_FIGURE_HIGH] < day->figures[DB_FIGURE_LOW] + 0.5)
            day->figures[DB_FIGURE_HIGH] = day->figures[DB_FIGURE_LOW] + 0.5;
        day->figures[DB_FIGURE_RAIN] = fmax(0, day->figures[DB_FIGURE_RAIN] + wet * errors->z[d][2]);
    }
}

/* The first issue, for `today` and the days after it. */
static inline void erring_begin(struct erring *errors, struct db_date today, uint64_t seed)
{
    erring_state = seed;
    errors->first = today.day;
    for (int d = 0; d < ERRING_AHEAD; d++)
        for (int k = 0; k < ERRING_KINDS; k++)
            errors->z[d][k] = erring_normal();
}

#endif
