/* From one rule's words to what can be run: each key's own checks, and the checks between keys. */
#define DB_PURE
#include "rules/set.h"

#include "base/text.h"

#define XXH_INLINE_ALL
#include <xxhash.h>

#include <math.h>
#include <string.h>

#include "base/banned.h"

enum { JOB_MOST = 120, THEME_MOST = 30, TOOL_MOST = 40 };

static void mistake(struct db_mistakes *to, const struct db_words *words, const char *instead, const char *what)
{
    db_mistakes_add(to, db_words_place(words, 0, words->length), instead, "%s", what);
}

static bool is_lower(char c)
{
    return c >= 'a' && c <= 'z';
}

/* The words of the rule's heading: those of the gardener's own file if it has any. */
static const struct db_words *heading(const struct db_rule *rule)
{
    return &rule->section[rule->section[1].text ? 1 : 0];
}

/* The words of a key as it was written, for mistakes about the key and not its value. */
static const struct db_words *key_words(const struct db_rule *rule, enum db_key key)
{
    return &rule->given[rule->given[1][key].here ? 1 : 0][key].key;
}

/* -- single words -------------------------------------------------------------------------------------------------- */

static void settle_name(const struct db_rule *rule, struct db_mistakes *mistakes)
{
    const char *name = rule->name;
    bool right = is_lower(name[0]);

    for (const char *c = name; *c; c++)
        right = right && (is_lower(*c) || (*c >= '0' && *c <= '9') || (*c == '-' && c[1] != '\0' && c[1] != '-'));
    if (!right)
        mistake(mistakes, heading(rule), "write it as thin-the-row",
                "a rule's name is made of small letters, digits and single hyphens, a letter first");
}

/* One of the words between commas, from `from` on; NULL with a mistake when it is not a word. */
static const char *note_word(const struct db_words *words, size_t from, size_t to, struct db_arena *arena,
                             struct db_mistakes *mistakes, bool *ret_full)
{
    const char *stages[DB_STAGE_COUNT], *near = NULL;
    const char *word = db_arena_text(arena, words->text + from, to - from);
    char instead[80];
    struct db_text text = db_text_in(instead, sizeof instead);
    bool right;

    *ret_full = !word;
    if (!word)
        return NULL;
    right = is_lower(word[0]) && to - from <= DB_LIMIT_NAME;
    for (const char *c = word; *c; c++)
        right = right && (is_lower(*c) || *c == '_');
    if (right)
        return word;
    for (int i = 0; i < DB_STAGE_COUNT; i++)
        stages[i] = db_stage_word((enum db_stage) i);
    near = db_nearest(word, stages, DB_STAGE_COUNT);
    if (near)
        db_text_add_format(&text, "did you mean %s?", near);
    db_mistakes_add(mistakes, db_words_place(words, from, to > from ? to - from : 1),
                    near ? instead : "write it as thinned", "what a note is called is one word of small letters and _");
    return NULL;
}

/* `records = sown, shaded`: the word that marks the job done, and one that goes with it. False: the arena is full. */
static bool settle_records(struct db_rule *rule, struct db_arena *arena, struct db_mistakes *mistakes)
{
    const struct db_words *words = db_rule_words(rule, DB_KEY_RECORDS);
    const char *comma;
    size_t first, second;
    bool full = false;

    rule->records = rule->name;
    if (!words)
        return true;
    comma = memchr(words->text, ',', words->length);
    first = second = comma ? (size_t) (comma - words->text) : words->length;
    while (first > 0 && words->text[first - 1] == ' ')
        first--;

    const char *word = note_word(words, 0, first, arena, mistakes, &full);

    if (word)
        rule->records = word;
    if (!comma || full)
        return !full;
    second++;
    while (second < words->length && words->text[second] == ' ')
        second++;
    rule->also = note_word(words, second, words->length, arena, mistakes, &full);
    return !full;
}

static void settle_off(struct db_rule *rule, struct db_mistakes *mistakes)
{
    const struct db_words *words = db_rule_words(rule, DB_KEY_OFF);

    if (!words)
        return;
    if (db_text_same(words->text, "yes"))
        rule->off = true;
    else if (!db_text_same(words->text, "no"))
        mistake(mistakes, words, "write off = yes, or leave the line out", "off is yes or no");
}

