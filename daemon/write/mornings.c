/* mornings.ics: one event a day that has jobs, with an alarm. */
#include "write/private.h"

#include <xxhash.h>

#include <stdio.h>
#include <string.h>

#include "base/banned.h"

enum { BACK = 30, AHEAD = 13, SUMMARY = 60, LISTED = 40 };

struct morning {
    struct db_date day;
    unsigned char uid[16];
    size_t from, to;            /* jobs that stand on it */
    const struct db_job **open; /* today only: still open from earlier days */
    size_t open_count;
    const char *date; /* "2026-06-14" */
    const char *said; /* of the day by the gardener's days; "" */
};

static bool is_last_chance(const struct db_job *job, struct db_date day)
{
    return job->last.day == day.day;
}

static bool has_last_chance(const struct morning *morning)
{
    for (size_t i = 0; i < morning->open_count; i++)
        if (is_last_chance(morning->open[i], morning->day))
            return true;
    return false;
}

/* The jobs whose day was before today, that still can be done and are not. */
static enum db_status find_open(struct db_feed_work *work, struct db_arena *arena, struct morning *morning)
{
    size_t room = 0;

    for (size_t i = 0; i < morning->from; i++) {
        const struct db_job *job = db_jobs_at(work->jobs, i);
        room += job->state == DB_JOB_OPEN && job->last.day >= morning->day.day;
    }
    morning->open = db_arena_get(arena, room, sizeof *morning->open);
    if (!morning->open)
        return DB_FULL;
    for (size_t i = 0; i < morning->from; i++) {
        const struct db_job *job = db_jobs_at(work->jobs, i);
        if (job->state == DB_JOB_OPEN && job->last.day >= morning->day.day)
            morning->open[morning->open_count++] = job;
    }
    return DB_OK;
}

static void hash_job(const struct db_feed_work *work, const struct db_job *job, XXH3_state_t *hash)
{
    unsigned char both[32];

    db_job_identity(work->jobs, job, both);
    db_feed_meaning(work->jobs, job, both + 16);
    (void) XXH3_128bits_update(hash, both, sizeof both);
}

static enum db_status hash_morning(const struct db_feed_work *work, const struct morning *morning,
                                   unsigned char ret[16])
{
    XXH3_state_t *hash = XXH3_createState();
    XXH128_canonical_t canonical;
    const uint64_t counts[2] = { morning->to - morning->from, morning->open_count };

    if (!hash)
        return DB_FULL;
    (void) XXH3_128bits_reset(hash);
    (void) XXH3_128bits_update(hash, morning->date, strlen(morning->date));
    (void) XXH3_128bits_update(hash, counts, sizeof counts);
    (void) XXH3_128bits_update(hash, morning->said, strlen(morning->said));
    for (size_t i = morning->from; i < morning->to; i++)
        hash_job(work, db_jobs_at(work->jobs, i), hash);
    for (size_t i = 0; i < morning->open_count; i++)
        hash_job(work, morning->open[i], hash);
    XXH128_canonicalFromHash(&canonical, XXH3_128bits_digest(hash));
    memcpy(ret, canonical.digest, 16);
    (void) XXH3_freeState(hash);
    return DB_OK;
}

/* "thin carrots": the first letter small, unless it begins a word in capitals. */
static char *small(char *line)
{
    if (line && line[0] >= 'A' && line[0] <= 'Z' && line[1] >= 'a' && line[1] <= 'z')
        line[0] = (char) (line[0] - 'A' + 'a');
    return line;
}

/* The head of a summary, where it says what and to which crop: up to the first "in", comma or colon. */
static char *brief(char *line)
{
    static const char *const ends[] = { " in ", ", ", "; ", ": ", " (" };

    for (size_t i = 0; line && i < sizeof ends / sizeof ends[0]; i++) {
        char *end = strstr(line, ends[i]);
        if (end > line)
            *end = '\0';
    }
    return small(line);
}

static char *summary_of(struct db_feed_work *work, const struct db_job *job)
{
    const char *summary = db_job_summary(work->jobs, job, work->scratch);

    return summary ? db_clean_line(summary, work->scratch) : NULL;
}

