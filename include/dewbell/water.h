/* Water: what the air draws from wet ground and plants, and how much of it the ground holds. Everything is in mm, and 1 mm
 * is a litre on a square metre. All functions are pure and allocate nothing.
 *
 * Source, where no other is named: FAO Irrigation and Drainage Paper 56 (Allen, Pereira, Raes and Smith, Crop
 * evapotranspiration, 1998), called FAO-56. Measured errors and estimates: docs/models.md, "Water". */
#ifndef DEWBELL_WATER_H
#define DEWBELL_WATER_H

#include "dewbell/soil.h"
#include "dewbell/status.h"

#ifdef __cplusplus
extern "C" {
#endif

/* Reference evapotranspiration of a day, mm: short grass that lacks no water. Hargreaves and Samani, FAO-56 eq 52, not
 * below 0. low, high: degC; ra: radiation above the air, MJ m-2 d-1 (db_almanac_radiation). It knows no wind and no
 * humidity: near cool coasts it is about a quarter too high, see enum db_air_kind. DB_RANGE: a figure that is not finite,
 * high below low, ra below 0. */
DB_MUST_USE enum db_status db_water_reference(double low, double high, double ra, double *ret_mm);

/* What the air of a place is like, as a factor on the reference: inland 1, maritime 0.8. */
enum db_air_kind { DB_AIR_INLAND, DB_AIR_MARITIME };
enum { DB_AIR_COUNT = DB_AIR_MARITIME + 1 };
const char *db_air_word(enum db_air_kind air); /* "inland", "maritime" */
double db_air_factor(enum db_air_kind air);

/* Kinds of ground: the textures of FAO-56 table 19, loam first, and what pots are filled with. */
enum db_texture {
    DB_TEXTURE_LOAM,
    DB_TEXTURE_SAND,
    DB_TEXTURE_LOAMY_SAND,
    DB_TEXTURE_SANDY_LOAM,
    DB_TEXTURE_SILT_LOAM,
    DB_TEXTURE_SILT,
    DB_TEXTURE_SILTY_CLAY_LOAM,
    DB_TEXTURE_SILTY_CLAY,
    DB_TEXTURE_CLAY,
    DB_TEXTURE_MIX
};
enum { DB_TEXTURE_COUNT = DB_TEXTURE_MIX + 1 };
const char *db_texture_word(enum db_texture texture); /* "sandy loam" ... "potting mix" */

/* How a kind of ground holds water: the middles of the ranges of FAO-56 table 19 (of water at field capacity, and of what
 * lies between that and wilting); for potting mix an estimate. */
struct db_holding {
    double capacity, wilting; /* m3 of water in a m3 of ground: field capacity, wilting point */
    double ready;             /* REW, mm: what the topsoil loses before its drying slows down */
    double total;             /* TEW, mm: what it loses until nothing more goes */
};
struct db_holding db_texture_holding(enum db_texture texture);

/* FAO-56 eq 73: TEW of a topsoil of `depth` m (0.10 here). */
double db_water_evaporable(double capacity, double wilting, double depth);
/* FAO-56 eq 74: Kr, how much slower than wet ground one dries that has lost `lost` mm; 1..0. */
double db_water_drying(double lost, double ready, double total);
/* FAO-56 eq 82: TAW, mm that plants can take out of `depth` m of ground. */
double db_water_available(double capacity, double wilting, double depth);
/* FAO-56 table 22, note: p, the part of that which they take without going short, on a day on which they use `use` mm;
 * kept within 0.1..0.8. */
double db_water_easy_part(double part, double use);
/* FAO-56 eq 84: Ks, how much less than they would plants take that go short; 1..0. ready: RAW = p TAW. */
double db_water_stress(double lost, double ready, double available);
/* The part of a day's rain that counts: none of a rain under a fifth of the day's reference (FAO-56 ch. 7), all of another. */
double db_water_effective(double rain, double reference);

/* One day of the topsoil: first the rain, then evaporation. lost: mm that it is short of, 0..total. wet_use: mm that wet
 * ground would lose that day. Returns what evaporated. */
double db_topsoil_day(const struct db_holding *ground, double rain, double wet_use, double *lost);
/* One day of the ground in reach of the roots: rain, then what evaporates, then what the plants take. lost: mm, 0..available.
 * use: mm that plants would take that lack nothing. */
void db_root_zone_day(double available, double ready, double rain, double evaporated, double use, double *lost);

/* What a cover does to water: the part of the rain that passes it, and the part of the evaporation that it leaves. Indoors
 * both are 0. */
struct db_cover_water {
    double rain, use;
};
struct db_cover_water db_cover_water(enum db_cover cover);

#ifdef __cplusplus
}
#endif
#endif
