"""The middle line of a track of up to three curvatures and three gradients, and how vehicles stand on it.

Coordinates of the track in mm: x forwards and y to the left at the place where the first two curvatures meet,
z up from the rail head there. Places along the track are lengths s in plan, 0 where they meet. What is worked
out of a pose hangs on that pose alone, whatever is asked beside it (`kernels/track.c`).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from fitplan.kernels import Kernel, shared

Floats = NDArray[np.float64]
_STAND = 13
"""Figures of how a vehicle stands: its rear guide's point, its three axes, the place of that guide."""


@dataclass(frozen=True, eq=False)
class MiddleLine:
    """Many pieces of track side by side, each with up to two joints of curvatures and changes of gradient.

    Attributes
    ----------
    before, after
        (n,) curvature in 1/mm before and after s = 0; positive to the left, 0 straight.
    kink
        (n,) place of the first change of gradient.
    rise
        (n,) by how much the gradient changes there (0.04: by 4 %, upwards).
    further, span
        (n,) curvature beyond a second joint, and how far that lies beyond the first; none when not given.
    fall, hump
        (n,) a second change of gradient, and how far it lies beyond the first; none when not given.
    slope
        (n,) gradient before the first change; level when not given.
    """

    before: Floats
    after: Floats
    kink: Floats
    rise: Floats
    further: Floats | float = 0.0
    span: Floats | float = math.inf
    fall: Floats | float = 0.0
    hump: Floats | float = 0.0
    slope: Floats | float = 0.0

    @cached_property
    def rows(self) -> Floats:
        """The lines as (n, 9) rows, as the kernel takes them."""
        figures = (
            self.before, self.after, self.kink, self.rise, self.further, self.span, self.fall, self.hump,
            self.slope,
        )  # fmt: skip
        return np.stack(np.broadcast_arrays(*figures), axis=-1)

    def at(self, s: Floats) -> Floats:
        """Return (n, 3) points of the middle line at (n,) places."""
        kernel = shared("track")
        found = kernel.empty((len(s), 3), np.float64, zeroed=False)
        kernel.call("points_of_lines", kernel.put(self.rows), kernel.put(s), len(s), found)
        points: Floats = kernel.view(found, (len(s), 3), np.float64).copy()
        return points


@dataclass(frozen=True)
class RunningGear:
    """What guides a vehicle: two rigid axles, or two bogies.

    Attributes
    ----------
    rear, front
        Places of the axles or bogie pivots along the vehicle, in mm.
    bogie_wheelbase
        Distance of a bogie's outer axles; 0 for rigid axles. A bogie's pivot lies midway between its axles,
        so in a curve a little inside the middle line.
    """

    rear: float
    front: float
    bogie_wheelbase: float = 0.0

    def __post_init__(self) -> None:
        """Refuse gear that cannot guide."""
        if not self.front > self.rear:
            raise ValueError(
                f"the front axle or pivot lies ahead of the rear one, not at {self.front} and {self.rear}"
            )
        if self.bogie_wheelbase < 0:
            raise ValueError(f"a bogie's wheelbase is at least 0, not {self.bogie_wheelbase}")


@dataclass(frozen=True, eq=False)
class TrackPoses:
    """How vehicles stand: the points of their rear guides, and their axes; all (n, 3).

    ``forwards`` points along the vehicle, ``left`` is level, ``up`` completes them: a vehicle does not roll.
    """

    rear: Floats
    forwards: Floats
    left: Floats
    up: Floats
    gear: RunningGear
    rear_at: Floats
    """(n,) places of the rear guides along the track."""

    def point(self, x: float, y: float, z: float) -> Floats:
        """Return (n, 3), where a point of the vehicle is: x along, y to the left, z above rail head."""
        return self.rear + (x - self.gear.rear) * self.forwards + y * self.left + z * self.up


def stand(line: MiddleLine, gear: RunningGear, front_at: Floats) -> TrackPoses:
    """Return how a vehicle stands with its front guide at (n,) places: both guides on the middle line."""
    kernel = shared("track")
    rear_near = kernel.put(front_at - (gear.front - gear.rear))
    return _stands(kernel, "stand_alone", line, gear, kernel.put(front_at), rear_near)


def stand_behind(
    line: MiddleLine,
    ahead: TrackPoses,
    coupling_ahead: tuple[float, float],
    gear: RunningGear,
    coupling: tuple[float, float],
    drawbar: float,
    front_guess: Floats,
) -> TrackPoses:
    """Return how the next vehicle stands when a drawbar of fixed length joins the two couplings.

    Parameters
    ----------
    coupling_ahead, coupling
        (x, z) of the drawbar's pins, on the middle lines of the vehicles.
    front_guess
        (n,) places near which its front guide is.
    """
    kernel = shared("track")
    pins = kernel.put(ahead.point(coupling_ahead[0], 0.0, coupling_ahead[1]))
    return _stands(kernel, "stand_pulled", line, gear, pins, kernel.put(front_guess), *coupling, drawbar)


def _stands(
    kernel: Kernel, function: str, line: MiddleLine, gear: RunningGear, one: int, other: int, *more: float
) -> TrackPoses:
    """Ask how a vehicle stands on each line; ``one``, ``other``: where the kernel has what it goes by."""
    count = len(line.rows)
    found = kernel.empty((count, _STAND), np.float64, zeroed=False)
    figures = (gear.rear, gear.front, gear.bogie_wheelbase, *more)
    kernel.call(function, kernel.put(line.rows), one, other, count, *figures, found)
    stands = kernel.view(found, (count, _STAND), np.float64).copy()
    rear, forwards, left, up = (stands[:, k : k + 3] for k in range(0, 12, 3))
    return TrackPoses(rear, forwards, left, up, gear, stands[:, 12])
