/* Complete search for plain blocks in a cavity with little void: what has the fewest places left is laid next.
 *
 * A laid block has a range of positions, not one.  The places of the blocks to come are separate boxes of offsets; a place
 * that lies clear of no place of some other block is struck out.  The single block with the fewest places, measured
 * against its volume, is laid next, in each pose with the range of all its places.  Where only several of a kind are
 * left, a corner between laid things is taken, with a test point as deep as no block still to come can slip in
 * between: either one of them covers it, or the whole pocket from the corner to the point is void and is paid for.
 * The void along every straight line must be affordable; what is left open between laid blocks is decided side by
 * side, as in the search by order. */
#include "kernel.h"

/* Prunings that may be left out: bounds on narrow gaps, exchanges of like blocks. */
#define GAPS 1
#define EXCHANGES 2
#define BLOCKS 48
#define FIXED 256
#define TYPES 48
#define POSES (TYPES * 6)
#define OPTIONS 32768
#define PIECES 512
#define PLACES 2048
#define CUTS 64
#define CELLS 32768
LIMIT(block_most, BLOCKS)
LIMIT(fixed_most, FIXED)
LIMIT(option_most, OPTIONS)
LIMIT(piece_most, PIECES) /* of one block's places; beyond, their hull alone is known, which rules out less */
LIMIT(place_most, PLACES) /* of all blocks' places; beyond, so too */
LIMIT(cut_most, CUTS)     /* along one axis; beyond, lines rule out nothing */
LIMIT(cell_most, CELLS)   /* in all; beyond, so too */

typedef struct { i32 lo[3], hi[3]; } Box;
typedef struct { i32 lo[3], hi[3], d[3]; } Range; /* d[0] == 0: not laid */
typedef struct { i32 from, to, axis, gap; } Edge;
typedef struct {
  i32 kind; /* 0 corner, 1 two sides, 2 a block, 3 point i */
  i32 next, edges, fixed, waste;
  i32 i, j, gap[6];
  i32 first_option, option_n;
  Box pocket, point;
} Frame;
typedef struct { Box at; i16 type, pose; } Option;

static Frame *frames;
static Range *ranges;
static Edge *edges;
static i32 edge_room, frame_room, edge_n, fixed_n, level, n, type_n, type_of[BLOCKS], first_of[TYPES], count_of[TYPES];
static i32 turn_n[TYPES], turns[TYPES][6][3], least[TYPES], size[3], mirrored, waste, budget, rules, overrun, obstacle_n, started;
static i64 volume_of[TYPES];
static Option options[OPTIONS];
static u32 rng; /* 0: no shuffling */
static Box fixed[FIXED];
static i64 nodes;

#define R(d, i) (&ranges[(d) * n + (i)])

static i32 max(i32 a, i32 b) { return a > b ? a : b; }
static i32 min(i32 a, i32 b) { return a < b ? a : b; }

static int tighten(i32 at) {
  for (i32 round = 0; round <= n; round++) {
    int changed = 0;
    STEPS(edge_n + 1);
    for (i32 e = 0; e < edge_n; e++) {
      const Edge *edge = &edges[e];
      Range *from = R(at, edge->from), *to = R(at, edge->to);
      i32 a = edge->axis, low = from->lo[a] + edge->gap, high = to->hi[a] - edge->gap;
      if (low > to->lo[a]) { to->lo[a] = low, changed = 1; if (low > to->hi[a]) return 0; }
      if (high < from->hi[a]) { from->hi[a] = high, changed = 1; if (high < from->lo[a]) return 0; }
    }
    if (!changed) return 1;
  }
  return 0;
}

static int add_edge(i32 from, i32 to, i32 axis, i32 gap) {
  if (edge_n >= edge_room) return overrun = 1, 0;
  edges[edge_n].from = from, edges[edge_n].to = to, edges[edge_n].axis = axis, edges[edge_n++].gap = gap;
  return 1;
}

/* What a laid block surely fills; empty on an axis when hi <= lo. */
static void sure(const Range *r, Box *out) {
  for (int a = 0; a < 3; a++) out->lo[a] = r->hi[a], out->hi[a] = r->lo[a] + r->d[a];
}
static void possible(const Range *r, Box *out) {
  for (int a = 0; a < 3; a++) out->lo[a] = r->lo[a], out->hi[a] = r->hi[a] + r->d[a];
}
static int meets(const Box *a, const Box *b) {
  for (int k = 0; k < 3; k++)
    if (a->lo[k] >= b->hi[k] || b->lo[k] >= a->hi[k]) return 0;
  return 1;
}

/* No fixed thing and no laid block but i and j can reach into the region. */
static int clear_between(i32 at, const Box *region, i32 i, i32 j) {
  STEPS(n + fixed_n);
  for (i32 k = 0; k < fixed_n; k++)
    if (meets(region, &fixed[k])) return 0;
  for (i32 k = 0; k < n; k++) {
    Box hull;
    if (k == i || k == j || !R(at, k)->d[0]) continue;
    possible(R(at, k), &hull);
    if (meets(region, &hull)) return 0;
  }
  return 1;
}

/* The most of a length that edges of the blocks still to come (reach: a bit set of their sums) can fill. */
static i32 most_fill(const u64 *reach, i32 length) {
  if (length > 255) return length;
  if (length <= 0) return 0;
  i32 w = length >> 6, b = length & 63;
  u64 v = reach[w] & (b == 63 ? ~0ull : ((1ull << (b + 1)) - 1));
  while (!v && w > 0) v = reach[--w];
  return v ? w * 64 + 63 - __builtin_clzll(v) : 0;
}

static void widen(u64 *r, const u64 *from, i32 d) {
  i32 w = d >> 6, b = d & 63;
  for (i32 m = 3; m >= w; m--) {
    r[m] |= from[m - w] << b;
    if (b && m > w) r[m] |= from[m - w - 1] >> (64 - b);
  }
}

/* Two blocks of one section that lie in one row with nothing between can change places, so only one order is searched:
 * of all packings, take one where the places of the first type, added up, are least, then those of the second, and so
 * on; it has no such pair the other way.  The block that mirror images are fixed by stays out of it. */
