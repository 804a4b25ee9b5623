/* The rules as they are held: what was given, key by key and layer by layer, and what was made of it. */
#ifndef DB_RULES_SET_H
#define DB_RULES_SET_H

#include "base/limits.h"
#include "rules/run.h"
#include "rules/template.h"

enum db_key {
    DB_KEY_JOB,
    DB_KEY_KIND,
    DB_KEY_FOR,
    DB_KEY_DURING,
    DB_KEY_BEST,
    DB_KEY_PREFER,
    DB_KEY_AVOID,
    DB_KEY_HOLD,
    DB_KEY_WHILE,
    DB_KEY_UNTIL,
    DB_KEY_EVERY,
    DB_KEY_RECORDS,
    DB_KEY_FOLLOWS,
    DB_KEY_EFFORT,
    DB_KEY_TOOL,
    DB_KEY_URGENCY,
    DB_KEY_HOW,
    DB_KEY_CAUTION,
    DB_KEY_ROUND,
    DB_KEY_ITEM,
    DB_KEY_SOURCE,
    DB_KEY_OFF
};
enum { DB_KEY_COUNT = DB_KEY_OFF + 1, DB_LAYERS = 2 };

const char *db_key_word(enum db_key key);
int db_key_find(const char *word, size_t length); /* -1: none */

struct db_given {
    struct db_words key, value;
    bool here;
};

struct db_rule {
    const char *name;
    struct db_words section[DB_LAYERS]; /* text NULL: that layer does not speak of it */
    struct db_given given[DB_LAYERS][DB_KEY_COUNT];
    bool off;
    enum db_shape shape;
    unsigned char urgency;
    const char *records, *also, *theme; /* also: NULL: nothing goes with it */
    const struct db_rule *follows;      /* whose job of the same sowing comes first; NULL: none */
    const char *tool;                   /* "": none */
    struct db_expr condition, first, last, best, every, effort; /* count 0: not given */
    struct db_expr clause[DB_CLAUSE_UNTIL + 1];
    struct db_wording text[DB_TEMPLATE_COUNT];
    unsigned char hash[16];
};

struct db_stray_key { /* a key that no rule has */
    struct db_words section, key;
    struct db_stray_key *next;
};

struct db_rules {
    struct db_arena *arena;
    struct db_rule **all; /* in the order given, later in order of name */
    size_t all_count, room;
    struct db_rule **on; /* those not switched off, in order of name */
    size_t on_count;
    struct db_stray_key *stray, **stray_end;
    struct db_words beyond; /* section of the first rule over the limit; text NULL: none */
    const char **note_words;
    size_t note_count;
};

/* What counts for a key: the gardener's own value, else the shipped one; NULL: not given, or taken away (`prefer = none` in
 * the gardener's own file). */
const struct db_words *db_rule_words(const struct db_rule *rule, enum db_key key);

/* compile.c: fills in all from `off` on. First pass: words; second: expressions, which need every rule's `records`. False
 * when the arena is full. */
bool db_rule_settle(struct db_rule *rule, struct db_rules *rules, struct db_mistakes *mistakes);
bool db_rule_compile(struct db_rule *rule, struct db_rules *rules, struct db_mistakes *mistakes);
/* order.c: finds the rule that `follows` names, when all rules are settled. */
void db_rule_settle_order(struct db_rule *rule, const struct db_rules *rules, struct db_mistakes *mistakes);

#endif
