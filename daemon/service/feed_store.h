/* Building a feed with its ledger: what `dewbell feed` and the service do alike. The ledger is put before the feed is shown
 * to anybody: a crash between the two leaves the old feed, and the next run copies the new events from the ledger. */
#ifndef DB_SERVICE_FEED_STORE_H
#define DB_SERVICE_FEED_STORE_H

#include "record/record.h"
#include "write/write.h"

/* "jobs", "mornings", "tasks": as the ledger knows a feed, and its file without ".ics". */
const char *db_feed_name(enum db_feed feed);

/* Two programs at once would both raise SEQUENCE from the same ledger: who builds feeds of a state folder holds its lock.
 * wait false: DB_ABSENT when another program holds it. Give it back with db_feed_unlock(). DB_TROUBLE: errno tells. */
DB_MUST_USE enum db_status db_feed_lock(const char *state, bool wait, int *ret_lock);
void db_feed_unlock(int lock);

/* Whether readers are shown exactly the bytes of that length and hash (db_bytes_hash()) now. */
typedef bool db_feed_shown(const void *context, const unsigned char hash[16], size_t length);

struct db_feed_order {
    enum db_feed feed;
    const struct db_notice *notices;
    size_t notice_count;
    int64_t now; /* unix seconds */
    bool unlimited;
    db_feed_shown *shown; /* NULL: the bytes are wanted in any case */
    const void *context;
};

/* Builds a feed out of the jobs and what the ledger holds, puts what is new into the ledger, hands out the feed (for
 * db_feed_free()). Where it would be built from the same as the last time and its bytes are shown, no event is read or
 * built: ret->same, no bytes, `copied` and `left_out` as they were. On failure *ret_doing says at what ("could not read the
 * ledger"); db_record_trouble() may say why. */
DB_MUST_USE enum db_status db_feed_store(struct db_record *record, const struct db_jobs *jobs,
                                         const struct db_feed_order *order, struct db_feed_result *ret,
                                         const char **ret_doing);
/* The same into a file, which is swapped whole where it does not hold the feed yet; `shown` and `context` of the order do
 * not count. *ret_doing is `path` where the file could not be written: errno tells. */
DB_MUST_USE enum db_status db_feed_store_file(struct db_record *record, const struct db_jobs *jobs,
                                              const struct db_feed_order *order, const char *path,
                                              struct db_feed_result *ret, bool *ret_changed, const char **ret_doing);

/* The same for a garden whose plan could never be read: its feed holds that notice alone. DB_ABSENT: the feed had jobs once,
 * and what was served of them is better. */
DB_MUST_USE enum db_status db_feed_store_unread(struct db_record *record, const struct db_site *site, enum db_feed feed,
                                                const struct db_notice *notice, int64_t now, struct db_feed_result *ret,
                                                const char **ret_doing);

/* Puts on record where these jobs stand, for the next evaluation (db_record_positions() into its view) to keep them there.
 * Call it before db_feed_store(), with the lock held since the positions were read. On failure *ret_doing says at what. */
DB_MUST_USE enum db_status db_feed_remember(struct db_record *record, const struct db_jobs *jobs,
                                            const char **ret_doing);

#endif
