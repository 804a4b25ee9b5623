/* Weather: what was observed, what is forecast, what the climate is; one series out of them in which every figure knows
 * where it came from. Beyond the known days the future is a set: every member shares the observed and forecast days and
 * has days of its own after them. Member 0 goes on with the climate's averages; the others, if there are any, each with the
 * weather of a past year. */
#ifndef DEWBELL_WEATHER_H
#define DEWBELL_WEATHER_H

#include "dewbell/arena.h"
#include "dewbell/bias.h"
#include "dewbell/date.h"
#include "dewbell/status.h"

#include <stdbool.h>
#include <stddef.h>

#ifdef __cplusplus
extern "C" {
#endif

enum db_origin {
    DB_ORIGIN_NONE,
    DB_ORIGIN_CLIMATE,
    DB_ORIGIN_FORECAST,
    DB_ORIGIN_OBSERVED
};                                                                                /* a later one beats an earlier */
enum db_figure { DB_FIGURE_LOW, DB_FIGURE_HIGH, DB_FIGURE_RAIN, DB_FIGURE_WIND }; /* degC, degC, mm, m/s */
enum { DB_FIGURE_COUNT = DB_FIGURE_WIND + 1 };

/* "observed", "forecast", "climate", "none" */
const char *db_origin_word(enum db_origin origin);

/* Means of a calendar month; rain and wind may be NaN: not known, and then those days stay unknown. */
struct db_normal {
    double low, high, rain, wind; /* rain: mm in the whole month */
};

/* Days as one source told them, each on its own: what a forecast amounts to once it is read. NaN: not said. */
struct db_told_day {
    struct db_date date;
    double figures[DB_FIGURE_COUNT];
};
struct db_told {
    const char *source; /* its name, as shown beside the figures */
    int64_t issued;     /* unix seconds: when it was made, else when it was fetched */
    bool stale;         /* older than 36 hours when it was read: its days still count, and are called stale */
    const struct db_told_day *days; /* in order of date, as they were told */
    size_t count;
    struct db_bias bias[2]; /* of low and high, by enum db_figure: what the garden's own differ by */
};

struct db_weather;

/* A set of `futures` (1..DB_LIMIT_FUTURES) series over `count` (..DB_LIMIT_WEATHER_DAYS) days from `first`. All figures
 * start unknown (NaN, DB_ORIGIN_NONE). NULL: a limit is exceeded or the arena is full. */
struct db_weather *db_weather_new(struct db_arena *arena, struct db_date first, size_t count, size_t futures);

struct db_date db_weather_first(const struct db_weather *weather);
size_t db_weather_days(const struct db_weather *weather);
size_t db_weather_futures(const struct db_weather *weather);

/* Puts one figure into every future unless a better origin already holds that day. Days outside are ignored. */
void db_weather_put(struct db_weather *weather, struct db_date date, enum db_figure figure, enum db_origin origin,
                    double value);
/* The same into one future only: its own climate days. */
void db_weather_put_future(struct db_weather *weather, size_t future, struct db_date date, enum db_figure figure,
                           double value);

/* Says that a forecast low or high as it was put differs by so many K from what was forecast, as the garden does. */
void db_weather_set_shift(struct db_weather *weather, struct db_date date, enum db_figure figure, double shift);
/* That, 0 where nothing was said; days that are not forecast have none. */
double db_weather_shift(const struct db_weather *weather, struct db_date date, enum db_figure figure);

/* Past years that can stand for the time to come: numbers of years back from `today`, fewest first, at most `room`. The
 * past is in the arrays (`count` days from `first`, degC, NaN = missing); days from today on are not looked at. A year back
 * counts if half a year from today's date on is in them, that many years ago, and the whole year has no ten days in a row
 * missing; what lies beyond the end of the past is taken from one year before. Returns how many there are. */
size_t db_weather_past_years(struct db_date first, size_t count, const double *low, const double *high,
                             struct db_date today, int *ret_back, size_t room);

/* Puts the past into a future: into each day of it that is neither observed nor forecast, the figures of the same day of the
 * calendar `back` years before, or one year more, as above (28 February for 29 February where there is none). A day whose
 * low or high is missing stays unknown. figures: by enum db_figure, each `count` long from `first` on or NULL. */
void db_weather_put_past(struct db_weather *weather, size_t future, struct db_date first, size_t count,
                         double *const figures[DB_FIGURE_COUNT], struct db_date today, int back);

/* Keeps the lows of the past (degC, NaN = missing; they must outlive the weather), from which the odds of frost are counted. */
void db_weather_keep_lows(struct db_weather *weather, struct db_date first, size_t count, const double *low);
/* NULL: none were given. */
const double *db_weather_lows(const struct db_weather *weather, struct db_date *ret_first, size_t *ret_count);

/* Fills the days still unknown, in every future, from twelve monthly means by straight lines between mid-months (rain
 * and wind evenly over the month's days), origin climate. Then mends days where low > high by setting both to their
 * mean unless both were observed. DB_RANGE: a low or high that is not finite, or low > high. */
DB_MUST_USE enum db_status db_weather_fill(struct db_weather *weather, const struct db_normal normals[12]);

/* Twelve monthly means from the days before `until` that are in the arrays (`count` days from `first`, NaN = missing).
 * A month needs 20 days of both temperatures somewhere in the record. DB_ABSENT: some month has too few. Rain (which may
 * be NULL) of a month with fewer than 20 known days, and wind, are NaN. */
DB_MUST_USE enum db_status db_weather_normals(struct db_date first, size_t count, const double *low, const double *high,
                                              const double *rain, struct db_date until,
                                              struct db_normal ret_normals[12]);

/* The figures of one future: an array of db_weather_days() values; NaN where unknown. */
const double *db_weather_figures(const struct db_weather *weather, size_t future, enum db_figure figure);
enum db_origin db_weather_origin(const struct db_weather *weather, struct db_date date, enum db_figure figure);

/* How many days from the first one on are the same in every future: up to the first whose low or high is neither observed
 * nor forecast. */
size_t db_weather_shared(const struct db_weather *weather);

/* Last day that has low and high observed or forecast; DB_NO_DATE if there is none. */
struct db_date db_weather_known(const struct db_weather *weather);

#ifdef __cplusplus
}
#endif
#endif
