/* Weather and what it is held against, in sentences. */
#define DB_PURE
#include "rules/say.h"

#include "base/text.h"
#include "rules/template.h"

#include <math.h>
#include <string.h>

#include "base/banned.h"

static bool imperial(const struct db_scope *scope)
{
    return db_garden_site(scope->view->garden)->imperial;
}

static void say_amount(struct db_text *to, const struct db_scope *scope, struct db_amount amount)
{
    char buffer[64];

    if (amount.kind == DB_KIND_LENGTH) /* of the weather only rain is one */
        (void) db_water_text(amount.value, imperial(scope), buffer, sizeof buffer);
    else
        (void) db_amount_text(amount, imperial(scope), buffer, sizeof buffer);
    db_text_add(to, buffer);
}

static void say_day(struct db_text *to, const struct db_scope *scope, int32_t day)
{
    db_text_add_day(to, (struct db_date){ day }, scope->view->today);
}

void db_say_days(struct db_text *to, const struct db_scope *scope, int32_t first, int32_t last)
{
    int first_month, last_month, first_year, last_year, day;

    if (first == last) {
        if (first == scope->view->today.day)
            db_text_add(to, "today");
        else {
            db_text_add(to, "on ");
            say_day(to, scope, first);
        }
        return;
    }
    db_date_parts((struct db_date){ first }, &first_year, &first_month, &day);
    db_date_parts((struct db_date){ last }, &last_year, &last_month, NULL);
    db_text_add(to, "between ");
    if (first_month == last_month && first_year == last_year)
        db_text_add_int(to, day);
    else
        say_day(to, scope, first);
    db_text_add(to, " and ");
    say_day(to, scope, last);
}

static enum db_origin weaker(enum db_origin a, enum db_origin b)
{
    return a < b ? a : b;
}

enum db_origin db_read_origin(const struct db_scope *scope, enum db_read read, int32_t day)
{
    const struct db_weather *weather = scope->view->weather;
    const struct db_date date = { day }, morrow = { day + 1 };

    if (!weather)
        return DB_ORIGIN_NONE;
    switch (read) {
    case DB_READ_LOW:
    case DB_READ_LOW_HERE:
        return db_weather_origin(weather, date, DB_FIGURE_LOW);
    case DB_READ_LOW_TONIGHT:
    case DB_READ_LOW_TONIGHT_HERE:
    case DB_READ_GROUND_TONIGHT:
    case DB_READ_LOW_TONIGHT_THERE:
        return db_weather_origin(weather, morrow, DB_FIGURE_LOW);
    case DB_READ_HIGH:
        return db_weather_origin(weather, date, DB_FIGURE_HIGH);
    case DB_READ_RAIN:
    case DB_READ_RAIN_HERE:
        return db_weather_origin(weather, date, DB_FIGURE_RAIN);
    case DB_READ_RAIN_TOMORROW:
        return db_weather_origin(weather, morrow, DB_FIGURE_RAIN);
    case DB_READ_DRY:
    case DB_READ_DRY_LIMIT:
    case DB_READ_WATER:
        return weaker(
            db_weather_origin(weather, date, DB_FIGURE_RAIN),
            weaker(db_weather_origin(weather, date, DB_FIGURE_LOW), db_weather_origin(weather, date, DB_FIGURE_HIGH)));
    case DB_READ_WIND:
        return db_weather_origin(weather, date, DB_FIGURE_WIND);
    case DB_READ_DAY_LENGTH:
        return DB_ORIGIN_NONE;
    default:
        return weaker(db_weather_origin(weather, date, DB_FIGURE_LOW),
                      db_weather_origin(weather, date, DB_FIGURE_HIGH));
    }
}

void db_say_origin(struct db_text *to, enum db_origin origin)
{
    if (origin == DB_ORIGIN_FORECAST)
        db_text_add(to, ", by the forecast");
    else if (origin == DB_ORIGIN_CLIMATE)
        db_text_add(to, ", by the climate's averages");
}

