/* Compiled rules, asked about one sowing on one day. */
#define DB_PURE
#include "rules/set.h"

#include <math.h>

#include "base/banned.h"

static const struct db_rule *rule_at(const struct db_rules *rules, size_t index)
{
    return rules->on[index];
}

bool db_rule_applies(const struct db_rules *rules, size_t index, const struct db_scope *scope)
{
    const struct db_rule *rule = rule_at(rules, index);

    if (rule->condition.count > 0 && db_expr_value(&rule->condition, scope) != 1)
        return false;
    /* A repeat whose time is not known cannot be counted out. */
    return rule->every.count == 0 || !isnan(db_expr_value(&rule->every, scope));
}

static bool date_of(const struct db_expr *expr, const struct db_scope *scope, struct db_date *ret)
{
    const double x = db_expr_value(expr, scope);

    if (!(fabs(x) < 4e6)) /* not known, or far outside the calendar */
        return false;
    ret->day = (int32_t) floor(x + 0.5);
    return true;
}

bool db_rule_window(const struct db_rules *rules, size_t index, const struct db_scope *scope, struct db_date *ret_first,
                    struct db_date *ret_best, struct db_date *ret_last)
{
    const struct db_rule *rule = rule_at(rules, index);
    struct db_date first, best, last;

    if (!date_of(&rule->first, scope, &first) || !date_of(&rule->last, scope, &last) || last.day < first.day)
        return false;
    if (rule->best.count == 0)
        best = first;
    else if (!date_of(&rule->best, scope, &best))
        return false;
    *ret_first = first;
    *ret_last = last;
    ret_best->day = best.day < first.day ? first.day : best.day > last.day ? last.day : best.day;
    return true;
}

unsigned db_rule_stages(const struct db_rules *rules, size_t index)
{
    const struct db_rule *rule = rule_at(rules, index);
    const struct db_expr *const dates[] = { &rule->first, &rule->best };
    unsigned stages = 0;

    for (size_t d = 0; d < sizeof dates / sizeof dates[0]; d++)
        for (int n = 0; n < dates[d]->count; n++) {
            const struct db_node *node = &dates[d]->nodes[n];

            if (node->op == DB_OP_STAGE || node->op == DB_OP_EARLY || node->op == DB_OP_LATE)
                stages |= 1U << node->index;
        }
    return stages;
}

bool db_rule_has(const struct db_rules *rules, size_t index, enum db_clause clause)
{
    return rule_at(rules, index)->clause[clause].count > 0;
}

bool db_rule_holds(const struct db_rules *rules, size_t index, enum db_clause clause, const struct db_scope *scope)
{
    const struct db_expr *expr = &rule_at(rules, index)->clause[clause];

    return expr->count > 0 && db_expr_value(expr, scope) == 1;
}

bool db_rule_comes_again(const struct db_rules *rules, size_t index)
{
    return rule_at(rules, index)->every.count > 0;
}

int32_t db_rule_every(const struct db_rules *rules, size_t index, const struct db_scope *scope)
{
    const struct db_rule *rule = rule_at(rules, index);
    const double days = rule->every.count > 0 ? floor(db_expr_value(&rule->every, scope) + 0.5) : 1;

    return days >= 1 && days < 1e6 ? (int32_t) days : 1;
}

float db_rule_minutes(const struct db_rules *rules, size_t index, const struct db_scope *scope)
{
    const struct db_rule *rule = rule_at(rules, index);
    const double days = rule->effort.count > 0 ? db_expr_value(&rule->effort, scope) : 0;

    return days > 0 && days < 1e4 ? (float) (days * 1440) : 0;
}

unsigned char db_rule_urgency(const struct db_rules *rules, size_t index)
{
    return rule_at(rules, index)->urgency;
}

const unsigned char *db_rule_hash(const struct db_rules *rules, size_t index)
{
    return rule_at(rules, index)->hash;
}

bool db_rule_has_text(const struct db_rules *rules, size_t index, enum db_template which)
{
    return rule_at(rules, index)->text[which].count > 0;
}

const char *db_rule_text(const struct db_rules *rules, size_t index, enum db_template which,
                         const struct db_scope *scope, struct db_arena *into)
{
    return db_template_fill(&rule_at(rules, index)->text[which],
                            which == DB_TEMPLATE_HOW || which == DB_TEMPLATE_CAUTION, scope, into);
}

bool db_rule_can_tell(const struct db_rules *rules, size_t index, const struct db_scope *scope)
{
    return db_template_is_whole(&rule_at(rules, index)->text[DB_TEMPLATE_JOB], scope);
}

/* Of a sowing and its crop alone, whatever the day. */
static bool is_plain_own(int own)
{
    return own == DB_OWN_AREA || own == DB_OWN_SEEDS || own == DB_OWN_SEED_WEIGHT || own == DB_OWN_MIX;
}

static bool is_of_days(const struct db_node *n)
{
    const enum db_op op = (enum db_op) n->op;

    return (op >= DB_OP_STAGE && op <= DB_OP_FIGURE) || op == DB_OP_COVER || op == DB_OP_OUTDOORS ||
           op == DB_OP_CONTAINER || op == DB_OP_MONTH || (op == DB_OP_OWN && !is_plain_own(n->index)) ||
           op == DB_OP_OWN_WORD || op == DB_OP_WARMED || op >= DB_OP_SPAN;
}

static bool is_of_beds(const struct db_node *n)
{
    return n->op == DB_OP_OWN_WORD || (n->op == DB_OP_OWN && n->index >= DB_OWN_FITS && n->index <= DB_OWN_FAMILY_GAP);
}

static bool reads_beds(const struct db_expr *expr)
{
    for (int n = 0; n < expr->count; n++)
        if (is_of_beds(&expr->nodes[n]))
            return true;
    return false;
}

bool db_rule_reads_beds(const struct db_rules *rules, size_t index)
{
    const struct db_rule *rule = rule_at(rules, index);
    bool reads = reads_beds(&rule->condition) || reads_beds(&rule->first) || reads_beds(&rule->last) ||
                 reads_beds(&rule->best) || reads_beds(&rule->every);

    for (size_t c = 0; c < sizeof rule->clause / sizeof rule->clause[0]; c++)
        reads = reads || reads_beds(&rule->clause[c]);
    return reads;
}

bool db_rule_prints_days(const struct db_rules *rules, size_t index)
{
    const struct db_rule *rule = rule_at(rules, index);

    for (size_t t = 0; t < sizeof rule->text / sizeof rule->text[0]; t++)
        for (size_t p = 0; p < rule->text[t].count; p++)
            for (int n = 0; n < rule->text[t].parts[p].value.count; n++)
                if (is_of_days(&rule->text[t].parts[p].value.nodes[n]))
                    return true;
    return false;
}
