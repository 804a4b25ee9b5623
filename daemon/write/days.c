/* What is said of a day by the gardener's days: more than it has time for, and what falls into days away. */
#include "write/private.h"

#include <string.h>

#include "base/banned.h"

enum { SUMMARY = 70, GROUP_SUMMARY = 160, LISTED = 40 };

struct saying {
    const struct db_jobs *jobs;
    struct db_arena *arena;
    struct db_bytes *out;
};

static bool holds(const struct db_group *group, const struct db_job *job)
{
    for (size_t i = 0; i < group->count; i++)
        if (group->jobs[i] == job)
            return true;
    return false;
}

/* "; Thin carrots in the north bed (40 min, until Thu 25 June)" */
static enum db_status list_group(const struct saying *s, const struct db_group *group, bool waits, const char *before)
{
    const char *whole = db_group_line(s->jobs, group, s->arena);
    const char *line = whole ? db_clean_cut(whole, group->count > 1 ? GROUP_SUMMARY : SUMMARY, s->arena) : NULL;
    char effort[DB_WORDS], last[DB_WORDS];
    double minutes = 0;
    enum db_status status;

    if (!line)
        return DB_FULL;
    for (size_t i = 0; i < group->count; i++)
        minutes += (double) group->jobs[i]->minutes;
    status = db_bytes_format(s->out, "%s%s (%s", before, line, db_words_effort(minutes, effort));
    if (status != DB_OK)
        return status;
    return waits ? db_bytes_format(s->out, ", until %s)", db_words_day(db_group_last(group, false), last))
                 : db_bytes_text(s->out, ")");
}

/* " What can wait: Thin carrots in the north bed (40 min, until Thu 25 June); ..." Those of the list that can, or that cannot, in its
 * order, each group where its first job is. */
static enum db_status list_spare(const struct saying *s, const struct db_job *const *list, size_t count, bool waits)
{
    const struct db_job **some = db_arena_get(s->arena, count, sizeof *some);
    bool *told = db_arena_get(s->arena, count, sizeof *told);
    struct db_group *groups = NULL;
    size_t left = 0, made = 0, named = 0;
    enum db_status status = some && told ? DB_OK : DB_FULL;

    for (size_t i = 0; status == DB_OK && i < count; i++)
        if (db_job_can_wait(s->jobs, list[i]) == waits)
            some[left++] = list[i];
    if (status == DB_OK)
        status = db_groups_make(s->jobs, some, left, s->arena, &groups, &made);
    for (size_t i = 0; status == DB_OK && i < count; i++)
        for (size_t g = 0; status == DB_OK && g < made; g++) {
            if (told[g] || !holds(&groups[g], list[i]))
                continue;
            told[g] = true;
            status = list_group(s, &groups[g], waits,
                                named++ ? "; "
                                : waits ? " What can wait: "
                                        : " What is left undone if need be: ");
        }
    return status == DB_OK && named ? db_bytes_text(s->out, ".") : status;
}

/* "45 min more than the 3 h that Saturday has." and what to do about it. */
static enum db_status say_over(const struct saying *s, struct db_date date, struct db_day day)
{
    const char *weekday = db_date_weekday_name(db_date_weekday(date), false);
    const struct db_job *const *list;
    char takes[DB_WORDS], has[DB_WORDS];
    size_t count = 0;
    enum db_status status = db_jobs_spare(s->jobs, date, s->arena, &list, &count);

    if (status != DB_OK)
        return status;
    if (day.has == 0)
        return db_bytes_format(s->out,
                               "%s has no time for the garden, but what stands on it has no other day: %s in all.",
                               weekday, db_words_effort((double) day.takes, takes));
    status = db_bytes_format(s->out, "%s more than the %s that %s has.",
                             db_words_effort((double) (day.takes - day.has), takes),
                             db_words_effort((double) day.has, has), weekday);
    if (status == DB_OK && !count)
        status = db_bytes_text(s->out, " None of it can wait.");
    if (status == DB_OK)
        status = list_spare(s, list, count, true);
    return status == DB_OK ? list_spare(s, list, count, false) : status;
}

/* Whether the same rule has an open job for the same sowing earlier in the time away. */
static bool came_before(const struct db_jobs *jobs, size_t from, size_t at)
{
    const struct db_job *job = db_jobs_at(jobs, at);

    for (size_t i = from; i < at; i++) {
        const struct db_job *other = db_jobs_at(jobs, i);

        if (other->rule == job->rule && other->sowing == job->sowing && other->state == DB_JOB_OPEN)
            return true;
    }
    return false;
}

