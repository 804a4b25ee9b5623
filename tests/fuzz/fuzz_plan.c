/* The plan: any bytes as garden.ini, read with two crops and two rules; a plan that is accepted is evaluated and its jobs
 * rendered. Promises held: no crash, no endless run, a refusal always says where and what, and the place is inside the
 * file. */
#include "target.h"

#include "base/text.h"
#include "dewbell/job.h"
#include "read/read.h"

#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

static void broken(const char *promise, const char *words)
{
    (void) fprintf(stderr, "broken: %s: %s\n", promise, words);
    abort();
}

static size_t lines_in(const uint8_t *data, size_t size)
{
    size_t lines = 1;

    for (size_t i = 0; i < size; i++)
        lines += data[i] == '\n';
    return lines;
}

static void check_mistakes(const struct db_mistakes *mistakes, const char *path, size_t lines)
{
    const struct db_mistake *m;
    size_t at;

    for (size_t i = 0; (m = db_mistakes_at(mistakes, i)) != NULL; i++) {
        if (!m->what || !*m->what || !m->instead)
            broken("a mistake says what is wrong", "");
        if (!db_text_utf8(m->what, strlen(m->what), &at) || !db_text_utf8(m->instead, strlen(m->instead), &at))
            broken("messages are UTF-8", m->what);
        if (!m->at.file)
            broken("a mistake names its file", m->what);
        if (strcmp(m->at.file, path) != 0)
            continue;
        if (m->at.line > lines)
            broken("a mistake stands in a line of the file", m->what);
        if (m->at.column && m->at.text) {
            size_t length = strcspn(m->at.text, "\n");
            if (m->at.column > length + 1)
                broken("a mistake stands in its line", m->what);
        }
    }
}

static void use(const struct db_estate *estate, struct db_arena *arena, struct db_mistakes *mistakes)
{
    struct db_weather *weather;
    const struct db_jobs *jobs;
    struct db_view view = { .garden = estate->garden, .rules = estate->rules };
    struct db_reason reasons[16];
    size_t count;

    if (db_date_of(2013, 6, 10, &view.today) != DB_OK)
        return;
    enum db_status status = db_estate_weather(estate, view.today, arena, mistakes, &weather);
    if (status == DB_MISTAKEN && db_mistakes_count(mistakes) == 0)
        broken("a refusal says why", "weather");
    if (status != DB_OK)
        return;
    view.weather = weather;
    status = db_garden_evaluate(&view, arena, &jobs);
    if (status == DB_FULL)
        return;
    if (status != DB_OK)
        broken("a plan that was accepted can be evaluated", db_status_text(status));
    for (size_t i = 0; i < db_jobs_count(jobs) && i < 200; i++) {
        const struct db_job *job = db_jobs_at(jobs, i);
        char name[256];
        size_t at;
        if (job->first.day > job->best.day || job->best.day > job->last.day)
            broken("the best day lies in the window", "");
        if (job->placed && job->state == DB_JOB_OPEN && (job->on.day < job->first.day || job->on.day > job->last.day))
            broken("the day that a job is put on lies in its window", "");
        if (db_jobs_day(jobs, job->on).takes < 0)
            broken("a day's jobs take some time or none", "");
        (void) db_job_days(jobs, job, arena);
        const char *summary = db_job_summary(jobs, job, arena);
        if (summary && !db_text_utf8(summary, strlen(summary), &at))
            broken("texts are UTF-8", summary);
        (void) db_job_name(jobs, job, name, sizeof name);
        (void) db_job_how(jobs, job, arena);
        if (db_job_why(jobs, job, arena, reasons, 16, &count) == DB_OK && count > 16)
            broken("a job has a bounded number of reasons", name);
    }
}

static char folder[64];

static void leave_folder(void)
{
    (void) rmdir(folder);
}

static const char *scratch_folder(void)
{
    if (!*folder) {
        (void) snprintf(folder, sizeof folder, "/tmp/dewbell-fuzz-XXXXXX");
        if (!mkdtemp(folder) || atexit(leave_folder) != 0)
            abort();
    }
    return folder;
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    char path[96];
    struct db_estate estate;

    (void) snprintf(path, sizeof path, "%s/garden.ini", scratch_folder());
    int file = open(path, O_WRONLY | O_CREAT | O_TRUNC, 0600);
    if (file < 0 || write(file, data, size) != (ssize_t) size || close(file) != 0)
        abort();
    struct db_arena *arena = db_arena_new((size_t) 64 << 20);
    struct db_mistakes *mistakes = arena ? db_mistakes_new(arena) : NULL;
    if (!mistakes)
        abort();
    enum db_status status = db_estate_read(path, "tests/fuzz/shipped", arena, mistakes, &estate);
    if (status == DB_MISTAKEN && db_mistakes_count(mistakes) == 0)
        broken("a refusal says why", "plan");
    if (status == DB_OK && db_mistakes_count(mistakes) != 0)
        broken("mistakes refuse a plan", db_mistakes_at(mistakes, 0)->what);
    check_mistakes(mistakes, path, lines_in(data, size));
    if (status == DB_OK && db_garden_sowings(estate.garden) < 50)
        use(&estate, arena, mistakes);
    arena = db_arena_free(arena);
    (void) unlink(path);
    return 0;
}
