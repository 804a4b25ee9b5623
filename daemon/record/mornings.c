/* Mornings in the record: what is to be sent, what is on its way, what became of it. */
#include "record/private.h"

#include <string.h>

#include "base/banned.h"

static const char *const states[] = { "intended", "sending", "sent", "failed", "folded" };
enum { STATES = sizeof states / sizeof states[0] };

static void bind_text(sqlite3_stmt *query, int index, const char *text)
{
    (void) sqlite3_bind_text(query, index, text ? text : "", -1, SQLITE_STATIC);
}

static enum db_status intend(struct db_record *record, const struct db_morning_row *row, int64_t now)
{
    sqlite3_stmt *query = db_record_query(record, DB_QUERY_INTEND_MORNING);
    char date[11];

    if (!query)
        return DB_TROUBLE;
    bind_text(query, 1, db_date_iso(row->date, date));
    bind_text(query, 2, row->outlet);
    bind_text(query, 3, states[row->state]);
    (void) sqlite3_bind_int64(query, 4, now);
    bind_text(query, 5, row->message);
    (void) sqlite3_bind_blob64(query, 6, row->body ? row->body : "", row->body ? row->length : 0, SQLITE_STATIC);
    return db_record_run(record, query);
}

static enum db_status fold(struct db_record *record, struct db_date before)
{
    sqlite3_stmt *query = db_record_query(record, DB_QUERY_FOLD_MORNINGS);
    char date[11];

    if (!query)
        return DB_TROUBLE;
    bind_text(query, 1, db_date_iso(before, date));
    return db_record_run(record, query);
}

enum db_status db_record_intend_mornings(struct db_record *record, const struct db_morning_row *rows, size_t count,
                                         bool folds, int64_t now)
{
    enum db_status status = db_record_begin(record);

    if (status != DB_OK)
        return status;
    for (size_t i = 0; status == DB_OK && i < count; i++)
        status = intend(record, &rows[i], now);
    if (status == DB_OK && folds && count)
        status = fold(record, rows[0].date);
    return db_record_end(record, status);
}

enum db_status db_record_mark_morning(struct db_record *record, const struct db_morning_row *row, int64_t now)
{
    enum db_status status = db_record_begin(record);
    char date[11];

    if (status != DB_OK)
        return status;
    sqlite3_stmt *query = db_record_query(record, DB_QUERY_MARK_MORNING);
    if (!query)
        return db_record_end(record, DB_TROUBLE);
    bind_text(query, 1, db_date_iso(row->date, date));
    bind_text(query, 2, row->outlet);
    bind_text(query, 3, states[row->state]);
    (void) sqlite3_bind_int64(query, 4, row->tries);
    (void) sqlite3_bind_int64(query, 5, row->next);
    (void) sqlite3_bind_int64(query, 6, now);
    bind_text(query, 7, row->trouble);
    status = db_record_run(record, query);
    if (status == DB_OK && sqlite3_changes(record->file) != 1)
        status = db_record_blame_words(record, "there is no morning of %s for %s", date, row->outlet);
    return db_record_end(record, status);
}

static const char *column(sqlite3_stmt *query, int index, struct db_arena *arena)
{
    const char *text = (const char *) sqlite3_column_text(query, index);

    return db_arena_text(arena, text ? text : "", text ? (size_t) sqlite3_column_bytes(query, index) : 0);
}

static enum db_status read_row(struct db_record *record, sqlite3_stmt *query, struct db_arena *arena,
                               struct db_morning_row *ret)
{
    const char *date = (const char *) sqlite3_column_text(query, 0), *state = column(query, 2, arena);
    const char *body = sqlite3_column_blob(query, 8);
    size_t which = 0;

    ret->outlet = column(query, 1, arena);
    ret->tries = sqlite3_column_int64(query, 3);
    ret->next = sqlite3_column_int64(query, 4);
    ret->changed = sqlite3_column_int64(query, 5);
    ret->message = column(query, 6, arena);
    ret->trouble = column(query, 7, arena);
    ret->length = (size_t) sqlite3_column_bytes(query, 8);
    ret->body = db_arena_text(arena, body ? body : "", ret->length);
    if (!date || !state || !ret->outlet || !ret->message || !ret->trouble || !ret->body)
        return DB_FULL;
    while (which < STATES && strcmp(states[which], state) != 0)
        which++;
    if (which == STATES || db_date_read(date, strlen(date), &ret->date) != DB_OK)
        return db_record_blame_words(record, "the morning of %.20s for %.40s cannot be read", date, ret->outlet);
    ret->state = (enum db_morning_state) which;
    return DB_OK;
}

static enum db_status read_rows(struct db_record *record, sqlite3_stmt *query, struct db_arena *arena,
                                struct db_morning_row **ret, size_t *ret_count)
{
    struct db_morning_row *rows = NULL;
    enum db_status status = DB_OK;
    size_t count = 0, room = 0;
    int code = SQLITE_DONE;

    record->trouble[0] = '\0';
    while (status == DB_OK && (code = sqlite3_step(query)) == SQLITE_ROW) {
        if (count == room) {
            struct db_morning_row *more = db_arena_get(arena, room ? 2 * room : 16, sizeof *more);

            if (!more) {
                status = DB_FULL;
                break;
            }
            if (count)
                memcpy(more, rows, count * sizeof *rows);
            rows = more;
            room = room ? 2 * room : 16;
        }
        status = read_row(record, query, arena, &rows[count++]);
    }
    if (status == DB_OK && code != SQLITE_DONE)
        status = db_record_blame(record, "the mornings were not read");
    (void) sqlite3_reset(query);
    *ret = rows;
    *ret_count = status == DB_OK ? count : 0;
    return status;
}

enum db_status db_record_open_mornings(struct db_record *record, struct db_arena *arena, struct db_morning_row **ret,
                                       size_t *ret_count)
{
    sqlite3_stmt *query = db_record_query(record, DB_QUERY_OPEN_MORNINGS);

    return query ? read_rows(record, query, arena, ret, ret_count) : DB_TROUBLE;
}

enum db_status db_record_failed_mornings(struct db_record *record, struct db_date date, struct db_arena *arena,
                                         struct db_morning_row **ret, size_t *ret_count)
{
    sqlite3_stmt *query = db_record_query(record, DB_QUERY_FAILED_MORNINGS);
    char iso[11];

    if (!query)
        return DB_TROUBLE;
    bind_text(query, 1, db_date_iso(date, iso));
    return read_rows(record, query, arena, ret, ret_count);
}

enum db_status db_record_morning_dates(struct db_record *record, struct db_date date, bool *ret_there,
                                       struct db_date *ret_before)
{
    sqlite3_stmt *query = db_record_query(record, DB_QUERY_MORNING_DATES);
    enum db_status status = DB_OK;
    char iso[11];

    if (!query)
        return DB_TROUBLE;
    bind_text(query, 1, db_date_iso(date, iso));
    *ret_before = DB_NO_DATE;
    if (sqlite3_step(query) == SQLITE_ROW) {
        const char *before = (const char *) sqlite3_column_text(query, 0);

        if (before && *before && db_date_read(before, strlen(before), ret_before) != DB_OK)
            status = db_record_blame_words(record, "a morning has no readable date: %.20s", before);
        *ret_there = sqlite3_column_int(query, 1) != 0;
    } else {
        status = db_record_blame(record, "the mornings were not read");
    }
    (void) sqlite3_reset(query);
    return status;
}
