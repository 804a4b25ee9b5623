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

double db_slow_factor(double hours, bool indoors)
{
    const double least = indoors ? 0.5 : 0.2;

    if (hours >= 12)
        return 1;
    return hours <= 9 ? least : least + (1 - least) * (hours - 9) / 3;
}

static enum db_status measure_days(struct db_clocks *clocks)
{
    const struct db_site *site = db_garden_site(clocks->view->garden);
    double *length = new_figures(clocks, clocks->days), *outdoors = new_figures(clocks, clocks->days),
           *indoors = new_figures(clocks, clocks->days);

    if (!length || !outdoors || !indoors)
        return DB_FULL;
    for (size_t i = 0; i < clocks->days; i++) {
        struct db_sun sun;
        const enum db_status status =
            db_almanac_sun(site->latitude, site->longitude, db_date_add(clocks->first, (int32_t) i), &sun);

        if (status != DB_OK)
            return status;
        length[i] = sun.hours / 24;
        outdoors[i] = db_slow_factor(sun.hours, false);
        indoors[i] = db_slow_factor(sun.hours, true);
    }
    clocks->day_length = length;
    clocks->slow[0] = outdoors;
    clocks->slow[1] = indoors;
    return DB_OK;
}

static enum db_status draw_water(struct db_clocks *clocks)
{
    const struct db_site *site = db_garden_site(clocks->view->garden);
    const double factor = db_air_factor(site->air);
    double *reference = new_figures(clocks, clocks->days);

    if (!reference)
        return DB_FULL;
    for (size_t i = 0; i < clocks->days; i++) {
        const int day = db_date_day_of_year(db_date_add(clocks->first, (int32_t) i));
        double ra;
        enum db_status status = db_almanac_radiation(site->latitude, day, &ra);

        if (status == DB_OK)
            status = db_water_reference(clocks->figures[DB_FIGURE_LOW][i], clocks->figures[DB_FIGURE_HIGH][i], ra,
                                        &reference[i]);
        if (status != DB_OK)
            return status;
        reference[i] *= factor;
    }
    clocks->reference = reference;
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

void db_clocks_turn(struct db_clocks *clocks, size_t future)
{
    const struct db_weather *weather = clocks->view->weather;

    clocks->fresh = clocks->turn ? db_weather_shared(weather) : 0;
    clocks->future = future;
    clocks->turn++;
    for (int i = 0; i < DB_FIGURE_COUNT; i++)
        clocks->figures[i] = db_weather_figures(weather, future, (enum db_figure) i);
}

enum db_status db_clocks_begin(struct db_clocks *clocks, const struct db_view *view, struct db_arena *arena)
{
    const struct db_weather *weather = view->weather;

    memset(clocks, 0, sizeof *clocks);
    clocks->arena = arena;
    clocks->view = view;
    clocks->first = db_weather_first(weather);
    clocks->days = db_weather_days(weather);
    db_clocks_turn(clocks, 0);
    if (!db_date_known(view->today) || !clocks->figures[DB_FIGURE_LOW] || !clocks->figures[DB_FIGURE_HIGH])
        return DB_RANGE;
    for (size_t i = 0; i < clocks->days; i++) /* NaN fails here too */
        if (!(clocks->figures[DB_FIGURE_LOW][i] <= clocks->figures[DB_FIGURE_HIGH][i]))
            return DB_RANGE;

    enum db_status status = db_frost_odds_work(view, &clocks->frost);

