/* Feeds of small gardens: what must stay, what must rise, what must never be there. Read back by libical. */
#include "write/write.h"

#include "base/limits.h"
#include "base/text.h"

#include <libical/ical.h>

#include <setjmp.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "kit/feed_garden.h"

#include "base/banned.h"

/* ---- the tests ---- */

static void one_event_a_job(void **state)
{
    struct garden g = small();
    struct ledger ledger = { 0 };
    struct db_feed_result feed = build(&g, DB_FEED_JOBS, noon, &ledger);
    const struct db_jobs *jobs = kit_evaluate(&g.plot, g.today);

    (void) state;
    assert_true(db_jobs_count(jobs) >= 6);
    assert_int_equal(check_feed(&feed.bytes), db_jobs_count(jobs));
    assert_int_equal(feed.fresh_count, db_jobs_count(jobs));
    assert_int_equal(feed.copied, 0);
    assert_int_equal(feed.left_out, 0);
    /* 25 May + 25 days; RFC 9562 UUID of "job|thin-the-row|carrot-1|0" in the garden's key, worked out with Python's uuid5. */
    assert_non_null(strstr(feed.bytes.data, "UID:c67dfea5-0a35-57f5-8801-d7ede3f51994\r\n"));
    icalcomponent *calendar = read_back(&feed.bytes);
    icalcomponent *thin = event_of(calendar, "c67dfea5-0a35-57f5-8801-d7ede3f51994");
    assert_non_null(thin);
    assert_string_equal(icalcomponent_get_summary(thin), "Thin carrots in the north bed");
    assert_string_equal(icalcomponent_get_location(thin), "the north bed");
    assert_int_equal(icalcomponent_get_dtstart(thin).day, 19);
    const char *said = icalcomponent_get_description(thin);
    static const char *const parts[] = { "Window: Sun 14 June to Sat 4 July; best on Fri 19 June.",
                                         "\nWhy: ",
                                         " (Worked out on 17 June.)",
                                         "\nHow: Water the row first if it is dry; leave the strongest",
                                         "\nTakes about 12 min.",
                                         "\nWhen it is done: dewbell note carrot-1 thinned" };
    for (size_t i = 0; i < ROWS(parts); i++)
        if (!strstr(said, parts[i]))
            fail_msg("\"%s\" is not in \"%s\"", parts[i], said);
    icalcomponent_free(calendar);
    ledger_forget(&ledger);
    let_go(&g, &feed);
}

static void nothing_changed_nothing_written(void **state)
{
    static const enum db_feed both[] = { DB_FEED_JOBS, DB_FEED_MORNINGS };

    (void) state;
    for (size_t i = 0; i < 2; i++) {
        struct garden g = small(), again = small();
        struct ledger ledger = { 0 };
        struct db_feed_result feed = build(&g, both[i], noon, &ledger);
        struct db_feed_result second = build(&again, both[i], noon + 7200, &ledger);

        (void) check_feed(&feed.bytes);
        assert_int_equal(second.fresh_count, 0);
        assert_int_equal(second.copied, feed.fresh_count);
        assert_string_equal(second.bytes.data, feed.bytes.data);
        ledger_forget(&ledger);
        let_go(&g, &feed);
        let_go(&again, &second);
    }
}

/* Compares two builds: those that changed must be of one sowing, named in their text, and have risen; how many changed or
 * are new. */
static void compare(const struct db_bytes *old, const struct db_bytes *new, const char *only, int64_t modified,
                    size_t *ret_changed)
{
    icalcomponent *before = read_back(old), *after = read_back(new);
    size_t changed = 0, fresh = 0;

    for (icalcompiter it = icalcomponent_begin_component(after, ICAL_VEVENT_COMPONENT); icalcompiter_deref(&it);
         (void) icalcompiter_next(&it)) {
        icalcomponent *now = icalcompiter_deref(&it), *then = event_of(before, icalcomponent_get_uid(now));
        if (!then) {
            fresh++;
            assert_int_equal(icalcomponent_get_sequence(now), 0);
            continue;
        }
        char *a = icalcomponent_as_ical_string_r(then), *b = icalcomponent_as_ical_string_r(now);
        if (strcmp(a, b) != 0) {
            changed++;
            assert_non_null(strstr(icalcomponent_get_description(now), only));
            assert_int_equal(icalcomponent_get_sequence(now), icalcomponent_get_sequence(then) + 1);
            assert_true(icaltime_compare(time_of(now, ICAL_LASTMODIFIED_PROPERTY),
                                         time_of(then, ICAL_LASTMODIFIED_PROPERTY)) > 0);
            assert_int_equal(icaltime_as_timet(time_of(now, ICAL_LASTMODIFIED_PROPERTY)), modified);
            assert_int_equal(icaltime_as_timet(time_of(now, ICAL_DTSTAMP_PROPERTY)), modified);
            assert_int_equal(
                icaltime_compare(time_of(now, ICAL_CREATED_PROPERTY), time_of(then, ICAL_CREATED_PROPERTY)), 0);
        }
        icalmemory_free_buffer(a);
        icalmemory_free_buffer(b);
    }
    icalcomponent_free(before);
    icalcomponent_free(after);
    assert_true(changed >= 2);
    *ret_changed = changed + fresh;
}

