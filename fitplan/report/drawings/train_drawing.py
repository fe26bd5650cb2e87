"""The whole train seen from its side and from above: bodies as outlines, parts, wires, rail."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from fitplan.lattice.flat import outlines, rectangles
from fitplan.model.plan import Plan
from fitplan.model.solids import AXES, Box, Cylinder, Solid, Vec
from fitplan.model.train import Train, TrainVehicle
from fitplan.report.drawings.drawing import Drawing, Pen, Point
from fitplan.report.drawings.ghosts import Ghost, ghosts_of
from fitplan.report.drawings.pdf import text_width
from fitplan.report.drawings.slices import cells_of
from fitplan.report.drawings.wire_ways import drawn_legs, hanging
from fitplan.report.lists.wording import colour_hex, shorten

Flat: TypeAlias = Callable[[Vec], Point]
"""From the train's frame onto the sheet."""
MARGIN = 6.0
_ARROW = 15.0
"""Room for the arrow to the front and its word, for letters of usual size (mm)."""
_BODY = Pen(None, 0, "brick")
_EDGE = Pen("brick-edge", 0.3)
_PART = Pen("part-edge", 0.35, "part")


def side_drawing(plan: Plan) -> Drawing:
    """Return the train from its right side, front to the right, 1:1."""
    train = plan.built.train
    starts = train.starts()
    left, right = _span(train, starts)
    ghosts = ghosts_of(plan)
    # What lies on an open deck may stand above all bodies.
    top = max(entry.vehicle.top for entry in train.vehicles)
    top = max([top, *(one.bounds.high[2] for one in plan.built.placements)])
    top = max([top, *(box.high[2] for _, box in added_boxes(plan))])
    legs = [points for ways in drawn_legs(plan).values() for _, points in ways]
    top = max([top, *(point[2] + 2 for points in legs for point in points)])
    top = max(top, *(one.place.move_solid(one.part.bounds).bounds.high[2] + 4 for one in ghosts), 0.0)
    wide = right - left + 2 * MARGIN
    letters = min(3.5, max(1.0, wide / 270))
    ahead = max(train.vehicles, key=lambda entry: starts[entry.name])
    half = text_width(shorten(ahead.name, 40), 4.2 * letters, True) / 2
    # the arrow stands beside the first vehicle's name where that leaves it room
    below = 4 if ahead.vehicle.length / 2 < half + _ARROW * letters else 0
    drawing = Drawing(wide, top + 15 + (5 + below) * letters + MARGIN, "The train from its right side")
    ground = top + 8

    def flat(point: Vec) -> Point:
        return (point[0] - left + MARGIN, ground - point[2])

    _rail(drawing, ground, MARGIN, right - left + MARGIN)
    for entry in train.vehicles:
        _side_body(drawing, entry, starts[entry.name], flat)
    _things(drawing, plan, starts, flat, (0, 2), letters)
    for place, ghost in enumerate(ghosts):
        _ghost(drawing, place, ghost, train.vehicle(ghost.vehicle), starts[ghost.vehicle], flat, letters)
    for entry in train.vehicles:
        x = flat((starts[entry.name] + entry.vehicle.length / 2, 0, 0))[0]
        drawing.text(x, ground + 5 + 4 * letters, shorten(entry.name, 40), 4.2 * letters, "middle", bold=True)
    _front(drawing, right - left + MARGIN, ground + 5 + (4 + below) * letters, letters)
    return drawing


def _ghost(
    drawing: Drawing, place: int, ghost: Ghost, entry: TrainVehicle, start: float, flat: Flat, letters: float
) -> None:
    """Hatch what a part without a place takes, and frame the room that there is for it."""

    def rect_of(box: Box) -> tuple[float, float, float, float]:
        (x0, y0), (x1, y1) = (flat(entry.in_train(start, corner)) for corner in (box.low, box.high))
        return (min(x0, x1), min(y0, y1), abs(x1 - x0), abs(y1 - y0))

    with drawing.group(f"ghost-{place}", shorten(f"{ghost.need}: no place", 120)):
        taken = rect_of(ghost.place.move_solid(ghost.part.bounds).bounds)
        drawing.hatch(*taken, Pen("stop", 0.2), 2.0)
        drawing.rect(*taken, Pen("stop", 0.5))
        drawing.rect(*rect_of(ghost.room), Pen("fits", 0.4, dash=(1.6, 0.8)))
        x, y, wide, _ = taken
        size = 3.4 * letters
        drawing.text(x + wide / 2, y - 1.0, shorten(ghost.need, 40), size, "middle", True, "stop", halo=True)


