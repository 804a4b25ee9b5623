#define DB_PURE
#include "dewbell/space.h"

#include <math.h>

#include "base/banned.h"

static const double rows_of_triangle = 0.86602540378443864676; /* sqrt(3) / 2 */
static const double settling = 1.1;

/* How often `step` goes into `whole`. A bed of 1.2 m holds four rows at 30 cm however the two were written. */
static double times(double whole, double step)
{
    return whole > 0 && step > 0 && isfinite(whole) ? floor(whole / step + 1e-9) : 0;
}

static double better(double a, double b)
{
    return a > b ? a : b;
}

double db_plants_in_row(double length, double apart)
{
    return times(length, apart);
}

double db_plants_in_rows(double width, double length, double apart, double rows_apart)
{
    return times(width, rows_apart) * times(length, apart);
}

double db_plants_in_bed(double width, double length, double apart, double rows_apart)
{
    return better(db_plants_in_rows(width, length, apart, rows_apart),
                  db_plants_in_rows(length, width, apart, rows_apart));
}

static double staggered(double across, double along, double apart)
{
    const double rows = across >= apart ? times(across - apart + 1e-9 * apart, rows_of_triangle * apart) + 1 : 0;
    const double even = floor(rows / 2);

    return (rows - even) * times(along, apart) + even * times(along - apart / 2, apart);
}

double db_plants_staggered(double width, double length, double apart)
{
    if (!(width > 0 && length > 0 && apart > 0) || !isfinite(width) || !isfinite(length))
        return 0;
    return better(staggered(width, length, apart), staggered(length, width, apart));
}

double db_rows_in_bed(double width, double length, double rows_apart)
{
    if (!(width > 0 && length > 0))
        return 0;
    return better(times(width, rows_apart) * length, times(length, rows_apart) * width);
}

double db_seeds_per_metre(double apart, double emergence, double oversowing)
{
    if (!(apart > 0 && emergence > 0 && emergence <= 1 && oversowing >= 1) || !isfinite(oversowing))
        return 0;
    return 1000 / apart / emergence * oversowing;
}

double db_mix_for_cells(double cells, double litres)
{
    return cells > 0 && litres > 0 ? cells * litres * settling : 0;
}
