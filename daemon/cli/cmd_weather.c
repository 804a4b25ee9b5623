/* weather: the series around today, each figure with where it is from; or a description tried on an answer. */
#include "cli/cli.h"

#include "base/limits.h"
#include "base/text.h"
#include "dewbell/units.h"
#include "read/files.h"
#include "read/source.h"
#include "service/courier.h"
#include "service/told.h"

#include <json.h>

#include <limits.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

enum { DAYS_BACK = 7, DAYS_ON = 14 };

static const enum db_kind kinds[DB_FIGURE_COUNT] = { DB_KIND_TEMPERATURE, DB_KIND_TEMPERATURE, DB_KIND_LENGTH,
                                                     DB_KIND_SPEED };
static const char *const words[DB_FIGURE_COUNT] = { "low", "high", "rain", "wind" };

/* One day as both tables show it. */
struct row {
    struct db_date date;
    double figures[DB_FIGURE_COUNT], shifts[2];
    enum db_origin origins[DB_FIGURE_COUNT];
};

static void show_figure(double value, enum db_figure figure, bool imperial)
{
    char buffer[40] = "-";
    const int wide = figure <= DB_FIGURE_HIGH ? 9 : 10;

    if (figure == DB_FIGURE_WIND && !isnan(value)) {
        struct db_text text = db_text_in(buffer, sizeof buffer);

        db_text_add_number(&text, imperial ? value / 0.44704 : value, 1);
        db_text_add(&text, imperial ? " mph" : " m/s");
    } else if (!isnan(value)) {
        const double rounded = round(value * 10) / 10;

        if (kinds[figure] == DB_KIND_LENGTH)
            (void) db_water_text(imperial ? value : rounded, imperial, buffer, sizeof buffer);
        else
            (void) db_amount_text((struct db_amount){ imperial ? value : rounded, kinds[figure] }, imperial, buffer,
                                  sizeof buffer);
    }
    const int letters = (int) db_text_characters(buffer, strlen(buffer));
    printf("  %*s%s", wide > letters ? wide - letters : 0, "", buffer);
}

/* "forecast", or "observed; rain: climate" where a figure is from elsewhere than the low. */
static void show_origins(const struct row *row)
{
    const enum db_origin most = row->origins[DB_FIGURE_LOW];

    printf("  %s", db_origin_word(most));
    for (int f = 0; f < DB_FIGURE_COUNT; f++)
        if (!isnan(row->figures[f]) && row->origins[f] != most)
            printf("; %s: %s", words[f], db_origin_word(row->origins[f]));
}

static void show_head(void)
{
    printf("%-17s  %9s  %9s  %10s  %10s\n", "", "low", "high", "rain", "wind");
}

static void show_row(const struct row *row, struct db_date today, bool imperial)
{
    char day[48], line[64];

    (void) snprintf(line, sizeof line, "%s %s", db_date_weekday_name(db_date_weekday(row->date), true),
                    db_show_short(row->date, today, day));
    printf("%s%-17s", row->date.day == today.day ? db_show_bold(stdout) : "", line);
    for (enum db_figure f = DB_FIGURE_LOW; f < (enum db_figure) DB_FIGURE_COUNT; f++)
        show_figure(row->figures[f], f, imperial);
    if (row->origins[DB_FIGURE_LOW] != DB_ORIGIN_NONE)
        show_origins(row);
    printf("%s\n", row->date.day == today.day ? db_show_plain(stdout) : "");
}

static struct row row_of(const struct db_weather *weather, struct db_date date)
{
    const int64_t at = (int64_t) date.day - db_weather_first(weather).day;
    struct row row = { .date = date };

    for (enum db_figure f = DB_FIGURE_LOW; f < (enum db_figure) DB_FIGURE_COUNT; f++) {
        row.figures[f] =
            at >= 0 && (size_t) at < db_weather_days(weather) ? db_weather_figures(weather, 0, f)[at] : (double) NAN;
        row.origins[f] = db_weather_origin(weather, date, f);
        if (f <= DB_FIGURE_HIGH)
            row.shifts[f] = db_weather_shift(weather, date, f);
    }
    return row;
}

static struct json_object *json_number(double value, int decimals)
{
    char number[40];
    struct db_text text = db_text_in(number, sizeof number);

