/* The shipped crops, as the reader hands them out, against the published rows they were taken from. */
#include "dewbell/crop.h"

#include "read/read.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

#include "kit/demo.h"

#include "base/banned.h"

enum { NOT_TESTED = -1, TEMPERATURES = 9 };

static struct db_arena *arena;
static const struct db_crops *crops;

static int read_crops(void **state)
{
    struct db_estate estate = { 0 };

    (void) state;
    arena = db_arena_new((size_t) 64 << 20);
    const int code = read_demo(arena, &estate);
    crops = estate.crops;
    return code;
}

static int free_crops(void **state)
{
    (void) state;
    arena = db_arena_free(arena);
    return 0;
}

static const struct db_crop_facts *find(const char *id)
{
    const struct db_crop_facts *crop = db_crops_find(crops, id);

    if (!crop)
        fail_msg("no crop %s", id);
    return crop;
}

static bool given(const struct db_crop_facts *crop, enum db_fact fact)
{
    return db_fact_row(fact)->kind == DB_KIND_WORD ? crop->text[fact] != NULL : !isnan(crop->low[fact]);
}

static bool is_yes(const struct db_crop_facts *crop, enum db_fact fact)
{
    return crop->low[fact] > 0;
}

static bool raised(const struct db_crop_facts *crop, enum db_way way)
{
    return (crop->ways & 1U << way) != 0;
}

/* Days to emergence, seed 13 mm deep, at 0, 5 ... 40 degC, as printed in whole days: Harrington & Minges 1954 in Knott's
 * Handbook for Vegetable Growers (1997), reproduced as Appendix 4 of Unit 1.3, Teaching Organic Farming and Gardening,
 * UC Santa Cruz. 0: no emergence. Turnip at 40 degC has 3 days. */
static const struct published {
    const char *id;
    int days[TEMPERATURES];
} published[] = {
    { "french-bean", { 0, 0, 0, 16, 11, 8, 6, 6, 0 } },
    { "beetroot", { -1, 42, 17, 10, 6, 5, 5, 5, -1 } },
    { "chard", { -1, 42, 17, 10, 6, 5, 5, 5, -1 } },
    { "savoy-cabbage", { -1, -1, 15, 9, 6, 5, 4, -1, -1 } },
    { "summer-cabbage", { -1, -1, 15, 9, 6, 5, 4, -1, -1 } },
    { "carrot", { 0, 51, 17, 10, 7, 6, 6, 9, 0 } },
    { "cauliflower", { -1, -1, 20, 10, 6, 5, 5, -1, -1 } },
    { "celery", { 0, 41, 16, 12, 7, 0, 0, 0, -1 } },
    { "sweetcorn", { 0, 0, 22, 12, 7, 4, 4, 3, 0 } },
    { "cucumber", { 0, 0, 0, 13, 6, 4, 3, 3, -1 } },
    { "aubergine", { -1, -1, -1, -1, 13, 8, 5, -1, -1 } },
    { "lettuce", { 49, 15, 7, 4, 3, 2, 3, 0, 0 } },
    { "melon", { -1, -1, -1, -1, 8, 4, 3, -1, -1 } },
    { "okra", { 0, 0, 0, 27, 17, 13, 7, 6, 7 } },
    { "onion", { 136, 31, 13, 7, 5, 4, 4, 13, 0 } },
    { "parsley", { -1, -1, 29, 17, 14, 13, 12, -1, -1 } },
    { "parsnip", { 172, 57, 27, 19, 14, 15, 32, 0, 0 } },
    { "pea", { -1, 36, 14, 9, 8, 6, 6, -1, -1 } },
    { "sweet-pepper", { 0, 0, 0, 25, 13, 8, 8, 9, 0 } },
    { "radish", { 0, 29, 11, 6, 4, 4, 3, -1, -1 } },
    { "spinach", { 63, 23, 12, 7, 6, 5, 6, 0, 0 } },
    { "tomato", { 0, 0, 43, 14, 8, 6, 6, 9, 0 } },
    { "turnip", { 0, 0, 5, 3, 2, 1, 1, 1, 3 } },
};