const char *db_say_figure(enum db_read read)
{
    static const char *const names[DB_READ_COUNT] = {
        [DB_READ_LOW] = "a low",
        [DB_READ_HIGH] = "a high",
        [DB_READ_MEAN] = "a mean",
        [DB_READ_RAIN] = "rain",
        [DB_READ_WIND] = "wind",
        [DB_READ_SOIL] = "soil",
        [DB_READ_SOIL_LOW] = "a soil low",
        [DB_READ_SOIL_HIGH] = "a soil high",
        [DB_READ_LOW_HERE] = "a low",
        [DB_READ_LOW_TONIGHT] = "a night's low",
        [DB_READ_LOW_TONIGHT_HERE] = "a night's low",
        [DB_READ_GROUND_TONIGHT] = "a night's low at the ground",
        [DB_READ_LOW_TONIGHT_THERE] = "a night's low",
        [DB_READ_DAY_LENGTH] = "daylight",
        [DB_READ_CHILL] = "cold",
        [DB_READ_ET0] = "evaporation",
        [DB_READ_RAIN_HERE] = "rain",
        [DB_READ_RAIN_TOMORROW] = "rain on the next day",
        [DB_READ_DRY] = "a loss",
        [DB_READ_DRY_LIMIT] = "a limit",
        [DB_READ_WATER] = "a need",
    };

    return names[read];
}

/* -- subjects ------------------------------------------------------------------------------------------------------ */

static bool is_tonight(enum db_read read)
{
    return read == DB_READ_LOW_TONIGHT || read == DB_READ_LOW_TONIGHT_HERE || read == DB_READ_GROUND_TONIGHT ||
           read == DB_READ_LOW_TONIGHT_THERE;
}

static bool is_soil(enum db_read read)
{
    return read == DB_READ_SOIL || read == DB_READ_SOIL_LOW || read == DB_READ_SOIL_HIGH;
}

/* ", under the fleece": a figure where the sowing stands and not in the weather report. */
static void say_cover(struct db_text *to, const struct db_scope *scope, const struct db_weather_read *what)
{
    static const char *const under[DB_COVER_COUNT] = {
        [DB_COVER_OPEN] = "",
        [DB_COVER_BOARD] = " under the board",
        [DB_COVER_FLEECE] = " under the fleece",
        [DB_COVER_FRAME] = " in the frame",
        [DB_COVER_TUNNEL] = " in the tunnel",
        [DB_COVER_INDOORS] = " indoors",
    };

    if (what->read == DB_READ_LOW_HERE || what->read == DB_READ_LOW_TONIGHT_HERE ||
        what->read == DB_READ_GROUND_TONIGHT || what->read == DB_READ_RAIN_HERE)
        db_text_add(to, under[db_scope_bed(scope, what->first)->cover]);
    else if (what->read == DB_READ_LOW_TONIGHT_THERE)
        db_text_add(to, under[db_garden_sowing(scope->view->garden, scope->sowing)->into->cover]);
}