    db_text_add_number(&text, value, decimals);
    return json_object_new_double_s(value, number);
}

static struct json_object *json_row(const struct row *row)
{
    struct json_object *day = json_object_new_object();
    char iso[11];

    json_object_object_add(day, "date", json_object_new_string(db_date_iso(row->date, iso)));
    for (int f = 0; f < DB_FIGURE_COUNT; f++) {
        struct json_object *figure = NULL;

        if (!isnan(row->figures[f])) {
            figure = json_object_new_object();
            json_object_object_add(figure, "value", json_number(row->figures[f], 2));
            if (row->origins[f] != DB_ORIGIN_NONE)
                json_object_object_add(figure, "from", json_object_new_string(db_origin_word(row->origins[f])));
            if (f <= DB_FIGURE_HIGH && fabs(row->shifts[f]) > 0)
                json_object_object_add(figure, "shift", json_number(row->shifts[f], 2));
        }
        json_object_object_add(day, words[f], figure);
    }
    return day;
}

static void print_json(struct json_object *object)
{
    puts(json_object_to_json_string_ext(object, JSON_C_TO_STRING_PRETTY | JSON_C_TO_STRING_NOSLASHESCAPE));
    (void) json_object_put(object);
}

/* What was learnt of how the garden differs. */
static struct json_object *json_bias(const struct db_bias bias[2])
{
    struct json_object *both = json_object_new_object();

    for (int f = 0; f < 2; f++) {
        struct json_object *one = json_object_new_object();

        json_object_object_add(one, "days", json_object_new_int64((int64_t) bias[f].days));
        json_object_object_add(one, "mean", json_number(bias[f].centre, 2));
        json_object_object_add(one, "spread", json_number(bias[f].spread, 2));
        json_object_object_add(one, "shift", json_number(bias[f].shift, 2));
        json_object_object_add(both, words[f], one);
    }
    return both;
}

static struct json_object *json_told(const struct db_session *s, const struct db_source *source,
                                     const struct db_told *told)
{
    struct json_object *object;

    (void) s;
    if (!told)
        return NULL;
    object = json_object_new_object();
    json_object_object_add(object, "source", json_object_new_string(told->source));
    json_object_object_add(object, "issued", json_object_new_int64(told->issued));
    json_object_object_add(object, "stale", json_object_new_boolean(told->stale));
    json_object_object_add(object, "attribution",
                           source->attribution ? json_object_new_string(source->attribution) : NULL);
    json_object_object_add(object, "here", json_bias(told->bias));
    return object;
}

/* Whose forecast it is and how old; what the service wants to see beside it. */
static void show_told(const struct db_session *s)
{
    const struct db_source *source = s->estate.source;
    const struct db_told *told = s->estate.told;
    char age[48], here[160];

    if (told)
        printf("Forecast: %s, %s.%s%s\n", told->source, db_told_age(told, db_session_now(s), age),
               source->attribution ? " " : "", source->attribution ? source->attribution : "");
    else if (source)
        printf("Forecast: none from %s yet. dewbelld fetches it.\n", source->title);
    if (*db_told_here(told, db_garden_site(s->estate.garden), here))
        printf("%s\n", here);
    if (told && told->bias[DB_FIGURE_LOW].days > 0 && told->bias[DB_FIGURE_LOW].days < DB_BIAS_LEAST)
        printf("How nights differ here is learnt from %d measured nights; there are %zu.\n", DB_BIAS_LEAST,
               told->bias[DB_FIGURE_LOW].days);
}

static int show_series(struct db_session *s)
{
    const bool imperial = db_garden_site(s->estate.garden)->imperial;
    char day[48];
    int status = db_session_record(s, false);

    if (status == DB_EXIT_FINE)
        status = db_session_weather(s);
    if (status != DB_EXIT_FINE)
        return status;
    if (s->options.json) {
        struct json_object *object = json_object_new_object(), *days = json_object_new_array();

        for (int d = -DAYS_BACK; d <= DAYS_ON; d++) {
            const struct row row = row_of(s->weather, db_date_add(s->today, d));
            json_object_array_add(days, json_row(&row));
        }
        json_object_object_add(object, "forecast", json_told(s, s->estate.source, s->estate.told));
        json_object_object_add(object, "days", days);
        print_json(object);
        return DB_EXIT_FINE;
    }
    printf("The weather at %s, %s\n", db_garden_site(s->estate.garden)->name, db_show_day(s->today, day));
    show_told(s);
    putchar('\n');
    show_head();
    for (int d = -DAYS_BACK; d <= DAYS_ON; d++) {
        const struct row row = row_of(s->weather, db_date_add(s->today, d));
        show_row(&row, s->today, imperial);
    }
    return DB_EXIT_FINE;
}

