/* The diary in its file: kept, struck out, durable, refused when it cannot be kept. */
#include "record/record.h"

#include <sqlite3.h>

#include <errno.h>
#include <fcntl.h>
#include <signal.h>
#include <sys/resource.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>

#include <inttypes.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "kit/record.h"
#include "kit/thrift.h"
#include "kit/value.h"

#include "base/banned.h"

static const struct db_diary *read_all(struct db_record *record, struct db_arena *arena)
{
    struct db_diary *diary = db_diary_new(arena);

    assert_non_null(diary);
    if (db_record_read_notes(record, arena, diary) != DB_OK)
        fail_msg("%s", db_record_trouble(record));
    return diary;
}

static void notes_come_back_as_written(void **state)
{
    struct db_record *record = open_record();
    struct db_arena *arena = db_arena_new(1 << 20);
    struct db_note first = {
        .sowing = "kale-2", .word = "up", .date = on(2026, 6, 14), .text = "both rows, 3 cm gap; \"fine\""
    };
    struct db_note second = { .sowing = "möhre-1", .word = "thinned", .date = on(2024, 2, 29), .text = NULL };
    int64_t number = 0;
    struct stat about;

    (void) state;
    assert_int_equal(db_record_add_note(record, &first, 1781424000, &number), DB_OK);
    assert_int_equal(number, 1);
    assert_int_equal(db_record_add_note(record, &second, 1781424001, &number), DB_OK);
    assert_int_equal(number, 2);
    record = db_record_close(record);
    assert_null(record);
    assert_int_equal(stat(record_file, &about), 0);
    assert_int_equal(about.st_mode & 0777, 0600);

    record = open_record();
    const struct db_diary *diary = read_all(record, arena);
    assert_int_equal(db_diary_count(diary), 2);
    const struct db_note *got = db_diary_at(diary, 0);
    assert_int_equal(got->number, 1);
    assert_string_equal(got->sowing, "kale-2");
    assert_string_equal(got->word, "up");
    assert_int_equal(got->date.day, first.date.day);
    assert_string_equal(got->text, first.text);
    assert_false(got->struck);
    got = db_diary_at(diary, 1);
    assert_string_equal(got->sowing, "möhre-1");
    assert_int_equal(got->date.day, second.date.day);
    assert_string_equal(got->text, "");
    (void) db_record_close(record);
    (void) db_arena_free(arena);
}

static void a_struck_note_stays_in_the_history(void **state)
{
    struct db_record *record = open_record();
    struct db_arena *arena = db_arena_new(1 << 20);
    struct db_note note = { .sowing = "leek-1", .word = "sown", .date = on(2026, 3, 2), .text = "" };
    int64_t number = 0;

    (void) state;
    assert_int_equal(db_record_add_note(record, &note, 1, &number), DB_OK);
    assert_int_equal(db_record_strike_note(record, number + 1, 2), DB_ABSENT);
    assert_non_null(strstr(db_record_trouble(record), "there is no note 2"));
    assert_int_equal(db_record_strike_note(record, number, 2), DB_OK);
    assert_string_equal(db_record_trouble(record), "");
    assert_int_equal(db_record_strike_note(record, number, 3), DB_RANGE);
    assert_non_null(strstr(db_record_trouble(record), "struck out already"));
    const struct db_diary *diary = read_all(record, arena);
    assert_int_equal(db_diary_count(diary), 1);
    assert_true(db_diary_at(diary, 0)->struck);
    assert_string_equal(db_diary_at(diary, 0)->word, "sown");
    /* A number is never given twice, whatever is struck out. */
    assert_int_equal(db_record_add_note(record, &note, 4, &number), DB_OK);
    assert_int_equal(number, 2);
    (void) db_record_close(record);
    (void) db_arena_free(arena);
}

static void an_empty_note_is_refused(void **state)
{
    struct db_record *record = open_record();
    struct db_note note = { .sowing = "", .word = "up", .date = on(2026, 6, 14) };
    int64_t number = -7;

    (void) state;
    assert_int_equal(db_record_add_note(record, &note, 1, &number), DB_RANGE);
    note.sowing = "kale-1";
    note.date = DB_NO_DATE;
    assert_int_equal(db_record_add_note(record, &note, 1, &number), DB_RANGE);
    assert_int_equal(number, -7);
    (void) db_record_close(record);
}

