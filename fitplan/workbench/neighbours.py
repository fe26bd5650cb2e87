"""What lies side by side, so that solder or a strand may bridge it and a hand may exchange its wires."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations
from math import dist

from fitplan.model.built import BuiltTrain
from fitplan.model.electrical import Fuse, Switch
from fitplan.model.meter import NEIGHBOUR_MM, NEIGHBOUR_SHARE
from fitplan.model.part import Pin
from fitplan.workbench.copper import Copper, Node


@dataclass(frozen=True)
class Neighbours:
    """Two pins or cavities side by side; ``even``: exchanging their wires changes nothing."""

    one: Node
    other: Node
    even: bool = False

    @property
    def words(self) -> str:
        """Both, for a sentence."""
        kind, owner, pin, vehicle = self.one
        where = f"{owner} in {vehicle}, cavities" if kind == "connector" else owner
        return f"{where} {pin} and {self.other[2]}"


def side_by_side(pins: tuple[Pin, ...]) -> list[tuple[str, str]]:
    """Return the pairs of pins that are neighbours: as near as a pin's nearest one, or little farther."""
    nearest = {
        pin.name: min((dist(pin.at, other.at) for other in pins if other is not pin), default=0.0)
        for pin in pins
    }
    found = []
    for a, b in combinations(pins, 2):
        reach = NEIGHBOUR_SHARE * max(nearest[a.name], nearest[b.name])
        if dist(a.at, b.at) <= min(reach, NEIGHBOUR_MM):
            found.append((a.name, b.name))
    return found


def neighbours_of(built: BuiltTrain, copper: Copper) -> tuple[Neighbours, ...]:
    """Return all neighbours of which one at least has a wire, part by part and half by half."""
    wired = copper.wired
    owners = dict.fromkeys((node[1], node[3]) for node in wired if node[0] == "pin")
    found: list[Neighbours] = []
    for owner, vehicle in owners:
        placement = built.placement(owner)
        part = placement.part if placement is not None else None
        even = part is not None and any(part.figure(kind) is not None for kind in (Switch, Fuse))
        for a, b in side_by_side(built.pins_of(owner)):
            one, other = ("pin", owner, a, vehicle), ("pin", owner, b, vehicle)
            if one in wired or other in wired:
                found.append(Neighbours(one, other, even))
    halves: dict[tuple[str, str], list[Node]] = {}
    for node in wired:
        if node[0] == "connector":
            halves.setdefault((node[1], node[3]), []).append(node)
    for nodes in halves.values():
        numbered = {int(node[2]): node for node in nodes if node[2].isdecimal()}
        order = sorted(numbered)
        found += [Neighbours(numbered[k], numbered[k + 1]) for k in order if k + 1 in numbered]
    return tuple(found)
