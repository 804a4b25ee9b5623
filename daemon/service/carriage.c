/* Carrying one morning out by one outlet, and what comes of it. */
#include "service/morning_private.h"

#include "service/crash.h"
#include "service/log.h"
#include "service/secret.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

enum {
    COMMAND_SECONDS = 60,
    DOUBTS_MOST = 3 /* after so many endings without an answer it is taken as arrived */
};

static bool is_it(const struct db_carriage *carriage, struct db_date date, const char *outlet)
{
    return carriage->date.day == date.day && strcmp(carriage->outlet, outlet) == 0;
}

const struct db_carriage *db_carriage_find(const struct db_garden_morning *garden, struct db_date date,
                                           const char *outlet)
{
    const struct db_carriage *carriage = garden->carriages;

    while (carriage && !is_it(carriage, date, outlet))
        carriage = carriage->next;
    return carriage;
}

static void forget(struct db_carriage *carriage)
{
    struct db_carriage **at = carriage->list;

    while (*at != carriage)
        at = &(*at)->next;
    *at = carriage->next;
    free(carriage);
}

static const struct db_outlet *outlet_of(const struct db_garden_morning *garden, const char *name)
{
    const struct db_outlets *all = &db_keeper_estate(garden->keeper)->outlets;

    for (size_t i = 0; i < all->count; i++)
        if (all->outlets[i].way <= DB_OUT_COMMAND && strcmp(all->outlets[i].name, name) == 0)
            return &all->outlets[i];
    return NULL;
}

/* Minutes to the next try, a little spread so that many do not ask at once. */
static int64_t pause_after(int64_t tries)
{
    static const int64_t minutes[] = { 1, 2, 5, 10, 20, 30 };
    const size_t last = sizeof minutes / sizeof minutes[0] - 1;
    const int64_t seconds = 60 * minutes[tries < 1 ? 0 : tries - 1 > (int64_t) last ? last : (size_t) tries - 1];

    return DB_CRASH_PAUSE(seconds + arc4random_uniform((uint32_t) seconds / 5));
}

static enum db_status mark(struct db_garden_morning *garden, struct db_date date, const char *outlet,
                           enum db_morning_state state, int64_t tries, int64_t next, const char *trouble)
{
    const struct db_morning_row row = {
        .date = date, .outlet = outlet, .state = state, .tries = tries, .next = next, .trouble = trouble
    };

    return db_record_mark_morning(db_keeper_record(garden->keeper), &row, db_morning_now(garden));
}

static int count_doubt(struct db_garden_morning *garden, const struct db_carriage *carriage)
{
    for (size_t i = 0; i < DB_LIMIT_OUTLETS; i++) {
        struct db_doubt *doubt = &garden->doubts[i];

        if (doubt->count && doubt->date.day == carriage->date.day && strcmp(doubt->outlet, carriage->outlet) == 0)
            return ++doubt->count;
    }
    struct db_doubt *doubt = &garden->doubts[garden->next_doubt++ % DB_LIMIT_OUTLETS];
    doubt->date = carriage->date;
    doubt->count = 1;
    memcpy(doubt->outlet, carriage->outlet, sizeof doubt->outlet);
    return 1;
}

/* What came of it goes into the record; the carriage ends when it stands there. */
static void settle(struct db_carriage *carriage)
{
    carriage->settled = true;
    carriage->command = NULL;
    DB_CRASH_POINT("answered");
    if (mark(carriage->garden, carriage->date, carriage->outlet, carriage->state, carriage->tries, carriage->again,
             carriage->trouble) != DB_OK)
        return;
    DB_CRASH_POINT("settled");
    forget(carriage);
}

enum db_status db_carriage_settle(struct db_garden_morning *garden)
{
    for (struct db_carriage *next, *at = garden->carriages; at; at = next) {
        next = at->next;
        if (!at->settled)
            continue;
        enum db_status status = mark(garden, at->date, at->outlet, at->state, at->tries, at->again, at->trouble);
        if (status != DB_OK)
            return status;
        forget(at);
    }
    return DB_OK;
}

static void say(const struct db_carriage *carriage, enum db_log_level level, const char *what)
{
    char date[11];

    db_log(level, "%s: morning of %s by [%s] %s%s%s", db_keeper_name(carriage->garden->keeper),
           db_date_iso(carriage->date, date), carriage->outlet, what, *carriage->trouble ? ": " : "",
           carriage->trouble);
}

