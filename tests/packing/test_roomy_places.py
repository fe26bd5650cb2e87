"""Loose places: legal, close to what they are joined to, out of what is to stay clear."""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import combinations
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fitplan.model.electrical import Ranger
from fitplan.model.needed import FixedPlace, Need
from fitplan.model.part import Access, Mount, Part
from fitplan.model.solids import Box, Direction, Place, bounds_of
from fitplan.model.vehicle import BuiltIn, Face, Opening, Window
from fitplan.packing.engine.problem import Answer, PackingProblem
from fitplan.packing.engine.solve import solve
from fitplan.packing.vehicle.pack import Packer
from fitplan.packing.vehicle.packing import Packing
from fitplan.packing.vehicle.seats import Wanted
from fitplan.packing.vehicle.wishes import KeepClear, WiredNet, WiredPin, Wishes
from tests.packing.small_trains import block, hollow

ROOM = Box((8.0, 8.0, 19.2), (88.0, 40.0, 51.2))
"""Inside `hollow("wagon", 12, 6, 10)`: 80 × 32 × 32 mm."""


def _wanted(*sizes: tuple[float, float, float]) -> tuple[Wanted, ...]:
    parts = [block(f"part-{number}", size) for number, size in enumerate(sizes)]
    return tuple(Wanted(Need(part.id, (part,)), part) for part in parts)


def _packed(wanted: tuple[Wanted, ...], wishes: Wishes) -> Packing | None:
    packer = Packer({"wagon": hollow("wagon", 12, 6, 10)})
    return packer.pack_roomily("wagon", wanted, frozenset(), wishes)


def _boxes(packing: Packing) -> dict[str, Box]:
    """Return where each part lies, worked out from the model alone."""
    return {
        place.need: bounds_of(tuple(place.place.move_solid(solid) for solid in place.part.envelope))
        for place in packing.placements
    }


def _overlap(one: Box, other: Box) -> bool:
    return all(one.low[i] < other.high[i] - 1e-6 and other.low[i] < one.high[i] - 1e-6 for i in range(3))


def _one(part: Part, *openings: Opening) -> Place:
    """Return the place of a part that is alone in the room, with these openings beside the roof."""
    body = hollow("wagon", 12, 6, 10)
    packer = Packer({"wagon": replace(body, openings=(*body.openings, *openings))})
    wanted = (Wanted(Need(part.id, (part,)), part),)
    found = packer.pack_roomily("wagon", wanted, frozenset(), Wishes(()))
    assert found is not None
    return found.placements[0].place


SIZE = st.tuples(st.integers(4, 40), st.integers(4, 30), st.integers(3, 30))


@settings(max_examples=25, deadline=None)
@given(st.lists(SIZE, min_size=1, max_size=5))
def test_places_are_legal(sizes: list[tuple[int, int, int]]) -> None:
    """Whatever comes out lies inside the room, and no two parts overlap."""
    found = _packed(_wanted(*((float(x), float(y), float(z)) for x, y, z in sizes)), Wishes(()))
    if found is None:
        return
    boxes = _boxes(found)
    assert len(boxes) == len(sizes)
    for box in boxes.values():
        assert all(box.low[i] >= ROOM.low[i] - 1e-6 and box.high[i] <= ROOM.high[i] + 1e-6 for i in range(3))
    assert not any(_overlap(one, other) for one, other in combinations(boxes.values(), 2))


def test_what_does_not_go_in_has_no_places() -> None:
    """A part longer than the room's diagonal gets none."""
    assert _packed(_wanted((100.0, 10.0, 10.0)), Wishes(())) is None


def test_a_lane_stays_clear() -> None:
    """Where there is room beside it no part lies in what is to stay clear, on either side."""
    for y0, y1 in ((8.0, 16.0), (32.0, 40.0)):
        lane = Box((8.0, y0, 19.2), (88.0, y1, 51.2))
        found = _packed(
            _wanted((30.0, 20.0, 10.0), (30.0, 20.0, 10.0)), Wishes((), (KeepClear(lane, 240.0),))
        )
        assert found is not None
        assert not any(_overlap(box, lane) for box in _boxes(found).values())


