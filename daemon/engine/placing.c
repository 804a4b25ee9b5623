#define DB_PURE
#include "engine/placing_search.h"

#include "base/sort.h"

#include <string.h>

#include "base/banned.h"

enum {
    SWEEPS = 200, /* far above what any search took */
    GATHERED = 3, /* tasks that are gathered on one day although that has not paid yet */
    LINKS = 4,    /* tasks of one chain */
    MANY = 2000,  /* tasks beyond which fewer ways are tried for each ... */
    ENOUGH = 5,   /* ... and a change must lower the total by more than this */
    STARTS = 4,
    SHAKEN = 3,       /* tasks that a shake moves at random, of so many at most: */
    SHAKEN_OF = 150,  /* among more of them one that sits badly hardly counts; one start does, too */
    SHAKES = 1200,    /* over the number of tasks: how often ... */
    SHAKES_MOST = 40, /* ... and at most */
    /* By how much others that move along, from the same day to the same day, can lower what a task costs: it shares with them the
     * bed and the tool, where they come from and where they go to. */
    SHARED = 2 * (DB_POINTS_SETUP + DB_POINTS_FETCH)
};

/* -- chains -------------------------------------------------------------------------------------------------------- */

/* A chain: one task goes to a full day, another of that day makes room for it on the next, and so on. */
struct chain {
    struct {
        uint32_t task, choice;
    } link[LINKS], best[LINKS];
    int length, best_length;
    int64_t least;
};

/* A day that has too much now that the changes so far lead to it. */
struct full {
    int32_t day;
    int32_t before; /* minutes that were too many without them */
};

/* Returns how many such days there are, and what the changes cost there. */
static int full_days(const struct db_search *s, struct full days[static DB_SEARCH_CHANGES], int64_t *ret_cost)
{
    int count = 0;

    *ret_cost = 0;
    for (size_t i = 0; i < s->changed; i++) {
        const int32_t day = db_search_day(s, s->changes[i].task);
        int32_t load = s->load[day];
        bool known = db_day_cost(s->p, day, load) == 0;

        for (int k = 0; k < count; k++)
            known = known || days[k].day == day;
        if (known)
            continue;
        for (size_t k = 0; k < s->changed; k++) {
            const struct db_task *t = &s->tasks[s->changes[k].task];

            load -= db_search_day(s, s->changes[k].task) == day ? t->minutes : 0;
            load += s->seat[s->changes[k].choice].day == day ? t->minutes : 0;
        }
        *ret_cost += db_day_cost(s->p, day, s->load[day]) - db_day_cost(s->p, day, load);
        days[count++] = (struct full){ day, load > s->p->minutes[day] ? load - s->p->minutes[day] : 0 };
    }
    return count;
}

/* Lets others make room, each on any of its other days; `cost`: what the total has risen by so far. What is given up must
 * have been gained before, not counting the minutes that are too many for it: a chain that lowers the total can be begun where that
 * holds all along it, which leaves few to be tried. */
static void make_room(struct db_search *s, struct chain *chain, int64_t cost)
{
    static const int makers[2][LINKS] = { { 0, 12, 4, 2 }, { 0, 2, 0, 0 } };
    const size_t changed = s->changed;
    struct full days[DB_SEARCH_CHANGES];
    int64_t over = 0;

    if (cost < chain->least) {
        chain->least = cost;
        chain->best_length = chain->length;
        memcpy(chain->best, chain->link, sizeof chain->best);
    }
    const int count = chain->length < LINKS ? full_days(s, days, &over) : 0;

    for (int d = 0; d < count && cost - over < 0; d++) {
        int left = makers[s->p->count > MANY][chain->length];

        for (uint32_t i = s->day_from[days[d].day]; i < s->day_from[days[d].day + 1] && left > 0; i++) {
            const uint32_t other = s->of_day[i];
            const struct db_task *o = &s->tasks[other];

            /* Where there was too much anyway, what goes gains the same whether the chain is there or not. */
            if (o->choice_count < 2 || o->minutes <= days[d].before || db_search_day(s, other) != days[d].day ||
                db_search_moved(s, other))
                continue;
            left--;
            for (uint32_t c = o->first_choice; c < o->first_choice + o->choice_count; c++) {
                if (c == s->at[other])
                    continue;
                const int64_t more = db_search_shift(s, other, c);

                chain->link[chain->length].task = other;
                chain->link[chain->length++].choice = c;
                make_room(s, chain, cost + more);
                chain->length--;
                db_search_back(s, changed);
            }
        }
    }
}

