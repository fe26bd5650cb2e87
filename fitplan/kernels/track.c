/* The middle line of a track of up to three curvatures and three gradients, and how vehicles stand on it.
 *
 * Lengths are in mm.  Tracks lie side by side, one to each pose, and no pose hangs on another: the same track gives
 * the same figures whatever stands beside it.  What is looked for lies where a distance that shrinks by about as
 * much as one moves forwards is right; it is found by the secant rule. */
#include "kernel.h"

#define STEPS_MOST 20 /* the secant rule ends after so many steps */
#define CLOSE 1e-9    /* or where it is as near as this */
#define RIGHT 1e-3    /* distances that are not met to this are looked for once more */
#define ASIDE 100.0   /* nothing lies farther from where it would be on straight track */
#define PULLED 2.0    /* so many lengths of the drawbar further back */
#define STRAIGHT 1e-7 /* a bend of less (radians) is none */
#define MOST_BEND 1e6 /* a way round a curve that bends by more (radians) leads nowhere */
#define HALF_PI 1.5707963267948966
#define HALF_PI_REST 6.123233995736766e-17 /* what the figure above lacks of it */

typedef struct { f64 x, y, z; } Point;
/* Curvatures before and after s = 0, the place of the first change of gradient and by how much; curvature beyond a
 * second joint and how far off that lies; a second change of gradient and how far off; gradient before the first. */
typedef struct { f64 before, after, kink, rise, further, span, fall, hump, slope; } Line;
typedef struct { f64 rear, front, wheelbase; } Gear;
/* A vehicle on the track: the point of its rear guide, its axes, and the place of the rear guide along the track. */
typedef struct { Point rear, forwards, left, up; f64 rear_at; } Stand;
typedef struct { f64 sin, cos; } Turn;

static f64 absolute(f64 value) { return value < 0 ? -value : value; }
static f64 between(f64 low, f64 value, f64 high) { return value < low ? low : value > high ? high : value; }
static Point plus(Point p, f64 share, Point q) {
  return (Point){p.x + share * q.x, p.y + share * q.y, p.z + share * q.z};
}
static f64 length(Point p) { return __builtin_sqrt(p.x * p.x + p.y * p.y + p.z * p.z); }
static f64 apart(Point p, Point q) { return length(plus(p, -1, q)); }

/* Sine and cosine: of what is left beside whole quarter turns, by their series (textbook), good to 1e-15. */
static Turn turned(f64 angle) {
  if (!(absolute(angle) < MOST_BEND)) return (Turn){__builtin_nan(""), __builtin_nan("")};
  i32 quarters = (i32)(angle / HALF_PI + (angle < 0 ? -0.5 : 0.5));
  f64 rest = angle - quarters * HALF_PI - quarters * HALF_PI_REST, square = rest * rest;
  f64 sine = 1, cosine = 1;
  for (i32 n = 15; n > 1; n -= 2) {
    sine = 1 - sine * square * (1.0 / (n * (n - 1)));
    cosine = 1 - cosine * square * (1.0 / ((n + 1) * n));
  }
  sine *= rest;
  cosine = 1 - cosine * square / 2;
  switch (quarters & 3) {
    case 0: return (Turn){sine, cosine};
    case 1: return (Turn){cosine, -sine};
    case 2: return (Turn){-sine, -cosine};
    default: return (Turn){-cosine, sine};
  }
}

/* Where one comes after a way on a curvature, from the origin along x; z is not used. */
static Point along(f64 curvature, f64 way, Turn *heading) {
  f64 bend = curvature * way;
  *heading = bend == 0 ? (Turn){0, 1} : turned(bend);
  if (absolute(bend) < STRAIGHT) return (Point){way, bend * way / 2, 0};
  return (Point){heading->sin / curvature, (1 - heading->cos) / curvature, 0};
}

/* A point of the middle line. */
static Point at_place(const Line *line, f64 s) {
  Turn heading, further;
  f64 near = s < line->span ? s : line->span;
  Point found = along(s < 0 ? line->before : line->after, near, &heading);
  if (s > near) {
    Point beyond = along(line->further, s - near, &further);
    found.x += heading.cos * beyond.x - heading.sin * beyond.y;
    found.y += heading.sin * beyond.x + heading.cos * beyond.y;
  }
  f64 past = s - line->kink;
  found.z = line->slope * s;
  if (past > 0) found.z += line->rise * past;
  if (past > line->hump) found.z += line->fall * (past - line->hump);
  return found;
}

/* Where an axle is, or the pivot of a bogie, midway between its axles. */
static Point guide(const Line *line, const Gear *gear, f64 s) {
  if (gear->wheelbase == 0) return at_place(line, s);
  Point rear = at_place(line, s - gear->wheelbase / 2), front = at_place(line, s + gear->wheelbase / 2);
  return (Point){(rear.x + front.x) / 2, (rear.y + front.y) / 2, (rear.z + front.z) / 2};
}

