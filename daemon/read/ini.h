/* INI as the gardener's files hold it. The values are what inih reads; before it sees a line, the line is checked
 * against all that inih would cut, join or misread without a word. What passes is exactly what the gardener sees. */
#ifndef DB_READ_INI_H
#define DB_READ_INI_H

#include "dewbell/mistake.h"
#include "dewbell/status.h"
#include "model/shelf.h"

struct db_ini_key {
    struct db_words key, value;
};

struct db_ini_section {
    const char *title;       /* "bed north" */
    const char *kind, *id;   /* "bed" and "north"; id NULL when the title is one word */
    struct db_words words;   /* the title where it stands */
    struct db_place at;      /* the same */
    struct db_ini_key *keys; /* in the order written */
    size_t key_count, key_room;
    bool cut; /* a line of it was refused: what seems to be missing may stand there */
};

/* What belongs into the files of one set, so that a line that was indented by mistake is seen. NULL-terminated. */
struct db_ini_shape {
    const char *const *kinds; /* first words of sections; NULL: any */
    const char *const *keys;
};

/* A set of files in which no section may stand twice. */
struct db_ini {
    struct db_arena *arena;   /* the files' bytes, which mistakes show: lives as long as the mistakes */
    struct db_arena *scratch; /* everything else */
    struct db_mistakes *mistakes;
    struct db_ini_shape shape;
    struct db_shelf sections;
};

/* NULL when scratch is full. */
struct db_ini *db_ini_new(struct db_arena *arena, struct db_arena *scratch, struct db_mistakes *mistakes,
                          struct db_ini_shape shape);

/* Reads `length` bytes (a NUL after them) that stand in `file`. The bytes are changed (line ends made plain) and kept.
 * Mistakes go to the list. DB_OK even then, DB_FULL when an arena is. */
DB_MUST_USE enum db_status db_ini_read(struct db_ini *ini, const char *file, char *text, size_t length);

size_t db_ini_count(const struct db_ini *ini);
struct db_ini_section *db_ini_at(const struct db_ini *ini, size_t index);
struct db_ini_section *db_ini_find(const struct db_ini *ini, const char *title); /* NULL: not there */
/* The key's value; NULL: not given. */
const struct db_words *db_ini_value(const struct db_ini_section *section, const char *key);

#endif
