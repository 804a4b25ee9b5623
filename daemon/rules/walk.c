/* What a walk over a rule finds, in sentences: weather that was compared, days that were counted out, notes. */
#define DB_PURE
#include "rules/walk.h"

#include "base/text.h"

#include <math.h>
#include <string.h>

#include "base/banned.h"

static const char ASKS[] = "; the rule asks for ";

/* The part of a reason that says how it is: all before what the rule asks, and before the full stop. */
static size_t fact_length(const char *text)
{
    const char *asks = strstr(text, ASKS);

    return asks ? (size_t) (asks - text) : strlen(text) - 1;
}

/* The same fact, asked about twice (more than this, less than that), is one reason. False: another fact. */
static bool join(struct db_walk *w, struct db_reason *reason, const char *text)
{
    const size_t length = fact_length(text), old = fact_length(reason->text);
    char buffer[2 * REASON_SIZE];
    struct db_text both = db_text_in(buffer, sizeof buffer);

    if (length != old || strncmp(text, reason->text, length) != 0)
        return false;
    if (strcmp(text, reason->text) == 0 || text[length] != ASKS[0])
        return true;
    db_text_add_part(&both, reason->text, strlen(reason->text) - 1);
    db_text_add(&both, reason->text[old] == ASKS[0] ? " and " : ASKS);
    db_text_add(&both, text + length + strlen(ASKS));
    const char *kept = db_arena_text(w->into, both.data, both.length);
    w->full = w->full || !kept;
    reason->text = kept ? kept : reason->text;
    return true;
}

void db_walk_add(struct db_walk *w, const struct db_text *text, enum db_origin origin)
{
    char *kept;

    if (text->length == 0 || w->full || w->count == REASONS_MOST)
        return;
    for (size_t i = 0; i < w->count; i++)
        if (join(w, &w->reasons[i], text->data))
            return;
    kept = db_arena_text(w->into, text->data, text->length);
    if (!kept) {
        w->full = true;
        return;
    }
    w->reasons[w->count++] = (struct db_reason){ kept, origin };
}

/* -- weather ------------------------------------------------------------------------------------------------------- */

/* The node below `index` that reads weather: a figure, or figures over days; -1: none. */
int db_walk_weather(const struct db_walk *w, int index)
{
    const struct db_node *n = db_walk_node(w, index);
    int found = -1;

    if (n->op == DB_OP_FIGURE || n->op == DB_OP_COUNT)
        return index;
    if (n->op >= DB_OP_LEAST && n->op <= DB_OP_SUM)
        return db_walk_node(w, n->a)->op == DB_OP_FIGURE ? index : -1;
    if (n->op == DB_OP_AFTER)
        return -1;
    if ((n->op == DB_OP_LATER || n->op == DB_OP_EARLIER) && n->kind != DB_KIND_DATE)
        return db_walk_weather(w, db_walk_value(w, n->a) == db_walk_value(w, index) ? n->a : n->b);
    if (n->a >= 0)
        found = db_walk_weather(w, n->a);
    return found < 0 && n->b >= 0 ? db_walk_weather(w, n->b) : found;
}

/* The fact that an amount is made from; of later() and earlier() only what was taken counts. */
static int find_fact(const struct db_walk *w, int index)
{
    const struct db_node *n = db_walk_node(w, index);
    int found = -1;

    if (n->op == DB_OP_FACT)
        return n->index;
    if (n->op == DB_OP_LATER || n->op == DB_OP_EARLIER)
        return find_fact(w, db_walk_value(w, n->a) == db_walk_value(w, index) ? n->a : n->b);
    if (n->op != DB_OP_ADD && n->op != DB_OP_SUBTRACT)
        return -1;
    found = find_fact(w, n->a);
    return found < 0 ? find_fact(w, n->b) : found;
}

/* "with a low of at least 7 °C", or the rule's own words where they are more than that. */
static void say_condition(struct db_text *to, const struct db_walk *w, int index)
{
    const struct db_node *n = db_walk_node(w, index);

    if (n->op >= DB_OP_BELOW && n->op <= DB_OP_EQUAL) {
        const struct db_node *left = db_walk_node(w, n->a), *right = db_walk_node(w, n->b);
        const double limit = db_walk_value(w, n->b);

        if (left->op == DB_OP_FIGURE && db_walk_weather(w, n->b) < 0 && !isnan(limit)) {
            db_text_add_format(to, "with %s of ", db_say_figure((enum db_read) left->index));
            db_say_bound(to, w->scope, (enum db_op) n->op, (struct db_amount){ limit, (enum db_kind) right->kind });
            return;
        }
    }
    db_text_add(to, "with “");
    db_text_add_part(to, w->expr->from->text + n->from, n->width);
    db_text_add(to, "”");
}

