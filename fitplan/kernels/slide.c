/* Straight moves of a point past open boxes of offsets, and which closed boxes of offsets touch.
 *
 * Boxes lie column by column: all lower edges along x, y, z, then all upper ones.  Directions are numbered
 * +x, -x, +y, -y, +z, -z, so that a number halved is an axis.  Offsets stay far below 2^30. */
#include "kernel.h"

#define FAR 99999 /* nothing in a vehicle is reached so far away */

typedef struct { const i32 *low[3], *high[3]; u32 count; } Rows;

static Rows all;
static i32 out, leave;

static Rows rows_at(u32 rows, u32 n) {
  const i32 *at = (const i32 *)rows;
  Rows found = {.count = n};
  for (u32 axis = 0; axis < 3; axis++) found.low[axis] = at + axis * n, found.high[axis] = at + (axis + 3) * n;
  return found;
}

/* The rows among all that end after 0 along an axis, or begin before it, or both; their edges go to `into`. */
static Rows some(i32 *into, i32 axis, i32 after, i32 before) {
  Rows found = {.count = 0};
  u32 n = all.count, kept = 0;
  for (u32 a = 0; a < 3; a++) found.low[a] = into + a * n, found.high[a] = into + (a + 3) * n;
  STEPS(n);
  for (u32 i = 0; i < n; i++) {
    for (u32 a = 0; a < 3; a++) into[a * n + kept] = all.low[a][i], into[(a + 3) * n + kept] = all.high[a][i];
    kept += (!after | (all.high[axis][i] > 0)) & (!before | (all.low[axis][i] < 0));
  }
  found.count = kept;
  return found;
}

/* Whether the point lies within a row to begin with. */
static i32 overlaps_at_rest(void) {
  i32 met = 0;
  STEPS(all.count);
  for (u32 i = 0; i < all.count; i++)
    met |= (all.low[0][i] < 0) & (all.high[0][i] > 0) & (all.low[1][i] < 0) & (all.high[1][i] > 0) & (all.low[2][i] < 0) &
           (all.high[2][i] > 0);
  return met;
}

/* Whether the way out is free from a point to infinity. */
static i32 is_open(const i32 *p) {
  i32 axis = out / 2, a = (axis + 1) % 3, b = (axis + 2) % 3, met = 0;
  const i32 *al = all.low[a], *ah = all.high[a], *bl = all.low[b], *bh = all.high[b];
  STEPS(all.count);
  if (out & 1)
    for (u32 i = 0; i < all.count; i++)
      met |= (all.low[axis][i] < p[axis]) & (al[i] < p[a]) & (ah[i] > p[a]) & (bl[i] < p[b]) & (bh[i] > p[b]);
  else
    for (u32 i = 0; i < all.count; i++)
      met |= (all.high[axis][i] > p[axis]) & (al[i] < p[a]) & (ah[i] > p[a]) & (bl[i] < p[b]) & (bh[i] > p[b]);
  return !met;
}

/* How far the point goes in a direction before it touches one of some rows. */
static i32 room(const Rows *rows, const i32 *p, i32 way) {
  i32 axis = way / 2, a = (axis + 1) % 3, b = (axis + 2) % 3, least = FAR;
  const i32 *al = rows->low[a], *ah = rows->high[a], *bl = rows->low[b], *bh = rows->high[b];
  const i32 *edge = way & 1 ? rows->high[axis] : rows->low[axis];
  i32 sign = way & 1 ? -1 : 1;
  STEPS(rows->count);
  for (u32 i = 0; i < rows->count; i++) {
    i32 gap = (edge[i] - p[axis]) * sign;
    i32 near = (al[i] < p[a]) & (ah[i] > p[a]) & (bl[i] < p[b]) & (bh[i] > p[b]) & (gap >= 0) & (gap < least);
    least = near ? gap : least;
  }
  return least;
}

/* How far to go at least until none of some rows ahead is in the way out, whatever stands between; more than `most`
 * where that is farther. */
static i32 first_open(const Rows *rows, const i32 *p, i32 way, i32 most) {
  i32 axis = way / 2, along = out / 2, third = 3 - axis - along, here = p[axis];
  const i32 *tl = rows->low[third], *th = rows->high[third], *wl = rows->low[axis], *wh = rows->high[axis];
  for (;;) {
    i32 next = here;
    STEPS(rows->count);
    for (u32 i = 0; i < rows->count; i++) {
      i32 ahead = out & 1 ? rows->low[along][i] < p[along] : rows->high[along][i] > p[along];
      i32 over = ahead & (tl[i] < p[third]) & (th[i] > p[third]) & (wl[i] < here) & (wh[i] > here);
      if (way & 1) next = (over & (wl[i] < next)) ? wl[i] : next;
      else next = (over & (wh[i] > next)) ? wh[i] : next;
    }
    i32 gone = next > p[axis] ? next - p[axis] : p[axis] - next;
    if (next == here || gone > most) return gone;
    here = next;
  }
}

