#include "read/load.h"

#include "base/limits.h"
#include "read/files.h"
#include "read/weather_csv.h"

#include <math.h>
#include <string.h>

#include "base/banned.h"

enum { OBSERVED, COLUMNS, FORECAST, PAST_YEARS, RECORD_AHEAD, WEATHER_ROWS };
static const struct db_field weather_rows[WEATHER_ROWS] = {
    [OBSERVED] = { "observed", DB_FIELD_NAME, { 0 }, NULL, NULL, false, "a CSV file of what was measured" },
    [COLUMNS] = { "columns", DB_FIELD_LIST, { 0 }, NULL, NULL, false, "the files' columns, as in low=temp_min [°C]" },
    [FORECAST] = { "forecast", DB_FIELD_NAME, { 0 }, NULL, NULL, false, "a CSV file of what is forecast" },
    [PAST_YEARS] = { "past_years", DB_FIELD_NAME, { 0 }, NULL, NULL, false, "a CSV file of past years" },
    [RECORD_AHEAD] = { "record_ahead",
                       DB_FIELD_AMOUNT,
                       { DB_KIND_TIME, "days", 0, 60, true, NULL },
                       NULL,
                       NULL,
                       false,
                       "days of the record that take the place of a forecast" },
};

#define MONTH(key)                                                                                                     \
    {                                                                                                                  \
        key, DB_FIELD_LIST, { 0 }, NULL, NULL, true, "mean low .. mean high, rain, as in 2 °C .. 8 °C, 60 mm"        \
    }
static const struct db_field climate_rows[12] = {
    MONTH("january"), MONTH("february"), MONTH("march"),     MONTH("april"),   MONTH("may"),      MONTH("june"),
    MONTH("july"),    MONTH("august"),   MONTH("september"), MONTH("october"), MONTH("november"), MONTH("december"),
};

const struct db_field *db_weather_fields(size_t *ret_count)
{
    *ret_count = WEATHER_ROWS;
    return weather_rows;
}

const struct db_field *db_climate_fields(size_t *ret_count)
{
    *ret_count = sizeof climate_rows / sizeof climate_rows[0];
    return climate_rows;
}

/* "2 °C .. 8 °C, 140 mm", with "3 m/s" after it if the wind is known. */
static bool read_month(struct db_load *load, const struct db_value *value, struct db_normal *ret)
{
    static const struct db_measure warmth = { DB_KIND_TEMPERATURE, "°C", -60, 50, false, NULL };
    static const struct db_measure rain = { DB_KIND_LENGTH, "mm", 0, 3000, false, NULL };
    static const struct db_measure wind = { DB_KIND_SPEED, "m/s", 0, 50, false, NULL };
    const struct db_reader to = db_load_reader(load);
    struct db_normal normal = { (double) NAN, (double) NAN, (double) NAN, (double) NAN };
    struct db_span part;
    size_t count = 0, at = value->span.from;
    bool good = true;

    while (db_span_next(value->span, ',', &at, &part)) {
        if (count == 0)
            good = db_value_range(part, &warmth, to, &normal.low, &normal.high);
        else if (count == 1)
            good = db_value_amount(part, &rain, to, &normal.rain) && good;
        else if (count == 2)
            good = db_value_amount(part, &wind, to, &normal.wind) && good;
        count++;
    }
    if (count < 2 || count > 3) {
        db_mistakes_add(load->mistakes, db_span_place(value->span), "write it as 2 °C .. 8 °C, 60 mm",
                        count < 2 ? "the rain of the month is missing"
                                  : "there are more than low .. high, rain and wind");
        return false;
    }
    if (good && normal.low == normal.high) {
        db_mistakes_add(load->mistakes, db_span_place(value->span), "write it as 2 °C .. 8 °C, 60 mm",
                        "mean low and mean high are the same");
        return false;
    }
    *ret = normal;
    return good;
}

static void read_climate(struct db_load *load, const struct db_ini_section *section, struct db_records *records)
{
    struct db_value v[12];

    db_fields_read(section, climate_rows, 12, v, db_load_reader(load));
    records->climate = true;
    for (size_t m = 0; m < 12; m++)
        if (v[m].good)
            (void) read_month(load, &v[m], &records->normals[m]);
}

