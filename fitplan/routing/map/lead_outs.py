"""How much of a straight lead-out lies inside a solid: a wire begins at a pin, with nothing before it."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from fitplan.model.solids import Solid
from fitplan.model.spans import span

Floats = NDArray[np.float64]


def length_inside(start: Floats, ends: Floats, solid: Solid) -> Floats:
    """Return (n,), how much (mm) of the straight ways from a point to ends (n, 3) lies in a solid."""
    way = ends - start
    low, high = np.array(solid.bounds.low), np.array(solid.bounds.high)
    apart = (np.maximum(start, ends) < low) | (np.minimum(start, ends) > high)
    if apart.any(axis=1).all():
        return np.zeros(len(ends))
    enter, leave = span(np.broadcast_to(start, way.shape), way, solid)
    share = np.clip(np.minimum(leave, 1.0) - np.maximum(enter, 0.0), 0.0, 1.0)
    length: Floats = share * np.linalg.norm(way, axis=1)
    return length
