/* From a request to its answer. */
#include "service/http_private.h"

#include "service/http_words.h"
#include "service/log.h"

#include <netinet/in.h>
#include <sys/socket.h>

#include <xxhash.h>

#include <stdio.h>
#include <string.h>

#include "base/banned.h"

enum {
    LONGEST = 1024, /* bytes of what is asked for: ours are below 60, and a query may follow */
    GUESSES = 20,   /* unknown addresses a minute from one peer, after which he waits for each */
    HOUR = 3600000
};

/* The file names are part of every address that was ever given out. */
static const char *const files[DB_READY_COUNT] = {
    [DB_READY_JOBS] = "jobs.ics",
    [DB_READY_MORNINGS] = "mornings.ics",
    [DB_READY_TASKS] = "tasks.ics",
};

static struct MHD_Response *make(const char *text, const char *name, const char *value)
{
    struct MHD_Response *made =
        MHD_create_response_from_buffer(strlen(text), (void *) (uintptr_t) text, MHD_RESPMEM_PERSISTENT);

    if (made && (MHD_add_response_header(made, "Content-Type", "text/plain; charset=utf-8") != MHD_YES ||
                 MHD_add_response_header(made, "Cache-Control", "no-store") != MHD_YES ||
                 MHD_add_response_header(made, "X-Content-Type-Options", "nosniff") != MHD_YES ||
                 MHD_add_response_header(made, "Referrer-Policy", "no-referrer") != MHD_YES ||
                 MHD_add_response_header(made, "X-Robots-Tag", "noindex") != MHD_YES ||
                 (name && MHD_add_response_header(made, name, value) != MHD_YES))) {
        MHD_destroy_response(made);
        return NULL;
    }
    return made;
}

bool db_http_prepare(struct db_http *http)
{
    http->absent = make("There is nothing here.\n", NULL, NULL);
    http->gone = make("This address was replaced by another one.\n", NULL, NULL);
    http->not_allowed = make("This can only be read.\n", "Allow", "GET, HEAD");
    http->too_long = make("The address is too long.\n", "Connection", "close");
    http->not_yet = make("There is no calendar yet. Please come again.\n", "Retry-After", "60");
    return http->absent && http->gone && http->not_allowed && http->too_long && http->not_yet;
}

/* The whole path is compared as it came: nothing is decoded, so that nothing can hide in a code. What follows "?" does not
 * count. */
static void read_path(struct db_visit *visit, const char *uri)
{
    size_t length = strlen(uri);

    visit->asked = length > LONGEST ? DB_ASKED_TOO_LONG : DB_ASKED_NOTHING;
    memset(visit->token, 0, sizeof visit->token); /* which opens nothing */
    if (strncmp(uri, "http://", 7) == 0 ||
        strncmp(uri, "https://", 8) == 0) { /* RFC 9112, section 3.2.2: to be accepted */
        uri = strchr(strchr(uri, ':') + 3, '/');
        if (!uri)
            return;
    }
    length = strcspn(uri, "?");
    if (visit->asked != DB_ASKED_NOTHING || length < 3 + DB_TOKEN_LENGTH + 1 || memcmp(uri, "/f/", 3) != 0 ||
        uri[3 + DB_TOKEN_LENGTH] != '/')
        return;
    const char *file = uri + 3 + DB_TOKEN_LENGTH + 1;
    for (size_t i = 0; i < DB_READY_COUNT; i++)
        if (length - (size_t) (file - uri) == strlen(files[i]) && memcmp(file, files[i], strlen(files[i])) == 0) {
            visit->asked = DB_ASKED_FEED;
            visit->feed = (enum db_ready_feed) i;
            memcpy(visit->token, uri + 3, DB_TOKEN_LENGTH);
        }
}

void *db_http_first_line(void *context, const char *uri, struct MHD_Connection *connection)
{
    const union MHD_ConnectionInfo *info = MHD_get_connection_info(connection, MHD_CONNECTION_INFO_SOCKET_CONTEXT);
    struct db_visit *visit = info ? info->socket_context : NULL;

    (void) context;
    if (!visit)
        return NULL;
    if (visit->place != DB_VISIT_CUT)
        db_visit_move(visit, DB_VISIT_ASKING);
    visit->begun = visit->was_held = false;
    read_path(visit, uri);
    return visit;
}

