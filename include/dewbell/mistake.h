/* Mistakes: where in the gardener's own words something is wrong, what is wrong, and what to write instead.
 * Reading goes on after a mistake, so that a single run reports them all. */
#ifndef DEWBELL_MISTAKE_H
#define DEWBELL_MISTAKE_H

#include "dewbell/arena.h"

#include <stdbool.h>
#include <stddef.h>

#ifdef __cplusplus
extern "C" {
#endif

/* Where. Lines and columns count from 1; columns count characters (UTF-8 code points), not bytes. column 0 means the
 * whole line, line 0 the whole file. `text` points at the first byte of that line (ends at a newline or NUL), or is
 * NULL when the line cannot be shown. The pointers must live as long as the list of mistakes. */
struct db_place {
    const char *file, *text;
    unsigned line, column, width;
};

/* A run of text that remembers where each of its bytes stands in a file, also when it was joined from several lines:
 * bytes from pieces[i].from up to pieces[i+1].from stand at pieces[i].at and onward in that line. */
struct db_piece {
    size_t from;
    struct db_place at;
};

struct db_words {
    const char *text; /* NUL at text[length] */
    size_t length;
    const struct db_piece *pieces;
    size_t piece_count; /* 0: not from a file */
};

/* Words that come from no file: their places have "" for a file, line 1, and show the words themselves. */
struct db_words db_words_plain(const char *text);

/* The place of `width` bytes at `offset`. The width is cut at the end of the piece and turned into characters. */
struct db_place db_words_place(const struct db_words *words, size_t offset, size_t width);

struct db_mistake {
    struct db_place at;
    const char *what;    /* a clause without a full stop */
    const char *instead; /* what to write, as a clause ("write 10 days"); "" if there is nothing to suggest */
    bool advice;         /* true: worth saying, but nothing is refused for it */
};

struct db_mistakes;

/* An empty list whose texts live in `arena`. NULL when the arena is full. */
struct db_mistakes *db_mistakes_new(struct db_arena *arena);

/* Adds one. After DB_LIMIT_MISTAKES only the count grows. */
__attribute__((format(printf, 4, 5))) void db_mistakes_add(struct db_mistakes *to, struct db_place at,
                                                           const char *instead, const char *what, ...);
__attribute__((format(printf, 4, 5))) void db_mistakes_advise(struct db_mistakes *to, struct db_place at,
                                                              const char *instead, const char *what, ...);

/* How many refuse the input (advice not counted), kept or not. */
size_t db_mistakes_count(const struct db_mistakes *mistakes);
size_t db_mistakes_advice(const struct db_mistakes *mistakes);

/* The kept ones, advice among them, in order of file (as first seen), line, column. Index beyond the last: NULL. */
const struct db_mistake *db_mistakes_at(const struct db_mistakes *mistakes, size_t index);

/* Of `count` names the one nearest to `word` by edit distance (a swap of neighbours counts one), if it is near enough
 * to be a slip of the pen: at most a third of the word's length, at least 1, at most 3. NULL if none is. */
const char *db_nearest(const char *word, const char *const *names, size_t count);

#ifdef __cplusplus
}
#endif
#endif
