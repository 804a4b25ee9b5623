/* What the readers of forecasts share: values as they come, and the days that they become. */
#ifndef DB_READ_FORECAST_H
#define DB_READ_FORECAST_H

#include "dewbell/units.h"
#include "read/source.h"
#include "read/zone.h"

/* One value over a span of time, in the figure's own unit; NaN: not known. from == to: at a moment. */
struct db_sample {
    int64_t from, to;
    double value;
};
enum { DB_SAMPLES_MOST = 5000 }; /* of one place in an answer */

/* Times as answers write them. */
struct db_stamp {
    int64_t from, to; /* equal: a moment; a day or an interval ends later */
    bool whole_day;
};
/* A date, a date and time with or without its offset from UTC, or an ISO 8601 interval "START/DURATION". Without an
 * offset it is the zone's local time; `last` (INT64_MIN at first) is the stamp before, which settles an hour that comes
 * twice. False: none of these. */
bool db_stamp_read(const char *text, const struct db_zone *zone, int64_t last, struct db_stamp *ret);

/* A unit as descriptions and answers spell it ("°F", "fahrenheit", "K", "inch", "km/h", "wmoUnit:degC", ...). False: not
 * a unit of this kind. */
bool db_forecast_unit(const char *text, size_t length, enum db_kind kind, double *ret_factor, double *ret_offset);
/* The kind of a figure: a temperature, a length, a speed. */
enum db_kind db_figure_kind(enum db_figure figure);
/* "low", "high", "rain", "wind" */
const char *db_figure_word(enum db_figure figure);
/* A number written as text: 1 with the number, or NaN for words such as "", "NaN", "null", "n/a"; 0: neither. */
int db_forecast_number(const char *text, size_t length, double *ret);

/* Local days being put together out of samples. */
struct db_tally;
struct db_tally *db_tally_new(const struct db_asker *asker, const struct db_zone *zone, struct db_arena *arena,
                              struct db_mistakes *mistakes);
/* Adds one way's samples, in order of time (checked before). An earlier way wins where they overlap. */
void db_tally_add(struct db_tally *tally, enum db_figure figure, const struct db_source_way *way,
                  const struct db_sample *samples, size_t count);
/* The days in order; days that cannot be true are left out with an advice. DB_ABSENT: there is none. */
enum db_status db_tally_days(struct db_tally *tally, struct db_answer *ret);

/* How one answer is being read: layouts fill the tally. */
struct db_reading {
    const struct db_source *source;
    const struct db_asker *asker;
    const struct db_zone *zone;
    struct db_arena *arena;
    struct db_mistakes *mistakes;
    struct db_tally *tally;
    bool full; /* an arena is */
};
/* Checks that times increase: a later sample of the same time takes the place of the earlier one (said), a backward step
 * is a mistake. where: the pointer, for the message. Then adds them. */
void db_reading_add(struct db_reading *reading, enum db_figure figure, const struct db_source_way *way,
                    struct db_sample *samples, size_t count, const char *where);
/* Whether the value is one of the source's words for not known. */
bool db_reading_missing(const struct db_reading *reading, double value);

/* The beginning of a text of the answer's (UTF-8) as a message can show it. */
const char *db_reading_shown(const struct db_reading *reading, const char *text, size_t length);
__attribute__((format(printf, 2, 3))) void db_reading_refuse(const struct db_reading *reading, const char *what, ...);

/* forecast_json.c and forecast_csv.c: fill the tally, the place and the time of making. */
void db_forecast_json(struct db_reading *reading, const char *body, size_t length, int64_t *ret_issued);
void db_forecast_csv(struct db_reading *reading, const char *body, size_t length);

#endif
