/* A small garden, its feed, and what holds for every feed, read back by libical. Include after cmocka.h, in one file of a program. */
#ifndef DB_TESTS_KIT_FEED_GARDEN_H
#define DB_TESTS_KIT_FEED_GARDEN_H

#include "write/write.h"

#include "base/limits.h"
#include "base/text.h"
#include "kit/ledger.h"

#include <libical/ical.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define ROWS(table) (sizeof(table) / sizeof(table)[0])

static const int64_t noon = 1781697600; /* 2026-06-17 12:00:00 UTC */

/* The garden all tests start from; each changes one thing of it. */
struct garden {
    struct plot plot;
    struct db_date carrot, lettuce, today;
    const char *bed_name, *name, *how;
    bool no_lettuce, note;
};

static struct garden small(void)
{
    struct garden garden = { .carrot = on(2026, 5, 25), .lettuce = on(2026, 6, 1), .today = on(2026, 6, 17) };

    garden.bed_name = "the north bed";
    garden.name = "Tarn Hollow";
    return garden;
}

static const struct db_jobs *work_out(struct garden *g)
{
    const char *rows[ROWS(kit_rules)][3];

    g->plot = plot_new(52, 0);
    struct db_site *site = (struct db_site *) (uintptr_t) db_garden_site(g->plot.garden);
    site->name = g->name;
    plot_weather(&g->plot, on(2025, 5, 1), 900);
    for (int i = 0; i < 900; i++)
        plot_day(&g->plot, db_date_add(on(2025, 5, 1), i), 8, 18, 1);
    struct db_bed wanted = { .id = "north", .name = g->bed_name, .cover = DB_COVER_OPEN, .warmth = NAN };
    const struct db_bed *bed = NULL;
    assert_int_equal(db_garden_add_bed(g->plot.garden, &wanted, &bed), DB_OK);
    struct db_crop_facts *crops = db_arena_get(g->plot.arena, 2, sizeof *crops);
    crops[0] = kit_crop("carrot");
    crops[0].text[DB_FACT_PLURAL] = "carrots";
    crops[1] = kit_crop("lettuce");
    (void) plot_sow(&g->plot, (struct db_sowing){ .id = "carrot-1",
                                                  .crop = &crops[0],
                                                  .bed = bed,
                                                  .way = DB_WAY_DRILL,
                                                  .planned = g->carrot,
                                                  .sown = g->carrot,
                                                  .anyway = true });
    if (!g->no_lettuce)
        (void) plot_sow(&g->plot, (struct db_sowing){ .id = "lettuce-1",
                                                      .crop = &crops[1],
                                                      .bed = bed,
                                                      .way = DB_WAY_DRILL,
                                                      .planned = g->lettuce,
                                                      .sown = g->lettuce,
                                                      .anyway = true });
    if (g->note)
        plot_note(&g->plot, "carrot-1", "thinned", g->today);
    plot_close_diary(&g->plot);
    memcpy(rows, kit_rules, sizeof rows);
    for (size_t i = 0; g->how && i < ROWS(rows); i++)
        if (strcmp(rows[i][1], "how") == 0)
            rows[i][2] = g->how;
    g->plot.view.rules = kit_compile(&g->plot, (const char *const(*)[3]) rows, ROWS(rows));
    return kit_evaluate(&g->plot, g->today);
}

static struct db_feed_result build(struct garden *g, enum db_feed which, int64_t now, struct ledger *ledger)
{
    struct db_feed_result feed;
    int64_t first = ledger->count ? 0 : db_feed_first_sequence(now);

    assert_int_equal(db_feed_build(work_out(g), which, now, first, false, ledger_find, ledger, &feed), DB_OK);
    ledger_put(ledger, &feed);
    return feed;
}

static void let_go(struct garden *g, struct db_feed_result *feed)
{
    db_feed_free(feed);
    plot_free(&g->plot);
}

/* ---- what holds for every feed ---- */

static void check_lines(const struct db_bytes *bytes)
{
    const char *end = bytes->data + bytes->length;

    for (const char *at = bytes->data; at < end;) {
        const char *stop = memchr(at, '\n', (size_t) (end - at));
        assert_non_null(stop);
        assert_true(stop > at && stop[-1] == '\r');
        size_t octets = (size_t) (stop - at) - 1;
        assert_true(octets > 0 && octets <= 75);
        assert_null(memchr(at, '\r', octets));
        assert_true(db_text_utf8(at, octets, NULL));
        at = stop + 1;
    }
}

