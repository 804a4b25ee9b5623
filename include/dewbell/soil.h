/* Temperature where the seed lies, from the air above it. Source of the form: lagged air mean with a small radiation
 * term. Measured error of the daily mean on open ground: RMSE 1.0-1.9 K at three sites on 17 143 days; say +-1.7 K (one
 * sigma). The factors for swing and covers are partly estimates: docs/models.md says which. */
#ifndef DEWBELL_SOIL_H
#define DEWBELL_SOIL_H

#include "dewbell/date.h"
#include "dewbell/status.h"

#include <stddef.h>

#ifdef __cplusplus
extern "C" {
#endif

/* What lies between the sky and the seed. */
enum db_cover { DB_COVER_OPEN, DB_COVER_BOARD, DB_COVER_FLEECE, DB_COVER_FRAME, DB_COVER_TUNNEL, DB_COVER_INDOORS };
enum { DB_COVER_COUNT = DB_COVER_INDOORS + 1 };

/* The word in the gardener's files ("open", "board", "fleece", "frame", "tunnel", "indoors") and back. */
const char *db_cover_word(enum db_cover cover);

/* How a cover changes the seed zone: mean (K added), swing (factor on the half-range), night (K added to the low that
 * the plants feel). Indoors: all zero; the mean is the gardener's own figure. */
struct db_cover_effect {
    double mean, swing, night;
};
struct db_cover_effect db_cover_effect(enum db_cover cover);

/* Lag tau (days) and smoothing factor alpha = 1 - exp(-1/tau) at depth z (cm, 0..15): tau = 0.3 + 0.09 z. */
double db_soil_lag(double z);
double db_soil_alpha(double z);

/* Half-range of the seed zone over half-range of the air, open moist seedbed at depth z (cm). */
double db_soil_swing(double z);

/* Daily means (and half-ranges, unless ret_swing is NULL) at depth z (cm, 0..15) for `count` days from `first` on,
 * open ground before the cover's effect is added; cover DB_COVER_INDOORS fills ret_mean with `indoors` (degC) and
 * ret_swing with 0. low, high: degC, no gaps, low <= high. Arrays belong to the caller, `count` long.
 * DB_RANGE: NaN or a low above its high (index of the first such day in *ret_bad, if not NULL). */
DB_MUST_USE enum db_status db_soil_days(double latitude, struct db_date first, size_t count, const double *low,
                                        const double *high, double z, enum db_cover cover, double indoors,
                                        double *ret_mean, double *ret_swing, size_t *ret_bad);

/* Damping depth sqrt(kappa P / pi), m: kappa m2/s, period s. Annual wave: mean - A exp(-z/d) cos(2 pi (t - t0)/365 - z/d),
 * after Hillel 1982; z and d in m, t and t0 days of the year, t0 the coldest. */
double db_soil_damping(double kappa, double period);
double db_soil_wave(double mean, double amplitude, double depth, double damping, double day, double coldest);

#ifdef __cplusplus
}
#endif
#endif
