"""What is asked of maps: boxes near a way, ways between ends that meet, trees over two."""

from __future__ import annotations

import math
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from fitplan.lattice.frame import Frame
from fitplan.model.solids import Box
from fitplan.routing.map.ends import NetEnd
from fitplan.routing.map.exact_room import MIDDLE_MM, NEAR_MM, ExactRoom
from fitplan.routing.map.topology import Portal, Reach
from fitplan.routing.map.vehicle_map import GRAZES_MM, REACH_MM, SAMPLES, VehicleMap
from fitplan.routing.trees.net_wiring import NetWiring
from fitplan.routing.trees.tree_map import FAR, Terminal
from fitplan.routing.trees.tree_search import Greedy
from fitplan.routing.trees.voxel_trees import _floods_of
from fitplan.routing.ways import taut
from tests.packing.small_trains import hollow

from .test_voxel_trees import tree_map


@pytest.mark.parametrize("diameter", [0.6, 1.4])
@pytest.mark.parametrize("mirrored", [False, True])
def test_boxes_near_a_way_are_those_within_its_radius(diameter: float, mirrored: bool) -> None:
    """On all three axes at once; round its ends and ports it may lie closer, where it is thick."""
    dice = np.random.default_rng(4)
    solids = []
    for _ in range(40):
        low = dice.uniform((10, 10, 22), (80, 40, 70))
        solids.append(Box(tuple(low.tolist()), tuple((low + dice.uniform(1, 6, 3)).tolist())))
    room = ExactRoom(hollow("v", 12, 7, 10), frozenset(), tuple(solids), mirrored=mirrored)
    low, high = np.array([20.0, 15.0, 30.0]), np.array([50.0, 30.0, 50.0])
    points = np.array([low, high])
    boxes, zones, wide, close = room.around(low, high, points, diameter)
    wanted = [
        box.tolist()
        for box in room.boxes
        if all(box[i] < high[i] + diameter / 2 and box[i + 3] > low[i] - diameter / 2 for i in range(3))
    ]
    assert boxes.tolist() == wanted
    assert 0 < len(wanted) < len(room.boxes)
    assert (wide, close) == (diameter / 2, min(diameter / 2, MIDDLE_MM))
    near = [[*(point - NEAR_MM), *(point + NEAR_MM)] for point in points]
    near += [[*(port[:3] - NEAR_MM), *(port[3:] + NEAR_MM)] for port in room.ports]
    assert zones == pytest.approx(np.array(near))


def test_ends_that_have_a_voxel_in_common_are_no_way_apart() -> None:
    """It costs nothing from one to the other, by a way of one voxel; beyond a wall there is none."""
    free = np.ones((9, 4, 3), bool)
    free[5] = False
    map_ = tree_map(free, 1.0)
    one, other = Terminal(((1, 1, 1), (2, 1, 1)), 2), Terminal(((2, 1, 1), (4, 1, 1)), 2)
    assert map_.cost_mm(one, other) == 0.0
    way = map_.way(one, other)
    assert way is not None
    assert way.tolist() == [[2, 1, 1]]
    walled = Terminal(((7, 1, 1),), 1)
    assert map_.cost_mm(one, walled) is None
    assert map_.way(walled, one) is None
    apart = Terminal(((4, 3, 1),), 1)
    assert map_.length_mm(one, apart) == pytest.approx(map_.pitch * 2 * math.sqrt(2))
    outside = Terminal(((40, 0, 0),), 1)
    assert map_.cost_mm(one, outside) is None


@pytest.mark.parametrize("seed", range(3))
def test_a_lead_out_is_held_against_walls_point_by_point(seed: int) -> None:
    """As many points as are looked at, in the middles of equal parts; by their share of its length in walls.

    Points off the map are in no wall; what is built into the vehicle leads out through its walls.
    """
    rng = np.random.default_rng(seed)
    shape, pitch, origin = (9, 8, 7), 0.8, (-1.0, 2.0, 0.5)
    walls = rng.random(shape) < 0.04
    frame = Frame(origin, shape, pitch)
    self: Any = SimpleNamespace(frame=frame, walls=walls, parts={})
    ends = np.argwhere(np.ones(shape, bool))
    # On corners of the grid now and then, and outside of it.
    at = np.array(origin) + pitch * (rng.integers(-1, 8, 3) + rng.choice([0.0, 0.5, 0.97], 3))
    seen = VehicleMap._in_sight(self, NetEnd("n", "p", "p0", "a", tuple(at.tolist()), "+x"), ends)
    for voxel, found in zip(ends, seen, strict=True):
        way = np.array(frame.center(tuple(voxel))) - at
        cells = [
            np.floor((at + way * (k + 0.5) / SAMPLES - origin) / pitch + 1e-9).astype(int)
            for k in range(SAMPLES)
        ]
        hits = [
            all(0 <= c < n for c, n in zip(cell, shape, strict=True)) and walls[tuple(cell)] for cell in cells
        ]
        assert found == (sum(hits) / SAMPLES * float(np.linalg.norm(way)) <= GRAZES_MM)
    assert 0 < seen.sum() < len(seen)
    built_in = NetEnd("n", "a/motor", "p0", "a", tuple(at.tolist()), "+x")
    assert VehicleMap._in_sight(self, built_in, ends).all()


