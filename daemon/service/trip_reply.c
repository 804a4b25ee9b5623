/* What became of an errand, in words that may stand in a log. */
#include "service/trip.h"

#include <openssl/x509.h>

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

/* A header as it came, if it is plain text of a bounded length. */
static void copy_header(CURL *easy, const char *name, char *room, size_t size)
{
    struct curl_header *header = NULL;

    room[0] = '\0';
    if (curl_easy_header(easy, name, 0, CURLH_HEADER, -1, &header) != CURLHE_OK || strlen(header->value) >= size)
        return;
    for (const char *c = header->value; *c; c++)
        if ((unsigned char) *c < ' ' || *c == 0x7f)
            return;
    memcpy(room, header->value, strlen(header->value) + 1);
}

/* RFC 9110 section 10.2.3: seconds, or a date. */
static int64_t read_retry_after(const char *text, int64_t wall)
{
    size_t digits = strspn(text, "0123456789");

    if (!*text)
        return -1;
    if (digits == strlen(text))
        return digits > 9 ? 999999999 : strtol(text, NULL, 10);
    time_t when = curl_getdate(text, NULL);
    if (when < 0)
        return -1;
    return (int64_t) when > wall / 1000 ? (int64_t) when - wall / 1000 : 0;
}

static void say_timeout(const struct db_trip *trip, char *room, size_t size)
{
    curl_off_t connected = 0, total = 0;
    const char *host = trip->target.name;

    (void) curl_easy_getinfo(trip->easy, CURLINFO_PRETRANSFER_TIME_T, &connected);
    (void) curl_easy_getinfo(trip->easy, CURLINFO_TOTAL_TIME_T, &total);
    if (total / 1000 >= trip->seconds * 1000 - 10)
        (void) snprintf(room, size, "%s was not done within %d s", host, trip->seconds);
    else if (connected == 0)
        (void) snprintf(room, size, "%s did not take the connection in time", host);
    else
        (void) snprintf(room, size, "%s sent nothing, or hardly anything, for too long", host);
}

static void say_certificate(const struct db_trip *trip, char *room, size_t size)
{
    long verdict = X509_V_OK;

    (void) curl_easy_getinfo(trip->easy, CURLINFO_SSL_VERIFYRESULT, &verdict);
    if (verdict == X509_V_OK)
        (void) snprintf(room, size, "the certificate of %s is not for that name", trip->target.name);
    else
        (void) snprintf(room, size, "the certificate of %s is not trusted: %s", trip->target.name,
                        X509_verify_cert_error_string(verdict));
}

