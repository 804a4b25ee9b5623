/* When a source is asked, how patiently, and what stays of its answers: a real server on loopback, real keepers and
 * courier, simulated time. Conditional requests by RFC 9110 section 13, Retry-After by its section 10.2.3, Expires by RFC
 * 9111 section 5.3. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "kit/folder.h"
#include "kit/sim_clock.h"

#include "service/forecast.h"
#include "service/log.h"
#include "service/told.h"

#include <fcntl.h>
#include <spawn.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

extern char **environ;

/* 1 June 2026, 07:00 UTC: what tests/data/forecasts/columns.json begins with. */
static const int64_t start = INT64_C(1780297200000);
enum { MINUTE = 60, HOUR = 3600 };

static const char plan[] =
    "[garden]\nname = Fen\nkey = 5a0d8b1e-3c52-4f0e-9a41-7be2f1c6d9a3\nlatitude = 52.1\nlongitude = -1.9\n"
    "zone = Europe/London\n"
    "[climate]\njanuary = 1.5 °C .. 7 °C, 60 mm\nfebruary = 1.5 °C .. 7.5 °C, 45 mm\nmarch = 2.5 °C .. 10 °C, 48 mm\n"
    "april = 4 °C .. 13 °C, 50 mm\nmay = 7 °C .. 16.5 °C, 55 mm\njune = 10 °C .. 19.5 °C, 55 mm\n"
    "july = 12 °C .. 22 °C, 52 mm\naugust = 12 °C .. 21.5 °C, 62 mm\nseptember = 9.5 °C .. 18.5 °C, 58 mm\n"
    "october = 7 °C .. 14.5 °C, 70 mm\nnovember = 4 °C .. 10 °C, 65 mm\ndecember = 2 °C .. 7.5 °C, 65 mm\n"
    "[bed north]\n[sowing carrot-1]\ncrop = carrot\nbed = north\nsown = 2026-05-25\n"
    "[forecast]\nsource = open-meteo\ncontact = fen@plot.example\nurl = http://127.0.0.1:%d/forecast\n";

struct bench {
    struct sim_clock sim;
    struct db_house house;
    struct db_forecasts *forecasts;
    struct db_keeper *keeper;
    char folder[64], file[96];
    pid_t server;
    int life, port, errors; /* errors: standard error as it was */
};

static struct bench bench;

static void write_file(const char *name, const char *text)
{
    char path[160];

    (void) snprintf(path, sizeof path, "%s/%s", bench.folder, name);
    FILE *file = fopen(path, "we");
    assert_non_null(file);
    assert_true(fputs(text, file) >= 0);
    assert_int_equal(fclose(file), 0);
}

/* Line `number` (from 0) of a file in the folder; "" beyond its end. */
static const char *line_of(const char *name, size_t number)
{
    static char line[2048];
    char path[160];
    size_t at = 0;

    (void) snprintf(path, sizeof path, "%s/%s", bench.folder, name);
    FILE *file = fopen(path, "re");
    bool there = file && fgets(line, sizeof line, file);
    for (; there && at < number; at++)
        there = fgets(line, sizeof line, file) != NULL;
    if (file)
        (void) fclose(file);
    return there ? line : "";
}

static size_t lines_of(const char *name)
{
    size_t count = 0;

    while (*line_of(name, count))
        count++;
    return count;
}

static bool busy(void *context)
{
    (void) context;
    return bench.house.courier && db_courier_under_way(bench.house.courier) > 0;
}

static void open_house(void)
{
    char trouble[256] = "";

    bench.house = (struct db_house){ .loop = db_loop_new(&bench.sim.clock), .shipped = "rules" };
    assert_non_null(bench.house.loop);
    bench.house.courier = db_courier_new(bench.house.loop);
    assert_non_null(bench.house.courier);
    bench.forecasts = db_forecasts_new(&bench.house);
    assert_non_null(bench.forecasts);
    db_forecasts_seed(bench.forecasts, 7);
    if (db_keeper_new(&bench.house, bench.file, NULL, &bench.keeper, trouble) != DB_OK)
        fail_msg("%s", trouble);
}