static void settle_urgency(struct db_rule *rule, struct db_mistakes *mistakes)
{
    static const char *const names[] = { "cannot wait", "soon", "ordinary", "when there is time" };
    static const unsigned char priorities[] = { 1, 3, 5, 9 }; /* RFC 5545, 3.8.1.9 */
    const struct db_words *words = db_rule_words(rule, DB_KEY_URGENCY);
    char instead[120];
    struct db_text text = db_text_in(instead, sizeof instead);
    const char *near;

    rule->urgency = 5;
    if (!words)
        return;
    for (size_t i = 0; i < 4; i++)
        if (strcmp(words->text, names[i]) == 0) {
            rule->urgency = priorities[i];
            return;
        }
    near = db_nearest(words->text, names, 4);
    if (near)
        db_text_add_format(&text, "did you mean %s?", near);
    else
        db_text_add(&text, "write cannot wait, soon, ordinary or when there is time");
    db_mistakes_add(mistakes, db_words_place(words, 0, words->length), instead, "there is no urgency \"%s\"",
                    words->text);
}

static void settle_theme(struct db_rule *rule, struct db_mistakes *mistakes)
{
    const struct db_words *words = db_rule_words(rule, DB_KEY_KIND);
    unsigned spaces = 0;

    rule->theme = "";
    if (!words || words->length == 0)
        return;
    for (size_t i = 0; i < words->length; i++) {
        const char c = words->text[i];

        spaces += c == ' ';
        if (c == ' ' || c == '-' || is_lower(c) || (c >= 'A' && c <= 'Z') || (c & 0x80))
            continue;
        db_mistakes_add(mistakes, db_words_place(words, i, 1), "write it as Thin, or Plant out",
                        "kind is made of letters only");
        return;
    }
    if (spaces > 1 || words->length > THEME_MOST)
        mistake(mistakes, words, "write it as Thin, or Plant out", "kind is one word or two");
    rule->theme = words->text;
}

/* Ignoring case; `start` is in small letters. */
static bool begins_with(const char *words, const char *start)
{
    for (; *start; words++, start++)
        if (*words != *start && !(is_lower(*start) && *words == *start - 'a' + 'A'))
            return false;
    return true;
}

/* What follows an article that the words begin with; NULL: they begin with none. */
static const char *after_article(const char *words)
{
    static const char *const articles[] = { "a ", "an ", "the ", "some " };

    for (size_t i = 0; i < sizeof articles / sizeof articles[0]; i++)
        if (begins_with(words, articles[i]))
            return words + strlen(articles[i]);
    return NULL;
}

/* Jobs share a tool when they call it the same, so it is a name without trimmings. */
static void settle_tool(struct db_rule *rule, struct db_mistakes *mistakes)
{
    static const char *const way = "write it as fork, or net and hoops";
    const struct db_words *words = db_rule_words(rule, DB_KEY_TOOL);
    char instead[120];
    struct db_text text = db_text_in(instead, sizeof instead);

    rule->tool = "";
    if (!words || words->length == 0)
        return;
    for (size_t i = 0; i < words->length; i++) {
        const char c = words->text[i];

        if (c == '{' || c == '}') {
            db_mistakes_add(mistakes, db_words_place(words, i, 1), way,
                            "tool holds no values: it is the same thing for every sowing");
            return;
        }
        if (c == ' ' && words->text[i + 1] == ' ') {
            db_mistakes_add(mistakes, db_words_place(words, i, 2), way, "words are parted by one space");
            return;
        }
        if (c == ' ' || c == '-' || c == '\'' || is_lower(c) || (c >= 'A' && c <= 'Z') || (c & 0x80))
            continue;
        db_mistakes_add(mistakes, db_words_place(words, i, 1),
                        c == ',' || c == ';' || c == '&' || c == '+' ? "join the two with and, as in net and hoops"
                                                                     : way,
                        "tool is made of letters only");
        return;
    }
    if (after_article(words->text)) {
        db_text_add_format(&text, "write %.60s", after_article(words->text));
        mistake(mistakes, words, instead, "tool is the bare name of what is fetched");
    } else if (db_text_characters(words->text, words->length) > TOOL_MOST) {
        mistake(mistakes, words, way, "tool is one short phrase, at most 40 characters");
    }
    rule->tool = words->text;
}

