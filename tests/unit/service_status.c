/* The status document and its socket, with a real keeper on a simulated clock. What the document must hold is docs/service.md. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "kit/folder.h"
#include "kit/sim_clock.h"

#include "service/keeper.h"
#include "service/log.h"
#include "service/report.h"
#include "service/status.h"

#include <json-c/json.h>

#include <sys/socket.h>
#include <sys/stat.h>
#include <unistd.h>

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

static const int64_t start = INT64_C(1776067200000); /* 2026-04-13 08:00 UTC, 09:00 in London */

static const char plan[] =
    "[garden]\nname = Fen \"End\"\nkey = 5a0d8b1e-3c52-4f0e-9a41-7be2f1c6d9a3\nlatitude = 52.1\nlongitude = -1.9\n"
    "zone = Europe/London\n"
    "[climate]\njanuary = 1.5 °C .. 7 °C, 60 mm\nfebruary = 1.5 °C .. 7.5 °C, 45 mm\nmarch = 2.5 °C .. 10 °C, 48 mm\n"
    "april = 4 °C .. 13 °C, 50 mm\nmay = 7 °C .. 16.5 °C, 55 mm\njune = 10 °C .. 19.5 °C, 55 mm\n"
    "july = 12 °C .. 22 °C, 52 mm\naugust = 12 °C .. 21.5 °C, 62 mm\nseptember = 9.5 °C .. 18.5 °C, 58 mm\n"
    "october = 7 °C .. 14.5 °C, 70 mm\nnovember = 4 °C .. 10 °C, 65 mm\ndecember = 2 °C .. 7.5 °C, 65 mm\n"
    "[bed north]\nsize = 1.2 m x 3 m\n";
static const char good[] = "[sowing carrot-1]\ncrop = carrot\nbed = north\nrow = 3 m\nsow = 2026-04-12\n";
static const char wrong[] = "[sowing carrot-1]\ncrop = carrrot\nbed = north\nrow = 3 m\nsow = 2026-04-12\n";

struct place {
    struct sim_clock sim;
    struct db_house house;
    struct db_desk *desk;
    struct db_keeper *keeper;
    char folder[64], file[96], state[96];
};

static void write_plan(const struct place *place, const char *sowing)
{
    FILE *file = fopen(place->file, "we");

    assert_non_null(file);
    assert_true(fputs(plan, file) >= 0 && fputs(sowing, file) >= 0);
    assert_int_equal(fclose(file), 0);
}

static int set_up(void **state)
{
    struct place *place = calloc(1, sizeof *place);
    char trouble[256] = "";

    assert_non_null(place);
    (void) snprintf(place->folder, sizeof place->folder, "/tmp/dewbell-status-XXXXXX");
    assert_non_null(mkdtemp(place->folder));
    (void) snprintf(place->file, sizeof place->file, "%s/garden.ini", place->folder);
    (void) snprintf(place->state, sizeof place->state, "%s/.dewbell", place->folder);
    write_plan(place, good);
    db_log_set(DB_LOG_ERROR);
    sim_start(&place->sim, start);
    place->house = (struct db_house){ .loop = db_loop_new(&place->sim.clock), .shipped = "rules" };
    assert_non_null(place->house.loop);
    place->desk = db_desk_new(&place->house);
    assert_non_null(place->desk);
    if (db_keeper_new(&place->house, place->file, NULL, &place->keeper, trouble) != DB_OK)
        fail_msg("%s", trouble);
    *state = place;
    return 0;
}

static int tear_down(void **state)
{
    struct place *place = *state;

    db_house_close(&place->house);
    place->desk = db_desk_free(place->desk);
    place->house.loop = db_loop_free(place->house.loop);
    remove_tree(place->folder);
    free(place);
    return 0;
}

static json_object *ask(struct place *place)
{
    char buffer[65536];
    json_tokener *reader = json_tokener_new();
    json_object *report = NULL;
    ssize_t got;

    assert_non_null(reader);
    int fd = db_desk_connect(place->state);
    assert_true(fd >= 0);
    for (;;) {
        got = recv(fd, buffer, sizeof buffer, MSG_DONTWAIT);
        if (got > 0)
            report = json_tokener_parse_ex(reader, buffer, (int) got);
        else if (got == 0)
            break;
        else
            assert_int_equal(db_loop_turn(place->house.loop, false), DB_OK);
    }
    assert_non_null(report); /* one whole document ... */
    assert_true(json_tokener_get_error(reader) == json_tokener_success);
    json_tokener_free(reader);
    assert_int_equal(close(fd), 0);
    return report;
}

