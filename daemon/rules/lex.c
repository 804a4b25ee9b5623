#define DB_PURE
#include "rules/lex.h"

#include <string.h>

#include "base/banned.h"

static bool is_space(char c)
{
    return c == ' ' || c == '\t' || c == '\n' || c == '\r';
}

static bool is_digit(char c)
{
    return c >= '0' && c <= '9';
}

/* Signs that keyboards and word processors offer, and signs of programming languages. */
static const struct {
    const char *sign, *instead;
} strange[] = {
    { "≤", "write <=" },
    { "≥", "write >=" },
    { "≠", "write is not" },
    { "−", "write a plain -" },
    { "–", "write a plain -" },
    { "×", "write *" },
    { "÷", "write /" },
    { "…", "write .." },
    { "==", "write =" },
    { "!=", "write is not" },
    { "<>", "write is not" },
    { "&&", "write and" },
    { "||", "write or" },
    { "&", "write and" },
    { "|", "write or" },
    { "!", "write not" },
    { "\"", "leave the quotes out" },
    { "'", "leave the quotes out" },
};

static size_t strange_at(const char *text, size_t length, const char **ret_instead)
{
    for (size_t i = 0; i < sizeof strange / sizeof strange[0]; i++) {
        const size_t n = strlen(strange[i].sign);

        if (n <= length && memcmp(text, strange[i].sign, n) == 0) {
            *ret_instead = strange[i].instead;
            return n;
        }
    }
    return 0;
}

/* Letters, and whatever lies beyond ASCII but for the degree sign and the signs above. */
static bool is_letter(const struct db_lexer *lexer, size_t at)
{
    const char c = lexer->text[at];
    const char *unused;

    if ((c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || c == '_')
        return true;
    return (c & 0x80) && strncmp(lexer->text + at, "°", strlen("°")) != 0 &&
           strange_at(lexer->text + at, lexer->to - at, &unused) == 0;
}

static void skip_spaces(struct db_lexer *lexer)
{
    while (lexer->at < lexer->to && is_space(lexer->text[lexer->at]))
        lexer->at++;
}

static struct db_token lex_word(struct db_lexer *lexer)
{
    struct db_token token = { .kind = DB_TOKEN_WORD, .from = lexer->at };
    const char *text = lexer->text;
    size_t at = lexer->at;

    while (at < lexer->to) {
        /* A hyphen or a point between letters belongs to the word: very-hardy, crop.thin. */
        const bool joins = (text[at] == '-' || text[at] == '.') && at + 1 < lexer->to && is_letter(lexer, at + 1);

        if (!is_letter(lexer, at) && !is_digit(text[at]) && !joins)
            break;
        at++;
    }
    token.width = at - lexer->at;
    lexer->at = at;
    return token;
}

static struct db_token lex_number(struct db_lexer *lexer)
{
    struct db_token token = { .kind = DB_TOKEN_NUMBER, .from = lexer->at };
    const char *text = lexer->text;
    size_t end = lexer->at, used;

    while (end < lexer->to && is_digit(text[end]))
        end++;
    if (end + 1 < lexer->to && text[end] == '.' && is_digit(text[end + 1]))
        for (end++; end < lexer->to && is_digit(text[end]);)
            end++;
    if (db_number_read(text + lexer->at, end - lexer->at, &token.number, &used) != DB_OK)
        return (struct db_token){ .kind = DB_TOKEN_WRONG, .from = lexer->at, .width = end - lexer->at, .instead = "" };
    token.digits = end - token.from;
    lexer->at = end;
    if (end + 1 < lexer->to && text[end] == ',' && is_digit(text[end + 1]))
        token.decimal_comma = true;

    size_t unit_from, unit_width;

    token.unit = db_lex_unit(lexer, &unit_from, &unit_width);
    token.width = (token.unit ? unit_from + unit_width : end) - token.from;
    return token;
}

const struct db_unit *db_lex_unit(struct db_lexer *lexer, size_t *ret_from, size_t *ret_width)
{
    const size_t before = lexer->at;
    size_t used = 0;

    skip_spaces(lexer);

    const struct db_unit *unit = db_unit_find(lexer->text + lexer->at, lexer->to - lexer->at, &used);

    if (!unit) {
        lexer->at = before;
        return NULL;
    }
    *ret_from = lexer->at;
    *ret_width = used;
    lexer->at += used;
    return unit;
}

struct db_token db_lex(struct db_lexer *lexer)
{
    const char *text = lexer->text, *instead = "";

    skip_spaces(lexer);

    struct db_token token = { .kind = DB_TOKEN_SIGN, .from = lexer->at, .width = 1 };
    const size_t left = lexer->to - lexer->at;

    if (left == 0) {
        token.kind = DB_TOKEN_END;
        token.width = 0;
        return token;
    }

    const char c = text[lexer->at], next = left > 1 ? text[lexer->at + 1] : '\0';
    const size_t odd = strange_at(text + lexer->at, left, &instead);

    if (odd > 0) {
        token.kind = DB_TOKEN_WRONG;
        token.width = odd;
        token.instead = instead;
    } else if (is_digit(c) || (c == '.' && is_digit(next))) {
        return lex_number(lexer);
    } else if (is_letter(lexer, lexer->at)) {
        return lex_word(lexer);
    } else if ((c == '<' || c == '>') && next == '=') {
        token.sign = c == '<' ? 'l' : 'g';
        token.width = 2;
    } else if (c == '.' && next == '.') {
        token.sign = '.';
        token.width = 2;
    } else if (strchr("()+-*/<>=,", c)) {
        token.sign = c;
    } else {
        token.kind = DB_TOKEN_WRONG;
        token.instead = "";
        if (c & 0x80) /* the degree sign alone */
            token.width = left > 1 ? 2 : 1;
    }
    lexer->at += token.width;
    return token;
}
