#define DB_PURE
#include "engine/life.h"
#include "engine/season.h"
#include "engine/tender.h"

#include <math.h>
#include <string.h>

#include "base/banned.h"

enum {
    EARLY = DB_EARLY,
    LIKELY = DB_LIKELY,
    LATE = DB_LATE,
    ENDS = DB_ENDS,
    UP_DAYS = 120,     /* seed that needs longer than this is not coming */
    UP_A_WHILE = 7,    /* before that seedlings are too small to be put out: an estimate */
    FROST_DAYS = 120,  /* nor do plants wait for the last frost for longer */
    PLANT_DAYS = 60,   /* nights that stay too cold for longer than this: no day can be named */
    WINTER_DAYS = 210, /* a crop that takes at least so long stands through a winter */
    FAR_DAY = 2932896  /* 31 December 9999 */
};

/* How far along the clock is when the first and the last of a batch show. Estimates. */
static const double up_amount[ENDS] = { 0.8, 1, 1.3 };

/* The part of its time that a crop may be short of when winter comes, and still be worth eating. An estimate. */
static const double small_by = 1 / 3.0;

/* One sowing being worked on. */
struct work {
    struct db_clocks *clocks;
    size_t index;
    const struct db_sowing *sowing;
    const struct db_crop_facts *crop;
    struct db_course *course;
    const struct db_growth *growth[2]; /* before planting, after it */
    struct db_date noted[DB_STAGE_COUNT];
    struct db_ends stage[DB_STAGE_COUNT]; /* as far as it has come */
    struct db_ends ripe;                  /* cropping, if raw manure did not hold it */
    bool each;                            /* each end stands for itself: a slow batch may never be ready */
    double late;                          /* K d that notes have shown the batch to be behind its model; < 0: ahead */
};

static const struct db_ends unknown = { { { INT32_MIN }, { INT32_MIN }, { INT32_MIN } } };

int db_stage_step(enum db_stage stage)
{
    return stage <= DB_STAGE_ROOTED ? (int) stage : (int) stage - 1;
}

static struct db_ends all_at(struct db_date date)
{
    return (struct db_ends){ { date, date, date } };
}

static struct db_date later(struct db_date a, struct db_date b)
{
    return a.day > b.day ? a : b; /* no date is the earliest of all */
}

static bool raised_in_tray(const struct work *w)
{
    return w->sowing->way == DB_WAY_PLUGS || w->sowing->way == DB_WAY_POT;
}

static double fact_end(const struct work *w, enum db_fact fact, int end)
{
    return end == EARLY ? w->crop->low[fact] : end == LATE ? w->crop->high[fact] : db_crop_middle(w->crop, fact);
}

/* A time of the crop table in degree-days: days at the season's reference temperature. */
static double fact_warmth(const struct work *w, enum db_fact fact, int end)
{
    return fact_end(w, fact, end) * (db_crop_reference(w->crop) - db_crop_base(w->crop));
}

/* Rounds to whole days; 0 when not given. */
static int32_t fact_days(const struct work *w, enum db_fact fact, int end)
{
    const double days = fact_end(w, fact, end);

    return isnan(days) ? 0 : (int32_t) lround(days);
}

static enum db_status read_notes(struct work *w)
{
    for (int i = 0; i < DB_STAGE_COUNT; i++) {
        size_t count;
        const struct db_date *dates = db_clocks_notes(w->clocks, w->index, db_stage_word((enum db_stage) i), &count);

        if (!dates)
            return w->clocks->status;
        w->noted[i] = count ? dates[count - 1] : DB_NO_DATE;
    }
    if (!db_date_known(w->noted[DB_STAGE_SOWN]) && db_date_known(w->sowing->sown) &&
        w->sowing->sown.day <= w->clocks->view->today.day)
        w->noted[DB_STAGE_SOWN] = w->sowing->sown;
    return DB_OK;
}

