/* [sowing NAME]: one batch of one crop. */
#include "read/load.h"

#include "read/files.h"

#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

#define ALWAYS true
#define IF_WANTED false
#define COUNT(most)                                                                                                    \
    {                                                                                                                  \
        DB_KIND_NUMBER, "", 1, most, true, NULL                                                                        \
    }
#define LENGTH(unit, least, most)                                                                                      \
    {                                                                                                                  \
        DB_KIND_LENGTH, unit, least, most, false, NULL                                                                 \
    }
#define AREA_OF(unit, least, most)                                                                                     \
    {                                                                                                                  \
        DB_KIND_AREA, unit, least, most, false, NULL                                                                   \
    }
#define VOLUME(unit, least, most)                                                                                      \
    {                                                                                                                  \
        DB_KIND_VOLUME, unit, least, most, false, NULL                                                                 \
    }
#define NONE                                                                                                           \
    {                                                                                                                  \
        0                                                                                                              \
    }

/* In the order of enum db_way. */
static const char *const way_words[] = { "drill", "stations", "plugs", "pot", "sets", NULL };

static const char *const again_words[] = { "up", "pricked_out", "rooted", "planted", "cropping", NULL };

enum {
    CROP,
    VARIETY,
    BED,
    INTO,
    RAISED,
    SOW,
    SOWN,
    ROW,
    PLUGS,
    PLANTS,
    AREA,
    CELL,
    BETWEEN,
    BEFORE_SOLSTICE,
    AGAIN,
    AGAIN_AFTER,
    SERVES,
    SOWING_ROWS
};
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
    [AREA] = { "area", DB_FIELD_AMOUNT, AREA_OF("m2", 0.001, 100000), NULL, NULL, IF_WANTED,
               "the ground that it takes, where that is not its rows or plants at the crop's distances" },
    [CELL] = { "cell", DB_FIELD_AMOUNT, VOLUME("ml", 0.001, 50), NULL, NULL, IF_WANTED, "mix that one cell holds" },
    [BETWEEN] = { "between", DB_FIELD_NAME, NONE, NULL, NULL, IF_WANTED, "the sowing between whose rows it stands" },
    [BEFORE_SOLSTICE] = { "before_solstice", DB_FIELD_TRUTH, NONE, NULL, NULL, IF_WANTED,
                          "yes: sow it although the days still lengthen" },
    [AGAIN] = { "again",
                DB_FIELD_AMOUNT,
                { DB_KIND_TIME, "weeks", 3, 366, true, NULL },
                NULL,
                NULL,
                IF_WANTED,
                "how long after this sowing the next is wanted" },
    [AGAIN_AFTER] = { "again_after", DB_FIELD_WORD, NONE, again_words, "a stage", IF_WANTED,
                      "the stage of this sowing at which the next is wanted" },
    [SERVES] = { "serves", DB_FIELD_TEXT, NONE, NULL, NULL, IF_WANTED, "what it is grown for, as in salad" },
};

const struct db_field *db_sowing_fields(size_t *ret_count)
{
    *ret_count = SOWING_ROWS;
    return sowing_rows;
}

#define TELL(load, place, instead, ...) db_mistakes_add((load)->mistakes, place, instead, __VA_ARGS__)

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

const struct db_crop_facts *db_plan_crop(struct db_load *load, const struct db_crops *crops, struct db_span span)
{
    const char *id = db_span_text(span, load->scratch);
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
            TELL(load, db_span_place(span), db_say(load->scratch, "write %s", other->id), "there is no crop \"%s\"",
                 id);
            return NULL;
        }
    }
    const char *near = db_did_you_mean(db_load_reader(load), id, names, count);
    if (!*near)
        near = kinds_of(load, id, names, count);
    TELL(load, db_span_place(span), *near ? near : "`dewbell crop` lists all, and docs/crops.md says how to add one",
         "there is no crop \"%s\"", id);
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
    if (!tray && v[CELL].good)
        TELL(load, db_span_place(v[CELL].span), switch_way, "what is raised %s has no cells", way);
    if (v[BEFORE_SOLSTICE].good && v[BEFORE_SOLSTICE].yes && !(sowing->crop->low[DB_FACT_SOLSTICE] > 0))
        db_mistakes_advise(load->mistakes, db_span_place(v[BEFORE_SOLSTICE].span), "take it out",
                           "%s is not held back for shortening days anyway", sowing->crop->text[DB_FACT_NAME]);
}

