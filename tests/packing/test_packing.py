"""What came of putting parts into a vehicle, when the parts are laid elsewhere."""

from __future__ import annotations

from dataclasses import replace

from fitplan.model.placed import Piece, Placement, Rebuild, Shelf
from fitplan.model.solids import Box, Place, pose_named
from fitplan.packing.vehicle.packing import Packing
from tests.packing.small_trains import block


def test_a_rebuild_adds_what_carries_the_parts_where_they_lie_now() -> None:
    """Pads of places that were given up are not added; the bricks that come out and their cost stay."""
    part = block("part", (20.0, 10.0, 10.0))
    old, new = (
        Shelf("pad", (Piece("pad", Box((x, 8.0, 19.2), (x + 20.0, 18.0, 21.0))),), 0, True)
        for x in (8.0, 40.0)
    )
    before, after, beside = (
        Placement(name, part, "v", Place(pose_named("+x+y+z"), (x, 8.0, 21.0)), "a pad", shelf)
        for name, x, shelf in (("one", 8.0, old), ("one", 40.0, new), ("two", 70.0, None))
    )
    rebuild = Rebuild("v", ("neck",), (old,), 3.0, 2.0, "")
    packing = Packing("v", "fits after a rebuild", (before, beside), rebuild=rebuild)
    moved = packing.placed((after, beside))
    assert moved.placements == (after, beside)
    assert moved.rebuild == replace(rebuild, shelves=(new,))
    assert (moved.cost, moved.verdict) == (packing.cost, packing.verdict)
    plain = replace(packing, rebuild=None).placed((after,))
    assert plain.rebuild is None
