/* The set of rules: what was given, merged key by key, and what may be asked about it. */
#define DB_PURE
#include "rules/set.h"

#include "base/sort.h"
#include "base/text.h"

#include <string.h>

#include "base/banned.h"

static const char *const key_words[DB_KEY_COUNT] = {
    [DB_KEY_JOB] = "job",       [DB_KEY_KIND] = "kind",       [DB_KEY_FOR] = "for",     [DB_KEY_DURING] = "during",
    [DB_KEY_BEST] = "best",     [DB_KEY_PREFER] = "prefer",   [DB_KEY_AVOID] = "avoid", [DB_KEY_HOLD] = "hold",
    [DB_KEY_WHILE] = "while",   [DB_KEY_UNTIL] = "until",     [DB_KEY_EVERY] = "every", [DB_KEY_RECORDS] = "records",
    [DB_KEY_EFFORT] = "effort", [DB_KEY_URGENCY] = "urgency", [DB_KEY_HOW] = "how",     [DB_KEY_CAUTION] = "caution",
    [DB_KEY_SOURCE] = "source", [DB_KEY_ROUND] = "round",     [DB_KEY_ITEM] = "item",   [DB_KEY_OFF] = "off",
    [DB_KEY_TOOL] = "tool",     [DB_KEY_FOLLOWS] = "follows",
};

const char *db_key_word(enum db_key key)
{
    return key_words[key];
}

int db_key_find(const char *word, size_t length)
{
    for (int i = 0; i < DB_KEY_COUNT; i++)
        if (db_text_is(word, length, key_words[i]))
            return i;
    return -1;
}

struct db_rules *db_rules_new(struct db_arena *arena)
{
    struct db_rules *rules = db_arena_get(arena, 1, sizeof *rules);

    if (!rules)
        return NULL;
    rules->arena = arena;
    rules->stray_end = &rules->stray;
    return rules;
}

/* The rule of this name, made if it is new; NULL: the arena is full, or (with *ret_beyond) there are too many. */
static struct db_rule *rule_for(struct db_rules *rules, const struct db_words *section, bool *ret_beyond)
{
    struct db_rule *rule;

    for (size_t i = rules->all_count; i-- > 0;) /* most often the last one */
        if (db_text_is(section->text, section->length, rules->all[i]->name))
            return rules->all[i];
    if (rules->all_count == DB_LIMIT_RULES) {
        *ret_beyond = true;
        return NULL;
    }
    if (rules->all_count == rules->room) {
        const size_t room = rules->room ? rules->room * 2 : 32;
        struct db_rule **all = db_arena_get(rules->arena, room, sizeof(struct db_rule *));

        if (!all)
            return NULL;
        if (rules->all_count > 0)
            memcpy(all, rules->all, rules->all_count * sizeof(struct db_rule *));
        rules->all = all;
        rules->room = room;
    }
    rule = db_arena_get(rules->arena, 1, sizeof *rule);
    if (!rule)
        return NULL;
    rule->name = db_arena_text(rules->arena, section->text, section->length);
    if (!rule->name)
        return NULL;
    rules->all[rules->all_count++] = rule;
    return rule;
}

enum db_status db_rules_key(struct db_rules *rules, const struct db_words *section, const struct db_words *key,
                            const struct db_words *value, int layer)
{
    const int index = db_key_find(key->text, key->length);
    struct db_rule *rule;
    bool beyond = false;

    if (layer < 0 || layer >= DB_LAYERS)
        return DB_RANGE;
    rule = rule_for(rules, section, &beyond);
    if (beyond && !rules->beyond.text)
        rules->beyond = *section;
    if (!rule)
        return beyond ? DB_OK : DB_FULL; /* said when they are compiled */
    rule->section[layer] = *section;
    if (index >= 0) {
        rule->given[layer][index] = (struct db_given){ *key, *value, true };
        return DB_OK;
    }

    struct db_stray_key *stray = db_arena_get(rules->arena, 1, sizeof *stray);

    if (!stray)
        return DB_FULL;
    *stray = (struct db_stray_key){ *section, *key, NULL };
    *rules->stray_end = stray;
    rules->stray_end = &stray->next;
    return DB_OK;
}

/* `prefer = none` in the gardener's own file takes the shipped key away, if the rule can do without it. */
static bool takes_away(const struct db_given *given, int layer, enum db_key key)
{
    return layer > 0 && key != DB_KEY_JOB && key != DB_KEY_KIND && key != DB_KEY_DURING && key != DB_KEY_SOURCE &&
           db_text_is(given->value.text, given->value.length, "none");
}

const struct db_words *db_rule_words(const struct db_rule *rule, enum db_key key)
{
    for (int layer = DB_LAYERS; layer-- > 0;) {
        const struct db_given *given = &rule->given[layer][key];

        if (given->here)
            return takes_away(given, layer, key) ? NULL : &given->value;
    }
    return NULL;
}

/* -- compiling ----------------------------------------------------------------------------------------------------- */

static int by_name(const void *a, const void *b, const void *context)
{
    const struct db_rule *const *x = a, *const *y = b;

    (void) context;
    return strcmp((*x)->name, (*y)->name);
}

static int by_word(const void *a, const void *b, const void *context)
{
    const char *const *x = a, *const *y = b;

    (void) context;
    return strcmp(*x, *y);
}

