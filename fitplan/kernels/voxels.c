/* Blocks of voxels: connected spaces, box sums, covers by boxes, the largest empty box, necks.
 *
 * A block has (nx, ny, nz) cells in C order, one byte each. Where cells are not cubes their edges are given
 * as face coordinates along each axis (f64, one more than there are cells). */
#include "kernel.h"

#define AT(x, y, z) (((x) * ny + (y)) * nz + (z))
#define SUM(x, y, z) (((x) * (ny + 1u) + (y)) * (nz + 1u) + (z))

/* Number the connected cells that are set, from 1, faces only; `barriers` (or 0) has a bit for each closed
 * lower face of a cell (1: x, 2: y, 4: z). `stack` has room for all cells. Returns how many there are. */
EXPORT(label) u32 label(u32 cells, u32 barriers, u32 names, u32 stack_at, u32 nx, u32 ny, u32 nz) {
  const u8 *set = (const u8 *)cells, *bar = (const u8 *)barriers;
  u32 *name = (u32 *)names, *stack = (u32 *)stack_at, found = 0, rx = ny * nz, total = nx * ny * nz;
  for (u32 v = 0; v < total; v++) {
    if (!set[v] || name[v]) continue;
    u32 top = 0;
    name[v] = ++found;
    stack[top++] = v;
    while (top) {
      u32 at = stack[--top], x = at / rx, y = at / nz % ny, z = at % nz, own = barriers ? bar[at] : 0, w;
#define TRY(inside, next, closed) \
  if (inside) { w = next; if (set[w] && !name[w] && !(closed)) { name[w] = found; stack[top++] = w; } }
      TRY(x, at - rx, own & 1u)
      TRY(y, at - nz, own & 2u)
      TRY(z, at - 1u, own & 4u)
      TRY(x + 1u < nx, at + rx, barriers && (bar[w] & 1u))
      TRY(y + 1u < ny, at + nz, barriers && (bar[w] & 2u))
      TRY(z + 1u < nz, at + 1u, barriers && (bar[w] & 4u))
#undef TRY
    }
  }
  return found;
}

/* Fill (nx+1, ny+1, nz+1) u32 with the number of set cells below each corner. */
EXPORT(box_sums) void box_sums(u32 cells, u32 out, u32 nx, u32 ny, u32 nz) {
  const u8 *set = (const u8 *)cells;
  u32 *sum = (u32 *)out;
  for (u32 x = 0; x <= nx; x++)
    for (u32 y = 0; y <= ny; y++) {
      u32 row = 0;
      for (u32 z = 0; z <= nz; z++) {
        if (!x || !y || !z) { sum[SUM(x, y, z)] = 0; continue; }
        row += set[AT(x - 1u, y - 1u, z - 1u)] != 0;
        sum[SUM(x, y, z)] = row + sum[SUM(x - 1u, y, z)] + sum[SUM(x, y - 1u, z)] - sum[SUM(x - 1u, y - 1u, z)];
      }
    }
}

static u32 inside(const u32 *sum, u32 ny, u32 nz, const u32 *a, const u32 *b) {
  return sum[SUM(b[0], b[1], b[2])] - sum[SUM(a[0], b[1], b[2])] - sum[SUM(b[0], a[1], b[2])] -
         sum[SUM(b[0], b[1], a[2])] + sum[SUM(a[0], a[1], b[2])] + sum[SUM(a[0], b[1], a[2])] +
         sum[SUM(b[0], a[1], a[2])] - sum[SUM(a[0], a[1], a[2])];
}

static const u8 ORDERS[6][3] = {{0, 1, 2}, {0, 2, 1}, {1, 0, 2}, {1, 2, 0}, {2, 0, 1}, {2, 1, 0}};

/* Cover the cells with `must` (1) set by boxes that keep within cells with any bit set (2: may). Greedy: from
 * the first bare cell the box grows as far as it goes, axis by axis in each of the six orders, and the box
 * that covers the most bare volume is taken. `sums` is scratch for the box sums. Writes six u32 a box,
 * lower and upper corner; returns their number, or `room` + 1 when there are more than `room`. */
