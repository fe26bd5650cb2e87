"""Small pictures of the order of work beside those of parts: wires, joints, lids, what lies on the table.

What was done before is pale, what is new in the step stands out in the ink of new things, with its number.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise

from fitplan.model.plan import Plan
from fitplan.model.solids import Vec, unit_vector
from fitplan.model.wired import Wire
from fitplan.model.work import WorkStep
from fitplan.report.drawings.drawing import Drawing, Label, Pen, Point
from fitplan.report.drawings.step_drawing import (
    BODY_PEN,
    Flat,
    corners_of,
    depth_of,
    draw_part,
    draw_sides,
    draw_solid,
    plus,
    projection,
)
from fitplan.report.lists.wording import colour_hex

_LIFT_MM = 14.0
"""So far off its seat a lid is drawn that is taken off or put on."""
_LETTERS = 2.4
_STUB_MM = 11.0
_NEW = Pen("new-edge", 0.7)
_LAID = Pen("soft", 0.2)


def work_drawing(
    plan: Plan,
    step: WorkStep,
    edges: Sequence[tuple[Vec, Vec]],
    laid: frozenset[int],
    width: float,
    height: float,
) -> Drawing:
    """Return the picture of a step of work in ``width`` × ``height`` mm.

    Parameters
    ----------
    edges
        Those of the body of its vehicle; none are wanted for what is done on the table.
    laid
        Wires that lie in the train before the step.
    """
    drawing = Drawing(width, height, f"Step {step.number}")
    if step.spot == "table" or not step.vehicle:
        _on_the_table(drawing, plan, step)
    else:
        _in_the_vehicle(drawing, plan, step, edges, laid)
    return drawing


def _in_the_vehicle(
    drawing: Drawing,
    plan: Plan,
    step: WorkStep,
    edges: Sequence[tuple[Vec, Vec]],
    laid: frozenset[int],
) -> None:
    vehicle = plan.built.train.vehicle(step.vehicle).vehicle
    before = [one for one in plan.work.steps if one.number < step.number]
    flatten = projection(corners_of(vehicle.hull, (0.0, 0.0, 2 * _LIFT_MM)), drawing.width, drawing.height)
    for one, two in edges:
        drawing.path((flatten(one), flatten(two)), BODY_PEN)
    inside = {need for one in before if one.act == "place" for need in one.parts}
    placements = [one for one in plan.built.placements if one.vehicle == step.vehicle]
    worked = set(step.parts) if step.act != "thread" else set()
    for placement in sorted(placements, key=depth_of):
        if placement.need in inside or (step.spot == "inside" and placement.need in worked):
            fresh = placement.need in worked
            pen = Pen("new-edge", 0.3, "new") if fresh else Pen("part-edge", 0.2, "part")
            draw_part(drawing, placement, (0.0, 0.0, 0.0), flatten, pen)
    for wire in plan.built.harness.wires:
        if wire.number in laid and wire.number not in step.wires:
            _draw_way(drawing, wire, step.vehicle, flatten, _LAID)
    for wire in plan.built.harness.wires:
        if wire.number in step.wires:
            _draw_way(drawing, wire, step.vehicle, flatten, _NEW, named=True)
    _draw_ends(drawing, plan, step, flatten)
    _draw_lids(drawing, plan, step, before, flatten)
    draw_sides(drawing, flatten)


def _draw_way(
    drawing: Drawing, wire: Wire, vehicle: str, flatten: Flat, pen: Pen, named: bool = False
) -> None:
    for leg in wire.legs:
        if leg.vehicle == vehicle and len(leg.points) > 1:
            points = [flatten(point) for point in leg.points]
            drawing.path(points, pen)
            if named:
                _number(drawing, str(wire.number), points)


def _number(drawing: Drawing, text: str, points: Sequence[Point]) -> None:
    """Write a wire's number beside its way, where it stands clear of all other letters; else nowhere."""
    taken = [_letters(shape) for shape in drawing.shapes if isinstance(shape, Label)]
    corner = (0.0, drawing.height - 14.0, 20.0, drawing.height)  # there front and left are marked
    for share in (0.5, 0.35, 0.65, 0.2, 0.8, 0.05, 0.95):
        x, y = _at(points, share)
        for dx, dy in ((0.8, -0.8), (0.8, 2.6), (-3.6, -0.8), (-3.6, 2.6)):
            label = Label(x + dx, y + dy, text, _LETTERS, "start", True, "new-edge")
            low_x, low_y, high_x, high_y = _letters(label)
            inside = low_x > 0 and low_y > 0 and high_x < drawing.width and high_y < drawing.height
            if inside and not any(
                low_x < box[2] and box[0] < high_x and low_y < box[3] and box[1] < high_y
                for box in (*taken, corner)
            ):
                drawing.shapes.append(label)
                return


def _letters(label: Label) -> tuple[float, float, float, float]:
    """Return the box that holds a label's letters: left, upper, right and lower edge (mm)."""
    long = 0.62 * label.size * len(label.text) + 0.3
    return (label.x, label.y - label.size, label.x + long, label.y + 0.35 * label.size)


def _at(points: Sequence[Point], share: float) -> Point:
    """Return the point at a share of a way on the picture."""
    pieces = list(pairwise(points))
    long = [math.dist(a, b) for a, b in pieces]
    left = share * sum(long)
    for (a, b), piece in zip(pieces, long, strict=True):
        if left <= piece and piece > 0:
            return (a[0] + (b[0] - a[0]) * left / piece, a[1] + (b[1] - a[1]) * left / piece)
        left -= piece
    return points[-1]


