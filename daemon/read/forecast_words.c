/* Times, units and numbers as weather services write them. */
#include "read/forecast.h"

#include "base/text.h"

#include <libical/ical.h>

#include <math.h>
#include <string.h>
#include <time.h>

#include "base/banned.h"

enum { HOUR = 3600, DAY = 24 * HOUR };

/* Spellings that gardeners have no use for. Kelvin here is a point on the scale. A kilogram of rain on a square metre is
 * a millimetre. */
static const struct {
    const char *name;
    enum db_kind kind;
    double factor, offset;
} spellings[] = {
    { "celsius", DB_KIND_TEMPERATURE, 1, 0 },  { "fahrenheit", DB_KIND_TEMPERATURE, 5.0 / 9, -160.0 / 9 },
    { "K", DB_KIND_TEMPERATURE, 1, -273.15 },  { "kelvin", DB_KIND_TEMPERATURE, 1, -273.15 },
    { "millimeter", DB_KIND_LENGTH, 1, 0 },    { "millimetre", DB_KIND_LENGTH, 1, 0 },
    { "kg/m2", DB_KIND_LENGTH, 1, 0 },         { "kg/m^2", DB_KIND_LENGTH, 1, 0 },
    { "kg m-2", DB_KIND_LENGTH, 1, 0 },        { "kg_m-2", DB_KIND_LENGTH, 1, 0 },
    { "l/m2", DB_KIND_LENGTH, 1, 0 },          { "[in_i]", DB_KIND_LENGTH, 25.4, 0 },
    { "km_h-1", DB_KIND_SPEED, 1 / 3.6, 0 },   { "kmh", DB_KIND_SPEED, 1 / 3.6, 0 },
    { "kph", DB_KIND_SPEED, 1 / 3.6, 0 },      { "m_s-1", DB_KIND_SPEED, 1, 0 },
    { "m s-1", DB_KIND_SPEED, 1, 0 },          { "ms", DB_KIND_SPEED, 1, 0 },
    { "mp/h", DB_KIND_SPEED, 0.44704, 0 },     { "kn", DB_KIND_SPEED, 1852.0 / 3600, 0 },
    { "kt", DB_KIND_SPEED, 1852.0 / 3600, 0 },
};

bool db_forecast_unit(const char *text, size_t length, enum db_kind kind, double *ret_factor, double *ret_offset)
{
    const char *colon = memchr(text, ':', length); /* "wmoUnit:degC": the list that the unit is from */
    size_t used = 0;

    if (colon) {
        length -= (size_t) (colon + 1 - text);
        text = colon + 1;
    }
    for (size_t i = 0; i < sizeof spellings / sizeof spellings[0]; i++)
        if (spellings[i].kind == kind && db_text_is(text, length, spellings[i].name)) {
            *ret_factor = spellings[i].factor;
            *ret_offset = spellings[i].offset;
            return true;
        }
    const struct db_unit *unit = db_unit_find(text, length, &used);

    if (!unit || used != length || unit->kind != kind)
        return false;
    *ret_factor = unit->factor;
    *ret_offset = unit->offset;
    return true;
}

enum db_kind db_figure_kind(enum db_figure figure)
{
    return figure == DB_FIGURE_RAIN ? DB_KIND_LENGTH : figure == DB_FIGURE_WIND ? DB_KIND_SPEED : DB_KIND_TEMPERATURE;
}

const char *db_figure_word(enum db_figure figure)
{
    static const char *const words[DB_FIGURE_COUNT] = { "low", "high", "rain", "wind" };

    return words[figure];
}

int db_forecast_number(const char *text, size_t length, double *ret)
{
    static const char *const unknown[] = { "", "nan", "null", "none", "na", "n/a", "-", "--", "missing", "unknown" };
    char word[16];
    size_t used;

    if (db_number_read(text, length, ret, &used) == DB_OK && used == length)
        return 1;
    if (length >= sizeof word)
        return 0;
    memcpy(word, text, length);
    word[length] = '\0';
    for (size_t i = 0; i < sizeof unknown / sizeof unknown[0]; i++)
        if (db_text_same(word, unknown[i])) {
            *ret = (double) NAN;
            return 1;
        }
    return 0;
}

/* "T06:00", "T06:00:30.5" and the offset after it: Z, +01:00, -0530 or none. ret_seconds: after midnight. */
static const char *clock_part(const char *text, int32_t *ret_seconds, bool *ret_zoned, int32_t *ret_offset)
{
    struct tm parts = { 0 };
    const char *at = strptime(text + 1, "%H:%M", &parts);

    if (!at || at != text + 6) /* two digits each */
        return NULL;
    if (*at == ':') {
        const char *start = at;

        at = strptime(at, ":%S", &parts);
        if (!at || at != start + 3)
            return NULL;
        if (*at == '.' || *at == ',')
            at += 1 + strspn(at + 1, "0123456789");
    }
    *ret_seconds = parts.tm_hour * HOUR + parts.tm_min * 60 + parts.tm_sec;
    *ret_zoned = *at == 'Z' || *at == '+' || *at == '-';
    *ret_offset = 0;
    if (*ret_zoned) {
        struct tm zone = { 0 };

        at = strptime(at, "%z", &zone);
        *ret_offset = (int32_t) zone.tm_gmtoff;
    }
    return at;
}

/* The moment of a local reading; of a reading that comes twice the second, if the first does not come after `last`. */
static int64_t local_moment(const struct db_zone *zone, struct db_date date, int32_t seconds, int64_t last)
{
    const int64_t first = db_zone_moment(zone, date, seconds / 60) + seconds % 60;
    const int64_t again = first + HOUR;
    const bool twice = again + db_zone_offset(zone, again) == first + db_zone_offset(zone, first);

    return twice && first <= last ? again : first;
}

bool db_stamp_read(const char *text, const struct db_zone *zone, int64_t last, struct db_stamp *ret)
{
    struct db_date date;
    struct db_stamp stamp = { 0 };
    int32_t seconds, offset;
    bool zoned;
    const char *at = text;

    if (strlen(text) < 10 || text[4] != '-' || db_date_read(text, 10, &date) != DB_OK)
        return false;
    at += 10;
    if (!*at) {
        stamp.from = db_zone_day_start(zone, date);
        stamp.to = db_zone_day_start(zone, db_date_add(date, 1));
        stamp.whole_day = true;
        *ret = stamp;
        return true;
    }
    if (*at != 'T' && *at != ' ')
        return false;
    at = clock_part(at, &seconds, &zoned, &offset);
    if (!at)
        return false;
    stamp.from = zoned ? (int64_t) date.day * DAY + seconds - offset : local_moment(zone, date, seconds, last);
    stamp.to = stamp.from;
    if (*at == '/') {
        const struct icaldurationtype length = icaldurationtype_from_string(at + 1);
        const int span = icaldurationtype_is_bad_duration(length) ? 0 : icaldurationtype_as_int(length);

        if (span <= 0 || span > 31 * DAY)
            return false;
        stamp.to += span;
    } else if (*at) {
        return false;
    }
    *ret = stamp;
    return true;
}