@pytest.mark.parametrize("way", [("+x", 1, 0), ("-x", -1, 0), ("+z", 1, 2)])
@pytest.mark.parametrize("blocked", [0, 1, 3, 99])
def test_a_wire_begins_in_the_first_free_voxel_in_front_of_its_pin(
    way: tuple[Any, int, int], blocked: int
) -> None:
    """As far as is reached; where that one is not in sight, or none is free, the nearest is looked for.

    A pin that looks out of the vehicle has no way back through its part.
    """
    out, sign, axis = way
    free = np.ones((9, 9, 9), bool)
    frame = Frame((0.0, 0.0, 0.0), free.shape, 1.0)
    pin = NetEnd("n", "p", "p0", "a", (4.5, 4.5, 4.5), out)
    first = [
        tuple(int(4.5 + sign * (k + 0.5) * (i == axis)) for i in range(3)) for k in range(math.ceil(REACH_MM))
    ]
    for voxel in first[:blocked]:
        if all(0 <= c < 9 for c in voxel):
            free[voxel] = False
    asked: list[Any] = []
    self: Any = SimpleNamespace(
        frame=frame, free=free, vehicle=SimpleNamespace(hull=Box((0.0, 0.0, 0.0), (9.0, 9.0, 9.0))),
        _nearest=lambda one, past_own: asked.append(past_own),
        _in_sight=lambda one, voxels: np.ones(1, bool),
    )  # fmt: skip
    inside = [voxel for voxel in first[blocked:] if all(0 <= c < 9 for c in voxel)]
    assert VehicleMap._start(self, pin) == (inside[0] if inside else None)
    assert asked == ([] if inside else [True])
    asked.clear()
    self._in_sight = lambda one, voxels: np.zeros(1, bool)
    assert VehicleMap._start(self, pin) is None
    assert asked == [True]
    self.vehicle.hull = Box((0.0, 0.0, 0.0), (9.0, 9.0, 9.0) if out == "-x" else (4.9, 9.0, 4.9))
    assert VehicleMap._start(self, pin) is None
    assert asked[1] is (out == "-x")


def end(name: str) -> NetEnd:
    return NetEnd("n", name, "p0", "a", (0.0, 0.0, 0.0), "+x")


@pytest.mark.parametrize("found", [True, False])
def test_a_tree_over_two_is_a_way(found: bool) -> None:
    """From the member that it begins at to the one that it ends at; None where no way leads."""
    members = [
        [Reach(end("p"), ((0, 0, 0),)), Reach(end("q"), ((3, 0, 0),))],
        [Reach(end("r"), ((5, 0, 0),))],
    ]
    way = np.array([(3, 0, 0), (4, 0, 0), (5, 0, 0)], np.int32)
    self: Any = SimpleNamespace(
        net="n", _map=SimpleNamespace(name="a"),
        _ways=SimpleNamespace(way=lambda one, other: way if found else None),
    )  # fmt: skip
    terminals = [Terminal(((0, 0, 0), (3, 0, 0)), 1), Terminal(((5, 0, 0),), 1)]
    pieces = NetWiring._tree_over(self, terminals, members)
    if not found:
        assert pieces is None
        return
    assert pieces is not None
    assert [(one.start, one.end, one.voxels.tolist()) for one in pieces] == [
        (end("q"), end("r"), way.tolist())
    ]


def test_a_tree_of_three_has_its_splices_by_name() -> None:
    """Terminals first, then splices; a way that is missing makes no tree."""
    members = [[Reach(end(name), ((k, 0, 0),))] for k, name in enumerate("pqr")]
    ways = [np.array([(k, 0, 0), (9, 9, 9)], np.int32) for k in range(3)]
    tree = SimpleNamespace(edges=((0, 3), (1, 3), (2, 3)), ways=ways, splices=((9, 9, 9),))
    self: Any = SimpleNamespace(
        net="n", _map=SimpleNamespace(name="a"), _ways=SimpleNamespace(tree=lambda key, to_compare: tree)
    )
    terminals = [Terminal(((k, 0, 0),), 1) for k in range(3)]
    pieces = NetWiring._tree_over(self, terminals, members)
    assert pieces is not None
    assert [one.start for one in pieces] == [end(name) for name in "pqr"]
    assert {(one.end.net, one.end.vehicle, one.end.voxel) for one in pieces} == {("n", "a", (9, 9, 9))}  # type: ignore[union-attr]
    tree.ways = ways[:2]
    assert NetWiring._tree_over(self, terminals, members) is None
    self._ways.tree = lambda key, to_compare: None
    assert NetWiring._tree_over(self, terminals, members) is None


