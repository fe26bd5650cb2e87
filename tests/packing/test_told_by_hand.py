"""Small rules of searches and of windows by hand: work, what has no place, what meets, what is proposed."""

from __future__ import annotations

import itertools
from types import SimpleNamespace
from typing import Any

import pytest

from fitplan.budget import Budget
from fitplan.packing.engine.free_offsets import ItemKind
from fitplan.packing.engine.portfolio import CompleteTurns
from fitplan.packing.engine.problem import Item, PackingProblem, Shape, Space, Variant, anywhere, block
from fitplan.packing.engine.search_places import PlacesProblem
from fitplan.packing.engine.search_sides import SidesSearch
from fitplan.packing.engine.solve import solve
from fitplan.packing.vehicle import pressed, shortage, wider_window
from fitplan.packing.vehicle.shortage import _Shortening
from fitplan.packing.vehicle.window_places import _TOUCH, _shrunk


def test_work_is_counted_from_where_a_search_began() -> None:
    """A kernel counts on over all searches; of one that is not set up none is known."""
    kernel = SimpleNamespace(steps=170)
    for kind in (PlacesProblem, SidesSearch):
        search: Any = kind.__new__(kind)
        search.kernel, search._first_step = kernel, 150
        assert search.steps == 20
    made: list[Any] = []

    def make() -> Any:
        made.append(SimpleNamespace(nodes=7, steps=9, overrun=len(made) > 0, run=lambda steps: steps))
        return made[-1]

    turns = CompleteTurns(make, "name", "method")
    assert (turns.work, turns.steps, turns.overrun) == (0, 0, False)
    for _ in range(2):
        assert turns.turn() is not None
        assert (turns.work, turns.steps, turns.overrun, len(made)) == (7, 9, False, 1)

    def fails() -> Any:
        raise MemoryError

    turns = CompleteTurns(fails, "name", "method")
    assert turns.turn() is None
    assert (turns.work, turns.steps, turns.overrun) == (0, 0, True)


def test_nothing_is_searched_where_one_of_two_has_no_place() -> None:
    """Without proofs that is all that is told; with one it is a proof; alone the other one fits."""
    space = Space((0, 0, 0, 100, 80, 60))
    small, large = block("small", (30, 20, 10), space), block("large", (101, 20, 10), space)
    for items in ((small, large), (large, small), (large,)):
        problem = PackingProblem((space,), items)
        asked = solve(problem, proofs=False)
        assert (asked.status, asked.gap, asked.work) == ("not_decided", "a part has no place", 0)
        assert solve(problem).status == "cannot_fit"
    assert solve(PackingProblem((space,), (small,)), proofs=False).status == "fits"
    assert ItemKind(("none",), ()).least_volume == 0


@pytest.mark.parametrize("used", [False, True])
def test_a_shortened_part_is_tried_as_long_as_there_is_work_left(
    monkeypatch: pytest.MonkeyPatch, used: bool
) -> None:
    """Only poses that can be shortened so far; what was spent is counted together."""
    space = Space((0, 0, 0, 100, 80, 60))
    item, other = block("a", (30, 20, 10), space), block("b", (10, 10, 10), space)
    problem = PackingProblem((space,), (item, other))
    spent: list[int] = []
    asked: list[Any] = []
    budget: Any = SimpleNamespace(
        used_up=lambda work: (spent.append(work), used)[1], part=lambda share: "part"
    )

    def solved(cut: Any, one: Any, *, seed: int, proofs: bool) -> Any:
        asked.append((cut.items, one, seed, proofs))
        return SimpleNamespace(work=5, status="fits" if len(asked) == 1 else "not_decided")

    monkeypatch.setattr(shortage, "solve", solved)
    asking = _Shortening(problem, (item, other), budget, 3)
    assert asking.fits(item, 0, 12) is not used
    assert asking.fits(item, 0, 12) is False
    assert spent == ([0, 0] if used else [0, 5])
    assert len(asked) == (0 if used else 2)
    for items, one, seed, proofs in asked:
        assert (one, seed, proofs) == ("part", 3, False)
        assert items[1] is other
        # Poses that are 10 long along this axis cannot lose 12 and be anything at all.
        assert sorted({variant.shape.bounds[3] for variant in items[0].variants}) == [8, 18]
    before = len(spent)
    assert asking.fits(item, 0, 999) is False
    assert len(spent) == before


