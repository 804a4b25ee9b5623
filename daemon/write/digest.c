/* One day in words, for a terminal, a mail, a sheet of paper: as plain text, or as HTML of headings and lists. */
#include "write/private.h"

#include <stdio.h>
#include <string.h>

#include "base/banned.h"

enum { AHEAD = 6, ENDED = 3 };

struct digest {
    const struct db_jobs *jobs;
    struct db_date day;
    enum db_telling telling;
    struct db_arena *arena;
    struct db_bytes *out;
    bool html;
    const char *close; /* end tags of what is open; "" if nothing is */
};

typedef bool pick(const struct db_job *job, struct db_date day);

static bool is_today(const struct db_job *job, struct db_date day)
{
    return job->on.day == day.day;
}

static bool is_open(const struct db_job *job, struct db_date day)
{
    return job->on.day < day.day && job->last.day >= day.day && job->state == DB_JOB_OPEN;
}

static bool has_ended(const struct db_job *job, struct db_date day)
{
    return job->last.day < day.day && job->last.day >= day.day - ENDED && job->state == DB_JOB_MISSED;
}

/* A spell that comes again by itself when it is due leaves nothing behind to be sorry for. */
static bool is_told(const struct digest *d, const struct db_job *job, pick *wanted)
{
    const struct db_rules *rules = db_jobs_view(d->jobs)->rules;

    return wanted(job, d->day) && !(wanted == has_ended && db_rule_shape(rules, job->rule) == DB_SHAPE_WHILE &&
                                    db_rule_comes_again(rules, job->rule));
}

/* The jobs between two indices that `wanted` picks. */
static enum db_status gather(const struct digest *d, size_t from, size_t to, pick *wanted, const struct db_job ***ret,
                             size_t *ret_count)
{
    size_t count = 0;

    for (size_t i = from; i < to; i++)
        count += is_told(d, db_jobs_at(d->jobs, i), wanted);
    const struct db_job **list = db_arena_get(d->arena, count, sizeof *list);
    if (!list)
        return DB_FULL;
    count = 0;
    for (size_t i = from; i < to; i++)
        if (is_told(d, db_jobs_at(d->jobs, i), wanted))
            list[count++] = db_jobs_at(d->jobs, i);
    *ret = list;
    *ret_count = count;
    return DB_OK;
}

/* Text between tags, escaped. */
static enum db_status add_html(const struct digest *d, const char *before, const char *text, const char *after)
{
    enum db_status status = db_bytes_text(d->out, before);

    for (const char *end; status == DB_OK && *text; text = end) {
        end = text + strcspn(text, "&<>\"'");
        status = db_bytes_add(d->out, text, (size_t) (end - text));
        if (status == DB_OK && *end)
            status = db_bytes_format(d->out, "&#%d;", *end++);
    }
    return status == DB_OK ? db_bytes_text(d->out, after) : status;
}

/* Ends what is open in HTML; what is open then needs `close`. */
static enum db_status open_html(struct digest *d, const char *close)
{
    const char *before = d->close;

    d->close = close;
    return d->html ? db_bytes_text(d->out, before) : DB_OK;
}

static enum db_status head(struct digest *d, const char *words)
{
    if (!d->html)
        return db_bytes_format(d->out, "\n%s\n", words);
    enum db_status status = open_html(d, "");
    return status == DB_OK ? add_html(d, "<h2>", words, "</h2>\n") : status;
}

/* A sentence of its own. */
static enum db_status say(struct digest *d, const char *words)
{
    if (!d->html)
        return db_bytes_format(d->out, "\n%s\n", words);
    enum db_status status = open_html(d, "");
    return status == DB_OK ? add_html(d, "<p>", words, "</p>\n") : status;
}

/* A heading over a list: a bed, a day. */
static enum db_status head_list(struct digest *d, const char *words)
{
    enum db_status status = open_html(d, "</ul>\n");

    return status == DB_OK ? add_html(d, "<h3>", words, "</h3>\n<ul>\n") : status;
}

/* What is said about the job above. */
static enum db_status add_line(const struct digest *d, const char *lead, const char *text, size_t indent)
{
    if (!d->html)
        return db_words_wrap(d->out, lead, text, indent);
    enum db_status status = add_html(d, "<br>", lead + strspn(lead, " "), "");
    return status == DB_OK ? add_html(d, "", text, "\n") : status;
}