/* "The lowest low under the fleece" */
static void say_subject(struct db_text *to, const struct db_scope *scope, const struct db_weather_read *what)
{
    static const char *const single[DB_READ_COUNT] = {
        [DB_READ_LOW] = "The low",
        [DB_READ_HIGH] = "The high",
        [DB_READ_MEAN] = "The mean temperature",
        [DB_READ_RAIN] = "Rain",
        [DB_READ_WIND] = "The wind",
        [DB_READ_LOW_HERE] = "The low",
        [DB_READ_DAY_LENGTH] = "The day's length",
        [DB_READ_CHILL] = "The cold that counts",
        [DB_READ_ET0] = "Evaporation from short grass",
        [DB_READ_RAIN_HERE] = "Rain",
        [DB_READ_RAIN_TOMORROW] = "Rain on the day after",
        [DB_READ_DRY] = "What the ground has lost",
        [DB_READ_DRY_LIMIT] = "What it may lose",
        [DB_READ_WATER] = "The water that it wants",
    };
    static const char *const bare[DB_READ_COUNT] = {
        [DB_READ_LOW] = "low",
        [DB_READ_HIGH] = "high",
        [DB_READ_MEAN] = "daily mean",
        [DB_READ_RAIN] = "rain",
        [DB_READ_WIND] = "wind",
        [DB_READ_LOW_HERE] = "low",
        [DB_READ_LOW_TONIGHT] = "night",
        [DB_READ_LOW_TONIGHT_HERE] = "night",
        [DB_READ_GROUND_TONIGHT] = "night at the ground",
        [DB_READ_LOW_TONIGHT_THERE] = "night",
        [DB_READ_DAY_LENGTH] = "day length",
        [DB_READ_CHILL] = "cold that counts",
        [DB_READ_ET0] = "evaporation",
        [DB_READ_RAIN_HERE] = "rain",
        [DB_READ_RAIN_TOMORROW] = "rain on the next day",
        [DB_READ_DRY] = "loss of the ground",
        [DB_READ_DRY_LIMIT] = "loss that it bears",
        [DB_READ_WATER] = "want of water",
    };
    const bool fallen = what->read == DB_READ_RAIN || what->read == DB_READ_RAIN_HERE || what->read == DB_READ_ET0;
    const bool strong = what->read == DB_READ_WIND || fallen;

    if (what->over == DB_OP_FIGURE || (what->over == DB_OP_SUM && fallen))
        db_text_add(to, single[what->read]);
    else if (what->over == DB_OP_LEAST)
        db_text_add_format(to, "The %s %s",
                           strong                   ? "least"
                           : is_tonight(what->read) ? "coldest"
                                                    : "lowest",
                           bare[what->read]);
    else if (what->over == DB_OP_MOST)
        db_text_add_format(to, "The %s %s",
                           strong                   ? "most"
                           : is_tonight(what->read) ? "mildest"
                                                    : "highest",
                           bare[what->read]);
    else
        db_text_add_format(to, "The %s %s", what->over == DB_OP_SUM ? "sum of the" : "average", bare[what->read]);
    say_cover(to, scope, what);
}

static void say_soil(struct db_text *to, const struct db_scope *scope, const struct db_weather_read *what)
{
    const bool sure = what->origin == DB_ORIGIN_OBSERVED, low = what->read == DB_READ_SOIL_LOW;
    const char *verb;

    if (what->over == DB_OP_AVERAGE || (what->over == DB_OP_FIGURE && what->read == DB_READ_SOIL))
        verb = sure ? "averaged" : "may average";
    else if (low || what->over == DB_OP_LEAST)
        verb = sure ? "fell to" : "may fall to";
    else
        verb = sure ? "reached" : "may reach";
    db_text_add(to, what->read == DB_READ_SOIL && what->over != DB_OP_AVERAGE && what->over != DB_OP_FIGURE
                        ? "The seed zone's daily mean "
                        : "The seed zone ");
    db_text_add_format(to, "%s ", verb);
    say_amount(to, scope, (struct db_amount){ what->value, what->kind });
    db_text_add(to, " ");
    db_say_days(to, scope, what->first, what->last);
    db_text_add(to, what->origin == DB_ORIGIN_OBSERVED   ? ", worked out from the weather observed"
                    : what->origin == DB_ORIGIN_FORECAST ? ", worked out from the forecast"
                    : what->origin == DB_ORIGIN_CLIMATE  ? ", worked out from the climate's averages"
                                                         : "");
}

/* "1.5 degrees". Returns whether it is one. */
static bool say_degrees(struct db_text *to, const struct db_scope *scope, double warmth)
{
    const double shown = imperial(scope) ? warmth * 1.8 : warmth;
    const bool one = fabs(shown - 1) < 0.05;

    db_text_add_number(to, shown, 1);
    db_text_add(to, one ? " degree" : " degrees");
    return one;
}

