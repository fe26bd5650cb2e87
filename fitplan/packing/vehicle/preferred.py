"""What a user likes of places that are otherwise equal: near, far from, on the same side as, reachable from.

The first preference weighs most, each next a tenth of the one before, in mm of wire for a millimetre.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fitplan.model.needed import PreferenceKind
from fitplan.model.solids import Box

FIRST, NEXT = 3.0, 0.1
"""What a millimetre costs by the first preference (mm of wire), and by each next of the one before."""
FAR = 300.0
"""From so far away (mm) nothing is gained by being farther."""


@dataclass(frozen=True)
class Liked:
    """A preference in one vehicle: of a need, for another need there or a box that stays (mm)."""

    need: str
    kind: PreferenceKind
    other: str
    box: Box | None
    weight: float


def weight_of(rank: int) -> float:
    """Return what a millimetre costs by the preference of this rank, counted from 0."""
    return FIRST * NEXT**rank


def preferred_cost(
    kind: PreferenceKind, mine: NDArray[np.float64], other: NDArray[np.float64], weight: float
) -> NDArray[np.float64]:
    """Return (n,) float64, what places cost by a preference, in mm of wire.

    Parameters
    ----------
    mine, other
        (n, 6) boxes of the places and (6,) the box of the other thing, in mm.
    """
    apart = (mine[:, :3] + mine[:, 3:] - other[:3] - other[3:]) / 2
    cost: NDArray[np.float64]
    if kind == "same side as":
        cost = np.abs(apart[:, 1])
    elif kind == "far from":
        cost = FAR - np.minimum(np.linalg.norm(apart, axis=1), FAR)
    else:
        cost = np.linalg.norm(apart, axis=1)
    return weight * cost