static const char *clean_or_null(const struct digest *d, const char *text)
{
    return text ? db_clean_text(text, d->arena) : NULL;
}

/* "until Sun 21 June; 19 min in all" */
static enum db_status tell_days(const struct digest *d, const struct db_group *group)
{
    const struct db_job *job = group->jobs[0];
    const struct db_date last = db_group_last(group, false);
    char words[DB_WORDS], late[DB_WORDS], line[4 * DB_WORDS];
    double minutes = 0;
    int used = 0;

    for (size_t i = 0; i < group->count; i++)
        minutes += (double) group->jobs[i]->minutes;
    if (job->state == DB_JOB_DONE)
        used = snprintf(line, sizeof line, "Done on %s.", db_words_day(job->done, words));
    else if (job->state == DB_JOB_MISSED)
        used = snprintf(line, sizeof line, "Its days ended on %s.", db_words_day(job->last, words));
    else if (last.day != db_group_last(group, true).day)
        used = snprintf(line, sizeof line, "Some of it %s%s, the rest by %s.", last.day == d->day.day ? "" : "by ",
                        last.day == d->day.day ? "today" : db_words_day(last, words),
                        db_words_day(db_group_last(group, true), late));
    else if (job->last.day == d->day.day)
        used = snprintf(line, sizeof line,
                        job->first.day == job->last.day ? "Today only." : "Today is the last day for it.");
    else
        used = snprintf(line, sizeof line, "Until %s.", db_words_day(job->last, words));
    if (job->state == DB_JOB_OPEN && used > 0 && *db_words_effort(minutes, words))
        (void) snprintf(line + used, sizeof line - (size_t) used, " Takes about %s%s.", words,
                        group->count > 1 ? " in all" : "");
    return add_line(d, "      ", line, 6);
}

/* The reasons: once where all have the same, else each with its sowing; of others than a round the first without it. */
static enum db_status tell_why(const struct digest *d, const struct db_group *group)
{
    const char **why = db_arena_get(d->arena, group->count, sizeof *why);
    enum db_status status = why ? DB_OK : DB_FULL;
    bool differ = false;

    for (size_t i = 0; status == DB_OK && i < group->count; i++) {
        why[i] = clean_or_null(d, db_telling_why(d->jobs, group->jobs[i], d->arena));
        status = why[i] ? DB_OK : DB_FULL;
        differ = differ || (why[i] && strcmp(why[i], why[0]) != 0);
    }
    for (size_t i = 0; status == DB_OK && i < group->count; i++) {
        const bool named = i || (group->round && differ);
        char lead[128];

        if (!*why[i] || (i && !(group->round && differ) && strcmp(why[i], why[0]) == 0))
            continue;
        (void) snprintf(lead, sizeof lead,
                        named ? "      For %.80s: " : "      Why: ", db_telling_sowing(d->jobs, group->jobs[i])->id);
        status = add_line(d, lead, why[i], 8);
    }
    return status;
}

static enum db_status tell_note(const struct digest *d, const struct db_group *group)
{
    const struct db_rules *rules = db_jobs_view(d->jobs)->rules;
    enum db_status status = DB_OK;

    for (size_t i = 0; status == DB_OK && i < group->count; i++) {
        const char *records = db_rule_records(rules, group->jobs[i]->rule);
        const char *sowing = db_telling_sowing(d->jobs, group->jobs[i])->id;

        if (d->html)
            status = db_bytes_format(d->out, "<br>%s <code>dewbell note %s %s</code>\n",
                                     i ? "and:" : "When it is done:", sowing, records);
        else
            status = db_bytes_format(d->out, "      %s dewbell note %s %s\n",
                                     i ? "                and:" : "When it is done:", sowing, records);
    }
    return status;
}

typedef const char *advise(const struct db_jobs *jobs, const struct db_job *job, struct db_arena *into);

/* What is advised, each text once; none that another of the group says, and more. */
static enum db_status tell_advice(const struct digest *d, const struct db_group *group, const char *lead,
                                  advise *advice)
{
    const char **texts = db_arena_get(d->arena, group->count, sizeof *texts);
    enum db_status status = texts ? DB_OK : DB_FULL;

    for (size_t i = 0; status == DB_OK && i < group->count; i++) {
        texts[i] = i && !group->round ? "" : clean_or_null(d, advice(d->jobs, group->jobs[i], d->arena));
        status = texts[i] ? DB_OK : DB_FULL;
    }
    for (size_t i = 0; status == DB_OK && i < group->count; i++) {
        bool said = !*texts[i];

        for (size_t k = 0; !said && k < group->count; k++)
            said = k != i && strstr(texts[k], texts[i]) && (k < i || strcmp(texts[k], texts[i]) != 0);
        if (!said)
            status = add_line(d, lead, texts[i], 8);
    }
    return status;
}