EXPORT(cover) u32 cover(u32 cells, u32 sums, u32 edges_x, u32 edges_y, u32 edges_z, u32 out, u32 room, u32 nx, u32 ny, u32 nz) {
  u8 *cell = (u8 *)cells;
  u32 *sum = (u32 *)sums, *box = (u32 *)out, found = 0, n[3] = {nx, ny, nz};
  const f64 *edge[3] = {(const f64 *)edges_x, (const f64 *)edges_y, (const f64 *)edges_z};
  box_sums(cells, sums, nx, ny, nz);
  for (u32 x = 0; x < nx; x++)
    for (u32 y = 0; y < ny; y++)
      for (u32 z = 0; z < nz; z++) {
        if (!(cell[AT(x, y, z)] & 1u)) continue;
        if (found == room) return room + 1u;
        u32 best[6] = {0};
        f64 most = -1;
        for (u32 o = 0; o < 6; o++) {
          u32 a[3] = {x, y, z}, b[3] = {x + 1u, y + 1u, z + 1u};
          for (u32 i = 0; i < 3; i++) {
            u32 k = ORDERS[o][i];
            u32 area = 1;
            for (u32 j = 0; j < 3; j++) if (j != k) area *= b[j] - a[j];
            for (;;) {
              if (b[k] == n[k]) break;
              u32 keep = a[k];
              a[k] = b[k]; b[k]++;
              u32 full = inside(sum, ny, nz, a, b) == area;
              a[k] = keep;
              if (!full) { b[k]--; break; }
            }
            for (;;) {
              if (!a[k]) break;
              u32 keep = b[k];
              b[k] = a[k]; a[k]--;
              u32 full = inside(sum, ny, nz, a, b) == area;
              b[k] = keep;
              if (!full) { a[k]++; break; }
            }
          }
          f64 gain = 0;
          for (u32 p = a[0]; p < b[0]; p++)
            for (u32 q = a[1]; q < b[1]; q++) {
              const u8 *row = cell + AT(p, q, 0);
              f64 length = 0;
              for (u32 r = a[2]; r < b[2]; r++) if (row[r] & 1u) length += edge[2][r + 1] - edge[2][r];
              gain += length * (edge[0][p + 1] - edge[0][p]) * (edge[1][q + 1] - edge[1][q]);
            }
          if (gain > most) {
            most = gain;
            for (u32 j = 0; j < 3; j++) { best[j] = a[j]; best[3 + j] = b[j]; }
          }
        }
        for (u32 p = best[0]; p < best[3]; p++)
          for (u32 q = best[1]; q < best[4]; q++)
            for (u32 r = best[2]; r < best[5]; r++) cell[AT(p, q, r)] = 2;
        for (u32 j = 0; j < 6; j++) box[found * 6u + j] = best[j];
        found++;
      }
  return found;
}

/* Find the box of set cells with the greatest volume. For each pair of levels along the first axis the cells
 * set in all levels between are kept as a plane, and the plane's largest rectangle is found by a stack of
 * rising heights. `plane` has room for ny * nz bytes, `rows` for 3 * (nz + 1) u32 (heights, stack). Writes six
 * u32; returns the volume. */
