/* What almost every test says of numbers and dates. Include after cmocka.h. */
#ifndef DB_TESTS_KIT_VALUE_H
#define DB_TESTS_KIT_VALUE_H

#include "dewbell/date.h"

#include <math.h>

static inline struct db_date on(int year, int month, int day)
{
    struct db_date date = DB_NO_DATE;

    assert_int_equal(db_date_of(year, month, day, &date), DB_OK);
    return date;
}

/* NaN is close to nothing. */
static inline void close_to(const char *what, double got, double expected, double within)
{
    if (!(fabs(got - expected) <= within))
        fail_msg("%s: %.6f expected, %.6f worked out", what, expected, got);
}

#endif