/* ---- trying ---- */

struct answer {
    char *body;
    size_t length;
    struct db_loop *loop;
    bool came;
    char trouble[256];
};

static void returned(void *context, const struct db_reply *reply)
{
    struct answer *answer = context;

    db_loop_stop(answer->loop);
    if (!reply->arrived) {
        (void) snprintf(answer->trouble, sizeof answer->trouble, "%s", reply->trouble);
    } else if (reply->status != 200 && reply->status != 203) {
        (void) snprintf(answer->trouble, sizeof answer->trouble, "it answers with status %d", reply->status);
    } else {
        answer->body = malloc(reply->length + 1);
        if (answer->body) {
            memcpy(answer->body, reply->body, reply->length);
            answer->body[reply->length] = '\0';
            answer->length = reply->length;
            answer->came = true;
        }
    }
}

/* Asks once, as the service would. */
static bool fetch(const struct db_session *s, const struct db_source *source, const char *url, struct answer *answer)
{
    const char *contact = s->estate.outlets.forecast.contact;
    const char *headers[DB_SOURCE_WORDS + 2] = { NULL };
    char agent[512];
    size_t count = 0;
    struct db_courier *courier;

    *answer = (struct answer){ .trouble = "out of memory" };
    (void) snprintf(agent, sizeof agent, "User-Agent: dewbell/" DB_VERSION "%s%s%s", contact ? " (" : "",
                    contact ? contact : "", contact ? ")" : "");
    headers[count++] = agent;
    for (size_t i = 0; source->headers[i]; i++)
        headers[count++] = source->headers[i];
    const struct db_errand errand = {
        .url = url, .headers = headers, .most_bytes = DB_LIMIT_FORECAST, .ca_file = s->estate.outlets.forecast.ca_file
    };

    answer->loop = db_loop_new(NULL);
    courier = answer->loop ? db_courier_new(answer->loop) : NULL;
    if (courier && db_courier_send(courier, &errand, returned, answer, answer->trouble) == DB_OK &&
        db_loop_run(answer->loop) != DB_OK)
        (void) snprintf(answer->trouble, sizeof answer->trouble, "waiting for it failed");
    (void) db_courier_free(courier);
    answer->loop = db_loop_free(answer->loop);
    return answer->came;
}

static bool is_address(const char *place)
{
    return strncmp(place, "http://", 7) == 0 || strncmp(place, "https://", 8) == 0;
}

static int mistaken(struct db_session *s, struct db_mistakes *mistakes)
{
    (void) s;
    db_show_mistakes(stderr, mistakes);
    return DB_EXIT_MISTAKES;
}

static int read_place(struct db_session *s, const struct db_source *source, const char *place,
                      struct db_mistakes *mistakes, struct answer *answer)
{
    char *text = NULL;

    if (is_address(place)) {
        if (fetch(s, source, place, answer))
            return DB_EXIT_FINE;
        fprintf(stderr, "dewbell: %s: %s\n", place, answer->trouble);
        return DB_EXIT_TROUBLE;
    }
    *answer = (struct answer){ 0 };
    if (db_file_read(place, DB_LIMIT_FORECAST, (struct db_place){ .file = place }, s->files, mistakes, &text,
                     &answer->length) != DB_OK)
        return mistaken(s, mistakes);
    answer->body = malloc(answer->length + 1);
    if (!answer->body)
        return DB_EXIT_TROUBLE;
    memcpy(answer->body, text, answer->length + 1);
    return DB_EXIT_FINE;
}

