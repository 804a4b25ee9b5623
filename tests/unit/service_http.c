/* The HTTP server on a clock that jumps: who is slow is cut, who guesses waits, what is unwanted is refused. Real sockets on
 * loopback; the garden's feed is a few bytes held here. tests/service/http.sh asks the whole service. */
#include "service/http.h"

#include <arpa/inet.h>
#include <errno.h>
#include <fcntl.h>
#include <netinet/in.h>
#include <poll.h>
#include <sys/socket.h>
#include <sys/un.h>
#include <unistd.h>

#include <setjmp.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "kit/sim_clock.h"

#include "base/banned.h"

/* ---- a garden with one feed ---- */

static char bytes[] = "BEGIN:VCALENDAR\r\nEND:VCALENDAR\r\n", packed[] = "packed";
static struct db_ready_bytes feed = { .name = "jobs.ics",
                                      .data = bytes,
                                      .length = sizeof bytes - 1,
                                      .packed = packed,
                                      .packed_length = sizeof packed - 1,
                                      .etag = "\"one\"",
                                      .packed_etag = "\"two\"",
                                      .modified = 784111777 };
static int holders;
static struct db_record *record;
static db_keeper_came *told_of_keepers;
static void *told_context;

struct db_keeper {
    char nothing;
};

struct db_ready_bytes *db_keeper_feed(struct db_keeper *keeper, enum db_ready_feed which)
{
    (void) keeper;
    if (which != DB_READY_JOBS)
        return NULL;
    holders++;
    return &feed;
}

void db_ready_release(struct db_ready_bytes *held)
{
    assert_ptr_equal(held, &feed);
    holders--;
}

struct db_record *db_keeper_record(const struct db_keeper *keeper)
{
    (void) keeper;
    return record;
}

const char *db_keeper_state(const struct db_keeper *keeper)
{
    (void) keeper;
    return "build";
}

const char *db_keeper_name(const struct db_keeper *keeper)
{
    (void) keeper;
    return "Tarn  H\xC3\xB6llow / 2\"\r\n";
}

enum db_status db_house_on_keeper(struct db_house *house, db_keeper_came *came, void *context)
{
    (void) house;
    told_of_keepers = came;
    told_context = context;
    return DB_OK;
}

/* ---- the stage ---- */

struct stage {
    struct sim_clock sim;
    struct db_house house;
    struct db_keeper keeper, *keepers[1];
    struct db_http *http;
    char folder[64], file[96];
    struct db_token token;
};

static void open_stage(struct stage *stage, struct db_http_wish wish)
{
    char trouble[256] = "";

    *stage = (struct stage){ .folder = "/tmp/dewbell-http-XXXXXX" };
    assert_non_null(mkdtemp(stage->folder));
    (void) snprintf(stage->file, sizeof stage->file, "%s/record", stage->folder);
    assert_int_equal(db_record_open(stage->file, &record, trouble), DB_OK);
    bool made;
    assert_int_equal(db_record_replace_token(record, NULL, 1, &stage->token, &made), DB_OK);
    sim_start(&stage->sim, 1781697600000);
    stage->keepers[0] = &stage->keeper;
    stage->house =
        (struct db_house){ .loop = db_loop_new(&stage->sim.clock), .keepers = stage->keepers, .keeper_count = 1 };
    assert_non_null(stage->house.loop);
    if (!wish.listen)
        wish.listen = "127.0.0.1:0";
    stage->http = db_http_open(&stage->house, &wish, trouble);
    if (!stage->http)
        fail_msg("%s", trouble);
}

static void close_stage(struct stage *stage)
{
    static const char *const tails[] = { "", "-wal", "-shm" };
    char path[128];

    told_of_keepers(told_context, &stage->keeper, false);
    stage->http = db_http_free(stage->http);
    assert_int_equal(holders, 0);
    (void) db_loop_free(stage->house.loop);
    record = db_record_close(record);
    for (size_t i = 0; i < 3; i++) {
        (void) snprintf(path, sizeof path, "%s%s", stage->file, tails[i]);
        (void) unlink(path);
    }
    assert_int_equal(rmdir(stage->folder), 0);
}

