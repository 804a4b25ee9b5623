/* What learning the forecast's bias is worth: forecasts that err (tests/kit/erring.h) over four years of Seattle, held
 * against a garden that differs from Seattle by what is said here. There is no archive of real forecasts in this tree: the
 * bias is planted, and so known. The figures stand in docs/models.md, "The forecast at this garden". */
#include "dewbell/bias.h"

#include "kit/erring.h"
#include "kit/thrift.h"
#include "tables.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "base/banned.h"

enum { SEEDS = 10, ISSUED = 18 }; /* the last forecast of a day is that of the evening before */

struct garden {
    double (*differs)(const struct record *record, size_t day); /* K added to Seattle's low */
    double wrong;                                               /* share of days with a reading that is wrong */
};
struct score {
    double error[2]; /* mean absolute error of the low: as forecast, corrected */
    double missed[2], false_alarms[2];
    double frosts, moves; /* moves of the shift */
    double days;
};

static double not_at_all(const struct record *record, size_t day)
{
    (void) record, (void) day;
    return 0;
}

static double in_a_hollow(const struct record *record, size_t day)
{
    (void) record, (void) day;
    return -2;
}

/* A night is clear here where the day has swung by more than 9 degrees: 35 of 100 days. */
static double on_clear_nights(const struct record *record, size_t day)
{
    return record->high[day] - record->low[day] > 9 ? -3 : 0;
}

static struct db_weather *weather_of(const struct record *record, struct db_arena *arena)
{
    struct db_weather *weather = db_weather_new(arena, record->first, RECORD_DAYS, 1);

    assert_non_null(weather);
    for (int d = 0; d < RECORD_DAYS; d++) {
        db_weather_put(weather, db_date_add(record->first, d), DB_FIGURE_LOW, DB_ORIGIN_OBSERVED, record->low[d]);
        db_weather_put(weather, db_date_add(record->first, d), DB_FIGURE_HIGH, DB_ORIGIN_OBSERVED, record->high[d]);
        db_weather_put(weather, db_date_add(record->first, d), DB_FIGURE_RAIN, DB_ORIGIN_OBSERVED, record->rain[d]);
    }
    return weather;
}

static void count_night(struct score *score, int way, double said, double came)
{
    score->error[way] += fabs(said - came);
    score->missed[way] += came <= 0 && said > 0;
    score->false_alarms[way] += came > 0 && said <= 0;
}

static void play(const struct record *record, const struct db_weather *weather, const struct garden *garden,
                 uint64_t seed, struct score *score)
{
    struct db_miss misses[RECORD_DAYS];
    struct erring errors;
    double before = 0;

    erring_begin(&errors, record->first, seed);
    for (int d = 0; d + ERRING_AHEAD < RECORD_DAYS; d++) {
        struct db_told_day told[ERRING_AHEAD];
        const size_t morrow = (size_t) d + 1;
        const struct db_date date = db_date_add(record->first, d + 1);
        struct db_bias bias;

        erring_step(&errors, db_date_add(record->first, d).day, 24);
        erring_tell(weather, &errors, ISSUED, 1, told);
        const double said = told[1].figures[DB_FIGURE_LOW];
        const double came = record->low[morrow] + garden->differs(record, morrow);
        /* In the evening yesterday is measured, and today's night. */
        assert_int_equal(db_bias_learn(misses, (size_t) d, date, &bias), DB_OK);
        count_night(score, 0, said, came);
        count_night(score, 1, said + bias.shift, came);
        score->moves += bias.shift > before || bias.shift < before;
        before = bias.shift;
        score->frosts += came <= 0;
        score->days++;
        const double wrong = erring_uniform() < garden->wrong ? 10 * erring_normal() : 0;
        misses[d] = (struct db_miss){ date, came + wrong - said };
    }
}

static struct score score_of(const char *name, const struct garden *garden)
{
    struct db_arena *arena = db_arena_new((size_t) 1 << 24);
    const struct record *record = seattle();
    const struct db_weather *weather = weather_of(record, arena);
    struct score s = { 0 };

    for (uint64_t seed = 1; seed <= (uint64_t) thrift(SEEDS, 2); seed++)
        play(record, weather, garden, seed, &s);
    (void) db_arena_free(arena);
    const double years = s.days / 365.25;
    for (int w = 0; w < 2; w++) {
        s.error[w] /= s.days;
        s.missed[w] /= s.frosts / 100;
        s.false_alarms[w] /= years;
    }
    s.moves /= years;
    printf(
        "%-28s error %.2f to %.2f K; missed %.0f to %.0f of 100 frosts; false alarms %.1f to %.1f a year; %.1f moves "
        "a year\n",
        name, s.error[0], s.error[1], s.missed[0], s.missed[1], s.false_alarms[0], s.false_alarms[1], s.moves);
    return s;
}

static void a_steady_difference_is_learnt(void **state)
{
    const struct score s = score_of("2 K colder each night", &(struct garden){ in_a_hollow, 0 });

    (void) state;
    assert_true(s.error[1] < 0.6 * s.error[0]);
    assert_true(s.missed[1] < 0.5 * s.missed[0]);
    assert_true(s.moves < 4);
}

/* Only half of it can be had: the mean of clear and dull nights is right for neither. */
static void of_clear_nights_a_part(void **state)
{
    const struct score s = score_of("3 K colder on clear nights", &(struct garden){ on_clear_nights, 0 });

    (void) state;
    assert_true(s.error[1] < 0.9 * s.error[0]);
    assert_true(s.missed[1] < s.missed[0]);
}

static void where_there_is_none_no_harm(void **state)
{
    const struct score s = score_of("no difference", &(struct garden){ not_at_all, 0 });

    (void) state;
    assert_true(s.error[1] < 1.02 * s.error[0]);
    assert_true(s.missed[1] < s.missed[0] + 1 && s.false_alarms[1] < s.false_alarms[0] + 1);
    assert_true(s.moves < 4);
}

static void wrong_readings_do_little(void **state)
{
    const struct score clean = score_of("2 K colder each night", &(struct garden){ in_a_hollow, 0 }),
                       s = score_of("the same, 5 of 100 misread", &(struct garden){ in_a_hollow, 0.05 });

    (void) state;
    assert_true(s.error[1] < clean.error[1] + 0.03);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_steady_difference_is_learnt),
        cmocka_unit_test(of_clear_nights_a_part),
        cmocka_unit_test(where_there_is_none_no_harm),
        cmocka_unit_test(wrong_readings_do_little),
    };

    return cmocka_run_group_tests_name("data_bias", tests, NULL, NULL);
}
