/* The lowest point of a closed box that no open box holds: a plain sweep, to confirm that a part has no place.
 *
 * Where any point is free one can be pushed down along x, then y, then z, again and again, until each coordinate
 * stands at the low end of the box or at the upper face of an open box. So few values of each are looked at, in
 * order; at each x and y the open boxes that hold them are gone through from below. No search shares this code. */
#include "kernel.h"

typedef struct { i32 lo[3], hi[3]; } Box;

/* Add to open boxes (n) the offsets at which a shape of `owns` boxes meets any of `count` that stand; returns how many. */
EXPORT(point_meets)
i32 point_meets(u32 standing, i32 count, u32 shape, i32 owns, u32 opened, i32 n) {
  const Box *stands = (const Box *)standing, *own = (const Box *)shape;
  Box *open = (Box *)opened + n;
  STEPS((i64)count * owns);
  for (i32 j = 0; j < owns; j++)
    for (i32 i = 0; i < count; i++, open++)
      for (int a = 0; a < 3; a++) open->lo[a] = stands[i].lo[a] - own[j].hi[a], open->hi[a] = stands[i].hi[a] - own[j].lo[a];
  return n + count * owns;
}

static int within(const Box *small, const Box *large) {
  for (int a = 0; a < 3; a++)
    if (small->lo[a] < large->lo[a] || small->hi[a] > large->hi[a]) return 0;
  return 1;
}

static f64 volume(const Box *box) {
  return (f64)(box->hi[0] - box->lo[0]) * (f64)(box->hi[1] - box->lo[1]) * (f64)(box->hi[2] - box->lo[2]);
}

/* Most of what is small lies within one of so many of the largest. */
#define LARGEST 8

/* Leave of n boxes those that lie in none of the largest; returns how many. */
static i32 drop_held(Box *box, i32 n) {
  for (i32 k = 0; k < LARGEST && k < n; k++) {
    i32 best = k;
    for (i32 i = k + 1; i < n; i++)
      if (volume(&box[i]) > volume(&box[best])) best = i;
    Box large = box[best];
    box[best] = box[k], box[k] = large;
    i32 kept = k + 1;
    for (i32 i = k + 1; i < n; i++)
      if (!within(&box[i], &large)) box[kept++] = box[i];
    n = kept;
  }
  return n;
}

/* Sort boxes by their low end along z, in place: a heap. */
static void by_low_end(Box *box, i32 n) {
  for (i32 end = n, first = n / 2; end > 1;) {
    Box moved;
    if (first) moved = box[--first];
    else moved = box[--end], box[end] = box[0];
    i32 at = first;
    for (i32 child = 2 * at + 1; child < end; child = 2 * at + 1) {
      if (child + 1 < end && box[child].lo[2] < box[child + 1].lo[2]) child++;
      if (box[child].lo[2] <= moved.lo[2]) break;
      box[at] = box[child], at = child;
    }
    box[at] = moved;
  }
}

/* The low end and the upper faces within a range, each once, rising; returns how many. */
static i32 values_of(i32 *value, const Box *box, i32 n, i32 axis, i32 low, i32 high) {
  i32 many = 1;
  value[0] = low;
  for (i32 i = 0; i < n; i++) {
    i32 face = box[i].hi[axis], first = 0, last = many;
    if (face <= low || face > high) continue;
    while (first < last) {
      i32 middle = (first + last) / 2;
      if (value[middle] < face) first = middle + 1; else last = middle;
    }
    if (first < many && value[first] == face) continue;
    for (i32 k = many++; k > first; k--) value[k] = value[k - 1];
    value[first] = face;
  }
  return many;
}

/* Find the lowest point, x before y before z, of the closed box `room` that none of n open boxes holds.
 *
 * `scratch` has room for 2 n boxes and 2 n + 2 numbers. Writes the point to `out` and returns 1; 0: there is none;
 * -1: more than `most` steps would be needed. */
EXPORT(lowest_point)
i32 lowest_point(u32 opened, i32 n, u32 room_at, u32 scratch, f64 most, u32 out) {
  const Box *open = (const Box *)opened, *room = (const Box *)room_at;
  Box *near = (Box *)scratch, *beside = near + n;
  i32 *xs = (i32 *)(beside + n), *ys = xs + n + 1, *point = (i32 *)out, count = 0;
  i64 stop = steps_done + (i64)most;
  STEPS(n);
  for (i32 i = 0; i < n; i++) {
    int far = 0;
    for (int a = 0; a < 3; a++) far |= open[i].lo[a] >= room->hi[a] || open[i].hi[a] <= room->lo[a];
    if (far) continue;
    near[count] = open[i];
    for (int a = 0; a < 3; a++) {
      if (near[count].lo[a] < room->lo[a]) near[count].lo[a] = room->lo[a] - 1;
      if (near[count].hi[a] > room->hi[a]) near[count].hi[a] = room->hi[a] + 1;
    }
    count++;
  }
  count = drop_held(near, count);
  by_low_end(near, count);
  i32 across = values_of(xs, near, count, 0, room->lo[0], room->hi[0]);
  for (i32 i = 0; i < across; i++) {
    i32 some = 0;
    STEPS(count);
    for (i32 k = 0; k < count; k++)
      if (near[k].lo[0] < xs[i] && near[k].hi[0] > xs[i]) beside[some++] = near[k];
    i32 along = values_of(ys, beside, some, 1, room->lo[1], room->hi[1]);
    for (i32 j = 0; j < along; j++) {
      i32 z = room->lo[2];
      STEPS(some);
      for (i32 k = 0; k < some && beside[k].lo[2] < z; k++)
        if (beside[k].hi[2] > z && beside[k].lo[1] < ys[j] && beside[k].hi[1] > ys[j]) z = beside[k].hi[2];
      if (z <= room->hi[2]) return point[0] = xs[i], point[1] = ys[j], point[2] = z, 1;
    }
    if (steps_done > stop) return -1;
  }
  return 0;
}
