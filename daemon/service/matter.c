#include "service/matter.h"

#include "read/files.h"
#include "service/mail.h"

#include <json-c/json.h>

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

char *db_matter_day(struct db_date date, bool year, char buffer[DB_MATTER_DAY])
{
    int y, month, day;

    db_date_parts(date, &y, &month, &day);
    const char *weekday = db_date_weekday_name(db_date_weekday(date), false), *name = db_date_month_name(month, false);
    if (year)
        (void) snprintf(buffer, DB_MATTER_DAY, "%s %d %s %d", weekday, day, name, y);
    else
        (void) snprintf(buffer, DB_MATTER_DAY, "%s %d %s", weekday, day, name);
    return buffer;
}

static const struct db_site *site_of(const struct db_matter *matter)
{
    return db_garden_site(db_jobs_view(matter->jobs)->garden);
}

const char *db_matter_message(const struct db_matter *matter, const struct db_outlet *outlet, struct db_arena *arena)
{
    const char *host = outlet->way == DB_OUT_MAIL ? strrchr(outlet->from, '@') : NULL;
    char date[11];
    char *name = db_arena_text(arena, outlet->name, strlen(outlet->name));

    if (!name)
        return NULL;
    for (char *blank = name; (blank = strchr(blank, ' ')) != NULL;)
        *blank = '.';
    const char *message = db_say(arena, "%s%s.%s.%s%s%s", host ? "<" : "", db_date_iso(matter->date, date), name,
                                 site_of(matter)->key, host ? host : "", host ? ">" : "");
    return *message ? message : NULL;
}

/* The garden's name without anything that could break a line. */
static const char *garden_name(const struct db_matter *matter, struct db_arena *arena)
{
    const char *name = site_of(matter)->name;
    char *kept = db_arena_text(arena, name, strlen(name));

    for (char *c = kept; c && *c; c++)
        if ((unsigned char) *c < 0x20 || *c == 0x7f)
            *c = ' ';
    return kept;
}

static const char *subject_of(const struct db_matter *matter, const char *garden, struct db_arena *arena)
{
    const size_t count = db_digest_count(matter->jobs, matter->date);
    char day[DB_MATTER_DAY];

    (void) db_matter_day(matter->date, false, day);
    if (!count)
        return db_say(arena,
                      db_digest_leaves(matter->jobs, matter->date) ? "%s: %s, the last day at home"
                                                                   : "%s: %s, nothing to do",
                      garden, day);
    return db_say(arena, "%s: %s, %zu job%s", garden, day, count, count == 1 ? "" : "s");
}

static enum db_status add(struct db_bytes *out, const char *text)
{
    return db_bytes_add(out, text, strlen(text));
}

static enum db_status write_text(const struct db_matter *matter, const char *garden, struct db_arena *arena,
                                 struct db_bytes *out)
{
    char day[DB_MATTER_DAY];
    enum db_status status = matter->quiet ? add(out, db_say(arena, "%s: nothing needs doing today, %s.\n", garden,
                                                            db_matter_day(matter->date, true, day)))
                                          : db_digest_day(matter->jobs, matter->date, DB_TELLING_REASONS, arena, out);

    for (size_t i = 0; status == DB_OK && matter->notes[i]; i++)
        status = add(out, db_say(arena, "\n%s\n", matter->notes[i]));
    if (status == DB_OK && matter->link)
        status = add(out, db_say(arena, "\nThe garden's page: %s\n", matter->link));
    return status;
}

static enum db_status add_paragraph(struct db_bytes *out, const char *text)
{
    enum db_status status = add(out, "<p>");

    if (status == DB_OK)
        status = db_digest_escape(text, out);
    return status == DB_OK ? add(out, "</p>\n") : status;
}

static enum db_status write_html(const struct db_matter *matter, const char *garden, struct db_arena *arena,
                                 struct db_bytes *out)
{
    char day[DB_MATTER_DAY];
    enum db_status status = matter->quiet ? add_paragraph(out, db_say(arena, "%s: nothing needs doing today, %s.",
                                                                      garden, db_matter_day(matter->date, true, day)))
                                          : db_digest_html(matter->jobs, matter->date, DB_TELLING_REASONS, arena, out);

    for (size_t i = 0; status == DB_OK && matter->notes[i]; i++)
        status = add_paragraph(out, matter->notes[i]);
    if (status == DB_OK && matter->link) {
        status = add(out, "<p><a href=\"");
        if (status == DB_OK)
            status = db_digest_escape(matter->link, out);
        if (status == DB_OK)
            status = add(out, "\">The garden's page</a></p>\n");
    }
    return status;
}