/* Takes the cheapest chain that begins with this task, if it lowers the total. */
static bool relocate(struct db_search *s, uint32_t task)
{
    const struct db_task *t = &s->tasks[task];
    struct chain chain = { .length = 1, .least = -s->enough };

    chain.link[0].task = task;
    for (uint32_t c = t->first_choice; c < t->first_choice + t->choice_count; c++) {
        if (c == s->at[task])
            continue;
        const int64_t cost = db_search_shift(s, task, c);

        chain.link[0].choice = c;
        make_room(s, &chain, cost);
        db_search_back(s, 0);
    }
    for (int i = 0; i < chain.best_length; i++)
        (void) db_search_shift(s, chain.best[i].task, chain.best[i].choice);
    db_search_keep(s);
    return chain.best_length > 0;
}

/* -- groups -------------------------------------------------------------------------------------------------------- */

/* Moves all tasks of a pair, as far as they can, to another day of one of them. */
static bool move_pair(struct db_search *s, uint32_t pair)
{
    const int grouping = pair < s->first_tool ? DB_GROUP_BED : DB_GROUP_TOOL;
    const uint32_t from = s->pair_from[pair], to = s->pair_from[pair + 1];

    if (to - from < 2 || to - from > DB_SEARCH_CHANGES / 2)
        return false;
    const struct db_task *first = &s->tasks[s->of_pair[from]];
    const int32_t day = db_search_day(s, s->of_pair[from]);

    for (uint32_t i = from; i < to; i++) /* all of them are still there */
        if (s->seat[s->at[s->of_pair[i]]].pair[grouping] != pair)
            return false;
    for (uint32_t c = first->first_choice; c < first->first_choice + first->choice_count; c++) {
        int64_t cost = 0;

        if (s->seat[c].day == day)
            continue;
        for (uint32_t i = from; i < to; i++) {
            const uint32_t choice = db_search_choice(s, s->of_pair[i], s->seat[c].day);

            if (cost > (int64_t) SHARED * (to - i))
                break; /* the rest of them cannot make up for it */
            if (choice != DB_TASK_NONE && s->at[s->of_pair[i]] != choice)
                cost += db_search_shift(s, s->of_pair[i], choice);
        }
        if (cost < -s->enough) {
            db_search_keep(s);
            return true;
        }
        db_search_back(s, 0);
    }
    return false;
}

static bool is_linked(const struct db_search *s, uint32_t task)
{
    return s->tasks[task].leader != DB_TASK_NONE || s->follower[task] != DB_TASK_NONE;
}

/* The cheapest task to join those of a pair, as an index into the offers; DB_TASK_NONE: there is none. `anew`: what each of them
 * costs is not known yet. Else it was worked out before others joined, who can have lowered it only by the beds and tools
 * that they share with it: what was too dear by more than that is not looked at again. */
static uint32_t next_to_join(struct db_search *s, uint32_t pair, bool anew)
{
    int64_t *known = s->offer_cost, cheapest = INT64_MAX;
    const uint32_t from = s->offer_from[pair];
    uint32_t best = DB_TASK_NONE;

    for (uint32_t i = from; i < s->offer_from[pair + 1]; i++) {
        const struct db_offer *o = &s->offers[i];

        if (s->at[o->task] == o->choice || (!anew && !is_linked(s, o->task) && known[i - from] - SHARED >= cheapest) ||
            db_search_moved(s, o->task))
            continue;
        known[i - from] = db_search_cost(s, o->task, o->choice);
        if (known[i - from] < cheapest) {
            cheapest = known[i - from];
            best = i;
        }
    }
    return best;
}

/* Gathers tasks of a pair's bed or tool on its day, one after the other, the cheapest first, as long as the total is lowered
 * in the end. */
