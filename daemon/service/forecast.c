#include "service/fetch.h"

#include "read/source.h"
#include "service/log.h"
#include "service/told.h"

#include <sys/random.h>

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

static const size_t arena_limit = (size_t) 64 << 20;
enum { DAY = 24 * 3600 };

static struct db_fetch *find(const struct db_forecasts *all, const struct db_keeper *keeper)
{
    struct db_fetch *fetch = all->first;

    while (fetch && fetch->keeper != keeper)
        fetch = fetch->next;
    return fetch;
}

static struct db_fetch *add(struct db_forecasts *all, struct db_keeper *keeper)
{
    struct db_fetch *fetch = calloc(1, sizeof *fetch);

    if (!fetch)
        return NULL;
    fetch->all = all;
    fetch->keeper = keeper;
    fetch->timer = db_timer_new(all->house->loop, "forecast", db_fetch_due, fetch);
    if (!fetch->timer) {
        free(fetch);
        return NULL;
    }
    fetch->next = all->first;
    all->first = fetch;
    return fetch;
}

/* Once a day, what was measured of the days that were forecast. */
static void keep_observed(struct db_fetch *fetch, const struct db_estate *estate, struct db_arena *arena)
{
    struct db_record *record = db_keeper_record(fetch->keeper);
    const int64_t day = db_fetch_now(fetch->all) / DAY;

    if (fetch->observed_on == day || !arena)
        return;
    bool news = false;
    const enum db_status status = db_forecast_observed(record, estate, db_fetch_now(fetch->all), arena, &news);
    if (status == DB_TROUBLE && db_record_is_busy(record))
        return; /* somebody else is writing: the next evaluation will do */
    fetch->observed_on = day;
    if (news)
        db_keeper_nudge(fetch->keeper);
    if (status == DB_TROUBLE)
        db_log(DB_LOG_ERROR, "%s: what was measured was not kept: %s", db_keeper_name(fetch->keeper),
               db_record_trouble(record));
}

/* A garden was read or worked out anew: its first asking, another source, another place. Where what is asked is the same
 * the timer goes on. */
static void look(struct db_fetch *fetch)
{
    struct db_forecasts *all = fetch->all;
    const struct db_estate *estate = db_keeper_estate(fetch->keeper);
    struct db_arena *arena;

    if (!estate)
        return;
    if (!estate->source) {
        db_timer_stop(fetch->timer);
        fetch->due = 0;
        fetch->title[0] = '\0';
        return;
    }
    arena = db_arena_new(arena_limit);
    const char *url = arena ? db_fetch_address(estate, arena) : NULL;
    const bool same = *fetch->title && url && fetch->asked_url && strcmp(url, fetch->asked_url) == 0;
    if (url && !same) {
        free(fetch->asked_url);
        fetch->asked_url = strdup(url);
        free(fetch->found_url);
        fetch->found_url = NULL;
    }
    keep_observed(fetch, estate, arena);
    (void) db_arena_free(arena);
    (void) snprintf(fetch->title, sizeof fetch->title, "%s", estate->source->title);
    if (same)
        return;
    fetch->failures = 0;
    if (all->busy == fetch)
        fetch->outdated = true;
    else
        db_fetch_plan(fetch);
}

static void evaluated(void *context, struct db_keeper *keeper, unsigned which)
{
    struct db_fetch *fetch = find(context, keeper);

    (void) which;
    if (fetch)
        look(fetch);
}

static void drop(struct db_forecasts *all, const struct db_keeper *keeper)
{
    struct db_fetch *fetch = find(all, keeper);

    if (!fetch)
        return;
    for (struct db_fetch **at = &all->first; *at; at = &(*at)->next)
        if (*at == fetch) {
            *at = fetch->next;
            break;
        }
    fetch->timer = db_timer_free(fetch->timer);
    fetch->keeper = NULL;
    if (all->busy != fetch) /* otherwise its answer frees it */
        db_fetch_free(fetch);
}

static void keeper_came(void *context, struct db_keeper *keeper, bool came)
{
    struct db_forecasts *all = context;
    struct db_fetch *fetch;

    if (!came) {
        drop(all, keeper);
        return;
    }
    fetch = add(all, keeper);
    if (!fetch || db_keeper_on_change(keeper, evaluated, all) != DB_OK)
        db_log(DB_LOG_ERROR, "%s: no forecast: there is no memory left", db_keeper_name(keeper));
    else
        look(fetch);
}

/* What the keepers ask at each evaluation. */
static const struct db_told *told_of(void *context, struct db_keeper *keeper, const struct db_estate *estate,
                                     struct db_arena *arena)
{
    const struct db_forecasts *all = context;
    struct db_mistakes *mistakes = db_mistakes_new(arena);
    const struct db_told *told = NULL;
    enum db_status status = DB_FULL;

    if (!estate->source)
        return NULL;
    if (mistakes)
        status = db_forecast_told(db_keeper_record(keeper), estate, db_fetch_now(all), arena, mistakes, &told);
    if (status == DB_TROUBLE || status == DB_FULL)
        db_log(DB_LOG_ERROR, "%s: the stored forecast cannot be used: %s", db_keeper_name(keeper),
               status == DB_FULL ? "there is no memory left" : db_record_trouble(db_keeper_record(keeper)));
    return status == DB_OK ? told : NULL;
}

struct db_forecasts *db_forecasts_new(struct db_house *house)
{
    struct db_forecasts *all = calloc(1, sizeof *all);

    if (!all)
        return NULL;
    all->house = house;
    if (getrandom(&all->random, sizeof all->random, 0) != (ssize_t) sizeof all->random)
        all->random = (uint64_t) db_loop_wall(house->loop);
    if (db_house_on_keeper(house, keeper_came, all) != DB_OK) {
        free(all);
        return NULL;
    }
    house->ask_told = told_of;
    house->told_context = all;
    house->forecasts = all;
    for (size_t i = 0; i < house->keeper_count; i++)
        keeper_came(all, house->keepers[i], true);
    return all;
}

struct db_forecasts *db_forecasts_free(struct db_forecasts *all)
{
    if (!all)
        return NULL;
    if (all->busy && !all->busy->keeper) /* of a garden that went away: in no list any more */
        db_fetch_free(all->busy);
    while (all->first) {
        struct db_fetch *fetch = all->first;

        all->first = fetch->next;
        db_fetch_free(fetch);
    }
    free(all);
    return NULL;
}

void db_forecasts_seed(struct db_forecasts *all, uint64_t seed)
{
    all->random = seed;
}

bool db_forecasts_about(const struct db_forecasts *all, const struct db_keeper *keeper, struct db_fetching *ret)
{
    const struct db_fetch *fetch = all ? find(all, keeper) : NULL;

    if (!fetch || !*fetch->title)
        return false;
    *ret = (struct db_fetching){ fetch->title, fetch->asked, fetch->due, fetch->failures, fetch->trouble };
    return true;
}
