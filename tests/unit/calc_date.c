#include "dewbell/date.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stdint.h>
#include <string.h>
#include <time.h>

#include <cmocka.h>

#include "base/banned.h"

/* Outside: the C library's calendar, every day of 1583..9999. */
static void every_day_agrees_with_the_c_library(void **state)
{
    struct db_date first, last, back;

    (void) state;
    assert_int_equal(db_date_of(1583, 1, 1, &first), DB_OK);
    assert_int_equal(db_date_of(9999, 12, 31, &last), DB_OK);
    for (struct db_date date = first; date.day <= last.day; date.day++) {
        time_t seconds = (time_t) date.day * 86400;
        struct tm tm;
        int year, month, day;

        assert_non_null(gmtime_r(&seconds, &tm));
        db_date_parts(date, &year, &month, &day);
        if (year != tm.tm_year + 1900 || month != tm.tm_mon + 1 || day != tm.tm_mday ||
            db_date_day_of_year(date) != tm.tm_yday + 1 || db_date_weekday(date) % 7 != tm.tm_wday ||
            db_date_of(year, month, day, &back) != DB_OK || back.day != date.day)
            fail_msg("day %d", date.day);
    }
}

static void days_that_do_not_exist_are_refused(void **state)
{
    static const int bad[][3] = { { 2026, 6, 31 }, { 2026, 2, 29 }, { 1900, 2, 29 },  { 2026, 0, 1 }, { 2026, 13, 1 },
                                  { 2026, 1, 0 },  { 2026, 1, 32 }, { 1582, 12, 31 }, { 10000, 1, 1 } };
    struct db_date date = { 7 };

    (void) state;
    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++)
        assert_int_equal(db_date_of(bad[i][0], bad[i][1], bad[i][2], &date), DB_RANGE);
    assert_int_equal(date.day, 7);
    assert_int_equal(db_date_of(2000, 2, 29, &date), DB_OK);
}

static void both_spellings_are_read(void **state)
{
    static const char *const same[] = { "2026-06-14", "14 June 2026", "14 Jun 2026", "14 JUNE 2026", "14  june  2026" };
    static const char *const not_a_date[] = { "",
                                              "14 June",
                                              "June 14 2026",
                                              "2026-6-14",
                                              "2026/06/14",
                                              "14-06-2026",
                                              "14 Jube 2026",
                                              "2026-06-14 ",
                                              "14 June 26",
                                              "014 June 2026",
                                              " 14 June 2026",
                                              "14 June 2026x",
                                              "+4 June 2026",
                                              "14 Ju\xC3\xAEn 2026" };
    static const char *const no_such_day[] = { "2026-02-29", "31 June 2026", "2026-13-01", "0 May 2026", "1066-10-14" };
    struct db_date date;
    char iso[11];

    (void) state;
    for (size_t i = 0; i < sizeof same / sizeof same[0]; i++) {
        assert_int_equal(db_date_read(same[i], strlen(same[i]), &date), DB_OK);
        assert_string_equal(db_date_iso(date, iso), "2026-06-14");
    }
    for (size_t i = 0; i < sizeof not_a_date / sizeof not_a_date[0]; i++)
        if (db_date_read(not_a_date[i], strlen(not_a_date[i]), &date) != DB_RANGE)
            fail_msg("\"%s\" was taken for a date", not_a_date[i]);
    for (size_t i = 0; i < sizeof no_such_day / sizeof no_such_day[0]; i++)
        assert_int_equal(db_date_read(no_such_day[i], strlen(no_such_day[i]), &date), DB_ABSENT);
    assert_int_equal(db_date_read("3 Sept 2026", 11, &date), DB_OK);
    assert_string_equal(db_date_iso(date, iso), "2026-09-03");
    assert_int_equal(db_date_read("2026-06-14, and more", 10, &date), DB_OK);
}

static void no_date_stays_no_date(void **state)
{
    char iso[11];

    (void) state;
    assert_false(db_date_known(DB_NO_DATE));
    assert_false(db_date_known(db_date_add(DB_NO_DATE, 40)));
    assert_int_equal(db_date_add((struct db_date){ 10 }, -12).day, -2);
    assert_string_equal(db_date_iso(DB_NO_DATE, iso), "-");
    assert_string_equal(db_date_iso((struct db_date){ INT32_MAX }, iso), "-");
    assert_string_equal(db_date_iso((struct db_date){ 0 }, iso), "1970-01-01");
    assert_int_equal(db_date_weekday((struct db_date){ INT32_MIN + 1 }) >= 1, 1);
}

static void names_are_english(void **state)
{
    (void) state;
    assert_string_equal(db_date_weekday_name(1, false), "Monday");
    assert_string_equal(db_date_weekday_name(7, true), "Sun");
    assert_string_equal(db_date_month_name(6, false), "June");
    assert_string_equal(db_date_month_name(12, true), "Dec");
    assert_string_equal(db_date_month_name(13, true), "?");
    assert_string_equal(db_date_weekday_name(0, true), "?");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_day_agrees_with_the_c_library),
        cmocka_unit_test(days_that_do_not_exist_are_refused),
        cmocka_unit_test(both_spellings_are_read),
        cmocka_unit_test(no_date_stays_no_date),
        cmocka_unit_test(names_are_english),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
