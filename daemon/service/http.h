/* Serves the feeds over HTTP with libmicrohttpd on the loop: /f/TOKEN/jobs.ics, mornings.ics, tasks.ics, and nothing else. A
 * request is given bytes that stand ready; whoever is slow, greedy or guessing holds up nobody but himself. */
#ifndef DB_SERVICE_HTTP_H
#define DB_SERVICE_HTTP_H

#include "service/keeper.h"

struct db_http;

/* Zero and NULL: the default said beside the field. */
struct db_http_wish {
    const char
        *listen;    /* "127.0.0.1:8737", "[::1]:8737" or the path of a Unix socket; not looked at where fds are given */
    const int *fds; /* sockets that listen already, as systemd hands them over; theirs to close is ours from now on */
    size_t fd_count;      /* at most DB_HTTP_SOCKETS */
    unsigned connections; /* at once; default 1500, fewer where the process may not open so many files */
    unsigned
        per_address; /* of these from one address; default 24, no limit where all sockets are loopback or Unix ones,
                             * for a proxy is one address */
    unsigned idle_seconds; /* a connection without a request is closed after it; default 75 */
    unsigned patience; /* seconds for a request to arrive whole, however steadily it drips; the answer may take three
                             * times as long; default 20 */
    bool plain;        /* no gzip even where it is asked for */
    bool tell;         /* a log line for each request (tokens as the last four characters of their hash) */
};
enum { DB_HTTP_SOCKETS = 8 };

/* NULL: trouble says why. The house must outlive it; it is freed once the loop no longer runs. Ignores SIGPIPE for the process;
 * raises the soft limit of open files. */
struct db_http *db_http_open(struct db_house *house, const struct db_http_wish *wish, char trouble[256]);
/* The same with all defaults. */
struct db_http *db_http_new(struct db_house *house, const char *listen, const int *fds, size_t fd_count,
                            char trouble[256]);
struct db_http *db_http_free(struct db_http *http); /* NULL allowed; returns NULL */
/* The port of the first socket that has one, 0 if none has. */
unsigned db_http_port(const struct db_http *http);

/* Since it was opened. */
struct db_http_counts {
    uint64_t full, unchanged, unknown, revoked, refused; /* answers: 200, 304, 404, 410, others */
    uint64_t bytes;                                      /* of bodies of 200s that were asked for with GET */
    uint64_t cut, slowed; /* connections over their time; answers held back from guessers */
    unsigned connections; /* now */
};
struct db_http_counts db_http_counts(const struct db_http *http);

#endif
