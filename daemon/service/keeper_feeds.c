/* A keeper's feeds as bytes ready to be served: built, packed, tagged and recorded when something changed. */
#include "service/keeper_private.h"

#include "base/text.h"
#include "service/log.h"

#include <openssl/evp.h>
#include <zlib.h>

#include <stdatomic.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

static const enum db_feed feeds[DB_READY_COUNT] = {
    [DB_READY_JOBS] = DB_FEED_JOBS, [DB_READY_MORNINGS] = DB_FEED_MORNINGS, [DB_READY_TASKS] = DB_FEED_TASKS
};
static const char *const file_names[DB_READY_COUNT] = {
    [DB_READY_JOBS] = "jobs.ics", [DB_READY_MORNINGS] = "mornings.ics", [DB_READY_TASKS] = "tasks.ics"
};

/* The bytes and how many hold them. */
struct held {
    struct db_ready_bytes bytes; /* first: one is found from the other */
    atomic_size_t holders;
};

static void hold(struct db_ready_bytes *bytes)
{
    (void) atomic_fetch_add(&((struct held *) (void *) bytes)->holders, 1);
}

void db_ready_release(struct db_ready_bytes *bytes)
{
    if (!bytes || atomic_fetch_sub(&((struct held *) (void *) bytes)->holders, 1) != 1)
        return;
    free(bytes->data);
    free(bytes->packed);
    free(bytes);
}

struct db_ready_bytes *db_keeper_feed(struct db_keeper *keeper, enum db_ready_feed feed)
{
    struct db_ready_bytes *bytes = keeper->ready[feed];

    if (bytes)
        hold(bytes);
    return bytes;
}

/* The first 128 bits of SHA-256, in hexadecimal and quoted: strong, for equal bytes always have it and others never. */
static bool tag(const char *data, size_t length, char ret[40])
{
    unsigned char hash[EVP_MAX_MD_SIZE];
    struct db_text text = db_text_in(ret, 40);

    if (EVP_Digest(data, length, hash, NULL, EVP_sha256(), NULL) != 1)
        return false;
    db_text_add(&text, "\"");
    for (size_t i = 0; i < 16; i++)
        db_text_add_format(&text, "%02x", hash[i]);
    db_text_add(&text, "\"");
    return true;
}

/* gzip without name or time: equal bytes pack to equal bytes. Without it the feed is served as it is. */
static void pack(struct db_ready_bytes *bytes)
{
    z_stream stream = { 0 };

    if (deflateInit2(&stream, 9, Z_DEFLATED, 15 + 16, 9, Z_DEFAULT_STRATEGY) != Z_OK)
        return;
    size_t room = deflateBound(&stream, (uLong) bytes->length);
    char *packed = bytes->length <= UINT32_MAX && room <= UINT32_MAX ? malloc(room) : NULL;
    if (packed) {
        stream.next_in = (Bytef *) bytes->data;
        stream.avail_in = (uInt) bytes->length;
        stream.next_out = (Bytef *) packed;
        stream.avail_out = (uInt) room;
        if (deflate(&stream, Z_FINISH) == Z_STREAM_END && tag(packed, stream.total_out, bytes->packed_etag)) {
            bytes->packed = packed;
            bytes->packed_length = stream.total_out;
        } else {
            free(packed);
        }
    }
    (void) deflateEnd(&stream);
}

/* Takes over `data` in any case. NULL: out of memory. */
static struct db_ready_bytes *ready_new(enum db_ready_feed feed, char *data, size_t length, int64_t modified)
{
    struct held *held = calloc(1, sizeof *held);

    if (!held || !tag(data, length, held->bytes.etag)) {
        free(held);
        free(data);
        return NULL;
    }
    held->bytes.name = file_names[feed];
    held->bytes.data = data;
    held->bytes.length = length;
    held->bytes.modified = modified;
    pack(&held->bytes);
    atomic_init(&held->holders, 1);
    return &held->bytes;
}

/* Whoever holds the old bytes keeps them. */
static void replace(struct db_keeper *keeper, enum db_ready_feed feed, struct db_ready_bytes *bytes)
{
    db_ready_release(keeper->ready[feed]);
    keeper->ready[feed] = bytes;
}

