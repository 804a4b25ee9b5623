/* What the files of this folder share. */
#ifndef DB_WRITE_PRIVATE_H
#define DB_WRITE_PRIVATE_H

#include "write/write.h"

/* ---- bytes.c ---- */
DB_MUST_USE enum db_status db_bytes_text(struct db_bytes *bytes, const char *text);
/* %s %d %zu %u and the like; no floating point. */
__attribute__((format(printf, 2, 3))) DB_MUST_USE enum db_status db_bytes_format(struct db_bytes *bytes,
                                                                                 const char *format, ...);

/* ---- clean.c ---- all return a copy in the arena, NULL when it is full. ---- */
/* Well-formed UTF-8 (bad bytes become U+FFFD) without control characters but newline: CR LF and other line ends become
 * newlines, TAB a space, the rest goes. */
char *db_clean_text(const char *text, struct db_arena *arena);
/* The same on one line, spaces at the ends dropped and runs of spaces made one. */
char *db_clean_line(const char *text, struct db_arena *arena);
/* The same for a word of a list: commas and semicolons become spaces too. */
char *db_clean_word(const char *text, struct db_arena *arena);
/* The same as a line of at most `most` (>= 2) characters, cut after a word with an ellipsis. */
char *db_clean_cut(const char *text, size_t most, struct db_arena *arena);

/* ---- words.c ---- how dates and spans read. Buffers hold at least DB_WORDS bytes; each returns its buffer. ---- */
enum { DB_WORDS = 96 };
char *db_words_day(struct db_date date, char buffer[DB_WORDS]);      /* "Thu 18 June" */
char *db_words_date(struct db_date date, char buffer[DB_WORDS]);     /* "18 June" */
char *db_words_long_day(struct db_date date, char buffer[DB_WORDS]); /* "Thursday 18 June 2026" */
/* "Tue 16 to Sun 21 June", "Fri 29 May to Tue 2 June", "Thu 18 June". */
char *db_words_span(struct db_date first, struct db_date last, char buffer[DB_WORDS]);
/* "25 min", "1 h 30 min"; "" when not said. */
char *db_words_effort(double minutes, char buffer[DB_WORDS]);
/* Adds text wrapped at 78 columns: `lead` first, further lines indented by `indent` spaces. */
DB_MUST_USE enum db_status db_words_wrap(struct db_bytes *out, const char *lead, const char *text, size_t indent);

/* ---- telling.c ---- what a job says, in parts. ---- */
/* The bed where the sowing stands on the job's best day. */
const struct db_bed *db_telling_bed(const struct db_jobs *jobs, const struct db_job *job);
/* All reasons as one run of sentences. NULL: the arena is full. */
const char *db_telling_why(const struct db_jobs *jobs, const struct db_job *job, struct db_arena *arena);
const struct db_sowing *db_telling_sowing(const struct db_jobs *jobs, const struct db_job *job);
/* "carrot" as shown: the crop's name. */
const char *db_telling_crop(const struct db_jobs *jobs, const struct db_job *job);

/* ---- days.c ---- */
/* What is said of a day by the gardener's days, in lines: that its jobs take more time than it has and what to do about it; what
 * falls into days away, on the last day at home. "" where there is nothing to say, and of days gone by; NULL: the arena is full. */
const char *db_days_say(const struct db_jobs *jobs, struct db_date date, struct db_arena *arena);

/* ---- groups.c ---- */
struct db_group { /* jobs that read as one */
    const struct db_job *const *jobs;
    size_t count;
    const struct db_bed *bed;
    const char *round; /* several jobs of one round, whatever their rules and days; else NULL */
};
/* Sorts the list by bed, urgency, rule, sowing and cuts it into groups: same bed, rule, state, days, advice; or same bed
 * and round, open. */
DB_MUST_USE enum db_status db_groups_make(const struct db_jobs *jobs, const struct db_job **list, size_t count,
                                          struct db_arena *arena, struct db_group **ret, size_t *ret_count);
/* What the group is to do, cleaned: "Thin carrots ...; the same for lettuce (lettuce-2) and kale (kale-1)", or "Water in the
 * east bed: leeks, 99 litres; onions, 34 litres". NULL: the arena is full. */
const char *db_group_line(const struct db_jobs *jobs, const struct db_group *group, struct db_arena *arena);
/* The last day for the first of them (all: for the last of them). */
struct db_date db_group_last(const struct db_group *group, bool all);

/* ---- tools.c ---- */
/* What is fetched for the open jobs among them, each once, in their order, cleaned. DB_FULL: the arena is. */
DB_MUST_USE enum db_status db_tools_of(const struct db_jobs *jobs, const struct db_group *groups, size_t count,
                                       struct db_arena *arena, const char ***ret, size_t *ret_count);
/* "To fetch: fork; net and hoops; watering can."; "" where nothing is. NULL: the arena is full. */
const char *db_tools_say(const struct db_jobs *jobs, const struct db_group *groups, size_t count,
                         struct db_arena *arena);

