/* The examples of docs/plan.md are one plan: every block that follows "In `FILE`:" is written into that file, and the
 * whole must load without a mistake. */
#include "base/limits.h"
#include "read/read.h"

#include <sys/stat.h>
#include <unistd.h>

#include <setjmp.h>
#include <stdarg.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "base/banned.h"

enum { ROOM = 256, FILES_MOST = 32 };

struct example {
    char folder[ROOM];
    char names[FILES_MOST][ROOM];
    size_t count;
};

static void path_of(const struct example *e, const char *name, char path[2 * ROOM])
{
    assert_true(snprintf(path, 2 * ROOM, "%s/%s", e->folder, name) < 2 * ROOM);
}

static FILE *begin(struct example *e, const char *name, size_t length)
{
    char path[2 * ROOM];

    assert_true(e->count < FILES_MOST && length < ROOM);
    snprintf(e->names[e->count], ROOM, "%.*s", (int) length, name);
    path_of(e, e->names[e->count], path);
    char *slash = strrchr(path, '/');
    *slash = '\0';
    (void) mkdir(path, 0700); /* it may be there */
    *slash = '/';
    FILE *file = fopen(path, "we");
    assert_non_null(file);
    e->count++;
    return file;
}

/* The name in the last "In `NAME`:" of a line, NULL if there is none. */
static const char *named(const char *line, size_t *ret_length)
{
    const char *in = NULL, *end;

    for (const char *at = line; (at = strstr(at, "In `")); at++)
        in = at + 4;
    end = in ? strstr(in, "`:\n") : NULL;
    *ret_length = end ? (size_t) (end - in) : 0;
    return end ? in : NULL;
}

static void take_out(struct example *e)
{
    FILE *page = fopen("docs/plan.md", "re"), *file = NULL;
    char line[1024], name[ROOM] = "";

    assert_non_null(page);
    while (fgets(line, sizeof line, page)) {
        size_t length;
        const char *found = named(line, &length);
        const bool code = strncmp(line, "    ", 4) == 0;

        if (found)
            snprintf(name, sizeof name, "%.*s", (int) length, found);
        if (code && !file && *name)
            file = begin(e, name, strlen(name));
        else if (file && !code && line[0] != '\n') {
            assert_int_equal(fclose(file), 0);
            file = NULL;
            if (!found)
                name[0] = '\0';
        }
        if (file)
            assert_true(fputs(code ? line + 4 : line, file) >= 0);
    }
    if (file)
        assert_int_equal(fclose(file), 0);
    fclose(page);
}

static void clear(const struct example *e)
{
    char path[2 * ROOM];

    for (size_t i = 0; i < e->count; i++) {
        path_of(e, e->names[i], path);
        (void) unlink(path);
        *strrchr(path, '/') = '\0';
        if (strcmp(path, e->folder) != 0)
            (void) rmdir(path);
    }
    (void) rmdir(e->folder);
}

static void the_examples_load(void **state)
{
    struct example e = { .folder = "/tmp/dewbell-test-XXXXXX" };
    struct db_arena *arena = db_arena_new((size_t) 64 << 20);
    struct db_mistakes *mistakes = db_mistakes_new(arena);
    struct db_estate estate;
    struct db_weather *weather;
    struct db_date today;
    char path[2 * ROOM];

    (void) state;
    assert_non_null(mkdtemp(e.folder));
    take_out(&e);
    path_of(&e, "garden.ini", path);
    const enum db_status status = db_estate_read(path, "rules", arena, mistakes, &estate);
    for (size_t i = 0; db_mistakes_at(mistakes, i); i++) {
        const struct db_mistake *m = db_mistakes_at(mistakes, i);

        print_error("%s:%u:%u: %s; %s\n", m->at.file, m->at.line, m->at.column, m->what, m->instead);
    }
    clear(&e);
    assert_int_equal(status, DB_OK);
    assert_null(db_mistakes_at(mistakes, 0)); /* no advice either */
    assert_int_equal(e.count, 10);
    assert_int_equal(estate.outlets.count, 4);
    assert_true(estate.outlets.morning.wanted);
    assert_int_equal(db_garden_beds(estate.garden), 4);
    assert_int_equal(db_garden_sowings(estate.garden), 5);
    assert_non_null(db_crops_find(estate.crops, "skirret"));
    assert_string_equal(db_crops_find(estate.crops, "skirret")->source[DB_FACT_SPACING],
                        "Word of the neighbour, who has grown it for twenty years");
    assert_string_equal(db_crops_find(estate.crops, "skirret")->source[DB_FACT_THIN], "a seed packet");

    /* 18 July 2026 is a Saturday. */
    assert_int_equal(db_date_of(2026, 7, 18, &today), DB_OK);
    assert_int_equal(db_week_minutes(db_garden_week(estate.garden), today), 0);
    assert_int_equal(db_week_minutes(db_garden_week(estate.garden), db_date_add(today, 14)), 180);
    assert_int_equal(db_week_minutes(db_garden_week(estate.garden), db_date_add(today, 15)), 0);

    /* The bed that names no name, the value of an own rule, the days of both weather files. */
    assert_string_equal(db_garden_find_bed(estate.garden, "south")->name, "the south bed");
    struct db_override override;
    assert_true(db_rules_override(estate.rules, 0, &override));
    assert_string_equal(override.own, "15 min + 4 min per m * row");
    assert_int_equal(db_date_of(2026, 4, 12, &today), DB_OK);
    assert_int_equal(db_estate_weather(&estate, today, arena, mistakes, &weather), DB_OK);
    assert_int_equal(db_weather_origin(weather, db_date_add(today, -2), DB_FIGURE_LOW), DB_ORIGIN_OBSERVED);
    assert_int_equal(db_weather_origin(weather, db_date_add(today, -1), DB_FIGURE_HIGH), DB_ORIGIN_CLIMATE);
    assert_int_equal(db_weather_origin(weather, today, DB_FIGURE_LOW), DB_ORIGIN_FORECAST);
    assert_int_equal(db_weather_known(weather).day, today.day + 1);
    (void) db_arena_free(arena);
}

int main(void)
{
    const struct CMUnitTest tests[] = { cmocka_unit_test(the_examples_load) };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
