/* Values of checked nodes. Everything is a double, NaN where it is not known: a date its day, a truth 0 or 1. Truths
 * follow Kleene's three values: what is not known decides nothing unless the other side decides alone. */
#define DB_PURE
#include "rules/expr.h"

#include "base/limits.h"
#include "base/text.h"

#include <math.h>
#include <string.h>

#include "base/banned.h"

static const double unknown = (double) NAN;
enum { RAIN_TO_SPEAK_OF = 5 /* mm */, RAIN_SOON = 4 /* days */ };

const struct db_bed *db_scope_bed(const struct db_scope *scope, int32_t day)
{
    const struct db_sowing *sowing = db_garden_sowing(scope->view->garden, scope->sowing);

    return db_scope_place(scope, day) ? sowing->into : sowing->bed;
}

const struct db_wet_day *db_scope_wet(const struct db_scope *scope, int32_t day)
{
    const struct db_moisture *m = scope->moisture ? scope->moisture(scope->pump, scope->sowing) : NULL;
    const int64_t at = m ? (int64_t) day - m->first : -1;

    return at >= 0 && at < (int64_t) m->count ? &m->days[at] : NULL;
}

static const struct db_sowing *sowing_of(const struct db_scope *scope)
{
    return db_garden_sowing(scope->view->garden, scope->sowing);
}

static double date_value(struct db_date date)
{
    return db_date_known(date) ? (double) date.day : unknown;
}

static double sky(const struct db_scope *scope, int place, enum db_sky_figure figure, int32_t day)
{
    const double *figures = scope->sky[place][figure];
    const int64_t at = (int64_t) day - scope->first.day;

    return figures && at >= 0 && at < (int64_t) scope->days ? figures[at] : unknown;
}

static double chill(const struct db_scope *scope, double mean)
{
    const struct db_crop_facts *crop = sowing_of(scope)->crop;

    return db_chill_day(mean, crop->low[DB_FACT_CHILL_FROM], crop->low[DB_FACT_CHILL_BEST],
                        crop->low[DB_FACT_CHILL_TO]);
}

/* A roof keeps the sky out: only what lies in the open is colder than the air. */
static double ground_tonight(const struct db_scope *scope, int place, int32_t day)
{
    const enum db_cover cover = db_scope_bed(scope, day)->cover;
    const bool roof = cover == DB_COVER_FRAME || cover == DB_COVER_TUNNEL || cover == DB_COVER_INDOORS;

    return sky(scope, place, DB_SKY_LOW_HERE, day + 1) -
           (roof ? 0 : db_frost_ground(sky(scope, place, DB_SKY_WIND, day + 1)));
}

static double figure(const struct db_scope *scope, enum db_read read, int32_t day)
{
    static const enum db_sky_figure direct[DB_READ_COUNT] = {
        [DB_READ_LOW] = DB_SKY_LOW,
        [DB_READ_HIGH] = DB_SKY_HIGH,
        [DB_READ_RAIN] = DB_SKY_RAIN,
        [DB_READ_WIND] = DB_SKY_WIND,
        [DB_READ_SOIL] = DB_SKY_SOIL,
        [DB_READ_SOIL_LOW] = DB_SKY_SOIL_LOW,
        [DB_READ_SOIL_HIGH] = DB_SKY_SOIL_HIGH,
        [DB_READ_LOW_HERE] = DB_SKY_LOW_HERE,
        [DB_READ_DAY_LENGTH] = DB_SKY_DAY_LENGTH,
        [DB_READ_ET0] = DB_SKY_REFERENCE,
    };
    const struct db_wet_day *wet;
    const int place = db_scope_place(scope, day);

    switch (read) {
    case DB_READ_MEAN:
        return (sky(scope, place, DB_SKY_LOW, day) + sky(scope, place, DB_SKY_HIGH, day)) / 2;
    case DB_READ_CHILL:
        return chill(scope, (sky(scope, place, DB_SKY_LOW, day) + sky(scope, place, DB_SKY_HIGH, day)) / 2);
    case DB_READ_LOW_TONIGHT: /* the low before the next morning, where the sowing spends the night */
        return sky(scope, place, DB_SKY_LOW, day + 1);
    case DB_READ_LOW_TONIGHT_HERE:
        return sky(scope, place, DB_SKY_LOW_HERE, day + 1);
    case DB_READ_GROUND_TONIGHT:
        return ground_tonight(scope, place, day);
    case DB_READ_LOW_TONIGHT_THERE:
        return sky(scope, 1, DB_SKY_LOW_HERE, day + 1);
    case DB_READ_RAIN_TOMORROW:
        return figure(scope, DB_READ_RAIN_HERE, day + 1);
    case DB_READ_RAIN_HERE:
        return sky(scope, place, DB_SKY_RAIN, day) * db_cover_water(db_scope_bed(scope, day)->cover).rain;
    case DB_READ_DRY:
        wet = db_scope_wet(scope, day);
        return wet ? wet->dry : unknown;
    case DB_READ_DRY_LIMIT:
        wet = db_scope_wet(scope, day);
        return wet ? wet->limit : unknown;
    case DB_READ_WATER:
        wet = db_scope_wet(scope, day);
        return wet ? wet->water : unknown;
    default:
        return sky(scope, place, direct[read], day);
    }
}

