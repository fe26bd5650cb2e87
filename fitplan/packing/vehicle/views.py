"""What parts look out of, or sit on: the nearer a lens is to the middle, the more of its beam gets out.

A window wider than a lens leaves it any place in the outline, at any depth of the wall. Here places are
told apart by how far the lens is from the middle, and by how wide its beam is, at the wall's outside, beyond
the window's edges. Weights are in mm of wire, small enough that a place that takes a far longer wire, or
none that reaches, does not win. All are common practice, no source.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fitplan.lattice.cover import TENTHS
from fitplan.model.electrical import Ranger
from fitplan.model.solids import (
    ORIGIN,
    Box,
    Direction,
    Place,
    Pose,
    axis_of,
    is_forward,
    plane_of,
    pose_named,
)
from fitplan.model.vehicle import Vehicle
from fitplan.packing.vehicle.seats import Wanted, front_of

PER_ASIDE = 3.0
"""What a millimetre between the lens's middle and that of its window or face costs (mm of wire)."""
PER_HIDDEN = 10.0
"""What a millimetre of a beam costs that the edge of its window hides, at the wall's outside (mm of wire)."""
WIDEST_DEG = 60.0
"""Half angle from which on a beam counts as no wider."""


@dataclass(frozen=True)
class View:
    """What a part in a vehicle looks out of or sits on.

    Attributes
    ----------
    frame, out
        The window or the face (mm), and the direction from inside to outside.
    lens
        In the part's own frame (mm).
    slope
        By how much the beam widens to each side on a millimetre of its way; 0 for what has no beam.
    level
        The axes along which the middle is liked: what stands on a floor is not lifted off it for that.
    """

    frame: Box
    out: Direction
    lens: Box
    slope: float
    level: tuple[int, ...]

    def middle(self, pose: Pose) -> NDArray[np.int64]:
        """Return (3,) the offset (tenths) with the lens in the middle, its front flush with the outside."""
        lens = Place(pose, ORIGIN).move_solid(self.lens).bounds
        away = np.array(self.frame.center) - np.array(lens.center)
        away[axis_of(self.out)] = plane_of(self.frame, self.out) - plane_of(lens, self.out)
        found: NDArray[np.int64] = np.round(away * TENTHS).astype(np.int64)
        return found

    def poor(
        self, poses: Sequence[str], variant: NDArray[np.int64], offset: NDArray[np.int64]
    ) -> NDArray[np.float64]:
        """Return (n,) float64, what the views from places cost, in mm of wire.

        Parameters
        ----------
        poses, variant, offset
            Names of the poses, (n,) which of them a place has, and (n, 3) its offset in tenths of a mm.
        """
        boxes = [Place(pose_named(pose), ORIGIN).move_solid(self.lens).bounds for pose in poses]
        low = np.array([box.low for box in boxes])[variant] + offset / TENTHS
        high = np.array([box.high for box in boxes])[variant] + offset / TENTHS
        along = axis_of(self.out)
        front = high[:, along] if is_forward(self.out) else low[:, along]
        wide = self.slope * np.abs(plane_of(self.frame, self.out) - front)
        cost = np.zeros(len(offset))
        for axis in (axis for axis in range(3) if axis != along):
            if axis in self.level:
                middle = (low[:, axis] + high[:, axis]) / 2
                cost += PER_ASIDE * np.abs(middle - self.frame.center[axis])
            if self.slope:
                for gap in (low[:, axis] - self.frame.low[axis], self.frame.high[axis] - high[:, axis]):
                    cost += PER_HIDDEN * np.maximum(wide - gap, 0.0)
        return cost


def view_of(entry: Wanted, vehicle: Vehicle) -> View | None:
    """Return what a part looks out of or sits on in a vehicle; None for one that does neither."""
    need, part = entry.need, entry.part
    mount = part.mount
    level = (0, 1) if mount.needs_support else (0, 1, 2)
    if need.looks is not None:
        window = next((window for window in vehicle.windows if window.name == need.looks[1]), None)
        if window is None:
            return None
        lens = mount.lens or front_of(part.bounds, mount.looks or "+x")
        ranger = part.figure(Ranger)
        slope = math.tan(math.radians(min(ranger.half_angle_deg, WIDEST_DEG))) if ranger else 0.0
        return View(window.box, window.out, lens, slope, level)
    if need.sits is not None:
        faces = [face for owner in vehicle.built_in if owner.name == need.sits[1] for face in owner.faces]
        face = next((face for face in faces if face.name == need.sits[2]), None)
        if face is None:
            return None
        lens = mount.lens or front_of(part.bounds, mount.sits or "-z")
        return View(face.box, face.out, lens, 0.0, (0, 1, 2))
    return None
