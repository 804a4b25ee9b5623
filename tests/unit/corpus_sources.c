/* Every malformed description of a forecast source in tests/corpus/sources gives exactly the mistakes that stand beside it
 * in NAME.err: file, line, column, what is wrong, what to write instead. The source asked for is always "test". ACCEPT=1
 * in the environment writes the .err files anew, for the difference to be read as text. */
#include "read/fields.h"
#include "read/source.h"

#include <dirent.h>
#include <unistd.h>

#include <setjmp.h>
#include <stdarg.h>
#include <stdbool.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "base/banned.h"

#define FOLDER "tests/corpus/sources"
enum { CASES_LEAST = 30, PATH_ROOM = 512 };

static const char *relative(const char *file)
{
    const size_t length = strlen(FOLDER "/");

    return file && strncmp(file, FOLDER "/", length) == 0 ? file + length : file;
}

/* What the reader says about a description, one mistake a line. */
static char *report(const char *file)
{
    struct db_arena *arena = db_arena_new((size_t) 256 << 20);
    struct db_mistakes *mistakes = db_mistakes_new(arena);
    const struct db_source *source = NULL;
    char *text = NULL;
    size_t length = 0;
    FILE *out = open_memstream(&text, &length);
    const struct db_mistake *m;

    assert_non_null(mistakes);
    assert_non_null(out);
    const enum db_status status =
        db_source_read("test", (struct db_place){ .file = "asked" }, "rules", file, arena, mistakes, &source);
    assert_true(status == DB_OK || status == DB_MISTAKEN);
    assert_int_equal(status == DB_MISTAKEN, db_mistakes_count(mistakes) > 0);
    for (size_t i = 0; (m = db_mistakes_at(mistakes, i)); i++) {
        fprintf(out, "%s:%u:%u: %s%s", relative(m->at.file), m->at.line, m->at.column, m->advice ? "advice: " : "",
                m->what);
        if (*m->instead)
            fprintf(out, "%s%s", m->what[strlen(m->what) - 1] == '?' ? " " : "; ", m->instead);
        fputc('\n', out);
    }
    assert_int_equal(fclose(out), 0);
    (void) db_arena_free(arena);
    return text;
}

static char *read_file(const char *path)
{
    FILE *file = fopen(path, "re");
    char *text = calloc(1, 1 << 16);

    assert_non_null(text);
    if (file) {
        assert_true(fread(text, 1, (1 << 16) - 1, file) < (1 << 16) - 1);
        fclose(file);
    }
    return text;
}

static void write_file(const char *path, const char *text)
{
    FILE *file = fopen(path, "we");

    assert_non_null(file);
    assert_true(fputs(text, file) >= 0);
    assert_int_equal(fclose(file), 0);
}

/* 1 if the description's mistakes are not those that are expected. */
static int check(const char *name, const char *plan)
{
    char expected_path[PATH_ROOM];
    int wrong = 0;

    assert_true(snprintf(expected_path, sizeof expected_path, FOLDER "/%s.err", name) < PATH_ROOM);
    char *got = report(plan);
    if (getenv("ACCEPT"))
        write_file(expected_path, got);
    char *expected = read_file(expected_path);
    if (!*expected || strcmp(got, expected) != 0) {
        print_error("%s\n--- expected in %s\n%s+++ got\n%s", plan, expected_path, expected, got);
        wrong = 1;
    }
    free(expected);
    free(got);
    return wrong;
}

static void each_malformed_description_gives_its_mistakes(void **state)
{
    DIR *folder = opendir(FOLDER);
    char name[PATH_ROOM], plan[PATH_ROOM];
    int cases = 0, wrong = 0;

    (void) state;
    assert_non_null(folder);
    for (const struct dirent *entry; (entry = readdir(folder));)
        if (strlen(entry->d_name) > 4 && strcmp(entry->d_name + strlen(entry->d_name) - 4, ".ini") == 0) {
            cases++;
            (void) snprintf(name, PATH_ROOM, "%.*s", (int) strlen(entry->d_name) - 4, entry->d_name);
            (void) snprintf(plan, PATH_ROOM, FOLDER "/%s", entry->d_name);
            wrong += check(name, plan);
        }
    closedir(folder);
    print_message("%d malformed descriptions\n", cases);
    assert_true(cases >= CASES_LEAST);
    assert_int_equal(wrong, 0);
}

/* The page names every key, and what it gives to copy is read without a mistake. */
static void the_page_is_right(void **state)
{
    size_t count;
    const struct db_field *rows = db_source_fields(&count);
    char *page = read_file("docs/forecast.md"), *from = strstr(page, "    [source my-station]"),
         *end = from ? strstr(from, "\n\n") : NULL;
    struct db_arena *arena = db_arena_new((size_t) 64 << 20);
    struct db_mistakes *mistakes = db_mistakes_new(arena);
    const struct db_source *source = NULL;
    char file[] = "/tmp/dewbell-page-XXXXXX";

    (void) state;
    assert_non_null(end);
    for (size_t i = 0; i < count; i++) {
        char key[64];

        (void) snprintf(key, sizeof key, "`%s`", rows[i].key);
        if (!strstr(rows[i].key, "_unit") && !strstr(page, key))
            fail_msg("docs/forecast.md does not name %s", rows[i].key);
    }
    *end = '\0';
    const int fd = mkstemp(file);
    assert_true(fd >= 0 && close(fd) == 0);
    write_file(file, from);
    const enum db_status status =
        db_source_read("my-station", (struct db_place){ 0 }, "rules", file, arena, mistakes, &source);
    if (status != DB_OK)
        fail_msg("%s", db_mistakes_at(mistakes, 0)->what);
    assert_int_equal(remove(file), 0);
    free(page);
    (void) db_arena_free(arena);
}

int main(void)
{
    const struct CMUnitTest tests[] = { cmocka_unit_test(each_malformed_description_gives_its_mistakes),
                                        cmocka_unit_test(the_page_is_right) };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
