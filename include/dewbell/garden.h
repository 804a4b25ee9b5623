/* The garden as its gardener wrote it: place, beds and sowings. Built once, then only read. */
#ifndef DEWBELL_GARDEN_H
#define DEWBELL_GARDEN_H

#include "dewbell/crop.h"
#include "dewbell/date.h"
#include "dewbell/frost.h"
#include "dewbell/mistake.h"
#include "dewbell/soil.h"
#include "dewbell/water.h"
#include "dewbell/week.h"

#ifdef __cplusplus
extern "C" {
#endif

struct db_site {
    const char *name;               /* as shown in calendars */
    const char *key;                /* what UIDs are made from: a UUID the gardener never changes, 36 characters */
    double latitude, longitude;     /* degrees, north and east positive */
    double altitude;                /* m */
    const char *zone;               /* IANA name, for whoever asks the clock */
    bool imperial;                  /* amounts are shown in inches, degF ... */
    double indoors;                 /* degC of the bench where trays stand */
    enum db_air_kind air;           /* how much the air draws from ground and plants */
    enum db_texture texture;        /* of its beds, unless they say otherwise */
    struct db_season_day frosts[2]; /* by enum db_frost: as the gardener knows them */
    bool nights_known;              /* colder_nights is said */
    double colder_nights;           /* K that its nights are colder than forecast and climate; less than 0: warmer */
    double seed_sun;                /* K per MJ: reserved for the soil model's setting, 0.10 */
};

/* What grew in a bed in a year before. */
struct db_past_crop {
    const struct db_crop_facts *crop;
    int year; /* of its harvest */
};

struct db_bed {
    const char *id;       /* "north" of [bed north] */
    const char *name;     /* as shown: "the north bed" unless given */
    const char *where;    /* as it follows a verb: "in the north bed", "on the bench"; NULL: "in NAME", for what is
                                  indoors "on NAME" */
    double width, length; /* mm; 0: not given */
    enum db_cover cover;
    double warmth; /* degC, for indoors; NaN: the site's */
    enum db_texture texture;
    double depth; /* mm of ground above what no root goes through; 0: not given, roots go as deep as they like */
    const struct db_past_crop *grew;
    size_t grew_count;
    const struct db_date *manured; /* days on which raw manure was, or is to be, dug in, rising */
    size_t manured_count;
    struct db_place at;
};

/* Days from digging raw manure in to the harvest, where what is eaten touches the soil and where it hangs clear of it. Source: 7
 * CFR 205.203(c)(1), the organic rules of the United States; other places have others. */
enum { DB_MANURE_TOUCHING = 120, DB_MANURE_CLEAR = 90 };
/* The wait of a crop: by its fact clear_of_soil. */
double db_crop_manure_wait(const struct db_crop_facts *crop);
/* The first day on or after `ready` on which a crop of that wait (days) may be harvested from the bed; `ready` itself where no manure holds it.
 * *ret_manured (may be NULL): the last manuring up to that day; no date: none. No date if `ready` is none. */
struct db_date db_bed_harvest(const struct db_bed *bed, double wait, struct db_date ready, struct db_date *ret_manured);

struct db_sowing {
    const char *id; /* "carrot-1" of [sowing carrot-1] */
    const struct db_crop_facts *crop;
    const char *variety;       /* NULL: not given */
    const struct db_bed *bed;  /* where it is sown (for plugs and pots: where the tray stands) */
    const struct db_bed *into; /* where it is planted; == bed if it stays */
    enum db_way way;
    struct db_date planned;  /* `sow = DATE` */
    struct db_date sown;     /* `sown = DATE`; no date if not yet */
    bool anyway;             /* `before_solstice = yes`: not held back for shorter days */
    double row;              /* mm of drill in all; 0: not given */
    double plugs, plants;    /* counts; 0: not given */
    double area;             /* m2 of ground that it takes; 0: worked out from rows or plants */
    double cell;             /* litres of mix in one cell; 0: not given */
    const char *between;     /* id of the sowing between whose rows it stands, in the same bed; NULL: none */
    double again;            /* days after which the next batch is to be sown; 0: not by days */
    const char *again_after; /* stage after which it is, "up"; NULL: not by a stage */
    const char *serves;      /* what it is grown for, "salad", together with others; NULL: its crop alone */
    struct db_place at;
};

/* How far apart its plants stand in the row (mm): of cells whose seedlings stay together, the cells. end 0: the closest
 * that the crop bears, 1: the middle, 2: the widest. NaN: the crop does not say. */
double db_sowing_apart(const struct db_sowing *sowing, int end);
/* Plants or clusters that the plan asks for; 0: it does not say. */
double db_sowing_stands(const struct db_sowing *sowing);
/* Ground that it takes where it grows (m2): `area` if the plan says so, else its rows, or its plants, at the crop's distances;
 * end as above. NaN: not known. */
double db_sowing_ground(const struct db_sowing *sowing, int end);
/* Seeds, or cloves and sets, to have ready, rounded up to two figures: twice the seedlings that are wanted where 60 of a
 * hundred seeds come up and the row is thinned; one in ten over where each is set at its distance; three to a station; what the
 * crop takes to a cell; two for each plant in a pot. Common practice, no source. NaN: the plan or the crop does not say. */
double db_sowing_seeds(const struct db_sowing *sowing);
/* The same in g. */
double db_sowing_seed_weight(const struct db_sowing *sowing);
/* Litres of mix for its cells; NaN: the plan does not say how much one holds. */
double db_sowing_mix(const struct db_sowing *sowing);
/* A bed is too full when what stands there needs so many times its ground at the closest distances: plants are squeezed a
 * little at the edges. Common practice, no source. */
#define DB_BED_CROWDED 1.05

struct db_garden;

struct db_garden *db_garden_new(struct db_arena *arena, const struct db_site *site);
/* Copies the record; texts and crops must outlive the garden. DB_RANGE: the id is already there. *ret (may be NULL) is
 * the kept copy and stays where it is. */
DB_MUST_USE enum db_status db_garden_add_bed(struct db_garden *garden, const struct db_bed *bed,
                                             const struct db_bed **ret);
DB_MUST_USE enum db_status db_garden_add_sowing(struct db_garden *garden, const struct db_sowing *sowing);

/* The gardener's days: copied; `away` must outlive the garden. */
void db_garden_set_week(struct db_garden *garden, const struct db_week *week);
/* Never NULL; not `given` where the plan does not speak of days. */
const struct db_week *db_garden_week(const struct db_garden *garden);

const struct db_site *db_garden_site(const struct db_garden *garden);
size_t db_garden_beds(const struct db_garden *garden);
const struct db_bed *db_garden_bed(const struct db_garden *garden, size_t index);
const struct db_bed *db_garden_find_bed(const struct db_garden *garden, const char *id);
/* Index by id (hashed), SIZE_MAX if there is none. */
size_t db_garden_find_bed_index(const struct db_garden *garden, const char *id);
size_t db_garden_sowings(const struct db_garden *garden);
/* Stable pointers, in the order added. */
const struct db_sowing *db_garden_sowing(const struct db_garden *garden, size_t index);
/* Index by id (hashed), SIZE_MAX if there is none. */
size_t db_garden_find_sowing(const struct db_garden *garden, const char *id);

#ifdef __cplusplus
}
#endif
#endif
