/* Water in the ground of one sowing, day by day, from the day it was sown (or planted out of its tray) to the last day
 * whose weather is observed or forecast. The models and their sources: docs/models.md, "Water". */
#ifndef DB_ENGINE_WATER_H
#define DB_ENGINE_WATER_H

#include "engine/life.h"

/* The books of one sowing at a time, in memory that is used again for the next: what was handed out is good until another
 * sowing is asked for, so a `struct db_jobs` is for one thread. */
struct db_pump;

/* NULL: the arena is full. `courses` must be there, and worked out, when the pump is first run. */
struct db_pump *db_pump_new(const struct db_clocks *clocks, const struct db_course *courses, struct db_arena *arena);
/* Never fails but by an arena that is full, which db_pump_status() then tells. NULL: nothing is known. */
const struct db_moisture *db_pump_run(void *pump, size_t sowing);
enum db_status db_pump_status(const struct db_pump *pump);

#endif