static void a_moved_sowing_moves_its_own_events_only(void **state)
{
    struct garden g = small(), moved = small();
    struct ledger ledger = { 0 };
    struct db_feed_result feed = build(&g, DB_FEED_JOBS, noon, &ledger);
    size_t changed;

    (void) state;
    moved.lettuce = on(2026, 6, 4);
    struct db_feed_result second = build(&moved, DB_FEED_JOBS, noon + 60, &ledger);
    assert_int_equal(check_feed(&second.bytes), db_jobs_count(kit_evaluate(&moved.plot, moved.today)));
    compare(&feed.bytes, &second.bytes, "lettuce-1", noon + 60, &changed);
    assert_int_equal(changed, second.fresh_count);
    assert_int_equal(check_feed(&second.bytes) - second.copied, second.fresh_count);
    ledger_forget(&ledger);
    let_go(&g, &feed);
    let_go(&moved, &second);
}

/* A new how-to is no part of a morning's words: its meaning is another, its bytes are the same. A ledger that remembers only
 * some meaning of old must not raise what reads as before. */
static void what_reads_the_same_is_not_raised(void **state)
{
    static const enum db_feed both[] = { DB_FEED_JOBS, DB_FEED_MORNINGS };

    (void) state;
    for (size_t i = 0; i < 2; i++) {
        struct garden g = small(), again = small(), third = small();
        struct ledger ledger = { 0 };
        struct db_feed_result feed = build(&g, both[i], noon, &ledger);

        assert_int_equal(feed.changed, feed.fresh_count);
        for (size_t row = 0; row < ledger.count; row++)
            ledger.rows[row].meaning[3] ^= 1;
        struct db_feed_result second = build(&again, both[i], noon + 60, &ledger);
        assert_int_equal(second.fresh_count, feed.fresh_count);
        assert_int_equal(second.changed, 0);
        assert_string_equal(second.bytes.data, feed.bytes.data);
        third.how = "Quite another way.";
        struct db_feed_result other = build(&third, both[i], noon + 120, &ledger);
        assert_int_equal(other.changed, both[i] == DB_FEED_JOBS ? feed.fresh_count : 0);
        assert_int_equal(other.fresh_count, feed.fresh_count);
        ledger_forget(&ledger);
        let_go(&g, &feed);
        let_go(&again, &second);
        let_go(&third, &other);
    }
}

static void a_done_job_is_ticked(void **state)
{
    struct garden g = small(), done = small();
    struct ledger ledger = { 0 };
    struct db_feed_result feed = build(&g, DB_FEED_JOBS, noon, &ledger);

    (void) state;
    done.note = true;
    struct db_feed_result second = build(&done, DB_FEED_JOBS, noon + 60, &ledger);
    assert_int_equal(second.fresh_count, 1);
    icalcomponent *calendar = read_back(&second.bytes);
    icalcomponent *thin = event_of(calendar, "c67dfea5-0a35-57f5-8801-d7ede3f51994");
    assert_string_equal(icalcomponent_get_summary(thin), "\xE2\x9C\x93 Thin carrots in the north bed");
    assert_non_null(strstr(icalcomponent_get_description(thin), "Done on 17 June (your note)."));
    assert_null(strstr(icalcomponent_get_description(thin), "When it is done"));
    /* Nobody reads any more how it is to be done. */
    assert_null(strstr(icalcomponent_get_description(thin), "How:"));
    assert_null(strstr(icalcomponent_get_description(thin), "Takes about"));
    icalcomponent_free(calendar);
    ledger_forget(&ledger);
    let_go(&g, &feed);
    let_go(&done, &second);
}

