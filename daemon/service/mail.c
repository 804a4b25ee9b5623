#include "service/mail.h"

#include "dewbell/date.h"

#include <openssl/evp.h>

#include <inttypes.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

enum {
    LINE = 76,
    /* Bytes in one encoded word: with "=?UTF-8?B?" and "?=" it stays within 75 characters (RFC 2047 section 2), behind the
     * longest header name we have within 76. */
    WORD = 39,
    PLAIN = 60
};

static enum db_status add(struct db_bytes *out, const char *text)
{
    return db_bytes_add(out, text, strlen(text));
}

__attribute__((format(printf, 2, 3))) static enum db_status addf(struct db_bytes *out, const char *format, ...)
{
    char line[512];
    va_list words;

    va_start(words, format);
    const int length = vsnprintf(line, sizeof line, format, words);
    va_end(words);
    return length < 0 || (size_t) length >= sizeof line ? DB_RANGE : db_bytes_add(out, line, (size_t) length);
}

/* How much of the text goes into one encoded word: whole characters only. */
static size_t word_length(const char *text, size_t length)
{
    size_t take = length < WORD ? length : WORD;

    while (take < length && take > 1 && ((unsigned char) text[take] & 0xc0) == 0x80)
        take--;
    return take;
}

static enum db_status encoded_words(const char *text, struct db_bytes *out)
{
    unsigned char coded[4 * WORD / 3 + 8];
    enum db_status status = DB_OK;

    for (size_t left = strlen(text), first = 1; status == DB_OK && left; first = 0) {
        const size_t take = word_length(text, left);
        const int length = EVP_EncodeBlock(coded, (const unsigned char *) text, (int) take);

        status = addf(out, "%s=?UTF-8?B?%.*s?=", first ? "" : "\r\n ", length, (const char *) coded);
        text += take;
        left -= take;
    }
    return status;
}

static bool is_plain(const char *text)
{
    for (const char *c = text; *c; c++)
        if ((unsigned char) *c < 0x20 || (unsigned char) *c >= 0x7f)
            return false;
    return strlen(text) <= PLAIN && !strstr(text, "=?");
}

enum db_status db_mail_header(const char *name, const char *value, struct db_bytes *out)
{
    enum db_status status = addf(out, "%s: ", name);

    if (status == DB_OK)
        status = is_plain(value) ? add(out, value) : encoded_words(value, out);
    return status == DB_OK ? add(out, "\r\n") : status;
}

/* A name before an address: quoted where it is plain, else encoded. */
static enum db_status add_from(const struct db_letter *letter, struct db_bytes *out)
{
    enum db_status status = add(out, "From: ");
    const char *name = letter->from_name;

    if (status == DB_OK && *name && is_plain(name) && !strpbrk(name, "\"\\"))
        status = addf(out, "\"%s\"\r\n ", name);
    else if (status == DB_OK && *name) {
        status = encoded_words(name, out);
        if (status == DB_OK)
            status = add(out, "\r\n ");
    }
    return status == DB_OK ? addf(out, "<%s>\r\n", letter->from) : status;
}

static enum db_status add_to(const struct db_letter *letter, struct db_bytes *out)
{
    enum db_status status = DB_OK;

    for (size_t i = 0; status == DB_OK && letter->to[i]; i++)
        status = addf(out, "%s<%s>%s", i ? " " : "To: ", letter->to[i], letter->to[i + 1] ? ",\r\n" : "\r\n");
    return status;
}

/* RFC 5322 section 3.3 */
static enum db_status add_date(const struct db_letter *letter, struct db_bytes *out)
{
    const int64_t local = letter->date + letter->offset;
    int64_t days = local / 86400, seconds = local % 86400;
    const int32_t offset = letter->offset < 0 ? -letter->offset : letter->offset;
    int year, month, day;

