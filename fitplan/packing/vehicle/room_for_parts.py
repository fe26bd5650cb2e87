"""A vehicle's room for parts with some bricks taken out, rounded both ways.

*Fits* is asked with everything rounded outwards; *cannot fit* with everything rounded inwards, with the
play of real bricks (n studs between two bricks measure 8n + 0.2 mm).  What lies between is *not decided*.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property, lru_cache

from fitplan.lattice.boxes import ExactSpace, hull_in_tenths
from fitplan.model.solids import Box
from fitplan.model.vehicle import Vehicle
from fitplan.packing.engine.problem import IntBox, Space
from fitplan.packing.vehicle.seats import PLAY_TENTHS, tenths_down, tenths_up


@dataclass(frozen=True)
class RoomForParts:
    """A vehicle's room for parts with some bricks taken out, rounded both ways.

    ``kept`` are boxes in tenths that parts leave to wires.
    """

    name: str
    vehicle: Vehicle
    removed: frozenset[str]
    kept: tuple[IntBox, ...] = ()

    @cached_property
    def sure(self) -> Space:
        """The room that is surely there, without what is kept for wires."""
        taken, bricks = _surely_taken(self.vehicle, self.removed)
        obstacles, walls = (*taken, *self.kept), (*bricks, *self.kept)
        return Space(hull_in_tenths(self.vehicle), obstacles, self.name, _unless_the_same(walls, obstacles))

    @property
    def bricks(self) -> tuple[IntBox, ...]:
        """What parts may rest on."""
        return bricks_of(self.vehicle, self.removed)

    @cached_property
    def possible(self) -> Space:
        """The most room that there can be, with the play of real bricks."""
        hull = hull_in_tenths(self.vehicle, "outward")
        wide = (
            hull[0] - PLAY_TENTHS, hull[1] - PLAY_TENTHS, hull[2],
            hull[3] + PLAY_TENTHS, hull[4] + PLAY_TENTHS, hull[5],
        )  # fmt: skip
        space = ExactSpace.of(self.vehicle, removed=self.removed, play=True)
        obstacles = tuple(space.boxes(~space.free("inward")))
        walls = tuple(space.boxes(space.walls("inward")))
        return Space(wide, obstacles, self.name, _unless_the_same(walls, obstacles))


@lru_cache(maxsize=64)
def _surely_taken(vehicle: Vehicle, removed: frozenset[str]) -> tuple[tuple[IntBox, ...], tuple[IntBox, ...]]:
    """Return all that parts must keep out of, and that of it which clearances must."""
    space = ExactSpace.of(vehicle, removed=removed)
    return tuple(space.boxes(~space.free())), tuple(space.boxes(space.walls()))


@lru_cache(maxsize=64)
def bricks_of(vehicle: Vehicle, removed: frozenset[str]) -> tuple[IntBox, ...]:
    """Return what parts may rest on: bricks, studs, what is built in, but not air that they leave free."""
    space = ExactSpace.of(vehicle, removed=removed)
    return tuple(space.boxes(space.solid()))


def taken_of(vehicle: Vehicle, removed: frozenset[str]) -> tuple[IntBox, ...]:
    """Return what no part and nothing that is built up may reach into."""
    return _surely_taken(vehicle, removed)[0]


def _unless_the_same(walls: tuple[IntBox, ...], obstacles: tuple[IntBox, ...]) -> tuple[IntBox, ...] | None:
    return None if walls == obstacles else walls


def box_in_tenths(box: Box) -> IntBox:
    """Return a box in whole tenths of a mm, rounded outwards."""
    low = [tenths_down(value) for value in box.low]
    high = [tenths_up(value) for value in box.high]
    return (low[0], low[1], low[2], high[0], high[1], high[2])


def of_mesh(vehicle: Vehicle) -> str:
    """Return how far walls that were drawn from a mesh may be off, as the beginning of a sentence."""
    rounded = vehicle.rounded
    return f"walls drawn from a mesh may stand up to {rounded:g} mm farther out, " if rounded else ""
