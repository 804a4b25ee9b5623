/* No shipped rule asks for a harvest of any shipped crop out of ground whose raw manure is not old enough yet (7 CFR 205.203:
 * 120 days, 90 where what is eaten hangs clear of the soil), on the recorded weather of Seattle, looked at every other week. */
#include "dewbell/job.h"

#include "read/read.h"
#include "rules/run.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "rule_batch.h"

#include "kit/thrift.h"

#include "base/banned.h"

static int looked, waited, harvests;

static bool is(const char *rule, const char *name)
{
    return strcmp(rule, name) == 0;
}

static void check_jobs(const struct looked_at *seen, const struct db_crop_facts *crop, struct db_date old)
{
    for (size_t i = 0; i < db_jobs_count(seen->jobs); i++) {
        const struct db_job *job = db_jobs_at(seen->jobs, i);
        const char *rule = db_rule_name(estate.rules, job->rule);
        char first[11];

        if (is(rule, "leave-until-the-manure-is-old")) {
            waited++;
            if (job->last.day != old.day - 1)
                fail_msg("%s: the wait ends on %s", crop->id, db_date_iso(job->last, first));
        } else if (is(db_rule_theme(estate.rules, job->rule), "Harvest")) {
            harvests++;
            if (job->first.day < old.day)
                fail_msg("%s: %s from %s on", crop->id, rule, db_date_iso(job->first, first));
        }
    }
}

static void no_harvest_out_of_fresh_manure(void **state)
{
    static const char *const sown[] = { "2014-03-10", "2014-05-20", "2014-07-10", "2014-09-05" };

    (void) state;
    for (size_t c = 0; c < db_crops_count(estate.crops); c += (size_t) thrift(1, 9))
        for (size_t d = 0; d < sizeof sown / sizeof sown[0]; d++) {
            const struct db_crop_facts *crop = db_crops_at(estate.crops, c);
            const bool tray = crop->usual == DB_WAY_PLUGS || crop->usual == DB_WAY_POT;
            const struct batch batch = { crop->id, tray ? "bench" : "north",   tray ? "north" : NULL, crop->usual, NULL,
                                         sown[d],  { { "+manured", sown[d] } } };
            const struct db_date old = db_date_add(day_of(sown[d]), (int32_t) db_crop_manure_wait(crop));

            for (struct db_date day = day_of(sown[d]); day.day < old.day + 14; day.day += 14) {
                char iso[11];

                (void) db_date_iso(day, iso);
                const struct looked_at seen = look(&batch, iso);

                check_jobs(&seen, crop, old);
                db_arena_free(seen.arena);
                looked++;
            }
        }
    print_message("%d gardens, %d harvests, %d waits\n", looked, harvests, waited);
    assert_true(looked > thrift(1500, 150) && harvests > thrift(3000, 300) && waited > thrift(500, 50));
}

static bool says(const struct looked_at *seen, const struct db_job *job, const char *wanted)
{
    struct db_reason reasons[16];
    size_t count;

    assert_int_equal(db_job_why(seen->jobs, job, seen->arena, reasons, 16, &count), DB_OK);
    for (size_t i = 0; i < count; i++)
        if (strstr(reasons[i].text, wanted))
            return true;
    for (size_t i = 0; i < count; i++)
        print_error("%s\n", reasons[i].text);
    return false;
}

/* 120 days from 1 April 2015 are 30 July. */
static void the_reasons_name_the_manure(void **state)
{
    const struct batch batch = {
        "lettuce", "north", NULL, DB_WAY_DRILL, NULL, "2015-04-20", { { "+manured", "2015-04-01" } }
    };
    const struct batch roots = {
        "carrot", "north", NULL, DB_WAY_DRILL, NULL, "2015-02-04", { { "+manured", "2015-04-01" } }
    };
    const struct looked_at seen = look(&roots, "2015-07-30"), before = look(&batch, "2015-06-20");
    const struct db_job *harvest = open_job(&seen, "begin-the-harvest", "2015-07-30"),
                        *wait = open_job(&before, "leave-until-the-manure-is-old", "2015-06-20");

    (void) state;
    assert_non_null(harvest);
    assert_non_null(wait);
    assert_true(says(&seen, harvest,
                     "The first harvest is likely on 30 July, as raw manure of 1 April has to be 120 days old; they "
                     "would be ready on "));
    assert_true(says(&before, wait, "Raw manure was dug into the north bed on 1 April."));
    assert_true(says(&before, wait,
                     "What is eaten of lettuce touches the soil, so the harvest waits for 120 days after raw manure."));
    assert_true(says(&before, wait, "But for the manure they would be ready on "));
    assert_non_null(strstr(db_job_summary(before.jobs, wait, before.arena), "until 30 July: manured on 1 April"));
    db_arena_free(seen.arena);
    db_arena_free(before.arena);
}

/* Lettuce is good for two weeks and radishes for ten days: ready in June and in May, they are no harvest at the end of July, and not
 * worth water. */
static void what_is_over_before_is_no_harvest(void **state)
{
    static const char *const crops[] = { "lettuce", "radish" };

    (void) state;
    for (size_t c = 0; c < 2; c++)
        for (struct db_date day = day_of("2015-07-01"); day.day < day_of("2015-08-20").day; day.day += 3) {
            const struct batch batch = {
                crops[c], "north", NULL, DB_WAY_DRILL, NULL, "2015-04-20", { { "+manured", "2015-04-01" } }
            };
            char iso[11];
            const struct looked_at seen = look(&batch, db_date_iso(day, iso));

            for (size_t i = 0; i < db_jobs_count(seen.jobs); i++) {
                const char *rule = db_rule_name(estate.rules, db_jobs_at(seen.jobs, i)->rule);

                if (is(rule, "begin-the-harvest") || is(rule, "water-the-plants"))
                    fail_msg("%s of %s on %s", rule, crops[c], iso);
            }
            db_arena_free(seen.arena);
        }
}

int main(void)
{
    const struct CMUnitTest tests[] = { cmocka_unit_test(no_harvest_out_of_fresh_manure),
                                        cmocka_unit_test(the_reasons_name_the_manure),
                                        cmocka_unit_test(what_is_over_before_is_no_harvest) };

    return cmocka_run_group_tests_name("data_manure", tests, read_estate, free_estate);
}
