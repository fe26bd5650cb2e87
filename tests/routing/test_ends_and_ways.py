"""Pins joined inside, solid ends, what a net asks for once, room that a bundle wants, mirror images."""

from __future__ import annotations

import math
import pickle
from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from scipy.sparse.csgraph import dijkstra

from fitplan.model.nets import Net
from fitplan.model.part import Pin
from fitplan.model.solids import Box
from fitplan.routing.map.ends import NetEnd, ResolvedNet, _with_joined_pins
from fitplan.routing.map.handedness import to_be_mirrored
from fitplan.routing.negotiation.negotiated import Conflict
from fitplan.routing.negotiation.squeezed import room_wanted
from fitplan.routing.trees import net_ways
from fitplan.routing.trees.net_ways import NetWays
from fitplan.routing.trees.tree_map import Terminal, TreeUndecidedError, VoxelTree
from fitplan.routing.ways.shortest_ways import WayMap

from .lattice_graph import lattice_graph

# -- pins that a part joins inside ---------------------------------------------------------------------------


def board(**wires: int) -> Any:
    """A board with pins on one rail, each taking so many wires, and two pins that are not joined."""
    pins = [Pin(name, "ground", (0.0, 0.0, 0.0), "+x", wires=n, joined="rail") for name, n in wires.items()]
    pins += [Pin(name, "signal", (0.0, 0.0, 0.0), "+x") for name in ("A", "B")]
    return SimpleNamespace(
        pins_of=lambda owner: tuple(pins) if owner == "board" else (Pin("p", "signal", (0.0,) * 3, "+x"),),
        placement=lambda owner: None,
        vehicle_of=lambda owner: "a",
        pin_map=(),
    )


def ends_of(name: str, *pins: str) -> ResolvedNet:
    ends = [NetEnd(name, *pin.split("."), "a", (0.0, 0.0, 0.0), "+x", wires=1) for pin in pins]  # type: ignore[misc, arg-type]
    return ResolvedNet(Net(name, "ground", ()), tuple(ends))


def given(built: Any, *nets: ResolvedNet) -> list[list[list[str]]]:
    """Return by net and end the pins it may use."""
    return [[[pin.pin for pin in end.pins] for end in net.ends] for net in _with_joined_pins(built, nets)]


def test_each_net_gets_the_free_pins_that_are_joined_with_its_own() -> None:
    """As many as it may have wires there; what another net has is not free; ends on one rail are one."""
    three = ("x.p", "y.p", "z.p")
    assert given(board(G1=1, G2=1, G3=1, G4=1), ends_of("n", "board.G2", *three)) == [
        [["G2", "G1", "G3"], ["p"], ["p"], ["p"]]
    ]
    assert given(board(G1=2, G2=1, G3=1), ends_of("n", "board.G2", *three))[0][0] == ["G2", "G1"]
    assert given(board(G1=1, G2=1), ends_of("n", "board.G2", "x.p"))[0][0] == ["G2"]
    both = ends_of("n", "board.G1", "board.G3", "x.p")
    assert given(board(G1=1, G2=1, G3=1), both) == [[["G1", "G2", "G3"], ["p"]]]
    # The first net's pin is not the second's: it has a free one of the same rail, or shares where none is.
    same = [ends_of(name, "board.G1", "x.p") for name in "nml"]
    assert given(board(G1=1, G2=1), *same) == [[["G1"], ["p"]], [["G2"], ["p"]], [["G1"], ["p"]]]
    # Nor are pins that a net names itself, now or later.
    first, second = ends_of("n", "board.G1", *three), ends_of("m", "board.G2", *three)
    assert given(board(G1=1, G2=1, G3=1, G4=1), first, second) == [
        [["G1", "G3", "G4"], ["p"], ["p"], ["p"]],
        [["G2"], ["p"], ["p"], ["p"]],
    ]
    assert given(board(G1=1), ends_of("n", "board.A", "board.B", "x.p")) == [[["A"], ["B"], ["p"]]]
    used = board(G1=1, G2=1, G3=1)
    used.pin_map = (SimpleNamespace(controller="board", pin="G2"),)
    assert given(used, ends_of("n", "board.G1", *three))[0][0] == ["G1", "G3"]


