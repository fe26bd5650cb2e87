/* The 26 neighbours of a voxel, numbered with the voxel itself as (x + 1) * 9 + (y + 1) * 3 + (z + 1), and the
 * steps that cut no corner. */
#ifndef FITPLAN_NEIGHBOURS_H
#define FITPLAN_NEIGHBOURS_H

#define CENTRE 13u

static i32 offset[27]; /* from a voxel to its neighbour, in an array with rows of these lengths */
static u32 kind[27];   /* axes that a step goes along: 1, 2 or 3 */
static u32 heirs[27];  /* steps that keep or drop parts of a step */

static void set_neighbours(u32 row_x, u32 row_y) {
  for (i32 d = 0; d < 27; d++) {
    i32 a = d / 9 - 1, b = d / 3 % 3 - 1, c = d % 3 - 1;
    offset[d] = a * (i32)row_x + b * (i32)row_y + c;
    kind[d] = (a != 0) + (b != 0) + (c != 0);
    heirs[d] = 0;
    for (i32 e = 0; e < 27; e++) {
      i32 p = e / 9 - 1, q = e / 3 % 3 - 1, r = e % 3 - 1;
      if (e != (i32)CENTRE && (p == 0 || p == a) && (q == 0 || q == b) && (r == 0 || r == c)) heirs[d] |= 1u << e;
    }
  }
}

/* Which of the 27 voxels around one, itself among them, are free (1, not 0), a bit a direction: rows of three along z. */
static u32 free_around(const u8 *free_voxel, u32 v) {
  u32 found = 0;
  for (u32 row = 0; row < 9; row++) {
    const u8 *at = free_voxel + (u32)((i32)v + offset[3u * row]);
    u16 two; /* not four bytes at once: the last voxel has none behind it */
    __builtin_memcpy(&two, at, 2);
    u32 three = two | (u32)at[2] << 16;
    found |= ((three | three >> 7 | three >> 14) & 7u) << 3u * row;
  }
  return found;
}

/* The steps that may be gone, of which are free around a free voxel: those whose box is, between the two voxels.  Axis
 * by axis a voxel keeps its bit where the one in the middle of its row has it, too. */
static u32 open_steps(u32 around) {
  u32 middle = around & 0x02492492u;
  around &= middle | middle << 1 | middle >> 1;
  middle = around & 0x00e07038u;
  around &= middle | middle << 3 | middle >> 3;
  middle = around & 0x0003fe00u;
  around &= middle | middle << 9 | middle >> 9;
  return around & ~(1u << CENTRE);
}

#endif
