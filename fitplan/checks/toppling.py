"""What on an open deck would topple over the edge of its foot in a jolt, in braking, or in a curve.

A load whose middle lies ``h`` above its foot and ``e`` from the foot's edge topples that way at ``g·e/h``
(textbook). Tape under it pulls with as much as it weighs before it lets go, which doubles that. What stands
close beside it holds it where it meets it before its middle is over the edge.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from fitplan.checks.balance import GRAVITY
from fitplan.checks.braking import slope_sine
from fitplan.checks.rays import Obstacle, first_hits
from fitplan.checks.scene import obstacles_of
from fitplan.model.built import BuiltTrain
from fitplan.model.placed import Placement, ShelfKind
from fitplan.model.solids import DIRECTIONS, Box, Direction, Vec, axis_of, is_forward, unit_vector
from fitplan.units import STUD_HEIGHT

_Rect = tuple[float, float, float, float]

JOLT_G = 0.3
"""What a load is to bear sideways, in g: a train that is caught by hand or strikes something (no source)."""
HANGS: tuple[ShelfKind, ...] = ("clip", "hanger", "wall")
"""What these carry does not stand on a foot."""
RESERVE = 1.5
"""Curves are gone through so many times faster than they should be (a setting of this check)."""
_NEAR = 8.0
_TOUCHING, _LEAST_EDGE = 0.15, 1.0
"""A face so near above something touches it; a contact narrower than a millimetre carries nothing."""
_RAYS = 7


@dataclass(frozen=True)
class Toppling:
    """How a load topples one way: at so many g, what it is to bear and what running asks of it (g); mm."""

    way: Direction
    at_g: float
    jolt_g: float
    running_g: float
    foot: float
    height: float


def topples(built: BuiltTrain, placement: Placement) -> tuple[Toppling, ...]:
    """Return the level ways in which a load on an open deck topples sooner than it should."""
    need = built.need_of(placement)
    if not built.train.vehicle(placement.vehicle).vehicle.load_top or not placement.part.mount.needs_support:
        return ()
    held = [entry for entry in built.fastenings if entry.need == placement.need]
    if placement.shelf is not None and placement.shelf.kind in HANGS:
        return ()
    if need.is_held or not placement.steady or any("+z" in entry.ways for entry in held):
        return ()
    bounds, foot, middle = placement.bounds, foot_of(built, placement), middle_of(placement)
    height = middle[2] - foot.low[2]
    taped = 2.0 if any(entry.tape_mm for entry in held) else 1.0
    found: list[Toppling] = []
    beside: list[Obstacle] | None = None
    for way in DIRECTIONS[:4]:
        axis, forwards = axis_of(way), is_forward(way)
        edge = max(foot.high[axis] - middle[axis] if forwards else middle[axis] - foot.low[axis], 0.0)
        lean = edge / max(height, 1e-6)
        running = _running_g(built, axis)
        if taped * lean >= max(JOLT_G, running):
            continue
        if beside is None:
            beside = obstacles_of(built, placement.vehicle, placement.need)
            beside += [Obstacle(brick.box, "brick") for entry in held for brick in entry.bricks]
        if not _leans_on(bounds, foot.low[2], way, lean, beside):
            found.append(Toppling(way, taped * lean, max(JOLT_G, running), running, 2 * edge, height))
    return tuple(found)


def foot_of(built: BuiltTrain, placement: Placement) -> Box:
    """Return the rectangle round what a part stands on, at the height of its lowest face.

    Where its faces touch bricks, parts, or what is built under it; on studs all of the bricks below counts.
    """
    solids = [solid.bounds for solid in placement.solids]
    base = min(box.low[2] for box in solids)
    around = [one for one in obstacles_of(built, placement.vehicle, placement.need) if one.stops]
    tops = [(one.solid.bounds, (0.0, STUD_HEIGHT) if one.name == "body" else (0.0,)) for one in around]
    tops += [(box, (0.0,)) for box in (placement.shelf.boxes if placement.shelf is not None else ())]
    rects = [
        patch
        for box in solids
        for other, above in tops
        if any(abs(other.high[2] + more - box.low[2]) <= _TOUCHING for more in above)
        and (patch := _shared(box, other)) is not None
    ]
    rects = rects or [(*box.low[:2], *box.high[:2]) for box in solids if box.low[2] - base <= _TOUCHING]
    return Box(
        (min(rect[0] for rect in rects), min(rect[1] for rect in rects), base),
        (max(rect[2] for rect in rects), max(rect[3] for rect in rects), base),
    )


def _shared(box: Box, other: Box) -> _Rect | None:
    x0, y0 = (max(box.low[i], other.low[i]) for i in (0, 1))
    x1, y1 = (min(box.high[i], other.high[i]) for i in (0, 1))
    return (x0, y0, x1, y1) if min(x1 - x0, y1 - y0) >= _LEAST_EDGE else None


def middle_of(placement: Placement) -> Vec:
    """Return the middle of a part's volume, boxes round its solids counted each."""
    boxes = [solid.bounds for solid in placement.solids]
    total = sum(box.volume for box in boxes)
    x, y, z = (sum(box.volume * box.center[i] for box in boxes) / total for i in range(3))
    return (x, y, z)


def _running_g(built: BuiltTrain, axis: int) -> float:
    """Return what running asks along an axis: the brake on the gradient, or the curve with its reserve."""
    running, track = built.train.running, built.train.track
    if axis == 0:
        return running.deceleration / GRAVITY + slope_sine(track.gradient_percent)
    if track.radius <= 0:
        return 0.0
    return float((RESERVE * running.curve_speed) ** 2 / track.radius / GRAVITY)


def _leans_on(bounds: Box, base: float, way: Direction, lean: float, beside: Sequence[Obstacle]) -> bool:
    """Return whether something beside a load meets it before it has tilted as far as it stands."""
    axis = axis_of(way)
    lines = [
        np.linspace(low + 0.05 * (high - low), high - 0.05 * (high - low), _RAYS)
        for low, high in zip(bounds.low, bounds.high, strict=True)
    ]
    lines[axis] = np.array([bounds.high[axis] if is_forward(way) else bounds.low[axis]])
    origins = np.stack(np.meshgrid(*lines, indexing="ij"), axis=-1).reshape(-1, 3)
    directions = np.tile(np.array(unit_vector(way), dtype=float), (len(origins), 1))
    gaps = first_hits(origins, directions, beside).distance
    near = gaps <= _NEAR
    tilt = lean / math.sqrt(1 + lean * lean)  # its sine where the middle stands over the edge
    return bool((gaps[near] <= tilt * (origins[near, 2] - base)).any())
