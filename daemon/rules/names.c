#define DB_PURE
#include "rules/expr.h"

#include "base/text.h"

#include <string.h>

#include "base/banned.h"

#define PLAIN(name, op, index, kind, of_day)                                                                           \
    {                                                                                                                  \
        name, op, index, kind, DB_TAKES_NONE, of_day, false, NULL                                                      \
    }
#define STAGE(name, stage) PLAIN(name, DB_OP_STAGE, stage, DB_KIND_DATE, false)
#define FIGURE(name, read, kind) PLAIN(name, DB_OP_FIGURE, read, kind, true)
#define OWN(name, own, kind) PLAIN(name, DB_OP_OWN, own, kind, false)
#define OWN_WORD(name, own) PLAIN(name, DB_OP_OWN_WORD, own, DB_KIND_WORD, false)
#define TEXT(name, op)                                                                                                 \
    {                                                                                                                  \
        name, op, 0, DB_KIND_WORD, DB_TAKES_NONE, false, true, NULL                                                    \
    }
#define CALL(name, op, kind, takes, usage)                                                                             \
    {                                                                                                                  \
        name, op, 0, kind, takes, false, false, usage                                                                  \
    }

static const struct db_name_row rows[] = {
    STAGE("sown", DB_STAGE_SOWN),
    STAGE("up", DB_STAGE_UP),
    STAGE("pricked_out", DB_STAGE_PRICKED_OUT),
    STAGE("rooted", DB_STAGE_ROOTED),
    STAGE("hardening", DB_STAGE_HARDENING),
    STAGE("planted", DB_STAGE_PLANTED),
    STAGE("cropping", DB_STAGE_CROPPING),
    STAGE("cleared", DB_STAGE_CLEARED),
    PLAIN("planned", DB_OP_PLANNED, 0, DB_KIND_DATE, false),
    PLAIN("today", DB_OP_TODAY, 0, DB_KIND_DATE, false),
    PLAIN("day", DB_OP_DAY, 0, DB_KIND_DATE, true),
    PLAIN("solstice", DB_OP_SOLSTICE, 0, DB_KIND_DATE, false),
    FIGURE("low", DB_READ_LOW, DB_KIND_TEMPERATURE),
    FIGURE("high", DB_READ_HIGH, DB_KIND_TEMPERATURE),
    FIGURE("mean", DB_READ_MEAN, DB_KIND_TEMPERATURE),
    FIGURE("rain", DB_READ_RAIN, DB_KIND_LENGTH),
    FIGURE("wind", DB_READ_WIND, DB_KIND_SPEED),
    FIGURE("soil", DB_READ_SOIL, DB_KIND_TEMPERATURE),
    FIGURE("soil_low", DB_READ_SOIL_LOW, DB_KIND_TEMPERATURE),
    FIGURE("soil_high", DB_READ_SOIL_HIGH, DB_KIND_TEMPERATURE),
    FIGURE("low_here", DB_READ_LOW_HERE, DB_KIND_TEMPERATURE),
    FIGURE("low_tonight", DB_READ_LOW_TONIGHT, DB_KIND_TEMPERATURE),
    FIGURE("low_tonight_here", DB_READ_LOW_TONIGHT_HERE, DB_KIND_TEMPERATURE),
    FIGURE("ground_tonight", DB_READ_GROUND_TONIGHT, DB_KIND_TEMPERATURE),
    FIGURE("low_tonight_there", DB_READ_LOW_TONIGHT_THERE, DB_KIND_TEMPERATURE),
    FIGURE("chill", DB_READ_CHILL, DB_KIND_THERMAL),
    FIGURE("day_length", DB_READ_DAY_LENGTH, DB_KIND_TIME),
    FIGURE("et0", DB_READ_ET0, DB_KIND_LENGTH),
    FIGURE("rain_here", DB_READ_RAIN_HERE, DB_KIND_LENGTH),
    FIGURE("rain_tomorrow", DB_READ_RAIN_TOMORROW, DB_KIND_LENGTH),
    FIGURE("dry", DB_READ_DRY, DB_KIND_LENGTH),
    FIGURE("dry_limit", DB_READ_DRY_LIMIT, DB_KIND_LENGTH),
    FIGURE("water", DB_READ_WATER, DB_KIND_VOLUME),
    PLAIN("next_rain", DB_OP_NEXT_RAIN, 0, DB_KIND_DATE, true),
    PLAIN("raised", DB_OP_RAISED, 0, DB_KIND_WORD, false),
    PLAIN("cover", DB_OP_COVER, 0, DB_KIND_WORD, true),
    PLAIN("outdoors", DB_OP_OUTDOORS, 0, DB_KIND_TRUTH, true),
    PLAIN("container", DB_OP_CONTAINER, 0, DB_KIND_TRUTH, true),
    PLAIN("moves", DB_OP_MOVES, 0, DB_KIND_TRUTH, false),
    PLAIN("row", DB_OP_ROW, 0, DB_KIND_LENGTH, false),
    PLAIN("plugs", DB_OP_PLUGS, 0, DB_KIND_NUMBER, false),
    PLAIN("plants", DB_OP_PLANTS, 0, DB_KIND_NUMBER, false),
    OWN("sow_day", DB_OWN_SOW_DAY, DB_KIND_DATE),
    OWN("still_in_tray", DB_OWN_IN_TRAY, DB_KIND_TRUTH),
    OWN("again", DB_OWN_AGAIN, DB_KIND_DATE),
    OWN("followed", DB_OWN_FOLLOWED, DB_KIND_TRUTH),
    OWN("last_sowing", DB_OWN_LAST_SOWING, DB_KIND_DATE),
    OWN("gap_from", DB_OWN_GAP_FROM, DB_KIND_DATE),
    OWN("gap_to", DB_OWN_GAP_TO, DB_KIND_DATE),
    OWN("sow_by", DB_OWN_SOW_BY, DB_KIND_DATE),
    OWN("last_frost", DB_OWN_LAST_FROST, DB_KIND_DATE),
    OWN("first_frost", DB_OWN_FIRST_FROST, DB_KIND_DATE),
    OWN("area", DB_OWN_AREA, DB_KIND_AREA),
    OWN("fits", DB_OWN_FITS, DB_KIND_TRUTH),
    OWN("room", DB_OWN_ROOM, DB_KIND_AREA),
    OWN("ready", DB_OWN_READY, DB_KIND_DATE),
    OWN_WORD("elsewhere", DB_OWN_WORD_ELSEWHERE),
    OWN("elsewhere_from", DB_OWN_ELSEWHERE_FROM, DB_KIND_DATE),
    OWN("plants_fit", DB_OWN_PLANTS_FIT, DB_KIND_NUMBER),
    OWN_WORD("host", DB_OWN_WORD_HOST),
    OWN("host_gone", DB_OWN_HOST_GONE, DB_KIND_DATE),
    OWN("host_stands", DB_OWN_HOST_STANDS, DB_KIND_TRUTH),
    OWN_WORD("family_crop", DB_OWN_WORD_FAMILY),
    OWN_WORD("shelter", DB_OWN_WORD_SHELTER),
    OWN("family_year", DB_OWN_FAMILY_YEAR, DB_KIND_NUMBER),
    OWN("family_gap", DB_OWN_FAMILY_GAP, DB_KIND_TIME),
    OWN("seeds", DB_OWN_SEEDS, DB_KIND_NUMBER),
    OWN("seed_weight", DB_OWN_SEED_WEIGHT, DB_KIND_WEIGHT),
    OWN("mix", DB_OWN_MIX, DB_KIND_VOLUME),
    OWN("manured", DB_OWN_MANURED, DB_KIND_DATE),
    OWN("manure_wait", DB_OWN_MANURE_WAIT, DB_KIND_TIME),
    OWN("ripe", DB_OWN_RIPE, DB_KIND_DATE),
    PLAIN("month", DB_OP_MONTH, 0, DB_KIND_NUMBER, true),
    TEXT("crop", DB_OP_CROP),
    TEXT("crops", DB_OP_CROPS),
    TEXT("variety", DB_OP_VARIETY),
    TEXT("bed", DB_OP_BED),
    TEXT("into", DB_OP_INTO),
    TEXT("where", DB_OP_WHERE),
    TEXT("there", DB_OP_THERE),
    TEXT("sowing", DB_OP_SOWING),
    CALL("early", DB_OP_EARLY, DB_KIND_DATE, DB_TAKES_STAGE, "early(up)"),
    CALL("late", DB_OP_LATE, DB_KIND_DATE, DB_TAKES_STAGE, "late(up)"),
    CALL("noted", DB_OP_NOTED, DB_KIND_TRUTH, DB_TAKES_WORD, "noted(thinned)"),
    CALL("last", DB_OP_LAST, DB_KIND_DATE, DB_TAKES_WORD, "last(thinned)"),
    CALL("min", DB_OP_LEAST, DB_KIND_BAD, DB_TAKES_DAYS, "min(low, 3 days ahead)"),
    CALL("max", DB_OP_MOST, DB_KIND_BAD, DB_TAKES_DAYS, "max(soil, 3 days ahead)"),
    CALL("average", DB_OP_AVERAGE, DB_KIND_BAD, DB_TAKES_DAYS, "average(mean, 7 days back)"),
    CALL("sum", DB_OP_SUM, DB_KIND_BAD, DB_TAKES_DAYS, "sum(rain, 2 days back)"),
    CALL("count", DB_OP_COUNT, DB_KIND_NUMBER, DB_TAKES_DAYS, "count(low < 2 °C, 7 days ahead)"),
    CALL("after", DB_OP_AFTER, DB_KIND_DATE, DB_TAKES_AFTER, "after(hardening, 7 days, low > 4 °C)"),
    CALL("warmed", DB_OP_WARMED, DB_KIND_DATE, DB_TAKES_WARMED, "warmed(258 K d, 5 °C, March)"),
    CALL("later", DB_OP_LATER, DB_KIND_BAD, DB_TAKES_TWO, "later(up, today)"),
    CALL("earlier", DB_OP_EARLIER, DB_KIND_BAD, DB_TAKES_TWO, "earlier(up, today)"),
};
enum { ROW_COUNT = sizeof rows / sizeof rows[0] };

