/* Tokens in the record. They are kept as they are, for the gardener wants to see the address again; the file is its owner's
 * alone. A revoked one stays, so that it can be told from one that never was. */
#include "record/private.h"

#include <openssl/crypto.h>
#include <openssl/evp.h>

#include <sys/random.h>

#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

enum { RANDOM = DB_TOKEN_LENGTH / 4 * 3 };

static enum db_status read_token(sqlite3_stmt *query, struct db_token **all, size_t *count)
{
    const char *text = (const char *) sqlite3_column_text(query, 0);
    struct db_token token = { .revoked = sqlite3_column_int(query, 1) != 0 };

    if (!text || sqlite3_column_bytes(query, 0) != DB_TOKEN_LENGTH)
        return text ? DB_OK : DB_FULL; /* not one of ours: nobody can ask for it */
    memcpy(token.text, text, sizeof token.text);
    struct db_token *grown = reallocarray(*all, *count + 1, sizeof *grown);
    if (!grown)
        return DB_FULL;
    grown[(*count)++] = token;
    *all = grown;
    return DB_OK;
}

enum db_status db_record_tokens(struct db_record *record, struct db_token **ret, size_t *ret_count)
{
    sqlite3_stmt *query = db_record_query(record, DB_QUERY_ALL_TOKENS);
    struct db_token *all = NULL;
    size_t count = 0;
    enum db_status status = DB_OK;
    int code;

    if (!query)
        return DB_TROUBLE;
    while ((code = sqlite3_step(query)) == SQLITE_ROW && status == DB_OK)
        status = read_token(query, &all, &count);
    if (status == DB_OK && code != SQLITE_DONE)
        status = db_record_blame(record, "the tokens were not read");
    (void) sqlite3_reset(query);
    if (status != DB_OK) {
        free(all);
        return status;
    }
    *ret = all;
    *ret_count = count;
    return DB_OK;
}

static bool make_token(char text[DB_TOKEN_LENGTH + 1])
{
    unsigned char random[RANDOM];

    if (getrandom(random, sizeof random, 0) != (ssize_t) sizeof random)
        return false;
    (void) EVP_EncodeBlock((unsigned char *) text, random, sizeof random);
    OPENSSL_cleanse(random, sizeof random);
    for (char *at = text; *at; at++)
        *at = (char) (*at == '+' ? '-' : *at == '/' ? '_' : *at);
    return true;
}

static enum db_status put_token(struct db_record *record, int64_t made, struct db_token *ret)
{
    struct db_token token = { .revoked = false };

    if (!make_token(token.text))
        return db_record_blame_words(record, "the kernel gives no random numbers");
    sqlite3_stmt *query = db_record_query(record, DB_QUERY_REVOKE_TOKENS);
    if (query)
        (void) sqlite3_bind_int64(query, 1, made);
    enum db_status status = db_record_run(record, query);
    if (status != DB_OK)
        return status;
    query = db_record_query(record, DB_QUERY_ADD_TOKEN);
    if (query) {
        (void) sqlite3_bind_text(query, 1, token.text, -1, SQLITE_STATIC);
        (void) sqlite3_bind_int64(query, 2, made);
    }
    status = db_record_run(record, query);
    if (status == DB_OK)
        *ret = token;
    return status;
}

enum db_status db_record_replace_token(struct db_record *record, const struct db_token *old, int64_t made,
                                       struct db_token *ret, bool *ret_made)
{
    struct db_token *all = NULL, token = { .revoked = true };
    size_t count = 0;
    enum db_status status = db_record_begin(record); /* nobody comes between the look and the change */

    if (status != DB_OK)
        return status;
    status = db_record_tokens(record, &all, &count);
    if (status == DB_OK && count && !all[0].revoked)
        token = all[0];
    free(all);
    const bool make = token.revoked || (old && CRYPTO_memcmp(old->text, token.text, DB_TOKEN_LENGTH) == 0);
    if (status == DB_OK && make)
        status = put_token(record, made, &token);
    status = db_record_end(record, status);
    if (status == DB_OK) {
        *ret = token;
        *ret_made = make;
    }
    return status;
}

int64_t db_record_version(struct db_record *record)
{
    sqlite3_stmt *query = db_record_query(record, DB_QUERY_VERSION);
    int64_t version = query && sqlite3_step(query) == SQLITE_ROW ? sqlite3_column_int64(query, 0) : 0;

    if (query)
        (void) sqlite3_reset(query);
    return version;
}
