/* A clock that stands on another day and runs on from there: for playing recorded weather back through the whole service. */
#ifndef DB_SERVICE_CLOCK_SHIFT_H
#define DB_SERVICE_CLOCK_SHIFT_H

#include "dewbell/date.h"
#include "read/zone.h"
#include "service/loop.h"

/* Milliseconds to add to `wall` (unix ms) so that local clocks in `zone` read the same hour of `day`. */
int64_t db_clock_shift_to(const struct db_zone *zone, struct db_date day, int64_t wall);

/* The same for words: "2015-06-26" keeps the hour, "2015-06-26T07:00" names one of local clocks in `zone`. DB_RANGE: neither. */
DB_MUST_USE enum db_status db_clock_shift_read(const struct db_zone *zone, const char *words, int64_t wall,
                                               int64_t *ret_shift);

/* *ret is `under` with its wall clock moved by `shift` ms; its steady time and its waiting are those of `under`, which must
 * outlive it. Give it back with db_clock_shift_free(). DB_FULL: out of memory. */
DB_MUST_USE enum db_status db_clock_shift(const struct db_clock *under, int64_t shift, struct db_clock *ret);
void db_clock_shift_free(struct db_clock *clock);

#endif
