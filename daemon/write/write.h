/* Jobs in, bytes out: calendar feeds, the morning's text, JSON for scripts, and files replaced whole.
 *
 * Every text that comes out is cleaned on the way (clean.c), so that no word of a gardener's can break a line, an event
 * or a terminal. Nothing here asks the clock; "today" is that of the jobs' view. */
#ifndef DB_WRITE_WRITE_H
#define DB_WRITE_WRITE_H

#include "dewbell/job.h"

/* A growing run of bytes with a ceiling, malloc'd. data[length] is NUL once anything was added. Start from zeros with
 * `limit` set (0: no ceiling); length may be set back to 0 to use it again. */
struct db_bytes {
    char *data;
    size_t length, room, limit;
};
/* Frees the data and leaves all zeros. */
void db_bytes_free(struct db_bytes *bytes);
/* DB_FULL: the ceiling is reached or memory is out; what was there stays. */
DB_MUST_USE enum db_status db_bytes_add(struct db_bytes *bytes, const char *data, size_t length);

/* What is known of an event from the last time. Mirrors the ledger row without knowing it. */
struct db_event_past {
    const unsigned char *meaning; /* 16 bytes */
    int64_t sequence, created, modified;
    const char *bytes; /* stays where it is until the feed is built */
    size_t length;
};
struct db_event_new { /* a row to put into the ledger */
    unsigned char identity[16], meaning[16];
    int64_t sequence, created, modified; /* unix seconds */
    const char *bytes;                   /* inside the feed's bytes */
    size_t length;
};
/* Looks an event up; false: never published. */
typedef bool db_past_find(void *context, const unsigned char identity[16], struct db_event_past *ret);

enum db_feed {
    DB_FEED_JOBS,     /* one all-day event a job, on its best day, from 60 days back to 400 ahead */
    DB_FEED_MORNINGS, /* one all-day event a day that has jobs, from 30 days back to 13 ahead, with an alarm at 06:30 */
    DB_FEED_TASKS /* the jobs as VTODO: from the day its window opens to the last day for it, with an alarm at 06:30 of
                         the first; done ones are COMPLETED, those whose days are over without a note CANCELLED */
};

struct db_feed_result {
    struct db_bytes bytes;      /* the whole VCALENDAR */
    struct db_event_new *fresh; /* malloc'd; rows to put into the ledger, bytes pointing into `bytes` */
    size_t fresh_count, copied; /* how many were built, how many copied */
    size_t changed;             /* of those built: new to readers or changed; the others came out as they were */
    size_t left_out;            /* events beyond the limits below (0: none) */
    unsigned char
        gist[16]; /* as of db_feed_gist(); where events were left out, and of notices alone, there is none: zeros */
    bool same;    /* never set here; service/feed_store.h: no bytes, for they are there already */
};

/* Something the gardener must learn that is no job: an all-day event of its own. */
struct db_notice {
    const char *name; /* what its UID is made from: the same notice is the same event, wherever it stands */
    struct db_date day;
    const char *summary, *description; /* cleaned here */
};

/* Where the SEQUENCE of new events starts when the ledger is empty: minutes since the start of 2026 (0 before it). A
 * ledger that was lost must not bring a SEQUENCE below one already published. now: unix seconds. */
int64_t db_feed_first_sequence(int64_t now);

/* Builds a feed: an event that means what it meant is copied from the past, byte for byte; others are built with libical.
 *   now             unix seconds, 0 or more; only new or changed events bear it. A changed one is stamped later than
 *                   before even if the clock went back; its SEQUENCE rises by one, its CREATED stays.
 *   first_sequence  SEQUENCE of events that the past does not know: 0, or db_feed_first_sequence(now) when the past is
 *                   empty.
 *   unlimited       false: at most DB_LIMIT_FEED_EVENTS events and DB_LIMIT_FEED_BYTES bytes. What lies farthest from
 *                   today goes first, a day in the past counting as four ahead: the far end of the season, then both.
 *   past, context   asked once an event.
 * Never an empty calendar: a garden without jobs has one event that says so. Put result->fresh into the ledger before
 * the feed is published: if the program dies between the two, the next run copies those events and publishes the same.
 * DB_RANGE: the garden's key is not a UUID, or `now` is negative. DB_FULL: out of memory. On failure *ret is zeros.
 * Not for two threads at once (libical). */
DB_MUST_USE enum db_status db_feed_build(const struct db_jobs *jobs, enum db_feed feed, int64_t now,
                                         int64_t first_sequence, bool unlimited, db_past_find *past, void *context,
                                         struct db_feed_result *ret);
/* The same with notices before anything else: the limits never leave them out. */
DB_MUST_USE enum db_status db_feed_build_noticed(const struct db_jobs *jobs, enum db_feed feed,
                                                 const struct db_notice *notices, size_t notice_count, int64_t now,
                                                 int64_t first_sequence, bool unlimited, db_past_find *past,
                                                 void *context, struct db_feed_result *ret);
/* A feed of notices alone, at least one, for a garden whose plan could never be read: of the site its name, key and zone
 * count. */
DB_MUST_USE enum db_status db_feed_build_unread(const struct db_site *site, enum db_feed feed,
                                                const struct db_notice *notices, size_t notice_count, int64_t now,
                                                int64_t first_sequence, db_past_find *past, void *context,
                                                struct db_feed_result *ret);
/* 128 bits over all that a feed is built from: its events' identities, days and meanings, whatever their order, the
 * calendar's own lines, the garden's key, `unlimited`, the program's version. Where the feed of the same gist was built last,
 * and the ledger is as that left it, building it again gives the same bytes; save where events were left out, for which
 * those are depends on the day as well. Costs a small part of building. Errors as of db_feed_build(). */
