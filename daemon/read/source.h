/* A forecast source as an INI file describes it: where to ask, and where in the answer each figure stands. No code knows a
 * weather service. docs/forecast.md is the manual of the keys. */
#ifndef DB_READ_SOURCE_H
#define DB_READ_SOURCE_H

#include "dewbell/garden.h"
#include "dewbell/weather.h"

enum db_layout {
    DB_LAYOUT_COLUMNS, /* one JSON object of arrays that run side by side */
    DB_LAYOUT_RECORDS, /* a JSON array of objects, each with its time */
    DB_LAYOUT_SERIES,  /* for each figure a JSON array of objects with an ISO 8601 interval and a value */
    DB_LAYOUT_CSV      /* a header line, then lines */
};

enum { DB_SOURCE_WAYS = 4, DB_SOURCE_WORDS = 8 };

/* One place where a figure's values stand. */
struct db_source_way {
    const char *pointer; /* JSON Pointer (RFC 6901), or a CSV column's name */
    double hours;        /* how long a value holds; 0: a moment, or as long as the answer says */
    bool before;         /* it ends at its time instead of beginning there */
    bool itself;         /* it is the temperature itself (a place named for low and high both), no extreme of a span */
};

struct db_source_figure {
    struct db_source_way ways[DB_SOURCE_WAYS]; /* an earlier one wins where they overlap */
    size_t count;                              /* 0: the source does not tell this figure */
    const char *unit_pointer;                  /* where the answer says its unit; NULL: */
    double factor, offset;                     /* degC, mm, m/s = value * factor + offset */
};

struct db_source {
    const char *id, *title;
    const char *url;   /* with {latitude} {longitude} {zone} {altitude} */
    const char *find;  /* asked first; its answer holds the url proper at ... NULL: not needed */
    const char *found; /* ... this pointer */
    int decimals;      /* that coordinates are cut to: 0..4 */
    enum db_layout shape;
    const char *records; /* records: the array */
    const char *time;    /* array of times, a record's time, a series' interval, a CSV column */
    const char *value;   /* series */
    struct db_source_figure figures[DB_FIGURE_COUNT];
    const char *issued;               /* pointer to when it was made; NULL: not said */
    const char *latitude, *longitude; /* pointers to the place of the answer; NULL: not said */
    double missing[DB_SOURCE_WORDS];  /* numbers that mean: not known */
    size_t missing_count;
    const char *headers[DB_SOURCE_WORDS + 1]; /* "Name: value", NULL-terminated */
    int32_t least;                            /* minutes between askings at least */
    const char *attribution, *licence;        /* to be shown; NULL: none wanted */
    struct db_place at;
};

/* The source `id`: of the gardener's own files (`own`: a folder or file, NULL: none), else of the shipped ones
 * (`shipped`/sources). asked: where its name was written. Everything lives in the arena. DB_OK, DB_MISTAKEN (see the
 * list), DB_FULL. */
DB_MUST_USE enum db_status db_source_read(const char *id, struct db_place asked, const char *shipped, const char *own,
                                          struct db_arena *arena, struct db_mistakes *mistakes,
                                          const struct db_source **ret);

struct db_field;
/* The keys of a description (fields.h), for the documents' test. */
const struct db_field *db_source_fields(size_t *ret_count);

struct db_load;
/* The same as a part of reading a plan (load.h): the files are among the plan's. */
DB_MUST_USE enum db_status db_source_load(struct db_load *load, const char *id, struct db_place asked,
                                          const char *shipped, const char *own, const struct db_source **ret);

/* An address with the place written into it, coordinates cut to the source's decimals (cut, not rounded: a garden's exact
 * spot is nobody's business). which: source->url or source->find. NULL when the arena is full. */
const char *db_source_address(const struct db_source *source, const char *which, const struct db_site *site,
                              struct db_arena *arena);

/* For whom an answer is read. */
struct db_asker {
    const struct db_site *site;
    const char *name;     /* of the answer, for messages: a file or an address */
    int64_t fetched, now; /* unix seconds */
};

struct db_answer {
    struct db_told told;
    bool part_of_today; /* what it says of today is of the hours that are left */
};

/* Reads an answer. Days lie between 3 days before `now` and 20 after it, in the garden's zone. A day that cannot be true
 * is left out with an advice in the list. A NUL follows the body. DB_OK; DB_MISTAKEN: nothing of it can be used, the list says why; DB_FULL. */
DB_MUST_USE enum db_status db_forecast_read(const struct db_source *source, const struct db_asker *asker,
                                            const char *body, size_t length, struct db_arena *arena,
                                            struct db_mistakes *mistakes, struct db_answer *ret);

/* The address that the answer to `find` names. DB_MISTAKEN as above. */
DB_MUST_USE enum db_status db_forecast_found(const struct db_source *source, const char *name, const char *body,
                                             size_t length, struct db_arena *arena, struct db_mistakes *mistakes,
                                             const char **ret_url);

#endif
