#include "service/watcher.h"

#include <sys/epoll.h>
#include <sys/inotify.h>

#include <errno.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "base/banned.h"

/* IN_ATTRIB: a file that becomes readable. */
static const uint32_t kinds[] = {
    [DB_WATCH_FOLDER] = IN_ONLYDIR | IN_CLOSE_WRITE | IN_CREATE | IN_MOVED_TO | IN_MOVED_FROM | IN_DELETE | IN_ATTRIB |
                        IN_DELETE_SELF | IN_MOVE_SELF,
    [DB_WATCH_WRITES] = IN_ONLYDIR | IN_CLOSE_WRITE | IN_MODIFY | IN_CREATE | IN_MOVED_TO | IN_MOVED_FROM | IN_DELETE,
    [DB_WATCH_FILE] = IN_MODIFY,
};

struct interest {
    int watch; /* of the kernel; -1: gone */
    char *folder;
    db_folder_changed *changed;
    void *context;
    bool named; /* again, since begin */
};

struct db_watcher {
    struct db_loop *loop;
    int fd;
    struct interest *interests;
    size_t count, room;
    bool calling, dropped; /* entries go only when nobody walks over them */
};

static void forget_kernel(struct db_watcher *watcher, int watch)
{
    for (size_t i = 0; i < watcher->count; i++)
        if (watcher->interests[i].watch == watch)
            return;
    if (watch >= 0)
        (void) inotify_rm_watch(watcher->fd, watch);
}

static void sweep(struct db_watcher *watcher)
{
    size_t kept = 0;

    for (size_t i = 0; i < watcher->count; i++) {
        if (watcher->interests[i].changed)
            watcher->interests[kept++] = watcher->interests[i];
        else
            free(watcher->interests[i].folder);
    }
    watcher->count = kept;
    watcher->dropped = false;
}

static void tell(struct db_watcher *watcher, const struct inotify_event *event)
{
    const bool self = (event->mask & (IN_DELETE_SELF | IN_MOVE_SELF | IN_IGNORED | IN_UNMOUNT | IN_Q_OVERFLOW)) != 0;
    const char *name = self || event->len == 0 ? "" : event->name;
    const size_t count = watcher->count; /* what is added meanwhile has not seen this */

    for (size_t i = 0; i < count; i++) {
        struct interest *interest = &watcher->interests[i];

        if (!interest->changed || (interest->watch != event->wd && !(event->mask & IN_Q_OVERFLOW)))
            continue;
        if (event->mask & (IN_IGNORED | IN_MOVE_SELF))
            interest->watch = -1; /* the name may stand for another folder when it is named again */
        interest->changed(interest->context, interest->folder, name, !(event->mask & IN_MODIFY));
    }
}

static void ready(void *context, int fd, uint32_t events)
{
    struct db_watcher *watcher = context;
    _Alignas(struct inotify_event) char buffer[16 * 1024];
    (void) events;

    ssize_t length = read(fd, buffer, sizeof buffer);
    watcher->calling = true;
    for (ssize_t at = 0; at < length;) {
        const struct inotify_event *event = (const struct inotify_event *) (const void *) (buffer + at);
        tell(watcher, event);
        at += (ssize_t) (sizeof *event + event->len);
    }
    watcher->calling = false;
    if (watcher->dropped)
        sweep(watcher);
}

struct db_watcher *db_watcher_new(struct db_loop *loop)
{
    struct db_watcher *watcher = calloc(1, sizeof *watcher);

    if (!watcher)
        return NULL;
    watcher->loop = loop;
    watcher->fd = inotify_init1(IN_NONBLOCK | IN_CLOEXEC);
    if (watcher->fd < 0 || db_loop_watch(loop, watcher->fd, EPOLLIN, ready, watcher) != DB_OK)
        return db_watcher_free(watcher);
    return watcher;
}

struct db_watcher *db_watcher_free(struct db_watcher *watcher)
{
    if (watcher) {
        db_loop_forget(watcher->loop, watcher->fd);
        if (watcher->fd >= 0)
            (void) close(watcher->fd);
        for (size_t i = 0; i < watcher->count; i++)
            free(watcher->interests[i].folder);
        free(watcher->interests);
        free(watcher);
    }
    return NULL;
}

void db_watcher_begin(struct db_watcher *watcher, const void *context)
{
    for (size_t i = 0; i < watcher->count; i++)
        if (watcher->interests[i].context == context)
            watcher->interests[i].named = false;
}

enum db_status db_watcher_add(struct db_watcher *watcher, const char *path, enum db_watch what,
                              db_folder_changed *changed, void *context, bool *ret_new)
{
    /* For what is watched already the kernel answers with the same number; without IN_MASK_ADD it would forget what others
     * asked for. */
    int watch = inotify_add_watch(watcher->fd, path, kinds[what] | IN_MASK_ADD);
    size_t at = 0;

    if (watch < 0)
        return errno == ENOENT || errno == ENOTDIR ? DB_ABSENT : DB_TROUBLE;
    for (; at < watcher->count; at++) {
        struct interest *interest = &watcher->interests[at];
        if (interest->changed == changed && interest->context == context && interest->watch == watch) {
            interest->named = true;
            if (ret_new)
                *ret_new = false;
            return DB_OK;
        }
    }
    if (watcher->count == watcher->room) {
        size_t room = watcher->room ? watcher->room * 2 : 16;
        struct interest *grown = reallocarray(watcher->interests, room, sizeof *grown);
        if (!grown)
            return DB_FULL;
        watcher->interests = grown;
        watcher->room = room;
    }
    char *copy = strdup(path);
    if (!copy)
        return DB_FULL;
    watcher->interests[watcher->count++] =
        (struct interest){ .watch = watch, .folder = copy, .changed = changed, .context = context, .named = true };
    if (ret_new)
        *ret_new = true;
    return DB_OK;
}

void db_watcher_end(struct db_watcher *watcher, const void *context)
{
    for (size_t i = 0; i < watcher->count; i++) {
        struct interest *interest = &watcher->interests[i];
        int watch = interest->watch;

        if (interest->context != context || interest->named || !interest->changed)
            continue;
        interest->changed = NULL;
        interest->watch = -1;
        watcher->dropped = true;
        forget_kernel(watcher, watch);
    }
    if (watcher->dropped && !watcher->calling)
        sweep(watcher);
}
