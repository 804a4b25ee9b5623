/* Hours and intervals become local days. Time is cut into cells of five minutes, into which every zone's midnight falls
 * evenly; what one place in the answer has said of a cell, a coarser one does not say again. */
#include "read/forecast.h"

#include <math.h>
#include <string.h>

#include "base/banned.h"

enum {
    CELL = 300,
    HOUR = 3600,
    DAYS_BACK = 3,
    DAYS_ON = 20,
    DAYS = DAYS_BACK + 1 + DAYS_ON,
    CELLS = DAYS * 300, /* of 25 hours each, all of them */
    ENOUGH = 20 * HOUR / CELL
};

/* Outside these somebody's sensor or unit is wrong. */
static const struct {
    double least, most;
    const char *unit;
} bounds[DB_FIGURE_COUNT] = {
    [DB_FIGURE_LOW] = { -60, 60, "°C" },
    [DB_FIGURE_HIGH] = { -60, 60, "°C" },
    [DB_FIGURE_RAIN] = { 0, 500, "mm" },
    [DB_FIGURE_WIND] = { 0, 120, "m/s" },
};

/* Moments this far apart still tell what lies between them: for extremes three hours, for a mean six. */
static const int64_t reach[DB_FIGURE_COUNT] = {
    [DB_FIGURE_LOW] = 3 * HOUR, [DB_FIGURE_HIGH] = 3 * HOUR, [DB_FIGURE_RAIN] = 0, [DB_FIGURE_WIND] = 6 * HOUR
};

struct db_tally {
    const struct db_asker *asker;
    struct db_arena *arena;
    struct db_mistakes *mistakes;
    struct db_date first, today;
    int64_t starts[DAYS + 1];
    bool covered[DB_FIGURE_COUNT][CELLS];
    double amount[CELLS], speed[CELLS]; /* rain in the cell; wind */
    double extreme[2][DAYS];            /* low and high */
    bool spoilt[DAYS];                  /* something said of it cannot be true */
};

struct db_tally *db_tally_new(const struct db_asker *asker, const struct db_zone *zone, struct db_arena *arena,
                              struct db_mistakes *mistakes)
{
    struct db_tally *t = db_arena_get(arena, 1, sizeof *t);

    if (!t)
        return NULL;
    t->asker = asker;
    t->arena = arena;
    t->mistakes = mistakes;
    t->today = db_zone_day(zone, asker->now);
    t->first = db_date_add(t->today, -DAYS_BACK);
    for (int d = 0; d <= DAYS; d++)
        t->starts[d] = db_zone_day_start(zone, db_date_add(t->first, d));
    for (size_t d = 0; d < DAYS; d++)
        t->extreme[DB_FIGURE_LOW][d] = t->extreme[DB_FIGURE_HIGH][d] = (double) NAN;
    return t;
}

/* Rounded down, also before the first cell. */
static int64_t cell_of(const struct db_tally *t, int64_t time)
{
    const int64_t since = time - t->starts[0];

    return since >= 0 ? since / CELL : -((-since + CELL - 1) / CELL);
}

static int64_t cells_to(const struct db_tally *t, size_t day)
{
    return cell_of(t, t->starts[day]);
}

/* The day that holds a moment; SIZE_MAX: none of ours. */
static size_t day_at(const struct db_tally *t, int64_t time)
{
    if (time < t->starts[0])
        return SIZE_MAX;
    for (size_t d = 0; d < DAYS; d++)
        if (time < t->starts[d + 1])
            return d;
    return SIZE_MAX;
}

/* A span's cells, cut to ours. */
struct run {
    int64_t from, to;
};

static struct run run_of(const struct db_tally *t, int64_t from, int64_t to)
{
    const int64_t end = cells_to(t, DAYS);
    struct run run = { cell_of(t, from), cell_of(t, to) };

    if (run.from < 0)
        run.from = 0;
    if (run.to > end)
        run.to = end;
    return run;
}

static int64_t covered_in(const struct db_tally *t, enum db_figure f, struct run run)
{
    int64_t count = 0;

    for (int64_t c = run.from; c < run.to; c++)
        count += t->covered[f][c];
    return count;
}

