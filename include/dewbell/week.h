/* The gardener's days: the minutes that each day of the week has for the garden, and the days on which nobody is there. */
#ifndef DEWBELL_WEEK_H
#define DEWBELL_WEEK_H

#include "dewbell/date.h"

#ifdef __cplusplus
extern "C" {
#endif

/* Days away, first <= last. */
struct db_away {
    struct db_date first, last;
};

struct db_week {
    bool given;                 /* the plan speaks of the gardener's days; nothing below counts if not */
    bool counted;               /* it says how many minutes the days have */
    int32_t minutes[7];         /* Monday first; 0: none */
    const struct db_away *away; /* in order, a day at home between any two; owned by whoever made the week */
    size_t away_count;
};

enum {
    DB_MINUTES_ANY = -1 /* nothing is counted on that day */
};

/* The minutes that the day has: 0 or more; DB_MINUTES_ANY where the week does not count them. Days away have 0. */
int32_t db_week_minutes(const struct db_week *week, struct db_date date);

/* The time away that the day belongs to; NULL: at home. */
const struct db_away *db_week_away(const struct db_week *week, struct db_date date);

#ifdef __cplusplus
}
#endif
#endif
