/* Counting plants, seed and mix, against hand-worked beds, a placement of every plant by its coordinates, and trade charts. */
#include "dewbell/space.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>

#include <cmocka.h>

#include "base/banned.h"

static void is_near(double got, double wanted, double within)
{
    if (!(fabs(got - wanted) <= within))
        fail_msg("%.12g, not %.12g", got, wanted);
}

/* Geometry, worked out by hand and by a script apart from this program. Two of them in words: 120 x 300 cm at 30 cm in a
 * square is 4 x 10 = 40. Staggered along the width, rows lie 25.98 cm apart: (300 - 30) / 25.98 = 10.4, so 11 rows, of which
 * 6 hold 120 / 30 = 4 and 5 hold (120 - 15) / 30 = 3: 39, one fewer than the square. Along the length 4 rows of 10, 9, 10,
 * 9: 38. At 45 cm across 75 x 300 there is one row of 6, or staggered along the length (75 - 45) / 38.97 = 0.8, one row of
 * 6; along the width (300 - 45) / 38.97 = 6.5, 7 rows of 1 and (75 - 22.5) / 45 = 1: 7. */
static void beds_hold_what_the_hand_counts(void **state)
{
    static const struct {
        double width, length, apart, square, staggered; /* cm */
    } beds[] = {
        { 120, 300, 15, 160, 176 }, { 120, 300, 20, 90, 94 }, { 120, 300, 30, 40, 39 },   { 120, 300, 45, 12, 14 },
        { 120, 300, 60, 10, 9 },    { 75, 300, 45, 6, 7 },    { 120, 240, 10, 288, 311 },
    };

    (void) state;
    for (size_t i = 0; i < sizeof beds / sizeof beds[0]; i++) {
        const double w = 10 * beds[i].width, l = 10 * beds[i].length, s = 10 * beds[i].apart;

        is_near(db_plants_in_bed(w, l, s, s), beds[i].square, 0);
        is_near(db_plants_in_bed(l, w, s, s), beds[i].square, 0);
        is_near(db_plants_staggered(w, l, s), beds[i].staggered, 0);
        is_near(db_plants_staggered(l, w, s), beds[i].staggered, 0);
    }
    is_near(db_plants_in_rows(1200, 3000, 50, 200), 360, 0); /* carrots: 6 rows of 60 */
    is_near(db_plants_in_rows(1200, 3000, 100, 250), 120,
            0); /* onions: 4 rows of 30 along the length, 20 cm left over */
    is_near(db_plants_in_rows(3000, 1200, 100, 250), 144, 0); /* 12 rows of 12 across it */
    is_near(db_plants_in_bed(1200, 3000, 100, 250), 144, 0);
    is_near(db_plants_in_row(3000, 450), 6, 0);
    is_near(db_plants_in_row(1.2 * 1000, 0.3 * 1000), 4, 0); /* 1.2 / 0.3 is a little under 4 in a computer */
    is_near(db_rows_in_bed(1200, 3000, 300), 12000, 0);      /* 4 rows of 3 m, or 10 of 1.2 m */
    is_near(db_rows_in_bed(750, 3000, 400), 5250, 0);        /* 1 row of 3 m; 7 of 75 cm */
}

/* 1 m2 over 30 cm squared, and 2 / sqrt(3) of that (the densest lattice: Lagrange 1773; from memory). */
static void large_beds_come_near_to_the_limit(void **state)
{
    const double side = 3000000, m2 = side * side / 1e6;

    (void) state;
    is_near(db_plants_in_bed(side, side, 300, 300) / m2, 11.111, .001);
    is_near(db_plants_staggered(side, side, 300) / m2, 12.830, .002);
    is_near(db_plants_staggered(side, side, 300) / db_plants_in_bed(side, side, 300, 300), 1.15470, .0002);
}

/* Every plant is set down, and the next goes where its distances to the edge, its row and the row before allow. */
static double set_down(double width, double length, double apart, double rows_apart, double shift)
{
    double count = 0;
    int row = 0;

    for (double y = shift > 0 ? apart / 2 : rows_apart / 2;
         y <= width - (shift > 0 ? apart / 2 : rows_apart / 2) + 1e-6; y += rows_apart, row++)
        for (double x = apart / 2 + (row % 2 ? shift : 0); x <= length - apart / 2 + 1e-6; x += apart)
            count++;
    return count;
}

