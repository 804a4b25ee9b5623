#include "read/ini.h"

#include "base/limits.h"
#include "base/text.h"
#include "read/files.h"
#include "read/ini_line.h"

#include <ini.h>

#include <stdint.h>
#include <stdio.h>
#include <string.h>

#include "base/banned.h"

#if INI_HANDLER_LINENO
#error "inih is built with line numbers in its handler; this reader counts lines itself"
#endif

enum { KEYS_MOST = 200, PIECES_FIRST = 16 };

/* What inih must say about the line it was handed. */
struct expected {
    bool call, called;
    const char *section, *key, *value;
    size_t value_length;
};

struct reading {
    struct db_ini *ini;
    const char *file;
    char *next, *end;     /* the rest of the file */
    size_t base;          /* blanks at the start of every line */
    struct ini_line line; /* the one in hand */
    struct expected expected;
    const char *title;              /* as inih knows the section: "" before the first, VOID_TITLE after a refused one */
    struct db_ini_section *section; /* NULL: its keys are checked, but belong nowhere */
    struct db_ini_key *key;         /* the one that goes on; NULL: none, or it belongs nowhere */
    const char *key_name;           /* the one that goes on, as inih knows it; NULL: none */
    bool skip_more;                 /* the line above was refused; what goes on with it is, too */
    bool told_homeless;             /* keys before the first section: said once a file */
    struct db_piece *pieces;        /* of the value that is being put together */
    size_t *lengths;
    size_t piece_count, piece_room, value_length;
    enum db_status status;
};

/* Stands in for a section whose header was refused: no gardener can write it. */
#define VOID_TITLE "!"

struct db_ini *db_ini_new(struct db_arena *arena, struct db_arena *scratch, struct db_mistakes *mistakes,
                          struct db_ini_shape shape)
{
    struct db_ini *ini = db_arena_get(scratch, 1, sizeof *ini);

    if (ini)
        *ini = (struct db_ini){ arena, scratch, mistakes, shape, db_shelf_in(scratch, DB_LIMIT_SECTIONS) };
    return ini;
}

size_t db_ini_count(const struct db_ini *ini)
{
    return ini->sections.count;
}

struct db_ini_section *db_ini_at(const struct db_ini *ini, size_t index)
{
    return index < ini->sections.count ? ini->sections.items[index] : NULL;
}

struct db_ini_section *db_ini_find(const struct db_ini *ini, const char *title)
{
    return db_ini_at(ini, db_shelf_find(&ini->sections, title));
}

const struct db_words *db_ini_value(const struct db_ini_section *section, const char *key)
{
    for (size_t i = 0; i < section->key_count; i++)
        if (strcmp(section->keys[i].key.text, key) == 0)
            return &section->keys[i].value;
    return NULL;
}

/* Text and place of a part of the line in hand, as words. False when scratch is full. */
static bool words_of(struct reading *r, size_t from, size_t length, struct db_words *ret)
{
    char *text = db_arena_text(r->ini->scratch, r->line.text + from, length);
    struct db_piece *piece = db_arena_get(r->ini->scratch, 1, sizeof *piece);

    if (!text || !piece) {
        r->status = DB_FULL;
        return false;
    }
    *piece = (struct db_piece){ 0, ini_line_place(&r->line, from, length) };
    *ret = (struct db_words){ text, length, piece, 1 };
    return true;
}

/* Puts the pieces of the value together: the lines joined by one blank. */
static void finish_key(struct reading *r)
{
    struct db_ini_key *key = r->key;
    char *text, *to;

    r->key = NULL;
    r->key_name = NULL;
    if (!key || r->status != DB_OK)
        return;
    if (r->value_length == 0) {
        db_mistakes_add(r->ini->mistakes, key->key.pieces[0].at, "write a value after the =, or take the line out",
                        "%s has no value", key->key.text);
        r->section->key_count--;
        r->section->cut = true;
        return;
    }
    text = to = db_arena_get(r->ini->scratch, r->value_length + 1, 1);
    struct db_piece *pieces = db_arena_get(r->ini->scratch, r->piece_count, sizeof *pieces);
    if (!text || !pieces) {
        r->status = DB_FULL;
        return;
    }
    for (size_t i = 0; i < r->piece_count; i++) {
        const struct db_piece *piece = &r->pieces[i];

        if (i)
            *to++ = ' ';
        pieces[i] = (struct db_piece){ (size_t) (to - text), piece->at };
        memcpy(to, piece->at.text + piece->from, r->lengths[i]);
        to += r->lengths[i];
    }
    key->value = (struct db_words){ text, r->value_length, pieces, r->piece_count };
}

