"""Foam tape at the side of a light part: where it lies, how much of it, and what the checker says of it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from fitplan.model.part import Mount, Part
from fitplan.model.placed import NOTHING, SHELF_WORDS, TAPE_MM2_PER_G, Piece, Placement, Shelf
from fitplan.model.solids import Box, Place, pose_named
from fitplan.model.vehicle import BodySolid, Opening, Window
from fitplan.packing.vehicle.lowering import Carried
from fitplan.packing.vehicle.posts import broadened
from fitplan.packing.vehicle.shelves import _beyond, with_shelves

from .small_trains import hollow
from .test_additions import wrong

BODY = hollow("v", 10, 6, 12)
"""Smooth inside, from x = y = 8 mm and z = 19.2 mm on."""


def board(x: float, *, mass: float = 2.0, thick: float = 1.6, base: float = 40.0) -> Placement:
    """A board on edge, 12 mm wide and 13 mm high, ``x`` mm before the rear wall."""
    made = Part(
        "eye", "eye", "sensor", (Box((0, 0, 0), (thick, 12, 13)),), mass, "invented for a test", mount=Mount()
    )
    return Placement("eye", made, "v", Place(pose_named("+x+y+z"), (8 + x, 18.0, base)), NOTHING)


def held(place: Placement, *others: Placement, lid: Box | None = None) -> Placement:
    """Return what holds a part that nothing can be built up to, after the checker has seen it."""
    body = BODY if lid is None else replace(BODY, openings=(*BODY.openings, Opening("lid", lid, "-x")))
    rests = [Carried("eye", 0, NOTHING, steady=False), *(Carried(one.need, 0, "the body") for one in others)]
    found, *_ = with_shelves(body, frozenset(), [place, *others], rests)
    if found.shelf is not None:
        assert wrong(body, found) == []
    return found


def test_a_board_before_a_wall_is_stuck_to_it() -> None:
    """As large as what faces it, as thick as the gap, up to less than a plate; all of it, and it stands."""
    for gap in (0.2, 1.5, 3.1):
        found = held(board(gap))
        assert (found.steady, found.carried_by) == (True, SHELF_WORDS["wall"])
        assert found.shelf is not None
        (pad,) = found.shelf.pieces
        assert (*pad.box.low, *pad.box.high) == pytest.approx((8, 18, 40, 8 + gap, 30, 53))
    assert held(board(3.2)).carried_by == NOTHING
    flush = held(board(0.0))  # plain tape: nothing lies between
    assert (flush.shelf, flush.steady, flush.carried_by) == (None, False, SHELF_WORDS["wall"])


def test_tape_goes_round_what_is_in_the_way() -> None:
    """Another part reaches between board and wall: the larger of what is left beside it."""
    other = replace(board(0.5, thick=0.8), need="chip", place=Place(pose_named("+x+y+z"), (8.5, 10.0, 40.0)))
    found = held(board(1.5), other)  # the chip covers y 10 to 22
    assert found.shelf is not None
    (pad,) = found.shelf.pieces
    assert (pad.box.low[1], pad.box.high[1]) == pytest.approx((22, 30))


def test_tape_is_as_wide_as_one_can_cut() -> None:
    """Over an opening the wall meets a strip at the board's upper edge: 2 mm hold it, 1.9 mm are none."""
    for base, holds in ((38.0, False), (38.1, True)):
        window = Window("gap", Box((0, 8, 30), (8, 40, 49.1)), "-x")
        open_ = BodySolid(window.box, "free")
        body = replace(BODY, body=(*BODY.body, open_), windows=(window,))
        rests = [Carried("eye", 0, NOTHING, steady=False)]
        (found,) = with_shelves(body, frozenset(), [board(1.5, base=base)], rests)
        assert found.steady is holds
        assert found.shelf is None or wrong(body, found) == []


def test_what_is_heavy_or_before_a_lid_is_not_taped() -> None:
    """20 g are held where the tape is large enough for them; a lid would take the part along."""
    area = 12 * 13
    assert area / TAPE_MM2_PER_G > 20
    assert held(board(1.0, mass=20.0)).steady
    assert not held(board(1.0, mass=21.0)).steady
    assert not held(board(1.0), lid=Box((0, 8, 30), (8, 40, 60))).steady


