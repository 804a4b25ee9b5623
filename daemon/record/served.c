/* What readers were given last: a start serves it at once, before anything is worked out. */
#include "record/private.h"

#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

static enum db_status read_served(sqlite3_stmt *query, struct db_served *ret)
{
    const void *bytes = sqlite3_column_blob(query, 1);
    const size_t length = (size_t) sqlite3_column_bytes(query, 1);
    char *copy = bytes || !length ? malloc(length + 1) : NULL;

    if (!copy)
        return DB_FULL;
    if (length)
        memcpy(copy, bytes, length);
    copy[length] = '\0';
    *ret = (struct db_served){ .modified = sqlite3_column_int64(query, 0), .bytes = copy, .length = length };
    return DB_OK;
}

enum db_status db_record_served(struct db_record *record, const char *feed, struct db_served *ret)
{
    sqlite3_stmt *query = db_record_ask(record, DB_QUERY_READ_SERVED, feed);
    enum db_status status = db_record_first(record, query, "what was served last was not read");

    if (status == DB_OK)
        status = read_served(query, ret);
    (void) sqlite3_reset(query);
    return status;
}

enum db_status db_record_put_served(struct db_record *record, const char *feed, int64_t modified, const char *bytes,
                                    size_t length)
{
    sqlite3_stmt *query = db_record_ask(record, DB_QUERY_PUT_SERVED, feed);

    if (!query)
        return DB_TROUBLE;
    (void) sqlite3_bind_int64(query, 2, modified);
    (void) sqlite3_bind_blob64(query, 3, length ? bytes : "", length, SQLITE_STATIC);
    return db_record_run(record, query);
}