static void lean(struct db_tally *t, enum db_figure f, size_t day, double value)
{
    double *extreme = &t->extreme[f][day];

    if (isnan(*extreme) || (f == DB_FIGURE_LOW ? value < *extreme : value > *extreme))
        *extreme = value;
}

/* Every cell of a run has this value, or values on the line from it to `then`. */
static void put_line(struct db_tally *t, enum db_figure f, int64_t from, int64_t to, double value, double then)
{
    const struct run run = run_of(t, from, to);
    size_t day = 0;

    for (int64_t c = run.from; c < run.to; c++) {
        const double part = (double) (t->starts[0] + c * CELL - from) / (double) (to - from);
        const double here = value + (then - value) * (part < 0 ? 0 : part);

        while (day + 1 < DAYS && c >= cells_to(t, day + 1))
            day++;
        if (t->covered[f][c])
            continue;
        t->covered[f][c] = true;
        if (f == DB_FIGURE_WIND)
            t->speed[c] = here;
        else
            lean(t, f, day, here);
    }
}

static void add_moments(struct db_tally *t, enum db_figure f, const struct db_sample *s, size_t count)
{
    int64_t gap = 0;

    for (size_t i = 0; i < count; i++) {
        const bool known = !isnan(s[i].value);
        const size_t day = day_at(t, s[i].from);
        const bool next = i + 1 < count && s[i + 1].from - s[i].from <= reach[f] && !isnan(s[i + 1].value);

        /* A value at a moment is true even where it says nothing of the time around it. */
        if (known && day != SIZE_MAX && f != DB_FIGURE_WIND)
            lean(t, f, day, s[i].value);
        if (next)
            gap = s[i + 1].from - s[i].from;
        if (known && next)
            put_line(t, f, s[i].from, s[i + 1].from, s[i].value, s[i + 1].value);
        else if (known && gap > 0 && i + 1 == count)
            put_line(t, f, s[i].from, s[i].from + gap, s[i].value, s[i].value);
    }
}

/* The extreme of a span belongs to the day that holds its middle: a low of the night to the morning, not to the evening
 * before. It counts unless a finer place has told most of the span. */
static void add_extreme(struct db_tally *t, enum db_figure f, const struct db_sample *s)
{
    const struct run run = run_of(t, s->from, s->to);
    const size_t day = day_at(t, s->from + (s->to - s->from) / 2);

    if (run.to <= run.from || 2 * covered_in(t, f, run) > run.to - run.from)
        return;
    for (int64_t c = run.from; c < run.to; c++)
        t->covered[f][c] = true;
    if (day != SIZE_MAX)
        lean(t, f, day, s->value);
}

/* The rain of a span, less what finer places have told of it, lies evenly over the cells that nobody has told. */
static void add_rain(struct db_tally *t, const struct db_sample *s)
{
    const struct run run = run_of(t, s->from, s->to);
    const int64_t all = cell_of(t, s->to) - cell_of(t, s->from);
    const int64_t left = all - covered_in(t, DB_FIGURE_RAIN, run);
    double rest = s->value;

    for (int64_t c = run.from; c < run.to; c++)
        rest -= t->amount[c];
    for (int64_t c = run.from; left > 0 && c < run.to; c++) {
        if (t->covered[DB_FIGURE_RAIN][c])
            continue;
        t->covered[DB_FIGURE_RAIN][c] = true;
        t->amount[c] = rest > 0 ? rest / (double) left : 0;
    }
}

/* Bounds of a value before it is mixed with others. Its days are spoilt if it lies outside. */
static bool can_be(struct db_tally *t, enum db_figure f, const struct db_sample *s)
{
    char buffer[11];

    if (s->value >= bounds[f].least && s->value <= bounds[f].most)
        return true;
    for (size_t d = 0; d < DAYS; d++) {
        const bool touched = s->from < t->starts[d + 1] && (s->to > t->starts[d] || s->from >= t->starts[d]);

        if (!touched || t->spoilt[d])
            continue;
        t->spoilt[d] = true;
        db_mistakes_advise(t->mistakes, (struct db_place){ .file = t->asker->name }, "",
                           "%s is left out: its %s of %d %s cannot be true",
                           db_date_iso(db_date_add(t->first, (int32_t) d), buffer), db_figure_word(f),
                           isfinite(s->value) && fabs(s->value) < 1e9 ? (int) lround(s->value) : 999999999,
                           bounds[f].unit);
    }
    return false;
}

