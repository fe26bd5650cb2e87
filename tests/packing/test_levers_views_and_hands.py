"""What levers off, what a window shows, how long a hand is: beside all cells or boxes looked at in turn."""

from __future__ import annotations

import itertools
import math
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from fitplan.model.solids import Box
from fitplan.packing.access.hands import Hand
from fitplan.packing.engine.problem import Placed
from fitplan.packing.engine.search_places import MOST_LEVELS, OrderSearch
from fitplan.packing.engine.search_sides import SidesSearch
from fitplan.packing.vehicle import addition_shapes, additions, pressed, reaching_additions, shelves
from fitplan.packing.vehicle.addition_shapes import FEET, Cells, feet_of
from fitplan.packing.vehicle.posts import LEAST_POST, free_rects
from fitplan.packing.vehicle.pressed import Pair, foot_lever, presses_placed
from fitplan.packing.vehicle.stud_cells import BRICK
from fitplan.packing.vehicle.window_places import WindowCut, WindowPlaces

LEVEL_AND_CELL = 80


def test_the_foot_of_what_carries_is_its_lowest_or_highest_piece() -> None:
    """In cells of 8 mm: of a stack the one that stands, of what hangs the one under the roof."""
    rng = np.random.default_rng(2)
    for _ in range(20):
        boxes: list[Any] = []
        for _ in range(4):
            i, j, z = rng.integers(0, 9, 3).tolist()
            m, n, h = rng.integers(1, 4, 3).tolist()
            boxes.append((80 * i, 80 * j, 32 * z, 80 * (i + m), 80 * (j + n), 32 * (z + h)))
        for hung in (False, True):
            (i, j, k, m), told = foot_lever(hung, boxes)
            assert told is hung
            foot = (80 * i, 80 * j, 80 * k, 80 * m)
            here = [box for box in boxes if (box[0], box[1], box[3], box[4]) == foot]
            wanted = max(box[5] for box in boxes) if hung else min(box[2] for box in boxes)
            assert wanted in [box[5] if hung else box[2] for box in here]


@pytest.mark.parametrize("kind", [None, "block", "pad", "bracket", "hanger"])
def test_only_what_carries_a_part_beside_itself_may_be_levered_off(
    monkeypatch: pytest.MonkeyPatch, kind: str | None
) -> None:
    """By all its pieces but pads."""
    asked: list[Any] = []
    monkeypatch.setattr(pressed, "presses", lambda *given: asked.append(given) or True)
    monkeypatch.setattr(pressed, "resting_of", lambda *given: "resting")
    monkeypatch.setattr(pressed, "middle_of", lambda boxes: (7.0, 8.0))
    monkeypatch.setattr(pressed, "part_rows", lambda placement: np.zeros((1, 6), np.int64))
    monkeypatch.setattr(pressed, "sideways_n", lambda part: 0.4)
    monkeypatch.setattr(pressed, "in_tenths", lambda box: box)
    monkeypatch.setattr(pressed, "foot_lever", lambda hung, boxes: (hung, boxes))
    parts = [SimpleNamespace(name=name, box=name) for name in ("brick", "pad", "plate")]
    shelf = SimpleNamespace(kind=kind, parts=parts) if kind else None
    place: Any = SimpleNamespace(shelf=shelf, part="part")
    assert presses_placed(None, frozenset(), place, None, "over")  # type: ignore[arg-type]
    lever = (kind == "hanger", ["brick", "plate"]) if kind in ("bracket", "hanger") else None
    assert asked == [(0.4, (7.0, 8.0), "resting", "over", lever)]


