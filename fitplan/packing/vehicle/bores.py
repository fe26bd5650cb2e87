"""What lies in a round bore, such as a boiler: it rests on both lower edges, on lines, and cannot slip off.

Contacts as narrow as these carry nothing elsewhere, as they lie within the play of bricks. In a bore whatever
moves one edge down the wall presses the other up it, so the two lines bear like wide ones. All lengths are in
tenths of a millimetre.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from fitplan.lattice.cover import TENTHS
from fitplan.model.solids import AXES, Cylinder
from fitplan.model.vehicle import Vehicle
from fitplan.packing.engine.problem import IntBox
from fitplan.packing.vehicle.support import Boxes, Rect

NEAR_WALL = 3
"""A part no further than this from both walls, in the middle of a bore, rests on them once it has settled."""
ASIDE = 6
"""So far from either wall a part may lie that settles into the middle by itself."""
_BEYOND = 5
"""So far behind the wall of a bore there must be brick."""
_SAMPLES = (1 / 6, 1 / 2, 5 / 6)


def edges_in_bores(vehicle: Vehicle, soles: Sequence[IntBox], bricks: Boxes) -> list[Rect]:
    """Return the lower edges of a part that rest on the walls of level bores, as rectangles without a width.

    Parameters
    ----------
    soles
        Boxes of the part that have a flat underside.
    bricks
        (n, 6), what bears.
    """
    bores = [one.solid for one in vehicle.body if one.state == "free" and isinstance(one.solid, Cylinder)]
    found: list[Rect] = []
    for bore in bores:
        if bore.axis == "z":
            continue
        along = AXES.index(bore.axis)
        across = 1 - along
        middle, level = bore.start[across] * TENTHS, bore.start[2] * TENTHS
        for sole in soles:
            low = max(sole[along], math.ceil(bore.bounds.low[along] * TENTHS))
            high = min(sole[along + 3], math.floor(bore.bounds.high[along] * TENTHS))
            aside = (sole[across] - middle, sole[across + 3] - middle)
            down = sole[2] - level
            away = [abs(math.hypot(one, down) - bore.radius * TENTHS) for one in aside]
            half = (sole[across + 3] - sole[across]) / 2
            settled = abs(math.hypot(half, down) - bore.radius * TENTHS)
            if low >= high or down >= 0 or not aside[0] < 0 < aside[1]:
                continue
            if settled > NEAR_WALL or max(away) > ASIDE:
                continue
            if all(_is_brick(bore, along, low, high, one, down, bricks) for one in aside):
                for edge in (sole[across], sole[across + 3]):
                    found.append((low, edge, high, edge) if along == 0 else (edge, low, edge, high))
    return found


def _is_brick(
    bore: Cylinder, along: int, low: int, high: int, aside: float, down: float, bricks: Boxes
) -> bool:
    """Return whether there is brick behind the wall of a bore all along an edge."""
    reach = (bore.radius * TENTHS + _BEYOND) / math.hypot(aside, down)
    point = [0.0, 0.0, bore.start[2] * TENTHS + down * reach]
    point[1 - along] = bore.start[1 - along] * TENTHS + aside * reach
    for share in _SAMPLES:
        point[along] = low + share * (high - low)
        if not ((bricks[:, :3] <= point) & (bricks[:, 3:] >= point)).all(axis=1).any():
            return False
    return True
