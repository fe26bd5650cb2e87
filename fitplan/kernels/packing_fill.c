/* Complete search for plain blocks in a cavity: the cavity is filled from below, and every void is paid for.
 *
 * The state is a relief: over the plan, cut into rectangles, how high everything below is decided.  A flat part
 * of the relief whose surroundings are all higher is a hollow.  At a corner of a hollow either a block has its
 * corner, or the unit cell there is void; blocks start only on hollows' floors, because any packing can be let
 * down until each block rests on something.  The volume of all voids together is known from the start, and
 * most branches die when they have spent it. */
#include "kernel.h"

#define CUTS 96
#define TYPES 64
#define LAID 384
#define CLOSED 32767
LIMIT(cuts, CUTS)       /* lines along x or y that the plan is cut by, the first and last among them */
LIMIT(laid_most, LAID)  /* obstacles and blocks */

typedef struct { i16 h, ceil, paid; u16 column; } Cell; /* paid > 0: void at least so far up */
typedef struct {
  i32 cells, nx, ny;
  i16 xs[CUTS], ys[CUTS];
  i64 waste;
  i32 unlaid;
  u8 left[TYPES];
  u64 reach[4];
  i32 i, j, sx, sy, next, steps_n;
  i32 type, turn, x, y, z; /* the block whose laying opened this frame; type < 0: a void */
  i32 laid_n;
} Frame;

static Cell *arena;
static Frame *frames;
static i32 arena_cells, frame_room, level, type_count, turn_count[TYPES], turns[TYPES][6][3], counts[TYPES], order[TYPES * 6][2], order_n;
static i32 size[3], smallest, rugged, mirror_type, use_reach;
static i64 budget, nodes;
typedef struct { i32 lo[3], hi[3]; } Block;
static Block laid[LAID]; /* obstacles first, then the blocks of the present branch */
static i32 obstacle_n, spent; /* spent: a limit was reached, and the search proves nothing from then on */
static const i32 *intervals, *interval_start; /* per column: pairs low, high */

static u32 rng;
static u32 next_random(void) {
  rng ^= rng << 13, rng ^= rng >> 17, rng ^= rng << 5;
  return rng;
}

static Frame first_frame;
static Cell first_cells[CUTS * CUTS];
static i32 first_n;

#define CELL(f, i, j) (arena[(f)->cells + (i) * (f)->ny + (j)])

static void climb(Cell *cell) {
  /* From the ceiling to the floor of the next interval above, or closed. */
  const i32 *list = intervals + 2 * interval_start[cell->column], *end = intervals + 2 * interval_start[cell->column + 1];
  for (; list < end; list += 2)
    if (list[0] >= cell->ceil) {
      cell->h = (i16)list[0], cell->ceil = (i16)list[1], cell->paid = 0;
      return;
    }
  cell->h = CLOSED, cell->ceil = CLOSED, cell->paid = 0;
}

static void cut_x(Frame *f, i32 x) {
  i32 k = 0;
  while (f->xs[k] < x) k++;
  if (f->xs[k] == x) return;
  for (i32 m = f->nx; m >= k; m--) f->xs[m + 1] = f->xs[m];
  f->xs[k] = (i16)x;
  Cell *base = &arena[f->cells];
  __builtin_memmove(base + k * f->ny, base + (k - 1) * f->ny, (u32)((f->nx - k + 1) * f->ny) * sizeof(Cell));
  f->nx++;
}

static void cut_y(Frame *f, i32 y) {
  i32 k = 0;
  while (f->ys[k] < y) k++;
  if (f->ys[k] == y) return;
  for (i32 m = f->ny; m >= k; m--) f->ys[m + 1] = f->ys[m];
  f->ys[k] = (i16)y;
  Cell *base = &arena[f->cells];
  i32 old = f->ny, now = old + 1;
  for (i32 i = f->nx - 1; i >= 0; i--) {
    for (i32 j = now - 1; j >= k; j--) base[i * now + j] = base[i * old + j - 1];
    for (i32 j = k - 1; j >= 0; j--) base[i * now + j] = base[i * old + j];
  }
  f->ny = now;
}