/* Stages first, in their order; then what rules record, in order of word, each once. */
static bool list_note_words(struct db_rules *rules)
{
    const char **list = db_arena_get(rules->arena, DB_STAGE_COUNT + 2 * rules->all_count + 1, sizeof *list);
    size_t count = 0, kept = 0;

    if (!list)
        return false;

    const char **own = list + DB_STAGE_COUNT;

    for (int i = 0; i < DB_STAGE_COUNT; i++)
        list[i] = db_stage_word((enum db_stage) i);
    for (size_t i = 0; i < rules->all_count; i++)
        if (rules->all[i]->records && db_stage_find(rules->all[i]->records) < 0)
            own[count++] = rules->all[i]->records;
    for (size_t i = 0; i < rules->all_count; i++)
        if (rules->all[i]->also && db_stage_find(rules->all[i]->also) < 0)
            own[count++] = rules->all[i]->also;
    if (db_sort(own, count, sizeof *own, by_word, NULL, rules->arena) != DB_OK)
        return false;
    for (size_t i = 0; i < count; i++)
        if (kept == 0 || strcmp(own[kept - 1], own[i]) != 0)
            own[kept++] = own[i];
    own[kept] = NULL;
    rules->note_words = list;
    rules->note_count = DB_STAGE_COUNT + kept;
    return true;
}

static void report_stray(const struct db_rules *rules, struct db_mistakes *mistakes)
{
    for (const struct db_stray_key *s = rules->stray; s; s = s->next) {
        char word[DB_LIMIT_LINE + 1] = "", instead[80];
        struct db_text text = db_text_in(instead, sizeof instead);
        const char *near;

        if (s->key.length < sizeof word)
            memcpy(word, s->key.text, s->key.length);
        near = db_nearest(word, key_words, DB_KEY_COUNT);
        if (near)
            db_text_add_format(&text, "did you mean %s?", near);
        db_mistakes_add(mistakes, db_words_place(&s->key, 0, s->key.length), instead, "rules have no key \"%.*s\"",
                        (int) s->key.length, s->key.text);
    }
    if (rules->beyond.text)
        db_mistakes_add(mistakes, db_words_place(&rules->beyond, 0, rules->beyond.length), "leave some out",
                        "there are more than %d rules", DB_LIMIT_RULES);
}

enum db_status db_rules_compile(struct db_rules *rules, struct db_mistakes *mistakes)
{
    const size_t before = db_mistakes_count(mistakes);

    report_stray(rules, mistakes);
    if (db_sort(rules->all, rules->all_count, sizeof(struct db_rule *), by_name, NULL, rules->arena) != DB_OK)
        return DB_FULL;
    for (size_t i = 0; i < rules->all_count; i++)
        if (!db_rule_settle(rules->all[i], rules, mistakes))
            return DB_FULL;
    if (!list_note_words(rules))
        return DB_FULL;
    for (size_t i = 0; i < rules->all_count; i++)
        db_rule_settle_order(rules->all[i], rules, mistakes);
    rules->on = db_arena_get(rules->arena, rules->all_count, sizeof(struct db_rule *));
    if (!rules->on)
        return DB_FULL;
    for (size_t i = 0; i < rules->all_count; i++) {
        if (!db_rule_compile(rules->all[i], rules, mistakes))
            return DB_FULL;
        if (!rules->all[i]->off)
            rules->on[rules->on_count++] = rules->all[i];
    }
    return db_mistakes_count(mistakes) > before ? DB_MISTAKEN : DB_OK;
}

/* -- asking -------------------------------------------------------------------------------------------------------- */

size_t db_rules_count(const struct db_rules *rules)
{
    return rules->on_count;
}

const char *db_rule_name(const struct db_rules *rules, size_t index)
{
    return rules->on[index]->name;
}

size_t db_rules_find(const struct db_rules *rules, const char *name)
{
    size_t low = 0, high = rules->on_count;

    while (low < high) {
        const size_t middle = low + (high - low) / 2;
        const int order = strcmp(rules->on[middle]->name, name);

        if (order == 0)
            return middle;
        if (order < 0)
            low = middle + 1;
        else
            high = middle;
    }
    return SIZE_MAX;
}

enum db_shape db_rule_shape(const struct db_rules *rules, size_t index)
{
    return rules->on[index]->shape;
}

const char *db_rule_records(const struct db_rules *rules, size_t index)
{
    return rules->on[index]->records;
}

const char *db_rule_also(const struct db_rules *rules, size_t index)
{
    return rules->on[index]->also;
}

static const char *words_of(const struct db_rules *rules, size_t index, enum db_key key)
{
    const struct db_words *words = db_rule_words(rules->on[index], key);

    return words ? words->text : "";
}

const char *db_rule_caution(const struct db_rules *rules, size_t index)
{
    return words_of(rules, index, DB_KEY_CAUTION);
}

const char *db_rule_source(const struct db_rules *rules, size_t index)
{
    return words_of(rules, index, DB_KEY_SOURCE);
}

const char *db_rule_theme(const struct db_rules *rules, size_t index)
{
    return rules->on[index]->theme;
}

size_t db_rule_follows(const struct db_rules *rules, size_t index)
{
    const struct db_rule *first = rules->on[index]->follows;

    while (first && first->off)
        first = first->follows;
    return first ? db_rules_find(rules, first->name) : SIZE_MAX;
}

const char *db_rule_tool(const struct db_rules *rules, size_t index)
{
    return rules->on[index]->tool;
}

bool db_rules_override(const struct db_rules *rules, size_t index, struct db_override *ret)
{
    for (size_t i = 0; i < rules->all_count; i++)
        for (int key = 0; key < DB_KEY_COUNT; key++) {
            const struct db_rule *rule = rules->all[i];
            const struct db_given *shipped = &rule->given[0][key], *own = &rule->given[1][key];

            if (!own->here || index-- > 0)
                continue;
            *ret = (struct db_override){ rule->name, key_words[key], shipped->here ? shipped->value.text : "",
                                         own->value.text };
            return true;
        }
    return false;
}

const char *db_rules_note_word(const struct db_rules *rules, size_t index)
{
    return index < rules->note_count ? rules->note_words[index] : NULL;
}
