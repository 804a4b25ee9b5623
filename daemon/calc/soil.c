#define DB_PURE
#include "dewbell/soil.h"

#include "dewbell/almanac.h"

#include <math.h>
#include <stdbool.h>

#include "base/banned.h"

#define SUN_GAIN 0.10   /* K per MJ m-2 d-1: estimate, between what Irish (0.18) and Illinois (0.05-0.08) soils want */
#define SUN_NEUTRAL 5.0 /* MJ m-2 d-1 at which the sun neither warms nor cools the ground against the air */
#define DEEPEST 15.0    /* cm */

const char *db_cover_word(enum db_cover cover)
{
    static const char *const words[] = { "open", "board", "fleece", "frame", "tunnel", "indoors" };

    return (unsigned) cover < DB_COVER_COUNT ? words[cover] : "?";
}

struct db_cover_effect db_cover_effect(enum db_cover cover)
{
    /* Where a figure comes from stands in docs/models.md, "Covers". */
    static const struct db_cover_effect effects[] = {
        [DB_COVER_OPEN] = { 0, 1, 0 },    [DB_COVER_BOARD] = { -1.75, 0.35, 0.5 }, [DB_COVER_FLEECE] = { 1, 0.9, 1 },
        [DB_COVER_FRAME] = { 4, 1.3, 2 }, [DB_COVER_TUNNEL] = { 2.75, 1.3, 1.3 },  [DB_COVER_INDOORS] = { 0, 0, 0 },
    };

    return effects[(unsigned) cover < DB_COVER_COUNT ? cover : DB_COVER_OPEN];
}

double db_soil_lag(double z)
{
    return 0.3 + 0.09 * z;
}

double db_soil_alpha(double z)
{
    return 1 - exp(-1 / db_soil_lag(z));
}

double db_soil_swing(double z)
{
    return 0.7 * 1.5 * exp(-z / 12); /* bare ground 1.5 exp(-z/12); a moist seedbed swings less */
}

/* Radiation by day of the year, each worked out once: a series holds the same day many times. */
struct skies {
    double latitude, ra[367];
    bool known[367];
};

static double sky(struct skies *skies, int day_of_year)
{
    if (!skies->known[day_of_year]) {
        if (db_almanac_radiation(skies->latitude, day_of_year, &skies->ra[day_of_year]) != DB_OK)
            return NAN; /* the latitude and the day have been checked */
        skies->known[day_of_year] = true;
    }
    return skies->ra[day_of_year];
}

static double drive(double ra, double low, double high)
{
    return (low + high) / 2 + SUN_GAIN * (db_almanac_solar(ra, low, high) - SUN_NEUTRAL);
}

/* Day of the year of the first day, then counted on: far cheaper than taking every date apart. */
struct walk {
    int year, day, last;
};

static struct walk walk_from(struct db_date date)
{
    struct walk walk = { 0, db_date_day_of_year(date), 0 };

    db_date_parts(date, &walk.year, NULL, NULL);
    walk.last = 337 + db_date_days_in_month(walk.year, 2);
    return walk;
}

static int walk_on(struct walk *walk)
{
    int day = walk->day++;

    if (day == walk->last) {
        walk->day = 1;
        walk->last = 337 + db_date_days_in_month(++walk->year, 2);
    }
    return day;
}

enum db_status db_soil_days(double latitude, struct db_date first, size_t count, const double *low, const double *high,
                            double z, enum db_cover cover, double indoors, double *ret_mean, double *ret_swing,
                            size_t *ret_bad)
{
    struct skies skies = { .latitude = latitude };

    if (cover == DB_COVER_INDOORS) {
        if (!isfinite(indoors))
            return DB_RANGE;
        for (size_t i = 0; i < count; i++) {
            ret_mean[i] = indoors;
            if (ret_swing)
                ret_swing[i] = 0;
        }
        return DB_OK;
    }
    if (!(fabs(latitude) <= 90) || !db_date_known(first) || !(z >= 0 && z <= DEEPEST))
        return DB_RANGE;
    for (size_t i = 0; i < count; i++)
        if (!(low[i] <= high[i]) || !isfinite(low[i]) || !isfinite(high[i])) {
            if (ret_bad)
                *ret_bad = i;
            return DB_RANGE;
        }
    double alpha = db_soil_alpha(z), swing = db_soil_swing(z), soil = 0;
    size_t settled = count < 5 ? count : 5;
    struct walk walk = walk_from(first);
    for (size_t i = 0; i < settled; i++)
        soil += drive(sky(&skies, walk_on(&walk)), low[i], high[i]) / (double) settled;
    walk = walk_from(first);
    for (size_t i = 0; i < count; i++) {
        soil += alpha * (drive(sky(&skies, walk_on(&walk)), low[i], high[i]) - soil);
        ret_mean[i] = soil;
        if (ret_swing)
            ret_swing[i] = swing * (high[i] - low[i]) / 2;
    }
    return DB_OK;
}

double db_soil_damping(double kappa, double period)
{
    return sqrt(kappa * period / 3.14159265358979323846);
}

double db_soil_wave(double mean, double amplitude, double depth, double damping, double day, double coldest)
{
    double turn = 2 * 3.14159265358979323846 / 365 * (day - coldest);

    return mean - amplitude * exp(-depth / damping) * cos(turn - depth / damping);
}
