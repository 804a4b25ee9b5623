#include "season/truth.h"

#include "kit/erring.h"

#include <stdio.h>
#include <stdlib.h>

struct truth {
    struct db_garden *garden;
    const struct db_rules *rules; /* none: only lives are asked for */
    const struct db_weather *weather;
    const struct db_jobs *jobs;
};

static void need(bool good)
{
    if (!good) {
        (void) fprintf(stderr, "season: the truth could not be laid out\n");
        exit(1);
    }
}

static double off(double spread)
{
    return 1 + spread * (2 * erring_uniform() - 1);
}

static void stretch(struct db_crop_facts *crop, enum db_fact fact, double by)
{
    crop->low[fact] *= by;
    crop->high[fact] *= by;
}

/* A batch is quicker or slower as a whole; its pace of growth is a little off its pace of coming up. */
static const struct db_crop_facts *odd_crop(const struct db_crop_facts *crop, double spread, struct db_arena *arena)
{
    struct db_crop_facts *odd = db_arena_get(arena, 1, sizeof *odd);
    const double up = off(spread), growth = off(spread);

    need(odd);
    *odd = *crop;
    for (size_t i = 0; i < odd->emergence.count; i++)
        odd->emergence.days[i] *= up;
    stretch(odd, DB_FACT_PRICK_OUT, growth);
    stretch(odd, DB_FACT_PLUG_TIME, growth);
    stretch(odd, DB_FACT_CROP_TIME, growth);
    return odd;
}

static const struct db_bed *same_bed(const struct db_garden *garden, const struct db_bed *bed)
{
    return bed ? db_garden_find_bed(garden, bed->id) : NULL;
}

struct truth *truth_new(const struct db_estate *estate, const struct db_weather *weather, double spread, uint64_t seed,
                        struct db_arena *arena)
{
    struct truth *truth = db_arena_get(arena, 1, sizeof *truth);
    struct db_mistakes *mistakes = db_mistakes_new(arena);
    struct db_rules *rules = db_rules_new(arena);

    need(truth && mistakes && rules);
    need(db_rules_compile(rules, mistakes) == DB_OK);
    truth->rules = rules;
    truth->weather = weather;
    truth->garden = db_garden_new(arena, db_garden_site(estate->garden));
    need(truth->garden);
    for (size_t i = 0; i < db_garden_beds(estate->garden); i++)
        need(db_garden_add_bed(truth->garden, db_garden_bed(estate->garden, i), NULL) == DB_OK);
    erring_state = seed;
    for (size_t i = 0; i < db_garden_sowings(estate->garden); i++) {
        struct db_sowing sowing = *db_garden_sowing(estate->garden, i);

        sowing.crop = odd_crop(sowing.crop, spread, arena);
        sowing.bed = same_bed(truth->garden, sowing.bed);
        sowing.into = same_bed(truth->garden, sowing.into);
        need(db_garden_add_sowing(truth->garden, &sowing) == DB_OK);
    }
    return truth;
}

void truth_look(struct truth *truth, const struct db_diary *done, struct db_date today, struct db_arena *work)
{
    const struct db_view view = {
        .garden = truth->garden, .rules = truth->rules, .weather = truth->weather, .diary = done, .today = today
    };

    need(db_garden_evaluate(&view, work, &truth->jobs) == DB_OK);
}

struct db_date truth_day(const struct truth *truth, size_t sowing, enum db_stage stage)
{
    return db_jobs_life(truth->jobs, sowing)->stage[stage].likely;
}

double truth_low(const struct truth *truth, struct db_date date)
{
    return db_weather_figures(truth->weather, 0, DB_FIGURE_LOW)[date.day - db_weather_first(truth->weather).day];
}
