/* dewbell status: asks the service that runs for this garden how it is, and prints it for a person. */
#include "cli/cli.h"

#include "service/status.h"

#include <glob.h>
#include <sys/socket.h>
#include <unistd.h>

#include <errno.h>
#include <json-c/json.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

enum { MOST = 16 * 1024 * 1024, PATIENCE_S = 10 };

/* The socket of the folder itself, else of the first folder in it: a service of many gardens has one in each, and all tell
 * of the whole house. */
static int connect_to(const char *state)
{
    int fd = db_desk_connect(state), trouble = errno;
    char *pattern = fd < 0 ? db_session_path(state, "*/" DB_DESK_NAME) : NULL;
    glob_t found = { 0 };

    if (pattern && glob(pattern, GLOB_NOSORT, NULL, &found) == 0) {
        for (size_t i = 0; fd < 0 && i < found.gl_pathc; i++) {
            *strrchr(found.gl_pathv[i], '/') = '\0';
            fd = db_desk_connect(found.gl_pathv[i]);
        }
        globfree(&found);
    }
    free(pattern);
    errno = trouble;
    return fd;
}

/* All that the service says; malloc'd, NULL with errno. */
static char *read_all(int fd, size_t *ret_length)
{
    struct timeval patience = { .tv_sec = PATIENCE_S };
    size_t length = 0, room = 65536;
    char *text = malloc(room + 1);
    ssize_t got = 1;

    if (setsockopt(fd, SOL_SOCKET, SO_RCVTIMEO, &patience, sizeof patience) != 0)
        got = -1;
    while (text && got > 0) {
        got = read(fd, text + length, room - length);
        if (got < 0 && errno == EINTR)
            got = 1;
        else if (got > 0)
            length += (size_t) got;
        if (length == room && room < MOST) {
            char *more = realloc(text, 2 * room + 1);
            if (!more)
                break;
            text = more;
            room *= 2;
        } else if (length == room) {
            errno = EMSGSIZE;
            got = -1;
        }
    }
    if (!text || got != 0) {
        free(text);
        return NULL;
    }
    text[length] = '\0';
    *ret_length = length;
    return text;
}

static const char *text_of(json_object *from, const char *key)
{
    json_object *value = json_object_object_get(from, key);

    return json_object_is_type(value, json_type_string) ? json_object_get_string(value) : "";
}

static int64_t int_of(json_object *from, const char *key)
{
    return json_object_get_int64(json_object_object_get(from, key));
}

static bool flag_of(json_object *from, const char *key)
{
    return json_object_get_boolean(json_object_object_get(from, key));
}

static json_object *list_of(json_object *from, const char *key)
{
    json_object *value = json_object_object_get(from, key);

    return json_object_is_type(value, json_type_array) ? value : NULL;
}

static size_t length_of(json_object *list)
{
    return list ? json_object_array_length(list) : 0;
}

/* "a", "three" would be too much: "1 day", "3 days". */
static const char *many(int64_t count, const char *one, const char *more, char buffer[48])
{
    (void) snprintf(buffer, 48, "%lld %s", (long long) count, count == 1 ? one : more);
    return buffer;
}

static const char *span(int64_t seconds, char buffer[48])
{
    if (seconds < 120)
        return many(seconds, "second", "seconds", buffer);
    if (seconds < 2 * 3600)
        return many(seconds / 60, "minute", "minutes", buffer);
    if (seconds < 2 * 86400)
        return many(seconds / 3600, "hour", "hours", buffer);
    return many(seconds / 86400, "day", "days", buffer);
}

/* Two calls are the most in one print: each has its buffer. */
static const char *bytes(int64_t count, char buffer[48])
{
    if (count < 10240)
        return many(count, "byte", "bytes", buffer);
    (void) snprintf(buffer, 48, "%lld KiB", (long long) (count + 512) / 1024);
    return buffer;
}

static const char *day(const char *iso, char buffer[48])
{
    struct db_date date;

    return db_date_read(iso, strlen(iso), &date) == DB_OK ? db_show_day(date, buffer) : iso;
}

