/* What the rules see of one sowing on one day. */
#define DB_PURE
#include "engine/jobs.h"
#include "engine/plot.h"
#include "engine/water.h"

#include <math.h>
#include <string.h>

#include "base/banned.h"

enum { OVERDUE = 35 }; /* days: planting waits three weeks for room, and has a window of two */

static void fill_sky(const struct db_clocks *clocks, const struct db_seedbed *seedbed,
                     const double *sky[static DB_SKY_COUNT])
{
    sky[DB_SKY_LOW] = clocks->figures[DB_FIGURE_LOW];
    sky[DB_SKY_HIGH] = clocks->figures[DB_FIGURE_HIGH];
    sky[DB_SKY_RAIN] = clocks->figures[DB_FIGURE_RAIN];
    sky[DB_SKY_WIND] = clocks->figures[DB_FIGURE_WIND];
    sky[DB_SKY_SOIL] = seedbed->mean;
    sky[DB_SKY_SOIL_LOW] = seedbed->low;
    sky[DB_SKY_SOIL_HIGH] = seedbed->high;
    sky[DB_SKY_LOW_HERE] = seedbed->air->low;
    sky[DB_SKY_DAY_LENGTH] = clocks->day_length;
    sky[DB_SKY_REFERENCE] = clocks->reference;
}

static void all_at(double own[3], double value)
{
    own[0] = own[1] = own[2] = value;
}

static double sow_day(const struct db_jobs *jobs, const struct db_life *life)
{
    const struct db_turn *sown = &life->stage[DB_STAGE_SOWN];
    const int32_t today = jobs->view.today.day;

    if (!db_date_known(sown->likely))
        return (double) NAN;
    return sown->how != DB_NOTED && sown->likely.day < today ? today : sown->likely.day;
}

/* Who notes that plants are hardened off notes that they were planted, too: until then, while planting still waits for nights and
 * room, they are in their tray, though the day is past on which they were likely planted. */
static bool still_in_tray(const struct db_jobs *jobs, const struct db_life *life)
{
    const struct db_turn *stage = life->stage;
    const int32_t today = jobs->view.today.day;

    for (int s = DB_STAGE_PLANTED; s < DB_STAGE_COUNT; s++)
        if (stage[s].how == DB_NOTED)
            return false;
    return stage[DB_STAGE_HARDENING].how == DB_NOTED && db_date_known(stage[DB_STAGE_PLANTED].likely) &&
           stage[DB_STAGE_PLANTED].likely.day <= today && today <= stage[DB_STAGE_PLANTED].likely.day + OVERDUE;
}

static double date_or_none(struct db_date date)
{
    return db_date_known(date) ? (double) date.day : (double) NAN;
}

static void fill_succession(const struct db_jobs *jobs, size_t sowing, double own[DB_OWN_COUNT][3])
{
    const struct db_following *f = jobs->following ? &jobs->following[sowing] : NULL;

    for (int i = DB_OWN_AGAIN; i <= DB_OWN_SOW_BY; i++)
        all_at(own[i], (double) NAN);
    if (!f)
        return;
    all_at(own[DB_OWN_AGAIN], date_or_none(f->again));
    all_at(own[DB_OWN_FOLLOWED], f->followed);
    all_at(own[DB_OWN_GAP_FROM], date_or_none(f->gap_from));
    all_at(own[DB_OWN_GAP_TO], date_or_none(f->gap_to));
    all_at(own[DB_OWN_SOW_BY], date_or_none(f->sow_by));
    for (int e = 0; e < 3; e++)
        own[DB_OWN_LAST_SOWING][e] = date_or_none(f->last[e]);
}

/* A frost year runs from midwinter to midwinter. Its autumn is that of the year in which the plants are set out, or sown where
 * they stay; its spring that of the year in which they crop, so that what stands the winter has it before it. */
static void fill_frost(const struct db_jobs *jobs, const struct db_life *life, struct db_scope *scope)
{
    const struct db_frost_odds *odds = &jobs->clocks.frost;
    const struct db_date sown = life->stage[DB_STAGE_SOWN].likely, planted = life->stage[DB_STAGE_PLANTED].likely;
    const struct db_date crops = life->stage[DB_STAGE_CROPPING].likely;
    const struct db_date out = db_date_known(planted) ? planted : sown;

    for (int e = 0; e < 3; e++) {
        scope->own[DB_OWN_LAST_FROST][e] =
            date_or_none(db_frost_odds_date(odds, DB_FROST_LAST, db_date_known(crops) ? crops : out, e));
        scope->own[DB_OWN_FIRST_FROST][e] = date_or_none(db_frost_odds_date(odds, DB_FROST_FIRST, out, e));
    }
    for (int which = 0; which < 2; which++)
        scope->frost[which] = odds->source[which];
}

static double truth_or_none(enum db_fit fit)
{
    return fit == DB_FIT_UNKNOWN ? (double) NAN : fit == DB_FIT_YES;
}

