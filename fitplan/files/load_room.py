"""The free space over a body that is open at the top, where loads may stand higher than its sides."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from itertools import pairwise

from fitplan.model.solids import Box
from fitplan.model.vehicle import LOAD_HEIGHT, BodySolid, Kind, State, Vehicle
from fitplan.units import BRICK

_SAME = 1e-6
MOST_OF_A_DECK = 3 * BRICK
"""A wagon without any free room, no higher than this, is a deck: what it ends in at the top is loaded."""


def open_for_loads(vehicle: Vehicle, load_height: float | None = None) -> Vehicle:
    """Return a vehicle with free space for loads over what of it is open at the top.

    Parameters
    ----------
    load_height
        How high loads may stand above the rail head in mm; None: `LOAD_HEIGHT`.
    """
    up_to = LOAD_HEIGHT if load_height is None else load_height
    lids = [opening.box for opening in vehicle.openings if opening.out == "+z"]
    loads = _room_for_loads(vehicle.kind, vehicle.body, lids, vehicle.outline, up_to)
    top = up_to if loads or load_height is not None else 0.0
    return replace(vehicle, body=(*vehicle.body, *loads), load_top=top)


def top_of_loads(
    kind: Kind, body: Sequence[BodySolid], lids: Sequence[Box], hull: Box, load_height: float | None
) -> float:
    """Return how high a body or the loads on it reach (mm above the rail head); ``lids`` lift off it."""
    up_to = LOAD_HEIGHT if load_height is None else load_height
    return up_to if _room_for_loads(kind, body, lids, hull, up_to) else hull.high[2]


def _room_for_loads(
    kind: Kind, body: Sequence[BodySolid], lids: Sequence[Box], hull: Box, up_to: float
) -> tuple[BodySolid, ...]:
    """Return free boxes over each part of the top of the hull that a body leaves free, up to a height.

    Of a flat wagon, a deck in which no free room is drawn, the room over its bricks.

    Only where boxes are drawn: under a round or sloping solid the top counts as closed.

    Parameters
    ----------
    body
        In drawing order.
    lids
        What lifts off upwards closes what is below it, whether or not its bricks are drawn.
    hull
        Up to the top of the body.
    up_to
        In mm above the rail head.
    """
    if up_to <= hull.high[2] + _SAME:
        return ()
    found: list[BodySolid] = []
    flat = kind == "wagon" and not lids and not any(one.state == "free" for one in body)
    onto: tuple[State, ...] = ("free",)
    if flat and hull.size[2] <= MOST_OF_A_DECK + _SAME:
        onto = ("free", "fixed")
    levels = {
        round(value, 6) for one in body for value in (one.solid.bounds.low[2], one.solid.bounds.high[2])
    }
    for level, above in pairwise([*sorted(one for one in levels if one < up_to - _SAME), up_to]):
        shut = [box for box in lids if box.low[2] < above - _SAME and box.high[2] >= level - _SAME]
        found += _over(level, above, [*body, *found], shut, hull, onto)
    return tuple(found)


def _over(
    level: float,
    above: float,
    body: Sequence[BodySolid],
    shut: Sequence[Box],
    hull: Box,
    onto: tuple[State, ...],
) -> Iterator[BodySolid]:
    """Yield free boxes from one height to another where nothing is drawn, and what is wanted lies below."""
    bounds = [(one, one.solid.bounds.low[2], one.solid.bounds.high[2]) for one in body]
    below = [one for one, low, high in bounds if low < level - _SAME and high >= level - _SAME]
    over = [one for one, low, high in bounds if low <= level + _SAME < high - _SAME]
    boxes = [*(one.solid.bounds for one in (*below, *over)), *shut]
    closed = [*(one.solid.bounds for one in over), *shut]
    xs, ys = _cuts(boxes, 0, hull), _cuts(boxes, 1, hull)
    rows = []
    for y0, y1 in pairwise(ys):
        y = (y0 + y1) / 2
        spans = [
            (x0, x1)
            for x0, x1 in pairwise(xs)
            if _state(below, (x0 + x1) / 2, y) in onto and not _covers(closed, (x0 + x1) / 2, y)
        ]
        rows.append((y0, y1, spans))
    for y0, y1, x0, x1 in _rectangles(rows):
        yield BodySolid(Box((x0, y0, level), (x1, y1, above)), "free")


def _cuts(boxes: Sequence[Box], axis: int, hull: Box) -> list[float]:
    found = {hull.low[axis], hull.high[axis]}
    for box in boxes:
        found |= {box.low[axis], box.high[axis]}
    return sorted(round(value, 6) for value in found if hull.low[axis] <= value <= hull.high[axis])


def _state(high: Sequence[BodySolid], x: float, y: float) -> State:
    """Return the state of a spot at the top of the body; of what is no box one that bears nothing."""
    for entry in reversed(high):
        low, end = entry.solid.bounds.low, entry.solid.bounds.high
        if low[0] < x < end[0] and low[1] < y < end[1]:
            return entry.state if isinstance(entry.solid, Box) else "removable"
    return "outside"


def _covers(boxes: Sequence[Box], x: float, y: float) -> bool:
    return any(box.low[0] < x < box.high[0] and box.low[1] < y < box.high[1] for box in boxes)


def _rectangles(
    rows: Sequence[tuple[float, float, list[tuple[float, float]]]],
) -> Iterator[tuple[float, float, float, float]]:
    """Yield y0, y1, x0, x1 of rectangles, runs of a row joined, then rows that are alike."""
    growing: tuple[float, float, list[tuple[float, float]]] | None = None
    for y0, y1, spans in rows:
        runs: list[tuple[float, float]] = []
        for x0, x1 in spans:
            if runs and runs[-1][1] == x0:
                runs[-1] = (runs[-1][0], x1)
            else:
                runs.append((x0, x1))
        if growing is not None and growing[2] == runs and growing[1] == y0:
            growing = (growing[0], y1, runs)
            continue
        if growing is not None:
            yield from ((growing[0], growing[1], a, b) for a, b in growing[2])
        growing = (y0, y1, runs)
    if growing is not None:
        yield from ((growing[0], growing[1], a, b) for a, b in growing[2])
