/* A keeper's files: read, watched, and their mistakes told. */
#include "service/keeper_private.h"

#include "service/log.h"

#include <errno.h>
#include <limits.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "base/banned.h"

static const size_t files_limit = (size_t) 1 << 30;

/* ---- watching ---- */

static bool ends_in_ini(const char *name)
{
    const size_t length = strlen(name);

    return name[0] != '.' && length > 4 && strcmp(name + length - 4, ".ini") == 0;
}

/* Whether a file of that name in any folder was read: a name too many costs a reading, one too few a change. */
static bool is_read(const struct db_keeper *keeper, const char *name)
{
    for (size_t i = 0; keeper->names && keeper->names[i]; i++)
        if (strcmp(keeper->names[i], name) == 0)
            return true;
    return false;
}

static void folder_changed(void *context, const char *folder, const char *name, bool done)
{
    struct db_keeper *keeper = context;
    (void) folder;
    (void) done;

    if (*name == '\0' || ends_in_ini(name) || is_read(keeper, name))
        db_keeper_touch(keeper);
}

/* Asked for only while the garden's own folder is gone: it may come back. */
static void above_changed(void *context, const char *folder, const char *name, bool done)
{
    struct db_keeper *keeper = context;
    (void) folder;
    (void) name;

    if (done && access(keeper->folder, F_OK) == 0)
        db_keeper_touch(keeper);
}

/* Another program wrote a note, a token, a feed. Our own writes come by here, too, and change no number. */
static void record_changed(void *context, const char *folder, const char *name, bool done)
{
    struct db_keeper *keeper = context;
    (void) folder;
    (void) done;

    if (strncmp(name, "record.sqlite", strlen("record.sqlite")) != 0)
        return;
    int64_t version = db_record_version(keeper->record);
    if (version == keeper->version)
        return;
    keeper->version = version;
    db_keeper_nudge(keeper);
}

/* ret_there may be NULL. */
static bool watch(struct db_keeper *keeper, const char *path, enum db_watch what, db_folder_changed *changed,
                  bool *ret_there)
{
    bool fresh = false;
    enum db_status status = db_watcher_add(db_house_watcher(keeper->house), path, what, changed, keeper, &fresh);

    if (status == DB_TROUBLE)
        db_log(DB_LOG_WARNING, "%s: changes of %s go unseen: %s", db_keeper_name(keeper), path, strerror(errno));
    if (ret_there)
        *ret_there = status == DB_OK;
    return fresh;
}

/* The nearest folder above that is there. */
static void watch_above(struct db_keeper *keeper)
{
    char path[PATH_MAX];
    char *slash;
    bool there = false;

    (void) snprintf(path, sizeof path, "%s", keeper->folder);
    while (!there && (slash = strrchr(path, '/')) && slash != path) {
        *slash = '\0';
        (void) watch(keeper, path, DB_WATCH_FOLDER, above_changed, &there);
    }
    if (access(keeper->folder, F_OK) == 0) /* it came back before we looked that way */
        db_keeper_touch(keeper);
}

/* A file may be a link to another folder: both count. */
static bool watch_file(struct db_keeper *keeper, const char *file)
{
    char folder[PATH_MAX];
    bool fresh = false;

    for (int turn = 0; turn < 2; turn++) {
        char *path = turn == 0 ? strdup(file) : realpath(file, NULL);
        char *slash = path ? strrchr(path, '/') : NULL;
        if (slash && strlen(path) < sizeof folder) {
            *slash = '\0';
            memcpy(folder, *path ? path : "/", strlen(*path ? path : "/") + 1);
            fresh = watch(keeper, folder, DB_WATCH_FOLDER, folder_changed, NULL) || fresh;
        }
        free(path);
    }
    /* Who measures the weather may keep the file open for days. */
    if (!ends_in_ini(file))
        fresh = watch(keeper, file, DB_WATCH_FILE, folder_changed, NULL) || fresh;
    return fresh;
}

/* The names are copies: what was read may be gone with its arena while we still watch. */
static void keep_names(struct db_keeper *keeper, const char *const *files)
{
    size_t count = 0;

    while (files && files[count])
        count++;
    char **names = calloc(count + 1, sizeof *names);
    if (!names)
        return;
    for (size_t i = 0; i < count; i++) {
        const char *slash = strrchr(files[i], '/');
        names[i] = strdup(slash ? slash + 1 : files[i]);
        if (!names[i])
            break;
    }
    db_keeper_forget_names(keeper);
    keeper->names = names;
}

void db_keeper_forget_names(struct db_keeper *keeper)
{
    for (size_t i = 0; keeper->names && keeper->names[i]; i++)
        free(keeper->names[i]);
    free(keeper->names);
    keeper->names = NULL;
}

/* True if a folder came to those watched. */
static bool watch_all(struct db_keeper *keeper, const struct db_estate *read)
{
    struct db_watcher *watcher = db_house_watcher(keeper->house);
    char path[PATH_MAX];
    bool fresh = false, there = false;

    db_watcher_begin(watcher, keeper);
    (void) watch(keeper, keeper->state, DB_WATCH_WRITES, record_changed, NULL);
    fresh = watch(keeper, keeper->folder, DB_WATCH_FOLDER, folder_changed, &there);
    if (!there)
        watch_above(keeper);
    for (size_t i = 0; read->files && read->files[i]; i++)
        fresh = watch_file(keeper, read->files[i]) || fresh;
    for (size_t i = 0; read->folders && read->folders[i]; i++)
        fresh = watch(keeper, read->folders[i], DB_WATCH_FOLDER, folder_changed, NULL) || fresh;
    /* Descriptions of forecasts, the shipped ones and the gardener's own. */
    const char *const parents[] = { keeper->house->shipped, keeper->folder };
    for (size_t i = 0; i < 2; i++)
        if (snprintf(path, sizeof path, "%s/sources", parents[i]) < (int) sizeof path)
            fresh = watch(keeper, path, DB_WATCH_FOLDER, folder_changed, NULL) || fresh;
    db_watcher_end(watcher, keeper);
    keep_names(keeper, read->files);
    return fresh;
}

