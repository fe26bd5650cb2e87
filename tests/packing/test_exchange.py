"""What must come out to get at what is exchanged, and places from which it comes out as the user allows."""

from __future__ import annotations

import itertools
import random
from collections.abc import Sequence
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fitplan.checks.access import check_access
from fitplan.files.catalogue import read_catalogue
from fitplan.model.built import BuiltTrain
from fitplan.model.needed import Exchange, FixedPlace, Need
from fitplan.model.part import Access, Clearance, Mount, Part
from fitplan.model.placed import Placement
from fitplan.model.plugged import plugged
from fitplan.model.solids import Box, Place, Solid
from fitplan.model.train import Train, TrainVehicle
from fitplan.model.vehicle import BodySolid, Opening, Vehicle, Window
from fitplan.model.ways_in import Exchanged
from fitplan.model.wired import Harness
from fitplan.packing.access.disassembly import Disassembly
from fitplan.packing.access.exchange import exchanges, exchanges_in
from fitplan.packing.vehicle.pack import Packer
from fitplan.packing.vehicle.reachable_packing import ReachablePacker
from fitplan.packing.vehicle.seats import Wanted
from fitplan.planning.choice import choose
from fitplan.verify.exchange import check_exchanges
from fitplan.verify.result import Tally
from fitplan.verify.scene import sites_of

from .small_trains import hollow, train_of
from .test_way_in import FLOOR, put, random_packing

CELLS = Access("change", "cells", "+z", often=True)


def part(*solids: Solid, access: tuple[Access, ...] = (), clearances: tuple[Clearance, ...] = ()) -> Part:
    return Part("p", "part", "cells", solids, 5.0, "invented for a test", clearances, (), Mount(), access)


CUBE = part(Box((0, 0, 0), (8, 8, 8)))
USUAL = Exchange()
HOLDER = part(Box((0, 0, 0), (8, 8, 8)), access=(CELLS,))


def built(vehicle: Vehicle, placements: Sequence[Placement], exchange: Exchange = USUAL) -> BuiltTrain:
    """A train of one vehicle with parts in it, and how what is exchanged is come by."""
    needs = tuple(Need(place.need, (place.part,), exchange=exchange) for place in placements)
    train = replace(train_of((), needs), vehicles=(TrainVehicle("wagon", vehicle),))
    found = exchanges(train, placements, {})
    return BuiltTrain(train, tuple(placements), Harness(), (), (), found)


def wrong(made: BuiltTrain) -> list[str]:
    """What the independent checker finds wrong with the ways out."""
    sheet = Tally()
    check_exchanges(made, sites_of(made), check_access(made).findings, sheet)
    return [problem.message for problem in sheet.report().problems]


def only(made: BuiltTrain) -> Exchanged:
    (entry,) = made.exchanged
    assert wrong(made) == []
    return entry


def stacked() -> tuple[Vehicle, list[Placement]]:
    """A holder under two cubes on top of each other, and a cube beside them."""
    pile = [put("cells", HOLDER, (10, 12, FLOOR)), put("b", CUBE, (10, 12, FLOOR + 8), on="cells")]
    pile += [put("a", CUBE, (10, 12, FLOOR + 16), on="b"), put("c", CUBE, (30, 12, FLOOR))]
    return hollow("wagon", 8, 6, 12), pile


def test_what_lies_on_the_cells_comes_out_first_in_order() -> None:
    """Of a pile over the cells the top comes out first; what stands beside stays in."""
    entry = only(built(*stacked()))
    assert entry.reached
    assert entry.parts_out == ("a", "b")
    assert entry.openings == ("roof",)
    assert [way.moves[0][0] for way in entry.first] == ["+z", "+z"]


def test_the_allowance_decides_between_a_stop_and_a_note() -> None:
    """Two parts over the cells: a stop when one may come out, with the remedy; a note when two may."""
    vehicle, pile = stacked()
    (stop,) = check_access(built(vehicle, pile, Exchange(parts_out=1))).findings
    assert (stop.severity, stop.figure, stop.limit) == ("stop", 2.0, 1.0)
    assert "first a, then b must come out" in stop.message
    assert "parts out: 2" in stop.remedy
    (note,) = check_access(built(vehicle, pile, Exchange(parts_out=2))).findings
    assert note.severity == "note"