static void work_sown(struct work *w)
{
    const double latitude = fabs(db_garden_site(w->clocks->view->garden)->latitude);
    struct db_life *life = &w->course->life;
    const struct db_date done = w->noted[DB_STAGE_SOWN];
    struct db_date plan = db_date_known(w->sowing->planned) ? w->sowing->planned : DB_NO_DATE;
    bool moved = false;

    /* `sown` on a day to come (the garden seen from an earlier day) is a plan as yet. */
    if (!db_date_known(plan) && !db_date_known(done))
        plan = w->sowing->sown;
    /* Near the equator a solstice says nothing about day length. */
    if (db_season_solstice(w->clocks, plan, &life->solstice) && w->crop->low[DB_FACT_SOLSTICE] > 0 &&
        !w->sowing->anyway && latitude > 23.44) {
        const struct db_date hold = db_date_add(life->solstice, -fact_days(w, DB_FACT_SOLSTICE_LEAD, LIKELY));

        if (plan.day < hold.day) {
            plan = hold;
            moved = true;
        }
    }
    life->planned = plan;
    if (db_date_known(done)) {
        (void) db_season_solstice(w->clocks, done, &life->solstice);
        w->stage[DB_STAGE_SOWN] = all_at(done);
        return;
    }
    life->held = moved;
    if (!db_date_known(plan))
        return;
    /* From its day on it is taken as sown when it was planned: a gardener who notes nothing sows all the same, and what
     * follows would be missed otherwise. The job stays open for who is late; a note puts the day right. */
    if (w->clocks->put && w->clocks->put[w->index] > plan.day)
        plan.day = w->clocks->put[w->index];
    w->stage[DB_STAGE_SOWN] = all_at(plan);
}

/* A note takes the place of the model's dates; what the two differ by is carried on to the later stages. */
static void heed_note(struct work *w, enum db_stage stage, struct db_date model)
{
    const struct db_date note = w->noted[stage];

    if (!db_date_known(note))
        return;

    const double behind = db_clocks_gathered(w->clocks, w->growth[0]->slowed, model, note);

    if (!isnan(behind))
        w->late += behind;
    w->stage[stage] = all_at(note);
}

/* What the published list still asks for has not been done. */
static void stay_ahead(struct work *w, enum db_stage stage)
{
    for (int e = 0; w->clocks->ahead && !w->each && e < ENDS; e++)
        if (db_date_known(w->stage[stage].at[e]))
            w->stage[stage].at[e] = later(w->stage[stage].at[e], w->clocks->ahead[w->index].from[stage]);
}

static enum db_status work_up(struct work *w)
{
    struct db_ends *up = &w->stage[DB_STAGE_UP];
    const struct db_ends *sown = &w->stage[DB_STAGE_SOWN];

    if (w->sowing->way != DB_WAY_SETS && w->crop->emergence.count) {
        const double *sums = db_clocks_rising(w->clocks, w->course->seedbed[0], w->crop);

        if (!sums)
            return w->clocks->status;
        for (int e = 0; e < ENDS; e++)
            up->at[e] = db_clocks_reach(w->clocks, sums, sown->at[e], up_amount[e], UP_DAYS);
        if (!db_date_known(up->at[LIKELY]))
            *up = unknown;
        else if (!db_date_known(up->at[LATE])) /* the last ones never come */
            up->at[LATE] = db_date_add(sown->at[LATE], UP_DAYS);
    }
    heed_note(w, DB_STAGE_UP, up->at[LIKELY]);
    return DB_OK;
}

static void work_pricked_out(struct work *w)
{
    struct db_ends *out = &w->stage[DB_STAGE_PRICKED_OUT];

    if (w->sowing->way == DB_WAY_POT)
        for (int e = 0; e < ENDS; e++)
            out->at[e] = db_clocks_reach(w->clocks, w->growth[0]->plain, w->stage[DB_STAGE_UP].at[e],
                                         fact_end(w, DB_FACT_PRICK_OUT, e), SIZE_MAX - 1);
    stay_ahead(w, DB_STAGE_PRICKED_OUT);
    heed_note(w, DB_STAGE_PRICKED_OUT, out->at[LIKELY]);
}

