/* Mornings in the record: kept once a date and outlet, changed, folded; and a record of the first layout brought up to
 * date with its notes. */
#include "record/record.h"

#include <sqlite3.h>

#include <unistd.h>

#include <setjmp.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "kit/record.h"
#include "kit/value.h"

#include "base/banned.h"

static void a_morning_is_kept_once(void **state)
{
    struct db_record *record = open_record();
    struct db_arena *arena = db_arena_new(1 << 20);
    struct db_morning_row rows[] = { { .date = on(2028, 2, 29),
                                       .outlet = "mail me",
                                       .state = DB_MORNING_INTENDED,
                                       .message = "<a@b>",
                                       .body = "zero \0 inside",
                                       .length = 13 },
                                     { .date = on(2028, 2, 29),
                                       .outlet = "post hall",
                                       .state = DB_MORNING_SENT,
                                       .message = "key",
                                       .body = "",
                                       .length = 0 } };
    struct db_morning_row *got;
    struct db_date before;
    size_t count;
    bool there;

    (void) state;
    assert_int_equal(db_record_morning_dates(record, on(2028, 2, 29), &there, &before), DB_OK);
    assert_false(there);
    assert_false(db_date_known(before));
    assert_int_equal(db_record_intend_mornings(record, rows, 2, false, 1000), DB_OK);
    rows[0].body = "other"; /* what stands, stands */
    rows[0].length = 5;
    assert_int_equal(db_record_intend_mornings(record, rows, 1, false, 2000), DB_OK);
    (void) db_record_close(record);

    record = open_record();
    assert_int_equal(db_record_open_mornings(record, arena, &got, &count), DB_OK);
    assert_int_equal(count, 1);
    assert_int_equal(got[0].date.day, on(2028, 2, 29).day);
    assert_string_equal(got[0].outlet, "mail me");
    assert_string_equal(got[0].message, "<a@b>");
    assert_string_equal(got[0].trouble, "");
    assert_int_equal(got[0].state, DB_MORNING_INTENDED);
    assert_int_equal(got[0].changed, 1000);
    assert_int_equal(got[0].length, 13);
    assert_memory_equal(got[0].body, "zero \0 inside", 13);
    assert_int_equal(db_record_morning_dates(record, on(2028, 2, 29), &there, &before), DB_OK);
    assert_true(there);
    assert_int_equal(db_record_morning_dates(record, on(2028, 3, 2), &there, &before), DB_OK);
    assert_false(there);
    assert_int_equal(before.day, on(2028, 2, 29).day);
    (void) db_record_close(record);
    (void) db_arena_free(arena);
}

static void a_failure_is_folded_with_the_next(void **state)
{
    struct db_record *record = open_record();
    struct db_arena *arena = db_arena_new(1 << 20);
    struct db_morning_row row = { .date = on(2026, 6, 17),
                                  .outlet = "mail me",
                                  .state = DB_MORNING_INTENDED,
                                  .message = "m",
                                  .body = "b",
                                  .length = 1 };
    struct db_morning_row next = row, *got;
    size_t count;

    (void) state;
    assert_int_equal(db_record_intend_mornings(record, &row, 1, true, 1000), DB_OK);
    row.state = DB_MORNING_FAILED;
    row.tries = 3;
    row.trouble = "refused";
    assert_int_equal(db_record_mark_morning(record, &row, 1100), DB_OK);
    assert_int_equal(db_record_failed_mornings(record, on(2026, 6, 17), arena, &got, &count), DB_OK);
    assert_int_equal(count, 0); /* not yet a day before */
    assert_int_equal(db_record_failed_mornings(record, on(2026, 6, 18), arena, &got, &count), DB_OK);
    assert_int_equal(count, 1);
    assert_string_equal(got[0].trouble, "refused");
    assert_int_equal(got[0].tries, 3);
    next.date = on(2026, 6, 18);
    assert_int_equal(db_record_intend_mornings(record, &next, 1, true, 2000), DB_OK);
    assert_int_equal(db_record_failed_mornings(record, on(2026, 6, 19), arena, &got, &count), DB_OK);
    assert_int_equal(count, 0);
    row.outlet = "mail nobody";
    assert_int_equal(db_record_mark_morning(record, &row, 1100), DB_TROUBLE);
    assert_non_null(strstr(db_record_trouble(record), "mail nobody"));
    (void) db_record_close(record);
    (void) db_arena_free(arena);
}

/* The first layout as it was published, from the program's history. */
static const char first_layout[] =
    "CREATE TABLE note (number INTEGER PRIMARY KEY AUTOINCREMENT, sowing TEXT NOT NULL CHECK (sowing <> ''),"
    " word TEXT NOT NULL CHECK (word <> ''), date TEXT NOT NULL CHECK (length(date) = 10), text TEXT NOT NULL,"
    " written INTEGER NOT NULL, struck INTEGER) STRICT;"
    "CREATE TABLE ledger (feed TEXT NOT NULL, identity BLOB NOT NULL CHECK (length(identity) = 16),"
    " meaning BLOB NOT NULL CHECK (length(meaning) = 16), sequence INTEGER NOT NULL, created INTEGER NOT NULL,"
    " modified INTEGER NOT NULL, bytes BLOB NOT NULL, UNIQUE (feed, identity)) STRICT;"
    "PRAGMA application_id = 1147500386; PRAGMA user_version = 1;"
    "INSERT INTO note (sowing, word, date, text, written) VALUES ('kale-1', 'up', '2026-06-14', 'all of it', 7);"
    "INSERT INTO ledger VALUES ('jobs', zeroblob(16), zeroblob(16), 4, 5, 6, x'41');";

static void the_first_layout_keeps_its_notes(void **state)
{
    struct db_arena *arena = db_arena_new(1 << 20);
    struct db_diary *diary = db_diary_new(arena);
    struct db_ledger *ledger = NULL;
    struct db_morning_row *got;
    sqlite3 *old = NULL;
    size_t count;

    (void) state;
    assert_int_equal(sqlite3_open(record_file, &old), SQLITE_OK);
    assert_int_equal(sqlite3_exec(old, first_layout, NULL, NULL, NULL), SQLITE_OK);
    assert_int_equal(sqlite3_close(old), SQLITE_OK);

    struct db_record *record = open_record();
    assert_int_equal(db_record_read_notes(record, arena, diary), DB_OK);
    assert_int_equal(db_diary_count(diary), 1);
    assert_string_equal(db_diary_at(diary, 0)->sowing, "kale-1");
    assert_string_equal(db_diary_at(diary, 0)->text, "all of it");
    assert_int_equal(db_record_ledger(record, "jobs", &ledger), DB_OK);
    assert_int_equal(db_ledger_count(ledger), 1);
    (void) db_ledger_free(ledger);
    assert_int_equal(db_record_open_mornings(record, arena, &got, &count), DB_OK);
    assert_int_equal(count, 0);
    (void) db_record_close(record);
    (void) db_arena_free(arena);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(a_morning_is_kept_once, make_record_folder, remove_record_folder),
        cmocka_unit_test_setup_teardown(a_failure_is_folded_with_the_next, make_record_folder, remove_record_folder),
        cmocka_unit_test_setup_teardown(the_first_layout_keeps_its_notes, make_record_folder, remove_record_folder),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