static int ordered(i32 at, i32 narrow) {
  STEPS(n * n / 2);
  for (i32 j = 1; j < n; j++) {
    const Range *rj = R(at, j);
    if (!rj->d[0] || j == mirrored) continue;
    for (i32 i = 0; i < j; i++) {
      const Range *ri = R(at, i);
      if (!ri->d[0] || i == mirrored || type_of[i] == type_of[j]) continue;
      for (int a = 0; a < 3; a++) {
        int b = (a + 1) % 3, c = (a + 2) % 3;
        if (ri->d[b] != rj->d[b] || ri->d[c] != rj->d[c] || ri->lo[b] != rj->lo[b] || ri->lo[c] != rj->lo[c]) continue;
        if (ri->hi[b] != ri->lo[b] || ri->hi[c] != ri->lo[c] || rj->hi[b] != rj->lo[b] || rj->hi[c] != rj->lo[c]) continue;
        if (ri->lo[a] + ri->d[a] <= rj->hi[a] || ri->hi[a] - rj->lo[a] - rj->d[a] >= narrow) continue;
        Box between;
        between.lo[a] = rj->lo[a] + rj->d[a], between.hi[a] = ri->hi[a];
        between.lo[b] = ri->lo[b], between.hi[b] = ri->lo[b] + ri->d[b], between.lo[c] = ri->lo[c], between.hi[c] = ri->lo[c] + ri->d[c];
        if (between.hi[a] <= between.lo[a] || clear_between(at, &between, i, j)) return 0;
      }
    }
  }
  return 1;
}

/* Settle all that is forced.  0 dead; `ask` gets an overlap with the fewest ways out (ask->next = -1: none). */
static int settle(i32 at, Frame *ask) {
  i32 fewest, rounds = 0;
again:
  if (!tighten(at)) return 0;
  fewest = 7, ask->next = -1;
  for (i32 i = 0; i < n; i++) {
    Range *ri = R(at, i);
    if (!ri->d[0]) continue;
    STEPS(2 * (fixed_n + i));
    for (i32 k = 0; k < fixed_n; k++) {
      i32 ways = 0, only = -1, settled = 0, over = 1;
      for (int a = 0; a < 3 && !settled; a++) {
        if (ri->hi[a] + ri->d[a] <= fixed[k].lo[a] || ri->lo[a] >= fixed[k].hi[a]) settled = 1;
        if (ri->lo[a] + ri->d[a] <= fixed[k].lo[a]) ways++, only = 2 * a, over = 0;
        if (ri->hi[a] >= fixed[k].hi[a]) ways++, only = 2 * a + 1;
      }
      if (settled) continue;
      if (!ways) return 0;
      if (ways == 1) {
        i32 a = only >> 1;
        if (only & 1) ri->lo[a] = max(ri->lo[a], fixed[k].hi[a]);
        else ri->hi[a] = min(ri->hi[a], fixed[k].lo[a] - ri->d[a]);
        if (ri->lo[a] > ri->hi[a]) return 0;
        goto again;
      }
      if (over && ways < fewest) fewest = ways, ask->kind = 1, ask->i = i, ask->j = -1 - k, ask->next = 0;
    }
    for (i32 j = 0; j < i; j++) {
      Range *rj = R(at, j);
      if (!rj->d[0]) continue;
      i32 ways = 0, only = -1, settled = 0, over = 1;
      for (int a = 0; a < 3 && !settled; a++) {
        if (ri->hi[a] + ri->d[a] <= rj->lo[a] || rj->hi[a] + rj->d[a] <= ri->lo[a]) settled = 1;
        if (ri->lo[a] + ri->d[a] <= rj->hi[a]) ways++, only = 2 * a;
        if (rj->lo[a] + rj->d[a] <= ri->hi[a]) ways++, only = 2 * a + 1;
        if (ri->lo[a] + ri->d[a] <= rj->lo[a] || rj->lo[a] + rj->d[a] <= ri->lo[a]) over = 0;
      }
      if (settled) continue;
      if (!ways) return 0;
      if (ways == 1) {
        i32 a = only >> 1, from = only & 1 ? j : i, to = only & 1 ? i : j, gap = R(at, from)->d[a];
        i32 known = 0;
        for (i32 e = edge_n - 1; e >= 0 && !known; e--)
          known = edges[e].from == from && edges[e].to == to && edges[e].axis == a && edges[e].gap == gap;
        if (!known) {
          if (!add_edge(from, to, a, gap)) return 0;
          if (R(at, from)->lo[a] + gap > R(at, to)->lo[a] || R(at, to)->hi[a] - gap < R(at, from)->hi[a]) goto again;
        }
        continue;
      }
      if (over && ways < fewest) {
        fewest = ways, ask->kind = 1, ask->i = i, ask->j = j, ask->next = 0;
        for (int a = 0; a < 3; a++) ask->gap[2 * a] = ri->d[a], ask->gap[2 * a + 1] = rj->d[a];
      }
    }
  }
  /* Gaps too narrow for any block are void; none may cost more than what is left. */
  int changed = 0;
  i32 narrow = 0x7fff;
  for (i32 i = 0; i < n; i++)
    if (!R(at, i)->d[0] && least[type_of[i]] < narrow) narrow = least[type_of[i]];
  for (i32 i = 0; i < n && (rules & GAPS); i++) {
    Range *ri = R(at, i);
    if (!ri->d[0]) continue;
    Box si, region;
    sure(ri, &si);
    STEPS(4 * (fixed_n + n));
    for (int a = 0; a < 3; a++) {
      int b = (a + 1) % 3, c = (a + 2) % 3;
      if (si.lo[b] >= si.hi[b] || si.lo[c] >= si.hi[c]) continue;
      /* towards the low hull, the high hull, fixed things on both sides, then laid blocks below it */
      for (i32 k = -2 - fixed_n; k < n; k++) {
        i32 face_lo, face_hi, high = 0, j = -1; /* the other face's range; high: the other is above i */
        Box so;
        if (k == -2 - fixed_n) {
          face_lo = face_hi = 0;
          so.lo[b] = so.lo[c] = 0, so.hi[b] = size[b], so.hi[c] = size[c];
        } else if (k == -1 - fixed_n) {
          face_lo = face_hi = size[a], high = 1;
          so.lo[b] = so.lo[c] = 0, so.hi[b] = size[b], so.hi[c] = size[c];
        } else if (k < 0) {
          so = fixed[-1 - k];
          if (ri->lo[a] >= so.hi[a]) face_lo = face_hi = so.hi[a];
          else if (ri->hi[a] + ri->d[a] <= so.lo[a]) face_lo = face_hi = so.lo[a], high = 1;
          else continue;
        } else {
          j = k;
          if (j == i || !R(at, j)->d[0]) continue;
          sure(R(at, j), &so);
          face_lo = R(at, j)->lo[a] + R(at, j)->d[a], face_hi = R(at, j)->hi[a] + R(at, j)->d[a];
          if (face_lo > ri->hi[a] || R(at, j)->hi[a] >= ri->lo[a] + ri->d[a]) continue; /* not surely below i */
        }
        i32 wb = min(si.hi[b], so.hi[b]) - max(si.lo[b], so.lo[b]), wc = min(si.hi[c], so.hi[c]) - max(si.lo[c], so.lo[c]);
        if (wb <= 0 || wc <= 0) continue;
        i32 most = high ? face_hi - ri->lo[a] - ri->d[a] : ri->hi[a] - face_lo;
        if (most <= 0 || most >= narrow) continue;
        /* With a sure common section no third side is possible, so j does lie below i on this axis. */
        region.lo[b] = max(si.lo[b], so.lo[b]), region.hi[b] = region.lo[b] + wb;
        region.lo[c] = max(si.lo[c], so.lo[c]), region.hi[c] = region.lo[c] + wc;
        region.lo[a] = high ? ri->lo[a] + ri->d[a] : face_lo, region.hi[a] = high ? face_hi : ri->hi[a];
        if (!clear_between(at, &region, i, j)) continue;
        i64 area = (i64)wb * wc;
        i64 allowed = (budget - waste) / area;
        if (allowed >= most) continue;
        if (j >= 0) {
          /* x_i <= x_j + d_j + allowed */
          if (ri->hi[a] > R(at, j)->hi[a] + R(at, j)->d[a] + (i32)allowed || R(at, j)->lo[a] < ri->lo[a] - R(at, j)->d[a] - (i32)allowed) {
            if (!add_edge(i, j, a, -(R(at, j)->d[a] + (i32)allowed))) return 0;
            changed = 1;
          }
        } else if (high) {
          i32 low = face_lo - ri->d[a] - (i32)allowed;
          if (low > ri->lo[a]) { ri->lo[a] = low, changed = 1; if (low > ri->hi[a]) return 0; }
        } else {
          i32 top = face_hi + (i32)allowed;
          if (top < ri->hi[a]) { ri->hi[a] = top, changed = 1; if (top < ri->lo[a]) return 0; }
        }
      }
    }
  }
  if (changed && ++rounds < 20) goto again;
  return !(rules & EXCHANGES) || ordered(at, narrow);
}