static void fill_room(const struct db_room *room, struct db_scope *scope)
{
    all_at(scope->own[DB_OWN_FITS], truth_or_none(room->fit));
    all_at(scope->own[DB_OWN_ELSEWHERE_FROM], date_or_none(room->elsewhere_from));
    for (int e = 0; e < 3; e++) {
        scope->own[DB_OWN_ROOM][e] = room->left[e];
        scope->own[DB_OWN_PLANTS_FIT][e] = room->plants[e];
        scope->own[DB_OWN_READY][e] = date_or_none(room->ready[e]);
    }
    if (room->elsewhere)
        scope->own_word[DB_OWN_WORD_ELSEWHERE] = room->elsewhere->where;
    if (!room->family)
        return;
    scope->own_word[DB_OWN_WORD_FAMILY] = room->family->text[DB_FACT_PLURAL];
    all_at(scope->own[DB_OWN_FAMILY_YEAR], room->family_season);
    all_at(scope->own[DB_OWN_FAMILY_GAP], room->seasons * 365.25);
}

static void fill_host(const struct db_jobs *jobs, size_t host, struct db_scope *scope)
{
    const struct db_stay *stay = db_plot_stay(jobs->plot, host);

    for (int e = 0; e < 3; e++)
        scope->own[DB_OWN_HOST_GONE][e] = date_or_none(stay->to[e]);
    all_at(scope->own[DB_OWN_HOST_STANDS], !stay->over);
    scope->own_word[DB_OWN_WORD_HOST] = db_garden_sowing(jobs->view.garden, host)->crop->text[DB_FACT_PLURAL];
}

static void fill_plot(const struct db_jobs *jobs, size_t sowing, struct db_scope *scope)
{
    const struct db_sowing *it = db_garden_sowing(jobs->view.garden, sowing);
    const struct db_stay *stay = db_plot_stay(jobs->plot, sowing);
    const struct db_room *room = db_plot_room(jobs->plot, sowing);

    for (int i = DB_OWN_FITS; i <= DB_OWN_FAMILY_GAP; i++)
        all_at(scope->own[i], (double) NAN);
    all_at(scope->own[DB_OWN_SEEDS], db_sowing_seeds(it));
    all_at(scope->own[DB_OWN_SEED_WEIGHT], db_sowing_seed_weight(it));
    all_at(scope->own[DB_OWN_MIX], db_sowing_mix(it));
    if (room)
        fill_room(room, scope);
    if (stay && stay->host != SIZE_MAX)
        fill_host(jobs, stay->host, scope);
}

/* Of what is never ready, something may be picked all the same: what was dug in up to today counts. */
static void fill_manure(const struct db_sowing *sowing, const struct db_life *life, struct db_date today,
                        double own[DB_OWN_COUNT][3])
{
    const double wait = db_crop_manure_wait(sowing->crop);
    struct db_date manured;

    (void) db_bed_harvest(sowing->into, wait, db_date_known(life->ripe.likely) ? life->ripe.likely : today, &manured);
    all_at(own[DB_OWN_MANURED], date_or_none(manured));
    all_at(own[DB_OWN_MANURE_WAIT], db_date_known(manured) ? wait : (double) NAN);
    own[DB_OWN_RIPE][0] = date_or_none(life->ripe.early);
    own[DB_OWN_RIPE][1] = date_or_none(life->ripe.likely);
    own[DB_OWN_RIPE][2] = date_or_none(life->ripe.late);
}

static void fill_shelter(const struct db_sowing *sowing, struct db_scope *scope)
{
    const enum db_cover cover = sowing->into->cover;

    if (sowing->into != sowing->bed && (cover == DB_COVER_FRAME || cover == DB_COVER_TUNNEL))
        scope->own_word[DB_OWN_WORD_SHELTER] = sowing->into->where;
}

void db_scope_fill(const struct db_jobs *jobs, size_t sowing, struct db_date day, struct db_scope *ret_scope)
{
    const struct db_clocks *clocks = &jobs->clocks;
    const struct db_course *course = &jobs->courses[sowing];

    memset(ret_scope, 0, sizeof *ret_scope);
    ret_scope->view = &jobs->view;
    ret_scope->sowing = sowing;
    ret_scope->life = &course->life;
    ret_scope->day = day;
    ret_scope->first = clocks->first;
    ret_scope->days = clocks->days;
    ret_scope->moved = course->moved;
    ret_scope->warmths = jobs->warmths;
    for (int i = 0; i < 2; i++)
        fill_sky(clocks, course->seedbed[i], ret_scope->sky[i]);
    for (int end = 0; end < 3; end++)
        ret_scope->own[DB_OWN_AREA][end] = db_sowing_ground(db_garden_sowing(jobs->view.garden, sowing), end);
    all_at(ret_scope->own[DB_OWN_SOW_DAY], sow_day(jobs, &course->life));
    all_at(ret_scope->own[DB_OWN_IN_TRAY], still_in_tray(jobs, &course->life));
    fill_succession(jobs, sowing, ret_scope->own);
    fill_frost(jobs, &course->life, ret_scope);
    fill_plot(jobs, sowing, ret_scope);
    fill_shelter(db_garden_sowing(jobs->view.garden, sowing), ret_scope);
    fill_manure(db_garden_sowing(jobs->view.garden, sowing), &course->life, jobs->view.today, ret_scope->own);
    ret_scope->moisture = db_pump_run;
    ret_scope->pump = jobs->pump;
}
