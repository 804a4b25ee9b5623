/* Sun and seasons. All functions are pure and allocate nothing. Latitude: degrees, north positive, -90..90.
 * Longitude: degrees, east positive, -180..180. */
#ifndef DEWBELL_ALMANAC_H
#define DEWBELL_ALMANAC_H

#include "dewbell/date.h"
#include "dewbell/status.h"

#ifdef __cplusplus
extern "C" {
#endif

/* Extraterrestrial radiation, MJ m-2 d-1, and daylight hours N (sun's centre, flat horizon, no refraction).
 * day_of_year 1..366. Source: FAO Irrigation and Drainage Paper 56 (1998), eqs 21-25 and 34. N is for evapotranspiration
 * only: it is short of sunrise-to-sunset by up to 0.4 h at 52 degrees. Polar day and night give 24 and 0, never NaN. */
DB_MUST_USE enum db_status db_almanac_radiation(double latitude, int day_of_year, double *ret_ra);
DB_MUST_USE enum db_status db_almanac_daylight(double latitude, int day_of_year, double *ret_hours);

/* Declination, rad, and inverse relative distance: FAO-56 eqs 24 and 23. */
double db_almanac_declination(int day_of_year);
double db_almanac_distance(int day_of_year);
/* Sunset hour angle, rad, 0..pi: FAO-56 eq 25, its argument clipped. */
double db_almanac_sunset_angle(double latitude, int day_of_year);
/* Clear-sky radiation: (0.75 + 2e-5 z) Ra, FAO-56 eq 37; altitude in m. Solar from temperatures: 0.16 sqrt(high-low) Ra, eq 50. */
double db_almanac_clear_sky(double ra, double altitude);
double db_almanac_solar(double ra, double low, double high);

enum db_sun_state { DB_SUN_RISES, DB_SUN_STAYS_UP, DB_SUN_STAYS_DOWN };

struct db_sun {
    enum db_sun_state state;
    double rise, set; /* hours UTC from 0:00 of the date, may be < 0 or > 24; 0 unless DB_SUN_RISES */
    double hours;     /* rise to set; 24 or 0 when it does not rise */
};

/* Upper limb on the horizon with mean refraction (centre at -0.833 degrees). Source: Meeus, Astronomical Algorithms,
 * low-accuracy sun, as used in NOAA's solar calculator; within 30 s below 54 degrees. Use this day length for bolting. */
DB_MUST_USE enum db_status db_almanac_sun(double latitude, double longitude, struct db_date date,
                                          struct db_sun *ret_sun);

enum db_season { DB_SEASON_MARCH, DB_SEASON_JUNE, DB_SEASON_SEPTEMBER, DB_SEASON_DECEMBER };

/* Julian Ephemeris Day of an equinox or solstice, years 1000..3000. Source: Meeus, Astronomical Algorithms (1991),
 * ch. 27 tables 27.B and 27.C. Terrestrial Dynamical Time. ret_s: the sum S of the 24 terms; may be NULL. */
DB_MUST_USE enum db_status db_almanac_season(int year, enum db_season season, double *ret_jde, double *ret_s);

/* The same in UTC as a Julian Day, with delta-T taken as 69 s (right to some seconds for 2000..2035). */
DB_MUST_USE enum db_status db_almanac_season_utc(int year, enum db_season season, double *ret_jd);

/* The civil day of the summer solstice of the garden's hemisphere in `year` (June north of the equator, December south
 * of it), in local mean time of the longitude. */
DB_MUST_USE enum db_status db_almanac_solstice(double latitude, double longitude, int year, struct db_date *ret_date);

/* First day on or after `from`, within 366 days, on which the day length has crossed `hours`: rising, at or above it;
 * falling, below it (the day before was on the other side). DB_ABSENT: never. */
DB_MUST_USE enum db_status db_almanac_crossing(double latitude, double longitude, struct db_date from, double hours,
                                               bool rising, struct db_date *ret_date);

#ifdef __cplusplus
}
#endif
#endif
