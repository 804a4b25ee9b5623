/* today, jobs, why: what there is to do, when, and for what reason. */
#include "cli/cli.h"

#include "service/told.h"

#include "write/write.h"

#include "dewbell/units.h"

#include <string.h>

#include "base/banned.h"

static int too_much(void)
{
    fprintf(stderr, "dewbell: out of memory\n");
    return DB_EXIT_TROUBLE;
}

static int print_bytes(struct db_bytes *bytes, enum db_status status)
{
    if (status == DB_OK)
        fwrite(bytes->data, 1, bytes->length, stdout);
    db_bytes_free(bytes);
    return status == DB_OK ? DB_EXIT_FINE : too_much();
}

static int print_json(const struct db_session *s, size_t from, size_t to)
{
    struct db_bytes bytes = { .limit = (size_t) 1 << 30 };

    return print_bytes(&bytes, db_json_jobs(s->jobs, from, to, s->work, &bytes));
}

int db_cmd_today(struct db_session *s, int count, char **words)
{
    struct db_bytes bytes = { .limit = (size_t) 1 << 28 };
    char age[48], here[160];
    int status = db_session_jobs(s);

    (void) count;
    (void) words;
    if (status != DB_EXIT_FINE)
        return status;
    if (s->options.json)
        return print_json(s, 0, db_jobs_count(s->jobs));
    status = print_bytes(&bytes, db_digest_day(s->jobs, s->today,
                                               s->options.brief  ? DB_TELLING_LINES
                                               : s->options.full ? DB_TELLING_ALL
                                                                 : DB_TELLING_REASONS,
                                               s->work, &bytes));
    if (status == DB_EXIT_FINE && s->estate.told && !s->options.brief) {
        const char *differs = db_told_here(s->estate.told, db_garden_site(s->estate.garden), here);

        printf("\nForecast: %s, %s.%s%s\n", s->estate.told->source, db_told_age(s->estate.told, db_session_now(s), age),
               *differs ? " " : "", differs);
    }
    return status;
}

static int read_bound(const char *said, struct db_date today, struct db_date *ret)
{
    if (strcmp(said, "today") == 0) {
        *ret = today;
        return DB_EXIT_FINE;
    }
    enum db_status status = db_date_read(said, strlen(said), ret);
    if (status == DB_OK)
        return DB_EXIT_FINE;
    fprintf(stderr,
            status == DB_ABSENT ? "dewbell: the calendar has no day \"%s\"\n"
                                : "dewbell: \"%s\" is not a date; write 2026-06-14 or \"14 June 2026\"\n",
            said);
    return DB_EXIT_USAGE;
}

static const char *state_text(const struct db_job *job, struct db_date today, char buffer[96])
{
    char day[48];

    if (job->state == DB_JOB_DONE)
        (void) snprintf(buffer, 96, "done on %s", db_show_short(job->done, today, day));
    else if (job->state == DB_JOB_MISSED)
        (void) snprintf(buffer, 96, "not done; its days are over");
    else if (job->on.day == job->last.day && (job->first.day == job->last.day || !job->placed))
        (void) snprintf(buffer, 96, "this day only");
    else
        (void) snprintf(buffer, 96, "until %s", db_show_short(job->last, today, day));
    return buffer;
}

static const char *minutes_text(int32_t minutes, char buffer[64])
{
    (void) db_amount_text((struct db_amount){ minutes / 1440.0, DB_KIND_TIME }, false, buffer, 64);
    return buffer;
}

/* "Saturday 20 June 2015: 2 h 52 min of 3 h" */
static void show_day_head(const struct db_session *s, struct db_date date, bool apart)
{
    const struct db_day load = db_jobs_day(s->jobs, date);
    char day[48], takes[64], has[64];

    printf("%s%s%s%s", apart ? "\n" : "", db_show_bold(stdout), db_show_day(date, day), db_show_plain(stdout));
    (void) minutes_text(load.takes, takes);
    if (load.away)
        printf(": you are away");
    else if (load.has == 0 && load.takes)
        printf(": %s, and no time for the garden", takes);
    else if (load.has > 0 && load.takes <= load.has)
        printf(": %s of %s", takes, minutes_text(load.has, has));
    else if (load.has > 0)
        printf(": %s more than its %s", minutes_text(load.takes - load.has, takes), minutes_text(load.has, has));
    printf("\n");
}

int db_cmd_jobs(struct db_session *s, int count, char **words)
{
    char day[48], state[96], name[256];
    int status = db_session_jobs(s);

    if (status != DB_EXIT_FINE)
        return status;
    struct db_date from = s->today, to;
    if (count > 0 && (status = read_bound(words[0], s->today, &from)) != DB_EXIT_FINE)
        return status;
    to = db_date_add(from, 13);
    if (count > 1 && (status = read_bound(words[1], s->today, &to)) != DB_EXIT_FINE)
        return status;
    if (to.day < from.day) {
        fprintf(stderr, "dewbell: the span ends before it begins\n");
        return DB_EXIT_USAGE;
    }
    size_t first = db_jobs_from(s->jobs, from), end = db_jobs_from(s->jobs, db_date_add(to, 1));
    if (s->options.json)
        return print_json(s, first, end);
    struct db_date last = DB_NO_DATE;
    for (size_t i = first; i < end; i++) {
        const struct db_job *job = db_jobs_at(s->jobs, i);
        const char *summary = db_job_summary(s->jobs, job, s->work);
        if (!summary)
            return too_much();
        if (job->on.day != last.day)
            show_day_head(s, job->on, i > first);
        last = job->on;
        (void) db_job_name(s->jobs, job, name, sizeof name);
        printf("  %s (%s)\n      %s\n", summary, state_text(job, s->today, state), name);
    }
    if (first == end)
        printf("No jobs from %s", db_show_day(from, day)), printf(" to %s.\n", db_show_day(to, day));
    return DB_EXIT_FINE;
}