/* One line of the list: the job, the others it stands for, and until when it may be done. */
static enum db_status list_group(struct db_feed_work *work, const struct db_group *group, struct db_bytes *text)
{
    const struct db_job *job = group->jobs[0];
    const char *line = db_group_line(work->jobs, group, work->scratch);
    struct db_date last = db_group_last(group, false);
    char day[DB_WORDS];

    if (!line)
        return DB_FULL;
    enum db_status status = db_bytes_format(text, "\n- %s%s", job->state == DB_JOB_DONE ? "\xE2\x9C\x93 " : "", line);
    if (status == DB_OK && job->state == DB_JOB_MISSED)
        status = db_bytes_text(text, " (not done)");
    else if (status == DB_OK && job->state == DB_JOB_OPEN && last.day > job->on.day)
        status = db_bytes_format(text, " (until %s)", db_words_day(last, day));
    return status;
}

static enum db_status list_groups(struct db_feed_work *work, const struct db_group *groups, size_t count,
                                  struct db_bytes *text)
{
    enum db_status status = DB_OK;
    size_t shown = count > LISTED ? LISTED : count;

    for (size_t i = 0; status == DB_OK && i < shown; i++) {
        /* Summaries name their bed as a rule; the heading is for reading a long list bed by bed. */
        if (count > 3 && (i == 0 || groups[i].bed != groups[i - 1].bed)) {
            const char *bed = db_clean_line(groups[i].bed->name, work->scratch);
            status = bed ? db_bytes_format(text, "\n%s:", bed) : DB_FULL;
        }
        if (status == DB_OK)
            status = list_group(work, &groups[i], text);
    }
    if (status == DB_OK && shown < count)
        status = db_bytes_format(text, "\nand %zu more", count - shown);
    return status;
}

/* "3 jobs: thin carrots, prick out kale ..." */
static const char *summarise(struct db_feed_work *work, const struct morning *morning, const struct db_group *groups,
                             size_t count, size_t done)
{
    struct db_bytes text = { .limit = 4096 };
    const char *cut = NULL;
    enum db_status status = DB_OK;

    if (count)
        status =
            db_bytes_format(&text, "%s%zu job%s: ", done == count ? "\xE2\x9C\x93 " : "", count, count == 1 ? "" : "s");
    else
        status = db_bytes_text(&text, has_last_chance(morning) ? "Last day: " : "Away from tomorrow");
    for (size_t i = 0; status == DB_OK && i < count && text.length < 4 * SUMMARY; i++) {
        char *line = groups[i].round ? (char *) db_clean_line(groups[i].round, work->scratch)
                                     : summary_of(work, groups[i].jobs[0]);
        line = brief(line);
        status = line ? db_bytes_format(&text, "%s%.300s", i ? ", " : "", line) : DB_FULL;
    }
    for (size_t i = 0, named = 0; status == DB_OK && !count && i < morning->open_count && text.length < 4 * SUMMARY;
         i++)
        if (is_last_chance(morning->open[i], morning->day)) {
            const char *line = brief(summary_of(work, morning->open[i]));
            status = line ? db_bytes_format(&text, "%s%.300s", named++ ? ", " : "", line) : DB_FULL;
        }
    if (status == DB_OK)
        cut = db_clean_cut(text.data, SUMMARY, work->scratch);
    db_bytes_free(&text);
    return cut;
}

static enum db_status describe(struct db_feed_work *work, const struct morning *morning, const struct db_group *groups,
                               size_t count, struct db_bytes *text)
{
    struct db_group *open = NULL;
    size_t open_count = 0;
    char day[DB_WORDS];
    const char *tools = db_tools_say(work->jobs, groups, count, work->scratch);

    if (!tools)
        return DB_FULL;
    enum db_status status = db_bytes_format(text, "%s", db_words_long_day(morning->day, day));

    if (status == DB_OK && *morning->said)
        status = db_bytes_format(text, "\n%s", morning->said);
    if (status == DB_OK && *tools)
        status = db_bytes_format(text, "\n%s", tools);
    if (status == DB_OK)
        status = list_groups(work, groups, count, text);
    if (status == DB_OK && morning->open_count) {
        status = db_groups_make(work->jobs, morning->open, morning->open_count, work->scratch, &open, &open_count);
        if (status == DB_OK)
            status = db_bytes_text(text, "\nStill open from earlier days:");
        if (status == DB_OK)
            status = list_groups(work, open, open_count, text);
    }
    return status;
}

