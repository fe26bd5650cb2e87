"""The least rebuild: the cheapest bricks to take out so that everything fits.

Sets of removable bricks are tried from the cheapest up.  A set that is proved too small proves it of every
set inside it; such sets are grown as far as they go first, so few questions settle many.  The first set
that holds everything is the least, and the cost of the cheapest set that was not refuted is the bound.
"""

from __future__ import annotations

import heapq
import itertools
from collections.abc import Iterator, Sequence
from dataclasses import replace

from fitplan.budget import LATE, Budget
from fitplan.model.placed import Rebuild
from fitplan.packing.vehicle.body_support import carrying
from fitplan.packing.vehicle.pack import Packer
from fitplan.packing.vehicle.packing import Packing
from fitplan.packing.vehicle.seats import Wanted

MOST_SETS = 200_000
"""Sets of bricks that are looked at; most are settled by what is known of others."""


def pack_with_rebuild(
    packer: Packer, name: str, wanted: Sequence[Wanted], budget: Budget | None = None
) -> Packing:
    """Put parts into a vehicle, taking out the cheapest removable bricks when it does not go without.

    The verdict is *cannot fit* only when it is proved with every removable brick out.

    Parameters
    ----------
    budget
        For the search among sets of bricks; when it is used up, the answer is *not decided*.
    """
    found = whether_with_rebuild(packer, name, wanted, budget)
    if not found.holds:
        return found
    removed = frozenset(found.rebuild.remove if found.rebuild else ())
    return found.placed(packer.pack_as_it_is(name, wanted, removed).placements)


def whether_with_rebuild(
    packer: Packer, name: str, wanted: Sequence[Wanted], budget: Budget | None = None
) -> Packing:
    """Return what `pack_with_rebuild` does but for the places, and what is added to carry the parts there."""
    costs = {entry.name: entry.cost for entry in packer.vehicle(name).removables}
    plain = packer.without_places(name, wanted, proofs=not costs)
    if plain.verdict == "fits" or not costs:
        return plain
    # What cannot go in with every removable brick out cannot go in with any of them in place.
    everything = packer.without_places(name, wanted, frozenset(costs))
    work = plain.work + everything.work
    if everything.verdict != "fits":
        return replace(everything, work=work)
    least = _LeastRebuild(packer, name, wanted, costs, budget or Budget.usual().share("rebuild"))
    least.known[frozenset(costs)] = everything
    found = least.cheapest()
    if found is not None:
        return replace(found, work=work + least.work)
    late = least.cut_short and least.budget.late
    return replace(plain, verdict="not decided", reason=least.why_not(), work=work + least.work, late=late)


class _LeastRebuild:
    """The search for the cheapest set of bricks, and the steps that it has taken."""

    def __init__(
        self, packer: Packer, name: str, wanted: Sequence[Wanted], costs: dict[str, float], budget: Budget
    ) -> None:
        self._packer, self._name, self._wanted, self._costs = packer, name, wanted, costs
        self.budget, self.work, self._sets = budget, 0, 0
        self.known: dict[frozenset[str], Packing] = {}
        self.cut_short = False
        self._hanging: tuple[frozenset[str], str] | None = None
        self._undecided = 0

    def cheapest(self) -> Packing | None:
        """Return what is found with the cheapest bricks out; None when the budget is used up first."""
        vehicle = self._packer.vehicle(self._name)
        refuted: list[frozenset[str]] = []
        least: float | None = None
        for cost, names in _by_cost(self._costs):
            if self._sets >= MOST_SETS or self.budget.used_up(self.work):
                self.cut_short = True
                return None
            self._sets += 1
            if any(names <= known for known in refuted):
                continue
            packing = self._pack(names)
            if packing.verdict == "fits":
                held = carrying(vehicle, names)
                if not held.holds:
                    self._hanging = self._hanging or (names, held.text)
                    continue
                proved = cost if least is None else min(least, cost)
                rebuild = Rebuild(self._name, tuple(sorted(names)), (), cost, proved, held.text)
                return replace(packing, verdict="fits after a rebuild", rebuild=rebuild)
            if packing.verdict == "cannot fit":
                refuted.append(self._grown(names))
            else:
                self._undecided += 1
                least = cost if least is None else least
        return None

    def why_not(self) -> str:
        """Say why no rebuild was found, once the search has ended without one."""
        said: list[str] = []
        if self.cut_short:
            said.append(f"{LATE if self.budget.late else 'the usual work was done'} before the least rebuild"
                        " was found")  # fmt: skip
        if self._hanging is not None:
            names, text = self._hanging
            said.append(f"with {', '.join(sorted(names))} out it would fit, but {text}")
        if self._undecided:
            said.append(f"for {self._undecided} of the sets of bricks that were tried it was not decided")
        return "; ".join(said)

    def _grown(self, names: frozenset[str]) -> frozenset[str]:
        """Add bricks to a refuted set for as long as it stays refuted."""
        grown = names
        for extra in sorted(self._costs, key=lambda brick: (-self._costs[brick], brick)):
            if extra in grown or self.budget.used_up(self.work):
                continue
            if self._pack(grown | {extra}).verdict == "cannot fit":
                grown = grown | {extra}
        return grown

    def _pack(self, names: frozenset[str]) -> Packing:
        if names not in self.known:
            self.known[names] = self._packer.without_places(self._name, self._wanted, names)
            self.work += self.known[names].work
        return self.known[names]


def _by_cost(costs: dict[str, float]) -> Iterator[tuple[float, frozenset[str]]]:
    """Yield every set of bricks, cheapest first, without holding them all."""
    bricks = sorted(costs, key=lambda brick: (costs[brick], brick))
    ticket = itertools.count()
    queue: list[tuple[float, int, int, frozenset[str]]] = [(0.0, next(ticket), 0, frozenset())]
    while queue:
        cost, _, first, names = heapq.heappop(queue)
        yield cost, names
        for position in range(first, len(bricks)):
            brick = bricks[position]
            heapq.heappush(queue, (cost + costs[brick], next(ticket), position + 1, names | {brick}))
