/* Shortest ways through free voxels: A* on the 26-neighbour lattice without cut corners.
 *
 * Lengths are integers, so that sums do not depend on the order of the steps and equal ways compare
 * equal.  In a plain field one voxel edge is 2^40 units; in a field with costs the step between two
 * voxels is (2^28 units per edge) x (sum of both voxels' costs in 1/64), that is 2^35 units per edge at
 * cost 1.
 *
 * Where the 27 voxels around a place are all free, a way that bends there can be exchanged for one of the
 * same length or less that takes its longest diagonals first.  The way that does so everywhere is one of
 * the shortest, so a place with free surroundings only hands on the directions that keep or drop parts of
 * the direction it was reached by.  Directions that arrive later with an equal length are added.  In a field
 * with costs the exchange holds where all 27 voxels cost the same; elsewhere, and in a greedy search, all
 * directions are tried.
 *
 * Of a plain field the lengths that matter are found first, in whatever order is quick, then the voxels that lie on a
 * shortest way, a twentieth of those looked at; the search that breaks ties keeps to these, and so does one that
 * breaks them as in the mirror image.  It finds the very way that it would find among all: whatever hands a shortest
 * length on to such a voxel is one itself, and which of two of them comes first hangs on these two alone.
 *
 * A search is led by the empty-lattice length to the goals, or by a guide: the lengths to the goals at the
 * least costs that places ever have, kept from an earlier search that began at the goals. */
#include "kernel.h"
#include "neighbours.h"

#define FAR 0xffffffffffffffffull
#define ALL 0x07ffdfffu
#define GOAL 0x80000000u
#define EVEN 0x40000000u
#define LOOKED 0x20000000u
#define KNOWN 0x10000000u
#define ON 0x08000000u
#define PARENT_SHIFT 27
#define GUIDE_SHIFT 20
#define NO_WAY 0xffffffffu

static u32 nx, ny, nz, row_x, row_y, count;
static u8 *open_voxel;
static u32 *steps;  /* bits 0..26: directions that may be gone, once bit 28 is set; bit 31: a goal of this query;
                       bit 30: the 27 voxels around cost the same, once bit 29 is set; bit 27: on a shortest way */

typedef struct {    /* of a voxel, side by side as they are looked at together */
  u64 short_of;     /* what the length of the best way found so far falls short of FAR by */
  u32 todo;         /* directions still to be tried */
  u32 done;         /* directions tried, and the direction the way came by in bits 27..31 */
} Node;
static Node *node;
static u64 *told;   /* lengths as they are told to the caller, once they were asked for */
static u32 *stack;  /* voxels whose neighbours are still to be labelled, once labels were asked for */
static u16 *cost;   /* cost of a voxel in 1/64, or none */
static u32 looked;  /* whether any voxel was looked at since costs were given */

typedef struct { u64 f, tie; } Entry;
static Entry *heap;
static u32 heap_size, heap_room, has_aside;
static Entry aside;

/* A search without goals goes to everywhere, so places wait in buckets as wide as an edge, in a ring: no step is shorter,
 * so what lies in one bucket is final, and none is longer than the ring. */
#define RING 2048u
#define TURN_SHIFT 37u /* on the way to goals in a plain field buckets are an eighth of an edge wide */
typedef struct { u32 at, next; } Link;
static Link *links; /* from 1 on */
static u32 link_size, link_room, link_free, ring[RING], ring_left, edge_shift;
static u64 ring_at;

static u32 *lying; /* voxels on shortest ways of this query */
static u32 lying_size, lying_room;
static u32 settling, keeps_to; /* whether lengths are still to be found; whether the search keeps to those voxels */
static u64 nearest; /* length of the shortest way to a goal found so far, or FAR */

static u32 *touched;
static u32 touched_size, touched_room;
static u32 *way;
static u32 way_room;
static u32 *goals, *starts; /* of this query, in one array */
static u32 goal_count, start_count, ends_room;
static i32 low[3], high[3];
static u64 unit[4];
static u32 flip_x, flip_y, flip_z, plain, greed; /* greed: estimate weight in 1/64 */
static u64 reach;
static const u32 *guide; /* what is left to the goals, in 2^GUIDE_SHIFT units; NO_WAY where none leads; or none */
static u32 *answer; /* status, voxels on the way, address of the way, places expanded */

