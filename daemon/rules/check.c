/* Kinds. The nodes come children first, so one walk over the array settles them all. A node below which something is
 * wrong becomes DB_KIND_BAD, and what holds it is not complained about again. */
#define DB_PURE
#include "rules/expr.h"

#include "base/limits.h"
#include "base/text.h"

#include <math.h>
#include <string.h>

#include "base/banned.h"

struct check {
    struct db_reading *reading;
    struct db_node *nodes;
    bool wrong;
};

static struct db_place node_place(const struct check *c, const struct db_node *n)
{
    return db_words_place(c->reading->words, n->from, n->width);
}

static int width(const struct db_node *n)
{
    return (int) n->width;
}

static const char *words(const struct check *c, const struct db_node *n)
{
    return c->reading->words->text + n->from;
}

#define MISTAKE(c, n, instead, ...)                                                                                    \
    ((c)->wrong = true, db_mistakes_add((c)->reading->mistakes, node_place(c, n), instead, __VA_ARGS__), DB_KIND_BAD)

static bool is_amount(int kind)
{
    return kind < DB_KIND_DATE;
}

static bool is_bare(const struct db_node *n)
{
    return n->op == DB_OP_AMOUNT && n->kind == DB_KIND_NUMBER;
}

/* A figure written in degrees, taken as a difference. */
static void make_difference(struct db_node *n)
{
    n->kind = DB_KIND_WARMTH;
    n->value = n->difference;
    n->point = false;
}

/* The unit in which a gardener would write what is compared with `beside`. */
static const char *unit_beside(const struct check *c, const struct db_node *beside)
{
    const struct db_node *n = beside;

    while (n->op >= DB_OP_NEGATE && n->op != DB_OP_AFTER && n->a >= 0)
        n = &c->nodes[n->a];
    if (beside->kind == DB_KIND_LENGTH && n->op == DB_OP_FACT && n->index != DB_FACT_DEPTH)
        return "cm";
    if (beside->kind == DB_KIND_LENGTH && n->op == DB_OP_ROW)
        return "m";
    if (beside->kind == DB_KIND_TIME && ((n->op == DB_OP_FACT && n->index == DB_FACT_DAY_LIMIT) ||
                                         (n->op == DB_OP_FIGURE && n->index == DB_READ_DAY_LENGTH)))
        return "h";
    return db_kind_unit(beside->kind);
}

/* "10 what? write 10 days" */
static int what_unit(struct check *c, const struct db_node *n, const char *unit)
{
    char instead[80];
    struct db_text text = db_text_in(instead, sizeof instead);
    const bool one = n->sign_width == 1 && words(c, n)[0] == '1';

    db_text_add(&text, "write ");
    db_text_add_part(&text, words(c, n), n->sign_width);
    db_text_add(&text, " ");
    db_text_add(&text, one && strcmp(unit, "days") == 0 ? "day" : unit);
    return MISTAKE(c, n, instead, "%.*s what?", (int) n->sign_width, words(c, n));
}

static int mismatch(struct check *c, const struct db_node *a, const struct db_node *b, const char *done)
{
    const char *instead = "";

    if (is_bare(b) && *db_kind_unit(a->kind))
        return what_unit(c, b, unit_beside(c, a));
    if (is_bare(a) && *db_kind_unit(b->kind))
        return what_unit(c, a, unit_beside(c, b));
    if (a->kind == DB_KIND_RATE || b->kind == DB_KIND_RATE) {
        const struct db_node *rate = a->kind == DB_KIND_RATE ? a : b;

        return MISTAKE(c, rate, "multiply it, as in 3 min per m * row", "\"%.*s\" is a rate: how much of it?",
                       width(rate), words(c, rate));
    }
    if (a->kind == DB_KIND_TEMPERATURE && b->kind == DB_KIND_WARMTH)
        instead = "write a temperature, as in 2 °C";
    else if (a->kind == DB_KIND_DATE)
        instead = strcmp(done, "compared with") == 0 ? "write a date, as in up + 10 days"
                                                     : "write a time, as in up + 10 days";
    if (strcmp(done, "added to") == 0)
        return MISTAKE(c, b, instead, "%s cannot be added to %s", db_kind_name(b->kind), db_kind_name(a->kind));
    return MISTAKE(c, b, instead, "%s cannot be %s %s", db_kind_name(a->kind), done, db_kind_name(b->kind));
}

