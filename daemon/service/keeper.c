/* A keeper: when to read, when to evaluate, and what is in force. */
#include "service/keeper_private.h"

#include "service/feed_store.h"
#include "service/log.h"

#include <errno.h>
#include <fcntl.h>
#include <limits.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/file.h>
#include <sys/stat.h>
#include <unistd.h>

#include "base/banned.h"

enum {
    REST = 300,        /* ms without a change after which files are read: an editor's rename dance is over */
    RESTLESS = 3000,   /* ms after which they are read although changes go on */
    GATHER = 50,       /* ms in which several nudges become one evaluation */
    PATIENCE = 100,    /* ms that the loop waits for another program that is writing to the record */
    TRY_AGAIN = 1000,  /* ms until it is tried again */
    WORTH_A_LINE = 10, /* times that it was, in a row */
    RETRY = 5000,
    RETRY_MOST = 60000 /* ms until feeds that could not be kept are made again */
};

static const size_t work_limit = (size_t) 1 << 30;

/* ---- evaluating ---- */

/* The notes as they are now. */
static enum db_status read_diary(struct db_keeper *keeper, const struct db_estate *estate, struct db_arena *work,
                                 struct db_diary **ret)
{
    struct db_diary *diary = db_diary_new(work);

    if (!diary)
        return DB_FULL;
    keeper->version = db_record_version(keeper->record);
    enum db_status status = db_record_read_notes(keeper->record, work, diary);
    if (status != DB_OK) {
        db_log(DB_LOG_ERROR, "%s: the notes could not be read: %s", db_keeper_name(keeper),
               db_record_trouble(keeper->record));
        return status;
    }
    *ret = diary;
    return db_diary_close(diary, estate->garden);
}

/* Where the jobs were published last, so that they stay there while the weather only wobbles. */
static const struct db_positions *read_positions(struct db_keeper *keeper, struct db_arena *work)
{
    struct db_positions *published = db_arena_get(work, 1, sizeof *published);

    if (!published || db_record_positions(keeper->record, work, published) == DB_OK)
        return published;
    db_log(DB_LOG_ERROR, "%s: where the jobs stood could not be read: %s", db_keeper_name(keeper),
           db_record_trouble(keeper->record));
    return NULL;
}

static enum db_status work_out(struct db_keeper *keeper, const struct db_estate *given, struct db_arena *work,
                               struct db_date today, struct db_mistakes *mistakes, const struct db_told **ret_told,
                               const struct db_jobs **ret)
{
    struct db_estate *estate = db_arena_get(work, 1, sizeof *estate);
    struct db_view *view = db_arena_get(work, 1, sizeof *view);
    struct db_weather *weather = NULL;
    struct db_diary *diary = NULL;

    if (!estate || !view)
        return DB_FULL;
    *estate = *given;
    if (keeper->house->ask_told)
        estate->told = keeper->house->ask_told(keeper->house->told_context, keeper, estate, work);
    enum db_status status = read_diary(keeper, estate, work, &diary);
    if (status == DB_OK)
        status = db_estate_weather(estate, today, work, mistakes, &weather);
    if (status != DB_OK)
        return status;
    *view = (struct db_view){ .garden = estate->garden,
                              .rules = estate->rules,
                              .weather = weather,
                              .diary = diary,
                              .today = today,
                              .published = read_positions(keeper, work) };
    *ret_told = estate->told;
    return db_garden_evaluate(view, work, ret);
}

/* What was worked out is in force from here on, the forecast that it was worked out with, too. */
static void take_over(struct db_keeper *keeper, struct db_arena *files, const struct db_estate *estate,
                      struct db_arena *work, const struct db_told *told, const struct db_jobs *jobs)
{
    struct db_arena *old_work = keeper->work, *old_files = keeper->files;

