/* Notices: what the gardener must learn from the phone that is no job. */
#include "write/private.h"

#include <xxhash.h>

#include <stdio.h>
#include <string.h>

#include "base/banned.h"

enum { SUMMARY = 60, LAYOUT = 1 };

struct cleaned {
    unsigned char uid[16];
    const char *summary, *description;
    struct db_date day;
};

static enum db_status tell_notice(struct db_feed_work *work, const void *about, struct db_event *event)
{
    const struct cleaned *notice = about;

    memcpy(event->uid, notice->uid, sizeof event->uid);
    event->task = work->feed == DB_FEED_TASKS;
    event->from = event->due = notice->day;
    event->summary = notice->summary;
    event->description = notice->description;
    event->priority = 1;
    return DB_OK;
}

/* All that the event prints. */
static enum db_status hash(const struct cleaned *notice, unsigned char ret[16])
{
    XXH128_canonical_t canonical;
    XXH3_state_t *state = XXH3_createState();

    if (!state)
        return DB_FULL;
    const int32_t numbers[2] = { notice->day.day, LAYOUT };
    /* The NULs keep the texts apart. */
    bool done = XXH3_128bits_reset(state) == XXH_OK && XXH3_128bits_update(state, numbers, sizeof numbers) == XXH_OK &&
                XXH3_128bits_update(state, notice->summary, strlen(notice->summary) + 1) == XXH_OK &&
                XXH3_128bits_update(state, notice->description, strlen(notice->description) + 1) == XXH_OK;
    if (done) {
        XXH128_canonicalFromHash(&canonical, XXH3_128bits_digest(state));
        memcpy(ret, canonical.digest, 16);
    }
    (void) XXH3_freeState(state);
    return done ? DB_OK : DB_FULL;
}

enum db_status db_feed_notices(struct db_feed_work *work)
{
    for (size_t i = 0; i < work->notice_count; i++) {
        const struct db_notice *notice = &work->notices[i];
        struct cleaned cleaned = { .day = notice->day };
        unsigned char meaning[16];
        char name[128];
        bool fits;

        (void) snprintf(name, sizeof name, "notice|%d|%s", (int) work->feed, notice->name);
        db_uid_make(work->space, name, cleaned.uid);
        /* Texts of their own arena time: db_feed_take() may renew the scratch before it asks for them. */
        struct db_arena *texts = db_arena_new(SIZE_MAX);
        if (!texts)
            return DB_FULL;
        cleaned.summary = db_clean_cut(notice->summary, SUMMARY, texts);
        cleaned.description = db_clean_text(notice->description, texts);
        enum db_status status = cleaned.summary && cleaned.description ? hash(&cleaned, meaning) : DB_FULL;
        if (status == DB_OK)
            status = db_feed_take(work, notice->day, cleaned.uid, meaning, tell_notice, &cleaned, &fits);
        (void) db_arena_free(texts);
        if (status != DB_OK)
            return status;
    }
    return DB_OK;
}
