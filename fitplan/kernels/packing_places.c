/* Places of shapes that are unions of boxes, in whole numbers.
 *
 * `places_leave` takes open boxes away from a union of closed boxes; `places_fill` is the quick search that
 * lays items at the corners of what is left of their domains; `places_order_*` is the complete search, which
 * branches on who lies on which side of whom and never on a coordinate. */
#include "kernel.h"

typedef struct { i32 lo[3], hi[3]; } Box;
typedef struct { i32 type, space, cost, solids, solid_count, rooms, room_count, pieces, piece_count; Box whole; } Variant; /* whole: round all boxes */
typedef struct { i32 count, variants, variant_count; } Type;

#define MOST_ITEMS 64
#define MOST_WIDTH 64
LIMIT(items, MOST_ITEMS)

static int overlaps(const Box *closed, const Box *open) {
  return closed->lo[0] < open->hi[0] && closed->hi[0] > open->lo[0] && closed->lo[1] < open->hi[1] &&
         closed->hi[1] > open->lo[1] && closed->lo[2] < open->hi[2] && closed->hi[2] > open->lo[2];
}

static int inside(const Box *small, const Box *large) {
  for (int a = 0; a < 3; a++)
    if (small->lo[a] < large->lo[a] || small->hi[a] > large->hi[a]) return 0;
  return 1;
}

/* Take one open box from list[0..n); returns the new length, or -1 when it would exceed `most`. */
static i32 subtract_one(Box *list, i32 n, const Box *open, i32 most) {
  i32 kept = n;
  STEPS(n);
  for (i32 k = 0; k < kept;) {
    Box rest = list[k];
    if (!overlaps(&rest, open)) { k++; continue; }
    list[k] = list[--kept];
    for (int a = 0; a < 3; a++) {
      if (rest.lo[a] <= open->lo[a]) {
        Box piece = rest;
        piece.hi[a] = open->lo[a];
        if (kept >= most) return -1;
        list[kept++] = piece;
        rest.lo[a] = open->lo[a];
      }
      if (rest.hi[a] >= open->hi[a]) {
        Box piece = rest;
        piece.lo[a] = open->hi[a];
        if (kept >= most) return -1;
        list[kept++] = piece;
        rest.hi[a] = open->hi[a];
      }
    }
  }
  return kept;
}

static i32 drop_contained(Box *list, i32 n) {
  if (n > 600) return n;
  STEPS((i64)n * n / 4);
  for (i32 i = 0; i < n; i++)
    for (i32 j = 0; j < n; j++)
      if (i != j && inside(&list[i], &list[j])) {
        list[i--] = list[--n];
        break;
      }
  return n;
}

/* ---- what open boxes leave of closed ones ---- */
typedef struct { f64 volume; Box box; } Sized;

/* The largest first, so that few boxes are split often; then any fixed order. */
static int comes_first(const Sized *one, const Sized *other) {
  if (one->volume != other->volume) return one->volume > other->volume;
  for (int a = 0; a < 3; a++)
    if (one->box.hi[a] != other->box.hi[a]) return one->box.hi[a] < other->box.hi[a];
  for (int a = 0; a < 3; a++)
    if (one->box.lo[a] != other->box.lo[a]) return one->box.lo[a] < other->box.lo[a];
  return 1;
}

/* Sort `line` (n) by merging, with as much room in `spare`; returns where the sorted ones are. */
static Sized *sorted(Sized *line, Sized *spare, i32 n) {
  STEPS(n);
  for (i32 run = 1; run < n; run *= 2) {
    for (i32 start = 0; start < n; start += 2 * run) {
      i32 i = start, middle = n - start < run ? n : start + run, j = middle, end = n - middle < run ? n : middle + run;
      for (i32 k = start; k < end; k++)
        spare[k] = i < middle && (j >= end || comes_first(&line[i], &line[j])) ? line[i++] : line[j++];
    }
    Sized *kept = line;
    line = spare, spare = kept;
  }
  return line;
}

/* Most of what is small lies within one of so many of the largest. */
#define LARGEST 6

/* Leave of n those that lie within none of the largest: they would take nothing more. Returns how many. */
static i32 without_held(Sized *line, i32 n) {
  for (i32 k = 0; k < LARGEST && k < n; k++) {
    i32 best = k, kept = k + 1;
    STEPS(n - k);
    for (i32 i = kept; i < n; i++)
      if (line[i].volume > line[best].volume) best = i;
    Sized large = line[best];
    line[best] = line[k], line[k] = large;
    for (i32 i = kept; i < n; i++)
      if (!inside(&line[i].box, &large.box)) line[kept++] = line[i];
    n = kept;
  }
  return n;
}

