/* A parser by recursive descent: one function a level of binding. A slip in the grammar ends the reading of this value;
 * a name that is not known does not, so that the rest of the value is looked at too. */
#define DB_PURE
#include "rules/parse.h"

#include "base/limits.h"
#include "base/text.h"

#include <string.h>

#include "base/banned.h"

const char *db_parse_text(const struct db_parser *p, size_t from)
{
    return p->reading->words->text + from;
}

void db_parse_take(struct db_parser *p)
{
    p->last_end = p->token.from + p->token.width;
    p->token = db_lex(&p->lexer);
}

bool db_parse_is_sign(const struct db_parser *p, char sign)
{
    return p->token.kind == DB_TOKEN_SIGN && p->token.sign == sign;
}

bool db_parse_is_word(const struct db_parser *p, const char *word)
{
    return p->token.kind == DB_TOKEN_WORD && db_text_is(db_parse_text(p, p->token.from), p->token.width, word);
}

/* The word that comes after the next token, without taking either. */
static struct db_token peek(const struct db_parser *p)
{
    struct db_lexer ahead = p->lexer;

    return db_lex(&ahead);
}

int db_parse_halt(struct db_parser *p)
{
    p->stop = true;
    p->wrong = true;
    return -1;
}

/* What stands at the next token is not what the grammar wants there. */
int db_parse_stray(struct db_parser *p, const char *wanted, const char *instead)
{
    const struct db_token *t = &p->token;

    if (p->stop)
        return -1;
    if (t->kind == DB_TOKEN_END)
        DB_PARSE_MISTAKE(p, p->last_end, 1, instead, "%s is missing at the end", wanted);
    else if (t->kind == DB_TOKEN_WRONG)
        DB_PARSE_MISTAKE(p, t->from, t->width, t->instead,
                         *db_parse_text(p, t->from) == '"' ? "'%.*s' has no meaning here"
                                                           : "\"%.*s\" has no meaning here",
                         (int) t->width, db_parse_text(p, t->from));
    else
        DB_PARSE_MISTAKE(p, t->from, t->width, instead, "%s should stand here, not \"%.*s\"", wanted, (int) t->width,
                         db_parse_text(p, t->from));
    return db_parse_halt(p);
}

/* A new node whose words begin at `from` and end with the last token taken. */
int db_parse_add(struct db_parser *p, enum db_op op, size_t from, int a, int b)
{
    if (p->stop)
        return -1;
    if (p->count == DB_LIMIT_NODES) {
        DB_PARSE_MISTAKE(p, from, p->last_end - from, "split it into two rules, or leave something out",
                         "%s asks for more than %d things at once", p->reading->key, DB_LIMIT_NODES);
        return db_parse_halt(p);
    }

    struct db_node *node = &p->nodes[p->count];

    *node = (struct db_node){ .op = (unsigned char) op,
                              .kind = DB_KIND_BAD,
                              .a = (short) a,
                              .b = (short) b,
                              .c = -1,
                              .from = (unsigned) from,
                              .width = (unsigned) (p->last_end - from),
                              .sign = (unsigned) from,
                              .sign_width = (unsigned) (p->last_end - from) };
    return p->count++;
}

int db_parse_add_signed(struct db_parser *p, enum db_op op, const struct db_token *sign, size_t from, int a, int b)
{
    const int at = db_parse_add(p, op, from, a, b);

    if (at >= 0) {
        p->nodes[at].sign = (unsigned) sign->from;
        p->nodes[at].sign_width = (unsigned) sign->width;
    }
    return at;
}

bool db_parse_deeper(struct db_parser *p)
{
    if (p->stop)
        return false;
    if (p->depth == DB_LIMIT_DEPTH) {
        DB_PARSE_MISTAKE(p, p->token.from, p->token.width, "write it with fewer parentheses",
                         "%s is nested more than %d levels deep", p->reading->key, DB_LIMIT_DEPTH);
        (void) db_parse_halt(p);
        return false;
    }
    p->depth++;
    return true;
}

/* -- operators, the tightest first --------------------------------------------------------------------------------- */

