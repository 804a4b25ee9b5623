/* What readers were given last: a start serves it at once, before anything is worked out. */
#include "record/private.h"

#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

enum db_status db_record_served(struct db_record *record, const char *feed, struct db_served *ret)
{
    sqlite3_stmt *query = db_record_query(record, DB_QUERY_READ_SERVED);
    enum db_status status = DB_OK;

    if (!query)
        return DB_TROUBLE;
    record->trouble[0] = '\0';
    (void) sqlite3_bind_text(query, 1, feed, -1, SQLITE_STATIC);
    int code = sqlite3_step(query);
    if (code == SQLITE_ROW) {
        const void *bytes = sqlite3_column_blob(query, 1);
        const size_t length = (size_t) sqlite3_column_bytes(query, 1);
        char *copy = bytes || !length ? malloc(length + 1) : NULL;

        if (!copy) {
            status = DB_FULL;
        } else {
            if (length)
                memcpy(copy, bytes, length);
            copy[length] = '\0';
            *ret = (struct db_served){ .modified = sqlite3_column_int64(query, 0), .bytes = copy, .length = length };
        }
    } else {
        status = code == SQLITE_DONE ? DB_ABSENT : db_record_blame(record, "what was served last was not read");
    }
    (void) sqlite3_reset(query);
    return status;
}

enum db_status db_record_put_served(struct db_record *record, const char *feed, int64_t modified, const char *bytes,
                                    size_t length)
{
    sqlite3_stmt *query = db_record_query(record, DB_QUERY_PUT_SERVED);

    if (!query)
        return DB_TROUBLE;
    record->trouble[0] = '\0';
    (void) sqlite3_bind_text(query, 1, feed, -1, SQLITE_STATIC);
    (void) sqlite3_bind_int64(query, 2, modified);
    (void) sqlite3_bind_blob64(query, 3, length ? bytes : "", length, SQLITE_STATIC);
    return db_record_run(record, query);
}
