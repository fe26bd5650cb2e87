"""Whether a set of wires goes through a port together: yes, no with a proof, or not decided.

What stands in a port, or so close behind it that no wire turns aside before it, leaves of its opening the
rectangles beside it.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cache
from typing import NamedTuple, TypeAlias

import numpy as np
from numpy.typing import NDArray

from fitplan.lattice.difference import without
from fitplan.model.solids import Box, axis_of, is_forward
from fitplan.model.vehicle import Port
from fitplan.model.wiring_facts import Through
from fitplan.routing.map.bundles import bundle_diameter, through_rectangle
from fitplan.routing.map.circle_packing import Rectangle, arrangement, cannot_hold

_WORK = 12000
"""Pairs of circles that a search looks at in a step: so many starts are relaxed side by side."""
_LEAST_STARTS, _MOST_STARTS = 4, 24
MOST_PARTS = 4
"""Of an opening that is covered in part so many rectangles are looked at."""
HAIR_MM = 1e-3
"""What is less than this is rounding."""
BEHIND_MM = 3.2
"""So deep parts keep off a port that they covered: wires turn aside in less."""
Sides: TypeAlias = tuple[float, float]
"""Width and height of a rectangle, in mm."""


@dataclass(frozen=True)
class Passage:
    """The answer, and what a *cannot* rests on."""

    verdict: Through
    proof: str = ""

    @property
    def holds(self) -> bool:
        """Whether an arrangement of all wires is known."""
        return self.verdict == "goes through"


class ClearFor(NamedTuple):
    """Rectangles of a port, the largest first, and the diameters (mm) of wires that go through them."""

    parts: tuple[Sides, ...]
    wires: tuple[float, ...]


def passage(width: float, height: float, diameters: Iterable[float]) -> Passage:
    """Tell whether wires go through a rectangular opening side by side.

    Rows and round bundles answer first, then the proofs, and a search for an arrangement last.

    Parameters
    ----------
    width, height
        Of the opening, in mm.
    diameters
        Outer diameters of all wires that go through, in mm.
    """
    key = tuple(sorted((round(float(d), 6) for d in diameters), reverse=True))
    return _passage(*sorted((round(float(width), 6), round(float(height), 6))), key)


@cache
def _passage(narrow: float, wide: float, key: tuple[float, ...]) -> Passage:
    if in_rows(narrow, wide, key):
        return Passage("goes through")
    hole = Rectangle(wide, narrow)
    if proof := cannot_hold(hole, key):
        return Passage("cannot", proof)
    starts = min(max(_WORK // len(key) ** 2, _LEAST_STARTS), _MOST_STARTS)
    found = arrangement(hole, key, starts=starts)
    return Passage("not decided" if found is None else "goes through")


def through_parts(parts: Sequence[Sides], diameters: Iterable[float], *, searching: bool = True) -> bool:
    """Tell whether wires are known to go through some rectangles that an opening is parted into.

    Each, the thickest first, is given to the first that has room for it beside those given to it before.

    Parameters
    ----------
    searching
        Whether more is looked at than what rows and round bundles show.
    """
    wires = sorted((round(float(d), 6) for d in diameters), reverse=True)

    def holds(part: Sides, inside: Sequence[float]) -> bool:
        return passage(*part, inside).holds if searching else in_rows(min(part), max(part), tuple(inside))

    if len(parts) == 1:
        return holds(parts[0], wires)
    taken: list[list[float]] = [[] for _ in parts]
    for wire in wires:
        for part, inside in zip(parts, taken, strict=True):
            if holds(part, [*inside, wire]):
                inside.append(wire)
                break
        else:
            return False
    return True


def clear_parts(port: Port, boxes: NDArray[np.float64], wire_mm: float) -> tuple[Sides, ...]:
    """Return the rectangles that are left of a port's opening, width and height in mm, the largest first.

    Parameters
    ----------
    boxes
        (n, 6) float64, low and high corners in mm of what is in the way.
    wire_mm
        Outer diameter of the thinnest wire asked about. What is less far behind the port covers it; what is
        farther behind lets that wire turn aside before it.
    """
    axis, behind = axis_of(port.out), room_behind(port, wire_mm - HAIR_MM)
    low, high = np.minimum(port.box.low, behind.low), np.maximum(port.box.high, behind.high)
    covers = boxes[((boxes[:, :3] < high - HAIR_MM) & (boxes[:, 3:] > low + HAIR_MM)).all(axis=1)].copy()
    covers[:, axis], covers[:, axis + 3] = low[axis], high[axis]
    left = np.array([[*low, *high]])
    across = [other for other in range(3) if other != axis]
    for cover in covers:
        left = without(left, cover.tolist())
    found: list[Sides] = []
    while len(left) and len(found) < MOST_PARTS:
        best = _largest(left, across)
        width, height = (float(best[other + 3] - best[other]) for other in across)
        if min(width, height) < wire_mm - HAIR_MM:
            break
        found.append((width, height))
        left = without(left, best.tolist())
    return tuple(found)


def room_behind(port: Port, deep_mm: float = BEHIND_MM) -> Box:
    """Return the room straight behind a port, as deep as parts leave it to its wires."""
    axis, (low, high) = axis_of(port.out), (list(port.box.low), list(port.box.high))
    if is_forward(port.out):
        low[axis], high[axis] = low[axis] - deep_mm, low[axis]
    else:
        low[axis], high[axis] = high[axis], high[axis] + deep_mm
    return Box((low[0], low[1], low[2]), (high[0], high[1], high[2]))


def _largest(pieces: NDArray[np.float64], across: Sequence[int]) -> NDArray[np.float64]:
    """Return the largest box (6,) that pieces side by side cover, all as deep as one another."""
    one, other = (np.unique(pieces[:, [axis, axis + 3]]) for axis in across)
    middles = [(edges[:-1] + edges[1:]) / 2 for edges in (one, other)]
    covered = np.zeros((len(one) - 1, len(other) - 1), dtype=np.bool_)
    for piece in pieces:
        inside = [
            (middle > piece[axis]) & (middle < piece[axis + 3])
            for middle, axis in zip(middles, across, strict=True)
        ]
        covered |= np.outer(*inside)
    best, box = -1.0, np.array(pieces[0])
    for first in range(len(one) - 1):
        through = np.ones(len(other) - 1, dtype=np.bool_)
        for last in range(first, len(one) - 1):
            through &= covered[last]
            edges = np.flatnonzero(np.diff(np.concatenate([[False], through, [False]]).astype(np.int8)))
            for start, stop in edges.reshape(-1, 2).tolist():
                area = float((one[last + 1] - one[first]) * (other[stop] - other[start]))
                if area > best + HAIR_MM**2:
                    best = area
                    box[across[0]], box[across[0] + 3] = one[first], one[last + 1]
                    box[across[1]], box[across[1] + 3] = other[start], other[stop]
    return box


def in_rows(narrow: float, wide: float, key: tuple[float, ...]) -> bool:
    """Tell whether wires go through in rows of one pitch, a gauge a strip, or as a round bundle.

    Parameters
    ----------
    key
        Diameters, the thickest first.
    """
    if not key:
        return True
    if through_rectangle(wide, narrow, key[0]) >= len(key) or bundle_diameter(key) <= narrow + 1e-9:
        return True
    # Each gauge in a strip of its own across the opening, the thickest first.
    for across, along in ((narrow, wide), (wide, narrow)):
        left = along
        for diameter in sorted(set(key), reverse=True):
            left -= _strip(across, diameter, key.count(diameter))
        if left >= -1e-9:
            return True
    return False


def _strip(across: float, wire: float, count: int) -> float:
    """Return how long a strip of an opening straight rows of one gauge take."""
    in_a_row = math.floor(across / wire + 1e-9)
    return math.inf if in_a_row == 0 else math.ceil(count / in_a_row) * wire


def least_share(parts: Sequence[Sides], diameters: Iterable[float], shares: Iterable[float]) -> float:
    """Return the least of some shares of its sides that wires are known to go through; inf: none.

    Only what rows and round bundles show is looked at below the last two shares.

    Parameters
    ----------
    parts
        The opening, or the rectangles that are left of it.
    """
    wires, steps = tuple(diameters), sorted(shares)
    for share in steps:
        less = [(share * width, share * height) for width, height in parts]
        if through_parts(less, wires, searching=share in steps[-2:]):
            return share
    return math.inf
