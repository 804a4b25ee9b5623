/* The status document: one JSON object made from what the keepers, the loop and the records hold. */
#include "service/report.h"

#include "base/text.h"
#include "service/forecast.h"
#include "service/publish.h"
#include "service/told.h"

#include <json-c/json.h>

#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

static const char *const feed_names[DB_READY_COUNT] = {
    [DB_READY_JOBS] = "jobs",
    [DB_READY_MORNINGS] = "mornings",
    [DB_READY_TASKS] = "tasks",
};

/* Adds what was made; false when it could not be made or added. */
static bool put(json_object *to, const char *key, json_object *value)
{
    return value && json_object_object_add(to, key, value) == 0;
}

static bool put_null(json_object *to, const char *key)
{
    return json_object_object_add(to, key, NULL) == 0;
}

static bool put_int(json_object *to, const char *key, int64_t number)
{
    return put(to, key, json_object_new_int64(number));
}

static bool put_size(json_object *to, const char *key, size_t number)
{
    return put_int(to, key, (int64_t) number);
}

static bool put_flag(json_object *to, const char *key, bool flag)
{
    return put(to, key, json_object_new_boolean(flag));
}

/* JSON is UTF-8 whatever a folder is called: each byte that is not becomes "?". */
static bool put_part(json_object *to, const char *key, const char *text, size_t length)
{
    char *copy = malloc(length + 1);
    size_t done = 0, bad = 0;

    if (!copy)
        return false;
    memcpy(copy, text, length);
    copy[length] = '\0';
    while (!db_text_utf8(copy + done, length - done, &bad)) {
        copy[done + bad] = '?';
        done += bad + 1;
    }
    bool fine = put(to, key, json_object_new_string_len(copy, (int) length));
    free(copy);
    return fine;
}

static bool put_text(json_object *to, const char *key, const char *text)
{
    return text ? put_part(to, key, text, strlen(text)) : put_null(to, key);
}

static bool put_date(json_object *to, const char *key, struct db_date date)
{
    char iso[11];

    return db_date_known(date) ? put(to, key, json_object_new_string(db_date_iso(date, iso))) : put_null(to, key);
}

/* A new object in a list, NULL when there is no memory. */
static json_object *put_row(json_object *list)
{
    json_object *row = list ? json_object_new_object() : NULL;

    if (row && json_object_array_add(list, row) != 0) {
        (void) json_object_put(row);
        return NULL;
    }
    return row;
}

/* A new list under `key`; NULL when there is no memory. */
static json_object *put_list(json_object *to, const char *key)
{
    json_object *list = json_object_new_array();

    return put(to, key, list) ? list : NULL;
}

struct db_job_count db_report_jobs(const struct db_keeper *keeper)
{
    const struct db_jobs *jobs = db_keeper_jobs(keeper);
    struct db_job_count count = { 0 };

    for (size_t i = 0; jobs && i < db_jobs_count(jobs); i++) {
        switch (db_jobs_at(jobs, i)->state) {
        case DB_JOB_OPEN:
            count.open++;
            break;
        case DB_JOB_DONE:
            count.done++;
            break;
        case DB_JOB_MISSED:
            count.missed++;
            break;
        }
    }
    return count;
}

size_t db_report_events(const struct db_ready_bytes *feed)
{
    static const char *const begins[] = { "\nBEGIN:VEVENT\r\n", "\nBEGIN:VTODO\r\n" };
    size_t count = 0;

    for (size_t i = 0; i < sizeof begins / sizeof begins[0]; i++) {
        const char *at = feed->data, *end = feed->data + feed->length;
        size_t length = strlen(begins[i]);

        while ((at = memmem(at, (size_t) (end - at), begins[i], length)) != NULL) {
            at += length;
            count++;
        }
    }
    return count;
}

static bool put_jobs(json_object *garden, const struct db_keeper *keeper)
{
    const struct db_jobs *jobs = db_keeper_jobs(keeper);
    struct db_job_count count = db_report_jobs(keeper);

    if (!jobs)
        return put_null(garden, "today") && put_null(garden, "jobs");
    json_object *table = json_object_new_object();
    return put_date(garden, "today", db_jobs_view(jobs)->today) && put(garden, "jobs", table) &&
           put_size(table, "open", count.open) && put_size(table, "done", count.done) &&
           put_size(table, "missed", count.missed);
}

