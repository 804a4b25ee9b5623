#define DB_PURE
#include "engine/succession.h"

#include "base/sort.h"
#include "engine/jobs.h"
#include "engine/tender.h"

#include <math.h>
#include <string.h>

#include "base/banned.h"

enum { SEARCH_BACK = 330, SEASON = 400 };

/* One sowing of a group: those of one crop, or those that serve the same. */
struct entry {
    size_t sowing;
    const char *group;
    bool by_name; /* the group is what they serve */
    struct db_date sown, from, to;
};

/* Of two harvests that begin together the order of ids decides: no trace of the plan's order. */
static int by_group(const void *a, const void *b, const void *context)
{
    const struct entry *x = a, *y = b;
    const struct db_garden *garden = context;
    const int order = strcmp(x->group, y->group);

    if (order != 0 || x->by_name != y->by_name)
        return order != 0 ? order : x->by_name ? -1 : 1;
    if (x->from.day != y->from.day)
        return x->from.day < y->from.day ? -1 : 1;
    return strcmp(db_garden_sowing(garden, x->sowing)->id, db_garden_sowing(garden, y->sowing)->id);
}

static const struct db_sowing *sowing_at(const struct db_jobs *jobs, size_t sowing)
{
    return db_garden_sowing(jobs->view.garden, sowing);
}

static const struct db_life *life_of(const struct db_jobs *jobs, size_t sowing)
{
    return &jobs->courses[sowing].life;
}

static bool asks(const struct db_sowing *sowing)
{
    return sowing->again > 0 || sowing->again_after || sowing->serves;
}

static struct db_date next_wanted(const struct db_jobs *jobs, size_t sowing)
{
    const struct db_sowing *it = sowing_at(jobs, sowing);
    const struct db_life *life = life_of(jobs, sowing);

    if (it->again > 0 && db_date_known(life->stage[DB_STAGE_SOWN].likely))
        return db_date_add(life->stage[DB_STAGE_SOWN].likely, (int32_t) lround(it->again));
    return it->again_after ? life->stage[db_stage_find(it->again_after)].likely : DB_NO_DATE;
}

/* The day after which a crop that frost or the dark ends gives nothing more: for hardy ones the first autumn day of less than
 * ten hours after `from`, for tender ones in the open the first frost of that season by its odds: the early one for the safe
 * end of the answer, the late one for the hopeful. No date: it stands the winter, it has a roof, the days never get so short,
 * or nothing is known of frosts. */
static struct db_date season_end(const struct db_jobs *jobs, size_t sowing, struct db_date from, int end)
{
    const struct db_clocks *clocks = &jobs->clocks;
    const struct db_sowing *it = sowing_at(jobs, sowing);
    const char *hardiness = it->crop->text[DB_FACT_HARDINESS];
    const size_t start = db_clocks_index(clocks, from);
    const double limit = DB_STAND_HOURS / 24.0;

    if (start != SIZE_MAX && db_crop_tender(it->crop) &&
        db_cover_shelter(it->into->cover) < db_cover_shelter(DB_COVER_TUNNEL)) {
        const struct db_date frost = db_frost_odds_date(&clocks->frost, DB_FROST_FIRST, from, end);

        return db_date_known(frost) || end < 2 ? frost : db_frost_odds_date(&clocks->frost, DB_FROST_FIRST, from, 1);
    }
    if (start == SIZE_MAX || !hardiness || (strcmp(hardiness, "hardy") != 0 && strcmp(hardiness, "half-hardy") != 0))
        return DB_NO_DATE;
    for (size_t i = start + 1; i < clocks->days && i < start + SEASON; i++)
        if (clocks->day_length[i] < limit && clocks->day_length[i - 1] >= limit)
            return db_date_add(clocks->first, (int32_t) i);
    return DB_NO_DATE;
}

/* Days of harvest that have to be left. */
static int32_t worth(const struct db_crop_facts *crop)
{
    const double harvest = db_crop_middle(crop, DB_FACT_HARVEST_TIME);

    return isnan(harvest) || harvest > DB_HARVEST_WORTH ? DB_HARVEST_WORTH : (int32_t) lround(harvest);
}