/* Notes one line's part of the value. In r->pieces, `from` is the offset in the line. */
static void add_piece(struct reading *r, size_t from, size_t length)
{
    if (!length || !r->key)
        return;
    if (r->value_length + length + 1 > DB_LIMIT_VALUE) {
        db_mistakes_add(r->ini->mistakes, ini_line_place(&r->line, from, length), "make it shorter",
                        "the value of %s is longer than %d bytes", r->key->key.text, DB_LIMIT_VALUE);
        r->skip_more = true;
        return;
    }
    if (r->piece_count == r->piece_room) {
        const size_t room = r->piece_room ? 2 * r->piece_room : PIECES_FIRST;
        struct db_piece *pieces = db_arena_get(r->ini->scratch, room, sizeof *pieces);
        size_t *lengths = db_arena_get(r->ini->scratch, room, sizeof *lengths);

        if (!pieces || !lengths) {
            r->status = DB_FULL;
            return;
        }
        if (r->piece_count) {
            memcpy(pieces, r->pieces, r->piece_count * sizeof *pieces);
            memcpy(lengths, r->lengths, r->piece_count * sizeof *lengths);
        }
        r->pieces = pieces;
        r->lengths = lengths;
        r->piece_room = room;
    }
    r->pieces[r->piece_count] = (struct db_piece){ from, ini_line_place(&r->line, from, length) };
    r->lengths[r->piece_count++] = length;
    r->value_length += length + (r->piece_count > 1);
}

static void refuse_line(struct reading *r)
{
    finish_key(r);
    r->skip_more = true;
    if (r->section)
        r->section->cut = true;
}

static void start_section(struct reading *r)
{
    const struct ini_line *line = &r->line;
    struct db_ini_section section = { 0 };
    const struct db_ini_section *other;
    void *kept = NULL;
    char *kind;

    finish_key(r);
    r->section = NULL;
    r->skip_more = false;
    r->title = VOID_TITLE;
    if (line->kind == INI_LINE_BAD_SECTION || !words_of(r, line->from, line->length, &section.words))
        return;
    section.title = r->title = section.words.text;
    section.at = section.words.pieces[0].at;
    other = db_ini_find(r->ini, section.title);
    if (other) {
        db_mistakes_add(r->ini->mistakes, section.at, "keep one of the two, or give this one a name of its own",
                        "[%s] stands in %s, line %u, already", section.title, other->at.file, other->at.line);
        return;
    }
    kind = db_arena_text(r->ini->scratch, section.words.text, section.words.length);
    if (!kind) {
        r->status = DB_FULL;
        return;
    }
    section.kind = kind;
    char *blank = strchr(kind, ' ');
    if (blank) {
        *blank = '\0';
        section.id = blank + 1;
    }
    const enum db_status status = db_shelf_add(&r->ini->sections, &section, sizeof section, &kept);
    if (status == DB_FULL && r->ini->sections.count >= DB_LIMIT_SECTIONS) {
        db_mistakes_add(r->ini->mistakes, section.at, "", "there are more than %d sections", DB_LIMIT_SECTIONS);
        r->title = section.title;
        return;
    }
    if (status != DB_OK)
        r->status = status;
    r->section = kept;
}

/* Room for one more key of the section; NULL with a mistake or DB_FULL. */
static struct db_ini_key *new_key(struct reading *r)
{
    struct db_ini_section *section = r->section;