static enum db_status tell_fully(const struct digest *d, const struct db_group *group)
{
    enum db_status status = tell_why(d, group);
    if (status == DB_OK && group->jobs[0]->placed && group->jobs[0]->on.day != group->jobs[0]->best.day) {
        const char *days = clean_or_null(d, db_job_days(d->jobs, group->jobs[0], d->arena));
        status = !days ? DB_FULL : *days ? add_line(d, "      Your days: ", days, 8) : DB_OK;
    }

    if (status == DB_OK && d->telling == DB_TELLING_ALL)
        status = tell_advice(d, group, "      How: ", db_job_how);
    if (status == DB_OK)
        status = tell_advice(d, group, "      Take care: ", db_job_caution);
    return status == DB_OK ? tell_note(d, group) : status;
}

/* "Thin carrots in the north bed to 5 cm; the same for beetroot (beet-1)", and what follows it, wrapped. */
static enum db_status tell_group(const struct digest *d, const struct db_group *group, const char *mark, size_t indent,
                                 const char *after)
{
    const char *line = db_group_line(d->jobs, group, d->arena);

    if (!line)
        return DB_FULL;
    size_t size = strlen(line) + strlen(after) + 1;
    char *all = db_arena_get(d->arena, size, 1);
    if (!all)
        return DB_FULL;
    (void) snprintf(all, size, "%s%s", line, after);
    if (d->html)
        return add_html(d, group->jobs[0]->state == DB_JOB_DONE ? "<li>Done: <strong>" : "<li><strong>", all,
                        "</strong>\n");
    return db_words_wrap(d->out, mark, all, indent);
}

/* "  * Thin carrots in the north bed to 5 cm [thin-the-row/carrot-1]" */
static enum db_status tell_named(const struct digest *d, const struct db_group *group)
{
    const struct db_job *job = group->jobs[0];
    size_t length = db_job_name(d->jobs, job, NULL, 0);
    char *name = db_arena_get(d->arena, length + 4, 1); /* what `dewbell why` takes */

    if (!name)
        return DB_FULL;
    if (d->html)
        return tell_group(d, group, "", 0, "");
    memcpy(name, " [", 2);
    (void) db_job_name(d->jobs, job, name + 2, length + 1);
    memcpy(name + 2 + length, "]", 2);
    return tell_group(d, group, job->state == DB_JOB_DONE ? "  \xE2\x9C\x93 " : "  * ", 4, name);
}

/* "To fetch: fork; net and hoops.", where anything is: before the jobs, for it is read on the way to the shed. */
static enum db_status tell_tools(const struct digest *d, const struct db_group *groups, size_t count, bool apart)
{
    const char *line = db_tools_say(d->jobs, groups, count, d->arena);

    if (!line || !*line)
        return line ? DB_OK : DB_FULL;
    if (d->html)
        return add_html(d, "<p>", line, "</p>\n");
    enum db_status status = db_words_wrap(d->out, "", line, 0);
    return status == DB_OK && apart ? db_bytes_text(d->out, "\n") : status;
}

static enum db_status tell_section(struct digest *d, const char *title, const struct db_job **list, size_t count,
                                   bool full, bool with_tools)
{
    struct db_group *groups = NULL;
    size_t made = 0;
    enum db_status status = db_groups_make(d->jobs, list, count, d->arena, &groups, &made);

    if (status != DB_OK || !made)
        return status;
    status = head(d, title);
    if (status == DB_OK && with_tools)
        status = tell_tools(d, groups, made, full);
    for (size_t i = 0; status == DB_OK && i < made; i++) {
        if (i == 0 || groups[i].bed != groups[i - 1].bed) {
            const char *bed = db_clean_line(groups[i].bed->name, d->arena);
            status = !bed      ? DB_FULL
                     : d->html ? head_list(d, bed)
                               : db_bytes_format(d->out, "%s%s:\n", full && i ? "\n" : "", bed);
        }
        if (status == DB_OK)
            status = tell_named(d, &groups[i]);
        if (status == DB_OK && (full || groups[i].jobs[0]->state != DB_JOB_OPEN))
            status = tell_days(d, &groups[i]);
        if (status == DB_OK && full && groups[i].jobs[0]->state == DB_JOB_OPEN)
            status = tell_fully(d, &groups[i]);
        if (status == DB_OK && d->html)
            status = db_bytes_text(d->out, "</li>\n");
    }
    return status;
}

