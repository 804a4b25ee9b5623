/* Random gardens: described first, then built, so that one can be built in another order, moved, or with one thing more.
 * Include after cmocka.h, in one file of a program. */
#ifndef DB_TESTS_KIT_SKETCH_H
#define DB_TESTS_KIT_SKETCH_H

#include "dewbell/almanac.h"
#include "dewbell/job.h"

#include "kit/plot.h"
#include "kit/rules.h"

#include <inttypes.h>

enum { SOWINGS = 24, NOTES = 30, BACK = 480, AHEAD = 430, FORECAST = 7, LINE = 160 };

static const char *const all_rules =
    "[sow]\njob = Sow {crop} in {bed}\nduring = planned .. planned + 14 days\nrecords = sown\n"
    "[look]\njob = Look for {crop}\nduring = early(up) .. late(up)\nevery = 1 days\nrecords = up\n"
    "[thin]\njob = Thin {crop}\nfor = raised in drill\nduring = up + 10 days .. up + 24 days\nbest = up + 14 days\n"
    "prefer = sum(rain, 2 days back) > 3 mm\nrecords = thinned\neffort = 10 min\n"
    "[shade]\njob = Shade {crop}\nduring = sown .. up\nwhile = max(soil_high, 2 days ahead) > crop.hot_limit\n"
    "until = soil_high < crop.hot_limit - 4 K\n"
    "[prick-out]\njob = Prick out {crop}\nduring = pricked_out .. pricked_out + 7 days\nrecords = pricked_out\n"
    "[harden]\njob = Harden off {crop}\nduring = hardening .. hardening + 9 days\nhold = low < 2 °C\n"
    "records = hardening\n"
    "[plant-out]\njob = Plant {crop} out in {into}\nduring = planted .. planted + 14 days\n"
    "hold = min(low, 3 days ahead) < 3 °C\nrecords = planted\n"
    "[fleece]\njob = Cover {crop}\nfor = outdoors\nduring = up .. cleared\nwhile = low_tonight < 2 °C\n"
    "until = low_tonight > 4 °C\nrecords = covered\n"
    "[water]\njob = Water {crop}, {water}\nduring = sown + 1 day .. cleared\nwhile = dry >= dry_limit and "
    "(rain_tomorrow < dry * 0.7 or dry >= dry_limit * 1.25)\nuntil = dry < dry_limit * 0.75\nevery = 1 day\n"
    "records = watered\nhow = It has lost {dry}. Rain comes on {next_rain}.\n"
    "[pick]\njob = Pick {crop}\nduring = cropping .. cleared\nevery = crop.pick_every\nrecords = picked\n"
    "[lift]\njob = Lift {crop}\nfor = not (crop.pick_every is known)\nduring = cropping .. cleared\nrecords = "
    "cleared\n";

/* The part of them whose dates hang on stages alone. */
static const char *const stage_rules =
    "[sow]\njob = Sow {crop} in {bed}\nduring = planned .. planned + 14 days\nrecords = sown\n"
    "[thin]\njob = Thin {crop}\nfor = raised in drill\nduring = up + 10 days .. up + 24 days\nbest = up + 14 days\n"
    "[prick-out]\njob = Prick out {crop}\nduring = pricked_out .. pricked_out + 7 days\n"
    "[plant-out]\njob = Plant {crop} out in {into}\nduring = planted .. planted + 14 days\n"
    "[lift]\njob = Lift {crop}\nduring = cropping .. cleared\n";

static const char *const crop_names[] = { "carrot", "lettuce", "kale", "tomato", "rocket", "garlic" };
enum { CROPS = 6 };
static const enum db_way crop_ways[CROPS] = { DB_WAY_DRILL, DB_WAY_PLUGS, DB_WAY_POT,
                                              DB_WAY_POT,   DB_WAY_DRILL, DB_WAY_SETS };