static const char *const way_words[] = { "drill", "stations", "plugs", "pot", "sets", NULL };
static const char *const cover_words[] = { "open", "board", "fleece", "frame", "tunnel", "indoors", NULL };

const struct db_name_row *db_name_find(const char *text, size_t length)
{
    for (size_t i = 0; i < ROW_COUNT; i++)
        if (db_text_is(text, length, rows[i].name))
            return &rows[i];
    return NULL;
}

const struct db_name_row *db_name_at(size_t index)
{
    return index < ROW_COUNT ? &rows[index] : NULL;
}

int db_fact_find(const char *text, size_t length)
{
    for (int i = 0; i < DB_FACT_COUNT; i++)
        if (db_text_is(text, length, db_fact_row((enum db_fact) i)->key))
            return i;
    return -1;
}

const char *const *db_choice(const struct db_node *node)
{
    switch (node->op) {
    case DB_OP_RAISED:
        return way_words;
    case DB_OP_COVER:
        return cover_words;
    case DB_OP_FACT:
        return db_fact_row((enum db_fact) node->index)->words;
    default:
        return NULL;
    }
}

const char *db_nearest_of(const char *word, const char *const *list)
{
    size_t count = 0;

    while (list[count])
        count++;
    return db_nearest(word, list, count);
}

const char *db_kind_unit(int kind)
{
    switch (kind) {
    case DB_KIND_LENGTH:
        return "mm";
    case DB_KIND_AREA:
        return "m2";
    case DB_KIND_VOLUME:
        return "litres";
    case DB_KIND_WEIGHT:
        return "g";
    case DB_KIND_TEMPERATURE:
        return "°C";
    case DB_KIND_WARMTH:
        return "K";
    case DB_KIND_TIME:
    case DB_KIND_DATE:
        return "days";
    case DB_KIND_THERMAL:
        return "K d";
    case DB_KIND_SPEED:
        return "m/s";
    default:
        return "";
    }
}

const char *db_kind_name(int kind)
{
    switch (kind) {
    case DB_KIND_RATE:
        return "a rate";
    case DB_KIND_DAYS:
        return "a run of days";
    case DB_KIND_BAD:
        return "something unclear";
    case DB_KIND_TRUTH:
        return "a condition";
    default:
        return db_kind_text((enum db_kind) kind);
    }
}