    keeper->work = work;
    keeper->jobs = jobs;
    keeper->evaluated = db_loop_wall(keeper->house->loop) / 1000;
    (void) db_arena_free(old_work);
    if (files == old_files) {
        keeper->estate.told = told;
        return;
    }
    if (keeper->mistaken == NULL)
        keeper->mistakes = keeper->no_mistakes; /* they went with the old files; the caller says what holds now */
    keeper->estate = *estate;
    keeper->estate.told = told;
    keeper->files = files;
    keeper->good = true;
    keeper->zone = db_zone_find(db_garden_site(estate->garden)->zone);
    (void) db_arena_free(old_files);
}

static void set_midnight(struct db_keeper *keeper)
{
    if (keeper->zone)
        db_timer_at(keeper->midnight, db_zone_day_start(keeper->zone, db_date_add(keeper->today, 1)) * 1000);
}

/* A feed that cannot be made leaves the one before; the jobs are in force all the same. */
static enum db_status evaluate(struct db_keeper *keeper, struct db_arena *files, const struct db_estate *estate,
                               struct db_mistakes *mistakes, const struct db_jobs **ret)
{
    const struct db_zone *zone = db_zone_find(db_garden_site(estate->garden)->zone);
    struct db_arena *work = db_arena_new(work_limit);
    const struct db_told *forecast = NULL;
    const struct db_jobs *jobs = NULL;

    if (!work)
        return DB_FULL;
    const struct db_date today =
        zone ? db_zone_day(zone, db_loop_wall(keeper->house->loop) / 1000) : (struct db_date){ 0 };
    /* Mistakes of the weather belong to a reading; in between they are only told. */
    struct db_mistakes *told = files != keeper->files ? mistakes : db_mistakes_new(work);
    enum db_status status = !zone   ? DB_TROUBLE
                            : !told ? DB_FULL
                                    : work_out(keeper, estate, work, today, told, &forecast, &jobs);
    if (status != DB_OK) {
        if (status == DB_MISTAKEN && told != mistakes && db_mistakes_at(told, 0))
            db_log(DB_LOG_WARNING, "%s: %s", db_keeper_name(keeper), db_mistakes_at(told, 0)->what);
        (void) db_arena_free(work);
        return status;
    }
    keeper->today = today;
    *ret = jobs;
    take_over(keeper, files, estate, work, forecast, jobs);
    return DB_OK;
}

/* ---- the record ---- */

/* Why the feeds are not kept: told once, and again when it is another reason or over. what "": they are. */
static void note_trouble(struct db_keeper *keeper, const char *what, const char *why)
{
    char trouble[sizeof keeper->trouble];

    (void) snprintf(trouble, sizeof trouble, "%s%s%s", what, *what && *why ? ": " : "", why);
    if (strcmp(trouble, keeper->trouble) == 0)
        return;
    if (*what)
        db_log(DB_LOG_ERROR, "%s: %s; the feeds stay as they were, and it is tried again", db_keeper_name(keeper),
               trouble);
    else
        db_log(DB_LOG_NOTICE, "%s: the feeds can be kept again", db_keeper_name(keeper));
    memcpy(keeper->trouble, trouble, sizeof trouble);
}

static void end_well(struct db_keeper *keeper)
{
    keeper->failures = 0;
    note_trouble(keeper, "", "");
}

/* Evaluates again after a while that grows. */
static void end_badly(struct db_keeper *keeper, const char *what, const char *why)
{
    const int64_t pause = (int64_t) RETRY << (keeper->failures < 4 ? keeper->failures : 4);

    keeper->failures++;
    note_trouble(keeper, what, why);
    db_timer_after(keeper->soon, pause < RETRY_MOST ? pause : RETRY_MOST);
}

/* Another program holds the feeds' lock or writes to the record: the loop does not wait for it. */
static enum db_status wait_for_others(struct db_keeper *keeper)
{
    keeper->waiting = true;
    if (++keeper->waits == WORTH_A_LINE)
        note_trouble(keeper, "another program does not let go of the record", "");
    db_timer_after(keeper->again, TRY_AGAIN);
    return DB_ABSENT;
}

/* What comes until end_record() is kept all at once. DB_ABSENT: somebody else is writing; it is tried again. */
static enum db_status begin_record(struct db_keeper *keeper, int *ret_lock)
{
    enum db_status status = db_feed_lock(keeper->state, false, ret_lock);

