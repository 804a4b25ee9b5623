/* Feeds published elsewhere, for gardens without an open port: each [publish NAME] of a plan gets each of its feeds in a
 * folder, a WebDAV collection or an S3-compatible bucket, soon after the bytes changed. The newest bytes win; what is there
 * already is not sent again, also after a restart; what another wrote over ours at a WebDAV address is left alone. */
#ifndef DB_SERVICE_PUBLISH_H
#define DB_SERVICE_PUBLISH_H

#include "service/keeper.h"

struct db_publish;

/* Looks after the gardens that the house has and gets. NULL: out of memory. */
struct db_publish *db_publish_new(struct db_house *house);
/* Once the house is closed and the courier freed. NULL allowed; returns NULL. */
struct db_publish *db_publish_free(struct db_publish *publish);

/* How one feed of one outlet fares. Texts are valid until the loop goes on. */
struct db_publish_state {
    const struct db_keeper *keeper;
    const char *outlet, *feed; /* "publish web", "jobs" */
    bool current;              /* the newest bytes are there */
    int64_t at;                /* unix seconds when it was last published, 0: never */
    const char *trouble;       /* why it is not current; "" if nothing went wrong. Holds no secret */
};
/* Index from 0; false beyond the last. */
bool db_publish_at(const struct db_publish *publish, size_t index, struct db_publish_state *ret);

#endif
