"""A layer of a vehicle at 1:1, seen from above with the layers over it taken away; front to the right.

Brick that is cut is tinted and shows its studs' places, brick to take out is hatched, parts in the layer are
outlined, wires and ports are drawn, and below stand the places of the parts measured from the stud grid.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from fitplan.lattice.flat import outlines, rectangles
from fitplan.model.plan import Placement, Plan
from fitplan.model.solids import Box, Cylinder, Solid
from fitplan.model.train import TrainVehicle
from fitplan.model.vehicle import STATES
from fitplan.report.drawings.drawing import Drawing, Pen, Point
from fitplan.report.drawings.layer_wires import (
    WireRun,
    draw_runs,
    is_free,
    layer_wires,
    number_runs,
    text_boxes,
)
from fitplan.report.drawings.pdf import fitted, text_width, wrapped
from fitplan.report.drawings.slices import BUILT_IN, CellGrid, Section, cells_of, sections_of
from fitplan.report.drawings.vehicle_slices import VehicleSlices
from fitplan.report.lists.orientation import orientation
from fitplan.report.lists.wording import counted, number, shorten
from fitplan.units import PLATE, STUD, STUD_DIAMETER

HEAD = 7.6
SIDE = 11.0
RULER = 7.0
ROW = 5.2
BODY = 3.55
"""Size of text that is read, in mm: 10 pt."""
LINE = 4.5
_MOST_PINS = 24
_TOUCH = 0.05
Flat: TypeAlias = Callable[[Sequence[float]], Point]
"""From the vehicle's frame onto the sheet."""
Box4: TypeAlias = tuple[float, float, float, float]


def bench_of(plan: Plan, entry: TrainVehicle) -> VehicleSlices:
    """Return a vehicle of the train cut up for drawing."""
    cells = cells_of(entry.vehicle)
    here = tuple(
        (place, placement)
        for place, placement in enumerate(plan.built.placements, 1)
        if placement.vehicle == entry.name
    )
    return VehicleSlices(entry, cells, merged(sections_of(entry.vehicle, cells), here), here)


def merged(sections: Sequence[Section], placements: Sequence[tuple[int, Placement]]) -> tuple[Section, ...]:
    """Join neighbouring layers that look alike and hold the same parts, whatever their names."""
    found: list[Section] = []
    for section in sections:
        last = found[-1] if found else None
        if (
            last is not None
            and np.array_equal(last.state, section.state)
            and np.array_equal(last.removable, section.removable)
            and _within(last, placements) == _within(section, placements)
        ):
            name = (
                last.name if last.name == section.name or not section.name else f"{last.name}, {section.name}"
            )
            found[-1] = Section(name, last.low, section.high, last.state, last.removable)
        else:
            found.append(section)
    return tuple(found)


def layer_title(section: Section) -> str:
    """Return a layer's heading: name, heights above the rail, and how many plates it is high."""
    plates = (section.high - section.low) / PLATE
    high = (
        counted(round(plates), "plate") if abs(plates - round(plates)) < 0.02 else f"{number(plates)} plates"
    )
    name = shorten(section.name, 48) or "layer"
    return f"{name}: {number(section.low)} to {number(section.high)} mm above the rail ({high})"


