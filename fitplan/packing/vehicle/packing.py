"""What came of putting some parts into one vehicle."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

from fitplan.model.placed import Placement, Rebuild
from fitplan.model.proposed import HOLDING, Verdict


@dataclass(frozen=True)
class Packing:
    """What came of putting some parts into one vehicle.

    Attributes
    ----------
    verdict
        Of the four; ``fits after a rebuild`` comes with ``rebuild``.
    reason
        Why it does not fit, or what is left open; empty when it fits.
    proof
        What the verdict rests on, with its confirmations.
    cost, least
        Cost of the bricks taken out, and the lower bound that was proved for it.
    work
        Steps of the budget that the answer took when it was first found.
    late
        Whether it is open because a deadline was reached.
    """

    vehicle: str
    verdict: Verdict
    placements: tuple[Placement, ...] = ()
    reason: str = ""
    proof: str = ""
    rebuild: Rebuild | None = None
    shut_in: tuple[str, ...] = ()
    """Parts that cannot be exchanged without taking out more than the user allows."""
    work: int = field(default=0, compare=False)
    late: bool = field(default=False, compare=False)

    @property
    def holds(self) -> bool:
        """Whether all parts have their places."""
        return self.verdict in HOLDING

    def placed(self, placements: tuple[Placement, ...]) -> Packing:
        """Return the packing with other places; its rebuild adds what carries the parts there."""
        rebuild = self.rebuild
        if rebuild is not None:
            rebuild = replace(
                rebuild, shelves=tuple(one.shelf for one in placements if one.shelf is not None)
            )
        return replace(self, placements=placements, rebuild=rebuild)

    @property
    def cost(self) -> float:
        """Cost of the bricks that come out."""
        return self.rebuild.cost if self.rebuild else 0.0
