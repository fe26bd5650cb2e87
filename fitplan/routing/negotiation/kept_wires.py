"""Wires that are built already: segments with ways that nothing moves.

A wire stays when its ends are where they were, its splices and couplings are there, and nothing stands in
its way. Where a piece of a net has no place left for what is new, a wire of it is given up for a splice.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from fitplan.lattice.boxes import part_boxes
from fitplan.lattice.cover import TENTHS
from fitplan.model.as_built import BuiltEnd, BuiltLeg, BuiltWire, same_point
from fitplan.model.built import BuiltTrain
from fitplan.model.measured import as_measured_id
from fitplan.model.placed import Placement
from fitplan.model.solids import Vec
from fitplan.model.train import TrainVehicle
from fitplan.model.vehicle import Port
from fitplan.routing.map.ends import NetEnd, ResolvedNet
from fitplan.routing.map.topology import Node, Portal, Segment, SpliceSpot
from fitplan.routing.map.vehicle_map import VehicleMap
from fitplan.routing.negotiation.kept_joinings import all_open
from fitplan.routing.negotiation.lanes import Lanes
from fitplan.routing.negotiation.layout import CouplingPorts, KeptLayout, Pulled
from fitplan.routing.ways.taut import chain_length, turning_angles
from fitplan.routing.ways.way import Way, lattice_length

_STEP_MM = 0.4
_GRAZES_MM = 0.05
Floats = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class KeptSegment:
    """A piece of a wire that stays: its corners in the frame of its vehicle's map (mm)."""

    wire: int
    segment: Segment
    points: tuple[Vec, ...]

    def way(self, map_: VehicleMap) -> Way:
        """Return the voxels that it passes."""
        frame = map_.frame
        every = _along(np.array(self.points, dtype=np.float64), frame.pitch / 8)
        cells = np.floor((every - np.array(frame.origin)) / frame.pitch + 1e-9).astype(np.int32)
        cells = np.clip(cells, 0, np.array(frame.shape, dtype=np.int32) - 1)
        new = np.concatenate([[True], (np.diff(cells, axis=0) != 0).any(axis=1)])
        voxels: NDArray[np.int32] = cells[new].astype(np.int32)
        length = lattice_length(voxels, frame.pitch)
        return Way(voxels, length, length, 0)

    @property
    def pulled(self) -> Pulled:
        """It as it lies."""
        rows = np.array(self.points, dtype=np.float64)
        length = chain_length(rows)
        return Pulled(self.points, length, length, tuple(turning_angles(rows).tolist()))


@dataclass
class KeptWires:
    """All wires that stay: by number, as segments by vehicle, and their splices and couplings."""

    wires: dict[int, BuiltWire] = field(default_factory=dict)
    segments: dict[str, list[KeptSegment]] = field(default_factory=lambda: defaultdict(list))
    layout: KeptLayout = field(default_factory=KeptLayout)

    def of_net(self, net: str) -> list[KeptSegment]:
        """Return the segments of a net."""
        return [one for mine in self.segments.values() for one in mine if one.segment.net == net]


def kept_wires(
    built: BuiltTrain,
    wires: Sequence[BuiltWire],
    nets: Sequence[ResolvedNet],
    maps: Mapping[str, VehicleMap],
    images: frozenset[str],
    lanes: Lanes,
    diameters: Mapping[str, float],
) -> KeptWires:
    """Return the wires that stay; where a net could not be joined to them, one of its wires is given up.

    Parameters
    ----------
    wires
        What is built, in the frames of the vehicles.
    nets
        With their ends as the maps have them.
    """
    work = _Standing(built, nets, maps, images, diameters)
    held = [wire for wire in wires if work.stands(wire)]
    given_up: set[int] = set()
    for net in nets:
        while mine := [w for w in held if w.net == net.net.name and w.number not in given_up]:
            segments = [segment for wire in mine for segment in work.plain_segments(wire)]
            if all_open(net, segments, maps, work.couplings):
                break
            # A splice takes the place of the shortest wire that lies in one vehicle.
            inside = [wire for wire in mine if len(wire.legs) == 1]
            given_up.add(min(inside or mine, key=lambda wire: (wire.cut_mm, wire.number)).number)
    found = KeptWires()
    for wire in held:
        if wire.number not in given_up:
            work.take(wire, found, lanes)
    return found