/* The next day soon after it for which rain is forecast, or was measured, that makes up for most of what the ground has lost. */
static double next_rain(const struct db_scope *scope, int32_t day)
{
    const struct db_date known = scope->view->weather ? db_weather_known(scope->view->weather) : DB_NO_DATE;
    const struct db_wet_day *wet = db_scope_wet(scope, day);
    const double enough = wet ? fmax(RAIN_TO_SPEAK_OF, 0.7 * wet->dry) : RAIN_TO_SPEAK_OF; /* fmax: where it is known */

    for (int32_t d = day + 1; db_date_known(known) && d <= known.day && d <= day + RAIN_SOON; d++)
        if (figure(scope, DB_READ_RAIN_HERE, d) >= enough)
            return d;
    return unknown;
}

static double fact(const struct db_crop_facts *crop, const struct db_node *n)
{
    const double low = crop->low[n->index], high = crop->high[n->index];

    if (n->kind == DB_KIND_TRUTH)
        return isnan(low) ? 0 : low; /* what a crop does not say, it does not do */
    switch (n->end) {
    case DB_END_LEAST:
        return low;
    case DB_END_MOST:
        return high;
    default:
        return (low + high) / 2;
    }
}

static double own(const struct db_scope *scope, const struct db_node *n)
{
    const double *ends = scope->own[n->index];

    return n->end == DB_END_LEAST ? ends[0] : n->end == DB_END_MOST ? ends[2] : ends[1];
}

static double month(int32_t day)
{
    int m;

    db_date_parts((struct db_date){ day }, NULL, &m, NULL);
    return m;
}

static double given(double amount) /* 0: the plan does not say */
{
    return amount > 0 ? amount : unknown;
}

static bool outdoors(const struct db_bed *bed)
{
    return bed->cover == DB_COVER_OPEN || bed->cover == DB_COVER_BOARD || bed->cover == DB_COVER_FLEECE;
}

static struct db_date last_note(const struct db_scope *scope, const struct db_node *n)
{
    if (n->index < DB_STAGE_COUNT && scope->life->stage[n->index].how == DB_NOTED)
        return scope->life->stage[n->index].likely; /* from the plan or the diary */
    return db_diary_last_by(scope->view->diary, scope->sowing, n->word, scope->view->today);
}

static double leaf(const struct db_node *n, const struct db_scope *scope, int32_t day)
{
    switch (n->op) {
    case DB_OP_AMOUNT:
    case DB_OP_RATE:
        return n->value;
    case DB_OP_STAGE:
        return date_value(scope->life->stage[n->index].likely);
    case DB_OP_EARLY:
        return date_value(scope->life->stage[n->index].early);
    case DB_OP_LATE:
        return date_value(scope->life->stage[n->index].late);
    case DB_OP_PLANNED:
        return date_value(scope->life->planned);
    case DB_OP_TODAY:
        return date_value(scope->view->today);
    case DB_OP_DAY:
        return day;
    case DB_OP_SOLSTICE:
        return date_value(scope->life->solstice);
    case DB_OP_NEXT_RAIN:
        return next_rain(scope, day);
    case DB_OP_NOTED:
        return db_date_known(last_note(scope, n));
    case DB_OP_LAST:
        return date_value(last_note(scope, n));
    case DB_OP_FIGURE:
        return figure(scope, (enum db_read) n->index, day);
    case DB_OP_FACT:
        return fact(sowing_of(scope)->crop, n);
    case DB_OP_OUTDOORS:
        return outdoors(db_scope_bed(scope, day));
    case DB_OP_CONTAINER:
        return db_scope_bed(scope, day)->texture == DB_TEXTURE_MIX;
    case DB_OP_MOVES:
        return sowing_of(scope)->into != sowing_of(scope)->bed;
    case DB_OP_ROW:
        return given(sowing_of(scope)->row);
    case DB_OP_PLUGS:
        return given(sowing_of(scope)->plugs);
    case DB_OP_PLANTS:
        return given(sowing_of(scope)->plants);
    case DB_OP_MONTH:
        return month(day);
    case DB_OP_OWN:
        return own(scope, n);
    default:
        return unknown;
    }
}

