#include "read/source.h"

#include "base/limits.h"
#include "base/text.h"
#include "read/files.h"
#include "read/forecast.h"
#include "read/load.h"

#include <math.h>
#include <string.h>

#include "base/banned.h"

enum {
    TITLE,
    URL,
    FIND,
    FOUND,
    DECIMALS,
    SHAPE,
    RECORDS,
    TIME,
    VALUE,
    LOW,
    LOW_UNIT,
    HIGH,
    HIGH_UNIT,
    RAIN,
    RAIN_UNIT,
    WIND,
    WIND_UNIT,
    ISSUED,
    LATITUDE,
    LONGITUDE,
    MISSING,
    HEADERS,
    LEAST,
    ATTRIBUTION,
    LICENCE,
    ROWS
};

static const char *const shapes[] = { "columns", "records", "series", "csv", NULL };

#define TEXT_ROW(key, needed, help)                                                                                    \
    {                                                                                                                  \
        key, DB_FIELD_TEXT, { 0 }, NULL, NULL, needed, help                                                            \
    }

static const struct db_field rows[ROWS] = {
    [TITLE] = TEXT_ROW("title", true, "its name, as shown beside the figures"),
    [URL] = TEXT_ROW("url", false, "the address to ask, with {latitude} and {longitude}"),
    [FIND] = TEXT_ROW("find", false, "an address to ask first, whose answer names the one to ask"),
    [FOUND] = TEXT_ROW("found", false, "where that answer names it, as in /properties/grid"),
    [DECIMALS] = { "decimals",
                   DB_FIELD_AMOUNT,
                   { DB_KIND_NUMBER, "", 0, 4, true, NULL },
                   NULL,
                   NULL,
                   false,
                   "decimals of the coordinates that are sent" },
    [SHAPE] = { "shape", DB_FIELD_WORD, { 0 }, shapes, "a shape", true, "how the answer is built" },
    [RECORDS] = TEXT_ROW("records", false, "where the array of records is, as in /properties/list"),
    [TIME] = TEXT_ROW("time", true, "where the times are"),
    [VALUE] = TEXT_ROW("value", false, "where in an entry of a series its value is, as in /value"),
    [LOW] = TEXT_ROW("low", true, "where the lows are"),
    [LOW_UNIT] = TEXT_ROW("low_unit", true, "their unit, or where the answer says it"),
    [HIGH] = TEXT_ROW("high", true, "where the highs are"),
    [HIGH_UNIT] = TEXT_ROW("high_unit", true, "their unit, or where the answer says it"),
    [RAIN] = TEXT_ROW("rain", false, "where the rain is"),
    [RAIN_UNIT] = TEXT_ROW("rain_unit", false, "its unit, or where the answer says it"),
    [WIND] = TEXT_ROW("wind", false, "where the wind is"),
    [WIND_UNIT] = TEXT_ROW("wind_unit", false, "its unit, or where the answer says it"),
    [ISSUED] = TEXT_ROW("issued", false, "where the answer says when it was made"),
    [LATITUDE] = TEXT_ROW("latitude", false, "where the answer says its latitude"),
    [LONGITUDE] = TEXT_ROW("longitude", false, "where the answer says its longitude"),
    [MISSING] = { "missing", DB_FIELD_LIST, { 0 }, NULL, NULL, false, "numbers that mean: not known" },
    [HEADERS] = { "headers", DB_FIELD_LIST, { 0 }, NULL, NULL, false, "headers to send, as in Accept: text/csv" },
    [LEAST] = { "least",
                DB_FIELD_AMOUNT,
                { DB_KIND_TIME, "h", 0.5 / 24, 1, false, NULL },
                NULL,
                NULL,
                false,
                "time between askings at least" },
    [ATTRIBUTION] = TEXT_ROW("attribution", false, "words that the service wants to see beside its figures"),
    [LICENCE] = TEXT_ROW("licence", false, "under which terms it gives them"),
};

