#include "read/ini_line.h"

#include "base/limits.h"
#include "base/text.h"
#include "read/files.h"

#include <stdio.h>
#include <string.h>

#include "base/banned.h"

static bool is_blank(char c)
{
    return c == ' ' || c == '\t';
}

static bool is_name_character(char c)
{
    return (c >= 'a' && c <= 'z') || (c >= '0' && c <= '9') || c == '-';
}

static char lower(char c)
{
    return c >= 'A' && c <= 'Z' ? (char) (c - 'A' + 'a') : c;
}

struct db_place ini_line_place(const struct ini_line *line, size_t from, size_t length)
{
    const size_t wide = db_text_characters(line->text + from, length);

    return (struct db_place){ line->file, line->text, line->number, (unsigned) db_text_characters(line->text, from) + 1,
                              wide ? (unsigned) wide : 1 };
}

/* One line's reading. */
struct scan {
    struct ini_line *line;
    const struct db_ini_shape *shape;
    struct db_mistakes *mistakes;
    struct db_arena *scratch;
};

#define REFUSE(scan, from, length, instead, ...)                                                                       \
    db_mistakes_add((scan)->mistakes, ini_line_place((scan)->line, from, length), instead, __VA_ARGS__)

static bool contains(const char *const *words, const char *word, size_t length)
{
    for (; words && *words; words++)
        if (db_text_is(word, length, *words))
            return true;
    return false;
}

/* What no line may hold: too many bytes, half characters, control characters. */
static bool is_sound(const struct scan *s)
{
    const struct ini_line *line = s->line;
    const bool comment = line->size && (line->text[0] == ';' || line->text[0] == '#');
    size_t bad = 0;

    if (line->size > DB_LIMIT_LINE) {
        size_t fits = DB_LIMIT_LINE;

        while (fits && ((unsigned char) line->text[fits] & 0xC0) == 0x80) /* never inside a character */
            fits--;
        REFUSE(s, fits, line->size - fits, comment ? "split it into two lines" : "go on in the next line, indented",
               "this %s has %zu bytes, %d fit", comment ? "comment" : "line", line->size, DB_LIMIT_LINE);
        return false;
    }
    if (!db_text_utf8(line->text, line->size, &bad)) {
        /* What is before it is sound, so the column counts characters. */
        REFUSE(s, bad, 1, "save the file as UTF-8", "the byte 0x%02X is no part of a UTF-8 character",
               (unsigned) (unsigned char) line->text[bad]);
        return false;
    }
    for (size_t i = 0; i < line->size; i++) {
        const unsigned char c = (unsigned char) line->text[i];

        if (c == '\r') {
            REFUSE(s, i, 1, "begin a new line there", "a lone carriage return stands in this line");
            return false;
        }
        if ((c < ' ' && c != '\t') || c == 0x7F) {
            REFUSE(s, i, 1, "take it out", "the control character 0x%02X stands in this line", c);
            return false;
        }
    }
    return true;
}

/* inih ends a value at a blank and a semicolon; what looks like a comment to the gardener must not become text either. */
static bool has_comment(const struct scan *s, size_t start)
{
    const struct ini_line *line = s->line;

    for (size_t i = start + 1; i < line->size; i++) {
        const char c = line->text[i];
        const bool last = i + 1 == line->size;

        if (!is_blank(line->text[i - 1]))
            continue;
        if (c == ';') {
            REFUSE(s, i, line->size - i, "put it on a line of its own, or leave out the blank before the ;",
                   "a comment cannot follow on the same line");
            return true;
        }
        if (c == '#' && (last || is_blank(line->text[i + 1]))) {
            REFUSE(s, i, line->size - i, "put it on a line of its own", "a comment cannot follow on the same line");
            return true;
        }
    }
    return false;
}

/* "[bed north]" out of something like it: lower case, one blank after the kind, hyphens elsewhere. */
static const char *likely_title(const struct scan *s, size_t from, size_t to)
{
    const char *text = s->line->text;
    char slug[DB_LIMIT_NAME + 1];
    size_t length = 0;
    bool gap = false, kind_seen = false;

    for (size_t i = from; i < to; i++) {
        const char c = lower(text[i]);

        if (is_blank(c) || c == '_') {
            gap = length > 0;
        } else if (is_name_character(c)) {
            if (length + 2 > sizeof slug)
                return "";
            if (gap) {
                const bool after_kind = !kind_seen && contains(s->shape->kinds, slug, length);

                slug[length++] = after_kind ? ' ' : '-';
                kind_seen = true;
                gap = false;
                if (length + 1 >= sizeof slug)
                    return "";
            }
            slug[length++] = c;
        } else if (c != '"' && c != '\'') {
            return "";
        }
    }
    return length ? db_say(s->scratch, "write [%.*s]", (int) length, slug) : "";
}

