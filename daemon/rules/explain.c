/* Why a job exists and why on that day: a walk over what the rule asked, gathering the stages and the weather that
 * decided. What merely sorts sowings (`raised in drill`) and what did not hold says nothing. */
#define DB_PURE
#include "rules/walk.h"

#include "base/text.h"

#include <math.h>
#include <string.h>

#include "base/banned.h"

/* Stages and notes that a value was worked out from. */
static void walk_value(struct db_walk *w, int index)
{
    const struct db_node *n = db_walk_node(w, index);

    switch (n->op) {
    case DB_OP_STAGE:
    case DB_OP_EARLY:
    case DB_OP_LATE:
        w->stages |= 1U << n->index;
        return;
    case DB_OP_PLANNED:
        w->planned = true;
        return;
    case DB_OP_SOLSTICE:
        w->solstice = true;
        return;
    case DB_OP_OWN:
        w->own |= UINT64_C(1) << n->index;
        return;
    case DB_OP_OWN_WORD:
        w->own |= UINT64_C(1) << db_say_own_word((enum db_own_word) n->index);
        return;
    case DB_OP_LAST:
        db_walk_note(w, n);
        return;
    case DB_OP_AFTER:
        walk_value(w, n->a);
        db_walk_after(w, index);
        return;
    case DB_OP_WARMED:
        db_walk_warmed(w, index);
        return;
    case DB_OP_LATER:
    case DB_OP_EARLIER:
        walk_value(w, db_walk_value(w, n->a) == db_walk_value(w, index) ? n->a : n->b);
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
static void walk_truth(struct db_walk *w, int index)
{
    const struct db_node *n = db_walk_node(w, index);

    switch (n->op) {
    case DB_OP_AND:
        walk_truth(w, n->a);
        walk_truth(w, n->b);
        return;
    case DB_OP_OR:
        walk_truth(w, db_walk_value(w, n->a) == 1 ? n->a : n->b);
        return;
    case DB_OP_NOTED:
        db_walk_note(w, n);
        return;
    case DB_OP_FACT:
        db_walk_fact(w, n);
        return;
    case DB_OP_OWN:
        walk_value(w, index);
        return;
    case DB_OP_NOT:
    case DB_OP_KNOWN:
        if (db_walk_node(w, n->a)->op == DB_OP_OWN || db_walk_node(w, n->a)->op == DB_OP_OWN_WORD)
            walk_value(w, n->a);
        return;
    default:
        if (n->op < DB_OP_BELOW || n->op > DB_OP_UNEQUAL)
            return;
        db_walk_comparison(w, n);
        walk_value(w, n->a);
        walk_value(w, n->b);
        return;
    }
}

static void walk_condition(struct db_walk *w, const struct db_expr *expr, int32_t day)
{
    w->expr = expr;
    w->day = day;
    if (expr->count > 0 && db_walk_value(w, expr->root) == 1)
        walk_truth(w, expr->root);
}

static void walk_date(struct db_walk *w, const struct db_expr *expr, int32_t day)
{
    w->expr = expr;
    w->day = day;
    if (expr->count > 0)
        walk_value(w, expr->root);
}

/* "It comes round every 3 days; it was last noted “picked” on 3 June." */
static void explain_every(struct db_walk *w, const struct db_rules *rules, size_t index, const struct db_job *job)
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
    db_walk_add(w, &text, DB_ORIGIN_NONE);
}

/* Whether weather is what makes a condition hold that does. */
static bool hangs_on_weather(const struct db_walk *w, int index)
{
    const struct db_node *n = db_walk_node(w, index);

    if (n->op == DB_OP_AND)
        return hangs_on_weather(w, n->a) || hangs_on_weather(w, n->b);
    if (n->op == DB_OP_OR)
        return hangs_on_weather(w, db_walk_value(w, n->a) == 1 ? n->a : n->b);
    return db_walk_weather(w, index) >= 0;
}

/* What put the best day off: asked on the day that would have been best. */
static void explain_hold(struct db_walk *w, const struct db_rules *rules, size_t index, const struct db_job *job)
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
    if (db_walk_value(w, hold->root) != 1)
        return;
    db_text_add(&text, "It would have been due ");
    db_say_days(&text, w->scope, best.day, best.day);
    db_text_add(&text, hangs_on_weather(w, hold->root) ? "; the weather put it off." : ", and waits.");
    db_walk_add(w, &text, DB_ORIGIN_NONE);
    walk_truth(w, hold->root);
    if (job->best.day - 1 > best.day) /* what put it off to the very end */
        walk_condition(w, hold, job->best.day - 1);
}

