/* What the gardener's days say of a day, and why a job stands on its one. */
#define DB_PURE
#include "engine/days.h"

#include "base/sort.h"
#include "base/text.h"
#include "dewbell/units.h"
#include "rules/run.h"
#include "rules/template.h"

#include <math.h>

#include "base/banned.h"

enum { WORDS = 1024 };

static const struct db_week *week_of(const struct db_jobs *jobs)
{
    return db_garden_week(jobs->view.garden);
}

/* Whether it takes its part of the minutes of the day that it stands on. */
static bool counts(const struct db_job *job)
{
    return job->state == DB_JOB_OPEN || (job->state == DB_JOB_DONE && job->done.day == job->on.day);
}

struct db_day db_jobs_day(const struct db_jobs *jobs, struct db_date date)
{
    struct db_day day = { .has = db_week_minutes(week_of(jobs), date), .away = db_week_away(week_of(jobs), date) };

    const size_t end = db_jobs_from(jobs, db_date_add(date, 1));

    day.takes = date.day == jobs->view.today.day ? jobs->gone_minutes : 0;
    for (size_t i = db_jobs_from(jobs, date); i < end; i++)
        if (counts(db_jobs_at(jobs, i)))
            day.takes += (int32_t) ceilf(db_jobs_at(jobs, i)->minutes);
    return day;
}

bool db_job_can_wait(const struct db_jobs *jobs, const struct db_job *job)
{
    const struct db_week *week = week_of(jobs);

    if (job->state != DB_JOB_OPEN || db_job_is_fixed(jobs, job))
        return false;
    for (struct db_date day = db_date_add(job->on, 1); day.day <= job->last.day; day.day++)
        if (db_week_minutes(week, day) != 0)
            return true;
    return false;
}

struct spare {
    const struct db_job *job;
    bool waits;
};

/* What can wait longest and matters least goes first; of alike ones the longest, so that few are given up. */
static int by_loss(const void *a, const void *b, const void *context)
{
    const struct spare *x = a, *y = b;

    (void) context;
    if (x->waits != y->waits)
        return x->waits ? -1 : 1;
    if (x->job->urgency != y->job->urgency)
        return x->job->urgency > y->job->urgency ? -1 : 1;
    if (x->job->minutes > y->job->minutes || x->job->minutes < y->job->minutes)
        return x->job->minutes > y->job->minutes ? -1 : 1;
    return (x->job->last.day < y->job->last.day) - (x->job->last.day > y->job->last.day);
}

enum db_status db_jobs_spare(const struct db_jobs *jobs, struct db_date date, struct db_arena *into,
                             const struct db_job *const **ret, size_t *ret_count)
{
    const struct db_day day = db_jobs_day(jobs, date);
    const size_t from = db_jobs_from(jobs, date), end = db_jobs_from(jobs, db_date_add(date, 1));
    struct spare *spare = db_arena_get(into, end - from, sizeof *spare);
    const struct db_job **list = db_arena_get(into, end - from, sizeof *list);
    int32_t over = day.has >= 0 ? day.takes - day.has : 0;
    size_t count = 0, kept = 0;

    if (!spare || !list)
        return DB_FULL;
    for (size_t i = from; i < end && !day.away; i++) {
        const struct db_job *job = db_jobs_at(jobs, i);

        if (job->state == DB_JOB_OPEN && !db_job_is_fixed(jobs, job) && job->minutes > 0)
            spare[count++] = (struct spare){ job, db_job_can_wait(jobs, job) };
    }
    if (db_sort(spare, count, sizeof *spare, by_loss, NULL, into) != DB_OK)
        return DB_FULL;
    for (; kept < count && over > 0; kept++) {
        list[kept] = spare[kept].job;
        over -= (int32_t) ceilf(spare[kept].job->minutes);
    }
    *ret = list;
    *ret_count = kept;
    return DB_OK;
}

/* "Saturday 20 June" */
static void add_day(struct db_text *text, const struct db_jobs *jobs, struct db_date date)
{
    db_text_add_format(text, "%s ", db_date_weekday_name(db_date_weekday(date), false));
    db_text_add_day(text, date, jobs->view.today);
}

