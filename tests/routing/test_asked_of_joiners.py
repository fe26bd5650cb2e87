"""What nets are joined by in a vehicle, asked one rule at a time of what stands in for maps and searches."""

from __future__ import annotations

import itertools
import math
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from fitplan.model.nets import Net
from fitplan.routing.harness.styles import _Comparison
from fitplan.routing.map.ends import NetEnd, ResolvedNet
from fitplan.routing.map.topology import Portal, Reach, SpliceSpot
from fitplan.routing.negotiation.net_joining import NetJoining, NetTask, StyleQuestion
from fitplan.routing.negotiation.vehicle_wiring import VehicleRouting
from fitplan.routing.trees.net_wiring import NetWiring
from fitplan.routing.trees.pieces import MOST_IN_SPLICE, NetEdge
from fitplan.routing.trees.tree_map import Terminal


def end(owner: str, vehicle: str = "a", **more: Any) -> NetEnd:
    return NetEnd("n", owner, "p", vehicle, (0.0, 0.0, 0.0), "+x", **more)


def reach(owner: str, x: int, wires: int = 1, **more: Any) -> Reach:
    return Reach(end(owner, **more), ((x, 0, 0),), wires)


def edge(one: Reach | SpliceSpot, other: Reach | SpliceSpot) -> NetEdge:
    nodes = [node.node if isinstance(node, Reach) else node for node in (one, other)]
    return NetEdge(nodes[0], nodes[1], np.array([(0, 0, 0), (1, 0, 0)], np.int32))


# -- branches ------------------------------------------------------------------------------------------------

CELL, HOLE = reach("cell", 0), Reach(Portal("n", 0, 1), ((90, 0, 0),))
LAMPS = [reach(f"lamp {k}", 40 + k, 2, load="lamp") for k in range(4)]


def branching(inside: Any, main: Any) -> Any:
    asked: list[Any] = []

    def over(terminals: Any, members: Any) -> Any:
        asked.append((terminals, members))
        return main

    def off(one: Terminal, other: Terminal) -> float:
        return float(min(abs(a[0] - b[0]) for a in one.voxels for b in other.voxels))

    self = SimpleNamespace(
        _ways=SimpleNamespace(
            nearest=lambda some, other: min(off(one, other) for one in some),
            within=lambda one, two, most: off(one, two) <= most,
        ),
        _tree=lambda branch: inside(branch), _tree_over=over, asked=asked,
        _map=SimpleNamespace(frame=SimpleNamespace(pitch=0.8)),
    )  # fmt: skip
    self._branches = lambda some: NetWiring._branches(self, some)  # type: ignore[arg-type]
    return self


def test_a_branch_is_reached_at_what_has_a_place_left() -> None:
    """Of four lamps in a row those inside have both their wires; a lamp alone is reached as it is."""
    alone = reach("far", 70, 1, load="sounder")
    row = [edge(one, other) for one, other in itertools.pairwise(LAMPS)]
    main = [edge(CELL, HOLE)]
    self = branching(lambda branch: list(row), main)
    assert NetWiring._branched(self, [CELL, *LAMPS, alone, HOLE]) == row + main
    ((terminals, members),) = self.asked
    assert [list(group) for group in members] == [[CELL], [HOLE], [LAMPS[0], LAMPS[3]], [alone]]
    assert terminals == [
        Terminal(CELL.voxels, 1),
        Terminal(HOLE.voxels, 1),
        Terminal((*LAMPS[0].voxels, *LAMPS[3].voxels), 1),
        Terminal(alone.voxels, 1),
    ]


def test_what_cannot_branch_off_does_not() -> None:
    """Nothing but loads or none, a branch without a tree or without a place left, no tree over all."""
    row = [edge(one, other) for one, other in itertools.pairwise([*LAMPS, LAMPS[0]])]
    tree = [edge(CELL, HOLE)]
    for inside, main, reaches in (
        (lambda _: row, tree, [CELL, HOLE, *LAMPS]),
        (lambda _: "no splice", tree, [CELL, HOLE, *LAMPS]),
        (lambda _: row[:3], None, [CELL, HOLE, *LAMPS]),
        (lambda _: row[:3], tree, LAMPS),
        (lambda _: row[:3], tree, [CELL, HOLE, HOLE]),
        (lambda _: row[:3], tree, [CELL, LAMPS[0]]),
    ):
        assert NetWiring._branched(branching(inside, main), reaches) is None
    assert NetWiring._branched(branching(lambda _: row[:3], tree), [CELL, *LAMPS]) == row[:3] + tree


