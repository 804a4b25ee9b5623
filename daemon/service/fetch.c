#include "service/fetch.h"

#include "base/limits.h"
#include "read/source.h"
#include "read/zone.h"
#include "service/learn.h"
#include "service/log.h"

#include <curl/curl.h>

#include <inttypes.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

enum {
    MINUTE = 60,
    HOUR = 3600,
    SOON = 5, /* seconds in which a garden without any forecast is asked for first */
    PATIENCE_FIRST = 2 * MINUTE,
    PATIENCE_MOST = 6 * HOUR,
    WAIT_MOST = 24 * HOUR,  /* what Expires and Retry-After may ask for */
    FOUND_HOLDS = 24 * HOUR /* an address that was looked up is looked up again */
};
static const size_t arena_limit = (size_t) 64 << 20;

int64_t db_fetch_now(const struct db_forecasts *all)
{
    return db_loop_wall(all->house->loop) / 1000;
}

/* 0 .. most - 1 (splitmix64: Steele, Lea and Flood 2014). */
static int64_t random_below(struct db_forecasts *all, int64_t most)
{
    uint64_t z = all->random += UINT64_C(0x9E3779B97F4A7C15);

    z = (z ^ (z >> 30)) * UINT64_C(0xBF58476D1CE4E5B9);
    z = (z ^ (z >> 27)) * UINT64_C(0x94D049BB133111EB);
    z ^= z >> 31;
    return most > 0 ? (int64_t) (z % (uint64_t) most) : 0;
}

static void ask_after(struct db_fetch *fetch, int64_t seconds)
{
    if (seconds < 1)
        seconds = 1;
    fetch->due = db_fetch_now(fetch->all) + seconds;
    db_timer_after(fetch->timer, seconds * 1000);
}

void db_fetch_free(struct db_fetch *fetch)
{
    fetch->timer = db_timer_free(fetch->timer);
    free(fetch->asked_url);
    free(fetch->found_url);
    free(fetch);
}

/* What is asked for a garden, as the record knows it by. */
const char *db_fetch_address(const struct db_estate *estate, struct db_arena *arena)
{
    const struct db_source *source = estate->source;

    return db_source_address(source, source->find ? source->find : source->url, db_garden_site(estate->garden), arena);
}

static const struct db_source *source_of(const struct db_fetch *fetch)
{
    const struct db_estate *estate = fetch->keeper ? db_keeper_estate(fetch->keeper) : NULL;

    return estate ? estate->source : NULL;
}

/* Seconds until the next regular asking: the plan's time, not sooner than the source allows, and some random minutes, so
 * that gardens do not all ask on the hour. */
static int64_t regular(struct db_fetch *fetch)
{
    const struct db_estate *estate = db_keeper_estate(fetch->keeper);
    int64_t minutes = estate->outlets.forecast.every;

    if (minutes < estate->source->least)
        minutes = estate->source->least;
    return minutes * MINUTE + random_below(fetch->all, minutes * MINUTE / 6);
}

/* Not before an answer that still holds has expired. */
static int64_t until(const struct db_fetch *fetch, int64_t expires)
{
    const int64_t left = expires - db_fetch_now(fetch->all);

    return left < 0 ? 0 : left > WAIT_MOST ? WAIT_MOST : left;
}

static void next_regular(struct db_fetch *fetch, int64_t expires)
{
    const int64_t seconds = regular(fetch), held = until(fetch, expires);

    ask_after(fetch, seconds > held ? seconds : held + random_below(fetch->all, 5 * MINUTE));
}

static void start_waiting(struct db_forecasts *all);

/* The asking is over, this way or that: the next garden's turn. */
static void leave(struct db_fetch *fetch)
{
    struct db_forecasts *all = fetch->all;

    if (all->busy == fetch)
        all->busy = NULL;
    start_waiting(all);
}

/* Waits twice as long after each failure, at least as long as the service asks for; half of it is chance, so that all
 * who failed together do not come back together. One line when a streak begins. */
static void fail(struct db_fetch *fetch, const char *trouble, int64_t at_least)
{
    int64_t patience = PATIENCE_FIRST;

    for (uint32_t i = 0; i < fetch->failures && patience < PATIENCE_MOST; i++)
        patience *= 2;
    if (patience > PATIENCE_MOST)
        patience = PATIENCE_MOST;
    patience = patience / 2 + random_below(fetch->all, patience / 2 + 1);
    if (at_least > WAIT_MOST)
        at_least = WAIT_MOST;
    if (patience < at_least)
        patience = at_least + random_below(fetch->all, MINUTE);
    if (!fetch->failures++)
        db_log(DB_LOG_WARNING, "%s: no new forecast from %s: %s; it is asked again until one comes",
               db_keeper_name(fetch->keeper), fetch->title, trouble);
    (void) snprintf(fetch->trouble, sizeof fetch->trouble, "%s", trouble);
    ask_after(fetch, patience);
    leave(fetch);
}

