#include "read/csv_cells.h"

#include <stdbool.h>
#include <string.h>

#include "base/banned.h"

struct db_cell db_cell_trim(const char *text, size_t length)
{
    while (length && (text[0] == ' ' || text[0] == '\t')) {
        text++;
        length--;
    }
    while (length && (text[length - 1] == ' ' || text[length - 1] == '\t'))
        length--;
    return (struct db_cell){ text, length };
}

/* From a cell's first quote on: its last one, or NULL. A quote inside is written twice. */
static const char *closing(const char *quote, const char *end)
{
    for (const char *at = quote + 1; at < end; at++) {
        if (*at != '"')
            continue;
        if (at + 1 == end || at[1] != '"')
            return at;
        at++;
    }
    return NULL;
}

enum db_cell_kind db_cell_next(const char **at, const char *end, struct db_cell *ret)
{
    const char *start = *at, *stop = *at, *comma;

    while (start < end && (*start == ' ' || *start == '\t'))
        start++;
    const bool quoted = start < end && *start == '"';
    if (quoted) {
        stop = closing(start, end);
        *ret = (struct db_cell){ start, (size_t) (end - start) };
        if (!stop)
            return DB_CELL_OPEN;
    }
    comma = stop < end ? memchr(stop, ',', (size_t) (end - stop)) : NULL;
    *ret = db_cell_trim(*at, (size_t) ((comma ? comma : end) - *at));
    if (quoted) {
        const struct db_cell junk = db_cell_trim(stop + 1, (size_t) ((comma ? comma : end) - stop - 1));

        *ret = junk;
        if (junk.length)
            return DB_CELL_JUNK;
        *ret = (struct db_cell){ start + 1, (size_t) (stop - start - 1) };
    }
    if (!comma)
        return DB_CELL_LAST;
    *at = comma + 1;
    return DB_CELL_MORE;
}
