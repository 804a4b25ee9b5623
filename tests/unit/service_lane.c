/* Feeds on their way elsewhere: what is sent when, what guards it, what happens when it does not get there. The server is
 * a real one on loopback with the habits of several; time is simulated, so that waits of hours pass at once. */
#include "service/lane.h"

#include "service/lane_reply.h"
#include "service/log.h"

#include <sys/stat.h>
#include <unistd.h>

#include <setjmp.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "kit/odd_server.h"
#include "kit/sim_clock.h"

#include "base/banned.h"

#define CALENDAR(name, summary)                                                                                        \
    "BEGIN:VCALENDAR\r\nVERSION:2.0\r\nPRODID:-//dewbell//test//EN\r\nX-WR-CALNAME:" name                              \
    "\r\nBEGIN:VEVENT\r\nSUMMARY:" summary "\r\nEND:VEVENT\r\nEND:VCALENDAR\r\n"

static const char one[] = CALENDAR("Plot", "one"), two[] = CALENDAR("Plot", "two"), three[] = CALENDAR("Plot", "three"),
                  other_garden[] = CALENDAR("Orchard", "one"),
                  foreign[] = "BEGIN:VCALENDAR\r\nVERSION:2.0\r\nPRODID:-//other//EN\r\nBEGIN:VEVENT\r\nPRODID:-//"
                              "dewbell//test//EN\r\nEND:VEVENT\r\nEND:VCALENDAR\r\n";

static struct odd_server server;
static struct sim_clock sim;
static struct db_loop *loop;
static struct db_courier *courier;
static struct db_record *record;
static char record_file[128], url[256];

static bool busy(void *context)
{
    (void) context;
    return courier && db_courier_under_way(courier) > 0;
}

static int set_up(void **state)
{
    char trouble[256];

    (void) state;
    db_log_set(DB_LOG_ERROR);
    odd_server_start(&server);
    sim_start(&sim, 1780293600000);
    sim.busy = busy;
    loop = db_loop_new(&sim.clock);
    assert_non_null(loop);
    courier = db_courier_new(loop);
    assert_non_null(courier);
    (void) snprintf(record_file, sizeof record_file, "%s/record.sqlite", server.folder);
    assert_int_equal(db_record_open(record_file, &record, trouble), DB_OK);
    return 0;
}

static int tear_down(void **state)
{
    (void) state;
    courier = db_courier_free(courier);
    loop = db_loop_free(loop);
    record = db_record_close(record);
    (void) unlink(record_file);
    odd_server_stop(&server);
    return 0;
}

static const char *collection(const char *name)
{
    (void) snprintf(url, sizeof url, "http://127.0.0.1:%d/%s", server.http, name);
    return url;
}

static struct db_lane *lane_for(const char *outlet)
{
    const struct db_lane_home home = { loop, courier, record, "plot" };
    struct db_lane *lane = db_lane_new(&home, outlet, "jobs");

    assert_non_null(lane);
    return lane;
}

static void set(struct db_lane *lane, const struct db_outlet *outlet, const char *bytes)
{
    assert_int_equal(db_lane_set(lane, outlet, server.folder, "jobs.ics", bytes, strlen(bytes)), DB_OK);
}

/* Until nothing is under way. Timers are not waited for. */
static void settle(void)
{
    while (db_courier_under_way(courier))
        assert_int_equal(db_loop_turn(loop, true), DB_OK);
}

/* Until the lane's timer came and what it began is done. Returns the simulated seconds that passed. */
static int64_t wait_out(const struct db_lane *lane)
{
    const int64_t begun = db_loop_steady(loop);

    while (!db_lane_busy(lane) && !db_lane_current(lane))
        assert_int_equal(db_loop_turn(loop, true), DB_OK);
    const int64_t waited = db_loop_steady(loop) - begun;
    settle();
    return waited / 1000;
}

/* What the server says to a request of our own. */
static char said[4096];
static int said_status;

