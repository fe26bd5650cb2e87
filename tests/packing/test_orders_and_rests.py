"""Orders of assembly, the shortest way out, what a part rests on most: small cases reckoned by hand."""

from __future__ import annotations

import math
import random
from dataclasses import replace

import numpy as np
import pytest

from fitplan.model.needed import Exchange, Need
from fitplan.model.part import Access
from fitplan.model.placed import Piece, Shelf
from fitplan.model.solids import DIRECTIONS, Box, Direction, axis_of, is_forward
from fitplan.model.vehicle import Opening, Vehicle
from fitplan.packing.access.disassembly import Disassembly, leave_through, swept_rows
from fitplan.packing.access.exchange import accesses, usable_openings
from fitplan.packing.access.slide import forbidden_offsets, share_room
from fitplan.packing.access.way_in import assembly_order
from fitplan.packing.vehicle.lowering import LoweredPart, lower_parts
from fitplan.packing.vehicle.pressed import _nearest
from fitplan.packing.vehicle.support import hull_of

from .small_trains import hollow
from .test_exchange import CELLS, CUBE, HOLDER, built, part, put, wrong
from .test_way_in import FLOOR, hooks, replay, shaft

# -- orders ------------------------------------------------------------------------------------------------


def test_steps_are_numbered_from_one_and_lead_in() -> None:
    """Two cubes on one another: the lower first; each goes down by what it is lifted by."""
    vehicle = hollow("wagon", 8, 6, 6)
    pile = [put("low", CUBE, (10, 12, FLOOR)), put("high", CUBE, (10, 12, FLOOR + 8), on="low")]
    plan = assembly_order(vehicle, pile)
    assert [(step.number, step.need, step.opening) for step in plan.steps] == [
        (1, "low", "roof"),
        (2, "high", "roof"),
    ]
    for step in plan.steps:
        assert [way for way, _ in step.moves] == ["-z"]
    assert plan.blocked == ()
    assert replay(vehicle, pile, plan) == []


def test_only_what_is_in_the_way_of_a_part_is_named() -> None:
    """Under a board that is longer than the roof's opening two cubes wait for it, and not for each other."""
    vehicle = hollow("wagon", 8, 6, 6)
    (roof,) = vehicle.openings
    small = replace(roof, box=Box((16.0, *roof.box.low[1:]), (40.0, *roof.box.high[1:])))
    vehicle = replace(vehicle, openings=(small,))
    board = part(Box((0, 0, 0), (30, 32, 2)))
    inside = [
        put("board", board, (10, 8, FLOOR + 12)),
        put("one", CUBE, (20, 10, FLOOR)),
        put("two", CUBE, (29, 20, FLOOR)),
    ]
    plan = assembly_order(vehicle, inside)
    assert plan.steps == ()
    first, *others = plan.blocked
    assert first.startswith("board has no way in")
    assert sorted(others) == ["board must come out before one can", "board must come out before two can"]


def with_flap(low: float, high: float) -> Vehicle:
    """A wagon whose right wall has a flap from one height to another."""
    bare = hollow("wagon", 8, 6, 12)
    flap = Opening("flap", Box((8.0, 40.0, low), (56.0, 48.0, high)), "+y")
    return replace(bare, openings=(*bare.openings, flap))


@pytest.mark.parametrize(
    ("y", "height", "opening"),
    [
        # Roof: 38.4 + 3.2 mm above the floor; the hull ends at y 48. A cube of 8 mm.
        (30.0, 0.0, "flap"),
        (30.0, 30.0, "roof"),
        (9.0, 0.0, "flap"),
        (9.0, 5.0, "roof"),
        (20.0, 12.0, "flap"),
        (20.0, 14.0, "roof"),
    ],
)
def test_cells_come_out_by_the_shortest_way(y: float, height: float, opening: str) -> None:
    """Straight through the roof or the flap, whichever is nearer: 41.6 less its height, or 48 less y."""
    up, aside = 41.6 - height, 48.0 - y
    assert ("flap" if aside < up else "roof") == opening
    vehicle = with_flap(FLOOR, FLOOR + 38.4)
    made = built(vehicle, [put("cells", HOLDER, (20, y, FLOOR + height))])
    (entry,) = made.exchanged
    assert wrong(made) == []
    assert entry.last is not None
    assert entry.last.opening == opening
    ((way, far),) = entry.last.moves
    assert (way, far) == (("+y", pytest.approx(aside)) if opening == "flap" else ("+z", pytest.approx(up)))