static void days_round_to_the_published_rows(void **state)
{
    (void) state;
    for (size_t i = 0; i < sizeof published / sizeof published[0]; i++) {
        const struct db_emergence *table = &find(published[i].id)->emergence;

        for (int t = 0; t < TEMPERATURES; t++) {
            size_t p = 0;

            while (p < table->count && fabs(table->temperature[p] - 5 * t) > 1e-9)
                p++;
            if (published[i].days[t] == NOT_TESTED) {
                if (p < table->count)
                    fail_msg("%s has a point at %d degC that was not tested", published[i].id, 5 * t);
                continue;
            }
            if (p == table->count)
                fail_msg("%s lacks the point at %d degC", published[i].id, 5 * t);
            if ((int) floor(table->days[p] + 0.5) != published[i].days[t]) /* half up, as in print */
                fail_msg("%s at %d degC: %g days, in print %d", published[i].id, 5 * t, table->days[p],
                         published[i].days[t]);
        }
    }
}

/* Frost resistance, PMC10202904 table 2: crops named there, and the upper bound of the damaging range of their class. */
static void frost_limits_are_those_of_the_table(void **state)
{
    static const struct {
        const char *id;
        double limit;
    } named[] = {
        { "tomato", 5 },          { "cucumber", 5 },     { "potato", 0 },          { "french-bean", 0 },
        { "sweetcorn", 0 },       { "melon", 0 },        { "lettuce", -2 },        { "kale", -4 },
        { "summer-cabbage", -4 }, { "cauliflower", -4 }, { "spring-cabbage", -4 }, { "calabrese", -4 },
        { "onion", -4 },          { "swede", -4 },       { "carrot", -4 },         { "parsnip", -4 },
        { "savoy-cabbage", -7 },  { "spinach", -7 },
    };

    (void) state;
    for (size_t i = 0; i < sizeof named / sizeof named[0]; i++) {
        const struct db_crop_facts *crop = find(named[i].id);

        if (fabs(crop->low[DB_FACT_FROST_LIMIT] - named[i].limit) > 1e-9)
            fail_msg("%s: %g", named[i].id, crop->low[DB_FACT_FROST_LIMIT]);
    }
    /* Beetroot is named there as a grown plant (-4); its seedlings are half-hardy (common practice, no source). */
    assert_true(fabs(find("beetroot")->low[DB_FACT_FROST_LIMIT] + 2) < 1e-9);
}

/* Lowest nights for hardening off, 40 and 45 degF in the extension list: 4.4 and 7.2 degC. Lettuce: 4.4 degC in the
 * University of Delaware's table A-4. Tender crops have 8 to 10 degC (common practice, no source): see docs/crops.md. */
static void hardening_nights_are_those_of_the_list(void **state)
{
    static const struct {
        const char *id;
        double fahrenheit;
    } list[] = {
        { "calabrese", 40 }, { "brussels-sprouts", 40 }, { "summer-cabbage", 40 }, { "onion", 40 },
        { "leek", 40 },      { "parsley", 40 },          { "celery", 45 },         { "lettuce", 40 },
    };

    (void) state;
    for (size_t i = 0; i < sizeof list / sizeof list[0]; i++) {
        const struct db_crop_facts *crop = find(list[i].id);

        if (fabs(crop->low[DB_FACT_HARDEN_LOW] - (list[i].fahrenheit - 32) / 1.8) > 0.05)
            fail_msg("%s: %g", list[i].id, crop->low[DB_FACT_HARDEN_LOW]);
    }
}

/* Weeks to grow transplants: University of Delaware, table A-4 of the Mid-Atlantic Recommendations. */
static void weeks_in_a_plug_are_those_of_the_table(void **state)
{
    static const struct {
        const char *id;
        double least, most;
    } weeks[] = {
        { "calabrese", 4, 7 }, { "cauliflower", 6, 8 }, { "cucumber", 2, 4 }, { "aubergine", 6, 9 },
        { "lettuce", 4, 6 },   { "melon", 2, 4 },       { "onion", 9, 12 },   { "courgette", 2, 4 },
    };

    (void) state;
    for (size_t i = 0; i < sizeof weeks / sizeof weeks[0]; i++) {
        const struct db_crop_facts *crop = find(weeks[i].id);

        assert_true(fabs(crop->low[DB_FACT_PLUG_TIME] - 7 * weeks[i].least) < 1e-9);
        assert_true(fabs(crop->high[DB_FACT_PLUG_TIME] - 7 * weeks[i].most) < 1e-9);
    }
}

