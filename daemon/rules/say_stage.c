/* Stages in sentences. */
#define DB_PURE
#include "rules/say.h"

#include "base/text.h"
#include "rules/template.h"

#include <math.h>
#include <string.h>

#include "base/banned.h"

/* How each stage reads: as a note; and as an estimate, before it and after it ("Seedlings are likely up on 17 April"). */
static const struct {
    const char *noted, *likely, *was_likely, *from;
} phrases[DB_STAGE_COUNT] = {
    [DB_STAGE_SOWN] = { "It was sown on ", "It is likely to be sown on ", "It was likely sown on ", "" },
    [DB_STAGE_UP] = { "Seedlings were noted up on ", "Seedlings are likely up on ", "Seedlings were likely up on ",
                      "the soil's warmth" },
    [DB_STAGE_PRICKED_OUT] = { "It was pricked out on ", "Seedlings are likely fit to prick out on ",
                               "Seedlings were likely fit to prick out on ", "the warmth" },
    [DB_STAGE_ROOTED] = { "Plugs were noted filled with roots on ", "Plugs are likely filled with roots on ",
                          "Plugs were likely filled with roots on ", "the warmth and length of the days" },
    [DB_STAGE_HARDENING] = { "Hardening off began on ", "Hardening off is likely to begin on ",
                             "Hardening off was likely to begin on ", "when the plugs fill" },
    [DB_STAGE_PLANTED] = { "It was planted on ", "It is likely ready to plant on ", "It was likely ready to plant on ",
                           "when the plugs fill and how cold the nights are" },
    [DB_STAGE_CROPPING] = { "The first harvest was on ", "The first harvest is likely on ",
                            "The first harvest was likely on ", "the warmth and length of the days" },
    [DB_STAGE_CLEARED] = { "It was cleared on ", "It is likely over on ", "It was likely over on ",
                           "how long it can be harvested" },
};

/* Cloves, sets and tubers are planted where others are sown, and send up shoots. */
static bool is_set(const struct db_scope *scope)
{
    return db_garden_sowing(scope->view->garden, scope->sowing)->way == DB_WAY_SETS;
}

/* The phrase, with its first word changed where the sowing is of sets. */
static void say_phrase(struct db_text *to, const struct db_scope *scope, const char *phrase)
{
    static const char *const seed[] = { "It was sown on ",        "It is likely to be sown on ",
                                        "It was likely sown on ", " since it was sown on ",
                                        " after sowing on ",      "Sowing was planned for ",
                                        "Sowing is planned for ", NULL };
    static const char *const set[] = { "It was planted on ",        "It is likely to be planted on ",
                                       "It was likely planted on ", " since it was planted on ",
                                       " after planting on ",       "Planting was planned for ",
                                       "Planting is planned for " };

    if (is_set(scope)) {
        if (strncmp(phrase, "Seedlings", strlen("Seedlings")) == 0) {
            db_text_add(to, "Shoots");
            phrase += strlen("Seedlings");
        }
        for (size_t i = 0; seed[i]; i++)
            if (strcmp(phrase, seed[i]) == 0)
                phrase = set[i];
    }
    db_text_add(to, phrase);
}

static void say_day(struct db_text *to, const struct db_scope *scope, struct db_date date)
{
    db_text_add_day(to, date, scope->view->today);
}

/* " (14 to 20 April)" */
static void say_range(struct db_text *to, const struct db_scope *scope, const struct db_turn *turn)
{
    int early_month, late_month;

    if (turn->early.day == turn->late.day || !db_date_known(turn->early) || !db_date_known(turn->late))
        return;
    db_date_parts(turn->early, NULL, &early_month, NULL);
    db_date_parts(turn->late, NULL, &late_month, NULL);
    db_text_add(to, " (");
    if (early_month == late_month && turn->late.day - turn->early.day < 31) {
        int day;

        db_date_parts(turn->early, NULL, NULL, &day);
        db_text_add_int(to, day);
    } else
        say_day(to, scope, turn->early);
    db_text_add(to, " to ");
    say_day(to, scope, turn->late);
    db_text_add(to, ")");
}

/* " since it was sown on 1 April": what the clock was started by. */
static void say_since(struct db_text *to, const struct db_scope *scope, enum db_stage stage)
{
    const struct db_turn *sown = &scope->life->stage[DB_STAGE_SOWN], *up = &scope->life->stage[DB_STAGE_UP];

    if (stage == DB_STAGE_HARDENING || stage == DB_STAGE_PLANTED || stage == DB_STAGE_CLEARED)
        return;
    if (stage == DB_STAGE_PRICKED_OUT && up->how == DB_NOTED) {
        db_text_add(to, " since seedlings were up on ");
        say_day(to, scope, up->likely);
    } else if (stage == DB_STAGE_PRICKED_OUT) {
        db_text_add(to, " after they come up");
    } else if (sown->how == DB_NOTED) {
        say_phrase(to, scope, " since it was sown on ");
        say_day(to, scope, sown->likely);
    } else if (db_date_known(sown->likely)) {
        say_phrase(to, scope, " after sowing on ");
        say_day(to, scope, sown->likely);
    }
}

