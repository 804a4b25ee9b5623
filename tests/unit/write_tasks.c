/* The tasks feed: windows, states and stamps of VTODOs, read back by libical. RFC 5545, section 3.6.2 and those it names. */
#include "write/write.h"

#include <libical/ical.h>

#include <setjmp.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "kit/ledger.h"

#include "base/banned.h"

static const int64_t noon = 1781697600; /* 2026-06-17 12:00:00 UTC */

/* Python 3: uuid.uuid5(uuid.UUID("3f0e6a52-6f0a-4a33-9a57-0c5a9cf0a1b7"), "task|thin-the-row|carrot-1|0"), and the same of
 * "alarm|task|thin-the-row|carrot-1|0". */
static const char thin_uid[] = "878b1eb7-0be3-5ae5-bfc5-0d4b07545051";
static const char alarm_uid[] = "5d98ab62-6b41-5e41-a7e0-3a8613c9785e";

struct garden {
    struct plot plot;
    double longitude;
    struct db_date carrot, today;
    bool noted;
};

static struct garden small(void)
{
    return (struct garden){ .carrot = on(2026, 5, 25), .today = on(2026, 6, 17) };
}

static struct db_feed_result build(struct garden *g, int64_t now, struct ledger *ledger)
{
    struct db_feed_result feed;

    g->plot = plot_new(52, g->longitude);
    plot_weather(&g->plot, on(2025, 5, 1), 900);
    for (int i = 0; i < 900; i++)
        plot_day(&g->plot, db_date_add(on(2025, 5, 1), i), 8, 18, 1);
    struct db_crop_facts *crop = db_arena_get(g->plot.arena, 1, sizeof *crop);
    *crop = kit_crop("carrot");
    crop->text[DB_FACT_PLURAL] = "carrots";
    (void) plot_sow(&g->plot, (struct db_sowing){ .id = "carrot-1",
                                                  .crop = crop,
                                                  .bed = plot_bed(&g->plot, "the north bed", DB_COVER_OPEN),
                                                  .way = DB_WAY_DRILL,
                                                  .planned = g->carrot,
                                                  .sown = g->carrot,
                                                  .anyway = true });
    if (g->noted)
        plot_note(&g->plot, "carrot-1", "thinned", on(2026, 6, 16));
    plot_close_diary(&g->plot);
    g->plot.view.rules = kit_compile(&g->plot, kit_rules, sizeof kit_rules / sizeof kit_rules[0]);
    const struct db_jobs *jobs = kit_evaluate(&g->plot, g->today);
    assert_int_equal(db_feed_build(jobs, DB_FEED_TASKS, now, 0, false, ledger_find, ledger, &feed), DB_OK);
    ledger_put(ledger, &feed);
    return feed;
}

static void let_go(struct garden *g, struct db_feed_result *feed)
{
    db_feed_free(feed);
    plot_free(&g->plot);
}

static icalcomponent *read_back(const struct db_feed_result *feed)
{
    icalcomponent *calendar = icalparser_parse_string(feed->bytes.data);

    assert_non_null(calendar);
    assert_int_equal(icalcomponent_count_errors(calendar), 0);
    assert_int_equal(icalcomponent_count_components(calendar, ICAL_VEVENT_COMPONENT), 0);
    assert_int_equal(icalcomponent_count_components(calendar, ICAL_ANY_COMPONENT),
                     icalcomponent_count_components(calendar, ICAL_VTODO_COMPONENT));
    return calendar;
}

static icalcomponent *task_of(icalcomponent *calendar, const char *uid)
{
    for (icalcompiter it = icalcomponent_begin_component(calendar, ICAL_VTODO_COMPONENT); icalcompiter_deref(&it);
         (void) icalcompiter_next(&it))
        if (strcmp(icalcomponent_get_uid(icalcompiter_deref(&it)), uid) == 0)
            return icalcompiter_deref(&it);
    fail_msg("there is no task %s", uid);
    return NULL;
}

