/* How things look on a terminal. */
#include "cli/cli.h"

#include "base/text.h"

#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "base/banned.h"

enum { COLUMNS = 78 };

static bool is_lively(FILE *to)
{
    const char *term = getenv("TERM"), *none = getenv("NO_COLOR");

    return isatty(fileno(to)) && !(none && *none) && term && strcmp(term, "dumb") != 0;
}

const char *db_show_bold(FILE *to)
{
    return is_lively(to) ? "\033[1m" : "";
}

const char *db_show_plain(FILE *to)
{
    return is_lively(to) ? "\033[0m" : "";
}

const char *db_show_day(struct db_date date, char buffer[48])
{
    int year, month, day;

    if (!db_date_known(date))
        return "no date";
    db_date_parts(date, &year, &month, &day);
    (void) snprintf(buffer, 48, "%s %d %s %d", db_date_weekday_name(db_date_weekday(date), false), day,
                    db_date_month_name(month, false), year);
    return buffer;
}

const char *db_show_short(struct db_date date, struct db_date today, char buffer[48])
{
    int year, month, day, this_year;

    if (!db_date_known(date))
        return "no date";
    db_date_parts(date, &year, &month, &day);
    db_date_parts(today, &this_year, NULL, NULL);
    if (year == this_year)
        (void) snprintf(buffer, 48, "%d %s", day, db_date_month_name(month, false));
    else
        (void) snprintf(buffer, 48, "%d %s %d", day, db_date_month_name(month, false), year);
    return buffer;
}

void db_show_wrapped(FILE *to, const char *text, int indent)
{
    size_t column = 0;

    for (const char *at = text; *at;) {
        at += strspn(at, " ");
        size_t length = strcspn(at, " \n");
        size_t wide = db_text_characters(at, length);

        if (length) {
            if (column && column + 1 + wide > (size_t) COLUMNS) {
                fputc('\n', to);
                column = 0;
            }
            if (!column) {
                fprintf(to, "%*s", indent, "");
                column = (size_t) indent;
            } else {
                fputc(' ', to);
                column++;
            }
            fwrite(at, 1, length, to);
            column += wide;
        }
        at += length;
        if (*at == '\n') {
            fputc('\n', to);
            column = 0;
            at++;
        }
    }
    if (column)
        fputc('\n', to);
}

/* The line as the gardener wrote it and a mark under the words at fault; a tab stays a tab so that the mark stands right. */
static void show_line(FILE *to, const struct db_place *at)
{
    size_t length = strcspn(at->text, "\r\n");

    fprintf(to, "%6u | %.*s\n", at->line, (int) (length > 400 ? 400 : length), at->text);
    if (at->column == 0)
        return;
    fprintf(to, "       | ");
    size_t left = at->column - 1;
    for (const char *c = at->text; left && c < at->text + length; c++) {
        if (((unsigned char) *c & 0xC0) == 0x80)
            continue; /* the rest of a character */
        fputc(*c == '\t' ? '\t' : ' ', to);
        left--;
    }
    fputc('^', to);
    for (unsigned i = 1; i < at->width && i < 100; i++)
        fputc('~', to);
    fputc('\n', to);
}

void db_show_mistakes(FILE *to, const struct db_mistakes *mistakes)
{
    const struct db_mistake *m;
    size_t kept = 0;

    for (; (m = db_mistakes_at(mistakes, kept)) != NULL; kept++) {
        fputs(db_show_bold(to), to);
        if (m->at.file)
            fprintf(to, "%s:", m->at.file);
        if (m->at.line)
            fprintf(to, "%u:", m->at.line);
        if (m->at.line && m->at.column)
            fprintf(to, "%u:", m->at.column);
        fprintf(to, "%s %s%s", db_show_plain(to), m->advice ? "advice: " : "", m->what);
        if (*m->instead)
            fprintf(to, "%s%s", m->what[0] && m->what[strlen(m->what) - 1] == '?' ? " " : "; ",
                    m->instead); /* "3 what? write 3 m" */
        fputc('\n', to);
        if (m->at.text && m->at.line)
            show_line(to, &m->at);
    }
    size_t all = db_mistakes_count(mistakes) + db_mistakes_advice(mistakes);
    if (all > kept)
        fprintf(to, "and %zu more\n", all - kept);
}