/* What would not fit though nothing else stood there: a slip in a count, a length or the bed's size. */
static void check_ground(struct db_load *load, const struct db_ini_section *section, const struct db_sowing *sowing,
                         const struct db_value v[SOWING_ROWS], bool imperial)
{
    const int key = sowing->area > 0                            ? AREA
                    : sowing->row > 0                           ? ROW
                    : sowing->plugs == db_sowing_stands(sowing) ? PLUGS
                                                                : PLANTS;
    const double takes = db_sowing_ground(sowing, 0), has = sowing->into->width * sowing->into->length / 1e6;
    char a[48], b[48];

    if (!(has > 0 && takes > has * DB_BED_CROWDED) || (is_tray(sowing->way) && sowing->into == sowing->bed))
        return;
    (void) db_amount_text((struct db_amount){ takes, DB_KIND_AREA }, imperial, a, sizeof a);
    (void) db_amount_text((struct db_amount){ has, DB_KIND_AREA }, imperial, b, sizeof b);
    db_mistakes_advise(load->mistakes, db_value_place(&v[key], section), "check this and the size of the bed",
                       "[%s] takes %s%s, and %s has %s", section->title, a,
                       sowing->area > 0 ? "" : " at the closest distances", sowing->into->name, b);
}

enum db_status db_plan_sowing(struct db_load *load, const struct db_crops *crops, const struct db_ini_section *section,
                              struct db_garden *garden)
{
    struct db_value v[SOWING_ROWS];
    struct db_sowing s = { .at = section->at };

    db_fields_read(section, sowing_rows, SOWING_ROWS, v, db_load_reader(load));
    s.id = db_arena_text(load->arena, section->id, strlen(section->id));
    s.crop = v[CROP].good ? db_plan_crop(load, crops, v[CROP].span) : NULL;
    s.variety = db_kept_text(load, &v[VARIETY]);
    s.bed = find_bed(load, garden, &v[BED]);
    s.into = v[INTO].good ? find_bed(load, garden, &v[INTO]) : s.bed;
    s.way = way_of(load, s.crop, &v[RAISED]);
    s.planned = v[SOW].date;
    s.sown = v[SOWN].date;
    s.anyway = v[BEFORE_SOLSTICE].yes;
    s.row = v[ROW].good ? v[ROW].low : 0;
    s.plugs = v[PLUGS].good ? v[PLUGS].low : 0;
    s.plants = v[PLANTS].good ? v[PLANTS].low : 0;
    s.area = v[AREA].good ? v[AREA].low : 0;
    s.cell = v[CELL].good ? v[CELL].low : 0;
    s.between = v[BETWEEN].good ? db_span_text(v[BETWEEN].span, load->arena) : NULL;
    s.again = v[AGAIN].good ? v[AGAIN].low : 0;
    s.again_after = v[AGAIN_AFTER].good ? again_words[v[AGAIN_AFTER].word] : NULL;
    s.serves = db_kept_text(load, &v[SERVES]);
    if (v[AGAIN].good && v[AGAIN_AFTER].good)
        TELL(load, db_span_place(v[AGAIN_AFTER].span), "take one of the two out",
             "again and again_after both say when the next is wanted");
    if (!s.id || (v[VARIETY].good && !s.variety) || (v[SERVES].good && !s.serves) || (v[BETWEEN].good && !s.between))
        return DB_FULL;
    check_together(load, section, &s, v);
    if (s.crop && s.into)
        check_ground(load, section, &s, v, db_garden_site(garden)->imperial);
    return s.crop && s.bed && s.into ? db_garden_add_sowing(garden, &s) : DB_OK;
}
