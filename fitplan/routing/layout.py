"""Lay every net of a train through the maps of its vehicles: lanes, portals, trees, and negotiated ways."""

from __future__ import annotations

import os
from collections.abc import Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from fitplan.model.plan import BuiltTrain, Unreached
from fitplan.model.solids import Box
from fitplan.model.train import Allowances
from fitplan.model.vehicle import Port
from fitplan.routing.ends import NetEnd, ResolvedNet
from fitplan.routing.joining import Joiner, Piece, Shortage, ground_of, reach_of, within_reach
from fitplan.routing.narrow import Run
from fitplan.routing.negotiate import Conflict, Negotiation, NegotiationSettings, negotiate
from fitplan.routing.topology import Node, Portal, Reach, Segment, SpliceSpot, home_of, lanes_of
from fitplan.routing.vehicle_map import NEAR_ENDS, VehicleMap
from fitplan.routing.voxel_trees import Ground
from fitplan.routing.ways import Voxel, Way

GREED = 1.4
"""How much dearer than the cheapest a way may be: on the examples the taut lengths differ by 0.1 %."""


@dataclass(frozen=True)
class Joint:
    """The ports that wires pass at one coupling, vehicle ``ahead`` in front of ``behind``."""

    coupling: int
    ahead: str
    behind: str
    port_ahead: Port
    port_behind: Port


@dataclass(frozen=True, eq=False)
class LaidSegment:
    """A segment with its way through the voxels of its vehicle, (n, 3) int32.

    ``ends`` are all voxels that it might have started or ended in; round them it needed no room.
    """

    segment: Segment
    voxels: NDArray[np.int32]
    ends: tuple[Voxel, ...]


@dataclass(frozen=True)
class Squeeze:
    """Where a bundle has too little room: boxes (mm) that parts would have to leave to it."""

    vehicle: str
    boxes: tuple[Box, ...]


@dataclass
class Layout:
    """All segments with their ways; the joint each portal passes; what was not reached or is tight.

    ``joiners`` are what nets of three pins or more were joined by, by net and vehicle.
    """

    maps: dict[str, VehicleMap]
    laid: list[LaidSegment] = field(default_factory=list)
    joints: dict[Portal, Joint] = field(default_factory=dict)
    unreached: list[Unreached] = field(default_factory=list)
    squeezes: list[Squeeze] = field(default_factory=list)
    shortages: list[Shortage] = field(default_factory=list)
    joiners: dict[tuple[str, str], Joiner] = field(default_factory=dict)
    grounds: dict[str, Ground] = field(default_factory=dict)

    def ground(self, vehicle: str, allowances: Allowances) -> Ground:
        """Return what trees in a vehicle are laid over."""
        if vehicle not in self.grounds:
            self.grounds[vehicle] = ground_of(self.maps[vehicle], allowances)
        return self.grounds[vehicle]


def lay_out(
    built: BuiltTrain,
    nets: Sequence[ResolvedNet],
    diameters: Mapping[str, float],
    deadline: float | None = None,
) -> Layout:
    """Lay all nets.

    Parameters
    ----------
    nets
        Resolved nets.
    diameters
        Outer diameter in mm of each net's wire.
    deadline
        A value of `time.monotonic` to stop at.
    """
    removed = {entry.vehicle: frozenset(entry.remove) for entry in built.rebuilds}
    maps = {
        entry.name: VehicleMap.of(
            entry.name,
            entry.vehicle,
            tuple(place for place in built.placements if place.vehicle == entry.name),
            removed.get(entry.name, frozenset()),
        )
        for entry in built.train.vehicles
    }
    layout = Layout(maps)
    work = _Work(built, layout, diameters)
    segments: list[Segment] = []
    for net in nets:
        segments.extend(work.segments_of(net))
    by_vehicle = {
        entry.name: mine
        for entry in built.train.vehicles
        if (mine := [segment for segment in segments if segment.vehicle == entry.name])
    }
    # Vehicles meet only at ports that are given out already; searches run outside the interpreter's lock.
    with ThreadPoolExecutor(max_workers=os.cpu_count() or 1) as pool:
        waiting = [pool.submit(work.negotiate, name, mine, deadline) for name, mine in by_vehicle.items()]
        outcomes = [done.result() for done in waiting]
    for vehicle, (runs, outcome) in zip(by_vehicle, outcomes, strict=True):
        work.take(vehicle, by_vehicle[vehicle], runs, outcome)
    return layout


