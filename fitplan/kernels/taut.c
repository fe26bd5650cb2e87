/* Pulls a way taut among boxes: line of sight, the string around what a triangle holds, and sliding along edges.
 *
 * Each solid voxel is an open box of half edge `h` around its middle, in voxel edges.  A way may touch boxes but
 * not enter them.  Every change keeps the way outside of the boxes (by a tolerance far below the size of a
 * voxel) and makes it shorter, so the result is a true way whenever the sweeps end. */
#include "kernel.h"

#define SLACK 1e-6       /* boxes are this much smaller in tests of sight, so that ways may touch */
#define MOST_POINTS 4096 /* vertices of a way */
#define MOST_HITS 8192   /* edges that a triangle meets */
LIMIT(point_most, MOST_POINTS)
LIMIT(hit_most, MOST_HITS)

static u32 nx, ny, nz;
static const u8 *solid; /* (x, y, z) with a solid border one voxel thick; voxel 0 is at index 1 */
static u16 *bare;       /* for each, once bit 15 is set: which of its twelve edges no other voxel covers */
static f64 h;
typedef struct { f64 at[3]; } Point;
static Point path[MOST_POINTS], fresh[MOST_POINTS];
static u32 path_size;
static u8 still[MOST_POINTS]; /* of each vertex, whether it was looked at and nothing about it has changed since */
typedef struct { f64 s, t, angle; Point p; } Hit;
static Hit hits[MOST_HITS];
static u32 hit_count;
static int spilled;

static f64 low(f64 a, f64 b) { return a < b ? a : b; }
static f64 high(f64 a, f64 b) { return a > b ? a : b; }
static f64 size(f64 a) { return a < 0 ? -a : a; }

static f64 apart(const Point *p, const Point *q) {
  f64 sum = 0;
  for (u32 k = 0; k < 3; k++) sum += (p->at[k] - q->at[k]) * (p->at[k] - q->at[k]);
  return __builtin_sqrt(sum);
}

static int is_solid(i32 x, i32 y, i32 z) {
  if (x < -1 || y < -1 || z < -1 || x > (i32)nx || y > (i32)ny || z > (i32)nz) return 1;
  return solid[((u32)(x + 1) * (ny + 2) + (u32)(y + 1)) * (nz + 2) + (u32)(z + 1)];
}

/* The map and its border along an axis: the last place, and how far it is to the next one in memory. */
static i32 last_on(u32 axis) { return (i32)(axis == 0 ? nx : axis == 1 ? ny : nz); }
static i32 pace_on(u32 axis) { return (i32)(axis == 0 ? (ny + 2) * (nz + 2) : axis == 1 ? nz + 2 : 1); }

/* Does the piece p..q enter the open box of half edge r around a voxel's middle? */
static int enters(const Point *p, const Point *q, const i32 *box, f64 r) {
  f64 first = 0, last = 1;
  for (u32 k = 0; k < 3; k++) {
    f64 from = p->at[k] - box[k], step = q->at[k] - p->at[k];
    if (size(step) < 1e-15) {
      if (size(from) >= r) return 0;
      continue;
    }
    f64 in = (-r - from) / step, out = (r - from) / step;
    if (in > out) { f64 t = in; in = out; out = t; }
    first = high(first, in);
    last = low(last, out);
    if (first >= last) return 0;
  }
  return 1;
}

