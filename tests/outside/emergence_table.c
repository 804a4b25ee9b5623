/* Prints, for every sowing of a garden, its day of sowing and the days on which the engine expects it to be up:
 * SOWING SOWN EARLY LIKELY LATE ("-" where none is known).
 * emergence_table GARDEN RULES DAY */
#include "dewbell/job.h"
#include "read/read.h"

#include <stdio.h>
#include <string.h>

static int refused(const struct db_mistakes *mistakes)
{
    const struct db_mistake *m;

    for (size_t i = 0, told = 0; told < 10 && (m = db_mistakes_at(mistakes, i)) != NULL; i++)
        if (!m->advice) {
            (void) fprintf(stderr, "%s:%u: %s; %s\n", m->at.file ? m->at.file : "", m->at.line, m->what, m->instead);
            told++;
        }
    return 1;
}

int main(int argc, char **argv)
{
    struct db_arena *arena = db_arena_new((size_t) 1 << 30);
    struct db_mistakes *mistakes = arena ? db_mistakes_new(arena) : NULL;
    struct db_estate estate;
    struct db_weather *weather;
    const struct db_jobs *jobs;
    struct db_date today;

    if (argc != 4 || !mistakes || db_date_read(argv[3], strlen(argv[3]), &today) != DB_OK)
        return 64;
    if (db_estate_read(argv[1], argv[2], arena, mistakes, &estate) != DB_OK ||
        db_estate_weather(&estate, today, arena, mistakes, &weather) != DB_OK)
        return refused(mistakes);
    const struct db_view view = { .garden = estate.garden, .rules = estate.rules, .weather = weather, .today = today };
    if (db_garden_evaluate(&view, arena, &jobs) != DB_OK)
        return 1;
    for (size_t i = 0; i < db_garden_sowings(estate.garden); i++) {
        const struct db_turn *up = &db_jobs_life(jobs, i)->stage[DB_STAGE_UP];
        const struct db_turn *sown = &db_jobs_life(jobs, i)->stage[DB_STAGE_SOWN];
        char day[4][11];
        printf("%s %s %s %s %s\n", db_garden_sowing(estate.garden, i)->id, db_date_iso(sown->likely, day[0]),
               db_date_iso(up->early, day[1]), db_date_iso(up->likely, day[2]), db_date_iso(up->late, day[3]));
    }
    arena = db_arena_free(arena);
    return 0;
}
