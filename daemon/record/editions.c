/* The feeds' editions: one row a feed. */
#include "record/private.h"

#include <string.h>

#include "base/banned.h"

/* A damaged row is none: its feed is built, and the row put anew. */
static enum db_status read_edition(sqlite3_stmt *query, struct db_edition *ret)
{
    const void *gist = sqlite3_column_blob(query, 0), *hash = sqlite3_column_blob(query, 1);

    if (!gist || !hash || sqlite3_column_bytes(query, 0) != 16 || sqlite3_column_bytes(query, 1) != 16)
        return DB_ABSENT;
    *ret = (struct db_edition){ .length = sqlite3_column_int64(query, 2),
                                .events = sqlite3_column_int64(query, 3),
                                .left_out = sqlite3_column_int64(query, 4),
                                .day = { sqlite3_column_int(query, 5) } };
    memcpy(ret->gist, gist, sizeof ret->gist);
    memcpy(ret->hash, hash, sizeof ret->hash);
    return DB_OK;
}

enum db_status db_record_edition(struct db_record *record, const char *feed, struct db_edition *ret)
{
    sqlite3_stmt *query = db_record_ask(record, DB_QUERY_READ_EDITION, feed);
    enum db_status status = db_record_first(record, query, "the edition of a feed was not read");

    if (status == DB_OK)
        status = read_edition(query, ret);
    (void) sqlite3_reset(query);
    return status;
}

enum db_status db_record_put_edition(struct db_record *record, const char *feed, const struct db_edition *edition)
{
    sqlite3_stmt *query = db_record_ask(record, DB_QUERY_PUT_EDITION, feed);

    if (!query)
        return DB_TROUBLE;
    (void) sqlite3_bind_blob(query, 2, edition->gist, sizeof edition->gist, SQLITE_STATIC);
    (void) sqlite3_bind_blob(query, 3, edition->hash, sizeof edition->hash, SQLITE_STATIC);
    (void) sqlite3_bind_int64(query, 4, edition->length);
    (void) sqlite3_bind_int64(query, 5, edition->events);
    (void) sqlite3_bind_int64(query, 6, edition->left_out);
    (void) sqlite3_bind_int64(query, 7, edition->day.day);
    return db_record_run(record, query);
}
