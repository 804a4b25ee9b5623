/* One request of libcurl's: every limit it knows of, and those it does not keep itself (libcurl 7.88 does not count the
 * bytes of an answer that is chunked or compressed, and follows redirects without end unless told). */
#include "service/trip.h"

#include <openssl/evp.h>

#include <arpa/inet.h>
#include <netinet/in.h>
#include <sys/socket.h>
#include <unistd.h>

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

enum { SECONDS = 30, MAIL_SECONDS = 60, CONNECT_SECONDS = 10, BYTES = 2 * 1024 * 1024, REDIRECTS = 3 };

static size_t take_body(char *data, size_t size, size_t count, void *context)
{
    struct db_trip *trip = context;
    size_t length = size * count; /* size is always 1 */

    if (length > trip->most_bytes - trip->answer.length) {
        trip->too_long = true;
        return 0;
    }
    return length == 0 || db_bytes_add(&trip->answer, data, length) == DB_OK ? length : 0;
}

/* An answer of a mail server: its last line is "NNN text", those before it "NNN-text". Of the answers before "354 go
 * ahead" the last ones belong to the recipients, one each. */
static void note_answer(struct db_trip *trip, const char *line, size_t length)
{
    if (length < 4 || line[3] == '-')
        return;
    if (strncmp(line, "354", 3) == 0) {
        size_t count = trip->answers < trip->recipients ? trip->answers : trip->recipients;

        trip->refused = 0;
        for (size_t i = 0; i < count; i++)
            trip->refused += trip->refusals[i];
    }
    if (trip->recipients)
        trip->refusals[trip->answers++ % trip->recipients] = line[0] >= '4';
}

static size_t take_header(char *data, size_t size, size_t count, void *context)
{
    struct db_trip *trip = context;
    size_t length = size * count;

    if (length > DB_TRIP_HEADERS - trip->header_bytes) {
        trip->headers_too_long = true;
        return 0;
    }
    trip->header_bytes += length;
    if (trip->target.mail)
        note_answer(trip, data, length);
    return length;
}

static size_t give_body(char *room, size_t size, size_t count, void *context)
{
    struct db_trip *trip = context;
    size_t length = size * count, left = trip->body_length - trip->given;

    if (length > left)
        length = left;
    if (length)
        memcpy(room, trip->body + trip->given, length);
    trip->given += length;
    return length;
}

static int seek_body(void *context, curl_off_t offset, int origin)
{
    struct db_trip *trip = context;

    if (origin != SEEK_SET || offset < 0 || (size_t) offset > trip->body_length)
        return CURL_SEEKFUNC_FAIL;
    trip->given = (size_t) offset;
    return CURL_SEEKFUNC_OK;
}

/* Also counts what libcurl reads and throws away: the body of an answer that sends us on. */
static int watch_progress(void *context, curl_off_t expected, curl_off_t arrived, curl_off_t to_give, curl_off_t given)
{
    struct db_trip *trip = context;

    (void) expected;
    (void) to_give;
    (void) given;
    if (arrived > 0 && (uint64_t) arrived > trip->most_bytes)
        trip->too_long = true;
    return trip->too_long;
}

/* RFC 1918, RFC 6598, RFC 3927, RFC 4193, RFC 4291: addresses of this machine or of the house. */
static bool at_home(const struct sockaddr *address)
{
    uint32_t four;
    const unsigned char *six;

    if (address->sa_family == AF_INET) {
        four = ntohl(((const struct sockaddr_in *) (const void *) address)->sin_addr.s_addr);
    } else if (address->sa_family == AF_INET6) {
        const struct in6_addr *in6 = &((const struct sockaddr_in6 *) (const void *) address)->sin6_addr;

        six = in6->s6_addr;
        if (!IN6_IS_ADDR_V4MAPPED(in6))
            return IN6_IS_ADDR_LOOPBACK(in6) || IN6_IS_ADDR_UNSPECIFIED(in6) || (six[0] & 0xfe) == 0xfc ||
                   (six[0] == 0xfe && (six[1] & 0xc0) == 0x80);
        memcpy(&four, six + 12, sizeof four);
        four = ntohl(four);
    } else {
        return true;
    }
    return four >> 24 == 127 || four >> 24 == 10 || four >> 24 == 0 || four >> 20 == 0xac1 || four >> 16 == 0xc0a8 ||
           four >> 16 == 0xa9fe || four >> 22 == 0x6440 >> 6;
}

/* A server of the outside must not send us on to one inside the house. Where the gardener's own address leads is the
 * gardener's business. */
