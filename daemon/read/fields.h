/* One row a key: the reader of every section, its checks, the nearest name and the documents' test walk the same table. */
#ifndef DB_READ_FIELDS_H
#define DB_READ_FIELDS_H

#include "read/ini.h"
#include "read/value.h"

enum db_field_kind {
    DB_FIELD_TEXT,   /* any words */
    DB_FIELD_NAME,   /* a reference to something that has an id: checked by whoever knows the things */
    DB_FIELD_LIST,   /* parts between commas, taken apart by whoever knows them */
    DB_FIELD_WORD,   /* one of `words` */
    DB_FIELD_TRUTH,  /* yes or no */
    DB_FIELD_AMOUNT, /* one amount */
    DB_FIELD_RANGE,  /* an amount or A .. B */
    DB_FIELD_SIZE,   /* A x B */
    DB_FIELD_DATE,
    DB_FIELD_SEASON_DAY, /* a day of every year: `date` is in 2000 */
    DB_FIELD_KEY,        /* a UUID */
    DB_FIELD_ZONE        /* an IANA time zone that this machine knows */
};

struct db_field {
    const char *key;
    enum db_field_kind kind;
    struct db_measure measure;
    const char *const *words;
    const char *what; /* "a cover": for messages about words */
    bool needed;
    const char *help; /* one clause: what to write, or what it is */
};

/* What stands in a section for one row. */
struct db_value {
    bool given; /* the key is there */
    bool good;  /* and its value could be read; the members below hold then */
    struct db_span span;
    double low, high; /* amount (both), range, size (width, length) */
    struct db_date date;
    size_t word; /* index in `words` */
    bool yes;
};

/* Reads every key of the section: rows and values are `count` long, values are written whole. Unknown keys, keys that are
 * needed and missing, and values that cannot be read are mistakes. where: "[bed north]" in messages comes from the
 * section. */
void db_fields_read(const struct db_ini_section *section, const struct db_field *rows, size_t count,
                    struct db_value *values, struct db_reader to);

/* "latitude: degrees, ..." for messages about a key that is missing. */
const char *db_field_hint(const struct db_field *row, struct db_reader to);

/* One value by its row. */
void db_field_read(const struct db_field *row, struct db_span span, struct db_reader to, struct db_value *ret);

/* Where to report something about a row: its value, or the section's header when it is not given. */
struct db_place db_value_place(const struct db_value *value, const struct db_ini_section *section);

/* zone.c: checks an IANA name against the time zones of this machine. */
bool db_zone_check(struct db_span span, struct db_reader to);

#endif
