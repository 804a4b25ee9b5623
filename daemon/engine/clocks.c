#define DB_PURE
#include "engine/clocks.h"

#include "dewbell/almanac.h"

#include <math.h>
#include <string.h>

#include "base/banned.h"

/* A frame or tunnel is opened in warmth (common practice: above 15 to 20 degC), so what it adds does not carry the seed
 * zone's mean, nor the high of the air inside, above these. Estimates. */
static const double vented_mean = 20, vented_high = 25;

static double add_gain(enum db_cover cover, double outside, double gain, double vented)
{
    if (cover != DB_COVER_FRAME && cover != DB_COVER_TUNNEL)
        return outside + gain; /* there is nothing to open */
    return gain > 0 ? fmax(outside, fmin(outside + gain, vented)) : outside + gain;
}

static void *failed(struct db_clocks *clocks, enum db_status status)
{
    clocks->status = status;
    return NULL;
}

static double *new_figures(struct db_clocks *clocks, size_t count)
{
    double *figures = db_arena_get(clocks->arena, count, sizeof *figures);

    if (!figures)
        clocks->status = DB_FULL;
    return figures;
}

double db_slow_factor(double hours)
{
    if (hours >= 12)
        return 1;
    return hours <= 9 ? 0.2 : 0.2 + 0.8 * (hours - 9) / 3;
}

static enum db_status measure_days(struct db_clocks *clocks)
{
    const struct db_site *site = db_garden_site(clocks->view->garden);
    double *length = new_figures(clocks, clocks->days), *slow = new_figures(clocks, clocks->days);

    if (!length || !slow)
        return DB_FULL;
    for (size_t i = 0; i < clocks->days; i++) {
        struct db_sun sun;
        const enum db_status status =
            db_almanac_sun(site->latitude, site->longitude, db_date_add(clocks->first, (int32_t) i), &sun);

        if (status != DB_OK)
            return status;
        length[i] = sun.hours / 24;
        slow[i] = db_slow_factor(sun.hours);
    }
    clocks->day_length = length;
    clocks->slow = slow;
    return DB_OK;
}

static enum db_status find_solstices(struct db_clocks *clocks)
{
    const struct db_site *site = db_garden_site(clocks->view->garden);
    int from, to;

    db_date_parts(clocks->first, &from, NULL, NULL);
    db_date_parts(db_date_add(clocks->first, (int32_t) clocks->days), &to, NULL, NULL);
    clocks->solstice_year = from - 1;
    clocks->solstice_count = to + 1 - clocks->solstice_year + 1;
    clocks->solstices = db_arena_get(clocks->arena, (size_t) clocks->solstice_count, sizeof *clocks->solstices);
    if (!clocks->solstices)
        return DB_FULL;
    for (int i = 0; i < clocks->solstice_count; i++) {
        const enum db_status status =
            db_almanac_solstice(site->latitude, site->longitude, clocks->solstice_year + i, &clocks->solstices[i]);

        if (status != DB_OK)
            return status;
    }
    return DB_OK;
}

enum db_status db_clocks_begin(struct db_clocks *clocks, const struct db_view *view, struct db_arena *arena)
{
    const struct db_weather *weather = view->weather;

    memset(clocks, 0, sizeof *clocks);
    clocks->arena = arena;
    clocks->view = view;
    clocks->first = db_weather_first(weather);
    clocks->days = db_weather_days(weather);
    for (int i = 0; i < DB_FIGURE_COUNT; i++)
        clocks->figures[i] = db_weather_figures(weather, clocks->future, (enum db_figure) i);
    if (!db_date_known(view->today) || !clocks->figures[DB_FIGURE_LOW] || !clocks->figures[DB_FIGURE_HIGH])
        return DB_RANGE;
    for (size_t i = 0; i < clocks->days; i++) /* NaN fails here too */
        if (!(clocks->figures[DB_FIGURE_LOW][i] <= clocks->figures[DB_FIGURE_HIGH][i]))
            return DB_RANGE;

    const enum db_status status = measure_days(clocks);

    return status != DB_OK ? status : find_solstices(clocks);
}

/* Low and high as the plants feel them: the night gains what the cover holds at night, the day's mean gains what the
 * cover adds to it, so the high takes up the rest. */
static bool feel(struct db_clocks *clocks, struct db_air *air)
{
    const struct db_cover_effect effect = db_cover_effect(air->cover);
    const double *low = clocks->figures[DB_FIGURE_LOW], *high = clocks->figures[DB_FIGURE_HIGH];
    const double gain = 2 * effect.mean - effect.night;

    if (air->cover == DB_COVER_OPEN) {
        air->low = low;
        air->high = high;
        return true;
    }

    double *felt_low = new_figures(clocks, clocks->days), *felt_high = new_figures(clocks, clocks->days);

    if (!felt_low || !felt_high)
        return false;
    for (size_t i = 0; i < clocks->days; i++) {
        if (air->cover == DB_COVER_INDOORS) {
            felt_low[i] = felt_high[i] = air->indoors / 10.0;
            continue;
        }
        felt_low[i] = low[i] + effect.night;
        felt_high[i] = add_gain(air->cover, high[i], gain, vented_high);
        if (felt_high[i] < felt_low[i])
            felt_high[i] = felt_low[i];
    }
    air->low = felt_low;
    air->high = felt_high;
    return true;
}