def test_only_openings_that_may_be_opened_count() -> None:
    """A roof that is opened only when building keeps cells in, unless the user names it."""
    vehicle, pile = stacked()
    shut = replace(vehicle, openings=tuple(replace(lid, often=False) for lid in vehicle.openings))
    entry = only(built(shut, pile))
    assert not entry.reached
    (stop,) = check_access(built(shut, pile)).findings
    assert (stop.severity, stop.unit) == ("stop", "ways out")
    assert only(built(shut, pile, Exchange(openings=("roof",)))).reached


def test_bricks_come_out_where_that_is_allowed() -> None:
    """A beam under the roof keeps a wide holder in; with one brick allowed it is named, and enough."""
    beam = ("beam", Box((8, 20, 35), (56, 24, 38.4)), 1.0)
    vehicle = hollow("wagon", 8, 6, 6, removable=(beam,))
    wide = [put("cells", part(Box((0, 0, 0), (40, 30, 8)), access=(CELLS,)), (12, 9, FLOOR))]
    assert not only(built(vehicle, wide)).reached
    entry = only(built(vehicle, wide, Exchange(bricks_out=1)))
    assert (entry.reached, entry.bricks, entry.parts_out) == (True, ("beam",), ())


def test_a_switch_is_reached_with_a_finger() -> None:
    """A switch on top is reached under an open roof, not under another part; through a gap, from outside."""
    vehicle = hollow("wagon", 8, 6, 12)
    slide = part(Box((0, 0, 0), (10, 5, 6)), access=(Access("slide", "switch", "+z", often=True),))
    placements = [put("switch", slide, (20, 20, FLOOR))]
    entry = only(built(vehicle, placements))
    assert (entry.reached, entry.parts_out, entry.openings) == (True, (), ("roof",))
    assert not entry.itself
    over = put("board", part(Box((0, 0, 0), (30, 30, 2))), (12, 10, FLOOR + 11))
    assert only(built(vehicle, [*placements, over])).parts_out == ("board",)
    gap = BodySolid(Box((0, 16, FLOOR), (8, 32, FLOOR + 12.8)), "free")
    with_gap = replace(vehicle, body=(*vehicle.body, gap))
    facing_out = [put("switch", slide, (14, 26, FLOOR + 10), "-z-y-x"), over]
    entry = only(built(with_gap, facing_out))
    assert (entry.reached, entry.parts_out, entry.openings) == (True, (), ())


def test_a_socket_that_has_no_room_is_got_at_by_taking_its_part_out() -> None:
    """A plug that would stand in the wall: the board itself must come out for it, which is a caution."""
    plug = Clearance("plug", "plug", Box((30, 2, 0), (50, 12, 6)), "access")
    console = Access("socket", "console", "+x", often=False)
    board = part(Box((0, 0, 0), (30, 14, 4)), access=(console,), clearances=(plug,))
    vehicle = hollow("wagon", 8, 6, 12)
    near = built(vehicle, [put("board", board, (24, 12, FLOOR))])
    assert only(near).itself
    (caution,) = check_access(near).findings
    assert caution.severity == "caution"
    assert "board itself must come out" in caution.message
    far = built(hollow("wagon", 12, 6, 12), [put("board", board, (24, 12, FLOOR))])
    assert not only(far).itself
    assert check_access(far).findings[0].severity == "note"


def test_a_socket_that_holds_a_lead_is_got_at_by_drawing_it_out() -> None:
    """A lead in the socket asks for no more than the computer's plug does; the plug's own room is kept."""
    catalogue = read_catalogue()
    board = catalogue["controller-compact-5v"]
    pin = next(one for one in board.pins if one.name == "USB")
    fed = plugged(board, pin, catalogue["lead-usb-a-mini-b"], second=True)
    vehicle = hollow("wagon", 20, 6, 12)
    for there in (board, fed):
        made = built(vehicle, [put("board", there, (24, 12, FLOOR + 3))])
        (entry,) = made.exchanged
        assert (entry.reached, entry.itself, entry.parts_out) == (True, False, ())
        assert wrong(made) == []
        said = check_access(made).findings[0].message
        assert ("its lead drawn out of it" in said) == (there is fed)


