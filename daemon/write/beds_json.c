/* Beds over time as JSON. */
#include "write/beds.h"

#include "base/text.h"

#include <json-c/json.h>

#include <math.h>

#include "base/banned.h"

static bool put(json_object *to, const char *key, json_object *value)
{
    return json_object_object_add(to, key, value) == 0;
}

static bool put_text(json_object *to, const char *key, const char *text, struct db_arena *arena)
{
    const char *cleaned = text ? db_clean_text(text, arena) : NULL;
    json_object *value = cleaned ? json_object_new_string(cleaned) : NULL;

    return (value || !text) && put(to, key, value);
}

static bool put_date(json_object *to, const char *key, struct db_date date)
{
    char iso[11];
    json_object *value = db_date_known(date) ? json_object_new_string(db_date_iso(date, iso)) : NULL;

    return (value || !db_date_known(date)) && put(to, key, value);
}

/* To the square centimetre; null where it is not known. */
static bool put_ground(json_object *to, const char *key, double ground)
{
    char words[40];
    struct db_text text = db_text_in(words, sizeof words);
    json_object *value = NULL;

    db_text_add_number(&text, ground, 4);
    if (isfinite(ground) && !(value = json_object_new_double_s(ground, words)))
        return false;
    return put(to, key, value);
}

static bool put_dates(json_object *to, const char *key, const struct db_date day[3])
{
    json_object *dates = json_object_new_object();

    return dates && put(to, key, dates) && put_date(dates, "early", day[0]) && put_date(dates, "likely", day[1]) &&
           put_date(dates, "late", day[2]);
}

static bool put_turn(json_object *to, const char *key, const struct db_turn *turn)
{
    const struct db_date day[3] = { turn->early, turn->likely, turn->late };

    return put_dates(to, key, day);
}

static bool put_grounds(json_object *to, const char *key, const double ground[3], const char *const names[3])
{
    json_object *grounds = json_object_new_object();

    return grounds && put(to, key, grounds) && put_ground(grounds, names[0], ground[0]) &&
           put_ground(grounds, names[1], ground[1]) && put_ground(grounds, names[2], ground[2]);
}

static const struct db_sowing *sowing_at(const struct db_jobs *jobs, size_t index)
{
    return index == SIZE_MAX ? NULL : db_garden_sowing(db_jobs_view(jobs)->garden, index);
}

static const char *id_of(const struct db_jobs *jobs, size_t index)
{
    const struct db_sowing *sowing = sowing_at(jobs, index);

    return sowing ? sowing->id : NULL;
}

static bool put_stay(json_object *to, const struct db_jobs *jobs, const struct db_stay *stay, struct db_arena *arena)
{
    static const char *const distances[3] = { "closest", "middle", "widest" };
    const struct db_room *room = db_plot_room(db_jobs_plot(jobs), stay->sowing);
    const struct db_life *life = db_jobs_life(jobs, stay->sowing);
    json_object *fits = room->fit == DB_FIT_UNKNOWN ? NULL : json_object_new_boolean(room->fit == DB_FIT_YES);
    json_object *noted = json_object_new_boolean(stay->noted);

    return (fits || room->fit == DB_FIT_UNKNOWN) && noted && put(to, "fits", fits) && put(to, "noted", noted) &&
           put_text(to, "sowing", id_of(jobs, stay->sowing), arena) &&
           put_text(to, "crop", sowing_at(jobs, stay->sowing)->crop->text[DB_FACT_NAME], arena) &&
           put_turn(to, "harvest", &life->stage[DB_STAGE_CROPPING]) && put_turn(to, "ripe", &life->ripe) &&
           put_dates(to, "from", stay->from) && put_dates(to, "takes", stay->takes) && put_dates(to, "to", stay->to) &&
           put_grounds(to, "ground", stay->ground, distances) &&
           put_text(to, "between", id_of(jobs, stay->host), arena) && put_dates(to, "ready", room->ready) &&
           put_text(to, "elsewhere", room->elsewhere ? room->elsewhere->id : NULL, arena) &&
           put_date(to, "elsewhere_from", room->elsewhere_from) &&
           put_text(to, "family_crop", room->family ? room->family->text[DB_FACT_NAME] : NULL, arena) &&
           put(to, "family_year", room->family ? json_object_new_int(room->family_season) : NULL);
}

/* Each of these adds one object to a list. */
static json_object *added(json_object *list)
{
    json_object *object = json_object_new_object();

    return object && json_object_array_add(list, object) == 0 ? object : NULL;
}