static void *grow(void *old, u32 used, u32 room, u32 size) {
  u8 *fresh = (u8 *)allocate_many(room, size);
  if (fresh && old) __builtin_memcpy(fresh, old, used * size);
  return fresh;
}

static u64 length_of(u32 v) { return FAR - node[v].short_of; }

/* The directions that may be gone from an open voxel: worked out when it is first come to. */
static u32 steps_of(u32 v) {
  if (!(steps[v] & KNOWN)) steps[v] |= open_steps(free_around(open_voxel, v)) | KNOWN;
  return steps[v] & ALL;
}

/* Take a field of (x, y, z) voxels with a closed border one voxel thick, kept by the caller; returns the address of the
 * answer, 0 when there is no memory. */
EXPORT(prepare) u32 prepare(u32 x, u32 y, u32 z, u32 voxels) {
  if ((u64)x * y * z > 0x1fffffffull) return 0;
  nx = x; ny = y; nz = z;
  row_y = z; row_x = y * z; count = x * y * z;
  open_voxel = (u8 *)voxels;
  cost = 0; looked = 0;
  set_neighbours(row_x, row_y);
  steps = (u32 *)allocate(count * 4u);
  node = (Node *)allocate_many(count, sizeof(Node));
  told = 0; stack = 0;
  answer = (u32 *)allocate(32);
  heap_room = 1u << 14; heap = (Entry *)allocate(heap_room * sizeof(Entry));
  link_room = 1u << 12; links = (Link *)allocate(link_room * sizeof(Link));
  touched_room = 1u << 14; touched = (u32 *)allocate(touched_room * 4u);
  lying_room = 1u << 12; lying = (u32 *)allocate(lying_room * 4u);
  way_room = 1u << 12; way = (u32 *)allocate(way_room * 4u);
  if (!steps || !node || !answer || !heap || !links || !touched || !lying || !way) return 0;
  if (ring_left) __builtin_memset(ring, 0, sizeof ring);
  touched_size = lying_size = heap_size = has_aside = ring_left = goal_count = ends_room = 0;
  return (u32)answer;
}

/* Give the field a cost for each voxel (in 1/64, at least 64), or none; to be called after they changed. */
EXPORT(set_cost) void set_cost(u32 address) {
  cost = (u16 *)address;
  if (!looked) return; /* nothing is to be forgotten */
  for (u32 v = 0; v < count; v++) steps[v] &= ~(EVEN | LOOKED);
  looked = 0;
}

/* Change the costs of some voxels. */
EXPORT(change_cost) void change_cost(u32 list, u32 costs, u32 length) {
  const u32 *v = (const u32 *)list;
  const u16 *price = (const u16 *)costs;
  for (u32 i = 0; i < length; i++) {
    if (cost[v[i]] == price[i]) continue;
    cost[v[i]] = price[i];
    for (u32 d = 0; d < 27; d++) steps[(u32)((i32)v[i] + offset[d])] &= ~(EVEN | LOOKED);
  }
}

/* Do all 27 voxels around a place cost the same? */
static u32 is_even(u32 v) {
  if (!(steps[v] & LOOKED)) {
    looked = 1;
    u32 same = EVEN;
    u16 own = cost[v];
    for (u32 row = 0; same && row < 9; row++) {
      const u16 *at = cost + (u32)((i32)v + offset[3u * row]);
      if (at[0] != own || at[1] != own || at[2] != own) same = 0;
    }
    steps[v] |= LOOKED | same;
  }
  return steps[v] & EVEN;
}

/* Open or close voxels after the field was prepared. */
EXPORT(change) void change(u32 list, u32 length, u32 open) {
  const u32 *v = (const u32 *)list;
  for (u32 i = 0; i < length; i++) open_voxel[v[i]] = (u8)open;
  for (u32 i = 0; i < length; i++)
    for (u32 d = 0; d < 27; d++) steps[(u32)((i32)v[i] + offset[d])] = 0;
}

