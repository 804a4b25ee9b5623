/* The values that only outlets have: addresses of mail and of the web, command lines. Each function reads the whole of a
 * span, says what is wrong with it, and answers NULL when it cannot be read. */
#ifndef DB_READ_OUTLET_VALUES_H
#define DB_READ_OUTLET_VALUES_H

#include "read/load.h"

/* What an address may be; the schemes as a NULL-terminated list, the first one for suggestions. */
struct db_url_wish {
    const char *const *schemes;
    const char *example; /* "write it as https://..." */
    bool secret;         /* a password goes there: without TLS only to this machine itself */
};

/* One address of the web or of a mail server: a known scheme, a host, no name, password, fragment or control character. */
const char *db_value_url(struct db_load *load, struct db_span span, const struct db_url_wish *wish);

/* One mail address, without a name beside it. Nothing that a mail server could take for more than an address. */
const char *db_value_address(struct db_load *load, struct db_span span);
/* Addresses between commas, each once. */
const char *const *db_value_addresses(struct db_load *load, struct db_span span);

/* A program and its arguments, split at blanks; "quotes" hold words with blanks together. No shell. */
const char *const *db_value_words(struct db_load *load, struct db_span span);

/* "06:30": minutes from midnight; "sunrise - 30 min": minutes from sunrise. */
bool db_value_hour(struct db_load *load, struct db_span span, bool *ret_by_sun, int32_t *ret_minutes);

#endif
