/* Three values of truth, and the days that a rule looks over. The tables are those of Kleene's strong logic (Introduction to
 * Metamathematics, 1952, section 64; from memory); figures over days are reckoned again here, plainly. */
#include "small_garden.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#include "base/banned.h"

static struct small *s;

static int set_up(void **state)
{
    (void) state;
    s = small_plain();
    return 0;
}

static int tear_down(void **state)
{
    (void) state;
    small_free(s);
    return 0;
}

static void is_near(const char *text, double wanted)
{
    const double got = small_value(s, text);

    if (isnan(wanted) ? !isnan(got) : !(fabs(got - wanted) < 1e-9 * fmax(1, fabs(wanted))))
        fail_msg("%s is %.12g, not %.12g", text, got, wanted);
}

/* T and F are 1 = 1 and 1 = 2; U asks for a hot_limit that the carrot does not have. */
static void conditions_follow_kleene(void **state)
{
    static const char *const words[] = { "1 = 1", "1 = 2", "crop.hot_limit > 20 °C" };
    const double U = (double) NAN, both[3][3] = { { 1, 0, U }, { 0, 0, 0 }, { U, 0, U } };
    const double either[3][3] = { { 1, 1, 1 }, { 1, 0, U }, { 1, U, U } }, not_it[3] = { 0, 1, U };
    char text[128];

    (void) state;
    for (int a = 0; a < 3; a++) {
        (void) snprintf(text, sizeof text, "not %s", words[a]);
        is_near(text, not_it[a]);
        for (int b = 0; b < 3; b++) {
            (void) snprintf(text, sizeof text, "%s and %s", words[a], words[b]);
            is_near(text, both[a][b]);
            (void) snprintf(text, sizeof text, "%s or %s", words[a], words[b]);
            is_near(text, either[a][b]);
        }
    }
}

static void and_binds_before_or(void **state)
{
    (void) state;
    is_near("1 = 1 or 1 = 1 and 1 = 2", 1);
    is_near("(1 = 1 or 1 = 1) and 1 = 2", 0);
    is_near("not 1 = 2 and 1 = 2", 0);
    is_near("not (1 = 2 and 1 = 2)", 1);
    is_near("not not 1 = 1", 1);
    is_near("1 + 1 = 2 and 2 * 2 > 3", 1);
}

static void an_unknown_condition_does_not_hold(void **state)
{
    struct small *other =
        small_with("[a]\njob = A\nkind = A\nsource = none\nfor = crop.hot_limit > 20 °C\nduring = sown .. up\n"
                   "[b]\njob = B\nkind = B\nsource = none\nfor = not crop.hot_limit > 20 °C\n"
                   "during = sown .. up\n"
                   "[c]\njob = C\nkind = C\nsource = none\nduring = sown .. planted\n"
                   "[d]\njob = D\nkind = D\nsource = none\nduring = up .. sown\n"
                   "[e]\njob = E\nkind = E\nsource = none\nduring = sown .. up\nevery = crop.pick_every\n");
    struct db_date first, best, last;

    (void) state;
    assert_false(db_rule_applies(other->rules, 0, &other->scope));
    assert_false(db_rule_applies(other->rules, 1, &other->scope));
    assert_true(db_rule_applies(other->rules, 2, &other->scope));
    assert_false(db_rule_window(other->rules, 2, &other->scope, &first, &best, &last)); /* planted is not known */
    assert_false(db_rule_window(other->rules, 3, &other->scope, &first, &best, &last)); /* ends before it begins */
    assert_false(db_rule_applies(other->rules, 4, &other->scope));                      /* how often is not known */
    small_free(other);
}

/* -- days ---------------------------------------------------------------------------------------------------------- */

/* The made-up figures: index 0 is 1 April, 14 June is index 74. */
static double low_on(int i)
{
    return 5 + i % 10;
}

static double rain_on(int i)
{
    return i % 4 == 0 ? 4 : 0;
}

static void figures_over_days_agree_with_a_plain_count(void **state)
{
    const int today = 74;
    double least = 99, most = -99, sum = 0, wet = 0, rain = 0;

    (void) state;
    for (int i = today; i <= today + 3; i++) {
        least = fmin(least, low_on(i));
        most = fmax(most, low_on(i));
        sum += low_on(i);
    }
    is_near("min(low, 3 days ahead)", least);
    is_near("max(low, 3 days ahead)", most);
    is_near("average(low, 3 days ahead)", sum / 4);
    is_near("min(low, day .. day + 3 days)", least);
    for (int i = today - 2; i <= today; i++) {
        rain += rain_on(i);
        wet += rain_on(i) > 3;
    }
    is_near("sum(rain, 2 days back)", rain);
    is_near("count(rain > 3 mm, 2 days back)", wet);
    is_near("sum(rain, 2 days back) > 3 mm", rain > 3);
    is_near("mean", (low_on(today) + low_on(today) + 10) / 2);
    is_near("low_tonight", low_on(today + 1));
    is_near("max(high - low, 5 days ahead)", 10); /* not only figures */
    is_near("min(high - 5 K, 3 days ahead)", least + 5);
    is_near("day_length > 15 h", 1);
    is_near("count(month = 6, today .. today + 20 days)", 17);
    is_near("sum(rain, sown .. up)", 3 * 4); /* days 49 to 62: it rains on 52, 56 and 60 */
}

