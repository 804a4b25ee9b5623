/* Water in the rule language: kinds, values on a day, and how they read. The figures are made up to be reckoned in the head;
 * no source. */
#include "small_garden.h"

#include "base/text.h"
#include "rules/say.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#include "base/banned.h"

static struct small *s;

/* From 10 June on: 3 mm more each day, since the rain of 9 June; at risk from 9 mm; 0.45 litres a mm. */
static const struct db_moisture *seedbed(void *pump, size_t sowing)
{
    static struct db_wet_day days[8];
    static struct db_moisture moisture = { .count = 8, .days = days };

    (void) sowing;
    moisture.first = small_day(6, 10).day;
    for (int i = 0; i < 8; i++)
        days[i] = (struct db_wet_day){ .dry = 3.0 * (i + 1),
                                       .limit = 9,
                                       .water = 0.45 * 3 * (i + 1),
                                       .full = small_day(6, 9).day,
                                       .filled = DB_FILLED_RAIN,
                                       .drinks = (unsigned char) *(enum db_drinks *) pump };
    return &moisture;
}

static enum db_drinks drinks = DB_DRINKS_SEEDBED;

static int set_up(void **state)
{
    (void) state;
    s = small_with("[water]\njob = Water\nkind = Water\nduring = up .. up + 1 day\nrecords = watered\nsource = none\n");
    s->scope.moisture = seedbed;
    s->scope.pump = &drinks;
    return 0;
}

static int tear_down(void **state)
{
    (void) state;
    small_free(s);
    return 0;
}

static double value_on(const char *text, struct db_date day)
{
    struct db_expr expr = { 0 };

    if (!small_read(s, text, &expr)) {
        small_say(s);
        fail_msg("%s is refused", text);
    }
    return db_node_value(expr.nodes, expr.root, &s->scope, day.day);
}

static void is_on(const char *text, struct db_date day, double wanted)
{
    const double got = value_on(text, day);

    if (!(fabs(got - wanted) <= 1e-9))
        fail_msg("%s: %g expected, %g got", text, wanted, got);
}

static void is_unknown(const char *text, struct db_date day)
{
    if (!isnan(value_on(text, day)))
        fail_msg("%s should not be known", text);
}

static void kinds_are_checked(void **state)
{
    static const struct {
        const char *text;
        enum db_kind kind;
    } right[] = { { "dry", DB_KIND_LENGTH },
                  { "dry_limit", DB_KIND_LENGTH },
                  { "water", DB_KIND_VOLUME },
                  { "et0", DB_KIND_LENGTH },
                  { "rain_here", DB_KIND_LENGTH },
                  { "rain_tomorrow", DB_KIND_LENGTH },
                  { "next_rain", DB_KIND_DATE },
                  { "container", DB_KIND_TRUTH },
                  { "dry * 0.7 < dry_limit", DB_KIND_TRUTH },
                  { "dry / dry_limit", DB_KIND_NUMBER },
                  { "crop.depletion", DB_KIND_NUMBER },
                  { "crop.root_depth", DB_KIND_LENGTH },
                  { "sum(et0 - rain_here, 6 days back)", DB_KIND_LENGTH } };
    static const char *const wrong[] = { "dry > 9",        "water > 3 mm", "next_rain < 3 days", "container > 1",
                                         "dry + water",    "et0 < 20 °C",  "rain_tomorow < dry", "dry_limits",
                                         "next_rain + dry" };

    (void) state;
    for (size_t i = 0; i < sizeof right / sizeof right[0]; i++) {
        struct db_expr expr = { 0 };

        if (!small_read(s, right[i].text, &expr))
            fail_msg("%s is refused", right[i].text);
        assert_int_equal(expr.nodes[expr.root].kind, right[i].kind);
    }
    for (size_t i = 0; i < sizeof wrong / sizeof wrong[0]; i++) {
        struct db_expr expr = { 0 };

        if (small_read(s, wrong[i], &expr))
            fail_msg("%s is let pass", wrong[i]);
    }
}

static void figures_are_of_their_day(void **state)
{
    (void) state;
    is_on("dry", small_day(6, 10), 3);
    is_on("dry", small_day(6, 14), 15);
    is_on("dry_limit", small_day(6, 14), 9);
    is_on("water", small_day(6, 12), 0.45 * 9);
    is_on("dry >= dry_limit", small_day(6, 12), 1);
    is_on("dry >= dry_limit", small_day(6, 11), 0);
    is_on("max(dry, 2 days ahead)", small_day(6, 10), 9);
    is_unknown("dry", small_day(6, 9));
    is_unknown("dry", small_day(6, 18));
    is_unknown("dry >= dry_limit", small_day(6, 18));
    s->scope.moisture = NULL;
    is_unknown("dry", small_day(6, 12));
}