/* Add to open boxes (n) those at which a shape of `owns` boxes meets any of `count` that stand; returns how many. */
EXPORT(places_meet)
i32 places_meet(u32 standing, i32 count, u32 shape, i32 owns, u32 forbidden, i32 n) {
  const Box *stands = (const Box *)standing, *own = (const Box *)shape;
  Box *open = (Box *)forbidden;
  STEPS((i64)count * owns);
  for (i32 i = 0; i < count; i++)
    for (i32 j = 0; j < owns; j++, n++)
      for (int a = 0; a < 3; a++) open[n].lo[a] = stands[i].lo[a] - own[j].hi[a], open[n].hi[a] = stands[i].hi[a] - own[j].lo[a];
  return n;
}

/* Closed boxes column by column, so that many are looked at side by side; `subtract_one` does the same in one list. */
#define ABREAST 16
static i32 *lower[3], *upper[3];

/* Most lie apart along one axis: the others are looked at only where that does not do. */
static int none_met(i32 k, const Box *open) {
  i32 met[ABREAST], some = 0;
  for (i32 i = 0; i < ABREAST; i++) some |= met[i] = (lower[0][k + i] < open->hi[0]) & (upper[0][k + i] > open->lo[0]);
  if (!some) return 1;
  some = 0;
  for (i32 i = 0; i < ABREAST; i++)
    some |= met[i] & (lower[1][k + i] < open->hi[1]) & (upper[1][k + i] > open->lo[1]) & (lower[2][k + i] < open->hi[2]) &
            (upper[2][k + i] > open->lo[2]);
  return !some;
}

static Box box_at(i32 k) {
  Box box;
  for (int a = 0; a < 3; a++) box.lo[a] = lower[a][k], box.hi[a] = upper[a][k];
  return box;
}

static void set_box(i32 k, const Box *box) {
  for (int a = 0; a < 3; a++) lower[a][k] = box->lo[a], upper[a][k] = box->hi[a];
}

/* Take one open box from n closed ones; returns how many there are then, or -1 when they would exceed `most`. */
static i32 leave_one(i32 n, const Box *open, i32 most) {
  STEPS(n);
  for (i32 k = 0; k < n;) {
    if (k + ABREAST <= n && none_met(k, open)) { k += ABREAST; continue; }
    for (i32 end = k + ABREAST; k < end && k < n;) {
      Box rest = box_at(k);
      if (!overlaps(&rest, open)) { k++; continue; }
      Box last = box_at(--n);
      set_box(k, &last);
      for (int a = 0; a < 3; a++) {
        Box piece = rest;
        if (rest.lo[a] <= open->lo[a]) {
          if (n >= most) return -1;
          piece.hi[a] = rest.lo[a] = open->lo[a];
          set_box(n++, &piece);
          piece = rest;
        }
        if (rest.hi[a] >= open->hi[a]) {
          if (n >= most) return -1;
          piece.lo[a] = rest.hi[a] = open->hi[a];
          set_box(n++, &piece);
        }
      }
    }
  }
  return n;
}

/* Among more boxes than these none is looked for that lies within another. */
#define MOST_COMPARED 600
#define WORDS ((MOST_COMPARED + 63) / 64)
static u64 holders[MOST_COMPARED][WORDS]; /* of each box, a bit for each that may hold it */
static u64 upto[MOST_COMPARED][WORDS];    /* of each value, a bit for each box that has it or one before it */

/* Where a value is among sorted ones, or would be. */
static i32 rank_of(const i32 *values, i32 many, i32 value) {
  i32 low = 0;
  while (low < many) {
    i32 middle = (low + many) / 2;
    if (values[middle] < value) low = middle + 1; else many = middle;
  }
  return low;
}