/* One day of the time away, a line a group. What came on an earlier one is not said again. */
static enum db_status list_day(const struct saying *s, size_t from, struct db_date date, size_t *listed, size_t *more)
{
    const size_t begin = db_jobs_from(s->jobs, date), end = db_jobs_from(s->jobs, db_date_add(date, 1));
    const struct db_job **list = db_arena_get(s->arena, end - begin, sizeof *list);
    struct db_group *groups = NULL;
    size_t count = 0, made = 0;
    enum db_status status = list ? DB_OK : DB_FULL;

    for (size_t i = begin; list && i < end; i++)
        if (db_jobs_at(s->jobs, i)->state == DB_JOB_OPEN && !came_before(s->jobs, from, i))
            list[count++] = db_jobs_at(s->jobs, i);
    if (status == DB_OK)
        status = db_groups_make(s->jobs, list, count, s->arena, &groups, &made);
    for (size_t i = 0; status == DB_OK && i < made; i++) {
        const char *line = db_group_line(s->jobs, &groups[i], s->arena);
        char day[DB_WORDS];

        if (*listed == LISTED) {
            ++*more;
            continue;
        }
        if (!line)
            return DB_FULL;
        if (!(*listed)++)
            status = db_bytes_text(
                s->out, " What falls due meanwhile is for somebody else, each from the day on that it says:");
        if (status == DB_OK)
            status = db_bytes_format(s->out, "\n- %s: %s", db_words_day(date, day), line);
    }
    return status;
}

/* What falls due meanwhile and could not be put on a day at home. */
static enum db_status list_away(const struct saying *s, const struct db_away *away)
{
    const size_t from = db_jobs_from(s->jobs, away->first);
    enum db_status status = DB_OK;
    size_t listed = 0, more = 0;

    for (struct db_date day = away->first; status == DB_OK && day.day <= away->last.day; day = db_date_add(day, 1))
        status = list_day(s, from, day, &listed, &more);
    if (status == DB_OK && more)
        status = db_bytes_format(s->out, "\nand %zu more", more);
    return status == DB_OK && !listed ? db_bytes_text(s->out, " Nothing falls due meanwhile.") : status;
}

/* On the last day at home. */
static enum db_status say_leaving(const struct saying *s, const struct db_away *away)
{
    const struct db_date known = db_weather_known(db_jobs_view(s->jobs)->weather);
    char first[DB_WORDS], last[DB_WORDS];
    enum db_status status =
        away->first.day == away->last.day
            ? db_bytes_format(s->out, "You are away tomorrow, %s.", db_words_day(away->first, first))
            : db_bytes_format(s->out, "You are away from tomorrow, %s, to %s.", db_words_day(away->first, first),
                              db_words_day(away->last, last));

    if (status == DB_OK)
        status = list_away(s, away);
    if (status == DB_OK && db_date_known(known) && known.day < away->last.day)
        status =
            db_bytes_format(s->out, "\nWhat the weather will ask for after %s is not known yet: water, shade, fleece.",
                            db_words_day(known, first));
    return status;
}

const char *db_days_say(const struct db_jobs *jobs, struct db_date date, struct db_arena *arena)
{
    const struct db_view *view = db_jobs_view(jobs);
    const struct db_week *week = db_garden_week(view->garden);
    const struct db_day day = db_jobs_day(jobs, date);
    const struct db_away *leaving = day.away ? NULL : db_week_away(week, db_date_add(date, 1));
    struct db_bytes out = { .limit = 64 * 1024 };
    const struct saying s = { jobs, arena, &out };
    char last[DB_WORDS];
    enum db_status status = DB_OK;

    if (!week->given || date.day < view->today.day)
        return "";
    if (day.away && day.takes)
        status = db_bytes_format(&out, "You are away until %s: this is for somebody else.",
                                 db_words_day(day.away->last, last));
    else if (day.has >= 0 && day.takes > day.has)
        status = say_over(&s, date, day);
    if (status == DB_OK && leaving) {
        if (out.length)
            status = db_bytes_text(&out, "\n");
        if (status == DB_OK)
            status = say_leaving(&s, leaving);
    }
    const char *said = status != DB_OK ? NULL : out.length ? db_clean_text(out.data, arena) : "";
    db_bytes_free(&out);
    return said;
}
