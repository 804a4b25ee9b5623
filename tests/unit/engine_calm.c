/* A published job moves when docs/models.md, "Calm", says so, and not before. The weather is made so that a rule's best day
 * is the one warm day of it, and a spell is its cold days. */
#include "dewbell/job.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "kit/calm.h"
#include "kit/plot.h"
#include "kit/rules.h"

#include "base/banned.h"

enum { BEFORE = 450, AHEAD = 450, NONE = 999, COLD = 12 };

static const char tend[] = "[tend]\njob = Tend {crop}\nduring = sown + 5 days .. sown + 110 days\n"
                           "best = after(sown, 1 days, low > 10 °C)\nhow = It is {low} on the day.\nrecords = tended\n";
static const char tend_closely[] = "[tend]\njob = Tend {crop} closely\nduring = sown + 5 days .. sown + 110 days\n"
                                   "best = after(sown, 1 days, low > 10 °C)\n";
static const char held_back[] = "[tend]\njob = Tend {crop}\nduring = sown + 12 days .. sown + 30 days\n"
                                "hold = low < 2 °C\n";
static const char narrow[] = "[tend]\njob = Tend {crop}\nduring = after(sown, 1 days, low > 10 °C) - 1 days .. "
                             "after(sown, 1 days, low > 10 °C) + 2 days\nbest = after(sown, 1 days, low > 10 °C)\n";
static const char window[] = "[tend]\njob = Tend {crop}\nduring = sown + 15 days .. after(sown, 1 days, low > 10 °C)\n"
                             "best = sown + 20 days\n";
static const char fleece[] = "[fleece]\njob = Lay fleece over {crop}\nduring = sown .. sown + 110 days\n"
                             "while = low < 2 °C\nuntil = low > 4 °C\nrecords = fleeced\n";

/* What the next evaluation sees; days count from day 0, ten days after sowing. */
static struct {
    const char *rules;
    int warm, cold[COLD], note, note_today;
    const char *note_word;
    double row;
} seen;
static struct shelf shelf;
static struct plot plot;
static struct db_crop_facts carrot;
static struct db_date zero;

static int begin(void **state)
{
    (void) state;
    memset(&seen, 0, sizeof seen);
    seen.rules = tend;
    seen.warm = seen.note = NONE;
    seen.note_word = "looked";
    for (int i = 0; i < COLD; i++)
        seen.cold[i] = NONE;
    zero = on(2015, 6, 10);
    return 0;
}

static int end(void **state)
{
    (void) state;
    plot_free(&plot);
    shelf_free(&shelf);
    return 0;
}

static void cold_days(int count, ...)
{
    va_list days;

    va_start(days, count);
    for (int i = 0; i < COLD; i++)
        seen.cold[i] = i < count ? va_arg(days, int) : NONE;
    va_end(days);
}

static const struct db_jobs *look(int today)
{
    const struct db_jobs *jobs = NULL;

    plot_free(&plot);
    plot = plot_new(51.5, 0);
    carrot = kit_crop("carrot");
    plot_rules(&plot, seen.rules);
    plot_weather(&plot, db_date_add(zero, -BEFORE), BEFORE + AHEAD);
    for (int i = -BEFORE; i < AHEAD; i++) {
        double low = i == seen.warm ? 11 : 8;
        for (int k = 0; k < COLD; k++)
            low = i == seen.cold[k] ? 0 : low;
        plot_day(&plot, db_date_add(zero, i), low, 18, 0);
    }
    plot_sow(&plot, (struct db_sowing){ .id = "carrot-1",
                                        .crop = &carrot,
                                        .bed = plot_bed(&plot, "north", DB_COVER_OPEN),
                                        .planned = DB_NO_DATE,
                                        .sown = db_date_add(zero, -10),
                                        .row = 1000 + seen.row });
    if (seen.note != NONE)
        plot_note(&plot, "carrot-1", seen.note_word, db_date_add(zero, seen.note));
    plot_close_diary(&plot);
    plot.view.today = db_date_add(zero, today);
    plot.view.published = &shelf.all;
    assert_int_equal(db_garden_evaluate(&plot.view, plot.arena, &jobs), DB_OK);
    return jobs;
}

static void publish(const struct db_jobs *jobs)
{
    (void) shelf_put(&shelf, jobs, plot.arena);
}

static const struct db_job *the(const struct db_jobs *jobs, const char *name)
{
    const struct db_job *job = db_jobs_find(jobs, name);

    if (!job)
        fail_msg("there is no job %s", name);
    return job;
}

static int best_of(const struct db_jobs *jobs)
{
    return the(jobs, "tend/carrot-1")->best.day - zero.day;
}