def test_a_part_that_the_user_wants_out_counts_although_the_catalogue_does_not_say_so() -> None:
    """With ``exchange`` a plain block is held against the allowance; without it nothing is said."""
    vehicle = hollow("wagon", 8, 6, 12)
    placements = [put("block", CUBE, (10, 12, FLOOR))]
    assert built(vehicle, placements).exchanged == ()
    entry = only(built(vehicle, placements, Exchange(wanted=True)))
    assert (entry.access, entry.itself) == ("the part itself", True)


def test_a_wrong_way_out_is_found() -> None:
    """The checker tells a part left out, a lid that may not be opened, a missing entry, a silent breach."""
    made = built(*stacked())
    (entry,) = made.exchanged
    less = replace(made, exchanged=(replace(entry, first=entry.first[:1]),))
    assert any("still lies on" in text for text in wrong(less))
    backwards = replace(made, exchanged=(replace(entry, first=entry.first[::-1]),))
    assert any("b, move 1 out (+z 33.6 mm): runs 8" in text for text in wrong(backwards))
    assert any("not said exactly once" in text for text in wrong(replace(made, exchanged=())))
    assert entry.last is not None
    elsewhere = replace(entry, last=replace(entry.last, opening="hatch"))
    assert any("not to be opened" in text for text in wrong(replace(made, exchanged=(elsewhere,))))
    silent = Tally()
    check_exchanges(made, sites_of(made), (), silent)
    assert any("no finding says so" in problem.message for problem in silent.report().problems)


def fewest(vehicle: Vehicle, placements: Sequence[Placement], target: str) -> int | None:
    """The least number of other parts that come out before the target can, over all sets and orders."""
    disassembly = Disassembly(vehicle, placements, frozenset())

    def comes_out(name: str, inside: frozenset[str]) -> bool:
        held = name in disassembly.carriers(inside)
        return not held and disassembly.way_out(frozenset({name}), inside - {name}, "roof") is not None

    others = sorted(disassembly.names - {target})
    for count in range(len(others) + 1):
        for names in itertools.combinations(others, count):
            for order in itertools.permutations(names):
                inside = disassembly.names
                for name in (*order, target):
                    if not comes_out(name, inside):
                        break
                    inside -= {name}
                else:
                    return count
    return None


@pytest.mark.parametrize("seed", range(10))
def test_the_fewest_parts_equal_brute_force(seed: int) -> None:
    """On seeded packings no fewer parts than named come out before any of the parts; the checker agrees."""
    vehicle, placements = random_packing(seed)
    placements = placements[:6]
    for number, place in enumerate(placements):
        with_cells = [*placements]
        with_cells[number] = replace(place, part=replace(place.part, access=(CELLS,)))
        entry = only(built(vehicle, with_cells))
        assert len(entry.first) == fewest(vehicle, placements, place.need) or not entry.reached
        assert entry.reached == (fewest(vehicle, placements, place.need) is not None)


def wanted(train: Train) -> tuple[Wanted, ...]:
    return tuple(Wanted(need, need.candidates[0]) for need in train.needs)


def holder_and_board(vehicle: Vehicle, *more: Vehicle, exchange: Exchange = USUAL) -> Train:
    """A holder and a board that fills most of the floor; both lie flat."""
    flat = Mount(upright=True)
    holder = replace(part(Box((0, 0, 0), (30, 14, 10)), access=(CELLS,)), id="holder", mount=flat)
    board = replace(part(Box((0, 0, 0), (32, 14, 4))), id="board", mount=flat)
    needs = (
        Need("cells", (holder,), exchange=exchange),
        Need("board", (board,), vehicles=(vehicle.name,)),
    )
    return train_of((vehicle, *more), needs)


def packed(train: Train, name: str = "v") -> tuple[tuple[str, ...], tuple[Exchanged, ...]]:
    packer = Packer({entry.name: entry.vehicle for entry in train.vehicles})
    packing = ReachablePacker(train, packer).pack(name, wanted(train))
    assert packing.verdict == "fits"
    needs = {need.name: need for need in train.needs}
    return packing.shut_in, exchanges_in(packer.vehicle(name), needs, packing.placements)


def test_parts_make_room_for_what_is_exchanged() -> None:
    """Where side by side goes as well as on top, the board does not come to lie over the cells."""
    for length in (7, 8, 10):
        shut, (entry,) = packed(holder_and_board(hollow("v", length, 6, 9)))
        assert shut == ()
        assert entry.parts_out == ()


