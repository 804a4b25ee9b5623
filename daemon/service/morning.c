#include "service/morning_private.h"

#include "read/files.h"
#include "read/zone.h"
#include "service/crash.h"
#include "service/log.h"
#include "service/matter.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

enum {
    NOON = 12 * 60,
    LATE = 15 * 60,       /* seconds after which a morning says that it comes late */
    PATIENCE = 60 * 1000, /* ms to wait for an evaluation */
    AGAIN = 60,           /* seconds until the record is tried again */
    GAP_MOST = 7,         /* days without a morning that are worth a line */
    NOTES_MOST = 2 * DB_LIMIT_OUTLETS,
    ROOM = 256 << 20
};

struct db_mornings {
    struct db_house *house;
    struct db_garden_morning *gardens;
    struct db_carriage *orphans;
};

/* What one look at a garden works with. */
struct look {
    struct db_garden_morning *garden;
    const struct db_estate *estate;
    const struct db_site *site;
    const struct db_zone *zone;
    struct db_arena *arena;
    int64_t now, next; /* unix seconds; next: when to look again */
    struct db_date today;
};

int64_t db_morning_now(const struct db_garden_morning *garden)
{
    const int64_t ms = db_loop_wall(garden->house->loop);

    return ms >= 0 ? ms / 1000 : (ms - 999) / 1000;
}

static void look_again(struct look *look, int64_t when)
{
    if (when < look->next)
        look->next = when;
}

static int64_t noon_of(const struct look *look, struct db_date date)
{
    return db_zone_moment(look->zone, date, NOON);
}

/* ---- what is said under the day ---- */

static const char *whose_morning(const struct look *look, struct db_date date)
{
    char day[DB_MATTER_DAY];

    return date.day == look->today.day - 1 ? "Yesterday's morning"
                                           : db_say(look->arena, "The morning of %s", db_matter_day(date, false, day));
}

/* Texts of others may hold anything; a note is one line. */
static const char *one_line(const struct look *look, const char *text)
{
    char *line = db_arena_text(look->arena, text, strlen(text));

    for (char *c = line; c && *c; c++)
        if ((unsigned char) *c < 0x20 || *c == 0x7f)
            *c = ' ';
    return line ? line : "";
}

static void note_failures(const struct look *look, const struct db_morning_row *failed, size_t count,
                          const char **notes, size_t *used)
{
    for (size_t i = 0; i < count && *used < NOTES_MOST; i++)
        notes[(*used)++] =
            db_say(look->arena, "%s could not be sent by [%s]: %s.", whose_morning(look, failed[i].date),
                   failed[i].outlet, *failed[i].trouble ? one_line(look, failed[i].trouble) : "nobody answered");
}

static void note_gap(const struct look *look, struct db_date before, const char **notes, size_t *used)
{
    const int32_t days = db_date_known(before) ? look->today.day - before.day - 1 : 0;

    if (days < 1 || days > GAP_MOST || *used >= NOTES_MOST)
        return;
    notes[(*used)++] = days == 1 ? "Yesterday's morning was not sent: the service did not run at its hour."
                                 : db_say(look->arena,
                                          "The mornings of the last %d days were not sent: the service did not run at "
                                          "their hour.",
                                          days);
}

static void note_late(const struct look *look, int64_t due, const char **notes, size_t *used)
{
    const int64_t local = due + db_zone_offset(look->zone, due);
    const int minute = (int) ((local / 60 % 1440 + 1440) % 1440);

    if (look->now - due > LATE && *used < NOTES_MOST)
        notes[(*used)++] =
            db_say(look->arena, "This morning comes late: it was due at %02d:%02d.", minute / 60, minute % 60);
}

static void note_mistakes(const struct look *look, const char **notes, size_t *used)
{
    const struct db_mistakes *mistakes = db_keeper_mistakes(look->garden->keeper);
    const size_t count = mistakes ? db_mistakes_count(mistakes) : 0;

    for (size_t i = 0; count && *used < NOTES_MOST && db_mistakes_at(mistakes, i); i++) {
        const struct db_mistake *mistake = db_mistakes_at(mistakes, i);

        if (mistake->advice)
            continue;
        notes[(*used)++] = db_say(look->arena,
                                  "The garden's files have %s, so the last good ones are in force: "
                                  "%s, line %u: %s.",
                                  count == 1 ? "a mistake" : "mistakes", mistake->at.file ? mistake->at.file : "",
                                  mistake->at.line, one_line(look, mistake->what));
        return;
    }
}

