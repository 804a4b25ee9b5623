/* What gardeners write, made safe for calendars, terminals and mail: the libraries behind them escape a comma, but pass
 * control characters and broken UTF-8 through. */
#include "write/private.h"

#include "base/text.h"

#include <string.h>

#include "base/banned.h"

enum clean { CLEAN_TEXT, CLEAN_LINE, CLEAN_WORD };

/* One character of well-formed UTF-8: its bytes in *ret_length; 0xFFFD and one byte where it is not. */
static uint32_t next_character(const char *text, size_t *ret_length)
{
    const unsigned char *at = (const unsigned char *) text;
    size_t length = at[0] < 0x80 ? 1 : at[0] < 0xE0 ? 2 : at[0] < 0xF0 ? 3 : 4;

    *ret_length = 1;
    if (length == 1)
        return at[0];
    if (strnlen(text, length) < length || !db_text_utf8(text, length, NULL))
        return 0xFFFD;
    *ret_length = length;
    uint32_t code = at[0] & (0x7FU >> length);
    for (size_t i = 1; i < length; i++)
        code = code << 6 | (at[i] & 0x3FU);
    return code;
}

/* Line ends of Unicode, which some readers of calendars take for the end of a line. */
static bool ends_line(uint32_t code)
{
    return code == '\n' || code == '\r' || code == 0x0B || code == 0x0C || code == 0x85 || code == 0x2028 ||
           code == 0x2029;
}

static bool is_control(uint32_t code)
{
    return code < 0x20 || (code >= 0x7F && code < 0xA0) || code == 0xFEFF;
}

/* How many bytes from here on stay as they are: most of a text. Of what is longer than a byte only the characters that
 * begin with C2 (controls), E2 (line ends) and EF (the byte order mark) need a look. */
static size_t plain_bytes(const char *text, enum clean how, bool whole)
{
    size_t length = 0;

    for (;; length++) {
        unsigned char c = (unsigned char) text[length];
        bool plain = c < 0x80 ? (c > ' ' && c < 0x7F) || (c == ' ' && how == CLEAN_TEXT)
                              : whole && c != 0xC2 && c != 0xE2 && c != 0xEF;

        if (!plain || (how == CLEAN_WORD && (c == ',' || c == ';')))
            return length;
    }
}

/* The character at `at` that is not plain: what stands for it goes to `made`. */
static size_t clean_one(const char *at, enum clean how, char *made, size_t used, size_t *ret_step)
{
    uint32_t code = next_character(at, ret_step);
    bool space = code == ' ' || code == '\t' || (how == CLEAN_WORD && (code == ',' || code == ';'));

    if (ends_line(code)) {
        *ret_step += code == '\r' && at[1] == '\n';
        if (how == CLEAN_TEXT)
            made[used++] = '\n';
        else
            space = true;
    } else if (!space && code == 0xFFFD) {
        memcpy(made + used, "\xEF\xBF\xBD", 3);
        used += 3;
    } else if (!space && !is_control(code)) {
        memcpy(made + used, at, *ret_step);
        used += *ret_step;
    }
    if (space && (how == CLEAN_TEXT || (used && made[used - 1] != ' ')))
        made[used++] = ' ';
    return used;
}

static char *clean(const char *text, enum clean how, struct db_arena *arena)
{
    size_t length = strlen(text), step, used = 0;
    bool whole = db_text_utf8(text, length, NULL);
    /* A bad byte grows to the three of U+FFFD; nothing else grows. */
    char *made = length < SIZE_MAX / 3 ? db_arena_get(arena, length * (whole ? 1 : 3) + 1, 1) : NULL;

    if (!made)
        return NULL;
    for (const char *at = text; *at; at += step) {
        step = plain_bytes(at, how, whole);
        memcpy(made + used, at, step);
        used += step;
        if (!step)
            used = clean_one(at, how, made, used, &step);
    }
    while (how != CLEAN_TEXT && used && made[used - 1] == ' ')
        used--;
    made[used] = '\0';
    return made;
}

char *db_clean_text(const char *text, struct db_arena *arena)
{
    return clean(text, CLEAN_TEXT, arena);
}

char *db_clean_line(const char *text, struct db_arena *arena)
{
    return clean(text, CLEAN_LINE, arena);
}

char *db_clean_word(const char *text, struct db_arena *arena)
{
    return clean(text, CLEAN_WORD, arena);
}

/* Characters that belong to the one before them: combining marks, joiners, variation and skin tone selectors. */
static bool leans_back(uint32_t code)
{
    return (code >= 0x300 && code <= 0x36F) || (code >= 0x1AB0 && code <= 0x1AFF) ||
           (code >= 0x20D0 && code <= 0x20FF) || code == 0x200D || (code >= 0xFE00 && code <= 0xFE0F) ||
           (code >= 0x1F3FB && code <= 0x1F3FF);
}

char *db_clean_cut(const char *text, size_t most, struct db_arena *arena)
{
    static const char ellipsis[] = "\xE2\x80\xA6";
    char *line = db_clean_line(text, arena);
    size_t count = 0, step, whole = 0, word = 0, room = line ? strlen(line) : 0;
    bool joined = false;

    if (!line || db_text_characters(line, room) <= most)
        return line;
    /* The last place before which at most `most` - 1 characters stand: between characters, and between words. */
    for (size_t at = 0; count < most; at += step, count++) {
        uint32_t code = next_character(line + at, &step);

        if (at && !leans_back(code) && !joined)
            whole = at;
        if (at && code == ' ')
            word = at;
        joined = code == 0x200D;
    }
    size_t end = word * 2 > whole ? word : whole; /* one endless word: cut inside it */
    while (end == word && end > 1 && strchr(",;:.", line[end - 1]))
        end--;
    char *cut = db_arena_get(arena, end + sizeof ellipsis, 1);
    if (!cut)
        return NULL;
    memcpy(cut, line, end);
    memcpy(cut + end, ellipsis, sizeof ellipsis);
    return cut;
}
