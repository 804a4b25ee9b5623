/* A walk over the expressions of a rule: the reasons that it gathers, and what finds them. */
#ifndef DB_RULES_WALK_H
#define DB_RULES_WALK_H

#include "rules/say.h"
#include "rules/set.h"

enum { REASONS_MOST = 40, REASON_SIZE = 512 };

struct db_text;

struct db_walk {
    const struct db_scope *scope;
    struct db_arena *into;
    const struct db_expr *expr;
    int32_t day;
    unsigned stages;                 /* bits: read */
    uint64_t own;                    /* bits: read */
    bool planned, solstice, against; /* against: it is weather to be avoided */
    struct db_reason reasons[REASONS_MOST];
    size_t count;
    bool full;
};

static inline double db_walk_value(const struct db_walk *w, int index)
{
    return db_node_value(w->expr->nodes, index, w->scope, w->day);
}

static inline const struct db_node *db_walk_node(const struct db_walk *w, int index)
{
    return &w->expr->nodes[index];
}

/* Adds a reason, unless it is there; the same fact asked about twice is one. */
void db_walk_add(struct db_walk *w, const struct db_text *text, enum db_origin origin);
/* The node below `index` that reads weather: a figure, or figures over days; -1: none. */
int db_walk_weather(const struct db_walk *w, int index);
/* Each adds the reason of a node: a comparison that decided, a day counted out, the warmth of the season, a note, a fact. */
void db_walk_comparison(struct db_walk *w, const struct db_node *n);
void db_walk_after(struct db_walk *w, int index);
void db_walk_warmed(struct db_walk *w, int index);
void db_walk_note(struct db_walk *w, const struct db_node *n);
void db_walk_fact(struct db_walk *w, const struct db_node *n);

#endif
