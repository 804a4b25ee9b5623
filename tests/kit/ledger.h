/* A ledger in memory, and a small garden whose jobs are known beforehand. Include after cmocka.h. */
#ifndef DB_TESTS_KIT_LEDGER_H
#define DB_TESTS_KIT_LEDGER_H

#include "kit/plot.h"
#include "write/write.h"

struct ledger {
    struct db_event_new *rows; /* bytes are copies of their own */
    size_t count;
};

static inline bool ledger_find(void *context, const unsigned char identity[16], struct db_event_past *ret)
{
    const struct ledger *ledger = context;

    for (size_t i = 0; i < ledger->count; i++) {
        const struct db_event_new *row = &ledger->rows[i];
        if (memcmp(row->identity, identity, 16) == 0) {
            *ret = (struct db_event_past){ .meaning = row->meaning,
                                           .sequence = row->sequence,
                                           .created = row->created,
                                           .modified = row->modified,
                                           .bytes = row->bytes,
                                           .length = row->length };
            return true;
        }
    }
    return false;
}

static inline void ledger_put(struct ledger *ledger, const struct db_feed_result *feed)
{
    for (size_t i = 0; i < feed->fresh_count; i++) {
        const struct db_event_new *fresh = &feed->fresh[i];
        struct db_event_new row = *fresh;
        char *copy = malloc(fresh->length);
        size_t at = 0;

        assert_non_null(copy);
        memcpy(copy, fresh->bytes, fresh->length);
        row.bytes = copy;
        while (at < ledger->count && memcmp(ledger->rows[at].identity, row.identity, 16) != 0)
            at++;
        if (at == ledger->count) {
            ledger->rows = realloc(ledger->rows, ++ledger->count * sizeof row);
            assert_non_null(ledger->rows);
        } else {
            free((void *) (uintptr_t) ledger->rows[at].bytes);
        }
        ledger->rows[at] = row;
    }
}

static inline void ledger_forget(struct ledger *ledger)
{
    for (size_t i = 0; i < ledger->count; i++)
        free((void *) (uintptr_t) ledger->rows[i].bytes);
    free(ledger->rows);
    *ledger = (struct ledger){ 0 };
}

/* Rules that need no model: every date counts from the day of sowing. */
static const char *const kit_rules[][3] = {
    { "thin-the-row", "job", "Thin {crops} in {bed}" },
    { "thin-the-row", "kind", "Thin" },
    { "thin-the-row", "during", "sown + 20 days .. sown + 40 days" },
    { "thin-the-row", "best", "sown + 25 days" },
    { "thin-the-row", "records", "thinned" },
    { "thin-the-row", "effort", "12 min" },
    { "thin-the-row", "tool", "hand fork" },
    { "thin-the-row", "how", "Water the row first if it is dry; leave the strongest, and take the rest away." },
    { "thin-the-row", "source", "invented for the test" },
    { "look", "job", "Look at {crops} in {bed}" },
    { "look", "kind", "Look" },
    { "look", "during", "sown + 7 days .. sown + 28 days" },
    { "look", "every", "7 days" },
    { "look", "records", "looked" },
    { "look", "how", "Lift a leaf and look under it." },
    { "look", "caution", "Wear gloves." },
    { "look", "source", "invented for the test" },
};

static inline struct db_rules *kit_compile(struct plot *plot, const char *const (*rows)[3], size_t count)
{
    struct db_rules *rules = db_rules_new(plot->arena);
    struct db_mistakes *mistakes = db_mistakes_new(plot->arena);

    assert_non_null(rules);
    assert_non_null(mistakes);
    for (size_t i = 0; i < count; i++) {
        struct db_words *words = db_arena_get(plot->arena, 3, sizeof *words); /* they must outlive the rules */
        for (size_t j = 0; j < 3; j++)
            words[j] = db_words_plain(rows[i][j]);
        assert_int_equal(db_rules_key(rules, &words[0], &words[1], &words[2], 0), DB_OK);
    }
    enum db_status status = db_rules_compile(rules, mistakes);
    if (status != DB_OK && db_mistakes_at(mistakes, 0))
        fail_msg("%s", db_mistakes_at(mistakes, 0)->what);
    assert_int_equal(status, DB_OK);
    return rules;
}

static inline const struct db_jobs *kit_evaluate(struct plot *plot, struct db_date today)
{
    const struct db_jobs *jobs = NULL;

    plot->view.today = today;
    assert_int_equal(db_garden_evaluate(&plot->view, plot->arena, &jobs), DB_OK);
    return jobs;
}

#endif
