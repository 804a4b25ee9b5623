/* Rules: any bytes as a file of rules; what is accepted is run and explained for each sowing of a small garden. Promises
 * held: no crash, no endless run, every mistake has a place inside the file and words, texts are UTF-8 where the rules
 * were. */
#include "target.h"

#include "base/text.h"

#include "unit/small_garden.h"

#include "base/banned.h"

static void broken(const char *promise, const char *words)
{
    (void) fprintf(stderr, "broken: %s: %s\n", promise, words);
    abort();
}

static void check_mistakes(const struct small *s)
{
    const struct db_mistake *m;
    size_t at;

    for (size_t i = 0; (m = db_mistakes_at(s->mistakes, i)) != NULL; i++) {
        if (!*m->what)
            broken("a mistake says what is wrong", "");
        if (!db_text_utf8(m->what, strlen(m->what), &at) || !db_text_utf8(m->instead, strlen(m->instead), &at))
            broken("messages are UTF-8", m->what);
        if (m->at.line && m->at.column && m->at.text && m->at.column > strcspn(m->at.text, "\n") + 1)
            broken("a mistake stands in its line", m->what);
    }
}

static void check_text(const char *text)
{
    size_t at;

    if (text && !db_text_utf8(text, strlen(text), &at))
        broken("texts are UTF-8", text);
}

static void explain(struct small *s, size_t rule, struct db_date first, struct db_date best, struct db_date last)
{
    struct db_job job = { .rule = rule, .sowing = s->scope.sowing, .first = first, .best = best, .last = last };
    struct db_reason reasons[8];
    size_t count = 0;

    if (db_rule_explain(s->rules, rule, &s->scope, &job, s->arena, reasons, 8, &count) != DB_OK)
        return;
    for (size_t i = 0; i < count && i < 8; i++)
        check_text(reasons[i].text);
}

static void run_rule(struct small *s, size_t rule)
{
    struct db_date first, best, last;

    (void) db_rule_applies(s->rules, rule, &s->scope);
    (void) db_rule_minutes(s->rules, rule, &s->scope);
    if (db_rule_every(s->rules, rule, &s->scope) < 1)
        broken("a repeat takes a day at least", db_rule_name(s->rules, rule));
    for (int clause = DB_CLAUSE_PREFER; clause <= DB_CLAUSE_UNTIL; clause++)
        if (db_rule_has(s->rules, rule, (enum db_clause) clause))
            (void) db_rule_holds(s->rules, rule, (enum db_clause) clause, &s->scope);
    for (int which = DB_TEMPLATE_JOB; which < DB_TEMPLATE_COUNT; which++)
        check_text(db_rule_text(s->rules, rule, (enum db_template) which, &s->scope, s->arena));
    if (!db_rule_window(s->rules, rule, &s->scope, &first, &best, &last))
        return;
    if (first.day > best.day || best.day > last.day)
        broken("the best day is inside the window", db_rule_name(s->rules, rule));
    explain(s, rule, first, best, last);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    struct small *s = small_new();
    enum db_status status;

    if (small_give(s, "rules.ini", (const char *) data, size, 0)) {
        status = db_rules_compile(s->rules, s->mistakes);
        if ((status == DB_MISTAKEN) && db_mistakes_count(s->mistakes) == 0)
            broken("a refusal says why", "");
        check_mistakes(s);
        for (size_t sowing = 0; status == DB_OK && sowing < 3; sowing++) {
            small_stand(s, sowing);
            for (size_t rule = 0; rule < db_rules_count(s->rules) && rule < 50; rule++)
                run_rule(s, rule);
        }
    }
    small_free(s);
    return 0;
}