/* Everything that is ready now, without time passing; in two rounds, for what a peer sends may take a moment to arrive. */
static void settle(struct stage *stage)
{
    struct pollfd nothing = { .fd = -1 };

    for (int i = 0; i < 4; i++) {
        assert_int_equal(db_loop_turn(stage->house.loop, false), DB_OK);
        (void) poll(&nothing, 1, 1);
    }
}

static int call(const struct stage *stage)
{
    const struct sockaddr_in to = { .sin_family = AF_INET,
                                    .sin_port = htons((uint16_t) db_http_port(stage->http)),
                                    .sin_addr.s_addr = htonl(INADDR_LOOPBACK) };
    int fd = socket(AF_INET, SOCK_STREAM | SOCK_CLOEXEC, 0);

    assert_true(fd >= 0);
    assert_int_equal(connect(fd, (const struct sockaddr *) &to, sizeof to), 0);
    assert_int_equal(fcntl(fd, F_SETFL, O_NONBLOCK), 0);
    return fd;
}

static void say(int fd, const char *text)
{
    assert_int_equal(send(fd, text, strlen(text), MSG_NOSIGNAL), (ssize_t) strlen(text));
}

/* What came by now; ret_open: whether the connection still is. */
static size_t hear(int fd, char *buffer, size_t size, bool *ret_open)
{
    size_t length = 0;

    *ret_open = true;
    while (length + 1 < size) {
        ssize_t got = recv(fd, buffer + length, size - 1 - length, 0);
        if (got <= 0) {
            *ret_open = got < 0 && (errno == EAGAIN || errno == EWOULDBLOCK);
            break;
        }
        length += (size_t) got;
    }
    buffer[length] = '\0';
    return length;
}

static bool is_open(int fd)
{
    char buffer[4096];
    bool open;

    (void) hear(fd, buffer, sizeof buffer, &open);
    return open;
}

/* Asks on a connection of its own and gives what came back. */
static const char *ask(struct stage *stage, const char *format, const char *what)
{
    static char answer[8192];
    char request[4096];
    bool open;
    int fd = call(stage);

    (void) snprintf(request, sizeof request, format, what);
    say(fd, request);
    for (int i = 0; i < 200; i++) {
        settle(stage);
        size_t length = hear(fd, answer, sizeof answer, &open);
        if (length || !open)
            break;
    }
    (void) close(fd);
    settle(stage);
    return answer;
}

static size_t count_of(const char *text, const char *what)
{
    size_t count = 0;

    for (; (text = strstr(text, what)); text += strlen(what))
        count++;
    return count;
}

static void starts(const char *answer, const char *with)
{
    if (strncmp(answer, with, strlen(with)) != 0)
        fail_msg("\"%.200s\" does not start with \"%s\"", answer, with);
}

#define CLOSE "Host: a\r\nConnection: close\r\n\r\n"

/* ---- the tests ---- */

static void the_feed_is_served(void **state)
{
    struct stage stage;

    (void) state;
    open_stage(&stage, (struct db_http_wish){ 0 });
    const char *answer = ask(&stage, "GET /f/%s/jobs.ics HTTP/1.1\r\n" CLOSE, stage.token.text);
    starts(answer, "HTTP/1.1 200 ");
    assert_non_null(strstr(answer, "\r\n\r\nBEGIN:VCALENDAR\r\nEND:VCALENDAR\r\n"));
    assert_non_null(strstr(answer, "\r\nContent-Length: 32\r\n"));
    assert_non_null(strstr(answer, "\r\nLast-Modified: Sun, 06 Nov 1994 08:49:37 GMT\r\n"));
    assert_non_null(strstr(answer, "\r\nContent-Disposition: inline; filename=\"tarn-h-llow-2-jobs.ics\"\r\n"));
    assert_null(strstr(answer, "Content-Encoding"));
    answer = ask(&stage, "GET http://a.example/f/%s/jobs.ics?again=1 HTTP/1.1\r\nAccept-Encoding: gzip\r\n" CLOSE,
                 stage.token.text);
    starts(answer, "HTTP/1.1 200 ");
    assert_non_null(strstr(answer, "\r\nContent-Encoding: gzip\r\n"));
    assert_non_null(strstr(answer, "\r\nETag: \"two\"\r\n"));
    assert_non_null(strstr(answer, "\r\n\r\npacked"));
    answer = ask(&stage, "GET /f/%s/tasks.ics HTTP/1.1\r\n" CLOSE, stage.token.text); /* there never was one */
    starts(answer, "HTTP/1.1 503 ");
    struct db_http_counts counts = db_http_counts(stage.http);
    assert_int_equal(counts.full, 2);
    assert_int_equal(counts.bytes, 32 + 6);
    assert_int_equal(counts.refused, 1);
    assert_int_equal(counts.connections, 0);
    close_stage(&stage);
}

