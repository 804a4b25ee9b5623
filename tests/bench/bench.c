/* Loads, evaluates and writes gardens of 200, 2 000 and 20 000 sowings, each time beside the yardstick in this same
 * process, and then beside a script in Python. Prints ratios with their spread, memory, allocations, growth and a hash of
 * what came out; never a bare time as a mark.
 * bench FOLDER RULES [SIZE...] */
#include "bench.h"

#include "dewbell/job.h"
#include "read/read.h"
#include "record/record.h"
#include "service/feed_store.h"
#include "write/write.h"

#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>
#include <xxhash.h>

enum { SIZES = 3, ROUNDS = 9 };
static const uint64_t seed = 20130610;
static const int64_t now = 1370844000; /* 10 June 2013, 6:00 UTC */

/* KEEP: where the jobs stand goes on record, as it does once for all feeds. AGAIN: evaluated with that, and nothing to keep. */
enum phase { LOAD, EVALUATE, KEEP, FIRST_WRITE, AGAIN, REWRITE, PHASES };
static const char *const phase_name[PHASES] = { "load",        "evaluate",       "keep places",
                                                "first write", "evaluate again", "unchanged rewrite" };

/* One garden, held from the last round. */
struct held {
    struct db_arena *files, *work, *before; /* before: what `work` was when the garden was evaluated first */
    struct db_mistakes *mistakes;
    struct db_estate estate;
    struct db_weather *weather;
    const struct db_jobs *jobs;
    struct db_feed_result feed;
};

struct figures {
    struct samples time[PHASES], yard, ratio[PHASES], whole;
    size_t sowings, jobs, events, memory, allocations[PHASES];
    unsigned long long hash;
};

static void stop(const char *what)
{
    (void) fprintf(stderr, "bench: %s%s%s\n", what, errno ? ": " : "", errno ? strerror(errno) : "");
    exit(1);
}

static void let_go(struct held *h)
{
    h->files = db_arena_free(h->files);
    h->work = db_arena_free(h->work);
    h->before = db_arena_free(h->before);
    db_feed_free(&h->feed);
    h->feed = (struct db_feed_result){ 0 };
}

static void load(struct held *h, const char *folder, const char *rules, struct db_date today)
{
    char plan[4096];

    (void) snprintf(plan, sizeof plan, "%s/garden.ini", folder);
    h->files = db_arena_new((size_t) 1 << 31);
    h->work = db_arena_new((size_t) 1 << 31);
    if (!h->files || !h->work || !(h->mistakes = db_mistakes_new(h->files)))
        stop("out of memory");
    if (db_estate_read(plan, rules, h->files, h->mistakes, &h->estate) != DB_OK ||
        db_estate_weather(&h->estate, today, h->work, h->mistakes, &h->weather) != DB_OK) {
        const struct db_mistake *m;
        for (size_t i = 0; (m = db_mistakes_at(h->mistakes, i)) != NULL; i++)
            if (!m->advice)
                (void) fprintf(stderr, "%s:%u: %s; %s\n", m->at.file ? m->at.file : "", m->at.line, m->what,
                               m->instead);
        errno = 0;
        stop("the generated garden was refused");
    }
}

static void evaluate(struct held *h, struct db_record *record, struct db_date today)
{
    struct db_view *view = db_arena_get(h->work, 1, sizeof *view);
    struct db_positions *places = db_arena_get(h->work, 1, sizeof *places);

    if (!view || !places)
        stop("out of memory");
    if (db_record_positions(record, h->work, places) != DB_OK)
        stop(db_record_trouble(record));
    *view = (struct db_view){ .garden = h->estate.garden,
                              .rules = h->estate.rules,
                              .weather = h->weather,
                              .diary = NULL,
                              .today = today,
                              .published = places };
    if (db_garden_evaluate(view, h->work, &h->jobs) != DB_OK)
        stop("evaluate failed");
}

static void keep_places(struct held *h, struct db_record *record)
{
    const char *doing = NULL;

    if (db_feed_remember(record, h->jobs, &doing) != DB_OK)
        stop(doing);
}