/* "2 h 15 min" */
static void add_time(struct db_text *text, int32_t minutes)
{
    char words[64];

    (void) db_amount_text((struct db_amount){ minutes / 1440.0, DB_KIND_TIME }, false, words, sizeof words);
    db_text_add(text, minutes ? words : "no time");
}

/* "has 3 h for the garden, and its jobs take 2 h" */
static void add_room(struct db_text *text, const struct db_jobs *jobs, struct db_date date)
{
    const struct db_day day = db_jobs_day(jobs, date);

    db_text_add(text, "has ");
    if (day.has == DB_MINUTES_ANY) {
        db_text_add(text, "as much time as it needs");
        return;
    }
    add_time(text, day.has);
    db_text_add(text, " for the garden");
    if (day.takes) {
        db_text_add(text, ", and its jobs take ");
        add_time(text, day.takes);
    }
}

static void add_away(struct db_text *text, const struct db_jobs *jobs, const struct db_away *away)
{
    db_text_add(text, "away ");
    if (away->first.day == away->last.day) {
        db_text_add(text, "on ");
        add_day(text, jobs, away->first);
        return;
    }
    db_text_add(text, "from ");
    add_day(text, jobs, away->first);
    db_text_add(text, " to ");
    add_day(text, jobs, away->last);
}

/* What the job hangs on; of several the one that comes last. None of them stands after it, nor long before. */
static const struct db_job *find_leader(const struct db_jobs *jobs, const struct db_job *job)
{
    const int32_t back = DB_DAYS_BEFORE + DB_DAYS_AFTER;
    const size_t end = db_jobs_from(jobs, db_date_add(job->on, 1));
    const struct db_job *found = NULL;

    for (size_t i = db_jobs_from(jobs, db_date_add(job->on, -back)); i < end; i++) {
        const struct db_job *other = db_jobs_at(jobs, i);

        if (db_job_leads(jobs, other, job) && (!found || other->best.day > found->best.day))
            found = other;
    }
    return found;
}

static bool shares_bed(const struct db_jobs *jobs, const struct db_job *a, const struct db_job *b)
{
    const struct db_sowing *x = db_garden_sowing(jobs->view.garden, a->sowing);
    const struct db_sowing *y = db_garden_sowing(jobs->view.garden, b->sowing);

    return (a->there ? x->into : x->bed) == (b->there ? y->into : y->bed);
}

static bool shares_tool(const struct db_jobs *jobs, const struct db_job *a, const struct db_job *b)
{
    return jobs->uses[a->rule].tool != DB_NO_TOOL && jobs->uses[a->rule].tool == jobs->uses[b->rule].tool;
}

typedef bool sharing(const struct db_jobs *jobs, const struct db_job *a, const struct db_job *b);

/* Whether another open job that shares it stands on the same day. */
static bool has_company(const struct db_jobs *jobs, const struct db_job *job, sharing *shares)
{
    const size_t end = db_jobs_from(jobs, db_date_add(job->on, 1));

    for (size_t i = db_jobs_from(jobs, job->on); i < end; i++) {
        const struct db_job *other = db_jobs_at(jobs, i);

        if (other != job && other->state == DB_JOB_OPEN && shares(jobs, job, other))
            return true;
    }
    return false;
}

/* What it was drawn to. */
static void add_company(struct db_text *text, const struct db_jobs *jobs, const struct db_job *job)
{
    const bool bed = has_company(jobs, job, shares_bed), tool = has_company(jobs, job, shares_tool);

    if (bed || tool)
        db_text_add(text, "It goes with other work ");
    if (bed)
        db_text_add(text, tool ? "in the same bed, and with other work " : "in the same bed.");
    if (tool)
        db_text_add_format(text, "that wants the same tool: %s.", db_rule_tool(jobs->view.rules, job->rule));
}

/* "Its best day, Saturday 13 June,", or today where that has gone by. */
static void add_due(struct db_text *text, const struct db_jobs *jobs, const struct db_job *job)
{
    if (job->best.day < jobs->view.today.day) {
        db_text_add(text, "Today ");
        return;
    }
    db_text_add(text, "Its best day, ");
    add_day(text, jobs, job->best);
    db_text_add(text, ", ");
}

