/* Every malformed plan of tests/corpus/plans gives exactly the mistakes that stand beside it. */
#include "read/read.h"

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
    struct db_estate estate;

    assert_non_null(mistakes);
    const enum db_status status = db_estate_read(file, "rules", arena, mistakes, &estate);
    assert_int_equal(status, db_mistakes_count(mistakes) > 0 ? DB_MISTAKEN : DB_OK);
    corpus_say(corpus, mistakes, out);
    (void) db_arena_free(arena);
}

static void each_malformed_plan_gives_its_mistakes(void **state)
{
    const struct corpus corpus = { .folder = "tests/corpus/plans", .least = 150, .report = report };

    (void) state;
    corpus_check(&corpus);
}

int main(void)
{
    const struct CMUnitTest tests[] = { cmocka_unit_test(each_malformed_plan_gives_its_mistakes) };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