def top_drawing(plan: Plan) -> Drawing:
    """Return the train from above, front to the right, 1:1; the roof is left off."""
    train = plan.built.train
    starts = train.starts()
    left, right = _span(train, starts)
    wide = max(entry.vehicle.width for entry in train.vehicles)
    letters = min(3.5, max(1.0, (right - left + 2 * MARGIN) / 270))
    above = MARGIN + 2.6 * letters
    drawing = Drawing(
        right - left + 2 * MARGIN, wide + above + MARGIN + 3 * letters, "The train from above, roofs left off"
    )
    middle = above + wide / 2

    def flat(point: Vec) -> Point:
        return (point[0] - left + MARGIN, middle - point[1])

    for entry in train.vehicles:
        cells = cells_of(entry.vehicle)
        # a wall stands over more than half of the height; floor and roof alone do not count
        share = (cells.solid * np.diff(cells.cuts[2])[None, None, :]).sum(axis=2)
        walls = np.asarray(share > 0.45 * (entry.vehicle.top - entry.vehicle.base))
        whole = np.any(cells.solid, axis=2)
        _mask(drawing, entry, starts[entry.name], flat, (cells.cuts[0], cells.cuts[1]), whole, walls)
    _things(drawing, plan, starts, flat, (0, 1), letters)
    edge = right - left + MARGIN
    drawing.text(edge, above - 1.6, "left side", 2.6 * letters, "end", ink="soft")
    _front(drawing, edge, above + wide + 4 * letters, letters)
    return drawing


def _span(train: Train, starts: Mapping[str, float]) -> tuple[float, float]:
    """Return from where to where along the train is drawn."""
    right = max(starts[entry.name] + entry.vehicle.length for entry in train.vehicles)
    return min(starts.values()) - 8, right + 8


