/* The cells of one line of CSV (RFC 4180), without the blanks and quotes around them. */
#ifndef DB_READ_CSV_CELLS_H
#define DB_READ_CSV_CELLS_H

#include <stddef.h>

struct db_cell {
    const char *text;
    size_t length;
};

enum db_cell_kind {
    DB_CELL_MORE, /* a comma follows, and another cell after it */
    DB_CELL_LAST,
    DB_CELL_OPEN, /* a quote that has no end on this line: the cell runs from it to the line's end */
    DB_CELL_JUNK  /* something follows the closing quote: the cell is that */
};

struct db_cell db_cell_trim(const char *text, size_t length);
/* Reads the cell at *at and moves *at behind its comma. */
enum db_cell_kind db_cell_next(const char **at, const char *end, struct db_cell *ret);

#endif
