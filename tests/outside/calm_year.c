/* A year of forecasts that wobble from hour to hour, played to a garden once without and once with calm: how many calendar
 * events are raised (their SEQUENCE), come, and go.
 *
 * calm_year GARDEN RULES NOTES FROM DAYS HOURS NOISE SEED
 *   GARDEN  a plan whose observed weather is the record (record_ahead must be 0: the forecast is made here)
 *   FROM    first day; DAYS how many; HOURS between two evaluations; NOISE 1, or 0 for a forecast that is right
 *
 * tests/kit/erring.h says how the forecast errs. */
#include "dewbell/job.h"
#include "read/read.h"
#include "write/write.h"

#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "kit/erring.h"

enum { SLOTS = 1 << 16, ROWS = SLOTS / 2 };

/* -- what was published: a ledger and a shelf of positions, in memory ------------------------------------------------ */

struct row {
    struct db_event_new event; /* bytes are a copy */
    int seen;                  /* number of the evaluation that had it last */
};
struct ledger {
    struct row *rows;
    uint32_t *table; /* row + 1 by identity */
    size_t count;
};
struct tally {
    size_t raised, came, went, moves, worst;
    size_t rooms; /* jobs that look for room in a bed: how often such an event came or was raised */
};
struct reader { /* somebody who subscribed to the feeds */
    bool calm;
    struct ledger ledger[2];
    struct db_position *positions;
    struct db_positions published;
    struct tally jobs, mornings;
    size_t on_day; /* most events raised in one day */
};

static _Noreturn void fail(const char *what)
{
    (void) fprintf(stderr, "calm_year: %s\n", what);
    exit(1);
}

static void need(bool good, const char *what)
{
    if (!good)
        fail(what);
}

static struct row *find(const struct ledger *ledger, const unsigned char identity[16], uint32_t **ret_slot)
{
    uint64_t word;

    memcpy(&word, identity, sizeof word);
    for (size_t at = (size_t) word % SLOTS;; at = (at + 1) % SLOTS) {
        const uint32_t index = ledger->table[at];

        if (ret_slot)
            *ret_slot = &ledger->table[at];
        if (!index)
            return NULL;
        if (memcmp(ledger->rows[index - 1].event.identity, identity, 16) == 0)
            return &ledger->rows[index - 1];
    }
}

static int issue; /* number of the evaluation */

static bool find_past(void *context, const unsigned char identity[16], struct db_event_past *ret)
{
    struct row *row = find(context, identity, NULL);

    if (!row)
        return false;
    row->seen = issue;
    *ret = (struct db_event_past){ .meaning = row->event.meaning,
                                   .sequence = row->event.sequence,
                                   .created = row->event.created,
                                   .modified = row->event.modified,
                                   .bytes = row->event.bytes,
                                   .length = row->event.length };
    return true;
}

static bool is_room(const char *bytes, size_t length)
{
    static const char words[] = "\nCATEGORIES:Room,";

    for (size_t i = 0; i + sizeof words <= length; i++)
        if (memcmp(bytes + i, words, sizeof words - 1) == 0)
            return true;
    return false;
}

static void put(struct ledger *ledger, const struct db_event_new *fresh, struct tally *tally)
{
    uint32_t *slot;
    struct row *row = find(ledger, fresh->identity, &slot);
    char *bytes = malloc(fresh->length);

    need(bytes && ledger->count < ROWS, "too many events");
    memcpy(bytes, fresh->bytes, fresh->length);
    if (!row || fresh->sequence > row->event.sequence)
        tally->rooms += is_room(bytes, fresh->length);
    if (row) {
        tally->raised += fresh->sequence > row->event.sequence;
        free((void *) (uintptr_t) row->event.bytes);
    } else {
        tally->came++;
        row = &ledger->rows[ledger->count++];
        *slot = (uint32_t) ledger->count;
    }
    row->event = *fresh;
    row->event.bytes = bytes;
    row->seen = issue;
}

static void publish_feed(struct reader *r, const struct db_jobs *jobs, enum db_feed which, int64_t now,
                         struct ledger *ledger, struct tally *tally)
{
    struct db_feed_result feed = { 0 };

    need(db_feed_build(jobs, which, now, 0, true, find_past, ledger, &feed) == DB_OK, "the feed was not built");
    for (size_t i = 0; i < feed.fresh_count; i++)
        put(ledger, &feed.fresh[i], tally);
    for (size_t i = 0; i < ledger->count; i++)
        tally->went += ledger->rows[i].seen == issue - 1;
    db_feed_free(&feed);
    (void) r;
}

static char *copy(const char *text)
{
    char *ret = strdup(text);

    need(ret, "out of memory");
    return ret;
}

static void remember(struct reader *r, const struct db_jobs *jobs, struct db_arena *work)
{
    struct db_positions moves;

    need(db_jobs_moves(jobs, work, &moves) == DB_OK, "the moves were not found");
    for (size_t i = 0; i < moves.count; i++) {
        size_t at = 0;

        while (at < r->published.count && memcmp(r->positions[at].identity, moves.rows[i].identity, 16) != 0)
            at++;
        if (at == r->published.count) {
            r->positions = realloc(r->positions, ++r->published.count * sizeof *r->positions);
            need(r->positions, "out of memory");
        } else {
            free((void *) (uintptr_t) r->positions[at].rule);
            free((void *) (uintptr_t) r->positions[at].sowing);
            r->jobs.moves += r->positions[at].best.day != moves.rows[i].best.day;
        }
        r->positions[at] = moves.rows[i];
        r->positions[at].rule = copy(moves.rows[i].rule);
        r->positions[at].sowing = copy(moves.rows[i].sowing);
    }
    r->published.rows = r->positions;
}

