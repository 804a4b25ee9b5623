#include "read/value.h"

#include "base/text.h"
#include "read/files.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "base/banned.h"

enum { AMOUNT_TEXT = 64 };

/* Bytes of the blank at the start of a text: ordinary, tab, no-break or narrow no-break (SI style puts those between a
 * number and its unit); 0: none. */
static size_t blank_at(const char *text, size_t length)
{
    if (length && (text[0] == ' ' || text[0] == '\t'))
        return 1;
    if (length >= 2 && memcmp(text, "\xC2\xA0", 2) == 0)
        return 2;
    if (length >= 3 && memcmp(text, "\xE2\x80\xAF", 3) == 0)
        return 3;
    return 0;
}

struct db_span db_span_all(const struct db_words *words)
{
    return (struct db_span){ words, 0, words->length };
}

const char *db_span_start(struct db_span span)
{
    return span.words->text + span.from;
}

size_t db_span_length(struct db_span span)
{
    return span.to - span.from;
}

struct db_span db_span_trim(struct db_span span)
{
    for (size_t blank; (blank = blank_at(db_span_start(span), db_span_length(span))) != 0;)
        span.from += blank;
    while (span.to > span.from && (span.words->text[span.to - 1] == ' ' || span.words->text[span.to - 1] == '\t'))
        span.to--;
    return span;
}

struct db_place db_span_place(struct db_span span)
{
    return db_words_place(span.words, span.from, db_span_length(span));
}

bool db_span_is(struct db_span span, const char *word)
{
    return db_text_is(db_span_start(span), db_span_length(span), word);
}

char *db_span_text(struct db_span span, struct db_arena *arena)
{
    return db_arena_text(arena, db_span_start(span), db_span_length(span));
}

bool db_span_next(struct db_span whole, char separator, size_t *at, struct db_span *ret)
{
    const char *end;

    if (*at > whole.to)
        return false;
    end = memchr(whole.words->text + *at, separator, whole.to - *at);
    const size_t stop = end ? (size_t) (end - whole.words->text) : whole.to;
    *ret = db_span_trim((struct db_span){ whole.words, *at, stop });
    *at = stop + 1;
    return true;
}

#define REFUSE(to, span, instead, ...) db_mistakes_add((to).mistakes, db_span_place(span), instead, __VA_ARGS__)
#define SHOW(span) (int) db_span_length(span), db_span_start(span)

const char *db_did_you_mean(struct db_reader to, const char *word, const char *const *names, size_t count)
{
    const char *near = db_nearest(word, names, count);

    return near ? db_say(to.scratch, "did you mean \"%s\"?", near) : "";
}

const char *db_words_list(struct db_reader to, const char *const *words)
{
    char buffer[512];
    struct db_text text = db_text_in(buffer, sizeof buffer);

    for (size_t i = 0; words[i]; i++) {
        db_text_add(&text, !i ? "" : words[i + 1] ? ", " : " or ");
        db_text_add(&text, words[i]);
    }
    return db_say(to.scratch, "%s", buffer);
}

/* A number written with the measure's unit: what the gardener may have meant. */
static const char *suggested(const struct db_measure *m, struct db_reader to, const char *number, size_t length)
{
    return m->unit[0] ? db_say(to.scratch, "write %.*s %s", (int) length, number, m->unit)
                      : db_say(to.scratch, "write %.*s", (int) length, number);
}

static const char *example_of(const struct db_measure *m, struct db_reader to)
{
    if (m->hint)
        return m->hint;
    if (!m->unit[0])
        return "write a number, as in 6";
    return db_say(to.scratch, "write %s, as in %s %s", db_kind_text(m->kind),
                  m->kind == DB_KIND_TEMPERATURE ? "10" : "3", m->unit);
}

static void amount_words(double value, enum db_kind kind, char buffer[AMOUNT_TEXT])
{
    (void) db_amount_text((struct db_amount){ value, kind }, false, buffer, AMOUNT_TEXT);
}

