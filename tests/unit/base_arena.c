#include "dewbell/arena.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "base/banned.h"

static void pieces_are_zeroed_aligned_and_apart(void **state)
{
    struct db_arena *arena = db_arena_new(SIZE_MAX);
    unsigned char *pieces[2000];

    (void) state;
    for (size_t i = 0; i < 2000; i++) {
        size_t size = i * 37 % 3000 + 1;
        pieces[i] = db_arena_get(arena, size, 1);
        assert_non_null(pieces[i]);
        assert_int_equal((uintptr_t) pieces[i] % _Alignof(max_align_t), 0);
        for (size_t b = 0; b < size; b++)
            assert_int_equal(pieces[i][b], 0);
        memset(pieces[i], (int) (i % 251) + 1, size);
    }
    for (size_t i = 0; i < 2000; i++)
        for (size_t b = 0; b < i * 37 % 3000 + 1; b++)
            assert_int_equal(pieces[i][b], i % 251 + 1);
    assert_null(db_arena_free(arena));
}

static void the_limit_holds_to_the_byte(void **state)
{
    struct db_arena *arena = db_arena_new(1000000);
    size_t taken = 0;

    (void) state;
    while (db_arena_get(arena, 1, 160))
        taken += 160;
    assert_int_equal(taken, 1000000);
    assert_int_equal(db_arena_taken(arena), 1000000);
    assert_null(db_arena_text(arena, "", 0));
    assert_non_null(db_arena_get(arena, 0, 8)); /* nothing costs nothing */
    assert_int_equal(db_arena_taken(arena), 1000000);
    arena = db_arena_free(arena);
    arena = db_arena_new(0);
    assert_null(db_arena_get(arena, 1, 1));
    assert_non_null(db_arena_get(arena, 1, 0));
    db_arena_free(arena);
}

static void a_product_that_overflows_is_refused(void **state)
{
    struct db_arena *arena = db_arena_new(SIZE_MAX / 4);

    (void) state;
    assert_null(db_arena_get(arena, SIZE_MAX / 8 + 1, 16));
    assert_null(db_arena_get(arena, SIZE_MAX, SIZE_MAX));
    assert_null(db_arena_get(arena, SIZE_MAX, 1));
    assert_null(db_arena_get(arena, SIZE_MAX - 64, 1));
    assert_null(db_arena_text(arena, "x", SIZE_MAX));
    assert_non_null(db_arena_get(arena, 1, 8)); /* and the arena still works */
    db_arena_free(arena);
}

static void texts_are_copied(void **state)
{
    struct db_arena *arena = db_arena_new(4096);
    char word[] = "carrots";
    char *copy = db_arena_text(arena, word, 6);

    (void) state;
    word[0] = 'p';
    assert_string_equal(copy, "carrot");
    assert_string_equal(db_arena_text(arena, NULL, 0), "");
    db_arena_free(arena);
    assert_null(db_arena_free(NULL));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(pieces_are_zeroed_aligned_and_apart),
        cmocka_unit_test(the_limit_holds_to_the_byte),
        cmocka_unit_test(a_product_that_overflows_is_refused),
        cmocka_unit_test(texts_are_copied),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