static void close_house(void)
{
    db_house_close(&bench.house);
    bench.house.courier = db_courier_free(bench.house.courier);
    bench.forecasts = db_forecasts_free(bench.forecasts);
    bench.house.loop = db_loop_free(bench.house.loop);
}

static void start_server(void)
{
    int in[2], out[2];
    posix_spawn_file_actions_t actions;
    char line[32] = "";
    char *words[] = { (char *) "python3", (char *) "tests/kit/weather_server.py", bench.folder,
                      (char *) "tests/data/forecasts/columns.json", NULL };

    assert_int_equal(pipe2(in, O_CLOEXEC), 0);
    assert_int_equal(pipe2(out, O_CLOEXEC), 0);
    assert_int_equal(posix_spawn_file_actions_init(&actions), 0);
    assert_int_equal(posix_spawn_file_actions_adddup2(&actions, in[0], 0), 0);
    assert_int_equal(posix_spawn_file_actions_adddup2(&actions, out[1], 1), 0);
    assert_int_equal(posix_spawnp(&bench.server, "python3", &actions, NULL, words, environ), 0);
    (void) posix_spawn_file_actions_destroy(&actions);
    (void) close(in[0]);
    (void) close(out[1]);
    bench.life = in[1];
    FILE *ready = fdopen(out[0], "r");
    assert_non_null(ready);
    assert_non_null(fgets(line, sizeof line, ready));
    (void) fclose(ready);
    bench.port = (int) strtol(line, NULL, 10);
    assert_true(bench.port > 0);
}

static int set_up(void **state)
{
    char text[sizeof plan + 16], log[96];

    (void) state;
    bench = (struct bench){ .errors = -1 };
    (void) snprintf(bench.folder, sizeof bench.folder, "/tmp/dewbell-forecast-XXXXXX");
    assert_non_null(mkdtemp(bench.folder));
    start_server();
    (void) snprintf(bench.file, sizeof bench.file, "%s/garden.ini", bench.folder);
    (void) snprintf(text, sizeof text, plan, bench.port);
    write_file("garden.ini", text);
    /* What is logged is read back. */
    (void) snprintf(log, sizeof log, "%s/log", bench.folder);
    bench.errors = dup(2);
    assert_non_null(freopen(log, "a", stderr));
    db_log_set(DB_LOG_NOTICE);
    sim_start(&bench.sim, start);
    bench.sim.busy = busy;
    return 0;
}

static int tear_down(void **state)
{
    (void) state;
    close_house();
    (void) fflush(stderr);
    (void) dup2(bench.errors, 2);
    (void) close(bench.errors);
    (void) close(bench.life);
    (void) waitpid(bench.server, NULL, 0);
    remove_tree(bench.folder);
    return 0;
}

/* Until the source was asked once more and its answer is dealt with. Returns the seconds that passed. */
static int64_t next_asking(void)
{
    const size_t before = lines_of("asked");
    const int64_t begun = bench.sim.steady;
    struct db_fetching about;

    while (lines_of("asked") == before || busy(NULL) || !db_forecasts_about(bench.forecasts, bench.keeper, &about) ||
           !about.next) {
        assert_int_equal(db_loop_turn(bench.house.loop, true), DB_OK);
        if (bench.sim.steady - begun > INT64_C(48) * HOUR * 1000)
            fail_msg("it is not asked");
    }
    return (bench.sim.steady - begun) / 1000;
}

static struct db_fetching about_now(void)
{
    struct db_fetching about;

    assert_true(db_forecasts_about(bench.forecasts, bench.keeper, &about));
    return about;
}

#define HAS(line, text)                                                                                                \
    do {                                                                                                               \
        if (!strstr(line, text))                                                                                       \
            fail_msg("no %s in %s", text, line);                                                                       \
    } while (0)

