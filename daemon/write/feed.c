/* A calendar feed out of events: each copied from the past when it means what it meant, else built anew. */
#include "write/private.h"

#include "base/limits.h"

#include <xxhash.h>

#include <endian.h>

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

/* Raised when what events print changes with a new version of the program, so that all are published anew, once. */
enum { EVENT_LAYOUT = 3 };

static const char feed_end[] = "END:VCALENDAR\r\n";
enum { UID_LENGTH = 36 };

static const struct {
    const char *name, *what, *about, *colour;
    const char *start; /* of each component, up to its UID */
} feeds[] = {
    [DB_FEED_JOBS] = { "jobs", "Garden jobs", "Each job on the best day for it", "seagreen", "BEGIN:VEVENT\r\nUID:" },
    [DB_FEED_MORNINGS] = { "mornings", "Garden mornings", "What there is to do each day", "goldenrod",
                           "BEGIN:VEVENT\r\nUID:" },
    [DB_FEED_TASKS] = { "tasks", "Garden tasks", "Each job with the days in which it can be done", "darkolivegreen",
                        "BEGIN:VTODO\r\nUID:" },
};

/* Where the UID stands in a component of the feed. */
static size_t uid_at(const struct db_feed_work *work)
{
    return strlen(feeds[work->feed].start);
}

int64_t db_feed_first_sequence(int64_t now)
{
    const int64_t start_of_2026 = 1767225600;

    return now > start_of_2026 ? (now - start_of_2026) / 60 : 0;
}

void db_feed_meaning(const struct db_jobs *jobs, const struct db_job *job, unsigned char ret[16])
{
    struct { /* no gaps: hashed as bytes */
        unsigned char meaning[16];
        uint64_t bed;
        int32_t first, best, last, done;
        uint32_t state, urgency, layout;
        float minutes;
    } all = { .first = job->first.day,
              .best = job->best.day,
              .last = job->last.day,
              .done = job->done.day,
              .state = (uint32_t) job->state,
              .urgency = job->urgency,
              .layout = EVENT_LAYOUT,
              .minutes = job->minutes };
    const char *bed = db_telling_bed(jobs, job)->name;
    XXH128_canonical_t canonical;

    all.bed = XXH3_64bits(bed, strlen(bed));
    db_job_meaning(jobs, job, all.meaning);
    XXH128_canonicalFromHash(&canonical, XXH3_128bits(&all, sizeof all));
    memcpy(ret, canonical.digest, 16);
}

/* An array with room for one more. */
static void *grow(void *array, size_t count, size_t *room, size_t size)
{
    if (count < *room)
        return array;
    size_t wanted = *room ? *room * 2 : 64;
    void *grown = reallocarray(array, wanted, size);
    if (grown)
        *room = wanted;
    return grown;
}

static enum db_status add_entry(struct db_feed_work *work, struct db_date day, const char *bytes, struct db_entry entry)
{
    struct db_entry *entries = grow(work->entries, work->count, &work->room, sizeof *entries);

    if (!entries)
        return DB_FULL;
    work->entries = entries;
    entry.day = day.day;
    memcpy(&entry.order, bytes + uid_at(work), sizeof entry.order);
    entry.order = be64toh(entry.order);
    work->entries[work->count++] = entry;
    work->bytes += entry.length;
    return DB_OK;
}

static bool fits(const struct db_feed_work *work, size_t length)
{
    return work->unlimited ||
           (work->count < DB_LIMIT_FEED_EVENTS && work->bytes + length + sizeof feed_end <= DB_LIMIT_FEED_BYTES);
}

/* Its stamps: a new event bears `now` three times; a changed one is later than it was whatever the clock says. */
static struct db_event_new stamp(const struct db_feed_work *work, const struct db_event_past *past)
{
    struct db_event_new made = { .sequence = work->first_sequence, .created = work->now, .modified = work->now };

    if (past) {
        made.sequence = past->sequence + 1;
        made.created = past->created;
        made.modified = past->modified + 1 > work->now ? past->modified + 1 : work->now;
    }
    return made;
}

/* What stands after the stamps, of which SEQUENCE is the last; NULL if it is none of ours. */
static const char *after_stamps(const char *bytes, size_t length)
{
    static const char mark[] = "\r\nSEQUENCE:";
    const char *at = memmem(bytes, length, mark, sizeof mark - 1);

    return at ? memchr(at + sizeof mark, '\r', (size_t) (bytes + length - at) - sizeof mark) : NULL;
}