static void show_answer(const struct db_session *s, const struct db_source *source, const struct db_answer *got)
{
    const bool imperial = db_garden_site(s->estate.garden)->imperial;
    char age[48];

    printf("%s, %s: %zu day%s\n\n", got->told.source, db_told_age(&got->told, db_session_now(s), age), got->told.count,
           got->told.count == 1 ? "" : "s");
    show_head();
    for (size_t i = 0; i < got->told.count; i++) {
        struct row row = { .date = got->told.days[i].date };

        memcpy(row.figures, got->told.days[i].figures, sizeof row.figures);
        show_row(&row, s->today, imperial);
    }
    if (got->part_of_today)
        printf("\nWhat it says of today is of the hours that are left.\n");
    if (source->attribution)
        printf("\n%s\n", source->attribution);
}

static void show_answer_json(const struct db_session *s, const struct db_source *source, const struct db_answer *got)
{
    struct json_object *object = json_object_new_object(), *days = json_object_new_array();

    for (size_t i = 0; i < got->told.count; i++) {
        struct row row = { .date = got->told.days[i].date };

        memcpy(row.figures, got->told.days[i].figures, sizeof row.figures);
        json_object_array_add(days, json_row(&row));
    }
    json_object_object_add(object, "forecast", json_told(s, source, &got->told));
    json_object_object_add(object, "days", days);
    print_json(object);
}

/* The plan's description, or another one by name. NULL after saying why not. */
static const struct db_source *source_to_try(struct db_session *s, struct db_mistakes *mistakes, int *ret_status)
{
    const struct db_forecast_wish *wish = &s->estate.outlets.forecast;
    const char *own = wish->sources ? db_path_join(s->files, s->estate.folder, wish->sources) : NULL;
    const struct db_source *source = s->estate.source;
    char buffer[PATH_MAX];

    if (s->options.source && db_source_read(s->options.source, (struct db_place){ .file = "--source" },
                                            db_session_shipped(s, buffer), own, s->files, mistakes, &source) != DB_OK) {
        *ret_status = mistaken(s, mistakes);
        return NULL;
    }
    if (!source) {
        fprintf(stderr, "dewbell: by which description? Write --source NAME, or [forecast] in the plan.\n");
        *ret_status = DB_EXIT_USAGE;
    }
    return source;
}

static int try(struct db_session *s)
{
    struct db_mistakes *mistakes = db_mistakes_new(s->files);
    const char *place = s->options.try, *further = NULL;
    const int64_t now = db_session_now(s);
    struct answer answer = { 0 };
    struct db_answer got;
    int status = DB_EXIT_TROUBLE;
    const struct db_source *source = mistakes ? source_to_try(s, mistakes, &status) : NULL;

    if (!source)
        return status;
    status = read_place(s, source, place, mistakes, &answer);
    /* An answer that only names where to ask is followed. */
    if (status == DB_EXIT_FINE && source->find) {
        struct db_mistakes *aside = db_mistakes_new(s->files);

        if (aside && db_forecast_found(source, place, answer.body, answer.length, s->files, aside, &further) == DB_OK) {
            printf("It names %s\n", further);
            free(answer.body);
            place = further;
            status = read_place(s, source, place, mistakes, &answer);
        }
    }
    if (status == DB_EXIT_FINE) {
        const struct db_asker asker = { db_garden_site(s->estate.garden), place, now, now };
        const enum db_status read =
            db_forecast_read(source, &asker, answer.body, answer.length, s->files, mistakes, &got);

        if (read == DB_FULL)
            fprintf(stderr, "dewbell: out of memory\n");
        else
            db_show_mistakes(stderr, mistakes); /* advice, too: what was left out */
        status = read == DB_OK ? DB_EXIT_FINE : read == DB_FULL ? DB_EXIT_TROUBLE : DB_EXIT_MISTAKES;
    }
    if (status == DB_EXIT_FINE && s->options.json)
        show_answer_json(s, source, &got);
    else if (status == DB_EXIT_FINE)
        show_answer(s, source, &got);
    free(answer.body);
    return status;
}

int db_cmd_weather(struct db_session *s, int count, char **unused)
{
    const int status = db_session_read(s);

    (void) count;
    (void) unused;
    if (status != DB_EXIT_FINE)
        return status;
    return s->options.try ? try(s) : show_series(s);
}
