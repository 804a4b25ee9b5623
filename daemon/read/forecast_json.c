/* The three shapes of JSON. json-c is asked for a value's type before its value: it makes a zero of whatever it cannot
 * convert. */
#include "read/forecast.h"

#include "base/limits.h"
#include "read/files.h"

#include <json.h>
#include <json_pointer.h>

#include <math.h>
#include <string.h>

#include "base/banned.h"

static const char *type_word(struct json_object *object)
{
    switch (json_object_get_type(object)) {
    case json_type_null:
        return "nothing";
    case json_type_boolean:
        return "a yes or no";
    case json_type_double:
    case json_type_int:
        return "a number";
    case json_type_object:
        return "an object";
    case json_type_array:
        return "an array";
    case json_type_string:
        return "a text";
    }
    return "something else";
}

static const char *shown(const struct db_reading *r, struct json_object *text)
{
    return db_reading_shown(r, json_object_get_string(text), (size_t) json_object_get_string_len(text));
}

/* NULL where nothing is, or a null. */
static struct json_object *at(struct json_object *from, const char *pointer)
{
    struct json_object *found = NULL;

    return json_pointer_get(from, pointer, &found) == 0 ? found : NULL;
}

/* The array at a pointer; NULL after a mistake. */
static struct json_object *array_at(const struct db_reading *r, struct json_object *from, const char *pointer)
{
    struct json_object *found = at(from, pointer);

    if (!found)
        db_reading_refuse(r, "%s finds nothing", pointer);
    else if (!json_object_is_type(found, json_type_array))
        db_reading_refuse(r, "%s finds %s, not an array", pointer, type_word(found));
    else if (json_object_array_length(found) > (size_t) DB_SAMPLES_MOST)
        db_reading_refuse(r, "%s has more than %d entries", pointer, DB_SAMPLES_MOST);
    else
        return found;
    return NULL;
}

/* A number as it stands there; NaN for null, words for nothing, and numbers that mean nothing. False: a mistake. */
static bool number_of(const struct db_reading *r, struct json_object *object, const char *where, double *ret)
{
    double value = (double) NAN;

    switch (json_object_get_type(object)) {
    case json_type_null:
        break;
    case json_type_double:
    case json_type_int:
        value = json_object_get_double(object);
        break;
    case json_type_string:
        if (db_forecast_number(json_object_get_string(object), (size_t) json_object_get_string_len(object), &value))
            break;
        db_reading_refuse(r, "%s finds \"%s\", not a number", where, shown(r, object));
        return false;
    case json_type_boolean:
    case json_type_object:
    case json_type_array:
        db_reading_refuse(r, "%s finds %s, not a number", where, type_word(object));
        return false;
    }
    *ret = db_reading_missing(r, value) ? (double) NAN : value;
    return true;
}

/* Times are texts, or numbers of seconds since 1970. */
static bool stamp_of(const struct db_reading *r, struct json_object *object, const char *where, int64_t last,
                     struct db_stamp *ret)
{
    if (json_object_is_type(object, json_type_int)) {
        const int64_t seconds = json_object_get_int64(object);

        if (seconds > 0 && seconds < INT64_C(253402300800)) { /* up to the year 9999 */
            *ret = (struct db_stamp){ seconds, seconds, false };
            return true;
        }
    }
    if (json_object_is_type(object, json_type_string)) {
        const char *text = json_object_get_string(object);

        if (strlen(text) == (size_t) json_object_get_string_len(object) && db_stamp_read(text, r->zone, last, ret))
            return true;
        db_reading_refuse(r, "%s finds \"%s\", not a time", where, shown(r, object));
        return false;
    }
    db_reading_refuse(r, "%s finds %s, not a time", where, type_word(object));
    return false;
}

/* A sample of the stamp's span, or of the span that the way gives it. */
static bool sample_of(const struct db_reading *r, enum db_figure figure, const struct db_source_way *way,
                      struct db_stamp stamp, double value, struct db_sample *ret)
{
    const int64_t span = (int64_t) llround(way->hours * 3600);

    *ret = (struct db_sample){ stamp.from, stamp.to, value };
    if (stamp.from == stamp.to && way->before)
        ret->from -= span;
    else if (stamp.from == stamp.to)
        ret->to += span;
    if (ret->from == ret->to && figure == DB_FIGURE_RAIN) {
        db_reading_refuse(r, "the rain at %s has no span of time: write \"for 1 h\" after it in the description",
                          way->pointer);
        return false;
    }
    return true;
}

