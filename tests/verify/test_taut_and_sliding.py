"""Ways pulled taut in free room and over parts, and solids that slide out through openings on every side."""

from __future__ import annotations

import math
import random
from dataclasses import replace
from itertools import pairwise

import pytest

from fitplan.model.placed import Piece, Shelf
from fitplan.model.solids import DIRECTIONS, Box, Direction, Vec, axis_of, is_forward, opposite
from fitplan.model.vehicle import Opening
from fitplan.model.wired import Detour, Leg, Wire, WireEnd
from fitplan.verify.detours import _cut_corners, _taut, check_detours
from fitplan.verify.result import Tally
from fitplan.verify.scene import sites_of
from fitplan.verify.sliding import Mover, _through, slide_out
from fitplan.verify.wires import sees_along

from .lies import placed_with, wire_with
from .two_vehicles import FLOOR, WIRES, plan

SITES = sites_of(plan().built)
WIRE = WIRES[3]


def length(points: list[Vec] | tuple[Vec, ...]) -> float:
    return sum(math.dist(a, b) for a, b in pairwise(points))


# -- corners -----------------------------------------------------------------------------------------------


@pytest.mark.parametrize("seed", range(4))
def test_where_all_is_free_one_straight_line_is_left(seed: int) -> None:
    rng = random.Random(seed)
    points = [(rng.uniform(30, 70), rng.uniform(10, 38), rng.uniform(36, 48)) for _ in range(seed + 3)]
    kept, gained = _cut_corners(WIRE, list(points), (points[0], points[-1]), SITES["wagon"])
    assert kept == [points[0], points[-1]]
    assert gained == pytest.approx(length(points) - math.dist(points[0], points[-1]))


def test_a_way_of_two_points_and_one_with_a_point_in_line() -> None:
    a, b, c = (30.0, 12.0, 40.0), (40.0, 12.0, 40.0), (60.0, 12.0, 40.0)
    assert _cut_corners(WIRE, [a, c], (a, c), SITES["wagon"]) == ([a, c], 0.0)
    assert _cut_corners(WIRE, [a, b, c], (a, c), SITES["wagon"])[0] == [a, c]


OVER_BOARD = [(18.0, 15.0, 21.0), (18.0, 15.0, 40.0), (46.0, 15.0, 40.0), (46.0, 15.0, 21.0)]
OVER_MOTOR = [(47.0, 33.0, 22.0), (47.0, 33.0, 45.0), (71.4, 33.0, 45.0), (71.4, 33.0, 22.0)]
BESIDE_CELL = [(14.0, 26.0, 22.0), (14.0, 39.4, 22.0), (38.0, 39.4, 22.0), (38.0, 26.0, 22.0)]
ROUND_A_CORNER = [(48.0, 25.0, 21.0), (72.0 - 0.6, 25.0, 21.0), (72.0 - 0.6, 39.0, 21.0)]


@pytest.mark.parametrize("points", [OVER_BOARD, OVER_MOTOR, BESIDE_CELL, ROUND_A_CORNER])
@pytest.mark.parametrize("back", [False, True])
def test_corners_over_parts_are_cut_as_far_as_the_line_stays_free(points: list[Vec], back: bool) -> None:
    """Ends stay, what is gained is gained, new pieces are free; what stays cannot be cut by half."""
    site = SITES["loco"]
    way: list[Vec] = points[::-1] if back else list(points)
    ends = (way[0], way[-1])
    assert all(sees_along(WIRE, (a, b), ends, site) for a, b in pairwise(way))
    for _ in range(3):
        before = way
        way, gained = _cut_corners(WIRE, list(before), ends, site)
        assert (way[0], way[-1]) == ends
        assert gained == pytest.approx(length(before) - length(way), abs=1e-9)
        assert gained >= 0
        for a, b in pairwise(way):
            assert sees_along(WIRE, (a, b), ends, site), (a, b)
        for n, spot in enumerate(way[1:-1], 1):
            if spot not in before:
                continue
            reach = min(math.dist(way[n - 1], spot), math.dist(spot, before[before.index(spot) + 1]))
            one = [s + (a - s) / math.dist(way[n - 1], spot) * reach / 2
                   for s, a in zip(spot, way[n - 1], strict=True)]  # fmt: skip
            then = before[before.index(spot) + 1]
            other = [s + (a - s) / math.dist(then, spot) * reach / 2
                     for s, a in zip(spot, then, strict=True)]  # fmt: skip
            cut = ((one[0], one[1], one[2]), (other[0], other[1], other[2]))
            assert reach / 2 < 0.1 or not sees_along(WIRE, cut, ends, site)
    # Round a box of this height it cannot be shorter than its straight line, nor longer than it was.
    assert math.dist(*ends) <= length(way) < length(points)