/* A name that may lack its occurrence: the first job still open of that rule and sowing. */
static const struct db_job *find_job(const struct db_session *s, const char *said)
{
    const struct db_job *found = db_jobs_find(s->jobs, said), *any = NULL;
    size_t length = strlen(said);
    char name[256];

    for (size_t i = 0; !found && i < db_jobs_count(s->jobs); i++) {
        const struct db_job *job = db_jobs_at(s->jobs, i);
        (void) db_job_name(s->jobs, job, name, sizeof name);
        if (strncmp(name, said, length) != 0 || name[length] != '/')
            continue;
        any = job;
        if (job->state == DB_JOB_OPEN && job->last.day >= s->today.day)
            found = job;
    }
    return found ? found : any;
}

static int no_such_job(const struct db_session *s, const char *said)
{
    size_t count = db_jobs_count(s->jobs);
    const char **names = db_arena_get(s->work, count + 1, sizeof *names);
    char name[256];

    for (size_t i = 0; names && i < count; i++) {
        size_t length = db_job_name(s->jobs, db_jobs_at(s->jobs, i), name, sizeof name);
        names[i] = db_arena_text(s->work, name, length < sizeof name ? length : sizeof name - 1);
        if (!names[i])
            return too_much();
    }
    const char *near = names ? db_nearest(said, names, count) : NULL;
    fprintf(stderr, "dewbell: there is no job \"%s\"", said);
    if (near)
        fprintf(stderr, "; did you mean \"%s\"?", near);
    fprintf(stderr, "\ndewbell jobs lists them with their names.\n");
    return DB_EXIT_ABSENT;
}

static void show_paragraph(const char *head, const char *text)
{
    if (!*text)
        return;
    printf("\n%s%s%s\n", db_show_bold(stdout), head, db_show_plain(stdout));
    db_show_wrapped(stdout, text, 2);
}

int db_cmd_why(struct db_session *s, int count, char **words)
{
    struct db_reason reasons[24];
    size_t reason_count = 0;
    char a[48], b[48], c[48], state[96], here[160];
    int status = db_session_jobs(s);

    (void) count;
    if (status != DB_EXIT_FINE)
        return status;
    const struct db_job *job = find_job(s, words[0]);
    if (!job)
        return no_such_job(s, words[0]);
    if (s->options.json) {
        size_t at = 0;
        while (db_jobs_at(s->jobs, at) != job)
            at++;
        return print_json(s, at, at + 1);
    }
    const char *summary = db_job_summary(s->jobs, job, s->work);
    const char *how = db_job_how(s->jobs, job, s->work), *caution = db_job_caution(s->jobs, job, s->work);
    const char *held = db_job_held(s->jobs, job, s->work), *days = db_job_days(s->jobs, job, s->work);
    if (!summary || !how || !caution || !held || !days ||
        db_job_why(s->jobs, job, s->work, reasons, 24, &reason_count) != DB_OK)
        return too_much();
    printf("%s%s%s\n", db_show_bold(stdout), summary, db_show_plain(stdout));
    if (job->placed && job->on.day != job->best.day)
        printf("  on %s; ", db_show_day(job->on, a));
    else
        printf("  ");
    if (job->first.day == job->last.day)
        printf("on %s (%s)\n", db_show_day(job->best, a), state_text(job, s->today, state));
    else
        printf("best on %s; any day from %s to %s%s%s%s\n", db_show_day(job->best, a),
               db_show_short(job->first, s->today, b), db_show_short(job->last, s->today, c),
               job->state == DB_JOB_OPEN ? "" : " (", job->state == DB_JOB_OPEN ? "" : state_text(job, s->today, state),
               job->state == DB_JOB_OPEN ? "" : ")");
    printf("\n%sWhy%s\n", db_show_bold(stdout), db_show_plain(stdout));
    for (size_t i = 0; i < reason_count && i < 24; i++)
        db_show_wrapped(stdout, reasons[i].text, 2);
    /* Once, and of how many nights: a calendar would change each day. */
    for (size_t i = 0; i < reason_count && i < 24; i++)
        if (reasons[i].origin == DB_ORIGIN_FORECAST) {
            if (*db_told_here(s->estate.told, db_garden_site(s->estate.garden), here))
                db_show_wrapped(stdout, here, 2);
            break;
        }
    if (*held)
        db_show_wrapped(stdout, held, 2);
    show_paragraph("Your days", days);
    show_paragraph("How", how);
    show_paragraph("Take care", caution);
    const struct db_rules *rules = s->estate.rules;
    const struct db_sowing *sowing = db_garden_sowing(s->estate.garden, job->sowing);
    printf("\nThe rule is [%s] (%s).\n", db_rule_name(rules, job->rule), db_rule_source(rules, job->rule));
    if (job->state != DB_JOB_DONE)
        printf("When it is done: dewbell note %s %s\n", sowing->id, db_rule_records(rules, job->rule));
    return DB_EXIT_FINE;
}
