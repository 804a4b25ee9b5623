/* Beds over time: which sowing takes how much of which bed from when to when, where there is room, and what grew there
 * before. Worked out from the courses of all sowings. docs/models.md, "Beds". */
#ifndef DEWBELL_PLOT_H
#define DEWBELL_PLOT_H

#include "dewbell/job.h"

#ifdef __cplusplus
extern "C" {
#endif

/* A sowing's time in the bed where it grows. Days are early, likely, late; ground is at the closest, middle and widest
 * distances that the crop bears. */
struct db_stay {
    size_t sowing; /* index in the garden */
    const struct db_bed *bed;
    struct db_date from[3]; /* the day it is sown or planted there */
    /* From then on it takes ground of its own: `from`, or, between the rows of another, the day that one is gone; no date:
     * that one stays. */
    struct db_date takes[3];
    struct db_date to[3]; /* the day it is gone; no date: not known, it stays */
    double ground[3];     /* m2; NaN: the plan does not say how much there is of it */
    size_t host;          /* the sowing between whose rows it stands; SIZE_MAX: none */
    bool noted, over;     /* it is there, or was, and it is gone: a note or the plan says so */
};

enum db_fit { DB_FIT_UNKNOWN, DB_FIT_NO, DB_FIT_YES };

/* What a sowing that is not in its bed yet finds there. All ground at the closest distances, so that a bed is called full
 * only when it is. Those that are there, or come before it, have their ground first. */
struct db_room {
    struct db_date day; /* the likely day on which it needs its ground; no date: it is there, or not known */
    double needs;       /* m2; NaN: not known */
    double left[3];     /* m2 free on that day: if the others stay long, likely, if they leave early; NaN: not known */
    struct db_date ready[3];        /* the day from which it fits: early, likely, late; no date: not known, or never */
    enum db_fit fit;                /* whether it fits on that day, likely; to 1.05 times the bed */
    double plants[3];               /* plants or clusters that `left` holds; NaN: not known */
    const struct db_bed *elsewhere; /* another bed where it fits sooner, for as long as it stays; NULL: none */
    struct db_date elsewhere_from;
    /* Of its family, the last that grew in this bed in a season before its own; NULL: none. */
    const struct db_crop_facts *family;
    int family_season; /* which that was: a year, and south of the equator the one that began in the July before */
    int seasons;       /* how many seasons ago: 1 is the season before */
};

struct db_plot;

/* How far `elsewhere` is looked for: in so many other beds, in order of the plan; for sowings that need their ground within so
 * many days, and so many days ahead from then. */
enum { DB_ELSEWHERE_BEDS = 100, DB_ELSEWHERE_SOON = 120, DB_ELSEWHERE_AHEAD = 60 };

/* Of this evaluation; it lives as long as the jobs. */
const struct db_plot *db_jobs_plot(const struct db_jobs *jobs);
/* NULL: the sowing never gets into a bed (it stays in its tray, or no day is known). */
const struct db_stay *db_plot_stay(const struct db_plot *plot, size_t sowing);
/* NULL: no day is known on which it could go into a bed. Of a tray that the plan names no bed for, only `day`, `needs` and
 * `elsewhere` are. */
const struct db_room *db_plot_room(const struct db_plot *plot, size_t sowing);
/* The stays in one bed, in order of the likely day on which they come, then of id: how many there are, and the one at
 * `index` (NULL beyond). */
size_t db_plot_count(const struct db_plot *plot, const struct db_bed *bed);
const struct db_stay *db_plot_at(const struct db_plot *plot, const struct db_bed *bed, size_t index);
/* m2 that are taken on that day: end 0, 1, 2 as early, likely, late. at: at which distances, 0 closest .. 2 widest. */
double db_plot_taken(const struct db_plot *plot, const struct db_bed *bed, struct db_date day, int end, int at);

/* From `from` on so much of the bed is free, at the closest distances: if the others come early and stay long, likely, if they
 * come late and leave early. */
struct db_step {
    struct db_date from;
    double left[3];
};
/* The days from `first` to `last` on which what is likely free of the bed changes, `first` before all; each holds until the
 * next. None for a bed without a size. DB_FULL: `into` is. */
DB_MUST_USE enum db_status db_plot_steps(const struct db_plot *plot, const struct db_bed *bed, struct db_date first,
                                         struct db_date last, struct db_arena *into, const struct db_step **ret,
                                         size_t *ret_count);

#ifdef __cplusplus
}
#endif
#endif
