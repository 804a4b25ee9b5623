/* What must hold of the models whatever the weather. SEED in the environment repeats a run. */
#include "dewbell/almanac.h"
#include "dewbell/soil.h"
#include "dewbell/thermal.h"

#include "../unit/tables.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <time.h>

#include <cmocka.h>

#include "base/banned.h"

static const char *const crops[] = {
    "asparagus", "aubergine", "beetroot", "carrot",  "celery", "cucumber", "lettuce",
    "onion",     "parsnip",   "pea",      "spinach", "tomato", "turnip",   "watermelon"
};
enum { CROPS = sizeof crops / sizeof crops[0] };

static uint64_t random_state;

static double random_between(double least, double most)
{
    random_state = random_state * 6364136223846793005u + 1442695040888963407u;
    return least + (most - least) * (double) (random_state >> 11) / 9007199254740992.0;
}

static int seeded(void **state)
{
    const char *text = getenv("SEED");
    uint64_t seed = text && *text ? strtoull(text, NULL, 10) : (uint64_t) time(NULL);

    (void) state;
    random_state = seed * 2862933555777941757u + 3037000493u;
    print_message("SEED=%llu\n", (unsigned long long) seed);
    return 0;
}

static struct db_emergence some_table(size_t crop)
{
    struct db_emergence table = emergence_of(crops[crop], false, 35 + random_between(0, 6));

    table.base = table.temperature[0] - random_between(0, 1) * 4 - 0.5;
    return table;
}

static void rates_are_continuous_and_never_negative(void **state)
{
    (void) state;
    for (size_t crop = 0; crop < CROPS; crop++) {
        struct db_emergence table = some_table(crop);
        double before = db_emergence_rate(&table, -20);

        for (double t = -20; t < 60; t += 0.01) {
            double rate = db_emergence_rate(&table, t);
            assert_true(rate >= 0 && rate < 1.1);
            /* no step: the steepest line of any table is a day's whole rate within half a degree */
            assert_true(fabs(rate - before) < 0.01 * 2);
            before = rate;
        }
    }
}

/* Below its best temperature a batch never comes up sooner because every day is colder. */
static void colder_days_are_never_sooner(void **state)
{
    (void) state;
    for (int run = 0; run < 400; run++) {
        struct db_emergence table = some_table((size_t) random_between(0, CROPS - 0.001));
        double best = table.temperature[0], warm[201] = { 0 }, cold[201] = { 0 };

        for (size_t i = 0; i < table.count && table.temperature[i] <= 40; i++)
            if (db_emergence_rate(&table, table.temperature[i]) > db_emergence_rate(&table, best))
                best = table.temperature[i];
        for (size_t day = 0; day < 200; day++) {
            double t = random_between(-5, best), colder = t - random_between(0, 4);
            warm[day + 1] = warm[day] + db_emergence_rate(&table, t);
            cold[day + 1] = cold[day] + db_emergence_rate(&table, colder);
        }
        size_t from = (size_t) random_between(0, 100);
        assert_true(db_sums_reach(cold, 200, from, 1) >= db_sums_reach(warm, 200, from, 1));
    }
}

/* Against the sum that the search stands in for. */
static void the_search_finds_what_counting_finds(void **state)
{
    (void) state;
    for (int run = 0; run < 3000; run++) {
        double sums[61] = { 0 };
        size_t count = (size_t) random_between(0, 60.999), from = (size_t) random_between(0, (double) count + 0.999),
               n = 0;

        for (size_t i = 0; i < count; i++)
            sums[i + 1] = sums[i] + fmax(0, floor(random_between(-2, 3)));
        double amount = floor(random_between(-1, 50));
        while (from + n <= count && sums[from + n] - sums[from] < amount)
            n++;
        assert_true(db_sums_reach(sums, count, from, amount) == (from + n > count ? SIZE_MAX : n));
    }
}

static double degree_days(enum db_degree_method method, double low, double high, double base, double upper)
{
    double sum;

    assert_int_equal(db_degree_days(method, low, high, base, upper, &sum), DB_OK);
    return sum;
}

