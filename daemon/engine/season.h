/* What the season bounds and not the days from sowing alone: sowings that wait for shorter days, harvests of autumn and winter. */
#ifndef DB_ENGINE_SEASON_H
#define DB_ENGINE_SEASON_H

#include "engine/clocks.h"

/* The summer solstice that a sowing on this day looks to: the next one while days lengthen, else the one behind it; no date where
 * there is none. Returns whether days lengthen. */
bool db_season_solstice(const struct db_clocks *clocks, struct db_date day, struct db_date *ret);

/* The day on which a harvest begins that would be ready on `ready`: no sooner than the crop's `not_before` after the summer
 * solstice. Near the equator, and of other crops, `ready`. */
struct db_date db_season_begins(const struct db_clocks *clocks, const struct db_crop_facts *crop, struct db_date ready);

/* The day by which what was sown or planted on `from` is ripe that would be ready on `ready`: bulbs ripen by the length of day, at the
 * latest the crop's `not_after` after the first summer solstice that they see. Near the equator, and of other crops, `ready`. */
struct db_date db_season_ripens(const struct db_clocks *clocks, const struct db_crop_facts *crop, struct db_date from,
                                struct db_date ready);

/* The day to which what has begun to crop on `begun` stands, by the crop's `stands_to`; no date where it says nothing. */
struct db_date db_season_stands(const struct db_clocks *clocks, const struct db_crop_facts *crop, struct db_date begun);

#endif
