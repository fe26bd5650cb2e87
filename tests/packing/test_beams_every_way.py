"""What hides a beam, whichever way it looks; what parts carry, by way of others; feet that are firm."""

from __future__ import annotations

import math
import random
from dataclasses import replace

import networkx as nx
import pytest

from fitplan.model.electrical import Ranger
from fitplan.model.needed import Need
from fitplan.model.part import Mount
from fitplan.model.placed import Placement
from fitplan.model.solids import Box, Direction, Place, Vec, pose_named
from fitplan.model.vehicle import BodySolid, Window
from fitplan.packing.access.disassembly import Disassembly, hanging_on_each_other
from fitplan.packing.vehicle.hidden_beam import hidden_share
from fitplan.packing.vehicle.seats import Wanted
from fitplan.packing.vehicle.support import FIRMLY, stands_firmly
from tests.packing.small_trains import block, hollow

DEG, DEEP = 20.0, 5.0
W = DEEP * math.tan(math.radians(DEG))
BEAM = 16 + 16 * W + math.pi * W**2
"""A lens of 4 × 4 mm, 5 mm behind the outside of the wall: a square with round corners."""

# Pose of an eye whose own way is +x, the middle of its lens, and its window through the wall.
WAYS: dict[Direction, tuple[str, Vec, Box]] = {
    "+x": ("+x+y+z", (75.0, 24.0, 36.0), Box((72, 16, 28), (80, 32, 44))),
    "-x": ("-x-y+z", (5.0, 24.0, 36.0), Box((0, 16, 28), (8, 32, 44))),
    "+y": ("+y-x+z", (40.0, 43.0, 36.0), Box((32, 40, 28), (48, 48, 44))),
    "-y": ("-y+x+z", (40.0, 5.0, 36.0), Box((32, 0, 28), (48, 8, 44))),
}


def hidden(way: Direction, low: float, high: float, deep: tuple[float, float]) -> float:
    """The share that a bar hides from ``low`` to ``high`` above the middle, ``deep`` mm from the outside."""
    pose, middle, gap = WAYS[way]
    axis, forwards = "xyz".index(way[1]), way[0] == "+"
    outside = (gap.high if forwards else gap.low)[axis]
    first, last = (list(end) for end in (gap.low, gap.high))
    first[axis], last[axis] = sorted(outside - by if forwards else outside + by for by in deep)
    first[2], last[2] = middle[2] + low, middle[2] + high
    bar = Box((first[0], first[1], first[2]), (last[0], last[1], last[2]))
    window = Window("pane", gap, way)
    made = hollow("v", 10, 6, 10, windows=(window,))
    made = replace(made, body=(*made.body, BodySolid(bar, "fixed")))
    lens = Box((10, 3, 3), (10, 7, 7))
    mount = Mount(turnable=False, looks="+x", lens=lens)
    eye = replace(
        block("eye", (10.0, 10.0, 10.0), mount=mount), electrical=(Ranger("sound", DEG, 20, 900, 60),)
    )
    place = Place(pose_named(pose), (0.0, 0.0, 0.0))
    at = place.move((10.0, 5.0, 5.0))
    there = Place(pose_named(pose), (middle[0] - at[0], middle[1] - at[1], middle[2] - at[2]))
    need = Need("eye", (eye,), looks=("v", "pane"))
    return hidden_share(made, frozenset(), Wanted(need, eye), window, there)


@pytest.mark.parametrize("way", sorted(WAYS))
def test_a_bar_of_brick_hides_its_strip_of_the_beam(way: Direction) -> None:
    """Across the square a strip as wide as the beam there; before the lens, not behind it."""
    strip = (4 + 2 * W) * 2 / BEAM
    assert hidden(way, -1.0, 1.0, (1.0, 2.0)) == pytest.approx(strip, abs=0.002)
    assert hidden(way, 0.0, 2.0, (0.0, 4.9)) == pytest.approx(strip, abs=0.002)
    cap = (4 * W + math.pi * W**2 / 2) / BEAM
    assert hidden(way, 2.0, 7.0, (1.0, 2.0)) == pytest.approx(cap, abs=0.002)
    assert hidden(way, -7.0, -2.0, (1.0, 2.0)) == pytest.approx(cap, abs=0.002)
    assert hidden(way, -1.0, 1.0, (5.1, 7.0)) == 0.0
    assert hidden(way, -7.0, 7.0, (1.0, 2.0)) == pytest.approx(1.0, abs=0.002)


@pytest.mark.parametrize("seed", range(6))
def test_parts_carry_what_hangs_on_them_by_way_of_others(seed: int) -> None:
    """Beside the graph: all that is reached from a part; who carries any of those that are left."""
    dice = random.Random(seed)
    names = [f"p{n}" for n in range(7)]
    under = {name: dice.choice(["the body", *names[:n]]) for n, name in enumerate(names)}
    part = block("cube", (2.0, 2.0, 2.0))
    pose = pose_named("+x+y+z")
    placed = [
        Placement(name, part, "v", Place(pose, (10.0 + 3 * n, 10.0, 20.0)), under[name])
        for n, name in enumerate(names)
    ]
    taken = Disassembly(hollow("v", 10, 6, 10), placed, frozenset())
    graph = nx.DiGraph([(by, name) for name, by in under.items()])
    for name in names:
        assert taken.carried(name) == (nx.descendants(graph, name) if name in graph else set())
    for _ in range(10):
        left = frozenset(dice.sample(names, 4))
        assert taken.carriers(left) == {under[name] for name in left} & left


def test_rings_of_what_carries_what_are_noticed() -> None:
    assert not hanging_on_each_other({"a": "b", "b": "c", "c": "the body"})
    assert hanging_on_each_other({"a": "b", "b": "c", "c": "a"})
    assert hanging_on_each_other({"a": "a"})
    part, pose = block("cube", (2.0, 2.0, 2.0)), pose_named("+x+y+z")
    ring = [
        Placement(name, part, "v", Place(pose, (x, 10.0, 20.0)), by)
        for name, by, x in (("a", "b", 10.0), ("b", "a", 14.0))
    ]
    taken = Disassembly(hollow("v", 10, 6, 10), ring, frozenset())
    assert taken.carried("a") == taken.carriers(frozenset("ab")) == frozenset()


@pytest.mark.parametrize("axis", [0, 1])
@pytest.mark.parametrize("sign", [1, -1])
def test_a_middle_close_to_any_one_edge_does_not_stand_firmly(axis: int, sign: int) -> None:
    foot = (-50, -30, 50, 30)
    half = (50, 30)[axis]
    for inside, firm in ((FIRMLY, True), (FIRMLY - 1, False)):
        middle = [0, 0]
        middle[axis] = sign * (half - inside)
        assert stands_firmly((middle[0], middle[1]), [foot]) is firm
