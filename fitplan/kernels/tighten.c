/* Draws a way tight among exact boxes, in millimetres: what voxels have left loose.
 *
 * A way keeps off every box by `wide`, within zones (round its ends, in ports) by `close`.  It is never made to
 * jump: a vertex moves towards the straight line between its neighbours, slides, is split or goes, always by
 * little, so the way stays on the side of things that it lay on.  Every change is seen to be free first. */
#include "kernel.h"

#define MOST_POINTS 1024 /* vertices of a way */
#define MOST_ZONES 64
LIMIT(vertex_most, MOST_POINTS)
LIMIT(zone_most, MOST_ZONES)

#define TOUCH 1e-7   /* a way may be nearer by this */
#define LEAST 0.002  /* gains below this are not worth a change (mm) */
#define WORTH 0.01   /* nor corners that are cut for less than this (mm) */
#define MORE 40      /* so many corners more than it had a way may get */
#define JUMP 1.0     /* a vertex goes only when it lies no further off the straight line (mm) */

typedef struct { f64 at[3]; } Point;
typedef struct { f64 low[3], high[3]; } Range;
static const Range *boxes, *zones;
static u32 box_count, zone_count;
static f64 wide, close_by;
static Point path[MOST_POINTS + 2];
static u32 size_of_path, most_now;

static f64 low(f64 a, f64 b) { return a < b ? a : b; }
static f64 high(f64 a, f64 b) { return a > b ? a : b; }

static f64 apart(const Point *p, const Point *q) {
  f64 sum = 0;
  for (u32 k = 0; k < 3; k++) sum += (p->at[k] - q->at[k]) * (p->at[k] - q->at[k]);
  return __builtin_sqrt(sum);
}

static Point between(const Point *p, const Point *q, f64 share) {
  Point found;
  for (u32 k = 0; k < 3; k++) found.at[k] = p->at[k] + share * (q->at[k] - p->at[k]);
  return found;
}

/* How far a point lies outside of a box along an axis, with its sign. */
static f64 beyond(const Range *box, f64 value, u32 k) {
  return value < box->low[k] ? value - box->low[k] : value > box->high[k] ? value - box->high[k] : 0;
}

/* Is a straight piece nearer to a box than a reach?  Its squared distance is convex: halving finds the least. */
static int nearer(const Point *p, const Point *q, const Range *box, f64 reach) {
  for (u32 k = 0; k < 3; k++)
    if (high(p->at[k], q->at[k]) <= box->low[k] - reach || low(p->at[k], q->at[k]) >= box->high[k] + reach) return 0;
  f64 first = 0, last = 1;
  for (u32 turn = 0; turn < 48; turn++) {
    f64 share = turn == 0 ? 0 : turn == 1 ? 1 : (first + last) / 2, slope = 0, square = 0;
    for (u32 k = 0; k < 3; k++) {
      f64 step = q->at[k] - p->at[k], off = beyond(box, p->at[k] + share * step, k);
      slope += off * step;
      square += off * off;
    }
    if (square < reach * reach) return 1;
    if (turn == 0) { if (slope >= 0) return 0; continue; }
    if (turn == 1) { if (slope <= 0) return 0; continue; }
    if (slope > 0) last = share; else first = share;
  }
  return 0;
}

/* From where to where (in shares) a piece lies in a zone; 0 when nowhere. */
static int within(const Point *p, const Point *q, const Range *zone, f64 *from, f64 *to) {
  *from = 0; *to = 1;
  for (u32 k = 0; k < 3; k++) {
    f64 step = q->at[k] - p->at[k];
    if (step < 1e-12 && step > -1e-12) {
      if (p->at[k] < zone->low[k] || p->at[k] > zone->high[k]) return 0;
      continue;
    }
    f64 a = (zone->low[k] - p->at[k]) / step, b = (zone->high[k] - p->at[k]) / step;
    *from = high(*from, low(a, b));
    *to = low(*to, high(a, b));
  }
  return *from < *to;
}

static int clear(const Point *p, const Point *q, f64 reach) {
  for (u32 i = 0; i < box_count; i++)
    if (nearer(p, q, &boxes[i], reach - TOUCH)) return 0;
  STEPS(box_count);
  return 1;
}

