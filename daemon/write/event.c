/* One VEVENT or VTODO, and the lines above the first: the only file that knows libical. */
#include "write/private.h"

#include <libical/ical.h>

#include <stdio.h>
#include <string.h>

#include "base/banned.h"

/* libical's own default; set all the same, for a stray NULL must not end the program. */
static void settle_libical(void)
{
    if (icalerror_get_errors_are_fatal())
        icalerror_set_errors_are_fatal(0);
    icalerror_clear_errno();
}

static struct icaltimetype ical_day(struct db_date date)
{
    struct icaltimetype time = icaltime_null_date();

    db_date_parts(date, &time.year, &time.month, &time.day);
    time.is_date = 1;
    return time;
}

/* From our own calendar: libical's conversions with a zone print local hours as UTC. */
static struct icaltimetype ical_utc(int64_t seconds)
{
    struct icaltimetype time = icaltime_null_time();
    int64_t day = seconds / 86400;
    int rest = (int) (seconds % 86400);

    db_date_parts((struct db_date){ (int32_t) day }, &time.year, &time.month, &time.day);
    time.hour = rest / 3600;
    time.minute = rest / 60 % 60;
    time.second = rest % 60;
    time.zone = icaltimezone_get_utc_timezone();
    return time;
}

/* Adds a property; a NULL one (out of memory) is remembered. */
static void add(icalcomponent *to, icalproperty *property, bool *whole)
{
    if (property)
        icalcomponent_add_property(to, property);
    else
        *whole = false;
}

static void add_x(icalcomponent *to, const char *name, const char *value, bool *whole)
{
    icalproperty *property = icalproperty_new_x(value);

    if (property)
        icalproperty_set_x_name(property, name);
    add(to, property, whole);
}

/* Adds a component's text with its line ends mended. libical before 4.0.3 folds a line that just fits together with its line
 * end (libical pull request 1338): CR LF SPACE CR LF, an empty line that some servers refuse, or CR CR LF SPACE LF, a bare
 * CR. No value holds a CR, so both can only be that. */
static enum db_status add_mended(const char *text, size_t length, struct db_bytes *out)
{
    static const char empty[] = "\r\n \r\n", torn[] = "\r\r\n \n";
    const char *at = text, *end = text + length;
    enum db_status status = DB_OK;

    for (const char *cr = at; status == DB_OK && (cr = memchr(cr, '\r', (size_t) (end - cr)));) {
        size_t odd = strncmp(cr, empty, sizeof empty - 1) == 0 ? sizeof empty - 1
                     : strncmp(cr, torn, sizeof torn - 1) == 0 ? sizeof torn - 1
                                                               : 0;
        if (!odd) {
            cr++;
            continue;
        }
        status = db_bytes_add(out, at, (size_t) (cr - at));
        if (status == DB_OK)
            status = db_bytes_text(out, "\r\n");
        at = cr += odd;
    }
    return status == DB_OK ? db_bytes_add(out, at, (size_t) (end - at)) : status;
}

/* Adds the bytes of a component, without `tail` characters at its end, and frees it. */
static enum db_status print(icalcomponent *component, bool whole, size_t tail, struct db_bytes *out)
{
    char *text = whole ? icalcomponent_as_ical_string_r(component) : NULL;
    enum db_status status = DB_FULL;

    if (text && icalerrno == ICAL_NO_ERROR && strlen(text) >= tail)
        status = add_mended(text, strlen(text) - tail, out);
    icalmemory_free_buffer(text);
    icalcomponent_free(component);
    return status;
}

/* A task of one day has no start: DUE must lie after it, and programs read a DUE that is a date as "on that day". */
static struct db_date starts(const struct db_event *event)
{
    return db_date_known(event->from) && event->from.day < event->due.day ? event->from : DB_NO_DATE;
}

/* 06:30 of the day in the zone of whoever looks: a date counts from midnight there. A task without a start counts from its
 * only day, the last. */
static void add_alarm(icalcomponent *to, const struct db_event *event, bool *whole)
{
    icalcomponent *alarm = icalcomponent_new(ICAL_VALARM_COMPONENT);
    struct icaltriggertype trigger = { .time = icaltime_null_time(),
                                       .duration = icaldurationtype_from_int(6 * 3600 + 1800) };
    char uid[DB_UID_TEXT];

    if (!alarm) {
        *whole = false;
        return;
    }
    add(alarm, icalproperty_new_uid(db_uid_text(event->alarm_uid, uid)), whole);
    add(alarm, icalproperty_new_action(ICAL_ACTION_DISPLAY), whole);
    icalproperty *when = icalproperty_new_trigger(trigger);
    if (when && event->task && !db_date_known(starts(event)))
        icalproperty_add_parameter(when, icalparameter_new_related(ICAL_RELATED_END));
    add(alarm, when, whole);
    add(alarm, icalproperty_new_description(event->summary), whole);
    icalcomponent_add_component(to, alarm);
}