static const struct figure_rows {
    int row, unit;
    enum db_kind kind;
    const char *example;
} figure_rows[DB_FIGURE_COUNT] = {
    [DB_FIGURE_LOW] = { LOW, LOW_UNIT, DB_KIND_TEMPERATURE, "°C" },
    [DB_FIGURE_HIGH] = { HIGH, HIGH_UNIT, DB_KIND_TEMPERATURE, "°C" },
    [DB_FIGURE_RAIN] = { RAIN, RAIN_UNIT, DB_KIND_LENGTH, "mm" },
    [DB_FIGURE_WIND] = { WIND, WIND_UNIT, DB_KIND_SPEED, "m/s" },
};

/* What one reading of a description works with. */
struct description {
    struct db_arena *arena;
    struct db_reader to;
    const struct db_ini_section *section;
    struct db_value v[ROWS];
    struct db_source *source;
};

#define TELL(d, place, instead, ...) db_mistakes_add((d)->to.mistakes, place, instead, __VA_ARGS__)

static const char *keep(const struct description *d, struct db_span span)
{
    return db_span_text(span, d->arena);
}

/* RFC 6901: nothing, or parts that each begin with a slash, in which a tilde stands before 0 or 1 only. */
static bool is_pointer(const char *text)
{
    if (*text && *text != '/')
        return false;
    for (const char *tilde = strchr(text, '~'); tilde; tilde = strchr(tilde + 1, '~'))
        if (tilde[1] != '0' && tilde[1] != '1')
            return false;
    return true;
}

/* A pointer, or in a CSV a column's name. NULL after a mistake. */
static const char *read_pointer(const struct description *d, struct db_span span)
{
    const char *text = keep(d, span);

    if (!text || d->source->shape == DB_LAYOUT_CSV)
        return text;
    if (is_pointer(text))
        return text;
    TELL(d, db_span_place(span),
         strchr(text, '~') ? "a ~ in a name is written ~0, a / in a name ~1" : db_say(d->to.scratch, "write /%s", text),
         "\"%s\" is no JSON Pointer", text);
    return NULL;
}

static const char *row_pointer(const struct description *d, int row)
{
    return d->v[row].good ? read_pointer(d, d->v[row].span) : NULL;
}

/* "PLACE", "PLACE for 6 h", "PLACE for 1 h before" */
static bool read_way(const struct description *d, struct db_span span, struct db_source_way *ret)
{
    static const struct db_measure span_of_time = { DB_KIND_TIME, "h", 1.0 / 24, 1, false, "write 6 h" };
    const char *text = db_span_start(span);
    const size_t length = db_span_length(span);
    struct db_source_way way = { 0 };
    size_t end = length, from = SIZE_MAX;
    double days;

    for (size_t i = 0; i + 5 <= length; i++)
        if (memcmp(text + i, " for ", 5) == 0)
            from = i;
    if (from != SIZE_MAX) {
        way.before = length > 7 && memcmp(text + length - 7, " before", 7) == 0;
        end = way.before ? length - 7 : length;
        const struct db_span time = db_span_trim((struct db_span){ span.words, span.from + from + 5, span.from + end });

        if (!db_value_amount(time, &span_of_time, d->to, &days))
            return false;
        way.hours = days * 24;
        end = from;
    }
    way.pointer = read_pointer(d, db_span_trim((struct db_span){ span.words, span.from, span.from + end }));
    *ret = way;
    return way.pointer != NULL;
}

/* The ways of a figure, between commas; a comma that no slash follows belongs to a name. */
static void read_ways(const struct description *d, const struct db_value *value, struct db_source_figure *figure)
{
    const bool csv = d->source->shape == DB_LAYOUT_CSV;
    const struct db_span whole = value->span;
    size_t from = whole.from;

    for (size_t at = whole.from; at <= whole.to; at++) {
        size_t next = at + 1;
        const bool end = at == whole.to;

        while (!end && next < whole.to && whole.words->text[next] == ' ')
            next++;
        if (!end && (csv || whole.words->text[at] != ',' || next >= whole.to || whole.words->text[next] != '/'))
            continue;
        const struct db_span part = db_span_trim((struct db_span){ whole.words, from, at });
        if (figure->count == DB_SOURCE_WAYS) {
            TELL(d, db_span_place(part), "leave one out", "there are more than %d places", DB_SOURCE_WAYS);
            return;
        }
        if (read_way(d, part, &figure->ways[figure->count]))
            figure->count++;
        from = at + 1;
    }
}