static int same(const Cell *a, const Cell *b) { return a->h == b->h && a->ceil == b->ceil && a->paid == b->paid && a->column == b->column; }

static void compact(Frame *f) {
  STEPS(f->nx * f->ny);
  Cell *base = &arena[f->cells];
  i32 ny = f->ny, kept = 1;
  for (i32 i = 1; i < f->nx; i++) {
    i32 equal = 1;
    for (i32 j = 0; j < ny && equal; j++) equal = same(&base[(kept - 1) * ny + j], &base[i * ny + j]);
    if (equal) continue;
    if (kept != i) {
      for (i32 j = 0; j < ny; j++) base[kept * ny + j] = base[i * ny + j];
      f->xs[kept] = f->xs[i];
    }
    kept++;
  }
  f->xs[kept] = f->xs[f->nx];
  f->nx = kept;
  kept = 1;
  u8 keep[CUTS];
  keep[0] = 1;
  for (i32 j = 1; j < ny; j++) {
    i32 equal = 1;
    for (i32 i = 0; i < f->nx && equal; i++) equal = same(&base[i * ny + j], &base[i * ny + j - 1]);
    keep[j] = !equal;
    if (!equal) f->ys[kept++] = f->ys[j];
  }
  if (kept == ny) return;
  f->ys[kept] = f->ys[ny];
  for (i32 i = 0; i < f->nx; i++) {
    i32 to = 0;
    for (i32 j = 0; j < ny; j++)
      if (keep[j]) base[i * kept + to++] = base[i * ny + j];
  }
  f->ny = kept;
}

static void sums(Frame *f) {
  u64 r[4] = {1, 0, 0, 0};
  for (i32 t = 0; t < type_count; t++)
    for (i32 c = 0; c < f->left[t]; c++) {
      u64 from[4] = {r[0], r[1], r[2], r[3]};
      i32 last = -1;
      for (i32 k = 0; k < turn_count[t]; k++) {
        /* each edge occurs as the height of some turn; skip the repeats that lie next to each other */
        i32 d = turns[t][k][2];
        if (d == last || d > 255) continue;
        last = d;
        i32 w = d >> 6, b = d & 63;
        for (i32 m = 3; m >= w; m--) {
          u64 v = from[m - w] << b;
          if (b && m - w - 1 >= 0) v |= from[m - w - 1] >> (64 - b);
          r[m] |= v;
        }
      }
    }
  for (i32 m = 0; m < 4; m++) f->reach[m] = r[m];
}

/* The most of a length that the unlaid blocks' edges can fill, one edge of each block. */
static i32 most_fill(const Frame *f, i32 length) {
  if (length > 255) return length;
  i32 w = length >> 6, b = length & 63;
  u64 v = f->reach[w] & (b == 63 ? ~0ull : ((1ull << (b + 1)) - 1));
  while (!v && w > 0) v = f->reach[--w];
  return v ? w * 64 + 63 - __builtin_clzll(v) : 0;
}

static i32 component[CUTS * CUTS], stack[CUTS * CUTS];
typedef struct { i32 depth, width; } Step;
static Step stair[CUTS];

static int open_cell(const Frame *f, i32 i, i32 j, i32 h) {
  if (i < 0 || j < 0 || i >= f->nx || j >= f->ny) return 0;
  const Cell *c = &CELL(f, i, j);
  return c->h == h && !c->paid;
}

static i32 staircase(const Frame *f, i32 i, i32 j, i32 sx, i32 sy, i32 h) {
  i32 n = 0, depth = 0, width = 0x7fff;
  STEPS(8 + type_count);
  for (i32 jj = j; open_cell(f, i, jj, h); jj += sy) {
    i32 run = 0;
    for (i32 ii = i; run < width && open_cell(f, ii, jj, h); ii += sx) run += f->xs[ii + 1] - f->xs[ii];
    if (run < width) width = run;
    depth += f->ys[jj + 1] - f->ys[jj];
    if (n && stair[n - 1].width == width) stair[n - 1].depth = depth;
    else stair[n].depth = depth, stair[n++].width = width;
  }
  return n;
}