static size_t count_of(const char *text, const char *what)
{
    size_t count = 0;

    for (; (text = strstr(text, what)); text += strlen(what))
        count++;
    return count;
}

static icalcomponent *read_back(const struct db_bytes *bytes)
{
    icalcomponent *calendar = icalparser_parse_string(bytes->data);

    assert_non_null(calendar);
    assert_int_equal(icalcomponent_isa(calendar), ICAL_VCALENDAR_COMPONENT);
    assert_int_equal(icalcomponent_count_errors(calendar), 0);
    return calendar;
}

static icalcomponent *event_of(icalcomponent *calendar, const char *uid)
{
    for (icalcompiter it = icalcomponent_begin_component(calendar, ICAL_VEVENT_COMPONENT); icalcompiter_deref(&it);
         (void) icalcompiter_next(&it))
        if (strcmp(icalcomponent_get_uid(icalcompiter_deref(&it)), uid) == 0)
            return icalcompiter_deref(&it);
    return NULL;
}

static struct icaltimetype time_of(icalcomponent *event, icalproperty_kind kind)
{
    icalproperty *property = icalcomponent_get_first_property(event, kind);

    assert_non_null(property);
    assert_null(icalcomponent_get_next_property(event, kind));
    return icalvalue_get_datetime(icalproperty_get_value(property));
}

static void check_event(icalcomponent *event)
{
    struct icaltimetype start = icalcomponent_get_dtstart(event), end = icalcomponent_get_dtend(event);

    assert_true(start.is_date && end.is_date);
    assert_int_equal(icaltime_as_timet(end) - icaltime_as_timet(start), 86400);
    assert_int_equal(
        icaltime_compare(time_of(event, ICAL_DTSTAMP_PROPERTY), time_of(event, ICAL_LASTMODIFIED_PROPERTY)), 0);
    assert_true(icaltime_compare(time_of(event, ICAL_CREATED_PROPERTY), time_of(event, ICAL_LASTMODIFIED_PROPERTY)) <=
                0);
    assert_true(db_text_characters(icalcomponent_get_summary(event), strlen(icalcomponent_get_summary(event))) <= 60);
    assert_int_equal(icalcomponent_get_status(event), ICAL_STATUS_CONFIRMED);
}

/* Returns how many events there are. */
static size_t check_feed(const struct db_bytes *bytes)
{
    const char *first = strstr(bytes->data, "BEGIN:VEVENT\r\n"), *uid = strstr(bytes->data, "UID:");
    static const char *const never[] = { "METHOD", "TZID", "VTIMEZONE", "ORGANIZER", "X-LIC-ERROR", "\nX-EVIL" };
    size_t count = 0;
    char before[64] = "";

    assert_int_equal(strlen(bytes->data), bytes->length);
    check_lines(bytes);
    for (size_t i = 0; i < ROWS(never); i++)
        assert_null(strstr(bytes->data, never[i]));
    assert_non_null(first);
    assert_true(uid > first);
    assert_true(bytes->length > 15 && strcmp(bytes->data + bytes->length - 15, "END:VCALENDAR\r\n") == 0);
    icalcomponent *calendar = read_back(bytes);
    for (icalcompiter it = icalcomponent_begin_component(calendar, ICAL_VEVENT_COMPONENT); icalcompiter_deref(&it);
         (void) icalcompiter_next(&it), count++) {
        icalcomponent *event = icalcompiter_deref(&it);
        struct icaltimetype start = icalcomponent_get_dtstart(event);
        char place[64];

        check_event(event);
        (void) snprintf(place, sizeof place, "%04d%02d%02d %s", start.year, start.month, start.day,
                        icalcomponent_get_uid(event));
        assert_true(strcmp(before, place) < 0); /* by day, then UID, none twice */
        memcpy(before, place, sizeof before);
    }
    icalcomponent_free(calendar);
    assert_int_equal(count, count_of(bytes->data, "BEGIN:VEVENT\r\n"));
    return count;
}

#endif