static void arrived(struct db_carriage *carriage)
{
    carriage->state = DB_MORNING_SENT;
    say(carriage, *carriage->trouble ? DB_LOG_WARNING : DB_LOG_INFO, "sent");
    settle(carriage);
}

static void refused(struct db_carriage *carriage)
{
    carriage->state = DB_MORNING_FAILED;
    say(carriage, DB_LOG_WARNING, "refused, not tried again");
    settle(carriage);
}

static void try_again(struct db_carriage *carriage, int64_t retry_after)
{
    const int64_t pause = pause_after(carriage->tries);

    carriage->state = DB_MORNING_INTENDED;
    carriage->again = db_morning_now(carriage->garden) + (retry_after > pause ? retry_after : pause);
    say(carriage, carriage->tries == 1 ? DB_LOG_WARNING : DB_LOG_NOTICE, "not sent, will be tried again");
    settle(carriage);
}

/* All was handed over and no answer came: it may have arrived. Another copy bears the same Message-ID or key. */
static void in_doubt(struct db_carriage *carriage)
{
    if (count_doubt(carriage->garden, carriage) >= DOUBTS_MOST) {
        say(carriage, DB_LOG_WARNING, "handed over several times without an answer, taken as sent");
        carriage->state = DB_MORNING_SENT;
    } else {
        carriage->state = DB_MORNING_SENDING;
        carriage->again = db_morning_now(carriage->garden) + pause_after(carriage->tries);
        say(carriage, DB_LOG_WARNING, "may have arrived; sent again with the same mark");
    }
    settle(carriage);
}

static void keep_trouble(struct db_carriage *carriage, const char *trouble)
{
    (void) snprintf(carriage->trouble, sizeof carriage->trouble, "%.250s", trouble);
}

static void on_return(void *context, const struct db_reply *reply)
{
    struct db_carriage *carriage = context;
    struct db_garden_morning *garden = carriage->garden;
    const int status = reply->status;
    const bool good = reply->arrived && status >= 200 && status < 300;
    /* RFC 9110: 408 and 429 ask to come again; RFC 5321: 4yz does, 5yz does not. */
    const bool later = carriage->mail ? status < 500 : status == 408 || status == 429 || status >= 500;

    if (!garden) {
        forget(carriage);
        return;
    }
    keep_trouble(carriage, reply->trouble);
    if (good && reply->refused_to)
        (void) snprintf(carriage->trouble, sizeof carriage->trouble, "%zu of its addresses %s refused",
                        reply->refused_to, reply->refused_to == 1 ? "was" : "were");
    else if (!good && reply->arrived && !*carriage->trouble)
        (void) snprintf(carriage->trouble, sizeof carriage->trouble, "the answer was %d", status);
    if (good)
        arrived(carriage);
    else if (!reply->arrived && reply->uncertain)
        in_doubt(carriage);
    else if (!reply->arrived || later)
        try_again(carriage, reply->retry_after);
    else
        refused(carriage);
    db_morning_look(garden);
}

static void on_command_end(void *context, bool done, const char *trouble)
{
    struct db_carriage *carriage = context;
    struct db_garden_morning *garden = carriage->garden;

    keep_trouble(carriage, trouble);
    if (done)
        arrived(carriage);
    else
        try_again(carriage, -1);
    db_morning_look(garden);
}

static bool run_command(struct db_carriage *carriage, const struct db_outlet *outlet, const struct db_morning_row *row,
                        char why[256])
{
    const struct db_garden_morning *garden = carriage->garden;
    char name[512], date[11], day[32];
    const char *const environment[] = { "PATH=/usr/local/bin:/usr/bin:/bin", "LANG=C.UTF-8", name, day, NULL };
    const struct db_order order = { .words = outlet->words,
                                    .environment = environment,
                                    .input = row->body,
                                    .length = row->length,
                                    .seconds = COMMAND_SECONDS };

    (void) snprintf(name, sizeof name, "DEWBELL_GARDEN=%.400s",
                    db_garden_site(db_keeper_estate(garden->keeper)->garden)->name);
    (void) snprintf(day, sizeof day, "DEWBELL_DATE=%s", db_date_iso(row->date, date));
    carriage->command = db_command_run(garden->house->loop, &order, on_command_end, carriage, why);
    return carriage->command != NULL;
}