/* ---- making a day's mornings ---- */

static bool carries(const struct db_outlet *outlet)
{
    return outlet->way <= DB_OUT_COMMAND;
}

/* The rows of all outlets; false: memory is out. */
static bool write_rows(const struct look *look, const struct db_matter *matter, bool nothing,
                       struct db_morning_row *rows, size_t *ret_count)
{
    const struct db_outlets *outlets = &look->estate->outlets;

    *ret_count = 0;
    for (size_t i = 0; i < outlets->count; i++) {
        const struct db_outlet *outlet = &outlets->outlets[i];
        struct db_bytes body = { 0 };

        if (!carries(outlet))
            continue;
        struct db_morning_row *row = &rows[(*ret_count)++];
        *row = (struct db_morning_row){ .date = look->today,
                                        .outlet = outlet->name,
                                        .state = nothing ? DB_MORNING_SENT : DB_MORNING_INTENDED,
                                        .message = db_matter_message(matter, outlet, look->arena) };
        if (row->message && !nothing && db_matter_write(matter, outlet, row->message, look->arena, &body) == DB_OK) {
            row->body = db_arena_text(look->arena, body.data, body.length);
            row->length = body.length;
        }
        db_bytes_free(&body);
        if (!row->message || (!nothing && !row->body))
            return false;
    }
    return true;
}

static enum db_status intend(struct look *look, const struct db_jobs *jobs, struct db_date before, int64_t due)
{
    struct db_garden_morning *garden = look->garden;
    struct db_record *record = db_keeper_record(garden->keeper);
    struct db_morning_row rows[DB_LIMIT_OUTLETS], *failed;
    const char *notes[NOTES_MOST + 1] = { 0 };
    size_t count, failures, used = 0;
    char date[11];
    enum db_status status = db_record_failed_mornings(record, look->today, look->arena, &failed, &failures);

    if (status != DB_OK)
        return status;
    note_late(look, due, notes, &used);
    note_mistakes(look, notes, &used);
    note_failures(look, failed, failures, notes, &used);
    note_gap(look, before, notes, &used);
    const bool quiet = db_digest_count(jobs, look->today) == 0 && !db_digest_leaves(jobs, look->today);
    const bool nothing = quiet && !look->estate->outlets.morning.quiet_line;
    const struct db_matter matter = { .jobs = jobs,
                                      .date = look->today,
                                      .notes = notes,
                                      .quiet = quiet,
                                      .link = look->estate->outlets.morning.link,
                                      .now = look->now,
                                      .offset = db_zone_offset(look->zone, look->now) };
    if (!write_rows(look, &matter, nothing, rows, &count))
        return DB_FULL;
    DB_CRASH_POINT("before-intended");
    status = db_record_intend_mornings(record, rows, count, !nothing, look->now);
    DB_CRASH_POINT("intended");
    if (status == DB_OK)
        db_log(DB_LOG_INFO, "%s: morning of %s: %s", db_keeper_name(garden->keeper), db_date_iso(look->today, date),
               nothing ? "nothing to do, nothing to send" : "written");
    return status;
}

/* The jobs of today, asked for first; NULL: not yet. */
static const struct db_jobs *todays_jobs(struct look *look)
{
    struct db_garden_morning *garden = look->garden;
    const struct db_jobs *jobs = db_keeper_jobs(garden->keeper);
    const int64_t steady = db_loop_steady(garden->house->loop);

    if (!garden->asked || garden->asked_for.day != look->today.day) {
        garden->asked = true;
        garden->asked_for = look->today;
        garden->answered = false;
        garden->asked_at = steady;
        DB_CRASH_POINT("due");
        db_keeper_nudge(garden->keeper);
        jobs = db_keeper_jobs(garden->keeper);
    }
    const bool fresh = garden->answered && jobs && db_jobs_view(jobs)->today.day == look->today.day;
    /* An evaluation that does not come must not cost the morning. */
    if (fresh || (jobs && steady - garden->asked_at >= PATIENCE))
        return jobs;
    look_again(look, look->now + (steady - garden->asked_at >= PATIENCE ? AGAIN : PATIENCE / 1000 + 1));
    return NULL;
}

