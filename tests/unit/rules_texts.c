/* Templates filled in, and the sentences of "why". Their wording is our own. */
#include "small_garden.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#include "base/banned.h"

static struct small *rule_with(const char *lines)
{
    char text[4096];

    (void) snprintf(text, sizeof text, "[a]\nkind = A\nsource = none\n%s", lines);
    return small_with(text);
}

static void job_reads(const char *job, size_t sowing, const char *wanted)
{
    char lines[512];
    struct small *s;
    const char *got;

    (void) snprintf(lines, sizeof lines,
                    "for = crop.thin is known or plugs is known or row is known\nduring = sown .. up\njob = %s\n", job);
    s = rule_with(lines);
    small_stand(s, sowing);
    got = db_rule_text(s->rules, 0, DB_TEMPLATE_JOB, &s->scope, s->arena);
    assert_string_equal(got, wanted);
    small_free(s);
}

static void how_reads(const char *how, size_t sowing, const char *wanted)
{
    char lines[1024];
    struct small *s;
    const char *got;

    (void) snprintf(lines, sizeof lines, "during = sown .. up\njob = A\nhow = %s\n", how);
    s = rule_with(lines);
    small_stand(s, sowing);
    got = db_rule_text(s->rules, 0, DB_TEMPLATE_HOW, &s->scope, s->arena);
    assert_string_equal(got, wanted);
    small_free(s);
}

static void texts_are_filled_in_as_a_gardener_writes(void **state)
{
    (void) state;
    job_reads("Thin {crops} in {bed} to {crop.thin}", SMALL_CARROT, "Thin carrots in the north bed to 5 to 8 cm");
    job_reads("Thin to {crop.thin.least}", SMALL_CARROT, "Thin to 5 cm");
    job_reads("Sow {crop} ({variety}) {crop.depth} deep", SMALL_CARROT, "Sow carrot (Early Nantes) 10 to 13 mm deep");
    job_reads("Sow {crop} ({variety}) now", SMALL_LETTUCE, "Sow lettuce now"); /* no variety: no gap */
    job_reads("Sow {crop} {variety}, now", SMALL_LETTUCE, "Sow lettuce, now");
    job_reads("Move {sowing} from {bed} into {into}", SMALL_LETTUCE,
              "Move lettuce-1 from the bench into the north bed");
    job_reads("Up on {up}, {early(up)} to {late(up)}", SMALL_CARROT, "Up on 2 June, 30 May to 6 June");
    job_reads("Sown {today - sown} ago, in {month}", SMALL_CARROT, "Sown 25 days ago, in June");
    job_reads("Next year: {up + 1 year}", SMALL_CARROT, "Next year: 2 June 2027");
    job_reads("Low {low}, high {high}, wet {sum(rain, 2 days back)}", SMALL_CARROT, "Low 9 °C, high 19 °C, wet 4 mm");
    job_reads("Row {row}, raised in {raised}", SMALL_CARROT, "Row 3 m, raised in drill");
    job_reads("Plant {crops}, {crop.thin} apart", SMALL_LETTUCE, "Plant lettuce"); /* a clause that is not known goes */
    job_reads("Plant {crops}, {crop.thin} apart, in {into}", SMALL_LETTUCE, "Plant lettuce, in the north bed");
    job_reads("{plugs} plugs", SMALL_LETTUCE, "24 plugs");
}

static void sentences_with_a_hole_are_left_out(void **state)
{
    (void) state;
    how_reads("Water. Leave {crop.thin} between them. Firm.", SMALL_CARROT,
              "Water. Leave 5 to 8 cm between them. Firm.");
    how_reads("Water. Leave {crop.thin} between them. Firm.", SMALL_LETTUCE, "Water. Firm.");
    how_reads("Leave {crop.thin} between them. Firm.", SMALL_LETTUCE, "Firm.");
    how_reads("Water. {crop.remark}", SMALL_CARROT, "Water.");
    how_reads("{crop.remark}", SMALL_CARROT, "");
    how_reads("Up to {crop.depth} deep, no more.", SMALL_CARROT, "Up to 10 to 13 mm deep, no more.");
    how_reads("Over\n    several   lines\n    it goes.", SMALL_CARROT, "Over several lines it goes.");
}