static void counts_are_those_of_plants_set_down_one_by_one(void **state)
{
    uint64_t draw = 20260614;

    (void) state;
    for (int i = 0; i < 3000; i++) {
        double side[4];

        for (int k = 0; k < 4; k++) {
            draw = draw * UINT64_C(6364136223846793005) + UINT64_C(1442695040888963407);
            side[k] = (double) ((draw >> 33) % (k < 2 ? 600 : 90) + (k < 2 ? 20 : 3)) * 10;
        }
        const double w = side[0], l = side[1], a = side[2], r = side[3], tall = a * sqrt(3) / 2;

        is_near(db_plants_in_bed(w, l, a, r), fmax(set_down(w, l, a, r, 0), set_down(l, w, a, r, 0)), 0);
        is_near(db_plants_staggered(w, l, a), fmax(set_down(w, l, a, tall, a / 2), set_down(l, w, a, tall, a / 2)), 0);
    }
}

/* Trade charts give 25 000 carrot seeds to the ounce (28.3495 g). At 5 cm, 60 % coming up and twice as many as wanted that is
 * 66.7 seeds and .0756 g for a metre; the same charts sow .47 g, six times as much. */
static void seed_for_a_metre_of_drill(void **state)
{
    const double per_gram = 25000 / 28.349523125, seeds = db_seeds_per_metre(50, .60, 2);

    (void) state;
    is_near(per_gram, 881.8, .1);
    is_near(seeds, 66.67, .01);
    is_near(seeds / per_gram, .0756, .001);
    is_near(db_seeds_per_metre(200, 1, 1), 5, 1e-12); /* broad beans set 20 cm apart, none to spare */
}

/* Cells times their volume, and a tenth for settling. Trays as they are sold; volumes differ by maker. */
static void mix_for_a_tray(void **state)
{
    static const double trays[][3] = { { 24, 75, 1.98 },  { 40, 40, 1.76 },   { 60, 30, 1.98 },
                                       { 84, 20, 1.848 }, { 104, 15, 1.716 }, { 126, 12, 1.663 },
                                       { 150, 10, 1.65 }, { 200, 7, 1.54 },   { 288, 4, 1.267 } };

    (void) state;
    for (size_t i = 0; i < sizeof trays / sizeof trays[0]; i++)
        is_near(db_mix_for_cells(trays[i][0], trays[i][1] / 1000), trays[i][2], .001);
}

static void nonsense_holds_nothing(void **state)
{
    static const double odd[] = { 0, -5, (double) NAN, (double) -INFINITY };

    (void) state;
    for (size_t i = 0; i < sizeof odd / sizeof odd[0]; i++) {
        const double x = odd[i];

        is_near(db_plants_in_row(x, 50) + db_plants_in_row(3000, x), 0, 0);
        is_near(db_plants_in_bed(x, 3000, 50, 50) + db_plants_in_bed(1200, x, 50, 50), 0, 0);
        is_near(db_plants_in_bed(1200, 3000, x, 50) + db_plants_in_bed(1200, 3000, 50, x), 0, 0);
        is_near(db_plants_staggered(x, 3000, 50) + db_plants_staggered(1200, x, 50) +
                    db_plants_staggered(1200, 3000, x),
                0, 0);
        is_near(db_rows_in_bed(x, 3000, 50) + db_rows_in_bed(1200, x, 50) + db_rows_in_bed(1200, 3000, x), 0, 0);
        is_near(db_seeds_per_metre(x, .6, 2) + db_seeds_per_metre(50, x, 2) + db_seeds_per_metre(50, .6, x), 0, 0);
        is_near(db_mix_for_cells(x, .04) + db_mix_for_cells(40, x), 0, 0);
    }
    is_near(db_plants_in_row(INFINITY, 50) + db_plants_staggered(INFINITY, 3000, 50), 0, 0);
    is_near(db_plants_in_bed(200, 200, 300, 300) + db_plants_staggered(200, 200, 300), 0, 0); /* too small for one */
    is_near(db_plants_staggered(300, 300, 300), 1, 0);
    is_near(db_seeds_per_metre(50, 1.2, 1), 0, 0); /* more than all come up */
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(beds_hold_what_the_hand_counts),
        cmocka_unit_test(large_beds_come_near_to_the_limit),
        cmocka_unit_test(counts_are_those_of_plants_set_down_one_by_one),
        cmocka_unit_test(seed_for_a_metre_of_drill),
        cmocka_unit_test(mix_for_a_tray),
        cmocka_unit_test(nonsense_holds_nothing),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
