"""What places cost beside what is liked, and how much of a beam is hidden, reckoned by hand."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from fitplan.model.electrical import Ranger
from fitplan.model.needed import FixedPlace, Need
from fitplan.model.part import Access, Mount
from fitplan.model.placed import Placement
from fitplan.model.solids import DIRECTIONS, Box, Direction, Place, axis_of, is_forward, plane_of, pose_named
from fitplan.model.vehicle import Opening, Window
from fitplan.packing.vehicle.hidden_beam import hidden_share
from fitplan.packing.vehicle.liked_places import PER_ACROSS, PER_REACH, unliked
from fitplan.packing.vehicle.middles import held_in_the_middle
from fitplan.packing.vehicle.preferred import FAR, preferred_cost, weight_of
from fitplan.packing.vehicle.seats import Wanted
from fitplan.packing.vehicle.views import PER_ASIDE, PER_HIDDEN, View

from .small_trains import block, hollow

LEVEL: tuple[Direction, ...] = ("+x", "-x", "+y", "-y")


def test_preferences_cost_by_the_distance_of_middles() -> None:
    """Near: as far as it is; far from: what is missing of 300 mm; the same side: across alone."""
    mine = np.array([[0, 0, 0, 10, 20, 30], [100, 40, 0, 104, 44, 6], [900, 0, 0, 902, 2, 2]], dtype=float)
    other = np.array([20, 30, 40, 40, 50, 60], dtype=float)
    middles = [(5, 10, 15), (102, 42, 3), (901, 1, 1)]
    for weight in (weight_of(0), weight_of(1), weight_of(2)):
        away = [math.dist(one, (30, 40, 50)) for one in middles]
        assert preferred_cost("near", mine, other, weight).tolist() == pytest.approx(
            [weight * v for v in away]
        )
        far = [weight * (FAR - min(v, 300.0)) for v in away]
        assert preferred_cost("far from", mine, other, weight).tolist() == pytest.approx(far)
        side = [weight * abs(one[1] - 40) for one in middles]
        assert preferred_cost("same side as", mine, other, weight).tolist() == pytest.approx(side)
    assert [weight_of(n) for n in range(3)] == pytest.approx([3.0, 0.3, 0.03])


@pytest.mark.parametrize("side", DIRECTIONS)
@pytest.mark.parametrize("often", [True, False])
def test_an_access_is_liked_under_its_lid(side: Direction, often: bool) -> None:
    """What it lies behind the lid, and its middle beside it, on both axes across; the nearest lid counts."""
    axis = axis_of(side)
    low, high = [20.0, 20.0, 20.0], [40.0, 44.0, 48.0]
    lid = Opening("lid", Box((low[0], low[1], low[2]), (high[0], high[1], high[2])), side)
    part = replace(block("b", (4.0, 2.0, 2.0)), access=(Access("a", "switch", "+x", often),))
    pose = next(one for one in part.mount.allowed_poses() if one.turn_direction("+x") == side)
    other = next(one for one in part.mount.allowed_poses() if one.turn_direction("+x") != side)
    rows, expected = [], []
    for behind in (-3.0, 0.0, 5.0):
        for aside in ((0.0, 0.0), (7.0, 0.0), (0.0, -6.0), (3.0, 4.0)):
            first, last = [30.0 - 1] * 3, [30.0 + 1] * 3
            across = [k for k in range(3) if k != axis]
            cost = max(behind, 0.0)
            for k, by in zip(across, aside, strict=True):
                middle = 30.0 if not by else high[k] + by if by > 0 else low[k] + by
                first[k], last[k] = middle - 1, middle + 1
                cost += abs(by)
            if is_forward(side):
                last[axis] = low[axis] - behind
                first[axis] = last[axis] - 2
            else:
                first[axis] = high[axis] + behind
                last[axis] = first[axis] + 2
            rows.append([*first, *last])
            expected.append(cost * PER_REACH[often])
    bounds = np.array(rows)
    poses = [other.name, pose.name]
    mine = np.ones(len(rows), dtype=np.int64)
    assert unliked(part, poses, mine, bounds, [lid]).tolist() == pytest.approx(expected)
    assert unliked(part, poses, 0 * mine, bounds, [lid]).tolist() == [0.0] * len(rows)
    assert unliked(part, poses, mine, bounds, []).tolist() == [0.0] * len(rows)
    far = replace(lid, box=Box((900, 900, 900), (910, 910, 910)))
    assert unliked(part, poses, mine, bounds, [far, lid]).tolist() == pytest.approx(expected)


def test_parts_lie_along_rather_than_across() -> None:
    part = block("b", (4.0, 2.0, 2.0))
    bounds = np.array([[0, 0, 0, 10, 30, 5], [0, 0, 0, 30, 10, 5], [5, 5, 0, 15, 15, 90]], dtype=float)
    none = np.zeros(3, dtype=np.int64)
    assert unliked(part, ["+x+y+z"], none, bounds, []).tolist() == pytest.approx([20 * PER_ACROSS, 0.0, 0.0])


@pytest.mark.parametrize("out", DIRECTIONS)
@pytest.mark.parametrize("level", [(0, 1), (0, 1, 2)])
def test_a_view_costs_what_it_lies_aside_and_what_is_hidden(out: Direction, level: tuple[int, ...]) -> None:
    """A lens of 4 × 6 mm, 10 mm behind the outside; its beam widens by a quarter to each side: 2.5 mm."""
    axis = axis_of(out)
    hull = Box((0, 0, 0), (100, 60, 50))
    low, high = [40.0, 20.0, 20.0], [60.0, 34.0, 32.0]
    edge = plane_of(hull, out)
    low[axis], high[axis] = (edge - 8, edge) if is_forward(out) else (edge, edge + 8)
    frame = Box((low[0], low[1], low[2]), (high[0], high[1], high[2]))
    size = [4.0, 6.0, 5.0]
    size[axis] = 3.0
    lens = Box((0, 0, 0), (size[0], size[1], size[2]))
    across = [k for k in range(3) if k != axis]
    for slope in (0.0, 0.25):
        view = View(frame, out, lens, slope, level)
        rows, expected = [], []
        for by in ((0.0, 0.0), (3.0, 0.0), (0.0, -2.0), (-5.0, 4.0)):
            offset = [0.0, 0.0, 0.0]
            offset[axis] = edge - 10 - 3 if is_forward(out) else edge + 10
            cost = 0.0
            for k, aside in zip(across, by, strict=True):
                middle = frame.center[k] + aside
                offset[k] = middle - size[k] / 2
                cost += PER_ASIDE * abs(aside) * (k in level)
                for gap in (offset[k] - frame.low[k], frame.high[k] - offset[k] - size[k]):
                    cost += PER_HIDDEN * max(slope * 10 - gap, 0.0) if slope else 0.0
            rows.append([round(v * 10) for v in offset])
            expected.append(cost)
        found = view.poor(["+x+y+z"], np.zeros(len(rows), dtype=np.int64), np.array(rows))
        assert found.tolist() == pytest.approx(expected)
        # In the middle, its front flush with the outside.
        liked = view.middle(pose_named("+x+y+z")) / 10
        for k in across:
            assert liked[k] + size[k] / 2 == pytest.approx(frame.center[k], abs=0.06)
        assert liked[axis] + (3.0 if is_forward(out) else 0.0) == pytest.approx(edge)


# -- rangers behind windows --------------------------------------------------------------------------------

SIZE = (10.0, 20.0, 12.0)


def looking(out: Direction, aside: float, up: float = 0.0, angle: float = 0.5) -> tuple[Any, ...]:
    """A wagon with a window of 12 × 12 mm in one wall, a ranger right behind it, so far beside its middle.

    Its lens takes all of its front, 20 mm across and 12 mm high.
    """
    bare = hollow("v", 12, 12, 12)
    axis = axis_of(out)
    low, high = [42.0, 42.0, 30.0], [54.0, 54.0, 42.0]
    edge = plane_of(bare.hull, out)
    low[axis], high[axis] = (edge - 8, edge) if is_forward(out) else (edge, edge + 8)
    window = Window("gap", Box((low[0], low[1], low[2]), (high[0], high[1], high[2])), out)
    vehicle = hollow("v", 12, 12, 12, windows=(window,))
    lens = Box((10.0, 0.0, 0.0), (10.0, 20.0, 12.0))
    part = replace(
        block("eye", SIZE, mount=Mount(looks="+x", lens=lens, needs_support=False)),
        electrical=(Ranger("sound", angle, 20.0, 3000.0, 60.0),),
    )
    wanted = Wanted(Need("eye", (part,), looks=("v", "gap")), part)
    pose = next(
        one
        for one in part.mount.allowed_poses()
        if one.turn_direction("+x") == out and one.turn_direction("+z") == "+z"
    )
    whole = Place(pose, (0, 0, 0)).move_solid(part.bounds).bounds
    at = [0.0, 0.0, 36.0 + up - 6.0]
    for k in (0, 1):
        at[k] = 48.0 - whole.center[k]
    inner = low[axis] if is_forward(out) else high[axis]
    at[axis] = inner - (whole.high[axis] if is_forward(out) else whole.low[axis])
    at[1 - axis] += aside
    return vehicle, wanted, window, Place(pose, (at[0], at[1], at[2])), part


@pytest.mark.parametrize("out", LEVEL)
@pytest.mark.parametrize(
    ("aside", "up", "seen"),
    [
        (0.0, 0.0, 12 * 12),
        (4.0, 0.0, 12 * 12),
        (-4.0, 0.0, 12 * 12),
        (10.0, 0.0, 6 * 12),
        (-10.0, 0.0, 6 * 12),
        (0.0, 6.0, 12 * 6),
        (0.0, -4.0, 12 * 8),
        (10.0, 6.0, 6 * 6),
    ],
)
def test_bricks_beside_a_window_hide_what_lies_behind_them(
    out: Direction, aside: float, up: float, seen: float
) -> None:
    """Of 20 × 12 mm of beam what the window of 12 × 12 leaves; it hardly widens."""
    vehicle, wanted, window, place, part = looking(out, aside, up)
    found = hidden_share(vehicle, frozenset(), wanted, window, place)
    assert found == pytest.approx(1 - seen / 240, abs=0.02)
    plain = replace(part, electrical=())
    assert hidden_share(vehicle, frozenset(), Wanted(wanted.need, plain), window, place) == 0.0


@pytest.mark.parametrize("out", LEVEL)
def test_a_beam_that_widens_is_hidden_more(out: Direction) -> None:
    """At 45 degrees by 8 mm to every side on the 8 mm of its wall: a rectangle rounded on by that."""
    vehicle, wanted, window, place, _ = looking(out, 0.0, angle=45.0)
    whole = 20 * 12 + 2 * (20 + 12) * 8 + math.pi * 64
    found = hidden_share(vehicle, frozenset(), wanted, window, place)
    assert found == pytest.approx(1 - 144 / whole, abs=0.01)


@pytest.mark.parametrize("out", LEVEL)
@pytest.mark.parametrize("aside", [-3.0, -0.5, 0.0, 0.5, 3.0])
def test_a_ranger_is_held_in_the_middle_of_its_window(out: Direction, aside: float) -> None:
    """Turned as it lies, along what is not its height or its way out; within a millimetre it may stay."""
    vehicle, wanted, _, place, part = looking(out, aside)
    wanted = Wanted(wanted.need, replace(part, mount=replace(part.mount, needs_support=True)))
    lies = Placement("eye", wanted.part, "v", place, "")
    held = held_in_the_middle(wanted, vehicle, lies, 1.0)
    if abs(aside) <= 1.0:
        assert held is None
        return
    assert held is not None
    pinned = held.need.pinned
    assert isinstance(pinned, FixedPlace)
    axis = 1 - axis_of(out)
    side = ("+x", "+y")[axis]
    whole = place.move_solid(part.bounds).bounds
    assert (pinned.vehicle, pinned.pose, pinned.offset) == ("v", place.pose.name, None)
    assert pinned.planes == ((side, pytest.approx(whole.high[axis] - aside)),)
    fixed = replace(wanted.need, pinned=FixedPlace("v", place.pose.name))
    assert held_in_the_middle(Wanted(fixed, wanted.part), vehicle, lies, 1.0) is None
    blind = Wanted(wanted.need, replace(wanted.part, electrical=()))
    assert held_in_the_middle(blind, vehicle, lies, 1.0) is None
