"""A layer of a vehicle at 1:1, seen from above with the layers over it taken away; front to the right.

Brick that is cut is tinted and shows its studs' places, brick to take out is hatched, parts in the layer are
outlined, wires and ports are drawn, and below stand the places of the parts measured from the stud grid.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TypeAlias

import numpy as np

from fitplan.model.placed import Placement
from fitplan.model.plan import Plan
from fitplan.model.train import TrainVehicle
from fitplan.report.drawings.drawing import Drawing, Point
from fitplan.report.drawings.layer_bricks import draw_bricks, draw_grid
from fitplan.report.drawings.layer_frame import BODY, HEAD, LINE, ROW, RULER, SIDE, is_in_layer, meets
from fitplan.report.drawings.layer_marks import (
    draw_measures,
    draw_openings,
    draw_ruler,
    mark_joint,
    write_name,
)
from fitplan.report.drawings.layer_parts import draw_part, draw_pins, draw_splices, label_part
from fitplan.report.drawings.layer_wires import WireRun, draw_runs, layer_wires, number_runs
from fitplan.report.drawings.pdf import wrapped
from fitplan.report.drawings.slices import Section, cells_of, sections_of
from fitplan.report.drawings.vehicle_slices import VehicleSlices
from fitplan.report.drawings.wire_ways import drawn_legs
from fitplan.report.lists.orientation import orientation
from fitplan.report.lists.wording import counted, number, shorten
from fitplan.units import PLATE, STUD

_MOST_PINS = 24
Layers: TypeAlias = tuple[tuple[VehicleSlices, tuple[Drawing, ...]], ...]
"""Vehicles cut up for drawing, each with the drawings of its layers."""


def bench_of(plan: Plan, entry: TrainVehicle) -> VehicleSlices:
    """Return a vehicle of the train cut up for drawing."""
    cells = cells_of(entry.vehicle)
    here = tuple(
        (place, placement)
        for place, placement in enumerate(plan.built.placements, 1)
        if placement.vehicle == entry.name
    )
    sections = merged(sections_of(entry.vehicle, cells), here)
    return VehicleSlices(entry, cells, sections, here, drawn_legs(plan, level=True))


def merged(sections: Sequence[Section], placements: Sequence[tuple[int, Placement]]) -> tuple[Section, ...]:
    """Join neighbouring layers that look alike and hold the same parts, whatever their names."""
    found: list[Section] = []
    for section in sections:
        last = found[-1] if found else None
        if (
            last is not None
            and np.array_equal(last.state, section.state)
            and np.array_equal(last.removable, section.removable)
            and parts_within(last, placements) == parts_within(section, placements)
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


def layers_of(plan: Plan) -> Layers:
    """Return every vehicle of a plan with the drawings of its layers, from the lowest to the highest."""
    benches = [bench_of(plan, entry) for entry in plan.built.train.vehicles]
    return tuple(
        (bench, tuple(layer_drawing(plan, bench, section) for section in bench.sections)) for bench in benches
    )


def layer_drawing(
    plan: Plan, bench: VehicleSlices, section: Section, window: tuple[float, float] | None = None
) -> Drawing:
    """Return the drawing of one layer, or of the piece of it between two places along the vehicle (mm)."""
    vehicle = bench.entry.vehicle
    start, stop = window or (0.0, vehicle.length)
    rows = [(no, p) for no, p in bench.placements if is_in_layer(p, section) and _in_window(p, start, stop)]
    width = stop - start + 2 * SIDE
    runs = layer_wires(plan, bench, section, (start, stop))
    words = _words(bench, rows, section, runs)
    lines = [line for text in words for line in wrapped(text, BODY, width - SIDE - 1, most=4)]
    height = HEAD + vehicle.width + RULER + ROW * len(rows) + LINE * len(lines) + 2
    drawing = Drawing(width, height, layer_title(section))

    def flat(point: Sequence[float]) -> Point:
        return (SIDE + point[0] - start, HEAD + vehicle.width - point[1])

    drawing.text(SIDE, 4.2, layer_title(section), BODY, bold=True)
    drawing.text(width - SIDE, HEAD - 1.2, "left side", 2.6, "end", ink="soft")
    draw_grid(drawing, bench, start, stop)
    draw_bricks(drawing, plan, bench, section, flat, (start, stop))
    for no, placement in rows:
        bricks = [
            brick.box
            for entry in plan.built.fastenings
            if entry.need == placement.need
            for brick in entry.bricks
        ]
        draw_part(drawing, no, placement, section, flat, (start, stop), bricks)
        draw_pins(drawing, placement, section, flat, (start, stop))
    draw_runs(drawing, runs, flat)
    draw_splices(drawing, plan, bench, section, flat, (start, stop))
    for no, placement in rows:
        label_part(drawing, no, placement, section, flat, (start, stop))
    draw_openings(drawing, bench, section, flat, (start, stop))
    inside = (SIDE, HEAD, SIDE + stop - start, HEAD + vehicle.width)
    for built_in in vehicle.built_in:
        boxes = [solid.bounds for solid in built_in.solids]
        if any(box.low[2] < section.high and box.high[2] > section.low for box in boxes):
            write_name(drawing, built_in.name, boxes[0], flat, inside)
    number_runs(drawing, runs, flat, inside)
    draw_ruler(drawing, start, stop, HEAD + vehicle.width)
    y = HEAD + vehicle.width + RULER
    for line, (no, placement) in enumerate(rows):
        draw_measures(drawing, no, placement, y + ROW * line, start, stop)
    for line, text in enumerate(lines):
        drawing.text(SIDE, y + ROW * len(rows) + LINE * (line + 1) - 0.8, text, BODY)
    if window and start > 0:
        mark_joint(drawing, SIDE, HEAD, vehicle.width, f"joins at stud {number(start / STUD)}")
    if window and stop < vehicle.length:
        mark_joint(drawing, SIDE + stop - start, HEAD, vehicle.width, f"joins at stud {number(stop / STUD)}")
    return drawing


def is_blank(plan: Plan, bench: VehicleSlices, section: Section) -> bool:
    """Whether there is nothing to do in a layer: no part, wire, port or window, no brick to take out."""
    vehicle = bench.entry.vehicle
    if parts_within(section, bench.placements) or layer_wires(plan, bench, section, (0.0, vehicle.length)):
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
    holes = [port.box for port in vehicle.ports if not port.is_open_end]
    holes += [window.box for window in vehicle.windows] + added
    return not any(meets(box, section) for box in holes)


def _words(
    bench: VehicleSlices,
    rows: Sequence[tuple[int, Placement]],
    section: Section,
    runs: Sequence[WireRun],
) -> list[str]:
    """Return what is said under a layer: how each part lies where first met, and which wires run here."""
    said = []
    for no, placement in rows:
        first = next(entry for entry in bench.sections if is_in_layer(placement, entry))
        if first is not section:
            continue
        names = [shorten(pin.name, 12) for pin in placement.part.pins]
        pins = f"; pins from pin 1 (square): {', '.join(names)}" if 1 < len(names) <= _MOST_PINS else ""
        said.append(f"{no} {shorten(placement.need, 30)}: {orientation(placement)}{pins}")
    here = {run.number: f"{run.number} {run.colour}" for run in runs}
    if here:
        said.append(f"wires here: {', '.join(here[key] for key in sorted(here))}")
    return said


def parts_within(section: Section, placements: Sequence[tuple[int, Placement]]) -> tuple[int, ...]:
    """Return the numbers of the parts that are in a layer."""
    return tuple(no for no, placement in placements if is_in_layer(placement, section))


def _in_window(placement: Placement, start: float, stop: float) -> bool:
    bounds = placement.bounds
    return bounds.low[0] < stop and bounds.high[0] > start
