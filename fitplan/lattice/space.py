"""The space of a vehicle in voxels: what each voxel may hold, for both ways of rounding at once.

Each voxel keeps the set of states that occur anywhere in it, as bits. A solid that fills a voxel replaces
the set by its own state; one that only touches it adds its state. From the set both answers follow:
rounded outwards a voxel is free only when nothing but free occurs in it; rounded inwards it is free as soon
as some free may occur. So the first never claims room that is not there, and the second never denies
room that is.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Iterable
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from fitplan.lattice.clear import within_reach
from fitplan.lattice.draw import draw_local
from fitplan.lattice.frame import Frame, Rounding, frame_of
from fitplan.lattice.states import (
    FIXED_BIT,
    FREE_BIT,
    KEEP_CLEAR_BIT,
    NAMES_FROM,
    OUTSIDE_BIT,
    PART_BIT,
    name_bit,
    names_of,
    state_bit,
)
from fitplan.model.solids import Solid
from fitplan.model.studs import floor_studs
from fitplan.model.vehicle import Vehicle
from fitplan.units import PITCH

FREE, OUTSIDE, KEEP_CLEAR, REMOVABLE, FIXED, PART = range(6)
"""Codes of `VehicleSpace.states`, from the clearest to the most solid."""


@dataclass(frozen=True, eq=False)
class VehicleSpace:
    """A vehicle drawn into its frame.

    Attributes
    ----------
    bits
        (x, y, z) unsigned, the set of states that occur in a voxel: free 1, outside 2, keep-clear 4,
        fixed 8, part 16, and 32, 64 … for each of `names`.
    names
        The vehicle's removable bricks, in its own order.
    taken_out
        The removable bricks that this space is without.
    """

    vehicle: Vehicle
    frame: Frame
    bits: NDArray[Any] = field(repr=False)
    names: tuple[str, ...] = ()
    taken_out: frozenset[str] = frozenset()

    @classmethod
    def of(
        cls,
        vehicle: Vehicle,
        *,
        removed: Collection[str] = (),
        margin: int = 1,
        pitch: float = PITCH,
        frame: Frame | None = None,
    ) -> VehicleSpace:
        """Draw a vehicle: its body in order, the studs of its floor, and what is built in.

        What no solid covers is outside. With `removed`, those bricks are free and the studs under them show.

        Raises
        ------
        KeyError
            When a removed name is not one of the vehicle's.
        FitplanError
            When the vehicle has more than 58 removable names.
        """
        names = names_of(vehicle, removed)
        frame = frame or frame_of(vehicle, margin, pitch)
        dtype = np.min_scalar_type((1 << (NAMES_FROM + len(names))) - 1)
        bits = np.full(frame.shape, OUTSIDE_BIT, dtype=dtype)
        for entry in (*vehicle.body, *floor_studs(vehicle, removed)):
            _paint(bits, frame, entry.solid, state_bit(entry, names, removed))
        for built in vehicle.built_in:
            for solid in built.solids:
                _paint(bits, frame, solid, FIXED_BIT)
        if vehicle.rounded:
            _give_way(bits, math.ceil(vehicle.rounded / pitch - 1e-6))
        return cls(vehicle, frame, bits, names, frozenset(removed))

    def removed(self, names: Collection[str]) -> VehicleSpace:
        """Return the space of the vehicle without these removable bricks; parts drawn in so far are lost.

        Raises
        ------
        KeyError
            When a name is not one of the vehicle's.
        """
        return VehicleSpace.of(self.vehicle, removed={*self.taken_out, *names}, frame=self.frame)

    def with_solids(self, solids: Iterable[Solid]) -> VehicleSpace:
        """Return the space with parts drawn in: their solids are taken, for parts and wires alike."""
        bits = self.bits.copy()
        for solid in solids:
            _paint(bits, self.frame, solid, PART_BIT)
        return replace(self, bits=bits)

    def free(self, rounding: Rounding = "outward") -> NDArray[np.bool_]:
        """Return (x, y, z) bool, True where parts may go.

        ``outward`` rounds all that is not free outwards (room that is surely there); ``inward`` rounds it
        inwards (room that may be there).
        """
        result: NDArray[np.bool_]
        result = self.bits == FREE_BIT if rounding == "outward" else (self.bits & FREE_BIT) != 0
        return result

    def solid(self, rounding: Rounding = "outward") -> NDArray[np.bool_]:
        """Return (x, y, z) bool, True where there is something solid: body, built-in, parts.

        ``outward``: where something solid occurs in the voxel; ``inward``: where nothing else does.
        """
        clear = FREE_BIT | OUTSIDE_BIT | KEEP_CLEAR_BIT
        result: NDArray[np.bool_]
        if rounding == "outward":
            result = (self.bits & ~self.bits.dtype.type(clear)) != 0
        else:
            result = (self.bits & clear) == 0
        return result

    def clear(self, rounding: Rounding = "outward") -> NDArray[np.bool_]:
        """Return (x, y, z) bool, True where light, sound and a moving part pass: nothing solid there."""
        result: NDArray[np.bool_] = ~self.solid(rounding)
        return result

    def wire_free(self, rounding: Rounding = "outward") -> NDArray[np.bool_]:
        """Return (x, y, z) bool, True where wires may go: free space and ports, but not through parts."""
        touched, inside = self.ports
        no_part = (self.bits & PART_BIT) == 0
        kept_out = self.without_wires(rounding)
        if rounding == "outward":
            surely: NDArray[np.bool_] = (self.free("outward") | (inside & no_part)) & ~kept_out
            return surely
        result: NDArray[np.bool_] = (self.free("inward") | (touched & (self.bits != PART_BIT))) & ~kept_out
        return result

    def without_wires(self, rounding: Rounding = "outward") -> NDArray[np.bool_]:
        """Return (x, y, z) bool, True where a zone keeps wires out."""
        result = np.zeros(self.frame.shape, dtype=np.bool_)
        for zone in self.vehicle.zones:
            if not zone.wires:
                result[self.frame.box_slice(zone.box, rounding)] = True
        return result

    @cached_property
    def ports(self) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
        """Voxels that some port touches, and voxels that lie wholly inside one; (x, y, z) bool each."""
        touched = np.zeros(self.frame.shape, dtype=np.bool_)
        inside = np.zeros(self.frame.shape, dtype=np.bool_)
        for port in self.vehicle.ports:
            touched[self.frame.box_slice(port.box, "outward")] = True
            inside[self.frame.box_slice(port.box, "inward")] = True
        return touched, inside

    def states(self, rounding: Rounding = "outward") -> NDArray[np.uint8]:
        """Return (x, y, z) uint8, one code a voxel: FREE, OUTSIDE, KEEP_CLEAR, REMOVABLE, FIXED or PART.

        Where several states occur in a voxel, ``outward`` gives the most solid, ``inward`` the clearest.
        """
        result = np.full(self.frame.shape, OUTSIDE, dtype=np.uint8)
        order = (
            (FREE, FREE_BIT), (OUTSIDE, OUTSIDE_BIT), (KEEP_CLEAR, KEEP_CLEAR_BIT),
            (REMOVABLE, self._all_names), (FIXED, FIXED_BIT), (PART, PART_BIT),
        )  # fmt: skip
        for code, bit in order if rounding == "outward" else reversed(order):
            if bit:
                result[(self.bits & bit) != 0] = code
        return result

    def removable(self, name: str, rounding: Rounding = "outward") -> NDArray[np.bool_]:
        """Return (x, y, z) bool, True where a removable brick touches the voxel, or fills it (inward).

        Raises
        ------
        KeyError
            When the vehicle has no such name.
        """
        bit = name_bit(self.names, name)
        result: NDArray[np.bool_] = (self.bits & bit) != 0 if rounding == "outward" else self.bits == bit
        return result

    @property
    def _all_names(self) -> int:
        return ((1 << len(self.names)) - 1) << NAMES_FROM


def _give_way(bits: NDArray[Any], voxels: int) -> None:
    """Let what is not free be possibly free as far as it may have been rounded outwards."""
    solid = (bits & (FREE_BIT | OUTSIDE_BIT)) == 0
    edges = [np.arange(n + 1) for n in bits.shape]
    near = within_reach((bits & FREE_BIT) != 0, edges, voxels)
    bits[solid & near] |= bits.dtype.type(FREE_BIT)


def _paint(bits: NDArray[Any], frame: Frame, solid: Solid, bit: int) -> None:
    """Add a state where the solid touches a voxel, and let it replace all others where it fills one."""
    value = bits.dtype.type(bit)
    window, mask = draw_local(solid, frame, "outward")
    bits[window] |= mask * value
    window, mask = draw_local(solid, frame, "inward")
    bits[window][mask] = value
