/* A garden in memory to run rules against: three crops of our own invention in figures, three sowings, one season of made-up
 * weather whose figures can be reckoned in the head. */
#ifndef TESTS_SMALL_GARDEN_H
#define TESTS_SMALL_GARDEN_H

#include "base/limits.h"
#include "read/ini.h"
#include "rules/expr.h"
#include "rules/run.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { SMALL_DAYS = 200, SMALL_CARROT = 0, SMALL_LETTUCE = 1, SMALL_KALE = 2 };

struct small {
    struct db_arena *arena;
    struct db_mistakes *mistakes;
    struct db_crops *crops;
    struct db_garden *garden;
    struct db_weather *weather;
    struct db_diary *diary;
    struct db_rules *rules;
    struct db_view view;
    struct db_life life;
    struct db_scope scope;
    double sky[2][DB_SKY_COUNT][SMALL_DAYS]; /* before and after the move */
};

static inline struct db_date small_day(int month, int day)
{
    struct db_date date;

    if (db_date_of(2026, month, day, &date) != DB_OK)
        abort();
    return date;
}

static inline void small_must(enum db_status status)
{
    if (status != DB_OK)
        abort();
}

static inline void small_fact(struct db_crop_facts *crop, enum db_fact fact, double low, double high)
{
    crop->low[fact] = low;
    crop->high[fact] = high;
    crop->source[fact] = "from memory";
}

static inline void small_crop(struct small *s, const char *id, const char *plural, const char *hardiness)
{
    struct db_crop_facts crop = { .id = id, .ways = 31 };

    for (int i = 0; i < DB_FACT_COUNT; i++)
        crop.low[i] = crop.high[i] = (double) NAN;
    crop.text[DB_FACT_NAME] = id;
    crop.text[DB_FACT_PLURAL] = plural;
    crop.text[DB_FACT_FAMILY] = strcmp(id, "kale") == 0 ? "Brassicaceae" : "Apiaceae";
    crop.text[DB_FACT_HARDINESS] = hardiness;
    crop.text[DB_FACT_SEASON] = "cool";
    small_fact(&crop, DB_FACT_DEPTH, 10, 13);
    small_fact(&crop, DB_FACT_HARDEN_TIME, 10, 10);
    small_fact(&crop, DB_FACT_HARDEN_LOW, 7, 7);
    if (strcmp(id, "carrot") == 0)
        small_fact(&crop, DB_FACT_THIN, 50, 80);
    if (strcmp(id, "lettuce") == 0)
        small_fact(&crop, DB_FACT_HOT_LIMIT, 27, 27);
    if (strcmp(id, "kale") == 0)
        small_fact(&crop, DB_FACT_NETTED, 1, 1);
    small_must(db_crops_add(s->crops, &crop));
}

static inline void small_turn(struct small *s, enum db_stage stage, enum db_knowing how, struct db_date early,
                              struct db_date likely, struct db_date late)
{
    s->life.stage[stage] = (struct db_turn){ early, likely, late, how };
}

static inline void small_weather(struct small *s)
{
    s->weather = db_weather_new(s->arena, s->scope.first, SMALL_DAYS, 1);
    if (!s->weather)
        abort();
    for (int i = 0; i < SMALL_DAYS; i++) {
        const struct db_date date = db_date_add(s->scope.first, i);
        const enum db_origin origin = date.day < s->view.today.day       ? DB_ORIGIN_OBSERVED
                                      : date.day < s->view.today.day + 7 ? DB_ORIGIN_FORECAST
                                                                         : DB_ORIGIN_CLIMATE;
        const double figures[] = { 5 + i % 10, 15 + i % 10, i % 4 == 0 ? 4 : 0 };

        for (int f = DB_FIGURE_LOW; f <= DB_FIGURE_RAIN; f++)
            db_weather_put(s->weather, date, (enum db_figure) f, origin, figures[f]);
        for (int place = 0; place < 2; place++) {
            s->sky[place][DB_SKY_LOW][i] = figures[0];
            s->sky[place][DB_SKY_HIGH][i] = figures[1];
            s->sky[place][DB_SKY_RAIN][i] = figures[2];
            s->sky[place][DB_SKY_WIND][i] = (double) NAN;
            s->sky[place][DB_SKY_SOIL][i] = place ? 12 : 18;
            s->sky[place][DB_SKY_SOIL_LOW][i] = place ? 8 : 18;
            s->sky[place][DB_SKY_SOIL_HIGH][i] = place ? 16 : 18;
            s->sky[place][DB_SKY_LOW_HERE][i] = place ? figures[0] + 1 : 18;
            s->sky[place][DB_SKY_DAY_LENGTH][i] = 16.0 / 24;
        }
    }
    for (int place = 0; place < 2; place++)
        for (int f = 0; f < DB_SKY_COUNT; f++)
            s->scope.sky[place][f] = s->sky[place][f];
    s->scope.sky[0][DB_SKY_WIND] = s->scope.sky[1][DB_SKY_WIND] = NULL;
}

