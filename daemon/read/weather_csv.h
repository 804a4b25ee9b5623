/* Daily weather from a CSV file: a line that names the columns, then one line a day. */
#ifndef DB_READ_WEATHER_CSV_H
#define DB_READ_WEATHER_CSV_H

#include "read/fields.h"
#include "read/records.h"

/* Which columns hold what. Column 0 is the date, 1 + enum db_figure a figure. */
enum { DB_COLUMN_DATE, DB_COLUMN_COUNT = 1 + DB_FIGURE_COUNT };
struct db_columns {
    const char *name[DB_COLUMN_COUNT];           /* in the file's first line, without the unit; NULL: as by default */
    const struct db_unit *unit[DB_COLUMN_COUNT]; /* NULL: the file says it */
    struct db_span span[DB_COLUMN_COUNT];        /* where the gardener wrote it; words NULL: nowhere */
};

/* "date", "low", "high", "rain", "wind" */
const char *db_column_word(size_t column);

/* `columns = date=day, low=temp_min [°C], ...` into *ret; names live in the arena. False after a mistake. */
bool db_columns_read(struct db_span span, struct db_arena *arena, struct db_reader to, struct db_columns *ret);

/* Reads `length` bytes (a NUL after them) that stand in `file`; they are changed (line ends made plain). DB_OK also after
 * mistakes (they are in the list, *ret has no days then); DB_FULL. all: every column of the mapping must be there; otherwise
 * only date, low and high. */
DB_MUST_USE enum db_status db_weather_csv_read(const char *file, char *text, size_t length,
                                               const struct db_columns *columns, bool all, struct db_arena *arena,
                                               struct db_reader to, struct db_days *ret);

#endif
