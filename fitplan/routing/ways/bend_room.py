"""Whether the corners of the wires have room for their bend radius.

A wire need not follow its taut way to the last voxel step: within half its own diameter it may lie aside, so
small steps are smoothed first, and a corner that voxels have chamfered counts as the one that it is cut from.
A corner within two diameters of a pin or a splice is bent by hand when that is soldered; it is counted apart
from the corners on the way. Room is what the pieces of the way beside a corner give; that the arc, moved
outwards, keeps off a wall across a narrow channel is not looked at.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from fitplan.model.wired import Leg, Wire
from fitplan.model.wiring_facts import HOOK_UP_DIAMETERS, NOT_BELOW_DIAMETERS, LegBends
from fitplan.routing.ways.bends import room_at_corners
from fitplan.routing.ways.taut import chain_length

_HELD = ("pin", "splice")
"""Ends that a wire is bent at by hand; one that ends in a coupling's connector comes straight out."""


def smoothed(points: NDArray[np.float64], aside: float) -> NDArray[np.float64]:
    """Return a chain without the corners that lie at most `aside` off it, ends kept.

    The corner that lies least off goes first, as long as all corners that are gone stay within.
    """
    kept = list(range(len(points)))
    off = [_farthest_off(points[a : b + 1]) for a, b in zip(kept, kept[2:], strict=False)]
    while off and min(off) <= aside:
        least = off.index(min(off))
        del kept[least + 1], off[least]
        for place in range(max(least - 1, 0), min(least + 1, len(off))):
            off[place] = _farthest_off(points[kept[place] : kept[place + 2] + 1])
    return points[kept]


def unchamfered(points: NDArray[np.float64], aside: float, radius: float) -> NDArray[np.float64]:
    """Return a chain with neighbouring corners made one where their outer pieces meet, ends kept.

    Two corners become the point where the pieces before and after them would meet, when an arc of the radius
    there passes at most `aside` off the chain as it was.
    """
    chain = list(points)
    covers = [points[max(i - 1, 0) : i + 2] for i in range(len(points))]
    while True:
        found = None
        for i in range(1, len(chain) - 2):
            meeting = _meeting(chain[i - 1], chain[i], chain[i + 1], chain[i + 2], aside)
            if meeting is None:
                continue
            was = np.concatenate([covers[i], covers[i + 1]])
            if _off_chain(_arc_middle(chain[i - 1], meeting, chain[i + 2], radius), was) > aside:
                continue
            short = float(np.linalg.norm(chain[i + 1] - chain[i]))
            if found is None or short < found[0]:
                found = (short, i, meeting, was)
        if found is None:
            return np.array(chain)
        _, i, meeting, was = found
        chain[i : i + 2] = [meeting]
        covers[i : i + 2] = [was]


def _meeting(
    before: NDArray[np.float64],
    one: NDArray[np.float64],
    two: NDArray[np.float64],
    after: NDArray[np.float64],
    aside: float,
) -> NDArray[np.float64] | None:
    """Return where the outer of three pieces would meet beyond the inner one, or None when they do not."""
    along, back = one - before, two - after
    along, back = _unit(along), _unit(back)
    # Of two lines the points that are nearest to each other.
    across = float(along @ back)
    det = 1.0 - across * across
    if det < 1e-6:
        return None
    gap = two - one
    t = float(gap @ along - across * (gap @ back)) / det
    s = float(across * (gap @ along) - gap @ back) / det
    if t < -1e-9 or s < -1e-9:
        return None
    first, second = one + t * along, two + s * back
    if float(np.linalg.norm(first - second)) > aside:
        return None
    middle: NDArray[np.float64] = (first + second) / 2
    return middle


def _arc_middle(
    before: NDArray[np.float64], corner: NDArray[np.float64], after: NDArray[np.float64], radius: float
) -> NDArray[np.float64]:
    """Return the middle of an arc of this radius in a corner."""
    one, two = before - corner, after - corner
    one, two = _unit(one), _unit(two)
    inwards = one + two
    half = np.arccos(np.clip(float(one @ two), -1.0, 1.0)) / 2  # half of the angle between the pieces
    off = radius * (1.0 / max(np.sin(half), 1e-6) - 1.0)
    middle: NDArray[np.float64] = corner + _unit(inwards) * off
    return middle


def _unit(vector: NDArray[np.float64]) -> NDArray[np.float64]:
    return vector / max(float(np.linalg.norm(vector)), 1e-12)


