/* Replacing a file: whole or not at all, nothing left behind, nothing done when nothing changed. */
#include "write/write.h"

#include <dirent.h>
#include <errno.h>
#include <signal.h>
#include <sys/resource.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>

#include <setjmp.h>
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
    (void) snprintf(folder, sizeof folder, "/tmp/dewbell-swap-XXXXXX");
    if (!mkdtemp(folder))
        return -1;
    (void) snprintf(file, sizeof file, "%s/jobs.ics", folder);
    return 0;
}

static int remove_folder(void **state)
{
    (void) state;
    (void) unlink(file);
    return rmdir(folder);
}

static size_t entries(void)
{
    DIR *dir = opendir(folder);
    size_t count = 0;

    assert_non_null(dir);
    while (readdir(dir))
        count++;
    (void) closedir(dir);
    return count - 2;
}

static void a_file_is_written_and_left_alone_when_equal(void **state)
{
    struct stat before, after;
    bool changed = false;
    char got[16] = "";

    (void) state;
    assert_int_equal(db_file_swap(file, "one\r\n", 5, &changed), DB_OK);
    assert_true(changed);
    assert_int_equal(stat(file, &before), 0);
    assert_int_equal(before.st_size, 5);
    assert_int_equal(before.st_mode & 0777, 0644);
    assert_int_equal(db_file_swap(file, "one\r\n", 5, &changed), DB_OK);
    assert_false(changed);
    assert_int_equal(stat(file, &after), 0);
    assert_int_equal(before.st_ino, after.st_ino);
    assert_int_equal(before.st_mtim.tv_nsec, after.st_mtim.tv_nsec);
    /* Same length, other bytes; then a longer and a shorter one. */
    assert_int_equal(db_file_swap(file, "two\r\n", 5, &changed), DB_OK);
    assert_true(changed);
    assert_int_equal(db_file_swap(file, "three\r\n", 7, &changed), DB_OK);
    assert_true(changed);
    assert_int_equal(db_file_swap(file, "", 0, &changed), DB_OK);
    assert_true(changed);
    assert_int_equal(db_file_swap(file, "four", 4, &changed), DB_OK);
    FILE *in = fopen(file, "r");
    assert_non_null(in);
    assert_int_equal(fread(got, 1, sizeof got, in), 4);
    assert_memory_equal(got, "four", 4);
    (void) fclose(in);
    assert_int_equal(entries(), 1);
}

static void what_cannot_be_written_is_told(void **state)
{
    char path[128];
    bool changed = true;

    (void) state;
    (void) snprintf(path, sizeof path, "%s/nowhere/jobs.ics", folder);
    errno = 0;
    assert_int_equal(db_file_swap(path, "x", 1, &changed), DB_TROUBLE);
    assert_int_equal(errno, ENOENT);
    (void) snprintf(path, sizeof path, "%s/sub", folder);
    assert_int_equal(mkdir(path, 0700), 0);
    assert_int_equal(db_file_swap(path, "x", 1, &changed), DB_TROUBLE);
    assert_int_equal(errno, EISDIR);
    assert_int_equal(rmdir(path), 0);
    assert_int_equal(entries(), 0);
}

static int swap_with_no_room(void)
{
    const struct rlimit tiny = { 100, 100 };
    static char big[5000];
    bool changed = false;

    (void) signal(SIGXFSZ, SIG_IGN);
    if (setrlimit(RLIMIT_FSIZE, &tiny) != 0)
        return 2;
    if (db_file_swap(file, big, sizeof big, &changed) != DB_TROUBLE)
        return 3;
    return errno == EFBIG ? 0 : 4;
}

static void the_old_file_stays_when_the_disk_is_full(void **state)
{
    bool changed = false;
    char got[16] = "";
    int status;

    (void) state;
    assert_int_equal(db_file_swap(file, "old", 3, &changed), DB_OK);
    pid_t child = fork();
    assert_true(child >= 0);
    if (child == 0)
        _exit(swap_with_no_room());
    assert_int_equal(waitpid(child, &status, 0), child);
    assert_true(WIFEXITED(status));
    assert_int_equal(WEXITSTATUS(status), 0);
    FILE *in = fopen(file, "r");
    assert_non_null(in);
    assert_int_equal(fread(got, 1, sizeof got, in), 3);
    assert_memory_equal(got, "old", 3);
    (void) fclose(in);
    assert_int_equal(entries(), 1);
}

