/* notes: the diary as it stands, struck-out notes among them. */
#include "cli/cli.h"

#include <json.h>
#include <string.h>

#include "base/banned.h"

static int show_json(const struct db_session *s, const char *sowing)
{
    struct json_object *list = json_object_new_array();
    char iso[11];

    for (size_t i = 0; i < db_diary_count(s->diary); i++) {
        const struct db_note *note = db_diary_at(s->diary, i);
        if (sowing && strcmp(note->sowing, sowing) != 0)
            continue;
        struct json_object *row = json_object_new_object();
        json_object_object_add(row, "number", json_object_new_int64(note->number));
        json_object_object_add(row, "sowing", json_object_new_string(note->sowing));
        json_object_object_add(row, "word", json_object_new_string(note->word));
        json_object_object_add(row, "date", json_object_new_string(db_date_iso(note->date, iso)));
        json_object_object_add(row, "text", json_object_new_string(note->text));
        json_object_object_add(row, "struck", json_object_new_boolean(note->struck));
        json_object_array_add(list, row);
    }
    puts(json_object_to_json_string_ext(list, JSON_C_TO_STRING_PRETTY | JSON_C_TO_STRING_NOSLASHESCAPE));
    json_object_put(list);
    return DB_EXIT_FINE;
}

int db_cmd_notes(struct db_session *s, int count, char **words)
{
    const char *sowing = count ? words[0] : NULL;
    char day[48];
    size_t shown = 0;
    int status = db_session_read(s);

    if (status == DB_EXIT_FINE)
        status = db_session_record(s, false);
    if (status != DB_EXIT_FINE)
        return status;
    if (s->options.json)
        return show_json(s, sowing);
    for (size_t i = 0; i < db_diary_count(s->diary); i++) {
        const struct db_note *note = db_diary_at(s->diary, i);
        if (sowing && strcmp(note->sowing, sowing) != 0)
            continue;
        shown++;
        printf("%5lld  %s  %s %s%s", (long long) note->number, db_show_day(note->date, day), note->sowing, note->word,
               note->struck ? "  (struck out)" : "");
        if (*note->text)
            printf("  \"%s\"", note->text);
        if (db_garden_find_sowing(s->estate.garden, note->sowing) == SIZE_MAX)
            printf("  (not in the plan any more)");
        putchar('\n');
    }
    if (!shown && sowing)
        return db_session_sowing(s, sowing) == SIZE_MAX ? DB_EXIT_ABSENT : (puts("No notes of it yet."), DB_EXIT_FINE);
    if (!shown)
        puts("No notes yet. Write one: dewbell note SOWING WORD [DATE]");
    return DB_EXIT_FINE;
}
