/* The only place that writes a feed: beside, synced, renamed. */
#include "write/write.h"

#include <errno.h>
#include <fcntl.h>
#include <sys/stat.h>
#include <unistd.h>

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

/* Whether the file holds exactly these bytes. Any doubt counts as no. */
static bool same(const char *path, const char *data, size_t length)
{
    int fd = open(path, O_RDONLY | O_CLOEXEC | O_NONBLOCK);
    struct stat about;
    char part[65536];
    size_t at = 0;
    bool equal;

    if (fd < 0)
        return false;
    equal = fstat(fd, &about) == 0 && S_ISREG(about.st_mode) && about.st_size >= 0 && (size_t) about.st_size == length;
    while (equal && at < length) {
        ssize_t got = read(fd, part, sizeof part);

        if (got < 0 && errno == EINTR)
            continue;
        equal = got > 0 && (size_t) got <= length - at && memcmp(data + at, part, (size_t) got) == 0;
        if (equal)
            at += (size_t) got;
    }
    (void) close(fd);
    return equal;
}

static bool write_all(int fd, const char *data, size_t length)
{
    while (length) {
        ssize_t put = write(fd, data, length);

        if (put < 0 && errno == EINTR)
            continue;
        if (put <= 0) {
            if (put == 0)
                errno = ENOSPC;
            return false;
        }
        data += put;
        length -= (size_t) put;
    }
    return true;
}

static bool sync_folder(const char *path)
{
    const char *slash = strrchr(path, '/');
    char *folder = slash ? strndup(path, slash == path ? 1 : (size_t) (slash - path)) : strdup(".");

    if (!folder)
        return false;
    int fd = open(folder, O_RDONLY | O_DIRECTORY | O_CLOEXEC);
    free(folder);
    if (fd < 0)
        return false;
    bool done = fsync(fd) == 0;
    int kept = errno;
    (void) close(fd);
    errno = kept;
    return done;
}

/* Fills the new file and puts it in the place of the old one. */
static bool swap(const char *path, char *beside, const char *data, size_t length)
{
    int fd = mkostemp(beside, O_CLOEXEC);

    if (fd < 0)
        return false;
    /* A feed is read by other programs of the same machine: a web server, a sync tool. */
    bool done = fchmod(fd, 0644) == 0 && write_all(fd, data, length) && fsync(fd) == 0;
    int kept = errno;
    if (close(fd) != 0 && done) {
        done = false;
        kept = errno;
    }
    if (done && rename(beside, path) != 0) {
        done = false;
        kept = errno;
    }
    if (!done) {
        (void) unlink(beside);
        errno = kept;
    }
    return done;
}

enum db_status db_file_swap(const char *path, const char *data, size_t length, bool *ret_changed)
{
    static const char tail[] = ".new-XXXXXX";

    if (same(path, data, length)) {
        *ret_changed = false;
        return DB_OK;
    }
    size_t name = strlen(path);
    char *beside = malloc(name + sizeof tail);
    if (!beside) {
        errno = ENOMEM;
        return DB_FULL;
    }
    memcpy(beside, path, name);
    memcpy(beside + name, tail, sizeof tail);
    bool done = swap(path, beside, data, length) && sync_folder(path);
    int kept = errno;
    free(beside);
    errno = kept;
    if (!done)
        return DB_TROUBLE;
    *ret_changed = true;
    return DB_OK;
}