static void work_rooted(struct work *w)
{
    struct db_ends *rooted = &w->stage[DB_STAGE_ROOTED];

    if (raised_in_tray(w))
        for (int e = 0; e < ENDS; e++) {
            rooted->at[e] = db_clocks_reach(w->clocks, w->growth[0]->slowed, w->stage[DB_STAGE_SOWN].at[e],
                                            fact_warmth(w, DB_FACT_PLUG_TIME, e) + w->late, SIZE_MAX - 1);
            if (db_date_known(rooted->at[e]))
                rooted->at[e] =
                    later(rooted->at[e], later(w->stage[DB_STAGE_UP].at[e], w->stage[DB_STAGE_PRICKED_OUT].at[e]));
        }
    heed_note(w, DB_STAGE_ROOTED, rooted->at[LIKELY]);
}

/* Hardening off begins half its length before the plug is filled: the plants go on filling it outside, and a ladder
 * without setbacks ends as many days after the plug is filled. Not before the seedlings have been up for a week, and for tender
 * plants not so early that they would have to wait outside for the last frost. */
static void work_hardening(struct work *w)
{
    struct db_ends *hardening = &w->stage[DB_STAGE_HARDENING];
    const int32_t ladder = fact_days(w, DB_FACT_HARDEN_TIME, LIKELY);

    if (raised_in_tray(w) && ladder > 0 &&
        db_cover_shelter(w->sowing->into->cover) < db_cover_shelter(w->sowing->bed->cover))
        for (int e = 0; e < ENDS; e++) {
            const struct db_date rooted = w->stage[DB_STAGE_ROOTED].at[e];

            hardening->at[e] =
                later(later(db_date_add(rooted, -ladder / 2), db_date_add(w->stage[DB_STAGE_UP].at[e], UP_A_WHILE)),
                      db_date_add(db_tender_hold(w->clocks, w->sowing, rooted), -ladder));
        }
    if (!db_date_known(w->stage[DB_STAGE_ROOTED].at[LIKELY]))
        *hardening = unknown;
    stay_ahead(w, DB_STAGE_HARDENING);
    if (db_date_known(w->noted[DB_STAGE_HARDENING]))
        *hardening = all_at(w->noted[DB_STAGE_HARDENING]);
}

/* The day on which a plug that is filled on `rooted` and put out to harden on `hardening` can be planted. */
static struct db_date plantable(const struct work *w, struct db_date rooted, struct db_date hardening,
                                const double *nights, const int32_t *calm)
{
    const int32_t ladder = fact_days(w, DB_FACT_HARDEN_TIME, LIKELY);
    struct db_date ready = rooted, latest = rooted;

    if (db_date_known(hardening)) {
        struct db_date out = db_date_add(hardening, ladder);

        latest = later(latest, out);
        if (nights) /* the clock counts the night after `hardening` as the first */
            out = db_date_add(db_clocks_reach(w->clocks, nights, db_date_add(hardening, -1), ladder, SIZE_MAX - 1), 1);
        if (!db_date_known(out))
            return out;
        ready = later(ready, out);
    }

    for (int round = 0; round < 2; round++) { /* mild nights may come in another season, which has a frost of its own */
        const struct db_date frost = db_tender_hold(w->clocks, w->sowing, ready);
        const size_t index = db_clocks_index(w->clocks, later(ready, frost));

        if (db_date_known(frost) && frost.day > ready.day + FROST_DAYS)
            return DB_NO_DATE;
        ready = later(ready, frost);
        latest = later(latest, frost);
        if (!calm || index == SIZE_MAX)
            break;
        if (calm[index] < 0)
            return DB_NO_DATE;
        ready = db_date_add(w->clocks->first, calm[index]);
    }
    if (db_tender_hold(w->clocks, w->sowing, ready).day > ready.day)
        return DB_NO_DATE;
    return ready.day > latest.day + PLANT_DAYS ? DB_NO_DATE : ready;
}

