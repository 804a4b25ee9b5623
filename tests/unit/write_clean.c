/* Gardeners' words made safe, and UUIDs against published values. */
#include "write/private.h"

#include "base/text.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "base/banned.h"

static int make_arena(void **state)
{
    *state = db_arena_new(1 << 20);
    return *state ? 0 : -1;
}

static int free_arena(void **state)
{
    *state = db_arena_free(*state);
    return 0;
}

static void controls_go_and_lines_stay(void **state)
{
    static const struct {
        const char *raw, *text, *line, *word;
    } known[] = {
        { "plain", "plain", "plain", "plain" },
        { "a\tb", "a b", "a b", "a b" },
        { "a\r\nb", "a\nb", "a b", "a b" },
        { "a\rX-EVIL:1", "a\nX-EVIL:1", "a X-EVIL:1", "a X-EVIL:1" },
        { "a\nb\n", "a\nb\n", "a b", "a b" },
        { "\x01"
          "a\x7F"
          "b\x1B[31m",
          "ab[31m", "ab[31m", "ab[31m" },
        { "bad\xFF!", "bad\xEF\xBF\xBD!", "bad\xEF\xBF\xBD!", "bad\xEF\xBF\xBD!" },
        { "cut\xE2\x9C", "cut\xEF\xBF\xBD\xEF\xBF\xBD", "cut\xEF\xBF\xBD\xEF\xBF\xBD", "cut\xEF\xBF\xBD\xEF\xBF\xBD" },
        { "long form \xC0\xAF", "long form \xEF\xBF\xBD\xEF\xBF\xBD", "long form \xEF\xBF\xBD\xEF\xBF\xBD",
          "long form \xEF\xBF\xBD\xEF\xBF\xBD" },
        { "x\xC2\x85y\xE2\x80\xA8z\x0B!", "x\ny\nz\n!", "x y z !",
          "x y z !" }, /* NEL, LINE SEPARATOR, VT end lines too */
        { "\xEF\xBB\xBFmark", "mark", "mark", "mark" },
        { "beans, broad; \\ \"dwarf\"", "beans, broad; \\ \"dwarf\"", "beans, broad; \\ \"dwarf\"",
          "beans broad \\ \"dwarf\"" },
        { "  two  spaces ", "  two  spaces ", "two spaces", "two spaces" },
        { "Möhre \xF0\x9F\xA5\xAC", "Möhre \xF0\x9F\xA5\xAC", "Möhre \xF0\x9F\xA5\xAC", "Möhre \xF0\x9F\xA5\xAC" },
        { "", "", "", "" },
    };

    for (size_t i = 0; i < sizeof known / sizeof known[0]; i++) {
        assert_string_equal(db_clean_text(known[i].raw, *state), known[i].text);
        assert_string_equal(db_clean_line(known[i].raw, *state), known[i].line);
        assert_string_equal(db_clean_word(known[i].raw, *state), known[i].word);
    }
}

/* Whatever bytes come in, what goes out is well-formed, has no control character, and does not change when cleaned again. */
static void any_bytes_come_out_clean(void **state)
{
    const char *wanted = getenv("SEED");
    unsigned seed = wanted ? (unsigned) strtoul(wanted, NULL, 10) : 20260614U;
    char raw[64];

    (void) state;
    print_message("seed %u\n", seed);
    srandom(seed);
    for (int round = 0; round < 20000; round++) {
        struct db_arena *arena = db_arena_new(1 << 16);
        size_t length = (size_t) random() % sizeof raw;

        for (size_t i = 0; i < length; i++)
            raw[i] = (char) (random() % 4 ? random() % 255 + 1 : "\r\n\xE2\x80\xA8,"[random() % 6]);
        raw[length] = '\0';
        const char *text = db_clean_text(raw, arena), *word = db_clean_word(raw, arena),
                   *cut = db_clean_cut(raw, 10, arena);
        assert_true(db_text_utf8(text, strlen(text), NULL));
        assert_true(db_text_utf8(word, strlen(word), NULL));
        assert_true(db_text_utf8(cut, strlen(cut), NULL));
        assert_true(db_text_characters(cut, strlen(cut)) <= 10);
        for (const char *at = text; *at; at++)
            assert_true((unsigned char) *at >= 0x20 || *at == '\n');
        assert_null(strpbrk(word, ",;\n\r"));
        assert_string_equal(db_clean_text(text, arena), text);
        assert_string_equal(db_clean_word(word, arena), word);
        (void) db_arena_free(arena);
    }
}

