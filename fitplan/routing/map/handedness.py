"""Which of a map and its mirror image is to be solved, so that a mirrored train gets the mirrored wires.

Among equally short ways a search takes the first it meets, and what is first depends on the voxels' order.
Solving always the same one of the two images, and turning the answer back, makes left and right equal.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from fitplan.lattice.frame import Frame
from fitplan.model.solids import Direction, mirrored, mirrored_box
from fitplan.model.vehicle import Vehicle
from fitplan.routing.map.ends import NetEnd
from fitplan.routing.map.vehicle_map import VehicleMap

_IN_THE_MIDDLE = 1e-6
_MIRRORED: dict[Direction, Direction] = {"+y": "-y", "-y": "+y"}


def to_be_mirrored(free: NDArray[np.bool_], aside: Iterable[float]) -> bool:
    """Tell whether the mirror image (left for right) is the one to be solved.

    Of a map and its image, exactly one is to be mirrored, unless they are the same with all places.

    Parameters
    ----------
    free
        (x, y, z) bool; y is mirrored.
    aside
        How far to the left of the middle things lie that matter, such as pins, in a fixed order.
    """
    image = free[:, ::-1]
    different = free != image
    if different.any():
        first = np.unravel_index(int(different.argmax()), free.shape)
        return bool(free[first])
    return next((off > 0 for off in aside if abs(off) > _IN_THE_MIDDLE), False)


def mirrored_map(map_: VehicleMap) -> VehicleMap:
    """Return the image of a vehicle's map, with its ports and openings."""
    width = map_.vehicle.width
    x, y, z = map_.frame.origin
    frame = Frame(
        (x, width - y - map_.frame.shape[1] * map_.frame.pitch, z), map_.frame.shape, map_.frame.pitch
    )
    return VehicleMap(
        map_.name,
        _mirrored_vehicle(map_.vehicle),
        frame,
        np.ascontiguousarray(map_.free[:, ::-1]),
        np.ascontiguousarray(map_.keep_clear[:, ::-1]),
        np.ascontiguousarray(map_.walls[:, ::-1]),
        {owner: tuple(mirrored(one, width) for one in solids) for owner, solids in map_.parts.items()},
        map_.exact.image(),
    )


def mirrored_end(end: NetEnd, width: float) -> NetEnd:
    """Return the image of an end in a vehicle so wide (mm), with the pins joined to it."""
    x, y, z = end.at
    return replace(
        end,
        at=(x, width - y, z),
        exit=_MIRRORED.get(end.exit, end.exit),
        others=tuple(mirrored_end(other, width) for other in end.others),
    )


def _mirrored_vehicle(vehicle: Vehicle) -> Vehicle:
    """Return a vehicle with its ports and openings mirrored; wires look at nothing else of it."""
    width = vehicle.width
    return replace(
        vehicle,
        ports=tuple(
            replace(port, box=mirrored_box(port.box, width), out=_MIRRORED.get(port.out, port.out))
            for port in vehicle.ports
        ),
        openings=tuple(
            replace(one, box=mirrored_box(one.box, width), out=_MIRRORED.get(one.out, one.out))
            for one in vehicle.openings
        ),
    )