static enum db_status work_planted(struct work *w)
{
    struct db_ends *planted = &w->stage[DB_STAGE_PLANTED];
    const struct db_ends *rooted = &w->stage[DB_STAGE_ROOTED], *hardening = &w->stage[DB_STAGE_HARDENING];
    struct db_air *there = w->course->seedbed[1]->air;
    const double low = db_crop_middle(w->crop, DB_FACT_HARDEN_LOW);
    const double frost = db_crop_middle(w->crop, DB_FACT_FROST_LIMIT);
    const double *nights = NULL;
    const int32_t *calm = NULL;

    if (raised_in_tray(w)) {
        if (!isnan(low) && !(nights = db_clocks_nights(w->clocks, there, low)))
            return w->clocks->status;
        if (db_crop_tender(w->crop) && !isnan(frost) && !(calm = db_clocks_calm(w->clocks, there, frost + 2)))
            return w->clocks->status;
        for (int e = 0; e < ENDS; e++)
            if (db_date_known(rooted->at[e]) || db_date_known(hardening->at[e]))
                planted->at[e] = plantable(w, rooted->at[e], hardening->at[e], nights, calm);
    }
    /* The nights decide over tender plants, and weeks of the ladder on which they would stand on its first step are spared
     * them. */
    if (db_crop_tender(w->crop) && !db_date_known(w->noted[DB_STAGE_HARDENING]))
        for (int e = 0; e < ENDS; e++)
            if (db_date_known(w->stage[DB_STAGE_HARDENING].at[e]) && db_date_known(planted->at[e]))
                w->stage[DB_STAGE_HARDENING].at[e] =
                    later(w->stage[DB_STAGE_HARDENING].at[e],
                          db_date_add(planted->at[e], -fact_days(w, DB_FACT_HARDEN_TIME, LIKELY) * 3 / 2));
    stay_ahead(w, DB_STAGE_PLANTED);
    w->course->life.frost = raised_in_tray(w) ? db_tender_hold(w->clocks, w->sowing, planted->at[LIKELY]) : DB_NO_DATE;

    const struct db_date note = w->noted[DB_STAGE_PLANTED];
    struct db_date model = planted->at[LIKELY];

    /* Planting before cold nights allow it says nothing of the plants' growth; planting before the plug was thought to
     * be filled says that they are ahead. */
    if (db_date_known(note) && note.day < model.day)
        model = note.day < rooted->at[LIKELY].day ? rooted->at[LIKELY] : note;
    heed_note(w, DB_STAGE_PLANTED, model);
    return DB_OK;
}

static bool is_warm(const struct work *w)
{
    const char *season = w->crop->text[DB_FACT_SEASON];

    return season && strcmp(season, "warm") == 0;
}

static bool counted_from_planting(const struct work *w)
{
    const char *counted = w->crop->text[DB_FACT_COUNTED];

    return counted && strcmp(counted, "planting") == 0;
}

/* What stands into the winter, or is lifted before it, and is over by spring. */
static bool eaten_before_spring(const struct work *w)
{
    return !isnan(w->crop->low[DB_FACT_STANDS_TO]) || !isnan(w->crop->low[DB_FACT_LIFT_LOW]);
}

/* `amount` gathered in one place, and what comes of it where growth stands still for the winter before that. A crop of the warm
 * season does not live through it: what is not ready by then is never ready, and the last of a batch that is comes by then. A crop
 * that is eaten before spring is harvested then, smaller than it might be, if it is most of the way: in spring it runs to seed. */