def test_pads_under_a_pressed_part_are_no_steady_shelf() -> None:
    """What else carries it is told as it is; where it rests on what is there, nothing is added."""
    over: Any = SimpleNamespace(count=3)
    pad = ((0, 0, 0, 10, 20, 5),)
    shelf = Pair(None, over, pad).shelf
    assert shelf is not None
    assert (shelf.kind, shelf.steady, [piece.name for piece in shelf.pieces]) == ("pad", False, ["pad"])
    assert shelf.pieces[0].box == Box((0.0, 0.0, 0.0), (1.0, 2.0, 0.5))
    assert Pair(None, over).shelf is None
    below: Any = SimpleNamespace(pieces=[1, 2], as_shelf=lambda: "built")
    assert Pair(below, over, pad).shelf == "built"  # type: ignore[comparison-overlap]
    assert (Pair(below, over).count, Pair(None, over).count) == (5, 3)


def test_columns_stand_on_all_feet_that_an_arm_has_room_for(monkeypatch: pytest.MonkeyPatch) -> None:
    """Every block of two to four neighbouring cells of it with studs below all of them, each once."""
    monkeypatch.setattr(addition_shapes, "levers", lambda mass, foot, center: foot[0] != 5)
    rng = np.random.default_rng(3)
    for arm in ((1, 2, 4, 6), (0, 0, 1, 4), (3, 1, 7, 2), (2, 2, 3, 3)):
        there = rng.random((8, 8)) < 0.8
        found = list(feet_of(arm, Cells(there), 5.0, (0.0, 0.0)))
        wanted = {
            (i, j, i + m, j + n)
            for m, n in FEET
            for i, j in itertools.product(range(arm[0], arm[2]), range(arm[1], arm[3]))
            if i + m <= arm[2] and j + n <= arm[3] and there[i : i + m, j : j + n].all() and i != 5
        }
        assert set(found) == wanted
        assert len(found) == len(wanted)


def test_a_bridge_is_pushed_off_by_its_lower_end(monkeypatch: pytest.MonkeyPatch) -> None:
    """What it bears is reckoned from the lower of the levels that it stands on, over all its width."""
    asked: list[Any] = []
    monkeypatch.setattr(
        reaching_additions, "bears_push", lambda push, height, feet: asked.append((height, feet)) or True
    )
    monkeypatch.setattr(reaching_additions, "middle_of", lambda boxes: (0.0, 0.0))
    monkeypatch.setattr(reaching_additions, "height_of_middle", lambda boxes: 500.0)
    monkeypatch.setattr(reaching_additions, "_columns", lambda storeys, ceilings: "columns")
    monkeypatch.setattr(reaching_additions, "ends_of", lambda arm, axis: ("first", "last"))
    monkeypatch.setattr(reaching_additions, "_tops", lambda bottom, known: [300])
    monkeypatch.setattr(
        reaching_additions, "_levels", lambda columns, foot, top: [32] if foot == "first" else [96, 160]
    )
    monkeypatch.setattr(reaching_additions, "stack", lambda *given: ())
    monkeypatch.setattr(reaching_additions, "piece", lambda *given: ("piece", (0,) * 6))
    monkeypatch.setattr(reaching_additions, "_over", lambda *given: ())
    part: Any = SimpleNamespace(boxes=(), push_n=0.3)
    arms: Any = [(320, [((0, 0, 4, 2), (-5, -5, 5, 5))])]
    found = list(reaching_additions.bridges([np.zeros((4, 4), np.int64)], [], part, arms))
    assert [height for height, _ in asked] == [500.0 - 32] * 2
    assert all(feet == (("first", 2), ("last", 2)) for _, feet in asked)
    assert all(one.steady for one in found)
    assert list(reaching_additions.bridges([], [], part, arms)) == []


