#include "service/learn.h"

#include "read/records.h"
#include "read/source.h"

#include <math.h>
#include <string.h>

#define XXH_INLINE_ALL
#include <xxhash.h>

#include "base/banned.h"

/* K by which nights are taken to be milder than forecast. What was learnt holds for weeks after a service has changed its ways; a
 * fleece for nothing is a smaller loss than a frost, and fleece is asked for with some 3 K in hand. */
static const double milder_most = 2;

static void put_text(XXH3_state_t *state, const char *text)
{
    (void) XXH3_128bits_update(state, text ? text : "", text ? strlen(text) + 1 : 1);
}

static void put_number(XXH3_state_t *state, double number)
{
    number += 0.0; /* one zero */
    (void) XXH3_128bits_update(state, &number, sizeof number);
}

static void put_figure(XXH3_state_t *state, const struct db_source_figure *figure)
{
    for (size_t i = 0; i < figure->count; i++) {
        put_text(state, figure->ways[i].pointer);
        put_number(state, figure->ways[i].hours);
        put_number(state, figure->ways[i].before + 2 * figure->ways[i].itself);
    }
    put_text(state, figure->unit_pointer);
    put_number(state, figure->factor);
    put_number(state, figure->offset);
}

/* Who is asked for what, how the answer is read, and in which file it is measured: another of these is another bias. */
static void asked_of(const struct db_estate *estate, const char *url, unsigned char ret[16])
{
    const struct db_source *source = estate->source;
    const struct db_site *site = db_garden_site(estate->garden);
    XXH3_state_t state;
    XXH128_canonical_t canonical;

    (void) XXH3_128bits_reset(&state);
    put_text(&state, source->id);
    put_text(&state, url);
    put_number(&state, site->latitude); /* an address of the gardener's own need not have the place in it */
    put_number(&state, site->longitude);
    put_number(&state, source->shape);
    put_text(&state, source->records);
    put_text(&state, source->time);
    put_text(&state, source->value);
    put_figure(&state, &source->figures[DB_FIGURE_LOW]);
    put_figure(&state, &source->figures[DB_FIGURE_HIGH]);
    put_text(&state, site->zone);
    put_text(&state, estate->records->observed_name);
    XXH128_canonicalFromHash(&canonical, XXH3_128bits_digest(&state));
    memcpy(ret, canonical.digest, 16);
}

static bool is_wanted(const struct db_estate *estate)
{
    return estate->outlets.forecast.learn && estate->records->observed_name;
}

enum db_status db_learn_said(struct db_record *record, const struct db_estate *estate, const char *url,
                             const struct db_told *told, struct db_date today)
{
    unsigned char asked[16];

    if (!is_wanted(estate))
        return DB_OK;
    asked_of(estate, url, asked);
    return db_record_put_beforehand(record, asked, told->days, told->count, today);
}

static bool is_same(double a, double b)
{
    return (isnan(a) && isnan(b)) || fabs(a - b) < 1e-9;
}

enum db_status db_learn_measured(struct db_record *record, const struct db_estate *estate, const char *url,
                                 struct db_date today, struct db_arena *arena, bool *ret_news)
{
    struct db_beforehand *days = NULL;
    unsigned char asked[16];
    size_t count = 0, news = 0;

    *ret_news = false;
    if (!is_wanted(estate))
        return DB_OK;
    asked_of(estate, url, asked);
    enum db_status status = db_record_beforehand(record, asked, db_date_add(today, -DB_BIAS_WINDOW),
                                                 db_date_add(today, -1), arena, &days, &count);
    for (size_t i = 0; status == DB_OK && i < count; i++) {
        struct db_beforehand day = days[i];
        bool known = false, same = true;

        for (enum db_figure f = DB_FIGURE_LOW; f <= DB_FIGURE_HIGH; f++) {
            day.measured[f] = db_days_figure(&estate->records->observed, day.date, f);
            known = known || !isnan(day.measured[f]);
            same = same && is_same(day.measured[f], days[i].measured[f]);
        }
        /* A file that begins later than it did takes nothing back. */
        if (known && !same)
            days[news++] = day;
    }
    if (status == DB_OK && news)
        status = db_record_put_measured(record, asked, days, news);
    *ret_news = status == DB_OK && news;
    return status;
}

enum db_status db_learn_bias(struct db_record *record, const struct db_estate *estate, const char *url,
                             struct db_date today, struct db_arena *arena, struct db_bias ret[2])
{
    struct db_beforehand *days = NULL;
    struct db_bias bias[2] = { 0 };
    unsigned char asked[16];
    size_t count = 0;
    enum db_status status = DB_OK;

    if (!is_wanted(estate)) {
        memcpy(ret, bias, sizeof bias);
        return DB_OK;
    }
    asked_of(estate, url, asked);
    status = db_record_beforehand(record, asked, db_date_add(today, -DB_BEFOREHAND_KEPT), db_date_add(today, -1), arena,
                                  &days, &count);
    struct db_miss *misses = status == DB_OK ? db_arena_get(arena, count + 1, sizeof *misses) : NULL;
    if (status == DB_OK && !misses)
        return DB_FULL;
    for (enum db_figure f = DB_FIGURE_LOW; status == DB_OK && f <= DB_FIGURE_HIGH; f++) {
        if (f == DB_FIGURE_LOW && db_garden_site(estate->garden)->nights_known)
            continue;
        for (size_t i = 0; i < count; i++)
            misses[i] = (struct db_miss){ days[i].date, days[i].measured[f] - days[i].said[f] };
        status = db_bias_learn(misses, count, today, &bias[f]);
        if (f == DB_FIGURE_LOW && bias[f].shift > milder_most)
            bias[f].shift = milder_most;
    }
    if (status == DB_OK)
        memcpy(ret, bias, sizeof bias);
    return status;
}