/* The first figure below a condition: where its days come from. */
static int any_figure(const struct db_walk *w, int index)
{
    const struct db_node *n = db_walk_node(w, index);
    int found = -1;

    if (n->op == DB_OP_FIGURE)
        return n->index;
    if (n->a >= 0)
        found = any_figure(w, n->a);
    if (found < 0 && n->b >= 0)
        found = any_figure(w, n->b);
    return found < 0 && n->c >= 0 ? any_figure(w, n->c) : found;
}

static void explain_count(struct db_walk *w, const struct db_node *n, double counted, enum db_op op, double limit)
{
    char buffer[REASON_SIZE];
    struct db_text text = db_text_in(buffer, sizeof buffer);
    const int figure = any_figure(w, n->a);
    enum db_origin origin = DB_ORIGIN_NONE;
    int32_t first, last;

    if (!db_node_days(w->expr->nodes, n->b, w->scope, w->day, &first, &last))
        return;
    if (figure >= 0)
        origin = db_say_weakest(w->scope, (enum db_read) figure, first, last);
    db_text_add_format(&text, "%d of the %d days ", (int) counted, (int) (last - first + 1));
    db_say_days(&text, w->scope, first, last);
    db_text_add(&text, counted == 1 ? " is one " : " are ones ");
    say_condition(&text, w, n->a);
    db_say_origin(&text, origin);
    db_say_limit(&text, w->scope, op, (struct db_amount){ limit, DB_KIND_NUMBER }, -1, w->against);
    db_text_add(&text, ".");
    db_walk_add(w, &text, origin);
}

/* A comparison that held: the weather in it and what it was held against. */
void db_walk_comparison(struct db_walk *w, const struct db_node *n)
{
    char buffer[REASON_SIZE];
    struct db_text text = db_text_in(buffer, sizeof buffer);
    struct db_weather_read what = { 0 };
    int weather = db_walk_weather(w, n->a), other = n->b;
    enum db_op op = (enum db_op) n->op;

    if (weather < 0) {
        weather = db_walk_weather(w, n->b);
        other = n->a;
        op = db_say_flipped(op);
    }
    if (weather < 0)
        return;

    const struct db_node *read = db_walk_node(w, weather);
    const struct db_amount limit = { db_walk_value(w, other), (enum db_kind) db_walk_node(w, other)->kind };

    what.value = db_walk_value(w, weather);
    if (isnan(what.value))
        return;
    if (read->op == DB_OP_COUNT) {
        explain_count(w, read, what.value, op, limit.value);
        return;
    }
    what.kind = (enum db_kind) read->kind;
    what.over = read->op;
    what.read = (enum db_read)(read->op == DB_OP_FIGURE ? read->index : db_walk_node(w, read->a)->index);
    what.first = what.last = w->day;
    if (read->op != DB_OP_FIGURE && !db_node_days(w->expr->nodes, read->b, w->scope, w->day, &what.first, &what.last))
        return;
    what.origin = db_say_weakest(w->scope, what.read, what.first, what.last);
    db_say_weather(&text, w->scope, &what);
    if (what.read == DB_READ_DRY && what.over == DB_OP_FIGURE && any_figure(w, other) == DB_READ_DRY_LIMIT)
        db_say_dry_limit(&text, w->scope, w->day);
    /* A limit on something reckoned from the figure (high - low) would not be the figure's own. */
    if (db_walk_weather(w, other) < 0 && (weather == n->a || weather == n->b))
        db_say_limit(&text, w->scope, op, limit, find_fact(w, other), w->against);
    db_text_add(&text, ".");
    db_walk_add(w, &text, what.origin);
}

/* -- other reasons ------------------------------------------------------------------------------------------------- */

