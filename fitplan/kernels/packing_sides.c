/* Complete search over shapes that are unions of boxes, built to confirm the search by order (packing_places.c) and sharing
 * nothing with it.
 *
 * What is known of the items' places is a matrix for each axis: the least difference of two items' offsets, closed under
 * addition (a difference bound matrix; the origin is one of its points, so ranges are in it, too).  Two boxes must lie side
 * by side along one of six directions; which of them are still possible is read off the matrix, so a chain over other items
 * rules a direction out.  One possible direction is taken at once.  A node gives an item one of its free boxes of offsets,
 * or decides the direction for two boxes, whichever leaves fewer ways; positions are never enumerated. */
#include "kernel.h"

#define ITEMS 64
#define UNKNOWN (-0x20000000)
LIMIT(item_most, ITEMS)

typedef struct { i32 lo[3], hi[3]; } Box;
typedef struct { i32 variant, space, boxes, solid, whole; Box at, round; } Option; /* whole: solids and rooms; round: of all */
typedef struct {
  i32 kind; /* 0: an item's options, 1: a direction for two boxes */
  i32 one, two, next, ways;
  i32 gap[6];
} Frame;

static const Option *options;
static const Box *boxes;
static const i32 *first_option, *option_n; /* per item */
static const i32 *same;                    /* per item: the identical item before it, or -1 */
static i32 n, width, level, level_most, spent;
static i64 nodes;
static Frame *frames;
static i32 *matrices, *chosen; /* per level: three matrices; each item's option, or -1 */

#define M(at, axis) (matrices + ((i64)(at) * 3 + (axis)) * width * width)
#define CHOSEN(at) (chosen + (i64)(at) * n)
/* The least of x[j] - x[i]; point 0 is the origin, item k is point k + 1. */
#define D(at, axis, i, j) (M(at, axis)[(i) * width + (j)])

/* Put x[q] - x[p] >= least into a matrix and close it; 0 when that contradicts. */
static int tell(i32 at, i32 axis, i32 p, i32 q, i32 least) {
  i32 *m = M(at, axis);
  if (m[p * width + q] >= least) return 1;
  if (m[q * width + p] + least > 0) return 0;
  const i32 *after = m + q * width;
  STEPS(width / 2);
  for (i32 i = 0; i < width; i++) {
    i32 *row = m + i * width, reach = row[p];
    if (reach == UNKNOWN) continue;
    STEPS(width / 4);
    reach += least;
    for (i32 j = 0; j < width; j++)
      if (after[j] != UNKNOWN && reach + after[j] > row[j]) row[j] = reach + after[j];
  }
  return 1;
}

/* The directions in which box a of item i may lie beside box b of item j, as bits: 2k: i first along k, 2k + 1: j first;
 * 64: they surely lie apart. */
static i32 directions(i32 at, i32 i, i32 j, const Box *a, const Box *b, i32 *gap) {
  i32 may = 0;
  STEPS(2);
  for (int k = 0; k < 3; k++) {
    i32 there = D(at, k, i + 1, j + 1), back = D(at, k, j + 1, i + 1);
    gap[2 * k] = a->hi[k] - b->lo[k], gap[2 * k + 1] = b->hi[k] - a->lo[k];
    if (there >= gap[2 * k] || back >= gap[2 * k + 1]) return 64;
    if (back + gap[2 * k] <= 0) may |= 1 << (2 * k);
    if (there + gap[2 * k + 1] <= 0) may |= 2 << (2 * k);
  }
  return may;
}

/* Whether two boxes overlap when all items lie at their low ends. */
static int overlap(i32 at, i32 i, i32 j, const Box *a, const Box *b) {
  for (int k = 0; k < 3; k++) {
    i32 x = D(at, k, 0, i + 1), y = D(at, k, 0, j + 1);
    if (x + a->hi[k] <= y + b->lo[k] || y + b->hi[k] <= x + a->lo[k]) return 0;
  }
  return 1;
}

/* Take every direction that is the only one left.  0: dead.  `ask` gets two boxes that overlap at the low ends with the
 * fewest directions; ask->ways = 7 when none do. */
