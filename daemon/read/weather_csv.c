#include "read/weather_csv.h"

#include "base/limits.h"
#include "base/text.h"
#include "read/csv_cells.h"
#include "read/files.h"

#include <math.h>
#include <string.h>

#include "base/banned.h"

enum { CELLS_MOST = 64 };

static const char *const column_words[DB_COLUMN_COUNT] = { "date", "low", "high", "rain", "wind" };

/* Bounds of what can be true, in the kind's own unit; outside them somebody's sensor or unit is wrong. */
static const struct {
    enum db_kind kind;
    const char *unit, *least_text, *most_text;
    double least, most;
} figures[DB_FIGURE_COUNT] = {
    [DB_FIGURE_LOW] = { DB_KIND_TEMPERATURE, "°C", "-60 °C", "60 °C", -60, 60 },
    [DB_FIGURE_HIGH] = { DB_KIND_TEMPERATURE, "°C", "-60 °C", "60 °C", -60, 60 },
    [DB_FIGURE_RAIN] = { DB_KIND_LENGTH, "mm", "0 mm", "500 mm", 0, 500 },
    [DB_FIGURE_WIND] = { DB_KIND_SPEED, "m/s", "0 m/s", "120 m/s", 0, 120 },
};

struct csv {
    const char *file, *next, *end;
    const char *line; /* the one in hand, up to a newline or NUL */
    size_t line_length;
    unsigned number;
    struct db_reader to;
    struct db_cell cells[CELLS_MOST];
    size_t cell_count;
    size_t at[DB_COLUMN_COUNT]; /* which cell; SIZE_MAX: none */
    double factor[DB_COLUMN_COUNT], offset[DB_COLUMN_COUNT];
    size_t header_cells;
};

const char *db_column_word(size_t column)
{
    return column < DB_COLUMN_COUNT ? column_words[column] : "";
}

static struct db_place place(const struct csv *csv, const char *from, size_t length)
{
    const size_t wide = db_text_characters(from, length);

    return (struct db_place){ csv->file, csv->line, csv->number,
                              (unsigned) db_text_characters(csv->line, (size_t) (from - csv->line)) + 1,
                              wide ? (unsigned) wide : 1 };
}

#define REFUSE(csv, from, length, instead, ...)                                                                        \
    db_mistakes_add((csv)->to.mistakes, place(csv, from, length), instead, __VA_ARGS__)
#define REFUSE_CELL(csv, cell, instead, ...) REFUSE(csv, (cell).text, (cell).length, instead, __VA_ARGS__)
#define SHOW(cell) (int) (cell).length, (cell).text

static bool next_line(struct csv *csv)
{
    const char *end;

    if (csv->next >= csv->end)
        return false;
    end = memchr(csv->next, '\n', (size_t) (csv->end - csv->next));
    if (!end)
        end = csv->end;
    csv->line = csv->next;
    csv->line_length = (size_t) (end - csv->next);
    csv->number++;
    csv->next = end + (end < csv->end);
    return true;
}

static bool split(struct csv *csv)
{
    const char *at = csv->line, *end = csv->line + csv->line_length;
    enum db_cell_kind kind = DB_CELL_MORE;

    for (csv->cell_count = 0; kind == DB_CELL_MORE; csv->cell_count++) {
        struct db_cell cell;

        kind = db_cell_next(&at, end, &cell);
        if (kind == DB_CELL_OPEN)
            REFUSE_CELL(csv, cell, "end it with \" on the same line", "this quoted cell has no end");
        else if (kind == DB_CELL_JUNK)
            REFUSE_CELL(csv, cell, "write a comma after the quote", "something follows the quoted cell");
        else if (csv->cell_count == CELLS_MOST)
            REFUSE_CELL(csv, cell, "", "this line has more than %d cells", CELLS_MOST);
        else
            csv->cells[csv->cell_count] = cell;
        if (kind == DB_CELL_OPEN || kind == DB_CELL_JUNK || csv->cell_count == CELLS_MOST)
            return false;
    }
    return true;
}

