#include "service/feed_store.h"

#include <errno.h>
#include <fcntl.h>
#include <sys/file.h>
#include <unistd.h>

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

const char *db_feed_name(enum db_feed feed)
{
    static const char *const names[] = {
        [DB_FEED_JOBS] = "jobs", [DB_FEED_MORNINGS] = "mornings", [DB_FEED_TASKS] = "tasks"
    };

    return names[feed];
}

enum db_status db_feed_lock(const char *state, bool wait, int *ret_lock)
{
    size_t size = strlen(state) + sizeof "/feed.lock";
    char *path = malloc(size);

    if (!path)
        return DB_FULL;
    (void) snprintf(path, size, "%s/feed.lock", state);
    int lock = open(path, O_RDWR | O_CREAT | O_CLOEXEC, 0600);
    free(path);
    if (lock < 0)
        return DB_TROUBLE;
    while (flock(lock, LOCK_EX | (wait ? 0 : LOCK_NB)) != 0) {
        int error = errno;
        if (error == EINTR)
            continue;
        (void) close(lock);
        errno = error;
        return error == EWOULDBLOCK ? DB_ABSENT : DB_TROUBLE;
    }
    *ret_lock = lock;
    return DB_OK;
}

void db_feed_unlock(int lock)
{
    (void) close(lock);
}

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

/* What a feed is built on: its ledger, and the SEQUENCE with which new events begin. */
struct base {
    const char *name;
    struct db_ledger *ledger;
    int64_t first_sequence;
};

static enum db_status open_base(struct db_record *record, const char *name, int64_t now, struct base *ret)
{
    struct base base = { .name = name };
    enum db_status status = db_record_floor(record, name, &base.first_sequence);

    if (status == DB_OK)
        status = db_record_ledger(record, name, &base.ledger);
    if (status != DB_OK)
        return status;
    if (!db_ledger_count(base.ledger) && db_feed_first_sequence(now) > base.first_sequence)
        base.first_sequence = db_feed_first_sequence(now);
    *ret = base;
    return DB_OK;
}

/* All or nothing. edition: NULL where none is kept. */
static enum db_status put_all(struct db_record *record, const struct base *base, const struct db_feed_result *made,
                              const struct db_edition *edition, struct db_date today)
{
    enum db_status status = db_record_begin(record);

    if (status != DB_OK)
        return status;
    status = put_fresh(record, base->name, made);
    if (status == DB_OK)
        status = db_record_tidy_ledger(record, base->name, base->ledger, today, base->first_sequence);
    if (status == DB_OK && edition)
        status = db_record_put_edition(record, base->name, edition);
    return db_record_end(record, status);
}

/* A feed was built, or not: what is new goes in, the ledger goes back, the feed is handed out or freed. */
static enum db_status finish(struct db_record *record, struct base *base, enum db_status built,
                             const struct db_edition *edition, struct db_date today, struct db_feed_result *made,
                             struct db_feed_result *ret, const char **ret_doing)
{
    enum db_status status = built;

    if (status == DB_OK) {
        *ret_doing = "could not write the ledger";
        status = put_all(record, base, made, edition, today);
    }
    base->ledger = db_ledger_free(base->ledger);
    if (status == DB_OK)
        *ret = *made;
    else
        db_feed_free(made);
    return status;
}

/* Which events were left out depends on the day too. */
static bool is_known(const struct db_edition *last, const unsigned char gist[16], struct db_date today)
{
    return memcmp(last->gist, gist, sizeof last->gist) == 0 && (last->left_out == 0 || last->day.day == today.day);
}

static enum db_status reckon(const struct db_jobs *jobs, const struct db_feed_order *order, unsigned char ret[16])
{
    return db_feed_gist(jobs, order->feed, order->notices, order->notice_count, order->unlimited, ret);
}

/* The edition that was built. gist: NULL where it was not worked out yet. */
static enum db_status edition_of(const struct db_jobs *jobs, const struct db_feed_order *order,
                                 const struct db_feed_result *made, const unsigned char *gist, struct db_edition *ret)
{
    *ret = (struct db_edition){ .length = (int64_t) made->bytes.length,
                                .events = (int64_t) (made->fresh_count + made->copied),
                                .left_out = (int64_t) made->left_out,
                                .day = db_jobs_view(jobs)->today };
    db_bytes_hash(made->bytes.data, made->bytes.length, ret->hash);
    if (!gist && made->left_out)
        return reckon(jobs, order, ret->gist);
    memcpy(ret->gist, gist ? gist : made->gist, sizeof ret->gist);
    return DB_OK;
}