    if (status == DB_OK)
        status = measure_days(clocks);
    if (status == DB_OK)
        status = draw_water(clocks);
    return status != DB_OK ? status : find_solstices(clocks);
}

void db_clocks_beside(const struct db_clocks *clocks, struct db_clocks *ret_clocks)
{
    *ret_clocks = *clocks;
    ret_clocks->turn = 0;
    ret_clocks->airs = NULL;
    ret_clocks->seedbeds = NULL;
    ret_clocks->dates = NULL;
    ret_clocks->date_room = 0;
}

/* From where on something has to be worked out that was last worked out on `turn` (0: never); past the end for what is up to
 * date. All futures share the elements before `fresh`. */
static size_t stale_from(const struct db_clocks *clocks, unsigned turn)
{
    return turn == clocks->turn ? SIZE_MAX : turn ? clocks->fresh : 0;
}

/* Low and high as the plants feel them: the night gains what the cover holds at night, the day's mean gains what the
 * cover adds to it, so the high takes up the rest. */
static void feel(struct db_clocks *clocks, struct db_air *air, size_t from)
{
    const struct db_cover_effect effect = db_cover_effect(air->cover);
    const double *low = clocks->figures[DB_FIGURE_LOW], *high = clocks->figures[DB_FIGURE_HIGH];
    const double gain = 2 * effect.mean - effect.night;

    air->turn = clocks->turn;
    if (air->cover == DB_COVER_OPEN) {
        air->low = low;
        air->high = high;
        return;
    }
    for (size_t i = from; i < clocks->days; i++) {
        if (air->cover == DB_COVER_INDOORS) {
            air->felt_low[i] = air->felt_high[i] = air->indoors / 10.0;
            continue;
        }
        air->felt_low[i] = low[i] + effect.night;
        air->felt_high[i] = add_gain(air->cover, high[i], gain, vented_high);
        if (air->felt_high[i] < air->felt_low[i])
            air->felt_high[i] = air->felt_low[i];
    }
    air->low = air->felt_low;
    air->high = air->felt_high;
}

static struct db_air *new_air(struct db_clocks *clocks, enum db_cover cover, int indoors)
{
    struct db_air *air = db_arena_get(clocks->arena, 1, sizeof *air);

    if (!air)
        return failed(clocks, DB_FULL);
    air->cover = cover;
    air->indoors = indoors;
    if (cover != DB_COVER_OPEN &&
        (!(air->felt_low = new_figures(clocks, clocks->days)) || !(air->felt_high = new_figures(clocks, clocks->days))))
        return NULL;
    air->next = clocks->airs;
    return clocks->airs = air;
}

struct db_air *db_clocks_air(struct db_clocks *clocks, const struct db_bed *bed)
{
    const bool inside = bed->cover == DB_COVER_INDOORS;
    const double warmth = isnan(bed->warmth) ? db_garden_site(clocks->view->garden)->indoors : bed->warmth;

    if (inside && !(fabs(warmth) < 100))
        return failed(clocks, DB_RANGE);

    const int indoors = inside ? (int) lround(warmth * 10) : 0;
    struct db_air *air = clocks->airs;

    while (air && (air->cover != bed->cover || air->indoors != indoors))
        air = air->next;
    if (!air)
        air = new_air(clocks, bed->cover, indoors);
    if (air && air->turn != clocks->turn)
        feel(clocks, air, stale_from(clocks, air->turn));
    return air;
}

int db_depth_class(const struct db_crop_facts *crop)
{
    const double depth = db_crop_middle(crop, DB_FACT_DEPTH); /* mm */

    if (crop->low[DB_FACT_SURFACE] > 0 || !(depth > 5))
        return 1;
    return depth >= 150 ? 30 : (int) lround(depth / 5);
}

/* The soil's lag is a day or two: so many days before the first one wanted its beginning is forgotten. */
enum { SOIL_LEAD = 40 };

static enum db_status warm_soil(struct db_clocks *clocks, struct db_seedbed *seedbed, size_t from)
{
    const struct db_cover_effect effect = db_cover_effect(seedbed->air->cover);
    const size_t lead = from > SOIL_LEAD ? from - SOIL_LEAD : 0;
    const enum db_status status = db_soil_days(
        db_garden_site(clocks->view->garden)->latitude, db_date_add(clocks->first, (int32_t) lead), clocks->days - lead,
        clocks->figures[DB_FIGURE_LOW] + lead, clocks->figures[DB_FIGURE_HIGH] + lead, seedbed->depth / 2.0,
        seedbed->air->cover, seedbed->air->indoors / 10.0, seedbed->mean + lead, seedbed->high + lead, NULL);