static void all_that_is_unknown_is_alike(void **state)
{
    static const char *const paths[] = {
        "/",
        "/f/",
        "/f",
        "/f/%s",
        "/f/%s/",
        "/f/%s/jobs.icsx",
        "/f/%s/jobs.ic",
        "/f/%s/Jobs.ics",
        "/f//%s/jobs.ics",
        "/F/%s/jobs.ics",
        "/f/%s/../jobs.ics",
        "/f/%s%%00/jobs.ics",
        "/f/%s/jobs.ics%%00",
        "/%%66/%s/jobs.ics",
        "/x?/f/%s/jobs.ics",
        "/robots.txt",
        "/f/AAAAAAAAAAAAAAAAAAAAAAAA/jobs.ics",
        "http://a.example",
        "https:///%s",
    };
    struct stage stage;
    char path[256], first[1024] = "";

    (void) state;
    open_stage(&stage, (struct db_http_wish){ 0 });
    for (size_t i = 0; i < sizeof paths / sizeof paths[0]; i++) {
        int length = snprintf(path, sizeof path, "GET ");
#pragma GCC diagnostic push
#pragma GCC diagnostic ignored "-Wformat-nonliteral"
        (void) snprintf(path + length, sizeof path - (size_t) length, paths[i], stage.token.text);
#pragma GCC diagnostic pop
        const char *answer = ask(&stage, "%s HTTP/1.1\r\n" CLOSE, path);
        const char *date = strstr(answer, "Date: "), *rest = date ? strchr(date, '\r') : NULL;
        if (strncmp(answer, "HTTP/1.1 404 ", 13) != 0 || !rest)
            fail_msg("%s: %.100s", path, answer);
        if (!*first)
            (void) snprintf(first, sizeof first, "%.*s%s", (int) (date - answer), answer, rest);
        char now[1024];
        (void) snprintf(now, sizeof now, "%.*s%s", (int) (date - answer), answer, rest);
        assert_string_equal(now, first);
    }
    close_stage(&stage);
}

static void other_methods_are_refused(void **state)
{
    static const char *const methods[] = { "DELETE", "PROPFIND", "OPTIONS", "PATCH", "MKCALENDAR", "BREW" };
    struct stage stage;
    char line[128];

    (void) state;
    open_stage(&stage, (struct db_http_wish){ 0 });
    for (size_t i = 0; i < sizeof methods / sizeof methods[0]; i++) {
        (void) snprintf(line, sizeof line, "%s /f/%s/jobs.ics", methods[i], stage.token.text);
        const char *answer = ask(&stage, "%s HTTP/1.1\r\n" CLOSE, line);
        starts(answer, "HTTP/1.1 405 ");
        assert_non_null(strstr(answer, "\r\nAllow: GET, HEAD\r\n"));
    }
    /* A body that is not sent is not waited for. */
    const char *answer = ask(&stage,
                             "PUT /f/%s/jobs.ics HTTP/1.1\r\nHost: a\r\nContent-Length: 100000\r\n"
                             "Expect: 100-continue\r\n\r\n",
                             stage.token.text);
    starts(answer, "HTTP/1.1 405 ");
    close_stage(&stage);
}