/* ---- reading ---- */

static void log_mistakes(const struct db_keeper *keeper, const struct db_mistakes *mistakes)
{
    enum { SHOWN = 20 };
    const struct db_mistake *mistake;
    size_t shown = 0, count = db_mistakes_count(mistakes);

    for (size_t i = 0; shown < SHOWN && (mistake = db_mistakes_at(mistakes, i)); i++) {
        if (mistake->advice)
            continue;
        char place[32] = "";
        if (mistake->at.line)
            (void) snprintf(place, sizeof place, ":%u:%u", mistake->at.line, mistake->at.column);
        db_log(DB_LOG_WARNING, "%s: %s%s: %s%s%s", db_keeper_name(keeper), mistake->at.file ? mistake->at.file : "",
               place, mistake->what, *mistake->instead ? "; " : "", mistake->instead);
        shown++;
    }
    db_log(DB_LOG_WARNING, "%s: %zu mistake%s; %s", db_keeper_name(keeper), count, count == 1 ? "" : "s",
           keeper->good ? "the last good plan stays in force" : "there is no good plan to go by yet");
}

/* The list of what is wrong now, in the arena it lives in. */
static void keep_mistakes(struct db_keeper *keeper, struct db_arena *arena, struct db_mistakes *mistakes)
{
    struct db_arena *old = keeper->mistaken;

    keeper->mistakes = mistakes;
    keeper->mistaken = arena;
    (void) db_arena_free(old);
}

/* After a start with broken files: what was good when we last ran. */
static void fall_back(struct db_keeper *keeper, struct db_mistakes *wrong)
{
    struct db_arena *arena = db_arena_new(files_limit);
    struct db_mistakes *mistakes = arena ? db_mistakes_new(arena) : NULL;
    struct db_estate estate = { 0 };
    enum db_status status = mistakes ? db_keeper_read_good(keeper, arena, mistakes, &estate) : DB_FULL;

    if (status == DB_OK)
        status = db_keeper_evaluate(keeper, arena, &estate, wrong);
    if (status == DB_OK) {
        keeper->put_by = true;
        return;
    }
    (void) db_arena_free(arena);
    if (status == DB_ABSENT && keeper->waiting)
        return; /* the feeds were busy: it comes by again */
    if (status != DB_ABSENT)
        db_log(DB_LOG_ERROR, "%s: the files that were put by cannot be used: %s", db_keeper_name(keeper),
               db_status_text(status));
}

static void refuse(struct db_keeper *keeper, struct db_arena *arena, struct db_mistakes *mistakes)
{
    unsigned which = 0;

    keep_mistakes(keeper, arena, mistakes);
    if (keeper->good)
        db_keeper_nudge(keeper); /* the notice must be seen */
    else
        fall_back(keeper, mistakes);
    if (!keeper->good && !keeper->waiting)
        which = db_keeper_tell_unread(keeper);
    log_mistakes(keeper, mistakes);
    db_keeper_tell(keeper, which);
}

static void welcome(struct db_keeper *keeper, const struct db_mistakes *mistakes, bool was_wrong)
{
    const size_t advice = db_mistakes_advice(mistakes);
    const struct db_garden *garden = keeper->estate.garden;

    db_log(DB_LOG_INFO, "%s: %s: %zu sowings in %zu beds, %zu jobs", db_keeper_name(keeper),
           was_wrong ? "mended" : "read", db_garden_sowings(garden), db_garden_beds(garden),
           db_jobs_count(keeper->jobs));
    if (advice && advice != keeper->advice)
        db_log(DB_LOG_INFO, "%s: there is advice about the plan; `dewbell check` shows it", db_keeper_name(keeper));
    keeper->advice = advice;
    keeper->put_by = false;
    if (!*keeper->trouble) /* else when that is over */
        db_keeper_store_good(keeper);
}

void db_keeper_read(struct db_keeper *keeper)
{
    struct db_arena *arena = db_arena_new(files_limit);
    struct db_mistakes *mistakes = arena ? db_mistakes_new(arena) : NULL;
    struct db_estate estate = { 0 };
    const bool was_wrong = db_mistakes_count(keeper->mistakes) > 0;

    keeper->restless = -1;
    enum db_status status =
        mistakes ? db_estate_read(keeper->file, keeper->house->shipped, arena, mistakes, &estate) : DB_FULL;
    if (status == DB_OK || status == DB_MISTAKEN) {
        /* What changed before it was watched tells nobody. */
        if (watch_all(keeper, &estate) && !db_estate_stands(&estate))
            db_keeper_touch(keeper);
    }
    if (status == DB_OK)
        status = db_keeper_evaluate(keeper, arena, &estate, mistakes);
    switch (status) {
    case DB_OK: {
        keep_mistakes(keeper, NULL, mistakes); /* it lives where the estate does */
        welcome(keeper, mistakes, was_wrong);
        break;
    }
    case DB_MISTAKEN:
        refuse(keeper, arena, mistakes);
        break;
    case DB_ABSENT: /* another program is writing the feeds */
        (void) db_arena_free(arena);
        db_keeper_touch(keeper);
        break;
    default:
        (void) db_arena_free(arena);
        db_log(DB_LOG_ERROR, "%s: the plan could not be read: %s", db_keeper_name(keeper), db_status_text(status));
        break;
    }
}
