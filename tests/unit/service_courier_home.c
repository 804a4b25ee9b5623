/* A server of the outside must not send us on to one inside the house, and a name that nobody answers for must not hold
 * us up. The outside is an address of RFC 5737's (for documentation only). All is looked at twice: in a network of
 * our own that nothing else is in, which the kernel does not grant everybody; and anywhere, with the two calls that lead
 * outside, connect() and getaddrinfo(), replaced by ours. */
#include "service/courier.h"

#include <arpa/inet.h>
#include <dlfcn.h>
#include <net/if.h>
#include <netdb.h>
#include <netinet/in.h>
#include <sched.h>
#include <sys/ioctl.h>
#include <sys/mount.h>
#include <sys/socket.h>
#include <sys/syscall.h>
#include <unistd.h>

#include <errno.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdatomic.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include <cmocka.h>

#include "kit/odd_server.h"

#include "base/banned.h"

static const char outside_address[] = "203.0.113.5", no_name[] = "garden.example";

static atomic_bool replaced; /* the two calls are ours */
static atomic_bool silent;   /* ours does not answer for no_name as long as this holds */
static bool alone;           /* we are in a network of our own */
static bool unnamed;         /* names are asked of somebody who never answers */
static char refused[128];    /* why not */
static int name_server = -1;
static struct odd_server server;
static struct db_loop *loop;
static struct db_courier *courier;

/* As a machine's that has 127.0.0.0/8 and the outside address, and no way to anywhere else. libcurl finds this one before
 * the C library's. */
int connect(int fd, __CONST_SOCKADDR_ARG address, socklen_t length)
{
    const struct sockaddr *to = address.__sockaddr__;
    struct sockaddr_in in;

    if (!atomic_load(&replaced) || to->sa_family != AF_INET)
        return (int) syscall(SYS_connect, fd, to, length);
    memcpy(&in, to, sizeof in);
    if (in.sin_addr.s_addr == inet_addr(outside_address))
        in.sin_addr.s_addr = htonl(INADDR_LOOPBACK);
    if (ntohl(in.sin_addr.s_addr) >> 24 != IN_LOOPBACKNET) {
        errno = ENETUNREACH;
        return -1;
    }
    return (int) syscall(SYS_connect, fd, &in, sizeof in);
}

/* As one that asks somebody who never answers, and gives up after a minute. */
int getaddrinfo(const char *restrict name, const char *restrict service, const struct addrinfo *restrict hints,
                struct addrinfo **restrict ret_all)
{
    int (*theirs)(const char *, const char *, const struct addrinfo *, struct addrinfo **);

    if (atomic_load(&replaced) && name && strcmp(name, no_name) == 0) {
        for (int i = 0; i < 600 && atomic_load(&silent); i++)
            (void) nanosleep(&(struct timespec){ .tv_nsec = 100000000 }, NULL);
        return EAI_AGAIN;
    }
    *(void **) (void *) &theirs = dlsym(RTLD_NEXT, "getaddrinfo"); /* POSIX: dlsym() */
    return theirs ? theirs(name, service, hints, ret_all) : EAI_SYSTEM;
}

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

    if (unshare(CLONE_NEWNET) != 0 && unshare(CLONE_NEWUSER | CLONE_NEWNET) != 0) {
        (void) snprintf(refused, sizeof refused, "unshare(CLONE_NEWNET): %s", strerror(errno));
        return false;
    }
    int fd = socket(AF_INET, SOCK_DGRAM | SOCK_CLOEXEC, 0);
    if (fd >= 0) {
        done = give_address(fd, "lo", "127.0.0.1") && give_address(fd, "lo:1", outside_address);
        if (!done)
            (void) snprintf(refused, sizeof refused, "addresses for lo: %s", strerror(errno));
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
    if (!done)
        (void) snprintf(refused, sizeof refused, "a name server of our own: %s", strerror(errno));
    if (file >= 0) {
        (void) close(file);
        (void) unlink(path);
    }
    return done;
}

static int open_courier(void)
{
    odd_server_start_at(&server, "0.0.0.0");
    loop = db_loop_new(NULL);
    courier = loop ? db_courier_new(loop) : NULL;
    return courier ? 0 : -1;
}