/* A garden as it is described, before it is built: it can be built in another order, moved, or with one thing more. */
struct sketch {
    double latitude, warmer;
    bool noisy, recorded; /* recorded: Seattle's weather of 2012 to 2015 up to what is known */
    struct {
        char id[12];
        int crop, bed, day; /* day of sowing, from today */
        bool done;
    } sowing[SOWINGS + 1];
    struct {
        int sowing, day;
        const char *word;
    } note[NOTES + 1];
    int sowings, notes;
    bool manured; /* the north bed, on that day from today */
    int manured_day;
    int years; /* futures beside the climate's averages, each as restless as the days that are known */
    int only;  /* the garden has this one in place of the averages, and no others */
    struct db_date today;
    const char *rules;
    uint64_t weather_seed, draws; /* draws: for what a check draws beyond the garden */
};

static uint64_t seed;

static inline uint64_t next(uint64_t *state) /* splitmix64, after Steele, Lea & Flood 2014 */
{
    uint64_t z = *state += UINT64_C(0x9e3779b97f4a7c15);

    z = (z ^ z >> 30) * UINT64_C(0xbf58476d1ce4e5b9);
    z = (z ^ z >> 27) * UINT64_C(0x94d049bb133111eb);
    return z ^ z >> 31;
}

static inline int between(uint64_t *state, int low, int high)
{
    return low + (int) (next(state) % (uint64_t) (high - low + 1));
}

static inline double real(uint64_t *state, double low, double high)
{
    return low + (high - low) * (double) (next(state) >> 11) / 9007199254740992.0;
}

static inline struct sketch draw(uint64_t *state)
{
    static const char *const words[] = { "up",      "thinned", "pricked_out", "planted",
                                         "covered", "picked",  "cropping",    "watered" };
    struct sketch s = { .latitude = real(state, 25, 60) * (next(state) % 4 ? 1 : -1),
                        .noisy = true,
                        .sowings = between(state, 6, SOWINGS),
                        .notes = between(state, 0, NOTES),
                        .today = { on(2015, 1, 1).day + between(state, 0, 364) },
                        .rules = all_rules,
                        .weather_seed = next(state) };

    s.years = next(state) % 2 ? 0 : between(state, 2, 14);

    if (next(state) % 3 == 0) { /* enough of the record lies behind every such day, and a week ahead of it */
        s.recorded = true;
        s.latitude = 47.45;
        s.today.day = on(2013, 5, 1).day + between(state, 0, 950);
    }
    for (int i = 0; i < s.sowings; i++) {
        (void) snprintf(s.sowing[i].id, sizeof s.sowing[i].id, "s%02d", i);
        s.sowing[i].crop = between(state, 0, CROPS - 1);
        s.sowing[i].bed = between(state, 0, 2);
        s.sowing[i].day = between(state, -250, 150);
        s.sowing[i].done = s.sowing[i].day < 0 && next(state) % 4;
    }
    for (int i = 0; i < s.notes; i++) {
        s.note[i].sowing = between(state, 0, s.sowings - 1);
        s.note[i].day = between(state, -120, 5);
        s.note[i].word = words[next(state) % (sizeof words / sizeof words[0])];
    }
    s.manured = next(state) % 3 == 0;
    s.manured_day = between(state, -220, 120);
    return s;
}

/* The recorded days: tests/data/README.md says where they come from. */
enum { RECORDED = 1461 };
static double record_low[RECORDED], record_high[RECORDED], record_rain[RECORDED];

static inline int read_record(void **state)
{
    FILE *file = fopen("tests/data/seattle-weather.csv", "r");
    char line[128];
    int days = 0;

    (void) state;
    assert_non_null(file);
    assert_non_null(fgets(line, sizeof line, file));
    while (days < RECORDED && fgets(line, sizeof line, file)) {
        double *const figures[] = { &record_rain[days], &record_high[days], &record_low[days] };
        char *at = line + strcspn(line, ",");

        for (size_t f = 0; f < 3; f++) {
            assert_int_equal(*at, ',');
            *figures[f] = strtod(at + 1, &at);
        }
        days++;
    }
    assert_int_equal(days, RECORDED);
    return fclose(file);
}