/* Warmth above which fewer than half of the best stand comes up, from the percentages of normal seedlings of Harrington &
 * Minges 1954 by straight lines, rounded down. The percentages beside: the two points around the half. */
static void hot_limits_follow_from_the_percentages(void **state)
{
    static const struct {
        const char *id;
        double best, t0, stand0, t1, stand1;
    } stands[] = {
        { "lettuce", 99, 25, 99, 30, 12 }, { "pea", 94, 30, 86, 35, 0 },       { "carrot", 96, 35, 74, 40, 0 },
        { "onion", 99, 35, 73, 40, 2 },    { "parsnip", 89, 30, 51, 35, 1 },   { "spinach", 96, 20, 52, 25, 28 },
        { "tomato", 98, 30, 83, 35, 46 },  { "beetroot", 97, 30, 89, 35, 35 }, { "french-bean", 97, 25, 97, 30, 47 },
    };

    (void) state;
    for (size_t i = 0; i < sizeof stands / sizeof stands[0]; i++) {
        const double half = stands[i].best / 2;
        const double at = stands[i].t0 + (stands[i].t1 - stands[i].t0) * (stands[i].stand0 - half) /
                                             (stands[i].stand0 - stands[i].stand1);

        if (fabs(find(stands[i].id)->low[DB_FACT_HOT_LIMIT] - floor(at)) > 1e-9)
            fail_msg("%s: %g, worked out %.2f", stands[i].id, find(stands[i].id)->low[DB_FACT_HOT_LIMIT], at);
    }
}

/* Salad onion 'White Lisbon', by another laboratory: Brewster, Onions and Other Vegetable Alliums, eqs 4.8 and 4.9. The
 * warmest seedbed in which the fraction G still germinates is (4.55 - probit G) 7.58, and below it the rate falls by 1/19.75
 * for each degree. Ours is the onion row of Harrington & Minges, of whole seedlings instead of first roots, so that only a
 * band can be asked for: the halves stop within 2 K of each other, and at 30 degC seedlings take no less than the roots of
 * the median and no more than a week longer, less a margin of a day for the two laboratories (estimates). */
static void spring_onions_stop_where_salad_onions_do(void **state)
{
    const double ceiling = (4.55 - 0) * 7.58; /* the median: probit 0 */
    const struct db_crop_facts *onion = find("spring-onion");
    const double roots = 19.75 / (ceiling - 30), seedlings = 1 / db_emergence_rate(&onion->emergence, 30);

    (void) state;
    assert_true(fabs(ceiling - 34.49) < 0.01);
    assert_true(fabs(onion->low[DB_FACT_HOT_LIMIT] - ceiling) < 2);
    assert_true(seedlings > roots - 1 && seedlings < roots + 7);
    assert_true(db_emergence_rate(&onion->emergence, ceiling) < db_emergence_rate(&onion->emergence, 30) / 2);
    assert_true(db_emergence_rate(&onion->emergence, ceiling + 5.6) < 1e-9); /* none at 40 */
}

static void every_fact_has_a_source(void **state)
{
    (void) state;
    assert_true(db_crops_count(crops) >= 45);
    for (size_t i = 0; i < db_crops_count(crops); i++) {
        const struct db_crop_facts *crop = db_crops_at(crops, i);

        for (int f = 0; f < DB_FACT_COUNT; f++)
            if (given(crop, (enum db_fact) f) && (!crop->source[f] || !crop->source[f][0]))
                fail_msg("%s: %s has no source", crop->id, db_fact_row((enum db_fact) f)->key);
        assert_non_null(crop->ways_source);
        if (crop->emergence.count)
            assert_non_null(crop->emergence_source);
    }
}

