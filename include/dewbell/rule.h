/* Rules: INI sections that turn stages and weather into jobs. Compiled once: names, kinds, units and cost are checked
 * when they load, never at night. The language is described in docs/rules.md. */
#ifndef DEWBELL_RULE_H
#define DEWBELL_RULE_H

#include "dewbell/crop.h"
#include "dewbell/mistake.h"

#ifdef __cplusplus
extern "C" {
#endif

enum db_shape {
    DB_SHAPE_ONCE,  /* one job in a window between two dates */
    DB_SHAPE_EVERY, /* repeats, counted from when it was last really done */
    DB_SHAPE_WHILE  /* a spell of weather inside a window */
};

struct db_rules;

struct db_rules *db_rules_new(struct db_arena *arena);

/* One key of one section, in the order read; the same section and key again (from a later file) replaces the earlier
 * value. Words must outlive the rules. layer: 0 shipped, 1 the gardener's own. */
DB_MUST_USE enum db_status db_rules_key(struct db_rules *rules, const struct db_words *section,
                                        const struct db_words *key, const struct db_words *value, int layer);

/* Checks and compiles everything that was given. All mistakes go to the list. DB_MISTAKEN if there was any. */
DB_MUST_USE enum db_status db_rules_compile(struct db_rules *rules, struct db_mistakes *mistakes);

size_t db_rules_count(const struct db_rules *rules);
/* Rules are held in order of name. */
const char *db_rule_name(const struct db_rules *rules, size_t index);
/* SIZE_MAX if there is none. */
size_t db_rules_find(const struct db_rules *rules, const char *name);
enum db_shape db_rule_shape(const struct db_rules *rules, size_t index);
/* Whether it has `every`: a repeat, or a spell that a note ends and that begins anew when it is due again. */
bool db_rule_comes_again(const struct db_rules *rules, size_t index);
/* The word that marking its job done records; for a rule without `records` its own name. */
const char *db_rule_records(const struct db_rules *rules, size_t index);
/* The word of a second note that goes with it (`records = sown, shaded`); NULL: none. */
const char *db_rule_also(const struct db_rules *rules, size_t index);
/* "" where not given. */
const char *db_rule_caution(const struct db_rules *rules, size_t index);
const char *db_rule_source(const struct db_rules *rules, size_t index);
/* The rule whose job of the same sowing comes first where jobs are put on the gardener's days (`follows`), past those that are
 * switched off; SIZE_MAX: none. */
size_t db_rule_follows(const struct db_rules *rules, size_t index);
const char *db_rule_theme(const struct db_rules *rules,
                          size_t index); /* `kind = Thin`: one word, the calendar's category */

/* What is fetched for its jobs, as in "net and hoops"; "": nothing. Two tools that differ in the case of letters at most are the
 * same. */
const char *db_rule_tool(const struct db_rules *rules, size_t index);

/* One line for each key that the gardener's own files replace or add: rule, key, the shipped words ("" if new), the new
 * words. Returns how many there are; index beyond: false. */
struct db_override {
    const char *rule, *key, *shipped, *own;
};
bool db_rules_override(const struct db_rules *rules, size_t index, struct db_override *ret);

/* Every word that a note may carry: stages and what rules record. Index from 0, NULL at the end. */
const char *db_rules_note_word(const struct db_rules *rules, size_t index);

#ifdef __cplusplus
}
#endif
#endif