    if (section->key_count == KEYS_MOST) {
        db_mistakes_add(r->ini->mistakes, ini_line_place(&r->line, r->line.key_from, r->line.key_length), "",
                        "[%s] has more than %d keys", section->title, KEYS_MOST);
        return NULL;
    }
    if (section->key_count == section->key_room) {
        const size_t room = section->key_room ? 2 * section->key_room : 8;
        struct db_ini_key *keys = db_arena_get(r->ini->scratch, room, sizeof *keys);

        if (!keys) {
            r->status = DB_FULL;
            return NULL;
        }
        if (section->key_count)
            memcpy(keys, section->keys, section->key_count * sizeof *keys);
        section->keys = keys;
        section->key_room = room;
    }
    return &section->keys[section->key_count];
}

static void start_key(struct reading *r)
{
    const struct ini_line *line = &r->line;
    struct db_words key;

    finish_key(r);
    r->skip_more = false;
    r->piece_count = r->value_length = 0;
    if (!words_of(r, line->key_from, line->key_length, &key))
        return;
    r->expected = (struct expected){ true, false, r->title, key.text, line->text + line->from, line->length };
    r->key_name = key.text;
    if (!*r->title && !r->told_homeless) {
        r->told_homeless = true;
        db_mistakes_add(r->ini->mistakes, key.pieces[0].at, "write a section above it, such as [garden]",
                        "%s stands before any section", key.text);
    }
    if (!r->section)
        return;
    for (size_t i = 0; i < r->section->key_count; i++)
        if (strcmp(r->section->keys[i].key.text, key.text) == 0) {
            db_mistakes_add(r->ini->mistakes, key.pieces[0].at, "keep one of the two",
                            "%s is given twice, first in line %u", key.text, r->section->keys[i].key.pieces[0].at.line);
            return;
        }
    r->key = new_key(r);
    if (r->key) {
        r->section->key_count++;
        r->key->key = key;
        add_piece(r, line->from, line->length);
    }
}

static void go_on(struct reading *r)
{
    const struct ini_line *line = &r->line;

    r->expected = (struct expected){ true, false, r->title, r->key_name, line->text + line->from, line->length };
    add_piece(r, line->from, line->length);
}

static void disagree(struct reading *r, const char *what)
{
    db_mistakes_add(r->ini->mistakes, ini_line_place(&r->line, 0, r->line.size), "write it in a simpler way",
                    "the library that reads INI files %s", what);
    if (r->section)
        r->section->cut = true;
}

static void check_called(struct reading *r)
{
    if (r->expected.call && !r->expected.called)
        disagree(r, "does not see a key and its value in this line");
    r->expected = (struct expected){ 0 };
}

/* The next line of the file into r->line; false at its end. */
static bool take_line(struct reading *r)
{
    char *end;

    if (r->next >= r->end || r->status != DB_OK)
        return false;
    end = memchr(r->next, '\n', (size_t) (r->end - r->next));
    if (!end)
        end = r->end;
    r->line = (struct ini_line){ .file = r->file,
                                 .number = r->line.number + 1,
                                 .base = r->base,
                                 .text = r->next,
                                 .size = (size_t) (end - r->next) };
    r->next = end + (end < r->end);
    return true;
}

/* Hands inih one line at a time, so that its handler can be told which line it speaks of; a line that was refused is
 * handed over as an empty one. */
