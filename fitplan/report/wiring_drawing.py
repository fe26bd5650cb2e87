"""The wiring drawing: parts as boxes, pins as rows, wires in their colours, splices dots, couplings breaks.

Vehicles stand side by side, the train's front to the right, each with its parts one above the other and a
channel of upright tracks beside them. Wires to other vehicles run along the trunk at the foot. Tracks are
given out by the left-edge rule (Hashimoto and Stevens 1971): intervals sorted by where they start, each on
the first track that is free there, so wires never lie on one another.
"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass

from fitplan.model.plan import Crossing, Plan, Wire, WireEnd
from fitplan.report.drawing import Drawing, Pen
from fitplan.report.pdf import fitted, text_width
from fitplan.report.wording import colour_hex, shorten, wire_label

ROW = 4.4
BOX = 40.0
GAP = 5.0
TRACK = 3.0
_MARGIN = 6.0
_HEAD = 16.0
_WIRE = 0.75
_BREAK = 20.0


@dataclass(frozen=True)
class _Spot:
    """Where a wire meets a part or a splice: vehicle, height of the row, and from where it leaves."""

    vehicle: str
    y: float
    x: float


@dataclass
class _Column:
    """A vehicle's place in the drawing."""

    name: str
    left: float = 0.0
    bottom: float = 0.0
    tracks: int = 0
    lead: float = 0.0

    @property
    def channel(self) -> float:
        """Where the upright tracks begin."""
        return self.left + BOX + self.lead

    @property
    def right(self) -> float:
        """Where the vehicle's part of the drawing ends."""
        return self.channel + (self.tracks + 1) * TRACK


def wiring_drawing(plan: Plan) -> Drawing:
    """Return the wiring drawing of a plan; its size follows from what is drawn."""
    names = [entry.name for entry in plan.built.train.vehicles][::-1]
    boxes = _boxes(plan)
    uprights = _uprights(plan, names, boxes)
    columns: dict[str, _Column] = {}
    x = _MARGIN
    for place, name in enumerate(names):
        column = _Column(name, left=x, tracks=max(uprights[name].values(), default=-1) + 1)
        labels = [wire_label(wire) for wire in plan.built.harness.wires]
        column.lead = 4.0 + max((text_width(label, 2.4) for label in labels), default=0.0)
        column.bottom = max((box[2] for box in boxes[name]), default=_HEAD)
        columns[name] = column
        x = column.right + (_BREAK if place + 1 < len(names) else 0)
    foot = max(column.bottom for column in columns.values()) + 6
    lanes = _lanes(plan, names)
    count = max(lanes.values(), default=-1) + 1
    drawing = Drawing(x + _MARGIN, foot + count * TRACK + 12, "Wiring drawing")
    spots = _spots(plan, boxes, columns)
    for name, column in columns.items():
        _frame(drawing, column, foot + count * TRACK + 5, shorten(name, 40))
    _draw_wires(drawing, plan, columns, uprights, lanes, spots, foot)
    for name in names:
        _draw_boxes(drawing, plan, name, boxes[name], columns[name])
    _draw_splices(drawing, plan, columns, uprights, spots)
    for crossing in plan.built.harness.crossings:
        if crossing.ahead in columns and crossing.behind in columns:
            _draw_break(drawing, crossing, columns, lanes, foot, count)
    return drawing


def _boxes(plan: Plan) -> dict[str, list[tuple[str, str, float, dict[str, float]]]]:
    """For each vehicle its boxes from the top: kind and owner, title, lower edge, and height of each row."""
    found: dict[str, list[tuple[str, str, float, dict[str, float]]]] = {}
    used: dict[str, list[str]] = defaultdict(list)
    where: dict[str, str] = {}
    for wire in plan.built.harness.wires:
        for end in (wire.start, wire.end):
            if end.kind == "pin":
                where.setdefault(end.owner, end.vehicle)
                if end.pin not in used[end.owner]:
                    used[end.owner].append(end.pin)
    order = {placement.need: placement for placement in plan.built.placements}
    for entry in plan.built.train.vehicles:
        y = _HEAD
        boxes: list[tuple[str, str, float, dict[str, float]]] = []
        owners = [need for need, placement in order.items() if placement.vehicle == entry.name and used[need]]
        owners += [owner for owner, vehicle in where.items() if vehicle == entry.name and owner not in order]
        for owner in owners:
            pins = used[owner]
            if owner in order:
                pins = sorted(pins, key=[pin.name for pin in order[owner].part.pins].index)
            rows = {pin: y + ROW * (i + 1) + ROW / 2 for i, pin in enumerate(pins)}
            bottom = y + ROW * (len(pins) + 1) + 1
            boxes.append(("part", owner, bottom, rows))
            y = bottom + GAP
        for splice in plan.built.harness.splices:
            if splice.vehicle == entry.name:
                boxes.append(("splice", splice.name, y + ROW, {"": y + ROW / 2}))
                y += ROW + 2
        found[entry.name] = boxes
    return found


