"""What stands in the way of a wire that reaches nothing: asked by leaving out one thing after the other.

Only told beside a reason that is known already; it decides nothing.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace

from fitplan.model.built import BuiltTrain
from fitplan.model.placed import Placement
from fitplan.model.vehicle import Vehicle
from fitplan.model.wired import Unreached
from fitplan.model.words import listed
from fitplan.routing.map.ends import NetEnd, ResolvedNet, resolve
from fitplan.routing.map.reaches import reach_of
from fitplan.routing.map.vehicle_map import VehicleMap
from fitplan.routing.negotiation.leads_on import LeadsOn


@dataclass(frozen=True)
class _Lost:
    """A pin or a port that a net does not reach in a vehicle, and what it would have to be joined with."""

    here: NetEnd | str
    others: tuple[NetEnd | str, ...]
    diameter: float


@dataclass(frozen=True)
class _Without:
    """A vehicle with one thing, or many, left out; ``words`` say that it is in the way."""

    words: str
    vehicle: Vehicle
    placements: tuple[Placement, ...]
    owner: str = ""
    """Whose body is left out: of what is joined none may be."""


def with_what_stands_in_the_way(built: BuiltTrain, diameters: Mapping[str, float]) -> BuiltTrain:
    """Return a train whose reasons for what is not reached name what stands in the way, where that is known.

    Parameters
    ----------
    diameters
        Outer diameter of each net's wire, in mm.
    """
    lost: dict[str, dict[Unreached, _Lost]] = defaultdict(dict)
    nets = {net.net.name: net for net in resolve(built)[0]}
    names = {entry.name for entry in built.train.vehicles}
    for one in built.harness.unreached:
        vehicle = built.vehicle_of(one.owner) or one.owner
        if vehicle in names and one.net in nets and not one.undecided:
            found = _lost(built, vehicle, nets[one.net], one, diameters[one.net])
            if found is not None:
                lost[vehicle][one] = found
    why: dict[Unreached, str] = {}
    for vehicle, mine in lost.items():
        why |= _in_the_way(built, vehicle, mine)
    told = tuple(
        replace(one, reason=f"{one.reason}: {why[one]}") if why.get(one) else one
        for one in built.harness.unreached
    )
    return replace(built, harness=replace(built.harness, unreached=told))


def _lost(built: BuiltTrain, vehicle: str, net: ResolvedNet, one: Unreached, diameter: float) -> _Lost | None:
    """Return what is lost in a vehicle; None where that is no pin and no port, or is joined with nothing."""
    entry = built.train.vehicle(vehicle)
    order = {other.name: number for number, other in enumerate(built.train.vehicles)}
    here: NetEnd | str | None = next(
        (end for end in net.ends if (one.owner, one.pin) in {(pin.owner, pin.pin) for pin in end.pins}), None
    )
    if here is None and one.owner == vehicle and one.pin in {port.name for port in entry.vehicle.ports}:
        here = one.pin
    if here is None:
        return None
    others: list[NetEnd | str] = [end for end in net.ends if end.vehicle == vehicle and end is not here]
    for ports, beyond in ((entry.ports_at("ahead"), -1), (entry.ports_at("behind"), 1)):
        passed = any((order[end.vehicle] - order[vehicle]) * beyond > 0 for end in net.ends)
        here_too = here in {port.name for port in ports}
        others += [port.name for port in ports if passed and not here_too]
    return _Lost(here, tuple(others), diameter) if others else None


def _in_the_way(built: BuiltTrain, vehicle: str, lost: Mapping[Unreached, _Lost]) -> dict[Unreached, str]:
    """Return of each that is lost in a vehicle what is in its way; empty where one wire alone finds a way."""
    body = built.train.vehicle(vehicle).vehicle
    inside = tuple(place for place in built.placements if place.vehicle == vehicle)

    def joined(without: _Without, which: Iterable[Unreached]) -> set[Unreached]:
        map_ = VehicleMap.of(vehicle, without.vehicle, without.placements, built.taken_out(vehicle))
        rooms = LeadsOn({vehicle: map_})
        return {one for one in which if _is_joined(rooms, map_, lost[one])}

    left = set(lost) - joined(_Without("", body, inside), lost)
    found: dict[Unreached, list[str]] = {one: [] for one in left}
    for without in _singles(vehicle, body, inside):
        asked = {one for one in left if without.owner not in _owners(lost[one])}
        for one in joined(without, asked) if asked else ():
            found[one].append(without.words)
    owners = {owner for one in left for owner in _owners(lost[one])}
    why = {one: f"{listed(names, 'or')} is in the way" for one, names in found.items() if names}
    bare, empty = tuple(place for place in inside if place.need in owners), replace(body, built_in=())
    for without in (
        _Without("several parts together are in the way", body, bare),
        _Without("all that is built in is in the way", empty, inside),
        _Without("parts and what is built in are in the way", empty, bare),
    ):
        if more := left - set(why):
            why |= dict.fromkeys(joined(without, more), without.words)
    bodies = VehicleMap.of(vehicle, empty, bare, built.taken_out(vehicle))
    shut = {one: _shut_words(bodies, lost[one]) for one in left}
    return {**shut, **why}


def _shut_words(map_: VehicleMap, lost: _Lost) -> str:
    """Say what parts an end from the others of its net where nothing but walls can: a wall, or a coupling."""
    ends = [end for end in (lost.here, *lost.others) if isinstance(end, NetEnd)]
    rooms = LeadsOn({map_.name: map_})
    for side in ("+x", "-x") if len(ends) == 1 + len(lost.others) else ():
        names = [port.name for port in map_.vehicle.ports if port.out == side]
        mine, *others = ({name for name in names if _leads_to(rooms, map_, lost, name, end)} for end in ends)
        if mine and all(others):
            theirs = set().union(*others)
            return (
                f"it lies in a room of {map_.name} that leads out by {_called(names, mine)}, the rest of the "
                f"net in one that leads out by {_called(names, theirs)}, and no wire is led out of a vehicle "
                "and back in"
            )
    return "no way past the walls is known, even without any part"


def _called(names: Iterable[str], which: set[str]) -> str:
    return (
        f"the port{'s' if len(which) > 1 else ''} {listed([name for name in names if name in which], 'or')}"
    )


def _leads_to(rooms: LeadsOn, map_: VehicleMap, lost: _Lost, port: str, end: NetEnd) -> bool:
    """Return whether a wire gets from a port to an end."""
    goal = reach_of(end, map_).voxels
    return rooms.joined(map_.name, lost.diameter, rooms.mouths(map_.name, (port,)), goal)


def _singles(vehicle: str, body: Vehicle, inside: tuple[Placement, ...]) -> Iterator[_Without]:
    """Yield a vehicle without one thing each: room that is kept clear, a part, or what is built in."""
    for number, place in enumerate(inside):
        others = (*inside[:number], *inside[number + 1 :])
        for clearance in place.part.clearances:
            if not clearance.lets_wires_through:
                rest = tuple(one for one in place.part.clearances if one is not clearance)
                roomier = replace(place, part=replace(place.part, clearances=rest))
                words = f"the room that {place.need} keeps for {clearance.name}"
                yield _Without(words, body, (*others, roomier))
        yield _Without(place.need, body, others, place.need)
    for one in body.built_in:
        rest_of_it = tuple(other for other in body.built_in if other is not one)
        yield _Without(one.name, replace(body, built_in=rest_of_it), inside, f"{vehicle}/{one.name}")


def _owners(lost: _Lost) -> set[str]:
    return {end.owner for end in (lost.here, *lost.others) if isinstance(end, NetEnd)}


def _is_joined(rooms: LeadsOn, map_: VehicleMap, lost: _Lost) -> bool:
    """Return whether a wire gets to any of those that it would have to be joined with."""
    here, *others = (
        rooms.mouths(map_.name, (end,)) if isinstance(end, str) else reach_of(end, map_).voxels
        for end in (lost.here, *lost.others)
    )
    return any(rooms.joined(map_.name, lost.diameter, here, other) for other in others)