static int add(struct check *c, struct db_node *a, struct db_node *b)
{
    if (a->kind == DB_KIND_TEMPERATURE && b->kind == DB_KIND_TEMPERATURE) {
        if (b->point)
            make_difference(b);
        else if (a->point)
            make_difference(a);
        else
            return MISTAKE(c, b, "add a difference, as in low + 2 K", "two temperatures cannot be added");
        return DB_KIND_TEMPERATURE;
    }
    if (a->kind == DB_KIND_TEMPERATURE && b->kind == DB_KIND_WARMTH)
        return DB_KIND_TEMPERATURE;
    if (a->kind == DB_KIND_WARMTH && b->kind == DB_KIND_TEMPERATURE)
        return DB_KIND_TEMPERATURE;
    if (a->kind == DB_KIND_DATE && b->kind == DB_KIND_TIME)
        return DB_KIND_DATE;
    if (a->kind == DB_KIND_TIME && b->kind == DB_KIND_DATE)
        return DB_KIND_DATE;
    if (a->kind == DB_KIND_DATE && b->kind == DB_KIND_DATE)
        return MISTAKE(c, b, "add a time, as in up + 10 days", "two dates cannot be added");
    if (a->kind == b->kind && is_amount(a->kind))
        return a->kind;
    if (b->kind == DB_KIND_DATE && !is_bare(a))
        return mismatch(c, b, a, "added to");
    return mismatch(c, a, b, "added to");
}

static int subtract(struct check *c, struct db_node *a, struct db_node *b)
{
    if (a->kind == DB_KIND_TEMPERATURE && b->kind == DB_KIND_TEMPERATURE) {
        if (!b->point)
            return DB_KIND_WARMTH;
        make_difference(b);
        return DB_KIND_TEMPERATURE;
    }
    if (a->kind == DB_KIND_TEMPERATURE && b->kind == DB_KIND_WARMTH)
        return DB_KIND_TEMPERATURE;
    if (a->kind == DB_KIND_WARMTH && b->point) {
        make_difference(b);
        return DB_KIND_WARMTH;
    }
    if (a->kind == DB_KIND_DATE && b->kind == DB_KIND_DATE)
        return DB_KIND_TIME;
    if (a->kind == DB_KIND_DATE && b->kind == DB_KIND_TIME)
        return DB_KIND_DATE;
    if (a->kind == b->kind && is_amount(a->kind))
        return a->kind;
    return mismatch(c, a, b, "lessened by");
}

static int multiply(struct check *c, struct db_node *a, struct db_node *b)
{
    struct db_node *rate = a->kind == DB_KIND_RATE ? a : b->kind == DB_KIND_RATE ? b : NULL;
    struct db_node *of = rate == a ? b : a;

    if (rate) {
        if (of->kind == rate->per)
            return rate->of;
        if (is_bare(of) && *db_kind_unit(rate->per))
            return what_unit(c, of, rate->per == DB_KIND_LENGTH ? "m" : db_kind_unit(rate->per));
        return MISTAKE(c, of, "", "\"%.*s\" goes with %s, not with %s", width(rate), words(c, rate),
                       db_kind_name(rate->per), db_kind_name(of->kind));
    }
    for (int i = 0; i < 2; i++) {
        struct db_node *number = i ? b : a, *other = i ? a : b;

        if (number->kind != DB_KIND_NUMBER || !is_amount(other->kind))
            continue;
        if (other->point)
            make_difference(other);
        if (other->kind == DB_KIND_TEMPERATURE)
            return MISTAKE(c, other, "multiply a difference of temperatures", "a temperature cannot be multiplied");
        return other->kind;
    }
    return MISTAKE(c, b, "one of the two must be a number", "%s cannot be multiplied by %s", db_kind_name(a->kind),
                   db_kind_name(b->kind));
}