def _rail(drawing: Drawing, ground: float, left: float, right: float) -> None:
    for step in range(int((right - left) // 6) + 1):
        drawing.rect(left + step * 6, ground + 1.6, 2.4, 1.4, Pen(None, 0, "faint"))
    drawing.line(left, ground + 0.7, right, ground + 0.7, Pen("soft", 0.9))


def _side_body(drawing: Drawing, entry: TrainVehicle, start: float, flat: Flat) -> None:
    vehicle = entry.vehicle
    wheels = vehicle.wheels
    half = wheels.bogie_wheelbase / 2 if wheels.kind == "bogies" else 0.0
    for at, driven in zip(wheels.at, wheels.driven, strict=False):
        for x in (at - half, at + half) if half else (at,):
            px, py = flat(entry.in_train(start, (x, 0, wheels.wheel_radius)))
            drawing.circle(px, py, wheels.wheel_radius, Pen("brick-edge", 0.4, "brick"))
            drawing.circle(px, py, 1.2 if driven else 0.5, Pen(None, 0, "brick-edge"))
    for coupling in vehicle.couplings:
        x = 0.0 if coupling.end == "rear" else vehicle.length
        out = x + (-coupling.length if coupling.end == "rear" else coupling.length)
        one = flat(entry.in_train(start, (x, 0, coupling.height)))
        two = flat(entry.in_train(start, (out, 0, coupling.height)))
        drawing.path((one, two), Pen("brick-edge", 1.0))
    cells = cells_of(vehicle)
    solid = cells.solid
    whole = np.any(solid, axis=1)
    deep = (solid * np.diff(cells.cuts[1])[None, :, None]).sum(axis=1)
    walls = np.asarray(deep > 0.7 * vehicle.width)
    _mask(drawing, entry, start, flat, (cells.cuts[0], cells.cuts[2]), whole, walls, upright=True)


def _mask(
    drawing: Drawing,
    entry: TrainVehicle,
    start: float,
    flat: Flat,
    cuts: tuple[NDArray[np.float64], NDArray[np.float64]],
    whole: NDArray[np.bool_],
    thick: NDArray[np.bool_],
    upright: bool = False,
) -> None:
    """Fill where brick is thick, draw the outline of all brick."""

    def corner(a: int, b: int) -> Point:
        u, v = float(cuts[0][a]), float(cuts[1][b])
        return flat(entry.in_train(start, (u, 0.0, v) if upright else (u, v, 0.0)))

    for a0, b0, a1, b1 in rectangles(thick):
        (x0, y0), (x1, y1) = corner(a0, b0), corner(a1, b1)
        drawing.rect(min(x0, x1), min(y0, y1), abs(x1 - x0), abs(y1 - y0), _BODY)
    for mask, pen in ((thick, Pen("brick-edge", 0.15)), (whole, _EDGE)):
        for a0, b0, a1, b1 in outlines(mask):
            drawing.path((corner(a0, b0), corner(a1, b1)), pen)


def _things(
    drawing: Drawing, plan: Plan, starts: dict[str, float], flat: Flat, axes: tuple[int, int], letters: float
) -> None:
    """Draw what is added, parts and wires, those of a kind on top of one another in the order of the plan."""
    train = plan.built.train
    _added(drawing, plan, starts, flat)
    for place, placement in enumerate(plan.built.placements):
        entry = train.vehicle(placement.vehicle)
        with drawing.group(f"part-{place}", shorten(f"{placement.need}: {placement.part.name}", 120)):
            for solid in placement.part.envelope:
                _solid(drawing, placement.place.move_solid(solid), entry, starts[entry.name], flat, axes)
    legs, arcs = drawn_legs(plan), hanging(plan)
    for wire in plan.built.harness.wires:
        ways = [[flat(point) for point in arc] for arc in arcs[wire.number]]
        for vehicle, points in legs[wire.number]:
            entry = train.vehicle(vehicle)
            ways.append([flat(entry.in_train(starts[vehicle], point)) for point in points])
        with drawing.group(f"wire-{wire.number}", shorten(f"wire {wire.number}, {wire.net}", 120)):
            for way in ways:
                drawing.path(way, Pen("soft", wire.outer_mm * 0.7 + 0.25))
            for way in ways:
                drawing.path(way, Pen(colour_hex(wire.colour), wire.outer_mm * 0.7))
    spots = [
        flat(train.vehicle(one.vehicle).in_train(starts[one.vehicle], one.bounds.center))
        for one in plan.built.placements
    ]
    _numbers(drawing, spots, 2.4 * letters)


def added_boxes(plan: Plan) -> list[tuple[str, Box]]:
    """Return what is added to carry and hold parts, each piece with its vehicle."""
    return [
        *(
            (one.vehicle, box)
            for one in plan.built.placements
            for box in (one.shelf.boxes if one.shelf is not None else ())
        ),
        *((entry.vehicle, brick.box) for entry in plan.built.fastenings for brick in entry.bricks),
    ]


def _added(drawing: Drawing, plan: Plan, starts: dict[str, float], flat: Flat) -> None:
    """Draw bricks, plates and pads that carry and hold parts."""
    built, boxes = plan.built, added_boxes(plan)
    if not boxes:
        return
    with drawing.group("added", "what is added to carry and hold parts"):
        for vehicle, box in boxes:
            entry = built.train.vehicle(vehicle)
            ends = [flat(entry.in_train(starts[vehicle], point)) for point in (box.low, box.high)]
            (x0, y0), (x1, y1) = ends
            drawing.rect(min(x0, x1), min(y0, y1), abs(x1 - x0), abs(y1 - y0), Pen("new-edge", 0.25, "new"))


def _solid(
    drawing: Drawing, solid: Solid, entry: TrainVehicle, start: float, flat: Flat, axes: tuple[int, int]
) -> None:
    if isinstance(solid, Cylinder) and AXES.index(solid.axis) not in axes:
        x, y = flat(entry.in_train(start, solid.bounds.center))
        drawing.circle(x, y, solid.radius, _PART)
        return
    box = solid.bounds
    (x0, y0), (x1, y1) = flat(entry.in_train(start, box.low)), flat(entry.in_train(start, box.high))
    drawing.rect(min(x0, x1), min(y0, y1), abs(x1 - x0), abs(y1 - y0), _PART, 0.4)


def _numbers(drawing: Drawing, spots: Sequence[Point], radius: float) -> None:
    """Write numbers on parts; a sign that would cover another stands beside it, with a line to its part."""
    taken: list[Point] = []
    for place, spot in enumerate(spots):
        x, y = next((at for at in _near(spot, radius) if _is_free(drawing, at, taken, radius)), spot)
        taken.append((x, y))
        if (x, y) != spot:
            drawing.line(*spot, x, y, Pen("part-edge", 0.25))
            drawing.circle(*spot, 0.25 * radius, Pen(None, 0, "part-edge"))
        drawing.circle(x, y, radius, Pen("part-edge", 0.25, "paper"))
        size = radius / 2.4
        drawing.text(x, y + 1.2 * size, str(place + 1), 3.4 * size, "middle", bold=True, ink="part-edge")


def _near(spot: Point, radius: float) -> Iterator[Point]:
    """Give a spot and places round it, the nearest first."""
    yield spot
    for ring in (2.1, 3.2, 4.3, 5.4, 6.5):
        for turn in range(12):
            angle = math.radians(30 * turn - 90)
            yield spot[0] + ring * radius * math.cos(angle), spot[1] + ring * radius * math.sin(angle)


def _is_free(drawing: Drawing, at: Point, taken: Sequence[Point], radius: float) -> bool:
    inside = radius <= at[0] <= drawing.width - radius and radius <= at[1] <= drawing.height - radius
    return inside and all(math.dist(at, other) >= 2.05 * radius for other in taken)


def _front(drawing: Drawing, right: float, y: float, letters: float) -> None:
    """Say with an arrow where the front is."""
    long = 6.0 * letters
    drawing.text(right - long - letters, y, "front", 2.6 * letters, "end", ink="soft")
    level, tip = y - 0.9 * letters, 1.6 * letters
    drawing.line(right - long, level, right, level, Pen("soft", 0.3))
    drawing.path(
        ((right - tip, level - 0.6 * tip), (right, level), (right - tip, level + 0.6 * tip)), Pen("soft", 0.3)
    )
