/* One line of an INI file: what it is, and whether inih would read it as the gardener meant it. */
#ifndef DB_READ_INI_LINE_H
#define DB_READ_INI_LINE_H

#include "read/ini.h"

enum ini_line_kind {
    INI_LINE_NOTHING, /* empty or a comment */
    INI_LINE_SECTION,
    INI_LINE_BAD_SECTION, /* meant as a section; refused */
    INI_LINE_KEY,
    INI_LINE_MORE,   /* goes on with the value above */
    INI_LINE_REFUSED /* or goes on with a line that was */
};

struct ini_line {
    const char *file, *text;
    size_t size; /* bytes, without the line end */
    unsigned number;
    size_t base;             /* blanks that all lines of the file begin with: they mean nothing */
    enum ini_line_kind kind; /* from here on filled in by ini_line_scan */
    bool ended;              /* holds nothing at all */
    size_t start;            /* first byte to hand on: blanks before a key that was indented by mistake are left out */
    size_t from, length;     /* the section's name, or the value */
    size_t key_from, key_length;
};

struct ini_above {
    bool key;     /* there is a key that an indented line goes on with */
    bool refused; /* the key or line above was refused */
};

struct db_place ini_line_place(const struct ini_line *line, size_t from, size_t length);

void ini_line_scan(struct ini_line *line, struct ini_above above, const struct db_ini_shape *shape,
                   struct db_mistakes *mistakes, struct db_arena *scratch);

#endif