/* Without branches: which of two comes first is as good as chance.  Said by and and or, both compares become one of
 * vectors, and what is put together and taken apart for it takes a third of the whole search. */
static u32 before(const Entry *a, const Entry *b) {
  return a->f == b->f ? a->tie < b->tie : a->f < b->f;
}

/* Which of four entries comes first, in two rounds. */
static u32 first_of(const Entry *four) {
  u32 one = before(four + 1, four), other = 2u + before(four + 3, four + 2);
  return before(four + other, four + one) ? other : one;
}

/* The first entry of those that came in since the last one was taken out is kept aside: mostly it goes out next. */
static int put_in_heap(Entry e) {
  if (heap_size == heap_room) {
    Entry *fresh = (Entry *)grow(heap, heap_size, heap_room * 2u, sizeof(Entry));
    if (!fresh) return 0;
    heap = fresh; heap_room *= 2u;
  }
  u32 i = heap_size++;
  while (i) {
    u32 up = (i - 1u) >> 2;
    if (!before(&e, &heap[up])) break;
    heap[i] = heap[up];
    i = up;
  }
  heap[i] = e;
  return 1;
}

static int push(u64 f, u64 tie) {
  Entry e = {f, tie};
  if (!has_aside) {
    aside = e; has_aside = 1;
    return 1;
  }
  if (!before(&e, &aside)) return put_in_heap(e);
  Entry later = aside;
  aside = e;
  return put_in_heap(later);
}

/* Take out the first entry; another takes its place from the root down. */
static Entry pop(void) {
  u32 whole = has_aside;
  has_aside = 0;
  if (whole && (!heap_size || before(&aside, &heap[0]))) return aside;
  Entry top = heap[0], e = whole ? aside : heap[--heap_size];
  u32 i = 0;
  for (;;) {
    u32 first = 4u * i + 1u;
    if (first >= heap_size) break;
    u32 best = first;
    if (first + 4u <= heap_size)
      best += first_of(heap + first);
    else
      for (u32 c = first + 1u; c < heap_size; c++) best = before(&heap[c], &heap[best]) ? c : best;
    if (!before(&heap[best], &e)) break;
    heap[i] = heap[best];
    i = best;
  }
  heap[i] = e;
  return top;
}

static u64 weighted(u64 h) { return greed == 64u ? h : (h >> 6) * greed; }

/* What is left from a place to the goals, at least: after the guide, or to the box around the goals. */
static u64 estimate(u32 v, i32 x, i32 y, i32 z) {
  if (!goal_count) return 0;
  if (guide) return weighted((u64)guide[v] << GUIDE_SHIFT);
  i32 a = x < low[0] ? low[0] - x : x > high[0] ? x - high[0] : 0;
  i32 b = y < low[1] ? low[1] - y : y > high[1] ? y - high[1] : 0;
  i32 c = z < low[2] ? low[2] - z : z > high[2] ? z - high[2] : 0;
  i32 t;
  if (a < b) { t = a; a = b; b = t; }
  if (b < c) { t = b; b = c; c = t; }
  if (a < b) { t = a; a = b; b = t; }
  return weighted(unit[3] * (u64)c + unit[2] * (u64)(b - c) + unit[1] * (u64)(a - b));
}

static u32 tie_of(u32 x, u32 y, u32 z) {
  if (flip_x) x = nx - 1u - x;
  if (flip_y) y = ny - 1u - y;
  if (flip_z) z = nz - 1u - z;
  return x * row_x + y * row_y + z;
}

static int touch(u32 v) {
  if (touched_size == touched_room) {
    u32 *fresh = (u32 *)grow(touched, touched_size, touched_room * 2u, 4u);
    if (!fresh) return 0;
    touched = fresh; touched_room *= 2u;
  }
  touched[touched_size++] = v;
  return 1;
}

