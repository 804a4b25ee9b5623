/* What frost does to plants that bear none: when they may go out, and when they are over. */
#ifndef DB_ENGINE_TENDER_H
#define DB_ENGINE_TENDER_H

#include "engine/clocks.h"

/* Air where the plants stand at which tender ones are killed in autumn (degC): the ground is colder still. An estimate. */
#define DB_KILLING_FROST (-1.0)

/* How warm a place is beside the others: plants are hardened off on their way down. */
int db_cover_shelter(enum db_cover cover);

/* Chill-tender or frost-tender. */
bool db_crop_tender(const struct db_crop_facts *crop);

/* The day before which tender plants do not go out without a roof, in the season in which they are ready: by it the last frost
 * is over in nine years of ten. What is ready when the first frost of autumn is due waits for the next spring's. No date: nothing
 * holds them. */
struct db_date db_tender_hold(const struct db_clocks *clocks, const struct db_sowing *sowing, struct db_date ready);

/* The first autumn day on or after `from` whose frost ends a tender crop that stands in this air; no date: none within the
 * series, or it is not known when it begins, or the crop is not tender. Sets clocks->status when the arena is full. odds: where
 * the clocks show the climate's averages, which know no cold night, the first frost of half of the years stands for it; under a
 * frame or tunnel it does not. */
struct db_date db_tender_end(struct db_clocks *clocks, const struct db_crop_facts *crop, struct db_air *air,
                             struct db_date from, bool odds);

#endif