/* As it would be on the next run, in memory of its own. */
static void evaluate_again(struct held *h, struct db_record *record, struct db_date today)
{
    struct db_arena *before = h->work;

    h->before = before;
    if (!(h->work = db_arena_new((size_t) 1 << 31)))
        stop("out of memory");
    evaluate(h, record, today);
    keep_places(h, record);
}

/* What `dewbell feed` does for one feed. Returns the number of events built. */
static size_t write_feed(struct held *h, struct db_record *record, const char *path)
{
    struct db_feed_result feed = { 0 };
    const char *doing = NULL;
    bool changed;

    const struct db_feed_order order = { .feed = DB_FEED_JOBS, .now = now, .unlimited = true };
    if (db_feed_store_file(record, h->jobs, &order, path, &feed, &changed, &doing) != DB_OK)
        stop(doing);
    if (changed != (feed.changed > 0)) {
        errno = 0;
        stop("a feed changed without a changed event, or the other way round");
    }
    if (feed.bytes.data) /* else it is the one before */
        h->feed = feed;
    return feed.fresh_count;
}

static struct db_record *fresh_record(const char *folder, char path[4096])
{
    static const char *const files[] = { "record.sqlite", "record.sqlite-wal", "record.sqlite-shm", "jobs.ics" };
    struct db_record *record = NULL;
    char trouble[256] = "";

    for (size_t i = 0; i < sizeof files / sizeof files[0]; i++) {
        (void) snprintf(path, 4096, "%s/%s", folder, files[i]);
        (void) unlink(path);
    }
    (void) snprintf(path, 4096, "%s/record.sqlite", folder);
    if (db_record_open(path, &record, trouble) != DB_OK)
        stop(trouble);
    (void) snprintf(path, 4096, "%s/jobs.ics", folder);
    return record;
}

/* The text without its folds; libical tears the end of some lines, which the feed mends, so folds are not compared. */
static char *unfolded(const char *bytes, size_t length, size_t *ret_length)
{
    char *plain = malloc(length + 1);
    size_t to = 0;

    if (!plain)
        stop("out of memory");
    for (size_t i = 0; i < length; i++)
        if (i + 2 < length && bytes[i] == '\r' && bytes[i + 1] == '\n' && bytes[i + 2] == ' ')
            i += 2;
        else
            plain[to++] = bytes[i];
    *ret_length = to;
    return plain;
}

/* The feed's events must be the yardstick's: then both did the same work. */
static void check_same(const struct held *h, const char *bytes, size_t length)
{
    const char *all = h->feed.bytes.data;
    size_t size = h->feed.bytes.length, ours_length, theirs_length;
    const char *first = memmem(all, size, "BEGIN:VEVENT", 12), *end = memmem(all, size, "END:VCALENDAR", 13);

    errno = 0;
    if (!first || !end)
        stop("the feed has no events");
    char *ours = unfolded(first, (size_t) (end - first), &ours_length),
         *theirs = unfolded(bytes, length, &theirs_length);
    if (ours_length != theirs_length || memcmp(ours, theirs, ours_length) != 0)
        stop("the yardstick's events are not those of the feed");
    free(ours);
    free(theirs);
}

/* Phases of one round, in order; times into `into`. */
static void round_of(struct held *h, const char *folder, const char *rules, struct db_date today, struct figures *f,
                     double into[PHASES])
{
    char path[4096];
    struct db_record *record = fresh_record(folder, path);

    let_go(h);
    for (int p = LOAD; p < PHASES; p++) {
        size_t calls = bench_allocations();
        double begun = bench_seconds();
        if (p == LOAD)
            load(h, folder, rules, today);
        else if (p == EVALUATE)
            evaluate(h, record, today);
        else if (p == KEEP)
            keep_places(h, record);
        else if (p == AGAIN)
            evaluate_again(h, record, today);
        else if (write_feed(h, record, path) != 0 && p == REWRITE)
            stop("a rewrite built events anew");
        into[p] = bench_seconds() - begun;
        f->allocations[p] = bench_allocations() - calls;
    }
    record = db_record_close(record);
}

