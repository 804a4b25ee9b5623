#include "service/loop.h"

#include "service/clock.h"
#include "service/log.h"

#include <sys/epoll.h>

#include <errno.h>
#include <stdlib.h>
#include <unistd.h>

#include "base/banned.h"

enum {
    EVENTS = 64,
    FLOOD = 20,       /* timer wake-ups in a second without an fd that are too many */
    BACK_OFF = 1000,  /* ms without timers after that */
    JUMP = 1000,      /* ms by which the wall clock differs from the steady one: less is slewing */
    SLEPT = 30 * 1000 /* ms late that no load explains */
};

enum place { NOWHERE, ON_STEADY, ON_WALL, DUE };

struct db_timer {
    struct db_loop *loop;
    const char *name;
    db_due *due;
    void *context;
    enum place place;
    size_t at;      /* in its heap */
    int64_t when;   /* on its clock */
    uint64_t order; /* of setting: the earlier first where the times are equal */
    int64_t steady; /* while it is due: when it was, for the order among both kinds */
    struct db_timer *next, *before;
};

struct heap {
    struct db_timer **timers;
    size_t count, room;
};

struct watch {
    db_ready *ready; /* NULL: not watched */
    void *context;
    uint32_t turn; /* raised at each change, so that an event of what the number stood for before is known */
};

struct jump_call {
    db_jumped *jumped;
    void *context;
};

struct db_loop {
    struct db_clock clock;
    bool own_clock, stopped, flooded;
    int epoll;
    struct watch *watches; /* by descriptor */
    size_t watch_room;
    struct heap heaps[2]; /* ON_STEADY - 1, ON_WALL - 1 */
    size_t timers;        /* that exist: each has its place in both heaps, so that setting one cannot fail */
    struct db_timer *due; /* in the order they will be called */
    uint64_t order, wakes;
    int64_t offset; /* wall - steady when we last looked */
    struct jump_call *jumps;
    size_t jump_count;
    int64_t second;  /* steady time at which counting for the guard began */
    int counted;     /* timer wake-ups since */
    int64_t silence; /* no timers before this steady time */
};

int64_t db_loop_wall(const struct db_loop *loop)
{
    return loop->clock.wall(loop->clock.context);
}

int64_t db_loop_steady(const struct db_loop *loop)
{
    return loop->clock.steady(loop->clock.context);
}

struct db_loop *db_loop_new(const struct db_clock *clock)
{
    struct db_loop *loop = calloc(1, sizeof *loop);

    if (!loop)
        return NULL;
    loop->epoll = epoll_create1(EPOLL_CLOEXEC);
    loop->own_clock = !clock;
    if (clock)
        loop->clock = *clock;
    if (loop->epoll < 0 || (!clock && db_clock_real(&loop->clock) != DB_OK))
        return db_loop_free(loop);
    loop->offset = db_loop_wall(loop) - db_loop_steady(loop);
    return loop;
}

struct db_loop *db_loop_free(struct db_loop *loop)
{
    if (loop) {
        if (loop->epoll >= 0)
            (void) close(loop->epoll);
        if (loop->own_clock)
            db_clock_real_free(&loop->clock);
        free(loop->watches);
        free(loop->heaps[0].timers);
        free(loop->heaps[1].timers);
        free(loop->jumps);
        free(loop);
    }
    return NULL;
}

/* ---- timers ---- */

static bool sooner(const struct db_timer *a, const struct db_timer *b)
{
    return a->when != b->when ? a->when < b->when : a->order < b->order;
}

static void put(struct heap *heap, size_t at, struct db_timer *timer)
{
    heap->timers[at] = timer;
    timer->at = at;
}

static void rise(struct heap *heap, size_t at)
{
    struct db_timer *timer = heap->timers[at];

    for (; at > 0 && sooner(timer, heap->timers[(at - 1) / 2]); at = (at - 1) / 2)
        put(heap, at, heap->timers[(at - 1) / 2]);
    put(heap, at, timer);
}