static json_object *at(json_object *report, const char *pointer)
{
    json_object *found = NULL;

    if (json_pointer_get(report, pointer, &found) != 0)
        fail_msg("there is no %s", pointer);
    return found;
}

static int64_t number(json_object *report, const char *pointer)
{
    json_object *found = at(report, pointer);

    assert_true(json_object_is_type(found, json_type_int));
    return json_object_get_int64(found);
}

static const char *text(json_object *report, const char *pointer)
{
    json_object *found = at(report, pointer);

    assert_true(json_object_is_type(found, json_type_string));
    return json_object_get_string(found);
}

static void tells_of_a_garden(void **state)
{
    struct place *place = *state;
    struct stat socket_stat;

    sim_run(&place->sim, place->house.loop, 60000);
    json_object *report = ask(place);
    assert_int_equal(number(report, "/now"), start / 1000 + 60);
    assert_int_equal(number(report, "/started"), start / 1000);
    assert_string_equal(text(report, "/gardens/0/name"), "Fen \"End\"");
    assert_string_equal(text(report, "/gardens/0/zone"), "Europe/London");
    assert_string_equal(text(report, "/gardens/0/today"), "2026-04-13");
    assert_true(number(report, "/gardens/0/evaluated") >= start / 1000);
    assert_true(number(report, "/gardens/0/jobs/open") > 0);
    assert_null(at(report, "/gardens/0/forecast"));
    assert_int_equal(json_object_array_length(at(report, "/gardens/0/feeds")), DB_READY_COUNT);
    assert_int_equal(number(report, "/gardens/0/mistake_count"), 0);
    assert_int_equal(json_object_array_length(at(report, "/gardens/0/mornings")), 0);
    for (int i = 0; i < DB_READY_COUNT; i++) {
        struct db_ready_bytes *feed = db_keeper_feed(place->keeper, (enum db_ready_feed) i);
        char pointer[64];
        size_t events = 0;

        assert_non_null(feed);
        for (const char *line = feed->data; (line = strstr(line, "BEGIN:V")) != NULL; line++)
            events += strncmp(line, "BEGIN:VEVENT", 12) == 0 || strncmp(line, "BEGIN:VTODO", 11) == 0;
        (void) snprintf(pointer, sizeof pointer, "/gardens/0/feeds/%d/events", i);
        assert_int_equal(number(report, pointer), events);
        (void) snprintf(pointer, sizeof pointer, "/gardens/0/feeds/%d/etag", i);
        assert_string_equal(text(report, pointer), feed->etag);
        db_ready_release(feed);
    }
    (void) json_object_put(report);
    char path[160];
    (void) snprintf(path, sizeof path, "%s/" DB_DESK_NAME, place->state);
    assert_int_equal(stat(path, &socket_stat), 0);
    assert_true(S_ISSOCK(socket_stat.st_mode));
    assert_int_equal(socket_stat.st_mode & 0777, 0600);
}

/* Each timer that is set is told, soonest first; the sum of it all is that the day turns at midnight in London. */
static void tells_what_it_waits_for(void **state)
{
    struct place *place = *state;

    sim_run(&place->sim, place->house.loop, 60000);
    json_object *report = ask(place);
    json_object *next = at(report, "/next");
    const int64_t midnight = INT64_C(1776121200); /* 2026-04-14 00:00 BST = 13 April 23:00 UTC */
    int64_t last = 0;
    bool midnight_told = false;

    assert_true(json_object_array_length(next) > 0);
    for (size_t i = 0; i < json_object_array_length(next); i++) {
        json_object *row = json_object_array_get_idx(next, i);
        int64_t when = number(row, "/at");

        assert_true(*text(row, "/name") != '\0');
        assert_true(when >= last);
        last = when;
        midnight_told = midnight_told || (when >= midnight && when < midnight + 60);
    }
    assert_true(midnight_told);
    (void) json_object_put(report);
}

/* The newest morning of each way out, and in whose words it failed. */
static void tells_why_a_morning_failed(void **state)
{
    struct place *place = *state;
    struct db_record *record = db_keeper_record(place->keeper);
    struct db_morning_row rows[] = {
        { .outlet = "mail me", .message = "<a@b>", .body = "Today", .length = 5 },
        { .outlet = "post hall", .message = "b", .body = "Today", .length = 5 },
    };

    assert_int_equal(db_date_read("2026-04-12", 10, &rows[0].date), DB_OK);
    rows[1].date = rows[0].date;
    assert_int_equal(db_record_intend_mornings(record, rows, 2, false, start / 1000), DB_OK);
    rows[0].state = DB_MORNING_FAILED;
    rows[0].tries = 1;
    rows[0].trouble = "the server said \"550 no such box\"\x80";
    assert_int_equal(db_record_mark_morning(record, &rows[0], start / 1000 + 9), DB_OK);
    json_object *report = ask(place);
    assert_string_equal(text(report, "/gardens/0/mornings/0/state"), "failed");
    assert_string_equal(text(report, "/gardens/0/mornings/0/trouble"), "the server said \"550 no such box\"?");
    assert_string_equal(text(report, "/gardens/0/mornings/1/state"), "intended");
    assert_string_equal(text(report, "/gardens/0/mornings/1/trouble"), "");
    (void) json_object_put(report);
}

