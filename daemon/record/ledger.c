/* The feed ledger: read in one walk into one block of bytes, one array of rows and a table of their places. */
#include "record/private.h"

#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

static const char unread[] = "the feed ledger was not read";

struct db_ledger {
    struct db_ledger_row *rows;
    size_t count, row_room;
    char *block; /* all bytes, one row after the other; rows get their pointers when it has stopped moving */
    size_t used, room;
    uint32_t *table; /* row index + 1 by identity; 0: free; open addressing */
    size_t mask;
    bool *asked; /* of each row, whether it was looked up */
};

/* Identities are hashes already: any eight bytes of them are as good as a hash. */
static size_t slot_of(const struct db_ledger *ledger, const unsigned char identity[16])
{
    uint64_t word;

    memcpy(&word, identity, sizeof word);
    return (size_t) word & ledger->mask;
}

static bool add_row(struct db_ledger *ledger, const struct db_ledger_row *row)
{
    if (ledger->count == ledger->row_room) {
        size_t room = ledger->row_room ? ledger->row_room * 2 : 256;
        struct db_ledger_row *rows = reallocarray(ledger->rows, room, sizeof *rows);
        if (!rows)
            return false;
        ledger->rows = rows;
        ledger->row_room = room;
    }
    if (!ledger->block || row->length > ledger->room - ledger->used) {
        size_t room = ledger->room ? ledger->room : 64 * 1024;
        while (room - ledger->used < row->length) {
            if (room > SIZE_MAX / 2)
                return false;
            room *= 2;
        }
        char *block = realloc(ledger->block, room);
        if (!block)
            return false;
        ledger->block = block;
        ledger->room = room;
    }
    if (row->length && !row->bytes) /* SQLite was out of memory */
        return false;
    if (row->length)
        memcpy(ledger->block + ledger->used, row->bytes, row->length);
    ledger->used += row->length;
    ledger->rows[ledger->count] = *row;
    ledger->rows[ledger->count++].bytes = NULL;
    return true;
}

/* At most half full, so that a walk from a slot is short. */
static bool make_table(struct db_ledger *ledger)
{
    size_t slots = 16;
    size_t at = 0;

    if (ledger->count >= UINT32_MAX)
        return false;
    while (slots < ledger->count * 2)
        slots *= 2;
    ledger->table = calloc(slots, sizeof *ledger->table);
    ledger->asked = calloc(ledger->count + 1, sizeof *ledger->asked);
    if (!ledger->table || !ledger->asked)
        return false;
    ledger->mask = slots - 1;
    for (size_t i = 0; i < ledger->count; i++) {
        struct db_ledger_row *row = &ledger->rows[i];
        size_t slot = slot_of(ledger, row->identity);

        row->bytes = ledger->block + at;
        at += row->length;
        while (ledger->table[slot])
            slot = (slot + 1) & ledger->mask;
        ledger->table[slot] = (uint32_t) i + 1;
    }
    return true;
}

static enum db_status read_rows(struct db_record *record, sqlite3_stmt *query, struct db_ledger *ledger)
{
    int code;

    while ((code = sqlite3_step(query)) == SQLITE_ROW) {
        const void *identity = sqlite3_column_blob(query, 0), *meaning = sqlite3_column_blob(query, 1);
        struct db_ledger_row row = { .sequence = sqlite3_column_int64(query, 2),
                                     .created = sqlite3_column_int64(query, 3),
                                     .modified = sqlite3_column_int64(query, 4),
                                     .bytes = sqlite3_column_blob(query, 5),
                                     .length = (size_t) sqlite3_column_bytes(query, 5),
                                     .gone = DB_NO_DATE };

        if (!identity || !meaning || sqlite3_column_bytes(query, 0) != 16 || sqlite3_column_bytes(query, 1) != 16)
            return db_record_blame_words(record, "the feed ledger holds a row that is not whole");
        memcpy(row.identity, identity, sizeof row.identity);
        memcpy(row.meaning, meaning, sizeof row.meaning);
        if (sqlite3_column_type(query, 6) != SQLITE_NULL)
            row.gone.day = sqlite3_column_int(query, 6);
        if (!add_row(ledger, &row))
            return DB_FULL;
    }
    if (code != SQLITE_DONE)
        return db_record_blame(record, unread);
    return make_table(ledger) ? DB_OK : DB_FULL;
}

enum db_status db_record_ledger(struct db_record *record, const char *feed, struct db_ledger **ret)
{
    sqlite3_stmt *query = db_record_ask(record, DB_QUERY_READ_LEDGER, feed);
    struct db_ledger *ledger = calloc(1, sizeof *ledger);
    enum db_status status = !query ? DB_TROUBLE : !ledger ? DB_FULL : DB_OK;

    if (status == DB_OK)
        status = read_rows(record, query, ledger);
    (void) sqlite3_reset(query);
    if (status == DB_OK)
        *ret = ledger;
    else
        (void) db_ledger_free(ledger);
    return status;
}

struct db_ledger *db_ledger_free(struct db_ledger *ledger)
{
    if (ledger) {
        free(ledger->rows);
        free(ledger->block);
        free(ledger->table);
        free(ledger->asked);
        free(ledger);
    }
    return NULL;
}

