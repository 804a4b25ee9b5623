/* Every block of rules in docs/rules.md loads, as a file of the gardener's own over the shipped rules. */
#include "small_garden.h"

#include "base/text.h"

#include <dirent.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#include "kit/files.h"

#include "base/banned.h"

static int ends_in_ini(const struct dirent *entry)
{
    return strstr(entry->d_name, ".ini") != NULL;
}

static struct small *with_shipped_rules(void)
{
    struct small *s = small_new();
    struct dirent **names;
    const int count = scandir("rules/jobs", &names, ends_in_ini, alphasort);

    assert_true(count > 0);
    for (int i = 0; i < count; i++) {
        char path[300];
        char *text;

        (void) snprintf(path, sizeof path, "rules/jobs/%s", names[i]->d_name);
        text = read_file(path, NULL);
        assert_non_null(text);
        assert_true(small_give(s, names[i]->d_name, text, strlen(text), 0));
        free(text);
        free(names[i]);
    }
    free(names);
    return s;
}

/* Loads one block; returns how many sections it has. */
static size_t load_block(const char *block, unsigned line)
{
    struct small *s = with_shipped_rules();
    size_t sections = 0;

    for (const char *at = block; (at = strstr(at, "\n[")) != NULL; at++)
        sections++;
    sections += block[0] == '[';
    if (!small_give(s, "docs/rules.md", block, strlen(block), 1) || db_rules_compile(s->rules, s->mistakes) != DB_OK ||
        db_mistakes_count(s->mistakes) > 0) {
        small_say(s);
        fail_msg("the block that begins in line %u of docs/rules.md is refused", line);
    }
    small_free(s);
    return sections;
}

static void every_block_loads(void **state)
{
    char *text = read_file("docs/rules.md", NULL), *block = calloc(1, FILE_MOST);
    size_t length = 0, blocks = 0, sections = 0;
    unsigned number = 0, first = 0;

    (void) state;
    if (!block)
        abort();
    for (char *line = text; line && *line;) {
        char *end = strchr(line, '\n');
        const size_t size = end ? (size_t) (end - line) + 1 : strlen(line);
        const bool inside = strncmp(line, "    ", 4) == 0 || (length > 0 && line[0] == '\n');

        number++;
        if (inside) {
            const size_t skip = line[0] == '\n' ? 0 : 4;

            first = length == 0 ? number : first;
            memcpy(block + length, line + skip, size - skip);
            length += size - skip;
            block[length] = '\0';
        }
        if (length > 0 && (!inside || !end || !end[1])) {
            sections += load_block(block, first);
            blocks++;
            length = 0;
        }
        line = end ? end + 1 : NULL;
    }
    assert_true(blocks >= 4 && sections >= 7);
    free(block);
    free(text);
}

/* The keys that the page's table of keys describes are those of the language, and so are the names. */
static void every_key_and_name_is_described(void **state)
{
    char *text = read_file("docs/rules.md", NULL);
    static const char *const keys[] = { "job",  "kind",    "for",    "during", "best",    "prefer", "avoid",
                                        "hold", "while",   "until",  "every",  "records", "effort", "urgency",
                                        "how",  "caution", "source", "off",    "tool" };
    const struct db_name_row *row;
    char name[64];

    (void) state;
    assert_non_null(text);
    for (size_t i = 0; i < sizeof keys / sizeof keys[0]; i++) {
        (void) snprintf(name, sizeof name, "`%s`", keys[i]);
        if (!strstr(text, name))
            fail_msg("docs/rules.md does not describe the key %s", keys[i]);
    }
    for (size_t i = 0; (row = db_name_at(i)) != NULL; i++) {
        (void) snprintf(name, sizeof name,
                        row->takes != DB_TAKES_NONE ? "`%s("
                        : row->in_template          ? "`{%s}`"
                                                    : "`%s`",
                        row->name);
        if (!strstr(text, name))
            fail_msg("docs/rules.md does not describe %s", row->name);
    }
    free(text);
}

/* Own rules share a tool with the shipped ones when they call it the same: the page lists what these call theirs. */
static void every_tool_is_listed(void **state)
{
    char *text = read_file("docs/rules.md", NULL), *from, *to;
    struct small *s = with_shipped_rules();
    char name[64];

    (void) state;
    assert_non_null(text);
    assert_int_equal(db_rules_compile(s->rules, s->mistakes), DB_OK);
    from = strstr(text, "The shipped rules fetch ");
    assert_non_null(from);
    to = strstr(from, "\n\n");
    assert_non_null(to);
    *to = '\0';
    for (size_t i = 0; i < db_rules_count(s->rules); i++) {
        const char *tool = db_rule_tool(s->rules, i);

        (void) snprintf(name, sizeof name, "`%s`", tool);
        if (*tool && !strstr(from, name))
            fail_msg("docs/rules.md does not list the tool of [%s], %s", db_rule_name(s->rules, i), tool);
    }
    for (char *at = from; (at = strchr(at, '`')); at++) { /* and nothing else */
        const size_t length = strcspn(++at, "`");
        bool used = false;

        for (size_t i = 0; i < db_rules_count(s->rules); i++)
            used = used || db_text_is(at, length, db_rule_tool(s->rules, i));
        if (!used)
            fail_msg("docs/rules.md lists %.*s, which no shipped rule fetches", (int) length, at);
        at += length;
    }
    small_free(s);
    free(text);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_block_loads),
        cmocka_unit_test(every_key_and_name_is_described),
        cmocka_unit_test(every_tool_is_listed),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
