"""Studs on the floors and decks of a vehicle, found from the body's solids themselves."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from functools import lru_cache
from itertools import pairwise

from fitplan.model.solids import Box, Cylinder, Solid, Vec, Wedge, axis_of, is_forward
from fitplan.model.vehicle import BodySolid, State, Vehicle
from fitplan.units import STUD, STUD_DIAMETER, STUD_HEIGHT

BESIDE = STUD_DIAMETER / 2 + 0.05
"""Walls on both sides no farther than this (mm) from a stud's middle are those of a hole."""
_SAME = 1e-6


def floor_studs(vehicle: Vehicle, removed: Collection[str] = ()) -> tuple[BodySolid, ...]:
    """Return the studs that stand proud inside a vehicle with a studded floor; none with a smooth one.

    The upright line through the middle of each stud cell is followed from the rail upwards. Wherever it
    passes from a fixed or removable solid into free space, and does so at the level face of a box, there is
    a stud of that solid's state: on the floor and on every deck above it. Curved and sloping faces, what is
    smooth and what was built in carry none, nor does a hole: what is hardly as wide as a stud. With
    `removed` bricks taken out, the studs beneath them come to light and their own are gone. Those of one cell
    follow each other upwards.
    """
    return _standing_proud(vehicle, frozenset(removed))


@lru_cache(maxsize=64)  # a body is cut up with play and without, and built upon
def _standing_proud(vehicle: Vehicle, removed: frozenset[str]) -> tuple[BodySolid, ...]:
    if vehicle.floor_finish == "smooth":
        return ()
    found: list[BodySolid] = []
    bounds = [entry.solid.bounds for entry in vehicle.body]
    for i in range(vehicle.studs_long):
        x = (i + 0.5) * STUD
        row = [(e, b) for e, b in zip(vehicle.body, bounds, strict=True) if b.low[0] < x < b.high[0]]
        for j in range(vehicle.studs_wide):
            y = (j + 0.5) * STUD
            near = [entry for entry, b in row if b.low[1] < y < b.high[1]]
            for level, state, name in _floors(near, x, y, removed):
                if _in_a_hole(vehicle.body, (x, y, level + STUD_HEIGHT / 2), removed):
                    continue
                stud = Cylinder("z", (x, y, level), STUD_HEIGHT, STUD_DIAMETER / 2)
                found.append(BodySolid(stud, state, name))
    return tuple(found)


def _floors(
    body: Sequence[BodySolid], x: float, y: float, removed: Collection[str]
) -> Iterator[tuple[float, State, str]]:
    """Yield level, state and removable's name of each studded floor that an upright line meets."""
    crossings = [
        (span, entry, isinstance(entry.solid, Box))
        for entry in body
        if (span := upright_span(entry.solid, x, y)) is not None
    ]
    levels = sorted({round(end, 6) for span, _, _ in crossings for end in span})
    below: BodySolid | None = None
    for low, high in pairwise(levels):
        middle = (low + high) / 2
        inside = [cross for cross in crossings if cross[0][0] < middle < cross[0][1]]
        entry = inside[-1][1] if inside else None
        if entry is not None and _is_free(entry, removed) and below is not None and not below.smooth:
            level_face = any(
                is_box and min(abs(span[0] - low), abs(span[1] - low)) < _SAME
                for span, _, is_box in crossings
            )
            if level_face:
                yield low, below.state, below.removable
        solid = entry is not None and entry.state in ("fixed", "removable") and not _is_free(entry, removed)
        below = entry if solid else None


def _in_a_hole(body: Sequence[BodySolid], middle: Vec, removed: Collection[str]) -> bool:
    """Whether walls stand beside the middle of a stud on both sides, too close for one (common practice)."""
    x, y, z = middle
    beside = (((x - BESIDE, y), (x + BESIDE, y)), ((x, y - BESIDE), (x, y + BESIDE)))
    return any(all(_is_solid(body, *at, z, removed) for at in both) for both in beside)


def _is_solid(body: Sequence[BodySolid], x: float, y: float, z: float, removed: Collection[str]) -> bool:
    """Whether a point lies in a brick: what was drawn last counts."""
    for entry in reversed(body):
        span = upright_span(entry.solid, x, y)
        if span is not None and span[0] < z < span[1]:
            return entry.state in ("fixed", "removable") and not _is_free(entry, removed)
    return False


def _is_free(entry: BodySolid, removed: Collection[str]) -> bool:
    return entry.state == "free" or (entry.state == "removable" and entry.removable in removed)


def upright_span(solid: Solid, x: float, y: float) -> tuple[float, float] | None:
    """Return the heights between which an upright line lies inside a solid, or None when it misses it."""
    bounds = solid.bounds
    if not (bounds.low[0] < x < bounds.high[0] and bounds.low[1] < y < bounds.high[1]):
        return None
    low, high = bounds.low[2], bounds.high[2]
    match solid:
        case Cylinder(axis="z"):
            aside = (x - solid.start[0]) ** 2 + (y - solid.start[1]) ** 2
            return (low, high) if aside < solid.radius**2 else None
        case Cylinder():
            across = y - solid.start[1] if solid.axis == "x" else x - solid.start[0]
            half = (solid.radius**2 - across**2) ** 0.5
            return (solid.start[2] - half, solid.start[2] + half)
        case Wedge():
            return _wedge_span(solid, (x, y))
    return (low, high)


def _wedge_span(solid: Wedge, point: tuple[float, float]) -> tuple[float, float] | None:
    room, upright = 1.0, ""
    for face in (solid.base, solid.back):
        axis = axis_of(face)
        if axis == 2:
            upright = face[0]
            continue
        low, high = solid.box.low[axis], solid.box.high[axis]
        share = (point[axis] - low if not is_forward(face) else high - point[axis]) / (high - low)
        room -= share
    low, high = solid.box.low[2], solid.box.high[2]
    if not upright:
        return (low, high) if room > 0 else None
    if upright == "-":
        return (low, low + room * (high - low))
    return (high - room * (high - low), high)
