#include "base/text.h"

#include "dewbell/arena.h"
#include "dewbell/mistake.h"
#include "dewbell/status.h"

#include "base/limits.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "base/banned.h"

static const char *number(double value, int decimals)
{
    static char buffer[64];
    struct db_text text = db_text_in(buffer, sizeof buffer);

    db_text_add_number(&text, value, decimals);
    return buffer;
}

/* Outside: the C library's own printing, which is exact; only a true half may differ (it rounds to even, we away). */
static void numbers_agree_with_the_c_library(void **state)
{
    const char *seed_text = getenv("SEED");
    unsigned seed = seed_text ? (unsigned) strtoul(seed_text, NULL, 10) : 20260614u;
    char expected[64];

    (void) state;
    print_message("seed %u\n", seed);
    for (int i = 0; i < 200000; i++) {
        int decimals = i % 7;
        seed = seed * 1664525u + 1013904223u;
        double value = (double) (int32_t) seed / (i % 3 ? 65536.0 * 7 : 100000.0);
        if (fmod(fabs(value) * pow(10, decimals) * 2, 2) == 1)
            continue;
        (void) snprintf(expected, sizeof expected, "%.*f", decimals, value);
        if (strchr(expected, '.')) {
            size_t end = strlen(expected);
            while (expected[end - 1] == '0')
                end--;
            if (expected[end - 1] == '.')
                end--;
            expected[end] = '\0';
        }
        if (strcmp(expected, "-0") == 0)
            (void) snprintf(expected, sizeof expected, "0");
        assert_string_equal(number(value, decimals), expected);
    }
}

static void numbers_round_half_away_and_drop_zeros(void **state)
{
    (void) state;
    assert_string_equal(number(0.125, 2), "0.13");
    assert_string_equal(number(-0.125, 2), "-0.13");
    assert_string_equal(number(2.5, 0), "3");
    assert_string_equal(number(1.005, 2), "1"); /* the double lies below 1.005 */
    assert_string_equal(number(1.115, 2), "1.11");
    assert_string_equal(number(10, 6), "10");
    assert_string_equal(number(0.000001, 6), "0.000001");
    assert_string_equal(number(-0.0004, 3), "0");
    assert_string_equal(number(99.96, 1), "100");
    assert_string_equal(number(NAN, 1), "?");
    assert_string_equal(number(-INFINITY, 1), "?");
    assert_string_equal(number(1e20, 2), "1e+20");
}

static void whole_numbers_reach_both_ends(void **state)
{
    char buffer[32];
    struct db_text text = db_text_in(buffer, sizeof buffer);

    (void) state;
    db_text_add_int(&text, INT64_MIN);
    assert_string_equal(buffer, "-9223372036854775808");
    text = db_text_in(buffer, sizeof buffer);
    db_text_add_int(&text, INT64_MAX);
    assert_string_equal(buffer, "9223372036854775807");
}

/* Whatever the room, the text is a beginning of the whole, well-formed, and says that it was cut. */
static void a_small_buffer_cuts_between_characters(void **state)
{
    static const char whole[] = "5 \xC2\xB0"
                                "C \xE2\x82\xAC \xF0\x9F\xA5\x95 end";
    char buffer[64];

    (void) state;
    for (size_t size = 1; size <= sizeof whole + 1; size++)
        for (int way = 0; way < 3; way++) {
            struct db_text text = db_text_in(buffer, size);
            if (way == 0)
                db_text_add(&text, whole);
            else if (way == 1)
                db_text_add_format(&text, "%s", whole);
            else
                for (size_t i = 0; i < strlen(whole);) {
                    size_t next = i + 1;
                    while (((unsigned char) whole[next] & 0xC0) == 0x80)
                        next++;
                    db_text_add_part(&text, whole + i, next - i);
                    i = next;
                }
            assert_int_equal(text.cut, size < sizeof whole);
            assert_int_equal(strlen(buffer), text.length);
            assert_memory_equal(buffer, whole, text.length);
            assert_true(db_text_utf8(buffer, text.length, NULL));
            if (text.cut) {
                db_text_add(&text, "x");
                db_text_add_format(&text, "%d", 1);
                assert_memory_equal(buffer, whole, text.length);
            }
        }
}

/* Rows of Unicode 15.0, table 3-7 (well-formed byte sequences), from memory. */
static void utf8_is_told_from_other_bytes(void **state)
{
    static const struct {
        const char *text;
        size_t length, at; /* at == length: all good */
    } rows[] = {
        { "", 0, 0 },
        { "plain", 5, 5 },
        { "\xC2\x80\xDF\xBF", 4, 4 },
        { "\xE0\xA0\x80\xED\x9F\xBF\xEE\x80\x80\xEF\xBF\xBF", 12, 12 },
        { "\xF0\x90\x80\x80\xF4\x8F\xBF\xBF", 8, 8 },
        { "a\0b", 3, 1 },
        { "ab\x80", 3, 2 },
        { "\xC0\xAF", 2, 0 },
        { "\xC1\xBF", 2, 0 },
        { "\xE0\x9F\xBF", 3, 0 },
        { "\xED\xA0\x80", 3, 0 },
        { "\xF0\x8F\xBF\xBF", 4, 0 },
        { "\xF4\x90\x80\x80", 4, 0 },
        { "\xF5\x80\x80\x80", 4, 0 },
        { "a\xE2\x82", 3, 1 },
        { "a\xE2\x82q", 4, 1 },
        { "caf\xE9", 4, 3 },
    };

    (void) state;
    /* Each alone, and at every place in a longer text. */
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++)
        for (size_t before = 0; before < 18; before++)
            for (size_t after = 0; after < 18; after++) {
                const size_t length = rows[i].length, all = before + length + after;
                const bool is_good = rows[i].at == length;
                char text[64];
                size_t at = all;

                memset(text, 'p', sizeof text);
                memcpy(text + before, rows[i].text, length);
                assert_int_equal(db_text_utf8(text, all, &at), is_good);
                assert_int_equal(at, is_good ? all : before + rows[i].at);
            }
}

static void words_compare_without_a_locale(void **state)
{
    (void) state;
    assert_true(db_text_same("Carrot", "cARROT"));
    assert_false(db_text_same("carrot", "carrots"));
    assert_false(db_text_same("carrots", "carrot"));
    assert_true(db_text_is("carrots", 6, "carrot"));
    assert_false(db_text_is("carrots", 7, "carrot"));
    assert_true(db_text_is("", 0, ""));
    assert_int_equal(db_text_characters("5 \xC2\xB0"
                                        "C",
                                        5),
                     4);
}

static void every_status_has_words(void **state)
{
    (void) state;
    for (int status = DB_OK; status <= DB_TROUBLE; status++)
        assert_true(strlen(db_status_text((enum db_status) status)) > 3);
    assert_non_null(db_status_text((enum db_status) 99));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(numbers_agree_with_the_c_library), cmocka_unit_test(numbers_round_half_away_and_drop_zeros),
        cmocka_unit_test(whole_numbers_reach_both_ends),    cmocka_unit_test(a_small_buffer_cuts_between_characters),
        cmocka_unit_test(utf8_is_told_from_other_bytes),    cmocka_unit_test(words_compare_without_a_locale),
        cmocka_unit_test(every_status_has_words),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
