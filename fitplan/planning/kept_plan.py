"""Plans that keep what is built, from holding all of it to holding nothing, until one is complete.

What no longer does with all that is wanted is exchanged (`fitplan.planning.outgrown`) where that undoes
little beside. Where a part finds no place, the fewest parts that must make room are looked for with the exact
search: all smaller sets, in all vehicles that it may go into, are asked before. When each was refuted, no
plan moves fewer. Wires stay with all parts that stay as long as that is complete; then those of a vehicle at
fault are laid anew; then one part in it makes way, that with the fewest wires first. The same is done where a
stop that names what is new stands, and would not if nothing were built: a horn that only finds a place before
the cells.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cache
from typing import TypeAlias

from fitplan.model.found import Finding
from fitplan.model.needed import Need
from fitplan.model.plan import Plan
from fitplan.model.train import Train
from fitplan.packing.vehicle.seats import Wanted
from fitplan.planning.kept import NOTHING_RELEASED, Released, held_train, may_stay, sets_to_release
from fitplan.planning.lost_ends import lost_ends
from fitplan.planning.outgrown import outgrown
from fitplan.planning.run_state import PlanningRun, PlanOptions

MOST_ALONE = 6
"""So many parts are asked to make way for wires, one at a time, before all of a vehicle are."""

_OTHER = ("new", "exchanged")
"""What happens to parts that are not as they were built wherever they lie."""
_OF_PARTS_ALONE = frozenset({"nets", "asked", "pins", "supply"})
"""Subjects whose stops hang on nets and parts: no other place mends them, and `outgrown` exchanges parts."""


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
    planned = cache(planned)
    first = planned(NOTHING_RELEASED)
    best, least = first, 0
    if (old := outgrown(train, first)).parts:
        found, room = _widened(train, options, planned, planned(Released(old.parts)), _LITTLE, old.parts)
        if _sound(found):
            best, least = _with_reason(found, old.parts, old.why), room
    if not _sound(best):
        best, least = _widened(train, options, planned, first, (*_LITTLE, *_MUCH))
    if _sound(best) and any(one.subject not in _OF_PARTS_ALONE for one in _brought(best)):
        best, least = _with_fewer_stops(train, options, planned, best, least)
    moved = sum(one.change == "moved" and one.thing == "part" for one in best.rework.changes)
    more = min(least, moved)
    rework = replace(best.rework, least=best.rework.least + more, least_moved=more)
    return replace(best, rework=rework)


def _widened(
    train: Train,
    options: PlanOptions,
    planned: Callable[[Released], Plan],
    first: Plan,
    steps: Sequence[_Widening],
    exchanged: frozenset[str] = frozenset(),
    most: tuple[float, float] = (math.inf, math.inf),
) -> tuple[Plan, int]:
    """Return the first plan that is complete as more and more is released, else the best; and what must move.

    Parameters
    ----------
    first
        The plan with nothing released but what is ``exchanged``.
    most
        A plan with more stops that name what is new, or with more in all, is not taken while anything else is
        left to release.
    """

    def does(plan: Plan) -> bool:
        return _sound(plan) and len(_brought(plan)) <= most[0] and len(_stopping(plan)) <= most[1]

    last = best = first
    if does(best):
        return best, 0
    rooms = _rooms_made(train, options, best)
    done = {Released(exchanged)}
    for wider in steps:
        for narrower in wider(train, rooms, last):
            released = replace(narrower, parts=narrower.parts | exchanged)
            if released in done:
                continue
            done.add(released)
            last = planned(released)
            best = min(best, last, key=_worse)
            if does(last):
                best = _with_wires_held(best, released, planned)
                return best, sum(room.least for room in rooms)
    return best, sum(room.least for room in rooms)


def _with_fewer_stops(
    train: Train, options: PlanOptions, planned: Callable[[Released], Plan], kept: Plan, least: int
) -> tuple[Plan, int]:
    """Return the plan that undoes little for as few stops as one that keeps nothing, else the one kept.

    Counted are stops that name what is new: others stood before. Where a plan that keeps nothing has as many,
    what is built is not to blame for them.
    """
    free = planned(Released(everything=True))
    fewest, stops = len(_brought(free)), len(_stopping(kept))
    if not _sound(free) or fewest >= len(_brought(kept)) or len(_stopping(free)) > stops:
        return kept, least
    steps = (*_LITTLE, *_MUCH)
    found, least = _widened(train, options, planned, kept, steps, most=(fewest, stops))
    stood, left = _brought(kept), _stopping(found)
    gone = next((one for one in stood if one not in left), stood[0])
    moved = frozenset(one.name for one in found.rework.changes if one.change in ("moved", "exchanged"))
    return _with_reason(found, moved, f"else a stop stands at {gone.where}: {gone.message}"), least


def _with_reason(plan: Plan, parts: frozenset[str], why: str) -> Plan:
    """Return a plan that tells why parts were exchanged or moved."""
    changes = tuple(
        replace(one, why=why) if one.thing == "part" and one.name in parts else one
        for one in plan.rework.changes
    )
    return replace(plan, rework=replace(plan.rework, changes=changes))


def _with_wires_held(best: Plan, released: Released, planned: Callable[[Released], Plan]) -> Plan:
    """Return the plan with the same parts released and all other wires held, where that undoes less."""
    if not released.parts or not released.vehicles:
        return best
    tighter = planned(Released(released.parts))
    return tighter if _sound(tighter) and _worse(tighter) < _worse(best) else best


def _rooms_made(train: Train, options: PlanOptions, plan: Plan) -> tuple[_RoomMade, ...]:
    """Return what makes room for each part that found no place, where anything does."""
    needs = {need.name: need for need in train.needs}
    shut_out = [needs[name] for name, _ in plan.unplaced if name in needs]
    return tuple(room for need in shut_out if (room := _least_room(train, options, need)) is not None)


# Each yields what else is released, given what the last plan lacked; the one before releases less.


def _fewest_parts(train: Train, rooms: Sequence[_RoomMade], plan: Plan) -> Iterator[Released]:
    if rooms:
        yield Released(_parts_of(rooms))


def _their_wires(train: Train, rooms: Sequence[_RoomMade], plan: Plan) -> Iterator[Released]:
    if vehicles := _vehicles_of(rooms) | _at_fault(plan):
        yield Released(_parts_of(rooms), vehicles)


def _one_more(train: Train, rooms: Sequence[_RoomMade], plan: Plan) -> Iterator[Released]:
    at_fault, parts = _at_fault(plan), _parts_of(rooms)
    ends = [end.owner for wire in train.as_built.wires for end in (wire.start, wire.end)]
    there = [
        one.need
        for one in train.as_built.parts
        if one.vehicle in at_fault and one.need not in parts and may_stay(train, one)
    ]
    for need in sorted(there, key=lambda need: (ends.count(need), need))[:MOST_ALONE]:
        yield Released(parts | {need}, at_fault | _vehicles_of(rooms))


def _whole_vehicles(train: Train, rooms: Sequence[_RoomMade], plan: Plan) -> Iterator[Released]:
    if vehicles := _vehicles_of(rooms) | _at_fault(plan):
        there = frozenset(one.need for one in train.as_built.parts if one.vehicle in vehicles)
        yield Released(there, vehicles)


def _everything(train: Train, rooms: Sequence[_RoomMade], plan: Plan) -> Iterator[Released]:
    yield Released(everything=True)


_Widening: TypeAlias = Callable[[Train, Sequence[_RoomMade], Plan], Iterator[Released]]
_LITTLE: tuple[_Widening, ...] = (_fewest_parts, _their_wires, _one_more)
"""So much is undone to exchange a part that no longer does, too: else the checks tell of it."""
_MUCH: tuple[_Widening, ...] = (_whole_vehicles, _everything)


def _parts_of(rooms: Sequence[_RoomMade]) -> frozenset[str]:
    return frozenset(name for room in rooms for name in room.parts)


def _vehicles_of(rooms: Sequence[_RoomMade]) -> frozenset[str]:
    return frozenset(room.vehicle for room in rooms)


def _sound(plan: Plan) -> bool:
    """Return whether all has a place and is wired, and all that is not in already has a way in."""
    if not plan.assembly_blocked:
        return plan.complete
    changed = {one.name for one in plan.rework.changes if one.thing == "part"}
    inside = {need for step in plan.assembly for need in step.needs}
    return plan.complete and not changed & {one.need for one in plan.built.placements} - inside


def _stopping(plan: Plan) -> tuple[Finding, ...]:
    return tuple(one for one in plan.findings if one.severity == "stop")


def _brought(plan: Plan) -> tuple[Finding, ...]:
    """Return the stops that name a part which is new, or another than was built."""
    new = [one.name for one in plan.rework.changes if one.thing == "part" and one.change in _OTHER]
    if not new:
        return ()
    named = re.compile(rf"(?<!\w)({'|'.join(re.escape(name) for name in new)})(?!\w)")
    return tuple(one for one in _stopping(plan) if named.search(f"{one.where}; {one.message}"))


def _worse(plan: Plan) -> tuple[int, ...]:
    """Return what puts plans in order: what is amiss, then how much is undone, then all that is unreached."""
    return (
        len(plan.unplaced),
        len(lost_ends(plan)),
        len(plan.assembly_blocked),
        len(_brought(plan)),
        plan.rework.undone,
        len(plan.built.harness.unreached),
    )


def _at_fault(plan: Plan) -> frozenset[str]:
    """Return the vehicles in which something is not reached or does not go in.

    Where only stops stand that name what is new, its own.
    """
    built = plan.built
    names = {entry.name for entry in built.train.vehicles}
    found = {built.vehicle_of(one.owner) or one.owner for one in built.harness.unreached}
    inside = {need for step in plan.assembly for need in step.needs}
    found |= {one.vehicle for one in built.placements if one.need not in inside}
    if not found and _brought(plan):
        new = {one.name for one in plan.rework.changes if one.thing == "part" and one.change in _OTHER}
        found = {one.vehicle for one in built.placements if one.need in new}
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
