/* What is said of a day that has too much, and on the last day at home. 10 June 2015 is a Wednesday. */
#include "dewbell/job.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "kit/plot.h"
#include "kit/rules.h"

#include "write/private.h"

#include "base/banned.h"

enum { BEFORE = 450, AHEAD = 430, FORECAST = 5 };
static struct plot plot;
static struct db_crop_facts carrot;
static const struct db_bed *north;
static struct db_date today;

static const char *const rules =
    "[sow]\njob = Sow {crops} in {bed}\nduring = planned .. planned + 10 days\nrecords = sown\neffort = 40 min\n"
    "[tie]\njob = Tie up {sowing}\nfor = noted(sown)\nduring = sown + 30 days .. sown + 30 days\nrecords = tied\n"
    "effort = 25 min\n"
    "[dip]\njob = Dip {sowing}\nround = Dip what is in {bed}\nitem = {crops}\nfor = noted(sown)\nduring = sown + 60 "
    "days .. "
    "sown + 60 days\nrecords = dipped\neffort = 25 min\n"
    "[rescue]\njob = Rescue {sowing}\nfor = noted(sown)\nduring = sown + 40 days .. sown + 41 days\nrecords = rescued\n"
    "effort = 50 min\nurgency = cannot wait\n"
    "[look]\njob = Look at {sowing}\nfor = noted(sown)\nduring = sown + 50 days .. sown + 55 days\nrecords = looked\n"
    "every = 1 days\neffort = 5 min\n";

/* A carrot planned for or sown on a day from today, by day in a garden with so many minutes each Wednesday. */
static void begin(int wednesdays)
{
    const struct db_week week = { .given = true, .counted = true, .minutes = { [2] = wednesdays } };

    carrot = kit_crop("carrot");
    today = on(2015, 6, 10);
    plot = plot_new(51.5, 0);
    north = plot_bed(&plot, "north", DB_COVER_OPEN);
    plot_rules(&plot, rules);
    plot_mild(&plot, today, BEFORE, AHEAD, FORECAST);
    db_garden_set_week(plot.garden, &week);
}

static void add(const char *id, int planned, int sown)
{
    plot_sow(&plot, (struct db_sowing){ .id = id,
                                        .crop = &carrot,
                                        .bed = north,
                                        .planned = sown ? DB_NO_DATE : db_date_add(today, planned),
                                        .sown = sown ? db_date_add(today, sown) : DB_NO_DATE });
}

static void says(int day, const char *expected)
{
    const struct db_jobs *jobs = NULL;

    plot_close_diary(&plot);
    assert_int_equal(db_garden_evaluate(&plot.view, plot.arena, &jobs), DB_OK);
    assert_string_equal(db_days_say(jobs, db_date_add(today, day), plot.arena), expected);
}

static void a_day_with_time_enough_says_nothing(void **state)
{
    (void) state;
    begin(90);
    add("one", 0, 0);
    add("two", 0, -30);
    says(0, "");
    says(1, "");
    says(-1, "");
    plot_free(&plot);
}

/* 50 + 25 + 40 min in 30: what cannot wait is not named, what has another Wednesday is put off to it by itself. */
static void a_day_with_too_much_says_what_to_give_up(void **state)
{
    (void) state;
    begin(30);
    add("old", 0, -40);
    add("one", 0, -30);
    says(0, "45 min more than the 30 min that Wednesday has. What is left undone if need be: Tie up one (25 min).");
    plot_free(&plot);

    begin(30);
    add("old", 0, -40);
    says(0, "20 min more than the 30 min that Wednesday has. None of it can wait.");
    plot_free(&plot);

    begin(10); /* what is done in one go is named once */
    add("a", 0, -60);
    add("b", 0, -60);
    says(0, "40 min more than the 10 min that Wednesday has. What is left undone if need be: Dip what is in north: "
            "carrot (a); carrot "
            "(b) (50 min).");
    plot_free(&plot);

    begin(30); /* sowing takes longer than any Wednesday has; it can wait for the next */
    add("three", 0, 0);
    says(0, "10 min more than the 30 min that Wednesday has. What can wait: Sow carrot in north (40 min, until Sat 20 "
            "June).");
    plot_free(&plot);

    begin(30);
    add("two", 0, -29); /* to be tied up tomorrow */
    says(1, "Thursday has no time for the garden, but what stands on it has no other day: 25 min in all.");
    plot_free(&plot);
}

static void who_leaves_is_told_what_falls_due(void **state)
{
    static struct db_away away[2];
    struct db_week week = { .given = true, .counted = true, .minutes = { [2] = 240 }, .away = away, .away_count = 1 };

    (void) state;
    begin(240);
    away[0] = (struct db_away){ db_date_add(today, 1), db_date_add(today, 8) };
    db_garden_set_week(plot.garden, &week);
    add("one", 0, -28);
    add("two", 0, -47);
    add("three", 5, 0); /* put off to the Wednesday after the days away */
    says(0,
         "You are away from tomorrow, Thu 11 June, to Thu 18 June. What falls due meanwhile is for somebody else, each "
         "from the day on that it says:\n- Fri 12 June: Tie up one\n- Sat 13 June: Look at two\nWhat the weather will "
         "ask for after Mon 15 June is not known yet: water, shade, fleece.");
    says(2, "You are away until Thu 18 June: this is for somebody else.");
    says(1, "");
    says(8, "You are away until Thu 18 June: this is for somebody else."); /* still to be looked at */
    says(9, "");
    plot_free(&plot);

    begin(240);
    away[0] = (struct db_away){ db_date_add(today, 1), db_date_add(today, 1) };
    db_garden_set_week(plot.garden, &week);
    says(0, "You are away tomorrow, Thu 11 June. Nothing falls due meanwhile.");
    plot_free(&plot);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_day_with_time_enough_says_nothing),
        cmocka_unit_test(a_day_with_too_much_says_what_to_give_up),
        cmocka_unit_test(who_leaves_is_told_what_falls_due),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
