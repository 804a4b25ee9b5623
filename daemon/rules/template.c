#define DB_PURE
#include "rules/template.h"

#include "base/limits.h"
#include "base/text.h"

#include <math.h>
#include <string.h>

#include "base/banned.h"

enum { PARTS_MOST = 100, FILLED_MOST = 64 * 1024 };

static bool wrong(struct db_reading *r, size_t from, size_t width, const char *instead, const char *what)
{
    db_mistakes_add(r->mistakes, db_words_place(r->words, from, width), instead, "%s", what);
    return false;
}

/* One `{...}` that begins at `open`. Sets *ret_end to the byte after it; false with *ret_end 0: give up. */
static bool read_value(struct db_reading *r, size_t open, size_t *ret_end, struct db_expr *ret)
{
    const char *text = r->words->text;
    size_t end = open + 1, from = open + 1;

    while (end < r->words->length && text[end] != '}' && text[end] != '{')
        end++;
    if (end == r->words->length || text[end] == '{') {
        *ret_end = 0;
        return wrong(r, open, 1, "write } after the value", "this brace is never closed");
    }
    *ret_end = end + 1;
    while (from < end && (text[from] == ' ' || text[from] == '\t' || text[from] == '\n'))
        from++;
    if (from == end)
        return wrong(r, open, end + 1 - open, "write a value between them, as in {crop}", "these braces are empty");
    r->from = open + 1;
    r->to = end;
    if (!db_expr_read(r, ret))
        return false;

    const unsigned char kind = ret->nodes[ret->root].kind;

    if (kind == DB_KIND_RATE || kind == DB_KIND_DAYS)
        return wrong(r, open, end + 1 - open, "write a value, as in {crop.thin}", "a rate is no value");
    return true;
}

static bool keep_text(struct db_part *parts, size_t *count, const char *from, size_t length)
{
    if (length > 0)
        parts[(*count)++] = (struct db_part){ .text = from, .length = length };
    return true;
}

bool db_template_read(struct db_reading *r, struct db_wording *ret)
{
    struct db_part parts[PARTS_MOST + 1];
    const char *text = r->words->text;
    size_t count = 0, at = 0, begun = 0;
    bool right = true;

    while (at < r->words->length) {
        if (text[at] == '}') {
            right = wrong(r, at, 1, "write { before the value, or leave it out", "this brace was never opened");
            at++;
            continue;
        }
        if (text[at] != '{') {
            at++;
            continue;
        }
        if (count + 2 > PARTS_MOST)
            return wrong(r, at, 1, "write fewer of them", "a text holds at most 50 values");
        keep_text(parts, &count, text + begun, at - begun);

        struct db_expr value = { 0 };
        size_t end;

        right = read_value(r, at, &end, &value) && right;
        if (r->full || end == 0)
            return false;
        parts[count++] = (struct db_part){ .value = value };
        at = begun = end;
    }
    keep_text(parts, &count, text + begun, at - begun);

    struct db_part *kept = db_arena_get(r->arena, count, sizeof *kept);

    if (!kept) {
        r->full = true;
        return false;
    }
    memcpy(kept, parts, count * sizeof *kept);
    *ret = (struct db_wording){ kept, count };
    return right;
}

/* -- filling in ---------------------------------------------------------------------------------------------------- */

void db_text_add_day(struct db_text *text, struct db_date date, struct db_date today)
{
    int year, month, day, this_year = 0;

    db_date_parts(date, &year, &month, &day);
    if (db_date_known(today))
        db_date_parts(today, &this_year, NULL, NULL);
    db_text_add_int(text, day);
    db_text_add(text, " ");
    db_text_add(text, db_date_month_name(month, false));
    if (year != this_year) {
        db_text_add(text, " ");
        db_text_add_int(text, year);
    }
}

struct filling {
    struct db_text text;
    bool sentences, gap, lost; /* gap: the value just before was empty; lost: this sentence has a value unknown */
    bool hole;                 /* a value is unknown and could not be left out */
    size_t sentence;           /* where the sentence begins */
};

static void cut_back(struct filling *f, size_t length)
{
    f->text.length = length;
    f->text.data[length] = '\0';
}

static char last_of(const struct filling *f)
{
    return f->text.length > 0 ? f->text.data[f->text.length - 1] : ' ';
}

/* Adds a byte of the rule's own text, keeping spaces and what an empty value left behind tidy. */
static void put(struct filling *f, char c)
{
    if (c == '\n' || c == '\t' || c == '\r')
        c = ' ';
    if (f->gap && c == ')' && last_of(f) == '(') {
        cut_back(f, f->text.length - 1);
        return;
    }
    if (f->gap && last_of(f) == ' ' && f->text.length > 0 && strchr(",.;:)", c))
        cut_back(f, f->text.length - 1);
    if (c == ' ' && last_of(f) == ' ')
        return;
    f->gap = false;
    db_text_add_part(&f->text, &c, 1);
}

static void end_sentence(struct filling *f)
{
    if (f->lost)
        cut_back(f, f->sentence);
    f->lost = false;
    f->sentence = f->text.length;
}