static u32 trace(u32 v) {
  u32 length = 1, at = v;
  while ((node[at].done >> PARENT_SHIFT) != CENTRE) {
    at = (u32)((i32)at - offset[node[at].done >> PARENT_SHIFT]);
    length++;
  }
  if (length > way_room) {
    way_room = length * 2u;
    way = (u32 *)allocate_many(way_room, 4u);
    if (!way) { way_room = 0; return 0; }
  }
  at = v;
  for (u32 i = length; i-- > 0;) {
    way[i] = at;
    if (i) at = (u32)((i32)at - offset[node[at].done >> PARENT_SHIFT]);
  }
  answer[1] = length;
  answer[2] = (u32)way;
  return length;
}

static int put_in_ring(u64 bucket, u32 v) {
  u32 link = link_free;
  if (link) {
    link_free = links[link].next;
  } else {
    if (link_size == link_room) {
      Link *fresh = (Link *)grow(links, link_size, link_room * 2u, sizeof(Link));
      if (!fresh) return 0;
      links = fresh; link_room *= 2u;
    }
    link = link_size++;
  }
  u32 *slot = &ring[bucket % RING];
  links[link] = (Link){v, *slot};
  *slot = link;
  ring_left++;
  return 1;
}

/* Count a place as looked at: these steps from it are taken now. */
static void look_from(u32 v, u32 go) {
  node[v].todo = 0;
  STEPS(26);
  node[v].done |= go;
  answer[3]++;
}

/* Go on to everywhere, for at most `limit` places, with costs or without: each compiled by itself. */
static inline __attribute__((always_inline)) u32 flood_on(u32 limit, const u32 priced) {
  for (; ring_left; ring_at++) {
    u32 *slot = &ring[ring_at % RING];
    while (*slot) {
      if (!limit--) return answer[0] = 2;
      u32 link = *slot, v = links[link].at;
      *slot = links[link].next;
      links[link].next = link_free; link_free = link;
      ring_left--;
      u64 base = length_of(v);
      u32 go = base >> edge_shift == ring_at ? node[v].todo : 0; /* a shorter way has been found since */
      if (!go) continue;
      look_from(v, go);
      u32 weight = priced ? cost[v] : 0;
      while (go) {
        u32 d = (u32)__builtin_ctz(go);
        go &= go - 1u;
        u32 w = (u32)((i32)v + offset[d]);
        Node *to = node + w;
        u64 known = FAR - to->short_of, length = base + unit[kind[d]]; /* no step is shorter */
        if (length > known) continue;
        if (priced) length = base + (unit[kind[d]] >> 7) * (weight + cost[w]);
        if (length > known || length > reach) continue;
        u32 may = steps_of(w);
        if (may == ALL && (!priced || is_even(w))) may = heirs[d];
        if (length == known) {
          to->todo |= may & ~to->done;
          continue;
        }
        if (known == FAR && !touch(w)) return answer[0] = 3;
        *to = (Node){FAR - length, may, d << PARENT_SHIFT};
        /* What waits in a bucket was not looked at yet: an edge is as long as a bucket. */
        if (known >> edge_shift == length >> edge_shift) continue;
        if (!put_in_ring(length >> edge_shift, w)) return answer[0] = 3;
      }
    }
  }
  return answer[0] = 0;
}

/* Go on to everywhere, for at most `limit` places.  0: all is done, 2: not finished, 3: out of memory. */
static u32 flood(u32 limit) { return plain ? flood_on(limit, 0) : flood_on(limit, 1); }

/* Give a place to be looked at its turn, which is never too late: at the least length that a way over it can have. */
static int wait_for_turn(u64 least, u32 v) {
  u64 bucket = least >> TURN_SHIFT;
  return put_in_ring(bucket < ring_at + RING ? bucket : ring_at + RING - 1u, v);
}

/* Find the lengths of all that may lie on a shortest way to a goal, in a plain field.  A place is looked at anew when
 * a shorter way to it comes up.  0: all is done, 2: not finished, 3: out of memory. */
