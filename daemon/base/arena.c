#include "dewbell/arena.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

#if defined(__SANITIZE_ADDRESS__)
#define ALONE 1
#elif defined(__has_feature)
#if __has_feature(address_sanitizer)
#define ALONE 1
#endif
#endif
#ifndef ALONE
#define ALONE 0 /* 1: every piece gets a block of its own, so that the sanitizer sees an overrun between pieces */
#endif

enum { FIRST_BLOCK = 4096, LARGEST_BLOCK = 1024 * 1024 };

struct block {
    struct block *below;
    size_t room, used;
    max_align_t space[];
};

struct db_arena {
    struct block *top;
    size_t limit, taken, next;
    max_align_t nothing; /* what an empty piece points at */
};

struct db_arena *db_arena_new(size_t limit)
{
    struct db_arena *arena = calloc(1, sizeof *arena);

    if (arena) {
        arena->limit = limit;
        arena->next = ALONE ? 0 : FIRST_BLOCK;
    }
    return arena;
}

struct db_arena *db_arena_free(struct db_arena *arena)
{
    if (arena) {
        for (struct block *block = arena->top, *below; block; block = below) {
            below = block->below;
            free(block);
        }
        free(arena);
    }
    return NULL;
}

static bool add_block(struct db_arena *arena, size_t need)
{
    size_t room = need > arena->next ? need : arena->next;

    if (room > SIZE_MAX - sizeof(struct block))
        return false;
    struct block *block = calloc(1, sizeof *block + room);
    if (!block)
        return false;
    block->room = room;
    block->below = arena->top;
    arena->top = block;
    if (arena->next && arena->next < LARGEST_BLOCK)
        arena->next *= 2;
    return true;
}

void *db_arena_get(struct db_arena *arena, size_t count, size_t size)
{
    const size_t step = _Alignof(max_align_t);

    if (!count || !size)
        return &arena->nothing;
    if (count > (SIZE_MAX - step) / size)
        return NULL;
    size_t need = (count * size + step - 1) / step * step;
    if (need > arena->limit - arena->taken)
        return NULL;
    if (!arena->top || arena->top->room - arena->top->used < need)
        if (!add_block(arena, need))
            return NULL;
    void *got = (char *) arena->top->space + arena->top->used;
    arena->top->used += need;
    arena->taken += need;
    return got;
}

char *db_arena_text(struct db_arena *arena, const char *text, size_t length)
{
    char *copy = length < SIZE_MAX ? db_arena_get(arena, length + 1, 1) : NULL;

    if (copy && length)
        memcpy(copy, text, length);
    return copy;
}

size_t db_arena_taken(const struct db_arena *arena)
{
    return arena->taken;
}