static bool gather(struct db_search *s, uint32_t pair)
{
    int64_t cost = 0, least = -s->enough;
    size_t kept = 0;
    bool anew = true;

    while (s->changed < DB_SEARCH_CHANGES / 2) {
        const uint32_t best = next_to_join(s, pair, anew);
        const size_t before = s->changed;

        if (best == DB_TASK_NONE)
            break;
        cost += db_search_shift(s, s->offers[best].task, s->offers[best].choice);
        anew = s->changed > before + 1; /* others came along, from days and to days of their own */
        if (cost >= least && s->changed >= GATHERED)
            break;
        if (cost < least) {
            least = cost;
            kept = s->changed;
        }
    }
    db_search_back(s, kept);
    db_search_keep(s);
    return kept > 0;
}

/* -- sweeps -------------------------------------------------------------------------------------------------------- */

/* Makes of the number of each what stands where the next one begins, once the list is filled from there. */
static void set_from_back(uint32_t *from, size_t numbers)
{
    memmove(from + 1, from, numbers * sizeof *from);
    from[0] = 0;
}

static void add_up(uint32_t *from, size_t numbers)
{
    for (size_t n = 0; n < numbers; n++)
        from[n + 1] += from[n];
}

/* Which tasks there are of each day and of each pair: counting sorts that keep their order. `from` has one more entry than
 * there are numbers; none is in pair 0. */
static void list_by_day(const struct db_search *s)
{
    memset(s->day_from, 0, (s->p->days + 1) * sizeof *s->day_from);
    for (uint32_t i = 0; i < s->p->count; i++)
        s->day_from[db_search_day(s, i) + 1]++;
    add_up(s->day_from, s->p->days);
    for (uint32_t i = 0; i < s->p->count; i++)
        s->of_day[s->day_from[db_search_day(s, i)]++] = i;
    set_from_back(s->day_from, s->p->days);
}

static void list_by_pair(const struct db_search *s)
{
    memset(s->pair_from, 0, ((size_t) s->pairs + 1) * sizeof *s->pair_from);
    for (uint32_t i = 0; i < s->p->count; i++)
        for (int g = 0; g < DB_GROUPINGS; g++)
            s->pair_from[s->seat[s->at[i]].pair[g] + 1] += s->seat[s->at[i]].pair[g] > 0;
    add_up(s->pair_from, s->pairs);
    for (uint32_t i = 0; i < s->p->count; i++)
        for (int g = 0; g < DB_GROUPINGS; g++)
            if (s->seat[s->at[i]].pair[g])
                s->of_pair[s->pair_from[s->seat[s->at[i]].pair[g]]++] = i;
    set_from_back(s->pair_from, s->pairs);
}

/* Whether anything has changed on its days since it was looked at. */
static bool is_stirred(const struct db_search *s, uint32_t task)
{
    const struct db_task *t = &s->tasks[task];

    for (uint32_t c = t->first_choice; c < t->first_choice + t->choice_count; c++)
        if (s->stirred[s->seat[c].day] >= s->seen[task])
            return true;
    return false;
}

/* Looks at all tasks, or at those only whose days have changed. Whether the total was lowered. */
static bool sweep(struct db_search *s, bool all)
{
    bool lower = false;

    s->number++;

    list_by_day(s);
    for (uint32_t i = 0; i < s->p->count; i++)
        if (s->tasks[i].choice_count > 1 && (all || is_stirred(s, i))) {
            s->seen[i] = s->number;
            lower = relocate(s, i) || lower;
        }
    if (!all)
        return lower;
    list_by_pair(s);
    for (uint32_t pair = 1; pair < s->pairs; pair++)
        lower = move_pair(s, pair) || lower;
    for (uint32_t pair = 1; pair < s->pairs; pair++)
        lower = (s->offer_from[pair + 1] - s->offer_from[pair] > 1 && gather(s, pair)) || lower;
    return lower;
}

/* -- where it sets out --------------------------------------------------------------------------------------------- */

struct ordering {
    const struct db_placing *p;
    int start;
};

