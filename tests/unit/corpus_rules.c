/* Malformed rules: each tests/corpus/rules/NAME.ini must be refused with just the messages of NAME.err, one a line:
 * file:line:column: what is wrong; what to write instead. ACCEPT=1 writes what was said instead of comparing. */
#include "small_garden.h"

#include "base/text.h"

#include <dirent.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#include "base/banned.h"

#define FOLDER "tests/corpus/rules"

enum { CORPUS_LEAST = 100, NAMES_MOST = 400, TEXT_MOST = 64 * 1024 };

static char *whole_file(const char *path, size_t *ret_length)
{
    FILE *file = fopen(path, "rb");
    char *text = calloc(1, TEXT_MOST);

    if (!text)
        abort();
    *ret_length = 0;
    if (file) {
        *ret_length = fread(text, 1, TEXT_MOST - 1, file);
        (void) fclose(file);
    }
    return text;
}

static int ends_in_ini(const struct dirent *entry)
{
    const size_t length = strlen(entry->d_name);

    return length > 4 && strcmp(entry->d_name + length - 4, ".ini") == 0;
}

/* All that is said about one file. The place must lie inside it. */
static void say_all(const char *name, const char *text, size_t length, struct db_text *said)
{
    struct small *s = small_new();
    const struct db_mistake *m;

    if (!small_give(s, name, text, length, 0))
        fail_msg("%s: the reader stopped", name);
    if (db_rules_compile(s->rules, s->mistakes) == DB_FULL)
        fail_msg("%s: out of memory", name);
    for (size_t i = 0; (m = db_mistakes_at(s->mistakes, i)) != NULL; i++) {
        assert_true(m->at.line > 0 && m->at.column > 0 && m->at.width > 0 && m->at.text);
        assert_true(m->at.column - 1 + m->at.width <= db_text_characters(m->at.text, strcspn(m->at.text, "\n")) + 1);
        db_text_add_format(said, "%s:%u:%u: %s", m->at.file, m->at.line, m->at.column, m->what);
        if (*m->instead)
            db_text_add_format(said, "%s%s", m->what[strlen(m->what) - 1] == '?' ? " " : "; ", m->instead);
        db_text_add(said, "\n");
    }
    small_free(s);
}

static void check_one(const char *name, bool accept)
{
    char path[300];
    size_t length, expected_length;
    char *text, *expected, *buffer = malloc(TEXT_MOST);

    if (!buffer)
        abort();

    struct db_text said = db_text_in(buffer, TEXT_MOST);

    (void) snprintf(path, sizeof path, FOLDER "/%s", name);
    text = whole_file(path, &length);
    say_all(name, text, length, &said);
    (void) snprintf(path, sizeof path, FOLDER "/%.*s.err", (int) strlen(name) - 4, name);
    if (accept) {
        FILE *file = fopen(path, "wb");

        if (!file || fwrite(said.data, 1, said.length, file) != said.length || fclose(file) != 0)
            fail_msg("%s cannot be written", path);
    }
    expected = whole_file(path, &expected_length);
    if (said.length == 0)
        fail_msg("%s: not refused", name);
    if (expected_length != said.length || memcmp(expected, said.data, said.length) != 0)
        fail_msg("%s\nexpected:\n%s\nsaid:\n%s", name, expected, said.data);
    free(text);
    free(expected);
    free(buffer);
}

static void every_malformed_rule_is_refused_in_its_own_words(void **state)
{
    struct dirent **names;
    const int count = scandir(FOLDER, &names, ends_in_ini, alphasort);
    const bool accept = getenv("ACCEPT") != NULL;

    (void) state;
    assert_true(count >= CORPUS_LEAST);
    for (int i = 0; i < count; i++)
        check_one(names[i]->d_name, accept);
    for (int i = 0; i < count; i++)
        free(names[i]);
    free(names);
    print_message("%d malformed files\n", count);
}

int main(void)
{
    const struct CMUnitTest tests[] = { cmocka_unit_test(every_malformed_rule_is_refused_in_its_own_words) };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
