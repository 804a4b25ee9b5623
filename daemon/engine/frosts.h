/* The garden's last and first frosts, by their odds. */
#ifndef DB_ENGINE_FROSTS_H
#define DB_ENGINE_FROSTS_H

#include "rules/scope.h"

struct db_frost_odds {
    bool south;
    struct db_season_day given[2]; /* by enum db_frost: what the plan says */
    double days[2][3];             /* early, likely and late day of the frost year; NaN: not known, or there is none */
    struct db_frost_source source[2];
};

/* The plan's day if it gives one (it knows the hollow in which the garden lies), else the odds of the past years whose weather
 * the view holds, before today: lows of 0 degC and less in the screen. DB_OK, DB_RANGE: the view has no day. */
DB_MUST_USE enum db_status db_frost_odds_work(const struct db_view *view, struct db_frost_odds *ret);

/* Early, likely (1) and late (2) date in the frost year of `date`; no date where it is not known. */
struct db_date db_frost_odds_date(const struct db_frost_odds *odds, enum db_frost which, struct db_date date, int end);

#endif