struct db_air *db_clocks_air(struct db_clocks *clocks, const struct db_bed *bed)
{
    const bool inside = bed->cover == DB_COVER_INDOORS;
    const double warmth = isnan(bed->warmth) ? db_garden_site(clocks->view->garden)->indoors : bed->warmth;

    if (inside && !(fabs(warmth) < 100))
        return failed(clocks, DB_RANGE);

    const int indoors = inside ? (int) lround(warmth * 10) : 0;

    for (struct db_air *air = clocks->airs; air; air = air->next)
        if (air->cover == bed->cover && air->indoors == indoors && air->future == clocks->future)
            return air;

    struct db_air *air = db_arena_get(clocks->arena, 1, sizeof *air);

    if (!air)
        return failed(clocks, DB_FULL);
    air->future = clocks->future;
    air->cover = bed->cover;
    air->indoors = indoors;
    if (!feel(clocks, air))
        return NULL;
    air->next = clocks->airs;
    return clocks->airs = air;
}

int db_depth_class(const struct db_crop_facts *crop)
{
    const double depth = db_crop_middle(crop, DB_FACT_DEPTH); /* mm */

    if (crop->low[DB_FACT_SURFACE] > 0 || !(depth > 5))
        return 1;
    return depth >= 150 ? 30 : (int) lround(depth / 5);
}

struct db_seedbed *db_clocks_seedbed(struct db_clocks *clocks, const struct db_bed *bed, int depth)
{
    struct db_air *air = db_clocks_air(clocks, bed);

    if (!air)
        return NULL;
    if (air->cover == DB_COVER_INDOORS)
        depth = 1; /* the same at any depth */
    for (struct db_seedbed *seedbed = clocks->seedbeds; seedbed; seedbed = seedbed->next)
        if (seedbed->air == air && seedbed->depth == depth)
            return seedbed;

    struct db_seedbed *seedbed = db_arena_get(clocks->arena, 1, sizeof *seedbed);
    double *mean = new_figures(clocks, clocks->days), *low = new_figures(clocks, clocks->days),
           *high = new_figures(clocks, clocks->days);

    if (!seedbed || !mean || !low || !high)
        return failed(clocks, DB_FULL);

    const struct db_cover_effect effect = db_cover_effect(air->cover);
    const enum db_status status = db_soil_days(
        db_garden_site(clocks->view->garden)->latitude, clocks->first, clocks->days, clocks->figures[DB_FIGURE_LOW],
        clocks->figures[DB_FIGURE_HIGH], depth / 2.0, air->cover, air->indoors / 10.0, mean, high, NULL);

    if (status != DB_OK)
        return failed(clocks, status);
    for (size_t i = 0; i < clocks->days; i++) {
        const double swing = high[i] * effect.swing;

        mean[i] = add_gain(air->cover, mean[i], effect.mean, vented_mean);
        low[i] = mean[i] - swing;
        high[i] = mean[i] + swing;
    }
    seedbed->air = air;
    seedbed->depth = depth;
    seedbed->mean = mean;
    seedbed->low = low;
    seedbed->high = high;
    seedbed->next = clocks->seedbeds;
    return clocks->seedbeds = seedbed;
}

const double *db_clocks_rising(struct db_clocks *clocks, struct db_seedbed *seedbed, const struct db_crop_facts *crop)
{
    for (const struct db_rising *rising = seedbed->rising; rising; rising = rising->next)
        if (rising->crop == crop)
            return rising->sums;

    struct db_rising *rising = db_arena_get(clocks->arena, 1, sizeof *rising);
    double *sums = new_figures(clocks, clocks->days + 1);

    if (!rising || !sums)
        return failed(clocks, DB_FULL);
    for (size_t i = 0; i < clocks->days; i++)
        sums[i + 1] = sums[i] + db_emergence_rate_day(&crop->emergence, seedbed->mean[i],
                                                      (seedbed->high[i] - seedbed->low[i]) / 2);
    rising->crop = crop;
    rising->sums = sums;
    rising->next = seedbed->rising;
    seedbed->rising = rising;
    return sums;
}

