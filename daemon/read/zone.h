/* Local time in an IANA zone, by libical's reading of the machine's time zone database: no global TZ is touched, so that
 * gardens in several zones live in one program. One
 * thread at a time. Held against the C library for every zone from 2025 to 2036; before 2020 a zone whose rules changed
 * often can be an hour out near a change. */
#ifndef DB_READ_ZONE_H
#define DB_READ_ZONE_H

#include "dewbell/date.h"

struct db_zone;

/* The zone of that name; NULL if this machine has none. It lives as long as the program. */
const struct db_zone *db_zone_find(const char *name);
/* Seconds that local time is ahead of UTC at `utc` (unix seconds). */
int32_t db_zone_offset(const struct db_zone *zone, int64_t utc);
/* The civil day at `utc`. */
struct db_date db_zone_day(const struct db_zone *zone, int64_t utc);
/* The first moment of a day: local midnight, or what follows it where clocks skip midnight. The day ends where the next
 * one starts: 23, 24 or 25 hours later in most zones. */
int64_t db_zone_day_start(const struct db_zone *zone, struct db_date day);
/* The moment at which local clocks read `minutes` after midnight of `day` (0..1439). Where they skip that reading: as
 * many minutes after the skip as it lies after its beginning. Where they show it twice: the first. */
int64_t db_zone_moment(const struct db_zone *zone, struct db_date day, int32_t minutes);

#endif
