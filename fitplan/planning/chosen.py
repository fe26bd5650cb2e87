"""A whole choice over the train with its places and costs, and what a search for the best came to."""

from __future__ import annotations

from dataclasses import dataclass

from fitplan.model.part import Part
from fitplan.model.placed import Placement
from fitplan.model.proposed import Option
from fitplan.packing.vehicle.packing import Packing
from fitplan.planning.choice_bound import (
    Pick,
)
from fitplan.planning.costs import Costs

ROUNDING = 1e-9
"""Costs that differ by less are equal."""


@dataclass(frozen=True)
class Chosen:
    """A whole choice with its places and costs.

    Attributes
    ----------
    score
        What choices are ordered by.
    least
        What the same choice may cost at the least, where its least rebuild is not proved.
    shown
        The score with the usual penalties, whatever the size of the train.
    """

    picks: tuple[Pick, ...]
    packings: tuple[Packing, ...]
    costs: Costs
    score: float
    least: float
    shown: float
    unsuitable: str

    @property
    def shut_in(self) -> int:
        """How many parts cannot be exchanged as the user allows."""
        return sum(len(packing.shut_in) for packing in self.packings)

    @property
    def placements(self) -> tuple[Placement, ...]:
        """Where everything lies."""
        return tuple(place for packing in self.packings for place in packing.placements)

    @property
    def left_out(self) -> tuple[str, ...]:
        """Needs that found no place."""
        return tuple(pick.need.name for pick in self.picks if pick.part is None)

    @property
    def parts(self) -> dict[str, Part]:
        """The part of each need that has one."""
        return {pick.need.name: pick.part for pick in self.picks if pick.part is not None}

    def option(self, chosen: bool) -> Option:
        """Return the choice as a row of the table of options."""
        return Option(
            parts=tuple((p.need.name, p.part.id, p.vehicle) for p in self.picks if p.part is not None),
            vehicles_opened=self.costs.vehicles_opened,
            wagons_added=self.costs.wagons_added,
            conductors_across=self.costs.conductors_across,
            bricks_removed=self.costs.bricks_removed,
            wire_mm=round(self.costs.wire_mm, 1),
            mass_off_balance_g=round(self.costs.mass_off_balance_g, 2),
            score=round(self.shown, 4),
            chosen=chosen,
            shut_in=self.shut_in,
            unfused_across=self.costs.unfused_across,
            later_in_list=self.costs.later_in_list,
        )


@dataclass(frozen=True)
class Best:
    """What a search came to.

    Attributes
    ----------
    chosen
        The cheapest choice that was found.
    open_from
        A cost that no choice is below which is neither found nor refuted: what it may cost to be left open.
    """

    chosen: Chosen | None
    open_from: float

    @property
    def proved(self) -> bool:
        """Whether no choice costs less."""
        return (
            self.chosen is not None and min(self.open_from, self.chosen.least) >= self.chosen.score - ROUNDING
        )
