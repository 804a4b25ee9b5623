/* Where each job was last published: read at once, changed rows put back in one transaction. */
#include "record/private.h"

#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

/* Dates are days since 1970; one that is not known is NULL. */
static struct db_date date_in(sqlite3_stmt *query, int column)
{
    return sqlite3_column_type(query, column) == SQLITE_NULL
               ? DB_NO_DATE
               : (struct db_date){ (int32_t) sqlite3_column_int64(query, column) };
}

static void bind_date(sqlite3_stmt *query, int parameter, struct db_date date)
{
    if (db_date_known(date))
        (void) sqlite3_bind_int64(query, parameter, date.day);
}

static bool take_hash(sqlite3_stmt *query, int column, unsigned char ret[16])
{
    const void *bytes = sqlite3_column_blob(query, column);

    if (!bytes || sqlite3_column_bytes(query, column) != 16)
        return false;
    memcpy(ret, bytes, 16);
    return true;
}

static const char *take_text(sqlite3_stmt *query, int column, struct db_arena *arena)
{
    const char *text = (const char *) sqlite3_column_text(query, column);

    return text ? db_arena_text(arena, text, (size_t) sqlite3_column_bytes(query, column)) : NULL;
}

static enum db_status count_rows(struct db_record *record, size_t *ret)
{
    sqlite3_stmt *query = db_record_query(record, DB_QUERY_COUNT_POSITIONS);

    if (!query)
        return DB_TROUBLE;
    const int code = sqlite3_step(query);
    if (code == SQLITE_ROW)
        *ret = (size_t) sqlite3_column_int64(query, 0);
    else
        (void) db_record_blame(record, "the jobs' places were not read");
    (void) sqlite3_reset(query);
    return code == SQLITE_ROW ? DB_OK : DB_TROUBLE;
}

static enum db_status read_rows(struct db_record *record, sqlite3_stmt *query, struct db_arena *arena,
                                struct db_position *rows, size_t room, size_t *ret_count)
{
    int code = SQLITE_DONE;
    size_t count = 0;

    while (count < room && (code = sqlite3_step(query)) == SQLITE_ROW) {
        struct db_position *p = &rows[count++];

        if (!take_hash(query, 0, p->identity) || !take_hash(query, 1, p->inputs) || !take_hash(query, 2, p->words))
            return db_record_blame_words(record, "a job's place in the record is not whole");
        p->rule = take_text(query, 3, arena);
        p->sowing = take_text(query, 4, arena);
        if (!p->rule || !p->sowing)
            return DB_FULL;
        p->occurrence = (unsigned) sqlite3_column_int64(query, 5);
        p->first = date_in(query, 6);
        p->best = date_in(query, 7);
        p->last = date_in(query, 8);
        p->moved = date_in(query, 9);
        p->gone = date_in(query, 10);
        p->there = sqlite3_column_int(query, 11) != 0;
        p->on = date_in(query, 12);
    }
    if (code != SQLITE_DONE && code != SQLITE_ROW)
        return db_record_blame(record, "the jobs' places were not read");
    *ret_count = count;
    return DB_OK;
}

enum db_status db_record_positions(struct db_record *record, struct db_arena *arena, struct db_positions *ret)
{
    size_t count = 0;
    enum db_status status = count_rows(record, &count);
    struct db_position *rows = db_arena_get(arena, count, sizeof *rows);
    sqlite3_stmt *query = db_record_query(record, DB_QUERY_READ_POSITIONS);

    if (status == DB_OK && !rows)
        status = DB_FULL;
    if (status == DB_OK && !query)
        status = DB_TROUBLE;
    if (status != DB_OK)
        return status;
    record->trouble[0] = '\0';
    status = read_rows(record, query, arena, rows, count, &count);
    (void) sqlite3_reset(query);
    if (status == DB_OK)
        *ret = (struct db_positions){ rows, count };
    return status;
}

static enum db_status put_row(struct db_record *record, const struct db_position *p)
{
    sqlite3_stmt *query = db_record_query(record, DB_QUERY_PUT_POSITION);

    if (!query)
        return DB_TROUBLE;
    (void) sqlite3_bind_blob(query, 1, p->identity, 16, SQLITE_STATIC);
    (void) sqlite3_bind_blob(query, 2, p->inputs, 16, SQLITE_STATIC);
    (void) sqlite3_bind_blob(query, 3, p->words, 16, SQLITE_STATIC);
    (void) sqlite3_bind_text(query, 4, p->rule, -1, SQLITE_STATIC);
    (void) sqlite3_bind_text(query, 5, p->sowing, -1, SQLITE_STATIC);
    (void) sqlite3_bind_int64(query, 6, p->occurrence);
    bind_date(query, 7, p->first);
    bind_date(query, 8, p->best);
    bind_date(query, 9, p->last);
    bind_date(query, 10, p->moved);
    bind_date(query, 11, p->gone);
    (void) sqlite3_bind_int(query, 12, p->there);
    bind_date(query, 13, p->on);
    return db_record_run(record, query);
}

enum db_status db_record_put_positions(struct db_record *record, const struct db_positions *moves, struct db_date today)
{
    if (moves->count == 0)
        return DB_OK;
    enum db_status status = db_record_begin(record);
    if (status != DB_OK)
        return status;
    for (size_t i = 0; i < moves->count && status == DB_OK; i++)
        status = put_row(record, &moves->rows[i]);
    sqlite3_stmt *drop = status == DB_OK ? db_record_query(record, DB_QUERY_DROP_POSITIONS) : NULL;
    if (drop) {
        (void) sqlite3_bind_int64(drop, 1, today.day - DB_POSITION_KEPT);
        status = db_record_run(record, drop);
    }
    return db_record_end(record, status);
}
