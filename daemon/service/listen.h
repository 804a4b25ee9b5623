/* Sockets to listen at. */
#ifndef DB_SERVICE_LISTEN_H
#define DB_SERVICE_LISTEN_H

#include "dewbell/status.h"

#include <stdbool.h>

struct db_listening {
    int fd;      /* non-blocking, closed on exec */
    bool nearby; /* a Unix socket or a loopback address: whoever comes is on this machine, perhaps a proxy for others */
    unsigned port; /* 0 for a Unix socket */
};

/* Listens at `at`: "127.0.0.1:8737", "[::1]:8737", ":8737" (127.0.0.1), port 0 for any; or the path of a Unix socket, with a
 * slash, which is made for the owner and group (one that a dead process left is taken away). No names: nothing is looked up.
 * DB_RANGE: `at` is none of these. DB_TROUBLE: it cannot listen there. Both say why in `trouble`. */
DB_MUST_USE enum db_status db_listen_at(const char *at, struct db_listening *ret, char trouble[256]);
/* The same of a socket that was handed over; sets it non-blocking and closed on exec. DB_RANGE: it does not listen. */
DB_MUST_USE enum db_status db_listen_given(int fd, struct db_listening *ret, char trouble[256]);

#endif