static int fits(i32 n, i32 dx, i32 dy) {
  for (i32 k = 0; k < n; k++)
    if (stair[k].depth >= dy) return stair[k].width >= dx;
  return 0;
}

/* How far up a void cell of a hollow is surely void: a block that starts above it is wider than a narrow gap, so it
 * rests no lower than the lower of the gap's two banks. */
static i32 sure_void(const Frame *f, i32 i, i32 j, i32 base, i32 narrow) {
  const Cell *c = &CELL(f, i, j);
  i32 h = c->h, best = base;
  for (int axis = 0; axis < 2; axis++) {
    i32 width = 0, banks[2], di = axis == 0, dj = axis == 1;
    for (int way = 0; way < 2; way++) {
      i32 ii = i, jj = j, step = way ? 1 : -1;
      if (way) ii += di, jj += dj;
      banks[way] = CLOSED;
      while (ii >= 0 && jj >= 0 && ii < f->nx && jj < f->ny) {
        i32 there = CELL(f, ii, jj).h;
        if (there != h) { banks[way] = there; break; }
        width += axis ? f->ys[jj + 1] - f->ys[jj] : f->xs[ii + 1] - f->xs[ii];
        ii += step * di, jj += step * dj;
      }
    }
    if (width >= narrow) continue;
    i32 bank = banks[0] < banks[1] ? banks[0] : banks[1];
    if (bank > c->ceil) bank = c->ceil;
    if (bank - h > best) best = bank - h;
  }
  return best;
}