static enum db_status send_errand(struct db_carriage *carriage, const struct db_outlet *outlet,
                                  const struct db_morning_row *row, const char *secret, char why[256])
{
    char bearer[DB_SECRET_ROOM + 32], key[256];
    const char *headers[4] = { outlet->json ? "Content-Type: application/json"
                                            : "Content-Type: text/plain; charset=utf-8",
                               key };
    struct db_errand errand = {
        .url = outlet->url, .body = row->body, .body_length = row->length, .ca_file = outlet->ca_file
    };

    if (carriage->mail) {
        errand.mail_from = outlet->from;
        errand.mail_to = outlet->to;
        errand.user = outlet->login;
        errand.password = outlet->login ? secret : NULL;
        errand.plain_allowed = outlet->plain_allowed;
    } else {
        /* A structured string, as draft-ietf-httpapi-idempotency-key-header has it. */
        (void) snprintf(key, sizeof key, "Idempotency-Key: \"%.200s\"", row->message);
        (void) snprintf(bearer, sizeof bearer, "Authorization: Bearer %s", secret);
        headers[2] = *secret ? bearer : NULL;
        errand.method = "POST";
        errand.headers = headers;
    }
    enum db_status status = db_courier_send(carriage->garden->house->courier, &errand, on_return, carriage, why);
    explicit_bzero(bearer, sizeof bearer);
    return status;
}

static struct db_carriage *new_carriage(struct db_garden_morning *garden, const struct db_morning_row *row,
                                        const struct db_outlet *outlet)
{
    struct db_carriage *carriage = calloc(1, sizeof *carriage);

    if (!carriage)
        return NULL;
    carriage->next = garden->carriages;
    carriage->list = &garden->carriages;
    carriage->garden = garden;
    carriage->date = row->date;
    carriage->mail = outlet->way == DB_OUT_MAIL;
    carriage->tries = row->tries + 1;
    (void) snprintf(carriage->outlet, sizeof carriage->outlet, "%s", row->outlet);
    garden->carriages = carriage;
    return carriage;
}

enum db_status db_carriage_start(struct db_garden_morning *garden, const struct db_morning_row *row)
{
    const struct db_outlet *outlet = outlet_of(garden, row->outlet);
    char secret[DB_SECRET_ROOM] = "", why[256] = "";

    if (!outlet)
        return mark(garden, row->date, row->outlet, DB_MORNING_FOLDED, row->tries, row->next,
                    "the plan names it no longer");
    struct db_carriage *carriage = new_carriage(garden, row, outlet);
    if (!carriage)
        return DB_FULL;
    if (outlet->secret_file &&
        db_secret_read(outlet->secret_file, db_keeper_folder(garden->keeper), secret, why) != DB_OK) {
        keep_trouble(carriage, why);
        try_again(carriage, -1);
        return DB_OK;
    }
    if (row->state == DB_MORNING_SENDING) /* crashed under way, or no answer came */
        say(carriage, DB_LOG_NOTICE, "was on its way before and may come twice, with the same mark");
    DB_CRASH_POINT("before-sending");
    enum db_status status =
        mark(garden, row->date, row->outlet, DB_MORNING_SENDING, carriage->tries, row->next, row->trouble);
    DB_CRASH_POINT("sending");
    if (status != DB_OK) {
        db_secret_wipe(secret);
        forget(carriage);
        return status;
    }
    if (outlet->way == DB_OUT_COMMAND)
        status = run_command(carriage, outlet, row, why) ? DB_OK : DB_FULL;
    else
        status = send_errand(carriage, outlet, row, secret, why);
    db_secret_wipe(secret);
    DB_CRASH_POINT("handed-over");
    if (status != DB_OK)
        keep_trouble(carriage, why);
    if (status == DB_RANGE)
        refused(carriage);
    else if (status != DB_OK)
        try_again(carriage, -1);
    return DB_OK;
}

void db_carriage_leave(struct db_garden_morning *garden, struct db_carriage **orphans)
{
    for (struct db_carriage *next, *at = garden->carriages; at; at = next) {
        next = at->next;
        if (at->command || at->settled) {
            (void) db_command_kill(at->command);
            free(at);
            continue;
        }
        at->next = *orphans;
        at->garden = NULL;
        at->list = orphans;
        *orphans = at;
    }
    garden->carriages = NULL;
}

void db_carriage_free_all(struct db_carriage **list)
{
    for (struct db_carriage *next, *at = *list; at; at = next) {
        next = at->next;
        free(at);
    }
    *list = NULL;
}
