/* Random differences between forecasts and a garden: what is learnt keeps its bounds and its calm, and what is made of it is
 * weather that can be. Rules of ours, written out in include/dewbell/bias.h. SEED=n repeats a run. */
#include "dewbell/bias.h"
#include "read/read.h"
#include "read/records.h"

#include <inttypes.h>
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include <cmocka.h>

#include "kit/dice.h"

#include "base/banned.h"

enum { RUNS = 300, DAYS = 300, TODAY = 20600, AHEAD = 12, PAST = 1200 };

/* Days with gaps, unknown ones, a difference that drifts, and now and then a reading that is wrong. */
static size_t random_misses(struct db_miss misses[DAYS])
{
    const double mean = between(-7, 7), drift = between(-0.03, 0.03), noise = between(0, 3);
    size_t count = 0;

    for (int32_t d = 0; d < DAYS; d++) {
        const double miss = mean + drift * d + noise * between(-1, 1);

        if (below(10) == 0)
            continue;
        misses[count++] = (struct db_miss){ { TODAY - DAYS + d },
                                            below(12) == 0   ? (double) NAN
                                            : below(20) == 0 ? between(-60, 60)
                                                             : miss };
    }
    return count;
}

/* What the centre counts for. */
static double wanted_of(const struct db_bias *bias)
{
    const double wanted = bias->centre * (double) bias->days / ((double) bias->days + 2);

    return fmin(fmax(wanted, -5), 5);
}

/* Within its bounds, in steps, never far from what is wanted; it does not turn back for a tenth of a degree. */
static void bounds_and_calm(void **unused)
{
    size_t moves = 0, turns = 0;

    (void) unused;
    for (int run = 0; run < RUNS; run++) {
        struct db_miss misses[DAYS];
        const size_t count = random_misses(misses);
        struct db_bias before = { 0 };
        double moved_at = 0, direction = 0;

        for (int32_t today = TODAY - DAYS; today <= TODAY + 70; today++) {
            struct db_bias bias, again;

            assert_int_equal(db_bias_learn(misses, count, (struct db_date){ today }, &bias), DB_OK);
            assert_int_equal(db_bias_learn(misses, count, (struct db_date){ today }, &again), DB_OK);
            assert_memory_equal(&bias, &again, sizeof bias);
            assert_true(bias.days <= DB_BIAS_WINDOW && fabs(bias.shift) <= 5 && bias.spread >= 0);
            assert_true(fabs(remainder(bias.shift, 0.5)) < 1e-12 && (bias.shift < 0 || !signbit(bias.shift)));
            if (bias.days < DB_BIAS_LEAST) {
                assert_true(fabs(bias.shift) < 1e-12);
                before = bias;
                direction = 0;
                continue;
            }
            const double wanted = wanted_of(&bias), move = bias.shift - before.shift;
            assert_true(fabs(wanted - bias.shift) <= 0.4 + 1e-12);
            if (fabs(move) > 0) {
                moves++;
                if (move * direction < 0) {
                    turns++;
                    if (!(fabs(wanted - moved_at) > 0.15))
                        fail_msg("it turned for %.3f K, SEED=%" PRIu64, fabs(wanted - moved_at), seed);
                }
                direction = move;
                moved_at = wanted;
            }
            before = bias;
        }
    }
    print_message("%zu moves, %zu of them back\n", moves, turns);
    assert_true(moves > RUNS && turns > 0);
}

static void random_days(struct db_days *days, int32_t first, size_t count, struct db_arena *arena, int unknown)
{
    *days = (struct db_days){ .first = { first }, .count = count };
    for (int f = 0; f < DB_FIGURE_COUNT; f++) {
        days->figures[f] = db_arena_get(arena, count, sizeof(double));
        for (size_t i = 0; i < count; i++)
            days->figures[f][i] = below(100) < unknown ? (double) NAN : between(0, 4) + 4 * (f == DB_FIGURE_HIGH);
    }
}

static void lay_out(const struct db_estate *estate, struct db_arena *arena, struct db_weather **ret)
{
    assert_int_equal(db_estate_weather(estate, (struct db_date){ TODAY }, arena, db_mistakes_new(arena), ret), DB_OK);
}

/* No low above its high in any future, whatever is learnt or planned; observed figures as they were; and with nothing learnt
 * or planned the same bytes as without. */
