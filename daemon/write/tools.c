/* What is to be fetched for a day's jobs: each tool once, in the order in which the jobs are read. */
#include "write/private.h"

#include "base/text.h"

#include "base/banned.h"

static bool is_listed(const char *const *list, size_t count, const char *tool)
{
    for (size_t i = 0; i < count; i++)
        if (db_text_same(list[i], tool))
            return true;
    return false;
}

enum db_status db_tools_of(const struct db_jobs *jobs, const struct db_group *groups, size_t count,
                           struct db_arena *arena, const char ***ret, size_t *ret_count)
{
    const struct db_rules *rules = db_jobs_view(jobs)->rules;
    size_t room = 0, found = 0;

    for (size_t i = 0; i < count; i++)
        room += groups[i].count;
    const char **list = db_arena_get(arena, room, sizeof *list);
    if (!list)
        return DB_FULL;
    for (size_t i = 0; i < count; i++)
        for (size_t k = 0; k < groups[i].count; k++) {
            const struct db_job *job = groups[i].jobs[k];
            const char *tool = db_clean_line(db_rule_tool(rules, job->rule), arena);

            if (!tool)
                return DB_FULL;
            if (job->state == DB_JOB_OPEN && *tool && !is_listed(list, found, tool))
                list[found++] = tool;
        }
    *ret = list;
    *ret_count = found;
    return DB_OK;
}

const char *db_tools_say(const struct db_jobs *jobs, const struct db_group *groups, size_t count,
                         struct db_arena *arena)
{
    const char **tools = NULL, *line = "";
    struct db_bytes text = { 0 };
    size_t found = 0;
    enum db_status status = db_tools_of(jobs, groups, count, arena, &tools, &found);

    for (size_t i = 0; status == DB_OK && i < found; i++)
        status = db_bytes_format(&text, "%s%s", i ? "; " : "To fetch: ", tools[i]);
    if (status == DB_OK && found) {
        status = db_bytes_text(&text, ".");
        line = status == DB_OK ? db_clean_line(text.data, arena) : NULL;
    }
    db_bytes_free(&text);
    return status == DB_OK ? line : NULL;
}

enum db_status db_tools_on(const struct db_jobs *jobs, struct db_date date, struct db_arena *arena, const char ***ret,
                           size_t *ret_count)
{
    const size_t from = db_jobs_from(jobs, date), end = db_jobs_from(jobs, db_date_add(date, 1));
    const struct db_job **list = db_arena_get(arena, end - from, sizeof *list);
    struct db_group *groups = NULL;
    size_t count = 0;

    if (!list)
        return DB_FULL;
    for (size_t i = from; i < end; i++)
        list[i - from] = db_jobs_at(jobs, i);
    enum db_status status = db_groups_make(jobs, list, end - from, arena, &groups, &count);
    return status == DB_OK ? db_tools_of(jobs, groups, count, arena, ret, ret_count) : status;
}