/* Bring a frame to its next choice: 0 dead, 1 a corner is chosen. */
static i32 prepare(Frame *f) {
again:
  if (f->waste > budget) return 0;
  if (f->nx > cuts / 2 || f->ny > cuts / 2) compact(f);
  i32 nx = f->nx, ny = f->ny, fewest = 0x7fffffff, lowest = 0, narrow = CLOSED;
  for (i32 t = 0; t < type_count; t++)
    if (f->left[t])
      for (i32 q = 0; q < turn_count[t]; q++)
        if (turns[t][q][2] < narrow) narrow = turns[t][q][2];
  i64 up = 0;
  STEPS(4 * nx * ny);
  for (i32 k = 0; k < nx * ny; k++) component[k] = 0;
  if (use_reach)
    for (i32 i = 0; i < nx; i++)
      for (i32 j = 0; j < ny; j++) {
        const Cell *c = &CELL(f, i, j);
        if (c->h == CLOSED) continue;
        i32 gap = c->ceil - c->h - c->paid;
        i32 lost = gap - most_fill(f, gap);
        if (lost) up += (i64)lost * (f->xs[i + 1] - f->xs[i]) * (f->ys[j + 1] - f->ys[j]);
      }
  if (f->waste + up > budget) return 0;
  for (i32 i0 = 0; i0 < nx; i0++)
    for (i32 j0 = 0; j0 < ny; j0++) {
      if (component[i0 * ny + j0] || CELL(f, i0, j0).h == CLOSED) continue;
      i32 h = CELL(f, i0, j0).h, n = 0, read = 0, rim = CLOSED, open = 0, hollow = 1;
      stack[n++] = i0 * ny + j0, component[i0 * ny + j0] = 1;
      while (read < n) {
        i32 at = stack[read++], i = at / ny, j = at % ny;
        if (!CELL(f, i, j).paid) open = 1;
        for (int side = 0; side < 4; side++) {
          i32 ii = i + (side == 0) - (side == 1), jj = j + (side == 2) - (side == 3);
          if (ii < 0 || jj < 0 || ii >= nx || jj >= ny) continue;
          i32 there = CELL(f, ii, jj).h;
          if (there == h) {
            if (!component[ii * ny + jj]) component[ii * ny + jj] = 1, stack[n++] = ii * ny + jj;
          } else if (there < h) hollow = 0;
          else if (there < rim) rim = there;
        }
      }
      if (!hollow) continue;
      if (!open) { /* all void up to the rim, or to the ceiling */
        for (i32 k = 0; k < n; k++) {
          Cell *c = &arena[f->cells + stack[k]];
          i32 i = stack[k] / ny, j = stack[k] % ny, to = rim > h + c->paid ? rim : h + c->paid;
          if (to > c->ceil) to = c->ceil;
          f->waste += (i64)(to - h - c->paid) * (f->xs[i + 1] - f->xs[i]) * (f->ys[j + 1] - f->ys[j]);
          c->paid = 0;
          if (to == c->ceil) climb(c);
          else c->h = (i16)to;
        }
        compact(f);
        goto again;
      }
      for (i32 k = 0; k < n; k++) {
        i32 i = stack[k] / ny, j = stack[k] % ny;
        Cell *c = &CELL(f, i, j);
        if (c->paid) {
          i32 pay = sure_void(f, i, j, c->paid, narrow);
          if (pay > c->paid) {
            f->waste += (i64)(pay - c->paid) * (f->xs[i + 1] - f->xs[i]) * (f->ys[j + 1] - f->ys[j]);
            c->paid = (i16)pay;
            if (f->waste > budget) return 0;
          }
          continue;
        }
        for (int corner = 0; corner < 4; corner++) {
          i32 sx = corner & 1 ? -1 : 1, sy = corner & 2 ? -1 : 1;
          if (open_cell(f, i - sx, j, h) || open_cell(f, i, j - sy, h)) continue;
          i32 steps_n = staircase(f, i, j, sx, sy, h), ways = 0;
          for (i32 t = 0; t < type_count && ways < fewest; t++) {
            if (!f->left[t]) continue;
            for (i32 q = 0; q < turn_count[t]; q++)
              if (h + turns[t][q][2] <= c->ceil && fits(steps_n, turns[t][q][0], turns[t][q][1])) ways++;
          }
          if (!ways) { /* nothing can cover any of this cell's floor */
            i32 pay = smallest;
            if (rim - h < pay) pay = rim - h;
            if (c->ceil - h < pay) pay = c->ceil - h;
            pay = sure_void(f, i, j, pay, narrow);
            c->paid = (i16)pay;
            f->waste += (i64)pay * (f->xs[i + 1] - f->xs[i]) * (f->ys[j + 1] - f->ys[j]);
            goto again;
          }
          if (ways < fewest || (ways == fewest && h < lowest)) fewest = ways, lowest = h, f->i = i, f->j = j, f->sx = sx, f->sy = sy;
        }
      }
    }
  return fewest < 0x7fffffff;
}

static i32 open_child(Frame *from, Frame *to) {
  i32 need = (from->nx + 3) * (from->ny + 3);
  STEPS(from->nx * from->ny / 2);
  to->cells = from->cells + (from->nx + 2) * (from->ny + 2);
  if (from->nx + 3 >= cuts || from->ny + 3 >= cuts || to->cells + need > arena_cells) return 0;
  to->nx = from->nx, to->ny = from->ny;
  __builtin_memcpy(to->xs, from->xs, sizeof(to->xs));
  __builtin_memcpy(to->ys, from->ys, sizeof(to->ys));
  __builtin_memcpy(to->left, from->left, sizeof(to->left));
  __builtin_memcpy(to->reach, from->reach, sizeof(to->reach));
  __builtin_memcpy(&arena[to->cells], &arena[from->cells], (u32)(from->nx * from->ny) * sizeof(Cell));
  to->waste = from->waste, to->unlaid = from->unlaid, to->next = 0, to->type = -1, to->laid_n = from->laid_n;
  return 1;
}

/* sizes: type_count rows (count, edges); columns: the plan's first cells with their intervals.  0 dead, 1 to be run, -2 out
 * of room. */