static void expect_spell(const struct db_jobs *jobs, const char *name, int first, int best, int last)
{
    const struct db_job *job = the(jobs, name);

    if (job->first.day - zero.day != first || job->best.day - zero.day != best || job->last.day - zero.day != last)
        fail_msg("%s: expected %d %d %d, got %d %d %d", name, first, best, last, job->first.day - zero.day,
                 job->best.day - zero.day, job->last.day - zero.day);
}

static void each_row_of_the_table(void **state)
{
    /* days off, shift, days since its last move (NONE: it has not moved), whether it may move */
    static const struct {
        int off, shift, rested;
        bool moves;
    } rows[] = {
        { 30, 3, NONE, false }, { 30, -3, NONE, false }, { 30, 4, NONE, true },  { 30, -4, NONE, true },
        { 30, 9, 0, false },    { 30, 9, 6, false },     { 30, 9, 7, true },     { 15, 3, NONE, false },
        { 15, 4, 6, false },    { 15, 4, 7, true },      { 14, 1, NONE, false }, { 14, 2, NONE, true },
        { 14, -2, NONE, true }, { 14, 9, 0, false },     { 14, 2, 1, true },     { 4, 1, NONE, false },
        { 4, -1, NONE, false }, { 4, 2, 1, true },       { 4, 9, 0, false },     { 3, 1, NONE, true },
        { 3, -1, NONE, true },  { 3, 1, 0, false },      { 3, 1, 1, true },      { 1, 1, NONE, true },
        { 1, -1, NONE, true },  { 1, 1, 0, false },      { 0, 1, NONE, false },  { 0, 9, NONE, false },
        { 0, 9, 9, false },     { 30, -28, 2, true }, /* far off as published, at hand by now */
        { 30, -28, 0, false },
    };

    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        (void) begin(state);
        seen.warm = rows[i].off;
        publish(look(0));
        assert_int_equal(best_of(look(0)), rows[i].off);
        if (rows[i].rested != NONE)
            shelf.rows[0].moved = db_date_add(zero, -rows[i].rested);
        seen.warm = rows[i].off + rows[i].shift;
        const int got = best_of(look(0)), want = rows[i].off + (rows[i].moves ? rows[i].shift : 0);
        if (got != want)
            fail_msg("%d days off, shift %d, rested %d: best day %d, not %d", rows[i].off, rows[i].shift,
                     rows[i].rested, got, want);
        (void) end(state);
    }
}

static void a_wobble_never_reaches_the_calendar(void **state)
{
    static const int wobble[] = { 31, 29, 32, 28, 33, 30, 27 };
    unsigned char before[16], after[16];

    (void) state;
    seen.warm = 30;
    const struct db_jobs *jobs = look(0);
    db_job_meaning(jobs, the(jobs, "tend/carrot-1"), before);
    publish(jobs);
    for (size_t i = 0; i < sizeof wobble / sizeof wobble[0]; i++) {
        seen.warm = wobble[i];
        jobs = look(0);
        db_job_meaning(jobs, the(jobs, "tend/carrot-1"), after); /* its text prints the low of the day: 11, now 8 */
        assert_memory_equal(before, after, 16);
        assert_int_equal(shelf_put(&shelf, jobs, plot.arena), 0);
    }
}

static void why_says_that_it_is_held(void **state)
{
    (void) state;
    seen.warm = 30;
    const struct db_jobs *jobs = look(0);
    assert_string_equal(db_job_held(jobs, the(jobs, "tend/carrot-1"), plot.arena), "");
    publish(jobs);
    seen.warm = 31;
    jobs = look(0);
    assert_string_equal(
        db_job_held(jobs, the(jobs, "tend/carrot-1"), plot.arena),
        "The weather has shifted since: worked out today the best day would be 11 July. The job stays on "
        "10 July, where it was published, so that the calendar does not jump about.");
}

static void todays_job_moves_tomorrow(void **state)
{
    (void) state;
    seen.warm = 2;
    publish(look(0));
    seen.warm = 5; /* noon of the day before: it may */
    publish(look(1));
    assert_int_equal(best_of(look(1)), 5);
    publish(look(5));
    seen.warm = 9; /* noon of the day itself: it may not */
    publish(look(5));
    assert_int_equal(best_of(look(5)), 5);
    assert_int_equal(best_of(look(6)), 9);
}

static void a_job_to_come_is_never_put_into_the_past(void **state)
{
    (void) state;
    seen.warm = 6;
    publish(look(3));
    seen.warm = 1;
    publish(look(3));
    assert_int_equal(best_of(look(3)), 3); /* today, not two days ago */
    assert_int_equal(best_of(look(4)), 3); /* late from then on: it does not run after the day */
}