/* "temp_min [°C]" into the name and the unit's words (empty where there are no brackets). */
static struct db_cell split_unit(struct db_cell cell, struct db_cell *ret_unit)
{
    const char *open = memchr(cell.text, '[', cell.length);

    *ret_unit = (struct db_cell){ cell.text + cell.length, 0 };
    if (!open || cell.text[cell.length - 1] != ']')
        return cell;
    *ret_unit = db_cell_trim(open + 1, cell.length - (size_t) (open - cell.text) - 2);
    return db_cell_trim(cell.text, (size_t) (open - cell.text));
}

static const struct db_unit *unit_of(struct db_cell cell, size_t column)
{
    size_t used = 0;
    const struct db_unit *unit = db_unit_find(cell.text, cell.length, &used);

    return unit && used == cell.length && unit->kind == figures[column - 1].kind ? unit : NULL;
}

bool db_columns_read(struct db_span span, struct db_arena *arena, struct db_reader to, struct db_columns *ret)
{
    struct db_span part;
    bool good = true;

    *ret = (struct db_columns){ 0 };
    for (size_t at = span.from; db_span_next(span, ',', &at, &part);) {
        const char *equals = memchr(db_span_start(part), '=', db_span_length(part));
        size_t column;

        if (!equals) {
            db_mistakes_add(to.mistakes, db_span_place(part), "write it as low=temp_min [°C]",
                            "\"%.*s\" names no column", (int) db_span_length(part), db_span_start(part));
            good = false;
            continue;
        }
        const size_t middle = (size_t) (equals - part.words->text);
        const struct db_span word = db_span_trim((struct db_span){ part.words, part.from, middle });
        const struct db_span name = db_span_trim((struct db_span){ part.words, middle + 1, part.to });
        const char *words[DB_COLUMN_COUNT + 1] = { 0 };
        struct db_cell unit;
        const struct db_cell bare = split_unit((struct db_cell){ db_span_start(name), db_span_length(name) }, &unit);

        memcpy(words, column_words, sizeof column_words);
        if (!db_value_word(word, words, "a column that is read", to, &column)) {
            good = false;
            continue;
        }
        if (ret->name[column] || !bare.length) {
            db_mistakes_add(to.mistakes, db_span_place(part), "write it as low=temp_min [°C]",
                            bare.length ? "%s is named twice" : "%s has no column", column_words[column]);
            good = false;
            continue;
        }
        ret->name[column] = db_arena_text(arena, bare.text, bare.length);
        ret->span[column] = name;
        if (unit.length && column != DB_COLUMN_DATE) {
            ret->unit[column] = unit_of(unit, column);
            if (!ret->unit[column]) {
                const size_t from = (size_t) (unit.text - part.words->text);

                db_mistakes_add(to.mistakes, db_words_place(part.words, from, unit.length),
                                db_say(to.scratch, "write [%s], say", figures[column - 1].unit),
                                "\"%.*s\" is no unit of %s", SHOW(unit), db_kind_text(figures[column - 1].kind));
                good = false;
            }
        }
    }
    return good;
}

/* The cell of the first line that a column stands in; its unit's words. */
static size_t find_cell(const struct csv *csv, const char *name, struct db_cell *ret_unit)
{
    for (size_t i = 0; i < csv->cell_count; i++) {
        const struct db_cell bare = split_unit(csv->cells[i], ret_unit);

        if (db_text_is(bare.text, bare.length, name) || db_text_is(csv->cells[i].text, csv->cells[i].length, name))
            return i;
    }
    return SIZE_MAX;
}

