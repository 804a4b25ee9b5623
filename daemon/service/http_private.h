/* What the files of the HTTP server share. */
#ifndef DB_SERVICE_HTTP_PRIVATE_H
#define DB_SERVICE_HTTP_PRIVATE_H

#include "service/http.h"

#include "service/http_doors.h"

#include <microhttpd.h>

/* Where a connection is in its life; each place has its own time, so that a queue a place is in order of what is due. */
enum db_visit_place {
    DB_VISIT_IDLE,      /* nothing of a request is known yet; looked at now and then */
    DB_VISIT_ASKING,    /* its first line is there */
    DB_VISIT_ANSWERING, /* being sent */
    DB_VISIT_HELD,      /* a guesser, suspended */
    DB_VISIT_CUT        /* shut down by us; about to go */
};
enum { DB_VISIT_PLACES = DB_VISIT_CUT + 1, DB_HTTP_HELD_MS = 1000, DB_HTTP_MOST_HELD = 64 };

struct db_visit {
    struct db_http *http;
    struct MHD_Connection *connection;
    int fd;
    enum db_visit_place place;
    struct db_visit *before, *next;
    int64_t due, since;    /* steady ms: of its place, and when it became idle */
    uint64_t received;     /* IDLE: bytes so far when last looked at */
    bool looked, dripping; /* IDLE: `received` is known; some of a request came before the last look */
    bool begun, was_held;  /* of the request in hand */
    enum { DB_ASKED_NOTHING, DB_ASKED_TOO_LONG, DB_ASKED_FEED } asked;
    enum db_ready_feed feed;
    char token[DB_TOKEN_LENGTH + 1];
};

struct db_visit_queue {
    struct db_visit *first, *last;
    int64_t ms;
};

struct db_http_socket {
    struct MHD_Daemon *daemon;
    int epoll;
    unsigned port;
    char *path; /* of a Unix socket that we made */
};

struct db_http {
    struct db_house *house;
    struct db_http_wish wish;
    struct db_http_socket sockets[DB_HTTP_SOCKETS];
    size_t socket_count;
    struct db_timer *timer;   /* what libmicrohttpd waits for */
    struct db_timer *sweeper; /* what is due in the queues */
    int64_t now, sweep_at;    /* steady ms: when this turn began; what the sweeper is set to, INT64_MAX if it is not */
    struct db_doors *doors;
    struct db_visit_queue queues[DB_VISIT_PLACES];
    unsigned held;
    struct MHD_Response *absent, *gone, *not_allowed, *too_long, *not_yet;
    struct db_http_counts counts;
    unsigned char guesses[1024]; /* unknown addresses in `minute`, by a hash of who asked */
    uint64_t guess_seed;
    int64_t minute, told_cut, told_guess, told_gone; /* steady ms: when it was last said */
};

/* ---- http_visit.c ---- */
void db_visit_move(struct db_visit *visit, enum db_visit_place place);
void db_visit_notify(void *context, struct MHD_Connection *connection, void **socket_context,
                     enum MHD_ConnectionNotificationCode what);
void db_visit_done(void *context, struct MHD_Connection *connection, void **request,
                   enum MHD_RequestTerminationCode how);
void db_visit_sweep(void *context); /* the sweeper's */
/* "192.0.2.7", "this machine": who it is, for a log line. */
enum { DB_PEER = 64 };
const char *db_visit_peer(const struct db_visit *visit, char buffer[DB_PEER]);

/* ---- http_answer.c ---- */
bool db_http_prepare(struct db_http *http); /* the answers that are no feeds */
void *db_http_first_line(void *context, const char *uri, struct MHD_Connection *connection);
enum MHD_Result db_http_answer(void *context, struct MHD_Connection *connection, const char *url, const char *method,
                               const char *version, const char *upload, size_t *upload_size, void **request);

#endif