/* Whether the same rule has a job for the same sowing on a day from `from` to `to`. */
static bool comes(const struct digest *d, const struct db_job *job, struct db_date from, struct db_date to)
{
    for (size_t i = db_jobs_from(d->jobs, from), end = db_jobs_from(d->jobs, db_date_add(to, 1)); i < end; i++) {
        const struct db_job *other = db_jobs_at(d->jobs, i);
        if (other->rule == job->rule && other->sowing == job->sowing)
            return true;
    }
    return false;
}

/* "(45 min more than the 3 h of that day)", "(you are away)": under a day that is to come. */
static enum db_status tell_over(struct digest *d, struct db_date date)
{
    const struct db_day day = db_jobs_day(d->jobs, date);
    char over[DB_WORDS], has[DB_WORDS], line[3 * DB_WORDS];

    if (day.away)
        return d->html ? add_html(d, "<li>", "(you are away)", "</li>\n")
                       : db_words_wrap(d->out, "          ", "(you are away)", 10);
    if (day.has < 0 || day.takes <= day.has)
        return DB_OK;
    (void) snprintf(line, sizeof line,
                    day.has ? "(%s more than the %s of that day)" : "(%s; that day has no time for the garden)",
                    db_words_effort((double) (day.takes - day.has), over), db_words_effort((double) day.has, has));
    return d->html ? add_html(d, "<li>", line, "</li>\n") : db_words_wrap(d->out, "          ", line, 10);
}

/* A day's jobs, a compact line each. What comes round daily stands only where it begins. */
static enum db_status tell_day(struct digest *d, struct db_date date)
{
    size_t from = db_jobs_from(d->jobs, date), to = db_jobs_from(d->jobs, db_date_add(date, 1)), count = 0, made = 0;
    const struct db_job **list = db_arena_get(d->arena, to - from, sizeof *list);
    struct db_group *groups = NULL;
    char day[DB_WORDS], mark[16];

    if (!list)
        return DB_FULL;
    for (size_t i = from; i < to; i++)
        if (!comes(d, db_jobs_at(d->jobs, i), d->day, db_date_add(date, -1)))
            list[count++] = db_jobs_at(d->jobs, i);
    enum db_status status = db_groups_make(d->jobs, list, count, d->arena, &groups, &made);
    if (status == DB_OK && made && d->html)
        status = head_list(d, db_words_long_day(date, day));
    for (size_t i = 0; status == DB_OK && i < made; i++) {
        bool goes_on = comes(d, groups[i].jobs[0], db_date_add(date, 1), db_date_add(date, 1));
        (void) snprintf(mark, sizeof mark, "  %-6.6s  ", i ? "" : db_words_day(date, day));
        status = tell_group(d, &groups[i], mark, 10, goes_on ? " (and the days after)" : "");
        if (status == DB_OK && d->html)
            status = db_bytes_text(d->out, "</li>\n");
    }
    return status == DB_OK && made ? tell_over(d, date) : status;
}

/* Line by line: sentences, and the items of a list. */
static enum db_status tell_days_say(struct digest *d)
{
    const char *said = db_days_say(d->jobs, d->day, d->arena);
    enum db_status status = said ? DB_OK : DB_FULL;

    if (status == DB_OK && *said && !d->html)
        status = db_bytes_text(d->out, "\n");
    while (status == DB_OK && *said) {
        const size_t length = strcspn(said, "\n");
        const char *line = db_arena_text(d->arena, said, length);

        if (!line)
            return DB_FULL;
        if (d->html) {
            status = open_html(d, "");
            status = status == DB_OK ? add_html(d, "<p>", line, "</p>\n") : status;
        } else {
            status = db_words_wrap(d->out, *line == '-' ? "  " : "", line, *line == '-' ? 4 : 0);
        }
        said += length + (said[length] == '\n');
    }
    return status;
}

static enum db_status tell_coming(struct digest *d)
{
    enum db_status status = head(d, "Coming in the next 6 days");

    for (int ahead = 1; status == DB_OK && ahead <= AHEAD; ahead++)
        status = tell_day(d, db_date_add(d->day, ahead));
    return status;
}

