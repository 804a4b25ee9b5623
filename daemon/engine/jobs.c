#define DB_PURE
#include "engine/jobs.h"

#include "base/limits.h"
#include "base/text.h"
#include "rules/run.h"

#include "base/banned.h"

enum {
    PREFER_STEPS = 120, /* days from the best day that `prefer` looks at */
    FAR_DAY = 2932896   /* 31 December 9999 */
};

/* One rule for one sowing. */
struct task {
    struct db_clocks *clocks;
    const struct db_rules *rules;
    const struct db_rule_use *use;
    const struct db_life *life;
    struct db_scope *scope;
    struct db_job_list *to;
    size_t rule;
    int32_t today;
    struct db_date first, best, last;
};

/* The first rule that fetches the same. */
static uint32_t tool_of(const struct db_rules *rules, size_t rule)
{
    const char *tool = db_rule_tool(rules, rule);
    size_t first = 0;

    if (!*tool)
        return DB_NO_TOOL;
    while (!db_text_same(db_rule_tool(rules, first), tool))
        first++;
    return (uint32_t) first;
}

struct db_rule_use *db_rule_uses(const struct db_rules *rules, struct db_arena *arena)
{
    const size_t count = db_rules_count(rules);
    struct db_rule_use *uses = db_arena_get(arena, count, sizeof *uses);

    for (size_t r = 0; uses && r < count; r++) {
        uses[r].records = db_rule_records(rules, r);
        uses[r].stage = db_stage_find(uses[r].records);
        uses[r].after = db_rule_stages(rules, r);
        uses[r].shape = db_rule_shape(rules, r);
        uses[r].holds = db_rule_has(rules, r, DB_CLAUSE_HOLD);
        uses[r].avoids = db_rule_has(rules, r, DB_CLAUSE_AVOID);
        uses[r].prefers = db_rule_has(rules, r, DB_CLAUSE_PREFER);
        uses[r].prints_days = db_rule_prints_days(rules, r);
        uses[r].reads_beds = db_rule_reads_beds(rules, r);
        uses[r].comes_again = db_rule_comes_again(rules, r);
        uses[r].follows = db_rule_follows(rules, r);
        uses[r].tool = tool_of(rules, r);
        uses[r].has_until = db_rule_has(rules, r, DB_CLAUSE_UNTIL);
    }
    return uses;
}

static struct db_date earlier(struct db_date a, struct db_date b)
{
    return a.day < b.day ? a : b;
}

static struct db_date later(struct db_date a, struct db_date b)
{
    return a.day > b.day ? a : b;
}

static bool holds(const struct task *t, enum db_clause clause, struct db_date day)
{
    t->scope->day = day;
    return db_rule_holds(t->rules, t->rule, clause, t->scope);
}

static enum db_status add(struct task *t, struct db_job job)
{
    struct db_job_list *to = t->to;

    if (job.last.day < t->today - DB_JOBS_BACK || job.first.day > t->today + DB_JOBS_AHEAD)
        return DB_OK;
    if (to->count >= DB_LIMIT_JOBS)
        return DB_FULL;
    if (!to->last || to->last->count == sizeof to->last->jobs / sizeof to->last->jobs[0]) {
        struct db_job_batch *batch = db_arena_get(to->arena, 1, sizeof *batch);

        if (!batch)
            return DB_FULL;
        if (to->last)
            to->last->next = batch;
        else
            to->first = batch;
        to->last = batch;
    }
    job.rule = t->rule;
    job.sowing = t->scope->sowing;
    job.worked = job.best;
    job.there = db_date_known(t->life->stage[DB_STAGE_PLANTED].likely) &&
                job.best.day >= t->life->stage[DB_STAGE_PLANTED].likely.day;
    job.urgency = db_rule_urgency(t->rules, t->rule);
    t->scope->day = job.best;
    job.minutes = db_rule_minutes(t->rules, t->rule, t->scope);
    to->last->jobs[to->last->count++] = job;
    to->count++;
    return DB_OK;
}