/* Leave only those holders whose edge is no greater than the box's own; `flip` (-1): no less. */
static void keep_holders(const i32 *edge, i32 n, i32 flip) {
  static i32 values[MOST_COMPARED], rank[MOST_COMPARED];
  i32 many = 0, words = (n + 63) / 64;
  for (i32 i = 0; i < n; i++) {
    i32 value = edge[i] ^ flip, at = rank_of(values, many, value);
    if (at < many && values[at] == value) continue;
    for (i32 k = many++; k > at; k--) values[k] = values[k - 1];
    values[at] = value;
  }
  for (i32 r = 0; r < many; r++)
    for (i32 w = 0; w < words; w++) upto[r][w] = 0;
  for (i32 i = 0; i < n; i++) {
    rank[i] = rank_of(values, many, edge[i] ^ flip);
    upto[rank[i]][i >> 6] |= 1ull << (i & 63);
  }
  for (i32 r = 1; r < many; r++)
    for (i32 w = 0; w < words; w++) upto[r][w] |= upto[r - 1][w];
  for (i32 i = 0; i < n; i++)
    for (i32 w = 0; w < words; w++) holders[i][w] &= upto[rank[i]][w];
}

/* Drop those of n closed boxes that lie within another; returns how many there are then. */
static i32 leave_largest(i32 n) {
  if (n > MOST_COMPARED) return n;
  STEPS((i64)n * n / 4);
  static i32 order[MOST_COMPARED];
  u64 there[WORDS];
  i32 words = (n + 63) / 64;
  for (i32 w = 0; w < words; w++) there[w] = ~0ull;
  for (i32 i = 0; i < n; i++) {
    order[i] = i;
    for (i32 w = 0; w < words; w++) holders[i][w] = ~0ull;
    holders[i][i >> 6] &= ~(1ull << (i & 63)); /* itself */
  }
  for (int a = 0; a < 3; a++) keep_holders(lower[a], n, 0), keep_holders(upper[a], n, -1);
  for (i32 i = 0; i < n; i++) {
    u64 held = 0;
    for (i32 w = 0; w < words; w++) held |= holders[order[i]][w] & there[w];
    if (!held) continue;
    there[order[i] >> 6] &= ~(1ull << (order[i] & 63));
    Box last = box_at(--n);
    order[i] = order[n];
    set_box(i--, &last);
  }
  return n;
}

/* Take m open boxes from n > 0 closed ones, which lie column by column with room for `most` each.
 *
 * `scratch` has room for 2 m Sized. Returns how many closed boxes are left, -1 when they would be more than `most`. */
EXPORT(places_leave)
i32 places_leave(u32 columns, i32 n, u32 forbidden, i32 m, u32 scratch, i32 most) {
  for (int a = 0; a < 3; a++) lower[a] = (i32 *)columns + (u32)a * (u32)most, upper[a] = (i32 *)columns + (u32)(a + 3) * (u32)most;
  const Box *open = (const Box *)forbidden;
  Sized *line = (Sized *)scratch;
  Box round = box_at(0);
  for (i32 k = 1; k < n; k++)
    for (int a = 0; a < 3; a++) {
      round.lo[a] = lower[a][k] < round.lo[a] ? lower[a][k] : round.lo[a];
      round.hi[a] = upper[a][k] > round.hi[a] ? upper[a][k] : round.hi[a];
    }
  i32 near = 0;
  STEPS(m);
  for (i32 k = 0; k < m; k++) {
    if (!overlaps(&round, &open[k])) continue;
    Sized *one = &line[near++];
    one->volume = 1;
    for (int a = 0; a < 3; a++) {
      one->box.lo[a] = open[k].lo[a] < round.lo[a] ? round.lo[a] - 1 : open[k].lo[a];
      one->box.hi[a] = open[k].hi[a] > round.hi[a] ? round.hi[a] + 1 : open[k].hi[a];
      one->volume *= (f64)(one->box.hi[a] - one->box.lo[a]);
    }
  }
  if (!near) return n;
  near = without_held(line, near);
  line = sorted(line, line + near, near);
  for (i32 k = 0; k < near && n >= 0; k++)
    if (!k || !inside(&line[k].box, &line[k - 1].box)) n = leave_one(n, &line[k].box, most);
  return n < 1 ? n : leave_largest(n);
}

/* ---- the problem, set once ---- */
static const Type *types;
static const Variant *variants;
static const Box *shapes, *pieces;
static i32 type_count, variant_count, item_count;

/* 1, or 0 when there are more items than are searched. */
EXPORT(places_problem)
i32 places_problem(u32 t, i32 tn, u32 v, i32 vn, u32 s, u32 p) {
  types = (const Type *)t, variants = (const Variant *)v, shapes = (const Box *)s, pieces = (const Box *)p;
  type_count = tn, variant_count = vn, item_count = 0;
  for (i32 k = 0; k < tn; k++) item_count += types[k].count;
  return item_count <= items;
}