def test_a_branch_is_told_by_its_parts_whatever_they_are_called() -> None:
    self: Any = SimpleNamespace(
        net="n", _map=SimpleNamespace(name="a", frame=SimpleNamespace(pitch=0.8)),
        _branched=lambda some: [], _tree=lambda some, to_compare: [],
        _ways=SimpleNamespace(nearest=lambda some, other: 5.0),
    )  # fmt: skip
    self._branches = lambda some: NetWiring._branches(self, some)
    told = NetWiring.trunk(self, [CELL, HOLE, reach("lamp.left", 5, load="lamp")])
    assert told is not None
    assert told.branches == (("lamp.left",),)


# -- why there is none ---------------------------------------------------------------------------------------


@pytest.mark.parametrize("walled", [None, 0, 1, 2])
@pytest.mark.parametrize("undecided", [False, True])
def test_why_a_net_is_not_joined(walled: int | None, undecided: bool) -> None:
    """A way that is shut to any of them comes first, then what was not decided, then splices."""
    reaches = [reach(f"p{k}", k) for k in range(3)]

    def cost(one: Terminal, other: Terminal) -> float:
        shut = walled is not None and ((walled, 0, 0) in one.voxels) != ((walled, 0, 0) in other.voxels)
        return math.inf if shut else 3.0

    self: Any = SimpleNamespace(
        _ways=SimpleNamespace(cost=cost), _map=SimpleNamespace(name="a"), undecided=undecided
    )
    words = NetWiring._why(self, reaches)
    if walled is not None:
        assert words == "no way through a is wide enough"
    else:
        assert words.startswith("no tree was found in a" if undecided else "no splice has room in a")


# -- home runs -----------------------------------------------------------------------------------------------


def homing(shut: int | None = None) -> Any:
    """Return what gives ways but to one place, and a splice wherever one is asked for, each once."""
    spots = itertools.count(100)

    def piece(one: Any, other: Any) -> NetEdge | None:
        closed = shut is not None and ((shut, 0, 0),) in (one[1].voxels, other[1].voxels)
        return None if closed else NetEdge(one[0], other[0], np.array([(0, 0, 0), (9, 0, 0)], np.int32))

    return SimpleNamespace(
        net="n", _piece=piece, _why=lambda reaches: f"why of {len(reaches)}",
        _ways=SimpleNamespace(
            cost=lambda one, other: float(abs(one.voxels[0][0] - other.voxels[0][0])),
            splice=lambda last, apart: (next(spots), 0, 0) if apart else None,
        ),
        _map=SimpleNamespace(name="a", frame=SimpleNamespace(centers=lambda cells: cells * 0.8)),
    )  # fmt: skip


@pytest.mark.parametrize("places", [1, 2, 4])
@pytest.mark.parametrize("count", range(1, 13))
def test_home_runs_take_no_more_splices_than_they_must(places: int, count: int) -> None:
    """The farthest have places of their own; the rest meet in splices of five, one wire of each onwards."""
    home, others = reach("home", 0, places), [reach(f"p{k}", k + 1) for k in range(count)]
    found = NetWiring.home_runs(homing(), home, others)
    assert not isinstance(found, str)
    nodes = [node for piece in found for node in (piece.start, piece.end)]
    wires = {node: nodes.count(node) for node in nodes if isinstance(node, SpliceSpot)}
    rest = 0 if count <= places else count - places + 1
    # The first splice takes five less one onwards; each further one three more: one in, one out.
    assert len(wires) == math.ceil(max(rest - 1, 0) / (MOST_IN_SPLICE - 2))
    assert all(3 <= n <= MOST_IN_SPLICE for n in wires.values())
    assert sum(nodes.count(one.node) for one in others) == count
    assert nodes.count(home.node) == min(count, places)
    straight = {one.node for one in others[rest:]}
    assert {p.start for p in found if p.end == home.node} - set(wires) == straight