/* "date, low and high" */
static const char *list_of(const struct csv *csv, const char *const *names)
{
    char buffer[400];
    struct db_text text = db_text_in(buffer, sizeof buffer);

    for (size_t i = 0; i < csv->cell_count; i++) {
        db_text_add(&text, !i ? "" : i + 1 < csv->cell_count ? ", " : " and ");
        db_text_add(&text, names[i]);
    }
    return db_say(csv->to.scratch, "%s", buffer);
}

static bool refuse_column(const struct csv *csv, size_t column, const char *name, const struct db_columns *columns)
{
    const char *names[CELLS_MOST];
    const char *near;

    for (size_t i = 0; i < csv->cell_count; i++) {
        struct db_cell unit;
        const struct db_cell bare = split_unit(csv->cells[i], &unit);

        names[i] = db_say(csv->to.scratch, "%.*s", SHOW(bare));
    }
    near = db_did_you_mean(csv->to, name, names, csv->cell_count);
    if (columns->span[column].words)
        db_mistakes_add(csv->to.mistakes, db_span_place(columns->span[column]),
                        *near ? near : db_say(csv->to.scratch, "its columns are %s", list_of(csv, names)),
                        "%s has no column \"%s\"", csv->file, name);
    else
        REFUSE(csv, csv->line, csv->line_length,
               *near
                   ? near
                   : db_say(csv->to.scratch, "name it with columns = ..., %s=NAME in [weather]", column_words[column]),
               "there is no column \"%s\"", name);
    return false;
}

/* Finds the columns and their units in the first line. */
static bool read_header(struct csv *csv, const struct db_columns *columns, bool all)
{
    bool good = true;

    if (csv->cell_count == 1 && memchr(csv->line, ';', csv->line_length)) {
        REFUSE(csv, csv->line, csv->line_length, "save it with commas between the cells, and points in the numbers",
               "the cells of this file are not parted by commas");
        return false;
    }
    for (size_t column = 0; column < DB_COLUMN_COUNT; column++) {
        const bool named = columns->name[column] != NULL;
        const char *name = named ? columns->name[column] : column_words[column];
        const bool needed = column <= 1 + DB_FIGURE_HIGH || (named && all);
        struct db_cell words = { "", 0 };
        const struct db_unit *unit = columns->unit[column];

        csv->at[column] = find_cell(csv, name, &words);
        if (csv->at[column] == SIZE_MAX && named && !all) /* another file, with the names of its own */
            csv->at[column] = find_cell(csv, name = column_words[column], &words);
        if (csv->at[column] == SIZE_MAX) {
            good = (!needed || refuse_column(csv, column, name, columns)) && good;
            continue;
        }
        if (column == DB_COLUMN_DATE)
            continue;
        if (words.length) {
            const struct db_unit *own = unit_of(words, column);

            if (!own || (unit && (own->factor != unit->factor || own->offset != unit->offset))) {
                if (own)
                    REFUSE_CELL(csv, words, "write the same in both, or leave it out of `columns`",
                                "the unit \"%.*s\" is not the one that `columns` names", SHOW(words));
                else
                    REFUSE_CELL(csv, words, db_say(csv->to.scratch, "write [%s], say", figures[column - 1].unit),
                                "\"%.*s\" is no unit of %s", SHOW(words), db_kind_text(figures[column - 1].kind));
                good = false;
                continue;
            }
            unit = own;
        }
        if (!unit) {
            const struct db_cell cell = csv->cells[csv->at[column]];

            REFUSE_CELL(csv, cell,
                        db_say(csv->to.scratch, "write %.*s [%s], or the unit in `columns`", SHOW(cell),
                               figures[column - 1].unit),
                        "the column %.*s has no unit", SHOW(cell));
            good = false;
            continue;
        }
        csv->factor[column] = unit->factor;
        csv->offset[column] = unit->offset;
    }
    csv->header_cells = csv->cell_count;
    return good;
}

static bool is_unknown(struct db_cell cell)
{
    static const char *const words[] = { "", "NA", "N/A", "na", "NaN", "nan", "null", "-", "M" };

    for (size_t i = 0; i < sizeof words / sizeof words[0]; i++)
        if (db_text_is(cell.text, cell.length, words[i]))
            return true;
    return false;
}