static void measure(const char *folder, const char *rules, size_t sowings, struct figures *f)
{
    struct held h = { 0 };
    struct yardstick *yard = NULL;
    struct db_date today;
    size_t length;

    if (db_date_read(bench_today, strlen(bench_today), &today) != DB_OK)
        stop("bad day");
    if (bench_garden_write(folder, sowings, seed) != 0)
        stop(folder);
    for (int i = -1; i < ROUNDS; i++) { /* the first round warms up and is not counted */
        double time[PHASES], begun, yard_time, whole = 0;
        round_of(&h, folder, rules, today, f, time);
        unsigned long long hash = XXH3_64bits(h.feed.bytes.data, h.feed.bytes.length);
        if (!yard) {
            char *copy = strndup(h.feed.bytes.data, h.feed.bytes.length);
            yard = copy ? yardstick_new(copy) : NULL;
            free(copy);
            if (!yard)
                stop("libical cannot read the feed");
            f->hash = hash;
        }
        if (hash != f->hash)
            stop("the same garden gave other bytes");
        begun = bench_seconds();
        const char *bytes = yardstick_run(yard, &length);
        yard_time = bench_seconds() - begun;
        check_same(&h, bytes, length);
        if (i < 0)
            continue;
        samples_add(&f->yard, yard_time);
        for (int p = LOAD; p < PHASES; p++) {
            samples_add(&f->time[p], time[p]);
            samples_add(&f->ratio[p], time[p] / yard_time);
            whole += p > FIRST_WRITE ? 0 : time[p];
        }
        samples_add(&f->whole, whole);
    }
    f->sowings = sowings;
    f->jobs = db_jobs_count(h.jobs);
    f->events = yardstick_events(yard);
    f->memory = db_arena_taken(h.files) + db_arena_taken(h.before);
    char dump[4096];
    (void) snprintf(dump, sizeof dump, "%s/events.json", folder);
    if (yardstick_dump(yard, dump) != 0)
        stop(dump);
    yardstick_free(yard);
    let_go(&h);
}

static void show(const struct figures *f)
{
    printf("\n%zu sowings: %zu jobs, %zu events in the feed, output %016llx\n", f->sowings, f->jobs, f->events,
           f->hash);
    printf("  %-20s %8s %8s %8s   %s\n", "times libical", "least", "middle", "most", "allocations");
    for (int p = LOAD; p < PHASES; p++)
        printf("  %-20s %8.3f %8.3f %8.3f   %zu\n", phase_name[p], samples_least(&f->ratio[p]),
               samples_middle(&f->ratio[p]), samples_most(&f->ratio[p]), f->allocations[p]);
    printf("  %-20s %8s %8.1f us an event (for scale only)\n", "libical itself", "",
           1e6 * samples_middle(&f->yard) / (double) f->events);
    printf("  arenas: %.1f KiB, %.2f KiB a sowing\n", (double) f->memory / 1024,
           (double) f->memory / 1024 / (double) f->sowings);
}

static int missed;

static void mark(const char *what, double got, const char *sign, double aim)
{
    int met = sign[0] == '<' ? got <= aim : got >= aim;

    missed += !met;
    printf("  %-66s %8.3f  aim %s %g: %s\n", what, got, sign, aim, met ? "met" : "missed");
}

/* The script says how long its own work took, the interpreter's start left out. */
static double run_script(const char *folder, const char *rules)
{
    char command[8192];
    double seconds = 0;

    (void) fflush(stdout);
    (void) snprintf(command, sizeof command, "/usr/bin/python3 tests/bench/script.py '%s' '%s' %s", folder, rules,
                    bench_today);
    FILE *script = popen(command, "r");
    if (!script || fscanf(script, "%lf", &seconds) != 1 || pclose(script) != 0)
        stop("the script failed");
    return seconds;
}

