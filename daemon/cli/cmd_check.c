/* check: every mistake of the files, and what the garden amounts to if there is none. key: a fresh key. crop: its facts. */
#include "cli/cli.h"

#include "base/text.h"
#include "engine/frosts.h"

#include <json.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>
#include <uuid/uuid.h>

#include "base/banned.h"

static void show_overrides(const struct db_rules *rules)
{
    struct db_override o;

    for (size_t i = 0; db_rules_override(rules, i, &o); i++) {
        if (i == 0)
            printf("\nYour own rules change:\n");
        printf("  [%s] %s\n", o.rule, o.key);
        if (*o.shipped)
            printf("    shipped: %s\n", o.shipped);
        printf("    yours:   %s\n", o.own);
    }
}

static const char *counted(size_t count, const char *one, const char *many, char buffer[48])
{
    (void) snprintf(buffer, 48, "%zu %s", count, count == 1 ? one : many);
    return buffer;
}

/* The frosts that tender crops are reckoned by, and where they are known from. */
static void show_frosts(const struct db_session *s)
{
    static const char *const phrases[2][2] = { { "The last frost of spring is over by ", "" },
                                               { "The first frost of autumn is due from ", " on" } };
    const struct db_view view = { .garden = s->estate.garden, .weather = s->weather, .today = s->today };
    struct db_frost_odds odds;

    if (db_frost_odds_work(&view, &odds) != DB_OK)
        return;
    for (int which = 0; which < 2; which++) {
        const struct db_frost_source *from = &odds.source[which];
        /* The day by which nearly all years have had their last, or before which hardly one has its first. */
        const struct db_date date = db_frost_odds_date(&odds, (enum db_frost) which, s->today, which ? 0 : 2);
        char day[48];

        if (!db_date_known(date)) {
            printf("Of the %s frost nothing is known: write %s in [garden], or past_years in [weather].\n",
                   which ? "first" : "last", which ? "first_frost" : "last_frost");
            continue;
        }
        printf("%s%s%s", phrases[which][0], db_show_short(date, s->today, day), phrases[which][1]);
        if (from->planned)
            printf(", as the plan says.\n");
        else
            printf(" in %s (%zu on record).\n", from->seasons < DB_FROST_FEW ? "all years" : "nine years of ten",
                   from->seasons);
    }
}

int db_cmd_check(struct db_session *s, int count, char **words)
{
    char a[48], b[48], c[48], d[48];
    int status = db_session_read(s);

    (void) count;
    (void) words;
    if (status == DB_EXIT_FINE)
        status = db_session_record(s, false);
    if (status == DB_EXIT_FINE)
        status = db_session_weather(s);
    if (status != DB_EXIT_FINE)
        return status;
    if (db_mistakes_advice(s->mistakes))
        db_show_mistakes(stdout, s->mistakes);
    const struct db_garden *garden = s->estate.garden;
    printf("%s: %s, %s; %s and %s to draw on.\n", db_garden_site(garden)->name,
           counted(db_garden_beds(garden), "bed", "beds", a),
           counted(db_garden_sowings(garden), "sowing", "sowings", b),
           counted(db_crops_count(s->estate.crops), "crop", "crops", c),
           counted(db_rules_count(s->estate.rules), "rule", "rules", d));
    struct db_date known = db_weather_known(s->weather);
    if (db_date_known(known))
        printf("Weather observed or forecast up to %s; the climate's averages after that.\n", db_show_day(known, a));
    else
        printf("No weather observed or forecast: everything is worked out from the climate's averages.\n");
    show_frosts(s);
    show_overrides(s->estate.rules);
    printf("No mistakes.\n");
    return DB_EXIT_FINE;
}

int db_cmd_key(struct db_session *s, int count, char **words)
{
    uuid_t fresh;
    char text[37];

    (void) s;
    (void) count;
    (void) words;
    uuid_generate_random(fresh);
    uuid_unparse_lower(fresh, text);
    printf("key = %s\n", text);
    return DB_EXIT_FINE;
}