static void imperial_gardens_read_inches(void **state)
{
    struct db_site site = { .name = "Tarn Hollow",
                            .key = "3f0e6a52-6f0a-4a33-9a57-0c5a9cf0a1b7",
                            .latitude = 52,
                            .zone = "Europe/London",
                            .imperial = true };
    struct small *s = rule_with("during = sown .. up\njob = Low {low}\nhow = Leave {3 inches} and {50 °F}.\n");
    struct db_garden *garden = db_garden_new(s->arena, &site);

    (void) state;
    small_must(db_garden_add_sowing(garden, db_garden_sowing(s->garden, SMALL_CARROT)));
    s->view.garden = garden;
    assert_string_equal(db_rule_text(s->rules, 0, DB_TEMPLATE_JOB, &s->scope, s->arena), "Low 48 °F");
    assert_string_equal(db_rule_text(s->rules, 0, DB_TEMPLATE_HOW, &s->scope, s->arena), "Leave 3 inches and 50 °F.");
    small_free(s);
}

/* -- why ----------------------------------------------------------------------------------------------------------- */

/* The reasons, one a line, each with the first letter of its origin. */
static void why_of_round_reads(struct small *s, struct db_date best, unsigned occurrence, const char *wanted)
{
    struct db_job job = {
        .occurrence = occurrence, .first = best, .best = best, .last = best, .done = DB_NO_DATE, .state = DB_JOB_OPEN
    };
    struct db_reason reasons[20];
    size_t count = 0;
    char all[4096] = "";
    size_t length = 0;

    s->scope.day = best;
    small_must(db_rule_explain(s->rules, 0, &s->scope, &job, s->arena, reasons, 20, &count));
    for (size_t i = 0; i < count; i++)
        length += (size_t) snprintf(all + length, sizeof all - length, "%c %s\n", db_origin_word(reasons[i].origin)[0],
                                    reasons[i].text);
    assert_string_equal(all, wanted);
    small_free(s);
}

static void why_reads(struct small *s, struct db_date best, const char *wanted)
{
    why_of_round_reads(s, best, 0, wanted);
}

static void stages_are_said_with_how_they_are_known(void **state)
{
    struct small *s =
        rule_with("job = A\nfor = raised in drill and crop.thin is known\nduring = up + 10 days .. up + 24 days\n");

    (void) state;
    why_reads(s, small_day(6, 14),
              "n Seedlings were likely up on 2 June (30 May to 6 June), worked out from the soil's warmth since it was "
              "sown on "
              "20 May.\n");

    s = rule_with("job = A\nduring = cropping .. cropping + 2 weeks\n");
    why_reads(s, small_day(8, 4),
              "n The first harvest is likely on 4 August (28 July to 15 August), worked out from the warmth and length "
              "of the "
              "days since it was sown on 20 May, with the climate's averages after 20 June.\n");

    s = rule_with("job = A\nduring = up .. up + 24 days\n");
    small_turn(s, DB_STAGE_UP, DB_NOTED, small_day(6, 2), small_day(6, 2), small_day(6, 2));
    why_reads(s, small_day(6, 14), "n Seedlings were noted up on 2 June.\n");

    s = rule_with("job = A\nduring = sown .. up\n");
    small_turn(s, DB_STAGE_UP, DB_NOTED, small_day(6, 2), small_day(6, 2), small_day(6, 2));
    why_reads(s, small_day(6, 1), "n It was sown on 20 May.\nn Seedlings were noted up on 2 June.\n");

    s = rule_with("job = A\nduring = planned .. planned + 10 days\n");
    small_turn(s, DB_STAGE_SOWN, DB_PLANNED, small_day(6, 22), small_day(6, 22), small_day(6, 22));
    s->life.planned = small_day(6, 22);
    s->life.solstice = small_day(6, 21);
    s->life.held = true;
    why_reads(s, small_day(6, 22),
              "n Sowing was planned for 18 May; carrots would run to seed in lengthening days, so the sowing waits "
              "until 22 June (the "
              "solstice is on 21 June).\n");
}

static void sets_are_planted_and_send_up_shoots(void **state)
{
    struct small *s = rule_with("job = A\nduring = up + 10 days .. up + 24 days\nbest = last(sown)\n");
    struct db_sowing garlic = *db_garden_sowing(s->garden, SMALL_CARROT);
    struct db_garden *garden = db_garden_new(s->arena, db_garden_site(s->garden));

    (void) state;
    garlic.way = DB_WAY_SETS;
    small_must(db_garden_add_sowing(garden, &garlic));
    s->view.garden = garden;
    why_reads(s, small_day(6, 14),
              "n Shoots were likely up on 2 June (30 May to 6 June), worked out from the soil's warmth since it was "
              "planted on "
              "20 May.\n");
}