/* How many bytes from `at` on are ones that put() adds as they are and that end nothing: most of a text. */
static size_t plain_run(const char *at, const char *end)
{
    const char *from = at;

    while (at < end && (unsigned char) *at > ' ' && *at != ',' && *at != '.' && *at != ';' && *at != ':' &&
           *at != ')' && *at != '?')
        at++;
    return (size_t) (at - from);
}

/* A point ends a sentence and a comma a clause when a space or nothing follows; the comma goes with the clause after it. */
static void put_text(struct filling *f, const struct db_part *part)
{
    for (size_t i = 0; i < part->length; i++) {
        const size_t run = f->gap ? 0 : plain_run(part->text + i, part->text + part->length);

        if (run) {
            db_text_add_part(&f->text, part->text + i, run);
            i += run - 1;
            continue;
        }
        const char c = part->text[i];
        const bool apart = i + 1 == part->length || part->text[i + 1] == ' ' || part->text[i + 1] == '\n';

        if (!f->sentences && c == ',' && apart)
            end_sentence(f);
        put(f, c);
        if (f->sentences && (c == '.' || c == '?') && apart)
            end_sentence(f);
    }
}

/* "5 to 8 cm": the unit is not said twice. "1 or 2" seeds: there is no number between them. */
static void put_range(struct db_text *text, double low, double high, enum db_kind kind, bool imperial)
{
    char a[64], b[64];
    const char *a_unit, *b_unit;

    (void) db_amount_text((struct db_amount){ low, kind }, imperial, a, sizeof a);
    (void) db_amount_text((struct db_amount){ high, kind }, imperial, b, sizeof b);
    a_unit = strchr(a, ' ');
    b_unit = strchr(b, ' ');
    if (strcmp(a, b) != 0) {
        const bool same = a_unit && b_unit && strcmp(a_unit, b_unit) == 0;

        db_text_add_part(text, a, same ? (size_t) (a_unit - a) : strlen(a));
        db_text_add(text, kind == DB_KIND_NUMBER && high - low <= 1 ? " or " : " to ");
    }
    db_text_add(text, b);
}

/* False: not known. */
static bool put_value(struct db_text *text, const struct db_expr *value, const struct db_scope *scope)
{
    const struct db_node *n = &value->nodes[value->root];
    const struct db_sowing *sowing = db_garden_sowing(scope->view->garden, scope->sowing);
    const bool imperial = db_garden_site(scope->view->garden)->imperial;
    char buffer[64];

    if (n->kind == DB_KIND_WORD) {
        const char *word = db_node_word(value->nodes, value->root, scope, scope->day.day);

        db_text_add(text, word ? word : "");
        return word != NULL;
    }

    const double x = db_expr_value(value, scope);

    if (isnan(x) || (n->kind == DB_KIND_DATE && fabs(x) > 4e6)) /* not known, or far outside the calendar */
        return false;
    if (n->kind == DB_KIND_DATE)
        db_text_add_day(text, (struct db_date){ (int32_t) floor(x + 0.5) }, scope->view->today);
    else if (n->op == DB_OP_MONTH)
        db_text_add(text, db_date_month_name((int) x, false));
    else if (n->op == DB_OP_FACT && n->end == DB_END_MIDDLE && n->kind != DB_KIND_TRUTH)
        put_range(text, sowing->crop->low[n->index], sowing->crop->high[n->index], (enum db_kind) n->kind, imperial);
    else {
        (void) db_amount_text((struct db_amount){ x, (enum db_kind) n->kind }, imperial, buffer, sizeof buffer);
        db_text_add(text, buffer);
    }
    return true;
}

static void put_part(struct filling *f, const struct db_part *part, const struct db_scope *scope)
{
    const size_t before = f->text.length;

    if (part->text) {
        put_text(f, part);
        return;
    }

    const struct db_node *n = &part->value.nodes[part->value.root];
    const bool known = put_value(&f->text, &part->value, scope);
    const bool may_lack =
        n->kind == DB_KIND_WORD && n->op != DB_OP_OWN_WORD; /* as {variety}, with nothing in its place */

    f->gap = f->text.length == before;
    if (known)
        return;
    if (f->sentences || (f->sentence > 0 && !may_lack))
        f->lost = true;
    else if (!may_lack) {
        db_text_add(&f->text, "?");
        f->hole = true;
    }
}

bool db_template_is_whole(const struct db_wording *line, const struct db_scope *scope)
{
    char words[2048];
    struct filling f = { .text = db_text_in(words, sizeof words) };

    for (size_t i = 0; i < line->count && !f.hole; i++)
        put_part(&f, &line->parts[i], scope);
    return !f.hole;
}

const char *db_template_fill(const struct db_wording *filled, bool sentences, const struct db_scope *scope,
                             struct db_arena *into)
{
    char small[2048], *large = NULL;
    size_t room = sizeof small;

    for (;;) {
        struct filling f = { .text = db_text_in(large ? large : small, room), .sentences = sentences };

        for (size_t i = 0; i < filled->count; i++)
            put_part(&f, &filled->parts[i], scope);
        end_sentence(&f);
        while (f.text.length > 0 && last_of(&f) == ' ')
            cut_back(&f, f.text.length - 1);
        if (!f.text.cut || room >= FILLED_MOST)
            return large ? large : db_arena_text(into, small, f.text.length);
        room *= 4;
        large = db_arena_get(into, room, 1);
        if (!large)
            return NULL;
    }
}