def test_fewer_moves_go_before_a_shorter_way() -> None:
    """Behind a flap that is lower than it lies: down and out is shorter, straight up is one move."""
    vehicle = with_flap(FLOOR, FLOOR + 9.6)
    made = built(vehicle, [put("cells", HOLDER, (20, 31, FLOOR + 10))])
    (entry,) = made.exchanged
    assert entry.last is not None
    assert [way for way, _ in entry.last.moves] == ["+z"]


def test_what_must_be_reached_of_a_part() -> None:
    """Its accesses; and itself where the user wants it out and nothing of it is of everyday use."""
    rare = Access("console", "console", "+x", often=False)
    plain, wanted = Exchange(), Exchange(wanted=True)
    for own, exchange, count in (
        ((), plain, 0),
        ((), wanted, 1),
        ((rare,), plain, 1),
        ((rare,), wanted, 2),
        ((CELLS,), wanted, 1),
        ((CELLS, rare), wanted, 2),
    ):
        made = part(Box((0, 0, 0), (8, 8, 8)), access=own)
        found = accesses(Need("p", (made,), exchange=exchange), made)
        assert found[: len(own)] == own
        assert len(found) == count
        assert all(one.often and one.kind == "cells" for one in found[len(own) :])


def test_which_openings_may_be_opened() -> None:
    """For building every one; in use those that are named, else those that are opened often."""
    vehicle = with_flap(FLOOR, FLOOR + 20)
    roof, flap = vehicle.openings
    shut = replace(vehicle, openings=(replace(roof, often=False), flap))
    rare = replace(CELLS, often=False)

    def names(access: Access, *named: str) -> list[str]:
        return [one.name for one in usable_openings(shut, access, Exchange(openings=named))]

    assert names(rare) == ["roof", "flap"]
    assert names(rare, "flap") == ["roof", "flap"]
    assert names(CELLS) == ["flap"]
    assert names(CELLS, "roof") == ["roof"]
    assert names(CELLS, "roof", "flap") == ["roof", "flap"]
    assert names(CELLS, "door") == ["flap"]


def test_what_carries_one_of_a_group_is_in_the_way_of_the_others() -> None:
    """Two cubes side by side leave as one; a post that one of them stands on stays behind, over the other."""
    vehicle = hollow("wagon", 8, 6, 12)
    low, high = put("low", CUBE, (20, 12, FLOOR)), put("high", CUBE, (30, 12, FLOOR + 12))
    for over, first in ((False, "+z"), (True, "-x")):
        # A block on the floor under the higher one, and a lip of it over the lower one.
        pieces = [Piece("block", Box((30, 12, FLOOR), (38, 20, FLOOR + 12)))]
        pieces += [Piece("block", Box((20, 12, FLOOR + 8), (30, 20, FLOOR + 12)))] if over else []
        shelf = Shelf("block", tuple(pieces), 0)
        made = Disassembly(vehicle, (low, replace(high, shelf=shelf)), frozenset())
        for leaving, stay, way in (
            ({"low", "high"}, (), first),
            ({"low"}, ("high",), first),
            ({"high"}, ("low",), "+z"),  # it leaves its own block behind, and nothing is over it
        ):
            moves = made.way_out(frozenset(leaving), frozenset(stay), "roof")
            assert moves is not None
            assert moves[0][0] == way
            assert moves[-1][0] == "+z"


def test_cells_come_out_with_what_they_hook_into() -> None:
    """Two hooks that hold each other come out as one."""
    one, two = hooks()
    cells = replace(one, part=replace(one.part, access=(CELLS,)))
    (entry,) = built(shaft(20, 10, 12), [cells, two]).exchanged
    assert entry.reached
    assert entry.last is not None
    assert entry.last.parts == ("one", "two")
    assert entry.first == ()


def test_what_boxes_sweep_is_all_that_they_pass() -> None:
    """Move by move, each from where the last one ended."""
    rows = np.array([[0, 0, 0, 10, 20, 30], [40, 0, 0, 50, 5, 5]])
    found = swept_rows(rows, (("+x", 1.5), ("-z", 4.0))).tolist()
    assert found == [
        [0, 0, 0, 25, 20, 30],
        [40, 0, 0, 65, 5, 5],
        [15, 0, -40, 25, 20, 30],
        [55, 0, -40, 65, 5, 5],
    ]
    assert swept_rows(rows, ()).shape == (0, 6)