static bool is_title(const char *text, size_t length)
{
    size_t blanks = 0;

    if (!length || !is_name_character(text[0]) || !is_name_character(text[length - 1]))
        return false;
    for (size_t i = 0; i < length; i++) {
        if (text[i] == ' ')
            blanks++;
        else if (!is_name_character(text[i]))
            return false;
    }
    return blanks <= 1;
}

static void scan_title(const struct scan *s, size_t from, size_t to)
{
    struct ini_line *line = s->line;
    const char *text = line->text;

    if (from == to) {
        REFUSE(s, from - 1, 2, "write a name into them, such as [garden]", "the brackets are empty");
    } else if (is_blank(text[from]) || is_blank(text[to - 1])) {
        REFUSE(s, from, to - from, likely_title(s, from, to), "blanks stand inside the brackets");
    } else if (to - from > DB_LIMIT_NAME) {
        REFUSE(s, from, to - from, "choose a shorter name", "the section's name has %zu bytes, %d fit", to - from,
               DB_LIMIT_NAME);
    } else if (!is_title(text + from, to - from)) {
        const char *likely = likely_title(s, from, to);

        REFUSE(s, from, to - from,
               *likely ? likely : "write it with a-z, 0-9 and hyphens; the name shown is yours to choose",
               "\"%.*s\" cannot be a section's name", (int) (to - from), text + from);
    } else {
        line->kind = INI_LINE_SECTION;
        line->from = from;
        line->length = to - from;
    }
}

static void scan_section(const struct scan *s, size_t start)
{
    struct ini_line *line = s->line;
    const char *close = memchr(line->text + start, ']', line->size - start);
    size_t end = line->size;

    line->kind = INI_LINE_BAD_SECTION;
    line->start = start;
    while (is_blank(line->text[end - 1]))
        end--;
    if (!close) {
        const char *likely = likely_title(s, start + 1, end);

        REFUSE(s, start, end - start, *likely ? likely : "end it with ]", "this section is not closed");
        return;
    }
    const size_t at = (size_t) (close - line->text);
    if (at + 1 < end) {
        size_t junk = at + 1;

        while (is_blank(line->text[junk]))
            junk++;
        REFUSE(s, junk, end - junk, "put it on a line of its own", "something stands after the section's ]");
        return;
    }
    scan_title(s, start + 1, at);
}

/* "latitude" out of "Latitude", "before_solstice" out of "before solstice". */
static const char *likely_key(const struct scan *s, size_t from, size_t length)
{
    char slug[DB_LIMIT_NAME + 1] = "";

    for (size_t i = 0; i < length; i++) {
        const char c = lower(s->line->text[from + i]);

        slug[i] = is_blank(c) ? '_' : c;
        if (!is_name_character(slug[i]) && slug[i] != '_' && slug[i] != '.')
            return "write a key with a-z, 0-9, _ . and -, beginning with a letter";
    }
    if (slug[0] < 'a' || slug[0] > 'z')
        return "begin it with a letter";
    return db_say(s->scratch, "write %.*s", (int) length, slug);
}

static bool is_key(const char *text, size_t length)
{
    if (text[0] < 'a' || text[0] > 'z')
        return false;
    for (size_t i = 0; i < length; i++)
        if (!is_name_character(text[i]) && text[i] != '_' && text[i] != '.')
            return false;
    return true;
}

