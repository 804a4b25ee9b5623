#define DB_PURE
#include "dewbell/units.h"

#include "base/text.h"
#include "dewbell/date.h"

#include <math.h>
#include <stdint.h>
#include <string.h>

#include "base/banned.h"

#define MONTH_DAYS 30.44

#define DEGREE "\xC2\xB0"
#define SQUARED "\xC2\xB2"
#define MINUS "\xE2\x88\x92"

/* Gallon and pint are imperial (Weights and Measures Act 1985); inch, foot, yard, mile and pound by the agreement of 1959. */
static const struct db_unit units[] = {
    { "mm", DB_KIND_LENGTH, 1, 0 },
    { "cm", DB_KIND_LENGTH, 10, 0 },
    { "m", DB_KIND_LENGTH, 1000, 0 },
    { "km", DB_KIND_LENGTH, 1e6, 0 },
    { "inch", DB_KIND_LENGTH, 25.4, 0 },
    { "inches", DB_KIND_LENGTH, 25.4, 0 },
    { "in", DB_KIND_LENGTH, 25.4, 0 },
    { "ft", DB_KIND_LENGTH, 304.8, 0 },
    { "foot", DB_KIND_LENGTH, 304.8, 0 },
    { "feet", DB_KIND_LENGTH, 304.8, 0 },
    { "yd", DB_KIND_LENGTH, 914.4, 0 },
    { "yard", DB_KIND_LENGTH, 914.4, 0 },
    { "yards", DB_KIND_LENGTH, 914.4, 0 },
    { "m2", DB_KIND_AREA, 1, 0 },
    { "m" SQUARED, DB_KIND_AREA, 1, 0 },
    { "sq ft", DB_KIND_AREA, 0.09290304, 0 },
    { "l", DB_KIND_VOLUME, 1, 0 },
    { "L", DB_KIND_VOLUME, 1, 0 },
    { "litre", DB_KIND_VOLUME, 1, 0 },
    { "litres", DB_KIND_VOLUME, 1, 0 },
    { "ml", DB_KIND_VOLUME, 0.001, 0 },
    { "pint", DB_KIND_VOLUME, 0.56826125, 0 },
    { "pints", DB_KIND_VOLUME, 0.56826125, 0 },
    { "gallon", DB_KIND_VOLUME, 4.54609, 0 },
    { "gallons", DB_KIND_VOLUME, 4.54609, 0 },
    { "g", DB_KIND_WEIGHT, 1, 0 },
    { "kg", DB_KIND_WEIGHT, 1000, 0 },
    { "oz", DB_KIND_WEIGHT, 453.59237 / 16, 0 },
    { "lb", DB_KIND_WEIGHT, 453.59237, 0 },
    { "lbs", DB_KIND_WEIGHT, 453.59237, 0 },
    { DEGREE "C", DB_KIND_TEMPERATURE, 1, 0 },
    { "degC", DB_KIND_TEMPERATURE, 1, 0 },
    { "deg C", DB_KIND_TEMPERATURE, 1, 0 },
    { "C", DB_KIND_TEMPERATURE, 1, 0 },
    { DEGREE "F", DB_KIND_TEMPERATURE, 5.0 / 9, -160.0 / 9 },
    { "degF", DB_KIND_TEMPERATURE, 5.0 / 9, -160.0 / 9 },
    { "deg F", DB_KIND_TEMPERATURE, 5.0 / 9, -160.0 / 9 },
    { "F", DB_KIND_TEMPERATURE, 5.0 / 9, -160.0 / 9 },
    { "K", DB_KIND_WARMTH, 1, 0 },
    { "min", DB_KIND_TIME, 1.0 / 1440, 0 },
    { "minute", DB_KIND_TIME, 1.0 / 1440, 0 },
    { "minutes", DB_KIND_TIME, 1.0 / 1440, 0 },
    { "h", DB_KIND_TIME, 1.0 / 24, 0 },
    { "hour", DB_KIND_TIME, 1.0 / 24, 0 },
    { "hours", DB_KIND_TIME, 1.0 / 24, 0 },
    { "d", DB_KIND_TIME, 1, 0 },
    { "day", DB_KIND_TIME, 1, 0 },
    { "days", DB_KIND_TIME, 1, 0 },
    { "week", DB_KIND_TIME, 7, 0 },
    { "weeks", DB_KIND_TIME, 7, 0 },
    { "month", DB_KIND_TIME, MONTH_DAYS, 0 },
    { "months", DB_KIND_TIME, MONTH_DAYS, 0 },
    { "year", DB_KIND_TIME, 365.25, 0 },
    { "years", DB_KIND_TIME, 365.25, 0 },
    { "K d", DB_KIND_THERMAL, 1, 0 },
    { DEGREE "C d", DB_KIND_THERMAL, 1, 0 },
    { "degC d", DB_KIND_THERMAL, 1, 0 },
    { DEGREE "F d", DB_KIND_THERMAL, 5.0 / 9, 0 },
    { "degF d", DB_KIND_THERMAL, 5.0 / 9, 0 },
    { "F d", DB_KIND_THERMAL, 5.0 / 9, 0 },
    { "m/s", DB_KIND_SPEED, 1, 0 },
    { "km/h", DB_KIND_SPEED, 1 / 3.6, 0 },
    { "mph", DB_KIND_SPEED, 0.44704, 0 },
    { "knots", DB_KIND_SPEED, 1852.0 / 3600, 0 },
    { "%", DB_KIND_NUMBER, 0.01, 0 },
};