static void what_the_weather_forbids_moves_at_once(void **state)
{
    (void) state;
    seen.rules = held_back;
    publish(look(0));
    assert_int_equal(best_of(look(0)), 2);
    shelf.rows[0].moved = zero;
    cold_days(1, 2);
    assert_int_equal(best_of(look(0)), 3);
    publish(look(0));
    cold_days(2, 2, 3);
    assert_int_equal(best_of(look(0)), 4);
    publish(look(0));
    cold_days(0);
    assert_int_equal(best_of(look(0)), 4); /* what it allows again waits for tomorrow's move */
    assert_int_equal(best_of(look(1)), 2);
}

/* Published for today, and this morning's forecast has it that it must not be done today. */
static void nobody_is_sent_into_what_the_weather_forbids(void **state)
{
    (void) state;
    seen.rules = held_back;
    publish(look(1));
    publish(look(2));
    assert_int_equal(best_of(look(2)), 2);
    cold_days(1, 2);
    assert_int_equal(best_of(look(2)), 3);
}

static void notes_and_edits_move_at_once(void **state)
{
    (void) state;
    for (int what = 0; what < 4; what++) {
        (void) begin(state);
        seen.warm = 30;
        publish(look(0));
        shelf.rows[0].moved = zero;
        seen.warm = 31;
        assert_int_equal(best_of(look(0)), 30);
        switch (what) {
        case 0:
            seen.note = -1;
            break;
        case 1:
            seen.row = 500;
            break;
        case 2:
            seen.rules = tend_closely;
            break;
        default: /* a note for a day to come says nothing before that day */
            seen.note = 3;
            assert_int_equal(best_of(look(0)), 30);
            assert_int_equal(best_of(look(3)), 31);
            (void) end(state);
            continue;
        }
        assert_int_equal(best_of(look(0)), 31);
        publish(look(0));
        assert_int_equal(best_of(look(0)), 31);
        (void) end(state);
    }
}

/* A note may show that its days are over; it was published for days to come, and nobody did it: it is for today. */
static void what_a_note_puts_into_the_past_is_for_today(void **state)
{
    (void) state;
    seen.rules = narrow;
    seen.warm = 6;
    publish(look(3));
    seen.warm = -2;
    seen.note = 3;
    const struct db_jobs *jobs = look(3);
    assert_int_equal(the(jobs, "tend/carrot-1")->state, DB_JOB_OPEN);
    expect_spell(jobs, "tend/carrot-1", 3, 3, 8);
    assert_string_equal(db_job_held(jobs, the(jobs, "tend/carrot-1"), plot.arena),
                        "Worked out today the best day would have been 8 June. Nobody was asked by then, so it stays "
                        "until it is done or its days are over.");
    publish(jobs);
    jobs = look(3);
    assert_int_equal(shelf_put(&shelf, jobs, plot.arena), 0);
    /* Its days over as published, it is over. */
    seen.note = 8;
    assert_int_equal(the(look(9), "tend/carrot-1")->state, DB_JOB_MISSED);
}

static void done_is_done_at_once(void **state)
{
    (void) state;
    seen.warm = 1;
    publish(look(0));
    seen.note = 0;
    seen.note_word = "tended";
    const struct db_job *job = the(look(0), "tend/carrot-1");
    assert_int_equal(job->state, DB_JOB_DONE);
    assert_int_equal(job->best.day, zero.day);
}

static void windows_stay_with_the_best_day(void **state)
{
    (void) state;
    seen.rules = window; /* days 5 .. warm, best on 10 */
    seen.warm = 30;
    publish(look(0));
    seen.warm = 33;
    assert_int_equal(the(look(0), "tend/carrot-1")->last.day - zero.day, 30);
    seen.warm = 34;
    assert_int_equal(the(look(0), "tend/carrot-1")->last.day - zero.day, 34);
    publish(look(0));
    seen.warm = 60;
    assert_int_equal(the(look(6), "tend/carrot-1")->last.day - zero.day, 34);
    assert_int_equal(the(look(7), "tend/carrot-1")->last.day - zero.day, 60);
}

static void the_window_moves_with_the_best_day(void **state)
{
    (void) state;
    seen.rules = narrow;
    seen.warm = 10;
    publish(look(0));
    seen.warm = 12;
    const struct db_job *job = the(look(0), "tend/carrot-1");
    assert_int_equal(job->first.day - zero.day, 11);
    assert_int_equal(job->last.day - zero.day, 14);
    seen.warm = NONE; /* no such day any more: the job stays for the rest of the day */
    publish(look(0));
    assert_int_equal(best_of(look(0)), 10);
    assert_null(db_jobs_find(look(1), "tend/carrot-1"));
}