/* A future's figures: those of the averages, with weather of its own on top. */
static inline void put_year(struct plot *plot, const struct sketch *s, size_t future, int year)
{
    uint64_t state = s->weather_seed ^ (uint64_t) year * UINT64_C(0x9e3779b97f4a7c15);
    const double warmer = real(&state, -2, 2);
    double drift = 0;

    for (int i = FORECAST + 1; i < AHEAD; i++) {
        const struct db_date day = db_date_add(s->today, i);
        const size_t at = (size_t) (BACK + i);
        const double low = db_weather_figures(plot->weather, 0, DB_FIGURE_LOW)[at],
                     high = db_weather_figures(plot->weather, 0, DB_FIGURE_HIGH)[at];

        drift = 0.7 * drift + real(&state, -3, 3);
        db_weather_put_future(plot->weather, future, day, DB_FIGURE_LOW, low + warmer + drift);
        db_weather_put_future(plot->weather, future, day, DB_FIGURE_HIGH, high + warmer + drift);
    }
}

/* A year's wave with its warmest day a month after the solstice, and weather on top of it where the sketch asks for it. */
static inline void build_weather(struct plot *plot, const struct sketch *s)
{
    uint64_t state = s->weather_seed;
    const double mean = real(&state, 7, 13) + s->warmer, wave = real(&state, 5, 9), range = real(&state, 6, 12);
    double drift = 0;

    plot->weather =
        db_weather_new(plot->arena, db_date_add(s->today, -BACK), BACK + AHEAD, 1 + (s->only ? 0 : (size_t) s->years));
    assert_non_null(plot->weather);
    plot->view.weather = plot->weather;
    for (int i = -BACK; i < AHEAD; i++) {
        const struct db_date day = db_date_add(s->today, i);
        const double year = (day.day - on(2014, 7, 21).day) / 365.2425 * 2 * 3.14159265358979323846;
        const double wet = real(&state, 0, 1), push = real(&state, -3, 3);
        const bool known = i <= FORECAST;
        const enum db_origin origin = i < 0 ? DB_ORIGIN_OBSERVED : known ? DB_ORIGIN_FORECAST : DB_ORIGIN_CLIMATE;

        drift = 0.7 * drift + push;
        const double m = mean + wave * cos(year) * (s->latitude < 0 ? -1 : 1) + (s->noisy && known ? drift : 0);
        const double rain = known ? s->noisy && wet < 0.3 ? 20 * wet : 0 : 2;
        const int at = day.day - on(2012, 1, 1).day;
        const bool record = s->recorded && known;

        assert_true(!record || (at >= 0 && at < RECORDED));
        db_weather_put(plot->weather, day, DB_FIGURE_LOW, origin, record ? record_low[at] + s->warmer : m - range / 2);
        db_weather_put(plot->weather, day, DB_FIGURE_HIGH, origin,
                       record ? record_high[at] + s->warmer : m + range / 2);
        db_weather_put(plot->weather, day, DB_FIGURE_RAIN, origin, record ? record_rain[at] : rain);
    }
    if (s->only)
        put_year(plot, s, 0, s->only);
    for (int year = 1; !s->only && year <= s->years; year++)
        put_year(plot, s, (size_t) year, year);
}

static inline const struct db_bed *build_north(struct plot *plot, const struct sketch *s)
{
    struct db_date *manured = db_arena_get(plot->arena, 1, sizeof *manured);
    const struct db_bed *kept = NULL;

    assert_non_null(manured);
    *manured = db_date_add(s->today, s->manured_day);
    assert_int_equal(
        db_garden_add_bed(
            plot->garden,
            &(struct db_bed){
                .id = "north", .name = "north", .warmth = NAN, .manured = manured, .manured_count = s->manured },
            &kept),
        DB_OK);
    return kept;
}

