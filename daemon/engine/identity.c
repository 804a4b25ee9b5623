#define DB_PURE
#include "engine/jobs.h"
#include "engine/plot.h"
#include "rules/run.h"

#include <string.h>

/* The whole of the library in this file: nothing of it is linked, and it asks the machine for no memory. */
#define XXH_INLINE_ALL
#include <xxhash.h>

#include "base/text.h"

#include "base/banned.h"

static void put(XXH3_state_t *state, const void *bytes, size_t length)
{
    (void) XXH3_128bits_update(state, bytes, length);
}

/* With its NUL, so that "ab" "c" and "a" "bc" differ; NULL differs from "". */
static void put_text(XXH3_state_t *state, const char *text)
{
    put(state, text ? text : "\1", text ? strlen(text) + 1 : 1);
}

static void put_number(XXH3_state_t *state, double number)
{
    put(state, &number, sizeof number);
}

static void put_count(XXH3_state_t *state, int64_t count)
{
    put(state, &count, sizeof count);
}

static void finish(XXH3_state_t *state, unsigned char ret_hash[16])
{
    XXH128_canonical_t canonical;

    XXH128_canonicalFromHash(&canonical, XXH3_128bits_digest(state));
    memcpy(ret_hash, canonical.digest, 16);
}

void db_job_identity(const struct db_jobs *jobs, const struct db_job *job, unsigned char ret_hash[16])
{
    XXH3_state_t state;

    (void) XXH3_128bits_reset(&state);
    put_text(&state, db_garden_site(jobs->view.garden)->key);
    put_text(&state, db_rule_name(jobs->view.rules, job->rule));
    put_text(&state, db_garden_sowing(jobs->view.garden, job->sowing)->id);
    put_count(&state, job->occurrence);
    finish(&state, ret_hash);
}

static void put_bed(XXH3_state_t *state, const struct db_bed *bed)
{
    put_text(state, bed->id);
    put_text(state, bed->name);
    put_count(state, (int64_t) bed->cover);
}

void db_sowing_words(const struct db_sowing *sowing, unsigned char ret_hash[16])
{
    const struct db_crop_facts *crop = sowing->crop;
    XXH3_state_t state;

    (void) XXH3_128bits_reset(&state);
    for (int f = 0; f < DB_FACT_COUNT; f++)
        put_text(&state, crop->text[f]);
    put(&state, crop->low, sizeof crop->low);
    put(&state, crop->high, sizeof crop->high);
    put_text(&state, crop->id);
    put_text(&state, sowing->id);
    put_text(&state, sowing->variety);
    put_bed(&state, sowing->bed);
    put_bed(&state, sowing->into);
    put_count(&state, (int64_t) sowing->way);
    put_number(&state, sowing->row);
    put_number(&state, sowing->plugs);
    put_number(&state, sowing->plants);
    put_number(&state, sowing->area);
    put_number(&state, sowing->cell);
    put_text(&state, sowing->between);
    finish(&state, ret_hash);
}

static void put_notes(XXH3_state_t *state, const struct db_jobs *jobs, size_t sowing)
{
    const struct db_note *few[16];
    size_t from = 0, count;

    do {
        count = db_diary_of(jobs->view.diary, sowing, from, few, sizeof few / sizeof few[0]);
        for (size_t i = 0; i < count; i++) {
            if (few[i]->date.day > jobs->view.today.day) /* nothing was seen or done on a day to come */
                continue;
            put_text(state, few[i]->word);
            put_count(state, few[i]->date.day);
        }
        from += count;
    } while (count);
}

void db_sowing_inputs(const struct db_jobs *jobs, size_t sowing, unsigned char ret_hash[16])
{
    const struct db_sowing *s = db_garden_sowing(jobs->view.garden, sowing);
    const struct db_site *site = db_garden_site(jobs->view.garden);
    const struct db_emergence *table = &s->crop->emergence;
    XXH3_state_t state;

    (void) XXH3_128bits_reset(&state);
    put(&state, jobs->words[sowing], sizeof jobs->words[sowing]);
    put_number(&state, site->latitude);
    put_number(&state, site->longitude);
    put_number(&state, site->altitude);
    put_number(&state, site->indoors);
    put_number(&state, site->seed_sun);
    put_number(&state, site->colder_nights);
    put_count(&state, (int64_t) site->air);
    for (int i = 0; i < 2; i++) {
        const struct db_bed *bed = i ? s->into : s->bed;

        put_number(&state, bed->warmth);
        put_count(&state, (int64_t) bed->texture);
        put_number(&state, bed->depth);
        put_number(&state, bed->width);
        put_number(&state, bed->length);
        for (size_t g = 0; g < bed->grew_count; g++) {
            put_text(&state, bed->grew[g].crop->id);
            put_count(&state, bed->grew[g].year);
        }
        for (size_t m = 0; i && m < bed->manured_count; m++)
            put_count(&state, bed->manured[m].day);
    }
    put_count(&state, s->planned.day);
    put_count(&state, s->sown.day);
    put_count(&state, s->anyway);
    put_count(&state, (int64_t) table->count);
    for (size_t i = 0; i < table->count; i++) {
        put_number(&state, table->temperature[i]);
        put_number(&state, table->days[i]);
    }
    put_number(&state, table->base);
    put_number(&state, table->top);
    put_notes(&state, jobs, sowing);
    finish(&state, ret_hash);
}

