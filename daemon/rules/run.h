/* Running compiled rules. None of these allocates; unknown values make a condition not hold and a date unknown. */
#ifndef DB_RULES_RUN_H
#define DB_RULES_RUN_H

#include "rules/scope.h"

/* `for`; true where the rule has none. scope->day is set to the view's today by the caller. */
bool db_rule_applies(const struct db_rules *rules, size_t index, const struct db_scope *scope);
/* `during` and `best` (defaults to the first day; kept inside the window). False when a date is unknown or last < first. */
bool db_rule_window(const struct db_rules *rules, size_t index, const struct db_scope *scope, struct db_date *ret_first,
                    struct db_date *ret_best, struct db_date *ret_last);
/* Stages that its window and its best day are counted from: bits 1 << enum db_stage. */
unsigned db_rule_stages(const struct db_rules *rules, size_t index);
/* Which conditions the rule has, and whether one holds on scope->day. */
enum db_clause { DB_CLAUSE_PREFER, DB_CLAUSE_AVOID, DB_CLAUSE_HOLD, DB_CLAUSE_WHILE, DB_CLAUSE_UNTIL };
bool db_rule_has(const struct db_rules *rules, size_t index, enum db_clause clause);
bool db_rule_holds(const struct db_rules *rules, size_t index, enum db_clause clause, const struct db_scope *scope);
/* `every` in whole days, at least 1. */
int32_t db_rule_every(const struct db_rules *rules, size_t index, const struct db_scope *scope);
/* `effort` in minutes, 0 when not given or unknown; `urgency` 1, 3, 5 or 9. */
float db_rule_minutes(const struct db_rules *rules, size_t index, const struct db_scope *scope);
unsigned char db_rule_urgency(const struct db_rules *rules, size_t index);
/* 128 bits over the rule's own words, worked out at compile time. */
const unsigned char *db_rule_hash(const struct db_rules *rules, size_t index);

/* Fills a template in. NULL when `into` is full. */
enum db_template { DB_TEMPLATE_JOB, DB_TEMPLATE_HOW, DB_TEMPLATE_CAUTION, DB_TEMPLATE_ROUND, DB_TEMPLATE_ITEM };
enum { DB_TEMPLATE_COUNT = DB_TEMPLATE_ITEM + 1 };
bool db_rule_has_text(const struct db_rules *rules, size_t index, enum db_template which);
const char *db_rule_text(const struct db_rules *rules, size_t index, enum db_template which,
                         const struct db_scope *scope, struct db_arena *into);
/* Whether its line can be told: nothing in it is unknown that is not left out with a clause of its own. */
bool db_rule_can_tell(const struct db_rules *rules, size_t index, const struct db_scope *scope);
/* Whether a text of this rule holds a value that the days bring: a date, a figure of the weather, a note. The others print
 * only what stands in the plan, the crop's facts and the rule itself. */
bool db_rule_prints_days(const struct db_rules *rules, size_t index);
/* Whether its days hang on what else is in the bed. */
bool db_rule_reads_beds(const struct db_rules *rules, size_t index);
/* The weather that `avoid` has against scope->day; none where it does not hold. As db_job_why. */
enum db_status db_rule_explain_avoid(const struct db_rules *rules, size_t index, const struct db_scope *scope,
                                     struct db_arena *into, struct db_reason *ret, size_t room, size_t *ret_count);
/* Which reasons decided: sentences about the stages and figures that `for`, `during`, `best`, `prefer`, `avoid`, `hold`, `while`
 * read. As db_job_why. scope->day is the job's best day. */
enum db_status db_rule_explain(const struct db_rules *rules, size_t index, struct db_scope *scope,
                               const struct db_job *job, struct db_arena *into, struct db_reason *ret, size_t room,
                               size_t *ret_count);

#endif
