/* Surfaces into voxels, with nothing lost: every voxel that a triangle touches, every voxel face that it lies on.
 *
 * Points are in voxel edges from the frame's corner. The test of a triangle against a cube is exact: the plane,
 * the three projections and the bounds (Schwarz and Seidel, Fast parallel surface and solid voxelization on
 * GPUs, 2010; the same thirteen axes as the separating axis theorem gives). Cubes are shrunk by `slack` on all
 * sides. Where a triangle passes between two shrunk cubes it closes the face between them instead, so no way
 * leads through a surface, and a surface that lies on the grid takes no voxel away. */
#include "kernel.h"

#define MOST_SHELLS 127
LIMIT(shell_most, MOST_SHELLS)

typedef struct { f64 a, b, c; } Line; /* a x + b y + c >= 0 on the inner side, for the cube's corner that lies farthest in */

static f64 least(f64 p, f64 q, f64 r) { f64 m = p < q ? p : q; return m < r ? m : r; }
static f64 most(f64 p, f64 q, f64 r) { f64 m = p > q ? p : q; return m > r ? m : r; }
static f64 size_of(f64 v) { return v < 0 ? -v : v; }
static i32 whole(f64 v) { i32 i = (i32)v; return v < (f64)i ? i - 1 : i; } /* the floor */
static i32 ceiling(f64 v) { return -whole(-v); }

/* The edges of the projection onto axes u, v, moved so that the lower corner of a shrunk square can be put in. */
static void lines_of(Line *line, const f64 (*p)[3], u32 u, u32 v, f64 turn, f64 slack) {
  f64 edge = 1 - 2 * slack;
  for (u32 i = 0; i < 3; i++) {
    const f64 *q = p[i], *r = p[(i + 1) % 3];
    f64 a = -(r[v] - q[v]) * turn, b = (r[u] - q[u]) * turn;
    line[i].a = a;
    line[i].b = b;
    line[i].c = -(a * q[u] + b * q[v]) + (a + b) * slack + (a > 0 ? a * edge : 0) + (b > 0 ? b * edge : 0);
  }
}

static int outside_of(const Line *line, f64 x, f64 y) {
  return line[0].a * x + line[0].b * y + line[0].c < 0 || line[1].a * x + line[1].b * y + line[1].c < 0 ||
         line[2].a * x + line[2].b * y + line[2].c < 0;
}

/* `points` f64 (n, 3), `faces` u32 (count, 3). `touched` (nx, ny, nz) u8 gets 1 in touched voxels; `barriers`
 * gets bit 1, 2, 4 for a closed lower face along x, y, z. Faces from `first` to `last` are drawn. */
