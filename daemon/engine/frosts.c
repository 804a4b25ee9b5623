#define DB_PURE
#include "engine/frosts.h"

#include <math.h>

#include "base/banned.h"

enum db_status db_frost_odds_work(const struct db_view *view, struct db_frost_odds *ret)
{
    static const double share[3] = { 0.1, 0.5, 0.9 };
    const struct db_site *site = db_garden_site(view->garden);
    struct db_date first;
    size_t count;
    const double *low = db_weather_lows(view->weather, &first, &count);

    *ret = (struct db_frost_odds){ .south = site->latitude < 0 };
    for (int which = 0; which < 2; which++) {
        struct db_frosts frosts = { 0 };

        ret->given[which] = site->frosts[which];
        ret->source[which].planned = site->frosts[which].month > 0;
        if (low && !ret->source[which].planned) {
            const enum db_status status =
                db_frost_seasons(first, count, low, view->today, ret->south, (enum db_frost) which, 0, &frosts);

            if (status != DB_OK)
                return status;
            ret->source[which].seasons = frosts.seasons;
            ret->source[which].none = frosts.none;
        }
        for (int end = 0; end < 3; end++)
            ret->days[which][end] = db_frost_day(&frosts, (enum db_frost) which, share[end]);
    }
    return DB_OK;
}

struct db_date db_frost_odds_date(const struct db_frost_odds *odds, enum db_frost which, struct db_date date, int end)
{
    if (!db_date_known(date))
        return DB_NO_DATE;

    const int year = db_frost_year(date, odds->south);

    if (odds->source[which].planned)
        return db_frost_given(year, odds->south, which, odds->given[which]);
    return db_frost_date(year, odds->south, odds->days[which][end]); /* NaN gives no date */
}