    keeper->waiting = false;
    if (status == DB_ABSENT)
        return wait_for_others(keeper);
    if (status != DB_OK) {
        end_badly(keeper, "the lock of the feeds cannot be had", strerror(errno));
        return status;
    }
    status = db_record_begin(keeper->record);
    if (status != DB_OK)
        db_feed_unlock(*ret_lock);
    if (status == DB_TROUBLE && db_record_is_busy(keeper->record))
        return wait_for_others(keeper);
    keeper->waits = 0;
    if (status != DB_OK)
        end_badly(keeper, "the feeds cannot be kept", db_record_trouble(keeper->record));
    return status;
}

/* status, doing: how the making went. */
static unsigned end_record(struct db_keeper *keeper, int lock, enum db_status status, struct db_made_feeds *made,
                           const char *doing)
{
    unsigned which = 0;

    status = db_record_end(keeper->record, status);
    db_feed_unlock(lock);
    if (status == DB_OK) {
        which = db_keeper_serve(keeper, made);
        end_well(keeper);
    } else {
        end_badly(keeper, doing, status == DB_FULL ? "out of memory" : db_record_trouble(keeper->record));
    }
    db_keeper_drop(made);
    return which;
}

enum db_status db_keeper_evaluate(struct db_keeper *keeper, struct db_arena *files, const struct db_estate *estate,
                                  struct db_mistakes *mistakes)
{
    const bool again = files == keeper->files;
    const char *doing = "the feeds cannot be kept";
    const struct db_jobs *jobs = NULL;
    struct db_made_feeds made;
    unsigned which = 0;
    int lock = -1;

    db_timer_stop(keeper->soon);
    enum db_status begun = begin_record(keeper, &lock);
    if (begun == DB_ABSENT)
        return begun;
    enum db_status status = evaluate(keeper, files, estate, mistakes, &jobs);
    if (begun == DB_OK && status == DB_OK) {
        const enum db_status kept = db_keeper_make_feeds(keeper, jobs, mistakes, &made, &doing);
        which = end_record(keeper, lock, kept, &made, doing);
    } else if (begun == DB_OK) {
        status = db_record_end(keeper->record, status);
        db_feed_unlock(lock);
    }
    if (status != DB_OK)
        return status;
    set_midnight(keeper);
    if (again && !keeper->put_by && !*keeper->trouble) /* they could not be, before */
        db_keeper_store_good(keeper);
    db_keeper_tell(keeper, which);
    return DB_OK;
}

unsigned db_keeper_tell_unread(struct db_keeper *keeper)
{
    const int64_t now = db_loop_wall(keeper->house->loop) / 1000, day = (int64_t) 24 * 3600;
    const char *doing = "the feeds cannot be kept";
    struct db_made_feeds made;
    int lock = -1;

    if (begin_record(keeper, &lock) != DB_OK)
        return 0;
    db_timer_at(keeper->midnight, (now / day + 1) * day * 1000); /* of UTC: nobody knows where it lies */
    const enum db_status kept = db_keeper_make_unread(keeper, &made, &doing);
    return end_record(keeper, lock, kept, &made, doing);
}

/* Once more with what is in force. */
static void evaluate_again(struct db_keeper *keeper)
{
    if (!keeper->good) { /* reading will evaluate when there is something to go by */
        if (db_mistakes_count(keeper->mistakes))
            db_keeper_tell(keeper, db_keeper_tell_unread(keeper));
        return;
    }
    enum db_status status = db_keeper_evaluate(keeper, keeper->files, &keeper->estate, keeper->mistakes);
    if (status == DB_OK || status == DB_ABSENT)
        return;
    db_log(DB_LOG_ERROR, "%s: the jobs could not be worked out: %s; those before stay", db_keeper_name(keeper),
           db_status_text(status));
    /* Tomorrow is another day, whatever went wrong today. */
    if (keeper->zone) {
        keeper->today = db_zone_day(keeper->zone, db_loop_wall(keeper->house->loop) / 1000);
        set_midnight(keeper);
    }
}

