#include "read/forecast.h"

#include "base/limits.h"
#include "base/text.h"
#include "read/files.h"

#include <math.h>
#include <stdarg.h>
#include <stdio.h>

#include "base/banned.h"

enum { STALE = 36 * 3600 };

void db_reading_refuse(const struct db_reading *r, const char *format, ...)
{
    char what[512];
    va_list words;

    va_start(words, format);
    (void) vsnprintf(what, sizeof what, format, words);
    va_end(words);
    db_mistakes_add(r->mistakes, (struct db_place){ .file = r->asker->name }, "", "%s", what);
}

const char *db_reading_shown(const struct db_reading *r, const char *text, size_t length)
{
    char buffer[41];
    struct db_text shown = db_text_in(buffer, sizeof buffer);

    for (size_t at = 0; at < length && !shown.cut;) {
        size_t wide = 1;

        while (at + wide < length && ((unsigned char) text[at + wide] & 0xC0) == 0x80)
            wide++;
        if ((unsigned char) text[at] < ' ' || text[at] == 0x7F)
            db_text_add(&shown, "?");
        else
            db_text_add_part(&shown, text + at, wide);
        at += wide;
    }
    return db_say(r->arena, "%s", buffer);
}

bool db_reading_missing(const struct db_reading *r, double value)
{
    for (size_t i = 0; i < r->source->missing_count; i++)
        if (value == r->source->missing[i])
            return true;
    return false;
}

/* "2026-06-01 14:00" UTC, for messages. */
static const char *time_text(int64_t time, char buffer[32])
{
    const int64_t day = time >= 0 ? time / 86400 : -((-time + 86399) / 86400);
    const int minutes = (int) ((time - day * 86400) / 60);
    char date[11];

    (void) snprintf(buffer, 32, "%s %02d:%02d UTC", db_date_iso((struct db_date){ (int32_t) day }, date), minutes / 60,
                    minutes % 60);
    return buffer;
}

void db_reading_add(struct db_reading *r, enum db_figure figure, const struct db_source_way *way,
                    struct db_sample *samples, size_t count, const char *where)
{
    size_t kept = 0, twice = 0;
    char early[32], late[32];

    for (size_t i = 0; i < count; i++) {
        if (kept && samples[i].from < samples[kept - 1].from) {
            db_reading_refuse(r, "the times at %s go backwards: %s follows %s", where,
                              time_text(samples[i].from, early), time_text(samples[kept - 1].from, late));
            return;
        }
        if (kept && samples[i].from == samples[kept - 1].from) {
            kept--;
            twice++;
        }
        samples[kept++] = samples[i];
    }
    if (twice)
        db_mistakes_advise(r->mistakes, (struct db_place){ .file = r->asker->name }, "",
                           "%zu time%s of %s at %s came twice: the last one was taken", twice, twice == 1 ? "" : "s",
                           db_figure_word(figure), where);
    db_tally_add(r->tally, figure, way, samples, kept);
}

enum db_status db_forecast_read(const struct db_source *source, const struct db_asker *asker, const char *body,
                                size_t length, struct db_arena *arena, struct db_mistakes *mistakes,
                                struct db_answer *ret)
{
    const size_t before = db_mistakes_count(mistakes);
    struct db_reading r = {
        .source = source, .asker = asker, .zone = db_zone_find(asker->site->zone), .arena = arena, .mistakes = mistakes
    };
    struct db_answer answer = { .told = { .source = source->title, .issued = asker->fetched } };
    enum db_status status;

    if (!r.zone) {
        db_reading_refuse(&r, "this machine does not know the zone %s", asker->site->zone);
        return DB_MISTAKEN;
    }
    if (length > DB_LIMIT_FORECAST) {
        db_reading_refuse(&r, "it is longer than 2 MiB");
        return DB_MISTAKEN;
    }
    r.tally = db_tally_new(asker, r.zone, arena, mistakes);
    if (!r.tally)
        return DB_FULL;
    if (source->shape == DB_LAYOUT_CSV)
        db_forecast_csv(&r, body, length);
    else
        db_forecast_json(&r, body, length, &answer.told.issued);
    if (r.full)
        return DB_FULL;
    if (db_mistakes_count(mistakes) > before)
        return DB_MISTAKEN;
    status = db_tally_days(r.tally, &answer);
    if (status == DB_ABSENT) {
        db_reading_refuse(&r, "it tells no whole day of the next three weeks");
        return DB_MISTAKEN;
    }
    if (status != DB_OK)
        return status;
    answer.told.stale = asker->now - answer.told.issued > STALE;
    *ret = answer;
    return DB_OK;
}
