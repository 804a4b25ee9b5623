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

struct db_date db_clock_day(int64_t now, const char *zone)
{
    time_t at = (time_t) now;
    struct tm there = { 0 };
    struct db_date day = DB_NO_DATE;

    /* One thread, and nothing else in this program asks for local time: setting the zone for good is safe. */
    if (setenv("TZ", zone, 1) != 0)
        return day;
    tzset();
    if (!localtime_r(&at, &there) || db_date_of(there.tm_year + 1900, there.tm_mon + 1, there.tm_mday, &day) != DB_OK)
        return DB_NO_DATE;
    return day;
}
