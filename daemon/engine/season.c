#define DB_PURE
#include "engine/season.h"

#include <math.h>

#include "base/banned.h"

/* A harvest that comes out so shortly before the solstice belongs to the season behind it. Days; an estimate. */
enum { BEFORE_SUMMER = 42, HALF_YEAR = 182 };

static const double tropic = 23.44; /* degrees: nearer to the equator a solstice says nothing */

/* 0 when not given. */
static int32_t fact_days(const struct db_crop_facts *crop, enum db_fact fact)
{
    const double days = db_crop_middle(crop, fact);

    return isnan(days) ? 0 : (int32_t) lround(days);
}

/* The last summer solstice up to `day`, and the next one. */
static struct db_date solstice_before(const struct db_clocks *clocks, struct db_date day, struct db_date *ret_next)
{
    struct db_date found = DB_NO_DATE;
    int year;

    *ret_next = DB_NO_DATE;
    if (!db_date_known(day) || fabs(db_garden_site(clocks->view->garden)->latitude) <= tropic)
        return found;
    db_date_parts(day, &year, NULL, NULL);
    for (int y = year - 1; y <= year + 1 && !db_date_known(*ret_next); y++) {
        const struct db_date solstice = db_clocks_solstice(clocks, y);

        if (db_date_known(solstice) && solstice.day <= day.day)
            found = solstice;
        else
            *ret_next = solstice;
    }
    return found;
}

bool db_season_solstice(const struct db_clocks *clocks, struct db_date day, struct db_date *ret)
{
    int year;

    *ret = DB_NO_DATE;
    if (!db_date_known(day))
        return false;
    db_date_parts(day, &year, NULL, NULL);
    for (int y = year - 1; y <= year + 1; y++) {
        const struct db_date solstice = db_clocks_solstice(clocks, y);

        if (!db_date_known(solstice))
            continue;
        if (solstice.day > day.day) {
            if (solstice.day - day.day > HALF_YEAR && db_date_known(*ret))
                return false;
            *ret = solstice;
            return solstice.day - day.day <= HALF_YEAR;
        }
        *ret = solstice;
    }
    return false;
}

struct db_date db_season_begins(const struct db_clocks *clocks, const struct db_crop_facts *crop, struct db_date ready)
{
    const int32_t from = fact_days(crop, DB_FACT_NOT_BEFORE);
    struct db_date next;

    if (!from)
        return ready;

    const struct db_date solstice = solstice_before(clocks, ready, &next);

    if (db_date_known(solstice) && ready.day < solstice.day + from)
        return db_date_add(solstice, from);
    return db_date_known(next) && ready.day > next.day - BEFORE_SUMMER ? db_date_add(next, from) : ready;
}

struct db_date db_season_ripens(const struct db_clocks *clocks, const struct db_crop_facts *crop, struct db_date from,
                                struct db_date ready)
{
    const int32_t to = fact_days(crop, DB_FACT_NOT_AFTER);
    struct db_date next = DB_NO_DATE;

    if (!to || !db_date_known(ready))
        return ready;
    (void) solstice_before(clocks, from, &next);
    return db_date_known(next) && ready.day > next.day + to ? db_date_add(next, to) : ready;
}

struct db_date db_season_stands(const struct db_clocks *clocks, const struct db_crop_facts *crop, struct db_date begun)
{
    const int32_t to = fact_days(crop, DB_FACT_STANDS_TO);
    struct db_date next;
    const struct db_date solstice = to ? solstice_before(clocks, begun, &next) : DB_NO_DATE;

    return db_date_known(solstice) && begun.day <= solstice.day + to ? db_date_add(solstice, to) : DB_NO_DATE;
}