class _Work:
    def __init__(self, built: BuiltTrain, layout: Layout, diameters: Mapping[str, float]) -> None:
        self.built = built
        self.layout = layout
        self.diameters = diameters
        self.names = [entry.name for entry in built.train.vehicles]
        self.order = {name: number for number, name in enumerate(self.names)}
        self.spots: dict[str, list[Voxel]] = {name: [] for name in self.names}
        self.lanes = 0
        self.used: dict[tuple[str, str], float] = {}

    # -- pieces of the nets ---------------------------------------------------------------------------

    def segments_of(self, net: ResolvedNet) -> list[Segment]:
        """Return the segments of a net over all vehicles; what cannot be reached is noted."""
        name = net.net.name
        for end in net.ends:
            if not reach_of(end, self.layout.maps[end.vehicle]).voxels:
                reason = "the pin is walled in: no free way begins near it"
                self.layout.unreached.append(Unreached(name, end.owner, end.pin, reason))
        net = within_reach(net, self.layout.maps)
        here: dict[str, list[list[Reach]]] = {vehicle: [] for vehicle in self.names}
        for first, last, ends in lanes_of(net, self.order):
            portals = self._portals(name, first, last)
            if portals is None:
                continue
            for number in range(first, last + 1):
                vehicle = self.names[number]
                reaches = [reach_of(end, self.layout.maps[vehicle]) for end in ends if end.vehicle == vehicle]
                # Portals last: a tree that starts among the pins takes its way out from their middle.
                for portal in (portals.get(number - 1), portals.get(number)):
                    if portal is not None:
                        reaches.append(self._reach_of_portal(portal, vehicle))
                if len(reaches) > 1:
                    here[vehicle].append(reaches)
        return [
            segment
            for vehicle, lanes in here.items()
            if lanes
            for segment in self._joined(net, vehicle, lanes)
        ]

    def _joined(self, net: ResolvedNet, vehicle: str, lanes: list[list[Reach]]) -> list[Segment]:
        """Return the segments of a net in one vehicle; a reason why there are none is noted."""
        name = net.net.name
        home = home_of(net) if net.net.style == "home-run" else None
        if len(net.ends) < 3 or (home is not None and home.vehicle != vehicle):
            # Of pins that are joined inside the first serves: nothing else wants one of them.
            return [Segment(name, vehicle, *(_first_pin(reach.node) for reach in pair)) for pair in lanes]
        joiner = self.layout.joiners.get((name, vehicle)) or self._joiner(name, vehicle, lanes)
        if home is not None:
            centre = next(r for reaches in lanes for r in reaches if r.node == home)
            others = [r for reaches in lanes for r in reaches if r.node != home]
            found = joiner.home_runs(centre, others)
            if len(others) > home.places:
                board = len(home.pins) > 1
                short = Shortage(name, home.owner, home.pin, vehicle, len(others), home.places, board)
                self.layout.shortages.append(short)
        elif net.net.style == "chain":
            found = joiner.chain(lanes[0])
        else:
            found = joiner.tree(lanes[0])
        if isinstance(found, str):
            self._lose(name, [r.node for reaches in lanes for r in reaches], vehicle, found)
            return []
        return self._segments(vehicle, name, found)

    def _joiner(self, net: str, vehicle: str, lanes: list[list[Reach]]) -> Joiner:
        every = list(dict.fromkeys(reach for reaches in lanes for reach in reaches))
        joiner = Joiner(
            net,
            self.layout.maps[vehicle],
            self.layout.ground(vehicle, self.built.train.wiring.allowances),
            self.diameters[net],
            every,
            self.built.train.wiring.allowances,
            self.spots[vehicle],
        )
        self.layout.joiners[net, vehicle] = joiner
        return joiner

    def _segments(self, vehicle: str, net: str, pieces: Sequence[Piece]) -> list[Segment]:
        for piece in pieces:
            for node in (piece.start, piece.end):
                if isinstance(node, SpliceSpot) and node.voxel not in self.spots[vehicle]:
                    self.spots[vehicle].append(node.voxel)
        return [Segment(net, vehicle, piece.start, piece.end) for piece in pieces]

    def _portals(self, net: str, first: int, last: int) -> dict[int, Portal] | None:
        """Give one conductor a lane over every coupling it crosses; None when a coupling has no room."""
        self.lanes += 1
        found: dict[int, Portal] = {}
        for coupling in range(first, last):
            joint, reason = self._joint(coupling, self.diameters[net])
            if joint is None:
                self.layout.unreached.append(
                    Unreached(net, self.names[coupling], self.names[coupling + 1], reason)
                )
                return None
            portal = Portal(net, coupling, self.lanes)
            self.layout.joints[portal] = joint
            found[coupling] = portal
        return found

    def _joint(self, coupling: int, wire: float) -> tuple[Joint | None, str]:
        """Return the pair of ports with room left whose mouths are nearest to each other."""
        ahead, behind = self.built.train.vehicles[coupling], self.built.train.vehicles[coupling + 1]
        rear, front = ("+x" if ahead.turned else "-x"), ("-x" if behind.turned else "+x")
        ports_ahead = [port for port in ahead.vehicle.ports if port.out == rear]
        ports_behind = [port for port in behind.vehicle.ports if port.out == front]
        if not ports_ahead or not ports_behind:
            closed = ahead if not ports_ahead else behind
            return None, f"{closed.name} has no wire port at that end"
        starts = self.built.train.starts()
        pairs = []
        for one in ports_ahead:
            for other in ports_behind:
                a = ahead.in_train(starts[ahead.name], self.layout.maps[ahead.name].mouth_point(one))
                b = behind.in_train(starts[behind.name], self.layout.maps[behind.name].mouth_point(other))
                aside = abs(a[1] - b[1]) + abs(a[2] - b[2])
                pairs.append((round(aside, 3), one.name, other.name, one, other))
        full = []
        for _, _, _, one, other in sorted(pairs, key=lambda pair: pair[:3]):
            for vehicle, port in ((ahead.name, one), (behind.name, other)):
                room = self.layout.maps[vehicle].capacity(port, wire)
                share = self.used.get((vehicle, port.name), 0.0) + 1.0 / max(room, 1)
                if room == 0 or share > 1.0 + 1e-9:
                    full.append(f"port {port.name} of {vehicle} carries {room} conductors of {wire:g} mm")
                    break
            else:
                for vehicle, port in ((ahead.name, one), (behind.name, other)):
                    room = self.layout.maps[vehicle].capacity(port, wire)
                    key = (vehicle, port.name)
                    self.used[key] = self.used.get(key, 0.0) + 1.0 / room
                return Joint(coupling, ahead.name, behind.name, one, other), ""
        return None, f"{full[0]}, and more want through"

    def _reach_of_portal(self, portal: Portal, vehicle: str) -> Reach:
        joint = self.layout.joints[portal]
        port = joint.port_ahead if joint.ahead == vehicle else joint.port_behind
        return Reach(portal, self.layout.maps[vehicle].mouth(port))

    def _lose(self, net: str, nodes: Sequence[Node], vehicle: str, reason: str) -> None:
        ends = [node for node in nodes if isinstance(node, NetEnd)]
        owner, pin = (ends[-1].owner, ends[-1].pin) if ends else (vehicle, "")
        self.layout.unreached.append(Unreached(net, owner, pin, reason))

    # -- ways -------------------------------------------------------------------------------------------

    def negotiate(
        self, vehicle: str, segments: list[Segment], deadline: float | None
    ) -> tuple[list[Run], Negotiation]:
        """Let all segments of a vehicle find their ways together; changes nothing."""
        map_ = self.layout.maps[vehicle]
        runs = [
            Run(
                f"{segment.net} {number}",
                self._voxels(segment.start, vehicle),
                self._voxels(segment.end, vehicle),
                self.diameters[segment.net],
            )
            for number, segment in enumerate(segments)
        ]
        widest = max(run.diameter for run in runs)
        used = {
            port.name: port
            for portal, joint in self.layout.joints.items()
            for port in (joint.port_ahead, joint.port_behind)
            if vehicle == (joint.ahead if port is joint.port_ahead else joint.behind)
            and any(portal in (segment.start, segment.end) for segment in segments)
        }
        places = [map_.place(port, widest) for port in used.values()]
        outcome = negotiate(
            map_.free,
            runs,
            pitch=map_.frame.pitch,
            places=places,
            cost=map_.cost,
            squares=map_.clear_squares,
            settings=NegotiationSettings(near_ends=NEAR_ENDS, greed=GREED),
            deadline=deadline,
        )
        return runs, outcome

    def take(self, vehicle: str, segments: list[Segment], runs: list[Run], outcome: Negotiation) -> None:
        """Put what came of a vehicle's negotiation into the layout."""
        map_ = self.layout.maps[vehicle]
        for segment, run, way in zip(segments, runs, outcome.ways, strict=True):
            if way is None:
                self._lose_segment(segment, "no way is wide enough")
            else:
                self.layout.laid.append(LaidSegment(segment, way.voxels, (*run.starts, *run.goals)))
        reasons = [str(place) for place in outcome.narrow] or [
            f"{', '.join(conflict.runs)} want {conflict.used:.1f} where there is room for {conflict.room:.1f}"
            for conflict in outcome.conflicts[:3]
        ]
        if outcome.conflicts:
            self.layout.unreached.extend(
                Unreached(segments[0].net, vehicle, "", f"too narrow: {reason}") for reason in reasons
            )
            ways = {run.name: way for run, way in zip(runs, outcome.ways, strict=True)}
            boxes = [box for conflict in outcome.conflicts for box in self._squeezed(map_, conflict, ways)]
            self.layout.squeezes.append(Squeeze(vehicle, tuple(dict.fromkeys(boxes))))

    def _squeezed(self, map_: VehicleMap, conflict: Conflict, ways: Mapping[str, Way | None]) -> list[Box]:
        """Return the room that a conflict's bundle wants along its way, as boxes one voxel step apart."""
        way = ways[conflict.runs[0]]
        if way is None or isinstance(conflict.where, str):
            return []
        half = conflict.used / 2
        tight = 2 * map_.clear_radius[tuple(way.voxels.T)] < conflict.used
        # Only the tight stretch round the conflict: other narrow places are conflicts of their own.
        here = int(np.abs(way.voxels - np.array(conflict.where)).max(axis=1).argmin())
        first, last = here, here
        while first > 0 and tight[first - 1]:
            first -= 1
        while last + 1 < len(tight) and tight[last + 1]:
            last += 1
        centres = map_.frame.centers(way.voxels[first : last + 1]).tolist()
        return [Box((x - half, y - half, z - half), (x + half, y + half, z + half)) for x, y, z in centres]

    def _voxels(self, node: NetEnd | Portal | SpliceSpot, vehicle: str) -> tuple[tuple[int, int, int], ...]:
        match node:
            case NetEnd():
                voxel = self.layout.maps[vehicle].start_at(node)
                return () if voxel is None else (voxel,)
            case Portal():
                return self._reach_of_portal(node, vehicle).voxels
            case SpliceSpot():
                return (node.voxel,)

    def _lose_segment(self, segment: Segment, reason: str) -> None:
        node = segment.end if isinstance(segment.end, NetEnd) else segment.start
        owner, pin = (node.owner, node.pin) if isinstance(node, NetEnd) else (segment.vehicle, "")
        self.layout.unreached.append(Unreached(segment.net, owner, pin, reason))


def _first_pin(node: Node) -> Node:
    return node.pins[0] if isinstance(node, NetEnd) else node
