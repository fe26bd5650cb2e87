"""How thick a bundle is, how many conductors go through a port, and where runs share a way.

All diameters are outer diameters in mm. Every figure here is that of an arrangement which exists, so a
bundle may turn out thinner than stated and a port may carry more, never the other way about.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cache
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from fitplan.routing.ways.way import Voxel, lattice_length

ENCLOSING = (
    0.0,
    1.0,
    2.0,
    2.1547005,
    2.4142136,
    2.7013016,
    3.0,
    3.0,
    3.3047649,
    3.6131259,
    3.8130256,
    3.9238044,
    4.0296019,
    4.2360680,
    4.3284286,
    4.5213570,
    4.6154256,
    4.7920337,
    4.8637033,
    4.8637033,
)
"""Diameter of the smallest circle around n equal circles of diameter 1, for n up to 19.

Kravitz, Math. Mag. 40 (1967); Graham, Lubachevsky, Nurmela, Östergård, Discrete Math. 181 (1998). Known to be
least but for n = 15 to 18, where it is the best known.
"""

FOUND = (
    5.1234, 5.2542, 5.4401, 5.5458, 5.6527, 5.7561, 5.8291, 5.9071,
    6.0159, 6.1398, 6.1998, 6.2916, 6.4308, 6.4882, 6.6129, 6.7001,
    6.7473, 6.7595, 6.9631, 7.0598, 7.1260, 7.2666, 7.3524,
)  # fmt: skip
"""The same for n from 20 on: arrangements that `circle_packing.arrangement` found, checked circle by circle.