/* One figure of the line, NaN where it is unknown or wrong. */
static double read_figure(const struct csv *csv, enum db_figure figure)
{
    const size_t column = 1 + figure;
    double value;
    size_t used;

    if (csv->at[column] == SIZE_MAX || is_unknown(csv->cells[csv->at[column]]))
        return (double) NAN;
    const struct db_cell cell = csv->cells[csv->at[column]];
    if (db_number_read(cell.text, cell.length, &value, &used) != DB_OK || used != cell.length) {
        REFUSE_CELL(csv, cell, "write a plain number, or leave the cell empty", "\"%.*s\" is not a number", SHOW(cell));
        return (double) NAN;
    }
    value = value * csv->factor[column] + csv->offset[column];
    if (value < figures[figure].least || value > figures[figure].most) {
        REFUSE_CELL(csv, cell, "check it and its unit, or leave the cell empty", "%s = %.*s is not between %s and %s",
                    column_words[column], SHOW(cell), figures[figure].least_text, figures[figure].most_text);
        return (double) NAN;
    }
    return value;
}

/* The day of the line; no date after a mistake. */
static struct db_date read_day(const struct csv *csv)
{
    const struct db_cell cell = csv->cells[csv->at[DB_COLUMN_DATE]];
    struct db_date date = DB_NO_DATE;

    if (db_date_read(cell.text, cell.length, &date) == DB_OK)
        return date;
    const struct db_piece piece = { 0, place(csv, cell.text, cell.length) };
    const char *text = db_say(csv->to.scratch, "%.*s", SHOW(cell));
    const struct db_words words = { text, strlen(text), &piece, 1 };
    (void) db_value_date(db_span_all(&words), csv->to, &date);
    return date;
}

/* One day into the arrays that grow as they are needed. */
static enum db_status put_day(struct db_days *days, size_t *room, struct db_date date,
                              const double values[DB_FIGURE_COUNT], struct db_arena *arena)
{
    const size_t at = days->count ? (size_t) (date.day - days->first.day) : 0;

    if (!days->count)
        days->first = date;
    if (at >= *room) {
        const size_t more = at >= 2 * *room ? at + 512 : 2 * *room;

        for (size_t f = 0; f < DB_FIGURE_COUNT; f++) {
            double *figure = db_arena_get(arena, more, sizeof *figure);

            if (!figure)
                return DB_FULL;
            if (days->count)
                memcpy(figure, days->figures[f], days->count * sizeof *figure);
            days->figures[f] = figure;
        }
        *room = more;
    }
    for (size_t f = 0; f < DB_FIGURE_COUNT; f++) {
        for (size_t gap = days->count; gap < at; gap++)
            days->figures[f][gap] = (double) NAN;
        days->figures[f][at] = values[f];
    }
    days->count = at + 1;
    return DB_OK;
}

/* Reads the line in hand. */
static enum db_status read_line(struct csv *csv, struct db_days *days, size_t *room, struct db_arena *arena)
{
    double values[DB_FIGURE_COUNT];
    struct db_date date, last = days->count ? db_date_add(days->first, (int32_t) days->count - 1) : DB_NO_DATE;
    char buffer[11];