static void a_spell_is_known_by_its_days(void **state)
{
    (void) state;
    seen.rules = fleece;
    cold_days(2, 5, 6);
    publish(look(0));
    expect_spell(look(0), "fleece/carrot-1/1", 5, 5, 6);
    cold_days(3, 2, 3, 4); /* it only touches: the same, and within reach of the move */
    expect_spell(look(0), "fleece/carrot-1/1", 2, 2, 4);
    assert_int_equal(db_jobs_count(look(0)), 1);
    cold_days(2, 9, 10); /* two days apart: another one; the first stays for the day */
    expect_spell(look(0), "fleece/carrot-1/1", 5, 5, 6);
    expect_spell(look(0), "fleece/carrot-1/2", 9, 9, 10);
    assert_int_equal(db_jobs_count(look(0)), 2);
}

static void earlier_spells_do_not_renumber_later_ones(void **state)
{
    (void) state;
    seen.rules = fleece;
    cold_days(4, -5, -4, 5, 6);
    publish(look(0));
    expect_spell(look(0), "fleece/carrot-1/1", -5, -5, -4);
    expect_spell(look(0), "fleece/carrot-1/2", 5, 5, 6);
    cold_days(2, 5, 6); /* it turned out that the first never was */
    publish(look(0));
    expect_spell(look(0), "fleece/carrot-1/2", 5, 5, 6);
    publish(look(3));
    assert_null(db_jobs_find(look(3), "fleece/carrot-1/1"));
    expect_spell(look(3), "fleece/carrot-1/2", 5, 5, 6);
    cold_days(5, -8, 2, 3, 5, 6); /* and that one not published was; a new one takes the next number */
    expect_spell(look(3), "fleece/carrot-1/2", 5, 5, 6);
    expect_spell(look(3), "fleece/carrot-1/3", 2, 3, 3);
    assert_int_equal(db_jobs_count(look(3)), 2);
}

static void frost_tonight_comes_at_once(void **state)
{
    (void) state;
    seen.rules = fleece;
    cold_days(1, 8);
    publish(look(0));
    cold_days(2, 0, 8); /* a new one */
    expect_spell(look(0), "fleece/carrot-1/2", 0, 0, 0);
    shelf.rows[0].moved = zero;
    cold_days(9, 0, 1, 2, 3, 4, 5, 6, 7, 8); /* the old one, that has moved today already */
    expect_spell(look(0), "fleece/carrot-1/1", 0, 0, 8);
    assert_int_equal(db_jobs_count(look(0)), 1);
    publish(look(0));
    cold_days(1, 8);
    expect_spell(look(0), "fleece/carrot-1/1", 0, 0, 8); /* today's job stays today's */
}

static void a_spell_stays_until_its_end_has_held(void **state)
{
    (void) state;
    seen.rules = fleece;
    cold_days(2, 3, 4);
    publish(look(0));
    cold_days(0); /* not begun: it stays for the rest of the day, and is gone tomorrow */
    const struct db_jobs *jobs = look(0);
    expect_spell(jobs, "fleece/carrot-1/1", 3, 3, 4);
    assert_string_equal(db_job_held(jobs, the(jobs, "fleece/carrot-1/1"), plot.arena),
                        "The weather has eased since and no longer asks for this; the job stays where it was published "
                        "until that has held for a day.");
    publish(look(0));
    assert_int_equal(db_jobs_count(look(1)), 0);
    publish(look(1));
    cold_days(2, 4, 5); /* it comes back: the same one */
    expect_spell(look(1), "fleece/carrot-1/1", 4, 4, 5);
    publish(look(1));
    publish(look(4));
    cold_days(0); /* begun: it stays a full day more */
    publish(look(4));
    expect_spell(look(5), "fleece/carrot-1/1", 4, 4, 5);
    assert_int_equal(db_jobs_count(look(6)), 0);
}

/* The one warm day of the weather is in the job's line, or only in its how. When no day is warm any more the job stays for the
 * rest of the day, but not with a hole in its line. */
