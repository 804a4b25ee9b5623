/* jobs.ics: one event a job. tasks.ics: the same jobs as tasks. */
#include "write/private.h"

#include "base/text.h"

#include <stdio.h>
#include <string.h>

#include "base/banned.h"

enum { SUMMARY = 60 }; /* characters that phones show */

/* How it is done, how long it takes, with which care, how to note it: of what is still to be done. Added to a text that lives
 * for one event. */
static enum db_status tell_how(const struct db_feed_work *work, const struct db_job *job, struct db_bytes *text)
{
    const char *how = db_job_how(work->jobs, job, work->scratch);
    const char *caution = db_job_caution(work->jobs, job, work->scratch);
    char words[DB_WORDS];
    enum db_status status = DB_OK;

    if (!how || !caution)
        return DB_FULL;
    if (*how)
        status = db_bytes_format(text, "\nHow: %s", how);
    if (status == DB_OK && *db_words_effort((double) job->minutes, words))
        status = db_bytes_format(text, "\nTakes about %s.", words);
    if (status == DB_OK && *caution)
        status = db_bytes_format(text, "\nTake care: %s", caution);
    if (status == DB_OK)
        status = db_bytes_format(text, "\nWhen it is done: dewbell note %s %s", db_telling_sowing(work->jobs, job)->id,
                                 db_rule_records(work->view->rules, job->rule));
    return status;
}

static enum db_status tell_days(const struct db_job *job, struct db_bytes *text)
{
    char span[DB_WORDS], best[DB_WORDS];
    enum db_status status = DB_OK;

    if (job->state == DB_JOB_DONE && db_date_known(job->done))
        status = db_bytes_format(text, "Done on %s (your note).\n", db_words_date(job->done, span));
    else if (job->state == DB_JOB_MISSED)
        status = db_bytes_text(text, "Its days are over and no note says that it was done.\n");
    if (status != DB_OK)
        return status;
    (void) db_words_span(job->first, job->last, span);
    if (job->first.day == job->last.day)
        return db_bytes_format(text, "Only on %s.", span);
    status = db_bytes_format(text, "Window: %s; best on %s", span, db_words_day(job->best, best));
    if (status == DB_OK && job->placed && job->on.day != job->best.day)
        status = db_bytes_format(text, "; put on %s by your days", db_words_day(job->on, best));
    return status == DB_OK ? db_bytes_text(text, ".") : status;
}

/* Window and why; of an open job how, effort, caution, note. The day on which the reasons were worked out stands beside them,
 * for they stay as they are until the job itself changes. */
static const char *describe(struct db_feed_work *work, const struct db_job *job)
{
    struct db_bytes *text = &work->text;
    const char *why = db_telling_why(work->jobs, job, work->scratch), *cleaned = NULL;
    char day[DB_WORDS];

    if (!why)
        return NULL;
    text->length = 0;
    enum db_status status = tell_days(job, text);
    if (status == DB_OK && *why)
        status = db_bytes_format(text, "\nWhy: %s", why);
    if (status == DB_OK && *why && job->state == DB_JOB_OPEN)
        status = db_bytes_format(text, " (Worked out on %s.)", db_words_date(work->view->today, day));
    if (status == DB_OK && job->state == DB_JOB_OPEN)
        status = tell_how(work, job, text);
    if (status == DB_OK)
        cleaned = db_clean_text(text->data, work->scratch);
    return cleaned;
}

/* "Carrot": as the other word of the list begins. */
static char *capital(char *word)
{
    if (word && word[0] >= 'a' && word[0] <= 'z')
        word[0] = (char) (word[0] - 'a' + 'A');
    return word;
}

static const char *summarise(const struct db_feed_work *work, const struct db_job *job)
{
    const char *summary = db_job_summary(work->jobs, job, work->scratch);

    if (!summary || job->state != DB_JOB_DONE || work->feed == DB_FEED_TASKS)
        return summary ? db_clean_cut(summary, SUMMARY, work->scratch) : NULL;
    static const char tick[] = "\xE2\x9C\x93 ";
    char *ticked = db_arena_get(work->scratch, strlen(summary) + sizeof tick, 1);
    if (!ticked)
        return NULL;
    memcpy(ticked, tick, sizeof tick);
    memcpy(ticked + sizeof tick - 1, summary, strlen(summary) + 1);
    return db_clean_cut(ticked, SUMMARY, work->scratch);
}