/* Reads one number and, where the kind has units, its unit. */
struct pair {
    double number;
    size_t number_length;       /* bytes */
    const struct db_unit *unit; /* NULL: none written */
    size_t used;                /* bytes of all of it */
};

static bool read_pair(struct db_span span, struct pair *ret)
{
    const char *text = db_span_start(span);
    const size_t length = db_span_length(span);
    size_t used = 0, unit_used = 0;

    *ret = (struct pair){ 0 };
    if (db_number_read(text, length, &ret->number, &used) != DB_OK)
        return false;
    ret->number_length = ret->used = used;
    for (size_t blank; (blank = blank_at(text + used, length - used)) != 0;)
        used += blank;
    ret->unit = db_unit_find(text + used, length - used, &unit_used);
    if (ret->unit)
        ret->used = used + unit_used;
    return true;
}

/* What follows a number, and its unit if it has one, and belongs to neither. */
static void refuse_rest(struct db_span amount, const struct pair *pair, const struct db_measure *m, struct db_reader to)
{
    const struct db_span rest = db_span_trim((struct db_span){ amount.words, amount.from + pair->used, amount.to });
    const char *text = db_span_start(rest), *names[80], *near = "";
    const size_t length = db_span_length(rest);
    char *word = db_span_text(rest, to.scratch);
    size_t count = 0;

    for (size_t i = 0; db_unit_at(i) && count < sizeof names / sizeof names[0]; i++)
        if (db_unit_at(i)->kind == m->kind)
            names[count++] = db_unit_at(i)->name;
    if (word && strlen(word) > 1)
        near = db_did_you_mean(to, word, names, count);
    if (text[0] == ',' && length > 1 && text[1] >= '0' && text[1] <= '9')
        REFUSE(to, rest, "write a point, as in 1.5", "a comma cannot stand in a number");
    else if (text[0] == '-' || (unsigned char) text[0] == 0xE2) /* a hyphen or a dash */
        REFUSE(to, rest, "write a range with two points, as in 10 .. 20", "\"%.*s\" follows the amount", SHOW(rest));
    else if (!m->unit[0])
        REFUSE(to, rest, m->hint ? m->hint : suggested(m, to, db_span_start(amount), pair->number_length),
               "\"%.*s\" follows the number", SHOW(rest));
    else if (pair->unit)
        REFUSE(to, rest, "take it out", "\"%.*s\" follows the amount", SHOW(rest));
    else
        REFUSE(to, rest, *near ? near : suggested(m, to, db_span_start(amount), pair->number_length),
               "\"%.*s\" is no unit of %s", SHOW(rest), db_kind_text(m->kind));
}

/* Checks the unit's kind and turns the pair into the kind's own unit. */
static bool in_own_unit(struct db_span span, const struct pair *pair, const struct db_measure *m, struct db_reader to,
                        double *ret)
{
    const struct db_span written = { span.words, span.from, span.from + pair->used };

    if (!pair->unit) {
        if (m->kind == DB_KIND_NUMBER) {
            *ret = pair->number;
            return true;
        }
        REFUSE(to, written, suggested(m, to, db_span_start(span), pair->number_length), "%.*s what?",
               (int) pair->number_length, db_span_start(span));
        return false;
    }
    if (m->kind == DB_KIND_WARMTH && pair->unit->kind == DB_KIND_TEMPERATURE) { /* so many degrees more or less */
        *ret = pair->number * pair->unit->factor;
        return true;
    }
    if (pair->unit->kind != m->kind) {
        REFUSE(to, written,
               m->kind == DB_KIND_NUMBER ? suggested(m, to, db_span_start(span), pair->number_length)
                                         : example_of(m, to),
               "%.*s is %s, not %s", SHOW(written), db_kind_text(pair->unit->kind),
               m->kind == DB_KIND_NUMBER ? "a plain number" : db_kind_text(m->kind));
        return false;
    }
    *ret = pair->number * pair->unit->factor + pair->unit->offset;
    return true;
}

