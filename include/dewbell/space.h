/* Counting: plants in a bed or a row, seed for a drill, mix for a tray. Plain geometry and arithmetic; what is common
 * practice in it is an argument, so that the caller can say so. */
#ifndef DEWBELL_SPACE_H
#define DEWBELL_SPACE_H

#ifdef __cplusplus
extern "C" {
#endif

/* All lengths in mm, > 0. Each function answers 0 when one of them is not (NaN included), or when nothing fits. */

/* Plants `apart` in one row of `length`, the first and last half that far from its ends. */
double db_plants_in_row(double length, double apart);
/* Plants in straight rows along the bed's length, `apart` in rows `rows_apart`, half of each to the edges. */
double db_plants_in_rows(double width, double length, double apart, double rows_apart);
/* The same with rows along the one side or along the other, whichever holds more. */
double db_plants_in_bed(double width, double length, double apart, double rows_apart);
/* Plants each `apart` from all its neighbours, rows staggered (an equilateral triangle: rows are apart * sqrt(3)/2), half a
 * spacing to the edges; along the better side. In a large bed 2/sqrt(3) = 1.1547 times as many as in a square, in a
 * small one at times fewer. */
double db_plants_staggered(double width, double length, double apart);
/* Metres of row (mm) that lie in a bed in rows `rows_apart`, half of that to the edges; along the better side. */
double db_rows_in_bed(double width, double length, double rows_apart);

/* Seeds for a metre of drill that is to hold a plant every `apart` mm. emergence: share of seeds that come up in the field,
 * 0 < .. <= 1; oversowing: how many times the seedlings that are wanted, >= 1. 0 for arguments outside. */
double db_seeds_per_metre(double apart, double emergence, double oversowing);

/* Litres of mix for so many cells of `litres` each, with a tenth on top as it settles. */
double db_mix_for_cells(double cells, double litres);

#ifdef __cplusplus
}
#endif
#endif