/* RFC 9112, section 11.2: a body must not pass for the next request. */
static void a_body_is_no_second_request(void **state)
{
    struct stage stage;
    char request[512], inner[128], answer[4096];
    bool open;

    (void) state;
    open_stage(&stage, (struct db_http_wish){ 0 });
    (void) snprintf(inner, sizeof inner, "GET /f/%s/jobs.ics HTTP/1.1\r\nHost: a\r\n\r\n", stage.token.text);
    (void) snprintf(request, sizeof request, "GET / HTTP/1.1\r\nHost: a\r\nContent-Length: %zu\r\n\r\n%s",
                    strlen(inner), inner);
    int fd = call(&stage);
    say(fd, request);
    settle(&stage);
    settle(&stage);
    (void) hear(fd, answer, sizeof answer, &open);
    assert_int_equal(count_of(answer, "HTTP/1.1 "), 1);
    starts(answer, "HTTP/1.1 404 ");
    assert_true(open);
    say(fd, inner); /* and the connection goes on */
    settle(&stage);
    settle(&stage);
    (void) hear(fd, answer, sizeof answer, &open);
    assert_int_equal(count_of(answer, "HTTP/1.1 "), 1);
    starts(answer, "HTTP/1.1 200 ");
    (void) close(fd);
    close_stage(&stage);
}

/* After how many seconds a byte each second, out of `text` and then of `more` again and again, ends the connection. */
static int drip(struct stage *stage, int fd, const char *text, const char *more)
{
    size_t at = 0, length = strlen(text);

    for (int second = 0; second < 200; second++) {
        const char *byte = at < length ? &text[at] : &more[(at - length) % strlen(more)];
        at++;
        if (send(fd, byte, 1, MSG_NOSIGNAL) != 1)
            return second;
        settle(stage);
        sim_run(&stage->sim, stage->house.loop, 1000);
        settle(stage);
        if (!is_open(fd))
            return second + 1;
    }
    return -1;
}

static void who_drips_is_cut(void **state)
{
    struct stage stage;
    char line[128];

    (void) state;
    open_stage(&stage, (struct db_http_wish){ .patience = 20 });
    (void) snprintf(line, sizeof line, "GET /f/%s/jobs.ics HTTP/1.1\r\n", stage.token.text);
    /* Not even the first line comes to its end. */
    int fd = call(&stage);
    int seconds = drip(&stage, fd, "GET /", "x");
    assert_in_range(seconds, 10, 21);
    (void) close(fd);
    /* The first line is there, the fields never end. */
    fd = call(&stage);
    say(fd, line);
    settle(&stage);
    seconds = drip(&stage, fd, "X-Slow: ", "y");
    assert_in_range(seconds, 20, 21);
    (void) close(fd);
    /* All is there but the body, which has no end. */
    fd = call(&stage);
    say(fd, line);
    say(fd, "Host: a\r\nContent-Length: 5000\r\n\r\n");
    settle(&stage);
    seconds = drip(&stage, fd, "z", "z");
    assert_in_range(seconds, 20, 21);
    (void) close(fd);
    /* The second request of a connection has the time of a first, once it has begun. */
    fd = call(&stage);
    say(fd, line);
    say(fd, "Host: a\r\n\r\n");
    settle(&stage);
    assert_true(is_open(fd));
    sim_run(&stage.sim, stage.house.loop, 35000);
    assert_true(is_open(fd)); /* silent so far: the library's to close */
    seconds = drip(&stage, fd, "GET /", "x");
    assert_in_range(seconds, 10, 31);
    (void) close(fd);
    settle(&stage);
    assert_int_equal(db_http_counts(stage.http).cut, 4);
    assert_int_equal(db_http_counts(stage.http).connections, 0);
    close_stage(&stage);
}

