/* Names, facts of the crop, functions. */
#define DB_PURE
#include "rules/parse.h"

#include "base/text.h"

#include <string.h>

#include "base/banned.h"

static bool needs_day(struct db_parser *p, const struct db_token *t, const char *instead)
{
    if (p->has_day > 0)
        return true;
    DB_PARSE_MISTAKE(p, t->from, t->width, instead, "there is no day in question in %s, so \"%.*s\" is not known",
                     p->reading->key, (int) t->width, db_parse_text(p, t->from));
    return false;
}

/* Sets `instead` for a name that is not known. */
static void suggest(const struct db_parser *p, const char *word, char *instead, size_t size)
{
    const struct db_node raised = { .op = DB_OP_RAISED }, cover = { .op = DB_OP_COVER };
    const char *names[160], *near = NULL;
    const struct db_name_row *row;
    size_t count = 0;
    struct db_text text = db_text_in(instead, size);

    for (const char *const *w = db_choice(&raised); *w; w++)
        if (strcmp(*w, word) == 0) {
            db_text_add_format(&text, "write raised is %s", word);
            return;
        }
    for (const char *const *w = db_choice(&cover); *w; w++)
        if (strcmp(*w, word) == 0) {
            db_text_add_format(&text, "write cover is %s", word);
            return;
        }
    for (const char *const *w = p->reading->note_words; *w; w++)
        if (strcmp(*w, word) == 0) {
            db_text_add_format(&text, "write last(%s) for its date or noted(%s) for whether it is", word, word);
            return;
        }
    if (db_fact_find(word, strlen(word)) >= 0) {
        db_text_add_format(&text, "write crop.%s", word);
        return;
    }
    for (size_t i = 0; (row = db_name_at(i)); i++)
        if (!row->in_template || p->reading->in_template)
            names[count++] = row->name;
    near = db_nearest(word, names, count);
    if (near) {
        db_text_add_format(&text, "did you mean %s?", near);
        return;
    }
    for (size_t i = 0; i < DB_FACT_COUNT; i++)
        names[i] = db_fact_row((enum db_fact) i)->key;
    near = db_nearest(word, names, DB_FACT_COUNT);
    if (near)
        db_text_add_format(&text, "did you mean crop.%s?", near);
    else if (strchr(word, '-'))
        db_text_add(&text, "put spaces round a minus");
}

static int bad_leaf(struct db_parser *p, const struct db_token *t)
{
    return db_parse_add(p, DB_OP_BAD, t->from, -1, -1);
}

static int unknown(struct db_parser *p, const struct db_token *t)
{
    char word[64] = "", instead[200] = "";

    if (t->width < sizeof word) {
        memcpy(word, db_parse_text(p, t->from), t->width);
        word[t->width] = '\0';
        suggest(p, word, instead, sizeof instead);
    }
    DB_PARSE_MISTAKE(p, t->from, t->width, instead, "\"%.*s\" is not known", (int) t->width, db_parse_text(p, t->from));
    return bad_leaf(p, t);
}

