/* Frost odds from a record: on which day the last cold night of each spring and the first of each autumn fell. Cold is
 * what the caller says: the low of the day, in the screen of a weather station, at or below a threshold. Grass is colder
 * than the screen: by 1.8 K on average, 4.7 K on one night in ten (own count, docs/models.md). */
#ifndef DEWBELL_FROST_H
#define DEWBELL_FROST_H

#include "dewbell/date.h"
#include "dewbell/status.h"

#include <stdbool.h>
#include <stddef.h>

#ifdef __cplusplus
extern "C" {
#endif

enum db_frost { DB_FROST_LAST, DB_FROST_FIRST };
enum {
    DB_FROST_SEASONS = 121, /* as many as a series of 120 years can hold */
    DB_FROST_GAP = 10,      /* days missing in a row that a season does not stand */
    DB_FROST_FEW = 10       /* with fewer seasons than this tenths of them mean nothing */
};

/* Days are counted in the garden's frost year, which begins in midwinter: 1 is 1 January in the north, 1 July in the
 * south. A first frost after the end of that year has a day beyond 366, a last one before its beginning 0 or less. */
struct db_frosts {
    size_t seasons;                /* that were known well enough */
    size_t none;                   /* of these, without such a night */
    size_t count;                  /* seasons - none */
    double days[DB_FROST_SEASONS]; /* `count` of them, rising */
};

/* Seasons run from 24 July to 23 July (south: 24 January to 23 January), as frost-date services split them. A season
 * counts if the half of it that matters is known (24 July to 31 December for the first, 1 January to 23 July for the
 * last; south: half a year on): no DB_FROST_GAP days in a row are missing. low: `count` lows from `first` on, degC, NaN
 * where missing; days from `until` on are not looked at. DB_RANGE: a date or the threshold is not known. */
DB_MUST_USE enum db_status db_frost_seasons(struct db_date first, size_t count, const double *low, struct db_date until,
                                            bool south, enum db_frost which, double threshold,
                                            struct db_frosts *ret_frosts);

/* How much colder it is over grass than in the screen in an average night (K) whose day has this mean wind (m/s; NaN: not
 * known): 2.58 up to 6 knots, 1.27 beyond 15, else 1.84. Means of 30 584 nights at Dublin Airport, 1942 to 2025 (own count);
 * single nights differ by more: one in ten is 4.7 K colder over grass. */
double db_frost_ground(double wind);

/* Share of nights (0..1) in which grass freezes where this low (degC) is forecast for the screen: those nights' own count, .86 at 0
 * degC, .50 at 2, .21 at 4, .06 at 6, and straight lines between whole degrees; nothing is said beyond (NaN). */
double db_frost_ground_chance(double low);

/* Quantile of type 7 of the days of the seasons that had such a night; NaN if none had. p 0..1. */
double db_frost_quantile(const struct db_frosts *frosts, double p);

/* The day by which a share p of all seasons had theirs. A season without any counts as a last one before all days, or a
 * first one after all. With fewer than DB_FROST_FEW seasons p below a half gives the earliest, above a half the latest.
 * NaN: there is no such day, as it falls among the seasons without. */
double db_frost_day(const struct db_frosts *frosts, enum db_frost which, double p);

/* Chance of such a night after `day` (last) or up to and on it (first), by Weibull's plotting position: k of n seasons
 * are k / (n + 1). NaN without a season. */
double db_frost_chance(const struct db_frosts *frosts, enum db_frost which, double day);

/* The date of a day of the frost year that begins in `year` (1 January or 1 July of it), rounded to a whole day. */
struct db_date db_frost_date(int year, bool south, double day);
/* A day of every year, 12 May; month 0: not said. */
struct db_season_day {
    int month, day;
};
/* Its date in the season of that frost year in which this frost is looked for: a first frost given as 5 January is that of the
 * January after the autumn. 29 February is 28 February where there is none. DB_NO_DATE: not said, or no day of the
 * calendar. */
struct db_date db_frost_given(int year, bool south, enum db_frost which, struct db_season_day given);
/* The frost year in which a date lies: its own year in the north; in the south the one that begins on 1 July. */
int db_frost_year(struct db_date date, bool south);

#ifdef __cplusplus
}
#endif
#endif