@pytest.mark.parametrize("every_foot", [False, True])
def test_what_is_built_up_is_pushed_off_by_where_it_stands(
    monkeypatch: pytest.MonkeyPatch, every_foot: bool
) -> None:
    """Plates on all the studs of an arm, or a column on some of them: from the level of the studs up."""
    asked: list[Any] = []
    monkeypatch.setattr(
        additions, "bears_push", lambda push, height, feet: asked.append((push, height, feet)) or True
    )
    monkeypatch.setattr(additions, "middle_of", lambda boxes: (80.0, 40.0))
    monkeypatch.setattr(additions, "height_of_middle", lambda boxes: 500.0)
    monkeypatch.setattr(additions, "foot_of", lambda *given: asked.append(given[-1]) or (0, 0, 1, 1))
    monkeypatch.setattr(additions, "feet_of", lambda *given: [(0, 0, 1, 1)])
    monkeypatch.setattr(additions, "stack", lambda *given: (("column", (0,) * 6),))
    monkeypatch.setattr(additions, "piece", lambda *given: ("last", (0,) * 6))
    part: Any = SimpleNamespace(boxes=(), push_n=0.3, mass_g=5.0)
    arm, touch = (0, 0, 2, 1), (0, 0, 160, 80)
    arms: Any = [(96 + 64, [(arm, touch)])]
    studs = np.full((3, 2), -1, np.int64)
    studs[0, 0] = 96
    ceiling = np.full((3, 2), 900)
    found = list(additions._from_below(studs, part, ceiling, arms, every_foot=every_foot))
    assert found
    assert {one.kind for one in found} == {"bracket"}
    told = [one for one in asked if isinstance(one, tuple)]
    assert {(push, height) for push, height, _ in told} == {(0.3, 500.0 - 96)}
    assert {feet for *_, feet in told} == {(((0, 0, 1, 1), 1),)}
    assert {one for one in asked if not isinstance(one, tuple)} == (set() if every_foot else {500.0 - 96})
    asked.clear()
    studs[1, 0] = 96
    found = list(additions._from_below(studs, part, ceiling, arms, every_foot=every_foot))
    assert {one.kind for one in found} == {"plates"}
    assert set(asked) == {(0.3, 500.0 - 96, ((arm, 2),))}


def test_what_has_no_volume_fills_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    rows = [
        (0, 0, 0, 4, 5, 6),
        (3, 1, 1, 3, 5, 6),
        (1, 4, 1, 4, 4, 6),
        (1, 1, 2, 4, 5, 2),
        (2, 2, 2, 3, 3, 3),
    ]
    monkeypatch.setattr(shelves, "rows_at", lambda place, solids: np.array(rows))
    found = list(shelves._moved(SimpleNamespace(place=None), []))  # type: ignore[arg-type]
    assert found == [rows[0], rows[4]]


def test_posts_are_as_wide_as_what_is_free_across_a_column() -> None:
    """Every rectangle of grid lines that nothing reaches into and that could not be larger, posts wide."""
    rng = np.random.default_rng(6)
    column = (100, 300, 50, 500, 620, 90)
    for _ in range(15):
        rows = []
        for _ in range(3):
            x, y, z = (int(rng.integers(low, high)) for low, high in ((60, 480), (260, 600), (0, 95)))
            size = [int(n) for n in rng.integers(30, 140, 3)]
            rows.append((x, y, z, x + size[0], y + size[1], z + size[2]))
        met = [row for row in rows if row[2] < 90 and row[5] > 50]
        xs = sorted({100, 500, *(min(max(row[k], 100), 500) for row in met for k in (0, 3))})
        ys = sorted({300, 620, *(min(max(row[k], 300), 620) for row in met for k in (1, 4))})
        free = [
            (a, b, c, d)
            for a, c in itertools.combinations(xs, 2)
            for b, d in itertools.combinations(ys, 2)
            if not any(row[0] < c and row[3] > a and row[1] < d and row[4] > b for row in met)
        ]

        def within(one: Any, other: Any) -> bool:
            return bool(
                other[0] <= one[0] and other[1] <= one[1] and other[2] >= one[2] and other[3] >= one[3]
            )

        largest = {
            one
            for one in free
            if min(one[2] - one[0], one[3] - one[1]) >= LEAST_POST
            and not any(other != one and within(one, other) for other in free)
        }
        found = list(free_rects(column, np.array(rows), LEAST_POST))
        assert largest <= set(found)
        assert set(found) <= set(free)


