/* One errand on its way: checked, turned into a request of libcurl's, and its answer gathered. The courier runs these. */
#ifndef DB_SERVICE_TRIP_H
#define DB_SERVICE_TRIP_H

#include "service/courier.h"
#include "write/write.h"

#include <curl/curl.h>

enum {
    DB_TRIP_HEADERS = 64 * 1024, /* bytes of the answer's headers, all redirects together */
    DB_TRIP_RECIPIENTS = 100
};

/* Where an errand goes, as far as it may be told: scheme, host and port; never a path, a query or a login. */
struct db_target {
    bool mail, tls, bare_path; /* smtp or smtps; https or smtps; the path is empty or "/" */
    char name[300];            /* "host" or "host:port" */
};

/* Looks the errand over. DB_RANGE: why (256 bytes) says what is wrong with it. */
DB_MUST_USE enum db_status db_errand_check(const struct db_errand *errand, struct db_target *ret_target, char why[256]);

struct db_trip {
    struct db_trip *next;
    CURL *easy;
    struct curl_slist *headers, *to;
    db_returned *returned;
    void *context;
    struct db_target target;
    char *body; /* to be sent; NULL: none */
    size_t body_length, given, header_bytes, most_bytes;
    struct db_bytes answer;
    int seconds, redirects;
    bool asks_change; /* a method that may change something there */
    bool too_long, headers_too_long, led_home, began_outside;
    unsigned char refusals[DB_TRIP_RECIPIENTS]; /* mail: whether each of the last answers was a refusal, a ring */
    size_t recipients, answers, refused;
};

/* NULL: out of memory, or libcurl lacks something; `why` says which. The errand was checked. */
struct db_trip *db_trip_new(const struct db_errand *errand, const struct db_target *target, char why[256]);
struct db_trip *db_trip_free(struct db_trip *trip);
/* Hands the reply to whoever sent the errand. wall: unix ms. */
void db_trip_return(struct db_trip *trip, CURLcode result, int64_t wall);

#endif