static void read_unit(const struct description *d, const struct db_value *value, const struct figure_rows *row,
                      struct db_source_figure *figure)
{
    const char *text = db_span_start(value->span);
    const size_t length = db_span_length(value->span);

    if (*text == '/') {
        if (d->source->shape == DB_LAYOUT_CSV)
            TELL(d, db_span_place(value->span), db_say(d->to.scratch, "write %s, say", row->example),
                 "a CSV says no units at a pointer");
        else
            figure->unit_pointer = read_pointer(d, value->span);
        return;
    }
    if (!db_forecast_unit(text, length, row->kind, &figure->factor, &figure->offset))
        TELL(d, db_span_place(value->span), db_say(d->to.scratch, "write %s, say", row->example),
             "\"%.*s\" is no unit of %s", (int) length, text, db_kind_text(row->kind));
}

/* A place that low and high share holds the temperature itself. */
static void mark_itself(struct db_source *source)
{
    struct db_source_figure *low = &source->figures[DB_FIGURE_LOW], *high = &source->figures[DB_FIGURE_HIGH];

    for (size_t l = 0; l < low->count; l++)
        for (size_t h = 0; h < high->count; h++)
            if (strcmp(low->ways[l].pointer, high->ways[h].pointer) == 0)
                low->ways[l].itself = high->ways[h].itself = true;
}

static void read_figures(const struct description *d)
{
    for (size_t f = 0; f < DB_FIGURE_COUNT; f++) {
        const struct figure_rows *row = &figure_rows[f];
        struct db_source_figure *figure = &d->source->figures[f];

        if (d->v[row->row].good)
            read_ways(d, &d->v[row->row], figure);
        if (d->v[row->unit].good)
            read_unit(d, &d->v[row->unit], row, figure);
        if (d->v[row->row].given && !d->v[row->unit].given && !rows[row->unit].needed)
            TELL(d, db_span_place(d->v[row->row].span), db_field_hint(&rows[row->unit], d->to),
                 "%s is there, but %s is not", rows[row->row].key, rows[row->unit].key);
        if (!d->v[row->row].given && d->v[row->unit].given && !rows[row->row].needed)
            TELL(d, db_span_place(d->v[row->unit].span), db_field_hint(&rows[row->row], d->to),
                 "%s is there, but %s is not", rows[row->unit].key, rows[row->row].key);
    }
    mark_itself(d->source);
}

/* An address: no blanks (one that was continued on the next line is joined without), http or https, and every name in
 * braces known. */
static const char *read_address(const struct description *d, const struct db_value *value)
{
    static const char *const names[] = { "latitude", "longitude", "altitude", "zone" };
    const char *text = db_span_start(value->span);
    const size_t length = db_span_length(value->span);
    char *address = db_arena_get(d->arena, length + 1, 1);
    size_t to = 0;

    if (!address)
        return NULL;
    for (size_t i = 0; i < length; i++)
        if (text[i] != ' ' && text[i] != '\t')
            address[to++] = text[i];
    if (strncmp(address, "https://", 8) != 0 && strncmp(address, "http://", 7) != 0) {
        TELL(d, db_span_place(value->span), "write https://...", "this is no address on the web");
        return NULL;
    }
    for (const char *open = strchr(address, '{'); open; open = strchr(open + 1, '{')) {
        const size_t name = strcspn(open + 1, "}");
        const char *word = db_say(d->to.scratch, "%.*s", (int) name, open + 1);
        size_t i = 0;

        while (i < 4 && strcmp(names[i], word) != 0)
            i++;
        if (i < 4 && open[1 + name] == '}')
            continue;
        if (open[1 + name] != '}') {
            TELL(d, db_span_place(value->span), "write } after it", "{%s has no end", word);
            return NULL;
        }
        const char *near = db_did_you_mean(d->to, word, names, 4);
        TELL(d, db_span_place(value->span), *near ? near : "write {latitude}, {longitude}, {altitude} or {zone}",
             "{%s} is not known", word);
        return NULL;
    }
    return address;
}

