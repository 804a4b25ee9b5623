/* Named places at which tests let the program die, to see what the record makes of it. Only a build with
 * -DDB_CRASH_POINTS has them: there DEWBELL_CRASH_AT=NAME in the environment kills it at that place, and pauses between
 * tries last a second (their real length is proved on a simulated clock). */
#ifndef DB_SERVICE_CRASH_H
#define DB_SERVICE_CRASH_H

#ifdef DB_CRASH_POINTS
#include <signal.h>
#include <stdlib.h>
#include <string.h>

static inline void db_crash_here(const char *name)
{
    const char *at = getenv("DEWBELL_CRASH_AT");

    if (at && strcmp(at, name) == 0)
        (void) raise(SIGKILL);
}
#define DB_CRASH_POINT(name) db_crash_here(name)
#define DB_CRASH_PAUSE(seconds) ((void) (seconds), 1)
#else
#define DB_CRASH_POINT(name) ((void) 0)
#define DB_CRASH_PAUSE(seconds) (seconds)
#endif

#endif
