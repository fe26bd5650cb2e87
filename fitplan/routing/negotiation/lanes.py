"""Lanes over the couplings: which ports each conductor passes, as far as these carry all."""

from __future__ import annotations

from collections.abc import Mapping

from fitplan.model.plan import Unreached
from fitplan.model.train import Train
from fitplan.routing.map.topology import Portal
from fitplan.routing.map.vehicle_map import VehicleMap
from fitplan.routing.negotiation.layout import Joint


class Lanes:
    """Gives out the ports of a train, conductor by conductor.

    Attributes
    ----------
    joints
        The ports that each portal passes.
    unreached
        Nets that found a coupling full or closed.
    """

    def __init__(self, train: Train, maps: Mapping[str, VehicleMap]) -> None:
        self._train = train
        self._maps = maps
        self.names = [entry.name for entry in train.vehicles]
        self.joints: dict[Portal, Joint] = {}
        self.unreached: list[Unreached] = []
        self._count = 0
        self._used: dict[tuple[str, str], float] = {}

    def portals(self, net: str, diameter: float, first: int, last: int) -> dict[int, Portal] | None:
        """Give one conductor a lane over every coupling it crosses; None when a coupling has no room."""
        self._count += 1
        found: dict[int, Portal] = {}
        for coupling in range(first, last):
            joint, reason = self._joint(coupling, diameter)
            if joint is None:
                self.unreached.append(Unreached(net, self.names[coupling], self.names[coupling + 1], reason))
                return None
            portal = Portal(net, coupling, self._count)
            self.joints[portal] = joint
            found[coupling] = portal
        return found

    def _joint(self, coupling: int, wire: float) -> tuple[Joint | None, str]:
        """Return the pair of ports with room left whose mouths are nearest to each other."""
        ahead, behind = self._train.vehicles[coupling], self._train.vehicles[coupling + 1]
        rear, front = ("+x" if ahead.turned else "-x"), ("-x" if behind.turned else "+x")
        ports_ahead = [port for port in ahead.vehicle.ports if port.out == rear]
        ports_behind = [port for port in behind.vehicle.ports if port.out == front]
        if not ports_ahead or not ports_behind:
            closed = ahead if not ports_ahead else behind
            return None, f"{closed.name} has no wire port at that end"
        starts = self._train.starts()
        pairs = []
        for one in ports_ahead:
            for other in ports_behind:
                a = ahead.in_train(starts[ahead.name], self._maps[ahead.name].mouth_point(one))
                b = behind.in_train(starts[behind.name], self._maps[behind.name].mouth_point(other))
                aside = abs(a[1] - b[1]) + abs(a[2] - b[2])
                pairs.append((round(aside, 3), one.name, other.name, one, other))
        full = []
        for _, _, _, one, other in sorted(pairs, key=lambda pair: pair[:3]):
            for vehicle, port in ((ahead.name, one), (behind.name, other)):
                room = self._maps[vehicle].capacity(port, wire)
                share = self._used.get((vehicle, port.name), 0.0) + 1.0 / max(room, 1)
                if room == 0 or share > 1.0 + 1e-9:
                    full.append(f"port {port.name} of {vehicle} carries {room} conductors of {wire:g} mm")
                    break
            else:
                for vehicle, port in ((ahead.name, one), (behind.name, other)):
                    room = self._maps[vehicle].capacity(port, wire)
                    key = (vehicle, port.name)
                    self._used[key] = self._used.get(key, 0.0) + 1.0 / room
                return Joint(coupling, ahead.name, behind.name, one, other), ""
        return None, f"{full[0]}, and more want through"
