/* The demo garden as it would have gone in each of the four recorded years: its plan moved to that year, its jobs on the
 * 15th of nine months. tests/golden/four-years.csv holds what the engine said when it was last looked over; a change of a
 * model, a rule or a crop shows there, line by line. `make accept` records it anew: read the diff.
 * The plan is our own; what keeps this honest is the reading, not a source. The weather is real (tests/data/README.md). */
#include "dewbell/job.h"
#include "read/read.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "base/banned.h"

static const char golden_file[] = "tests/golden/four-years.csv";
enum { LAST_YEAR = 2015, YEARS = 4, BACK = 3, AHEAD = 14 };

/* The same day so many years earlier. */
static struct db_date moved(struct db_date date, int years)
{
    int year, month, day;
    struct db_date there = date;

    if (db_date_known(date)) {
        db_date_parts(date, &year, &month, &day);
        assert_int_equal(db_date_of(year - years, month, day, &there), DB_OK);
    }
    return there;
}

static const struct db_garden *moved_garden(const struct db_garden *from, int years, struct db_arena *arena)
{
    struct db_garden *to = db_garden_new(arena, db_garden_site(from));

    assert_non_null(to);
    for (size_t i = 0; i < db_garden_beds(from); i++)
        assert_int_equal(db_garden_add_bed(to, db_garden_bed(from, i), NULL), DB_OK);
    for (size_t i = 0; i < db_garden_sowings(from); i++) {
        struct db_sowing sowing = *db_garden_sowing(from, i);

        sowing.planned = moved(sowing.planned, years);
        sowing.sown = moved(sowing.sown, years);
        assert_int_equal(db_garden_add_sowing(to, &sowing), DB_OK);
    }
    return to;
}

/* What the gardeners of the demo noted; nobody noted anything in the other years. */
static struct db_diary *read_diary(const struct db_garden *garden, struct db_arena *arena)
{
    struct db_diary *diary = db_diary_new(arena);
    FILE *file = fopen("contrib/demo/notes", "r");
    char line[256], sowing[64], word[64], date[64];
    int64_t number = 0;

    assert_non_null(diary);
    assert_non_null(file);
    while (fgets(line, sizeof line, file)) {
        struct db_note note = { .number = number + 1, .text = "" };

        if (line[0] == '#' || line[0] == ';' || sscanf(line, "%63s %63s %63s", sowing, word, date) != 3)
            continue;
        note.sowing = db_arena_text(arena, sowing, strlen(sowing));
        note.word = db_arena_text(arena, word, strlen(word));
        assert_int_equal(db_date_read(date, strlen(date), &note.date), DB_OK);
        assert_int_equal(db_diary_add(diary, &note), DB_OK);
        number++;
    }
    (void) fclose(file);
    assert_int_equal(db_diary_close(diary, garden), DB_OK);
    return diary;
}

static void tell(FILE *out, const struct db_jobs *jobs, struct db_date today)
{
    static const char *const states[] = { "open", "done", "missed" };

    for (size_t i = db_jobs_from(jobs, db_date_add(today, -BACK)); i < db_jobs_count(jobs); i++) {
        const struct db_job *job = db_jobs_at(jobs, i);
        char name[128], on[11], first[11], best[11], last[11];

        if (job->best.day > today.day + AHEAD)
            break;
        (void) db_job_name(jobs, job, name, sizeof name);
        (void) fprintf(out, "%s,%s,%s,%s,%s,%s\n", db_date_iso(today, on), name, states[job->state],
                       db_date_iso(job->first, first), db_date_iso(job->best, best), db_date_iso(job->last, last));
    }
}

static void play(FILE *out)
{
    struct db_arena *arena = db_arena_new((size_t) 256 << 20);
    struct db_mistakes *mistakes = db_mistakes_new(arena);
    struct db_estate demo;

    assert_non_null(mistakes);
    assert_int_equal(db_estate_read("contrib/demo/garden.ini", "rules", arena, mistakes, &demo), DB_OK);
    /* Without the gardeners' days: each job stands on its best one. */
    db_garden_set_week((struct db_garden *) (uintptr_t) demo.garden, &(struct db_week){ 0 });
    (void) fputs("on,job,state,first,best,last\n", out);
    for (int years = YEARS - 1; years >= 0; years--) {
        struct db_estate estate = demo;

        if (years)
            estate.garden = moved_garden(demo.garden, years, arena);
        for (int month = 2; month <= 10; month++) {
            struct db_arena *work = db_arena_new((size_t) 64 << 20);
            struct db_view view = { .garden = estate.garden, .rules = demo.rules };
            struct db_weather *weather = NULL;
            const struct db_jobs *jobs = NULL;

            assert_int_equal(db_date_of(LAST_YEAR - years, month, 15, &view.today), DB_OK);
            assert_int_equal(db_estate_weather(&estate, view.today, work, mistakes, &weather), DB_OK);
            view.weather = weather;
            view.diary = years ? NULL : read_diary(demo.garden, work);
            assert_int_equal(db_garden_evaluate(&view, work, &jobs), DB_OK);
            tell(out, jobs, view.today);
            (void) db_arena_free(work);
        }
    }
    (void) db_arena_free(arena);
}

static void four_years_are_as_they_were(void **state)
{
    char *text = NULL;
    size_t size = 0;
    FILE *out = open_memstream(&text, &size), *golden;
    char line[256];
    const char *at;
    int number = 0;

    (void) state;
    assert_non_null(out);
    play(out);
    (void) fclose(out);
    if (getenv("ACCEPT")) {
        golden = fopen(golden_file, "w");
        assert_non_null(golden);
        assert_int_equal(fwrite(text, 1, size, golden), size);
        assert_int_equal(fclose(golden), 0);
    }
    golden = fopen(golden_file, "r");
    assert_non_null(golden);
    for (at = text; fgets(line, sizeof line, golden); at += strlen(line)) {
        number++;
        if (strncmp(at, line, strlen(line)) != 0)
            fail_msg("%s:%d: was %smade %.*s; read the change, then `make accept`", golden_file, number, line,
                     (int) strcspn(at, "\n"), at);
    }
    if (*at)
        fail_msg("%s ends before %.*s", golden_file, (int) strcspn(at, "\n"), at);
    assert_true(number > 200);
    (void) fclose(golden);
    free(text);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(four_years_are_as_they_were),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
