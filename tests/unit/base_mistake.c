#include "dewbell/mistake.h"

#include "base/limits.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

#include "base/banned.h"

static int fresh(void **state)
{
    *state = db_arena_new(1024 * 1024);
    return *state == NULL;
}

static int done(void **state)
{
    *state = db_arena_free(*state);
    return 0;
}

static struct db_place at(const char *file, unsigned line, unsigned column)
{
    struct db_place place = { file, NULL, line, column, 1 };
    return place;
}

static void mistakes_come_in_reading_order(void **state)
{
    struct db_mistakes *mistakes = db_mistakes_new(*state);
    char other_copy[] = "beds.ini";
    static const char *const order[] = { "first file, line 2",           "first file, line 9, column 3",
                                         "first file, line 9, column 7", "same place, later",
                                         "second file, whole",           "second file, line 1" };

    db_mistakes_add(mistakes, at("plan.ini", 9, 7), "write 10 days", "first file, line %d, column %s", 9, "7");
    db_mistakes_add(mistakes, at("beds.ini", 1, 1), "", "second file, line 1");
    db_mistakes_add(mistakes, at("plan.ini", 2, 40), "", "first file, line 2");
    db_mistakes_advise(mistakes, at("plan.ini", 9, 3), NULL, "first file, line 9, column 3");
    db_mistakes_add(mistakes, at(other_copy, 0, 0), "", "second file, whole");
    db_mistakes_add(mistakes, at("plan.ini", 9, 7), "", "same place, later");
    for (size_t i = 0; i < 6; i++)
        assert_string_equal(db_mistakes_at(mistakes, i)->what, order[i]);
    assert_null(db_mistakes_at(mistakes, 6));
    assert_int_equal(db_mistakes_count(mistakes), 5);
    assert_int_equal(db_mistakes_advice(mistakes), 1);
    assert_true(db_mistakes_at(mistakes, 1)->advice);
    assert_string_equal(db_mistakes_at(mistakes, 1)->instead, "");
    assert_string_equal(db_mistakes_at(mistakes, 2)->instead, "write 10 days");
    assert_int_equal(db_mistakes_at(mistakes, 2)->at.column, 7);
}

static void beyond_the_limit_only_the_count_grows(void **state)
{
    struct db_mistakes *mistakes = db_mistakes_new(*state);
    size_t taken;

    for (unsigned i = 0; i < DB_LIMIT_MISTAKES; i++)
        db_mistakes_advise(mistakes, at("plan.ini", i + 1, 1), "", "advice %u", i);
    db_mistakes_advise(mistakes, at("plan.ini", 1, 1), "", "no room");
    for (unsigned i = 0; i < DB_LIMIT_MISTAKES; i++) /* refusals push advice out */
        db_mistakes_add(mistakes, at("plan.ini", i + 1, 2), "", "refusal %u", i);
    taken = db_arena_taken(*state);
    for (unsigned i = 0; i < 1000; i++)
        db_mistakes_add(mistakes, at("plan.ini", 1, 1), "", "one too many");
    assert_int_equal(db_arena_taken(*state), taken);
    assert_int_equal(db_mistakes_count(mistakes), DB_LIMIT_MISTAKES + 1000);
    assert_int_equal(db_mistakes_advice(mistakes), DB_LIMIT_MISTAKES + 1);
    for (size_t i = 0; i < DB_LIMIT_MISTAKES; i++)
        assert_false(db_mistakes_at(mistakes, i)->advice);
    assert_null(db_mistakes_at(mistakes, DB_LIMIT_MISTAKES));
}

static void a_full_arena_still_counts(void **state)
{
    (void) state;
    for (size_t limit = 0; limit < 8192; limit += 16) {
        struct db_arena *arena = db_arena_new(limit);
        struct db_mistakes *mistakes = db_mistakes_new(arena);

        for (unsigned i = 0; mistakes && i < 20; i++)
            db_mistakes_add(mistakes, at("plan.ini", i, 1), "write something shorter", "line %u is too long", i);
        if (mistakes) {
            const struct db_mistake *mistake;
            size_t i = 0;
            assert_int_equal(db_mistakes_count(mistakes), 20);
            while ((mistake = db_mistakes_at(mistakes, i++)))
                assert_non_null(strstr(mistake->what, "is too long"));
        }
        db_arena_free(arena);
    }
}

