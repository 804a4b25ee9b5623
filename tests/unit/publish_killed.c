/* Ledger and feed together, as a run of the program puts them: killed at any moment, the feed that readers see is whole, the
 * next run publishes what the ledger knows, and no SEQUENCE ever goes back. */
#include "record/record.h"
#include "service/feed_store.h"
#include "write/write.h"

#include <libical/ical.h>

#include <signal.h>
#include <sys/wait.h>
#include <unistd.h>

#include <setjmp.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "kit/ledger.h"
#include "kit/thrift.h"

#include "base/banned.h"

#define ROWS(table) (sizeof(table) / sizeof(table)[0])

enum { PLANS = 3, SOWINGS = 12, ROUNDS = 80, EVENTS = 200 };

static char folder[64], record_file[96], feed_file[96];

/* The same sowings, sown a day later from plan to plan: all their events differ. */
static struct plot plots[PLANS];
static const struct db_jobs *jobs[PLANS];

static void make_plans(void)
{
    for (int p = 0; p < PLANS; p++) {
        struct plot *plot = &plots[p];
        struct db_crop_facts *carrot;

        *plot = plot_new(52, 0);
        carrot = db_arena_get(plot->arena, 1, sizeof *carrot);
        *carrot = kit_crop("carrot");
        const struct db_bed *bed = plot_bed(plot, "north", DB_COVER_OPEN);
        plot_weather(plot, on(2025, 5, 1), 900);
        for (int i = 0; i < 900; i++)
            plot_day(plot, db_date_add(on(2025, 5, 1), i), 8, 18, 1);
        for (int i = 0; i < SOWINGS; i++) {
            char *id = db_arena_get(plot->arena, 16, 1);
            struct db_date sown = db_date_add(on(2026, 6, 10), i + p);
            (void) snprintf(id, 16, "carrot-%d", i);
            (void) plot_sow(plot, (struct db_sowing){ .id = id,
                                                      .crop = carrot,
                                                      .bed = bed,
                                                      .way = DB_WAY_DRILL,
                                                      .planned = sown,
                                                      .sown = DB_NO_DATE,
                                                      .anyway = true });
        }
        plot_close_diary(plot);
        plot->view.rules = kit_compile(plot, kit_rules, ROWS(kit_rules));
        jobs[p] = kit_evaluate(plot, on(2026, 6, 5));
    }
}

/* Returns 0, or the line that failed: it runs in a child too. */
static int publish(const struct db_jobs *what, int64_t now, size_t *ret_fresh, bool *ret_changed)
{
    struct db_record *record = NULL;
    const struct db_feed_order order = { .feed = DB_FEED_JOBS, .now = now };
    struct db_feed_result feed = { 0 };
    char trouble[256];
    const char *doing;

    if (db_record_open(record_file, &record, trouble) != DB_OK ||
        db_feed_store_file(record, what, &order, feed_file, &feed, ret_changed, &doing) != DB_OK)
        return __LINE__;
    *ret_fresh = feed.fresh_count;
    db_feed_free(&feed);
    (void) db_record_close(record);
    return 0;
}

struct seen { /* an event as a reader last saw it */
    char uid[40];
    int sequence;
    struct icaltimetype modified;
};

/* Reads the feed as a client does, compares with what it saw before; returns the number of events. */
static size_t read_feed(struct seen *seen, size_t *count)
{
    static char text[1 << 20];
    FILE *in = fopen(feed_file, "r");
    size_t events = 0;

    assert_non_null(in);
    size_t length = fread(text, 1, sizeof text - 1, in);
    (void) fclose(in);
    text[length] = '\0';
    assert_true(length > 15 && strcmp(text + length - 15, "END:VCALENDAR\r\n") == 0);
    icalcomponent *calendar = icalparser_parse_string(text);
    assert_non_null(calendar);
    assert_int_equal(icalcomponent_count_errors(calendar), 0);
    for (icalcompiter it = icalcomponent_begin_component(calendar, ICAL_VEVENT_COMPONENT); icalcompiter_deref(&it);
         (void) icalcompiter_next(&it), events++) {
        icalcomponent *event = icalcompiter_deref(&it);
        const char *uid = icalcomponent_get_uid(event);
        int sequence = icalcomponent_get_sequence(event);
        struct icaltimetype modified =
            icalproperty_get_lastmodified(icalcomponent_get_first_property(event, ICAL_LASTMODIFIED_PROPERTY));
        size_t at = 0;

        while (at < *count && strcmp(seen[at].uid, uid) != 0)
            at++;
        if (at < *count) {
            if (sequence < seen[at].sequence)
                fail_msg("SEQUENCE of %s went from %d to %d", uid, seen[at].sequence, sequence);
            assert_true(icaltime_compare(modified, seen[at].modified) >= 0);
            /* they rise together or not at all */
            assert_int_equal(sequence > seen[at].sequence, icaltime_compare(modified, seen[at].modified) > 0);
        } else {
            assert_true(++*count <= EVENTS);
            (void) snprintf(seen[at].uid, sizeof seen[at].uid, "%s", uid);
        }
        seen[at].sequence = sequence;
        seen[at].modified = modified;
    }
    icalcomponent_free(calendar);
    return events;
}