def layer_drawing(
    plan: Plan, bench: VehicleSlices, section: Section, window: tuple[float, float] | None = None
) -> Drawing:
    """Return the drawing of one layer, or of the piece of it between two places along the vehicle (mm)."""
    vehicle = bench.entry.vehicle
    start, stop = window or (0.0, vehicle.length)
    rows = [(no, p) for no, p in bench.placements if _in_layer(p, section) and _in_window(p, start, stop)]
    width = stop - start + 2 * SIDE
    runs = layer_wires(plan, bench, section, (start, stop))
    words = _words(plan, bench, rows, section, runs)
    lines = [line for text in words for line in wrapped(text, BODY, width - SIDE - 1, most=4)]
    height = HEAD + vehicle.width + RULER + ROW * len(rows) + LINE * len(lines) + 2
    drawing = Drawing(width, height, layer_title(section))

    def flat(point: Sequence[float]) -> Point:
        return (SIDE + point[0] - start, HEAD + vehicle.width - point[1])

    drawing.text(SIDE, 4.2, layer_title(section), BODY, bold=True)
    drawing.text(width - SIDE, HEAD - 1.2, "left side", 2.6, "end", ink="soft")
    _grid(drawing, bench, start, stop)
    _bricks(drawing, plan, bench, section, flat, (start, stop))
    for no, placement in rows:
        bricks = [
            brick.box
            for entry in plan.built.fastenings
            if entry.need == placement.need
            for brick in entry.bricks
        ]
        _part(drawing, no, placement, section, flat, (start, stop), bricks)
        _pins(drawing, placement, section, flat, (start, stop))
    draw_runs(drawing, runs, flat)
    _splices(drawing, plan, bench, section, flat, (start, stop))
    for no, placement in rows:
        _part_label(drawing, no, placement, section, flat, (start, stop))
    _openings(drawing, bench, section, flat, (start, stop))
    inside = (SIDE, HEAD, SIDE + stop - start, HEAD + vehicle.width)
    for built_in in vehicle.built_in:
        boxes = [solid.bounds for solid in built_in.solids]
        if any(box.low[2] < section.high and box.high[2] > section.low for box in boxes):
            _named(drawing, built_in.name, boxes[0], flat, inside)
    number_runs(drawing, runs, flat, inside)
    _ruler(drawing, start, stop, HEAD + vehicle.width)
    y = HEAD + vehicle.width + RULER
    for line, (no, placement) in enumerate(rows):
        _measures(drawing, no, placement, y + ROW * line, start, stop)
    for line, text in enumerate(lines):
        drawing.text(SIDE, y + ROW * len(rows) + LINE * (line + 1) - 0.8, text, BODY)
    if window and start > 0:
        _mark(drawing, SIDE, HEAD, vehicle.width, f"joins at stud {number(start / STUD)}")
    if window and stop < vehicle.length:
        _mark(drawing, SIDE + stop - start, HEAD, vehicle.width, f"joins at stud {number(stop / STUD)}")
    return drawing


def is_blank(plan: Plan, bench: VehicleSlices, section: Section) -> bool:
    """Whether there is nothing to do in a layer: no part, wire, port or window, no brick to take out."""
    vehicle = bench.entry.vehicle
    if _within(section, bench.placements) or layer_wires(plan, bench, section, (0.0, vehicle.length)):
        return False
    names = [entry.name for entry in vehicle.removables]
    out = [place for place, name in enumerate(names) if name in plan.built.taken_out(bench.entry.name)]
    if np.isin(section.removable, out).any():
        return False
    added = [
        box
        for p in plan.built.placements
        if p.vehicle == bench.entry.name and p.shelf
        for box in p.shelf.boxes
    ]
    holes = [port.box for port in vehicle.ports] + [window.box for window in vehicle.windows] + added
    return not any(box.low[2] < section.high - _TOUCH and box.high[2] > section.low + _TOUCH for box in holes)


def _words(
    plan: Plan,
    bench: VehicleSlices,
    rows: Sequence[tuple[int, Placement]],
    section: Section,
    runs: Sequence[WireRun],
) -> list[str]:
    """Return what is said under a layer: how each part lies where first met, and which wires run here."""
    said = []
    for no, placement in rows:
        first = next(entry for entry in bench.sections if _in_layer(placement, entry))
        if first is not section:
            continue
        names = [shorten(pin.name, 12) for pin in placement.part.pins]
        pins = f"; pins from pin 1 (square): {', '.join(names)}" if 1 < len(names) <= _MOST_PINS else ""
        said.append(f"{no} {shorten(placement.need, 30)}: {orientation(placement)}{pins}")
    here = {run.number: f"{run.number} {run.colour}" for run in runs}
    if here:
        said.append(f"wires here: {', '.join(here[key] for key in sorted(here))}")
    return said


