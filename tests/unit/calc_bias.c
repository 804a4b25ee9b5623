/* The forecast's bias by hand: means, medians and steps worked out on paper beside each value. The window's mean is common
 * practice (include/dewbell/bias.h); its trimming, shrinking and steps are ours, no source. */
#include "dewbell/bias.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "kit/value.h"

#include "base/banned.h"

enum { TODAY = 20000 };

static struct db_miss misses[1000];

/* `count` days before `today`, all off by the same. */
static void all_off(size_t count, int32_t today, double miss)
{
    for (size_t i = 0; i < count; i++)
        misses[i] = (struct db_miss){ { today - (int32_t) (count - i) }, miss };
}

static struct db_bias learn(size_t count, int32_t today)
{
    struct db_bias bias;

    assert_int_equal(db_bias_learn(misses, count, (struct db_date){ today }, &bias), DB_OK);
    return bias;
}

/* Of 14 days 14 of 16 parts of 2 K are 1.75: as near to 2 as to 1.5, and rounded away from 0. */
static void few_days_teach_nothing(void **state)
{
    (void) state;
    all_off(13, TODAY, -2);
    struct db_bias bias = learn(13, TODAY);
    assert_int_equal(bias.days, 13);
    close_to("centre of 13", bias.centre, -2, 1e-12);
    close_to("shift of 13", bias.shift, 0, 0);
    all_off(14, TODAY, -2);
    bias = learn(14, TODAY);
    assert_int_equal(bias.days, 14);
    close_to("shift of 14", bias.shift, -2, 0);
    all_off(14, TODAY, -0.47); /* 0.41: more than the 0.4 that stay */
    close_to("shift of 0.41", learn(14, TODAY).shift, -0.5, 0);
    all_off(14, TODAY, -0.45); /* 0.39 */
    close_to("shift of 0.39", learn(14, TODAY).shift, 0, 0);
    assert_int_equal(learn(0, TODAY).days, 0);
}

/* Fifteen days, 1 .. 15: without three at each end 4 .. 12, mean 8 as of all. With 15 turned into 1000 still 8. Distances
 * from 8: 0, twice 1 to 7; the eighth of them is 4. */
static void the_ends_do_not_count(void **state)
{
    (void) state;
    for (size_t i = 0; i < 15; i++)
        misses[i] = (struct db_miss){ { TODAY - 15 + (int32_t) i }, (double) ((i * 7) % 15 + 1) / 10 };
    struct db_bias bias = learn(15, TODAY);
    close_to("centre", bias.centre, 0.8, 1e-12);
    close_to("spread", bias.spread, 0.4, 1e-12);
    for (size_t i = 0; i < 15; i++)
        if (misses[i].miss > 1.45)
            misses[i].miss = 100;
    bias = learn(15, TODAY);
    close_to("centre with one misread", bias.centre, 0.8, 1e-12);
    close_to("spread with one misread", bias.spread, 0.4, 1e-12);
    close_to("shift", bias.shift, 0.5, 0); /* 0.8 * 15 / 17 = 0.706 */
}

static void never_more_than_five(void **state)
{
    (void) state;
    all_off(60, TODAY, 30);
    close_to("warmer", learn(60, TODAY).shift, 5, 0);
    all_off(60, TODAY, -30);
    close_to("colder", learn(60, TODAY).shift, -5, 0);
}

/* Of 100 days the last 60 count; days not known count neither way, nor does today or what comes after. */
static void the_window(void **state)
{
    (void) state;
    all_off(100, TODAY, -1);
    for (size_t i = 0; i < 40; i++)
        misses[i].miss = 4;
    struct db_bias bias = learn(100, TODAY);
    assert_int_equal(bias.days, 60);
    close_to("centre", bias.centre, -1, 1e-12);
    close_to("shift", bias.shift, -1, 0); /* 60 of 62 parts: 0.968 */
    for (size_t i = 60; i < 100; i += 2)
        misses[i].miss = (double) NAN;
    assert_int_equal(learn(100, TODAY).days, 40);
    assert_int_equal(learn(100, TODAY - 31).days,
                     55); /* days 9 .. 68: five of the last nine are not known; 69 is today */
    assert_int_equal(learn(100, TODAY + 70).days, 0);
    close_to("long after", learn(100, TODAY + 70).shift, 0, 0);
}

/* A shift stays while what is learnt wobbles about the edge between two steps, 0.75, where plain rounding goes to and fro. */
static void a_wobble_moves_nothing(void **state)
{
    double before = -0.5, rounded = -0.5;
    int moves = 0, flips = 0;

    (void) state;
    all_off(60, TODAY, -0.5);
    close_to("at first", learn(60, TODAY).shift, -0.5, 0);
    for (int32_t day = 0; day < 300; day++) {
        misses[60 + day] = (struct db_miss){ { TODAY + day }, day / 14 % 2 ? -0.9 : -0.65 };
        const struct db_bias bias = learn(61 + (size_t) day, TODAY + day + 1);
        const double near = round(bias.centre * 60 / 62 / 0.5) * 0.5;

        moves += bias.shift > before || bias.shift < before;
        flips += near > rounded || near < rounded;
        before = bias.shift;
        rounded = near;
    }
    assert_true(flips >= 4);
    assert_int_equal(moves, 0);
    /* A tenth of a degree more on each day of the window, at once. */
    all_off(60, TODAY, -1);
    const double whole = learn(60, TODAY).shift;
    misses[60] = (struct db_miss){ { TODAY }, -1 };
    for (size_t i = 0; i <= 60; i++)
        misses[i].miss -= i ? 0.1 : 0;
    close_to("a tenth more", learn(61, TODAY + 1).shift, whole, 0);
}

/* From -1 to -2 of all nights: it is followed within the window, in steps, and never goes back on the way. */
static void a_change_is_followed(void **state)
{
    double before;

    (void) state;
    all_off(120, TODAY + 60, -1);
    before = learn(60, TODAY).shift;
    close_to("before", before, -1, 0);
    for (size_t i = 60; i < 120; i++)
        misses[i].miss = -2;
    for (int32_t day = 1; day <= 60; day++) {
        const double shift = learn(60 + (size_t) day, TODAY + day).shift;

        assert_true(shift <= before);
        before = shift;
    }
    close_to("after", before, -2, 0);
}

static void what_cannot_be(void **state)
{
    struct db_bias bias = { .days = 77 };

    (void) state;
    all_off(20, TODAY, 1);
    misses[7].date = misses[6].date;
    assert_int_equal(db_bias_learn(misses, 20, (struct db_date){ TODAY }, &bias), DB_RANGE);
    all_off(20, TODAY, 1);
    misses[7].miss = (double) INFINITY;
    assert_int_equal(db_bias_learn(misses, 20, (struct db_date){ TODAY }, &bias), DB_RANGE);
    all_off(20, TODAY, 1);
    misses[7].date = DB_NO_DATE;
    assert_int_equal(db_bias_learn(misses, 20, (struct db_date){ TODAY }, &bias), DB_RANGE);
    assert_int_equal(db_bias_learn(misses, 0, DB_NO_DATE, &bias), DB_RANGE);
    assert_int_equal(bias.days, 77);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(few_days_teach_nothing), cmocka_unit_test(the_ends_do_not_count),
        cmocka_unit_test(never_more_than_five),   cmocka_unit_test(the_window),
        cmocka_unit_test(a_wobble_moves_nothing), cmocka_unit_test(a_change_is_followed),
        cmocka_unit_test(what_cannot_be),
    };

    return cmocka_run_group_tests_name("calc_bias", tests, NULL, NULL);
}
