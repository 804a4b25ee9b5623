#define DB_PURE
#include "dewbell/crop.h"

#include "base/limits.h"
#include "model/shelf.h"

#include <math.h>
#include <string.h>

#include "base/banned.h"

static const char *const hardiness_words[] = {
    "chill-tender", "frost-tender", "half-hardy", "hardy", "very-hardy", NULL
};
static const char *const season_words[] = { "cool", "warm", NULL };
static const char *const counted_words[] = { "sowing", "planting", NULL };

#define TEXT(key, words, needed, help)                                                                                 \
    {                                                                                                                  \
        key, DB_KIND_WORD, words, 0, 0, needed, help                                                                   \
    }
#define TRUTH(key, help)                                                                                               \
    {                                                                                                                  \
        key, DB_KIND_TRUTH, NULL, 0, 1, false, help                                                                    \
    }
#define AMOUNT(key, kind, least, most, needed, help)                                                                   \
    {                                                                                                                  \
        key, DB_KIND_##kind, NULL, least, most, needed, help                                                           \
    }

/* The bounds are wide on purpose: they catch slips (5 m for 5 mm), not opinions. */
static const struct db_fact_row rows[DB_FACT_COUNT] = {
    [DB_FACT_NAME] = TEXT("name", NULL, true, "what one of it is called, as in \"carrot\""),
    [DB_FACT_PLURAL] = TEXT("plural", NULL, true, "as it reads in \"Thin carrots\""),
    [DB_FACT_FAMILY] = TEXT("family", NULL, true, "the botanical family, as in Apiaceae"),
    [DB_FACT_HARDINESS] = TEXT("hardiness", hardiness_words, true, "how much cold it bears"),
    [DB_FACT_SEASON] = TEXT("season", season_words, true, "cool or warm: the temperatures at which it grows"),
    [DB_FACT_COUNTED] = TEXT("counted", counted_words, false, "from when crop_time counts"),
    [DB_FACT_HARVEST] = TEXT("harvest", NULL, false, "how it is harvested"),
    [DB_FACT_STORAGE] = TEXT("storage", NULL, false, "how it keeps"),
    [DB_FACT_REMARK] = TEXT("remark", NULL, false, "anything else worth knowing"),
    [DB_FACT_AT_SOWING] = TEXT("at_sowing", NULL, false, "what to know when it is sown, whole sentences"),
    [DB_FACT_AT_THINNING] = TEXT("at_thinning", NULL, false, "what to know when it is thinned, whole sentences"),
    [DB_FACT_AT_PLANTING] = TEXT("at_planting", NULL, false, "what to know when it is planted out, whole sentences"),
    [DB_FACT_AT_WATERING] = TEXT("at_watering", NULL, false, "what to know when it is watered, whole sentences"),
    [DB_FACT_SOLSTICE] = TRUTH("solstice", "runs to seed when sown before the summer solstice"),
    [DB_FACT_NETTED] = TRUTH("netted", "wants a net against pigeons and butterflies from planting"),
    [DB_FACT_CLUSTERED] = TRUTH("clustered", "the seedlings of a cell are planted together"),
    [DB_FACT_SURFACE] = TRUTH("surface", "needs light: sown on the surface and pressed in"),
    [DB_FACT_STAKED] = TRUTH("staked", "wants a stake for the winter"),
    [DB_FACT_ROCKS] =
        TRUTH("rocks_in_gales", "gales loosen it where it stands the winter: the soil is trodden firm round it"),
    [DB_FACT_HEAVED] = TRUTH("heaved_by_frost", "frost lifts it out of the ground in its first months"),
    [DB_FACT_FLEECED] = TRUTH("fleeced_in_cold", "wants fleece in hard cold; not given: if it is half-hardy or hardy"),
    [DB_FACT_DUG] = TRUTH("dug_in_winter", "stands the winter and is dug as it is wanted"),
    [DB_FACT_WINTER_NET] = TRUTH("netted_in_winter", "wants a net against pigeons for the winter"),
    [DB_FACT_FED] = TRUTH("fed_in_spring", "wants a feed as growth begins again after the winter"),
    [DB_FACT_CARROT_FLY] = TRUTH("carrot_fly", "carrot flies lay at it"),
    [DB_FACT_CUT_BEFORE_HEAT] =
        TRUTH("cut_before_heat", "what is ready of it is cut before a hot spell, which spoils it"),
    [DB_FACT_BLIGHT] = TRUTH("takes_blight", "takes late blight"),
    [DB_FACT_TIPS_SHOW] = TRUTH("tips_show", "its sets are set with their tips just showing, not at its depth"),
    [DB_FACT_CHITTED] = TRUTH("chitted", "its sets are laid out to sprout before they are set"),
    [DB_FACT_EARTHED_UP] = TRUTH("earthed_up", "soil is drawn up to it, so that its tubers see no light"),
    [DB_FACT_PINCHED_OUT] = TRUTH("pinched_out", "its tips are pinched out once the lowest pods have set"),
    [DB_FACT_SIDE_SHOOTS] = TRUTH("side_shoots", "its side shoots are taken out and its stem is tied in"),
    [DB_FACT_WEEDED] = TRUTH("weeded", "its leaves never shade the ground: weeds have to be kept down"),
    [DB_FACT_CLEAR_OF_SOIL] = TRUTH("clear_of_soil", "what is eaten of it hangs clear of the soil"),
    [DB_FACT_DEPTH] = AMOUNT("depth", LENGTH, 0, 300, true, "how deep it is sown or set"),
    [DB_FACT_SPACING] = AMOUNT("spacing", LENGTH, 5, 5000, false, "final distance in the row"),
    [DB_FACT_ROW_SPACING] = AMOUNT("row_spacing", LENGTH, 20, 5000, false, "final distance between rows"),
    [DB_FACT_CLUSTER_SPACING] =
        AMOUNT("cluster_spacing", LENGTH, 5, 5000, false, "final distance of cells whose seedlings stay together"),
    [DB_FACT_THIN] = AMOUNT("thin", LENGTH, 5, 2000, false, "distance to which a drill is thinned"),
    [DB_FACT_PLUG_SEEDS] = AMOUNT("plug_seeds", NUMBER, 1, 50, false, "seeds sown in a cell"),
    [DB_FACT_PLUG_KEEP] = AMOUNT("plug_keep", NUMBER, 1, 50, false, "seedlings left in a cell"),
    [DB_FACT_PLUG_TIME] =
        AMOUNT("plug_time", TIME, 3, 200, false, "from sowing to a filled plug, at the season's reference temperature"),
    [DB_FACT_PRICK_OUT] =
        AMOUNT("prick_out", THERMAL, 1, 2000, false, "warmth from coming up to seedlings fit to prick out"),
    [DB_FACT_CROP_TIME] =
        AMOUNT("crop_time", TIME, 7, 2000, false, "time to the first harvest, at the season's reference temperature"),
    [DB_FACT_HARVEST_TIME] = AMOUNT("harvest_time", TIME, 1, 730, false, "time over which it can be harvested"),
    [DB_FACT_NOT_AFTER] = AMOUNT("not_after", TIME, 1, 300, false,
                                 "time after the summer solstice by which the length of day has ripened it"),
    [DB_FACT_NOT_BEFORE] = AMOUNT("not_before", TIME, 1, 300, false,
                                  "how long after the summer solstice its harvest begins at the soonest"),
    [DB_FACT_STANDS_TO] =
        AMOUNT("stands_to", TIME, 1, 360, false, "how long after the summer solstice it stands, once it has cropped"),
    [DB_FACT_PICK_EVERY] = AMOUNT("pick_every", TIME, 0.5, 90, false, "time between pickings"),
    [DB_FACT_HOT_LIMIT] =
        AMOUNT("hot_limit", TEMPERATURE, 10, 60, false, "warmth of the seedbed above which stands fail"),
    [DB_FACT_DAY_LIMIT] = AMOUNT("day_limit", TIME, 0.25, 1, false, "day length above which it runs to seed"),
    [DB_FACT_SOLSTICE_LEAD] =
        AMOUNT("solstice_lead", TIME, 0, 120, false, "how long before the solstice it may be sown after all"),
    [DB_FACT_HARDEN_LOW] =
        AMOUNT("harden_low", TEMPERATURE, -15, 25, false, "lowest night for plants that are being hardened off"),
    [DB_FACT_HARDEN_TIME] = AMOUNT("harden_time", TIME, 1, 60, false, "how long hardening off takes"),
    [DB_FACT_FROST_LIMIT] =
        AMOUNT("frost_limit", TEMPERATURE, -40, 15, false, "temperature at which unhardened plants are hurt"),
    [DB_FACT_LIFT_LOW] =
        AMOUNT("lift_low", TEMPERATURE, -25, 5, false, "the night before which it is lifted for the store"),
    [DB_FACT_KEEP_OFF] = AMOUNT("keep_off", TIME, 0, 5000, false, "time until the same family may follow"),
    [DB_FACT_SEEDS_PER_GRAM] = AMOUNT("seeds_per_gram", NUMBER, 0.01, 100000, false, "seeds in a gram"),
    [DB_FACT_CURE_TIME] = AMOUNT("cure_time", TIME, 1, 90, false, "how long it dries before it goes into the store"),
    [DB_FACT_CHILL_FROM] = AMOUNT("chill_from", TEMPERATURE, -10, 10, false, "at and below which cold does not count"),
    [DB_FACT_CHILL_BEST] = AMOUNT("chill_best", TEMPERATURE, -5, 15, false, "where cold counts most towards flowering"),
    [DB_FACT_CHILL_TO] = AMOUNT("chill_to", TEMPERATURE, 0, 25, false, "at and above which it does not count"),
    [DB_FACT_CHILL_AGE] = AMOUNT("chill_age", TIME, 0, 120, false, "how long after coming up cold begins to count"),
    [DB_FACT_CHILL_DOSE] = AMOUNT("chill_dose", THERMAL, 1, 5000, false, "chilling after which the first run to seed"),
    [DB_FACT_KEEP_TIME] = AMOUNT("keep_time", TIME, 1, 730, false, "how long it keeps in store"),
    [DB_FACT_FREE_TIME] =
        AMOUNT("free_time", TIME, 0, 120, false, "how long after coming up it stands the shade of a crop beside it"),
    [DB_FACT_KCB_MID] =
        AMOUNT("kcb_mid", NUMBER, 0.1, 1.4, false, "what it uses, full grown, of the reference evapotranspiration"),
    [DB_FACT_KCB_END] = AMOUNT("kcb_end", NUMBER, 0.1, 1.4, false, "the same at the end of its time"),
    [DB_FACT_ROOT_DEPTH] = AMOUNT("root_depth", LENGTH, 50, 3000, false, "how deep its roots reach, full grown"),
    [DB_FACT_DEPLETION] =
        AMOUNT("depletion", NUMBER, 0.05, 0.9, false, "part of the water in reach that it takes before it goes short"),
};