static enum db_status build_anew(struct db_record *record, const struct db_jobs *jobs,
                                 const struct db_feed_order *order, const unsigned char *gist,
                                 struct db_feed_result *ret, const char **ret_doing)
{
    struct base base;
    struct db_feed_result made = { 0 };
    struct db_edition edition;

    *ret_doing = "could not read the ledger";
    enum db_status status = open_base(record, db_feed_name(order->feed), order->now, &base);
    if (status != DB_OK)
        return status;
    *ret_doing = "could not build the feed";
    status = db_feed_build_noticed(jobs, order->feed, order->notices, order->notice_count, order->now,
                                   base.first_sequence, order->unlimited, find_past, base.ledger, &made);
    if (status == DB_OK)
        status = edition_of(jobs, order, &made, gist, &edition);
    return finish(record, &base, status, &edition, db_jobs_view(jobs)->today, &made, ret, ret_doing);
}

enum db_status db_feed_store(struct db_record *record, const struct db_jobs *jobs, const struct db_feed_order *order,
                             struct db_feed_result *ret, const char **ret_doing)
{
    struct db_edition last;
    unsigned char gist[16];

    *ret_doing = "could not read the ledger";
    enum db_status status = db_record_edition(record, db_feed_name(order->feed), &last);
    if (status != DB_OK && status != DB_ABSENT)
        return status;
    if (status == DB_ABSENT || !order->shown)
        return build_anew(record, jobs, order, NULL, ret, ret_doing);
    *ret_doing = "could not build the feed";
    status = reckon(jobs, order, gist);
    if (status != DB_OK)
        return status;
    if (!is_known(&last, gist, db_jobs_view(jobs)->today) ||
        !order->shown(order->context, last.hash, (size_t) last.length))
        return build_anew(record, jobs, order, gist, ret, ret_doing);
    *ret = (struct db_feed_result){ .same = true, .copied = (size_t) last.events, .left_out = (size_t) last.left_out };
    return DB_OK;
}

static bool file_shows(const void *context, const unsigned char hash[16], size_t length)
{
    return db_file_holds(context, hash, length);
}

enum db_status db_feed_store_file(struct db_record *record, const struct db_jobs *jobs,
                                  const struct db_feed_order *order, const char *path, struct db_feed_result *ret,
                                  bool *ret_changed, const char **ret_doing)
{
    struct db_feed_order shown = *order;
    struct db_feed_result made = { 0 };

    shown.shown = file_shows;
    shown.context = path;
    *ret_changed = false;
    enum db_status status = db_feed_store(record, jobs, &shown, &made, ret_doing);
    if (status == DB_OK && !made.same) {
        *ret_doing = path;
        status = db_file_swap(path, made.bytes.data, made.bytes.length, ret_changed);
    }
    if (status == DB_OK)
        *ret = made;
    else
        db_feed_free(&made);
    return status;
}

/* Its ledger is another than that of the jobs: where theirs is empty, they begin with a SEQUENCE that is above any old one. */
enum db_status db_feed_store_unread(struct db_record *record, const struct db_site *site, enum db_feed feed,
                                    const struct db_notice *notice, int64_t now, struct db_feed_result *ret,
                                    const char **ret_doing)
{
    struct base base;
    struct db_feed_result made = { 0 };
    char name[32];
    bool had_jobs = false;

    *ret_doing = "could not read the ledger";
    (void) snprintf(name, sizeof name, "%s unread", db_feed_name(feed));
    enum db_status status = db_record_has_ledger(record, db_feed_name(feed), &had_jobs);
    if (status == DB_OK)
        status = had_jobs ? DB_ABSENT : open_base(record, name, now, &base);
    if (status != DB_OK)
        return status;
    *ret_doing = "could not build the feed";
    status = db_feed_build_unread(site, feed, notice, 1, now, base.first_sequence, find_past, base.ledger, &made);
    return finish(record, &base, status, NULL, notice->day, &made, ret, ret_doing);
}

enum db_status db_feed_remember(struct db_record *record, const struct db_jobs *jobs, const char **ret_doing)
{
    struct db_arena *scratch = db_arena_new((size_t) 1 << 30);
    struct db_positions moves = { NULL, 0 };

    *ret_doing = "could not write down where the jobs stand";
    enum db_status status = scratch ? db_jobs_moves(jobs, scratch, &moves) : DB_FULL;
    if (status == DB_OK)
        status = db_record_put_positions(record, &moves, db_jobs_view(jobs)->today);
    (void) db_arena_free(scratch);
    return status;
}