/* Offsets of v (open box) at which its box b overlaps box a of a thing that lies at an offset in [lo, hi] whatever that is. */
static Box no_go(const Box *a, const i32 *lo, const i32 *hi, const Box *b) {
  Box open;
  for (int k = 0; k < 3; k++) open.lo[k] = hi[k] + a->lo[k] - b->hi[k], open.hi[k] = lo[k] + a->hi[k] - b->lo[k];
  return open;
}

/* ---- quick search ---- */
static u32 state;
static u32 random_u32(void) {
  state ^= state << 13, state ^= state >> 17, state ^= state << 5;
  return state;
}

static Box *arena;
static i32 arena_size, arena_top;
static i64 tried, tried_limit;
static i32 width, noise, corner_bits, weight[3];
static i32 *chosen; /* per item placed: variant, x, y, z */
static i32 *best;
static i32 best_depth;
static i32 left[MOST_ITEMS];
#define MOST_IN_COLUMN 2048
LIMIT(in_column, MOST_IN_COLUMN)
static i32 columns[6][MOST_IN_COLUMN];
static int by_column; /* whether the boxes at hand lie there */

typedef struct { i64 score; i32 variant, at[3]; } Candidate;
typedef struct { i32 start, n; } List;

static void keep_best(i32 depth) {
  if (depth <= best_depth) return;
  best_depth = depth;
  __builtin_memcpy(best, chosen, (u32)depth * 16u);
}

/* Take from the free offsets of `their` (m boxes, room for `room`) those at which it meets `ours` at `at`, box by
 * box in row; returns how many boxes are left, -1 when they would be too many. */
static i32 less_in_rows(Box *list, i32 m, i32 room, const Variant *ours, const Variant *their, const i32 *at) {
  for (i32 a = 0; a < ours->solid_count + ours->room_count && m > 0; a++) {
    int a_room = a >= ours->solid_count;
    const Box *mine = a_room ? &shapes[ours->rooms + a - ours->solid_count] : &shapes[ours->solids + a];
    i32 upto = their->solid_count + (a_room ? 0 : their->room_count);
    for (i32 b = 0; b < upto && m > 0; b++) {
      const Box *other = b >= their->solid_count ? &shapes[their->rooms + b - their->solid_count] : &shapes[their->solids + b];
      Box open = no_go(mine, at, at, other);
      tried += 1 + m / 8;
      m = by_column ? leave_one(m, &open, room) : subtract_one(list, m, &open, room);
    }
  }
  if (m < 1) return m;
  return by_column ? leave_largest(m) : drop_contained(list, m);
}

/* The same, with many boxes column by column as long as they have room there. */
static i32 less(Box *list, i32 m, i32 room, const Variant *ours, const Variant *their, const i32 *at) {
  if (m >= ABREAST && m < in_column) {
    i64 before = tried, steps = steps_done;
    for (int a = 0; a < 3; a++) lower[a] = columns[a], upper[a] = columns[a + 3];
    for (i32 k = 0; k < m; k++) set_box(k, &list[k]);
    by_column = 1;
    i32 n = less_in_rows(list, m, room < in_column ? room : in_column, ours, their, at);
    by_column = 0;
    for (i32 k = 0; k < n; k++) list[k] = box_at(k);
    if (n >= 0 || room <= in_column) return n;
    tried = before, steps_done = steps;
  }
  return less_in_rows(list, m, room, ours, their, at);
}