class _Standing:
    """Asks of each wire whether it stays."""

    def __init__(
        self,
        built: BuiltTrain,
        nets: Sequence[ResolvedNet],
        maps: Mapping[str, VehicleMap],
        images: frozenset[str],
        diameters: Mapping[str, float],
    ) -> None:
        self._built = built
        self._train = built.train
        self._nets = {net.net.name: net for net in nets}
        self._maps = maps
        self._images = images
        self._diameters = diameters
        self.couplings: dict[Portal, CouplingPorts] = {}
        self._order = {entry.name: number for number, entry in enumerate(self._train.vehicles)}
        self._fresh = {name: self._fresh_in(name) for name in self._order}

    def stands(self, wire: BuiltWire) -> bool:
        """Return whether nothing keeps a wire from staying."""
        return (
            wire.net in self._nets
            and all(self._leg_there(leg) for leg in wire.legs)
            and self._end_there(wire, wire.start, wire.legs[0], first=True)
            and self._end_there(wire, wire.end, wire.legs[-1], first=False)
            and all(self._over(one, other) for one, other in pairwise(wire.legs))
            and all(self._clear(wire, number, leg) for number, leg in enumerate(wire.legs))
        )

    def plain_segments(self, wire: BuiltWire) -> list[Segment]:
        """Return the segments of a wire, to see what hangs together; ports at its couplings are noted."""

        def portal(place: int, leg: BuiltLeg, leaves: bool) -> Portal:
            node = self._portal(wire, place, leg, leaves)
            self.couplings[node] = self._ports(leg, leaves, wire, place)
            return node

        return self._segments(wire, portal)

    def take(self, wire: BuiltWire, found: KeptWires, lanes: Lanes) -> None:
        """Put a wire that stays among the others; its couplings are given to it."""
        found.wires[wire.number] = wire

        def portal(place: int, leg: BuiltLeg, leaves: bool) -> Portal:
            node = self._portal(wire, place, leg, leaves)
            if node not in lanes.couplings:
                lanes.hold(node, self._ports(leg, leaves, wire, place), self._diameters[wire.net])
            end = wire.end if leaves else wire.start
            last = place == (len(wire.legs) - 1 if leaves else 0)
            if last and end.kind == "connector":
                found.layout.couplings[node.coupling] = end.owner
                found.layout.cavities[node] = int(end.pin)
            return node

        for leg, segment in zip(wire.legs, self._segments(wire, portal), strict=True):
            map_ = self._maps[leg.vehicle]
            points = leg.points
            if leg.vehicle in self._images:
                width = map_.vehicle.width
                points = tuple((x, round(width - y, 4), z) for x, y, z in points)
            found.segments[leg.vehicle].append(KeptSegment(wire.number, segment, points))
            for node in (segment.start, segment.end):
                if isinstance(node, SpliceSpot):
                    end = wire.start if node == segment.start and leg is wire.legs[0] else wire.end
                    found.layout.splices[node] = end.owner

    # -- inside ------------------------------------------------------------------------------------------

    def _fresh_in(self, vehicle: str) -> Floats:
        """Return (n, 6) boxes in mm of what was not there when wires were laid."""
        here = [one for one in self._built.placements if one.vehicle == vehicle]
        parts = _solid_rows([one for one in here if not self._as_it_was(one)])
        shelves = _shelf_rows([one for one in here if not self._carried_as_it_was(one)])
        return np.concatenate([parts, shelves])

    def _as_it_was(self, placement: Placement) -> bool:
        """Return whether a part stays and is no larger than it was when wires were laid beside it."""
        measured = self._train.measured.date(f"outline of {as_measured_id(placement.part.id)}")
        return not measured and self._stays(placement)

    def _carried_as_it_was(self, placement: Placement) -> bool:
        """Return whether what carries a part was there when wires were laid beside it."""
        there = self._train.as_built.part(placement.need)
        return self._stays(placement) and there is not None and there.on == placement.shelf

    def _stays(self, placement: Placement) -> bool:
        there = self._train.as_built.part(placement.need)
        return (
            there is not None
            and (there.part, there.vehicle) == (placement.part.id, placement.vehicle)
            and there.pose == placement.place.pose.name
            and same_point(there.offset, placement.place.offset)
        )

    def _leg_there(self, leg: BuiltLeg) -> bool:
        if leg.vehicle not in self._order:
            return False
        ports = {port.name for port in self._train.vehicle(leg.vehicle).vehicle.ports}
        return all(name in ports for name in (leg.enters, leg.leaves) if name)

    def _end_there(self, wire: BuiltWire, end: BuiltEnd, leg: BuiltLeg, *, first: bool) -> bool:
        point = leg.points[0 if first else -1]
        if end.kind == "pin":
            pin = self._pin(wire.net, end)
            if pin is None or pin.vehicle != leg.vehicle:
                return False
            x, y, z = pin.at
            if pin.vehicle in self._images:
                y = self._maps[pin.vehicle].vehicle.width - y
            return same_point((x, y, z), point)
        if end.kind == "splice":
            there = self._train.as_built.splice(end.owner)
            return there is not None and (there.net, there.vehicle) == (wire.net, leg.vehicle)
        other = self._beyond(leg, leaves=not first)
        return (
            other is not None
            and bool(self._pair(leg.vehicle, other))
            and self._mate(wire, 0 if first else len(wire.legs) - 1, not first) is not None
            and self._facing(leg, not first, wire, 0 if first else len(wire.legs) - 1) is not None
        )

    def _pin(self, net: str, end: BuiltEnd) -> NetEnd | None:
        every = (pin for one in self._nets[net].ends for pin in one.pins)
        return next((pin for pin in every if (pin.owner, pin.pin) == (end.owner, end.pin)), None)

    def _over(self, one: BuiltLeg, other: BuiltLeg) -> bool:
        """Return whether two legs still follow one another over a coupling that no connector parts."""
        near = self._beyond(one, leaves=True) == other.vehicle
        return (
            near
            and self._beyond(other, leaves=False) == one.vehicle
            and not self._pair(one.vehicle, other.vehicle)
        )

    def _pair(self, one: str, other: str) -> str:
        ahead, behind = sorted((one, other), key=self._order.__getitem__)
        return self._train.pair_at(ahead, behind)

    def _port(self, leg: BuiltLeg, leaves: bool) -> tuple[TrainVehicle, Port] | None:
        name = leg.leaves if leaves else leg.enters
        entry = self._train.vehicle(leg.vehicle)
        port = next((port for port in entry.vehicle.ports if port.name == name), None)
        return None if port is None else (entry, port)

    def _beyond(self, leg: BuiltLeg, *, leaves: bool) -> str | None:
        """Return the vehicle beyond the port by which a leg leaves or enters; None where there is none."""
        found = self._port(leg, leaves)
        if found is None or found[1].out[1] != "x":
            return None
        entry, port = found
        ahead = port.out == entry.towards("ahead")
        place = self._order[entry.name] + (-1 if ahead else 1)
        return self._train.vehicles[place].name if 0 <= place < len(self._order) else None

    def _ports(self, leg: BuiltLeg, leaves: bool, wire: BuiltWire, place: int) -> CouplingPorts:
        """Return the ports on both sides of a coupling that a wire which stays passes."""
        mine = self._port(leg, leaves)
        other = self._beyond(leg, leaves=leaves)
        beyond = self._facing(leg, leaves, wire, place)
        assert mine is not None
        assert other is not None
        assert beyond is not None
        ahead, behind = (mine, beyond) if self._order[leg.vehicle] < self._order[other] else (beyond, mine)
        coupling = self._order[ahead[0].name]
        return CouplingPorts(coupling, ahead[0].name, behind[0].name, ahead[1], behind[1])

    def _facing(
        self, leg: BuiltLeg, leaves: bool, wire: BuiltWire, place: int
    ) -> tuple[TrainVehicle, Port] | None:
        """Return the port on the other side of a coupling: the mate's, or the only one there is.

        The mate of a wire in a vehicle that was turned round looks the other way, and another one faces it.
        """
        other = self._beyond(leg, leaves=leaves)
        there = self._mate(wire, place, leaves)
        if other is None or there is None or there[0].vehicle != other:
            return None
        if self._beyond(there[0], leaves=there[1]) == leg.vehicle:
            return self._port(*there)
        entry = self._train.vehicle(other)
        facing = [
            port
            for port in entry.vehicle.ports
            if self._beyond(BuiltLeg(other, (), leaves=port.name), leaves=True) == leg.vehicle
        ]
        return (entry, facing[0]) if len(facing) == 1 else None

    def _mate(self, wire: BuiltWire, place: int, leaves: bool) -> tuple[BuiltLeg, bool] | None:
        """Return the leg on the other side of a coupling, and whether it leaves or enters there."""
        beside = place + (1 if leaves else -1)
        if 0 <= beside < len(wire.legs):
            return wire.legs[beside], not leaves
        end = wire.end if leaves else wire.start
        for other in self._train.as_built.wires:
            if other.number != wire.number and other.net == wire.net:
                if (other.start.kind, other.start.owner, other.start.pin) == (end.kind, end.owner, end.pin):
                    return other.legs[0], False
                if (other.end.kind, other.end.owner, other.end.pin) == (end.kind, end.owner, end.pin):
                    return other.legs[-1], True
        return None

    def _portal(self, wire: BuiltWire, place: int, leg: BuiltLeg, leaves: bool) -> Portal:
        """Return the portal of a wire at a coupling: the same for both wires that a connector joins."""
        other = self._beyond(leg, leaves=leaves)
        assert other is not None
        coupling = min(self._order[leg.vehicle], self._order[other])
        beside = place + (1 if leaves else -1)
        if 0 <= beside < len(wire.legs):
            return Portal(wire.net, coupling, -2 * wire.number)
        end = wire.end if leaves else wire.start
        return Portal(wire.net, coupling, -2 * int(end.pin) - 1)

    def _segments(self, wire: BuiltWire, portal: Callable[[int, BuiltLeg, bool], Portal]) -> list[Segment]:
        found = []
        for place, leg in enumerate(wire.legs):
            start: Node = portal(place, leg, False) if leg.enters else self._node(wire, wire.start, leg, 0)
            end: Node = portal(place, leg, True) if leg.leaves else self._node(wire, wire.end, leg, -1)
            found.append(Segment(wire.net, leg.vehicle, start, end))
        return found

    def _node(self, wire: BuiltWire, end: BuiltEnd, leg: BuiltLeg, corner: int) -> Node:
        if end.kind == "pin":
            pin = self._pin(wire.net, end)
            assert pin is not None
            return pin
        map_ = self._maps[leg.vehicle]
        there = self._train.as_built.splice(end.owner)
        x, y, z = there.at if there is not None else leg.points[corner]
        if leg.vehicle in self._images:
            y = map_.vehicle.width - y
        return SpliceSpot(wire.net, leg.vehicle, map_.frame.index_of((x, y, z)))

    def _clear(self, wire: BuiltWire, number: int, leg: BuiltLeg) -> bool:
        """Return whether nothing new stands in a leg's way; its own lead-outs are the pins' affair."""
        rows = np.array(leg.points, dtype=np.float64)
        first = int(number == 0 and wire.start.kind == "pin" and len(rows) > 2)
        last = len(rows) - int(number == len(wire.legs) - 1 and wire.end.kind == "pin" and len(rows) > 2)
        points = _along(rows[first:last], _STEP_MM)
        boxes = self._maps[leg.vehicle].exact.without_hands.boxes
        if leg.vehicle in self._images:
            width = self._maps[leg.vehicle].vehicle.width
            seen = points.copy()
            seen[:, 1] = width - points[:, 1]
        else:
            seen = points
        radius = self._diameters[wire.net] / 2
        return not (_any_inside(seen, boxes, -_GRAZES_MM)) and not _any_inside(
            points, self._fresh[leg.vehicle], radius - _GRAZES_MM
        )


