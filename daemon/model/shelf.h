/* A shelf of named records: crops, beds, sowings. Records stay where they are; they are found by index or, hashed, by
 * name. Every record begins with its name (const char *). */
#ifndef DB_MODEL_SHELF_H
#define DB_MODEL_SHELF_H

#include "dewbell/arena.h"
#include "dewbell/status.h"

#include <stddef.h>
#include <stdint.h>

struct db_shelf {
    struct db_arena *arena;
    void **items;
    size_t count, room, limit;
    uint32_t *slots; /* index + 1 of an item, 0: empty; a power of two of them */
    size_t slot_count;
};

/* An empty shelf that holds at most `limit` records. */
struct db_shelf db_shelf_in(struct db_arena *arena, size_t limit);

/* Copies `size` bytes. *ret (may be NULL) is the kept copy. DB_RANGE: no name, or the name is there already; DB_FULL. */
DB_MUST_USE enum db_status db_shelf_add(struct db_shelf *shelf, const void *item, size_t size, void **ret);

/* SIZE_MAX if there is none. */
size_t db_shelf_find(const struct db_shelf *shelf, const char *name);

#endif
