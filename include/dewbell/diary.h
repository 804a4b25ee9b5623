/* The diary: what the gardener saw or did, in order, never lost. A note beats every model. */
#ifndef DEWBELL_DIARY_H
#define DEWBELL_DIARY_H

#include "dewbell/garden.h"

#ifdef __cplusplus
extern "C" {
#endif

/* Turning points of a sowing's life, in order. */
enum db_stage {
    DB_STAGE_SOWN,
    DB_STAGE_UP, /* seedlings show */
    DB_STAGE_PRICKED_OUT,
    DB_STAGE_ROOTED,    /* the plug is filled */
    DB_STAGE_HARDENING, /* hardening off begins */
    DB_STAGE_PLANTED,
    DB_STAGE_CROPPING, /* first harvest */
    DB_STAGE_CLEARED
};
enum { DB_STAGE_COUNT = DB_STAGE_CLEARED + 1 };

/* "sown" "up" "pricked_out" "rooted" "hardening" "planted" "cropping" "cleared" and back; -1 if it is none. */
const char *db_stage_word(enum db_stage stage);
int db_stage_find(const char *word);

struct db_note {
    int64_t number;      /* as the record counts them, from 1 */
    const char *sowing;  /* its id */
    const char *word;    /* a stage, or what a rule records ("thinned", "netted") */
    struct db_date date; /* when it happened */
    const char *text;    /* remark or "" */
    bool struck;         /* kept for the history, counts no more */
};

struct db_diary;

struct db_diary *db_diary_new(struct db_arena *arena);
/* Copies the record; its texts must outlive the diary. */
DB_MUST_USE enum db_status db_diary_add(struct db_diary *diary, const struct db_note *note);
/* Sorts what was added so that the walks below are quick; call it once, after the last add. Notes of sowings that the
 * garden does not know stay in the diary and concern nobody. */
DB_MUST_USE enum db_status db_diary_close(struct db_diary *diary, const struct db_garden *garden);

size_t db_diary_count(const struct db_diary *diary);
const struct db_note *db_diary_at(const struct db_diary *diary, size_t index); /* in order of number */

/* Date of the last note (by date, then number) not struck out of this sowing with this word; no date if there is none.
 * For a stage word it is the stage's date. sowing: index in the garden. NULL diary: no notes. */
struct db_date db_diary_last(const struct db_diary *diary, size_t sowing, const char *word);
/* The same of the notes dated no later than `until`: a diary that is looked at from an earlier day has not seen the rest. */
struct db_date db_diary_last_by(const struct db_diary *diary, size_t sowing, const char *word, struct db_date until);
/* All of them, oldest first: how many dates there are; at most `room` are written. */
size_t db_diary_dates(const struct db_diary *diary, size_t sowing, const char *word, struct db_date *ret, size_t room);

/* The notes of a sowing that count, in order of word, date, number: at most `room` of them, from the `from`th on, are
 * written; returns how many. */
size_t db_diary_of(const struct db_diary *diary, size_t sowing, size_t from, const struct db_note **ret, size_t room);

#ifdef __cplusplus
}
#endif
#endif
