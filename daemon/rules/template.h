/* Texts with values in braces. */
#ifndef DB_RULES_TEMPLATE_H
#define DB_RULES_TEMPLATE_H

#include "rules/expr.h"

struct db_part {
    const char *text; /* literal text, length bytes; NULL: the value */
    size_t length;
    struct db_expr value;
};

struct db_wording {
    const struct db_part *parts;
    size_t count;
};

/* Reads all of reading->words. False: mistakes were added or the arena is full. */
bool db_template_read(struct db_reading *reading, struct db_wording *ret);

/* Fills it in; runs of spaces become one. `sentences`: a sentence with a value that is not known is left out. Else it is one
 * line: a word that is not known leaves no gap, and for an amount the clause after a comma that holds it is left out ("?"
 * before the first comma: the compiler sees to it that this does not happen). NULL when the arena is full. */
const char *db_template_fill(const struct db_wording *filled, bool sentences, const struct db_scope *scope,
                             struct db_arena *into);

/* Whether a line can be filled in without a "?". */
bool db_template_is_whole(const struct db_wording *line, const struct db_scope *scope);

/* "2 June", with the year if it is not that of `today`. Adds to text. */
struct db_text;
void db_text_add_day(struct db_text *text, struct db_date date, struct db_date today);

#endif
