"""Which homes of parts ask more of the ports at a coupling than these are known to carry.

Which conductors cross a coupling is settled by the vehicles that the parts are in, so a choice can be held
against the ports before anything is placed or wired. What is found so proves nothing: ports are known to
carry what an arrangement shows.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import cached_property
from itertools import pairwise

from fitplan.model.nets import Net
from fitplan.model.train import Train
from fitplan.model.vehicle import Port
from fitplan.planning.costs import conductors_over, vehicle_of
from fitplan.routing.map.port_room import passage


class CrossingRoom:
    """The ports of a train, held against homes of its parts.

    Parameters
    ----------
    diameters
        Outer diameter (mm) of each net's wire; nets without one are not looked at.
    added
        Vehicles that are in the train only when something is put into them.
    """

    def __init__(self, train: Train, diameters: Mapping[str, float], added: frozenset[str]) -> None:
        self._train, self._diameters, self._added = train, diameters, added

    def overfull(self, homes: Mapping[str, str]) -> bool:
        """Tell whether more conductors cross some coupling than its ports are known to carry.

        Parameters
        ----------
        homes
            The vehicle of each need that has one. More homes ask for no fewer conductors.
        """
        there = [
            entry
            for entry in self._train.vehicles
            if entry.name not in self._added or entry.name in homes.values()
        ]
        place = {entry.name: number for number, entry in enumerate(there)}
        crossing: list[list[float]] = [[] for _ in there[1:]]
        for net in self._nets:
            ends = [place.get(vehicle_of(ref.owner, homes) or "") for ref in net.joins]
            for number in range(len(crossing)):
                crossing[number] += conductors_over(net, ends, number) * [self._diameters[net.name]]
        return any(
            wires
            and not (_carried(ahead.ports_at("behind"), wires) and _carried(behind.ports_at("ahead"), wires))
            for (ahead, behind), wires in zip(pairwise(there), crossing, strict=True)
        )

    @cached_property
    def _nets(self) -> tuple[Net, ...]:
        return tuple(net for net in self._train.nets if net.name in self._diameters)


def _carried(ports: Sequence[Port], wires: Sequence[float]) -> bool:
    """Tell whether conductors are known to go through some ports, each in the first that has room."""
    taken: list[list[float]] = [[] for _ in ports]
    for wire in sorted(wires, reverse=True):
        for port, inside in zip(ports, taken, strict=True):
            if passage(*port.opening, [*inside, wire]).holds:
                inside.append(wire)
                break
        else:
            return False
    return True
