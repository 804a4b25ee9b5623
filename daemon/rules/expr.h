/* An expression of the rule language, read, checked and ready to run: a flat array of nodes, children before parents. */
#ifndef DB_RULES_EXPR_H
#define DB_RULES_EXPR_H

#include "rules/scope.h"

enum db_op {
    /* leaves */
    DB_OP_BAD,    /* already reported; nothing more is said about what holds it */
    DB_OP_AMOUNT, /* value */
    DB_OP_RATE,   /* value of `kind` for each 1 of `per` */
    DB_OP_STAGE,  /* index: enum db_stage */
    DB_OP_EARLY,
    DB_OP_LATE,
    DB_OP_PLANNED,
    DB_OP_TODAY,
    DB_OP_DAY,
    DB_OP_SOLSTICE,
    DB_OP_NEXT_RAIN,
    DB_OP_NOTED, /* word; index: the stage or DB_STAGE_COUNT */
    DB_OP_LAST,
    DB_OP_FIGURE, /* index: enum db_read */
    DB_OP_FACT,   /* index: enum db_fact; end */
    DB_OP_RAISED,
    DB_OP_COVER,
    DB_OP_OUTDOORS,
    DB_OP_CONTAINER,
    DB_OP_MOVES,
    DB_OP_ROW,
    DB_OP_PLUGS,
    DB_OP_PLANTS,
    DB_OP_MONTH,
    DB_OP_OWN,      /* index: enum db_own; end */
    DB_OP_OWN_WORD, /* index: enum db_own_word */
    DB_OP_CROP,     /* in templates only, as far as DB_OP_SOWING */
    DB_OP_CROPS,
    DB_OP_VARIETY,
    DB_OP_BED,
    DB_OP_INTO,
    DB_OP_WHERE,
    DB_OP_THERE,
    DB_OP_SOWING,
    /* of a, or of a and b */
    DB_OP_NEGATE,
    DB_OP_ADD,
    DB_OP_SUBTRACT,
    DB_OP_MULTIPLY,
    DB_OP_DIVIDE,
    DB_OP_BELOW,
    DB_OP_AT_MOST,
    DB_OP_ABOVE,
    DB_OP_AT_LEAST,
    DB_OP_EQUAL,
    DB_OP_UNEQUAL,
    DB_OP_AMONG, /* a is one of words */
    DB_OP_NOT_AMONG,
    DB_OP_KNOWN,
    DB_OP_UNKNOWN,
    DB_OP_NOT,
    DB_OP_AND,
    DB_OP_OR,
    DB_OP_LATER,
    DB_OP_EARLIER,
    DB_OP_WARMED, /* a above b; index: the month from whose first day it is counted */
    /* days: only the second argument of what follows them */
    DB_OP_SPAN,  /* a .. b */
    DB_OP_AHEAD, /* day .. day + a */
    DB_OP_BACK,  /* day - a .. day */
    /* over days: a on each day of b */
    DB_OP_LEAST,
    DB_OP_MOST,
    DB_OP_AVERAGE,
    DB_OP_SUM,
    DB_OP_COUNT,
    DB_OP_AFTER /* from date a, b days on which c holds */
};

/* Figures that a rule can read on a day. */
enum db_read {
    DB_READ_LOW,
    DB_READ_HIGH,
    DB_READ_MEAN,
    DB_READ_RAIN,
    DB_READ_WIND,
    DB_READ_SOIL,
    DB_READ_SOIL_LOW,
    DB_READ_SOIL_HIGH,
    DB_READ_LOW_HERE,
    DB_READ_LOW_TONIGHT,
    DB_READ_LOW_TONIGHT_HERE,
    DB_READ_GROUND_TONIGHT,    /* at the height of the plants, where it stands */
    DB_READ_LOW_TONIGHT_THERE, /* in the place it is planted into */
    DB_READ_DAY_LENGTH,
    DB_READ_CHILL, /* K d of the day, by the crop's own facts */
    DB_READ_ET0,
    DB_READ_RAIN_HERE,     /* what of it reaches the ground where it stands */
    DB_READ_RAIN_TOMORROW, /* the same on the next day */
    DB_READ_DRY,
    DB_READ_DRY_LIMIT,
    DB_READ_WATER
};
enum { DB_READ_COUNT = DB_READ_WATER + 1 };

enum db_end { DB_END_MIDDLE, DB_END_LEAST, DB_END_MOST };

/* A value's kind beyond enum db_kind. */
enum { DB_KIND_BAD = 100, DB_KIND_DAYS, DB_KIND_RATE };

struct db_node {
    unsigned char op;   /* enum db_op */
    unsigned char kind; /* enum db_kind or one of those above */
    unsigned char per; /* of a rate: kind of what it is for each of; `kind` of the node is DB_KIND_RATE, `of` its own */
    unsigned char of;
    unsigned char index;
    unsigned char end;    /* enum db_end */
    bool point;           /* an amount written in degrees: a point on the scale until its neighbour says otherwise */
    short a, b, c;        /* children, -1: none */
    unsigned from, width; /* where it is written: bytes of the value's words */
    unsigned sign;        /* where its operator or name is written */
    unsigned sign_width;
    unsigned mask; /* of words: bits of ways or covers */
    unsigned word_count;
    double value, difference; /* difference: what a `point` is when it stands for one */
    const char *word;
    const char *const *words;
};