static enum MHD_Result queue(struct db_visit *visit, unsigned status, struct MHD_Response *response, uint64_t *count)
{
    if (visit->place != DB_VISIT_CUT)
        db_visit_move(visit, DB_VISIT_ANSWERING);
    (*count)++;
    return MHD_queue_response(visit->connection, status, response);
}

/* A line for each request, where that is wished for. The token is never in it. */
static void tell(const struct db_visit *visit, const char *method, unsigned status, const char *mark)
{
    char peer[DB_PEER];

    if (!visit->http->wish.tell)
        return;
    if (visit->asked == DB_ASKED_FEED)
        db_log(DB_LOG_INFO, "http: %s %s /f/\xE2\x80\xA6%s/%s %u", db_visit_peer(visit, peer), method,
               *mark ? mark : "unknown", files[visit->feed], status);
    else
        db_log(DB_LOG_INFO, "http: %s %s an unknown address %u", db_visit_peer(visit, peer), method, status);
}

/* How many unknown addresses this peer has asked for in this minute. Peers share a place now and then; then both wait. A whole
 * IPv6 network of 64 bits is one peer. */
static unsigned count_guess(struct db_visit *visit)
{
    struct db_http *http = visit->http;
    const union MHD_ConnectionInfo *info =
        MHD_get_connection_info(visit->connection, MHD_CONNECTION_INFO_CLIENT_ADDRESS);
    const struct sockaddr *peer = info ? info->client_addr : NULL;
    unsigned char who[8] = { 0 };

    if (peer && peer->sa_family == AF_INET)
        memcpy(who, &((const struct sockaddr_in *) (const void *) peer)->sin_addr, 4);
    else if (peer && peer->sa_family == AF_INET6)
        memcpy(who, &((const struct sockaddr_in6 *) (const void *) peer)->sin6_addr, 8);
    if (http->now >= http->minute + 60000) {
        memset(http->guesses, 0, sizeof http->guesses);
        http->minute = http->now;
    }
    unsigned char *count =
        &http->guesses[XXH3_64bits_withSeed(who, sizeof who, http->guess_seed) % sizeof http->guesses];
    *count = (unsigned char) (*count < 255 ? *count + 1 : 255);
    return *count;
}

/* All that is unknown is answered alike. Who guesses waits for his answer; where many do, some get none. */
static enum MHD_Result say_absent(struct db_visit *visit, const char *method)
{
    struct db_http *http = visit->http;

    if (!visit->was_held && count_guess(visit) > GUESSES) {
        char peer[DB_PEER];

        http->counts.slowed++;
        if (http->now >= http->told_guess + 60000) {
            http->told_guess = http->now;
            db_log(DB_LOG_NOTICE, "http: more than %d unknown addresses in a minute from %s: slowing it down", GUESSES,
                   db_visit_peer(visit, peer));
        }
        if (http->held >= DB_HTTP_MOST_HELD || visit->place == DB_VISIT_CUT)
            return MHD_NO;
        db_visit_move(visit, DB_VISIT_HELD);
        MHD_suspend_connection(visit->connection);
        return MHD_YES;
    }
    tell(visit, method, MHD_HTTP_NOT_FOUND, "");
    return queue(visit, MHD_HTTP_NOT_FOUND, http->absent, &http->counts.unknown);
}

static enum MHD_Result say_gone(struct db_visit *visit, const char *method, const char *mark)
{
    struct db_http *http = visit->http;
    char peer[DB_PEER];

    if (http->now >= http->told_gone + HOUR) { /* a calendar that was forgotten asks for ever */
        http->told_gone = http->now;
        db_log(DB_LOG_NOTICE, "http: %s still asks for the revoked address /f/\xE2\x80\xA6%s/%s",
               db_visit_peer(visit, peer), mark, files[visit->feed]);
    }
    tell(visit, method, MHD_HTTP_GONE, mark);
    return queue(visit, MHD_HTTP_GONE, http->gone, &http->counts.revoked);
}

struct conditions {
    struct db_codings codings;
    const char *none_match[8], *since;
    size_t none_matches;
};

static enum MHD_Result read_field(void *context, enum MHD_ValueKind kind, const char *name, const char *value)
{
    struct conditions *conditions = context;
    size_t length = strlen(name);

    (void) kind;
    if (!value)
        return MHD_YES;
    if (length == 15 && strcasecmp(name, "Accept-Encoding") == 0)
        db_codings_add(&conditions->codings, value);
    else if (length == 13 && strcasecmp(name, "If-None-Match") == 0 &&
             conditions->none_matches < sizeof conditions->none_match / sizeof conditions->none_match[0])
        conditions->none_match[conditions->none_matches++] = value;
    else if (length == 17 && strcasecmp(name, "If-Modified-Since") == 0)
        conditions->since = value;
    return MHD_YES;
}

