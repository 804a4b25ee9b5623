/* What must hold for the water of every ground and every weather: random, each from a printed seed (SEED=n repeats one). */
#include "engine/water.h"
#include "engine/jobs.h"

#include <inttypes.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "kit/plot.h"
#include "kit/rules.h"
#include "unit/tables.h"

#include "base/banned.h"

enum { DAYS = 400, SEASONS = 80, YEARS = 200 };

static uint64_t seed;

static uint64_t next(uint64_t *state) /* splitmix64, after Steele, Lea & Flood 2014 */
{
    uint64_t z = *state += UINT64_C(0x9e3779b97f4a7c15);

    z = (z ^ z >> 30) * UINT64_C(0xbf58476d1ce4e5b9);
    z = (z ^ z >> 27) * UINT64_C(0x94d049bb133111eb);
    return z ^ z >> 31;
}

static int between(uint64_t *state, int low, int high)
{
    return low + (int) (next(state) % (uint64_t) (high - low + 1));
}

static double real(uint64_t *state, double low, double high)
{
    return low + (high - low) * (double) (next(state) >> 11) / 9007199254740992.0;
}

static uint64_t given_seed(void)
{
    const char *given = getenv("SEED");

    seed = given ? strtoull(given, NULL, 10) : UINT64_C(20260614);
    print_message("seed %" PRIu64 "\n", seed);
    return seed;
}

/* -- the equations ------------------------------------------------------------------------------------------------- */

static void books_stay_within_their_bounds(void **state)
{
    uint64_t draws = given_seed();

    (void) state;
    for (int i = 0; i < YEARS; i++) {
        const struct db_holding ground = db_texture_holding((enum db_texture) between(&draws, 0, DB_TEXTURE_COUNT - 1));
        const double available = real(&draws, 5, 200), ready = available * real(&draws, 0.1, 0.8);
        double top = 0, root = 0;

        for (int d = 0; d < DAYS; d++) {
            const double rain = next(&draws) % 4 ? 0 : real(&draws, 0, 40), use = real(&draws, 0, 12);
            const double before = top > rain ? top - rain : 0, gone = db_topsoil_day(&ground, rain, use, &top);

            db_root_zone_day(available, ready, rain, gone, use, &root);
            if (!(gone >= 0 && gone <= use + 1e-9 && fabs(before + gone - top) < 1e-9))
                fail_msg("seed %" PRIu64 ": %g mm evaporate where wet ground loses %g", seed, gone, use);
            if (!(top >= 0 && top <= ground.total && root >= 0 && root <= available))
                fail_msg("seed %" PRIu64 ": topsoil short of %g of %g, roots of %g of %g mm", seed, top, ground.total,
                         root, available);
        }
    }
}

/* Never drier for a rain more, on days whose loss is no more than what lies between REW and TEW (no day of the record loses
 * more of loam). */
static void rain_never_dries(void **state)
{
    uint64_t draws = given_seed();
    const struct db_holding loam = db_texture_holding(DB_TEXTURE_LOAM);

    (void) state;
    for (int i = 0; i < YEARS; i++) {
        double top[2] = { 0 }, root[2] = { 0 };

        for (int d = 0; d < DAYS; d++) {
            const double rain = next(&draws) % 4 ? 0 : real(&draws, 0, 20), use = real(&draws, 0, 9);
            const double more = next(&draws) % 9 ? 0 : real(&draws, 0, 20);

            for (int k = 0; k < 2; k++) {
                const double gone = db_topsoil_day(&loam, rain + (k ? more : 0), use / 2, &top[k]);

                db_root_zone_day(80, 30, rain + (k ? more : 0), gone, use / 2, &root[k]);
            }
            if (top[1] > top[0] + 1e-9)
                fail_msg("seed %" PRIu64 ": the topsoil is drier for more rain", seed);
        }
    }
}

/* -- whole lives --------------------------------------------------------------------------------------------------- */

/* One sowing in the recorded weather of Seattle. */
struct season {
    const char *crop;
    enum db_way way;
    enum db_texture texture;
    enum db_cover cover;
    struct db_date sown;
    uint64_t wetter; /* 0: the weather as recorded; else more rain, drawn from this */
};

