/* What is worked out for one sowing apart from its stages, in sentences. */
#define DB_PURE
#include "rules/say.h"

#include "base/text.h"

#include <math.h>

#include "base/banned.h"

void db_say_own(struct db_text *to, const struct db_scope *scope, enum db_own own)
{
    if (isnan(scope->own[own][1]))
        return;
    switch (own) {
    case DB_OWN_AREA:    /* stands in the plan */
    case DB_OWN_SOW_DAY: /* today, or said with the stage */
        break;
    }
    (void) to;
}