static bool put_stays(json_object *to, const struct db_jobs *jobs, const struct db_bed *bed, struct db_arena *arena)
{
    const struct db_plot *plot = db_jobs_plot(jobs);
    json_object *list = json_object_new_array(), *one;

    if (!list || !put(to, "stays", list))
        return false;
    for (size_t i = 0; i < db_plot_count(plot, bed); i++)
        if (db_beds_shows(jobs, db_plot_at(plot, bed, i)) &&
            (!(one = added(list)) || !put_stay(one, jobs, db_plot_at(plot, bed, i), arena)))
            return false;
    return true;
}

static bool put_trays(json_object *to, const struct db_jobs *jobs, const struct db_bed *bed, struct db_arena *arena)
{
    json_object *list = json_object_new_array(), *one;

    if (!list || !put(to, "trays", list))
        return false;
    for (size_t i = 0; i < db_garden_sowings(db_jobs_view(jobs)->garden); i++) {
        const struct db_turn *planted = &db_jobs_life(jobs, i)->stage[DB_STAGE_PLANTED];
        const struct db_date days[3] = { planted->early, planted->likely, planted->late };

        if (db_beds_has_tray(jobs, i, bed) &&
            (!(one = added(list)) || !put_text(one, "sowing", id_of(jobs, i), arena) ||
             !put_date(one, "from", db_jobs_life(jobs, i)->stage[DB_STAGE_SOWN].likely) ||
             !put_dates(one, "planted", days) || !put_text(one, "into", sowing_at(jobs, i)->into->id, arena)))
            return false;
    }
    return true;
}

static bool put_free(json_object *to, const struct db_jobs *jobs, const struct db_bed *bed, struct db_arena *arena)
{
    static const char *const odds[3] = { "least", "likely", "most" };
    const struct db_date today = db_jobs_view(jobs)->today;
    const struct db_step *steps;
    size_t count;
    json_object *list = json_object_new_array(), *one;

    if (!list || !put(to, "free", list) ||
        db_plot_steps(db_jobs_plot(jobs), bed, today, db_date_add(today, DB_BEDS_AHEAD), arena, &steps, &count) !=
            DB_OK)
        return false;
    for (size_t i = 0; i < count; i++)
        if (!(one = added(list)) || !put_date(one, "from", steps[i].from) ||
            !put_grounds(one, "ground", steps[i].left, odds))
            return false;
    return true;
}

static bool put_manured(json_object *to, const struct db_bed *bed)
{
    json_object *list = json_object_new_array();

    if (!list || !put(to, "manured", list))
        return false;
    for (size_t i = 0; i < bed->manured_count; i++) {
        char iso[11];
        json_object *day = json_object_new_string(db_date_iso(bed->manured[i], iso));

        if (!day || json_object_array_add(list, day) != 0)
            return false;
    }
    return true;
}

static bool put_bed(json_object *to, const struct db_jobs *jobs, const struct db_bed *bed, struct db_arena *arena)
{
    const double ground = bed->width * bed->length / 1e6;

    return put_text(to, "bed", bed->id, arena) && put_text(to, "name", bed->name, arena) &&
           put_ground(to, "ground", ground > 0 ? ground : (double) NAN) && put_manured(to, bed) &&
           put_stays(to, jobs, bed, arena) && put_trays(to, jobs, bed, arena) && put_free(to, jobs, bed, arena);
}

enum db_status db_beds_json(const struct db_jobs *jobs, const struct db_bed *bed, struct db_arena *arena,
                            struct db_bytes *out)
{
    const struct db_garden *garden = db_jobs_view(jobs)->garden;
    enum db_status status = db_bytes_text(out, "[");
    bool any = false;

    for (size_t b = 0; b < db_garden_beds(garden) && status == DB_OK; b++) {
        json_object *one;
        const char *text = NULL;
        size_t length = 0;

        if (bed && bed != db_garden_bed(garden, b))
            continue;
        one = json_object_new_object();
        if (one && put_bed(one, jobs, db_garden_bed(garden, b), arena))
            text = json_object_to_json_string_length(one, JSON_C_TO_STRING_PLAIN | JSON_C_TO_STRING_NOSLASHESCAPE,
                                                     &length);
        status = text ? db_bytes_text(out, any ? ",\n" : "\n") : DB_FULL;
        if (status == DB_OK)
            status = db_bytes_add(out, text, length);
        (void) json_object_put(one);
        any = true;
    }
    return status == DB_OK ? db_bytes_text(out, any ? "\n]\n" : "]\n") : status;
}
