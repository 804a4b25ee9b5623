/* What each outlet holds of each feed, as far as we know: a start sends only what is not there yet. */
#include "record/private.h"

#include <string.h>

#include "base/banned.h"

enum db_status db_record_published(struct db_record *record, const char *outlet, const char *feed,
                                   struct db_published *ret)
{
    sqlite3_stmt *query = db_record_query(record, DB_QUERY_READ_PUBLISHED);
    enum db_status status = DB_OK;

    if (!query)
        return DB_TROUBLE;
    record->trouble[0] = '\0';
    (void) sqlite3_bind_text(query, 1, outlet, -1, SQLITE_STATIC);
    (void) sqlite3_bind_text(query, 2, feed, -1, SQLITE_STATIC);
    int code = sqlite3_step(query);
    if (code == SQLITE_ROW) {
        const void *address = sqlite3_column_blob(query, 0), *hash = sqlite3_column_blob(query, 1);
        const unsigned char *etag = sqlite3_column_text(query, 2);
        const size_t length = (size_t) sqlite3_column_bytes(query, 2);
        struct db_published row = { .at = sqlite3_column_int64(query, 3) };

        if (!address || !hash || !etag) {
            status = DB_FULL;
        } else if (length >= sizeof row.etag || sqlite3_column_bytes(query, 0) != sizeof row.address ||
                   sqlite3_column_bytes(query, 1) != sizeof row.hash) {
            status = db_record_blame_words(record, "what was published last is not whole");
        } else {
            memcpy(row.address, address, sizeof row.address);
            memcpy(row.hash, hash, sizeof row.hash);
            memcpy(row.etag, etag, length);
            *ret = row;
        }
    } else {
        status = code == SQLITE_DONE ? DB_ABSENT : db_record_blame(record, "what was published last was not read");
    }
    (void) sqlite3_reset(query);
    return status;
}

enum db_status db_record_put_published(struct db_record *record, const char *outlet, const char *feed,
                                       const struct db_published *row)
{
    sqlite3_stmt *query = db_record_query(record, DB_QUERY_PUT_PUBLISHED);

    if (!query)
        return DB_TROUBLE;
    record->trouble[0] = '\0';
    (void) sqlite3_bind_text(query, 1, outlet, -1, SQLITE_STATIC);
    (void) sqlite3_bind_text(query, 2, feed, -1, SQLITE_STATIC);
    (void) sqlite3_bind_blob(query, 3, row->address, sizeof row->address, SQLITE_STATIC);
    (void) sqlite3_bind_blob(query, 4, row->hash, sizeof row->hash, SQLITE_STATIC);
    (void) sqlite3_bind_text(query, 5, row->etag, -1, SQLITE_STATIC);
    (void) sqlite3_bind_int64(query, 6, row->at);
    return db_record_run(record, query);
}
