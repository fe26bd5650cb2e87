/* The 26 neighbours of a voxel, numbered with the voxel itself as (x + 1) * 9 + (y + 1) * 3 + (z + 1), and the
 * steps that cut no corner. */
#ifndef FITPLAN_NEIGHBOURS_H
#define FITPLAN_NEIGHBOURS_H

#define CENTRE 13u

static i32 offset[27]; /* from a voxel to its neighbour, in an array with rows of these lengths */
static u32 kind[27];   /* axes that a step goes along: 1, 2 or 3 */
static u32 needs[27];  /* neighbours, with the voxel itself, that must be free for a step to cut no corner */
static u32 heirs[27];  /* steps that keep or drop parts of a step */

static void set_neighbours(u32 row_x, u32 row_y) {
  for (i32 d = 0; d < 27; d++) {
    i32 a = d / 9 - 1, b = d / 3 % 3 - 1, c = d % 3 - 1;
    offset[d] = a * (i32)row_x + b * (i32)row_y + c;
    kind[d] = (a != 0) + (b != 0) + (c != 0);
    needs[d] = heirs[d] = 0;
    for (i32 e = 0; e < 27; e++) {
      i32 p = e / 9 - 1, q = e / 3 % 3 - 1, r = e % 3 - 1;
      if ((p == 0 || p == a) && (q == 0 || q == b) && (r == 0 || r == c)) {
        needs[d] |= 1u << e;
        if (e != (i32)CENTRE) heirs[d] |= 1u << e;
      }
    }
  }
}

/* The steps that may be gone, of which neighbours are free. */
static u32 open_steps(u32 around) {
  u32 may = 0;
  for (u32 d = 0; d < 27; d++)
    if (d != CENTRE && (around & needs[d]) == needs[d]) may |= 1u << d;
  return may;
}

#endif