static int divide(struct check *c, struct db_node *a, struct db_node *b)
{
    if (a->point)
        make_difference(a);
    if (b->point)
        make_difference(b);
    if (a->kind == DB_KIND_TEMPERATURE || b->kind == DB_KIND_TEMPERATURE)
        return MISTAKE(c, a->kind == DB_KIND_TEMPERATURE ? a : b, "divide a difference of temperatures",
                       "a temperature cannot be divided");
    if (b->op == DB_OP_AMOUNT && b->value == 0)
        return MISTAKE(c, b, "", "nothing can be divided by 0");
    if (is_amount(a->kind) && b->kind == DB_KIND_NUMBER)
        return a->kind;
    if (is_amount(a->kind) && a->kind == b->kind)
        return DB_KIND_NUMBER;
    return MISTAKE(c, b, "divide by a number, or by an amount of the same kind", "%s cannot be divided by %s",
                   db_kind_name(a->kind), db_kind_name(b->kind));
}

/* Of two values that must be alike: their kind. */
static int alike(struct check *c, struct db_node *a, struct db_node *b, const char *done)
{
    if (a->kind == DB_KIND_WARMTH && b->point)
        make_difference(b);
    if (b->kind == DB_KIND_WARMTH && a->point)
        make_difference(a);
    if (a->kind == b->kind && (is_amount(a->kind) || a->kind == DB_KIND_DATE))
        return a->kind;
    if (a->kind == DB_KIND_TRUTH && b->kind == DB_KIND_TRUTH)
        return MISTAKE(c, b, "join them with and, or, not", "two conditions cannot be %s each other", done);
    if (a->kind == DB_KIND_WORD && b->kind == DB_KIND_WORD)
        return MISTAKE(c, b, "write is and a word", "words are compared with is");
    /* "27 < high" reads worse, but the odd one is the same */
    return mismatch(c, a, b, done);
}

static int truth(struct check *c, struct db_node *n)
{
    char instead[100];
    struct db_text text = db_text_in(instead, sizeof instead);

    if (n->kind == DB_KIND_TRUTH || n->kind == DB_KIND_BAD)
        return n->kind;
    if (n->op == DB_OP_RAISED || n->op == DB_OP_COVER)
        db_text_add_format(&text, "write %.*s is %s", width(n), words(c, n), db_choice(n)[0]);
    else if (n->width < 60)
        db_text_add_format(&text, "compare it, or write %.*s is known", width(n), words(c, n));
    return MISTAKE(c, n, instead, "\"%.*s\" is %s, not a condition", width(n), words(c, n), db_kind_name(n->kind));
}

/* A time, for `3 days ahead` and after(..., N days, ...); at most DB_LIMIT_SPAN days where that is known. */
static int span_time(struct check *c, const struct db_node *n, int index)
{
    const double days = db_node_constant(c->nodes, index);

    if (n->kind == DB_KIND_BAD)
        return DB_KIND_BAD;
    if (is_bare(n))
        return what_unit(c, n, "days");
    if (n->kind != DB_KIND_TIME)
        return MISTAKE(c, n, "write a time, as in 3 days", "\"%.*s\" is %s, not a length of time", width(n),
                       words(c, n), db_kind_name(n->kind));
    if (days > DB_LIMIT_SPAN)
        return MISTAKE(c, n, "write fewer days", "at most %d days can be looked at", DB_LIMIT_SPAN);
    if (days < 0)
        return MISTAKE(c, n, "leave the minus out", "ahead and back count days upwards");
    return DB_KIND_DAYS;
}

static int want_date(struct check *c, const struct db_node *n)
{
    if (n->kind == DB_KIND_DATE || n->kind == DB_KIND_BAD)
        return n->kind;
    if (n->kind == DB_KIND_TIME)
        return MISTAKE(c, n, "count from a stage, as in sown + 10 days", "\"%.*s\" is a length of time, not a date",
                       width(n), words(c, n));
    return MISTAKE(c, n, "write a date, as in up + 10 days", "\"%.*s\" is %s, not a date", width(n), words(c, n),
                   db_kind_name(n->kind));
}

