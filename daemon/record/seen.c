/* The last good answer of each weather service, so that a start without a network has it; and each day's figures as they
 * were forecast and as they were observed, which are both kept. */
#include "record/private.h"

#include <math.h>
#include <string.h>

#include "base/banned.h"

static const char *text_of(sqlite3_stmt *query, int column, struct db_arena *arena)
{
    const char *text = (const char *) sqlite3_column_text(query, column);

    return text ? db_arena_text(arena, text, (size_t) sqlite3_column_bytes(query, column)) : NULL;
}

static enum db_status read_answer(sqlite3_stmt *query, const char *source, struct db_arena *arena,
                                  struct db_answer_row *ret)
{
    const char *body = sqlite3_column_blob(query, 6);
    struct db_answer_row row = { .source = db_arena_text(arena, source, strlen(source)),
                                 .url = text_of(query, 0, arena),
                                 .fetched = sqlite3_column_int64(query, 1),
                                 .issued = sqlite3_column_int64(query, 2),
                                 .etag = text_of(query, 3, arena),
                                 .last_modified = text_of(query, 4, arena),
                                 .expires = sqlite3_column_int64(query, 5),
                                 .length = (size_t) sqlite3_column_bytes(query, 6) };

    row.body = db_arena_text(arena, body ? body : "", row.length);
    if (!row.source || !row.url || !row.etag || !row.last_modified || !row.body)
        return DB_FULL;
    *ret = row;
    return DB_OK;
}

enum db_status db_record_answer(struct db_record *record, const char *source, struct db_arena *arena,
                                struct db_answer_row *ret)
{
    sqlite3_stmt *query = db_record_ask(record, DB_QUERY_READ_ANSWER, source);
    enum db_status status = db_record_first(record, query, "the stored forecast was not read");

    if (status == DB_OK)
        status = read_answer(query, source, arena, ret);
    (void) sqlite3_reset(query);
    return status;
}

static enum db_status put_row(struct db_record *record, const struct db_answer_row *row)
{
    sqlite3_stmt *query = db_record_query(record, DB_QUERY_PUT_ANSWER);

    if (!query)
        return DB_TROUBLE;
    (void) sqlite3_bind_text(query, 1, row->source, -1, SQLITE_STATIC);
    (void) sqlite3_bind_text(query, 2, row->url, -1, SQLITE_STATIC);
    (void) sqlite3_bind_int64(query, 3, row->fetched);
    (void) sqlite3_bind_int64(query, 4, row->issued);
    (void) sqlite3_bind_text(query, 5, row->etag, -1, SQLITE_STATIC);
    (void) sqlite3_bind_text(query, 6, row->last_modified, -1, SQLITE_STATIC);
    (void) sqlite3_bind_int64(query, 7, row->expires);
    (void) sqlite3_bind_blob64(query, 8, row->length ? row->body : "", row->length, SQLITE_STATIC);
    return db_record_run(record, query);
}

static enum db_status put_days(struct db_record *record, enum db_origin origin, const char *source, int64_t issued,
                               const struct db_told_day *days, size_t count)
{
    enum db_status status = DB_OK;

    for (size_t i = 0; i < count; i++)
        for (int f = 0; f < DB_FIGURE_COUNT && status == DB_OK; f++) {
            char date[11];

            if (isnan(days[i].figures[f]))
                continue;
            sqlite3_stmt *query = db_record_query(record, DB_QUERY_PUT_SEEN);
            if (!query)
                return DB_TROUBLE;
            (void) sqlite3_bind_text(query, 1, db_date_iso(days[i].date, date), -1, SQLITE_STATIC);
            (void) sqlite3_bind_int(query, 2, f);
            (void) sqlite3_bind_int(query, 3, (int) origin);
            (void) sqlite3_bind_int64(query, 4, issued);
            (void) sqlite3_bind_text(query, 5, source, -1, SQLITE_STATIC);
            (void) sqlite3_bind_double(query, 6, days[i].figures[f]);
            status = db_record_run(record, query);
        }
    return status;
}

static enum db_status thin(struct db_record *record, struct db_date before)
{
    sqlite3_stmt *query = db_record_query(record, DB_QUERY_THIN_SEEN);
    char date[11];

