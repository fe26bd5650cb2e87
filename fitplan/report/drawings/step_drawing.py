"""Small pictures of the order of assembly: the vehicle as lines, what is in it, and the part that goes in."""

from __future__ import annotations

import math
from collections.abc import Sequence
from functools import lru_cache
from typing import TypeAlias

from fitplan.model.placed import Placement
from fitplan.model.plan import Plan
from fitplan.model.solids import AXES, Box, Cylinder, Solid, Vec, Wedge, axis_of, is_forward, unit_vector, vec
from fitplan.model.ways_in import AssemblyStep
from fitplan.report.drawings.drawing import Drawing, Pen, Point

Face: TypeAlias = tuple[Vec, ...]
_TOWARDS: Vec = (0.46, -0.78, 0.55)
"""From the picture towards the eye: from the front right, from above (x, y, z of the vehicle)."""
BODY_PEN = Pen("faint", 0.15)
"""Draws the edges of a vehicle's body."""
_ROUND = 20
_MARGIN = 3.0


def step_drawing(
    plan: Plan, step: AssemblyStep, edges: Sequence[tuple[Vec, Vec]], width: float, height: float
) -> Drawing:
    """Return the picture of one step in ``width`` × ``height`` mm, as large as fits.

    ``edges`` are those of its vehicle's body (`fitplan.report.drawings.scene.body_edges`).
    """
    drawing = Drawing(width, height, f"Step {step.number}")
    body = plan.built.train.vehicle(step.vehicle)
    done = {need for other in plan.assembly[: plan.assembly.index(step)] for need in other.needs}
    placements = [p for p in plan.built.placements if p.vehicle == step.vehicle]
    fresh = [p for p in placements if p.need in step.needs]
    shift = _outside(step)
    flatten = projection(corners_of(body.vehicle.hull, shift), width, height)
    for one, two in edges:
        drawing.path((flatten(one), flatten(two)), BODY_PEN)
    placed = [p for p in placements if p.need in done]
    for placement in sorted(placed, key=depth_of):
        draw_part(drawing, placement, (0.0, 0.0, 0.0), flatten, Pen("part-edge", 0.2, "part"))
    for placement in fresh:
        for box in placement.shelf.boxes if placement.shelf is not None else ():
            draw_solid(drawing, box, (0.0, 0.0, 0.0), flatten, Pen("new-edge", 0.15, "paper"))
        draw_part(drawing, placement, (0.0, 0.0, 0.0), flatten, Pen("new-edge", 0.15, None, (0.8, 0.6)))
    # Bricks that keep a part from sliding are pressed on once it lies there.
    for entry in plan.built.fastenings:
        for brick in entry.bricks if entry.need in step.needs else ():
            draw_solid(drawing, brick.box, (0.0, 0.0, 0.0), flatten, Pen("new-edge", 0.15, "paper"))
    for placement in sorted(fresh, key=depth_of):
        draw_part(drawing, placement, shift, flatten, Pen("new-edge", 0.3, "new"))
    if fresh:
        _draw_moves(drawing, fresh, step, shift, flatten)
    draw_sides(drawing, flatten)
    return drawing


def draw_sides(drawing: Drawing, flatten: Flat) -> None:
    """Point with two arrows in the corner to where the front and the left side are."""
    x, y = 5.0, drawing.height - 7.0
    for name, axis in (("front", 0), ("left", 1)):
        long = 5.0 / math.hypot(flatten.right[axis], flatten.up[axis])
        tip = (x + long * flatten.right[axis], y - long * flatten.up[axis])
        drawing.line(x, y, *tip, Pen("soft", 0.3))
        drawing.circle(*tip, 0.5, Pen(None, 0, "soft"))
        drawing.text(tip[0] + 1.0, tip[1] + (2.2 if axis == 0 else -0.6), name, 2.6, ink="soft")


class Flat:
    """An orthographic projection onto the sheet."""

    def __init__(self, right: Vec, up: Vec) -> None:
        self.right, self.up = right, up
        self.scale, self.dx, self.dy = 1.0, 0.0, 0.0

    def __call__(self, point: Vec) -> Point:
        """Return where a point (mm) comes to lie on the picture."""
        return (_dot(point, self.right) * self.scale + self.dx, -_dot(point, self.up) * self.scale + self.dy)