static void step(i32 *p, i32 way, i32 far) { p[way / 2] += way & 1 ? -far : far; }

/* The last move, out of the hull. */
static i32 last_move(const i32 *p) {
  i32 done = out & 1 ? -p[out / 2] : p[out / 2];
  return leave - done > 1 ? leave - done : 1;
}

/* The shortest way of one more move and the last: its length, its direction in `taken` and how far that goes;
 * -1 without.
 *
 * `ahead` holds at least the rows that may be in the way out, `beside` those that may be in the way of the move. */
static i32 one_more(const Rows *ahead, const Rows *beside, const i32 *p, i32 not_along, u32 ways, i32 turn, i32 *taken,
                    i32 *far) {
  i32 best = -1;
  for (i32 way = 0; way < 6; way++) {
    if (!(ways >> way & 1) || way / 2 == out / 2 || way / 2 == not_along) continue;
    i32 most = room(beside, p, way), at[3] = {p[0], p[1], p[2]};
    if (turn > most) continue;
    step(at, way, turn);
    i32 distance = turn + first_open(ahead, at, way, most - turn);
    if (distance > most) continue;
    i32 end[3] = {p[0], p[1], p[2]};
    step(end, way, distance);
    i32 length = distance + last_move(end);
    if (best < 0 || length < best) best = length, *taken = way, *far = distance;
  }
  return best;
}

/* Sort numbers upwards: an insertion into what is sorted would be slow for many, so halves are sifted (heap). */
static void sift(i32 *line, u32 from, u32 n) {
  for (u32 child; (child = 2 * from + 1) < n; from = child) {
    if (child + 1 < n && line[child + 1] > line[child]) child++;
    if (line[child] <= line[from]) return;
    i32 kept = line[child];
    line[child] = line[from], line[from] = kept;
  }
}

static void sort(i32 *line, u32 n) {
  for (u32 i = n / 2; i-- > 0;) sift(line, i, n);
  for (u32 i = n; i-- > 1;) {
    i32 kept = line[i];
    line[i] = line[0], line[0] = kept;
    sift(line, 0, i);
  }
}

#define LARGEST 8

/* Leave only rows that lie within none of the few largest: what they forbid is forbidden anyway, and of a part's
 * boxes against a body's half do.  The others go to `into`, which has room for 6 numbers a row and 1 more. */
static void leave_out_those_within(i32 *into) {
  u32 n = all.count, kept = 0;
  f32 *size = (f32 *)(into + 6 * n);
  for (u32 i = 0; i < n; i++)
    size[i] = (f32)(all.high[0][i] - all.low[0][i]) * (f32)(all.high[1][i] - all.low[1][i]) * (f32)(all.high[2][i] - all.low[2][i]);
  STEPS(3 * n);
  i32 low[3][LARGEST], high[3][LARGEST];
  u32 holders = n < LARGEST ? n : LARGEST;
  for (u32 k = 0; k < holders; k++) {
    u32 best = 0;
    for (u32 i = 1; i < n; i++) best = size[i] > size[best] ? i : best;
    for (u32 a = 0; a < 3; a++) low[a][k] = all.low[a][best], high[a][k] = all.high[a][best];
    size[best] = -1; /* kept whatever it lies in */
  }
  for (u32 i = 0; i < n; i++) {
    i32 held = 0;
    for (u32 k = 0; k < holders; k++)
      held |= (all.low[0][i] >= low[0][k]) & (all.high[0][i] <= high[0][k]) & (all.low[1][i] >= low[1][k]) &
              (all.high[1][i] <= high[1][k]) & (all.low[2][i] >= low[2][k]) & (all.high[2][i] <= high[2][k]);
    for (u32 a = 0; a < 3; a++) into[a * n + kept] = all.low[a][i], into[(a + 3) * n + kept] = all.high[a][i];
    kept += !held | (size[i] <= 0); /* what is flat lies within its own edge and forbids none */
  }
  for (u32 a = 0; a < 3; a++) all.low[a] = into + a * n, all.high[a] = into + (a + 3) * n;
  all.count = kept;
}

