/* The set of rules: shapes, windows, overrides, what is recorded, hashes. XXH128 comes from the reference library. */
#include "small_garden.h"

#include "base/text.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <xxhash.h>

#include <cmocka.h>

#include "base/banned.h"

static const char shipped[] = "[thin-the-row]\n"
                              "kind    = Thin\n"
                              "job     = Thin {crops} in {bed}\n"
                              "for     = raised in drill\n"
                              "during  = up + 10 days .. up + 24 days\n"
                              "best    = up + 14 days\n"
                              "prefer  = sum(rain, 2 days back) > 3 mm\n"
                              "records = thinned\n"
                              "effort  = 10 min + 3 min per m * row\n"
                              "urgency = soon\n"
                              "caution = Mind the toad.\n"
                              "source  = common practice\n"
                              "\n"
                              "[look]\n"
                              "kind    = Look\n"
                              "job     = Look\n"
                              "during  = sown .. up\n"
                              "every   = 1 day\n"
                              "source  = common practice\n"
                              "\n"
                              "[fleece]\n"
                              "kind    = Frost\n"
                              "job     = Fleece\n"
                              "during  = up .. up + 28 days\n"
                              "while   = low < 6 °C\n"
                              "until   = low > 8 °C\n"
                              "tool    = fleece and hoops\n"
                              "source  = common practice\n";

/* What the gardener writes over it. */
static struct small *with_own(const char *own)
{
    struct small *s = small_new();

    assert_true(small_give(s, "shipped.ini", shipped, strlen(shipped), 0));
    assert_true(small_give(s, "own.ini", own, strlen(own), 1));
    return s;
}

static struct small *compiled(const char *own)
{
    struct small *s = with_own(own);

    if (db_rules_compile(s->rules, s->mistakes) != DB_OK) {
        small_say(s);
        fail_msg("refused");
    }
    return s;
}

static void rules_have_shapes_and_words(void **state)
{
    struct small *s = compiled("");
    const size_t thin = db_rules_find(s->rules, "thin-the-row");
    static const char *const words[] = { "sown",     "up",      "pricked_out", "rooted", "hardening", "planted",
                                         "cropping", "cleared", "fleece",      "look",   "thinned",   NULL };

    (void) state;
    assert_int_equal(db_rules_count(s->rules), 3);
    assert_string_equal(db_rule_name(s->rules, 0), "fleece");
    assert_string_equal(db_rule_name(s->rules, 2), "thin-the-row");
    assert_int_equal(thin, 2);
    assert_true(db_rules_find(s->rules, "thin") == SIZE_MAX);
    assert_int_equal(db_rule_shape(s->rules, 0), DB_SHAPE_WHILE);
    assert_int_equal(db_rule_shape(s->rules, 1), DB_SHAPE_EVERY);
    assert_int_equal(db_rule_shape(s->rules, 2), DB_SHAPE_ONCE);
    assert_string_equal(db_rule_records(s->rules, 2), "thinned");
    assert_string_equal(db_rule_records(s->rules, 1), "look");
    assert_string_equal(db_rule_theme(s->rules, 2), "Thin");
    assert_string_equal(db_rule_caution(s->rules, 2), "Mind the toad.");
    assert_string_equal(db_rule_caution(s->rules, 1), "");
    assert_string_equal(db_rule_source(s->rules, 1), "common practice");
    assert_string_equal(db_rule_tool(s->rules, 0), "fleece and hoops");
    assert_string_equal(db_rule_tool(s->rules, 1), "");
    assert_int_equal(db_rule_urgency(s->rules, 2), 3);
    assert_int_equal(db_rule_urgency(s->rules, 1), 5);
    for (size_t i = 0; i == 0 || words[i - 1]; i++) {
        const char *word = db_rules_note_word(s->rules, i);

        if (words[i])
            assert_string_equal(word, words[i]);
        else
            assert_null(word);
    }
    small_free(s);
}

