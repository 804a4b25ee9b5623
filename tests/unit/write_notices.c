/* Notices in feeds: one event, the same for as long as it is needed, gone afterwards, and never in the way of the jobs. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "kit/ledger.h"

#include <libical/ical.h>

#include "base/banned.h"

static const int64_t now = 1782896400; /* 2026-07-01 09:00 UTC */

struct seen {
    char uid[64], summary[256], description[1024], day[16];
    int sequence, count; /* count: events of that summary's beginning */
    int events;
};

/* Reads the feed back with libical and looks for the notice. */
static struct seen look(const struct db_feed_result *feed, icalcomponent_kind kind)
{
    struct seen seen = { 0 };
    icalcomponent *calendar = icalparser_parse_string(feed->bytes.data);

    assert_non_null(calendar);
    for (icalcomponent *one = icalcomponent_get_first_component(calendar, kind); one;
         one = icalcomponent_get_next_component(calendar, kind)) {
        seen.events++;
        if (strncmp(icalcomponent_get_summary(one), "Mistake", 7) != 0)
            continue;
        seen.count++;
        (void) snprintf(seen.uid, sizeof seen.uid, "%s", icalcomponent_get_uid(one));
        (void) snprintf(seen.summary, sizeof seen.summary, "%s", icalcomponent_get_summary(one));
        (void) snprintf(seen.description, sizeof seen.description, "%s", icalcomponent_get_description(one));
        struct icaltimetype day =
            kind == ICAL_VTODO_COMPONENT ? icalcomponent_get_due(one) : icalcomponent_get_dtstart(one);
        (void) snprintf(seen.day, sizeof seen.day, "%04d-%02d-%02d", day.year, day.month, day.day);
        seen.sequence = icalcomponent_get_sequence(one);
    }
    icalcomponent_free(calendar);
    return seen;
}

static struct plot plot;
static struct db_crop_facts carrot;
static const struct db_jobs *jobs;

static int set_up(void **state)
{
    (void) state;
    plot = plot_new(52.1, -1.9);
    carrot = kit_crop("carrot");
    plot_weather(&plot, on(2025, 5, 1), 900);
    for (int i = 0; i < 900; i++)
        plot_day(&plot, db_date_add(on(2025, 5, 1), i), 8, 18, 1);
    (void) plot_sow(&plot, (struct db_sowing){ .id = "carrot-1",
                                               .crop = &carrot,
                                               .bed = plot_bed(&plot, "north", DB_COVER_OPEN),
                                               .way = DB_WAY_DRILL,
                                               .planned = DB_NO_DATE,
                                               .sown = on(2026, 6, 10) });
    plot_close_diary(&plot);
    plot.view.rules = kit_compile(&plot, kit_rules, sizeof kit_rules / sizeof kit_rules[0]);
    jobs = kit_evaluate(&plot, on(2026, 7, 1));
    return 0;
}

static int tear_down(void **state)
{
    (void) state;
    plot_free(&plot);
    return 0;
}

static struct db_feed_result build(enum db_feed feed, const struct db_notice *notice, int64_t at, struct ledger *ledger)
{
    struct db_feed_result made;

    assert_int_equal(
        db_feed_build_noticed(jobs, feed, notice, notice ? 1 : 0, at, 0, false, ledger_find, ledger, &made), DB_OK);
    ledger_put(ledger, &made);
    return made;
}

static void a_notice_is_one_event_that_moves_and_goes(void **state)
{
    (void) state;
    static const struct {
        enum db_feed feed;
        icalcomponent_kind kind;
    } feeds[] = { { DB_FEED_JOBS, ICAL_VEVENT_COMPONENT },
                  { DB_FEED_MORNINGS, ICAL_VEVENT_COMPONENT },
                  { DB_FEED_TASKS, ICAL_VTODO_COMPONENT } };

    for (size_t i = 0; i < sizeof feeds / sizeof feeds[0]; i++) {
        struct ledger ledger = { 0 };
        struct db_notice notice = { .name = "mistakes",
                                    .day = on(2026, 7, 1),
                                    .summary = "Mistake in your plan: garden.ini line 14",
                                    .description = "garden.ini line 14: there is no crop \"karrot\".\nMore, below;" };
        struct db_feed_result plain = build(feeds[i].feed, NULL, now, &ledger);
        struct db_feed_result first = build(feeds[i].feed, &notice, now + 60, &ledger);
        struct seen before = look(&plain, feeds[i].kind), one = look(&first, feeds[i].kind);
        assert_int_equal(before.count, 0);
        assert_int_equal(one.count, 1);
        assert_int_equal(one.events, before.events + 1);
        assert_string_equal(one.summary, notice.summary);
        assert_string_equal(one.description, notice.description);
        assert_string_equal(one.day, "2026-07-01");

        /* Asked again: the very same bytes. */
        struct db_feed_result again = build(feeds[i].feed, &notice, now + 3600, &ledger);
        assert_int_equal(again.bytes.length, first.bytes.length);
        assert_memory_equal(again.bytes.data, first.bytes.data, first.bytes.length);
        assert_int_equal(again.fresh_count, 0);

        /* Tomorrow it stands on tomorrow: the same event, moved. */
        notice.day = on(2026, 7, 2);
        struct db_feed_result moved = build(feeds[i].feed, &notice, now + 86400, &ledger);
        struct seen next = look(&moved, feeds[i].kind);
        assert_int_equal(next.count, 1);
        assert_string_equal(next.uid, one.uid);
        assert_string_equal(next.day, "2026-07-02");
        assert_int_equal(next.sequence, one.sequence + 1);

        /* Mended: gone, and all else is as it was before. Broken again: the same event, later. */
        struct db_feed_result mended = build(feeds[i].feed, NULL, now + 90000, &ledger);
        assert_int_equal(mended.bytes.length, plain.bytes.length);
        assert_memory_equal(mended.bytes.data, plain.bytes.data, plain.bytes.length);
        notice.summary = "Mistake in your plan: beds.ini line 2";
        struct db_feed_result broken = build(feeds[i].feed, &notice, now + 95000, &ledger);
        struct seen back = look(&broken, feeds[i].kind);
        assert_string_equal(back.uid, one.uid);
        assert_int_equal(back.sequence, next.sequence + 1);
        db_feed_free(&plain), db_feed_free(&first), db_feed_free(&again);
        db_feed_free(&moved), db_feed_free(&mended), db_feed_free(&broken);
        ledger_forget(&ledger);
    }
}

static void what_a_notice_quotes_cannot_break_the_feed(void **state)
{
    (void) state;
    struct ledger ledger = { 0 };
    const struct db_notice notice = { .name = "mistakes",
                                      .day = on(2026, 7, 1),
                                      .summary = "Mistake\r\nEND:VEVENT\r\nBEGIN:VEVENT",
                                      .description = "\x01\x7f\xff END:VCALENDAR\r\nX:1" };
    struct db_feed_result made = build(DB_FEED_JOBS, &notice, now, &ledger);
    struct seen seen = look(&made, ICAL_VEVENT_COMPONENT);

    assert_int_equal(seen.count, 1);
    assert_null(strstr(made.bytes.data, "\nX:1"));
    assert_null(memchr(made.bytes.data, 0x7f, made.bytes.length));
    db_feed_free(&made);
    ledger_forget(&ledger);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(a_notice_is_one_event_that_moves_and_goes, set_up, tear_down),
        cmocka_unit_test_setup_teardown(what_a_notice_quotes_cannot_break_the_feed, set_up, tear_down),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
