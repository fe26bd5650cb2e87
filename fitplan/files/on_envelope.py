"""Where pins and lenses may lie on a part: at its envelope, and leading out of it."""

from __future__ import annotations

import math

from fitplan.model.part import Pin
from fitplan.model.solids import Box, Cylinder, Direction, Solid, Vec, axis_of, is_forward, unit_vector

PIN_MARGIN = 2.0
"""How far outside the envelope's bounds a pin may leave, in mm: soldered legs stand out a little."""


def within(point: Vec, box: Box, margin: float) -> bool:
    """Return whether a point lies in a box, or no farther than a margin (mm) outside."""
    return all(
        low - margin <= value <= high + margin
        for value, low, high in zip(point, box.low, box.high, strict=True)
    )


_OUT_MM = (1.0, 2.0, 3.0)
"""So far along its exit a wire must be out of the part."""


def leaves_into(pin: Pin, envelope: list[Solid]) -> bool:
    """Return whether a wire that leaves a pin along its exit runs into the part itself."""
    (x, y, z), (dx, dy, dz) = pin.at, unit_vector(pin.exit)
    points = [(x + far * dx, y + far * dy, z + far * dz) for far in _OUT_MM]
    return any(_holds(solid, point) for solid in envelope for point in points)


def _holds(solid: Solid, point: Vec, skin: float = 0.05) -> bool:
    """Return whether a point lies inside a solid, and not on its skin."""
    box = solid.bounds if isinstance(solid, Cylinder) else solid
    if not isinstance(box, Box):
        return False
    for at, low, high in zip(point, box.low, box.high, strict=True):
        if not low + skin < at < high - skin:
            return False
    if not isinstance(solid, Cylinder):
        return True
    across = [i for i, axis in enumerate("xyz") if axis != solid.axis]
    away = math.dist([point[i] for i in across], [solid.start[i] for i in across])
    return away < solid.radius - skin


def faces_away(lens: Box, looks: Direction, bounds: Box) -> bool:
    """Return whether a lens lies in the half of the part that is turned away from where it looks."""
    axis = axis_of(looks)
    middle = (bounds.low[axis] + bounds.high[axis]) / 2
    ahead = lens.center[axis] - middle
    return (ahead if is_forward(looks) else -ahead) < 0 < bounds.size[axis]


def point_words(point: Vec) -> str:
    """Return a point as a file says it."""
    return f"[{', '.join(f'{value:g}' for value in point)}]"


def span_words(box: Box) -> str:
    """Return from where to where a box goes, axis by axis."""
    return ", ".join(
        f"{axis} {low:g} to {high:g}" for axis, low, high in zip("xyz", box.low, box.high, strict=True)
    )