static void hear(void *context, const struct db_reply *reply)
{
    (void) context;
    said_status = reply->status;
    (void) snprintf(said, sizeof said, "%s", reply->body);
}

static const char *ask(const char *method, const char *path, const char *body)
{
    const struct db_errand errand = {
        .url = collection(path), .method = method, .body = body, .body_length = body ? strlen(body) : 0
    };
    char why[256];

    assert_int_equal(db_courier_send(courier, &errand, hear, NULL, why), DB_OK);
    settle();
    return said;
}

static void holds(const char *path, const char *bytes)
{
    assert_string_equal(ask("GET", path, NULL), bytes);
}

static int asked(const char *path)
{
    char counter[128];

    (void) snprintf(counter, sizeof counter, "asked/%s", path);
    return (int) strtol(ask("GET", counter, NULL), NULL, 10);
}

static void a_feed_goes_into_a_folder(void **state)
{
    char folder[128], file[160], got[512] = "";
    const struct db_outlet outlet = { .way = DB_OUT_FOLDER, .name = "publish disk", .url = folder };

    (void) state;
    (void) snprintf(folder, sizeof folder, "%s/out", server.folder);
    (void) snprintf(file, sizeof file, "%s/jobs.ics", folder);
    struct db_lane *lane = lane_for("publish disk");
    set(lane, &outlet, one); /* the folder is not there yet */
    assert_false(db_lane_current(lane));
    assert_non_null(strstr(db_lane_trouble(lane), "cannot be written: No such file or directory"));
    set(lane, &outlet, two); /* the newest bytes are those that get there */
    assert_int_equal(mkdir(folder, 0700), 0);
    assert_in_range(wait_out(lane), 15, 46);
    assert_true(db_lane_current(lane));
    assert_string_equal(db_lane_trouble(lane), "");
    assert_int_equal(db_lane_published(lane), db_loop_wall(loop) / 1000);
    FILE *in = fopen(file, "r");
    assert_non_null(in);
    assert_int_equal(fread(got, 1, sizeof got - 1, in), sizeof two - 1);
    assert_string_equal(got, two);
    (void) fclose(in);
    /* A folder is looked into each time: what somebody took away comes back. */
    assert_int_equal(unlink(file), 0);
    set(lane, &outlet, two);
    assert_int_equal(access(file, R_OK), 0);
    assert_int_equal(unlink(file), 0);
    assert_int_equal(rmdir(folder), 0);
    assert_null(db_lane_free(lane));
}

static void a_known_feed_is_guarded_and_not_sent_twice(void **state)
{
    const struct db_outlet outlet = { .way = DB_OUT_WEBDAV, .name = "publish dav", .url = collection("dav") };
    char kept[256];
    struct db_outlet here = outlet;

    (void) state;
    (void) snprintf(kept, sizeof kept, "%s", url);
    here.url = kept;
    struct db_lane *lane = lane_for("publish dav");
    set(lane, &here, one);
    settle();
    assert_true(db_lane_current(lane));
    holds("dav/jobs.ics", one);
    set(lane, &here, two);
    settle();
    assert_true(db_lane_current(lane));
    holds("dav/jobs.ics", two);
    const int before = asked("dav/jobs.ics");
    set(lane, &here, two);
    settle();
    assert_int_equal(asked("dav/jobs.ics"), before);
    assert_null(db_lane_free(lane));

    /* A new start knows it. */
    lane = lane_for("publish dav");
    set(lane, &here, two);
    settle();
    assert_true(db_lane_current(lane));
    assert_int_equal(asked("dav/jobs.ics"), before);
    set(lane, &here, three);
    settle();
    assert_int_equal(asked("dav/jobs.ics"), before + 1); /* at once, by the ETag it remembered */
    holds("dav/jobs.ics", three);

    /* Another address is another place. */
    here.url = collection("dav/elsewhere");
    set(lane, &here, three);
    settle();
    holds("dav/elsewhere/jobs.ics", three);
    assert_null(db_lane_free(lane));
}