    if (status != DB_OK)
        return status;
    for (size_t i = lead; i < clocks->days; i++) {
        const double swing = seedbed->high[i] * effect.swing;

        seedbed->mean[i] = add_gain(seedbed->air->cover, seedbed->mean[i], effect.mean, vented_mean);
        seedbed->low[i] = seedbed->mean[i] - swing;
        seedbed->high[i] = seedbed->mean[i] + swing;
    }
    seedbed->turn = clocks->turn;
    return DB_OK;
}

static struct db_seedbed *new_seedbed(struct db_clocks *clocks, struct db_air *air, int depth)
{
    struct db_seedbed *seedbed = db_arena_get(clocks->arena, 1, sizeof *seedbed);

    if (!seedbed)
        return failed(clocks, DB_FULL);
    seedbed->air = air;
    seedbed->depth = depth;
    if (!(seedbed->mean = new_figures(clocks, clocks->days)) || !(seedbed->low = new_figures(clocks, clocks->days)) ||
        !(seedbed->high = new_figures(clocks, clocks->days)))
        return NULL;
    seedbed->next = clocks->seedbeds;
    return clocks->seedbeds = seedbed;
}

struct db_seedbed *db_clocks_seedbed(struct db_clocks *clocks, const struct db_bed *bed, int depth)
{
    struct db_air *air = db_clocks_air(clocks, bed);
    struct db_seedbed *seedbed = clocks->seedbeds;

    if (!air)
        return NULL;
    if (air->cover == DB_COVER_INDOORS)
        depth = 1; /* the same at any depth */
    while (seedbed && (seedbed->air != air || seedbed->depth != depth))
        seedbed = seedbed->next;
    if (!seedbed && !(seedbed = new_seedbed(clocks, air, depth)))
        return NULL;
    if (seedbed->turn != clocks->turn) {
        const enum db_status status = warm_soil(clocks, seedbed, stale_from(clocks, seedbed->turn));

        if (status != DB_OK)
            return failed(clocks, status);
    }
    return seedbed;
}

const double *db_clocks_rising(struct db_clocks *clocks, struct db_seedbed *seedbed, const struct db_crop_facts *crop)
{
    struct db_rising *rising = seedbed->rising;

    while (rising && rising->crop != crop)
        rising = rising->next;
    if (!rising) {
        if (!(rising = db_arena_get(clocks->arena, 1, sizeof *rising)))
            return failed(clocks, DB_FULL);
        if (!(rising->sums = new_figures(clocks, clocks->days + 1)))
            return NULL;
        rising->crop = crop;
        rising->next = seedbed->rising;
        seedbed->rising = rising;
    }
    for (size_t i = stale_from(clocks, rising->turn); i < clocks->days; i++)
        rising->sums[i + 1] = rising->sums[i] + db_emergence_rate_day(&crop->emergence, seedbed->mean[i],
                                                                      (seedbed->high[i] - seedbed->low[i]) / 2);
    rising->turn = clocks->turn;
    return rising->sums;
}

static struct db_growth *new_growth(struct db_clocks *clocks, struct db_air *air, double base, double top)
{
    struct db_growth *growth = db_arena_get(clocks->arena, 1, sizeof *growth);

    if (!growth || !(growth->still = db_arena_get(clocks->arena, clocks->days, sizeof *growth->still)))
        return failed(clocks, DB_FULL);
    if (!(growth->plain = new_figures(clocks, clocks->days + 1)) ||
        !(growth->slowed = new_figures(clocks, clocks->days + 1)))
        return NULL;
    growth->base = base;
    growth->top = top;
    growth->next = air->growth;
    return air->growth = growth;
}

static enum db_status sum_growth(struct db_clocks *clocks, struct db_air *air, struct db_growth *growth, size_t from)
{
    const double *slow = clocks->slow[air->cover == DB_COVER_INDOORS];

