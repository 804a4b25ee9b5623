/* A stable sort that takes its working space from the caller's arena: the C library's may call malloc. */
#ifndef DB_BASE_SORT_H
#define DB_BASE_SORT_H

#include "dewbell/arena.h"
#include "dewbell/status.h"

/* < 0, 0, > 0 as memcmp. The context is handed through. */
typedef int db_compare(const void *a, const void *b, const void *context);

/* Sorts `count` items of `size` bytes in place. Equal items stay in their order. DB_FULL: nothing was changed. */
DB_MUST_USE enum db_status db_sort(void *items, size_t count, size_t size, db_compare *compare, const void *context,
                                   struct db_arena *arena);

#endif
