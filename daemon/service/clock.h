/* The real clock of the loop. */
#ifndef DB_SERVICE_CLOCK_H
#define DB_SERVICE_CLOCK_H

#include "service/loop.h"

/* *ret.context is the clock's own; give the clock back with db_clock_real_free(). DB_TROUBLE: the kernel gave no timer. */
DB_MUST_USE enum db_status db_clock_real(struct db_clock *ret);
void db_clock_real_free(struct db_clock *clock);

#endif
