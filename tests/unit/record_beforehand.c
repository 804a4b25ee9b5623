/* What was said of a day before it began, and what was measured of it. */
#include "record/record.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <unistd.h>

#include <cmocka.h>

#include "kit/record_open.h"

#include "base/banned.h"

static const unsigned char one[16] = "who was asked 1", two[16] = "who was asked 2";

static struct db_told_day day(int32_t date, double low, double high)
{
    return (struct db_told_day){ { date }, { low, high, 3, (double) NAN } };
}

static void say(const unsigned char asked[16], const struct db_told_day *days, size_t count, int32_t today)
{
    assert_int_equal(db_record_put_beforehand(record, asked, days, count, (struct db_date){ today }), DB_OK);
}

static const struct db_beforehand *kept(const unsigned char asked[16], int32_t from, int32_t to, size_t expected)
{
    struct db_beforehand *days = NULL;
    size_t count = 0;

    assert_int_equal(
        db_record_beforehand(record, asked, (struct db_date){ from }, (struct db_date){ to }, arena, &days, &count),
        DB_OK);
    assert_int_equal(count, expected);
    return days;
}

/* The last word of the evening before holds, whatever is said of the day once it has begun. */
static void the_last_word_before_the_day(void **state)
{
    const struct db_told_day first[] = { day(20000, 1, 10), day(20001, 2, 11), day(20002, (double) NAN, 12) },
                             second[] = { day(20001, 9, 9), day(20002, 4, 13) };

    (void) state;
    say(one, first, 3, 20000);
    record = db_record_close(record);
    record = open_record();
    const struct db_beforehand *days = kept(one, 19000, 21000, 2);
    assert_int_equal(days[0].date.day, 20001); /* of the day itself it came too late */
    assert_true(days[0].said[DB_FIGURE_LOW] == 2 && days[0].said[DB_FIGURE_HIGH] == 11);
    assert_true(isnan(days[1].said[DB_FIGURE_LOW]) && isnan(days[1].measured[DB_FIGURE_LOW]));
    say(one, second, 2, 20001);
    days = kept(one, 20001, 20002, 2);
    assert_true(days[0].said[DB_FIGURE_LOW] == 2);
    assert_true(days[1].said[DB_FIGURE_LOW] == 4);
    (void) kept(one, 20001, 20001, 1);
    (void) kept(one, 20003, 20001, 0);
}

static void another_source_begins_anew(void **state)
{
    const struct db_told_day days[] = { day(20001, 2, 11), day(20002, 3, 12) };
    struct db_beforehand measured[] = { { .date = { 20001 }, .measured = { 0, 12 } },
                                        { .date = { 20002 }, .measured = { 1, (double) NAN } } };

    (void) state;
    say(one, days, 2, 20000);
    say(two, days + 1, 1, 20001);
    (void) kept(one, 20001, 20002, 1);
    (void) kept(two, 20001, 20002, 1);
    assert_int_equal(db_record_put_measured(record, two, measured, 2), DB_OK);
    assert_true(isnan(kept(one, 20001, 20001, 1)->measured[DB_FIGURE_LOW])); /* not of that one's day */
    assert_true(kept(two, 20002, 20002, 1)->measured[DB_FIGURE_LOW] == 1);
    assert_true(isnan(kept(two, 20002, 20002, 1)->measured[DB_FIGURE_HIGH]));
    measured[1].measured[DB_FIGURE_HIGH] = 14;
    assert_int_equal(db_record_put_measured(record, two, measured, 2), DB_OK);
    assert_true(kept(two, 20002, 20002, 1)->measured[DB_FIGURE_HIGH] == 14);
}

/* Ten years of days leave no more than are looked at. */
static void it_does_not_grow(void **state)
{
    (void) state;
    assert_int_equal(db_record_begin(record), DB_OK);
    for (int32_t today = 20000; today < 23650; today++) {
        const struct db_told_day days[] = { day(today + 1, 2, 11), day(today + 2, 3, 12) };

        say(one, days, 2, today);
    }
    assert_int_equal(db_record_end(record, DB_OK), DB_OK);
    (void) kept(one, 19000, 24000, DB_BEFOREHAND_KEPT + 3); /* and today, and the two days to come */
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(the_last_word_before_the_day, set_up, tear_down),
        cmocka_unit_test_setup_teardown(another_source_begins_anew, set_up, tear_down),
        cmocka_unit_test_setup_teardown(it_does_not_grow, set_up, tear_down),
    };

    return cmocka_run_group_tests_name("record_beforehand", tests, NULL, NULL);
}
