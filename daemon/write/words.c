/* How dates, spans and efforts read, and how text is wrapped. */
#include "write/private.h"

#include "base/text.h"

#include "dewbell/units.h"

#include <string.h>

#include "base/banned.h"

enum { COLUMNS = 78 };

static void add_date(struct db_text *text, struct db_date date, bool weekday, bool month)
{
    int parts[3];

    db_date_parts(date, &parts[0], &parts[1], &parts[2]);
    if (weekday)
        db_text_add_format(text, "%s ", db_date_weekday_name(db_date_weekday(date), true));
    db_text_add_int(text, parts[2]);
    if (month)
        db_text_add_format(text, " %s", db_date_month_name(parts[1], false));
}

char *db_words_day(struct db_date date, char buffer[DB_WORDS])
{
    struct db_text text = db_text_in(buffer, DB_WORDS);

    add_date(&text, date, true, true);
    return buffer;
}

char *db_words_date(struct db_date date, char buffer[DB_WORDS])
{
    struct db_text text = db_text_in(buffer, DB_WORDS);

    add_date(&text, date, false, true);
    return buffer;
}

char *db_words_long_day(struct db_date date, char buffer[DB_WORDS])
{
    struct db_text text = db_text_in(buffer, DB_WORDS);
    int parts[3];

    db_date_parts(date, &parts[0], &parts[1], &parts[2]);
    db_text_add_format(&text, "%s %d %s %d", db_date_weekday_name(db_date_weekday(date), false), parts[2],
                       db_date_month_name(parts[1], false), parts[0]);
    return buffer;
}

char *db_words_span(struct db_date first, struct db_date last, char buffer[DB_WORDS])
{
    struct db_text text = db_text_in(buffer, DB_WORDS);
    int from[2], to[2];

    db_date_parts(first, &from[0], &from[1], NULL);
    db_date_parts(last, &to[0], &to[1], NULL);
    if (first.day != last.day) {
        add_date(&text, first, true, from[0] != to[0] || from[1] != to[1]);
        db_text_add(&text, " to ");
    }
    add_date(&text, last, true, true);
    return buffer;
}

char *db_words_effort(double minutes, char buffer[DB_WORDS])
{
    struct db_amount effort = { .value = minutes / 1440.0, .kind = DB_KIND_TIME };

    buffer[0] = '\0';
    if (minutes > 0)
        (void) db_amount_text(effort, false, buffer, DB_WORDS);
    return buffer;
}

/* Columns a run of well-formed text takes: its characters, combining marks not counted. */
static size_t columns(const char *text, size_t length)
{
    size_t count = db_text_characters(text, length);

    for (size_t i = 0; i + 1 < length; i++) {
        unsigned char lead = (unsigned char) text[i], next = (unsigned char) text[i + 1];
        if (lead == 0xCC || (lead == 0xCD && next < 0xB0)) /* U+0300 .. U+036F */
            count--;
    }
    return count;
}

enum db_status db_words_wrap(struct db_bytes *out, const char *lead, const char *text, size_t indent)
{
    size_t column = columns(lead, strlen(lead)), start = column;
    enum db_status status = db_bytes_text(out, lead);

    for (size_t length; status == DB_OK && *text; text += length) {
        length = strspn(text, " ");
        if (length)
            continue;
        bool new_line = *text == '\n';
        length = new_line ? 1 : strcspn(text, " \n");
        size_t wide = new_line ? 0 : columns(text, length);
        if (new_line || (column > start && column + 1 + wide > COLUMNS)) {
            status = db_bytes_format(out, "\n%*s", (int) indent, "");
            column = start = indent;
        } else if (column > start) {
            status = db_bytes_text(out, " ");
            column++;
        }
        if (status == DB_OK && !new_line)
            status = db_bytes_add(out, text, length);
        column += wide;
    }
    return status == DB_OK ? db_bytes_text(out, "\n") : status;
}
