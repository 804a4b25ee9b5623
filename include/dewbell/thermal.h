/* Thermal clocks: rates of emergence from a published table, degree-days, and prefix sums in which a date is found by
 * binary search. */
#ifndef DEWBELL_THERMAL_H
#define DEWBELL_THERMAL_H

#include "dewbell/status.h"

#include <stddef.h>

#ifdef __cplusplus
extern "C" {
#endif

enum { DB_EMERGENCE_POINTS = 12 };

/* Days from sowing to emergence at constant seed-zone temperatures, rising. days 0: none comes up at this temperature.
 * top: temperature up to which the last rate holds; beyond it the rate falls to 0 within 5 K (an estimate). base: where
 * the rate reaches 0 in a straight line below the lowest point; equal to that point, nothing comes up below it. A lowest
 * point with days 0 needs no base: the rate is 0 from there down. Source of the tables: Harrington & Minges 1954. */
struct db_emergence {
    size_t count; /* 1..DB_EMERGENCE_POINTS */
    double temperature[DB_EMERGENCE_POINTS], days[DB_EMERGENCE_POINTS];
    double base, top;
};

/* Fraction of the way from seed to seedling in one day at t (degC): 1/days at the points, straight lines between, never
 * negative, continuous (but for the step at a base that is the lowest point itself). t NaN gives 0. */
double db_emergence_rate(const struct db_emergence *table, double t);

/* The same over a day that swings by +-half: mean of the rate at t -+ half/sqrt(2) (two-point Gauss-Chebyshev, exact for
 * a sine up to cubic rates). */
double db_emergence_rate_day(const struct db_emergence *table, double t, double half);

/* Straight-line fit of 1/days on temperature: base and thermal sum, and R2; between the points `from` and `to`
 * (inclusive indices) of the table. For crops whose facts give a base and a sum instead of a table. */
DB_MUST_USE enum db_status db_emergence_fit(const struct db_emergence *table, size_t from, size_t to, double *ret_base,
                                            double *ret_sum, double *ret_r2);

/* A table equal to rate (t - base)/sum from base up to `optimum`, level to `top`. base < optimum <= top, sum > 0. */
DB_MUST_USE enum db_status db_emergence_linear(double base, double sum, double optimum, double top,
                                               struct db_emergence *ret_table);

enum db_degree_method {
    DB_DEGREE_AVERAGE,
    DB_DEGREE_MODIFIED,
    DB_DEGREE_SINE,
    DB_DEGREE_HORIZONTAL,
    DB_DEGREE_INTERMEDIATE
};

/* Degree-days of one day (K d). low <= high, degC; base < upper; upper is ignored by AVERAGE and SINE. Never below 0
 * (INTERMEDIATE would be, on a very hot day). Sources: single sine: Baskerville & Emin 1969; cut-offs as named by UC IPM
 * and Oregon State. The sine is 4-5 % above the hourly sum on mean days. */
DB_MUST_USE enum db_status db_degree_days(enum db_degree_method method, double low, double high, double base,
                                          double upper, double *ret_sum);

/* In `sums` (count + 1 long, sums[0] = 0, never falling; sums[i] = total of the first i days) the least number of days n
 * such that sums[from + n] - sums[from] >= amount; from <= count. amount <= 0 gives 0. SIZE_MAX if it is never reached. */
size_t db_sums_reach(const double *sums, size_t count, size_t from, double amount);

/* Chilling of one day (K d) that turns a biennial towards flowering: 0 at `from` and below, rising by 1 a kelvin to `best`,
 * falling in a straight line to 0 at `to` and above; all degC, from < best < to. NaN where one is not known. Source of the
 * form and of carrot's figures (-1, 6.5, 16; 126 K d for the first bolters): J. Hort. Sci. 65:423-429, 1990. */
double db_chill_day(double mean, double from, double best, double to);

/* Quantile type 7, h = (n-1)p, of `count` >= 1 rising values, p 0..1. */
double db_quantile(const double *sorted, size_t count, double p);

#ifdef __cplusplus
}
#endif
#endif
