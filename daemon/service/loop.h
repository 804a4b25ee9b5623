/* The one event loop: epoll over what is ready, a heap of timers, signals, changes of files. It waits through a clock that
 * can be exchanged, so that tests run a year in seconds; asleep it wakes for nothing that nobody asked for. */
#ifndef DB_SERVICE_LOOP_H
#define DB_SERVICE_LOOP_H

#include "dewbell/status.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

struct epoll_event;

/* Where time comes from and how it is waited for. All in milliseconds. */
struct db_clock {
    int64_t (*wall)(void *context);   /* unix time; may jump */
    int64_t (*steady)(void *context); /* never jumps; goes on during suspend (CLOCK_BOOTTIME) */
    /* As epoll_wait(), until the steady time `until` (INT64_MAX: for ever) or, where `wall_until` is not INT64_MAX, until
     * the wall clock reads it, or until the wall clock is set. Returns the number of events, 0 for a time that has come. */
    int (*wait)(void *context, int epoll, struct epoll_event *events, int room, int64_t until, int64_t wall_until);
    void *context;
};

struct db_loop;
struct db_timer;

/* clock NULL: the real one (timerfd; wall timers with TFD_TIMER_CANCEL_ON_SET). */
struct db_loop *db_loop_new(const struct db_clock *clock);
struct db_loop *db_loop_free(struct db_loop *loop);
/* Until db_loop_stop(). DB_TROUBLE: epoll failed. */
DB_MUST_USE enum db_status db_loop_run(struct db_loop *loop);
/* One wait and what came of it; for tests. wait false: does not block. */
DB_MUST_USE enum db_status db_loop_turn(struct db_loop *loop, bool wait);
void db_loop_stop(struct db_loop *loop);
int64_t db_loop_wall(const struct db_loop *loop);   /* ms */
int64_t db_loop_steady(const struct db_loop *loop); /* ms */

/* A file descriptor; events: EPOLLIN, EPOLLOUT. The loop does not own it. Adding it again changes events and callback. */
typedef void db_ready(void *context, int fd, uint32_t events);
DB_MUST_USE enum db_status db_loop_watch(struct db_loop *loop, int fd, uint32_t events, db_ready *ready, void *context);
void db_loop_forget(struct db_loop *loop, int fd);

/* A timer, unset at first. name: constant text, shown by `dewbell status` and in the list of wake-ups. */
typedef void db_due(void *context);
struct db_timer *db_timer_new(struct db_loop *loop, const char *name, db_due *due, void *context);
struct db_timer *db_timer_free(struct db_timer *timer);
void db_timer_after(struct db_timer *timer, int64_t ms); /* on the steady clock */
void db_timer_at(struct db_timer *timer, int64_t wall);  /* on the wall clock, unix ms; due at once if it is past */
void db_timer_stop(struct db_timer *timer);

/* Called when the wall clock was set or the machine slept, before any timer. Several may ask. */
typedef void db_jumped(void *context);
DB_MUST_USE enum db_status db_loop_on_jump(struct db_loop *loop, db_jumped *jumped, void *context);

/* Index from 0 over the timers that are set, soonest first: name and when (wall, unix ms). False at the end. */
bool db_loop_next(const struct db_loop *loop, size_t index, const char **ret_name, int64_t *ret_wall);
/* Waits that ended so far; and whether the guard against a flood of timers (more than 20 in a second without an fd) tripped. */
uint64_t db_loop_wakes(const struct db_loop *loop);
bool db_loop_flooded(const struct db_loop *loop);

#endif
