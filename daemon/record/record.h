/* The record: one SQLite file that holds the diary and the feed ledger. Durable when a call returns. */
#ifndef DB_RECORD_RECORD_H
#define DB_RECORD_RECORD_H

#include "dewbell/diary.h"

struct db_record;

/* Opens or makes the file (mode 0600), brings an older layout up to date, refuses a newer one. On failure `trouble` (at
 * least 256 bytes) says why. WAL, synchronous FULL. */
DB_MUST_USE enum db_status db_record_open(const char *path, struct db_record **ret, char trouble[256]);
struct db_record *db_record_close(struct db_record *record); /* NULL allowed; returns NULL */
/* Why the last call failed; "" if it did not. */
const char *db_record_trouble(const struct db_record *record);

/* Adds a note; *ret_number is its number. When DB_OK is returned it survives a power cut. written: unix seconds. */
DB_MUST_USE enum db_status db_record_add_note(struct db_record *record, const struct db_note *note, int64_t written,
                                              int64_t *ret_number);
/* Strikes note `number` out; the row stays. DB_ABSENT if there is none, DB_RANGE if it already is. */
DB_MUST_USE enum db_status db_record_strike_note(struct db_record *record, int64_t number, int64_t written);
/* All notes, struck ones too, into a diary (not yet closed). */
DB_MUST_USE enum db_status db_record_read_notes(struct db_record *record, struct db_arena *arena,
                                                struct db_diary *diary);

/* The newest morning of each outlet. The texts are valid during the call only. */
struct db_last_morning {
    const char *outlet, *date, *state; /* date: 2026-06-14; state: intended, sending, sent, failed, folded */
    int64_t tries, next, changed;      /* next try and last change, unix seconds */
};
typedef void db_last_morning_seen(void *context, const struct db_last_morning *last);
DB_MUST_USE enum db_status db_record_last_mornings(struct db_record *record, db_last_morning_seen *seen, void *context);

/* The feed ledger: one row an event that was ever published. */
struct db_ledger_row {
    unsigned char identity[16], meaning[16];
    int64_t sequence, created, modified; /* unix seconds */
    const char *bytes;                   /* the event as published, BEGIN..END with CRLF */
    size_t length;
};
struct db_ledger; /* a feed's rows, read at once, to be looked up by identity */

/* Reads the rows of a feed ("jobs", "mornings") into memory of its own. */
DB_MUST_USE enum db_status db_record_ledger(struct db_record *record, const char *feed, struct db_ledger **ret);
struct db_ledger *db_ledger_free(struct db_ledger *ledger);
const struct db_ledger_row *db_ledger_find(const struct db_ledger *ledger, const unsigned char identity[16]);
size_t db_ledger_count(const struct db_ledger *ledger);
/* Puts changed or new rows back, all in one transaction. */
DB_MUST_USE enum db_status db_record_put(struct db_record *record, const char *feed, const struct db_ledger_row *rows,
                                         size_t count);

/* ---- tokens.c ---- the secret part of a feed's address: whoever has it may read. ---- */
enum { DB_TOKEN_LENGTH = 24 }; /* base64url (RFC 4648, section 5) of 144 bits from the kernel */
struct db_token {
    char text[DB_TOKEN_LENGTH + 1];
    bool revoked;
};
/* All tokens ever made, those that hold first, the newest first; malloc'd, for free(). */
DB_MUST_USE enum db_status db_record_tokens(struct db_record *record, struct db_token **ret, size_t *ret_count);
/* A new token; all older ones are revoked with it. made: unix seconds. */
DB_MUST_USE enum db_status db_record_new_token(struct db_record *record, int64_t made, struct db_token *ret);
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

#endif