static void days_outside_the_weather_are_not_known(void **state)
{
    (void) state;
    s->scope.day = small_day(4, 2);
    is_near("low", low_on(1));
    is_near("min(low, 1 day back)", low_on(0));
    is_near("min(low, 2 days back)", (double) NAN);
    is_near("count(low > 0 °C, 2 days back)", (double) NAN);
    is_near("sum(rain, 2 days back)", (double) NAN);
    s->scope.day = db_date_add(s->scope.first, SMALL_DAYS - 1);
    is_near("low", low_on(SMALL_DAYS - 1));
    is_near("low_tonight", (double) NAN);
    is_near("max(low, 1 day ahead)", (double) NAN);
    is_near("wind", (double) NAN); /* no such figures at all */
    is_near("max(wind, 3 days back)", (double) NAN);
    s->sky[0][DB_SKY_LOW][100] = (double) NAN;
    s->scope.day = db_date_add(s->scope.first, 99);
    is_near("min(low, 1 day ahead)", (double) NAN);
    is_near("low_tonight < 5 °C", (double) NAN);
    is_near("low_tonight < 5 °C or low > 0 °C", 1);
    is_near("min(low, up .. sown)", (double) NAN); /* no day at all */
    is_near("sum(rain, up .. sown)", 0);
    is_near("count(low > 0 °C, up .. sown)", 0);
}

/* The lettuce leaves the bench (18 °C, night and day) for the north bed (soil 12 °C) on 20 June. */
static void a_move_changes_what_is_felt(void **state)
{
    (void) state;
    small_stand(s, SMALL_LETTUCE);
    s->scope.day = small_day(6, 19);
    is_near("soil", 18);
    is_near("low_here", 18);
    is_near("low_tonight_here", 18); /* it still stands on the bench that night */
    is_near("min(soil, 3 days ahead)", 12);
    is_near("count(soil = 18 °C, 3 days ahead)", 1);
    s->scope.day = small_day(6, 20);
    is_near("soil", 12);
    is_near("low_here", low_on(80) + 1);
    is_near("low_tonight_here", low_on(81) + 1);
    small_stand(s, SMALL_CARROT); /* never moved */
    s->scope.day = small_day(9, 1);
    is_near("soil", 18);
}

static void after_counts_days(void **state)
{
    int passed = 0, i = 62; /* 2 June */

    (void) state;
    for (;; i++) {
        passed += low_on(i) >= 10;
        if (passed == 7)
            break;
    }
    is_near("after(up, 7 days, low >= 10 °C)", s->scope.first.day + i);
    is_near("after(up, 0 days, low >= 10 °C)", s->scope.first.day + 62);
    is_near("after(up, 1 day, low >= 7 °C)", s->scope.first.day + 62); /* up itself is one: its low is 7 °C */
    is_near("after(up, 7 days, low > 40 °C)", (double) NAN);
    is_near("after(planted, 7 days, low > 0 °C)", (double) NAN);
    is_near("after(up, 61 days, low >= 10 °C)", (double) NAN); /* five days in ten: beyond 120 days */
    is_near("after(up, 60 days, low >= 10 °C)", s->scope.first.day + 62 + 117);
    is_near("after(up, crop.harden_time * 0.4, low >= 7 °C)", s->scope.first.day + 62 + 3);
}

static void a_window_over_too_many_days_is_unknown(void **state)
{
    (void) state;
    is_near("count(low > 0 °C, today - 60 days .. today)", 61);
    is_near("count(low > 0 °C, sown .. cropping)", 77);
    s->life.stage[DB_STAGE_CROPPING].likely = small_day(10, 1); /* 134 days after sowing */
    is_near("count(low > 0 °C, sown .. cropping)", (double) NAN);
}

int main(void)
{
#define TEST(name) cmocka_unit_test_setup_teardown(name, set_up, tear_down)
    const struct CMUnitTest tests[] = {
        TEST(conditions_follow_kleene),
        TEST(and_binds_before_or),
        TEST(an_unknown_condition_does_not_hold),
        TEST(figures_over_days_agree_with_a_plain_count),
        TEST(days_outside_the_weather_are_not_known),
        TEST(a_move_changes_what_is_felt),
        TEST(after_counts_days),
        TEST(a_window_over_too_many_days_is_unknown),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