/* Is the straight piece from p to q outside of all boxes? */
static int sees(const Point *p, const Point *q) {
  f64 r = h - SLACK;
  u32 k = 0;
  for (u32 c = 1; c < 3; c++)
    if (size(q->at[c] - p->at[c]) > size(q->at[k] - p->at[k])) k = c;
  u32 a = (k + 1) % 3, b = (k + 2) % 3;
  i32 pace = pace_on(b);
  f64 step = q->at[k] - p->at[k];
  i32 from = (i32)__builtin_ceil(low(p->at[k], q->at[k]) - r), to = (i32)__builtin_floor(high(p->at[k], q->at[k]) + r);
  for (i32 i = from; i <= to; i++) {
    f64 t0 = 0, t1 = 1;
    if (size(step) > 1e-15) {
      f64 u = (i - r - p->at[k]) / step, v = (i + r - p->at[k]) / step;
      t0 = high(0, low(u, v));
      t1 = low(1, high(u, v));
      if (t0 > t1) continue;
    }
    f64 a0 = p->at[a] + t0 * (q->at[a] - p->at[a]), a1 = p->at[a] + t1 * (q->at[a] - p->at[a]);
    f64 b0 = p->at[b] + t0 * (q->at[b] - p->at[b]), b1 = p->at[b] + t1 * (q->at[b] - p->at[b]);
    i32 ja = (i32)__builtin_ceil(low(a0, a1) - r), jb = (i32)__builtin_floor(high(a0, a1) + r);
    i32 la = (i32)__builtin_ceil(low(b0, b1) - r), lb = (i32)__builtin_floor(high(b0, b1) + r);
    int inside = i >= -1 && ja >= -1 && la >= -1 && i <= last_on(k) && jb <= last_on(a) && lb <= last_on(b);
    for (i32 j = ja; j <= jb; j++) {
      const u8 *row = inside ? solid + (i + 1) * pace_on(k) + (j + 1) * pace_on(a) + (la + 1) * pace : 0;
      for (i32 l = la; l <= lb; l++) {
        i32 box[3];
        box[k] = i; box[a] = j; box[b] = l;
        if ((row ? row[(l - la) * pace] : is_solid(box[0], box[1], box[2])) && enters(p, q, box, r)) return 0;
      }
    }
  }
  return 1;
}

typedef struct { Point a, v, b; f64 normal[3], along[3], up[3], base, scale; } Triangle;

static f64 dot(const f64 *p, const f64 *q) { return p[0] * q[0] + p[1] * q[1] + p[2] * q[2]; }

/* The plane of a triangle; 0 when it is flat. */
static int set_triangle(Triangle *t, const Point *a, const Point *v, const Point *b) {
  t->a = *a; t->v = *v; t->b = *b;
  f64 to_b[3], to_v[3];
  for (u32 k = 0; k < 3; k++) { to_b[k] = b->at[k] - a->at[k]; to_v[k] = v->at[k] - a->at[k]; }
  t->base = __builtin_sqrt(dot(to_b, to_b));
  if (t->base < 1e-9) return 0;
  for (u32 k = 0; k < 3; k++) t->along[k] = to_b[k] / t->base;
  f64 s = dot(to_v, t->along);
  for (u32 k = 0; k < 3; k++) t->up[k] = to_v[k] - s * t->along[k];
  f64 tall = __builtin_sqrt(dot(t->up, t->up));
  if (tall < 1e-9) return 0;
  for (u32 k = 0; k < 3; k++) t->up[k] /= tall;
  for (u32 k = 0; k < 3; k++)
    t->normal[k] = t->along[(k + 1) % 3] * t->up[(k + 2) % 3] - t->along[(k + 2) % 3] * t->up[(k + 1) % 3];
  t->scale = tall;
  return 1;
}

/* Note a point of an edge in the triangle's plane when it lies inside of it and above its base. */
static void meet(const Triangle *t, const f64 *p) {
  f64 d[3], v[3];
  for (u32 k = 0; k < 3; k++) { d[k] = p[k] - t->a.at[k]; v[k] = t->v.at[k] - t->a.at[k]; }
  f64 s = dot(d, t->along), up = dot(d, t->up), vs = dot(v, t->along), vt = t->scale;
  if (up < 1e-9) return;
  /* left of b..v and of v..a, with a tolerance in voxel edges */
  f64 bv = __builtin_sqrt((vs - t->base) * (vs - t->base) + vt * vt), va = __builtin_sqrt(vs * vs + vt * vt);
  if (((vs - t->base) * up - vt * (s - t->base)) / bv < -1e-8) return;
  if ((-vs * (up - vt) + vt * (s - vs)) / va < -1e-8) return;
  if (hit_count >= (u32)hit_most) { spilled = 1; return; }
  Hit *hit = &hits[hit_count++];
  hit->s = s; hit->t = up;
  hit->angle = -s / __builtin_sqrt(s * s + up * up); /* grows with the angle at a */
  for (u32 k = 0; k < 3; k++) hit->p.at[k] = p[k];
}

