/* token: the addresses to subscribe to. Makes the first token; with --new another one, after which the old address is gone. */
#include "cli/cli.h"

#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

static const char usual_base[] = "http://127.0.0.1:8737";

/* "https://garden.example" or with a path; without what would not survive being put in front of one. */
static bool is_base(const char *base)
{
    const char *rest = strncmp(base, "https://", 8) == 0  ? base + 8
                       : strncmp(base, "http://", 7) == 0 ? base + 7
                                                          : NULL;

    if (!rest || !*rest || *rest == '/')
        return false;
    for (; *rest; rest++)
        if ((unsigned char) *rest <= ' ' || (unsigned char) *rest >= 0x7F || strchr("?#\"<>\\^`{|}@", *rest))
            return false;
    return true;
}

static int trouble(const struct db_session *s)
{
    fprintf(stderr, "dewbell: the token was not kept: %s\n", db_record_trouble(s->record));
    return DB_EXIT_TROUBLE;
}

static void show(const struct db_session *s, const char *base, const char *token)
{
    static const struct {
        const char *name, *about;
    } feeds[] = { { "mornings", "an event a day with the day's jobs and an alarm; for phones" },
                  { "jobs", "an event a job" },
                  { "tasks",
                    "the jobs as tasks, with alarms of their own: take them or the mornings, or both will ring" } };
    size_t length = strlen(base);

    while (length && base[length - 1] == '/')
        length--;
    printf(
        "Subscribe in your calendar to one of these. Who has the address can read the feed: keep it to yourself.\n\n");
    for (size_t i = 0; i < sizeof feeds / sizeof feeds[0]; i++)
        printf("  %.*s/f/%s/%s.ics\n      %s\n", (int) length, base, token, feeds[i].name, feeds[i].about);
    if (!s->options.base)
        printf("\nThese work on this machine. For a telephone, put dewbelld behind a web server with TLS and name it:\n"
               "dewbell --base https://garden.example token\n");
}

int db_cmd_token(struct db_session *s, int count, char **words)
{
    const char *base = s->options.base ? s->options.base : usual_base;
    struct db_token *all = NULL, token;
    size_t count_of_all = 0;
    bool made = false;

    (void) count;
    (void) words;
    if (!is_base(base)) {
        fprintf(stderr, "dewbell: --base \"%s\" is no address; write it like https://garden.example\n", base);
        return DB_EXIT_USAGE;
    }
    int status = db_session_open(s, true); /* not the plan: its feed tells of its mistakes, and can be subscribed to */
    if (status != DB_EXIT_FINE)
        return status;
    if (db_record_tokens(s->record, &all, &count_of_all) != DB_OK)
        return trouble(s);
    const bool holds = count_of_all > 0 && !all[0].revoked;
    if (holds)
        token = all[0];
    free(all);
    const struct db_token old = holds ? token : (struct db_token){ .revoked = true };
    if ((!holds || s->options.fresh) &&
        db_record_replace_token(s->record, holds ? &old : NULL, db_clock_now(), &token, &made) != DB_OK)
        return trouble(s);
    show(s, base, token.text);
    if (holds && s->options.fresh)
        printf("\nThe old address no longer works; calendars that use it say so.%s\n",
               made ? "" : " Another run made the new one at this very moment: this is it.");
    return DB_EXIT_FINE;
}
