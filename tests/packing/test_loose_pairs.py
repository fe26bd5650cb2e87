"""What loose parts cost beside each other: place by place, counted in cells and reckoned by hand."""

from __future__ import annotations

import itertools
import random
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from fitplan.packing.vehicle.pair_costs import shares
from fitplan.packing.vehicle.part_places import BEFORE_PINS, FOOT, SHUT_BELOW, _foot
from fitplan.packing.vehicle.preferred import Liked
from fitplan.packing.vehicle.roomy_places import MOST_KEPT, STEPS_A_PLACE, RoomySearch
from fitplan.packing.vehicle.wishes import WiredNet, Wishes

Row = tuple[int, ...]


def cells(box: Row) -> set[Row]:
    return set(itertools.product(*(range(box[axis], box[axis + 3]) for axis in range(3))))


def part(name: str, solid: list[list[Row]], **more: Any) -> Any:
    """Places of a part: in each its boxes, and what else is told; offsets and variants are numbers only."""
    count = len(solid)
    rows = {
        key: np.array(more.get(key, [[]] * count), dtype=np.int64).reshape(count, -1 if count else 0, 6)
        for key in ("room", "exits")
    }
    boxes = np.array(solid, dtype=np.int64).reshape(count, -1 if count else 1, 6)
    whole = np.concatenate([boxes, rows["room"]], axis=1)
    bounds = np.concatenate([whole[..., :3].min(axis=1), whole[..., 3:].max(axis=1)], axis=1)
    return SimpleNamespace(
        name=name,
        offset=np.array([(number, 0, 0) for number in range(count)], dtype=np.int64).reshape(count, 3),
        variant=np.zeros(count, dtype=np.int64),
        solid=boxes,
        no_wires=whole,
        taken=whole,
        foot=np.array(more.get("foot", [[0] * 6] * count), dtype=np.int64).reshape(count, 6),
        **rows,
        bounds=bounds,
        outline=np.concatenate([boxes[..., :3].min(axis=1), boxes[..., 3:].max(axis=1)], axis=1) / 10,
        cost=np.array(more.get("cost", [0.0] * count), dtype=float),
        pins={net: np.array(pins, dtype=np.int64) for net, pins in more.get("pins", {}).items()},
        dear=more.get("dear", 1.0),
    )


def search(*parts: Any, nets: tuple[WiredNet, ...] = (), liked: tuple[Liked, ...] = (), seed: int = 0) -> Any:
    made: Any = RoomySearch((), None, None, Wishes(nets, liked=liked), seed)  # type: ignore[arg-type]
    made._parts = parts
    return made


def some_boxes(chance: random.Random, count: int) -> list[Row]:
    found = []
    for _ in range(count):
        low = [chance.randrange(6) for _ in range(3)]
        found.append((*low, *(at + chance.randrange(1, 4) for at in low)))
    return found


@pytest.mark.parametrize("seed", range(6))
def test_a_pair_beside_its_cells(seed: int) -> None:
    """Whether two parts share room, and how much of the room before pins is taken, for all and for some."""
    chance = random.Random(seed)
    told = [
        part(
            name,
            [some_boxes(chance, 2) for _ in range(12)],
            room=[some_boxes(chance, 1) for _ in range(12)],
            exits=[some_boxes(chance, 2) for _ in range(12)],
            pins={
                net: [[[chance.randrange(9) for _ in range(3)] for _ in range(2)] for _ in range(12)]
                for net in nets
            },
            dear=dear,
        )
        for name, dear, nets in (("a", 3.0, (0, 1)), ("b", 2.0, (1, 2)))
    ]
    one, other = told
    made = search(*told)
    for at in (0, 5):
        solids = [set().union(*map(cells, rows.tolist())) for rows in one.solid]
        rooms = [set().union(*map(cells, rows.tolist())) for rows in one.room]
        there, kept = (set().union(*map(cells, rows[at].tolist())) for rows in (other.solid, other.room))
        overlap = [bool(s & there or s & kept or r & there) for s, r in zip(solids, rooms, strict=True)]

        def taken(box: Row, rows: Any) -> float:
            # Boxes of one part that overlap count each, but never more than the whole.
            return min(sum(len(cells(box) & cells(row)) for row in rows.tolist()) / len(cells(box)), 1.0)

        mine = [sum(taken(box, other.no_wires[at]) for box in rows.tolist()) for rows in one.exits]
        theirs = [sum(taken(box, rows) for box in other.exits[at].tolist()) for rows in one.no_wires]
        away = [
            min(
                sum(abs(p - q) for p, q in zip(a, b, strict=True))
                for a in rows
                for b in other.pins[1][at].tolist()
            )
            for rows in one.pins[1].tolist()
        ]
        for rows in (slice(None), slice(3, 4), slice(2, 9)):
            found = made._pair(0, 1, at, rows)
            assert found.overlap.tolist() == overlap[rows]
            assert [one.tolist() for one in found.before_pins] == [
                pytest.approx([BEFORE_PINS * 3 * v for v in mine[rows]]),
                pytest.approx([BEFORE_PINS * 2 * v for v in theirs[rows]]),
            ]
            assert {net: values.tolist() for net, values in found.away.items()} == {1: away[rows]}


