/* What a garden's file says of the service: where forecasts come from, where mornings and feeds go. Read with the plan
 * (db_estate.outlets); secrets stay in files of their own and are read only when they are used. */
#ifndef DB_READ_OUTLETS_H
#define DB_READ_OUTLETS_H

#include "dewbell/mistake.h"

#include <stdint.h>

/* [forecast] */
struct db_forecast_wish {
    const char *source;  /* section of a file in rules/sources, or of the gardener's own; NULL: none wanted */
    const char *sources; /* a file or folder with descriptions of the gardener's own; NULL: none */
    const char *url;     /* in place of the source's own; NULL: none */
    const char *contact; /* goes into the User-Agent; NULL: none */
    int32_t every;       /* minutes between askings, 30 .. 1440; default 180 */
    bool learn;          /* how the garden differs from it; default yes */
    const char *ca_file; /* trust this file instead of the system's; NULL: the system's */
    struct db_place at;
};

/* [morning] */
struct db_morning_wish {
    bool wanted; /* there is such a section */
    bool by_sun; /* `at = sunrise - 30 min`: minutes from sunrise; else minutes from midnight, local */
    int32_t minutes;
    bool
        quiet_line; /* `quiet = a line`: a day without jobs is told in one line; `quiet = nothing` (default): not sent */
    const char *link; /* base address of the garden's page for links, NULL: none */
};

enum db_way_out { DB_OUT_MAIL, DB_OUT_POST, DB_OUT_COMMAND, DB_OUT_FOLDER, DB_OUT_WEBDAV, DB_OUT_S3 };

/* [mail NAME], [post NAME], [command NAME] send mornings; [publish NAME] sends feeds. */
struct db_outlet {
    enum db_way_out way;
    const char *name;      /* "mail me" of [mail me]: the record and status know it by that */
    const char *url;       /* smtp(s)://host[:port], http(s)://..., folder path, WebDAV collection, S3 bucket address */
    const char *from;      /* mail */
    const char *const *to; /* mail: NULL-terminated addresses */
    const char *login;     /* NULL: none; S3: the access key */
    const char
        *secret_file;   /* holds the password or secret key on its first line; NULL: none. A bare name is looked up in
                                  $CREDENTIALS_DIRECTORY first, else beside the plan (in db_estate.folder) */
    bool json;          /* post: `format = json`; else text */
    bool plain_allowed; /* mail: `tls = if offered`; default `tls = always` */
    const char *const *words; /* command: program and arguments, NULL-terminated; no shell */
    const char *region;       /* S3 */
    const char *const *feeds; /* publish: "jobs", "mornings", "tasks"; default all */
    const char *ca_file;
    struct db_place at;
};

struct db_outlets {
    struct db_forecast_wish forecast;
    struct db_morning_wish morning;
    const struct db_outlet *outlets;
    size_t count;
};

#endif
