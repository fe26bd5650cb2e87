"""Rules of packing by themselves: limits of searches, ways reserved, plates over gaps, room with its play."""

from __future__ import annotations

import itertools
from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from fitplan.model.part import Clearance, Mount
from fitplan.model.solids import Box
from fitplan.packing.access.disassembly import Disassembly
from fitplan.packing.vehicle import additions, rebuild, reserved_ways, wider_window
from fitplan.packing.vehicle.addition_shapes import Candidate
from fitplan.packing.vehicle.box_shortage import _enough, _Shortage
from fitplan.packing.vehicle.rebuild import _LeastRebuild
from fitplan.packing.vehicle.reserved_ways import reserved_way
from fitplan.packing.vehicle.room_for_parts import RoomForParts
from fitplan.packing.vehicle.seats import PLAY_TENTHS
from fitplan.packing.vehicle.stud_cells import BRICK, CLEAR, REMOVABLE

from .small_trains import block, hollow

# -- searches ------------------------------------------------------------------------------------------------


def least_rebuild(verdicts: Any, costs: dict[str, float], used_up: Any = lambda work: False) -> Any:
    """Return a search whose packer gives these verdicts by the bricks that are out, and what it was asked."""
    asked: list[Any] = []

    def packed(name: str, wanted: Any, names: frozenset[str]) -> Any:
        asked.append("".join(sorted(names)))
        verdict = verdicts("".join(sorted(names)))
        return SimpleNamespace(verdict=verdict, work=1, placements=())

    packer: Any = SimpleNamespace(
        vehicle=lambda name: "vehicle", without_places=packed, pack_as_it_is=packed,
    )  # fmt: skip
    budget: Any = SimpleNamespace(used_up=used_up, late=False)
    return _LeastRebuild(packer, "a", (), costs, budget), asked


