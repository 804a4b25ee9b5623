/* The feed ledger: rows come back byte for byte, feeds do not mix, a put is all or nothing. */
#include "record/record.h"

#include <signal.h>
#include <sys/resource.h>
#include <sys/wait.h>
#include <unistd.h>

#include <setjmp.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "kit/record.h"

#include "base/banned.h"

/* Row i: some with the same first eight bytes, which is what the table looks at, so that walks over full slots happen. */
static void make_row(size_t i, struct db_ledger_row *row, char bytes[96])
{
    memset(row, 0, sizeof *row);
    row->identity[0] = (unsigned char) (i & 3);
    row->identity[8] = (unsigned char) (i & 0xff);
    row->identity[9] = (unsigned char) (i >> 8 & 0xff);
    row->identity[10] = (unsigned char) (i >> 16 & 0xff);
    row->meaning[15] = (unsigned char) (i * 7 & 0xff);
    row->sequence = (int64_t) i;
    row->created = 1700000000 + (int64_t) i;
    row->modified = 1800000000 + (int64_t) i;
    row->length = (size_t) snprintf(bytes, 96, "BEGIN:VEVENT\r\nUID:%zu%.*s\r\nEND:VEVENT\r\n", i, (int) (i % 40),
                                    "----------------------------------------");
    row->bytes = bytes;
}

enum { ROWS = 3000 };

static void rows_come_back_byte_for_byte(void **state)
{
    struct db_record *record = open_record();
    struct db_ledger_row *rows = calloc(ROWS, sizeof *rows);
    char(*bytes)[96] = calloc(ROWS, sizeof *bytes);
    struct db_ledger *ledger = NULL;

    (void) state;
    assert_non_null(rows);
    assert_non_null(bytes);
    assert_int_equal(db_record_ledger(record, "jobs", &ledger), DB_OK);
    assert_int_equal(db_ledger_count(ledger), 0);
    make_row(1, &rows[0], bytes[0]);
    assert_null(db_ledger_find(ledger, rows[0].identity));
    ledger = db_ledger_free(ledger);

    for (size_t i = 0; i < ROWS; i++)
        make_row(i, &rows[i], bytes[i]);
    assert_int_equal(db_record_put(record, "jobs", rows, ROWS), DB_OK);
    assert_int_equal(db_record_put(record, "jobs", rows, 0), DB_OK);
    record = db_record_close(record);

    record = open_record();
    assert_int_equal(db_record_ledger(record, "jobs", &ledger), DB_OK);
    assert_int_equal(db_ledger_count(ledger), ROWS);
    for (size_t i = 0; i < ROWS; i++) {
        const struct db_ledger_row *got = db_ledger_find(ledger, rows[i].identity);
        assert_non_null(got);
        assert_memory_equal(got->identity, rows[i].identity, 16);
        assert_memory_equal(got->meaning, rows[i].meaning, 16);
        assert_int_equal(got->sequence, rows[i].sequence);
        assert_int_equal(got->created, rows[i].created);
        assert_int_equal(got->modified, rows[i].modified);
        assert_int_equal(got->length, rows[i].length);
        assert_memory_equal(got->bytes, rows[i].bytes, got->length);
    }
    struct db_ledger_row other;
    char more[96];
    make_row(ROWS + 1, &other, more);
    assert_null(db_ledger_find(ledger, other.identity));
    (void) db_ledger_free(ledger);
    (void) db_record_close(record);
    free(rows);
    free(bytes);
}

static void feeds_do_not_mix_and_rows_are_replaced(void **state)
{
    struct db_record *record = open_record();
    struct db_ledger *ledger = NULL;
    struct db_ledger_row row;
    char bytes[96];

    (void) state;
    make_row(5, &row, bytes);
    assert_int_equal(db_record_put(record, "jobs", &row, 1), DB_OK);
    row.sequence = 900;
    assert_int_equal(db_record_put(record, "mornings", &row, 1), DB_OK);
    assert_int_equal(db_record_ledger(record, "jobs", &ledger), DB_OK);
    assert_int_equal(db_ledger_count(ledger), 1);
    assert_int_equal(db_ledger_find(ledger, row.identity)->sequence, 5);
    (void) db_ledger_free(ledger);

    row.sequence = 6;
    row.bytes = "BEGIN:VEVENT\r\n";
    row.length = 14;
    assert_int_equal(db_record_put(record, "jobs", &row, 1), DB_OK);
    assert_int_equal(db_record_ledger(record, "jobs", &ledger), DB_OK);
    assert_int_equal(db_ledger_count(ledger), 1);
    assert_int_equal(db_ledger_find(ledger, row.identity)->sequence, 6);
    assert_int_equal(db_ledger_find(ledger, row.identity)->length, 14);
    (void) db_ledger_free(ledger);
    (void) db_record_close(record);
}