static int close_courier(void)
{
    courier = db_courier_free(courier);
    loop = db_loop_free(loop);
    odd_server_stop(&server);
    return 0;
}

static int replace_calls(void **state)
{
    (void) state;
    atomic_store(&silent, true);
    atomic_store(&replaced, true);
    return open_courier();
}

static int put_calls_back(void **state)
{
    (void) state;
    atomic_store(&silent, false);
    (void) close_courier();
    atomic_store(&replaced, false);
    return 0;
}

static int enter_network(void **state)
{
    (void) state;
    alone = leave_network();
    unnamed = alone && silence_names();
    if (*refused)
        print_message("the kernel does not grant it: %s\n", refused);
    return alone ? open_courier() : 0;
}

static int leave(void **state)
{
    (void) state;
    if (name_server >= 0)
        (void) close(name_server);
    return alone ? close_courier() : 0;
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
    if (!atomic_load(&replaced) && !alone)
        skip(); /* it is looked at with calls of ours */
    for (size_t i = 0; i < sizeof inside / sizeof *inside; i++) {
        go(outside_address, inside[i]);
        assert_int_equal(status, -1);
        if (!strstr(trouble, outside_address) || !strstr(trouble, "inside this house"))
            fail_msg("to %s: %s", inside[i], trouble);
    }
}

static void the_rest_is_followed(void **state)
{
    static const char *const outside[] = { "172.15.0.1", "172.32.0.1", "192.169.0.1", "100.128.0.1", "11.0.0.1" };

    (void) state;
    if (!atomic_load(&replaced) && !alone)
        skip(); /* it is looked at with calls of ours */
    go(outside_address, outside_address);
    assert_int_equal(status, 200);
    go("127.0.0.1", "127.0.0.1"); /* the gardener's own address began inside */
    assert_int_equal(status, 200);
    go("127.0.0.1", outside_address);
    assert_int_equal(status, 200);
    for (size_t i = 0; i < sizeof outside / sizeof *outside; i++) { /* nobody is there, and we were free to find out */
        go(outside_address, outside[i]);
        if (!strstr(trouble, "Network is unreachable"))
            fail_msg("to %s: %s", outside[i], trouble);
    }
}

/* Nor does it hold up others, or the end. */
static void a_name_that_nobody_answers_for_takes_its_time_and_no_more(void **state)
{
    char url[64], why[256];
    const struct db_errand errand = { .url = url, .seconds = 1 };

    (void) state;
    if (!atomic_load(&replaced) && !unnamed)
        skip();
    (void) snprintf(url, sizeof url, "http://%s/", no_name);
    const int64_t begun = db_loop_steady(loop);
    assert_int_equal(db_courier_send(courier, &errand, keep, NULL, why), DB_OK);
    while (db_courier_under_way(courier))
        assert_int_equal(db_loop_turn(loop, true), DB_OK);
    assert_int_equal(status, -1);
    assert_non_null(strstr(trouble, no_name));
    assert_in_range(db_loop_steady(loop) - begun, 900, 30000); /* the resolver itself takes a minute */
    struct db_courier *other = db_courier_new(loop);
    assert_non_null(other);
    const struct db_errand longer = { .url = url };
    assert_int_equal(db_courier_send(other, &longer, keep, NULL, why), DB_OK);
    assert_int_equal(db_loop_turn(loop, true), DB_OK);
    const int64_t ends = db_loop_steady(loop);
    assert_null(db_courier_free(other));
    assert_in_range(db_loop_steady(loop) - ends, 0, 30000);
    assert_false(db_loop_flooded(loop));
}

int main(void)
{
    static const struct CMUnitTest tests[] = {
        cmocka_unit_test(outside_does_not_lead_inside),
        cmocka_unit_test(the_rest_is_followed),
        cmocka_unit_test(a_name_that_nobody_answers_for_takes_its_time_and_no_more),
    };

    /* In this order: a network of one's own is granted to a process of one thread. */
    const int in_network = cmocka_run_group_tests_name("in a network of our own", tests, enter_network, leave);
    const int anywhere = cmocka_run_group_tests_name("with calls of ours", tests, replace_calls, put_calls_back);

    return in_network + anywhere;
}