def test_a_wrong_tape_is_found() -> None:
    """The checker tells tape in the air, tape before a lid, tape that is no pad, and a heavy part on tape."""
    place = held(board(1.5))
    assert place.shelf is not None
    (pad,) = place.shelf.pieces

    def told(low: float, high: float, name: str = "pad") -> list[str]:
        box = Box((low, *pad.box.low[1:]), (high, *pad.box.high[1:]))
        return wrong(BODY, replace(place, shelf=Shelf("wall", (Piece(name, box),), 0)))

    assert told(8.0, 9.5) == []
    assert any("no wall that stays" in text for text in told(8.5, 9.5))
    strip = Piece("pad", Box((8.0, 18.0, 40.0), (9.5, 30.0, 41.9)))
    narrow = replace(place, shelf=Shelf("wall", (strip,), 0))
    assert [text for text in wrong(BODY, narrow) if "narrower" in text]
    assert any("does not touch it" in text for text in told(8.0, 9.0))
    assert any("is made of block" in text for text in told(8.0, 9.5, "block"))
    heavy = replace(place, part=replace(place.part, mass_g=25.0))
    assert any("too heavy for tape" in text for text in wrong(BODY, heavy))


@pytest.mark.parametrize(("wide", "wrongly"), [(7.8, False), (7.7, True)])
def test_a_block_thinner_than_a_stud_is_found(wide: float, wrongly: bool) -> None:
    place = replace(
        board(20.0), carried_by=SHELF_WORDS["block"],
        shelf=Shelf("block", (Piece("block", Box((25.0, 18, 19.2), (25.0 + wide, 30, 40.0))),), 0),
    )  # fmt: skip
    assert any("thinner than a stud" in text for text in wrong(BODY, place)) is wrongly


@pytest.mark.parametrize(("beside", "out"), [(0.0, False), (0.005, False), (0.4, True)])
def test_a_block_out_of_the_hull_is_found(beside: float, out: bool) -> None:
    low, high = BODY.hull.high[0] - 7.8 + beside, BODY.hull.high[0] + beside
    block = Shelf("block", (Piece("block", Box((low, 18, 19.2), (high, 30, 40.0))),), 0)
    place = replace(board(20.0), carried_by=SHELF_WORDS["block"], shelf=block)
    assert any("out of the hull" in text for text in wrong(BODY, place)) is out


def test_a_block_is_widened_inside_the_vehicle_alone() -> None:
    """Under a thin part at the very front: up to a stud's width backwards, not out of the nose."""
    bearing = np.array([[0, 0, 0, 800, 480, 192]], dtype=np.int64)
    room = (770, 180, 192, 798, 300, 305)
    inside = np.array(list(_beyond((0, 0, 0, 800, 480, 600))), dtype=np.int64)
    loose = broadened(room, bearing, np.zeros((0, 6), dtype=np.int64))
    held = broadened(room, bearing, inside)
    assert loose is not None
    assert held is not None
    assert (loose[0], loose[3]) == (745, 823)
    assert (held[0], held[3]) == (722, 800)
    assert held[1:3] + held[4:] == room[1:3] + room[4:]


def test_what_carries_a_part_already_stays() -> None:
    """A tall column of single bricks where plates would do; anew only where something runs into it now."""
    body = replace(hollow("v", 10, 6, 12), floor_finish="studded")
    place = board(24.0, thick=8.0, base=19.2 + 9.6 + 1.7)
    rest = Carried("eye", 0, "shelf", (320, 180, 209, 400, 300, 305))
    (fresh,) = with_shelves(body, frozenset(), [place], [rest])
    brick = Piece("brick 1 × 1", Box((32, 16, 19.2), (40, 24, 28.8)))
    tall = Shelf("plates", (brick, Piece("studs", Box((32, 18, 28.8), (40, 24, 30.5)))), 1, steady=False)
    assert fresh.shelf is not None
    assert fresh.shelf != tall
    (same,) = with_shelves(body, frozenset(), [place], [rest], {"eye": tall})
    assert (same.shelf, same.steady, same.carried_by) == (tall, False, SHELF_WORDS["plates"])
    other = replace(
        board(26.0, thick=4.0, base=20.9), need="chip", place=Place(pose_named("+x+y+z"), (34.0, 10.0, 20.9))
    )
    settled = [rest, Carried("chip", 0, "the body")]
    there, _ = with_shelves(body, frozenset(), [place, other], settled, {"eye": tall})
    assert there.shelf != tall