static bool put_fetching(json_object *table, const struct db_house *house, const struct db_keeper *keeper)
{
    struct db_fetching fetching;

    if (!house->forecasts || !db_forecasts_about(house->forecasts, keeper, &fetching))
        return true;
    return put_text(table, "title", fetching.title) && put_int(table, "asked", fetching.asked) &&
           put_int(table, "next", fetching.next) && put_int(table, "failures", fetching.failures) &&
           put_text(table, "trouble", fetching.trouble);
}

static bool put_forecast(json_object *garden, const struct db_keeper *keeper, int64_t now)
{
    const struct db_estate *estate = db_keeper_estate(keeper);
    const struct db_told *told = estate ? estate->told : NULL;
    const char *wish = estate ? estate->outlets.forecast.source : NULL;
    json_object *table = wish || told ? json_object_new_object() : NULL;
    char here[160];

    if (!wish && !told)
        return put_null(garden, "forecast");
    if (!put(garden, "forecast", table) || !put_text(table, "wanted", wish) ||
        !put_fetching(table, db_keeper_house(keeper), keeper))
        return false;
    if (!told)
        return put_null(table, "source");
    return put_text(table, "source", told->source) && put_int(table, "issued", told->issued) &&
           put_int(table, "age", now > told->issued ? now - told->issued : 0) &&
           put_flag(table, "stale", told->stale) &&
           put_text(table, "here", db_told_here(told, db_garden_site(estate->garden), here)) &&
           put_size(table, "nights_measured", told->bias[DB_FIGURE_LOW].days) && put_size(table, "days", told->count) &&
           put_date(table, "first", told->count ? told->days[0].date : DB_NO_DATE) &&
           put_date(table, "last", told->count ? told->days[told->count - 1].date : DB_NO_DATE);
}

static bool put_published(json_object *garden, const struct db_house *house, const struct db_keeper *keeper)
{
    json_object *list = put_list(garden, "publish");
    struct db_publish_state state;
    bool fine = list != NULL;

    for (size_t i = 0; fine && house->publish && db_publish_at(house->publish, i, &state); i++) {
        if (state.keeper != keeper)
            continue;
        json_object *row = put_row(list);
        fine = row && put_text(row, "outlet", state.outlet) && put_text(row, "feed", state.feed) &&
               put_flag(row, "current", state.current) && put_int(row, "at", state.at) &&
               put_text(row, "trouble", state.trouble);
    }
    return fine;
}

struct sink { /* a list being filled by a callback */
    json_object *list;
    bool failed;
};

static void put_morning(void *context, const struct db_last_morning *last)
{
    struct sink *to = context;
    json_object *row = put_row(to->list);

    if (!row || !put_text(row, "outlet", last->outlet) || !put_text(row, "date", last->date) ||
        !put_text(row, "state", last->state) || !put_int(row, "tries", last->tries) ||
        !put_int(row, "next", last->next) || !put_int(row, "changed", last->changed) ||
        !put_text(row, "trouble", last->trouble))
        to->failed = true;
}

static bool put_mornings(json_object *garden, const struct db_keeper *keeper)
{
    struct sink to = { .list = put_list(garden, "mornings") };
    struct db_record *record = db_keeper_record(keeper);

    if (!to.list)
        return false;
    if (record && db_record_last_mornings(record, put_morning, &to) != DB_OK)
        return put_text(garden, "trouble", db_record_trouble(record));
    return !to.failed;
}

static bool put_feeds(json_object *garden, struct db_keeper *keeper)
{
    json_object *list = put_list(garden, "feeds");
    bool fine = list != NULL;

    for (int i = 0; fine && i < DB_READY_COUNT; i++) {
        struct db_ready_bytes *feed = db_keeper_feed(keeper, (enum db_ready_feed) i);
        if (!feed)
            continue;
        json_object *row = put_row(list);
        fine = row && put_text(row, "feed", feed_names[i]) && put_text(row, "name", feed->name) &&
               put_size(row, "bytes", feed->length) && put_size(row, "packed", feed->packed_length) &&
               put_size(row, "events", db_report_events(feed)) && put_text(row, "etag", feed->etag) &&
               put_int(row, "modified", feed->modified);
        db_ready_release(feed);
    }
    return fine;
}