static void soon_due(void *context)
{
    evaluate_again(context);
}

static void midnight_due(void *context)
{
    evaluate_again(context);
}

static void settle_due(void *context)
{
    db_keeper_read(context);
}

/* Another program was writing. */
static void again_due(void *context)
{
    struct db_keeper *keeper = context;

    if (keeper->good)
        evaluate_again(keeper);
    else
        db_keeper_read(keeper);
}

void db_keeper_nudge(struct db_keeper *keeper)
{
    if (keeper->good)
        db_timer_after(keeper->soon, GATHER);
}

void db_keeper_touch(struct db_keeper *keeper)
{
    const int64_t now = db_loop_steady(keeper->house->loop);

    if (keeper->restless < 0)
        keeper->restless = now;
    const int64_t left = keeper->restless + RESTLESS - now;
    db_timer_after(keeper->settle, left < REST ? left : REST);
}

/* The clock was set: another day may have come, or the one before. */
void db_keeper_look_at_day(struct db_keeper *keeper)
{
    if (!keeper->good || !keeper->zone)
        return;
    if (db_zone_day(keeper->zone, db_loop_wall(keeper->house->loop) / 1000).day != keeper->today.day)
        evaluate_again(keeper);
}

void db_keeper_tell(struct db_keeper *keeper, unsigned which)
{
    for (size_t i = 0; i < keeper->listener_count; i++)
        keeper->listeners[i].changed(keeper->listeners[i].context, keeper, which);
}

enum db_status db_keeper_on_change(struct db_keeper *keeper, db_feeds_changed *changed, void *context)
{
    void *grown = reallocarray(keeper->listeners, keeper->listener_count + 1, sizeof *keeper->listeners);

    if (!grown)
        return DB_FULL;
    keeper->listeners = grown;
    keeper->listeners[keeper->listener_count].changed = changed;
    keeper->listeners[keeper->listener_count++].context = context;
    return DB_OK;
}

/* ---- birth and end ---- */

static bool set_paths(struct db_keeper *keeper, const char *garden_file, const char *state)
{
    char here[PATH_MAX];
    char *slash;

    if (!getcwd(here, sizeof here))
        return false;
    /* By name, not by what links lead to: a plan behind a link is watched on both ends. */
    if (asprintf(&keeper->file, "%s%s%s", *garden_file == '/' ? "" : here, *garden_file == '/' ? "" : "/",
                 garden_file) < 0) {
        keeper->file = NULL;
        return false;
    }
    keeper->folder = strdup(keeper->file);
    if (!keeper->folder || !(slash = strrchr(keeper->folder, '/')))
        return false;
    *(slash == keeper->folder ? slash + 1 : slash) = '\0';
    int length = state ? asprintf(&keeper->state, "%s%s%s", *state == '/' ? "" : here, *state == '/' ? "" : "/", state)
                       : asprintf(&keeper->state, "%s/.dewbell", keeper->folder);
    if (length < 0)
        keeper->state = NULL;
    return length >= 0;
}

static enum db_status open_state(struct db_keeper *keeper, char trouble[256])
{
    char path[PATH_MAX];

    if (mkdir(keeper->state, 0700) != 0 && errno != EEXIST) {
        (void) snprintf(trouble, 256, "the folder %.150s cannot be made: %s", keeper->state, strerror(errno));
        return DB_TROUBLE;
    }
    (void) snprintf(path, sizeof path, "%s/service.lock", keeper->state);
    keeper->lock = open(path, O_RDWR | O_CREAT | O_CLOEXEC, 0600);
    if (keeper->lock < 0 || flock(keeper->lock, LOCK_EX | LOCK_NB) != 0) {
        (void) snprintf(trouble, 256, "%.150s: %s", path,
                        errno == EWOULDBLOCK ? "another dewbelld looks after the garden" : strerror(errno));
        return DB_TROUBLE;
    }
    (void) snprintf(path, sizeof path, "%s/record.sqlite", keeper->state);
    enum db_status status = db_record_open(path, &keeper->record, trouble);
    if (status == DB_OK)
        db_record_set_patience(keeper->record, PATIENCE);
    return status;
}

