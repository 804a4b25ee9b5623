/* One batch of a shipped crop in a garden with the demo's beds, rules and weather, and the jobs that it has on a day. Include
 * after cmocka.h. */
#ifndef TESTS_RULE_BATCH_H
#define TESTS_RULE_BATCH_H

#include "dewbell/job.h"
#include "read/read.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "kit/demo_estate.h"

static struct db_date day_of(const char *iso)
{
    struct db_date date = DB_NO_DATE;

    if (iso && db_date_read(iso, strlen(iso), &date) != DB_OK)
        fail_msg("%s is not a date", iso);
    return date;
}

struct batch {
    const char *crop, *bed, *into; /* beds of the demo garden */
    enum db_way way;
    const char *sow, *sown;
    struct {
        const char *word, *date;
    } notes
        [4]; /* or of the plan: "+again", days; "+later", the day of another sowing of the crop; "+beside", what else grows in
                 * its bed, "CROP SOWN ROWS", and may be cleared ("+gone", date); "+between": between its rows;
                 "+last_frost", "05-12"; "+manured", the day on which manure is dug into the bed it is planted in */
};

/* What the plan says beside; NULL: nothing. */
static const char *plan_of(const struct batch *batch, const char *word)
{
    for (size_t i = 0; i < 4 && batch->notes[i].word; i++)
        if (strcmp(batch->notes[i].word, word) == 0)
            return batch->notes[i].date;
    return NULL;
}

/* What else grows in the bed: "garlic 2014-10-18 12", sown in rows of so many metres in all. */
static void put_beside(struct db_garden *garden, struct db_diary *diary, const struct batch *batch,
                       struct db_sowing sowing)
{
    const char *beside = plan_of(batch, "+beside"), *gone = plan_of(batch, "+gone");
    const struct db_note note = {
        .number = 100, .sowing = "beside", .word = "cleared", .date = day_of(gone), .text = ""
    };
    char crop[32], sown[16];

    if (!beside)
        return;
    if (sscanf(beside, "%31s %15s %lf", crop, sown, &sowing.row) != 3)
        fail_msg("%s is not CROP SOWN ROWS", beside);
    sowing.id = "beside";
    sowing.crop = db_crops_find(estate.crops, crop);
    assert_non_null(sowing.crop);
    sowing.way = sowing.crop->usual;
    sowing.bed = sowing.into;
    sowing.sown = sowing.planned = day_of(sown);
    sowing.row *= 1000;
    sowing.plugs = sowing.plants = sowing.again = 0;
    sowing.between = NULL;
    assert_int_equal(db_garden_add_sowing(garden, &sowing), DB_OK);
    if (gone)
        assert_int_equal(db_diary_add(diary, &note), DB_OK);
}

struct looked_at {
    struct db_arena *arena;
    const struct db_jobs *jobs;
};

/* The jobs of a garden that holds this batch alone, seen on `today`. */
static struct looked_at look(const struct batch *batch, const char *today)
{
    struct looked_at ret = { .arena = db_arena_new((size_t) 64 << 20) };
    struct db_mistakes *mistakes = db_mistakes_new(ret.arena);
    struct db_site site = *db_garden_site(estate.garden);
    struct db_diary *diary = db_diary_new(ret.arena);
    struct db_weather *weather = NULL;
    const struct db_bed *beds[2];
    const char *frost = plan_of(batch, "+last_frost");

    if (frost)
        assert_int_equal(sscanf(frost, "%d-%d", &site.frosts[DB_FROST_LAST].month, &site.frosts[DB_FROST_LAST].day), 2);

    struct db_garden *garden = db_garden_new(ret.arena, &site);

    for (int i = 0; i < 2; i++) {
        const char *id = i && batch->into ? batch->into : batch->bed;
        const struct db_bed *bed = db_garden_find_bed(estate.garden, id);
        const struct db_bed trough = {
            .id = "trough", .name = "the trough", .warmth = (double) NAN, .texture = DB_TEXTURE_MIX, .depth = 250
        };

        if (!bed && strcmp(id, "trough") == 0)
            bed = &trough;
        if (!bed)
            fail_msg("no bed %s", id);

        struct db_bed laid = *bed;
        struct db_date *manured = db_arena_get(ret.arena, 1, sizeof *manured);

        *manured = day_of(plan_of(batch, "+manured"));
        if (db_date_known(*manured) && (i || !batch->into)) {
            laid.manured = manured;
            laid.manured_count = 1;
        }
        if (!i || batch->into)
            assert_int_equal(db_garden_add_bed(garden, &laid, &beds[i]), DB_OK);
        else
            beds[1] = beds[0];
    }

    const char *again = plan_of(batch, "+again"), *later = plan_of(batch, "+later");
    const struct db_sowing sowing = { .id = "batch",
                                      .crop = db_crops_find(estate.crops, batch->crop),
                                      .bed = beds[0],
                                      .into = beds[1],
                                      .way = batch->way,
                                      .planned = day_of(batch->sow),
                                      .sown = day_of(batch->sown),
                                      .row = 3000,
                                      .plugs = 12,
                                      .plants = 12,
                                      .again = again ? strtod(again, NULL) : 0,
                                      .between = plan_of(batch, "+between") ? "beside" : NULL };

    assert_non_null(sowing.crop);
    assert_int_equal(db_garden_add_sowing(garden, &sowing), DB_OK);
    if (later) {
        struct db_sowing other = sowing;

        other.id = "later";
        other.planned = day_of(later);
        other.sown = DB_NO_DATE;
        other.again = 0;
        assert_int_equal(db_garden_add_sowing(garden, &other), DB_OK);
    }
    put_beside(garden, diary, batch, sowing);
    for (size_t i = 0; i < 4 && batch->notes[i].word; i++) {
        const struct db_note note = { .number = (int64_t) i + 1,
                                      .sowing = "batch",
                                      .word = batch->notes[i].word,
                                      .date = *batch->notes[i].word == '+' ? DB_NO_DATE : day_of(batch->notes[i].date),
                                      .text = "" };

        if (!db_date_known(note.date))
            continue;
        assert_int_equal(db_diary_add(diary, &note), DB_OK);
    }
    assert_int_equal(db_diary_close(diary, garden), DB_OK);
    assert_int_equal(db_estate_weather(&estate, day_of(today), ret.arena, mistakes, &weather), DB_OK);

    struct db_view *view = db_arena_get(ret.arena, 1, sizeof *view);

    *view = (struct db_view){
        .garden = garden, .rules = estate.rules, .weather = weather, .diary = diary, .today = day_of(today)
    };
    assert_int_equal(db_garden_evaluate(view, ret.arena, &ret.jobs), DB_OK);
    return ret;
}

/* The open job of this rule whose window holds `today`; NULL if there is none. */
static inline const struct db_job *open_job(const struct looked_at *seen, const char *rule, const char *today)
{
    const struct db_date day = day_of(today);

    for (size_t i = 0; i < db_jobs_count(seen->jobs); i++) {
        const struct db_job *job = db_jobs_at(seen->jobs, i);

        if (job->state == DB_JOB_OPEN && job->first.day <= day.day && day.day <= job->last.day &&
            strcmp(db_rule_name(estate.rules, job->rule), rule) == 0)
            return job;
    }
    return NULL;
}

static inline bool asks(const struct batch *batch, const char *rule, const char *today)
{
    const struct looked_at seen = look(batch, today);
    const bool found = open_job(&seen, rule, today) != NULL;

    db_arena_free(seen.arena);
    return found;
}

#endif
