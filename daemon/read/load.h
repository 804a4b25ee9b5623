/* What the readers of one load share. */
#ifndef DB_READ_LOAD_H
#define DB_READ_LOAD_H

#include "dewbell/garden.h"
#include "dewbell/rule.h"
#include "read/fields.h"
#include "read/outlets.h"
#include "read/records.h"
#include "read/seen.h"

struct db_load {
    struct db_arena *arena;   /* what stays */
    struct db_arena *scratch; /* what is gone after the load */
    struct db_mistakes *mistakes;
    const char **files; /* every file read so far, in the arena */
    size_t file_count, file_room;
    const char **folders; /* listed so far; NULL-terminated */
    size_t folder_count, folder_room;
    struct db_seen *seen; /* what they held; in the arena */
};

struct db_reader db_load_reader(const struct db_load *load);

/* Whether the file was read already. */
bool db_load_has(const struct db_load *load, const char *file);
/* Adds a file to the list. */
DB_MUST_USE enum db_status db_load_saw(struct db_load *load, const char *file);
/* Reads a file, or the files of a folder, into the set. A file that was read already is a mistake at `at`. */
DB_MUST_USE enum db_status db_load_ini(struct db_load *load, struct db_ini *ini, const char *path, struct db_place at);

/* crops.c: the shipped crops, then the gardener's own (a path, or NULL), which take the place of shipped ones with the
 * same id. own_at: where the path was written. */
DB_MUST_USE enum db_status db_crops_read(struct db_load *load, const char *shipped, const char *own,
                                         struct db_place own_at, const struct db_crops **ret);

/* rule_files.c: the same for rules, which are merged key by key and then compiled. */
DB_MUST_USE enum db_status db_rule_files_read(struct db_load *load, const char *shipped, const char *own,
                                              struct db_place own_at, const struct db_rules **ret);

/* plan.c */
struct db_plan {
    struct db_ini *ini;
    const char *folder; /* paths are seen from here */
    struct db_site site;
    const char *own_rules, *own_crops; /* paths; NULL: not given */
    struct db_place own_rules_at, own_crops_at;
};

/* Reads garden.ini and what it includes, and its [garden] section. */
DB_MUST_USE enum db_status db_plan_open(struct db_load *load, const char *file, struct db_plan *ret);
/* Beds and sowings. */
DB_MUST_USE enum db_status db_plan_garden(struct db_load *load, const struct db_plan *plan,
                                          const struct db_crops *crops, const struct db_garden **ret);

/* What a text key says, kept; NULL where nothing that can be read is given. */
const char *db_kept_text(struct db_load *load, const struct db_value *value);

/* plan_sowing.c: the table of keys, and one section with them. All beds are in the garden by now. */
const struct db_field *db_sowing_fields(size_t *ret_count);
DB_MUST_USE enum db_status db_plan_sowing(struct db_load *load, const struct db_crops *crops,
                                          const struct db_ini_section *section, struct db_garden *garden);

/* The crop that is named, NULL with a mistake where there is none. */
const struct db_crop_facts *db_plan_crop(struct db_load *load, const struct db_crops *crops, struct db_span span);

/* plan_grew.c: what grew in a bed before, kept in it. */
DB_MUST_USE enum db_status db_plan_grew(struct db_load *load, const struct db_crops *crops, struct db_span whole,
                                        struct db_bed *bed);

/* plan_manured.c: the days on which raw manure was dug into it, kept in it. */
DB_MUST_USE enum db_status db_plan_manured(struct db_load *load, struct db_span whole, struct db_bed *bed);

/* plan_between.c: what `between` of the sowings names. All sowings are in the garden by now. */
DB_MUST_USE enum db_status db_plan_between(struct db_load *load, const struct db_plan *plan,
                                           const struct db_garden *garden);

/* plan_days.c: the gardener's days, and their rows. */
const struct db_field *db_days_fields(size_t *ret_count);
DB_MUST_USE enum db_status db_plan_days(struct db_load *load, const struct db_plan *plan, struct db_garden *garden);

/* weather_files.c: [weather] and [climate], and their rows. */
const struct db_field *db_weather_fields(size_t *ret_count);
const struct db_field *db_climate_fields(size_t *ret_count);
DB_MUST_USE enum db_status db_plan_records(struct db_load *load, const struct db_plan *plan, struct db_records **ret);

/* outlets.c: the tables of keys, index from 0, NULL at the end; and what the plan says of the service. */
const struct db_field *db_outlet_fields(size_t index, size_t *ret_count);
DB_MUST_USE enum db_status db_plan_outlets(struct db_load *load, const struct db_plan *plan, struct db_outlets *ret);

#endif