/* ---- where a block still to come may lie ---- */
static Box list[PIECES];

static int subtract(i32 *count, const Box *open) {
  i32 kept = *count;
  STEPS(kept);
  for (i32 k = 0; k < kept;) {
    Box rest = list[k];
    int apart = 0;
    for (int a = 0; a < 3; a++) apart |= rest.lo[a] >= open->hi[a] || rest.hi[a] <= open->lo[a];
    if (apart) { k++; continue; }
    list[k] = list[--kept];
    for (int a = 0; a < 3; a++) {
      if (kept + 2 >= piece_most) return 0;
      if (rest.lo[a] <= open->lo[a]) {
        list[kept] = rest, list[kept++].hi[a] = open->lo[a];
        rest.lo[a] = open->lo[a];
      }
      if (rest.hi[a] >= open->hi[a]) {
        list[kept] = rest, list[kept++].lo[a] = open->hi[a];
        rest.hi[a] = open->hi[a];
      }
    }
  }
  *count = kept;
  return 1;
}

/* Can a block with edges d meet the box somewhere, clear of all that is surely filled (and of `extra`)?  The hull of its
 * positions is written to `where`. */
static int can_meet(i32 at, const i32 *d, const Box *box, const Box *extra, Box *where) {
  i32 count = 1;
  Box *own = &list[0];
  for (int a = 0; a < 3; a++) {
    own->lo[a] = max(0, box->lo[a] - d[a] + 1), own->hi[a] = min(size[a] - d[a], box->hi[a] - 1);
    if (own->lo[a] > own->hi[a]) return 0;
  }
  for (i32 k = -1; k < n + fixed_n && count; k++) {
    Box open, filled;
    if (k < 0) {
      if (!extra) continue;
      filled = *extra;
    } else if (k < n) {
      if (!R(at, k)->d[0]) continue;
      sure(R(at, k), &filled);
    } else
      filled = fixed[k - n];
    for (int a = 0; a < 3; a++) open.lo[a] = filled.lo[a] - d[a], open.hi[a] = filled.hi[a];
    if (open.lo[0] >= open.hi[0] || open.lo[1] >= open.hi[1] || open.lo[2] >= open.hi[2]) continue;
    if (!subtract(&count, &open)) count = PIECES;
    if (count == PIECES) break;
  }
  if (!count) return 0;
  if (count == PIECES) {
    for (int a = 0; a < 3; a++)
      where->lo[a] = max(0, box->lo[a] - d[a] + 1), where->hi[a] = min(size[a] - d[a], box->hi[a] - 1);
    return PIECES;
  }
  *where = list[0];
  for (i32 k = 1; k < count; k++)
    for (int a = 0; a < 3; a++) where->lo[a] = min(where->lo[a], list[k].lo[a]), where->hi[a] = max(where->hi[a], list[k].hi[a]);
  return count;
}

static i32 unlaid_of(i32 at, i32 t) {
  i32 left = 0;
  for (i32 k = first_of[t]; k < first_of[t] + count_of[t]; k++) left += !R(at, k)->d[0];
  return left;
}

static int nothing_meets(i32 at, const Box *box, const Box *extra) {
  Box where;
  for (i32 t = 0; t < type_n; t++) {
    if (!unlaid_of(at, t)) continue;
    for (i32 q = 0; q < turn_n[t]; q++)
      if (can_meet(at, turns[t][q], box, extra, &where)) return 0;
  }
  return 1;
}

static int blocked(i32 at, const Box *box) {
  Box hull;
  for (int a = 0; a < 3; a++)
    if (box->lo[a] < 0 || box->hi[a] > size[a]) return 1;
  for (i32 k = 0; k < fixed_n; k++)
    if (meets(box, &fixed[k])) return 1;
  for (i32 i = 0; i < n; i++) {
    if (!R(at, i)->d[0]) continue;
    possible(R(at, i), &hull);
    if (meets(box, &hull)) return 1;
  }
  return 0;
}

static Box sure_of[BLOCKS + FIXED], hull_of[BLOCKS + FIXED];
static i32 wall_n;

static int covers(i32 k, int axis, const i32 *p) {
  /* whether thing k surely stands beside p, seen along the axis */
  for (int a = 0; a < 3; a++)
    if (a != axis && !(sure_of[k].lo[a] <= p[a] && p[a] < sure_of[k].hi[a])) return 0;
  return 1;
}

static i64 volume(const Box *b) { return (i64)(b->hi[0] - b->lo[0]) * (b->hi[1] - b->lo[1]) * (b->hi[2] - b->lo[2]); }

