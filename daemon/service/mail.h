/* A letter as bytes: RFC 5322 with a plain text and a simple HTML part (RFC 2045, 2046, 2047), CRLF only, no line beyond
 * 76 characters but for headers that cannot be folded. */
#ifndef DB_SERVICE_MAIL_H
#define DB_SERVICE_MAIL_H

#include "write/write.h"

struct db_letter {
    const char *from_name; /* UTF-8; may be "" */
    const char *from;      /* address */
    const char *const *to; /* addresses, NULL-terminated */
    const char *subject;   /* UTF-8 */
    const char *message;   /* "<id@host>" */
    int64_t date;          /* unix seconds */
    int32_t offset;        /* seconds that the sender's clock is ahead of UTC */
    const char *text;      /* UTF-8, LF */
    const char *html;      /* the inside of a body element */
};

/* Adds the letter to `out`. The same letter gives the same bytes. */
DB_MUST_USE enum db_status db_mail_write(const struct db_letter *letter, struct db_bytes *out);

/* A header of its own: "Name: value", words that are not plain ASCII encoded (RFC 2047), folded. */
DB_MUST_USE enum db_status db_mail_header(const char *name, const char *value, struct db_bytes *out);
/* Quoted-printable (RFC 2045 section 6.7) of text with LF. */
DB_MUST_USE enum db_status db_mail_quoted(const char *text, size_t length, struct db_bytes *out);

#endif
