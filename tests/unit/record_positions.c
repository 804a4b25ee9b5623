/* Positions in the record: what is put is what is read; old ones go. */
#include "record/record.h"

#include <sqlite3.h>

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

static struct db_position row(unsigned char n)
{
    struct db_position p = { .rule = "thin-the-row",
                             .sowing = "carrot-1",
                             .occurrence = n,
                             .first = { 16000 + n },
                             .best = { 16002 + n },
                             .last = { 16009 + n },
                             .on = { n % 2 ? 16004 + n : INT32_MIN },
                             .there = n % 2,
                             .moved = DB_NO_DATE,
                             .gone = DB_NO_DATE };

    memset(p.identity, n, sizeof p.identity);
    memset(p.inputs, n + 1, sizeof p.inputs);
    memset(p.words, n + 2, sizeof p.words);
    return p;
}

static void put(const struct db_position *rows, size_t count, int32_t today)
{
    const struct db_positions moves = { rows, count };

    assert_int_equal(db_record_put_positions(record, &moves, (struct db_date){ today }), DB_OK);
}

static struct db_positions get(void)
{
    struct db_positions all = { NULL, 99 };

    assert_int_equal(db_record_positions(record, arena, &all), DB_OK);
    return all;
}

static void same(const struct db_position *a, const struct db_position *b)
{
    assert_memory_equal(a->identity, b->identity, 16);
    assert_memory_equal(a->inputs, b->inputs, 16);
    assert_memory_equal(a->words, b->words, 16);
    assert_string_equal(a->rule, b->rule);
    assert_string_equal(a->sowing, b->sowing);
    assert_int_equal(a->occurrence, b->occurrence);
    assert_int_equal(a->first.day, b->first.day);
    assert_int_equal(a->best.day, b->best.day);
    assert_int_equal(a->last.day, b->last.day);
    assert_int_equal(a->on.day, b->on.day);
    assert_int_equal(a->moved.day, b->moved.day);
    assert_int_equal(a->gone.day, b->gone.day);
    assert_int_equal(a->there, b->there);
}

static void what_is_put_is_read(void **state)
{
    struct db_position rows[] = { row(1), row(2), row(3) };

    (void) state;
    assert_int_equal(get().count, 0);
    rows[1].moved = (struct db_date){ -5 }; /* before 1970: days are signed */
    put(rows, 3, 16000);
    record = db_record_close(record);
    record = open_record();
    const struct db_positions all = get();
    assert_int_equal(all.count, 3);
    for (size_t i = 0; i < 3; i++)
        same(&all.rows[i], &rows[i]);
}

static void a_position_is_replaced(void **state)
{
    struct db_position rows[] = { row(1), row(2) };

    (void) state;
    put(rows, 2, 16000);
    rows[0].best.day += 4;
    rows[0].moved.day = 16001;
    put(rows, 1, 16001);
    const struct db_positions all = get();
    assert_int_equal(all.count, 2);
    same(&all.rows[0], &rows[0]);
    same(&all.rows[1], &rows[1]);
}

static void what_has_been_gone_for_sixty_days_is_dropped(void **state)
{
    struct db_position rows[] = { row(1), row(2) }, other = row(3);

    (void) state;
    rows[0].gone.day = 16000;
    put(rows, 2, 16000);
    put(&other, 1, 16000 + DB_POSITION_KEPT);
    assert_int_equal(get().count, 3);
    other.best.day++;
    put(&other, 1, 16001 + DB_POSITION_KEPT);
    const struct db_positions all = get();
    assert_int_equal(all.count, 2);
    same(&all.rows[0], &rows[1]);
    same(&all.rows[1], &other);
}

static void all_or_nothing(void **state)
{
    struct db_position rows[] = { row(1), row(2) };
    const struct db_positions moves = { rows, 2 };

    (void) state;
    rows[1].rule = NULL; /* refused by the layout */
    assert_int_equal(db_record_put_positions(record, &moves, (struct db_date){ 16000 }), DB_TROUBLE);
    assert_string_not_equal(db_record_trouble(record), "");
    assert_int_equal(get().count, 0);
}

/* Positions of the layout before: they were on no day of the gardener's. */
static void a_record_without_days_is_brought_up_to_date(void **state)
{
    struct db_position rows[] = { row(1), row(2) };
    sqlite3 *old = NULL;

    (void) state;
    rows[0].on = DB_NO_DATE;
    put(rows, 2, 16000);
    record = db_record_close(record);
    assert_int_equal(sqlite3_open(record_file, &old), SQLITE_OK);
    assert_int_equal(
        sqlite3_exec(old, "ALTER TABLE position DROP COLUMN put; DROP TABLE beforehand; PRAGMA user_version = 4", NULL,
                     NULL, NULL),
        SQLITE_OK);
    assert_int_equal(sqlite3_close(old), SQLITE_OK);
    record = open_record();
    const struct db_positions all = get();
    assert_int_equal(all.count, 2);
    same(&all.rows[0], &rows[0]);
    same(&all.rows[1], &rows[1]);
    rows[0].on.day = 16007;
    put(rows, 1, 16001);
    same(&get().rows[0], &rows[0]);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(what_is_put_is_read, set_up, tear_down),
        cmocka_unit_test_setup_teardown(a_position_is_replaced, set_up, tear_down),
        cmocka_unit_test_setup_teardown(what_has_been_gone_for_sixty_days_is_dropped, set_up, tear_down),
        cmocka_unit_test_setup_teardown(all_or_nothing, set_up, tear_down),
        cmocka_unit_test_setup_teardown(a_record_without_days_is_brought_up_to_date, set_up, tear_down),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