/* The part of an edge that lies in the plane: its ends, cut off at the triangle. */
static void meet_flat(const Triangle *t, f64 *p, f64 *q) {
  f64 first = 0, last = 1;
  const Point *corner[4] = {&t->a, &t->b, &t->v, &t->a};
  for (u32 side = 0; side < 3; side++) {
    f64 edge[3], inward[3];
    for (u32 k = 0; k < 3; k++) edge[k] = corner[side + 1]->at[k] - corner[side]->at[k];
    for (u32 k = 0; k < 3; k++)
      inward[k] = t->normal[(k + 1) % 3] * edge[(k + 2) % 3] - t->normal[(k + 2) % 3] * edge[(k + 1) % 3];
    f64 from = 0, to = 0;
    for (u32 k = 0; k < 3; k++) {
      from += (p[k] - corner[side]->at[k]) * inward[k];
      to += (q[k] - corner[side]->at[k]) * inward[k];
    }
    if (size(to - from) < 1e-15) {
      if (from < -1e-9) return;
      continue;
    }
    f64 cut = from / (from - to);
    if (to > from) first = high(first, cut); else last = low(last, cut);
  }
  if (first > last) return;
  f64 one[3], two[3];
  for (u32 k = 0; k < 3; k++) { one[k] = p[k] + first * (q[k] - p[k]); two[k] = p[k] + last * (q[k] - p[k]); }
  meet(t, one);
  meet(t, two);
}

/* The edges of a solid voxel that stand free, a bit each: along k, at the sides sa and sb of the axes after it. */
static u32 edges_of(const i32 *box) {
  u32 v = ((u32)(box[0] + 1) * (ny + 2) + (u32)(box[1] + 1)) * (nz + 2) + (u32)(box[2] + 1);
  if (box[0] < -1 || box[1] < -1 || box[2] < -1 || box[0] > (i32)nx || box[1] > (i32)ny || box[2] > (i32)nz) return 0;
  if (bare[v]) return bare[v];
  u32 found = 0x8000u;
  for (u32 k = 0; k < 3; k++) {
    u32 a = (k + 1) % 3, b = (k + 2) % 3;
    for (u32 e = 0; e < 4; e++) {
      i32 n[3] = {box[0], box[1], box[2]}, sa = e & 2u ? 1 : -1, sb = e & 1u ? 1 : -1;
      n[a] += sa;
      if (is_solid(n[0], n[1], n[2])) continue;
      n[b] += sb;
      if (is_solid(n[0], n[1], n[2])) continue;
      n[a] -= sa;
      if (is_solid(n[0], n[1], n[2])) continue;
      found |= 1u << (4u * k + e);
    }
  }
  bare[v] = (u16)found;
  return found;
}

/* Find where the outer edges of one box meet the triangle.  A box that the plane only touches is no obstacle. */
static void meet_box(const Triangle *t, const i32 *box) {
  u32 edges = edges_of(box) & 0xfffu;
  if (!edges) return;
  f64 middle = 0, half = 0;
  for (u32 c = 0; c < 3; c++) {
    middle += (box[c] - t->a.at[c]) * t->normal[c];
    half += h * size(t->normal[c]);
  }
  if (size(middle) > half - 1e-7) return;
  for (; edges; edges &= edges - 1u) {
    u32 e = (u32)__builtin_ctz(edges), k = e / 4u, a = (k + 1) % 3, b = (k + 2) % 3;
    f64 p[3], q[3], from = 0, to = 0;
    p[k] = box[k] - h; q[k] = box[k] + h;
    p[a] = q[a] = box[a] + (e & 2u ? h : -h);
    p[b] = q[b] = box[b] + (e & 1u ? h : -h);
    for (u32 c = 0; c < 3; c++) {
      from += (p[c] - t->a.at[c]) * t->normal[c];
      to += (q[c] - t->a.at[c]) * t->normal[c];
    }
    if (size(from) < 1e-9 && size(to) < 1e-9) {
      meet_flat(t, p, q);
    } else if (low(from, to) <= 1e-12 && high(from, to) >= -1e-12) {
      f64 share = from / (from - to);
      p[k] += high(0, low(1, share)) * 2 * h;
      meet(t, p);
    }
  }
}

