/* A program run with a text on its standard input: no shell, a clean environment, a process group of its own, a limit on
 * its time. Its end arrives on the loop through a pidfd. */
#ifndef DB_SERVICE_COMMAND_H
#define DB_SERVICE_COMMAND_H

#include "service/loop.h"

struct db_command;

/* done: it ended with status 0; else `trouble` says how it ended, with the beginning of what it wrote to standard error. */
typedef void db_command_ended(void *context, bool done, const char *trouble);

struct db_order {
    const char *const *words;       /* program with its whole path, arguments; NULL-terminated */
    const char *const *environment; /* "NAME=value", NULL-terminated; all that it gets */
    const char *input;              /* copied */
    size_t length;
    int seconds; /* then its whole group is killed */
};

/* Starts it. NULL: it could not be started, `why` says it; else the callback comes once, later, from the loop, and the
 * command is gone with it. Standard output goes nowhere. */
struct db_command *db_command_run(struct db_loop *loop, const struct db_order *order, db_command_ended *ended,
                                  void *context, char why[256]);
/* Kills the group and waits for its leader; the callback does not come. NULL allowed; returns NULL. */
struct db_command *db_command_kill(struct db_command *command);

#endif