def _pins(
    drawing: Drawing, placement: Placement, section: Section, flat: Flat, span: tuple[float, float]
) -> None:
    """Draw a part's pins in a layer as dots, pin 1 as a square."""
    for place, pin in enumerate(placement.part.pins):
        at = placement.place.move(pin.at)
        if not (section.low - _TOUCH <= at[2] <= section.high + _TOUCH and span[0] <= at[0] <= span[1]):
            continue
        x, y = flat(at)
        if place == 0 and len(placement.part.pins) > 1:
            drawing.rect(x - 0.7, y - 0.7, 1.4, 1.4, Pen("part-edge", 0.2, "paper"))
        else:
            drawing.circle(x, y, 0.5, Pen("part-edge", 0.15, "paper"))


def _within(section: Section, placements: Sequence[tuple[int, Placement]]) -> tuple[int, ...]:
    return tuple(no for no, placement in placements if _in_layer(placement, section))


def _in_layer(placement: Placement, section: Section) -> bool:
    boxes = [solid.bounds for solid in placement.solids]
    return any(box.low[2] < section.high - _TOUCH and box.high[2] > section.low + _TOUCH for box in boxes)


def _in_window(placement: Placement, start: float, stop: float) -> bool:
    bounds = placement.bounds
    return bounds.low[0] < stop and bounds.high[0] > start


def _grid(drawing: Drawing, bench: VehicleSlices, start: float, stop: float) -> None:
    """Mark the corners of the stud grid with fine crosses over the footprint."""
    vehicle = bench.entry.vehicle
    for i in range(math.ceil(start / STUD - 1e-9), math.floor(stop / STUD + 1e-9) + 1):
        for j in range(vehicle.studs_wide + 1):
            x, y = SIDE + i * STUD - start, HEAD + j * STUD
            drawing.line(x - 0.6, y, x + 0.6, y, Pen("faint", 0.1))
            drawing.line(x, y - 0.6, x, y + 0.6, Pen("faint", 0.1))


def _bricks(
    drawing: Drawing,
    plan: Plan,
    bench: VehicleSlices,
    section: Section,
    flat: Flat,
    span: tuple[float, float],
) -> None:
    vehicle, cells = bench.entry.vehicle, bench.cells
    taken = plan.built.taken_out(bench.entry.name)
    names = [entry.name for entry in vehicle.removables]
    out = np.isin(section.removable, [place for place, name in enumerate(names) if name in taken])
    removable = section.state == STATES.index("removable")
    built = (section.removable == BUILT_IN) & (section.state == STATES.index("fixed"))
    fixed = (section.state == STATES.index("fixed")) & ~built
    keep = section.state == STATES.index("keep-clear")
    boxes = _boxes(cells, flat, span)
    for mask, fill in ((fixed, "brick"), (removable & ~out, "paper"), (built, "faint"), (keep, "keep")):
        for x, y, w, h in boxes(mask):
            drawing.rect(x, y, w, h, Pen(None, 0, fill))
    for x, y, w, h in boxes(removable & ~out):
        drawing.hatch(x, y, w, h, Pen("brick-edge", 0.1), 3.2)
    for x, y, w, h in boxes(keep):
        drawing.hatch(x, y, w, h, Pen("stop", 0.12), 2.4)
        drawing.hatch(x, y, w, h, Pen("stop", 0.12), 2.4, falling=True)
    for x, y, w, h in boxes(removable & out):
        drawing.hatch(x, y, w, h, Pen("stop", 0.22), 1.5)
    for mask, pen in (
        (fixed, Pen("brick-edge", 0.25)),
        (removable & ~out, Pen("brick-edge", 0.2, dash=(1.2, 0.8))),
        (built, Pen("soft", 0.25)),
        (removable & out, Pen("stop", 0.4, dash=(2.0, 0.9))),
    ):
        for a0, b0, a1, b1 in outlines(mask):
            ends = _clipped(cells, (a0, b0, a1, b1), span)
            if ends:
                drawing.path([flat(ends[0]), flat(ends[1])], pen)
    solid = fixed | removable
    for i in range(vehicle.studs_long):
        for j in range(vehicle.studs_wide):
            x, y = (i + 0.5) * STUD, (j + 0.5) * STUD
            a = int(np.searchsorted(cells.cuts[0], x, side="right")) - 1
            b = int(np.searchsorted(cells.cuts[1], y, side="right")) - 1
            if span[0] < x < span[1] and solid[a, b]:
                px, py = flat((x, y))
                drawing.circle(px, py, STUD_DIAMETER / 2, Pen("brick-edge", 0.12))
    for place, name in enumerate(names):
        mask = removable & (section.removable == place)
        if mask.any() and name in taken:
            a, b = (int(value.mean()) for value in np.nonzero(mask))
            point = flat((float(cells.middles(0)[a]), float(cells.middles(1)[b])))
            if span[0] <= cells.middles(0)[a] <= span[1]:
                text = fitted(f"take out {name}", 2.6, 46)
                wide = text_width(text, 2.6)
                drawing.rect(
                    point[0] - wide / 2 - 0.8, point[1] - 2.2, wide + 1.6, 3.2, Pen(None, 0, "paper")
                )
                drawing.text(point[0], point[1] + 0.2, text, 2.6, "middle", ink="stop")


