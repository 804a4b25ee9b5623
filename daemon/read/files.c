#include "read/files.h"

#include "base/limits.h"
#include "base/sort.h"
#include "read/read.h"

#include <dirent.h>
#include <fcntl.h>
#include <sys/stat.h>
#include <unistd.h>

#include <errno.h>
#include <limits.h>
#include <stdarg.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

#include "base/banned.h"

/* One thread reads, one set of files at a time. */
static const char *read_from;

void db_files_from(const char *copies)
{
    read_from = copies;
}

bool db_path_copy(const char *copies, const char *path, char *buffer, size_t size)
{
    const size_t root = strlen(copies);
    size_t length = root;

    if (root >= size)
        return false;
    memcpy(buffer, copies, root);
    while (*path) {
        const size_t part = strcspn(path, "/");

        if (part == 2 && memcmp(path, "..", 2) == 0) {
            while (length > root && buffer[--length] != '/')
                ;
        } else if (part > 0 && !(part == 1 && *path == '.')) {
            if (length + 1 + part >= size)
                return false;
            buffer[length++] = '/';
            memcpy(buffer + length, path, part);
            length += part;
        }
        path += part + (path[part] == '/');
    }
    buffer[length] = '\0';
    return true;
}

/* Where the file is really opened; a path that does not fit is opened under its own name, which fails as it must. */
static const char *opened(const char *path, char buffer[PATH_MAX])
{
    return read_from && db_path_copy(read_from, path, buffer, PATH_MAX) ? buffer : path;
}

const char *db_say(struct db_arena *arena, const char *format, ...)
{
    va_list list, again;
    char *text = NULL;
    int length;

    va_start(list, format);
    va_copy(again, list);
    length = vsnprintf(NULL, 0, format, again);
    va_end(again);
    if (length >= 0)
        text = db_arena_get(arena, (size_t) length + 1, 1);
    if (text)
        (void) vsnprintf(text, (size_t) length + 1, format, list);
    va_end(list);
    return text ? text : "";
}

const char *db_path_join(struct db_arena *arena, const char *folder, const char *path)
{
    const char *joined =
        path[0] == '/' || strcmp(folder, ".") == 0 ? db_say(arena, "%s", path) : db_say(arena, "%s/%s", folder, path);
    return *joined ? joined : NULL;
}

const char *db_path_folder(struct db_arena *arena, const char *path)
{
    const char *slash = strrchr(path, '/');

    if (!slash)
        return ".";
    return slash == path ? "/" : db_arena_text(arena, path, (size_t) (slash - path));
}

bool db_path_is_folder(const char *path)
{
    struct stat about;
    char buffer[PATH_MAX];

    return stat(opened(path, buffer), &about) == 0 && S_ISDIR(about.st_mode);
}

static enum db_status refuse(struct db_mistakes *mistakes, struct db_place at, const char *path, const char *instead,
                             const char *why)
{
    db_mistakes_add(mistakes, at, instead, "the file %s %s", path, why);
    return DB_MISTAKEN;
}

static enum db_status refuse_errno(struct db_mistakes *mistakes, struct db_place at, const char *path, int error)
{
    switch (error) {
    case ENOENT:
    case ENOTDIR:
        db_mistakes_add(mistakes, at, "check its name", "there is no file or folder %s", path);
        return DB_MISTAKEN;
    case EACCES:
        return refuse(mistakes, at, path, "allow the program to read it", "may not be read");
    default:
        db_mistakes_add(mistakes, at, "", "the file %s cannot be read: %s", path, strerrordesc_np(error));
        return DB_MISTAKEN;
    }
}

/* Reads until the end or `size` bytes; how many there were, or -1. */
static ssize_t read_all(int fd, char *into, size_t size)
{
    size_t done = 0;

    while (done < size) {
        const ssize_t got = read(fd, into + done, size - done);

        if (got < 0 && errno == EINTR)
            continue;
        if (got < 0)
            return -1;
        if (got == 0)
            break;
        done += (size_t) got;
    }
    return (ssize_t) done;
}

static enum db_status read_open(int fd, const char *path, size_t limit, struct db_place at, struct db_arena *arena,
                                struct db_mistakes *mistakes, char **ret_text, size_t *ret_length)
{
    struct stat about;
    char *text;
    ssize_t length;