static struct db_date grow(const struct work *w, const struct db_growth *growth, struct db_date from, double amount,
                           int end)
{
    const struct db_date ready = db_clocks_reach(w->clocks, growth->slowed, from, amount, SIZE_MAX - 1);
    const struct db_date begun = db_clocks_reach(w->clocks, growth->slowed, from, amount / 10, SIZE_MAX - 1);
    const size_t index = db_clocks_index(w->clocks, begun);
    const bool warm = is_warm(w);

    if ((!warm && (w->each || !eaten_before_spring(w))) || index == SIZE_MAX || growth->still[index] < 0)
        return ready;

    const struct db_date still = db_date_add(w->clocks->first, growth->still[index]);

    if (db_date_known(ready) && ready.day <= still.day)
        return ready;
    if (warm)
        return end == LATE && !w->each ? still : DB_NO_DATE;

    const double missing = amount - db_clocks_gathered(w->clocks, growth->slowed, from, still);

    return missing <= fact_warmth(w, DB_FACT_CROP_TIME, end) * small_by ? still : ready;
}

/* `amount` gathered from `start` on, in the first place up to `move` and in the second one after it. A filled plug grows no
 * more: what is gathered there beyond that does not count. */
static struct db_date grow_over_move(const struct work *w, struct db_date start, struct db_date move, double amount,
                                     int end)
{
    const double plug = fact_warmth(w, DB_FACT_PLUG_TIME, end) + w->late;
    double before = db_clocks_gathered(w->clocks, w->growth[0]->slowed, start, move);

    if (isnan(before))
        return DB_NO_DATE;
    if (before > plug)
        before = plug;
    return grow(w, w->growth[1], move, fmax(amount - before, 0), end);
}

/* The day the harvest begins. A crop that stands through a winter is given in days of the calendar: its table's days have
 * the winter in them already. */
static struct db_date cropping_day(const struct work *w, int end)
{
    const struct db_date sown = w->stage[DB_STAGE_SOWN].at[end], planted = w->stage[DB_STAGE_PLANTED].at[end];
    const bool tray = raised_in_tray(w), planting = counted_from_planting(w);
    const double plug = fact_warmth(w, DB_FACT_PLUG_TIME, end);
    double amount = fact_warmth(w, DB_FACT_CROP_TIME, end);

    if (w->sowing->way == DB_WAY_SETS && !planting && !isnan(plug))
        amount = fmax(amount - plug / 2, plug); /* a set is half a plug's time ahead of seed: an estimate */
    if (w->crop->low[DB_FACT_CROP_TIME] >= WINTER_DAYS)
        return tray && !db_date_known(planted)
                   ? planted
                   : db_date_add(tray && planting ? planted : sown, fact_days(w, DB_FACT_CROP_TIME, end));
    if (tray && planting)
        return grow(w, w->growth[1], planted, amount, end);
    if (tray)
        return grow_over_move(w, sown, planted, amount + w->late, end);
    /* sown where it crops, though the crop is counted from planting: the time in a plug comes on top */
    if (planting && w->sowing->way != DB_WAY_SETS && !isnan(plug))
        amount += plug;
    return grow(w, w->growth[0], sown, amount + w->late, end);
}

/* The day whose autumn frost ends a tender crop that is ready from `from` on where it crops. */
static struct db_date frosted(const struct work *w, struct db_date from)
{
    return db_tender_end(w->clocks, w->crop, w->course->seedbed[1]->air, from, !w->each);
}

/* What would be ready after the frost of its autumn is never ready; the last of a batch that is comes by then. */
static void heed_frost(const struct work *w, struct db_ends *ready, struct db_date out, int end)
{
    const struct db_date frost = frosted(w, out);

    if (w->sowing->way != DB_WAY_SETS && db_date_known(frost) && ready->at[end].day > frost.day)
        ready->at[end] = end == LATE && !w->each && db_date_known(ready->at[LIKELY]) ? frost : DB_NO_DATE;
}