/* The unit's factor and offset, from the answer where the description says so. */
static bool unit_of(const struct db_reading *r, struct json_object *root, enum db_figure figure, double *ret_factor,
                    double *ret_offset)
{
    const struct db_source_figure *f = &r->source->figures[figure];
    struct json_object *unit;

    *ret_factor = f->factor;
    *ret_offset = f->offset;
    if (!f->unit_pointer)
        return true;
    unit = at(root, f->unit_pointer);
    if (!unit) {
        db_reading_refuse(r, "%s finds nothing", f->unit_pointer);
        return false;
    }
    if (!json_object_is_type(unit, json_type_string)) {
        db_reading_refuse(r, "%s finds %s, not a unit", f->unit_pointer, type_word(unit));
        return false;
    }
    if (!db_forecast_unit(json_object_get_string(unit), (size_t) json_object_get_string_len(unit),
                          db_figure_kind(figure), ret_factor, ret_offset)) {
        db_reading_refuse(r, "%s finds \"%s\", no unit of %s", f->unit_pointer, shown(r, unit),
                          db_kind_text(db_figure_kind(figure)));
        return false;
    }
    return true;
}

/* Arrays that run side by side: the times were read once. */
static bool read_column(struct db_reading *r, struct json_object *root, enum db_figure figure,
                        const struct db_source_way *way, const struct db_stamp *stamps, size_t count,
                        struct db_sample *samples)
{
    struct json_object *values = array_at(r, root, way->pointer);
    double factor, offset;

    if (!values || !unit_of(r, root, figure, &factor, &offset))
        return false;
    if (json_object_array_length(values) != count) {
        db_reading_refuse(r, "%s has %zu entries, %s has %zu", way->pointer, json_object_array_length(values),
                          r->source->time, count);
        return false;
    }
    for (size_t i = 0; i < count; i++) {
        double value;

        if (!number_of(r, json_object_array_get_idx(values, i), way->pointer, &value) ||
            !sample_of(r, figure, way, stamps[i], value * factor + offset, &samples[i]))
            return false;
    }
    db_reading_add(r, figure, way, samples, count, r->source->time);
    return true;
}

static void read_columns(struct db_reading *r, struct json_object *root)
{
    struct json_object *times = array_at(r, root, r->source->time);
    const size_t count = times ? json_object_array_length(times) : 0;
    struct db_stamp *stamps = db_arena_get(r->arena, count, sizeof *stamps);
    struct db_sample *samples = db_arena_get(r->arena, count, sizeof *samples);

    if (!stamps || !samples) {
        r->full = true;
        return;
    }
    for (size_t i = 0; i < count; i++)
        if (!stamp_of(r, json_object_array_get_idx(times, i), r->source->time, i ? stamps[i - 1].from : INT64_MIN,
                      &stamps[i]))
            return;
    for (enum db_figure f = DB_FIGURE_LOW; times && f < (enum db_figure) DB_FIGURE_COUNT; f++)
        for (size_t w = 0; w < r->source->figures[f].count; w++)
            if (!read_column(r, root, f, &r->source->figures[f].ways[w], stamps, count, samples))
                return;
}

/* What one way finds in the records; false after a mistake. A record without it is no mistake: far days have less. */
static bool read_way_of_records(struct db_reading *r, struct json_object *root, struct json_object *records,
                                enum db_figure figure, const struct db_source_way *way, const struct db_stamp *stamps,
                                struct db_sample *samples, size_t *ret_found)
{
    double factor, offset;
    size_t found = 0;

    if (!unit_of(r, root, figure, &factor, &offset))
        return false;
    for (size_t i = 0; i < json_object_array_length(records); i++) {
        struct json_object *object = at(json_object_array_get_idx(records, i), way->pointer);
        double value;

        if (!object)
            continue;
        if (!number_of(r, object, way->pointer, &value) ||
            !sample_of(r, figure, way, stamps[i], value * factor + offset, &samples[found]))
            return false;
        found++;
    }
    db_reading_add(r, figure, way, samples, found, r->source->time);
    *ret_found += found;
    return true;
}