static void weather_that_can_be(void **unused)
{
    size_t met = 0;

    (void) unused;
    for (int run = 0; run < RUNS; run++) {
        struct db_arena *arena = db_arena_new((size_t) 64 << 20);
        struct db_records records = { .climate = true };
        struct db_told_day told_days[AHEAD];
        struct db_told told = { .source = "Sky", .days = told_days, .count = AHEAD }, bare;
        struct db_site site = { .name = "Dell", .key = "5a0d8b1e-3c52-4f0e-9a41-7be2f1c6d9a3", .zone = "UTC" };
        struct db_weather *weather, *plain;

        for (int m = 0; m < 12; m++) {
            const double low = between(0, 4), high = between(4, 8); /* each in its turn */

            records.normals[m] = (struct db_normal){ low, high, 30, (double) NAN };
        }
        random_days(&records.observed, TODAY - 60, 60, arena, 30);
        random_days(&records.forecast, TODAY - 2, 6, arena, 30);
        random_days(&records.past, TODAY - PAST, PAST - 60, arena, 1);
        for (int d = 0; d < AHEAD; d++) {
            const double low = between(0, 4), high = between(4, 5);

            told_days[d] = (struct db_told_day){ { TODAY - 3 + d }, { low, high, 0, 1 } };
            if (below(4) == 0)
                told_days[d].figures[below(2)] = (double) NAN;
        }
        site.nights_known = below(2) == 0;
        site.colder_nights = site.nights_known ? between(-3, 8) : 0;
        for (int f = 0; f < 2; f++)
            told.bias[f].shift = 0.5 * (below(21) - 10);
        struct db_estate estate = { .garden = db_garden_new(arena, &site), .records = &records, .told = &told };
        lay_out(&estate, arena, &weather);
        for (size_t future = 0; future < db_weather_futures(weather); future++)
            for (size_t d = 0; d < db_weather_days(weather); d++) {
                const double low = db_weather_figures(weather, future, DB_FIGURE_LOW)[d],
                             high = db_weather_figures(weather, future, DB_FIGURE_HIGH)[d];

                if (!(low <= high))
                    fail_msg("day %zu of future %zu: low %.2f, high %.2f; SEED=%" PRIu64, d, future, low, high, seed);
                met += !(low < high);
            }
        for (int32_t day = TODAY - 60; day < TODAY; day++) {
            const struct db_date date = { day };
            const size_t at = (size_t) (day - db_weather_first(weather).day);

            for (enum db_figure f = DB_FIGURE_LOW; f <= DB_FIGURE_HIGH; f++)
                if (db_weather_origin(weather, date, DB_FIGURE_LOW) == DB_ORIGIN_OBSERVED &&
                    db_weather_origin(weather, date, DB_FIGURE_HIGH) == DB_ORIGIN_OBSERVED)
                    assert_true(db_weather_figures(weather, 0, f)[at] >= db_days_figure(&records.observed, date, f) &&
                                db_weather_figures(weather, 0, f)[at] <= db_days_figure(&records.observed, date, f));
        }

        struct db_site as_it_is = site;
        as_it_is.nights_known = false;
        as_it_is.colder_nights = 0;
        bare = told;
        memset(bare.bias, 0, sizeof bare.bias);
        estate.garden = db_garden_new(arena, &as_it_is);
        estate.told = &bare;
        lay_out(&estate, arena, &plain);
        bare.bias[0].days = bare.bias[1].days = 13; /* not enough */
        as_it_is.nights_known = true;               /* 0 K */
        estate.garden = db_garden_new(arena, &as_it_is);
        lay_out(&estate, arena, &weather);
        for (size_t future = 0; future < db_weather_futures(plain); future++)
            for (enum db_figure f = DB_FIGURE_LOW; f < (enum db_figure) DB_FIGURE_COUNT; f++)
                assert_memory_equal(db_weather_figures(plain, future, f), db_weather_figures(weather, future, f),
                                    db_weather_days(plain) * sizeof(double));
        (void) db_arena_free(arena);
    }
    assert_true(met > 0); /* some were put together */
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(bounds_and_calm),
        cmocka_unit_test(weather_that_can_be),
    };
    const char *said = getenv("SEED");

    seed = said && *said ? strtoull(said, NULL, 10) : (uint64_t) time(NULL);
    state = seed;
    print_message("seed %" PRIu64 "\n", seed);
    return cmocka_run_group_tests_name("bias", tests, NULL, NULL);
}