/* crop.FACT, crop.FACT.least, crop.FACT.most */
static int fact(struct db_parser *p, const struct db_token *t)
{
    const char *key = db_parse_text(p, t->from) + strlen("crop."), *names[DB_FACT_COUNT], *dot;
    size_t length = t->width - strlen("crop."), tail = 0;
    const size_t at = t->from + strlen("crop.");
    enum db_end end = DB_END_MIDDLE;
    char word[64] = "", instead[100] = "";

    dot = memchr(key, '.', length);
    if (dot) {
        tail = length - (size_t) (dot - key) - 1;
        length = (size_t) (dot - key);
        if (db_text_is(dot + 1, tail, "least"))
            end = DB_END_LEAST;
        else if (db_text_is(dot + 1, tail, "most"))
            end = DB_END_MOST;
        else {
            DB_PARSE_MISTAKE(p, at + length + 1, tail, "write .least or .most", "a fact has no \"%.*s\"", (int) tail,
                             dot + 1);
            return bad_leaf(p, t);
        }
    }

    const int index = db_fact_find(key, length);

    if (index < 0) {
        for (size_t i = 0; i < DB_FACT_COUNT; i++)
            names[i] = db_fact_row((enum db_fact) i)->key;
        if (length < sizeof word) {
            memcpy(word, key, length);
            word[length] = '\0';
        }

        const char *near = db_nearest(word, names, DB_FACT_COUNT);
        struct db_text text = db_text_in(instead, sizeof instead);

        if (near)
            db_text_add_format(&text, "did you mean crop.%s?", near);
        DB_PARSE_MISTAKE(p, at, length, instead, "crops have no fact \"%.*s\"", (int) length, key);
        return bad_leaf(p, t);
    }

    const enum db_kind kind = db_fact_row((enum db_fact) index)->kind;

    if (end != DB_END_MIDDLE && (kind == DB_KIND_WORD || kind == DB_KIND_TRUTH)) {
        DB_PARSE_MISTAKE(p, at + length + 1, tail, "leave it out", "crop.%.*s is %s and has no range", (int) length,
                         key, db_kind_name((int) kind));
        return bad_leaf(p, t);
    }

    const int node = db_parse_add(p, DB_OP_FACT, t->from, -1, -1);

    if (node >= 0) {
        p->nodes[node].index = (unsigned char) index;
        p->nodes[node].kind = (unsigned char) kind;
        p->nodes[node].end = (unsigned char) end;
    }
    return node;
}

/* -- functions ----------------------------------------------------------------------------------------------------- */

static bool comma(struct db_parser *p, const struct db_name_row *row, const struct db_token *name)
{
    char instead[80];
    struct db_text text = db_text_in(instead, sizeof instead);

    if (p->stop)
        return false;
    if (db_parse_is_sign(p, ',')) {
        db_parse_take(p);
        return true;
    }
    db_text_add_format(&text, "write it as %s", row->usage);
    if (db_parse_is_sign(p, ')'))
        DB_PARSE_MISTAKE(p, name->from, p->token.from + 1 - name->from, instead, "%s wants %s values", row->name,
                         row->takes == DB_TAKES_AFTER || row->takes == DB_TAKES_WARMED ? "three" : "two");
    else
        return db_parse_stray(p, "a comma", instead) >= 0;
    return db_parse_halt(p) >= 0;
}

static bool closed(struct db_parser *p, const struct db_name_row *row, const struct db_token *name)
{
    char instead[80];
    struct db_text text = db_text_in(instead, sizeof instead);

    if (p->stop)
        return false;
    if (db_parse_is_sign(p, ')')) {
        db_parse_take(p);
        return true;
    }
    db_text_add_format(&text, "write it as %s", row->usage);
    if (db_parse_is_sign(p, ',')) {
        static const char *const many[] = { "",           "one value",   "one value", "two values", "three values",
                                            "two values", "three values" };

        DB_PARSE_MISTAKE(p, p->token.from, 1, instead, "%s wants %s and no more", row->name, many[row->takes]);
        return db_parse_halt(p) >= 0;
    }
    (void) name;
    return db_parse_stray(p, "a closing parenthesis", instead) >= 0;
}

static int days(struct db_parser *p)
{
    const size_t from = p->token.from;
    const int first = db_parse_sum(p);
    const struct db_token sign = p->token;

    if (p->stop)
        return -1;
    if (db_parse_is_word(p, "ahead") || db_parse_is_word(p, "back")) {
        const enum db_op op = db_parse_is_word(p, "ahead") ? DB_OP_AHEAD : DB_OP_BACK;

        if (!needs_day(p, &sign, "write the days as sown .. up"))
            return db_parse_halt(p);
        db_parse_take(p);
        return db_parse_add_signed(p, op, &sign, from, first, -1);
    }
    if (!db_parse_is_sign(p, '.'))
        return db_parse_stray(p, "a run of days", "write 3 days ahead, 2 days back or sown .. up");
    db_parse_take(p);

    const int last = db_parse_sum(p);

    return db_parse_add_signed(p, DB_OP_SPAN, &sign, from, first, last);
}

/* What is looked at on each of several days: there `day` means something. */
static int each_day(struct db_parser *p, bool is_condition, const struct db_token *name)
{
    int at;

    if (p->days_deep == 2) {
        DB_PARSE_MISTAKE(p, name->from, name->width, "make it two rules",
                         "a look over days stands inside another, and that inside a third");
        return db_parse_halt(p);
    }
    p->days_deep++;
    p->has_day++;
    at = is_condition ? db_parse_condition(p) : db_parse_sum(p);
    p->has_day--;
    p->days_deep--;
    return at;
}