static void weather_is_said_with_where_it_comes_from(void **state)
{
    struct small *s = rule_with("job = A\nduring = sown .. up + 28 days\nwhile = low_tonight <= 7 °C\n");

    (void) state;
    /* 14 June is the 74th day: the next night's low is 10 °C */
    s->sky[0][DB_SKY_LOW][75] = -1.5;
    why_reads(s, small_day(6, 14),
              "n It was sown on 20 May.\nf Tonight's low is forecast at -1.5 °C; the rule asks for at most 7 °C.\n");

    /* Corrected by what was measured here: both figures are of 15 June. */
    s = rule_with("job = A\nduring = sown .. up + 28 days\nwhile = low_tonight <= 7 °C\n");
    s->sky[0][DB_SKY_LOW][75] = -1.5;
    db_weather_set_shift(s->weather, small_day(6, 15), DB_FIGURE_LOW, -1.5);
    why_reads(
        s, small_day(6, 14),
        "n It was sown on 20 May.\nf Tonight's low is forecast at -1.5 °C, with 1.5 degrees taken off the weather "
        "report; the rule asks for at most 7 °C.\n");
    s = rule_with("job = A\nduring = sown .. up + 28 days\nwhile = high > 2 °C\n");
    s->sky[0][DB_SKY_HIGH][75] = 19;
    db_weather_set_shift(s->weather, small_day(6, 15), DB_FIGURE_HIGH, 1);
    why_reads(s, small_day(6, 15),
              "n It was sown on 20 May.\nf The high on 15 June is forecast at 19 °C, with 1 degree added to the "
              "weather report; "
              "the rule asks for more than 2 °C.\n");

    s = rule_with("job = A\nduring = sown .. up + 28 days\nwhile = low_tonight_here <= crop.frost_limit + 3 K\n");
    small_stand(s, SMALL_LETTUCE);
    s->sky[0][DB_SKY_LOW_HERE][75] = -1.5;
    why_reads(s, small_day(6, 14),
              "n It was sown on 20 May.\nf Tonight's low indoors is forecast at -1.5 °C; lettuce can be hurt from -2 "
              "°C, and 3 "
              "degrees are kept in hand.\n");

    s = rule_with(
        "job = A\nfor = max(soil_high, day .. day + 2 days) > crop.hot_limit\nduring = sown .. up + 28 days\n");
    small_stand(s, SMALL_LETTUCE);
    s->sky[0][DB_SKY_SOIL_HIGH][75] = 31;
    why_reads(
        s, small_day(6, 14),
        "n Seedlings were likely up on 2 June (30 May to 6 June), worked out from the soil's warmth since it was sown "
        "on "
        "20 May.\nf The seed zone may reach 31 °C between 14 and 16 June, worked out from the forecast; lettuce seed "
        "fails above 27 °C.\n");

    s = rule_with("job = A\nfor = max(soil_high, day .. day + 20 days) > crop.hot_limit and raised in plugs\n"
                  "during = sown .. sown + 40 days\n");
    small_stand(s, SMALL_LETTUCE);
    s->sky[0][DB_SKY_SOIL_HIGH][75] = 31;
    why_reads(
        s, small_day(6, 14),
        "n It was sown on 20 May.\nc The seed zone may reach 31 °C between 14 June and 4 July, worked out from the "
        "climate's averages; lettuce seed fails above 27 °C.\n");

    s = rule_with("job = A\nfor = sum(rain, sown .. sown + 6 days) < 10 mm\nduring = sown .. sown + 40 days\n");
    why_reads(
        s, small_day(6, 14),
        "n It was sown on 20 May.\no Rain between 20 and 26 May came to 4 mm, as observed; the rule asks for less than "
        "10 mm.\n");

    s = rule_with("job = A\nfor = count(low < 7 °C, 9 days ahead) >= 2\nduring = sown .. sown + 40 days\n");
    why_reads(
        s, small_day(6, 14),
        "n It was sown on 20 May.\nc 2 of the 10 days between 14 and 23 June are ones with a low of less than 7 °C, by "
        "the climate's averages; the rule asks for at least 2.\n");

    s = rule_with("job = A\nduring = after(sown, 3 days, low_tonight >= crop.harden_low) .. sown + 40 days\n");
    why_reads(s, small_day(6, 14),
              "n It was sown on 20 May.\no The 3rd night of at least 7 °C since 20 May was on 24 May.\n");
}