static void killed_at_any_moment(void **state)
{
    static struct seen seen[EVENTS];
    const int64_t start = 1780000000;
    const char *wanted = getenv("SEED");
    unsigned seed = wanted ? (unsigned) strtoul(wanted, NULL, 10) : (unsigned) getpid();
    size_t known = 0, fresh = 0, ahead = 0;
    bool changed = false;
    int status;

    (void) state;
    print_message("seed %u\n", seed);
    srandom(seed);
    make_plans();
    assert_int_equal(publish(jobs[0], start, &fresh, &changed), 0);
    assert_int_equal(read_feed(seen, &known), db_jobs_count(jobs[0]));
    for (int round = 1; round <= thrift(ROUNDS, 6); round++) {
        int64_t now = start + round * 3600;
        int ends[2];
        char byte;

        assert_int_equal(pipe(ends), 0);
        pid_t child = fork();
        assert_true(child >= 0);
        if (child == 0) {
            if (write(ends[1], "x", 1) != 1)
                _exit(3);
            for (int i = 1; i < 1000; i++)
                if (publish(jobs[(round + i) % PLANS], now + i, &fresh, &changed) != 0)
                    _exit(2);
            _exit(0);
        }
        assert_int_equal(read(ends[0], &byte, 1), 1);
        for (volatile long spin = random() % 6000000; spin > 0; spin--)
            ;
        assert_int_equal(kill(child, SIGKILL), 0);
        assert_int_equal(waitpid(child, &status, 0), child);
        assert_true(WIFSIGNALED(status));
        (void) close(ends[0]);
        (void) close(ends[1]);
        assert_true(read_feed(seen, &known) == db_jobs_count(jobs[0]));

        /* The next run, with a plan of its own: it may find a ledger that is ahead of the file. */
        int plan = (int) (random() % PLANS);
        assert_int_equal(publish(jobs[plan], now + 1800, &fresh, &changed), 0);
        ahead += changed && fresh == 0;
        (void) read_feed(seen, &known);
        assert_int_equal(publish(jobs[plan], now + 1801, &fresh, &changed), 0);
        assert_int_equal(fresh, 0);
        assert_false(changed);
    }
    print_message("after %zu of %d kills the ledger was ahead of the file, with the plan that came next\n", ahead,
                  ROUNDS);
    for (int p = 0; p < PLANS; p++)
        plot_free(&plots[p]);
}

static int make_folder(void **state)
{
    (void) state;
    (void) snprintf(folder, sizeof folder, "/tmp/dewbell-publish-XXXXXX");
    if (!mkdtemp(folder))
        return -1;
    (void) snprintf(record_file, sizeof record_file, "%s/record", folder);
    (void) snprintf(feed_file, sizeof feed_file, "%s/jobs.ics", folder);
    return 0;
}

static int remove_folder(void **state)
{
    static const char *const names[] = { "record", "record-wal", "record-shm", "jobs.ics", "jobs.ics.new" };
    char path[128];

    (void) state;
    for (size_t i = 0; i < ROWS(names); i++) {
        (void) snprintf(path, sizeof path, "%s/%s", folder, names[i]);
        (void) unlink(path);
    }
    return rmdir(folder);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(killed_at_any_moment, make_folder, remove_folder),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