/* A reader in a loop while another process swaps two contents of different length: it only ever sees one of them. */
static void a_reader_never_sees_half_a_file(void **state)
{
    enum { SIZE = 200000, SWAPS = 60 };
    char *seen = malloc(SIZE + 1);
    bool changed = false;
    int status;
    size_t reads = 0;

    (void) state;
    assert_non_null(seen);
    assert_int_equal(db_file_swap(file, "a", 1, &changed), DB_OK);
    pid_t child = fork();
    assert_true(child >= 0);
    if (child == 0) {
        char *body = malloc(SIZE);
        free(seen);
        for (int i = 0; body && i < SWAPS; i++) {
            size_t length = i % 2 ? SIZE : SIZE / 2;
            memset(body, i % 2 ? 'b' : 'c', length);
            if (db_file_swap(file, body, length, &changed) != DB_OK)
                _exit(2);
        }
        free(body);
        _exit(0);
    }
    while (waitpid(child, &status, WNOHANG) == 0) {
        FILE *in = fopen(file, "r");
        assert_non_null(in);
        size_t got = fread(seen, 1, SIZE + 1, in);
        (void) fclose(in);
        if (seen[0] == 'a')
            continue;
        reads++;
        assert_int_equal(got, seen[0] == 'b' ? SIZE : SIZE / 2);
        for (size_t i = 1; i < got; i += 997)
            assert_int_equal(seen[i], seen[0]);
        assert_int_equal(seen[got - 1], seen[0]);
    }
    assert_true(WIFEXITED(status));
    assert_int_equal(WEXITSTATUS(status), 0);
    print_message("%zu whole reads\n", reads);
    assert_true(reads > 0);
    free(seen);
}

static _Noreturn void swap_without_end(char *body, size_t size)
{
    bool changed;

    for (int i = 0;; i++) {
        memset(body, "abc"[i % 3], size);
        if (db_file_swap(file, body, i % 2 ? size : size / 3, &changed) != DB_OK)
            _exit(2);
    }
}

/* Writers killed at random moments: the file is always one of the whole contents, and nothing is left beside it. */
static void killed_writers_leave_no_litter(void **state)
{
    enum { SIZE = 300000 };
    char *body = malloc(SIZE), *seen = malloc(SIZE + 1);
    bool changed = false;
    int status;

    (void) state;
    assert_non_null(body);
    assert_non_null(seen);
    memset(body, 'a', SIZE);
    assert_int_equal(db_file_swap(file, body, SIZE, &changed), DB_OK);
    srandom((unsigned) getpid());
    for (int round = 0; round < 60; round++) {
        pid_t child = fork();
        assert_true(child >= 0);
        if (child == 0)
            swap_without_end(body, SIZE);
        for (volatile long spin = random() % 3000000; spin > 0; spin--)
            ;
        assert_int_equal(kill(child, SIGKILL), 0);
        assert_int_equal(waitpid(child, &status, 0), child);
        assert_true(WIFSIGNALED(status));
        FILE *in = fopen(file, "r");
        assert_non_null(in);
        size_t got = fread(seen, 1, SIZE + 1, in);
        (void) fclose(in);
        assert_true(got == SIZE || got == SIZE / 3);
        for (size_t i = 1; i < got; i++)
            if (seen[i] != seen[0])
                fail_msg("half of one, half of another");
        assert_true(entries() <= 2);
    }
    assert_int_equal(db_file_swap(file, "end", 3, &changed), DB_OK);
    assert_int_equal(entries(), 1);
    free(body);
    free(seen);
}

/* Several writers at once: each swap is whole, none fails. */
static void writers_take_turns(void **state)
{
    enum { SIZE = 50000, WRITERS = 3, SWAPS = 40 };
    static char body[SIZE];
    pid_t children[WRITERS];
    bool changed = false;
    int status;

    (void) state;
    for (size_t w = 0; w < WRITERS; w++) {
        children[w] = fork();
        assert_true(children[w] >= 0);
        if (children[w] == 0) {
            for (int i = 0; i < SWAPS; i++) {
                memset(body, (int) ('a' + w), SIZE);
                if (db_file_swap(file, body, SIZE - w - (size_t) i % 7, &changed) != DB_OK)
                    _exit(2);
            }
            _exit(0);
        }
    }
    for (size_t w = 0; w < WRITERS; w++) {
        assert_int_equal(waitpid(children[w], &status, 0), children[w]);
        assert_true(WIFEXITED(status));
        assert_int_equal(WEXITSTATUS(status), 0);
    }
    FILE *in = fopen(file, "r");
    assert_non_null(in);
    size_t got = fread(body, 1, SIZE, in);
    (void) fclose(in);
    assert_true(got > SIZE - 10);
    for (size_t i = 1; i < got; i++)
        assert_int_equal(body[i], body[0]);
    assert_int_equal(entries(), 1);
}

int main(void)
{
#define IN_A_FOLDER(test) cmocka_unit_test_setup_teardown(test, make_folder, remove_folder)
    const struct CMUnitTest tests[] = {
        IN_A_FOLDER(a_file_is_written_and_left_alone_when_equal),
        IN_A_FOLDER(what_cannot_be_written_is_told),
        IN_A_FOLDER(the_old_file_stays_when_the_disk_is_full),
        IN_A_FOLDER(a_reader_never_sees_half_a_file),
        IN_A_FOLDER(killed_writers_leave_no_litter),
        IN_A_FOLDER(writers_take_turns),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