static void a_withdrawn_sowing_leaves_no_event(void **state)
{
    struct garden g = small(), less = small();
    struct ledger ledger = { 0 };
    struct db_feed_result feed = build(&g, DB_FEED_JOBS, noon, &ledger);

    (void) state;
    less.no_lettuce = true;
    struct db_feed_result second = build(&less, DB_FEED_JOBS, noon + 60, &ledger);
    assert_int_equal(second.fresh_count, 0);
    assert_int_equal(check_feed(&second.bytes), db_jobs_count(kit_evaluate(&less.plot, less.today)));
    assert_true(second.copied < feed.fresh_count);
    assert_null(strstr(second.bytes.data, "lettuce"));
    ledger_forget(&ledger);
    let_go(&g, &feed);
    let_go(&less, &second);
}

static void a_lost_ledger_never_lowers_sequence(void **state)
{
    struct garden g = small(), moved = small(), lost = small();
    struct ledger ledger = { 0 };
    struct db_feed_result feed = build(&g, DB_FEED_JOBS, noon, &ledger);

    (void) state;
    moved.lettuce = on(2026, 6, 4);
    lost.lettuce = on(2026, 6, 4);
    struct db_feed_result second = build(&moved, DB_FEED_JOBS, noon + 300, &ledger);
    ledger_forget(&ledger);
    struct db_feed_result third = build(&lost, DB_FEED_JOBS, noon + 600, &ledger);
    icalcomponent *before = read_back(&second.bytes), *after = read_back(&third.bytes);
    size_t count = 0;
    for (icalcompiter it = icalcomponent_begin_component(before, ICAL_VEVENT_COMPONENT); icalcompiter_deref(&it);
         (void) icalcompiter_next(&it), count++) {
        icalcomponent *then = icalcompiter_deref(&it), *now = event_of(after, icalcomponent_get_uid(then));
        assert_non_null(now);
        assert_true(icalcomponent_get_sequence(now) > icalcomponent_get_sequence(then));
    }
    assert_int_equal(count, third.fresh_count);
    icalcomponent_free(before);
    icalcomponent_free(after);
    ledger_forget(&ledger);
    let_go(&g, &feed);
    let_go(&moved, &second);
    let_go(&lost, &third);
}

static void a_clock_set_back_still_stamps_later(void **state)
{
    struct garden g = small(), moved = small();
    struct ledger ledger = { 0 };
    struct db_feed_result feed = build(&g, DB_FEED_JOBS, noon, &ledger);
    size_t changed;

    (void) state;
    moved.carrot = on(2026, 5, 28);
    struct db_feed_result second = build(&moved, DB_FEED_JOBS, noon - 86400, &ledger);
    compare(&feed.bytes, &second.bytes, "carrot-1", noon + 1, &changed);
    assert_int_equal(changed, second.fresh_count);
    ledger_forget(&ledger);
    let_go(&g, &feed);
    let_go(&moved, &second);
}

static void hostile_words_stay_words(void **state)
{
    static const char evil[] = "x, y; \\ \"z\"\r\nX-EVIL:1\nX-EVIL:2\rX-EVIL:3\t\x01\x7F\xFF\xC2\x85X-EVIL:4";
    static const enum db_feed both[] = { DB_FEED_JOBS, DB_FEED_MORNINGS };

    (void) state;
    for (size_t i = 0; i < 2; i++) {
        struct garden g = small();
        struct ledger ledger = { 0 };

        g.bed_name = g.name = g.how = evil;
        struct db_feed_result feed = build(&g, both[i], noon, &ledger);
        assert_true(check_feed(&feed.bytes) > 1);
        for (const char *at = feed.bytes.data; *at; at++)
            assert_true((unsigned char) *at >= 0x20 || *at == '\r' || *at == '\n');
        assert_null(strchr(feed.bytes.data, 0x7F));
        icalcomponent *calendar = read_back(&feed.bytes);
        for (icalproperty *p = icalcomponent_get_first_property(calendar, ICAL_ANY_PROPERTY); p;
             p = icalcomponent_get_next_property(calendar, ICAL_ANY_PROPERTY))
            if (icalproperty_isa(p) == ICAL_X_PROPERTY)
                assert_null(strstr(icalproperty_get_x_name(p), "EVIL"));
        icalcomponent_free(calendar);
        ledger_forget(&ledger);
        let_go(&g, &feed);
    }
}

