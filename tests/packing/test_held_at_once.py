"""Parts asked into a vehicle one after the other: each beside those that lie, all anew where that fails."""

from __future__ import annotations

import itertools
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import fitplan.packing.vehicle.held_at_once as held_at_once
from fitplan.budget import Budget
from fitplan.model.needed import Need
from fitplan.model.part import Clearance
from fitplan.model.solids import Box
from fitplan.packing.engine.insertion import one_more
from fitplan.packing.engine.placement_check import check_placement
from fitplan.packing.engine.problem import (
    Item,
    ItemClearance,
    PackingProblem,
    Placed,
    Shape,
    Space,
    Variant,
    anywhere,
)
from fitplan.packing.vehicle.pack import Packer
from fitplan.packing.vehicle.packing import Packing
from fitplan.packing.vehicle.seats import Wanted
from fitplan.planning.choice import choose
from fitplan.planning.choice_search import Search
from tests.packing.small_trains import block, hollow, train_of

SIDE = 5
SIZES = st.tuples(*[st.integers(1, 4)] * 3)


@settings(max_examples=20)
@given(st.lists(SIZES, min_size=2, max_size=4), st.lists(SIZES, min_size=1, max_size=2), st.integers(0, 2))
def test_one_more_has_a_place_just_where_some_offset_is_free(
    laid: list[tuple[int, int, int]], turned: list[tuple[int, int, int]], room: int
) -> None:
    """Every whole offset of every variant is looked at in turn, by the checker of placements."""
    hull = (0, 0, 0, SIDE, SIDE, SIDE)
    space = Space(hull, ((0, 0, 0, 2, 1, 2),))
    items, places = [], {}
    for number, size in enumerate(laid):
        shape = Shape(((0, 0, 0, *size),))
        items.append(Item(f"item {number}", (Variant("as it is", shape, anywhere(shape, hull)),)))
        problem = PackingProblem((space,), tuple(items))
        found = one_more(problem, places, items[-1].name)
        if found is not None:
            places[items[-1].name] = found
    variants = []
    for size in turned:
        kept = (ItemClearance((0, 0, size[2], *size[:2], size[2] + room), False),) if room else ()
        shape = Shape(((0, 0, 0, *size),), kept)
        variants.append(Variant(str(size), shape, anywhere(shape, hull)))
    problem = PackingProblem((space,), (*items, Item("new", tuple(variants))))

    def faultless(placed: Placed) -> bool:
        return not check_placement(problem, {**places, "new": placed}, partial=True)

    free = [
        Placed(number, offset)
        for number in range(len(variants))
        for offset in itertools.product(range(SIDE), repeat=3)
        if faultless(Placed(number, offset))
    ]
    found = one_more(problem, places, "new")
    assert (found is not None) == bool(free)
    if found is not None:
        assert faultless(found)
        assert found.variant == min(place.variant for place in free)


def _wanted(count: int) -> tuple[Wanted, ...]:
    parts = [block(f"part-{number}", (22.0 - number % 3, 12.0, 9.0)) for number in range(count)]
    return tuple(Wanted(Need(part.id, (part,)), part) for part in parts)


def test_seventeen_parts_are_asked_for_one_by_one(monkeypatch: pytest.MonkeyPatch) -> None:
    """They go in; all are laid anew at the first part alone, and what is known already is not asked again."""
    asked: list[int] = []
    plain = held_at_once.solve

    def solve(problem: PackingProblem, *args: object, **options: object) -> object:
        asked.append(len(problem.items))
        return plain(problem, *args, **options)  # type: ignore[arg-type]

    monkeypatch.setattr(held_at_once, "solve", solve)
    packer = Packer({"wagon": hollow("wagon", 24, 8, 12)})
    parts = _wanted(17)
    assert all(packer.holds("wagon", parts[: number + 1]) for number in range(17))
    assert packer.holds("wagon", parts[3:9])
    assert asked == [1]


def test_what_was_not_found_is_not_looked_for_again(monkeypatch: pytest.MonkeyPatch) -> None:
    """Two parts that go in alone and not together; a third beside them is no better."""
    packer = Packer({"wagon": hollow("wagon", 5, 4, 4)})
    parts = _wanted(3)
    assert packer.holds("wagon", parts[:1])
    assert not packer.holds("wagon", parts[:2])
    monkeypatch.setattr(held_at_once, "solve", None)
    assert not packer.holds("wagon", parts[:2])
    assert not packer.holds("wagon", parts)


def test_loosely_where_the_corners_find_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    """With a search at corners that gives up, loose places are found, and kept clear of what parts keep."""
    packer = Packer({"wagon": hollow("wagon", 24, 8, 12)})
    parts = list(_wanted(9))
    plug = Clearance("plug", "plug", Box((22.0, 0.0, 0.0), (30.0, 12.0, 9.0)), "always")
    parts[0] = Wanted(parts[0].need, replace(parts[0].part, clearances=(plug,)))
    plain = held_at_once.solve

    def solve(problem: PackingProblem, *args: object, **options: object) -> object:
        answer = plain(problem, *args, **options)  # type: ignore[arg-type]
        return replace(answer, status="not_decided", placements={}, best=dict(answer.placements))

    monkeypatch.setattr(held_at_once, "solve", solve)
    assert packer.holds("wagon", parts)


def test_a_brick_comes_out_for_a_part_before_it_is_left_out(monkeypatch: pytest.MonkeyPatch) -> None:
    """Only the long part needs the brick's room; the first whole choice has all, though work is over."""
    brick = Box((8.0, 8.0, 19.2), (40.0, 40.0, 41.6))
    wagon = hollow("wagon", 12, 6, 7, removable=(("brick", brick, 1.0),))
    parts = [block("long", (75.0, 12.0, 9.0)), block("short", (20.0, 12.0, 9.0)), block("tail", (8, 8, 8))]
    train = train_of((wagon,), tuple(Need(part.id, (part,), vehicles=("wagon",)) for part in parts))
    packer = Packer({"wagon": wagon})

    def pack(vehicle: str, wanted: tuple[Wanted, ...]) -> Packing:
        return packer.pack_as_it_is(vehicle, wanted, frozenset({"brick"}))

    def holds(vehicle: str, wanted: tuple[Wanted, ...], opened: bool) -> bool:
        return packer.holds(vehicle, wanted, frozenset({"brick"} if opened else ()))

    monkeypatch.setattr(Search, "_insist", lambda self, picks, allowed: None)
    made = choose(train, pack, lambda parts: "", holds=holds, budget=Budget(1))
    assert not made.best.left_out
    assert {place.need for place in made.best.placements} == {need.name for need in train.needs}
