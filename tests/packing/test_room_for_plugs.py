"""Room for plugs is kept where there is any, and is no reason to leave a part out where there is none."""

from __future__ import annotations

from dataclasses import replace

import pytest

from fitplan.model.needed import Need
from fitplan.model.part import Clearance
from fitplan.model.solids import Box, bounds_of
from fitplan.packing.vehicle.pack import Packer
from fitplan.packing.vehicle.packing import Packing
from fitplan.packing.vehicle.seats import Wanted
from fitplan.packing.vehicle.wishes import Wishes

from .small_trains import block, hollow

PLUG = Clearance("plug", "plug", Box((20, 1, 1), (28, 5, 4)), "access")
BOARD = replace(block("b", (20.0, 6.0, 5.0)), clearances=(PLUG,))


def inside(studs: int) -> Box:
    """The room of a box that is one stud wide and one plate high: none turns in it, or lies on another."""
    return Box((8.0, 8.0, 19.2), (8.0 + 8 * studs, 16.0, 28.8))


def packed(studs: int, count: int, roomily: bool) -> Packing | None:
    packer = Packer({"v": hollow("v", studs + 2, 3, 3)})
    wanted = tuple(Wanted(Need(f"b{number}", (BOARD,)), BOARD) for number in range(count))
    if roomily:
        return packer.pack_roomily("v", wanted, frozenset(), Wishes(()))
    return packer.pack_as_it_is("v", wanted)


@pytest.mark.parametrize("roomily", [True, False])
@pytest.mark.parametrize(("studs", "count", "kept"), [(4, 1, True), (3, 1, False), (8, 2, True)])
def test_a_plug_has_its_room_where_there_is_any(studs: int, count: int, kept: bool, roomily: bool) -> None:
    """28 mm of a board and its plug go into 32 mm, and not into 24; those of two boards into 64 mm."""
    found = packed(studs, count, roomily)
    assert found is not None
    assert (found.verdict, len(found.placements)) == ("fits", count)
    room = inside(studs)
    for place in found.placements:
        plug = place.place.move_solid(PLUG.solid).bounds
        assert all(room.low[i] <= plug.low[i] and plug.high[i] <= room.high[i] for i in range(3)) == kept
        for other in found.placements:
            body = bounds_of(tuple(other.place.move_solid(one) for one in other.part.envelope))
            assert any(plug.high[i] <= body.low[i] or body.high[i] <= plug.low[i] for i in range(3))


@pytest.mark.parametrize("roomily", [True, False])
def test_a_board_longer_than_the_room_is_in_no_place(roomily: bool) -> None:
    found = packed(2, 1, roomily)
    assert found is None or found.verdict == "cannot fit"


def test_what_is_kept_for_wires_counts_at_once() -> None:
    """What was packed before is not told again; nor is what is kept in another vehicle heeded."""
    room = hollow("v", 6, 3, 3)
    packer = Packer({"v": room, "w": room})
    small = block("b", (10.0, 6.0, 5.0))
    wanted = (Wanted(Need("b", (small,)), small),)

    def low(name: str) -> float:
        (found,) = packer.pack_as_it_is(name, wanted).placements
        return bounds_of(tuple(found.place.move_solid(one) for one in small.envelope)).low[0]

    assert low("v") == low("w") < 20
    cavity = packer.cavity("w")
    packer.keep_for_wires("v", [Box((8.0, 8.0, 19.2), (20.0, 16.0, 28.8))])
    assert low("v") >= 20 > low("w")
    assert packer.cavity("w") is cavity
    packer.keep_for_wires("v", [Box((20.0, 8.0, 19.2), (30.0, 16.0, 28.8))])
    assert low("v") >= 30
    packer.keep_for_wires("v", [Box((30.0, 8.0, 19.2), (40.0, 16.0, 28.8))])
    assert packer.pack_as_it_is("v", wanted, proofs=False).verdict == "not decided"
    assert packer.pack_as_it_is("w", wanted).verdict == "fits"


def test_why_one_alone_has_no_room_and_why_two_together_have_none() -> None:
    """24 mm and 0.2 mm of play: a board of 25 lacks 0.8 mm, and two of 13 lie on each other or not at all."""
    packer = Packer({"v": hollow("v", 5, 3, 3)})
    alone, *both = [block(name, (long, 6.0, 5.0)) for name, long in (("b", 25.0), ("c", 13.0), ("d", 13.0))]
    found = packer.why_not_together("v", (Wanted(Need("b", (alone,)), alone),))
    assert found.axis == "length"
    assert found.missing_mm == pytest.approx(0.8)
    assert found.text.startswith("0.8 mm of length are missing for b in v")
    found = packer.why_not_together("v", tuple(Wanted(Need(part.id, (part,)), part) for part in both))
    assert found.text.startswith("c + d do not go in together in v; each of them alone does")
    assert found.axis == "height"
    assert found.missing_mm == pytest.approx(2 * 5.0 - 9.6)
