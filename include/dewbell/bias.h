/* How a place differs from what is forecast for it, learnt from days that were forecast and measured: a forecast is made
 * for a square of a grid, and a garden in a hollow is colder at night by much the same each time. Removing the mean error
 * of a sliding window of days is common practice in the statistical post-processing of forecasts (bias correction by a
 * running mean; from memory); the trimming, the shrinking and the steps are ours, and measured: docs/models.md, "The
 * forecast at this garden". */
#ifndef DEWBELL_BIAS_H
#define DEWBELL_BIAS_H

#include "dewbell/date.h"
#include "dewbell/status.h"

#include <stddef.h>

#ifdef __cplusplus
extern "C" {
#endif

enum {
    DB_BIAS_WINDOW = 60, /* days before today that are learnt from */
    DB_BIAS_LEAST = 14,  /* of these with both figures, or nothing is learnt */
    DB_BIAS_BACK = 400   /* days that the steps are followed through */
};

/* What one day's figure was beside what was said of it. */
struct db_miss {
    struct db_date date;
    double miss; /* measured less forecast, K; NaN: one of them is not known */
};

struct db_bias {
    size_t days; /* of the window that were measured; fewer than DB_BIAS_LEAST: nothing is learnt, shift is 0 */
    double
        centre; /* mean of their misses without the fifth that is lowest and the fifth that is highest, K; 0 without days */
    double spread; /* half of the misses lie so near to it, K */
    double shift;  /* what to add to a forecast, K: in steps of half a degree, from -5 to 5 */
};

/* The bias as it stands on `today`. misses: `count` of them, dates rising; those from `today` on are not looked at. The
 * centre of n days counts n / (n + 2), so that few days move little. A shift stays until that differs from it by more
 * than 0.4 K, and then is the half degree next to it: it is followed from the first of the misses on (DB_BIAS_BACK days
 * at most), so that the same misses give the same shift. DB_RANGE: dates that do not rise, a miss that is infinite. */
DB_MUST_USE enum db_status db_bias_learn(const struct db_miss *misses, size_t count, struct db_date today,
                                         struct db_bias *ret);

#ifdef __cplusplus
}
#endif
#endif
