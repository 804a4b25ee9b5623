/* A clock that jumps to the next time anybody waits for, so that a year passes in seconds. What is ready on a descriptor
 * comes first, always. Include after cmocka.h. */
#ifndef DB_TESTS_KIT_SIM_CLOCK_H
#define DB_TESTS_KIT_SIM_CLOCK_H

#include "service/loop.h"

#include <sys/epoll.h>

#include <errno.h>

/* Something that happens to the machine at a steady time: the wall clock is set, or it sleeps. */
struct sim_event {
    int64_t at;    /* steady ms, in order */
    int64_t set;   /* ms by which the wall clock is moved */
    int64_t sleep; /* ms for which the machine sleeps */
};

struct sim_clock {
    struct db_clock clock; /* hand this to db_loop_new() */
    int64_t wall, steady, end;
    const struct sim_event *events;
    size_t count, next;
    /* Whether a real peer still has something to say, so that time must stand still and we wait for real (5 ms at a time).
     * NULL: never. */
    bool (*busy)(void *context);
    void *busy_context;
};

static inline int64_t sim_wall(void *context)
{
    return ((const struct sim_clock *) context)->wall;
}

static inline int64_t sim_steady(void *context)
{
    return ((const struct sim_clock *) context)->steady;
}

static inline int sim_wait(void *context, int epoll, struct epoll_event *events, int room, int64_t until,
                           int64_t wall_until)
{
    struct sim_clock *sim = context;
    const bool waits = until > sim->steady && wall_until > sim->wall;
    int count = epoll_wait(epoll, events, room, 0);

    while (count == 0 && waits && sim->busy && sim->busy(sim->busy_context))
        count = epoll_wait(epoll, events, room, 5);
    if (count != 0 || !waits)
        return count;
    int64_t step = until == INT64_MAX ? INT64_MAX : until - sim->steady;
    if (wall_until != INT64_MAX && wall_until - sim->wall < step)
        step = wall_until - sim->wall;
    const struct sim_event *event = sim->next < sim->count ? &sim->events[sim->next] : NULL;
    if (event && event->at - sim->steady < step)
        step = event->at > sim->steady ? event->at - sim->steady : 0;
    else
        event = NULL;
    if (sim->end != INT64_MAX && sim->end - sim->steady < step) {
        step = sim->end - sim->steady;
        event = NULL;
    }
    if (step == INT64_MAX) { /* nothing is left that could ever end this wait */
        errno = EDEADLK;
        return -1;
    }
    if (event) {
        sim->next++;
        sim->steady += event->sleep;
        sim->wall += event->sleep + event->set;
    }
    sim->steady += step;
    sim->wall += step;
    return 0;
}

/* Starts at wall time `wall` (unix ms) and steady time 0. */
static inline void sim_start(struct sim_clock *sim, int64_t wall)
{
    *sim = (struct sim_clock){ .wall = wall, .end = INT64_MAX };
    sim->clock = (struct db_clock){ .wall = sim_wall, .steady = sim_steady, .wait = sim_wait, .context = sim };
}

/* Lets the loop run for `ms` of steady time, what is ready at the end included. */
static inline void sim_run(struct sim_clock *sim, struct db_loop *loop, int64_t ms)
{
    sim->end = sim->steady + ms;
    while (sim->steady < sim->end)
        assert_int_equal(db_loop_turn(loop, true), DB_OK);
    assert_int_equal(db_loop_turn(loop, false), DB_OK);
    sim->end = INT64_MAX;
}

#endif