EXPORT(draw_surface)
void draw_surface(u32 points, u32 faces, u32 first, u32 last, u32 touched, u32 barriers, u32 nx, u32 ny, u32 nz, f64 slack) {
  const f64 *point = (const f64 *)points;
  const u32 *face = (const u32 *)faces;
  u8 *touch = (u8 *)touched, *bar = (u8 *)barriers;
  const i32 n[3] = {(i32)nx, (i32)ny, (i32)nz};
  const u32 jump[3] = {ny * nz, nz, 1};
  for (u32 f = first; f < last; f++) {
    f64 p[3][3], low[3], high[3];
    for (u32 i = 0; i < 3; i++)
      for (u32 k = 0; k < 3; k++) p[i][k] = point[face[3 * f + i] * 3 + k];
    i32 from[3], to[3];
    int inside = 1;
    for (u32 k = 0; k < 3; k++) {
      low[k] = least(p[0][k], p[1][k], p[2][k]);
      high[k] = most(p[0][k], p[1][k], p[2][k]);
      from[k] = whole(low[k] + slack);
      to[k] = ceiling(high[k] - slack) - 1;
    }
    f64 normal[3];
    for (u32 k = 0; k < 3; k++) {
      u32 u = (k + 1) % 3, v = (k + 2) % 3;
      normal[k] = (p[1][u] - p[0][u]) * (p[2][v] - p[0][v]) - (p[1][v] - p[0][v]) * (p[2][u] - p[0][u]);
    }
    u32 d = size_of(normal[0]) >= size_of(normal[1]) ? 0 : 1;
    if (size_of(normal[2]) > size_of(normal[d])) d = 2;
    if (normal[d] == 0) continue; /* no area: its edges belong to its neighbours */
    u32 u = (d + 1) % 3, v = (d + 2) % 3;
    for (u32 k = 0; k < 3; k++) {
      if (k != d && to[k] < from[k]) inside = 0; /* narrower than the slack, between two cubes: neighbours cover it */
      if (from[k] < 0) from[k] = 0;
      if (to[k] >= n[k]) to[k] = n[k] - 1;
    }
    if (!inside) continue;
    Line side[3][3];
    for (u32 k = 0; k < 3; k++) lines_of(side[k], p, (k + 1) % 3, (k + 2) % 3, normal[k] < 0 ? -1 : 1, slack);
    f64 gu = -normal[u] / normal[d], gv = -normal[v] / normal[d];
    f64 edge = 1 - 2 * slack, rise = (gu > 0 ? gu : 0) * edge + (gv > 0 ? gv : 0) * edge;
    f64 fall = (gu < 0 ? gu : 0) * edge + (gv < 0 ? gv : 0) * edge;
    for (i32 i = from[u]; i <= to[u]; i++)
      for (i32 j = from[v]; j <= to[v]; j++) {
        if (outside_of(side[d], (f64)i, (f64)j)) continue;
        f64 base = p[0][d] + gu * ((f64)i + slack - p[0][u]) + gv * ((f64)j + slack - p[0][v]);
        f64 bottom = base + fall, top = base + rise;
        if (bottom < low[d]) bottom = low[d];
        if (top > high[d]) top = high[d];
        i32 a = whole(bottom + slack), b = ceiling(top - slack) - 1;
        u32 at = (u32)i * jump[u] + (u32)j * jump[v];
        if (b < a) { /* within the slack of a plane between voxels */
          if (a >= 0 && a < n[d]) bar[at + (u32)a * jump[d]] |= (u8)(1u << d);
          continue;
        }
        if (a < 0) a = 0;
        if (b >= n[d]) b = n[d] - 1;
        for (i32 k = a; k <= b; k++) {
          /* side[u] is the projection onto (v, d), side[v] the one onto (d, u) */
          if (outside_of(side[u], (f64)j, (f64)k) || outside_of(side[v], (f64)k, (f64)i)) continue;
          touch[at + (u32)k * jump[d]] = 1;
        }
      }
  }
}

/* From each sample look along all six directions and count, group by group, whether the way out crosses the group's
 * faces an odd number of times. `odd` (samples, groups) u8: bit 2k: towards +k, bit 2k+1: towards -k. */
EXPORT(look_out)
void look_out(u32 points, u32 faces, u32 count, u32 group_of, u32 groups, u32 samples, u32 sample_count, u32 odd) {
  const f64 *point = (const f64 *)points, *sample = (const f64 *)samples;
  const u32 *face = (const u32 *)faces, *group = (const u32 *)group_of;
  u8 *bits = (u8 *)odd;
  for (u32 f = 0; f < count; f++) {
    const f64 *a = point + face[3 * f] * 3, *b = point + face[3 * f + 1] * 3, *c = point + face[3 * f + 2] * 3;
    f64 low[3], high[3];
    for (u32 k = 0; k < 3; k++) { low[k] = least(a[k], b[k], c[k]); high[k] = most(a[k], b[k], c[k]); }
    for (u32 s = 0; s < sample_count; s++) {
      const f64 *q = sample + 3 * s;
      u32 in0 = q[0] >= low[0] && q[0] <= high[0], in1 = q[1] >= low[1] && q[1] <= high[1], in2 = q[2] >= low[2] && q[2] <= high[2];
      if (in0 + in1 + in2 < 2) continue;
      for (u32 k = 0; k < 3; k++) {
        u32 u = (k + 1) % 3, v = (k + 2) % 3;
        if (q[u] < low[u] || q[u] > high[u] || q[v] < low[v] || q[v] > high[v]) continue;
        f64 area = (b[u] - a[u]) * (c[v] - a[v]) - (b[v] - a[v]) * (c[u] - a[u]);
        if (area == 0) continue;
        f64 e0 = (b[u] - a[u]) * (q[v] - a[v]) - (b[v] - a[v]) * (q[u] - a[u]);
        f64 e1 = (c[u] - b[u]) * (q[v] - b[v]) - (c[v] - b[v]) * (q[u] - b[u]);
        f64 e2 = (a[u] - c[u]) * (q[v] - c[v]) - (a[v] - c[v]) * (q[u] - c[u]);
        if (area < 0) { e0 = -e0; e1 = -e1; e2 = -e2; }
        if (e0 < 0 || e1 < 0 || e2 < 0) continue;
        f64 size = size_of(area), height = (e1 * a[k] + e2 * b[k] + e0 * c[k]) / size;
        bits[s * groups + group[f]] ^= (u8)(1u << (height > q[k] ? 2 * k : 2 * k + 1));
      }
    }
  }
}

