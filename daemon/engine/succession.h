/* What comes after a sowing: when the next is wanted, whether the plan has one, where the harvest would stop for a while, and
 * until when another is still worth sowing. Only sowings whose plan asks for a next one, or says what they serve, are looked
 * at. docs/models.md, "Succession". */
#ifndef DB_ENGINE_SUCCESSION_H
#define DB_ENGINE_SUCCESSION_H

#include "engine/life.h"

struct db_jobs;

struct db_following {
    bool looked_at;
    struct db_date again;   /* when the next is wanted; no date: the plan does not say, or the stage is not known */
    bool followed;          /* the plan has a later sowing of the same crop */
    struct db_date last[3]; /* last day for another: safe, likely, at best; no date: not known */
    struct db_date gap_from, gap_to; /* nothing to harvest from .. to, after this one; no dates: no gap */
    struct db_date sow_by; /* so that another fills the gap from its first day; where that is over, part of it */
};

enum {
    DB_GAP_DAYS = 7,       /* a shorter gap is bridged by what keeps in the kitchen. Common practice, no source */
    DB_HARVEST_WORTH = 14, /* days of harvest for which a batch is worth sowing, or all it has. An estimate */
    DB_STAND_HOURS = 10    /* hours of day below which plants hardly grow on. Common practice, no source */
};

/* Works it out for all sowings of the garden; jobs->courses are there. *ret is one a sowing, or NULL where no plan asks. */
DB_MUST_USE enum db_status db_succession_work(struct db_jobs *jobs, struct db_arena *into,
                                              const struct db_following **ret);

#endif