/* Leave each value of sorted ones once. */
static u32 distinct(i32 *line, u32 n) {
  u32 kept = 0;
  for (u32 i = 0; i < n; i++)
    if (!kept || line[i] != line[kept - 1]) line[kept++] = line[i];
  return kept;
}

static u32 rank_of(const i32 *line, u32 n, i32 value) {
  u32 low = 0;
  while (low < n) {
    u32 middle = (low + n) / 2;
    if (line[middle] < value) low = middle + 1;
    else n = middle;
  }
  return low;
}

/* Whether there is any offset across from which the way out is free, once the point is so far out.
 *
 * Each coordinate and each gap between two is a line of a grid; open boxes cover what lies within them.  What lies at
 * the very edge of all boxes is outside the outline of the opening, not free.  `scratch` has room for 19 n + 4
 * numbers. */
EXPORT(passes)
i32 passes(u32 rows, u32 n, i32 way_out, i32 at, u32 scratch) {
  all = rows_at(rows, n);
  i32 axis = way_out / 2, one = axis == 0, other = axis == 2 ? 1 : 2;
  i32 *ahead = (i32 *)scratch, *u = ahead + n, *v = u + 2 * n, *begin = v + 2 * n, *end = begin + 4 * n + 1;
  i32 *next_begun = end + 4 * n + 1, *next_ended = next_begun + n, *change = next_ended + n;
  u32 count = 0;
  STEPS(n);
  for (u32 i = 0; i < n; i++) {
    ahead[count] = (i32)i;
    count += way_out & 1 ? all.low[axis][i] < at : all.high[axis][i] > at;
  }
  if (!count) return 1;
  for (u32 k = 0; k < count; k++) {
    i32 i = ahead[k];
    u[2 * k] = all.low[one][i], u[2 * k + 1] = all.high[one][i];
    v[2 * k] = all.low[other][i], v[2 * k + 1] = all.high[other][i];
  }
  sort(u, 2 * count), sort(v, 2 * count);
  u32 long_ = distinct(u, 2 * count), wide = distinct(v, 2 * count);
  for (u32 line = 0; line < 2 * long_; line++) begin[line] = end[line] = -1;
  for (u32 line = 0; line < 2 * wide; line++) change[line] = 0;
  for (u32 k = 0; k < count; k++) {
    u32 from = 2 * rank_of(u, long_, all.low[one][ahead[k]]) + 1, to = 2 * rank_of(u, long_, all.high[one][ahead[k]]);
    next_begun[k] = begin[from], begin[from] = (i32)k;
    next_ended[k] = end[to], end[to] = (i32)k;
  }
  for (u32 line = 1; line + 2 < 2 * long_; line++) {
    for (i32 sign = -1; sign < 2; sign += 2)
      for (i32 k = sign < 0 ? end[line] : begin[line]; k >= 0; k = sign < 0 ? next_ended[k] : next_begun[k]) {
        change[2 * rank_of(v, wide, all.low[other][ahead[k]]) + 1] += sign;
        change[2 * rank_of(v, wide, all.high[other][ahead[k]])] -= sign;
      }
    i32 covers = 0;
    STEPS(2 * wide);
    for (u32 place = 1; place + 2 < 2 * wide; place++) {
      covers += change[place];
      if (!covers) return 1;
    }
  }
  return 0;
}

/* Look for straight moves out, the last one in direction `way_out`, `most` of them at most (up to 3).
 *
 * `firsts` are the directions (bits) that the first of two moves may take, and `turn` how far it goes at least.
 * `scratch` has room for 20 `n` numbers.  Moves go to `moves`, a direction and a distance each.  Returns how many
 * there are; 0 for none, as where the point lies within a row. */