def _solid_rows(placements: Sequence[Placement]) -> Floats:
    """Return (n, 6) boxes in mm that hold what parts fill and always keep clear."""
    solids = [one.place.move_solid(solid) for one in placements for solid in one.part.envelope]
    return np.array(list(part_boxes(solids)), dtype=np.float64).reshape(-1, 6) / TENTHS


def _shelf_rows(placements: Sequence[Placement]) -> Floats:
    """Return (n, 6) boxes in mm of what carries parts."""
    boxes = [box for one in placements if one.shelf is not None for box in one.shelf.boxes]
    return np.array([(*box.low, *box.high) for box in boxes], dtype=np.float64).reshape(-1, 6)


def _any_inside(points: Floats, boxes: Floats, more_mm: float) -> bool:
    if not len(boxes) or not len(points):
        return False
    low, high = boxes[:, :3] - more_mm, boxes[:, 3:] + more_mm
    near = ((low < points.max(axis=0)) & (high > points.min(axis=0))).all(axis=1)
    return any(
        bool(((points > a) & (points < b)).all(axis=1).any())
        for a, b in zip(low[near], high[near], strict=True)
    )


def _along(points: Floats, step_mm: float) -> Floats:
    """Return points along a way, no farther apart than a step, its corners among them."""
    found: list[Floats] = [points[:1]]
    for a, b in pairwise(points):
        count = max(int(np.ceil(float(np.linalg.norm(b - a)) / step_mm)), 1)
        found.append(a + (b - a) * (np.arange(1, count + 1) / count)[:, None])
    return np.concatenate(found)
