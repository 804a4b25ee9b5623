/* What is worked out for a sowing from the beds over time, in sentences. */
#define DB_PURE
#include "rules/say.h"

#include "base/text.h"
#include "rules/template.h"

#include <math.h>

#include "base/banned.h"

enum { SAID = 64 };

static const struct db_sowing *sowing_of(const struct db_scope *scope)
{
    return db_garden_sowing(scope->view->garden, scope->sowing);
}

static void say_day(struct db_text *to, const struct db_scope *scope, double day)
{
    db_text_add_day(to, (struct db_date){ (int32_t) floor(day + 0.5) }, scope->view->today);
}

/* "on 3 July, between 28 June and 9 July" */
static void say_days(struct db_text *to, const struct db_scope *scope, enum db_own own)
{
    const double *day = scope->own[own];

    say_day(to, scope, day[1]);
    if (isnan(day[0]) || isnan(day[2]) || day[0] >= day[2])
        return;
    db_text_add(to, ", at the soonest on ");
    say_day(to, scope, day[0]);
    db_text_add(to, " and at the latest on ");
    say_day(to, scope, day[2]);
}

static void say_area(struct db_text *to, const struct db_scope *scope, double area)
{
    char said[SAID];

    (void) db_amount_text((struct db_amount){ area, DB_KIND_AREA }, db_garden_site(scope->view->garden)->imperial, said,
                          sizeof said);
    db_text_add(to, said);
}

static void say_room(struct db_text *to, const struct db_scope *scope)
{
    if (isnan(scope->own[DB_OWN_ROOM][1]) || isnan(scope->own[DB_OWN_AREA][0]))
        return;
    db_text_add_format(to, "When they need their ground %s has ", sowing_of(scope)->into->name);
    if (scope->own[DB_OWN_ROOM][1] < 0.005)
        db_text_add(to, "nothing");
    else
        say_area(to, scope, scope->own[DB_OWN_ROOM][1]);
    db_text_add(to, " left by what is there and comes before them, and they take ");
    say_area(to, scope, scope->own[DB_OWN_AREA][0]);
    db_text_add(to, " at the closest.");
}

static void say_host(struct db_text *to, const struct db_scope *scope)
{
    if (!scope->own_word[DB_OWN_WORD_HOST] || isnan(scope->own[DB_OWN_HOST_GONE][1]))
        return;
    db_text_add_format(to, "They stand between the rows of the %s, likely gone on ", scope->own_word[DB_OWN_WORD_HOST]);
    say_days(to, scope, DB_OWN_HOST_GONE);
    db_text_add(to, ".");
}

/* "The north bed" at the head of a sentence, which is the first thing in `to`. */
static void say_bed(struct db_text *to, const struct db_scope *scope)
{
    db_text_add(to, sowing_of(scope)->into->name);
    if (to->length && to->data[0] >= 'a' && to->data[0] <= 'z')
        to->data[0] = (char) (to->data[0] - 'a' + 'A');
}

static void say_family(struct db_text *to, const struct db_scope *scope)
{
    const struct db_crop_facts *crop = sowing_of(scope)->crop;

    if (!scope->own_word[DB_OWN_WORD_FAMILY] || isnan(scope->own[DB_OWN_FAMILY_YEAR][1]))
        return;
    say_bed(to, scope);
    db_text_add_format(to, " had %s in %d, of one family with %s (%s).", scope->own_word[DB_OWN_WORD_FAMILY],
                       (int) scope->own[DB_OWN_FAMILY_YEAR][1], crop->text[DB_FACT_PLURAL], crop->text[DB_FACT_FAMILY]);
}

static void say_manured(struct db_text *to, const struct db_scope *scope)
{
    const bool past = scope->own[DB_OWN_MANURED][1] <= scope->view->today.day;

    db_text_add_format(to, "Raw manure %s dug into %s on ", past ? "was" : "is to be", sowing_of(scope)->into->name);
    say_day(to, scope, scope->own[DB_OWN_MANURED][1]);
    db_text_add(to, ".");
}

static void say_manure_wait(struct db_text *to, const struct db_scope *scope)
{
    const struct db_crop_facts *crop = sowing_of(scope)->crop;

    db_text_add_format(to, "What is eaten of %s %s, so the harvest waits for %d days after raw manure.",
                       crop->text[DB_FACT_PLURAL],
                       crop->low[DB_FACT_CLEAR_OF_SOIL] > 0 ? "hangs clear of the soil" : "touches the soil",
                       (int) scope->own[DB_OWN_MANURE_WAIT][1]);
}

static void say_ripe(struct db_text *to, const struct db_scope *scope)
{
    if (scope->life->ripe.how != DB_ESTIMATED || isnan(scope->own[DB_OWN_MANURED][1]))
        return;
    db_text_add(to, "But for the manure they would be ready on ");
    say_days(to, scope, DB_OWN_RIPE);
    db_text_add(to, ".");
}

void db_say_plot(struct db_text *to, const struct db_scope *scope, enum db_own own)
{
    switch (own) {
    case DB_OWN_FITS:
    case DB_OWN_ROOM:
        say_room(to, scope);
        break;
    case DB_OWN_READY:
        say_bed(to, scope);
        db_text_add(to, " is likely to have room for them from ");
        say_days(to, scope, own);
        db_text_add(to, ".");
        break;
    case DB_OWN_ELSEWHERE_FROM:
        if (!scope->own_word[DB_OWN_WORD_ELSEWHERE])
            break;
        db_text_add_format(to, "There is room for them %s from ", scope->own_word[DB_OWN_WORD_ELSEWHERE]);
        say_day(to, scope, scope->own[own][1]);
        db_text_add(to, " on, for as long as they stay.");
        break;
    case DB_OWN_PLANTS_FIT:
        db_text_add_format(to, "There is room for %d of them.", (int) scope->own[own][1]);
        break;
    case DB_OWN_HOST_GONE:
    case DB_OWN_HOST_STANDS:
        say_host(to, scope);
        break;
    case DB_OWN_FAMILY_YEAR:
    case DB_OWN_FAMILY_GAP:
        say_family(to, scope);
        break;
    case DB_OWN_MANURED:
        say_manured(to, scope);
        break;
    case DB_OWN_MANURE_WAIT:
        say_manure_wait(to, scope);
        break;
    case DB_OWN_RIPE:
        say_ripe(to, scope);
        break;
    default: /* stands in the text */
        break;
    }
}

enum db_own db_say_own_word(enum db_own_word word)
{
    static const enum db_own figures[DB_OWN_WORD_COUNT] = {
        [DB_OWN_WORD_HOST] = DB_OWN_HOST_GONE,
        [DB_OWN_WORD_ELSEWHERE] = DB_OWN_ELSEWHERE_FROM,
        [DB_OWN_WORD_FAMILY] = DB_OWN_FAMILY_YEAR,
        [DB_OWN_WORD_SHELTER] = DB_OWN_SEEDS, /* both stand in the text: nothing is said of them */
    };

    return figures[word];
}
