/* Calm: a job stays where it was published unless the weather has shifted by enough, or the job is near. What does not
 * come from the weather (a note, an edit) moves it at once. The table stands in docs/models.md, "Calm". */
#define DB_PURE
#include "engine/jobs.h"

#include "base/sort.h"
#include "base/text.h"
#include "rules/run.h"
#include "rules/template.h"

#include <string.h>

#include "base/banned.h"

/* How far off a job is, by how much it has to shift to be moved, and how many days have to lie between two moves. */
static const struct row {
    int32_t beyond, shift, apart;
} rows[] = { { 14, 4, 7 }, { 3, 2, 1 }, { 0, 1, 1 } };
enum { NEAR = 3, EDGE = 4, EDGE_APART = 7, FAR = 14, PART = 20, FAR_PAST = 100000 };

/* A published position of a rule and sowing that are still there. */
struct known {
    size_t rule, sowing;
    const struct db_position *position;
    struct db_date done; /* of a spell: the note that marks it done; no date: none does */
    bool taken;
};

struct calming {
    struct db_jobs *jobs;
    int32_t today;
    struct db_job *out;
    size_t count;
    unsigned char inputs[16]; /* of the group at hand */
    size_t rule, sowing;
    enum db_shape shape;
};

/* The jobs, or the known positions, of one rule and sowing. */
struct group {
    struct db_job *jobs;
    struct known *known;
    size_t job_count, known_count;
};

int db_job_by_subject(const void *a, const void *b, const void *context)
{
    const struct db_job *x = a, *y = b;

    (void) context;
    if (x->rule != y->rule)
        return x->rule < y->rule ? -1 : 1;
    if (x->sowing != y->sowing)
        return x->sowing < y->sowing ? -1 : 1;
    return (x->occurrence > y->occurrence) - (x->occurrence < y->occurrence);
}

static int known_by_subject(const void *a, const void *b, const void *context)
{
    const struct known *x = a, *y = b;

    (void) context;
    if (x->rule != y->rule)
        return x->rule < y->rule ? -1 : 1;
    if (x->sowing != y->sowing)
        return x->sowing < y->sowing ? -1 : 1;
    return (x->position->occurrence > y->position->occurrence) - (x->position->occurrence < y->position->occurrence);
}

static int32_t apart(int32_t a, int32_t b)
{
    return a > b ? a - b : b - a;
}

/* What is months off has to shift by more: nobody minds whether a harvest in half a year begins five days sooner. */
static int32_t enough(int32_t shift, int32_t off)
{
    return off > FAR && off / PART > shift ? off / PART : shift;
}

/* Days since it last moved. A date to come was written by a clock that stood wrong, or is looked back on: no hindrance. */
static int32_t rested(const struct calming *c, const struct db_position *p)
{
    return db_date_known(p->moved) && p->moved.day <= c->today ? c->today - p->moved.day : FAR_PAST;
}

static bool is_same(const struct calming *c, const struct db_position *p)
{
    return memcmp(p->inputs, c->inputs, sizeof c->inputs) == 0;
}

/* How long a job stays that the weather no longer asks for: the rest of the day, and a full day after it if it is a spell
 * that had begun. */
static bool is_waiting(const struct calming *c, const struct db_position *p)
{
    const bool begun = c->shape == DB_SHAPE_WHILE && db_date_known(p->gone) && p->first.day <= p->gone.day;

    return !db_date_known(p->gone) || p->gone.day > c->today || c->today - p->gone.day < (begun ? 2 : 1);
}

static void put_state(const struct calming *c, struct db_job *job)
{
    job->state = job->last.day < c->today ? DB_JOB_MISSED : DB_JOB_OPEN;
}

static struct db_scope scope_on(const struct calming *c, struct db_date day)
{
    struct db_scope scope;

    db_scope_fill(c->jobs, c->sowing, day, &scope);
    return scope;
}

/* Back to where it was published. */
static void keep(const struct calming *c, struct db_job *job)
{
    const struct db_position *p = job->published;

    if (job->best.day != p->best.day) {
        const struct db_scope scope = scope_on(c, p->best);

        job->minutes = db_rule_minutes(c->jobs->view.rules, c->rule, &scope);
    }
    job->first = p->first;
    job->best = p->best;
    job->last = p->last;
    job->there = p->there;
    put_state(c, job);
}

/* Whether its rule's `hold` forbids the day on which the job stands as published; or, of a rule that has one and today, its days
 * begin only later by now, as those of planting do when nights turn cold: it would be asked of a tray on the bench. */
