"""Whether a part that is lifted out can be with its wires on: the way out replayed with every wire attached.

A wire is held where it is fixed: at its splice, its other part, or the port by which it comes in. It may be
lifted off its way from any point on, and then needs a straight line to the pin that nothing solid crosses; or
it follows the pin along the moves.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from fitplan.checks.rays import Obstacle, first_hits
from fitplan.checks.scene import body_obstacles, placed_obstacles
from fitplan.model.built import BuiltTrain
from fitplan.model.solids import unit_vector
from fitplan.model.ways_in import Exchanged, WayOut
from fitplan.model.wired import Wire
from fitplan.model.work import HELD_LENGTHS

Floats = NDArray[np.float64]
_STEP = 2.0
"""A wire may leave its way at points so far apart (mm)."""
_BESIDE = 0.01
"""What lies so far beside lines (mm) is surely met by none."""


@dataclass(frozen=True)
class ShortWire:
    """A wire that does not reach as far as its part comes out; mm."""

    wire: Wire
    part: str
    missing: float


def short_wires(built: BuiltTrain, entry: Exchanged) -> tuple[ShortWire, ...]:
    """Return the wires that are too short for the parts that come out, the shortest first."""
    found: dict[int, ShortWire] = {}
    out: set[str] = set()
    for way in (*entry.first, *([entry.last] if entry.last is not None else [])):
        out.update(way.parts)
        for part in way.parts:
            for wire, leg, usable in _held_wires(built, entry.vehicle, part, out):
                missing = _needed(built, entry, way, leg, frozenset(out)) - usable
                known = found.get(wire.number)
                if missing > 0.05 and (known is None or missing > known.missing):
                    found[wire.number] = ShortWire(wire, part, missing)
    return tuple(sorted(found.values(), key=lambda one: (-one.missing, one.wire.number)))


def _held_wires(
    built: BuiltTrain, vehicle: str, part: str, out: set[str]
) -> Iterator[tuple[Wire, Floats, float]]:
    """Yield the wires of a part whose other end stays: the way from there to the pin, and its length."""
    for wire in built.harness.wires:
        for end, other, leg, back in (
            (wire.start, wire.end, wire.legs[0], True),
            (wire.end, wire.start, wire.legs[-1], False),
        ):
            if (end.kind, end.owner, end.vehicle) != ("pin", part, vehicle) or leg.vehicle != vehicle:
                continue
            if other.kind == "pin" and other.vehicle == vehicle and other.owner in out:
                continue
            points = np.array(leg.points[::-1] if back else leg.points, dtype=float)
            if len(points) < 2:
                continue
            held = sum(amount for name, amount in wire.allowances if name in HELD_LENGTHS)
            yield wire, points, _long(points) + wire.cut_mm - wire.bare_mm - held


def _long(points: Floats) -> float:
    return float(np.sqrt((np.diff(points, axis=0) ** 2).sum(axis=1)).sum())


def _needed(built: BuiltTrain, entry: Exchanged, way: WayOut, leg: Floats, out: frozenset[str]) -> float:
    """Return the length that a wire needs while its part comes out, at the worst of all moves' ends (mm)."""
    points = _close(leg)
    before = np.concatenate([[0.0], np.cumsum(np.sqrt((np.diff(points, axis=0) ** 2).sum(axis=1)))])
    obstacles = _around(built, entry, way, out)
    bounds = [one.solid.bounds for one in obstacles]
    low, high = np.array([box.low for box in bounds]), np.array([box.high for box in bounds])
    pin, gone, most = leg[-1].copy(), 0.0, 0.0
    for direction, distance in way.moves:
        pin = pin + distance * np.array(unit_vector(direction))
        gone += distance
        reach = pin - points
        # What lies beside all these lines is crossed by none.
        first, last = np.minimum(points.min(axis=0), pin), np.maximum(points.max(axis=0), pin)
        near = ((low < last + _BESIDE) & (high > first - _BESIDE)).all(axis=1)
        met = [obstacles[number] for number in np.flatnonzero(near)]
        clear = first_hits(points, reach, met).distance >= 1 - 1e-9
        straight = before + np.sqrt((reach**2).sum(axis=1))
        needed = min(float(straight[clear].min()) if clear.any() else math.inf, float(before[-1]) + gone)
        most = max(most, needed)
    return most


def _close(leg: Floats) -> Floats:
    """Return points along a way, no farther apart than a step."""
    found = [leg[:1]]
    for start, end in pairwise(leg):
        count = max(1, math.ceil(float(np.linalg.norm(end - start)) / _STEP))
        found.append(start + np.arange(1, count + 1)[:, None] / count * (end - start))
    return np.concatenate(found)


def _around(built: BuiltTrain, entry: Exchanged, way: WayOut, out: frozenset[str]) -> list[Obstacle]:
    """Return what stays in the vehicle: the body without its lid, and the parts that are still there."""
    shape = built.train.vehicle(entry.vehicle).vehicle
    found = body_obstacles(shape, built.taken_out(entry.vehicle) | frozenset(entry.bricks))
    found += [
        Obstacle(opening.box, opening.name, stops=False)
        for opening in shape.openings
        if opening.name == way.opening or opening.name in entry.openings
    ]
    return found + placed_obstacles(built, entry.vehicle, out)