static bool any_carrier(const struct db_outlets *outlets)
{
    for (size_t i = 0; i < outlets->count; i++)
        if (carries(&outlets->outlets[i]))
            return true;
    return false;
}

/* Decides today's mornings when their hour has come. */
static enum db_status decide(struct look *look)
{
    const struct db_morning_wish *wish = &look->estate->outlets.morning;
    struct db_garden_morning *garden = look->garden;
    const int64_t due = db_morning_due(wish, look->site, look->zone, look->today);
    struct db_date before;
    bool there;

    look_again(look, db_morning_due(wish, look->site, look->zone, db_date_add(look->today, 1)));
    if (look->now < due) {
        look_again(look, due);
        return DB_OK;
    }
    if (look->now >= noon_of(look, look->today))
        return DB_OK;
    enum db_status status = db_record_morning_dates(db_keeper_record(garden->keeper), look->today, &there, &before);
    if (status != DB_OK || there)
        return status;
    const struct db_jobs *jobs = todays_jobs(look);
    if (!jobs)
        return DB_OK;
    garden->asked = false;
    return intend(look, jobs, before, due);
}

/* ---- sending what is to be sent ---- */

static enum db_status give_up(const struct look *look, const struct db_morning_row *row)
{
    struct db_record *record = db_keeper_record(look->garden->keeper);
    struct db_morning_row given_up = *row;
    char date[11];

    given_up.state = DB_MORNING_FAILED;
    if (row->state == DB_MORNING_SENDING)
        given_up.trouble = "it is not known whether it arrived";
    else if (!*row->trouble)
        given_up.trouble = "the service did not run in time";
    db_log(DB_LOG_WARNING, "%s: morning of %s by [%s] given up at noon: %s", db_keeper_name(look->garden->keeper),
           db_date_iso(row->date, date), row->outlet, given_up.trouble);
    return db_record_mark_morning(record, &given_up, look->now);
}

static enum db_status send_open(struct look *look)
{
    struct db_record *record = db_keeper_record(look->garden->keeper);
    struct db_morning_row *rows;
    size_t count;
    enum db_status status = db_record_open_mornings(record, look->arena, &rows, &count);

    for (size_t i = 0; status == DB_OK && i < count; i++) {
        const int64_t noon = noon_of(look, rows[i].date);

        if (db_carriage_find(look->garden, rows[i].date, rows[i].outlet))
            continue;
        /* Of a day that is not yet, since the clock was set back: its hour comes. */
        if (rows[i].date.day > look->today.day) {
            look_again(look, db_zone_day_start(look->zone, rows[i].date));
            continue;
        }
        if (look->now >= noon) {
            status = give_up(look, &rows[i]);
            continue;
        }
        look_again(look, noon);
        /* A clock that was set back must not stretch the pause. */
        if (rows[i].next > look->now && rows[i].changed <= look->now)
            look_again(look, rows[i].next);
        else
            status = db_carriage_start(look->garden, &rows[i]);
    }
    return status;
}

static enum db_status do_all(struct look *look)
{
    const struct db_outlets *outlets = &look->estate->outlets;
    enum db_status status = db_carriage_settle(look->garden);

    if (status == DB_OK && outlets->morning.wanted && any_carrier(outlets))
        status = decide(look);
    if (status == DB_OK)
        status = send_open(look);
    return status;
}

/* The record failed: tells why, once. Seconds until it is tried again, at once when somebody else was only writing to it. */
static int64_t tell_trouble(struct db_garden_morning *garden, enum db_status status)
{
    struct db_record *record = db_keeper_record(garden->keeper);
    const char *why = status == DB_FULL ? "out of memory" : db_record_trouble(record);

    if (status == DB_TROUBLE && db_record_is_busy(record))
        return 1;
    if (strcmp(garden->said, why) != 0)
        db_log(DB_LOG_ERROR, "%s: mornings: %s; tried again each minute", db_keeper_name(garden->keeper), why);
    (void) snprintf(garden->said, sizeof garden->said, "%s", why);
    return AGAIN;
}

