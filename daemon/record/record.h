/* The record: one SQLite file that holds the diary and the feed ledger. Durable when a call returns. */
#ifndef DB_RECORD_RECORD_H
#define DB_RECORD_RECORD_H

#include "dewbell/diary.h"
#include "dewbell/position.h"
#include "dewbell/weather.h"

struct db_record;

/* Opens or makes the file (mode 0600), brings an older layout up to date, refuses a newer one. On failure `trouble` (at
 * least 256 bytes) says why. WAL, synchronous FULL. */
DB_MUST_USE enum db_status db_record_open(const char *path, struct db_record **ret, char trouble[256]);
struct db_record *db_record_close(struct db_record *record); /* NULL allowed; returns NULL */
/* Why the last call failed; "" if it did not. */
const char *db_record_trouble(const struct db_record *record);
/* Of a call that answered DB_TROUBLE: whether only another program was writing, so that the same may do in a moment. */
bool db_record_is_busy(const struct db_record *record);
/* How long calls wait for another program that is writing: 10 s unless said. Reading waits for nobody, nor does opening a
 * record that is there. */
void db_record_set_patience(struct db_record *record, int ms);

/* Several calls as one: what is put between begin and end is kept all at once or, where `so_far` is not DB_OK, not at all;
 * what was put cannot be relied on before end answers DB_OK. After a call in between failed, only end may follow. Pairs
 * within a pair count with the outer one. end answers so_far, or why it could not be kept. */
DB_MUST_USE enum db_status db_record_begin(struct db_record *record);
DB_MUST_USE enum db_status db_record_end(struct db_record *record, enum db_status so_far);

/* Adds a note; *ret_number is its number. When DB_OK is returned it survives a power cut. written: unix seconds. */
DB_MUST_USE enum db_status db_record_add_note(struct db_record *record, const struct db_note *note, int64_t written,
                                              int64_t *ret_number);
/* Strikes note `number` out; the row stays. DB_ABSENT if there is none, DB_RANGE if it already is. */
DB_MUST_USE enum db_status db_record_strike_note(struct db_record *record, int64_t number, int64_t written);
/* All notes, struck ones too, into a diary (not yet closed). */
DB_MUST_USE enum db_status db_record_read_notes(struct db_record *record, struct db_arena *arena,
                                                struct db_diary *diary);

/* Mornings: one row a local date and outlet, written before anything is sent, so that no crash loses or doubles one.
 *   intended  its bytes stand fixed; it is to be sent at `next`
 *   sending   it is on its way; found so at a start, nobody knows whether it arrived
 *   sent      it arrived, or there was nothing to send that day
 *   failed    it was given up: refused, or noon came; `trouble` says why
 *   folded    it was given up, and a later morning said so */
enum db_morning_state {
    DB_MORNING_INTENDED,
    DB_MORNING_SENDING,
    DB_MORNING_SENT,
    DB_MORNING_FAILED,
    DB_MORNING_FOLDED
};
struct db_morning_row {
    struct db_date date;
    const char *outlet; /* "mail me" */
    enum db_morning_state state;
    int64_t tries, next, changed; /* unix seconds */
    const char *message;          /* Message-ID or idempotency key */
    const char *trouble;          /* why it was not sent the last time; "" */
    const char *body;             /* what is sent, a NUL beyond `length` */
    size_t length;
};

/* Keeps the mornings of one date all at once (date, outlet, state, message and body are read; next and changed become
 * `now`). A row that is there stays as it is. folds: what failed before that date is marked as folded with it. */
DB_MUST_USE enum db_status db_record_intend_mornings(struct db_record *record, const struct db_morning_row *rows,
                                                     size_t count, bool folds, int64_t now);
/* Changes state, tries, next and trouble of the row's date and outlet; `changed` becomes `now`. */
DB_MUST_USE enum db_status db_record_mark_morning(struct db_record *record, const struct db_morning_row *row,
                                                  int64_t now);
/* Those still to be sent, or on their way, by date and outlet. */
DB_MUST_USE enum db_status db_record_open_mornings(struct db_record *record, struct db_arena *arena,
                                                   struct db_morning_row **ret, size_t *ret_count);
/* Those of days before `date` that failed and were not folded yet; without their bodies. */
DB_MUST_USE enum db_status db_record_failed_mornings(struct db_record *record, struct db_date date,
                                                     struct db_arena *arena, struct db_morning_row **ret,
                                                     size_t *ret_count);
/* Whether any morning of that date is kept, and the latest date before it that has one (no date: none has). */
DB_MUST_USE enum db_status db_record_morning_dates(struct db_record *record, struct db_date date, bool *ret_there,
                                                   struct db_date *ret_before);

