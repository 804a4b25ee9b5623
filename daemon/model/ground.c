/* The ground that a sowing takes, and the seed and mix to have ready for it. */
#define DB_PURE
#include "dewbell/garden.h"
#include "dewbell/space.h"

#include <math.h>

#include "base/banned.h"

static double at_end(const struct db_crop_facts *crop, enum db_fact fact, int end)
{
    return end == 0 ? crop->low[fact] : end == 2 ? crop->high[fact] : db_crop_middle(crop, fact);
}

static bool in_clusters(const struct db_sowing *sowing)
{
    return sowing->way == DB_WAY_PLUGS && !isnan(sowing->crop->low[DB_FACT_CLUSTER_SPACING]);
}

double db_sowing_apart(const struct db_sowing *sowing, int end)
{
    return at_end(sowing->crop, in_clusters(sowing) ? DB_FACT_CLUSTER_SPACING : DB_FACT_SPACING, end);
}

double db_sowing_stands(const struct db_sowing *sowing)
{
    return in_clusters(sowing) || sowing->plants <= 0 ? sowing->plugs : sowing->plants;
}

double db_sowing_ground(const struct db_sowing *sowing, int end)
{
    const double rows_apart = at_end(sowing->crop, DB_FACT_ROW_SPACING, end), stands = db_sowing_stands(sowing);

    if (sowing->area > 0)
        return sowing->area;
    if (sowing->row > 0)
        return sowing->row * rows_apart / 1e6;
    return stands > 0 ? stands * db_sowing_apart(sowing, end) * rows_apart / 1e6 : (double) NAN;
}

static const double field_emergence = 0.6, oversowing = 2, spare = 1.1, at_station = 3, in_pot = 2;

/* Two figures are enough for seed: 134 becomes 140. */
static double rounded_up(double count)
{
    double step = 1;

    while (count / step > 100)
        step *= 10;
    return ceil(count / step - 1e-9) * step;
}

static double cells_of(const struct db_sowing *sowing)
{
    return sowing->plugs > 0 ? sowing->plugs : sowing->plants;
}

double db_sowing_seeds(const struct db_sowing *sowing)
{
    const double thin = db_crop_middle(sowing->crop, DB_FACT_THIN),
                 apart = db_crop_middle(sowing->crop, DB_FACT_SPACING);
    double seeds = 0;

    switch (sowing->way) {
    case DB_WAY_DRILL:
        seeds = isnan(thin) ? sowing->row / apart * spare
                            : sowing->row / 1000 * db_seeds_per_metre(thin, field_emergence, oversowing);
        break;
    case DB_WAY_STATIONS:
        seeds = sowing->row > 0 ? sowing->row / apart * at_station : sowing->plants * at_station;
        break;
    case DB_WAY_PLUGS:
        seeds = cells_of(sowing) * sowing->crop->high[DB_FACT_PLUG_SEEDS];
        break;
    case DB_WAY_POT:
        seeds = sowing->plants * in_pot;
        break;
    case DB_WAY_SETS:
        seeds = sowing->row > 0 ? sowing->row / apart : sowing->plants;
        break;
    }
    return seeds > 0 && isfinite(seeds) ? rounded_up(seeds) : (double) NAN;
}

double db_sowing_seed_weight(const struct db_sowing *sowing)
{
    const double grams = db_sowing_seeds(sowing) / db_crop_middle(sowing->crop, DB_FACT_SEEDS_PER_GRAM);

    return sowing->way != DB_WAY_SETS && isfinite(grams) ? grams : (double) NAN;
}

double db_sowing_mix(const struct db_sowing *sowing)
{
    const double litres = db_mix_for_cells(cells_of(sowing), sowing->cell);

    return litres > 0 ? litres : (double) NAN;
}
