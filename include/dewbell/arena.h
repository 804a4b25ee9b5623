/* Memory that is born with a ceiling and dies at once. Everything read from one set of files, or worked out in one
 * evaluation, lives in one arena: a reload fills a second arena, swaps one pointer and frees the first. */
#ifndef DEWBELL_ARENA_H
#define DEWBELL_ARENA_H

#include <stddef.h>

#ifdef __cplusplus
extern "C" {
#endif

struct db_arena;

/* An empty arena that will hand out at most `limit` bytes. NULL when the machine is out of memory. */
struct db_arena *db_arena_new(size_t limit);

/* Frees the arena and all that came from it. NULL is allowed. Always returns NULL. */
struct db_arena *db_arena_free(struct db_arena *arena);

/* count * size bytes, zeroed, aligned for any type. NULL: the limit is reached, the product overflows, or the machine
 * is out of memory. A count or size of 0 gives a valid pointer that must not be read. */
void *db_arena_get(struct db_arena *arena, size_t count, size_t size);

/* A copy of `length` bytes of text, with a NUL after them. NULL as above. */
char *db_arena_text(struct db_arena *arena, const char *text, size_t length);

/* Bytes handed out so far, alignment included. */
size_t db_arena_taken(const struct db_arena *arena);

#ifdef __cplusplus
}
#endif
#endif
