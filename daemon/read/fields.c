#include "read/fields.h"

#include "read/files.h"

#include <uuid.h>

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "base/banned.h"

enum { ROWS_MOST = 96 };

static bool read_key(struct db_span span, struct db_reader to)
{
    uuid_t parsed;
    const char *text = db_span_text(span, to.scratch);

    if (!text || db_span_length(span) != 36 || uuid_parse(text, parsed) != 0) {
        db_mistakes_add(to.mistakes, db_span_place(span), "run `dewbell key`, which prints a new one, and paste that",
                        "\"%.*s\" is not a UUID", (int) db_span_length(span), db_span_start(span));
        return false;
    }
    if (uuid_is_null(parsed)) {
        db_mistakes_add(to.mistakes, db_span_place(span), "run `dewbell key`, which prints a new one, and paste that",
                        "a UUID of zeros belongs to nobody");
        return false;
    }
    return true;
}

void db_field_read(const struct db_field *row, struct db_span span, struct db_reader to, struct db_value *ret)
{
    *ret =
        (struct db_value){ .given = true, .span = span, .low = (double) NAN, .high = (double) NAN, .date = DB_NO_DATE };
    switch (row->kind) {
    case DB_FIELD_TEXT:
    case DB_FIELD_NAME:
    case DB_FIELD_LIST:
        ret->good = true;
        break;
    case DB_FIELD_WORD:
        ret->good = db_value_word(span, row->words, row->what, to, &ret->word);
        break;
    case DB_FIELD_TRUTH:
        ret->good = db_value_truth(span, to, &ret->yes);
        break;
    case DB_FIELD_AMOUNT:
        ret->good = db_value_amount(span, &row->measure, to, &ret->low);
        ret->high = ret->low;
        break;
    case DB_FIELD_RANGE:
        ret->good = db_value_range(span, &row->measure, to, &ret->low, &ret->high);
        break;
    case DB_FIELD_SIZE:
        ret->good = db_value_size(span, &row->measure, to, &ret->low, &ret->high);
        break;
    case DB_FIELD_DATE:
        ret->good = db_value_date(span, to, &ret->date);
        break;
    case DB_FIELD_SEASON_DAY:
        ret->good = db_value_season_day(span, to, &ret->date);
        break;
    case DB_FIELD_KEY:
        ret->good = read_key(span, to);
        break;
    case DB_FIELD_ZONE:
        ret->good = db_zone_check(span, to);
        break;
    }
}

struct db_place db_value_place(const struct db_value *value, const struct db_ini_section *section)
{
    return value->given ? db_span_place(value->span) : section->at;
}

const char *db_field_hint(const struct db_field *row, struct db_reader to)
{
    return db_say(to.scratch, "add %s: %s", row->key, row->words ? db_words_list(to, row->words) : row->help);
}

/* Returns the row that was probably meant, `count` if none. */
static size_t refuse_unknown(const struct db_ini_section *section, const struct db_ini_key *key,
                             const struct db_field *rows, size_t count, struct db_reader to)
{
    const char *names[ROWS_MOST] = { 0 };
    const char *near;

    for (size_t i = 0; i < count && i < ROWS_MOST; i++)
        names[i] = rows[i].key;
    const char *meant = db_nearest(key->key.text, names, count < ROWS_MOST ? count : ROWS_MOST);
    if (meant) {
        near = db_say(to.scratch, "did you mean \"%s\"?", meant);
    } else {
        /* A short table fits into the message whole. */
        const char *all[17] = { 0 };

        for (size_t i = 0; i < count && count < sizeof all / sizeof all[0]; i++)
            all[i] = rows[i].key;
        near = all[0] ? db_say(to.scratch, "write %s", db_words_list(to, all)) : "take it out, or check the spelling";
    }
    db_mistakes_add(to.mistakes, db_words_place(&key->key, 0, key->key.length), near, "\"%s\" is not a key of [%s]",
                    key->key.text, section->title);
    size_t row = 0;
    while (row < count && rows[row].key != meant)
        row++;
    return row;
}

void db_fields_read(const struct db_ini_section *section, const struct db_field *rows, size_t count,
                    struct db_value *values, struct db_reader to)
{
    for (size_t r = 0; r < count; r++)
        values[r] = (struct db_value){ .low = (double) NAN, .high = (double) NAN, .date = DB_NO_DATE };
    for (size_t i = 0; i < section->key_count; i++) {
        const struct db_ini_key *key = &section->keys[i];
        size_t r = 0;

        while (r < count && strcmp(rows[r].key, key->key.text) != 0)
            r++;
        if (r < count) {
            db_field_read(&rows[r], db_span_all(&key->value), to, &values[r]);
            continue;
        }
        /* A misspelt key counts as given, so that one slip is not told twice. */
        r = refuse_unknown(section, key, rows, count, to);
        if (r < count && !values[r].given) {
            values[r].given = true;
            values[r].span = db_span_all(&key->value);
        }
    }
    /* With a line refused or misspelt, what is missing may stand there: say it when the rest is right. */
    if (section->cut)
        return;
    for (size_t r = 0; r < count; r++)
        if (rows[r].needed && !values[r].given)
            db_mistakes_add(to.mistakes, section->at, db_field_hint(&rows[r], to), "[%s] does not say %s",
                            section->title, rows[r].key);
}
