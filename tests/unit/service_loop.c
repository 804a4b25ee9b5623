/* The event loop on a simulated clock, and on the real one for what only the kernel can show. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "kit/sim_clock.h"

#include "service/log.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "base/banned.h"

#define HOUR INT64_C(3600000)
#define DAY (24 * HOUR)
static const int64_t start = INT64_C(1782896400000); /* 2026-07-01 09:00 UTC */

struct bench {
    struct sim_clock sim;
    struct db_loop *loop;
    char calls[256]; /* letters in the order they were called */
    size_t count;
};

struct probe {
    struct bench *bench;
    struct db_timer *timer, *other;
    char letter;
    int64_t steady, wall, again; /* when it was last called; again: ms to set it anew, 0 not */
    int times;
};

static int set_up(void **state)
{
    struct bench *bench = calloc(1, sizeof *bench);

    if (!bench)
        return -1;
    sim_start(&bench->sim, start);
    bench->loop = db_loop_new(&bench->sim.clock);
    *state = bench;
    return bench->loop ? 0 : -1;
}

static int tear_down(void **state)
{
    struct bench *bench = *state;

    bench->loop = db_loop_free(bench->loop);
    free(bench);
    return 0;
}

static void called(struct bench *bench, char letter)
{
    if (bench->count + 1 < sizeof bench->calls)
        bench->calls[bench->count++] = letter;
}

static void due(void *context)
{
    struct probe *probe = context;

    called(probe->bench, probe->letter);
    probe->steady = db_loop_steady(probe->bench->loop);
    probe->wall = db_loop_wall(probe->bench->loop);
    probe->times++;
    if (probe->other)
        probe->other = db_timer_free(probe->other);
    if (probe->again)
        db_timer_after(probe->timer, probe->again);
}

static struct probe *probe_new(struct bench *bench, char letter)
{
    struct probe *probe = calloc(1, sizeof *probe);

    assert_non_null(probe);
    *probe = (struct probe){ .bench = bench, .letter = letter };
    probe->timer = db_timer_new(bench->loop, "probe", due, probe);
    assert_non_null(probe->timer);
    return probe;
}

static void probe_free(struct probe *probe)
{
    (void) db_timer_free(probe->timer);
    free(probe);
}

static void timers_are_called_in_their_order(void **state)
{
    struct bench *bench = *state;
    struct probe *a = probe_new(bench, 'a'), *b = probe_new(bench, 'b'), *c = probe_new(bench, 'c'),
                 *d = probe_new(bench, 'd');

    db_timer_after(a->timer, 3000);
    db_timer_at(b->timer, start + 2000);
    db_timer_after(c->timer, 1000);
    db_timer_after(d->timer, 3000); /* the same time as a, set later */
    sim_run(&bench->sim, bench->loop, 10000);
    assert_string_equal(bench->calls, "cbad");
    assert_int_equal(a->steady, 3000);
    assert_int_equal(b->wall, start + 2000);
    probe_free(a), probe_free(b), probe_free(c), probe_free(d);
}

/* A reference of another kind: a thousand timers at random times, some stopped, some moved, against a sorted list. */
static int by_time(const void *left, const void *right)
{
    const int64_t *a = left, *b = right;

    return a[0] != b[0] ? (a[0] < b[0] ? -1 : 1) : a[1] < b[1] ? -1 : 1;
}

struct many {
    struct db_loop *loop;
    int64_t *got;
    size_t count;
};
struct one {
    struct many *many;
    struct db_timer *timer;
    int64_t number;
};

static void one_due(void *context)
{
    struct one *one = context;

    one->many->got[one->many->count * 2] = db_loop_steady(one->many->loop);
    one->many->got[one->many->count++ * 2 + 1] = one->number;
}

static void a_thousand_timers_come_as_a_sorted_list(void **state)
{
    enum { MANY = 1000 };
    struct bench *bench = *state;
    static int64_t want[MANY][2], got[MANY][2];
    static struct one ones[MANY];
    struct many many = { .loop = bench->loop, .got = &got[0][0] };
    size_t wanted = 0;
    uint64_t seed = 20260714;

    for (int64_t i = 0; i < MANY; i++) {
        ones[i] = (struct one){ .many = &many, .number = i };
        ones[i].timer = db_timer_new(bench->loop, "one", one_due, &ones[i]);
        assert_non_null(ones[i].timer);
        seed = seed * UINT64_C(6364136223846793005) + 1442695040888963407u;
        int64_t at = (int64_t) (seed >> 40) % 5000 * 1000; /* many fall on the same second */
        if (i % 2)
            db_timer_after(ones[i].timer, at + 17 * 1000); /* moved below */
        db_timer_at(ones[i].timer, start + at);
        if (i % 5 == 0) {
            db_timer_stop(ones[i].timer);
        } else {
            want[wanted][0] = at;
            want[wanted++][1] = i;
        }
    }
    qsort(want, wanted, sizeof want[0], by_time);
    sim_run(&bench->sim, bench->loop, DAY);
    assert_int_equal(many.count, wanted);
    assert_memory_equal(got, want, wanted * sizeof want[0]);
    for (size_t i = 0; i < MANY; i++)
        ones[i].timer = db_timer_free(ones[i].timer);
}

