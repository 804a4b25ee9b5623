/* How long a harvest waits for raw manure to grow old. */
#define DB_PURE
#include "dewbell/garden.h"

#include <math.h>

#include "base/banned.h"

double db_crop_manure_wait(const struct db_crop_facts *crop)
{
    return crop->low[DB_FACT_CLEAR_OF_SOIL] > 0 ? DB_MANURE_CLEAR
                                                : DB_MANURE_TOUCHING; /* not said (NaN): the safe side */
}

struct db_date db_bed_harvest(const struct db_bed *bed, double wait, struct db_date ready, struct db_date *ret_manured)
{
    struct db_date manured = DB_NO_DATE;

    /* What is still in the ground on a later manuring waits for that one too. */
    for (size_t i = 0; db_date_known(ready) && i < bed->manured_count && bed->manured[i].day <= ready.day; i++) {
        const struct db_date old = db_date_add(bed->manured[i], (int32_t) lround(wait));

        manured = bed->manured[i];
        if (old.day > ready.day)
            ready = old;
    }
    if (ret_manured)
        *ret_manured = manured;
    return ready;
}