/* Stands on the sowing: 0 carrots in the north bed, 1 lettuce on the bench, to be moved to the north bed on 20 June, 2 kale
 * on the bench, bound for the frame. */
static inline void small_stand(struct small *s, size_t sowing)
{
    s->scope.sowing = sowing;
    s->scope.moved = sowing == SMALL_CARROT ? DB_NO_DATE : small_day(6, 20);
    s->scope.day = s->view.today;
}

static inline struct small *small_new(void)
{
    static const struct db_site site = { .name = "Tarn Hollow",
                                         .key = "3f0e6a52-6f0a-4a33-9a57-0c5a9cf0a1b7",
                                         .latitude = 52,
                                         .zone = "Europe/London",
                                         .indoors = 18 };
    struct small *s = calloc(1, sizeof *s);
    const struct db_bed *north, *bench, *frame;

    if (!s || !(s->arena = db_arena_new(16 << 20)))
        abort();
    s->mistakes = db_mistakes_new(s->arena);
    s->crops = db_crops_new(s->arena);
    s->garden = db_garden_new(s->arena, &site);
    s->diary = db_diary_new(s->arena);
    s->rules = db_rules_new(s->arena);
    small_crop(s, "carrot", "carrots", "hardy");
    small_crop(s, "lettuce", "lettuce", "half-hardy");
    small_crop(s, "kale", "kale", "hardy");

    const struct db_bed beds[] = {
        { .id = "north", .name = "the north bed", .cover = DB_COVER_OPEN, .warmth = (double) NAN },
        { .id = "bench", .name = "the bench", .cover = DB_COVER_INDOORS, .warmth = (double) NAN },
        { .id = "frame", .name = "the frame", .cover = DB_COVER_FRAME, .warmth = (double) NAN },
    };

    small_must(db_garden_add_bed(s->garden, &beds[0], &north));
    small_must(db_garden_add_bed(s->garden, &beds[1], &bench));
    small_must(db_garden_add_bed(s->garden, &beds[2], &frame));

    const struct db_sowing sowings[] = {
        { .id = "carrot-1",
          .crop = db_crops_find(s->crops, "carrot"),
          .variety = "Early Nantes",
          .bed = north,
          .into = north,
          .way = DB_WAY_DRILL,
          .planned = small_day(5, 18),
          .sown = small_day(5, 20),
          .row = 3000 },
        { .id = "lettuce-1",
          .crop = db_crops_find(s->crops, "lettuce"),
          .bed = bench,
          .into = north,
          .way = DB_WAY_PLUGS,
          .planned = small_day(5, 18),
          .sown = small_day(5, 20),
          .plugs = 24 },
        { .id = "kale-1",
          .crop = db_crops_find(s->crops, "kale"),
          .bed = bench,
          .into = frame,
          .way = DB_WAY_POT,
          .planned = small_day(5, 18),
          .sown = small_day(5, 20),
          .plants = 6 },
    };

    for (size_t i = 0; i < 3; i++)
        small_must(db_garden_add_sowing(s->garden, &sowings[i]));
    s->view = (struct db_view){ .garden = s->garden, .rules = s->rules, .diary = s->diary, .today = small_day(6, 14) };
    for (int i = 0; i < DB_STAGE_COUNT; i++)
        small_turn(s, (enum db_stage) i, DB_UNKNOWN, DB_NO_DATE, DB_NO_DATE, DB_NO_DATE);
    small_turn(s, DB_STAGE_SOWN, DB_NOTED, small_day(5, 20), small_day(5, 20), small_day(5, 20));
    small_turn(s, DB_STAGE_UP, DB_ESTIMATED, small_day(5, 30), small_day(6, 2), small_day(6, 6));
    small_turn(s, DB_STAGE_CROPPING, DB_ESTIMATED, small_day(7, 28), small_day(8, 4), small_day(8, 15));
    s->life.planned = small_day(5, 18);
    s->life.solstice = DB_NO_DATE;
    s->scope = (struct db_scope){ .view = &s->view, .life = &s->life, .first = small_day(4, 1), .days = SMALL_DAYS };
    for (int i = 0; i < DB_OWN_COUNT; i++)
        for (int e = 0; e < 3; e++)
            s->scope.own[i][e] = (double) NAN;
    s->scope.own[DB_OWN_AREA][1] = 0.6;
    small_weather(s);
    s->view.weather = s->weather;
    small_stand(s, SMALL_CARROT);
    return s;
}

