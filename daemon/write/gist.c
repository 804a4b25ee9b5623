/* What a feed is built from in 128 bits: a feed is known again by it without one event being read or built. Events go the same
 * way as when they are built, up to the point where they would be taken. */
#include "write/private.h"

#include <xxhash.h>

#include <string.h>

#include "base/banned.h"

/* Raised when feeds are put together in another way. */
enum { FEED_LAYOUT = 1 };

void db_gist_add(struct db_gist *gist, struct db_date day, const unsigned char identity[16],
                 const unsigned char meaning[16])
{
    unsigned char all[16 + 16 + sizeof day.day];

    memcpy(all, identity, 16);
    memcpy(all + 16, meaning, 16);
    memcpy(all + 32, &day.day, sizeof day.day);
    const XXH128_hash_t hash = XXH3_128bits(all, sizeof all);
    gist->low += hash.low64;
    gist->high += hash.high64;
    gist->events++;
}

enum db_status db_gist_finish(const struct db_feed_work *work, const char *head, size_t length, unsigned char ret[16])
{
    const uint64_t numbers[] = { FEED_LAYOUT,    (uint64_t) work->feed, work->unlimited,
                                 work->gist.low, work->gist.high,       work->gist.events };
    XXH3_state_t *state = XXH3_createState();
    XXH128_canonical_t canonical;

    /* The version with its NUL and all of the rest of one length save the lines, which come last: nothing runs together. */
    bool done = state && XXH3_128bits_reset(state) == XXH_OK &&
                XXH3_128bits_update(state, DB_VERSION, sizeof DB_VERSION) == XXH_OK &&
                XXH3_128bits_update(state, numbers, sizeof numbers) == XXH_OK &&
                XXH3_128bits_update(state, work->space, sizeof work->space) == XXH_OK &&
                XXH3_128bits_update(state, head, length) == XXH_OK;
    if (done) {
        XXH128_canonicalFromHash(&canonical, XXH3_128bits_digest(state));
        memcpy(ret, canonical.digest, 16);
    }
    (void) XXH3_freeState(state);
    return done ? DB_OK : DB_FULL;
}

enum db_status db_feed_gist(const struct db_jobs *jobs, enum db_feed feed, const struct db_notice *notices,
                            size_t notice_count, bool unlimited, unsigned char ret[16])
{
    struct db_feed_work work = { .feed = feed,
                                 .jobs = jobs,
                                 .view = db_jobs_view(jobs),
                                 .site = db_garden_site(db_jobs_view(jobs)->garden),
                                 .unlimited = unlimited,
                                 .notices = notices,
                                 .notice_count = notice_count,
                                 .only_gist = true };
    struct db_bytes head = { 0 };
    size_t left_out = 0;

    enum db_status status = db_uid_read(work.site->key, work.space);
    if (status == DB_OK && !(work.scratch = db_arena_new(SIZE_MAX)))
        status = DB_FULL;
    if (status == DB_OK)
        status = db_feed_head(&work, &head);
    if (status == DB_OK)
        status = db_feed_take_all(&work, &left_out);
    if (status == DB_OK)
        status = db_gist_finish(&work, head.data, head.length, ret);
    db_bytes_free(&head);
    (void) db_arena_free(work.scratch);
    return status;
}