static i32 drop_contained(i32 count) {
  STEPS(count * count / 4);
  for (i32 i = 0; i < count; i++)
    for (i32 j = 0; j < count; j++) {
      int inside = i != j;
      for (int a = 0; a < 3 && inside; a++) inside = list[i].lo[a] >= list[j].lo[a] && list[i].hi[a] <= list[j].hi[a];
      if (inside) { list[i--] = list[--count]; break; }
    }
  return count;
}

/* ---- places of the blocks to come ---- */
#define SUPPORT_MOST 400 /* above so many places none is struck out */
typedef struct { Box at; i32 d[3]; i16 type, pose; i32 alive; } Place;
static Place places[PLACES];
static i32 place_n, first_place[TYPES + 1], alive_n[TYPES], left_n[TYPES], first_pose[TYPES];

/* Some offsets of the two places keep their blocks clear of each other. */
static int clear_of(const Place *p, const Place *q) {
  for (int a = 0; a < 3; a++)
    if (p->at.lo[a] + p->d[a] <= q->at.hi[a] || q->at.lo[a] + q->d[a] <= p->at.hi[a]) return 1;
  return 0;
}

static int supported(const Place *p, i32 t) {
  for (i32 k = first_place[t]; k < first_place[t + 1]; k++)
    if (places[k].alive && clear_of(p, &places[k])) {
      STEPS(k - first_place[t] + 1);
      return 1;
    }
  STEPS(first_place[t + 1] - first_place[t]);
  return 0;
}

/* List the places of every block to come, and strike out those that are clear of no place of some other block; 0 when a
 * block has none left, or (overrun) there is no room for one place of each pose. */
static int all_have_room(i32 at) {
  Box whole, where;
  for (int a = 0; a < 3; a++) whole.lo[a] = 0, whole.hi[a] = size[a];
  i32 pose_n = 0;
  place_n = 0;
  for (i32 t = 0; t < type_n; t++) {
    first_place[t] = place_n, alive_n[t] = 0, first_pose[t] = pose_n;
    left_n[t] = unlaid_of(at, t);
    if (!left_n[t]) continue;
    pose_n += turn_n[t];
    for (i32 q = 0; q < turn_n[t]; q++) {
      i32 count = can_meet(at, turns[t][q], &whole, 0, &where);
      if (!count) continue;
      /* the hull alone, where there are too many; one place each is kept free for the poses to come */
      if (count >= 40 || place_n + count + POSES > place_most) list[0] = where, count = 1;
      else if (count > 1) count = drop_contained(count);
      if (place_n + count > place_most) return overrun = 1, 0;
      for (i32 k = 0; k < count; k++) {
        Place *p = &places[place_n++];
        p->at = list[k], p->type = (i16)t, p->pose = (i16)q, p->alive = 1;
        for (int a = 0; a < 3; a++) p->d[a] = turns[t][q][a];
      }
      alive_n[t] += count;
    }
    if (!alive_n[t]) return 0;
  }
  first_place[type_n] = place_n;
  for (int again = place_n <= SUPPORT_MOST; again;) {
    again = 0;
    for (i32 k = 0; k < place_n; k++) {
      Place *p = &places[k];
      for (i32 t = 0; t < type_n && p->alive; t++) {
        if (!left_n[t] || (t == p->type && left_n[t] == 1) || supported(p, t)) continue;
        p->alive = 0, again = 1;
        if (!--alive_n[p->type]) return 0;
      }
    }
  }
  return 1;
}

static u32 next_random(void) {
  rng ^= rng << 13, rng ^= rng >> 17, rng ^= rng << 5;
  return rng;
}

/* The single block with the fewest places, measured against the square of its volume; -1 when there is none.  Of several
 * identical blocks each could take the place: branching on one of them would meet packings again. */
static i32 rarest(void) {
  i32 best = -1;
  f64 fewest = 0;
  for (i32 t = 0; t < type_n; t++) {
    if (left_n[t] != 1) continue;
    f64 ways = alive_n[t] / ((f64)volume_of[t] * (f64)volume_of[t]);
    if (rng) ways *= 8 + next_random() % 8;
    if (best < 0 || ways < fewest) best = t, fewest = ways;
  }
  return best;
}

/* ---- the void that is sure along straight lines ---- */

/* The cavity is cut into cells by the faces of all that is surely filled.  A cell keeps which blocks to come, in which
 * pose, have a place that covers some of it.  Along every straight line the free stretches are filled by edges of such
 * blocks, or are void: the void that is sure on lines of one direction, added up, must be affordable. */
#define KNOWN 256
static i32 cuts[3][CUTS], cell_n[3], stride[3];
static u64 may[CELLS], beside[CELLS]; /* per cell: bits of poses; laid blocks that may lie there or not */
static i8 owner[CELLS];               /* what surely fills a cell; -1 nothing, -2 no block to come can */
static struct { u64 poses, beside; u32 stamp; u64 reach[4]; } known[KNOWN];
static u32 stamp;

static int cut_axis(i32 at, int axis) {
  i32 *faces = cuts[axis], count = 0;
  faces[count++] = 0, faces[count++] = size[axis];
  for (i32 i = 0; i < n + fixed_n; i++) {
    Box box;
    if (i < n) {
      if (!R(at, i)->d[0]) continue;
      sure(R(at, i), &box);
      if (box.lo[0] >= box.hi[0] || box.lo[1] >= box.hi[1] || box.lo[2] >= box.hi[2]) continue;
    } else
      box = fixed[i - n];
    for (int k = 0; k < 2; k++) {
      i32 v = k ? box.hi[axis] : box.lo[axis], p = count;
      while (p > 0 && faces[p - 1] > v) p--;
      if (p > 0 && faces[p - 1] == v) continue;
      if (count >= cut_most) return 0;
      for (i32 m = count; m > p; m--) faces[m] = faces[m - 1];
      faces[p] = v, count++;
    }
  }
  cell_n[axis] = count - 1;
  return 1;
}

/* The cells that a box meets; 0 when it has no inside. */
static int cells_of(const Box *box, i32 *lo, i32 *hi) {
  for (int a = 0; a < 3; a++) {
    if (box->lo[a] >= box->hi[a]) return 0;
    for (lo[a] = 0; cuts[a][lo[a] + 1] <= box->lo[a]; lo[a]++) {}
    for (hi[a] = lo[a] + 1; hi[a] < cell_n[a] && cuts[a][hi[a]] < box->hi[a]; hi[a]++) {}
  }
  return 1;
}

static void mark(u64 *field, const Box *box, u64 bit) {
  i32 lo[3], hi[3];
  if (!cells_of(box, lo, hi)) return;
  for (i32 x = lo[0]; x < hi[0]; x++)
    for (i32 y = lo[1]; y < hi[1]; y++) {
      u64 *row = &field[x * stride[0] + y * stride[1]];
      for (i32 z = lo[2]; z < hi[2]; z++) row[z] |= bit;
    }
}

