/* The diary in the record: a row a note; a note is never deleted, only struck out. */
#include "record/private.h"

#include <inttypes.h>
#include <string.h>

#include "base/banned.h"

enum db_status db_record_add_note(struct db_record *record, const struct db_note *note, int64_t written,
                                  int64_t *ret_number)
{
    char date[11];

    if (!note->sowing || !note->sowing[0] || !note->word || !note->word[0] || !db_date_known(note->date)) {
        (void) db_record_blame_words(record, "a note needs a sowing, a word and a date");
        return DB_RANGE;
    }
    enum db_status status = db_record_begin(record);
    if (status != DB_OK)
        return status;
    sqlite3_stmt *query = db_record_query(record, DB_QUERY_ADD_NOTE);
    if (!query)
        return db_record_end(record, DB_TROUBLE);
    (void) sqlite3_bind_text(query, 1, note->sowing, -1, SQLITE_STATIC);
    (void) sqlite3_bind_text(query, 2, note->word, -1, SQLITE_STATIC);
    (void) sqlite3_bind_text(query, 3, db_date_iso(note->date, date), -1, SQLITE_STATIC);
    (void) sqlite3_bind_text(query, 4, note->text ? note->text : "", -1, SQLITE_STATIC);
    (void) sqlite3_bind_int64(query, 5, written);
    status = db_record_run(record, query);
    int64_t number = sqlite3_last_insert_rowid(record->file);
    status = db_record_end(record, status);
    if (status == DB_OK)
        *ret_number = number;
    return status;
}

/* Whether the note is there: DB_RANGE if it is struck out, DB_OK if not, DB_ABSENT if there is none. */
static enum db_status find_note(struct db_record *record, int64_t number)
{
    sqlite3_stmt *query = db_record_query(record, DB_QUERY_FIND_NOTE);
    enum db_status status;

    if (!query)
        return DB_TROUBLE;
    (void) sqlite3_bind_int64(query, 1, number);
    int code = sqlite3_step(query);
    if (code == SQLITE_ROW && sqlite3_column_int(query, 0)) {
        (void) db_record_blame_words(record, "note %" PRId64 " is struck out already", number);
        status = DB_RANGE;
    } else if (code == SQLITE_ROW) {
        status = DB_OK;
    } else if (code == SQLITE_DONE) {
        (void) db_record_blame_words(record, "there is no note %" PRId64, number);
        status = DB_ABSENT;
    } else {
        status = db_record_blame(record, "the note was not looked up");
    }
    (void) sqlite3_reset(query);
    return status;
}

enum db_status db_record_strike_note(struct db_record *record, int64_t number, int64_t written)
{
    enum db_status status = db_record_begin(record);

    if (status != DB_OK)
        return status;
    status = find_note(record, number);
    sqlite3_stmt *query = status == DB_OK ? db_record_query(record, DB_QUERY_STRIKE_NOTE) : NULL;
    if (status == DB_OK && !query)
        status = DB_TROUBLE;
    if (status == DB_OK) {
        (void) sqlite3_bind_int64(query, 1, number);
        (void) sqlite3_bind_int64(query, 2, written);
        status = db_record_run(record, query);
    }
    return db_record_end(record, status);
}

static const char *column(sqlite3_stmt *query, int index, struct db_arena *arena)
{
    const char *text = (const char *) sqlite3_column_text(query, index);

    return text ? db_arena_text(arena, text, (size_t) sqlite3_column_bytes(query, index)) : NULL;
}

enum db_status db_record_read_notes(struct db_record *record, struct db_arena *arena, struct db_diary *diary)
{
    sqlite3_stmt *query = db_record_query(record, DB_QUERY_ALL_NOTES);
    enum db_status status = DB_OK;
    int code;

    if (!query)
        return DB_TROUBLE;
    record->trouble[0] = '\0';
    while ((code = sqlite3_step(query)) == SQLITE_ROW) {
        struct db_note note = { .number = sqlite3_column_int64(query, 0),
                                .sowing = column(query, 1, arena),
                                .word = column(query, 2, arena),
                                .text = column(query, 4, arena),
                                .struck = sqlite3_column_int(query, 5) != 0 };
        const char *date = (const char *) sqlite3_column_text(query, 3);

        if (!note.sowing || !note.word || !note.text || !date)
            status = DB_FULL;
        else if (db_date_read(date, strlen(date), &note.date) != DB_OK)
            status = db_record_blame_words(record, "note %" PRId64 " has no readable date: %.20s", note.number, date);
        else
            status = db_diary_add(diary, &note);
        if (status != DB_OK)
            break;
    }
    if (status == DB_OK && code != SQLITE_DONE)
        status = db_record_blame(record, "the notes were not read");
    (void) sqlite3_reset(query);
    return status;
}
