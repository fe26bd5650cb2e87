"""Pieces that hang together already, joined in one vehicle; what other styles would join."""

from __future__ import annotations

import itertools
import math
from collections import Counter
from types import SimpleNamespace
from typing import Any

import networkx as nx
import numpy as np
import pytest

from fitplan.model.nets import Net
from fitplan.routing.harness.track_line import RunningGear
from fitplan.routing.harness.worst_pose import CouplingSide, _reach
from fitplan.routing.map.ends import NetEnd, ResolvedNet
from fitplan.routing.map.topology import Portal, Reach, SpliceSpot
from fitplan.routing.negotiation.net_joining import NetJoining
from fitplan.routing.trees.net_wiring import NetWiring
from fitplan.routing.trees.tree_map import Terminal

SEEDS = range(15)


class Apart:
    """Ways straight from voxel to voxel; one voxel may lie beyond a wall."""

    def __init__(self, walled: tuple[int, ...] = ()) -> None:
        self.walled = walled

    def nearest(self, one: Terminal, other: Terminal) -> tuple[float, Any, Any]:
        return min((math.dist(a, b), a, b) for a in one.voxels for b in other.voxels)

    def cost(self, one: Terminal, other: Terminal) -> float:
        if self.walled and {self.walled} & {*one.voxels, *other.voxels}:
            return math.inf
        return self.nearest(one, other)[0]

    def way(self, one: Terminal, other: Terminal) -> Any:
        _, a, b = self.nearest(one, other)
        return np.array([a, b], np.int32)


def pin(number: int, vehicle: str = "a", **more: Any) -> NetEnd:
    return NetEnd("n", f"part {number}", "p", vehicle, (float(number), 0.0, 0.0), "+x", **more)


def joiner(ways: Apart, tree: Any = None) -> Any:
    asked: list[Any] = []

    def over(terminals: Any, groups: Any) -> Any:
        asked.append((terminals, groups))
        return tree

    return SimpleNamespace(
        _ways=ways, _tree_over=over, _why=lambda reaches: "no way", asked=asked,
        _map=SimpleNamespace(frame=SimpleNamespace(pitch=0.8), name="a"),
    )  # fmt: skip