static int stage_of(struct db_parser *p, const struct db_name_row *row, int at)
{
    char word[32] = "", instead[60] = "";
    const char *names[DB_STAGE_COUNT];
    const struct db_token t = p->token;

    if (t.kind != DB_TOKEN_WORD)
        return db_parse_stray(p, "a stage", "write it as early(up)");
    if (t.width < sizeof word) {
        memcpy(word, db_parse_text(p, t.from), t.width);
        word[t.width] = '\0';
    }

    const int stage = db_stage_find(word);
    const struct db_name_row *own = db_name_find(word, strlen(word));

    db_parse_take(p);
    if (own && own->op == DB_OP_OWN && own->kind == DB_KIND_DATE) {
        p->nodes[at].op = DB_OP_OWN;
        p->nodes[at].index = own->index;
        p->nodes[at].end = row->op == DB_OP_EARLY ? DB_END_LEAST : DB_END_MOST;
        return at;
    }
    if (stage < 0) {
        for (int i = 0; i < DB_STAGE_COUNT; i++)
            names[i] = db_stage_word((enum db_stage) i);

        const char *near = db_nearest(word, names, DB_STAGE_COUNT);
        struct db_text text = db_text_in(instead, sizeof instead);

        if (near)
            db_text_add_format(&text, "did you mean %s(%s)?", row->name, near);
        DB_PARSE_MISTAKE(p, t.from, t.width, instead, "\"%.*s\" is not a stage", (int) t.width,
                         db_parse_text(p, t.from));
        p->nodes[at].op = DB_OP_BAD;
        return at;
    }
    p->nodes[at].index = (unsigned char) stage;
    return at;
}

static int note_of(struct db_parser *p, const struct db_name_row *row, int at)
{
    const struct db_token t = p->token;
    char word[64] = "", instead[100] = "";
    struct db_text text = db_text_in(instead, sizeof instead);

    if (t.kind != DB_TOKEN_WORD)
        return db_parse_stray(p, "the word of a note", "write it as noted(thinned)");
    db_parse_take(p);
    if (t.width < sizeof word) {
        memcpy(word, db_parse_text(p, t.from), t.width);
        word[t.width] = '\0';
    }
    for (const char *const *w = p->reading->note_words; *w; w++)
        if (strcmp(*w, word) == 0) {
            const int stage = db_stage_find(word);

            p->nodes[at].word = *w;
            p->nodes[at].index = (unsigned char) (stage < 0 ? DB_STAGE_COUNT : stage);
            return at;
        }

    const char *near = db_nearest_of(word, p->reading->note_words);

    if (near)
        db_text_add_format(&text, "did you mean %s(%s)?", row->name, near);
    else
        db_text_add(&text, "write a stage, or what some rule's `records` says");
    DB_PARSE_MISTAKE(p, t.from, t.width, instead, "no rule records \"%.*s\"", (int) t.width, db_parse_text(p, t.from));
    p->nodes[at].op = DB_OP_BAD;
    return at;
}

/* "March". False: a mistake was added. */
static bool month_of(struct db_parser *p, unsigned char *ret)
{
    static const char *const names[] = { "January", "February",  "March",   "April",    "May",      "June", "July",
                                         "August",  "September", "October", "November", "December", NULL };
    const struct db_token t = p->token;
    char word[32] = "", instead[60] = "";
    struct db_text text = db_text_in(instead, sizeof instead);

    for (unsigned char m = 0; t.kind == DB_TOKEN_WORD && names[m]; m++)
        if (db_text_is(db_parse_text(p, t.from), t.width, names[m])) {
            db_parse_take(p);
            *ret = (unsigned char) (m + 1);
            return true;
        }
    if (t.kind != DB_TOKEN_WORD)
        return db_parse_stray(p, "a month", "write it as March") >= 0;
    if (t.width < sizeof word)
        memcpy(word, db_parse_text(p, t.from), t.width);

    const char *near = db_nearest_of(word, names);

    db_text_add_format(&text, near ? "did you mean %s?" : "write it as %s", near ? near : "March");
    DB_PARSE_MISTAKE(p, t.from, t.width, instead, "\"%.*s\" is not a month", (int) t.width, db_parse_text(p, t.from));
    return db_parse_halt(p) >= 0;
}

