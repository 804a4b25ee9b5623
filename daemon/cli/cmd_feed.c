/* feed: writes jobs.ics, mornings.ics and tasks.ics. */
#include "cli/cli.h"

#include "service/feed_store.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

#include "base/banned.h"

static int trouble(const struct db_session *s, const char *what)
{
    const char *why = db_record_trouble(s->record);

    fprintf(stderr, "dewbell: %s: %s\n", what, *why ? why : strerror(errno));
    return DB_EXIT_TROUBLE;
}

static int write_feed(struct db_session *s, enum db_feed which, const char *folder)
{
    struct db_feed_result feed = { 0 };
    const char *doing = "";
    bool changed = false;
    int status = DB_EXIT_FINE;
    char file[64];

    (void) snprintf(file, sizeof file, "%s.ics", db_feed_name(which));
    char *path = db_session_path(folder, file);
    if (!path)
        return trouble(s, "could not name the feed");
    const struct db_feed_order order = { .feed = which, .now = db_clock_now(), .unlimited = s->options.all };
    if (db_feed_store_file(s->record, s->jobs, &order, path, &feed, &changed, &doing) != DB_OK)
        status = trouble(s, doing);
    else {
        printf("%s: %zu events, %zu new or changed%s\n", path, feed.fresh_count + feed.copied, feed.changed,
               changed ? "" : "; the file is as it was");
        if (feed.left_out)
            printf("  %zu events far ahead were left out: calendars drop what is beyond 1000 events or 512 KiB (--all "
                   "writes "
                   "them)\n",
                   feed.left_out);
    }
    db_feed_free(&feed);
    free(path);
    return status;
}

int db_cmd_feed(struct db_session *s, int count, char **words)
{
    static const enum db_feed feeds[] = { DB_FEED_JOBS, DB_FEED_MORNINGS, DB_FEED_TASKS };

    (void) count;
    (void) words;
    int status = db_session_read(s);
    if (status == DB_EXIT_FINE)
        status = db_session_record(s, true);
    if (status != DB_EXIT_FINE)
        return status;
    char *folder = s->options.out ? strdup(s->options.out) : db_session_path(s->estate.folder, "feeds");
    if (!folder || (mkdir(folder, 0777) != 0 && errno != EEXIST)) {
        fprintf(stderr, "dewbell: could not make the folder %s: %s\n", folder ? folder : "", strerror(errno));
        free(folder);
        return DB_EXIT_TROUBLE;
    }
    /* The lock is held from before the jobs are worked out: where they stand depends on what was published last. */
    const char *doing = "";
    int lock = -1;
    if (db_feed_lock(s->state, true, &lock) != DB_OK)
        status = trouble(s, "could not lock the feeds");
    else if ((status = db_session_jobs(s)) == DB_EXIT_FINE && db_feed_remember(s->record, s->jobs, &doing) != DB_OK)
        status = trouble(s, doing);
    for (size_t i = 0; status == DB_EXIT_FINE && i < sizeof feeds / sizeof feeds[0]; i++)
        status = write_feed(s, feeds[i], folder);
    if (lock >= 0)
        db_feed_unlock(lock);
    free(folder);
    return status;
}
