/* What a morning says, in the form that each outlet takes: a letter, a text, JSON. */
#ifndef DB_SERVICE_MATTER_H
#define DB_SERVICE_MATTER_H

#include "read/outlets.h"
#include "write/write.h"

struct db_matter {
    const struct db_jobs *jobs;
    struct db_date date;
    const char *const *notes; /* sentences that go under the day, NULL-terminated */
    bool quiet;               /* nothing is to be done: one line in place of the day */
    const char *link;         /* address of the garden's page; NULL: none */
    int64_t now;              /* unix seconds */
    int32_t offset;           /* seconds that the garden's clocks are ahead of UTC */
};

enum { DB_MATTER_DAY = 40 };
/* "Thursday 18 June", with the year if `year`. */

char *db_matter_day(struct db_date date, bool year, char buffer[DB_MATTER_DAY]);

/* By what a receiver knows a second copy: "<2026-06-18.mail.me.KEY@host>" for mail, else "2026-06-18.post.hall.KEY". */
const char *db_matter_message(const struct db_matter *matter, const struct db_outlet *outlet, struct db_arena *arena);

/* Adds the bytes for that outlet. */
DB_MUST_USE enum db_status db_matter_write(const struct db_matter *matter, const struct db_outlet *outlet,
                                           const char *message, struct db_arena *arena, struct db_bytes *out);

#endif
