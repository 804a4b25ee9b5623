/* What inih really does with input that a gardener may write by accident, and what our reader makes of the same bytes.
 * The left column runs the library itself (inih 55 as Debian 12 packages it), so the traps that the reader guards against
 * are shown to be there; the right one is the reader's answer. */
#include "base/text.h"
#include "read/ini.h"

#include <ini.h>

#include <setjmp.h>
#include <stdarg.h>
#include <stdbool.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

#include "base/banned.h"

#define X10 "xxxxxxxxxx"
#define X50 X10 X10 X10 X10 X10
#define X190 X50 X50 X50 X10 X10 X10 X10

struct fact {
    const char *name, *input;
    const char *inih; /* "[section]key=value|" for each call, then the return code */
    const char
        *reader; /* "line:column: " and the beginning of what is wrong; or, accepted, the values: "[s]key=value|" */
};

static const struct fact facts[] = {
    { "plain", "[s]\nk = v\n", "[s]k=v|0", "[s]k=v|" },
    { "a value goes on", "[s]\nk = a\n  b\n", "[s]k=a|[s]k=b|0", "[s]k=a b|" },
    { "it goes on after an empty line and a comment", "[s]\nk = a\n\n; c\n  b\n", "[s]k=a|[s]k=b|0", "[s]k=a b|" },
    { "a value that begins in the next line", "[s]\nk =\n  b\n", "[s]k=|[s]k=b|0", "[s]k=b|" },
    { "Windows line ends", "[s]\r\nk = v\r\n", "[s]k=v|0", "[s]k=v|" },
    { "a byte order mark", "\xEF\xBB\xBF[s]\nk = v\n", "[s]k=v|0", "[s]k=v|" },
    { "no newline at the end", "[s]\nk = v", "[s]k=v|0", "[s]k=v|" },
    { "a semicolon without a blank", "[s]\nk = a;b\n", "[s]k=a;b|0", "[s]k=a;b|" },
    { "198 bytes fit", "[s]\nk = " X190 "abcd\n", "[s]k=" X190 "abcd|0", "[s]k=" X190 "abcd|" },

    { "a line is cut, its rest is an error", "[s]\nk = " X190 "abcdefgh\n", "[s]k=" X190 "abcde|3",
      "2:199: this line has 202 bytes" },
    { "its rest goes on with it as if indented", "[s]\nk = " X190 "abcde and water = yes\n",
      "[s]k=" X190 "abcde|[s]k=and water = yes|0", "2:199: this line has 215 bytes" },
    { "its rest is read as a key", "[s]\nk = " X190 "abcdewater = yes\n", "[s]k=" X190 "abcde|[s]water=yes|0",
      "2:199: this line has 210 bytes" },
    { "its rest is read as a section", "[s]\nk = " X190 "abcde[evil]\nb = 2\n", "[s]k=" X190 "abcde|[evil]b=2|0",
      "2:199: this line has 205 bytes" },
    { "a long comment's rest is read as a key", "[s]\n; " X190 "xxxxxxxk = c\n", "[s]k=c|0",
      "2:199: this comment has 204 bytes" },
    { "half a character", "[s]\nk = " X190 "abcd\xC3\xA9\n", "[s]k=" X190 "abcd\xC3|3",
      "2:199: this line has 200 bytes" },
    { "a section's name is cut", "[" X50 "a]\nk = 1\n[" X50 "b]\nk = 2\n",
      "[" X10 X10 X10 X10 "xxxxxxxxx]k=1|[" X10 X10 X10 X10 "xxxxxxxxx]k=2|0", "1:2: the section's name has 51 bytes" },
    { "a key is cut where its value goes on", "[s]\n" X50 "a = 1\n 2\n",
      "[s]" X50 "a=1|[s]" X10 X10 X10 X10 "xxxxxxxxx=2|0", "2:1: the key has 51 bytes" },
    { "an indented key is swallowed", "[s]\nk = 1\n  known = 2\n", "[s]k=1|[s]k=known = 2|0",
      "3:3: this line begins with a blank" },
    { "keys and sections twice", "[s]\nk = 1\nk = 2\n", "[s]k=1|[s]k=2|0", "3:1: k is given twice, first in line 2" },
    { "sections twice", "[s]\nk = 1\n[s]\nk = 2\n", "[s]k=1|[s]k=2|0", "3:2: [s] stands in test.ini, line 1, already" },
    { "cut at a blank and a semicolon", "[s]\nk = a ; b\n", "[s]k=a|0", "2:7: a comment cannot follow" },
    { "in quotes, too", "[s]\nk = \"a ; b\"\n", "[s]k=\"a|0", "2:8: a comment cannot follow" },
    { "but not where the value goes on", "[s]\nk = a\n b ; c\n", "[s]k=a|[s]k=b ; c|0",
      "3:4: a comment cannot follow" },
    { "a number sign does not begin a comment", "[s]\nk = a # b\n", "[s]k=a # b|0", "2:7: a comment cannot follow" },
    { "a colon parts key and value", "[s]\n06:30 = x\n", "[s]06=30 = x|0", "2:3: a : stands where the = belongs" },
    { "an empty key", "[s]\n= v\n", "[s]=v|0", "2:1: there is no key" },
    { "an empty value", "[s]\nk =\n", "[s]k=|0", "2:1: k has no value" },
    { "junk after a section", "[s] junk\nk = 1\n", "[s]k=1|0", "1:5: something stands after" },
    { "two brackets", "[a]b]\nk = 1\n", "[a]k=1|0", "1:4: something stands after" },
    { "blanks in a section", "[ s ]\nk = 1\n", "[ s ]k=1|0", "1:2: blanks stand inside" },
    { "a comment in a section: its keys join the one before", "[s]\n[t ; c]\nk = 1\n", "[s]k=1|2",
      "2:2: \"t ; c\" cannot be a section's name" },
    { "a section that is not closed", "[s]\n[t\nk = 1\n", "[s]k=1|2", "2:1: this section is not closed" },
    { "keys before any section", "k = 1\n[s]\nj = 2\n", "[]k=1|[s]j=2|0", "1:1: k stands before any section" },
    { "no equals sign", "[s]\nword\n", "2", "2:1: there is no = in this line" },
    { "a lone carriage return", "[s]\nk = a\rb\n", "[s]k=a\rb|0", "2:6: a lone carriage return" },
    { "lone carriage returns only", "[s]\rk = a\r", "0", "0:0: this file ends its lines with lone carriage returns" },
    { "a no-break space before a key", "[s]\n\xC2\xA0k = 1\n", "[s]\xC2\xA0k=1|0",
      "2:1: a no-break space stands in the key" },
    { "capitals are another name", "[S]\nk = 1\n[s]\nk = 2\n", "[S]k=1|[s]k=2|0",
      "1:2: \"S\" cannot be a section's name" },
    { "UTF-16", "\xFF\xFE[\x01s\x01", "1", "0:0: this file is written in UTF-16" },
};

