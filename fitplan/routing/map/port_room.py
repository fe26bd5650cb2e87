"""Whether a set of wires goes through a port together: yes, no with a proof, or not decided."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cache

from fitplan.model.wiring_facts import Through
from fitplan.routing.map.bundles import bundle_diameter, through_rectangle
from fitplan.routing.map.circle_packing import Rectangle, arrangement, cannot_hold

_WORK = 12000
"""Pairs of circles that a search looks at in a step: so many starts are relaxed side by side."""
_LEAST_STARTS, _MOST_STARTS = 4, 24


@dataclass(frozen=True)
class Passage:
    """The answer, and what a *cannot* rests on."""

    verdict: Through
    proof: str = ""

    @property
    def holds(self) -> bool:
        """Whether an arrangement of all wires is known."""
        return self.verdict == "goes through"


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


def least_share(width: float, height: float, diameters: Iterable[float], shares: Iterable[float]) -> float:
    """Return the least of some shares of an opening's sides that wires are known to go through; inf: none.

    Only what rows and round bundles show is looked at below the last two shares.
    """
    key = tuple(sorted((round(float(d), 6) for d in diameters), reverse=True))
    steps = sorted(shares)
    for share in steps:
        narrow, wide = sorted((share * width, share * height))
        if in_rows(narrow, wide, key) or (share in steps[-2:] and passage(narrow, wide, key).holds):
            return share
    return math.inf