def _boxes(
    cells: CellGrid, flat: Flat, span: tuple[float, float]
) -> Callable[[NDArray[np.bool_]], list[Box4]]:
    def boxes(mask: NDArray[np.bool_]) -> list[Box4]:
        found = []
        for a0, b0, a1, b1 in rectangles(mask):
            low, high = max(float(cells.cuts[0][a0]), span[0]), min(float(cells.cuts[0][a1]), span[1])
            if high - low < 1e-6:
                continue
            x0, y1 = flat((low, float(cells.cuts[1][b0])))
            x1, y0 = flat((high, float(cells.cuts[1][b1])))
            found.append((x0, y0, x1 - x0, y1 - y0))
        return found

    return boxes


def _clipped(
    cells: CellGrid, line: tuple[int, int, int, int], span: tuple[float, float]
) -> tuple[Point, Point] | None:
    a0, b0, a1, b1 = line
    x0, x1 = float(cells.cuts[0][a0]), float(cells.cuts[0][a1])
    if x1 < span[0] or x0 > span[1]:
        return None
    x0, x1 = max(x0, span[0]), min(x1, span[1])
    return (x0, float(cells.cuts[1][b0])), (x1, float(cells.cuts[1][b1]))


def _part(
    drawing: Drawing,
    no: int,
    placement: Placement,
    section: Section,
    flat: Flat,
    span: tuple[float, float],
    bricks: Sequence[Box],
) -> None:
    solids = placement.solids
    title = shorten(f"{placement.need}: {placement.part.name}", 120)
    with drawing.group(f"part-{no - 1}", title):
        for solid in sorted(solids, key=lambda entry: entry.bounds.high[2]):
            box = solid.bounds
            cut = box.low[2] < section.high - _TOUCH and box.high[2] > section.low + _TOUCH
            fill = "part" if cut else None
            dash = () if cut else (1.0, 0.8)
            pen = Pen("part-edge", 0.35 if cut else 0.2, fill, dash)
            _solid(drawing, solid, flat, pen, span)
        for box in (*(placement.shelf.boxes if placement.shelf is not None else ()), *bricks):
            if box.low[2] < section.high - _TOUCH and box.high[2] > section.low + _TOUCH:
                _solid(drawing, box, flat, Pen("new-edge", 0.35, None, (1.6, 0.8)), span)