@pytest.mark.parametrize("height", [3.2, 9.0])
def test_what_is_kept_for_wires_is_left_by_all(height: float) -> None:
    """A long bar lies over what is kept on the floor, and is not let down into it."""
    kept = Box((8.0, 8.0, 19.2), (88.0, 40.0, 19.2 + height))
    bar = _wanted((70.0, 20.0, 10.0))
    for boxes, low in (((), 19.2), ((kept,), 19.2 + height)):
        found = _packed(bar, Wishes((), kept=boxes))
        assert found is not None
        (place,) = found.placements
        assert _boxes(found)["part-0"].low[2] == pytest.approx(low, abs=0.11)
        assert (place.carried_by == "the body") == (not boxes)


def test_where_all_is_kept_there_are_no_places() -> None:
    """What leaves no room is said at once; nothing else is asked for instead."""
    assert _packed(_wanted((70.0, 20.0, 10.0)), Wishes((), kept=(ROOM,))) is None


def test_what_is_joined_lies_together() -> None:
    """Of two parts each lies by what it is wired to: one at the front, the other at the rear end."""
    wanted = _wanted((10.0, 10.0, 6.0), (10.0, 10.0, 6.0))
    ends = {"part-0": (8.0, 24.0, 25.0), "part-1": (88.0, 24.0, 25.0)}
    nets = tuple(WiredNet((WiredPin(need, (1.0, 5.0, 6.0), "+z"),), (point,)) for need, point in ends.items())
    found = _packed(wanted, Wishes(nets))
    assert found is not None
    boxes = _boxes(found)
    assert boxes["part-0"].high[0] < 30.0
    assert boxes["part-1"].low[0] > 66.0


def test_of_equal_places_a_part_lies_along_the_vehicle() -> None:
    """A bar that nothing pulls anywhere lies along the body, its upper side up, however it is drawn."""
    for size in ((30.0, 10.0, 6.0), (10.0, 30.0, 6.0)):
        box = bounds_of((_one(block("bar", size)).move_solid(Box((0.0, 0.0, 0.0), size)),))
        assert [round(edge, 6) for edge in box.size] == [30.0, 10.0, 6.0]


def test_of_equal_places_what_is_reached_lies_near_its_lid() -> None:
    """A switch that is reached through a small hatch lies under the hatch, wherever that is."""
    for x0 in (12.0, 60.0):
        hatch = Opening("hatch", Box((x0, 40.0, 22.0), (x0 + 20.0, 48.0, 46.0)), "+y")
        for often in (True, False):
            access = (Access("lever", "switch", "+y", often),)
            switch = replace(block("switch", (12.0, 8.0, 8.0), mount=Mount(turnable=False)), access=access)
            box = bounds_of((_one(switch, hatch).move_solid(Box((0.0, 0.0, 0.0), (12.0, 8.0, 8.0))),))
            assert x0 <= box.center[0] <= x0 + 20.0
            assert box.high[1] == 40.0


def test_of_equal_places_a_plug_looks_to_the_lid() -> None:
    """Its socket is reached through a side panel: the board turns that side to the panel, left or right."""
    board = block("board", (24.0, 12.0, 4.0), mount=Mount(upright=True))
    board = replace(board, access=(Access("socket", "socket", "+x", True),))
    panels: tuple[tuple[Direction, float], ...] = (("+y", 40.0), ("-y", 0.0))
    for side, y0 in panels:
        panel = Opening("panel", Box((8.0, y0, 19.2), (88.0, y0 + 8.0, 51.2)), side)
        assert _one(board, panel).pose.turn_direction("+x") == side


def test_of_equal_places_a_part_lies_next_to_what_it_is_wired_to() -> None:
    """Three parts alike, one fixed at an end: the one that is wired to it lies nearer than the other."""
    wanted = _wanted((10.0, 10.0, 6.0), (10.0, 10.0, 6.0), (10.0, 10.0, 6.0))
    anchor = replace(wanted[0].need, pinned=FixedPlace("wagon", "+x+y+z", (78.0, 20.0, 19.2)))
    fixed = (Wanted(anchor, wanted[0].part), *wanted[1:])
    for near, far in (("part-1", "part-2"), ("part-2", "part-1")):
        net = WiredNet(tuple(WiredPin(need, (1.0, 5.0, 6.0), "+z") for need in ("part-0", near)))
        found = _packed(fixed, Wishes((net,)))
        assert found is not None
        boxes = _boxes(found)
        away = {need: abs(boxes[need].center[0] - 83.0) for need in (near, far)}
        assert away[near] < 15.0
        assert away[near] < away[far]