def test_what_would_stand_in_the_column_under_a_part_costs_its_share() -> None:
    """Seen from above; whatever height it has, within the column; on both sides of the pair."""
    column = (0, 0, 2, 4, 4, 9)
    cases = (((0, 0, 5, 4, 4, 6), 1.0), ((2, 2, 8, 9, 9, 20), 0.25), ((0, 0, 9, 4, 4, 12), 0.0))
    for box, share in (*cases, ((0, 0, 0, 4, 4, 2), 0.0), ((3, 0, 0, 5, 4, 3), 0.25)):
        hung, low = part("hung", [[(0, 0, 9, 4, 4, 12)]], foot=[column]), part("low", [[box]])
        for pair in ((hung, low), (low, hung)):
            (cost,) = search(*pair)._pair(0, 1, 0, slice(None)).before_pins
            assert cost.tolist() == [pytest.approx(SHUT_BELOW * share)], box
    assert search(low, part("flat", [[CUBE]]))._pair(0, 1, 0, slice(None)).before_pins == ()


def test_the_column_under_a_part_reaches_down_to_the_next_wall() -> None:
    """A stud wide about its middle, up to what hangs over that; empty where it lies on the wall."""
    floor, sill = (-500, -500, -10, 500, 500, 0), (50, -500, 0, 500, 500, 120)
    walls = np.array([floor, sill])
    board, front = (0, 0, 200, 16, 180, 330), (16, 60, 240, 40, 120, 300)
    solid = np.array([[board, front]])
    middle = np.array([[8.0, 90.0]])
    assert _foot(middle, solid, walls, -10).tolist() == [[8 - FOOT, 90 - FOOT, 0, 8 + FOOT, 90 + FOOT, 200]]
    ahead = np.array([[16.0 + FOOT, 90.0]])  # over the sill, and under what stands out alone
    assert _foot(ahead, solid, walls, -10)[0, [2, 5]].tolist() == [120, 240]
    lies = solid - np.array([0, 0, 200, 0, 0, 200])
    empty = _foot(middle, lies, walls, -10)[0]
    assert empty[2] == empty[5]
    assert _foot(middle, solid, walls[:0], -10)[0, [2, 5]].tolist() == [-10, 200]


CUBE = (0, 0, 0, 4, 4, 4)


@pytest.mark.parametrize("axis", range(3))
@pytest.mark.parametrize("kept", ["none", "mine", "theirs", "both"])
def test_room_that_is_kept_clear_may_be_shared_but_takes_no_part(axis: int, kept: str) -> None:
    """Cubes of 4 side by side, 2 of room before the one, the other, or both; bounds hold the room, too."""

    def at(low: int, high: int) -> Row:
        row = list(CUBE)
        row[axis], row[axis + 3] = low, high
        return tuple(row)

    room = {"room": [[at(4, 6)]]} if kept in ("mine", "both") else {}
    places = range(4, 9)
    theirs = {"room": [[at(n - 2, n)] for n in places]} if kept in ("theirs", "both") else {}
    fixed, moved = part("a", [[CUBE]], **room), part("b", [[at(n, n + 4)] for n in places], **theirs)
    clear = [n for n in places if n >= (4 if kept == "none" else 6)]
    found = search(moved, fixed)._pair(0, 1, 0, slice(None))
    assert [n for n, met in zip(places, found.overlap.tolist(), strict=True) if not met] == clear
    assert (found.before_pins, found.away) == ((), {})
    told = search(moved, fixed)
    told._at = {1: 0}
    assert [n for n, cost in zip(places, told._costs(0).tolist(), strict=True) if np.isfinite(cost)] == clear


