/* What each outlet holds of each feed, as far as we know: a start sends only what is not there yet. */
#include "record/private.h"

#include <string.h>

#include "base/banned.h"

static enum db_status read_published(struct db_record *record, sqlite3_stmt *query, struct db_published *ret)
{
    const void *address = sqlite3_column_blob(query, 0), *hash = sqlite3_column_blob(query, 1);
    const unsigned char *etag = sqlite3_column_text(query, 2);
    const size_t length = (size_t) sqlite3_column_bytes(query, 2);
    struct db_published row = { .at = sqlite3_column_int64(query, 3) };

    if (!address || !hash || !etag)
        return DB_FULL;
    if (length >= sizeof row.etag || sqlite3_column_bytes(query, 0) != sizeof row.address ||
        sqlite3_column_bytes(query, 1) != sizeof row.hash)
        return db_record_blame_words(record, "what was published last is not whole");
    memcpy(row.address, address, sizeof row.address);
    memcpy(row.hash, hash, sizeof row.hash);
    memcpy(row.etag, etag, length);
    *ret = row;
    return DB_OK;
}

enum db_status db_record_published(struct db_record *record, const char *outlet, const char *feed,
                                   struct db_published *ret)
{
    sqlite3_stmt *query = db_record_ask(record, DB_QUERY_READ_PUBLISHED, outlet);

    if (query)
        (void) sqlite3_bind_text(query, 2, feed, -1, SQLITE_STATIC);
    enum db_status status = db_record_first(record, query, "what was published last was not read");
    if (status == DB_OK)
        status = read_published(record, query, ret);
    (void) sqlite3_reset(query);
    return status;
}

enum db_status db_record_put_published(struct db_record *record, const char *outlet, const char *feed,
                                       const struct db_published *row)
{
    sqlite3_stmt *query = db_record_ask(record, DB_QUERY_PUT_PUBLISHED, outlet);

    if (!query)
        return DB_TROUBLE;
    (void) sqlite3_bind_text(query, 2, feed, -1, SQLITE_STATIC);
    (void) sqlite3_bind_blob(query, 3, row->address, sizeof row->address, SQLITE_STATIC);
    (void) sqlite3_bind_blob(query, 4, row->hash, sizeof row->hash, SQLITE_STATIC);
    (void) sqlite3_bind_text(query, 5, row->etag, -1, SQLITE_STATIC);
    (void) sqlite3_bind_int64(query, 6, row->at);
    return db_record_run(record, query);
}