static enum db_job_state undone_state(const struct task *t, struct db_date last)
{
    return last.day < t->today ? DB_JOB_MISSED : DB_JOB_OPEN;
}

/* Whether life has gone past this job: a later stage than the one it records was noted, or the sowing was cleared after
 * its window opened. */
static bool overtaken(const struct task *t)
{
    const struct db_turn *cleared = &t->life->stage[DB_STAGE_CLEARED];

    if (cleared->how == DB_NOTED && t->first.day < cleared->likely.day)
        return true;
    for (int s = 0; t->use->stage >= 0 && s < DB_STAGE_COUNT; s++)
        if (t->life->stage[s].how == DB_NOTED &&
            db_stage_step((enum db_stage) s) > db_stage_step((enum db_stage) t->use->stage))
            return true;
    return false;
}

/* Notes that mark this rule's job done, oldest first. A stage may also be noted in the plan itself (`sown = DATE`). */
static const struct db_date *done_dates(struct task *t, size_t *ret_count)
{
    if (t->use->stage >= 0 && t->use->shape == DB_SHAPE_ONCE) {
        const struct db_turn *turn = &t->life->stage[t->use->stage];

        *ret_count = turn->how == DB_NOTED;
        return &turn->likely;
    }
    return db_clocks_notes(t->clocks, t->scope->sowing, t->use->records, ret_count);
}

static void hold_from(struct task *t, struct db_date day)
{
    const int32_t from = t->best.day;

    for (int i = 0; i < DB_LIMIT_HOLD && holds(t, DB_CLAUSE_HOLD, day); i++) {
        day = db_date_add(day, 1);
        t->best = day;
    }
    t->last = db_date_add(t->last, t->best.day - from);
}

/* Moves the best day on while `hold` holds, and the end of the window with it. What was not done on a best day gone by is
 * held in its turn: nobody plants late into tonight's frost. */
static void hold_back(struct task *t)
{
    hold_from(t, t->best);
    if (t->best.day < t->today && t->last.day >= t->today)
        hold_from(t, (struct db_date){ t->today });
}

/* What is asked of a day by `prefer`, `avoid` and `hold`: all, or all but the first. */
static bool is_good(const struct task *t, struct db_date day, bool preferred)
{
    return !(t->use->avoids && holds(t, DB_CLAUSE_AVOID, day)) && !(t->use->holds && holds(t, DB_CLAUSE_HOLD, day)) &&
           !(preferred && t->use->prefers && !holds(t, DB_CLAUSE_PREFER, day));
}

/* The good day nearest to the best one, of two equally near the later one. Only days whose weather is known are asked; days gone
 * by only when the best day is one of them. */
static bool find_good(struct task *t, bool preferred)
{
    const struct db_date today = { t->today };
    const struct db_date from = t->best.day >= t->today ? later(t->first, today) : t->first;
    const struct db_date to = earlier(t->last, db_weather_known(t->clocks->view->weather));

    for (int32_t i = 0; i <= PREFER_STEPS; i++) {
        const struct db_date on = db_date_add(t->best, i), back = db_date_add(t->best, -i);

        if (on.day > to.day && back.day < from.day)
            return false;
        if (on.day >= from.day && on.day <= to.day && is_good(t, on, preferred)) {
            t->best = on;
            return true;
        }
        if (i && back.day >= from.day && back.day <= to.day && is_good(t, back, preferred)) {
            t->best = back;
            return true;
        }
    }
    return false;
}

/* A day with weather that is preferred draws the job from far; weather that is to be avoided drives it off its best day only
 * where that is known to have it. */
static void choose_day(struct task *t)
{
    if (t->use->prefers && find_good(t, true))
        return;
    if (t->use->avoids && t->best.day <= db_weather_known(t->clocks->view->weather).day)
        (void) find_good(t, false);
}

static enum db_status add_once(struct task *t)
{
    size_t count;
    const struct db_date *dates = done_dates(t, &count);