static int by_need(const void *a, const void *b, const void *context)
{
    const struct ordering *o = context;
    const uint32_t i = *(const uint32_t *) a, k = *(const uint32_t *) b;
    const struct db_task *x = &o->p->tasks[i], *y = &o->p->tasks[k];
    const int32_t x_last = o->p->choices[x->first_choice + x->choice_count - 1].day;
    const int32_t y_last = o->p->choices[y->first_choice + y->choice_count - 1].day;

    if (o->start == 1 && x->urgency != y->urgency)
        return x->urgency < y->urgency ? -1 : 1;
    if (o->start == 2 && x->minutes != y->minutes)
        return x->minutes > y->minutes ? -1 : 1;
    if (x_last != y_last)
        return x_last < y_last ? -1 : 1;
    if (x->urgency != y->urgency)
        return x->urgency < y->urgency ? -1 : 1;
    return (i > k) - (i < k);
}

/* Puts a task that is not counted yet where it costs least. */
static void insert(struct db_search *s, uint32_t task, bool alone)
{
    const struct db_task *t = &s->tasks[task];
    const int32_t led = t->leader == DB_TASK_NONE ? 0 : db_search_day(s, t->leader);
    uint32_t best = t->first_choice;
    int64_t least = INT64_MAX;

    for (uint32_t c = t->first_choice; c < t->first_choice + t->choice_count; c++) {
        const int32_t day = s->seat[c].day;
        int64_t cost = db_task_cost(s->p, t, c, led);

        s->tried++;
        if (!alone)
            cost += db_day_cost(s->p, day, (int64_t) s->load[day] + t->minutes) - db_day_cost(s->p, day, s->load[day]) +
                    db_pairs_points(s, c, 0);
        if (cost < least) {
            least = cost;
            best = c;
        }
    }
    s->at[task] = best;
    s->load[s->seat[best].day] += t->minutes;
    db_pairs_in(s, best);
}

static enum db_status set_out(struct db_search *s, int start, struct db_arena *scratch)
{
    const struct ordering ordering = { s->p, start };
    uint32_t *order = db_arena_get(scratch, s->p->count, sizeof *order);
    size_t count = 0;

    if (!order)
        return DB_FULL;
    memset(s->load, 0, s->p->days * sizeof *s->load);
    db_pairs_clear(s);
    for (uint32_t i = 0; i < s->p->count; i++) {
        const struct db_task *t = &s->tasks[i];
        const uint32_t stood = t->stood >= 0 ? db_search_choice(s, i, t->stood) : DB_TASK_NONE;

        s->at[i] = stood != DB_TASK_NONE ? stood : t->first_choice;
        if (stood == DB_TASK_NONE && t->choice_count > 1) {
            order[count++] = i;
            continue;
        }
        s->load[db_search_day(s, i)] += t->minutes;
        db_pairs_in(s, s->at[i]);
    }
    if (db_sort(order, count, sizeof *order, by_need, &ordering, scratch) != DB_OK)
        return DB_FULL;
    for (size_t i = 0; i < count; i++)
        insert(s, order[i], start == 3);
    return DB_OK;
}

/* Whether so few stand anywhere that their days may as well be chosen anew. */
static bool is_first_time(const struct db_search *s)
{
    size_t standing = 0, movable = 0;

    for (uint32_t i = 0; i < s->p->count; i++)
        if (s->tasks[i].choice_count > 1) {
            movable++;
            standing += s->tasks[i].stood >= 0 && db_search_choice(s, i, s->tasks[i].stood) != DB_TASK_NONE;
        }
    return standing * 2 < movable;
}

/* Down to where no change is left that lowers the total. Returns the sweeps that it took. */
static unsigned settle(struct db_search *s)
{
    unsigned sweeps = 0;

    for (bool lower = true; lower && sweeps < SWEEPS; sweeps++) {
        lower = sweep(s, true);
        while (lower && sweeps < SWEEPS && sweep(s, false))
            sweeps++;
    }
    return sweeps;
}

static uint64_t draw(uint64_t *state) /* splitmix64, after Steele, Lea and Flood 2014 */
{
    uint64_t z = *state += UINT64_C(0x9e3779b97f4a7c15);

    z = (z ^ z >> 30) * UINT64_C(0xbf58476d1ce4e5b9);
    z = (z ^ z >> 27) * UINT64_C(0x94d049bb133111eb);
    return z ^ z >> 31;
}

