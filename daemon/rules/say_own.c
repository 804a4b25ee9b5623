/* What is worked out for one sowing apart from its stages, in sentences. */
#define DB_PURE
#include "rules/say.h"

#include "base/text.h"
#include "rules/template.h"

#include <math.h>

#include "base/banned.h"

static void say_day(struct db_text *to, const struct db_scope *scope, enum db_own own, int end)
{
    if (!isnan(scope->own[own][end]))
        db_text_add_day(to, (struct db_date){ (int32_t) floor(scope->own[own][end] + 0.5) }, scope->view->today);
}

static const char *crops(const struct db_scope *scope)
{
    return db_garden_sowing(scope->view->garden, scope->sowing)->crop->text[DB_FACT_PLURAL];
}

static void say_record(struct db_text *to, const struct db_frost_source *from)
{
    db_text_add_format(to, " (%zu years on record", from->seasons);
    if (from->none)
        db_text_add_format(to, ", %zu of them without", from->none);
    db_text_add(to, ")");
}

static bool is_tender(const struct db_scope *scope)
{
    return db_garden_sowing(scope->view->garden, scope->sowing)->crop->low[DB_FACT_FROST_LIMIT] >= 0;
}

/* ", before the first frost: none comes before 12 October in nine years of ten (30 years on record)." */
static void say_frost_to_come(struct db_text *to, const struct db_scope *scope)
{
    const struct db_frost_source *from = &scope->frost[DB_FROST_FIRST];
    const bool sure = !isnan(scope->own[DB_OWN_FIRST_FROST][0]);

    db_text_add(to, ", before the first frost: ");
    if (from->planned) {
        db_text_add(to, "it is due from ");
        say_day(to, scope, DB_OWN_FIRST_FROST, 1);
        db_text_add(to, " on, as the plan says.");
        return;
    }
    db_text_add(to, "none comes before ");
    say_day(to, scope, DB_OWN_FIRST_FROST, sure ? 0 : 1);
    db_text_add(to, !sure                          ? " in half of the years"
                    : from->seasons < DB_FROST_FEW ? " in any year"
                                                   : " in nine years of ten");
    say_record(to, from);
    db_text_add(to, ".");
}

static void say_last_sowing(struct db_text *to, const struct db_scope *scope)
{
    if (isnan(scope->own[DB_OWN_LAST_SOWING][0]) || isnan(scope->own[DB_OWN_LAST_SOWING][2])) {
        db_text_add_format(to, "The last day on which %s are likely worth sowing is ", crops(scope));
        say_day(to, scope, DB_OWN_LAST_SOWING, 1);
    } else {
        db_text_add_format(to, "Another sowing of %s is safe up to ", crops(scope));
        say_day(to, scope, DB_OWN_LAST_SOWING, 0);
        db_text_add(to, ", likely to crop up to ");
        say_day(to, scope, DB_OWN_LAST_SOWING, 1);
        db_text_add(to, ", and lost after ");
        say_day(to, scope, DB_OWN_LAST_SOWING, 2);
    }
    if (is_tender(scope))
        say_frost_to_come(to, scope);
    else
        db_text_add(to, ", before the days are too short to grow on.");
}

/* With few years early and late are the first and the last of them, with many a tenth of them lies beyond. Years without a
 * frost count as before a last one, and as after a first one: where an end falls among them it has no date. */
static void say_frost(struct db_text *to, const struct db_scope *scope, enum db_own own)
{
    const bool last = own == DB_OWN_LAST_FROST;
    const struct db_frost_source *from = &scope->frost[last ? DB_FROST_LAST : DB_FROST_FIRST];
    const int sure = last ? 2 : 0; /* the end by which it is over, or up to which none comes */

    if (from->planned) {
        db_text_add(to, last ? "The last frost of spring is over by " : "The first frost of autumn is due from ");
        say_day(to, scope, own, 1);
        db_text_add(to, last ? ", as the plan says." : " on, as the plan says.");
        return;
    }
    db_text_add(to, last ? "The last frost of spring is over by " : "The first frost of autumn has come by ");
    say_day(to, scope, own, 1);
    db_text_add(to, " in half of the years");
    if (!isnan(scope->own[own][sure])) {
        db_text_add(to, last ? ", by " : ", and not before ");
        say_day(to, scope, own, sure);
        db_text_add(to, from->seasons < DB_FROST_FEW ? " in all" : " in nine of ten");
    }
    say_record(to, from);
    db_text_add(to, ".");
}

void db_say_frost_hold(struct db_text *to, const struct db_scope *scope)
{
    const struct db_frost_source *from = &scope->frost[DB_FROST_LAST];

    db_text_add(to, "; tender plants wait for the last frost, which is over by then");
    if (from->planned) {
        db_text_add(to, ", as the plan says");
        return;
    }
    db_text_add(to, from->seasons < DB_FROST_FEW ? " in all years" : " in nine years of ten");
    say_record(to, from);
}

void db_say_own(struct db_text *to, const struct db_scope *scope, enum db_own own)
{
    if (isnan(scope->own[own][1]))
        return;
    switch (own) {
    case DB_OWN_AREA:    /* stands in the plan */
    case DB_OWN_SOW_DAY: /* today, or said with the stage */
    case DB_OWN_IN_TRAY: /* said with the stage */
    case DB_OWN_GAP_TO:  /* said with its beginning */
    case DB_OWN_SOW_BY:  /* is the job */
        break;
    case DB_OWN_LAST_FROST:
    case DB_OWN_FIRST_FROST:
        say_frost(to, scope, own);
        break;
    case DB_OWN_AGAIN:
        db_text_add(to, "The plan wants the next sowing from ");
        say_day(to, scope, own, 1);
        db_text_add(to, " on.");
        break;
    case DB_OWN_FOLLOWED:
        db_text_add(to, scope->own[own][1] > 0 ? "The plan has a later sowing." : "The plan has no later sowing.");
        break;
    case DB_OWN_LAST_SOWING:
        say_last_sowing(to, scope);
        break;
    case DB_OWN_GAP_FROM:
        db_text_add(to, "By what is sown and planned the harvest stops on ");
        say_day(to, scope, DB_OWN_GAP_FROM, 1);
        db_text_add(to, " and goes on after ");
        say_day(to, scope, DB_OWN_GAP_TO, 1);
        db_text_add(to, ".");
        break;
    default:
        db_say_plot(to, scope, own);
        break;
    }
}