/* -- the year -------------------------------------------------------------------------------------------------------- */

struct note {
    char sowing[64], word[64];
    struct db_date date;
};

static struct note notes[1024];
static size_t note_count;

static void read_notes(const char *name)
{
    FILE *file = fopen(name, "r");
    char line[256], date[64];

    need(file, "there are no notes");
    while (fgets(line, sizeof line, file)) {
        struct note *n = &notes[note_count];

        if (line[0] == '#' || line[0] == ';' || sscanf(line, "%63s %63s %63s", n->sowing, n->word, date) != 3)
            continue;
        need(note_count + 1 < sizeof notes / sizeof notes[0] && db_date_read(date, strlen(date), &n->date) == DB_OK,
             "a note cannot be read");
        note_count++;
    }
    (void) fclose(file);
}

/* As a gardener writes them: none before its day. */
static const struct db_diary *diary_on(struct db_date today, const struct db_garden *garden, struct db_arena *work)
{
    struct db_diary *diary = db_diary_new(work);

    need(diary, "out of memory");
    for (size_t i = 0; i < note_count; i++) {
        const struct db_note note = { .number = (int64_t) i + 1,
                                      .sowing = notes[i].sowing,
                                      .word = notes[i].word,
                                      .date = notes[i].date,
                                      .text = "" };

        need(note.date.day > today.day || db_diary_add(diary, &note) == DB_OK, "out of memory");
    }
    need(db_diary_close(diary, garden) == DB_OK, "out of memory");
    return diary;
}

static void evaluate(struct reader *r, const struct db_view *view, int64_t now, struct db_arena *work)
{
    struct db_view own = *view;
    const struct db_jobs *jobs;
    const size_t before = r->jobs.raised;

    own.published = r->calm ? &r->published : NULL;
    need(db_garden_evaluate(&own, work, &jobs) == DB_OK, "the garden was not evaluated");
    publish_feed(r, jobs, DB_FEED_JOBS, now, &r->ledger[0], &r->jobs);
    publish_feed(r, jobs, DB_FEED_MORNINGS, now, &r->ledger[1], &r->mornings);
    if (r->calm)
        remember(r, jobs, work);
    if (r->jobs.raised - before > r->jobs.worst)
        r->jobs.worst = r->jobs.raised - before;
}

static int64_t numeral(const char *text)
{
    char *end;
    const long long number = strtoll(text, &end, 10);

    need(*text && !*end, "a number is needed");
    return number;
}

static void print(const char *name, const struct reader *r)
{
    printf("%s raised %zu came %zu went %zu mornings %zu at_once %zu rooms %zu\n", name, r->jobs.raised, r->jobs.came,
           r->jobs.went, r->mornings.raised, r->jobs.worst, r->jobs.rooms);
}

int main(int argc, char **argv)
{
    struct db_arena *arena = db_arena_new((size_t) 1 << 30);
    struct db_mistakes *mistakes = arena ? db_mistakes_new(arena) : NULL;
    struct reader readers[2] = { { .calm = false }, { .calm = true } };
    struct erring errors;
    struct db_estate estate;
    struct db_weather *record;
    struct db_date from;
    size_t evaluations = 0;

    need(argc == 9 && mistakes, "GARDEN RULES NOTES FROM DAYS HOURS NOISE SEED");
    need(db_date_read(argv[4], strlen(argv[4]), &from) == DB_OK, "FROM is no date");
    const int days = (int) numeral(argv[5]), hours = (int) numeral(argv[6]);
    const double noise = (double) numeral(argv[7]);
    need(days > 0 && hours > 0, "DAYS and HOURS are above 0");
    read_notes(argv[3]);
    need(db_estate_read(argv[1], argv[2], arena, mistakes, &estate) == DB_OK, "the plan has mistakes");
    /* The record as a whole: the weather as it is known the day after the last one needed. */
    need(db_estate_weather(&estate, db_date_add(from, days + ERRING_AHEAD), arena, mistakes, &record) == DB_OK,
         "the record has mistakes");
    for (size_t i = 0; i < 4; i++) {
        struct ledger *ledger = &readers[i / 2].ledger[i % 2];

        ledger->rows = calloc(ROWS, sizeof *ledger->rows);
        ledger->table = calloc(SLOTS, sizeof *ledger->table);
        need(ledger->rows && ledger->table, "out of memory");
    }
    erring_begin(&errors, from, (uint64_t) numeral(argv[8]));
    for (int64_t hour = 0; hour < (int64_t) days * 24; hour += hours) {
        const struct db_date today = db_date_add(from, (int32_t) (hour / 24));
        struct db_arena *work = db_arena_new((size_t) 1 << 28);
        struct db_told_day told_days[ERRING_AHEAD];
        const struct db_told told = { .source = "made for the test", .days = told_days, .count = ERRING_AHEAD };
        struct db_weather *weather;

        need(work, "out of memory");
        erring_step(&errors, today.day, hours);
        erring_tell(record, &errors, (int) (hour % 24), noise, told_days);
        estate.told = &told;
        need(db_estate_weather(&estate, today, work, mistakes, &weather) == DB_OK, "the weather has mistakes");
        const struct db_view view = { .garden = estate.garden,
                                      .rules = estate.rules,
                                      .weather = weather,
                                      .diary = diary_on(today, estate.garden, work),
                                      .today = today };
        issue++;
        for (int r = 0; r < 2; r++)
            evaluate(&readers[r], &view, (int64_t) from.day * 86400 + hour * 3600, work);
        work = db_arena_free(work);
        evaluations++;
    }
    printf("evaluations %zu\n", evaluations);
    print("without", &readers[0]);
    print("with", &readers[1]);
    return 0;
}