static void tells_of_mistakes(void **state)
{
    struct place *place = *state;

    sim_run(&place->sim, place->house.loop, 60000);
    write_plan(place, wrong);
    sim_run(&place->sim, place->house.loop, 60000);
    json_object *report = ask(place);
    assert_int_equal(number(report, "/gardens/0/mistake_count"), 1);
    assert_string_equal(text(report, "/gardens/0/mistakes/0/text"), "crop = carrrot");
    assert_int_equal(number(report, "/gardens/0/mistakes/0/column"), 8);
    assert_non_null(strstr(text(report, "/gardens/0/mistakes/0/instead"), "carrot"));
    assert_int_equal(json_object_array_length(at(report, "/gardens/0/feeds")), DB_READY_COUNT); /* the last good ones */
    (void) json_object_put(report);
}

/* A folder's name need not be UTF-8; the document is. */
static void is_utf8(void **state)
{
    struct place *place = *state;
    char folder[96], file[128], trouble[256] = "";
    struct db_keeper *second = NULL;

    (void) snprintf(folder, sizeof folder, "%s/b\xE4rlauch", place->folder);
    assert_int_equal(mkdir(folder, 0700), 0);
    (void) snprintf(file, sizeof file, "%s/garden.ini", folder);
    if (db_keeper_new(&place->house, file, NULL, &second, trouble) != DB_OK)
        fail_msg("%s", trouble);
    sim_run(&place->sim, place->house.loop, 60000);
    json_object *report = ask(place);
    bool found = false;
    for (size_t i = 0; i < 2; i++) {
        json_object *garden = json_object_array_get_idx(at(report, "/gardens"), i);

        found = found || strstr(text(garden, "/folder"), "/b?rlauch") != NULL;
    }
    assert_true(found);
    (void) json_object_put(report);
}

static void readers_that_do_not_read(void **state)
{
    struct place *place = *state;
    int idle[40];

    sim_run(&place->sim, place->house.loop, 60000);
    for (size_t i = 0; i < sizeof idle / sizeof idle[0]; i++) {
        idle[i] = db_desk_connect(place->state);
        assert_true(idle[i] >= 0);
        assert_int_equal(db_loop_turn(place->house.loop, false), DB_OK);
    }
    json_object *report = ask(place);
    (void) json_object_put(report);
    for (size_t i = 0; i < sizeof idle / sizeof idle[0]; i++)
        assert_int_equal(close(idle[i]), 0);
    sim_run(&place->sim, place->house.loop, 60000);
}

/* Types, units and the closing line; a whole parser reads them in tests/service/status.sh. */
static void metrics(void **state)
{
    struct place *place = *state;
    size_t length = 0;

    sim_run(&place->sim, place->house.loop, 60000);
    char *told = db_report_metrics(&place->house, NULL, 7, &length);
    assert_non_null(told);
    assert_int_equal(strlen(told), length);
    assert_non_null(strstr(told, "# TYPE dewbell_wakes counter\n"));
    assert_non_null(strstr(told, "\ndewbell_start_time_seconds 7\n"));
    assert_non_null(strstr(told, "\ndewbell_mistakes{garden=\"Fen \\\"End\\\"\"} 0\n"));
    assert_string_equal(told + length - 6, "# EOF\n");
    free(told);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(tells_of_a_garden, set_up, tear_down),
        cmocka_unit_test_setup_teardown(tells_what_it_waits_for, set_up, tear_down),
        cmocka_unit_test_setup_teardown(tells_why_a_morning_failed, set_up, tear_down),
        cmocka_unit_test_setup_teardown(tells_of_mistakes, set_up, tear_down),
        cmocka_unit_test_setup_teardown(is_utf8, set_up, tear_down),
        cmocka_unit_test_setup_teardown(readers_that_do_not_read, set_up, tear_down),
        cmocka_unit_test_setup_teardown(metrics, set_up, tear_down),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
