"""Preferences that ask two things into one vehicle: what a choice leaves unmet, in the order of importance.

Near, on the same side as and reachable from can be had in one vehicle only, so the choice of vehicles decides
them; how near is for the places inside. Each weighs as much as all after it and one more: lexicographic.
"""

from __future__ import annotations

from collections.abc import Mapping

from fitplan.model.needed import PreferenceKind
from fitplan.model.train import Train
from fitplan.model.vehicle import built_in_name

TOGETHER: frozenset[PreferenceKind] = frozenset({"near", "same side as", "reachable from"})
MOST = 16
"""Preferences beyond so many are left to the places inside a vehicle."""


class SharedVehicle:
    """The preferences of a train that its choice of vehicles decides, weighed from 2ⁿ⁻¹ down to 1."""

    def __init__(self, train: Train) -> None:
        needs = {need.name for need in train.needs}
        wishes = [wish for wish in train.preferences if wish.kind in TOGETHER][:MOST]
        self.worth = 2.0 ** len(wishes) - 1.0
        """What all of them weigh together; 0: there are none."""
        self._by_need: dict[str, list[tuple[float, str, str, frozenset[str]]]] = {}
        for rank, wish in enumerate(wishes):
            named = built_in_name(wish.other)
            homes = frozenset({named[0]}) if named is not None else _with_opening(train, wish.other)
            entry = (2.0 ** (len(wishes) - 1 - rank), wish.of, wish.other, homes)
            self._by_need.setdefault(wish.of, []).append(entry)
            if wish.other in needs and wish.other != wish.of:
                self._by_need.setdefault(wish.other, []).append(entry)

    def unmet(self, need: str, homes: Mapping[str, str]) -> float:
        """Return what the preferences weigh that a need's vehicle leaves unmet, of those decided by it.

        Parameters
        ----------
        homes
            The vehicle of each need that has one, this one among them.
        """
        total = 0.0
        for weight, of, other, fixed in self._by_need.get(need, ()):
            mine = homes.get(of)
            if mine is None:
                continue
            if fixed:
                total += weight * (mine not in fixed)
            elif other in homes:
                total += weight * (homes[other] != mine)
        return total


def _with_opening(train: Train, name: str) -> frozenset[str]:
    """Return the vehicles that have an opening of this name; none where the name is a need's."""
    if any(need.name == name for need in train.needs):
        return frozenset()
    return frozenset(
        entry.name for entry in train.vehicles if any(lid.name == name for lid in entry.vehicle.openings)
    )
