/* The demo garden, read once for all tests of a program. Include after cmocka.h, in one file of it. */
#ifndef DB_TESTS_KIT_DEMO_ESTATE_H
#define DB_TESTS_KIT_DEMO_ESTATE_H

#include "kit/demo.h"

static struct db_arena *arena;
static struct db_estate estate;

static int read_estate(void **state)
{
    (void) state;
    arena = db_arena_new((size_t) 64 << 20);
    return read_demo(arena, &estate);
}

static int free_estate(void **state)
{
    (void) state;
    arena = db_arena_free(arena);
    return 0;
}

#endif