/* What the weather of a day has against the job. */
static bool add_weather(struct db_text *text, const struct db_jobs *jobs, const struct db_job *job, struct db_date day)
{
    struct db_arena *arena = db_arena_new((size_t) 1 << 20);
    struct db_reason reasons[4];
    struct db_scope scope;
    size_t count = 0;

    db_scope_fill(jobs, job->sowing, day, &scope);
    if (!arena || db_rule_explain_avoid(jobs->view.rules, job->rule, &scope, arena, reasons, 4, &count) != DB_OK)
        count = 0;
    if (count) {
        db_text_add(text, "The weather is against ");
        add_day(text, jobs, day);
        db_text_add(text, ".");
    }
    for (size_t i = 0; i < count && i < 4; i++)
        db_text_add_format(text, " %s", reasons[i].text);
    (void) db_arena_free(arena);
    return count > 0;
}

/* What kept it from its best day. */
static void add_obstacle(struct db_text *text, const struct db_jobs *jobs, const struct db_job *job, struct db_date due)
{
    const struct db_job *leader = find_leader(jobs, job);
    const struct db_away *away = db_week_away(week_of(jobs), due);
    const struct db_day day = db_jobs_day(jobs, due);

    if (leader && leader->on.day > db_job_due(jobs, leader).day) {
        db_text_add(text, "What it follows is put off to ");
        add_day(text, jobs, leader->on);
        db_text_add(text, ".");
    } else if (away) {
        db_text_add(text, job->best.day < jobs->view.today.day ? "You are " : "On its best day you are ");
        add_away(text, jobs, away);
        db_text_add(text, ".");
    } else if (day.has == 0) {
        add_due(text, jobs, job);
        db_text_add(text, "has no time for the garden.");
    } else if (day.has > 0 && day.takes + (int32_t) ceilf(job->minutes) > day.has) {
        add_due(text, jobs, job);
        add_room(text, jobs, due);
        db_text_add(text, ".");
    } else if (add_weather(text, jobs, job, due)) {
    } else if (job->published && job->published->on.day == job->on.day) {
        db_text_add(text, "It stays on the day on which it was put when it was published.");
    } else {
        add_company(text, jobs, job);
    }
}

const char *db_job_days(const struct db_jobs *jobs, const struct db_job *job, struct db_arena *into)
{
    const struct db_week *week = week_of(jobs);
    const struct db_date today = jobs->view.today, due = db_job_due(jobs, job);
    const struct db_date before = job->published ? job->published->on : DB_NO_DATE;
    char words[WORDS];
    struct db_text text = db_text_in(words, sizeof words);

    if (!job->placed || job->state != DB_JOB_OPEN)
        return "";
    if (job->on.day < today.day) {
        db_text_add(&text, "Its day went by, and nothing was noted since: it may be done already.");
        return db_arena_text(into, text.data, text.length);
    }
    if (db_date_known(before) && before.day < today.day) {
        db_text_add(&text, "It was to be done on ");
        add_day(&text, jobs, before);
        db_text_add(&text, "; other things were noted since, this was not. ");
    }
    if (db_week_away(week, job->on)) {
        db_text_add(&text, "You are ");
        add_away(&text, jobs, db_week_away(week, job->on));
        db_text_add(&text, ", and it has no day on which you are at home: it is for somebody else.");
    } else if (job->on.day == due.day && db_job_is_fixed(jobs, job)) {
        db_text_add(&text, "It cannot wait for another day; ");
        add_day(&text, jobs, job->on);
        db_text_add(&text, " ");
        add_room(&text, jobs, job->on);
        db_text_add(&text, ".");
    } else if (db_week_minutes(week, job->on) == 0) {
        db_text_add(&text, "It has no day with time for the garden, and stands on ");
        add_day(&text, jobs, job->on);
        db_text_add(&text, " all the same.");
    } else {
        if (job->on.day != due.day) {
            add_obstacle(&text, jobs, job, due);
            db_text_add(&text, text.length ? " " : "");
        }
        db_text_add(&text, job->on.day == due.day ? "" : "It is put on ");
        add_day(&text, jobs, job->on);
        db_text_add(&text, job->on.day == due.day ? " " : ", which ");
        add_room(&text, jobs, job->on);
        db_text_add(&text, ".");
    }
    return db_arena_text(into, text.data, text.length);
}
