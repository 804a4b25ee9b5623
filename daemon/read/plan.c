#include "read/load.h"

#include "base/limits.h"
#include "read/files.h"

#include <math.h>
#include <string.h>

#include "base/banned.h"

#define ALWAYS true
#define IF_WANTED false
#define DEGREES_HINT "write degrees as a plain number, south and west with a minus, as in -1.9"
#define DEGREES(most)                                                                                                  \
    {                                                                                                                  \
        DB_KIND_NUMBER, "", -(most), most, false, DEGREES_HINT                                                         \
    }
#define LENGTH(unit, least, most)                                                                                      \
    {                                                                                                                  \
        DB_KIND_LENGTH, unit, least, most, false, NULL                                                                 \
    }
#define WARM(least, most)                                                                                              \
    {                                                                                                                  \
        DB_KIND_TEMPERATURE, "°C", least, most, false, NULL                                                            \
    }
#define NONE                                                                                                           \
    {                                                                                                                  \
        0                                                                                                              \
    }

static const char *const unit_words[] = { "metric", "imperial", NULL };
/* In the order of enum db_air_kind and enum db_texture. */
static const char *const air_words[] = { "inland", "maritime", NULL };
static const char *const soil_words[] = {
    "loam",       "sand", "loamy sand",  "sandy loam", "silt loam", "silt", "silty clay loam",
    "silty clay", "clay", "potting mix", NULL
};

enum {
    NAME,
    KEY,
    LATITUDE,
    LONGITUDE,
    ALTITUDE,
    ZONE,
    UNITS,
    INDOORS,
    AIR,
    SOIL,
    LAST_FROST,
    FIRST_FROST,
    COLDER_NIGHTS,
    INCLUDE,
    RULES,
    CROPS,
    GARDEN_ROWS
};
static const struct db_field garden_rows[GARDEN_ROWS] = {
    [NAME] = { "name", DB_FIELD_TEXT, NONE, NULL, NULL, ALWAYS, "what the garden is called in calendars" },
    [KEY] = { "key", DB_FIELD_KEY, NONE, NULL, NULL, ALWAYS, "a UUID; `dewbell key` prints a new one" },
    [LATITUDE] = { "latitude", DB_FIELD_AMOUNT, DEGREES(90), NULL, NULL, ALWAYS,
                   "degrees, south of the equator with a minus, as in 52.1" },
    [LONGITUDE] = { "longitude", DB_FIELD_AMOUNT, DEGREES(180), NULL, NULL, ALWAYS,
                    "degrees, west of Greenwich with a minus, as in -1.9" },
    [ALTITUDE] = { "altitude", DB_FIELD_AMOUNT, LENGTH("m", -500e3, 6000e3), NULL, NULL, IF_WANTED,
                   "height above the sea" },
    [ZONE] = { "zone", DB_FIELD_ZONE, NONE, NULL, NULL, ALWAYS, "the time zone, as in Europe/London" },
    [UNITS] = { "units", DB_FIELD_WORD, NONE, unit_words, "a system of units", IF_WANTED, "metric or imperial" },
    [INDOORS] = { "indoors", DB_FIELD_AMOUNT, WARM(0, 40), NULL, NULL, IF_WANTED, "warmth of the bench for trays" },
    [AIR] = { "air", DB_FIELD_WORD, NONE, air_words, "a kind of air", IF_WANTED, "maritime near a cool coast" },
    [SOIL] = { "soil", DB_FIELD_WORD, NONE, soil_words, "a kind of soil", IF_WANTED, "what the beds are made of" },
    [LAST_FROST] = { "last_frost", DB_FIELD_SEASON_DAY, NONE, NULL, NULL, IF_WANTED,
                     "the day by which frosts are over, as in 12 May" },
    [FIRST_FROST] = { "first_frost", DB_FIELD_SEASON_DAY, NONE, NULL, NULL, IF_WANTED,
                      "the day from which they come, as in 20 October" },
    [COLDER_NIGHTS] = { "colder_nights",
                        DB_FIELD_AMOUNT,
                        { DB_KIND_WARMTH, "K", -3, 8, false, "write how much colder nights are here, as in 2 K" },
                        NULL,
                        NULL,
                        IF_WANTED,
                        "how much colder nights are than forecast, as in a hollow: 2 K" },
    [INCLUDE] = { "include", DB_FIELD_LIST, NONE, NULL, NULL, IF_WANTED, "more files or folders, between commas" },
    [RULES] = { "rules", DB_FIELD_NAME, NONE, NULL, NULL, IF_WANTED, "a folder with rules of your own" },
    [CROPS] = { "crops", DB_FIELD_NAME, NONE, NULL, NULL, IF_WANTED, "a folder with crops of your own" },
};