/* ---- uid.c ---- */
/* UUIDv5 (RFC 9562, section 5.5) of name in the name space. */
void db_uid_make(const unsigned char space[16], const char *name, unsigned char ret[16]);
/* Reads "3f0e6a52-6f0a-4a33-9a57-0c5a9cf0a1b7". DB_RANGE if it is not a UUID. */
DB_MUST_USE enum db_status db_uid_read(const char *text, unsigned char ret[16]);
enum { DB_UID_TEXT = 37 };
char *db_uid_text(const unsigned char uid[16], char buffer[DB_UID_TEXT]);

/* ---- event.c ---- */
struct db_event {
    unsigned char uid[16];
    int64_t sequence, created, modified;
    struct db_date day;
    const char *summary, *description;  /* cleaned by the caller */
    const char *location, *kind, *crop; /* cleaned; NULL: none */
    int priority;                       /* 1..9; 0: none */
    bool alarm;
    unsigned char alarm_uid[16];
    bool task;                /* a VTODO: these count, and `day` does not */
    struct db_date from, due; /* window; no date: none */
    enum db_job_state state;
    int64_t completed; /* unix seconds, where it is done */
};
/* Builds the event with libical and adds its bytes: BEGIN:VEVENT .. END:VEVENT (VTODO for a task), CR LF, folded. */
DB_MUST_USE enum db_status db_event_write(const struct db_event *event, struct db_bytes *out);
/* Adds the lines from BEGIN:VCALENDAR up to the first component: the same for a garden and feed for ever. */
DB_MUST_USE enum db_status db_event_head(const struct db_site *site, const char *what, const char *about,
                                         const char *colour, struct db_arena *arena, struct db_bytes *out);

/* ---- gist.c ---- */
struct db_feed_work;
struct db_gist { /* sums, so that the order in which events come in does not count */
    uint64_t low, high, events;
};
void db_gist_add(struct db_gist *gist, struct db_date day, const unsigned char identity[16],
                 const unsigned char meaning[16]);
/* What has gone in, the feed's head and the rest of what counts as 128 bits. DB_FULL: out of memory. */
DB_MUST_USE enum db_status db_gist_finish(const struct db_feed_work *work, const char *head, size_t length,
                                          unsigned char ret[16]);

/* ---- feed.c ---- */
struct db_entry { /* one event of the feed being built */
    int32_t day;
    uint64_t order;    /* the first eight characters of its UID */
    const char *past;  /* bytes copied; NULL: fresh */
    size_t at, length; /* fresh: where in `built` */
    size_t fresh;      /* fresh: which of `fresh` */
};
struct db_feed_work {
    enum db_feed feed;
    const struct db_jobs *jobs; /* NULL: notices alone */
    const struct db_view *view; /* of the jobs; NULL without them */
    const struct db_site *site;
    unsigned char space[16]; /* the garden's key */
    int64_t now, first_sequence;
    bool unlimited;
    const struct db_notice *notices;
    size_t notice_count;
    db_past_find *past;
    void *context;
    struct db_arena *scratch; /* texts of the event in hand; renewed now and then */
    struct db_bytes text;     /* the description in hand; used again and again */
    struct db_bytes built;    /* fresh events, one after the other */
    struct db_entry *entries;
    size_t count, room;
    struct db_event_new *fresh;
    size_t fresh_count, fresh_room, changed;
    size_t bytes; /* of the feed so far */
    struct db_gist gist;
    bool only_gist; /* events go into it, and none is taken */
};
/* The lines above the first event. */
DB_MUST_USE enum db_status db_feed_head(const struct db_feed_work *work, struct db_bytes *out);
/* Takes all events of the feed. */
DB_MUST_USE enum db_status db_feed_take_all(struct db_feed_work *work, size_t *ret_left_out);
/* Fills in all of the event but its stamps, UID apart from those included. about: handed through. */
typedef enum db_status db_event_tell(struct db_feed_work *work, const void *about, struct db_event *event);
/* Takes one event into the feed: copied if its meaning is that of the past, else told and built. *ret_fits is false when it
 * would have gone over the limits; it is not taken then. */
DB_MUST_USE enum db_status db_feed_take(struct db_feed_work *work, struct db_date day, const unsigned char identity[16],
                                        const unsigned char meaning[16], db_event_tell *tell, const void *about,
                                        bool *ret_fits);
/* Hash over all that the event of a job prints. */
void db_feed_meaning(const struct db_jobs *jobs, const struct db_job *job, unsigned char ret[16]);

/* ---- feed_jobs.c, mornings.c ---- (feed_jobs.c: events or tasks, by work->feed) take all their events; how many were left out. ---- */
DB_MUST_USE enum db_status db_feed_jobs(struct db_feed_work *work, size_t *ret_left_out);
DB_MUST_USE enum db_status db_feed_mornings(struct db_feed_work *work, size_t *ret_left_out);
/* ---- notices.c ---- the events of work->notices. */
DB_MUST_USE enum db_status db_feed_notices(struct db_feed_work *work);
/* The event of a feed that has none: the next job from index `next` on, or that there is none. which: "jobs" .. */
DB_MUST_USE enum db_status db_feed_marker(struct db_feed_work *work, const char *which, size_t next);

#endif
