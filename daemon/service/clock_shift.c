/* A wall clock moved by a constant. */
#include "service/clock_shift.h"

#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

struct shifted {
    const struct db_clock *under;
    int64_t shift;
};

static int64_t shifted_wall(void *context)
{
    const struct shifted *shifted = context;

    return shifted->under->wall(shifted->under->context) + shifted->shift;
}

static int64_t shifted_steady(void *context)
{
    const struct shifted *shifted = context;

    return shifted->under->steady(shifted->under->context);
}

static int shifted_wait(void *context, int epoll, struct epoll_event *events, int room, int64_t until,
                        int64_t wall_until)
{
    const struct shifted *shifted = context;

    return shifted->under->wait(shifted->under->context, epoll, events, room, until,
                                wall_until == INT64_MAX ? INT64_MAX : wall_until - shifted->shift);
}

int64_t db_clock_shift_to(const struct db_zone *zone, struct db_date day, int64_t wall)
{
    int64_t now = wall / 1000;
    int64_t into = (now + db_zone_offset(zone, now)) % 86400; /* seconds of the local day, as the clock shows them */

    return (db_zone_moment(zone, day, (int32_t) (into / 60)) + into % 60 - now) * 1000;
}

/* "hh:mm" of the 24-hour clock, in minutes; -1: it is none. */
static int32_t minutes_of(const char *hour)
{
    static const char shape[] = "00:00";

    if (strlen(hour) != sizeof shape - 1)
        return -1;
    for (size_t i = 0; shape[i]; i++)
        if (shape[i] == '0' ? hour[i] < '0' || hour[i] > '9' : hour[i] != shape[i])
            return -1;
    const int32_t hours = (hour[0] - '0') * 10 + hour[1] - '0', minutes = (hour[3] - '0') * 10 + hour[4] - '0';
    return hours < 24 && minutes < 60 ? hours * 60 + minutes : -1;
}

enum db_status db_clock_shift_read(const struct db_zone *zone, const char *words, int64_t wall, int64_t *ret_shift)
{
    const char *cut = strchr(words, 'T');
    const int32_t minutes = cut ? minutes_of(cut + 1) : 0;
    struct db_date day;

    if (minutes < 0 || db_date_read(words, cut ? (size_t) (cut - words) : strlen(words), &day) != DB_OK)
        return DB_RANGE;
    *ret_shift = cut ? db_zone_moment(zone, day, minutes) * 1000 - wall : db_clock_shift_to(zone, day, wall);
    return DB_OK;
}

enum db_status db_clock_shift(const struct db_clock *under, int64_t shift, struct db_clock *ret)
{
    struct shifted *shifted = malloc(sizeof *shifted);

    if (!shifted)
        return DB_FULL;
    *shifted = (struct shifted){ .under = under, .shift = shift };
    *ret =
        (struct db_clock){ .wall = shifted_wall, .steady = shifted_steady, .wait = shifted_wait, .context = shifted };
    return DB_OK;
}

void db_clock_shift_free(struct db_clock *clock)
{
    free(clock->context);
    clock->context = NULL;
}