const struct db_growth *db_clocks_growth(struct db_clocks *clocks, struct db_air *air, double base)
{
    for (const struct db_growth *growth = air->growth; growth; growth = growth->next)
        if (growth->base >= base && growth->base <= base)
            return growth;

    struct db_growth *growth = db_arena_get(clocks->arena, 1, sizeof *growth);
    double *plain = new_figures(clocks, clocks->days + 1), *slowed = new_figures(clocks, clocks->days + 1);
    int32_t *still = db_arena_get(clocks->arena, clocks->days, sizeof *still);

    if (!growth || !plain || !slowed || !still)
        return failed(clocks, DB_FULL);
    for (size_t i = 0; i < clocks->days; i++) {
        double sum;
        const enum db_status status = db_degree_days(DB_DEGREE_SINE, air->low[i], air->high[i], base, base + 1, &sum);

        if (status != DB_OK)
            return failed(clocks, status);
        plain[i + 1] = plain[i] + sum;
        slowed[i + 1] = slowed[i] + sum * clocks->slow[i];
    }
    for (size_t i = clocks->days; i-- > 0;) {
        const size_t end = i + 1 + DB_STILL_DAYS;

        still[i] = i + 1 < clocks->days ? still[i + 1] : -1;
        if (end <= clocks->days && slowed[end] - slowed[i + 1] < DB_STILL_SUM)
            still[i] = (int32_t) i;
    }
    growth->still = still;
    growth->base = base;
    growth->plain = plain;
    growth->slowed = slowed;
    growth->next = air->growth;
    air->growth = growth;
    return growth;
}

const double *db_clocks_nights(struct db_clocks *clocks, struct db_air *air, double low)
{
    for (const struct db_nights *nights = air->nights; nights; nights = nights->next)
        if (nights->low >= low && nights->low <= low)
            return nights->count;

    struct db_nights *nights = db_arena_get(clocks->arena, 1, sizeof *nights);
    double *count = new_figures(clocks, clocks->days + 1);

    if (!nights || !count)
        return failed(clocks, DB_FULL);
    for (size_t i = 0; i < clocks->days; i++) /* the night after the last day is not known: it does not count */
        count[i + 1] = count[i] + (i + 1 < clocks->days && air->low[i + 1] >= low ? 1 : 0);
    nights->low = low;
    nights->count = count;
    nights->next = air->nights;
    air->nights = nights;
    return count;
}

const int32_t *db_clocks_calm(struct db_clocks *clocks, struct db_air *air, double low)
{
    for (const struct db_calm *calm = air->calm; calm; calm = calm->next)
        if (calm->low >= low && calm->low <= low)
            return calm->from;

    struct db_calm *calm = db_arena_get(clocks->arena, 1, sizeof *calm);
    int32_t *from = db_arena_get(clocks->arena, clocks->days, sizeof *from);
    int32_t next = -1;
    size_t mild = 0; /* how many days from i + 1 on are mild, one after the other */

    if (!calm || !from)
        return failed(clocks, DB_FULL);
    for (size_t i = clocks->days; i-- > 0;) {
        if (mild >= DB_CALM_NIGHTS)
            next = (int32_t) i;
        from[i] = next;
        mild = air->low[i] > low ? mild + 1 : 0;
    }
    calm->low = low;
    calm->from = from;
    calm->next = air->calm;
    air->calm = calm;
    return from;
}

size_t db_clocks_index(const struct db_clocks *clocks, struct db_date date)
{
    if (!db_date_known(date) || date.day < clocks->first.day)
        return SIZE_MAX;

    const size_t index = (size_t) (date.day - clocks->first.day);

    return index < clocks->days ? index : SIZE_MAX;
}

struct db_date db_clocks_reach(const struct db_clocks *clocks, const double *sums, struct db_date from, double amount,
                               size_t most)
{
    const size_t index = db_clocks_index(clocks, from);

    if (index == SIZE_MAX || isnan(amount))
        return DB_NO_DATE;

    const size_t days = db_sums_reach(sums, clocks->days, index + 1, amount);

    return days > most || days >= clocks->days ? DB_NO_DATE : db_date_add(from, (int32_t) days);
}

double db_clocks_gathered(const struct db_clocks *clocks, const double *sums, struct db_date from, struct db_date to)
{
    const size_t a = db_clocks_index(clocks, from), b = db_clocks_index(clocks, to);

    return a == SIZE_MAX || b == SIZE_MAX ? NAN : sums[b + 1] - sums[a + 1];
}

struct db_date db_clocks_solstice(const struct db_clocks *clocks, int year)
{
    const struct db_site *site = db_garden_site(clocks->view->garden);
    const int at = year - clocks->solstice_year;
    struct db_date date;

    if (at >= 0 && at < clocks->solstice_count)
        return clocks->solstices[at];
    return db_almanac_solstice(site->latitude, site->longitude, year, &date) == DB_OK ? date : DB_NO_DATE;
}

const struct db_date *db_clocks_notes(struct db_clocks *clocks, size_t sowing, const char *word, size_t *ret_count)
{
    static const struct db_date none = { INT32_MIN };
    size_t count = db_diary_dates(clocks->view->diary, sowing, word, clocks->dates, clocks->date_room);

    if (count > clocks->date_room) {
        const size_t room = 2 * count < 16 ? 16 : 2 * count;
        struct db_date *dates = db_arena_get(clocks->arena, room, sizeof *dates);

        if (!dates)
            return failed(clocks, DB_FULL);
        clocks->dates = dates;
        clocks->date_room = room;
        count = db_diary_dates(clocks->view->diary, sowing, word, dates, room);
    }
    while (count && clocks->dates[count - 1].day > clocks->view->today.day)
        count--;
    *ret_count = count;
    return count ? clocks->dates : &none;
}