struct db_expr {
    const struct db_node *nodes;
    int count, root; /* the last node is the root; count 0: no expression */
    const struct db_words *from;
};

/* -- names.c: what may be written ---------------------------------------------------------------------------------- */

enum db_takes {
    DB_TAKES_NONE,
    DB_TAKES_STAGE,
    DB_TAKES_WORD,
    DB_TAKES_DAYS,
    DB_TAKES_AFTER,
    DB_TAKES_TWO,
    DB_TAKES_WARMED
};

/* One row a name of the language: the parser, the messages and the nearest-name search read it. */
struct db_name_row {
    const char *name;
    enum db_op op;
    unsigned char index;
    unsigned char kind; /* of a plain name, or what a function of fixed kind gives */
    enum db_takes takes;
    bool of_day;       /* its value depends on the day in question */
    bool in_template;  /* only there */
    const char *usage; /* of a function: how it is written */
};
const struct db_name_row *db_name_find(const char *text, size_t length);
const struct db_name_row *db_name_at(size_t index); /* NULL at the end */
/* Fact by its key; -1: none. */
int db_fact_find(const char *text, size_t length);
/* Words that a value with a fixed choice may take: of raised, cover and some facts; NULL: any word. */
const char *const *db_choice(const struct db_node *node);
/* The list's nearest, or NULL. NULL-terminated list. */
const char *db_nearest_of(const char *word, const char *const *list);
/* The amount a gardener may have meant with a bare number beside a value of this kind: "days", "mm"; "" if none. */
const char *db_kind_unit(int kind);
/* "a temperature", "a date" ... also for the kinds above. */
const char *db_kind_name(int kind);

/* -- parse.c, check.c ---------------------------------------------------------------------------------------------- */

/* Where an expression is read from and what may stand in it. */
struct db_reading {
    struct db_arena *arena;
    struct db_mistakes *mistakes;
    const char *const *note_words; /* NULL-terminated: stages and what rules record */
    const struct db_words *words;
    size_t from, to; /* the bytes to read */
    const char *key; /* for messages: "during" */
    bool has_day;    /* `day` and the figures of a day may be used at the top */
    bool in_template;
    bool full; /* the arena is */
};

/* Reads a value from [from, to). False: at least one mistake was added (or the arena is full). */
bool db_expr_read(struct db_reading *reading, struct db_expr *ret);
/* Reads `A .. B`. */
bool db_expr_read_window(struct db_reading *reading, struct db_expr *ret_first, struct db_expr *ret_last);
/* Fills in kinds and checks them; called by the two above. Adds mistakes; false if there was any. */
bool db_expr_check(struct db_reading *reading, struct db_node *nodes, int count);
/* Whether the root is of this kind, with a mistake if not. A point is turned into a difference where WARMTH is wanted. */
bool db_expr_want(struct db_reading *reading, const struct db_expr *expr, enum db_kind kind);
/* The value of an expression that is made of amounts alone; NaN if it is not. */
double db_node_constant(const struct db_node *nodes, int index);
/* last - first in days where both are the same date give or take fixed times; NaN if that is not known before running. */
double db_node_distance(const struct db_node *first_nodes, int first, const struct db_node *last_nodes, int last);

/* -- eval.c -------------------------------------------------------------------------------------------------------- */

/* The value on `day`: NaN where unknown. Dates are days, truths 0 or 1. Words have no number: use the next one. */
double db_node_value(const struct db_node *nodes, int index, const struct db_scope *scope, int32_t day);
const char *db_node_word(const struct db_node *nodes, int index, const struct db_scope *scope, int32_t day);
/* The days of SPAN, AHEAD or BACK, both ends counted. False: unknown, or more than DB_LIMIT_SPAN apart. */
bool db_node_days(const struct db_node *nodes, int index, const struct db_scope *scope, int32_t day, int32_t *ret_first,
                  int32_t *ret_last);

/* warmed.c: the day, NaN where it is not known. */
double db_warmed_day(const struct db_scope *scope, double amount, double base, int month);

static inline double db_expr_value(const struct db_expr *expr, const struct db_scope *scope)
{
    return db_node_value(expr->nodes, expr->root, scope, scope->day.day);
}

/* 0: before it is moved, 1: in its second place. */
static inline int db_scope_place(const struct db_scope *scope, int32_t day)
{
    return db_date_known(scope->moved) && day >= scope->moved.day;
}

const struct db_bed *db_scope_bed(const struct db_scope *scope, int32_t day);

/* Water where the sowing stands on that day; NULL: not known. */
const struct db_wet_day *db_scope_wet(const struct db_scope *scope, int32_t day);

#endif