static void what_moved_the_day_is_said(void **state)
{
    /* Lows go 5 to 14 and round again: on 16 June, the 76th day, it is 11 and the high 21. */
    struct small *s =
        rule_with("job = A\nduring = sown .. sown + 40 days\nbest = today + 2 days\nprefer = high < 20 °C\n");

    (void) state;
    why_reads(s, small_day(6, 14),
              "n It was sown on 20 May.\nn The best day would have been 16 June.\nf The high on 16 June is forecast at "
              "21 °C; "
              "the rule asks for less than 20 °C.\nf The high today is forecast at 19 °C; the rule asks for less than "
              "20 °C.\n");

    s = rule_with("job = A\nduring = sown .. sown + 40 days\nbest = today + 2 days\nprefer = high < 22 °C\n");
    why_reads(s, small_day(6, 16), "n It was sown on 20 May.\n"); /* it moved nothing */

    s = rule_with("job = A\nduring = sown .. sown + 40 days\nbest = today + 2 days\navoid = high > 20 °C\n");
    why_reads(s, small_day(6, 14),
              "n It was sown on 20 May.\nn The best day would have been 16 June.\nf The high on 16 June is forecast at "
              "21 °C; the rule avoids more than 20 °C.\n");

    /* What is asked twice of one figure is one reason. */
    s = rule_with(
        "job = A\nduring = sown .. sown + 40 days\nbest = today\nhold = low < 10 °C and low > 3 °C and low > 2 °C\n");
    why_reads(s, small_day(6, 15),
              "n It was sown on 20 May.\nn It would have been due today; the weather put it off.\nf The low today is "
              "forecast at 9 °C; the rule asks for less than 10 °C and more than 3 °C and more than 2 °C.\n");

    s = rule_with("job = A\nduring = sown .. sown + 40 days\nbest = today\nhold = low < 10 °C\n");
    why_reads(s, small_day(6, 15),
              "n It was sown on 20 May.\nn It would have been due today; the weather put it off.\nf The low today is "
              "forecast "
              "at 9 °C; the rule asks for less than 10 °C.\n");

    s = rule_with("job = A\nduring = sown .. sown + 40 days\nevery = 3 days\nrecords = looked\n");
    small_note(s, 1, "carrot-1", "looked", small_day(6, 11));
    why_reads(s, small_day(6, 14),
              "n It was sown on 20 May.\nn It comes round every 3 days; it was last done on 11 June.\n");
    /* The first round has said what the rounds began with. */
    s = rule_with("job = A\nduring = sown .. sown + 40 days\nevery = 3 days\nrecords = looked\nbest = sown + 2 days\n");
    why_of_round_reads(s, small_day(6, 14), 4, "n It was sown on 20 May.\nn It comes round every 3 days.\n");
    s = rule_with("job = A\nduring = sown .. today + 40 days\nevery = 3 days\nrecords = looked\n");
    why_of_round_reads(s, small_day(6, 14), 4, "n It comes round every 3 days.\n");
    s = rule_with("job = A\nduring = sown .. today + 40 days\nevery = 3 days\nrecords = looked\n");
    why_of_round_reads(s, small_day(6, 14), 0, "n It was sown on 20 May.\nn It comes round every 3 days.\n");
}

static void room_and_memory_have_ends(void **state)
{
    struct small *s = rule_with("job = A\nduring = sown .. cropping\n");
    struct db_job job = { .first = s->view.today, .best = s->view.today, .last = s->view.today };
    struct db_reason one = { NULL, DB_ORIGIN_NONE };
    struct db_arena *tight = db_arena_new(8);
    size_t count = 0;

    (void) state;
    small_must(db_rule_explain(s->rules, 0, &s->scope, &job, s->arena, &one, 1, &count));
    assert_int_equal(count, 2);
    assert_string_equal(one.text, "It was sown on 20 May.");
    assert_int_equal(db_rule_explain(s->rules, 0, &s->scope, &job, tight, &one, 1, &count), DB_FULL);
    assert_int_equal(count, 2);
    (void) db_arena_free(tight);
    small_free(s);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(texts_are_filled_in_as_a_gardener_writes),
        cmocka_unit_test(sentences_with_a_hole_are_left_out),
        cmocka_unit_test(imperial_gardens_read_inches),
        cmocka_unit_test(stages_are_said_with_how_they_are_known),
        cmocka_unit_test(sets_are_planted_and_send_up_shoots),
        cmocka_unit_test(weather_is_said_with_where_it_comes_from),
        cmocka_unit_test(what_moved_the_day_is_said),
        cmocka_unit_test(room_and_memory_have_ends),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
