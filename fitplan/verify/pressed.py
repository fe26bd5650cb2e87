"""Whether a part that rests on one side only is pressed down by the strap over it, with what its studs hold.

The part turns over an edge of what it rests on. A press ``F`` at a point ``c`` and its weight ``W`` at its
middle ``m`` are borne together at ``(W·m + F·c) / (W + F)``: that must lie where the part rests. Points under
the strap are tried on a grid, and presses in steps; of all the one that asks the least of the studs counts.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from fitplan.model.facts import sideways_n
from fitplan.model.placed import Fastening
from fitplan.model.solids import Box
from fitplan.units import STUD
from fitplan.verify.mounts import resting_on
from fitplan.verify.overlap import overlap, shadow_box
from fitplan.verify.result import Tally
from fitplan.verify.scene import PlacedPart, Site
from fitplan.verify.shapes import convex_hull, moved

Feet = Mapping[tuple[int, int], Sequence[tuple[float, float]]]
"""Middles of the cells that a strap stands on, by the axis and the side of the part they are at."""
_GRID, _STEPS = 17, 12
_MORE = 1.1
_TOUCHES, _SUNK = 0.15, 0.05


def check_pressed(
    site: Site, part: PlacedPart, entry: Fastening, over: Box, feet: Feet, sheet: Tally
) -> None:
    """Check a strap over a part that would tip without it."""
    gap = over.low[2] - part.bounds.high[2]
    pads = [piece.box for piece in entry.bricks if piece.name == "pad"]
    filled = any(
        abs(pad.low[2] - part.bounds.high[2]) < _TOUCHES and abs(pad.high[2] - over.low[2]) < _TOUCHES
        for pad in pads
    )
    if gap > _TOUCHES and not filled:
        message = f"between {part.name}, which would tip, and the strap over it {gap:.1f} mm are empty"
        sheet.problem("fastening", site.name, message, gap, "mm")
    asked = least_share(site, part, over, feet)
    if asked > _MORE:
        said = "presses on no place of it that keeps it from tipping"
        if np.isfinite(asked):
            said = f"holds {1 / asked:.0%} of what keeps it from tipping"
        message = f"{part.name} rests on one side only, and the strap over it {said}"
        sheet.problem("fastening", site.name, message, min(asked, 1000.0), "of its studs")


def least_share(site: Site, part: PlacedPart, over: Box, feet: Feet) -> float:
    """Return which share of what its studs hold a strap needs that presses a part down; inf: it cannot."""
    corners = [
        (x, y)
        for box in resting_on(site, part)
        for x in (box.low[0], box.high[0])
        for y in (box.low[1], box.high[1])
    ]
    above = _points_under(part, over)
    if len(set(corners)) < 3 or not len(above):
        return float("inf")
    middle = np.array(part.center[:2])
    first, last = _within(convex_hull(corners).corners, middle, above)
    reached = (first <= last) & (first < 1.0 - 1e-9)
    if not reached.any():
        return float("inf")
    above, first, last = above[reached], first[reached], np.minimum(last[reached], 1.0 - 1e-9)
    weight = sideways_n(part.placement.part)
    best = float("inf")
    for step in np.linspace(0.0, 1.0, _STEPS):
        along = first + (last - first) * step
        press = weight * along / (1.0 - along)
        asked = np.minimum(_asked(press, above, feet, 0), _asked(press, above, feet, 1))
        asked = np.maximum(asked, _levered(part, weight, middle, press, above))
        best = min(best, float(asked.min()))
    return best


def _points_under(part: PlacedPart, over: Box) -> NDArray[np.float64]:
    """Return points of the part's highest faces under the plate of a strap, (n, 2)."""
    lift = over.low[2] - part.bounds.high[2] + _SUNK
    found = []
    for shape in part.envelope:
        raised = moved(shape, (0.0, 0.0, lift))
        shadow = shadow_box(raised, over) if overlap(raised, over) else None
        if shadow is not None:
            xs, ys = (np.linspace(shadow.low[k], shadow.high[k], _GRID) for k in (0, 1))
            found.append(np.stack(np.meshgrid(xs, ys), axis=-1).reshape(-1, 2))
    return np.concatenate(found) if found else np.zeros((0, 2))


def _within(
    hull: Sequence[tuple[float, float]], start: NDArray[np.float64], ends: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return from which to which share of their way lines from a point lie in a hull, (n,) each."""
    first, last = np.zeros(len(ends)), np.ones(len(ends))
    ways = ends - start
    for p, q in zip(hull, [*hull[1:], hull[0]], strict=True):
        u, v = q[0] - p[0], q[1] - p[1]
        there = u * (start[1] - p[1]) - v * (start[0] - p[0])
        slope = u * ways[:, 1] - v * ways[:, 0]
        with np.errstate(divide="ignore", invalid="ignore"):
            at = -there / slope
        first = np.where(slope > 0, np.maximum(first, at), first)
        last = np.where(slope < 0, np.minimum(last, at), last)
        if there < 0:
            last = np.where(slope == 0, -1.0, last)
    return first, last


def _asked(
    press: NDArray[np.float64], points: NDArray[np.float64], feet: Feet, axis: int
) -> NDArray[np.float64]:
    """Return the share of what its studs hold that a press at points asks of a strap along an axis."""
    before, after = ([at[axis] for at in feet.get((axis, side), ())] for side in (-1, 1))
    if before and after:
        low, high = sum(before) / len(before), sum(after) / len(after)
        share = (points[:, axis] - low) / (high - low)
        return np.asarray(press * np.maximum((1.0 - share) / len(before), share / len(after)))
    one = before or after
    if not one:
        return np.full(len(press), np.inf)
    edge = min(one) - STUD / 2 if before else max(one) + STUD / 2
    return np.asarray(press * np.abs(points[:, axis] - edge) / sum(abs(at - edge) for at in one))


def _levered(
    part: PlacedPart,
    weight: float,
    middle: NDArray[np.float64],
    press: NDArray[np.float64],
    points: NDArray[np.float64],
) -> NDArray[np.float64]:
    """Return the share of what the studs of a bracket or hanger hold that all pressing on it asks of them."""
    shelf = part.placement.shelf
    if shelf is None or shelf.kind not in ("bracket", "hanger"):
        return np.zeros(len(press))
    boxes = [piece.box for piece in shelf.pieces if piece.name not in ("pad", "studs")]
    hung = shelf.kind == "hanger"
    foot = max(boxes, key=lambda box: box.high[2]) if hung else min(boxes, key=lambda box: box.low[2])
    load = weight + press
    at = (weight * middle + press[:, None] * points) / load[:, None]
    # Where it hangs, levers about both edges ask for more than the pull straight down.
    asked = np.zeros(len(press))
    for axis in (0, 1):
        half = foot.size[axis] / 2
        away = np.abs(at[:, axis] - foot.center[axis])
        asked = np.maximum(asked, load * (away + half if hung else away - half) / (shelf.studs * half))
    return np.asarray(asked)
