/* A lane carries one feed to one outlet: at most one request at a time, the newest bytes next. */
#ifndef DB_SERVICE_LANE_H
#define DB_SERVICE_LANE_H

#include "read/outlets.h"
#include "record/record.h"
#include "service/courier.h"

/* What a lane works with; all of it must outlive the lane. */
struct db_lane_home {
    struct db_loop *loop;
    struct db_courier *courier;
    struct db_record *record; /* remembers what is where */
    const char *garden;       /* for log lines */
};

struct db_lane;

/* outlet: "publish web"; feed: "jobs". NULL: out of memory. */
struct db_lane *db_lane_new(const struct db_lane_home *home, const char *outlet, const char *feed);
/* Sends nothing more; an answer that is still to come changes nothing. */
void db_lane_drop(struct db_lane *lane);
/* Not while it is busy, unless the courier is gone. NULL allowed; returns NULL. */
struct db_lane *db_lane_free(struct db_lane *lane);
bool db_lane_busy(const struct db_lane *lane);
bool db_lane_is(const struct db_lane *lane, const char *outlet, const char *feed);

/* Where to carry it (copied) and what: sends it if it is not there yet. folder: that of the plan, for secrets; file:
 * "jobs.ics". DB_FULL: nothing was changed. */
DB_MUST_USE enum db_status db_lane_set(struct db_lane *lane, const struct db_outlet *outlet, const char *folder,
                                       const char *file, const char *data, size_t length);

const char *db_lane_outlet(const struct db_lane *lane);
const char *db_lane_feed(const struct db_lane *lane);
bool db_lane_current(const struct db_lane *lane);
int64_t db_lane_published(const struct db_lane *lane); /* unix seconds, 0: never */
const char *db_lane_trouble(const struct db_lane *lane);

#endif
