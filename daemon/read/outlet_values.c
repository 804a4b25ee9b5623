#include "read/outlet_values.h"

#include "base/text.h"
#include "read/files.h"

#include <curl/curl.h>

#include <math.h>
#include <string.h>

#include "base/banned.h"

enum { RECIPIENTS_MOST = 50, WORDS_MOST = 100, ADDRESS_MOST = 254, LOCAL_MOST = 64 };

#define SAY(load, span, instead, ...) db_mistakes_add((load)->mistakes, db_span_place(span), instead, __VA_ARGS__)
#define SHOW(span) (int) db_span_length(span), db_span_start(span)

/* A place without its line: the line holds something that no log may show. */
static struct db_place veiled(struct db_span span)
{
    struct db_place at = db_span_place(span);

    at.text = NULL;
    return at;
}

/* The first byte that is a control character, or a blank where none may be; SIZE_MAX: there is none. */
static size_t control_at(const char *text, bool blanks)
{
    for (size_t i = 0; text[i]; i++)
        if ((unsigned char) text[i] < 0x20 || text[i] == 0x7f || (blanks && text[i] == ' '))
            return i;
    return SIZE_MAX;
}

static bool is_here(const char *host)
{
    return strcmp(host, "localhost") == 0 || strcmp(host, "[::1]") == 0 || strncmp(host, "127.", 4) == 0;
}

/* One part of the address, copied into the scratch arena; NULL: it has none. */
static const char *part_of(struct db_load *load, CURLU *url, CURLUPart which)
{
    char *part = NULL;
    const char *copy = NULL;

    if (curl_url_get(url, which, &part, 0) == CURLUE_OK && part)
        copy = db_arena_text(load->scratch, part, strlen(part));
    curl_free(part);
    return copy;
}

static bool check_url(struct db_load *load, struct db_span span, const struct db_url_wish *wish, CURLU *url)
{
    const char *scheme = part_of(load, url, CURLUPART_SCHEME), *host = part_of(load, url, CURLUPART_HOST);
    const char *const *known = wish->schemes;

    if (part_of(load, url, CURLUPART_USER) || part_of(load, url, CURLUPART_PASSWORD)) {
        db_mistakes_add(load->mistakes, veiled(span),
                        "write login = the name, and put the password in a file of its own: secret_file = ...",
                        "the address holds a name or password");
        return false;
    }
    while (*known && (!scheme || strcmp(*known, scheme) != 0))
        known++;
    if (!*known || !host || !*host) {
        SAY(load, span, wish->example, "\"%.*s\" is not an address that this can go to", SHOW(span));
        return false;
    }
    if (part_of(load, url, CURLUPART_FRAGMENT)) {
        SAY(load, span, "take out what begins with #", "the address names a place inside a page");
        return false;
    }
    if (wish->secret && scheme && strcmp(scheme, "http") == 0 && !is_here(host)) {
        SAY(load, span, "write https://", "a secret would travel unencrypted to %s", host);
        return false;
    }
    return true;
}

const char *db_value_url(struct db_load *load, struct db_span span, const struct db_url_wish *wish)
{
    const char *text = db_span_text(span, load->arena);
    const size_t bad = text ? control_at(text, true) : SIZE_MAX;
    bool good = false;

    if (!text)
        return NULL;
    if (bad != SIZE_MAX) {
        SAY(load, span, text[bad] == ' ' ? "write %20 for a blank" : "take it out", "there is a %s in the address",
            text[bad] == ' ' ? "blank" : "control character");
        return NULL;
    }
    CURLU *url = curl_url();
    if (!url)
        return NULL;
    if (curl_url_set(url, CURLUPART_URL, text, CURLU_NON_SUPPORT_SCHEME) == CURLUE_OK)
        good = check_url(load, span, wish, url);
    else
        SAY(load, span, wish->example, "\"%.*s\" is not an address that this can go to", SHOW(span));
    curl_url_cleanup(url);
    return good ? text : NULL;
}

/* What is wrong with a mail address; NULL: nothing. */
static const char *address_trouble(const char *text)
{
    const char *at = strchr(text, '@');
    const size_t length = strlen(text);

    if (!at)
        return "has no @";
    if (strchr(at + 1, '@'))
        return "has more than one @";
    if (at == text || !at[1])
        return at == text ? "has nothing before the @" : "has nothing after the @";
    if (length > ADDRESS_MOST || at - text > LOCAL_MOST)
        return "is longer than an address may be";
    if (at[1] == '.' || text[0] == '.' || text[length - 1] == '.' || strstr(text, "..") || at[-1] == '.')
        return "has a dot where none may be";
    return text[0] == '-' ? "begins with a hyphen" : NULL;
}

const char *db_value_address(struct db_load *load, struct db_span span)
{
    const char *text = db_span_text(span, load->arena);

    if (!text)
        return NULL;
    if (!*text) {
        SAY(load, span, "write addresses between commas", "an address is missing");
        return NULL;
    }
    if (control_at(text, false) != SIZE_MAX) {
        SAY(load, span, "write the address alone, as in anna@example.org",
            "there is a control character in this address");
        return NULL;
    }
    for (const char *c = text; *c; c++)
        if ((unsigned char) *c >= 0x80) {
            SAY(load, span, "write the host in its form for machines, which begins with xn--",
                "\"%s\" has letters that many mail servers do not know", text);
            return NULL;
        }
    if (text[strcspn(text, " <>\"(),:;\\[]")]) {
        SAY(load, span, "write the address alone, as in anna@example.org, and several between commas",
            "\"%s\" is more than an address", text);
        return NULL;
    }
    const char *trouble = address_trouble(text);
    if (trouble)
        SAY(load, span, "write it as anna@example.org", "\"%s\" %s", text, trouble);
    return trouble ? NULL : text;
}