static curl_socket_t open_socket(void *context, curlsocktype purpose, struct curl_sockaddr *address)
{
    struct db_trip *trip = context;
    long sent_on = 0;

    (void) purpose;
    bool home = at_home(&address->addr);
    (void) curl_easy_getinfo(trip->easy, CURLINFO_REDIRECT_COUNT, &sent_on);
    if (sent_on == 0)
        trip->began_outside = trip->began_outside || !home;
    else if (home && trip->began_outside) {
        trip->led_home = true;
        return CURL_SOCKET_BAD;
    }
    return socket(address->family, address->socktype | SOCK_CLOEXEC | SOCK_NONBLOCK, address->protocol);
}

/* Setting options one after the other; the first that fails is kept. */
struct setter {
    CURL *easy;
    CURLcode code;
};

static void set_number(struct setter *to, CURLoption option, long value)
{
    if (to->code == CURLE_OK)
        to->code = curl_easy_setopt(to->easy, option, value);
}

static void set_large(struct setter *to, CURLoption option, size_t value)
{
    if (to->code == CURLE_OK)
        to->code = curl_easy_setopt(to->easy, option, (curl_off_t) value);
}

/* Texts are copied by libcurl; other pointers must stay. */
static void set_text(struct setter *to, CURLoption option, const char *value)
{
    if (to->code == CURLE_OK)
        to->code = curl_easy_setopt(to->easy, option, value);
}

static void set_pointer(struct setter *to, CURLoption option, void *value)
{
    if (to->code == CURLE_OK)
        to->code = curl_easy_setopt(to->easy, option, value);
}

static bool add_line(struct curl_slist **list, const char *format, const char *value)
{
    char *line = NULL;

    if (asprintf(&line, format, value) < 0)
        return false;
    struct curl_slist *longer = curl_slist_append(*list, line);
    free(line);
    if (longer)
        *list = longer;
    return longer;
}

/* libcurl signs the hash of an empty body when it sends one through a callback, unless it is told the hash. */
static bool add_body_hash(struct db_trip *trip)
{
    static const char digits[] = "0123456789abcdef";
    unsigned char hash[EVP_MAX_MD_SIZE];
    unsigned int length = 0;
    char text[2 * EVP_MAX_MD_SIZE + 1];

    if (!EVP_Digest(trip->body ? trip->body : "", trip->body_length, hash, &length, EVP_sha256(), NULL))
        return false;
    for (unsigned int i = 0; i < length; i++) {
        text[2 * i] = digits[hash[i] >> 4];
        text[2 * i + 1] = digits[hash[i] & 15];
    }
    text[2 * length] = '\0';
    return add_line(&trip->headers, "x-amz-content-sha256: %s", text);
}

static bool make_headers(struct db_trip *trip, const struct db_errand *errand)
{
    /* Signed, even an empty header would count as one that was sent. */
    bool made = errand->sigv4 || add_line(&trip->headers, "Expect:%s", "");

    for (size_t i = 0; made && errand->headers && errand->headers[i]; i++)
        made = add_line(&trip->headers, "%s", errand->headers[i]);
    if (made && errand->if_none_match)
        made = add_line(&trip->headers, "If-None-Match: %s", errand->if_none_match);
    if (made && errand->if_modified_since)
        made = add_line(&trip->headers, "If-Modified-Since: %s", errand->if_modified_since);
    if (made && errand->sigv4)
        made = add_body_hash(trip);
    return made;
}

/* What holds for every errand. */
static void set_limits(struct setter *to, struct db_trip *trip, const struct db_errand *errand)
{
    const char *protocols = errand->protocols ? errand->protocols : trip->target.mail ? "smtp,smtps" : "https,http";

    set_text(to, CURLOPT_PROTOCOLS_STR, protocols);
    set_text(to, CURLOPT_REDIR_PROTOCOLS_STR, trip->target.tls ? "https" : trip->target.mail ? "https" : protocols);
    set_number(to, CURLOPT_FOLLOWLOCATION, trip->redirects > 0);
    set_number(to, CURLOPT_MAXREDIRS, trip->redirects);
    set_number(to, CURLOPT_TIMEOUT_MS, trip->seconds * 1000L);
    set_number(to, CURLOPT_CONNECTTIMEOUT_MS,
               (trip->seconds < CONNECT_SECONDS ? trip->seconds : CONNECT_SECONDS) * 1000L);
    if (!trip->target.mail) { /* a mail server may think long before it answers */
        set_number(to, CURLOPT_LOW_SPEED_LIMIT, 30);
        set_number(to, CURLOPT_LOW_SPEED_TIME, trip->seconds < 4 ? 1 : trip->seconds > 30 ? 15 : trip->seconds / 2);
    }
    set_large(to, CURLOPT_MAXFILESIZE_LARGE, trip->most_bytes);
    set_number(to, CURLOPT_NOSIGNAL, 1);
    set_number(to, CURLOPT_QUICK_EXIT, 1); /* a name that nobody answers for must not hold up the loop */
    set_number(to, CURLOPT_NETRC, CURL_NETRC_IGNORED);
    set_number(to, CURLOPT_DISALLOW_USERNAME_IN_URL, 1);
    set_number(to, CURLOPT_SSL_VERIFYPEER, 1);
    set_number(to, CURLOPT_SSL_VERIFYHOST, 2);
    set_number(to, CURLOPT_SSLVERSION, CURL_SSLVERSION_TLSv1_2);
    if (errand->ca_file) {
        set_text(to, CURLOPT_CAINFO, errand->ca_file);
        set_text(to, CURLOPT_CAPATH, NULL);
    }
    /* A connection of its own: libcurl repeats a request by itself when one that it kept turns out to be dead. */
    set_number(to, CURLOPT_FRESH_CONNECT, 1);
    set_number(to, CURLOPT_FORBID_REUSE, 1);
    set_number(to, CURLOPT_HTTP_VERSION, CURL_HTTP_VERSION_1_1);
    set_number(to, CURLOPT_SUPPRESS_CONNECT_HEADERS, 1);
    set_text(to, CURLOPT_USERAGENT, "dewbell/" DB_VERSION);
    set_text(to, CURLOPT_ACCEPT_ENCODING, "");
}