/* The property's value as text; "" where there is none. */
static const char *said(icalcomponent *of, icalproperty_kind kind)
{
    icalproperty *property = icalcomponent_get_first_property(of, kind);
    const char *value = property ? icalproperty_get_value_as_string(property) : "";

    return value ? value : "";
}

static void each_job_is_a_task_with_its_window(void **state)
{
    struct garden g = small();
    struct ledger ledger = { 0 };
    struct db_feed_result feed = build(&g, noon, &ledger);
    icalcomponent *calendar = read_back(&feed);
    size_t spans = 0, days = 0;

    (void) state;
    icalcomponent *thin = task_of(calendar, thin_uid);
    assert_string_equal(said(thin, ICAL_DTSTART_PROPERTY), "20260614");
    assert_string_equal(said(thin, ICAL_DUE_PROPERTY), "20260704");
    assert_string_equal(said(thin, ICAL_STATUS_PROPERTY), "NEEDS-ACTION");
    assert_string_equal(said(thin, ICAL_PERCENTCOMPLETE_PROPERTY), "0");
    assert_string_equal(said(thin, ICAL_COMPLETED_PROPERTY), "");
    assert_string_equal(said(thin, ICAL_SUMMARY_PROPERTY), "Thin carrots in the north bed");
    icalcomponent *alarm = icalcomponent_get_first_component(thin, ICAL_VALARM_COMPONENT);
    assert_non_null(alarm);
    assert_string_equal(icalcomponent_get_uid(alarm), alarm_uid);
    assert_string_equal(said(alarm, ICAL_TRIGGER_PROPERTY), "PT6H30M");
    /* Section 3.6.2: DUE is later than DTSTART. A task of one day has DUE only, and its alarm counts from there. */
    for (icalcompiter it = icalcomponent_begin_component(calendar, ICAL_VTODO_COMPONENT); icalcompiter_deref(&it);
         (void) icalcompiter_next(&it)) {
        icalcomponent *task = icalcompiter_deref(&it);
        const char *due = said(task, ICAL_DUE_PROPERTY), *start = said(task, ICAL_DTSTART_PROPERTY);

        assert_int_equal(strlen(due), 8);
        assert_string_equal(said(task, ICAL_DTSTAMP_PROPERTY), said(task, ICAL_LASTMODIFIED_PROPERTY));
        alarm = icalcomponent_get_first_component(task, ICAL_VALARM_COMPONENT);
        if (*start) {
            assert_true(strcmp(start, due) < 0);
            spans++;
        } else if (alarm) {
            icalproperty *trigger = icalcomponent_get_first_property(alarm, ICAL_TRIGGER_PROPERTY);
            assert_string_equal(icalproperty_get_parameter_as_string(trigger, "RELATED"), "END");
            days++;
        }
    }
    assert_true(spans > 0 && days > 0);
    icalcomponent_free(calendar);
    ledger_forget(&ledger);
    let_go(&g, &feed);
}

/* Sections 3.8.1.8, 3.8.1.11, 3.8.2.1: all three say that it is done, the moment in UTC. The note knows its day only, which
 * must be that day on the gardener's clock: noon by the sun, here and in New Zealand. */