void db_morning_look(struct db_garden_morning *garden)
{
    struct look look = { .garden = garden, .estate = db_keeper_estate(garden->keeper), .next = INT64_MAX };

    db_timer_stop(garden->timer);
    if (!look.estate)
        return; /* the keeper calls when there is one */
    look.site = db_garden_site(look.estate->garden);
    look.zone = db_zone_find(look.site->zone);
    look.arena = db_arena_new(ROOM);
    if (look.zone && look.arena) {
        look.now = db_morning_now(garden);
        look.today = db_zone_day(look.zone, look.now);
        const enum db_status status = do_all(&look);
        if (status != DB_OK)
            look_again(&look, look.now + tell_trouble(garden, status));
        else
            garden->said[0] = '\0';
    } else {
        look.next = db_morning_now(garden) + AGAIN;
    }
    (void) db_arena_free(look.arena);
    if (look.next != INT64_MAX)
        db_timer_at(garden->timer, look.next * 1000);
}

/* ---- what brings a look about ---- */

static void on_timer(void *context)
{
    db_morning_look(context);
}

static void on_change(void *context, struct db_keeper *keeper, unsigned which)
{
    struct db_garden_morning *garden = context;

    (void) keeper;
    (void) which;
    garden->answered = true;
    db_timer_at(garden->timer, db_loop_wall(garden->house->loop)); /* from the loop, not from inside the keeper */
}

static void on_jump(void *context)
{
    struct db_mornings *mornings = context;

    for (struct db_garden_morning *garden = mornings->gardens; garden; garden = garden->next) {
        garden->asked = false;
        db_morning_look(garden);
    }
}

static void leave(struct db_mornings *mornings, struct db_garden_morning *garden)
{
    struct db_garden_morning **at = &mornings->gardens;

    while (*at != garden)
        at = &(*at)->next;
    *at = garden->next;
    db_carriage_leave(garden, &mornings->orphans);
    (void) db_timer_free(garden->timer);
    free(garden);
}

static bool enter(struct db_mornings *mornings, struct db_keeper *keeper)
{
    struct db_garden_morning *garden = calloc(1, sizeof *garden);

    if (!garden)
        return false;
    garden->house = mornings->house;
    garden->keeper = keeper;
    garden->next = mornings->gardens;
    mornings->gardens = garden;
    garden->timer = db_timer_new(mornings->house->loop, "morning", on_timer, garden);
    if (!garden->timer || db_keeper_on_change(keeper, on_change, garden) != DB_OK) {
        leave(mornings, garden);
        return false;
    }
    db_timer_at(garden->timer, db_loop_wall(mornings->house->loop));
    return true;
}

static void on_keeper(void *context, struct db_keeper *keeper, bool came)
{
    struct db_mornings *mornings = context;
    struct db_garden_morning *garden = mornings->gardens;

    while (garden && garden->keeper != keeper)
        garden = garden->next;
    if (came && !garden && !enter(mornings, keeper))
        db_log(DB_LOG_ERROR, "%s: no memory for its mornings", db_keeper_name(keeper));
    else if (!came && garden)
        leave(mornings, garden);
}

struct db_mornings *db_mornings_new(struct db_house *house)
{
    struct db_mornings *mornings = calloc(1, sizeof *mornings);

    if (!mornings)
        return NULL;
    mornings->house = house;
    bool good = db_loop_on_jump(house->loop, on_jump, mornings) == DB_OK &&
                db_house_on_keeper(house, on_keeper, mornings) == DB_OK;
    for (size_t i = 0; good && i < house->keeper_count; i++)
        good = enter(mornings, house->keepers[i]);
    return good ? mornings : db_mornings_free(mornings);
}

struct db_mornings *db_mornings_free(struct db_mornings *mornings)
{
    if (mornings) {
        while (mornings->gardens)
            leave(mornings, mornings->gardens);
        db_carriage_free_all(&mornings->orphans);
        free(mornings);
    }
    return NULL;
}