/* lists: the variants' free offsets at this depth */
static i32 fill(i32 depth, const List *lists, List *spare) {
  keep_best(depth);
  if (depth == item_count) return 1;
  /* The type with the least freedom first: restricted mounts, then the big ones. */
  i32 pick = -1;
  f64 least = 0;
  for (i32 t = 0; t < type_count; t++) {
    if (!left[t]) continue;
    f64 measure = 0;
    for (i32 v = types[t].variants; v < types[t].variants + types[t].variant_count; v++)
      for (i32 k = 0; k < lists[v].n; k++) {
        const Box *box = &arena[lists[v].start + k];
        STEPS(1);
        measure += (f64)(box->hi[0] - box->lo[0] + 1) * (f64)(box->hi[1] - box->lo[1] + 1) * (f64)(box->hi[2] - box->lo[2] + 1);
      }
    if (measure == 0) return 0;
    measure /= (f64)left[t];
    if (noise) measure *= 1.0 + (f64)(random_u32() & 255) * (f64)noise / 1024.0;
    if (pick < 0 || measure < least) pick = t, least = measure;
  }
  Candidate top[MOST_WIDTH];
  i32 n = 0;
  for (i32 v = types[pick].variants; v < types[pick].variants + types[pick].variant_count; v++) {
    Box hull = shapes[variants[v].solids];
    for (i32 s = 1; s < variants[v].solid_count; s++)
      for (int a = 0; a < 3; a++) {
        const Box *box = &shapes[variants[v].solids + s];
        if (box->lo[a] < hull.lo[a]) hull.lo[a] = box->lo[a];
        if (box->hi[a] > hull.hi[a]) hull.hi[a] = box->hi[a];
      }
    for (i32 k = 0; k < lists[v].n; k++) {
      const Box *box = &arena[lists[v].start + k];
      tried++;
      Candidate c;
      c.variant = v;
      c.score = 0;
      for (int a = 0; a < 3; a++) {
        int high = (corner_bits >> a) & 1;
        c.at[a] = high ? box->hi[a] : box->lo[a];
        /* Far side of the item as seen from the corner that this run packs towards. */
        c.score += (i64)weight[a] * (high ? -(c.at[a] + hull.lo[a]) : c.at[a] + hull.hi[a]);
      }
      if (noise) c.score += (i64)(random_u32() & 1023) * noise;
      c.score += (i64)variants[v].cost * 1000000000ll;
      i32 at = n < width ? n++ : n;
      if (at == n && c.score >= top[n - 1].score) continue;
      if (at == n) at = n - 1;
      while (at > 0 && top[at - 1].score > c.score) top[at] = top[at - 1], at--;
      top[at] = c;
    }
  }
  i32 floor = arena_top;
  left[pick]--;
  for (i32 k = 0; k < n; k++) {
    i32 *mark = chosen + depth * 4;
    mark[0] = top[k].variant, mark[1] = top[k].at[0], mark[2] = top[k].at[1], mark[3] = top[k].at[2];
    const Variant *laid = &variants[top[k].variant];
    i32 good = 1;
    for (i32 t = 0; t < type_count && good; t++) {
      if (!left[t]) continue;
      i32 any = 0;
      for (i32 v = types[t].variants; v < types[t].variants + types[t].variant_count && good; v++) {
        spare[v] = lists[v];
        if (variants[v].space == laid->space && lists[v].n) {
          i32 room = arena_size - arena_top, m = lists[v].n;
          if (room < m + 64) { good = 0; tried += 1000; break; }
          Box *list = &arena[arena_top];
          __builtin_memcpy(list, &arena[lists[v].start], (u32)m * sizeof(Box));
          m = less(list, m, room, laid, &variants[v], mark + 1);
          if (m < 0) { good = 0; break; }
          spare[v].start = arena_top, spare[v].n = m;
          arena_top += m;
        }
        any += spare[v].n;
      }
      if (!any) good = 0;
    }
    keep_best(depth + 1);
    if (good && fill(depth + 1, spare, spare + variant_count)) return 1;
    arena_top = floor;
    if (tried > tried_limit) break;
  }
  left[pick]++;
  return 0;
}

/* One bounded run; returns 1 when all items are laid.  `out` and `out_best` hold item_count rows of 4 numbers;
 * lists: room for (item_count + 2) * variant_count lists. */
EXPORT(places_fill)
i32 places_fill(u32 out, u32 out_best, u32 boxes, i32 box_count, u32 lists, i32 most_width, i32 how_noisy, i32 corner, i32 wx,
                i32 wy, i32 wz, u32 seed, i32 limit) {
  chosen = (i32 *)out, best = (i32 *)out_best, arena = (Box *)boxes, arena_size = box_count, arena_top = 0;
  width = most_width < MOST_WIDTH ? most_width : MOST_WIDTH, noise = how_noisy, corner_bits = corner;
  weight[0] = wx, weight[1] = wy, weight[2] = wz, state = seed * 2654435761u + 1u, tried = 0, tried_limit = limit, best_depth = 0;
  if (!state) state = 1;
  List *first = (List *)lists;
  for (i32 t = 0; t < type_count; t++) left[t] = types[t].count;
  for (i32 v = 0; v < variant_count; v++) {
    first[v].start = arena_top, first[v].n = variants[v].piece_count;
    if (first[v].n > arena_size - arena_top) return 0; /* no room even for the start: nothing is found */
    __builtin_memcpy(&arena[arena_top], &pieces[variants[v].pieces], (u32)first[v].n * sizeof(Box));
    arena_top += first[v].n;
  }
  i32 found = fill(0, first, first + variant_count);
  return found;
}

