/* What was done or seen in a season, and the same as a diary. */
#ifndef DB_TESTS_SEASON_ACTS_H
#define DB_TESTS_SEASON_ACTS_H

#include "dewbell/diary.h"
#include "dewbell/garden.h"

enum { ACTS_MOST = 8192 };

struct act {
    size_t sowing;
    char word[50];
    struct db_date date;
};
struct acts {
    struct act list[ACTS_MOST];
    size_t count;
};

/* Ends the program when there are too many. */
void acts_put(struct acts *acts, size_t sowing, const char *word, struct db_date date);
/* The last time; no date: never. */
struct db_date acts_when(const struct acts *acts, size_t sowing, const char *word);
/* Ends the program when memory is out. */
const struct db_diary *acts_diary(const struct acts *acts, const struct db_garden *garden, struct db_arena *into);

#endif