static void sink(struct heap *heap, size_t at)
{
    struct db_timer *timer = heap->timers[at];

    for (size_t child; (child = at * 2 + 1) < heap->count; at = child) {
        if (child + 1 < heap->count && sooner(heap->timers[child + 1], heap->timers[child]))
            child++;
        if (!sooner(heap->timers[child], timer))
            break;
        put(heap, at, heap->timers[child]);
    }
    put(heap, at, timer);
}

static struct heap *heap_of(const struct db_timer *timer)
{
    return &timer->loop->heaps[timer->place - ON_STEADY];
}

static void leave_heap(struct db_timer *timer)
{
    struct heap *heap = heap_of(timer);
    size_t at = timer->at;
    struct db_timer *last = heap->timers[--heap->count];

    if (last != timer) {
        put(heap, at, last);
        rise(heap, at);
        sink(heap, last->at);
    }
    timer->place = NOWHERE;
}

static void leave_due(struct db_timer *timer)
{
    if (timer->before)
        timer->before->next = timer->next;
    else
        timer->loop->due = timer->next;
    if (timer->next)
        timer->next->before = timer->before;
    timer->next = timer->before = NULL;
    timer->place = NOWHERE;
}

static void enter_heap(struct db_timer *timer, enum place place, int64_t when)
{
    db_timer_stop(timer);
    timer->place = place;
    timer->when = when;
    timer->order = timer->loop->order++;
    struct heap *heap = heap_of(timer);
    put(heap, heap->count++, timer);
    rise(heap, timer->at);
}

struct db_timer *db_timer_new(struct db_loop *loop, const char *name, db_due *due, void *context)
{
    struct db_timer *timer = calloc(1, sizeof *timer);

    if (!timer)
        return NULL;
    for (size_t i = 0; i < 2; i++) {
        struct heap *heap = &loop->heaps[i];
        if (loop->timers < heap->room)
            continue;
        size_t room = heap->room ? heap->room * 2 : 16;
        struct db_timer **grown = reallocarray(heap->timers, room, sizeof(struct db_timer *));
        if (!grown) {
            free(timer);
            return NULL;
        }
        heap->timers = grown;
        heap->room = room;
    }
    loop->timers++;
    *timer = (struct db_timer){ .loop = loop, .name = name, .due = due, .context = context };
    return timer;
}

struct db_timer *db_timer_free(struct db_timer *timer)
{
    if (timer) {
        db_timer_stop(timer);
        timer->loop->timers--;
        free(timer);
    }
    return NULL;
}

void db_timer_after(struct db_timer *timer, int64_t ms)
{
    int64_t now = db_loop_steady(timer->loop);

    if (ms < 0)
        ms = 0;
    enter_heap(timer, ON_STEADY, ms > INT64_MAX - 1 - now ? INT64_MAX - 1 : now + ms);
}

void db_timer_at(struct db_timer *timer, int64_t wall)
{
    enter_heap(timer, ON_WALL, wall);
}

void db_timer_stop(struct db_timer *timer)
{
    if (timer->place == DUE)
        leave_due(timer);
    else if (timer->place != NOWHERE)
        leave_heap(timer);
}

/* Behind those that were due before it. */
static void make_due(struct db_timer *timer, int64_t steady)
{
    struct db_loop *loop = timer->loop;
    struct db_timer *before = NULL, *next = loop->due;

    leave_heap(timer);
    timer->steady = steady;
    while (next && (next->steady < steady || (next->steady == steady && next->order < timer->order))) {
        before = next;
        next = next->next;
    }
    timer->before = before;
    timer->next = next;
    if (before)
        before->next = timer;
    else
        loop->due = timer;
    if (next)
        next->before = timer;
    timer->place = DUE;
}