static void what_is_not_ours_is_left_alone(void **state)
{
    struct db_outlet outlet = { .way = DB_OUT_WEBDAV, .name = "publish other" };
    const char *const strange[] = { foreign, other_garden, "shopping list", "" };
    char place[256];

    (void) state;
    for (size_t i = 0; i < sizeof strange / sizeof *strange; i++) {
        (void) ask("PUT", "dav/theirs/jobs.ics", strange[i]);
        (void) snprintf(place, sizeof place, "%s", collection("dav/theirs"));
        outlet.url = place;
        struct db_lane *lane = lane_for("publish other");
        set(lane, &outlet, one);
        settle();
        assert_false(db_lane_current(lane));
        assert_non_null(strstr(db_lane_trouble(lane), "we leave alone"));
        holds("dav/theirs/jobs.ics", strange[i]);
        /* Hours later it is gone, and ours gets there. */
        (void) ask("DELETE", "dav/theirs/jobs.ics", NULL);
        assert_in_range(wait_out(lane), 3 * 3600, 9 * 3600);
        assert_true(db_lane_current(lane));
        holds("dav/theirs/jobs.ics", one);
        /* Somebody writes over it: kept again. */
        (void) ask("PUT", "dav/theirs/jobs.ics", strange[i]);
        set(lane, &outlet, two);
        settle();
        assert_false(db_lane_current(lane));
        holds("dav/theirs/jobs.ics", strange[i]);
        /* And deletes it: newer bytes are tried at once. */
        (void) ask("DELETE", "dav/theirs/jobs.ics", NULL);
        set(lane, &outlet, three);
        settle();
        assert_true(db_lane_current(lane));
        holds("dav/theirs/jobs.ics", three);
        assert_null(db_lane_free(lane));
        assert_int_equal(db_record_put_published(record, "publish other", "jobs", &(struct db_published){ .etag = "" }),
                         DB_OK);
    }
}

static void an_older_copy_of_ours_is_written_over(void **state)
{
    struct db_outlet outlet = { .way = DB_OUT_WEBDAV, .name = "publish old" };
    char place[256];

    (void) state;
    (void) ask("PUT", "dav/old/jobs.ics", one); /* by a run whose record is lost */
    (void) snprintf(place, sizeof place, "%s", collection("dav/old"));
    outlet.url = place;
    struct db_lane *lane = lane_for("publish old");
    set(lane, &outlet, two);
    settle();
    assert_true(db_lane_current(lane));
    holds("dav/old/jobs.ics", two);
    assert_null(db_lane_free(lane));
}

static void a_lost_answer_does_no_harm(void **state)
{
    struct db_outlet outlet = { .way = DB_OUT_WEBDAV, .name = "publish drops" };
    char place[256];

    (void) state;
    (void) snprintf(place, sizeof place, "%s", collection("drops-once"));
    outlet.url = place;
    struct db_lane *lane = lane_for("publish drops");
    set(lane, &outlet, one);
    settle();
    assert_false(db_lane_current(lane));
    assert_non_null(strstr(db_lane_trouble(lane), "ended early"));
    assert_in_range(wait_out(lane), 15, 46);
    assert_true(db_lane_current(lane));
    assert_int_equal(asked("drops-once/jobs.ics"), 3); /* PUT, PUT (412), GET */
    set(lane, &outlet, two);
    settle();
    assert_true(db_lane_current(lane));
    holds("drops-once/jobs.ics", two);
    assert_null(db_lane_free(lane));
}

