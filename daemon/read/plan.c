#include "read/load.h"

#include "base/limits.h"
#include "read/files.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

#define ALWAYS true
#define IF_WANTED false
#define DEGREES_HINT "write degrees as a plain number, south and west with a minus, as in -1.9"
#define DEGREES(most)                                                                                                  \
    {                                                                                                                  \
        DB_KIND_NUMBER, "", -(most), most, false, DEGREES_HINT                                                         \
    }
#define COUNT(most)                                                                                                    \
    {                                                                                                                  \
        DB_KIND_NUMBER, "", 1, most, true, NULL                                                                        \
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

enum { NAME, KEY, LATITUDE, LONGITUDE, ALTITUDE, ZONE, UNITS, INDOORS, INCLUDE, RULES, CROPS, GARDEN_ROWS };
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
    [INCLUDE] = { "include", DB_FIELD_LIST, NONE, NULL, NULL, IF_WANTED, "more files or folders, between commas" },
    [RULES] = { "rules", DB_FIELD_NAME, NONE, NULL, NULL, IF_WANTED, "a folder with rules of your own" },
    [CROPS] = { "crops", DB_FIELD_NAME, NONE, NULL, NULL, IF_WANTED, "a folder with crops of your own" },
};

static const char *const cover_words[] = { "open", "board", "fleece", "frame", "tunnel", "indoors", NULL };

enum { BED_NAME, WHERE, SIZE, COVER, WARMTH, BED_ROWS };
static const struct db_field bed_rows[BED_ROWS] = {
    [BED_NAME] = { "name", DB_FIELD_TEXT, NONE, NULL, NULL, IF_WANTED, "as it is called, as in the north bed" },
    [WHERE] = { "where", DB_FIELD_TEXT, NONE, NULL, NULL, IF_WANTED, "as it reads in \"Sow kale ...\": on the bench" },
    [SIZE] = { "size", DB_FIELD_SIZE, LENGTH("m", 50, 500e3), NULL, NULL, IF_WANTED,
               "width x length, as in 1.2 m x 3 m" },
    [COVER] = { "cover", DB_FIELD_WORD, NONE, cover_words, "a cover", IF_WANTED, "what is over it" },
    [WARMTH] = { "warmth", DB_FIELD_AMOUNT, WARM(0, 40), NULL, NULL, IF_WANTED, "how warm it is, for a bed indoors" },
};

/* In the order of enum db_way. */
static const char *const way_words[] = { "drill", "stations", "plugs", "pot", "sets", NULL };

enum { CROP, VARIETY, BED, INTO, RAISED, SOW, SOWN, ROW, PLUGS, PLANTS, BEFORE_SOLSTICE, SOWING_ROWS };
static const struct db_field sowing_rows[SOWING_ROWS] = {
    [CROP] = { "crop", DB_FIELD_NAME, NONE, NULL, NULL, ALWAYS, "the crop, as in carrot" },
    [VARIETY] = { "variety", DB_FIELD_TEXT, NONE, NULL, NULL, IF_WANTED, "the variety" },
    [BED] = { "bed", DB_FIELD_NAME, NONE, NULL, NULL, ALWAYS, "the bed it is sown in, or where the tray stands" },
    [INTO] = { "into", DB_FIELD_NAME, NONE, NULL, NULL, IF_WANTED, "the bed it is planted into" },
    [RAISED] = { "raised", DB_FIELD_WORD, NONE, way_words, "a way of raising", IF_WANTED, "how it is raised" },
    [SOW] = { "sow", DB_FIELD_DATE, NONE, NULL, NULL, IF_WANTED, "the day it is to be sown" },
    [SOWN] = { "sown", DB_FIELD_DATE, NONE, NULL, NULL, IF_WANTED, "the day it was sown" },
    [ROW] = { "row", DB_FIELD_AMOUNT, LENGTH("m", 50, 10000e3), NULL, NULL, IF_WANTED, "metres of drill in all" },
    [PLUGS] = { "plugs", DB_FIELD_AMOUNT, COUNT(100000), NULL, NULL, IF_WANTED, "how many cells" },
    [PLANTS] = { "plants", DB_FIELD_AMOUNT, COUNT(100000), NULL, NULL, IF_WANTED, "how many plants are wanted" },
    [BEFORE_SOLSTICE] = { "before_solstice", DB_FIELD_TRUTH, NONE, NULL, NULL, IF_WANTED,
                          "yes: sow it although the days still lengthen" },
};