/* Words of servers and commands on one line, with nothing in them that a terminal obeys. */
static const char *tame(const char *text, char buffer[256])
{
    size_t length = 0;

    for (; *text && length < 255; text++) {
        const unsigned char c = (unsigned char) *text;
        const bool second = c == 0xC2 && (unsigned char) text[1] >= 0x80 && (unsigned char) text[1] < 0xA0; /* C1 */

        buffer[length++] = (char) (c < 0x20 || c == 0x7F || second ? ' ' : c);
        text += second;
    }
    buffer[length] = '\0';
    return buffer;
}

static void show_forecast(json_object *forecast, const char *zone, int64_t now)
{
    char age[48], first[48], last[48], when[48], trouble[256];

    if (!forecast)
        return;
    if (*text_of(forecast, "source"))
        printf("  forecast    %s, issued %s ago%s: %s to %s\n", text_of(forecast, "source"),
               span(now - int_of(forecast, "issued"), age), flag_of(forecast, "stale") ? " (stale)" : "",
               day(text_of(forecast, "first"), first), day(text_of(forecast, "last"), last));
    else
        printf("  forecast    none has come yet from %s; days ahead are worked out from the climate\n",
               text_of(forecast, "wanted"));
    if (*text_of(forecast, "here"))
        printf("    %s\n", text_of(forecast, "here"));
    if (*text_of(forecast, "trouble"))
        printf("    the last asking failed: %s\n", tame(text_of(forecast, "trouble"), trouble));
    if (int_of(forecast, "next") > 0)
        printf("    it asks again at %s\n", db_clock_words(int_of(forecast, "next"), zone, when));
}

static void show_published(json_object *list, const char *zone)
{
    char when[48], trouble[256];

    for (size_t i = 0; i < length_of(list); i++) {
        json_object *row = json_object_array_get_idx(list, i);

        printf("  %-11s %s: ", text_of(row, "outlet"), text_of(row, "feed"));
        if (flag_of(row, "current"))
            printf("up to date, put there %s\n", db_clock_words(int_of(row, "at"), zone, when));
        else
            printf("not up to date%s%s\n", *text_of(row, "trouble") ? ": " : "",
                   tame(text_of(row, "trouble"), trouble));
    }
}

static void show_mornings(json_object *mornings, const char *zone)
{
    char when[48], next[48], date[48], trouble[256];

    for (size_t i = 0; i < length_of(mornings); i++) {
        json_object *row = json_object_array_get_idx(mornings, i);
        const char *state = text_of(row, "state");

        printf("  morning     %s, %s: %s %s", text_of(row, "outlet"), day(text_of(row, "date"), date), state,
               db_clock_words(int_of(row, "changed"), zone, when));
        if (strcmp(state, "sent") != 0 && strcmp(state, "folded") != 0 && int_of(row, "next") > 0)
            printf(", %lld tries so far, next try %s", (long long) int_of(row, "tries"),
                   db_clock_words(int_of(row, "next"), zone, next));
        putchar('\n');
        if (*text_of(row, "trouble"))
            printf("    %s: %s\n",
                   strcmp(state, "sent") == 0                                     ? "but not all was well"
                   : strcmp(state, "failed") == 0 || strcmp(state, "folded") == 0 ? "given up"
                                                                                  : "the last try failed",
                   tame(text_of(row, "trouble"), trouble));
    }
}

static void show_feeds(json_object *feeds, const char *zone)
{
    char size[48], events[48], when[48];

    for (size_t i = 0; i < length_of(feeds); i++) {
        json_object *row = json_object_array_get_idx(feeds, i);

        printf("  feed        %s: %s, %s, changed %s\n", text_of(row, "name"),
               many(int_of(row, "events"), "entry", "entries", events), bytes(int_of(row, "bytes"), size),
               db_clock_words(int_of(row, "modified"), zone, when));
    }
}

static void show_mistakes(json_object *garden)
{
    json_object *list = list_of(garden, "mistakes");
    int64_t count = int_of(garden, "mistake_count");

    if (count > 0)
        printf("  files       %lld mistake%s; %s\n", (long long) count, count == 1 ? "" : "s",
               json_object_object_get(garden, "jobs") ? "the last good plan stays in force"
                                                      : "there is no good plan to go by yet");
    else
        printf("  files       in order\n");
    for (size_t i = 0; i < length_of(list); i++) {
        json_object *row = json_object_array_get_idx(list, i);
        const char *what = text_of(row, "what"), *instead = text_of(row, "instead");

        if (flag_of(row, "advice"))
            continue;
        printf("    %s", text_of(row, "file"));
        if (int_of(row, "line"))
            printf(":%lld", (long long) int_of(row, "line"));
        if (int_of(row, "line") && int_of(row, "column"))
            printf(":%lld", (long long) int_of(row, "column"));
        printf(": %s", what);
        if (*instead)
            printf("%s%s", *what && what[strlen(what) - 1] == '?' ? " " : "; ", instead);
        putchar('\n');
    }
}

