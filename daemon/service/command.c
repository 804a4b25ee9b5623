#include "service/command.h"

#include <sys/epoll.h>
#include <sys/pidfd.h>
#include <sys/wait.h>

#include <errno.h>
#include <fcntl.h>
#include <signal.h>
#include <spawn.h>
#include <unistd.h>

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

enum { SAID_MOST = 120 };

struct db_command {
    struct db_loop *loop;
    struct db_timer *limit;
    db_command_ended *ended;
    void *context;
    pid_t pid;
    int watch;       /* pidfd */
    int input, said; /* our ends of its standard input and error; -1: closed */
    char *text;
    size_t length, given;
    int seconds;
    bool too_long;
    char words[SAID_MOST + 1]; /* the beginning of what it wrote to standard error */
    size_t word_length;
};

static void close_end(struct db_command *command, int *end)
{
    if (*end >= 0) {
        db_loop_forget(command->loop, *end);
        (void) close(*end);
        *end = -1;
    }
}

static void release(struct db_command *command)
{
    close_end(command, &command->input);
    close_end(command, &command->said);
    close_end(command, &command->watch);
    (void) db_timer_free(command->limit);
    free(command->text);
    free(command);
}

static void on_input(void *context, int fd, uint32_t events)
{
    struct db_command *command = context;
    const ssize_t took = write(fd, command->text + command->given, command->length - command->given);

    (void) events;
    if (took > 0)
        command->given += (size_t) took;
    /* It may end without reading everything: its exit status is what counts. */
    if (command->given == command->length || (took < 0 && errno != EAGAIN && errno != EINTR))
        close_end(command, &command->input);
}

static void hear(struct db_command *command)
{
    char part[512];
    ssize_t got;

    while ((got = read(command->said, part, sizeof part)) > 0)
        for (ssize_t i = 0; i < got && command->word_length < SAID_MOST; i++) {
            const unsigned char c = (unsigned char) part[i];

            command->words[command->word_length++] = (char) (c < 0x20 || c >= 0x7f ? ' ' : c);
        }
    if (got == 0 || (errno != EAGAIN && errno != EINTR))
        close_end(command, &command->said);
}

static void on_said(void *context, int fd, uint32_t events)
{
    (void) fd;
    (void) events;
    hear(context);
}

static void say_end(const struct db_command *command, const siginfo_t *how, char trouble[256])
{
    int used;

    if (command->too_long)
        used = snprintf(trouble, 256, "the command was not done within %d s", command->seconds);
    else if (how->si_code == CLD_EXITED)
        used = snprintf(trouble, 256, "the command ended with status %d", how->si_status);
    else
        used = snprintf(trouble, 256, "the command was ended by signal %d", how->si_status);
    size_t length = command->word_length;
    while (length && command->words[length - 1] == ' ')
        length--;
    if (length && used > 0)
        (void) snprintf(trouble + used, 256 - (size_t) used, ": %.*s", (int) length, command->words);
}

static void on_end(void *context, int fd, uint32_t events)
{
    struct db_command *command = context;
    siginfo_t how = { 0 };
    char trouble[256] = "";

    (void) events;
    if (waitid(P_PIDFD, (id_t) fd, &how, WEXITED | WNOHANG) != 0 || how.si_pid == 0)
        return;
    if (command->said >= 0)
        hear(command);
    const bool done = !command->too_long && how.si_code == CLD_EXITED && how.si_status == 0;
    if (!done)
        say_end(command, &how, trouble);
    db_command_ended *ended = command->ended;
    void *whose = command->context;
    release(command);
    ended(whose, done, trouble);
}

static void on_limit(void *context)
{
    struct db_command *command = context;

    command->too_long = true;
    (void) kill(-command->pid, SIGKILL); /* its end arrives at the pidfd */
}

/* Pipes: [0] is read, [1] written. */
struct ends {
    int input[2], said[2];
};

static void close_ends(struct ends *ends)
{
    int *all[] = { &ends->input[0], &ends->input[1], &ends->said[0], &ends->said[1] };

    for (size_t i = 0; i < sizeof all / sizeof all[0]; i++)
        if (*all[i] >= 0) {
            (void) close(*all[i]);
            *all[i] = -1;
        }
}