/* Whether two events differ in their stamps at most. */
static bool says_the_same(const struct db_event_past *past, const char *bytes, size_t length)
{
    const char *a = after_stamps(past->bytes, past->length), *b = after_stamps(bytes, length);

    return a && b && past->bytes + past->length - a == bytes + length - b &&
           memcmp(a, b, (size_t) (bytes + length - b)) == 0;
}

/* What an event means covers more than what it prints: when its words came out as they were, so do its stamps, and only the
 * ledger learns the new meaning. */
static enum db_status keep_if_same(struct db_feed_work *work, const struct db_event_past *past, size_t at,
                                   struct db_event_new *made)
{
    if (!past || !says_the_same(past, work->built.data + at, made->length)) {
        work->changed++;
        return DB_OK;
    }
    made->sequence = past->sequence;
    made->created = past->created;
    made->modified = past->modified;
    made->length = past->length;
    work->built.length = at;
    return db_bytes_add(&work->built, past->bytes, past->length);
}

static enum db_status build(struct db_feed_work *work, struct db_date day, const struct db_event_past *past,
                            const unsigned char identity[16], const unsigned char meaning[16], db_event_tell *tell,
                            const void *about, bool *ret_fits)
{
    struct db_event_new made = stamp(work, past);
    struct db_event event = {
        .day = day, .sequence = made.sequence, .created = made.created, .modified = made.modified
    };
    size_t at = work->built.length;

    if (db_arena_taken(work->scratch) > 48 * 1024) { /* little enough to stay in the processor's cache */
        (void) db_arena_free(work->scratch);
        work->scratch = db_arena_new(SIZE_MAX);
        if (!work->scratch)
            return DB_FULL;
    }
    enum db_status status = tell(work, about, &event);
    if (status == DB_OK)
        status = db_event_write(&event, &work->built);
    if (status != DB_OK)
        return status;
    made.length = work->built.length - at;
    *ret_fits = fits(work, made.length);
    if (!*ret_fits) {
        work->built.length = at;
        return DB_OK;
    }
    status = keep_if_same(work, past, at, &made);
    if (status != DB_OK)
        return status;
    struct db_event_new *fresh = grow(work->fresh, work->fresh_count, &work->fresh_room, sizeof *fresh);
    if (!fresh)
        return DB_FULL;
    work->fresh = fresh;
    memcpy(made.identity, identity, sizeof made.identity);
    memcpy(made.meaning, meaning, sizeof made.meaning);
    work->fresh[work->fresh_count] = made;
    return add_entry(work, day, work->built.data + at,
                     (struct db_entry){ .at = at, .length = made.length, .fresh = work->fresh_count++ });
}

enum db_status db_feed_take(struct db_feed_work *work, struct db_date day, const unsigned char identity[16],
                            const unsigned char meaning[16], db_event_tell *tell, const void *about, bool *ret_fits)
{
    struct db_event_past past;

    *ret_fits = true;
    db_gist_add(&work->gist, day, identity, meaning); /* of one that does not fit too: such a gist is not handed out */
    if (work->only_gist) {
        work->count++;
        return DB_OK;
    }
    bool known = work->past(work->context, identity, &past);
    if (known && memcmp(past.meaning, meaning, 16) == 0 && past.length > uid_at(work) + UID_LENGTH &&
        memcmp(past.bytes, feeds[work->feed].start, uid_at(work)) == 0) {
        *ret_fits = fits(work, past.length);
        return *ret_fits
                   ? add_entry(work, day, past.bytes, (struct db_entry){ .past = past.bytes, .length = past.length })
                   : DB_OK;
    }
    if (!fits(work, 0)) {
        *ret_fits = false;
        return DB_OK;
    }
    return build(work, day, known ? &past : NULL, identity, meaning, tell, about, ret_fits);
}

struct marker {
    unsigned char uid[16];
    const struct db_job *next; /* NULL: there is none */
};

static enum db_status tell_marker(struct db_feed_work *work, const void *about, struct db_event *event)
{
    const struct marker *marker = about;