static void read_missing(const struct description *d)
{
    struct db_span part;

    for (size_t at = d->v[MISSING].span.from; db_span_next(d->v[MISSING].span, ',', &at, &part);) {
        struct db_source *source = d->source;
        double number;
        size_t used;

        if (db_number_read(db_span_start(part), db_span_length(part), &number, &used) != DB_OK ||
            used != db_span_length(part))
            TELL(d, db_span_place(part), "write it as missing = -9999", "\"%.*s\" is not a number",
                 (int) db_span_length(part), db_span_start(part));
        else if (source->missing_count == DB_SOURCE_WORDS)
            TELL(d, db_span_place(part), "leave one out", "there are more than %d numbers", DB_SOURCE_WORDS);
        else
            source->missing[source->missing_count++] = number;
    }
}

static bool is_token(char c)
{
    return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9') || c == '-';
}

static void read_headers(const struct description *d)
{
    struct db_span part;
    size_t count = 0;

    /* Between semicolons inih would see comments, so they stand between commas. */
    for (size_t at = d->v[HEADERS].span.from; db_span_next(d->v[HEADERS].span, ',', &at, &part);) {
        const char *text = keep(d, part);
        size_t name = 0;

        if (!text)
            return;
        while (is_token(text[name]))
            name++;
        if (!name || text[name] != ':' || text[name + 1] != ' ')
            TELL(d, db_span_place(part), "write it as Accept: application/json", "\"%s\" is no header", text);
        else if (db_text_same(db_say(d->to.scratch, "%.*s", (int) name, text), "user-agent"))
            TELL(d, db_span_place(part), "write contact = ... in [forecast] of the plan",
                 "dewbell says by itself who asks");
        else if (count == DB_SOURCE_WORDS)
            TELL(d, db_span_place(part), "leave one out", "there are more than %d headers", DB_SOURCE_WORDS);
        else
            d->source->headers[count++] = text;
    }
}

/* Keys that only some shapes have. */
static void check_shape(const struct description *d)
{
    static const struct {
        int row;
        enum db_layout shape;
    } only[] = { { RECORDS, DB_LAYOUT_RECORDS }, { VALUE, DB_LAYOUT_SERIES } };
    static const int json[] = { ISSUED, LATITUDE, LONGITUDE };

    for (size_t i = 0; i < sizeof only / sizeof only[0]; i++) {
        const struct db_value *value = &d->v[only[i].row];

        if (only[i].shape == d->source->shape && !value->given && !d->section->cut)
            TELL(d, d->section->at, db_field_hint(&rows[only[i].row], d->to), "[%s] does not say %s", d->section->title,
                 rows[only[i].row].key);
        if (only[i].shape != d->source->shape && value->given)
            TELL(d, db_span_place(value->span), "take it out", "%s belongs to the shape %s only", rows[only[i].row].key,
                 shapes[only[i].shape]);
    }
    for (size_t i = 0; d->source->shape == DB_LAYOUT_CSV && i < sizeof json / sizeof json[0]; i++)
        if (d->v[json[i]].given)
            TELL(d, db_span_place(d->v[json[i]].span), "take it out", "%s is not read from a CSV", rows[json[i]].key);
}

static void check_addresses(const struct description *d)
{
    if (d->v[FIND].given != d->v[FOUND].given) {
        const int there = d->v[FIND].given ? FIND : FOUND, gone = there == FIND ? FOUND : FIND;

        TELL(d, db_span_place(d->v[there].span), db_field_hint(&rows[gone], d->to), "%s is there, but %s is not",
             rows[there].key, rows[gone].key);
    }
    if (d->v[FIND].given && d->v[URL].given)
        TELL(d, db_span_place(d->v[URL].span), "keep one of the two", "url and find are both there");
    if (d->v[LATITUDE].given != d->v[LONGITUDE].given) {
        const int there = d->v[LATITUDE].given ? LATITUDE : LONGITUDE;

        TELL(d, db_span_place(d->v[there].span), "name both", "a place has a latitude and a longitude");
    }
}