def test_bricks_give_way_by_their_play_but_never_to_nothing() -> None:
    """On either side, to the side alone; a box of one tenth stays as it is."""
    for wide in range(1, 2 * _TOUCH + 6):
        low, deep, _, high, back, top = _shrunk((100, 7, 3, 100 + wide, 47, 9))
        give = min(_TOUCH, (wide - 1) // 2)
        assert (low, high) == (100 + give, 100 + wide - give)
        assert high - low >= 1
        assert (deep, back, top) == (7 + _TOUCH, 47 - _TOUCH, 9)
        assert _shrunk((7, 100, 3, 47, 100 + wide, 9))[1::3] == (100 + give, 100 + wide - give)


def test_what_presses_meets_nothing_of_what_carries(monkeypatch: pytest.MonkeyPatch) -> None:
    """Piece by piece, with room kept over the one and pads under the other; touching is no meeting."""
    monkeypatch.setattr(pressed, "pad_of", lambda over, high: (("pad", (50, 50, high, 60, 60, high + 5)),))
    box = (0, 0, 0, 10, 10, 10)

    def meet(boxes: list[Any], others: list[Any], room: tuple[Any, ...] = (), high: int = 90) -> bool:
        below: Any = SimpleNamespace(pieces=[("b", one) for one in boxes], over=[("o", one) for one in room])
        over: Any = SimpleNamespace(pieces=[("s", one) for one in others])
        return pressed._meet(below, over, high)

    for axis in range(3):
        for by, meets in ((9, True), (10, False), (-9, True), (-10, False)):
            moved = tuple(value + by * (k % 3 == axis) for k, value in enumerate(box))
            assert meet([box], [moved]) is meets
            assert meet([(200,) * 3 + (210,) * 3, box], [(300,) * 3 + (310,) * 3, moved]) is meets
            assert meet([], [moved], room=(box,)) is meets
    assert meet([(52, 52, 90, 55, 55, 91)], [])
    assert not meet([(52, 52, 90, 55, 55, 91)], [], high=91)
    assert pressed._meet(None, SimpleNamespace(pieces=[("s", box)]), 0) is False  # type: ignore[arg-type]


@pytest.mark.parametrize("others", [(), ("beside",)])
@pytest.mark.parametrize("together", ["fits", "cannot fit"])
def test_a_wider_window_is_shown_with_the_other_parts_if_all_go_in(
    monkeypatch: pytest.MonkeyPatch, others: Any, together: str
) -> None:
    """Else with the part alone; it is moved to the middle beside those that are packed with it."""
    place = SimpleNamespace(need="p", place="place")
    alone: Any = SimpleNamespace(vehicle="v", placements=[place], verdict="fits")
    all_: Any = SimpleNamespace(vehicle="v", placements=[place], verdict=together)
    asked: list[Any] = []

    class Packed:
        def __init__(self, vehicles: Any) -> None:
            assert vehicles == {"v": "changed"}

        def pack_as_it_is(self, *given: Any) -> Any:
            asked.append(given)
            return all_

    def middle(changed: Any, wanted: Any, beside: Any, removed: Any, packing: Any) -> Any:
        asked.append((changed, beside, packing))
        return packing

    monkeypatch.setattr(wider_window, "Packer", Packed)
    monkeypatch.setattr(wider_window, "_in_the_middle", middle)
    monkeypatch.setattr(wider_window, "_plates", lambda *_: ((), False))
    monkeypatch.setattr(wider_window, "WiderWindow", lambda **told: told)
    monkeypatch.setattr(wider_window, "_outline", lambda *_: "outline")
    monkeypatch.setattr(wider_window, "left_hanging", lambda *_: SimpleNamespace(text="held"))
    monkeypatch.setattr(
        wider_window, "hidden_share", lambda body, removed, *_: 0.25 if removed else 0.123456 if body else 0.5
    )
    wanted: Any = SimpleNamespace(need=SimpleNamespace(name="p"), part=SimpleNamespace(id="eye"))
    cut: Any = SimpleNamespace(cells=((0, 0, 0), (1, 0, 0)), bricks=3)
    window: Any = SimpleNamespace(name="w")
    kinds = {(0, 0, 0): wider_window.BRICK, (1, 0, 0): wider_window.BRICK + 1}
    cells: Any = SimpleNamespace(kinds=kinds, boxes=sorted)
    told: Any = wider_window._proposal(
        "vehicle",
        cells,
        window,
        wanted,
        cut,
        "changed",
        frozenset({"lid"}),
        alone,
        others,
        2,  # type: ignore[arg-type]
    )
    packed_all = bool(others) and together == "fits"
    assert asked[-1] == ("changed", others if packed_all else (), all_ if packed_all else alone)
    assert asked[:-1] == ([("v", (wanted, *others), frozenset({"lid"}))] if others else [])
    assert told == {
        "need": "p", "part_id": "eye", "vehicle": "v", "window": "w", "outline": "outline",
        "out": [(0, 0, 0)], "remove": ("lid",), "size": 3, "least": 2, "plates": (),
        "rests_on_one_side": False, "carried": "held", "place": "place",
        "alone": bool(others) and together != "fits", "hidden_before": 0.1235, "hidden_after": 0.25,
    }  # fmt: skip


def test_an_item_goes_anywhere_in_a_hull_that_holds_it() -> None:
    """From its lowest to its highest offset on each axis; nowhere where one axis is a tenth too short."""
    hull = (5, 6, 7, 45, 36, 27)
    for size in itertools.product((40, 41), (30, 31), (20, 21)):
        shape = Shape(((1, 2, 3, 1 + size[0], 2 + size[1], 3 + size[2]),))
        found = anywhere(shape, hull)
        assert found == (((4, 4, 4, 4, 4, 4),) if size == (40, 30, 20) else ())
    assert anywhere(Shape(((0, 0, 0, 10, 10, 10),)), hull) == ((5, 6, 7, 35, 26, 17),)
    item = Item("a", (Variant("up", Shape(((0, 0, 0, 10, 10, 10),)), ((5, 6, 7, 35, 26, 17),), 0),))
    assert solve(PackingProblem((Space(hull),), (item,)), Budget.usual()).status == "fits"