def test_a_part_rests_on_what_is_there_and_what_is_added(monkeypatch: pytest.MonkeyPatch) -> None:
    """Its soles where it lies, rounded to tenths along each axis; bricks, other parts and its own shelf."""
    asked: list[Any] = []
    monkeypatch.setattr(pressed, "soles_of", lambda part, pose: [(1, 2, 3, 4, 5, 6)])
    monkeypatch.setattr(pressed, "resting_faces", lambda boxes: list(boxes))
    monkeypatch.setattr(pressed, "bricks_of", lambda vehicle, removed: ((1,) * 6,))
    monkeypatch.setattr(pressed, "in_tenths", lambda box: box)
    monkeypatch.setattr(
        pressed, "contacts", lambda faces, tops, gap: asked.append((faces, tops.tolist(), gap)) or ["touch"]
    )
    for shelf, added in ((None, []), (SimpleNamespace(boxes=[(3,) * 6, (4,) * 6]), [[3] * 6, [4] * 6])):
        place: Any = SimpleNamespace(
            shelf=shelf, part="part",
            place=SimpleNamespace(offset=(10.04, 20.06, -3.0), pose=SimpleNamespace(name="up")),
        )  # fmt: skip
        others = np.array([(2,) * 6])
        assert pressed.resting_of(None, frozenset(), place, others) == ("touch",)  # type: ignore[arg-type, comparison-overlap]
        ((faces, tops, gap),) = asked
        assert faces == [(101, 203, -27, 104, 206, -24)]
        assert tops == [[1] * 6, [2] * 6, *added]
        assert gap == pressed.SUPPORT_GAP
        asked.clear()


def test_a_set_of_cells_is_told_with_its_bricks_and_the_last_of_its_boxes() -> None:
    """What goes ahead of the lens is what the window becomes; bricks count, other cells beside them."""
    kinds = np.zeros((4, 4, 4), np.uint8)
    kinds[0, 0, 0] = kinds[1, 0, 0] = BRICK
    self: Any = SimpleNamespace(_cells=SimpleNamespace(kinds=kinds))
    row = np.array([9, 9, 9, 9, 9, 9, 1, 2, 3, 4, 5, 6])
    for rows in (row, np.concatenate([row[:6], row])):
        cut = WindowPlaces._cut(self, ((0, 0, 0), (1, 0, 0), (2, 0, 0)), rows, 17)
        assert cut == WindowCut(2, 1, 17, ((0, 0, 0), (1, 0, 0), (2, 0, 0)), ((1, 3, 5), (2, 4, 6)))


# -- windows and hands ---------------------------------------------------------------------------------------