static const char *row_text(const struct description *d, int row)
{
    return d->v[row].good ? keep(d, d->v[row].span) : NULL;
}

static void describe(struct description *d)
{
    struct db_source *source = d->source;

    db_fields_read(d->section, rows, ROWS, d->v, d->to);
    source->id = db_say(d->arena, "%s", d->section->id);
    source->at = d->section->at;
    source->title = row_text(d, TITLE);
    source->attribution = row_text(d, ATTRIBUTION);
    source->licence = row_text(d, LICENCE);
    source->decimals = d->v[DECIMALS].good ? (int) d->v[DECIMALS].low : 2;
    source->least = d->v[LEAST].good ? (int32_t) lround(d->v[LEAST].low * 1440) : 60;
    if (d->v[MISSING].good)
        read_missing(d);
    if (d->v[HEADERS].good)
        read_headers(d);
    if (d->v[URL].good)
        source->url = read_address(d, &d->v[URL]);
    if (d->v[FIND].good)
        source->find = read_address(d, &d->v[FIND]);
    check_addresses(d);
    if (!d->v[SHAPE].good) /* what the rest means hangs on it */
        return;
    source->shape = (enum db_layout) d->v[SHAPE].word;
    check_shape(d);
    source->found = row_pointer(d, FOUND);
    source->records = row_pointer(d, RECORDS);
    source->time = row_pointer(d, TIME);
    source->value = row_pointer(d, VALUE);
    source->issued = row_pointer(d, ISSUED);
    source->latitude = row_pointer(d, LATITUDE);
    source->longitude = row_pointer(d, LONGITUDE);
    read_figures(d);
}

static const struct db_ini_section *find_source(const struct db_ini *ini, const char *id, struct db_arena *scratch)
{
    return ini ? db_ini_find(ini, db_say(scratch, "source %s", id)) : NULL;
}

/* Sections that are no source's. */
static void check_kinds(const struct db_load *load, const struct db_ini *ini)
{
    for (size_t i = 0; ini && i < db_ini_count(ini); i++) {
        const struct db_ini_section *section = db_ini_at(ini, i);

        if (strcmp(section->kind, "source") != 0 || !section->id)
            db_mistakes_add(load->mistakes, section->at,
                            db_say(load->scratch, "write [source %s]", section->id ? section->id : "NAME"),
                            "[%s] is no forecast source", section->title);
    }
}

static void refuse_name(struct db_load *load, const struct db_ini *const both[2], const char *id, struct db_place asked)
{
    const struct db_reader to = db_load_reader(load);
    const size_t room = db_ini_count(both[0]) + (both[1] ? db_ini_count(both[1]) : 0);
    const char **names = db_arena_get(load->scratch, room + 1, sizeof *names);
    size_t count = 0;

    for (size_t f = 0; names && f < 2; f++)
        for (size_t i = 0; both[f] && i < db_ini_count(both[f]); i++)
            if (db_ini_at(both[f], i)->id)
                names[count++] = db_ini_at(both[f], i)->id;
    if (!names)
        return;
    const char *near = db_did_you_mean(to, id, names, count);
    db_mistakes_add(load->mistakes, asked,
                    *near || !count ? near : db_say(to.scratch, "there are %s", db_words_list(to, names)),
                    "there is no forecast source \"%s\"", id);
}

static enum db_status read_set(struct db_load *load, const char *path, struct db_place at, struct db_ini **ret)
{
    static const char *const kinds[] = { "source", NULL };
    const char **keys = db_arena_get(load->scratch, ROWS + 1, sizeof *keys);

