/* Gardens for tests, built in memory: a plot owns all that an evaluation reads. Include after cmocka.h. */
#ifndef DB_TESTS_KIT_PLOT_H
#define DB_TESTS_KIT_PLOT_H

#include "dewbell/job.h"

#include "kit/value.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

struct plot {
    struct db_arena *arena;
    struct db_garden *garden;
    struct db_weather *weather;
    struct db_diary *diary;
    struct db_view view;
    int64_t notes;
};

static inline struct plot plot_new(double latitude, double longitude)
{
    struct plot plot = { .arena = db_arena_new((size_t) 1 << 30) };
    const struct db_site site = { .name = "Tarn Hollow",
                                  .key = "3f0e6a52-6f0a-4a33-9a57-0c5a9cf0a1b7",
                                  .latitude = latitude,
                                  .longitude = longitude,
                                  .zone = "UTC",
                                  .indoors = 18,
                                  .seed_sun = 0.10 };

    assert_non_null(plot.arena);
    plot.garden = db_garden_new(plot.arena, &site);
    plot.diary = db_diary_new(plot.arena);
    assert_non_null(plot.garden);
    assert_non_null(plot.diary);
    plot.view.garden = plot.garden;
    return plot;
}

static inline void plot_free(struct plot *plot)
{
    plot->arena = db_arena_free(plot->arena);
}

static inline const struct db_bed *plot_bed(struct plot *plot, const char *id, enum db_cover cover)
{
    const struct db_bed bed = { .id = id, .name = id, .cover = cover, .warmth = NAN };
    const struct db_bed *kept = NULL;

    assert_int_equal(db_garden_add_bed(plot->garden, &bed, &kept), DB_OK);
    return kept;
}

/* The sowing's index. */
static inline size_t plot_sow(struct plot *plot, struct db_sowing sowing)
{
    if (!sowing.into)
        sowing.into = sowing.bed;
    assert_int_equal(db_garden_add_sowing(plot->garden, &sowing), DB_OK);
    return db_garden_sowings(plot->garden) - 1;
}

static inline void plot_note(struct plot *plot, const char *sowing, const char *word, struct db_date date)
{
    const struct db_note note = { .number = ++plot->notes, .sowing = sowing, .word = word, .date = date, .text = "" };

    assert_int_equal(db_diary_add(plot->diary, &note), DB_OK);
}

/* Nothing is noted after this. */
static inline void plot_close_diary(struct plot *plot)
{
    assert_int_equal(db_diary_close(plot->diary, plot->garden), DB_OK);
    plot->view.diary = plot->diary;
}

static inline void plot_weather(struct plot *plot, struct db_date first, size_t days)
{
    plot->weather = db_weather_new(plot->arena, first, days, 1);
    assert_non_null(plot->weather);
    plot->view.weather = plot->weather;
}

static inline void plot_day(struct plot *plot, struct db_date date, double low, double high, double rain)
{
    db_weather_put(plot->weather, date, DB_FIGURE_LOW, DB_ORIGIN_OBSERVED, low);
    db_weather_put(plot->weather, date, DB_FIGURE_HIGH, DB_ORIGIN_OBSERVED, high);
    db_weather_put(plot->weather, date, DB_FIGURE_RAIN, DB_ORIGIN_OBSERVED, rain);
}

/* The same mild days without rain from `before` days before today to `ahead` after it: forecast for `forecast` of them, then the
 * climate's. */
static inline void plot_mild(struct plot *plot, struct db_date today, int before, int ahead, int forecast)
{
    static const double figures[3] = { [DB_FIGURE_LOW] = 8, [DB_FIGURE_HIGH] = 18 };

    plot_weather(plot, db_date_add(today, -before), (size_t) (before + ahead));
    for (int i = -before; i < ahead; i++)
        if (i <= forecast)
            plot_day(plot, db_date_add(today, i), figures[DB_FIGURE_LOW], figures[DB_FIGURE_HIGH], 0);
        else
            for (enum db_figure f = DB_FIGURE_LOW; f <= DB_FIGURE_RAIN; f++)
                db_weather_put(plot->weather, db_date_add(today, i), f, DB_ORIGIN_CLIMATE, figures[f]);
    plot->view.today = today;
}