static u32 settle(u32 limit) {
  for (; ring_left && ring_at <= nearest >> TURN_SHIFT; ring_at++) {
    u32 *slot = &ring[ring_at % RING];
    while (*slot) {
      if (!limit--) return 2;
      u32 link = *slot, v = links[link].at;
      *slot = links[link].next;
      links[link].next = link_free; link_free = link;
      ring_left--;
      u32 go = node[v].todo;
      if (!go) continue;
      look_from(v, go);
      u64 base = length_of(v);
      u32 x = v / row_x, rest = v - x * row_x, y = rest / row_y, z = rest - y * row_y;
      while (go) {
        u32 d = (u32)__builtin_ctz(go);
        go &= go - 1u;
        u32 w = (u32)((i32)v + offset[d]);
        u64 length = base + unit[kind[d]];
        Node *to = node + w;
        u64 known = FAR - to->short_of;
        if (length > known) continue;
        u32 may, waits = to->todo;
        u64 least = length + estimate(w, (i32)(x + d / 9u - 1u), (i32)(y + d / 3u % 3u - 1u), (i32)(z + d % 3u - 1u));
        if (least > nearest) continue;
        may = steps_of(w);
        if (may == ALL) may = heirs[d];
        if (length == known) {
          to->todo |= may & ~to->done;
          if (waits || !to->todo) continue;
        } else {
          if (known == FAR && !touch(w)) return 3;
          waits = waits && (least + known - length) >> TURN_SHIFT == least >> TURN_SHIFT;
          *to = (Node){FAR - length, may, 0};
          if (steps[w] & GOAL && length < nearest) nearest = length;
          if (waits) continue;
        }
        if (!wait_for_turn(least, w)) return 3;
      }
    }
  }
  return 0;
}

static int lay(u32 v) {
  if (lying_size == lying_room) {
    u32 *fresh = (u32 *)grow(lying, lying_size, lying_room * 2u, 4u);
    if (!fresh) return 0;
    lying = fresh; lying_room *= 2u;
  }
  steps[v] |= ON;
  lying[lying_size++] = v;
  return 1;
}

/* Mark the voxels on shortest ways, from the nearest goals back; 0: out of memory. */
static int mark_ways(void) {
  for (u32 i = 0; i < goal_count; i++)
    if (length_of(goals[i]) == nearest && !(steps[goals[i]] & ON) && !lay(goals[i])) return 0;
  for (u32 i = 0; i < lying_size; i++) {
    u32 v = lying[i], go = steps_of(v);
    while (go) {
      u32 d = (u32)__builtin_ctz(go), w = (u32)((i32)v + offset[d]);
      go &= go - 1u;
      if (!node[w].short_of || steps[w] & ON || length_of(w) + unit[kind[d]] != length_of(v)) continue;
      if (!lay(w)) return 0;
    }
  }
  return 1;
}

static i32 along_x(u32 v) { return (i32)(v / row_x); }
static i32 along_y(u32 v) { return (i32)(v / row_y % ny); }
static i32 along_z(u32 v) { return (i32)(v % row_y); }

/* Search in order for at most `limit` places, greedily or not: each compiled by itself.  A greedy search looks at a place
 * once, with all its steps, and keeps it; its bound holds without. */
static inline __attribute__((always_inline)) u32 search_on(u32 limit, const u32 greedy) {
  const u32 flipped = flip_x | flip_y | flip_z, priced = greedy || !plain;
  while (heap_size | has_aside) {
    if (!limit--) return answer[0] = 2;
    Entry top = pop();
    u32 v = (u32)top.tie;
    if (flipped) v = tie_of((u32)along_x(v), (u32)along_y(v), (u32)along_z(v));
    u32 go = node[v].todo;
    u64 base = length_of(v);
    if (steps[v] & GOAL && (greedy || base + estimate(v, along_x(v), along_y(v), along_z(v)) == top.f))
      return answer[0] = trace(v) ? 1 : 3;
    if (!go) continue;
    look_from(v, go);
    i32 x = along_x(v), y = along_y(v), z = along_z(v);
    u32 weight = priced ? cost[v] : 0;
    while (go) {
      u32 d = (u32)__builtin_ctz(go);
      go &= go - 1u;
      u32 w = (u32)((i32)v + offset[d]);
      Node *to = node + w;
      if (greedy && to->done & ALL) continue;
      u64 known = FAR - to->short_of;
      u64 length = priced ? base + (unit[kind[d]] >> 7) * (weight + cost[w]) : base + unit[kind[d]];
      if (length > known || length > reach) continue;
      if (guide && guide[w] == NO_WAY) continue;
      if (!greedy && keeps_to && !(steps[w] & ON)) continue;
      u32 may = steps_of(w);
      if (!greedy && may == ALL && (!priced || is_even(w))) may = heirs[d];
      if (length == known) {
        u32 more = may & ~(to->done | to->todo);
        if (!more) continue;
        int waiting = to->todo != 0;
        to->todo |= more;
        if (waiting) continue;
      } else {
        if (known == FAR && !touch(w)) return answer[0] = 3;
        *to = (Node){FAR - length, may, d << PARENT_SHIFT};
      }
      i32 p = x + (i32)(d / 9u) - 1, q = y + (i32)(d / 3u % 3u) - 1, r = z + (i32)(d % 3u) - 1;
      u64 h = estimate(w, p, q, r);
      if (!push(length + h, (h >> 21) << 32 | (flipped ? tie_of((u32)p, (u32)q, (u32)r) : w))) return answer[0] = 3;
    }
  }
  return answer[0] = 0;
}