EXPORT(places_best_depth) i32 places_best_depth(void) { return best_depth; }

/* ---- complete search by order ---- */
typedef struct { i32 from, to, axis, gap, before; } Edge; /* x[to] >= x[from] + gap; before: `strongest` without it */
typedef struct { i32 variant, piece; } Option;
typedef struct {
  i32 pair;        /* 1: choose a side for two boxes, 0: choose an option for an item */
  i32 item, other; /* the item; or the two items */
  i32 next;        /* next option or direction */
  i32 gap[6];      /* per direction: the least difference, directions are axis*2 (item first) and axis*2+1 */
  i32 edges;       /* edges when the frame was opened */
} Frame;

static Option *options;
static i32 *option_start, *option_total; /* per item */
static Frame *frames;
static Edge *edges;
static i32 edge_count, edge_most, spent; /* spent: a limit was reached, and the search proves nothing from then on */
static i32 strongest[MOST_ITEMS][MOST_ITEMS][3]; /* the largest gap of the present edges, from and to and axis; NONE: no edge */
#define NONE (-0x7fffffff)
static i32 *range;  /* per depth: item, lo xyz, hi xyz */
static i32 *laid_option; /* per depth: item -> option or -1 */
static i32 level, item_type[MOST_ITEMS];
static i64 nodes;

#define LO(d, i) (range + ((d) * item_count + (i)) * 6)
#define HI(d, i) (LO(d, i) + 3)
#define OPT(d) (laid_option + (d) * item_count)

/* Say how two items lie on one axis; 0 when there is no room for that, and the search is given up. */
static i32 add_edge(i32 from, i32 to, i32 axis, i32 gap) {
  i32 *known = &strongest[from][to][axis];
  if (*known >= gap) return 1;
  if (edge_count >= edge_most) return spent = 1, 0;
  Edge *edge = &edges[edge_count++];
  edge->from = from, edge->to = to, edge->axis = axis, edge->gap = gap, edge->before = *known;
  *known = gap;
  return 1;
}

/* Take the latest edges back. */
static void drop_edges(i32 kept) {
  while (edge_count > kept) {
    const Edge *edge = &edges[--edge_count];
    strongest[edge->from][edge->to][edge->axis] = edge->before;
  }
}

static i32 tighten(i32 d) {
  for (i32 round = 0; round <= item_count; round++) {
    i32 changed = 0;
    STEPS(edge_count + 1);
    for (i32 e = 0; e < edge_count; e++) {
      const Edge *edge = &edges[e];
      i32 *lo = LO(d, edge->to) + edge->axis, *hi = HI(d, edge->from) + edge->axis;
      i32 low = LO(d, edge->from)[edge->axis] + edge->gap, high = HI(d, edge->to)[edge->axis] - edge->gap;
      if (low > *lo) { *lo = low, changed = 1; if (low > HI(d, edge->to)[edge->axis]) return 0; }
      if (high < *hi) { *hi = high, changed = 1; if (high < LO(d, edge->from)[edge->axis]) return 0; }
    }
    if (!changed) return 1;
  }
  return 0; /* a cycle that pushes for ever */
}

static const Box *part_box(const Variant *v, i32 k) {
  return k < v->solid_count ? &shapes[v->solids + k] : &shapes[v->rooms + k - v->solid_count];
}

/* Settle forced sides until nothing changes.  Returns 0 when dead, 1 otherwise; opens in `ask` the overlap with the
 * fewest ways out (ask->next = -1 when nothing overlaps at the low ends). */
