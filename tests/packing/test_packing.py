"""What came of putting parts into a vehicle, when the parts are laid elsewhere."""

from __future__ import annotations

from dataclasses import replace

import pytest

from fitplan.model.needed import Need
from fitplan.model.placed import Piece, Placement, Rebuild, Shelf
from fitplan.model.solids import Box, Place, Vec, pose_named
from fitplan.packing.vehicle.pack import Packer
from fitplan.packing.vehicle.packing import Packing
from fitplan.packing.vehicle.seats import Wanted
from tests.packing.small_trains import block, hollow


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


@pytest.mark.parametrize(
    ("sizes", "begins"),
    [
        (((64.1, 12.0, 8.0),), "0.1 mm of length are missing as drawn; "),
        (((64.1, 32.1, 8.0),), "it finds no room as drawn; "),
        (((64.0, 16.1, 19.0), (64.0, 16.0, 19.0)), "they find no room together as drawn; "),
    ],
)
def test_what_goes_in_between_real_bricks_alone_is_explained(sizes: tuple[Vec, ...], begins: str) -> None:
    """Inside are 64 × 32 mm as drawn: a tenth more is not decided, and a sentence says why."""
    parts = [block(f"b{number}", size) for number, size in enumerate(sizes)]
    wanted = tuple(Wanted(Need(part.id, (part,)), part) for part in parts)
    packing = Packer({"v": hollow("v", 10, 6, 6)}).pack_as_it_is("v", wanted)
    assert packing.verdict == "not decided"
    assert packing.reason.startswith(begins)
    assert "between real bricks there is up to 0.2 mm more room than drawn" in packing.reason
    assert packing.reason.endswith("so it may go in: measure the gap and try")