/* Adds notes until it is killed; each acknowledged number goes down the pipe after the call has returned. */
static _Noreturn void note_without_end(int pipe_end, int64_t written)
{
    struct db_record *record = NULL;
    char trouble[256];
    struct db_note note = { .sowing = "beet-1", .word = "seen", .date = { 20000 }, .text = "" };
    int64_t number;

    if (db_record_open(record_file, &record, trouble) != DB_OK)
        _exit(3);
    for (;;) {
        if (db_record_add_note(record, &note, written, &number) != DB_OK)
            _exit(4);
        if (write(pipe_end, &number, sizeof number) != (ssize_t) sizeof number)
            _exit(5);
    }
}

/* 200 killings at random moments: what was acknowledged is there afterwards, and the file is whole. */
static void a_killed_writer_loses_no_acknowledged_note(void **state)
{
    const char *wanted = getenv("SEED");
    unsigned seed = wanted ? (unsigned) strtoul(wanted, NULL, 10) : (unsigned) getpid();
    int64_t last = 0, acknowledged = 0;

    (void) state;
    print_message("seed %u\n", seed);
    srandom(seed);
    for (int round = 0; round < thrift(200, 10); round++) {
        int ends[2];
        int64_t number, stop_after = random() % 6;
        int status;

        assert_int_equal(pipe2(ends, O_CLOEXEC), 0);
        pid_t child = fork();
        assert_true(child >= 0);
        if (child == 0)
            note_without_end(ends[1], round);
        (void) close(ends[1]);
        /* Wait for some acknowledgements, then a little longer by spinning: the kill falls inside a later call. */
        while (stop_after-- > 0 && read(ends[0], &number, sizeof number) == (ssize_t) sizeof number) {
            last = number;
            acknowledged++;
        }
        for (volatile long spin = random() % 400000; spin > 0; spin--)
            ;
        assert_int_equal(kill(child, SIGKILL), 0);
        assert_int_equal(waitpid(child, &status, 0), child);
        assert_true(WIFSIGNALED(status) && WTERMSIG(status) == SIGKILL);
        while (read(ends[0], &number, sizeof number) == (ssize_t) sizeof number) {
            last = number;
            acknowledged++;
        }
        (void) close(ends[0]);

        struct db_record *record = open_record();
        struct db_arena *arena = db_arena_new(16 << 20);
        const struct db_diary *diary = read_all(record, arena);
        size_t count = db_diary_count(diary);
        assert_true((int64_t) count >= acknowledged);
        assert_true(count == 0 || db_diary_at(diary, count - 1)->number >= last);
        (void) db_arena_free(arena);
        (void) db_record_close(record);
    }
    print_message("%" PRId64 " notes acknowledged\n", acknowledged);
    assert_true(acknowledged > thrift(200, 10));

    sqlite3 *raw = NULL;
    sqlite3_stmt *query = NULL;
    assert_int_equal(sqlite3_open_v2(record_file, &raw, SQLITE_OPEN_READONLY, NULL), SQLITE_OK);
    assert_int_equal(sqlite3_prepare_v2(raw, "PRAGMA integrity_check", -1, &query, NULL), SQLITE_OK);
    assert_int_equal(sqlite3_step(query), SQLITE_ROW);
    assert_string_equal((const char *) sqlite3_column_text(query, 0), "ok");
    (void) sqlite3_finalize(query);
    (void) sqlite3_close(raw);
}

static void change_raw(const char *words)
{
    sqlite3 *raw = NULL;

    assert_int_equal(sqlite3_open(record_file, &raw), SQLITE_OK);
    assert_int_equal(sqlite3_exec(raw, words, NULL, NULL, NULL), SQLITE_OK);
    (void) sqlite3_close(raw);
}

static void refused(const char *because)
{
    struct db_record *record = NULL;
    char trouble[256] = "";

    assert_int_equal(db_record_open(record_file, &record, trouble), DB_TROUBLE);
    assert_null(record);
    if (!strstr(trouble, because))
        fail_msg("\"%s\" expected, the record says: %s", because, trouble);
}

static void a_newer_layout_is_refused_unchanged(void **state)
{
    struct db_arena *arena = db_arena_new(1 << 20);
    struct db_record *record = open_record();
    struct db_note note = { .sowing = "leek-1", .word = "sown", .date = on(2026, 3, 2), .text = "" };
    int64_t number = 0;

    (void) state;
    assert_int_equal(db_record_add_note(record, &note, 1, &number), DB_OK);
    (void) db_record_close(record);
    change_raw("PRAGMA user_version = 99");
    refused("newer dewbell (layout 99");
    change_raw("PRAGMA user_version = 6");
    record = open_record();
    assert_int_equal(db_diary_count(read_all(record, arena)), 1);
    (void) db_record_close(record);
    (void) db_arena_free(arena);
}

