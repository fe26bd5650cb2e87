"""A ranger is brought into the middle of its window, where the other parts of the vehicle can make way.

The exact search packs from a corner, and a lens has any place in its outline: in a curve a beam far from the
middle leaves the track sooner. Before wires run, a vehicle in which a lens lies aside is packed once more
with that lens held to the middle; the new places stand when all parts have one, go in and come out no worse
than before. Nothing is proved by it, and where wires then find no way parts are laid elsewhere as ever.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from fitplan.model.placed import Placement
from fitplan.model.train import Train
from fitplan.packing.access.exchange import exchanges_in
from fitplan.packing.vehicle.middles import held_in_the_middle
from fitplan.packing.vehicle.pack import Packer
from fitplan.packing.vehicle.packing import Packing
from fitplan.packing.vehicle.seats import Wanted
from fitplan.planning.run_state import PlanningRun
from fitplan.planning.vehicle_places import SHARE

ASIDE_MM = 1.0
"""A lens no further beside the middle of its window is left there: no part is stuck in place truer."""


def with_lenses_in_the_middle(
    run: PlanningRun, train: Train, packings: tuple[Packing, ...]
) -> tuple[Packing, ...]:
    """Return packings with rangers in the middle of their windows where that costs nothing else."""
    return tuple(_with_middles(run, train, packing) for packing in packings)


def _with_middles(run: PlanningRun, train: Train, packing: Packing) -> Packing:
    vehicle = train.vehicle(packing.vehicle).vehicle
    held = {
        place.need: entry
        for place in packing.placements
        if (entry := held_in_the_middle(Wanted(train.need(place.need), place.part), vehicle, place, ASIDE_MM))
    }
    if not held or run.over("better places"):
        return packing
    return packed_with(run, train, packing, held) or packing


def packed_with(
    run: PlanningRun, train: Train, packing: Packing, held: Mapping[str, Wanted]
) -> Packing | None:
    """Return the vehicle packed with some parts held; None when that goes worse than before."""
    name = packing.vehicle
    removed = frozenset(packing.rebuild.remove if packing.rebuild else ())
    wanted = tuple(
        held.get(place.need) or Wanted(train.need(place.need), place.part) for place in packing.placements
    )
    # A packer of its own: the one of the run remembers needs by name, and these are held elsewhere.
    vehicles = {name: train.vehicle(name).vehicle}
    packer = Packer(vehicles, run.options.budget.part(SHARE), seed=run.options.seed)
    fresh = packer.pack_as_it_is(name, wanted, removed, proofs=False)
    if fresh.verdict != "fits" or _worse(run, train, packing.placements, fresh.placements, name, removed):
        return None
    return packing.placed(fresh.placements)


def _worse(
    run: PlanningRun,
    train: Train,
    before: Sequence[Placement],
    after: Sequence[Placement],
    name: str,
    removed: frozenset[str],
) -> bool:
    """Return whether more has no way in, cannot be exchanged as allowed, or would tip."""
    counts = []
    for placements in (before, after):
        needs = {place.need: train.need(place.need) for place in placements}
        inside = len(run.going_in(name, placements, removed))
        reached = exchanges_in(
            train.vehicle(name).vehicle, needs, placements, removed, only_often=True, filled=run.filled
        )
        shut = sum(not one.within(needs[one.need]) for one in reached)
        counts.append((len(placements) - inside, shut, sum(not place.steady for place in placements)))
    return any(late > early for early, late in zip(*counts, strict=True))