static void scan_key(const struct scan *s, size_t start)
{
    struct ini_line *line = s->line;
    const char *text = line->text;
    const char *equals = memchr(text + start, '=', line->size - start);
    const char *colon = memchr(text + start, ':', line->size - start);
    size_t end = line->size;

    line->start = start;
    while (end > start && is_blank(text[end - 1]))
        end--;
    if (has_comment(s, start))
        return;
    if (colon && (!equals || colon < equals)) {
        REFUSE(s, (size_t) (colon - text), 1, "write key = value", "a : stands where the = belongs");
        return;
    }
    if (!equals) {
        REFUSE(s, start, end - start, "write key = value; a line that goes on with the one above begins with a blank",
               "there is no = in this line");
        return;
    }
    const size_t at = (size_t) (equals - text);
    size_t key_end = at, from = at + 1;
    while (key_end > start && is_blank(text[key_end - 1]))
        key_end--;
    while (from < end && is_blank(text[from]))
        from++;
    if (key_end == start) {
        REFUSE(s, at, 1, "write key = value", "there is no key before the =");
    } else if (key_end - start > DB_LIMIT_NAME) {
        REFUSE(s, start, key_end - start, "check the spelling", "the key has %zu bytes, %d fit", key_end - start,
               DB_LIMIT_NAME);
    } else if (memmem(text + start, key_end - start, "\xC2\xA0", 2)) {
        REFUSE(s, start, key_end - start, "write ordinary blanks", "a no-break space stands in the key");
    } else if (!is_key(text + start, key_end - start)) {
        REFUSE(s, start, key_end - start, likely_key(s, start, key_end - start), "\"%.*s\" cannot be a key",
               (int) (key_end - start), text + start);
    } else {
        line->kind = INI_LINE_KEY;
        line->key_from = start;
        line->key_length = key_end - start;
        line->from = from < end ? from : end;
        line->length = end - line->from;
    }
}

/* "key =" with a key that belongs into files of this shape. */
static bool is_known_key(const struct scan *s, size_t start)
{
    const struct ini_line *line = s->line;
    size_t end = start;

    while (end < line->size && (is_name_character(line->text[end]) || line->text[end] == '_' || line->text[end] == '.'))
        end++;
    const size_t length = end - start;
    while (end < line->size && is_blank(line->text[end]))
        end++;
    return end < line->size && line->text[end] == '=' && contains(s->shape->keys, line->text + start, length);
}

/* "[bed north]" and nothing after it, of a kind that belongs into files of this shape. */
static bool is_known_section(const struct scan *s, size_t start)
{
    const struct ini_line *line = s->line;
    size_t end = start + 1;

    if (line->text[start] != '[')
        return false;
    while (end < line->size && is_name_character(line->text[end]))
        end++;
    return contains(s->shape->kinds, line->text + start + 1, end - start - 1) &&
           memchr(line->text + end, ']', line->size - end);
}

static void scan_indented(const struct scan *s, size_t start, struct ini_above above)
{
    struct ini_line *line = s->line;
    size_t end = line->size;

    while (is_blank(line->text[end - 1]))
        end--;
    if (is_known_section(s, start) || (!above.key && !above.refused && line->text[start] == '[')) {
        REFUSE(s, start, end - start, "begin it at the start of the line",
               "this section's line begins with a blank, as if it went on with the line above");
        scan_section(s, start);
    } else if (is_known_key(s, start)) {
        REFUSE(s, start, end - start, "begin it at the start of the line",
               "this line begins with a blank, as if it went on with the line above");
        scan_key(s, start);
    } else if (above.refused) {
        return;
    } else if (!above.key) {
        REFUSE(s, start, end - start, "begin it at the start of the line",
               "this line begins with a blank, but there is nothing above for it to go on with");
        if (memchr(line->text + start, '=', line->size - start))
            scan_key(s, start);
    } else if (!has_comment(s, start)) {
        line->kind = INI_LINE_MORE;
        line->from = start;
        line->length = end - start;
    }
}

void ini_line_scan(struct ini_line *line, struct ini_above above, const struct db_ini_shape *shape,
                   struct db_mistakes *mistakes, struct db_arena *scratch)
{
    const struct scan s = { line, shape, mistakes, scratch };
    size_t start = 0;

    while (start < line->size && is_blank(line->text[start]))
        start++;
    const size_t base = line->base < start ? line->base : start;
    const bool comment = start < line->size && (line->text[start] == ';' || line->text[start] == '#');
    line->kind = base < line->size && line->text[base] == '[' ? INI_LINE_BAD_SECTION : INI_LINE_REFUSED;
    line->ended = start == line->size;
    if (!is_sound(&s)) {
        line->ended = true;
        if (comment)
            line->kind = INI_LINE_NOTHING;
    } else if (comment || line->ended) {
        line->kind = INI_LINE_NOTHING;
    } else if (start > base) {
        scan_indented(&s, start, above);
    } else if (line->text[base] == '[') {
        scan_section(&s, base);
    } else {
        scan_key(&s, base);
    }
}