/* A crop with every amount not given; fill in and hand to crop_amount. */
static inline struct db_crop_facts crop_new(const char *id, const char *family, const char *season,
                                            const char *hardiness, const char *counted)
{
    struct db_crop_facts crop = { .id = id };

    for (int i = 0; i < DB_FACT_COUNT; i++)
        crop.low[i] = crop.high[i] = NAN;
    crop.text[DB_FACT_NAME] = crop.text[DB_FACT_PLURAL] = id;
    crop.text[DB_FACT_FAMILY] = family;
    crop.text[DB_FACT_SEASON] = season;
    crop.text[DB_FACT_HARDINESS] = hardiness;
    crop.text[DB_FACT_COUNTED] = counted;
    return crop;
}

static inline void crop_amount(struct db_crop_facts *crop, enum db_fact fact, double low, double high)
{
    crop->low[fact] = low;
    crop->high[fact] = high;
}

/* Of FAO-56, tables 17 and 22: what it uses full grown and at its end, reach of the roots in mm, part that is easy to take. */
static inline void crop_water(struct db_crop_facts *crop, double mid, double end, double reach, double part)
{
    crop_amount(crop, DB_FACT_KCB_MID, mid, mid);
    crop_amount(crop, DB_FACT_KCB_END, end, end);
    crop_amount(crop, DB_FACT_ROOT_DEPTH, reach, 2 * reach);
    crop_amount(crop, DB_FACT_DEPLETION, part, part);
}

/* Rows of the emergence table: temperature, days; ends with a temperature above 900. */
static inline void crop_emergence(struct db_crop_facts *crop, double base, double top, const double (*rows)[2])
{
    struct db_emergence *table = &crop->emergence;

    for (table->count = 0; rows[table->count][0] < 900; table->count++) {
        table->temperature[table->count] = rows[table->count][0];
        table->days[table->count] = rows[table->count][1];
    }
    table->base = base;
    table->top = top;
}

/* Emergence by Harrington & Minges 1954, decimals from memory (each rounds to the figure printed in Knott's Handbook). */
static const double kit_carrot[][2] = { { 5, 50.6 }, { 10, 17.3 }, { 15, 10.1 }, { 20, 6.9 },
                                        { 25, 6.2 }, { 30, 6.0 },  { 35, 8.6 },  { 999, 0 } };
static const double kit_cabbage[][2] = { { 10, 14.6 }, { 15, 8.7 }, { 20, 5.8 }, { 25, 4.5 }, { 30, 3.5 }, { 999, 0 } };
static const double kit_lettuce[][2] = { { 0, 49.0 }, { 5, 14.9 }, { 10, 7.0 }, { 15, 3.9 }, { 20, 2.6 },
                                         { 25, 2.2 }, { 30, 2.6 }, { 35, 0 },   { 999, 0 } };
static const double kit_tomato[][2] = { { 10, 42.9 }, { 15, 13.6 }, { 20, 8.2 }, { 25, 5.9 },
                                        { 30, 5.9 },  { 35, 9.2 },  { 999, 0 } };

