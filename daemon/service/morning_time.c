/* When a morning is due. */
#include "service/morning.h"

#include "dewbell/almanac.h"
#include "read/zone.h"

#include <math.h>

#include "base/banned.h"

enum { LATEST = 11 * 60, DARK = 6 * 60 }; /* minutes from local midnight */

/* Sunrise on the local date; false: the sun does not rise on it. The almanac counts from 0:00 UTC of a date that is the
 * sun's own: far from Greenwich a zone may stand a day before or after it. */
static bool sunrise(const struct db_site *site, const struct db_zone *zone, struct db_date date, int64_t *ret)
{
    const int64_t start = db_zone_day_start(zone, date), end = db_zone_day_start(zone, db_date_add(date, 1));

    for (int32_t i = -1; i <= 1; i++) {
        const struct db_date day = db_date_add(date, i);
        struct db_sun sun;

        if (db_almanac_sun(site->latitude, site->longitude, day, &sun) != DB_OK || sun.state != DB_SUN_RISES)
            continue;
        const int64_t rise = (int64_t) day.day * 86400 + llround(sun.rise * 3600);
        if (rise >= start && rise < end) {
            *ret = rise;
            return true;
        }
    }
    return false;
}

int64_t db_morning_due(const struct db_morning_wish *wish, const struct db_site *site, const struct db_zone *zone,
                       struct db_date date)
{
    int64_t due, rise;

    if (!wish->by_sun)
        return db_zone_moment(zone, date, wish->minutes);
    if (!sunrise(site, zone, date, &rise))
        rise = db_zone_moment(zone, date, DARK);
    const int64_t start = db_zone_day_start(zone, date), latest = db_zone_moment(zone, date, LATEST);
    due = rise + (int64_t) wish->minutes * 60;
    return due < start ? start : due > latest ? latest : due;
}
