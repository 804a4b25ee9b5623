/* Starts tests/kit/odd_server.py and stops it. Include after cmocka.h. */
#ifndef DB_TESTS_KIT_ODD_SERVER_H
#define DB_TESTS_KIT_ODD_SERVER_H

#include <spawn.h>
#include <sys/wait.h>
#include <unistd.h>

#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

struct odd_server {
    pid_t pid;
    int life; /* the server ends when this is closed */
    int http, https, mail;
    char folder[64], ca_file[96];
};

extern char **environ;

/* address: where HTTP and HTTPS listen; NULL: 127.0.0.1. */
static inline void odd_server_start_at(struct odd_server *server, const char *address)
{
    int in[2], out[2];
    posix_spawn_file_actions_t actions;
    char line[64] = "";
    const char *words[] = { "python3", "tests/kit/odd_server.py", server->folder, address ? address : "127.0.0.1",
                            NULL };

    (void) snprintf(server->folder, sizeof server->folder, "/tmp/dewbell-odd-XXXXXX");
    assert_non_null(mkdtemp(server->folder));
    (void) snprintf(server->ca_file, sizeof server->ca_file, "%s/ca.pem", server->folder);
    assert_int_equal(pipe2(in, O_CLOEXEC), 0);
    assert_int_equal(pipe2(out, O_CLOEXEC), 0);
    assert_int_equal(posix_spawn_file_actions_init(&actions), 0);
    assert_int_equal(posix_spawn_file_actions_adddup2(&actions, in[0], 0), 0);
    assert_int_equal(posix_spawn_file_actions_adddup2(&actions, out[1], 1), 0);
    assert_int_equal(posix_spawnp(&server->pid, "python3", &actions, NULL, (char **) (void *) words, environ), 0);
    (void) posix_spawn_file_actions_destroy(&actions);
    (void) close(in[0]);
    (void) close(out[1]);
    server->life = in[1];
    FILE *ready = fdopen(out[0], "r");
    assert_non_null(ready);
    assert_non_null(fgets(line, sizeof line, ready));
    (void) fclose(ready);
    char *end = line;
    server->http = (int) strtol(end, &end, 10);
    server->https = (int) strtol(end, &end, 10);
    server->mail = (int) strtol(end, &end, 10);
    assert_true(server->http > 0 && server->https > 0 && server->mail > 0);
}

static inline void odd_server_start(struct odd_server *server)
{
    odd_server_start_at(server, NULL);
}

static inline void odd_server_stop(struct odd_server *server)
{
    static const char *const files[] = { "ca.pem", "key.pem", "mail.json" };
    char path[128];

    (void) close(server->life);
    (void) waitpid(server->pid, NULL, 0);
    for (size_t i = 0; i < sizeof files / sizeof *files; i++) {
        (void) snprintf(path, sizeof path, "%s/%s", server->folder, files[i]);
        (void) unlink(path);
    }
    (void) rmdir(server->folder);
}

#endif