/* Of some sizes only: no script, no growth, no marks. */
static int show_some(const char *folder, const char *rules, char **sizes, int count)
{
    for (int i = 0; i < count; i++) {
        struct figures f = { 0 };
        char *end = NULL, own[2048];
        const unsigned long size = strtoul(sizes[i], &end, 10);

        if (!size || size > 100000 || *end) {
            (void) fprintf(stderr, "bench: %s is no number of sowings from 1 to 100000\n", sizes[i]);
            return 64;
        }
        (void) snprintf(own, sizeof own, "%s/%lu", folder, size);
        measure(own, rules, size, &f);
        show(&f);
        (void) fflush(stdout);
    }
    return 0;
}

int main(int argc, char **argv)
{
    static const size_t all_sizes[SIZES] = { 200, 2000, 20000 };
    struct figures f[SIZES] = { 0 };
    double n[SIZES], t[SIZES];
    char folder[SIZES][2048];

    if (argc < 3) {
        (void) fprintf(stderr, "bench FOLDER RULES [SIZE...]\n");
        return 64;
    }
    (void) mkdir(argv[1], 0777);
    if (argc > 3)
        return show_some(argv[1], argv[2], argv + 3, argc - 3);
    for (size_t i = 0; i < SIZES; i++) {
        (void) snprintf(folder[i], sizeof folder[i], "%s/%zu", argv[1], all_sizes[i]);
        measure(folder[i], argv[2], all_sizes[i], &f[i]);
        show(&f[i]);
        (void) fflush(stdout);
        n[i] = (double) all_sizes[i];
        t[i] = samples_least(&f[i].whole);
    }

    /* The script is handed the finished texts: it fills in no template, explains nothing and keeps no ledger. */
    struct samples script = { 0 }, daily = { 0 }, ceiling = { 0 };
    for (int i = 0; i < 3; i++) { /* in turn with a round of ours */
        struct figures again = { 0 };
        struct held h = { 0 };
        struct db_date today;
        double time[PHASES];
        if (db_date_read(bench_today, strlen(bench_today), &today) != DB_OK)
            stop("bad day");
        round_of(&h, folder[1], argv[2], today, &again, time);
        let_go(&h);
        double its = run_script(folder[1], argv[2]);
        samples_add(&script, its / (time[LOAD] + time[EVALUATE] + time[KEEP] + time[FIRST_WRITE]));
        samples_add(&ceiling, its / samples_least(&f[1].yard));
        samples_add(&daily, its / (time[LOAD] + time[AGAIN] + time[REWRITE]));
    }
    printf("\nPython script over ours, 2 000 sowings %20s %8s %8s\n", "least", "middle", "most");
    printf("  load, evaluate, first write %31.1f %8.1f %8.1f\n", samples_least(&script), samples_middle(&script),
           samples_most(&script));
    printf("  bare libical with the finished texts, and nothing else %4.1f %8.1f %8.1f\n", samples_least(&ceiling),
           samples_middle(&ceiling), samples_most(&ceiling));
    printf("  load, evaluate, rewrite on a day that changes nothing %5.1f %8.1f %8.1f\n", samples_least(&daily),
           samples_middle(&daily), samples_most(&daily));

    printf("Aims\n");
    for (size_t i = 0; i < SIZES; i++) {
        char what[96];
        (void) snprintf(what, sizeof what, "first write over libical, %zu sowings", all_sizes[i]);
        mark(what, samples_middle(&f[i].ratio[FIRST_WRITE]), "<=", 3);
        (void) snprintf(what, sizeof what, "unchanged rewrite over libical, %zu sowings", all_sizes[i]);
        mark(what, samples_middle(&f[i].ratio[REWRITE]), "<=", 0.2);
    }
    mark("growth of load + evaluate + first write, 200 to 20 000: exponent", bench_exponent(n, t, SIZES), "<=", 1.1);
    mark("the same from 2 000 to 20 000", bench_exponent(n + 1, t + 1, SIZES - 1), "<=", 1.1);
    mark("KiB in arenas a sowing, 20 000 sowings", (double) f[2].memory / 1024 / 20000, "<=", 4);
    mark("Python script over load, evaluate, first write, 2 000 sowings", samples_middle(&script), ">=", 20);
    return missed ? 1 : 0;
}
