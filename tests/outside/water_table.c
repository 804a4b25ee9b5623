/* Prints what the engine reckons of water:
 *   reference DATE MM                         of each day of the record
 *   life SOWING START UP CROPPING CLEARED     dates, "-" where none is known
 *   day SOWING DATE DRY LIMIT LITRES FILLED   of each day of its books, "nan" where it is not known
 * water_table GARDEN RULES DAY */
#include "engine/jobs.h"
#include "engine/water.h"
#include "read/read.h"

#include <stdio.h>
#include <string.h>

#include "base/banned.h"

static int refused(const struct db_mistakes *mistakes)
{
    const struct db_mistake *m;

    for (size_t i = 0; (m = db_mistakes_at(mistakes, i)) != NULL; i++)
        if (!m->advice)
            (void) fprintf(stderr, "%s:%u: %s; %s\n", m->at.file ? m->at.file : "", m->at.line, m->what, m->instead);
    return 1;
}

static void print_days(const char *id, const struct db_moisture *m)
{
    static const char *const filled[] = { "unknown", "sown", "planted", "watered", "asked", "rain" };
    char day[11];

    for (size_t i = 0; i < m->count; i++)
        printf("day %s %s %.9f %.9f %.9f %s\n", id, db_date_iso((struct db_date){ m->first + (int32_t) i }, day),
               m->days[i].dry, m->days[i].limit, m->days[i].water, filled[m->days[i].filled]);
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
    for (size_t i = 0; i < jobs->clocks.days; i++) {
        char day[11];

        printf("reference %s %.9f\n", db_date_iso(db_date_add(jobs->clocks.first, (int32_t) i), day),
               jobs->clocks.reference[i]);
    }
    for (size_t i = 0; i < db_garden_sowings(estate.garden); i++) {
        const struct db_sowing *sowing = db_garden_sowing(estate.garden, i);
        const struct db_turn *stage = db_jobs_life(jobs, i)->stage;
        const bool tray = sowing->way == DB_WAY_PLUGS || sowing->way == DB_WAY_POT;
        char day[4][11];

        printf("life %s %s %s %s %s\n", sowing->id,
               db_date_iso(stage[tray ? DB_STAGE_PLANTED : DB_STAGE_SOWN].likely, day[0]),
               db_date_iso(stage[DB_STAGE_UP].likely, day[1]), db_date_iso(stage[DB_STAGE_CROPPING].likely, day[2]),
               db_date_iso(stage[DB_STAGE_CLEARED].likely, day[3]));
        print_days(sowing->id, db_pump_run(jobs->pump, i));
    }
    arena = db_arena_free(arena);
    return 0;
}