static void say_trouble(const struct db_trip *trip, CURLcode result, long status, char *room, size_t size)
{
    const char *host = trip->target.name;
    long number = 0;

    switch (result) {
    case CURLE_COULDNT_RESOLVE_HOST:
        (void) snprintf(room, size, "%s is not found: no network, or no such name", host);
        return;
    case CURLE_COULDNT_RESOLVE_PROXY:
        (void) snprintf(room, size, "the proxy on the way to %s is not found", host);
        return;
    case CURLE_COULDNT_CONNECT:
        (void) curl_easy_getinfo(trip->easy, CURLINFO_OS_ERRNO, &number);
        if (trip->led_home)
            (void) snprintf(room, size, "%s sent us on to an address inside this house; not followed", host);
        else
            (void) snprintf(room, size, "%s cannot be reached%s%s", host, number ? ": " : "",
                            number ? strerror((int) number) : "");
        return;
    case CURLE_OPERATION_TIMEDOUT:
        say_timeout(trip, room, size);
        return;
    case CURLE_TOO_MANY_REDIRECTS:
        (void) snprintf(room, size, "%s sent us on more than %d times", host, trip->redirects);
        return;
    case CURLE_UNSUPPORTED_PROTOCOL:
    case CURLE_URL_MALFORMAT:
        (void) snprintf(room, size,
                        status ? "%s sent us on to a kind of address that is not followed"
                               : "the address of %s is of a kind that is not allowed here",
                        host);
        return;
    case CURLE_PEER_FAILED_VERIFICATION:
        say_certificate(trip, room, size);
        return;
    case CURLE_SSL_CACERT_BADFILE:
        (void) snprintf(room, size, "the file of certificates to trust for %s cannot be read", host);
        return;
    case CURLE_USE_SSL_FAILED:
        (void) snprintf(room, size, "%s offers no encryption, so nothing was sent", host);
        return;
    case CURLE_LOGIN_DENIED:
        (void) snprintf(room, size,
                        trip->target.mail ? "%s refused the login" : "%s sent us on with a login; not followed", host);
        return;
    case CURLE_GOT_NOTHING:
    case CURLE_PARTIAL_FILE:
    case CURLE_RECV_ERROR:
    case CURLE_SEND_ERROR:
        if (trip->target.mail && status >= 400)
            (void) snprintf(room, size, "%s refused the mail (%ld)", host, status);
        else
            (void) snprintf(room, size, "the connection to %s ended early", host);
        return;
    case CURLE_WEIRD_SERVER_REPLY:
        if (trip->target.mail && status >= 400)
            (void) snprintf(room, size, "%s refused the mail (%ld)", host, status);
        else
            (void) snprintf(room, size, "%s gave an answer that is none", host);
        return;
    case CURLE_BAD_CONTENT_ENCODING:
        (void) snprintf(room, size, "%s sent packed data that cannot be unpacked", host);
        return;
    default:
        (void) snprintf(room, size, "%s: %s", host, curl_easy_strerror(result)); /* constant texts */
    }
}

void db_trip_return(struct db_trip *trip, CURLcode result, int64_t wall)
{
    char trouble[512] = "", etag[512], modified[128], type[256], expires[128], retry[128];
    long status = 0, requested = 0;

    (void) curl_easy_getinfo(trip->easy, CURLINFO_RESPONSE_CODE, &status);
    (void) curl_easy_getinfo(trip->easy, CURLINFO_REQUEST_SIZE, &requested);
    copy_header(trip->easy, "ETag", etag, sizeof etag);
    copy_header(trip->easy, "Last-Modified", modified, sizeof modified);
    copy_header(trip->easy, "Content-Type", type, sizeof type);
    copy_header(trip->easy, "Expires", expires, sizeof expires);
    copy_header(trip->easy, "Retry-After", retry, sizeof retry);
    if (trip->headers_too_long)
        (void) snprintf(trouble, sizeof trouble, "%s sent more than %d bytes of headers", trip->target.name,
                        DB_TRIP_HEADERS);
    else if (trip->too_long || result == CURLE_FILESIZE_EXCEEDED)
        (void) snprintf(trouble, sizeof trouble, "%s sent more than %zu bytes", trip->target.name, trip->most_bytes);
    else if (result != CURLE_OK)
        say_trouble(trip, result, status, trouble, sizeof trouble);

    bool refused = trip->target.mail && result != CURLE_OK && result != CURLE_OPERATION_TIMEDOUT && status >= 400;
    bool answered = trip->target.mail ? status >= 400 : status >= 200;
    bool sent = trip->given == trip->body_length && (trip->target.mail ? status == 354 : requested > 0);
    struct db_reply reply = {
        .arrived = result == CURLE_OK || refused,
        .uncertain = result != CURLE_OK && trip->asks_change && sent && !answered,
        .status = (int) status,
        .refused_to = trip->refused,
        .body = trip->answer.data ? trip->answer.data : "",
        .length = trip->answer.length,
        .etag = etag,
        .last_modified = modified,
        .content_type = type,
        .expires = expires,
        .retry_after = read_retry_after(retry, wall),
        .trouble = trouble,
    };
    trip->returned(trip->context, &reply);
}
