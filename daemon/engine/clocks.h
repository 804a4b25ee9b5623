/* What all sowings of one evaluation share: temperatures where seed and plants stand, and prefix sums over them. Each is
 * worked out once, when the first sowing asks for it; finding a date in it is a binary search. Clocks show one future at a
 * time; turned to another, they work out anew what is asked for, in the same memory and from the first day on that may
 * differ. */
#ifndef DB_ENGINE_CLOCKS_H
#define DB_ENGINE_CLOCKS_H

#include "engine/frosts.h"

/* Degree-days between one base and one cut-off of growth, as the plants feel the air: days + 1 sums each. */
struct db_growth {
    struct db_growth *next;
    unsigned turn;    /* of the clocks when it was last worked out */
    double base, top; /* degC */
    double *plain;    /* K d */
    double *slowed;   /* K d, each day times db_slow_factor() */
    int32_t *still;   /* first day from each day on after which growth stands still; -1: none. See DB_STILL_DAYS */
};

/* Growth stands still when so many days bring less than so much, slowed: a sixth of what they bring at the reference
 * temperature. An estimate. */
enum { DB_STILL_DAYS = 30, DB_STILL_SUM = 55 };

/* Nights of at least `low`: the sums count the days whose night, the low of the next morning, was that mild. */
struct db_nights {
    struct db_nights *next;
    unsigned turn;
    double low; /* degC */
    double *count;
};

/* First day on or after each day from which the next DB_CALM_NIGHTS nights all stay above `low`; -1: none. */
struct db_calm {
    struct db_calm *next;
    unsigned turn;
    double low; /* degC */
    int32_t *from;
};
enum { DB_CALM_NIGHTS = 5 };

/* The air under one cover, or indoors at one temperature. */
struct db_air {
    struct db_air *next;
    unsigned turn;
    enum db_cover cover;
    int indoors;                  /* tenths of a degC; 0 unless cover is indoors */
    const double *low, *high;     /* degC, as the plants feel it */
    double *felt_low, *felt_high; /* what they point to, unless that is the open air */
    struct db_growth *growth;
    struct db_nights *nights;
    struct db_calm *calm;
    int32_t *frosted; /* db_tender_end(): of each day the next that ends a tender crop; -1: none */
    unsigned frosted_turn;
};

/* Progress from seed to seedling: sums[n] over the first n days, 1 is the whole way. */
struct db_rising {
    struct db_rising *next;
    unsigned turn;
    const struct db_crop_facts *crop;
    double *sums;
};

/* The seed zone at one depth below one air. */
struct db_seedbed {
    struct db_seedbed *next;
    struct db_air *air;
    unsigned turn;
    int depth;                 /* half centimetres, 1..30 */
    double *mean, *low, *high; /* degC */
    struct db_rising *rising;
};

/* The first day that each stage may be estimated for; no date: any. */
struct db_ahead {
    struct db_date from[DB_STAGE_COUNT];
};

struct db_clocks {
    struct db_arena *arena;
    const struct db_view *view;
    struct db_date first; /* day of element 0 of every array */
    size_t days;
    size_t future; /* that they show */
    unsigned turn; /* how often they were turned: what was worked out on an earlier turn is out of date */
    size_t fresh;  /* element from which on this future may differ from the one before */
    const double *figures[DB_FIGURE_COUNT]; /* the weather's own; an entry may be NULL */
    const double *day_length;               /* days */
    const double *slow[2];                  /* db_slow_factor() of each day, outdoors and indoors */
    const double *reference; /* mm of reference evapotranspiration, the garden's air counted; of the first future */
    struct db_frost_odds frost;
    struct db_air *airs;
    struct db_seedbed *seedbeds;
    struct db_date *solstices; /* of solstice_year and the years after it */
    int solstice_year, solstice_count;
    struct db_date *dates; /* db_clocks_notes */
    size_t date_room;
    const int32_t
        *put; /* of each sowing: the day that its sowing was put on by the gardener's days, no date: on none; NULL */
    const struct db_ahead *ahead; /* of each sowing (ahead.c); NULL: all days are open */
    enum db_status status;        /* why a call answered NULL */
};

/* DB_OK, DB_FULL, or DB_RANGE for a series that is not filled or a place that is not on the globe. */
DB_MUST_USE enum db_status db_clocks_begin(struct db_clocks *clocks, const struct db_view *view,
                                           struct db_arena *arena);

/* Clocks of their own over the same days. */
void db_clocks_beside(const struct db_clocks *clocks, struct db_clocks *ret_clocks);

/* Shows another future of the view's weather: 0 the climate's averages, 1 and on the past years. What was asked of the clocks
 * before is worked out anew in place when it is asked for again, so pointers into it hold the new figures then. */
void db_clocks_turn(struct db_clocks *clocks, size_t future);

/* Growth on short days against growth at the same warmth on long ones: 1 from 12 hours on, falling in a straight line to
 * 0.2 at 9 hours and less; on a warm bench behind a window to 0.5. Estimates: the first makes "add about two weeks in autumn"
 * (common practice) out of day length, the second the weeks that transplants are given in winter (docs/models.md). */
double db_slow_factor(double hours, bool indoors);

/* Depth class of a crop's seed, in half centimetres: the middle of its depth, 0.5 cm where it is sown on the surface. */
int db_depth_class(const struct db_crop_facts *crop);

/* Each of these answers NULL on failure and sets clocks->status. */
struct db_air *db_clocks_air(struct db_clocks *clocks, const struct db_bed *bed);
struct db_seedbed *db_clocks_seedbed(struct db_clocks *clocks, const struct db_bed *bed, int depth);
const double *db_clocks_rising(struct db_clocks *clocks, struct db_seedbed *seedbed, const struct db_crop_facts *crop);
const struct db_growth *db_clocks_growth(struct db_clocks *clocks, struct db_air *air, double base, double top);
const double *db_clocks_nights(struct db_clocks *clocks, struct db_air *air, double low);
const int32_t *db_clocks_calm(struct db_clocks *clocks, struct db_air *air, double low);

/* Index of a day; SIZE_MAX when it is unknown or outside the series. */
size_t db_clocks_index(const struct db_clocks *clocks, struct db_date date);
/* First day by the end of which `amount` was gathered by a clock that starts on the day after `from`; no date if that is
 * not within `most` days, not within the series, or the amount is NaN. */
struct db_date db_clocks_reach(const struct db_clocks *clocks, const double *sums, struct db_date from, double amount,
                               size_t most);
/* What was gathered on the days after `from` up to and with `to`; negative when `to` is the earlier. NaN outside. */
double db_clocks_gathered(const struct db_clocks *clocks, const double *sums, struct db_date from, struct db_date to);

/* The summer solstice of the garden's hemisphere in `year`. */
struct db_date db_clocks_solstice(const struct db_clocks *clocks, int year);

/* Notes of this sowing with this word, none later than today (nothing was seen or done on a day to come), oldest first.
 * They stay until the next call. NULL on failure. */
const struct db_date *db_clocks_notes(struct db_clocks *clocks, size_t sowing, const char *word, size_t *ret_count);

#endif