static void set_callbacks(struct setter *to, struct db_trip *trip)
{
    if (to->code == CURLE_OK)
        to->code = curl_easy_setopt(to->easy, CURLOPT_WRITEFUNCTION, take_body);
    if (to->code == CURLE_OK)
        to->code = curl_easy_setopt(to->easy, CURLOPT_HEADERFUNCTION, take_header);
    if (to->code == CURLE_OK)
        to->code = curl_easy_setopt(to->easy, CURLOPT_READFUNCTION, give_body);
    if (to->code == CURLE_OK)
        to->code = curl_easy_setopt(to->easy, CURLOPT_SEEKFUNCTION, seek_body);
    if (to->code == CURLE_OK)
        to->code = curl_easy_setopt(to->easy, CURLOPT_XFERINFOFUNCTION, watch_progress);
    if (to->code == CURLE_OK)
        to->code = curl_easy_setopt(to->easy, CURLOPT_OPENSOCKETFUNCTION, open_socket);
    set_pointer(to, CURLOPT_WRITEDATA, trip);
    set_pointer(to, CURLOPT_HEADERDATA, trip);
    set_pointer(to, CURLOPT_READDATA, trip);
    set_pointer(to, CURLOPT_SEEKDATA, trip);
    set_pointer(to, CURLOPT_XFERINFODATA, trip);
    set_pointer(to, CURLOPT_OPENSOCKETDATA, trip);
    set_pointer(to, CURLOPT_PRIVATE, trip);
    set_number(to, CURLOPT_NOPROGRESS, 0);
}

static void set_http(struct setter *to, struct db_trip *trip, const struct db_errand *errand)
{
    const char *method = errand->method ? errand->method : errand->body ? "PUT" : "GET";

    if (!make_headers(trip, errand))
        to->code = CURLE_OUT_OF_MEMORY;
    set_pointer(to, CURLOPT_HTTPHEADER, trip->headers);
    trip->asks_change = errand->body || (strcmp(method, "GET") != 0 && strcmp(method, "HEAD") != 0);
    if (errand->body && errand->sigv4) { /* as a POST libcurl asks "Expect: 100-continue" only from a megabyte on */
        set_number(to, CURLOPT_POST, 1);
        set_large(to, CURLOPT_POSTFIELDSIZE_LARGE, trip->body_length);
        set_text(to, CURLOPT_CUSTOMREQUEST, method);
    } else if (errand->body) {
        set_number(to, CURLOPT_UPLOAD, 1);
        set_large(to, CURLOPT_INFILESIZE_LARGE, trip->body_length);
        set_text(to, CURLOPT_CUSTOMREQUEST, method);
    } else if (strcmp(method, "HEAD") == 0) {
        set_number(to, CURLOPT_NOBODY, 1);
    } else if (strcmp(method, "GET") != 0) {
        set_text(to, CURLOPT_CUSTOMREQUEST, method);
    }
    if (errand->sigv4)
        set_text(to, CURLOPT_AWS_SIGV4, errand->sigv4);
    else
        set_number(to, CURLOPT_HTTPAUTH, (long) CURLAUTH_BASIC);
    set_text(to, CURLOPT_URL, errand->url);
}

/* libcurl says EHLO with the path of the address, or with the machine's own name when there is none: that is nobody's
 * business. RFC 2606 keeps .invalid free for such uses. */