    if (!dates)
        return t->clocks->status;
    if (count) { /* it stands on the day on which it was done, whatever the window was */
        const struct db_date done = dates[count - 1];

        return add(t, (struct db_job){ .first = earlier(t->first, done),
                                       .best = done,
                                       .last = later(t->last, done),
                                       .done = done,
                                       .state = DB_JOB_DONE });
    }
    if (overtaken(t) || t->first.day > t->today + DB_JOBS_AHEAD ||
        t->last.day + (t->use->holds ? DB_LIMIT_HOLD : 0) < t->today - DB_JOBS_BACK)
        return DB_OK;
    if (t->use->holds)
        hold_back(t);
    choose_day(t);
    return add(t, (struct db_job){ .first = t->first,
                                   .best = t->best,
                                   .last = t->last,
                                   .done = DB_NO_DATE,
                                   .state = undone_state(t, t->last) });
}

/* Each note inside the window is one that was done; the next is due a step after the last of them. Of those that have
 * gone by undone only the latest is still worth doing. */
static enum db_status add_every(struct task *t)
{
    size_t count;
    const struct db_date *dates = done_dates(t, &count);
    unsigned done = 0;
    int left = DB_LIMIT_REPEATS;
    struct db_date next = t->best;
    enum db_status status = DB_OK;

    if (!dates)
        return t->clocks->status;
    if (t->first.day > t->today + DB_JOBS_AHEAD || t->last.day < t->today - DB_JOBS_BACK)
        return DB_OK;
    t->scope->day = (struct db_date){ t->today };

    const int32_t step = db_rule_every(t->rules, t->rule, t->scope);

    for (size_t i = 0; i < count && status == DB_OK; i++) {
        if (dates[i].day < t->first.day || dates[i].day > t->last.day)
            continue;
        next = db_date_add(dates[i], step);
        if (dates[i].day >= t->today - DB_JOBS_BACK && left-- > 0)
            status = add(t, (struct db_job){ .occurrence = done,
                                             .first = dates[i],
                                             .best = dates[i],
                                             .last = dates[i],
                                             .done = dates[i],
                                             .state = DB_JOB_DONE });
        done++;
    }
    if (next.day > t->last.day || overtaken(t))
        return status;

    const int32_t gone = t->today < t->last.day ? t->today : t->last.day;
    int32_t skipped = next.day < gone ? (gone - next.day) / step : 0;

    for (next = db_date_add(next, skipped * step); status == DB_OK && next.day <= t->last.day; skipped++) {
        const struct db_date end = earlier(t->last, db_date_add(next, step - 1));

        if (next.day > t->today + DB_JOBS_AHEAD || left-- <= 0)
            break;
        status = add(t, (struct db_job){ .occurrence = done + (unsigned) skipped,
                                         .first = next,
                                         .best = next,
                                         .last = end,
                                         .done = DB_NO_DATE,
                                         .state = undone_state(t, end) });
        next = db_date_add(next, step);
    }
    return status;
}

static enum db_status add_spell(struct task *t, unsigned occurrence, struct db_date start, struct db_date end)
{
    const struct db_date today = { t->today };
    struct db_job job = { .occurrence = occurrence, .first = start, .best = start, .last = end, .done = DB_NO_DATE };
    size_t count;
    const struct db_date *dates = db_clocks_notes(t->clocks, t->scope->sowing, t->use->records, &count);

    if (!dates)
        return t->clocks->status;
    for (size_t i = 0; i < count; i++)
        if (db_note_answers(t->use, dates[i], start, end))
            job.done = dates[i];
    if (db_date_known(job.done)) {
        job.state = DB_JOB_DONE;
        job.best = later(start, job.done);
    } else if (overtaken(t)) {
        return DB_OK;
    } else {
        job.state = undone_state(t, end);
        if (start.day < today.day && today.day <= end.day)
            job.best = today;
    }
    return add(t, job);
}

/* The last day from `from` to `to` on which this rule's job was noted done; no date: none of them. */
static enum db_status last_done(const struct task *t, int32_t from, int32_t to, struct db_date *ret)
{
    size_t count;
    const struct db_date *dates = db_clocks_notes(t->clocks, t->scope->sowing, t->use->records, &count);