static const struct {
    const char *kind, *example; /* NULL: such a section has no name of its own */
} named_kinds[] = { { "bed", "north" }, { "sowing", "carrot-1" }, { "mail", "me" },
                    { "post", "hall" }, { "command", "aloud" },   { "publish", "cloud" } };
static const char *const kinds[] = { "garden",  "weather", "climate", "bed",     "sowing",  "forecast",
                                     "morning", "mail",    "post",    "command", "publish", NULL };
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

static const char *kept_text(struct db_load *load, const struct db_value *value)
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
        .name = kept_text(load, &v[NAME]),
        .key = kept_text(load, &v[KEY]),
        .latitude = v[LATITUDE].low,
        .longitude = v[LONGITUDE].low,
        .altitude = or_else(&v[ALTITUDE], 0) / 1000,
        .zone = kept_text(load, &v[ZONE]),
        .imperial = v[UNITS].good && v[UNITS].word == 1,
        .indoors = or_else(&v[INDOORS], 18),
        .seed_sun = 0.10,
    };
    plan->own_rules = kept_path(load, plan, &v[RULES], &plan->own_rules_at);
    plan->own_crops = kept_path(load, plan, &v[CROPS], &plan->own_crops_at);
    return read_includes(load, plan, &v[INCLUDE]);
}

