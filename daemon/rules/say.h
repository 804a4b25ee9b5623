/* The sentences of "why": what decided, said with its dates and figures and where each comes from. */
#ifndef DB_RULES_SAY_H
#define DB_RULES_SAY_H

#include "rules/expr.h"

struct db_text;

/* Weather that a rule read. */
struct db_weather_read {
    enum db_read read;
    int over;     /* DB_OP_LEAST .. DB_OP_SUM, or DB_OP_FIGURE for a single day */
    double value; /* of `kind` */
    enum db_kind kind;
    int32_t first, last; /* days */
    enum db_origin origin;
};

/* "Seedlings were noted up on 2 June." Nothing is added for a stage whose date is not known. */
void db_say_stage(struct db_text *to, const struct db_scope *scope, enum db_stage stage);
/* "Sowing is planned for 12 April." */
void db_say_planned(struct db_text *to, const struct db_scope *scope);
/* "The summer solstice was on 21 June, and the season is counted from it." Nothing where there is none. */
void db_say_solstice(struct db_text *to, const struct db_scope *scope);
/* "The warmth of the season, 258 K d above 5 °C since 1 March, was reached on 21 April", without a full stop. */
void db_say_warmed(struct db_text *to, const struct db_scope *scope, double amount, double base, int month, double day);
/* "; tender plants wait for the last frost, which is over by then in nine years of ten (30 years on record)" */
void db_say_frost_hold(struct db_text *to, const struct db_scope *scope);
/* What was worked out for the sowing, as a sentence of its own; nothing where it is not known or goes without saying. */
void db_say_own(struct db_text *to, const struct db_scope *scope, enum db_own own);
/* Of those, what is worked out of the beds. */
void db_say_plot(struct db_text *to, const struct db_scope *scope, enum db_own own);
/* The figure whose sentence holds the word. */
enum db_own db_say_own_word(enum db_own_word word);
/* "The seed zone may reach 31 °C between 14 and 16 June, worked out from the forecast", without a full stop. */
void db_say_weather(struct db_text *to, const struct db_scope *scope, const struct db_weather_read *what);
/* "The seedbed has lost 11 mm since it was watered on 3 June", and "; seed is at risk from 9 mm": without a full stop;
 * nothing where it is not known. */
void db_say_dry(struct db_text *to, const struct db_scope *scope, int32_t day);
void db_say_dry_limit(struct db_text *to, const struct db_scope *scope, int32_t day);
/* "; carrot seed fails above 27 °C": what the figure was compared with. limit: its value; fact: the crop's fact that it
 * was made from, -1: none; op: how they were compared. */
void db_say_limit(struct db_text *to, const struct db_scope *scope, enum db_op op, struct db_amount limit, int fact,
                  bool against);
/* Where the figure that is known worst of those of the days first .. last is from. */
enum db_origin db_say_weakest(const struct db_scope *scope, enum db_read read, int32_t first, int32_t last);
/* The comparison with its sides exchanged. */
enum db_op db_say_flipped(enum db_op op);
/* "more than 3 mm" */
void db_say_bound(struct db_text *to, const struct db_scope *scope, enum db_op op, struct db_amount limit);
/* "on 14 June", "between 14 and 16 June", "today" */
void db_say_days(struct db_text *to, const struct db_scope *scope, int32_t first, int32_t last);
/* ", by the forecast" and the like; nothing for what was observed. */
void db_say_origin(struct db_text *to, enum db_origin origin);
/* "a low", "rain": the figure, as in "3 days with a low of at least 7 °C"; "" if it has no short name. */
const char *db_say_figure(enum db_read read);

/* Where the figure of that day comes from: the weaker one where it is made of two. */
enum db_origin db_read_origin(const struct db_scope *scope, enum db_read read, int32_t day);

#endif