const struct db_ledger_row *db_ledger_find(struct db_ledger *ledger, const unsigned char identity[16])
{
    for (size_t slot = slot_of(ledger, identity); ledger->table[slot]; slot = (slot + 1) & ledger->mask) {
        const size_t at = ledger->table[slot] - 1;
        if (memcmp(ledger->rows[at].identity, identity, sizeof ledger->rows[at].identity) == 0) {
            ledger->asked[at] = true;
            return &ledger->rows[at];
        }
    }
    return NULL;
}

size_t db_ledger_count(const struct db_ledger *ledger)
{
    return ledger->count;
}

enum db_status db_record_has_ledger(struct db_record *record, const char *feed, bool *ret)
{
    sqlite3_stmt *query = db_record_ask(record, DB_QUERY_HAS_LEDGER, feed);
    enum db_status status = db_record_first(record, query, unread);

    if (status == DB_OK)
        *ret = sqlite3_column_int(query, 0) != 0;
    (void) sqlite3_reset(query);
    return status;
}

static enum db_status put_row(struct db_record *record, const char *feed, const struct db_ledger_row *row)
{
    sqlite3_stmt *query = db_record_query(record, DB_QUERY_PUT_LEDGER);

    if (!query)
        return DB_TROUBLE;
    (void) sqlite3_bind_text(query, 1, feed, -1, SQLITE_STATIC);
    (void) sqlite3_bind_blob(query, 2, row->identity, sizeof row->identity, SQLITE_STATIC);
    (void) sqlite3_bind_blob(query, 3, row->meaning, sizeof row->meaning, SQLITE_STATIC);
    (void) sqlite3_bind_int64(query, 4, row->sequence);
    (void) sqlite3_bind_int64(query, 5, row->created);
    (void) sqlite3_bind_int64(query, 6, row->modified);
    (void) sqlite3_bind_blob64(query, 7, row->length ? row->bytes : "", row->length, SQLITE_STATIC);
    return db_record_run(record, query);
}

enum db_status db_record_put(struct db_record *record, const char *feed, const struct db_ledger_row *rows, size_t count)
{
    if (count == 0)
        return DB_OK;
    enum db_status status = db_record_begin(record);
    if (status != DB_OK)
        return status;
    for (size_t i = 0; i < count && status == DB_OK; i++)
        status = put_row(record, feed, &rows[i]);
    return db_record_end(record, status);
}

/* ---- what is gone ---- */

enum db_status db_record_floor(struct db_record *record, const char *feed, int64_t *ret)
{
    sqlite3_stmt *query = db_record_ask(record, DB_QUERY_READ_FLOOR, feed);
    enum db_status status = db_record_first(record, query, unread);

    if (status == DB_OK || status == DB_ABSENT)
        *ret = status == DB_OK ? sqlite3_column_int64(query, 0) : 0;
    (void) sqlite3_reset(query);
    return status == DB_ABSENT ? DB_OK : status;
}

static enum db_status raise_floor(struct db_record *record, const char *feed, int64_t sequence)
{
    sqlite3_stmt *query = db_record_query(record, DB_QUERY_RAISE_FLOOR);

    if (!query)
        return DB_TROUBLE;
    (void) sqlite3_bind_text(query, 1, feed, -1, SQLITE_STATIC);
    (void) sqlite3_bind_int64(query, 2, sequence);
    return db_record_run(record, query);
}

/* Takes the row away, or notes since when it is gone (no date: it is not). */
static enum db_status change_row(struct db_record *record, enum db_record_query which, const char *feed,
                                 const struct db_ledger_row *row, struct db_date gone)
{
    sqlite3_stmt *query = db_record_query(record, which);

    if (!query)
        return DB_TROUBLE;
    (void) sqlite3_bind_text(query, 1, feed, -1, SQLITE_STATIC);
    (void) sqlite3_bind_blob(query, 2, row->identity, sizeof row->identity, SQLITE_STATIC);
    if (which == DB_QUERY_SET_GONE && db_date_known(gone))
        (void) sqlite3_bind_int(query, 3, gone.day);
    return db_record_run(record, query);
}

enum db_status db_record_tidy_ledger(struct db_record *record, const char *feed, const struct db_ledger *ledger,
                                     struct db_date today, int64_t first_sequence)
{
    /* A ledger that began empty may have followed one that was lost. */
    int64_t floor = ledger->count ? 0 : first_sequence;
    enum db_status status = db_record_begin(record);

    if (status != DB_OK)
        return status;
    for (size_t i = 0; i < ledger->count && status == DB_OK; i++) {
        const struct db_ledger_row *row = &ledger->rows[i];
        const bool was_gone = db_date_known(row->gone);

        if (ledger->asked[i]) {
            if (was_gone)
                status = change_row(record, DB_QUERY_SET_GONE, feed, row, DB_NO_DATE);
        } else if (!was_gone) {
            status = change_row(record, DB_QUERY_SET_GONE, feed, row, today);
        } else if (today.day - (int64_t) row->gone.day > DB_LEDGER_KEPT) {
            status = change_row(record, DB_QUERY_DROP_LEDGER, feed, row, DB_NO_DATE);
            if (row->sequence >= floor)
                floor = row->sequence + 1;
        }
    }
    if (status == DB_OK && floor > 0)
        status = raise_floor(record, feed, floor);
    return db_record_end(record, status);
}
