/* The sockets, the library and the loop brought together. */
#include "service/http_private.h"

#include "service/listen.h"
#include "service/log.h"

#include <signal.h>
#include <sys/epoll.h>
#include <sys/random.h>
#include <sys/resource.h>
#include <unistd.h>

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

enum {
    CONNECTIONS = 1500,
    PER_ADDRESS = 24,
    IDLE_S = 75,
    PATIENCE_S = 20,
    MEMORY = 8 * 1024,  /* bytes a connection: the whole head of a request and of its answer */
    FILES_BESIDE = 200, /* open files that are no connections */
    TURNS = 16          /* of the library before others on the loop have theirs */
};

static void run(struct db_http *http)
{
    int64_t least = INT64_MAX;

    http->now = db_loop_steady(http->house->loop);
    for (size_t i = 0; i < http->socket_count; i++) {
        MHD_UNSIGNED_LONG_LONG wait = 0;
        bool waits = true;

        for (int turn = 0; turn < TURNS && waits && !wait; turn++) {
            (void) MHD_run(http->sockets[i].daemon);
            waits = MHD_get_timeout(http->sockets[i].daemon, &wait) == MHD_YES;
        }
        if (waits && (int64_t) wait < least)
            least = (int64_t) wait;
    }
    if (least == INT64_MAX)
        db_timer_stop(http->timer);
    else
        db_timer_after(http->timer, least);
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

/* The soft limit of open files is kept low for programs that use select(); we do not. */
static unsigned settle_connections(unsigned wished)
{
    struct rlimit files;

    if (getrlimit(RLIMIT_NOFILE, &files) != 0)
        return wished;
    rlim_t needed = (rlim_t) wished + FILES_BESIDE;
    if (files.rlim_cur != RLIM_INFINITY && files.rlim_cur < needed) {
        files.rlim_cur = files.rlim_max == RLIM_INFINITY || files.rlim_max > needed ? needed : files.rlim_max;
        (void) setrlimit(RLIMIT_NOFILE, &files);
        if (getrlimit(RLIMIT_NOFILE, &files) == 0 && files.rlim_cur < needed)
            wished = files.rlim_cur > 2 * FILES_BESIDE ? (unsigned) files.rlim_cur - FILES_BESIDE : FILES_BESIDE;
    }
    return wished;
}

/* From here on the library owns the socket. */
static bool start(struct db_http *http, const struct db_listening *at, char trouble[256])
{
    struct db_http_socket *made = &http->sockets[http->socket_count];

    made->port = at->port;
    made->daemon =
        MHD_start_daemon(MHD_USE_EPOLL | MHD_USE_TURBO | MHD_ALLOW_SUSPEND_RESUME, 0, NULL, NULL, db_http_answer, http,
                         MHD_OPTION_LISTEN_SOCKET, at->fd, MHD_OPTION_CONNECTION_LIMIT, http->wish.connections,
                         MHD_OPTION_PER_IP_CONNECTION_LIMIT, http->wish.per_address, MHD_OPTION_CONNECTION_TIMEOUT,
                         http->wish.idle_seconds, MHD_OPTION_CONNECTION_MEMORY_LIMIT, (size_t) MEMORY,
                         MHD_OPTION_STRICT_FOR_CLIENT, 1, MHD_OPTION_SIGPIPE_HANDLED_BY_APP, 1,
                         MHD_OPTION_URI_LOG_CALLBACK, db_http_first_line, http, MHD_OPTION_NOTIFY_CONNECTION,
                         db_visit_notify, http, MHD_OPTION_NOTIFY_COMPLETED, db_visit_done, http, MHD_OPTION_END);
    if (!made->daemon) {
        (void) snprintf(trouble, 256, "the HTTP server could not be started");
        (void) close(at->fd);
        return false;
    }
    http->socket_count++;
    const union MHD_DaemonInfo *info = MHD_get_daemon_info(made->daemon, MHD_DAEMON_INFO_EPOLL_FD);
    made->epoll = info ? info->epoll_fd : -1;
    if (made->epoll < 0 || db_loop_watch(http->house->loop, made->epoll, EPOLLIN, ready, http) != DB_OK) {
        made->epoll = -1;
        (void) snprintf(trouble, 256, "the HTTP server cannot be waited for");
        return false;
    }
    return true;
}

static bool open_sockets(struct db_http *http, char trouble[256])
{
    const struct db_http_wish *wish = &http->wish;
    struct db_listening at[DB_HTTP_SOCKETS];
    size_t count = wish->fd_count ? wish->fd_count : 1, open = 0, started = 0;
    bool nearby = true, fine = count <= DB_HTTP_SOCKETS;

    if (!fine)
        (void) snprintf(trouble, 256, "%zu sockets were handed over; at most %d can be", count, DB_HTTP_SOCKETS);
    for (; fine && open < count; open += fine) {
        fine = (wish->fd_count ? db_listen_given(wish->fds[open], &at[open], trouble)
                               : db_listen_at(wish->listen, &at[open], trouble)) == DB_OK;
        nearby = nearby && fine && at[open].nearby;
    }
    if (!http->wish.per_address && !nearby)
        http->wish.per_address = PER_ADDRESS;
    for (; fine && started < open; started += fine)
        fine = start(http, &at[started], trouble);
    if (!fine && started < open)
        started++; /* that one is closed or the library's already */
    for (; !fine && started < open; started++)
        (void) close(at[started].fd);
    if (fine && !wish->fd_count && !at[0].port)
        http->sockets[0].path = strdup(wish->listen);
    return fine;
}

/* What stands ready for a garden goes with it; what came is found by itself. */
static void keeper_came(void *context, struct db_keeper *keeper, bool came)
{
    const struct db_http *http = context;

    (void) keeper;
    if (!came)
        db_doors_forget(http->doors);
}

struct db_http *db_http_open(struct db_house *house, const struct db_http_wish *wish, char trouble[256])
{
    struct db_http *http = calloc(1, sizeof *http);
    static const struct sigaction ignore = { .sa_handler = SIG_IGN };

    (void) snprintf(trouble, 256, "there is no memory left");
    if (!http)
        return NULL;
    http->house = house;
    http->wish = *wish;
    http->wish.connections = settle_connections(wish->connections ? wish->connections : CONNECTIONS);
    http->wish.idle_seconds = wish->idle_seconds ? wish->idle_seconds : IDLE_S;
    http->wish.patience = wish->patience ? wish->patience : PATIENCE_S;
    http->queues[DB_VISIT_IDLE].ms = (int64_t) http->wish.patience * 500;
    http->queues[DB_VISIT_ASKING].ms = (int64_t) http->wish.patience * 1000;
    http->queues[DB_VISIT_ANSWERING].ms = (int64_t) http->wish.patience * 3000;
    http->queues[DB_VISIT_HELD].ms = DB_HTTP_HELD_MS;
    http->now = db_loop_steady(house->loop);
    http->sweep_at = INT64_MAX;
    http->minute = http->told_cut = http->told_guess = http->told_gone = INT64_MIN / 2;
    (void) sigaction(SIGPIPE, &ignore, NULL);
    http->timer = db_timer_new(house->loop, "http", due, http);
    http->sweeper = db_timer_new(house->loop, "http: slow connections", db_visit_sweep, http);
    http->doors = db_doors_new(house, !wish->plain);
    if (!http->timer || !http->sweeper || !http->doors || !db_http_prepare(http) ||
        getrandom(&http->guess_seed, sizeof http->guess_seed, 0) != (ssize_t) sizeof http->guess_seed ||
        !open_sockets(http, trouble))
        return db_http_free(http);
    if (db_house_on_keeper(house, keeper_came, http) != DB_OK) {
        (void) snprintf(trouble, 256, "there is no memory left");
        return db_http_free(http);
    }
    trouble[0] = '\0';
    return http;
}

struct db_http *db_http_new(struct db_house *house, const char *listen, const int *fds, size_t fd_count,
                            char trouble[256])
{
    const struct db_http_wish wish = { .listen = listen, .fds = fds, .fd_count = fd_count };

    return db_http_open(house, &wish, trouble);
}

struct db_http *db_http_free(struct db_http *http)
{
    if (!http)
        return NULL;
    /* The library does not stop while someone is suspended. */
    for (struct db_visit *visit = http->queues[DB_VISIT_HELD].first; visit; visit = visit->next)
        MHD_resume_connection(visit->connection);
    for (size_t i = 0; i < http->socket_count; i++) {
        if (http->sockets[i].epoll >= 0)
            db_loop_forget(http->house->loop, http->sockets[i].epoll);
        MHD_stop_daemon(http->sockets[i].daemon);
        if (http->sockets[i].path)
            (void) unlink(http->sockets[i].path);
        free(http->sockets[i].path);
    }
    struct MHD_Response *const answers[] = { http->absent, http->gone, http->not_allowed, http->too_long,
                                             http->not_yet };
    for (size_t i = 0; i < sizeof answers / sizeof answers[0]; i++)
        if (answers[i])
            MHD_destroy_response(answers[i]);
    http->doors = db_doors_free(http->doors);
    http->timer = db_timer_free(http->timer);
    http->sweeper = db_timer_free(http->sweeper);
    free(http);
    return NULL;
}

unsigned db_http_port(const struct db_http *http)
{
    for (size_t i = 0; i < http->socket_count; i++)
        if (http->sockets[i].port)
            return http->sockets[i].port;
    return 0;
}

struct db_http_counts db_http_counts(const struct db_http *http)
{
    return http->counts;
}