static int call(struct db_parser *p, const struct db_name_row *row, const struct db_token *name)
{
    char instead[80];
    struct db_text text = db_text_in(instead, sizeof instead);
    int a = -1, b = -1, c = -1, at;
    unsigned char month = 0;

    db_text_add_format(&text, "write it as %s", row->usage);
    if (!db_parse_is_sign(p, '(')) {
        DB_PARSE_MISTAKE(p, name->from, name->width, instead, "%s wants values in parentheses", row->name);
        return db_parse_halt(p);
    }
    if (!db_parse_deeper(p))
        return -1;
    db_parse_take(p);
    if (db_parse_is_sign(p, ')')) {
        DB_PARSE_MISTAKE(p, name->from, p->token.from + 1 - name->from, instead, "%s wants values", row->name);
        return db_parse_halt(p);
    }
    switch (row->takes) {
    case DB_TAKES_STAGE:
    case DB_TAKES_WORD:
        at = db_parse_add(p, row->op, name->from, -1, -1);
        if (at < 0)
            return -1;
        at = row->takes == DB_TAKES_STAGE ? stage_of(p, row, at) : note_of(p, row, at);
        if (at < 0 || !closed(p, row, name))
            return -1;
        p->depth--;
        p->nodes[at].kind = p->nodes[at].op == DB_OP_BAD ? DB_KIND_BAD : row->kind;
        p->nodes[at].width = (unsigned) (p->last_end - name->from);
        p->nodes[at].sign_width = (unsigned) name->width;
        return at;
    case DB_TAKES_DAYS:
        a = each_day(p, row->op == DB_OP_COUNT, name);
        if (!comma(p, row, name))
            return -1;
        b = days(p);
        break;
    case DB_TAKES_AFTER:
        a = db_parse_sum(p);
        if (!comma(p, row, name))
            return -1;
        b = db_parse_sum(p);
        if (!comma(p, row, name))
            return -1;
        c = each_day(p, true, name);
        break;
    default:
        a = db_parse_sum(p);
        if (!comma(p, row, name))
            return -1;
        b = db_parse_sum(p);
        if (row->takes == DB_TAKES_WARMED && (!comma(p, row, name) || !month_of(p, &month)))
            return -1;
        break;
    }
    if (!closed(p, row, name))
        return -1;
    p->depth--;
    at = db_parse_add_signed(p, row->op, name, name->from, a, b);
    if (at >= 0) {
        p->nodes[at].c = (short) c;
        p->nodes[at].index = month;
    }
    return at;
}

int db_parse_name(struct db_parser *p)
{
    const struct db_token t = p->token;
    const struct db_name_row *row = db_name_find(db_parse_text(p, t.from), t.width);

    db_parse_take(p);
    if (t.width > strlen("crop.") && strncmp(db_parse_text(p, t.from), "crop.", strlen("crop.")) == 0)
        return fact(p, &t);
    if (!row)
        return unknown(p, &t);
    if (row->takes != DB_TAKES_NONE)
        return call(p, row, &t);
    if (row->in_template && !p->reading->in_template) {
        DB_PARSE_MISTAKE(p, t.from, t.width, row->op == DB_OP_CROP ? "write crop.name or another of its facts" : "",
                         "\"%s\" is for texts in braces", row->name);
        return bad_leaf(p, &t);
    }
    if (row->of_day &&
        !needs_day(p, &t,
                   row->op == DB_OP_DAY ? "write today, or a stage" : "look over days, as in max(soil, sown .. up)"))
        return bad_leaf(p, &t);
    if (db_parse_is_sign(p, '(')) {
        DB_PARSE_MISTAKE(p, t.from, t.width, "leave the parentheses out", "%s takes no values", row->name);
        return db_parse_halt(p);
    }

    const int at = db_parse_add(p, row->op, t.from, -1, -1);

    if (at >= 0) {
        p->nodes[at].index = row->index;
        p->nodes[at].kind = row->kind;
    }
    return at;
}