@pytest.mark.parametrize("out", ["+x", "-x", "+y", "-y"])
def test_all_ahead_of_a_lens_is_its_view(out: Any) -> None:
    """From where the lens is, or from the wall's inside if that is nearer, right through to the outside."""
    along = "xy".index(out[1])
    forwards = out[0] == "+"
    counts = (9, 7, 5)
    low, high = [8.0, 8.0, 8.0], [24.0, 24.0, 24.0]
    low[along], high[along] = (64.0, 72.0) if forwards else (0.0, 8.0)
    first, last = np.array([0, 3, 7, 8]), np.array([1, 4, 8, 9])
    spans = [(first.copy(), last.copy()) for _ in range(3)]
    self: Any = SimpleNamespace(
        _window=SimpleNamespace(box=Box(tuple(low), tuple(high)), out=out), _along=along,  # type: ignore[arg-type]
        _cells=SimpleNamespace(kinds=np.zeros(counts)), _seen=lambda: "lens", _spans=lambda box: list(spans),
    )  # fmt: skip
    found = WindowPlaces._view(self)
    for axis in range(3):
        a, b = (part.tolist() for part in found[axis])
        if axis != along:
            assert (a, b) == (first.tolist(), last.tolist())
        elif forwards:
            wall = min(int(low[along] * 10) // LEVEL_AND_CELL, counts[along])
            assert a == [min(one, wall, counts[along]) for one in first.tolist()]
            assert b == [counts[along]] * 4
        else:
            wall = math.ceil(high[along] * 10 / LEVEL_AND_CELL)
            assert a == [0] * 4
            assert b == [min(max(one, wall), counts[along]) for one in last.tolist()]


@pytest.mark.parametrize("side", ["+x", "-y", "+z"])
def test_a_hand_is_as_long_as_all_room_in_front_of_an_access(side: Any) -> None:
    """From the nearest end of all boxes of it to the farthest; a plug is held at its end."""
    axis = "xyz".index(side[1])
    rows = np.array([(10, 20, 30, 14, 26, 39), (2, 15, 33, 11, 70, 44), (9, 40, 31, 90, 60, 99)])
    for kind, plug in (("socket", True), ("console", True), ("switch", False)):
        there: Any = SimpleNamespace(kind=kind)
        hand = Hand.at(there, side, rows, 2)
        lowest, highest = min(rows[:, axis].tolist()), max(rows[:, axis + 3].tolist())
        assert hand.long == highest - lowest
        assert hand.most == 2
        finger = Hand(side, False, 0, 2).reach
        assert hand.reach == finger + (hand.long if hand.plug else 0)
        assert hand.plug is plug


# -- searches ------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("state", [0, 1, -1, -2])
def test_a_search_is_over_goes_on_or_has_no_more_room(state: int) -> None:
    """Nothing is asked again of one that is over, or that has no room; what is found is told by name."""
    asked: list[str] = []

    def call(name: str, *given: Any) -> int:
        asked.append(name)
        return state if name == "places_order_run" else 1

    laid = np.zeros((MOST_LEVELS, 2), np.int32)
    laid[1] = (1, 0)
    ranges = np.zeros((MOST_LEVELS, 2, 6), np.int32)
    ranges[1] = [(1, 2, 3, 9, 9, 9), (4, 5, 6, 9, 9, 9)]
    search: Any = OrderSearch.__new__(OrderSearch)
    search._dead, search.overrun, search.count = False, False, 2
    search.kernel = SimpleNamespace(
        call=call, view=lambda at, shape, kind: laid if len(shape) == 2 else ranges
    )
    search._laid, search._ranges, search._option_rows = 0, 0, [(7, 0), (8, 0)]
    search.named = lambda rows: rows
    found = OrderSearch.run(search, 10)
    if state == 1:
        assert found == [(8, 1, 2, 3), (7, 4, 5, 6)]  # type: ignore[comparison-overlap]
    else:
        assert found is (False if state == 0 else None)
    assert (search._dead, search.overrun) == (state == 0, state == -2)
    asked.clear()
    again = OrderSearch.run(search, 10)
    assert bool(asked) is (state in (1, -1))
    assert again == found


@pytest.mark.parametrize("state", [0, 1, -1, -2])
def test_a_search_by_sides_is_over_goes_on_or_has_no_more_room(state: int) -> None:
    """As the other one; what is found is told with the pose of the option that was taken."""
    asked: list[str] = []

    def call(name: str, *given: Any) -> int:
        asked.append(name)
        return state

    search: Any = SidesSearch.__new__(SidesSearch)
    search._dead, search.overrun, search._out = False, False, 0
    search._names, search._rows = ["a", "b"], np.array([(5,), (6,), (7,)])
    rows = np.array([(2, 10, 20, 30), (0, 40, 50, 60)], np.int32)
    search.kernel = SimpleNamespace(call=call, view=lambda at, shape, kind: rows)
    found = SidesSearch.run(search, 10)
    if state == 1:
        assert found == {"a": Placed(7, (10, 20, 30)), "b": Placed(5, (40, 50, 60))}
    else:
        assert found is (False if state == 0 else None)
    assert (search._dead, search.overrun) == (state == 0, state == -2)
    asked.clear()
    assert SidesSearch.run(search, 10) == found
    assert bool(asked) is (state in (1, -1))