/* Search in order for at most `limit` places.  1: found, 0: there is no way, 2: not finished, 3: out of memory. */
static u32 search(u32 limit) { return greed == 64u ? search_on(limit, 0) : search_on(limit, 1); }

/* Forget all lengths, and what waits to be looked at. */
static void forget_lengths(void) {
  for (u32 i = 0; i < touched_size; i++) node[touched[i]] = (Node){0, 0, 0};
  touched_size = heap_size = has_aside = 0;
  if (ring_left) __builtin_memset(ring, 0, sizeof ring);
  link_size = 1; link_free = ring_left = 0; ring_at = 0;
}

static void forget(void) {
  forget_lengths();
  for (u32 i = 0; i < lying_size; i++) steps[lying[i]] &= ~ON;
  lying_size = 0;
  for (u32 i = 0; i < goal_count; i++) steps[goals[i]] &= ~GOAL;
  goal_count = 0;
}

static int start_at(u32 v) {
  if (node[v].short_of || !open_voxel[v]) return 1;
  if (keeps_to && !(steps[v] & ON)) return 1;
  if (!touch(v)) return 0;
  node[v] = (Node){FAR, steps_of(v), CENTRE << PARENT_SHIFT};
  u32 x = v / row_x, y = v / row_y % ny, z = v % row_y;
  if (guide && guide[v] == NO_WAY) return 1;
  if (!goal_count) return put_in_ring(0, v);
  u64 h = estimate(v, (i32)x, (i32)y, (i32)z);
  if (settling) {
    if (steps[v] & GOAL) nearest = 0;
    return wait_for_turn(h, v);
  }
  return push(h, (h >> 21) << 32 | tie_of(x, y, z));
}

static int start(void) {
  for (u32 i = 0; i < start_count; i++)
    if (!start_at(starts[i])) return 0;
  return 1;
}

/* Begin the search in order that keeps to the marked voxels. */
static int keep_to_ways(void) {
  forget_lengths();
  settling = 0; keeps_to = 1;
  return start();
}

/* Go on for at most `limit` places.  1: found, 0: there is no way, 2: not finished, 3: out of memory. */
EXPORT(advance) u32 advance(u32 limit) {
  if (!goal_count) return flood(limit);
  if (settling) {
    u32 status = settle(limit);
    if (status) return answer[0] = status;
    if (nearest == FAR) return answer[0] = 0;
    if (!mark_ways() || !keep_to_ways()) return answer[0] = 3;
  }
  return search(limit);
}

static void take_options(u32 options) {
  plain = !(options & 1u);
  flip_x = options >> 1 & 1u; flip_y = options >> 2 & 1u; flip_z = options >> 3 & 1u;
}

/* Begin a query: from any of the starts to the nearest goal (or, without goals, to everywhere within reach).
 * `options` has bit 0: with costs, bits 1..3: ties are broken as in the image mirrored in x, y, z.
 * `led_by` is a guide to these very goals, or none. */