/* -- keys that are needed, and that do not go together ------------------------------------------------------------- */

static void want_key(const struct db_rule *rule, const struct db_rules *rules, enum db_key key, const char *instead,
                     struct db_mistakes *mistakes)
{
    const struct db_words *words = db_rule_words(rule, key);
    const char *names[DB_LIMIT_RULES], *near = NULL;
    char text[120];
    struct db_text out = db_text_in(text, sizeof text);
    size_t count = 0;

    if (words && words->length > 0)
        return;
    if (words) {
        mistake(mistakes, key_words(rule, key), instead, "nothing is written after it");
        return;
    }
    if (!rule->section[0].text) { /* an override whose name was misspelt looks like a new rule that lacks everything */
        for (size_t i = 0; i < rules->all_count; i++)
            if (rules->all[i]->section[0].text)
                names[count++] = rules->all[i]->name;
        near = db_nearest(rule->name, names, count);
    }
    if (near && key == DB_KEY_JOB)
        db_text_add_format(&out, "did you mean [%s]? Else %s", near, instead);
    else
        db_text_add(&out, instead);
    db_mistakes_add(mistakes, db_words_place(heading(rule), 0, heading(rule)->length), text, "[%s] has no %s",
                    rule->name, db_key_word(key));
}

/* A key that would be read and then never asked. */
static void idle_key(const struct db_rule *rule, enum db_key key, const char *beside, struct db_mistakes *mistakes)
{
    const struct db_words *words = key_words(rule, key);
    const char *name = db_key_word(key);
    char instead[100];
    struct db_text text = db_text_in(instead, sizeof instead);

    db_text_add_format(&text, "leave it out, or write %s = none in your own file if it is a shipped one", name);
    db_mistakes_add(mistakes, db_words_place(words, 0, words->length), instead, "%s says nothing to a rule with %s",
                    name, beside);
}

static void settle_keys(struct db_rule *rule, const struct db_rules *rules, struct db_mistakes *mistakes)
{
    const bool every = db_rule_words(rule, DB_KEY_EVERY), spell = db_rule_words(rule, DB_KEY_WHILE);

    rule->shape = spell ? DB_SHAPE_WHILE : every ? DB_SHAPE_EVERY : DB_SHAPE_ONCE;
    want_key(rule, rules, DB_KEY_JOB, "write what to do, as in job = Thin {crops} in {bed}", mistakes);
    want_key(rule, rules, DB_KEY_KIND, "write one word for it, as in kind = Thin", mistakes);
    want_key(rule, rules, DB_KEY_DURING, "write its window, as in during = up + 10 days .. up + 24 days", mistakes);
    if (rule->section[0].text)
        want_key(rule, rules, DB_KEY_SOURCE, "write where it comes from, as in source = common practice", mistakes);
    for (int key = 0; key < DB_KEY_COUNT; key++) {
        const struct db_words *words = db_rule_words(rule, (enum db_key) key);

        if (words && words->length == 0 && key != DB_KEY_JOB && key != DB_KEY_KIND && key != DB_KEY_DURING &&
            key != DB_KEY_SOURCE)
            mistake(mistakes, key_words(rule, (enum db_key) key), "write a value, or leave the line out",
                    "nothing is written after it");
    }
    for (int key = DB_KEY_BEST; (every || spell) && key <= DB_KEY_HOLD; key++)
        if (db_rule_words(rule, (enum db_key) key) && (key != DB_KEY_BEST || spell))
            idle_key(rule, (enum db_key) key, spell ? "while" : "every", mistakes);
    if (db_rule_words(rule, DB_KEY_UNTIL) && !spell)
        mistake(mistakes, key_words(rule, DB_KEY_UNTIL), "write while for what begins the spell",
                "until ends a spell, and there is no while to begin one");
    if (db_rule_words(rule, DB_KEY_ROUND) && !db_rule_words(rule, DB_KEY_ITEM))
        mistake(mistakes, key_words(rule, DB_KEY_ROUND), "write what of it is this sowing's, as in item = {crops}",
                "a round needs item beside it");
    if (db_rule_words(rule, DB_KEY_ITEM) && !db_rule_words(rule, DB_KEY_ROUND))
        mistake(mistakes, key_words(rule, DB_KEY_ITEM), "write what it is part of, as in round = Water {where}",
                "item is part of a round, and there is none");
}