static void a_garden_without_jobs_has_one_event(void **state)
{
    static const enum db_feed both[] = { DB_FEED_JOBS, DB_FEED_MORNINGS };

    (void) state;
    for (size_t i = 0; i < 2; i++) {
        struct garden g = small(), later = small();
        struct ledger ledger = { 0 };

        g.carrot = later.carrot = on(2020, 5, 1); /* long over */
        g.no_lettuce = later.no_lettuce = true;
        later.today = on(2026, 6, 29);
        struct db_feed_result feed = build(&g, both[i], noon, &ledger);
        assert_int_equal(check_feed(&feed.bytes), 1);
        assert_non_null(strstr(feed.bytes.data, "SUMMARY:No jobs in the plan yet\r\n"));
        struct db_feed_result second = build(&later, both[i], noon + 12 * 86400, &ledger);
        assert_string_equal(second.bytes.data, feed.bytes.data);
        ledger_forget(&ledger);
        let_go(&g, &feed);
        let_go(&later, &second);
    }
    struct garden g = small();
    struct ledger ledger = { 0 };
    g.today = on(2026, 2, 1); /* the first job is in June */
    struct db_feed_result feed = build(&g, DB_FEED_MORNINGS, noon, &ledger);
    assert_int_equal(check_feed(&feed.bytes), 1);
    assert_non_null(strstr(feed.bytes.data, "SUMMARY:Next job: "));
    ledger_forget(&ledger);
    let_go(&g, &feed);
}

static void mornings_wake_for_days_with_jobs(void **state)
{
    struct garden g = small();
    struct ledger ledger = { 0 };
    struct db_feed_result feed = build(&g, DB_FEED_MORNINGS, noon, &ledger);
    const struct db_jobs *jobs = kit_evaluate(&g.plot, g.today);
    size_t days = 0, tools = 0, count = check_feed(&feed.bytes);

    (void) state;
    for (size_t i = 0; i < db_jobs_count(jobs); i++) {
        struct db_date best = db_jobs_at(jobs, i)->best;
        if (best.day >= g.today.day - 30 && best.day <= g.today.day + 13)
            days += i == 0 || db_jobs_at(jobs, i - 1)->best.day != best.day;
    }
    assert_true(days > 3);
    assert_int_equal(count, days);
    icalcomponent *calendar = read_back(&feed.bytes);
    for (icalcompiter it = icalcomponent_begin_component(calendar, ICAL_VEVENT_COMPONENT); icalcompiter_deref(&it);
         (void) icalcompiter_next(&it)) {
        icalcomponent *alarm = icalcomponent_get_first_component(icalcompiter_deref(&it), ICAL_VALARM_COMPONENT);
        const char *said = icalcomponent_get_description(icalcompiter_deref(&it));
        assert_true(!alarm || !strstr(said, "- Thin") == !strstr(said, "\nTo fetch: hand fork.\n"));
        tools += alarm && strstr(said, "\nTo fetch: hand fork.\n");
        if (!alarm)
            continue;
        icalproperty *trigger = icalcomponent_get_first_property(alarm, ICAL_TRIGGER_PROPERTY);
        assert_int_equal(icaldurationtype_as_int(icalproperty_get_trigger(trigger).duration), 6 * 3600 + 1800);
        assert_non_null(icalcomponent_get_first_property(alarm, ICAL_UID_PROPERTY));
        assert_non_null(icalcomponent_get_first_property(alarm, ICAL_DESCRIPTION_PROPERTY));
    }
    icalcomponent_free(calendar);
    assert_true(tools > 0);
    /* uuid5(key, "morning|2026-06-19") and "alarm|morning|2026-06-19" by Python's uuid module. */
    assert_non_null(strstr(feed.bytes.data, "UID:8fd8f7d7-0079-58f8-bbcc-1a9f591c53c2\r\n"));
    assert_non_null(strstr(feed.bytes.data, "UID:49b13dae-2db9-5b61-ae01-7f01e35c815d\r\n"));
    ledger_forget(&ledger);
    let_go(&g, &feed);
}