static void who_guesses_waits(void **state)
{
    struct stage stage;
    char answer[4096];
    bool open;

    (void) state;
    open_stage(&stage, (struct db_http_wish){ 0 });
    for (int i = 0; i < 20; i++)
        starts(ask(&stage, "GET /f/%s/jobs.ics HTTP/1.1\r\n" CLOSE, "AAAAAAAAAAAAAAAAAAAAAAAA"), "HTTP/1.1 404 ");
    assert_int_equal(db_http_counts(stage.http).slowed, 0);
    int fd = call(&stage);
    say(fd, "GET /f/AAAAAAAAAAAAAAAAAAAAAAAA/jobs.ics HTTP/1.1\r\n" CLOSE);
    settle(&stage);
    settle(&stage);
    assert_int_equal(hear(fd, answer, sizeof answer, &open), 0);
    assert_true(open);
    /* Whoever knows the address is served meanwhile. */
    starts(ask(&stage, "GET /f/%s/jobs.ics HTTP/1.1\r\n" CLOSE, stage.token.text), "HTTP/1.1 200 ");
    sim_run(&stage.sim, stage.house.loop, 1200);
    settle(&stage);
    (void) hear(fd, answer, sizeof answer, &open);
    starts(answer, "HTTP/1.1 404 ");
    (void) close(fd);
    assert_int_equal(db_http_counts(stage.http).slowed, 1);
    sim_run(&stage.sim, stage.house.loop, 60000); /* a minute later all is forgotten */
    starts(ask(&stage, "GET /f/%s/jobs.ics HTTP/1.1\r\n" CLOSE, "AAAAAAAAAAAAAAAAAAAAAAAA"), "HTTP/1.1 404 ");
    close_stage(&stage);
}

/* A hundred guessers at once: some wait, some get nothing, and the server stops with some of them waiting. */
static void many_guessers_hold_up_nobody(void **state)
{
    struct stage stage;
    int fds[100];

    (void) state;
    open_stage(&stage, (struct db_http_wish){ 0 });
    for (size_t i = 0; i < 100; i++) {
        fds[i] = call(&stage);
        say(fds[i], "GET /nothing HTTP/1.1\r\nHost: a\r\n\r\n");
        settle(&stage);
    }
    starts(ask(&stage, "GET /f/%s/jobs.ics HTTP/1.1\r\n" CLOSE, stage.token.text), "HTTP/1.1 200 ");
    assert_int_equal(db_http_counts(stage.http).slowed, 80);
    assert_int_equal(db_http_counts(stage.http).connections, 84); /* 20 answered, 64 waiting */
    close_stage(&stage);
    for (size_t i = 0; i < 100; i++)
        (void) close(fds[i]);
}

static void one_address_has_so_many_connections(void **state)
{
    struct stage stage;
    int fds[8];
    size_t open = 0;

    (void) state;
    open_stage(&stage, (struct db_http_wish){ .per_address = 5 });
    for (size_t i = 0; i < 8; i++) {
        fds[i] = call(&stage);
        settle(&stage);
    }
    for (size_t i = 0; i < 8; i++)
        open += is_open(fds[i]);
    assert_int_equal(open, 5);
    for (size_t i = 0; i < 8; i++)
        (void) close(fds[i]);
    settle(&stage);
    starts(ask(&stage, "GET /f/%s/jobs.ics HTTP/1.1\r\n" CLOSE, stage.token.text), "HTTP/1.1 200 ");
    close_stage(&stage);
}

static void a_new_token_counts_within_a_second(void **state)
{
    struct stage stage;
    struct db_record *command = NULL;
    struct db_token other;
    char trouble[256];
    bool made;

    (void) state;
    open_stage(&stage, (struct db_http_wish){ 0 });
    starts(ask(&stage, "GET /f/%s/jobs.ics HTTP/1.1\r\n" CLOSE, stage.token.text), "HTTP/1.1 200 ");
    assert_int_equal(db_record_open(stage.file, &command, trouble), DB_OK);
    assert_int_equal(db_record_replace_token(command, &stage.token, 2, &other, &made), DB_OK);
    sim_run(&stage.sim, stage.house.loop, 900);
    starts(ask(&stage, "GET /f/%s/jobs.ics HTTP/1.1\r\n" CLOSE, stage.token.text), "HTTP/1.1 410 ");
    starts(ask(&stage, "GET /f/%s/jobs.ics HTTP/1.1\r\n" CLOSE, other.text), "HTTP/1.1 200 ");
    (void) db_record_close(command);
    close_stage(&stage);
}

