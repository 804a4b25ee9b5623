/* Past years as futures, for random gardens: the dates of an estimate are the pool of what each year alone would give. Each
 * year is worked out apart, as a garden that has that one future and no other, and pooled here by the definitions of
 * docs/models.md with quantiles of type 7 (Hyndman & Fan 1996) written out again. SEED=n repeats one. */
#include "dewbell/job.h"

#include <inttypes.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "kit/sketch.h"

#include "base/banned.h"

enum { MOST_YEARS = 14 };
static int pools, missing, spread;

static int rising(const void *a, const void *b)
{
    const double x = *(const double *) a, y = *(const double *) b;

    return (x > y) - (x < y);
}

/* Type 7; what never comes is INFINITY, and so is a quantile that has a part of it. */
static double type_seven(const double *sorted, int count, double p)
{
    const double h = (count - 1) * p;
    const int below = (int) floor(h);

    if (h <= below)
        return sorted[below];
    return isinf(sorted[below + 1]) ? (double) INFINITY
                                    : sorted[below] + (h - below) * (sorted[below + 1] - sorted[below]);
}

static double number(struct db_date date)
{
    return db_date_known(date) ? (double) date.day : (double) INFINITY;
}

/* `alone`: the stage in each year by itself. */
static void check_turn(const struct sketch *s, const char *id, const char *stage, const struct db_turn *turn,
                       const struct db_turn *alone)
{
    double likely[MOST_YEARS] = { 0 }, all[3 * MOST_YEARS] = { 0 }, median, early, late, last = 0;

    for (int y = 0; y < s->years; y++) {
        likely[y] = number(alone[y].likely);
        all[3 * y] = number(alone[y].early);
        all[3 * y + 1] = likely[y];
        all[3 * y + 2] = number(alone[y].late);
    }
    qsort(likely, (size_t) s->years, sizeof *likely, rising);
    qsort(all, 3 * (size_t) s->years, sizeof *all, rising);
    median = type_seven(likely, s->years, 0.5);
    if (isinf(median)) {
        missing++;
        if (turn->how != DB_UNKNOWN)
            fail_msg("seed %" PRIu64 ": %s of %s comes in fewer than half of the years", seed, stage, id);
        return;
    }
    for (int i = 0; i < 3 * s->years; i++)
        last = isinf(all[i]) ? last : all[i];
    early = floor(type_seven(all, 3 * s->years, 0.1));
    late = type_seven(all, 3 * s->years, 0.9);
    late = isinf(late) ? last : ceil(late);
    if (turn->how != DB_ESTIMATED || turn->likely.day != (int32_t) lround(median) ||
        turn->early.day != (int32_t) early || turn->late.day != (int32_t) late)
        fail_msg("seed %" PRIu64 ": %s of %s: %g %g %g expected, %d %d %d worked out", seed, stage, id, early, median,
                 late, turn->early.day, turn->likely.day, turn->late.day);
    pools++;
    spread += likely[0] < likely[s->years - 1];
}

static bool noted_after(const struct db_life *life, int stage)
{
    for (int k = stage + 1; k < DB_STAGE_COUNT; k++) /* a plug may fill after its hardening began */
        if (life->stage[k].how == DB_NOTED && !(stage == DB_STAGE_ROOTED && k == DB_STAGE_HARDENING))
            return true;
    return false;
}

static void check_pool(struct sketch *s)
{
    struct plot whole, alone[MOST_YEARS];
    const struct db_jobs *jobs, *apart[MOST_YEARS];

    if (!s->years)
        return;
    whole = build(s, NULL);
    jobs = evaluate(&whole);
    for (int y = 0; y < s->years; y++) {
        struct sketch one = *s;

        one.only = y + 1;
        alone[y] = build(&one, NULL);
        apart[y] = evaluate(&alone[y]);
    }
    for (size_t i = 0; i < db_garden_sowings(whole.garden); i++)
        for (int k = DB_STAGE_UP; k <= DB_STAGE_COUNT; k++) { /* the last: what would be ready but for manure */
            const struct db_life *life = db_jobs_life(jobs, i);
            const bool ripe = k == DB_STAGE_COUNT;
            struct db_turn turns[MOST_YEARS];

            for (int y = 0; y < s->years; y++)
                turns[y] = ripe ? db_jobs_life(apart[y], i)->ripe : db_jobs_life(apart[y], i)->stage[k];
            if (ripe) {
                if (life->pooled >> DB_STAGE_CROPPING & 1)
                    check_turn(s, s->sowing[i].id, "ripe", &life->ripe, turns);
            } else if (life->pooled >> k & 1)
                check_turn(s, s->sowing[i].id, db_stage_word((enum db_stage) k), &life->stage[k], turns);
            else if (!noted_after(life, k))
                for (int y = 0; y < s->years; y++) /* nothing to come can change it */
                    if (turns[y].how != life->stage[k].how || turns[y].likely.day != life->stage[k].likely.day ||
                        turns[y].early.day != life->stage[k].early.day || turns[y].late.day != life->stage[k].late.day)
                        fail_msg("seed %" PRIu64 ": %s of %s differs between years and is not pooled", seed,
                                 db_stage_word((enum db_stage) k), s->sowing[i].id);
        }
    for (int y = 0; y < s->years; y++)
        plot_free(&alone[y]);
    plot_free(&whole);
}

static void a_date_is_the_pool_of_the_years(void **state)
{
    (void) state;
    each_garden(80, check_pool);
    print_message("%d estimates pooled, %d of years that differ, %d without a date\n", pools, spread, missing);
    assert_true(getenv("SEED") || (pools > 1000 && spread > 400 && missing > 20));
}

/* What a rule reads of the weather beyond the known days is the climate's averages, whatever the years are. */
static void check_figures(struct sketch *s)
{
    struct sketch without = *s;

    if (!s->years)
        return;
    without.years = 0;
    struct plot one = build(s, NULL), other = build(&without, NULL);
    const size_t days = db_weather_days(one.weather);

    for (int f = 0; f < DB_FIGURE_COUNT; f++)
        assert_memory_equal(db_weather_figures(one.weather, 0, (enum db_figure) f),
                            db_weather_figures(other.weather, 0, (enum db_figure) f), days * sizeof(double));
    plot_free(&one);
    plot_free(&other);
}

static void rules_read_the_averages(void **state)
{
    (void) state;
    each_garden(20, check_figures);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_date_is_the_pool_of_the_years),
        cmocka_unit_test(rules_read_the_averages),
    };

    return cmocka_run_group_tests(tests, read_record, NULL);
}
