"""Where the nets of a train run: segments with their ways through the maps of the vehicles.

A vehicle is wired as it stands or as its mirror image, whichever comes first in an order that knows no left
and right (`fitplan.routing.map.handedness`). Maps, voxels, ends and taut points here are those of the image
that was wired; `Layout.true_point` turns points back.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from fitplan.budget import Stage
from fitplan.model.as_built import BuiltWire
from fitplan.model.solids import Box, Vec
from fitplan.model.vehicle import Port
from fitplan.model.wired import Unreached
from fitplan.model.wiring import Allowances
from fitplan.model.wiring_facts import Shortage, Unproved
from fitplan.routing.map.ends import ResolvedNet
from fitplan.routing.map.topology import Portal, Segment, SpliceSpot
from fitplan.routing.map.vehicle_map import VehicleMap
from fitplan.routing.negotiation.net_joining import StyleQuestion
from fitplan.routing.trees.branching_cost import ground_of
from fitplan.routing.trees.net_wiring import NetWiring
from fitplan.routing.trees.tree_map import CostMap
from fitplan.routing.ways.way import Voxel


@dataclass(frozen=True)
class CouplingPorts:
    """The ports that wires pass at one coupling, vehicle ``ahead`` in front of ``behind``."""

    coupling: int
    ahead: str
    behind: str
    port_ahead: Port
    port_behind: Port

    def port_in(self, map_: VehicleMap) -> Port:
        """Return the port that is passed in one of the two vehicles, as its map has it."""
        name = self.port_ahead.name if self.ahead == map_.name else self.port_behind.name
        return next(port for port in map_.vehicle.ports if port.name == name)


@dataclass(frozen=True, eq=False)
class LaidSegment:
    """A segment with its way through the voxels of its vehicle, (n, 3) int32.

    ``ends`` are all voxels that it might have started or ended in; round them it needed no room. ``shut`` are
    (n, 3) int32 voxels that it keeps off, since a corner there would be too sharp.
    """

    segment: Segment
    voxels: NDArray[np.int32]
    ends: tuple[Voxel, ...]
    shut: NDArray[np.int32]


@dataclass(frozen=True)
class Pulled:
    """A taut segment from its start to its end.

    ``points`` are corners in the frame of its map (mm), pins included; ``lattice_mm`` is the way before it
    was pulled; ``turns_deg`` the angles at the inner corners.
    """

    points: tuple[Vec, ...]
    length_mm: float
    lattice_mm: float
    turns_deg: tuple[float, ...]


@dataclass(frozen=True)
class LaidDetour:
    """By how many millimetres a segment is longer than its shortest way alone, why, and that way."""

    why: str
    more_mm: float
    shortest: tuple[Vec, ...]


@dataclass(frozen=True)
class DrawnTight:
    """A taut segment drawn tight in exact millimetres, and what is told of its shorter ways."""

    pulled: Pulled
    detour: LaidDetour | None


@dataclass(frozen=True)
class Squeeze:
    """Where a bundle has too little room: boxes (mm) that parts would have to leave to it.

    ``get_on``: ports by name behind which not all conductors get on that pass them, and how many do.
    """

    vehicle: str
    boxes: tuple[Box, ...]
    get_on: tuple[tuple[str, int], ...] = ()


@dataclass
class KeptLayout:
    """What stays of what is built.

    Attributes
    ----------
    wires
        The wire that a laid segment belongs to, by ``id`` of the segment.
    splices, couplings, cavities
        Names of the splices; names of connectors by coupling; the cavity of each portal.
    """

    wires: dict[int, BuiltWire] = field(default_factory=dict)
    splices: dict[SpliceSpot, str] = field(default_factory=dict)
    couplings: dict[int, str] = field(default_factory=dict)
    cavities: dict[Portal, int] = field(default_factory=dict)


@dataclass
class Layout:
    """All segments with their ways; the ports each portal passes; what was not reached or is tight.

    Attributes
    ----------
    nets
        The nets with the ends that can be reached.
    images
        Vehicles whose mirror image was wired.
    pulled, detours
        By ``id`` of the laid segment.
    joiners
        What nets of three pins or more were joined by, by net and vehicle.
    cut
        Stages that a deadline cut short.
    troubles
        What each vehicle could not join, by vehicle.
    kept
        What was built already and stays.
    """

    maps: dict[str, VehicleMap]
    nets: tuple[ResolvedNet, ...] = ()
    images: frozenset[str] = frozenset()
    laid: list[LaidSegment] = field(default_factory=list)
    couplings: dict[Portal, CouplingPorts] = field(default_factory=dict)
    unreached: list[Unreached] = field(default_factory=list)
    squeezes: list[Squeeze] = field(default_factory=list)
    shortages: list[Shortage] = field(default_factory=list)
    troubles: dict[str, tuple[Unreached, ...]] = field(default_factory=dict)
    questions: list[StyleQuestion] = field(default_factory=list)
    unproved: list[Unproved] = field(default_factory=list)
    pulled: dict[int, Pulled] = field(default_factory=dict)
    detours: dict[int, LaidDetour] = field(default_factory=dict)
    joiners: dict[tuple[str, str], NetWiring] = field(default_factory=dict)
    grounds: dict[str, CostMap] = field(default_factory=dict)
    kept: KeptLayout = field(default_factory=KeptLayout)
    cut: set[Stage] = field(default_factory=set)

    def ports_of(self, vehicle: str) -> dict[Portal, str]:
        """Return by name which ports of a vehicle its portals pass."""
        passed = {portal: one for portal, one in self.couplings.items() if vehicle in (one.ahead, one.behind)}
        return {portal: one.port_in(self.maps[vehicle]).name for portal, one in passed.items()}

    def ground(self, vehicle: str, allowances: Allowances) -> CostMap:
        """Return what trees in a vehicle are laid over."""
        if vehicle not in self.grounds:
            self.grounds[vehicle] = ground_of(self.maps[vehicle], allowances)
        return self.grounds[vehicle]

    def true_point(self, vehicle: str, point: Vec) -> Vec:
        """Return a point of a vehicle's map in the frame of the vehicle, and the other way round (mm)."""
        if vehicle not in self.images:
            return point
        x, y, z = point
        return (x, round(self.maps[vehicle].vehicle.width - y, 4), z)

    def true_points(self, vehicle: str, points: Iterable[Vec]) -> tuple[Vec, ...]:
        """Return points of a vehicle's map in the frame of the vehicle (mm)."""
        return tuple(self.true_point(vehicle, point) for point in points)
