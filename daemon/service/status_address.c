/* Where the status socket is: all that a program needs which only asks. */
#include "service/status.h"

#include <errno.h>
#include <fcntl.h>
#include <sys/socket.h>
#include <sys/un.h>
#include <unistd.h>

#include <stdio.h>

#include "base/banned.h"

bool db_desk_address(const char *state, struct sockaddr_un *ret, int *ret_folder)
{
    *ret = (struct sockaddr_un){ .sun_family = AF_UNIX };
    *ret_folder = -1;
    int length = snprintf(ret->sun_path, sizeof ret->sun_path, "%s/" DB_DESK_NAME, state);
    if (length > 0 && (size_t) length < sizeof ret->sun_path)
        return true;
    *ret_folder = open(state, O_PATH | O_DIRECTORY | O_CLOEXEC);
    if (*ret_folder < 0)
        return false;
    (void) snprintf(ret->sun_path, sizeof ret->sun_path, "/proc/self/fd/%d/" DB_DESK_NAME, *ret_folder);
    return true;
}

int db_desk_connect(const char *state)
{
    struct sockaddr_un to;
    int folder, fd = -1;

    if (!db_desk_address(state, &to, &folder))
        return -1;
    fd = socket(AF_UNIX, SOCK_STREAM | SOCK_CLOEXEC, 0);
    if (fd >= 0 && connect(fd, (const struct sockaddr *) &to, sizeof to) != 0) {
        int trouble = errno;
        (void) close(fd);
        errno = trouble;
        fd = -1;
    }
    if (folder >= 0) {
        int trouble = errno;
        (void) close(folder);
        errno = trouble;
    }
    return fd;
}