    for (size_t i = from; i < clocks->days; i++) {
        double sum;
        const enum db_status status =
            db_degree_days(DB_DEGREE_HORIZONTAL, air->low[i], air->high[i], growth->base, growth->top, &sum);

        if (status != DB_OK)
            return status;
        growth->plain[i + 1] = growth->plain[i] + sum;
        growth->slowed[i + 1] = growth->slowed[i] + sum * slow[i];
    }
    for (size_t i = clocks->days; i-- > 0;) {
        const size_t end = i + 1 + DB_STILL_DAYS;

        growth->still[i] = i + 1 < clocks->days ? growth->still[i + 1] : -1;
        if (end <= clocks->days && growth->slowed[end] - growth->slowed[i + 1] < DB_STILL_SUM)
            growth->still[i] = (int32_t) i;
    }
    growth->turn = clocks->turn;
    return DB_OK;
}

const struct db_growth *db_clocks_growth(struct db_clocks *clocks, struct db_air *air, double base, double top)
{
    struct db_growth *growth = air->growth;

    while (growth && !(growth->base >= base && growth->base <= base && growth->top >= top && growth->top <= top))
        growth = growth->next;
    if (!growth && !(growth = new_growth(clocks, air, base, top)))
        return NULL;
    if (growth->turn != clocks->turn) {
        const enum db_status status = sum_growth(clocks, air, growth, stale_from(clocks, growth->turn));

        if (status != DB_OK)
            return failed(clocks, status);
    }
    return growth;
}

const double *db_clocks_nights(struct db_clocks *clocks, struct db_air *air, double low)
{
    struct db_nights *nights = air->nights;

    while (nights && !(nights->low >= low && nights->low <= low))
        nights = nights->next;
    if (!nights) {
        if (!(nights = db_arena_get(clocks->arena, 1, sizeof *nights)))
            return failed(clocks, DB_FULL);
        if (!(nights->count = new_figures(clocks, clocks->days + 1)))
            return NULL;
        nights->low = low;
        nights->next = air->nights;
        air->nights = nights;
    }

    size_t from = stale_from(clocks, nights->turn);

    if (from && from <= clocks->days) /* the last night that is shared is that before the first day that is not */
        from--;
    for (size_t i = from; i < clocks->days; i++) /* the night after the last day is not known: it does not count */
        nights->count[i + 1] = nights->count[i] + (i + 1 < clocks->days && air->low[i + 1] >= low ? 1 : 0);
    nights->turn = clocks->turn;
    return nights->count;
}

static void find_calm(const struct db_clocks *clocks, const struct db_air *air, struct db_calm *calm)
{
    int32_t next = -1;
    size_t mild = 0; /* how many days from i + 1 on are mild, one after the other */

    for (size_t i = clocks->days; i-- > 0;) {
        if (mild >= DB_CALM_NIGHTS)
            next = (int32_t) i;
        calm->from[i] = next;
        mild = air->low[i] > calm->low ? mild + 1 : 0;
    }
    calm->turn = clocks->turn;
}

const int32_t *db_clocks_calm(struct db_clocks *clocks, struct db_air *air, double low)
{
    struct db_calm *calm = air->calm;

    while (calm && !(calm->low >= low && calm->low <= low))
        calm = calm->next;
    if (!calm) {
        if (!(calm = db_arena_get(clocks->arena, 1, sizeof *calm)) ||
            !(calm->from = db_arena_get(clocks->arena, clocks->days, sizeof *calm->from)))
            return failed(clocks, DB_FULL);
        calm->low = low;
        calm->next = air->calm;
        air->calm = calm;
    }
    if (calm->turn != clocks->turn)
        find_calm(clocks, air, calm);
    return calm->from;
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