/* A plan of 1200 sowings, one a day either side of today: 4800 jobs. */
static void a_large_feed_is_cut_at_its_far_ends(void **state)
{
    enum { SOWINGS = 1200 };
    struct plot plot = plot_new(52, 0);
    struct db_date today = on(2026, 6, 17);
    const struct db_bed *bed = plot_bed(&plot, "north", DB_COVER_OPEN);
    struct db_crop_facts carrot = kit_crop("carrot");
    struct ledger ledger = { 0 };
    struct db_feed_result feed, all;

    (void) state;
    plot_weather(&plot, on(2025, 5, 1), 900);
    for (int i = 0; i < 900; i++)
        plot_day(&plot, db_date_add(on(2025, 5, 1), i), 8, 18, 1);
    for (int i = 0; i < SOWINGS; i++) {
        char *id = db_arena_get(plot.arena, 16, 1);
        struct db_date sown = db_date_add(today, i % 400 - 60);
        (void) snprintf(id, 16, "carrot-%d", i);
        (void) plot_sow(&plot, (struct db_sowing){ .id = id,
                                                   .crop = &carrot,
                                                   .bed = bed,
                                                   .way = DB_WAY_DRILL,
                                                   .planned = sown,
                                                   .sown = sown.day < today.day ? sown : DB_NO_DATE,
                                                   .anyway = true });
    }
    plot_close_diary(&plot);
    plot.view.rules = kit_compile(&plot, kit_rules, ROWS(kit_rules));
    const struct db_jobs *jobs = kit_evaluate(&plot, today);
    size_t count = db_jobs_count(jobs);
    assert_true(count > 3000);
    assert_int_equal(db_feed_build(jobs, DB_FEED_JOBS, noon, 0, false, ledger_find, &ledger, &feed), DB_OK);
    assert_true(feed.bytes.length <= DB_LIMIT_FEED_BYTES);
    size_t events = check_feed(&feed.bytes);
    assert_true(events <= DB_LIMIT_FEED_EVENTS);
    assert_true(events == DB_LIMIT_FEED_EVENTS || feed.bytes.length > DB_LIMIT_FEED_BYTES - 4096);
    assert_int_equal(events + feed.left_out, count);
    /* Today and the weeks around it are in; both far ends are not. */
    assert_non_null(strstr(feed.bytes.data, "DTSTART;VALUE=DATE:20260617\r\n"));
    assert_non_null(strstr(feed.bytes.data, "DTSTART;VALUE=DATE:20260612\r\n"));
    assert_non_null(strstr(feed.bytes.data, "DTSTART;VALUE=DATE:20260710\r\n"));
    assert_null(strstr(feed.bytes.data, "DTSTART;VALUE=DATE:2027"));
    ledger_put(&ledger, &feed);
    assert_int_equal(db_feed_build(jobs, DB_FEED_JOBS, noon + 5, 0, true, ledger_find, &ledger, &all), DB_OK);
    assert_int_equal(check_feed(&all.bytes), count);
    assert_int_equal(all.left_out, 0);
    assert_int_equal(all.copied, events);
    db_feed_free(&feed);
    db_feed_free(&all);
    ledger_forget(&ledger);
    plot_free(&plot);
}

static void what_cannot_be_built_is_refused(void **state)
{
    struct garden g = small();
    struct ledger ledger = { 0 };
    const struct db_jobs *jobs = work_out(&g);
    struct db_feed_result feed;
    struct db_site *site = (struct db_site *) (uintptr_t) db_garden_site(g.plot.garden);

    (void) state;
    assert_int_equal(db_feed_build(jobs, DB_FEED_JOBS, -1, 0, false, ledger_find, &ledger, &feed), DB_RANGE);
    site->key = "not a key";
    assert_int_equal(db_feed_build(jobs, DB_FEED_JOBS, noon, 0, false, ledger_find, &ledger, &feed), DB_RANGE);
    assert_null(feed.bytes.data);
    let_go(&g, &feed);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(one_event_a_job),
        cmocka_unit_test(nothing_changed_nothing_written),
        cmocka_unit_test(a_moved_sowing_moves_its_own_events_only),
        cmocka_unit_test(what_reads_the_same_is_not_raised),
        cmocka_unit_test(a_done_job_is_ticked),
        cmocka_unit_test(a_withdrawn_sowing_leaves_no_event),
        cmocka_unit_test(a_lost_ledger_never_lowers_sequence),
        cmocka_unit_test(a_clock_set_back_still_stamps_later),
        cmocka_unit_test(hostile_words_stay_words),
        cmocka_unit_test(a_garden_without_jobs_has_one_event),
        cmocka_unit_test(mornings_wake_for_days_with_jobs),
        cmocka_unit_test(a_large_feed_is_cut_at_its_far_ends),
        cmocka_unit_test(what_cannot_be_built_is_refused),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
