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
    db_text_add(to, ", before the days are too short to grow on.");
}

void db_say_own(struct db_text *to, const struct db_scope *scope, enum db_own own)
{
    if (isnan(scope->own[own][1]))
        return;
    switch (own) {
    case DB_OWN_AREA:    /* stands in the plan */
    case DB_OWN_SOW_DAY: /* today, or said with the stage */
    case DB_OWN_GAP_TO:  /* said with its beginning */
    case DB_OWN_SOW_BY:  /* is the job */
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
    }
}
