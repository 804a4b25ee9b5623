/* `manured` of a bed: the days on which raw manure was dug into it. */
#include "read/load.h"

#include "base/sort.h"

#include "base/banned.h"

#define TELL(load, place, instead, ...) db_mistakes_add((load)->mistakes, place, instead, __VA_ARGS__)

static int by_day(const void *a, const void *b, const void *context)
{
    const struct db_date *x = a, *y = b;

    (void) context;
    return (x->day > y->day) - (x->day < y->day);
}

static bool is_there(const struct db_date *list, size_t count, struct db_date date)
{
    for (size_t i = 0; i < count; i++)
        if (list[i].day == date.day)
            return true;
    return false;
}

enum db_status db_plan_manured(struct db_load *load, struct db_span whole, struct db_bed *bed)
{
    struct db_date *list;
    struct db_span part;
    size_t room = 1, count = 0;

    for (size_t i = whole.from; i < whole.to; i++)
        room += whole.words->text[i] == ',';
    if (!(list = db_arena_get(load->arena, room, sizeof *list)))
        return DB_FULL;
    for (size_t at = whole.from; db_span_next(whole, ',', &at, &part);) {
        if (db_span_length(part) == 0)
            TELL(load, db_span_place(part), "write days between commas, as in 2025-11-08, 2026-04-01",
                 "a day is missing");
        else if (db_value_date(part, db_load_reader(load), &list[count])) {
            if (is_there(list, count, list[count]))
                TELL(load, db_span_place(part), "write each day once", "%.*s is there already",
                     (int) db_span_length(part), db_span_start(part));
            else
                count++;
        }
    }
    bed->manured = list;
    bed->manured_count = count;
    return db_sort(list, count, sizeof *list, by_day, NULL, load->scratch);
}
