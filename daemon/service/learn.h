/* How this garden differs from what its source forecasts: learnt from the days that were forecast before they began and
 * measured in the gardener's own file. */
#ifndef DB_SERVICE_LEARN_H
#define DB_SERVICE_LEARN_H

#include "read/read.h"
#include "record/record.h"

/* Keeps what an answer says of the days after `today`, the day on which it came. url: what was asked. */
DB_MUST_USE enum db_status db_learn_said(struct db_record *record, const struct db_estate *estate, const char *url,
                                         const struct db_told *told, struct db_date today);
/* Keeps what the gardener's file says of the days before `today` that were forecast, as far as it is new: *ret_news says
 * whether anything was. */
DB_MUST_USE enum db_status db_learn_measured(struct db_record *record, const struct db_estate *estate, const char *url,
                                             struct db_date today, struct db_arena *arena, bool *ret_news);
/* The bias of low and high as it stands on `today`. Nothing is learnt (all 0) where the plan says `learn = no` or has no
 * `observed`; nor of lows where it says how much colder nights are. Lows are raised by 2 K at most. */
DB_MUST_USE enum db_status db_learn_bias(struct db_record *record, const struct db_estate *estate, const char *url,
                                         struct db_date today, struct db_arena *arena, struct db_bias ret[2]);

#endif