    for (size_t i = 0; keys && i < ROWS; i++)
        keys[i] = rows[i].key;
    *ret = keys ? db_ini_new(load->arena, load->scratch, load->mistakes, (struct db_ini_shape){ kinds, keys }) : NULL;
    return *ret ? db_load_ini(load, *ret, path, at) : DB_FULL;
}

const struct db_field *db_source_fields(size_t *ret_count)
{
    *ret_count = ROWS;
    return rows;
}

enum db_status db_source_load(struct db_load *load, const char *id, struct db_place asked, const char *shipped,
                              const char *own, const struct db_source **ret)
{
    const size_t before = db_mistakes_count(load->mistakes);
    struct db_ini *sets[2] = { NULL, NULL };
    struct db_source *source = db_arena_get(load->arena, 1, sizeof *source);
    const char *folder = db_path_join(load->arena, shipped, "sources");
    enum db_status status = source && folder ? read_set(load, folder, (struct db_place){ 0 }, &sets[0]) : DB_FULL;

    if (status == DB_OK && own)
        status = read_set(load, own, asked, &sets[1]);
    if (status != DB_OK)
        return status;
    const struct db_ini *const both[2] = { sets[0], sets[1] };
    struct description d = { .arena = load->arena, .to = db_load_reader(load), .source = source };

    check_kinds(load, sets[0]);
    check_kinds(load, sets[1]);
    d.section = find_source(sets[1], id, load->scratch);
    if (!d.section)
        d.section = find_source(sets[0], id, load->scratch);
    if (d.section)
        describe(&d);
    else if (db_mistakes_count(load->mistakes) == before)
        refuse_name(load, both, id, asked);
    if (db_mistakes_count(load->mistakes) > before)
        return DB_MISTAKEN;
    *ret = source;
    return DB_OK;
}

enum db_status db_source_read(const char *id, struct db_place asked, const char *shipped, const char *own,
                              struct db_arena *arena, struct db_mistakes *mistakes, const struct db_source **ret)
{
    struct db_load load = { .arena = arena, .scratch = db_arena_new(DB_LIMIT_SCRATCH), .mistakes = mistakes };
    const enum db_status status = load.scratch ? db_source_load(&load, id, asked, shipped, own, ret) : DB_FULL;

    (void) db_arena_free(load.scratch);
    return status;
}

/* Cut toward zero, so that 52.19999 at 2 decimals is 52.19. */
static void add_cut(struct db_text *text, double degrees, int decimals)
{
    const double scale = pow(10, decimals);

    db_text_add_number(text, trunc(degrees * scale + (degrees < 0 ? -1e-7 : 1e-7)) / scale, decimals);
}

static void add_encoded(struct db_text *text, const char *words)
{
    static const char digits[] = "0123456789ABCDEF";

    for (; *words; words++) {
        const unsigned char c = (unsigned char) *words;

        if (is_token(*words) || strchr("/._~", *words)) {
            db_text_add_part(text, words, 1);
        } else {
            const char code[3] = { '%', digits[c >> 4], digits[c & 15] };

            db_text_add_part(text, code, 3);
        }
    }
}

const char *db_source_address(const struct db_source *source, const char *which, const struct db_site *site,
                              struct db_arena *arena)
{
    char buffer[DB_LIMIT_VALUE + 256];
    struct db_text text = db_text_in(buffer, sizeof buffer);

    for (const char *at = which; *at;) {
        if (strncmp(at, "{latitude}", 10) == 0)
            add_cut(&text, site->latitude, source->decimals);
        else if (strncmp(at, "{longitude}", 11) == 0)
            add_cut(&text, site->longitude, source->decimals);
        else if (strncmp(at, "{altitude}", 10) == 0)
            db_text_add_number(&text, round(site->altitude), 0);
        else if (strncmp(at, "{zone}", 6) == 0)
            add_encoded(&text, site->zone);
        if (*at == '{')
            at += strcspn(at, "}") + 1;
        else
            db_text_add_part(&text, at++, 1);
    }
    return db_arena_text(arena, buffer, text.length);
}
