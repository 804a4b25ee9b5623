/* Raw manure and the harvest. Days: 7 CFR 205.203(c)(1), 120 before the harvest of what touches the soil, 90 before that of what
 * does not; which crop is which is common practice. Dates: counted by hand on a calendar. */
#include "engine/life.h"
#include "read/read.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "kit/demo_estate.h"
#include "kit/plot.h"

#include "base/banned.h"

static const struct db_crop_facts *crop_of(const char *id)
{
    const struct db_crop_facts *crop = db_crops_find(estate.crops, id);

    assert_non_null(crop);
    return crop;
}

static void is_day(const char *what, struct db_date got, struct db_date wanted)
{
    char a[11], b[11];

    if (got.day != wanted.day)
        fail_msg("%s: %s, not %s", what, db_date_iso(got, a), db_date_iso(wanted, b));
}

/* Steady days of that warmth, degC. */
static struct plot warm_plot(struct db_date today, double warmth)
{
    struct plot plot = plot_new(0, 0);

    plot_weather(&plot, on(2026, 1, 1), 900);
    for (int i = 0; i < 900; i++)
        plot_day(&plot, db_date_add(on(2026, 1, 1), i), warmth, warmth, 0);
    plot.view.today = today;
    return plot;
}

/* With raw manure dug in once. */
static const struct db_bed *manured_bed(struct plot *plot, const struct db_date *manured)
{
    const struct db_bed *kept = NULL;

    assert_int_equal(
        db_garden_add_bed(
            plot->garden,
            &(struct db_bed){ .id = "north", .name = "north", .warmth = NAN, .manured = manured, .manured_count = 1 },
            &kept),
        DB_OK);
    return kept;
}

static void the_days_are_those_of_the_rule(void **state)
{
    static const char *const clear[] = { "sweetcorn", "tomato", "pea", "broad-bean", "french-bean", "runner-bean" };
    static const char *const touching[] = { "lettuce", "carrot", "potato", "courgette", "kale", "melon", "leek" };
    struct db_date manured[] = { on(2026, 4, 1) };
    const struct db_bed bed = { .manured = manured, .manured_count = 1 };

    (void) state;
    is_day("lettuce", db_bed_harvest(&bed, db_crop_manure_wait(crop_of("lettuce")), on(2026, 5, 20), NULL),
           on(2026, 7, 30));
    is_day("sweetcorn", db_bed_harvest(&bed, db_crop_manure_wait(crop_of("sweetcorn")), on(2026, 5, 20), NULL),
           on(2026, 6, 30));
    for (size_t i = 0; i < sizeof clear / sizeof clear[0]; i++)
        assert_true(db_crop_manure_wait(crop_of(clear[i])) == 90);
    for (size_t i = 0; i < sizeof touching / sizeof touching[0]; i++)
        assert_true(db_crop_manure_wait(crop_of(touching[i])) == 120);
    assert_true(db_crop_manure_wait(&(struct db_crop_facts){ .low = { [DB_FACT_CLEAR_OF_SOIL] = NAN } }) == 120);
}

static void only_what_was_dug_in_before_counts(void **state)
{
    struct db_date manured[] = { on(2025, 11, 2), on(2026, 4, 1), on(2026, 7, 1) }, last = DB_NO_DATE;
    const struct db_bed bed = { .manured = manured, .manured_count = 3 }, clean = { 0 };

    (void) state;
    is_day("none was", db_bed_harvest(&clean, 120, on(2026, 5, 20), &last), on(2026, 5, 20));
    assert_false(db_date_known(last));
    is_day("before the first", db_bed_harvest(&bed, 120, on(2025, 10, 20), &last), on(2025, 10, 20));
    assert_false(db_date_known(last));
    is_day("old enough", db_bed_harvest(&bed, 120, on(2026, 3, 30), &last), on(2026, 3, 30));
    is_day("it is from", last, on(2025, 11, 2));
    is_day("the last day of the wait", db_bed_harvest(&bed, 90, on(2026, 6, 29), &last), on(2026, 6, 30));
    is_day("the day after it", db_bed_harvest(&bed, 90, on(2026, 6, 30), &last), on(2026, 6, 30));
    is_day("it is from", last, on(2026, 4, 1));
    /* Still there when the next is dug in: 1 July and 120 days. */
    is_day("twice", db_bed_harvest(&bed, 120, on(2026, 5, 20), &last), on(2026, 10, 29));
    is_day("it is from", last, on(2026, 7, 1));
    is_day("nobody knows when", db_bed_harvest(&bed, 120, DB_NO_DATE, &last), DB_NO_DATE);
    assert_false(db_date_known(last));
}

