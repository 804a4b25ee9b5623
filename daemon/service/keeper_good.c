/* The last good files, kept as copies in the state folder: a service that starts while the plan is broken goes on with them.
 * The copies are made beside, read back, and put in force by renaming one link. */
#include "service/keeper_private.h"

#include "service/log.h"

#include <dirent.h>
#include <errno.h>
#include <fcntl.h>
#include <limits.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "base/banned.h"

/* state/good is a link to the folder of copies beside it, one of the two. */
static const char *const folder_names[] = { "good-a", "good-b" };

static bool path_in(const struct db_keeper *keeper, const char *name, char buffer[PATH_MAX])
{
    int length = snprintf(buffer, PATH_MAX, "%s/%s", keeper->state, name);

    return length > 0 && length < PATH_MAX;
}

/* Removes a folder of copies and all below it. Links are removed, not followed. */
static bool remove_all(int parent, const char *name)
{
    if (unlinkat(parent, name, 0) == 0 || errno == ENOENT)
        return true;
    int fd = openat(parent, name, O_RDONLY | O_DIRECTORY | O_NOFOLLOW | O_CLOEXEC);
    DIR *folder = fd >= 0 ? fdopendir(fd) : NULL;
    bool done = folder != NULL;

    if (!folder) {
        if (fd >= 0)
            (void) close(fd);
        return false;
    }
    for (const struct dirent *entry; (entry = readdir(folder));)
        if (strcmp(entry->d_name, ".") != 0 && strcmp(entry->d_name, "..") != 0)
            done = remove_all(fd, entry->d_name) && done;
    (void) closedir(folder);
    return done && unlinkat(parent, name, AT_REMOVEDIR) == 0;
}

/* Makes the folders above (and with `whole`, at) a path. */
static bool make_folders(char *path, bool whole)
{
    for (char *at = path + 1; *at; at++)
        if (*at == '/') {
            *at = '\0';
            bool done = mkdir(path, 0700) == 0 || errno == EEXIST;
            *at = '/';
            if (!done)
                return false;
        }
    return !whole || mkdir(path, 0700) == 0 || errno == EEXIST;
}

/* Whether the older copy still holds what the file holds: a long record of weather need not be copied for a word. */
static bool is_copied(const struct stat *file, const char *copy)
{
    struct stat about;

    return stat(copy, &about) == 0 && about.st_size == file->st_size && about.st_mtim.tv_sec == file->st_mtim.tv_sec &&
           about.st_mtim.tv_nsec == file->st_mtim.tv_nsec;
}

static bool copy_bytes(int from, int to)
{
    static char buffer[64 * 1024];
    ssize_t got;

    while ((got = read(from, buffer, sizeof buffer)) != 0) {
        if (got < 0 && errno == EINTR)
            continue;
        for (ssize_t done = 0; done < got;) {
            ssize_t put = write(to, buffer + done, (size_t) (got - done));
            if (put < 0 && errno != EINTR)
                return false;
            done += put > 0 ? put : 0;
        }
        if (got < 0)
            return false;
    }
    return true;
}

static bool copy_file(const char *from, const char *older, const char *to)
{
    struct stat about;
    int in = open(from, O_RDONLY | O_CLOEXEC | O_NONBLOCK);

    if (in < 0)
        return false;
    bool done = fstat(in, &about) == 0;
    if (done && older && is_copied(&about, older) && link(older, to) == 0) {
        (void) close(in);
        return true;
    }
    int out = done ? open(to, O_WRONLY | O_CREAT | O_EXCL | O_CLOEXEC, 0600) : -1;
    done = out >= 0 && copy_bytes(in, out) &&
           futimens(out, (const struct timespec[]){ about.st_mtim, about.st_mtim }) == 0;
    if (out >= 0 && close(out) != 0)
        done = false;
    (void) close(in);
    return done;
}

static bool copy_estate(const struct db_estate *estate, const char *older, const char *copies)
{
    char to[PATH_MAX], from[PATH_MAX];

    for (size_t i = 0; estate->folders && estate->folders[i]; i++)
        if (!db_path_copy(copies, estate->folders[i], to, sizeof to) || !make_folders(to, true))
            return false;
    for (size_t i = 0; estate->files && estate->files[i]; i++) {
        const bool known = *older && db_path_copy(older, estate->files[i], from, sizeof from);
        if (!db_path_copy(copies, estate->files[i], to, sizeof to) || !make_folders(to, false) ||
            !copy_file(estate->files[i], known ? from : NULL, to))
            return false;
    }
    return true;
}

/* A copy that was torn by a change meanwhile must not be kept; the change will be read and copied in its turn. */
static bool reads_well(const struct db_keeper *keeper, const char *copies)
{
    struct db_arena *arena = db_arena_new((size_t) 1 << 30);
    struct db_mistakes *mistakes = arena ? db_mistakes_new(arena) : NULL;
    struct db_estate estate = { 0 };
    bool good = mistakes &&
                db_estate_read_copies(copies, keeper->file, keeper->house->shipped, arena, mistakes, &estate) == DB_OK;

    (void) db_arena_free(arena);
    return good;
}

/* Which of the two folders the link names; -1: none. */
static int in_force(const struct db_keeper *keeper)
{
    char link[PATH_MAX], named[16];

    if (!path_in(keeper, "good", link))
        return -1;
    ssize_t length = readlink(link, named, sizeof named - 1);
    for (int i = 0; length > 0 && i < 2; i++)
        if ((size_t) length == strlen(folder_names[i]) && memcmp(named, folder_names[i], (size_t) length) == 0)
            return i;
    return -1;
}

static bool store(struct db_keeper *keeper, const struct db_estate *estate, int state)
{
    const int old = in_force(keeper), fresh = old == 0 ? 1 : 0;
    char copies[PATH_MAX], older[PATH_MAX] = "";

    if (!path_in(keeper, folder_names[fresh], copies) || (old >= 0 && !path_in(keeper, folder_names[old], older)))
        return false;
    if (!remove_all(state, folder_names[fresh]) || !copy_estate(estate, older, copies))
        return false;
    if (!reads_well(keeper, copies)) {
        errno = EAGAIN;
        return false;
    }
    /* All of it is on the disk before the link names it. */
    if (syncfs(state) != 0 || (unlinkat(state, "good.new", 0) != 0 && errno != ENOENT) ||
        symlinkat(folder_names[fresh], state, "good.new") != 0 || renameat(state, "good.new", state, "good") != 0)
        return false;
    return fsync(state) == 0;
}

void db_keeper_store_good(struct db_keeper *keeper)
{
    int state = open(keeper->state, O_RDONLY | O_DIRECTORY | O_CLOEXEC);

    keeper->put_by = state >= 0 && store(keeper, &keeper->estate, state);
    if (!keeper->put_by && !keeper->told_put_by)
        db_log(DB_LOG_WARNING, "%s: the good files could not be put by: %s", db_keeper_name(keeper), strerror(errno));
    keeper->told_put_by = !keeper->put_by;
    if (state >= 0)
        (void) close(state);
}

enum db_status db_keeper_read_good(const struct db_keeper *keeper, struct db_arena *files, struct db_mistakes *mistakes,
                                   struct db_estate *ret)
{
    const int which = in_force(keeper);
    char copies[PATH_MAX];

    if (which < 0 || !path_in(keeper, folder_names[which], copies))
        return DB_ABSENT;
    return db_estate_read_copies(copies, keeper->file, keeper->house->shipped, files, mistakes, ret);
}