static void asked_politely(void **state)
{
    int64_t seconds;

    (void) state;
    write_file("script", "200 | ETag: \"one\" | Last-Modified: Mon, 01 Jun 2026 06:00:00 GMT\n"
                         "304\n"
                         "200 | Expires: Tue, 02 Jun 2026 05:00:00 GMT\n"
                         "304\n");
    open_house();
    seconds = next_asking();
    assert_in_range(seconds, 1, 6); /* soon, where there is nothing */
    const char *asked = line_of("asked", 0);
    HAS(asked, "\"user-agent\": \"dewbell/" DB_VERSION " (fen@plot.example)\"");
    HAS(asked, "gzip");
    assert_null(strstr(asked, "if-none-match"));
    sim_run(&bench.sim, bench.house.loop, 5000); /* the evaluation that it asked for */
    const struct db_estate *estate = db_keeper_estate(bench.keeper);
    assert_non_null(estate->told);
    assert_string_equal(estate->told->source, "Open-Meteo");
    assert_int_equal(estate->told->count, 7);
    assert_true(estate->told->days[0].figures[DB_FIGURE_LOW] == 9.1);

    const int64_t evaluated = db_keeper_evaluated(bench.keeper);
    seconds = next_asking();
    assert_in_range(seconds, 180 * MINUTE - 10, 210 * MINUTE);
    HAS(line_of("asked", 1), "\"if-none-match\": \"\\\"one\\\"\"");
    HAS(line_of("asked", 1), "\"if-modified-since\": \"Mon, 01 Jun 2026 06:00:00 GMT\"");
    assert_int_equal(about_now().failures, 0);

    seconds = next_asking(); /* the same figures again: nothing is worked out anew */
    assert_in_range(seconds, 180 * MINUTE - 10, 210 * MINUTE);
    sim_run(&bench.sim, bench.house.loop, 5000);
    assert_int_equal(db_keeper_evaluated(bench.keeper), evaluated);

    (void) next_asking(); /* not before Expires */
    assert_in_range(bench.sim.wall / 1000, 1780376400, 1780376400 + 600);
    assert_int_equal(lines_of("log"), 0);
}

/* Waits double, half of each is chance, and stop growing at six hours; one line when it begins, one when it ends. */
static void patience(void **state)
{
    static const int64_t longest[] = { 2, 4, 8, 16, 32, 64, 128, 256, 360, 360, 360 }; /* minutes */
    char script[512] = "";

    (void) state;
    for (size_t i = 0; i < 11; i++)
        (void) snprintf(script + strlen(script), sizeof script - strlen(script), "%s\n", i % 2 ? "503" : "close");
    (void) snprintf(script + strlen(script), sizeof script - strlen(script), "200\n");
    write_file("script", script);
    open_house();
    (void) next_asking();
    for (size_t i = 0; i < 11; i++) {
        assert_int_equal(about_now().failures, i + 1);
        assert_in_range(next_asking(), longest[i] * MINUTE / 2 - 1, longest[i] * MINUTE + 2);
    }
    assert_int_equal(about_now().failures, 0);
    assert_int_equal(lines_of("log"), 2);
    HAS(line_of("log", 0), "Fen: no new forecast from Open-Meteo: ");
    HAS(line_of("log", 1), "Fen: Open-Meteo answers again after 11 failures");
}

static void waits_as_long_as_it_is_told(void **state)
{
    (void) state;
    write_file("script", "429 | Retry-After: 7200\n403\n200\n");
    open_house();
    (void) next_asking();
    HAS(line_of("log", 0), "it answers with status 429");
    assert_in_range(next_asking(), 7200, 7200 + MINUTE + 1);
    assert_in_range(next_asking(), 3 * HOUR - 1, 3 * HOUR + MINUTE + 1); /* it asks wrongly, and asks rarely */
    assert_int_equal(about_now().failures, 0);
}

/* The last good answer is there after a restart without a network, and is not asked for again before its time. */
static void outlives_a_restart(void **state)
{
    struct db_told_day *seen = NULL;
    struct db_date from, to;
    size_t count = 0;

    (void) state;
    write_file("script", "200\n");
    open_house();
    (void) next_asking();
    close_house();
    bench.sim.wall += INT64_C(100) * MINUTE * 1000;
    open_house();
    sim_run(&bench.sim, bench.house.loop, 2000);
    assert_non_null(db_keeper_estate(bench.keeper)->told);
    assert_in_range(next_asking(), 75 * MINUTE, 112 * MINUTE);

    struct db_arena *arena = db_arena_new(1 << 20);
    assert_int_equal(db_date_of(2026, 6, 1, &from), DB_OK);
    assert_int_equal(db_date_of(2026, 6, 30, &to), DB_OK);
    assert_int_equal(db_record_seen(db_keeper_record(bench.keeper), DB_ORIGIN_FORECAST, from, to, arena, &seen, &count),
                     DB_OK);
    assert_int_equal(count, 7);
    assert_true(seen[6].figures[DB_FIGURE_HIGH] == 19);
    (void) db_arena_free(arena);
}