static enum db_status tell_morning(struct db_feed_work *work, const void *about, struct db_event *event)
{
    const struct morning *morning = about;
    size_t jobs = morning->to - morning->from, count = 0, done = 0, open = morning->open_count;
    const struct db_job **list = db_arena_get(work->scratch, jobs, sizeof *list);
    struct db_group *groups = NULL;
    struct db_bytes text = { .limit = 256 * 1024 };
    unsigned char urgency = 9;
    char name[48];

    if (!list)
        return DB_FULL;
    for (size_t i = 0; i < jobs; i++) {
        list[i] = db_jobs_at(work->jobs, morning->from + i);
        open += list[i]->state == DB_JOB_OPEN;
        if (list[i]->state == DB_JOB_OPEN && list[i]->urgency < urgency)
            urgency = list[i]->urgency;
    }
    enum db_status status = db_groups_make(work->jobs, list, jobs, work->scratch, &groups, &count);
    if (status != DB_OK)
        return status;
    for (size_t i = 0; i < count; i++)
        done += groups[i].jobs[0]->state == DB_JOB_DONE;
    memcpy(event->uid, morning->uid, sizeof event->uid);
    (void) snprintf(name, sizeof name, "alarm|morning|%s", morning->date);
    db_uid_make(work->space, name, event->alarm_uid);
    /* Nobody is woken where nothing is left to do, nor on a day away. */
    event->alarm = (open > 0 || *morning->said) && !db_week_away(db_garden_week(work->view->garden), morning->day);
    event->priority = urgency;
    event->summary = summarise(work, morning, groups, count, done);
    status = describe(work, morning, groups, count, &text);
    if (status == DB_OK)
        event->description = db_clean_text(text.data, work->scratch);
    db_bytes_free(&text);
    return event->summary && event->description ? DB_OK : DB_FULL;
}

/* Takes the morning of one day, if it has any jobs. */
static enum db_status take_morning(struct db_feed_work *work, struct db_arena *arena, struct db_date day,
                                   bool *ret_fits)
{
    struct morning morning = { .day = day,
                               .from = db_jobs_from(work->jobs, day),
                               .to = db_jobs_from(work->jobs, db_date_add(day, 1)) };
    unsigned char meaning[16];
    char name[32], date[11];
    enum db_status status = DB_OK;

    *ret_fits = true;
    morning.date = db_date_iso(day, date);
    if (day.day == work->view->today.day)
        status = find_open(work, arena, &morning);
    morning.said = status == DB_OK ? db_days_say(work->jobs, day, arena) : "";
    if (!morning.said)
        return DB_FULL;
    if (status != DB_OK || (morning.from == morning.to && !has_last_chance(&morning) && !*morning.said))
        return status;
    (void) snprintf(name, sizeof name, "morning|%s", date);
    db_uid_make(work->space, name, morning.uid);
    status = hash_morning(work, &morning, meaning);
    return status == DB_OK ? db_feed_take(work, day, morning.uid, meaning, tell_morning, &morning, ret_fits) : status;
}

/* Today and the days ahead first, then back into the past: what does not fit is the oldest. */
enum db_status db_feed_mornings(struct db_feed_work *work, size_t *ret_left_out)
{
    struct db_arena *arena = db_arena_new(SIZE_MAX);
    enum db_status status = arena ? DB_OK : DB_FULL;
    size_t left_out = 0;

    for (int i = 0; status == DB_OK && i <= AHEAD + BACK; i++) {
        bool fits = true;

        status = take_morning(work, arena, db_date_add(work->view->today, i <= AHEAD ? i : AHEAD - i), &fits);
        left_out += !fits;
    }
    (void) db_arena_free(arena);
    *ret_left_out = left_out;
    return status;
}