void db_tally_add(struct db_tally *t, enum db_figure f, const struct db_source_way *way,
                  const struct db_sample *samples, size_t count)
{
    struct db_sample *moments = db_arena_get(t->arena, count, sizeof *moments);
    size_t kept = 0;

    if (!moments)
        return;
    for (size_t i = 0; i < count; i++) {
        struct db_sample s = samples[i];

        if (!isnan(s.value) && !can_be(t, f, &s))
            s.value = (double) NAN;
        if (s.from == s.to)
            moments[kept++] = s;
        else if (isnan(s.value))
            continue;
        else if (f == DB_FIGURE_RAIN)
            add_rain(t, &s);
        else if (f == DB_FIGURE_WIND || way->itself)
            put_line(t, f, s.from, s.to, s.value, s.value);
        else
            add_extreme(t, f, &s);
    }
    if (f != DB_FIGURE_RAIN)
        add_moments(t, f, moments, kept);
}

/* One figure of one day, NaN where too little of it is told; ret_part: less than enough of it is. */
static double figure_of(const struct db_tally *t, enum db_figure f, size_t day, bool *ret_part)
{
    const struct run run = { cells_to(t, day), cells_to(t, day + 1) };
    const int64_t told = covered_in(t, f, run);
    double sum = 0;

    *ret_part = told < ENOUGH;
    if (*ret_part && t->first.day + (int32_t) day != t->today.day)
        return (double) NAN;
    if (f <= DB_FIGURE_HIGH)
        return t->extreme[f][day];
    for (int64_t c = run.from; c < run.to; c++)
        if (t->covered[f][c])
            sum += f == DB_FIGURE_RAIN ? t->amount[c] : t->speed[c];
    if (!told)
        return (double) NAN;
    return f == DB_FIGURE_RAIN ? sum : sum / (double) told;
}

enum db_status db_tally_days(struct db_tally *t, struct db_answer *ret)
{
    struct db_told_day *days = db_arena_get(t->arena, DAYS, sizeof *days);
    size_t count = 0;

    if (!days)
        return DB_FULL;
    for (size_t d = 0; d < DAYS; d++) {
        struct db_told_day day = { .date = db_date_add(t->first, (int32_t) d) };
        bool part[DB_FIGURE_COUNT], known = false;
        char buffer[11];

        for (enum db_figure f = DB_FIGURE_LOW; f < (enum db_figure) DB_FIGURE_COUNT; f++)
            day.figures[f] = figure_of(t, f, d, &part[f]);
        if (isnan(day.figures[DB_FIGURE_LOW]) || isnan(day.figures[DB_FIGURE_HIGH]))
            day.figures[DB_FIGURE_LOW] = day.figures[DB_FIGURE_HIGH] = (double) NAN;
        for (enum db_figure f = DB_FIGURE_LOW; f < (enum db_figure) DB_FIGURE_COUNT; f++)
            known = known || !isnan(day.figures[f]);
        if (!known || t->spoilt[d])
            continue;
        if (day.figures[DB_FIGURE_LOW] > day.figures[DB_FIGURE_HIGH] ||
            day.figures[DB_FIGURE_RAIN] > bounds[DB_FIGURE_RAIN].most) {
            db_mistakes_advise(t->mistakes, (struct db_place){ .file = t->asker->name }, "", "%s is left out: %s",
                               db_date_iso(day.date, buffer),
                               day.figures[DB_FIGURE_LOW] > day.figures[DB_FIGURE_HIGH]
                                   ? "its low is above its high"
                                   : "it has more than 500 mm of rain");
            continue;
        }
        if (day.date.day == t->today.day)
            ret->part_of_today = part[DB_FIGURE_LOW] || part[DB_FIGURE_HIGH];
        days[count++] = day;
    }
    ret->told.days = days;
    ret->told.count = count;
    return count ? DB_OK : DB_ABSENT;
}
