/* Reading what a server said to a feed that was put there. */
#ifndef DB_SERVICE_LANE_REPLY_H
#define DB_SERVICE_LANE_REPLY_H

#include "read/outlets.h"
#include "service/courier.h"

enum db_verdict {
    DB_VERDICT_TAKEN,
    DB_VERDICT_LATER,   /* try again soon: no network, busy, a fault of the server's */
    DB_VERDICT_REFUSED, /* trying again soon would not help */
    DB_VERDICT_CHANGED  /* somebody else's bytes are there (412) */
};
/* What came of a PUT. trouble: words for a log line, without the place; "" when it was taken. */
enum db_verdict db_reply_verdict(const struct db_reply *reply, enum db_way_out way, char trouble[256]);

/* Whether an ETag can guard an overwriting (RFC 9110 section 13.1.1: If-Match compares strongly). */
bool db_etag_guards(const char *etag);

/* Whether a calendar found there is an older one of this very feed: made by the same program under the same name. */
bool db_calendar_ours(const char *found, size_t found_length, const char *ours, size_t length);

#endif