/* The first harvest of another batch sown on that day: the late (0), likely (1) and early (2) end of its estimate. */
static enum db_status harvest_of(struct db_jobs *jobs, size_t sowing, struct db_date sown, int end, struct db_date *ret)
{
    struct db_life life;
    const enum db_status status = db_course_suppose(&jobs->clocks, sowing, sown, &life);
    const struct db_turn *cropping = &life.stage[DB_STAGE_CROPPING];

    if (status == DB_OK)
        *ret = end == 0 ? cropping->late : end == 1 ? cropping->likely : cropping->early;
    return status;
}

/* The last day up to `by` on which another batch can be sown and begin to crop by then: halving, as a later sowing never
 * crops earlier. No date: none within a year. */
static enum db_status last_day(struct db_jobs *jobs, size_t sowing, struct db_date by, int end, struct db_date *ret)
{
    int32_t low = by.day - SEARCH_BACK, high = by.day;
    struct db_date harvest;
    enum db_status status;

    if (low < jobs->clocks.first.day)
        low = jobs->clocks.first.day;
    *ret = DB_NO_DATE;
    while (low < high) {
        const int32_t middle = low + (high - low + 1) / 2;

        if ((status = harvest_of(jobs, sowing, (struct db_date){ middle }, end, &harvest)) != DB_OK)
            return status;
        if (db_date_known(harvest) && harvest.day <= by.day)
            low = middle;
        else
            high = middle - 1;
    }
    if ((status = harvest_of(jobs, sowing, (struct db_date){ low }, end, &harvest)) != DB_OK)
        return status;
    if (db_date_known(harvest) && harvest.day <= by.day)
        *ret = (struct db_date){ low };
    return DB_OK;
}

static enum db_status find_last(struct db_jobs *jobs, size_t sowing, struct db_following *f)
{
    const struct db_life *life = life_of(jobs, sowing);
    const struct db_date from = db_date_known(f->again) ? f->again : life->stage[DB_STAGE_SOWN].likely;
    enum db_status status = DB_OK;

    for (int e = 0; e < 3 && status == DB_OK; e++) {
        const struct db_date end = season_end(jobs, sowing, from, e);

        f->last[e] = DB_NO_DATE;
        if (db_date_known(end))
            status = last_day(jobs, sowing, db_date_add(end, -worth(sowing_at(jobs, sowing)->crop)), e, &f->last[e]);
    }
    return status;
}

/* Where it is too late to close a gap from its first day, the last day on which a sowing still fills part of it: a day that stays,
 * so that nobody is told of another one each morning. */
static enum db_status find_sow_by(struct db_jobs *jobs, size_t sowing, struct db_following *f)
{
    const struct db_date today = jobs->view.today, part = db_date_add(f->gap_to, -DB_GAP_DAYS / 2);
    enum db_status status = last_day(jobs, sowing, f->gap_from, 1, &f->sow_by);

    if (status == DB_OK && (!db_date_known(f->sow_by) || f->sow_by.day < today.day))
        status = last_day(jobs, sowing, part, 1, &f->sow_by);
    if (status == DB_OK && db_date_known(f->sow_by) && f->sow_by.day < today.day)
        f->sow_by = DB_NO_DATE;
    return status;
}

/* The harvests of one group, in order of their first day: where all are over before the next begins. */
static enum db_status find_gaps(struct db_jobs *jobs, const struct entry *entries, size_t count,
                                struct db_following *all)
{
    size_t last = 0; /* whose harvest lasts longest so far */
    enum db_status status = DB_OK;

