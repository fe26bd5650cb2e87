/* Squared distance from the middle of each voxel to the nearest solid voxel, exact, in quarter voxel edges.
 *
 * One axis after the other: the least of (squared distance so far + square along this axis) over all
 * places of a row.  The search outwards from a place ends where the square alone is no better. */
#include "kernel.h"

static u32 most; /* what a place counts for that no solid voxel is near */

/* To the nearest face of a voxel k away: (2k - 1)^2; to its middle: (2k)^2.  What is farther than can be squared
 * counts as nowhere. */
static u32 square(u32 k, u32 to_middle) {
  if (k > 0x3fffu) return most;
  return to_middle ? 4u * k * k : k ? (2u * k - 1u) * (2u * k - 1u) : 0u;
}

static void along(u32 *data, u32 *line, u32 lines, u32 jump, u32 places, u32 stride, u32 width, u32 to_middle, u32 outside) {
  for (u32 l = 0; l < lines; l++) {
    u32 *at = data + l * jump;
    for (u32 p = 0; p < places; p++)
      for (u32 c = 0; c < width; c++) line[p * width + c] = at[p * stride + c];
    for (u32 p = 0; p < places; p++) {
      u32 *best = at + p * stride;
      for (u32 k = 1; k <= places; k++) {
        u32 f = square(k, to_middle), worst = 0;
        for (u32 c = 0; c < width; c++) worst = best[c] > worst ? best[c] : worst;
        if (f >= worst) break;
        if (p >= k) {
          const u32 *left = line + (p - k) * width;
          for (u32 c = 0; c < width; c++) best[c] = left[c] + f < best[c] ? left[c] + f : best[c];
        } else if (outside) {
          for (u32 c = 0; c < width; c++) best[c] = f < best[c] ? f : best[c];
        }
        if (p + k < places) {
          const u32 *right = line + (p + k) * width;
          for (u32 c = 0; c < width; c++) best[c] = right[c] + f < best[c] ? right[c] + f : best[c];
        } else if (outside) {
          for (u32 c = 0; c < width; c++) best[c] = f < best[c] ? f : best[c];
        }
      }
    }
  }
}

/* `data` (x, y, z) u32 holds 0 where solid and anything else where free; it is replaced by the squares, none
 * larger than `limit`: the smaller that is, the sooner the searches end.
 * `scratch` has room for max(x, y) * z numbers. */
EXPORT(clear_squares)
void clear_squares(u32 address, u32 scratch, u32 x, u32 y, u32 z, u32 to_middle, u32 outside, u32 limit) {
  most = limit;
  u32 *data = (u32 *)address, *line = (u32 *)scratch;
  for (u32 i = 0; i < x * y; i++) {
    u32 *row = data + i * z, gap = outside ? 0 : z + 1u;
    for (u32 p = 0; p < z; p++) {
      gap = row[p] ? gap + (gap <= z) : 0;
      u32 f = gap > z ? most : square(gap, to_middle);
      row[p] = f < most ? f : most;
    }
    gap = outside ? 0 : z + 1u;
    for (u32 p = z; p-- > 0;) {
      gap = row[p] ? gap + (gap <= z) : 0;
      u32 f = gap > z ? most : square(gap, to_middle);
      if (f < row[p]) row[p] = f;
    }
  }
  along(data, line, x, y * z, y, z, z, to_middle, outside);
  along(data, line, y, z, x, y * z, z, to_middle, outside);
}