static int take_forced(i32 at, Frame *ask) {
  const i32 *own = CHOSEN(at);
  for (int more = 1; more;) {
    more = 0, ask->ways = 7;
    for (i32 i = 1; i < n; i++) {
      if (own[i] < 0) continue;
      const Option *p = &options[own[i]];
      for (i32 j = 0; j < i; j++) {
        if (own[j] < 0 || options[own[j]].space != p->space) continue;
        const Option *q = &options[own[j]];
        int far = 0; /* where the boxes round both lie apart, so do all in them */
        STEPS(1);
        for (int k = 0; k < 3; k++)
          far |= D(at, k, i + 1, j + 1) >= p->round.hi[k] - q->round.lo[k] || D(at, k, j + 1, i + 1) >= q->round.hi[k] - p->round.lo[k];
        if (far) continue;
        for (i32 a = 0; a < p->whole; a++)
          for (i32 b = 0; b < (a < p->solid ? q->whole : q->solid); b++) {
            i32 gap[6], may = directions(at, i, j, &boxes[p->boxes + a], &boxes[q->boxes + b], gap);
            if (may == 64) continue;
            if (!may) return 0;
            if (!(may & (may - 1))) {
              i32 side = __builtin_ctz((u32)may), from = side & 1 ? j : i, to = side & 1 ? i : j;
              if (!tell(at, side >> 1, from + 1, to + 1, gap[side])) return 0;
              more = 1;
              continue;
            }
            i32 ways = __builtin_popcount((u32)may);
            if (ways >= ask->ways || !overlap(at, i, j, &boxes[p->boxes + a], &boxes[q->boxes + b])) continue;
            ask->kind = 1, ask->one = i, ask->two = j, ask->ways = ways, ask->next = 0;
            for (int k = 0; k < 6; k++) ask->gap[k] = gap[k];
          }
      }
    }
  }
  return 1;
}

/* Whether an item may take an option beside all that lie: some direction is left for any two boxes. */
static int may_take(i32 at, i32 item, const Option *o) {
  const i32 *own = CHOSEN(at);
  for (i32 j = 0; j < n; j++) {
    if (own[j] < 0 || j == item || options[own[j]].space != o->space) continue;
    const Option *q = &options[own[j]];
    int far = 0;
    STEPS(1);
    for (int k = 0; k < 3; k++)
      far |= o->at.lo[k] + o->round.hi[k] <= q->round.lo[k] - D(at, k, j + 1, 0) ||
             D(at, k, 0, j + 1) + q->round.hi[k] <= o->at.hi[k] + o->round.lo[k];
    if (far) continue;
    STEPS(q->whole * o->whole / 2);
    for (i32 a = 0; a < o->whole; a++)
      for (i32 b = 0; b < (a < o->solid ? q->whole : q->solid); b++) {
        const Box *mine = &boxes[o->boxes + a], *theirs = &boxes[q->boxes + b];
        int room = 0;
        for (int k = 0; k < 3 && !room; k++)
          room = o->at.lo[k] + mine->hi[k] <= theirs->lo[k] - D(at, k, j + 1, 0) ||
                 D(at, k, 0, j + 1) + theirs->hi[k] <= o->at.hi[k] + mine->lo[k];
        if (!room) return 0;
      }
  }
  return 1;
}

/* Open the frame of the present level: 0 dead, 1 opened, 2 solved. */
static int open_frame(void) {
  Frame *f = &frames[level];
  nodes++;
  if (!take_forced(level, f)) return 0;
  i32 fewest = f->ways == 7 ? 0x7fffffff : f->ways, pick = -1, waiting = 0;
  for (i32 i = 0; i < n; i++) {
    if (CHOSEN(level)[i] >= 0) continue;
    waiting = 1;
    if (same[i] >= 0 && CHOSEN(level)[same[i]] < 0) continue; /* its like comes first */
    i32 alive = 0;
    for (i32 o = 0; o < option_n[i] && alive < fewest; o++) alive += may_take(level, i, &options[first_option[i] + o]);
    if (!alive) return 0;
    if (alive < fewest) fewest = alive, pick = i;
  }
  if (pick >= 0) f->kind = 0, f->one = pick, f->next = 0;
  else if (f->ways == 7) return waiting ? 0 : 2;
  return 1;
}