void db_keeper_load_feeds(struct db_keeper *keeper)
{
    const int64_t now = db_loop_wall(keeper->house->loop) / 1000;

    for (enum db_ready_feed feed = 0; feed < (enum db_ready_feed) DB_READY_COUNT; feed++) {
        struct db_served served;
        enum db_status status = db_record_served(keeper->record, db_feed_name(feeds[feed]), &served);

        if (status == DB_OK) {
            /* The clock may have been set back while we were away: nothing was changed in the future. */
            struct db_ready_bytes *bytes =
                ready_new(feed, served.bytes, served.length, served.modified < now ? served.modified : now);
            if (bytes)
                replace(keeper, feed, bytes);
        } else if (status != DB_ABSENT) {
            db_log(DB_LOG_ERROR, "%s: %s: %s", db_keeper_name(keeper), file_names[feed],
                   db_record_trouble(keeper->record));
        }
    }
}

/* "garden.ini line 14: there is no crop "carot"; did you mean "carrot"?", a line each. */
static void list_mistakes(const struct db_keeper *keeper, const struct db_mistakes *mistakes, struct db_text *text)
{
    enum { SHOWN = 10 };
    const struct db_mistake *mistake;
    size_t shown = 0, count = db_mistakes_count(mistakes), folder = strlen(keeper->folder);

    for (size_t i = 0; shown < SHOWN && (mistake = db_mistakes_at(mistakes, i)); i++) {
        const char *file = mistake->at.file ? mistake->at.file : "";

        if (mistake->advice)
            continue;
        if (strncmp(file, keeper->folder, folder) == 0 && file[folder] == '/')
            file += folder + 1;
        db_text_add(text, file);
        if (mistake->at.line)
            db_text_add_format(text, " line %u", mistake->at.line);
        const bool asks = *mistake->instead && mistake->instead[strlen(mistake->instead) - 1] == '?';
        db_text_add_format(text, ": %s%s%s%s\n", mistake->what, *mistake->instead ? "; " : "", mistake->instead,
                           asks ? "" : ".");
        shown++;
    }
    if (count > shown)
        db_text_add_format(text, "And %zu more.\n", count - shown);
}

/* "Mistake in your plan: garden.ini line 14" */
static void title(const struct db_mistakes *mistakes, struct db_text *text)
{
    const struct db_mistake *first = NULL;

    for (size_t i = 0; (first = db_mistakes_at(mistakes, i)) && first->advice; i++)
        ;
    db_text_add(text, "Mistake in your plan");
    if (first && first->at.file && *first->at.file) {
        const char *slash = strrchr(first->at.file, '/');
        db_text_add_format(text, ": %s", slash ? slash + 1 : first->at.file);
        if (first->at.line)
            db_text_add_format(text, " line %u", first->at.line);
    }
}

/* context: what is served; NULL: nothing yet. */
static bool is_served(const void *context, const unsigned char hash[16], size_t length)
{
    const struct db_ready_bytes *ready = context;
    unsigned char its[16];

    if (!ready || ready->length != length)
        return false;
    db_bytes_hash(ready->data, ready->length, its);
    return memcmp(its, hash, sizeof its) == 0;
}

/* The feed is in the record from here on, if it is another than what is served. Takes over its bytes. */
static enum db_status put_by(struct db_keeper *keeper, enum db_ready_feed feed, struct db_feed_result *built,
                             struct db_made_feeds *made, const char **ret_doing)
{
    const struct db_ready_bytes *old = keeper->ready[feed];

    if (built->same)
        return DB_OK;
    if (old && old->length == built->bytes.length && memcmp(old->data, built->bytes.data, old->length) == 0) {
        db_feed_free(built);
        return DB_OK;
    }
    *ret_doing = "what is served could not be kept";
    enum db_status status = db_record_put_served(keeper->record, db_feed_name(feeds[feed]), made->now,
                                                 built->bytes.data, built->bytes.length);
    if (status == DB_OK)
        made->feeds[feed] = *built;
    else
        db_feed_free(built);
    return status;
}

static int64_t now_of(const struct db_keeper *keeper)
{
    const int64_t now = db_loop_wall(keeper->house->loop) / 1000;

    return now < 0 ? 0 : now;
}

