"""In which order loose places are looked for, what is cut off where it is demanded, and what is told."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

import fitplan.packing.vehicle.pack as pack
import fitplan.packing.vehicle.shortage as shortage
from fitplan.budget import Budget
from fitplan.model.needed import FixedPlace, Need
from fitplan.model.part import Clearance
from fitplan.model.solids import Box
from fitplan.packing.engine.problem import Item, PackingProblem, Shape, Space, Variant
from fitplan.packing.vehicle.lowering import LoweredPart, lower_parts
from fitplan.packing.vehicle.pack import Packer
from fitplan.packing.vehicle.part_places import _empty, _on_something, _rise, _rows
from fitplan.packing.vehicle.seats import Wanted
from fitplan.packing.vehicle.shortage import packing_failure
from fitplan.packing.vehicle.wishes import Wishes

from .small_trains import block, hollow

PART = block("p", (6.0, 6.0, 6.0))
PLUG = replace(PART, clearances=(Clearance("plug", "plug", Box((6, 0, 0), (12, 6, 6)), "access"),))
A, B = (Wanted(Need(name, (part,)), part) for name, part in (("a", PLUG), ("b", PART)))
UNIT = Shape(((0, 0, 0, 10, 10, 10),))
SPACE = Space((0, 0, 0, 100, 100, 100))


def loosely(
    monkeypatch: pytest.MonkeyPatch,
    wanted: tuple[Wanted, ...],
    come_out: str,
    insist: bool,
    found_at: int = 99,
    wrong: tuple[int, ...] = (),
    shut: tuple[int, ...] = (),
) -> tuple[list[str], Any]:
    """What was looked for, in turn; in which turn places are found, are wrong, or a part has no variant."""
    asked: list[str] = []

    def item_of(
        entry: Wanted, seats: Any, vehicle: Any, rounding: str, access: bool, every_pose: bool
    ) -> Any:
        assert (rounding, every_pose) == ("outward", True)
        gone = entry.need.name == "b" and len(asked) in shut
        return SimpleNamespace(name=entry.need.name, access=access, variants=() if gone else (1,))

    def problem(spaces: Any, items: Any) -> Any:
        assert [item.name for item in items] == sorted(item.name for item in items)
        asked.append("access" if items[0].access else "plain")
        return SimpleNamespace(items=items)

    def shafts(vehicle: Any, removed: Any, asked_of: Any, ordered: Any, out: Any) -> Any:
        assert out == frozenset(come_out)
        asked[-1] += " shafts"
        return asked_of

    def search(ordered: Any, asked_of: Any, vehicle: Any, wishes: Any, seed: int, known: Any) -> Any:
        turn = len(asked) - 1
        asked[-1] += " searched"
        return SimpleNamespace(find=lambda: {"turn": turn} if turn >= found_at else None, steps=turn + 10)

    monkeypatch.setattr(pack, "item_of", item_of)
    monkeypatch.setattr(pack, "PackingProblem", problem)
    monkeypatch.setattr(pack, "with_shafts", shafts)
    monkeypatch.setattr(pack, "RoomySearch", search)
    monkeypatch.setattr(pack, "check_placement", lambda asked_of, places: places["turn"] in wrong)
    monkeypatch.setattr(
        pack, "laid_places", lambda cavity, ordered, asked_of, places: (f"of turn {places['turn']}",)
    )
    monkeypatch.setattr(Packer, "_as_demanded", lambda own, cavity, asked_of, ordered: asked_of)
    packer = Packer({"v": hollow("v", 6, 6, 6)})
    found = packer.pack_roomily(
        "v", wanted, frozenset(), Wishes(()), come_out=frozenset(come_out), insist=insist
    )
    return asked, found


def test_first_with_room_for_plugs_and_ways_out_then_without(monkeypatch: pytest.MonkeyPatch) -> None:
    every = ["access shafts searched", "plain shafts searched", "access searched", "plain searched"]
    assert loosely(monkeypatch, (B, A), "a", False) == (every, None)
    assert loosely(monkeypatch, (A, B), "a", True) == (every[:2], None)
    assert loosely(monkeypatch, (A, B), "", True) == (every[2:], None)
    assert loosely(monkeypatch, (A, B), "", False) == (every[2:], None)
    assert loosely(monkeypatch, (B,), "b", False) == ([every[1], every[3]], None)
    assert loosely(monkeypatch, (B,), "", False) == ([every[3]], None)


def test_the_first_places_that_are_right_are_the_answer(monkeypatch: pytest.MonkeyPatch) -> None:
    for turn in range(4):
        asked, found = loosely(monkeypatch, (A, B), "a", False, turn)
        assert (len(asked), found.verdict, found.vehicle) == (turn + 1, "fits", "v")
        assert (found.placements, found.work) == ((f"of turn {turn}",), turn + 10)
    # What the check of places finds wrong is none, and the next are looked for.
    asked, found = loosely(monkeypatch, (A, B), "a", False, 1, wrong=(1, 2))
    assert (len(asked), found.placements) == (4, ("of turn 3",))
    # Nothing is searched where one part of two has no place at all.
    asked, found = loosely(monkeypatch, (A, B), "a", False, 0, shut=(0,))
    assert asked == ["access shafts", "plain shafts searched"]
    assert found.placements == ("of turn 1",)


def test_what_is_demanded_is_cut_off_of_those_parts_in_that_vehicle_alone(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    def in_by(cavity: Any, variant: Variant) -> Variant:
        return replace(variant, domain=() if variant.key == "shut" else ((1, 1, 1, 2, 2, 2),))

    monkeypatch.setattr(pack, "with_a_way_in", in_by)
    monkeypatch.setattr(
        pack, "with_a_footing", lambda cavity, problem, item, part: replace(item, name=f"{item.name} stands")
    )
    plain = tuple(Variant(key, UNIT, ((0, 0, 0, 9, 9, 9),)) for key in ("open", "shut"))
    problem = PackingProblem((SPACE,), tuple(Item(name, plain) for name in "ab"))
    packer = Packer({"v": hollow("v", 6, 6, 6), "w": hollow("w", 6, 6, 6)})
    assert packer._as_demanded(packer.cavity("v"), problem, (A, B)) == problem
    packer.demand_way_in("v", "b")
    packer.demand_footing("v", "a")
    packer.demand_way_in("w", "a")
    packer.demand_footing("w", "b")
    cut = (replace(plain[0], domain=((1, 1, 1, 2, 2, 2),)),)
    for name, items in (
        ("v", (Item("a stands", plain), Item("b", cut))),
        ("w", (Item("a", cut), Item("b stands", plain))),
    ):
        assert packer._as_demanded(packer.cavity(name), problem, (A, B)).items == items


def test_what_has_no_seat_is_not_held(monkeypatch: pytest.MonkeyPatch) -> None:
    packer = Packer({"v": hollow("v", 6, 6, 6)})
    assert packer.holds("v", (A, B))
    elsewhere = replace(B, need=replace(B.need, name="c", vehicles=("w",)))
    assert not packer.holds("v", (A, elsewhere))
    assert not packer.holds("v", (elsewhere,))
    monkeypatch.setattr(
        pack, "pinned_shortage", lambda problem, name, entry: (len(problem.items), name, entry.need.pinned)
    )
    fixed = FixedPlace("v", "+x+y+z", (0.0, 0.0, 0.0))
    assert packer.box_shortage("v", replace(A, need=replace(A.need, pinned=fixed))) == (1, "v", fixed)
    assert packer.box_shortage("v", A) == (0.0, "", "", "")
    assert packer.box_shortage("v", A) == (0.0, "", "", "")


def failure(
    monkeypatch: pytest.MonkeyPatch,
    items: str,
    *,
    smallest: bool = True,
    misses: Any = (),
    bricks: bool = False,
    cut: Any = None,
) -> tuple[str, float, str]:
    subset = SimpleNamespace(
        items=tuple(items), text="It is open.", smallest=smallest, misses=misses, work=40
    )

    def found(problem: Any, answer: Any, budget: Budget, *, seed: int) -> Any:
        assert (problem, answer, budget.steps, seed) == ("problem", "answer", 50, 3)
        return subset

    def least(problem: Any, names: Any, budget: Budget, seed: int) -> Any:
        assert (problem, names, budget.steps, seed) == ("problem", tuple(items), 60, 3)
        return cut

    monkeypatch.setattr(shortage, "infeasible_subset", found)
    monkeypatch.setattr(shortage, "_least_cut", least)
    asked: Any = ("problem", "answer")
    told = packing_failure(*asked, "v", bricks, Budget(100), seed=3)
    return (told.text, told.missing_mm, told.axis)


def test_what_has_no_room_together_is_told_with_what_is_short(monkeypatch: pytest.MonkeyPatch) -> None:
    assert failure(monkeypatch, "") == ("It is open", 0.0, "")
    short = (SimpleNamespace(axis="y", missing=23), SimpleNamespace(axis="x", missing=40))
    assert failure(monkeypatch, "a", misses=short) == (
        "2.3 mm of width are missing for a in v, its room for leads and plugs counted", 2.3, "width",
    )  # fmt: skip
    text, *rest = failure(monkeypatch, "a", bricks=True)
    assert text.startswith("a has no place in v, even with every removable brick out: it is short of room")
    assert rest == [0.0, ""]
    words = {
        "ab": "each of them alone does",
        "abc": "any two of them do",
        "abcd": "without any one of them the others do",
    }
    for names, rest_of_it in words.items():
        together = f"{' + '.join(names)} do not go in together in v"
        assert failure(monkeypatch, names) == (f"{together}; {rest_of_it}", 0.0, "")
        assert failure(monkeypatch, names, smallest=False) == (together, 0.0, "")
        for axis, edge, less in ((0, "length", "shorter"), (1, "width", "narrower"), (2, "height", "lower")):
            assert failure(monkeypatch, names, smallest=False, cut=(35, axis, "b")) == (
                f"{together}; 3.5 mm of {edge} are missing: with b so much {less} they would", 3.5, edge,
            )  # fmt: skip


# What is under a part.

FLOOR = [(-500, -500, -10, 500, 500, 0)]
LEFT = (0, 0, 50, 40, 40, 80)


def shelf_under(right: int, *others: LoweredPart, more: Any = ()) -> Any:
    part = LoweredPart("eye", (LEFT, (100, 0, right, 140, 40, 90), *more), (), 0, needs_support=True)
    return lower_parts([part, *others], FLOOR, frozenset({"eye", *(other.name for other in others)}))[0]


def test_a_shelf_bears_all_that_is_about_as_low_where_nothing_is_in_the_way() -> None:
    """Five millimetres above the floor: as wide as both feet, or as the one that is lowest."""
    assert shelf_under(50).shelf == (0, 0, 0, 140, 40, 50)
    assert shelf_under(60).shelf == (0, 0, 0, 140, 40, 50)
    assert shelf_under(61).shelf == (0, 0, 0, 40, 40, 50)
    beside = (0, 30, 55, 40, 70, 90)
    assert shelf_under(70, more=(beside,)).shelf == (0, 0, 0, 40, 70, 50)
    low = LoweredPart("low", ((60, 0, 0, 80, 40, 15),), (), 0, needs_support=False)
    assert shelf_under(50, low).shelf == (0, 0, 0, 40, 40, 50)
    flat = replace(low, boxes=((60, 40, 0, 80, 80, 15),))
    assert shelf_under(50, flat).shelf == (0, 0, 0, 140, 40, 50)
    keeps = replace(flat, clearances=((60, 20, 0, 80, 40, 5),))
    assert shelf_under(50, keeps).shelf == (0, 0, 0, 40, 40, 50)
    # The room for a plug beside the left foot's column takes that one; the right one is left.
    taken = replace(flat, clearances=((30, 20, 5, 80, 40, 9),))
    assert shelf_under(50, taken).shelf == (100, 0, 0, 140, 40, 50)
    both = replace(flat, clearances=((30, 20, 5, 80, 40, 9), (100, 0, 5, 110, 10, 9)))
    assert shelf_under(50, both).shelf != (100, 0, 0, 140, 40, 50)


@pytest.mark.parametrize("axis", [0, 1])
@pytest.mark.parametrize("mirrored", [False, True])
def test_what_stands_under_a_part_reaches_to_both_sides_of_its_middle(axis: int, mirrored: bool) -> None:
    def carried(*walls: tuple[int, int, int]) -> bool:
        """Walls by their ends along one axis and their tops, under a part from 0 to 100 at height 10."""
        rows = []
        for low, high, top in walls:
            a, b = (100 - high, 100 - low) if mirrored else (low, high)
            rows.append((a, 0, 0, b, 60, top) if axis == 0 else (0, a, 0, 60, b, top))
        outline = (0, 0, 10, 100, 60, 40) if axis == 0 else (0, 0, 10, 60, 100, 40)
        return bool(_on_something(np.array([outline]), np.array(rows, dtype=np.int64).reshape(-1, 6))[0])

    assert carried((0, 50, 10))
    assert not carried((0, 49, 10))
    assert [carried((0, 60, top)) for top in (8, 9, 10, 11, 12)] == [False, True, True, True, False]
    assert carried((-50, 20, 10), (80, 90, 9))
    assert not carried((0, 20, 10), (30, 40, 10))
    assert not carried((-10, 0, 10), (80, 100, 10))
    assert not carried()


def test_boxes_without_room_and_how_much_higher_a_part_lies() -> None:
    flat = np.array([[(0, 0, 0, 1, 1, 1), (0, 0, 0, 0, 9, 9), (0, 0, 5, 9, 9, 5), (0, 3, 0, 9, 2, 9)]])
    assert _empty(flat).tolist() == [[False, True, True, True]]
    assert _rise(np.array([(0, 0, 10.0, 5, 5, 20), (0, 0, 2, 5, 5, 22), (0, 0, 30, 5, 5, 40)])).tolist() == [
        3,
        0,
        23,
    ]
    assert _rise(np.zeros((0, 6))).tolist() == []
    assert _rows([]).shape == (0, 6)
    assert _rows([(1, 2, 3, 4, 5, 6)]).tolist() == [[1, 2, 3, 4, 5, 6]]
