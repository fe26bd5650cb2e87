/* Trees through voxels: lengths from each terminal, and labels for sets of terminals (Dreyfus and Wagner 1971,
 * by voxels and steps; Erickson, Monma and Veinott 1987; both from memory).
 *
 * Lengths are whole numbers: 1024, 1448 and 1774 for a step along one, two or three axes, times the mean cost of
 * the two voxels (in 1/64).  No corner is cut.  A label is kept as length + 1; 0 means not reached.
 *
 * Where the 27 voxels around a place are open and cost the same, a label is handed on only in directions that keep or
 * drop parts of those it came by: of equally long ways one takes its longest diagonals first (see ways.c).
 *
 * A flood hands labels on in buckets of 1024, the shortest step there is, so what lies in one bucket is final.
 * Floods for sets of terminals run over kept voxels only and leave out what cannot be part of a tree within the
 * limit, by what is still missing to one or two terminals. */
#include "kernel.h"
#include "neighbours.h"

#define KNOWN 0x80000000u
#define EVEN 0x40000000u
#define EVERY 0x07ffffffu
#define FAR 0xffffffffu

static u32 row_x, row_y, count;
static u8 *open_voxel;
static u16 *cost;
static u32 *site;  /* what a splice here costs, in units of length; 0: none may be */
static u32 *steps; /* bits 0..26: directions that may be gone, once bit 31 is set; bit 30: the 27 voxels around cost
                      the same and are open */
static u32 unit[27];

static u32 *kept;  /* number of a kept voxel, from 1; 0: not kept */
static u32 *back;  /* voxel of a number */
static u32 kept_size;
static u32 *sites; /* numbers of kept voxels where a splice may be */
static u32 sites_size;

typedef struct { u32 at, next; } Entry;
static Entry *pool;
static u32 pool_size, pool_room, *heads, heads_room, first_bucket, last_bucket;

static u32 *onward;      /* over open voxels: the steps that a label is handed on by where all around costs the same */
static u32 *label;       /* of the flood in hand, by voxel or by number */
static u32 limit, sparse;
static u32 work;         /* voxels looked at since the map was taken */
#define TERMINALS 16
LIMIT(terminal_most, TERMINALS)
static u32 *guards[TERMINALS];  /* labels of single terminals, by voxel */
static u32 guard_count, *through; /* shortest ways from one through all others to another, row by row */
static u32 joints;                /* what is still missing takes so much for splices and further wires at least */

/* Take a map with a closed border one voxel thick.  0: no memory. */
EXPORT(prepare) u32 prepare(u32 x, u32 y, u32 z, u32 open, u32 costs, u32 splices) {
  if ((u64)x * y * z > 0x1fffffffull) return 0;
  row_y = z; row_x = y * z; count = x * y * z;
  open_voxel = (u8 *)open; cost = (u16 *)costs; site = (u32 *)splices;
  static const u32 lengths[4] = {0u, 1024u, 1448u, 1774u};
  set_neighbours(row_x, row_y);
  for (u32 d = 0; d < 27; d++) unit[d] = lengths[kind[d]];
  steps = (u32 *)allocate(count * 4u);
  onward = (u32 *)allocate(count * 4u);
  kept = (u32 *)allocate(count * 4u);
  pool_room = 1u << 16; pool = (Entry *)allocate(pool_room * sizeof(Entry));
  heads_room = 1u << 13; heads = (u32 *)allocate(heads_room * 4u);
  pool_size = 1; kept_size = sites_size = 0; first_bucket = last_bucket = FAR; work = 0;
  return steps && onward && kept && pool && heads;
}

static u32 steps_of(u32 v) {
  if (!steps[v]) {
    u32 around = free_around(open_voxel, v), may = KNOWN;
    if (around == EVERY) {
      may |= EVERY & ~(1u << CENTRE);
      u32 same = EVEN;
      u16 own = cost[v];
      for (u32 row = 0; row < 9; row++) {
        const u16 *at = cost + (u32)((i32)v + offset[3u * row]);
        if (at[0] != own || at[1] != own || at[2] != own) same = 0;
      }
      may |= same;
    } else {
      may |= open_steps(around);
    }
    steps[v] = may;
  }
  return steps[v];
}

