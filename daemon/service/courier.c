/* libcurl's multi interface on our loop: its sockets are watched by the loop, its one timeout is a timer of ours. */
#include "service/trip.h"

#include <sys/epoll.h>

#include <stdio.h>
#include <stdlib.h>

#include "base/banned.h"

enum {
    AT_ONCE = 64,
    WAITING = 4096,
    STEP = 100, /* ms: libcurl looks after a name with a timer that begins at 1 ms, though a socket wakes it, too */
    ROUNDS = 8  /* of work at once before others have their turn */
};

struct db_courier {
    struct db_loop *loop;
    CURLM *multi;
    struct db_timer *timer, *broken_timer;
    int64_t woke;      /* steady: when the timer was last due */
    bool inside, more; /* libcurl was called by us; it wants to be called again at once */
    struct db_trip *under_way, *waiting, **waiting_end, *broken; /* broken: libcurl did not take them */
    size_t under_way_count, waiting_count;
};

static void drain(struct db_courier *courier);

/* Lets libcurl work: on what is ready, then on what that gave it to do. */
static void work(struct db_courier *courier, curl_socket_t fd, int what)
{
    int left;

    courier->inside = true;
    courier->more = false;
    (void) curl_multi_socket_action(courier->multi, fd, what, &left);
    for (int round = 0; courier->more && round < ROUNDS; round++) {
        courier->more = false;
        (void) curl_multi_socket_action(courier->multi, CURL_SOCKET_TIMEOUT, 0, &left);
    }
    courier->inside = false;
    if (courier->more)
        db_timer_after(courier->timer, 0);
    drain(courier);
}

static void ready(void *context, int fd, uint32_t events)
{
    int what = 0;

    if (events & (uint32_t) EPOLLIN)
        what |= CURL_CSELECT_IN;
    if (events & (uint32_t) EPOLLOUT)
        what |= CURL_CSELECT_OUT;
    if (events & (uint32_t) (EPOLLERR | EPOLLHUP))
        what |= CURL_CSELECT_ERR | CURL_CSELECT_IN;
    work(context, fd, what);
}

static void due(void *context)
{
    struct db_courier *courier = context;

    courier->woke = db_loop_steady(courier->loop);
    work(courier, CURL_SOCKET_TIMEOUT, 0);
}

static int watch_socket(CURL *easy, curl_socket_t fd, int what, void *context, void *socket)
{
    struct db_courier *courier = context;
    uint32_t events = 0;

    (void) easy;
    (void) socket;
    if (what == CURL_POLL_REMOVE) {
        db_loop_forget(courier->loop, fd);
        return 0;
    }
    if (what != CURL_POLL_OUT)
        events |= (uint32_t) EPOLLIN;
    if (what != CURL_POLL_IN)
        events |= (uint32_t) EPOLLOUT;
    /* Unwatched for want of memory: the errand's own timeout ends it. An error here would end all errands. */
    enum db_status status = db_loop_watch(courier->loop, fd, events, ready, courier);
    (void) status;
    return 0;
}

static int set_timer(CURLM *multi, long ms, void *context)
{
    struct db_courier *courier = context;

    (void) multi;
    courier->more = ms == 0 && courier->inside;
    if (courier->more)
        return 0;
    const int64_t next = courier->woke + STEP - db_loop_steady(courier->loop);
    if (ms < 0)
        db_timer_stop(courier->timer);
    else
        db_timer_after(courier->timer, ms > 0 && ms < next ? next : ms);
    return 0;
}

static void put_first(struct db_trip **list, struct db_trip *trip)
{
    trip->next = *list;
    *list = trip;
}

static void take_out(struct db_trip **list, const struct db_trip *trip)
{
    for (; *list; list = &(*list)->next)
        if (*list == trip) {
            *list = trip->next;
            return;
        }
}

static void start(struct db_courier *courier, struct db_trip *trip)
{
    if (curl_multi_add_handle(courier->multi, trip->easy) == CURLM_OK) {
        put_first(&courier->under_way, trip);
        courier->under_way_count++;
    } else {
        put_first(&courier->broken, trip);
        db_timer_after(courier->broken_timer, 0);
    }
}

static void start_waiting(struct db_courier *courier)
{
    while (courier->waiting && courier->under_way_count < AT_ONCE) {
        struct db_trip *trip = courier->waiting;

        courier->waiting = trip->next;
        if (!courier->waiting)
            courier->waiting_end = &courier->waiting;
        courier->waiting_count--;
        start(courier, trip);
    }
}

