/* The courier carries requests over the network with libcurl's multi interface on the loop: forecasts in, mornings and
 * feeds out. Every errand has limits on protocol, size, time, redirects and speed; none can hold up another for ever. */
#ifndef DB_SERVICE_COURIER_H
#define DB_SERVICE_COURIER_H

#include "service/loop.h"

struct db_courier;
struct db_courier *db_courier_new(struct db_loop *loop);
/* Errands under way end without their callback. NULL allowed; returns NULL. */
struct db_courier *db_courier_free(struct db_courier *courier);

/* What to carry. Texts and body are copied. Zero and NULL: the default said beside the field. */
struct db_errand {
    const char *url;            /* http, https, smtp or smtps */
    const char *protocols;      /* curl's list; default "https,http" or "smtp,smtps" by the url */
    const char *method;         /* default GET, PUT where body and no method is given */
    const char *const *headers; /* "Name: value", NULL-terminated; no control characters (refused) */
    const char *body;           /* NULL: none. Mail: line ends become CR LF, leading dots are seen to */
    size_t body_length;
    const char *user, *password; /* Basic, SMTP login, or S3 key and secret with `sigv4` */
    const char *sigv4;           /* "aws:amz:REGION:s3": sign; the body's hash is sent as x-amz-content-sha256 */
    const char *mail_from;       /* SMTP: addresses, checked for CR, LF and angle brackets */
    const char *const *mail_to;
    bool plain_allowed; /* SMTP: go on without TLS where the server offers none (default: refuse) */
    const char *if_none_match, *if_modified_since; /* conditional request */
    size_t most_bytes;                             /* of the answer, also when chunked or compressed; default 2 MiB */
    int seconds;                                   /* for all of it; default 30, mail 60; at most 3600 */
    int redirects;                                 /* default 3, none with a body; -1: none; https only from https */
    const char *ca_file; /* trust this file instead of the system's (tests, private servers) */
};

struct db_reply {
    bool arrived;      /* the whole answer came; status says what it was (mail: taken at 250, else refused: 4yz, 5yz) */
    bool uncertain;    /* all was sent and the connection ended before the answer: it may have been taken */
    int status;        /* HTTP or SMTP status, the last that came; 0 if none did */
    size_t refused_to; /* mail that was taken: recipients that the server refused all the same */
    const char *body;  /* NUL-terminated beyond length */
    size_t length;
    const char *etag, *last_modified, *content_type, *expires; /* "" where absent; HTTP-date texts as they came */
    int64_t retry_after;                                       /* seconds, -1 when not given */
    const char *trouble; /* what went wrong, for a log line: no secrets, no token; "" if arrived (but not for mail that
                            was refused) */
};
typedef void db_returned(void *context, const struct db_reply *reply);

/* DB_RANGE: the errand is refused, DB_FULL: too much is waiting or memory is out (`why`, 256 bytes, says it). At most 64 are
 * under way, the others wait for their turn; each has a connection of its own. The callback comes later from the loop, never
 * from here; it may send other errands and must not free the courier. The reply is valid until it returns. */
DB_MUST_USE enum db_status db_courier_send(struct db_courier *courier, const struct db_errand *errand,
                                           db_returned *returned, void *context, char why[256]);
/* Errands under way or waiting. */
size_t db_courier_under_way(const struct db_courier *courier);

#endif