def drawn(seed: int, wires: int) -> list[tuple[Reach, ...]]:
    rng = np.random.default_rng(seed)
    spots = iter(rng.permutation(400).tolist())
    places = [(s % 20, s // 20, int(rng.integers(0, 9))) for s in spots]
    return [
        tuple(Reach(pin(10 * g + k), (places[3 * g + k],), wires) for k in range(1 + (g + seed) % 3))
        for g in range(5)
    ]


@pytest.mark.parametrize("seed", SEEDS)
def test_groups_are_joined_from_pin_to_pin_as_short_as_can_be(seed: int) -> None:
    """With places enough as long together as networkx's shortest tree over the groups."""
    groups = drawn(seed, wires=9)
    found = NetWiring.joined(joiner(Apart()), groups)
    assert not isinstance(found, str)
    apart: nx.Graph = nx.Graph()
    for i, j in itertools.combinations(range(5), 2):
        nearest = min(math.dist(a.voxels[0], b.voxels[0]) for a in groups[i] for b in groups[j])
        apart.add_edge(i, j, weight=nearest)
    length = sum(math.dist(*piece.voxels.tolist()) for piece in found)
    assert length == pytest.approx(nx.minimum_spanning_tree(apart).size(weight="weight"))
    assert len(found) == 4


@pytest.mark.parametrize("seed", SEEDS)
def test_no_pin_gets_more_wires_than_it_has_places_left(seed: int) -> None:
    """All groups hang together, or a tree is asked for over those that do not, with what is left of each."""
    groups = drawn(seed, wires=1)
    self = joiner(Apart())
    found = NetWiring.joined(self, groups)
    places = sum(map(len, groups))
    if isinstance(found, str):
        assert found in ("no way", "nothing that is built of it has a place left")
        assert self.asked or places < 8 or found != "no way"
        for terminals, left in self.asked:
            assert len(terminals) == len(left) > 1
            assert [set(t.voxels) for t in terminals] == [
                {v for r in group for v in r.voxels} for group in left
            ]
            assert all(t.wires == 1 for t in terminals)
        return
    used = Counter(node for piece in found for node in (piece.start, piece.end))
    assert max(used.values()) == 1
    hang: nx.Graph = nx.Graph()
    hang.add_nodes_from(range(5))
    group_of = {reach.node: number for number, group in enumerate(groups) for reach in group}
    hang.add_edges_from((group_of[piece.start], group_of[piece.end]) for piece in found)
    assert nx.is_tree(hang)


def test_a_splice_is_opened_again_only_where_no_pin_has_a_place() -> None:
    """However near it lies; beyond a wall a tree is asked for; without any place left there is no wire."""
    spot = Reach(SpliceSpot("n", "a", (1, 0, 0)), ((1, 0, 0),), 2)
    near, far = Reach(pin(1), ((0, 0, 0),)), Reach(pin(2), ((9, 9, 9),))
    (piece,) = NetWiring.joined(joiner(Apart()), [(near,), (spot, far)])
    assert {piece.start, piece.end} == {near.node, far.node}  # type: ignore[union-attr]
    (piece,) = NetWiring.joined(joiner(Apart()), [(near,), (spot,)])
    assert {piece.start, piece.end} == {near.node, spot.node}  # type: ignore[union-attr]
    walled = joiner(Apart((9, 9, 9)))
    assert NetWiring.joined(walled, [(near,), (spot, far)]) == "no way"
    assert walled.asked[0][1] == [[near], [spot, far]]
    assert NetWiring.joined(joiner(Apart()), [(near,)]) == []
    alone = joiner(Apart((9, 9, 9)))
    assert NetWiring.joined(alone, [(near,), (far,)]) == "no way"
    assert alone.asked == [([Terminal(((0, 0, 0),), 1), Terminal(((9, 9, 9),), 1)], [[near], [far]])]
    assert NetWiring.joined(alone, [(near,), ()]) == "nothing that is built of it has a place left"
    # Two pins of one wire each hold two groups, not three: the third is asked of a tree, and has no place.
    three = joiner(Apart())
    groups = [(near,), (far,), (Reach(pin(3), ((5, 0, 0),)),)]
    assert NetWiring.joined(three, groups) == "no way"
    assert len(three.asked) == 1


def test_what_a_tree_and_home_runs_would_join_in_a_vehicle() -> None:
    """Ends in their order and a portal a coupling; home runs lead over the coupling on their side."""
    order = {"a": 0, "b": 1, "c": 2}
    ends = [pin(0, "b", wires=9), pin(1, "b"), pin(2, "a"), pin(3, "c"), pin(4, "c")]
    net = ResolvedNet(Net("n", "signal", ()), tuple(ends))
    here = {end: Reach(end, ((k, 0, 0),)) for k, end in enumerate(ends[:2])}
    front, back, second = (
        Reach(Portal("n", c, lane), ((50 + lane, 0, 0),)) for c, lane in ((0, 1), (1, 2), (1, 3))
    )
    lanes = [[here[ends[0]], second], [here[ends[0]], front, back], [here[ends[1]], here[ends[0]]]]
    self: Any = SimpleNamespace(notes=SimpleNamespace(vehicle="b"), order=order)
    every, home, others = NetJoining._for_other_styles(self, net, lanes)
    assert every == [here[ends[0]], here[ends[1]], front, second]
    assert home == here[ends[0]]
    assert others == [here[ends[1]], front, second, second]
    away: Any = SimpleNamespace(notes=SimpleNamespace(vehicle="a"), order=order)
    every, home, others = NetJoining._for_other_styles(away, net, [[front, Reach(ends[2], ((3, 0, 0),))]])
    assert [reach.node for reach in every] == [ends[2], front.node]
    assert (home, others) == (None, [])
    # Where a coupling has no lane, no home run leads over it.
    _, _, others = NetJoining._for_other_styles(self, net, [[here[ends[0]], here[ends[1]], back]])
    assert others == [here[ends[1]], back, back]


def test_a_joint_is_as_long_as_all_its_guides() -> None:
    """From the foremost axle of a foremost bogie to the rearmost of a rearmost: by hand."""
    ahead = CouplingSide(RunningGear(30.0, 110.0, 24.0), (6.0, 9.0), (0.0, 0.0, 30.0))
    behind = CouplingSide(RunningGear(-20.0, 70.0, 16.0), (96.0, 9.0), (100.0, 0.0, 30.0))
    # 104 to the pin, 20 of drawbar, 116 to the rear guide, and a bogie each.
    assert _reach(ahead, behind, 20.0) == pytest.approx(104 + 20 + 116 + 24 + 16)
