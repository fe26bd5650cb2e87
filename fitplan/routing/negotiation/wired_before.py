"""What was wired already: a vehicle that holds and joins what it did is not wired again, nor is its equal.

Parts are moved in one vehicle after the other until all wires run; the others stay as they are.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable, Iterable, Mapping, Sequence
from dataclasses import replace
from typing import TypeVar

from fitplan.model.placed import Placement
from fitplan.model.solids import Box
from fitplan.model.train import TrainVehicle
from fitplan.routing.map.ends import NetEnd
from fitplan.routing.map.handedness import mirrored_map
from fitplan.routing.map.topology import Portal
from fitplan.routing.map.vehicle_map import VehicleMap
from fitplan.routing.negotiation.lanes import GetOn
from fitplan.routing.negotiation.layout import CouplingPorts, DrawnTight, LaidSegment, Layout
from fitplan.routing.negotiation.net_joining import NetTask
from fitplan.routing.negotiation.twins import Names, portals_of, question_of, retell
from fitplan.routing.negotiation.vehicle_wiring import VehicleRouting

MOST_KEPT = 2
"""Maps and wirings of one vehicle that are kept, the last ones: a map takes tens of megabytes."""
MOST_TWINS = 4
"""Wirings that are kept for equal vehicles, the last ones."""
T = TypeVar("T")


class WiredBefore:
    """The last maps and wirings of each vehicle.

    Attributes
    ----------
    tight
        What came of segments drawn tight, by ``id`` of the segment, which is kept beside it.
    """

    def __init__(self) -> None:
        self._maps: dict[str, dict[Hashable, VehicleMap]] = {}
        self._wirings: dict[str, dict[Hashable, VehicleRouting]] = {}
        self._state: dict[str, Hashable] = {}
        self._lies: dict[str, Hashable] = {}
        self._inside: dict[str, tuple[Placement, ...]] = {}
        self._twins: dict[Hashable, tuple[VehicleRouting, Names]] = {}
        self._get_on: dict[str, dict[Hashable, dict[str, int]]] = {}
        self.tight: dict[int, tuple[LaidSegment, DrawnTight]] = {}

    def of(self, vehicle: str) -> WiredBefore:
        """Return what is known of one vehicle."""
        other = WiredBefore()
        other._maps[vehicle] = self._maps.get(vehicle, {})
        other._wirings[vehicle] = self._wirings.get(vehicle, {})
        other._get_on[vehicle] = self._get_on.get(vehicle, {})
        laid = (id(one) for wiring in other._wirings[vehicle].values() for one in wiring.laid)
        other.tight = {key: self.tight[key] for key in laid if key in self.tight}
        return other

    def learn(self, other: WiredBefore) -> None:
        """Take over what is known elsewhere."""
        for vehicle, maps in other._maps.items():
            _add(self._maps.setdefault(vehicle, {}), maps)
        for vehicle, wirings in other._wirings.items():
            _add(self._wirings.setdefault(vehicle, {}), wirings)
        for vehicle, counts in other._get_on.items():
            _add(self._get_on.setdefault(vehicle, {}), counts)
        self.tight |= other.tight

    def __getstate__(self) -> dict[str, object]:
        """Carry what is known by ``id`` to another process without."""
        return {**self.__dict__, "tight": list(self.tight.values())}

    def __setstate__(self, state: dict[str, object]) -> None:
        """Know it by ``id`` again."""
        self.__dict__.update(state)
        self.tight = {id(one): (one, drawn) for one, drawn in self.__dict__["tight"]}

    def map_of(
        self,
        entry: TrainVehicle,
        inside: tuple[Placement, ...],
        removed: frozenset[str],
        straps: tuple[Box, ...] = (),
    ) -> VehicleMap:
        """Return the map of a vehicle with its parts in it and room kept for straps over them."""
        lies = tuple((place.need, place.part.id, place.place, place.shelf) for place in inside)
        state = (lies, removed, straps)
        self._state[entry.name] = state
        self._inside[entry.name] = inside
        nameless = tuple((place.part.id, place.place, place.shelf) for place in inside)
        self._lies[entry.name] = (replace(entry.vehicle, name=""), nameless, removed, straps)
        return _kept(
            self._maps.setdefault(entry.name, {}),
            (state, False),
            lambda: VehicleMap.of(entry.name, entry.vehicle, inside, removed, straps),
        )

    def image_of(self, map_: VehicleMap) -> VehicleMap:
        """Return the map of the mirror image of the vehicle whose map was asked for last under its name."""
        key = (self._state[map_.name], True)
        return _kept(self._maps[map_.name], key, lambda: mirrored_map(map_))

    def get_on(self, vehicles: Iterable[str]) -> GetOn:
        """Return how many conductors get on behind ports of some vehicles, as their parts lie now."""
        return {
            (name, port): count
            for name in vehicles
            for port, count in self._get_on.get(name, {}).get(self._state[name], {}).items()
        }

    def keep_get_on(self, counts: GetOn) -> None:
        """Remember how many conductors get on behind some ports as the parts lie now."""
        by_vehicle: dict[str, dict[str, int]] = {}
        for (name, port), count in counts.items():
            by_vehicle.setdefault(name, {})[port] = count
        for name, ports in by_vehicle.items():
            told = self._get_on.setdefault(name, {}).get(self._state[name], {})
            _add(self._get_on[name], {self._state[name]: told | ports})

    def wired(
        self,
        work: VehicleRouting,
        couplings: Mapping[Portal, CouplingPorts],
        image: bool,
    ) -> VehicleRouting | None:
        """Return how a vehicle was wired when nothing has changed for it, or an equal one; else None.

        Where it is not only tried, a try counts only if it can be finished.
        """
        same = self._wirings.get(work.vehicle, {}).get(self._key(work, couplings, image))
        if same is not None and (work.trying or not same.trying or same.can_be_finished):
            return same
        if work.kept:
            return None
        own = Names.of(work, self._inside[work.vehicle], couplings)
        done, names = self._twins.get(self._kind(work, own, couplings, image), (None, own))
        if done is None or (done.trying and not work.trying):
            return None
        return retell(done, names, work, own)

    def keep(self, done: VehicleRouting, couplings: Mapping[Portal, CouplingPorts], image: bool) -> None:
        """Remember how a vehicle is wired."""
        if not done.kept and not done.cut_short and len(done.layout.maps) > 1:
            names = Names.of(done, self._inside[done.vehicle], couplings)
            kind = self._kind(done, names, couplings, image)
            if kind in self._twins and not done.trying:
                del self._twins[kind]
            _kept(self._twins, kind, lambda: (done, names), MOST_TWINS)
        done.layout = Layout({done.vehicle: done.map})  # the whole one need not be kept
        kept, key = self._wirings.setdefault(done.vehicle, {}), self._key(done, couplings, image)
        if key in kept and not done.trying:
            del kept[key]
        _kept(kept, key, lambda: done)

    def kind(self, work: VehicleRouting, couplings: Mapping[Portal, CouplingPorts], image: bool) -> Hashable:
        """Return what equal vehicles have in common; nothing else has it."""
        if work.kept:
            return work.vehicle
        return self._kind(work, Names.of(work, self._inside[work.vehicle], couplings), couplings, image)

    def _kind(
        self, work: VehicleRouting, names: Names, couplings: Mapping[Portal, CouplingPorts], image: bool
    ) -> Hashable:
        return (self._lies[work.vehicle], question_of(work, names, couplings, image))

    def _key(self, work: VehicleRouting, couplings: Mapping[Portal, CouplingPorts], image: bool) -> Hashable:
        portals = portals_of(work)
        passed = tuple(
            (
                portal,
                couplings[portal].ahead,
                couplings[portal].port_ahead.name,
                couplings[portal].port_behind.name,
            )
            for portal in couplings
            if portal in portals
        )
        nets = tuple(
            (task.net.net, _seen(task, work.vehicle), tuple(map(tuple, task.lanes)), task.groups)
            for task in work.tasks
        )
        thick = tuple(work.diameters[task.net.net.name] for task in work.tasks)
        kept = tuple((one.wire, one.segment, one.points) for one in work.kept)
        return (self._state[work.vehicle], image, nets, thick, passed, kept)


def _seen(task: NetTask, vehicle: str) -> Sequence[Hashable]:
    """Return what a vehicle's wiring knows of a net's ends: where they are only of those inside."""
    return tuple(end if end.vehicle == vehicle else _name(end) for end in task.net.ends)


def _name(end: NetEnd) -> Hashable:
    return (end.vehicle, end.owner, end.pin, end.places, end.board)


def _add(mine: dict[Hashable, T], theirs: Mapping[Hashable, T]) -> None:
    """Add what is kept elsewhere; only the last few are kept."""
    for key, one in theirs.items():
        mine.pop(key, None)
        mine[key] = one
    for old in list(mine)[:-MOST_KEPT]:
        del mine[old]


def _kept(kept: dict[Hashable, T], key: Hashable, make: Callable[[], T], most: int = MOST_KEPT) -> T:
    """Return what is kept under a key, made when it is not; only the last few are kept."""
    found = kept.pop(key) if key in kept else make()
    kept[key] = found
    for old in list(kept)[:-most]:
        del kept[old]
    return found
