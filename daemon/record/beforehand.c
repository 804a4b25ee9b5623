/* What was said of each day last before it began, and what was measured of it. */
#include "record/private.h"

#include <math.h>
#include <string.h>

#include "base/banned.h"

static void bind_figure(sqlite3_stmt *query, int index, double value)
{
    if (isnan(value))
        (void) sqlite3_bind_null(query, index);
    else
        (void) sqlite3_bind_double(query, index, value);
}

/* One day's two figures into one of the statements that take them. */
static enum db_status put_day(struct db_record *record, enum db_record_query which, const unsigned char asked[16],
                              struct db_date day, const double figures[2])
{
    sqlite3_stmt *query = db_record_query(record, which);
    char date[11];

    if (!query)
        return DB_TROUBLE;
    (void) sqlite3_bind_text(query, 1, db_date_iso(day, date), -1, SQLITE_STATIC);
    (void) sqlite3_bind_blob(query, 2, asked, 16, SQLITE_STATIC);
    bind_figure(query, 3, figures[DB_FIGURE_LOW]);
    bind_figure(query, 4, figures[DB_FIGURE_HIGH]);
    return db_record_run(record, query);
}

static enum db_status drop_old(struct db_record *record, struct db_date before)
{
    sqlite3_stmt *query = db_record_query(record, DB_QUERY_DROP_BEFOREHAND);
    char date[11];

    if (!query)
        return DB_TROUBLE;
    (void) sqlite3_bind_text(query, 1, db_date_iso(before, date), -1, SQLITE_STATIC);
    return db_record_run(record, query);
}

enum db_status db_record_put_beforehand(struct db_record *record, const unsigned char asked[16],
                                        const struct db_told_day *days, size_t count, struct db_date today)
{
    enum db_status status = db_record_begin(record);

    if (status != DB_OK)
        return status;
    for (size_t i = 0; i < count && status == DB_OK; i++)
        if (days[i].date.day > today.day)
            status = put_day(record, DB_QUERY_PUT_BEFOREHAND, asked, days[i].date, days[i].figures);
    if (status == DB_OK)
        status = drop_old(record, db_date_add(today, -DB_BEFOREHAND_KEPT));
    return db_record_end(record, status);
}

enum db_status db_record_put_measured(struct db_record *record, const unsigned char asked[16],
                                      const struct db_beforehand *days, size_t count)
{
    enum db_status status = db_record_begin(record);

    if (status != DB_OK)
        return status;
    for (size_t i = 0; i < count && status == DB_OK; i++)
        status = put_day(record, DB_QUERY_PUT_MEASURED, asked, days[i].date, days[i].measured);
    return db_record_end(record, status);
}

static double figure_of(sqlite3_stmt *query, int column)
{
    return sqlite3_column_type(query, column) == SQLITE_NULL ? (double) NAN : sqlite3_column_double(query, column);
}

enum db_status db_record_beforehand(struct db_record *record, const unsigned char asked[16], struct db_date from,
                                    struct db_date to, struct db_arena *arena, struct db_beforehand **ret,
                                    size_t *ret_count)
{
    sqlite3_stmt *query = db_record_query(record, DB_QUERY_READ_BEFOREHAND);
    const size_t room = to.day < from.day ? 0 : (size_t) (to.day - from.day) + 1; /* a row a day */
    struct db_beforehand *days = db_arena_get(arena, room ? room : 1, sizeof *days);
    char first[11], last[11];
    size_t count = 0;
    int code = SQLITE_DONE;

    if (!query || !days)
        return query ? DB_FULL : DB_TROUBLE;
    record->trouble[0] = '\0';
    (void) sqlite3_bind_blob(query, 1, asked, 16, SQLITE_STATIC);
    (void) sqlite3_bind_text(query, 2, db_date_iso(from, first), -1, SQLITE_STATIC);
    (void) sqlite3_bind_text(query, 3, db_date_iso(to, last), -1, SQLITE_STATIC);
    while (count < room && (code = sqlite3_step(query)) == SQLITE_ROW) {
        const char *text = (const char *) sqlite3_column_text(query, 0);
        struct db_beforehand day = { .said = { figure_of(query, 1), figure_of(query, 2) },
                                     .measured = { figure_of(query, 3), figure_of(query, 4) } };

        if (text && db_date_read(text, strlen(text), &day.date) == DB_OK)
            days[count++] = day;
    }
    const enum db_status status = code == SQLITE_DONE || code == SQLITE_ROW
                                      ? DB_OK
                                      : db_record_blame(record, "what was said beforehand was not read");
    (void) sqlite3_reset(query);
    if (status == DB_OK) {
        *ret = days;
        *ret_count = count;
    }
    return status;
}