static void succeed(struct db_fetch *fetch, int64_t expires)
{
    if (fetch->failures)
        db_log(DB_LOG_NOTICE, "%s: %s answers again after %" PRIu32 " failure%s", db_keeper_name(fetch->keeper),
               fetch->title, fetch->failures, fetch->failures == 1 ? "" : "s");
    fetch->failures = 0;
    fetch->trouble[0] = '\0';
    next_regular(fetch, expires);
    leave(fetch);
}

static int64_t http_date(const char *text)
{
    const time_t at = *text ? curl_getdate(text, NULL) : -1;

    return at > 0 ? (int64_t) at : 0;
}

static bool same_figure(double a, double b)
{
    return (isnan(a) && isnan(b)) || fabs(a - b) < 1e-9;
}

static const struct db_told_day *day_of(const struct db_told *told, struct db_date date)
{
    for (size_t i = 0; i < told->count; i++)
        if (told->days[i].date.day == date.day)
            return &told->days[i];
    return NULL;
}

/* Whether the answer says of today and the days after it what is in force already. Of the rest of today only what goes
 * beyond it is news. */
static bool same_days(const struct db_told *in_force, const struct db_answer *answer, struct db_date today)
{
    const struct db_told *told = &answer->told;

    if (!in_force || !in_force->count || in_force->stale != told->stale ||
        in_force->days[in_force->count - 1].date.day != told->days[told->count - 1].date.day)
        return false;
    for (size_t i = 0; i < told->count; i++) {
        const double *new = told->days[i].figures;
        const struct db_told_day *old = day_of(in_force, told->days[i].date);

        if (told->days[i].date.day < today.day)
            continue;
        if (!old)
            return false;
        if (told->days[i].date.day == today.day && answer->part_of_today) {
            if (!(new[DB_FIGURE_LOW] >= old->figures[DB_FIGURE_LOW]) ||
                !(new[DB_FIGURE_HIGH] <= old->figures[DB_FIGURE_HIGH]) ||
                new[DB_FIGURE_RAIN] > old->figures[DB_FIGURE_RAIN])
                return false;
            continue;
        }
        for (int f = 0; f < DB_FIGURE_COUNT; f++)
            if (!same_figure(new[f], old->figures[f]))
                return false;
    }
    return true;
}

/* What was left out of an answer, in one line. */
static void log_advice(const struct db_fetch *fetch, const struct db_mistakes *mistakes)
{
    const size_t count = db_mistakes_advice(mistakes);
    const struct db_mistake *first = db_mistakes_at(mistakes, 0);

    if (count == 1 && first)
        db_log(DB_LOG_NOTICE, "%s: the forecast from %s: %s", db_keeper_name(fetch->keeper), fetch->title, first->what);
    else if (count && first)
        db_log(DB_LOG_NOTICE, "%s: the forecast from %s: %s (and %zu more like it)", db_keeper_name(fetch->keeper),
               fetch->title, first->what, count - 1);
}

/* Keeps an answer that could be read, and has the garden worked out anew if it says anything else than before. */
static void keep(struct db_fetch *fetch, const struct db_reply *reply, const struct db_answer *answer,
                 struct db_date today, int64_t now)
{
    struct db_record *record = db_keeper_record(fetch->keeper);
    const struct db_estate *estate = db_keeper_estate(fetch->keeper);
    const struct db_told *told = &answer->told;
    const int64_t expires = http_date(reply->expires);
    const struct db_answer_row row = { .source = estate->source->id,
                                       .url = fetch->asked_url,
                                       .fetched = now,
                                       .issued = told->issued,
                                       .expires = expires,
                                       .etag = reply->etag,
                                       .last_modified = reply->last_modified,
                                       .body = reply->body,
                                       .length = reply->length };
    const bool news = !same_days(estate->told, answer, today);
    enum { DAYS_IN_FULL = 60 }; /* after that the last word about a day is enough */

    enum db_status status = db_record_begin(record);
    if (status == DB_OK) {
        status = db_record_put_answer(record, &row, told, db_date_add(today, -DAYS_IN_FULL));
        if (status == DB_OK)
            status = db_learn_said(record, estate, row.url, told, today);
        status = db_record_end(record, status);
    }
    if (status != DB_OK) {
        fail(fetch, db_record_trouble(record), 0);
        return;
    }
    if (news)
        db_keeper_nudge(fetch->keeper);
    succeed(fetch, expires);
}

