/* The yardstick: libical and nothing else. */
#include "bench.h"

#include <json-c/json.h>
#include <libical/ical.h>

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* A property's value as it would stand in any program's own memory. */
struct part {
    icalproperty_kind kind;
    char *text, *name; /* texts; name of an X- property */
    struct icaltimetype time;
    int number;
    struct icaltriggertype trigger;
};

struct event {
    struct part *parts, *alarm;
    size_t count, alarm_count;
    int has_alarm;
};

struct yardstick {
    struct event *events;
    size_t count;
    char *bytes;
    size_t length, room;
};

static void *need(void *got)
{
    if (!got) {
        (void) fprintf(stderr, "out of memory\n");
        exit(1);
    }
    return got;
}

static char *text_of(const icalproperty *property)
{
    const char *value = icalvalue_get_text(icalproperty_get_value(property));

    return need(strdup(value ? value : ""));
}

static struct part take_apart(icalproperty *property)
{
    struct part part = { .kind = icalproperty_isa(property) };
    const icalvalue *value = icalproperty_get_value(property);

    switch (icalvalue_isa(value)) {
    case ICAL_TEXT_VALUE:
        part.text = text_of(property);
        break;
    case ICAL_DATE_VALUE:
        part.time = icalvalue_get_date(value);
        break;
    case ICAL_DATETIME_VALUE:
    case ICAL_DATETIMEDATE_VALUE:
        part.time = icalvalue_get_datetime(value);
        break;
    case ICAL_INTEGER_VALUE:
        part.number = icalvalue_get_integer(value);
        break;
    case ICAL_URI_VALUE:
        part.text = need(strdup(icalvalue_get_uri(value)));
        break;
    case ICAL_CLASS_VALUE:
        part.number = (int) icalvalue_get_class(value);
        break;
    case ICAL_STATUS_VALUE:
        part.number = (int) icalvalue_get_status(value);
        break;
    case ICAL_TRANSP_VALUE:
        part.number = (int) icalvalue_get_transp(value);
        break;
    case ICAL_ACTION_VALUE:
        part.number = (int) icalvalue_get_action(value);
        break;
    case ICAL_TRIGGER_VALUE:
    case ICAL_DURATION_VALUE:
        part.trigger = icalproperty_get_trigger(property);
        break;
    default:
        if (part.kind != ICAL_X_PROPERTY) {
            (void) fprintf(stderr, "the yardstick does not know %s\n", icalproperty_get_property_name(property));
            exit(1);
        }
    }
    if (part.kind == ICAL_X_PROPERTY) {
        free(part.text);
        part.name = need(strdup(icalproperty_get_x_name(property)));
        part.text = need(strdup(icalproperty_get_x(property)));
    }
    return part;
}

static icalproperty *build(const struct part *part)
{
    icalproperty *made;

    switch (part->kind) {
    case ICAL_UID_PROPERTY:
        return icalproperty_new_uid(part->text);
    case ICAL_SUMMARY_PROPERTY:
        return icalproperty_new_summary(part->text);
    case ICAL_DESCRIPTION_PROPERTY:
        return icalproperty_new_description(part->text);
    case ICAL_LOCATION_PROPERTY:
        return icalproperty_new_location(part->text);
    case ICAL_CATEGORIES_PROPERTY:
        return icalproperty_new_categories(part->text);
    case ICAL_COMMENT_PROPERTY:
        return icalproperty_new_comment(part->text);
    case ICAL_CONTACT_PROPERTY:
        return icalproperty_new_contact(part->text);
    case ICAL_URL_PROPERTY:
        return icalproperty_new_url(part->text);
    case ICAL_COLOR_PROPERTY:
        return icalproperty_new_color(part->text);
    case ICAL_DTSTAMP_PROPERTY:
        return icalproperty_new_dtstamp(part->time);
    case ICAL_CREATED_PROPERTY:
        return icalproperty_new_created(part->time);
    case ICAL_LASTMODIFIED_PROPERTY:
        return icalproperty_new_lastmodified(part->time);
    case ICAL_DTSTART_PROPERTY:
        return icalproperty_new_dtstart(part->time);
    case ICAL_DTEND_PROPERTY:
        return icalproperty_new_dtend(part->time);
    case ICAL_SEQUENCE_PROPERTY:
        return icalproperty_new_sequence(part->number);
    case ICAL_PRIORITY_PROPERTY:
        return icalproperty_new_priority(part->number);
    case ICAL_STATUS_PROPERTY:
        return icalproperty_new_status((enum icalproperty_status) part->number);
    case ICAL_TRANSP_PROPERTY:
        return icalproperty_new_transp((enum icalproperty_transp) part->number);
    case ICAL_CLASS_PROPERTY:
        return icalproperty_new_class((enum icalproperty_class) part->number);
    case ICAL_ACTION_PROPERTY:
        return icalproperty_new_action((enum icalproperty_action) part->number);
    case ICAL_TRIGGER_PROPERTY:
        return icalproperty_new_trigger(part->trigger);
    case ICAL_X_PROPERTY:
        made = icalproperty_new_x(part->text);
        icalproperty_set_x_name(made, part->name);
        return made;
    default:
        (void) fprintf(stderr, "the yardstick cannot build %s\n", icalproperty_kind_to_string(part->kind));
        exit(1);
    }
}

/* libical parses one line of two categories into two properties. */
static void join(struct part *to, struct part *from)
{
    size_t size = strlen(to->text) + strlen(from->text) + 2;
    char *both = need(malloc(size));

    (void) snprintf(both, size, "%s,%s", to->text, from->text);
    free(to->text);
    free(from->text);
    to->text = both;
    from->text = NULL;
}