/* Poses of blocks to come, numbered; above 64 some share a bit, which only weakens the bound. */
static i32 bit_of(i32 t, i32 q) { return (first_pose[t] + q) & 63; }

/* Mark all cells; 0 when there are too many. */
static int mark_cells(i32 at) {
  for (int a = 0; a < 3; a++)
    if (!cut_axis(at, a)) return 0;
  stride[2] = 1, stride[1] = cell_n[2], stride[0] = cell_n[1] * cell_n[2];
  i32 total = stride[0] * cell_n[0];
  if (total > cell_most || n + fixed_n > 127) return 0;
  STEPS(total);
  __builtin_memset(owner, 0xff, (u32)total);
  __builtin_memset(beside, 0, (u32)total * 8u);
  __builtin_memset(may, 0, (u32)total * 8u);
  for (i32 k = 0; k < n + fixed_n; k++) {
    Box core;
    i32 lo[3], hi[3];
    if (k < n) {
      if (!R(at, k)->d[0]) continue;
      possible(R(at, k), &core);
      mark(beside, &core, 1ull << k);
      sure(R(at, k), &core);
    } else
      core = fixed[k - n];
    if (!cells_of(&core, lo, hi)) continue;
    for (i32 x = lo[0]; x < hi[0]; x++)
      for (i32 y = lo[1]; y < hi[1]; y++) __builtin_memset(&owner[x * stride[0] + y * stride[1] + lo[2]], (int)k, (u32)(hi[2] - lo[2]));
  }
  for (i32 k = 0; k < place_n; k++) {
    const Place *p = &places[k];
    if (!p->alive) continue;
    Box covered = p->at;
    for (int a = 0; a < 3; a++) covered.hi[a] += p->d[a];
    mark(may, &covered, 1ull << bit_of(p->type, p->pose));
  }
  for (i32 k = 0; k < total; k++)
    if (owner[k] == -1 && !may[k]) owner[k] = -2;
  return 1;
}

/* Sums of edges, along an axis, of blocks to come in some poses and of laid blocks beside a line, as a bit set. */
static const u64 *sums(i32 at, int a, u64 allowed, u64 laid) {
  u64 h = (allowed * 0x9e3779b97f4a7c15ull) ^ (laid * 0xc2b2ae3d27d4eb4full);
  u32 slot = (u32)(h >> 40) % KNOWN;
  u64 *r = known[slot].reach;
  if (known[slot].stamp == stamp && known[slot].poses == allowed && known[slot].beside == laid) return r;
  known[slot].stamp = stamp, known[slot].poses = allowed, known[slot].beside = laid;
  r[0] = 1, r[1] = r[2] = r[3] = 0;
  STEPS(8 * type_n);
  for (i32 t = 0; t < type_n; t++) {
    if (!left_n[t]) continue;
    i32 d[6], count = 0;
    for (i32 q = 0; q < turn_n[t]; q++) {
      i32 e = turns[t][q][a], drop = e > 255 || !(allowed >> bit_of(t, q) & 1);
      for (i32 m = 0; m < count; m++) drop |= d[m] == e;
      if (!drop) d[count++] = e;
    }
    for (i32 k = 0; k < left_n[t] && count; k++) {
      u64 from[4] = {r[0], r[1], r[2], r[3]};
      for (i32 m = 0; m < count; m++) widen(r, from, d[m]);
    }
  }
  for (; laid; laid &= laid - 1) {
    i32 d = R(at, __builtin_ctzll(laid))->d[a];
    u64 from[4] = {r[0], r[1], r[2], r[3]};
    if (d <= 255) widen(r, from, d);
  }
  return r;
}

/* The void that is sure on the line along axis a from cell `base` on; -1 when what crosses it is too long. */
static i32 lost_on(i32 at, int a, i32 base) {
  struct { i32 length; u64 poses, beside; } run[CUTS];
  i32 rest = size[a], lost = 0, runs = 0, fill = 0, last = -1, open = 0;
  STEPS(2 * cell_n[a]);
  u64 on = 0, all = 0, near = 0;
  for (i32 k = 0; k < cell_n[a]; k++) {
    i32 cell = base + k * stride[a], who = owner[cell], length = cuts[a][k + 1] - cuts[a][k];
    if (who >= n) {
      rest -= length, open = 0;
    } else if (who >= 0) {
      if (who != last) on |= 1ull << who, rest -= R(at, who)->d[a];
      last = who, open = 0;
    } else if (who == -2 && !beside[cell]) {
      rest -= length, lost += length, open = 0;
    } else {
      if (!open) run[runs].length = 0, run[runs].poses = run[runs].beside = 0, runs++, open = 1;
      run[runs - 1].length += length, run[runs - 1].beside |= beside[cell], run[runs - 1].poses |= may[cell];
    }
  }
  if (rest < 0) return -1;
  for (i32 k = 0; k < runs; k++) {
    u64 by = run[k].beside & ~on;
    fill += most_fill(sums(at, a, run[k].poses, by), run[k].length);
    all |= run[k].poses, near |= by;
  }
  /* A laid block may slide along the line, so stretches overlap: together they hold no more than the rest does. */
  if (fill > rest || runs > 1) fill = min(fill, most_fill(sums(at, a, all, near), rest));
  return lost + rest - fill;
}

static int lines_hold(i32 at) {
  static int likely; /* the direction that was short of void last is looked at first */
  if (!mark_cells(at)) return 1;
  for (int k = 0; k < 3; k++) {
    int a = k ? (k - 1 < likely ? k - 1 : k) : likely, b = (a + 1) % 3, c = (a + 2) % 3;
    i64 total = waste;
    stamp++;
    for (i32 x = 0; x < cell_n[b]; x++)
      for (i32 y = 0; y < cell_n[c]; y++) {
        i32 lost = lost_on(at, a, x * stride[b] + y * stride[c]);
        if (lost >= 0) total += (i64)lost * (cuts[b][x + 1] - cuts[b][x]) * (cuts[c][y + 1] - cuts[c][y]);
        if (lost < 0 || total > budget) return likely = a, 0;
      }
  }
  return 1;
}

#define SPOTS 8
typedef struct { i32 ways; Box pocket; i32 q[3]; } Spot;
static Spot spots[SPOTS];
static i32 spot_n;

