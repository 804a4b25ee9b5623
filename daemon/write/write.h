/* Jobs in, bytes out. */
#ifndef DB_WRITE_WRITE_H
#define DB_WRITE_WRITE_H

#include "dewbell/job.h"

/* A growing run of bytes with a ceiling, malloc'd. */
struct db_bytes {
    char *data;
    size_t length, room, limit;
};
void db_bytes_free(struct db_bytes *bytes);
DB_MUST_USE enum db_status db_bytes_add(struct db_bytes *bytes, const char *data, size_t length);

/* What is known of an event from the last time; NULL where it is new. Mirrors the ledger row without knowing it. */
struct db_event_past {
    const unsigned char *meaning;
    int64_t sequence, created, modified;
    const char *bytes;
    size_t length;
};
struct db_event_new { /* a row to put into the ledger */
    unsigned char identity[16], meaning[16];
    int64_t sequence, created, modified;
    const char *bytes; /* inside the feed's bytes */
    size_t length;
};
/* Looks an event up; false: never published. */
typedef bool db_past_find(void *context, const unsigned char identity[16], struct db_event_past *ret);

enum db_feed { DB_FEED_JOBS, DB_FEED_MORNINGS };

struct db_feed_result {
    struct db_bytes bytes;      /* the whole VCALENDAR */
    struct db_event_new *fresh; /* malloc'd; changed or new events, bytes pointing into `bytes` */
    size_t fresh_count, copied; /* how many were built, how many copied */
    size_t left_out;            /* events beyond 1 000 or 512 KiB that were cut at the far end (0: none) */
};
/* Builds a feed: unchanged events are copied from the past, others built with libical. now: unix seconds; only changed
 * events bear it. Never an empty calendar. */
DB_MUST_USE enum db_status db_feed_build(const struct db_jobs *jobs, enum db_feed feed, int64_t now, bool unlimited,
                                         db_past_find *past, void *context, struct db_feed_result *ret);
void db_feed_free(struct db_feed_result *result);

/* Writes beside, syncs, renames, syncs the folder: a reader sees the old file or the new one. Does nothing (and sets
 * *ret_changed false) when the file already holds exactly these bytes. On failure errno tells. */
DB_MUST_USE enum db_status db_file_swap(const char *path, const char *data, size_t length, bool *ret_changed);

#endif