static void work_cropping(struct work *w)
{
    struct db_ends *cropping = &w->stage[DB_STAGE_CROPPING];
    const struct db_ends *out = &w->stage[raised_in_tray(w) ? DB_STAGE_PLANTED : DB_STAGE_SOWN];
    const double wait = db_crop_manure_wait(w->crop);

    for (int e = 0; e < ENDS; e++) {
        struct db_date *ripe = &w->ripe.at[e];

        *ripe = cropping_day(w, e);
        if (db_date_known(*ripe))
            *ripe = later(*ripe, later(w->stage[DB_STAGE_PLANTED].at[e], w->stage[DB_STAGE_UP].at[e]));
        *ripe = db_season_begins(w->clocks, w->crop, *ripe);
        *ripe = db_season_ripens(w->clocks, w->crop, out->at[e], *ripe);
        cropping->at[e] = db_bed_harvest(w->sowing->into, wait, *ripe, NULL);
        heed_frost(w, &w->ripe, out->at[e], e);
        heed_frost(w, cropping, out->at[e], e);
    }
    if (db_date_known(w->noted[DB_STAGE_CROPPING]))
        w->ripe = *cropping = all_at(w->noted[DB_STAGE_CROPPING]);
}

static void work_cleared(struct work *w)
{
    if (!isnan(w->crop->low[DB_FACT_HARVEST_TIME]))
        for (int e = 0; e < ENDS; e++) {
            const struct db_date begun = w->stage[DB_STAGE_CROPPING].at[e], end = frosted(w, begun);
            struct db_date *over = &w->stage[DB_STAGE_CLEARED].at[e];

            *over = later(db_date_add(begun, fact_days(w, DB_FACT_HARVEST_TIME, e)),
                          db_season_stands(w->clocks, w->crop, begun));
            if (w->sowing->way != DB_WAY_SETS && db_date_known(end) && over->day > end.day)
                *over = end;
        }
    if (db_date_known(w->noted[DB_STAGE_CLEARED]))
        w->stage[DB_STAGE_CLEARED] = all_at(w->noted[DB_STAGE_CLEARED]);
}

/* Keeps an estimate of a stage between the notes around it, and early <= likely <= late. */
static void settle(const struct work *w, enum db_stage stage, struct db_ends *it)
{
    if (!db_date_known(it->at[LIKELY]))
        *it = unknown;
    if (db_date_known(w->noted[stage]) || !db_date_known(it->at[LIKELY]))
        return;
    if (!db_date_known(it->at[EARLY]) || it->at[EARLY].day > it->at[LIKELY].day)
        it->at[EARLY] = it->at[LIKELY];
    it->at[LATE] = later(it->at[LATE], it->at[LIKELY]);
    for (int n = 0; n < DB_STAGE_COUNT; n++) {
        const int order = db_stage_step((enum db_stage) n) - db_stage_step(stage);

        for (int e = 0; order != 0 && db_date_known(w->noted[n]) && e < ENDS; e++)
            if (order > 0 ? it->at[e].day > w->noted[n].day : it->at[e].day < w->noted[n].day)
                it->at[e] = w->noted[n];
    }
}

static struct db_turn turn_of(const struct work *w, const struct db_ends *it, enum db_stage stage)
{
    return (struct db_turn){ it->at[EARLY], it->at[LIKELY], it->at[LATE],
                             db_date_known(w->noted[stage])   ? DB_NOTED
                             : !db_date_known(it->at[LIKELY]) ? DB_UNKNOWN
                             : stage == DB_STAGE_SOWN         ? DB_PLANNED
                                                              : DB_ESTIMATED };
}

static void write_life(const struct work *w)
{
    for (int s = 0; s < DB_STAGE_COUNT; s++)
        w->course->life.stage[s] = turn_of(w, &w->stage[s], (enum db_stage) s);
    w->course->life.ripe = turn_of(w, &w->ripe, DB_STAGE_CROPPING);
}

static enum db_status find_places(struct work *w)
{
    const struct db_bed *const beds[2] = { w->sowing->bed, w->sowing->into };