/* RFC 9110, section 13.2.2: a list of tags decides alone where there is one. */
static bool is_unchanged(const struct db_http *http, const struct conditions *conditions, const char *tag,
                         int64_t modified)
{
    int64_t since;

    for (size_t i = 0; i < conditions->none_matches; i++)
        if (db_tags_match(conditions->none_match[i], tag))
            return true;
    return !conditions->none_matches && conditions->since &&
           db_http_date_read(conditions->since, db_loop_wall(http->house->loop) / 1000, &since) && modified <= since;
}

static enum MHD_Result say_feed(struct db_visit *visit, const char *method, size_t door, const char *mark)
{
    struct db_http *http = visit->http;
    const struct db_shelf *shelf = db_doors_shelf(http->doors, door, visit->feed);
    struct conditions conditions = { .codings = DB_NO_CODINGS };

    if (!shelf) {
        tell(visit, method, MHD_HTTP_SERVICE_UNAVAILABLE, mark);
        return queue(visit, MHD_HTTP_SERVICE_UNAVAILABLE, http->not_yet, &http->counts.refused);
    }
    (void) MHD_get_connection_values(visit->connection, MHD_HEADER_KIND, read_field, &conditions);
    bool packed = shelf->packed.whole && db_codings_gzip(&conditions.codings);
    const struct db_form *form = packed ? &shelf->packed : &shelf->plain;
    const char *tag = packed ? shelf->ready->packed_etag : shelf->ready->etag;
    if (is_unchanged(http, &conditions, tag, shelf->ready->modified)) {
        tell(visit, method, MHD_HTTP_NOT_MODIFIED, mark);
        return queue(visit, MHD_HTTP_NOT_MODIFIED, form->unchanged, &http->counts.unchanged);
    }
    tell(visit, method, MHD_HTTP_OK, mark);
    if (method[0] == 'G')
        http->counts.bytes += packed ? shelf->ready->packed_length : shelf->ready->length;
    return queue(visit, MHD_HTTP_OK, form->whole, &http->counts.full);
}

static enum MHD_Result say(struct db_visit *visit, const char *method)
{
    struct db_http *http = visit->http;
    char mark[DB_TOKEN_MARK];
    size_t door = 0;

    if (visit->asked == DB_ASKED_TOO_LONG) {
        tell(visit, method, MHD_HTTP_URI_TOO_LONG, "");
        return queue(visit, MHD_HTTP_URI_TOO_LONG, http->too_long, &http->counts.refused);
    }
    /* What is no address at all is looked for, too: so it takes the time of one. */
    switch (db_doors_find(http->doors, visit->token, &door, mark)) {
    case DB_DOOR_OPEN:
        return say_feed(visit, method, door, mark);
    case DB_DOOR_REVOKED:
        return say_gone(visit, method, mark);
    case DB_DOOR_UNKNOWN:
        break;
    }
    return say_absent(visit, method);
}

enum MHD_Result db_http_answer(void *context, struct MHD_Connection *connection, const char *url, const char *method,
                               const char *version, const char *upload, size_t *upload_size, void **request)
{
    struct db_visit *visit = *request;
    bool reads = strcmp(method, MHD_HTTP_METHOD_GET) == 0 || strcmp(method, MHD_HTTP_METHOD_HEAD) == 0;

    (void) context;
    (void) connection;
    (void) url;
    (void) version;
    (void) upload;
    if (!visit)
        return MHD_NO;
    if (!visit->begun) {
        visit->begun = true;
        /* A body that nobody wants is not waited for, where the library then closes the connection; else it is read away, so
         * that it cannot pass for the next request. */
        if (strcmp(method, MHD_HTTP_METHOD_PUT) != 0 && strcmp(method, MHD_HTTP_METHOD_POST) != 0)
            return MHD_YES;
    } else if (*upload_size) {
        *upload_size = 0;
        return MHD_YES;
    }
    if (reads)
        return say(visit, method);
    tell(visit, method, MHD_HTTP_METHOD_NOT_ALLOWED, "");
    return queue(visit, MHD_HTTP_METHOD_NOT_ALLOWED, visit->http->not_allowed, &visit->http->counts.refused);
}
