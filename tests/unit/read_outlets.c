/* What a plan says of the service, read from a plan that holds every key of it. */
#include "read/read.h"

#include <unistd.h>

#include <setjmp.h>
#include <stdarg.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "base/banned.h"

static const char garden[] = "[garden]\nname = Lark Bank\nkey = 7c9e6679-7425-40de-944b-e07fc1f90ae7\n"
                             "latitude = 52.1\nlongitude = -1.9\nzone = Europe/London\n[climate]\n";
static const char *const months[] = { "january", "february", "march",     "april",   "may",      "june",
                                      "july",    "august",   "september", "october", "november", "december" };

struct plan {
    struct db_arena *arena;
    struct db_mistakes *mistakes;
    char path[64];
    struct db_estate estate;
};

static struct plan read_plan(const char *more)
{
    struct plan plan = { .arena = db_arena_new((size_t) 64 << 20), .path = "/tmp/dewbell-test-XXXXXX" };
    int fd = mkstemp(plan.path);
    FILE *file = fd >= 0 ? fdopen(fd, "w") : NULL;

    assert_non_null(file);
    assert_true(fputs(garden, file) >= 0);
    for (size_t m = 0; m < 12; m++)
        assert_true(fprintf(file, "%s = 2 °C .. 8 °C, 60 mm\n", months[m]) > 0);
    assert_true(fputs(more, file) >= 0);
    assert_int_equal(fclose(file), 0);
    plan.mistakes = db_mistakes_new(plan.arena);
    assert_non_null(plan.mistakes);
    const enum db_status status = db_estate_read(plan.path, "rules", plan.arena, plan.mistakes, &plan.estate);
    (void) unlink(plan.path);
    if (status != DB_OK && db_mistakes_at(plan.mistakes, 0))
        fail_msg("%s", db_mistakes_at(plan.mistakes, 0)->what);
    assert_int_equal(status, DB_OK);
    return plan;
}

static void nothing_said_is_nothing_wanted(void **state)
{
    struct plan plan = read_plan("");
    const struct db_outlets *o = &plan.estate.outlets;

    (void) state;
    assert_null(o->forecast.source);
    assert_false(o->morning.wanted);
    assert_int_equal(o->count, 0);
    (void) db_arena_free(plan.arena);
}

static void every_key_arrives(void **state)
{
    struct plan plan = read_plan("[forecast]\nsource = open-meteo\nurl = https://example.org/f?lat=1\n"
                                 "contact = anna@example.org\nevery = 1 h 30 min\nca_file = ca.pem\n"
                                 "[morning]\nat = sunrise - 30 min\nquiet = a line\nlink = https://example.org/g\n"
                                 "[mail me]\nserver = smtp://mail.example.org:587\nfrom = garden@example.org\n"
                                 "to = anna@example.org,\n    bert+plot@example.org\nlogin = anna\n"
                                 "secret_file = mail-password\ntls = always\nca_file = /etc/ca.pem\n"
                                 "[mail plain]\nserver = smtp://127.0.0.1:25\nfrom = g@example.org\n"
                                 "to = a@example.org\ntls = if offered\n"
                                 "[post hall]\nurl = https://example.org/in\nformat = json\nsecret_file = s/hall\n"
                                 "[post board]\nurl = http://board.lan/in\n"
                                 "[command aloud]\nrun = /usr/bin/tell --slowly \"the garden's day\" '' a\"b c\"d\n"
                                 "[publish here]\nto = out\n"
                                 "[publish cloud]\nto = https://example.org/cal/\nfeeds = tasks, jobs\nlogin = anna\n"
                                 "secret_file = cloud\n"
                                 "[publish bucket]\nto = https://s3.example.org/garden\nregion = eu-west-1\n"
                                 "login = AB12\nsecret_file = bucket\n");
    const struct db_outlets *o = &plan.estate.outlets;
    const struct db_outlet *out = o->outlets;

    (void) state;
    assert_string_equal(o->forecast.source, "open-meteo");
    assert_null(o->forecast.sources);
    assert_string_equal(o->forecast.url, "https://example.org/f?lat=1");
    assert_string_equal(o->forecast.contact, "anna@example.org");
    assert_int_equal(o->forecast.every, 90);
    assert_string_equal(o->forecast.ca_file, "/tmp/ca.pem");
    assert_true(o->morning.wanted && o->morning.by_sun && o->morning.quiet_line);
    assert_int_equal(o->morning.minutes, -30);
    assert_string_equal(o->morning.link, "https://example.org/g");

    assert_int_equal(o->count, 8);
    assert_int_equal(out[0].way, DB_OUT_MAIL);
    assert_string_equal(out[0].name, "mail me");
    assert_string_equal(out[0].url, "smtp://mail.example.org:587");
    assert_string_equal(out[0].from, "garden@example.org");
    assert_string_equal(out[0].to[0], "anna@example.org");
    assert_string_equal(out[0].to[1], "bert+plot@example.org");
    assert_null(out[0].to[2]);
    assert_string_equal(out[0].login, "anna");
    assert_string_equal(out[0].secret_file, "mail-password"); /* bare: perhaps a credential */
    assert_string_equal(out[0].ca_file, "/etc/ca.pem");
    assert_false(out[0].plain_allowed);
    assert_true(out[1].plain_allowed);
    assert_int_equal(out[2].way, DB_OUT_POST);
    assert_true(out[2].json);
    assert_string_equal(out[2].secret_file, "/tmp/s/hall");
    assert_false(out[3].json);
    assert_int_equal(out[4].way, DB_OUT_COMMAND);
    assert_string_equal(out[4].words[0], "/usr/bin/tell");
    assert_string_equal(out[4].words[2], "the garden's day");
    assert_string_equal(out[4].words[3], "");
    assert_string_equal(out[4].words[4], "ab cd");
    assert_null(out[4].words[5]);
    assert_int_equal(out[5].way, DB_OUT_FOLDER);
    assert_string_equal(out[5].url, "/tmp/out");
    assert_string_equal(out[5].feeds[2], "tasks");
    assert_null(out[5].feeds[3]);
    assert_int_equal(out[6].way, DB_OUT_WEBDAV);
    assert_string_equal(out[6].feeds[0], "tasks");
    assert_string_equal(out[6].feeds[1], "jobs");
    assert_null(out[6].feeds[2]);
    assert_int_equal(out[7].way, DB_OUT_S3);
    assert_string_equal(out[7].region, "eu-west-1");
    assert_string_equal(out[7].login, "AB12");
    (void) db_arena_free(plan.arena);
}

static void an_hour_of_the_clock(void **state)
{
    static const struct {
        const char *written;
        bool by_sun;
        int minutes;
    } rows[] = { { "06:30", false, 390 }, { "00:00", false, 0 },         { "11:59", false, 719 },
                 { "sunrise", true, 0 },  { "sunrise + 1 h", true, 60 }, { "sunrise -1 h 30 min", true, -90 } };
    char text[128];

    (void) state;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        (void) snprintf(text, sizeof text, "[morning]\nat = %s\n[command x]\nrun = /bin/cat\n", rows[i].written);
        struct plan plan = read_plan(text);

        assert_int_equal(plan.estate.outlets.morning.by_sun, rows[i].by_sun);
        assert_int_equal(plan.estate.outlets.morning.minutes, rows[i].minutes);
        assert_false(plan.estate.outlets.morning.quiet_line);
        (void) db_arena_free(plan.arena);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = { cmocka_unit_test(nothing_said_is_nothing_wanted),
                                        cmocka_unit_test(every_key_arrives), cmocka_unit_test(an_hour_of_the_clock) };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