/* A fact as a gardener would say it, "" if the crop does not give it. */
static const char *fact_text(const struct db_session *s, const struct db_crop_facts *crop, enum db_fact fact,
                             char buffer[160])
{
    const struct db_fact_row *row = db_fact_row(fact);
    bool imperial = db_garden_site(s->estate.garden)->imperial;
    char low[72], high[72];

    if (row->kind == DB_KIND_WORD)
        return crop->text[fact] ? crop->text[fact] : "";
    if (isnan(crop->low[fact]))
        return "";
    if (row->kind == DB_KIND_TRUTH)
        return crop->low[fact] > 0 ? "yes" : "no";
    (void) db_amount_text((struct db_amount){ crop->low[fact], row->kind }, imperial, low, sizeof low);
    (void) db_amount_text((struct db_amount){ crop->high[fact], row->kind }, imperial, high, sizeof high);
    if (strcmp(low, high) == 0)
        (void) snprintf(buffer, 160, "%s", low);
    else
        (void) snprintf(buffer, 160, "%s to %s", low, high);
    return buffer;
}

static void emergence_text(const struct db_emergence *table, char buffer[512])
{
    struct db_text text = db_text_in(buffer, 512);

    for (size_t i = 0; i < table->count; i++) {
        db_text_add(&text, i ? ", " : "");
        db_text_add_number(&text, table->temperature[i], 1);
        db_text_add(&text, " °C: ");
        if (table->days[i] > 0) {
            db_text_add_number(&text, table->days[i], 1);
            db_text_add(&text, " days");
        } else {
            db_text_add(&text, "none");
        }
    }
}

static void show_fact(struct json_object *json, const char *key, const char *text, const char *source)
{
    if (!json) {
        printf("  %-16s %s", key, text);
        printf("  [%s]\n", source ? source : "common practice");
        return;
    }
    struct json_object *row = json_object_new_object();
    json_object_object_add(row, "value", json_object_new_string(text));
    json_object_object_add(row, "source", json_object_new_string(source ? source : "common practice"));
    json_object_object_add(json, key, row);
}

int db_cmd_crop(struct db_session *s, int count, char **words)
{
    char buffer[512];
    int status = db_session_read(s);

    if (status != DB_EXIT_FINE)
        return status;
    size_t crops = db_crops_count(s->estate.crops);
    if (count == 0) {
        for (size_t i = 0; i < crops; i++)
            puts(db_crops_at(s->estate.crops, i)->id);
        return DB_EXIT_FINE;
    }
    const struct db_crop_facts *crop = db_crops_find(s->estate.crops, words[0]);
    if (!crop) {
        const char **names = calloc(crops ? crops : 1, sizeof *names);
        for (size_t i = 0; names && i < crops; i++)
            names[i] = db_crops_at(s->estate.crops, i)->id;
        const char *near = names ? db_nearest(words[0], names, crops) : NULL;
        fprintf(stderr, "dewbell: there is no crop \"%s\"", words[0]);
        if (near)
            fprintf(stderr, "; did you mean \"%s\"?", near);
        fprintf(stderr, "\ndewbell crop lists them all.\n");
        free(names);
        return DB_EXIT_ABSENT;
    }
    struct json_object *json = s->options.json ? json_object_new_object() : NULL;
    struct db_text ways = db_text_in(buffer, sizeof buffer);
    for (int way = 0; way < DB_WAY_COUNT; way++)
        if (crop->ways >> way & 1U) {
            db_text_add(&ways, ways.length ? ", " : "");
            db_text_add(&ways, db_way_word((enum db_way) way));
        }
    if (!json)
        printf("[%s]\n", crop->id);
    show_fact(json, "raise", buffer, crop->ways_source);
    for (int fact = 0; fact < DB_FACT_COUNT; fact++) {
        const char *text = fact_text(s, crop, (enum db_fact) fact, buffer);
        if (*text)
            show_fact(json, db_fact_row((enum db_fact) fact)->key, text, crop->source[fact]);
    }
    if (crop->emergence.count) {
        emergence_text(&crop->emergence, buffer);
        show_fact(json, "emergence", buffer, crop->emergence_source);
    }
    if (json) {
        puts(json_object_to_json_string_ext(json, JSON_C_TO_STRING_PRETTY | JSON_C_TO_STRING_NOSLASHESCAPE));
        json_object_put(json);
    }
    return DB_EXIT_FINE;
}