const char *db_node_word(const struct db_node *nodes, int index, const struct db_scope *scope, int32_t day)
{
    const struct db_node *n = &nodes[index];
    const struct db_sowing *sowing = sowing_of(scope);

    switch (n->op) {
    case DB_OP_FACT:
        return sowing->crop->text[n->index];
    case DB_OP_RAISED:
        return db_way_word(sowing->way);
    case DB_OP_COVER:
        return db_cover_word(db_scope_bed(scope, day)->cover);
    case DB_OP_OWN_WORD:
        return scope->own_word[n->index];
    case DB_OP_CROP:
        return sowing->crop->text[DB_FACT_NAME];
    case DB_OP_CROPS:
        return sowing->crop->text[DB_FACT_PLURAL];
    case DB_OP_VARIETY:
        return sowing->variety;
    case DB_OP_BED:
        return sowing->bed->name;
    case DB_OP_INTO:
        return sowing->into->name;
    case DB_OP_WHERE:
        return sowing->bed->where;
    case DB_OP_THERE:
        return sowing->into->where;
    case DB_OP_SOWING:
        return sowing->id;
    default:
        return NULL;
    }
}

static double among(const struct db_node *nodes, const struct db_node *n, const struct db_scope *scope, int32_t day)
{
    const char *word;

    switch (nodes[n->a].op) {
    case DB_OP_RAISED:
        return n->mask >> sowing_of(scope)->way & 1;
    case DB_OP_COVER:
        return n->mask >> db_scope_bed(scope, day)->cover & 1;
    default:
        word = db_node_word(nodes, n->a, scope, day);
        if (!word)
            return unknown;
        for (unsigned i = 0; i < n->word_count; i++)
            if (word == n->words[i] || db_text_same(word, n->words[i]))
                return 1;
        return 0;
    }
}

static double compare(enum db_op op, double a, double b)
{
    /* Amounts that were written in different units must still be able to be equal. */
    const double near = 1e-9 * fmax(1, fmax(fabs(a), fabs(b)));

    if (isnan(a) || isnan(b))
        return unknown;
    switch (op) {
    case DB_OP_BELOW:
        return a < b - near;
    case DB_OP_AT_MOST:
        return a <= b + near;
    case DB_OP_ABOVE:
        return a > b + near;
    case DB_OP_AT_LEAST:
        return a >= b - near;
    case DB_OP_EQUAL:
        return fabs(a - b) <= near;
    default:
        return fabs(a - b) > near;
    }
}

static bool whole_days(double date, int32_t *ret)
{
    if (!(fabs(date) < 4e6)) /* NaN, or far outside the calendar */
        return false;
    *ret = (int32_t) floor(date + 0.5);
    return true;
}

bool db_node_days(const struct db_node *nodes, int index, const struct db_scope *scope, int32_t day, int32_t *ret_first,
                  int32_t *ret_last)
{
    const struct db_node *n = &nodes[index];
    int32_t first = day, last = day, count;

    if (n->op == DB_OP_SPAN) {
        if (!whole_days(db_node_value(nodes, n->a, scope, day), &first) ||
            !whole_days(db_node_value(nodes, n->b, scope, day), &last))
            return false;
    } else {
        if (!whole_days(db_node_value(nodes, n->a, scope, day), &count) || count < 0)
            return false;
        if (n->op == DB_OP_AHEAD)
            last = day + count;
        else
            first = day - count;
    }
    *ret_first = first;
    *ret_last = last;
    return (int64_t) last - first <= DB_LIMIT_SPAN;
}

