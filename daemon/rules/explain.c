/* Why a job exists and why on that day: a walk over what the rule asked, gathering the stages and the weather that
 * decided. What merely sorts sowings (`raised in drill`) and what did not hold says nothing. */
#define DB_PURE
#include "rules/say.h"
#include "rules/set.h"

#include "base/text.h"

#include <math.h>
#include <string.h>

#include "base/banned.h"

enum { REASONS_MOST = 40, REASON_SIZE = 512 };

struct walk {
    const struct db_scope *scope;
    struct db_arena *into;
    const struct db_expr *expr;
    int32_t day;
    unsigned stages;       /* bits: read */
    uint64_t own;          /* bits: read */
    bool planned, against; /* against: it is weather to be avoided */
    struct db_reason reasons[REASONS_MOST];
    size_t count;
    bool full;
};

static const char ASKS[] = "; the rule asks for ";

/* The part of a reason that says how it is: all before what the rule asks, and before the full stop. */
static size_t fact_length(const char *text)
{
    const char *asks = strstr(text, ASKS);

    return asks ? (size_t) (asks - text) : strlen(text) - 1;
}

/* The same fact, asked about twice (more than this, less than that), is one reason. False: another fact. */
static bool join(struct walk *w, struct db_reason *reason, const char *text)
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

static void add(struct walk *w, const struct db_text *text, enum db_origin origin)
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

static double value(const struct walk *w, int index)
{
    return db_node_value(w->expr->nodes, index, w->scope, w->day);
}

static const struct db_node *node(const struct walk *w, int index)
{
    return &w->expr->nodes[index];
}

/* -- weather ------------------------------------------------------------------------------------------------------- */

/* The node below `index` that reads weather: a figure, or figures over days; -1: none. */
static int find_weather(const struct walk *w, int index)
{
    const struct db_node *n = node(w, index);
    int found = -1;

    if (n->op == DB_OP_FIGURE || n->op == DB_OP_COUNT)
        return index;
    if (n->op >= DB_OP_LEAST && n->op <= DB_OP_SUM)
        return node(w, n->a)->op == DB_OP_FIGURE ? index : -1;
    if (n->op == DB_OP_AFTER)
        return -1;
    if ((n->op == DB_OP_LATER || n->op == DB_OP_EARLIER) && n->kind != DB_KIND_DATE)
        return find_weather(w, value(w, n->a) == value(w, index) ? n->a : n->b);
    if (n->a >= 0)
        found = find_weather(w, n->a);
    return found < 0 && n->b >= 0 ? find_weather(w, n->b) : found;
}

/* The fact that an amount is made from; of later() and earlier() only what was taken counts. */
static int find_fact(const struct walk *w, int index)
{
    const struct db_node *n = node(w, index);
    int found = -1;

    if (n->op == DB_OP_FACT)
        return n->index;
    if (n->op == DB_OP_LATER || n->op == DB_OP_EARLIER)
        return find_fact(w, value(w, n->a) == value(w, index) ? n->a : n->b);
    if (n->op != DB_OP_ADD && n->op != DB_OP_SUBTRACT)
        return -1;
    found = find_fact(w, n->a);
    return found < 0 ? find_fact(w, n->b) : found;
}