def projection(corners: list[Vec], width: float, height: float) -> Flat:
    """Return the view from the front right, from above, of some corners on a picture of this size (mm)."""
    towards = _unit(_TOWARDS)
    right = _unit(_cross((0.0, 0.0, 1.0), towards))
    flat = Flat(right, _cross(towards, right))
    xs, ys = zip(*(flat(corner) for corner in corners), strict=True)
    flat.scale = min(
        (width - 2 * _MARGIN) / (max(xs) - min(xs)), (height - 2 * _MARGIN) / (max(ys) - min(ys)), 1.0
    )
    flat.dx = width / 2 - flat.scale * (max(xs) + min(xs)) / 2
    flat.dy = height / 2 - flat.scale * (max(ys) + min(ys)) / 2
    return flat


def _unit(vector: Vec) -> Vec:
    long = math.sqrt(_dot(vector, vector))
    return (vector[0] / long, vector[1] / long, vector[2] / long)


def _dot(one: Vec, other: Vec) -> float:
    return one[0] * other[0] + one[1] * other[1] + one[2] * other[2]


def _cross(one: Vec, other: Vec) -> Vec:
    return (
        one[1] * other[2] - one[2] * other[1],
        one[2] * other[0] - one[0] * other[2],
        one[0] * other[1] - one[1] * other[0],
    )


def _minus(one: Vec, other: Vec) -> Vec:
    return (one[0] - other[0], one[1] - other[1], one[2] - other[2])


def plus(one: Vec, other: Vec) -> Vec:
    """Return the sum of two vectors."""
    return (one[0] + other[0], one[1] + other[1], one[2] + other[2])


def _outside(step: AssemblyStep) -> Vec:
    """Where the part is before its moves, seen from where it comes to lie (mm)."""
    total = [0.0, 0.0, 0.0]
    for direction, length in step.moves:
        for axis, component in enumerate(unit_vector(direction)):
            total[axis] -= component * min(length, 60.0)
    return (total[0], total[1], total[2])


def corners_of(hull: Box, shift: Vec) -> list[Vec]:
    """Return the corners of a vehicle, with room above them for what comes from there."""
    found: list[Vec] = []
    for x in (hull.low[0], hull.high[0]):
        for y in (hull.low[1], hull.high[1]):
            found += [(x, y, hull.low[2]), (x, y, hull.high[2] + max(0.0, shift[2] * 0.6))]
    return found


def depth_of(placement: Placement) -> float:
    """Return how near the eye a part lies, to draw the far ones first."""
    return sum(map(_depth, placement.solids)) / len(placement.solids)


def _depth(solid: Solid) -> float:
    return _dot(solid.bounds.center, _TOWARDS)


def draw_part(drawing: Drawing, placement: Placement, shift: Vec, flatten: Flat, pen: Pen) -> None:
    """Draw a part, moved by ``shift`` (mm)."""
    for solid in sorted(placement.solids, key=_depth):
        draw_solid(drawing, solid, shift, flatten, pen)


def draw_solid(drawing: Drawing, solid: Solid, shift: Vec, flatten: Flat, pen: Pen) -> None:
    """Draw the faces of a solid that look to the eye; of a mantle only the rim is drawn."""
    strips, ends, rim = _seen(solid)
    if pen.fill is not None:
        filled = Pen(pen.fill, 0.1, pen.fill)
        for face in strips:
            drawing.path([flatten(plus(point, shift)) for point in face], filled, closed=True)
    for face in ends:
        drawing.path([flatten(plus(point, shift)) for point in face], pen, closed=True)
    bare = pen._replace(fill=None)
    for edge in rim:
        drawing.path([flatten(plus(point, shift)) for point in edge], bare)


@lru_cache(maxsize=4096)
def _seen(solid: Solid) -> tuple[tuple[Face, ...], tuple[Face, ...], tuple[Face, ...]]:
    """Return what the eye sees of a solid: strips of a mantle, faces with all their edges, rim of the mantle.

    A part is drawn in every step from the one on in which it goes in, and looks the same in all.
    """
    middle = solid.bounds.center
    strips: list[Face] = []
    ends: list[Face] = []
    for place, face in enumerate(_faces(solid)):
        normal = _cross(_minus(face[1], face[0]), _minus(face[2], face[0]))
        towards = _dot(normal, _TOWARDS)
        if _dot(normal, _minus(face[0], middle)) < 0:
            towards = -towards
        if towards > 1e-9:
            (strips if isinstance(solid, Cylinder) and place < _ROUND else ends).append(face)
    # Edges that belong to one visible strip, in the order in which they come up.
    edges: dict[frozenset[Vec], int] = {}
    for face in strips:
        for edge in (face[1:3], (face[3], face[0]), face[:2], face[2:]):
            edges[frozenset(edge)] = edges.get(frozenset(edge), 0) + 1
    return tuple(strips), tuple(ends), tuple(tuple(edge) for edge, count in edges.items() if count == 1)