static int collect(void *context, const char *section, const char *name, const char *value)
{
    db_text_add_format(context, "[%s]%s=%s|", section, name, value);
    return 1;
}

static void inih_does_what_we_guard_against(void **state)
{
    (void) state;
    for (size_t i = 0; i < sizeof facts / sizeof facts[0]; i++) {
        char buffer[2048];
        struct db_text got = db_text_in(buffer, sizeof buffer);
        const int rc = ini_parse_string(facts[i].input, collect, &got);

        db_text_add_int(&got, rc);
        if (strcmp(buffer, facts[i].inih) != 0)
            fail_msg("%s: inih gave \"%s\", not \"%s\"", facts[i].name, buffer, facts[i].inih);
    }
}

/* The reader's answer in the same form. */
static void read_with_ours(const char *input, struct db_text *got)
{
    static const char *const keys[] = { "known", NULL };
    struct db_arena *arena = db_arena_new(1 << 20);
    struct db_mistakes *mistakes = db_mistakes_new(arena);
    struct db_ini *ini = db_ini_new(arena, arena, mistakes, (struct db_ini_shape){ NULL, keys });
    char *text = db_arena_text(arena, input, strlen(input));
    const struct db_mistake *m;

    assert_non_null(ini);
    assert_int_equal(db_ini_read(ini, "test.ini", text, strlen(input)), DB_OK);
    if ((m = db_mistakes_at(mistakes, 0)))
        db_text_add_format(got, "%u:%u: %s", m->at.line, m->at.column, m->what);
    for (size_t s = 0; !m && s < db_ini_count(ini); s++)
        for (size_t k = 0; k < db_ini_at(ini, s)->key_count; k++)
            db_text_add_format(got, "[%s]%s=%s|", db_ini_at(ini, s)->title, db_ini_at(ini, s)->keys[k].key.text,
                               db_ini_at(ini, s)->keys[k].value.text);
    (void) db_arena_free(arena);
}