static const char *const way_words[DB_WAY_COUNT] = { "drill", "stations", "plugs", "pot", "sets" };

/* Upper bounds of each class. */
static const double class_limit[] = { 5, 0, -2, -4, -7 };
static const char class_source[] = "frost resistance by class of hardiness: PMC10202904, table 2";

struct db_crops {
    struct db_shelf shelf;
};

const char *db_way_word(enum db_way way)
{
    return (size_t) way < DB_WAY_COUNT ? way_words[way] : "";
}

const struct db_fact_row *db_fact_row(enum db_fact fact)
{
    return (size_t) fact < DB_FACT_COUNT ? &rows[fact] : NULL;
}

struct db_crops *db_crops_new(struct db_arena *arena)
{
    struct db_crops *crops = db_arena_get(arena, 1, sizeof *crops);

    if (crops)
        crops->shelf = db_shelf_in(arena, DB_LIMIT_CROPS);
    return crops;
}

enum db_status db_crops_add(struct db_crops *crops, const struct db_crop_facts *facts)
{
    const char *hardiness = facts->text[DB_FACT_HARDINESS];
    void *kept = NULL;
    const enum db_status status = db_shelf_add(&crops->shelf, facts, sizeof *facts, &kept);
    struct db_crop_facts *crop = kept;