def _faces(solid: Solid) -> list[Face]:
    """Return the plane faces of a solid; a cylinder's mantle as strips."""
    match solid:
        case Cylinder():
            along = AXES.index(solid.axis)
            one, two = (axis for axis in range(3) if axis != along)
            rings: list[list[Vec]] = []
            for end in (0.0, solid.length):
                ring: list[Vec] = []
                for step in range(_ROUND):
                    angle = 2 * math.pi * step / _ROUND
                    point = list(solid.start)
                    point[along] += end
                    point[one] += solid.radius * math.cos(angle)
                    point[two] += solid.radius * math.sin(angle)
                    ring.append((point[0], point[1], point[2]))
                rings.append(ring)
            low, high = rings
            strips: list[Face] = [
                (low[i], low[(i + 1) % _ROUND], high[(i + 1) % _ROUND], high[i]) for i in range(_ROUND)
            ]
            return [*strips, tuple(low), tuple(high)]
        case Wedge():
            return _wedge_faces(solid)
        case Box():
            (x0, y0, z0), (x1, y1, z1) = solid.low, solid.high
            return [
                ((x0, y0, z0), (x1, y0, z0), (x1, y1, z0), (x0, y1, z0)),
                ((x0, y0, z1), (x1, y0, z1), (x1, y1, z1), (x0, y1, z1)),
                ((x0, y0, z0), (x1, y0, z0), (x1, y0, z1), (x0, y0, z1)),
                ((x0, y1, z0), (x1, y1, z0), (x1, y1, z1), (x0, y1, z1)),
                ((x0, y0, z0), (x0, y1, z0), (x0, y1, z1), (x0, y0, z1)),
                ((x1, y0, z0), (x1, y1, z0), (x1, y1, z1), (x1, y0, z1)),
            ]


def _wedge_faces(wedge: Wedge) -> list[Face]:
    base, back = axis_of(wedge.base), axis_of(wedge.back)
    side = 3 - base - back

    def corner(u: int, v: int, w: int) -> Vec:
        point = [0.0, 0.0, 0.0]
        for axis, share, direction in ((base, u, wedge.base), (back, v, wedge.back)):
            upper = (share == 0) == (is_forward(direction))
            point[axis] = wedge.box.high[axis] if upper else wedge.box.low[axis]
        point[side] = wedge.box.high[side] if w else wedge.box.low[side]
        return (point[0], point[1], point[2])

    low = [corner(0, 0, 0), corner(1, 0, 0), corner(0, 1, 0)]
    high = [corner(0, 0, 1), corner(1, 0, 1), corner(0, 1, 1)]
    sides: list[Face] = [(low[i], low[(i + 1) % 3], high[(i + 1) % 3], high[i]) for i in range(3)]
    return [tuple(low), tuple(high), *sides]


def _draw_moves(
    drawing: Drawing, placements: Sequence[Placement], step: AssemblyStep, shift: Vec, flatten: Flat
) -> None:
    """Draw the way in as an arrow in straight pieces, through the middle of what goes in."""
    boxes = [
        placement.place.move_solid(solid).bounds
        for placement in placements
        for solid in placement.part.envelope
    ]
    middle = [sum(box.center[axis] for box in boxes) / len(boxes) for axis in range(3)]
    at = [m + s for m, s in zip(middle, shift, strict=True)]
    points = [flatten(vec(at))]
    for direction, length in step.moves:
        at = [a + c * min(length, 60.0) for a, c in zip(at, unit_vector(direction), strict=True)]
        points.append(flatten(vec(at)))
    drawing.path(points, Pen("stop", 0.5))
    (x0, y0), (x1, y1) = points[-2] if len(points) > 1 else points[-1], points[-1]
    angle = math.atan2(y1 - y0, x1 - x0)
    for turn in (2.6, -2.6):
        drawing.line(
            x1, y1, x1 + 2.4 * math.cos(angle + turn), y1 + 2.4 * math.sin(angle + turn), Pen("stop", 0.5)
        )
