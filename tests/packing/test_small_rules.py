"""Rules of one line each, on both sides of their limits: rooms before accesses, steps, pads, soles, boxes."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

import fitplan.packing.vehicle.additions as additions
import fitplan.packing.vehicle.shelves as shelves
import fitplan.packing.vehicle.wider_window as wider_window
from fitplan.model.facts import STUD_HOLDS_N
from fitplan.model.needed import Need
from fitplan.model.part import Access, Clearance, Mount, Part
from fitplan.model.placed import Piece, Placement, Shelf
from fitplan.model.solids import Box, Cylinder, Direction, Place, pose_named
from fitplan.model.vehicle import BodySolid, Vehicle, Window
from fitplan.packing.access.exchange import access_room
from fitplan.packing.access.slide import Moves
from fitplan.packing.access.way_in import _through
from fitplan.packing.engine.infeasible_subset import _overlapped
from fitplan.packing.vehicle.addition_shapes import CELL, UnsupportedPart, bears_push
from fitplan.packing.vehicle.body_support import left_hanging
from fitplan.packing.vehicle.lowering import SUPPORT_GAP, Carried
from fitplan.packing.vehicle.pack import Packer
from fitplan.packing.vehicle.packed_items import soles_of
from fitplan.packing.vehicle.packing import Packing
from fitplan.packing.vehicle.pressed import may_press
from fitplan.packing.vehicle.reachable_packing import ReachablePacker
from fitplan.packing.vehicle.seats import Wanted
from fitplan.packing.vehicle.side_bricks import _gap
from fitplan.packing.vehicle.straps import Strap
from fitplan.packing.vehicle.window_places import WindowPlaces

from .small_trains import block, hollow

LIES = Place(pose_named("+x+y+z"), (20.0, 16.0, 19.2))


@pytest.mark.parametrize(
    ("side", "low", "high"),
    [
        ("+x", (9, 0, 0), (15, 7, 5)),
        ("-x", (-6, 0, 0), (0, 7, 5)),
        ("+y", (0, 7, 0), (9, 13, 5)),
        ("-y", (0, -6, 0), (9, 0, 5)),
        ("+z", (0, 0, 5), (9, 7, 11)),
        ("-z", (0, 0, -6), (9, 7, 0)),
    ],
)
def test_a_finger_needs_six_millimetres_before_the_whole_face(side: Direction, low: Any, high: Any) -> None:
    access = Access("a", "switch", side, often=True)
    for at in (0.0, 3.0):
        made = replace(block("b", (9.0, 7.0, 5.0)), access=(access,))
        made = replace(made, envelope=(Box((at, 2 * at, 4 * at), (9 + at, 7 + 2 * at, 5 + 4 * at)),))
        moved = [tuple(v + at * s for v, s in zip(corner, (1, 2, 4), strict=True)) for corner in (low, high)]
        assert access_room(made, access) == (Box(*moved),)


@pytest.mark.parametrize(
    ("box", "forwards", "found"),
    [
        # The part: x 100 to 200, y 100 to 180, z 0 to 60. Seven tenths before it, as wide as it, from below.
        ((207, 100, -20, 287, 180, 76), True, (7, 50.0)),
        ((200, 100, -20, 280, 180, 76), True, (0, 50.0)),
        ((199, 100, -20, 280, 180, 76), True, None),
        ((10, 100, -20, 90, 180, 76), False, (10, 50.0)),
        ((10, 100, -20, 101, 180, 76), False, None),
        # Half a stud across at the least, and a plate up.
        ((207, 140, -20, 287, 220, 76), True, (7, 50.0)),
        ((207, 141, -20, 287, 221, 76), True, None),
        ((207, 100, -64, 287, 180, 32), True, (7, 80.0)),
        ((207, 100, -65, 287, 180, 31), True, None),
        ((207, 100, 28, 287, 180, 124), True, (7, 16.0)),
        ((207, 100, 29, 287, 180, 125), True, None),
    ],
)
def test_where_a_part_slides_against_bricks(box: Any, forwards: bool, found: Any) -> None:
    """How far it slides, and how high above their foot the middle of what meets lies."""
    part = [(100, 100, 0, 200, 180, 60)]
    assert _gap(part, box, 0, forwards) == found
    turned = [[row[i] for i in (1, 0, 2, 4, 3, 5)] for row in (*part, box)]
    assert _gap(turned[:1], tuple(turned[1]), 1, forwards) == found
    if found is not None:
        step = 40 if forwards else -40
        behind = (100 - step, 100, 0, 200 - step, 180, 60)
        assert _gap([behind, *part], box, 0, forwards) == found


def test_the_nearest_box_of_a_part_counts_and_none_far_off() -> None:
    box = (207, 100, -20, 287, 180, 76)
    far = [(number, _gap([(0, 100, 0, number, 180, 60)], box, 0, True)) for number in range(100, 208)]
    met = [number for number, one in far if one is not None]
    assert met == list(range(met[0], 208))


def strap(over: tuple[int, int, int, int]) -> Strap:
    return Strap(0, 3, 4, (), 0, 9.0, ((0, 0, 2, 2), (4, 0, 6, 2)), (over,))


def test_what_has_no_area_neither_carries_nor_presses() -> None:
    """A part whose middle lies a stud beside what carries it, and a strap on the other side."""
    rest, over = (0, 0, 80, 160), (0, 40, 60, 120)
    assert may_press(0.1, (160, 80), [rest], strap(over))
    assert not may_press(0.1, (160, 80), [(80, 0, 80, 160)], strap(over))
    assert not may_press(0.1, (160, 80), [], strap(over))
    assert not may_press(0.1, (160, 80), [rest], strap((0, 40, 0, 120)))
    assert not may_press(0.1, (160, 80), [rest], strap((90, 40, 150, 120)))


@pytest.mark.parametrize("pose", ["+x+y+z", "+y-x+z"])
def test_a_round_part_rests_on_its_lowest_line(pose: str) -> None:
    """A roll of radius 5 that lies: strips about its lowest line, in the middle; a box rests as a whole."""
    roll = replace(block("r", (1.0, 1.0, 1.0)), envelope=(Cylinder("x", (30, 40, 50), 20, 5),))
    soles = soles_of(roll, pose)
    assert soles
    lowest = min(sole[2] for sole in soles)
    assert lowest == pytest.approx(450, abs=1)
    assert all(sole[2] <= lowest + SUPPORT_GAP for sole in soles)
    across = 1 if pose == "+x+y+z" else 0
    low, high = (min(sole[across] for sole in soles), max(sole[across + 3] for sole in soles))
    middle = Place(pose_named(pose), (0, 0, 0)).move_solid(roll.envelope[0]).bounds.center[across] * 10
    assert 0 < high - low < 60
    assert (low + high) / 2 == pytest.approx(middle, abs=1)
    both = replace(roll, envelope=(*roll.envelope, Box((30, 40, 60), (40, 50, 70))))
    assert len(soles_of(both, pose)) == len(soles) + 1


@pytest.mark.parametrize("often", [(True, False), (False, True), (True, True), (False, False)])
def test_one_access_used_often_is_enough(often: tuple[bool, bool]) -> None:
    access = tuple(Access(f"a{number}", "switch", "+z", one) for number, one in enumerate(often))
    made = replace(block("b", (9.0, 7.0, 5.0)), access=access)
    packer: Any = SimpleNamespace(_needs={"b": Need("b", (made,))})
    assert ReachablePacker._often(packer, Placement("b", made, "v", LIES, "the body")) == any(often)


@pytest.mark.parametrize("thin", [True, False])
def test_what_leaves_a_part_unsteady_carries_it_only_where_a_pad_would_not(
    monkeypatch: pytest.MonkeyPatch, thin: bool
) -> None:
    """Less than a plate above something, a pad does as well; higher up it may also be taped."""
    asked: list[Callable[[tuple[int, int, int, int]], bool]] = []

    def cheapest(vehicle: Any, removed: Any, part: Any, may: Any, well: Any) -> None:
        asked.append(may)

    monkeypatch.setattr(additions, "_cheapest", cheapest)
    part = UnsupportedPart(((0, 0, 400, 100, 100, 450),), (), ())
    shelf = additions.cheapest_addition(
        hollow("v", 6, 6, 9), frozenset(), part, (0, 0, 369 if thin else 368, 30, 100, 400)
    )
    assert (shelf.kind, shelf.steady) == ("pad" if thin else "block", False)
    under_its_middle, beside_it = (40, 0, 60, 100), (0, 0, 40, 100)
    assert [asked[0](touch) for touch in (under_its_middle, beside_it)] == [True, not thin]


@pytest.mark.parametrize(("steady", "beside"), [(False, None), (False, "b"), (True, None), (True, "b")])
def test_only_what_would_tip_is_steadied(
    monkeypatch: pytest.MonkeyPatch, steady: bool, beside: str | None
) -> None:
    """Also where another part of the vehicle has pads."""
    added = Shelf("plates", (Piece("plate 1 × 1", Box((20, 16, 19.2), (28, 24, 22.4))),), 1, True)
    seen = []

    def steadying(vehicle: Any, removed: Any, part: Any, resting: Any) -> Shelf:
        seen.append(resting)
        return added

    monkeypatch.setattr(shelves, "steadying_addition", steadying)
    made: Part = replace(block("a", (9.0, 7.0, 5.0)), mount=Mount())
    placed = [Placement("a", made, "v", LIES, "the body")]
    carried = [Carried("a", 0, "the body", steady=steady, contacts=((200, 160, 210, 170),))]
    pad = (400, 160, 192, 420, 180, 200)
    if beside is not None:
        placed.append(Placement(beside, made, "v", replace(LIES, offset=(40.0, 16.0, 20.0)), "the body"))
        carried.append(Carried(beside, 0, "the body", pads=(pad,)))
    found = shelves.with_shelves(hollow("v", 8, 6, 9), frozenset(), placed, carried)
    assert seen == ([] if steady else [((200, 160, 210, 170),)])
    assert found[0].shelf == (None if steady else added)
    if beside is not None:
        pads = (Piece("pad", Box((40, 16, 19.2), (42, 18, 20))),)
        assert found[1].shelf == Shelf("pad", pads, 0, True)


def test_the_box_that_is_enough_holds_the_room_for_plugs_too() -> None:
    """20 × 6 × 5 mm, and a plug 8 mm long that lies flat: in a room of 16 mm and 0.2 of play."""
    plug = Clearance("plug", "plug", Box((20, 1, 1), (28, 5, 4)), "always")
    made = replace(block("b", (20.0, 6.0, 5.0), mount=Mount(upright=True)), clearances=(plug,))
    packer = Packer({"v": hollow("v", 4, 3, 3)})
    missing, axis, _, text = packer.box_shortage("v", Wanted(Need("b", (made,)), made))
    assert (round(missing, 1), axis) == (3.8, "length")
    assert "28.0 × 6.0 × 5.0 mm" in text


def boxes_of(*solids: Box) -> Vehicle:
    """A body of these alone: a plate of floor from 16 to 19.2 mm, and what is drawn."""
    bare = hollow("v", 6, 6, 9)
    hull = bare.body[0].solid
    assert isinstance(hull, Box)
    floor = Box((8.0, 8.0, 16.0), (40.0, 40.0, 19.2))
    return replace(
        bare, body=(BodySolid(hull, "free"), *(BodySolid(one, "fixed") for one in (floor, *solids)))
    )


def test_bricks_hang_that_no_others_join_to_the_underside() -> None:
    """Also where they are the first of all that there are, from the rear; what hung before is let be."""
    first = Box((0.0, 0.0, 22.4), (8.0, 8.0, 32.0))
    other = Box((24.0, 24.0, 25.6), (40.0, 32.0, 28.8))
    post = Box((24.0, 24.0, 19.2), (32.0, 32.0, 25.6))
    was = boxes_of(post, other)
    assert left_hanging(was, was).holds
    found = left_hanging(was, boxes_of(other))
    assert found.hanging_mm3 == pytest.approx(16 * 8 * 3.2)
    assert "1 group(s), the first at x 24, y 24, z 26 mm" in found.text
    found = left_hanging(was, boxes_of(first, other))
    assert found.hanging_mm3 == pytest.approx(16 * 8 * 3.2 + 8 * 8 * 9.6)
    assert "2 group(s), the first at x 0, y 0, z 22 mm" in found.text
    assert left_hanging(boxes_of(first, post, other), boxes_of(first, other)).hanging_mm3 == pytest.approx(
        16 * 8 * 3.2
    )
    assert left_hanging(boxes_of(first), boxes_of(first)).holds


def test_of_what_comes_out_that_with_the_fewest_moves_goes_first() -> None:
    """Then that with the shortest way, then by name; what carries another waits for it."""
    ways: dict[str, Moves] = {
        "a": (("+z", 90), ("+x", 5)),
        "b": (("+z", 80),),
        "c": (("+z", 70),),
        "d": (("+z", 70),),
        "e": (("+z", 10),),
    }
    lid: Any = SimpleNamespace(
        carriers=lambda left: frozenset({"e"}) if "a" in left else frozenset(),
        way_out=lambda group, rest, opening: ways.get(*group) if opening == "roof" else None,
    )
    everything = frozenset((*ways, "stays"))
    taken, left = _through(lid, everything, "roof")
    assert [(group, opening) for group, opening, _ in taken] == [((name,), "roof") for name in "cdbae"]
    assert [moves for *_, moves in taken] == [ways[name] for name in "cdbae"]
    assert left == {"stays"}
    assert _through(lid, everything, "door") == ((), everything)


def test_how_far_a_lens_lies_beside_the_middle_of_its_window() -> None:
    """Both ways across added up, in tenths: the middle at y 12, z 30 mm, that of the lens at 2.5 and 1."""
    window = Window("pane", Box((64, 8, 25), (72, 16, 35)), "+x")
    offsets = [np.array([0, 50]), np.array([0, 95, 100]), np.array([290, 200])]
    found: Any = SimpleNamespace(_window=window, _along=0, _lens=(90, 10, 0, 90, 40, 20), _offsets=offsets)
    places = np.array([(0, 0, 0), (1, 1, 0), (0, 2, 0), (1, 1, 1)])
    assert WindowPlaces._off_middle(found, places).tolist() == [95, 0, 5, 90]


@pytest.mark.parametrize("axis", [0, 1])
@pytest.mark.parametrize("mirrored", [False, True])
@pytest.mark.parametrize("sign", [1, -1])
def test_feet_turn_over_the_edge_that_holds_least(axis: int, mirrored: bool, sign: int) -> None:
    """A foot of 8 studs and one of 2, their middles 0.5 and 3.5 studs from an edge: 11 in all."""
    rows = [((3, 0, 4, 8), 8), ((0, 0, 1, 8), 2)] if mirrored else [((0, 0, 1, 8), 8), ((3, 0, 4, 8), 2)]
    feet = tuple(((a, b, c, d) if axis == 0 else (b, a, d, c), studs) for (a, b, c, d), studs in rows)
    push = 1.5
    height = 11 * STUD_HOLDS_N * CELL / push
    assert bears_push(push, sign * (height - 0.01), feet)
    assert not bears_push(push, sign * (height + 0.01), feet)
    assert bears_push(10 * STUD_HOLDS_N - 0.01, 0.0, feet)
    assert not bears_push(10 * STUD_HOLDS_N + 0.01, 0.0, feet)


def test_obstacles_that_overlap_some_of_the_boxes() -> None:
    boxes = [(0, 0, 0, 10, 10, 10), (20, 0, 0, 30, 10, 10)]
    hit = [(9, 9, 9, 15, 15, 15), (-5, -5, -5, 1, 1, 1), (25, 5, 5, 26, 6, 6), (-9, -9, -9, 99, 99, 99)]
    beside = [(10, 0, 0, 20, 10, 10), (0, 10, 0, 30, 12, 10), (0, 0, -4, 30, 10, 0), (5, 5, 10, 6, 6, 11)]
    mixed = tuple(one for pair in zip(hit, beside, strict=True) for one in pair)
    assert _overlapped(boxes, mixed) == tuple(hit)


@pytest.mark.parametrize("verdict", ["fits", "not decided", "cannot fit"])
def test_a_ranger_is_put_in_the_middle_where_that_goes(monkeypatch: pytest.MonkeyPatch, verdict: Any) -> None:
    made = block("eye", (9.0, 7.0, 5.0))
    wanted, beside = (Wanted(Need(name, (made,)), made) for name in ("eye", "other"))
    held = replace(wanted, need=replace(wanted.need, name="held"))
    places = tuple(Placement(name, made, "v", LIES, "the body") for name in ("other", "eye"))
    packing, found = Packing("v", "fits", places), Packing("v", verdict, places[:1])

    def in_the_middle(entry: Wanted, vehicle: Any, place: Placement, aside_mm: float) -> Wanted:
        assert (entry, place, aside_mm) == (wanted, places[1], 0.0)
        return held

    def packer(vehicles: Any) -> Any:
        def pack(name: str, entries: Any, removed: Any, proofs: bool) -> Packing:
            assert (name, entries, proofs) == ("v", (held, beside), False)
            return found

        return SimpleNamespace(pack_as_it_is=pack)

    monkeypatch.setattr(wider_window, "held_in_the_middle", in_the_middle)
    monkeypatch.setattr(wider_window, "Packer", packer)
    body = hollow("v", 8, 6, 9)
    told = wider_window._in_the_middle(body, wanted, (beside,), frozenset(), packing)
    assert told is (found if verdict == "fits" else packing)
    monkeypatch.setattr(wider_window, "held_in_the_middle", lambda *_: None)
    assert wider_window._in_the_middle(body, wanted, (beside,), frozenset(), packing) is packing