static enum db_status tell_next(struct digest *d)
{
    size_t next = db_jobs_from(d->jobs, db_date_add(d->day, AHEAD + 1));
    char day[DB_WORDS], words[DB_WORDS + 32];

    if (next >= db_jobs_count(d->jobs))
        return say(d, "No jobs after this day: write sowings into the plan, and theirs appear here.");
    const struct db_job *job = db_jobs_at(d->jobs, next);
    const char *summary = db_job_summary(d->jobs, job, d->arena),
               *line = summary ? db_clean_line(summary, d->arena) : NULL;
    if (!line)
        return DB_FULL;
    (void) snprintf(words, sizeof words, "The next job is on %s:", db_words_long_day(job->on, day));
    enum db_status status = say(d, words);
    if (status != DB_OK)
        return status;
    return d->html ? add_html(d, "<p>", line, "</p>\n") : db_words_wrap(d->out, "  ", line, 4);
}

static enum db_status tell_picked(struct digest *d, const char *title, size_t from, size_t to, pick *wanted, bool full,
                                  size_t *ret_count)
{
    const struct db_job **list = NULL;
    enum db_status status = gather(d, from, to, wanted, &list, ret_count);

    return status == DB_OK ? tell_section(d, title, list, *ret_count, full, wanted == is_today) : status;
}

static enum db_status tell_all(struct digest *d)
{
    const struct db_jobs *jobs = d->jobs;
    size_t today = db_jobs_from(jobs, d->day), after = db_jobs_from(jobs, db_date_add(d->day, 1)), count = 0, open = 0;
    size_t week = db_jobs_from(jobs, db_date_add(d->day, AHEAD + 1));
    const char *garden = db_clean_line(db_garden_site(db_jobs_view(jobs)->garden)->name, d->arena);
    const bool full = d->telling != DB_TELLING_LINES;
    char day[DB_WORDS];

    if (!garden)
        return DB_FULL;
    (void) db_words_long_day(d->day, day);
    enum db_status status =
        d->html ? add_html(d, "<h1>", garden, ": ") : db_bytes_format(d->out, "%s: %s\n", garden, day);
    if (status == DB_OK && d->html)
        status = add_html(d, "", day, "</h1>\n");
    if (status == DB_OK)
        status = tell_days_say(d);
    if (status == DB_OK)
        status = tell_picked(d, "Today", today, after, is_today, full, &count);
    if (status == DB_OK && !count)
        status = say(d, "No job falls on today.");
    if (status == DB_OK)
        status = tell_picked(d, "Still open from earlier days", 0, today, is_open, full, &open);
    if (status == DB_OK)
        status = tell_picked(d, "Ended in the last 3 days without a note", 0, today, has_ended, false, &open);
    if (status == DB_OK)
        status = week > after ? tell_coming(d) : tell_next(d);
    return status == DB_OK ? open_html(d, "") : status;
}

enum db_status db_digest_day(const struct db_jobs *jobs, struct db_date date, enum db_telling telling,
                             struct db_arena *arena, struct db_bytes *out)
{
    struct digest d = { .jobs = jobs, .day = date, .telling = telling, .arena = arena, .out = out, .close = "" };

    return tell_all(&d);
}

enum db_status db_digest_html(const struct db_jobs *jobs, struct db_date date, enum db_telling telling,
                              struct db_arena *arena, struct db_bytes *out)
{
    struct digest d = {
        .jobs = jobs, .day = date, .telling = telling, .arena = arena, .out = out, .html = true, .close = ""
    };

    return tell_all(&d);
}

size_t db_digest_count(const struct db_jobs *jobs, struct db_date date)
{
    size_t count = 0;

    for (size_t i = 0, end = db_jobs_from(jobs, db_date_add(date, 1)); i < end; i++) {
        const struct db_job *job = db_jobs_at(jobs, i);
        count += is_open(job, date) || (is_today(job, date) && job->state == DB_JOB_OPEN);
    }
    return count;
}

bool db_digest_leaves(const struct db_jobs *jobs, struct db_date date)
{
    const struct db_week *week = db_garden_week(db_jobs_view(jobs)->garden);

    return !db_week_away(week, date) && db_week_away(week, db_date_add(date, 1));
}

enum db_status db_digest_escape(const char *text, struct db_bytes *out)
{
    const struct digest d = { .out = out };

    return add_html(&d, "", text, "");
}
