"""A shorter way is told only where it is one: bricks that hold a load may bar what was one before them."""

from __future__ import annotations

import pytest

from fitplan.model.solids import Box
from fitplan.model.wired import Detour, Wire, WireEnd
from fitplan.routing.negotiation.detours import without_barred_ways

OUTER = 1.0
END = WireEnd("pin", "a", "p0", "wagon", (0.0, 0.0, 10.0), 4.0)


def _wire(way: tuple[tuple[float, float, float], ...]) -> Wire:
    told = Detour("wagon", "room to bend", 3.0, way)
    other = Detour("loco", "room to bend", 3.0, way)
    return Wire(1, "n", "signal", "BK", 28, OUTER, END, END, (), 0.0, (), 0.0, 0.0, 0.0, (told, other))


@pytest.mark.parametrize(
    ("low", "left"),
    [
        ((50.0, -8.0, 20.0), ["loco"]),  # across the second piece
        ((50.0, 0.4, 20.0), ["loco"]),  # 0.4 mm beside it: half the wire is 0.5
        ((50.0, 0.6, 20.0), ["wagon", "loco"]),
        ((50.0, -16.6, 20.0), ["wagon", "loco"]),
        ((50.0, -16.4, 20.0), ["loco"]),
        ((-8.6, -10.0, 15.0), ["wagon", "loco"]),  # behind its first corner
        ((-8.4, -10.0, 15.0), ["loco"]),
    ],
)
def test_what_bricks_bar_is_not_told(low: tuple[float, float, float], left: list[str]) -> None:
    """A brick of 8 × 16 × 9.6 mm beside a way of two pieces: up at x = 0, then along x at 24 mm."""
    way = ((0.0, 0.0, 10.0), (0.0, 0.0, 24.0), (100.0, 0.0, 24.0))
    brick = Box(low, (low[0] + 8.0, low[1] + 16.0, low[2] + 9.6))
    wire = _wire(way)
    told = without_barred_ways(wire, {"wagon": [brick]})
    assert [one.vehicle for one in told.detours] == left
    assert (told is wire) == (len(left) == 2)
