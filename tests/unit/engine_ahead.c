/* What was published for days to come and would be over by today's weather stays asked for, and what follows comes after it. The
 * tomato of engine_life.c: it goes out to harden three weeks before the nights let it be planted. */
#include "dewbell/job.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "kit/plot.h"
#include "kit/rules.h"

#include "kit/calm.h"

#include "base/banned.h"

enum { DAYS = 700 };

static const char rules[] =
    "[harden]\njob = Put {crops} out by day\nduring = hardening .. hardening + 4 days\nrecords = hardening\n"
    "[leave]\njob = Leave {crops} out\nduring = hardening + 6 days .. hardening + 12 days\nrecords = left_out\n";
static struct plot plot;
static struct shelf shelf;
static struct db_crop_facts tomato;

/* Nights of 8 until `mild`, of 12 from then on. */
static const struct db_jobs *look(struct db_date mild, struct db_date today, struct db_date hardened)
{
    const struct db_date first = on(2014, 1, 1);
    const struct db_jobs *jobs = NULL;

    plot_free(&plot);
    plot = plot_new(51.5, 0);
    tomato = kit_crop("tomato");
    tomato.low[DB_FACT_FROST_LIMIT] = tomato.high[DB_FACT_FROST_LIMIT] = 5; /* as db_crops_add would */
    plot_rules(&plot, rules);
    plot_weather(&plot, first, DAYS);
    for (int i = 0; i < DAYS; i++)
        plot_day(&plot, db_date_add(first, i), first.day + i < mild.day ? 8 : 12, 20, 0);
    plot_sow(&plot, (struct db_sowing){ .id = "t",
                                        .crop = &tomato,
                                        .bed = plot_bed(&plot, "bench", DB_COVER_INDOORS),
                                        .into = plot_bed(&plot, "north", DB_COVER_OPEN),
                                        .way = DB_WAY_POT,
                                        .planned = DB_NO_DATE,
                                        .sown = on(2015, 3, 1) });
    if (db_date_known(hardened))
        plot_note(&plot, "t", "hardening", hardened);
    plot_close_diary(&plot);
    plot.view.today = today;
    plot.view.published = &shelf.all;
    assert_int_equal(db_garden_evaluate(&plot.view, plot.arena, &jobs), DB_OK);
    return jobs;
}

static void stands(const struct db_jobs *jobs, const char *name, enum db_job_state state, struct db_date first,
                   struct db_date last)
{
    const struct db_job *job = db_jobs_find(jobs, name);
    char is[2][11];

    if (!job)
        fail_msg("there is no %s", name);
    if (job->state != state || job->first.day != first.day || job->last.day != last.day)
        fail_msg("%s: state %d, %s to %s", name, (int) job->state, db_date_iso(job->first, is[0]),
                 db_date_iso(job->last, is[1]));
}

static int end(void **state)
{
    (void) state;
    plot_free(&plot);
    shelf_free(&shelf);
    return 0;
}