def test_home_runs_of_which_one_finds_no_way_are_none() -> None:
    home, others = reach("home", 0, 9), [reach(f"p{k}", k + 1) for k in range(3)]
    for k in range(3):
        assert NetWiring.home_runs(homing(shut=k + 1), home, others) == "why of 4"
    assert NetWiring.home_runs(homing(shut=0), home, others) == "why of 4"


# -- what is asked of the layout that is kept ----------------------------------------------------------------


def test_all_styles_are_worked_out_after_the_trunk() -> None:
    asked: list[Any] = []
    joiner: Any = SimpleNamespace(
        trunk=lambda some: (asked.append(("trunk", some)), "trunk")[1],
        work_out_styles=lambda *given: asked.append(given),
    )
    question = StyleQuestion("a", joiner, (CELL,), (CELL, HOLE), CELL, (HOLE,))
    assert question.ask() == "trunk"  # type: ignore[comparison-overlap]
    assert asked == [("trunk", (CELL,)), ((CELL, HOLE), CELL, (HOLE,))]


def joining(**more: Any) -> tuple[Any, list[Any]]:
    """Return what joins nets in a vehicle without a map, and what it noted."""
    told: list[Any] = []
    notes: Any = SimpleNamespace(
        vehicle="a", questions=[], unproved=[], shortages=[], over=lambda stage: False,
        lose=lambda *given, **other: told.append(given), hurries=None,
    )  # fmt: skip
    self = NetJoining(None, {"a": 0}, {"n": 1.0}, SimpleNamespace(solder=False), notes)  # type: ignore[arg-type]
    for name, value in more.items():
        setattr(self, name, value)
    return self, told


@pytest.mark.parametrize("pinned", [True, False])
@pytest.mark.parametrize("solder", [True, False])
def test_without_an_iron_nets_branch_at_pins_where_these_suffice(pinned: bool, solder: bool) -> None:
    """Else with splices, and the joiner that was asked for those is the one that is kept."""
    made: list[Any] = []
    reaches = [reach(f"p{k}", k) for k in range(3)]

    def joiner(name: str, lanes: Any, *, splices: bool = True) -> Any:
        tree = [edge(reaches[0], reaches[1])] if splices or pinned else "too few places"
        gone: list[int] = []
        made.append(
            SimpleNamespace(
                tree=lambda some: tree, unproved=(), undecided=False, splices=splices, gone=gone,
                let_go=lambda: gone.append(1),
            )
        )  # fmt: skip
        self.joiners[name] = made[-1]
        return made[-1]

    self, told = joining(_joiner=joiner, wiring=SimpleNamespace(solder=solder))
    net = ResolvedNet(Net("n", "signal", ()), tuple(one.node for one in reaches))  # type: ignore[misc]
    found = NetJoining.segments_of(self, NetTask(net, [reaches]))
    assert [(one.start, one.end) for one in found] == [(reaches[0].node, reaches[1].node)]
    with_splices = solder or not pinned
    assert self.joiners["n"].splices is with_splices
    assert self.notes.questions[0].joiner is self.joiners["n"]
    assert [one.splices for one in made] == ([True] if solder else [True, False])
    assert self.joiners["n"].gone == [1]
    assert told == []


@pytest.mark.parametrize("style", ["tree", "chain", "home-run"])
@pytest.mark.parametrize("elsewhere", [True, False])
def test_a_net_of_two_ends_that_turns_back_meets_in_a_third(style: Any, elsewhere: bool) -> None:
    """Where its conductors come by three holes they are joined like three ends; pairs are led straight on."""
    reaches = [reach(f"p{k}", k) for k in range(3)]
    pieces = [edge(reaches[0], reaches[1]), edge(reaches[1], reaches[2])]
    joiner = SimpleNamespace(
        tree=lambda some: pieces, chain=lambda some: pieces, home_runs=lambda home, some: pieces,
        unproved=(), undecided=False, let_go=lambda: None,
    )  # fmt: skip
    self, told = joining(_joiner=lambda name, lanes: joiner, wiring=SimpleNamespace(solder=True))
    self.notes.over = lambda stage: True
    self.notes.vehicle = "b" if elsewhere else "a"
    self.order = {"a": 0, "b": 1}
    net = ResolvedNet(Net("n", "signal", (), style=style), tuple(one.node for one in reaches[:2]))  # type: ignore[misc]
    found = NetJoining.segments_of(self, NetTask(net, [reaches]))
    assert [(one.start, one.end) for one in found] == [(one.start, one.end) for one in pieces]
    (straight,) = NetJoining.segments_of(self, NetTask(net, [reaches[1:]]))
    assert {straight.start, straight.end} == {reaches[1].node, reaches[2].node}
    assert told == []