static void a_timer_may_free_one_that_is_due_as_well(void **state)
{
    struct bench *bench = *state;
    struct probe *a = probe_new(bench, 'a'), *b = probe_new(bench, 'b');

    db_timer_after(a->timer, 1000);
    db_timer_after(b->timer, 1000);
    a->other = b->timer;
    b->timer = NULL;
    sim_run(&bench->sim, bench->loop, 5000);
    assert_string_equal(bench->calls, "a");
    probe_free(a), probe_free(b);
}

static void jumped(void *context)
{
    called(context, 'J');
}

/* A wall timer keeps its wall time, a steady one its distance, whatever the clock is set to; and whoever asked is told
 * first. */
static void timers_keep_their_times_through_jumps(void **state)
{
    struct bench *bench = *state;
    static const struct {
        int64_t set,
            wall_due_at; /* steady ms at which a timer for start + 3 days is due when the clock jumps at 1 day */
    } jumps[] = { { HOUR, 3 * DAY - HOUR }, { -HOUR, 3 * DAY + HOUR }, { 2 * DAY, DAY }, { -2 * DAY, 5 * DAY } };

    for (size_t i = 0; i < sizeof jumps / sizeof jumps[0]; i++) {
        const struct sim_event event = { .at = DAY, .set = jumps[i].set };
        sim_start(&bench->sim, start);
        bench->sim.events = &event;
        bench->sim.count = 1;
        (void) db_loop_free(bench->loop);
        bench->loop = db_loop_new(&bench->sim.clock);
        bench->count = 0;
        memset(bench->calls, 0, sizeof bench->calls);
        assert_int_equal(db_loop_on_jump(bench->loop, jumped, bench), DB_OK);
        struct probe *wall = probe_new(bench, 'w'), *steady = probe_new(bench, 's');
        db_timer_at(wall->timer, start + 3 * DAY);
        db_timer_after(steady->timer, 4 * DAY);
        sim_run(&bench->sim, bench->loop, 7 * DAY);
        assert_string_equal(bench->calls, jumps[i].wall_due_at < 4 * DAY ? "Jws" : "Jsw");
        assert_int_equal(wall->steady, jumps[i].wall_due_at);
        assert_true(wall->wall >= start + 3 * DAY);
        assert_int_equal(steady->steady, 4 * DAY);
        probe_free(wall), probe_free(steady);
    }
}

static void a_week_of_sleep_is_told_and_nothing_is_called_twice(void **state)
{
    struct bench *bench = *state;
    const struct sim_event event = { .at = DAY, .sleep = 7 * DAY };

    bench->sim.events = &event;
    bench->sim.count = 1;
    assert_int_equal(db_loop_on_jump(bench->loop, jumped, bench), DB_OK);
    struct probe *a = probe_new(bench, 'a'), *b = probe_new(bench, 'b'), *late = probe_new(bench, 'l');
    db_timer_after(a->timer, 2 * DAY);
    db_timer_at(b->timer, start + 3 * DAY);
    db_timer_at(late->timer, start + 9 * DAY);
    sim_run(&bench->sim, bench->loop, 10 * DAY);
    assert_string_equal(bench->calls, "Jabl");
    assert_int_equal(a->steady, 8 * DAY); /* goes on during sleep: past when the machine wakes */
    assert_int_equal(late->steady, 9 * DAY);
    probe_free(a), probe_free(b), probe_free(late);
}

static void a_runaway_timer_is_held_back(void **state)
{
    struct bench *bench = *state;
    struct probe *mad = probe_new(bench, 'm'), *calm = probe_new(bench, 'c');

    mad->again = 1;
    calm->again = 10000;
    db_timer_after(mad->timer, 1);
    db_timer_after(calm->timer, 10000);
    db_log_set(DB_LOG_ERROR);
    sim_run(&bench->sim, bench->loop, 60000);
    db_log_set(DB_LOG_INFO);
    assert_true(db_loop_flooded(bench->loop));
    /* 20 calls, then a second of rest, and so on: far from the 60 000 it asked for. */
    assert_in_range(mad->times, 60 * 10, 60 * 21);
    assert_in_range(calm->times, 4, 6);
    probe_free(mad), probe_free(calm);
}

static void a_slow_beat_is_no_flood(void **state)
{
    struct bench *bench = *state;
    struct probe *beat = probe_new(bench, 'b');

    beat->again = 60;
    db_timer_after(beat->timer, 60);
    sim_run(&bench->sim, bench->loop, 60000);
    assert_false(db_loop_flooded(bench->loop));
    assert_int_equal(beat->times, 1000);
    probe_free(beat);
}

