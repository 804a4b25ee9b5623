#define DB_PURE
#include "dewbell/week.h"

#include "base/banned.h"

const struct db_away *db_week_away(const struct db_week *week, struct db_date date)
{
    size_t low = 0, high = week->given ? week->away_count : 0;

    while (low < high) {
        const size_t middle = low + (high - low) / 2;

        if (week->away[middle].last.day < date.day)
            low = middle + 1;
        else if (week->away[middle].first.day > date.day)
            high = middle;
        else
            return &week->away[middle];
    }
    return NULL;
}

int32_t db_week_minutes(const struct db_week *week, struct db_date date)
{
    if (db_week_away(week, date))
        return 0;
    return week->given && week->counted ? week->minutes[db_date_weekday(date) - 1] : DB_MINUTES_ANY;
}