/* "with a low of at least 7 °C", or the rule's own words where they are more than that. */
static void say_condition(struct db_text *to, const struct walk *w, int index)
{
    const struct db_node *n = node(w, index);

    if (n->op >= DB_OP_BELOW && n->op <= DB_OP_EQUAL) {
        const struct db_node *left = node(w, n->a), *right = node(w, n->b);
        const double limit = value(w, n->b);

        if (left->op == DB_OP_FIGURE && find_weather(w, n->b) < 0 && !isnan(limit)) {
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
static int any_figure(const struct walk *w, int index)
{
    const struct db_node *n = node(w, index);
    int found = -1;

    if (n->op == DB_OP_FIGURE)
        return n->index;
    if (n->a >= 0)
        found = any_figure(w, n->a);
    if (found < 0 && n->b >= 0)
        found = any_figure(w, n->b);
    return found < 0 && n->c >= 0 ? any_figure(w, n->c) : found;
}

static void explain_count(struct walk *w, const struct db_node *n, double counted, enum db_op op, double limit)
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
    add(w, &text, origin);
}

/* A comparison that held: the weather in it and what it was held against. */
static void explain_comparison(struct walk *w, const struct db_node *n)
{
    char buffer[REASON_SIZE];
    struct db_text text = db_text_in(buffer, sizeof buffer);
    struct db_weather_read what = { 0 };
    int weather = find_weather(w, n->a), other = n->b;
    enum db_op op = (enum db_op) n->op;

    if (weather < 0) {
        weather = find_weather(w, n->b);
        other = n->a;
        op = db_say_flipped(op);
    }
    if (weather < 0)
        return;

    const struct db_node *read = node(w, weather);
    const struct db_amount limit = { value(w, other), (enum db_kind) node(w, other)->kind };

    what.value = value(w, weather);
    if (isnan(what.value))
        return;
    if (read->op == DB_OP_COUNT) {
        explain_count(w, read, what.value, op, limit.value);
        return;
    }
    what.kind = (enum db_kind) read->kind;
    what.over = read->op;
    what.read = (enum db_read)(read->op == DB_OP_FIGURE ? read->index : node(w, read->a)->index);
    what.first = what.last = w->day;
    if (read->op != DB_OP_FIGURE && !db_node_days(w->expr->nodes, read->b, w->scope, w->day, &what.first, &what.last))
        return;
    what.origin = db_say_weakest(w->scope, what.read, what.first, what.last);
    db_say_weather(&text, w->scope, &what);
    if (what.read == DB_READ_DRY && what.over == DB_OP_FIGURE && any_figure(w, other) == DB_READ_DRY_LIMIT)
        db_say_dry_limit(&text, w->scope, w->day);
    /* A limit on something reckoned from the figure (high - low) would not be the figure's own. */
    if (find_weather(w, other) < 0 && (weather == n->a || weather == n->b))
        db_say_limit(&text, w->scope, op, limit, find_fact(w, other), w->against);
    db_text_add(&text, ".");
    add(w, &text, what.origin);
}

/* -- other reasons ------------------------------------------------------------------------------------------------- */

/* "The 4th night of at least 7 °C since 6 May will be on 12 May, by the forecast." */
static void explain_after(struct walk *w, int index)
{
    const struct db_node *n = node(w, index), *holds = node(w, n->c);
    const double from = value(w, n->a), wanted = value(w, n->b), reached = value(w, index);
    const int figure = any_figure(w, n->c), ordinal = (int) floor(wanted + 0.5);
    const int32_t today = w->scope->view->today.day;
    const double limit = holds->op >= DB_OP_BELOW && holds->op <= DB_OP_EQUAL ? value(w, holds->b) : (double) NAN;
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
    if (!isnan(limit) && node(w, holds->a)->op == DB_OP_FIGURE &&
        (figure == DB_READ_LOW_TONIGHT || figure == DB_READ_LOW_TONIGHT_HERE || figure == DB_READ_LOW_TONIGHT_THERE)) {
        db_text_add(&text, "night of ");
        db_say_bound(&text, w->scope, (enum db_op) holds->op,
                     (struct db_amount){ limit, (enum db_kind) node(w, holds->b)->kind });
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
    add(w, &text, origin);
}

static void explain_warmed(struct walk *w, int index)
{
    const struct db_node *n = node(w, index);
    const double day = value(w, index);
    const struct db_date known = w->scope->view->weather ? db_weather_known(w->scope->view->weather) : DB_NO_DATE;
    const int32_t today = w->scope->view->today.day;
    const enum db_origin origin = day < today        ? DB_ORIGIN_OBSERVED
                                  : day <= known.day ? DB_ORIGIN_FORECAST
                                                     : DB_ORIGIN_CLIMATE;
    char buffer[REASON_SIZE];
    struct db_text text = db_text_in(buffer, sizeof buffer);

    if (isnan(day))
        return;
    db_say_warmed(&text, w->scope, value(w, n->a), value(w, n->b), n->index, day);
    db_say_origin(&text, origin);
    db_text_add(&text, ".");
    add(w, &text, origin);
}

static void explain_note(struct walk *w, const struct db_node *n)
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
    add(w, &text, DB_ORIGIN_NONE);
}

static void explain_fact(struct walk *w, const struct db_node *n)
{
    char buffer[REASON_SIZE];
    struct db_text text = db_text_in(buffer, sizeof buffer);

    if (n->index != DB_FACT_NETTED)
        return;
    db_text_add_format(&text, "Pigeons and butterflies go for young %s.",
                       db_garden_sowing(w->scope->view->garden, w->scope->sowing)->crop->text[DB_FACT_NAME]);
    add(w, &text, DB_ORIGIN_NONE);
}

/* -- the walk ------------------------------------------------------------------------------------------------------ */

/* Stages and notes that a value was worked out from. */
static void walk_value(struct walk *w, int index)
{
    const struct db_node *n = node(w, index);

    switch (n->op) {
    case DB_OP_STAGE:
    case DB_OP_EARLY:
    case DB_OP_LATE:
        w->stages |= 1U << n->index;
        return;
    case DB_OP_PLANNED:
        w->planned = true;
        return;
    case DB_OP_OWN:
        w->own |= UINT64_C(1) << n->index;
        return;
    case DB_OP_OWN_WORD:
        w->own |= UINT64_C(1) << db_say_own_word((enum db_own_word) n->index);
        return;
    case DB_OP_LAST:
        explain_note(w, n);
        return;
    case DB_OP_AFTER:
        walk_value(w, n->a);
        explain_after(w, index);
        return;
    case DB_OP_WARMED:
        explain_warmed(w, index);
        return;
    case DB_OP_LATER:
    case DB_OP_EARLIER:
        walk_value(w, value(w, n->a) == value(w, index) ? n->a : n->b);
        return;
    default:
        if (n->a >= 0)
            walk_value(w, n->a);
        if (n->b >= 0)
            walk_value(w, n->b);
        return;
    }
}

/* A condition that holds. */
static void walk_truth(struct walk *w, int index)
{
    const struct db_node *n = node(w, index);

    switch (n->op) {
    case DB_OP_AND:
        walk_truth(w, n->a);
        walk_truth(w, n->b);
        return;
    case DB_OP_OR:
        walk_truth(w, value(w, n->a) == 1 ? n->a : n->b);
        return;
    case DB_OP_NOTED:
        explain_note(w, n);
        return;
    case DB_OP_FACT:
        explain_fact(w, n);
        return;
    case DB_OP_OWN:
        walk_value(w, index);
        return;
    case DB_OP_NOT:
    case DB_OP_KNOWN:
        if (node(w, n->a)->op == DB_OP_OWN || node(w, n->a)->op == DB_OP_OWN_WORD)
            walk_value(w, n->a);
        return;
    default:
        if (n->op < DB_OP_BELOW || n->op > DB_OP_UNEQUAL)
            return;
        explain_comparison(w, n);
        walk_value(w, n->a);
        walk_value(w, n->b);
        return;
    }
}

static void walk_condition(struct walk *w, const struct db_expr *expr, int32_t day)
{
    w->expr = expr;
    w->day = day;
    if (expr->count > 0 && value(w, expr->root) == 1)
        walk_truth(w, expr->root);
}

static void walk_date(struct walk *w, const struct db_expr *expr, int32_t day)
{
    w->expr = expr;
    w->day = day;
    if (expr->count > 0)
        walk_value(w, expr->root);
}

/* "It comes round every 3 days; it was last noted “picked” on 3 June." */
static void explain_every(struct walk *w, const struct db_rules *rules, size_t index, const struct db_job *job)
{
    const int32_t step = db_rule_every(rules, index, w->scope);
    const struct db_date last =
        db_diary_last_by(w->scope->view->diary, w->scope->sowing, db_rule_records(rules, index), w->scope->view->today);
    char buffer[REASON_SIZE], days[64];
    struct db_text text = db_text_in(buffer, sizeof buffer);

    (void) db_amount_text((struct db_amount){ step, DB_KIND_TIME }, false, days, sizeof days);
    db_text_add_format(&text, step == 1 ? "It comes round every day" : "It comes round every %s", days);
    if (db_date_known(last) && last.day < job->best.day && last.day >= job->best.day - 2 * step) {
        db_text_add(&text, "; it was last done ");
        db_say_days(&text, w->scope, last.day, last.day);
    }
    db_text_add(&text, ".");
    add(w, &text, DB_ORIGIN_NONE);
}

/* Whether weather is what makes a condition hold that does. */
static bool hangs_on_weather(const struct walk *w, int index)
{
    const struct db_node *n = node(w, index);

    if (n->op == DB_OP_AND)
        return hangs_on_weather(w, n->a) || hangs_on_weather(w, n->b);
    if (n->op == DB_OP_OR)
        return hangs_on_weather(w, value(w, n->a) == 1 ? n->a : n->b);
    return find_weather(w, index) >= 0;
}

/* What put the best day off: asked on the day that would have been best. */
static void explain_hold(struct walk *w, const struct db_rules *rules, size_t index, const struct db_job *job)
{
    const struct db_rule *rule = rules->on[index];
    const struct db_expr *hold = &rule->clause[DB_CLAUSE_HOLD];
    struct db_date first, best, last;
    char buffer[REASON_SIZE];
    struct db_text text = db_text_in(buffer, sizeof buffer);

    if (hold->count == 0 || job->state == DB_JOB_DONE ||
        !db_rule_window(rules, index, w->scope, &first, &best, &last) || best.day >= job->best.day)
        return;
    w->expr = hold;
    w->day = best.day;
    if (value(w, hold->root) != 1)
        return;
    db_text_add(&text, "It would have been due ");
    db_say_days(&text, w->scope, best.day, best.day);
    db_text_add(&text, hangs_on_weather(w, hold->root) ? "; the weather put it off." : ", and waits.");
    add(w, &text, DB_ORIGIN_NONE);
    walk_truth(w, hold->root);
    if (job->best.day - 1 > best.day) /* what put it off to the very end */
        walk_condition(w, hold, job->best.day - 1);
}

/* A condition that did not hold: the comparisons that failed. */
static void walk_false(struct walk *w, int index)
{
    const struct db_node *n = node(w, index);

    if (value(w, index) != 0)
        return;
    if (n->op == DB_OP_AND || n->op == DB_OP_OR) {
        walk_false(w, n->a);
        walk_false(w, n->b);
    } else if (n->op >= DB_OP_BELOW && n->op <= DB_OP_UNEQUAL)
        explain_comparison(w, n);
}

static void walk_against(struct walk *w, const struct db_rule *rule, int32_t day)
{
    w->against = true;
    walk_condition(w, &rule->clause[DB_CLAUSE_AVOID], day);
    w->against = false;
}

static bool holds_on(struct walk *w, const struct db_expr *expr, struct db_date day)
{
    w->expr = expr;
    w->day = day.day;
    return expr->count > 0 && value(w, expr->root) == 1;
}

/* Weather that moved the best day: what spoke against the day that `best` names, what for the one that was taken. */
static void explain_choice(struct walk *w, const struct db_rules *rules, size_t index, const struct db_job *job)
{
    const struct db_expr *prefer = &rules->on[index]->clause[DB_CLAUSE_PREFER];
    const struct db_expr *avoid = &rules->on[index]->clause[DB_CLAUSE_AVOID];
    const struct db_expr *hold = &rules->on[index]->clause[DB_CLAUSE_HOLD];
    struct db_date first, best, last;
    char buffer[REASON_SIZE];
    struct db_text text = db_text_in(buffer, sizeof buffer);

    if ((prefer->count == 0 && avoid->count == 0) || job->state == DB_JOB_DONE ||
        !db_rule_window(rules, index, w->scope, &first, &best, &last) || best.day == job->best.day)
        return;
    if (holds_on(w, hold, db_date_add(job->best, -1)) && w->day >= best.day) /* it was `hold` that moved it so far */
        return;
    const bool better = holds_on(w, prefer, job->best), worse = holds_on(w, avoid, best);
    if (!better && !worse)
        return;
    db_text_add(&text, "The best day would have been ");
    db_text_add_day(&text, best, w->scope->view->today);
    db_text_add(&text, ".");
    add(w, &text, DB_ORIGIN_NONE);
    walk_against(w, rules->on[index], best.day);
    w->expr = prefer;
    w->day = best.day;
    if (better)
        walk_false(w, prefer->root);
    walk_condition(w, prefer, job->best.day);
}

/* A spell: the weather of its best day, or of its first where `until` alone keeps it going. */
static void explain_spell(struct walk *w, const struct db_rule *rule, const struct db_job *job)
{
    const struct db_expr *spell = &rule->clause[DB_CLAUSE_WHILE];

    w->expr = spell;
    w->day = job->best.day;
    walk_condition(w, spell, value(w, spell->root) == 1 ? job->best.day : job->first.day);
}

/* Stages go first, in their order; a sowing's day that the next sentence names anyway is left out. */
static void add_stages(struct walk *w)
{
    const struct db_turn *up = &w->scope->life->stage[DB_STAGE_UP];
    const bool planned_sowing = w->scope->life->stage[DB_STAGE_SOWN].how == DB_PLANNED;
    struct db_reason others[REASONS_MOST];
    const size_t other_count = w->count;

    memcpy(others, w->reasons, w->count * sizeof *others);
    w->count = 0;
    if (w->stages & 1U << DB_STAGE_UP && up->how == DB_ESTIMATED && !planned_sowing)
        w->stages &= ~(1U << DB_STAGE_SOWN);
    if (w->planned && planned_sowing)
        w->stages |= 1U << DB_STAGE_SOWN;
    for (int s = 0; s < DB_STAGE_COUNT; s++) {
        char buffer[REASON_SIZE];
        struct db_text text = db_text_in(buffer, sizeof buffer);

        if (s == DB_STAGE_SOWN && w->planned && !planned_sowing) {
            db_say_planned(&text, w->scope);
            add(w, &text, DB_ORIGIN_NONE);
            text = db_text_in(buffer, sizeof buffer);
        }
        if (!(w->stages & 1U << s))
            continue;
        db_say_stage(&text, w->scope, (enum db_stage) s);
        add(w, &text, DB_ORIGIN_NONE);
    }
    for (int i = 0; i < DB_OWN_COUNT; i++) {
        char buffer[REASON_SIZE];
        struct db_text text = db_text_in(buffer, sizeof buffer);

        if (!(w->own & UINT64_C(1) << i))
            continue;
        db_say_own(&text, w->scope, (enum db_own) i);
        add(w, &text, DB_ORIGIN_NONE);
    }
    for (size_t i = 0; i < other_count && w->count < REASONS_MOST; i++)
        w->reasons[w->count++] = others[i];
}

enum db_status db_rule_explain(const struct db_rules *rules, size_t index, struct db_scope *scope,
                               const struct db_job *job, struct db_arena *into, struct db_reason *ret, size_t room,
                               size_t *ret_count)
{
    const struct db_rule *rule = rules->on[index];
    const int32_t today = scope->view->today.day;
    struct walk w = { .scope = scope, .into = into };

    walk_condition(&w, &rule->condition, today);
    /* Where the rounds began is a reason for the first of them; later ones come of the round before. */
    if (rule->shape != DB_SHAPE_EVERY || job->occurrence == 0)
        walk_date(&w, &rule->first, today);
    if (rule->shape != DB_SHAPE_WHILE) { /* a spell comes when the weather says, not where its window ends */
        walk_date(&w, &rule->last, today);
        walk_date(&w, &rule->best, today);
    }
    explain_hold(&w, rules, index, job);
    explain_choice(&w, rules, index, job);
    if (rule->shape == DB_SHAPE_WHILE)
        explain_spell(&w, rule, job);
    if (rule->shape == DB_SHAPE_EVERY)
        explain_every(&w, rules, index, job);
    add_stages(&w);
    if (w.full)
        return DB_FULL;
    for (size_t i = 0; i < w.count && i < room; i++)
        ret[i] = w.reasons[i];
    *ret_count = w.count;
    return DB_OK;
}

enum db_status db_rule_explain_avoid(const struct db_rules *rules, size_t index, const struct db_scope *scope,
                                     struct db_arena *into, struct db_reason *ret, size_t room, size_t *ret_count)
{
    struct walk w = { .scope = scope, .into = into };

    walk_against(&w, rules->on[index], scope->day.day);
    if (w.full)
        return DB_FULL;
    for (size_t i = 0; i < w.count && i < room; i++)
        ret[i] = w.reasons[i];
    *ret_count = w.count;
    return DB_OK;
}