/* Does a straight piece keep off everything, less where it lies in a zone? */
static int sees(const Point *p, const Point *q) {
  f64 from[MOST_ZONES], to[MOST_ZONES], cut[2 * MOST_ZONES + 2];
  u32 spans = 0, cuts = 0;
  cut[cuts++] = 0;
  for (u32 i = 0; i < zone_count; i++)
    if (within(p, q, &zones[i], &from[spans], &to[spans])) {
      cut[cuts++] = from[spans];
      cut[cuts++] = to[spans];
      spans++;
    }
  cut[cuts++] = 1;
  if (!spans) return clear(p, q, wide);
  for (u32 i = 1; i < cuts; i++)
    for (u32 j = i; j > 0 && cut[j - 1] > cut[j]; j--) { f64 t = cut[j]; cut[j] = cut[j - 1]; cut[j - 1] = t; }
  for (u32 i = 0; i + 1 < cuts; i++) {
    if (cut[i + 1] - cut[i] < 1e-9) continue;
    f64 middle = (cut[i] + cut[i + 1]) / 2;
    int in = 0;
    for (u32 s = 0; s < spans; s++) in |= from[s] <= middle && middle <= to[s];
    Point a = between(p, q, cut[i]), b = between(p, q, cut[i + 1]);
    if (!clear(&a, &b, in ? close_by : wide)) return 0;
  }
  return 1;
}

static f64 length_at(u32 i, const Point *v) { return apart(&path[i - 1], v) + apart(v, &path[i + 1]); }

static int fits(u32 i, const Point *v) { return sees(&path[i - 1], v) && sees(v, &path[i + 1]); }

static f64 try_at(u32 i, const Point *v) {
  f64 gain = length_at(i, &path[i]) - length_at(i, v);
  if (gain < LEAST || !fits(i, v)) return 0;
  path[i] = *v;
  return gain;
}

/* Move vertex i: towards the straight line between its neighbours, then aside along each axis. */
static f64 move(u32 i) {
  const Point *a = &path[i - 1], *b = &path[i + 1];
  f64 base = apart(a, b), share = 0.5, gained = 0;
  if (base > 1e-9) {
    share = 0;
    for (u32 k = 0; k < 3; k++) share += (path[i].at[k] - a->at[k]) * (b->at[k] - a->at[k]);
    share = low(high(share / base / base, 0), 1);
  }
  Point foot = between(a, b, share);
  for (f64 part = 1; part > 0.01; part /= 2) {
    Point v = between(&path[i], &foot, part);
    f64 gain = try_at(i, &v);
    gained += gain;
    if (gain > 0) break;
  }
  for (f64 step = 0.8; step > 0.04; step /= 2)
    for (u32 k = 0; k < 3; k++) {
      f64 best = 0;
      Point ahead = path[i], back = path[i];
      ahead.at[k] += step;
      back.at[k] -= step;
      /* The better of the two ways first, so that left and right are alike. */
      int turned = length_at(i, &back) < length_at(i, &ahead);
      best = try_at(i, turned ? &back : &ahead);
      gained += best;
    }
  return gained;
}

/* Cut off the corner at vertex i, both ends of the cut equally far from it. */
static f64 split(u32 i) {
  if (size_of_path >= most_now) return 0;
  f64 reach = low(apart(&path[i - 1], &path[i]), apart(&path[i], &path[i + 1])) / 2;
  for (u32 turn = 0; turn < 6; turn++, reach /= 2) {
    if (reach < 0.05) return 0;
    Point one = between(&path[i], &path[i - 1], reach / apart(&path[i], &path[i - 1]));
    Point two = between(&path[i], &path[i + 1], reach / apart(&path[i], &path[i + 1]));
    f64 gain = 2 * reach - apart(&one, &two);
    if (gain < WORTH) return 0;
    if (!sees(&one, &two)) continue;
    for (u32 j = size_of_path; j > i; j--) path[j] = path[j - 1];
    size_of_path++;
    path[i] = one;
    path[i + 1] = two;
    return gain;
  }
  return 0;
}

EXPORT(points) u32 points(void) { return (u32)path; }

/* Take what is in the way (count, 6), the zones (count, 6), and how far a way keeps off; 0: too many zones. */
EXPORT(prepare) u32 prepare(u32 boxes_at, u32 how_many, u32 zones_at, u32 how_many_zones, f64 far, f64 near) {
  boxes = (const Range *)boxes_at; box_count = how_many;
  zones = (const Range *)zones_at; zone_count = how_many_zones;
  wide = far; close_by = near;
  return how_many_zones <= (u32)zone_most;
}

