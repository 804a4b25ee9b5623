/* [days]: the minutes that each day of the week has for the garden, and days away. */
#include "read/load.h"

#include "base/sort.h"
#include "read/files.h"

#include <string.h>

#include "base/banned.h"

#define TELL(load, place, instead, ...) db_mistakes_add((load)->mistakes, place, instead, __VA_ARGS__)
#define WEEKDAY(name)                                                                                                  \
    {                                                                                                                  \
        name, DB_FIELD_AMOUNT, { DB_KIND_TIME, "min", 0, 1, false, HINT }, NULL, NULL, false,                          \
            "time for the garden on that day of the week, as in 45 min"                                                \
    }
#define HINT "write a time, as in 45 min or 2 h 30 min"

enum { AWAY = 7, ROWS };
static const struct db_field rows[ROWS] = {
    WEEKDAY("monday"),
    WEEKDAY("tuesday"),
    WEEKDAY("wednesday"),
    WEEKDAY("thursday"),
    WEEKDAY("friday"),
    WEEKDAY("saturday"),
    WEEKDAY("sunday"),
    [AWAY] = { "away",
               DB_FIELD_LIST,
               { 0 },
               NULL,
               NULL,
               false,
               "days on which nobody is there, as in 2026-07-12 .. 2026-07-26, with commas between them" },
};

const struct db_field *db_days_fields(size_t *ret_count)
{
    *ret_count = ROWS;
    return rows;
}

/* Days away, with where they were written. */
struct written {
    struct db_away away;
    struct db_span span;
};

/* "12 July 2026 .. 26 July 2026", or one day. */
static bool read_away(struct db_load *load, struct db_span part, struct db_away *ret)
{
    const char *start = db_span_start(part), *dots = NULL;
    struct db_span left = part, right = part;

    for (size_t i = 0; i + 1 < db_span_length(part) && !dots; i++)
        if (start[i] == '.' && start[i + 1] == '.')
            dots = start + i;
    if (db_span_length(part) == 0) {
        TELL(load, db_span_place(part), "write days between commas, as in 2026-07-12 .. 2026-07-26",
             "days away are missing");
        return false;
    }
    if (dots) {
        const size_t at = part.from + (size_t) (dots - start);

        left = db_span_trim((struct db_span){ part.words, part.from, at });
        right = db_span_trim((struct db_span){ part.words, at + 2, part.to });
    }
    if (!db_value_date(left, db_load_reader(load), &ret->first) ||
        !db_value_date(right, db_load_reader(load), &ret->last))
        return false;
    if (ret->last.day >= ret->first.day)
        return true;
    TELL(load, db_span_place(part),
         db_say(load->scratch, "write %.*s .. %.*s", (int) db_span_length(right), db_span_start(right),
                (int) db_span_length(left), db_span_start(left)),
         "the days away end before they begin");
    return false;
}

static int by_first(const void *a, const void *b, const void *context)
{
    const struct written *x = a, *y = b;

    (void) context;
    return (x->away.first.day > y->away.first.day) - (x->away.first.day < y->away.first.day);
}

/* In order; what touches is one time away. */
static enum db_status join(struct db_load *load, struct written *list, size_t count, struct db_week *week)
{
    struct db_away *away = db_arena_get(load->arena, count, sizeof *away);
    size_t kept = 0;

    if (!away || db_sort(list, count, sizeof *list, by_first, NULL, load->scratch) != DB_OK)
        return DB_FULL;
    for (size_t i = 0; i < count; i++) {
        struct db_away *before = kept ? &away[kept - 1] : NULL;

        if (before && list[i].away.first.day <= before->last.day)
            TELL(load, db_span_place(list[i].span), "write each day away once",
                 "these days away begin before those of %.*s are over", (int) db_span_length(list[i - 1].span),
                 db_span_start(list[i - 1].span));
        if (!before || list[i].away.first.day > before->last.day + 1)
            away[kept++] = list[i].away;
        else if (list[i].away.last.day > before->last.day)
            before->last = list[i].away.last;
    }
    week->away = away;
    week->away_count = kept;
    return DB_OK;
}

static enum db_status read_all_away(struct db_load *load, struct db_span whole, struct db_week *week)
{
    struct db_span part;
    size_t count = 0, room = 1;

    for (size_t i = whole.from; i < whole.to; i++)
        room += whole.words->text[i] == ',';
    struct written *list = db_arena_get(load->scratch, room, sizeof *list);
    if (!list)
        return DB_FULL;
    for (size_t at = whole.from; db_span_next(whole, ',', &at, &part);) {
        list[count].span = part;
        if (read_away(load, part, &list[count].away))
            count++;
    }
    return join(load, list, count, week);
}

enum db_status db_plan_days(struct db_load *load, const struct db_plan *plan, struct db_garden *garden)
{
    const struct db_ini_section *section = db_ini_find(plan->ini, "days");
    struct db_week week = { .given = true };
    struct db_value v[ROWS];

    if (!section)
        return DB_OK;
    db_fields_read(section, rows, ROWS, v, db_load_reader(load));
    for (int i = 0; i < AWAY; i++) {
        week.counted = week.counted || v[i].given;
        week.minutes[i] = v[i].good ? (int32_t) (v[i].low * 1440 + 0.5) : 0;
    }
    if (v[AWAY].good) {
        const enum db_status status = read_all_away(load, v[AWAY].span, &week);

        if (status != DB_OK)
            return status;
    }
    if (!week.counted && !v[AWAY].given && !section->cut)
        TELL(load, section->at, "write the time of each day of the week, as in saturday = 3 h, or take it out",
             "[days] names no day");
    db_garden_set_week(garden, &week);
    return DB_OK;
}
