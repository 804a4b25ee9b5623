/* The demo garden with the shipped crops and rules, as the program reads them. Include after cmocka.h. */
#ifndef DB_TESTS_KIT_DEMO_H
#define DB_TESTS_KIT_DEMO_H

#include "read/read.h"

/* 0, or -1 with its mistakes printed. */
static inline int read_demo(struct db_arena *arena, struct db_estate *ret)
{
    struct db_mistakes *mistakes = db_mistakes_new(arena);
    const struct db_mistake *m;

    if (db_estate_read("contrib/demo/garden.ini", "rules", arena, mistakes, ret) == DB_OK)
        return 0;
    for (size_t i = 0; (m = db_mistakes_at(mistakes, i)) != NULL; i++)
        print_error("%s:%u:%u: %s; %s\n", m->at.file, m->at.line, m->at.column, m->what, m->instead);
    return -1;
}

#endif