/* Begins with the choices in `best`. */
static void set_back(struct db_search *s, const uint32_t *best)
{
    memset(s->load, 0, s->p->days * sizeof *s->load);
    db_pairs_clear(s);
    for (uint32_t i = 0; i < s->p->count; i++) {
        s->at[i] = best[i];
        s->load[db_search_day(s, i)] += s->tasks[i].minutes;
        db_pairs_in(s, best[i]);
    }
}

/* Few tasks can sit where no single change helps, far from the least: a task that others hang on, a full day and a dear one
 * between. A shake sends some elsewhere and settles again; what is no better is dropped. Where tasks stand, it has to be
 * better by more than a twentieth of all, or they would hop for a trifle. Always the same shakes, until none of them helps,
 * so that the same tasks come out the same and then stay. */
static void shake(struct db_search *s, bool first_time, uint32_t *best, int64_t *least, unsigned *ret_sweeps)
{
    const size_t count = s->p->count, many = count && count <= SHAKEN_OF ? SHAKES / count : 0;
    const size_t turns = many < SHAKES_MOST ? many : SHAKES_MOST;
    uint64_t state = count;

    for (size_t turn = 0, round = 0; turn < turns && round < SWEEPS; turn++, round++) {
        set_back(s, best);
        for (int i = 0; i < SHAKEN; i++) {
            const uint32_t task = (uint32_t) (draw(&state) % count);
            const struct db_task *t = &s->tasks[task];

            (void) db_search_shift(s, task, t->first_choice + (uint32_t) (draw(&state) % t->choice_count));
            db_search_keep(s);
        }
        const unsigned sweeps = settle(s);
        const int64_t cost = db_search_total(s);

        *ret_sweeps = sweeps > *ret_sweeps ? sweeps : *ret_sweeps;
        if (cost < *least - (first_time ? 0 : *least / 20)) {
            *least = cost;
            memcpy(best, s->at, count * sizeof *best);
            turn = SIZE_MAX; /* from the first shake again */
            state = count;
        }
    }
}

enum db_status db_placing_solve(const struct db_placing *placing, struct db_arena *scratch,
                                struct db_placing_work *ret_work)
{
    struct db_search s;
    int64_t least = INT64_MAX;
    struct db_placing_work work = { 0 };

    if (db_search_begin(&s, placing, scratch) != DB_OK)
        return DB_FULL;
    s.enough = placing->count > MANY ? ENOUGH : 0;
    const bool first_time = is_first_time(&s);
    const int starts = first_time && placing->count <= SHAKEN_OF ? STARTS : 1;
    uint32_t *best = db_arena_get(scratch, placing->count, sizeof *best);
    if (!best)
        return DB_FULL;
    for (int start = 0; start < starts; start++) {
        if (set_out(&s, start, scratch) != DB_OK)
            return DB_FULL;
        const unsigned sweeps = settle(&s);
        work.sweeps = sweeps > work.sweeps ? sweeps : work.sweeps;
        const int64_t cost = db_search_total(&s);
        if (cost < least) {
            least = cost;
            memcpy(best, s.at, placing->count * sizeof *best);
        }
    }
    shake(&s, first_time, best, &least, &work.sweeps);
    for (size_t i = 0; i < placing->count; i++)
        placing->tasks[i].day = placing->choices[best[i]].day;
    work.tried = s.tried;
    *ret_work = work;
    return DB_OK;
}

enum db_status db_placing_cost(const struct db_placing *placing, struct db_arena *scratch, int64_t *ret_cost)
{
    struct db_search s;

    if (db_search_begin(&s, placing, scratch) != DB_OK)
        return DB_FULL;
    for (uint32_t i = 0; i < placing->count; i++) {
        const uint32_t choice = db_search_choice(&s, i, s.tasks[i].day);

        s.at[i] = choice == DB_TASK_NONE ? s.tasks[i].first_choice : choice;
        s.load[db_search_day(&s, i)] += s.tasks[i].minutes;
        db_pairs_in(&s, s.at[i]);
    }
    *ret_cost = db_search_total(&s);
    return DB_OK;
}
