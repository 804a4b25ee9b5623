#define DB_PURE
#include "model/shelf.h"

#include <stdbool.h>
#include <string.h>

#include "base/banned.h"

static const char *name_of(const void *item)
{
    return *(const char *const *) item;
}

/* FNV-1a, 32 bits. The names are the gardener's own; nobody gains by making them collide. */
static uint32_t hash_of(const char *name)
{
    uint32_t hash = 2166136261u;

    for (; *name; name++)
        hash = (hash ^ (unsigned char) *name) * 16777619u;
    return hash;
}

/* The slot that holds `name`, or the empty one where it belongs. */
static size_t slot_for(const struct db_shelf *shelf, const char *name)
{
    size_t slot = hash_of(name) & (shelf->slot_count - 1);

    while (shelf->slots[slot] && strcmp(name_of(shelf->items[shelf->slots[slot] - 1]), name) != 0)
        slot = (slot + 1) & (shelf->slot_count - 1);
    return slot;
}

struct db_shelf db_shelf_in(struct db_arena *arena, size_t limit)
{
    return (struct db_shelf){ .arena = arena, .limit = limit < UINT32_MAX ? limit : UINT32_MAX - 1 };
}

/* Twice the room; slots stay at most half full, so that a walk is short and always ends. */
static bool grow(struct db_shelf *shelf)
{
    const size_t room = shelf->room ? 2 * shelf->room : 16;
    void **items = db_arena_get(shelf->arena, room, sizeof *items);
    uint32_t *slots = db_arena_get(shelf->arena, 2 * room, sizeof *slots);

    if (!items || !slots)
        return false;
    if (shelf->count)
        memcpy(items, shelf->items, shelf->count * sizeof *items);
    shelf->items = items;
    shelf->room = room;
    shelf->slots = slots;
    shelf->slot_count = 2 * room;
    for (size_t i = 0; i < shelf->count; i++)
        slots[slot_for(shelf, name_of(items[i]))] = (uint32_t) (i + 1);
    return true;
}

enum db_status db_shelf_add(struct db_shelf *shelf, const void *item, size_t size, void **ret)
{
    const char *name = name_of(item);
    void *kept;

    if (!name || db_shelf_find(shelf, name) != SIZE_MAX)
        return DB_RANGE;
    if (shelf->count >= shelf->limit || (shelf->count == shelf->room && !grow(shelf)))
        return DB_FULL;
    kept = db_arena_get(shelf->arena, 1, size);
    if (!kept)
        return DB_FULL;
    memcpy(kept, item, size);
    shelf->slots[slot_for(shelf, name)] = (uint32_t) (shelf->count + 1);
    shelf->items[shelf->count++] = kept;
    if (ret)
        *ret = kept;
    return DB_OK;
}

size_t db_shelf_find(const struct db_shelf *shelf, const char *name)
{
    size_t slot;

    if (!shelf->slot_count || !name)
        return SIZE_MAX;
    slot = slot_for(shelf, name);
    return shelf->slots[slot] ? shelf->slots[slot] - 1 : SIZE_MAX;
}
