/* The only place that writes a feed: beside, synced, renamed. */
#include "write/write.h"

#include <errno.h>
#include <fcntl.h>
#include <sys/file.h>
#include <sys/stat.h>
#include <unistd.h>

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <xxhash.h>

#include "base/banned.h"

/* What is done with each part of a file that is read; false: enough is known. */
typedef bool part_seen(void *context, const char *part, size_t length);

/* Reads a plain file of that length to its end. Any doubt counts as no. */
static bool read_through(const char *path, size_t length, part_seen *seen, void *context)
{
    int fd = open(path, O_RDONLY | O_CLOEXEC | O_NONBLOCK);
    struct stat about;
    char part[65536];
    size_t at = 0;
    bool fine;

    if (fd < 0)
        return false;
    fine = fstat(fd, &about) == 0 && S_ISREG(about.st_mode) && about.st_size >= 0 && (size_t) about.st_size == length;
    while (fine && at < length) {
        ssize_t got = read(fd, part, sizeof part);

        if (got < 0 && errno == EINTR)
            continue;
        fine = got > 0 && (size_t) got <= length - at && seen(context, part, (size_t) got);
        if (fine)
            at += (size_t) got;
    }
    (void) close(fd);
    return fine;
}

static bool compare_part(void *context, const char *part, size_t length)
{
    const char **at = context;
    bool equal = memcmp(*at, part, length) == 0;

    *at += length;
    return equal;
}

static bool hash_part(void *context, const char *part, size_t length)
{
    return XXH3_128bits_update(context, part, length) == XXH_OK;
}

void db_bytes_hash(const char *data, size_t length, unsigned char ret[16])
{
    XXH128_canonical_t canonical;

    XXH128_canonicalFromHash(&canonical, XXH3_128bits(data, length));
    memcpy(ret, canonical.digest, 16);
}

bool db_file_holds(const char *path, const unsigned char hash[16], size_t length)
{
    XXH3_state_t *state = XXH3_createState();
    XXH128_canonical_t canonical;
    bool holds = state && XXH3_128bits_reset(state) == XXH_OK && read_through(path, length, hash_part, state);

    if (holds) {
        XXH128_canonicalFromHash(&canonical, XXH3_128bits_digest(state));
        holds = memcmp(canonical.digest, hash, 16) == 0;
    }
    (void) XXH3_freeState(state);
    return holds;
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

/* The new file, empty and ours alone: one name, so that a writer that was killed leaves at most one behind, which the next
 * takes over; a lock, so that two writers do not mix. -1: errno tells. */
static int open_beside(const char *beside)
{
    for (int turn = 0; turn < 100; turn++) {
        struct stat ours, named;
        int fd = open(beside, O_WRONLY | O_CREAT | O_CLOEXEC | O_NOFOLLOW | O_NONBLOCK, 0600);

        if (fd < 0)
            return -1;
        /* While we waited for the lock, its holder may have renamed the file away. */
        if (flock(fd, LOCK_EX) == 0 && fstat(fd, &ours) == 0 && stat(beside, &named) == 0 &&
            ours.st_ino == named.st_ino && ours.st_dev == named.st_dev && S_ISREG(ours.st_mode) &&
            ftruncate(fd, 0) == 0)
            return fd;
        (void) close(fd);
    }
    errno = EBUSY;
    return -1;
}

/* Fills the new file and puts it in the place of the old one. */
static bool swap(const char *path, const char *beside, const char *data, size_t length)
{
    int fd = open_beside(beside);

    if (fd < 0)
        return false;
    /* A feed is read by other programs of the same machine: a web server, a sync tool. */
    bool done = fchmod(fd, 0644) == 0 && write_all(fd, data, length) && fsync(fd) == 0 && rename(beside, path) == 0;
    int kept = errno;
    if (!done)
        (void) unlink(beside);
    (void) close(fd); /* the lock goes with it; the bytes were synced */
    errno = kept;
    return done;
}

enum db_status db_file_swap(const char *path, const char *data, size_t length, bool *ret_changed)
{
    static const char tail[] = ".new";

    const char *at = data;
    if (read_through(path, length, compare_part, &at)) {
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
