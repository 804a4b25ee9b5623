/* Serves the metrics with libmicrohttpd on the loop: a document made for each scrape, few connections, a short patience. */
#include "service/metrics.h"

#include "service/listen.h"
#include "service/report.h"

#include <sys/epoll.h>
#include <unistd.h>

#include <microhttpd.h>

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

enum { MOST_CONNECTIONS = 8, PATIENCE_S = 10, CONNECTION_MEMORY = 8192 };

struct db_metrics {
    struct db_house *house;
    const struct db_http *http;
    struct MHD_Daemon *daemon;
    struct db_timer *timer;
    int64_t started;
    int epoll;
    unsigned port;
};

static enum MHD_Result say(struct MHD_Connection *connection, unsigned status, const char *type, char *text,
                           size_t length, bool give)
{
    struct MHD_Response *response =
        MHD_create_response_from_buffer(length, text, give ? MHD_RESPMEM_MUST_FREE : MHD_RESPMEM_PERSISTENT);
    enum MHD_Result done = MHD_NO;

    if (!response) {
        if (give)
            free(text);
        return MHD_NO;
    }
    if (MHD_add_response_header(response, "Content-Type", type) == MHD_YES &&
        MHD_add_response_header(response, "Cache-Control", "no-store") == MHD_YES &&
        MHD_add_response_header(response, "X-Content-Type-Options", "nosniff") == MHD_YES &&
        (status != MHD_HTTP_METHOD_NOT_ALLOWED || MHD_add_response_header(response, "Allow", "GET, HEAD") == MHD_YES))
        done = MHD_queue_response(connection, status, response);
    MHD_destroy_response(response);
    return done;
}

static enum MHD_Result handle(void *context, struct MHD_Connection *connection, const char *url, const char *method,
                              const char *version, const char *upload, size_t *upload_size, void **request)
{
    static char absent[] = "not here\n", refused[] = "only GET and HEAD\n", failed[] = "out of memory\n";
    static int seen;
    struct db_metrics *metrics = context;
    size_t length = 0;

    (void) version;
    (void) upload;
    if (!*request) { /* the first call: headers only. Answering at the second lets a body be read away. */
        *request = &seen;
        return MHD_YES;
    }
    if (*upload_size) {
        *upload_size = 0;
        return MHD_YES;
    }
    if (strcmp(method, MHD_HTTP_METHOD_GET) != 0 && strcmp(method, MHD_HTTP_METHOD_HEAD) != 0)
        return say(connection, MHD_HTTP_METHOD_NOT_ALLOWED, "text/plain", refused, strlen(refused), false);
    if (strcmp(url, "/metrics") != 0)
        return say(connection, MHD_HTTP_NOT_FOUND, "text/plain", absent, strlen(absent), false);
    char *text = db_report_metrics(metrics->house, metrics->http, metrics->started, &length);
    if (!text)
        return say(connection, MHD_HTTP_INTERNAL_SERVER_ERROR, "text/plain", failed, strlen(failed), false);
    return say(connection, MHD_HTTP_OK, "application/openmetrics-text; version=1.0.0; charset=utf-8", text, length,
               true);
}

static void run(struct db_metrics *metrics)
{
    MHD_UNSIGNED_LONG_LONG wait = 0;

    (void) MHD_run(metrics->daemon);
    if (MHD_get_timeout(metrics->daemon, &wait) == MHD_YES)
        db_timer_after(metrics->timer, (int64_t) wait);
    else
        db_timer_stop(metrics->timer);
}

static void ready(void *context, int fd, uint32_t events)
{
    (void) fd;
    (void) events;
    run(context);
}

static void due(void *context)
{
    run(context);
}

/* From here on the library owns the socket. */
static bool start(struct db_metrics *metrics, int fd)
{
    metrics->daemon =
        MHD_start_daemon(MHD_USE_EPOLL, 0, NULL, NULL, handle, metrics, MHD_OPTION_LISTEN_SOCKET, fd,
                         MHD_OPTION_CONNECTION_LIMIT, (unsigned) MOST_CONNECTIONS, MHD_OPTION_CONNECTION_TIMEOUT,
                         (unsigned) PATIENCE_S, MHD_OPTION_CONNECTION_MEMORY_LIMIT, (size_t) CONNECTION_MEMORY,
                         MHD_OPTION_STRICT_FOR_CLIENT, 1, MHD_OPTION_END);
    if (!metrics->daemon) {
        (void) close(fd);
        return false;
    }
    const union MHD_DaemonInfo *info = MHD_get_daemon_info(metrics->daemon, MHD_DAEMON_INFO_EPOLL_FD);
    if (!info)
        return false;
    metrics->epoll = info->epoll_fd;
    return db_loop_watch(metrics->house->loop, metrics->epoll, EPOLLIN, ready, metrics) == DB_OK;
}

enum db_status db_metrics_new(struct db_house *house, const struct db_http *http, const char *at,
                              struct db_metrics **ret, char trouble[256])
{
    struct db_listening listening = { .fd = -1 };

    enum db_status status = db_listen_at(at, &listening, trouble);
    if (status != DB_OK)
        return status;
    struct db_metrics *metrics = calloc(1, sizeof *metrics);
    if (!metrics) {
        (void) close(listening.fd);
        (void) snprintf(trouble, 256, "there is no memory left");
        return DB_FULL;
    }
    *metrics = (struct db_metrics){
        .house = house, .http = http, .started = db_loop_wall(house->loop) / 1000, .epoll = -1, .port = listening.port
    };
    metrics->timer = db_timer_new(house->loop, "patience with those who gather metrics", due, metrics);
    if (!metrics->timer || !start(metrics, listening.fd)) {
        if (!metrics->timer)
            (void) close(listening.fd);
        (void) snprintf(trouble, 256, "metrics cannot be served at %.100s: the HTTP library did not start", at);
        (void) db_metrics_free(metrics);
        return DB_TROUBLE;
    }
    *ret = metrics;
    return DB_OK;
}

struct db_metrics *db_metrics_free(struct db_metrics *metrics)
{
    if (!metrics)
        return NULL;
    if (metrics->epoll >= 0)
        db_loop_forget(metrics->house->loop, metrics->epoll);
    if (metrics->daemon)
        MHD_stop_daemon(metrics->daemon);
    (void) db_timer_free(metrics->timer);
    free(metrics);
    return NULL;
}

unsigned db_metrics_port(const struct db_metrics *metrics)
{
    return metrics->port;
}