    memcpy(event->uid, marker->uid, sizeof event->uid);
    event->task = work->feed == DB_FEED_TASKS; /* without days: it is open until there is a plan */
    event->from = event->due = DB_NO_DATE;
    event->summary = "No jobs in the plan yet";
    event->description = "Write sowings into the plan: the jobs that they bring will appear here.";
    if (marker->next) {
        const char *summary = db_job_summary(work->jobs, marker->next, work->scratch);
        char line[512];

        if (!summary)
            return DB_FULL;
        (void) snprintf(line, sizeof line, "Next job: %s", summary);
        event->summary = db_clean_cut(line, 60, work->scratch);
        event->description = db_clean_line(summary, work->scratch);
    }
    return event->summary && event->description ? DB_OK : DB_FULL;
}

/* Without a next job it stands on the first of the month, so that it does not move every day. */
enum db_status db_feed_marker(struct db_feed_work *work, const char *which, size_t next)
{
    struct marker marker = { 0 };
    unsigned char meaning[16] = { 0 };
    struct db_date today = work->view->today;
    int day;
    char name[32];
    bool taken;

    (void) snprintf(name, sizeof name, "marker|%s", which);
    db_uid_make(work->space, name, marker.uid);
    db_date_parts(today, NULL, NULL, &day);
    struct db_date on = db_date_add(today, 1 - day);
    if (next < db_jobs_count(work->jobs)) {
        marker.next = db_jobs_at(work->jobs, next);
        on = marker.next->on;
        db_feed_meaning(work->jobs, marker.next, meaning);
    } else {
        memcpy(meaning, &on.day, sizeof on.day);
        meaning[15] = EVENT_LAYOUT;
    }
    return db_feed_take(work, on, marker.uid, meaning, tell_marker, &marker, &taken);
}

static int by_day_then_uid(const void *left, const void *right)
{
    const struct db_entry *a = left, *b = right;

    if (a->day != b->day)
        return a->day < b->day ? -1 : 1;
    return a->order < b->order ? -1 : a->order > b->order;
}

/* Eight characters of a UID tell two events of a day apart but for one pair in four thousand million: those few are put in
 * order by all of it. */
static void settle_ties(struct db_feed_work *work)
{
    for (size_t i = 1; i < work->count; i++)
        for (size_t j = i; j > 0 && by_day_then_uid(&work->entries[j - 1], &work->entries[j]) == 0; j--) {
            struct db_entry *a = &work->entries[j - 1], *b = &work->entries[j], swap = *a;
            const char *one = a->past ? a->past : work->built.data + a->at;
            const char *two = b->past ? b->past : work->built.data + b->at;
            if (memcmp(one + uid_at(work), two + uid_at(work), UID_LENGTH) <= 0)
                break;
            *a = *b;
            *b = swap;
        }
}

/* Head, events in order, end. The fresh ones get to know where their bytes are and are put in the same order: a ledger
 * written in it is later read along with the jobs instead of across them. */
static enum db_status assemble(struct db_feed_work *work, struct db_bytes *head)
{
    struct db_event_new *fresh = malloc((work->fresh_count + 1) * sizeof *fresh);
    char *data = realloc(head->data, work->bytes + sizeof feed_end);
    size_t put = 0;

    if (data) {
        head->data = data;
        head->room = work->bytes + sizeof feed_end;
    }
    if (!data || !fresh) {
        free(fresh);
        return DB_FULL;
    }
    if (work->count)
        qsort(work->entries, work->count, sizeof *work->entries, by_day_then_uid);
    settle_ties(work);
    for (size_t i = 0; i < work->count; i++) {
        const struct db_entry *entry = &work->entries[i];
        const char *bytes = entry->past ? entry->past : work->built.data + entry->at;

        memcpy(head->data + head->length, bytes, entry->length);
        if (!entry->past) {
            fresh[put] = work->fresh[entry->fresh];
            fresh[put++].bytes = head->data + head->length;
        }
        head->length += entry->length;
    }
    memcpy(head->data + head->length, feed_end, sizeof feed_end);
    head->length += sizeof feed_end - 1;
    free(work->fresh);
    work->fresh = fresh;
    return DB_OK;
}

enum db_status db_feed_head(const struct db_feed_work *work, struct db_bytes *out)
{
    return db_event_head(work->site, feeds[work->feed].what, feeds[work->feed].about, feeds[work->feed].colour,
                         work->scratch, out);
}

enum db_status db_feed_take_all(struct db_feed_work *work, size_t *ret_left_out)
{
    enum db_status status = db_feed_notices(work);

