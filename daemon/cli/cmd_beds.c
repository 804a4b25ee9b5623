/* beds: what is in each of them from when to when, and what is free. */
#include "cli/cli.h"

#include "write/write.h"

#include "base/banned.h"

static int no_such_bed(const struct db_session *s, const char *said)
{
    const struct db_garden *garden = db_jobs_view(s->jobs)->garden;
    const size_t count = db_garden_beds(garden);
    const char **names = db_arena_get(s->work, count + 1, sizeof *names);
    const char *near;

    for (size_t i = 0; names && i < count; i++)
        names[i] = db_garden_bed(garden, i)->id;
    near = names ? db_nearest(said, names, count) : NULL;
    fprintf(stderr, "dewbell: there is no bed \"%s\"", said);
    if (near)
        fprintf(stderr, "; did you mean \"%s\"?", near);
    fprintf(stderr, "\ndewbell beds shows all of them.\n");
    return DB_EXIT_ABSENT;
}

int db_cmd_beds(struct db_session *s, int count, char **words)
{
    struct db_bytes bytes = { .limit = (size_t) 1 << 30 };
    const struct db_bed *bed = NULL;
    enum db_status status;
    const int trouble = db_session_jobs(s);

    if (trouble != DB_EXIT_FINE)
        return trouble;
    if (count > 0 && !(bed = db_garden_find_bed(db_jobs_view(s->jobs)->garden, words[0])))
        return no_such_bed(s, words[0]);
    status = (s->options.json ? db_beds_json : db_beds_text)(s->jobs, bed, s->work, &bytes);
    if (status == DB_OK)
        fwrite(bytes.data, 1, bytes.length, stdout);
    else
        fprintf(stderr, "dewbell: out of memory\n");
    db_bytes_free(&bytes);
    return status == DB_OK ? DB_EXIT_FINE : DB_EXIT_TROUBLE;
}
