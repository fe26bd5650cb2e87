"""Plans that keep what is built, from holding all of it to holding nothing, until one is complete.

Where a part finds no place, the fewest parts that must make room are looked for with the exact search: all
smaller sets, in all vehicles that it may go into, are asked before. When each of these was refuted, no plan
moves fewer.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace

from fitplan.model.needed import Need
from fitplan.model.plan import Plan
from fitplan.model.train import Train
from fitplan.packing.vehicle.seats import Wanted
from fitplan.planning.kept import NOTHING_RELEASED, Released, held_train, may_stay, sets_to_release
from fitplan.planning.run_state import PlanningRun, PlanOptions


@dataclass(frozen=True)
class _RoomMade:
    """Parts of a vehicle that make room, and whether it is proved that fewer do not."""

    vehicle: str
    parts: frozenset[str]
    least: int


def plan_kept(train: Train, options: PlanOptions, planned: Callable[[Released], Plan]) -> Plan:
    """Return the plan that keeps most of what is built; `Plan.rework` says what it does not keep.

    Parameters
    ----------
    planned
        Plans the train with some of what is built released, and tells the rework.
    """
    best = planned(NOTHING_RELEASED)
    least = 0
    if not _sound(best):
        for released, proved in _wider(train, options, best):
            least = proved
            plan = planned(released)
            best = min(best, plan, key=_worse)
            if _sound(plan):
                break
    moved = sum(one.change == "moved" and one.thing == "part" for one in best.rework.changes)
    more = min(least, moved)
    rework = replace(best.rework, least=best.rework.least + more, least_moved=more)
    return replace(best, rework=rework)


def _wider(train: Train, options: PlanOptions, plan: Plan) -> Iterator[tuple[Released, int]]:
    """Yield what else is released, less first, and how many parts are proved to have to make room."""
    needs = {need.name: need for need in train.needs}
    shut_out = [needs[name] for name, _ in plan.unplaced if name in needs]
    rooms = [room for need in shut_out if (room := _least_room(train, options, need)) is not None]
    least = sum(room.least for room in rooms)
    vehicles = frozenset(room.vehicle for room in rooms) | _at_fault(plan)
    parts = frozenset(name for room in rooms for name in room.parts)
    if vehicles:
        yield Released(parts, vehicles), least
        there = frozenset(one.need for one in train.as_built.parts if one.vehicle in vehicles)
        yield Released(there, vehicles), least
    yield Released(everything=True), least


def _sound(plan: Plan) -> bool:
    return plan.complete and not plan.assembly_blocked


def _worse(plan: Plan) -> tuple[int, ...]:
    return (
        len(plan.unplaced),
        len(plan.built.harness.unreached),
        len(plan.assembly_blocked),
        plan.rework.undone,
    )


def _at_fault(plan: Plan) -> frozenset[str]:
    """Return the vehicles in which something is not reached or does not go in."""
    built = plan.built
    names = {entry.name for entry in built.train.vehicles}
    found = {built.vehicle_of(one.owner) or one.owner for one in built.harness.unreached}
    inside = {need for step in plan.assembly for need in step.needs}
    found |= {one.vehicle for one in built.placements if one.need not in inside}
    return frozenset(found & names)


def _least_room(train: Train, options: PlanOptions, need: Need) -> _RoomMade | None:
    """Return the fewest parts of a vehicle that must be free for a need's part to go in; None: none help."""
    vehicles = need.vehicles or tuple(entry.name for entry in train.vehicles)
    if need.bound_to:
        vehicles = (need.bound_to,)
    asked = [
        (len(chosen), vehicle, chosen)
        for vehicle in vehicles
        for chosen in ((), *sets_to_release(train, vehicle))
    ]
    refuted = True
    least = 0
    for size, vehicle, chosen in sorted(asked, key=lambda one: one[0]):
        if refuted:
            least = size
        freed = Released(frozenset(chosen), frozenset({vehicle}))
        held = held_train(train, freed)
        run = PlanningRun.of(held, options)
        there = [one for one in train.as_built.parts if one.vehicle == vehicle and may_stay(train, one)]
        for part in need.candidates:
            wanted = [Wanted(held.need(need.name), part)]
            for one in there:
                mine = held.need(one.need)
                same = next(entry for entry in mine.candidates if entry.id == one.part)
                if one.need != need.name:
                    wanted.append(Wanted(mine, same))
            packing = run.pack(vehicle, tuple(wanted))
            if packing.holds:
                return _RoomMade(vehicle, frozenset(chosen), least)
            refuted = refuted and packing.verdict == "cannot fit"
    return None
