/* One event and the head of a calendar as bytes: RFC 5545's line rules hold whatever the words are, and libical reads back
 * what was meant. */
#include "write/private.h"

#include "base/text.h"

#include <libical/ical.h>

#include <setjmp.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "base/banned.h"

/* RFC 5545, section 3.1: lines end in CR LF and hold at most 75 octets before it; every physical line is whole UTF-8. */
static void check_lines(const char *bytes, size_t length)
{
    const char *end = bytes + length;

    for (const char *at = bytes; at < end;) {
        const char *stop = memchr(at, '\n', (size_t) (end - at));
        assert_non_null(stop);
        assert_true(stop > at && stop[-1] == '\r');
        size_t octets = (size_t) (stop - at) - 1;
        assert_true(octets > 0 && !(octets == 1 && at[0] == ' ')); /* an empty continuation: some servers refuse it */
        if (octets > 75)
            fail_msg("%zu octets: %.*s", octets, (int) octets, at);
        assert_null(memchr(at, '\r', octets));
        if (!db_text_utf8(at, octets, NULL))
            fail_msg("cut inside a character: %.*s", (int) octets, at);
        at = stop + 1;
    }
}

static icalcomponent *read_back(const char *bytes)
{
    icalcomponent *read = icalparser_parse_string(bytes);

    assert_non_null(read);
    assert_int_equal(icalcomponent_count_errors(read), 0);
    return read;
}

static struct db_event example(void)
{
    struct db_event event = { .sequence = 3,
                              .created = 1779251400,  /* 2026-05-20 04:30:00 UTC */
                              .modified = 1781670600, /* 2026-06-17 04:30:00 UTC */
                              .summary = "Thin carrots in the north bed",
                              .description =
                                  "Window: Tue 16 to Sun 21 June.\nWhy: up on 2 June, 16 days ago; \\ \"x\".",
                              .location = "the north bed",
                              .kind = "Thin",
                              .crop = "Carrot",
                              .priority = 5,
                              .alarm = true };

    assert_int_equal(db_date_of(2026, 6, 18, &event.day), DB_OK);
    assert_int_equal(db_uid_read("2ed6657d-e927-568b-95e1-2665a8aea6a2", event.uid), DB_OK);
    assert_int_equal(db_uid_read("886313e1-3b8a-5372-9b90-0c9aee199e5d", event.alarm_uid), DB_OK);
    return event;
}

/* Property by property, in the order they are promised in; times worked out with `date -u -d @1781670600`. */
static void an_event_reads_as_written(void **state)
{
    static const char wanted[] = "BEGIN:VEVENT\r\n"
                                 "UID:2ed6657d-e927-568b-95e1-2665a8aea6a2\r\n"
                                 "DTSTAMP:20260617T043000Z\r\n"
                                 "CREATED:20260520T043000Z\r\n"
                                 "LAST-MODIFIED:20260617T043000Z\r\n"
                                 "SEQUENCE:3\r\n"
                                 "DTSTART;VALUE=DATE:20260618\r\n"
                                 "DTEND;VALUE=DATE:20260619\r\n"
                                 "SUMMARY:Thin carrots in the north bed\r\n"
                                 "DESCRIPTION:Window: Tue 16 to Sun 21 June.\\nWhy: up on 2 June\\, 16 days \r\n"
                                 " ago\\; \\\\ \"x\".\r\n"
                                 "LOCATION:the north bed\r\n"
                                 "CATEGORIES:Thin,Carrot\r\n"
                                 "STATUS:CONFIRMED\r\n"
                                 "TRANSP:TRANSPARENT\r\n"
                                 "PRIORITY:5\r\n"
                                 "BEGIN:VALARM\r\n"
                                 "UID:886313e1-3b8a-5372-9b90-0c9aee199e5d\r\n"
                                 "ACTION:DISPLAY\r\n"
                                 "TRIGGER:PT6H30M\r\n"
                                 "DESCRIPTION:Thin carrots in the north bed\r\n"
                                 "END:VALARM\r\n"
                                 "END:VEVENT\r\n";
    struct db_event event = example();
    struct db_bytes out = { 0 };

    (void) state;
    assert_int_equal(db_event_write(&event, &out), DB_OK);
    assert_string_equal(out.data, wanted);
    check_lines(out.data, out.length);
    icalcomponent *read = read_back(out.data);
    assert_string_equal(icalcomponent_get_description(read), event.description);
    icalcomponent_free(read);
    db_bytes_free(&out);
}

