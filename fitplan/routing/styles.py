"""What each style of joining a net takes: copper and joints of tree, home runs and daisy chain.

All three take the shortest ways alone through the placed train, along the same couplings as the harness,
so that they can be compared; allowances and the way that other nets force on a wire are left out.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, replace
from time import monotonic

from fitplan.model.plan import BuiltTrain, Harness, Table
from fitplan.model.train import WiringStyle
from fitplan.routing.ends import NetEnd, ResolvedNet, resolve
from fitplan.routing.layout import Joint, Layout
from fitplan.routing.topology import Portal, Reach, SpliceSpot, TreeGrower, lanes_of
from fitplan.routing.ways import Field, Voxel, lattice_length

NAMES: dict[WiringStyle, str] = {"tree": "tree", "home-run": "home runs", "chain": "daisy chain"}


@dataclass(frozen=True)
class StyleCost:
    """What a net takes in one style.

    Attributes
    ----------
    copper_mm
        All ways together, joints over couplings on straight track included.
    joints
        Soldered or crimped: each end of a wire at a pin or in a connector, and each splice once.
    across
        Conductors over couplings, all couplings together.
    reason
        Why it cannot be done; empty when it can.
    """

    copper_mm: float = 0.0
    joints: int = 0
    across: int = 0
    reason: str = ""


def compare(
    built: BuiltTrain, harness: Harness, layout: Layout, deadline: float | None = None
) -> dict[str, tuple[ResolvedNet, dict[WiringStyle, StyleCost]]]:
    """Return for each net of three pins or more that is wired what each style takes.

    Nets that the deadline, a value of `time.monotonic`, leaves no time for are left out.
    """
    diameters = {wire.net: wire.outer_mm for wire in harness.wires}
    lost = {entry.net for entry in harness.unreached}
    found = {}
    for net in resolve(built)[0]:
        name = net.net.name
        if deadline is not None and monotonic() > deadline:
            break
        if len(net.ends) >= 3 and name in diameters and name not in lost:
            work = _Comparison(built, harness, layout, net, diameters[name])
            found[name] = (net, {style: work.cost(style) for style in NAMES})
    return found


def styles_table(found: Mapping[str, tuple[ResolvedNet, dict[WiringStyle, StyleCost]]]) -> Table | None:
    """Return the comparison as a table, or None when no net has three pins."""
    if not found:
        return None
    rows = []
    for name, (net, costs) in found.items():
        cells: list[str | float] = [name, float(len(net.ends)), NAMES[net.net.style]]
        for cost in costs.values():
            cells += ["not possible", ""] if cost.reason else [round(cost.copper_mm), float(cost.joints)]
        rows.append((*cells, _remark(costs)))
    heads = [head for name in NAMES.values() for head in (f"{name}, mm", f"{name}, joints")]
    return Table(
        title="Styles compared, net by net",
        columns=("net", "pins", "planned as", *heads, "remark"),
        rows=tuple(rows),
        note=(
            "Shortest ways alone in the placed train, without allowances. A daisy chain puts two wires on "
            "each pin between its ends: see that the hole or tab takes both. Choose with 'style' of the net "
            "or of 'wiring'."
        ),
    )


def _remark(costs: Mapping[WiringStyle, StyleCost]) -> str:
    """Say what is not possible and why, which takes the least copper, and what crosses couplings."""
    said = [f"{NAMES[style]}: {cost.reason}" for style, cost in costs.items() if cost.reason]
    possible = {style: cost for style, cost in costs.items() if not cost.reason}
    if possible:
        least = min(possible, key=lambda style: (round(possible[style].copper_mm), possible[style].joints))
        said.append(f"least copper: {NAMES[least]}")
    across = {NAMES[style]: cost.across for style, cost in possible.items()}
    if len(set(across.values())) > 1:
        counts = ", ".join(f"{name} {count}" for name, count in across.items())
        said.append(f"conductors across: {counts}")
    return "; ".join(said)


class _Comparison:
    """One net, with its map of each vehicle and the ways already looked for."""

    def __init__(
        self, built: BuiltTrain, harness: Harness, layout: Layout, net: ResolvedNet, diameter: float
    ) -> None:
        self._net = net
        self._layout = layout
        self._diameter = diameter
        self._names = [entry.name for entry in built.train.vehicles]
        self._order = {name: number for number, name in enumerate(self._names)}
        self._with_connector = bool(built.train.wiring.coupling_connector)
        self._straight = {
            (entry.ahead, entry.port_ahead, entry.port_behind): entry.straight_mm
            for entry in harness.crossings
        }
        self._joints: dict[int, Joint] = {}
        for portal, joint in layout.joints.items():
            if portal.net == net.net.name:
                self._joints.setdefault(portal.coupling, joint)
        self._fields: dict[str, Field] = {}
        self._lengths: dict[tuple[str, frozenset[Voxel], frozenset[Voxel]], float | None] = {}

    def cost(self, style: WiringStyle) -> StyleCost:
        """Return what the net takes in a style."""
        lanes = lanes_of(replace(self._net, net=replace(self._net.net, style=style)), self._order)
        crossed = Counter(coupling for first, last, _ in lanes for coupling in range(first, last))
        for coupling, conductors in crossed.items():
            if reason := self._too_narrow(coupling, conductors):
                return StyleCost(reason=reason)
        copper, joints = 0.0, 0
        for first, last, ends in lanes:
            for number in range(first, last + 1):
                part = self._inside(number, first, last, ends)
                if isinstance(part, str):
                    return StyleCost(reason=part)
                copper, joints = copper + part[0], joints + part[1]
        across = sum(crossed.values())
        for coupling, conductors in crossed.items():
            joint = self._joints[coupling]
            key = (joint.ahead, joint.port_ahead.name, joint.port_behind.name)
            copper += conductors * self._straight.get(key, 0.0)
        return StyleCost(copper, joints + (2 * across if self._with_connector else 0), across)

    def _too_narrow(self, coupling: int, conductors: int) -> str:
        joint = self._joints.get(coupling)
        if joint is None:
            return f"nothing of it crosses behind {self._names[coupling]}"
        for vehicle, port in ((joint.ahead, joint.port_ahead), (joint.behind, joint.port_behind)):
            room = self._layout.maps[vehicle].capacity(port, self._diameter)
            if conductors > room:
                return f"{conductors} conductors want through {port.name} of {vehicle}, which carries {room}"
        return ""

    def _inside(self, number: int, first: int, last: int, ends: list[NetEnd]) -> tuple[float, int] | str:
        """Return copper and joints of one lane in one vehicle, or why it cannot be."""
        vehicle = self._names[number]
        reaches = []
        for end in ends:
            if end.vehicle == vehicle:
                voxel = self._layout.maps[vehicle].start_at(end)
                if voxel is None:
                    return f"{end.owner}.{end.pin} is walled in"
                reaches.append(Reach(end, (voxel,)))
        pins = len(reaches)
        reaches += self._portals(number, first, last)
        if len(reaches) < 2:
            return 0.0, pins
        if len(reaches) == 2:
            length = self._length(vehicle, reaches[0], reaches[1])
            return f"no way through {vehicle} is wide enough" if length is None else (length, pins)
        map_ = self._layout.maps[vehicle]
        grown = TreeGrower(map_, self._field(vehicle)).ways(self._net.net.name, reaches)
        if grown is None:
            return f"no way through {vehicle} is wide enough"
        copper = sum(lattice_length(voxels, map_.frame.pitch) for _, _, voxels in grown)
        nodes = [node for start, end, _ in grown for node in (start, end)]
        splices = {node for node in nodes if isinstance(node, SpliceSpot)}
        return copper, sum(isinstance(node, NetEnd) for node in nodes) + len(splices)

    def _portals(self, number: int, first: int, last: int) -> list[Reach]:
        found = []
        for coupling in (number - 1, number):
            if first <= coupling < last:
                joint = self._joints[coupling]
                vehicle = self._names[number]
                port = joint.port_ahead if joint.ahead == vehicle else joint.port_behind
                node = Portal(self._net.net.name, coupling, 0)
                found.append(Reach(node, self._layout.maps[vehicle].mouth(port)))
        return found

    def _field(self, vehicle: str) -> Field:
        if vehicle not in self._fields:
            map_ = self._layout.maps[vehicle]
            number = self._order[vehicle]
            ends = [map_.start_at(end) for end in self._net.ends if end.vehicle == vehicle]
            opened = [voxel for voxel in ends if voxel is not None]
            for coupling in (number - 1, number):
                if coupling in self._joints:
                    opened += self._portals(number, coupling, coupling + 1)[0].voxels
            room = map_.room(self._diameter, opened)
            self._fields[vehicle] = Field(room, map_.frame.pitch)
        return self._fields[vehicle]

    def _length(self, vehicle: str, one: Reach, other: Reach) -> float | None:
        key = (vehicle, frozenset(one.voxels), frozenset(other.voxels))
        if key not in self._lengths:
            way = self._field(vehicle).way_between(one.voxels, other.voxels)
            pitch = self._layout.maps[vehicle].frame.pitch
            self._lengths[key] = None if way is None else lattice_length(way.voxels, pitch)
        return self._lengths[key]
