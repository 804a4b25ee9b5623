/* warmed(258 K d, 5 °C, March): the day by which so many degree-days were gathered above a base since the first of a month,
 * as the thresholds of pests are published. All sowings of a garden ask for the same few days, so they are kept. */
#define DB_PURE
#include "rules/expr.h"
#include "rules/say.h"

#include "base/text.h"
#include "dewbell/thermal.h"
#include "rules/template.h"

#include <math.h>

#include "base/banned.h"

enum { HALF_YEAR = 6, YEAR_MONTHS = 12, YEAR_DAYS = 366 };

/* Published months are those of the north; in the south the season is half a year on. It is the season that today lies in:
 * the calendar year in the north, July to June in the south. */
static struct db_date season_start(const struct db_scope *scope, int month)
{
    const bool south = db_garden_site(scope->view->garden)->latitude < 0;
    struct db_date start = DB_NO_DATE;
    int year, now;

    db_date_parts(scope->view->today, &year, &now, NULL);
    if (south) {
        year -= now <= HALF_YEAR;
        year += month > HALF_YEAR;
        month = month > HALF_YEAR ? month - HALF_YEAR : month + HALF_YEAR;
    }
    return db_date_of(year, month, 1, &start) == DB_OK ? start : DB_NO_DATE;
}

static double gather(const struct db_scope *scope, double amount, double base, int month)
{
    const struct db_date start = season_start(scope, month);
    const double *low = scope->sky[0][DB_SKY_LOW], *high = scope->sky[0][DB_SKY_HIGH];
    const int64_t from = (int64_t) start.day - scope->first.day;
    double sum = 0;

    if (!db_date_known(start) || !low || !high || from < 0 || isnan(amount) || isnan(base))
        return (double) NAN;
    for (int64_t i = from; i < from + YEAR_DAYS && i < (int64_t) scope->days; i++) {
        double day;

        if (db_degree_days(DB_DEGREE_SINE, low[i], high[i], base, base, &day) != DB_OK)
            return (double) NAN;
        sum += day;
        if (sum >= amount)
            return (double) (start.day + (i - from));
    }
    return (double) NAN;
}

double db_warmed_day(const struct db_scope *scope, double amount, double base, int month)
{
    struct db_warmths *kept = scope->warmths;

    for (size_t i = 0; kept && i < kept->count; i++)
        if (kept->list[i].amount == amount && kept->list[i].base == base && kept->list[i].month == month)
            return kept->list[i].day;

    const double day = gather(scope, amount, base, month);

    if (kept && kept->count < sizeof kept->list / sizeof kept->list[0])
        kept->list[kept->count++] = (struct db_warmth){ amount, base, month, day };
    return day;
}

/* "258 K d above 5 °C since 1 March were gathered by 21 April" */
void db_say_warmed(struct db_text *to, const struct db_scope *scope, double amount, double base, int month, double day)
{
    const bool imperial = db_garden_site(scope->view->garden)->imperial;
    const struct db_date on = { (int32_t) floor(day + 0.5) };
    const int32_t today = scope->view->today.day;
    char text[48];

    (void) db_amount_text((struct db_amount){ amount, DB_KIND_THERMAL }, imperial, text, sizeof text);
    db_text_add_format(to, "The warmth of the season, %s above ", text);
    (void) db_amount_text((struct db_amount){ base, DB_KIND_TEMPERATURE }, imperial, text, sizeof text);
    db_text_add_format(to, "%s since ", text);
    db_text_add_day(to, season_start(scope, month), scope->view->today);
    db_text_add(to, on.day < today    ? ", was reached on "
                    : on.day == today ? ", is reached on "
                                      : ", will be reached on ");
    db_text_add_day(to, on, scope->view->today);
}