/* Lettuce and sweetcorn on the equator at 20 degC all day and night, where both are ready long before: the harvest, and
 * what is counted from it, wait; what it would be without is kept. */
static void a_life_waits(void **state)
{
    struct db_date manured[] = { on(2026, 4, 1) };
    struct plot plot = warm_plot(on(2026, 3, 15), 20);
    const struct db_bed *south = plot_bed(&plot, "south", DB_COVER_OPEN), *north = manured_bed(&plot, manured);
    const char *const ids[] = { "lettuce", "sweetcorn" };
    const struct db_date until[] = { on(2026, 7, 30), on(2026, 6, 30) };
    struct db_life life[2][2];

    (void) state;
    for (size_t i = 0; i < 2; i++)
        for (int b = 0; b < 2; b++)
            (void) plot_sow(&plot, (struct db_sowing){ .id = b   ? ids[i]
                                                             : i ? "s"
                                                                 : "l",
                                                       .crop = crop_of(ids[i]),
                                                       .bed = b ? north : south,
                                                       .planned = on(2026, 3, 10),
                                                       .sown = on(2026, 3, 10) });
    plot_close_diary(&plot);

    struct db_clocks clocks;

    assert_int_equal(db_clocks_begin(&clocks, &plot.view, plot.arena), DB_OK);
    for (size_t i = 0; i < 2; i++) {
        for (int b = 0; b < 2; b++) {
            struct db_course course = { 0 };

            assert_int_equal(db_course_work(&clocks, 2 * i + (size_t) b, &course), DB_OK);
            life[i][b] = course.life;
        }

        const struct db_turn *held = &life[i][1].stage[DB_STAGE_CROPPING], *free = &life[i][0].stage[DB_STAGE_CROPPING],
                             *ripe = &life[i][1].ripe;

        assert_true(db_date_known(free->likely) && free->late.day < until[i].day);
        is_day(ids[i], held->early, until[i]);
        is_day(ids[i], held->likely, until[i]);
        is_day(ids[i], held->late, until[i]);
        is_day("ready but for it", ripe->early, free->early);
        is_day("ready but for it", ripe->likely, free->likely);
        is_day("ready but for it", ripe->late, free->late);
        is_day("without manure", life[i][0].ripe.likely, free->likely);
        assert_int_equal(life[i][1].stage[DB_STAGE_CLEARED].likely.day - held->likely.day,
                         life[i][0].stage[DB_STAGE_CLEARED].likely.day - free->likely.day);
    }
    plot_free(&plot);
}

/* Who harvests all the same has done so: the note stands. */
static void a_note_beats_the_wait(void **state)
{
    struct db_date manured[] = { on(2026, 4, 1) };
    struct plot plot = warm_plot(on(2026, 6, 15), 20);
    const struct db_bed *north = manured_bed(&plot, manured);
    struct db_course course = { 0 };
    struct db_clocks clocks;

    (void) state;
    (void) plot_sow(
        &plot,
        (struct db_sowing){
            .id = "l", .crop = crop_of("lettuce"), .bed = north, .planned = on(2026, 3, 10), .sown = on(2026, 3, 10) });
    plot_note(&plot, "l", "cropping", on(2026, 6, 1));
    plot_close_diary(&plot);
    assert_int_equal(db_clocks_begin(&clocks, &plot.view, plot.arena), DB_OK);
    assert_int_equal(db_course_work(&clocks, 0, &course), DB_OK);
    is_day("noted", course.life.stage[DB_STAGE_CROPPING].likely, on(2026, 6, 1));
    is_day("noted", course.life.ripe.likely, on(2026, 6, 1));
    plot_free(&plot);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_days_are_those_of_the_rule),
        cmocka_unit_test(only_what_was_dug_in_before_counts),
        cmocka_unit_test(a_life_waits),
        cmocka_unit_test(a_note_beats_the_wait),
    };

    return cmocka_run_group_tests_name("engine_manure", tests, read_estate, free_estate);
}
