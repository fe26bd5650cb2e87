"""The segments of one vehicle as they were laid together, and what is wrong with them."""

from __future__ import annotations

from dataclasses import dataclass

from fitplan.model.solids import Vec
from fitplan.routing.map.narrow_places import Run
from fitplan.routing.negotiation.layout import LaidSegment, Pulled
from fitplan.routing.negotiation.negotiated import Negotiation


@dataclass(frozen=True, eq=False)
class LaidSegments:
    """Segments with their runs and what came of them, pulled taut, and where corners have no room."""

    runs: list[Run]
    outcome: Negotiation
    laid: dict[int, LaidSegment]
    """By the number of the segment."""
    pulled: dict[int, Pulled]
    sharp: dict[int, list[Vec]]
    """Points of sharp corners, by the number of the segment."""

    @property
    def faults(self) -> tuple[int, int, int, float]:
        """What is wrong, the worst first: no way, conflicts, sharp corners; then the length."""
        corners = sum(len(points) for points in self.sharp.values())
        length = sum(one.length_mm for one in self.pulled.values())
        return (len(self.outcome.unreachable), len(self.outcome.conflicts), corners, round(length, 6))

    def __getstate__(self) -> dict[str, object]:
        """Carry what is known by ``id`` to another process by number."""
        return {**self.__dict__, "pulled": {n: self.pulled[id(one)] for n, one in self.laid.items()}}

    def __setstate__(self, state: dict[str, object]) -> None:
        """Know it by ``id`` again."""
        self.__dict__.update(state)
        by_number = self.__dict__["pulled"]
        self.__dict__["pulled"] = {id(one): by_number[n] for n, one in self.laid.items()}