static bool is_forbidden(const struct calming *c, const struct db_job *job)
{
    const struct db_date day = job->published->best;
    const struct db_scope scope = scope_on(c, day);

    return c->jobs->uses[c->rule].holds && ((day.day == c->today && job->first.day > c->today) ||
                                            db_rule_holds(c->jobs->view.rules, c->rule, DB_CLAUSE_HOLD, &scope));
}

/* Whether a job that lies ahead may move to the day `best`. */
static bool may_move(const struct calming *c, const struct db_job *job, int32_t best)
{
    const struct db_position *p = job->published;
    const int32_t off = p->best.day - c->today, shift = apart(best, p->best.day);
    const struct row *row = rows;

    if (shift == 0)
        return false;
    if (c->shape == DB_SHAPE_WHILE && best < p->best.day && best <= c->today + 1)
        return true; /* tonight's frost is never held back */
    if (off <= NEAR && is_forbidden(c, job))
        return true;
    while (off <= row->beyond)
        row++;
    /* Far off as published, but at hand as worked out now: that cannot wait a week. */
    const int32_t wait = best - c->today <= NEAR ? 1 : row->apart;

    return shift >= enough(row->shift, off) && rested(c, p) >= wait;
}

/* The best day stays; the window around it is drawn anew once it has shifted by enough. */
static void settle_window(const struct calming *c, struct db_job *job)
{
    const struct db_position *p = job->published;
    const struct db_date first = job->first, last = job->last;

    keep(c, job);
    if (first.day > p->best.day || last.day < p->best.day || rested(c, p) < EDGE_APART)
        return;
    if (apart(first.day, p->first.day) < enough(EDGE, p->first.day - c->today) &&
        apart(last.day, p->last.day) < enough(EDGE, p->last.day - c->today))
        return;
    job->first = first;
    job->last = last;
    put_state(c, job);
}

/* It is over, as a note or an edit has it worked out now, but was published for days to come: who waits for them has not done it. It
 * is for today then, where its rule allows that. */
static void stay_open(const struct calming *c, struct db_job *job)
{
    const struct db_date today = { c->today };
    const struct db_scope scope = scope_on(c, today);

    keep(c, job);
    if (job->best.day <= c->today ||
        (c->jobs->uses[c->rule].holds && db_rule_holds(c->jobs->view.rules, c->rule, DB_CLAUSE_HOLD, &scope)))
        return;
    job->first.day = job->first.day < c->today ? job->first.day : c->today;
    job->best = today;
    job->minutes = db_rule_minutes(c->jobs->view.rules, c->rule, &scope);
}

/* A job that was published and is still asked for: `job` is as worked out today. */
static void settle(const struct calming *c, struct db_job *job)
{
    const struct db_position *p = job->published;

    if (!is_same(c, p)) {
        if (c->shape == DB_SHAPE_ONCE && job->state == DB_JOB_MISSED && p->last.day >= c->today &&
            !db_date_known(p->gone))
            stay_open(c, job);
        return;
    }
    if (job->state == DB_JOB_DONE) {    /* it was done already when it was published: spells are paired so */
        if (c->shape != DB_SHAPE_EVERY) /* a repeat stands on the day of its note */
            keep(c, job);
        job->state = DB_JOB_DONE;
    } else if (job->last.day < c->today || (p->best.day == c->today && !is_forbidden(c, job))) {
        /* Over, as worked out now: what was published for days to come still stands. And today's job stays today's, unless its
         * rule forbids the day by now: nobody is sent out to plant into a frost that the morning's forecast shows. */
        keep(c, job);
    } else if (p->best.day < c->today) { /* late, or over: it may come again, once a day */
        const bool reopened = p->last.day < c->today;

        if ((job->best.day < c->today && !reopened) || (c->shape != DB_SHAPE_WHILE && rested(c, p) < 1))
            keep(c, job);
        else if (job->best.day < c->today) /* what comes again is for today, not for a day gone by */
            job->best.day = c->today;
    } else {
        const int32_t best = job->best.day > c->today ? job->best.day : c->today;

        if (may_move(c, job, best))
            job->best.day = best;
        else
            settle_window(c, job);
    }
}

static void add(struct calming *c, const struct db_job *job)
{
    c->out[c->count++] = *job;
}

