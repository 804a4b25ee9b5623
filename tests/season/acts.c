#include "season/acts.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static void need(bool good, const char *what)
{
    if (good)
        return;
    (void) fprintf(stderr, "season: %s\n", what);
    exit(1);
}

void acts_put(struct acts *acts, size_t sowing, const char *word, struct db_date date)
{
    struct act *act = &acts->list[acts->count++];

    need(acts->count < ACTS_MOST && strlen(word) < sizeof act->word, "too many notes");
    act->sowing = sowing;
    act->date = date;
    (void) snprintf(act->word, sizeof act->word, "%s", word);
}

struct db_date acts_when(const struct acts *acts, size_t sowing, const char *word)
{
    for (size_t i = acts->count; i-- > 0;)
        if (acts->list[i].sowing == sowing && strcmp(acts->list[i].word, word) == 0)
            return acts->list[i].date;
    return DB_NO_DATE;
}

const struct db_diary *acts_diary(const struct acts *acts, const struct db_garden *garden, struct db_arena *into)
{
    struct db_diary *diary = db_diary_new(into);

    need(diary, "out of memory");
    for (size_t i = 0; i < acts->count; i++) {
        const struct act *act = &acts->list[i];
        const struct db_note note = { .number = (int64_t) i + 1,
                                      .sowing = db_garden_sowing(garden, act->sowing)->id,
                                      .word = act->word,
                                      .date = act->date,
                                      .text = "" };

        need(db_diary_add(diary, &note) == DB_OK, "out of memory");
    }
    need(db_diary_close(diary, garden) == DB_OK, "out of memory");
    return diary;
}