/* order: the sowings and notes in that order; NULL: as drawn. */
static inline struct plot build(const struct sketch *s, const int *order)
{
    struct plot plot = plot_new(s->latitude, 0);
    const struct db_bed *bench = plot_bed(&plot, "bench", DB_COVER_INDOORS);
    const struct db_bed *const beds[] = { build_north(&plot, s), plot_bed(&plot, "frame", DB_COVER_FRAME),
                                          plot_bed(&plot, "tunnel", DB_COVER_TUNNEL) };
    struct db_crops *crops = db_crops_new(plot.arena);

    assert_non_null(crops);
    for (int c = 0; c < CROPS; c++) {
        const struct db_crop_facts crop = kit_crop(crop_names[c]);

        assert_int_equal(db_crops_add(crops, &crop), DB_OK);
    }
    for (int n = 0; n < s->sowings; n++) {
        const int i = order ? order[n] : n;
        const bool tray = crop_ways[s->sowing[i].crop] == DB_WAY_PLUGS || crop_ways[s->sowing[i].crop] == DB_WAY_POT;
        const struct db_date day = db_date_add(s->today, s->sowing[i].day);

        plot_sow(&plot, (struct db_sowing){ .id = s->sowing[i].id,
                                            .crop = db_crops_find(crops, crop_names[s->sowing[i].crop]),
                                            .bed = tray ? bench : beds[s->sowing[i].bed],
                                            .into = beds[s->sowing[i].bed],
                                            .way = crop_ways[s->sowing[i].crop],
                                            .planned = day,
                                            .sown = s->sowing[i].done ? day : DB_NO_DATE });
    }
    for (int n = 0; n < s->notes; n++)
        plot_note(&plot, s->sowing[s->note[n].sowing].id, s->note[n].word, db_date_add(s->today, s->note[n].day));
    plot_close_diary(&plot);
    plot_rules(&plot, s->rules);
    build_weather(&plot, s);
    plot.view.today = s->today;
    return plot;
}

static inline const struct db_jobs *evaluate(struct plot *plot)
{
    const struct db_jobs *jobs = NULL;

    assert_int_equal(db_garden_evaluate(&plot->view, plot->arena, &jobs), DB_OK);
    return jobs;
}

/* All that is known of a job, in one line. */
static inline void tell(const struct db_jobs *jobs, const struct db_job *job, char line[LINE])
{
    unsigned char identity[16], meaning[16];
    char hex[65];

    db_job_identity(jobs, job, identity);
    db_job_meaning(jobs, job, meaning);
    for (size_t i = 0; i < 16; i++) {
        (void) snprintf(hex + 2 * i, 3, "%02x", identity[i]);
        (void) snprintf(hex + 32 + 2 * i, 3, "%02x", meaning[i]);
    }
    char name[64];

    (void) db_job_name(jobs, job, name, sizeof name);
    (void) snprintf(line, LINE, "%s %d %d %d %d %d %d %.64s", name, job->first.day, job->best.day, job->last.day,
                    job->state == DB_JOB_DONE ? job->done.day : 0, (int) job->state, job->urgency, hex);
}

static inline bool is_of(const struct db_jobs *jobs, const struct db_job *job, const char *id)
{
    return strcmp(db_garden_sowing(db_jobs_view(jobs)->garden, job->sowing)->id, id) == 0;
}

/* Both hold the same jobs in the same order, those of sowing `but` left out. */
static inline void same_jobs(const struct db_jobs *a, const struct db_jobs *b, const char *but)
{
    size_t i = 0, k = 0;

    for (;;) {
        char one[LINE], other[LINE];

        while (i < db_jobs_count(a) && but && is_of(a, db_jobs_at(a, i), but))
            i++;
        while (k < db_jobs_count(b) && but && is_of(b, db_jobs_at(b, k), but))
            k++;
        if (i == db_jobs_count(a) || k == db_jobs_count(b))
            break;
        tell(a, db_jobs_at(a, i++), one);
        tell(b, db_jobs_at(b, k++), other);
        if (strcmp(one, other) != 0)
            fail_msg("seed %" PRIu64 ":\n%s\n%s", seed, one, other);
    }
    if (i != db_jobs_count(a) || k != db_jobs_count(b))
        fail_msg("seed %" PRIu64 ": one has jobs that the other has not", seed);
}

/* Each round has a seed of its own, so that one can be repeated alone. */
static inline void each_garden(int rounds, void (*check)(struct sketch *s))
{
    const char *given = getenv("SEED");
    uint64_t base = given ? strtoull(given, NULL, 10) : UINT64_C(20260614);

    print_message("seed %" PRIu64 "%s\n", base, given ? "" : " and those after it");
    for (int i = 0; i < (given ? 1 : rounds); i++) {
        uint64_t state = seed = base + (uint64_t) i;
        struct sketch s = draw(&state);

        s.draws = state;
        check(&s);
    }
}

#endif