static double over_days(const struct db_node *nodes, const struct db_node *n, const struct db_scope *scope, int32_t day)
{
    const struct db_node *what = &nodes[n->a];
    double least = INFINITY, most = -INFINITY, sum = 0;
    int32_t first, last;

    if (!db_node_days(nodes, n->b, scope, day, &first, &last))
        return unknown;
    for (int32_t d = first; d <= last; d++) {
        const double x = what->op == DB_OP_FIGURE ? figure(scope, (enum db_read) what->index, d)
                                                  : db_node_value(nodes, n->a, scope, d);

        if (isnan(x))
            return unknown;
        least = x < least ? x : least;
        most = x > most ? x : most;
        sum += x;
    }
    if (n->op == DB_OP_SUM || n->op == DB_OP_COUNT)
        return sum;
    if (last < first)
        return unknown;
    return n->op == DB_OP_LEAST ? least : n->op == DB_OP_MOST ? most : sum / (last - first + 1);
}

static double after(const struct db_node *nodes, const struct db_node *n, const struct db_scope *scope, int32_t day)
{
    int32_t from, wanted;

    if (!whole_days(db_node_value(nodes, n->a, scope, day), &from) ||
        !whole_days(db_node_value(nodes, n->b, scope, day), &wanted))
        return unknown;
    if (wanted <= 0)
        return from;
    for (int32_t d = from; d <= from + DB_LIMIT_SPAN; d++)
        if (db_node_value(nodes, n->c, scope, d) == 1 && --wanted == 0)
            return d;
    return unknown;
}

static double settled(double x)
{
    return isfinite(x) ? x : unknown;
}

static bool is_known(const struct db_node *nodes, int index, const struct db_scope *scope, int32_t day)
{
    const struct db_node *n = &nodes[index];

    if (n->kind == DB_KIND_WORD)
        return db_node_word(nodes, index, scope, day) != NULL;
    if (n->op == DB_OP_FACT && n->kind == DB_KIND_TRUTH)
        return !isnan(sowing_of(scope)->crop->low[n->index]);
    return !isnan(db_node_value(nodes, index, scope, day));
}

static double both(double a, double b)
{
    return isnan(a) || isnan(b) ? (a == 0 || b == 0 ? 0 : unknown) : a * b;
}

double db_node_value(const struct db_node *nodes, int index, const struct db_scope *scope, int32_t day)
{
    const struct db_node *n = &nodes[index];
    double a;

    if (n->op < DB_OP_NEGATE)
        return leaf(n, scope, day);
#define A db_node_value(nodes, n->a, scope, day)
#define B db_node_value(nodes, n->b, scope, day)
    switch (n->op) {
    case DB_OP_NEGATE:
        return -A;
    case DB_OP_ADD:
        return settled(A + B);
    case DB_OP_SUBTRACT:
        return settled(A - B);
    case DB_OP_MULTIPLY:
        return settled(A * B);
    case DB_OP_DIVIDE:
        a = B;
        return a == 0 ? unknown : settled(A / a);
    case DB_OP_AMONG:
        return among(nodes, n, scope, day);
    case DB_OP_NOT_AMONG:
        return 1 - among(nodes, n, scope, day);
    case DB_OP_KNOWN:
        return is_known(nodes, n->a, scope, day);
    case DB_OP_UNKNOWN:
        return !is_known(nodes, n->a, scope, day);
    case DB_OP_NOT:
        return 1 - A;
    case DB_OP_AND:
        a = A;
        return a == 0 ? 0 : both(a, B);
    case DB_OP_OR:
        a = A;
        return a == 1 ? 1 : 1 - both(1 - a, 1 - B);
    case DB_OP_LATER:
        return fmax(A, B);
    case DB_OP_EARLIER:
        return fmin(A, B);
    case DB_OP_WARMED:
        return db_warmed_day(scope, A, B, n->index);
    case DB_OP_AFTER:
        return after(nodes, n, scope, day);
    case DB_OP_LEAST:
    case DB_OP_MOST:
    case DB_OP_AVERAGE:
    case DB_OP_SUM:
    case DB_OP_COUNT:
        return over_days(nodes, n, scope, day);
    case DB_OP_SPAN:
    case DB_OP_AHEAD:
    case DB_OP_BACK:
        return unknown;
    default:
        return compare((enum db_op) n->op, A, B);
    }
#undef A
#undef B
}