static bool in_bounds(struct db_span span, double value, const struct db_measure *m, struct db_reader to)
{
    char least[AMOUNT_TEXT], most[AMOUNT_TEXT];
    /* Half of the last bits: 15 cm written in inches must not fall outside 150 mm. */
    const double slack = 1e-9 * fmax(1, fabs(value));

    if (value < m->least - slack || value > m->most + slack) {
        amount_words(m->least, m->kind, least);
        amount_words(m->most, m->kind, most);
        REFUSE(to, span, m->unit[0] ? "check the number and the unit" : "check the number",
               "%.*s is not between %s and %s", SHOW(span), least, most);
        return false;
    }
    if (m->whole && value != floor(value)) {
        REFUSE(to, span, "write a whole number", "%.*s is not a whole number", SHOW(span));
        return false;
    }
    return true;
}

/* Reads number and unit, and further pairs ("14 h 30 min", "5 ft 6 in") where sums make sense. inherit: the unit of a
 * pair that has none. */
static bool read_amount(struct db_span span, const struct db_measure *m, const struct db_unit *inherit,
                        struct db_reader to, double *ret)
{
    const bool sums = m->kind == DB_KIND_TIME || m->kind == DB_KIND_LENGTH;
    const struct db_span whole = span = db_span_trim(span);
    struct pair pair = { 0 }, pair_before = { 0 };
    struct db_span before = span;
    double total = 0, part;

    if (span.from == span.to) {
        REFUSE(to, span, example_of(m, to), "%s is missing", db_kind_text(m->kind));
        return false;
    }
    do {
        const char first = db_span_start(span)[0];
        const bool more = span.from > whole.from;
        /* Further pairs have no sign: "3 m -4 m" is a range in the wrong dress. */
        if ((more && !(first >= '0' && first <= '9')) || !read_pair(span, &pair)) {
            if (!more)
                REFUSE(to, span, example_of(m, to), "\"%.*s\" is not %s", SHOW(span), db_kind_text(m->kind));
            else
                refuse_rest(before, &pair_before, m, to);
            return false;
        }
        if (!pair.unit)
            pair.unit = inherit;
        const struct db_span rest = { span.words, span.from + pair.used, span.to };
        /* "3 metres": the word that is no unit is at fault, not its absence. */
        if (rest.from < rest.to && (!pair.unit || !sums || pair.unit == inherit)) {
            if (pair.unit && pair.unit->kind != m->kind)
                (void) in_own_unit(span, &pair, m, to, &part);
            else
                refuse_rest(span, &pair, m, to);
            return false;
        }
        if (!in_own_unit(span, &pair, m, to, &part))
            return false;
        total += part;
        before = span;
        pair_before = pair;
        span = db_span_trim(rest);
    } while (span.from < span.to);
    if (!in_bounds(whole, total, m, to))
        return false;
    *ret = total;
    return true;
}

bool db_value_amount(struct db_span span, const struct db_measure *measure, struct db_reader to, double *ret)
{
    return read_amount(span, measure, NULL, to, ret);
}

/* The unit that the span ends with, if its first part is a number and a unit and no more. */
static const struct db_unit *unit_of(struct db_span span)
{
    struct pair pair;

    span = db_span_trim(span);
    return read_pair(span, &pair) && pair.used == db_span_length(span) ? pair.unit : NULL;
}

bool db_value_range(struct db_span span, const struct db_measure *measure, struct db_reader to, double *ret_low,
                    double *ret_high)
{
    const char *dots = memmem(db_span_start(span), db_span_length(span), "..", 2);
    double low, high;

    if (!dots) {
        if (!read_amount(span, measure, NULL, to, &low))
            return false;
        *ret_low = *ret_high = low;
        return true;
    }
    const size_t at = (size_t) (dots - span.words->text);
    const struct db_span left = { span.words, span.from, at }, right = { span.words, at + 2, span.to };
    const bool left_read = read_amount(left, measure, unit_of(right), to, &low);
    if (!read_amount(right, measure, NULL, to, &high) || !left_read)
        return false;
    if (low > high) {
        const struct db_span a = db_span_trim(left), b = db_span_trim(right);

        REFUSE(to, db_span_trim(span), db_say(to.scratch, "write %.*s .. %.*s", SHOW(b), SHOW(a)),
               "the range runs from high to low");
        return false;
    }
    *ret_low = low;
    *ret_high = high;
    return true;
}

