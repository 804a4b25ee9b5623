#define DB_PURE
#include "base/sort.h"

#include <stdbool.h>
#include <string.h>

#include "base/banned.h"

enum db_status db_sort(void *items, size_t count, size_t size, db_compare *compare, const void *context,
                       struct db_arena *arena)
{
    char *from = items;
    char *to;

    if (count < 2)
        return DB_OK;
    to = db_arena_get(arena, count, size);
    if (!to)
        return DB_FULL;
    for (size_t run = 1; run < count; run *= 2) {
        for (size_t left = 0; left < count; left += 2 * run) {
            const size_t middle = left + run < count ? left + run : count;
            const size_t right = middle + run < count ? middle + run : count;
            size_t a = left, b = middle;

            for (size_t at = left; at < right; at++) {
                const bool first =
                    a < middle && (b >= right || compare(from + a * size, from + b * size, context) <= 0);

                memcpy(to + at * size, from + (first ? a++ : b++) * size, size);
            }
        }
        char *swap = from;
        from = to;
        to = swap;
    }
    if (from != (char *) items)
        memcpy(items, from, count * size);
    return DB_OK;
}