/* The secant rule as it goes on: call `moved` with how much is too far at the place, until it says that it ended. */
typedef struct { f64 guess, at, last, last_gap, slope, gap; i32 steps; } Secant;

static Secant secant(f64 guess) { return (Secant){guess, guess, guess, 0, -1, 0, 0}; }

/* Go on; 0 when the place is found or no more is tried. */
static i32 moved(Secant *by, f64 gap) {
  f64 way = by->at - by->last, next;
  by->gap = gap;
  if (!by->steps) next = by->guess + gap;
  else {
    if (!(absolute(way) < CLOSE)) by->slope = (gap - by->last_gap) / way;
    if (absolute(gap) < CLOSE) return 0;
    next = between(by->guess - ASIDE, by->at - gap / between(-3.0, by->slope, -0.25), by->guess + ASIDE);
  }
  by->last = by->at;
  by->last_gap = gap;
  by->at = next;
  return ++by->steps <= STEPS_MOST;
}

/* Whether it ended where the distance is not right, or grows as one moves on. */
static i32 astray(const Secant *by) { return !(absolute(by->gap) < RIGHT && by->slope < 0); }

/* How a vehicle stands with its front guide at a place, its rear one near another. */
static Stand standing(const Line *line, const Gear *gear, f64 front_at, f64 rear_near) {
  Point front = guide(line, gear, front_at);
  f64 span = gear->front - gear->rear;
  Secant by = secant(rear_near);
  Stand found;
  do {
    found.rear_at = by.at;
    found.rear = guide(line, gear, by.at);
  } while (moved(&by, apart(front, found.rear) - span));
  if (found.rear_at != by.at) found.rear = guide(line, gear, found.rear_at = by.at);
  Point chord = plus(front, -1, found.rear);
  f64 long_way = length(chord);
  found.forwards = plus((Point){0, 0, 0}, 1 / (long_way > CLOSE ? long_way : CLOSE), chord);
  Point f = found.forwards, level = {-f.y, f.x, 0};
  f64 wide = length(level);
  Point l = found.left = plus((Point){0, 0, 0}, 1 / (wide > CLOSE ? wide : CLOSE), level);
  found.up = (Point){f.y * l.z - f.z * l.y, f.z * l.x - f.x * l.z, f.x * l.y - f.y * l.x};
  return found;
}

/* A point of a vehicle on its middle line. */
static Point point_of(const Stand *stand, const Gear *gear, f64 x, f64 z) {
  return plus(plus(stand->rear, x - gear->rear, stand->forwards), z, stand->up);
}

/* Points of lines: one place on each. */
EXPORT(points_of_lines) void points_of_lines(u32 lines, u32 places, u32 count, u32 points) {
  for (u32 n = 0; n < count; n++) ((Point *)points)[n] = at_place((const Line *)lines + n, ((const f64 *)places)[n]);
}

/* How a vehicle stands on each line, its front guide at a place and its rear one near another. */
EXPORT(stand_alone) void stand_alone(u32 lines, u32 front_at, u32 rear_near, u32 count, f64 rear, f64 front,
                                     f64 wheelbase, u32 stands) {
  Gear gear = {rear, front, wheelbase};
  for (u32 n = 0; n < count; n++)
    ((Stand *)stands)[n] =
        standing((const Line *)lines + n, &gear, ((const f64 *)front_at)[n], ((const f64 *)rear_near)[n]);
}

/* How a vehicle stands on each line where a drawbar leads from its own pin, at (x, z), to a pin ahead.
 * Where long ends stand askew, pins are as far apart at two places: what is pulled is at the rear one. */
EXPORT(stand_pulled) void stand_pulled(u32 lines, u32 pins, u32 front_near, u32 count, f64 rear, f64 front,
                                       f64 wheelbase, f64 pin_x, f64 pin_z, f64 drawbar, u32 stands) {
  Gear gear = {rear, front, wheelbase};
  for (u32 n = 0; n < count; n++) {
    const Line *line = (const Line *)lines + n;
    Point ahead = ((const Point *)pins)[n];
    f64 near = ((const f64 *)front_near)[n];
    Stand *found = (Stand *)stands + n;
    f64 guides = front - rear; /* hardly farther apart along the track than at the place asked for before */
    for (i32 again = 0; again < 2; again++) {
      Secant by = secant(again ? near - PULLED * drawbar : near);
      f64 asked;
      do {
        asked = by.at;
        *found = standing(line, &gear, asked, asked - guides);
        guides = asked - found->rear_at;
      } while (moved(&by, apart(ahead, point_of(found, &gear, pin_x, pin_z)) - drawbar));
      if (by.at != asked) *found = standing(line, &gear, by.at, by.at - guides);
      if (!astray(&by)) break;
    }
  }
}