bool db_rule_settle(struct db_rule *rule, struct db_rules *rules, struct db_mistakes *mistakes)
{
    settle_name(rule, mistakes);
    settle_off(rule, mistakes);
    settle_urgency(rule, mistakes);
    settle_theme(rule, mistakes);
    settle_tool(rule, mistakes);
    settle_keys(rule, rules, mistakes);
    return settle_records(rule, rules->arena, mistakes);
}

/* -- expressions and texts ----------------------------------------------------------------------------------------- */

struct compiling {
    struct db_rule *rule;
    struct db_rules *rules;
    struct db_mistakes *mistakes;
    bool full;
};

static struct db_reading reading_of(const struct compiling *c, enum db_key key, const struct db_words *words)
{
    return (struct db_reading){ .arena = c->rules->arena,
                                .mistakes = c->mistakes,
                                .note_words = c->rules->note_words,
                                .words = words,
                                .to = words->length,
                                .key = db_key_word(key),
                                .has_day = key != DB_KEY_DURING && key != DB_KEY_BEST && key != DB_KEY_EVERY };
}

/* The words of a key that has any; their place outlives the compiling. */
static const struct db_words *written(const struct compiling *c, enum db_key key)
{
    const struct db_words *words = db_rule_words(c->rule, key);

    return words && words->length > 0 ? words : NULL;
}

static bool compile_value(struct compiling *c, enum db_key key, enum db_kind kind, struct db_expr *ret)
{
    const struct db_words *words = written(c, key);
    struct db_expr expr = { 0 };

    if (!words || c->full)
        return false;

    struct db_reading reading = reading_of(c, key, words);
    const bool right = db_expr_read(&reading, &expr) && db_expr_want(&reading, &expr, kind);

    c->full = c->full || reading.full;
    if (right)
        *ret = expr;
    return right;
}

static void compile_window(struct compiling *c)
{
    const struct db_words *words = written(c, DB_KEY_DURING);
    struct db_expr first = { 0 }, last = { 0 };

    if (!words || c->full)
        return;

    struct db_reading reading = reading_of(c, DB_KEY_DURING, words);
    bool right = db_expr_read_window(&reading, &first, &last);

    c->full = c->full || reading.full;
    if (!right)
        return;
    right = db_expr_want(&reading, &first, DB_KIND_DATE);
    right = db_expr_want(&reading, &last, DB_KIND_DATE) && right;
    if (!right)
        return;
    if (db_node_distance(first.nodes, first.root, last.nodes, last.root) < 0)
        mistake(c->mistakes, words, "swap the two dates", "the window ends before it begins");
    c->rule->first = first;
    c->rule->last = last;
}

static void compile_every(struct compiling *c)
{
    struct db_expr *every = &c->rule->every;

    if (compile_value(c, DB_KEY_EVERY, DB_KIND_TIME, every) && db_node_constant(every->nodes, every->root) < 1)
        mistake(c->mistakes, written(c, DB_KEY_EVERY), "write every = 1 day", "jobs come at most once a day");
}

static void compile_text(struct compiling *c, enum db_key key, struct db_wording *ret)
{
    const struct db_words *words = written(c, key);

    if (!words || c->full)
        return;

    struct db_reading reading = reading_of(c, key, words);

    reading.in_template = true;
    (void) db_template_read(&reading, ret);
    c->full = c->full || reading.full;
}

/* Whether a node of this expression reads what `wanted` reads. */
static bool reads(const struct db_expr *expr, const struct db_node *wanted)
{
    for (int i = 0; i < expr->count; i++)
        if (expr->nodes[i].op == wanted->op && expr->nodes[i].index == wanted->index)
            return true;
    return false;
}

/* A job's line with a hole in it is worse than no job: what may be unknown and stands before the first comma (a clause after
 * it is left out if need be), `for` must ask about. */