static void a_socket_in_a_folder(void **state)
{
    struct stage stage;
    struct sockaddr_un to = { .sun_family = AF_UNIX, .sun_path = "/tmp/dewbell-http-test.sock" };
    char request[256], answer[4096];
    bool open = true;

    (void) state;
    for (int round = 0; round < 2; round++) { /* the second finds what a dead process left */
        if (round == 0) {
            int dead = socket(AF_UNIX, SOCK_STREAM | SOCK_CLOEXEC, 0);
            (void) unlink(to.sun_path);
            assert_int_equal(bind(dead, (const struct sockaddr *) &to, sizeof to), 0);
            (void) close(dead);
        }
        open_stage(&stage, (struct db_http_wish){ .listen = to.sun_path });
        assert_int_equal(db_http_port(stage.http), 0);
        int fd = socket(AF_UNIX, SOCK_STREAM | SOCK_CLOEXEC, 0);
        assert_int_equal(connect(fd, (const struct sockaddr *) &to, sizeof to), 0);
        assert_int_equal(fcntl(fd, F_SETFL, O_NONBLOCK), 0);
        (void) snprintf(request, sizeof request, "GET /f/%s/jobs.ics HTTP/1.1\r\n" CLOSE, stage.token.text);
        say(fd, request);
        settle(&stage);
        settle(&stage);
        (void) hear(fd, answer, sizeof answer, &open);
        starts(answer, "HTTP/1.1 200 ");
        (void) close(fd);
        close_stage(&stage);
        assert_int_equal(access(to.sun_path, F_OK), -1);
    }
}

static void what_is_no_address_is_refused(void **state)
{
    static const char *const wrong[] = { "",          "8737",     "127.0.0.1",     "localhost:8737", "127.0.0.1:65536",
                                         "[::1:8737", "::1:8737", "127.0.0.1:80x", "1.2.3:80",       "127.0.0.1:",
                                         "[]:80",     "[::1]80",  "127.0.0.1:-1",  "[127.0.0.1]:80" };
    struct sim_clock sim;
    char trouble[256];

    (void) state;
    sim_start(&sim, 1781697600000);
    struct db_house house = { .loop = db_loop_new(&sim.clock) };
    for (size_t i = 0; i < sizeof wrong / sizeof wrong[0]; i++) {
        if (db_http_new(&house, wrong[i], NULL, 0, trouble))
            fail_msg("\"%s\" was taken", wrong[i]);
        assert_non_null(strstr(trouble, "is no address to listen at; write 127.0.0.1:8737"));
    }
    assert_null(db_http_new(&house, "192.0.2.1:0", NULL, 0, trouble)); /* RFC 5737: nobody's address */
    assert_non_null(strstr(trouble, "cannot listen at 192.0.2.1:0"));
    int file = open("/dev/null", O_RDONLY | O_CLOEXEC);
    assert_null(db_http_new(&house, NULL, &file, 1, trouble));
    assert_non_null(strstr(trouble, "no stream socket that listens"));
    (void) close(file);
    (void) db_loop_free(house.loop);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_feed_is_served),
        cmocka_unit_test(all_that_is_unknown_is_alike),
        cmocka_unit_test(other_methods_are_refused),
        cmocka_unit_test(a_body_is_no_second_request),
        cmocka_unit_test(who_drips_is_cut),
        cmocka_unit_test(who_guesses_waits),
        cmocka_unit_test(many_guessers_hold_up_nobody),
        cmocka_unit_test(one_address_has_so_many_connections),
        cmocka_unit_test(a_new_token_counts_within_a_second),
        cmocka_unit_test(a_socket_in_a_folder),
        cmocka_unit_test(what_is_no_address_is_refused),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