static void show_garden(json_object *garden, int64_t now)
{
    const char *zone = *text_of(garden, "zone") ? text_of(garden, "zone") : "UTC";
    json_object *jobs = json_object_object_get(garden, "jobs");
    char when[48], date[48];

    printf("\n%s%s%s (%s)\n", db_show_bold(stdout), text_of(garden, "name"), db_show_plain(stdout),
           text_of(garden, "folder"));
    if (jobs)
        printf("  worked out  %s, for %s: %lld jobs open, %lld done, %lld missed\n",
               db_clock_words(int_of(garden, "evaluated"), zone, when), day(text_of(garden, "today"), date),
               (long long) int_of(jobs, "open"), (long long) int_of(jobs, "done"), (long long) int_of(jobs, "missed"));
    else
        printf("  worked out  not yet\n");
    show_forecast(json_object_object_get(garden, "forecast"), zone, now);
    show_mornings(list_of(garden, "mornings"), zone);
    show_feeds(list_of(garden, "feeds"), zone);
    show_published(list_of(garden, "publish"), zone);
    show_mistakes(garden);
    if (*text_of(garden, "trouble"))
        printf("  record      %s\n", text_of(garden, "trouble"));
}

static void show(json_object *report)
{
    json_object *gardens = list_of(report, "gardens"), *next = list_of(report, "next");
    json_object *first = length_of(gardens) ? json_object_array_get_idx(gardens, 0) : NULL;
    const char *zone = first && *text_of(first, "zone") ? text_of(first, "zone") : "UTC";
    int64_t now = int_of(report, "now");
    char when[48], age[48], wakes[48];

    printf("dewbelld %s runs since %s (%s), %s\n", text_of(report, "version"),
           db_clock_words(int_of(report, "started"), zone, when), span(now - int_of(report, "started"), age),
           many(int_of(report, "wakes"), "wake-up", "wake-ups", wakes));
    if (flag_of(report, "flooded"))
        printf("Its timers came far too fast and were held back: please report this with its log.\n");
    for (size_t i = 0; i < length_of(gardens); i++)
        show_garden(json_object_array_get_idx(gardens, i), now);
    printf("\nNext\n");
    if (!length_of(next))
        printf("  nothing is due; it wakes when something changes\n");
    for (size_t i = 0; i < length_of(next); i++) {
        json_object *row = json_object_array_get_idx(next, i);

        printf("  %s  %s\n", db_clock_words(int_of(row, "at"), zone, when), text_of(row, "name"));
    }
}

int db_cmd_status(struct db_session *session, int count, char **words)
{
    char *state = db_session_state(session);
    size_t length = 0;

    (void) count;
    (void) words;
    if (!state) {
        fprintf(stderr, "dewbell: out of memory\n");
        return DB_EXIT_TROUBLE;
    }
    int fd = connect_to(state);
    if (fd < 0) {
        bool absent = errno == ENOENT || errno == ECONNREFUSED;
        if (absent)
            fprintf(stderr,
                    "dewbell: no service looks after this garden (nothing answers in %s)\n"
                    "Start one with dewbelld --garden FILE, or name its state folder with --state DIR.\n",
                    state);
        else
            fprintf(stderr, "dewbell: could not reach the service in %s: %s\n", state, strerror(errno));
        free(state);
        return absent ? DB_EXIT_ABSENT : DB_EXIT_TROUBLE;
    }
    char *text = read_all(fd, &length);
    int trouble = errno;
    (void) close(fd);
    json_object *report = text ? json_tokener_parse(text) : NULL;
    int status = DB_EXIT_FINE;
    if (!report) {
        fprintf(stderr, "dewbell: the service in %s did not answer in full: %s\n", state,
                text ? "its words are no JSON document" : strerror(trouble));
        status = DB_EXIT_TROUBLE;
    } else if (session->options.json)
        fwrite(text, 1, length, stdout);
    else
        show(report);
    (void) json_object_put(report);
    free(text);
    free(state);
    return status;
}
