"""What lies level in a round bore of the body: its two lower edges rest on the bore's wall, on lines.

Neither can slip off: what moves one edge down the wall presses the other up it.
"""

from __future__ import annotations

import math
from collections.abc import Iterator

from fitplan.model.solids import Box, Cylinder, Vec
from fitplan.verify.scene import PlacedPart, Site

RESTS, ASIDE = 0.3, 0.6
"""How far (mm) edges may be from the wall: in the middle of the bore, where it settles, and as it lies."""
_BEYOND = 0.5
"""So far behind the wall (mm) there is brick."""


def resting_in_bores(site: Site, part: PlacedPart) -> list[tuple[float, float]]:
    """Return the ends, seen from above, of the edges of a part that rest on walls of bores."""
    found: list[tuple[float, float]] = []
    for one in site.vehicle.body:
        bore = one.solid
        if one.state != "free" or not isinstance(bore, Cylinder) or bore.axis == "z":
            continue
        for shape in part.envelope:
            if isinstance(shape, Box):
                edges = list(_edges(site, bore, shape))
                if len(edges) == 2:
                    found += [(x, y) for edge in edges for x, y, _ in edge]
    return found


def _edges(site: Site, bore: Cylinder, box: Box) -> Iterator[tuple[Vec, Vec]]:
    """Yield the lower edges of a box on either side of a bore, where they rest on brick."""
    along = 0 if bore.axis == "x" else 1
    across = 1 - along
    low = max(box.low[along], bore.bounds.low[along])
    high = min(box.high[along], bore.bounds.high[along])
    down = bore.start[2] - box.low[2]
    settled = math.hypot(box.size[across] / 2, down)
    if low >= high or down <= 0 or abs(settled - bore.radius) > RESTS:
        return
    for sign, side in ((-1, box.low[across]), (1, box.high[across])):
        aside = side - bore.start[across]
        if sign * aside <= 0 or abs(math.hypot(aside, down) - bore.radius) > ASIDE:
            continue
        angle = math.atan2(down, aside)
        behind = bore.radius + _BEYOND
        beyond = (bore.start[across] + behind * math.cos(angle), bore.start[2] - behind * math.sin(angle))
        spots = (low + share * (high - low) for share in (0.1, 0.5, 0.9))
        if all(site.body.state_at(_point(along, at, *beyond)) in ("fixed", "removable") for at in spots):
            yield _point(along, low, side, box.low[2]), _point(along, high, side, box.low[2])


def _point(along: int, at: float, aside: float, level: float) -> Vec:
    return (at, aside, level) if along == 0 else (aside, at, level)
