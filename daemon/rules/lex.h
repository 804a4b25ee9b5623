/* Words, numbers with their units, and signs of an expression. */
#ifndef DB_RULES_LEX_H
#define DB_RULES_LEX_H

#include "dewbell/units.h"

enum db_token_kind {
    DB_TOKEN_END,
    DB_TOKEN_NUMBER, /* number, unit */
    DB_TOKEN_WORD,   /* also with points: crop.thin.least */
    DB_TOKEN_SIGN,   /* op: its first byte; "<=" and ">=" are 'l' and 'g', ".." is '.' */
    DB_TOKEN_WRONG   /* nothing that may be written; what and instead say why */
};

struct db_token {
    enum db_token_kind kind;
    char sign;
    bool decimal_comma; /* "1,5" */
    size_t from, width;
    size_t digits; /* of a number: bytes before its unit */
    double number;
    const struct db_unit *unit; /* NULL: none */
    const char *instead;        /* of WRONG: what to write; "" if there is nothing to say */
};

struct db_lexer {
    const char *text;
    size_t at, to;
};

struct db_token db_lex(struct db_lexer *lexer);
/* A unit at this point, without a number before it ("m" of "3 min per m"); NULL if there is none. */
const struct db_unit *db_lex_unit(struct db_lexer *lexer, size_t *ret_from, size_t *ret_width);

#endif