# -- ends of ways --------------------------------------------------------------------------------------------


@pytest.mark.parametrize("seed", range(12))
def test_a_way_begins_and_ends_in_free_voxels_alone(seed: int) -> None:
    """Of starts and goals, some solid and some outside: as long as the best pair of free ones (scipy)."""
    rng = np.random.default_rng(seed)
    free = rng.random((9, 8, 7)) > 0.35
    starts, goals = (rng.integers(-1, 9, (5, 3)) for _ in range(2))

    def inside(rows: np.ndarray) -> list[tuple[int, int, int]]:
        some = [
            tuple(row)
            for row in rows.tolist()
            if all(0 <= c < n for c, n in zip(row, free.shape, strict=True))
        ]
        return [row for row in some if free[row]]

    lengths = dijkstra(lattice_graph(free))
    place = {row: int(np.ravel_multi_index(row, free.shape)) for row in (*inside(starts), *inside(goals))}
    wanted = min(
        (lengths[place[a], place[b]] for a in inside(starts) for b in inside(goals)), default=math.inf
    )
    for check in (True, False):
        way = WayMap(free, 1.0).way_between(starts.tolist(), goals.tolist(), check_rooms=check)
        if way is None:
            assert wanted == math.inf
            continue
        assert way.length_mm == pytest.approx(wanted)
        assert free[tuple(way.voxels.T)].all()
        assert tuple(way.voxels[0].tolist()) in inside(starts)
        assert tuple(way.voxels[-1].tolist()) in inside(goals)


# -- what one net asks for, once -----------------------------------------------------------------------------


class Trees:
    """A map of trees that counts what it is asked, and whose way between two is known."""

    made = 0

    def __init__(self, room: Any, ground: Any, *, further_mm: float, taken: Any, kept: Any) -> None:
        Trees.made += 1
        self.kept = {**kept, A.voxels: Trees.made}
        self.asked: list[Any] = []
        self.held: list[Any] = [taken]

    def way(self, one: Terminal, other: Terminal) -> Any:
        self.asked.append((one, other))
        shut = one.wires == 9 or other.wires == 9
        return None if shut else np.array([one.voxels[0], (5, 5, 5), other.voxels[0]], np.int32)

    def cost_mm(self, one: Terminal, other: Terminal) -> float | None:
        self.asked.append((one, other))
        return None if 9 in (one.wires, other.wires) else 12.5

    def best_splice(self, terminals: Any) -> Any:
        self.asked.append(terminals)
        return None if len(terminals) > 3 else (7, 7, 7)

    def take(self, voxels: Any) -> None:
        self.held.append(voxels)

    def kept_floods(self) -> Any:
        return self.kept


@pytest.fixture
def ways(monkeypatch: pytest.MonkeyPatch) -> NetWays:
    monkeypatch.setattr(net_ways, "TreeMap", Trees)
    monkeypatch.setattr(net_ways, "round_splices", lambda map_, spots: [("round", *spot) for spot in spots])
    map_: Any = SimpleNamespace(room=lambda diameter, ends: (diameter, ends), name="loco")
    allowances: Any = SimpleNamespace(strip=2.0)
    Trees.made = 0
    none: Any = None
    return NetWays("n", map_, none, 1.2, (), allowances, [(1, 1, 1)], lambda pins: False)


A, B, C, SHUT = (Terminal(((k, 0, 0),), 9 if k == 3 else 1) for k in range(4))