def _part_label(
    drawing: Drawing, no: int, placement: Placement, section: Section, flat: Flat, span: tuple[float, float]
) -> None:
    boxes = [solid.bounds for solid in placement.solids]
    shown = [
        box for box in boxes if box.low[2] < section.high - _TOUCH and box.high[2] > section.low + _TOUCH
    ]
    if not shown:
        return
    large = max(shown, key=lambda box: box.size[0] * box.size[1])
    middle = min(max(large.center[0], span[0] + 4), span[1] - 4)
    x, y = flat((middle, large.center[1]))
    drawing.circle(x, y, 2.3, Pen("part-edge", 0.25, "paper"))
    drawing.text(x, y + 1.1, str(no), 3.2, "middle", bold=True, ink="part-edge")
    room = large.size[0] / 2 - 4
    text = shorten(placement.need, 60)
    if text_width(text, 2.8, True) < room + large.size[0] / 2 - 4 and large.size[1] > 9:
        drawing.text(
            x, y + 5.4, fitted(text, 2.8, large.size[0] - 1, True), 2.8, "middle", bold=True, halo=True
        )


def _solid(drawing: Drawing, solid: Solid, flat: Flat, pen: Pen, span: tuple[float, float]) -> None:
    box = solid.bounds
    if box.high[0] <= span[0] or box.low[0] >= span[1]:
        return
    if isinstance(solid, Cylinder) and solid.axis == "z" and span[0] <= box.low[0] and box.high[0] <= span[1]:
        x, y = flat(solid.start)
        drawing.circle(x, y, solid.radius, pen)
        return
    x0, y1 = flat((max(box.low[0], span[0]), box.low[1]))
    x1, y0 = flat((min(box.high[0], span[1]), box.high[1]))
    drawing.rect(x0, y0, x1 - x0, y1 - y0, pen)


def _splices(
    drawing: Drawing,
    plan: Plan,
    bench: VehicleSlices,
    section: Section,
    flat: Flat,
    span: tuple[float, float],
) -> None:
    low, high = section.low - _TOUCH, section.high + _TOUCH
    for splice in plan.built.harness.splices:
        if (
            splice.vehicle == bench.entry.name
            and low <= splice.at[2] <= high
            and span[0] <= splice.at[0] <= span[1]
        ):
            x, y = flat(splice.at)
            drawing.circle(x, y, 1.1, Pen("paper", 0.2, "ink"))
            drawing.text(x + 1.6, y - 1.0, shorten(splice.name, 12), 2.4, bold=True, halo=True)


def _openings(
    drawing: Drawing, bench: VehicleSlices, section: Section, flat: Flat, span: tuple[float, float]
) -> None:
    """Name ports and windows at the wall they are in."""
    vehicle = bench.entry.vehicle
    signs = [(port.name, port.box, port.out, "port") for port in vehicle.ports]
    signs += [(window.name, window.box, window.out, "window") for window in vehicle.windows]
    for name, box, out, kind in signs:
        if box.low[2] >= section.high - _TOUCH or box.high[2] <= section.low + _TOUCH:
            continue
        if box.center[0] < span[0] or box.center[0] > span[1]:
            continue
        x0, y1 = flat((box.low[0], box.low[1]))
        x1, y0 = flat((box.high[0], box.high[1]))
        pen = Pen(
            "note" if kind == "port" else "open", 0.3, None, (0.5, 0.7) if kind == "port" else (1.8, 0.7)
        )
        drawing.rect(x0, y0, x1 - x0, y1 - y0, pen)
        label = fitted(f"{kind} {name}", 2.4, vehicle.width)
        ink = "note" if kind == "port" else "open"
        middle = (y0 + y1) / 2
        if out in ("+x", "-x"):
            side = 1 if out == "+x" else -1
            edge = x1 if side > 0 else x0
            drawing.path(
                [
                    (edge + side * 0.8, middle - 1),
                    (edge + side * 2.4, middle),
                    (edge + side * 0.8, middle + 1),
                ],
                Pen(ink, 0.3),
            )
            down = HEAD + vehicle.width / 2
            x = edge + (5.2 if side > 0 else -3.2)
            if kind == "window":
                x += 3.2 * side
            drawing.text(x, down, label, 2.4, "middle", ink=ink, turn=90)
        else:
            drawing.text((x0 + x1) / 2, y0 - 0.8, label, 2.4, "middle", ink=ink)


