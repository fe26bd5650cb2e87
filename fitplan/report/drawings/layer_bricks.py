"""The bricks of a layer: cut, to be left, to be taken out, built in, to be kept clear."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from fitplan.lattice.flat import outlines, rectangles
from fitplan.model.plan import Plan
from fitplan.model.vehicle import STATES
from fitplan.report.drawings.drawing import Drawing, Pen, Point
from fitplan.report.drawings.layer_frame import HEAD, SIDE, Box4, Flat
from fitplan.report.drawings.pdf import fitted, text_width
from fitplan.report.drawings.slices import BUILT_IN, CellGrid, Section
from fitplan.report.drawings.vehicle_slices import VehicleSlices
from fitplan.units import STUD, STUD_DIAMETER

_BESIDE_A_HOLE = 6.0
"""So far beside the middle of a hole stands what is said of it, in mm."""


def draw_grid(drawing: Drawing, bench: VehicleSlices, start: float, stop: float) -> None:
    """Mark the corners of the stud grid with fine crosses over the footprint."""
    vehicle, pen = bench.entry.vehicle, Pen("faint", 0.1)
    for i in range(math.ceil(start / STUD - 1e-9), math.floor(stop / STUD + 1e-9) + 1):
        for j in range(vehicle.studs_wide + 1):
            x, y = SIDE + i * STUD - start, HEAD + j * STUD
            drawing.line(x - 0.6, y, x + 0.6, y, pen)
            drawing.line(x, y - 0.6, x, y + 0.6, pen)


def draw_bricks(
    drawing: Drawing,
    plan: Plan,
    bench: VehicleSlices,
    section: Section,
    flat: Flat,
    span: tuple[float, float],
) -> None:
    """Draw the bricks that a layer meets, with their studs, and name what is taken out of it."""
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
    for i, a in enumerate(cells.of_studs(0, vehicle.studs_long).tolist()):
        for j, b in enumerate(cells.of_studs(1, vehicle.studs_wide).tolist()):
            x, y = (i + 0.5) * STUD, (j + 0.5) * STUD
            if span[0] < x < span[1] and solid[a, b]:
                px, py = flat((x, y))
                drawing.circle(px, py, STUD_DIAMETER / 2, Pen("brick-edge", 0.12))
    holed = {hole.name for hole in vehicle.holes if hole.kind == "brick with a hole"}
    for place, name in enumerate(names):
        mask = removable & (section.removable == place)
        if mask.any() and name in taken:
            a, b = (int(value.mean()) for value in np.nonzero(mask))
            point = flat((float(cells.middles(0)[a]), float(cells.middles(1)[b])))
            if span[0] <= cells.middles(0)[a] <= span[1]:
                text = fitted(f"take out {name}" if name not in holed else "brick with a hole here", 2.6, 46)
                wide = text_width(text, 2.6)
                # Through a hole go wires: what is said of it stands beside them.
                x, y = point[0], point[1] + (_BESIDE_A_HOLE if name in holed else 0.0)
                drawing.rect(x - wide / 2 - 0.8, y - 2.2, wide + 1.6, 3.2, Pen(None, 0, "paper"))
                drawing.text(x, y + 0.2, text, 2.6, "middle", ink="stop")


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
