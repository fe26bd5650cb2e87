"""Whether parts surely go into a vehicle together, asked again and again with one part more.

The choice over the train puts parts into vehicles one after the other, so most questions are the last one
with a part added. That part is laid beside the others where they lie; only where they leave it no room are
all laid anew, first at corners (`fitplan.packing.engine.search_places`), then loosely (`roomy_places`), which
does well among many parts in much room. *Yes* comes with exact places; *no* means: not found at once.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import TypeAlias

from fitplan.budget import Budget
from fitplan.model.vehicle import Vehicle
from fitplan.packing.engine.insertion import one_more
from fitplan.packing.engine.placement_check import check_placement
from fitplan.packing.engine.problem import PackingProblem, Placed
from fitplan.packing.engine.solve import solve
from fitplan.packing.vehicle.roomy_places import KnownPlaces, RoomySearch
from fitplan.packing.vehicle.seats import Wanted
from fitplan.packing.vehicle.wishes import Wishes

MOST_KEPT = 24
"""So many sets of parts with their places are kept of each vehicle, the last ones found."""

_Key: TypeAlias = tuple[str, str]
"""Need and part."""
_Set: TypeAlias = frozenset[_Key]
Problem: TypeAlias = Callable[[Sequence[Wanted]], PackingProblem]
"""Makes the packing problem of some parts in one vehicle, everything rounded outwards."""


class HeldAtOnce:
    """What is known of one vehicle with some bricks out: sets of parts that go in, and those not found to."""

    def __init__(self, vehicle: Vehicle, seed: int) -> None:
        self._vehicle, self._seed = vehicle, seed
        self._held: dict[_Set, Mapping[str, Placed]] = {}
        self._open: set[_Set] = set()
        self._loose: KnownPlaces = {}

    def holds(self, wanted: Sequence[Wanted], problem: Problem, budget: Budget) -> bool:
        """Return whether places for all parts were found."""
        asked = frozenset(_key(entry) for entry in wanted)
        if any(asked <= known for known in self._held):
            return True
        if any(known <= asked for known in self._open):
            return False
        places = self._laid(tuple(wanted), asked, problem(wanted), budget)
        if places is None:
            self._open.add(asked)
            return False
        self._held[asked] = places
        if len(self._held) > MOST_KEPT:
            del self._held[next(iter(self._held))]
        return True

    def _laid(
        self, wanted: tuple[Wanted, ...], asked: _Set, problem: PackingProblem, budget: Budget
    ) -> Mapping[str, Placed] | None:
        if any(not item.variants for item in problem.items):
            return None
        beside = self._beside_the_others(problem, asked)
        if beside is not None:
            return beside
        answer = solve(problem, budget, seed=self._seed, proofs=False, quick=True)
        if answer.status == "fits":
            return answer.placements
        return self._loosely(wanted, problem) if answer.best else None

    def _beside_the_others(self, problem: PackingProblem, asked: _Set) -> Mapping[str, Placed] | None:
        """Lay the one part that is new beside the others where they were found to lie last."""
        known = next((have for have in reversed(self._held) if have < asked and len(asked - have) == 1), None)
        if known is None:
            return None
        ((name, _),) = asked - known
        try:
            place = one_more(problem, self._held[known], name)
        except OverflowError:
            return None
        if place is None:
            return None
        places = {**self._held[known], name: place}
        faults = check_placement(problem, places)
        if faults:
            raise AssertionError(f"a part was laid wrongly beside others: {faults[0]}")
        return places

    def _loosely(self, wanted: tuple[Wanted, ...], problem: PackingProblem) -> Mapping[str, Placed] | None:
        search = RoomySearch(wanted, problem, self._vehicle, Wishes(()), self._seed, self._loose)
        places = search.find(better=False)
        return None if places is None or check_placement(problem, places) else places


def _key(entry: Wanted) -> _Key:
    return (entry.need.name, entry.part.id)