static enum db_status write_letter(const struct db_matter *matter, const struct db_outlet *outlet, const char *message,
                                   const char *garden, struct db_arena *arena, struct db_bytes *out)
{
    struct db_bytes text = { 0 }, html = { 0 };
    const struct db_letter letter = { .from_name = garden,
                                      .from = outlet->from,
                                      .to = outlet->to,
                                      .subject = subject_of(matter, garden, arena),
                                      .message = message,
                                      .date = matter->now,
                                      .offset = matter->offset };
    enum db_status status = write_text(matter, garden, arena, &text);

    if (status == DB_OK)
        status = write_html(matter, garden, arena, &html);
    if (status == DB_OK) {
        struct db_letter whole = letter;

        whole.text = text.data;
        whole.html = html.data;
        status = db_mail_write(&whole, out);
    }
    db_bytes_free(&text);
    db_bytes_free(&html);
    return status;
}

/* The jobs that are to be done, as `dewbell today --json` tells them. */
static bool add_jobs(const struct db_matter *matter, json_object *to, struct db_arena *arena)
{
    struct db_bytes one = { 0 };
    bool good = true;
    const size_t end = db_jobs_from(matter->jobs, db_date_add(matter->date, 1));

    for (size_t i = 0; good && i < end; i++) {
        const struct db_job *job = db_jobs_at(matter->jobs, i);

        if (job->state != DB_JOB_OPEN || (job->on.day != matter->date.day && job->last.day < matter->date.day))
            continue;
        one.length = 0;
        good = db_json_jobs(matter->jobs, i, i + 1, arena, &one) == DB_OK;
        json_object *list = good ? json_tokener_parse(one.data) : NULL;
        json_object *item = json_object_is_type(list, json_type_array) ? json_object_array_get_idx(list, 0) : NULL;
        good = item && json_object_array_add(to, json_object_get(item)) == 0;
        (void) json_object_put(list);
    }
    db_bytes_free(&one);
    return good;
}

/* What is fetched for the jobs that stand on the day. */
static bool add_tools(const struct db_matter *matter, json_object *to, struct db_arena *arena)
{
    const char **tools = NULL;
    size_t count = 0;
    bool good = db_tools_on(matter->jobs, matter->date, arena, &tools, &count) == DB_OK;

    for (size_t i = 0; good && i < count; i++) {
        json_object *tool = json_object_new_string(tools[i]);

        good = tool && json_object_array_add(to, tool) == 0;
    }
    return good;
}

static bool put_text(json_object *to, const char *key, const char *text)
{
    json_object *value = text ? json_object_new_string(text) : NULL;

    return value && json_object_object_add(to, key, value) == 0;
}

static enum db_status write_json(const struct db_matter *matter, const char *garden, struct db_arena *arena,
                                 struct db_bytes *out)
{
    json_object *all = json_object_new_object(), *jobs = json_object_new_array(), *fetch = json_object_new_array();
    struct db_bytes text = { 0 };
    enum db_status status = write_text(matter, garden, arena, &text);
    char date[11];
    bool good = all && jobs && fetch && json_object_object_add(all, "jobs", jobs) == 0 &&
                json_object_object_add(all, "fetch", fetch) == 0 && status == DB_OK;

    good = good && put_text(all, "garden", garden) && put_text(all, "date", db_date_iso(matter->date, date)) &&
           put_text(all, "subject", subject_of(matter, garden, arena)) && put_text(all, "text", text.data) &&
           add_jobs(matter, jobs, arena) && add_tools(matter, fetch, arena);
    if (good)
        status = add(out, json_object_to_json_string_ext(all, JSON_C_TO_STRING_NOSLASHESCAPE));
    else if (status == DB_OK)
        status = DB_FULL;
    (void) json_object_put(all);
    db_bytes_free(&text);
    return status;
}

enum db_status db_matter_write(const struct db_matter *matter, const struct db_outlet *outlet, const char *message,
                               struct db_arena *arena, struct db_bytes *out)
{
    const char *garden = garden_name(matter, arena);

    if (!garden)
        return DB_FULL;
    if (outlet->way == DB_OUT_MAIL)
        return write_letter(matter, outlet, message, garden, arena, out);
    return outlet->way == DB_OUT_POST && outlet->json ? write_json(matter, garden, arena, out)
                                                      : write_text(matter, garden, arena, out);
}