/* Which published spells a note marks as done. */
static enum db_status find_done(const struct calming *c, struct group *g)
{
    size_t count;
    const struct db_date *dates = db_clocks_notes(&c->jobs->clocks, c->sowing, c->jobs->uses[c->rule].records, &count);

    if (!dates)
        return c->jobs->clocks.status;
    for (size_t k = 0; k < g->known_count; k++) {
        const struct db_position *p = g->known[k].position;

        g->known[k].done = DB_NO_DATE;
        for (size_t i = 0; i < count; i++)
            if (db_note_answers(&c->jobs->uses[c->rule], dates[i], p->first, p->last))
                g->known[k].done = dates[i];
    }
    return DB_OK;
}

/* A published job that is not asked for any more stays for a while, or for good when it was done. */
static void add_waiting(struct calming *c, const struct known *known)
{
    const struct db_position *p = known->position;
    const int32_t back = c->shape == DB_SHAPE_WHILE ? DB_SPELL_BACK : DB_JOBS_BACK;
    const struct db_scope scope = scope_on(c, p->best);
    struct db_job job = { .rule = c->rule,
                          .sowing = c->sowing,
                          .occurrence = p->occurrence,
                          .first = p->first,
                          .best = p->best,
                          .last = p->last,
                          .done = known->done,
                          .worked = DB_NO_DATE,
                          .published = p,
                          .there = p->there,
                          .urgency = db_rule_urgency(c->jobs->view.rules, c->rule),
                          .minutes = db_rule_minutes(c->jobs->view.rules, c->rule, &scope) };

    if (p->last.day < c->today - back || p->first.day > c->today + DB_JOBS_AHEAD)
        return;
    put_state(c, &job);
    if (db_date_known(known->done)) {
        job.state = DB_JOB_DONE;
    } else if (!is_same(c, p) || !is_waiting(c, p) || (c->shape == DB_SHAPE_ONCE && job.state == DB_JOB_MISSED)) {
        return;
    }
    if (!db_rule_can_tell(c->jobs->view.rules, c->rule, &scope))
        return; /* what it was about is gone, and nothing could be said of it but a question mark */
    add(c, &job);
}

/* Once and repeats: by number. */
static enum db_status calm_numbered(struct calming *c, struct group *g, struct db_arena *into)
{
    const size_t begin = c->count;
    size_t k = 0;
    enum db_status status = DB_OK;

    for (size_t j = 0; j < g->job_count && status == DB_OK; j++) {
        struct db_job *job = &g->jobs[j];

        for (; k < g->known_count && g->known[k].position->occurrence < job->occurrence; k++)
            if (c->shape == DB_SHAPE_ONCE)
                add_waiting(c, &g->known[k]);
        if (k < g->known_count && g->known[k].position->occurrence == job->occurrence) {
            job->published = g->known[k++].position;
            status = db_jobs_hold_ahead(c->jobs, job, job->published, into);
            settle(c, job);
        }
        /* Of repeats that have gone by undone only the latest is worth doing. */
        if (c->shape == DB_SHAPE_EVERY && c->count > begin && job->best.day <= c->today &&
            c->out[c->count - 1].state != DB_JOB_DONE)
            c->count--;
        add(c, job);
    }
    for (; k < g->known_count && c->shape == DB_SHAPE_ONCE; k++)
        add_waiting(c, &g->known[k]);
    return status;
}

/* Days that a spell and a published one share; 0 when they only touch, -1 when a day lies between. */
static int32_t overlap(const struct db_job *job, const struct db_position *p)
{
    const int32_t from = job->first.day > p->first.day ? job->first.day : p->first.day;
    const int32_t to = job->last.day < p->last.day ? job->last.day : p->last.day;

    return to - from + 1 >= 0 ? to - from + 1 : -1;
}

/* Pairs spells with published ones, those that share most first; what is gone comes after what is there. One that is done
 * stays what it is: a spell that it does not cover is another. */
static void match_spells(const struct calming *c, struct group *g)
{
    for (;;) {
        struct db_job *best_job = NULL;
        struct known *best = NULL;
        int32_t most = -1;

        for (size_t j = 0; j < g->job_count; j++)
            for (size_t k = 0; !g->jobs[j].published && k < g->known_count; k++) {
                const bool passed = g->jobs[j].last.day < c->today && g->known[k].position->first.day >= c->today;
                const int32_t shared = passed ? -1 : overlap(&g->jobs[j], g->known[k].position);
                const int32_t worth = shared < 0 ? -1 : 2 * shared + is_waiting(c, g->known[k].position);

                if (!g->known[k].taken && worth > most &&
                    (g->jobs[j].state == DB_JOB_DONE) == db_date_known(g->known[k].done)) {
                    most = worth;
                    best_job = &g->jobs[j];
                    best = &g->known[k];
                }
            }
        if (!best)
            return;
        best->taken = true;
        best_job->published = best->position;
        best_job->occurrence = best->position->occurrence;
    }
}

