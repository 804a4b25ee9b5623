/* Publishing and evaluating again, in memory: what the record does for the program. Include after cmocka.h and kit/plot.h. */
#ifndef DB_TESTS_KIT_CALM_H
#define DB_TESTS_KIT_CALM_H

#include "dewbell/job.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* Positions with texts of their own: they outlive the evaluation that they come from. */
struct shelf {
    struct db_position *rows;
    struct db_positions all;
};

static inline char *shelf_text(const char *text)
{
    char *copy = strdup(text);

    assert_non_null(copy);
    return copy;
}

static inline void shelf_drop(struct shelf *shelf, size_t at)
{
    free((void *) (uintptr_t) shelf->rows[at].rule);
    free((void *) (uintptr_t) shelf->rows[at].sowing);
    shelf->rows[at] = shelf->rows[--shelf->all.count];
}

/* Puts the moves of an evaluation back, and drops what has been gone for long. Returns how many rows changed. */
static inline size_t shelf_put(struct shelf *shelf, const struct db_jobs *jobs, struct db_arena *scratch)
{
    const struct db_date today = db_jobs_view(jobs)->today;
    struct db_positions moves;

    assert_int_equal(db_jobs_moves(jobs, scratch, &moves), DB_OK);
    for (size_t i = 0; i < moves.count; i++) {
        struct db_position row = moves.rows[i];
        size_t at = 0;

        row.rule = shelf_text(row.rule);
        row.sowing = shelf_text(row.sowing);
        while (at < shelf->all.count && memcmp(shelf->rows[at].identity, row.identity, 16) != 0)
            at++;
        if (at == shelf->all.count) {
            shelf->rows = realloc(shelf->rows, ++shelf->all.count * sizeof row);
            assert_non_null(shelf->rows);
        } else {
            free((void *) (uintptr_t) shelf->rows[at].rule);
            free((void *) (uintptr_t) shelf->rows[at].sowing);
        }
        shelf->rows[at] = row;
    }
    for (size_t i = shelf->all.count; i-- > 0;)
        if (db_date_known(shelf->rows[i].gone) && shelf->rows[i].gone.day < today.day - DB_POSITION_KEPT)
            shelf_drop(shelf, i);
    shelf->all.rows = shelf->rows;
    return moves.count;
}

static inline void shelf_free(struct shelf *shelf)
{
    while (shelf->all.count)
        shelf_drop(shelf, 0);
    free(shelf->rows);
    *shelf = (struct shelf){ 0 };
}

#endif
