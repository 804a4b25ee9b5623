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

/* Carrots planned from that day on, each with a handful of jobs. */
static struct plot planned_from(struct db_date first, size_t sowings)
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
                                                   .planned = db_date_add(first, (int) (i % 30)),
                                                   .sown = DB_NO_DATE,
                                                   .anyway = true });
    }
    plot_close_diary(&plot);
    plot.view.rules = kit_compile(&plot, kit_rules, ROWS(kit_rules));
    return plot;
}

/* From the middle of June on: on the days on which they are looked at here none of their jobs is near. */
static struct plot planned(size_t sowings)
{
    return planned_from(on(2026, 6, 15), sowings);
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

/* The row of the first job of a sowing; false: there is none. */
static bool row_of(struct db_record *record, const struct db_jobs *jobs, const char *sowing, struct db_ledger_row *ret)
{
    struct db_ledger *ledger = NULL;
    const struct db_ledger_row *row = NULL;

    assert_int_equal(db_record_ledger(record, "jobs", &ledger), DB_OK);
    for (size_t i = 0; !row && i < db_jobs_count(jobs); i++) {
        const struct db_job *job = db_jobs_at(jobs, i);
        unsigned char identity[16];

        if (strcmp(db_garden_sowing(db_jobs_view(jobs)->garden, job->sowing)->id, sowing) != 0)
            continue;
        db_job_identity(jobs, job, identity);
        row = db_ledger_find(ledger, identity);
    }
    if (row)
        *ret = *row;
    (void) db_ledger_free(ledger);
    return row != NULL;
}

/* Gone for more than 400 days, an event's row goes; when the event comes back, its SEQUENCE is above the old one, as readers
 * take what is lower for older (RFC 5546, section 2.1.5). Notes are there for ever. */
static void what_is_gone_for_long_leaves_the_ledger_and_no_sequence_goes_back(void **state)
{
    const struct db_date day = on(2026, 6, 1);
    const struct db_note note = { .sowing = "carrot-2", .word = "sown", .date = day, .text = "" };
    struct db_record *record = open_record();
    struct plot three = planned(3), moved = planned_from(on(2026, 6, 16), 3), two = planned(2),
                again = planned_from(on(2027, 8, 15), 4);
    const struct db_jobs *jobs = kit_evaluate(&three, day);
    struct shown shown = { .length = 0 };
    struct db_ledger_row row, old;
    int64_t floor, number;

    (void) state;
    assert_int_equal(db_record_add_note(record, &note, now, &number), DB_OK);
    (void) publish(record, &three, day, false, &shown);
    (void) publish(record, &moved, day, false, &shown);
    assert_true(row_of(record, jobs, "carrot-2", &old));
    assert_int_equal(old.sequence, db_feed_first_sequence(now) + 1);
    assert_false(db_date_known(old.gone));

    (void) publish(record, &two, db_date_add(day, 1), false, &shown);
    assert_true(row_of(record, jobs, "carrot-2", &row));
    assert_int_equal(row.gone.day, day.day + 1);
    assert_true(row_of(record, jobs, "carrot-1", &row));
    assert_false(db_date_known(row.gone));
    (void) publish(record, &three, db_date_add(day, 2), false, &shown); /* back: neither gone nor new */
    assert_true(row_of(record, jobs, "carrot-2", &row));
    assert_false(db_date_known(row.gone));
    assert_int_equal(row.created, old.created);
    (void) publish(record, &two, db_date_add(day, 3), false, &shown);

    (void) publish(record, &two, db_date_add(day, 3 + 400), false, &shown);
    assert_true(row_of(record, jobs, "carrot-2", &old));
    shown.length = 0; /* what is shown was changed: it is built */
    (void) publish(record, &two, db_date_add(day, 3 + 401), false, &shown);
    assert_false(row_of(record, jobs, "carrot-2", &row));
    assert_true(row_of(record, jobs, "carrot-1", &row)); /* gone since the day before */
    assert_int_equal(row.gone.day, day.day + 3 + 400);

    (void) publish(record, &again, db_date_add(day, 3 + 402), false, &shown);
    assert_true(row_of(record, jobs, "carrot-2", &row));
    assert_true(row.sequence > old.sequence);
    assert_true(row_of(record, jobs, "carrot-1", &row));
    assert_false(db_date_known(row.gone));
    assert_int_equal(db_record_floor(record, "jobs", &floor), DB_OK);
    assert_true(floor > old.sequence);
    struct db_arena *arena = db_arena_new((size_t) 1 << 20);
    struct db_diary *diary = db_diary_new(arena);
    assert_int_equal(db_record_read_notes(record, arena, diary), DB_OK);
    assert_int_equal(db_diary_count(diary), 1);
    (void) db_arena_free(arena);
    (void) db_record_close(record);
    plot_free(&three);
    plot_free(&moved);
    plot_free(&two);
    plot_free(&again);
}

/* After a ledger was lost, what comes later was perhaps published before, too. */
static void after_a_lost_ledger_all_new_events_begin_high(void **state)
{
    struct db_record *record = open_record();
    struct plot two = planned(2), three = planned(3);
    const struct db_jobs *jobs = kit_evaluate(&three, on(2026, 6, 1));
    struct shown shown = { .length = 0 };
    struct db_ledger_row row;

    (void) state;
    (void) publish(record, &two, on(2026, 6, 1), false, &shown);
    (void) publish(record, &three, on(2026, 6, 2), false, &shown);
    assert_true(row_of(record, jobs, "carrot-2", &row));
    assert_int_equal(row.sequence, db_feed_first_sequence(now));
    (void) db_record_close(record);
    plot_free(&two);
    plot_free(&three);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(what_is_gone_for_long_leaves_the_ledger_and_no_sequence_goes_back,
                                        make_record_folder, remove_record_folder),
        cmocka_unit_test_setup_teardown(after_a_lost_ledger_all_new_events_begin_high, make_record_folder,
                                        remove_record_folder),
        cmocka_unit_test_setup_teardown(a_feed_is_known_again_while_nothing_changes, make_record_folder,
                                        remove_record_folder),
        cmocka_unit_test_setup_teardown(where_events_were_left_out_each_day_is_built, make_record_folder,
                                        remove_record_folder),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
