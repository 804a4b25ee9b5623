/* Calls that belong together are kept together or not at all; who finds the record busy is told so and does not wait for longer
 * than he said; and opening a record waits for nobody. */
#include "record/record.h"

#include <sys/resource.h>
#include <sys/stat.h>
#include <unistd.h>

#include <setjmp.h>
#include <signal.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "base/banned.h"

static char folder[64], file[96];

static int make_folder(void **state)
{
    (void) state;
    (void) snprintf(folder, sizeof folder, "/tmp/dewbell-together-XXXXXX");
    if (!mkdtemp(folder))
        return -1;
    (void) snprintf(file, sizeof file, "%s/record", folder);
    return 0;
}

static int remove_folder(void **state)
{
    static const char *const tails[] = { "", "-wal", "-shm", "-journal" };
    char path[128];

    (void) state;
    for (size_t i = 0; i < sizeof tails / sizeof tails[0]; i++) {
        (void) snprintf(path, sizeof path, "%s%s", file, tails[i]);
        (void) unlink(path);
    }
    return rmdir(folder);
}

static struct db_record *open_record(void)
{
    struct db_record *record = NULL;
    char trouble[256] = "";

    if (db_record_open(file, &record, trouble) != DB_OK)
        fail_msg("%s", trouble);
    return record;
}

static struct db_ledger_row row_of(unsigned char name, const char *bytes)
{
    struct db_ledger_row row = { .sequence = 1, .created = 2, .modified = 3, .bytes = bytes, .length = strlen(bytes) };

    memset(row.identity, name, sizeof row.identity);
    memset(row.meaning, name, sizeof row.meaning);
    return row;
}

static size_t rows_in(struct db_record *record, const char *feed)
{
    struct db_ledger *ledger = NULL;

    assert_int_equal(db_record_ledger(record, feed, &ledger), DB_OK);
    const size_t count = db_ledger_count(ledger);
    (void) db_ledger_free(ledger);
    return count;
}

static bool was_served(struct db_record *record, const char *feed)
{
    struct db_served served;
    const enum db_status status = db_record_served(record, feed, &served);

    assert_true(status == DB_OK || status == DB_ABSENT);
    if (status == DB_OK)
        free(served.bytes);
    return status == DB_OK;
}

static void all_or_nothing(void **state)
{
    struct db_record *one = open_record(), *two = open_record();
    const struct db_ledger_row row = row_of(7, "an event");

    (void) state;
    assert_int_equal(db_record_begin(one), DB_OK);
    assert_int_equal(db_record_put(one, "jobs", &row, 1), DB_OK); /* which has a pair of its own */
    assert_int_equal(db_record_put_served(one, "jobs", 5, "a feed", 6), DB_OK);
    assert_int_equal(rows_in(one, "jobs"), 1);
    assert_int_equal(rows_in(two, "jobs"), 0); /* nobody else sees half of it */
    assert_int_equal(db_record_end(one, DB_FULL), DB_FULL);
    assert_int_equal(rows_in(one, "jobs"), 0);
    assert_false(was_served(one, "jobs"));

    assert_int_equal(db_record_begin(one), DB_OK);
    assert_int_equal(db_record_put(one, "jobs", &row, 1), DB_OK);
    assert_int_equal(db_record_put_served(one, "jobs", 5, "a feed", 6), DB_OK);
    assert_int_equal(db_record_end(one, DB_OK), DB_OK);
    assert_int_equal(rows_in(two, "jobs"), 1);
    assert_true(was_served(two, "jobs"));
    /* A pair that came to nothing leaves the next one whole. */
    assert_int_equal(db_record_put(one, "tasks", &row, 1), DB_OK);
    assert_int_equal(rows_in(two, "tasks"), 1);
    (void) db_record_close(one);
    (void) db_record_close(two);
}

/* Half of it fits on the disk: none of it is kept. */
static void a_full_disk_in_between(void **state)
{
    static char large[400000];
    struct db_record *record = open_record();
    const struct db_ledger_row row = row_of(7, "an event");
    struct rlimit before, small;

    (void) state;
    memset(large, 'x', sizeof large - 1);
    (void) signal(SIGXFSZ, SIG_IGN);
    assert_int_equal(getrlimit(RLIMIT_FSIZE, &before), 0);
    small = before;
    small.rlim_cur = 300000;
    assert_int_equal(setrlimit(RLIMIT_FSIZE, &small), 0);
    assert_int_equal(db_record_begin(record), DB_OK);
    assert_int_equal(db_record_put(record, "jobs", &row, 1), DB_OK);
    enum db_status status = db_record_put_served(record, "jobs", 5, large, sizeof large - 1);
    status = db_record_end(record, status);
    assert_int_equal(setrlimit(RLIMIT_FSIZE, &before), 0);
    assert_int_equal(status, DB_TROUBLE);
    assert_false(db_record_is_busy(record));
    assert_non_null(strstr(db_record_trouble(record), "no room left on the disk"));
    assert_int_equal(rows_in(record, "jobs"), 0);
    assert_false(was_served(record, "jobs"));
    assert_int_equal(db_record_put(record, "jobs", &row, 1), DB_OK); /* and it goes on */
    assert_int_equal(rows_in(record, "jobs"), 1);
    (void) db_record_close(record);
}

static void who_finds_it_busy_is_told(void **state)
{
    struct db_record *one = open_record(), *two = open_record();
    const struct db_ledger_row row = row_of(7, "an event");
    int64_t number;
    const struct db_note note = { .sowing = "carrot-1", .word = "sown", .date = { 20000 }, .text = "" };

    (void) state;
    db_record_set_patience(two, 10);
    assert_int_equal(db_record_begin(one), DB_OK);
    assert_int_equal(db_record_begin(two), DB_TROUBLE);
    assert_true(db_record_is_busy(two));
    assert_non_null(strstr(db_record_trouble(two), "another program is writing"));
    assert_int_equal(db_record_put(two, "jobs", &row, 1), DB_TROUBLE);
    assert_true(db_record_is_busy(two));
    assert_int_equal(db_record_add_note(two, &note, 1, &number), DB_TROUBLE);
    assert_true(db_record_is_busy(two));
    assert_int_equal(rows_in(two, "jobs"), 0); /* reading waits for nobody ... */
    struct db_record *three = open_record();   /* nor does opening; else this would take its ten seconds and fail */
    assert_int_equal(rows_in(three, "jobs"), 0);
    (void) db_record_close(three);
    assert_int_equal(db_record_end(one, DB_OK), DB_OK);
    assert_int_equal(db_record_put(two, "jobs", &row, 1), DB_OK);
    (void) db_record_close(one);
    (void) db_record_close(two);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(all_or_nothing, make_folder, remove_folder),
        cmocka_unit_test_setup_teardown(a_full_disk_in_between, make_folder, remove_folder),
        cmocka_unit_test_setup_teardown(who_finds_it_busy_is_told, make_folder, remove_folder),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