/* Collect the corners with the fewest blocks that could cover their test points. */
static int find_corners(i32 at) {
  i32 narrow = 0x7fff;
  spot_n = 0;
  u8 left[TYPES];
  for (i32 t = 0; t < type_n; t++) {
    left[t] = (u8)unlaid_of(at, t);
    if (left[t] && least[t] < narrow) narrow = least[t];
  }
  wall_n = 0;
  for (i32 i = 0; i < n; i++)
    if (R(at, i)->d[0]) sure(R(at, i), &sure_of[wall_n]), possible(R(at, i), &hull_of[wall_n++]);
  for (i32 k = 0; k < fixed_n; k++) sure_of[wall_n] = fixed[k], hull_of[wall_n++] = fixed[k];
  for (int signs = 0; signs < 8; signs++) {
    i32 p[3], tol[3];
    for (i32 wx = -1; wx < wall_n; wx++) {
      int sx = signs & 1;
      p[0] = wx < 0 ? (sx ? size[0] - 1 : 0) : sx ? hull_of[wx].lo[0] - 1 : hull_of[wx].hi[0];
      if (p[0] < 0 || p[0] >= size[0]) continue;
      tol[0] = wx < 0 ? 0 : sx ? sure_of[wx].lo[0] - hull_of[wx].lo[0] : hull_of[wx].hi[0] - sure_of[wx].hi[0];
      for (i32 wy = -1; wy < wall_n; wy++) {
        int sy = signs >> 1 & 1;
        STEPS(1);
        if (wy >= 0 && wy == wx) continue;
        p[1] = wy < 0 ? (sy ? size[1] - 1 : 0) : sy ? hull_of[wy].lo[1] - 1 : hull_of[wy].hi[1];
        if (p[1] < 0 || p[1] >= size[1]) continue;
        if (wx >= 0 && !(sure_of[wx].lo[1] <= p[1] && p[1] < sure_of[wx].hi[1])) continue;
        if (wy >= 0 && !(sure_of[wy].lo[0] <= p[0] && p[0] < sure_of[wy].hi[0])) continue;
        tol[1] = wy < 0 ? 0 : sy ? sure_of[wy].lo[1] - hull_of[wy].lo[1] : hull_of[wy].hi[1] - sure_of[wy].hi[1];
        for (i32 wz = -1; wz < wall_n; wz++) {
          int sz = signs >> 2;
          STEPS(1);
          if (wz >= 0 && (wz == wx || wz == wy)) continue;
          p[2] = wz < 0 ? (sz ? size[2] - 1 : 0) : sz ? hull_of[wz].lo[2] - 1 : hull_of[wz].hi[2];
          if (p[2] < 0 || p[2] >= size[2]) continue;
          if (wx >= 0 && !covers(wx, 0, p)) continue;
          if (wy >= 0 && !covers(wy, 1, p)) continue;
          if (wz >= 0 && !covers(wz, 2, p)) continue;
          tol[2] = wz < 0 ? 0 : sz ? sure_of[wz].lo[2] - hull_of[wz].lo[2] : hull_of[wz].hi[2] - sure_of[wz].hi[2];
          Box pocket;
          STEPS(8 * wall_n);
          int bad = 0, sign[3] = {sx, sy, sz};
          for (int a = 0; a < 3; a++) {
            i32 g = max(0, narrow - 1 - tol[a]);
            pocket.lo[a] = sign[a] ? max(0, p[a] - g) : p[a];
            pocket.hi[a] = sign[a] ? p[a] + 1 : min(size[a], p[a] + g + 1);
          }
          for (i32 k = 0; k < wall_n && !bad; k++) {
            if (!meets(&pocket, &hull_of[k])) continue;
            /* give way on the axis that costs least */
            i32 axis = -1, kept = 0;
            for (int a = 0; a < 3; a++) {
              i32 room = sign[a] ? p[a] + 1 - hull_of[k].hi[a] : hull_of[k].lo[a] - p[a];
              if (room > 0 && room * 1000 / (pocket.hi[a] - pocket.lo[a]) > kept) kept = room * 1000 / (pocket.hi[a] - pocket.lo[a]), axis = a;
            }
            if (axis < 0) bad = 1;
            else if (sign[axis]) pocket.lo[axis] = hull_of[k].hi[axis];
            else pocket.hi[axis] = hull_of[k].lo[axis];
          }
          if (bad) continue;
          i32 q[3], room[3], ways = 0;
          for (int a = 0; a < 3; a++) q[a] = sign[a] ? pocket.lo[a] : pocket.hi[a] - 1;
          for (int a = 0; a < 3; a++) {
            i32 low = 0, high = size[a];
            for (i32 k = 0; k < wall_n; k++) {
              if (!covers(k, a, q)) continue;
              if (sure_of[k].lo[a] > q[a]) high = min(high, sure_of[k].lo[a]);
              if (sure_of[k].hi[a] <= q[a]) low = max(low, sure_of[k].hi[a]);
            }
            room[a] = high - low;
          }
          for (i32 t = 0; t < type_n; t++) {
            if (!left[t]) continue;
            for (i32 m = 0; m < turn_n[t]; m++)
              ways += turns[t][m][0] <= room[0] && turns[t][m][1] <= room[1] && turns[t][m][2] <= room[2];
          }
          /* a void that costs more than is left is no way */
          if (volume(&pocket) <= budget - waste) ways += 2;
          i32 rank = spot_n;
          while (rank > 0 && (spots[rank - 1].ways > ways || (spots[rank - 1].ways == ways && volume(&spots[rank - 1].pocket) < volume(&pocket))))
            rank--;
          if (rank >= SPOTS) continue;
          if (spot_n < SPOTS) spot_n++;
          for (i32 k = spot_n - 1; k > rank; k--) spots[k] = spots[k - 1];
          spots[rank].ways = ways, spots[rank].pocket = pocket;
          for (int a = 0; a < 3; a++) spots[rank].q[a] = q[a];
        }
      }
    }
  }
  return spot_n;
}

static int lay(i32 t, i32 q, const Box *where);

/* The offsets of a place that cover a point; 0 when there are none. */
static int covering(const Place *p, const i32 *q, Box *out) {
  for (int a = 0; a < 3; a++) {
    out->lo[a] = max(p->at.lo[a], q[a] - p->d[a] + 1), out->hi[a] = min(p->at.hi[a], q[a]);
    if (out->lo[a] > out->hi[a]) return 0;
  }
  return 1;
}

/* Choose the corner with the fewest blocks and poses for it; 0 when there is none, -1 when one can neither be covered
 * nor be left void. */
static int choose_corner(Frame *f) {
  i32 fewest = 0x7fffffff, best = 0;
  if (!find_corners(level)) return 0;
  for (i32 k = 0; k < spot_n; k++) {
    i32 ways = volume(&spots[k].pocket) <= budget - waste ? 2 : 0;
    STEPS(place_n);
    for (i32 m = 0; m < place_n && ways < fewest;) {
      i32 t = places[m].type, q = places[m].pose, any = 0;
      Box where;
      for (; m < place_n && places[m].type == t && places[m].pose == q; m++) any |= places[m].alive && covering(&places[m], spots[k].q, &where);
      ways += any;
    }
    if (ways < fewest) fewest = ways, best = k;
  }
  f->pocket = spots[best].pocket;
  for (int a = 0; a < 3; a++) f->point.lo[a] = spots[best].q[a], f->point.hi[a] = spots[best].q[a] + 1;
  return fewest ? 1 : -1;
}

