/* What a compiled rule is run against: one sowing, on one day. Filled in by the engine. */
#ifndef DB_RULES_SCOPE_H
#define DB_RULES_SCOPE_H

#include "dewbell/job.h"

/* Figures of a day, beyond those of the weather: seed zone and night where the sowing stands. */
enum db_sky_figure {
    DB_SKY_LOW,
    DB_SKY_HIGH,
    DB_SKY_RAIN,
    DB_SKY_WIND,
    DB_SKY_SOIL,
    DB_SKY_SOIL_LOW,
    DB_SKY_SOIL_HIGH,
    DB_SKY_LOW_HERE,
    DB_SKY_DAY_LENGTH, /* days (kind TIME) */
    DB_SKY_REFERENCE   /* mm of reference evapotranspiration */
};
enum { DB_SKY_COUNT = DB_SKY_REFERENCE + 1 };

/* Where a sowing drinks on a day. */
enum db_drinks {
    DB_DRINKS_SEEDBED, /* seed in the topsoil */
    DB_DRINKS_FRESH,   /* planted a few days ago: the roots are still in the plug */
    DB_DRINKS_ROOTS    /* from the ground in reach of its roots */
};
/* What the ground was last full by. */
enum db_filled {
    DB_FILLED_UNKNOWN,
    DB_FILLED_SOWN,
    DB_FILLED_PLANTED,
    DB_FILLED_WATERED, /* as noted */
    DB_FILLED_ASKED,   /* it was due for days, and is taken as done */
    DB_FILLED_RAIN
};

/* Water where a sowing stands, on one day. */
struct db_wet_day {
    double dry;   /* mm that the ground is short of at the day's end, before any watering of that day; NaN: not known */
    double limit; /* mm: from there on it is to be watered */
    double
        water; /* litres that make up for it, on the ground that is wetted; NaN: the plan does not say how much that is */
    int32_t full;                 /* the last day on which nothing was missing, as far as that is known */
    unsigned char filled, drinks; /* enum db_filled, enum db_drinks */
};
struct db_moisture {
    int32_t first; /* day of element 0 */
    size_t count;
    const struct db_wet_day *days;
};

/* What is worked out for one sowing, apart from its stages: each is the least, likely and most, or the early, likely and
 * late day; NaN: not known. A row of names.c gives it its name and kind, say_own.c its sentence. */
enum db_own {
    DB_OWN_AREA,        /* m2 of ground that it takes */
    DB_OWN_SOW_DAY,     /* the day it was sown; until a note says so, the planned day or today, the later of them */
    DB_OWN_IN_TRAY,     /* 1: it was due to be planted, and is likely in its tray still */
    DB_OWN_AGAIN,       /* when the plan wants the next sowing */
    DB_OWN_FOLLOWED,    /* 1: the plan has a later sowing of the crop */
    DB_OWN_LAST_SOWING, /* last day on which another is worth sowing: safe, likely, at best */
    DB_OWN_GAP_FROM,    /* nothing to harvest from .. to */
    DB_OWN_GAP_TO,
    DB_OWN_SOW_BY,     /* so that another fills the gap */
    DB_OWN_LAST_FROST, /* of its spring, and of its autumn: early, likely and late by the odds */
    DB_OWN_FIRST_FROST,
    DB_OWN_FITS,  /* 1: there is room for it in its bed on the day it needs its ground */
    DB_OWN_ROOM,  /* m2 that are left for it there on that day */
    DB_OWN_READY, /* the day from which it fits */
    DB_OWN_ELSEWHERE_FROM,
    DB_OWN_PLANTS_FIT,  /* plants that `room` holds */
    DB_OWN_HOST_GONE,   /* when that one is gone between whose rows it stands */
    DB_OWN_HOST_STANDS, /* 1: no note says that it is gone */
    DB_OWN_FAMILY_YEAR, /* when the last of its family grew in its bed, in a season before */
    DB_OWN_FAMILY_GAP,  /* days: a year for each season since */
    DB_OWN_SEEDS,       /* seeds to have ready */
    DB_OWN_SEED_WEIGHT, /* g */
    DB_OWN_MIX,         /* litres for its tray */
    DB_OWN_MANURED,     /* when raw manure was last dug into the bed it crops in, before its harvest */
    DB_OWN_MANURE_WAIT, /* days from then to its harvest */
    DB_OWN_RIPE         /* when that would begin without the manure */
};
enum { DB_OWN_COUNT = DB_OWN_RIPE + 1 };

/* The same in words; NULL: not known. */
enum db_own_word {
    DB_OWN_WORD_HOST,      /* the crop between whose rows it stands, plural */
    DB_OWN_WORD_ELSEWHERE, /* another bed with room, as it follows a verb: "in the north bed" */
    DB_OWN_WORD_FAMILY,    /* the last crop of its family in its bed, plural */
    DB_OWN_WORD_SHELTER    /* the frame or tunnel that it is planted into: "in the tunnel" */
};
enum { DB_OWN_WORD_COUNT = DB_OWN_WORD_SHELTER + 1 };

/* What the days of a frost are known from. */
struct db_frost_source {
    bool planned;         /* the gardener wrote the day */
    size_t seasons, none; /* else: seasons of the record, and those of them without frost */
};

/* Days by which a warmth was gathered, kept so that each is worked out once a garden. */
struct db_warmth {
    double amount, base; /* K d, degC */
    int month;
    double day;
};
struct db_warmths {
    struct db_warmth list[24];
    size_t count;
};

struct db_scope {
    const struct db_view *view;
    size_t sowing;
    const struct db_life *life;
    struct db_date day;   /* the day in question */
    struct db_date first; /* day of element 0 of the arrays */
    size_t days;
    struct db_date moved;       /* from this day on the sowing stands in its second place */
    struct db_warmths *warmths; /* NULL: nothing is kept */
    double own[DB_OWN_COUNT][3];
    struct db_frost_source frost[2]; /* by enum db_frost */
    const char *own_word[DB_OWN_WORD_COUNT];
    const double *sky[2][DB_SKY_COUNT]; /* before and from `moved`; an entry may be NULL: unknown */
    /* Worked out when a rule first asks for it; it stays until another sowing's is asked for. NULL: nothing is known. */
    const struct db_moisture *(*moisture)(void *pump, size_t sowing);
    void *pump;
};

#endif
