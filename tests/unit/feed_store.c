/* Feeds with their ledger in a record: known again, built again when the day or the file asks for it. */
#include "service/feed_store.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "kit/ledger.h"
#include "kit/record.h"

#include "base/banned.h"

#define ROWS(table) (sizeof(table) / sizeof(table)[0])

static const int64_t now = 1780000000; /* 28 May 2026 */

/* Carrots planned from the middle of June on, each with a handful of jobs, none of them near. */
static struct plot planned(size_t sowings)
{
    struct plot plot = plot_new(52, 0);
    struct db_crop_facts *carrot = db_arena_get(plot.arena, 1, sizeof *carrot);
    const struct db_bed *bed = plot_bed(&plot, "north", DB_COVER_OPEN);

    *carrot = kit_crop("carrot");
    plot_weather(&plot, on(2025, 5, 1), 1800);
    for (int i = 0; i < 1800; i++)
        plot_day(&plot, db_date_add(on(2025, 5, 1), i), 8, 18, 1);
    for (size_t i = 0; i < sowings; i++) {
        char *id = db_arena_get(plot.arena, 16, 1);
        (void) snprintf(id, 16, "carrot-%zu", i);
        (void) plot_sow(&plot, (struct db_sowing){ .id = id,
                                                   .crop = carrot,
                                                   .bed = bed,
                                                   .way = DB_WAY_DRILL,
                                                   .planned = db_date_add(on(2026, 6, 15), (int) (i % 30)),
                                                   .sown = DB_NO_DATE,
                                                   .anyway = true });
    }
    plot_close_diary(&plot);
    plot.view.rules = kit_compile(&plot, kit_rules, ROWS(kit_rules));
    return plot;
}

/* What a reader has, by hash and length. */
struct shown {
    unsigned char hash[16];
    size_t length;
};

static bool is_shown(const void *context, const unsigned char hash[16], size_t length)
{
    const struct shown *shown = context;

    return shown->length == length && memcmp(shown->hash, hash, 16) == 0;
}

/* What came of publishing. */
struct came {
    bool same;
    size_t events, left_out;
};

/* Publishes the jobs of a day; what came is what readers have from now on. */
static struct came publish(struct db_record *record, struct plot *plot, struct db_date day, bool unlimited,
                           struct shown *shown)
{
    const struct db_feed_order order = {
        .feed = DB_FEED_JOBS, .now = now, .unlimited = unlimited, .shown = is_shown, .context = shown
    };
    struct db_feed_result feed;
    const char *doing = "";

    assert_int_equal(db_feed_store(record, kit_evaluate(plot, day), &order, &feed, &doing), DB_OK);
    const struct came came = { feed.same, feed.copied + feed.fresh_count, feed.left_out };
    if (feed.same) {
        assert_null(feed.bytes.data);
    } else {
        db_bytes_hash(feed.bytes.data, feed.bytes.length, shown->hash);
        shown->length = feed.bytes.length;
    }
    db_feed_free(&feed);
    return came;
}

static void a_feed_is_known_again_while_nothing_changes(void **state)
{
    struct db_record *record = open_record();
    struct plot plot = planned(20), other = planned(21);
    struct shown shown = { .length = 0 };
    const struct db_date today = on(2026, 6, 1);

    (void) state;
    const struct came first = publish(record, &plot, today, false, &shown);
    assert_false(first.same);
    assert_int_equal(first.events, 20 * 5); /* a thinning and four looks: 7, 14, 21, 28 days after sowing */
    struct came came = publish(record, &plot, today, false, &shown);
    assert_true(came.same);
    assert_int_equal(came.events, first.events);
    came = publish(record, &plot, db_date_add(today, 5), false, &shown); /* none of its jobs is near */
    assert_true(came.same);
    record = db_record_close(record);
    record = open_record();
    assert_true(publish(record, &plot, today, false, &shown).same);

    const struct shown before = shown;
    assert_false(publish(record, &other, today, false, &shown).same);
    assert_true(publish(record, &other, today, false, &shown).same);
    struct shown restored = before; /* the plan and, from a backup, what was shown, but not the record */
    assert_false(publish(record, &plot, today, false, &restored).same);
    assert_true(restored.length == before.length && memcmp(restored.hash, before.hash, 16) == 0);
    (void) db_record_close(record);
    plot_free(&plot);
    plot_free(&other);
}

static void where_events_were_left_out_each_day_is_built(void **state)
{
    struct db_record *record = open_record();
    struct plot plot = planned(250);
    struct shown shown = { .length = 0 };
    const struct db_date today = on(2026, 6, 1);

    (void) state;
    struct came came = publish(record, &plot, today, false, &shown);
    assert_int_equal(came.events + came.left_out, 250 * 5);
    assert_true(came.left_out > 0);
    const size_t left_out = came.left_out;
    came = publish(record, &plot, today, false, &shown);
    assert_true(came.same);
    assert_int_equal(came.left_out, left_out);
    assert_false(publish(record, &plot, db_date_add(today, 1), false, &shown).same);
    assert_true(publish(record, &plot, db_date_add(today, 1), false, &shown).same);
    assert_false(publish(record, &plot, today, true, &shown).same); /* all of them this time */
    assert_true(publish(record, &plot, db_date_add(today, 1), true, &shown).same);
    (void) db_record_close(record);
    plot_free(&plot);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(a_feed_is_known_again_while_nothing_changes, make_record_folder,
                                        remove_record_folder),
        cmocka_unit_test_setup_teardown(where_events_were_left_out_each_day_is_built, make_record_folder,
                                        remove_record_folder),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
