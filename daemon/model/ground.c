/* The ground that a sowing takes. */
#define DB_PURE
#include "dewbell/garden.h"

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