/* By how much a forecast figure was corrected, K: 0 for those that are none, or made of several. */
static double shift_of(const struct db_scope *scope, const struct db_weather_read *what)
{
    const bool high = what->read == DB_READ_HIGH, low = what->read == DB_READ_LOW || what->read == DB_READ_LOW_HERE;

    if (what->over != DB_OP_FIGURE || what->origin != DB_ORIGIN_FORECAST || !(high || low || is_tonight(what->read)))
        return 0;
    return db_weather_shift(scope->view->weather, (struct db_date){ what->first + (high || low ? 0 : 1) },
                            high ? DB_FIGURE_HIGH : DB_FIGURE_LOW);
}

/* ", with 1.5 degrees taken off the weather report": of a figure that a cover may have changed as well */
static void say_shift(struct db_text *to, const struct db_scope *scope, const struct db_weather_read *what)
{
    const double shift = shift_of(scope, what);

    if (!(fabs(shift) > 0) || what->read == DB_READ_GROUND_TONIGHT) /* whose report is told */
        return;
    db_text_add(to, ", with ");
    (void) say_degrees(to, scope, fabs(shift));
    db_text_add(to, shift < 0 ? " taken off the weather report" : " added to the weather report");
}

/* " (2 °C in the weather report, 1.5 degrees less here; grass freezes in 78 of 100 such nights)": what the figure of the
 * ground was made of. */
static void say_report(struct db_text *to, const struct db_scope *scope, const struct db_weather_read *what)
{
    const struct db_weather *weather = scope->view->weather;
    const int64_t at = weather ? (int64_t) what->first + 1 - db_weather_first(weather).day : -1;
    const double shift = weather ? shift_of(scope, what) : 0;
    double low, chance;

    if (what->read != DB_READ_GROUND_TONIGHT || what->over != DB_OP_FIGURE || what->origin != DB_ORIGIN_FORECAST ||
        at < 0 || at >= (int64_t) db_weather_days(weather))
        return;
    low = db_weather_figures(weather, 0, DB_FIGURE_LOW)[at];
    chance = db_frost_ground_chance(low);
    db_text_add(to, " (");
    say_amount(to, scope, (struct db_amount){ low - shift, DB_KIND_TEMPERATURE });
    db_text_add(to, " in the weather report");
    if (fabs(shift) > 0) {
        db_text_add(to, ", ");
        (void) say_degrees(to, scope, fabs(shift));
        db_text_add(to, shift < 0 ? " less here" : " more here");
    }
    if (!isnan(chance))
        db_text_add_format(to, "; grass freezes in %ld of 100 such nights", lround(100 * chance));
    db_text_add(to, ")");
}

void db_say_weather(struct db_text *to, const struct db_scope *scope, const struct db_weather_read *what)
{
    const bool adds_up = what->over == DB_OP_SUM;

    if (what->read == DB_READ_RAIN_TOMORROW && what->over == DB_OP_FIGURE) { /* is said of its own day */
        struct db_weather_read morrow = *what;

        morrow.read = DB_READ_RAIN_HERE;
        morrow.first = morrow.last = what->first + 1;
        db_say_weather(to, scope, &morrow);
        return;
    }
    if (is_soil(what->read)) {
        say_soil(to, scope, what);
        return;
    }
    if (what->read == DB_READ_DRY && what->over == DB_OP_FIGURE) {
        db_say_dry(to, scope, what->first);
        return;
    }
    if (is_tonight(what->read) && what->over == DB_OP_FIGURE) {
        const bool ground = what->read == DB_READ_GROUND_TONIGHT;

        if (what->first == scope->view->today.day)
            db_text_add(to, ground ? "Tonight's low at the ground" : "Tonight's low");
        else {
            db_text_add(to, ground ? "The low at the ground in the night after " : "The low of the night after ");
            say_day(to, scope, what->first);
        }
        say_cover(to, scope, what);
    } else {
        say_subject(to, scope, what);
        db_text_add(to, " ");
        db_say_days(to, scope, what->first, what->last);
    }
    switch (what->origin) {
    case DB_ORIGIN_OBSERVED:
        db_text_add(to, adds_up ? " came to " : " was observed at ");
        break;
    case DB_ORIGIN_FORECAST:
        db_text_add(to, " is forecast at ");
        break;
    case DB_ORIGIN_CLIMATE:
        db_text_add(to, adds_up ? " would come to " : " would be ");
        break;
    default:
        db_text_add(to, adds_up ? " comes to " : " is ");
        break;
    }
    say_amount(to, scope, (struct db_amount){ what->value, what->kind });
    say_report(to, scope, what);
    say_shift(to, scope, what);
    if (what->origin == DB_ORIGIN_CLIMATE)
        db_text_add(to, " by the climate's averages");
    else if (what->origin == DB_ORIGIN_OBSERVED && adds_up)
        db_text_add(to, ", as observed");
}

