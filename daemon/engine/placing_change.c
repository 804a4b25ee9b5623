/* The state of a search: what it costs, and changes that can be taken back. */
#define DB_PURE
#include "engine/placing_search.h"

#include "base/banned.h"

int64_t db_placing_weight(unsigned char urgency)
{
    return urgency <= 1 ? 50 : urgency <= 3 ? 3 : urgency <= 5 ? 2 : 1;
}

/* -- the cost ------------------------------------------------------------------------------------------------------ */

int32_t db_search_day(const struct db_search *s, uint32_t task)
{
    return s->seat[s->at[task]].day;
}

/* What a task costs on one of its days while its leader is on `led`. */
int64_t db_task_cost(const struct db_placing *p, const struct db_task *t, uint32_t choice, int32_t led)
{
    const int64_t weight = db_placing_weight(t->urgency);
    const uint32_t last_choice = t->first_choice + t->choice_count - 1;
    const int32_t day = p->choices[choice].day, last = p->choices[last_choice].day;
    int64_t cost = p->choices[choice].weather;
    int32_t best = t->best;

    if (t->leader != DB_TASK_NONE) {
        const int32_t off = led - p->tasks[t->leader].best, soonest = led + t->gap < last ? led + t->gap : last;

        if (off > 0 && best < last)
            best = best + off < last ? best + off : last;
        if (day < soonest)
            cost += (int64_t) DB_POINTS_BEFORE * (soonest - day);
    }
    cost += weight * (day < best ? (int64_t) DB_POINTS_EARLY * (best - day) : (int64_t) DB_POINTS_LATE * (day - best));
    if (choice == last_choice && t->choice_count > 1 && day > best)
        cost += weight * DB_POINTS_LAST;
    if (t->stood >= 0 && day != t->stood)
        cost += DB_POINTS_MOVED;
    return cost;
}

static int64_t own_now(const struct db_search *s, uint32_t task)
{
    const struct db_task *t = &s->tasks[task];

    return db_task_cost(s->p, t, s->at[task], t->leader == DB_TASK_NONE ? 0 : db_search_day(s, t->leader));
}

int64_t db_day_cost(const struct db_placing *p, int32_t day, int64_t load)
{
    return p->minutes[day] >= 0 && load > p->minutes[day] ? DB_POINTS_OVER * (load - p->minutes[day]) : 0;
}

/* What the total rises by when the task goes to another of its days, but for what that costs its followers. */
static int64_t lone_cost(struct db_search *s, uint32_t task, uint32_t choice)
{
    const struct db_task *t = &s->tasks[task];
    const uint32_t old = s->at[task];
    const int32_t from = s->seat[old].day, to = s->seat[choice].day;
    int64_t cost = s->seat[choice].own - s->seat[old].own;

    if (t->leader != DB_TASK_NONE) {
        const int32_t led = db_search_day(s, t->leader);

        cost = db_task_cost(s->p, t, choice, led) - db_task_cost(s->p, t, old, led);
    }

    s->tried++;
    cost += db_day_cost(s->p, to, (int64_t) s->load[to] + t->minutes) - db_day_cost(s->p, to, s->load[to]);
    cost += db_day_cost(s->p, from, (int64_t) s->load[from] - t->minutes) - db_day_cost(s->p, from, s->load[from]);
    return cost + db_pairs_points(s, choice, 0) - db_pairs_points(s, old, 1);
}

/* The same with what that costs its followers, all of them staying. */
int64_t db_search_cost(struct db_search *s, uint32_t task, uint32_t choice)
{
    const int32_t from = db_search_day(s, task), to = s->seat[choice].day;
    int64_t cost = lone_cost(s, task, choice);

    for (uint32_t f = s->follower[task]; f != DB_TASK_NONE; f = s->sibling[f])
        cost += db_task_cost(s->p, &s->tasks[f], s->at[f], to) - db_task_cost(s->p, &s->tasks[f], s->at[f], from);
    return cost;
}

/* -- changes ------------------------------------------------------------------------------------------------------- */

static void put(struct db_search *s, uint32_t task, uint32_t choice)
{
    const struct db_task *t = &s->tasks[task];
    const uint32_t old = s->at[task];

    s->load[s->seat[old].day] -= t->minutes;
    s->load[s->seat[choice].day] += t->minutes;
    db_pairs_out(s, old);
    db_pairs_in(s, choice);
    s->at[task] = choice;
}

static void put_and_remember(struct db_search *s, uint32_t task, uint32_t choice)
{
    s->changes[s->changed++] = (struct db_change){ task, s->at[task] };
    put(s, task, choice);
}

/* Takes changes back until `count` are left. */
void db_search_back(struct db_search *s, size_t count)
{
    while (s->changed > count) {
        const struct db_change *c = &s->changes[--s->changed];

        put(s, c->task, c->choice);
    }
}

/* The changes so far hold. */
void db_search_keep(struct db_search *s)
{
    for (size_t i = 0; i < s->changed; i++) {
        s->stirred[s->seat[s->changes[i].choice].day] = s->number;
        s->stirred[db_search_day(s, s->changes[i].task)] = s->number;
    }
    s->changed = 0;
}

/* The cheapest other day of a task, if one is cheaper than its own. */
static uint32_t better_day(struct db_search *s, uint32_t task, bool lone)
{
    const struct db_task *t = &s->tasks[task];
    uint32_t best = DB_TASK_NONE;
    int64_t least = 0;

    for (uint32_t c = t->first_choice; c < t->first_choice + t->choice_count; c++) {
        if (c == s->at[task])
            continue;
        const int64_t cost = lone ? lone_cost(s, task, c) : db_search_cost(s, task, c);

        if (cost < least) {
            least = cost;
            best = c;
        }
    }
    return best;
}