static u32 step_length(u32 v, u32 w, u32 d) { return (unit[d] * ((u32)cost[v] + cost[w])) >> 7; }

/* Where all around costs the same: what a neighbour costs need not be looked up. */
static u32 even_length(u32 own, u32 d) { return (unit[d] * own) >> 6; }

static int push(u32 value, u32 at) {
  u32 bucket = value >> 10;
  if (bucket >= heads_room) {
    u32 room = heads_room;
    while (room <= bucket) room *= 2u;
    u32 *fresh = (u32 *)allocate_many(room, 4u);
    if (!fresh) return 0;
    __builtin_memcpy(fresh, heads, heads_room * 4u);
    heads = fresh; heads_room = room;
  }
  if (pool_size == pool_room) {
    Entry *fresh = (Entry *)allocate_many(2ull * pool_room, sizeof(Entry));
    if (!fresh) return 0;
    __builtin_memcpy(fresh, pool, pool_room * sizeof(Entry));
    pool = fresh; pool_room *= 2u;
  }
  pool[pool_size].at = at; pool[pool_size].next = heads[bucket];
  heads[bucket] = pool_size++;
  if (bucket < first_bucket) first_bucket = bucket;
  if (bucket > last_bucket || last_bucket == FAR) last_bucket = bucket;
  return 1;
}

/* Whether no tree that has this label here can be within the limit: what is missing leads to every guard, and is
 * at least half of the shortest round through all of them, since going round it and back is one (Hougardy, Silvanus
 * and Vygen 2017; from memory). */
static int hopeless(u32 value, u32 v) {
  u32 far[TERMINALS];
  if (value > limit || joints > limit - value) return 1;
  u32 left = limit - value - joints;
  for (u32 i = 0; i < guard_count; i++) {
    u32 label_there = guards[i][v];
    if (!label_there || label_there - 1u > left) return 1;
    far[i] = label_there - 1u;
  }
  if (guard_count < 2u) return 0;
  for (u32 i = 1; i < guard_count; i++)
    for (u32 j = 0; j < i; j++)
      if (far[i] + far[j] + through[i * guard_count + j] <= 2u * left + 4u) return 0;
  return 1;
}

/* Begin a flood that writes to these labels, over all open voxels or (sparse) over the kept ones; 0: too many guards. */
EXPORT(begin) u32 begin(u32 labels, u32 over_kept, u32 at_most, u32 guard_list, u32 guards_used, u32 ways, u32 least_joints) {
  label = (u32 *)labels; sparse = over_kept; limit = at_most; guard_count = 0;
  through = (u32 *)ways; joints = least_joints;
  first_bucket = FAR;
  if (guards_used > (u32)terminal_most) return 0;
  guard_count = guards_used;
  for (u32 i = 0; i < guard_count; i++) guards[i] = (u32 *)((u32 *)guard_list)[i];
  if (last_bucket != FAR)
    for (u32 b = 0; b <= last_bucket && b < heads_room; b++) heads[b] = 0;
  pool_size = 1; first_bucket = last_bucket = FAR;
  return 1;
}

static int offer(u32 v, u32 value) {
  u32 at = v;
  if (!open_voxel[v]) return 1;
  if (sparse) {
    at = kept[v];
    if (!at) return 1;
  }
  if (label[at] && label[at] <= value + 1u) return 1;
  if (hopeless(value, v)) return 1;
  label[at] = value + 1u;
  onward[v] = EVERY;
  return push(value, at);
}

/* Give some voxels a label to begin with. */
EXPORT(seed) u32 seed(u32 list, u32 length, u32 value) {
  const u32 *v = (const u32 *)list;
  for (u32 i = 0; i < length; i++)
    if (!offer(v[i], value)) return 0;
  return 1;
}