    if (!query)
        return DB_TROUBLE;
    (void) sqlite3_bind_text(query, 1, db_date_iso(before, date), -1, SQLITE_STATIC);
    return db_record_run(record, query);
}

enum db_status db_record_put_answer(struct db_record *record, const struct db_answer_row *row,
                                    const struct db_told *told, struct db_date before)
{
    enum db_status status = db_record_begin(record);

    if (status != DB_OK)
        return status;
    status = put_row(record, row);
    if (status == DB_OK)
        status = put_days(record, DB_ORIGIN_FORECAST, row->source, row->issued, told->days, told->count);
    if (status == DB_OK)
        status = thin(record, before);
    return db_record_end(record, status);
}

enum db_status db_record_fresh_answer(struct db_record *record, const char *source, int64_t fetched, int64_t expires)
{
    sqlite3_stmt *query = db_record_ask(record, DB_QUERY_FRESH_ANSWER, source);

    if (!query)
        return DB_TROUBLE;
    (void) sqlite3_bind_int64(query, 2, fetched);
    (void) sqlite3_bind_int64(query, 3, expires);
    return db_record_run(record, query);
}

enum db_status db_record_put_observed(struct db_record *record, const struct db_told_day *days, size_t count,
                                      int64_t at)
{
    enum db_status status = db_record_begin(record);

    return status == DB_OK ? db_record_end(record, put_days(record, DB_ORIGIN_OBSERVED, "", at, days, count)) : status;
}

/* Room for `count` + 1 days, kept in an arena: doubled when a power of two is reached. */
static struct db_told_day *grow(struct db_arena *arena, struct db_told_day *days, size_t count)
{
    struct db_told_day *more;

    if (count & (count - 1))
        return days;
    more = db_arena_get(arena, count ? 2 * count : 1, sizeof *more);
    if (more && count)
        memcpy(more, days, count * sizeof *more);
    return more;
}

static enum db_status take_row(sqlite3_stmt *query, struct db_arena *arena, struct db_told_day **days, size_t *count)
{
    const char *text = (const char *) sqlite3_column_text(query, 0);
    const int figure = sqlite3_column_int(query, 1);
    struct db_date date;

    if (!text || db_date_read(text, strlen(text), &date) != DB_OK || figure < 0 || figure >= DB_FIGURE_COUNT)
        return DB_OK; /* of a later layout: not ours to judge */
    if (!*count || (*days)[*count - 1].date.day != date.day) {
        *days = grow(arena, *days, *count);
        if (!*days)
            return DB_FULL;
        (*days)[*count] = (struct db_told_day){ .date = date };
        for (int f = 0; f < DB_FIGURE_COUNT; f++)
            (*days)[*count].figures[f] = (double) NAN;
        ++*count;
    }
    (*days)[*count - 1].figures[figure] = sqlite3_column_double(query, 2);
    return DB_OK;
}

enum db_status db_record_seen(struct db_record *record, enum db_origin origin, struct db_date from, struct db_date to,
                              struct db_arena *arena, struct db_told_day **ret, size_t *ret_count)
{
    sqlite3_stmt *query = db_record_query(record, DB_QUERY_READ_SEEN);
    struct db_told_day *days = NULL;
    size_t count = 0;
    char first[11], last[11];
    enum db_status status = DB_OK;
    int code = SQLITE_DONE;

    if (!query)
        return DB_TROUBLE;
    record->trouble[0] = '\0';
    (void) sqlite3_bind_int(query, 1, (int) origin);
    (void) sqlite3_bind_text(query, 2, db_date_iso(from, first), -1, SQLITE_STATIC);
    (void) sqlite3_bind_text(query, 3, db_date_iso(to, last), -1, SQLITE_STATIC);
    while (status == DB_OK && (code = sqlite3_step(query)) == SQLITE_ROW)
        status = take_row(query, arena, &days, &count);
    if (status == DB_OK && code != SQLITE_DONE)
        status = db_record_blame(record, "what was seen of the weather was not read");
    (void) sqlite3_reset(query);
    if (status == DB_OK) {
        *ret = days;
        *ret_count = count;
    }
    return status;
}