static int unary(struct db_parser *p)
{
    const struct db_token t = p->token;
    int at;

    if (p->stop)
        return -1;
    switch (t.kind) {
    case DB_TOKEN_NUMBER:
        return db_parse_amount(p, false, t.from);
    case DB_TOKEN_WORD:
        if (db_parse_is_word(p, "and") || db_parse_is_word(p, "or") || db_parse_is_word(p, "is") ||
            db_parse_is_word(p, "in") || db_parse_is_word(p, "not"))
            break;
        return db_parse_name(p);
    case DB_TOKEN_SIGN:
        if (t.sign == '(') {
            if (!db_parse_deeper(p))
                return -1;
            db_parse_take(p);
            at = db_parse_condition(p);
            p->depth--;
            if (p->stop)
                return -1;
            if (!db_parse_is_sign(p, ')'))
                return db_parse_stray(p, "a closing parenthesis", "");
            db_parse_take(p);
            return at;
        }
        if (t.sign == '-') {
            db_parse_take(p);
            if (p->token.kind == DB_TOKEN_NUMBER)
                return db_parse_amount(p, true, t.from);
            if (!db_parse_deeper(p))
                return -1;
            at = unary(p);
            p->depth--;
            return db_parse_add_signed(p, DB_OP_NEGATE, &t, t.from, at, -1);
        }
        break;
    default:
        break;
    }
    return db_parse_stray(p, "a value", "");
}

static int product(struct db_parser *p)
{
    const size_t from = p->token.from;
    int left = unary(p);

    while (!p->stop && (db_parse_is_sign(p, '*') || db_parse_is_sign(p, '/'))) {
        const struct db_token sign = p->token;

        db_parse_take(p);

        const int right = unary(p);

        left = db_parse_add_signed(p, sign.sign == '*' ? DB_OP_MULTIPLY : DB_OP_DIVIDE, &sign, from, left, right);
    }
    return left;
}

int db_parse_sum(struct db_parser *p)
{
    const size_t from = p->token.from;
    int left = product(p);

    while (!p->stop && (db_parse_is_sign(p, '+') || db_parse_is_sign(p, '-'))) {
        const struct db_token sign = p->token;

        db_parse_take(p);

        const int right = product(p);

        left = db_parse_add_signed(p, sign.sign == '+' ? DB_OP_ADD : DB_OP_SUBTRACT, &sign, from, left, right);
    }
    return left;
}

static bool ends_word(const struct db_parser *p)
{
    return p->token.kind != DB_TOKEN_WORD || db_parse_is_word(p, "and") || db_parse_is_word(p, "or");
}

/* One of the words of a list: "drill", "broad bean". Its text is copied; with a fixed choice it must be of it. */
static const char *list_word(struct db_parser *p, const struct db_node *subject, unsigned *mask)
{
    const char *const *choice = db_choice(subject);
    const size_t from = p->token.from;
    const char *word, *near;
    char instead[160];
    struct db_text text = db_text_in(instead, sizeof instead);

    if (ends_word(p)) {
        (void) db_parse_stray(p, "a word", choice ? "write one of its words, as in raised is drill" : "");
        return NULL;
    }
    while (!ends_word(p))
        db_parse_take(p);

    const size_t width = p->last_end - from;

    word = db_arena_text(p->reading->arena, db_parse_text(p, from), width);
    if (!word) {
        p->reading->full = true;
        (void) db_parse_halt(p);
        return NULL;
    }
    if (!choice)
        return word;
    for (unsigned i = 0; choice[i]; i++)
        if (strcmp(choice[i], word) == 0) {
            *mask |= 1U << i;
            return choice[i];
        }
    near = db_nearest_of(word, choice);
    if (near)
        db_text_add_format(&text, "did you mean %s?", near);
    else {
        db_text_add(&text, "write ");
        for (size_t i = 0; choice[i]; i++) {
            db_text_add(&text, i == 0 ? "" : choice[i + 1] ? ", " : " or ");
            db_text_add(&text, choice[i]);
        }
    }
    DB_PARSE_MISTAKE(p, from, width, instead, "%.*s is never \"%s\"", (int) subject->width,
                     db_parse_text(p, subject->from), word);
    return word;
}

/* Whether a comma goes on with the list and not with the next value of a function round it. */
static bool list_goes_on(const struct db_parser *p, const struct db_node *subject)
{
    const struct db_token after = peek(p);
    const char *const *choice = db_choice(subject);

    if (!db_parse_is_sign(p, ',') || after.kind != DB_TOKEN_WORD)
        return false;
    for (size_t i = 0; choice && choice[i]; i++)
        if (db_text_is(db_parse_text(p, after.from), after.width, choice[i]))
            return true;
    return !db_name_find(db_parse_text(p, after.from), after.width) &&
           strncmp(db_parse_text(p, after.from), "crop.", strlen("crop.")) != 0;
}

