/* The placement of tasks on days against an exact search of our own (branch and bound) on small random cases, and what must
 * hold on large ones. SEED=n repeats them. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "kit/placings.h"

#include "base/banned.h"

enum { CASES = 200, MOST = 16 };

/* -- branch and bound ---------------------------------------------------------------------------------------------- */

struct exact {
    const struct db_placing *p;
    int64_t best, still[MOST + 1]; /* still: the least that the tasks from here on cost */
    int32_t day[MOST];
    uint64_t visited;
};

static void branch(struct exact *e, size_t i, int64_t so_far, const int64_t *load)
{
    const struct db_task *t = &e->p->tasks[i];
    int64_t loads[64];

    e->visited++;
    if (so_far + e->still[i] >= e->best)
        return;
    if (i == e->p->count) {
        e->best = so_far;
        return;
    }
    memcpy(loads, load, sizeof loads);
    for (uint32_t c = t->first_choice; c < t->first_choice + t->choice_count; c++) {
        const int32_t d = e->p->choices[c].day;
        int64_t more = plain_own(e->p, t, c, t->leader == DB_TASK_NONE ? 0 : e->day[t->leader]);
        bool bed = t->group[0] != DB_TASK_NONE, tool = t->group[1] != DB_TASK_NONE;

        for (size_t k = 0; k < i; k++) {
            bed = bed && !(e->p->tasks[k].group[0] == t->group[0] && e->day[k] == d);
            tool = tool && !(e->p->tasks[k].group[1] == t->group[1] && e->day[k] == d);
        }
        more += (bed ? PLAIN_BED : 0) + (tool ? PLAIN_TOOL : 0);
        if (e->p->minutes[d] >= 0) {
            const int64_t before = load[d] - e->p->minutes[d], after = before + t->minutes;

            more += 4 * ((after > 0 ? after : 0) - (before > 0 ? before : 0));
        }
        e->day[i] = d;
        loads[d] = load[d] + t->minutes;
        branch(e, i + 1, so_far + more, loads);
        loads[d] = load[d];
    }
}

/* The least cost there is; `known`: a cost that can be had. */
static int64_t least_cost(const struct db_placing *p, int64_t known)
{
    static const int64_t none[64] = { 0 };
    struct exact e = { .p = p, .best = known };

    assert_true(p->count <= MOST && p->days <= 64);
    for (size_t i = p->count; i-- > 0;) {
        const struct db_task *t = &p->tasks[i];
        int64_t least = INT64_MAX;

        for (uint32_t c = t->first_choice; c < t->first_choice + t->choice_count; c++) {
            const int64_t own = t->leader == DB_TASK_NONE ? plain_own(p, t, c, 0) : p->choices[c].weather;

            least = own < least ? own : least;
        }
        e.still[i] = e.still[i + 1] + least;
    }
    branch(&e, 0, 0, none);
    return e.best;
}

static int64_t solve(const struct db_placing *p, struct db_placing_work *ret_work)
{
    struct db_arena *arena = db_arena_new(SIZE_MAX);
    struct db_placing_work work;
    int64_t cost = -1;

    assert_non_null(arena);
    assert_int_equal(db_placing_solve(p, arena, &work), DB_OK);
    assert_int_equal(db_placing_cost(p, arena, &cost), DB_OK);
    (void) db_arena_free(arena);
    if (ret_work)
        *ret_work = work;
    return cost;
}

static int by_ratio(const void *a, const void *b)
{
    const double x = *(const double *) a, y = *(const double *) b;

    return (x > y) - (x < y);
}

