/* Rotation: which family grew in a bed in the seasons before. A crop belongs to the season in which the middle of its time
 * falls: the calendar year, and south of the equator the year from July on. So one that stands from autumn to spring
 * counts once, and what follows on within one season is no return. */
#define DB_PURE
#include "engine/plot.h"

#include "base/sort.h"

#include <string.h>

#include "base/banned.h"

enum { HALF_YEAR = 184, SOME_DAYS = 90 /* of a crop of which nobody knows how long it stands */ };

static int season_of(const struct db_plot *plot, const struct db_stay *stay)
{
    const bool south = db_garden_site(plot->jobs->view.garden)->latitude < 0;
    const int32_t from = stay->from[1].day;
    const int32_t to = db_date_known(stay->to[1]) ? stay->to[1].day : from + 2 * SOME_DAYS;
    int year;

    db_date_parts((struct db_date){ from + (to - from) / 2 + (south ? HALF_YEAR : 0) }, &year, NULL, NULL);
    return year;
}

static int by_place(const struct db_grown *a, const struct db_bed *bed, const char *family)
{
    const int order = strcmp(a->bed->id, bed->id);

    return order != 0 ? order : strcmp(a->crop->text[DB_FACT_FAMILY], family);
}

static int by_season(const void *a, const void *b, const void *context)
{
    const struct db_grown *x = a, *y = b;
    const int order = by_place(x, y->bed, y->crop->text[DB_FACT_FAMILY]);

    (void) context;
    if (order != 0)
        return order;
    if (x->season != y->season)
        return x->season < y->season ? -1 : 1;
    if (x->to != y->to)
        return x->to < y->to ? -1 : 1;
    return strcmp(x->crop->id, y->crop->id);
}

static const struct db_crop_facts *crop_of(const struct db_plot *plot, size_t sowing)
{
    return db_garden_sowing(plot->jobs->view.garden, sowing)->crop;
}

const struct db_grown *db_plot_grew(const struct db_plot *plot, const struct db_bed *bed, const struct db_stay *stay,
                                    int *ret_seasons)
{
    const char *family = crop_of(plot, stay->sowing)->text[DB_FACT_FAMILY];
    const int season = season_of(plot, stay);
    size_t low = 0, high = plot->grown_count;

    if (!family)
        return NULL;
    while (low < high) { /* the first that is not of a season before */
        const size_t middle = low + (high - low) / 2;
        const int order = by_place(&plot->grown[middle], bed, family);

        if (order < 0 || (order == 0 && plot->grown[middle].season < season))
            low = middle + 1;
        else
            high = middle;
    }
    for (; low && by_place(&plot->grown[low - 1], bed, family) == 0; low--)
        if (plot->grown[low - 1].to <= stay->from[1].day) { /* it was gone before */
            *ret_seasons = season - plot->grown[low - 1].season;
            return &plot->grown[low - 1];
        }
    return NULL;
}

static void put_grown(struct db_plot *plot, struct db_grown grown)
{
    if (grown.crop->text[DB_FACT_FAMILY])
        plot->grown[plot->grown_count++] = grown;
}

enum db_status db_plot_families(struct db_plot *plot)
{
    size_t room = plot->staying;

    for (size_t b = 0; b < plot->bed_count; b++)
        room += plot->beds[b].bed->grew_count;
    if (!(plot->grown = db_arena_get(plot->arena, room, sizeof *plot->grown)))
        return DB_FULL;
    for (size_t b = 0; b < plot->bed_count; b++) {
        const struct db_bed *bed = plot->beds[b].bed;

        for (size_t i = 0; i < bed->grew_count; i++)
            put_grown(plot, (struct db_grown){ bed, bed->grew[i].crop, bed->grew[i].year, INT32_MIN });
    }
    for (size_t i = 0; i < plot->staying; i++) {
        const struct db_stay *stay = &plot->stays[plot->order[i]];

        if (db_date_known(stay->to[1]))
            put_grown(plot, (struct db_grown){ stay->bed, crop_of(plot, stay->sowing), season_of(plot, stay),
                                               stay->to[1].day });
    }
    if (db_sort(plot->grown, plot->grown_count, sizeof *plot->grown, by_season, NULL, plot->arena) != DB_OK)
        return DB_FULL;
    for (size_t i = 0; i < plot->staying; i++) {
        const struct db_stay *stay = &plot->stays[plot->order[i]];
        struct db_room *room_of = &plot->rooms[stay->sowing];
        const struct db_grown *grew = stay->noted ? NULL : db_plot_grew(plot, stay->bed, stay, &room_of->seasons);

        if (grew) {
            room_of->family = grew->crop;
            room_of->family_season = grew->season;
        }
    }
    return DB_OK;
}