static void count_wake(struct db_loop *loop, int64_t steady)
{
    if (steady - loop->second >= 1000) {
        loop->second = steady;
        loop->counted = 0;
    }
    if (++loop->counted <= FLOOD)
        return;
    db_log(DB_LOG_WARNING, "more than %d timer wake-ups in a second, the last for \"%s\"; timers rest for a second",
           FLOOD, loop->due->name);
    loop->flooded = true;
    loop->silence = steady + BACK_OFF;
}

/* What is set while these are called waits for the next turn: a timer that sets itself anew cannot keep the loop here. */
static void call_due(struct db_loop *loop)
{
    const int64_t steady = db_loop_steady(loop), wall = db_loop_wall(loop);
    struct heap *on_steady = &loop->heaps[0], *on_wall = &loop->heaps[1];

    if (steady < loop->silence)
        return;
    while (on_steady->count && on_steady->timers[0]->when <= steady)
        make_due(on_steady->timers[0], on_steady->timers[0]->when);
    while (on_wall->count && on_wall->timers[0]->when <= wall)
        make_due(on_wall->timers[0], steady - (wall - on_wall->timers[0]->when));
    if (loop->due)
        count_wake(loop, steady);
    while (loop->due) {
        struct db_timer *timer = loop->due;

        leave_due(timer);
        timer->due(timer->context); /* it may free the timer */
    }
}

/* ---- descriptors ---- */

enum db_status db_loop_watch(struct db_loop *loop, int fd, uint32_t events, db_ready *ready, void *context)
{
    if (fd < 0)
        return DB_RANGE;
    if ((size_t) fd >= loop->watch_room) {
        size_t room = loop->watch_room ? loop->watch_room : 32;
        while (room <= (size_t) fd)
            room *= 2;
        struct watch *grown = reallocarray(loop->watches, room, sizeof *grown);
        if (!grown)
            return DB_FULL;
        for (size_t i = loop->watch_room; i < room; i++)
            grown[i] = (struct watch){ 0 };
        loop->watches = grown;
        loop->watch_room = room;
    }
    struct watch *watch = &loop->watches[fd];
    struct epoll_event event = { .events = events };
    /* The highest count is left out: all ones would be the mark of a clock's timer. */
    const uint32_t turn = watch->turn >= UINT32_MAX - 2 ? 1 : watch->turn + 1;
    event.data.u64 = (uint64_t) turn << 32 | (uint32_t) fd;
    if (epoll_ctl(loop->epoll, EPOLL_CTL_MOD, fd, &event) != 0 &&
        (errno != ENOENT || epoll_ctl(loop->epoll, EPOLL_CTL_ADD, fd, &event) != 0))
        return errno == ENOMEM || errno == ENOSPC ? DB_FULL : DB_RANGE;
    *watch = (struct watch){ .ready = ready, .context = context, .turn = turn };
    return DB_OK;
}

void db_loop_forget(struct db_loop *loop, int fd)
{
    if (fd < 0 || (size_t) fd >= loop->watch_room || !loop->watches[fd].ready)
        return;
    loop->watches[fd].ready = NULL;
    /* One that was closed before has left by itself. */
    (void) epoll_ctl(loop->epoll, EPOLL_CTL_DEL, fd, NULL);
}

static void call_ready(struct db_loop *loop, const struct epoll_event *events, int count)
{
    for (int i = 0; i < count; i++) {
        const size_t fd = events[i].data.u64 & UINT32_MAX;

        if (fd >= loop->watch_room)
            continue;
        const struct watch watch = loop->watches[fd]; /* the table may move meanwhile */
        if (watch.ready && watch.turn == events[i].data.u64 >> 32)
            watch.ready(watch.context, (int) fd, events[i].events);
    }
}

/* ---- turns ---- */

enum db_status db_loop_on_jump(struct db_loop *loop, db_jumped *jumped, void *context)
{
    struct jump_call *grown = reallocarray(loop->jumps, loop->jump_count + 1, sizeof *grown);

