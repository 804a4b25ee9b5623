/* What an errand may hold: addresses, headers and mail addresses that cannot break out of their line. */
#include "service/trip.h"

#include "base/text.h"

#include <ctype.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#include "base/banned.h"

__attribute__((format(printf, 2, 3))) static enum db_status refuse(char why[256], const char *format, ...)
{
    va_list words;

    va_start(words, format);
    (void) vsnprintf(why, 256, format, words);
    va_end(words);
    return DB_RANGE;
}

/* No control characters: none ends a line, none reaches a terminal. */
static bool one_line(const char *text)
{
    for (; *text; text++)
        if ((unsigned char) *text < ' ' || *text == 0x7f)
            return false;
    return true;
}

/* RFC 9110 section 5.6.2: what a header's name is made of. */
static size_t token_length(const char *text)
{
    return strspn(text, "!#$%&'*+-.^_`|~0123456789abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ");
}

static enum db_status check_headers(const struct db_errand *errand, char why[256])
{
    const char *condition[] = { errand->if_none_match, errand->if_modified_since };

    for (size_t i = 0; errand->headers && errand->headers[i]; i++) {
        const char *line = errand->headers[i];
        size_t name = token_length(line);
        const char *value = name && line[name] == ':' ? line + name + 1 : NULL;

        /* libcurl takes an empty value for a wish to leave the header out. */
        if (!value || strspn(value, " \t") == strlen(value))
            return refuse(why, "header %zu is not of the form \"Name: value\"", i + 1);
        if (!one_line(line))
            return refuse(why, "the header %.*s holds a control character", (int) (name < 40 ? name : 40), line);
    }
    for (size_t i = 0; i < sizeof condition / sizeof *condition; i++)
        if (condition[i] && (!*condition[i] || !one_line(condition[i])))
            return refuse(why, "a condition of the request is empty or holds a control character");
    return DB_OK;
}

static enum db_status check_address(const char *address, char why[256])
{
    size_t at;

    /* RFC 5321 section 4.5.3.1: a path of 256 octets with its brackets. */
    if (!*address || strlen(address) > 254)
        return refuse(why, "a mail address is empty or longer than 254 bytes");
    for (const char *c = address; *c; c++)
        if ((unsigned char) *c <= ' ' || *c == 0x7f || *c == '<' || *c == '>')
            return refuse(why, "a mail address holds a space, an angle bracket or a control character");
    if (!db_text_utf8(address, strlen(address), &at) || !strchr(address, '@'))
        return refuse(why, "\"%.100s\" is not a mail address",
                      db_text_utf8(address, strlen(address), &at) ? address : "?");
    return DB_OK;
}

static enum db_status check_mail(const struct db_errand *errand, char why[256])
{
    size_t count = 0;

    if (!errand->mail_from || !errand->mail_to || !errand->mail_to[0] || !errand->body)
        return refuse(why, "a mail needs a sender, at least one recipient and a text");
    enum db_status status = check_address(errand->mail_from, why);
    for (; status == DB_OK && errand->mail_to[count]; count++)
        status = check_address(errand->mail_to[count], why);
    if (status == DB_OK && count > DB_TRIP_RECIPIENTS)
        return refuse(why, "a mail has more than %d recipients", DB_TRIP_RECIPIENTS);
    return status;
}

static bool has_part(CURLU *url, CURLUPart part)
{
    char *text = NULL;
    bool has = curl_url_get(url, part, &text, 0) == CURLUE_OK && text && *text;

    curl_free(text);
    return has;
}

static enum db_status look_at(const struct db_errand *errand, CURLU *url, struct db_target *target, char why[256])
{
    char *scheme = NULL, *host = NULL, *port = NULL, *path = NULL;
    enum db_status status = DB_OK;