/* Which numbers of a rising line lie from one to another: the first of them, and the one behind the last. */
static void stretch(const f64 *line, u32 count, f64 from, f64 to, u32 *first, u32 *last) {
  u32 at = 0;
  while (at < count && line[at] < from) at++;
  *first = at;
  while (at < count && line[at] <= to) at++;
  *last = at;
}

static f64 square_off(const Range *box, f64 value, u32 k) {
  f64 off = beyond(box, value, k);
  return off * off;
}

#define IN_ZONE 1u
#define TOO_NEAR 2u

/* Tell which points of a grid keep off all boxes: 1, or else 0, in an array of zeros.  Where they lie along x, y and z,
 * rising, is listed one axis after the other; `spans` has the first point asked about along z and the one behind the last,
 * by x and y; `squares` has room for a number of each along z. */
EXPORT(clear_points) void clear_points(u32 lines, u32 nx, u32 ny, u32 nz, u32 spans, u32 squares, u32 out) {
  const f64 *line[3] = {(const f64 *)lines, (const f64 *)lines + nx, (const f64 *)lines + nx + ny};
  const u32 size[3] = {nx, ny, nz};
  const u32 *span = (const u32 *)spans;
  u8 *told = (u8 *)out;
  f64 *along_z = (f64 *)squares;
  for (u32 i = 0; i < zone_count + box_count; i++) {
    const Range *here = i < zone_count ? zones + i : boxes + (i - zone_count);
    f64 reach = i < zone_count ? 0 : wide;
    u32 first[3], last[3];
    for (u32 k = 0; k < 3; k++) stretch(line[k], size[k], here->low[k] - reach, here->high[k] + reach, first + k, last + k);
    for (u32 z = first[2]; z < last[2]; z++) along_z[z] = square_off(here, line[2][z], 2);
    for (u32 x = first[0]; x < last[0]; x++)
      for (u32 y = first[1]; y < last[1]; y++) {
        u8 *row = told + (x * ny + y) * nz;
        const u32 *asked = span + 2u * (x * ny + y);
        u32 from = first[2] > asked[0] ? first[2] : asked[0], to = last[2] < asked[1] ? last[2] : asked[1];
        if (from >= to) continue;
        f64 across = square_off(here, line[0][x], 0) + square_off(here, line[1][y], 1);
        for (u32 z = from; z < to; z++) {
          f64 least = row[z] & IN_ZONE ? close_by * close_by : wide * wide;
          row[z] |= i < zone_count ? IN_ZONE : across + along_z[z] < least ? TOO_NEAR : 0u;
        }
      }
  }
  for (u32 row = 0; row < nx * ny; row++)
    for (u32 z = span[2u * row]; z < span[2u * row + 1u]; z++) told[row * nz + z] = !(told[row * nz + z] & TOO_NEAR);
}

/* Is the piece between the first two points free? */
EXPORT(sight) u32 sight(void) { return (u32)sees(&path[0], &path[1]); }

/* Draw a way of so many points tight, its ends held; returns how many points it has then, 0: too many. */
EXPORT(draw) u32 draw(u32 count, u32 rounds) {
  if (count > (u32)vertex_most || count < 2) return 0;
  size_of_path = count;
  most_now = count + MORE < (u32)vertex_most ? count + MORE : (u32)vertex_most;
  for (u32 round = 0; round < rounds; round++) {
    f64 gained = 0;
    for (u32 i = 1; i + 1 < size_of_path;) {
      f64 around = length_at(i, &path[i]), base = apart(&path[i - 1], &path[i + 1]);
      /* No vertex of a flat triangle lies further off its base than this. */
      f64 off = __builtin_sqrt(high(around * around - base * base, 0)) / 2;
      if (off <= JUMP && sees(&path[i - 1], &path[i + 1])) {
        gained += around - base;
        for (u32 j = i; j + 1 < size_of_path; j++) path[j] = path[j + 1];
        size_of_path--;
        continue;
      }
      gained += move(i);
      i++;
    }
    for (u32 i = 1; i + 1 < size_of_path; i++) {
      f64 gain = split(i);
      gained += gain;
      if (gain > 0) i++;
    }
    if (gained < 0.01) break;
  }
  return size_of_path;
}