static void read_answer(struct db_fetch *fetch, const struct db_reply *reply)
{
    const struct db_estate *estate = db_keeper_estate(fetch->keeper);
    const struct db_site *site = db_garden_site(estate->garden);
    const int64_t now = db_fetch_now(fetch->all);
    const struct db_asker asker = { .site = site, .name = estate->source->title, .fetched = now, .now = now };
    struct db_arena *arena = db_arena_new(arena_limit);
    struct db_mistakes *mistakes = arena ? db_mistakes_new(arena) : NULL;
    struct db_answer answer;
    enum db_status status = DB_FULL;

    if (mistakes)
        status = db_forecast_read(estate->source, &asker, reply->body, reply->length, arena, mistakes, &answer);
    if (status == DB_OK) {
        log_advice(fetch, mistakes);
        keep(fetch, reply, &answer, db_zone_day(db_zone_find(site->zone), now), now);
    } else {
        const struct db_mistake *first = status == DB_MISTAKEN ? db_mistakes_at(mistakes, 0) : NULL;
        char what[256];

        for (size_t i = 0; first && first->advice; i++)
            first = db_mistakes_at(mistakes, i + 1);
        (void) snprintf(what, sizeof what, "the answer cannot be used: %s",
                        first ? first->what : "it does not fit into memory");
        fail(fetch, what, (int64_t) estate->source->least * MINUTE);
    }
    (void) db_arena_free(arena);
}

static void ask(struct db_fetch *fetch);

/* scheme://host of an address, its length. */
static size_t origin_length(const char *url)
{
    const char *host = strstr(url, "://");

    return host ? (size_t) (host + 3 - url) + strcspn(host + 3, "/?#") : 0;
}

/* The address that the first answer names must be the same server's: an answer cannot send us elsewhere. */
static void read_found(struct db_fetch *fetch, const struct db_reply *reply)
{
    const struct db_source *source = source_of(fetch);
    struct db_arena *arena = db_arena_new(arena_limit);
    struct db_mistakes *mistakes = arena ? db_mistakes_new(arena) : NULL;
    const char *url = NULL;
    enum db_status status = DB_FULL;

    if (mistakes)
        status = db_forecast_found(source, source->title, reply->body, reply->length, arena, mistakes, &url);
    const size_t origin = origin_length(fetch->asked_url);
    free(fetch->found_url);
    fetch->found_url = NULL;
    if (status == DB_OK && (origin_length(url) != origin || strncmp(url, fetch->asked_url, origin) != 0)) {
        fail(fetch, "its first answer names an address of another server", PATIENCE_MOST);
    } else if (status != DB_OK || !(fetch->found_url = strdup(url))) {
        const struct db_mistake *first = status == DB_MISTAKEN ? db_mistakes_at(mistakes, 0) : NULL;
        char what[256];

        (void) snprintf(what, sizeof what, "its first answer cannot be used: %s",
                        first ? first->what : "it does not fit into memory");
        fail(fetch, what, (int64_t) source->least * MINUTE);
    } else {
        fetch->found_at = db_fetch_now(fetch->all);
        ask(fetch);
    }
    (void) db_arena_free(arena);
}

static void read_same(struct db_fetch *fetch, const struct db_reply *reply)
{
    struct db_record *record = db_keeper_record(fetch->keeper);
    const int64_t expires = http_date(reply->expires);

    if (db_record_fresh_answer(record, source_of(fetch)->id, db_fetch_now(fetch->all), expires) != DB_OK)
        fail(fetch, db_record_trouble(record), 0);
    else
        succeed(fetch, expires);
}

static void refused(struct db_fetch *fetch, int status, int64_t retry_after)
{
    /* Too many requests and a server's own trouble pass; whoever is told that he asks wrongly waits long. */
    const bool passes = status == 429 || status == 408 || status >= 500;
    char what[64];

    (void) snprintf(what, sizeof what, "it answers with status %d", status);
    if (!passes) { /* the place that was looked up may be gone */
        free(fetch->found_url);
        fetch->found_url = NULL;
    }
    fail(fetch, what, retry_after > 0 ? retry_after : passes ? 0 : PATIENCE_MOST / 2);
}

static void returned(void *context, const struct db_reply *reply)
{
    struct db_fetch *fetch = context;

    if (!fetch->keeper) { /* the garden went away meanwhile */
        struct db_forecasts *all = fetch->all;

        all->busy = NULL;
        db_fetch_free(fetch);
        start_waiting(all);
        return;
    }
    const bool outdated = fetch->outdated;

    fetch->outdated = false;
    if (!source_of(fetch)) {
        leave(fetch);
    } else if (outdated) {
        db_fetch_plan(fetch);
        leave(fetch);
    } else if (!reply->arrived) {
        fail(fetch, reply->trouble, 0);
    } else if (reply->status == 304) {
        read_same(fetch, reply);
    } else if (reply->status != 200 && reply->status != 203) {
        refused(fetch, reply->status, reply->retry_after);
    } else if (fetch->finding) {
        read_found(fetch, reply);
    } else {
        read_answer(fetch, reply);
    }
}