    if (!dates)
        return t->clocks->status;
    while (count && dates[count - 1].day > to)
        count--;
    *ret = count && dates[count - 1].day >= from ? dates[count - 1] : DB_NO_DATE;
    return DB_OK;
}

/* Whether a spell that runs on the day before `day` is over by then. A rule that comes again (`every`) ends its spell with
 * each note, and the next may begin so many days after it. */
static enum db_status spell_ends(struct task *t, struct db_date day, struct db_date end, struct db_date *answered,
                                 bool *ret)
{
    enum db_status status = DB_OK;

    *answered = DB_NO_DATE;
    if (t->use->comes_again)
        status = last_done(t, day.day - 1, day.day - 1, answered);
    *ret = db_date_known(*answered) || day.day > end.day ||
           (t->use->has_until ? holds(t, DB_CLAUSE_UNTIL, day) : !holds(t, DB_CLAUSE_WHILE, day));
    return status;
}

static enum db_status spell_begins(struct task *t, struct db_date day, struct db_date end, int32_t step, bool *ret)
{
    struct db_date before = DB_NO_DATE;
    enum db_status status = DB_OK;

    *ret = day.day <= end.day && holds(t, DB_CLAUSE_WHILE, day);
    if (*ret && step > 1)
        status = last_done(t, day.day - step + 1, day.day - 1, &before);
    *ret = *ret && !db_date_known(before);
    return status;
}

/* Spells are counted from the start of the window, so that the same history gives each the same number, although only
 * the latest are jobs. */
static enum db_status add_while(struct task *t)
{
    const struct db_date end = earlier(t->last, db_weather_known(t->clocks->view->weather));
    const int32_t step = t->use->comes_again ? db_rule_every(t->rules, t->rule, t->scope) : 0;
    struct db_date day = later(t->first, t->clocks->first), start = DB_NO_DATE;
    unsigned occurrence = 0;
    int left = DB_LIMIT_SPELLS;
    enum db_status status = DB_OK;

    if (!db_date_known(end) || end.day < t->today - DB_SPELL_BACK)
        return DB_OK;
    for (; day.day <= end.day + 1 && status == DB_OK && left > 0; day.day++) {
        struct db_date answered = DB_NO_DATE;
        bool turns = false;

        if (db_date_known(start)) {
            status = spell_ends(t, day, end, &answered, &turns);
            if (status != DB_OK || !turns)
                continue;
            if (day.day - 1 >= t->today - DB_SPELL_BACK) {
                status = add_spell(t, occurrence, start, db_date_add(day, -1));
                left--;
            }
            occurrence++;
            start = DB_NO_DATE;
            if (!db_date_known(answered)) /* what ended it does not begin another on the same day */
                continue;
        }
        if (status == DB_OK)
            status = spell_begins(t, day, end, step, &turns);
        if (status == DB_OK && turns)
            start = day;
    }
    return status;
}

enum db_status db_jobs_gather(struct db_jobs *jobs, size_t sowing, struct db_job_list *to)
{
    struct db_scope scope;
    struct task t = { .clocks = &jobs->clocks,
                      .rules = jobs->view.rules,
                      .life = &jobs->courses[sowing].life,
                      .scope = &scope,
                      .to = to,
                      .today = jobs->view.today.day };
    const size_t rules = db_rules_count(t.rules);
    enum db_status status = DB_OK;

    db_scope_fill(jobs, sowing, jobs->view.today, &scope);
    for (t.rule = 0; t.rule < rules && status == DB_OK; t.rule++) {
        t.use = &jobs->uses[t.rule];
        scope.day = jobs->view.today;
        if (!db_rule_window(t.rules, t.rule, &scope, &t.first, &t.best, &t.last) ||
            !db_rule_applies(t.rules, t.rule, &scope))
            continue;
        t.last.day = t.last.day < FAR_DAY ? t.last.day : FAR_DAY;
        status = t.use->shape == DB_SHAPE_ONCE    ? add_once(&t)
                 : t.use->shape == DB_SHAPE_EVERY ? add_every(&t)
                                                  : add_while(&t);
    }
    return status;
}