    if (csv->cell_count != csv->header_cells) {
        REFUSE(csv, csv->line, csv->line_length, "write one cell for each column",
               "this line has %zu cells, the first line has %zu", csv->cell_count, csv->header_cells);
        return DB_OK;
    }
    date = read_day(csv);
    for (enum db_figure f = DB_FIGURE_LOW; f < (enum db_figure) DB_FIGURE_COUNT; f++)
        values[f] = read_figure(csv, f);
    if (values[DB_FIGURE_LOW] > values[DB_FIGURE_HIGH]) {
        const struct db_cell low = csv->cells[csv->at[1 + DB_FIGURE_LOW]],
                             high = csv->cells[csv->at[1 + DB_FIGURE_HIGH]];

        REFUSE_CELL(csv, low, "check both", "the low %.*s is above the high %.*s", SHOW(low), SHOW(high));
    }
    if (!db_date_known(date))
        return DB_OK;
    const struct db_cell cell = csv->cells[csv->at[DB_COLUMN_DATE]];
    if (db_date_known(last) && date.day == last.day) {
        REFUSE_CELL(csv, cell, "keep one of the two", "the day %.*s stands here twice", SHOW(cell));
    } else if (db_date_known(last) && date.day < last.day) {
        REFUSE_CELL(csv, cell, "write the days in their order", "the day %.*s follows %s", SHOW(cell),
                    db_date_iso(last, buffer));
    } else if (days->count && date.day - days->first.day >= DB_LIMIT_WEATHER_DAYS) {
        REFUSE_CELL(csv, cell, "check the year", "the file spans more than %d days", DB_LIMIT_WEATHER_DAYS);
    } else {
        return put_day(days, room, date, values, arena);
    }
    return DB_OK;
}

/* Empty lines and comments (#) are passed over; false at the end of the file. */
static bool next_cells(struct csv *csv, bool *ret_good)
{
    while (next_line(csv)) {
        const struct db_cell line = db_cell_trim(csv->line, csv->line_length);
        size_t bad;

        if (!line.length || line.text[0] == '#')
            continue;
        *ret_good = db_text_utf8(csv->line, csv->line_length, &bad);
        if (*ret_good)
            *ret_good = split(csv);
        else
            REFUSE(csv, csv->line + bad, 1, "save the file as UTF-8", "the byte 0x%02X is no part of a UTF-8 character",
                   (unsigned) (unsigned char) csv->line[bad]);
        return true;
    }
    return false;
}

static enum db_status read_lines(struct csv *csv, const struct db_columns *columns, bool all, struct db_arena *arena,
                                 struct db_days *ret)
{
    const size_t before = db_mistakes_count(csv->to.mistakes);
    struct db_days days = { 0 };
    size_t room = 0;
    bool good = false;

    if (!next_cells(csv, &good)) {
        db_mistakes_add(csv->to.mistakes, (struct db_place){ .file = csv->file },
                        "write a first line that names the columns: date, low [°C], high [°C]", "this file is empty");
        return DB_OK;
    }
    if (!good || !read_header(csv, columns, all))
        return DB_OK;
    while (next_cells(csv, &good)) {
        const enum db_status status = good ? read_line(csv, &days, &room, arena) : DB_OK;

        if (status != DB_OK)
            return status;
    }
    if (db_mistakes_count(csv->to.mistakes) == before)
        *ret = days;
    return DB_OK;
}

enum db_status db_weather_csv_read(const char *file, char *text, size_t length, const struct db_columns *columns,
                                   bool all, struct db_arena *arena, struct db_reader to, struct db_days *ret)
{
    struct csv csv = { .file = file, .to = to };

    *ret = (struct db_days){ 0 };
    if (memchr(text, '\0', length)) {
        db_mistakes_add(to.mistakes, (struct db_place){ .file = file }, "save it as plain text in UTF-8",
                        "this file holds NUL bytes, so it is no text");
        return DB_OK;
    }
    length = db_file_plain_ends(text, length);
    csv.next = text;
    csv.end = text + length;
    if (length >= 3 && memcmp(text, "\xEF\xBB\xBF", 3) == 0)
        csv.next += 3;
    return read_lines(&csv, columns, all, arena, ret);
}

double db_days_figure(const struct db_days *days, struct db_date date, enum db_figure figure)
{
    const int64_t at = (int64_t) date.day - days->first.day;

    return days->count && at >= 0 && (uint64_t) at < days->count ? days->figures[figure][at] : (double) NAN;
}
