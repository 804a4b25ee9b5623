/* The keeper on a simulated clock: what a mistake, a restart with a broken plan, a changed file and a note of another program
 * do, and what readers are given. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "kit/thrift.h"
#include "kit/yard.h"

#include <fcntl.h>
#include <sys/wait.h>
#include <time.h>

#include "base/banned.h"

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

/* The number after SEQUENCE: of the only event. */
static long sequence_of(struct yard *yard)
{
    struct db_ready_bytes *bytes = db_keeper_feed(yard->keeper, DB_READY_JOBS);

    assert_non_null(bytes);
    const char *at = strstr(bytes->data, "\r\nSEQUENCE:");
    assert_non_null(at);
    const long number = strtol(at + strlen("\r\nSEQUENCE:"), NULL, 10);
    db_ready_release(bytes);
    return number;
}

/* Broken from the first: each feed holds what is wrong, each day anew, until there are jobs. */
static void a_plan_that_was_never_good_has_feeds(void **state)
{
    struct yard *yard = *state;

    write_file(yard->file, "[garden]\nname = Wren Yard\nplace = nowhere\n");
    run_for(yard, HOUR);
    assert_int_equal(yard->which, 7);
    assert_int_equal(yard->evaluations, 0);
    for (int feed = 0; feed < DB_READY_COUNT; feed++) {
        struct db_ready_bytes *bytes = db_keeper_feed(yard->keeper, (enum db_ready_feed) feed);
        assert_non_null(bytes);
        assert_non_null(strstr(bytes->data, "\r\nSUMMARY:Mistake in your plan: garden.ini line "));
        db_ready_release(bytes);
    }
    assert_true(feed_says(yard, "DTSTART;VALUE=DATE:20280103"));
    const long first = sequence_of(yard);
    run_for(yard, HOUR);
    assert_int_equal(sequence_of(yard), first);
    run_for(yard, 3 * DAY);
    assert_true(feed_says(yard, "DTSTART;VALUE=DATE:20280106"));
    assert_int_equal(sequence_of(yard), first + 3);
    close_house(yard);
    open_house(yard);
    assert_true(feed_says(yard, "DTSTART;VALUE=DATE:20280106")); /* before anything was read */
    run_for(yard, HOUR);
    assert_int_equal(sequence_of(yard), first + 3);
    write_file(yard->file, plan);
    run_for(yard, HOUR);
    assert_true(feed_says(yard, "carrot"));
    assert_false(feed_says(yard, "Mistake in your plan"));
    assert_true(sequence_of(yard) >= first);
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

/* Files that were written a moment before the keeper began to watch them are no change. Turns, since whether a clock's tick
 * lies between the two is a matter of luck. */
static void files_written_just_before_a_start_are_read_once(void **state)
{
    struct yard *yard = *state;

    for (int turn = 0; turn < thrift(25, 3); turn++) {
        close_house(yard);
        write_file(yard->file, plan);
        write_file(yard->beds, beds);
        open_house(yard);
        run_for(yard, HOUR / 60);
        assert_int_equal(yard->evaluations, 1);
    }
}

/* Another program changes the beds somewhere between the keeper's opening its first file and its having read them all. */
static void a_change_while_the_files_are_first_read_is_seen(void **state)
{
    struct yard *yard = *state;
    char beside[128];
    int twice = 0;

    (void) snprintf(beside, sizeof beside, "%s.beside", yard->beds);
    for (int turn = 0; turn < thrift(60, 5); turn++) {
        int gate[2], about;

        close_house(yard);
        write_file(yard->beds, beds);
        write_file(beside, "[bed north]\nname = the long bed\n");
        assert_int_equal(pipe2(gate, O_CLOEXEC), 0);
        const pid_t other = fork();
        if (other == 0) {
            char go;

            if (read(gate[0], &go, 1) != 1)
                _exit(1);
            nanosleep(&(struct timespec){ .tv_nsec = turn * 100000L },
                      NULL); /* as long as the reading takes, and longer */
            _exit(rename(beside, yard->beds) == 0 ? 0 : 1);
        }
        assert_true(other > 0);
        open_house(yard);
        assert_int_equal(write(gate[1], "", 1), 1);
        run_for(yard, 50);
        assert_int_equal(waitpid(other, &about, 0), other);
        assert_true(WIFEXITED(about) && WEXITSTATUS(about) == 0);
        run_for(yard, HOUR / 60);
        assert_true(feed_says(yard, "the long bed"));
        twice += yard->evaluations > 1;
        (void) close(gate[0]);
        (void) close(gate[1]);
    }
    print_message("read again after a change: %d of 60\n", twice);
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

/* Moves the garden's files into a folder of their own, so that its record stays when that goes. */
static void move_to_plot(struct yard *yard, const char *more)
{
    char text[4096];

    close_house(yard);
    (void) snprintf(yard->beds, sizeof yard->beds, "%s/plot", yard->folder);
    assert_int_equal(mkdir(yard->beds, 0700), 0);
    (void) snprintf(yard->file, sizeof yard->file, "%s/plot/garden.ini", yard->folder);
    (void) snprintf(yard->beds, sizeof yard->beds, "%s/plot/beds.ini", yard->folder);
    (void) snprintf(text, sizeof text, "%s%s", plan, more);
    write_file(yard->file, text);
    write_file(yard->beds, beds);
}

static void a_folder_that_goes_and_comes_back_is_noticed(void **state)
{
    struct yard *yard = *state;
    char here[96], away[96];

    move_to_plot(yard, "");
    open_house(yard);
    run_for(yard, HOUR);
    (void) snprintf(here, sizeof here, "%s/plot", yard->folder);
    (void) snprintf(away, sizeof away, "%s/away", yard->folder);
    assert_int_equal(rename(here, away), 0);
    run_for(yard, HOUR);
    assert_int_equal(db_mistakes_count(db_keeper_mistakes(yard->keeper)), 1);
    assert_true(feed_says(yard, "Mistake in your plan"));
    assert_int_equal(rename(away, here), 0);
    run_for(yard, HOUR);
    assert_int_equal(db_mistakes_count(db_keeper_mistakes(yard->keeper)), 0);
    assert_false(feed_says(yard, "Mistake in your plan"));
    /* And it is watched again. */
    write_file(yard->beds, "[bed north]\nname = the long bed\n");
    run_for(yard, HOUR);
    assert_true(feed_says(yard, "the long bed"));
}

static void weather_that_is_added_to_an_open_file_counts(void **state)
{
    struct yard *yard = *state;
    char path[96];

    move_to_plot(yard, "[weather]\nobserved = weather.csv\ncolumns = date=date, low=low [°C], high=high [°C]\n");
    (void) snprintf(path, sizeof path, "%s/plot/weather.csv", yard->folder);
    FILE *file = fopen(path, "we");
    assert_non_null(file);
    assert_true(fputs("date,low,high\n2028-01-01,2,8\n", file) >= 0);
    assert_int_equal(fflush(file), 0);
    open_house(yard);
    run_for(yard, HOUR);
    assert_int_equal(db_mistakes_count(db_keeper_mistakes(yard->keeper)), 0);
    const int before = yard->evaluations;
    assert_true(fputs("2028-01-02,3,9\n", file) >= 0);
    assert_int_equal(fflush(file), 0); /* not closed */
    run_for(yard, HOUR);
    assert_int_equal(yard->evaluations, before + 1);
    assert_int_equal(fclose(file), 0);
}

static void a_plan_behind_a_link_is_noticed(void **state)
{
    struct yard *yard = *state;
    char link[96], text[4096];

    move_to_plot(yard, "");
    (void) snprintf(link, sizeof link, "%s/linked.ini", yard->folder);
    assert_int_equal(symlink(yard->file, link), 0);
    /* What it includes is seen from where the link lies. */
    (void) snprintf(text, sizeof text, "%s/beds.ini", yard->folder);
    write_file(text, beds);
    char target[96];
    (void) snprintf(target, sizeof target, "%s", yard->file);
    (void) snprintf(yard->file, sizeof yard->file, "%s", link);
    open_house(yard);
    run_for(yard, HOUR);
    assert_true(feed_says(yard, "Wren Yard"));
    char *renamed = strdup(plan);
    assert_non_null(renamed);
    memcpy(strstr(renamed, "Wren Yard"), "Robin Row", 9);
    write_file(target, renamed);
    free(renamed);
    run_for(yard, HOUR);
    assert_true(feed_says(yard, "Robin Row"));
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
        cmocka_unit_test_setup_teardown(a_mistake_leaves_the_last_good_plan_in_force_and_shows_in_the_feed, set_up,
                                        tear_down),
        cmocka_unit_test_setup_teardown(a_plan_that_was_never_good_has_feeds, set_up, tear_down),
        cmocka_unit_test_setup_teardown(files_elsewhere_in_the_plan_are_noticed, set_up, tear_down),
        cmocka_unit_test_setup_teardown(files_written_just_before_a_start_are_read_once, set_up, tear_down),
        cmocka_unit_test_setup_teardown(a_change_while_the_files_are_first_read_is_seen, set_up, tear_down),
        cmocka_unit_test_setup_teardown(a_note_of_another_program_is_seen, set_up, tear_down),
        cmocka_unit_test_setup_teardown(the_same_bytes_keep_their_tag_and_their_date, set_up, tear_down),
        cmocka_unit_test_setup_teardown(a_folder_that_goes_and_comes_back_is_noticed, set_up, tear_down),
        cmocka_unit_test_setup_teardown(weather_that_is_added_to_an_open_file_counts, set_up, tear_down),
        cmocka_unit_test_setup_teardown(a_plan_behind_a_link_is_noticed, set_up, tear_down),
        cmocka_unit_test_setup_teardown(two_services_do_not_look_after_one_garden, set_up, tear_down),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
