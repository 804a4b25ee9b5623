/* What files and folders held when they were read, so that it can be asked later whether they still do: by their bytes,
 * since times in a file system are too coarse to say which of two things came first. */
#ifndef DB_READ_SEEN_H
#define DB_READ_SEEN_H

#include "dewbell/mistake.h"
#include "dewbell/status.h"

#include <stddef.h>
#include <stdint.h>

struct db_seen {
    const char *path;
    size_t limit;         /* bytes that a file may have; 0: a folder that was listed */
    bool had;             /* it could be read */
    uint64_t low, high;   /* hash of its bytes, or of the names in it */
    struct db_seen *next; /* read before it */
};

/* db_file_read(), and what was read is put at the head of the list in `arena`. */
DB_MUST_USE enum db_status db_seen_read(struct db_seen **list, const char *path, size_t limit, struct db_place at,
                                        struct db_arena *arena, struct db_mistakes *mistakes, char **ret_text,
                                        size_t *ret_length);
/* The same for db_files_list(). */
DB_MUST_USE enum db_status db_seen_list(struct db_seen **list, const char *path, struct db_place at,
                                        struct db_arena *arena, struct db_mistakes *mistakes,
                                        const char *const **ret_files, size_t *ret_count);

/* Reads them again: false when one holds something else, is there now and was not, or the other way round; or memory is
 * out. */
bool db_seen_stands(const struct db_seen *list);

#endif