static void foreign_files_are_refused(void **state)
{
    (void) state;
    change_raw("CREATE TABLE theirs (x)");
    refused("some other program");
    assert_int_equal(unlink(record_file), 0);

    FILE *out = fopen(record_file, "w");
    assert_non_null(out);
    assert_true(fputs("[garden]\nname = not a database, but long enough to be looked at\n", out) >= 0);
    assert_int_equal(fclose(out), 0);
    refused("not a database");
    assert_int_equal(unlink(record_file), 0);

    assert_int_equal(mkdir(record_file, 0700), 0);
    refused(record_file);
    assert_int_equal(rmdir(record_file), 0);
}

static void a_missing_folder_is_named(void **state)
{
    struct db_record *record = NULL;
    char trouble[256] = "", path[128];

    (void) state;
    (void) snprintf(path, sizeof path, "%s/nowhere/record", record_folder);
    assert_int_equal(db_record_open(path, &record, trouble), DB_TROUBLE);
    assert_non_null(strstr(trouble, path));
    assert_non_null(strstr(trouble, "No such file"));
}

/* Runs `act` in a child, so that limits and rights given up stay there; its exit status must be 0. */
static void in_a_child(int (*act)(void))
{
    int status;
    pid_t child = fork();

    assert_true(child >= 0);
    if (child == 0)
        _exit(act());
    assert_int_equal(waitpid(child, &status, 0), child);
    assert_true(WIFEXITED(status));
    assert_int_equal(WEXITSTATUS(status), 0);
}

/* A file that may not grow stands for a full disk. */
static int note_with_no_room(void)
{
    struct db_record *record = NULL;
    char trouble[256];
    struct db_note note = { .sowing = "beet-1", .word = "seen", .date = { 20000 }, .text = "" };
    const struct rlimit tiny = { 200000, 200000 };
    int64_t number = 0;
    int kept = 0;

    if (db_record_open(record_file, &record, trouble) != DB_OK)
        return 2;
    (void) signal(SIGXFSZ, SIG_IGN);
    if (setrlimit(RLIMIT_FSIZE, &tiny) != 0)
        return 3;
    enum db_status status;
    while ((status = db_record_add_note(record, &note, 1, &number)) == DB_OK)
        if (++kept > 10000)
            return 4;
    if (status != DB_TROUBLE || !strstr(db_record_trouble(record), "no room left on the disk") || number != kept)
        return 5;
    (void) db_record_close(record);
    return 0;
}

static void a_full_disk_is_told_and_harms_nothing(void **state)
{
    struct db_arena *arena = db_arena_new(16 << 20);
    struct db_note note = { .sowing = "beet-1", .word = "seen", .date = { 20000 }, .text = "" };
    int64_t number = 0;

    (void) state;
    in_a_child(note_with_no_room);
    struct db_record *record = open_record();
    size_t kept = db_diary_count(read_all(record, arena));
    assert_true(kept > 0);
    assert_int_equal(db_record_add_note(record, &note, 1, &number), DB_OK);
    assert_int_equal(number, kept + 1);
    (void) db_record_close(record);
    (void) db_arena_free(arena);
}

static int open_without_rights(void)
{
    struct db_record *record = NULL;
    char trouble[256] = "";

    if (geteuid() == 0 && setuid(65534) != 0)
        return 2;
    if (db_record_open(record_file, &record, trouble) != DB_TROUBLE)
        return 3;
    return strstr(trouble, record_file) ? 0 : 4;
}

static void a_file_without_rights_is_told(void **state)
{
    (void) state;
    assert_null(db_record_close(open_record()));
    assert_int_equal(chmod(record_file, 0400), 0);
    assert_int_equal(chmod(record_folder, 0555), 0);
    in_a_child(open_without_rights);
    assert_int_equal(chmod(record_folder, 0700), 0);
}

int main(void)
{
#define IN_A_FOLDER(test) cmocka_unit_test_setup_teardown(test, make_record_folder, remove_record_folder)
    const struct CMUnitTest tests[] = {
        IN_A_FOLDER(notes_come_back_as_written),
        IN_A_FOLDER(a_struck_note_stays_in_the_history),
        IN_A_FOLDER(an_empty_note_is_refused),
        IN_A_FOLDER(a_killed_writer_loses_no_acknowledged_note),
        IN_A_FOLDER(a_newer_layout_is_refused_unchanged),
        IN_A_FOLDER(foreign_files_are_refused),
        IN_A_FOLDER(a_missing_folder_is_named),
        IN_A_FOLDER(a_full_disk_is_told_and_harms_nothing),
        IN_A_FOLDER(a_file_without_rights_is_told),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
