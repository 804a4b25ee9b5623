/* The nearest of some names, for "did you mean". Distance: optimal string alignment (a letter put in, left out, changed
 * or two neighbours swapped cost one each), counted in characters, ASCII case ignored. */
#define DB_PURE
#include "dewbell/mistake.h"

#include <stdint.h>

#include "base/banned.h"

enum { LONGEST = 64, FAR = LONGEST + 1 };

/* The characters of a word; their number, or FAR if there are more than LONGEST. */
static size_t characters(const char *word, uint32_t into[LONGEST])
{
    size_t count = 0;

    for (const unsigned char *at = (const unsigned char *) word; *at; at++) {
        if ((*at & 0xC0) == 0x80 && count) {
            into[count - 1] = into[count - 1] << 8 | *at; /* only compared, so the bytes will do */
            continue;
        }
        if (count == LONGEST)
            return FAR;
        into[count++] = *at >= 'A' && *at <= 'Z' ? *at + 32u : *at;
    }
    return count;
}

static size_t least(size_t a, size_t b)
{
    return a < b ? a : b;
}

static size_t distance(const uint32_t *a, size_t a_length, const uint32_t *b, size_t b_length)
{
    size_t rows[3][LONGEST + 1];
    size_t *before = rows[0], *last = rows[1], *now = rows[2];

    for (size_t j = 0; j <= b_length; j++)
        last[j] = before[j] = j;
    for (size_t i = 1; i <= a_length; i++) {
        now[0] = i;
        for (size_t j = 1; j <= b_length; j++) {
            now[j] = least(least(last[j], now[j - 1]) + 1, last[j - 1] + (a[i - 1] != b[j - 1]));
            if (i > 1 && j > 1 && a[i - 1] == b[j - 2] && a[i - 2] == b[j - 1])
                now[j] = least(now[j], before[j - 2] + 1);
        }
        size_t *spare = before;
        before = last;
        last = now;
        now = spare;
    }
    return last[b_length];
}

const char *db_nearest(const char *word, const char *const *names, size_t count)
{
    uint32_t wanted[LONGEST], name[LONGEST];
    size_t length = characters(word, wanted), best = length / 3 > 3 ? 3 : length / 3 < 1 ? 1 : length / 3;
    const char *found = NULL;

    if (!length || length == FAR)
        return NULL;
    best++; /* one more than is near enough */
    for (size_t i = 0; i < count; i++) {
        size_t name_length = characters(names[i], name);

        if (name_length == FAR || name_length >= length + best || length >= name_length + best)
            continue;
        size_t far = distance(wanted, length, name, name_length);
        if (far < best) {
            best = far;
            found = names[i];
        }
    }
    return found;
}