static void send_off(struct db_fetch *fetch, const struct db_answer_row *last)
{
    const struct db_estate *estate = db_keeper_estate(fetch->keeper);
    const struct db_source *source = estate->source;
    const char *contact = estate->outlets.forecast.contact;
    const char *headers[DB_SOURCE_WORDS + 2] = { NULL };
    char agent[512], why[256] = "";
    size_t count = 0;

    (void) snprintf(agent, sizeof agent, "User-Agent: dewbell/" DB_VERSION "%s%s%s", contact ? " (" : "",
                    contact ? contact : "", contact ? ")" : "");
    headers[count++] = agent;
    for (size_t i = 0; source->headers[i]; i++)
        headers[count++] = source->headers[i];
    fetch->finding = source->find && !fetch->found_url;
    const bool again = last && !fetch->finding;
    const struct db_errand errand = {
        .url = source->find && fetch->found_url ? fetch->found_url : fetch->asked_url,
        .headers = headers,
        .if_none_match = again && *last->etag ? last->etag : NULL,
        .if_modified_since = again && *last->last_modified ? last->last_modified : NULL,
        .most_bytes = DB_LIMIT_FORECAST,
        .seconds = 20,
        .ca_file = estate->outlets.forecast.ca_file,
    };

    fetch->all->busy = fetch;
    fetch->asked = db_fetch_now(fetch->all);
    fetch->due = 0;
    if (db_courier_send(fetch->all->house->courier, &errand, returned, fetch, why) != DB_OK)
        fail(fetch, why, 0);
}

/* Writes the address down and asks, if nobody else is being asked. */
static void ask(struct db_fetch *fetch)
{
    const struct db_estate *estate = db_keeper_estate(fetch->keeper);
    const struct db_source *source = estate->source;
    struct db_arena *arena = db_arena_new(arena_limit);
    struct db_answer_row last = { .url = "" };
    const char *url = NULL;
    enum db_status status = DB_FULL;

    if (arena)
        url =
            db_source_address(source, source->find ? source->find : source->url, db_garden_site(estate->garden), arena);
    if (url && (!fetch->asked_url || strcmp(url, fetch->asked_url) != 0)) {
        free(fetch->asked_url);
        free(fetch->found_url);
        fetch->found_url = NULL;
        fetch->asked_url = strdup(url);
    }
    if (fetch->found_url && db_fetch_now(fetch->all) - fetch->found_at > FOUND_HOLDS) {
        free(fetch->found_url);
        fetch->found_url = NULL;
    }
    if (url && fetch->asked_url)
        status = db_record_answer(db_keeper_record(fetch->keeper), source->id, arena, &last);
    const bool same = status == DB_OK && strcmp(last.url, fetch->asked_url) == 0;
    if (status == DB_OK || status == DB_ABSENT)
        send_off(fetch, same ? &last : NULL);
    else
        fail(fetch, status == DB_FULL ? "there is no memory left" : db_record_trouble(db_keeper_record(fetch->keeper)),
             0);
    (void) db_arena_free(arena);
}

void db_fetch_due(void *context)
{
    struct db_fetch *fetch = context;

    if (!source_of(fetch))
        return;
    if (fetch->all->busy)
        fetch->waiting = true;
    else
        ask(fetch);
}

static void start_waiting(struct db_forecasts *all)
{
    for (struct db_fetch *fetch = all->first; fetch && !all->busy; fetch = fetch->next)
        if (fetch->waiting) {
            fetch->waiting = false;
            db_fetch_due(fetch);
        }
}

void db_fetch_plan(struct db_fetch *fetch)
{
    const struct db_estate *estate = db_keeper_estate(fetch->keeper);
    struct db_arena *arena = db_arena_new(arena_limit);
    struct db_answer_row last;
    int64_t seconds = 1 + random_below(fetch->all, SOON);
    const char *url =
        arena ? db_source_address(estate->source, estate->source->find ? estate->source->find : estate->source->url,
                                  db_garden_site(estate->garden), arena)
              : NULL;

    if (url && db_record_answer(db_keeper_record(fetch->keeper), estate->source->id, arena, &last) == DB_OK &&
        strcmp(last.url, url) == 0) {
        const int64_t age = db_fetch_now(fetch->all) - last.fetched;
        const int64_t wait = regular(fetch) - (age > 0 ? age : 0), held = until(fetch, last.expires);

        seconds += random_below(fetch->all, MINUTE);
        if (wait > seconds)
            seconds = wait;
        if (held > seconds)
            seconds = held + random_below(fetch->all, MINUTE);
    }
    ask_after(fetch, seconds);
    (void) db_arena_free(arena);
}