static void what_cannot_be_told_any_more_goes_at_once(void **state)
{
    (void) state;
    for (int told = 0; told < 2; told++) {
        seen.rules = told ? "[tend]\njob = Tend {crop} by {after(sown, 1 days, low > 10 °C)}\n"
                            "during = sown + 5 days .. after(sown, 1 days, low > 10 °C)\n"
                          : "[tend]\njob = Tend {crop}\nhow = By {after(sown, 1 days, low > 10 °C)}.\n"
                            "during = sown + 5 days .. after(sown, 1 days, low > 10 °C)\n";
        seen.warm = 20;
        const struct db_jobs *jobs = look(0);
        assert_string_equal(db_job_summary(jobs, the(jobs, "tend/carrot-1"), plot.arena),
                            told ? "Tend carrot by 30 June" : "Tend carrot");
        publish(jobs);
        seen.warm = NONE;
        assert_int_equal(db_jobs_count(look(0)), told ? 0 : 1);
        shelf_free(&shelf);
    }
}

static void a_spell_that_is_done_stays_done(void **state)
{
    (void) state;
    seen.rules = fleece;
    cold_days(2, 1, 2);
    publish(look(0));
    seen.note = 0;
    seen.note_word = "fleeced";
    publish(look(0));
    assert_int_equal(the(look(0), "fleece/carrot-1/1")->state, DB_JOB_DONE);
    cold_days(2, 3, 4); /* a mild night, and a frost that the note does not answer: another job */
    publish(look(1));
    assert_int_equal(the(look(1), "fleece/carrot-1/1")->state, DB_JOB_DONE);
    const struct db_job *next = the(look(1), "fleece/carrot-1/2");
    assert_int_equal(next->state, DB_JOB_OPEN);
    assert_int_equal(next->best.day - zero.day, 3);
    assert_int_equal(the(look(9), "fleece/carrot-1/1")->state, DB_JOB_DONE);
}

static void what_is_gone_is_forgotten(void **state)
{
    (void) state;
    seen.rules = fleece;
    cold_days(1, 3);
    publish(look(0));
    cold_days(0);
    publish(look(0));
    publish(look(1));
    assert_int_equal(shelf.all.count, 1);
    seen.rules = tend; /* the rule itself is gone */
    seen.warm = 90;
    publish(look(60));
    assert_int_equal(shelf.all.count, 2);
    seen.warm = 99;
    publish(look(61));
    assert_int_equal(shelf.all.count, 1);
}

static void nothing_published_changes_nothing(void **state)
{
    (void) state;
    seen.warm = 30;
    const struct db_jobs *none = look(0), *nowhere = NULL;
    plot.view.published = NULL;
    assert_int_equal(db_garden_evaluate(&plot.view, plot.arena, &nowhere), DB_OK);
    assert_int_equal(db_jobs_count(none), db_jobs_count(nowhere));
    assert_memory_equal(db_jobs_at(none, 0), db_jobs_at(nowhere, 0), sizeof(struct db_job));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(each_row_of_the_table),
        cmocka_unit_test_setup_teardown(a_wobble_never_reaches_the_calendar, begin, end),
        cmocka_unit_test_setup_teardown(why_says_that_it_is_held, begin, end),
        cmocka_unit_test_setup_teardown(todays_job_moves_tomorrow, begin, end),
        cmocka_unit_test_setup_teardown(a_job_to_come_is_never_put_into_the_past, begin, end),
        cmocka_unit_test_setup_teardown(what_the_weather_forbids_moves_at_once, begin, end),
        cmocka_unit_test_setup_teardown(nobody_is_sent_into_what_the_weather_forbids, begin, end),
        cmocka_unit_test(notes_and_edits_move_at_once),
        cmocka_unit_test_setup_teardown(what_a_note_puts_into_the_past_is_for_today, begin, end),
        cmocka_unit_test_setup_teardown(done_is_done_at_once, begin, end),
        cmocka_unit_test_setup_teardown(windows_stay_with_the_best_day, begin, end),
        cmocka_unit_test_setup_teardown(the_window_moves_with_the_best_day, begin, end),
        cmocka_unit_test_setup_teardown(a_spell_is_known_by_its_days, begin, end),
        cmocka_unit_test_setup_teardown(earlier_spells_do_not_renumber_later_ones, begin, end),
        cmocka_unit_test_setup_teardown(frost_tonight_comes_at_once, begin, end),
        cmocka_unit_test_setup_teardown(a_spell_stays_until_its_end_has_held, begin, end),
        cmocka_unit_test_setup_teardown(what_cannot_be_told_any_more_goes_at_once, begin, end),
        cmocka_unit_test_setup_teardown(a_spell_that_is_done_stays_done, begin, end),
        cmocka_unit_test_setup_teardown(what_is_gone_is_forgotten, begin, end),
        cmocka_unit_test_setup_teardown(nothing_published_changes_nothing, begin, end),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