/* A service that must be asked first where to ask; what it names must be on the same server. */
static void asks_where_to_ask(void **state)
{
    char text[sizeof plan + 512], script[512];
    const char *const forecast = strstr(plan, "[forecast]");

    (void) state;
    (void) snprintf(text, sizeof text,
                    "[source grid]\ntitle = Grid\nfind = http://127.0.0.1:%d/at/{latitude},{longitude}\nfound = /grid\n"
                    "shape = columns\ntime = /daily/time\nlow = /daily/temperature_2m_min\nlow_unit = °C\n"
                    "high = /daily/temperature_2m_max\nhigh_unit = °C\nheaders = Accept: application/geo+json\n",
                    bench.port);
    write_file("own.ini", text);
    (void) snprintf(text, sizeof text, "%.*s[forecast]\nsource = grid\nsources = own.ini\n", (int) (forecast - plan),
                    plan);
    write_file("garden.ini", text);
    (void) snprintf(script, sizeof script,
                    "200 | Body: {\"grid\":\"http://127.0.0.1:%d/square/7\"}\n200 | ETag: \"g\"\n304\n404\n"
                    "200 | Body: {\"grid\":\"http://127.0.0.1:1/square/7\"}\n",
                    bench.port);
    write_file("script", script);
    open_house();
    while (lines_of("asked") < 2)
        (void) next_asking();
    HAS(line_of("asked", 0), "\"path\": \"/at/52.1,-1.9\"");
    HAS(line_of("asked", 0), "\"accept\": \"application/geo+json\"");
    HAS(line_of("asked", 1), "\"path\": \"/square/7\"");
    sim_run(&bench.sim, bench.house.loop, 5000);
    assert_non_null(db_keeper_estate(bench.keeper)->told);
    (void) next_asking(); /* the square is known now */
    HAS(line_of("asked", 2), "\"path\": \"/square/7\"");
    HAS(line_of("asked", 2), "\"if-none-match\": \"\\\"g\\\"\"");
    (void) next_asking(); /* gone: looked up again, and then it names another server */
    (void) next_asking();
    HAS(line_of("asked", 4), "\"path\": \"/at/52.1,-1.9\"");
    assert_string_equal(about_now().trouble, "its first answer names an address of another server");
    assert_int_equal(lines_of("asked"), 5);
    assert_int_equal(lines_of("log"), 1);
}

/* The days that were forecast stay when the answer has lost them, a day and a half later it is stale. */
static void grows_old(void **state)
{
    char age[48];

    (void) state;
    write_file("script", "200\nclose\n");
    open_house();
    (void) next_asking();
    sim_run(&bench.sim, bench.house.loop, INT64_C(35) * HOUR * 1000);
    assert_false(db_keeper_estate(bench.keeper)->told->stale);
    sim_run(&bench.sim, bench.house.loop, INT64_C(24) * HOUR * 1000);
    const struct db_told *told = db_keeper_estate(bench.keeper)->told;
    assert_non_null(told);
    assert_true(told->stale);
    assert_string_equal(db_told_age(told, bench.sim.wall / 1000, age), "made 2 days ago, stale");
    sim_run(&bench.sim, bench.house.loop, INT64_C(7 * 24) * HOUR * 1000);
    /* past its last day the answer says nothing more; what it said of days gone by is kept in the record */
    assert_int_equal(lines_of("log"), 1);
}

int main(void)
{
#define TEST(name) cmocka_unit_test_setup_teardown(name, set_up, tear_down)
    const struct CMUnitTest tests[] = {
        TEST(asked_politely),     TEST(patience),  TEST(waits_as_long_as_it_is_told),
        TEST(outlives_a_restart), TEST(grows_old), TEST(asks_where_to_ask),
    };

    return cmocka_run_group_tests_name("service_forecast", tests, NULL, NULL);
}