static struct season draw_season(uint64_t *draws)
{
    static const char *const crops[] = { "carrot", "lettuce", "kale", "rocket" };
    static const enum db_way ways[] = { DB_WAY_DRILL, DB_WAY_PLUGS, DB_WAY_POT, DB_WAY_DRILL };
    static const enum db_texture grounds[] = { DB_TEXTURE_LOAM, DB_TEXTURE_SANDY_LOAM, DB_TEXTURE_CLAY };
    static const enum db_cover covers[] = { DB_COVER_OPEN, DB_COVER_FLEECE };
    /* One after the other: in one expression each compiler would draw in an order of its own. */
    const int crop = between(draws, 0, 3);
    const enum db_texture texture = grounds[next(draws) % 3];
    const enum db_cover cover = covers[next(draws) % 2];
    const struct db_date march = on(2012 + between(draws, 0, 3), 3, 1);

    return (struct season){ .crop = crops[crop],
                            .way = ways[crop],
                            .texture = texture,
                            .cover = cover,
                            .sown = db_date_add(march, between(draws, 0, 120)) };
}

/* What the rules would see at the end of that season. */
static struct plot build_season(const struct season *s, const struct db_crop_facts *crop)
{
    const struct record *record = seattle();
    struct plot plot = plot_new(47.45, -122.3);
    const struct db_bed *bench = plot_bed(&plot, "bench", DB_COVER_INDOORS), *kept = NULL;
    const struct db_bed bed = { .id = "bed", .name = "bed", .cover = s->cover, .warmth = NAN, .texture = s->texture };
    uint64_t wet = s->wetter;

    plot_rules(&plot, "[look]\njob = Look\nduring = sown .. up\n");
    plot_weather(&plot, record->first, RECORD_DAYS);
    for (int32_t i = 0; i < RECORD_DAYS; i++) {
        const double more = s->wetter && next(&wet) % 12 == 0 ? real(&wet, 1, 25) : 0;

        plot_day(&plot, db_date_add(record->first, i), record->low[i], record->high[i], record->rain[i] + more);
    }
    assert_int_equal(db_garden_add_bed(plot.garden, &bed, &kept), DB_OK);
    plot_sow(&plot, (struct db_sowing){ .id = "a",
                                        .crop = crop,
                                        .way = s->way,
                                        .bed = s->way == DB_WAY_DRILL ? kept : bench,
                                        .into = kept,
                                        .planned = DB_NO_DATE,
                                        .sown = s->sown,
                                        .row = 3000,
                                        .plants = 12 });
    plot.view.today =
        db_date_add(s->sown, 160).day < on(2015, 12, 31).day ? db_date_add(s->sown, 160) : on(2015, 12, 31);
    return plot;
}

/* How often it was taken to be watered; *ret_first is the first day on which it was due. A rain on the day after fills the ground
 * anew and has the last word on since when it is full, so what counts is that more has come back than it rained. */
static int waterings(struct plot *plot, int32_t *ret_first)
{
    const double *rain = db_weather_figures(plot->view.weather, 0, DB_FIGURE_RAIN);
    const int32_t begin = db_weather_first(plot->view.weather).day;
    const struct db_jobs *jobs = NULL;
    int count = 0;

    plot_close_diary(plot);
    assert_int_equal(db_garden_evaluate(&plot->view, plot->arena, &jobs), DB_OK);

    const struct db_moisture *m = db_pump_run(jobs->pump, 0);

    *ret_first = INT32_MAX;
    for (size_t d = 1; d < m->count && m->first + (int32_t) d <= plot->view.today.day; d++) {
        const struct db_wet_day *day = &m->days[d], *before = day - 1;
        const int32_t date = m->first + (int32_t) d;

        count += (day->filled == DB_FILLED_ASKED && day->full == date - 1) ||
                 day->dry < before->dry - rain[date - begin] - 0.01;
        if (day->dry >= day->limit && *ret_first == INT32_MAX)
            *ret_first = date;
    }
    return count;
}