def _named(drawing: Drawing, name: str, box: Box, flat: Flat, inside: Box4) -> None:
    """Write the name of something built in on it, as near to its middle as other text allows."""
    x, y = flat((box.center[0], box.center[1]))
    text = fitted(name, 2.6, box.size[0] - 1)
    half = text_width(text, 2.6) / 2
    taken = [one for shape in drawing.shapes for one in text_boxes(shape)]
    for down in (0.0, 4.0, -4.0, 8.0, -8.0, 12.0, -12.0):
        at = y + 0.9 + down
        if is_free((x - half, at - 2.1, x + half, at + 0.6), taken, inside):
            drawing.text(x, at, text, 2.6, "middle", ink="soft")
            return


def _ruler(drawing: Drawing, start: float, stop: float, y: float) -> None:
    """Write the number of each second stud, from the rear end, below the drawing."""
    for i in range(math.ceil(start / STUD - 1e-9), math.floor(stop / STUD + 1e-9) + 1):
        x = SIDE + i * STUD - start
        drawing.line(x, y + 0.8, x, y + (2.6 if i % 2 == 0 else 1.8), Pen("soft", 0.15))
        if i % 2 == 0:
            drawing.text(x, y + 5.4, str(i), 2.5, "middle", ink="soft")
    right = SIDE + stop - start
    drawing.text(right + 3.8, y + 5.4, "front", 2.6, ink="soft")
    drawing.path([(right + 1.6, y + 1.7), (right + 6.6, y + 1.7)], Pen("soft", 0.3))
    drawing.path([(right + 5.0, y + 0.7), (right + 6.6, y + 1.7), (right + 5.0, y + 2.7)], Pen("soft", 0.3))


def _measures(drawing: Drawing, no: int, placement: Placement, y: float, start: float, stop: float) -> None:
    """Draw a part's extent as a bar, with its distances from the rear end and the right side."""
    low, high = placement.bounds.low, placement.bounds.high
    a, b = SIDE + max(low[0], start) - start, SIDE + min(high[0], stop) - start
    for x in (a, b):
        drawing.line(x, y - 0.6, x, y + 3.0, Pen("part-edge", 0.2))
    drawing.line(a, y + 1.2, b, y + 1.2, Pen("part-edge", 0.2))
    for x, way in ((a, 1), (b, -1)):
        drawing.path(
            [(x + way * 1.4, y + 0.7), (x, y + 1.2), (x + way * 1.4, y + 1.7)], Pen("part-edge", 0.2)
        )
    text = (
        f"{no} {shorten(placement.need, 30)}: {on_grid(low[0])} to {on_grid(high[0])} from the rear,"
        f" {on_grid(low[1])} to {on_grid(high[1])} from the right, {number(low[2])} mm up"
    )
    wide = text_width(text, BODY)
    right_room, left_room = SIDE + stop - start - b, a - SIDE
    if wide + 2 <= max(right_room, left_room):
        at, anchor = (b + 1.5, "start") if right_room >= left_room else (a - 1.5, "end")
    else:
        at, anchor = SIDE, "start"
        text = fitted(text, BODY, stop - start + SIDE)
        drawing.rect(SIDE - 0.6, y - 0.7, text_width(text, BODY) + 1.2, 4.2, Pen(None, 0, "paper"))
    drawing.text(at, y + 2.5, text, BODY, "start" if anchor == "start" else "end", ink="part-edge")


def on_grid(value: float) -> str:
    """Return a place as studs and the rest, ``"13 st + 5.0"``: what a person finds on the model."""
    studs = math.floor(value / STUD + 1e-6)
    rest = value - studs * STUD
    return f"{studs} st" if rest < 0.05 else f"{studs} st + {rest:.1f}"


def _mark(drawing: Drawing, x: float, y: float, high: float, text: str) -> None:
    drawing.line(x, y - 2, x, y + high + 2, Pen("ink", 0.25, dash=(2.4, 0.8, 0.4, 0.8)))
    drawing.text(x, y - 2.6, text, 2.4, "middle")