/* Moves a task, and what hangs on it, directly or through another, where that is better off elsewhere then. Returns what the
 * total rises by. ride: a follower looks to itself alone, as what hangs on it will come along. */
static int64_t shift_so(struct db_search *s, uint32_t task, uint32_t choice, bool ride)
{
    const size_t begin = s->changed;
    int64_t cost = 0;

    if (s->changed == DB_SEARCH_CHANGES)
        return 0;
    cost = db_search_cost(s, task, choice);
    put_and_remember(s, task, choice);
    for (size_t i = begin; i < s->changed; i++)
        for (uint32_t f = s->follower[s->changes[i].task]; f != DB_TASK_NONE && s->changed < DB_SEARCH_CHANGES;
             f = s->sibling[f]) {
            const uint32_t better = s->tasks[f].choice_count > 1 ? better_day(s, f, ride) : DB_TASK_NONE;

            if (better == DB_TASK_NONE)
                continue;
            cost += db_search_cost(s, f, better);
            put_and_remember(s, f, better);
        }
    return cost;
}

/* Whether something hangs on what hangs on it: else it is all one whether they ride. */
static bool is_deep(const struct db_search *s, uint32_t task)
{
    for (uint32_t f = s->follower[task]; f != DB_TASK_NONE; f = s->sibling[f])
        if (s->follower[f] != DB_TASK_NONE)
            return true;
    return false;
}

int64_t db_search_shift(struct db_search *s, uint32_t task, uint32_t choice)
{
    const size_t before = s->changed;
    const int64_t cost = shift_so(s, task, choice, false);

    if (!is_deep(s, task))
        return cost;
    db_search_back(s, before);
    const int64_t riding = shift_so(s, task, choice, true);

    if (riding < cost)
        return riding;
    db_search_back(s, before);
    return shift_so(s, task, choice, false);
}

bool db_search_moved(const struct db_search *s, uint32_t task)
{
    for (size_t i = 0; i < s->changed; i++)
        if (s->changes[i].task == task)
            return true;
    return false;
}

uint32_t db_search_choice(const struct db_search *s, uint32_t task, int32_t day)
{
    const struct db_task *t = &s->tasks[task];

    for (uint32_t c = t->first_choice; c < t->first_choice + t->choice_count; c++)
        if (s->seat[c].day == day)
            return c;
    return DB_TASK_NONE;
}

/* -- the state ----------------------------------------------------------------------------------------------------- */

enum db_status db_search_begin(struct db_search *s, const struct db_placing *p, struct db_arena *scratch)
{
    *s = (struct db_search){ .p = p, .tasks = p->tasks };
    s->at = db_arena_get(scratch, p->count, sizeof *s->at);
    s->seat = db_arena_get(scratch, p->choice_count, sizeof *s->seat);
    s->load = db_arena_get(scratch, p->days, sizeof *s->load);
    s->follower = db_arena_get(scratch, p->count, sizeof *s->follower);
    s->sibling = db_arena_get(scratch, p->count, sizeof *s->sibling);
    s->of_day = db_arena_get(scratch, p->count, sizeof *s->of_day);
    s->day_from = db_arena_get(scratch, p->days + 1, sizeof *s->day_from);
    s->of_pair = db_arena_get(scratch, p->count, DB_GROUPINGS * sizeof *s->of_pair);
    s->stirred = db_arena_get(scratch, p->days, sizeof *s->stirred);
    s->seen = db_arena_get(scratch, p->count, sizeof *s->seen);
    if (!s->stirred || !s->seen)
        return DB_FULL;
    for (size_t c = 0; s->seat && c < p->choice_count; c++)
        s->seat[c].day = p->choices[c].day;
    for (size_t i = 0; s->seat && i < p->count; i++)
        for (uint32_t k = 0; p->tasks[i].leader == DB_TASK_NONE && k < p->tasks[i].choice_count; k++) {
            const uint32_t choice = p->tasks[i].first_choice + k;

            s->seat[choice].own = db_task_cost(p, &p->tasks[i], choice, 0);
        }
    if (!s->at || !s->seat || !s->load || !s->follower || !s->sibling || !s->of_day || !s->day_from || !s->of_pair ||
        db_pairs_number(s, scratch) != DB_OK)
        return DB_FULL;
    for (uint32_t i = 0; i < p->count; i++)
        s->follower[i] = s->sibling[i] = DB_TASK_NONE;
    for (uint32_t i = (uint32_t) p->count; i-- > 0;)
        if (s->tasks[i].leader != DB_TASK_NONE) {
            s->sibling[i] = s->follower[s->tasks[i].leader];
            s->follower[s->tasks[i].leader] = i;
        }
    return DB_OK;
}

int64_t db_search_total(const struct db_search *s)
{
    int64_t cost = 0;

    for (uint32_t i = 0; i < s->p->count; i++)
        cost += own_now(s, i);
    for (size_t d = 0; d < s->p->days; d++)
        cost += db_day_cost(s->p, (int32_t) d, s->load[d]);
    for (uint32_t pair = 1; pair < s->pairs; pair++)
        cost += !s->in_pair[pair] ? 0 : pair < s->first_tool ? DB_POINTS_SETUP : DB_POINTS_FETCH;
    return cost;
}