/* A season as recorded, and with more rain on some days: it is not due sooner, and not more often. Often is counted with one
 * in hand: a rain moves all that comes after it, the days for which a job stands open before it is taken as done, and the
 * day on which a plant's limit changes. */
static void more_rain_is_not_due_sooner(void **state)
{
    const uint64_t base = given_seed();
    int most = 0, fewer = 0, more = 0, recorded = 0, wetter = 0;

    (void) state;
    for (int i = 0; i < SEASONS; i++) {
        uint64_t draws = seed = base + (uint64_t) i;
        struct season s = draw_season(&draws);
        const struct db_crop_facts crop = kit_crop(s.crop);
        struct plot dry = build_season(&s, &crop);

        s.wetter = next(&draws) | 1;
        struct plot wet = build_season(&s, &crop);
        int32_t first[2];
        const int as_recorded = waterings(&dry, &first[0]), with_more = waterings(&wet, &first[1]);

        if (first[1] < first[0])
            fail_msg("seed %" PRIu64 ": %s is due %d days sooner with more rain", seed, s.crop, first[0] - first[1]);
        fewer += with_more < as_recorded;
        more += with_more > as_recorded;
        recorded += as_recorded;
        wetter += with_more;
        if (with_more > as_recorded + 1)
            fail_msg("seed %" PRIu64 ": %s is watered %d times, and %d times with more rain", seed, s.crop, as_recorded,
                     with_more);
        most = as_recorded > most ? as_recorded : most;
        plot_free(&dry);
        plot_free(&wet);
    }
    print_message("up to %d waterings in a season; fewer in %d of %d seasons with more rain, one more in %d\n", most,
                  fewer, SEASONS, more);
    assert_true(most > 5 && fewer > 10 * more && wetter < recorded);
}

static void check_days(const struct db_moisture *m)
{
    for (size_t d = 0; d < m->count; d++) {
        const struct db_wet_day *w = &m->days[d];
        const int32_t day = m->first + (int32_t) d;

        if (!(isnan(w->dry) || (w->dry >= 0 && w->dry <= 250)) || !(isnan(w->limit) || w->limit > 0) ||
            !(isnan(w->water) || w->water >= 0))
            fail_msg("seed %" PRIu64 ": short of %g mm, at risk from %g, wants %g litres", seed, w->dry, w->limit,
                     w->water);
        if (w->filled != DB_FILLED_UNKNOWN && (w->full > day || w->full < m->first - 1))
            fail_msg("seed %" PRIu64 ": full on day %d, seen from %d", seed, w->full, day);
        if (w->filled == DB_FILLED_WATERED && w->full == day)
            fail_msg("seed %" PRIu64 ": it drinks before it is watered", seed);
    }
}

/* With notes on any days, on any ground, under any cover. */
static void days_of_any_season_make_sense(void **state)
{
    const uint64_t base = given_seed();

    (void) state;
    for (int i = 0; i < SEASONS; i++) {
        uint64_t draws = seed = base + (uint64_t) i;
        struct season s = draw_season(&draws);
        const struct db_crop_facts crop = kit_crop(s.crop);
        const struct db_jobs *jobs = NULL;

        s.texture = (enum db_texture) between(&draws, 0, DB_TEXTURE_COUNT - 1);
        s.cover = (enum db_cover) between(&draws, 0, DB_COVER_TUNNEL);
        s.wetter = next(&draws) % 2 ? next(&draws) : 0;
        struct plot plot = build_season(&s, &crop);

        for (int n = between(&draws, 0, 40); n > 0; n--)
            plot_note(&plot, "a", "watered", db_date_add(s.sown, between(&draws, -5, 170)));
        plot_close_diary(&plot);
        assert_int_equal(db_garden_evaluate(&plot.view, plot.arena, &jobs), DB_OK);
        check_days(db_pump_run(jobs->pump, 0));
        plot_free(&plot);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(books_stay_within_their_bounds),
        cmocka_unit_test(rain_never_dries),
        cmocka_unit_test(more_rain_is_not_due_sooner),
        cmocka_unit_test(days_of_any_season_make_sense),
    };

    return cmocka_run_group_tests_name("water", tests, NULL, NULL);
}
