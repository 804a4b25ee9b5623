#define DB_PURE
#include "dewbell/bias.h"

#include <math.h>

#include "base/banned.h"

static const double step = 0.5, most = 5; /* K */
static const double stays = 0.4;          /* K by which a shift may be off before it moves */
static const double doubt = 2;            /* days that count as having no miss */

/* Puts a value into its place among `count` that rise. */
static void insert(double *rising, size_t count, double value)
{
    for (; count > 0 && rising[count - 1] > value; count--)
        rising[count] = rising[count - 1];
    rising[count] = value;
}

/* Takes one of that value out. */
static void take_out(double *rising, size_t count, double value)
{
    size_t at = 0;

    while (at < count - 1 && rising[at] < value)
        at++;
    for (; at < count - 1; at++)
        rising[at] = rising[at + 1];
}

static double trimmed_mean(const double *rising, size_t count)
{
    const size_t cut = count / 5;
    double sum = 0;

    for (size_t i = cut; i < count - cut; i++)
        sum += rising[i];
    return sum / (double) (count - 2 * cut);
}

/* The median of how far the values are from the centre. */
static double spread_of(const double *values, size_t count, double centre)
{
    double far[DB_BIAS_WINDOW] = { 0 };

    for (size_t i = 0; i < count; i++)
        insert(far, i, fabs(values[i] - centre));
    return count % 2 ? far[count / 2] : (far[count / 2 - 1] + far[count / 2]) / 2;
}

/* The misses of the last days, as the window moves over them. */
struct window {
    const struct db_miss *misses;
    size_t count, first, end; /* of misses: those from first to before end are in it */
    double rising[DB_BIAS_WINDOW];
    size_t days; /* known ones */
};

static void move_to(struct window *w, int32_t day)
{
    for (; w->first < w->end && w->misses[w->first].date.day < day - DB_BIAS_WINDOW; w->first++)
        if (!isnan(w->misses[w->first].miss))
            take_out(w->rising, w->days--, w->misses[w->first].miss);
    for (; w->end < w->count && w->misses[w->end].date.day < day; w->end++) {
        if (w->misses[w->end].date.day < day - DB_BIAS_WINDOW)
            w->first = w->end + 1; /* before the first window of all, which is empty until then */
        else if (!isnan(w->misses[w->end].miss))
            insert(w->rising, w->days++, w->misses[w->end].miss);
    }
}

static double moved(double shift, double wanted)
{
    wanted = fmin(fmax(wanted, -most), most);
    return fabs(wanted - shift) > stays ? round(wanted / step) * step + 0.0 : shift; /* no -0 */
}

enum db_status db_bias_learn(const struct db_miss *misses, size_t count, struct db_date today, struct db_bias *ret)
{
    struct db_bias bias = { 0 };
    struct window w = { .misses = misses, .count = count };

    if (!db_date_known(today))
        return DB_RANGE;
    for (size_t i = 0; i < count; i++)
        if (!db_date_known(misses[i].date) || isinf(misses[i].miss) ||
            (i > 0 && misses[i].date.day <= misses[i - 1].date.day))
            return DB_RANGE;
    int32_t day = today.day - DB_BIAS_BACK;
    if (count && misses[0].date.day >= day)
        day = misses[0].date.day + 1;
    for (; count && day <= today.day; day++) {
        move_to(&w, day);
        bias.centre = w.days ? trimmed_mean(w.rising, w.days) : 0;
        if (w.days < DB_BIAS_LEAST)
            bias.shift = 0;
        else
            bias.shift = moved(bias.shift, bias.centre * (double) w.days / ((double) w.days + doubt));
    }
    bias.days = w.days;
    bias.spread = w.days ? spread_of(w.rising, w.days, bias.centre) : 0;
    *ret = bias;
    return DB_OK;
}