static bool joins(char c) /* a unit may not run on into one of these: "mm2", "minty", "m" and a superscript three */
{
    return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9') || c == '_' ||
           (unsigned char) c >= 0x80;
}

const struct db_unit *db_unit_find(const char *text, size_t length, size_t *ret_used)
{
    const struct db_unit *found = NULL;
    size_t longest = 0;

    for (size_t i = 0; i < sizeof units / sizeof units[0]; i++) {
        size_t size = strlen(units[i].name);

        if (size <= longest || size > length || memcmp(text, units[i].name, size) != 0)
            continue;
        if (size < length && joins(text[size]) && units[i].name[0] != '%')
            continue;
        found = &units[i];
        longest = size;
    }
    if (found && ret_used)
        *ret_used = longest;
    return found;
}

const struct db_unit *db_unit_at(size_t index)
{
    return index < sizeof units / sizeof units[0] ? &units[index] : NULL;
}

/* digits * 10^exponent. Within 15 digits and 22 places one exact operation does it; beyond, the value is carried with its
 * remainder, twice as finely as a double, so that every machine reads the same figure. */
static double decimal(uint64_t digits, int exponent)
{
    static const double powers[] = { 1,    1e1,  1e2,  1e3,  1e4,  1e5,  1e6,  1e7,  1e8,  1e9,  1e10, 1e11,
                                     1e12, 1e13, 1e14, 1e15, 1e16, 1e17, 1e18, 1e19, 1e20, 1e21, 1e22 };
    double value = (double) digits;
    double rest =
        digits >= (uint64_t) value ? (double) (digits - (uint64_t) value) : -(double) ((uint64_t) value - digits);

    for (int left = exponent < 0 ? -exponent : exponent; left && value > 0 && isfinite(value);) {
        int step = left > 22 ? 22 : left;
        double power = powers[step], next;

        if (exponent < 0) {
            next = value / power;
            rest = (fma(-next, power, value) + rest) / power;
        } else {
            next = value * power;
            rest = fma(value, power, -next) + rest * power;
        }
        value = next + rest;
        rest -= value - next;
        left -= step;
    }
    return value;
}

enum db_status db_number_read(const char *text, size_t length, double *ret_value, size_t *ret_used)
{
    size_t at = 0, first;
    bool minus = false;
    uint64_t digits = 0;
    int exponent = 0;

    *ret_used = 0;
    if (length >= 3 && memcmp(text, MINUS, 3) == 0) {
        minus = true;
        at = 3;
    } else if (length && (text[0] == '-' || text[0] == '+'))
        minus = text[at++] == '-';
    first = at;
    for (bool fraction = false; at < length; at++) {
        if (text[at] == '.' && !fraction && at > first && at + 1 < length && text[at + 1] >= '0' &&
            text[at + 1] <= '9') {
            fraction = true;
            continue;
        }
        if (text[at] < '0' || text[at] > '9')
            break;
        if (digits < 1000000000000000000) { /* the nineteenth digit is far below what a double holds */
            digits = digits * 10 + (uint64_t) (text[at] - '0');
            exponent -= fraction;
        } else
            exponent += !fraction;
    }
    if (at == first)
        return DB_RANGE;
    if (at < length && (text[at] == 'e' || text[at] == 'E')) {
        size_t e = at + 1;
        bool down = e < length && text[e] == '-';
        int power = 0;

        e += e < length && (text[e] == '-' || text[e] == '+');
        for (; e < length && text[e] >= '0' && text[e] <= '9'; at = ++e) {
            if (power < 10000)
                power = power * 10 + (text[e] - '0');
        }
        exponent += down ? -power : power;
    }
    double value = decimal(digits, exponent);
    if (!isfinite(value))
        return DB_RANGE;
    *ret_value = minus ? -value : value;
    *ret_used = at;
    return DB_OK;
}