    for (int i = 0; i < 2; i++) {
        struct db_seedbed *seedbed = db_clocks_seedbed(w->clocks, beds[i], db_depth_class(w->crop));

        if (!seedbed)
            return w->clocks->status;
        w->course->seedbed[i] = seedbed;
        w->growth[i] = db_clocks_growth(w->clocks, seedbed->air, db_crop_base(w->crop), db_crop_top(w->crop));
        if (!w->growth[i])
            return w->clocks->status;
    }
    return DB_OK;
}

/* All stages, from the day it is sown on. */
static enum db_status work_stages(struct work *w)
{
    enum db_status status = work_up(w);

    if (status != DB_OK)
        return status;
    work_pricked_out(w);
    work_rooted(w);
    work_hardening(w);
    if ((status = work_planted(w)) != DB_OK)
        return status;
    work_cropping(w);
    work_cleared(w);
    for (int s = 0; s < DB_STAGE_COUNT && !w->each; s++)
        settle(w, (enum db_stage) s, &w->stage[s]);
    if (!w->each)
        settle(w, DB_STAGE_CROPPING, &w->ripe);
    return DB_OK;
}

/* Without notes. */
static struct work work_of(struct db_clocks *clocks, size_t sowing, struct db_course *course)
{
    struct work w = {
        .clocks = clocks, .index = sowing, .sowing = db_garden_sowing(clocks->view->garden, sowing), .course = course
    };

    w.crop = w.sowing->crop;
    for (int s = 0; s < DB_STAGE_COUNT; s++) {
        w.stage[s] = unknown;
        w.noted[s] = DB_NO_DATE;
    }
    return w;
}

void db_course_settle(const struct db_sowing *sowing, struct db_course *course)
{
    course->moved = course->life.stage[DB_STAGE_PLANTED].likely;
    if (sowing->bed == sowing->into || !db_date_known(course->moved))
        course->moved.day = FAR_DAY;
}

enum db_status db_course_work(struct db_clocks *clocks, size_t sowing, struct db_course *ret_course)
{
    struct work w = work_of(clocks, sowing, ret_course);
    enum db_status status;

    if ((status = find_places(&w)) != DB_OK || (status = read_notes(&w)) != DB_OK)
        return status;
    work_sown(&w);
    if ((status = work_stages(&w)) != DB_OK)
        return status;
    write_life(&w);
    db_course_settle(w.sowing, ret_course);
    return DB_OK;
}

enum db_status db_course_ends(struct db_clocks *clocks, size_t sowing, const struct db_course *course,
                              struct db_ends ret_ends[DB_STAGE_COUNT + 1])
{
    struct db_course aside = { 0 };
    struct work w = work_of(clocks, sowing, &aside);
    enum db_status status;

    for (int s = 0; s < DB_STAGE_COUNT; s++)
        if (course->life.stage[s].how == DB_NOTED)
            w.noted[s] = course->life.stage[s].likely;
    if ((status = find_places(&w)) != DB_OK)
        return status;
    work_sown(&w);
    if ((status = work_stages(&w)) != DB_OK)
        return status;
    memcpy(ret_ends, w.stage, sizeof w.stage);
    ret_ends[DB_STAGE_COUNT] = w.ripe;
    return DB_OK;
}

enum db_status db_course_suppose(struct db_clocks *clocks, size_t sowing, struct db_date sown, struct db_life *ret_life)
{
    struct db_course course = { .life = { .planned = sown, .solstice = DB_NO_DATE } };
    struct work w = work_of(clocks, sowing, &course);
    enum db_status status;

    w.each = true;
    w.stage[DB_STAGE_SOWN] = all_at(sown);
    if ((status = find_places(&w)) != DB_OK || (status = work_stages(&w)) != DB_OK)
        return status;
    write_life(&w);
    *ret_life = course.life;
    return DB_OK;
}
