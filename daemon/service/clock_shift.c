/* A wall clock moved by a constant. */
#include "service/clock_shift.h"

#include <stdlib.h>

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
