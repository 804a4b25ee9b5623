/* The only place of the command line that asks what time it is. */
#include "cli/cli.h"

#include <errno.h>
#include <stdlib.h>
#include <time.h>

#include "base/banned.h"

int64_t db_clock_now(void)
{
    const char *fixed = getenv("SOURCE_DATE_EPOCH");

    if (fixed && *fixed) {
        char *end;
        errno = 0;
        long long at = strtoll(fixed, &end, 10);
        if (errno == 0 && *end == '\0' && at >= 0)
            return at;
    }
    return (int64_t) time(NULL);
}

static bool local(int64_t now, const char *zone, struct tm *ret)
{
    time_t at = (time_t) now;

    /* One thread, and nothing else in this program asks for local time: setting the zone for good is safe. */
    if (setenv("TZ", zone, 1) != 0)
        return false;
    tzset();
    return localtime_r(&at, ret) != NULL;
}

struct db_date db_clock_day(int64_t now, const char *zone)
{
    struct tm there = { 0 };
    struct db_date day = DB_NO_DATE;

    if (!local(now, zone, &there) || db_date_of(there.tm_year + 1900, there.tm_mon + 1, there.tm_mday, &day) != DB_OK)
        return DB_NO_DATE;
    return day;
}

const char *db_clock_words(int64_t at, const char *zone, char buffer[48])
{
    struct tm there = { 0 };
    char day[48];

    if (at <= 0 || !local(at, zone, &there))
        return "at no known time";
    (void) snprintf(buffer, 48, "%d:%02d on %.32s", there.tm_hour, there.tm_min,
                    db_show_short(db_clock_day(at, zone), db_clock_day(db_clock_now(), zone), day));
    return buffer;
}