    if (status != DB_OK || !work->jobs)
        return status;
    status = work->feed == DB_FEED_MORNINGS ? db_feed_mornings(work, ret_left_out) : db_feed_jobs(work, ret_left_out);
    if (status == DB_OK && work->count == work->notice_count)
        status = db_feed_marker(work, feeds[work->feed].name, db_jobs_from(work->jobs, work->view->today));
    return status;
}

static enum db_status collect(struct db_feed_work *work, struct db_bytes *head, size_t *ret_left_out,
                              unsigned char ret_gist[16])
{
    enum db_status status = db_feed_head(work, head);

    work->bytes = head->length;
    if (status == DB_OK)
        status = db_feed_take_all(work, ret_left_out);
    if (status == DB_OK && work->jobs && *ret_left_out == 0)
        status = db_gist_finish(work, head->data, head->length, ret_gist);
    return status == DB_OK ? assemble(work, head) : status;
}

enum db_status db_feed_build(const struct db_jobs *jobs, enum db_feed feed, int64_t now, int64_t first_sequence,
                             bool unlimited, db_past_find *past, void *context, struct db_feed_result *ret)
{
    return db_feed_build_noticed(jobs, feed, NULL, 0, now, first_sequence, unlimited, past, context, ret);
}

static enum db_status build_all(struct db_feed_work *work, struct db_feed_result *ret)
{
    struct db_feed_result made = { 0 };

    *ret = made;
    if (work->now < 0 || work->first_sequence < 0)
        return DB_RANGE;
    enum db_status status = db_uid_read(work->site->key, work->space);
    if (status == DB_OK && !(work->scratch = db_arena_new(SIZE_MAX)))
        status = DB_FULL;
    if (status == DB_OK)
        status = collect(work, &made.bytes, &made.left_out, made.gist);
    if (status == DB_OK) {
        made.fresh = work->fresh;
        made.fresh_count = work->fresh_count;
        made.changed = work->changed;
        made.copied = work->count - work->fresh_count;
        *ret = made;
    } else {
        free(work->fresh);
        db_bytes_free(&made.bytes);
    }
    free(work->entries);
    db_bytes_free(&work->text);
    db_bytes_free(&work->built);
    (void) db_arena_free(work->scratch);
    return status;
}

enum db_status db_feed_build_noticed(const struct db_jobs *jobs, enum db_feed feed, const struct db_notice *notices,
                                     size_t notice_count, int64_t now, int64_t first_sequence, bool unlimited,
                                     db_past_find *past, void *context, struct db_feed_result *ret)
{
    struct db_feed_work work = { .feed = feed,
                                 .jobs = jobs,
                                 .view = db_jobs_view(jobs),
                                 .site = db_garden_site(db_jobs_view(jobs)->garden),
                                 .now = now,
                                 .first_sequence = first_sequence,
                                 .unlimited = unlimited,
                                 .notices = notices,
                                 .notice_count = notice_count,
                                 .past = past,
                                 .context = context };

    return build_all(&work, ret);
}

enum db_status db_feed_build_unread(const struct db_site *site, enum db_feed feed, const struct db_notice *notices,
                                    size_t notice_count, int64_t now, int64_t first_sequence, db_past_find *past,
                                    void *context, struct db_feed_result *ret)
{
    struct db_feed_work work = { .feed = feed,
                                 .site = site,
                                 .now = now,
                                 .first_sequence = first_sequence,
                                 .notices = notices,
                                 .notice_count = notice_count,
                                 .past = past,
                                 .context = context };

    *ret = (struct db_feed_result){ 0 };
    return notice_count ? build_all(&work, ret) : DB_RANGE;
}

void db_feed_key(const char *text, char ret[DB_KEY_ROOM])
{
    /* A name space of our own: made once, at random. */
    static const unsigned char space[16] = { 0x15, 0xe3, 0xd8, 0x69, 0xb1, 0x8a, 0x4f, 0x13,
                                             0x90, 0x24, 0x15, 0x50, 0xad, 0x1e, 0xa0, 0xdc };
    unsigned char key[16];

    db_uid_make(space, text, key);
    (void) db_uid_text(key, ret);
}

void db_feed_free(struct db_feed_result *result)
{
    db_bytes_free(&result->bytes);
    free(result->fresh);
    *result = (struct db_feed_result){ 0 };
}