static void the_reader_says_so(void **state)
{
    (void) state;
    for (size_t i = 0; i < sizeof facts / sizeof facts[0]; i++) {
        char buffer[2048];
        struct db_text got = db_text_in(buffer, sizeof buffer);
        const bool accepted = facts[i].reader[0] == '[';

        read_with_ours(facts[i].input, &got);
        if (accepted ? strcmp(buffer, facts[i].reader) != 0
                     : strncmp(buffer, facts[i].reader, strlen(facts[i].reader)) != 0)
            fail_msg("%s: the reader gave \"%s\", not \"%s\"", facts[i].name, buffer, facts[i].reader);
    }
}

/* A NUL byte ends a string for inih; only the reader's own entry takes a length. */
static void a_nul_byte_is_refused(void **state)
{
    struct db_arena *arena = db_arena_new(1 << 20);
    struct db_mistakes *mistakes = db_mistakes_new(arena);
    struct db_ini *ini = db_ini_new(arena, arena, mistakes, (struct db_ini_shape){ NULL, NULL });
    char text[] = "[s]\nk = a\0b\n";

    (void) state;
    assert_int_equal(db_ini_read(ini, "test.ini", text, sizeof text - 1), DB_OK);
    assert_int_equal(db_mistakes_count(mistakes), 1);
    (void) db_arena_free(arena);
}

/* Every byte of a value that was joined from several lines knows where it stands. */
static void joined_values_keep_their_places(void **state)
{
    struct db_arena *arena = db_arena_new(1 << 20);
    struct db_mistakes *mistakes = db_mistakes_new(arena);
    struct db_ini *ini = db_ini_new(arena, arena, mistakes, (struct db_ini_shape){ NULL, NULL });
    char text[] = "[s]\nhow   = Süd first\n\n; between\n   then Nord\n\tand last\n";
    static const struct {
        const char *word;
        unsigned line, column;
    } words[] = { { "Süd", 2, 9 },  { "first", 2, 13 }, { "then", 5, 4 },
                  { "Nord", 5, 9 }, { "and", 6, 2 },    { "last", 6, 6 } };

    (void) state;
    assert_int_equal(db_ini_read(ini, "test.ini", text, sizeof text - 1), DB_OK);
    assert_int_equal(db_mistakes_count(mistakes), 0);
    const struct db_words *value = db_ini_value(db_ini_find(ini, "s"), "how");
    assert_non_null(value);
    assert_string_equal(value->text, "Süd first then Nord and last");
    assert_int_equal(value->length, strlen(value->text));
    for (size_t i = 0; i < sizeof words / sizeof words[0]; i++) {
        const size_t at = (size_t) (strstr(value->text, words[i].word) - value->text);
        const struct db_place place = db_words_place(value, at, strlen(words[i].word));

        assert_int_equal(place.line, words[i].line);
        assert_int_equal(place.column, words[i].column);
        assert_int_equal(place.width, db_text_characters(words[i].word, strlen(words[i].word)));
        assert_string_equal(place.file, "test.ini");
    }
    (void) db_arena_free(arena);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(inih_does_what_we_guard_against),
        cmocka_unit_test(the_reader_says_so),
        cmocka_unit_test(a_nul_byte_is_refused),
        cmocka_unit_test(joined_values_keep_their_places),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