static void servers_without_good_etags_are_served_too(void **state)
{
    static const char *const kinds[] = { "quiet", "weak" };
    struct db_outlet outlet = { .way = DB_OUT_WEBDAV };
    char place[256], file[64];

    (void) state;
    for (size_t i = 0; i < 2; i++) {
        (void) snprintf(place, sizeof place, "%s", collection(kinds[i]));
        (void) snprintf(file, sizeof file, "%s/jobs.ics", kinds[i]);
        outlet.url = place;
        struct db_lane *lane = lane_for(kinds[i]);
        set(lane, &outlet, one);
        settle();
        assert_true(db_lane_current(lane));
        assert_int_equal(asked(file), 2); /* PUT, HEAD */
        set(lane, &outlet, two);
        settle();
        assert_true(db_lane_current(lane));
        holds(file, two);
        assert_null(db_lane_free(lane));
    }
}

static void refusals_wait_long_and_busy_servers_as_they_ask(void **state)
{
    struct db_outlet outlet = { .way = DB_OUT_WEBDAV };
    char place[256];

    (void) state;
    (void) snprintf(place, sizeof place, "%s", collection("multi"));
    outlet.url = place;
    struct db_lane *lane = lane_for("publish multi");
    set(lane, &outlet, one);
    settle();
    assert_non_null(strstr(db_lane_trouble(lane), "207"));
    assert_in_range(wait_out(lane), 3 * 3600, 9 * 3600);
    assert_false(db_lane_current(lane));
    assert_null(db_lane_free(lane));

    (void) snprintf(place, sizeof place, "%s", collection("busy-twice"));
    lane = lane_for("publish busy");
    set(lane, &outlet, one);
    settle();
    assert_non_null(strstr(db_lane_trouble(lane), "503"));
    set(lane, &outlet, two); /* newer bytes do not make a busy server less busy */
    assert_false(db_lane_busy(lane));
    assert_in_range(wait_out(lane), 299, 301); /* Retry-After: 300 */
    assert_false(db_lane_current(lane));
    set(lane, &outlet, three);
    assert_in_range(wait_out(lane), 299, 301);
    assert_true(db_lane_current(lane));
    holds("busy-twice/jobs.ics", three);
    assert_null(db_lane_free(lane));

    (void) snprintf(place, sizeof place, "%s", collection("fickle"));
    lane = lane_for("publish fickle");
    (void) ask("PUT", "fickle/jobs.ics", one);
    set(lane, &outlet, two);
    settle();
    assert_non_null(strstr(db_lane_trouble(lane), "keeps changing"));
    assert_null(db_lane_free(lane));

    outlet.url = "http://127.0.0.1:1/";
    lane = lane_for("publish nowhere");
    set(lane, &outlet, one);
    settle();
    int64_t waited = 0;
    for (int i = 0; i < 20; i++) {
        const int64_t wait = wait_out(lane);

        assert_in_range(wait, 15, 5400);
        waited += wait;
    }
    assert_in_range(waited, 12 * 1800, 20 * 5400); /* backed off to about an hour, and no further */
    assert_non_null(strstr(db_lane_trouble(lane), "cannot be reached"));
    assert_null(db_lane_free(lane));
}

static void put_secret(const char *text)
{
    char file[128];

    (void) snprintf(file, sizeof file, "%s/dav.secret", server.folder);
    (void) unlink(file);
    if (!text)
        return;
    FILE *out = fopen(file, "w");
    assert_non_null(out);
    (void) fputs(text, out);
    assert_int_equal(fclose(out), 0);
    assert_int_equal(chmod(file, 0600), 0);
}

static void a_secret_is_read_when_used(void **state)
{
    char place[256];
    const struct db_outlet outlet = { .way = DB_OUT_WEBDAV, .url = place, .login = "ada", .secret_file = "dav.secret" };

    (void) state;
    (void) snprintf(place, sizeof place, "%s", collection("closed"));
    struct db_lane *lane = lane_for("publish closed");
    set(lane, &outlet, one);
    assert_false(db_lane_busy(lane));
    assert_non_null(strstr(db_lane_trouble(lane), "dav.secret cannot be opened"));
    put_secret("wrong\n");
    set(lane, &outlet, one); /* the file changed: tried at once */
    settle();
    assert_non_null(strstr(db_lane_trouble(lane), "refused the login"));
    set(lane, &outlet, one); /* nothing changed: not tried */
    assert_false(db_lane_busy(lane));
    put_secret("canary\n");
    set(lane, &outlet, one);
    settle();
    assert_true(db_lane_current(lane));
    assert_string_equal(db_lane_trouble(lane), "");
    put_secret(NULL);
    assert_null(db_lane_free(lane));
}