const char *db_kind_text(enum db_kind kind)
{
    switch (kind) {
    case DB_KIND_NUMBER:
        return "a number";
    case DB_KIND_LENGTH:
        return "a length";
    case DB_KIND_AREA:
        return "an area";
    case DB_KIND_VOLUME:
        return "a volume";
    case DB_KIND_WEIGHT:
        return "a weight";
    case DB_KIND_TEMPERATURE:
        return "a temperature";
    case DB_KIND_WARMTH:
        return "a difference of temperatures";
    case DB_KIND_TIME:
        return "a length of time";
    case DB_KIND_THERMAL:
        return "a sum of degree-days";
    case DB_KIND_SPEED:
        return "a speed";
    case DB_KIND_DATE:
        return "a date";
    case DB_KIND_TRUTH:
        return "yes or no";
    case DB_KIND_WORD:
        return "a word";
    }
    return "an amount";
}

static void put(struct db_text *text, double value, int decimals, const char *unit)
{
    db_text_add_number(text, value, decimals);
    db_text_add(text, unit);
}

static bool near_whole(double value)
{
    return fabs(value - round(value)) < 1e-6 * fmax(1, fabs(value));
}

static void put_length(struct db_text *text, double mm, bool imperial)
{
    double size = fabs(mm), inches = mm / 25.4;

    if (imperial) {
        if (fabs(inches) < 0.995)
            put(text, inches, 2, " inch");
        else if (fabs(inches) < 11.875) {
            /* as a gardener lays a rule: quarters, from 3 inches halves, from 6 whole ones */
            const double steps = fabs(inches) < 2.75 ? 4 : fabs(inches) < 5.75 ? 2 : 1;

            inches = round(inches * steps) / steps;
            put(text, inches, 2, fabs(inches) == 1 ? " inch" : " inches");
        } else if (fabs(inches) < 36)
            put(text, inches, 0, " inches");
        else
            put(text, inches / 12, fabs(inches) < 1200 ? 1 : 0, " ft");
    } else if (size < 9.95)
        put(text, mm, 1, " mm");
    else if (size < 99.5) {
        mm = round(mm);
        if (fabs(mm) >= 30 && fmod(mm, 10) == 0)
            put(text, mm / 10, 0, " cm");
        else
            put(text, mm, 0, " mm");
    } else if (size < 997.5)
        put(text, round(mm / 5) / 2, 1, " cm");
    else
        put(text, mm / 1000, size < 100000 ? 2 : 0, " m");
}

static void put_volume(struct db_text *text, double litres, bool imperial)
{
    double gallons = litres / 4.54609;

    if (imperial && fabs(gallons) < 0.995)
        put(text, gallons * 8, 1, fabs(gallons * 8 - 1) < 0.05 ? " pint" : " pints");
    else if (imperial)
        put(text, gallons, fabs(gallons) < 99.5 ? 1 : 0, fabs(gallons - 1) < 0.05 ? " gallon" : " gallons");
    else if (fabs(litres) < 0.9995)
        put(text, litres * 1000, 0, " ml");
    else
        put(text, litres, fabs(litres) < 9.95 ? 1 : 0, fabs(litres - 1) < 0.05 ? " litre" : " litres");
}

/* Seed is weighed in tenths of a gram at best, a harvest in pounds. */
static void put_weight(struct db_text *text, double grams, bool imperial)
{
    const double ounces = grams / (453.59237 / 16);

    if (imperial && fabs(ounces) < 15.95)
        put(text, ounces, fabs(ounces) < 0.0995 ? 3 : fabs(ounces) < 0.995 ? 2 : 1, " oz");
    else if (imperial)
        put(text, ounces / 16, fabs(ounces) < 1600 ? 1 : 0, " lb");
    else if (fabs(grams) < 999.5)
        put(text, grams, fabs(grams) < 0.0995 ? 2 : fabs(grams) < 9.95 ? 1 : 0, " g");
    else
        put(text, grams / 1000, fabs(grams) < 99500 ? 1 : 0, " kg");
}