static int among(struct db_parser *p, int left, const struct db_token *sign, bool negative)
{
    enum { MOST = 32 };
    const struct db_node subject = p->nodes[left];
    const char *words[MOST];
    unsigned count = 0, mask = 0;

    for (;;) {
        const size_t from = p->token.from;
        const char *word = list_word(p, &subject, &mask);

        if (!word)
            return -1;
        if (count == MOST) {
            DB_PARSE_MISTAKE(p, from, p->last_end - from, "", "a list holds at most %d words", MOST);
            return db_parse_halt(p);
        }
        words[count++] = word;
        if (!list_goes_on(p, &subject))
            break;
        db_parse_take(p);
    }

    const char **kept = db_arena_get(p->reading->arena, count, sizeof *kept);

    if (!kept) {
        p->reading->full = true;
        return db_parse_halt(p);
    }
    memcpy(kept, words, count * sizeof *kept);

    const int at = db_parse_add_signed(p, negative ? DB_OP_NOT_AMONG : DB_OP_AMONG, sign, subject.from, left, -1);

    if (at >= 0) {
        p->nodes[at].words = kept;
        p->nodes[at].word_count = count;
        p->nodes[at].mask = mask;
    }
    return at;
}

/* After `is`: known, a list of words, or a value to compare with. */
static int is_what(struct db_parser *p, int left, size_t from)
{
    const struct db_token sign = p->token;
    bool negative = false;

    db_parse_take(p);
    if (db_parse_is_word(p, "not")) {
        negative = true;
        db_parse_take(p);
    }
    if (db_parse_is_word(p, "known")) {
        db_parse_take(p);
        return db_parse_add_signed(p, negative ? DB_OP_UNKNOWN : DB_OP_KNOWN, &sign, from, left, -1);
    }
    if (db_parse_is_word(p, "unknown")) {
        DB_PARSE_MISTAKE(p, p->token.from, p->token.width, "write is not known", "\"unknown\" is not known");
        return db_parse_halt(p);
    }
    if (p->nodes[left].kind == DB_KIND_WORD) {
        if (db_parse_is_word(p, "in")) /* "is in" reads well too */
            db_parse_take(p);
        return among(p, left, &sign, negative);
    }
    if (db_parse_is_word(p, "yes") || db_parse_is_word(p, "no")) {
        DB_PARSE_MISTAKE(p, sign.from, p->token.from + p->token.width - sign.from,
                         db_parse_is_word(p, "no") != negative ? "write not before it instead" : "leave it out",
                         "a condition needs no yes or no");
        return db_parse_halt(p);
    }
    if (p->nodes[left].op == DB_OP_BAD && p->token.kind == DB_TOKEN_WORD) {
        while (!ends_word(p)) /* most likely words for a name that was misspelt: look no closer */
            db_parse_take(p);
        return db_parse_add_signed(p, DB_OP_BAD, &sign, from, left, -1);
    }

    const int right = db_parse_sum(p);

    return db_parse_add_signed(p, negative ? DB_OP_UNEQUAL : DB_OP_EQUAL, &sign, from, left, right);
}

static bool comparing(const struct db_parser *p, enum db_op *ret)
{
    static const struct {
        char sign;
        enum db_op op;
    } signs[] = { { '<', DB_OP_BELOW },
                  { 'l', DB_OP_AT_MOST },
                  { '>', DB_OP_ABOVE },
                  { 'g', DB_OP_AT_LEAST },
                  { '=', DB_OP_EQUAL } };

    for (size_t i = 0; i < sizeof signs / sizeof signs[0]; i++)
        if (db_parse_is_sign(p, signs[i].sign)) {
            *ret = signs[i].op;
            return true;
        }
    return false;
}

static int comparison(struct db_parser *p)
{
    const size_t from = p->token.from;
    int left = db_parse_sum(p);
    enum db_op op = DB_OP_BAD;

    if (p->stop)
        return -1;

    const struct db_token sign = p->token;

    if (db_parse_is_word(p, "is"))
        left = is_what(p, left, from);
    else if (db_parse_is_word(p, "in") || (db_parse_is_word(p, "not") && peek(p).kind == DB_TOKEN_WORD &&
                                           db_text_is(db_parse_text(p, peek(p).from), peek(p).width, "in"))) {
        const bool negative = db_parse_is_word(p, "not");

        if (negative)
            db_parse_take(p);
        db_parse_take(p);
        if (p->nodes[left].kind == DB_KIND_WORD)
            return among(p, left, &sign, negative);
        if (p->nodes[left].op != DB_OP_BAD)
            DB_PARSE_MISTAKE(p, sign.from, sign.width, "write it as month >= 4 and month <= 9",
                             "only words can be in a list of words");
        return db_parse_halt(p);
    } else if (comparing(p, &op)) {
        db_parse_take(p);

        const struct db_token word = p->token;

        if (p->nodes[left].kind == DB_KIND_WORD && word.kind == DB_TOKEN_WORD) {
            DB_PARSE_MISTAKE(p, sign.from, sign.width, "write is", "words are compared with is");
            return db_parse_halt(p);
        }

        const int right = db_parse_sum(p);

        left = db_parse_add_signed(p, op, &sign, from, left, right);
    }
    if (!p->stop && (comparing(p, &op) || db_parse_is_word(p, "is"))) {
        DB_PARSE_MISTAKE(p, p->token.from, p->token.width, "join two comparisons with and",
                         "only two values can be compared");
        return db_parse_halt(p);
    }
    return left;
}