static void a_done_job_is_a_completed_task(void **state)
{
    static const struct {
        double longitude;
        const char *completed;
    } places[] = { { 0, "20260616T120000Z" }, { 174.8, "20260616T010000Z" }, { -122.3, "20260616T200000Z" } };

    (void) state;
    for (size_t i = 0; i < sizeof places / sizeof places[0]; i++) {
        struct garden g = small(), done = small();
        struct ledger ledger = { 0 };

        g.longitude = done.longitude = places[i].longitude;
        done.noted = true;
        struct db_feed_result feed = build(&g, noon, &ledger), second = build(&done, noon + 60, &ledger);
        assert_int_equal(second.changed, 1);
        icalcomponent *before = read_back(&feed), *after = read_back(&second);
        icalcomponent *then = task_of(before, thin_uid), *now = task_of(after, thin_uid);
        assert_string_equal(said(now, ICAL_STATUS_PROPERTY), "COMPLETED");
        assert_string_equal(said(now, ICAL_PERCENTCOMPLETE_PROPERTY), "100");
        assert_string_equal(said(now, ICAL_COMPLETED_PROPERTY), places[i].completed);
        assert_string_equal(said(now, ICAL_SUMMARY_PROPERTY), said(then, ICAL_SUMMARY_PROPERTY));
        assert_null(icalcomponent_get_first_component(now, ICAL_VALARM_COMPONENT));
        assert_int_equal(icalcomponent_get_sequence(now), icalcomponent_get_sequence(then) + 1);
        assert_string_equal(said(now, ICAL_CREATED_PROPERTY), said(then, ICAL_CREATED_PROPERTY));
        assert_string_equal(said(now, ICAL_LASTMODIFIED_PROPERTY), "20260617T120100Z");
        icalcomponent_free(before);
        icalcomponent_free(after);
        ledger_forget(&ledger);
        let_go(&g, &feed);
        let_go(&done, &second);
    }
}

static void a_job_whose_days_are_over_is_no_open_task(void **state)
{
    struct garden g = small();
    struct ledger ledger = { 0 };

    (void) state;
    g.today = on(2026, 7, 10);
    struct db_feed_result feed = build(&g, noon, &ledger);
    icalcomponent *calendar = read_back(&feed), *thin = task_of(calendar, thin_uid);
    assert_string_equal(said(thin, ICAL_STATUS_PROPERTY), "CANCELLED");
    assert_string_equal(said(thin, ICAL_PERCENTCOMPLETE_PROPERTY), "0");
    assert_null(icalcomponent_get_first_component(thin, ICAL_VALARM_COMPONENT));
    icalcomponent_free(calendar);
    ledger_forget(&ledger);
    let_go(&g, &feed);
}

static void nothing_changed_nothing_written(void **state)
{
    struct garden g = small(), again = small(), stale = small();
    struct ledger ledger = { 0 };
    struct db_feed_result feed = build(&g, noon, &ledger), second = build(&again, noon + 7200, &ledger);

    (void) state;
    assert_int_equal(second.fresh_count, 0);
    assert_string_equal(second.bytes.data, feed.bytes.data);
    /* Another meaning whose words are the same: one-day tasks, too, keep their stamps. */
    for (size_t row = 0; row < ledger.count; row++)
        ledger.rows[row].meaning[3] ^= 1;
    struct db_feed_result third = build(&stale, noon + 9000, &ledger);
    assert_int_equal(third.fresh_count, feed.fresh_count);
    assert_int_equal(third.changed, 0);
    assert_string_equal(third.bytes.data, feed.bytes.data);
    ledger_forget(&ledger);
    let_go(&g, &feed);
    let_go(&again, &second);
    let_go(&stale, &third);
}

static void a_garden_without_jobs_has_one_task_without_a_day(void **state)
{
    struct garden g = small(), later = small();
    struct ledger ledger = { 0 };

    (void) state;
    g.carrot = later.carrot = on(2020, 5, 1);
    later.today = on(2026, 7, 29);
    struct db_feed_result feed = build(&g, noon, &ledger), second = build(&later, noon + 42 * 86400, &ledger);
    icalcomponent *calendar = read_back(&feed);
    assert_int_equal(icalcomponent_count_components(calendar, ICAL_VTODO_COMPONENT), 1);
    assert_null(strstr(feed.bytes.data, "DUE"));
    assert_string_equal(second.bytes.data, feed.bytes.data);
    icalcomponent_free(calendar);
    ledger_forget(&ledger);
    let_go(&g, &feed);
    let_go(&later, &second);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(each_job_is_a_task_with_its_window),
        cmocka_unit_test(a_done_job_is_a_completed_task),
        cmocka_unit_test(a_job_whose_days_are_over_is_no_open_task),
        cmocka_unit_test(nothing_changed_nothing_written),
        cmocka_unit_test(a_garden_without_jobs_has_one_task_without_a_day),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
