/* Mornings: once a local date the day's text goes out by each outlet that the plan names. What is to be sent is in the
 * record before anything leaves, so that no crash, clock or zone loses or doubles one. */
#ifndef DB_SERVICE_MORNING_H
#define DB_SERVICE_MORNING_H

#include "service/keeper.h"

struct db_mornings;

/* Looks after the mornings of all gardens of the house, those that come later among them. NULL: out of memory. The loop
 * must not turn any more when it is freed: after the house is closed, before the loop goes. */
struct db_mornings *db_mornings_new(struct db_house *house);
/* Stops what is under way: commands are killed; the record tells the next start what to do. NULL allowed; returns NULL. */
struct db_mornings *db_mornings_free(struct db_mornings *mornings);

/* The moment (unix seconds) at which the morning of `date` is due in a garden: the hour of the clock, or counted from
 * sunrise; never before local midnight nor after 11:00 of that date. Where the sun does not rise, 06:00 stands for
 * sunrise. */
struct db_zone;
int64_t db_morning_due(const struct db_morning_wish *wish, const struct db_site *site, const struct db_zone *zone,
                       struct db_date date);

#endif