/* The file may not grow in the middle of a put: none of its rows may be there afterwards. */
static int put_with_no_room(void)
{
    struct db_record *record = NULL;
    char trouble[256], bytes[96];
    struct db_ledger_row *rows = calloc(ROWS, sizeof *rows);
    const struct rlimit tiny = { 120000, 120000 };

    if (!rows || db_record_open(record_file, &record, trouble) != DB_OK)
        return 2;
    for (size_t i = 0; i < ROWS; i++)
        make_row(i, &rows[i], bytes);
    (void) signal(SIGXFSZ, SIG_IGN);
    if (setrlimit(RLIMIT_FSIZE, &tiny) != 0)
        return 3;
    if (db_record_put(record, "jobs", rows, ROWS) != DB_TROUBLE || !db_record_trouble(record)[0])
        return 4;
    free(rows);
    (void) db_record_close(record);
    return 0;
}

static void a_put_is_all_or_nothing(void **state)
{
    struct db_ledger *ledger = NULL;
    int status;
    pid_t child = fork();

    (void) state;
    assert_true(child >= 0);
    if (child == 0)
        _exit(put_with_no_room());
    assert_int_equal(waitpid(child, &status, 0), child);
    assert_true(WIFEXITED(status));
    assert_int_equal(WEXITSTATUS(status), 0);
    struct db_record *record = open_record();
    assert_int_equal(db_record_ledger(record, "jobs", &ledger), DB_OK);
    assert_int_equal(db_ledger_count(ledger), 0);
    (void) db_ledger_free(ledger);
    (void) db_record_close(record);
}

/* Two programs at once: the second writer waits for the first instead of failing. */
static void writers_wait_for_each_other(void **state)
{
    enum { EACH = 40 };
    struct db_note note = { .sowing = "beet-1", .word = "seen", .date = { 20000 }, .text = "" };
    pid_t children[3];
    int status;

    (void) state;
    for (size_t i = 0; i < 3; i++) {
        children[i] = fork();
        assert_true(children[i] >= 0);
        if (children[i] == 0) {
            struct db_record *record = NULL;
            char trouble[256];
            int64_t number;

            if (db_record_open(record_file, &record, trouble) != DB_OK)
                _exit(2);
            for (int n = 0; n < EACH; n++)
                if (db_record_add_note(record, &note, n, &number) != DB_OK)
                    _exit(3);
            (void) db_record_close(record);
            _exit(0);
        }
    }
    for (size_t i = 0; i < 3; i++) {
        assert_int_equal(waitpid(children[i], &status, 0), children[i]);
        assert_true(WIFEXITED(status));
        assert_int_equal(WEXITSTATUS(status), 0);
    }
    struct db_record *record = open_record();
    struct db_arena *arena = db_arena_new(1 << 20);
    struct db_diary *diary = db_diary_new(arena);
    assert_int_equal(db_record_read_notes(record, arena, diary), DB_OK);
    assert_int_equal(db_diary_count(diary), 3 * EACH);
    (void) db_record_close(record);
    (void) db_arena_free(arena);
}

int main(void)
{
#define IN_A_FOLDER(test) cmocka_unit_test_setup_teardown(test, make_record_folder, remove_record_folder)
    const struct CMUnitTest tests[] = {
        IN_A_FOLDER(rows_come_back_byte_for_byte),
        IN_A_FOLDER(feeds_do_not_mix_and_rows_are_replaced),
        IN_A_FOLDER(a_put_is_all_or_nothing),
        IN_A_FOLDER(writers_wait_for_each_other),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
