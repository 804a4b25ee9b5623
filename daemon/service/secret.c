/* Secrets are read with plain calls into the caller's room: no stdio buffer keeps a copy. */
#include "service/secret.h"

#include <errno.h>
#include <fcntl.h>
#include <sys/stat.h>
#include <unistd.h>

#include <stdarg.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

__attribute__((format(printf, 2, 3))) static enum db_status refuse(char trouble[256], const char *format, ...)
{
    va_list words;

    va_start(words, format);
    (void) vsnprintf(trouble, 256, format, words);
    va_end(words);
    return DB_TROUBLE;
}

/* Not blocking: the name may be that of a pipe. -1: errno tells. */
static int open_in(const char *folder, const char *name)
{
    char *path = NULL;
    int fd;

    if (asprintf(&path, "%s%s%s", folder, *folder ? "/" : "", name) < 0) {
        errno = ENOMEM;
        return -1;
    }
    fd = open(path, O_RDONLY | O_CLOEXEC | O_NOCTTY | O_NONBLOCK);
    int kept = errno;
    free(path);
    errno = kept;
    return fd;
}

static enum db_status read_line(int fd, const char *name, char secret[DB_SECRET_ROOM], char trouble[256])
{
    size_t length = 0;
    ssize_t got;

    while (length < DB_SECRET_ROOM - 1) {
        got = read(fd, secret + length, DB_SECRET_ROOM - 1 - length);
        if (got < 0 && errno == EINTR)
            continue;
        if (got < 0)
            return refuse(trouble, "the secret file %.150s cannot be read: %s", name, strerror(errno));
        if (got == 0)
            break;
        length += (size_t) got;
    }
    secret[length] = '\0';
    const char *end = memchr(secret, '\n', length);
    if (!end && length == DB_SECRET_ROOM - 1)
        return refuse(trouble, "the first line of the secret file %.150s is longer than %d bytes", name,
                      DB_SECRET_ROOM - 2);
    size_t line = end ? (size_t) (end - secret) : length;
    if (memchr(secret, '\0', line))
        return refuse(trouble, "the secret file %.150s is no text", name);
    if (line && secret[line - 1] == '\r')
        line--;
    if (line == 0)
        return refuse(trouble, "the first line of the secret file %.150s is empty", name);
    explicit_bzero(secret + line, DB_SECRET_ROOM - line);
    return DB_OK;
}

/* ret_handed: it lies where nobody else gets, whatever its mode. */
static int open_secret(const char *secret_file, const char *folder, bool *ret_handed)
{
    const char *credentials = getenv("CREDENTIALS_DIRECTORY"); /* NOLINT(concurrency-mt-unsafe) */
    const bool bare = !strchr(secret_file, '/');
    int fd = bare && credentials && *credentials ? open_in(credentials, secret_file) : -1;

    *ret_handed = fd >= 0;
    return fd >= 0 ? fd : open_in(bare ? folder : "", secret_file);
}

enum db_status db_secret_read(const char *secret_file, const char *folder, char secret[DB_SECRET_ROOM],
                              char trouble[256])
{
    enum db_status status = DB_OK;
    struct stat about;
    bool handed;
    int fd = open_secret(secret_file, folder, &handed);

    memset(secret, 0, DB_SECRET_ROOM);
    if (fd < 0)
        return refuse(trouble, "the secret file %.150s cannot be opened: %s", secret_file, strerror(errno));
    if (fstat(fd, &about) != 0 || !S_ISREG(about.st_mode))
        status = refuse(trouble, "the secret file %.150s is not a file", secret_file);
    else if (!handed && (about.st_mode & 077))
        status = refuse(trouble, "the secret file %.100s can be reached by others; close it with chmod 600 %.100s",
                        secret_file, secret_file);
    if (status == DB_OK)
        status = read_line(fd, secret_file, secret, trouble);
    (void) close(fd);
    if (status != DB_OK)
        db_secret_wipe(secret);
    return status;
}

int64_t db_secret_stamp(const char *secret_file, const char *folder)
{
    struct stat about;
    int64_t stamp = 0;
    bool handed;
    int fd = open_secret(secret_file, folder, &handed);

    if (fd < 0)
        return 0;
    if (fstat(fd, &about) == 0)
        stamp = (int64_t) ((uint64_t) about.st_ino * 31 + (uint64_t) about.st_ctim.tv_sec * 1000000000 +
                           (uint64_t) about.st_ctim.tv_nsec);
    (void) close(fd);
    return stamp;
}

void db_secret_wipe(char secret[DB_SECRET_ROOM])
{
    explicit_bzero(secret, DB_SECRET_ROOM);
}
