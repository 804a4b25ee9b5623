#define DB_PURE
#include "dewbell/mistake.h"

#include "base/limits.h"
#include "base/text.h"

#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#include "base/banned.h"

struct entry {
    struct db_mistake mistake;
    size_t file; /* rank of its file, as first seen */
};

struct db_mistakes {
    struct db_arena *arena;
    size_t refusals, advice, kept, kept_advice, files;
    struct entry *list[DB_LIMIT_MISTAKES];
};

struct db_mistakes *db_mistakes_new(struct db_arena *arena)
{
    struct db_mistakes *mistakes = db_arena_get(arena, 1, sizeof *mistakes);

    if (mistakes)
        mistakes->arena = arena;
    return mistakes;
}

static size_t file_rank(struct db_mistakes *mistakes, const char *file)
{
    for (size_t i = 0; i < mistakes->kept; i++) {
        const char *seen = mistakes->list[i]->mistake.at.file;

        if (seen == file || (seen && file && strcmp(seen, file) == 0))
            return mistakes->list[i]->file;
    }
    return mistakes->files++;
}

static bool comes_before(const struct entry *a, const struct entry *b)
{
    if (a->file != b->file)
        return a->file < b->file;
    if (a->mistake.at.line != b->mistake.at.line)
        return a->mistake.at.line < b->mistake.at.line;
    return a->mistake.at.column < b->mistake.at.column;
}

/* With the list full, a refusal still takes the place of the last advice: it matters more. */
static bool has_room(const struct db_mistakes *mistakes, bool advice)
{
    return mistakes->kept < DB_LIMIT_MISTAKES || (!advice && mistakes->kept_advice);
}

static void drop_last_advice(struct db_mistakes *mistakes)
{
    size_t i = mistakes->kept - 1;

    while (!mistakes->list[i]->mistake.advice)
        i--;
    memmove(mistakes->list + i, mistakes->list + i + 1, (mistakes->kept - i - 1) * sizeof(struct entry *));
    mistakes->kept--;
    mistakes->kept_advice--;
}

/* Keeps one, in its place; quietly not when the list or the arena is full, for it has been counted. */
static void keep(struct db_mistakes *to, struct db_place at, bool advice, const char *instead, const char *what,
                 va_list list)
{
    va_list again;
    char none[1];

    if (!has_room(to, advice))
        return;
    va_copy(again, list);
    int length = vsnprintf(none, 0, what, again);
    va_end(again);
    if (length < 0)
        return;
    struct entry *entry = db_arena_get(to->arena, 1, sizeof *entry);
    char *text = db_arena_get(to->arena, (size_t) length + 1, 1);
    char *other = db_arena_text(to->arena, instead ? instead : "", instead ? strlen(instead) : 0);
    if (!entry || !text || !other)
        return;
    if (to->kept == DB_LIMIT_MISTAKES)
        drop_last_advice(to);
    (void) vsnprintf(text, (size_t) length + 1, what, list);
    *entry = (struct entry){ { at, text, other, advice }, file_rank(to, at.file) };
    to->kept_advice += advice;
    size_t i = to->kept++;
    for (; i && comes_before(entry, to->list[i - 1]); i--)
        to->list[i] = to->list[i - 1];
    to->list[i] = entry;
}

void db_mistakes_add(struct db_mistakes *to, struct db_place at, const char *instead, const char *what, ...)
{
    va_list list;

    to->refusals++;
    va_start(list, what);
    keep(to, at, false, instead, what, list);
    va_end(list);
}

void db_mistakes_advise(struct db_mistakes *to, struct db_place at, const char *instead, const char *what, ...)
{
    va_list list;

    to->advice++;
    va_start(list, what);
    keep(to, at, true, instead, what, list);
    va_end(list);
}

size_t db_mistakes_count(const struct db_mistakes *mistakes)
{
    return mistakes->refusals;
}

size_t db_mistakes_advice(const struct db_mistakes *mistakes)
{
    return mistakes->advice;
}

const struct db_mistake *db_mistakes_at(const struct db_mistakes *mistakes, size_t index)
{
    return index < mistakes->kept ? &mistakes->list[index]->mistake : NULL;
}

struct db_words db_words_plain(const char *text)
{
    struct db_words words = { text, strlen(text), NULL, 0 };
    return words;
}

static bool blank(char letter)
{
    return letter == ' ' || letter == '\t' || letter == '\n' || letter == '\r';
}

struct db_place db_words_place(const struct db_words *words, size_t offset, size_t width)
{
    struct db_piece piece = { 0, { "", words->text, 1, 1, 0 } };
    size_t end = words->length;

    if (offset > words->length)
        offset = words->length;
    for (size_t i = 0; i < words->piece_count; i++) {
        if (words->pieces[i].from > offset && i) {
            end = words->pieces[i].from;
            break;
        }
        piece = words->pieces[i];
    }
    if (offset < piece.from)
        offset = piece.from;
    if (width > end - offset) {
        width = end - offset;
        while (width > 1 && blank(words->text[offset + width - 1])) /* what joined the lines stands in no file */
            width--;
    }
    struct db_place place = piece.at;
    size_t wide = db_text_characters(words->text + offset, width);
    if (place.column)
        place.column += (unsigned) db_text_characters(words->text + piece.from, offset - piece.from);
    place.width = wide ? (unsigned) wide : 1;
    return place;
}
