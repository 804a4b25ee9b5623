/* Beds, sowings, crops: found by name, kept in order, at places that do not move. */
#include "base/limits.h"
#include "dewbell/garden.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

#include "base/banned.h"

enum { MANY = DB_LIMIT_SOWINGS };

static const struct db_site site = { .name = "Lark Bank", .latitude = 52.1 };

static void a_hundred_thousand_sowings_are_found_by_name(void **state)
{
    struct db_arena *arena = db_arena_new((size_t) 256 << 20);
    struct db_garden *garden = db_garden_new(arena, &site);
    struct db_sowing sowing = { .row = 1 };
    const struct db_sowing *first;
    char name[32];

    (void) state;
    assert_non_null(garden);
    for (size_t i = 0; i < MANY; i++) {
        const int length = snprintf(name, sizeof name, "lettuce-%zu", i);

        sowing.id = db_arena_text(arena, name, (size_t) length);
        sowing.plants = (double) i;
        assert_int_equal(db_garden_add_sowing(garden, &sowing), DB_OK);
        if (i == 0)
            first = db_garden_sowing(garden, 0);
    }
    assert_int_equal(db_garden_sowings(garden), MANY);
    assert_ptr_equal(db_garden_sowing(garden, 0), first);
    for (size_t i = 0; i < MANY; i++) {
        snprintf(name, sizeof name, "lettuce-%zu", i);
        assert_int_equal(db_garden_find_sowing(garden, name), i);
        assert_true(db_garden_sowing(garden, i)->plants == (double) i);
    }
    assert_true(db_garden_find_sowing(garden, "lettuce-100000") == SIZE_MAX);
    assert_null(db_garden_sowing(garden, MANY));

    sowing.id = "lettuce-7";
    assert_int_equal(db_garden_add_sowing(garden, &sowing), DB_RANGE);
    sowing.id = "one-too-many";
    assert_int_equal(db_garden_add_sowing(garden, &sowing), DB_FULL);
    assert_int_equal(db_garden_sowings(garden), MANY);
    (void) db_arena_free(arena);
}

static void a_bed_stays_where_it_is(void **state)
{
    struct db_arena *arena = db_arena_new(1 << 20);
    struct db_garden *garden = db_garden_new(arena, &site);
    const struct db_bed *north = NULL, *again = NULL;
    char names[100][8];

    (void) state;
    assert_null(db_garden_find_bed(garden, "north"));
    assert_int_equal(db_garden_add_bed(garden, &(struct db_bed){ .id = "north", .width = 1200 }, &north), DB_OK);
    for (size_t i = 0; i < 100; i++) {
        snprintf(names[i], sizeof names[i], "b%zu", i);
        assert_int_equal(db_garden_add_bed(garden, &(struct db_bed){ .id = names[i] }, NULL), DB_OK);
    }
    assert_int_equal(db_garden_beds(garden), 101);
    assert_ptr_equal(db_garden_find_bed(garden, "north"), north);
    assert_ptr_equal(db_garden_bed(garden, 0), north);
    assert_true(north->width == 1200);
    assert_int_equal(db_garden_add_bed(garden, &(struct db_bed){ .id = "north" }, &again), DB_RANGE);
    assert_null(again);
    (void) db_arena_free(arena);
}

/* Every amount of memory that is too little is answered with DB_FULL, and what was kept before is still there. */
static void too_little_memory_loses_nothing(void **state)
{
    (void) state;
    for (size_t limit = 256;; limit += 256) {
        struct db_arena *arena = db_arena_new(limit);
        struct db_garden *garden = db_garden_new(arena, &site);
        enum db_status status = garden ? DB_OK : DB_FULL;
        static const char *const ids[] = { "a", "b", "c", "d", "e", "f", "g", "h", "i", "j",
                                           "k", "l", "m", "n", "o", "p", "q", "r", "s", "t" };
        size_t kept = 0;

        for (; status == DB_OK && kept < 20; kept += status == DB_OK)
            status = db_garden_add_sowing(garden, &(struct db_sowing){ .id = ids[kept] });
        for (size_t i = 0; i < kept; i++)
            assert_int_equal(db_garden_find_sowing(garden, ids[i]), i);
        (void) db_arena_free(arena);
        if (kept == 20)
            return;
        assert_int_equal(status, DB_FULL);
        assert_true(limit < 1 << 20);
    }
}