    if (seconds < 0) {
        days--;
        seconds += 86400;
    }
    const struct db_date date = { (int32_t) days };
    db_date_parts(date, &year, &month, &day);
    return addf(out, "Date: %s, %d %s %04d %02d:%02d:%02d %c%02d%02d\r\n",
                db_date_weekday_name(db_date_weekday(date), true), day, db_date_month_name(month, true), year,
                (int) (seconds / 3600), (int) (seconds / 60 % 60), (int) (seconds % 60), letter->offset < 0 ? '-' : '+',
                (int) (offset / 3600), (int) (offset / 60 % 60));
}

enum db_status db_mail_quoted(const char *text, size_t length, struct db_bytes *out)
{
    enum db_status status = DB_OK;
    size_t column = 0;

    for (size_t i = 0; status == DB_OK && i < length; i++) {
        const unsigned char c = (unsigned char) text[i];
        const bool last = i + 1 == length || text[i + 1] == '\n';
        const bool plain = (c > 0x20 && c < 0x7f && c != '=') || ((c == ' ' || c == '\t') && !last);

        if (c == '\n') {
            status = add(out, "\r\n");
            column = 0;
            continue;
        }
        /* Room for a soft break, unless the line ends here. */
        if (column + (plain ? 1 : 3) > (size_t) LINE - (last ? 0 : 1)) {
            status = add(out, "=\r\n");
            column = 0;
        }
        if (status == DB_OK)
            status = plain ? db_bytes_add(out, text + i, 1) : addf(out, "=%02X", (unsigned) c);
        column += plain ? 1 : 3;
    }
    return status == DB_OK && column ? add(out, "\r\n") : status;
}

static enum db_status add_part(const char *boundary, const char *type, const char *text, struct db_bytes *out)
{
    enum db_status status = addf(out,
                                 "--%s\r\nContent-Type: %s; charset=utf-8\r\n"
                                 "Content-Transfer-Encoding: quoted-printable\r\n\r\n",
                                 boundary, type);

    if (status == DB_OK)
        status = db_mail_quoted(text, strlen(text), out);
    return status == DB_OK ? add(out, "\r\n") : status;
}

static enum db_status add_html(const struct db_letter *letter, const char *boundary, struct db_bytes *out)
{
    static const char head[] = "<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n"
                               "<meta name=\"viewport\" content=\"width=device-width\">\n<title>",
                      body[] = "</title>\n</head>\n<body>\n", tail[] = "</body>\n</html>\n";
    struct db_bytes page = { 0 };
    enum db_status status = add(&page, head);

    if (status == DB_OK)
        status = db_digest_escape(letter->subject, &page);
    if (status == DB_OK)
        status = add(&page, body);
    if (status == DB_OK)
        status = add(&page, letter->html);
    if (status == DB_OK)
        status = add(&page, tail);
    if (status == DB_OK)
        status = add_part(boundary, "text/html", page.data, out);
    db_bytes_free(&page);
    return status;
}

enum db_status db_mail_write(const struct db_letter *letter, struct db_bytes *out)
{
    /* "=_" stands in no quoted-printable text (RFC 2045 section 6.7), so no part can hold it. */
    char boundary[48];
    enum db_status status = add_from(letter, out);

    (void) snprintf(boundary, sizeof boundary, "=_dewbell_%" PRId64, letter->date);
    if (status == DB_OK)
        status = add_to(letter, out);
    if (status == DB_OK)
        status = db_mail_header("Subject", letter->subject, out);
    if (status == DB_OK)
        status = add_date(letter, out);
    if (status == DB_OK)
        status = addf(out,
                      "Message-ID: %s\r\nAuto-Submitted: auto-generated\r\nMIME-Version: 1.0\r\n"
                      "Content-Type: multipart/alternative; boundary=\"%s\"\r\n\r\n",
                      letter->message, boundary);
    if (status == DB_OK)
        status = add_part(boundary, "text/plain", letter->text, out);
    if (status == DB_OK)
        status = add_html(letter, boundary, out);
    return status == DB_OK ? addf(out, "--%s--\r\n", boundary) : status;
}