@pytest.mark.parametrize("count", [3, 4, 7])
def test_terminals_are_flooded_as_far_as_a_tree_over_one_splice_can_matter(count: int) -> None:
    """All to the splice nearest the first: their ways, as often that to the splice, and what it branches for.

    Without a splice or a way there is no such tree: everything is looked at.
    """
    asked: list[Any] = []
    labels = np.zeros(9, np.uint32)
    labels[3] = 12  # 11 units from the first
    prices = np.zeros(9, np.uint32)
    prices[3] = 7

    def flood(goal: Any, goals: Any, reach: int = 0, *, to_go_on: bool = False) -> int:
        assert to_go_on == (not asked)  # the first goes on where more is wanted of it
        asked.append((goal, len(goals), reach))
        return len(asked)

    self: Any = SimpleNamespace(
        flood=flood, best_site=lambda floods: 3, size=9, prices=lambda: prices,
        least=lambda first, goal: (10 * goal[0][0], goal[0]),
        kernel=SimpleNamespace(view=lambda *_: labels),
    )  # fmt: skip
    terminals = [Terminal(((k, 0, 0),), 1) for k in range(count)]
    assert _floods_of(self, terminals) == list(range(2, count + 2))
    bound = 10 * sum(range(count)) + 11 * count + 7 * (count - 2)
    assert asked == [(terminals[0].voxels, count, 0), *((one.voxels, count, bound) for one in terminals)]
    for change in (
        {"best_site": lambda floods: 0},
        {"least": lambda first, goal: None if goal[0][0] else (0, goal[0])},
    ):
        asked.clear()
        _floods_of(SimpleNamespace(**{**self.__dict__, **change}), terminals)  # type: ignore[arg-type]
        assert [one[2] for one in asked] == [0, *[FAR] * count]


def test_long_chains_are_looked_at_to_their_end(monkeypatch: pytest.MonkeyPatch) -> None:
    """Part by part, each beginning where the one before ended: a wall across any piece is seen."""
    monkeypatch.setattr(taut, "_ROOM", 4)
    for count in (1, 2, 4, 5, 8, 13):
        points = np.array([(2.0 * k, 1.0, 1.0) for k in range(count)])
        free = np.ones((2 * count + 1, 3, 3), bool)
        assert taut.Tautener(free).is_free(points)
        for piece in range(count - 1):
            walled = free.copy()
            walled[2 * piece + 1] = False
            assert not taut.Tautener(walled).is_free(points)


@pytest.mark.parametrize("far", [6, 7, 8])
def test_a_greedy_tree_branches_where_the_next_is_nearest(far: int) -> None:
    """Two pins six apart and one far beside their middle: straight to the way between, by a splice there."""
    map_ = tree_map(np.ones((7, 9, 1), bool), 0.5)
    terminals = [Terminal((pin,), 1) for pin in ((0, 0, 0), (6, 0, 0), (3, far, 0))]
    goals = [one.voxels for one in terminals]
    grown = Greedy(map_, terminals, [map_.flood(goal, goals, FAR) for goal in goals]).grow()
    assert grown is not None
    assert grown.splices == ((3, 0, 0),)
    assert grown.cost_mm == pytest.approx(6.0 + far + 0.5, abs=0.01)


def test_what_it_costs_to_have_something_inside_a_chain() -> None:
    """Nothing for a pin of two wires, a splice for one of one wire; a hole is always an end."""
    self: Any = SimpleNamespace(_splice_mm=9.0)
    assert NetWiring._inner(self, Reach(end("p"), (), 1)) == 9.0
    assert NetWiring._inner(self, Reach(end("p"), (), 2)) == 0.0
    assert NetWiring._inner(self, Reach(Portal("n", 0, 1), (), 2)) == math.inf


def test_a_search_without_memory_is_told() -> None:
    """The kernel answers 0 where it has none left; every other answer is one."""
    map_ = tree_map(np.ones((2, 2, 2), bool), 1.0)
    for answer in (1, 2, 7):
        map_.done(answer)
    with pytest.raises(MemoryError, match="ran out of memory"):
        map_.done(0)
