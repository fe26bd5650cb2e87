"""Holes for wires in a body: what they cost, how they are drawn, and the body without them again.

Figures of bricks are common practice, no source: a brick is 9.6 mm high and has a round hole of 4.8 mm, whose
middle is 5.6 mm above its underside. Voxels hold the square of 3.2 mm within that round.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace
from types import MappingProxyType

from fitplan.model.solids import Box, Vec
from fitplan.model.vehicle import BodySolid, Hole, HoleKind, Port, Removable, Vehicle

PRICES: Mapping[HoleKind, float] = MappingProxyType(
    {"brick with a hole": 1.0, "brick left out": 2.0, "gap of a brick": 0.0}
)
"""What each brick of a hole costs; the gap that a removable brick leaves is in that brick's own cost."""
SQUARE = 3.2
"""Edge of the square within the round of a brick's hole, in mm."""
SQUARE_FROM = 4.0
"""How far above the underside of the brick that square begins, in mm."""
ABOVE_STUD = 2.4
"""Where a brick is left out a stud stands up from below: so far up wires do not count on the gap, in mm."""
_UNDER = 0.8


def opened(vehicle: Vehicle, holes: Iterable[Hole], *, told: bool = True) -> Vehicle:
    """Return a vehicle with holes.

    Parameters
    ----------
    told
        As a plan tells it: holes are removable bricks, which a rebuild takes out. Otherwise they are clear
        already, as searches want it.
    """
    more = tuple(holes)
    solids = tuple(solid for hole in more for solid in _solids(hole, told))
    bricks = tuple(Removable(hole.name, hole.cost) for hole in more if told and _has_brick(hole))
    ports = tuple(port for hole in more if (port := port_of(vehicle, hole)) is not None)
    return replace(
        vehicle,
        body=(*vehicle.body, *solids),
        removables=(*vehicle.removables, *bricks),
        ports=(*vehicle.ports, *ports),
        holes=(*vehicle.holes, *more) if told else vehicle.holes,
    )


def closed(vehicle: Vehicle) -> Vehicle:
    """Return a vehicle as it was before a plan opened holes in it."""
    solids = sum(len(_solids(hole, True)) for hole in vehicle.holes)
    bricks = sum(_has_brick(hole) for hole in vehicle.holes)
    ports = sum(hole.out is not None for hole in vehicle.holes)
    return replace(
        vehicle,
        body=vehicle.body[: len(vehicle.body) - solids],
        removables=vehicle.removables[: len(vehicle.removables) - bricks],
        ports=vehicle.ports[: len(vehicle.ports) - ports],
        holes=(),
    )


def port_of(vehicle: Vehicle, hole: Hole) -> Port | None:
    """Return the port that a hole in an end wall makes; None for one between inner rooms."""
    if hole.out is None:
        return None
    return Port(hole.name, passage_of(vehicle, hole), hole.out)


def passage_of(vehicle: Vehicle, hole: Hole) -> Box:
    """Return the part of a hole that wires may count on: above the stud that comes to light under it."""
    low, high = hole.box.low, hole.box.high
    if hole.kind == "brick left out" and vehicle.floor_finish == "studded":
        return Box((low[0], low[1], low[2] + ABOVE_STUD), high)
    return hole.box


def _has_brick(hole: Hole) -> bool:
    """Whether a hole is a brick of its own, which a rebuild names."""
    return hole.kind != "gap of a brick"


def _solids(hole: Hole, told: bool) -> tuple[BodySolid, ...]:
    if not _has_brick(hole):
        return ()
    cut = BodySolid(hole.box, "removable", hole.name) if told else BodySolid(hole.box, "free")
    if hole.kind == "brick left out":
        return (cut,)
    # Within a brick there is no stud under the hole.
    low: Vec = hole.box.low
    under = Box((low[0], low[1], low[2] - _UNDER), (hole.box.high[0], hole.box.high[1], low[2]))
    return (BodySolid(under, "fixed", smooth=True), cut)
