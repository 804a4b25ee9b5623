/* What the files of this folder share. */
#ifndef DB_RECORD_PRIVATE_H
#define DB_RECORD_PRIVATE_H

#include "record/record.h"

#include <sqlite3.h>

#include <stdint.h>

/* Prepared once, at the first use, and kept. */
enum db_record_query {
    DB_QUERY_BEGIN,
    DB_QUERY_COMMIT,
    DB_QUERY_ROLLBACK,
    DB_QUERY_ADD_NOTE,
    DB_QUERY_STRIKE_NOTE,
    DB_QUERY_FIND_NOTE,
    DB_QUERY_ALL_NOTES,
    DB_QUERY_LAST_MORNINGS,
    DB_QUERY_READ_SERVED,
    DB_QUERY_PUT_SERVED,
    DB_QUERY_READ_PUBLISHED,
    DB_QUERY_PUT_PUBLISHED,
    DB_QUERY_INTEND_MORNING,
    DB_QUERY_FOLD_MORNINGS,
    DB_QUERY_MARK_MORNING,
    DB_QUERY_OPEN_MORNINGS,
    DB_QUERY_FAILED_MORNINGS,
    DB_QUERY_MORNING_DATES,
    DB_QUERY_READ_LEDGER,
    DB_QUERY_PUT_LEDGER,
    DB_QUERY_HAS_LEDGER,
    DB_QUERY_SET_GONE,
    DB_QUERY_DROP_LEDGER,
    DB_QUERY_READ_FLOOR,
    DB_QUERY_RAISE_FLOOR,
    DB_QUERY_READ_EDITION,
    DB_QUERY_PUT_EDITION,
    DB_QUERY_ADD_TOKEN,
    DB_QUERY_REVOKE_TOKENS,
    DB_QUERY_ALL_TOKENS,
    DB_QUERY_VERSION,
    DB_QUERY_READ_ANSWER,
    DB_QUERY_PUT_ANSWER,
    DB_QUERY_FRESH_ANSWER,
    DB_QUERY_PUT_SEEN,
    DB_QUERY_THIN_SEEN,
    DB_QUERY_READ_SEEN,
    DB_QUERY_PUT_BEFOREHAND,
    DB_QUERY_PUT_MEASURED,
    DB_QUERY_DROP_BEFOREHAND,
    DB_QUERY_READ_BEFOREHAND,
    DB_QUERY_COUNT_POSITIONS,
    DB_QUERY_READ_POSITIONS,
    DB_QUERY_PUT_POSITION,
    DB_QUERY_DROP_POSITIONS
};
enum { DB_QUERY_COUNT = DB_QUERY_DROP_POSITIONS + 1 };

struct db_record {
    sqlite3 *file;
    sqlite3_stmt *query[DB_QUERY_COUNT];
    int depth; /* of pairs of begin and end */
    bool busy; /* the trouble is that another program was writing */
    char trouble[256];
};

/* The statement, reset and ready to be bound; NULL with the trouble noted. */
sqlite3_stmt *db_record_query(struct db_record *record, enum db_record_query which);

/* The same for a question about one thing, which is its first value; the trouble of before is forgotten. */
sqlite3_stmt *db_record_ask(struct db_record *record, enum db_record_query which, const char *about);
/* Takes its first row. DB_OK: the row is there to be read; DB_ABSENT: there is none; DB_TROUBLE with the trouble noted
 * (query NULL: it is already). doing: "what was served last was not read". Reset the statement in any case. */
DB_MUST_USE enum db_status db_record_first(struct db_record *record, sqlite3_stmt *query, const char *doing);

/* Runs a statement that answers nothing. On failure the trouble is noted. The statement is reset either way. */
DB_MUST_USE enum db_status db_record_run(struct db_record *record, sqlite3_stmt *query);

/* Notes what SQLite has to say and returns DB_TROUBLE (DB_FULL when it was out of memory). doing: "the note was not
 * kept". */
enum db_status db_record_blame(struct db_record *record, const char *doing);
/* Notes words of our own and returns DB_TROUBLE. */
__attribute__((format(printf, 2, 3))) enum db_status db_record_blame_words(struct db_record *record, const char *format,
                                                                           ...);

#endif