static enum db_status read_file(struct db_load *load, const struct db_plan *plan, const struct db_value *value,
                                const struct db_columns *columns, bool all, struct db_days *ret)
{
    const char *name = value->good ? db_span_text(value->span, load->scratch) : NULL;
    const char *path = name ? db_path_join(load->arena, plan->folder, name) : NULL;
    enum db_status status = DB_OK;
    char *text = NULL;
    size_t length = 0;

    if (!value->good)
        return DB_OK;
    if (!path)
        return DB_FULL;
    if (!db_load_has(load, path))
        status = db_load_saw(load, path);
    if (status == DB_OK)
        status = db_seen_read(&load->seen, path, DB_LIMIT_WEATHER_FILE, db_span_place(value->span), load->arena,
                              load->mistakes, &text, &length);
    if (status == DB_OK)
        status = db_weather_csv_read(path, text, length, columns, all, load->arena, db_load_reader(load), ret);
    return status == DB_MISTAKEN ? DB_OK : status;
}

/* The past years are often the observed file itself: it is read, and its mistakes are told, once. */
static bool same_file(const struct db_value *a, const struct db_value *b)
{
    return a->good && b->good && strcmp(a->span.words->text, b->span.words->text) == 0;
}

static enum db_status read_weather(struct db_load *load, const struct db_plan *plan,
                                   const struct db_ini_section *section, struct db_value v[WEATHER_ROWS],
                                   struct db_records *records)
{
    struct db_columns columns = { 0 };
    enum db_status status;

    db_fields_read(section, weather_rows, WEATHER_ROWS, v, db_load_reader(load));
    if (v[COLUMNS].good && !db_columns_read(v[COLUMNS].span, load->scratch, db_load_reader(load), &columns))
        return DB_OK;
    records->ahead = v[RECORD_AHEAD].good ? (int32_t) v[RECORD_AHEAD].low : 0;
    status = read_file(load, plan, &v[OBSERVED], &columns, true, &records->observed);
    if (status == DB_OK)
        status = read_file(load, plan, &v[FORECAST], &columns, false, &records->forecast);
    if (v[OBSERVED].good && !(records->observed_name = db_span_text(v[OBSERVED].span, load->arena)))
        return DB_FULL;
    records->past_is_observed = same_file(&v[PAST_YEARS], &v[OBSERVED]);
    if (status == DB_OK && records->past_is_observed)
        records->past = records->observed;
    else if (status == DB_OK)
        status = read_file(load, plan, &v[PAST_YEARS], &columns, false, &records->past);
    if (v[RECORD_AHEAD].good && !v[OBSERVED].given)
        db_mistakes_add(load->mistakes, db_span_place(v[RECORD_AHEAD].span), "write observed = FILE, or take it out",
                        "there is no record to look ahead in");
    return status;
}

enum db_status db_plan_records(struct db_load *load, const struct db_plan *plan, struct db_records **ret)
{
    const struct db_ini_section *weather = db_ini_find(plan->ini, "weather"),
                                *climate = db_ini_find(plan->ini, "climate");
    const struct db_ini_section *garden = db_ini_find(plan->ini, "garden");
    struct db_records *records = db_arena_get(load->arena, 1, sizeof *records);
    struct db_value v[WEATHER_ROWS] = { 0 };
    enum db_status status = records ? DB_OK : DB_FULL;

    if (!records)
        return DB_FULL;
    if (weather)
        status = read_weather(load, plan, weather, v, records);
    if (climate)
        read_climate(load, climate, records);
    records->at = v[PAST_YEARS].given ? db_span_place(v[PAST_YEARS].span)
                  : weather           ? weather->at
                  : garden            ? garden->at
                                      : (struct db_place){ 0 };
    if (garden && !climate && !v[PAST_YEARS].given && !(weather && weather->cut))
        db_mistakes_add(load->mistakes, weather ? weather->at : garden->at,
                        "write [climate] with its twelve months, or past_years = FILE in [weather]",
                        "the plan says nothing about the climate");
    if (status == DB_OK)
        *ret = records;
    return status;
}