EXPORT(fill_start)
i32 fill_start(u32 frame_space, i32 frame_n, u32 arena_space, i32 arena_n, u32 sizes, i32 n, u32 xs, i32 nx, u32 ys, i32 ny, u32 columns,
               u32 starts, u32 pairs, u32 obstacles, i32 obstacle_count, i32 depth, i32 void_budget, i32 mirrored, i32 reach) {
  frames = (Frame *)frame_space, frame_room = frame_n, arena = (Cell *)arena_space, arena_cells = arena_n;
  const i32 *rows = (const i32 *)sizes;
  i32 blocks = 0;
  spent = 1, first_n = 0;
  if (n > TYPES || nx + 1 >= cuts || ny + 1 >= cuts || frame_n < 1 || (i64)(nx + 2) * (ny + 2) > arena_n) return -2;
  for (i32 t = 0; t < n; t++) {
    if (rows[4 * t] > 255) return -2;
    blocks += rows[4 * t];
  }
  if (obstacle_count + blocks > laid_most) return -2;
  spent = 0;
  interval_start = (const i32 *)starts, intervals = (const i32 *)pairs;
  type_count = n, budget = void_budget, nodes = 0, level = 0, smallest = 32767, order_n = 0, mirror_type = mirrored, use_reach = reach;
  Frame *f = &frames[0];
  f->unlaid = 0;
  for (i32 t = 0; t < n; t++) {
    const i32 *e = rows + 4 * t + 1;
    counts[t] = rows[4 * t], f->left[t] = (u8)counts[t], f->unlaid += counts[t], turn_count[t] = 0;
    static const u8 perm[6][3] = {{0, 1, 2}, {1, 0, 2}, {0, 2, 1}, {2, 0, 1}, {1, 2, 0}, {2, 1, 0}};
    for (int q = 0; q < 6; q++) {
      i32 a = e[perm[q][0]], b = e[perm[q][1]], c = e[perm[q][2]], known = 0;
      for (i32 k = 0; k < turn_count[t]; k++) known |= turns[t][k][0] == a && turns[t][k][1] == b && turns[t][k][2] == c;
      if (known) continue;
      i32 *turn = turns[t][turn_count[t]++];
      turn[0] = a, turn[1] = b, turn[2] = c;
      order[order_n][0] = t, order[order_n++][1] = turn_count[t] - 1;
      if (c < smallest) smallest = c;
    }
  }
  obstacle_n = obstacle_count;
  __builtin_memcpy(laid, (const void *)obstacles, (u32)obstacle_n * sizeof(Block));
  f->laid_n = obstacle_n;
  f->cells = 0, f->nx = nx, f->ny = ny, f->waste = 0, f->next = 0, f->type = -1;
  for (i32 k = 0; k <= nx; k++) f->xs[k] = (i16)((i32 *)xs)[k];
  for (i32 k = 0; k <= ny; k++) f->ys[k] = (i16)((i32 *)ys)[k];
  size[0] = f->xs[nx], size[1] = f->ys[ny], size[2] = depth, rugged = 0;
  for (i32 k = 0; k < nx * ny; k++) {
    Cell *c = &arena[k];
    c->column = (u16)((i32 *)columns)[k], c->paid = 0, c->ceil = 0;
    climb(c);
    if (c->h != 0 || c->ceil != depth) rugged = 1;
  }
  sums(f);
  first_n = nx * ny;
  __builtin_memcpy(first_cells, arena, (u32)first_n * sizeof(Cell));
  first_frame = *f;
  return prepare(f);
}

/* Begin again, with blocks and poses tried in another order. */
EXPORT(fill_restart) i32 fill_restart(u32 seed) {
  rng = seed * 2654435761u + 12345u;
  if (!rng) rng = 1;
  for (i32 k = order_n - 1; k > 0; k--) {
    i32 m = (i32)(next_random() % (u32)(k + 1));
    for (int q = 0; q < 2; q++) { i32 was = order[k][q]; order[k][q] = order[m][q], order[m][q] = was; }
  }
  level = 0;
  if (!first_n) return -2;
  spent = 0;
  frames[0] = first_frame;
  __builtin_memcpy(arena, first_cells, (u32)first_n * sizeof(Cell));
  return prepare(&frames[0]);
}

/* Any packing can be pushed towards low x and low y until each block touches something there.  Whether a block at
 * these places can: on the hull, on something laid, or on a block still to come that stands beside it. */