EXPORT(slide_out)
i32 slide_out(u32 rows, u32 n, i32 way_out, i32 until, i32 most, u32 firsts, i32 turn, u32 scratch, u32 moves) {
  all = rows_at(rows, n);
  out = way_out, leave = until;
  i32 *found = (i32 *)moves, *stops = (i32 *)scratch, *kept = stops + n, start[3] = {0, 0, 0};
  if (overlaps_at_rest()) return 0;
  if ((firsts >> out & 1) && is_open(start)) {
    found[0] = out, found[1] = last_move(start);
    return 1;
  }
  if (most < 2) return 0;
  i32 taken = 0, far = 0;
  if (one_more(&all, &all, start, -1, firsts, turn, &taken, &far) >= 0) {
    found[0] = taken, found[1] = far;
    i32 at[3] = {0, 0, 0};
    step(at, taken, far);
    found[2] = out, found[3] = last_move(at);
    return 2;
  }
  if (most < 3) return 0;
  leave_out_those_within(kept + 12 * n);
  i32 best = -1;
  for (i32 first = 0; first < 6; first++) {
    i32 axis = first / 2, along = out / 2, sign = first & 1 ? -1 : 1, most_far = room(&all, start, first);
    /* After a move across, what is behind the part is never in its way, and what is not beside it not in the next. */
    Rows ahead = axis == along ? all : some(kept, along, !(out & 1), out & 1);
    Rows beside = axis == along ? all : some(kept + 6 * n, along, 1, 1);
    const i32 *edges = first & 1 ? all.low[axis] : all.high[axis];
    u32 places = 0;
    for (u32 i = 0; i < all.count; i++) {
      i32 distance = edges[i] * sign;
      if (distance > 0 && distance <= most_far) stops[places++] = distance;
    }
    sort(stops, places);
    for (u32 i = 0; i < places; i++) {
      if (i && stops[i] == stops[i - 1]) continue;
      if (best >= 0 && stops[i] >= best) break;
      i32 at[3] = {0, 0, 0};
      step(at, first, stops[i]);
      i32 more = one_more(&ahead, &beside, at, axis, 63u, 0, &taken, &far);
      if (more < 0) continue;
      if (best < 0 || stops[i] + more < best) {
        best = stops[i] + more;
        found[0] = first, found[1] = stops[i], found[2] = taken, found[3] = far;
        step(at, taken, far);
        found[4] = out, found[5] = last_move(at);
      }
      break;
    }
  }
  return best < 0 ? 0 : 3;
}

/* Go from closed box to closed box that touch or overlap, nearest first, until one that is a goal is reached.
 *
 * `before` (n) i32 holds -1 for boxes to begin with and -2 for all others; it is filled with the box that each
 * was reached from.  `goal` (n) u8; none: all that is joined is gone through.  `scratch` has room for 2 n
 * numbers.  Returns the first goal, or -1. */
EXPORT(go_through)
i32 go_through(u32 rows, u32 n, u32 before_at, u32 goal_at, u32 scratch) {
  all = rows_at(rows, n);
  const i32 *const *low = all.low, *const *high = all.high;
  i32 *before = (i32 *)before_at;
  const u8 *goal = (const u8 *)goal_at;
  u32 *queue = (u32 *)scratch, *apart = queue + n, waiting = 0, left = 0;
  for (u32 i = 0; i < n; i++)
    if (before[i] == -1) queue[waiting++] = i;
    else apart[left++] = i;
  u32 level = 0, next = waiting;
  while (level < waiting) {
    for (u32 k = level; k < next; k++)
      if (goal[queue[k]]) return (i32)queue[k];
    for (; level < next; level++) {
      u32 box = queue[level], kept = 0;
      i32 x0 = low[0][box], y0 = low[1][box], z0 = low[2][box], x1 = high[0][box], y1 = high[1][box], z1 = high[2][box];
      STEPS(left);
      for (u32 k = 0; k < left; k++) {
        u32 i = apart[k];
        i32 met = (low[0][i] <= x1) & (high[0][i] >= x0) & (low[1][i] <= y1) & (high[1][i] >= y0) & (low[2][i] <= z1) & (high[2][i] >= z0);
        if (met) before[i] = (i32)box, queue[waiting++] = i;
        else apart[kept++] = i;
      }
      left = kept;
    }
    next = waiting;
  }
  return -1;
}

/* Which of m boxes, `own` (m, 6), share room with any of the n rows; touching is none.  `met` (m) u8 tells. */
EXPORT(share_room)
void share_room(u32 own_at, u32 m, u32 rows, u32 n, u32 met_at) {
  all = rows_at(rows, n);
  const i32 *own = (const i32 *)own_at;
  u8 *met = (u8 *)met_at;
  STEPS((i64)m * n);
  for (u32 k = 0; k < m; k++, own += 6) {
    i32 found = 0, full = (own[0] < own[3]) & (own[1] < own[4]) & (own[2] < own[5]);
    for (u32 i = 0; i < (full ? n : 0); i++) {
      i32 here = 1;
      for (u32 a = 0; a < 3; a++)
        here &= (all.low[a][i] < own[a + 3]) & (all.high[a][i] > own[a]) & (all.low[a][i] < all.high[a][i]);
      found |= here;
    }
    met[k] = (u8)found;
  }
}
