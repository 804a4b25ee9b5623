#include "service/notify.h"

#include <systemd/sd-daemon.h>

#include <stdlib.h>
#include <time.h>

#include "base/banned.h"

struct db_notify {
    struct db_timer *beat;
    int64_t every; /* ms; 0: no watchdog */
};

static void beat(void *context)
{
    struct db_notify *notify = context;

    (void) sd_notify(0, "WATCHDOG=1");
    db_timer_after(notify->beat, notify->every);
}

struct db_notify *db_notify_new(struct db_loop *loop)
{
    struct db_notify *notify = calloc(1, sizeof *notify);
    uint64_t patience = 0;

    if (!notify)
        return NULL;
    notify->beat = db_timer_new(loop, "tell the watchdog that we live", beat, notify);
    if (!notify->beat)
        return db_notify_free(notify);
    if (sd_watchdog_enabled(0, &patience) > 0) {
        notify->every = (int64_t) (patience / 1000 / 2); /* half of its patience, as sd_watchdog_enabled(3) advises */
        if (notify->every < 100)
            notify->every = 100;
        db_timer_after(notify->beat, notify->every);
    }
    return notify;
}

struct db_notify *db_notify_free(struct db_notify *notify)
{
    if (notify) {
        notify->beat = db_timer_free(notify->beat);
        free(notify);
    }
    return NULL;
}

void db_notify_ready(const char *status)
{
    (void) sd_notifyf(0, "READY=1\nSTATUS=%s", status);
}

void db_notify_reloading(void)
{
    struct timespec now = { 0 };

    (void) clock_gettime(CLOCK_MONOTONIC, &now);
    (void) sd_notifyf(0, "RELOADING=1\nMONOTONIC_USEC=%lld", (long long) now.tv_sec * 1000000 + now.tv_nsec / 1000);
}

void db_notify_stopping(void)
{
    (void) sd_notify(0, "STOPPING=1");
}

size_t db_notify_sockets(int *ret, size_t room)
{
    int count = sd_listen_fds(1);
    size_t taken = 0;

    for (int i = 0; i < count && taken < room; i++)
        ret[taken++] = SD_LISTEN_FDS_START + i;
    return taken;
}
