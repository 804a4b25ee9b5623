/* Tokens in the record: made, revoked, still there after a restart, seen by another connection. */
#include "record/record.h"

#include <sys/stat.h>
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

/* RFC 4648, section 5: the URL and filename safe alphabet. 24 characters without padding are 18 bytes. */
static void check_shape(const char *token)
{
    static const char alphabet[] = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789-_";

    assert_int_equal(strlen(token), DB_TOKEN_LENGTH);
    assert_int_equal(strspn(token, alphabet), DB_TOKEN_LENGTH);
}

static void the_newest_holds_and_the_others_are_remembered(void **state)
{
    struct db_record *record = open_record();
    struct db_token first, second, *all = NULL;
    size_t count = 99;
    bool made = false;

    (void) state;
    assert_int_equal(db_record_tokens(record, &all, &count), DB_OK);
    assert_int_equal(count, 0);
    free(all);
    assert_int_equal(db_record_replace_token(record, NULL, 1000, &first, &made), DB_OK);
    assert_true(made);
    assert_int_equal(db_record_replace_token(record, &first, 1001, &second, &made), DB_OK);
    assert_true(made);
    check_shape(first.text);
    check_shape(second.text);
    assert_string_not_equal(first.text, second.text);
    (void) db_record_close(record);
    record = open_record();
    assert_int_equal(db_record_tokens(record, &all, &count), DB_OK);
    assert_int_equal(count, 2);
    assert_string_equal(all[0].text, second.text);
    assert_false(all[0].revoked);
    assert_string_equal(all[1].text, first.text);
    assert_true(all[1].revoked);
    free(all);
    (void) db_record_close(record);
}

static void another_connection_is_noticed(void **state)
{
    struct db_record *daemon = open_record(), *command = open_record();
    struct db_token token, *all = NULL;
    size_t count = 0;
    bool made;

    (void) state;
    int64_t before = db_record_version(daemon);
    assert_true(before != 0);
    assert_int_equal(db_record_version(daemon), before);
    assert_int_equal(db_record_replace_token(command, NULL, 2000, &token, &made), DB_OK);
    assert_true(db_record_version(daemon) != before);
    assert_int_equal(db_record_tokens(daemon, &all, &count), DB_OK);
    assert_string_equal(all[0].text, token.text);
    free(all);
    (void) db_record_close(command);
    (void) db_record_close(daemon);
}

/* 200 tokens of 24 characters out of 64: each is expected 75 times, with a standard deviation of 8.6 (binomial, n = 4 800, p =
 * 1/64). Seven of those above, or one that never comes, is next to impossible from a fair source. */
static void every_character_is_as_likely(void **state)
{
    struct db_record *record = open_record();
    unsigned seen[256] = { 0 };
    struct db_token token, old = { .revoked = true };
    bool made;

    (void) state;
    for (int i = 0; i < 200; i++) {
        assert_int_equal(db_record_replace_token(record, i ? &old : NULL, i, &token, &made), DB_OK);
        assert_true(made);
        old = token;
        for (const char *at = token.text; *at; at++)
            seen[(unsigned char) *at]++;
    }
    size_t used = 0;
    for (size_t i = 0; i < 256; i++) {
        used += seen[i] > 0;
        assert_true(seen[i] <= 75 + 7 * 9);
    }
    assert_int_equal(used, 64);
    (void) db_record_close(record);
}

/* Who comes second gets the token of who came first, whatever it was that both wanted to replace. */
static void the_quicker_one_holds(void **state)
{
    struct db_record *one = open_record(), *two = open_record();
    struct db_token first, same, second, other;
    bool made;

    (void) state;
    assert_int_equal(db_record_replace_token(one, NULL, 1, &first, &made), DB_OK);
    assert_true(made);
    assert_int_equal(db_record_replace_token(two, NULL, 2, &same, &made), DB_OK);
    assert_false(made);
    assert_string_equal(same.text, first.text);
    assert_int_equal(db_record_replace_token(one, &first, 3, &second, &made), DB_OK);
    assert_true(made);
    assert_int_equal(db_record_replace_token(two, &first, 4, &other, &made), DB_OK);
    assert_false(made);
    assert_string_equal(other.text, second.text);
    (void) db_record_close(one);
    (void) db_record_close(two);
}

/* Twenty processes begin at one moment where there is no record yet: it is made once, and all have the same token. */
static void twenty_at_once(void **state)
{
    enum { MANY = 20, ROUNDS = 5 };
    int gate[2], answers[2], status;
    char text[DB_TOKEN_LENGTH + 1] = "", first[DB_TOKEN_LENGTH + 1] = "";

    for (int round = 0; round < ROUNDS; round++) {
        assert_int_equal(pipe(gate), 0);
        assert_int_equal(pipe(answers), 0);
        for (int i = 0; i < MANY; i++) {
            pid_t child = fork();
            assert_true(child >= 0);
            if (child > 0)
                continue;
            struct db_record *record = NULL;
            struct db_token token = { .revoked = true };
            char trouble[256] = "", nothing;
            bool made;

            (void) close(gate[1]);
            if (read(gate[0], &nothing, 1) != 0) /* it ends for all at once */
                _exit(1);
            if (db_record_open(record_file, &record, trouble) != DB_OK ||
                db_record_replace_token(record, NULL, i, &token, &made) != DB_OK) {
                fprintf(stderr, "%s%s\n", trouble, record ? db_record_trouble(record) : "");
                _exit(2);
            }
            if (write(answers[1], token.text, DB_TOKEN_LENGTH) != DB_TOKEN_LENGTH)
                _exit(3);
            (void) db_record_close(record);
            _exit(0);
        }
        (void) close(gate[0]);
        (void) close(gate[1]);
        (void) close(answers[1]);
        for (int i = 0; i < MANY; i++) {
            assert_true(wait(&status) > 0);
            assert_int_equal(status, 0);
        }
        for (int i = 0; i < MANY; i++) {
            assert_int_equal(read(answers[0], text, DB_TOKEN_LENGTH), DB_TOKEN_LENGTH);
            check_shape(text);
            if (i == 0)
                memcpy(first, text, sizeof first);
            assert_string_equal(text, first);
        }
        (void) close(answers[0]);
        assert_int_equal(remove_record_folder(state), 0);
        assert_int_equal(make_record_folder(state), 0);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(the_newest_holds_and_the_others_are_remembered, make_record_folder,
                                        remove_record_folder),
        cmocka_unit_test_setup_teardown(another_connection_is_noticed, make_record_folder, remove_record_folder),
        cmocka_unit_test_setup_teardown(the_quicker_one_holds, make_record_folder, remove_record_folder),
        cmocka_unit_test_setup_teardown(twenty_at_once, make_record_folder, remove_record_folder),
        cmocka_unit_test_setup_teardown(every_character_is_as_likely, make_record_folder, remove_record_folder),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
