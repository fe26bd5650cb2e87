"""Lanes over the couplings: which ports each conductor passes, as far as these are known to carry all."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType
from typing import TypeAlias

from fitplan.model.solids import Vec
from fitplan.model.train import Train, TrainVehicle
from fitplan.model.vehicle import Port
from fitplan.model.wired import Unreached
from fitplan.routing.map.bundles import bundle_diameter
from fitplan.routing.map.port_room import Passage
from fitplan.routing.map.topology import Portal
from fitplan.routing.map.vehicle_map import VehicleMap
from fitplan.routing.negotiation.layout import CouplingPorts
from fitplan.routing.negotiation.leads_on import Goal, LeadsOn

GetOn: TypeAlias = Mapping[tuple[str, str], int]
"""How many conductors get on behind a port, by vehicle and port."""
NOTHING: GetOn = MappingProxyType({})


class Lanes:
    """Gives out the ports of a train, conductor by conductor.

    Parameters
    ----------
    get_on
        How many conductors at most are given a port, by vehicle and port, where more were found not to get on
        behind it.

    Attributes
    ----------
    couplings
        The ports that each portal passes.
    unreached
        Nets that found a coupling full or closed.
    through
        Outer diameters (mm) of the conductors that pass each port, by vehicle and port.
    covered
        Nets that would pass a port if no part stood close behind it, with the vehicle and that port.
    """

    def __init__(self, train: Train, maps: Mapping[str, VehicleMap], get_on: GetOn = NOTHING) -> None:
        self._train = train
        self._maps = maps
        self.names = [entry.name for entry in train.vehicles]
        self.couplings: dict[Portal, CouplingPorts] = {}
        self.unreached: list[Unreached] = []
        self.covered: list[tuple[Unreached, str, Port]] = []
        self._count = 0
        self.through: dict[tuple[str, str], list[float]] = {}
        self._full: dict[tuple[str, str], tuple[float, Passage]] = {}
        self._leads_on = LeadsOn(maps)
        self._get_on = get_on

    def portals(
        self, net: str, diameter: float, first: int, last: int, goals: Mapping[str, Sequence[Goal]]
    ) -> dict[int, Portal]:
        """Give one conductor a lane over every coupling that it crosses, but those that have no room.

        Parameters
        ----------
        diameter
            Outer, in mm.
        first, last
            Numbers of the vehicles that the conductor begins and ends in.
        goals
            By vehicle, what it must reach there beside its ports.
        """
        self._count += 1
        found: dict[int, Portal] = {}
        for coupling in range(first, last):
            ahead, behind = self.names[coupling : coupling + 2]
            reach = {name: list(goals.get(name, ())) for name in (ahead, behind)}
            if (before := found.get(coupling - 1)) is not None:
                came_by = self.couplings[before].port_behind.name
                reach[ahead].append(self._leads_on.mouths(ahead, (came_by,)))
            if coupling + 1 < last:
                goes_by = [port.name for port in self._train.vehicles[coupling + 1].ports_at("behind")]
                reach[behind].append(self._leads_on.mouths(behind, goes_by))
            ports = self._nearest_ports(coupling, diameter, reach)
            if isinstance(ports, _Refused):
                here, beyond = self.names[coupling], self.names[coupling + 1]
                lost = Unreached(net, here, beyond, ports.reason, ports.undecided)
                self.unreached.append(lost)
                self.covered += [(lost, vehicle, port) for vehicle, port in ports.covered]
                continue
            portal = Portal(net, coupling, self._count)
            self.couplings[portal] = ports
            found[coupling] = portal
        return found

    def turning_at(self, name: str) -> list[tuple[int, str]]:
        """Return the couplings at which a vehicle has several ports, each with the vehicle beyond it."""
        here, entry = self.names.index(name), self._train.vehicle(name)
        sides = ((here - 1, here - 1, entry.ports_at("ahead")), (here, here + 1, entry.ports_at("behind")))
        return [
            (coupling, self.names[beside])
            for coupling, beside, ports in sides
            if 0 <= beside < len(self.names) and len(ports) > 1
        ]

    def leads_out(self, name: str, coupling: int, diameter: float, goals: Sequence[Goal]) -> bool:
        """Return whether one port at a coupling leads to all of some goals inside a vehicle."""
        entry = self._train.vehicle(name)
        ports = entry.ports_at("behind" if self.names[coupling] == name else "ahead")
        return any(not self._leads_on.missed(name, port.name, diameter, goals) for port in ports)

    def rooms_at(self, name: str, diameter: float, voxels: Goal) -> frozenset[int]:
        """Return the rooms of a vehicle, by number, that a wire of a diameter (mm) may begin in."""
        return self._leads_on.rooms_at(name, diameter, voxels)

    def hold(self, portal: Portal, ports: CouplingPorts, diameter: float) -> None:
        """Take up a conductor that passes a coupling already."""
        self.couplings[portal] = ports
        for vehicle, port in ((ports.ahead, ports.port_ahead), (ports.behind, ports.port_behind)):
            self.through.setdefault((vehicle, port.name), []).append(diameter)

    def _nearest_ports(
        self, coupling: int, wire: float, goals: Mapping[str, Sequence[Goal]]
    ) -> CouplingPorts | _Refused:
        """Return the pair of ports with room left whose mouths are nearest to each other.

        Before all others come those that lead on to the goals, with all that passes them if may be.
        """
        ahead, behind = self._train.vehicles[coupling], self._train.vehicles[coupling + 1]
        ports_ahead, ports_behind = ahead.ports_at("behind"), behind.ports_at("ahead")
        if not ports_ahead or not ports_behind:
            closed = ahead if not ports_ahead else behind
            return _Refused(f"{closed.name} has no wire port at that end")
        pairs = []
        for one in self._mouths(ahead, ports_ahead, wire, goals):
            for other in self._mouths(behind, ports_behind, wire, goals):
                missed = [a + b for a, b in zip(one.missed, other.missed, strict=True)]
                aside = abs(one.at[1] - other.at[1]) + abs(one.at[2] - other.at[2])
                names = (one.port.name, other.port.name)
                pairs.append((missed, round(aside, 3), names, one.port, other.port))
        full: list[_Refused] = []
        for *_, port_ahead, port_behind in sorted(pairs, key=lambda pair: pair[:3]):
            both = ((ahead.name, port_ahead), (behind.name, port_behind))
            refused = next((no for vehicle, port in both if (no := self._refused(vehicle, port, wire))), None)
            if refused is None:
                for vehicle, port in both:
                    self.through.setdefault((vehicle, port.name), []).append(wire)
                return CouplingPorts(coupling, ahead.name, behind.name, port_ahead, port_behind)
            full.append(refused)
        covered = tuple(dict.fromkeys(at for entry in full for at in entry.covered))
        return _Refused(full[0].reason, any(entry.undecided for entry in full), covered)

    def _mouths(
        self, entry: TrainVehicle, ports: Sequence[Port], wire: float, goals: Mapping[str, Sequence[Goal]]
    ) -> list[_Mouth]:
        start, map_ = self._train.starts()[entry.name], self._maps[entry.name]
        reach = goals.get(entry.name, ()) if len(ports) > 1 else ()
        found = []
        for port in ports:
            bundle = bundle_diameter([*self.through.get((entry.name, port.name), ()), wire])
            missed = [self._leads_on.missed(entry.name, port.name, wide, reach) for wide in (wire, bundle)]
            found.append(_Mouth(port, entry.in_train(start, map_.mouth_point(port)), missed))
        return found

    def _refused(self, vehicle: str, port: Port, wire: float) -> _Refused | None:
        """Say why one more conductor does not go through a port, or is not known to; None when it does."""
        key = (vehicle, port.name)
        passing = self.through.get(key, [])
        if len(passing) >= self._get_on.get(key, math.inf):
            return _Refused(
                f"port {port.name} of {vehicle} carries {_counted(passing)}, and not all of one more"
                " got on behind it: not decided",
                undecided=True,
            )
        thinnest, answer = self._full.get(key, (math.inf, Passage("goes through")))
        if wire < thinnest:
            answer = self._maps[vehicle].passage(port, [*passing, wire])
            if answer.holds:
                return None
            self._full[key] = (wire, answer)
        carried = f"port {port.name} of {vehicle} carries {_counted(passing)}"
        if answer.verdict == "cannot":
            return _Refused(f"{carried}, and no more go through: {answer.proof}")
        covered = self._maps[vehicle].goes_without_parts(port, [*passing, wire])
        return _Refused(
            f"{carried}; no arrangement of one more is known and none is proved impossible: not decided",
            undecided=True,
            covered=((vehicle, port),) if covered else (),
        )


@dataclass(frozen=True)
class _Mouth:
    """A port, where its mouth is in the train, and how many goals are missed from it.

    ``missed``: by one more wire alone, and by a bundle of it with those that pass the port already.
    """

    port: Port
    at: Vec
    missed: Sequence[int]


@dataclass(frozen=True)
class _Refused:
    """Why a conductor has no port; ``covered``: vehicle and port where only parts are in its way."""

    reason: str
    undecided: bool = False
    covered: tuple[tuple[str, Port], ...] = ()


def _counted(diameters: Sequence[float]) -> str:
    """Return conductors by diameter in words: ``3 conductors of 1.3 mm and 2 of 0.9 mm``."""
    counts = Counter(diameters)
    said = [f"{counts[wire]} of {wire:g} mm" for wire in sorted(counts, reverse=True)]
    if not said:
        return "none yet"
    noun = " conductor of " if said[0].startswith("1 of") else " conductors of "
    return " and ".join([said[0].replace(" of ", noun), *said[1:]])