static void rules_run(void **state)
{
    struct small *s = compiled("");
    const size_t thin = 2;
    struct db_date first, best, last;

    (void) state;
    assert_true(db_rule_applies(s->rules, thin, &s->scope));
    assert_true(db_rule_window(s->rules, thin, &s->scope, &first, &best, &last));
    assert_int_equal(first.day, small_day(6, 12).day);
    assert_int_equal(best.day, small_day(6, 16).day);
    assert_int_equal(last.day, small_day(6, 26).day);
    assert_true(fabs((double) db_rule_minutes(s->rules, thin, &s->scope) - 19) < 1e-4);
    assert_true(db_rule_has(s->rules, thin, DB_CLAUSE_PREFER));
    assert_false(db_rule_has(s->rules, thin, DB_CLAUSE_HOLD));
    assert_int_equal(db_rule_every(s->rules, 1, &s->scope), 1);
    assert_true(db_rule_window(s->rules, 1, &s->scope, &first, &best, &last));
    assert_int_equal(best.day, first.day); /* no `best`: the first day */
    s->scope.day = small_day(6, 15);       /* index 75: the low is 10 */
    assert_false(db_rule_holds(s->rules, 0, DB_CLAUSE_WHILE, &s->scope));
    assert_true(db_rule_holds(s->rules, 0, DB_CLAUSE_UNTIL, &s->scope));
    s->scope.day = small_day(6, 20); /* index 80: the low is 5 */
    assert_true(db_rule_holds(s->rules, 0, DB_CLAUSE_WHILE, &s->scope));
    small_stand(s, SMALL_LETTUCE);
    assert_false(db_rule_applies(s->rules, thin, &s->scope));
    assert_true(db_rule_minutes(s->rules, thin, &s->scope) == 0); /* no row: not known */
    small_free(s);
}

static void the_best_day_stays_in_the_window(void **state)
{
    struct small *late = compiled("[thin-the-row]\nbest = up + 60 days\n");
    struct small *early = compiled("[thin-the-row]\nbest = sown\n");
    struct db_date first, best, last;

    (void) state;
    assert_true(db_rule_window(late->rules, 2, &late->scope, &first, &best, &last));
    assert_int_equal(best.day, last.day);
    assert_true(db_rule_window(early->rules, 2, &early->scope, &first, &best, &last));
    assert_int_equal(best.day, first.day);
    small_free(late);
    small_free(early);
}

static void own_keys_replace_shipped_ones(void **state)
{
    struct small *s = compiled("[thin-the-row]\nduring = up + 3 weeks .. up + 5 weeks\nprefer = none\nhow = Gently.\n"
                               "[fleece]\noff = yes\n"
                               "[water]\njob = Water {crops}\nkind = Water\nduring = sown .. up\nevery = 3 days\n"
                               "records = watered\n");
    const size_t thin = db_rules_find(s->rules, "thin-the-row");
    struct db_date first, best, last;
    struct db_override o;
    size_t count = 0;

    (void) state;
    assert_int_equal(db_rules_count(s->rules), 3); /* look, thin-the-row, water */
    assert_true(db_rules_find(s->rules, "fleece") == SIZE_MAX);
    assert_true(db_rules_find(s->rules, "water") != SIZE_MAX);
    assert_true(db_rule_window(s->rules, thin, &s->scope, &first, &best, &last));
    assert_int_equal(first.day, small_day(6, 23).day);
    assert_int_equal(best.day, first.day); /* the shipped best, 16 June, is kept inside */
    assert_false(db_rule_has(s->rules, thin, DB_CLAUSE_PREFER));
    assert_string_equal(db_rule_caution(s->rules, thin), "Mind the toad.");
    while (db_rules_override(s->rules, count, &o))
        count++;
    assert_int_equal(count, 9);
    assert_true(db_rules_override(s->rules, 0, &o)); /* in order of rule, then of the table of keys */
    assert_string_equal(o.rule, "fleece");
    assert_string_equal(o.key, "off");
    assert_string_equal(o.shipped, "");
    assert_string_equal(o.own, "yes");
    assert_true(db_rules_override(s->rules, 1, &o));
    assert_string_equal(o.rule, "thin-the-row");
    assert_string_equal(o.key, "during");
    assert_string_equal(o.shipped, "up + 10 days .. up + 24 days");
    assert_string_equal(o.own, "up + 3 weeks .. up + 5 weeks");
    assert_true(db_rules_override(s->rules, 2, &o));
    assert_string_equal(o.key, "prefer");
    assert_string_equal(o.own, "none");
    small_free(s);
}

