/* One garden's fetching of forecasts: asking, patience, and what becomes of an answer. */
#ifndef DB_SERVICE_FETCH_H
#define DB_SERVICE_FETCH_H

#include "service/forecast.h"

/* One garden's fetching. */
struct db_fetch {
    struct db_forecasts *all;
    struct db_keeper *keeper; /* NULL: the garden is gone, an answer under way is dropped */
    struct db_timer *timer;
    struct db_fetch *next;
    char *asked_url, *found_url; /* what the source is asked; what its first answer named; malloc'd */
    int64_t found_at;
    int64_t asked, due;  /* unix seconds */
    int64_t observed_on; /* day, since 1970 */
    uint32_t failures;
    bool waiting, finding; /* for its turn; the request under way asks where to ask */
    bool outdated;         /* the request under way asks for what is not wanted any more */
    char title[96], trouble[256];
};

/* All of them, and the one request that may be under way. */
struct db_forecasts {
    struct db_house *house;
    struct db_fetch *first;
    struct db_fetch *busy; /* the one request under way */
    uint64_t random;
};

/* Unix seconds. */
int64_t db_fetch_now(const struct db_forecasts *all);
void db_fetch_free(struct db_fetch *fetch);
/* What is asked for a garden, as the record knows it by; the estate has a source. NULL: the arena is full. */
const char *db_fetch_address(const struct db_estate *estate, struct db_arena *arena);
/* When to ask first: soon, unless the stored answer still holds. */
void db_fetch_plan(struct db_fetch *fetch);
/* The timer: asks, or waits for its turn while another garden's request is under way. */
void db_fetch_due(void *context);

#endif