/* Hands out what has ended. Callbacks may send new errands; they run when libcurl is not inside one of its calls. */
static void drain(struct db_courier *courier)
{
    const CURLMsg *message;
    int left;

    while ((message = curl_multi_info_read(courier->multi, &left))) {
        struct db_trip *trip = NULL;
        CURLcode result = message->data.result; /* gone once the handle is removed */

        if (message->msg != CURLMSG_DONE)
            continue;
        CURL *easy = message->easy_handle;
        (void) curl_easy_getinfo(easy, CURLINFO_PRIVATE, &trip);
        (void) curl_multi_remove_handle(courier->multi, easy);
        take_out(&courier->under_way, trip);
        courier->under_way_count--;
        db_trip_return(trip, result, db_loop_wall(courier->loop));
        (void) db_trip_free(trip);
    }
    start_waiting(courier);
}

static void return_broken(void *context)
{
    struct db_courier *courier = context;

    while (courier->broken) {
        struct db_trip *trip = courier->broken;

        courier->broken = trip->next;
        db_trip_return(trip, CURLE_OUT_OF_MEMORY, db_loop_wall(courier->loop));
        (void) db_trip_free(trip);
    }
    start_waiting(courier);
}

struct db_courier *db_courier_new(struct db_loop *loop)
{
    struct db_courier *courier = calloc(1, sizeof *courier);

    if (!courier)
        return NULL;
    if (curl_global_init(CURL_GLOBAL_DEFAULT) != CURLE_OK) {
        free(courier);
        return NULL;
    }
    courier->loop = loop;
    courier->woke = db_loop_steady(loop) - STEP;
    courier->waiting_end = &courier->waiting;
    courier->timer = db_timer_new(loop, "requests over the network", due, courier);
    courier->broken_timer = db_timer_new(loop, "a request that could not start", return_broken, courier);
    courier->multi = curl_multi_init();
    if (courier->timer && courier->broken_timer && courier->multi &&
        curl_multi_setopt(courier->multi, CURLMOPT_SOCKETFUNCTION, watch_socket) == CURLM_OK &&
        curl_multi_setopt(courier->multi, CURLMOPT_SOCKETDATA, courier) == CURLM_OK &&
        curl_multi_setopt(courier->multi, CURLMOPT_TIMERFUNCTION, set_timer) == CURLM_OK &&
        curl_multi_setopt(courier->multi, CURLMOPT_TIMERDATA, courier) == CURLM_OK)
        return courier;
    return db_courier_free(courier);
}

static void free_all(struct db_courier *courier, struct db_trip *trip, bool added)
{
    while (trip) {
        struct db_trip *next = trip->next;

        if (added)
            (void) curl_multi_remove_handle(courier->multi, trip->easy);
        (void) db_trip_free(trip);
        trip = next;
    }
}

struct db_courier *db_courier_free(struct db_courier *courier)
{
    if (courier) {
        free_all(courier, courier->under_way, true);
        free_all(courier, courier->waiting, false);
        free_all(courier, courier->broken, false);
        (void) curl_multi_cleanup(courier->multi);
        (void) db_timer_free(courier->timer);
        (void) db_timer_free(courier->broken_timer);
        free(courier);
        curl_global_cleanup();
    }
    return NULL;
}

enum db_status db_courier_send(struct db_courier *courier, const struct db_errand *errand, db_returned *returned,
                               void *context, char why[256])
{
    struct db_target target;
    enum db_status status = db_errand_check(errand, &target, why);

    if (status != DB_OK)
        return status;
    if (courier->waiting_count == WAITING) {
        (void) snprintf(why, 256, "%d requests are waiting already", WAITING);
        return DB_FULL;
    }
    struct db_trip *trip = db_trip_new(errand, &target, why);
    if (!trip)
        return DB_FULL;
    trip->returned = returned;
    trip->context = context;
    if (courier->under_way_count < AT_ONCE) {
        start(courier, trip);
    } else {
        trip->next = NULL;
        *courier->waiting_end = trip;
        courier->waiting_end = &trip->next;
        courier->waiting_count++;
    }
    return DB_OK;
}

size_t db_courier_under_way(const struct db_courier *courier)
{
    return courier->under_way_count + courier->waiting_count;
}