/* A range of places, cut off where the map and its border end. */
static i32 begin_at(f64 at) { i32 i = (i32)__builtin_ceil(at); return i < -1 ? -1 : i; }
static i32 end_at(f64 at, u32 axis) { i32 i = (i32)__builtin_floor(at), last = last_on(axis); return i < last ? i : last; }

/* Visit every box that the triangle may meet, slab by slab along its longest axis. */
static void meet_all(const Triangle *t) {
  const Point *corner[3] = {&t->a, &t->v, &t->b};
  f64 least[3], most[3];
  for (u32 k = 0; k < 3; k++) {
    least[k] = low(t->a.at[k], low(t->v.at[k], t->b.at[k]));
    most[k] = high(t->a.at[k], high(t->v.at[k], t->b.at[k]));
  }
  u32 k = 0;
  for (u32 c = 1; c < 3; c++)
    if (most[c] - least[c] > most[k] - least[k]) k = c;
  u32 a = (k + 1) % 3, b = (k + 2) % 3;
  hit_count = 0;
  spilled = 0;
  i32 pace = pace_on(b), end = end_at(most[k] + h, k);
  for (i32 i = begin_at(least[k] - h); i <= end; i++) {
    f64 a0 = 1e30, a1 = -1e30, b0 = 1e30, b1 = -1e30;
    for (u32 side = 0; side < 3; side++) {
      const Point *p = corner[side], *q = corner[(side + 1) % 3];
      f64 t0 = 0, t1 = 1, step = q->at[k] - p->at[k];
      if (size(step) > 1e-15) {
        f64 u = (i - h - p->at[k]) / step, v = (i + h - p->at[k]) / step;
        t0 = high(0, low(u, v));
        t1 = low(1, high(u, v));
        if (t0 > t1) continue;
      } else if (size(p->at[k] - i) > h) {
        continue;
      }
      for (u32 e = 0; e < 2; e++) {
        f64 at = e ? t1 : t0, ca = p->at[a] + at * (q->at[a] - p->at[a]), cb = p->at[b] + at * (q->at[b] - p->at[b]);
        a0 = low(a0, ca); a1 = high(a1, ca);
        b0 = low(b0, cb); b1 = high(b1, cb);
      }
    }
    if (a0 > a1) continue;
    /* what lies beyond the map has no edge that stands free */
    i32 la = begin_at(b0 - h), ja = begin_at(a0 - h), lb = end_at(b1 + h, b), jb = end_at(a1 + h, a);
    for (i32 j = ja; j <= jb; j++) {
      const u8 *row = solid + (i + 1) * pace_on(k) + (j + 1) * pace_on(a) + (la + 1) * pace;
      for (i32 l = la; l <= lb; l++, row += pace) {
        if (!*row) continue;
        i32 box[3];
        box[k] = i; box[a] = j; box[b] = l;
        meet_box(t, box);
      }
    }
  }
}

static int comes_first(const Hit *p, const Hit *q) {
  if (p->angle != q->angle) return p->angle < q->angle;
  return p->s * p->s + p->t * p->t < q->s * q->s + q->t * q->t;
}

static void sort_hits(void) {
  for (u32 gap = hit_count / 2; gap; gap /= 2)
    for (u32 i = gap; i < hit_count; i++) {
      Hit one = hits[i];
      u32 j = i;
      for (; j >= gap && comes_first(&one, &hits[j - gap]); j -= gap) hits[j] = hits[j - gap];
      hits[j] = one;
    }
}