/* Join two sets wherever a splice may be: their labels and the splice's cost are a label of both. */
EXPORT(merge) u32 merge(u32 one, u32 two) {
  const u32 *a = (const u32 *)one, *b = (const u32 *)two;
  work += sites_size >> 4;
  for (u32 i = 0; i < sites_size; i++) {
    u32 n = sites[i];
    if (!a[n] || !b[n]) continue;
    u64 value = (u64)(a[n] - 1u) + (b[n] - 1u) + site[back[n]];
    if (value > limit || (label[n] && label[n] <= value + 1u)) continue;
    if (hopeless((u32)value, back[n])) continue;
    label[n] = (u32)value + 1u;
    onward[back[n]] = EVERY;
    if (!push((u32)value, n)) return 0;
  }
  return 1;
}

/* How many voxels were looked at; a joint tried counts for a sixteenth. */
EXPORT(work_done) u32 work_done(void) { return work; }

/* Whether no label waits to be handed on. */
EXPORT(is_empty) u32 is_empty(void) { return first_bucket == FAR; }

/* Hand labels on as far as `until`, over kept voxels only or all, guarded or not: each compiled by itself. */
static inline __attribute__((always_inline)) u32 hand_on(u32 until, const u32 over_kept, const u32 guarded) {
  u32 *const all = label, *const by = onward;
  const u16 *const price = cost;
  for (u32 b = first_bucket; last_bucket != FAR && b <= last_bucket; b++) {
    if (b > until >> 10) { first_bucket = b; return 2; }
    while (heads[b]) {
      u32 entry = heads[b];
      u32 n = pool[entry].at;
      heads[b] = pool[entry].next;
      u32 value = all[n] - 1u;
      if (value >> 10 != b) continue;
      work++;
      STEPS(26);
      u32 v = over_kept ? back[n] : n;
      u32 go = steps_of(v), own = price[v], even = go & EVEN;
      if (even) go &= by[v];
      go &= EVERY & ~(1u << CENTRE);
      while (go) {
        u32 d = (u32)__builtin_ctz(go);
        go &= go - 1u;
        u32 w = (u32)((i32)v + offset[d]), m = over_kept ? kept[w] : w;
        if (over_kept && !m) continue;
        u32 known = all[m] - 1u;
        /* no step is shorter than at cost 1 */
        if (known < value + unit[d]) continue;
        u32 next = value + (even ? even_length(own, d) : step_length(v, w, d));
        if (next < value || next == FAR) return 0; /* longer than can be counted */
        if (known <= next) {
          if (known == next) by[w] |= heirs[d];
          continue;
        }
        if (guarded ? hopeless(next, w) : next > limit) continue;
        /* One entry a bucket: a step is as long as a bucket, so what waits there was not looked at yet. */
        u32 waits = known != FAR && known >> 10 == next >> 10;
        all[m] = next + 1u;
        by[w] = heirs[d];
        if (!waits && !push(next, m)) return 0;
      }
    }
  }
  first_bucket = FAR;
  return 1;
}

/* Hand labels on as far as `until`.  0: no memory, or a label too long; 1: all done, 2: there is more beyond. */
EXPORT(spread) u32 spread(u32 until) {
  if (first_bucket == FAR) return 1;
  if (sparse) return guard_count ? hand_on(until, 1, 1) : hand_on(until, 1, 0);
  return guard_count ? hand_on(until, 0, 1) : hand_on(until, 0, 0);
}

/* Take back labels that are not final. */
EXPORT(trim) void trim(u32 labels, u32 until) {
  u32 *all = (u32 *)labels;
  for (u32 v = 0; v < count; v++)
    if (all[v] > until) all[v] = 0;
}

/* Copy labels by voxel; their address, 0: no memory. */
EXPORT(copied) u32 copied(u32 labels) {
  u32 to = allocate_raw(count * 4u);
  if (to) __builtin_memcpy((void *)to, (void *)labels, count * 4u);
  return to;
}

/* Lower labels to those of ways that lead over another terminal, so far off. */
EXPORT(lower) void lower(u32 labels, u32 other, u32 off) {
  u32 *all = (u32 *)labels;
  const u32 *over = (const u32 *)other;
  for (u32 v = 0; v < count; v++)
    if (over[v] && (!all[v] || over[v] + off < all[v])) all[v] = over[v] + off;
}