/* The UUID of "WHAT|rule|sowing|occurrence". */
static bool make_uid(const struct db_feed_work *work, const struct db_job *job, const char *what, unsigned char ret[16])
{
    const char *rule = db_rule_name(work->view->rules, job->rule), *sowing = db_telling_sowing(work->jobs, job)->id;
    size_t size = strlen(what) + strlen(rule) + strlen(sowing) + 32;
    char *name = db_arena_get(work->scratch, size, 1);

    if (!name)
        return false;
    (void) snprintf(name, size, "%s|%s|%s|%u", what, rule, sowing, job->occurrence);
    db_uid_make(work->space, name, ret);
    return true;
}

static enum db_status tell_words(struct db_feed_work *work, const struct db_job *job, struct db_event *event)
{
    struct db_arena *scratch = work->scratch;

    event->summary = summarise(work, job);
    event->description = describe(work, job);
    event->location = db_clean_line(db_telling_bed(work->jobs, job)->name, scratch);
    event->kind = db_clean_word(db_rule_theme(work->view->rules, job->rule), scratch);
    event->crop = capital(db_clean_word(db_telling_crop(work->jobs, job), scratch));
    event->priority = job->urgency;
    return event->summary && event->description && event->location && event->kind && event->crop ? DB_OK : DB_FULL;
}

static enum db_status tell_job(struct db_feed_work *work, const void *about, struct db_event *event)
{
    return make_uid(work, about, "job", event->uid) ? tell_words(work, about, event) : DB_FULL;
}

/* A note knows the day and COMPLETED wants a moment: noon by the sun, which is that day in every zone of the place. */
static int64_t noon(const struct db_feed_work *work, struct db_date day)
{
    int hours = (int) (db_garden_site(work->view->garden)->longitude / 15);

    return (int64_t) day.day * 86400 + (int64_t) (12 - hours) * 3600;
}

/* The day from which a task is shown: the one that it was put on, else the first on which it may be done. */
static struct db_date task_day(const struct db_job *job)
{
    return job->placed && job->state == DB_JOB_OPEN ? job->on : job->first;
}

static enum db_status tell_task(struct db_feed_work *work, const void *about, struct db_event *event)
{
    const struct db_job *job = about;

    event->task = true;
    event->from = task_day(job);
    event->due = job->last;
    event->state = job->state;
    event->completed = noon(work, db_date_known(job->done) ? job->done : job->on);
    event->alarm = job->state == DB_JOB_OPEN;
    if (!make_uid(work, job, "task", event->uid) || !make_uid(work, job, "alarm|task", event->alarm_uid))
        return DB_FULL;
    return tell_words(work, job, event);
}

/* From today outwards, the nearer side first, until no more fits; a day in the past counts as four. */
enum db_status db_feed_jobs(struct db_feed_work *work, size_t *ret_left_out)
{
    size_t count = db_jobs_count(work->jobs), above = db_jobs_from(work->jobs, work->view->today), below = above;
    int64_t today = work->view->today.day;
    bool fits = true, tasks = work->feed == DB_FEED_TASKS;

    while (fits && (below > 0 || above < count)) {
        int64_t back = below > 0 ? (today - db_jobs_at(work->jobs, below - 1)->on.day) * 4 : INT64_MAX;
        int64_t ahead = above < count ? db_jobs_at(work->jobs, above)->on.day - today : INT64_MAX;
        const struct db_job *job = db_jobs_at(work->jobs, ahead <= back ? above : below - 1);
        unsigned char identity[16], meaning[16];

        db_job_identity(work->jobs, job, identity);
        db_feed_meaning(work->jobs, job, meaning);
        enum db_status status = db_feed_take(work, tasks ? task_day(job) : job->on, identity, meaning,
                                             tasks ? tell_task : tell_job, job, &fits);
        if (status != DB_OK)
            return status;
        if (fits && ahead <= back)
            above++;
        else if (fits)
            below--;
    }
    *ret_left_out = below + (count - above);
    return DB_OK;
}
