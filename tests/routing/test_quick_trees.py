"""Greedy trees without splices, ways that are straight, lead-outs, and home runs beyond their places."""

from __future__ import annotations

import itertools
from types import SimpleNamespace
from typing import Any

import networkx as nx
import numpy as np
import pytest

from fitplan.model.nets import Net
from fitplan.routing.map.ends import NetEnd, ResolvedNet
from fitplan.routing.map.topology import Portal, Reach, Segment
from fitplan.routing.negotiation.detours import is_straight
from fitplan.routing.negotiation.layout import Pulled
from fitplan.routing.negotiation.net_joining import NetJoining, NetTask
from fitplan.routing.negotiation.tightened import _between_lead_outs
from fitplan.routing.trees.tree_map import FAR, Terminal
from fitplan.routing.trees.tree_search import Greedy
from fitplan.routing.trees.voxel_trees import shortest_tree

from .test_voxel_trees import CLOSE, between, check, small, tree_map


@pytest.mark.parametrize("seed", range(8))
def test_a_quick_tree_leads_from_pin_to_pin_where_no_splice_may_be(seed: int) -> None:
    """Joined one after the other to the nearest that is in, it is networkx's shortest tree over the pins."""
    count = 4 + seed % 4
    free, pins = small(seed, count)
    map_ = tree_map(free, 1.0, sites=np.zeros_like(free))
    tree = shortest_tree(map_, [Terminal((pin,), count) for pin in pins], quickly=True)
    assert tree is not None
    check(tree, [Terminal((pin,), count) for pin in pins])
    assert tree.splices == ()
    lengths = between(free)
    rows = [int(np.ravel_multi_index(pin, free.shape)) for pin in pins]
    spans = nx.minimum_spanning_tree(nx.from_numpy_array(lengths[np.ix_(rows, rows)])).size(weight="weight")
    assert tree.cost_mm == pytest.approx(spans, abs=count * CLOSE)
    assert tree.least_mm <= tree.cost_mm
    # Pins of one wire each cannot be joined so; of two they make a chain.
    assert shortest_tree(map_, [Terminal((pin,), 2) for pin in pins], quickly=True) is not None
    assert shortest_tree(map_, [Terminal((pin,), 1) for pin in pins], quickly=True) is None


def test_a_way_is_straight_by_its_ends_alone() -> None:
    """However many corners lie between; a piece that leads back makes it longer than its ends are apart."""

    def way(*xs: float) -> Pulled:
        points = tuple((x, 0.0, 0.0) for x in xs)
        return Pulled(points, sum(abs(a - b) for a, b in itertools.pairwise(xs)), 0.0, ())

    assert is_straight(way(0.0, 10.0, 25.0, 40.0))
    assert not is_straight(way(0.0, 10.0, 9.0, 40.0))
    assert not is_straight(way(0.0, 40.0, 20.0))


END, OTHER, PORTAL = (
    NetEnd("n", "p", "1", "a", (0.0, 0.0, 0.0), "+x", wires=2),
    NetEnd("n", "q", "1", "a", (9.0, 0.0, 0.0), "+x"),
    Portal("n", 0, 1),
)


@pytest.mark.parametrize("count", [2, 3, 5])
def test_a_way_between_its_lead_outs(count: int) -> None:
    """Pins have one piece each that stays; ports have none; a way of two points is drawn whole."""
    points = tuple((float(k), 0.0, 0.0) for k in range(count))
    for start in (END, PORTAL):
        for end in (OTHER, PORTAL):
            first, last, way = _between_lead_outs(points, Segment("n", "a", start, end))
            own = (int(start is END and count > 2), count - int(end is OTHER and count > 2))
            assert (first, last) == own
            assert way.tolist() == [list(point) for point in points[first:last]]


@pytest.mark.parametrize("runs", [1, 2, 3, 4])
def test_home_runs_beyond_the_places_of_their_pin_are_told(runs: int) -> None:
    """Just as many as it takes are none too many; one more is told with both figures."""
    others = [NetEnd("n", f"r{k}", "1", "a", (5.0, k, 0.0), "+x") for k in range(max(runs, 2))]
    reaches = [Reach(end, ((k, 0, 0),)) for k, end in enumerate((END, *others))]
    net = ResolvedNet(Net("n", "ground", (), style="home-run"), (END, *others))
    lost: list[Any] = []
    joiner = SimpleNamespace(
        home_runs=lambda home, far: [] if len(far) <= runs else "no way", let_go=lambda: None, undecided=False
    )
    notes: Any = SimpleNamespace(
        vehicle="a", shortages=[], over=lambda stage: True, lose=lambda *told: lost.append(told)
    )
    self: Any = SimpleNamespace(
        notes=notes,
        wiring=SimpleNamespace(solder=True),
        _joiner=lambda name, lanes: joiner,
        _reached=lambda one, name, all_: all_[: runs + 1],
        _for_other_styles=lambda net, lanes: ([], None, []),
        _segments=lambda name, found: found,
    )
    task = NetTask(net, [[reaches[0], reach] for reach in reaches[1:]])
    assert NetJoining.segments_of(self, task) == []
    led = min(runs, len(others))
    told = [(one.net, one.owner, one.wanted, one.places, one.board) for one in notes.shortages]
    assert told == ([("n", "p", led, 2, False)] if led > 2 else [])
    assert lost == []


@pytest.mark.parametrize("seed", range(4))
def test_the_nearest_joins_a_pin_that_has_room_for_it(seed: int) -> None:
    """Grown alone, without any other search after it: as long as networkx's shortest tree over the pins."""
    free, pins = small(seed, 5)
    map_ = tree_map(free, 1.0, sites=np.zeros_like(free))
    terminals = [Terminal((pin,), 5) for pin in pins]
    goals = [terminal.voxels for terminal in terminals]
    grown = Greedy(map_, terminals, [map_.flood(goal, goals, FAR) for goal in goals]).grow()
    assert grown is not None
    check(grown, terminals)
    lengths = between(free)
    rows = [int(np.ravel_multi_index(pin, free.shape)) for pin in pins]
    spans = nx.minimum_spanning_tree(nx.from_numpy_array(lengths[np.ix_(rows, rows)])).size(weight="weight")
    assert grown.cost_mm == pytest.approx(spans, abs=5 * CLOSE)