/* A value of three lines, as a reader joins it: "during = up + 10 °C\n    .. up + 24 days". */
static void places_survive_joining(void **state)
{
    static const char line_3[] = "during  = \xC3\xA9t\xC3\xA9 + 10 \xC2\xB0"
                                 "C\n",
                      line_4[] = "      .. up + 24 dasy\n";
    static const char joined[] = "\xC3\xA9t\xC3\xA9 + 10 \xC2\xB0"
                                 "C\n.. up + 24 dasy";
    const struct db_piece pieces[] = { { 0, { "jobs.ini", line_3, 3, 11, 0 } },
                                       { 15, { "jobs.ini", line_4, 4, 7, 0 } } };
    const struct db_words words = { joined, sizeof joined - 1, pieces, 2 };
    struct db_place place;

    (void) state;
    assert_int_equal(joined[14], '\n');
    place = db_words_place(&words, 0, 5);
    assert_true(place.line == 3 && place.column == 11 && place.width == 3 && place.text == line_3);
    place = db_words_place(&words, (size_t) (strstr(joined, "10") - joined), 6);
    assert_true(place.line == 3 && place.column == 17 && place.width == 5); /* "10 °C": five characters, six bytes */
    place = db_words_place(&words, (size_t) (strstr(joined, "10") - joined), 12);
    assert_true(place.line == 3 && place.width == 5); /* cut at the end of its line */
    place = db_words_place(&words, (size_t) (strstr(joined, "dasy") - joined), 4);
    assert_true(place.line == 4 && place.column == 18 && place.width == 4 && place.text == line_4);
    assert_string_equal(place.file, "jobs.ini");
    place = db_words_place(&words, 999, 9); /* the end of what was written */
    assert_true(place.line == 4 && place.column == 22 && place.width == 1);
    struct db_words plain = db_words_plain("up + 10 dasy");
    place = db_words_place(&plain, 8, 4);
    assert_true(place.line == 1 && place.column == 9 && place.width == 4 && place.text == plain.text);
}

static void slips_of_the_pen_find_their_word(void **state)
{
    static const char *const names[] = { "carrot", "beetroot", "parsnip", "kale", "leek", "caf\xC3\xA9" };
    static const struct {
        const char *word, *nearest;
    } known[] = {
        { "carot", "carrot" },
        { "CARROTS", "carrot" },
        { "acrrot", "carrot" },
        { "betroot", "beetroot" },
        { "parsinp", "parsnip" },
        { "kael", "kale" },
        { "laek", "leek" },
        { "cafe", "caf\xC3\xA9" },
        { "potato", NULL },
        { "k", NULL },
        { "", NULL },
        { "lk", NULL },
        { "beetrtoor", "beetroot" },
        { "a word so long that no name of a crop could ever have been meant by it, not even by mistake", NULL },
    };
    static const char *const near_ones[] = { "thinned", "thinner", "thins" };

    (void) state;
    for (size_t i = 0; i < sizeof known / sizeof known[0]; i++) {
        const char *got = db_nearest(known[i].word, names, sizeof names / sizeof names[0]);
        if (got != known[i].nearest && (!got || !known[i].nearest || strcmp(got, known[i].nearest) != 0))
            fail_msg("%s: %s", known[i].word, got ? got : "nothing");
    }
    assert_string_equal(db_nearest("thined", near_ones, 3), "thinned");
    assert_null(db_nearest("carrot", NULL, 0));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(mistakes_come_in_reading_order, fresh, done),
        cmocka_unit_test_setup_teardown(beyond_the_limit_only_the_count_grows, fresh, done),
        cmocka_unit_test(a_full_arena_still_counts),
        cmocka_unit_test(places_survive_joining),
        cmocka_unit_test(slips_of_the_pen_find_their_word),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