DB_MUST_USE enum db_status db_feed_gist(const struct db_jobs *jobs, enum db_feed feed, const struct db_notice *notices,
                                        size_t notice_count, bool unlimited, unsigned char ret[16]);
void db_feed_free(struct db_feed_result *result);
/* A key for a garden that has none yet: the same one for the same text (where its plan lies). */
enum { DB_KEY_ROOM = 37 };
void db_feed_key(const char *text, char ret[DB_KEY_ROOM]);

/* The plain text of one day, at most 78 columns wide, UTF-8, LF: "Today", grouped by bed; "Still open from earlier days";
 * "Ended in the last 3 days without a note"; "Coming in the next 6 days". Jobs of one rule, day and bed whose advice is
 * the same are one entry that names its sowings. telling: how much is said of today's and the still open jobs. date: the day to
 * stand on. Texts are rendered into `arena`; the bytes are
 * added to `out`. */
enum db_telling {
    DB_TELLING_LINES,   /* what and where */
    DB_TELLING_REASONS, /* and until when, why, with which care, how to note it */
    DB_TELLING_ALL      /* and how it is done */
};
DB_MUST_USE enum db_status db_digest_day(const struct db_jobs *jobs, struct db_date date, enum db_telling telling,
                                         struct db_arena *arena, struct db_bytes *out);

/* The same as HTML: h1, h2, h3, lists and paragraphs, nothing else, for the inside of a body element. Job names are left
 * out. */
DB_MUST_USE enum db_status db_digest_html(const struct db_jobs *jobs, struct db_date date, enum db_telling telling,
                                          struct db_arena *arena, struct db_bytes *out);
/* Text made fit to stand in HTML. */
DB_MUST_USE enum db_status db_digest_escape(const char *text, struct db_bytes *out);
/* How many jobs are to be done on that day: open ones whose day it is, or was while their days go on. */
size_t db_digest_count(const struct db_jobs *jobs, struct db_date date);
/* Whether the gardener is away from the next day on, which is told even where nothing is to be done. */
bool db_digest_leaves(const struct db_jobs *jobs, struct db_date date);

/* What is fetched for the open jobs that stand on the day, each once, in the order in which the day's text tells them, as
 * cleaned lines in the arena. DB_FULL: the arena is full. */
DB_MUST_USE enum db_status db_tools_on(const struct db_jobs *jobs, struct db_date date, struct db_arena *arena,
                                       const char ***ret, size_t *ret_count);

/* JSON (RFC 8259) of the jobs with index from .. to - 1: an array, one object a line, ended by a newline. Each object:
 * job (the name a gardener types), rule, sowing, crop, summary, kind, bed, first, best, last, on (ISO 8601 dates), state
 * ("open", "done", "missed"), done (a date or null), urgency (1..9), minutes (whole; null when not said),
 * tool (null: nothing is fetched), days, how, caution
 * ("" when there is none), why (an array of {text, origin}, origin "observed", "forecast", "climate" or "none"). */
DB_MUST_USE enum db_status db_json_jobs(const struct db_jobs *jobs, size_t from, size_t to, struct db_arena *arena,
                                        struct db_bytes *out);

/* Writes beside, syncs, renames, syncs the folder: a reader sees the old file or the new one. Does nothing (and sets
 * *ret_changed false) when the file already holds exactly these bytes. On failure errno tells. */
DB_MUST_USE enum db_status db_file_swap(const char *path, const char *data, size_t length, bool *ret_changed);
/* By what bytes are known again without being kept: 128 bits (XXH3), no protection against somebody who forges. */
void db_bytes_hash(const char *data, size_t length, unsigned char ret[16]);
/* Whether the file is a plain one and holds `length` bytes of that hash. Any doubt counts as no. */
bool db_file_holds(const char *path, const unsigned char hash[16], size_t length);

/* Beds over time, for a screen 44 columns wide: of each bed what is or will be there in the next 300 days, with its days and how
 * far they may lie off, what does not fit or comes back too soon, the trays that stand there, and what is free from when on.
 * bed: this one alone; NULL: all of the garden. */
DB_MUST_USE enum db_status db_beds_text(const struct db_jobs *jobs, const struct db_bed *bed, struct db_arena *arena,
                                        struct db_bytes *out);
/* The same as JSON (RFC 8259): an array of beds, each with bed (its id), name, ground, stays, trays and free. Days are ISO 8601, in
 * objects of early, likely and late, null where not known; ground is in m2, an object of closest, middle and widest for a
 * stay, and of least, likely and most for what is free. */
DB_MUST_USE enum db_status db_beds_json(const struct db_jobs *jobs, const struct db_bed *bed, struct db_arena *arena,
                                        struct db_bytes *out);
/* How much of a crop a bed of known size holds: plants in rows and staggered (where its rows stand nearly as far apart as its
 * plants), metres of rows, seed for them, and how many plants what is free today holds; at the middle of the crop's
 * distances. */
DB_MUST_USE enum db_status db_beds_fit_text(const struct db_jobs *jobs, const struct db_bed *bed,
                                            const struct db_crop_facts *crop, struct db_arena *arena,
                                            struct db_bytes *out);
/* The same as JSON, an object: bed, crop, apart, rows_apart (mm), in_rows, staggered, row (m), seeds_a_metre, seed (g), free
 * (m2), fit_in_free; null where not known. */
DB_MUST_USE enum db_status db_beds_fit_json(const struct db_jobs *jobs, const struct db_bed *bed,
                                            const struct db_crop_facts *crop, struct db_arena *arena,
                                            struct db_bytes *out);

#endif