# -- how taut ----------------------------------------------------------------------------------------------


def bent(
    high: float, *, kinds: tuple[str, str] = ("splice", "splice"), legs: int = 1
) -> list[tuple[str, float]]:
    """What is said of a wire in the wagon: 40 mm straight on, bent in the middle by so much."""
    points: list[Vec] = [(30.0, 12.0, 45.0), (50.0, 12.0 + high, 45.0), (70.0, 12.0, 45.0)]
    start, end = (WireEnd(kind, "o", "p", "wagon", spot, 4.0) for kind, spot in
                  zip(kinds, (points[0], points[-1]), strict=True))  # type: ignore[arg-type]  # fmt: skip
    # Before and behind it a lead-out of 3 mm, to the side, where it begins or ends at a pin.
    if kinds[0] == "pin":
        points.insert(0, (30.0, 12.0, 42.0))
    if kinds[1] == "pin":
        points.append((70.0, 12.0, 42.0))
    leg = Leg("wagon", tuple(points))
    other = Leg("loco", ((10.0, 24.0, 40.0), (20.0, 24.0, 40.0)))
    wire: Wire = replace(WIRE, start=start, end=end, legs=(leg,) if legs == 1 else (other, leg, other))
    sheet = Tally()
    _taut(wire, leg, leg, SITES["wagon"], sheet)
    report = sheet.report()
    assert [(one.what, one.count) for one in report.checked] == [("taut ways", 1)]
    return [(one.message, one.figure) for one in report.problems]


@pytest.mark.parametrize(
    "kinds", [("splice", "splice"), ("pin", "splice"), ("splice", "pin"), ("pin", "pin")]
)
def test_a_tenth_and_five_millimetres_may_be_slack(kinds: tuple[str, str]) -> None:
    """20 by 15 mm twice are 50 mm, 10 more than the straight line: just a tenth and 5 mm."""
    assert bent(14.9, kinds=kinds) == []
    for high in (15.1, 20.0):
        whole = 2 * math.hypot(20, high)
        words = f"can be pulled {whole - 40:.1f} mm tighter in wagon, and does not say why it is not"
        assert bent(high, kinds=kinds) == [(words, pytest.approx(whole - 40, abs=1e-3))]


def test_a_leg_in_the_middle_has_no_lead_outs() -> None:
    """Its first and last pieces count as well, whatever the wire begins and ends at: 3 mm at each end."""
    assert bent(14.0, kinds=("pin", "pin")) == []
    ((_, figure),) = bent(14.0, kinds=("pin", "pin"), legs=3)
    assert figure == pytest.approx(2 * math.hypot(20, 14.0) + 6 - 40, abs=1e-3)


def test_longer_ways_are_counted_as_trusted() -> None:
    """Each that is told, in every leg; and every leg of all wires."""
    light = next(wire for wire in WIRES if wire.number == 1)
    rows = tuple(Detour(leg.vehicle, "room to bend", 1.0, leg.points) for leg in light.legs)
    made = wire_with(plan(), 1, detours=rows)
    sheet = Tally()
    check_detours(made.built, sites_of(made.built), sheet)
    report = sheet.report()
    assert {one.what: one.count for one in report.trusted} == {
        "reasons of longer ways": 2,
        "shortest ways of wires": 6,
    }
    counts = {one.what: one.count for one in report.checked}
    assert (counts["longer ways told"], counts["taut ways"]) == (2, 6)


# -- sliding -----------------------------------------------------------------------------------------------


def through(out: Direction, way: Direction, beside: float, behind: float) -> list[tuple[str, float]]:
    """A cube of 4 mm that moves, from ``behind`` mm within the plane of an opening, beside its edge."""
    axis = axis_of(out)
    low, high = [10.0, 10.0, 10.0], [30.0, 30.0, 30.0]
    opening = Opening("lid", Box((10, 10, 10), (30, 30, 30)), out)
    middle = [20.0, 20.0, 20.0]
    middle[(axis + 1) % 3] = 30.0 + beside
    middle[axis] = high[axis] - behind + 2 if is_forward(out) else low[axis] + behind - 2
    cube = Box((middle[0] - 2, middle[1] - 2, middle[2] - 2), (middle[0] + 2, middle[1] + 2, middle[2] + 2))
    sheet = Tally()
    # It was moved by 3 mm before.
    mover = Mover("cube", (Box((cube.low[0] - 3, *cube.low[1:]), (cube.high[0] - 3, *cube.high[1:])),))
    _through(SITES["loco"], mover, (3.0, 0.0, 0.0), way, opening, sheet, "assembly")
    return [(one.message, one.figure) for one in sheet.report().problems]