/* The newest morning of each outlet. The texts are valid during the call only. */
struct db_last_morning {
    const char *outlet, *date, *state; /* date: 2026-06-14; state: intended, sending, sent, failed, folded */
    int64_t tries, next, changed;      /* next try and last change, unix seconds */
    const char *trouble;               /* why it was not sent the last time, or not to all; "" */
};
typedef void db_last_morning_seen(void *context, const struct db_last_morning *last);
DB_MUST_USE enum db_status db_record_last_mornings(struct db_record *record, db_last_morning_seen *seen, void *context);

/* The feed ledger: one row an event that was published. */
struct db_ledger_row {
    unsigned char identity[16], meaning[16];
    int64_t sequence, created, modified; /* unix seconds */
    const char *bytes;                   /* the event as published, BEGIN..END with CRLF */
    size_t length;
    struct db_date gone; /* day on which it was first not asked for any more; no date: it is asked for. Not put */
};
struct db_ledger; /* a feed's rows, read at once, to be looked up by identity */
/* How long a row is kept after its event is gone, in days. */
enum { DB_LEDGER_KEPT = 400 };

/* Reads the rows of a feed ("jobs", "mornings") into memory of its own. */
DB_MUST_USE enum db_status db_record_ledger(struct db_record *record, const char *feed, struct db_ledger **ret);
struct db_ledger *db_ledger_free(struct db_ledger *ledger);
/* NULL: there is none. What was looked up counts as asked for. */
const struct db_ledger_row *db_ledger_find(struct db_ledger *ledger, const unsigned char identity[16]);
size_t db_ledger_count(const struct db_ledger *ledger);
/* Whether the feed has any row. */
DB_MUST_USE enum db_status db_record_has_ledger(struct db_record *record, const char *feed, bool *ret);
/* Puts changed or new rows back, all in one transaction. */
DB_MUST_USE enum db_status db_record_put(struct db_record *record, const char *feed, const struct db_ledger_row *rows,
                                         size_t count);

/* After a feed was built from the ledger: notes which events are gone since today and which are back, and takes away those
 * that have been gone for more than DB_LEDGER_KEPT days; first_sequence is what new events of that build began with. All in
 * one transaction; without any of it nothing is written. */
DB_MUST_USE enum db_status db_record_tidy_ledger(struct db_record *record, const char *feed,
                                                 const struct db_ledger *ledger, struct db_date today,
                                                 int64_t first_sequence);
/* The SEQUENCE with which new events begin at the least, so that none begins below that of a row which was taken away, of
 * the same event perhaps: readers that were not looking for so long would take it for older (RFC 5546, section 2.1.5). It
 * only ever rises; 0 at first. */
DB_MUST_USE enum db_status db_record_floor(struct db_record *record, const char *feed, int64_t *ret);

/* ---- editions.c ---- what a feed was last built from, and what came of it. Valid while the feed's ledger is as that build
 * left it: whoever puts rows puts the new edition with them. ---- */
struct db_edition {
    unsigned char gist[16]; /* of what it was built from */
    unsigned char hash[16]; /* of its bytes */
    int64_t length, events, left_out;
    struct db_date day; /* that it was built on */
};
/* DB_ABSENT: there is none. */
DB_MUST_USE enum db_status db_record_edition(struct db_record *record, const char *feed, struct db_edition *ret);
DB_MUST_USE enum db_status db_record_put_edition(struct db_record *record, const char *feed,
                                                 const struct db_edition *edition);

/* ---- tokens.c ---- the secret part of a feed's address: whoever has it may read. ---- */
enum { DB_TOKEN_LENGTH = 24 }; /* base64url (RFC 4648, section 5) of 144 bits from the kernel */
struct db_token {
    char text[DB_TOKEN_LENGTH + 1];
    bool revoked;
};
/* All tokens ever made, those that hold first, the newest first; malloc'd, for free(). */
DB_MUST_USE enum db_status db_record_tokens(struct db_record *record, struct db_token **ret, size_t *ret_count);
/* A new token in the place of `old` (NULL: of none), which is revoked. Where another one than that holds by now, somebody was
 * quicker: that one, and *ret_made is false, so that of several at once all get one that holds. made: unix seconds. */
DB_MUST_USE enum db_status db_record_replace_token(struct db_record *record, const struct db_token *old, int64_t made,
                                                   struct db_token *ret, bool *ret_made);
/* A number that is another one after some other connection to the record changed it. 0: the record does not answer. */
int64_t db_record_version(struct db_record *record);

