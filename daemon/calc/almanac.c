#define DB_PURE
#include "dewbell/almanac.h"

#include <math.h>

#include "base/banned.h"

#define PI 3.14159265358979323846
#define HORIZON (-0.833) /* degrees: half the sun's disc, and what the air bends near the horizon */

enum { YEAR = 366 };

static const double unix_epoch = 2440587.5; /* Julian Day of 1970-01-01 0:00 UTC */
static const double epoch_2000 = 2451545.0;

static double radians(double degrees)
{
    return degrees * (PI / 180);
}

static bool on_earth(double latitude, double longitude)
{
    return fabs(latitude) <= 90 && fabs(longitude) <= 180; /* NaN is not */
}

static double clipped(double cosine)
{
    return fmin(1, fmax(-1, cosine));
}

double db_almanac_declination(int day_of_year)
{
    return 0.409 * sin(2 * PI / 365 * day_of_year - 1.39);
}

double db_almanac_distance(int day_of_year)
{
    return 1 + 0.033 * cos(2 * PI / 365 * day_of_year);
}

double db_almanac_sunset_angle(double latitude, int day_of_year)
{
    return acos(clipped(-tan(radians(latitude)) * tan(db_almanac_declination(day_of_year))));
}

enum db_status db_almanac_radiation(double latitude, int day_of_year, double *ret_ra)
{
    if (!on_earth(latitude, 0) || day_of_year < 1 || day_of_year > YEAR)
        return DB_RANGE;
    double phi = radians(latitude), delta = db_almanac_declination(day_of_year);
    double angle = db_almanac_sunset_angle(latitude, day_of_year);
    double ra = 24 * 60 / PI * 0.0820 * db_almanac_distance(day_of_year) *
                (angle * sin(phi) * sin(delta) + cos(phi) * cos(delta) * sin(angle));
    *ret_ra = fmax(0, ra);
    return DB_OK;
}

enum db_status db_almanac_daylight(double latitude, int day_of_year, double *ret_hours)
{
    if (!on_earth(latitude, 0) || day_of_year < 1 || day_of_year > YEAR)
        return DB_RANGE;
    *ret_hours = 24 / PI * db_almanac_sunset_angle(latitude, day_of_year);
    return DB_OK;
}

double db_almanac_clear_sky(double ra, double altitude)
{
    return (0.75 + 2e-5 * altitude) * ra;
}

double db_almanac_solar(double ra, double low, double high)
{
    return 0.16 * sqrt(fmax(0, high - low)) * ra;
}

/* Where the low-accuracy sun stands: declination (rad) and the equation of time (hours). The clock is taken for
 * terrestrial time; in a minute and a bit the sun hardly moves. */
static void sun_at(double julian_day, double *declination, double *equation)
{
    double t = (julian_day - epoch_2000) / 36525;
    double mean = radians(280.46646 + t * (36000.76983 + 0.0003032 * t));
    double anomaly = radians(357.52911 + t * (35999.05029 - 0.0001537 * t));
    double e = 0.016708634 - t * (0.000042037 + 0.0000001267 * t);
    double centre = sin(anomaly) * (1.914602 - t * (0.004817 + 0.000014 * t)) +
                    sin(2 * anomaly) * (0.019993 - 0.000101 * t) + sin(3 * anomaly) * 0.000289;
    double node = radians(125.04 - 1934.136 * t);
    double longitude = mean + radians(centre - 0.00569 - 0.00478 * sin(node));
    double tilt = radians(23.43929111 - t * (0.013004167 + t * (1.639e-7 - t * 5.036e-7)) + 0.00256 * cos(node));
    double y = tan(tilt / 2) * tan(tilt / 2);

    *declination = asin(sin(tilt) * sin(longitude));
    *equation = 12 / PI *
                (y * sin(2 * mean) - 2 * e * sin(anomaly) + 4 * e * y * sin(anomaly) * cos(2 * mean) -
                 0.5 * y * y * sin(4 * mean) - 1.25 * e * e * sin(2 * anomaly));
}

/* Cosine of the hour angle at which the upper limb meets the horizon; beyond 1 or -1 it does not. */
static double horizon_cosine(double latitude, double declination)
{
    double phi = radians(latitude);

    return (sin(radians(HORIZON)) - sin(phi) * sin(declination)) / fmax(1e-12, cos(phi) * cos(declination));
}

/* One event, hours UTC from midnight; side -1 for rise, +1 for set. Found again at its own time until that settles. */
static double event(double latitude, double longitude, double midnight, double noon, int side)
{
    double hours = noon, declination, equation;

    for (int i = 0; i < 3; i++) {
        sun_at(midnight + hours / 24, &declination, &equation);
        hours = 12 - longitude / 15 - equation + side * 12 / PI * acos(clipped(horizon_cosine(latitude, declination)));
    }
    return hours;
}