EXPORT(find) u32 find(u32 start_list, u32 starts_used, u32 end_list, u32 end_count, u32 options, u32 weight, u32 far_low,
                      u32 far_high, u32 led_by, u32 limit) {
  forget();
  start_count = starts_used;
  guide = (const u32 *)led_by;
  take_options(options);
  greed = plain ? 64u : weight;
  reach = (u64)far_high << 32 | far_low;
  unit[1] = plain ? 1099511627776ull : 268435456ull << 7;
  unit[2] = plain ? 1554944255988ull : 379625062ull << 7;
  unit[3] = plain ? 1904410002821ull : 464943848ull << 7;
  edge_shift = plain ? 40u : 35u;
  const u32 *e = (const u32 *)end_list;
  if (end_count + start_count > ends_room) {
    ends_room = (end_count + start_count) * 2u;
    goals = (u32 *)allocate_many(ends_room, 4u);
    if (!goals) { ends_room = 0; return answer[0] = 3; }
  }
  starts = goals + end_count;
  __builtin_memcpy(starts, (const u32 *)start_list, start_count * 4u);
  low[0] = low[1] = low[2] = 0x7fffffff;
  high[0] = high[1] = high[2] = -1;
  for (u32 i = 0; i < end_count; i++) {
    i32 at[3] = {(i32)(e[i] / row_x), (i32)(e[i] / row_y % ny), (i32)(e[i] % row_y)};
    for (u32 k = 0; k < 3; k++) {
      if (at[k] < low[k]) low[k] = at[k];
      if (at[k] > high[k]) high[k] = at[k];
    }
    goals[i] = e[i];
    steps[e[i]] |= GOAL;
  }
  goal_count = end_count;
  answer[1] = answer[2] = answer[3] = 0;
  settling = plain && goal_count; keeps_to = 0; nearest = FAR;
  return start() ? advance(limit) : (answer[0] = 3);
}

/* Ask the last query of a plain field again with ties broken otherwise, where it found a way. */
EXPORT(turn) u32 turn(u32 options, u32 limit) {
  if (!lying_size) return answer[0] = 0;
  take_options(options);
  answer[1] = answer[2] = answer[3] = 0;
  return keep_to_ways() ? advance(limit) : (answer[0] = 3);
}

/* Address of the lengths found by the last query; 0: no memory. */
EXPORT(lengths) u32 lengths(void) {
  if (!told) told = (u64 *)allocate_many(count, 8u);
  if (told)
    for (u32 v = 0; v < count; v++) told[v] = length_of(v);
  return (u32)told;
}
/* Keep the lengths found by the last query, which began at the goals, as a guide to them. */
EXPORT(keep_guide) void keep_guide(u32 address) {
  u32 *kept = (u32 *)address;
  for (u32 v = 0; v < count; v++) {
    u64 length = length_of(v) >> GUIDE_SHIFT;
    kept[v] = !node[v].short_of ? NO_WAY : length < NO_WAY ? (u32)length : NO_WAY - 1u;
  }
}
/* Follow the last query's ways back from one voxel; returns the number of voxels on it, 0 when not reached. */
EXPORT(back) u32 back(u32 v) { return node[v].short_of ? trace(v) : 0; }

/* Label the connected free voxels from 1 (a diagonal step is allowed only where face steps lead round, so
 * faces are enough); returns the number of labels, NO_WAY where there is no memory. */
EXPORT(label) u32 label(u32 address) {
  u32 *names = (u32 *)address, found = 0;
  if (!stack) stack = (u32 *)allocate_many(count, 4u);
  if (!stack) return NO_WAY;
  __builtin_memset(names, 0, count * 4u);
  for (u32 v = 0; v < count; v++) {
    if (!open_voxel[v] || names[v]) continue;
    found++;
    u32 top = 0;
    names[v] = found;
    stack[top++] = v;
    while (top) {
      u32 at = stack[--top], go = 0x00415410u; /* the six face neighbours */
      while (go) {
        u32 w = (u32)((i32)at + offset[__builtin_ctz(go)]);
        go &= go - 1u;
        if (open_voxel[w] && !names[w]) { names[w] = found; stack[top++] = w; }
      }
    }
  }
  return found;
}
