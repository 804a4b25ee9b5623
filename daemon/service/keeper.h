/* A keeper looks after one garden while the service runs: reads its files, evaluates, keeps the feeds' bytes ready, reads
 * again when something changes. A mistake in its files leaves the last good garden in force, also across a restart. */
#ifndef DB_SERVICE_KEEPER_H
#define DB_SERVICE_KEEPER_H

#include "dewbell/job.h"
#include "read/read.h"
#include "record/record.h"
#include "service/courier.h"

struct db_keeper;

enum db_ready_feed { DB_READY_JOBS, DB_READY_MORNINGS, DB_READY_TASKS };
enum { DB_READY_COUNT = DB_READY_TASKS + 1 };

/* One feed as it is served: bytes that never change while someone holds them. */
struct db_ready_bytes {
    const char *name;    /* "jobs.ics" */
    char *data, *packed; /* as it is; gzip (NULL if that failed) */
    size_t length, packed_length;
    char etag[40], packed_etag[40]; /* quoted, strong: first 128 bits of SHA-256 */
    int64_t modified;               /* unix seconds: when these bytes first existed */
};

/* Called after the feeds of a garden were made anew; which: bit 1 << enum db_ready_feed for each whose bytes changed. */
typedef void db_feeds_changed(void *context, struct db_keeper *keeper, unsigned which);

/* What all keepers share. */
struct db_house {
    struct db_loop *loop;
    struct db_courier *courier;
    const char *shipped; /* folder of crops, jobs, sources */
    struct db_keeper **keepers;
    size_t keeper_count;
};

/* Starts looking after `garden_file` with its record in `state` (made if missing). Serves the last stored bytes at once.
 * DB_TROUBLE: the record could not be opened (trouble says why). A plan with mistakes is no failure. */
DB_MUST_USE enum db_status db_keeper_new(struct db_house *house, const char *garden_file, const char *state,
                                         struct db_keeper **ret, char trouble[256]);
struct db_keeper *db_keeper_free(struct db_keeper *keeper);
DB_MUST_USE enum db_status db_keeper_on_change(struct db_keeper *keeper, db_feeds_changed *changed, void *context);

const char *db_keeper_name(
    const struct db_keeper *keeper); /* the garden's name, or its folder's while it has never been read */
const char *db_keeper_folder(const struct db_keeper *keeper);
const char *db_keeper_state(const struct db_keeper *keeper);
struct db_house *db_keeper_house(const struct db_keeper *keeper);
struct db_record *db_keeper_record(const struct db_keeper *keeper);
/* The last good estate; NULL while there has never been one. Valid until the next evaluation. */
const struct db_estate *db_keeper_estate(const struct db_keeper *keeper);
/* The jobs of the last evaluation, NULL before the first. Valid until the next. */
const struct db_jobs *db_keeper_jobs(const struct db_keeper *keeper);
/* The mistakes of the files as they are now; none if the last reading was good. */
const struct db_mistakes *db_keeper_mistakes(const struct db_keeper *keeper);
/* The feed as served now, held: give it back with db_ready_release(). NULL before there was ever one. */
struct db_ready_bytes *db_keeper_feed(struct db_keeper *keeper, enum db_ready_feed feed);
void db_ready_release(struct db_ready_bytes *bytes);
int64_t db_keeper_evaluated(const struct db_keeper *keeper); /* unix seconds of the last evaluation, 0: never */
/* Something outside the files changed (a forecast came, a note was written): evaluates soon, several askings in one. */
void db_keeper_nudge(struct db_keeper *keeper);

#endif