/* ---- served.c ---- what readers of a feed were given last. */
struct db_served {
    int64_t modified; /* unix seconds */
    char *bytes;      /* for free(); a NUL after them */
    size_t length;
};
/* DB_ABSENT: nothing was ever served. */
DB_MUST_USE enum db_status db_record_served(struct db_record *record, const char *feed, struct db_served *ret);
DB_MUST_USE enum db_status db_record_put_served(struct db_record *record, const char *feed, int64_t modified,
                                                const char *bytes, size_t length);

/* ---- positions.c ---- where the garden's jobs were last published, for the next evaluation; the rows' texts live in the arena. Feeds that are
 * published are followed by the moves that they made: db_jobs_moves() to db_record_put_positions(). */
DB_MUST_USE enum db_status db_record_positions(struct db_record *record, struct db_arena *arena,
                                               struct db_positions *ret);
/* Puts changed or new positions back and drops those that have been gone for DB_POSITION_KEPT days, in one transaction. */
DB_MUST_USE enum db_status db_record_put_positions(struct db_record *record, const struct db_positions *moves,
                                                   struct db_date today);

/* ---- published.c ---- what an outlet holds of a feed. */
struct db_published {
    unsigned char address[16]; /* hash of where it went */
    unsigned char hash[16];    /* of the bytes */
    char etag[256];            /* the server's; "" if it gave none to rely on */
    int64_t at;                /* unix seconds */
};
/* DB_ABSENT: nothing was ever published there. */
DB_MUST_USE enum db_status db_record_published(struct db_record *record, const char *outlet, const char *feed,
                                               struct db_published *ret);
DB_MUST_USE enum db_status db_record_put_published(struct db_record *record, const char *outlet, const char *feed,
                                                   const struct db_published *row);

/* ---- seen.c ---- the last good answer of a weather service, and what was said of each day. ---- */
struct db_answer_row {
    const char *source;               /* its id */
    const char *url;                  /* what was asked */
    int64_t fetched, issued, expires; /* unix seconds; expires 0: not said */
    const char *etag, *last_modified; /* as they came; "" */
    const char *body;                 /* a NUL beyond `length` */
    size_t length;
};
/* DB_ABSENT: there is none yet. Texts and body live in the arena. */
DB_MUST_USE enum db_status db_record_answer(struct db_record *record, const char *source, struct db_arena *arena,
                                            struct db_answer_row *ret);
/* Keeps the answer in place of the one before, and what it says of each day beside what was said of it earlier (told of
 * one issue replaces the same issue's). Both or none. Of days before `before` only the last word stays. */
DB_MUST_USE enum db_status db_record_put_answer(struct db_record *record, const struct db_answer_row *row,
                                                const struct db_told *told, struct db_date before);
/* The answer was asked for again and still holds. */
DB_MUST_USE enum db_status db_record_fresh_answer(struct db_record *record, const char *source, int64_t fetched,
                                                  int64_t expires);
/* Observed figures of days; a figure is kept once, and again when it changes. at: unix seconds. */
DB_MUST_USE enum db_status db_record_put_observed(struct db_record *record, const struct db_told_day *days,
                                                  size_t count, int64_t at);
/* What was said last (origin forecast) or measured (observed) of the days from..to: those with any figure, in order. */
DB_MUST_USE enum db_status db_record_seen(struct db_record *record, enum db_origin origin, struct db_date from,
                                          struct db_date to, struct db_arena *arena, struct db_told_day **ret,
                                          size_t *ret_count);

/* ---- beforehand.c ---- what was said of a day last before it began, and what was measured of it: the forecast's bias is
 * learnt from that. asked: a hash of who was asked for what; days that somebody else told do not count with it. ---- */
enum { DB_BEFOREHAND_KEPT = 460 }; /* days: what DB_BIAS_BACK days look at */
struct db_beforehand {
    struct db_date date;
    double said[2], measured[2]; /* by DB_FIGURE_LOW and DB_FIGURE_HIGH, degC; NaN: not known */
};
/* Keeps what is said of the days after `today` in place of what was said of them before, and drops what is older than
 * DB_BEFOREHAND_KEPT. */
DB_MUST_USE enum db_status db_record_put_beforehand(struct db_record *record, const unsigned char asked[16],
                                                    const struct db_told_day *days, size_t count, struct db_date today);
/* Keeps what was measured of days that `asked` told of; the others' stays. Both or none of the two figures are written. */
DB_MUST_USE enum db_status db_record_put_measured(struct db_record *record, const unsigned char asked[16],
                                                  const struct db_beforehand *days, size_t count);
/* The days from..to that `asked` told of, in order. */
DB_MUST_USE enum db_status db_record_beforehand(struct db_record *record, const unsigned char asked[16],
                                                struct db_date from, struct db_date to, struct db_arena *arena,
                                                struct db_beforehand **ret, size_t *ret_count);

#endif