static struct part *parts_of(icalcomponent *component, size_t *ret_count)
{
    size_t count = (size_t) icalcomponent_count_properties(component, ICAL_ANY_PROPERTY), at = 0;
    struct part *parts = need(calloc(count ? count : 1, sizeof *parts));

    for (icalproperty *p = icalcomponent_get_first_property(component, ICAL_ANY_PROPERTY); p;
         p = icalcomponent_get_next_property(component, ICAL_ANY_PROPERTY)) {
        parts[at] = take_apart(p);
        if (at && parts[at].kind == ICAL_CATEGORIES_PROPERTY && parts[at - 1].kind == ICAL_CATEGORIES_PROPERTY)
            join(&parts[at - 1], &parts[at]);
        else
            at++;
    }
    *ret_count = at;
    return parts;
}

struct yardstick *yardstick_new(const char *feed)
{
    struct yardstick *y = need(calloc(1, sizeof *y));
    icalcomponent *calendar = icalparser_parse_string(feed);

    if (!calendar) {
        free(y);
        return NULL;
    }
    y->events =
        need(calloc((size_t) icalcomponent_count_components(calendar, ICAL_VEVENT_COMPONENT) + 1, sizeof *y->events));
    for (icalcompiter i = icalcomponent_begin_component(calendar, ICAL_VEVENT_COMPONENT); icalcompiter_deref(&i);
         (void) icalcompiter_next(&i)) {
        icalcomponent *component = icalcompiter_deref(&i), *alarm;
        struct event *event = &y->events[y->count++];
        event->parts = parts_of(component, &event->count);
        alarm = icalcomponent_get_first_component(component, ICAL_VALARM_COMPONENT);
        if (alarm) {
            event->has_alarm = 1;
            event->alarm = parts_of(alarm, &event->alarm_count);
        }
    }
    icalcomponent_free(calendar);
    return y;
}

static void free_parts(struct part *parts, size_t count)
{
    for (size_t i = 0; i < count; i++) {
        free(parts[i].text);
        free(parts[i].name);
    }
    free(parts);
}

void yardstick_free(struct yardstick *y)
{
    if (!y)
        return;
    for (size_t i = 0; i < y->count; i++) {
        free_parts(y->events[i].parts, y->events[i].count);
        free_parts(y->events[i].alarm, y->events[i].alarm_count);
    }
    free(y->events);
    free(y->bytes);
    free(y);
}

size_t yardstick_events(const struct yardstick *y)
{
    return y->count;
}

const char *yardstick_run(struct yardstick *y, size_t *ret_length)
{
    y->length = 0;
    for (size_t i = 0; i < y->count; i++) {
        const struct event *event = &y->events[i];
        icalcomponent *made = icalcomponent_new(ICAL_VEVENT_COMPONENT);
        for (size_t p = 0; p < event->count; p++)
            icalcomponent_add_property(made, build(&event->parts[p]));
        if (event->has_alarm) {
            icalcomponent *alarm = icalcomponent_new(ICAL_VALARM_COMPONENT);
            for (size_t p = 0; p < event->alarm_count; p++)
                icalcomponent_add_property(alarm, build(&event->alarm[p]));
            icalcomponent_add_component(made, alarm);
        }
        char *text = need(icalcomponent_as_ical_string_r(made));
        size_t length = strlen(text);
        if (y->length + length + 1 > y->room) {
            y->room = 2 * (y->length + length + 1);
            y->bytes = need(realloc(y->bytes, y->room));
        }
        memcpy(y->bytes + y->length, text, length + 1);
        y->length += length;
        icalmemory_free_buffer(text);
        icalcomponent_free(made);
    }
    *ret_length = y->length;
    return y->bytes;
}

int yardstick_dump(const struct yardstick *y, const char *path)
{
    struct json_object *all = json_object_new_array();
    char stamp[32];

    for (size_t i = 0; i < y->count; i++) {
        struct json_object *event = json_object_new_array();
        for (size_t p = 0; p < y->events[i].count; p++) {
            const struct part *part = &y->events[i].parts[p];
            struct json_object *pair = json_object_new_array();
            const char *name = part->name ? part->name : icalproperty_kind_to_string(part->kind);
            (void) json_object_array_add(pair, json_object_new_string(name));
            if (part->text) {
                (void) json_object_array_add(pair, json_object_new_string(part->text));
            } else if (part->time.year) {
                (void) snprintf(stamp, sizeof stamp, part->time.is_date ? "%04d%02d%02d" : "%04d%02d%02dT%02d%02d%02dZ",
                                part->time.year, part->time.month, part->time.day, part->time.hour, part->time.minute,
                                part->time.second);
                (void) json_object_array_add(pair, json_object_new_string(stamp));
            } else if (part->kind == ICAL_STATUS_PROPERTY) {
                (void) json_object_array_add(
                    pair, json_object_new_string(icalproperty_status_to_string((icalproperty_status) part->number)));
            } else if (part->kind == ICAL_TRANSP_PROPERTY) {
                (void) json_object_array_add(
                    pair, json_object_new_string(part->number == ICAL_TRANSP_OPAQUE ? "OPAQUE" : "TRANSPARENT"));
            } else {
                (void) json_object_array_add(pair, json_object_new_int(part->number));
            }
            (void) json_object_array_add(event, pair);
        }
        (void) json_object_array_add(all, event);
    }
    int bad = json_object_to_file_ext(path, all, JSON_C_TO_STRING_PLAIN);
    json_object_put(all);
    return bad ? -1 : 0;
}