/* For each group of faces (`starts`, one more than there are groups) and each voxel near it, see along the six
 * directions whether the way out crosses the group an odd number of times. Where at least four say so, `sign` of
 * the group is added to the voxel's `count` (i8). Returns 0 when more shells than a count holds lie round a voxel. Lines of sight run through the voxels' middles, moved aside by
 * `aside` voxel edges. `scratch` (u8) has room for the whole frame. */
EXPORT(count_inside)
u32 count_inside(u32 points, u32 faces, u32 starts_at, u32 signs_at, u32 groups, u32 scratch, u32 counts, u32 nx, u32 ny, u32 nz, f64 aside) {
  const f64 *point = (const f64 *)points;
  const u32 *face = (const u32 *)faces, *start = (const u32 *)starts_at;
  const i8 *sign = (const i8 *)signs_at;
  u8 *flip = (u8 *)scratch;
  i8 *count = (i8 *)counts;
  const i32 n[3] = {(i32)nx, (i32)ny, (i32)nz};
  for (u32 g = 0; g < groups; g++) {
    i32 low[3], w[3];
    if (start[g] == start[g + 1]) continue;
    for (u32 k = 0; k < 3; k++) {
      f64 least_k = 1e30, most_k = -1e30;
      for (u32 f = 3 * start[g]; f < 3 * start[g + 1]; f++) {
        f64 v = point[3 * face[f] + k];
        if (v < least_k) least_k = v;
        if (v > most_k) most_k = v;
      }
      low[k] = whole(least_k) - 1;
      i32 high = whole(most_k) + 2;
      if (low[k] < 0) low[k] = 0;
      if (high > n[k]) high = n[k];
      w[k] = high - low[k];
    }
    if (w[0] <= 0 || w[1] <= 0 || w[2] <= 0) continue;
    const i32 step[3] = {w[1] * w[2], w[2], 1};
    __builtin_memset(flip, 0, (u32)(w[0] * step[0]));
    for (u32 f = start[g]; f < start[g + 1]; f++) {
      f64 p[3][3];
      for (u32 i = 0; i < 3; i++)
        for (u32 k = 0; k < 3; k++) p[i][k] = point[3 * face[3 * f + i] + k] - low[k];
      for (u32 k = 0; k < 3; k++) {
        u32 u = (k + 1) % 3, v = (k + 2) % 3;
        f64 du = 0.5 + aside, dv = 0.5 + aside * 0.618;
        f64 area = (p[1][u] - p[0][u]) * (p[2][v] - p[0][v]) - (p[1][v] - p[0][v]) * (p[2][u] - p[0][u]);
        if (area == 0) continue;
        f64 turn = area < 0 ? -1 : 1;
        i32 i0 = ceiling(least(p[0][u], p[1][u], p[2][u]) - du), i1 = whole(most(p[0][u], p[1][u], p[2][u]) - du);
        i32 j0 = ceiling(least(p[0][v], p[1][v], p[2][v]) - dv), j1 = whole(most(p[0][v], p[1][v], p[2][v]) - dv);
        if (i0 < 0) i0 = 0;
        if (j0 < 0) j0 = 0;
        if (i1 >= w[u]) i1 = w[u] - 1;
        if (j1 >= w[v]) j1 = w[v] - 1;
        for (i32 i = i0; i <= i1; i++)
          for (i32 j = j0; j <= j1; j++) {
            f64 a = i + du, b = j + dv;
            f64 e0 = turn * ((p[1][u] - p[0][u]) * (b - p[0][v]) - (p[1][v] - p[0][v]) * (a - p[0][u]));
            f64 e1 = turn * ((p[2][u] - p[1][u]) * (b - p[1][v]) - (p[2][v] - p[1][v]) * (a - p[1][u]));
            f64 e2 = turn * ((p[0][u] - p[2][u]) * (b - p[2][v]) - (p[0][v] - p[2][v]) * (a - p[2][u]));
            if (e0 < 0 || e1 < 0 || e2 < 0) continue;
            i32 c = ceiling((e1 * p[0][k] + e2 * p[1][k] + e0 * p[2][k]) / (turn * area) - 0.5);
            if (c < 0) c = 0;
            if (c < w[k]) flip[i * step[u] + j * step[v] + c * step[k]] ^= (u8)(1u << k);
          }
      }
    }
    /* From flips to parities: bit k for the lower side; the upper side is the whole line's parity against it. */
    for (u32 k = 0; k < 3; k++) {
      u32 u = (k + 1) % 3, v = (k + 2) % 3;
      for (i32 i = 0; i < w[u]; i++)
        for (i32 j = 0; j < w[v]; j++) {
          u8 *line = flip + i * step[u] + j * step[v], odd = 0;
          for (i32 c = 0; c < w[k]; c++) {
            odd ^= line[c * step[k]] & (u8)(1u << k);
            line[c * step[k]] = (line[c * step[k]] & (u8)~(1u << k)) | odd;
          }
          if (odd)
            for (i32 c = 0; c < w[k]; c++) line[c * step[k]] |= (u8)(8u << k);
        }
    }
    for (i32 i = 0; i < w[0]; i++)
      for (i32 j = 0; j < w[1]; j++) {
        const u8 *line = flip + i * step[0] + j * step[1];
        i8 *row = count + ((low[0] + i) * n[1] + low[1] + j) * n[2] + low[2];
        for (i32 c = 0; c < w[2]; c++) {
          u32 lower = line[c] & 7u, upper = (lower ^ (line[c] >> 3)) & 7u;
          if (__builtin_popcount(lower) + __builtin_popcount(upper) < 4) continue;
          i32 now = row[c] + (sign[g] < 0 ? -1 : 1);
          if (now > shell_most || now < -shell_most) return 0;
          row[c] = (i8)now;
        }
      }
  }
  return 1;
}

static u32 root_of(u32 *up, u32 v) {
  while (up[v] != v) { up[v] = up[up[v]]; v = up[v]; }
  return v;
}

/* Join pairs of numbers below `n`; `up` (n) u32 gets for each the least number that it is joined with.  0 when a number
 * is not below. */
EXPORT(join) u32 join(u32 pairs, u32 count, u32 parents, u32 n) {
  const u32 *pair = (const u32 *)pairs;
  u32 *up = (u32 *)parents;
  for (u32 i = 0; i < n; i++) up[i] = i;
  for (u32 i = 0; i < 2 * count; i++)
    if (pair[i] >= n) return 0;
  for (u32 i = 0; i < count; i++) {
    u32 a = root_of(up, pair[2 * i]), b = root_of(up, pair[2 * i + 1]);
    if (a < b) up[b] = a;
    else if (b < a) up[a] = b;
  }
  for (u32 i = 0; i < n; i++) up[i] = root_of(up, i);
  return 1;
}