static void what_comes_next_is_listed(void **state)
{
    struct bench *bench = *state;
    struct probe *a = probe_new(bench, 'a'), *b = probe_new(bench, 'b'), *never = probe_new(bench, 'n');
    const char *name = NULL;
    int64_t when = 0;

    db_timer_after(a->timer, 2000);
    db_timer_at(b->timer, start + 1000);
    assert_true(db_loop_next(bench->loop, 0, &name, &when));
    assert_int_equal(when, start + 1000);
    assert_true(db_loop_next(bench->loop, 1, &name, &when));
    assert_int_equal(when, start + 2000);
    assert_string_equal(name, "probe");
    assert_false(db_loop_next(bench->loop, 2, &name, &when));
    probe_free(a), probe_free(b), probe_free(never);
}

/* ---- descriptors ---- */

struct pipe_end {
    struct bench *bench;
    int fd, other;
    char letter;
};

static void ready(void *context, int fd, uint32_t events)
{
    struct pipe_end *end = context;
    char byte;

    assert_true(events & EPOLLIN);
    assert_int_equal(read(fd, &byte, 1), 1);
    called(end->bench, end->letter);
    if (end->other >= 0)
        db_loop_forget(end->bench->loop, end->other);
}

static void what_is_ready_comes_before_time_and_what_is_forgotten_is_quiet(void **state)
{
    struct bench *bench = *state;
    int a[2], b[2];
    struct probe *timer = probe_new(bench, 't');

    assert_int_equal(pipe(a), 0);
    assert_int_equal(pipe(b), 0);
    struct pipe_end first = { bench, a[0], b[0], 'a' }, second = { bench, b[0], a[0], 'b' };
    assert_int_equal(db_loop_watch(bench->loop, a[0], EPOLLIN, ready, &first), DB_OK);
    assert_int_equal(db_loop_watch(bench->loop, b[0], EPOLLIN, ready, &second), DB_OK);
    assert_int_equal(write(a[1], "x", 1), 1);
    assert_int_equal(write(b[1], "x", 1), 1);
    db_timer_after(timer->timer, 1000);
    sim_run(&bench->sim, bench->loop, 2000);
    /* Both were ready in the same wait; whichever came first forgot the other. */
    assert_int_equal(bench->count, 2);
    assert_true(bench->calls[0] == 'a' || bench->calls[0] == 'b');
    assert_int_equal(bench->calls[1], 't');
    assert_int_equal(db_loop_watch(bench->loop, -1, EPOLLIN, ready, &first), DB_RANGE);
    for (size_t i = 0; i < 2; i++) {
        (void) close(a[i]);
        (void) close(b[i]);
    }
    probe_free(timer);
}

/* ---- the kernel's clock ---- */

struct real_probe {
    struct db_loop *loop;
    int times;
};

static void real_due(void *context)
{
    struct real_probe *probe = context;

    if (++probe->times == 2)
        db_loop_stop(probe->loop);
}

static void the_real_clock_wakes_for_both_kinds_and_for_nothing_else(void **state)
{
    (void) state;
    struct db_loop *loop = db_loop_new(NULL);
    struct real_probe probe = { .loop = loop };

    assert_non_null(loop);
    struct db_timer *steady = db_timer_new(loop, "steady", real_due, &probe),
                    *wall = db_timer_new(loop, "wall", real_due, &probe);
    const int64_t steady_start = db_loop_steady(loop), wall_start = db_loop_wall(loop);
    db_timer_after(steady, 30);
    db_timer_at(wall, wall_start + 60);
    assert_int_equal(db_loop_run(loop), DB_OK);
    assert_true(db_loop_steady(loop) - steady_start >= 30);
    assert_true(db_loop_wall(loop) - wall_start >= 60);
    assert_int_equal(probe.times, 2);
    assert_in_range(db_loop_wakes(loop), 1, 2);
    /* A time that is past is due at once. */
    db_timer_at(wall, wall_start - 1000);
    assert_int_equal(db_loop_turn(loop, true), DB_OK);
    assert_int_equal(probe.times, 3);
    steady = db_timer_free(steady);
    wall = db_timer_free(wall);
    assert_null(db_loop_free(loop));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(timers_are_called_in_their_order, set_up, tear_down),
        cmocka_unit_test_setup_teardown(a_thousand_timers_come_as_a_sorted_list, set_up, tear_down),
        cmocka_unit_test_setup_teardown(a_timer_may_free_one_that_is_due_as_well, set_up, tear_down),
        cmocka_unit_test_setup_teardown(timers_keep_their_times_through_jumps, set_up, tear_down),
        cmocka_unit_test_setup_teardown(a_week_of_sleep_is_told_and_nothing_is_called_twice, set_up, tear_down),
        cmocka_unit_test_setup_teardown(a_runaway_timer_is_held_back, set_up, tear_down),
        cmocka_unit_test_setup_teardown(a_slow_beat_is_no_flood, set_up, tear_down),
        cmocka_unit_test_setup_teardown(what_comes_next_is_listed, set_up, tear_down),
        cmocka_unit_test_setup_teardown(what_is_ready_comes_before_time_and_what_is_forgotten_is_quiet, set_up,
                                        tear_down),
        cmocka_unit_test(the_real_clock_wakes_for_both_kinds_and_for_nothing_else),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
