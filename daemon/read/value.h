/* Values as gardeners write them: amounts with their unit, ranges, days, sizes. Each function reads the whole of a span,
 * says what is wrong with it, and answers whether it could be read. */
#ifndef DB_READ_VALUE_H
#define DB_READ_VALUE_H

#include "dewbell/date.h"
#include "dewbell/mistake.h"
#include "dewbell/units.h"

/* A part of a value. */
struct db_span {
    const struct db_words *words;
    size_t from, to;
};

struct db_span db_span_all(const struct db_words *words);
/* Without the blanks around it. */
struct db_span db_span_trim(struct db_span span);
struct db_place db_span_place(struct db_span span);
const char *db_span_start(struct db_span span);
size_t db_span_length(struct db_span span);
bool db_span_is(struct db_span span, const char *word);
/* Copied, with a NUL after it; NULL when the arena is full. */
char *db_span_text(struct db_span span, struct db_arena *arena);
/* The next part up to `separator` (left out), trimmed; *at moves on behind it. False at the end. */
bool db_span_next(struct db_span whole, char separator, size_t *at, struct db_span *ret);

/* What an amount must be. */
struct db_measure {
    enum db_kind kind;
    const char *unit;   /* to suggest: "cm"; "" for a number */
    double least, most; /* in the kind's own unit */
    bool whole;         /* no fractions */
    const char *hint;   /* what to write where a bare number went wrong; NULL: said in general */
};

/* Where texts of mistakes are made and mistakes go. */
struct db_reader {
    struct db_arena *scratch;
    struct db_mistakes *mistakes;
};

bool db_value_amount(struct db_span span, const struct db_measure *measure, struct db_reader to, double *ret);
/* "A .. B", or a single amount, which is then both. A unit after B alone holds for A too. */
bool db_value_range(struct db_span span, const struct db_measure *measure, struct db_reader to, double *ret_low,
                    double *ret_high);
/* "1.2 m x 3 m" */
bool db_value_size(struct db_span span, const struct db_measure *measure, struct db_reader to, double *ret_width,
                   double *ret_length);
bool db_value_date(struct db_span span, struct db_reader to, struct db_date *ret);
/* "12 May", a day of every year: the date is that of the leap year 2000. */
bool db_value_season_day(struct db_span span, struct db_reader to, struct db_date *ret);
/* "yes" or "no" */
bool db_value_truth(struct db_span span, struct db_reader to, bool *ret);
/* Index of one of the words of a NULL-terminated list. what: "a cover", for the message. */
bool db_value_word(struct db_span span, const char *const *words, const char *what, struct db_reader to, size_t *ret);

/* `did you mean "north"?` of the names near enough; "" if none is. */
const char *db_did_you_mean(struct db_reader to, const char *word, const char *const *names, size_t count);
/* `open, board or fleece` of a NULL-terminated list. */
const char *db_words_list(struct db_reader to, const char *const *words);

#endif
