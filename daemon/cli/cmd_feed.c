/* feed: writes jobs.ics, mornings.ics and tasks.ics. The ledger is put first: a crash between the two leaves the old file, and the
 * next run copies the new events from the ledger. */
#include "cli/cli.h"

#include "write/write.h"

#include <errno.h>
#include <fcntl.h>
#include <stdlib.h>
#include <string.h>
#include <sys/file.h>
#include <sys/stat.h>
#include <unistd.h>

#include "base/banned.h"

static bool find_past(void *context, const unsigned char identity[16], struct db_event_past *ret)
{
    const struct db_ledger_row *row = db_ledger_find(context, identity);

    if (!row)
        return false;
    *ret = (struct db_event_past){ .meaning = row->meaning,
                                   .sequence = row->sequence,
                                   .created = row->created,
                                   .modified = row->modified,
                                   .bytes = row->bytes,
                                   .length = row->length };
    return true;
}

static enum db_status put_fresh(struct db_record *record, const char *name, const struct db_feed_result *feed)
{
    struct db_ledger_row *rows = calloc(feed->fresh_count ? feed->fresh_count : 1, sizeof *rows);

    if (!rows)
        return DB_FULL;
    for (size_t i = 0; i < feed->fresh_count; i++) {
        const struct db_event_new *event = &feed->fresh[i];
        rows[i] = (struct db_ledger_row){ .sequence = event->sequence,
                                          .created = event->created,
                                          .modified = event->modified,
                                          .bytes = event->bytes,
                                          .length = event->length };
        memcpy(rows[i].identity, event->identity, sizeof rows[i].identity);
        memcpy(rows[i].meaning, event->meaning, sizeof rows[i].meaning);
    }
    enum db_status status = db_record_put(record, name, rows, feed->fresh_count);
    free(rows);
    return status;
}

static int trouble(const struct db_session *s, const char *what)
{
    const char *why = db_record_trouble(s->record);

    fprintf(stderr, "dewbell: %s: %s\n", what, *why ? why : strerror(errno));
    return DB_EXIT_TROUBLE;
}

static int write_feed(struct db_session *s, enum db_feed which, const char *name, const char *folder)
{
    struct db_ledger *ledger = NULL;
    struct db_feed_result feed = { 0 };
    bool changed = false;
    int status = DB_EXIT_FINE;
    char file[64];

    (void) snprintf(file, sizeof file, "%s.ics", name);
    char *path = db_session_path(folder, file);
    if (!path || db_record_ledger(s->record, name, &ledger) != DB_OK) {
        free(path);
        return trouble(s, "could not read the ledger");
    }
    const int64_t now = db_clock_now(), first = db_ledger_count(ledger) ? 0 : db_feed_first_sequence(now);
    if (db_feed_build(s->jobs, which, now, first, s->options.all, find_past, ledger, &feed) != DB_OK)
        status = trouble(s, "could not build the feed");
    else if (feed.fresh_count && put_fresh(s->record, name, &feed) != DB_OK)
        status = trouble(s, "could not write the ledger");
    else if (db_file_swap(path, feed.bytes.data, feed.bytes.length, &changed) != DB_OK)
        status = trouble(s, path);
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
    ledger = db_ledger_free(ledger);
    free(path);
    return status;
}

int db_cmd_feed(struct db_session *s, int count, char **words)
{
    (void) count;
    (void) words;
    int status = db_session_read(s);
    if (status == DB_EXIT_FINE)
        status = db_session_record(s, true);
    if (status == DB_EXIT_FINE)
        status = db_session_jobs(s);
    if (status != DB_EXIT_FINE)
        return status;
    char *folder = s->options.out ? strdup(s->options.out) : db_session_path(s->estate.folder, "feeds");
    char *lock_path = db_session_path(s->state, "feed.lock");
    if (!folder || !lock_path || (mkdir(folder, 0777) != 0 && errno != EEXIST)) {
        fprintf(stderr, "dewbell: could not make the folder %s: %s\n", folder ? folder : "", strerror(errno));
        free(folder);
        free(lock_path);
        return DB_EXIT_TROUBLE;
    }
    /* Two runs at once would both raise SEQUENCE from the same ledger: the second waits for the first. */
    int lock = open(lock_path, O_RDWR | O_CREAT | O_CLOEXEC, 0600);
    if (lock < 0 || flock(lock, LOCK_EX) != 0)
        status = trouble(s, lock_path);
    else
        status = write_feed(s, DB_FEED_JOBS, "jobs", folder);
    if (status == DB_EXIT_FINE)
        status = write_feed(s, DB_FEED_MORNINGS, "mornings", folder);
    if (status == DB_EXIT_FINE)
        status = write_feed(s, DB_FEED_TASKS, "tasks", folder);
    if (lock >= 0)
        (void) close(lock);
    free(folder);
    free(lock_path);
    return status;
}
