#include "read/zone.h"

#include <libical/ical.h>

#include "base/banned.h"

enum { HOUR = 3600, DAY = 24 * HOUR };

/* libical hands its zones out as plain pointers that stay; ours only gives them a name of our own. */
static icaltimezone *ical_zone(const struct db_zone *zone)
{
    return (icaltimezone *) (uintptr_t) zone;
}

const struct db_zone *db_zone_find(const char *name)
{
    return (const struct db_zone *) icaltimezone_get_builtin_timezone(name);
}

int32_t db_zone_offset(const struct db_zone *zone, int64_t utc)
{
    struct icaltimetype there = icaltime_from_timet_with_zone((time_t) utc, 0, icaltimezone_get_utc_timezone());
    int summer;

    return icaltimezone_get_utc_offset_of_utc_time(ical_zone(zone), &there, &summer);
}

static int32_t day_of(int64_t seconds)
{
    return (int32_t) (seconds >= 0 ? seconds / DAY : -((-seconds + DAY - 1) / DAY));
}

struct db_date db_zone_day(const struct db_zone *zone, int64_t utc)
{
    return (struct db_date){ day_of(utc + db_zone_offset(zone, utc)) };
}

/* The first moment from which local clocks read `local` (seconds since 1970 by those clocks) or later. */
static int64_t first_moment(const struct db_zone *zone, int64_t local)
{
    /* Offsets lie within 15 hours of UTC; clocks change far more rarely than once in this span. */
    int64_t before = local - 15 * HOUR, after = local + 15 * HOUR;
    const int64_t early = local - db_zone_offset(zone, before);

    /* The offset from before the change, if it still held then: the usual case, and the first of two equal readings. */
    if (early + db_zone_offset(zone, early) == local)
        return early;
    while (after - before > 1) {
        const int64_t middle = before + (after - before) / 2;

        if (middle + db_zone_offset(zone, middle) >= local)
            after = middle;
        else
            before = middle;
    }
    return after;
}

int64_t db_zone_day_start(const struct db_zone *zone, struct db_date day)
{
    return first_moment(zone, (int64_t) day.day * DAY);
}

int64_t db_zone_moment(const struct db_zone *zone, struct db_date day, int32_t minutes)
{
    const int64_t local = (int64_t) day.day * DAY + (int64_t) minutes * 60;
    const int64_t moment = first_moment(zone, local);

    if (moment + db_zone_offset(zone, moment) == local)
        return moment;
    /* Skipped: by the clock from before the change it is this much later. */
    return local - db_zone_offset(zone, moment - 1);
}
