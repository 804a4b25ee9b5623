/* `grew` of a bed: what grew there in years before the plan. */
#include "read/load.h"

#include <string.h>

#include "base/banned.h"

enum { FIRST_YEAR = 1900, LAST_YEAR = 2199 };

#define TELL(load, place, instead, ...) db_mistakes_add((load)->mistakes, place, instead, __VA_ARGS__)

/* "2014"; 0: it is not one. */
static int year_of(struct db_span span)
{
    const char *text = db_span_start(span);
    int year = 0;

    if (db_span_length(span) != 4 || strspn(text, "0123456789") < 4)
        return 0;
    for (int i = 0; i < 4; i++)
        year = 10 * year + (text[i] - '0');
    return year >= FIRST_YEAR && year <= LAST_YEAR ? year : 0;
}

/* "savoy-cabbage 2014" */
static bool read_one(struct db_load *load, const struct db_crops *crops, struct db_span part, struct db_past_crop *ret)
{
    const char *text = db_span_start(part);
    size_t word = 0, gap;

    while (word < db_span_length(part) && text[word] != ' ' && text[word] != '\t' && text[word] != '\n')
        word++;
    for (gap = word; gap < db_span_length(part) && (text[gap] == ' ' || text[gap] == '\t' || text[gap] == '\n');)
        gap++;

    const struct db_span crop = { part.words, part.from, part.from + word },
                         year = { part.words, part.from + gap, part.to };

    ret->year = year_of(year);
    if (!ret->year) {
        TELL(load, db_span_place(part), "write a crop and the year of its harvest, as in savoy-cabbage 2014",
             word == 0 ? "a crop is missing" : "\"%.*s\" is no crop with its year", (int) db_span_length(part), text);
        return false;
    }
    ret->crop = db_plan_crop(load, crops, crop);
    return ret->crop != NULL;
}

enum db_status db_plan_grew(struct db_load *load, const struct db_crops *crops, struct db_span whole,
                            struct db_bed *bed)
{
    struct db_past_crop *list;
    struct db_span part;
    size_t room = 1;

    for (size_t i = whole.from; i < whole.to; i++)
        room += whole.words->text[i] == ',';
    if (!(list = db_arena_get(load->arena, room, sizeof *list)))
        return DB_FULL;
    bed->grew = list;
    for (size_t at = whole.from; db_span_next(whole, ',', &at, &part);)
        if (read_one(load, crops, part, &list[bed->grew_count]))
            bed->grew_count++;
    return DB_OK;
}