static int can_touch(const Frame *f, int axis, i32 x, i32 y, i32 z, i32 dx, i32 dy, i32 dz, i32 narrow) {
  i32 lo[3] = {x, y, z}, hi[3] = {x + dx, y + dy, z + dz}, other = 1 - axis;
  STEPS(f->laid_n + f->nx + f->ny);
  if (lo[axis] == 0) return 1;
  for (i32 k = 0; k < f->laid_n; k++)
    if (laid[k].hi[axis] == lo[axis] && laid[k].lo[other] < hi[other] && laid[k].hi[other] > lo[other] && laid[k].lo[2] < hi[2] &&
        laid[k].hi[2] > lo[2])
      return 1;
  if (lo[axis] < narrow) return 0;
  /* A block to come reaches back from here by at least the smallest edge, above what is decided there. */
  i32 along_n = axis ? f->ny : f->nx, cross_n = axis ? f->nx : f->ny;
  const i16 *along = axis ? f->ys : f->xs, *cross = axis ? f->xs : f->ys;
  for (i32 c = 0; c < cross_n; c++) {
    if (cross[c + 1] <= lo[other] || cross[c] >= hi[other]) continue;
    i32 high = -1;
    for (i32 a = 0; a < along_n; a++) {
      if (along[a + 1] <= lo[axis] - narrow || along[a] >= lo[axis]) continue;
      const Cell *cell = axis ? &CELL(f, c, a) : &CELL(f, a, c);
      i32 h = cell->h + cell->paid;
      if (h > high) high = h;
    }
    if (high < hi[2]) return 1;
  }
  return 0;
}

/* Whether a coordinate is some low face that is known plus edges of blocks to come. */
static int chain(const Frame *f, int axis, i32 at) {
  if (at == 0 || at > 255) return 1;
  for (i32 k = -1; k < f->laid_n; k++) {
    i32 from = k < 0 ? 0 : laid[k].hi[axis], d = at - from;
    if (d >= 0 && (f->reach[d >> 6] >> (d & 63) & 1)) return 1;
  }
  return 0;
}

static i32 lay(Frame *f, Frame *child, i32 t, i32 q) {
  const Cell *corner = &CELL(f, f->i, f->j);
  i32 dx = turns[t][q][0], dy = turns[t][q][1], dz = turns[t][q][2], h = corner->h;
  if (h + dz > corner->ceil) return 0;
  if (!fits(f->steps_n, dx, dy)) return 0;
  i32 x = f->sx > 0 ? f->xs[f->i] : f->xs[f->i + 1] - dx, y = f->sy > 0 ? f->ys[f->j] : f->ys[f->j + 1] - dy;
  if (t == mirror_type && (2 * x + dx > size[0] || 2 * y + dy > size[1] || 2 * h + dz > size[2])) return 0;
  if (use_reach) {
    if (!chain(f, 0, x) || !chain(f, 1, y)) return 0;
    i32 narrow = CLOSED;
    for (i32 k = 0; k < type_count; k++)
      if (f->left[k] > (k == t))
        for (i32 m = 0; m < turn_count[k]; m++)
          if (turns[k][m][2] < narrow) narrow = turns[k][m][2];
    if (!can_touch(f, 0, x, y, h, dx, dy, dz, narrow) || !can_touch(f, 1, x, y, h, dx, dy, dz, narrow)) return 0;
  }
  if (rugged)
    for (i32 i = 0; i < f->nx; i++) {
      if (f->xs[i + 1] <= x || f->xs[i] >= x + dx) continue;
      for (i32 j = 0; j < f->ny; j++)
        if (f->ys[j + 1] > y && f->ys[j] < y + dy && CELL(f, i, j).ceil < h + dz) return 0;
    }
  if (!open_child(f, child)) return -1;
  cut_x(child, x), cut_x(child, x + dx), cut_y(child, y), cut_y(child, y + dy);
  for (i32 i = 0; i < child->nx; i++) {
    if (child->xs[i] < x || child->xs[i] >= x + dx) continue;
    for (i32 j = 0; j < child->ny; j++) {
      if (child->ys[j] < y || child->ys[j] >= y + dy) continue;
      Cell *c = &CELL(child, i, j);
      c->h = (i16)(h + dz);
      if (c->h == c->ceil) climb(c);
    }
  }
  child->left[t]--, child->unlaid--;
  child->type = t, child->turn = q, child->x = x, child->y = y, child->z = h;
  Block *mark = &laid[child->laid_n++];
  mark->lo[0] = x, mark->lo[1] = y, mark->lo[2] = h, mark->hi[0] = x + dx, mark->hi[1] = y + dy, mark->hi[2] = h + dz;
  sums(child);
  return 1;
}