/* What the rules rely on: a crop has the facts that its ways of raising ask for. */
static void facts_fit_the_ways_of_raising(void **state)
{
    (void) state;
    for (size_t i = 0; i < db_crops_count(crops); i++) {
        const struct db_crop_facts *c = db_crops_at(crops, i);
        const bool tray = raised(c, DB_WAY_PLUGS) || raised(c, DB_WAY_POT), sets = raised(c, DB_WAY_SETS);
        const struct {
            bool wanted;
            enum db_fact fact;
        } wants[] = {
            { true, DB_FACT_SPACING },
            { true, DB_FACT_ROW_SPACING },
            { true, DB_FACT_CROP_TIME },
            { true, DB_FACT_HARVEST_TIME },
            { true, DB_FACT_HARVEST },
            { true, DB_FACT_STORAGE },
            { true, DB_FACT_COUNTED },
            { true, DB_FACT_KEEP_OFF },
            { tray, DB_FACT_PLUG_TIME },
            { tray, DB_FACT_HARDEN_LOW },
            { tray, DB_FACT_HARDEN_TIME },
            { raised(c, DB_WAY_POT), DB_FACT_PRICK_OUT },
            { raised(c, DB_WAY_PLUGS), DB_FACT_PLUG_SEEDS },
            { raised(c, DB_WAY_PLUGS), DB_FACT_PLUG_KEEP },
            { is_yes(c, DB_FACT_CLUSTERED), DB_FACT_CLUSTER_SPACING },
            { is_yes(c, DB_FACT_SOLSTICE), DB_FACT_SOLSTICE_LEAD },
        };

        for (size_t w = 0; w < sizeof wants / sizeof wants[0]; w++)
            if (wants[w].wanted && !given(c, wants[w].fact))
                fail_msg("%s lacks %s", c->id, db_fact_row(wants[w].fact)->key);
        if (!c->emergence.count && !sets)
            fail_msg("%s says nothing of when it comes up", c->id);
        if (given(c, DB_FACT_THIN) && !raised(c, DB_WAY_DRILL))
            fail_msg("%s is thinned but not sown in a drill", c->id);
        if (given(c, DB_FACT_CLUSTER_SPACING) && !is_yes(c, DB_FACT_CLUSTERED))
            fail_msg("%s has a distance of clusters but none are kept", c->id);
        if (is_yes(c, DB_FACT_CLUSTERED) && c->high[DB_FACT_PLUG_KEEP] < 2)
            fail_msg("%s is clustered but keeps one seedling", c->id);
    }
}

/* At the warmth at which its season grows, a crop comes up in two to thirty days (common practice, no source). */
static void seedlings_come_up_in_sensible_time(void **state)
{
    (void) state;
    for (size_t i = 0; i < db_crops_count(crops); i++) {
        const struct db_crop_facts *c = db_crops_at(crops, i);
        const double rate = db_emergence_rate(&c->emergence, db_crop_reference(c));

        if (c->emergence.count && (rate <= 1.0 / 30 || rate > 0.5))
            fail_msg("%s: %.1f days at %g degC", c->id, 1 / rate, db_crop_reference(c));
    }
}

/* Families: botany. */
static void families_are_right(void **state)
{
    static const char *const family[][2] = {
        { "radish", "Brassicaceae" },
        { "beetroot", "Amaranthaceae" },
        { "garlic", "Amaryllidaceae" },
        { "parsley", "Apiaceae" },
        { "lettuce", "Asteraceae" },
        { "potato", "Solanaceae" },
        { "okra", "Malvaceae" },
        { "lambs-lettuce", "Caprifoliaceae" },
        { "winter-purslane", "Montiaceae" },
        { "sweetcorn", "Poaceae" },
        { "basil", "Lamiaceae" },
        { "pea", "Fabaceae" },
        { "melon", "Cucurbitaceae" },
    };

    (void) state;
    for (size_t i = 0; i < sizeof family / sizeof family[0]; i++)
        assert_string_equal(find(family[i][0])->text[DB_FACT_FAMILY], family[i][1]);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(days_round_to_the_published_rows),
        cmocka_unit_test(frost_limits_are_those_of_the_table),
        cmocka_unit_test(hardening_nights_are_those_of_the_list),
        cmocka_unit_test(weeks_in_a_plug_are_those_of_the_table),
        cmocka_unit_test(hot_limits_follow_from_the_percentages),
        cmocka_unit_test(spring_onions_stop_where_salad_onions_do),
        cmocka_unit_test(every_fact_has_a_source),
        cmocka_unit_test(facts_fit_the_ways_of_raising),
        cmocka_unit_test(seedlings_come_up_in_sensible_time),
        cmocka_unit_test(families_are_right),
    };

    return cmocka_run_group_tests_name("data_crops", tests, read_crops, free_crops);
}