Within 0.1 % of the best known where these are known to the writer (from memory, not confirmed).
"""

_ROUNDING = 5e-8
"""The table is rounded to seven decimals; this much is added so that no value is too small."""


def enclosing_ratio(count: int) -> float:
    """Return the diameter around `count` equal wires over the wire's diameter.

    Up to 19 wires the published packings (`ENCLOSING`), then what a search found (`FOUND`). Beyond: the wires
    lie on a triangular lattice, around a lattice point, an edge's middle or a triangle's middle, whichever is
    best; that is a real arrangement, so the rule is never below the true value.
    """
    if count < 0:
        raise ValueError(f"a bundle has no {count} wires")
    if count < len(ENCLOSING):
        return ENCLOSING[count] + (_ROUNDING if count > 2 and count not in (6, 7) else 0.0)
    if count < len(ENCLOSING) + len(FOUND):
        return min(FOUND[count - len(ENCLOSING)], _lattice_ratio(count))
    return _lattice_ratio(count)


@cache
def _lattice_ratio(count: int) -> float:
    reach = int(math.sqrt(count)) + 3
    i, j = np.meshgrid(np.arange(-reach, reach + 1), np.arange(-reach, reach + 1))
    points = np.stack([i.ravel() + j.ravel() / 2, j.ravel() * (math.sqrt(3) / 2)], axis=1)
    centres = ((0.0, 0.0), (0.5, 0.0), (0.5, math.sqrt(3) / 6))
    radii = [np.sort(np.hypot(*(points - centre).T))[count - 1] for centre in centres]
    return float(2 * min(radii) + 1) + 1e-12


def bundle_diameter(diameters: Iterable[float]) -> float:
    """Return a diameter that the wires fit in, in mm, 0 for none.

    Equal wires: `enclosing_ratio`. Unequal wires, the least of

    - all taken as thick as the thickest;
    - √(2·Σd²): circles of half a circle's area always fit into it (Fekete, Keldenich, Scheffer, SoCG 2019;
      from memory, not confirmed);
    - d₁ + d₂ for two, and the outer Soddy circle (Descartes' theorem) for three that touch each other;
    - an arrangement that is built wire by wire, each in the hollow between two others nearest the middle.
    """
    key = tuple(sorted((round(float(d), 9) for d in diameters), reverse=True))
    if key and not key[-1] > 0:
        raise ValueError(f"a wire's diameter is positive, not {key[-1]}")
    return _bundle_diameter(key)


@cache
def _bundle_diameter(key: tuple[float, ...]) -> float:
    if not key:
        return 0.0
    if key[0] == key[-1]:
        return enclosing_ratio(len(key)) * key[0]
    if len(key) == 2:
        return key[0] + key[1]
    bounds = [
        enclosing_ratio(len(key)) * key[0],
        math.sqrt(2 * sum(d * d for d in key)),
        _built(key) * (1 + 1e-9),
    ]
    if len(key) == 3:
        bounds.append(_around_three(*key))
    return max(min(bounds), key[0] + key[1])


def _around_three(a: float, b: float, c: float) -> float:
    """Return the diameter around three circles, the smallest in the hollow of the others (a ≥ b ≥ c)."""
    product, pairs = a * b * c / 8, (a * b + b * c + c * a) / 4
    below = 2 * math.sqrt(product * (a + b + c) / 2) - pairs
    outer = 2 * product / below if below > 0 else math.inf
    hollow = a * b * (a + b) / (a * a + a * b + b * b)  # largest third circle beside two on a diameter
    return a + b if c <= hollow else outer * (1 + 1e-12)


def _built(key: Sequence[float]) -> float:
    """Place the wires from thick to thin, each touching two others; return the diameter around them."""
    radii = np.array(key) / 2
    centres = np.zeros((len(radii), 2))
    centres[1] = (radii[0] + radii[1], 0.0)
    for k in range(2, len(radii)):
        weights = radii[:k] ** 2
        middle = weights @ centres[:k] / weights.sum()
        spots = _hollows(centres[:k], radii[:k] + radii[k])
        gaps = np.linalg.norm(spots[:, None, :] - centres[None, :k, :], axis=2) - radii[:k] - radii[k]
        spots = spots[gaps.min(axis=1) > -1e-9 * radii[0]]
        reach = np.linalg.norm(spots - middle, axis=1)
        centres[k] = spots[np.flatnonzero(reach < reach.min() + 1e-12)[0]]
    return 2 * _circle_around(centres, radii) + 2e-9 * float(radii[0])


def _hollows(centres: NDArray[np.float64], reach: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return (n, 2) points that lie at their reach from two centres, for all pairs of centres."""
    i, j = np.triu_indices(len(centres), 1)
    way = centres[j] - centres[i]
    apart = np.linalg.norm(way, axis=1)
    near = apart <= reach[i] + reach[j]
    i, way, apart = i[near], way[near], apart[near]
    a, b = reach[i], reach[j[near]]
    along = (apart**2 + a**2 - b**2) / (2 * apart)
    aside = np.sqrt(np.maximum(a**2 - along**2, 0.0))[:, None]
    ahead = way / apart[:, None]
    left = np.stack([-ahead[:, 1], ahead[:, 0]], axis=1)
    foot = centres[i] + along[:, None] * ahead
    return np.concatenate([foot + aside * left, foot - aside * left])


def _circle_around(centres: NDArray[np.float64], radii: NDArray[np.float64]) -> float:
    """Return the radius of a circle around circles: the middle walks towards the farthest, shorter each time.

    Any middle gives a circle that holds all of them; the walk (Bădoiu and Clarkson's core-set iteration) only
    makes it tight.
    """
    middle = centres.mean(axis=0)
    best = math.inf
    for step in range(1, 160):
        reach = np.hypot(*(centres - middle).T) + radii
        far = int(reach.argmax())
        best = min(best, float(reach[far]))
        middle = middle + (centres[far] - middle) * ((reach[far] - radii[far]) and 1 / (step + 1))
    return best


def through_round(hole: float, wire: float) -> int:
    """Return how many conductors of one diameter a round hole carries."""
    count = 0
    while enclosing_ratio(count + 1) * wire <= hole + 1e-9:
        count += 1
    return count


def through_rectangle(width: float, height: float, wire: float) -> int:
    """Return how many conductors of one diameter a rectangular hole carries, in straight or staggered rows.

    Staggered rows a distance g apart need a pitch of max(d, 2·√(d² − g²)) within the row, and 2·g ≥ d for
    every other row; both ways round are tried, and the round bundle that fits in.
    """
    best = through_round(min(width, height), wire)
    for across, up in ((width, height), (height, width)):
        if across < wire - 1e-9 or up < wire - 1e-9:
            return 0
        best = max(best, math.floor(across / wire + 1e-9) * math.floor(up / wire + 1e-9))
        for rows in range(2, max(math.floor((up - wire) / (wire / 2) + 1e-9), 1) + 2):
            gap = (up - wire) / (rows - 1)
            pitch = wire if gap >= wire else max(wire, 2 * math.sqrt(wire * wire - gap * gap))
            full = math.floor((across - wire) / pitch + 1e-9) + 1
            shifted = max(math.floor((across - wire - pitch / 2) / pitch + 1e-9) + 1, 0)
            best = max(best, (rows + 1) // 2 * full + rows // 2 * shifted)
    return best


@dataclass(frozen=True, eq=False)
class BundleSection:
    """A piece of way that the same runs share from end to end.

    Attributes
    ----------
    runs
        Indices of the runs, ascending; one alone is a stretch too.
    voxels
        (n, 3) int32, the shared way.
    length_mm, diameter
        Lattice length of the piece, and the bundle's diameter in mm.
    """

    runs: tuple[int, ...]
    voxels: NDArray[np.int32]
    length_mm: float
    diameter: float


def stretches(
    ways: Sequence[NDArray[np.int32] | None], diameters: Sequence[float], pitch: float = 0.8
) -> tuple[BundleSection, ...]:
    """Cut voxel ways into stretches that the same runs share all along.

    Parameters
    ----------
    ways
        (n, 3) voxels for each run, or None for a run without a way.
    diameters
        Outer diameter of each run's conductor in mm.
    """
    runs_at: dict[frozenset[Voxel], list[int]] = {}
    steps: list[list[frozenset[Voxel]]] = []
    for index, way in enumerate(ways):
        rows = [] if way is None else [(int(x), int(y), int(z)) for x, y, z in way]
        steps.append([frozenset(pair) for pair in pairwise(rows)])
        for step in dict.fromkeys(steps[-1]):
            runs_at.setdefault(step, []).append(index)
    found = []
    for index, way in enumerate(ways):
        if way is None:
            continue
        if len(way) == 1:  # from a pin that lies in the mouth of its port
            found.append(BundleSection((index,), way, 0.0, diameters[index]))
        begin = 0
        for end in range(1, len(steps[index]) + 1):
            runs = runs_at[steps[index][begin]]
            if end < len(steps[index]) and runs_at[steps[index][end]] == runs:
                continue
            if runs[0] == index:
                piece = way[begin : end + 1]
                thickness = bundle_diameter(diameters[run] for run in runs)
                found.append(BundleSection(tuple(runs), piece, lattice_length(piece, pitch), thickness))
            begin = end
    return tuple(found)
