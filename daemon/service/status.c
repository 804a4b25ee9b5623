/* The status desk: accept, write the document, close. A reader that is slow gets five seconds. */
#include "service/status.h"

#include "service/log.h"
#include "service/report.h"

#include <errno.h>
#include <sys/epoll.h>
#include <sys/socket.h>
#include <sys/stat.h>
#include <sys/un.h>
#include <unistd.h>

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

enum { MOST_READERS = 8, PATIENCE_MS = 5000, QUEUE = 64 };

struct door { /* one socket */
    int fd;
    char *state;
};

struct reader { /* one connection that has not taken everything yet; fd -1: free */
    int fd;
    char *text;
    size_t length, sent;
};

struct db_desk {
    struct db_house *house;
    int64_t opened; /* unix seconds */
    struct door *doors;
    size_t door_count;
    struct reader readers[MOST_READERS];
    struct db_timer *patience;
};

static void let_go(struct db_desk *desk, struct reader *reader)
{
    db_loop_forget(desk->house->loop, reader->fd);
    (void) close(reader->fd);
    free(reader->text);
    *reader = (struct reader){ .fd = -1 };
}

/* Sends what the connection takes; true when there is nothing more to do with it. */
static bool send_more(struct reader *reader)
{
    while (reader->sent < reader->length) {
        ssize_t took =
            send(reader->fd, reader->text + reader->sent, reader->length - reader->sent, MSG_NOSIGNAL | MSG_DONTWAIT);
        if (took < 0 && errno == EINTR)
            continue;
        if (took < 0)
            return errno != EAGAIN && errno != EWOULDBLOCK;
        reader->sent += (size_t) took;
    }
    return true;
}

static void reader_ready(void *context, int fd, uint32_t events)
{
    struct db_desk *desk = context;

    (void) events;
    for (size_t i = 0; i < MOST_READERS; i++) {
        if (desk->readers[i].fd == fd && send_more(&desk->readers[i]))
            let_go(desk, &desk->readers[i]);
    }
}

static void out_of_patience(void *context)
{
    struct db_desk *desk = context;

    for (size_t i = 0; i < MOST_READERS; i++) {
        if (desk->readers[i].fd >= 0)
            let_go(desk, &desk->readers[i]);
    }
}

static void answer(struct db_desk *desk, int fd)
{
    size_t free_place = 0;
    struct reader *reader;

    while (free_place < MOST_READERS && desk->readers[free_place].fd >= 0)
        free_place++;
    if (free_place == MOST_READERS) { /* all places are taken by readers that do not read */
        (void) close(fd);
        return;
    }
    reader = &desk->readers[free_place];
    *reader = (struct reader){ .fd = fd };
    reader->text = db_report_json(desk->house, desk->opened, &reader->length);
    if (!reader->text || send_more(reader) ||
        db_loop_watch(desk->house->loop, fd, EPOLLOUT, reader_ready, desk) != DB_OK) {
        let_go(desk, reader);
        return;
    }
    db_timer_after(desk->patience, PATIENCE_MS);
}

static void door_ready(void *context, int door, uint32_t events)
{
    struct db_desk *desk = context;
    int fd;

    (void) events;
    while ((fd = accept4(door, NULL, NULL, SOCK_CLOEXEC | SOCK_NONBLOCK)) >= 0)
        answer(desk, fd);
}

/* Puts a listening socket there, of mode 0600 from its first moment on. */
static int listen_there(const char *state)
{
    struct sockaddr_un at;
    int folder, fd, trouble;

    if (!db_desk_address(state, &at, &folder))
        return -1;
    fd = socket(AF_UNIX, SOCK_STREAM | SOCK_CLOEXEC | SOCK_NONBLOCK, 0);
    if (fd >= 0 && (fchmod(fd, 0600) != 0 || (unlink(at.sun_path) != 0 && errno != ENOENT) ||
                    bind(fd, (const struct sockaddr *) &at, sizeof at) != 0 || listen(fd, QUEUE) != 0)) {
        trouble = errno;
        (void) close(fd);
        errno = trouble;
        fd = -1;
    }
    trouble = errno;
    if (folder >= 0)
        (void) close(folder);
    errno = trouble;
    return fd;
}

static struct door *door_of(struct db_desk *desk, const char *state)
{
    for (size_t i = 0; i < desk->door_count; i++)
        if (strcmp(desk->doors[i].state, state) == 0)
            return &desk->doors[i];
    return NULL;
}

/* A service whose status cannot be asked still does its work: the log says what is amiss. */
static void open_door(struct db_desk *desk, const char *state)
{
    struct door *doors;

    if (door_of(desk, state))
        return;
    doors = realloc(desk->doors, (desk->door_count + 1) * sizeof *doors);
    if (doors)
        desk->doors = doors;
    char *copy = doors ? strdup(state) : NULL;
    int fd = copy ? listen_there(state) : -1;
    if (fd >= 0 && db_loop_watch(desk->house->loop, fd, EPOLLIN, door_ready, desk) == DB_OK) {
        desk->doors[desk->door_count++] = (struct door){ .fd = fd, .state = copy };
        return;
    }
    db_log(DB_LOG_WARNING, "dewbell status will not answer: the socket in %s cannot be made: %s", state,
           fd < 0 ? strerror(errno) : "the loop does not take it");
    if (fd >= 0)
        (void) close(fd);
    free(copy);
}

static void close_door(struct db_desk *desk, struct door *door)
{
    struct sockaddr_un at;
    int folder;

    db_loop_forget(desk->house->loop, door->fd);
    if (db_desk_address(door->state, &at, &folder) && unlink(at.sun_path) != 0 && errno != ENOENT)
        db_log(DB_LOG_WARNING, "%s/" DB_DESK_NAME " cannot be removed: %s", door->state, strerror(errno));
    if (folder >= 0)
        (void) close(folder);
    (void) close(door->fd);
    free(door->state);
    desk->door_count--;
    memmove(door, door + 1, (size_t) (desk->doors + desk->door_count - door) * sizeof *door);
}

static void keeper_came(void *context, struct db_keeper *keeper, bool came)
{
    struct db_desk *desk = context;
    struct door *door = came ? NULL : door_of(desk, db_keeper_state(keeper));

    if (came)
        open_door(desk, db_keeper_state(keeper));
    else if (door)
        close_door(desk, door);
}

struct db_desk *db_desk_new(struct db_house *house)
{
    struct db_desk *desk = calloc(1, sizeof *desk);

    if (!desk)
        return NULL;
    desk->house = house;
    desk->opened = db_loop_wall(house->loop) / 1000;
    for (size_t i = 0; i < MOST_READERS; i++)
        desk->readers[i].fd = -1;
    desk->patience = db_timer_new(house->loop, "slow readers of the status", out_of_patience, desk);
    if (!desk->patience || db_house_on_keeper(house, keeper_came, desk) != DB_OK) {
        (void) db_timer_free(desk->patience);
        free(desk);
        return NULL;
    }
    for (size_t i = 0; i < house->keeper_count; i++)
        open_door(desk, db_keeper_state(house->keepers[i]));
    return desk;
}

struct db_desk *db_desk_free(struct db_desk *desk)
{
    if (!desk)
        return NULL;
    out_of_patience(desk);
    while (desk->door_count)
        close_door(desk, &desk->doors[desk->door_count - 1]);
    (void) db_timer_free(desk->patience);
    free(desk->doors);
    free(desk);
    return NULL;
}
