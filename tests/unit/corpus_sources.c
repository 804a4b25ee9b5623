/* Every malformed description of a forecast source in tests/corpus/sources gives exactly the mistakes that stand beside it.
 * The source asked for is always "test". */
#include "read/fields.h"
#include "read/source.h"

#include <unistd.h>

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "kit/corpus.h"

#include "base/banned.h"

static void report(const struct corpus *corpus, const char *file, FILE *out)
{
    struct db_arena *arena = db_arena_new((size_t) 256 << 20);
    struct db_mistakes *mistakes = db_mistakes_new(arena);
    const struct db_source *source = NULL;

    assert_non_null(mistakes);
    const enum db_status status =
        db_source_read("test", (struct db_place){ .file = "asked" }, "rules", file, arena, mistakes, &source);
    assert_int_equal(status, db_mistakes_count(mistakes) > 0 ? DB_MISTAKEN : DB_OK);
    corpus_say(corpus, mistakes, out);
    (void) db_arena_free(arena);
}

static void each_malformed_description_gives_its_mistakes(void **state)
{
    const struct corpus corpus = { .folder = "tests/corpus/sources", .least = 30, .report = report };

    (void) state;
    corpus_check(&corpus);
}

/* The page names every key, and what it gives to copy is read without a mistake. */
static void the_page_is_right(void **state)
{
    size_t count;
    const struct db_field *rows = db_source_fields(&count);
    char *page = read_file("docs/forecast.md", NULL), *from = strstr(page, "    [source my-station]"),
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