    for (size_t i = 1; i < count && status == DB_OK; i++) {
        if (entries[i].from.day - entries[last].to.day > DB_GAP_DAYS) {
            struct db_following *f = &all[entries[last].sowing];

            f->gap_from = db_date_add(entries[last].to, 1);
            f->gap_to = db_date_add(entries[i].from, -1);
            if (f->gap_to.day >= jobs->view.today.day && f->gap_to.day - f->gap_from.day < SEASON / 2)
                status = find_sow_by(jobs, entries[last].sowing, f);
        }
        if (entries[i].to.day > entries[last].to.day)
            last = i;
    }
    return status;
}

static bool same_group(const struct entry *a, const struct entry *b)
{
    return a->by_name == b->by_name && strcmp(a->group, b->group) == 0;
}

static enum db_status work_groups(struct db_jobs *jobs, struct entry *entries, size_t count, struct db_following *all)
{
    enum db_status status = DB_OK;

    for (size_t i = 0, end; i < count && status == DB_OK; i = end) {
        struct db_date latest = DB_NO_DATE;
        bool wanted = false, shared = false;
        size_t kept = 0;

        for (end = i; end < count && same_group(&entries[i], &entries[end]); end++) {
            wanted = wanted || asks(sowing_at(jobs, entries[end].sowing));
            shared = shared || sowing_at(jobs, entries[end].sowing)->serves;
            if (entries[end].sown.day > latest.day)
                latest = entries[end].sown;
        }
        if (!wanted)
            continue;
        for (size_t k = i; k < end && !entries[k].by_name; k++)
            all[entries[k].sowing].followed = entries[k].sown.day < latest.day;
        for (size_t k = i; k < end; k++) /* only those whose harvest is known */
            if (db_date_known(entries[k].from) && db_date_known(entries[k].to))
                entries[i + kept++] = entries[k];
        /* Sowings that serve something are looked at with the others that do, and not crop by crop. */
        if (entries[i].by_name || !shared)
            status = find_gaps(jobs, entries + i, kept, all);
    }
    return status;
}

static void enter(const struct db_jobs *jobs, size_t sowing, const char *group, bool by_name, struct entry *to)
{
    const struct db_life *life = life_of(jobs, sowing);

    *to = (struct entry){ .sowing = sowing,
                          .group = group,
                          .by_name = by_name,
                          .sown = life->stage[DB_STAGE_SOWN].likely,
                          .from = life->stage[DB_STAGE_CROPPING].likely,
                          .to = life->stage[DB_STAGE_CLEARED].likely };
}

enum db_status db_succession_work(struct db_jobs *jobs, struct db_arena *into, const struct db_following **ret)
{
    const size_t sowings = db_garden_sowings(jobs->view.garden);
    struct db_following *all;
    struct entry *entries;
    size_t asking = 0, count = 0;
    enum db_status status;

    *ret = NULL;
    for (size_t s = 0; s < sowings; s++)
        asking += asks(sowing_at(jobs, s));
    if (!asking)
        return DB_OK;
    all = db_arena_get(into, sowings, sizeof *all);
    entries = db_arena_get(into, 2 * sowings, sizeof *entries);
    if (!all || !entries)
        return DB_FULL;
    for (size_t s = 0; s < sowings; s++) {
        const struct db_sowing *it = sowing_at(jobs, s);

        all[s] = (struct db_following){ .looked_at = asks(it),
                                        .again = next_wanted(jobs, s),
                                        .last = { DB_NO_DATE, DB_NO_DATE, DB_NO_DATE },
                                        .gap_from = DB_NO_DATE,
                                        .gap_to = DB_NO_DATE,
                                        .sow_by = DB_NO_DATE };
        enter(jobs, s, it->crop->id, false, &entries[count++]);
        if (it->serves)
            enter(jobs, s, it->serves, true, &entries[count++]);
    }
    if ((status = db_sort(entries, count, sizeof *entries, by_group, jobs->view.garden, into)) != DB_OK ||
        (status = work_groups(jobs, entries, count, all)) != DB_OK)
        return status;
    for (size_t s = 0; s < sowings && status == DB_OK; s++)
        if (all[s].looked_at)
            status = find_last(jobs, s, &all[s]);
    *ret = all;
    return status;
}
