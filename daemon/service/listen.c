#include "service/listen.h"

#include <arpa/inet.h>
#include <errno.h>
#include <fcntl.h>
#include <netinet/in.h>
#include <sys/socket.h>
#include <sys/stat.h>
#include <sys/un.h>
#include <unistd.h>

#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

union address {
    struct sockaddr any;
    struct sockaddr_in four;
    struct sockaddr_in6 six;
    struct sockaddr_un file;
    struct sockaddr_storage room;
};

static bool read_address(const char *at, union address *ret, socklen_t *ret_length)
{
    char host[64] = "127.0.0.1";
    const char *colon = strrchr(at, ':');
    char *end;

    memset(ret, 0, sizeof *ret);
    if (strchr(at, '/')) {
        size_t length = strlen(at);
        if (length >= sizeof ret->file.sun_path)
            return false;
        ret->file.sun_family = AF_UNIX;
        memcpy(ret->file.sun_path, at, length + 1);
        *ret_length = sizeof ret->file;
        return true;
    }
    if (!colon || colon[1] < '0' || colon[1] > '9' || (size_t) (colon - at) >= sizeof host)
        return false;
    unsigned long port = strtoul(colon + 1, &end, 10);
    if (*end || port > UINT16_MAX)
        return false;
    if (colon > at) {
        memcpy(host, at, (size_t) (colon - at));
        host[colon - at] = '\0';
    }
    if (inet_pton(AF_INET, host, &ret->four.sin_addr) == 1) {
        ret->four.sin_family = AF_INET;
        ret->four.sin_port = htons((uint16_t) port);
        *ret_length = sizeof ret->four;
        return true;
    }
    size_t length = strlen(host);
    if (length < 4 || host[0] != '[' || host[length - 1] != ']')
        return false;
    host[length - 1] = '\0';
    if (inet_pton(AF_INET6, host + 1, &ret->six.sin6_addr) != 1)
        return false;
    ret->six.sin6_family = AF_INET6;
    ret->six.sin6_port = htons((uint16_t) port);
    *ret_length = sizeof ret->six;
    return true;
}

/* A socket file that nobody answers at is a dead process's. */
static void take_away_dead(const struct sockaddr_un *at)
{
    struct stat there;

    if (lstat(at->sun_path, &there) != 0 || !S_ISSOCK(there.st_mode))
        return;
    int fd = socket(AF_UNIX, SOCK_STREAM | SOCK_CLOEXEC, 0);
    if (fd < 0)
        return;
    if (connect(fd, (const struct sockaddr *) at, sizeof *at) != 0 && errno == ECONNREFUSED)
        (void) unlink(at->sun_path);
    (void) close(fd);
}

static int open_socket(const union address *at, socklen_t length)
{
    int one = 1, fd = socket(at->any.sa_family, SOCK_STREAM | SOCK_CLOEXEC | SOCK_NONBLOCK, 0);

    if (fd < 0)
        return -1;
    if (at->any.sa_family == AF_UNIX)
        take_away_dead(&at->file);
    if ((at->any.sa_family != AF_UNIX && setsockopt(fd, SOL_SOCKET, SO_REUSEADDR, &one, sizeof one) != 0) ||
        (at->any.sa_family == AF_INET6 && setsockopt(fd, IPPROTO_IPV6, IPV6_V6ONLY, &one, sizeof one) != 0) ||
        bind(fd, &at->any, length) != 0 || (at->any.sa_family == AF_UNIX && chmod(at->file.sun_path, 0660) != 0) ||
        listen(fd, SOMAXCONN) != 0) {
        int trouble = errno;
        (void) close(fd);
        errno = trouble;
        return -1;
    }
    return fd;
}

static enum db_status look_at(int fd, struct db_listening *ret)
{
    union address got;
    socklen_t length = sizeof got;

    memset(&got, 0, sizeof got);
    if (getsockname(fd, &got.any, &length) != 0)
        return DB_TROUBLE;
    struct db_listening made = { .fd = fd, .nearby = true };
    if (got.any.sa_family == AF_INET) {
        made.port = ntohs(got.four.sin_port);
        made.nearby = (ntohl(got.four.sin_addr.s_addr) >> 24) == 127;
    } else if (got.any.sa_family == AF_INET6) {
        made.port = ntohs(got.six.sin6_port);
        made.nearby = IN6_IS_ADDR_LOOPBACK(&got.six.sin6_addr) != 0;
    } else if (got.any.sa_family != AF_UNIX) {
        return DB_RANGE;
    }
    *ret = made;
    return DB_OK;
}

enum db_status db_listen_at(const char *at, struct db_listening *ret, char trouble[256])
{
    union address where;
    socklen_t length = 0;

    if (!read_address(at, &where, &length)) {
        (void) snprintf(
            trouble, 256,
            "\"%.100s\" is no address to listen at; write 127.0.0.1:8737, [::1]:8737 or the path of a socket", at);
        return DB_RANGE;
    }
    int fd = open_socket(&where, length);
    if (fd < 0 || look_at(fd, ret) != DB_OK) {
        (void) snprintf(trouble, 256, "cannot listen at %.100s: %s", at, strerror(errno));
        if (fd >= 0)
            (void) close(fd);
        return DB_TROUBLE;
    }
    return DB_OK;
}

enum db_status db_listen_given(int fd, struct db_listening *ret, char trouble[256])
{
    int listens = 0, flags = fcntl(fd, F_GETFL);
    socklen_t length = sizeof listens;

    if (flags < 0 || getsockopt(fd, SOL_SOCKET, SO_ACCEPTCONN, &listens, &length) != 0 || !listens ||
        fcntl(fd, F_SETFL, flags | O_NONBLOCK) != 0 || fcntl(fd, F_SETFD, FD_CLOEXEC) != 0 ||
        look_at(fd, ret) != DB_OK) {
        (void) snprintf(trouble, 256, "descriptor %d that was handed over is no stream socket that listens", fd);
        return DB_RANGE;
    }
    return DB_OK;
}