static int span(struct check *c, const struct db_node *n)
{
    const int first = want_date(c, &c->nodes[n->a]), last = want_date(c, &c->nodes[n->b]);
    const double apart = db_node_distance(c->nodes, n->a, c->nodes, n->b);

    if (first == DB_KIND_BAD || last == DB_KIND_BAD)
        return DB_KIND_BAD;
    if (apart > DB_LIMIT_SPAN)
        return MISTAKE(c, n, "write fewer days", "at most %d days can be looked at", DB_LIMIT_SPAN);
    if (apart < 0)
        return MISTAKE(c, n, "swap the two dates", "these days end before they begin");
    return DB_KIND_DAYS;
}

static int over_days(struct check *c, const struct db_node *n, struct db_node *a)
{
    if (n->op == DB_OP_COUNT)
        return truth(c, a) == DB_KIND_BAD ? DB_KIND_BAD : DB_KIND_NUMBER;
    if (n->op == DB_OP_SUM && a->kind == DB_KIND_TEMPERATURE)
        return MISTAKE(c, a, "write average", "temperatures have no sum");
    if (!is_amount(a->kind))
        return MISTAKE(c, a, "write a figure of the day, as in max(soil, 3 days ahead)",
                       "\"%.*s\" is %s, not an amount", width(a), words(c, a), db_kind_name(a->kind));
    return a->kind;
}

static int after(struct check *c, const struct db_node *n)
{
    const int date = want_date(c, &c->nodes[n->a]), length = span_time(c, &c->nodes[n->b], n->b),
              holds = truth(c, &c->nodes[n->c]);

    return date == DB_KIND_BAD || length == DB_KIND_BAD || holds == DB_KIND_BAD ? DB_KIND_BAD : DB_KIND_DATE;
}

static int warmed(struct check *c, const struct db_node *a, const struct db_node *b)
{
    if (is_bare(a))
        return what_unit(c, a, "K d");
    if (a->kind != DB_KIND_THERMAL)
        return MISTAKE(c, a, "write it as warmed(258 K d, 5 °C, March)", "\"%.*s\" is %s, not degree-days", width(a),
                       words(c, a), db_kind_name(a->kind));
    if (is_bare(b))
        return what_unit(c, b, "°C");
    if (b->kind != DB_KIND_TEMPERATURE)
        return MISTAKE(c, b, "write it as warmed(258 K d, 5 °C, March)", "\"%.*s\" is %s, not a temperature", width(b),
                       words(c, b), db_kind_name(b->kind));
    return DB_KIND_DATE;
}

static int negate(struct check *c, const struct db_node *a)
{
    if (!is_amount(a->kind) || a->kind == DB_KIND_TEMPERATURE)
        return MISTAKE(c, a, "", "%s cannot have a minus before it", db_kind_name(a->kind));
    return a->kind;
}

static int kind_of_one(struct check *c, const struct db_node *n, struct db_node *a)
{
    if (n->op == DB_OP_BAD || a->kind == DB_KIND_BAD)
        return DB_KIND_BAD;
    switch (n->op) {
    case DB_OP_NEGATE:
        return negate(c, a);
    case DB_OP_NOT:
        return truth(c, a);
    case DB_OP_AHEAD:
    case DB_OP_BACK:
        return span_time(c, a, n->a);
    default: /* is known, is one of */
        return DB_KIND_TRUTH;
    }
}

static int kind_of_two(struct check *c, const struct db_node *n, struct db_node *a, struct db_node *b)
{
    if (n->op == DB_OP_AND || n->op == DB_OP_OR) { /* each side is looked at, whatever the other is */
        const int left = truth(c, a), right = truth(c, b);

        return left == DB_KIND_BAD || right == DB_KIND_BAD ? DB_KIND_BAD : DB_KIND_TRUTH;
    }
    if (n->op == DB_OP_AFTER)
        return after(c, n);
    if (n->op == DB_OP_SPAN)
        return span(c, n);
    if (a->kind == DB_KIND_BAD || b->kind == DB_KIND_BAD)
        return DB_KIND_BAD;
    switch (n->op) {
    case DB_OP_ADD:
        return add(c, a, b);
    case DB_OP_SUBTRACT:
        return subtract(c, a, b);
    case DB_OP_MULTIPLY:
        return multiply(c, a, b);
    case DB_OP_DIVIDE:
        return divide(c, a, b);
    case DB_OP_LATER:
    case DB_OP_EARLIER:
        return alike(c, a, b, "compared with");
    case DB_OP_WARMED:
        return warmed(c, a, b);
    case DB_OP_LEAST:
    case DB_OP_MOST:
    case DB_OP_AVERAGE:
    case DB_OP_SUM:
    case DB_OP_COUNT:
        return over_days(c, n, a);
    default: /* comparisons */
        return alike(c, a, b, "compared with") == DB_KIND_BAD ? DB_KIND_BAD : DB_KIND_TRUTH;
    }
}

