#include "read/seen.h"

#include "base/limits.h"
#include "read/files.h"

#define XXH_INLINE_ALL
#include <xxhash.h>

#include <string.h>

#include "base/banned.h"

static enum db_status note(struct db_seen **list, struct db_seen seen, XXH128_hash_t hash, struct db_arena *arena)
{
    struct db_seen *made = db_arena_get(arena, 1, sizeof *made);

    if (!made)
        return DB_FULL;
    *made = seen;
    made->low = seen.had ? hash.low64 : 0;
    made->high = seen.had ? hash.high64 : 0;
    made->next = *list;
    *list = made;
    return DB_OK;
}

enum db_status db_seen_read(struct db_seen **list, const char *path, size_t limit, struct db_place at,
                            struct db_arena *arena, struct db_mistakes *mistakes, char **ret_text, size_t *ret_length)
{
    char *text = NULL;
    size_t length = 0;
    const enum db_status read = db_file_read(path, limit, at, arena, mistakes, &text, &length);

    if (read != DB_OK && read != DB_MISTAKEN)
        return read;
    const struct db_seen seen = { .path = path, .limit = limit, .had = read == DB_OK };
    const enum db_status noted = note(list, seen, XXH3_128bits(text, length), arena);
    if (noted != DB_OK)
        return noted;
    if (read == DB_OK) {
        *ret_text = text;
        *ret_length = length;
    }
    return read;
}

enum db_status db_seen_list(struct db_seen **list, const char *path, struct db_place at, struct db_arena *arena,
                            struct db_mistakes *mistakes, const char *const **ret_files, size_t *ret_count)
{
    const char *const *files = NULL;
    size_t count = 0;
    const enum db_status listed = db_files_list(path, at, arena, mistakes, &files, &count);
    XXH3_state_t names;

    if (listed != DB_OK && listed != DB_MISTAKEN)
        return listed;
    (void) XXH3_128bits_reset(&names);
    for (size_t i = 0; i < count; i++)
        (void) XXH3_128bits_update(&names, files[i], strlen(files[i]) + 1);
    const struct db_seen seen = { .path = path, .had = listed == DB_OK };
    const enum db_status noted = note(list, seen, XXH3_128bits_digest(&names), arena);
    if (noted != DB_OK)
        return noted;
    if (listed == DB_OK) {
        *ret_files = files;
        *ret_count = count;
    }
    return listed;
}

static bool stands(const struct db_seen *seen, struct db_arena *arena, struct db_mistakes *nobody)
{
    const struct db_place nowhere = { 0 };
    struct db_seen *now = NULL;
    const char *const *files = NULL;
    char *text = NULL;
    size_t count = 0;
    const enum db_status status =
        seen->limit ? db_seen_read(&now, seen->path, seen->limit, nowhere, arena, nobody, &text, &count)
                    : db_seen_list(&now, seen->path, nowhere, arena, nobody, &files, &count);

    return (status == DB_OK || status == DB_MISTAKEN) && now->had == seen->had && now->low == seen->low &&
           now->high == seen->high;
}

bool db_seen_stands(const struct db_seen *list)
{
    bool all = true;

    for (const struct db_seen *seen = list; seen && all; seen = seen->next) {
        struct db_arena *arena = db_arena_new(DB_LIMIT_SCRATCH);
        struct db_mistakes *nobody = arena ? db_mistakes_new(arena) : NULL;

        all = nobody && stands(seen, arena, nobody);
        (void) db_arena_free(arena);
    }
    return all;
}