/* Search at most so many nodes, and stop after so many steps: 1 solved, 0 exhausted, -1 more to do, -2 out of room, and so
 * until it is begun again: a branch that was not followed is never forgotten. */
EXPORT(fill_run) i32 fill_run(i32 more_nodes, f64 more_steps) {
  i64 stop_nodes = nodes + more_nodes, stop = steps_done + (i64)more_steps;
  while (nodes < stop_nodes && steps_done < stop) {
    if (spent) return -2;
    if (level < 0) return 0;
    Frame *f = &frames[level];
    if (!f->unlaid) return 1;
    if (f->next > order_n) {
      level--;
      continue;
    }
    if (level + 1 >= frame_room) return spent = 1, -2;
    Frame *child = &frames[level + 1];
    i32 h = CELL(f, f->i, f->j).h, made = 0;
    f->steps_n = staircase(f, f->i, f->j, f->sx, f->sy, h);
    while (f->next < order_n && !made) {
      i32 t = order[f->next][0], q = order[f->next][1];
      f->next++;
      if (!f->left[t]) continue;
      made = lay(f, child, t, q);
      if (made < 0) return spent = 1, -2;
    }
    if (!made) { /* the unit cell in the corner stays void */
      f->next = order_n + 1;
      Cell *c = &CELL(f, f->i, f->j);
      i32 pay = smallest;
      if (c->ceil - h < pay) pay = c->ceil - h;
      /* The rim may be nearer than the smallest edge; what is paid now must be sure. */
      for (i32 k = 0; k < f->nx * f->ny; k++) {
        i32 there = arena[f->cells + k].h;
        if (there > h && there - h < pay) pay = there - h;
      }
      if (f->waste + pay > budget) { level--; continue; }
      if (!open_child(f, child)) return spent = 1, -2;
      i32 x = f->sx > 0 ? f->xs[f->i] : f->xs[f->i + 1] - 1, y = f->sy > 0 ? f->ys[f->j] : f->ys[f->j + 1] - 1;
      cut_x(child, x), cut_x(child, x + 1), cut_y(child, y), cut_y(child, y + 1);
      for (i32 i = 0; i < child->nx; i++)
        for (i32 j = 0; j < child->ny; j++)
          if (child->xs[i] == x && child->ys[j] == y) CELL(child, i, j).paid = (i16)pay;
      child->waste += pay;
    }
    nodes++;
    level++;
    if (!child->unlaid) return 1;
    if (!prepare(child)) level--;
  }
  return level < 0 ? 0 : -1;
}

EXPORT(fill_level) i32 fill_level(void) { return level; }
EXPORT(fill_nodes) f64 fill_nodes(void) { return (f64)nodes; }
EXPORT(fill_frame_bytes) i32 fill_frame_bytes(void) { return (i32)sizeof(Frame); }
/* The block laid at a level: 0 none, 1 written to out as type, turn's edges, x, y, z. */
EXPORT(fill_laid) i32 fill_laid(i32 at, u32 out) {
  Frame *f = &frames[at];
  i32 *o = (i32 *)out;
  if (f->type < 0) return 0;
  o[0] = f->type, o[1] = turns[f->type][f->turn][0], o[2] = turns[f->type][f->turn][1], o[3] = turns[f->type][f->turn][2];
  o[4] = f->x, o[5] = f->y, o[6] = f->z;
  return 1;
}
