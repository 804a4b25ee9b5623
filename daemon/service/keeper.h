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

/* Called after every evaluation, and after a reading that failed; which: bit 1 << enum db_ready_feed for each feed whose
 * bytes changed (0: none did). */
typedef void db_feeds_changed(void *context, struct db_keeper *keeper, unsigned which);
/* Asked at each evaluation for the last good forecast of a garden, in the arena. NULL: there is none. estate: the one to be
 * evaluated, which may not be in force yet. */
typedef const struct db_told *db_told_ask(void *context, struct db_keeper *keeper, const struct db_estate *estate,
                                          struct db_arena *arena);
/* Called when a keeper came (true; it has read nothing yet) or is about to go (false). */
typedef void db_keeper_came(void *context, struct db_keeper *keeper, bool came);

/* What all keepers share. Set loop, courier and shipped; the rest starts from zeros. It must outlive loop and keepers. */
struct db_house {
    struct db_loop *loop;
    struct db_courier *courier; /* NULL: none */
    const char *shipped;        /* folder of crops, jobs, sources */
    struct db_keeper **keepers; /* by name of their folders */
    size_t keeper_count;
    db_told_ask *ask_told; /* NULL: no forecasts */
    void *told_context;
    const struct db_forecasts *forecasts; /* these two for the status only; NULL: none */
    const struct db_publish *publish;
    struct db_house_rest *rest; /* the keepers' own */
};
/* Called for keepers that come later, too, as sub-folders do while the service runs. Several may ask. */
DB_MUST_USE enum db_status db_house_on_keeper(struct db_house *house, db_keeper_came *came, void *context);
/* Reads all files again, as SIGHUP asks. */
void db_house_reload(struct db_house *house);
/* Frees all keepers and what the house holds for them. Who listens is not told: the parts are freed before the house. */
void db_house_close(struct db_house *house);

/* Starts looking after `garden_file` with its record in `state` (made if missing; NULL: .dewbell beside the plan). Serves the
 * last stored bytes at once; the files are read in the loop's next turn. It is one of house->keepers from then on.
 * DB_TROUBLE: the record could not be opened, or another service looks after it (trouble says why). A plan with mistakes is
 * no failure. */
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
/* The mistakes of the files as they are now; none if the last reading was good. Never NULL. */
const struct db_mistakes *db_keeper_mistakes(const struct db_keeper *keeper);
/* The feed as served now, held: give it back with db_ready_release(). NULL before there was ever one. */
struct db_ready_bytes *db_keeper_feed(struct db_keeper *keeper, enum db_ready_feed feed);
void db_ready_release(struct db_ready_bytes *bytes);
/* Why what was worked out cannot be kept, so that the feeds stay as they were; "" if it can. */
const char *db_keeper_trouble(const struct db_keeper *keeper);
int64_t db_keeper_evaluated(const struct db_keeper *keeper); /* unix seconds of the last evaluation, 0: never */
/* Something outside the files changed (a forecast came, a note was written): evaluates soon, several askings in one. */
void db_keeper_nudge(struct db_keeper *keeper);

#endif