static const char *const cover_words[] = { "open", "board", "fleece", "frame", "tunnel", "indoors", NULL };

enum { BED_NAME, WHERE, SIZE, COVER, WARMTH, BED_SOIL, DEPTH, GREW, MANURED, BED_ROWS };
static const struct db_field bed_rows[BED_ROWS] = {
    [BED_NAME] = { "name", DB_FIELD_TEXT, NONE, NULL, NULL, IF_WANTED, "as it is called, as in the north bed" },
    [WHERE] = { "where", DB_FIELD_TEXT, NONE, NULL, NULL, IF_WANTED, "as it reads in \"Sow kale ...\": on the bench" },
    [SIZE] = { "size", DB_FIELD_SIZE, LENGTH("m", 50, 500e3), NULL, NULL, IF_WANTED,
               "width x length, as in 1.2 m x 3 m" },
    [COVER] = { "cover", DB_FIELD_WORD, NONE, cover_words, "a cover", IF_WANTED, "what is over it" },
    [WARMTH] = { "warmth", DB_FIELD_AMOUNT, WARM(0, 40), NULL, NULL, IF_WANTED, "how warm it is, for a bed indoors" },
    [BED_SOIL] = { "soil", DB_FIELD_WORD, NONE, soil_words, "a kind of soil", IF_WANTED,
                   "what it is made of, where it differs from the garden's" },
    [DEPTH] = { "depth", DB_FIELD_AMOUNT, LENGTH("cm", 50, 3000), NULL, NULL, IF_WANTED,
                "how deep roots can go, for a pot, trough or raised bed" },
    [GREW] = { "grew", DB_FIELD_LIST, NONE, NULL, NULL, IF_WANTED,
               "what grew there in years before, as in savoy-cabbage 2014, leek 2013" },
    [MANURED] = { "manured", DB_FIELD_LIST, NONE, NULL, NULL, IF_WANTED,
                  "days on which raw manure was dug in, as in 2026-04-01" },
};

static const struct {
    const char *kind, *example; /* NULL: such a section has no name of its own */
} named_kinds[] = { { "bed", "north" }, { "sowing", "carrot-1" }, { "mail", "me" },
                    { "post", "hall" }, { "command", "aloud" },   { "publish", "cloud" } };
static const char *const kinds[] = { "garden",  "days", "weather", "climate", "bed",     "sowing", "forecast",
                                     "morning", "mail", "post",    "command", "publish", NULL };
#define TELL(load, place, instead, ...) db_mistakes_add((load)->mistakes, place, instead, __VA_ARGS__)

/* A key that was misspelt and indented ends up inside the text above it: no name holds an equals sign in a second line. */
static void check_text(struct db_load *load, const struct db_value *value)
{
    const struct db_words *words = value->good ? value->span.words : NULL;

    for (size_t i = 1; words && i < words->piece_count; i++)
        if (memchr(words->text + words->pieces[i].from, '=', words->length - words->pieces[i].from)) {
            TELL(load, words->pieces[i].at, "begin it at the start of the line if it is a key of its own",
                 "this line begins with a blank, so it goes on with the line above");
            return;
        }
}

const char *db_kept_text(struct db_load *load, const struct db_value *value)
{
    check_text(load, value);
    return value->good ? db_span_text(value->span, load->arena) : NULL;
}

static const char *kept_path(struct db_load *load, const struct db_plan *plan, const struct db_value *value,
                             struct db_place *ret_at)
{
    const char *text = value->good ? db_span_text(value->span, load->scratch) : NULL;