/* The rows of a crop table cut down to what the engine asks for; figures are common practice. */
static inline struct db_crop_facts kit_crop(const char *which)
{
    struct db_crop_facts c;

    if (strcmp(which, "carrot") == 0) {
        c = crop_new("carrot", "Apiaceae", "cool", "hardy", "sowing");
        crop_water(&c, .95, .85, 500, .35);
        c.ways = 1u << DB_WAY_DRILL;
        crop_emergence(&c, 0.1, 35, kit_carrot);
        crop_amount(&c, DB_FACT_DEPTH, 10, 13);
        crop_amount(&c, DB_FACT_THIN, 40, 80);
        crop_amount(&c, DB_FACT_HOT_LIMIT, 36, 36);
        crop_amount(&c, DB_FACT_CROP_TIME, 70, 90);
        crop_amount(&c, DB_FACT_HARVEST_TIME, 30, 30);
    } else if (strcmp(which, "lettuce") == 0) {
        c = crop_new("lettuce", "Asteraceae", "cool", "half-hardy", "sowing");
        crop_water(&c, .90, .90, 300, .30);
        c.ways = 1u << DB_WAY_PLUGS | 1u << DB_WAY_DRILL;
        crop_emergence(&c, -1, 30, kit_lettuce);
        crop_amount(&c, DB_FACT_DEPTH, 5, 10);
        crop_amount(&c, DB_FACT_HOT_LIMIT, 27, 27);
        crop_amount(&c, DB_FACT_PLUG_TIME, 28, 42);
        crop_amount(&c, DB_FACT_HARDEN_LOW, 7.2, 7.2);
        crop_amount(&c, DB_FACT_HARDEN_TIME, 10, 10);
        crop_amount(&c, DB_FACT_CROP_TIME, 45, 75);
        crop_amount(&c, DB_FACT_HARVEST_TIME, 14, 14);
    } else if (strcmp(which, "kale") == 0) {
        c = crop_new("kale", "Brassicaceae", "cool", "hardy", "sowing");
        crop_water(&c, .95, .85, 500, .45);
        c.ways = 1u << DB_WAY_POT | 1u << DB_WAY_PLUGS;
        crop_emergence(&c, 4.1, 35, kit_cabbage);
        crop_amount(&c, DB_FACT_DEPTH, 10, 13);
        crop_amount(&c, DB_FACT_PLUG_TIME, 35, 42);
        crop_amount(&c, DB_FACT_PRICK_OUT, 140, 140);
        crop_amount(&c, DB_FACT_HARDEN_LOW, 4.4, 4.4);
        crop_amount(&c, DB_FACT_HARDEN_TIME, 7, 7);
        crop_amount(&c, DB_FACT_CROP_TIME, 80, 110);
        crop_amount(&c, DB_FACT_HARVEST_TIME, 150, 150);
        crop_amount(&c, DB_FACT_PICK_EVERY, 7, 14);
        crop_amount(&c, DB_FACT_NETTED, 1, 1);
    } else if (strcmp(which, "tomato") == 0) {
        c = crop_new("tomato", "Solanaceae", "warm", "chill-tender", "planting");
        crop_water(&c, 1.10, .70, 700, .40);
        c.ways = 1u << DB_WAY_POT;
        crop_emergence(&c, 7.5, 35, kit_tomato);
        crop_amount(&c, DB_FACT_DEPTH, 6, 10);
        crop_amount(&c, DB_FACT_PLUG_TIME, 35, 63);
        crop_amount(&c, DB_FACT_PRICK_OUT, 120, 120);
        crop_amount(&c, DB_FACT_HARDEN_LOW, 10, 10);
        crop_amount(&c, DB_FACT_HARDEN_TIME, 14, 14);
        crop_amount(&c, DB_FACT_CROP_TIME, 60, 85);
        crop_amount(&c, DB_FACT_HARVEST_TIME, 56, 84);
    } else if (strcmp(which, "rocket") == 0) {
        c = crop_new("rocket", "Brassicaceae", "cool", "hardy", "sowing");
        crop_water(&c, .90, .85, 300, .30);
        c.ways = 1u << DB_WAY_DRILL;
        crop_emergence(&c, 4.1, 35, kit_cabbage);
        crop_amount(&c, DB_FACT_DEPTH, 6, 10);
        crop_amount(&c, DB_FACT_SOLSTICE, 1, 1);
        crop_amount(&c, DB_FACT_SOLSTICE_LEAD, 0, 0);
        crop_amount(&c, DB_FACT_CROP_TIME, 28, 40);
        crop_amount(&c, DB_FACT_HARVEST_TIME, 30, 30);
        crop_amount(&c, DB_FACT_PICK_EVERY, 7, 10);
    } else {
        assert_string_equal(which, "garlic");
        c = crop_new("garlic", "Amaryllidaceae", "cool", "very-hardy", "planting");
        crop_water(&c, .90, .60, 300, .30);
        c.ways = 1u << DB_WAY_SETS;
        crop_amount(&c, DB_FACT_DEPTH, 25, 50);
        crop_amount(&c, DB_FACT_CROP_TIME, 220, 280);
        crop_amount(&c, DB_FACT_HARVEST_TIME, 14, 14);
    }
    return c;
}

#endif
