/* Runs of dry days in recorded weather, as a rule sees them: a spell is a job from its first day to its last. The longest
 * of each year, counted in the file by a program apart from this one. The weather: tests/data/README.md. */
#include "dewbell/job.h"

#include "tables.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "kit/plot.h"
#include "kit/rules.h"

#include "base/banned.h"

enum { WINDOW = 110, APART = 10 }; /* days; a spell of up to 100 days lies whole in the window of one of the sowings */

struct run {
    int32_t days, last;
};

/* The longest spell among the jobs of one carrot, sown on this day, as they stand when its window has passed. */
static struct run longest_in_window(struct db_date sown)
{
    const struct record *record = seattle();
    const struct db_crop_facts carrot = kit_crop("carrot");
    const struct db_jobs *jobs = NULL;
    struct plot plot = plot_new(47.45, -122.3);
    struct run longest = { 0 };

    plot_rules(&plot, "[water]\njob = Water {crops}\nduring = sown .. sown + 110 days\nwhile = rain < 1 mm\n");
    plot_weather(&plot, record->first, RECORD_DAYS);
    for (int32_t i = 0; i < RECORD_DAYS; i++)
        plot_day(&plot, db_date_add(record->first, i), record->low[i], record->high[i], record->rain[i]);
    plot_sow(&plot, (struct db_sowing){ .id = "a",
                                        .crop = &carrot,
                                        .bed = plot_bed(&plot, "north", DB_COVER_OPEN),
                                        .planned = DB_NO_DATE,
                                        .sown = sown });
    plot_close_diary(&plot);
    plot.view.today = db_date_add(sown, WINDOW + 1);
    assert_int_equal(db_garden_evaluate(&plot.view, plot.arena, &jobs), DB_OK);
    for (size_t i = 0; i < db_jobs_count(jobs); i++) {
        const struct db_job *job = db_jobs_at(jobs, i);

        if (job->last.day - job->first.day + 1 > longest.days)
            longest = (struct run){ job->last.day - job->first.day + 1, job->last.day };
    }
    plot_free(&plot);
    return longest;
}

static void the_longest_dry_run_of_each_year(void **state)
{
    const struct run known[] = { { 81, on(2012, 10, 11).day },
                                 { 35, on(2013, 8, 1).day },
                                 { 24, on(2014, 7, 22).day },
                                 { 54, on(2015, 7, 25).day } };

    (void) state;
    for (int y = 0; y < 4; y++) {
        const struct db_date new_year = on(2012 + y, 1, 1), end = on(2012 + y, 12, 31);
        struct run longest = { 0 };

        for (int32_t day = new_year.day; day + WINDOW + 1 <= end.day; day += APART) {
            const struct run run = longest_in_window((struct db_date){ day });

            if (run.days > longest.days)
                longest = run;
        }
        if (longest.days != known[y].days || longest.last != known[y].last)
            fail_msg("%d: %d days to day %d, not %d to %d", 2012 + y, longest.days, longest.last, known[y].days,
                     known[y].last);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_longest_dry_run_of_each_year),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
