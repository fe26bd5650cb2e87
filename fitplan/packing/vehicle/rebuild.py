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
from time import monotonic

from fitplan.model.plan import Rebuild
from fitplan.packing.vehicle.body_support import carrying
from fitplan.packing.vehicle.pack import Packer, Packing
from fitplan.packing.vehicle.seats import Wanted


def pack_with_rebuild(
    packer: Packer, name: str, wanted: Sequence[Wanted], *, deadline_s: float = 10.0
) -> Packing:
    """Put parts into a vehicle, taking out the cheapest removable bricks when it does not go without.

    The verdict is *cannot fit* only when it is proved with every removable brick out.
    """
    vehicle = packer.vehicle(name)
    costs = {entry.name: entry.cost for entry in vehicle.removables}
    plain = packer.pack_as_it_is(name, wanted, proofs=not costs)
    if plain.verdict == "fits" or not costs:
        return plain
    # What cannot go in with every removable brick out cannot go in with any of them in place.
    everything = packer.pack_as_it_is(name, wanted, frozenset(costs))
    if everything.verdict != "fits":
        return everything
    return _cheapest(packer, name, wanted, costs, monotonic() + deadline_s) or replace(
        plain, verdict="not decided", reason="the least rebuild was not found in time"
    )


def _cheapest(
    packer: Packer, name: str, wanted: Sequence[Wanted], costs: dict[str, float], until: float
) -> Packing | None:
    vehicle = packer.vehicle(name)
    refuted: list[frozenset[str]] = []
    least: float | None = None
    for cost, names in _by_cost(costs):
        if monotonic() > until:
            return None
        if any(names <= known for known in refuted):
            continue
        packing = packer.pack_as_it_is(name, wanted, names)
        if packing.verdict == "fits":
            held = carrying(vehicle, names)
            if not held.holds:
                continue
            shelves = tuple(place.shelf for place in packing.placements if place.shelf is not None)
            proved = cost if least is None else min(least, cost)
            rebuild = Rebuild(name, tuple(sorted(names)), shelves, cost, proved, held.text)
            return replace(packing, verdict="fits after a rebuild", rebuild=rebuild)
        if packing.verdict == "cannot fit":
            refuted.append(_grown(packer, name, wanted, names, costs, until))
        elif least is None:
            least = cost
    return None


def _grown(
    packer: Packer,
    name: str,
    wanted: Sequence[Wanted],
    names: frozenset[str],
    costs: dict[str, float],
    until: float,
) -> frozenset[str]:
    """Add bricks to a refuted set for as long as it stays refuted."""
    grown = names
    for extra in sorted(costs, key=lambda brick: (-costs[brick], brick)):
        if extra in grown or monotonic() > until:
            continue
        if packer.pack_as_it_is(name, wanted, grown | {extra}).verdict == "cannot fit":
            grown = grown | {extra}
    return grown


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
