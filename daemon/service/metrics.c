/* Serves the metrics with libmicrohttpd on the loop: a document made for each scrape, few connections, a short patience. */
#include "service/metrics.h"

#include "service/report.h"

#include <arpa/inet.h>
#include <errno.h>
#include <netinet/in.h>
#include <sys/epoll.h>
#include <sys/socket.h>
#include <unistd.h>

#include <microhttpd.h>

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

enum { MOST_CONNECTIONS = 8, PATIENCE_S = 10, CONNECTION_MEMORY = 8192 };

struct db_metrics {
    struct db_house *house;
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
    char *text = db_report_metrics(metrics->house, metrics->started, &length);
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

/* "ADDRESS:PORT", with brackets round an IPv6 address; no address: loopback. No names: nothing is looked up here. */
static bool read_address(const char *at, struct sockaddr_storage *ret, socklen_t *ret_length)
{
    char host[64] = "127.0.0.1";
    const char *colon = strrchr(at, ':');
    struct sockaddr_in *four = (struct sockaddr_in *) ret;
    struct sockaddr_in6 *six = (struct sockaddr_in6 *) ret;
    char *end;

    memset(ret, 0, sizeof *ret);
    if (!colon || colon[1] < '0' || colon[1] > '9')
        return false;
    unsigned long port = strtoul(colon + 1, &end, 10);
    if (*end || port > 65535 || (size_t) (colon - at) >= sizeof host)
        return false;
    if (colon > at) {
        memcpy(host, at, (size_t) (colon - at));
        host[colon - at] = '\0';
    }
    if (inet_pton(AF_INET, host, &four->sin_addr) == 1) {
        four->sin_family = AF_INET;
        four->sin_port = htons((uint16_t) port);
        *ret_length = sizeof *four;
        return true;
    }
    size_t length = strlen(host);
    if (length < 3 || host[0] != '[' || host[length - 1] != ']')
        return false;
    host[length - 1] = '\0';
    if (inet_pton(AF_INET6, host + 1, &six->sin6_addr) != 1)
        return false;
    six->sin6_family = AF_INET6;
    six->sin6_port = htons((uint16_t) port);
    *ret_length = sizeof *six;
    return true;
}

static int listen_at(const struct sockaddr_storage *at, socklen_t length, unsigned *ret_port)
{
    struct sockaddr_storage got = { 0 };
    socklen_t got_length = sizeof got;
    int one = 1, fd = socket(at->ss_family, SOCK_STREAM | SOCK_CLOEXEC | SOCK_NONBLOCK, 0);

    if (fd < 0)
        return -1;
    if (setsockopt(fd, SOL_SOCKET, SO_REUSEADDR, &one, sizeof one) != 0 ||
        (at->ss_family == AF_INET6 && setsockopt(fd, IPPROTO_IPV6, IPV6_V6ONLY, &one, sizeof one) != 0) ||
        bind(fd, (const struct sockaddr *) at, length) != 0 || listen(fd, MOST_CONNECTIONS) != 0 ||
        getsockname(fd, (struct sockaddr *) &got, &got_length) != 0) {
        int trouble = errno;
        (void) close(fd);
        errno = trouble;
        return -1;
    }
    *ret_port = ntohs(got.ss_family == AF_INET6 ? ((const struct sockaddr_in6 *) &got)->sin6_port
                                                : ((const struct sockaddr_in *) &got)->sin_port);
    return fd;
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

enum db_status db_metrics_new(struct db_house *house, const char *at, struct db_metrics **ret, char trouble[256])
{
    struct sockaddr_storage where;
    socklen_t length = 0;

    if (!read_address(at, &where, &length)) {
        (void) snprintf(trouble, 256, "\"%.100s\" is not an address to listen at; write 127.0.0.1:9464 or [::1]:9464",
                        at);
        return DB_RANGE;
    }
    struct db_metrics *metrics = calloc(1, sizeof *metrics);
    if (!metrics) {
        (void) snprintf(trouble, 256, "there is no memory left");
        return DB_FULL;
    }
    *metrics = (struct db_metrics){ .house = house, .started = db_loop_wall(house->loop) / 1000, .epoll = -1 };
    metrics->timer = db_timer_new(house->loop, "patience with those who gather metrics", due, metrics);
    int fd = metrics->timer ? listen_at(&where, length, &metrics->port) : -1;
    if (fd < 0 || !start(metrics, fd)) {
        (void) snprintf(trouble, 256, "metrics cannot be served at %.100s: %s", at,
                        fd < 0 ? strerror(errno) : "the HTTP library did not start");
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
