#define DB_PURE
#include "base/text.h"

#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#include "base/banned.h"

static bool goes_on(char byte) /* a second or later byte of a UTF-8 sequence */
{
    return ((unsigned char) byte & 0xC0) == 0x80;
}

/* Drops a UTF-8 sequence that the end of the buffer has cut. */
static void trim_end(struct db_text *text)
{
    size_t start = text->length, wants;

    while (start && goes_on(text->data[start - 1]))
        start--;
    if (start) {
        unsigned char lead = (unsigned char) text->data[--start];
        wants = lead >= 0xF0 ? 4 : lead >= 0xE0 ? 3 : lead >= 0xC0 ? 2 : 1;
        if (text->length - start < wants)
            text->length = start;
    }
    text->data[text->length] = '\0';
}

struct db_text db_text_in(char *buffer, size_t size)
{
    struct db_text text = { buffer, 0, size, false };

    buffer[0] = '\0';
    return text;
}

void db_text_add_part(struct db_text *text, const char *more, size_t length)
{
    size_t left = text->room - text->length - 1;

    if (text->cut || !length)
        return;
    if (length > left) {
        text->cut = true;
        length = left;
    }
    memcpy(text->data + text->length, more, length);
    text->length += length;
    text->data[text->length] = '\0';
    if (text->cut)
        trim_end(text);
}

void db_text_add(struct db_text *text, const char *more)
{
    db_text_add_part(text, more, strlen(more));
}

static void add_unsigned(struct db_text *text, bool minus, uint64_t number)
{
    char digits[21];
    size_t at = sizeof digits;

    do {
        digits[--at] = (char) ('0' + number % 10);
        number /= 10;
    } while (number);
    if (minus)
        digits[--at] = '-';
    db_text_add_part(text, digits + at, sizeof digits - at);
}

void db_text_add_int(struct db_text *text, int64_t number)
{
    add_unsigned(text, number < 0, number < 0 ? 0 - (uint64_t) number : (uint64_t) number);
}

/* size * scale to the nearest whole number, halves up, decided on the exact product. */
static uint64_t scaled(double size, double scale)
{
    double product = size * scale, rest = fma(size, scale, -product), below = floor(product);

    return (uint64_t) below + ((product - below - 0.5) + rest >= 0);
}

static void add_fraction(struct db_text *text, uint64_t part, int decimals)
{
    char digits[8] = ".";

    for (int i = decimals; i; i--, part /= 10)
        digits[i] = (char) ('0' + part % 10);
    size_t length = (size_t) decimals + 1;
    while (digits[length - 1] == '0')
        length--;
    if (length > 1)
        db_text_add_part(text, digits, length);
}

void db_text_add_number(struct db_text *text, double number, int decimals)
{
    static const double powers[] = { 1, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6 };
    double size = fabs(number);
    int exponent = 0;

    if (!isfinite(number)) {
        db_text_add(text, "?");
        return;
    }
    if (decimals < 0)
        decimals = 0;
    if (decimals > 6)
        decimals = 6;
    if (size >= 1e9 * powers[6]) { /* far beyond any garden: six decimals of a power of ten */
        exponent = (int) floor(log10(size));
        size /= pow(10, exponent);
        decimals = 6;
    } else if (size >= 1e9)
        decimals = decimals < 3 ? decimals : 3;
    uint64_t scale = (uint64_t) powers[decimals], all = scaled(size, powers[decimals]);
    add_unsigned(text, number < 0 && all, all / scale);
    add_fraction(text, all % scale, decimals);
    if (exponent) {
        db_text_add(text, "e+");
        db_text_add_int(text, exponent);
    }
}

void db_text_add_format(struct db_text *text, const char *format, ...)
{
    size_t left = text->room - text->length;
    va_list list;

    if (text->cut)
        return;
    va_start(list, format);
    int length = vsnprintf(text->data + text->length, left, format, list);
    va_end(list);
    if (length >= 0 && (size_t) length < left) {
        text->length += (size_t) length;
        return;
    }
    text->cut = true;
    if (length >= 0)
        text->length += left - 1;
    trim_end(text);
}

/* Whether the next eight bytes are ASCII and none of them NUL: most of a text is read in such steps. */
static bool is_plain(const char *text)
{
    const uint64_t high = UINT64_C(0x8080808080808080);
    uint64_t word;

    memcpy(&word, text, sizeof word);
    return ((word | (word - UINT64_C(0x0101010101010101))) & high) == 0;
}

bool db_text_utf8(const char *text, size_t length, size_t *ret_at)
{
    for (size_t i = 0; i < length;) {
        if (length - i >= 8 && is_plain(text + i)) {
            i += 8;
            continue;
        }
        unsigned char lead = (unsigned char) text[i], second = i + 1 < length ? (unsigned char) text[i + 1] : 0;
        size_t more = lead < 0x80 ? 0 : lead < 0xE0 ? 1 : lead < 0xF0 ? 2 : 3;
        /* the second byte's range shuts out long forms, surrogates and what lies beyond U+10FFFF */
        unsigned least = lead == 0xE0 ? 0xA0 : lead == 0xF0 ? 0x90 : 0x80;
        unsigned most = lead == 0xED ? 0x9F : lead == 0xF4 ? 0x8F : 0xBF;
        bool good = lead && (lead < 0x80 || (lead >= 0xC2 && lead <= 0xF4)) && i + more < length;

        if (good && more)
            good = second >= least && second <= most;
        for (size_t j = 2; good && j <= more; j++)
            good = goes_on(text[i + j]);
        if (!good) {
            if (ret_at)
                *ret_at = i;
            return false;
        }
        i += more + 1;
    }
    return true;
}

size_t db_text_characters(const char *text, size_t length)
{
    size_t count = 0;

    for (size_t i = 0; i < length; i++)
        count += !goes_on(text[i]);
    return count;
}

static char small(char letter)
{
    return letter >= 'A' && letter <= 'Z' ? (char) (letter - 'A' + 'a') : letter;
}

bool db_text_same(const char *a, const char *b)
{
    while (*a && small(*a) == small(*b))
        a++, b++;
    return *a == *b;
}

bool db_text_is(const char *text, size_t length, const char *word)
{
    return strlen(word) == length && (!length || memcmp(text, word, length) == 0);
}