static void a_long_line_is_cut_after_a_word(void **state)
{
    static const struct {
        const char *line;
        size_t most;
        const char *cut;
    } known[] = {
        { "Thin carrots to 5 cm", 20, "Thin carrots to 5 cm" },
        { "Thin carrots to 5 cm", 19, "Thin carrots to 5…" },
        { "Thin carrots to 5 cm", 18, "Thin carrots to 5…" },
        { "Thin carrots to 5 cm", 17, "Thin carrots to…" },
        { "Thin carrots, then water", 14, "Thin carrots…" },
        { "Donaudampfschifffahrt", 10, "Donaudamp…" },
        { "a Donaudampfschifffahrt", 10, "a Donauda…" },
        { "Mo\xCC\x88hren", 4, "Mo\xCC\x88…" }, /* o and its combining dots stay together */
        { "Mo\xCC\x88hren", 3, "M…" },          /* ... or go together */
        { "\xF0\x9F\xA5\xAC\xF0\x9F\xA5\xAC\xF0\x9F\xA5\xAC", 2, "\xF0\x9F\xA5\xAC…" },
        { "a\xF0\x9F\x91\xA9\xE2\x80\x8D\xF0\x9F\x8C\xBE with a hoe", 4,
          "a…" }, /* woman + joiner + wheat is one picture */
    };

    for (size_t i = 0; i < sizeof known / sizeof known[0]; i++)
        assert_string_equal(db_clean_cut(known[i].line, known[i].most, *state), known[i].cut);
}

/* Sources: RFC 9562, appendix A.4 (which repeats the example of RFC 4122's errata); Python's uuid.uuid5 of the same name
 * space and other names. */
static void uuids_are_those_of_the_standard(void **state)
{
    static const char dns[] = "6ba7b810-9dad-11d1-80b4-00c04fd430c8";
    static const struct {
        const char *space, *name, *uuid;
    } known[] = {
        { dns, "www.example.com", "2ed6657d-e927-568b-95e1-2665a8aea6a2" },
        { dns, "python.org",
          "886313e1-3b8a-5372-9b90-0c9aee199e5d" }, /* from the documentation of Python's uuid module */
    };
    unsigned char space[16], uid[16];
    char text[DB_UID_TEXT];

    (void) state;
    for (size_t i = 0; i < sizeof known / sizeof known[0]; i++) {
        assert_int_equal(db_uid_read(known[i].space, space), DB_OK);
        db_uid_make(space, known[i].name, uid);
        assert_string_equal(db_uid_text(uid, text), known[i].uuid);
    }
    assert_int_equal(db_uid_read("my garden", space), DB_RANGE);
    assert_int_equal(db_uid_read("", space), DB_RANGE);
    assert_int_equal(db_uid_read(NULL, space), DB_RANGE);
    assert_int_equal(db_uid_read("6ba7b810-9dad-11d1-80b4-00c04fd430c", space), DB_RANGE);
}

/* 7 + 10 words of 6 columns with 9 spaces between + " bb" = 79 columns: the last word goes to the next line. With "b" it is
 * 78 and stays. The umlauts take two bytes but one column. */
static void text_is_wrapped_by_columns(void **state)
{
    static const char ten[] = "möhren möhren möhren möhren möhren möhren möhren möhren möhren möhren";
    struct db_bytes out = { 0 }, text = { 0 };
    char wanted[256];

    (void) state;
    assert_int_equal(db_bytes_format(&text, "%s b", ten), DB_OK);
    assert_int_equal(db_words_wrap(&out, "  How: ", text.data, 8), DB_OK);
    (void) snprintf(wanted, sizeof wanted, "  How: %s b\n", ten);
    assert_string_equal(out.data, wanted);
    out.length = text.length = 0;
    assert_int_equal(db_bytes_format(&text, "%s bb", ten), DB_OK);
    assert_int_equal(db_words_wrap(&out, "  How: ", text.data, 8), DB_OK);
    (void) snprintf(wanted, sizeof wanted, "  How: %s\n        bb\n", ten);
    assert_string_equal(out.data, wanted);
    out.length = 0;
    assert_int_equal(db_words_wrap(&out, "- ", "one\ntwo", 2), DB_OK);
    assert_string_equal(out.data, "- one\n  two\n");
    db_bytes_free(&out);
    db_bytes_free(&text);
}

static void bytes_keep_to_their_ceiling(void **state)
{
    struct db_bytes bytes = { .limit = 10 };

    (void) state;
    assert_int_equal(db_bytes_add(&bytes, "12345", 5), DB_OK);
    assert_int_equal(db_bytes_add(&bytes, "678901", 6), DB_FULL);
    assert_int_equal(bytes.length, 5);
    assert_int_equal(db_bytes_format(&bytes, "%d", 67890), DB_OK);
    assert_int_equal(db_bytes_text(&bytes, "1"), DB_FULL);
    assert_string_equal(bytes.data, "1234567890");
    db_bytes_free(&bytes);
    assert_null(bytes.data);
}

int main(void)
{
#define WITH_ARENA(test) cmocka_unit_test_setup_teardown(test, make_arena, free_arena)
    const struct CMUnitTest tests[] = {
        WITH_ARENA(controls_go_and_lines_stay),       cmocka_unit_test(any_bytes_come_out_clean),
        WITH_ARENA(a_long_line_is_cut_after_a_word),  cmocka_unit_test(uuids_are_those_of_the_standard),
        cmocka_unit_test(text_is_wrapped_by_columns), cmocka_unit_test(bytes_keep_to_their_ceiling),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
