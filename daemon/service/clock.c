/* The real clock: two timers of the kernel in the loop's epoll. One counts on through suspend, the other follows the wall
 * clock and is cancelled when that is set, so that nothing has to look at the time now and then. */
#include "service/clock.h"

#include <sys/epoll.h>
#include <sys/timerfd.h>

#include <errno.h>
#include <stdlib.h>
#include <time.h>
#include <unistd.h>

#include "base/banned.h"

/* What the events of the two timers bear; those of the loop bear a descriptor and a count. */
#define STEADY_MARK UINT64_MAX
#define WALL_MARK (UINT64_MAX - 1)

/* Where no wall timer is set the wall timer still stands, far off: only a timer that is set is cancelled. */
static const int64_t far_off = INT64_C(253402300799000); /* the end of 9999 */

struct real {
    int steady, wall;          /* timerfd */
    int epoll;                 /* where they are registered; -1: nowhere yet */
    int64_t until, wall_until; /* what they are set to */
};

static int64_t milliseconds(clockid_t which)
{
    struct timespec now = { 0 };

    (void) clock_gettime(which, &now);
    return (int64_t) now.tv_sec * 1000 + now.tv_nsec / 1000000;
}

static int64_t real_wall(void *context)
{
    (void) context;
    return milliseconds(CLOCK_REALTIME);
}

static int64_t real_steady(void *context)
{
    (void) context;
    return milliseconds(CLOCK_BOOTTIME);
}

static bool set(int timer, int flags, int64_t at)
{
    struct itimerspec spec = { 0 };

    if (at < 1)
        at = 1; /* all zeros would stop it */
    spec.it_value.tv_sec = (time_t) (at / 1000);
    spec.it_value.tv_nsec = (long) (at % 1000) * 1000000;
    /* ECANCELED: the clock was set since we last looked; the timer is set all the same, and its event tells. */
    return timerfd_settime(timer, TFD_TIMER_ABSTIME | flags, &spec, NULL) == 0 || errno == ECANCELED;
}

static bool stop(int timer)
{
    const struct itimerspec none = { 0 };

    return timerfd_settime(timer, 0, &none, NULL) == 0;
}

static bool enter(struct real *real, int epoll)
{
    struct epoll_event steady = { .events = EPOLLIN, .data.u64 = STEADY_MARK },
                       wall = { .events = EPOLLIN, .data.u64 = WALL_MARK };

    if (real->epoll == epoll)
        return true;
    if (epoll_ctl(epoll, EPOLL_CTL_ADD, real->steady, &steady) != 0 ||
        epoll_ctl(epoll, EPOLL_CTL_ADD, real->wall, &wall) != 0)
        return false;
    real->epoll = epoll;
    return true;
}

/* Only what changed costs a call. */
static bool arm(struct real *real, int64_t until, int64_t wall_until)
{
    if (wall_until > far_off)
        wall_until = far_off;
    if (until != real->until) {
        if (!(until == INT64_MAX ? stop(real->steady) : set(real->steady, 0, until)))
            return false;
        real->until = until;
    }
    if (wall_until != real->wall_until) {
        if (!set(real->wall, TFD_TIMER_CANCEL_ON_SET, wall_until))
            return false;
        real->wall_until = wall_until;
    }
    return true;
}

/* Reads the timer empty. A cancelled one fails to be read once and must be set again. */
static void take(int timer, int64_t *set_to)
{
    uint64_t times;

    if (read(timer, &times, sizeof times) < 0 && errno == EAGAIN)
        return;
    *set_to = INT64_MIN;
}

static int real_wait(void *context, int epoll, struct epoll_event *events, int room, int64_t until, int64_t wall_until)
{
    struct real *real = context;
    const bool block = until > real_steady(NULL) && wall_until > real_wall(NULL);
    int kept = 0;

    if (!enter(real, epoll) || (block && !arm(real, until, wall_until)))
        return -1;
    int count = epoll_wait(epoll, events, room, block ? -1 : 0);
    for (int i = 0; i < count; i++) {
        if (events[i].data.u64 == STEADY_MARK)
            take(real->steady, &real->until);
        else if (events[i].data.u64 == WALL_MARK)
            take(real->wall, &real->wall_until);
        else
            events[kept++] = events[i];
    }
    return count < 0 ? count : kept;
}

enum db_status db_clock_real(struct db_clock *ret)
{
    struct real *real = malloc(sizeof *real);

    if (!real)
        return DB_FULL;
    *real = (struct real){ .steady = timerfd_create(CLOCK_BOOTTIME, TFD_NONBLOCK | TFD_CLOEXEC),
                           .wall = timerfd_create(CLOCK_REALTIME, TFD_NONBLOCK | TFD_CLOEXEC),
                           .epoll = -1,
                           .until = INT64_MAX,
                           .wall_until = INT64_MIN };
    *ret = (struct db_clock){ .wall = real_wall, .steady = real_steady, .wait = real_wait, .context = real };
    if (real->steady >= 0 && real->wall >= 0)
        return DB_OK;
    db_clock_real_free(ret);
    return DB_TROUBLE;
}

void db_clock_real_free(struct db_clock *clock)
{
    struct real *real = clock->context;

    if (real) {
        if (real->steady >= 0)
            (void) close(real->steady);
        if (real->wall >= 0)
            (void) close(real->wall);
        free(real);
    }
    clock->context = NULL;
}