    if (fstat(fd, &about) != 0)
        return refuse_errno(mistakes, at, path, errno);
    if (S_ISDIR(about.st_mode))
        return refuse(mistakes, at, path, "name a file in it", "is a folder");
    if (!S_ISREG(about.st_mode))
        return refuse(mistakes, at, path, "name an ordinary file", "is not an ordinary file");
    if ((uint64_t) about.st_size > limit) {
        db_mistakes_add(mistakes, at, "split it", "the file %s has %lld bytes, %zu are allowed", path,
                        (long long) about.st_size, limit);
        return DB_MISTAKEN;
    }
    /* One byte more than it had: a file that grows while it is read shows. */
    text = db_arena_get(arena, (size_t) about.st_size + 2, 1);
    if (!text)
        return DB_FULL;
    length = read_all(fd, text, (size_t) about.st_size + 1);
    if (length < 0)
        return refuse_errno(mistakes, at, path, errno);
    if (length != about.st_size)
        return refuse(mistakes, at, path, "try again", "was being written while it was read");
    text[length] = '\0';
    *ret_text = text;
    *ret_length = (size_t) length;
    return DB_OK;
}

enum db_status db_file_read(const char *path, size_t limit, struct db_place at, struct db_arena *arena,
                            struct db_mistakes *mistakes, char **ret_text, size_t *ret_length)
{
    /* Without O_NONBLOCK a named pipe would keep the program waiting for good. */
    char buffer[PATH_MAX];
    const int fd = open(opened(path, buffer), O_RDONLY | O_CLOEXEC | O_NONBLOCK | O_NOCTTY);
    enum db_status status;

    if (fd < 0)
        return refuse_errno(mistakes, at, path, errno);
    status = read_open(fd, path, limit, at, arena, mistakes, ret_text, ret_length);
    (void) close(fd);
    return status;
}

static int by_name(const void *a, const void *b, const void *context)
{
    (void) context;
    return strcmp(*(const char *const *) a, *(const char *const *) b);
}

static bool is_ini_name(const char *name)
{
    const size_t length = strlen(name);

    return name[0] != '.' && length > 4 && strcmp(name + length - 4, ".ini") == 0;
}

static enum db_status list_open(DIR *folder, const char *path, struct db_place at, struct db_arena *arena,
                                struct db_mistakes *mistakes, const char *const **ret_files, size_t *ret_count)
{
    const char **files = db_arena_get(arena, DB_LIMIT_INCLUDES, sizeof *files);
    size_t count = 0;

    if (!files)
        return DB_FULL;
    for (const struct dirent *entry; (entry = readdir(folder));) {
        if (!is_ini_name(entry->d_name))
            continue;
        if (count == DB_LIMIT_INCLUDES) {
            db_mistakes_add(mistakes, at, "put several of them into one", "the folder %s holds more than %d files",
                            path, DB_LIMIT_INCLUDES);
            return DB_MISTAKEN;
        }
        files[count] = db_path_join(arena, path, entry->d_name);
        if (!files[count++])
            return DB_FULL;
    }
    *ret_files = files;
    *ret_count = count;
    return db_sort(files, count, sizeof *files, by_name, NULL, arena);
}

enum db_status db_files_list(const char *path, struct db_place at, struct db_arena *arena, struct db_mistakes *mistakes,
                             const char *const **ret_files, size_t *ret_count)
{
    enum db_status status;
    DIR *folder;

    if (!db_path_is_folder(path)) {
        const char **one = db_arena_get(arena, 1, sizeof *one);

        if (!one)
            return DB_FULL;
        one[0] = path;
        *ret_files = one;
        *ret_count = 1;
        return DB_OK;
    }
    char buffer[PATH_MAX];

    folder = opendir(opened(path, buffer));
    if (!folder)
        return refuse_errno(mistakes, at, path, errno);
    status = list_open(folder, path, at, arena, mistakes, ret_files, ret_count);
    (void) closedir(folder);
    return status;
}

size_t db_file_plain_ends(char *text, size_t length)
{
    size_t to = 0;

    for (size_t from = 0; from < length; from++)
        if (text[from] != '\r' || from + 1 >= length || text[from + 1] != '\n')
            text[to++] = text[from];
    text[to] = '\0';
    return to;
}
