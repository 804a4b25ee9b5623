/* A server of the outside must not send us on to one inside the house. The outside is an address of RFC 5737's (for
 * documentation only) on the loopback interface of a network of our own, that nothing else is in. */
#include "service/courier.h"

#include <arpa/inet.h>
#include <net/if.h>
#include <netinet/in.h>
#include <sched.h>
#include <sys/ioctl.h>
#include <sys/mount.h>
#include <sys/socket.h>
#include <unistd.h>

#include <setjmp.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "kit/odd_server.h"

#include "base/banned.h"

static bool alone;   /* we are in a network of our own */
static bool unnamed; /* names are asked of somebody who never answers */
static int name_server = -1;
static struct odd_server server;
static struct db_loop *loop;
static struct db_courier *courier;

static bool give_address(int fd, const char *interface, const char *address)
{
    struct ifreq wish = { 0 };
    struct sockaddr_in in = { .sin_family = AF_INET };

    (void) snprintf(wish.ifr_name, sizeof wish.ifr_name, "%s", interface);
    if (inet_pton(AF_INET, address, &in.sin_addr) != 1)
        return false;
    memcpy(&wish.ifr_addr, &in, sizeof in);
    if (ioctl(fd, SIOCSIFADDR, &wish) != 0)
        return false;
    wish.ifr_flags = IFF_UP | IFF_RUNNING;
    return ioctl(fd, SIOCSIFFLAGS, &wish) == 0;
}

static bool leave_network(void)
{
    bool done = false;

    if (unshare(CLONE_NEWNET) != 0 && unshare(CLONE_NEWUSER | CLONE_NEWNET) != 0)
        return false;
    int fd = socket(AF_INET, SOCK_DGRAM | SOCK_CLOEXEC, 0);
    if (fd >= 0) {
        done = give_address(fd, "lo", "127.0.0.1") && give_address(fd, "lo:1", "203.0.113.5");
        (void) close(fd);
    }
    return done;
}

/* A name server of ours that says nothing. */
static bool silence_names(void)
{
    static const char text[] = "nameserver 127.0.0.1\noptions timeout:20 attempts:3\n";
    struct sockaddr_in in = { .sin_family = AF_INET, .sin_port = htons(53), .sin_addr.s_addr = htonl(INADDR_LOOPBACK) };
    char path[] = "/tmp/dewbell-names-XXXXXX";
    int file = mkstemp(path);

    name_server = socket(AF_INET, SOCK_DGRAM | SOCK_CLOEXEC, 0);

    bool done = file >= 0 && write(file, text, sizeof text - 1) == sizeof text - 1 &&
                bind(name_server, (const struct sockaddr *) &in, sizeof in) == 0 && unshare(CLONE_NEWNS) == 0 &&
                mount("none", "/", "none", MS_REC | MS_PRIVATE, NULL) == 0 &&
                mount(path, "/etc/resolv.conf", "none", MS_BIND, NULL) == 0;
    if (file >= 0) {
        (void) close(file);
        (void) unlink(path);
    }
    return done;
}

static int set_up(void **state)
{
    (void) state;
    alone = leave_network();
    if (!alone)
        return 0;
    unnamed = silence_names();
    odd_server_start_at(&server, "0.0.0.0");
    loop = db_loop_new(NULL);
    courier = loop ? db_courier_new(loop) : NULL;
    return courier ? 0 : -1;
}

static int tear_down(void **state)
{
    (void) state;
    if (name_server >= 0)
        (void) close(name_server);
    if (!alone)
        return 0;
    courier = db_courier_free(courier);
    loop = db_loop_free(loop);
    odd_server_stop(&server);
    return 0;
}

static char trouble[512];
static int status;

static void keep(void *context, const struct db_reply *reply)
{
    (void) context;
    status = reply->arrived ? reply->status : -1;
    (void) snprintf(trouble, sizeof trouble, "%s", reply->trouble);
}