    if (!text)
        return NULL;
    *ret_at = db_span_place(value->span);
    return db_path_join(load->arena, plan->folder, text);
}

static double or_else(const struct db_value *value, double otherwise)
{
    return value->good ? value->low : otherwise;
}

static enum db_status read_includes(struct db_load *load, struct db_plan *plan, const struct db_value *value)
{
    struct db_span part;

    for (size_t at = value->span.from; value->good && db_span_next(value->span, ',', &at, &part);) {
        const char *name = db_span_text(part, load->scratch);
        const char *path = name && *name ? db_path_join(load->arena, plan->folder, name) : NULL;

        if (name && !*name) {
            TELL(load, db_span_place(part), "write file names between commas", "a file name is missing");
            continue;
        }
        const enum db_status status = path ? db_load_ini(load, plan->ini, path, db_span_place(part)) : DB_FULL;
        if (status != DB_OK)
            return status;
    }
    return DB_OK;
}

static struct db_season_day season_day(const struct db_value *value)
{
    struct db_season_day ret = { 0 };

    if (value->good)
        db_date_parts(value->date, NULL, &ret.month, &ret.day);
    return ret;
}

static enum db_status read_site(struct db_load *load, struct db_plan *plan, const char *file)
{
    const struct db_ini_section *section = db_ini_find(plan->ini, "garden");
    struct db_value v[GARDEN_ROWS];

    if (!section) {
        /* Nothing else is missed when the file could not be read at all. */
        if (db_mistakes_count(load->mistakes) == 0)
            TELL(load, ((struct db_place){ .file = file }),
                 "write [garden] with name, key, latitude, longitude and zone", "there is no section [garden]");
        return DB_OK;
    }
    db_fields_read(section, garden_rows, GARDEN_ROWS, v, db_load_reader(load));
    plan->site = (struct db_site){
        .name = db_kept_text(load, &v[NAME]),
        .key = db_kept_text(load, &v[KEY]),
        .latitude = v[LATITUDE].low,
        .longitude = v[LONGITUDE].low,
        .altitude = or_else(&v[ALTITUDE], 0) / 1000,
        .zone = db_kept_text(load, &v[ZONE]),
        .imperial = v[UNITS].good && v[UNITS].word == 1,
        .indoors = or_else(&v[INDOORS], 18),
        .air = v[AIR].good ? (enum db_air_kind) v[AIR].word : DB_AIR_INLAND,
        .texture = v[SOIL].good ? (enum db_texture) v[SOIL].word : DB_TEXTURE_LOAM,
        .frosts = { [DB_FROST_LAST] = season_day(&v[LAST_FROST]), [DB_FROST_FIRST] = season_day(&v[FIRST_FROST]) },
        .nights_known = v[COLDER_NIGHTS].good,
        .colder_nights = or_else(&v[COLDER_NIGHTS], 0),
        .seed_sun = 0.10,
    };
    plan->own_rules = kept_path(load, plan, &v[RULES], &plan->own_rules_at);
    plan->own_crops = kept_path(load, plan, &v[CROPS], &plan->own_crops_at);
    return read_includes(load, plan, &v[INCLUDE]);
}

/* Every key that may stand in a plan, so that a line with one is known although it is indented. */
static const char *const *all_keys(struct db_arena *arena)
{
    size_t days, weather, climate, sowings, count = 0;
    const struct db_field *days_fields = db_days_fields(&days);
    const struct db_field *weather_fields = db_weather_fields(&weather), *climate_fields = db_climate_fields(&climate);
    const struct db_field *sowing_fields = db_sowing_fields(&sowings);
    const struct db_field *outlet_fields;
    size_t outlets = 0;
    const struct {
        const struct db_field *rows;
        size_t count;
    } tables[] = { { garden_rows, GARDEN_ROWS }, { bed_rows, BED_ROWS },      { days_fields, days },
                   { sowing_fields, sowings },   { weather_fields, weather }, { climate_fields, climate } };
    for (size_t i = 0, more; db_outlet_fields(i, &more); i++)
        outlets += more;
    const char **keys =
        db_arena_get(arena, GARDEN_ROWS + BED_ROWS + days + sowings + weather + climate + outlets + 1, sizeof *keys);

    for (size_t t = 0; keys && t < sizeof tables / sizeof tables[0]; t++)
        for (size_t i = 0; i < tables[t].count; i++)
            keys[count++] = tables[t].rows[i].key;
    for (size_t t = 0, more; keys && (outlet_fields = db_outlet_fields(t, &more)); t++)
        for (size_t i = 0; i < more; i++)
            keys[count++] = outlet_fields[i].key;
    return keys; /* zeroed: a NULL ends it */
}

