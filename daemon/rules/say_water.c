/* Water in the ground, in sentences. */
#define DB_PURE
#include "rules/say.h"

#include "base/text.h"
#include "rules/template.h"

#include <math.h>

#include "base/banned.h"

static void say_amount(struct db_text *to, const struct db_scope *scope, double mm)
{
    char buffer[64];

    (void) db_water_text(mm, db_garden_site(scope->view->garden)->imperial, buffer, sizeof buffer);
    db_text_add(to, buffer);
}

static void say_day(struct db_text *to, const struct db_scope *scope, int32_t day)
{
    if (day == scope->view->today.day)
        db_text_add(to, "today");
    else
        db_text_add_day(to, (struct db_date){ day }, scope->view->today);
}

/* " since it was watered on 3 June" */
static void say_since(struct db_text *to, const struct db_scope *scope, const struct db_wet_day *wet)
{
    static const char *const since[] = {
        [DB_FILLED_UNKNOWN] = NULL,
        [DB_FILLED_SOWN] = " since it was sown on ",
        [DB_FILLED_PLANTED] = " since they were planted on ",
        [DB_FILLED_WATERED] = " since it was watered on ",
        [DB_FILLED_ASKED] = " since ",
        [DB_FILLED_RAIN] = " since the rain of ",
    };

    if (!since[wet->filled])
        return;
    db_text_add(to, since[wet->filled]);
    db_text_add_day(to, (struct db_date){ wet->full }, scope->view->today);
    if (wet->filled == DB_FILLED_ASKED)
        db_text_add(to, ", when it was due and is taken to have been watered");
}

void db_say_dry(struct db_text *to, const struct db_scope *scope, int32_t day)
{
    static const char *const ground[] = {
        [DB_DRINKS_SEEDBED] = "The seedbed",
        [DB_DRINKS_FRESH] = "The ground about the young plants",
        [DB_DRINKS_ROOTS] = "The ground in reach of the roots",
    };
    const struct db_wet_day *wet = db_scope_wet(scope, day);
    const int32_t today = scope->view->today.day;

    if (!wet || isnan(wet->dry))
        return;
    db_text_add(to, ground[wet->drinks]);
    db_text_add(to, day == today ? " has lost " : day > today ? " will have lost " : " had lost ");
    say_amount(to, scope, wet->dry);
    say_since(to, scope, wet);
    if (day == today)
        return;
    db_text_add(to, day > today ? ", by the forecast, when " : ", when ");
    say_day(to, scope, day);
    db_text_add(to, day > today ? " is over" : " was over");
}

void db_say_dry_limit(struct db_text *to, const struct db_scope *scope, int32_t day)
{
    const struct db_wet_day *wet = db_scope_wet(scope, day);

    if (!wet)
        return;
    switch ((enum db_drinks) wet->drinks) {
    case DB_DRINKS_SEEDBED:
        db_text_add(to, "; seed is at risk from ");
        break;
    case DB_DRINKS_FRESH:
        db_text_add(to, "; plants with their roots still in the plug go short from ");
        break;
    case DB_DRINKS_ROOTS:
        db_text_add_format(to, "; for %s water is short from ",
                           db_garden_sowing(scope->view->garden, scope->sowing)->crop->text[DB_FACT_PLURAL]);
        break;
    }
    say_amount(to, scope, wet->limit);
}