static void plans_change_while_something_is_under_way(void **state)
{
    char place[256];
    struct db_outlet outlet = { .way = DB_OUT_WEBDAV, .url = place };

    (void) state;
    struct db_lane *lane = lane_for("publish moves");
    (void) snprintf(place, sizeof place, "%s", collection("dav/from"));
    set(lane, &outlet, one);
    assert_true(db_lane_busy(lane));
    set(lane, &outlet, one); /* the same again: one request */
    set(lane, &outlet, two); /* the newest comes next */
    settle();
    assert_true(db_lane_current(lane));
    holds("dav/from/jobs.ics", two);
    assert_int_equal(asked("dav/from/jobs.ics"), 3); /* two of ours and the look */
    set(lane, &outlet, three);
    assert_true(db_lane_busy(lane));
    (void) snprintf(place, sizeof place, "%s", collection("dav/to"));
    set(lane, &outlet, three);
    settle();
    assert_true(db_lane_current(lane));
    holds("dav/to/jobs.ics", three);
    set(lane, &outlet, one);
    assert_true(db_lane_busy(lane));
    db_lane_drop(lane);
    settle();
    assert_false(db_lane_busy(lane));
    assert_null(db_lane_free(lane));
}

static void ours_is_known_by_its_head(void **state)
{
    static const char folded[] =
        "BEGIN:VCALENDAR\nPRODID:-//dewbell//\n test//EN\nX-WR-CALNAME;X=1:Pl\n\tot\nEND:VCALENDAR\n";
    static const char nameless[] = "BEGIN:VCALENDAR\nPRODID:-//dewbell//test//EN\nEND:VCALENDAR\n";

    (void) state;
    assert_true(db_calendar_ours(one, strlen(one), two, strlen(two)));
    assert_true(db_calendar_ours(folded, strlen(folded), two, strlen(two)));
    assert_true(db_calendar_ours(nameless, strlen(nameless), two, strlen(two)));
    assert_false(db_calendar_ours(other_garden, strlen(other_garden), two, strlen(two)));
    assert_false(db_calendar_ours(foreign, strlen(foreign), two, strlen(two)));
    assert_false(db_calendar_ours("", 0, two, strlen(two)));
    for (size_t cut = 0; cut < strlen(folded); cut++) { /* read to the end and no further (ASan) */
        char *part = malloc(cut + 1);
        assert_non_null(part);
        memcpy(part, folded, cut);
        (void) db_calendar_ours(part, cut, two, strlen(two));
        free(part);
    }
    assert_true(db_etag_guards("\"a\""));
    assert_false(db_etag_guards("W/\"a\""));
    assert_false(db_etag_guards("\"\""));
    assert_false(db_etag_guards("a"));
    assert_false(db_etag_guards(""));
    assert_false(db_etag_guards("\"a\", \"b\""));
}

int main(void)
{
    static const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_feed_goes_into_a_folder),
        cmocka_unit_test(a_known_feed_is_guarded_and_not_sent_twice),
        cmocka_unit_test(what_is_not_ours_is_left_alone),
        cmocka_unit_test(an_older_copy_of_ours_is_written_over),
        cmocka_unit_test(a_lost_answer_does_no_harm),
        cmocka_unit_test(servers_without_good_etags_are_served_too),
        cmocka_unit_test(refusals_wait_long_and_busy_servers_as_they_ask),
        cmocka_unit_test(a_secret_is_read_when_used),
        cmocka_unit_test(plans_change_while_something_is_under_way),
        cmocka_unit_test(ours_is_known_by_its_head),
    };

    return cmocka_run_group_tests(tests, set_up, tear_down);
}
