/* Amounts with their kind. Inside, every amount is held in one unit per kind; units exist only where the gardener
 * writes and reads. Metric and imperial are both first-class. */
#ifndef DEWBELL_UNITS_H
#define DEWBELL_UNITS_H

#include "dewbell/status.h"

#include <stdbool.h>
#include <stddef.h>

#ifdef __cplusplus
extern "C" {
#endif

enum db_kind {
    DB_KIND_NUMBER,      /* a bare count or factor; per cent is a number / 100 */
    DB_KIND_LENGTH,      /* mm (spacing, depth and rain alike: 1 mm of rain is 1 l on 1 m2) */
    DB_KIND_AREA,        /* m2 */
    DB_KIND_VOLUME,      /* litre */
    DB_KIND_WEIGHT,      /* g */
    DB_KIND_TEMPERATURE, /* degC, a point on the scale */
    DB_KIND_WARMTH,      /* K, a difference of temperatures */
    DB_KIND_TIME,        /* days (an hour is 1/24, a minute 1/1440) */
    DB_KIND_THERMAL,     /* K d: degree-days, thermal time */
    DB_KIND_SPEED,       /* m/s */
    DB_KIND_DATE,        /* struct db_date's day */
    DB_KIND_TRUTH,       /* 0 or 1 */
    DB_KIND_WORD         /* text */
};

struct db_amount {
    double value;
    enum db_kind kind;
};

/* One spelling of one unit. value in the kind's own unit = written * factor + offset (offset only for degF). */
struct db_unit {
    const char *name; /* "mm", "inch", "degrees C", "weeks" ... as written, UTF-8 */
    enum db_kind kind;
    double factor, offset;
};

/* The unit whose spelling is the longest one that `text` begins with (a letter may not follow it), or NULL.
 * ret_used: bytes taken. Spellings: mm cm m km, inch inches in ft foot feet yd yard yards; m2 (also m with superscript
 * two), sq ft; l L litre litres ml, pint pints gallon gallons (imperial gallon: 4.54609 l); g kg oz lb lbs; "degC" written
 * with the degree sign and C or "deg C" or C, the same with F; K; min minute minutes h hour hours day days d week weeks
 * month months (30.44 d) year years (365.25 d); "K d" and degree sign + "C d" / "degC d" (also "F d", 5/9); m/s km/h mph knots; %. */
const struct db_unit *db_unit_find(const char *text, size_t length, size_t *ret_used);

/* Walks all spellings (for suggestions and docs): index from 0, NULL at the end. */
const struct db_unit *db_unit_at(size_t index);

/* A decimal number at the start of text: optional sign (the true minus, U+2212, too), digits, optional point and digits,
 * optional exponent; the locale never matters; no NaN, no infinity, no hexadecimal. ret_used: bytes taken; 0 with
 * DB_RANGE if there is none. */
DB_MUST_USE enum db_status db_number_read(const char *text, size_t length, double *ret_value, size_t *ret_used);

/* "the kind's name" for messages: "a length", "a temperature", "a number of days" ... */
const char *db_kind_text(enum db_kind kind);

/* Writes an amount as a gardener would: "10 mm", "5 cm", "1.2 m", "27 degC" (degree sign), "12 days", "5 weeks",
 * "4 years", "10 min", "14 h 30 min", "0.3 g"; `imperial` turns lengths into inches/feet, temperatures into degF, litres into
 * gallons, grams into ounces.
 * Rounded to what a gardener can use (lengths under 10 cm to 1 mm, temperatures to 0.1 if not whole ...).
 * Always NUL-terminated within size; returns the bytes written without the NUL. */
size_t db_amount_text(struct db_amount amount, bool imperial, char *buffer, size_t size);

/* The same for a depth of rain or of water in the ground: in mm however much it is, as rain is measured. */
size_t db_water_text(double mm, bool imperial, char *buffer, size_t size);

#ifdef __cplusplus
}
#endif
#endif
