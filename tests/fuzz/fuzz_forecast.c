/* Answers of weather services: the first byte chooses a description, the rest is the answer. Promises held: no crash, no
 * endless run; a refusal says why; days that are told are in order, near today, and can be true. */
#include "target.h"

#include "base/text.h"
#include "read/source.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static const char *const ids[] = { "open-meteo", "met-norway", "us-weather-service", "hourly", "table" };
enum { IDS = sizeof ids / sizeof ids[0] };

static void broken(const char *promise)
{
    (void) fprintf(stderr, "broken: %s\n", promise);
    abort();
}

/* Read once: they are not what is fuzzed here. */
static const struct db_source *source_at(size_t index)
{
    static const struct db_source *sources[IDS];
    static struct db_arena *arena;

    if (!arena) {
        struct db_mistakes *mistakes;

        arena = db_arena_new((size_t) 64 << 20);
        mistakes = db_mistakes_new(arena);
        for (size_t i = 0; i < IDS; i++)
            if (db_source_read(ids[i], (struct db_place){ .file = "asked" }, "rules", "tests/fuzz/sources.ini", arena,
                               mistakes, &sources[i]) != DB_OK)
                broken("the descriptions are right");
    }
    return sources[index % IDS];
}

static void check(const struct db_answer *answer, int32_t today)
{
    if (!answer->told.count)
        broken("an answer that is taken tells a day");
    for (size_t i = 0; i < answer->told.count; i++) {
        const struct db_told_day *day = &answer->told.days[i];
        const double *f = day->figures;

        if (day->date.day < today - 3 || day->date.day > today + 20)
            broken("days are near today");
        if (i && day->date.day <= answer->told.days[i - 1].date.day)
            broken("days are in order");
        if (isnan(f[DB_FIGURE_LOW]) != isnan(f[DB_FIGURE_HIGH]) || f[DB_FIGURE_LOW] > f[DB_FIGURE_HIGH] ||
            f[DB_FIGURE_LOW] < -60 || f[DB_FIGURE_HIGH] > 60)
            broken("temperatures can be true");
        if (f[DB_FIGURE_RAIN] < 0 || f[DB_FIGURE_RAIN] > 500 || f[DB_FIGURE_WIND] < 0 || f[DB_FIGURE_WIND] > 120)
            broken("rain and wind can be true");
    }
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    static const int32_t today = 20605; /* 1 June 2026 */
    const struct db_site site = { .latitude = 52.1, .longitude = -1.9, .zone = "Europe/London" };
    const int64_t now = (int64_t) today * 86400 + 9 * 3600;
    const struct db_asker asker = { .site = &site, .name = "answer", .fetched = now, .now = now };
    struct db_arena *arena = db_arena_new((size_t) 64 << 20);
    struct db_mistakes *mistakes = arena ? db_mistakes_new(arena) : NULL;
    const struct db_source *source = source_at(size ? data[0] : 0);
    char *body = mistakes ? db_arena_text(arena, (const char *) data + (size > 0), size ? size - 1 : 0) : NULL;
    const size_t length = size ? size - 1 : 0;
    struct db_answer answer;
    const char *url;

    if (body) {
        const enum db_status status = db_forecast_read(source, &asker, body, length, arena, mistakes, &answer);
        const struct db_mistake *m;
        size_t at;

        if (status == DB_OK)
            check(&answer, today);
        else if (status == DB_MISTAKEN && !db_mistakes_count(mistakes))
            broken("a refusal says why");
        for (size_t i = 0; (m = db_mistakes_at(mistakes, i)) != NULL; i++)
            if (!db_text_utf8(m->what, strlen(m->what), &at))
                broken("messages are UTF-8");
        if (source->find && db_forecast_found(source, "answer", body, length, arena, mistakes, &url) == DB_OK &&
            strncmp(url, "http", 4) != 0)
            broken("an address is one of the web");
    }
    (void) db_arena_free(arena);
    return 0;
}
