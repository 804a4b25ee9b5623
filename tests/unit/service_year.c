/* A year of the real loop and keeper on a clock that jumps to whatever comes next. Also what a mistake, a restart with a
 * broken plan, a note of another process and a jump of the clock do. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "kit/sim_clock.h"

#include "read/zone.h"
#include "service/keeper.h"
#include "service/log.h"

#include <ftw.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "base/banned.h"

#define HOUR INT64_C(3600000)
#define DAY (24 * HOUR)

static const char plan[] = "[garden]\n"
                           "name = Wren Yard\n"
                           "key = 0b7a6c52-3d1f-4c0e-9a57-5f5ac29cf0a1\n"
                           "latitude = 52.1\n"
                           "longitude = -1.9\n"
                           "zone = Europe/London\n"
                           "include = beds.ini\n"
                           "[climate]\n"
                           "january = 1.5 °C .. 7 °C, 60 mm\nfebruary = 1.5 °C .. 7.5 °C, 45 mm\n"
                           "march = 2.5 °C .. 10 °C, 45 mm\napril = 4 °C .. 13 °C, 50 mm\n"
                           "may = 7 °C .. 16.5 °C, 55 mm\njune = 10 °C .. 19.5 °C, 55 mm\n"
                           "july = 12 °C .. 22 °C, 60 mm\naugust = 12 °C .. 21.5 °C, 65 mm\n"
                           "september = 9.5 °C .. 18.5 °C, 60 mm\noctober = 7 °C .. 14 °C, 70 mm\n"
                           "november = 4 °C .. 10 °C, 65 mm\ndecember = 2 °C .. 7.5 °C, 65 mm\n"
                           "[sowing carrot-1]\ncrop = carrot\nbed = north\nsow = 2028-04-10\n"
                           "[sowing lettuce-1]\ncrop = lettuce\nplants = 12\nbed = north\nsow = 2028-08-20\n";
static const char beds[] = "[bed north]\nname = the north bed\nsize = 1.2 m x 3 m\n";

struct yard {
    char folder[64], file[96], beds[96], state[96];
    struct sim_clock sim;
    struct db_house house;
    struct db_keeper *keeper;
    int evaluations;
    int32_t days[800]; /* the local day of each evaluation */
    int64_t moments[800];
    unsigned which; /* of the last telling */
};

static int remove_one(const char *path, const struct stat *about, int kind, struct FTW *walk)
{
    (void) about, (void) kind, (void) walk;
    return remove(path);
}

static void write_file(const char *path, const char *text)
{
    char beside[128];
    FILE *file;

    (void) snprintf(beside, sizeof beside, "%s~", path); /* as editors do */
    file = fopen(beside, "we");
    assert_non_null(file);
    assert_int_equal(fwrite(text, 1, strlen(text), file), strlen(text));
    assert_int_equal(fclose(file), 0);
    assert_int_equal(rename(beside, path), 0);
}

static void feeds_changed(void *context, struct db_keeper *keeper, unsigned which)
{
    struct yard *yard = context;
    const struct db_jobs *jobs = db_keeper_jobs(keeper);

    yard->which = which;
    if (!jobs || yard->evaluations >= 800)
        return;
    yard->moments[yard->evaluations] = yard->sim.wall;
    yard->days[yard->evaluations++] = db_jobs_view(jobs)->today.day;
}

static void open_house(struct yard *yard)
{
    char trouble[256];

    yard->house = (struct db_house){ .loop = db_loop_new(&yard->sim.clock), .shipped = "rules" };
    assert_non_null(yard->house.loop);
    if (db_keeper_new(&yard->house, yard->file, yard->state, &yard->keeper, trouble) != DB_OK)
        fail_msg("%s", trouble);
    assert_int_equal(db_keeper_on_change(yard->keeper, feeds_changed, yard), DB_OK);
    yard->evaluations = 0;
}

static void close_house(struct yard *yard)
{
    db_house_close(&yard->house);
    yard->keeper = NULL;
    yard->house.loop = db_loop_free(yard->house.loop);
}

static void run_for(struct yard *yard, int64_t ms)
{
    sim_run(&yard->sim, yard->house.loop, ms);
}

static int set_up(void **state)
{
    struct yard *yard = calloc(1, sizeof *yard);

    if (!yard)
        return -1;
    memcpy(yard->folder, "/tmp/dewbell-year-XXXXXX", sizeof "/tmp/dewbell-year-XXXXXX");
    *state = yard;
    if (!mkdtemp(yard->folder))
        return -1;
    (void) snprintf(yard->file, sizeof yard->file, "%s/garden.ini", yard->folder);
    (void) snprintf(yard->beds, sizeof yard->beds, "%s/beds.ini", yard->folder);
    (void) snprintf(yard->state, sizeof yard->state, "%s/state", yard->folder);
    write_file(yard->file, plan);
    write_file(yard->beds, beds);
    db_log_set(getenv("SHOW") ? DB_LOG_INFO : DB_LOG_ERROR);
    sim_start(&yard->sim, INT64_C(1830513600000)); /* 2028-01-03 12:00 UTC */
    open_house(yard);
    return 0;
}