/* Whether all days from `first` to `last` are days of a spell that is published already, and the one that `best` asks for,
 * if that is tonight or tomorrow, is asked for by it too. */
static bool is_covered(const struct calming *c, size_t begin, struct db_date first, struct db_date best,
                       struct db_date last)
{
    for (size_t i = begin; i < c->count; i++) {
        const struct db_job *other = &c->out[i];

        if (other->published && other->first.day <= first.day && other->last.day >= last.day &&
            (best.day > c->today + 1 || best.day < c->today || other->best.day == best.day))
            return true;
    }
    return false;
}

/* Published spells that no spell of today is paired with, unless another one has taken their days over. */
static void add_unpaired(struct calming *c, const struct group *g, size_t begin)
{
    const size_t paired = c->count;

    for (size_t k = 0; k < g->known_count; k++) {
        const struct known *known = &g->known[k];
        const struct db_position *p = known->position;
        const size_t count = c->count;
        bool covered;

        if (known->taken)
            continue;
        c->count = paired; /* by what the weather asks for, not by others that wait */
        covered = !db_date_known(known->done) && is_covered(c, begin, p->first, p->best, p->last);
        c->count = count;
        if (!covered)
            add_waiting(c, known);
    }
}

static void add_new(struct calming *c, struct group *g, size_t begin)
{
    unsigned next = 0;

    for (size_t k = 0; k < g->known_count; k++)
        if (g->known[k].position->occurrence >= next)
            next = g->known[k].position->occurrence + 1;
    for (size_t j = 0; j < g->job_count; j++) {
        struct db_job *job = &g->jobs[j];

        if (job->published)
            continue;
        /* It tells nothing new: it is over and nobody acted, or its days are a published one's. */
        if (job->state != DB_JOB_DONE &&
            (job->last.day < c->today || is_covered(c, begin, job->first, job->best, job->last)))
            continue;
        if (g->known_count) {
            job->occurrence = job->occurrence > next ? job->occurrence : next;
            next = job->occurrence + 1;
        }
        add(c, job);
    }
}

/* Spells are known again by their days, and keep their number whatever is found out about earlier ones. */
static enum db_status calm_spells(struct calming *c, struct group *g)
{
    const size_t begin = c->count;
    const enum db_status status = find_done(c, g);

    if (status != DB_OK)
        return status;
    match_spells(c, g);
    for (size_t k = 0; k < g->known_count; k++)
        for (size_t j = 0; g->known[k].taken && j < g->job_count; j++) {
            struct db_job *job = &g->jobs[j];
            const struct db_position *p = g->known[k].position;

            if (job->published != p)
                continue;
            /* It ended before what was published: that holds once the end has stood for a day. */
            const bool ended =
                job->last.day < c->today && p->last.day >= c->today && job->state != DB_JOB_DONE && is_same(c, p);

            if (ended && is_waiting(c, p)) {
                add_waiting(c, &g->known[k]);
                continue;
            }
            if (!ended)
                settle(c, job);
            else if (p->best.day < c->today) { /* it is over, and stays on the day on which it was last a job */
                job->best = p->best;
                job->first = p->best.day < job->first.day ? p->best : job->first;
                job->last = p->best.day > job->last.day ? p->best : job->last;
            }
            add(c, job);
        }
    add_unpaired(c, g, begin);
    add_new(c, g, begin);
    return DB_OK;
}

/* Positions of rules and sowings that are still there, in order of rule, sowing, occurrence. */
static enum db_status look_up(const struct db_jobs *jobs, struct db_arena *into, struct known **ret, size_t *ret_count)
{
    const struct db_positions *published = jobs->view.published;
    struct known *known = db_arena_get(into, published->count, sizeof *known);
    size_t count = 0;

