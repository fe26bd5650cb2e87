"""Templates at 1:1: both ends of each vehicle from outside, with what is to be drilled or left open.

Cut out along the outline and held against the vehicle: windows with their size, ports for wires with their
middle marked, and the round eyes of what looks out.
"""

from __future__ import annotations

from fitplan.model.plan import Plan
from fitplan.model.solids import AXES, Box, Cylinder, Direction, axis_of
from fitplan.model.train import TrainVehicle
from fitplan.report.drawings.drawing import Drawing, Pen
from fitplan.report.drawings.end_view import BEHIND, FRONT, HEAD, REMOVABLE, FaceView, draw_wall
from fitplan.report.drawings.pdf import fitted, text_width
from fitplan.report.lists.wording import number

_TEXT = 3.6
_FOOT = 5.2
_EDGE = Pen("ink", 0.3)
_WINDOW = Pen("stop", 0.4)
_HOLE = Pen("new-edge", 0.4)
_MIDDLE = Pen("ink", 0.15)
_ENDS: tuple[tuple[Direction, str], ...] = (("+x", "front"), ("-x", "rear"))


def template_drawings(plan: Plan) -> tuple[Drawing, ...]:
    """Return the front and the rear of every vehicle that has a window or a port there, at 1:1."""
    found: list[Drawing] = []
    for entry in plan.built.train.vehicles:
        for out, name in _ENDS:
            shape = entry.vehicle
            sides = [one.out for one in shape.windows]
            sides += [one.out for one in shape.ports if not one.is_open_end]
            if out in sides:
                found.append(_template(plan, entry, out, name))
    return tuple(found)


def _template(plan: Plan, entry: TrainVehicle, out: Direction, name: str) -> Drawing:
    vehicle = entry.vehicle
    face = FaceView(vehicle, out)
    windows = [one for one in vehicle.windows if one.out == out]
    ports = [one for one in vehicle.ports if one.out == out and not one.is_open_end]
    says = [_words(face, one.name, "window", one.box) for one in windows]
    says += [_words(face, one.name, "port", one.box) for one in ports]
    says.append("circles: eyes; crosses: middles")
    width = max(face.width, *(text_width(text, _TEXT) for text in says))
    sheet = Drawing(width, face.height + HEAD + len(says) * _FOOT, f"{entry.name}, {name}, from outside")
    draw_wall(sheet, face, vehicle, 0.0, (BEHIND,))
    draw_wall(sheet, face, vehicle, 0.0, (FRONT, REMOVABLE))
    sheet.rect(0, HEAD, face.width, face.height, _EDGE)
    for line, text in enumerate(says):
        sheet.text(0, HEAD + face.height + 4.4 + line * _FOOT, text, _TEXT)
    for window in windows:
        left, top, wide, high = face.flat(window.box)
        sheet.rect(left, HEAD + top, wide, high, _WINDOW)
    for port in ports:
        left, top, wide, high = face.flat(port.box)
        sheet.rect(left, HEAD + top, wide, high, _HOLE)
        _cross(sheet, left + wide / 2, HEAD + top + high / 2, max(wide, high) / 2 + 1.5)
    eyes = _eyes(plan, entry.name, face, out)
    for x, z, radius in eyes:
        sheet.circle(x, HEAD + z, radius, _HOLE)
        _cross(sheet, x, HEAD + z, radius + 1.5)
    # over the end of an open wagon what looks out may stand free
    tops = [face.flat(window.box)[1] for window in windows] + [z - radius - 1.5 for _, z, radius in eyes]
    over = max(0.0, *(-top for top in tops), 0.0)
    whole = Drawing(width, sheet.height + over, sheet.title)
    whole.text(0, HEAD - 2.2, fitted(f"{entry.name}, {name}", 3.6, width, True), 3.6, bold=True)
    whole.place(sheet, 0, over)
    return whole


def _words(face: FaceView, name: str, kind: str, box: Box) -> str:
    _, _, wide, high = face.flat(box)
    return f"{name}: {kind} {number(wide)} × {number(high)} mm"


def _eyes(plan: Plan, vehicle: str, face: FaceView, out: Direction) -> list[tuple[float, float, float]]:
    """Return middle and radius of the round solids of what looks out at this end, on the template."""
    found: list[tuple[float, float, float]] = []
    for placement in plan.built.placements:
        looks = placement.part.mount.looks
        if placement.vehicle != vehicle or looks is None:
            continue
        if placement.place.pose.turn_direction(looks) != out:
            continue
        for solid in placement.solids:
            if isinstance(solid, Cylinder) and AXES.index(solid.axis) == axis_of(out):
                left, top, wide, _ = face.flat(solid.bounds)
                found.append((left + wide / 2, top + wide / 2, solid.radius))
    return found


def _cross(sheet: Drawing, x: float, y: float, reach: float) -> None:
    sheet.line(x - reach, y, x + reach, y, _MIDDLE)
    sheet.line(x, y - reach, x, y + reach, _MIDDLE)


def plug_labels(plan: Plan) -> tuple[Drawing, ...]:
    """Return a label for each half of each coupling's plug, at 1:1."""
    found: list[Drawing] = []
    for crossing in plan.built.harness.crossings:
        if not crossing.connector:
            continue
        for here, there in ((crossing.ahead, crossing.behind), (crossing.behind, crossing.ahead)):
            label = Drawing(34.0, 10.0, f"{crossing.name} at {here}")
            label.rect(0, 0, 34.0, 10.0, Pen("faint", 0.15))
            label.text(1.2, 6.8, fitted(crossing.name, 5.0, 9.0, True), 5.0, bold=True)
            label.text(11.0, 4.2, fitted(here, 2.8, 22.0, True), 2.8, bold=True)
            label.text(11.0, 8.2, fitted(f"to {there}", 2.6, 22.0), 2.6)
            found.append(label)
    return tuple(found)