def test_what_a_place_costs_is_added_up() -> None:
    """Its own cost, the nearest of pins and points of each net in mm, what lies before pins, and likes.

    A pin at x 0, 30, 60 tenths; the other's pin of net 0 at x 100, points of net 1 at 5 and at 9 mm.
    """
    mine = part(
        "a",
        [[(30 * n, 0, 0, 30 * n + 10, 10, 10)] for n in range(3)],
        cost=[1.0, 2.0, 4.0],
        pins={0: [[[30 * n, 0, 0]] for n in range(3)], 1: [[[30 * n, 0, 0]] for n in range(3)]},
    )
    other = part(
        "b", [[(100, 0, 0, 110, 10, 10)]], pins={0: [[[100, 0, 0]]]}, exits=[[(60, 0, 0, 80, 10, 10)]]
    )
    more = part("c", [[(0, 50, 0, 10, 60, 10)]], pins={0: [[[0, 50, 0]]]})
    nets = (WiredNet(()), WiredNet((), ((5.0, 0.0, 0.0), (9.0, 0.0, 0.0))))
    made = search(mine, other, more, nets=nets)
    assert made._costs(0).tolist() == pytest.approx([1 + 5, 2 + 2, 4 + 1])
    made._at = {0: 2, 1: 0}
    pins = [10.0 + 5, 7.0 + 2, 4.0 + 1]
    before = [0.0, 0.0, BEFORE_PINS / 2]
    expected = [own + net + one for own, net, one in zip((1, 2, 4), pins, before, strict=True)]
    assert made._costs(0).tolist() == pytest.approx(expected)
    made._at = {0: 2, 1: 0, 2: 0}
    # Of two others the one whose pin is nearer counts: 5 mm beside, and 3 or 6 ahead.
    near = [5.0 + 5, 7.0 + 2, 4.0 + 1]
    expected = [own + net + one for own, net, one in zip((1, 2, 4), near, before, strict=True)]
    assert made._costs(0).tolist() == pytest.approx(expected)
    for number in range(3):
        assert made._costs(0, slice(number, number + 1)).tolist() == pytest.approx(
            expected[number : number + 1]
        )
    # Seven places were judged above of which one by one three; the first time, three more twice.
    assert made.steps == STEPS_A_PLACE * (3 + 3 + 3 + 3)


@pytest.mark.parametrize(("need", "other"), [("a", "b"), ("b", "a"), ("b", "c"), ("a", "c")])
def test_likes_count_for_both_whom_they_name(need: str, other: str) -> None:
    """Three millimetres for each millimetre between the middles: b lies at 100 tenths, c at 200."""
    places = [[(30 * n, 0, 0, 30 * n + 10, 10, 10)] for n in range(3)]
    parts = [
        part("a", places),
        part("b", [[(100, 0, 0, 110, 10, 10)]]),
        part("c", [[(200, 0, 0, 210, 10, 10)]]),
    ]
    made = search(*parts, liked=(Liked(need, "near", other, None, 3.0), Liked(need, "near", "", "box", 9.0)))  # type: ignore[arg-type]
    made._at = {1: 0, 2: 0}
    there = {"a": {"b": 10.0, "c": 20.0}[other if need == "a" else need] if "a" in (need, other) else None}[
        "a"
    ]
    expected = [0.0] * 3 if there is None else [3 * (there - 3 * n) for n in range(3)]
    assert made._costs(0).tolist() == pytest.approx(expected)


def test_answers_are_kept_for_whole_parts_and_the_oldest_goes() -> None:
    places = [[(30 * n, 0, 0, 30 * n + 10, 10, 10)] for n in range(MOST_KEPT + 2)]
    made = search(part("a", places[:3]), part("b", places))
    some = made._beside(0, 1, 2, slice(2, 3))
    assert some.overlap.tolist() == [True]
    assert not made._known
    first = made._beside(0, 1, 0, slice(None))
    assert first.overlap.tolist() == [True, False, False]
    assert made._beside(0, 1, 0, slice(1, 3)).overlap.tolist() == [False, False]
    assert made._beside(0, 1, 0, slice(None)) is first
    for at in range(1, MOST_KEPT):
        made._beside(0, 1, at, slice(None))
    assert len(made._known) == MOST_KEPT
    assert made._beside(0, 1, 0, slice(0, 1)).overlap.tolist() == [True]
    made._beside(0, 1, MOST_KEPT, slice(None))
    # What was asked for last stays; the second is the oldest now.
    assert len(made._known) == MOST_KEPT
    assert (0, 1, 0) in made._known
    assert (0, 1, 1) not in made._known


def line(name: str, size: int, lows: list[int], **more: Any) -> Any:
    return part(name, [[(low, 0, 0, low + size, 10, 10)] for low in lows], **more)


def test_what_has_few_places_is_laid_first_then_the_largest() -> None:
    """The last has 41 places, the others fewer: of those the larger comes first."""
    laid: list[int] = []
    made = search(
        line("a", 30, list(range(0, 410, 10))), line("b", 10, [500, 600]), line("c", 20, [700, 800] * 20)
    )
    lay = made._lay
    made._lay = lambda number: laid.append(number) or lay(number)
    assert made._lay_down()
    assert laid == [2, 1, 0]