def test_ways_and_costs_are_asked_for_once_and_known_both_ways_round(ways: NetWays) -> None:
    """The way back is the way turned round; where there is none it costs without end; to itself nothing."""
    there, back = ways.way(A, B), ways.way(B, A)
    assert there is not None
    assert back is not None
    assert there.tolist() == [[0, 0, 0], [5, 5, 5], [1, 0, 0]]
    assert back.tolist() == there.tolist()[::-1]
    assert ways.way(A, SHUT) is None
    assert ways.way(SHUT, A) is None
    assert (ways.cost(A, B), ways.cost(B, A), ways.cost(A, SHUT)) == (12.5, 12.5, math.inf)
    assert ways.cost(A, Terminal(A.voxels, 5)) == 0.0
    trees: Any = ways._trees
    assert trees.asked == [(A, B), (A, SHUT), (A, B), (A, SHUT)]
    assert Trees.made == 1
    ways.let_go()
    assert ways.way(A, B) is there
    assert Trees.made == 1
    # What took long to find goes from one map to the next, until nothing more will be asked.
    assert ways._floods == {A.voxels: 1}
    assert pickle.loads(pickle.dumps(ways.__getstate__() | {"_map": None, "_hurry": None}))["_floods"] == {}
    assert ways.way(B, C) is not None
    assert Trees.made == 2
    assert not ways._floods
    ways.let_go(for_good=True)
    assert not ways._floods


def test_a_splice_is_asked_for_once_and_keeps_others_away_where_it_is_to(ways: NetWays) -> None:
    """What lies round the splices of other nets is held from the first on."""
    assert ways.splice(A, B, C) == (7, 7, 7)
    trees: Any = ways._trees
    assert trees.held == [[("round", 1, 1, 1)]]
    assert ways.splice(A, B, apart=True) == (7, 7, 7)
    assert trees.held == [[("round", 1, 1, 1)], [("round", 7, 7, 7)]]
    assert ways.splice(A, B, apart=True) == (7, 7, 7)
    assert ways.splice(A, B, C, SHUT, apart=True) is None
    assert len(trees.held) == 2
    assert trees.asked == [(A, B, C), (A, B), (A, B, C, SHUT)]


def test_trees_without_a_proof_are_told_and_those_not_found_are_undecided(
    ways: NetWays, monkeypatch: pytest.MonkeyPatch
) -> None:
    """With what they cost and the least that any could; each search is made once, in a hurry if told."""
    asked: list[bool] = []
    found: Any = VoxelTree((), (), (), 40.126, False, 33.333)

    def search(trees: Any, terminals: Any, *, quickly: bool, to_compare: bool, bounded: bool) -> Any:
        assert bounded
        assert not to_compare
        asked.append(quickly)
        if SHUT in terminals:
            raise TreeUndecidedError("given up")
        return None if len(terminals) == 2 else found

    monkeypatch.setattr(net_ways, "shortest_tree", search)
    assert ways.tree((A, B, C)) is found
    assert ways.tree((A, B, C)) is found
    assert asked == [False]
    (told,) = ways.unproved.values()
    assert (told.net, told.vehicle, told.pins, told.cost_mm, told.least_mm) == ("n", "loco", 3, 40.13, 33.33)
    assert ways.tree((A, B)) is None
    assert not ways.undecided
    ways._hurry = lambda pins: pins > 2
    assert ways.tree((A, B, SHUT)) is None
    assert ways.undecided
    assert asked == [False, False, True]
    assert len(ways.unproved) == 1


