#include "service/told.h"

#include "base/text.h"
#include "read/records.h"
#include "read/source.h"
#include "read/zone.h"
#include "service/learn.h"

#include <inttypes.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "base/banned.h"

enum { DAYS_KEPT = 30 }; /* that what was said of a day counts after it, where nothing was measured */

/* What was said earlier of today, and what is said now of the hours that are left, are one day. */
static void join(struct db_told_day *day, const struct db_told_day *earlier)
{
    double *now = day->figures;
    const double *then = earlier->figures;

    if (then[DB_FIGURE_LOW] < now[DB_FIGURE_LOW])
        now[DB_FIGURE_LOW] = then[DB_FIGURE_LOW];
    if (then[DB_FIGURE_HIGH] > now[DB_FIGURE_HIGH])
        now[DB_FIGURE_HIGH] = then[DB_FIGURE_HIGH];
    if (isnan(now[DB_FIGURE_RAIN]) || then[DB_FIGURE_RAIN] > now[DB_FIGURE_RAIN])
        now[DB_FIGURE_RAIN] = then[DB_FIGURE_RAIN];
}

/* The answer's days, and before them those that it does not tell any more. */
static enum db_status merge(struct db_record *record, struct db_answer *answer, struct db_date today,
                            struct db_arena *arena)
{
    struct db_told_day *seen = NULL, *days;
    size_t seen_count = 0, count = 0, s = 0;
    enum db_status status =
        db_record_seen(record, DB_ORIGIN_FORECAST, db_date_add(today, -DAYS_KEPT), today, arena, &seen, &seen_count);

    if (status != DB_OK)
        return status;
    days = db_arena_get(arena, seen_count + answer->told.count, sizeof *days);
    if (!days)
        return DB_FULL;
    for (size_t i = 0; i < answer->told.count; i++) {
        struct db_told_day day = answer->told.days[i];

        while (s < seen_count && seen[s].date.day < day.date.day)
            days[count++] = seen[s++];
        if (s < seen_count && seen[s].date.day == day.date.day) {
            if (day.date.day == today.day && answer->part_of_today)
                join(&day, &seen[s]);
            s++;
        }
        days[count++] = day;
    }
    while (s < seen_count)
        days[count++] = seen[s++];
    answer->told.days = days;
    answer->told.count = count;
    return DB_OK;
}

enum db_status db_forecast_told(struct db_record *record, const struct db_estate *estate, int64_t now,
                                struct db_arena *arena, struct db_mistakes *mistakes, const struct db_told **ret)
{
    const struct db_source *source = estate->source;
    const struct db_site *site = db_garden_site(estate->garden);
    const struct db_zone *zone = db_zone_find(site->zone);
    struct db_answer_row row;
    struct db_answer answer;
    struct db_told *told;
    enum db_status status;

    if (!source || !zone)
        return DB_ABSENT;
    status = db_record_answer(record, source->id, arena, &row);
    if (status != DB_OK)
        return status;
    /* What was asked for another place, or by another description, says nothing here. */
    const char *url = db_source_address(source, source->find ? source->find : source->url, site, arena);
    if (!url)
        return DB_FULL;
    if (strcmp(url, row.url) != 0)
        return DB_ABSENT;
    /* On a day that is gone by, what came later was not known. */
    if (db_zone_day(zone, row.fetched).day > db_zone_day(zone, now).day)
        return DB_ABSENT;
    const struct db_asker asker = { .site = site, .name = source->title, .fetched = row.fetched, .now = now };
    status = db_forecast_read(source, &asker, row.body, row.length, arena, mistakes, &answer);
    if (status == DB_OK)
        status = merge(record, &answer, db_zone_day(zone, now), arena);
    if (status != DB_OK)
        return status;
    told = db_arena_get(arena, 1, sizeof *told);
    if (!told)
        return DB_FULL;
    *told = answer.told;
    status = db_learn_bias(record, estate, url, db_zone_day(zone, now), arena, told->bias);
    if (status != DB_OK)
        return status;
    *ret = told;
    return DB_OK;
}