static void join(Box *box, const Box *other) {
  for (int a = 0; a < 3; a++) box->lo[a] = min(box->lo[a], other->lo[a]), box->hi[a] = max(box->hi[a], other->hi[a]);
}

/* List the blocks and poses that a frame tries, of places from `first` to `end`: each pose once, with the hull of its
 * places, of those alone that cover the frame's point when `at_point`.  0 when there are too many. */
static int list_options(Frame *f, i32 first, i32 end, int at_point) {
  for (i32 m = first; m < end;) {
    const Place *p = &places[m];
    Box hull, where;
    int any = 0;
    for (; m < end && places[m].type == p->type && places[m].pose == p->pose; m++) {
      if (!places[m].alive) continue;
      where = places[m].at;
      if (at_point && !covering(&places[m], f->point.lo, &where)) continue;
      if (any) join(&hull, &where);
      else hull = where;
      any = 1;
    }
    if (!any) continue;
    if (f->first_option + f->option_n >= option_most) return overrun = 1, 0;
    Option *o = &options[f->first_option + f->option_n++];
    o->at = hull, o->type = p->type, o->pose = p->pose;
  }
  return 1;
}

static void shuffle(Frame *f) {
  Option *o = &options[f->first_option];
  for (i32 k = f->option_n - 1; k > 0; k--) {
    i32 m = (i32)(next_random() % (u32)(k + 1));
    Option was = o[k];
    o[k] = o[m], o[m] = was;
  }
}

/* Where each block covers at least one of as many points as there are blocks, each covers just one of them. */
static i32 points[BLOCKS][3], point_n, spacing;

/* Give the points, or none; to be called before a search is started.  0 when there are too many. */
EXPORT(corner_points) i32 corner_points(u32 address, i32 count, i32 apart) {
  point_n = 0, spacing = apart;
  if (count > block_most) return 0;
  __builtin_memcpy(points, (const void *)address, (u32)count * 12u);
  point_n = count;
  return 1;
}

/* Positions of a block with edges d that cover point p and no other. */
static int covers_one(i32 at, i32 p, const i32 *d, Box *where) {
  Box cell;
  for (int a = 0; a < 3; a++) cell.lo[a] = points[p][a], cell.hi[a] = points[p][a] + 1;
  if (!can_meet(at, d, &cell, 0, where)) return 0;
  for (int a = 0; a < 3; a++) {
    where->lo[a] = max(where->lo[a], points[p][a] - spacing + 1);
    where->hi[a] = min(where->hi[a], points[p][a] + spacing - d[a]);
    if (where->lo[a] > where->hi[a]) return 0;
  }
  return 1;
}

/* The point that is not covered yet with the fewest blocks and poses for it; -1 when none is left, -2 when one has none. */
static i32 choose_point(i32 at) {
  i32 best = -1, fewest = 0x7fffffff;
  for (i32 p = 0; p < point_n; p++) {
    int done = 0;
    for (i32 i = 0; i < n && !done; i++) {
      const Range *r = R(at, i);
      done = r->d[0] > 0;
      for (int a = 0; a < 3 && done; a++) done = r->hi[a] <= points[p][a] && points[p][a] < r->lo[a] + r->d[a];
    }
    if (done) continue;
    i32 ways = 0;
    Box where;
    for (i32 t = 0; t < type_n && ways < fewest; t++) {
      if (!unlaid_of(at, t)) continue;
      for (i32 q = 0; q < turn_n[t] && ways < fewest; q++) ways += covers_one(at, p, turns[t][q], &where);
    }
    if (!ways) return -2;
    if (ways < fewest) fewest = ways, best = p;
  }
  return best;
}

/* 0 dead (or given up, when `overrun`), 1 frame opened, 2 solved. */
static int open_frame(void) {
  Frame *f = &frames[level];
  nodes++;
  if (waste > budget) return 0;
  if (!settle(level, f)) return 0;
  f->edges = edge_n, f->fixed = fixed_n, f->waste = waste, f->option_n = 0;
  f->first_option = level ? frames[level - 1].first_option + frames[level - 1].option_n : 0;
  if (f->next == 0) return 1;
  i32 left = 0;
  for (i32 i = 0; i < n; i++) left += !R(level, i)->d[0];
  if (!left) return 2;
  f->next = 0;
  if (point_n) {
    f->kind = 3, f->i = choose_point(level);
    return f->i >= 0;
  }
  if (!all_have_room(level) || !lines_hold(level)) return 0;
  i32 block = rarest(), found = fixed_n < fixed_most - 1 && level + 2 < frame_room ? choose_corner(f) : 0;
  if (found < 0) return 0;
  f->kind = block < 0 && found ? 0 : 2;
  for (i32 t = 0; block < 0 && !found; t++)
    if (left_n[t]) block = t;
  i32 first = f->kind ? first_place[block] : 0, end = f->kind ? first_place[block + 1] : place_n;
  if (!list_options(f, first, end, !f->kind)) return 0;
  if (rng) shuffle(f);
  return 1;
}

/* 0 dead, 1 or 2 to be run, -2 out of room. */
static int begin(void) {
  level = 0, edge_n = 0, overrun = 0, waste = 0, fixed_n = obstacle_n;
  for (i32 i = 0; i < n; i++) R(0, i)->d[0] = 0;
  i32 state = open_frame();
  return overrun ? -2 : state;
}