/* A condition that did not hold: the comparisons that failed. */
static void walk_false(struct db_walk *w, int index)
{
    const struct db_node *n = db_walk_node(w, index);

    if (db_walk_value(w, index) != 0)
        return;
    if (n->op == DB_OP_AND || n->op == DB_OP_OR) {
        walk_false(w, n->a);
        walk_false(w, n->b);
    } else if (n->op >= DB_OP_BELOW && n->op <= DB_OP_UNEQUAL)
        db_walk_comparison(w, n);
}

static void walk_against(struct db_walk *w, const struct db_rule *rule, int32_t day)
{
    w->against = true;
    walk_condition(w, &rule->clause[DB_CLAUSE_AVOID], day);
    w->against = false;
}

static bool holds_on(struct db_walk *w, const struct db_expr *expr, struct db_date day)
{
    w->expr = expr;
    w->day = day.day;
    return expr->count > 0 && db_walk_value(w, expr->root) == 1;
}

/* Weather that moved the best day: what spoke against the day that `best` names, what for the one that was taken. */
static void explain_choice(struct db_walk *w, const struct db_rules *rules, size_t index, const struct db_job *job)
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
    db_walk_add(w, &text, DB_ORIGIN_NONE);
    walk_against(w, rules->on[index], best.day);
    w->expr = prefer;
    w->day = best.day;
    if (better)
        walk_false(w, prefer->root);
    walk_condition(w, prefer, job->best.day);
}

/* A spell: the weather of its best day, or of its first where `until` alone keeps it going. */
static void explain_spell(struct db_walk *w, const struct db_rule *rule, const struct db_job *job)
{
    const struct db_expr *spell = &rule->clause[DB_CLAUSE_WHILE];

    w->expr = spell;
    w->day = job->best.day;
    walk_condition(w, spell, db_walk_value(w, spell->root) == 1 ? job->best.day : job->first.day);
}

/* Stages go first, in their order; a sowing's day that the next sentence names anyway is left out. */
static void add_stages(struct db_walk *w)
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
            db_walk_add(w, &text, DB_ORIGIN_NONE);
            text = db_text_in(buffer, sizeof buffer);
        }
        if (!(w->stages & 1U << s))
            continue;
        db_say_stage(&text, w->scope, (enum db_stage) s);
        db_walk_add(w, &text, DB_ORIGIN_NONE);
    }
    if (w->solstice) {
        char buffer[REASON_SIZE];
        struct db_text text = db_text_in(buffer, sizeof buffer);

        db_say_solstice(&text, w->scope);
        db_walk_add(w, &text, DB_ORIGIN_NONE);
    }
    for (int i = 0; i < DB_OWN_COUNT; i++) {
        char buffer[REASON_SIZE];
        struct db_text text = db_text_in(buffer, sizeof buffer);

        if (!(w->own & UINT64_C(1) << i))
            continue;
        db_say_own(&text, w->scope, (enum db_own) i);
        db_walk_add(w, &text, DB_ORIGIN_NONE);
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
    struct db_walk w = { .scope = scope, .into = into };

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
    struct db_walk w = { .scope = scope, .into = into };

    walk_against(&w, rules->on[index], scope->day.day);
    if (w.full)
        return DB_FULL;
    for (size_t i = 0; i < w.count && i < room; i++)
        ret[i] = w.reasons[i];
    *ret_count = w.count;
    return DB_OK;
}
