/* Jobs as JSON for scripts. */
#include "write/private.h"

#include <json-c/json.h>

#include <string.h>

#include "base/banned.h"

/* Adds a text, cleaned. */
static bool put_text(json_object *to, const char *key, const char *text, struct db_arena *arena)
{
    const char *cleaned = text ? db_clean_text(text, arena) : NULL;
    json_object *value = cleaned ? json_object_new_string(cleaned) : NULL;

    return value && json_object_object_add(to, key, value) == 0;
}

static bool put_date(json_object *to, const char *key, struct db_date date)
{
    char iso[11];
    json_object *value = db_date_known(date) ? json_object_new_string(db_date_iso(date, iso)) : NULL;

    return (value || !db_date_known(date)) && json_object_object_add(to, key, value) == 0;
}

static bool put_number(json_object *to, const char *key, int64_t number)
{
    json_object *value = json_object_new_int64(number);

    return value && json_object_object_add(to, key, value) == 0;
}

static bool put_why(json_object *to, const struct db_jobs *jobs, const struct db_job *job, struct db_arena *arena)
{
    struct db_reason reasons[32];
    size_t count = 0, room = sizeof reasons / sizeof reasons[0];
    json_object *list = json_object_new_array();

    if (!list || json_object_object_add(to, "why", list) != 0 ||
        db_job_why(jobs, job, arena, reasons, room, &count) != DB_OK)
        return false;
    for (size_t i = 0; i < count && i < room; i++) {
        json_object *reason = json_object_new_object();

        if (!reason || json_object_array_add(list, reason) != 0 || !put_text(reason, "text", reasons[i].text, arena) ||
            !put_text(reason, "origin", db_origin_word(reasons[i].origin), arena))
            return false;
    }
    return true;
}

static bool put_job(json_object *to, const struct db_jobs *jobs, const struct db_job *job, struct db_arena *arena)
{
    static const char *const states[] = { [DB_JOB_OPEN] = "open", [DB_JOB_DONE] = "done", [DB_JOB_MISSED] = "missed" };
    const struct db_rules *rules = db_jobs_view(jobs)->rules;
    const char *tool = db_rule_tool(rules, job->rule);
    size_t length = db_job_name(jobs, job, NULL, 0);
    char *name = db_arena_get(arena, length + 1, 1);

    if (!name)
        return false;
    (void) db_job_name(jobs, job, name, length + 1);
    return put_text(to, "job", name, arena) && put_text(to, "rule", db_rule_name(rules, job->rule), arena) &&
           put_text(to, "sowing", db_telling_sowing(jobs, job)->id, arena) &&
           put_text(to, "crop", db_telling_crop(jobs, job), arena) &&
           put_text(to, "summary", db_job_summary(jobs, job, arena), arena) &&
           put_text(to, "kind", db_rule_theme(rules, job->rule), arena) &&
           put_text(to, "bed", db_telling_bed(jobs, job)->name, arena) && put_date(to, "first", job->first) &&
           put_date(to, "best", job->best) && put_date(to, "last", job->last) && put_date(to, "on", job->on) &&
           put_text(to, "state", states[job->state], arena) &&
           put_date(to, "done", job->state == DB_JOB_DONE ? job->done : DB_NO_DATE) &&
           put_number(to, "urgency", job->urgency) &&
           (job->minutes > 0 ? put_number(to, "minutes", (int64_t) (job->minutes + 0.5F))
                             : json_object_object_add(to, "minutes", NULL) == 0) &&
           (*tool ? put_text(to, "tool", tool, arena) : json_object_object_add(to, "tool", NULL) == 0) &&
           put_text(to, "days", db_job_days(jobs, job, arena), arena) &&
           put_text(to, "how", db_job_how(jobs, job, arena), arena) &&
           put_text(to, "caution", db_job_caution(jobs, job, arena), arena) && put_why(to, jobs, job, arena);
}

enum db_status db_json_jobs(const struct db_jobs *jobs, size_t from, size_t to, struct db_arena *arena,
                            struct db_bytes *out)
{
    enum db_status status = db_bytes_text(out, "[");

    for (size_t i = from; status == DB_OK && i < to && i < db_jobs_count(jobs); i++) {
        json_object *job = json_object_new_object();
        const char *text = NULL;
        size_t length = 0;

        /* One at a time: the text of all of them is the only thing that grows. */
        if (job && put_job(job, jobs, db_jobs_at(jobs, i), arena))
            text = json_object_to_json_string_length(job, JSON_C_TO_STRING_PLAIN | JSON_C_TO_STRING_NOSLASHESCAPE,
                                                     &length);
        status = text ? db_bytes_text(out, i > from ? ",\n" : "\n") : DB_FULL;
        if (status == DB_OK)
            status = db_bytes_add(out, text, length);
        (void) json_object_put(job);
    }
    return status == DB_OK ? db_bytes_text(out, from < to ? "\n]\n" : "]\n") : status;
}