static i32 settle(i32 d, Frame *ask) {
  i32 fewest;
again:
  if (!tighten(d)) return 0;
  fewest = 7, ask->next = -1;
  for (i32 i = 0; i < item_count; i++) {
    if (OPT(d)[i] < 0) continue;
    const Variant *vi = &variants[options[OPT(d)[i]].variant];
    for (i32 j = 0; j < i; j++) {
      if (OPT(d)[j] < 0) continue;
      const Variant *vj = &variants[options[OPT(d)[j]].variant];
      if (vi->space != vj->space) continue;
      int far = 0; /* where the boxes round both lie apart, so do all in them */
      STEPS(1);
      for (int k = 0; k < 3; k++)
        far |= HI(d, i)[k] + vi->whole.hi[k] <= LO(d, j)[k] + vj->whole.lo[k] || HI(d, j)[k] + vj->whole.hi[k] <= LO(d, i)[k] + vi->whole.lo[k];
      if (far) continue;
      for (i32 a = 0; a < vi->solid_count + vi->room_count; a++) {
        const Box *ba = part_box(vi, a);
        i32 upto = a < vi->solid_count ? vj->solid_count + vj->room_count : vj->solid_count;
        for (i32 b = 0; b < upto; b++) {
          const Box *bb = part_box(vj, b);
          i32 ways = 0, only = -1, settled = 0, over = 1, gap[6];
          STEPS(2);
          for (int k = 0; k < 3 && !settled; k++) {
            /* i before j: x_j + bb.lo >= x_i + ba.hi */
            gap[2 * k] = ba->hi[k] - bb->lo[k], gap[2 * k + 1] = bb->hi[k] - ba->lo[k];
            i32 li = LO(d, i)[k], hi = HI(d, i)[k], lj = LO(d, j)[k], hj = HI(d, j)[k];
            if (hi + gap[2 * k] <= lj || hj + gap[2 * k + 1] <= li) settled = 1;
            if (li + gap[2 * k] <= hj) ways++, only = 2 * k;
            if (lj + gap[2 * k + 1] <= hi) ways++, only = 2 * k + 1;
            if (li + gap[2 * k] <= lj || lj + gap[2 * k + 1] <= li) over = 0;
          }
          if (settled) continue;
          if (!ways) return 0;
          if (ways == 1) {
            i32 from = only & 1 ? j : i, to = only & 1 ? i : j, axis = only >> 1;
            if (!add_edge(from, to, axis, gap[only])) return 0;
            if (LO(d, from)[axis] + gap[only] > LO(d, to)[axis] || HI(d, to)[axis] - gap[only] < HI(d, from)[axis]) goto again;
            continue;
          }
          if (over && ways < fewest) {
            fewest = ways;
            ask->pair = 1, ask->item = i, ask->other = j, ask->next = 0;
            for (int k = 0; k < 6; k++) ask->gap[k] = gap[k];
          }
        }
      }
    }
  }
  return 1;
}

/* Whether an option still has a point that what is surely taken by the laid items leaves. */
static i32 option_alive(i32 d, i32 o) {
  const Variant *v = &variants[options[o].variant];
  const Box *domain = &pieces[options[o].piece];
  for (i32 j = 0; j < item_count; j++) {
    if (OPT(d)[j] < 0) continue;
    const Variant *w = &variants[options[OPT(d)[j]].variant];
    if (w->space != v->space) continue;
    Box all = no_go(&w->whole, LO(d, j), HI(d, j), &v->whole);
    int free = 0; /* what leaves the boxes round both a place leaves one to all in them */
    STEPS(1);
    for (int k = 0; k < 3; k++) free |= domain->lo[k] <= all.lo[k] || domain->hi[k] >= all.hi[k];
    if (free) continue;
    for (i32 a = 0; a < w->solid_count + w->room_count; a++) {
      i32 upto = a < w->solid_count ? v->solid_count + v->room_count : v->solid_count;
      for (i32 b = 0; b < upto; b++) {
        STEPS(1);
        Box open = no_go(part_box(w, a), LO(d, j), HI(d, j), part_box(v, b));
        i32 dead = 1;
        for (int k = 0; k < 3; k++)
          if (domain->lo[k] <= open.lo[k] || domain->hi[k] >= open.hi[k]) dead = 0;
        if (dead) return 0;
      }
    }
  }
  return 1;
}

