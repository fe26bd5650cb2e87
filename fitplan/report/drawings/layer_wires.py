"""The wires of a layer drawing: side by side where they share a way, never in brick, each with its number."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from fitplan.model.plan import Plan
from fitplan.model.solids import Vec
from fitplan.model.vehicle import STATES
from fitplan.report.drawings.drawing import Circle, Drawing, Group, Label, Pen, Point, Rect, Shape
from fitplan.report.drawings.pdf import text_width
from fitplan.report.drawings.slices import Section
from fitplan.report.drawings.vehicle_slices import VehicleSlices
from fitplan.report.lists.wording import colour_hex, shorten

NUMBER = 2.8
"""Size of a wire's number, in mm."""
RIM = 0.2
_TOUCH = 0.05
_THINNEST = 0.24
_STEP = 0.2
_DOT = 0.2
_SHARES = (1.0, 0.75, 0.5, 0.25, 0.0)
Piece: TypeAlias = tuple[Vec, Vec]
Box4: TypeAlias = tuple[float, float, float, float]
Flat: TypeAlias = Callable[[Sequence[float]], Point]


@dataclass(frozen=True)
class WireRun:
    """What is drawn of one wire in one layer: pieces in the vehicle's frame, and how wide (mm)."""

    number: int
    colour: str
    net: str
    pieces: tuple[Piece, ...]
    width: float

    @property
    def longest(self) -> Piece:
        """The piece to write the number at."""
        return max(self.pieces, key=lambda piece: math.dist(piece[0][:2], piece[1][:2]))


def layer_wires(
    plan: Plan, bench: VehicleSlices, section: Section, span: tuple[float, float]
) -> tuple[WireRun, ...]:
    """Return the wires of a layer between two places along the vehicle.

    Wires that share a way are drawn beside one another as far as there is room: one that would be drawn into
    brick or into something built in moves back to where it really runs, or is drawn thinner at last.
    """
    solid = _solid_cells(plan, bench, section)
    found: list[WireRun] = []
    for wire in plan.built.harness.wires:
        pieces: list[Piece] = []
        width = wire.outer_mm * 0.55
        real = [leg for leg in wire.legs if leg.points]
        for (vehicle, drawn), leg in zip(bench.aside[wire.number], real, strict=True):
            if vehicle != bench.entry.name:
                continue
            for share in _SHARES:
                way = [_mix(one, two, share) for one, two in zip(leg.points, drawn, strict=True)]
                kept = _pieces(way, section, span)
                if all(_is_clear(solid, bench, piece, width / 2 + RIM / 2) for piece in kept):
                    break
            else:
                width = _THINNEST
                kept = [piece for piece in kept if _is_clear(solid, bench, piece, (width + RIM) / 2)]
            pieces += kept
        if pieces:
            found.append(WireRun(wire.number, wire.colour, wire.net, tuple(pieces), width))
    return tuple(found)


def draw_runs(drawing: Drawing, runs: Sequence[WireRun], flat: Flat) -> None:
    """Draw the wires of a layer, each a group of its own; a dot where a wire goes on up or down."""
    for run in runs:
        pen = Pen(colour_hex(run.colour), run.width)
        with drawing.group(f"wire-{run.number}", shorten(f"wire {run.number}, {run.net}", 120)):
            for piece in run.pieces:
                ends = [flat(piece[0]), flat(piece[1])]
                if math.dist(ends[0], ends[1]) < _DOT:
                    drawing.circle(*ends[0], (run.width + RIM) / 2 - 0.06, Pen("ink", 0.12, pen.stroke))
                else:
                    drawing.path(ends, Pen("ink", run.width + RIM))
                    drawing.path(ends, pen)


def number_runs(drawing: Drawing, runs: Sequence[WireRun], flat: Flat, inside: Box4) -> None:
    """Write each wire's number beside it, those of a bundle together, where no other text is; else leave it.

    Whatever finds no room stands in the line of wires under the drawing.
    """
    taken = [box for shape in drawing.shapes for box in text_boxes(shape)]
    spots: list[tuple[Point, list[int]]] = []
    for run in runs:
        one, two = run.longest
        (x0, y0), (x1, y1) = flat(one), flat(two)
        middle = ((x0 + x1) / 2, (y0 + y1) / 2)
        near = next((names for at, names in spots if math.dist(at, middle) < 2 * NUMBER), None)
        if near is None:
            spots.append((middle, [run.number]))
        else:
            near.append(run.number)
    for (x, y), numbers in spots:
        text = ", ".join(map(str, numbers))
        wide = text_width(text, NUMBER, True)
        for reach in (1.6, 3.4, 6.0, 9.0):
            places = [
                (x - wide / 2, y - reach + 0.6),
                (x - wide / 2, y + reach + NUMBER * 0.8),
                (x + reach, y + NUMBER * 0.35),
                (x - reach - wide, y + NUMBER * 0.35),
            ]
            spot = next((at for at in places if is_free(_box(at, wide), taken, inside)), None)
            if spot is None:
                continue
            box = _box(spot, wide)
            if reach > 2:
                drawing.line(
                    x, y, min(max(x, box[0]), box[2]), min(max(y, box[1]), box[3]), Pen("soft", 0.12)
                )
            drawing.text(spot[0], spot[1], text, NUMBER, bold=True, halo=True)
            taken.append(box)
            break


