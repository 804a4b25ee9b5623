/* The diary against a plain walk over all its notes, and the rules of a note by hand. */
#include "dewbell/diary.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "base/banned.h"

static const struct db_site site = { .name = "Lark Bank" };
static const char *const ids[] = { "carrot-1", "kale-1", "kale-2", "beetroot-1" };
static const char *const words[] = { "up", "thinned", "planted" };

static struct db_garden *small_garden(struct db_arena *arena)
{
    struct db_garden *garden = db_garden_new(arena, &site);

    for (size_t i = 0; i < 4; i++)
        assert_int_equal(db_garden_add_sowing(garden, &(struct db_sowing){ .id = ids[i] }), DB_OK);
    return garden;
}

static void the_last_note_counts(void **state)
{
    static const struct db_note notes[] = {
        { 3, "kale-1", "up", { 120 }, "", false },
        { 1, "kale-1", "up", { 118 }, "", false },
        { 2, "kale-1", "up", { 130 }, "seen wrongly", true }, /* struck out */
        { 4, "kale-2", "up", { 140 }, "", false },            /* another sowing */
        { 5, "kale-1", "thinned", { 150 }, "", false },       /* another word */
        { 6, "leek-1", "up", { 160 }, "", false },            /* not in the garden any more */
    };
    struct db_arena *arena = db_arena_new(1 << 20);
    struct db_garden *garden = small_garden(arena);
    struct db_diary *diary = db_diary_new(arena);
    struct db_date dates[4] = { { 0 } };

    (void) state;
    for (size_t i = 0; i < 6; i++)
        assert_int_equal(db_diary_add(diary, &notes[i]), DB_OK);
    assert_int_equal(db_diary_close(diary, garden), DB_OK);
    assert_int_equal(db_diary_count(diary), 6);
    for (size_t i = 0; i < 6; i++)
        assert_int_equal(db_diary_at(diary, i)->number, (int64_t) i + 1);
    assert_null(db_diary_at(diary, 6));
    assert_int_equal(db_diary_last(diary, 1, "up").day, 120);
    assert_int_equal(db_diary_dates(diary, 1, "up", dates, 4), 2);
    assert_int_equal(dates[0].day, 118);
    assert_int_equal(dates[1].day, 120);
    assert_int_equal(db_diary_dates(diary, 1, "up", dates, 1), 2);
    assert_false(db_date_known(db_diary_last(diary, 0, "up")));
    assert_false(db_date_known(db_diary_last(NULL, 0, "up")));
    assert_int_equal(db_diary_dates(NULL, 0, "up", dates, 4), 0);
    (void) db_arena_free(arena);
}

static void a_thousand_notes_agree_with_a_plain_walk(void **state)
{
    const char *given = getenv("SEED");
    uint32_t seed = given ? (uint32_t) strtoul(given, NULL, 10) : 20131;
    struct db_arena *arena = db_arena_new(4 << 20);
    struct db_garden *garden = small_garden(arena);
    struct db_diary *diary = db_diary_new(arena);
    enum { COUNT = 1000 };
    static struct db_note notes[COUNT];

    (void) state;
    print_message("SEED=%u\n", (unsigned) seed);
    for (int i = 0; i < COUNT; i++) {
        seed = seed * 1664525u + 1013904223u;
        notes[i] = (struct db_note){ .number = (i * 389) % COUNT + 1,
                                     .sowing = ids[seed >> 8 & 3],
                                     .word = words[(seed >> 12) % 3],
                                     .date = { (int32_t) (seed >> 16 & 255) },
                                     .text = "",
                                     .struck = (seed >> 25 & 7) == 0 };
        assert_int_equal(db_diary_add(diary, &notes[i]), DB_OK);
    }
    assert_int_equal(db_diary_close(diary, garden), DB_OK);
    for (size_t s = 0; s < 4; s++)
        for (size_t w = 0; w < 3; w++) {
            static struct db_date dates[COUNT];
            const size_t found = db_diary_dates(diary, s, words[w], dates, COUNT);
            size_t count = 0;
            int32_t last = -1;

            for (size_t i = 0; i < COUNT; i++)
                if (!notes[i].struck && strcmp(notes[i].sowing, ids[s]) == 0 && strcmp(notes[i].word, words[w]) == 0) {
                    count++;
                    last = notes[i].date.day > last ? notes[i].date.day : last;
                }
            assert_int_equal(found, count);
            assert_int_equal(db_diary_last(diary, s, words[w]).day, last);
            for (size_t i = 1; i < found; i++)
                assert_true(dates[i - 1].day <= dates[i].day);
        }
    (void) db_arena_free(arena);
}

static void stages_have_words(void **state)
{
    (void) state;
    for (int stage = 0; stage < DB_STAGE_COUNT; stage++)
        assert_int_equal(db_stage_find(db_stage_word((enum db_stage) stage)), stage);
    assert_int_equal(db_stage_find("thinned"), -1);
    assert_string_equal(db_stage_word(DB_STAGE_PRICKED_OUT), "pricked_out");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_last_note_counts),
        cmocka_unit_test(a_thousand_notes_agree_with_a_plain_walk),
        cmocka_unit_test(stages_have_words),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
