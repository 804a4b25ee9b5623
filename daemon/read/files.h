/* Whole files and folders of files. */
#ifndef DB_READ_FILES_H
#define DB_READ_FILES_H

#include "dewbell/mistake.h"
#include "dewbell/status.h"

/* Text in the arena, as printf would write it; "" when the arena is full. */
__attribute__((format(printf, 2, 3))) const char *db_say(struct db_arena *arena, const char *format, ...);

/* `path` as seen from `folder`: joined unless it is absolute or the folder is ".". NULL when the arena is full. */
const char *db_path_join(struct db_arena *arena, const char *folder, const char *path);
/* The folder part of a path: "." where there is none. */
const char *db_path_folder(struct db_arena *arena, const char *path);
bool db_path_is_folder(const char *path);
/* From now on files and folders are looked for among copies (read.h); NULL: where they are, as at first. */
void db_files_from(const char *copies);

/* Reads a regular file of at most `limit` bytes into the arena, a NUL after it. A file that cannot be read is a mistake
 * at `at` (DB_MISTAKEN). */
DB_MUST_USE enum db_status db_file_read(const char *path, size_t limit, struct db_place at, struct db_arena *arena,
                                        struct db_mistakes *mistakes, char **ret_text, size_t *ret_length);

/* Makes CR LF plain LF, in place; a lone CR stays. Returns the new length; the NUL moves along. */
size_t db_file_plain_ends(char *text, size_t length);

/* The file itself, or the files of a folder whose names end in ".ini" (not hidden, not in folders below), in order of
 * name. An empty folder is no mistake. */
DB_MUST_USE enum db_status db_files_list(const char *path, struct db_place at, struct db_arena *arena,
                                         struct db_mistakes *mistakes, const char *const **ret_files,
                                         size_t *ret_count);

#endif