/* From an address to another; the port of the second is ours where it names none. */
static void go(const char *from, const char *on)
{
    char url[256], why[256];
    const struct db_errand errand = { .url = url, .seconds = 10 };

    (void) snprintf(url, sizeof url, "http://%s:%d/to?http://%s:%d/plain", from, server.http, on, server.http);
    assert_int_equal(db_courier_send(courier, &errand, keep, NULL, why), DB_OK);
    while (db_courier_under_way(courier))
        assert_int_equal(db_loop_turn(loop, true), DB_OK);
}

static void outside_does_not_lead_inside(void **state)
{
    static const char *const inside[] = { "127.0.0.1",  "localhost",          "127.9.9.9",     "10.0.0.1",
                                          "172.16.0.1", "172.31.255.255",     "192.168.1.1",   "169.254.169.254",
                                          "100.64.0.1", "100.127.255.255",    "0.0.0.0",       "[::1]",
                                          "[fd00::1]",  "[::ffff:127.0.0.1]", "[fe80::1%251]", "[::]" };

    (void) state;
    if (!alone)
        skip();
    for (size_t i = 0; i < sizeof inside / sizeof *inside; i++) {
        go("203.0.113.5", inside[i]);
        assert_int_equal(status, -1);
        if (!strstr(trouble, "203.0.113.5") || !strstr(trouble, "inside this house"))
            fail_msg("to %s: %s", inside[i], trouble);
    }
}

static void the_rest_is_followed(void **state)
{
    static const char *const outside[] = { "172.15.0.1", "172.32.0.1", "192.169.0.1", "100.128.0.1", "11.0.0.1" };

    (void) state;
    if (!alone)
        skip();
    go("203.0.113.5", "203.0.113.5");
    assert_int_equal(status, 200);
    go("127.0.0.1", "127.0.0.1"); /* the gardener's own address began inside */
    assert_int_equal(status, 200);
    go("127.0.0.1", "203.0.113.5");
    assert_int_equal(status, 200);
    for (size_t i = 0; i < sizeof outside / sizeof *outside; i++) { /* nobody is there, and we were free to find out */
        go("203.0.113.5", outside[i]);
        if (!strstr(trouble, "Network is unreachable"))
            fail_msg("to %s: %s", outside[i], trouble);
    }
}

/* Nor does it hold up others, or the end. */
static void a_name_that_nobody_answers_for_takes_its_time_and_no_more(void **state)
{
    const struct db_errand errand = { .url = "http://garden.example/", .seconds = 1 };
    char why[256];

    (void) state;
    if (!unnamed)
        skip();
    const int64_t begun = db_loop_steady(loop);
    assert_int_equal(db_courier_send(courier, &errand, keep, NULL, why), DB_OK);
    while (db_courier_under_way(courier))
        assert_int_equal(db_loop_turn(loop, true), DB_OK);
    assert_int_equal(status, -1);
    assert_non_null(strstr(trouble, "garden.example"));
    assert_in_range(db_loop_steady(loop) - begun, 900, 6000); /* the resolver itself takes a minute */
    struct db_courier *other = db_courier_new(loop);
    assert_non_null(other);
    const struct db_errand longer = { .url = "http://garden.example/" };
    assert_int_equal(db_courier_send(other, &longer, keep, NULL, why), DB_OK);
    assert_int_equal(db_loop_turn(loop, true), DB_OK);
    const int64_t ends = db_loop_steady(loop);
    assert_null(db_courier_free(other));
    assert_in_range(db_loop_steady(loop) - ends, 0, 5000);
    assert_false(db_loop_flooded(loop));
}

int main(void)
{
    static const struct CMUnitTest tests[] = {
        cmocka_unit_test(outside_does_not_lead_inside),
        cmocka_unit_test(the_rest_is_followed),
        cmocka_unit_test(a_name_that_nobody_answers_for_takes_its_time_and_no_more),
    };

    return cmocka_run_group_tests(tests, set_up, tear_down);
}