static void set_mail_url(struct setter *to, const struct db_trip *trip, const char *address)
{
    CURLU *url = curl_url();
    char *text = NULL;

    if (!url || curl_url_set(url, CURLUPART_URL, address, 0) != CURLUE_OK ||
        (trip->target.bare_path && curl_url_set(url, CURLUPART_PATH, "/dewbell.invalid", 0) != CURLUE_OK) ||
        curl_url_get(url, CURLUPART_URL, &text, 0) != CURLUE_OK)
        to->code = CURLE_OUT_OF_MEMORY;
    else
        set_text(to, CURLOPT_URL, text);
    curl_free(text);
    curl_url_cleanup(url);
}

static void set_mail(struct setter *to, struct db_trip *trip, const struct db_errand *errand)
{
    for (; errand->mail_to[trip->recipients]; trip->recipients++)
        if (!add_line(&trip->to, "%s", errand->mail_to[trip->recipients]))
            to->code = CURLE_OUT_OF_MEMORY;
    trip->asks_change = true;
    set_text(to, CURLOPT_MAIL_FROM, errand->mail_from);
    set_pointer(to, CURLOPT_MAIL_RCPT, trip->to);
    set_number(to, CURLOPT_MAIL_RCPT_ALLLOWFAILS, 1); /* a slip in one address keeps no other waiting */
    set_number(to, CURLOPT_USE_SSL, errand->plain_allowed ? CURLUSESSL_TRY : CURLUSESSL_ALL);
    set_number(to, CURLOPT_UPLOAD, 1);
    set_large(to, CURLOPT_INFILESIZE_LARGE, trip->body_length);
    set_mail_url(to, trip, errand->url);
}

/* Mail wants CR LF, and nothing else of either. */
static bool copy_mail(struct db_trip *trip, const struct db_errand *errand)
{
    size_t at = 0;

    if (errand->body_length > SIZE_MAX / 2 - 1 || !(trip->body = malloc(2 * errand->body_length + 1)))
        return false;
    for (size_t i = 0; i < errand->body_length; i++) {
        char c = errand->body[i];

        if (c != '\r' && c != '\n') {
            trip->body[at++] = c;
            continue;
        }
        if (c == '\r' && i + 1 < errand->body_length && errand->body[i + 1] == '\n')
            i++;
        trip->body[at++] = '\r';
        trip->body[at++] = '\n';
    }
    trip->body_length = at;
    return true;
}

static bool copy_body(struct db_trip *trip, const struct db_errand *errand)
{
    if (!errand->body)
        return true;
    if (trip->target.mail)
        return copy_mail(trip, errand);
    trip->body = malloc(errand->body_length + 1);
    if (!trip->body)
        return false;
    if (errand->body_length)
        memcpy(trip->body, errand->body, errand->body_length);
    trip->body_length = errand->body_length;
    return true;
}

static CURLcode set_up(struct db_trip *trip, const struct db_errand *errand)
{
    struct setter to = { trip->easy, CURLE_OK };

    set_limits(&to, trip, errand);
    set_callbacks(&to, trip);
    if (trip->target.mail)
        set_mail(&to, trip, errand);
    else
        set_http(&to, trip, errand);
    set_text(&to, CURLOPT_USERNAME, errand->user);
    set_text(&to, CURLOPT_PASSWORD, errand->password);
    return to.code;
}

struct db_trip *db_trip_new(const struct db_errand *errand, const struct db_target *target, char why[256])
{
    struct db_trip *trip = calloc(1, sizeof *trip);
    CURLcode code = CURLE_OUT_OF_MEMORY;

    if (trip) {
        trip->target = *target;
        trip->seconds = errand->seconds ? errand->seconds : target->mail ? MAIL_SECONDS : SECONDS;
        trip->redirects = errand->redirects ? errand->redirects : errand->body ? 0 : REDIRECTS;
        if (trip->redirects < 0 || target->mail)
            trip->redirects = 0;
        trip->most_bytes = errand->most_bytes ? errand->most_bytes : BYTES;
        trip->easy = curl_easy_init();
        if (trip->easy && copy_body(trip, errand))
            code = set_up(trip, errand);
    }
    if (code == CURLE_OK)
        return trip;
    (void) snprintf(why, 256, "the request cannot be made: %s", curl_easy_strerror(code));
    return db_trip_free(trip);
}

struct db_trip *db_trip_free(struct db_trip *trip)
{
    if (trip) {
        curl_easy_cleanup(trip->easy);
        curl_slist_free_all(trip->headers);
        curl_slist_free_all(trip->to);
        db_bytes_free(&trip->answer);
        free(trip->body);
        free(trip);
    }
    return NULL;
}