def _nearest_on(point: NDArray[np.float64], chain: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the point of a chain of pieces that is nearest to another point."""
    starts, ways = chain[:-1], np.diff(chain, axis=0)
    squares = np.maximum((ways**2).sum(axis=1), 1e-18)
    share = np.clip(((point - starts) * ways).sum(axis=1) / squares, 0.0, 1.0)
    feet = starts + share[:, None] * ways
    nearest: NDArray[np.float64] = feet[int(np.linalg.norm(feet - point, axis=1).argmin())]
    return nearest


def _off_chain(point: NDArray[np.float64], chain: NDArray[np.float64]) -> float:
    """Return how far a point lies off a chain of pieces."""
    return float(np.linalg.norm(_nearest_on(point, chain) - point))


def _farthest_off(chain: NDArray[np.float64]) -> float:
    """Return how far the inner points of a chain lie off the straight piece between its ends."""
    way = chain[-1] - chain[0]
    inner = chain[1:-1] - chain[0]
    share = np.clip(inner @ way / max(float(way @ way), 1e-12), 0.0, 1.0)
    return float(np.linalg.norm(inner - share[:, None] * way, axis=1).max())


def bends_of(wire: Wire, leg: Leg) -> LegBends:
    """Return the corners of one leg, rounded as far as the pieces beside them have room."""
    chain = _as_bent(leg.points, wire.outer_mm)
    held = (
        leg is wire.legs[0] and wire.start.kind in _HELD,
        leg is wire.legs[-1] and wire.end.kind in _HELD,
    )
    way, cut = _between_ends(chain, HOOK_UP_DIAMETERS * wire.outer_mm, held)
    radii = _radii(way, wire.outer_mm)
    wanted = NOT_BELOW_DIAMETERS * wire.outer_mm
    tightest, at = min(((radius, point) for point, radius in radii.items()), default=(wanted, 0))
    x, y, z = _nearest_on(way[at], np.array(leg.points, dtype=np.float64)).tolist()
    near = [radius for point, radius in _radii(chain, wire.outer_mm).items() if point in cut]
    # Rounded: the last digits of tangents are not the same on all processors.
    tightest, at_end = round(tightest, 6), round(min(near, default=wanted), 6)
    return LegBends(wire.number, leg.vehicle, wire.outer_mm, len(radii), tightest, (x, y, z), at_end)


def _as_bent(points: Sequence[tuple[float, float, float]], outer_mm: float) -> NDArray[np.float64]:
    """Return a way without what a wire of this thickness does not follow."""
    chain = smoothed(np.array(points, dtype=np.float64), outer_mm / 2)
    return unchamfered(chain, outer_mm / 2, HOOK_UP_DIAMETERS * outer_mm)


def sharp_corners(
    points: Sequence[tuple[float, float, float]], outer_mm: float, held: tuple[bool, bool]
) -> list[tuple[float, float, float]]:
    """Return the corners of a way without room for the smallest bend radius of a wire.

    Parameters
    ----------
    points
        Corners in mm, ends included.
    held
        Whether the wire is bent by hand at the start and at the end; corners close to these do not count.
    """
    chain = _as_bent(points, outer_mm)
    way, _ = _between_ends(chain, HOOK_UP_DIAMETERS * outer_mm, held)
    limit = HOOK_UP_DIAMETERS * outer_mm - 1e-6
    if min(room_at_corners(way, HOOK_UP_DIAMETERS * outer_mm).values(), default=limit) >= limit:
        return []  # nobody asks which of them has room for more
    sharp = [way[point].tolist() for point, radius in _radii(way, outer_mm).items() if radius < limit]
    return [(x, y, z) for x, y, z in sharp]


def _radii(chain: NDArray[np.float64], outer_mm: float) -> dict[int, float]:
    """Return for each corner the radius that it has room for, as far as the wide one asks for it."""
    wide = room_at_corners(chain, NOT_BELOW_DIAMETERS * outer_mm)
    # A corner without room for the wide arc may have it for the narrow one, as its neighbours take less.
    narrow = room_at_corners(chain, HOOK_UP_DIAMETERS * outer_mm)
    return {point: max(radius, narrow[point]) for point, radius in wide.items()}


def _between_ends(
    chain: NDArray[np.float64], near: float, held: tuple[bool, bool]
) -> tuple[NDArray[np.float64], set[int]]:
    """Return a chain without what lies before a corner near a held end, and the numbers of those corners."""
    first, last = 0, len(chain) - 1
    while held[0] and first + 1 < last and chain_length(chain[: first + 2]) <= near:
        first += 1
    while held[1] and first + 1 < last and chain_length(chain[last - 1 :]) <= near:
        last -= 1
    return chain[first : last + 1], {*range(1, first + 1), *range(last, len(chain) - 1)}