@pytest.mark.parametrize("found", ["no way", [edge(CELL, HOLE)]])
def test_what_joins_pieces_that_are_built_gives_its_memory_back(found: Any) -> None:
    gone: list[int] = []
    joiner = SimpleNamespace(joined=lambda groups: found, let_go=lambda: gone.append(1), undecided=True)
    self, told = joining(_joiner=lambda net, lanes: joiner)
    segments = NetJoining._joined_to_built(self, "n", [[CELL], [HOLE]])
    assert gone == [1]
    if isinstance(found, str):
        assert segments == []
        assert told == [("n", [CELL.node, HOLE.node], "no way", True)]
    else:
        assert [(one.start, one.end) for one in segments] == [(CELL.node, HOLE.node)]
        assert told == []


@pytest.mark.parametrize("style", ["tree", "chain", "home-run"])
@pytest.mark.parametrize("count", [2, 3])
def test_each_style_is_asked_of_what_lays_it(style: Any, count: int) -> None:
    """Of three and more; two are joined directly; where there is no way, why."""
    reaches = [reach(f"p{k}", k) for k in range(count)]
    joiner = SimpleNamespace(
        tree=lambda some: "tree", chain=lambda some: "chain", home_runs=lambda home, some: "home-run"
    )
    self: Any = SimpleNamespace(
        _joiner=lambda vehicle: joiner, _direct=lambda vehicle, some: "direct",
        _layout=SimpleNamespace(maps={"a": SimpleNamespace(frame=SimpleNamespace(pitch=0.8))}),
    )  # fmt: skip
    net = ResolvedNet(Net("n", "signal", (), style=style), tuple(one.node for one in reaches))  # type: ignore[misc]
    told = _Comparison._inside(self, net, "a", [reaches])
    assert told == ("home-run" if style == "home-run" else style if count > 2 else "direct")
    for name in ("tree", "chain", "home_runs"):
        setattr(joiner, name, lambda *_: [edge(CELL, HOLE)] * 2)
    self._direct = lambda vehicle, some: (7.2, 1)
    copper, joints = _Comparison._inside(self, net, "a", [reaches])
    direct = count == 2 and style != "home-run"
    assert (round(float(copper), 6), joints) == ((7.2, 1) if direct else (1.6, 2))


# -- when it is late -----------------------------------------------------------------------------------------


@pytest.mark.parametrize("late", [0, 1, 2])
def test_nets_whose_turn_comes_after_the_deadline_are_not_decided(late: int) -> None:
    """Those before are joined, each later one is told; what is laid is laid together."""
    over = iter([False] * late + [True] * (2 - late))
    left: list[Any] = []
    laid: list[Any] = []
    routing: Any = VehicleRouting.__new__(VehicleRouting)
    routing.__dict__.update(
        kept=(SimpleNamespace(segment="kept"),), tasks=["one", "two"], trying=False,
        notes=SimpleNamespace(over=lambda stage: next(over)),
        joining=SimpleNamespace(segments_of=lambda task: [f"laid {task}"]),
        _leave=lambda task, why: left.append((task, why)),
        _with_room_to_bend=lambda segments: laid.append(list(segments)),
        _shortened=lambda segments, now: now, _take=lambda segments, now: None, gave_up=False,
    )  # fmt: skip
    assert routing.run() is routing
    assert laid == [["kept", *(f"laid {task}" for task in ["one", "two"][:late])]]
    assert left == [
        (task, "the deadline was reached before its wires were laid") for task in ["one", "two"][late:]
    ]