enum db_status db_keeper_new(struct db_house *house, const char *garden_file, const char *state, struct db_keeper **ret,
                             char trouble[256])
{
    struct db_keeper *keeper = calloc(1, sizeof *keeper);

    (void) snprintf(trouble, 256, "out of memory");
    if (!keeper)
        return DB_FULL;
    keeper->house = house;
    keeper->lock = -1;
    keeper->restless = -1;
    keeper->nothing = db_arena_new((size_t) 64 * 1024);
    keeper->no_mistakes = keeper->nothing ? db_mistakes_new(keeper->nothing) : NULL;
    keeper->mistakes = keeper->no_mistakes;
    keeper->settle = db_timer_new(house->loop, "read changed files", settle_due, keeper);
    keeper->soon = db_timer_new(house->loop, "evaluate after a change", soon_due, keeper);
    keeper->midnight = db_timer_new(house->loop, "evaluate the new day", midnight_due, keeper);
    keeper->again = db_timer_new(house->loop, "wait for another program", again_due, keeper);
    enum db_status status = DB_OK;
    if (!keeper->no_mistakes || !keeper->settle || !keeper->soon || !keeper->midnight || !keeper->again ||
        !set_paths(keeper, garden_file, state))
        status = DB_FULL;
    if (status == DB_OK)
        status = open_state(keeper, trouble);
    if (status == DB_OK) {
        db_keeper_load_feeds(keeper);
        status = db_house_enter(house, keeper);
    }
    if (status != DB_OK) {
        (void) db_keeper_free(keeper);
        return status;
    }
    db_timer_after(keeper->settle, 0);
    *ret = keeper;
    return DB_OK;
}

struct db_keeper *db_keeper_free(struct db_keeper *keeper)
{
    if (!keeper)
        return NULL;
    db_house_leave(keeper->house, keeper);
    keeper->settle = db_timer_free(keeper->settle);
    keeper->soon = db_timer_free(keeper->soon);
    keeper->midnight = db_timer_free(keeper->midnight);
    keeper->again = db_timer_free(keeper->again);
    for (size_t i = 0; i < DB_READY_COUNT; i++)
        db_ready_release(keeper->ready[i]);
    keeper->record = db_record_close(keeper->record);
    (void) db_arena_free(keeper->work);
    (void) db_arena_free(keeper->files);
    (void) db_arena_free(keeper->mistaken);
    (void) db_arena_free(keeper->nothing);
    db_keeper_forget_names(keeper);
    if (keeper->lock >= 0)
        (void) close(keeper->lock);
    free(keeper->listeners);
    free(keeper->file);
    free(keeper->folder);
    free(keeper->state);
    free(keeper);
    return NULL;
}

/* ---- what others ask ---- */

const char *db_keeper_name(const struct db_keeper *keeper)
{
    if (keeper->good)
        return db_garden_site(keeper->estate.garden)->name;
    const char *slash = strrchr(keeper->folder, '/');
    return slash && slash[1] ? slash + 1 : keeper->folder;
}

const char *db_keeper_folder(const struct db_keeper *keeper)
{
    return keeper->folder;
}

const char *db_keeper_state(const struct db_keeper *keeper)
{
    return keeper->state;
}

struct db_house *db_keeper_house(const struct db_keeper *keeper)
{
    return keeper->house;
}

struct db_record *db_keeper_record(const struct db_keeper *keeper)
{
    return keeper->record;
}

const struct db_estate *db_keeper_estate(const struct db_keeper *keeper)
{
    return keeper->good ? &keeper->estate : NULL;
}

const struct db_jobs *db_keeper_jobs(const struct db_keeper *keeper)
{
    return keeper->jobs;
}

const struct db_mistakes *db_keeper_mistakes(const struct db_keeper *keeper)
{
    return keeper->mistakes;
}

int64_t db_keeper_evaluated(const struct db_keeper *keeper)
{
    return keeper->evaluated;
}

const char *db_keeper_trouble(const struct db_keeper *keeper)
{
    return keeper->trouble;
}
