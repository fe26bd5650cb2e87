"""Small pictures of the order of assembly: the vehicle as lines, what is in it, and the part that goes in."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from fitplan.model.placed import Placement
from fitplan.model.plan import Plan
from fitplan.model.solids import AXES, Box, Cylinder, Solid, Vec, Wedge, axis_of, is_forward, unit_vector
from fitplan.model.ways_in import AssemblyStep
from fitplan.report.drawings.drawing import Drawing, Pen, Point

Face: TypeAlias = tuple[Vec, ...]
_TOWARDS = np.array([0.46, -0.78, 0.55])
"""From the picture towards the eye: from the front right, from above (x, y, z of the vehicle)."""
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
        drawing.path((flatten(one), flatten(two)), Pen("faint", 0.15))
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
        tip = (x + long * float(flatten.right[axis]), y - long * float(flatten.up[axis]))
        drawing.line(x, y, *tip, Pen("soft", 0.3))
        drawing.circle(*tip, 0.5, Pen(None, 0, "soft"))
        drawing.text(tip[0] + 1.0, tip[1] + (2.2 if axis == 0 else -0.6), name, 2.6, ink="soft")


class Flat:
    """An orthographic projection onto the sheet."""

    def __init__(self, right: NDArray[np.float64], up: NDArray[np.float64]) -> None:
        self.right, self.up = right, up
        self.scale, self.dx, self.dy = 1.0, 0.0, 0.0

    def __call__(self, point: Sequence[float]) -> Point:
        """Return where a point (mm) comes to lie on the picture."""
        at = np.array(point)
        return (float(at @ self.right) * self.scale + self.dx, -float(at @ self.up) * self.scale + self.dy)


def projection(corners: list[Vec], width: float, height: float) -> Flat:
    """Return the view from the front right, from above, of some corners on a picture of this size (mm)."""
    towards = _TOWARDS / np.linalg.norm(_TOWARDS)
    right = np.cross([0.0, 0.0, 1.0], towards)
    right /= np.linalg.norm(right)
    flat = Flat(right, np.cross(towards, right))
    xs, ys = zip(*(flat(corner) for corner in corners), strict=True)
    flat.scale = min(
        (width - 2 * _MARGIN) / (max(xs) - min(xs)), (height - 2 * _MARGIN) / (max(ys) - min(ys)), 1.0
    )
    flat.dx = width / 2 - flat.scale * (max(xs) + min(xs)) / 2
    flat.dy = height / 2 - flat.scale * (max(ys) + min(ys)) / 2
    return flat


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
    boxes = [solid.bounds for solid in placement.solids]
    return sum(float(np.array(box.center) @ _TOWARDS) for box in boxes) / len(boxes)


def draw_part(drawing: Drawing, placement: Placement, shift: Vec, flatten: Flat, pen: Pen) -> None:
    """Draw a part, moved by ``shift`` (mm)."""
    for solid in sorted(placement.solids, key=lambda entry: float(np.array(entry.bounds.center) @ _TOWARDS)):
        draw_solid(drawing, solid, shift, flatten, pen)


def draw_solid(drawing: Drawing, solid: Solid, shift: Vec, flatten: Flat, pen: Pen) -> None:
    """Draw the faces of a solid that look to the eye."""
    middle = np.array(solid.bounds.center)
    lines: dict[frozenset[Vec], int] = {}
    faces = _faces(solid)
    for place, face in enumerate(faces):
        strip = isinstance(solid, Cylinder) and place < _ROUND
        points = np.array(face)
        normal = np.cross(points[1] - points[0], points[2] - points[0])
        if float(normal @ (points.mean(axis=0) - middle)) < 0:
            normal = -normal
        if float(normal @ _TOWARDS) <= 1e-9:
            continue
        around = [flatten(point + np.array(shift)) for point in points]
        if not strip:
            drawing.path(around, pen, closed=True)
            continue
        if pen.fill is not None:
            drawing.path(around, Pen(pen.fill, 0.1, pen.fill), closed=True)
        for edge in (
            frozenset(face[1:3]),
            frozenset((face[3], face[0])),
            frozenset(face[:2]),
            frozenset(face[2:]),
        ):
            lines[edge] = lines.get(edge, 0) + 1
    # of a mantle only the rim is drawn: edges that belong to one visible strip
    for edge, count in lines.items():
        if count == 1:
            drawing.path(
                [flatten(np.array(point) + np.array(shift)) for point in edge], replace(pen, fill=None)
            )


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
    points = [flatten(at)]
    for direction, length in step.moves:
        at = [a + c * min(length, 60.0) for a, c in zip(at, unit_vector(direction), strict=True)]
        points.append(flatten(at))
    drawing.path(points, Pen("stop", 0.5))
    (x0, y0), (x1, y1) = points[-2] if len(points) > 1 else points[-1], points[-1]
    angle = math.atan2(y1 - y0, x1 - x0)
    for turn in (2.6, -2.6):
        drawing.line(
            x1, y1, x1 + 2.4 * math.cos(angle + turn), y1 + 2.4 * math.sin(angle + turn), Pen("stop", 0.5)
        )
