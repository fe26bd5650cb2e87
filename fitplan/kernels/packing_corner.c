/* Complete search for plain blocks in a cavity with little void: blocks are laid into corners, with tolerance.
 *
 * A laid block has a range of positions, not one.  At a corner between laid things a test point is taken, as deep as
 * no block still to come can slip in between: either one of the blocks covers it, or the whole pocket from the corner
 * to the point is void and is paid for.  Gaps that nothing can fill are bounded by the void that is left, which
 * keeps the ranges short; what is left open is decided side by side, as in the search by order. */
#include "kernel.h"

/* Prunings that may be left out: bounds on narrow gaps, exchanges of like blocks, void along lines. */
#define GAPS 1
#define EXCHANGES 2
#define LINES 4
#define BLOCKS 48
#define FIXED 256
#define TYPES 48

typedef struct { i32 lo[3], hi[3]; } Box;
typedef struct { i32 lo[3], hi[3], d[3]; } Range; /* d[0] == 0: not laid */
typedef struct { i32 from, to, axis, gap; } Edge;
typedef struct {
  i32 kind; /* 0 corner, 1 two sides, 2 some block, 3 a block of type i, 4 point i */
  i32 next, edges, fixed, waste, unlaid;
  i32 i, j, gap[6];
  Box pocket, point;
  i32 room[3]; /* what the test point's surroundings leave on each axis */

} Frame;

static Frame *frames;
static Range *ranges;
static Edge *edges;
static i32 edge_room, frame_room, edge_n, fixed_n, level, n, type_n, type_of[BLOCKS], first_of[TYPES], count_of[TYPES];
static i32 turn_n[TYPES], turns[TYPES][6][3], least[TYPES], size[3], mirrored, waste, budget, rules, overrun, looking;
static Box fixed[FIXED];
static i64 nodes;

#define R(d, i) (&ranges[(d) * n + (i)])

static i32 max(i32 a, i32 b) { return a > b ? a : b; }
static i32 min(i32 a, i32 b) { return a < b ? a : b; }