@pytest.mark.parametrize("seed", range(4))
def test_a_part_that_finds_no_place_is_laid_earlier_next_time(seed: int) -> None:
    """The larger takes the only place of the smaller unless that lies already."""
    made = search(
        line("large", 20, [0, 30]), line("small", 10, [0, 10]), line("other", 10, [30, 60]), seed=seed
    )
    found = made.find()
    assert found is not None
    assert sorted(found) == ["large", "other", "small"]
    rows = [made._parts[number].solid[at, 0].tolist() for number, at in made._at.items()]
    assert all(a[3] <= b[0] or b[3] <= a[0] for a, b in itertools.combinations(rows, 2))


def test_what_has_no_room_or_no_places_is_not_laid() -> None:
    assert search(line("a", 20, [0]), line("b", 10, [0, 10])).find() is None
    assert search(line("a", 20, [0]), line("b", 10, [])).find() is None
    alone = search(line("a", 20, [0, 1, 2], cost=[3.0, 1.0, 2.0])).find()
    assert alone is not None
    assert alone["a"].offset == (1, 0, 0)


def test_two_that_took_each_others_place_change_places() -> None:
    """Each alone stays where the other leaves it: only both taken up together lie best; first they do not."""
    nets = (WiredNet((), ((0.0, 0.0, 0.0),)), WiredNet((), ((10.0, 0.0, 0.0),)))
    pins = {n: [[[low, 0, 0]] for low in (0, 100)] for n in (0,)}
    # The larger is laid first and likes x 0 a little; the other likes it a lot.
    large = line("large", 21, [0, 100], cost=[0.0, 1.0])
    small = line("small", 20, [0, 100], pins=pins)
    first = search(large, small, nets=nets).find(better=False)
    best = search(large, small, nets=nets).find()
    assert first is not None
    assert best is not None
    assert [first[name].offset[0] for name in ("large", "small")] == [0, 1]
    assert [best[name].offset[0] for name in ("large", "small")] == [1, 0]


def test_of_two_alike_the_one_that_is_larger_from_side_to_side_is_laid_first() -> None:
    """Far from the corner of all a small part has the greater coordinates."""
    laid: list[int] = []
    made = search(line("small", 10, [900]), line("large", 20, [0]))
    lay = made._lay
    made._lay = lambda number: laid.append(number) or lay(number)
    assert made._lay_down()
    assert laid == [1, 0]


def test_each_part_is_laid_once_in_a_try() -> None:
    """The large one takes the place of the small one in every try in which it comes first."""
    for seed in range(8):
        made = search(line("large", 20, [0, 30]), line("small", 10, [0]), line("more", 10, [60]), seed=seed)
        laid: list[int] = []
        lay = made._lay

        def noted(number: int, laid: list[int] = laid, lay: Any = lay) -> bool:
            done: bool = lay(number)
            laid.append(number if done else -1)
            return done

        made._lay = noted
        assert made._lay_down()
        last = laid[len(laid) - laid[::-1].index(-1) :]
        assert sorted(last) == [0, 1, 2]


def test_what_saves_less_than_a_millionth_moves_nothing_and_what_saves_more_does() -> None:
    """A part that lies where it costs a little more than elsewhere, and one that lies best."""
    for saved, moves in ((0.01, True), (1e-7, False), (0.0, False)):
        made = search(line("a", 10, [0, 20], cost=[5.0, 5.0 - saved]))
        made._at = {0: 0}
        made._better()
        assert made._at == {0: int(moves)}


def test_the_whole_is_what_each_costs_beside_all_others() -> None:
    parts = [line(name, 10, [20 * n, 90], cost=[float(n + 1), 50.0]) for n, name in enumerate("abc")]
    made = search(*parts)
    made._at = dict.fromkeys(range(3), 0)
    assert made._total() == 6.0


def test_no_more_than_all_of_a_box_is_taken_and_empty_boxes_take_nothing() -> None:
    """Boxes told twice; a box without room before a pin; boxes that only touch."""
    whole = np.array([[CUBE]])
    told = {
        (CUBE, CUBE): 1.0,
        ((0, 0, 0, 2, 4, 4), (0, 0, 0, 2, 4, 4), (1, 0, 0, 3, 4, 4)): 1.0,
        ((0, 0, 0, 2, 4, 4), (4, 0, 0, 6, 4, 4), (0, 4, 4, 4, 8, 8), (-5, -5, -5, -1, -1, -1)): 0.5,
        ((3, 3, 3, 9, 9, 9),): 1 / 64,
    }
    for others, share in told.items():
        assert shares(whole, np.array(others)).tolist() == [share]
        assert shares(whole, np.array([others])).tolist() == [share]
        empty = np.array([[CUBE, (2, 2, 2, 2, 4, 4), (0, 0, 0, 0, 0, 0)]])
        assert shares(empty, np.array(others)).tolist() == [share]
    assert shares(np.array([[CUBE, CUBE]]), np.array([CUBE])).tolist() == [2.0]
    assert shares(np.array([[(0, 0, 0, 1, 1, 1)]]), np.array([CUBE])).tolist() == [1.0]