static void the_class_of_hardiness_gives_the_frost_limit(void **state)
{
    /* Upper bounds of the classes: PMC10202904, table 2. */
    static const struct {
        const char *word;
        double limit;
    } classes[] = {
        { "chill-tender", 5 }, { "frost-tender", 0 }, { "half-hardy", -2 }, { "hardy", -4 }, { "very-hardy", -7 }
    };
    struct db_arena *arena = db_arena_new(1 << 20);
    struct db_crops *crops = db_crops_new(arena);
    struct db_crop_facts facts = { 0 };

    (void) state;
    for (size_t f = 0; f < DB_FACT_COUNT; f++)
        facts.low[f] = facts.high[f] = (double) NAN;
    for (size_t i = 0; i < 5; i++) {
        facts.id = classes[i].word;
        facts.text[DB_FACT_HARDINESS] = classes[i].word;
        assert_int_equal(db_crops_add(crops, &facts), DB_OK);
        assert_true(db_crops_find(crops, facts.id)->low[DB_FACT_FROST_LIMIT] == classes[i].limit);
        assert_non_null(db_crops_find(crops, facts.id)->source[DB_FACT_FROST_LIMIT]);
    }
    facts.id = "own";
    facts.low[DB_FACT_FROST_LIMIT] = facts.high[DB_FACT_FROST_LIMIT] = -1;
    assert_int_equal(db_crops_add(crops, &facts), DB_OK);
    assert_true(db_crops_find(crops, "own")->low[DB_FACT_FROST_LIMIT] == -1);
    assert_int_equal(db_crops_add(crops, &facts), DB_RANGE);
    assert_int_equal(db_crops_count(crops), 6);
    (void) db_arena_free(arena);
}

static void is_ground(const struct db_sowing *sowing, double closest, double middle, double widest)
{
    const double wanted[] = { closest, middle, widest };

    for (int end = 0; end < 3; end++) {
        const double got = db_sowing_ground(sowing, end);

        if (isnan(wanted[end]) ? !isnan(got) : !(fabs(got - wanted[end]) < 1e-9))
            fail_msg("end %d: %g m2, not %g", end, got, wanted[end]);
    }
}

/* Worked out by hand. Carrots: 3 m of rows 20 to 30 cm apart. Beet in clusters: 24 cells 20 cm apart in rows of 25 to 30 cm;
 * its single plants 8 to 10 cm apart. */
static void ground_is_rows_or_plants_at_the_crops_distances(void **state)
{
    struct db_crop_facts crop = { 0 };
    struct db_sowing sowing = { .crop = &crop, .way = DB_WAY_DRILL, .row = 3000 };

    (void) state;
    for (int i = 0; i < DB_FACT_COUNT; i++)
        crop.low[i] = crop.high[i] = (double) NAN;
    is_ground(&sowing, (double) NAN, (double) NAN, (double) NAN); /* the crop does not say how far apart its rows are */
    crop.low[DB_FACT_ROW_SPACING] = 200;
    crop.high[DB_FACT_ROW_SPACING] = 300;
    is_ground(&sowing, 0.6, 0.75, 0.9);
    sowing.area = 1.5; /* the gardener knows better */
    is_ground(&sowing, 1.5, 1.5, 1.5);

    crop.low[DB_FACT_ROW_SPACING] = 250;
    crop.low[DB_FACT_SPACING] = 80;
    crop.high[DB_FACT_SPACING] = 100;
    sowing = (struct db_sowing){ .crop = &crop, .way = DB_WAY_PLUGS, .plugs = 24, .plants = 30 };
    is_ground(&sowing, 30 * .08 * .25, 30 * .09 * .275, 30 * .1 * .3);
    assert_true(db_sowing_stands(&sowing) == 30);
    crop.low[DB_FACT_CLUSTER_SPACING] = crop.high[DB_FACT_CLUSTER_SPACING] = 200;
    is_ground(&sowing, 1.2, 1.32, 1.44); /* clusters are counted by the cell */
    assert_true(db_sowing_stands(&sowing) == 24 && db_sowing_apart(&sowing, 1) == 200);
    sowing.way = DB_WAY_DRILL; /* in a drill they stand singly */
    assert_true(db_sowing_apart(&sowing, 1) == 90);
    sowing.plugs = sowing.plants = 0;
    is_ground(&sowing, (double) NAN, (double) NAN, (double) NAN);
}

/* The table is what the reader, the rules and the documents go by. */
static void every_fact_has_a_whole_row(void **state)
{
    (void) state;
    for (enum db_fact fact = 0; fact < (enum db_fact) DB_FACT_COUNT; fact++) {
        const struct db_fact_row *row = db_fact_row(fact);

        assert_non_null(row);
        assert_non_null(row->key);
        assert_true(strlen(row->key) > 2 && strlen(row->key) <= DB_LIMIT_NAME);
        assert_int_equal(strspn(row->key, "abcdefghijklmnopqrstuvwxyz_"), strlen(row->key));
        assert_non_null(row->help);
        assert_true(strlen(row->help) > 10);
        if (row->kind != DB_KIND_WORD)
            assert_true(row->least < row->most);
        for (enum db_fact other = 0; other < fact; other++)
            assert_string_not_equal(row->key, db_fact_row(other)->key);
    }
    assert_null(db_fact_row((enum db_fact) DB_FACT_COUNT));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_hundred_thousand_sowings_are_found_by_name),
        cmocka_unit_test(a_bed_stays_where_it_is),
        cmocka_unit_test(too_little_memory_loses_nothing),
        cmocka_unit_test(the_class_of_hardiness_gives_the_frost_limit),
        cmocka_unit_test(ground_is_rows_or_plants_at_the_crops_distances),
        cmocka_unit_test(every_fact_has_a_whole_row),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