static void add_categories(icalcomponent *to, const struct db_event *event, bool *whole)
{
    char words[512]; /* kind and crop are names of at most some dozen characters; a longer pair is left out */

    if (!event->kind || !event->kind[0] || !event->crop || !event->crop[0])
        return;
    int length = snprintf(words, sizeof words, "%s,%s", event->kind, event->crop);
    if (length > 0 && (size_t) length < sizeof words)
        add(to, icalproperty_new_categories(words), whole);
}

static void add_days(icalcomponent *to, const struct db_event *event, bool *whole)
{
    if (!event->task) {
        add(to, icalproperty_new_dtstart(ical_day(event->day)), whole);
        add(to, icalproperty_new_dtend(ical_day(db_date_add(event->day, 1))), whole);
        return;
    }
    if (db_date_known(starts(event)))
        add(to, icalproperty_new_dtstart(ical_day(event->from)), whole);
    if (db_date_known(event->due))
        add(to, icalproperty_new_due(ical_day(event->due)), whole);
}

/* Programs disagree on which of the three says that a task is done: a done one has all of them. */
static void add_state(icalcomponent *to, const struct db_event *event, bool *whole)
{
    static const icalproperty_status states[] = { [DB_JOB_OPEN] = ICAL_STATUS_NEEDSACTION,
                                                  [DB_JOB_DONE] = ICAL_STATUS_COMPLETED,
                                                  [DB_JOB_MISSED] = ICAL_STATUS_CANCELLED };
    bool done = event->state == DB_JOB_DONE;

    if (!event->task) {
        add(to, icalproperty_new_status(ICAL_STATUS_CONFIRMED), whole);
        add(to, icalproperty_new_transp(ICAL_TRANSP_TRANSPARENT), whole);
    } else {
        add(to, icalproperty_new_status(states[event->state]), whole);
        add(to, icalproperty_new_percentcomplete(done ? 100 : 0), whole);
    }
    if (event->priority)
        add(to, icalproperty_new_priority(event->priority), whole);
    if (event->task && done)
        add(to, icalproperty_new_completed(ical_utc(event->completed)), whole);
}

enum db_status db_event_write(const struct db_event *event, struct db_bytes *out)
{
    bool whole = true;
    char uid[DB_UID_TEXT];

    settle_libical();
    icalcomponent *made = icalcomponent_new(event->task ? ICAL_VTODO_COMPONENT : ICAL_VEVENT_COMPONENT);
    if (!made)
        return DB_FULL;
    /* In this order for ever: the order is part of the bytes. */
    add(made, icalproperty_new_uid(db_uid_text(event->uid, uid)), &whole);
    add(made, icalproperty_new_dtstamp(ical_utc(event->modified)), &whole);
    add(made, icalproperty_new_created(ical_utc(event->created)), &whole);
    add(made, icalproperty_new_lastmodified(ical_utc(event->modified)), &whole);
    add(made, icalproperty_new_sequence(event->sequence < INT32_MAX ? (int) event->sequence : INT32_MAX), &whole);
    add_days(made, event, &whole);
    add(made, icalproperty_new_summary(event->summary), &whole);
    add(made, icalproperty_new_description(event->description), &whole);
    if (event->location && event->location[0])
        add(made, icalproperty_new_location(event->location), &whole);
    add_categories(made, event, &whole);
    add_state(made, event, &whole);
    if (event->alarm)
        add_alarm(made, event, &whole);
    return print(made, whole, 0, out);
}

enum db_status db_event_head(const struct db_site *site, const char *what, const char *about, const char *colour,
                             struct db_arena *arena, struct db_bytes *out)
{
    /* X- values are printed with their commas bare. */
    const char *garden = db_clean_word(site->name, arena), *zone = db_clean_word(site->zone, arena);
    bool whole = true;
    char name[512];

    if (!garden || !zone)
        return DB_FULL;
    (void) snprintf(name, sizeof name, "%s: %s", what, garden);
    const char *shown = db_clean_cut(name, 120, arena);
    settle_libical();
    icalcomponent *made = icalcomponent_new(ICAL_VCALENDAR_COMPONENT);
    if (!made || !shown)
        return DB_FULL;
    add(made, icalproperty_new_version("2.0"), &whole);
    add(made, icalproperty_new_prodid("-//dewbell//garden jobs//EN"), &whole);
    add(made, icalproperty_new_calscale("GREGORIAN"), &whole);
    add(made, icalproperty_new_name(shown), &whole);
    add_x(made, "X-WR-CALNAME", shown, &whole);
    add(made, icalproperty_new_description(about), &whole);
    add_x(made, "X-WR-CALDESC", about, &whole);
    add_x(made, "X-WR-TIMEZONE", zone, &whole);
    add(made, icalproperty_new_refreshinterval(icaldurationtype_from_int(6 * 3600)), &whole);
    add_x(made, "X-PUBLISHED-TTL", "PT6H", &whole);
    add(made, icalproperty_new_color(colour), &whole);
    return print(made, whole, strlen("END:VCALENDAR\r\n"), out);
}
