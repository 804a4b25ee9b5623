/* A forecast as CSV: a header line that names the columns, then lines. Unlike a file of the gardener's own, a cell that
 * is no number costs the whole answer, and a day that cannot be true only itself. */
#include "read/forecast.h"

#include "base/text.h"
#include "read/csv_cells.h"
#include "read/files.h"

#include <math.h>
#include <string.h>

#include "base/banned.h"

enum { CELLS_MOST = 64 };

struct table {
    struct db_reading *reading;
    const char *next, *end;
    unsigned number; /* of the line in hand */
    struct db_cell cells[CELLS_MOST];
    size_t count, columns;
};

/* Empty lines and comments are passed over. False at the end, or after a mistake. */
static bool next_cells(struct table *t)
{
    while (t->next < t->end) {
        const char *at = t->next, *stop = memchr(at, '\n', (size_t) (t->end - at));
        enum db_cell_kind kind = DB_CELL_MORE;

        t->number++;
        t->next = stop ? stop + 1 : t->end;
        stop = stop ? stop : t->end;
        if (stop > at && stop[-1] == '\r')
            stop--;
        if (!db_cell_trim(at, (size_t) (stop - at)).length || *at == '#')
            continue;
        for (t->count = 0; kind == DB_CELL_MORE && t->count < CELLS_MOST; t->count++)
            kind = db_cell_next(&at, stop, &t->cells[t->count]);
        if (kind == DB_CELL_LAST)
            return true;
        db_reading_refuse(t->reading, "line %u %s", t->number,
                          kind == DB_CELL_OPEN   ? "has a quote without an end"
                          : kind == DB_CELL_JUNK ? "has something after a quoted cell"
                                                 : "has more than 64 cells");
        return false;
    }
    return false;
}

/* The column of that name, with or without a unit in brackets after it. */
static bool find_column(const struct table *t, const char *name, size_t *ret)
{
    for (size_t i = 0; i < t->count; i++) {
        const struct db_cell *cell = &t->cells[i];
        const char *open = memchr(cell->text, '[', cell->length);
        const struct db_cell bare = open ? db_cell_trim(cell->text, (size_t) (open - cell->text)) : *cell;

        if (db_text_is(cell->text, cell->length, name) || db_text_is(bare.text, bare.length, name)) {
            *ret = i;
            return true;
        }
    }
    db_reading_refuse(t->reading, "it has no column \"%s\"", name);
    return false;
}

/* The figures' columns and the samples gathered from them. */
struct column {
    enum db_figure figure;
    const struct db_source_way *way;
    size_t at;
    struct db_sample *samples;
};

static bool read_cell(const struct table *t, const struct column *column, struct db_stamp stamp, size_t row)
{
    const struct db_reading *r = t->reading;
    const struct db_source_figure *figure = &r->source->figures[column->figure];
    const struct db_cell cell = t->cells[column->at];
    const int64_t span = (int64_t) llround(column->way->hours * 3600);
    struct db_sample *sample = &column->samples[row];
    double value;

    if (!db_forecast_number(cell.text, cell.length, &value)) {
        db_reading_refuse(r, "line %u has \"%s\" for %s, not a number", t->number,
                          db_reading_shown(r, cell.text, cell.length), column->way->pointer);
        return false;
    }
    value = db_reading_missing(r, value) ? (double) NAN : value * figure->factor + figure->offset;
    *sample = (struct db_sample){ stamp.from, stamp.to, value };
    if (stamp.from == stamp.to && column->way->before)
        sample->from -= span;
    else if (stamp.from == stamp.to)
        sample->to += span;
    if (sample->from == sample->to && column->figure == DB_FIGURE_RAIN) {
        db_reading_refuse(r, "the rain in %s has no span of time: write \"for 1 h\" after it in the description",
                          column->way->pointer);
        return false;
    }
    return true;
}

static bool read_row(const struct table *t, size_t time_at, const struct column *columns, size_t count, size_t row,
                     int64_t *last)
{
    const struct db_cell time = t->cells[time_at < t->count ? time_at : 0];
    const char *text = db_say(t->reading->arena, "%.*s", (int) (time.length < 40 ? time.length : 40), time.text);
    struct db_stamp stamp;

    if (t->count != t->columns) {
        db_reading_refuse(t->reading, "line %u has %zu cells, the first line has %zu", t->number, t->count, t->columns);
        return false;
    }
    if (!db_stamp_read(text, t->reading->zone, *last, &stamp)) {
        db_reading_refuse(t->reading, "line %u has \"%s\", not a time", t->number,
                          db_reading_shown(t->reading, time.text, time.length));
        return false;
    }
    *last = stamp.from;
    for (size_t i = 0; i < count; i++)
        if (!read_cell(t, &columns[i], stamp, row))
            return false;
    return true;
}

/* Reads the header. False after a mistake. */
static bool find_columns(struct table *t, size_t *ret_time, struct column columns[DB_FIGURE_COUNT], size_t *ret_count)
{
    const struct db_source *source = t->reading->source;
    size_t count = 0;

    if (!find_column(t, source->time, ret_time))
        return false;
    for (enum db_figure f = DB_FIGURE_LOW; f < (enum db_figure) DB_FIGURE_COUNT; f++) {
        const struct db_source_way *way = &source->figures[f].ways[0];

        if (!source->figures[f].count)
            continue;
        columns[count] = (struct column){ f, way, 0, NULL };
        if (!find_column(t, way->pointer, &columns[count].at))
            return false;
        columns[count].samples = db_arena_get(t->reading->arena, DB_SAMPLES_MOST, sizeof *columns[count].samples);
        if (!columns[count].samples) {
            t->reading->full = true;
            return false;
        }
        count++;
    }
    t->columns = t->count;
    *ret_count = count;
    return true;
}

void db_forecast_csv(struct db_reading *reading, const char *body, size_t length)
{
    struct table table = { .reading = reading, .next = body, .end = body + length };
    const size_t before = db_mistakes_count(reading->mistakes);
    struct column columns[DB_FIGURE_COUNT];
    size_t time_at = 0, count = 0, rows = 0, bad;
    int64_t last = INT64_MIN;

    if (!db_text_utf8(body, length, &bad)) {
        db_reading_refuse(reading, "it is no text in UTF-8");
        return;
    }
    if (length >= 3 && memcmp(body, "\xEF\xBB\xBF", 3) == 0)
        table.next += 3;
    if (!next_cells(&table)) {
        if (db_mistakes_count(reading->mistakes) == before)
            db_reading_refuse(reading, "it is empty");
        return;
    }
    if (!find_columns(&table, &time_at, columns, &count))
        return;
    while (next_cells(&table)) {
        if (rows == DB_SAMPLES_MOST) {
            db_reading_refuse(reading, "it has more than %d lines", DB_SAMPLES_MOST);
            return;
        }
        if (!read_row(&table, time_at, columns, count, rows++, &last))
            return;
    }
    if (db_mistakes_count(reading->mistakes) > before)
        return;
    for (size_t i = 0; i < count; i++)
        db_reading_add(reading, columns[i].figure, columns[i].way, columns[i].samples, rows, reading->source->time);
}