/* Keep the voxels that a tree within the limit may use: half of the shortest round over a voxel and through all
 * terminals is never more than the tree's ways.  `between` has the shortest ways from one terminal through all others to
 * another, row by row.  Returns one more than are kept; 0: no memory, or too many terminals. */
EXPORT(keep) u32 keep(u32 label_list, u32 terminals, u32 between, u32 at_most) {
  u32 *far[TERMINALS];
  const u32 *ways = (const u32 *)between;
  if (terminals > (u32)terminal_most) return 0;
  for (u32 i = 0; i < terminals; i++) far[i] = (u32 *)((u32 *)label_list)[i];
  u32 found = 0, splices = 0;
  __builtin_memset(kept, 0, count * 4u);
  for (u32 v = 0; v < count; v++) {
    u32 ok = 1;
    for (u32 i = 0; i < terminals && ok; i++) ok = far[i][v] != 0;
    if (!ok) continue;
    for (u32 i = ok = 0; i < terminals && !ok; i++)
      for (u32 j = 0; j < i && !ok; j++) {
        u64 round = (u64)(far[i][v] - 1u) + (far[j][v] - 1u) + ways[i * terminals + j];
        ok = round <= 2ull * at_most + 8u;
      }
    if (!ok) continue;
    kept[v] = ++found;
    if (site[v]) splices++;
  }
  kept_size = found; sites_size = 0;
  back = (u32 *)allocate((found + 1u) * 4u);
  sites = (u32 *)allocate((splices + 1u) * 4u);
  if (!back || !sites) return 0;
  for (u32 v = 0; v < count; v++)
    if (kept[v]) {
      back[kept[v]] = v;
      if (site[v]) sites[sites_size++] = kept[v];
    }
  return found + 1u;
}

/* The site with the least sum of labels from some terminals plus its cost; its voxel, 0 when there is none;
 * 0xffffffff: too many terminals. */
EXPORT(best_site) u32 best_site(u32 label_list, u32 terminals) {
  u32 *far[TERMINALS];
  if (terminals > (u32)terminal_most) return FAR;
  for (u32 i = 0; i < terminals; i++) far[i] = (u32 *)((u32 *)label_list)[i];
  u64 least = ~0ull;
  u32 best = 0;
  for (u32 v = 0; v < count; v++) {
    if (!site[v]) continue;
    u64 sum = site[v];
    u32 ok = 1;
    for (u32 i = 0; i < terminals && ok; i++) {
      ok = far[i][v] != 0;
      sum += (u64)far[i][v] - 1u;
    }
    if (ok && sum < least) { least = sum; best = v; }
  }
  return best;
}

/* Copy labels by voxel into fresh labels by number; their address, 0: no memory. */
EXPORT(numbered) u32 numbered(u32 labels) {
  const u32 *from = (const u32 *)labels;
  u32 *to = (u32 *)allocate((kept_size + 1u) * 4u);
  if (!to) return 0;
  for (u32 n = 1; n <= kept_size; n++) to[n] = from[back[n]];
  return (u32)to;
}

/* The number that a voxel has among the kept ones; 0: none. */
EXPORT(number) u32 number(u32 v) { return kept[v]; }

/* Follow labels back from a voxel to where they began; writes the voxels, returns how many, 0: too many. */
EXPORT(walk) u32 walk(u32 labels, u32 over_kept, u32 v, u32 out, u32 room) {
  const u32 *from = (const u32 *)labels;
  u32 *way = (u32 *)out, length = 0;
  for (;;) {
    if (length == room) return 0;
    way[length++] = v;
    u32 value = from[over_kept ? kept[v] : v];
    u32 go = steps_of(v) & EVERY & ~(1u << CENTRE), found = 0;
    while (go && !found) {
      u32 d = (u32)__builtin_ctz(go);
      go &= go - 1u;
      u32 w = (u32)((i32)v + offset[d]);
      u32 m = over_kept ? kept[w] : w;
      if (over_kept && !m) continue;
      if (from[m] && from[m] + step_length(v, w, d) == value) { v = w; found = 1; }
    }
    if (!found) return length;
  }
}
