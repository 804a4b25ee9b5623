/* `follows`: steps of one thing that are no stages, such as those of hardening off, keep their order. */
#define DB_PURE
#include "rules/set.h"

#include "base/limits.h"
#include "base/text.h"

#include <string.h>

#include "base/banned.h"

static const struct db_rule *find(const struct db_rules *rules, const char *name)
{
    for (size_t i = 0; i < rules->all_count; i++)
        if (strcmp(rules->all[i]->name, name) == 0)
            return rules->all[i];
    return NULL;
}

static void unknown(const struct db_rules *rules, const struct db_words *words, struct db_mistakes *mistakes)
{
    const char *names[DB_LIMIT_RULES], *near;
    char instead[120];
    struct db_text text = db_text_in(instead, sizeof instead);

    for (size_t i = 0; i < rules->all_count; i++)
        names[i] = rules->all[i]->name;
    near = db_nearest(words->text, names, rules->all_count);
    if (near)
        db_text_add_format(&text, "did you mean %s?", near);
    else
        db_text_add(&text, "write the name of the rule whose job comes first");
    db_mistakes_add(mistakes, db_words_place(words, 0, words->length), instead, "there is no rule \"%s\"", words->text);
}

/* Why this rule cannot follow that one; NULL: it can. */
static const char *obstacle(const struct db_rule *rule, const struct db_rule *first, const char **ret_instead)
{
    *ret_instead = "leave it out";
    if (rule->shape != DB_SHAPE_ONCE)
        return "follows says nothing to a rule whose job comes again";
    if (db_stage_find(rule->records) >= 0)
        return "follows says nothing to a rule that records a stage: stages keep their order";
    *ret_instead = "write the name of a rule whose job comes once";
    if (first->shape != DB_SHAPE_ONCE)
        return "the job of the rule that it follows comes again";
    *ret_instead = "write the name of the rule whose job comes first";
    for (const struct db_rule *r = first; r; r = r->follows)
        if (r == rule)
            return first == rule ? "it cannot follow itself" : "they would wait for each other";
    return NULL;
}

void db_rule_settle_order(struct db_rule *rule, const struct db_rules *rules, struct db_mistakes *mistakes)
{
    const struct db_words *words = db_rule_words(rule, DB_KEY_FOLLOWS);
    const struct db_rule *first;
    const char *why, *instead;

    if (!words || words->length == 0)
        return;
    first = find(rules, words->text);
    if (!first) {
        unknown(rules, words, mistakes);
        return;
    }
    why = obstacle(rule, first, &instead);
    if (why)
        db_mistakes_add(mistakes, db_words_place(words, 0, words->length), instead, "%s", why);
    else
        rule->follows = first;
}