EXPORT(largest_box) f64 largest_box(u32 cells, u32 plane_at, u32 rows_at, u32 edges_x, u32 edges_y, u32 edges_z, u32 out, u32 nx, u32 ny, u32 nz) {
  const u8 *cell = (const u8 *)cells;
  u8 *plane = (u8 *)plane_at;
  u32 *since = (u32 *)rows_at, *stack = since + nz + 1u, *left = stack + nz + 1u, *box = (u32 *)out;
  const f64 *ex = (const f64 *)edges_x, *ey = (const f64 *)edges_y, *ez = (const f64 *)edges_z;
  f64 best = 0;
  for (u32 j = 0; j < 6; j++) box[j] = 0;
  for (u32 a = 0; a < nx; a++) {
    __builtin_memset(plane, 1, ny * nz);
    for (u32 b = a; b < nx; b++) {
      f64 area = 0;
      for (u32 y = 0; y < ny; y++) {
        f64 row = 0;
        for (u32 z = 0; z < nz; z++) {
          u8 kept = plane[y * nz + z] && cell[AT(b, y, z)];
          plane[y * nz + z] = kept;
          if (kept) row += ez[z + 1] - ez[z];
        }
        area += row * (ey[y + 1] - ey[y]);
      }
      f64 thick = ex[b + 1] - ex[a];
      if (area <= 0) break;
      if (area * (ex[nx] - ex[a]) <= best) break;
      if (area * thick <= best) continue;
      for (u32 z = 0; z < nz; z++) since[z] = 0;
      for (u32 y = 0; y < ny; y++) {
        u32 top = 0;
        for (u32 z = 0; z <= nz; z++) {
          /* since[z]: first row of the unbroken run that ends at y, kept as y + 1 - rows */
          u32 from = y + 1u;
          if (z < nz) {
            if (!plane[y * nz + z]) since[z] = y + 1u;
            from = since[z];
          }
          u32 start = z;
          while (top && stack[top - 1u] <= from) {
            top--;
            start = left[top];
            if (stack[top] > y) continue;
            f64 volume = thick * (ey[y + 1] - ey[stack[top]]) * (ez[z] - ez[start]);
            if (volume > best * (1 + 1e-12)) {
              best = volume;
              box[0] = a; box[1] = stack[top]; box[2] = start;
              box[3] = b + 1u; box[4] = y + 1u; box[5] = z;
            }
            if (stack[top] == from) break;
          }
          stack[top] = from;
          left[top++] = start;
        }
      }
    }
  }
  return best;
}

/* Whether a box of size (a, b, c) fits between set cells: its lower corner on one of the faces along each axis
 * (a box that fits can be pushed to the lower side until it meets one). Writes the first such corner's
 * three cell numbers; returns 1 or 0. */
EXPORT(fits) u32 fits(u32 sums, u32 edges_x, u32 edges_y, u32 edges_z, f64 a, f64 b, f64 c, u32 out, u32 nx, u32 ny, u32 nz) {
  const u32 *sum = (const u32 *)sums;
  const f64 *edge[3] = {(const f64 *)edges_x, (const f64 *)edges_y, (const f64 *)edges_z};
  f64 size[3] = {a, b, c}, slack = 1e-9;
  u32 n[3] = {nx, ny, nz}, lo[3], hi[3] = {0, 0, 0}, *at = (u32 *)out;
  for (lo[0] = 0; lo[0] < n[0]; lo[0]++) {
    while (hi[0] < n[0] && edge[0][hi[0]] < edge[0][lo[0]] + size[0] - slack) hi[0]++;
    if (edge[0][hi[0]] < edge[0][lo[0]] + size[0] - slack) break;
    hi[1] = 0;
    for (lo[1] = 0; lo[1] < n[1]; lo[1]++) {
      while (hi[1] < n[1] && edge[1][hi[1]] < edge[1][lo[1]] + size[1] - slack) hi[1]++;
      if (edge[1][hi[1]] < edge[1][lo[1]] + size[1] - slack) break;
      hi[2] = 0;
      for (lo[2] = 0; lo[2] < n[2]; lo[2]++) {
        while (hi[2] < n[2] && edge[2][hi[2]] < edge[2][lo[2]] + size[2] - slack) hi[2]++;
        if (edge[2][hi[2]] < edge[2][lo[2]] + size[2] - slack) break;
        if (inside(sum, ny, nz, lo, hi) == (hi[0] - lo[0]) * (hi[1] - lo[1]) * (hi[2] - lo[2])) {
          for (u32 j = 0; j < 3; j++) at[j] = lo[j];
          return 1;
        }
      }
    }
  }
  return 0;
}

/* Whether a box so many steps long fits between two faces. */
static int reaches(f64 from, f64 to, u32 steps, f64 step) { return !(to < from + steps * step - 1e-9); }

/* The greatest number of steps, below `most`, that such a box can be long along one axis; 0: not even one. Its
 * lower corner lies on faces as above; so across the axis the windows of the other two sizes are gone through, and
 * in each the runs of cells along the axis that are clear over the whole window. */