static void a_step_still_to_come_is_not_thrown_into_the_past(void **state)
{
    const struct db_date may_12 = on(2015, 5, 12), late = on(2015, 5, 20), early = on(2015, 4, 24),
                         today = on(2015, 5, 9);

    (void) state;
    const struct db_jobs *jobs = look(late, on(2015, 5, 8), DB_NO_DATE);
    (void) shelf_put(&shelf, jobs, plot.arena);
    stands(look(late, today, DB_NO_DATE), "harden/t", DB_JOB_OPEN, may_12, on(2015, 5, 16));

    /* Mild nights were there from 24 April on, as it turns out: it would have been out since 17 April. It was not. */
    jobs = look(early, today, DB_NO_DATE);
    stands(jobs, "harden/t", DB_JOB_OPEN, today, on(2015, 5, 13));
    assert_int_equal(db_jobs_life(jobs, 0)->stage[DB_STAGE_HARDENING].likely.day, today.day);
    assert_int_equal(db_jobs_life(jobs, 0)->stage[DB_STAGE_PLANTED].likely.day, today.day + 14);
    stands(jobs, "leave/t", DB_JOB_OPEN, on(2015, 5, 15), on(2015, 5, 21));

    /* Once published it stays so, to the byte, and on the days after. */
    (void) shelf_put(&shelf, jobs, plot.arena);
    jobs = look(early, today, DB_NO_DATE);
    assert_int_equal(shelf_put(&shelf, jobs, plot.arena), 0);
    stands(look(early, on(2015, 5, 13), DB_NO_DATE), "harden/t", DB_JOB_OPEN, today, on(2015, 5, 13));

    /* Its days gone by, it counts as done when the nights allowed it: who notes nothing may have done it any time. */
    stands(look(early, on(2015, 5, 14), DB_NO_DATE), "harden/t", DB_JOB_MISSED, today, on(2015, 5, 13));

    /* And a note says when it was. */
    jobs = look(early, on(2015, 5, 12), on(2015, 5, 11));
    assert_int_equal(db_jobs_life(jobs, 0)->stage[DB_STAGE_HARDENING].likely.day, on(2015, 5, 11).day);
    stands(jobs, "leave/t", DB_JOB_OPEN, on(2015, 5, 17), on(2015, 5, 23));
}

/* Without a word published, all stands where the weather puts it. */
static void nothing_is_held_that_was_not_published(void **state)
{
    (void) state;
    const struct db_jobs *jobs = look(on(2015, 4, 24), on(2015, 5, 9), DB_NO_DATE);

    assert_int_equal(db_jobs_find(jobs, "harden/t")->state, DB_JOB_MISSED);
    assert_true(db_jobs_find(jobs, "harden/t")->last.day < on(2015, 5, 1).day);
}

/* Who plants into a tunnel must not leave the trays out in the open at night. */
static void the_shelter_is_named(void **state)
{
    static const char leave[] = "[leave]\njob = Leave {crops} out, {shelter}\nduring = sown .. sown + 300 days\n";
    static const struct {
        enum db_cover cover;
        const char *expected;
    } cases[] = { { DB_COVER_OPEN, "Leave tomato out" },
                  { DB_COVER_FLEECE, "Leave tomato out" },
                  { DB_COVER_TUNNEL, "Leave tomato out, in that bed" },
                  { DB_COVER_FRAME, "Leave tomato out, in that bed" } };

    (void) state;
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        struct db_bed into = { .id = "that", .name = "that bed", .where = "in that bed", .cover = cases[i].cover };
        const struct db_jobs *jobs = NULL;

        plot = plot_new(51.5, 0);
        tomato = kit_crop("tomato");
        plot_rules(&plot, leave);
        plot_weather(&plot, on(2014, 1, 1), DAYS);
        for (int k = 0; k < DAYS; k++)
            plot_day(&plot, db_date_add(on(2014, 1, 1), k), 10, 20, 0);
        plot_sow(&plot, (struct db_sowing){ .id = "t",
                                            .crop = &tomato,
                                            .bed = plot_bed(&plot, "bench", DB_COVER_INDOORS),
                                            .into = &into,
                                            .way = DB_WAY_POT,
                                            .planned = DB_NO_DATE,
                                            .sown = on(2015, 3, 1) });
        plot_close_diary(&plot);
        plot.view.today = on(2015, 3, 20);
        assert_int_equal(db_garden_evaluate(&plot.view, plot.arena, &jobs), DB_OK);
        assert_string_equal(db_job_summary(jobs, db_jobs_find(jobs, "leave/t"), plot.arena), cases[i].expected);
        plot_free(&plot);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_teardown(a_step_still_to_come_is_not_thrown_into_the_past, end),
        cmocka_unit_test(the_shelter_is_named),
        cmocka_unit_test_teardown(nothing_is_held_that_was_not_published, end),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