static void compare(bool standing, bool leaders, const char *what)
{
    double ratio[CASES], sum = 0;
    int exact = 0, beyond = 0;

    draws = seed;
    for (int i = 0; i < CASES; i++) {
        struct heap h;

        const size_t count = (size_t) between(6, 11), days = (size_t) between(14, 28); /* each in its turn */

        heap_draw(&h, count, days, standing, leaders);
        const int64_t got = solve(&h.p, NULL), best = least_cost(&h.p, got);

        assert_int_equal(got, plain_cost(&h.p));
        assert_true(best <= got);
        ratio[i] = best ? (double) got / (double) best : got ? 1e9 : 1;
        sum += ratio[i];
        exact += got == best;
        heap_free(&h);
    }
    qsort(ratio, CASES, sizeof ratio[0], by_ratio);
    print_message("%s: %d of %d at the least cost; ratio to it: mean %.4f, 95th %.4f, worst %.4f\n", what, exact, CASES,
                  sum / CASES, ratio[CASES * 95 / 100], ratio[CASES - 1]);
    /* Of 60 seeds, 48 000 such cases, 2 were more than a twentieth above the least cost, the worst at 1.10 of it. */
    for (int i = 0; i < CASES; i++)
        beyond += ratio[i] > 1.05;
    assert_true(sum / CASES <= 1.005);
    assert_true(beyond <= 2);
}

static void small_ones_are_within_a_twentieth_of_the_least_cost(void **state)
{
    (void) state;
    compare(false, false, "new");
    compare(false, true, "new, with leaders");
    compare(true, false, "standing");
    compare(true, true, "standing, with leaders");
}

/* -- calm ---------------------------------------------------------------------------------------------------------- */

static void let_stand(struct heap *h)
{
    for (size_t i = 0; i < h->p.count; i++)
        h->p.tasks[i].stood = h->p.tasks[i].day;
}

static size_t moved(const struct heap *h, size_t count)
{
    size_t n = 0;

    for (size_t i = 0; i < count; i++)
        n += h->p.tasks[i].stood != h->p.tasks[i].day;
    return n;
}

static void what_stands_stays(void **state)
{
    size_t tasks = 0;

    (void) state;
    draws = seed ^ 1;
    for (int i = 0; i < 60; i++) {
        struct heap h;

        const size_t count = (size_t) between(20, 250), days = (size_t) between(20, 90);
        const bool standing = chance(2), leaders = chance(2);

        heap_draw(&h, count, days, standing, leaders);
        (void) solve(&h.p, NULL);
        tasks += h.p.count;
        let_stand(&h);
        (void) solve(&h.p, NULL);
        if (moved(&h, h.p.count))
            fail_msg("case %d: %zu of %zu moved although nothing had changed", i, moved(&h, h.p.count), h.p.count);
        heap_free(&h);
    }
    print_message("%zu tasks in 60 cases: none moved when placed again\n", tasks);
}

static int64_t load_on(const struct heap *h, size_t count, int32_t day)
{
    int64_t load = 0;

    for (size_t i = 0; i < count; i++)
        load += h->p.tasks[i].day == day ? h->p.tasks[i].minutes : 0;
    return load;
}

/* Whether the day that suits the task best by itself has room for it beside the others, which stand. */
static bool has_room(const struct heap *h, size_t task)
{
    const struct db_task *t = &h->p.tasks[task];
    uint32_t best = t->first_choice;

    for (uint32_t c = t->first_choice; c < t->first_choice + t->choice_count; c++)
        if (plain_own(&h->p, t, c, 0) < plain_own(&h->p, t, best, 0))
            best = c;
    const int32_t day = h->p.choices[best].day;

    return h->p.minutes[day] < 0 || load_on(h, task, day) + t->minutes <= h->p.minutes[day];
}