static int tighten(i32 at) {
  for (i32 round = 0; round <= n; round++) {
    int changed = 0;
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

static i32 cut_list(i32 at, int axis, i32 *cuts) {
  i32 count = 0;
  cuts[count++] = 0, cuts[count++] = size[axis];
  for (i32 i = 0; i < n + fixed_n; i++) {
    i32 lo, hi;
    if (i < n) {
      const Range *r = R(at, i);
      if (!r->d[0]) continue;
      lo = r->hi[axis], hi = r->lo[axis] + r->d[axis];
      if (hi <= lo) continue;
    } else
      lo = fixed[i - n].lo[axis], hi = fixed[i - n].hi[axis];
    for (int k = 0; k < 2; k++) {
      i32 v = k ? hi : lo, p = count;
      while (p > 0 && cuts[p - 1] > v) p--;
      if (p > 0 && cuts[p - 1] == v) continue;
      for (i32 m = count; m > p; m--) cuts[m] = cuts[m - 1];
      cuts[p] = v, count++;
    }
  }
  return count;
}

/* Along every straight line what the laid things leave is filled by edges of blocks to come, or void: the void that is
 * sure on lines of one direction, added up, must be affordable. */
#define LINE_CUTS 130
static int lines_hold(i32 at) {
  static i32 cb[2 * (BLOCKS + FIXED) + 2], cc[2 * (BLOCKS + FIXED) + 2];
  static u64 crossing[2][LINE_CUTS], touching[2][LINE_CUTS];
  i32 slo[64][3], shi[64][3], plo[64][3], phi[64][3], things = 0, blocks_laid;
  if (n + fixed_n > 64) return 1;
  for (i32 i = 0; i < n; i++) {
    const Range *r = R(at, i);
    if (!r->d[0]) continue;
    for (int a = 0; a < 3; a++)
      slo[things][a] = r->hi[a], shi[things][a] = r->lo[a] + r->d[a], plo[things][a] = r->lo[a], phi[things][a] = r->hi[a] + r->d[a];
    things++;
  }
  blocks_laid = things;
  for (i32 k = 0; k < fixed_n; k++, things++)
    for (int a = 0; a < 3; a++) slo[things][a] = plo[things][a] = fixed[k].lo[a], shi[things][a] = phi[things][a] = fixed[k].hi[a];
  for (int a = 0; a < 3; a++) {
    int b = (a + 1) % 3, c = (a + 2) % 3;
    u64 reach[4] = {1, 0, 0, 0};
    for (i32 i = 0; i < n; i++) {
      if (R(at, i)->d[0]) continue;
      i32 t = type_of[i];
      u64 from[4] = {reach[0], reach[1], reach[2], reach[3]};
      for (i32 q = 0; q < turn_n[t]; q++) {
        i32 known = turns[t][q][a] > 255;
        for (i32 k = 0; k < q; k++) known |= turns[t][k][a] == turns[t][q][a];
        if (!known) widen(reach, from, turns[t][q][a]);
      }
    }
    i64 total = waste;
    i32 nb = cut_list(at, b, cb), nc = cut_list(at, c, cc);
    if (nb > LINE_CUTS || nc > LINE_CUTS) continue;
    /* Which things surely cross, or may touch, each strip of the section. */
    for (int side = 0; side < 2; side++) {
      i32 axis = side ? c : b, count = side ? nc : nb;
      const i32 *cuts = side ? cc : cb;
      for (i32 x = 0; x + 1 < count; x++) {
        u64 on = 0, near = 0;
        for (i32 k = 0; k < things; k++) {
          if (slo[k][axis] <= cuts[x] && shi[k][axis] >= cuts[x + 1]) on |= 1ull << k;
          if (plo[k][axis] < cuts[x + 1] && phi[k][axis] > cuts[x]) near |= 1ull << k;
        }
        crossing[side][x] = on, touching[side][x] = near;
      }
    }
    u64 last_on = ~0ull, last_near = ~0ull;
    i32 lost = 0;
    for (i32 x = 0; x + 1 < nb; x++)
      for (i32 y = 0; y + 1 < nc; y++) {
        u64 on = crossing[0][x] & crossing[1][y], near = touching[0][x] & touching[1][y] & ~on;
        if (on != last_on || near != last_near) {
          last_on = on, last_near = near;
          struct { i32 lo, hi, d; } row[64];
          i32 count = 0, rest = size[a], vague = 0;
          for (u64 m = on; m; m &= m - 1) {
            i32 k = __builtin_ctzll(m), p = count++, d = phi[k][a] - shi[k][a]; /* how far it may slide */
            i32 lo = plo[k][a], length = phi[k][a] - lo - d;
            rest -= length;
            while (p > 0 && row[p - 1].lo > lo) row[p] = row[p - 1], p--;
            row[p].lo = lo, row[p].hi = lo + d, row[p].d = length;
          }
          if (rest < 0) return 0;
          lost = 0;
          if (rest) {
            u64 local[4] = {reach[0], reach[1], reach[2], reach[3]};
            for (u64 m = near; m; m &= m - 1) {
              i32 k = __builtin_ctzll(m), length = shi[k][a] - plo[k][a];
              if (k >= blocks_laid) continue; /* a fixed thing beside the line */
              if (length > 255) { vague = 1; continue; }
              u64 from[4] = {local[0], local[1], local[2], local[3]};
              widen(local, from, length);
            }
            if (!vague) {
              i32 fill = 0, end = 0, certain = 1;
              for (i32 k = 0; k + 1 < count; k++) certain &= row[k + 1].lo + row[k + 1].d > row[k].hi;
              for (i32 k = 0; k <= count && certain; k++) {
                fill += most_fill(local, (k < count ? row[k].hi : size[a]) - end);
                if (k < count) end = row[k].lo + row[k].d;
              }
              i32 all = most_fill(local, rest);
              if (!certain || all < fill) fill = all;
              if (fill < rest) lost = rest - fill;
            }
          }
        }
        if (lost) total += (i64)lost * (cb[x + 1] - cb[x]) * (cc[y + 1] - cc[y]);
      }
    if (total > budget) return 0;
  }
  return 1;
}

/* Two blocks of one section that lie in one row with nothing between can change places, so only one order is searched:
 * of all packings, take one where the places of the first type, added up, are least, then those of the second, and so
 * on; it has no such pair the other way.  The block that mirror images are fixed by stays out of it. */
static int ordered(i32 at, i32 narrow) {
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
  return (!(rules & EXCHANGES) || ordered(at, narrow)) && (!(rules & LINES) || lines_hold(at));
}

/* ---- where a block still to come may lie ---- */
#define PIECES 512
static Box list[PIECES];

static int subtract(i32 *count, const Box *open) {
  i32 kept = *count;
  for (i32 k = 0; k < kept;) {
    Box rest = list[k];
    int apart = 0;
    for (int a = 0; a < 3; a++) apart |= rest.lo[a] >= open->hi[a] || rest.hi[a] <= open->lo[a];
    if (apart) { k++; continue; }
    list[k] = list[--kept];
    for (int a = 0; a < 3; a++) {
      if (kept + 2 >= PIECES) return 0;
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
  for (i32 i = 0; i < count; i++)
    for (i32 j = 0; j < count; j++) {
      int inside = i != j;
      for (int a = 0; a < 3 && inside; a++) inside = list[i].lo[a] >= list[j].lo[a] && list[i].hi[a] <= list[j].hi[a];
      if (inside) { list[i--] = list[--count]; break; }
    }
  return count;
}

static i32 rarest, rarest_ways;

/* Every block to come must still have a place of its own; notes the one with the fewest separate places (when they
 * are fewer than `most`). */
static int all_have_room(i32 at, i32 most) {
  Box whole, where;
  for (int a = 0; a < 3; a++) whole.lo[a] = 0, whole.hi[a] = size[a];
  rarest = -1, rarest_ways = most;
  for (i32 t = 0; t < type_n; t++) {
    if (!unlaid_of(at, t)) continue;
    i32 ways = 0;
    for (i32 q = 0; q < turn_n[t] && ways < max(1, rarest_ways); q++) {
      i32 count = can_meet(at, turns[t][q], &whole, 0, &where);
      ways += count > 1 && count < 40 ? drop_contained(count) : count;
    }
    if (!ways) return 0;
    /* Several identical blocks could each take the place: branching on one of them would meet packings again. */
    if (ways < rarest_ways && unlaid_of(at, t) == 1) rarest = t, rarest_ways = ways;
  }
  return 1;
}

#define SPOTS 8
typedef struct { i32 ways; Box pocket; i32 q[3], room[3]; } Spot;
static Spot spots[SPOTS];
static i32 spot_n;

/* Collect the corners with the fewest blocks that could cover their test points. */
static int find_corners(i32 at, i32 most) {
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
        if (wy >= 0 && wy == wx) continue;
        p[1] = wy < 0 ? (sy ? size[1] - 1 : 0) : sy ? hull_of[wy].lo[1] - 1 : hull_of[wy].hi[1];
        if (p[1] < 0 || p[1] >= size[1]) continue;
        if (wx >= 0 && !(sure_of[wx].lo[1] <= p[1] && p[1] < sure_of[wx].hi[1])) continue;
        if (wy >= 0 && !(sure_of[wy].lo[0] <= p[0] && p[0] < sure_of[wy].hi[0])) continue;
        tol[1] = wy < 0 ? 0 : sy ? sure_of[wy].lo[1] - hull_of[wy].lo[1] : hull_of[wy].hi[1] - sure_of[wy].hi[1];
        for (i32 wz = -1; wz < wall_n; wz++) {
          int sz = signs >> 2;
          if (wz >= 0 && (wz == wx || wz == wy)) continue;
          p[2] = wz < 0 ? (sz ? size[2] - 1 : 0) : sz ? hull_of[wz].lo[2] - 1 : hull_of[wz].hi[2];
          if (p[2] < 0 || p[2] >= size[2]) continue;
          if (wx >= 0 && !covers(wx, 0, p)) continue;
          if (wy >= 0 && !covers(wy, 1, p)) continue;
          if (wz >= 0 && !covers(wz, 2, p)) continue;
          tol[2] = wz < 0 ? 0 : sz ? sure_of[wz].lo[2] - hull_of[wz].lo[2] : hull_of[wz].hi[2] - sure_of[wz].hi[2];
          Box pocket;
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
          if (rank >= most) continue;
          if (spot_n < most) spot_n++;
          for (i32 k = spot_n - 1; k > rank; k--) spots[k] = spots[k - 1];
          spots[rank].ways = ways, spots[rank].pocket = pocket;
          for (int a = 0; a < 3; a++) spots[rank].q[a] = q[a], spots[rank].room[a] = room[a];
        }
      }
    }
  }
  return spot_n;
}

static int lay(i32 t, i32 q, const Box *where);
static int roomy(const Frame *f, const i32 *d) { return d[0] <= f->room[0] && d[1] <= f->room[1] && d[2] <= f->room[2]; }

static void take_spot(Frame *f, const Spot *spot) {
  f->pocket = spot->pocket;
  for (int a = 0; a < 3; a++) f->point.lo[a] = spot->q[a], f->point.hi[a] = spot->q[a] + 1, f->room[a] = spot->room[a];
}

static i32 corner_ways;

/* Choose the corner with the fewest blocks that still stand once all that they force is settled. */
static int choose_corner(Frame *f, i32 unlaid) {
  i32 most = unlaid > 2 ? looking : 1;
  if (!find_corners(level, most)) return 0;
  take_spot(f, &spots[0]);
  corner_ways = spots[0].ways;
  if (spot_n == 1) return 1;
  Spot own[SPOTS];
  i32 count = spot_n, fewest = 0x7fffffff;
  __builtin_memcpy(own, spots, sizeof(own));
  for (i32 k = 0; k < count && fewest; k++) {
    Frame trial;
    take_spot(&trial, &own[k]);
    i32 alive = volume(&trial.pocket) <= budget - waste, here = level;
    for (i32 t = 0; t < type_n && alive < fewest; t++) {
      if (!unlaid_of(here, t)) continue;
      for (i32 q = 0; q < turn_n[t] && alive < fewest; q++) {
        Box where;
        Frame ask;
        if (!roomy(&trial, turns[t][q])) continue;
        if (!can_meet(here, turns[t][q], &trial.point, 0, &where) || !lay(t, q, &where)) continue;
        alive += settle(level, &ask) && all_have_room(level, 0);
        level = here, edge_n = f->edges, fixed_n = f->fixed, waste = f->waste;
      }
    }
    if (alive < fewest) fewest = alive, take_spot(f, &own[k]);
  }
  corner_ways = fewest;
  return fewest ? 1 : -1;
}

/* Where each block covers at least one of as many points as there are blocks, each covers just one of them. */
static i32 points[BLOCKS][3], point_n, spacing;

EXPORT(corner_points) void corner_points(u32 address, i32 count, i32 apart) {
  __builtin_memcpy(points, (const void *)address, (u32)count * 12u);
  point_n = count, spacing = apart;
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

/* 0 dead, 1 frame opened, 2 solved. */
static int open_frame(void) {
  Frame *f = &frames[level];
  nodes++;
  if (waste > budget) return 0;
  if (!settle(level, f)) return 0;
  f->edges = edge_n, f->fixed = fixed_n, f->waste = waste;
  if (f->next == 0) return 1;
  i32 left = 0;
  for (i32 i = 0; i < n; i++) left += !R(level, i)->d[0];
  if (!left) return 2;
  f->next = 0;
  if (point_n) {
    f->kind = 4, f->i = choose_point(level);
    return f->i >= 0;
  }
  if (!all_have_room(level, PIECES)) return 0;
  i32 block = rarest, ways = rarest_ways, found = fixed_n < FIXED - 1 && level + 2 < frame_room ? choose_corner(f, left) : 0;
  f->kind = found ? 0 : 2;
  if (found > 0 && block >= 0 && ways < corner_ways) f->kind = 3, f->i = block;
  return found >= 0;
}

EXPORT(corner_start)
i32 corner_start(u32 frame_space, u32 range_space, i32 levels, u32 edge_space, i32 edges_n, u32 rows, i32 types, u32 obstacles, i32 obstacle_n,
                 i32 sx, i32 sy, i32 sz, i32 void_budget, i32 mirror_block, i32 which_rules, i32 look) {
  frames = (Frame *)frame_space, ranges = (Range *)range_space, edges = (Edge *)edge_space;
  frame_room = levels, edge_room = edges_n, edge_n = 0, overrun = 0, level = 0, nodes = 0, waste = 0, budget = void_budget, type_n = types;
  size[0] = sx, size[1] = sy, size[2] = sz, mirrored = mirror_block, rules = which_rules, looking = look < SPOTS ? look : SPOTS;
  fixed_n = obstacle_n;
  __builtin_memcpy(fixed, (const void *)obstacles, (u32)obstacle_n * sizeof(Box));
  const i32 *row = (const i32 *)rows;
  n = 0;
  for (i32 t = 0; t < types; t++, row += 4) {
    static const u8 perm[6][3] = {{0, 1, 2}, {1, 0, 2}, {0, 2, 1}, {2, 0, 1}, {1, 2, 0}, {2, 1, 0}};
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
  for (i32 i = 0; i < n; i++) R(0, i)->d[0] = 0;
  return open_frame();
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

/* 1 solved, 0 exhausted, -1 more to do, -2 out of room. */
EXPORT(corner_run) i32 corner_run(i32 more) {
  i64 stop = nodes + more;
  while (nodes < stop) {
    if (overrun) return -2;
    if (level < 0) return 0;
    Frame *f = &frames[level];
    edge_n = f->edges, fixed_n = f->fixed, waste = f->waste;
    if (level + 2 >= frame_room || edge_n + 64 >= edge_room) return -2;
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
      i32 t = f->i, q = f->next >> 10, piece = f->next & 1023;
      if (q >= turn_n[t]) { level--; continue; }
      Box whole, where;
      for (int a = 0; a < 3; a++) whole.lo[a] = 0, whole.hi[a] = size[a];
      i32 count = can_meet(level, turns[t][q], &whole, 0, &where);
      if (count > 1 && count < 40) count = drop_contained(count);
      if (piece >= count) { f->next = (q + 1) << 10; continue; }
      f->next++;
      where = list[piece];
      made = lay(t, q, &where);
    } else {
      i32 index = f->next++, t = index / 6, q = index % 6;
      if (t < type_n) {
        Box where, whole;
        if (q >= turn_n[t] || !unlaid_of(level, t)) continue;
        if (f->kind == 2) { /* only the first type that is left */
          i32 first = 0;
          while (!unlaid_of(level, first)) first++;
          if (t != first) { level--; continue; }
        }
        for (int a = 0; a < 3; a++) whole.lo[a] = 0, whole.hi[a] = size[a];
        if (f->kind == 4) {
          if (covers_one(level, f->i, turns[t][q], &where)) made = lay(t, q, &where);
          goto tried;
        }
        if (f->kind == 0 && !roomy(f, turns[t][q])) continue;
        if (!can_meet(level, turns[t][q], f->kind == 0 ? &f->point : &whole, 0, &where)) continue;
        made = lay(t, q, &where);
      } else if (f->kind == 0 && index == type_n * 6) {
        made = leave_void(f);
      } else {
        level--;
        continue;
      }
    }
  tried:
    if (!made) continue;
    int state = open_frame();
    if (state == 2) return 1;
    if (!state) level--;
  }
  return -1;
}

EXPORT(corner_level) i32 corner_level(void) { return level; }
EXPORT(corner_nodes) f64 corner_nodes(void) { return (f64)nodes; }
EXPORT(corner_frame_bytes) i32 corner_frame_bytes(void) { return (i32)sizeof(Frame); }
