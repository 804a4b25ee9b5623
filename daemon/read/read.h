/* Files in, structures and mistakes out. These functions may open files; they print nothing. */
#ifndef DB_READ_READ_H
#define DB_READ_READ_H

#include "dewbell/diary.h"
#include "dewbell/rule.h"
#include "dewbell/weather.h"
#include "read/outlets.h"

struct db_source;
struct db_seen;

/* One gardener's files, read and checked. Lives in the arena that was handed in. */
struct db_estate {
    const struct db_garden *garden;
    const struct db_crops *crops;
    const struct db_rules *rules;
    struct db_records *records; /* weather files read, days not yet laid out (records.h) */
    const char *folder;         /* the folder of garden.ini */
    const char *const *files;   /* every file that was read, absolute or as given; NULL-terminated (for watching); given
                                   back with mistakes, too */
    const char *const *folders; /* folders that were named and listed: new files in them count. The same */
    const struct db_seen *seen; /* what they held; the same */
    struct db_outlets outlets;  /* what the plan says of the service */
    const struct db_source *source; /* what outlets.forecast asks (source.h); NULL: nothing */
    const struct db_told *told; /* the last good forecast, set by who has it; NULL: none. They count where nothing was
                                   observed */
};

/* Reads garden.ini and all that it names, the shipped rules and crops under `shipped` (a folder with crops/ and jobs/).
 * DB_OK, DB_MISTAKEN (see the list; nothing but `files`, `folders` and `seen` of *ret_estate is usable), DB_FULL. */
DB_MUST_USE enum db_status db_estate_read(const char *garden_file, const char *shipped, struct db_arena *arena,
                                          struct db_mistakes *mistakes, struct db_estate *ret_estate);

/* Whether all that was read would be read as it was: the files are looked at again, byte for byte. False also when memory is
 * out. Not for an estate out of copies. */
bool db_estate_stands(const struct db_estate *estate);

/* The same out of copies: every file is opened under `copies`, where it lies under its own absolute path
 * (db_path_copy()); both paths must be absolute. Mistakes and `files` name the originals. */
DB_MUST_USE enum db_status db_estate_read_copies(const char *copies, const char *garden_file, const char *shipped,
                                                 struct db_arena *arena, struct db_mistakes *mistakes,
                                                 struct db_estate *ret_estate);
/* Where the copy of `path` lies under `copies`: its "." and ".." are taken out by name alone. False if it does not fit. */
bool db_path_copy(const char *copies, const char *path, char *buffer, size_t size);

/* The weather as it was known on `today`: observed days up to yesterday (and today's if the record has it and no forecast
 * does), forecast days where nothing was observed, `record_ahead` days of the record after today in place of a forecast,
 * climate (past years before today, or [climate] where they do not cover every month) for the rest, up to 430 days on; with
 * three past years or more, up to the latest thirty, a future for each (weather.h). Starts at the earliest day that a sowing of the garden needs (30 days before it; at least 400 days back),
 * with climate where nothing was observed. */
DB_MUST_USE enum db_status db_estate_weather(const struct db_estate *estate, struct db_date today,
                                             struct db_arena *arena, struct db_mistakes *mistakes,
                                             struct db_weather **ret_weather);

#endif