@pytest.mark.parametrize("out", DIRECTIONS)
def test_a_zigzag_between_two_shelves_leads_out_by_no_straight_move(out: Direction) -> None:
    """Plates from either wall that overlap, one before the other: out by some moves; whole ones shut it."""
    axis, sign = axis_of(out), 1 if is_forward(out) else -1

    def turned(row: list[int]) -> list[int]:
        """Turn a box so that what leads up leads out; the room, 30 mm high, stays between 0 and 30."""
        low, high = row[:3], row[3:]
        if sign < 0:
            low, high = [*low[:2], 300 - high[2]], [*high[:2], 300 - low[2]]
        order = [(k - axis + 2) % 3 for k in range(3)]
        return [*(low[k] for k in order), *(high[k] for k in order)]

    def in_mm(row: list[int]) -> Box:
        x0, y0, z0, x1, y1, z1 = (value / 10 for value in turned(row))
        return Box((x0, y0, z0), (x1, y1, z1))

    lid = Opening("roof", in_mm([0, 0, 280, 300, 100, 300]), out)
    hull = in_mm([0, 0, 0, 300, 100, 300])
    mover = np.array([turned([200, 40, 20, 220, 60, 40])])
    walls = [[-10, -10, 0, 0, 110, 300], [300, -10, 0, 310, 110, 300], [-10, -10, -10, 310, 0, 300]]
    walls += [[-10, 100, -10, 310, 110, 300], [-10, -10, -10, 310, 110, 0]]
    plates = [[140, 0, 100, 300, 100, 110], [0, 0, 160, 180, 100, 170]]

    def forbidden(rows: list[list[int]]) -> np.ndarray:
        return forbidden_offsets(mover, np.array([turned(row) for row in rows]))

    assert leave_through(hull, mover, forbidden(walls), lid) == ((out, 280),)
    moves = leave_through(hull, mover, forbidden([*walls, *plates]), lid)
    assert moves is not None
    assert len(moves) > 1
    assert moves[-1][0] == out
    tenths = tuple((way, distance / 10) for way, distance in moves)
    standing = np.array([turned(row) for row in (*walls, *plates)])
    assert not share_room(swept_rows(mover, tenths), standing)
    closed = [*walls, [0, 0, 160, 300, 100, 170]]
    assert leave_through(hull, mover, forbidden(closed), lid) is None


# -- rests -------------------------------------------------------------------------------------------------


def test_the_part_that_bears_most_is_named() -> None:
    """Of two under a bar the one with the larger face, whichever comes first: 1200 against 1600 tenths²."""
    bar = LoweredPart("bar", ((0, 0, 100, 300, 60, 140),), (), 0, True)
    long = LoweredPart("long", ((0, 0, 0, 100, 12, 100),), (), 0, True)
    wide = LoweredPart("wide", ((260, 20, 0, 300, 60, 100),), (), 0, True)
    held = frozenset({"bar", "long", "wide"})
    for others in ((long, wide), (wide, long)):
        found = lower_parts([bar, *others], [(-500, -500, -10, 800, 800, 0)], held)
        assert found[0].by == "wide"
    grown = replace(long, boxes=((0, 0, 0, 140, 12, 100),))
    for others in ((grown, wide), (wide, grown)):
        found = lower_parts([bar, *others], [(-500, -500, -10, 800, 800, 0)], held)
        assert found[0].by == "long"


@pytest.mark.parametrize("seed", range(5))
def test_the_nearest_point_of_an_outline(seed: int) -> None:
    """Beside many points of each edge of a hull of rectangles, from a point within it or beyond it."""
    rng = random.Random(seed)
    for _ in range(20):
        rects = []
        for _ in range(rng.randint(1, 3)):
            x, y = rng.randint(-60, 40), rng.randint(-60, 40)
            rects.append((x, y, x + rng.randint(5, 50), y + rng.randint(5, 50)))
        hull = np.array(hull_of(rects), dtype=float)
        found = _nearest(hull)
        best = math.inf
        for p, q in zip(hull, np.roll(hull, -1, axis=0), strict=True):
            points = p + np.linspace(0, 1, 2001)[:, None] * (q - p)
            best = min(best, float(np.hypot(points[:, 0], points[:, 1]).min()))
        assert float(np.hypot(*found)) == pytest.approx(best, abs=0.05)