const char *const *db_value_addresses(struct db_load *load, struct db_span span)
{
    const char **to = db_arena_get(load->arena, RECIPIENTS_MOST + 1, sizeof *to);
    struct db_span part;
    size_t count = 0;
    bool good = to != NULL;

    for (size_t at = span.from; to && db_span_next(span, ',', &at, &part);) {
        const char *address = db_value_address(load, part);

        for (size_t i = 0; address && i < count; i++)
            if (db_text_same(to[i], address)) {
                SAY(load, part, "name it once", "%s stands here twice", address);
                address = NULL;
            }
        if (address && count == RECIPIENTS_MOST) {
            SAY(load, part, "use a mailing list of your mail server", "there are more than %d addresses",
                RECIPIENTS_MOST);
            return NULL;
        }
        if (address)
            to[count++] = address;
        else
            good = false;
    }
    return good ? to : NULL;
}

/* One word from *at on, its quotes taken off; *at moves on behind it. NULL: a quote is not closed, or memory is out. */
static const char *next_word(struct db_load *load, struct db_span span, size_t *at)
{
    const char *text = span.words->text;
    char *word = db_arena_get(load->arena, span.to - *at + 1, 1);
    size_t length = 0, opened = 0;
    char quote = '\0';

    if (!word)
        return NULL;
    for (; *at < span.to && (quote || (text[*at] != ' ' && text[*at] != '\t')); ++*at) {
        const char c = text[*at];

        if (quote ? c == quote : c == '"' || c == '\'') {
            opened = *at;
            quote = quote ? '\0' : c;
        } else {
            word[length++] = c;
        }
    }
    if (quote) {
        SAY(load, ((struct db_span){ span.words, opened, span.to }), "end it with another one",
            "this quotation mark is not closed");
        return NULL;
    }
    return word;
}

const char *const *db_value_words(struct db_load *load, struct db_span span)
{
    const char **words = db_arena_get(load->arena, WORDS_MOST + 1, sizeof *words);
    size_t count = 0, at = span.from;

    while (words && at < span.to) {
        while (at < span.to && (span.words->text[at] == ' ' || span.words->text[at] == '\t'))
            at++;
        if (at == span.to)
            break;
        if (count == WORDS_MOST) {
            SAY(load, span, "put them into a script and run that", "there are more than %d words", WORDS_MOST);
            return NULL;
        }
        words[count] = next_word(load, span, &at);
        if (!words[count++])
            return NULL;
    }
    if (!words)
        return NULL;
    if (!count || words[0][0] != '/') {
        SAY(load, span, "write where the program is, as in /usr/local/bin/tell; no shell looks for it",
            "\"%.*s\" does not begin with the whole path of a program", SHOW(span));
        return NULL;
    }
    return words;
}

static bool two_digits(const char *text, int most, int32_t *ret)
{
    if (text[0] < '0' || text[0] > '9' || text[1] < '0' || text[1] > '9')
        return false;
    *ret = (text[0] - '0') * 10 + text[1] - '0';
    return *ret <= most;
}

#define HOUR_HINT "write it as 06:30, sunrise, sunrise - 30 min or sunrise + 1 h"

bool db_value_hour(struct db_load *load, struct db_span span, bool *ret_by_sun, int32_t *ret_minutes)
{
    static const struct db_measure part_of_day = { DB_KIND_TIME, "min", 0, 0.25, false, NULL };
    static const char sunrise[] = "sunrise";
    const char *text = db_span_start(span);
    const size_t length = db_span_length(span);
    int32_t hours, minutes;
    double days;

    if (length == 5 && text[2] == ':' && two_digits(text, 23, &hours) && two_digits(text + 3, 59, &minutes)) {
        if (hours >= 12) {
            SAY(load, span, "write an hour before 12:00", "a morning that could not be sent is given up at noon");
            return false;
        }
        *ret_by_sun = false;
        *ret_minutes = hours * 60 + minutes;
        return true;
    }
    if (length < sizeof sunrise - 1 || memcmp(text, sunrise, sizeof sunrise - 1) != 0) {
        SAY(load, span, HOUR_HINT, "\"%.*s\" is no hour of the morning", SHOW(span));
        return false;
    }
    *ret_by_sun = true;
    *ret_minutes = 0;
    struct db_span rest = db_span_trim((struct db_span){ span.words, span.from + sizeof sunrise - 1, span.to });
    if (!db_span_length(rest))
        return true;
    const char sign = *db_span_start(rest);
    if (sign != '+' && sign != '-') {
        SAY(load, span, HOUR_HINT, "\"%.*s\" is no hour of the morning", SHOW(span));
        return false;
    }
    rest.from++;
    if (!db_value_amount(db_span_trim(rest), &part_of_day, db_load_reader(load), &days))
        return false;
    *ret_minutes = (int32_t) lround(days * 1440) * (sign == '-' ? -1 : 1);
    return true;
}
