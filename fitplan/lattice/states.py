"""States as bits, so that a voxel or cell can keep the set of all that occur in it."""

from __future__ import annotations

from collections.abc import Collection

from fitplan.errors import FitplanError
from fitplan.model.vehicle import BodySolid, State, Vehicle

FREE_BIT, OUTSIDE_BIT, KEEP_CLEAR_BIT, FIXED_BIT, PART_BIT = 1, 2, 4, 8, 16
NAMES_FROM = 5
"""The first removable name has bit ``1 << NAMES_FROM``."""
MOST_NAMES = 58
"""So many removable names a vehicle may have, so that a set fits into 64 bits."""
_BITS: dict[State, int] = {
    "free": FREE_BIT, "outside": OUTSIDE_BIT, "keep-clear": KEEP_CLEAR_BIT, "fixed": FIXED_BIT,
}  # fmt: skip


def names_of(vehicle: Vehicle, removed: Collection[str] = ()) -> tuple[str, ...]:
    """Return a vehicle's removable names in its own order, once it is sure that `removed` are among them.

    Raises
    ------
    KeyError
        When a removed name is not one of the vehicle's.
    FitplanError
        When the vehicle has more than 58 removable names.
    """
    names = tuple(entry.name for entry in vehicle.removables)
    for name in removed:
        if name not in names:
            raise KeyError(name)
    if len(names) > MOST_NAMES:
        raise FitplanError(
            f"{vehicle.name}: found {len(names)} removable names; expected at most {MOST_NAMES}"
            " (give bricks that come out together one name)"
        )
    return names


def name_bit(names: tuple[str, ...], name: str) -> int:
    """Return the bit of a removable name.

    Raises
    ------
    KeyError
        When it is not among the names.
    """
    if name not in names:
        raise KeyError(name)
    return 1 << (NAMES_FROM + names.index(name))


def state_bit(entry: BodySolid, names: tuple[str, ...], removed: Collection[str]) -> int:
    """Return the bit of a solid's state; removed bricks are free."""
    if entry.state != "removable":
        return _BITS[entry.state]
    return FREE_BIT if entry.removable in removed else name_bit(names, entry.removable)