EXPORT(corner_start)
i32 corner_start(u32 frame_space, u32 range_space, i32 levels, u32 edge_space, i32 edges_n, u32 rows, i32 types, u32 obstacles, i32 obstacles_n,
                 i32 sx, i32 sy, i32 sz, i32 void_budget, i32 mirror_block, i32 which_rules) {
  frames = (Frame *)frame_space, ranges = (Range *)range_space, edges = (Edge *)edge_space;
  i32 blocks = 0;
  overrun = 1, started = 0;
  for (i32 t = 0; t < types && t < TYPES; t++) blocks += ((const i32 *)rows)[4 * t];
  if (types > TYPES || blocks > block_most || obstacles_n > fixed_most || levels < 1) return -2;
  started = 1;
  frame_room = levels, edge_room = edges_n, nodes = 0, budget = void_budget, type_n = types, rng = 0;
  size[0] = sx, size[1] = sy, size[2] = sz, mirrored = mirror_block, rules = which_rules, obstacle_n = obstacles_n;
  __builtin_memcpy(fixed, (const void *)obstacles, (u32)obstacle_n * sizeof(Box));
  const i32 *row = (const i32 *)rows;
  n = 0;
  for (i32 t = 0; t < types; t++, row += 4) {
    static const u8 perm[6][3] = {{0, 1, 2}, {1, 0, 2}, {0, 2, 1}, {2, 0, 1}, {1, 2, 0}, {2, 1, 0}};
    volume_of[t] = (i64)row[1] * row[2] * row[3];
    first_of[t] = n, count_of[t] = row[0], turn_n[t] = 0, least[t] = min(row[1], min(row[2], row[3]));
    for (i32 k = 0; k < row[0]; k++) type_of[n++] = t;
    for (int m = 0; m < 6; m++) {
      i32 a = row[1 + perm[m][0]], b = row[1 + perm[m][1]], c = row[1 + perm[m][2]], known = a > sx || b > sy || c > sz;
      for (i32 k = 0; k < turn_n[t]; k++) known |= turns[t][k][0] == a && turns[t][k][1] == b && turns[t][k][2] == c;
      if (known) continue;
      i32 *turn = turns[t][turn_n[t]++];
      turn[0] = a, turn[1] = b, turn[2] = c;
    }
  }
  return begin();
}

/* Begin again, with blocks and places taken in a shuffled order. */
EXPORT(corner_restart) i32 corner_restart(u32 seed) {
  if (!started) return -2;
  rng = seed * 2654435761u + 12345u;
  if (!rng) rng = 1;
  return begin();
}

static void descend(void) {
  __builtin_memcpy(R(level + 1, 0), R(level, 0), (u32)n * sizeof(Range));
  level++;
}

static int lay(i32 t, i32 q, const Box *where) {
  i32 i = first_of[t];
  while (R(level, i)->d[0]) i++;
  descend();
  Range *r = R(level, i);
  for (int a = 0; a < 3; a++) {
    r->lo[a] = where->lo[a], r->hi[a] = where->hi[a], r->d[a] = turns[t][q][a];
    if (i == mirrored) r->hi[a] = min(r->hi[a], (size[a] - r->d[a]) / 2);
    if (r->lo[a] > r->hi[a]) { level--; return 0; }
  }
  return 1;
}

/* Make the pocket as large as nothing still to come can reach, then pay for it. */
static int leave_void(Frame *f) {
  Box box = f->pocket;
  if (!nothing_meets(level, &box, &f->point)) box = f->point;
  for (int round = 0; round < 2; round++)
    for (int side = 0; side < 6; side++) {
      int a = side >> 1;
      for (i32 step = 64; step >= 1; step >>= 2) {
        Box wider = box, strip = box;
        if (side & 1) wider.hi[a] += step, strip.lo[a] = box.hi[a], strip.hi[a] = wider.hi[a];
        else wider.lo[a] -= step, strip.hi[a] = box.lo[a], strip.lo[a] = wider.lo[a];
        if (blocked(level, &strip) || !nothing_meets(level, &strip, &box)) continue;
        box = wider;
        step <<= 2;
        if (step > 64) step = 64 << 2;
      }
    }
  i64 cost = volume(&box);
  if (waste + cost > budget) return 0;
  descend();
  fixed[fixed_n++] = box;
  waste += (i32)cost;
  return 1;
}

/* Search at most so many nodes, and stop after so many steps: 1 solved, 0 exhausted, -1 more to do, -2 out of room, and so
 * until it is begun again: a branch that was not followed is never forgotten. */
EXPORT(corner_run) i32 corner_run(i32 more_nodes, f64 more_steps) {
  i64 stop_nodes = nodes + more_nodes, stop = steps_done + (i64)more_steps;
  while (nodes < stop_nodes && steps_done < stop) {
    if (overrun) return -2;
    if (level < 0) return 0;
    Frame *f = &frames[level];
    edge_n = f->edges, fixed_n = f->fixed, waste = f->waste;
    if (level + 2 >= frame_room || edge_n + 64 >= edge_room) return overrun = 1, -2;
    int made = 0;
    if (f->kind == 1) {
      if (f->next >= 6) { level--; continue; }
      i32 step = f->next++, a = step >> 1;
      if (f->j >= 0) {
        i32 from = step & 1 ? f->j : f->i, to = step & 1 ? f->i : f->j;
        if (R(level, from)->lo[a] + f->gap[step] > R(level, to)->hi[a]) continue;
        descend();
        for (i32 k = 0; k < step; k++) add_edge(k & 1 ? f->i : f->j, k & 1 ? f->j : f->i, k >> 1, 1 - f->gap[k]);
        add_edge(from, to, a, f->gap[step]);
      } else {
        const Box *box = &fixed[-1 - f->j];
        descend();
        Range *r = R(level, f->i);
        for (i32 k = 0; k <= step; k++) { /* deny the sides tried before, take this one */
          i32 b = k >> 1;
          if (k < step) {
            if (k & 1) r->hi[b] = min(r->hi[b], box->hi[b] - 1);
            else r->lo[b] = max(r->lo[b], box->lo[b] - r->d[b] + 1);
          } else if (k & 1) r->lo[b] = max(r->lo[b], box->hi[b]);
          else r->hi[b] = min(r->hi[b], box->lo[b] - r->d[b]);
        }
        int dead = 0;
        for (int b = 0; b < 3; b++) dead |= r->lo[b] > r->hi[b];
        if (dead) { level--; continue; }
      }
      made = 1;
    } else if (f->kind == 3) {
      i32 index = f->next++, t = index / 6, q = index % 6;
      Box where;
      if (t >= type_n) { level--; continue; }
      if (q >= turn_n[t] || !unlaid_of(level, t) || !covers_one(level, f->i, turns[t][q], &where)) continue;
      made = lay(t, q, &where);
    } else if (f->next < f->option_n) {
      const Option *o = &options[f->first_option + f->next++];
      made = lay(o->type, o->pose, &o->at);
    } else if (f->kind == 0 && f->next++ == f->option_n) {
      made = leave_void(f);
    } else {
      level--;
      continue;
    }
    if (!made) continue;
    int state = open_frame();
    if (overrun) return -2;
    if (state == 2) return 1;
    if (!state) level--;
  }
  return level < 0 ? 0 : -1;
}

EXPORT(corner_level) i32 corner_level(void) { return level; }
EXPORT(corner_nodes) f64 corner_nodes(void) { return (f64)nodes; }
EXPORT(corner_frame_bytes) i32 corner_frame_bytes(void) { return (i32)sizeof(Frame); }