static void read_records(struct db_reading *r, struct json_object *root)
{
    struct json_object *records = array_at(r, root, r->source->records);
    const size_t count = records ? json_object_array_length(records) : 0;
    struct db_stamp *stamps = db_arena_get(r->arena, count, sizeof *stamps);
    struct db_sample *samples = db_arena_get(r->arena, count, sizeof *samples);

    if (!stamps || !samples) {
        r->full = true;
        return;
    }
    for (size_t i = 0; i < count; i++) {
        struct json_object *time = at(json_object_array_get_idx(records, i), r->source->time);

        if (!time) {
            db_reading_refuse(r, "%s finds nothing in entry %zu of %s", r->source->time, i, r->source->records);
            return;
        }
        if (!stamp_of(r, time, r->source->time, i ? stamps[i - 1].from : INT64_MIN, &stamps[i]))
            return;
    }
    for (enum db_figure f = DB_FIGURE_LOW; records && f < (enum db_figure) DB_FIGURE_COUNT; f++) {
        const struct db_source_figure *figure = &r->source->figures[f];
        size_t found = 0;

        for (size_t w = 0; w < figure->count; w++)
            if (!read_way_of_records(r, root, records, f, &figure->ways[w], stamps, samples, &found))
                return;
        if (figure->count && !found && count) {
            db_reading_refuse(r, "%s finds nothing in any entry of %s", figure->ways[0].pointer, r->source->records);
            return;
        }
    }
}

static bool read_one_series(struct db_reading *r, struct json_object *root, enum db_figure figure,
                            const struct db_source_way *way)
{
    struct json_object *values = array_at(r, root, way->pointer);
    const size_t count = values ? json_object_array_length(values) : 0;
    struct db_sample *samples = db_arena_get(r->arena, count, sizeof *samples);
    double factor, offset;
    int64_t last = INT64_MIN;

    r->full = r->full || !samples;
    if (!values || !samples || !unit_of(r, root, figure, &factor, &offset))
        return false;
    for (size_t i = 0; i < count; i++) {
        struct json_object *entry = json_object_array_get_idx(values, i);
        struct json_object *time = at(entry, r->source->time);
        struct db_stamp stamp;
        double value;

        if (!time) {
            db_reading_refuse(r, "%s finds nothing in entry %zu of %s", r->source->time, i, way->pointer);
            return false;
        }
        if (!stamp_of(r, time, r->source->time, last, &stamp) ||
            !number_of(r, at(entry, r->source->value), r->source->value, &value) ||
            !sample_of(r, figure, way, stamp, value * factor + offset, &samples[i]))
            return false;
        last = stamp.from;
    }
    db_reading_add(r, figure, way, samples, count, way->pointer);
    return true;
}

static void read_series(struct db_reading *r, struct json_object *root)
{
    for (enum db_figure f = DB_FIGURE_LOW; f < (enum db_figure) DB_FIGURE_COUNT; f++)
        for (size_t w = 0; w < r->source->figures[f].count; w++)
            if (!read_one_series(r, root, f, &r->source->figures[f].ways[w]))
                return;
}

/* Along a great circle of the mean Earth, km (haversine). */
static double kilometres(double latitude, double longitude, const struct db_site *site)
{
    const double radian = 3.14159265358979323846 / 180;
    const double north = sin((latitude - site->latitude) * radian / 2),
                 east = sin((longitude - site->longitude) * radian / 2);
    const double h = north * north + cos(latitude * radian) * cos(site->latitude * radian) * east * east;

    return 2 * 6371 * asin(sqrt(h > 1 ? 1 : h));
}

/* An address of another town, pasted into a description, must not rule this garden. */
static bool check_place(const struct db_reading *r, struct json_object *root)
{
    enum { FAR = 30 };
    const char *const pointers[2] = { r->source->latitude, r->source->longitude };
    double place[2] = { 0 }, away;

    if (!pointers[0])
        return true;
    for (size_t i = 0; i < 2; i++) {
        struct json_object *object = at(root, pointers[i]);

        if (!object) {
            db_reading_refuse(r, "%s finds nothing", pointers[i]);
            return false;
        }
        if (!number_of(r, object, pointers[i], &place[i]))
            return false;
    }
    away = kilometres(place[0], place[1], r->asker->site);
    if (away <= FAR)
        return true;
    if (isfinite(away))
        db_reading_refuse(r, "it is for a place %ld km from the garden", lround(away));
    else
        db_reading_refuse(r, "it does not say for which place it is");
    return false;
}