static int spawn(struct db_command *command, const struct db_order *order, const struct ends *ends)
{
    posix_spawn_file_actions_t files;
    posix_spawnattr_t how;
    sigset_t none, all;

    (void) sigemptyset(&none);
    (void) sigfillset(&all);
    (void) posix_spawn_file_actions_init(&files);
    (void) posix_spawnattr_init(&how);
    int code = posix_spawn_file_actions_adddup2(&files, ends->input[0], STDIN_FILENO);
    if (code == 0)
        code = posix_spawn_file_actions_addopen(&files, STDOUT_FILENO, "/dev/null", O_WRONLY, 0);
    if (code == 0)
        code = posix_spawn_file_actions_adddup2(&files, ends->said[1], STDERR_FILENO);
    if (code == 0)
        code = posix_spawn_file_actions_addclosefrom_np(&files, STDERR_FILENO + 1);
    if (code == 0)
        code = posix_spawn_file_actions_addchdir_np(&files, "/");
    if (code == 0)
        code = posix_spawnattr_setflags(&how, POSIX_SPAWN_SETPGROUP | POSIX_SPAWN_SETSIGMASK | POSIX_SPAWN_SETSIGDEF);
    if (code == 0)
        code = posix_spawnattr_setpgroup(&how, 0);
    if (code == 0)
        code = posix_spawnattr_setsigmask(&how, &none);
    if (code == 0)
        code = posix_spawnattr_setsigdefault(&how, &all);
    /* The library's declarations are older than const; nothing is written through. */
    if (code == 0)
        code = posix_spawn(&command->pid, order->words[0], &files, &how, (char *const *) (uintptr_t) order->words,
                           (char *const *) (uintptr_t) order->environment);
    (void) posix_spawnattr_destroy(&how);
    (void) posix_spawn_file_actions_destroy(&files);
    return code;
}

static bool watch_all(struct db_command *command)
{
    command->watch = pidfd_open(command->pid, 0);
    if (command->watch < 0 || fcntl(command->watch, F_SETFD, FD_CLOEXEC) != 0)
        return false;
    if (db_loop_watch(command->loop, command->watch, EPOLLIN, on_end, command) != DB_OK ||
        db_loop_watch(command->loop, command->said, EPOLLIN, on_said, command) != DB_OK ||
        db_loop_watch(command->loop, command->input, EPOLLOUT, on_input, command) != DB_OK)
        return false;
    db_timer_after(command->limit, (int64_t) command->seconds * 1000);
    return true;
}

struct db_command *db_command_run(struct db_loop *loop, const struct db_order *order, db_command_ended *ended,
                                  void *context, char why[256])
{
    struct db_command *command = calloc(1, sizeof *command);
    struct ends ends = { { -1, -1 }, { -1, -1 } };

    /* A program that ends before it has read everything must not end us. */
    (void) signal(SIGPIPE, SIG_IGN);
    if (!command) {
        (void) snprintf(why, 256, "there is no memory left");
        return NULL;
    }
    *command = (struct db_command){ .loop = loop,
                                    .ended = ended,
                                    .context = context,
                                    .watch = -1,
                                    .input = -1,
                                    .said = -1,
                                    .length = order->length,
                                    .seconds = order->seconds };
    command->limit = db_timer_new(loop, "end of a command's time", on_limit, command);
    command->text = malloc(order->length + 1);
    int code = command->limit && command->text ? 0 : ENOMEM;
    if (code == 0 && (pipe2(ends.input, O_CLOEXEC) != 0 || pipe2(ends.said, O_CLOEXEC) != 0 ||
                      fcntl(ends.input[1], F_SETFL, O_NONBLOCK) != 0 || fcntl(ends.said[0], F_SETFL, O_NONBLOCK) != 0))
        code = errno;
    if (code == 0) {
        memcpy(command->text, order->input, order->length);
        code = spawn(command, order, &ends);
    }
    if (code != 0) {
        (void) snprintf(why, 256, "%.150s cannot be run: %s", order->words[0], strerror(code));
        close_ends(&ends);
        release(command);
        return NULL;
    }
    command->input = ends.input[1];
    command->said = ends.said[0];
    ends.input[1] = ends.said[0] = -1;
    close_ends(&ends);
    if (watch_all(command))
        return command;
    (void) snprintf(why, 256, "%.150s cannot be watched: %s", order->words[0], strerror(errno));
    return db_command_kill(command);
}

struct db_command *db_command_kill(struct db_command *command)
{
    siginfo_t how;

    if (command) {
        (void) kill(-command->pid, SIGKILL);
        while (waitid(P_PID, (id_t) command->pid, &how, WEXITED) != 0 && errno == EINTR)
            ;
        release(command);
    }
    return NULL;
}