static char *next_line(char *buffer, int room, void *context)
{
    struct reading *r = context;
    struct ini_line *line = &r->line;

    check_called(r);
    if (!take_line(r))
        return NULL;
    const struct ini_above above = { r->key_name != NULL, r->skip_more };
    ini_line_scan(line, above, &r->ini->shape, r->ini->mistakes, r->ini->scratch);
    switch (line->kind) {
    case INI_LINE_NOTHING:
        break;
    case INI_LINE_REFUSED:
        refuse_line(r);
        break;
    case INI_LINE_SECTION:
    case INI_LINE_BAD_SECTION:
        start_section(r);
        break;
    case INI_LINE_KEY:
        start_key(r);
        break;
    case INI_LINE_MORE:
        go_on(r);
        break;
    }
    const bool bad_section = line->kind == INI_LINE_BAD_SECTION;
    const bool silent = line->kind == INI_LINE_NOTHING || line->kind == INI_LINE_REFUSED;
    /* A comment is handed over as it is: that inih takes it for one is part of the check. */
    const bool comment = line->kind == INI_LINE_NOTHING && !line->ended;
    const int wrote = bad_section          ? snprintf(buffer, (size_t) room, "[" VOID_TITLE "]\n")
                      : silent && !comment ? snprintf(buffer, (size_t) room, "\n")
                                           : snprintf(buffer, (size_t) room, "%.*s\n", (int) (line->size - line->start),
                                                      line->text + line->start);
    if (wrote < 0 || wrote >= room) {
        disagree(r, "has no room for this line");
        (void) snprintf(buffer, (size_t) room, "\n");
    }
    return buffer;
}

static int on_value(void *context, const char *section, const char *name, const char *value)
{
    struct reading *r = context;
    struct expected *e = &r->expected;

    if (!e->call || e->called)
        disagree(r, "sees a key in a line that has none");
    else if (strcmp(section, e->section) != 0)
        disagree(r, "puts this line into another section");
    else if (strcmp(name, e->key) != 0)
        disagree(r, "sees another key in this line");
    else if (strlen(value) != e->value_length || memcmp(value, e->value, e->value_length) != 0)
        disagree(r, "sees another value in this line");
    e->called = true;
    return 1;
}

/* True when the bytes cannot be a text in UTF-8 at all: one mistake then says it for the whole file. */
static bool is_foreign(struct db_ini *ini, const char *file, const char *text, size_t length)
{
    const struct db_place whole = { .file = file };
    const unsigned char *b = (const unsigned char *) text;

    if (length >= 2 && ((b[0] == 0xFF && b[1] == 0xFE) || (b[0] == 0xFE && b[1] == 0xFF)))
        db_mistakes_add(ini->mistakes, whole, "save it as UTF-8", "this file is written in UTF-16");
    else if (memchr(text, '\0', length))
        db_mistakes_add(ini->mistakes, whole, "save it as plain text in UTF-8",
                        "this file holds NUL bytes, so it is no text");
    else if (memchr(text, '\r', length) && !memchr(text, '\n', length))
        db_mistakes_add(ini->mistakes, whole, "save it with line feeds (Unix) or CR LF (Windows)",
                        "this file ends its lines with lone carriage returns");
    else
        return false;
    return true;
}

/* Blanks that every line begins with: a plan that was copied out of a page with its margin is still a plan. */
static size_t margin(const char *text, const char *end)
{
    size_t least = SIZE_MAX;

    for (const char *line = text; line < end;) {
        const char *stop = memchr(line, '\n', (size_t) (end - line));
        const size_t size = (size_t) ((stop ? stop : end) - line);
        size_t blanks = 0;

        while (blanks < size && (line[blanks] == ' ' || line[blanks] == '\t'))
            blanks++;
        if (blanks < size && blanks < least)
            least = blanks;
        line += size + 1;
    }
    return least == SIZE_MAX ? 0 : least;
}

enum db_status db_ini_read(struct db_ini *ini, const char *file, char *text, size_t length)
{
    struct reading r = { .ini = ini, .file = file, .title = "", .status = DB_OK };
    int rc;

    if (is_foreign(ini, file, text, length))
        return DB_OK;
    length = db_file_plain_ends(text, length);
    if (length >= 3 && memcmp(text, "\xEF\xBB\xBF", 3) == 0) { /* a byte order mark says UTF-8 and no more */
        text += 3;
        length -= 3;
    }
    r.next = text;
    r.end = text + length;
    r.base = margin(text, r.end);
    rc = ini_parse_stream(next_line, &r, on_value, &r);
    check_called(&r);
    finish_key(&r);
    if (r.status == DB_OK && rc != 0)
        db_mistakes_add(ini->mistakes, (struct db_place){ .file = file, .line = rc > 0 ? (unsigned) rc : 0 }, "",
                        "the library that reads INI files refuses this line");
    return r.status;
}
