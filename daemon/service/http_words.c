#include "service/http_words.h"

#include "base/text.h"
#include "dewbell/date.h"

#include <ctype.h>
#include <stdio.h>
#include <string.h>

#include "base/banned.h"

static const char *const days[] = {
    "Thu", "Fri", "Sat", "Sun", "Mon", "Tue", "Wed"
}; /* 1 January 1970 was a Thursday */
static const char *const months[] = {
    "Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"
};

static const char *skip_spaces(const char *at)
{
    return at + strspn(at, " \t");
}

/* "0.5" in thousandths; what is no weight counts as 0, so that nothing is sent that was perhaps refused. */
static int read_weight(const char *at)
{
    int weight = 0, digit = 100;

    if (*at != '0' && *at != '1')
        return 0;
    weight = (*at - '0') * 1000;
    if (*++at == '.')
        for (at++; *at >= '0' && *at <= '9' && digit; at++, digit /= 10)
            weight += (*at - '0') * digit;
    at = skip_spaces(at);
    return weight > 1000 || (*at && *at != ',' && *at != ';') ? 0 : weight;
}

void db_codings_add(struct db_codings *codings, const char *value)
{
    while (*value) {
        value += strspn(value, " \t,");
        const char *name = value;
        size_t length = strcspn(value, " \t,;");
        int weight = 1000;

        for (value += length; *value && *value != ',';) {
            value = skip_spaces(value);
            if (*value == ';') {
                value = skip_spaces(value + 1);
                if ((*value == 'q' || *value == 'Q') && *skip_spaces(value + 1) == '=')
                    weight = read_weight(skip_spaces(skip_spaces(value + 1) + 1));
            }
            value += strcspn(value, ",;");
        }
        if ((length == 4 && strncasecmp(name, "gzip", 4) == 0) || (length == 6 && strncasecmp(name, "x-gzip", 6) == 0))
            codings->gzip = weight;
        else if (length == 8 && strncasecmp(name, "identity", 8) == 0)
            codings->identity = weight;
        else if (length == 1 && *name == '*')
            codings->any = weight;
    }
}

bool db_codings_gzip(const struct db_codings *codings)
{
    int gzip = codings->gzip >= 0 ? codings->gzip : codings->any;

    return gzip > 0 && gzip >= codings->identity;
}

bool db_tags_match(const char *value, const char *tag)
{
    size_t length = strlen(tag);

    value = skip_spaces(value);
    if (*value == '*' && !*skip_spaces(value + 1))
        return true;
    for (;;) {
        value += strspn(value, " \t,");
        if (value[0] == 'W' && value[1] == '/')
            value += 2;
        if (*value != '"')
            return false;
        const char *end = strchr(value + 1, '"');
        if (!end)
            return false;
        if ((size_t) (end + 1 - value) == length && memcmp(value, tag, length) == 0)
            return true;
        value = skip_spaces(end + 1);
        if (*value != ',')
            return false;
    }
}

/* Two digits of a number below `below`; -1 if they are not. */
static int two(const char *at, int below)
{
    if (!isdigit((unsigned char) at[0]) || !isdigit((unsigned char) at[1]))
        return -1;
    int number = (at[0] - '0') * 10 + at[1] - '0';
    return number < below ? number : -1;
}

static int month_of(const char *at)
{
    for (int i = 0; i < 12; i++)
        if (strncmp(at, months[i], 3) == 0)
            return i + 1;
    return -1;
}

/* Each pattern: a (letters of a day's name), D d (day, d alone: may begin with a space), M (month), Y (four digits), y (two),
 * T (hh:mm:ss), G (GMT); others stand for themselves. */
static bool read_as(const char *pattern, const char *text, int64_t now, int64_t *ret)
{
    int year = -1, month = -1, day = -1, hour = -1, minute = -1, second = -1;
    struct db_date date;

    for (; *pattern; pattern++) {
        size_t used = 1;
        switch (*pattern) {
        case 'a':
            used = strspn(text, "adehinorstuyFMSTW");
            if (used < 3)
                return false;
            break;
        case 'D':
            day = two(text, 32);
            used = 2;
            break;
        case 'd':
            day = *text == ' ' && isdigit((unsigned char) text[1]) ? text[1] - '0' : two(text, 32);
            used = 2;
            break;
        case 'M':
            month = month_of(text);
            used = 3;
            break;
        case 'Y':
            year = two(text, 100) < 0 || two(text + 2, 100) < 0 ? -1 : two(text, 100) * 100 + two(text + 2, 100);
            used = 4;
            break;
        case 'y': { /* more than 50 years ahead: it was meant in the past */
            int of_now = 1970 + (int) (now / 31556952);
            year = two(text, 100);
            year = year < 0 ? -1 : of_now - of_now % 100 + year;
            year = year > of_now + 50 ? year - 100 : year;
            used = 2;
            break;
        }
        case 'T':
            hour = two(text, 24);
            minute = hour < 0 || text[2] != ':' ? -1 : two(text + 3, 60);
            second = minute < 0 || text[5] != ':' ? -1 : two(text + 6, 61);
            used = second < 0 ? 0 : 8;
            break;
        case 'G':
            used = strncmp(text, "GMT", 3) == 0 ? 3 : 0;
            break;
        default:
            if (*text != *pattern)
                return false;
        }
        if (!used || memchr(text, '\0', used))
            return false;
        text += used;
    }
    if (*text || year < 0 || month < 0 || day < 1 || second < 0 || db_date_of(year, month, day, &date) != DB_OK)
        return false;
    *ret = (int64_t) date.day * 86400 + hour * 3600 + minute * 60 + second;
    return true;
}

bool db_http_date_read(const char *text, int64_t now, int64_t *ret)
{
    return read_as("a, D M Y T G", text, now, ret) || read_as("a, D-M-y T G", text, now, ret) ||
           read_as("a M d T Y", text, now, ret);
}

char *db_http_date(int64_t seconds, char buffer[DB_HTTP_DATE])
{
    int64_t day = (seconds - (seconds < 0 ? 86399 : 0)) / 86400, rest = seconds - day * 86400;
    int year, month, of_month;

    db_date_parts((struct db_date){ (int32_t) day }, &year, &month, &of_month);
    (void) snprintf(buffer, DB_HTTP_DATE, "%s, %02u %s %04u %02u:%02u:%02u GMT", days[((day % 7) + 7) % 7],
                    (unsigned) of_month % 100, months[month - 1], (unsigned) year % 10000,
                    (unsigned) (rest / 3600) % 100, (unsigned) (rest / 60 % 60), (unsigned) (rest % 60));
    return buffer;
}