bool db_value_size(struct db_span span, const struct db_measure *measure, struct db_reader to, double *ret_width,
                   double *ret_length)
{
    const char *text = db_span_start(span);
    const size_t length = db_span_length(span);
    size_t at = length, after = length;
    double width, other;

    for (size_t i = 0; i < length && at == length; i++) {
        if (text[i] == 'x' || text[i] == 'X') {
            at = i;
            after = i + 1;
        } else if (i + 1 < length && memcmp(text + i, "\xC3\x97", 2) == 0) { /* the multiplication sign */
            at = i;
            after = i + 2;
        }
    }
    if (at == length) {
        REFUSE(to, span, "write it as 1.2 m x 3 m", "\"%.*s\" is not a size", SHOW(span));
        return false;
    }
    const struct db_span left = { span.words, span.from, span.from + at };
    const struct db_span right = { span.words, span.from + after, span.to };
    const bool left_read = read_amount(left, measure, unit_of(right), to, &width);
    if (!read_amount(right, measure, NULL, to, &other) || !left_read)
        return false;
    *ret_width = width;
    *ret_length = other;
    return true;
}

/* Up to three numbers with one separator between them, as in 14/06/2026; how many there are. */
static size_t split_numbers(const char *text, size_t length, int parts[3])
{
    size_t count = 0, at = 0;

    while (at < length && count < 3) {
        int value = 0;
        const size_t first = at;

        for (; at < length && text[at] >= '0' && text[at] <= '9' && value < 100000; at++)
            value = value * 10 + (text[at] - '0');
        if (at == first)
            return 0;
        parts[count++] = value;
        if (at < length && count < 3 && strchr("-/. ", text[at]) == NULL)
            return 0;
        at += at < length;
    }
    return at >= length ? count : 0;
}

static const char *iso(struct db_reader to, int year, int month, int day)
{
    struct db_date date;
    char buffer[11];

    if (db_date_of(year, month, day, &date) != DB_OK)
        return "write year, month and day, as in 2026-06-14";
    return db_say(to.scratch, "write it as %s", db_date_iso(date, buffer));
}

/* The day as it should have been written, if it can only mean one. */
static const char *likely_date(struct db_span span, struct db_reader to)
{
    static const char general[] = "write year, month and day, as in 2026-06-14";
    struct db_date date;
    int p[3];

    if (db_span_length(span) > 10 && db_date_read(db_span_start(span), 10, &date) == DB_OK)
        return db_say(to.scratch, "write %.10s", db_span_start(span));
    if (split_numbers(db_span_start(span), db_span_length(span), p) != 3)
        return general;
    if (p[0] > 1000)
        return iso(to, p[0], p[1], p[2]);
    if (p[2] > 1000 && (p[0] > 12 || p[0] == p[1]))
        return iso(to, p[2], p[1], p[0]);
    if (p[2] > 1000 && p[1] > 12)
        return iso(to, p[2], p[0], p[1]);
    return general;
}

