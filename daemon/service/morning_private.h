/* What the files of the mornings share. */
#ifndef DB_SERVICE_MORNING_PRIVATE_H
#define DB_SERVICE_MORNING_PRIVATE_H

#include "base/limits.h"
#include "service/command.h"
#include "service/morning.h"

enum { DB_MORNING_NAME = DB_LIMIT_NAME + 1 };

/* A morning on its way by one outlet. */
struct db_carriage {
    struct db_carriage *next;
    struct db_garden_morning *garden; /* NULL: it is gone, and nobody asks any more what came of this */
    struct db_carriage **list;        /* that it stands in */
    struct db_date date;
    char outlet[DB_MORNING_NAME];
    bool mail;
    struct db_command *command; /* NULL: the courier has it */
    /* What came of it and could not be written into the record yet: it must neither be forgotten nor sent again. */
    bool settled;
    enum db_morning_state state;
    int64_t tries, again;
    char trouble[256];
};

/* How often it could not be told whether a morning had arrived. */
struct db_doubt {
    struct db_date date;
    char outlet[DB_MORNING_NAME];
    int count;
};

struct db_garden_morning {
    struct db_garden_morning *next;
    struct db_house *house;
    struct db_keeper *keeper;
    struct db_timer *timer;
    struct db_carriage *carriages;
    struct db_doubt doubts[DB_LIMIT_OUTLETS];
    size_t next_doubt;
    char said[256];       /* the record's trouble as last told; "": it has none */
    bool asked, answered; /* for an evaluation before the morning is written */
    struct db_date asked_for;
    int64_t asked_at; /* steady ms */
};

/* morning.c: looks at what is to be done now, and sets the timer for what comes next. */
void db_morning_look(struct db_garden_morning *garden);
/* Unix seconds. */
int64_t db_morning_now(const struct db_garden_morning *garden);

/* carriage.c */
const struct db_carriage *db_carriage_find(const struct db_garden_morning *garden, struct db_date date,
                                           const char *outlet);
/* Sends one morning, or says in the record why not. DB_TROUBLE, DB_FULL: the record does not take it. */
DB_MUST_USE enum db_status db_carriage_start(struct db_garden_morning *garden, const struct db_morning_row *row);
/* Writes what came of carriages into the record where that failed before. */
DB_MUST_USE enum db_status db_carriage_settle(struct db_garden_morning *garden);
/* Kills commands; what the courier has goes over to `orphans`, and ends there when it comes back. */
void db_carriage_leave(struct db_garden_morning *garden, struct db_carriage **orphans);
/* Frees a list whose errands will not come back. */
void db_carriage_free_all(struct db_carriage **list);

#endif