static void put_time(struct db_text *text, double days)
{
    double minutes = round(fabs(days) * 1440);

    if (minutes >= 1440) {
        if (near_whole(days / 365.25) && fabs(days) > 365)
            put(text, days / 365.25, 0, fabs(days) < 366 ? " year" : " years");
        else if (near_whole(days / 7) && fabs(days) > 13.5)
            put(text, days / 7, 0, " weeks");
        else if (fabs(days) > 59 &&
                 fabs(days / MONTH_DAYS - round(days / MONTH_DAYS)) < 1e-9) /* days that were written in months */
            put(text, days / MONTH_DAYS, 0, " months");
        else
            put(text, days, fabs(days) < 99.5 ? 1 : 0, fabs(fabs(days) - 1) < 0.05 ? " day" : " days");
        return;
    }
    if (minutes == 0) {
        db_text_add(text, "0 min");
        return;
    }
    if (days < 0)
        db_text_add(text, "-");
    if (minutes >= 60)
        put(text, floor(minutes / 60), 0, " h");
    if (minutes >= 60 && fmod(minutes, 60) > 0)
        db_text_add(text, " ");
    if (fmod(minutes, 60) > 0)
        put(text, fmod(minutes, 60), 0, " min");
}

static void put_date(struct db_text *text, double value)
{
    int year, month, day;

    if (!(fabs(value) < INT32_MAX)) {
        db_text_add(text, "no date");
        return;
    }
    db_date_parts((struct db_date){ (int32_t) value }, &year, &month, &day);
    db_text_add_int(text, day);
    db_text_add(text, " ");
    db_text_add(text, db_date_month_name(month, false));
    db_text_add(text, " ");
    db_text_add_int(text, year);
}

size_t db_amount_text(struct db_amount amount, bool imperial, char *buffer, size_t size)
{
    struct db_text text;
    double value = amount.value;

    if (!size)
        return 0;
    text = db_text_in(buffer, size);
    if (!isfinite(value)) {
        db_text_add(&text, "unknown");
        return text.length;
    }
    switch (amount.kind) {
    case DB_KIND_NUMBER:
        put(&text, value, fabs(value) < 999.5 ? 2 : 0, "");
        break;
    case DB_KIND_LENGTH:
        put_length(&text, value, imperial);
        break;
    case DB_KIND_AREA:
        if (imperial)
            put(&text, value / 0.09290304, fabs(value) < 1 ? 1 : 0, " sq ft");
        else
            put(&text, value, fabs(value) < 10 ? 2 : 1, " m" SQUARED);
        break;
    case DB_KIND_VOLUME:
        put_volume(&text, value, imperial);
        break;
    case DB_KIND_WEIGHT:
        put_weight(&text, value, imperial);
        break;
    case DB_KIND_TEMPERATURE:
        if (imperial)
            put(&text, value * 1.8 + 32, 0, " " DEGREE "F");
        else
            put(&text, value, 1, " " DEGREE "C");
        break;
    case DB_KIND_WARMTH:
        put(&text, value, 1, " K");
        break;
    case DB_KIND_TIME:
        put_time(&text, value);
        break;
    case DB_KIND_THERMAL:
        if (imperial)
            put(&text, value * 1.8, 0, " " DEGREE "F d");
        else
            put(&text, value, fabs(value) < 10 ? 1 : 0, " K d");
        break;
    case DB_KIND_SPEED:
        if (imperial)
            put(&text, value / 0.44704, 0, " mph");
        else
            put(&text, value, 1, " m/s");
        break;
    case DB_KIND_DATE:
        put_date(&text, value);
        break;
    case DB_KIND_TRUTH:
        db_text_add(&text, value != 0 ? "yes" : "no");
        break;
    case DB_KIND_WORD:
        db_text_add(&text, "a word");
        break;
    }
    return text.length;
}

size_t db_water_text(double mm, bool imperial, char *buffer, size_t size)
{
    struct db_text text;

    if (imperial || !size || !isfinite(mm))
        return db_amount_text((struct db_amount){ mm, DB_KIND_LENGTH }, imperial, buffer, size);
    text = db_text_in(buffer, size);
    put(&text, mm, fabs(mm) < 9.95 ? 1 : 0, " mm");
    return text.length;
}
