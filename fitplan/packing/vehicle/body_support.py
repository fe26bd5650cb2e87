"""Whether what stays of a body is still carried when bricks are taken out."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from fitplan.lattice.boxes import ExactSpace
from fitplan.lattice.clear import label_spaces
from fitplan.lattice.states import FREE_BIT, KEEP_CLEAR_BIT, OUTSIDE_BIT
from fitplan.model.solids import Vec
from fitplan.model.vehicle import Vehicle

UNKNOWN = (
    "all that stays is joined to the underside; whether bricks that only stand side by side hold each other"
    " the drawing cannot tell"
)


@dataclass(frozen=True)
class Carrying:
    """``hanging``: how much would hang in the air, in mm³, and where; 0 when all is carried."""

    hanging_mm3: float
    text: str

    @property
    def holds(self) -> bool:
        """Whether everything that stays is joined to the underside."""
        return self.hanging_mm3 == 0.0


def carrying(vehicle: Vehicle, removed: frozenset[str]) -> Carrying:
    """Tell whether every solid that stays is joined, face to face, to the underside of the body.

    A group that hung in the air before anything was taken out (something the drawing leaves open) is not
    held against the rebuild.
    """
    return left_hanging(vehicle, vehicle, removed)


def left_hanging(was: Vehicle, body: Vehicle, removed: frozenset[str] = frozenset()) -> Carrying:
    """Tell the same of a body that bricks are left out of: beside what it ``was``."""
    before = _hanging(was, frozenset())
    after = _hanging(body, removed)
    fresh = [(volume, where) for volume, where in after if where not in {place for _, place in before}]
    if not fresh:
        return Carrying(0.0, UNKNOWN)
    volume = sum(entry[0] for entry in fresh)
    spot = fresh[0][1]
    return Carrying(
        volume,
        f"bricks that fill {volume:.0f} mm³ would hang in the air, {len(fresh)} group(s),"
        f" the first at x {spot[0]:.0f}, y {spot[1]:.0f}, z {spot[2]:.0f} mm",
    )


def _hanging(vehicle: Vehicle, removed: frozenset[str]) -> list[tuple[float, Vec]]:
    """Return volume (mm³) and lowest corner (mm) of each solid group that does not reach the underside."""
    space = ExactSpace.of(vehicle, removed=removed, studs=False)
    solid = (space.bits & np.uint64(FREE_BIT | OUTSIDE_BIT | KEEP_CLEAR_BIT)) == 0
    labels, count = label_spaces(solid)
    grounded = set(np.unique(labels[:, :, 0]).tolist())
    x, y, z = (np.diff(face) for face in space.faces)
    volumes = x[:, None, None] * y[None, :, None] * z[None, None, :]
    found: list[tuple[float, Vec]] = []
    for number in range(1, count + 1):
        if number in grounded:
            continue
        cells = labels == number
        first = np.argwhere(cells)[0]
        corner = tuple(float(face[i]) for face, i in zip(space.faces, first, strict=True))
        found.append((float(volumes[cells].sum()), (corner[0], corner[1], corner[2])))
    return found