static f64 turn(f64 as, f64 at, f64 bs, f64 bt, f64 cs, f64 ct) { return (bs - as) * (ct - at) - (bt - at) * (cs - as); }

/* Write the taut string a..b over what the triangle a, v, b holds (without a and b); returns its points, or
 * MOST_POINTS when there are too many or the string would not be free. */
static u32 string_over(const Point *a, const Point *v, const Point *b, Point *out) {
  Triangle t;
  if (!set_triangle(&t, a, v, b)) return sees(a, b) ? 0 : MOST_POINTS;
  meet_all(&t);
  if (spilled) return MOST_POINTS;
  sort_hits();
  /* convex hull by angle around a: hits[0..top) is the chain from b's side */
  u32 top = 0;
  for (u32 i = 0; i < hit_count; i++) {
    Hit one = hits[i];
    while (top) {
      f64 ps = top > 1 ? hits[top - 2].s : t.base, pt = top > 1 ? hits[top - 2].t : 0;
      if (turn(ps, pt, hits[top - 1].s, hits[top - 1].t, one.s, one.t) > 1e-11) break;
      top--;
    }
    if (!top && turn(0, 0, t.base, 0, one.s, one.t) <= 1e-11) continue;
    hits[top++] = one;
  }
  if (top > 64) return MOST_POINTS;
  u32 count = 0;
  for (u32 i = top; i-- > 0;) {
    const Point *last = count ? &out[count - 1] : a;
    if (apart(last, &hits[i].p) < 1e-7 || apart(&hits[i].p, b) < 1e-7) continue;
    out[count++] = hits[i].p;
  }
  const Point *from = a;
  for (u32 i = 0; i <= count; i++) {
    const Point *to = i < count ? &out[i] : b;
    if (!sees(from, to)) return MOST_POINTS;
    from = to;
  }
  return count;
}

static f64 chain_length(const Point *a, const Point *chain, u32 count, const Point *b) {
  f64 sum = 0;
  const Point *from = a;
  for (u32 i = 0; i < count; i++) { sum += apart(from, &chain[i]); from = &chain[i]; }
  return sum + apart(from, b);
}

/* Does a chain lead over a vertex? */
static int is_over(const Point *v, const Point *chain, u32 count) {
  for (u32 i = 0; i < count; i++)
    if (apart(v, &chain[i]) < 1e-9) return 1;
  return 0;
}

/* Move a vertex along one axis to where the way over it is shortest (the two triangles unfolded into one
 * plane), and pull what lies between; writes the new chain in the place of v; MOST_POINTS: no gain. */
static u32 slide(const Point *a, const Point *v, const Point *b, u32 k, Point *out) {
  f64 before = apart(a, v) + apart(v, b), da = 0, db = 0;
  for (u32 c = 0; c < 3; c++) {
    if (c == k) continue;
    da += (a->at[c] - v->at[c]) * (a->at[c] - v->at[c]);
    db += (b->at[c] - v->at[c]) * (b->at[c] - v->at[c]);
  }
  da = __builtin_sqrt(da);
  db = __builtin_sqrt(db);
  if (da + db < 1e-9) return MOST_POINTS;
  f64 move = (a->at[k] * db + b->at[k] * da) / (da + db) - v->at[k];
  for (u32 cut = 0; cut < 12 && size(move) > 1e-9; cut++, move *= 0.5) {
    Point w = *v;
    w.at[k] += move;
    if (apart(a, &w) + apart(&w, b) > before - 1e-12) return MOST_POINTS;
    if (!sees(v, &w)) continue;
    u32 first = string_over(a, v, &w, out);
    if (first == MOST_POINTS) continue;
    /* What holds the vertex where it is holds it however little it is moved: a way over both is no shorter. */
    if (is_over(v, out, first)) return MOST_POINTS;
    out[first] = w;
    u32 second = sees(&w, b) ? 0 : string_over(&w, v, b, out + first + 1);
    if (second == MOST_POINTS) continue;
    u32 count = first + 1 + second;
    if (chain_length(a, out, count, b) < before - 1e-12) return count;
  }
  return MOST_POINTS;
}

