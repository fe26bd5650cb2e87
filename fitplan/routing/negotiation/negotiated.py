"""How a negotiation is led, and what comes of it."""

from __future__ import annotations

import math
from dataclasses import dataclass

from fitplan.routing.map.narrow_places import CutProof
from fitplan.routing.ways.way import Voxel, Way


@dataclass(frozen=True)
class NegotiationSettings:
    """How the negotiation is led.

    Attributes
    ----------
    rounds, patience
        After so many rounds it ends, settled or not; or after so many in which nothing grew better.
    sharing
        A voxel that no run uses yet costs this share more than one that is used: bundles form.
    near_ends
        Voxels (along the longest axis) around a run's ends where it counts in no bundle and needs no room.
    greed
        How much dearer than the cheapest a way may be in exchange for speed.
    work
        So many voxels are looked at in the rounds after the first; then it gives up.
    present, growth, lasting
        First surcharge for an overfull place, its factor from round to round, and the part that stays.
    """

    rounds: int = 40
    patience: int = 3
    sharing: float = 0.15
    near_ends: int = 4
    greed: float = 1.2
    work: float = math.inf
    present: float = 1.0
    growth: float = 1.5
    lasting: float = 0.5


@dataclass(frozen=True)
class Conflict:
    """Where more runs meet than there is room for.

    Attributes
    ----------
    where
        Name of the place, or the voxel.
    runs
        Names of the runs, in the order given.
    used, room
        Conductors for a place; bundle diameter and clear width in mm for a voxel.
    """

    where: str | Voxel
    runs: tuple[str, ...]
    used: float
    room: float


@dataclass(frozen=True, eq=False)
class Negotiation:
    """The outcome: a way for each run, and what is wrong with it.

    Attributes
    ----------
    ways
        In the order of the runs; None for a run that has no way at all.
    unreachable
        Names of those runs.
    conflicts
        What is overfull at the end; empty when settled.
    narrow
        Proofs that the places cannot carry the runs, whatever the ways.
    rounds
        Rounds it took.
    late
        Whether a clock ended it with conflicts left.
    gave_up
        Whether it ended with conflicts left as it had looked at so many voxels again.
    """

    ways: tuple[Way | None, ...]
    unreachable: tuple[str, ...]
    conflicts: tuple[Conflict, ...]
    narrow: tuple[CutProof, ...]
    rounds: int
    late: bool = False
    gave_up: bool = False

    @property
    def settled(self) -> bool:
        """True when every run has a way and none is in conflict."""
        return not self.unreachable and not self.conflicts