/* options, boxes, and per item: first option, how many, the identical item before it.  Room for `levels` frames of
 * sides_frame_bytes(), matrices of 3 * (items + 1)^2 numbers a level and a row of items a level.
 * 0 dead, 1 or 2 to be run, -2 out of room. */
EXPORT(sides_start)
i32 sides_start(u32 option_rows, u32 box_rows, u32 firsts, u32 counts, u32 twins, i32 items, i32 levels, u32 frame_space, u32 matrix_space,
                u32 chosen_space) {
  options = (const Option *)option_rows, boxes = (const Box *)box_rows, first_option = (const i32 *)firsts;
  option_n = (const i32 *)counts, same = (const i32 *)twins, n = items, width = items + 1, level_most = levels;
  frames = (Frame *)frame_space, matrices = (i32 *)matrix_space, chosen = (i32 *)chosen_space;
  level = 0, nodes = 0, spent = items > item_most || levels < 1;
  if (spent) return -2;
  for (i32 i = 0; i < n; i++) CHOSEN(0)[i] = -1;
  for (int axis = 0; axis < 3; axis++)
    for (i32 i = 0; i < width; i++)
      for (i32 j = 0; j < width; j++) D(0, axis, i, j) = i == j ? 0 : UNKNOWN;
  return open_frame();
}

/* Run some steps: 1 solved, 0 exhausted, -1 more to do, -2 out of room, and so from then on: a branch that was not followed
 * is never forgotten. */
EXPORT(sides_run) i32 sides_run(f64 more) {
  i64 stop = steps_done + (i64)more;
  while (steps_done < stop) {
    if (spent) return -2;
    if (level < 0) return 0;
    Frame *f = &frames[level];
    if (f->next >= (f->kind ? 6 : option_n[f->one])) { level--; continue; }
    if (level + 1 >= level_most) return spent = 1, -2;
    i32 step = f->next++, at = level + 1, good = 1;
    const Option *o = 0;
    if (!f->kind) {
      o = &options[first_option[f->one] + step];
      if (same[f->one] >= 0 && first_option[f->one] + step < CHOSEN(level)[same[f->one]]) continue;
      if (!may_take(level, f->one, o)) continue;
    }
    __builtin_memcpy(M(at, 0), M(level, 0), (u32)(3 * width * width) * sizeof(i32));
    __builtin_memcpy(CHOSEN(at), CHOSEN(level), (u32)n * sizeof(i32));
    STEPS(width * width / 2);
    if (f->kind) {
      /* The directions before it are denied, so that no packing is met twice. */
      for (i32 k = 0; k <= step && good; k++) {
        i32 from = (k & 1 ? f->two : f->one) + 1, to = (k & 1 ? f->one : f->two) + 1;
        good = k < step ? tell(at, k >> 1, to, from, 1 - f->gap[k]) : tell(at, k >> 1, from, to, f->gap[k]);
      }
    } else {
      i32 i = f->one;
      CHOSEN(at)[i] = first_option[i] + step;
      for (int k = 0; k < 3 && good; k++) good = tell(at, k, 0, i + 1, o->at.lo[k]) && tell(at, k, i + 1, 0, -o->at.hi[k]);
      /* Identical items: in the order of their options, and of x within one. */
      if (good && same[i] >= 0 && CHOSEN(at)[same[i]] == CHOSEN(at)[i]) good = tell(at, 0, same[i] + 1, i + 1, 0);
    }
    if (!good) continue;
    level = at;
    int state = open_frame();
    if (state == 2) return 1;
    if (!state) level--;
  }
  return level < 0 ? 0 : -1;
}

EXPORT(sides_nodes) f64 sides_nodes(void) { return (f64)nodes; }
EXPORT(sides_frame_bytes) i32 sides_frame_bytes(void) { return (i32)sizeof(Frame); }

/* Write the packing that was found, a row an item: option, x, y, z. */
EXPORT(sides_places) void sides_places(u32 out) {
  i32 *row = (i32 *)out;
  for (i32 i = 0; i < n; i++, row += 4) {
    row[0] = CHOSEN(level)[i];
    for (int k = 0; k < 3; k++) row[1 + k] = D(level, k, 0, i + 1);
  }
}