/* Open the next frame at `level`; returns 0 dead (or given up, when `spent`), 1 frame opened, 2 solved. */
static i32 open_frame(void) {
  Frame *frame = &frames[level];
  nodes++;
  if (!settle(level, frame)) return 0;
  frame->edges = edge_count;
  if (frame->next == 0) return 1;
  i32 fewest = 0x7fffffff, pick = -1;
  for (i32 i = 0; i < item_count; i++) {
    if (OPT(level)[i] >= 0) continue;
    if (i && item_type[i - 1] == item_type[i] && OPT(level)[i - 1] < 0) continue;
    i32 alive = 0;
    for (i32 o = option_start[i]; o < option_start[i] + option_total[i] && alive < fewest; o++) {
      alive += option_alive(level, o);
    }
    if (!alive) return 0;
    if (alive < fewest) fewest = alive, pick = i;
  }
  if (pick < 0) return 2;
  frame->pair = 0, frame->item = pick, frame->next = 0;
  return 1;
}

/* 0 dead, 1 or 2 to be run, -2 out of room. */
EXPORT(places_order_start)
i32 places_order_start(u32 opts, u32 starts, u32 totals, u32 kinds, u32 frame_space, u32 edge_space, i32 edge_room, u32 ranges,
                       u32 laid) {
  options = (Option *)opts, option_start = (i32 *)starts, option_total = (i32 *)totals, frames = (Frame *)frame_space;
  edges = (Edge *)edge_space, edge_most = edge_room, range = (i32 *)ranges, laid_option = (i32 *)laid;
  for (i32 i = 0; i < item_count; i++) item_type[i] = ((i32 *)kinds)[i], OPT(0)[i] = -1;
  level = 0, edge_count = 0, nodes = 0, spent = 0;
  for (i32 i = 0; i < item_count; i++)
    for (i32 j = 0; j < item_count; j++)
      for (int k = 0; k < 3; k++) strongest[i][j][k] = NONE;
  i32 state_now = open_frame();
  return spent ? -2 : state_now;
}

/* Run some steps: 1 solved (the places are at the returned level), 0 exhausted, -1 more to do, -2 out of room, and so
 * from then on: a branch that was not followed is never forgotten. */
EXPORT(places_order_run) i32 places_order_run(f64 more, i32 most_level) {
  i64 stop = steps_done + (i64)more;
  while (steps_done < stop) {
    if (spent) return -2;
    if (level < 0) return 0;
    Frame *frame = &frames[level];
    drop_edges(frame->edges);
    i32 limit = frame->pair ? 6 : option_total[frame->item];
    if (frame->next >= limit) { level--; continue; }
    if (level + 1 >= most_level) return spent = 1, -2;
    i32 step = frame->next++;
    i32 d = level + 1;
    if (frame->pair) {
      i32 axis = step >> 1, from = step & 1 ? frame->other : frame->item, to = step & 1 ? frame->item : frame->other;
      if (LO(level, from)[axis] + frame->gap[step] > HI(level, to)[axis]) continue;
      /* The sides that were tried before are denied here, so that no packing is met twice. */
      for (i32 k = 0; k < step; k++) {
        i32 f = k & 1 ? frame->other : frame->item, t = k & 1 ? frame->item : frame->other;
        if (!add_edge(t, f, k >> 1, 1 - frame->gap[k])) return -2;
      }
      if (!add_edge(from, to, axis, frame->gap[step])) return -2;
      __builtin_memcpy(LO(d, 0), LO(level, 0), (u32)item_count * 24u);
      __builtin_memcpy(OPT(d), OPT(level), (u32)item_count * 4u);
    } else {
      i32 i = frame->item, o = option_start[i] + step;
      if (!option_alive(level, o)) continue;
      __builtin_memcpy(LO(d, 0), LO(level, 0), (u32)item_count * 24u);
      __builtin_memcpy(OPT(d), OPT(level), (u32)item_count * 4u);
      const Box *domain = &pieces[options[o].piece];
      for (int k = 0; k < 3; k++) LO(d, i)[k] = domain->lo[k], HI(d, i)[k] = domain->hi[k];
      OPT(d)[i] = o;
      if (i && item_type[i - 1] == item_type[i]) {
        /* Identical items: in the order of their options, and of x within one option. */
        i32 before = OPT(d)[i - 1] - option_start[i - 1];
        if (step < before) continue;
        if (step == before) {
          if (!add_edge(i - 1, i, 0, 0)) return -2;
        }
      }
    }
    level = d;
    i32 state_now = open_frame();
    if (spent) return -2;
    if (state_now == 2) return 1;
    if (!state_now) level--;
  }
  return level < 0 ? 0 : -1;
}

EXPORT(places_order_level) i32 places_order_level(void) { return level; }
EXPORT(places_order_nodes) f64 places_order_nodes(void) { return (f64)nodes; }
