/* Header fields that decide which answer a feed is given. Examples from RFC 9110, sections 5.6.7, 8.8.3.2, 12.5.3 and 13.1.2;
 * the others follow its grammar. */
#include "service/http_words.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

#include "base/banned.h"

#define ROWS(table) (sizeof(table) / sizeof(table)[0])

static void gzip_only_where_it_is_asked_for(void **state)
{
    static const struct {
        const char *first, *second; /* field lines; NULL: none */
        bool gzip;
    } rows[] = {
        { NULL, NULL, false },
        { "compress, gzip", NULL, true }, /* section 12.5.3, the five examples */
        { "", NULL, false },
        { "*", NULL, true },
        { "compress;q=0.5, gzip;q=1.0", NULL, true },
        { "gzip;q=1.0, identity; q=0.5, *;q=0", NULL, true },
        { "gzip;q=0", NULL, false },
        { "gzip;q=0.000, *", NULL, false },
        { "*;q=0", NULL, false },
        { "gzip ; Q=0.001", NULL, true },
        { "identity", NULL, false },
        { "identity, gzip;q=0.5", NULL, false }, /* the text as it is is liked more */
        { "identity;q=0.5, gzip;q=0.5", NULL, true },
        { "GZip", NULL, true },
        { "x-gzip", NULL, true }, /* section 8.4.1.3 */
        { "br", "gzip", true },   /* two field lines are one list */
        { "gzip;q=0", "br", false },
        { "gzipped, not-gzip, gzi", NULL, false },
        { "gzip;q=2", NULL, false }, /* no weight: perhaps it was refused */
        { "gzip;q=0.5x", NULL, false },
        { "gzip;q=", NULL, false },
        { "gzip;level=9;q=0.3", NULL, true },
        { ",,,gzip,,", NULL, true },
        { ";;;", NULL, false },
        { "deflate, gzip, br, zstd", NULL, true }, /* as browsers write it; common practice, no source */
    };

    (void) state;
    for (size_t i = 0; i < ROWS(rows); i++) {
        struct db_codings codings = DB_NO_CODINGS;

        if (rows[i].first)
            db_codings_add(&codings, rows[i].first);
        if (rows[i].second)
            db_codings_add(&codings, rows[i].second);
        if (db_codings_gzip(&codings) != rows[i].gzip)
            fail_msg("Accept-Encoding: %s", rows[i].first ? rows[i].first : "(none)");
    }
}

static void tags_are_compared_weakly(void **state)
{
    static const struct {
        const char *value;
        bool match;
    } rows[] = {
        { "\"xyzzy\"", true }, /* section 13.1.2, the examples */
        { "W/\"xyzzy\"", true },
        { "\"xyzzy\", \"r2d2xxxx\", \"c3piozzzz\"", true },
        { "\"r2d2xxxx\", \"xyzzy\"", true },
        { "W/\"r2d2xxxx\", W/\"xyzzy\", W/\"c3piozzzz\"", true },
        { "*", true },
        { " * ", true },
        { "\"\"", false },
        { "", false },
        { "xyzzy", false },
        { "\"XYZZY\"", false },
        { "\"xyzz\"", false },
        { "\"xyzzyy\"", false },
        { "w/\"xyzzy\"", false }, /* the W is one of the few letters that are not alike in both cases */
        { "\"a,b\", \"xyzzy\"", true },
        { "\"a, \"xyzzy\"", false },
        { "\"other\" \"xyzzy\"", false },
        { "\"open", false },
        { "*, \"other\"", false },
        { ", ,\"xyzzy\" ,", true },
    };

    (void) state;
    for (size_t i = 0; i < ROWS(rows); i++)
        if (db_tags_match(rows[i].value, "\"xyzzy\"") != rows[i].match)
            fail_msg("If-None-Match: %s", rows[i].value);
}

static const int64_t rfc_moment = 784111777; /* date -ud 'Sun, 06 Nov 1994 08:49:37 GMT' +%s */
static const int64_t in_2026 = 1781697600;

static void dates_in_three_forms(void **state)
{
    static const char *const forms[] = { "Sun, 06 Nov 1994 08:49:37 GMT", "Sunday, 06-Nov-94 08:49:37 GMT",
                                         "Sun Nov  6 08:49:37 1994" };
    char buffer[DB_HTTP_DATE];
    int64_t at = 0;

    (void) state;
    for (size_t i = 0; i < ROWS(forms); i++) {
        at = 0;
        assert_true(db_http_date_read(forms[i], in_2026, &at));
        assert_int_equal(at, rfc_moment);
    }
    assert_string_equal(db_http_date(rfc_moment, buffer), forms[0]);
    assert_string_equal(db_http_date(0, buffer), "Thu, 01 Jan 1970 00:00:00 GMT");
    assert_string_equal(db_http_date(951782399, buffer), "Mon, 28 Feb 2000 23:59:59 GMT"); /* date -u */
    assert_string_equal(db_http_date(-1, buffer), "Wed, 31 Dec 1969 23:59:59 GMT");
    /* Two digits mean the past where they would lie more than 50 years ahead: in 2026, 76 is ahead and 77 is not. */
    assert_true(db_http_date_read("Sunday, 06-Nov-76 08:49:37 GMT", in_2026, &at));
    assert_true(at > in_2026);
    assert_true(db_http_date_read("Sunday, 06-Nov-77 08:49:37 GMT", in_2026, &at));
    assert_true(at < in_2026);
    for (int64_t day = 0; day < 366L * 150; day += 11) {
        assert_true(db_http_date_read(db_http_date(day * 86400 + 3661, buffer), in_2026, &at));
        assert_int_equal(at, day * 86400 + 3661);
    }
}

static void what_is_no_date_is_ignored(void **state)
{
    static const char *const rows[] = {
        "",
        "not a date",
        "0",
        "1994-11-06T08:49:37Z",
        "Sun, 06 Nov 1994 08:49:37",
        "Sun, 06 Nov 1994 08:49:37 GMT; length=1234",
        "Sun, 06 Nov 1994 08:49:37 GMT ",
        "Sun, 06 Nov 1994 08:49:37 EST",
        "Sun, 6 Nov 1994 08:49:37 GMT",
        "Sun, 31 Feb 1994 08:49:37 GMT",
        "Sun, 00 Nov 1994 08:49:37 GMT",
        "Sun, 06 Nov 1994 24:00:00 GMT",
        "Sun, 06 Nov 1994 08:60:37 GMT",
        "Sun, 06 Nov 1994 08-49-37 GMT",
        "Sun, 06 Nox 1994 08:49:37 GMT",
        "Sun, 06 Nov 19940 08:49:37 GMT",
        "Su, 06 Nov 1994 08:49:37 GMT",
        "Sun, 06 Nov 199",
        "Sun, 0",
        "Sun",
    };

    (void) state;
    for (size_t i = 0; i < ROWS(rows); i++) {
        int64_t at = 42;

        if (db_http_date_read(rows[i], in_2026, &at))
            fail_msg("\"%s\" was read as %lld", rows[i], (long long) at);
        assert_int_equal(at, 42);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(gzip_only_where_it_is_asked_for),
        cmocka_unit_test(tags_are_compared_weakly),
        cmocka_unit_test(dates_in_three_forms),
        cmocka_unit_test(what_is_no_date_is_ignored),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