def test_sets_of_bricks_are_tried_the_cheapest_first_and_no_more_than_so_many(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """A set that is part of one that is refuted is passed over, but counted; then the search is cut short."""
    costs = {"a": 1.0, "b": 2.0, "c": 4.0, "d": 8.0}
    for most in range(1, 18):
        monkeypatch.setattr(rebuild, "MOST_SETS", most)
        search, asked = least_rebuild(lambda names: "not decided", costs)
        assert search.cheapest() is None
        assert search.cut_short is (most < 16)
        order = sorted(
            ("".join(some) for n in range(5) for some in itertools.combinations("abcd", n)),
            key=lambda names: sum(costs[one] for one in names),
        )
        assert asked == order[:most]
        said = "the usual work was done before the least rebuild was found; " if most < 16 else ""
        assert search.why_not() == (
            f"{said}for {min(most, 16)} of the sets of bricks that were tried it was not decided"
        )
    monkeypatch.setattr(rebuild, "MOST_SETS", 99)
    search, asked = least_rebuild(lambda names: "cannot fit" if "d" not in names else "not decided", costs)
    assert search.cheapest() is None
    # Nothing without the dearest: refuted at once as far as it can be grown, and never asked about again.
    assert [names for names in asked if "d" not in names] == ["", "c", "bc", "abc"]
    assert search.why_not() == "for 8 of the sets of bricks that were tried it was not decided"


# -- additions -----------------------------------------------------------------------------------------------


def test_the_cheapest_that_stands_is_taken_whatever_it_takes(monkeypatch: pytest.MonkeyPatch) -> None:
    """None takes too many pieces where nothing else serves; what reaches far comes last."""
    Merit = tuple[bool, bool, bool, int]

    class One(Candidate):
        """A candidate that touches the part at a place of its own, by which it is told whether it serves."""

        def __init__(self, name: str, merit: Merit, serves: bool = True, stands: bool = True) -> None:
            pieces = (("plate", (0, 0, 0, 1, 1, 1)),) * merit[3]
            touch = (serves, not merit[1], stands, 1)
            super().__init__(name, pieces, (), 1, not merit[0], touch, bears=not merit[2])  # type: ignore[arg-type]

    monkeypatch.setattr(
        additions, "_standing_free", lambda v, r, p, ordered: (o for o in ordered if o.touch[2])
    )

    def reaching(ones: list[One]) -> Any:
        return lambda v, r, p, arms: [one for one in ones if one.touch in [touch for _, touch in arms[0][1]]]

    def cheapest(near: list[One], far: list[One]) -> str | None:
        arms = ((0, tuple(((0, 0, 1, 1), one.touch) for one in (*near, *far))),)
        monkeypatch.setattr(additions, "arms_under", lambda *_: arms)
        monkeypatch.setattr(additions, "candidates", reaching(near))
        monkeypatch.setattr(additions, "far_candidates", reaching(far))
        monkeypatch.setattr(additions, "replace", lambda one, **more: one)
        vehicle: Any = SimpleNamespace(studs_long=4, studs_wide=4)
        found: Any = additions._cheapest(
            vehicle,
            frozenset(),
            None,  # type: ignore[arg-type]
            lambda touch: bool(touch[0]),
            lambda touch: bool(touch[1]),
        )
        return found and found.kind

    worst = (True, True, True)
    assert cheapest([One("many", (*worst, 9))], []) == "many"
    assert cheapest([], [One("many", (*worst, 9))]) == "many"
    assert cheapest([One("nine", (*worst, 9)), One("two", (*worst, 2))], []) == "two"
    assert cheapest([One("two", (*worst, 2), stands=False), One("nine", (*worst, 9))], []) == "nine"
    assert cheapest([One("two", (*worst, 2), serves=False)], []) is None
    near = [One("near", (False, False, False, 3))]
    assert cheapest(near, [One("far", (False, False, False, 2))]) == "far"
    assert cheapest(near, [One("far", (False, False, True, 1))]) == "near"
    assert cheapest([One("near", (False, False, False, 1))], [One("far", (False, False, False, 0))]) == "near"


# -- ways that are kept open ---------------------------------------------------------------------------------


def test_what_is_kept_open_is_the_part_itself_or_the_room_of_its_access(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """The part's own way where it comes out with others, or has no such access; else nothing but its room."""
    monkeypatch.setattr(reserved_ways, "part_rows", lambda placement: "part")
    monkeypatch.setattr(reserved_ways, "access_room", lambda part, access: f"room of {access.name}")
    monkeypatch.setattr(reserved_ways, "rows_at", lambda place, room: room)
    monkeypatch.setattr(
        reserved_ways, "swept_rows", lambda rows, moves: np.array([[len(rows), moves, 0, 9, 9, 9]])
    )
    place: Any = SimpleNamespace(
        need="p", part=SimpleNamespace(access=[SimpleNamespace(name="plug"), SimpleNamespace(name="switch")]),
        place=SimpleNamespace(offset=(1.04, 2.0, -0.26), pose=SimpleNamespace(name="upright")),
    )  # fmt: skip

    def kept(*found: tuple[str, Any]) -> Any:
        entries: Any = [SimpleNamespace(access=access, last=last) for access, last in found]
        way = reserved_way(place, entries)
        assert (way.need, way.pose, way.offset) == ("p", "upright", (10, 20, -3))
        return [box[:2] for box in way.way]

    alone, others = SimpleNamespace(parts=(), moves=1), SimpleNamespace(parts=("q",), moves=2)
    room, part = len("room of plug"), len("part")
    assert kept(("plug", alone)) == [(room, 1)]
    assert kept(("plug", others)) == [(part, 2)]
    assert kept(("gone", alone)) == [(part, 1)]
    assert kept(("gone", others)) == [(part, 2)]
    assert kept(("plug", None)) == []
    assert kept(("plug", alone), ("switch", None), ("plug", alone), ("gone", alone)) == [(room, 1), (part, 1)]


def test_a_part_comes_off_others_by_two_moves_and_not_by_three() -> None:
    """Out of a shaft straight up, or up and aside where that is open; never through two bends."""

    def off(*open_cells: tuple[int, int]) -> Any:
        cells = [
            (x, y, z)
            for x, y, z in itertools.product(range(4), range(3), range(4))
            if y != 1 or (x, z) not in open_cells
        ]
        rest = np.array(
            [(10 * x, 10 * y, 10 * z, 10 * x + 10, 10 * y + 10, 10 * z + 10) for x, y, z in cells]
        )
        self: Any = SimpleNamespace(parts={"p": np.array([(10, 10, 10, 20, 20, 20)]), "rest": rest})
        return Disassembly._off(self, "p", {"rest"})

    start = (1, 1)
    assert [way for way, _ in off(start, (1, 2), (1, 3))] == ["+z"]
    assert [way for way, _ in off(start, (1, 2), (2, 2), (3, 2))] == ["+z", "+x"]
    assert off(start, (1, 2), (2, 2), (2, 3)) is None
    assert off(start) is None


# -- sizes and room ------------------------------------------------------------------------------------------


def test_what_would_be_enough_lacks_least_of_what_is_there() -> None:
    """Of the poses in which the part itself is as large: the one whose plugs find most room already."""
    plug = Clearance("plug", "plug", Box((10.0, 2.0, 0.0), (18.0, 6.0, 4.0)))
    part = replace(block("chip", (10.0, 10.0, 4.0), mount=Mount()), clearances=(plug,))
    entry: Any = SimpleNamespace(part=part)
    size = (10.0, 10.0, 4.0)
    for clear, enough in (
        ((18.5, 9.0, 4.0), (18.0, 10.0, 4.0)),
        ((9.0, 18.5, 4.0), (10.0, 18.0, 4.0)),
        ((30.0, 9.5, 4.0), (18.0, 10.0, 4.0)),
        # Of two that lack less than a millimetre the one that lacks less.
        ((17.8, 17.4, 4.0), (18.0, 10.0, 4.0)),
        ((17.4, 17.8, 4.0), (10.0, 18.0, 4.0)),
    ):
        assert _enough(entry, _Shortage("pose", size, clear)) == enough
    # In no pose is it of that size.
    assert _enough(entry, _Shortage("pose", (3.0, 3.0, 3.0), (1.0, 1.0, 1.0))) == (3.0, 3.0, 3.0)


def test_the_most_room_that_there_can_be_has_its_play_on_all_four_sides() -> None:
    """Bricks stand back by their play lengthwise and across; upwards they do not."""
    vehicle = hollow("v", 8, 6, 5)
    space = RoomForParts("v", vehicle, frozenset()).possible
    hull = vehicle.hull
    wanted = [
        (low * 10 - play, high * 10 + play)
        for low, high, play in zip(hull.low, hull.high, (PLAY_TENTHS, PLAY_TENTHS, 0), strict=True)
    ]
    assert [(space.hull[k], space.hull[k + 3]) for k in range(3)] == [
        (pytest.approx(low), pytest.approx(high)) for low, high in wanted
    ]
    kept = ((1, 2, 3, 4, 5, 6),)
    sure = RoomForParts("v", vehicle, frozenset(), kept).sure
    assert kept[0] in sure.obstacles
    assert kept[0] not in space.obstacles


def test_plates_lie_over_gaps_and_on_what_is_beside_them(monkeypatch: pytest.MonkeyPatch) -> None:
    """From what bears to the left to what bears to the right, one level up; a lid's own bricks need none."""
    kinds = np.full((2, 6, 4), CLEAR, np.uint8)
    kinds[:, :, 2:] = BRICK
    kinds[0, [0, 1, 2, 5], 1] = BRICK
    kinds[1, [1, 2], 1] = BRICK
    cells: Any = SimpleNamespace(
        kinds=kinds,
        box=lambda low, high: Box(tuple(map(float, low)), tuple(map(float, high))),  # type: ignore[arg-type]
    )
    vehicle: Any = SimpleNamespace(openings=[])
    gone = frozenset({(0, 1, 1), (0, 2, 1)})
    plates, one_sided = wider_window._plates(vehicle, cells, gone)
    # In the first row bricks bear at 0 and at 5: 3 and 4 were open before.
    assert [(box.low, box.high) for box in plates] == [((0.0, 0.0, 2.0), (1.0, 6.0, 3.0))]
    assert not one_sided
    plates, one_sided = wider_window._plates(vehicle, cells, frozenset({(1, 2, 1)}))
    assert [(box.low, box.high) for box in plates] == [((1.0, 1.0, 2.0), (2.0, 6.0, 3.0))]
    assert one_sided
    # Where what lies above is all of a lid that comes off, no plate is needed.
    lid = SimpleNamespace(out="+z", box=Box((0.0, 0.0, 2.0), (2.0, 6.0, 3.0)))
    aside = SimpleNamespace(out="+x", box=lid.box)
    for openings, count in (([lid], 0), ([aside], 1), ([], 1)):
        vehicle.openings = openings
        assert len(wider_window._plates(vehicle, cells, gone)[0]) == count
    lid.box = Box((0.0, 0.0, 2.0), (2.0, 6.0, 2.5))
    vehicle.openings = [lid]
    assert len(wider_window._plates(vehicle, cells, gone)[0]) == 1
    kinds[0, 1:3, 2] = REMOVABLE
    vehicle.openings = []
    assert len(wider_window._plates(vehicle, cells, gone)[0]) == 1
