"""One vehicle whose wires do not all run: its parts are laid elsewhere until they do.

Each try guesses a lane for the wires, lays the parts loosely round it (`packing.vehicle.roomy_places`), asks
for ways in and out, and runs the wires of this vehicle alone. What fails teaches the next try: pins that were
not reached want more room, and where a bundle was squeezed parts keep off.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from fitplan.kernels import reused_memory
from fitplan.lattice.cover import TENTHS
from fitplan.model.built import BuiltTrain
from fitplan.model.solids import Box
from fitplan.model.wired import Harness
from fitplan.packing.access.exchange import accesses, exchanges_in
from fitplan.packing.vehicle.packing import Packing
from fitplan.packing.vehicle.seats import Wanted
from fitplan.packing.vehicle.wishes import KeepClear
from fitplan.planning.fastenings import standing_badly
from fitplan.planning.run_state import PlanningRun
from fitplan.planning.wire_wishes import cavity_box, lanes, squeezed, wishes_of
from fitplan.routing.harness.harness import VehicleTried, WiredTrain, try_vehicle

MOST_TRIES = 9
"""So many layouts of one vehicle are wired."""

ENOUGH = 2
"""After so many tries more it is let be that something cannot be exchanged as allowed."""

Faults = tuple[int, int, int, int]
"""What is not reached, parts without a way in, what cannot be exchanged as allowed, what would tip."""


@dataclass(frozen=True)
class PlacedVehicle:
    """Places of a vehicle's parts, and what is wrong with them."""

    packing: Packing
    faults: Faults
    length_mm: float


def place_vehicle(
    run: PlanningRun, built: BuiltTrain, wired: WiredTrain, packing: Packing
) -> PlacedVehicle | None:
    """Return better places for the parts of one vehicle; None when none are found.

    Parameters
    ----------
    built, wired
        The train as it stands, with this vehicle at fault.
    packing
        The vehicle as it is packed now.
    """
    entry = built.train.vehicle(packing.vehicle)
    wanted = tuple(Wanted(built.train.need(place.need), place.part) for place in packing.placements)
    removed = frozenset(packing.rebuild.remove if packing.rebuild else ())
    space = run.packer.cavity(packing.vehicle, removed).sure
    hull = Box(
        (space.hull[0] / TENTHS, space.hull[1] / TENTHS, space.hull[2] / TENTHS),
        (space.hull[3] / TENTHS, space.hull[4] / TENTHS, space.hull[5] / TENTHS),
    )
    room = cavity_box(np.array(space.obstacles, dtype=float).reshape(-1, 6) / TENTHS, hull)
    wishes = wishes_of(built, entry)
    guesses = list(lanes(built, entry, room))
    often = frozenset(
        entry.need.name
        for entry in wanted
        if any(access.often for access in accesses(entry.need, entry.part))
    )
    best: PlacedVehicle | None = None
    learned: tuple[KeepClear, ...] = ()
    dear: frozenset[str] = frozenset()
    for number in range(MOST_TRIES):
        if run.over("better places"):
            break
        guess = guesses[number % len(guesses)]
        asked = replace(wishes, clear=(*wishes.clear, *guess, *learned), dear=dear)
        found = run.packer.pack_roomily(
            packing.vehicle, wanted, removed, asked, come_out=often, seed=run.options.seed + number
        )
        if found is None:
            continue
        found = packing.placed(found.placements)
        placed, tried = _judge(run, built, wired, found)
        if best is None or (placed.faults, placed.length_mm) < (best.faults, best.length_mm):
            best = placed
        # On an open deck all sides are ways out: what is shut in there lies wrongly, and is laid again.
        counted = 3 if entry.vehicle.load_top else 2
        if not any(placed.faults) or (not any(best.faults[:counted]) and number >= ENOUGH):
            break
        here = {entry.need.name for entry in wanted}
        dear |= {lost.owner for lost in tried.lost if lost.owner in here}
        learned = (*learned, *squeezed(box for squeeze in tried.squeezes for box in squeeze.boxes))
    return best


def _judge(
    run: PlanningRun, built: BuiltTrain, wired: WiredTrain, packing: Packing
) -> tuple[PlacedVehicle, VehicleTried]:
    """Ask for ways in and out, and run the wires of one vehicle."""
    name = packing.vehicle
    entry = built.train.vehicle(name)
    others = tuple(place for place in built.placements if place.vehicle != name)
    moved = replace(built, placements=(*others, *packing.placements), fastenings=())
    removed = frozenset(packing.rebuild.remove if packing.rebuild else ())
    order = run.assembly(name, packing.placements, removed)
    inside = sum(len(step.needs) for step in order.steps)
    needs = {place.need: built.train.need(place.need) for place in packing.placements}
    reached = exchanges_in(
        entry.vehicle, needs, packing.placements, removed, only_often=True, filled=run.filled
    )
    shut = sum(not one.within(needs[one.need]) for one in reached)
    with reused_memory():
        tried = try_vehicle(moved, wired, name, run.options.budget, run.wired_before)
    tipping = standing_badly(replace(moved, placements=packing.placements, harness=Harness()))
    faults = (len(tried.lost), len(packing.placements) - inside, shut, len(tipping))
    return PlacedVehicle(packing, faults, tried.length_mm), tried
