/* Amounts and rates. */
#define DB_PURE
#include "rules/parse.h"

#include "base/text.h"

#include <string.h>

#include "base/banned.h"

static const char *const months[] = { "january", "february", "march",     "april",   "may",      "june",
                                      "july",    "august",   "september", "october", "november", "december" };

/* "14 June": a date of the calendar, which rules do not know. */
static bool is_calendar(struct db_parser *p, const struct db_token *number)
{
    char word[16];

    if (p->token.kind != DB_TOKEN_WORD || p->token.width >= sizeof word || p->token.width < 3)
        return false;
    memcpy(word, db_parse_text(p, p->token.from), p->token.width);
    word[p->token.width] = '\0';
    for (size_t i = 0; i < 12; i++) {
        const char brief[4] = { months[i][0], months[i][1], months[i][2], '\0' };

        if (!db_text_same(word, months[i]) && !db_text_same(word, brief))
            continue;
        DB_PARSE_MISTAKE(p, number->from, p->token.from + p->token.width - number->from,
                         "count from a stage (sown + 10 days), or ask for the month (month >= 4)",
                         "rules know no dates of the calendar: seasons differ");
        return true;
    }
    return false;
}

static bool is_singular(const char *unit)
{
    static const char *const units[] = { "minute", "hour", "day", "week", "month", "year" };

    for (size_t i = 0; i < sizeof units / sizeof units[0]; i++)
        if (strcmp(unit, units[i]) == 0)
            return true;
    return false;
}

/* A word right after a number that is no unit: "3 litre" is one, "3 milimetres" is not. */
static bool is_wrong_unit(struct db_parser *p, const struct db_token *number)
{
    static const char *const keywords[] = { "and", "or", "per", "ahead", "back", NULL };
    const char *names[96], *near;
    char word[32], instead[80];
    size_t count = 0;

    if (p->token.kind != DB_TOKEN_WORD)
        return false;
    for (size_t i = 0; keywords[i]; i++)
        if (db_parse_is_word(p, keywords[i]))
            return false;
    if (is_calendar(p, number))
        return true;
    for (const struct db_unit *u; (u = db_unit_at(count)) && count < 96; count++)
        names[count] = u->name;
    if (p->token.width >= sizeof word)
        return false;
    memcpy(word, db_parse_text(p, p->token.from), p->token.width);
    word[p->token.width] = '\0';
    near = db_nearest(word, names, count);

    struct db_text text = db_text_in(instead, sizeof instead);

    if (near) {
        db_text_add(&text, "write ");
        db_text_add_part(&text, db_parse_text(p, number->from), number->digits);
        db_text_add(&text, " ");
        db_text_add(&text, near);
        if (is_singular(near) && number->number != 1)
            db_text_add(&text, "s");
    }
    DB_PARSE_MISTAKE(p, p->token.from, p->token.width, instead, "\"%s\" is not a unit", word);
    return true;
}

/* What stands after `per`: a unit, a number with one, or a thing that is counted. */
static int rate(struct db_parser *p, const struct db_token *number, bool negative)
{
    static const char *const things[] = { "plug", "plugs", "plant", "plants" };
    size_t from = 0, width = 0;
    double amount = 1;
    const struct db_unit *unit = db_lex_unit(&p->lexer, &from, &width);
    int kind = -1;

    if (unit) {
        p->token = (struct db_token){ .kind = DB_TOKEN_WORD, .from = from, .width = width };
        db_parse_take(p);
    } else {
        db_parse_take(p);
        if (p->token.kind == DB_TOKEN_NUMBER) {
            amount = p->token.number;
            unit = p->token.unit;
            db_parse_take(p);
        }
        for (size_t i = 0; !unit && i < sizeof things / sizeof things[0]; i++)
            if (db_parse_is_word(p, things[i])) {
                kind = DB_KIND_NUMBER;
                db_parse_take(p);
                break;
            }
    }
    if (!unit && kind < 0)
        return db_parse_stray(p, "a unit", "write it as 3 min per m");
    if (unit)
        kind = (int) (unit->kind == DB_KIND_TEMPERATURE ? DB_KIND_WARMTH : unit->kind);
    if (amount <= 0) {
        DB_PARSE_MISTAKE(p, from, p->last_end - from, "write it as 3 min per m",
                         "a rate needs something to be for each of");
        return db_parse_halt(p);
    }

    const int at = db_parse_add(p, DB_OP_RATE, number->from, -1, -1);

    if (at < 0)
        return -1;

    struct db_node *node = &p->nodes[at];
    const struct db_unit *of = number->unit;

    node->kind = DB_KIND_RATE;
    node->of = (unsigned char) (!of ? DB_KIND_NUMBER : of->kind == DB_KIND_TEMPERATURE ? DB_KIND_WARMTH : of->kind);
    node->per = (unsigned char) kind;
    node->value =
        (negative ? -number->number : number->number) * (of ? of->factor : 1) / (amount * (unit ? unit->factor : 1));
    return at;
}

int db_parse_amount(struct db_parser *p, bool negative, size_t from)
{
    const struct db_token number = p->token;

    db_parse_take(p);
    if (number.decimal_comma) {
        DB_PARSE_MISTAKE(p, number.from, number.width + 2, "write a point: 1.5", "a comma separates values");
        return db_parse_halt(p);
    }
    if (!number.unit && is_wrong_unit(p, &number))
        return db_parse_halt(p);
    if (db_parse_is_word(p, "per"))
        return rate(p, &number, negative);

    const int at = db_parse_add(p, DB_OP_AMOUNT, from, -1, -1);

    if (at < 0)
        return -1;

    struct db_node *node = &p->nodes[at];
    const double written = negative ? -number.number : number.number;

    node->kind = (unsigned char) (number.unit ? number.unit->kind : DB_KIND_NUMBER);
    node->value = number.unit ? written * number.unit->factor + number.unit->offset : written;
    node->difference = number.unit ? written * number.unit->factor : written;
    node->point = node->kind == DB_KIND_TEMPERATURE;
    node->sign_width = (unsigned) number.digits + (negative ? (unsigned) (number.from - from) : 0);
    return at;
}
