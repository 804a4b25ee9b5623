/* What the files of the parser share. */
#ifndef DB_RULES_PARSE_H
#define DB_RULES_PARSE_H

#include "rules/expr.h"
#include "rules/lex.h"

struct db_parser {
    struct db_reading *reading;
    struct db_lexer lexer;
    struct db_token token; /* the next one, not yet taken */
    size_t last_end;       /* end of the last one taken */
    struct db_node *nodes;
    int count, depth, days_deep;
    int has_day; /* > 0: `day` means something here */
    bool stop, wrong;
};

#define DB_PARSE_MISTAKE(p, from, width, instead, ...)                                                                 \
    ((p)->wrong = true,                                                                                                \
     db_mistakes_add((p)->reading->mistakes, db_words_place((p)->reading->words, from, width), instead, __VA_ARGS__))

const char *db_parse_text(const struct db_parser *p, size_t from);
void db_parse_take(struct db_parser *p);
bool db_parse_is_sign(const struct db_parser *p, char sign);
bool db_parse_is_word(const struct db_parser *p, const char *word);
/* Ends the reading of this value; always -1. */
int db_parse_halt(struct db_parser *p);
/* What stands at the next token is not what the grammar wants there: says so and halts. */
int db_parse_stray(struct db_parser *p, const char *wanted, const char *instead);
/* A new node whose words begin at `from` and end with the last token taken; -1 once halted. */
int db_parse_add(struct db_parser *p, enum db_op op, size_t from, int a, int b);
int db_parse_add_signed(struct db_parser *p, enum db_op op, const struct db_token *sign, size_t from, int a, int b);
/* One level further in; false: too deep. Whoever comes out again lessens p->depth. */
bool db_parse_deeper(struct db_parser *p);
/* A token's text with a NUL, "" if it does not fit. */
const char *db_parse_word(const struct db_parser *p, const struct db_token *token, char *buffer, size_t size);

int db_parse_condition(struct db_parser *p);
int db_parse_sum(struct db_parser *p);
int db_parse_amount(struct db_parser *p, bool negative, size_t from); /* parse_number.c */
int db_parse_name(struct db_parser *p);                               /* parse_name.c */

#endif
