#define DB_PURE
#include "dewbell/water.h"

#include <math.h>

#include "base/banned.h"

enum db_status db_water_reference(double low, double high, double ra, double *ret_mm)
{
    double mm;

    if (!isfinite(low) || !isfinite(high) || !isfinite(ra) || high < low || ra < 0)
        return DB_RANGE;
    mm = 0.0023 * ((low + high) / 2 + 17.8) * sqrt(high - low) * ra * 0.408; /* 0.408: mm that 1 MJ m-2 evaporates */
    *ret_mm = mm > 0 ? mm : 0;
    return DB_OK;
}

const char *db_air_word(enum db_air_kind air)
{
    return air == DB_AIR_INLAND ? "inland" : air == DB_AIR_MARITIME ? "maritime" : "?";
}

double db_air_factor(enum db_air_kind air)
{
    return air == DB_AIR_MARITIME ? 0.8 : 1;
}

static const struct {
    const char *word;
    struct db_holding holding;
} textures[DB_TEXTURE_COUNT] = {
    [DB_TEXTURE_LOAM] = { "loam", { 0.25, 0.095, 9, 19 } },
    [DB_TEXTURE_SAND] = { "sand", { 0.12, 0.04, 4.5, 9 } },
    [DB_TEXTURE_LOAMY_SAND] = { "loamy sand", { 0.15, 0.06, 6, 11.5 } },
    [DB_TEXTURE_SANDY_LOAM] = { "sandy loam", { 0.23, 0.10, 8, 17.5 } },
    [DB_TEXTURE_SILT_LOAM] = { "silt loam", { 0.29, 0.13, 9.5, 21.5 } },
    [DB_TEXTURE_SILT] = { "silt", { 0.32, 0.14, 9.5, 24 } },
    [DB_TEXTURE_SILTY_CLAY_LOAM] = { "silty clay loam", { 0.335, 0.18, 9.5, 24.5 } },
    [DB_TEXTURE_SILTY_CLAY] = { "silty clay", { 0.36, 0.20, 10, 25 } },
    [DB_TEXTURE_CLAY] = { "clay", { 0.36, 0.20, 10, 25.5 } },
    [DB_TEXTURE_MIX] = { "potting mix", { 0.45, 0.20, 10, 25 } }, /* an estimate: a quarter of it is water to be had */
};

const char *db_texture_word(enum db_texture texture)
{
    return (unsigned) texture < DB_TEXTURE_COUNT ? textures[texture].word : "?";
}

struct db_holding db_texture_holding(enum db_texture texture)
{
    return textures[(unsigned) texture < DB_TEXTURE_COUNT ? texture : DB_TEXTURE_LOAM].holding;
}

double db_water_evaporable(double capacity, double wilting, double depth)
{
    return 1000 * (capacity - 0.5 * wilting) * depth;
}

double db_water_drying(double lost, double ready, double total)
{
    if (lost <= ready)
        return 1;
    return lost >= total ? 0 : (total - lost) / (total - ready);
}

double db_water_available(double capacity, double wilting, double depth)
{
    return 1000 * (capacity - wilting) * depth;
}

double db_water_easy_part(double part, double use)
{
    return fmin(0.8, fmax(0.1, part + 0.04 * (5 - use)));
}

double db_water_stress(double lost, double ready, double available)
{
    return db_water_drying(lost, ready, available); /* the same straight line */
}

double db_water_effective(double rain, double reference)
{
    return rain >= 0.2 * reference ? rain : 0;
}

double db_topsoil_day(const struct db_holding *ground, double rain, double wet_use, double *lost)
{
    const double before = fmax(0, *lost - rain);
    const double after = fmin(ground->total, before + db_water_drying(before, ground->ready, ground->total) * wet_use);

    *lost = after;
    return fmax(0, after - before);
}

void db_root_zone_day(double available, double ready, double rain, double evaporated, double use, double *lost)
{
    const double before = fmax(0, *lost - rain);

    *lost = fmin(available, before + evaporated + db_water_stress(before, ready, available) * use);
}

struct db_cover_water db_cover_water(enum db_cover cover)
{
    /* Estimates, all of them: docs/models.md, "Water". */
    static const struct db_cover_water effects[] = {
        [DB_COVER_OPEN] = { 1, 1 },    [DB_COVER_BOARD] = { 0.3, 0.3 }, [DB_COVER_FLEECE] = { 1, 0.7 },
        [DB_COVER_FRAME] = { 0, 0.8 }, [DB_COVER_TUNNEL] = { 0, 0.8 },  [DB_COVER_INDOORS] = { 0, 0 },
    };

    return effects[(unsigned) cover < DB_COVER_COUNT ? cover : DB_COVER_OPEN];
}
