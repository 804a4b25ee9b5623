/* What both ways of showing the beds choose from the plot. */
#ifndef DB_WRITE_BEDS_H
#define DB_WRITE_BEDS_H

#include "write/private.h"

#include "dewbell/plot.h"

enum { DB_BEDS_AHEAD = 300, DB_BEDS_TRAYS = 60 }; /* days */

/* Whether it is there on one of the days that are shown. */
bool db_beds_shows(const struct db_jobs *jobs, const struct db_stay *stay);
/* Whether its tray stands in this bed, or will within DB_BEDS_TRAYS days, and is not planted out. */
bool db_beds_has_tray(const struct db_jobs *jobs, size_t sowing, const struct db_bed *bed);

#endif