    if (!grown)
        return DB_FULL;
    loop->jumps = grown;
    loop->jumps[loop->jump_count++] = (struct jump_call){ .jumped = jumped, .context = context };
    return DB_OK;
}

static void look_for_jump(struct db_loop *loop, int64_t until)
{
    const int64_t steady = db_loop_steady(loop), offset = db_loop_wall(loop) - steady, by = offset - loop->offset;
    const bool slept = until != INT64_MAX && steady - until > SLEPT;

    loop->offset = offset;
    if (by > -JUMP && by < JUMP && !slept)
        return;
    if (slept)
        db_log(DB_LOG_NOTICE, "the machine slept, or was busy for %lld s", (long long) ((steady - until) / 1000));
    else
        db_log(DB_LOG_NOTICE, "the clock was set %s by %lld s", by < 0 ? "back" : "on",
               (long long) ((by < 0 ? -by : by) / 1000));
    for (size_t i = 0; i < loop->jump_count; i++)
        loop->jumps[i].jumped(loop->jumps[i].context);
}

enum db_status db_loop_turn(struct db_loop *loop, bool wait)
{
    struct epoll_event events[EVENTS];
    int64_t until = loop->heaps[0].count ? loop->heaps[0].timers[0]->when : INT64_MAX;
    int64_t wall_until = loop->heaps[1].count ? loop->heaps[1].timers[0]->when : INT64_MAX;

    if (db_loop_steady(loop) < loop->silence) {
        until = loop->silence;
        wall_until = INT64_MAX;
    }
    const int64_t asked = until;
    if (!wait)
        until = db_loop_steady(loop);
    int count = loop->clock.wait(loop->clock.context, loop->epoll, events, EVENTS, until, wall_until);
    if (count < 0 && errno != EINTR)
        return DB_TROUBLE;
    loop->wakes++;
    look_for_jump(loop, wait ? asked : INT64_MAX);
    if (count > 0) {
        loop->counted = 0;
        call_ready(loop, events, count);
    }
    if (!loop->stopped)
        call_due(loop);
    return DB_OK;
}

enum db_status db_loop_run(struct db_loop *loop)
{
    enum db_status status = DB_OK;

    while (!loop->stopped && status == DB_OK)
        status = db_loop_turn(loop, true);
    loop->stopped = false;
    return status;
}

void db_loop_stop(struct db_loop *loop)
{
    loop->stopped = true;
}

/* ---- what is known of it ---- */

/* The wall time at which a timer of a heap will be due, as things stand. */
static int64_t wall_of(const struct db_loop *loop, const struct db_timer *timer)
{
    int64_t offset = db_loop_wall(loop) - db_loop_steady(loop);

    return timer->place == ON_WALL || timer->when > INT64_MAX / 2 ? timer->when : timer->when + offset;
}

bool db_loop_next(const struct db_loop *loop, size_t index, const char **ret_name, int64_t *ret_wall)
{
    const struct db_timer *last = NULL;

    /* For people to read, now and then: no need to be quick. */
    for (size_t i = 0; i <= index; i++) {
        const struct db_timer *best = NULL;

        for (size_t h = 0; h < 2; h++)
            for (size_t t = 0; t < loop->heaps[h].count; t++) {
                const struct db_timer *timer = loop->heaps[h].timers[t];
                int64_t at = wall_of(loop, timer);
                bool after =
                    !last || at > wall_of(loop, last) || (at == wall_of(loop, last) && timer->order > last->order);

                if (after &&
                    (!best || at < wall_of(loop, best) || (at == wall_of(loop, best) && timer->order < best->order)))
                    best = timer;
            }
        if (!best)
            return false;
        last = best;
    }
    *ret_name = last->name;
    *ret_wall = wall_of(loop, last);
    return true;
}

uint64_t db_loop_wakes(const struct db_loop *loop)
{
    return loop->wakes;
}

bool db_loop_flooded(const struct db_loop *loop)
{
    return loop->flooded;
}