static int negation(struct db_parser *p)
{
    const struct db_token t = p->token;

    if (!db_parse_is_word(p, "not"))
        return comparison(p);
    if (!db_parse_deeper(p))
        return -1;
    db_parse_take(p);

    const int a = negation(p);

    p->depth--;
    return db_parse_add_signed(p, DB_OP_NOT, &t, t.from, a, -1);
}

static int both(struct db_parser *p)
{
    const size_t from = p->token.from;
    int left = negation(p);

    while (!p->stop && db_parse_is_word(p, "and")) {
        const struct db_token sign = p->token;

        db_parse_take(p);

        const int right = negation(p);

        left = db_parse_add_signed(p, DB_OP_AND, &sign, from, left, right);
    }
    return left;
}

int db_parse_condition(struct db_parser *p)
{
    const size_t from = p->token.from;
    int left;

    if (!db_parse_deeper(p))
        return -1;
    left = both(p);
    while (!p->stop && db_parse_is_word(p, "or")) {
        const struct db_token sign = p->token;

        db_parse_take(p);

        const int right = both(p);

        left = db_parse_add_signed(p, DB_OP_OR, &sign, from, left, right);
    }
    p->depth--;
    return left;
}

/* -- doors --------------------------------------------------------------------------------------------------------- */

static struct db_parser start(struct db_reading *reading, size_t from, struct db_node *nodes)
{
    struct db_parser p = { .reading = reading,
                           .lexer = { reading->words->text, from, reading->to },
                           .last_end = from,
                           .nodes = nodes,
                           .has_day = reading->has_day };

    p.token = db_lex(&p.lexer);
    return p;
}

/* Checks what was parsed and keeps it. */
static bool finish(struct db_parser *p, struct db_expr *ret)
{
    struct db_node *kept;

    if (p->stop || p->count == 0)
        return false;

    const bool right = db_expr_check(p->reading, p->nodes, p->count) && !p->wrong;

    kept = db_arena_get(p->reading->arena, (size_t) p->count, sizeof *kept);
    if (!kept) {
        p->reading->full = true;
        return false;
    }
    memcpy(kept, p->nodes, (size_t) p->count * sizeof *kept);
    *ret = (struct db_expr){ kept, p->count, p->count - 1, p->reading->words };
    return right;
}

/* Whether all was read; what is left over is a mistake. */
static bool at_end(struct db_parser *p, const char *about_dots)
{
    const struct db_token *t = &p->token;

    if (p->stop || t->kind == DB_TOKEN_END)
        return !p->stop;
    if (t->kind == DB_TOKEN_WRONG)
        return db_parse_stray(p, "", "") >= 0;
    if (db_parse_is_sign(p, ')'))
        DB_PARSE_MISTAKE(p, t->from, t->width, "leave it out", "this parenthesis was never opened");
    else if (db_parse_is_sign(p, '.'))
        DB_PARSE_MISTAKE(p, t->from, t->width, "write one date", "%s", about_dots);
    else
        DB_PARSE_MISTAKE(p, t->from, t->width, "join values with + or -, conditions with and or or",
                         "nothing joins \"%.*s\" to what stands before it", (int) t->width, db_parse_text(p, t->from));
    return db_parse_halt(p) >= 0;
}

bool db_expr_read(struct db_reading *reading, struct db_expr *ret)
{
    struct db_node nodes[DB_LIMIT_NODES];
    struct db_parser p = start(reading, reading->from, nodes);

    (void) db_parse_condition(&p);
    return at_end(&p, "only during has two ends") && finish(&p, ret);
}

bool db_expr_read_window(struct db_reading *reading, struct db_expr *ret_first, struct db_expr *ret_last)
{
    struct db_node nodes[DB_LIMIT_NODES];
    struct db_parser p = start(reading, reading->from, nodes);
    bool right;

    (void) db_parse_sum(&p);
    if (!p.stop && !db_parse_is_sign(&p, '.'))
        return db_parse_stray(&p, "..", "write a window as up + 10 days .. up + 24 days") >= 0;
    right = finish(&p, ret_first);
    if (p.stop)
        return false;
    db_parse_take(&p);
    p.count = 0;
    p.wrong = false;
    (void) db_parse_sum(&p);
    return at_end(&p, "a window has two ends and no more") && finish(&p, ret_last) && right;
}
