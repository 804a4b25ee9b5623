/* The last morning of each outlet, for those who ask how the service is. */
#include "record/private.h"

#include "base/banned.h"

enum db_status db_record_last_mornings(struct db_record *record, db_last_morning_seen *seen, void *context)
{
    sqlite3_stmt *query = db_record_query(record, DB_QUERY_LAST_MORNINGS);
    enum db_status status = DB_OK;
    int code;

    if (!query)
        return DB_TROUBLE;
    while ((code = sqlite3_step(query)) == SQLITE_ROW) {
        struct db_last_morning last = { .outlet = (const char *) sqlite3_column_text(query, 0),
                                        .date = (const char *) sqlite3_column_text(query, 1),
                                        .state = (const char *) sqlite3_column_text(query, 2),
                                        .tries = sqlite3_column_int64(query, 3),
                                        .next = sqlite3_column_int64(query, 4),
                                        .changed = sqlite3_column_int64(query, 5),
                                        .trouble = (const char *) sqlite3_column_text(query, 6) };
        if (!last.outlet || !last.date || !last.state || !last.trouble) {
            (void) sqlite3_reset(query);
            return DB_FULL;
        }
        seen(context, &last);
    }
    if (code != SQLITE_DONE)
        status = db_record_blame(record, "the mornings cannot be read");
    (void) sqlite3_reset(query);
    return status;
}