def _reach(
    plan: Plan, names: list[str], wire: Wire, boxes: dict[str, list[tuple[str, str, float, dict[str, float]]]]
) -> dict[str, tuple[float, float]]:
    """Interval of heights that a wire takes up in the channel of each vehicle where it has an end."""
    found: dict[str, tuple[float, float]] = {}
    ends = [(end.vehicle, _row(boxes, end)) for end in (wire.start, wire.end)]
    if ends[0][0] == ends[1][0]:
        low, high = sorted((ends[0][1], ends[1][1]))
        return {ends[0][0]: (low, high)}
    for vehicle, y in ends:
        found[vehicle] = (y, 1e6)
    return found


def _row(boxes: dict[str, list[tuple[str, str, float, dict[str, float]]]], end: WireEnd) -> float:
    kind = "splice" if end.kind == "splice" else "part"
    for box_kind, owner, _bottom, rows in boxes.get(end.vehicle, []):
        if box_kind == kind and owner == end.owner:
            return rows.get("" if kind == "splice" else end.pin, _HEAD)
    return _HEAD


def _uprights(
    plan: Plan, names: list[str], boxes: dict[str, list[tuple[str, str, float, dict[str, float]]]]
) -> dict[str, dict[int, int]]:
    """For each vehicle the track of each wire that stands in its channel."""
    found: dict[str, dict[int, int]] = {name: {} for name in names}
    waiting: dict[str, list[tuple[float, float, int]]] = defaultdict(list)
    for wire in plan.built.harness.wires:
        for vehicle, (low, high) in _reach(plan, names, wire, boxes).items():
            if vehicle in found:
                waiting[vehicle].append((low, high, wire.number))
    for vehicle, intervals in waiting.items():
        # short ones first: they stay next to the boxes; then by where they start
        tracks: list[list[tuple[float, float]]] = []
        for low, high, wire_number in sorted(intervals, key=lambda item: (item[1] - item[0], item)):
            found[vehicle][wire_number] = _first_free(tracks, low - 0.5, high + 0.5)
    return found


def _lanes(plan: Plan, names: list[str]) -> dict[int, int]:
    """Lane in the trunk of each wire that goes to another vehicle."""
    place = {name: i for i, name in enumerate(names)}
    intervals = []
    for wire in plan.built.harness.wires:
        a, b = place.get(wire.start.vehicle, 0), place.get(wire.end.vehicle, 0)
        if a != b:
            intervals.append((float(min(a, b)), float(max(a, b)), wire.number))
    tracks: list[list[tuple[float, float]]] = []
    return {entry: _first_free(tracks, low, high) for low, high, entry in sorted(intervals)}


def _first_free(tracks: list[list[tuple[float, float]]], low: float, high: float) -> int:
    for place, taken in enumerate(tracks):
        if all(high < other_low or low > other_high for other_low, other_high in taken):
            taken.append((low, high))
            return place
    tracks.append([(low, high)])
    return len(tracks) - 1


def _spots(
    plan: Plan,
    boxes: dict[str, list[tuple[str, str, float, dict[str, float]]]],
    columns: dict[str, _Column],
) -> dict[tuple[int, int], _Spot]:
    """Where each end (wire number, 0 or 1) is."""
    found: dict[tuple[int, int], _Spot] = {}
    for wire in plan.built.harness.wires:
        for side, end in enumerate((wire.start, wire.end)):
            if end.vehicle not in columns:
                continue
            left = columns[end.vehicle].left
            x = left + (BOX - 6 if end.kind == "splice" else BOX)
            found[wire.number, side] = _Spot(end.vehicle, _row(boxes, end), x)
    return found