def test_cells_under_a_ledge_are_left_a_way_of_two_moves() -> None:
    """Cells fixed under a ledge slide out under the hatch first: the board keeps clear of that way."""
    made = hollow("v", 11, 4, 9)
    (roof,) = made.openings
    low, high = roof.box.low, roof.box.high
    hatch = Opening("hatch", Box((40.0, *low[1:]), high), "+z")
    ledge = BodySolid(Box((8, 8, FLOOR + 12), (40, 24, high[2])), "fixed")
    vehicle = replace(made, openings=(hatch,), body=(*made.body, ledge))
    flat = Mount(upright=True, turnable=False)
    holder = replace(part(Box((0, 0, 0), (30, 16, 10)), access=(CELLS,)), id="holder", mount=flat)
    board = replace(part(Box((0, 0, 0), (10, 16, 14))), id="board", mount=flat)
    fixed = Need("cells", (holder,), pinned=FixedPlace("v", "+x+y+z", (8.0, 8.0, FLOOR)))
    train = train_of((vehicle,), (fixed, Need("board", (board,))))
    plain = Packer({"v": vehicle}).pack_as_it_is("v", wanted(train))
    needs = {need.name: need for need in train.needs}
    assert exchanges_in(vehicle, needs, plain.placements)[0].parts_out == ("board",)
    shut, (entry,) = packed(train)
    assert shut == ()
    assert entry.last is not None
    assert [way for way, _ in entry.last.moves] == ["+x", "+z"]
    assert entry.parts_out == ()


def test_one_part_may_lie_on_the_cells_where_that_is_allowed() -> None:
    """Cells at a slit lie under two boards, or on one of them: with one allowed, that is done."""
    window = Window("slit", Box((0, 12, FLOOR), (8, 20, FLOOR + 12.8)), "-x")
    vehicle = hollow("v", 6, 4, 9, windows=(window,))
    look = Mount(looks="-x", lens=Box((0, 4, 1), (0, 12, 7)), turnable=False)
    holder = replace(part(Box((0, 0, 0), (32, 16, 8)), access=(CELLS,)), id="holder", mount=look)
    board = replace(part(Box((0, 0, 0), (32, 16, 3))), id="board", mount=Mount(turnable=False))
    found = []
    for allowed in (0, 1, 2):
        cells = Need("cells", (holder,), looks=("v", "slit"), exchange=Exchange(parts_out=allowed))
        train = train_of((vehicle,), (cells, Need("a", (board,)), Need("b", (board,))))
        shut, (entry,) = packed(train)
        found.append((shut, len(entry.parts_out)))
    assert found == [(("cells",), 2), ((), 1), ((), 2)]


def straight_up_by_brute_force(hatch: Box, sizes: Sequence[tuple[int, int, int]], room: Box) -> bool:
    """Whether the first of some blocks can lie so that it lifts straight out past the others, on a 4 mm grid.

    All lie on the floor or on each other, turned about the upright axis or not, beside each other or stacked.
    """

    def spots(size: tuple[int, int, int], z: float) -> list[Box]:
        found = []
        for dx, dy in {(size[0], size[1]), (size[1], size[0])}:
            for x in range(int(room.low[0]), int(room.high[0]) - dx + 1, 4):
                for y in range(int(room.low[1]), int(room.high[1]) - dy + 1, 4):
                    if z + size[2] <= room.high[2] + 1e-9:
                        found.append(Box((x, y, z), (x + dx, y + dy, z + size[2])))
        return found

    def apart(one: Box, other: Box, axes: Sequence[int] = (0, 1, 2)) -> bool:
        return any(one.high[i] <= other.low[i] or other.high[i] <= one.low[i] for i in axes)

    floor = room.low[2]
    for high in (floor, floor + sizes[1][2]):
        for cells in spots(sizes[0], high):
            inside = all(hatch.low[i] <= cells.low[i] and cells.high[i] <= hatch.high[i] for i in (0, 1))
            if not inside:
                continue
            for board in spots(sizes[1], floor):
                over = board.high[2] > cells.low[2] and not apart(cells, board, (0, 1))
                if apart(cells, board) and not over:
                    return True
    return False


