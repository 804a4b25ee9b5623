/* Crops are data. A crop's facts are rows of one table that the reader, the checks, the rule language (crop.NAME) and
 * the documents all read; a new crop needs no C. */
#ifndef DEWBELL_CROP_H
#define DEWBELL_CROP_H

#include "dewbell/arena.h"
#include "dewbell/thermal.h"
#include "dewbell/units.h"

#include <stdbool.h>
#include <stddef.h>

#ifdef __cplusplus
extern "C" {
#endif

/* Ways of raising; a crop knows a set of them, a sowing has one. */
enum db_way {
    DB_WAY_DRILL,    /* sown thinly in a drill where it is to crop */
    DB_WAY_STATIONS, /* a few seeds at each final place */
    DB_WAY_PLUGS,    /* seeds in each cell of a plug tray, thinned there, planted out */
    DB_WAY_POT,      /* seed broadcast in a pot, pricked out one to a cell, planted out */
    DB_WAY_SETS      /* cloves, sets or tubers set where they are to crop */
};
enum { DB_WAY_COUNT = DB_WAY_SETS + 1 };
/* "drill", "stations", "plugs", "pot", "sets" */
const char *db_way_word(enum db_way way);

enum db_fact {
    /* texts */
    DB_FACT_NAME,        /* "carrot": the trade's name, singular */
    DB_FACT_PLURAL,      /* "carrots" as it reads in "Thin carrots" */
    DB_FACT_FAMILY,      /* "Apiaceae" */
    DB_FACT_HARDINESS,   /* word: "chill-tender" "frost-tender" "half-hardy" "hardy" "very-hardy" */
    DB_FACT_SEASON,      /* word: "cool" or "warm": which growth base and reference temperature */
    DB_FACT_COUNTED,     /* word: "sowing" or "planting": from when crop_time counts */
    DB_FACT_HARVEST,     /* text: how it is harvested */
    DB_FACT_STORAGE,     /* text: how it keeps */
    DB_FACT_REMARK,      /* text */
    DB_FACT_AT_SOWING,   /* text: what to know when it is sown or set */
    DB_FACT_AT_THINNING, /* text: what to know when it is thinned */
    DB_FACT_AT_PLANTING, /* text: what to know when it is planted out */
    DB_FACT_AT_WATERING, /* text: what to know when it is watered */
    /* yes or no */
    DB_FACT_SOLSTICE,        /* runs to seed when sown before the summer solstice */
    DB_FACT_NETTED,          /* wants a net against pigeons and butterflies from planting */
    DB_FACT_CLUSTERED,       /* a cell's seedlings are planted together */
    DB_FACT_SURFACE,         /* needs light: sown on the surface, pressed in */
    DB_FACT_STAKED,          /* wants a stake for the winter */
    DB_FACT_ROCKS,           /* gales loosen it where it stands the winter: the soil is trodden firm round it */
    DB_FACT_HEAVED,          /* frost lifts it out of the ground in its first months */
    DB_FACT_FLEECED,         /* wants fleece in hard cold; not given: if it is half-hardy or hardy */
    DB_FACT_DUG,             /* stands the winter and is dug as it is wanted */
    DB_FACT_WINTER_NET,      /* wants a net against pigeons for the winter */
    DB_FACT_FED,             /* wants a feed as growth begins again after the winter */
    DB_FACT_CARROT_FLY,      /* carrot flies lay at it */
    DB_FACT_CUT_BEFORE_HEAT, /* what is ready of it is cut before a hot spell, which spoils it */
    DB_FACT_BLIGHT,          /* takes late blight */
    DB_FACT_TIPS_SHOW,       /* its sets are set with their tips just showing, not at its depth */
    DB_FACT_CHITTED,         /* its sets are laid out to sprout before they are set */
    DB_FACT_EARTHED_UP,      /* soil is drawn up to it, so that its tubers see no light */
    DB_FACT_PINCHED_OUT,     /* its tips are pinched out once the lowest pods have set */
    DB_FACT_SIDE_SHOOTS,     /* its side shoots are taken out and its stem is tied in */
    DB_FACT_WEEDED,          /* its leaves never shade the ground: weeds have to be kept down */
    DB_FACT_CLEAR_OF_SOIL,   /* what is eaten of it hangs clear of the soil; not given: it touches it */
    /* amounts; each may be a range low .. high */
    DB_FACT_DEPTH,           /* length: sowing depth */
    DB_FACT_SPACING,         /* length: final distance in the row */
    DB_FACT_ROW_SPACING,     /* length: final distance between rows */
    DB_FACT_CLUSTER_SPACING, /* length: final distance in the row of cells whose seedlings stay together */
    DB_FACT_THIN,            /* length: thin the drill to this */
    DB_FACT_PLUG_SEEDS,      /* number: seeds a cell */
    DB_FACT_PLUG_KEEP,       /* number: seedlings left in a cell */
    DB_FACT_PLUG_TIME,       /* time from sowing to a filled plug, at the season's reference temperature */
    DB_FACT_PRICK_OUT,       /* thermal: emergence to seedlings fit to prick out, above the season's base */
    DB_FACT_CROP_TIME,       /* time to first harvest, at the season's reference temperature */
    DB_FACT_HARVEST_TIME,    /* time over which it can be harvested */
    DB_FACT_PICK_EVERY,      /* time between pickings */
    DB_FACT_NOT_AFTER, /* time after the summer solstice by which the length of day has ripened it, whatever its size */
    DB_FACT_NOT_BEFORE,    /* time after the summer solstice before which it is not ready, or not worth harvesting */
    DB_FACT_STANDS_TO,     /* time after the summer solstice to which it stands at the least, once it has cropped */
    DB_FACT_HOT_LIMIT,     /* temperature of the seed zone above which stands fail */
    DB_FACT_DAY_LIMIT,     /* time: day length above which it runs to seed */
    DB_FACT_SOLSTICE_LEAD, /* time: may be sown so long before the solstice */
    DB_FACT_HARDEN_LOW,    /* temperature: lowest night for plants under hardening off */
    DB_FACT_HARDEN_TIME,   /* time: length of the hardening ladder */
    DB_FACT_FROST_LIMIT,   /* temperature at which unhardened or newly planted plants are hurt; read from hardiness
                              unless given */
    DB_FACT_LIFT_LOW,      /* temperature of the night before which what is eaten has to be out of the ground */
    DB_FACT_KEEP_OFF,      /* time until the same family may follow on the same ground */
    DB_FACT_CURE_TIME,     /* time it dries before it goes into the store; not given: it is not lifted all at once */
    DB_FACT_KEEP_TIME,     /* time it keeps in store */
    DB_FACT_CHILL_FROM,    /* temperatures between which young plants are chilled towards flowering: db_chill_day() */
    DB_FACT_CHILL_BEST,
    DB_FACT_CHILL_TO,
    DB_FACT_CHILL_AGE,      /* time from coming up until cold counts */
    DB_FACT_CHILL_DOSE,     /* thermal: chilling after which the first run to seed */
    DB_FACT_SEEDS_PER_GRAM, /* number */
    DB_FACT_FREE_TIME,      /* time from coming up (or planting) in which it stands the shade of a crop beside it */
    DB_FACT_KCB_MID,        /* number: what it uses, full grown, of the reference: Kcb of FAO-56 table 17 */
    DB_FACT_KCB_END,        /* number: the same at the end of its time */
    DB_FACT_ROOT_DEPTH,     /* length: how deep its roots reach, full grown */
    DB_FACT_DEPLETION       /* number: part of the water in their reach that it takes without going short */
};
enum { DB_FACT_COUNT = DB_FACT_DEPLETION + 1 };

/* How a fact is written: one row a fact, indexed by enum db_fact. */
struct db_fact_row {
    const char *key;          /* "hot_limit": the key in a crop file, crop.hot_limit in a rule */
    enum db_kind kind;        /* WORD for texts, TRUTH for yes/no, else the amount's kind */
    const char *const *words; /* for a WORD with a fixed choice: NULL-terminated list; else NULL */
    double least, most;       /* bounds of an amount, in the kind's own unit */
    bool needed;              /* a crop without it is refused */
    const char *help;         /* one clause for messages and documents */
};
const struct db_fact_row *db_fact_row(enum db_fact fact);

/* A crop as the reader fills it in; once added it is only read. */
struct db_crop_facts {
    const char *id;                                 /* section name, the word used in sowings: "carrot", "kale" */
    const char *text[DB_FACT_COUNT];                /* WORD facts; NULL: not given */
    double low[DB_FACT_COUNT], high[DB_FACT_COUNT]; /* amounts and truths; NaN: not given; equal for a single figure */
    const char *source[DB_FACT_COUNT]; /* where each came from, full title; never NULL where the fact is given */
    unsigned ways;                     /* bit 1 << enum db_way */
    enum db_way usual;                 /* the way that is named first: taken where a sowing names none */
    const char *ways_source;
    struct db_emergence emergence; /* count 0: not known (sets and cloves) */
    const char *emergence_source;
};

struct db_crops;

struct db_crops *db_crops_new(struct db_arena *arena);
/* Copies the facts (texts must outlive the crops). Fills in frost_limit from hardiness: chill-tender +5, frost-tender 0,
 * half-hardy -2, hardy -4, very-hardy -7 degC (upper bounds of PMC10202904, table 2). DB_RANGE if the id is already there. */
DB_MUST_USE enum db_status db_crops_add(struct db_crops *crops, const struct db_crop_facts *facts);

size_t db_crops_count(const struct db_crops *crops);
const struct db_crop_facts *db_crops_at(const struct db_crops *crops, size_t index);
/* By id; NULL if there is none. */
const struct db_crop_facts *db_crops_find(const struct db_crops *crops, const char *id);

/* Middle of an amount's range, NaN when it is not given. */
double db_crop_middle(const struct db_crop_facts *crop, enum db_fact fact);

/* Base, upper cut-off and reference temperature of growth (degC) of the crop's season: cool 0, 22 and 15, warm 6, 26 and 17.
 * The days in the crop table are days at the reference temperature. Estimates; docs/models.md says from what. */
double db_crop_base(const struct db_crop_facts *crop);
double db_crop_top(const struct db_crop_facts *crop);
double db_crop_reference(const struct db_crop_facts *crop);

#ifdef __cplusplus
}
#endif
#endif
