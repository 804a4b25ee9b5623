/* The stored forecast as it counts today: read out of the record anew at each evaluation, so that days that have gone by,
 * a place or a description that changed are seen. Used by the keeper and by the command line alike. */
#ifndef DB_SERVICE_TOLD_H
#define DB_SERVICE_TOLD_H

#include "read/read.h"
#include "record/record.h"

/* The last good answer that the record holds of estate->source, for estate->told. Days just gone by that
 * were not observed keep what was said of them last, and so does the part of today that is over. Figures are as they were
 * told; beside them stands by how much the garden's own differ. now: unix seconds.
 * DB_OK; DB_ABSENT: nothing is wanted, or nothing came yet; DB_MISTAKEN: what is stored cannot be used any more (the
 * list says why); DB_TROUBLE (db_record_trouble()); DB_FULL. */
DB_MUST_USE enum db_status db_forecast_told(struct db_record *record, const struct db_estate *estate, int64_t now,
                                            struct db_arena *arena, struct db_mistakes *mistakes,
                                            const struct db_told **ret);

/* Keeps what was measured of the last days that were forecast, beside what was said of them. *ret_news: what is learnt from
 * it may be something else now. */
DB_MUST_USE enum db_status db_forecast_observed(struct db_record *record, const struct db_estate *estate, int64_t now,
                                                struct db_arena *arena, bool *ret_news);

/* "Nights are 1.5 degrees colder here than forecast (41 measured), days 0.5 degrees warmer (40 measured)."; "" where they
 * are not. told NULL: there is no forecast. Into a buffer of at least 160 bytes; returns it. */
const char *db_told_here(const struct db_told *told, const struct db_site *site, char buffer[160]);

/* "made 3 h ago", "made 2 days ago, stale": into a buffer of at least 48 bytes; returns it. */
const char *db_told_age(const struct db_told *told, int64_t now, char buffer[48]);

#endif