    if (!known)
        return DB_FULL;
    for (size_t i = 0; i < published->count; i++) {
        const struct db_position *p = &published->rows[i];
        const size_t rule = db_rules_find(jobs->view.rules, p->rule);
        const size_t sowing = rule == SIZE_MAX ? SIZE_MAX : db_garden_find_sowing(jobs->view.garden, p->sowing);
        const struct db_job job = { .rule = rule, .sowing = sowing, .occurrence = p->occurrence };
        unsigned char identity[16];

        if (sowing == SIZE_MAX)
            continue;
        db_job_identity(jobs, &job, identity);
        if (memcmp(identity, p->identity, sizeof identity) == 0) /* else of this garden under another key */
            known[count++] = (struct known){ .rule = rule, .sowing = sowing, .position = p, .done = DB_NO_DATE };
    }
    *ret = known;
    *ret_count = count;
    return db_sort(known, count, sizeof *known, known_by_subject, NULL, into);
}

static enum db_status calm_group(struct calming *c, struct group *g, struct db_arena *into)
{
    c->shape = c->jobs->uses[c->rule].shape;
    db_job_inputs(c->jobs, c->rule, c->sowing, c->inputs);
    if (c->shape == DB_SHAPE_WHILE)
        return calm_spells(c, g);
    return calm_numbered(c, g, into);
}

enum db_status db_jobs_calm(struct db_jobs *jobs, struct db_arena *into)
{
    struct calming c = { .jobs = jobs, .today = jobs->view.today.day };
    struct known *known;
    size_t known_count, j = 0, k = 0;
    enum db_status status = look_up(jobs, into, &known, &known_count);

    if (status == DB_OK)
        status = db_sort(jobs->jobs, jobs->count, sizeof *jobs->jobs, db_job_by_subject, NULL, into);
    if (status != DB_OK)
        return status;
    c.out = db_arena_get(into, jobs->count + known_count, sizeof *c.out);
    if (!c.out)
        return DB_FULL;
    while (status == DB_OK && (j < jobs->count || k < known_count)) {
        struct group g = { .jobs = jobs->jobs + j, .known = known + k };
        const bool by_job = k == known_count || (j < jobs->count && (jobs->jobs[j].rule != known[k].rule
                                                                         ? jobs->jobs[j].rule < known[k].rule
                                                                         : jobs->jobs[j].sowing <= known[k].sowing));

        c.rule = by_job ? jobs->jobs[j].rule : known[k].rule;
        c.sowing = by_job ? jobs->jobs[j].sowing : known[k].sowing;
        for (; j < jobs->count && jobs->jobs[j].rule == c.rule && jobs->jobs[j].sowing == c.sowing; j++)
            g.job_count++;
        for (; k < known_count && known[k].rule == c.rule && known[k].sowing == c.sowing; k++)
            g.known_count++;
        status = calm_group(&c, &g, into);
    }
    jobs->jobs = c.out;
    jobs->count = c.count;
    return status;
}

bool db_job_stays(const struct db_jobs *jobs, const struct db_job *job)
{
    const struct db_position *p = job->published;
    unsigned char inputs[16];

    if (!p || p->first.day != job->first.day || p->best.day != job->best.day || p->last.day != job->last.day ||
        p->on.day != db_job_put(job).day)
        return false;
    db_job_inputs(jobs, job->rule, job->sowing, inputs);
    return memcmp(inputs, p->inputs, sizeof inputs) == 0;
}

const char *db_job_held(const struct db_jobs *jobs, const struct db_job *job, struct db_arena *into)
{
    const struct db_date today = jobs->view.today;
    char words[256];
    struct db_text text = db_text_in(words, sizeof words);

    if (job->state != DB_JOB_OPEN || job->worked.day == job->best.day)
        return "";
    if (db_date_known(job->worked) && job->worked.day < today.day && job->best.day >= today.day) {
        db_text_add(&text, "Worked out today the best day would have been ");
        db_text_add_day(&text, job->worked, today);
        db_text_add(&text, ". Nobody was asked by then, so it stays until it is done or its days are over.");
    } else if (db_date_known(job->worked)) {
        db_text_add(&text, "The weather has shifted since: worked out today the best day would be ");
        db_text_add_day(&text, job->worked, today);
        db_text_add(&text, job->placed ? ". It counts as best on " : ". The job stays on ");
        db_text_add_day(&text, job->best, today);
        db_text_add(&text, job->placed ? " still, as when it was published, so that the calendar does not jump about."
                                       : ", where it was published, so that the calendar does not jump about.");
    } else {
        db_text_add(&text,
                    "The weather has eased since and no longer asks for this; the job stays where it was published "
                    "until that has held for a day.");
    }
    return db_arena_text(into, text.data, text.length);
}
