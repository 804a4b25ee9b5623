/* Rules for tests, written as a gardener would. Include after cmocka.h and kit/plot.h. */
#ifndef DB_TESTS_KIT_RULES_H
#define DB_TESTS_KIT_RULES_H

#include "kit/plot.h"

static inline void rule_key(struct plot *plot, struct db_rules *rules, const char *section, const char *key,
                            const char *value)
{
    struct db_words *words = db_arena_get(plot->arena, 3, sizeof *words);

    assert_non_null(words);
    words[0] = db_words_plain(section);
    words[1] = db_words_plain(key);
    words[2] = db_words_plain(value);
    assert_int_equal(db_rules_key(rules, &words[0], &words[1], &words[2], 1), DB_OK);
}

/* Reads sections and `key = value` lines, without the INI reader's care: these texts are ours. */
static inline void plot_rules(struct plot *plot, const char *text)
{
    struct db_rules *rules = db_rules_new(plot->arena);
    struct db_mistakes *mistakes = db_mistakes_new(plot->arena);
    const char *section = NULL;

    assert_non_null(rules);
    assert_non_null(mistakes);
    while (*text) {
        const size_t length = strcspn(text, "\n");
        char *line = db_arena_text(plot->arena, text, length);

        assert_non_null(line);
        text += length + (text[length] == '\n');
        if (*line == '[') {
            line[strcspn(line, "]")] = '\0';
            section = line + 1;
            rule_key(plot, rules, section, "kind", "Test");
        } else if (*line) {
            char *value = strstr(line, " = ");

            assert_non_null(value);
            *value = '\0';
            rule_key(plot, rules, section, line, value + 3);
        }
    }
    if (db_rules_compile(rules, mistakes) != DB_OK) {
        const struct db_mistake *mistake = db_mistakes_at(mistakes, 0);

        fail_msg("rules: %s; %s", mistake ? mistake->what : "?", mistake ? mistake->instead : "?");
    }
    plot->view.rules = rules;
}

#endif