enum db_status db_plan_open(struct db_load *load, const char *file, struct db_plan *ret)
{
    const struct db_ini_shape shape = { kinds, all_keys(load->scratch) };
    enum db_status status;

    if (!shape.keys)
        return DB_FULL;
    *ret = (struct db_plan){ .ini = db_ini_new(load->arena, load->scratch, load->mistakes, shape) };
    file = db_arena_text(load->arena, file, strlen(file));
    ret->folder = file ? db_path_folder(load->arena, file) : NULL;
    if (!ret->ini || !ret->folder)
        return DB_FULL;
    if (db_path_is_folder(file)) {
        TELL(load, ((struct db_place){ .file = file }), "name the file garden.ini in it", "%s is a folder", file);
        return DB_OK;
    }
    status = db_load_ini(load, ret->ini, file, (struct db_place){ .file = file });
    return status == DB_OK ? read_site(load, ret, file) : status;
}

/* "the north bed" for [bed north]; what is under a roof is called by its own name: "the bench". */
static const char *shown_name(struct db_load *load, const char *id, enum db_cover cover)
{
    const bool outside = cover == DB_COVER_OPEN || cover == DB_COVER_BOARD || cover == DB_COVER_FLEECE;
    const size_t length = strlen(id);
    const size_t article = sizeof "the " - 1;
    char *name = db_arena_get(load->arena, article + length + sizeof " bed", 1);

    if (!name)
        return NULL;
    memcpy(name, "the ", article);
    for (size_t i = 0; i < length; i++)
        name[article + i] = id[i] == '-' ? ' ' : id[i];
    if (outside && !strstr(id, "bed"))
        memcpy(name + article + length, " bed", sizeof " bed");
    return name;
}

static enum db_status read_bed(struct db_load *load, const struct db_plan *plan, const struct db_crops *crops,
                               const struct db_ini_section *section, struct db_garden *garden)
{
    struct db_value v[BED_ROWS];
    struct db_bed bed = { .at = section->at };

    db_fields_read(section, bed_rows, BED_ROWS, v, db_load_reader(load));
    bed.id = db_arena_text(load->arena, section->id, strlen(section->id));
    bed.cover = v[COVER].good ? (enum db_cover) v[COVER].word : DB_COVER_OPEN;
    bed.warmth = bed.cover == DB_COVER_INDOORS ? or_else(&v[WARMTH], plan->site.indoors) : (double) NAN;
    bed.texture = v[BED_SOIL].good ? (enum db_texture) v[BED_SOIL].word : plan->site.texture;
    bed.depth = or_else(&v[DEPTH], 0);
    if (v[BED_SOIL].good && bed.texture == DB_TEXTURE_MIX && !v[DEPTH].given && !section->cut)
        db_mistakes_advise(load->mistakes, db_span_place(v[BED_SOIL].span), "write depth = how deep it is filled",
                           "[%s] does not say how deep the mix is: it is watered as if roots could go anywhere",
                           section->title);
    if (v[SIZE].good) {
        bed.width = v[SIZE].low;
        bed.length = v[SIZE].high;
    }
    if (!bed.id)
        return DB_FULL;
    bed.name = v[BED_NAME].good ? db_kept_text(load, &v[BED_NAME]) : shown_name(load, bed.id, bed.cover);
    if (!bed.name)
        return DB_FULL;
    bed.where = v[WHERE].good ? db_kept_text(load, &v[WHERE]) : NULL;
    if (v[WARMTH].good && v[COVER].given == v[COVER].good && bed.cover != DB_COVER_INDOORS)
        TELL(load, db_span_place(v[WARMTH].span), "take it out, or write cover = indoors",
             "warmth is for beds indoors, and this one is %s", db_cover_word(bed.cover));
    if (v[GREW].good && db_plan_grew(load, crops, v[GREW].span, &bed) != DB_OK)
        return DB_FULL;
    if (v[MANURED].good && bed.cover == DB_COVER_INDOORS)
        TELL(load, db_span_place(v[MANURED].span), "take it out, or write the cover that it has",
             "manured is for ground that is dug, and this one is indoors");
    if (v[MANURED].good && db_plan_manured(load, v[MANURED].span, &bed) != DB_OK)
        return DB_FULL;
    return db_garden_add_bed(garden, &bed, NULL);
}

