/* Malformed rules: each file of tests/corpus/rules is refused with just the mistakes that stand beside it, each of which has
 * its place. */
#include "small_garden.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "kit/corpus.h"

#include "base/banned.h"

static void report(const struct corpus *corpus, const char *file, FILE *out)
{
    struct small *s = small_new();
    const struct db_mistake *m;
    size_t length = 0;
    char *text = read_file(file, &length);

    if (!text || !small_give(s, file, text, length, 0))
        fail_msg("%s: the reader stopped", file);
    if (db_rules_compile(s->rules, s->mistakes) == DB_FULL)
        fail_msg("%s: out of memory", file);
    for (size_t i = 0; (m = db_mistakes_at(s->mistakes, i)) != NULL; i++)
        assert_true(m->at.line > 0 && m->at.column > 0 && m->at.width > 0 && m->at.text);
    corpus_say(corpus, s->mistakes, out);
    free(text);
    small_free(s);
}

static void every_malformed_rule_is_refused_in_its_own_words(void **state)
{
    const struct corpus corpus = { .folder = "tests/corpus/rules", .least = 100, .report = report };

    (void) state;
    corpus_check(&corpus);
}

int main(void)
{
    const struct CMUnitTest tests[] = { cmocka_unit_test(every_malformed_rule_is_refused_in_its_own_words) };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
