#define DB_PURE
#include "dewbell/garden.h"

#include "base/limits.h"
#include "model/shelf.h"

#include <stdint.h>
#include <string.h>

#include "base/banned.h"

struct db_garden {
    struct db_arena *arena;
    struct db_site site;
    struct db_week week;
    struct db_shelf beds, sowings;
};

struct db_garden *db_garden_new(struct db_arena *arena, const struct db_site *site)
{
    struct db_garden *garden = db_arena_get(arena, 1, sizeof *garden);

    if (!garden)
        return NULL;
    garden->arena = arena;
    garden->site = *site;
    garden->beds = db_shelf_in(arena, DB_LIMIT_BEDS);
    garden->sowings = db_shelf_in(arena, DB_LIMIT_SOWINGS);
    return garden;
}

/* Trays stand on what is indoors; everything else is gone into. */
static const char *place_of(struct db_garden *garden, const struct db_bed *bed)
{
    const char *name = bed->name ? bed->name : bed->id;
    const size_t length = strlen(name);
    char *where = db_arena_get(garden->arena, length + sizeof "in ", 1);

    if (where) {
        memcpy(where, bed->cover == DB_COVER_INDOORS ? "on " : "in ", 3);
        memcpy(where + 3, name, length);
    }
    return where;
}

enum db_status db_garden_add_bed(struct db_garden *garden, const struct db_bed *bed, const struct db_bed **ret)
{
    struct db_bed whole = *bed;
    void *kept = NULL;

    if (!whole.where && !(whole.where = place_of(garden, bed)))
        return DB_FULL;

    const enum db_status status = db_shelf_add(&garden->beds, &whole, sizeof whole, &kept);

    if (status == DB_OK && ret)
        *ret = kept;
    return status;
}

enum db_status db_garden_add_sowing(struct db_garden *garden, const struct db_sowing *sowing)
{
    return db_shelf_add(&garden->sowings, sowing, sizeof *sowing, NULL);
}

void db_garden_set_week(struct db_garden *garden, const struct db_week *week)
{
    garden->week = *week;
}

const struct db_week *db_garden_week(const struct db_garden *garden)
{
    return &garden->week;
}

const struct db_site *db_garden_site(const struct db_garden *garden)
{
    return &garden->site;
}

size_t db_garden_beds(const struct db_garden *garden)
{
    return garden->beds.count;
}

const struct db_bed *db_garden_bed(const struct db_garden *garden, size_t index)
{
    return index < garden->beds.count ? garden->beds.items[index] : NULL;
}

const struct db_bed *db_garden_find_bed(const struct db_garden *garden, const char *id)
{
    return db_garden_bed(garden, db_shelf_find(&garden->beds, id));
}

size_t db_garden_find_bed_index(const struct db_garden *garden, const char *id)
{
    return db_shelf_find(&garden->beds, id);
}

size_t db_garden_sowings(const struct db_garden *garden)
{
    return garden->sowings.count;
}

const struct db_sowing *db_garden_sowing(const struct db_garden *garden, size_t index)
{
    return index < garden->sowings.count ? garden->sowings.items[index] : NULL;
}

size_t db_garden_find_sowing(const struct db_garden *garden, const char *id)
{
    return db_shelf_find(&garden->sowings, id);
}