def test_bounds_are_looked_for_later_once_and_only_where_a_proof_is_missing(
    ways: NetWays, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Trees stay as they were found; later ones are bounded at once, and hurried ones not at all."""
    asked: list[Any] = []
    open_: Any = VoxelTree((), (), (), 40.0, False, 10.0)
    proved: Any = VoxelTree((), (), (), 30.0, True)

    def search(trees: Any, terminals: Any, *, quickly: bool, to_compare: bool, bounded: bool) -> Any:
        asked.append(bounded)
        return proved if len(terminals) == 3 else open_

    def bounded(trees: Any, terminals: Any, tree: Any) -> Any:
        asked.append(terminals)
        return replace(tree, least_mm=25.0)

    monkeypatch.setattr(net_ways, "shortest_tree", search)
    monkeypatch.setattr(net_ways, "bounded_tree", bounded)
    ways._bounds_later, ways._hurry = True, lambda pins: pins > 5
    four, six = (A, B, C, A), (A, B, C, A, B, C)
    for terminals in ((A, B, C), four, six):
        ways.tree(terminals)
    assert asked == [False] * 3
    assert [told.least_mm for told in ways.unproved.values()] == [10.0, 10.0]
    ways.bound()
    ways.bound()
    assert asked == [False, False, False, four]
    assert [told.least_mm for told in ways.unproved.values()] == [25.0, 10.0]
    assert (ways.tree(four).cost_mm, ways.tree(four).least_mm) == (40.0, 25.0)  # type: ignore[union-attr]
    ways.tree((A, B))
    assert asked[4:] == [True]


# -- the room that a bundle wants ----------------------------------------------------------------------------


def test_a_squeeze_is_the_tight_stretch_round_its_place() -> None:
    """Boxes as wide as the bundle, from where it is tight before the place to where it is behind it."""
    voxels = np.array([(k, 0, 0) for k in range(10)], np.int32)
    clear = np.full((10, 1, 1), 1.0)
    clear[[1, 2, 4, 5, 6, 8]] = 0.9
    map_: Any = SimpleNamespace(
        name="a",
        clear_radius=lambda voxels: clear[tuple(voxels.T)],
        frame=SimpleNamespace(centers=lambda rows: rows * 0.8 + np.array([0.0, 3.0, 5.0])),
    )
    layout: Any = SimpleNamespace(true_point=lambda name, point: (point[0], 40.0 - point[1], point[2]))
    ways: Any = {"run": SimpleNamespace(voxels=voxels), "none": None}

    def squeezed(place: Any, used: float = 2.0, run: str = "run") -> list[Box]:
        return room_wanted(Conflict(place, (run,), used, 1.0), ways, map_, layout)

    def boxes(first: int, last: int, half: float = 1.0) -> list[Box]:
        return [
            Box((0.8 * k - half, 37.0 - half, 5.0 - half), (0.8 * k + half, 37.0 + half, 5.0 + half))
            for k in range(first, last + 1)
        ]

    def same(one: list[Box], two: list[Box]) -> bool:
        return np.allclose([(*b.low, *b.high) for b in one], [(*b.low, *b.high) for b in two])

    assert same(squeezed((5, 0, 0)), boxes(4, 6))
    assert same(squeezed((5, 1, 0)), boxes(4, 6))
    assert same(squeezed((1, 0, 0)), boxes(1, 2))
    assert same(squeezed((3, 0, 0)), boxes(1, 6))
    assert same(squeezed((8, 0, 0)), boxes(8, 8))
    assert same(squeezed((5, 0, 0), used=2.4), boxes(0, 9, 1.2))
    assert squeezed("port") == []
    assert squeezed((5, 0, 0), run="none") == []


# -- left and right ------------------------------------------------------------------------------------------


@pytest.mark.parametrize("seed", range(10))
def test_of_a_map_and_its_image_one_is_mirrored(seed: int) -> None:
    """By the first voxel that differs, or by the first place aside where none does, however little it is."""
    rng = np.random.default_rng(seed)
    free = rng.random((5, 6, 4)) > 0.5
    aside = rng.uniform(-9, 9, 3).tolist()
    assert to_be_mirrored(free, aside) != to_be_mirrored(free[:, ::-1], [-off for off in aside])
    both = free | free[:, ::-1]
    for little in (1e-5, 0.01, 0.05, 3.0):
        assert to_be_mirrored(both, [0.0, little, -9.0])
        assert not to_be_mirrored(both, [0.0, -little, 9.0])
    assert not to_be_mirrored(both, [0.0, 1e-9, -1e-9])