/* Beyond the last day of which anything is known, warmth is that of past years, or of the climate. */
static void say_climate(struct db_text *to, const struct db_scope *scope, enum db_stage stage)
{
    const struct db_weather *weather = scope->view->weather;
    const struct db_date known = weather ? db_weather_known(weather) : DB_NO_DATE;
    const struct db_turn *turn = &scope->life->stage[stage];
    const bool pooled = scope->life->pooled >> stage & 1;

    if (db_date_known(known) && (pooled ? turn->late : turn->likely).day <= known.day)
        return;
    if (pooled)
        db_text_add_format(to, ", with the weather of %zu past years", db_weather_futures(weather) - 1);
    else
        db_text_add(to, ", with the climate's averages");
    if (!db_date_known(known)) /* of no day at all */
        return;
    db_text_add(to, " after ");
    say_day(to, scope, known);
}

/* A day gone by that no note confirms. */
static void say_taken(struct db_text *to, const struct db_scope *scope, struct db_date day)
{
    if (scope->life->stage[DB_STAGE_SOWN].how != DB_NOTED && day.day < scope->view->today.day)
        db_text_add(to, "; it counts as done then until a note says when");
    db_text_add(to, ".");
}

void db_say_planned(struct db_text *to, const struct db_scope *scope)
{
    const struct db_sowing *sowing = db_garden_sowing(scope->view->garden, scope->sowing);
    const struct db_date held = scope->life->planned, planned = sowing->planned;

    if (!db_date_known(held))
        return;
    if (!db_date_known(planned) || planned.day == held.day) {
        say_phrase(to, scope,
                   scope->life->stage[DB_STAGE_SOWN].how == DB_NOTED || held.day < scope->view->today.day
                       ? "Sowing was planned for "
                       : "Sowing is planned for ");
        say_day(to, scope, held);
        say_taken(to, scope, held);
        return;
    }
    say_phrase(to, scope, "Sowing was planned for ");
    say_day(to, scope, planned);
    db_text_add_format(to, "; %s would run to seed in lengthening days, so the sowing %s until ",
                       sowing->crop->text[DB_FACT_PLURAL], held.day < scope->view->today.day ? "waited" : "waits");
    say_day(to, scope, held);
    if (db_date_known(scope->life->solstice)) {
        db_text_add(to, scope->life->solstice.day == held.day ? ", the solstice" : " (the solstice is on ");
        if (scope->life->solstice.day != held.day) {
            say_day(to, scope, scope->life->solstice);
            db_text_add(to, ")");
        }
    }
    say_taken(to, scope, held);
}

void db_say_solstice(struct db_text *to, const struct db_scope *scope)
{
    const struct db_date solstice = scope->life->solstice;

    if (!db_date_known(solstice))
        return;
    db_text_add(to,
                solstice.day < scope->view->today.day ? "The summer solstice was on " : "The summer solstice is on ");
    say_day(to, scope, solstice);
    db_text_add(to, ", and the season is counted from it.");
}

/* What raw manure holds back. */
static void say_manure(struct db_text *to, const struct db_scope *scope)
{
    const struct db_turn *ripe = &scope->life->ripe, *cropping = &scope->life->stage[DB_STAGE_CROPPING];
    const double manured = scope->own[DB_OWN_MANURED][1];

    if (isnan(manured) || !db_date_known(ripe->likely) || ripe->likely.day >= cropping->likely.day)
        return;
    db_text_add(to, ", as raw manure of ");
    say_day(to, scope, (struct db_date){ (int32_t) manured });
    db_text_add_format(to, " has to be %d days old; they would be ready on ", (int) scope->own[DB_OWN_MANURE_WAIT][1]);
    say_day(to, scope, ripe->likely);
}

void db_say_stage(struct db_text *to, const struct db_scope *scope, enum db_stage stage)
{
    const struct db_turn *turn = &scope->life->stage[stage];

    if (!db_date_known(turn->likely) || turn->how == DB_UNKNOWN)
        return;
    if (turn->how == DB_PLANNED && stage == DB_STAGE_SOWN) {
        db_say_planned(to, scope);
        return;
    }
    if (turn->how == DB_NOTED) {
        say_phrase(to, scope, phrases[stage].noted);
        say_day(to, scope, turn->likely);
        db_text_add(to, ".");
        return;
    }
    say_phrase(to, scope,
               turn->likely.day < scope->view->today.day ? phrases[stage].was_likely : phrases[stage].likely);
    say_day(to, scope, turn->likely);
    say_range(to, scope, turn);
    if (stage == DB_STAGE_CROPPING)
        say_manure(to, scope);
    if (*phrases[stage].from) {
        db_text_add_format(to, ", worked out from %s", phrases[stage].from);
        say_since(to, scope, stage);
        say_climate(to, scope, stage);
        if (stage == DB_STAGE_PLANTED && db_date_known(scope->life->frost) &&
            scope->life->frost.day == turn->likely.day)
            db_say_frost_hold(to, scope);
    }
    db_text_add(to, ".");
}