/* Rain that reaches it: all in the open, none in the frame that kale moves into. */
static void rain_is_what_reaches_it(void **state)
{
    const struct db_date day = small_day(6, 14);

    (void) state;
    s->sky[0][DB_SKY_RAIN][day.day - s->scope.first.day + 1] = 6;
    is_on("rain_tomorrow", day, 6);
    is_on("rain_here", db_date_add(day, 1), 6);
    is_on("container", day, 0);
    small_stand(s, SMALL_KALE);
    s->scope.moved = small_day(6, 1);
    s->sky[1][DB_SKY_RAIN][day.day - s->scope.first.day + 1] = 6;
    is_on("rain_tomorrow", day, 0);
    is_on("rain", db_date_add(day, 1), 6);
}

static void the_next_rain_is_a_forecast_one(void **state)
{
    const struct db_date day = small_day(6, 14), known = db_weather_known(s->weather);
    double *rain = s->sky[0][DB_SKY_RAIN];

    (void) state;
    for (int i = 0; i < SMALL_DAYS; i++)
        rain[i] = 0;
    is_unknown("next_rain", day);
    rain[day.day - s->scope.first.day] = 20; /* today's is counted in what the ground has lost */
    is_unknown("next_rain", day);
    rain[day.day + 1 - s->scope.first.day] = 4.9;
    is_unknown("next_rain", day);
    rain[day.day + 2 - s->scope.first.day] = 10.4; /* of 15 mm that the ground has lost: less than seven tenths */
    rain[day.day + 3 - s->scope.first.day] = 12;
    assert_true(known.day >= day.day + 3);
    is_on("next_rain", day, day.day + 3);
    is_on("sum(rain_here, next_rain .. next_rain)", day, 12);
    is_on("next_rain", small_day(6, 13), day.day);
    is_unknown("next_rain", small_day(6, 9)); /* more than four days on */
    s->scope.moisture = NULL;                 /* nothing is known of its ground */
    is_on("next_rain", day, day.day + 2);
    rain[day.day + 1 - s->scope.first.day] = 5;
    is_on("next_rain", day, day.day + 1);
    for (int i = 0; i < SMALL_DAYS; i++)
        rain[i] = 0;
    if (known.day + 1 - s->scope.first.day < SMALL_DAYS) {
        rain[known.day + 1 - s->scope.first.day] = 50; /* an average of the climate, whatever it may be */
        is_unknown("next_rain", day);
    }
}

static void reads(enum db_drinks from, int32_t day, const char *wanted)
{
    char buffer[300];
    struct db_text text = db_text_in(buffer, sizeof buffer);

    drinks = from;
    db_say_dry(&text, &s->scope, day);
    db_say_dry_limit(&text, &s->scope, day);
    assert_string_equal(buffer, wanted);
}

static void sentences(void **state)
{
    (void) state;
    reads(DB_DRINKS_SEEDBED, small_day(6, 14).day,
          "The seedbed has lost 15 mm since the rain of 9 June; seed is at risk from 9 mm");
    reads(DB_DRINKS_ROOTS, small_day(6, 14).day,
          "The ground in reach of the roots has lost 15 mm since the rain of 9 June; for carrots water is short from 9 "
          "mm");
    reads(DB_DRINKS_FRESH, small_day(6, 16).day,
          "The ground about the young plants will have lost 21 mm since the rain of 9 June, by the forecast, when 16 "
          "June is "
          "over; plants with their roots still in the plug go short from 9 mm");
    reads(DB_DRINKS_SEEDBED, small_day(6, 12).day,
          "The seedbed had lost 9 mm since the rain of 9 June, when 12 June was over; seed is at risk from 9 mm");
    reads(DB_DRINKS_SEEDBED, small_day(7, 1).day, "");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(kinds_are_checked, set_up, tear_down),
        cmocka_unit_test_setup_teardown(figures_are_of_their_day, set_up, tear_down),
        cmocka_unit_test_setup_teardown(rain_is_what_reaches_it, set_up, tear_down),
        cmocka_unit_test_setup_teardown(the_next_rain_is_a_forecast_one, set_up, tear_down),
        cmocka_unit_test_setup_teardown(sentences, set_up, tear_down),
    };

    return cmocka_run_group_tests_name("rules_water", tests, NULL, NULL);
}