/* Says why the calendar has no such day. The text is shaped as a date: digits and hyphens, or a day, a name, a year. */
static void refuse_day(struct db_span span, struct db_reader to)
{
    const char *text = db_span_start(span);
    const size_t length = db_span_length(span);
    int p[3] = { 0 };
    int month = 0, year = 0;

    if (split_numbers(text, length, p) == 3) {
        year = p[0];
        month = p[1];
        if (month < 1 || month > 12) {
            REFUSE(to, span, "write year, month, day, as in 2026-06-14", "there is no month %d", month);
            return;
        }
    } else {
        size_t at = 0;

        while (at < length && !((text[at] | 0x20) >= 'a' && (text[at] | 0x20) <= 'z'))
            at++;
        for (int m = 1; m <= 12 && at + 3 <= length; m++) {
            const char *name = db_date_month_name(m, true);

            if ((text[at] | 0x20) == (name[0] | 0x20) && (text[at + 1] | 0x20) == name[1] &&
                (text[at + 2] | 0x20) == name[2])
                month = m;
        }
        for (size_t i = length > 4 ? length - 4 : 0; i < length && text[i] >= '0' && text[i] <= '9'; i++)
            year = year * 10 + (text[i] - '0');
    }
    if (!month || year < 1583) {
        REFUSE(to, span, "check day, month and year", "there is no day %.*s", SHOW(span));
        return;
    }
    const int days = db_date_days_in_month(year, month);
    if (month == 2)
        REFUSE(to, span, "choose another day", "there is no day %.*s: February %d has %d days", SHOW(span), year, days);
    else
        REFUSE(to, span, "choose another day", "there is no day %.*s: %s has %d days", SHOW(span),
               db_date_month_name(month, false), days);
}

bool db_value_date(struct db_span span, struct db_reader to, struct db_date *ret)
{
    enum { YEAR_LEAST = 1950, YEAR_MOST = 2150 };
    struct db_date date;
    int year;

    switch (db_date_read(db_span_start(span), db_span_length(span), &date)) {
    case DB_OK:
        break;
    case DB_ABSENT:
        refuse_day(span, to);
        return false;
    default:
        REFUSE(to, span, likely_date(span, to), "\"%.*s\" is not a date", SHOW(span));
        return false;
    }
    db_date_parts(date, &year, NULL, NULL);
    if (year < YEAR_LEAST || year > YEAR_MOST) {
        REFUSE(to, span, "check the year", "the year %d is not between %d and %d", year, YEAR_LEAST, YEAR_MOST);
        return false;
    }
    *ret = date;
    return true;
}

bool db_value_season_day(struct db_span span, struct db_reader to, struct db_date *ret)
{
    enum { LEAP_YEAR = 2000 };
    static const char form[] = "write day and month, as in 12 May";
    const char *whole = db_say(to.scratch, "%.*s %d", SHOW(span), LEAP_YEAR);
    struct db_date date;
    int month, day;

    switch (whole ? db_date_read(whole, strlen(whole), ret) : DB_FULL) {
    case DB_OK:
        return true;
    case DB_ABSENT:
        REFUSE(to, span, "choose another day", "there is no day %.*s", SHOW(span));
        return false;
    default:
        break;
    }
    if (db_date_read(db_span_start(span), db_span_length(span), &date) == DB_OK) {
        db_date_parts(date, NULL, &month, &day);
        REFUSE(to, span, db_say(to.scratch, "write %d %s", day, db_date_month_name(month, false)),
               "\"%.*s\" has a year, and this is said of every year", SHOW(span));
    } else {
        REFUSE(to, span, form, "\"%.*s\" is not a day of the year", SHOW(span));
    }
    return false;
}

bool db_value_truth(struct db_span span, struct db_reader to, bool *ret)
{
    if (!db_span_is(span, "yes") && !db_span_is(span, "no")) {
        REFUSE(to, span, "write yes or no", "\"%.*s\" is neither yes nor no", SHOW(span));
        return false;
    }
    *ret = db_span_is(span, "yes");
    return true;
}

bool db_value_word(struct db_span span, const char *const *words, const char *what, struct db_reader to, size_t *ret)
{
    size_t count = 0;

    for (; words[count]; count++)
        if (db_span_is(span, words[count])) {
            *ret = count;
            return true;
        }
    const char *written = db_span_text(span, to.scratch);
    const char *near = written ? db_did_you_mean(to, written, words, count) : "";
    REFUSE(to, span, *near ? near : db_say(to.scratch, "write %s", db_words_list(to, words)), "\"%.*s\" is not %s",
           SHOW(span), what);
    return false;
}
