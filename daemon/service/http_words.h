/* The header fields of HTTP that decide which answer a feed is given. RFC 9110. */
#ifndef DB_SERVICE_HTTP_WORDS_H
#define DB_SERVICE_HTTP_WORDS_H

#include <stdbool.h>
#include <stdint.h>

/* Weights out of Accept-Encoding in thousandths; -1: not named. Start from DB_NO_CODINGS and add each field line. */
struct db_codings {
    int gzip, identity, any;
};
#define DB_NO_CODINGS ((struct db_codings){ -1, -1, -1 })
void db_codings_add(struct db_codings *codings, const char *value);
/* Whether gzip is asked for, and no less than the text as it is. */
bool db_codings_gzip(const struct db_codings *codings);

/* Whether an If-None-Match field line lists the (strong, quoted) tag, or is "*". Weak comparison (section 8.8.3.2); what
 * comes after a malformed member is not read. */
bool db_tags_match(const char *value, const char *tag);

/* An HTTP date (section 5.6.7): "Sun, 06 Nov 1994 08:49:37 GMT", or one of the two obsolete forms. now: unix seconds, which
 * settles the century of the form with two digits. False: it is none, *ret is untouched. */
bool db_http_date_read(const char *text, int64_t now, int64_t *ret);
enum { DB_HTTP_DATE = 30 };
/* seconds: within the years 1 .. 9999. */
char *db_http_date(int64_t seconds, char buffer[DB_HTTP_DATE]);

#endif