    if (curl_url_get(url, CURLUPART_SCHEME, &scheme, 0) != CURLUE_OK)
        status = refuse(why, "the address does not begin with https, http, smtps or smtp");
    else if (strcmp(scheme, "http") != 0 && strcmp(scheme, "https") != 0 && strcmp(scheme, "smtp") != 0 &&
             strcmp(scheme, "smtps") != 0)
        status = refuse(why, "addresses begin with https, http, smtps or smtp, not with \"%.20s\"", scheme);
    else if (curl_url_get(url, CURLUPART_HOST, &host, 0) != CURLUE_OK ||
             curl_url_get(url, CURLUPART_PATH, &path, 0) != CURLUE_OK)
        status = refuse(why, "the address is not complete");
    else if (has_part(url, CURLUPART_USER) || has_part(url, CURLUPART_PASSWORD))
        status = refuse(why, "the address holds a login; those are given apart from it");
    else if (errand->sigv4 && has_part(url, CURLUPART_QUERY))
        status = refuse(why, "an address to be signed must not have a query"); /* libcurl 7.88 signs those wrongly */
    else if (strlen(host) > 255)
        status = refuse(why, "the host name in the address is longer than 255 bytes");
    if (status == DB_OK && path) {
        bool numbered = curl_url_get(url, CURLUPART_PORT, &port, 0) == CURLUE_OK;

        target->mail = strncmp(scheme, "smtp", 4) == 0;
        target->tls = scheme[strlen(scheme) - 1] == 's';
        target->bare_path = !*path || strcmp(path, "/") == 0;
        (void) snprintf(target->name, sizeof target->name, "%s%s%s", host, numbered ? ":" : "", numbered ? port : "");
    }
    curl_free(scheme);
    curl_free(host);
    curl_free(port);
    curl_free(path);
    return status;
}

static enum db_status check_url(const struct db_errand *errand, struct db_target *target, char why[256])
{
    size_t at;

    if (!errand->url || !*errand->url)
        return refuse(why, "there is no address");
    if (!one_line(errand->url) || strchr(errand->url, ' ') || !db_text_utf8(errand->url, strlen(errand->url), &at))
        return refuse(why, "the address holds a space or a control character");
    if (strlen(errand->url) > 4000)
        return refuse(why, "the address is longer than 4000 bytes");
    CURLU *url = curl_url();
    if (!url)
        return refuse(why, "there is no memory left");
    CURLUcode code = curl_url_set(url, CURLUPART_URL, errand->url, CURLU_NON_SUPPORT_SCHEME);
    enum db_status status = code == CURLUE_OK ? look_at(errand, url, target, why)
                                              : refuse(why, "the address cannot be read: %s", curl_url_strerror(code));
    curl_url_cleanup(url);
    return status;
}

enum db_status db_errand_check(const struct db_errand *errand, struct db_target *ret_target, char why[256])
{
    struct db_target target = { 0 };
    enum db_status status = check_url(errand, &target, why);

    if (status == DB_OK && errand->method &&
        (!*errand->method || strspn(errand->method, "ABCDEFGHIJKLMNOPQRSTUVWXYZ") != strlen(errand->method)))
        status = refuse(why, "a method is a word in capitals");
    if (status == DB_OK && !errand->body && errand->body_length)
        status = refuse(why, "there is no text to send");
    /* The user's name goes before a colon in Basic; neither may end the line it stands in. */
    if (status == DB_OK &&
        ((errand->user && (!one_line(errand->user) || (!target.mail && strchr(errand->user, ':')))) ||
         (errand->password && !one_line(errand->password))))
        status = refuse(why, "the login or its password holds a character that it cannot be sent with");
    if (status == DB_OK && errand->sigv4 &&
        (target.mail || !errand->user || !errand->password ||
         strspn(errand->sigv4, "abcdefghijklmnopqrstuvwxyz0123456789:-") != strlen(errand->sigv4)))
        status = refuse(why, "a signed request needs http or https, a key, a secret and a region in small letters");
    if (status == DB_OK && (errand->seconds < 0 || errand->seconds > 3600))
        status = refuse(why, "an errand takes between 1 and 3600 seconds");
    if (status == DB_OK)
        status = target.mail ? check_mail(errand, why) : check_headers(errand, why);
    if (status == DB_OK)
        *ret_target = target;
    return status;
}
