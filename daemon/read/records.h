/* Weather that was read from files, not yet laid out for a day. */
#ifndef DB_READ_RECORDS_H
#define DB_READ_RECORDS_H

#include "dewbell/mistake.h"
#include "dewbell/weather.h"

/* Days without gaps in the count; NaN where the file says nothing. */
struct db_days {
    struct db_date first;
    size_t count; /* 0: no such file */
    double *figures[DB_FIGURE_COUNT];
};

struct db_records {
    struct db_days observed, forecast, past;
    const char *observed_name; /* of its file, as the plan has it; NULL: none */
    bool past_is_observed;     /* the past years are the same file */
    int32_t ahead;             /* record_ahead, days */
    bool climate;              /* normals were given */
    struct db_normal normals[12];
    struct db_place at; /* where the weather is asked for */
};

/* The figure of a day, NaN where there is none. */
double db_days_figure(const struct db_days *days, struct db_date date, enum db_figure figure);

#endif
