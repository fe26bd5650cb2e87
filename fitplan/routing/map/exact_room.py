"""What wires keep off in one vehicle, as boxes in millimetres: body, parts and what parts keep clear.

Boxes are exact; round and sloping solids are taken as stairs that hold them, so a way that keeps off all
boxes keeps off everything. Ports are holes.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from fitplan.lattice.boxes import obstacle_boxes, part_boxes
from fitplan.lattice.cover import TENTHS, IntBox
from fitplan.lattice.difference import without
from fitplan.model.solids import Solid
from fitplan.model.vehicle import Vehicle
from fitplan.routing.ways.tight import drawn_tight

Floats = NDArray[np.float64]
MIDDLE_MM = 0.4
"""How far off everything a wire stays round its ends and in ports, where it is not thinner (mm)."""
NEAR_MM = 3.6
"""How far round its ends that is enough (mm, along each axis)."""
_STEP = 0.4


@dataclass(frozen=True, eq=False)
class ExactRoom:
    """A vehicle without some bricks, with solids of parts in it; ``mirrored``: its image, left for right.

    ``hands`` are solids that plugs and fingers need while the vehicle is open: wires keep out of them by
    choice, and could lie there.
    """

    vehicle: Vehicle
    removed: frozenset[str]
    solids: tuple[Solid, ...]
    hands: tuple[Solid, ...] = ()
    mirrored: bool = False

    def image(self) -> ExactRoom:
        """Return the room left for right."""
        return replace(self, mirrored=not self.mirrored)

    @cached_property
    def without_hands(self) -> ExactRoom:
        """The room without what plugs and fingers need."""
        return replace(self, hands=()) if self.hands else self

    @cached_property
    def without_parts(self) -> ExactRoom:
        """The room with nothing in it but the vehicle itself."""
        return replace(self, solids=(), hands=())

    @cached_property
    def ports(self) -> Floats:
        """(m, 6) float64, low and high corners of the holes in mm."""
        rows = [[*port.box.low, *port.box.high] for port in self.vehicle.ports]
        return self._seen(np.array(rows, dtype=np.float64).reshape(-1, 6))

    @cached_property
    def boxes(self) -> Floats:
        """(n, 6) float64, low and high corners of what is in the way in mm."""
        body = _in_mm(obstacle_boxes(self.vehicle, removed=self.removed, step=_STEP))
        for port in self.vehicle.ports:
            body = without(body, (*port.box.low, *port.box.high))
        zones = [[*zone.box.low, *zone.box.high] for zone in self.vehicle.zones if not zone.wires]
        kept_out = np.array(zones, dtype=np.float64).reshape(-1, 6)
        filled = _in_mm(part_boxes((*self.solids, *self.hands), step=_STEP))
        return self._seen(np.concatenate([body, kept_out, filled]))

    def tightened(self, points: Floats, diameter: float) -> Floats:
        """Return a way of a wire of this diameter (mm) drawn tight, its ends held.

        Parameters
        ----------
        points
            (n, 3) float64, its corners in mm.
        """
        low, high = points.min(axis=0), points.max(axis=0)
        found = drawn_tight(points, *self.around(low, high, points, diameter))
        if (found < low).any() or (found > high).any():
            # A corner slid out of the box round the way: what lies beyond it is in the way as well.
            far = np.full(3, np.inf)
            found = drawn_tight(points, *self.around(-far, far, points, diameter))
        return found

    def around(
        self, low: Floats, high: Floats, points: Floats, diameter: float
    ) -> tuple[Floats, Floats, float, float]:
        """Return what a way in a box from ``low`` to ``high`` keeps off, as `drawn_tight` wants it.

        Boxes in the way, zones round its ends and ports, and how far its middle line keeps off without and
        within these.
        """
        radius = diameter / 2
        ends = np.concatenate([points[[0, -1]] - NEAR_MM, points[[0, -1]] + NEAR_MM], axis=1)
        grown = self.ports + np.array([-NEAR_MM] * 3 + [NEAR_MM] * 3)
        near = ((self.boxes[:, :3] < high + radius) & (self.boxes[:, 3:] > low - radius)).all(axis=1)
        return self.boxes[near], np.concatenate([ends, grown]), radius, min(radius, MIDDLE_MM)

    def _seen(self, boxes: Floats) -> Floats:
        if not self.mirrored:
            return boxes
        found = boxes.copy()
        found[:, 1], found[:, 4] = self.vehicle.width - boxes[:, 4], self.vehicle.width - boxes[:, 1]
        return found


def _in_mm(boxes: Iterable[IntBox]) -> Floats:
    found: Floats = np.array(list(boxes), dtype=np.float64).reshape(-1, 6) / TENTHS
    return found
