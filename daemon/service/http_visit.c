/* Connections and the time that each has. libmicrohttpd closes those that are silent; a byte a second is not silent, so here
 * is a deadline for the whole of a request and of an answer. */
#include "service/http_private.h"

#include "service/log.h"

#include <arpa/inet.h>
#include <linux/tcp.h>
#include <netinet/in.h>
#include <sys/socket.h>

#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

/* ms that the sweeper comes late, so that those that are due at about the same time are one wake-up. */
enum { TOGETHER = 200 };

static void leave(struct db_visit *visit)
{
    struct db_visit_queue *queue = &visit->http->queues[visit->place];

    if (visit->before)
        visit->before->next = visit->next;
    else
        queue->first = visit->next;
    if (visit->next)
        visit->next->before = visit->before;
    else
        queue->last = visit->before;
    visit->before = visit->next = NULL;
    visit->http->held -= visit->place == DB_VISIT_HELD;
}

static void join(struct db_visit *visit, enum db_visit_place place)
{
    struct db_http *http = visit->http;
    struct db_visit_queue *queue = &http->queues[place];

    visit->place = place;
    visit->before = queue->last;
    visit->next = NULL;
    if (queue->last)
        queue->last->next = visit;
    else
        queue->first = visit;
    queue->last = visit;
    http->held += place == DB_VISIT_HELD;
    if (place == DB_VISIT_CUT)
        return;
    visit->due = http->now + queue->ms;
    if (visit->due < http->sweep_at) {
        http->sweep_at = visit->due;
        db_timer_after(http->sweeper, queue->ms);
    }
}

void db_visit_move(struct db_visit *visit, enum db_visit_place place)
{
    leave(visit);
    join(visit, place);
}

void db_visit_notify(void *context, struct MHD_Connection *connection, void **socket_context,
                     enum MHD_ConnectionNotificationCode what)
{
    struct db_http *http = context;

    if (what == MHD_CONNECTION_NOTIFY_STARTED) {
        const union MHD_ConnectionInfo *info = MHD_get_connection_info(connection, MHD_CONNECTION_INFO_CONNECTION_FD);
        struct db_visit *visit = calloc(1, sizeof *visit);

        if (visit) {
            *visit = (struct db_visit){ .http = http, .connection = connection, .fd = info ? info->connect_fd : -1 };
            visit->looked = true; /* nothing received yet */
            visit->since = http->now;
            http->counts.connections++;
            join(visit, DB_VISIT_IDLE);
        }
        *socket_context = visit; /* NULL: its requests are refused */
    } else if (*socket_context) {
        struct db_visit *visit = *socket_context;

        leave(visit);
        http->counts.connections--;
        free(visit);
        *socket_context = NULL;
    }
}

void db_visit_done(void *context, struct MHD_Connection *connection, void **request,
                   enum MHD_RequestTerminationCode how)
{
    struct db_visit *visit = *request;

    (void) context;
    (void) connection;
    (void) how;
    if (!visit)
        return;
    visit->begun = visit->was_held = visit->looked = visit->dripping = false;
    if (visit->place == DB_VISIT_CUT)
        return;
    db_visit_move(visit, DB_VISIT_IDLE);
    visit->since = visit->http->now;
}

const char *db_visit_peer(const struct db_visit *visit, char buffer[DB_PEER])
{
    const union MHD_ConnectionInfo *info =
        MHD_get_connection_info(visit->connection, MHD_CONNECTION_INFO_CLIENT_ADDRESS);
    const struct sockaddr *peer = info ? info->client_addr : NULL;
    const char *text = NULL;

    if (peer && peer->sa_family == AF_INET)
        text = inet_ntop(AF_INET, &((const struct sockaddr_in *) (const void *) peer)->sin_addr, buffer, DB_PEER);
    else if (peer && peer->sa_family == AF_INET6)
        text = inet_ntop(AF_INET6, &((const struct sockaddr_in6 *) (const void *) peer)->sin6_addr, buffer, DB_PEER);
    return text ? text : "this machine";
}

/* False where the kernel does not say: no TCP. */
static bool bytes_received(int fd, uint64_t *ret)
{
    struct tcp_info info;
    socklen_t length = sizeof info;

    if (getsockopt(fd, IPPROTO_TCP, TCP_INFO, &info, &length) != 0 ||
        length < offsetof(struct tcp_info, tcpi_bytes_received) + sizeof info.tcpi_bytes_received)
        return false;
    *ret = info.tcpi_bytes_received;
    return true;
}

static void cut(struct db_visit *visit, int64_t now)
{
    struct db_http *http = visit->http;
    char peer[DB_PEER];

    http->counts.cut++;
    if (now >= http->told_cut + 60000) {
        http->told_cut = now;
        db_log(DB_LOG_NOTICE, "http: closed a connection from %s that took too long (%llu so far)",
               db_visit_peer(visit, peer), (unsigned long long) http->counts.cut);
    }
    db_visit_move(visit, DB_VISIT_CUT);
    (void) shutdown(visit->fd, SHUT_RDWR); /* libmicrohttpd then reads its end and lets go of it */
}

/* An idle connection is libmicrohttpd's to close, unless it is one whose request comes a byte at a time and has not got so far
 * as a first line. Its first bytes are seen at one look; at the next, it has had its time. */
static void look_at_idle(struct db_visit *visit, int64_t now)
{
    const struct db_http *http = visit->http;
    uint64_t received = 0;

    if (now >= visit->since + (int64_t) (http->wish.idle_seconds + http->wish.patience) * 1000) {
        cut(visit, now);
        return;
    }
    if (bytes_received(visit->fd, &received)) {
        if (visit->looked && received > visit->received && visit->dripping) {
            cut(visit, now);
            return;
        }
        visit->dripping = visit->looked && received > visit->received;
        if (!visit->dripping)
            visit->received = received;
        visit->looked = true;
    }
    db_visit_move(visit, DB_VISIT_IDLE);
}

static void let_on(struct db_visit *visit)
{
    db_visit_move(visit, DB_VISIT_ASKING);
    visit->was_held = true;
    MHD_resume_connection(visit->connection);
    db_timer_after(visit->http->timer, 0); /* the library goes on at its next turn */
}

void db_visit_sweep(void *context)
{
    struct db_http *http = context;
    int64_t next = INT64_MAX, now = http->now = db_loop_steady(http->house->loop);

    http->sweep_at = INT64_MIN; /* nobody sets the timer while we are at it */
    for (int place = 0; place < DB_VISIT_CUT; place++) {
        struct db_visit *visit;
        while ((visit = http->queues[place].first) && visit->due <= now) {
            if (place == DB_VISIT_IDLE)
                look_at_idle(visit, now);
            else if (place == DB_VISIT_HELD)
                let_on(visit);
            else
                cut(visit, now);
        }
    }
    for (int place = 0; place < DB_VISIT_CUT; place++)
        if (http->queues[place].first && http->queues[place].first->due < next)
            next = http->queues[place].first->due;
    http->sweep_at = next;
    if (next != INT64_MAX)
        db_timer_after(http->sweeper, next - now + TOGETHER);
    else
        db_timer_stop(http->sweeper);
}