/* Emoji, accents, combining marks and no spaces, at every offset: each physical line stays whole and the text comes back. */
static void long_words_fold_between_characters(void **state)
{
    static const char *const pieces[] = {
        "\xF0\x9F\xA5\xAC", "é", "o\xCC\x88", "a", "中", ", ", "; ", "\\", "\n", " "
    };
    struct db_event event = example();
    struct db_bytes out = { 0 };
    char text[4096];

    (void) state;
    for (size_t shift = 0; shift < 80; shift++)
        for (size_t p = 0; p < sizeof pieces / sizeof pieces[0]; p++) {
            struct db_text made = db_text_in(text, sizeof text);

            for (size_t i = 0; i < shift; i++)
                db_text_add(&made, "x");
            for (size_t i = 0; i < 300; i++)
                db_text_add(&made, pieces[i % 3 ? p : (p + i) % 5]);
            db_text_add(&made, "."); /* libical's reader drops spaces at the end of a value */
            event.description = text;
            out.length = 0;
            assert_int_equal(db_event_write(&event, &out), DB_OK);
            check_lines(out.data, out.length);
            icalcomponent *read = read_back(out.data);
            assert_string_equal(icalcomponent_get_description(read), text);
            icalcomponent_free(read);
        }
    db_bytes_free(&out);
}

/* Lines that just fill their 75 octets, in every property that carries words: libical before 4.0.3 tears their ends. */
static void lines_that_just_fit_keep_their_ends(void **state)
{
    struct db_event event = example();
    struct db_bytes out = { 0 };
    char text[400];

    (void) state;
    for (size_t length = 1; length < sizeof text; length++) {
        memset(text, 'b', length);
        text[length] = '\0';
        event.summary = event.description = event.location = text;
        out.length = 0;
        assert_int_equal(db_event_write(&event, &out), DB_OK);
        check_lines(out.data, out.length);
        icalcomponent *read = read_back(out.data);
        assert_string_equal(icalcomponent_get_summary(read), text);
        assert_string_equal(icalcomponent_get_description(read), text);
        assert_string_equal(icalcomponent_get_location(read), text);
        icalcomponent_free(read);
    }
    db_bytes_free(&out);
}

static void days_at_the_ends_of_months_and_years(void **state)
{
    static const struct {
        int year, month, day;
        const char *start, *end;
    } known[] = {
        { 2026, 12, 31, "20261231", "20270101" }, { 2024, 2, 28, "20240228", "20240229" },
        { 2024, 2, 29, "20240229", "20240301" },  { 2023, 2, 28, "20230228", "20230301" },
        { 2100, 2, 28, "21000228", "21000301" },
    };
    struct db_event event = example();
    struct db_bytes out = { 0 };
    char wanted[80];

    (void) state;
    for (size_t i = 0; i < sizeof known / sizeof known[0]; i++) {
        assert_int_equal(db_date_of(known[i].year, known[i].month, known[i].day, &event.day), DB_OK);
        out.length = 0;
        assert_int_equal(db_event_write(&event, &out), DB_OK);
        (void) snprintf(wanted, sizeof wanted, "DTSTART;VALUE=DATE:%s\r\nDTEND;VALUE=DATE:%s\r\n", known[i].start,
                        known[i].end);
        assert_non_null(strstr(out.data, wanted));
    }
    db_bytes_free(&out);
}

/* What a hostile garden's name could do to lines that every calendar copies. */
static void the_head_stays_in_its_lines(void **state)
{
    struct db_arena *arena = db_arena_new(1 << 20);
    struct db_site site = { .name = "Tarn, Hollow; \\ \"x\"\r\nX-EVIL:1\x01\x7F\xFF\tend",
                            .zone = "Europe/London\r\nX-EVIL:1" };
    struct db_bytes out = { 0 };

    (void) state;
    assert_int_equal(db_event_head(&site, "Garden jobs", "Each job", "seagreen", arena, &out), DB_OK);
    check_lines(out.data, out.length);
    assert_null(strstr(out.data, "\nX-EVIL"));
    assert_null(strstr(out.data, "END:VCALENDAR"));
    assert_null(strstr(out.data, "UID:"));
    assert_null(strstr(out.data, "METHOD"));
    assert_null(strstr(out.data, "TZID"));
    assert_non_null(strstr(out.data, "REFRESH-INTERVAL;VALUE=DURATION:PT6H\r\n"));
    assert_int_equal(db_bytes_text(&out, "END:VCALENDAR\r\n"), DB_OK);
    icalcomponent *read = read_back(out.data);
    assert_int_equal(icalcomponent_isa(read), ICAL_VCALENDAR_COMPONENT);
    icalcomponent_free(read);
    db_bytes_free(&out);
    (void) db_arena_free(arena);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(an_event_reads_as_written),           cmocka_unit_test(long_words_fold_between_characters),
        cmocka_unit_test(lines_that_just_fit_keep_their_ends), cmocka_unit_test(days_at_the_ends_of_months_and_years),
        cmocka_unit_test(the_head_stays_in_its_lines),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
