/* What is of autumn and winter is harvested in autumn and winter, on both halves of the earth. Solstices (UTC): 21 June 2014
 * 10:51, 21 December 2014 23:03, 21 June 2015 16:38, 22 December 2015 04:48 (from memory; the almanac's own test has them from
 * outside). The weeks are those of sprouts in rules/crops: common practice, no source. */
#include "engine/season.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "kit/plot.h"

#include "base/banned.h"

enum { DAYS = 900, FROM = 105, TO = 259 };
static struct plot plot;
static struct db_clocks clocks;
static struct db_crop_facts sprouts;

static void begin(double latitude)
{
    const struct db_date first = on(2014, 1, 1);

    sprouts = kit_crop("kale");
    sprouts.low[DB_FACT_NOT_BEFORE] = sprouts.high[DB_FACT_NOT_BEFORE] = FROM;
    sprouts.low[DB_FACT_STANDS_TO] = sprouts.high[DB_FACT_STANDS_TO] = TO;
    plot = plot_new(latitude, 0);
    plot_weather(&plot, first, DAYS);
    for (int i = 0; i < DAYS; i++)
        plot_day(&plot, db_date_add(first, i), 8, 16, 0);
    plot.view.today = on(2015, 3, 1);
    plot_close_diary(&plot);
    assert_int_equal(db_clocks_begin(&clocks, &plot.view, plot.arena), DB_OK);
}

static void begins(struct db_date ready, struct db_date expected)
{
    assert_int_equal(db_season_begins(&clocks, &sprouts, ready).day, expected.day);
}

static void stands(struct db_date begun, struct db_date expected)
{
    assert_int_equal(db_season_stands(&clocks, &sprouts, begun).day, expected.day);
}

/* 15 weeks after 21 June are 4 October, 37 weeks 7 March (6 March in a leap year). */
static void in_the_north(void **state)
{
    (void) state;
    begin(52);
    begins(on(2015, 8, 10), on(2015, 10, 4));
    begins(on(2015, 6, 2), on(2015, 10, 4)); /* from a sowing in midwinter */
    begins(on(2015, 10, 20), on(2015, 10, 20));
    begins(on(2015, 2, 10), on(2015, 2, 10)); /* a late one: in the winter that it is in */
    stands(on(2014, 10, 4), on(2015, 3, 7));
    stands(on(2015, 2, 10), on(2015, 3, 7));
    assert_false(db_date_known(db_season_stands(&clocks, &sprouts, on(2015, 4, 1))));
    plot_free(&plot);
}

/* 15 weeks after 21 December 2014 are 5 April; 37 weeks 6 September. */
static void in_the_south(void **state)
{
    (void) state;
    begin(-37);
    begins(on(2015, 2, 10), on(2015, 4, 5));
    begins(on(2014, 12, 1), on(2015, 4, 5));
    begins(on(2015, 6, 1), on(2015, 6, 1));
    stands(on(2015, 5, 1), on(2015, 9, 6));
    plot_free(&plot);
}

/* 11 weeks after 21 June 2015 are 6 September, after 21 December 2014 8 March. Autumn's planting looks to the solstice of the next year. */
static void bulbs_ripen_by_the_length_of_day(void **state)
{
    static const struct {
        double latitude;
        struct db_date from, ready, expected;
    } cases[] = {
        { 60, { 16565 }, { 16800 }, { 16684 } },  /* 2015-05-10, 2015-12-31, 2015-09-06 */
        { 60, { 16343 }, { 16800 }, { 16684 } },  /* 2014-09-30: planted in autumn */
        { 60, { 16565 }, { 16650 }, { 16650 } },  /* ready in August: then */
        { -42, { 16343 }, { 16650 }, { 16502 } }, /* 2014-09-30, 2015-08-03, 2015-03-08 */
        { 5, { 16565 }, { 16800 }, { 16800 } },
    };

    (void) state;
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        begin(cases[i].latitude);
        sprouts.low[DB_FACT_NOT_AFTER] = sprouts.high[DB_FACT_NOT_AFTER] = 77;
        assert_int_equal(db_season_ripens(&clocks, &sprouts, cases[i].from, cases[i].ready).day, cases[i].expected.day);
        assert_false(db_date_known(db_season_ripens(&clocks, &sprouts, cases[i].from, DB_NO_DATE)));
        plot_free(&plot);
    }
}

static void the_equator_and_other_crops_have_no_season(void **state)
{
    (void) state;
    begin(5);
    begins(on(2015, 8, 10), on(2015, 8, 10));
    assert_false(db_date_known(db_season_stands(&clocks, &sprouts, on(2015, 8, 10))));
    plot_free(&plot);
    begin(52);
    sprouts = kit_crop("kale");
    begins(on(2015, 8, 10), on(2015, 8, 10));
    assert_false(db_date_known(db_season_stands(&clocks, &sprouts, on(2015, 8, 10))));
    assert_false(db_date_known(db_season_begins(&clocks, &sprouts, DB_NO_DATE)));
    plot_free(&plot);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(in_the_north),
        cmocka_unit_test(in_the_south),
        cmocka_unit_test(bulbs_ripen_by_the_length_of_day),
        cmocka_unit_test(the_equator_and_other_crops_have_no_season),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