def _lens(window: Box, *nets: WiredNet) -> Box:
    """Return where the lens of a ranger lies, half angle 20°, that looks out of the front wall's window."""
    figures = Ranger("sound", 20.0, 30.0, 3000.0, 60.0)
    mount = Mount(looks="+x", lens=Box((10.0, 1.0, 0.0), (10.0, 7.0, 8.0)), upright=True)
    eye = replace(block("eye", (10.0, 8.0, 8.0), mount=mount), family="sensor", electrical=(figures,))
    body = hollow("wagon", 12, 6, 10, windows=(Window("front window", window, "+x"),))
    wanted = (Wanted(Need("eye", (eye,), looks=("wagon", "front window")), eye),)
    found = Packer({"wagon": body}).pack_roomily("wagon", wanted, frozenset(), Wishes(nets))
    assert found is not None
    return bounds_of((found.placements[0].place.move_solid(mount.lens or ROOM),))


def test_a_ranger_lies_in_the_middle_of_a_wide_window() -> None:
    """Nothing prevents it: the lens lies in the middle, wherever the window is, and its beam gets out.

    At the wall's outside the beam is wider than the lens by the tangent of its half angle times the way
    through the wall, on each side; from the wall's inside a narrow window hides some of it.
    """
    for y0, y1 in ((8.0, 40.0), (8.0, 24.0), (21.0, 30.0)):
        window = Box((88.0, y0, 19.2), (96.0, y1, 51.2))
        lens = _lens(window)
        assert lens.center[1] == pytest.approx((y0 + y1) / 2, abs=0.051)
        beyond = (96.0 - lens.high[0]) * math.tan(math.radians(20.0))
        assert lens.low[1] - beyond >= y0 - 0.01
        assert lens.high[1] + beyond <= y1 + 0.01


def test_a_wire_does_not_pull_a_ranger_aside() -> None:
    """What it is wired to lies at the side: its wire may be longer, the lens stays in the middle."""
    window = Box((88.0, 8.0, 19.2), (96.0, 40.0, 51.2))
    for y in (8.0, 40.0):
        net = WiredNet((WiredPin("eye", (1.0, 4.0, 8.0), "+z"),), ((40.0, y, 25.0),))
        assert _lens(window, net).center[1] == pytest.approx(24.0, abs=0.051)


def test_an_emitter_stands_on_the_middle_of_its_face() -> None:
    """A wire to the side does not pull it to the edge of a face far wider than itself."""
    face = Face("eye", Box((32.0, 8.0, 24.0), (80.0, 40.0, 24.0)), "+z")
    owner = BuiltIn("receiver", "receiver", (Box((32.0, 8.0, 19.2), (80.0, 40.0, 24.0)),), (face,))
    emitter = block("emitter", (6.0, 6.0, 6.0), mount=Mount(sits="-z", needs_support=False))
    need = Need("emitter", (emitter,), sits=("wagon", "receiver", "eye"))
    net = WiredNet((WiredPin("emitter", (1.0, 3.0, 6.0), "+z"),), ((84.0, 40.0, 45.0),))
    packer = Packer({"wagon": hollow("wagon", 12, 6, 10, built_in=(owner,))})
    found = packer.pack_roomily("wagon", (Wanted(need, emitter),), frozenset(), Wishes((net,)))
    assert found is not None
    box = _boxes(found)["emitter"]
    assert box.center[:2] == pytest.approx((56.0, 24.0), abs=0.11)
    assert box.low[2] == pytest.approx(24.0)


def test_what_the_exact_search_gives_up_is_laid_loosely(monkeypatch: pytest.MonkeyPatch) -> None:
    """Where the exact search ends without an answer for several parts, a half-empty room holds them all."""

    def gives_up(problem: PackingProblem, *args: Any, **kwargs: Any) -> Answer:
        if len(problem.items) == 1:
            return solve(problem, *args, **kwargs)
        return Answer("not_decided", gap="given up for a test")

    monkeypatch.setattr("fitplan.packing.vehicle.pack.solve", gives_up)
    wanted = _wanted(*[(16.0, 9.0, 7.0 + number % 3) for number in range(9)])
    found = Packer({"wagon": hollow("wagon", 12, 6, 10)}).pack_as_it_is("wagon", wanted)
    assert found.verdict == "fits"
    assert len(found.placements) == 9
    assert not any(_overlap(one, other) for one, other in combinations(_boxes(found).values(), 2))