static int kind_of(struct check *c, const struct db_node *n)
{
    if (n->a < 0) /* a leaf: the parser knew */
        return n->op == DB_OP_BAD ? DB_KIND_BAD : n->kind;
    if (n->b < 0)
        return kind_of_one(c, n, &c->nodes[n->a]);
    return kind_of_two(c, n, &c->nodes[n->a], &c->nodes[n->b]);
}

bool db_expr_check(struct db_reading *reading, struct db_node *nodes, int count)
{
    struct check c = { reading, nodes, false };

    for (int i = 0; i < count; i++)
        nodes[i].kind = (unsigned char) kind_of(&c, &nodes[i]);
    return !c.wrong;
}

bool db_expr_want(struct db_reading *reading, const struct db_expr *expr, enum db_kind kind)
{
    struct db_node root = expr->nodes[expr->root];
    struct check c = { reading, &root, false };

    if (root.kind == DB_KIND_BAD)
        return false;
    if (root.kind == kind)
        return true;
    if (kind == DB_KIND_TRUTH)
        (void) truth(&c, &root);
    else if (kind == DB_KIND_DATE)
        (void) want_date(&c, &root);
    else if (is_bare(&root))
        (void) what_unit(&c, &root, strcmp(reading->key, "effort") == 0 ? "min" : db_kind_unit((int) kind));
    else
        (void) MISTAKE(&c, &root, "", "\"%.*s\" is %s, not %s", width(&root), words(&c, &root), db_kind_name(root.kind),
                       db_kind_name((int) kind));
    return false;
}

double db_node_constant(const struct db_node *nodes, int index)
{
    const struct db_node *n = &nodes[index];
    double by;

    switch (n->op) {
    case DB_OP_AMOUNT:
        return n->value;
    case DB_OP_NEGATE:
        return -db_node_constant(nodes, n->a);
    case DB_OP_ADD:
        return db_node_constant(nodes, n->a) + db_node_constant(nodes, n->b);
    case DB_OP_SUBTRACT:
        return db_node_constant(nodes, n->a) - db_node_constant(nodes, n->b);
    case DB_OP_MULTIPLY:
        return nodes[n->a].kind == DB_KIND_RATE ? (double) NAN
                                                : db_node_constant(nodes, n->a) * db_node_constant(nodes, n->b);
    case DB_OP_DIVIDE:
        by = db_node_constant(nodes, n->b);
        return by == 0 ? (double) NAN : db_node_constant(nodes, n->a) / by;
    default:
        return NAN;
    }
}

/* Splits a date into the leaf it counts from and the fixed time after it; -1 if it is not of that form. */
static int anchor(const struct db_node *nodes, int index, double *ret_days)
{
    const struct db_node *n = &nodes[index];
    double days = 0;

    while (n->op == DB_OP_ADD || n->op == DB_OP_SUBTRACT) {
        const bool date_first = nodes[n->a].kind == DB_KIND_DATE;
        const double fixed = db_node_constant(nodes, date_first ? n->b : n->a);

        if (isnan(fixed))
            return -1;
        days += n->op == DB_OP_ADD ? fixed : -fixed;
        index = date_first ? n->a : n->b;
        n = &nodes[index];
    }
    *ret_days = days;
    return n->a < 0 ? index : -1;
}

double db_node_distance(const struct db_node *first_nodes, int first, const struct db_node *last_nodes, int last)
{
    double before = 0, behind = 0;
    const int a = anchor(first_nodes, first, &before), b = anchor(last_nodes, last, &behind);

    if (a < 0 || b < 0)
        return NAN;

    const struct db_node *x = &first_nodes[a], *y = &last_nodes[b];

    if (x->op != y->op || x->index != y->index || x->word != y->word || x->kind != DB_KIND_DATE)
        return NAN;
    return behind - before;
}
