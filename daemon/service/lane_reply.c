/* What a server said, and whether the calendar it holds is ours. Both come from outside: only looked at, never kept. */
#include "service/lane_reply.h"

#include <stdio.h>
#include <string.h>

#include "base/banned.h"

/* S3 answers with XML and a code such as SignatureDoesNotMatch: a word, or nothing. */
static void add_code(const struct db_reply *reply, char trouble[256])
{
    const char *code = strstr(reply->body, "<Code>");
    size_t length = strlen(trouble), word;

    if (!code)
        return;
    code += strlen("<Code>");
    word = strspn(code, "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz");
    if (word && word <= 60 && code[word] == '<')
        (void) snprintf(trouble + length, 256 - length, " (%.*s)", (int) word, code);
}

enum db_verdict db_reply_verdict(const struct db_reply *reply, enum db_way_out way, char trouble[256])
{
    const int status = reply->status;
    enum db_verdict verdict = DB_VERDICT_REFUSED;

    trouble[0] = '\0';
    if (!reply->arrived) {
        (void) snprintf(trouble, 256, "%s", reply->trouble);
        return DB_VERDICT_LATER;
    }
    if (status == 200 || status == 201 || status == 204)
        return DB_VERDICT_TAKEN;
    if (status == 412 && way == DB_OUT_WEBDAV) {
        (void) snprintf(trouble, 256, "the server holds something else than we left there");
        return DB_VERDICT_CHANGED;
    }
    if (status == 408 || status == 425 || status == 429 || status >= 500) {
        verdict = DB_VERDICT_LATER;
        (void) snprintf(trouble, 256, "the server is busy or at fault, it answered %d", status);
    } else if (status == 207) {
        /* A list of what went wrong with which part: nothing was asked that has parts. */
        (void) snprintf(trouble, 256, "the server answered 207, so it did not take it");
    } else if (status >= 300 && status < 400) {
        (void) snprintf(trouble, 256, "the server sends us on to another address (%d); write that one into the plan",
                        status);
    } else if (status == 401 || status == 403) {
        (void) snprintf(trouble, 256, "the server refused the login or its secret (%d)", status);
    } else if (status == 404 || status == 409) {
        (void) snprintf(trouble, 256, "the server has no such place (%d); make it first", status);
    } else {
        (void) snprintf(trouble, 256, "the server refused it (%d)", status);
    }
    if (way == DB_OUT_S3)
        add_code(reply, trouble);
    return verdict;
}

bool db_etag_guards(const char *etag)
{
    size_t length = strlen(etag);

    return length > 2 && etag[0] == '"' && etag[length - 1] == '"' && !memchr(etag + 1, '"', length - 2);
}

/* The value of a property of the calendar itself, unfolded (RFC 5545 section 3.1) and cut at the room. Only the head is
 * looked at: what stands before the first part. */
static bool find_property(const char *calendar, size_t length, const char *name, char *room, size_t size)
{
    static const char part[] = "\nBEGIN:V";
    const char *end = calendar + length, *at = calendar;
    const size_t name_length = strlen(name);
    size_t used = 0;

    if (length > 15)
        end = memmem(calendar + 15, length - 15, part, sizeof part - 1);
    if (!end)
        end = calendar + length;
    if ((size_t) (end - at) <= name_length)
        return false;
    while (memcmp(at, name, name_length) != 0 || (at[name_length] != ':' && at[name_length] != ';')) {
        at = memchr(at, '\n', (size_t) (end - at));
        if (!at || (size_t) (end - ++at) <= name_length)
            return false;
    }
    at = memchr(at, ':', (size_t) (end - at));
    for (at = at ? at + 1 : end; at < end; at++) {
        if (*at == '\r')
            continue;
        if (*at == '\n') {
            if (at + 1 < end && (at[1] == ' ' || at[1] == '\t')) {
                at++;
                continue;
            }
            break;
        }
        if (used + 1 < size)
            room[used++] = *at;
    }
    room[used] = '\0';
    return true;
}

bool db_calendar_ours(const char *found, size_t found_length, const char *ours, size_t length)
{
    char here[400], there[400];

    if (!find_property(ours, length, "PRODID", here, sizeof here) ||
        !find_property(found, found_length, "PRODID", there, sizeof there) || strcmp(here, there) != 0)
        return false;
    /* Servers may drop the name; another garden's name is another feed. */
    return !find_property(ours, length, "X-WR-CALNAME", here, sizeof here) ||
           !find_property(found, found_length, "X-WR-CALNAME", there, sizeof there) || strcmp(here, there) == 0;
}