static void degree_days_grow_with_warmth(void **state)
{
    (void) state;
    for (int run = 0; run < 20000; run++) {
        double low = random_between(-15, 25), high = low + random_between(0, 20), base = random_between(0, 12);
        double upper = base + random_between(5, 25), more = random_between(0, 5);

        for (int m = DB_DEGREE_AVERAGE; m <= DB_DEGREE_HORIZONTAL; m++) {
            enum db_degree_method method = (enum db_degree_method) m;
            double sum = degree_days(method, low, high, base, upper);
            assert_true(sum >= 0);
            assert_true(degree_days(method, low, high + more, base, upper) >= sum - 1e-9);
            assert_true(degree_days(method, fmin(high, low + more), high, base, upper) >= sum - 1e-9);
        }
        double sine = degree_days(DB_DEGREE_SINE, low, high, base, 0);
        assert_true(sine >= degree_days(DB_DEGREE_AVERAGE, low, high, base, 0) - 1e-9);
        if (low >= base)
            assert_true(fabs(sine - degree_days(DB_DEGREE_AVERAGE, low, high, base, 0)) < 1e-9);
        if (run % 100 == 0) { /* against the sine itself, hour by hour and finer */
            double total = 0;
            for (int i = 0; i < 20000; i++)
                total += fmax(0, (low + high) / 2 + (high - low) / 2 * sin(2 * acos(-1.0) * (i + 0.5) / 20000) - base);
            assert_true(fabs(sine - total / 20000) < 1e-4);
        }
    }
}

/* The two points stand for a whole day's sine: exactly where the rate is a straight line over the day's range. */
static void two_points_stand_for_the_day(void **state)
{
    (void) state;
    for (int run = 0; run < 300; run++) {
        struct db_emergence table;
        double base = random_between(-2, 8), half = random_between(0, 8), t = base + half + random_between(0, 4),
               total = 0;

        assert_int_equal(db_emergence_linear(base, random_between(50, 300), 40, 41, &table), DB_OK);
        for (int i = 0; i < 5000; i++)
            total += db_emergence_rate(&table, t + half * sin(2 * acos(-1.0) * (i + 0.5) / 5000));
        assert_true(fabs(db_emergence_rate_day(&table, t, half) - total / 5000) < 1e-9);
    }
}

static double hours(double latitude, double longitude, struct db_date date)
{
    struct db_sun sun;

    assert_int_equal(db_almanac_sun(latitude, longitude, date, &sun), DB_OK);
    assert_true(sun.hours >= 0 && sun.hours <= 24 && sun.set - sun.rise >= 0);
    return sun.hours;
}

/* Half a year on, the other hemisphere has this one's day, but for the ellipse of the orbit (up to four days) and the
 * bending of light. */
static void days_mirror_across_the_equator(void **state)
{
    (void) state;
    for (int run = 0; run < 2000; run++) {
        double latitude = random_between(0, 45), longitude = random_between(-180, 180);
        struct db_date date = { (int32_t) random_between(-10000, 30000) };
        double here = hours(latitude, longitude, date), there = hours(-latitude, longitude, db_date_add(date, 183));
        assert_true(fabs(here - there) < 0.3);
        /* a year and a leap day later nothing has changed */
        assert_true(fabs(here - hours(latitude, longitude, db_date_add(date, 1461))) < 0.02);
    }
}

/* Warmer air never gives colder ground, and the ground stays between the coldest and the warmest drive. */
static void warmer_air_is_warmer_ground(void **state)
{
    enum { DAYS = 400 };
    double low[DAYS], high[DAYS], warmer_low[DAYS], warmer_high[DAYS], mean[DAYS], warmer[DAYS];

    (void) state;
    for (int run = 0; run < 100; run++) {
        double latitude = random_between(-65, 65), z = random_between(0, 15);
        struct db_date first = { (int32_t) random_between(0, 20000) };

        for (size_t i = 0; i < DAYS; i++) {
            double more = random_between(0, 3);
            low[i] = random_between(-10, 20);
            high[i] = low[i] + random_between(0, 18);
            warmer_low[i] = low[i] + more;
            warmer_high[i] = high[i] + more;
        }
        assert_int_equal(db_soil_days(latitude, first, DAYS, low, high, z, DB_COVER_OPEN, 0, mean, NULL, NULL), DB_OK);
        assert_int_equal(
            db_soil_days(latitude, first, DAYS, warmer_low, warmer_high, z, DB_COVER_OPEN, 0, warmer, NULL, NULL),
            DB_OK);
        for (size_t i = 0; i < DAYS; i++)
            assert_true(warmer[i] >= mean[i] - 1e-9 && mean[i] > -15 && mean[i] < 45);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(rates_are_continuous_and_never_negative),
        cmocka_unit_test(colder_days_are_never_sooner),
        cmocka_unit_test(the_search_finds_what_counting_finds),
        cmocka_unit_test(degree_days_grow_with_warmth),
        cmocka_unit_test(two_points_stand_for_the_day),
        cmocka_unit_test(days_mirror_across_the_equator),
        cmocka_unit_test(warmer_air_is_warmer_ground),
    };

    return cmocka_run_group_tests(tests, seeded, NULL);
}