/* Sections that do not belong into a plan. */
static bool is_in_place(struct db_load *load, const struct db_ini_section *section)
{
    const char *example = NULL;
    const char *const *kind = kinds;

    for (size_t i = 0; i < sizeof named_kinds / sizeof named_kinds[0]; i++)
        if (strcmp(section->kind, named_kinds[i].kind) == 0)
            example = named_kinds[i].example;
    while (*kind && strcmp(*kind, section->kind) != 0)
        kind++;
    if (!*kind) {
        const char *near = db_nearest(section->kind, kinds, sizeof kinds / sizeof kinds[0] - 1);

        TELL(load, section->at,
             !near ? "write [garden], [days], [weather], [climate], [bed NAME] or [sowing NAME]; for the service "
                     "[forecast], "
                     "[morning], [mail NAME], [post NAME], [command NAME] or [publish NAME]"
             : section->id ? db_say(load->scratch, "did you mean [%s %s]?", near, section->id)
                           : db_say(load->scratch, "did you mean [%s]?", near),
             "[%s] is no section of a plan", section->title);
    } else if (example && !section->id) {
        TELL(load, section->at, db_say(load->scratch, "write a name after it, as in [%s %s]", section->kind, example),
             "this %s has no name", section->kind);
    } else if (!example && section->id) {
        TELL(load, section->at, db_say(load->scratch, "write [%s]", section->kind), "[%s] takes no name",
             section->kind);
    } else {
        return true;
    }
    return false;
}

enum db_status db_plan_garden(struct db_load *load, const struct db_plan *plan, const struct db_crops *crops,
                              const struct db_garden **ret)
{
    struct db_garden *garden = db_garden_new(load->arena, &plan->site);
    enum db_status status = garden ? DB_OK : DB_FULL;
    size_t beds = 0, sowings = 0;

    /* Beds first: a sowing may name one that stands below it, or in a later file. */
    for (size_t i = 0; status == DB_OK && i < db_ini_count(plan->ini); i++) {
        const struct db_ini_section *section = db_ini_at(plan->ini, i);

        if (!is_in_place(load, section) || strcmp(section->kind, "bed") != 0)
            continue;
        if (++beds <= DB_LIMIT_BEDS)
            status = read_bed(load, plan, crops, section, garden);
        else if (beds == DB_LIMIT_BEDS + 1)
            TELL(load, section->at, "", "there are more than %d beds", DB_LIMIT_BEDS);
    }
    for (size_t i = 0; status == DB_OK && i < db_ini_count(plan->ini); i++) {
        const struct db_ini_section *section = db_ini_at(plan->ini, i);

        if (strcmp(section->kind, "sowing") != 0 || !section->id)
            continue;
        if (++sowings <= DB_LIMIT_SOWINGS)
            status = db_plan_sowing(load, crops, section, garden);
        else if (sowings == DB_LIMIT_SOWINGS + 1)
            TELL(load, section->at, "", "there are more than %d sowings", DB_LIMIT_SOWINGS);
    }
    if (status == DB_OK)
        status = db_plan_between(load, plan, garden);
    if (status == DB_OK)
        status = db_plan_days(load, plan, garden);
    if (status == DB_OK)
        *ret = garden;
    return status;
}
