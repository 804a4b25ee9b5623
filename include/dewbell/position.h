/* Positions: where each job stood when it was last published. Handed to the next evaluation, they keep jobs calm: a job
 * moves when it moves by enough or is near, never with each wobble of the forecast. docs/models.md, "Calm". */
#ifndef DEWBELL_POSITION_H
#define DEWBELL_POSITION_H

#include "dewbell/date.h"

#include <stdbool.h>

#ifdef __cplusplus
extern "C" {
#endif

struct db_position {
    unsigned char identity[16]; /* db_job_identity */
    unsigned char inputs[16];   /* 128 bits over what the job hangs on besides weather: rule, sowing, notes, place */
    unsigned char words[16];    /* over its texts as published, where they print dates or figures; else zero */
    const char *rule, *sowing;  /* their names */
    unsigned occurrence;
    struct db_date first, best, last;
    struct db_date on;    /* day on which the gardener's days put it; no date: they do not say */
    struct db_date moved; /* day on which it last moved; no date: not since it came */
    bool there;           /* as in the job */
    struct db_date gone;  /* day on which it was first not asked for any more; no date: it is there */
};

struct db_positions {
    const struct db_position *rows; /* in any order, each job once */
    size_t count;
};

/* How long a position is kept after its job is gone, in days. */
enum { DB_POSITION_KEPT = 60 };

#ifdef __cplusplus
}
#endif
#endif