static inline void small_free(struct small *s)
{
    (void) db_arena_free(s->arena);
    free(s);
}

static inline void small_note(struct small *s, int64_t number, const char *sowing, const char *word,
                              struct db_date date)
{
    const struct db_note note = { number, sowing, word, date, "", false };

    small_must(db_diary_add(s->diary, &note));
    small_must(db_diary_close(s->diary, s->garden));
}

/* Hands the rules of a text over, as the reader of rule files does. False: the INI itself has mistakes. */
static inline bool small_give(struct small *s, const char *file, const char *text, size_t length, int layer)
{
    static const char *const keys[] = { "job",  "kind",    "for",    "during", "best",    "prefer", "avoid",
                                        "hold", "while",   "until",  "every",  "records", "effort", "urgency",
                                        "how",  "caution", "source", "off",    NULL };
    static const char *const kinds[] = { NULL };
    const struct db_ini_shape shape = { kinds, keys };
    char *copy = db_arena_text(s->arena, text, length);
    struct db_ini *ini = db_ini_new(s->arena, s->arena, s->mistakes, shape);

    if (!copy || !ini || db_ini_read(ini, file, copy, length) != DB_OK)
        return false;
    for (size_t i = 0; i < db_ini_count(ini); i++) {
        const struct db_ini_section *section = db_ini_at(ini, i);

        for (size_t k = 0; k < section->key_count; k++)
            if (db_rules_key(s->rules, &section->words, &section->keys[k].key, &section->keys[k].value, layer) != DB_OK)
                return false;
    }
    return true;
}

static inline void small_say(const struct small *s)
{
    const struct db_mistake *m;

    for (size_t i = 0; (m = db_mistakes_at(s->mistakes, i)) != NULL; i++)
        (void) fprintf(stderr, "%s:%u:%u: %s; %s\n", m->at.file, m->at.line, m->at.column, m->what, m->instead);
}

/* Reads one expression; its words are kept in the arena. False: it is refused. */
static inline bool small_read(struct small *s, const char *text, struct db_expr *ret)
{
    struct db_words *words = db_arena_get(s->arena, 1, sizeof *words);
    const char **notes;
    size_t n = 0;

    while (db_rules_note_word(s->rules, n))
        n++;
    notes = db_arena_get(s->arena, n + 1, sizeof *notes);
    if (!words || !notes)
        abort();
    while (n-- > 0)
        notes[n] = db_rules_note_word(s->rules, n);
    *words = db_words_plain(text);

    struct db_reading reading = { .arena = s->arena,
                                  .mistakes = s->mistakes,
                                  .note_words = notes,
                                  .words = words,
                                  .to = words->length,
                                  .key = "prefer",
                                  .has_day = true };

    return db_expr_read(&reading, ret);
}

/* A garden with these rules; ends the program with their mistakes if they have any. */
static inline struct small *small_with(const char *text)
{
    struct small *s = small_new();

    if (!small_give(s, "rules.ini", text, strlen(text), 0) || db_mistakes_count(s->mistakes) > 0 ||
        db_rules_compile(s->rules, s->mistakes) != DB_OK) {
        small_say(s);
        abort();
    }
    return s;
}

/* For expressions alone: one rule, by which "thinned" is a word for notes. */
static inline struct small *small_plain(void)
{
    return small_with("[thin]\njob = Thin\nkind = Thin\nduring = up .. up + 1 day\nrecords = thinned\nsource = none\n");
}

/* Of an expression; ends the program if it is refused. */
static inline double small_value(struct small *s, const char *text)
{
    struct db_expr expr = { 0 };

    if (!small_read(s, text, &expr)) {
        small_say(s);
        (void) fprintf(stderr, "%s is refused\n", text);
        abort();
    }
    return db_expr_value(&expr, &s->scope);
}

#endif