def _box(at: Point, wide: float) -> Box4:
    return (at[0] - 0.3, at[1] - NUMBER * 0.82, at[0] + wide + 0.3, at[1] + NUMBER * 0.24)


def is_free(box: Box4, taken: Sequence[Box4], inside: Box4) -> bool:
    """Return whether a box lies inside another and on none of those that are taken."""
    if box[0] < inside[0] or box[1] < inside[1] or box[2] > inside[2] or box[3] > inside[3]:
        return False
    return all(box[2] <= t[0] or t[2] <= box[0] or box[3] <= t[1] or t[3] <= box[1] for t in taken)


def text_boxes(shape: Shape) -> list[Box4]:
    """Return the boxes of all text in a shape, and of the signs that bear a number."""
    match shape:
        case Group():
            return [box for entry in shape.shapes for box in text_boxes(entry)]
        case Circle() if shape.r > 2:
            return [(shape.x - shape.r, shape.y - shape.r, shape.x + shape.r, shape.y + shape.r)]
        case Label():
            return [label_box(shape)]
        case Rect() if shape.pen.fill == "paper" and shape.pen.stroke is None:
            return [(shape.x, shape.y, shape.x + shape.w, shape.y + shape.h)]
        case _:
            return []


def label_box(label: Label) -> Box4:
    """Return the box that a line of text fills (mm): left, top, right, bottom."""
    wide = text_width(label.text, label.size, label.bold)
    start = {"start": 0.0, "middle": -wide / 2, "end": -wide}[label.anchor]
    up, down = -0.75 * label.size, 0.2 * label.size
    if not label.turn:
        return (label.x + start, label.y + up, label.x + start + wide, label.y + down)
    turn = math.radians(label.turn)
    corners = [
        (
            label.x + u * math.cos(turn) + v * math.sin(turn),
            label.y - u * math.sin(turn) + v * math.cos(turn),
        )
        for u in (start, start + wide)
        for v in (up, down)
    ]
    xs, ys = zip(*corners, strict=True)
    return (min(xs), min(ys), max(xs), max(ys))


def _solid_cells(plan: Plan, bench: VehicleSlices, section: Section) -> NDArray[np.bool_]:
    """``(x, y) bool``, True where brick or something built in fills a layer; what is taken out does not."""
    names = [entry.name for entry in bench.entry.vehicle.removables]
    taken = plan.built.taken_out(bench.entry.name)
    out = np.isin(section.removable, [place for place, name in enumerate(names) if name in taken])
    removable = (section.state == STATES.index("removable")) & ~out
    solid: NDArray[np.bool_] = (section.state == STATES.index("fixed")) | removable
    return solid


def _is_clear(solid: NDArray[np.bool_], bench: VehicleSlices, piece: Piece, half: float) -> bool:
    """Whether a piece's ink, so far to both sides, lies on no solid cell; looked at every 0.2 mm."""
    (x0, y0, _), (x1, y1, _) = piece
    long = math.hypot(x1 - x0, y1 - y0)
    shares = np.linspace(0.0, 1.0, max(2, math.ceil(long / _STEP) + 1))
    xs, ys = x0 + (x1 - x0) * shares, y0 + (y1 - y0) * shares
    cuts = bench.cells.cuts
    a = np.searchsorted(cuts[0], xs + half * _ROUND[:, :1], side="right") - 1
    b = np.searchsorted(cuts[1], ys + half * _ROUND[:, 1:], side="right") - 1
    within = (a >= 0) & (a < solid.shape[0]) & (b >= 0) & (b < solid.shape[1])
    return not solid[a[within], b[within]].any()


_DIAGONAL = math.sqrt(0.5)
_ROUND = np.array(
    [(0, 0), (1, 0), (-1, 0), (0, 1), (0, -1)]
    + [(x * _DIAGONAL, y * _DIAGONAL) for x in (-1, 1) for y in (-1, 1)]
)
"""The middle of a circle of radius 1, and eight points of it."""


def _mix(real: Vec, drawn: Vec, share: float) -> Vec:
    x, y, z = (a + (b - a) * share for a, b in zip(real, drawn, strict=True))
    return (x, y, z)


def _pieces(way: Sequence[Vec], section: Section, span: tuple[float, float]) -> list[Piece]:
    low, high = section.low - _TOUCH, section.high + _TOUCH
    found = []
    for one, two in pairwise(way):
        piece = _clipped(one, two, 2, low, high)
        piece = _clipped(*piece, 0, *span) if piece else None
        if piece is not None:
            found.append(piece)
    return found


def _clipped(one: Vec, two: Vec, axis: int, low: float, high: float) -> Piece | None:
    """Return the piece of a line between two places along an axis, or None."""
    run = two[axis] - one[axis]
    if abs(run) < 1e-9:
        return (one, two) if low <= one[axis] <= high else None
    shares = sorted(((low - one[axis]) / run, (high - one[axis]) / run))
    a, b = max(0.0, shares[0]), min(1.0, shares[1])
    return None if a > b else (_mix(one, two, a), _mix(one, two, b))