/* -- limits -------------------------------------------------------------------------------------------------------- */

void db_say_bound(struct db_text *to, const struct db_scope *scope, enum db_op op, struct db_amount limit)
{
    switch (op) {
    case DB_OP_BELOW:
        db_text_add(to, "less than ");
        break;
    case DB_OP_AT_MOST:
        db_text_add(to, "at most ");
        break;
    case DB_OP_ABOVE:
        db_text_add(to, "more than ");
        break;
    case DB_OP_AT_LEAST:
        db_text_add(to, "at least ");
        break;
    case DB_OP_UNEQUAL:
        db_text_add(to, "anything but ");
        break;
    default:
        db_text_add(to, "just ");
        break;
    }
    say_amount(to, scope, limit);
}

enum db_origin db_say_weakest(const struct db_scope *scope, enum db_read read, int32_t first, int32_t last)
{
    enum db_origin weakest = db_read_origin(scope, read, first);

    for (int32_t d = first + 1; d <= last; d++) {
        const enum db_origin origin = db_read_origin(scope, read, d);

        weakest = origin < weakest ? origin : weakest;
    }
    return weakest;
}

enum db_op db_say_flipped(enum db_op op)
{
    switch (op) {
    case DB_OP_BELOW:
        return DB_OP_ABOVE;
    case DB_OP_AT_MOST:
        return DB_OP_AT_LEAST;
    case DB_OP_ABOVE:
        return DB_OP_BELOW;
    case DB_OP_AT_LEAST:
        return DB_OP_AT_MOST;
    default:
        return op;
    }
}

void db_say_limit(struct db_text *to, const struct db_scope *scope, enum db_op op, struct db_amount limit, int fact,
                  bool against)
{
    const struct db_crop_facts *crop = db_garden_sowing(scope->view->garden, scope->sowing)->crop;
    const char *name = crop->text[DB_FACT_NAME],
               *names = crop->text[DB_FACT_PLURAL]; /* one or many, and "spinach" is both */
    double own;

    db_text_add(to, "; ");
    switch (fact) {
    case DB_FACT_HOT_LIMIT:
        db_text_add_format(to, "%s seed fails above ", name);
        break;
    case DB_FACT_FROST_LIMIT:
        db_text_add_format(to, "%s can be hurt from ", names);
        break;
    case DB_FACT_HARDEN_LOW:
        db_text_add_format(to, "while hardening off %s should have no night below ", names);
        break;
    case DB_FACT_DAY_LIMIT:
        db_text_add_format(to, "%s will run to seed when days are longer than ", names);
        break;
    default:
        db_text_add(to, against ? "the rule avoids " : "the rule asks for ");
        db_say_bound(to, scope, op, limit);
        return;
    }
    own = db_crop_middle(crop, (enum db_fact) fact);
    say_amount(to, scope, (struct db_amount){ own, db_fact_row((enum db_fact) fact)->kind });
    if (limit.kind != DB_KIND_TEMPERATURE || !(fabs(limit.value - own) > 0.05))
        return;

    /* Safe is below a limit of heat and above one of cold. */
    const bool more = limit.value > own, kept = more != (fact == DB_FACT_HOT_LIMIT);

    db_text_add(to, kept ? ", and " : ", and the rule allows ");
    const bool one = say_degrees(to, scope, fabs(limit.value - own));

    db_text_add(to, !kept ? (more ? " more" : " less") : one ? " is kept in hand" : " are kept in hand");
}