void db_stay_inputs(const struct db_jobs *jobs, size_t sowing, unsigned char ret_hash[16])
{
    const struct db_sowing *s = db_garden_sowing(jobs->view.garden, sowing);
    const struct db_life *life = &jobs->courses[sowing].life;
    XXH3_state_t state;

    (void) XXH3_128bits_reset(&state);
    put(&state, jobs->words[sowing], sizeof jobs->words[sowing]);
    put_count(&state, s->planned.day);
    put_count(&state, s->sown.day);
    put_count(&state, s->anyway);
    for (int stage = 0; stage < DB_STAGE_COUNT; stage++)
        put_count(&state, life->stage[stage].how == DB_NOTED ? life->stage[stage].likely.day : INT32_MIN);
    finish(&state, ret_hash);
}

void db_job_inputs(const struct db_jobs *jobs, size_t rule, size_t sowing, unsigned char ret_hash[16])
{
    XXH3_state_t state;

    (void) XXH3_128bits_reset(&state);
    put(&state, db_rule_hash(jobs->view.rules, rule), 16);
    put(&state, jobs->inputs[sowing], 16);
    if (jobs->uses[rule].reads_beds) {
        const struct db_sowing *s = db_garden_sowing(jobs->view.garden, sowing);
        const struct db_plot_bed *bed = db_plot_bed_of(jobs->plot, s->into);

        put(&state, bed ? bed->inputs : (unsigned char[16]){ 0 }, 16);
    }
    finish(&state, ret_hash);
}

/* The texts are filled in to be hashed, in memory that goes again. When there is none, the job counts as changed: it is
 * then built anew, not left as it was. */
void db_job_words(const struct db_jobs *jobs, const struct db_job *job, unsigned char ret_hash[16])
{
    XXH3_state_t state;

    memset(ret_hash, 0, 16);
    if (!jobs->uses[job->rule].prints_days)
        return;

    struct db_arena *arena = db_arena_new((size_t) 1 << 20);

    (void) XXH3_128bits_reset(&state);
    if (arena) {
        put_text(&state, db_job_summary(jobs, job, arena));
        put_text(&state, db_job_how(jobs, job, arena));
        put_text(&state, db_job_caution(jobs, job, arena));
        put_text(&state, db_job_round(jobs, job, arena));
        put_text(&state, db_job_item(jobs, job, arena));
    }
    (void) db_arena_free(arena);
    finish(&state, ret_hash);
}

void db_job_meaning(const struct db_jobs *jobs, const struct db_job *job, unsigned char ret_hash[16])
{
    const struct db_site *site = db_garden_site(jobs->view.garden);
    XXH3_state_t state;

    (void) XXH3_128bits_reset(&state);
    put_text(&state, site->name);
    put_count(&state, site->imperial);
    put(&state, db_rule_hash(jobs->view.rules, job->rule), 16);
    put(&state, jobs->words[job->sowing], 16);
    put_count(&state, job->occurrence);
    put_count(&state, job->first.day);
    put_count(&state, job->best.day);
    put_count(&state, job->last.day);
    if (job->placed)
        put_count(&state, job->on.day);
    put_count(&state, job->state == DB_JOB_DONE ? job->done.day : INT32_MIN);
    put_count(&state, (int64_t) job->state);
    put_count(&state, job->urgency);
    put_number(&state, (double) job->minutes);
    if (jobs->uses[job->rule].prints_days) {
        unsigned char words[16];

        /* Dates and figures in a text stay as they were while the job stays where it was published. */
        if (db_job_stays(jobs, job))
            memcpy(words, job->published->words, sizeof words);
        else
            db_job_words(jobs, job, words);
        put(&state, words, sizeof words);
    }
    finish(&state, ret_hash);
}

/* A job that comes once has no number; the others count from 1, as people do. */
static bool is_numbered(const struct db_jobs *jobs, const struct db_job *job)
{
    return db_rule_shape(jobs->view.rules, job->rule) != DB_SHAPE_ONCE;
}

/* The digits of `number`, from the end of a buffer of 12 bytes. */
static const char *digits(unsigned number, char buffer[12])
{
    char *at = buffer + 11;

    *at = '\0';
    do
        *--at = (char) ('0' + number % 10);
    while (number /= 10);
    return at;
}

size_t db_job_name(const struct db_jobs *jobs, const struct db_job *job, char *buffer, size_t size)
{
    char number[12];
    const char *const parts[] = { db_rule_name(jobs->view.rules, job->rule),
                                  db_garden_sowing(jobs->view.garden, job->sowing)->id,
                                  is_numbered(jobs, job) ? digits(job->occurrence + 1, number) : NULL };
    struct db_text text = { 0 };
    size_t length = 0;

    if (size)
        text = db_text_in(buffer, size);
    for (size_t i = 0; i < sizeof parts / sizeof parts[0] && parts[i]; i++) {
        if (i && size)
            db_text_add(&text, "/");
        if (size)
            db_text_add(&text, parts[i]);
        length += strlen(parts[i]) + (i > 0);
    }
    return length;
}

/* Whether `*at` begins with `part`; steps over it. */
static bool takes(const char **at, const char *part)
{
    const size_t length = strlen(part);

    if (strncmp(*at, part, length) != 0)
        return false;
    *at += length;
    return true;
}

const struct db_job *db_jobs_find(const struct db_jobs *jobs, const char *name)
{
    for (size_t i = 0; i < jobs->count; i++) {
        const struct db_job *job = &jobs->jobs[i];
        const char *at = name;
        char number[12];

        if (!takes(&at, db_rule_name(jobs->view.rules, job->rule)) || !takes(&at, "/") ||
            !takes(&at, db_garden_sowing(jobs->view.garden, job->sowing)->id))
            continue;
        if (is_numbered(jobs, job) && (!takes(&at, "/") || !takes(&at, digits(job->occurrence + 1, number))))
            continue;
        if (!*at)
            return job;
    }
    return NULL;
}