enum db_status db_forecast_observed(struct db_record *record, const struct db_estate *estate, int64_t now,
                                    struct db_arena *arena, bool *ret_news)
{
    const struct db_source *source = estate->source;
    const struct db_site *site = db_garden_site(estate->garden);
    const struct db_zone *zone = db_zone_find(site->zone);
    struct db_told_day *said = NULL;
    size_t count = 0, kept = 0;
    enum db_status status;

    if (!zone)
        return DB_ABSENT;
    const struct db_date today = db_zone_day(zone, now);
    status = db_record_seen(record, DB_ORIGIN_FORECAST, db_date_add(today, -DAYS_KEPT), db_date_add(today, -1), arena,
                            &said, &count);
    for (size_t i = 0; status == DB_OK && i < count; i++) {
        struct db_told_day day = { .date = said[i].date };
        bool known = false;

        for (enum db_figure f = DB_FIGURE_LOW; f < (enum db_figure) DB_FIGURE_COUNT; f++) {
            day.figures[f] = db_days_figure(&estate->records->observed, day.date, f);
            known = known || !isnan(day.figures[f]);
        }
        if (known)
            said[kept++] = day;
    }
    if (status == DB_OK && kept)
        status = db_record_put_observed(record, said, kept, now);
    *ret_news = false;
    if (status != DB_OK || !source)
        return status;
    const char *url = db_source_address(source, source->find ? source->find : source->url, site, arena);
    return url ? db_learn_measured(record, estate, url, today, arena, ret_news) : DB_FULL;
}

/* "1.5 degrees colder", and of what it was learnt: "(41 measured)"; days 0: the plan says so. */
static void say_shift(struct db_text *to, double shift, size_t days, const char *than, bool imperial)
{
    const double shown = fabs(shift) * (imperial ? 1.8 : 1);

    db_text_add_number(to, shown, 1);
    db_text_add(to, fabs(shown - 1) < 0.05 ? " degree " : " degrees ");
    db_text_add(to, shift < 0 ? "colder" : "warmer");
    db_text_add(to, than);
    if (days)
        db_text_add_format(to, " (%zu measured)", days);
    else
        db_text_add(to, ", as the plan says");
}

const char *db_told_here(const struct db_told *told, const struct db_site *site, char buffer[160])
{
    static const char than[] = " here than forecast";
    const struct db_bias none = { 0 }, *low = told ? &told->bias[DB_FIGURE_LOW] : &none,
                         *high = told ? &told->bias[DB_FIGURE_HIGH] : &none;
    const double night = site->nights_known ? -site->colder_nights : low->shift;
    struct db_text text = db_text_in(buffer, 160);

    buffer[0] = '\0';
    if (fabs(night) > 0) {
        db_text_add(&text, "Nights are ");
        say_shift(&text, night, site->nights_known ? 0 : low->days, than, site->imperial);
    }
    if (fabs(high->shift) > 0) {
        db_text_add(&text, fabs(night) > 0 ? ", days " : "Days are ");
        say_shift(&text, high->shift, high->days, fabs(night) > 0 ? "" : than, site->imperial);
    }
    if (*buffer)
        db_text_add(&text, ".");
    return buffer;
}

const char *db_told_age(const struct db_told *told, int64_t now, char buffer[48])
{
    const int64_t minutes = now > told->issued ? (now - told->issued) / 60 : 0;
    const char *stale = told->stale ? ", stale" : "";

    if (minutes < 60)
        (void) snprintf(buffer, 48, "made %" PRId64 " min ago%s", minutes, stale);
    else if (minutes < 48 * 60)
        (void) snprintf(buffer, 48, "made %" PRId64 " h ago%s", minutes / 60, stale);
    else
        (void) snprintf(buffer, 48, "made %" PRId64 " days ago%s", minutes / 1440, stale);
    return buffer;
}
