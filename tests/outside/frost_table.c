/* Answers questions about frost, one a line: FILE UNTIL NORTH|SOUTH LAST|FIRST|RULE THRESHOLD. An answer: seasons, those without,
 * then the days of the others; of RULE the dates that rules see on the day UNTIL, `early(last_frost)` to `late(first_frost)`, as
 * ISO days, "-" where there is none. A file has a line a day: DATE,LOW, the low left out where it is not known.
 * frost_table < QUESTIONS */
#include "dewbell/frost.h"
#include "engine/frosts.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { MOST = 120 * 366 };

static double low[MOST];

static size_t read_lows(const char *path, struct db_date *ret_first)
{
    FILE *file = fopen(path, "r");
    char line[64];
    size_t count = 0;

    while (file && count < MOST && fgets(line, sizeof line, file)) {
        const char *comma = strchr(line, ',');
        struct db_date date;

        if (!comma || db_date_read(line, (size_t) (comma - line), &date) != DB_OK)
            exit(1);
        if (!count)
            *ret_first = date;
        if (date.day != ret_first->day + (int32_t) count)
            exit(1);
        low[count++] = comma[1] == '\n' ? (double) NAN : strtod(comma + 1, NULL);
    }
    if (!count || fclose(file) != 0)
        exit(1);
    return count;
}

static int rule_dates(struct db_date first, size_t count, struct db_date until, bool south)
{
    struct db_arena *arena = db_arena_new((size_t) 1 << 20);
    const struct db_site site = { .latitude = south ? -50 : 50 };
    struct db_weather *weather = db_weather_new(arena, until, 1, 1);
    const struct db_view view = { .garden = db_garden_new(arena, &site), .weather = weather, .today = until };
    struct db_frost_odds odds;

    if (!weather || !view.garden)
        return 1;
    db_weather_keep_lows(weather, first, count, low);
    if (db_frost_odds_work(&view, &odds) != DB_OK)
        return 1;
    for (int which = 0; which < 2; which++)
        for (int end = 0; end < 3; end++) {
            char day[11];

            printf("%s ", db_date_iso(db_frost_odds_date(&odds, (enum db_frost) which, until, end), day));
        }
    printf("\n");
    (void) db_arena_free(arena);
    return 0;
}

int main(void)
{
    char path[512], until_words[16], half[16], which[16];
    double threshold;

    while (scanf("%511s %15s %15s %15s %lf", path, until_words, half, which, &threshold) == 5) {
        struct db_date first = DB_NO_DATE, until;
        const size_t count = read_lows(path, &first);
        struct db_frosts frosts;

        if (strcmp(which, "RULE") == 0) {
            if (db_date_read(until_words, strlen(until_words), &until) != DB_OK ||
                rule_dates(first, count, until, strcmp(half, "SOUTH") == 0) != 0)
                return 1;
            continue;
        }
        if (db_date_read(until_words, strlen(until_words), &until) != DB_OK ||
            db_frost_seasons(first, count, low, until, strcmp(half, "SOUTH") == 0,
                             strcmp(which, "LAST") == 0 ? DB_FROST_LAST : DB_FROST_FIRST, threshold, &frosts) != DB_OK)
            return 1;
        printf("%zu %zu", frosts.seasons, frosts.none);
        for (size_t i = 0; i < frosts.count; i++)
            printf(" %g", frosts.days[i]);
        for (int p = 1; p <= 9; p += 4) /* the tenth, the half, nine tenths */
            printf(" %.9g", db_frost_quantile(&frosts, p / 10.0));
        printf("\n");
    }
    return 0;
}