static void one_more_moves_few(void **state)
{
    size_t often[16] = { 0 }, roomy = 0, cases = 150;

    (void) state;
    draws = seed ^ 2;
    for (size_t i = 0; i < cases; i++) {
        const size_t count = (size_t) between(20, 120);
        struct heap h;

        heap_begin(&h, count + 1, (count + 1) * 16, (size_t) between(20, 90));
        heap_week(&h, between(1, 4), 60, 480);
        while (h.p.count < count)
            heap_draw_task(&h, false, chance(2));
        (void) solve(&h.p, NULL);
        let_stand(&h);
        heap_draw_task(&h, false, false);

        const bool room = has_room(&h, count);

        (void) solve(&h.p, NULL);
        const size_t n = moved(&h, count);

        roomy += room;
        often[n < 15 ? n : 15]++;
        if (room && n)
            fail_msg("case %zu: there was room, and %zu others moved", i, n);
        /* Whoever moved left a day that would have had too much, or made way for one that did, or goes along with it. */
        assert_true(n <= 8);
        heap_free(&h);
    }
    print_message("one task more, %zu times (%zu with room for it); others that moved, 0 to 8:", cases, roomy);
    for (int n = 0; n <= 8; n++)
        print_message(" %zu", often[n]);
    print_message("\n");
    assert_true(often[0] * 2 > cases);
}

/* -- growth -------------------------------------------------------------------------------------------------------- */

/* A year of two days a week, with minutes for the tasks there are, give or take: `each` minutes a task. */
static void draw_year(struct heap *h, size_t tasks, size_t each)
{
    heap_begin(h, tasks, tasks * 16, 400);
    for (size_t d = 0; d < 400; d++)
        h->minutes[d] = d % 7 == 2 ? (int32_t) (tasks * each / 400) : d % 7 == 5 ? (int32_t) (tasks * each / 100) : -1;
    while (h->p.count < tasks)
        heap_draw_task(h, false, true);
    for (size_t i = 0; i < tasks; i++) { /* a garden has more beds the larger it is, and a shed of twenty tools */
        if (h->p.tasks[i].group[DB_GROUP_BED] != DB_TASK_NONE)
            h->p.tasks[i].group[DB_GROUP_BED] = (uint32_t) between(0, (int32_t) tasks / 20);
        if (h->p.tasks[i].group[DB_GROUP_TOOL] != DB_TASK_NONE)
            h->p.tasks[i].group[DB_GROUP_TOOL] = (uint32_t) between(0, 19);
    }
}

static double log_of(double x)
{
    double n = 0;

    for (; x > 2; x /= 2)
        n++;
    return n + x - 1; /* between powers of two a straight line: near enough */
}

/* What is counted is tasks tried on a day. A square would make the last ratio 8 / 1.24, the power of one and a half 2.3. */
static void ten_thousand_grow_as_n_log_n(void **state)
{
    enum { SIZES = 4 };

    (void) state;
    for (size_t each = 20; each <= 90; each += 35) { /* far too few minutes, just enough, enough */
        double per[SIZES] = { 0 };

        for (int i = 0; i < SIZES; i++) {
            const size_t n = (size_t) 5000 << i;
            struct db_placing_work work;
            struct heap h;

            draws = seed ^ 3;
            draw_year(&h, n, each);
            (void) solve(&h.p, &work);
            per[i] = (double) work.tried / ((double) n * log_of((double) n));
            print_message("%zu min each, %zu tasks: %.1f changes tried a task, %.2f n log n, %u sweeps\n", each, n,
                          (double) work.tried / (double) n, per[i], work.sweeps);
            assert_true(work.sweeps < 40);
            if (n == 10000) {
                let_stand(&h);
                (void) solve(&h.p, &work);
                assert_true(moved(&h, n) == 0);
                assert_true(work.tried < 20 * n);
            }
            heap_free(&h);
        }
        assert_true(per[SIZES - 1] <= 1.7 * per[0]);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(small_ones_are_within_a_twentieth_of_the_least_cost),
        cmocka_unit_test(what_stands_stays),
        cmocka_unit_test(one_more_moves_few),
        cmocka_unit_test(ten_thousand_grow_as_n_log_n),
    };
    const char *said = getenv("SEED");

    seed = said ? strtoull(said, NULL, 10) : UINT64_C(20260726);
    print_message("SEED=%" PRIu64 "\n", seed);
    return cmocka_run_group_tests(tests, NULL, NULL);
}