static int tear_down(void **state)
{
    struct yard *yard = *state;

    close_house(yard);
    (void) nftw(yard->folder, remove_one, 16, FTW_DEPTH | FTW_PHYS);
    free(yard);
    return 0;
}

static bool feed_says(struct yard *yard, const char *words)
{
    struct db_ready_bytes *bytes = db_keeper_feed(yard->keeper, DB_READY_JOBS);
    bool says = bytes && strstr(bytes->data, words) != NULL;

    db_ready_release(bytes);
    return says;
}

/* 2028 has 29 February; British clocks change on 26 March and 29 October 2028 (last Sundays: The Summer Time Order 2002). */
static void each_local_day_of_a_leap_year_is_worked_out_once_at_its_midnight(void **state)
{
    struct yard *yard = *state;
    const struct db_zone *zone = db_zone_find("Europe/London");
    struct db_date first, leap;

    run_for(yard, 366 * DAY);
    assert_int_equal(db_date_of(2028, 1, 3, &first), DB_OK);
    assert_int_equal(db_date_of(2028, 2, 29, &leap), DB_OK);
    assert_int_equal(yard->evaluations, 367); /* at the start, and at 366 midnights */
    for (int i = 0; i < yard->evaluations; i++) {
        assert_int_equal(yard->days[i], first.day + i);
        if (i > 0) {
            assert_int_equal(yard->moments[i] / 1000, db_zone_day_start(zone, (struct db_date){ yard->days[i] }));
            /* 00:00 by local clocks: UTC in winter, 23:00 UTC of the day before in summer */
            int64_t into = yard->moments[i] / 1000 % 86400;
            bool summer = yard->days[i] > first.day + 83 && yard->days[i] <= first.day + 300;
            assert_int_equal(into, summer ? 23 * 3600 : 0);
        }
    }
    assert_true(leap.day > first.day && leap.day < first.day + 366);
    /* Asleep in between: a wake-up a midnight, and the few of our own writing to the record's folder. */
    assert_in_range(db_loop_wakes(yard->house.loop), 366, 366 * 3);
    assert_false(db_loop_flooded(yard->house.loop));
}

static void a_clock_that_is_set_makes_another_day_and_no_day_twice(void **state)
{
    struct yard *yard = *state;
    static const struct sim_event events[] = {
        { .at = 10 * DAY, .set = HOUR },
        { .at = 20 * DAY, .set = -HOUR },
        { .at = 30 * DAY, .set = 2 * DAY },
        { .at = 40 * DAY, .set = -2 * DAY },
        { .at = 50 * DAY, .sleep = 7 * DAY },
        { .at = 70 * DAY + 11 * HOUR + HOUR / 2, .set = HOUR },
        { .at = 80 * DAY + 12 * HOUR + HOUR / 4, .set = -3 * HOUR },
    };
    int twice = 0;

    yard->sim.events = events;
    yard->sim.count = sizeof events / sizeof events[0];
    run_for(yard, 100 * DAY);
    for (int i = 1; i < yard->evaluations; i++) {
        int32_t step = yard->days[i] - yard->days[i - 1];
        assert_true(step != 0);
        if (step < 0)
            twice++;
        else
            assert_true(step == 1 || step == 2 || step == 7); /* 2: set on by two days; 7: a week asleep */
    }
    /* Set back by two days, and by three hours just after midnight: days come again then, and only then. */
    assert_int_equal(twice, 2);
}

static void a_mistake_leaves_the_last_good_plan_in_force_and_shows_in_the_feed(void **state)
{
    struct yard *yard = *state;
    char broken[4096];

    run_for(yard, HOUR);
    assert_true(feed_says(yard, "carrot"));
    assert_false(feed_says(yard, "Mistake in your plan"));
    struct db_ready_bytes *before = db_keeper_feed(yard->keeper, DB_READY_JOBS);
    (void) snprintf(broken, sizeof broken, "%s[sowing kale-1]\ncrop = karrot\nbed = north\nsow = 2028-05-01\n", plan);
    write_file(yard->file, broken);
    run_for(yard, HOUR);
    assert_int_equal(db_mistakes_count(db_keeper_mistakes(yard->keeper)), 1);
    assert_true(feed_says(yard, "SUMMARY:Mistake in your plan: garden.ini line 31"));
    assert_true(feed_says(yard, "carrot"));                     /* the jobs of the good plan */
    assert_true(strstr(before->data, "END:VCALENDAR") != NULL); /* who holds the old bytes still has them */

    /* A service that starts now has only the broken plan and what was put by. */
    for (int turn = 0; turn < 2; turn++) {
        close_house(yard);
        open_house(yard);
        assert_true(feed_says(yard, "carrot")); /* before anything was read */
        run_for(yard, 3 * DAY);
        assert_true(feed_says(yard, "carrot"));
        assert_true(feed_says(yard, "Mistake in your plan"));
        assert_int_equal(yard->evaluations, 5); /* at the start, told twice; then at three midnights */
        assert_non_null(db_keeper_estate(yard->keeper));
    }
    write_file(yard->file, plan);
    run_for(yard, HOUR);
    assert_int_equal(db_mistakes_count(db_keeper_mistakes(yard->keeper)), 0);
    assert_false(feed_says(yard, "Mistake in your plan"));
    db_ready_release(before);
}

