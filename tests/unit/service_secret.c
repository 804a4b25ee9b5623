/* Secrets: where they are looked for, whom they are kept from, and that no trouble tells them. */
#include "service/secret.h"

#include <sys/stat.h>
#include <unistd.h>

#include <setjmp.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "base/banned.h"

static char plan[64], handed[64], file[128];

static int set_up(void **state)
{
    (void) state;
    (void) snprintf(plan, sizeof plan, "/tmp/dewbell-secret-XXXXXX");
    (void) snprintf(handed, sizeof handed, "/tmp/dewbell-handed-XXXXXX");
    if (!mkdtemp(plan) || !mkdtemp(handed))
        return -1;
    (void) unsetenv("CREDENTIALS_DIRECTORY");
    return 0;
}

static int tear_down(void **state)
{
    (void) state;
    (void) snprintf(file, sizeof file, "%s/mail.secret", plan);
    (void) unlink(file);
    (void) snprintf(file, sizeof file, "%s/mail.secret", handed);
    (void) unlink(file);
    return rmdir(plan) || rmdir(handed);
}

static void put(const char *folder, const char *text, size_t length, mode_t mode)
{
    (void) snprintf(file, sizeof file, "%s/mail.secret", folder);
    (void) unlink(file);
    FILE *out = fopen(file, "w");
    assert_non_null(out);
    assert_int_equal(fwrite(text, 1, length, out), length);
    assert_int_equal(fclose(out), 0);
    assert_int_equal(chmod(file, mode), 0);
}

static void reads(const char *name, const char *expected)
{
    char secret[DB_SECRET_ROOM], trouble[256] = "";

    if (db_secret_read(name, plan, secret, trouble) != DB_OK)
        fail_msg("%s", trouble);
    assert_string_equal(secret, expected);
    db_secret_wipe(secret);
    for (size_t i = 0; i < sizeof secret; i++)
        assert_int_equal(secret[i], 0);
}

static void refuses(const char *words)
{
    char secret[DB_SECRET_ROOM], trouble[256] = "";

    memset(secret, 'x', sizeof secret);
    assert_int_equal(db_secret_read("mail.secret", plan, secret, trouble), DB_TROUBLE);
    if (!strstr(trouble, words))
        fail_msg("\"%s\" says nothing of \"%s\"", trouble, words);
    assert_null(strstr(trouble, "canary"));
    for (size_t i = 0; i < sizeof secret; i++)
        assert_int_equal(secret[i], 0);
}

static void the_first_line_counts(void **state)
{
    char longest[DB_SECRET_ROOM];

    (void) state;
    put(plan, "canary\n", 7, 0600);
    reads("mail.secret", "canary");
    reads(file, "canary");
    put(plan, " can ary \r\nnext", 15, 0400);
    reads("mail.secret", " can ary ");
    put(plan, "canary", 6, 0600);
    reads("mail.secret", "canary");
    memset(longest, 'x', sizeof longest);
    put(plan, longest, DB_SECRET_ROOM - 1, 0600);
    refuses("longer than 1022 bytes");
    longest[DB_SECRET_ROOM - 2] = '\n';
    put(plan, longest, DB_SECRET_ROOM, 0600);
    longest[DB_SECRET_ROOM - 2] = '\0';
    reads("mail.secret", longest);
}

static void what_is_no_secret_is_refused(void **state)
{
    (void) state;
    put(plan, "", 0, 0600);
    refuses("empty");
    put(plan, "\ncanary\n", 8, 0600);
    refuses("empty");
    put(plan, "can\0ary\n", 8, 0600);
    refuses("no text");
    (void) unlink(file);
    refuses("No such file");
    assert_int_equal(mkfifo(file, 0600), 0);
    refuses("not a file");
    (void) unlink(file);
}

static void others_must_not_reach_it(void **state)
{
    static const mode_t open_modes[] = { 0640, 0604, 0620, 0602, 0644, 0666, 0610 };

    (void) state;
    for (size_t i = 0; i < sizeof open_modes / sizeof *open_modes; i++) {
        put(plan, "canary\n", 7, open_modes[i]);
        refuses("chmod 600 mail.secret");
    }
}

static void what_the_manager_hands_over_comes_first(void **state)
{
    (void) state;
    put(plan, "beside\n", 7, 0600);
    assert_int_equal(setenv("CREDENTIALS_DIRECTORY", handed, 1), 0);
    reads("mail.secret", "beside");
    put(handed, "handed\n", 7, 0440); /* systemd's mode where an access list lets the service in */
    reads("mail.secret", "handed");
    (void) snprintf(file, sizeof file, "%s/mail.secret", plan);
    reads(file, "beside"); /* a path is a path */
    assert_int_equal(unsetenv("CREDENTIALS_DIRECTORY"), 0);
    reads("mail.secret", "beside");
}

int main(void)
{
    static const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_first_line_counts),
        cmocka_unit_test(what_is_no_secret_is_refused),
        cmocka_unit_test(others_must_not_reach_it),
        cmocka_unit_test(what_the_manager_hands_over_comes_first),
    };

    return cmocka_run_group_tests(tests, set_up, tear_down);
}