    if (status != DB_OK || !hardiness || !isnan(facts->low[DB_FACT_FROST_LIMIT]))
        return status;
    for (size_t i = 0; hardiness_words[i]; i++)
        if (strcmp(hardiness_words[i], hardiness) == 0) {
            crop->low[DB_FACT_FROST_LIMIT] = crop->high[DB_FACT_FROST_LIMIT] = class_limit[i];
            crop->source[DB_FACT_FROST_LIMIT] = class_source;
        }
    return DB_OK;
}

size_t db_crops_count(const struct db_crops *crops)
{
    return crops->shelf.count;
}

const struct db_crop_facts *db_crops_at(const struct db_crops *crops, size_t index)
{
    return index < crops->shelf.count ? crops->shelf.items[index] : NULL;
}

const struct db_crop_facts *db_crops_find(const struct db_crops *crops, const char *id)
{
    return db_crops_at(crops, db_shelf_find(&crops->shelf, id));
}

double db_crop_middle(const struct db_crop_facts *crop, enum db_fact fact)
{
    return (crop->low[fact] + crop->high[fact]) / 2;
}

static bool is_warm(const struct db_crop_facts *crop)
{
    const char *season = crop->text[DB_FACT_SEASON];

    return season && strcmp(season, "warm") == 0;
}

double db_crop_base(const struct db_crop_facts *crop)
{
    return is_warm(crop) ? 6 : 0;
}

double db_crop_top(const struct db_crop_facts *crop)
{
    return is_warm(crop) ? 26 : 22;
}

double db_crop_reference(const struct db_crop_facts *crop)
{
    return is_warm(crop) ? 17 : 15;
}
