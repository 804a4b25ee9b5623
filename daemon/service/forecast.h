/* Fetches forecasts: when each garden's source is asked, how often, how patiently, and what becomes of the answer. The
 * last good one stays in the record, and in force, whatever the network does. */
#ifndef DB_SERVICE_FORECAST_H
#define DB_SERVICE_FORECAST_H

#include "service/keeper.h"

struct db_forecasts;

/* Asks for every garden of the house that has a [forecast], also for those that come later, and answers the house's
 * ask_told from the record. To be made before the loop runs. NULL: no memory. */
struct db_forecasts *db_forecasts_new(struct db_house *house);
/* To be called when the courier and the keepers are gone. NULL allowed; returns NULL. */
struct db_forecasts *db_forecasts_free(struct db_forecasts *forecasts);
/* From now on the same random minutes each time: for tests. */
void db_forecasts_seed(struct db_forecasts *forecasts, uint64_t seed);

/* How the fetching stands, for status and metrics. */
struct db_fetching {
    const char *title;   /* of the source */
    int64_t asked;       /* last asking, unix seconds; 0: none since the start */
    int64_t next;        /* next asking, unix seconds; 0: under way */
    uint32_t failures;   /* in a row */
    const char *trouble; /* of the last one; "" if it was good */
};
/* False: the garden wants none. */
bool db_forecasts_about(const struct db_forecasts *forecasts, const struct db_keeper *keeper, struct db_fetching *ret);

#endif