static void files_elsewhere_in_the_plan_are_noticed(void **state)
{
    struct yard *yard = *state;

    run_for(yard, HOUR);
    const int before = yard->evaluations;
    write_file(yard->beds, "[bed north]\nname = the long bed\n");
    run_for(yard, HOUR);
    assert_int_equal(yard->evaluations, before + 1);
    assert_true(feed_says(yard, "the long bed"));
    run_for(yard, HOUR);
    assert_int_equal(yard->evaluations, before + 1); /* its own writing wakes nothing up */
    assert_int_equal(remove(yard->beds), 0);
    run_for(yard, HOUR);
    assert_true(db_mistakes_count(db_keeper_mistakes(yard->keeper)) > 0);
    assert_true(feed_says(yard, "the long bed"));
    write_file(yard->beds, beds);
    run_for(yard, HOUR);
    assert_true(feed_says(yard, "the north bed"));
    assert_false(feed_says(yard, "the long bed"));
}

static void a_note_of_another_program_is_seen(void **state)
{
    struct yard *yard = *state;
    char path[128], trouble[256];
    struct db_record *other = NULL;
    struct db_date day;
    int64_t number;

    run_for(yard, HOUR);
    const int before = yard->evaluations;
    (void) snprintf(path, sizeof path, "%s/record.sqlite", yard->state);
    assert_int_equal(db_record_open(path, &other, trouble), DB_OK);
    assert_int_equal(db_date_of(2028, 1, 2, &day), DB_OK);
    const struct db_note note = { .sowing = "carrot-1", .word = "sown", .date = day, .text = "" };
    assert_int_equal(db_record_add_note(other, &note, 1830513600, &number), DB_OK);
    run_for(yard, HOUR);
    assert_int_equal(yard->evaluations, before + 1);
    assert_true(yard->which & (1U << DB_READY_JOBS));
    assert_true(feed_says(yard, "✓"));
    other = db_record_close(other);
    run_for(yard, HOUR);
    assert_int_equal(yard->evaluations, before + 1);
}

static void the_same_bytes_keep_their_tag_and_their_date(void **state)
{
    struct yard *yard = *state;

    run_for(yard, HOUR);
    struct db_ready_bytes *first = db_keeper_feed(yard->keeper, DB_READY_TASKS);
    assert_non_null(first);
    assert_int_equal(strlen(first->etag), 34);
    assert_int_equal(first->etag[0], '"');
    assert_non_null(first->packed);
    assert_true(first->packed_length < first->length);
    assert_string_not_equal(first->etag, first->packed_etag);
    run_for(yard, HOUR);
    db_house_reload(&yard->house);
    close_house(yard);
    open_house(yard);
    run_for(yard, HOUR);
    struct db_ready_bytes *again = db_keeper_feed(yard->keeper, DB_READY_TASKS);
    assert_string_equal(first->etag, again->etag);
    assert_string_equal(first->packed_etag, again->packed_etag);
    assert_int_equal(first->modified, again->modified);
    assert_true(again->modified <= yard->sim.wall / 1000);
    db_ready_release(first);
    db_ready_release(again);
}

static void two_services_do_not_look_after_one_garden(void **state)
{
    struct yard *yard = *state;
    struct db_keeper *second = NULL;
    char trouble[256] = "";

    assert_int_equal(db_keeper_new(&yard->house, yard->file, yard->state, &second, trouble), DB_TROUBLE);
    assert_non_null(strstr(trouble, "another dewbelld looks after"));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(each_local_day_of_a_leap_year_is_worked_out_once_at_its_midnight, set_up,
                                        tear_down),
        cmocka_unit_test_setup_teardown(a_clock_that_is_set_makes_another_day_and_no_day_twice, set_up, tear_down),
        cmocka_unit_test_setup_teardown(a_mistake_leaves_the_last_good_plan_in_force_and_shows_in_the_feed, set_up,
                                        tear_down),
        cmocka_unit_test_setup_teardown(files_elsewhere_in_the_plan_are_noticed, set_up, tear_down),
        cmocka_unit_test_setup_teardown(a_note_of_another_program_is_seen, set_up, tear_down),
        cmocka_unit_test_setup_teardown(the_same_bytes_keep_their_tag_and_their_date, set_up, tear_down),
        cmocka_unit_test_setup_teardown(two_services_do_not_look_after_one_garden, set_up, tear_down),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