@pytest.mark.parametrize("seed", range(20))
def test_where_a_place_exists_from_which_cells_lift_out_one_is_taken(seed: int) -> None:
    """On seeded pairs of blocks under a hatch: what brute force finds, the packer finds."""
    dice = random.Random(seed)
    made = hollow("v", dice.randint(6, 9), dice.randint(4, 6), 9)
    (roof,) = made.openings
    low, high = roof.box.low, roof.box.high
    right = low[0] + 8.0 * dice.randint(2, 4)
    lid = Opening("hatch", Box(low, (min(right, high[0]), *high[1:])), "+z")
    vehicle = replace(made, openings=(lid,))
    sizes = [tuple(4 * dice.randint(*span) for span in ((3, 9), (3, 6), (1, 4))) for _ in range(2)]
    flat = Mount(upright=True)
    solids = [Box((0, 0, 0), size) for size in sizes]  # type: ignore[arg-type]
    parts = [
        replace(part(solids[0], access=(CELLS,)), id="holder", mount=flat),
        replace(part(solids[1]), id="board", mount=flat),
    ]
    train = train_of((vehicle,), (Need("cells", (parts[0],)), Need("board", (parts[1],))))
    packing = ReachablePacker(train, Packer({"v": vehicle})).pack("v", wanted(train))
    room = Box((8, 8, FLOOR), (made.length - 8, made.width - 8, roof.box.low[2]))
    if straight_up_by_brute_force(lid.box, sizes, room):  # type: ignore[arg-type]
        assert packing.verdict == "fits"
        assert packing.shut_in == ()


def test_cells_that_cannot_come_out_are_named_and_another_vehicle_is_taken() -> None:
    """In a narrow loco cells and board lie on each other under a hatch for one: the wagon takes the cells."""
    narrow = hollow("v", 6, 4, 12)
    (roof,) = narrow.openings
    low = replace(narrow, openings=(Opening("hatch", roof.box, "+z", often=False),))
    shut, _ = packed(holder_and_board(low))
    assert shut == ("cells",)
    train = holder_and_board(low, hollow("w", 10, 6, 9, kind="wagon"))
    packer = Packer({entry.name: entry.vehicle for entry in train.vehicles})
    reachable = ReachablePacker(train, packer)
    best = choose(train, reachable.pack, lambda parts: "").best
    assert {pick.need.name: pick.vehicle for pick in best.picks} == {"cells": "w", "board": "v"}
    assert best.shut_in == 0
    allowed = holder_and_board(
        low, hollow("w", 10, 6, 9), exchange=Exchange(openings=("hatch",), parts_out=1)
    )
    reachable = ReachablePacker(allowed, packer)
    best = choose(allowed, reachable.pack, lambda parts: "").best
    assert {pick.vehicle for pick in best.picks} == {"v"}


def mirrored(placement: Placement, length: float) -> Placement:
    """The same boxes seen in a mirror across the vehicle's length."""
    boxes = [placement.place.move_solid(solid).bounds for solid in placement.part.envelope]
    turned = [
        Box((length - box.high[0], *box.low[1:]), (length - box.low[0], *box.high[1:])) for box in boxes
    ]
    made = replace(placement.part, envelope=tuple(turned))
    return replace(placement, part=made, place=Place(placement.place.pose, (0.0, 0.0, 0.0)))


@given(seed=st.integers(0, 10_000), target=st.integers(0, 5))
@settings(max_examples=25, deadline=None)
def test_taking_parts_away_never_takes_more_out_and_mirror_images_agree(seed: int, target: int) -> None:
    """Without one of the other parts no more must come out first; in a mirror the same number must."""
    vehicle, placements = random_packing(seed)
    boxes = [place for place in placements if all(isinstance(one, Box) for one in place.part.envelope)][:6]
    if len(boxes) < 2:
        return
    number = target % len(boxes)
    boxes[number] = replace(boxes[number], part=replace(boxes[number].part, access=(CELLS,)))
    whole = only(built(vehicle, boxes))
    gone = (number + 1) % len(boxes)
    fewer = only(built(vehicle, [place for i, place in enumerate(boxes) if i != gone]))
    assert fewer.reached or not whole.reached
    if whole.reached:
        assert len(fewer.parts_out) <= len(whole.parts_out)
    image = only(built(vehicle, [mirrored(place, vehicle.length) for place in boxes]))
    assert (image.reached, len(image.parts_out)) == (whole.reached, len(whole.parts_out))
