#include "service/gardens.h"

#include "service/keeper_private.h"
#include "service/log.h"

#include <dirent.h>
#include <errno.h>
#include <limits.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "base/banned.h"

enum { REST = 300 }; /* ms without a change before the folder is looked at */

struct db_gardens {
    struct db_house *house;
    char *folder, *state;
    struct db_timer *settle;
};

static bool join(char buffer[PATH_MAX], const char *folder, const char *name, const char *file)
{
    int length = snprintf(buffer, PATH_MAX, "%s/%s%s%s", folder, name, *file ? "/" : "", file);

    return length > 0 && length < PATH_MAX;
}

static struct db_keeper *keeper_of(const struct db_gardens *gardens, const char *folder)
{
    for (size_t i = 0; i < gardens->house->keeper_count; i++)
        if (strcmp(db_keeper_folder(gardens->house->keepers[i]), folder) == 0)
            return gardens->house->keepers[i];
    return NULL;
}

static void changed(void *context, const char *folder, const char *name, bool done)
{
    struct db_gardens *gardens = context;
    (void) folder;
    (void) name;

    if (done)
        db_timer_after(gardens->settle, REST);
}

static void settled(void *context)
{
    db_gardens_look(context);
}

static void take_in(struct db_gardens *gardens, const char *name)
{
    char folder[PATH_MAX], file[PATH_MAX], state[PATH_MAX], trouble[256];
    struct stat about;
    struct db_keeper *keeper;

    if (!join(folder, gardens->folder, name, "") || !join(file, gardens->folder, name, "garden.ini") ||
        stat(folder, &about) != 0 || !S_ISDIR(about.st_mode) || keeper_of(gardens, folder))
        return;
    if (access(file, F_OK) != 0) { /* its plan may be on the way */
        if (db_watcher_add(db_house_watcher(gardens->house), folder, DB_WATCH_FOLDER, changed, gardens, NULL) ==
            DB_TROUBLE)
            db_log(DB_LOG_WARNING, "changes in %s go unseen: %s", folder, strerror(errno));
        return;
    }
    const bool named = gardens->state && join(state, gardens->state, name, "");
    if (db_keeper_new(gardens->house, file, named ? state : NULL, &keeper, trouble) != DB_OK)
        db_log(DB_LOG_ERROR, "%s: %s", name, trouble);
    else
        db_log(DB_LOG_INFO, "%s: looked after from now on", name);
}

static void let_go(struct db_gardens *gardens)
{
    struct stat about;

    for (size_t i = gardens->house->keeper_count; i-- > 0;) {
        struct db_keeper *keeper = gardens->house->keepers[i];

        if (stat(db_keeper_folder(keeper), &about) == 0 || errno != ENOENT)
            continue;
        db_log(DB_LOG_NOTICE, "%s: its folder is gone; it is looked after no more", db_keeper_name(keeper));
        (void) db_keeper_free(keeper);
    }
}

static int by_name(const struct dirent **a, const struct dirent **b)
{
    return strcmp((*a)->d_name, (*b)->d_name);
}

static int is_plain(const struct dirent *entry)
{
    return entry->d_name[0] != '.';
}

void db_gardens_look(struct db_gardens *gardens)
{
    struct db_watcher *watcher = db_house_watcher(gardens->house);
    struct dirent **entries = NULL;

    let_go(gardens);
    db_watcher_begin(watcher, gardens);
    /* Watched first, read then: what comes in between is seen twice, not never. */
    if (db_watcher_add(watcher, gardens->folder, DB_WATCH_FOLDER, changed, gardens, NULL) != DB_OK)
        db_log(DB_LOG_WARNING, "changes in %s go unseen: %s", gardens->folder, strerror(errno));
    int count = scandir(gardens->folder, &entries, is_plain, by_name);
    if (count < 0)
        db_log(DB_LOG_ERROR, "%s: %s", gardens->folder, strerror(errno));
    for (int i = 0; i < count; i++) {
        take_in(gardens, entries[i]->d_name);
        free(entries[i]);
    }
    free(entries);
    db_watcher_end(watcher, gardens);
}

enum db_status db_gardens_new(struct db_house *house, const char *folder, const char *state, struct db_gardens **ret,
                              char trouble[256])
{
    struct db_gardens *gardens = calloc(1, sizeof *gardens);
    struct stat about;

    (void) snprintf(trouble, 256, "out of memory");
    if (!gardens)
        return DB_FULL;
    gardens->house = house;
    gardens->folder = realpath(folder, NULL);
    if (!gardens->folder || stat(gardens->folder, &about) != 0 || !S_ISDIR(about.st_mode)) {
        (void) snprintf(trouble, 256, "%.150s: %s", folder, strerror(gardens->folder ? ENOTDIR : errno));
        (void) db_gardens_free(gardens);
        return DB_TROUBLE;
    }
    if (state && mkdir(state, 0700) != 0 && errno != EEXIST) {
        (void) snprintf(trouble, 256, "the folder %.150s cannot be made: %s", state, strerror(errno));
        (void) db_gardens_free(gardens);
        return DB_TROUBLE;
    }
    gardens->state = state ? strdup(state) : NULL;
    gardens->settle = db_timer_new(house->loop, "look for gardens that came or went", settled, gardens);
    enum db_status status = !gardens->settle || (state && !gardens->state) ? DB_FULL : db_house_furnish(house);
    if (status != DB_OK) {
        (void) db_gardens_free(gardens);
        return status;
    }
    db_gardens_look(gardens);
    if (house->keeper_count == 0)
        db_log(DB_LOG_NOTICE, "there is no garden.ini in any folder of %s yet", gardens->folder);
    *ret = gardens;
    return DB_OK;
}

struct db_gardens *db_gardens_free(struct db_gardens *gardens)
{
    if (gardens) {
        if (gardens->settle && gardens->house->rest) {
            db_watcher_begin(db_house_watcher(gardens->house), gardens);
            db_watcher_end(db_house_watcher(gardens->house), gardens);
        }
        gardens->settle = db_timer_free(gardens->settle);
        free(gardens->folder);
        free(gardens->state);
        free(gardens);
    }
    return NULL;
}
