/* What a job says, in parts that the feeds, the morning's text and the JSON all use. */
#include "write/private.h"

#include <string.h>

#include "base/banned.h"

const struct db_sowing *db_telling_sowing(const struct db_jobs *jobs, const struct db_job *job)
{
    return db_garden_sowing(db_jobs_view(jobs)->garden, job->sowing);
}

const struct db_bed *db_telling_bed(const struct db_jobs *jobs, const struct db_job *job)
{
    const struct db_sowing *sowing = db_telling_sowing(jobs, job);

    return job->there ? sowing->into : sowing->bed;
}

const char *db_telling_crop(const struct db_jobs *jobs, const struct db_job *job)
{
    const struct db_crop_facts *crop = db_telling_sowing(jobs, job)->crop;

    return crop->text[DB_FACT_NAME] ? crop->text[DB_FACT_NAME] : crop->id;
}

const char *db_telling_why(const struct db_jobs *jobs, const struct db_job *job, struct db_arena *arena)
{
    struct db_reason reasons[16];
    size_t count = 0, length = 0, room = sizeof reasons / sizeof reasons[0];

    if (db_job_why(jobs, job, arena, reasons, room, &count) != DB_OK)
        return NULL;
    if (count > room)
        count = room;
    for (size_t i = 0; i < count; i++)
        length += strlen(reasons[i].text) + 1;
    char *all = db_arena_get(arena, length + 1, 1), *at = all;
    if (!all)
        return NULL;
    for (size_t i = 0; i < count; i++) {
        size_t part = strlen(reasons[i].text);
        if (i && part)
            *at++ = ' ';
        memcpy(at, reasons[i].text, part);
        at += part;
    }
    *at = '\0';
    return all;
}