def _frame(drawing: Drawing, column: _Column, bottom: float, name: str) -> None:
    drawing.text(column.left, 8.5, fitted(name, 4.4, column.right - column.left, True), 4.4, bold=True)
    drawing.line(column.left, 10.5, column.right, 10.5, Pen("soft", 0.5))
    for step in range(int((column.right - column.left) // 4)):
        x = column.left + step * 4
        drawing.rect(x, 11.0, 1.6, 0.9, Pen(None, 0, "faint"))
    del bottom


def _draw_wires(
    drawing: Drawing,
    plan: Plan,
    columns: dict[str, _Column],
    uprights: dict[str, dict[int, int]],
    lanes: dict[int, int],
    spots: dict[tuple[int, int], _Spot],
    foot: float,
) -> None:
    """Later wires pass over earlier ones: each has a casing in the colour of the paper."""
    for wire in sorted(plan.built.harness.wires, key=lambda entry: (entry.number in lanes, entry.number)):
        start, end = spots.get((wire.number, 0)), spots.get((wire.number, 1))
        if start is None or end is None:
            continue
        points = []
        for spot in (start, end):
            column = columns[spot.vehicle]
            track = column.channel + (uprights[spot.vehicle].get(wire.number, 0) + 0.5) * TRACK
            points.append([(spot.x, spot.y), (track, spot.y)])
        if start.vehicle == end.vehicle:
            way = points[0] + points[1][::-1]
        else:
            lane = foot + (lanes[wire.number] + 0.5) * TRACK
            way = [*points[0], (points[0][1][0], lane), (points[1][1][0], lane), *points[1][::-1]]
        title = shorten(f"wire {wire.number}, {wire.net}", 120)
        with drawing.group(f"wire-{wire.number}", title):
            drawing.path(way, Pen("paper", 2.0))
            drawing.path(way, Pen("soft", _WIRE + 0.35))
            drawing.path(way, Pen(colour_hex(wire.colour), _WIRE))
            for spot, side in ((start, wire.start), (end, wire.end)):
                if side.kind == "pin":
                    drawing.text(spot.x + 1.6, spot.y - 0.9, wire_label(wire), 2.4)


def _draw_boxes(
    drawing: Drawing,
    plan: Plan,
    vehicle: str,
    boxes: list[tuple[str, str, float, dict[str, float]]],
    column: _Column,
) -> None:
    keys = {p.need: (f"part-{i}", p.part.name) for i, p in enumerate(plan.built.placements)}
    del vehicle
    for kind, owner, bottom, rows in boxes:
        if kind != "part":
            continue
        top = bottom - 1 - ROW * (len(rows) + 1)
        key, name = keys.get(owner, ("", owner))
        with drawing.group(key, shorten(f"{owner}: {name}", 120)):
            drawing.rect(column.left, top, BOX, bottom - top, Pen("part-edge", 0.35, "paper"), 0.8)
            drawing.rect(column.left, top, BOX, ROW, Pen("part-edge", 0.35, "part"), 0.8)
            for step in range(4):
                drawing.rect(
                    column.left + 2.5 + step * 3.2, top - 0.8, 1.9, 0.8, Pen("part-edge", 0.2, "part")
                )
            drawing.text(column.left + 1.5, top + 3.2, fitted(owner, 3.2, BOX - 3, True), 3.2, bold=True)
            for pin, y in rows.items():
                drawing.text(column.left + BOX - 2.4, y + 1.1, fitted(pin, 3.0, BOX - 6), 3.0, "end")
                drawing.rect(column.left + BOX - 0.9, y - 0.9, 1.8, 1.8, Pen("part-edge", 0.25, "paper"))


def _draw_splices(
    drawing: Drawing,
    plan: Plan,
    columns: dict[str, _Column],
    uprights: dict[str, dict[int, int]],
    spots: dict[tuple[int, int], _Spot],
) -> None:
    for place, splice in enumerate(plan.built.harness.splices):
        if splice.vehicle not in columns:
            continue
        column = columns[splice.vehicle]
        with drawing.group(f"splice-{place}", shorten(f"splice {splice.name}, {splice.net}", 120)):
            y = None
            for wire in plan.built.harness.wires:
                for side, end in enumerate((wire.start, wire.end)):
                    spot = spots.get((wire.number, side))
                    if end.kind != "splice" or end.owner != splice.name or spot is None:
                        continue
                    y = spot.y
                    track = uprights[splice.vehicle].get(wire.number, 0)
                    drawing.circle(column.channel + (track + 0.5) * TRACK, y, 1.0, Pen(None, 0, "ink"))
            if y is not None:
                drawing.circle(column.left + BOX - 6, y, 1.6, Pen(None, 0, "ink"))
                drawing.text(column.left + BOX - 9, y + 1.2, shorten(splice.name, 16), 3.2, "end", bold=True)


def _draw_break(
    drawing: Drawing,
    crossing: Crossing,
    columns: dict[str, _Column],
    lanes: dict[int, int],
    foot: float,
    count: int,
) -> None:
    """Draw the gap between two vehicles: two wavy edges, and the cavity of each wire when there is a plug."""
    left = columns[crossing.behind].right
    right = columns[crossing.ahead].left
    middle = (left + right) / 2
    for x in (middle - 1.6, middle + 1.6):
        bottom = foot + count * TRACK + 4
        steps = int((bottom - 14) // 4)
        points = [(x + (0.7 if step % 2 else -0.7), 14 + step * 4) for step in range(steps + 1)]
        drawing.path(points, Pen("soft", 0.3))
    drawing.text(middle, 8.5, shorten(crossing.name, 12), 4.4, "middle", bold=True)
    drawing.text(middle, 12.4, f"{crossing.conductors}", 3.2, "middle", ink="soft")
    if not crossing.connector:
        return
    order = {wire: cavity for cavity, wire in enumerate(crossing.wires, 1)}
    for wire, lane in lanes.items():
        if wire not in order:
            continue
        y = foot + (lane + 0.5) * TRACK
        for x, anchor in ((middle - 4.6, "m"), (middle + 4.6, "f")):
            drawing.rect(x - 2.0, y - 1.2, 4.0, 2.4, Pen("ink", 0.25, "paper"), 0.5 if anchor == "m" else 0.0)
            drawing.text(x, y + 0.85, str(order[wire]), 2.4, "middle")
