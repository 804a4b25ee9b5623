/* A record that is open during each test, and an arena. Include after cmocka.h, in one file of a program. */
#ifndef DB_TESTS_KIT_RECORD_OPEN_H
#define DB_TESTS_KIT_RECORD_OPEN_H

#include "kit/record.h"

static struct db_record *record;
static struct db_arena *arena;

static int set_up(void **state)
{
    const int code = make_record_folder(state);

    record = code == 0 ? open_record() : NULL;
    arena = db_arena_new((size_t) 1 << 24);
    return arena ? code : -1;
}

static int tear_down(void **state)
{
    record = db_record_close(record);
    arena = db_arena_free(arena);
    return remove_record_folder(state);
}

#endif