/* A word that a switched-off rule records can still be asked for, and old notes still carry it. */
static void a_rule_that_is_off_keeps_its_word(void **state)
{
    struct small *s = compiled("[thin-the-row]\noff = yes\n[look]\nfor = not noted(thinned)\n");

    (void) state;
    assert_true(db_rule_applies(s->rules, 1, &s->scope));
    small_note(s, 1, "carrot-1", "thinned", small_day(6, 12));
    assert_false(db_rule_applies(s->rules, 1, &s->scope));
    assert_string_equal(db_rules_note_word(s->rules, DB_STAGE_COUNT + 2), "thinned");
    small_free(s);
}

static void hashes_follow_the_words(void **state)
{
    struct small *plain = compiled(""), *again = compiled("[look]\nevery = 1 day\n"),
                 *other = compiled("[look]\nevery = 2 days\n");
    static const char words[] = "job\0Look\0kind\0Look\0during\0sown .. up\0every\0001 day\0source\0common practice";
    XXH128_canonical_t expected;

    (void) state;
    XXH128_canonicalFromHash(&expected, XXH3_128bits(words, sizeof words));
    assert_memory_equal(db_rule_hash(plain->rules, 1), expected.digest, 16);
    assert_memory_equal(db_rule_hash(again->rules, 1), expected.digest, 16);
    assert_memory_not_equal(db_rule_hash(other->rules, 1), expected.digest, 16);
    assert_memory_equal(db_rule_hash(other->rules, 2), db_rule_hash(plain->rules, 2), 16);
    small_free(plain);
    small_free(again);
    small_free(other);
}

static void mistakes_leave_nothing_unsaid(void **state)
{
    struct small *s =
        with_own("[thin-the-rwo]\nbest = up + 12 days\n[look]\nbset = up\nduring = up .. upp\nevery = 5\n");
    char all[4096] = "";
    struct db_text text = db_text_in(all, sizeof all);
    const struct db_mistake *m;

    (void) state;
    assert_int_equal(db_rules_compile(s->rules, s->mistakes), DB_MISTAKEN);
    for (size_t i = 0; (m = db_mistakes_at(s->mistakes, i)) != NULL; i++)
        db_text_add_format(&text, "%s:%u:%u: %s; %s\n", m->at.file, m->at.line, m->at.column, m->what, m->instead);
    assert_string_equal(
        all,
        "own.ini:1:2: [thin-the-rwo] has no job; did you mean [thin-the-row]? Else write what to do, as in job = Thin "
        "{crops} in {bed}\n"
        "own.ini:1:2: [thin-the-rwo] has no kind; write one word for it, as in kind = Thin\n"
        "own.ini:1:2: [thin-the-rwo] has no during; write its window, as in during = up + 10 days .. up + 24 days\n"
        "own.ini:4:1: rules have no key \"bset\"; did you mean best?\n"
        "own.ini:5:16: \"upp\" is not known; did you mean up?\n"
        "own.ini:6:9: 5 what?; write 5 days\n");
    small_free(s);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(rules_have_shapes_and_words),       cmocka_unit_test(rules_run),
        cmocka_unit_test(the_best_day_stays_in_the_window),  cmocka_unit_test(own_keys_replace_shipped_ones),
        cmocka_unit_test(a_rule_that_is_off_keeps_its_word), cmocka_unit_test(hashes_follow_the_words),
        cmocka_unit_test(mistakes_leave_nothing_unsaid),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