static bool put_mistakes(json_object *garden, const struct db_mistakes *mistakes)
{
    json_object *list = put_list(garden, "mistakes");
    const struct db_mistake *m;
    bool fine = list && put_size(garden, "mistake_count", mistakes ? db_mistakes_count(mistakes) : 0);

    for (size_t i = 0; fine && mistakes && (m = db_mistakes_at(mistakes, i)) != NULL; i++) {
        json_object *row = put_row(list);
        fine = row && put_text(row, "file", m->at.file) && put_int(row, "line", m->at.line) &&
               put_int(row, "column", m->at.column) && put_text(row, "what", m->what) &&
               put_text(row, "instead", m->instead) && put_flag(row, "advice", m->advice) &&
               (m->at.text ? put_part(row, "text", m->at.text, strcspn(m->at.text, "\r\n")) : put_null(row, "text"));
    }
    return fine;
}

/* Only where there is any. */
static bool put_trouble(json_object *garden, const struct db_keeper *keeper)
{
    const char *trouble = db_keeper_trouble(keeper);

    return !*trouble || put_text(garden, "trouble", trouble);
}

static bool put_garden(json_object *garden, struct db_keeper *keeper, int64_t now)
{
    const struct db_estate *estate = db_keeper_estate(keeper);
    int64_t evaluated = db_keeper_evaluated(keeper);

    return put_text(garden, "name", db_keeper_name(keeper)) && put_text(garden, "folder", db_keeper_folder(keeper)) &&
           put_text(garden, "state", db_keeper_state(keeper)) &&
           put_text(garden, "zone", estate ? db_garden_site(estate->garden)->zone : NULL) &&
           (evaluated ? put_int(garden, "evaluated", evaluated) : put_null(garden, "evaluated")) &&
           put_jobs(garden, keeper) && put_forecast(garden, keeper, now) && put_mornings(garden, keeper) &&
           put_published(garden, db_keeper_house(keeper), keeper) && put_feeds(garden, keeper) &&
           put_mistakes(garden, db_keeper_mistakes(keeper)) && put_trouble(garden, keeper);
}

static bool put_next(json_object *to, const struct db_loop *loop)
{
    json_object *list = put_list(to, "next");
    const char *name;
    int64_t at;
    bool fine = list != NULL;

    for (size_t i = 0; fine && db_loop_next(loop, i, &name, &at); i++) {
        json_object *row = put_row(list);
        fine = row && put_text(row, "name", name) && put_int(row, "at", (at + 999) / 1000);
    }
    return fine;
}

static bool put_house(json_object *to, const struct db_house *house, int64_t started)
{
    int64_t now = db_loop_wall(house->loop) / 1000;
    json_object *gardens;
    bool fine = put_text(to, "version", DB_VERSION) && put_int(to, "now", now) && put_int(to, "started", started) &&
                put_int(to, "wakes", (int64_t) db_loop_wakes(house->loop)) &&
                put_flag(to, "flooded", db_loop_flooded(house->loop)) &&
                put_size(to, "errands", house->courier ? db_courier_under_way(house->courier) : 0) &&
                put_next(to, house->loop) && (gardens = put_list(to, "gardens")) != NULL;

    for (size_t i = 0; fine && i < house->keeper_count; i++) {
        json_object *garden = put_row(gardens);
        fine = garden && put_garden(garden, house->keepers[i], now);
    }
    return fine;
}

char *db_report_json(const struct db_house *house, int64_t started, size_t *ret_length)
{
    json_object *report = json_object_new_object();
    char *copy = NULL;

    if (report && put_house(report, house, started)) {
        size_t length = 0;
        const char *text = json_object_to_json_string_length(
            report, JSON_C_TO_STRING_PRETTY | JSON_C_TO_STRING_SPACED | JSON_C_TO_STRING_NOSLASHESCAPE, &length);
        copy = text ? malloc(length + 2) : NULL;
        if (copy) {
            memcpy(copy, text, length);
            copy[length] = '\n';
            copy[length + 1] = '\0';
            *ret_length = length + 1;
        }
    }
    (void) json_object_put(report);
    return copy;
}
