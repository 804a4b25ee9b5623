/* How the plot is held, and the steps it is worked out in. */
#ifndef DB_ENGINE_PLOT_H
#define DB_ENGINE_PLOT_H

#include "dewbell/plot.h"
#include "engine/jobs.h"

#define DB_PLOT_HAIR 1e-6 /* m2 by which a sum of grounds may be off */
enum { DB_PLOT_EVER = INT32_MAX /* the day on which what stays is gone */ };

/* One bed: where its stays begin in the list. What is taken, day by day, is worked out when it is
 * first asked for. */
struct db_plot_bed {
    const struct db_bed *bed;
    size_t from, count;
    struct db_steps *steps;
    double promised;          /* m2 that a waiting sowing was sent to */
    unsigned char inputs[16]; /* over what is written of its stays, whatever their order: db_stay_inputs */
};

struct db_grown { /* what grew in a bed, for the rotation */
    const struct db_bed *bed;
    const struct db_crop_facts *crop;
    int season;
    int32_t to; /* the day it was gone; INT32_MIN: not known, long ago */
};

struct db_plot {
    const struct db_jobs *jobs;
    struct db_stay *stays; /* one a sowing; bed NULL: none */
    struct db_room *rooms; /* one a sowing */
    uint32_t *order;       /* sowings by bed, then by the day on which they come */
    size_t staying;
    struct db_plot_bed *beds; /* all of the garden, in order of id */
    size_t bed_count;
    struct db_grown *grown;
    size_t grown_count;
    struct db_arena *arena;
};

/* jobs->courses and jobs->ranks are there. */
DB_MUST_USE enum db_status db_plot_work(struct db_jobs *jobs, struct db_arena *into, const struct db_plot **ret);

static inline int32_t db_plot_end(struct db_date to)
{
    return db_date_known(to) ? to.day : DB_PLOT_EVER;
}

static inline bool db_plot_takes(const struct db_stay *stay, int end, struct db_date day)
{
    return db_date_known(stay->takes[end]) && stay->takes[end].day <= day.day && day.day < db_plot_end(stay->to[end]);
}

/* m2 of the bed; 0: not given. */
static inline double db_bed_ground(const struct db_bed *bed)
{
    return bed->width * bed->length / 1e6;
}

/* NULL: the garden has no such bed. */
struct db_plot_bed *db_plot_bed_of(const struct db_plot *plot, const struct db_bed *bed);

/* plot_room.c: left, ready, fit and plants of each sowing that is not there yet. */
DB_MUST_USE enum db_status db_plot_make_room(struct db_plot *plot);
/* plot_family.c */
DB_MUST_USE enum db_status db_plot_families(struct db_plot *plot);
/* The last of that family that was gone from the bed before `from`, in a season before that of a stay from .. to. NULL: none.
 * *ret_seasons: how many seasons ago. */
const struct db_grown *db_plot_grew(const struct db_plot *plot, const struct db_bed *bed, const struct db_stay *stay,
                                    int *ret_seasons);
/* plot_elsewhere.c */
DB_MUST_USE enum db_status db_plot_elsewhere(struct db_plot *plot);

#endif