enum db_status db_almanac_sun(double latitude, double longitude, struct db_date date, struct db_sun *ret_sun)
{
    struct db_sun sun = { DB_SUN_RISES, 0, 0, 0 };
    double midnight = unix_epoch + date.day, noon = 12 - longitude / 15, declination, equation;

    if (!on_earth(latitude, longitude) || !db_date_known(date))
        return DB_RANGE;
    sun_at(midnight + noon / 24, &declination, &equation);
    double cosine = horizon_cosine(latitude, declination);
    if (cosine > 1)
        sun.state = DB_SUN_STAYS_DOWN;
    else if (cosine < -1) {
        sun.state = DB_SUN_STAYS_UP;
        sun.hours = 24;
    } else {
        sun.rise = event(latitude, longitude, midnight, noon, -1);
        sun.set = event(latitude, longitude, midnight, noon, 1);
        sun.hours = sun.set - sun.rise;
    }
    *ret_sun = sun;
    return DB_OK;
}

enum db_status db_almanac_season(int year, enum db_season season, double *ret_jde, double *ret_s)
{
    /* table 27.B: mean times, polynomials in thousands of years from 2000 */
    static const double mean[4][5] = {
        { 2451623.80984, 365242.37404, 0.05169, -0.00411, -0.00057 },
        { 2451716.56767, 365241.62603, 0.00325, 0.00888, -0.00030 },
        { 2451810.21715, 365242.01767, -0.11575, 0.00337, 0.00078 },
        { 2451900.05952, 365242.74049, -0.06223, -0.00823, 0.00032 },
    };
    /* table 27.C: A, B (degrees), C (degrees a century) */
    static const double terms[24][3] = {
        { 485, 324.96, 1934.136 }, { 203, 337.23, 32964.467 }, { 199, 342.08, 20.186 },   { 182, 27.85, 445267.112 },
        { 156, 73.14, 45036.886 }, { 136, 171.52, 22518.443 }, { 77, 222.54, 65928.934 }, { 74, 296.72, 3034.906 },
        { 70, 243.58, 9037.513 },  { 58, 119.81, 33718.147 },  { 52, 297.17, 150.678 },   { 50, 21.02, 2281.226 },
        { 45, 247.54, 29929.562 }, { 44, 325.15, 31555.956 },  { 29, 60.93, 4443.417 },   { 18, 155.12, 67555.328 },
        { 17, 288.79, 4562.452 },  { 16, 198.04, 62894.029 },  { 14, 199.76, 31436.921 }, { 12, 95.39, 14577.848 },
        { 12, 287.11, 31931.756 }, { 12, 320.81, 34777.259 },  { 9, 227.73, 1222.114 },   { 8, 15.45, 16859.074 },
    };

    if (year < 1000 || year > 3000 || (unsigned) season > DB_SEASON_DECEMBER)
        return DB_RANGE;
    const double *m = mean[season];
    double y = (year - 2000) / 1000.0, sum = 0;
    double jde0 = m[0] + y * (m[1] + y * (m[2] + y * (m[3] + y * m[4])));
    double t = (jde0 - epoch_2000) / 36525, w = radians(35999.373 * t - 2.47);
    for (int i = 0; i < 24; i++)
        sum += terms[i][0] * cos(radians(terms[i][1] + terms[i][2] * t));
    *ret_jde = jde0 + 0.00001 * sum / (1 + 0.0334 * cos(w) + 0.0007 * cos(2 * w));
    if (ret_s)
        *ret_s = sum;
    return DB_OK;
}

enum db_status db_almanac_season_utc(int year, enum db_season season, double *ret_jd)
{
    double jde;
    enum db_status got = db_almanac_season(year, season, &jde, NULL);

    if (got == DB_OK)
        *ret_jd = jde - 69.0 / 86400;
    return got;
}

enum db_status db_almanac_solstice(double latitude, double longitude, int year, struct db_date *ret_date)
{
    double jd;

    if (!on_earth(latitude, longitude))
        return DB_RANGE;
    enum db_status got = db_almanac_season_utc(year, latitude < 0 ? DB_SEASON_DECEMBER : DB_SEASON_JUNE, &jd);
    if (got == DB_OK)
        ret_date->day = (int32_t) floor(jd - unix_epoch + longitude / 360);
    return got;
}

enum db_status db_almanac_crossing(double latitude, double longitude, struct db_date from, double hours, bool rising,
                                   struct db_date *ret_date)
{
    struct db_sun sun;
    bool above_before = false;

    if (!(hours >= 0 && hours <= 24) || !on_earth(latitude, longitude) || !db_date_known(from))
        return DB_RANGE;
    for (int32_t i = -1; i < YEAR; i++) {
        struct db_date date = db_date_add(from, i);

        enum db_status got = db_almanac_sun(latitude, longitude, date, &sun);
        if (got != DB_OK)
            return got;
        bool above = sun.hours >= hours;
        if (i >= 0 && above != above_before && above == rising) {
            *ret_date = date;
            return DB_OK;
        }
        above_before = above;
    }
    return DB_ABSENT;
}