@pytest.mark.parametrize("out", DIRECTIONS)
def test_the_last_move_goes_through_the_opening(out: Direction) -> None:
    """In its direction, the middle within its outline to a tenth, from within."""
    wrong = f"cube does not leave through lid towards {out}"
    for beside, told in ((-3.0, False), (0.09, False), (0.11, True), (5.0, True)):
        figure = pytest.approx(beside)
        assert through(out, out, beside, 6.0) == ([(wrong, figure)] if told else [])
    for way in DIRECTIONS:
        assert through(out, way, -3.0, 6.0) == ([] if way == out else [(wrong, 0.0)])
    # Its rear face is where the opening ends, or beyond it: it has left already.
    for behind, told in ((0.1, False), (0.0, True), (-0.1, True)):
        assert through(out, out, -3.0, behind) == ([(wrong, 0.0)] if told else [])
    assert through(out, opposite(out), 2.0, 6.0) == [(wrong, 2.0)]


@pytest.mark.parametrize("opening", [True, False])
@pytest.mark.parametrize(("up", "left"), [(20.0, 3.2), (23.1, 0.1), (23.2, 0.0), (30.0, 0.0)])
def test_it_ends_outside_the_hull(opening: bool, up: float, left: float) -> None:
    """A cube 12 mm above the floor, 35.2 below the top of the hull; through a lid or whatever is open."""
    site = SITES["wagon"]
    lid = site.vehicle.openings[0]
    cube = Mover("cube", (Box((40, 20, FLOOR + 12), (44, 24, FLOOR + 16)),))
    sheet = Tally()
    slide_out(site, cube, (("+z", up),), (), (), lid if opening else None, sheet, "work")
    found = [(one.message, one.figure) for one in sheet.report().problems]
    words = "cube is not yet out of the hull after its moves"
    assert [one for one in found if one[0] == words] == ([(words, pytest.approx(left))] if left else [])
    # With every opening closed it runs into the roof as well.
    assert any("into fixed" in message for message, _ in found) == (not opening)
    assert {one.what: one.count for one in sheet.report().checked} == {"swept solids": 1}


def test_what_is_in_the_way_of_a_slide() -> None:
    """Parts that stay, what carries those that are named, each told with how deep it is run into."""
    site = SITES["loco"]
    board = next(one for one in site.parts if one.name == "board")
    # 2 mm over a corner of the board of 10 mm, along x; from beside it and past it.
    cube = Mover("cube", (Box((48, 18, FLOOR), (52, 22, FLOOR + 1.5)),))
    for stay, told in (((board,), 1), ((), 0)):
        sheet = Tally()
        slide_out(site, cube, (("-x", 12.0), ("+z", 60.0)), stay, (), site.vehicle.openings[0], sheet, "work")
        found = [(one.message, one.figure) for one in sheet.report().problems]
        assert len(found) == 2 * told or not told
        if told:
            first, second = found
            assert first == ("cube, move 1 out (-x 12.0 mm): runs 1.500 mm into board", pytest.approx(1.5))
            assert second[0].startswith("cube, move 2 out (+z 60.0 mm): runs ")


def test_what_carries_parts_is_in_the_way_where_it_is_in() -> None:
    """A block under the board; the cube slides through it, and it is named or not."""
    shelf = Shelf("block", (Piece("block", Box((30, 10, FLOOR), (34, 14, FLOOR + 6))),), 0)
    site = sites_of(placed_with(plan(), "board", shelf=shelf).built)["loco"]
    cube = Mover("cube", (Box((31, 11, FLOOR + 8), (33, 13, FLOOR + 10)),))
    for owners, told in ((("board",), True), ((), False), (("cell",), False), (("cell", "board"), True)):
        sheet = Tally()
        slide_out(
            site, cube, (("-z", 3.0), ("+z", 60.0)), (), owners, site.vehicle.openings[0], sheet, "work"
        )
        found = [one.message for one in sheet.report().problems]
        assert all("the shelf under board" in message for message in found)
        assert bool(found) == told