static void check_line(struct compiling *c, enum db_key key, enum db_template which)
{
    const struct db_wording *line = &c->rule->text[which];
    const struct db_words *words = written(c, key);

    if (!words)
        return;
    if (db_text_characters(words->text, words->length) > JOB_MOST)
        db_mistakes_add(c->mistakes, db_words_place(words, 0, words->length), "put the rest into how",
                        "%s is one short line, at most 120 characters", db_key_word(key));
    for (size_t i = 0; i < line->count; i++) {
        const struct db_expr *value = &line->parts[i].value;

        if (line->parts[i].text && memchr(line->parts[i].text, ',', line->parts[i].length))
            return;

        for (int k = 0; k < value->count; k++) {
            const struct db_node *n = &value->nodes[k];
            char instead[120];
            struct db_text text = db_text_in(instead, sizeof instead);
            const bool optional = n->op == DB_OP_ROW || n->op == DB_OP_PLUGS || n->op == DB_OP_PLANTS ||
                                  n->op == DB_OP_OWN || n->op == DB_OP_OWN_WORD ||
                                  (n->op == DB_OP_FACT && n->index != DB_FACT_FROST_LIMIT && n->kind != DB_KIND_TRUTH &&
                                   !db_fact_row((enum db_fact) n->index)->needed);

            if (!optional || reads(&c->rule->condition, n))
                continue;
            db_text_add_format(&text, "write %.*s is known in `for`", (int) n->width, words->text + n->from);
            db_mistakes_add(c->mistakes, db_words_place(words, n->from, n->width), instead, "\"%.*s\" may not be given",
                            (int) n->width, words->text + n->from);
        }
    }
}

/* Every key that counts, with its words: another source or another how is another rule. */
static void hash(struct db_rule *rule)
{
    XXH3_state_t state;
    XXH128_canonical_t canonical;

    XXH3_INITSTATE(&state);
    (void) XXH3_128bits_reset(&state);
    for (int key = 0; key < DB_KEY_COUNT; key++) {
        const struct db_words *words = db_rule_words(rule, (enum db_key) key);
        const char *word = db_key_word((enum db_key) key);

        if (!words)
            continue;
        (void) XXH3_128bits_update(&state, word, strlen(word) + 1);
        (void) XXH3_128bits_update(&state, words->text, words->length);
        (void) XXH3_128bits_update(&state, "", 1);
    }
    XXH128_canonicalFromHash(&canonical, XXH3_128bits_digest(&state));
    memcpy(rule->hash, canonical.digest, sizeof rule->hash);
}

bool db_rule_compile(struct db_rule *rule, struct db_rules *rules, struct db_mistakes *mistakes)
{
    struct compiling c = { rule, rules, mistakes, false };
    static const enum db_key clause_keys[] = {
        [DB_CLAUSE_PREFER] = DB_KEY_PREFER, [DB_CLAUSE_AVOID] = DB_KEY_AVOID, [DB_CLAUSE_HOLD] = DB_KEY_HOLD,
        [DB_CLAUSE_WHILE] = DB_KEY_WHILE,   [DB_CLAUSE_UNTIL] = DB_KEY_UNTIL,
    };

    const size_t before = db_mistakes_count(mistakes);

    (void) compile_value(&c, DB_KEY_FOR, DB_KIND_TRUTH, &rule->condition);
    compile_window(&c);
    (void) compile_value(&c, DB_KEY_BEST, DB_KIND_DATE, &rule->best);
    for (size_t i = 0; i <= DB_CLAUSE_UNTIL; i++)
        (void) compile_value(&c, clause_keys[i], DB_KIND_TRUTH, &rule->clause[i]);
    compile_every(&c);
    (void) compile_value(&c, DB_KEY_EFFORT, DB_KIND_TIME, &rule->effort);
    compile_text(&c, DB_KEY_JOB, &rule->text[DB_TEMPLATE_JOB]);
    compile_text(&c, DB_KEY_HOW, &rule->text[DB_TEMPLATE_HOW]);
    compile_text(&c, DB_KEY_CAUTION, &rule->text[DB_TEMPLATE_CAUTION]);
    compile_text(&c, DB_KEY_ROUND, &rule->text[DB_TEMPLATE_ROUND]);
    compile_text(&c, DB_KEY_ITEM, &rule->text[DB_TEMPLATE_ITEM]);
    if (db_mistakes_count(mistakes) == before) { /* else it might blame a `for` that could not be read */
        check_line(&c, DB_KEY_JOB, DB_TEMPLATE_JOB);
        check_line(&c, DB_KEY_ROUND, DB_TEMPLATE_ROUND);
        check_line(&c, DB_KEY_ITEM, DB_TEMPLATE_ITEM);
    }
    hash(rule);
    return !c.full;
}