static bool read_issued(const struct db_reading *r, struct json_object *root, int64_t *ret)
{
    struct json_object *object;
    struct db_stamp stamp;

    if (!r->source->issued)
        return true;
    object = at(root, r->source->issued);
    if (!object) {
        db_reading_refuse(r, "%s finds nothing", r->source->issued);
        return false;
    }
    if (!stamp_of(r, object, r->source->issued, INT64_MIN, &stamp))
        return false;
    /* A forecast from the future comes from a clock that is wrong: its age is unknown, and it arrived just now. */
    if (stamp.from < r->asker->fetched)
        *ret = stamp.from;
    return true;
}

/* What a tree of json-c takes is some 75 bytes a value: the values are counted before. */
static bool fits(const char *body, size_t length)
{
    size_t values = 0;

    for (size_t i = 0; i < length; i++)
        values += body[i] == ',' || body[i] == '[' || body[i] == '{';
    return values <= DB_LIMIT_FORECAST_VALUES;
}

/* The tree, for json_object_put(); NULL after a mistake. */
static struct json_object *parse(const char *body, size_t length, const char **ret_trouble)
{
    struct json_tokener *tokener;
    struct json_object *root = NULL;

    *ret_trouble = "it does not fit into memory";
    if (length >= 3 && memcmp(body, "\xEF\xBB\xBF", 3) == 0) {
        body += 3;
        length -= 3;
    }
    if (!fits(body, length)) {
        *ret_trouble = "it has more than 200000 values";
        return NULL;
    }
    tokener = json_tokener_new_ex(DB_LIMIT_FORECAST_DEPTH);
    if (!tokener)
        return NULL;
    json_tokener_set_flags(tokener, JSON_TOKENER_STRICT | JSON_TOKENER_VALIDATE_UTF8);
    root = json_tokener_parse_ex(tokener, body, (int) length);
    switch (json_tokener_get_error(tokener)) {
    case json_tokener_success:
        *ret_trouble = root ? NULL : "it holds nothing";
        break;
    case json_tokener_continue:
        *ret_trouble = "it ends in the middle";
        break;
    case json_tokener_error_depth:
        *ret_trouble = "it is nested more than 32 deep";
        break;
    default:
        *ret_trouble = "it is no JSON";
        break;
    }
    if (*ret_trouble) {
        (void) json_object_put(root);
        root = NULL;
    }
    json_tokener_free(tokener);
    return root;
}

void db_forecast_json(struct db_reading *r, const char *body, size_t length, int64_t *ret_issued)
{
    const char *trouble = NULL;
    struct json_object *root = parse(body, length, &trouble);

    if (!root) {
        db_reading_refuse(r, "%s", trouble);
        return;
    }
    if (check_place(r, root) && read_issued(r, root, ret_issued)) {
        if (r->source->shape == DB_LAYOUT_COLUMNS)
            read_columns(r, root);
        else if (r->source->shape == DB_LAYOUT_RECORDS)
            read_records(r, root);
        else
            read_series(r, root);
    }
    (void) json_object_put(root);
}

enum db_status db_forecast_found(const struct db_source *source, const char *name, const char *body, size_t length,
                                 struct db_arena *arena, struct db_mistakes *mistakes, const char **ret_url)
{
    const struct db_asker asker = { .name = name };
    const struct db_reading r = { .source = source, .asker = &asker, .mistakes = mistakes };
    const char *trouble = NULL, *url = NULL;
    struct json_object *root = NULL, *found = NULL;
    enum db_status status = DB_MISTAKEN;

    if (length > DB_LIMIT_FORECAST)
        trouble = "it is longer than 2 MiB";
    else
        root = parse(body, length, &trouble);
    found = root ? at(root, source->found) : NULL;
    if (!root)
        db_reading_refuse(&r, "%s", trouble);
    else if (!found)
        db_reading_refuse(&r, "%s finds nothing", source->found);
    else if (!json_object_is_type(found, json_type_string) || strncmp(json_object_get_string(found), "http", 4) != 0 ||
             strlen(json_object_get_string(found)) > DB_LIMIT_VALUE)
        db_reading_refuse(&r, "%s finds no address", source->found);
    else
        status = (url = db_say(arena, "%s", json_object_get_string(found))) && *url ? DB_OK : DB_FULL;
    (void) json_object_put(root);
    if (status == DB_OK)
        *ret_url = url;
    return status;
}
