/* The last answer of a service, and what was said and measured of each day: both kept, the last word found. */
#include "record/record.h"

#include <sqlite3.h>

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include <cmocka.h>

#include "kit/record_open.h"

#include "base/banned.h"

static void reopen(void)
{
    record = db_record_close(record);
    record = open_record();
}

static struct db_told_day day(int32_t date, double low, double high, double rain)
{
    return (struct db_told_day){ { date }, { low, high, rain, (double) NAN } };
}

static void put(int64_t issued, const struct db_told_day *days, size_t count, int32_t before)
{
    const struct db_answer_row row = {
        "met", "https://weather.example/", issued + 5, issued, 0, "\"e\"", "", "a\0b", 3
    };
    const struct db_told told = { .source = "Met", .issued = issued, .days = days, .count = count };

    assert_int_equal(db_record_put_answer(record, &row, &told, (struct db_date){ before }), DB_OK);
}

static const struct db_told_day *seen(enum db_origin origin, int32_t from, int32_t to, size_t expected)
{
    struct db_told_day *days = NULL;
    size_t count = 0;

    assert_int_equal(
        db_record_seen(record, origin, (struct db_date){ from }, (struct db_date){ to }, arena, &days, &count), DB_OK);
    assert_int_equal(count, expected);
    return days;
}

/* Rows of the table, counted by SQLite itself. */
static int rows(const char *where)
{
    sqlite3 *file = NULL;
    sqlite3_stmt *query = NULL;
    char text[160];

    (void) snprintf(text, sizeof text, "SELECT count(*) FROM seen WHERE %s", where);
    assert_int_equal(sqlite3_open_v2(record_file, &file, SQLITE_OPEN_READONLY, NULL), SQLITE_OK);
    assert_int_equal(sqlite3_prepare_v2(file, text, -1, &query, NULL), SQLITE_OK);
    assert_int_equal(sqlite3_step(query), SQLITE_ROW);
    const int count = sqlite3_column_int(query, 0);
    (void) sqlite3_finalize(query);
    (void) sqlite3_close(file);
    return count;
}

static void the_answer_comes_back(void **state)
{
    struct db_answer_row row;
    const struct db_told_day one = day(20000, 1, 2, 3);

    (void) state;
    assert_int_equal(db_record_answer(record, "met", arena, &row), DB_ABSENT);
    put(1000, &one, 1, 0);
    reopen();
    assert_int_equal(db_record_answer(record, "met", arena, &row), DB_OK);
    assert_int_equal(row.length, 3);
    assert_memory_equal(row.body, "a\0b", 4);
    assert_string_equal(row.etag, "\"e\"");
    assert_int_equal(row.fetched, 1005);
    assert_int_equal(db_record_fresh_answer(record, "met", 2000, 3000), DB_OK);
    assert_int_equal(db_record_answer(record, "met", arena, &row), DB_OK);
    assert_int_equal(row.fetched, 2000);
    assert_int_equal(row.expires, 3000);
    assert_int_equal(row.issued, 1000);
    assert_int_equal(db_record_answer(record, "other", arena, &row), DB_ABSENT);
}

static void what_was_said_and_what_came(void **state)
{
    const struct db_told_day first[] = { day(20000, 1, 10, 0), day(20001, 2, 11, (double) NAN) },
                             second[] = { day(20000, 1, 12, 0), day(20001, 2, 11, 5) },
                             measured[] = { day(20000, -1, 13, 2) };
    const struct db_told_day *days;

    (void) state;
    put(1000, first, 2, 0);
    put(2000, second, 2, 0);
    put(2000, second, 2, 0); /* the same again changes nothing */
    days = seen(DB_ORIGIN_FORECAST, 19990, 20010, 2);
    assert_true(days[0].figures[DB_FIGURE_HIGH] == 12 && days[1].figures[DB_FIGURE_RAIN] == 5);
    assert_true(isnan(days[0].figures[DB_FIGURE_WIND]));
    assert_int_equal(rows("figure = 1 AND date = '2024-10-04'"), 2); /* day 20000; 10 and then 12 degC */
    assert_int_equal(rows("figure = 0 AND date = '2024-10-04'"), 1); /* the low never changed */
    assert_int_equal(db_record_put_observed(record, measured, 1, 5000), DB_OK);
    assert_int_equal(db_record_put_observed(record, measured, 1, 6000), DB_OK);
    assert_true(seen(DB_ORIGIN_OBSERVED, 19990, 20010, 1)[0].figures[DB_FIGURE_LOW] == -1);
    assert_true(seen(DB_ORIGIN_FORECAST, 20000, 20000, 1)[0].figures[DB_FIGURE_LOW] == 1); /* both are kept */
    assert_int_equal(rows("origin = 3"), 3);
    put(3000, second, 1, 20001); /* of days before, only the last word stays */
    assert_int_equal(rows("figure = 1 AND date = '2024-10-04' AND origin = 2"), 1);
    assert_true(seen(DB_ORIGIN_FORECAST, 20000, 20000, 1)[0].figures[DB_FIGURE_HIGH] == 12);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(the_answer_comes_back, set_up, tear_down),
        cmocka_unit_test_setup_teardown(what_was_said_and_what_came, set_up, tear_down),
    };

    return cmocka_run_group_tests_name("record_seen", tests, NULL, NULL);
}
