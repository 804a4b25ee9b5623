/* beds: what is in each of them from when to when, and what is free. */
#include "cli/cli.h"

#include "write/write.h"

#include "base/banned.h"

static int no_such(const char *what, const char *said, const char *const *names, size_t count, const char *command)
{
    const char *near = names ? db_nearest(said, names, count) : NULL;

    fprintf(stderr, "dewbell: there is no %s \"%s\"", what, said);
    if (near)
        fprintf(stderr, "; did you mean \"%s\"?", near);
    fprintf(stderr, "\ndewbell %s shows all of them.\n", command);
    return DB_EXIT_ABSENT;
}

static int no_such_bed(const struct db_session *s, const char *said)
{
    const struct db_garden *garden = db_jobs_view(s->jobs)->garden;
    const size_t count = db_garden_beds(garden);
    const char **names = db_arena_get(s->work, count + 1, sizeof *names);

    for (size_t i = 0; names && i < count; i++)
        names[i] = db_garden_bed(garden, i)->id;
    return no_such("bed", said, names, count, "beds");
}

static int no_such_crop(const struct db_session *s, const char *said)
{
    const size_t count = db_crops_count(s->estate.crops);
    const char **names = db_arena_get(s->work, count + 1, sizeof *names);

    for (size_t i = 0; names && i < count; i++)
        names[i] = db_crops_at(s->estate.crops, i)->id;
    return no_such("crop", said, names, count, "crop");
}

int db_cmd_beds(struct db_session *s, int count, char **words)
{
    struct db_bytes bytes = { .limit = (size_t) 1 << 30 };
    const struct db_bed *bed = NULL;
    const struct db_crop_facts *crop = NULL;
    enum db_status status;
    const int trouble = db_session_jobs(s);

    if (trouble != DB_EXIT_FINE)
        return trouble;
    if (count > 0 && !(bed = db_garden_find_bed(db_jobs_view(s->jobs)->garden, words[0])))
        return no_such_bed(s, words[0]);
    if (count > 1 && !(crop = db_crops_find(s->estate.crops, words[1])))
        return no_such_crop(s, words[1]);
    if (crop && !(bed->width * bed->length > 0)) {
        fprintf(stderr, "dewbell: the plan does not say how large %s is; write size = 1.2 m x 3 m under [bed %s]\n",
                bed->name, bed->id);
        return DB_EXIT_ABSENT;
    }
    if (crop)
        status = (s->options.json ? db_beds_fit_json : db_beds_fit_text)(s->jobs, bed, crop, s->work, &bytes);
    else
        status = (s->options.json ? db_beds_json : db_beds_text)(s->jobs, bed, s->work, &bytes);
    if (status == DB_OK)
        fwrite(bytes.data, 1, bytes.length, stdout);
    else
        fprintf(stderr, "dewbell: out of memory\n");
    db_bytes_free(&bytes);
    return status == DB_OK ? DB_EXIT_FINE : DB_EXIT_TROUBLE;
}
