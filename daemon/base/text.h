/* Text of bounded size, built a piece at a time in a buffer of the caller's; and numbers that no locale changes. */
#ifndef DB_BASE_TEXT_H
#define DB_BASE_TEXT_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

struct db_arena;

/* data[length] is always NUL. `cut` is set once something did not fit (never inside a UTF-8 sequence). */
struct db_text {
    char *data;
    size_t length, room;
    bool cut;
};

struct db_text db_text_in(char *buffer, size_t size); /* size >= 1 */
void db_text_add(struct db_text *text, const char *more);
void db_text_add_part(struct db_text *text, const char *more, size_t length);
void db_text_add_int(struct db_text *text, int64_t number);
/* At most `decimals` (0..6) digits after the point, trailing zeros dropped; "?" for NaN or infinity. Rounds half away
 * from zero. */
void db_text_add_number(struct db_text *text, double number, int decimals);
/* %s %d %zu %u and the like; no floating point (the locale would creep in). */
__attribute__((format(printf, 2, 3))) void db_text_add_format(struct db_text *text, const char *format, ...);

/* Whether all of it is well-formed UTF-8 without NUL. ret_at: the offset of the first bad byte. */
bool db_text_utf8(const char *text, size_t length, size_t *ret_at);
/* Code points in well-formed UTF-8. */
size_t db_text_characters(const char *text, size_t length);
/* ASCII only, whatever the locale. */
bool db_text_same(const char *a, const char *b);                    /* ignoring case */
bool db_text_is(const char *text, size_t length, const char *word); /* exactly */

#endif