static int replace(u32 i, const Point *chain, u32 count) {
  if (path_size + count + 80 > (u32)point_most) return 0;
  u32 behind = path_size - i - 1u;
  __builtin_memmove(path + i + count, path + i + 1u, behind * sizeof(Point));
  __builtin_memmove(still + i + count, still + i + 1u, behind);
  for (u32 j = 0; j < count; j++) path[i + j] = chain[j];
  path_size = i + count + behind;
  for (u32 j = i - 1u; j <= i + count; j++) still[j] = 0;
  return 1;
}

static f64 path_length(void) {
  f64 sum = 0;
  for (u32 i = 1; i < path_size; i++) sum += apart(&path[i - 1], &path[i]);
  return sum;
}

/* Leave out vertices as far as the eye reaches, in leaps that double and halve. */
static void leap(void) {
  u32 kept = 0, at = 0;
  fresh[kept++] = path[0];
  while (at + 1 < path_size) {
    u32 step = 1;
    while (at + 2 * step < path_size && sees(&path[at], &path[at + 2 * step])) step *= 2;
    for (u32 more = step; more; more /= 2)
      if (at + step + more < path_size && sees(&path[at], &path[at + step + more])) step += more;
    at += step;
    fresh[kept++] = path[at];
  }
  for (u32 i = 0; i < kept; i++) path[i] = fresh[i];
  path_size = kept;
}

/* Take the map of solid voxels, with its border; 0: no memory. */
EXPORT(prepare) u32 prepare(u32 x, u32 y, u32 z, u32 voxels) {
  nx = x; ny = y; nz = z;
  solid = (const u8 *)voxels;
  bare = (u16 *)allocate_many((u64)(x + 2u) * (y + 2u) * (z + 2u), 2u);
  return bare != 0;
}

EXPORT(points) u32 points(void) { return (u32)path; }

/* Tell whether the first two points see each other. */
EXPORT(sight) u32 sight(f64 half) { h = half; return (u32)sees(&path[0], &path[1]); }

/* Tell whether all pieces of the way are free; 2: more points than are kept. */
EXPORT(is_free) u32 is_free(u32 count, f64 half) {
  h = half;
  if (count > (u32)point_most) return 2;
  for (u32 i = 1; i < count; i++)
    if (!sees(&path[i - 1], &path[i])) return 0;
  return 1;
}

/* Pull the first `count` points taut in place, in at most so many sweeps; returns the number of points left,
 * 0 when there are more than are kept. */
EXPORT(pull) u32 pull(u32 count, f64 half, u32 sweeps) {
  static Point chain[MOST_POINTS];
  h = half;
  if (!count || count > (u32)point_most) return 0;
  path_size = count;
  leap();
  for (u32 i = 0; i < path_size; i++) still[i] = 0;
  for (u32 sweep = 0; sweep < sweeps; sweep++) {
    f64 before = path_length();
    for (u32 i = 1; i + 1 < path_size; i++) {
      if (still[i]) continue; /* what did not help then helps no more now */
      still[i] = 1;
      Point *a = &path[i - 1], *v = &path[i], *b = &path[i + 1];
      f64 now = apart(a, v) + apart(v, b);
      u32 found = sees(a, b) ? 0 : string_over(a, v, b, chain);
      if (found != MOST_POINTS && (!found || chain_length(a, chain, found, b) < now - 1e-12)) {
        if (!replace(i, chain, found)) return path_size;
        if (!found) {
          i -= i > 1 ? 2 : 1; /* look again from the vertex before */
          continue;
        }
      }
      for (u32 k = 0; k < 3; k++) {
        found = slide(&path[i - 1], &path[i], &path[i + 1], k, chain);
        if (found != MOST_POINTS && !replace(i, chain, found)) return path_size;
      }
    }
    f64 after = path_length();
    if (before - after < 1e-7 * before) break;
  }
  return path_size;
}
