/* Frost dates of random places, records and plans: in order, in their season, the plan's day where it gives one; and no tender
 * plant goes out under the open sky before the last frost, nor crops there after the first killing one of its autumn. Rules of
 * ours, written out in the header of engine/frosts.h and engine/tender.h. SEED=n repeats a run. */
#include "engine/jobs.h"
#include "engine/tender.h"

#include <inttypes.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <time.h>

#include <cmocka.h>

#include "kit/dice.h"
#include "kit/plot.h"
#include "kit/rules.h"

#include "base/banned.h"

enum { RUNS = 160, BACK = 420, AHEAD = 430, SOWINGS = 8, YEARS = 34, PAST = YEARS * 366 };

static double past_low[PAST];
static size_t held, free_ones, planned_days, without;

/* A place's low on a day: a wave with the coldest night in the middle of its winter, and noise. */
struct place {
    double latitude, mean, swing;
};

static double low_on(const struct place *place, struct db_date day)
{
    const int coldest = place->latitude < 0 ? 200 : 20;

    return place->mean - place->swing * cos((db_date_day_of_year(day) - coldest) / 365.25 * 6.283185307) +
           between(-4, 4);
}

static struct db_season_day random_day(bool south, bool last)
{
    const int month = last ? 3 + below(4) : 9 + below(4); /* March to June, September to December */

    return (struct db_season_day){ south ? (month + 5) % 12 + 1 : month, 1 + below(28) };
}

static void check_odds(const struct db_jobs *jobs, size_t sowing, const struct db_site *site)
{
    struct db_scope scope;

    db_scope_fill(jobs, sowing, jobs->view.today, &scope);
    for (int which = 0; which < 2; which++) {
        const double *days = scope.own[which ? DB_OWN_FIRST_FROST : DB_OWN_LAST_FROST];

        without += isnan(days[1]) != 0;
        if ((days[0] > days[1]) || (days[1] > days[2]) || (days[0] > days[2]))
            fail_msg("seed %" PRIu64 ": frost dates are not in order", seed);
        if (site->frosts[which].month && !isnan(days[1])) {
            int month, day;

            planned_days++;
            db_date_parts((struct db_date){ (int32_t) days[1] }, NULL, &month, &day);
            if (month != site->frosts[which].month || day != site->frosts[which].day)
                fail_msg("seed %" PRIu64 ": not the plan's day", seed);
        }
    }
}

static void check_life(const struct db_jobs *jobs, size_t sowing)
{
    const struct db_sowing *s = db_garden_sowing(jobs->view.garden, sowing);
    const struct db_life *life = db_jobs_life(jobs, sowing);
    const struct db_date planted = life->stage[DB_STAGE_PLANTED].likely, crops = life->stage[DB_STAGE_CROPPING].likely,
                         over = life->stage[DB_STAGE_CLEARED].likely;
    const struct db_date hold = db_frost_odds_date(&jobs->clocks.frost, DB_FROST_LAST, planted, 2);
    const struct db_date frost = db_frost_odds_date(&jobs->clocks.frost, DB_FROST_FIRST, planted, 0);
    const double *low = jobs->clocks.figures[DB_FIGURE_LOW];
    const int32_t first = jobs->clocks.first.day;
    bool struck = false;

    if (!db_date_known(planted))
        return;
    if (s->into->cover != DB_COVER_OPEN) {
        free_ones += db_date_known(hold) && planted.day < hold.day;
        return;
    }
    if (db_date_known(hold) && planted.day < hold.day)
        fail_msg("seed %" PRIu64 ": %s goes out %d days before the last frost", seed, s->id, hold.day - planted.day);
    if (db_date_known(hold) && db_date_known(frost) && planted.day >= frost.day)
        fail_msg("seed %" PRIu64 ": %s goes out when the first frost is due", seed, s->id);
    held += db_date_known(hold) && planted.day == hold.day;
    for (int32_t day = planted.day; db_date_known(crops) && day < over.day && day - first < (int32_t) jobs->clocks.days;
         day++) {
        const struct db_date date = { day };
        /* past midsummer of its frost year: 24 July, 24 January */
        const bool autumn = day >= db_frost_date(db_frost_year(date, jobs->clocks.frost.south),
                                                 jobs->clocks.frost.south, jobs->clocks.frost.south ? 208 : 205)
                                       .day;

        struck = struck || (autumn && low[day - first] <= DB_KILLING_FROST);
    }
    if (struck)
        fail_msg("seed %" PRIu64 ": %s is picked after it was killed", seed, s->id);
}