/* "The 4th night of at least 7 °C since 6 May will be on 12 May, by the forecast." */
void db_walk_after(struct db_walk *w, int index)
{
    const struct db_node *n = db_walk_node(w, index), *holds = db_walk_node(w, n->c);
    const double from = db_walk_value(w, n->a), wanted = db_walk_value(w, n->b), reached = db_walk_value(w, index);
    const int figure = any_figure(w, n->c), ordinal = (int) floor(wanted + 0.5);
    const int32_t today = w->scope->view->today.day;
    const double limit =
        holds->op >= DB_OP_BELOW && holds->op <= DB_OP_EQUAL ? db_walk_value(w, holds->b) : (double) NAN;
    char buffer[REASON_SIZE];
    struct db_text text = db_text_in(buffer, sizeof buffer);
    enum db_origin origin = DB_ORIGIN_NONE;

    if (isnan(from) || isnan(wanted) || isnan(reached) || ordinal < 1)
        return;
    if (figure >= 0)
        origin = db_say_weakest(w->scope, (enum db_read) figure, (int32_t) from, (int32_t) reached);
    db_text_add_format(&text, "The %d%s ", ordinal,
                       ordinal % 100 / 10 == 1 ? "th"
                       : ordinal % 10 == 1     ? "st"
                       : ordinal % 10 == 2     ? "nd"
                       : ordinal % 10 == 3     ? "rd"
                                               : "th");
    if (!isnan(limit) && db_walk_node(w, holds->a)->op == DB_OP_FIGURE &&
        (figure == DB_READ_LOW_TONIGHT || figure == DB_READ_LOW_TONIGHT_HERE || figure == DB_READ_LOW_TONIGHT_THERE)) {
        db_text_add(&text, "night of ");
        db_say_bound(&text, w->scope, (enum db_op) holds->op,
                     (struct db_amount){ limit, (enum db_kind) db_walk_node(w, holds->b)->kind });
    } else {
        db_text_add(&text, "day ");
        say_condition(&text, w, n->c);
    }
    db_text_add(&text, " since ");
    if ((int32_t) from == today)
        db_text_add(&text, "today");
    else
        db_text_add_day(&text, (struct db_date){ (int32_t) from }, w->scope->view->today);
    db_text_add(&text, reached < today ? " was " : reached > today ? " will be " : " is ");
    db_say_days(&text, w->scope, (int32_t) reached, (int32_t) reached);
    db_say_origin(&text, origin);
    db_text_add(&text, ".");
    db_walk_add(w, &text, origin);
}

void db_walk_warmed(struct db_walk *w, int index)
{
    const struct db_node *n = db_walk_node(w, index);
    const double day = db_walk_value(w, index);
    const struct db_date known = w->scope->view->weather ? db_weather_known(w->scope->view->weather) : DB_NO_DATE;
    const int32_t today = w->scope->view->today.day;
    const enum db_origin origin = day < today        ? DB_ORIGIN_OBSERVED
                                  : day <= known.day ? DB_ORIGIN_FORECAST
                                                     : DB_ORIGIN_CLIMATE;
    char buffer[REASON_SIZE];
    struct db_text text = db_text_in(buffer, sizeof buffer);

    if (isnan(day))
        return;
    db_say_warmed(&text, w->scope, db_walk_value(w, n->a), db_walk_value(w, n->b), n->index, day);
    db_say_origin(&text, origin);
    db_text_add(&text, ".");
    db_walk_add(w, &text, origin);
}

void db_walk_note(struct db_walk *w, const struct db_node *n)
{
    char buffer[REASON_SIZE];
    struct db_text text = db_text_in(buffer, sizeof buffer);
    struct db_date date;

    if (n->index < DB_STAGE_COUNT) {
        w->stages |= 1U << n->index;
        return;
    }
    date = db_diary_last_by(w->scope->view->diary, w->scope->sowing, n->word, w->scope->view->today);
    if (!db_date_known(date))
        return;
    db_text_add_format(&text, "It was noted “%s” ", n->word);
    db_say_days(&text, w->scope, date.day, date.day);
    db_text_add(&text, ".");
    db_walk_add(w, &text, DB_ORIGIN_NONE);
}

void db_walk_fact(struct db_walk *w, const struct db_node *n)
{
    char buffer[REASON_SIZE];
    struct db_text text = db_text_in(buffer, sizeof buffer);

    if (n->index != DB_FACT_NETTED)
        return;
    db_text_add_format(&text, "Pigeons and butterflies go for young %s.",
                       db_garden_sowing(w->scope->view->garden, w->scope->sowing)->crop->text[DB_FACT_PLURAL]);
    db_walk_add(w, &text, DB_ORIGIN_NONE);
}