def _draw_ends(drawing: Drawing, plan: Plan, step: WorkStep, flatten: Flat) -> None:
    """Put a dot onto each joint that is made, and a ring round a port or hole that wires are led through."""
    wires = {wire.number: wire for wire in plan.built.harness.wires}
    for number, side in step.ends:
        end = wires[number].start if side == "start" else wires[number].end
        if end.vehicle == step.vehicle and step.act != "thread":
            drawing.circle(*flatten(end.at), 0.9, Pen("new-edge", 0.2, "stop"))
    port = plan.built.train.vehicle(step.vehicle).vehicle.port(step.port)
    through = port.box if port is not None else step.hole.box if step.hole is not None else None
    if through is not None:
        drawing.circle(*flatten(through.center), 2.2, Pen("stop", 0.4))


def _draw_lids(
    drawing: Drawing, plan: Plan, step: WorkStep, before: Sequence[WorkStep], flatten: Flat
) -> None:
    """Draw lids that are on as such, those that are off not at all, and the one in hand above its seat."""
    vehicle = plan.built.train.vehicle(step.vehicle).vehicle
    off: set[str] = set()
    for one in before:
        if one.vehicle == step.vehicle and one.act == "open":
            off.add(one.opening)
        elif one.vehicle == step.vehicle and one.act == "close":
            off.discard(one.opening)
    for opening in vehicle.openings:
        if step.act in ("open", "close") and opening.name == step.opening:
            x, y, z = (component * _LIFT_MM for component in unit_vector(opening.out))
            draw_solid(drawing, opening.box, (x, y, z), flatten, Pen("new-edge", 0.3, "new", opacity=0.7))
            seat, held = flatten(opening.box.center), flatten(plus(opening.box.center, (x, y, z)))
            first, last = (seat, held) if step.act == "open" else (held, seat)
            _arrow(drawing, first, last)
        elif opening.name not in off:
            draw_solid(drawing, opening.box, (0.0, 0.0, 0.0), flatten, Pen("brick-edge", 0.3))


def _arrow(drawing: Drawing, first: Point, last: Point) -> None:
    (x0, y0), (x1, y1) = first, last
    long = max(((x1 - x0) ** 2 + (y1 - y0) ** 2) ** 0.5, 1e-6)
    dx, dy = (x1 - x0) / long, (y1 - y0) / long
    drawing.path((first, last), Pen("stop", 0.5))
    for turn in (1, -1):
        tip = (x1 - 2.2 * dx + turn * 1.1 * dy, y1 - 2.2 * dy - turn * 1.1 * dx)
        drawing.path((last, tip), Pen("stop", 0.5))


# -- on the table ------------------------------------------------------------------------------------------


def _on_the_table(drawing: Drawing, plan: Plan, step: WorkStep) -> None:
    wires = [wire for wire in plan.built.harness.wires if wire.number in step.wires]
    placement = plan.built.placement(step.parts[0]) if step.parts and step.act == "join" else None
    if placement is not None:
        joints = [
            (wire, placement.part.pin(end.pin))
            for wire in wires
            for end in (wire.start, wire.end)
            if end.owner == placement.need and any(pin.name == end.pin for pin in placement.part.pins)
        ]
        ends = [
            plus(pin.at, (x * _STUB_MM, y * _STUB_MM, z * _STUB_MM))
            for _, pin in joints
            for x, y, z in (unit_vector(pin.exit),)
        ]
        shown = [*corners_of(placement.part.bounds, (0.0, 0.0, 0.0)), *ends]
        flatten = projection(shown, drawing.width * 0.62, drawing.height * 0.8)
        flatten.dx += 2.0
        flatten.dy += drawing.height * 0.1
        for solid in placement.part.envelope:
            draw_solid(drawing, solid, (0.0, 0.0, 0.0), flatten, Pen("part-edge", 0.2, "part"))
        for place, ((wire, pin), end) in enumerate(zip(joints, ends, strict=True)):
            ink = Pen(colour_hex(wire.colour), 0.8)
            drawing.path((flatten(pin.at), flatten(end)), ink)
            drawing.circle(*flatten(pin.at), 0.7, Pen("new-edge", 0.2, "stop"))
            if (row := 4.0 + place * 3.2) < drawing.height:
                drawing.line(drawing.width - 22.0, row - 0.8, drawing.width - 18.0, row - 0.8, ink)
                drawing.text(drawing.width - 17.0, row, f"{wire.number} to {pin.name}", _LETTERS)
        return
    longest = max((wire.cut_mm for wire in wires), default=1.0)
    rows = min(len(wires), max(int((drawing.height - 6) // 3.6), 1))
    room = drawing.width - 30.0
    for place, wire in enumerate(wires[:rows]):
        y = 5.0 + place * 3.6
        long = max(room * wire.cut_mm / longest, 4.0)
        drawing.text(1.0, y + 0.9, f"{wire.number} {wire.colour}", _LETTERS, bold=True)
        drawing.line(12.0, y, 12.0 + long, y, Pen("ink", 1.3))
        drawing.line(12.2, y, 11.8 + long, y, Pen(colour_hex(wire.colour), 0.9))
        if step.act == "cut":
            for x in (10.6, 12.0 + long):
                drawing.line(x, y, x + 1.4, y, Pen("soft", 0.4))
        drawing.text(14.4 + long, y + 0.9, f"{wire.cut_mm:g} mm", _LETTERS)
    if step.splice and wires:
        drawing.circle(12.0, 5.0 + 1.8 * (rows - 1), 1.6, Pen("new-edge", 0.3, "new"))
    if len(wires) > rows:
        drawing.text(12.0, drawing.height - 1.5, f"and {len(wires) - rows} more", _LETTERS, ink="soft")
