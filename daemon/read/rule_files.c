#include "read/load.h"

#include "read/files.h"

#include <string.h>

#include "base/banned.h"

enum { SHIPPED, OWN };

/* Hands every key of a set of files over, in the order written. */
static enum db_status hand_over(struct db_load *load, const struct db_ini *set, int layer, struct db_rules *rules)
{
    enum db_status status = DB_OK;

    for (size_t i = 0; status == DB_OK && i < db_ini_count(set); i++) {
        const struct db_ini_section *section = db_ini_at(set, i);

        if (section->id) {
            db_mistakes_add(load->mistakes, section->at,
                            db_say(load->scratch, "write [%s-%s]", section->kind, section->id),
                            "a rule's name is one word");
            continue;
        }
        for (size_t k = 0; status == DB_OK && k < section->key_count; k++)
            status = db_rules_key(rules, &section->words, &section->keys[k].key, &section->keys[k].value, layer);
    }
    return status;
}

enum db_status db_rule_files_read(struct db_load *load, const char *shipped, const char *own, struct db_place own_at,
                                  const struct db_rules **ret)
{
    static const char *const kinds[] = { NULL };
    static const char *const keys[] = { "job",  "kind",    "for",    "during", "best",    "prefer", "avoid",
                                        "hold", "while",   "until",  "every",  "records", "effort", "urgency",
                                        "how",  "caution", "source", "off",    NULL };
    const struct db_ini_shape shape = { kinds, keys };
    const char *folder = db_say(load->arena, "%s/jobs", shipped);
    /* The rules keep the words for their texts and for what `check` shows: they stay. */
    struct db_ini *base = db_ini_new(load->arena, load->arena, load->mistakes, shape);
    struct db_ini *mine = db_ini_new(load->arena, load->arena, load->mistakes, shape);
    struct db_rules *rules = db_rules_new(load->arena);
    enum db_status status;

    if (!base || !mine || !rules || !*folder)
        return DB_FULL;
    status = db_load_ini(load, base, folder, (struct db_place){ .file = folder });
    if (status == DB_OK && own)
        status = db_load_ini(load, mine, own, own_at);
    if (status == DB_OK)
        status = hand_over(load, base, SHIPPED, rules);
    if (status == DB_OK)
        status = hand_over(load, mine, OWN, rules);
    if (status == DB_OK)
        status = db_rules_compile(rules, load->mistakes);
    if (status == DB_OK ||
        status == DB_MISTAKEN) /* the mistakes are in the list; the other files are read all the same */
        *ret = rules;
    return status == DB_MISTAKEN ? DB_OK : status;
}