/* Every key that may stand in a plan, so that a line with one is known although it is indented. */
static const char *const *all_keys(struct db_arena *arena)
{
    size_t weather, climate, count = 0;
    const struct db_field *weather_fields = db_weather_fields(&weather), *climate_fields = db_climate_fields(&climate);
    const struct db_field *outlet_fields;
    size_t outlets = 0;
    const struct {
        const struct db_field *rows;
        size_t count;
    } tables[] = { { garden_rows, GARDEN_ROWS },
                   { bed_rows, BED_ROWS },
                   { sowing_rows, SOWING_ROWS },
                   { weather_fields, weather },
                   { climate_fields, climate } };
    for (size_t i = 0, more; db_outlet_fields(i, &more); i++)
        outlets += more;
    const char **keys =
        db_arena_get(arena, GARDEN_ROWS + BED_ROWS + SOWING_ROWS + weather + climate + outlets + 1, sizeof *keys);

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

static enum db_status read_bed(struct db_load *load, const struct db_plan *plan, const struct db_ini_section *section,
                               struct db_garden *garden)
{
    struct db_value v[BED_ROWS];
    struct db_bed bed = { .at = section->at };

    db_fields_read(section, bed_rows, BED_ROWS, v, db_load_reader(load));
    bed.id = db_arena_text(load->arena, section->id, strlen(section->id));
    bed.cover = v[COVER].good ? (enum db_cover) v[COVER].word : DB_COVER_OPEN;
    bed.warmth = bed.cover == DB_COVER_INDOORS ? or_else(&v[WARMTH], plan->site.indoors) : (double) NAN;
    if (v[SIZE].good) {
        bed.width = v[SIZE].low;
        bed.length = v[SIZE].high;
    }
    if (!bed.id)
        return DB_FULL;
    bed.name = v[BED_NAME].good ? kept_text(load, &v[BED_NAME]) : shown_name(load, bed.id, bed.cover);
    if (!bed.name)
        return DB_FULL;
    bed.where = v[WHERE].good ? kept_text(load, &v[WHERE]) : NULL;
    if (v[WARMTH].good && v[COVER].given == v[COVER].good && bed.cover != DB_COVER_INDOORS)
        TELL(load, db_span_place(v[WARMTH].span), "take it out, or write cover = indoors",
             "warmth is for beds indoors, and this one is %s", db_cover_word(bed.cover));
    return db_garden_add_bed(garden, &bed, NULL);
}

static bool is_id(const char *text)
{
    return *text && strspn(text, "abcdefghijklmnopqrstuvwxyz0123456789-") == strlen(text);
}

static const struct db_bed *find_bed(struct db_load *load, const struct db_garden *garden, const struct db_value *value)
{
    const char *id = value->good ? db_span_text(value->span, load->scratch) : NULL;
    const struct db_bed *bed = id ? db_garden_find_bed(garden, id) : NULL;

    if (!id || bed)
        return bed;
    const size_t count = db_garden_beds(garden);
    const char **names = db_arena_get(load->scratch, count, sizeof *names);
    if (!names)
        return NULL;
    for (size_t i = 0; i < count; i++) {
        names[i] = db_garden_bed(garden, i)->id;
        const char *name = db_garden_bed(garden, i)->name;

        if (strcmp(name, id) == 0 || (strncmp(name, "the ", 4) == 0 && strcmp(name + 4, id) == 0)) {
            TELL(load, db_span_place(value->span), db_say(load->scratch, "write %s", names[i]),
                 "there is no bed \"%s\"", id);
            return NULL;
        }
    }
    const char *near = db_did_you_mean(db_load_reader(load), id, names, count);
    TELL(load, db_span_place(value->span),
         *near       ? near
         : is_id(id) ? db_say(load->scratch, "write a section [bed %s] for it", id)
                     : "name a section [bed ...]",
         "there is no bed \"%s\"", id);
    return NULL;
}

static bool same_name(const char *a, const char *b)
{
    for (; *a && *b; a++, b++)
        if ((*a == ' ' ? '-' : *a | 0x20) != (*b == ' ' ? '-' : *b | 0x20))
            return false;
    return *a == *b;
}

/* Crops whose names hold the word: "broad-bean, french-bean or runner-bean" for a bean. "" if there is none. */
static const char *kinds_of(struct db_load *load, const char *word, const char *const *ids, size_t count)
{
    const char *found[8] = { 0 };
    size_t n = 0;

    for (size_t i = 0; i < count && strlen(word) > 2; i++) {
        if (!strstr(ids[i], word))
            continue;
        if (n == sizeof found / sizeof found[0] - 1)
            return "";
        found[n++] = ids[i];
    }
    return n ? db_say(load->scratch, "write %s", db_words_list(db_load_reader(load), found)) : "";
}

static const struct db_crop_facts *find_crop(struct db_load *load, const struct db_crops *crops,
                                             const struct db_value *value)
{
    const char *id = value->good ? db_span_text(value->span, load->scratch) : NULL;
    const struct db_crop_facts *crop = id ? db_crops_find(crops, id) : NULL;

    if (!id || crop)
        return crop;
    const size_t count = db_crops_count(crops);
    const char **names = db_arena_get(load->scratch, count, sizeof *names);
    if (!names)
        return NULL;
    for (size_t i = 0; i < count; i++) {
        const struct db_crop_facts *other = db_crops_at(crops, i);
        const char *name = other->text[DB_FACT_NAME], *plural = other->text[DB_FACT_PLURAL];

        names[i] = other->id;
        if (same_name(id, other->id) || (name && same_name(id, name)) || (plural && same_name(id, plural))) {
            TELL(load, db_span_place(value->span), db_say(load->scratch, "write %s", other->id),
                 "there is no crop \"%s\"", id);
            return NULL;
        }
    }
    const char *near = db_did_you_mean(db_load_reader(load), id, names, count);
    if (!*near)
        near = kinds_of(load, id, names, count);
    TELL(load, db_span_place(value->span),
         *near ? near : "`dewbell crop` lists all, and docs/crops.md says how to add one", "there is no crop \"%s\"",
         id);
    return NULL;
}

/* "raised in a drill" */
static const char *way_phrase(enum db_way way)
{
    static const char *const phrases[DB_WAY_COUNT] = { "in a drill", "at stations", "in plugs", "in a pot",
                                                       "from sets" };

    return phrases[way];
}

static bool is_tray(enum db_way way)
{
    return way == DB_WAY_PLUGS || way == DB_WAY_POT;
}

/* The way it is raised, checked against those that suit the crop. */
static enum db_way way_of(struct db_load *load, const struct db_crop_facts *crop, const struct db_value *raised)
{
    const char *known[DB_WAY_COUNT + 1] = { 0 };
    size_t count = 0;

    if (!raised->good || !crop)
        return raised->good ? (enum db_way) raised->word : crop ? crop->usual : DB_WAY_DRILL;
    for (enum db_way way = DB_WAY_DRILL; way < (enum db_way) DB_WAY_COUNT; way++)
        if (crop->ways & 1u << way)
            known[count++] = db_way_word(way);
    if (!(crop->ways & 1u << raised->word))
        TELL(load, db_span_place(raised->span),
             db_say(load->scratch, "write raised = %s", db_words_list(db_load_reader(load), known)),
             "%s is not raised %s", crop->text[DB_FACT_NAME], way_phrase((enum db_way) raised->word));
    return (enum db_way) raised->word;
}

/* What one key says against another. */
static void check_together(struct db_load *load, const struct db_ini_section *section, const struct db_sowing *sowing,
                           const struct db_value v[SOWING_ROWS])
{
    const char *way = way_phrase(sowing->way);
    const bool tray = is_tray(sowing->way);
    const char *switch_way =
        sowing->crop && sowing->crop->ways & 1u << DB_WAY_PLUGS ? "take it out, or write raised = plugs"
        : sowing->crop && sowing->crop->ways & 1u << DB_WAY_POT ? "take it out, or write raised = pot"
                                                                : "take it out";

    if (!v[SOW].given && !v[SOWN].given && !section->cut)
        TELL(load, section->at, "write sow = the day it is to be sown, or sown = the day it was",
             "[%s] says neither when it is to be sown nor when it was", section->title);
    if (v[SOW].good && v[SOWN].good && abs(v[SOWN].date.day - v[SOW].date.day) > 300)
        db_mistakes_advise(load->mistakes, db_span_place(v[SOWN].span), "check the years",
                           "it was sown %d days %s it was planned", abs(v[SOWN].date.day - v[SOW].date.day),
                           v[SOWN].date.day > v[SOW].date.day ? "after" : "before");
    if (!sowing->crop || (v[RAISED].given && !v[RAISED].good) || !(sowing->crop->ways & 1u << sowing->way))
        return; /* the way is not known */
    if (tray && !v[PLUGS].given && !v[PLANTS].given && !section->cut)
        TELL(load, section->at, "write plugs = how many cells, or plants = how many plants are wanted",
             "[%s] is raised %s and does not say how many", section->title, way);
    if (tray && !v[INTO].given && !section->cut)
        db_mistakes_advise(load->mistakes, section->at, "write into = the bed it is planted into",
                           "[%s] is raised %s and does not say where it is planted: it stays where it is sown",
                           section->title, way);
    if (!tray && v[INTO].good)
        TELL(load, db_span_place(v[INTO].span), switch_way, "what is raised %s is not planted into another bed", way);
    if (!tray && v[PLUGS].good)
        TELL(load, db_span_place(v[PLUGS].span), switch_way, "what is raised %s has no plugs", way);
    if (v[BEFORE_SOLSTICE].good && v[BEFORE_SOLSTICE].yes && !(sowing->crop->low[DB_FACT_SOLSTICE] > 0))
        db_mistakes_advise(load->mistakes, db_span_place(v[BEFORE_SOLSTICE].span), "take it out",
                           "%s is not held back for shortening days anyway", sowing->crop->text[DB_FACT_NAME]);
}

static enum db_status read_sowing(struct db_load *load, const struct db_crops *crops,
                                  const struct db_ini_section *section, struct db_garden *garden)
{
    struct db_value v[SOWING_ROWS];
    struct db_sowing s = { .at = section->at };

    db_fields_read(section, sowing_rows, SOWING_ROWS, v, db_load_reader(load));
    s.id = db_arena_text(load->arena, section->id, strlen(section->id));
    s.crop = find_crop(load, crops, &v[CROP]);
    s.variety = kept_text(load, &v[VARIETY]);
    s.bed = find_bed(load, garden, &v[BED]);
    s.into = v[INTO].good ? find_bed(load, garden, &v[INTO]) : s.bed;
    s.way = way_of(load, s.crop, &v[RAISED]);
    s.planned = v[SOW].date;
    s.sown = v[SOWN].date;
    s.anyway = v[BEFORE_SOLSTICE].yes;
    s.row = or_else(&v[ROW], 0);
    s.plugs = or_else(&v[PLUGS], 0);
    s.plants = or_else(&v[PLANTS], 0);
    if (!s.id || (v[VARIETY].good && !s.variety))
        return DB_FULL;
    check_together(load, section, &s, v);
    return s.crop && s.bed && s.into ? db_garden_add_sowing(garden, &s) : DB_OK;
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
             !near ? "write [garden], [weather], [climate], [bed NAME] or [sowing NAME]; for the service [forecast], "
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
            status = read_bed(load, plan, section, garden);
        else if (beds == DB_LIMIT_BEDS + 1)
            TELL(load, section->at, "", "there are more than %d beds", DB_LIMIT_BEDS);
    }
    for (size_t i = 0; status == DB_OK && i < db_ini_count(plan->ini); i++) {
        const struct db_ini_section *section = db_ini_at(plan->ini, i);

        if (strcmp(section->kind, "sowing") != 0 || !section->id)
            continue;
        if (++sowings <= DB_LIMIT_SOWINGS)
            status = read_sowing(load, crops, section, garden);
        else if (sowings == DB_LIMIT_SOWINGS + 1)
            TELL(load, section->at, "", "there are more than %d sowings", DB_LIMIT_SOWINGS);
    }
    if (status == DB_OK)
        *ret = garden;
    return status;
}