enum db_status db_keeper_make_feeds(struct db_keeper *keeper, const struct db_jobs *jobs,
                                    const struct db_mistakes *mistakes, struct db_made_feeds *made,
                                    const char **ret_doing)
{
    char summary[256], description[4096];
    struct db_text title_text = db_text_in(summary, sizeof summary), text = db_text_in(description, sizeof description);
    const bool mistaken = mistakes && db_mistakes_count(mistakes) > 0;
    struct db_notice notice = { .name = "mistakes", .day = db_jobs_view(jobs)->today };

    *made = (struct db_made_feeds){ .now = now_of(keeper) };
    if (mistaken) {
        title(mistakes, &title_text);
        list_mistakes(keeper, mistakes, &text);
        db_text_add(&text, "Until it is mended the jobs go by the plan as it last was good.");
        notice.summary = summary;
        notice.description = description;
    }
    enum db_status status = db_feed_remember(keeper->record, jobs, ret_doing);
    for (enum db_ready_feed feed = 0; status == DB_OK && feed < (enum db_ready_feed) DB_READY_COUNT; feed++) {
        const struct db_feed_order order = { .feed = feeds[feed],
                                             .notices = mistaken ? &notice : NULL,
                                             .notice_count = mistaken ? 1 : 0,
                                             .now = made->now,
                                             .shown = is_served,
                                             .context = keeper->ready[feed] };
        struct db_feed_result built;
        status = db_feed_store(keeper->record, jobs, &order, &built, ret_doing);
        if (status == DB_OK)
            status = put_by(keeper, feed, &built, made, ret_doing);
    }
    return status;
}

enum db_status db_keeper_make_unread(struct db_keeper *keeper, struct db_made_feeds *made, const char **ret_doing)
{
    char summary[256], description[4096], key[DB_KEY_ROOM];
    struct db_text title_text = db_text_in(summary, sizeof summary), text = db_text_in(description, sizeof description);
    const int64_t now = now_of(keeper);
    const struct db_site site = { .name = db_keeper_name(keeper), .key = key, .zone = "UTC" };
    const struct db_notice notice = {
        .name = "mistakes", .day = { (int32_t) (now / (24 * 3600)) }, .summary = summary, .description = description
    };
    enum db_status status = DB_OK;

    *made = (struct db_made_feeds){ .now = now };
    db_feed_key(keeper->file, key);
    title(keeper->mistakes, &title_text);
    list_mistakes(keeper, keeper->mistakes, &text);
    db_text_add(&text, "When it is mended the jobs will be here.");
    for (enum db_ready_feed feed = 0; status == DB_OK && feed < (enum db_ready_feed) DB_READY_COUNT; feed++) {
        struct db_feed_result built;
        status = db_feed_store_unread(keeper->record, &site, feeds[feed], &notice, now, &built, ret_doing);
        if (status == DB_OK)
            status = put_by(keeper, feed, &built, made, ret_doing);
        else if (status == DB_ABSENT) /* what is served has jobs in it */
            status = DB_OK;
    }
    return status;
}

unsigned db_keeper_serve(struct db_keeper *keeper, struct db_made_feeds *made)
{
    unsigned which = 0;

    for (enum db_ready_feed feed = 0; feed < (enum db_ready_feed) DB_READY_COUNT; feed++) {
        struct db_feed_result *one = &made->feeds[feed];
        if (!one->bytes.data)
            continue;
        if (one->left_out)
            db_log(DB_LOG_NOTICE,
                   "%s: %s: %zu events far ahead are left out: calendars drop what is beyond their limits",
                   db_keeper_name(keeper), file_names[feed], one->left_out);
        struct db_ready_bytes *bytes = ready_new(feed, one->bytes.data, one->bytes.length, made->now);
        one->bytes = (struct db_bytes){ 0 };
        if (bytes) { /* else the next evaluation finds that it differs from what is served */
            replace(keeper, feed, bytes);
            which |= 1U << feed;
        }
    }
    return which;
}

void db_keeper_drop(struct db_made_feeds *made)
{
    for (size_t i = 0; i < DB_READY_COUNT; i++)
        db_feed_free(&made->feeds[i]);
}
