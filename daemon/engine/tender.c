#define DB_PURE
#include "engine/tender.h"

#include <string.h>

#include "base/banned.h"

int db_cover_shelter(enum db_cover cover)
{
    switch (cover) {
    case DB_COVER_INDOORS:
        return 3;
    case DB_COVER_FRAME:
    case DB_COVER_TUNNEL:
        return 2;
    case DB_COVER_FLEECE:
        return 1;
    case DB_COVER_OPEN:
    case DB_COVER_BOARD:
        break;
    }
    return 0;
}

bool db_crop_tender(const struct db_crop_facts *crop)
{
    const char *hardiness = crop->text[DB_FACT_HARDINESS];

    return hardiness && (strcmp(hardiness, "chill-tender") == 0 || strcmp(hardiness, "frost-tender") == 0);
}

struct db_date db_tender_hold(const struct db_clocks *clocks, const struct db_sowing *sowing, struct db_date ready)
{
    const struct db_date first = db_frost_odds_date(&clocks->frost, DB_FROST_FIRST, ready, 0);
    const bool autumn = db_date_known(first) && ready.day >= first.day;

    if (!db_crop_tender(sowing->crop) || db_cover_shelter(sowing->into->cover) >= db_cover_shelter(DB_COVER_TUNNEL))
        return DB_NO_DATE;
    /* Half a year on is another frost year. */
    return db_frost_odds_date(&clocks->frost, DB_FROST_LAST, autumn ? db_date_add(ready, 200) : ready, 2);
}

/* Whether a day lies between midsummer and midwinter: frosts of spring are another matter. */
static bool in_autumn(struct db_date date, bool south)
{
    const int midsummer = south ? 208 : 205; /* 24 January, 24 July: days of the frost year */

    return date.day >= db_frost_date(db_frost_year(date, south), south, midsummer).day;
}

/* The first frost of half of the years, where it lies beyond the known weather; no date: it does not, or there is a roof. */
static struct db_date frost_by_odds(const struct db_clocks *clocks, const struct db_air *air, struct db_date from)
{
    const struct db_date known = db_weather_known(clocks->view->weather);
    const struct db_date frost = db_frost_odds_date(&clocks->frost, DB_FROST_FIRST, from, 1);
    const bool roof = db_cover_shelter(air->cover) >= db_cover_shelter(DB_COVER_TUNNEL);

    return !roof && db_date_known(frost) && frost.day > known.day && frost.day >= from.day ? frost : DB_NO_DATE;
}

static struct db_date sooner(struct db_date a, struct db_date b)
{
    return !db_date_known(a) || (db_date_known(b) && b.day < a.day) ? b : a;
}

struct db_date db_tender_end(struct db_clocks *clocks, const struct db_crop_facts *crop, struct db_air *air,
                             struct db_date from, bool odds)
{
    const size_t index = db_clocks_index(clocks, from);

    if (!db_crop_tender(crop) || index == SIZE_MAX)
        return DB_NO_DATE;
    if (!air->frosted && !(air->frosted = db_arena_get(clocks->arena, clocks->days, sizeof *air->frosted))) {
        clocks->status = DB_FULL;
        return DB_NO_DATE;
    }
    if (air->frosted_turn != clocks->turn) {
        int32_t next = -1;

        for (size_t i = clocks->days; i-- > 0;) {
            if (air->low[i] <= DB_KILLING_FROST &&
                in_autumn(db_date_add(clocks->first, (int32_t) i), clocks->frost.south))
                next = (int32_t) i;
            air->frosted[i] = next;
        }
        air->frosted_turn = clocks->turn;
    }

    const struct db_date end = air->frosted[index] < 0 ? DB_NO_DATE : db_date_add(clocks->first, air->frosted[index]);

    return odds && clocks->future == 0 ? sooner(end, frost_by_odds(clocks, air, from)) : end;
}