EXPORT(longest) u32 longest(u32 sums, u32 edges_x, u32 edges_y, u32 edges_z, f64 a, f64 b, f64 c, u32 axis, f64 step, u32 most, u32 nx, u32 ny, u32 nz) {
  const u32 *sum = (const u32 *)sums;
  const f64 *edge[3] = {(const f64 *)edges_x, (const f64 *)edges_y, (const f64 *)edges_z};
  f64 size[3] = {a, b, c}, slack = 1e-9;
  u32 stride[3] = {(ny + 1u) * (nz + 1u), nz + 1u, 1u};
  u32 n[3] = {nx, ny, nz}, p = axis ? 0u : 1u, q = axis == 2u ? 1u : 2u, lo[3], hi[3] = {0, 0, 0}, best = 0;
  for (lo[p] = 0; lo[p] < n[p]; lo[p]++) {
    while (hi[p] < n[p] && edge[p][hi[p]] < edge[p][lo[p]] + size[p] - slack) hi[p]++;
    if (edge[p][hi[p]] < edge[p][lo[p]] + size[p] - slack) break;
    hi[q] = 0;
    for (lo[q] = 0; lo[q] < n[q]; lo[q]++) {
      while (hi[q] < n[q] && edge[q][hi[q]] < edge[q][lo[q]] + size[q] - slack) hi[q]++;
      if (edge[q][hi[q]] < edge[q][lo[q]] + size[q] - slack) break;
      /* What is clear over the window below a level of the axis: four corners of the sums. */
      u32 corner[4], full = (hi[p] - lo[p]) * (hi[q] - lo[q]), start = 0, below = 0;
      for (u32 j = 0; j < 4u; j++) corner[j] = (j & 1u ? hi[p] : lo[p]) * stride[p] + (j & 2u ? hi[q] : lo[q]) * stride[q];
      for (u32 i = 0; i < n[axis]; i++) {
        const u32 *level = sum + (i + 1u) * stride[axis];
        u32 here = level[corner[3]] + level[corner[0]] - level[corner[1]] - level[corner[2]];
        if (here - below != full) start = i + 1u;
        else while (best + 1u < most && reaches(edge[axis][start], edge[axis][i + 1u], best + 1u, step)) best++;
        below = here;
      }
      if (best + 1u >= most) return best;
    }
  }
  return best;
}

static u32 root_of(u32 *up, u32 v) {
  while (up[v] != v) { up[v] = up[up[v]]; v = up[v]; }
  return v;
}

/* Join cells in falling order of their clear radius; where two spaces meet of which each has held at least
 * `prominence` more than the place where they meet, that place is a neck. `order` lists the cells (u32),
 * `radius` their radius (f32, by cell), `up` and `peak` are scratch (u32, by cell). Writes three u32 a neck:
 * peak of the lesser space, peak of the greater, place; returns how many, more than `room` when there is no room for all. */
EXPORT(necks) u32 necks(u32 order_at, u32 count, u32 radius_at, u32 up_at, u32 peak_at, f32 prominence, u32 out, u32 room, u32 nx, u32 ny, u32 nz) {
  const u32 *order = (const u32 *)order_at;
  const f32 *radius = (const f32 *)radius_at;
  u32 *up = (u32 *)up_at, *peak = (u32 *)peak_at, *neck = (u32 *)out, found = 0, rx = ny * nz;
  for (u32 i = 0; i < nx * rx; i++) up[i] = 0xffffffffu;
  for (u32 i = 0; i < count; i++) {
    u32 v = order[i], x = v / rx, y = v / nz % ny, z = v % nz;
    up[v] = v;
    peak[v] = v;
    u32 near[6], k = 0;
    if (x) near[k++] = v - rx;
    if (x + 1u < nx) near[k++] = v + rx;
    if (y) near[k++] = v - nz;
    if (y + 1u < ny) near[k++] = v + nz;
    if (z) near[k++] = v - 1u;
    if (z + 1u < nz) near[k++] = v + 1u;
    for (u32 j = 0; j < k; j++) {
      if (up[near[j]] == 0xffffffffu) continue;
      u32 a = root_of(up, v), b = root_of(up, near[j]);
      if (a == b) continue;
      if (radius[peak[a]] < radius[peak[b]] || (radius[peak[a]] == radius[peak[b]] && peak[a] > peak[b])) { u32 t = a; a = b; b = t; }
      if (radius[peak[b]] - radius[v] >= prominence) {
        if (found < room) {
          neck[found * 3u] = peak[b];
          neck[found * 3u + 1u] = peak[a];
          neck[found * 3u + 2u] = v;
        }
        found++;
      }
      up[b] = a;
    }
  }
  return found;
}