static void play(void)
{
    static const char rules[] = "[x]\njob = X\nduring = planted .. planted + 9 days\n";
    const bool south = below(2);
    const struct place place = { (south ? -1 : 1) * between(25, 58), between(2, 13), between(3, 11) };
    const struct db_date today = db_date_add(on(2012, 1, 1), below(3000)), first = db_date_add(today, -BACK);
    const size_t years = (size_t) below(YEARS);
    struct plot plot = plot_new(place.latitude, 0);
    struct db_site *site = (struct db_site *) (uintptr_t) db_garden_site(plot.garden);
    struct db_crop_facts tomato = kit_crop("tomato");
    const struct db_bed *bench = plot_bed(&plot, "bench", DB_COVER_INDOORS),
                        *north = plot_bed(&plot, "north", DB_COVER_OPEN),
                        *frame = plot_bed(&plot, "frame", DB_COVER_FRAME);
    const struct db_date past = db_date_add(today, -(int32_t) (years * 365) - below(300));
    const struct db_jobs *jobs = NULL;
    char ids[SOWINGS][8];

    crop_amount(&tomato, DB_FACT_FROST_LIMIT, 0, 0);
    crop_amount(&tomato, DB_FACT_HARDEN_LOW, 3, 3);
    tomato.text[DB_FACT_HARDINESS] = "frost-tender";
    for (int which = 0; which < 2; which++)
        if (below(3) == 0)
            site->frosts[which] = random_day(south, which == DB_FROST_LAST);
    plot_weather(&plot, first, BACK + AHEAD);
    for (int i = 0; i < BACK + AHEAD; i++) {
        const struct db_date day = db_date_add(first, i);
        const enum db_origin origin = i <= BACK + 7 ? DB_ORIGIN_OBSERVED : DB_ORIGIN_CLIMATE;
        const double low = low_on(&place, day);

        db_weather_put(plot.weather, day, DB_FIGURE_LOW, origin, low);
        db_weather_put(plot.weather, day, DB_FIGURE_HIGH, origin, low + between(6, 14));
        db_weather_put(plot.weather, day, DB_FIGURE_RAIN, origin, 2);
    }
    for (size_t i = 0; i < years * 365; i++)
        past_low[i] = below(400) == 0 ? (double) NAN : low_on(&place, db_date_add(past, (int32_t) i));
    if (years)
        db_weather_keep_lows(plot.weather, past, years * 365, past_low);
    plot.view.today = today;
    plot_rules(&plot, rules);
    for (int s = 0; s < SOWINGS; s++) {
        (void) snprintf(ids[s], sizeof ids[s], "s%d", s);
        (void) plot_sow(&plot, (struct db_sowing){ .id = ids[s],
                                                   .crop = &tomato,
                                                   .bed = bench,
                                                   .into = s % 3 ? north : frame,
                                                   .way = DB_WAY_POT,
                                                   .planned = db_date_add(today, below(360) - 120),
                                                   .sown = DB_NO_DATE });
    }
    plot_close_diary(&plot);
    assert_int_equal(db_garden_evaluate(&plot.view, plot.arena, &jobs), DB_OK);
    for (size_t s = 0; s < SOWINGS; s++) {
        check_odds(jobs, s, site);
        check_life(jobs, s);
    }
    plot_free(&plot);
}

static void frost_is_heeded_everywhere(void **unused)
{
    const char *given = getenv("SEED");

    (void) unused;
    seed = given ? strtoull(given, NULL, 10) : (uint64_t) time(NULL);
    print_message("seed %" PRIu64 "\n", seed);
    state = seed;
    for (int run = 0; run < RUNS; run++)
        play();
    print_message(
        "held until the last frost: %zu; out sooner under a frame: %zu; dates of plans: %zu; dates not known: %zu\n",
        held, free_ones, planned_days, without);
    assert_true(given || (held >= 20 && free_ones >= 20 && planned_days >= 100 && without >= 20));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(frost_is_heeded_everywhere),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
