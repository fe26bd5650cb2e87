"""Searches on small or odd cases: orders, bounds of light graphs, trees one too heavy, circles in holes."""

from __future__ import annotations

import itertools
import math
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from fitplan.lattice.frame import Frame
from fitplan.model.as_built import BuiltEnd, BuiltLeg, BuiltWire
from fitplan.model.nets import Net
from fitplan.routing.harness import styles
from fitplan.routing.map import circle_packing, exact_room
from fitplan.routing.map.circle_packing import MOST_SEARCHED, Rectangle, Round, arrangement, overlap
from fitplan.routing.map.ends import NetEnd, ResolvedNet
from fitplan.routing.map.exact_room import ExactRoom
from fitplan.routing.map.narrow_places import Run
from fitplan.routing.map.topology import Portal, Reach, SpliceSpot
from fitplan.routing.negotiation.kept_wires import _Standing
from fitplan.routing.negotiation.negotiate import negotiate
from fitplan.routing.negotiation.negotiated import NegotiationSettings
from fitplan.routing.negotiation.pulled import _shut
from fitplan.routing.negotiation.vehicle_wiring import VehicleRouting
from fitplan.routing.trees.chain_orders import best_order
from fitplan.routing.trees.tree_map import TreeMap
from fitplan.routing.ways.taut import Tautener

# -- orders and trees ----------------------------------------------------------------------------------------


def test_no_order_of_all_is_shorter() -> None:
    """Lengths by chance, no triangles among them, with what it costs to lie inside; beside all orders."""
    for seed in range(12):
        rng = np.random.default_rng(seed)
        count = 2 + seed % 5
        lengths = rng.integers(1, 60, (count, count)).astype(float)
        lengths += lengths.T
        inner = rng.choice([0.0, 7.0, 30.0], count)
        for extra in (None, inner):

            def cost(order: Any, extra: Any = extra, lengths: Any = lengths) -> float:
                inside = 0.0 if extra is None else float(sum(extra[node] for node in order[1:-1]))
                return inside + float(sum(lengths[a, b] for a, b in itertools.pairwise(order)))

            order = best_order(lengths, extra)
            assert sorted(order) == list(range(count))
            assert cost(order) == min(cost(some) for some in itertools.permutations(range(count)))


# -- circles -------------------------------------------------------------------------------------------------


def test_no_circles_need_no_place_and_too_many_are_not_looked_for(monkeypatch: pytest.MonkeyPatch) -> None:
    """One lies in any hole as wide as it is; what is wider or more than its area is refused at once."""
    assert np.shape(arrangement(Rectangle(9.0, 9.0), [])) == (0, 2)
    for hole in (Rectangle(2.0, 3.0), Rectangle(3.0, 2.0), Round(2.0)):
        found = arrangement(hole, [2.0])
        assert found is not None
        assert overlap(hole, found, [2.0]) == 0.0
    many = [0.1] * MOST_SEARCHED
    assert arrangement(Rectangle(30.0, 30.0), many) is not None

    def searched(*_: Any) -> Any:
        raise AssertionError("it was looked for")

    monkeypatch.setattr(circle_packing, "_relaxed", searched)
    assert arrangement(Rectangle(30.0, 30.0), [*many, 0.1]) is None
    for hole, wires in (
        (Rectangle(2.0, 9.0), [2.01]),
        (Rectangle(9.0, 2.0), [1.0, 2.01]),
        (Round(2.0), [2.01]),
        (Rectangle(2.0, 2.0), [1.2, 1.2, 1.2, 1.2]),
        (Round(2.0), [1.2, 1.2, 1.2]),
    ):
        assert arrangement(hole, wires) is None


# -- what is shut, where splices are, which ends are reached -------------------------------------------------


def test_what_a_way_keeps_off_is_shut_but_for_what_its_steps_span() -> None:
    """On all sides of the window up to its border; what lies outside it is nothing to it."""
    shape = (5, 5, 4)
    every = np.array(list(np.ndindex(7, 7, 6)), np.int32) - 1
    way = np.array([(0, 0, 0), (1, 1, 0), (2, 1, 0), (3, 2, 1)], np.int32)
    spanned = {
        tuple(int(c) for c in cell)
        for a, b in itertools.pairwise(way)
        for cell in itertools.product(*(sorted({p, q}) for p, q in zip(a, b, strict=True)))
    }
    rng = np.random.default_rng(5)
    was = rng.random(shape) > 0.3
    for shut in (every, every[rng.random(len(every)) < 0.4], every[:0]):
        room = was.copy()
        _shut(room, shut, way)
        closed = {tuple(cell) for cell in shut.tolist()} - spanned
        for cell in np.ndindex(shape):
            assert room[cell] == (was[cell] and cell not in closed)


@pytest.mark.parametrize("image", [False, True])
@pytest.mark.parametrize("known", [False, True])
def test_a_built_splice_is_where_it_was_told(image: bool, known: bool) -> None:
    """Or else where its wire ends; in the image of its vehicle on the other side."""
    end = BuiltEnd("splice", "S1", "")
    leg = BuiltLeg("a", ((1.5, 2.5, 3.5), (9.5, 8.5, 7.5)))
    wire = BuiltWire(1, "n", "RD", 28, 9.0, end, end, (leg,))
    there = SimpleNamespace(at=(4.5, 5.5, 6.5)) if known else None
    self: Any = SimpleNamespace(
        _maps={"a": SimpleNamespace(frame=Frame((0.0, 0.0, 0.0), (12, 12, 12), 1.0),
                                    vehicle=SimpleNamespace(width=12.0))},
        _train=SimpleNamespace(as_built=SimpleNamespace(splice=lambda name: there)),
        _images=frozenset("a") if image else frozenset(),
    )  # fmt: skip
    for corner, own in ((0, (1, 2, 3)), (-1, (9, 8, 7))):
        x, y, z = (4, 5, 6) if known else own
        found = _Standing._node(self, wire, end, leg, corner)
        assert found == SpliceSpot("n", "a", (x, 11 - y if image else y, z))


@pytest.mark.parametrize("passed", [(), (0,), (1,), (0, 1)])
def test_what_other_styles_would_join_in_a_vehicle(
    monkeypatch: pytest.MonkeyPatch, passed: tuple[int, ...]
) -> None:
    """The ends in it and the holes to its neighbours that the net passes; asked for once."""
    made: list[Any] = []
    monkeypatch.setattr(styles, "NetWiring", lambda *given: (made.append(given), "joiner")[1])
    monkeypatch.setattr(styles, "reach_of", lambda end, map_: Reach(end, ((1, 1, 1),)))
    ends = tuple(NetEnd("n", name, "p", name, (0.0, 0.0, 0.0), "+x") for name in "abc")
    ports = {k: SimpleNamespace(port_in=lambda map_, k=k: k) for k in passed}
    layout = SimpleNamespace(
        joiners={}, ground=lambda vehicle, allowances: f"ground {vehicle}",
        maps={name: SimpleNamespace(mouth=lambda port: ((9, 9, port),)) for name in "abc"},
    )  # fmt: skip
    self: Any = SimpleNamespace(
        _net=ResolvedNet(Net("n", "signal", ()), ends), _layout=layout, _ports=ports, _names=list("abc"),
        _order={name: k for k, name in enumerate("abc")}, _diameter=1.3,
        _built=SimpleNamespace(train=SimpleNamespace(wiring=SimpleNamespace(allowances="allowances"))),
    )  # fmt: skip
    self._reaches = lambda *given: styles._Comparison._reaches(self, *given)
    for name, beside in (("a", (0,)), ("b", (0, 1)), ("c", (1,))):
        assert styles._Comparison._joiner(self, name) == "joiner"
        ((net, map_, ground, diameter, every, allowances),) = made
        assert (net, ground, diameter, allowances) == ("n", f"ground {name}", 1.3, "allowances")
        assert map_ is layout.maps[name]
        assert [reach.node for reach in every] == [
            ends["abc".index(name)], *(Portal("n", k, 0) for k in beside if k in passed)
        ]  # fmt: skip
        assert [reach.voxels for reach in every[1:]] == [((9, 9, k),) for k in beside if k in passed]
        layout.joiners["n", name] = "known"
        assert styles._Comparison._joiner(self, name) == "known"
        made.clear()


# -- drawn tight and finished --------------------------------------------------------------------------------


@pytest.mark.parametrize("axis", [None, 0, 1, 2])
@pytest.mark.parametrize("sign", [-1, 1])
def test_a_corner_that_slid_out_of_its_box_is_drawn_among_all_boxes(
    monkeypatch: pytest.MonkeyPatch, axis: int | None, sign: int
) -> None:
    """Along any one axis, on either side; else what is near is all that is in the way."""
    way = np.array([(0.0, 0.0, 0.0), (4.0, 5.0, 6.0), (8.0, 9.0, 9.0)])
    asked: list[Any] = []

    def drawn_tight(points: Any, low: Any, high: Any) -> Any:
        asked.append((low.tolist(), high.tolist()))
        found = way.copy()
        if axis is not None and len(asked) == 1:
            found[1, axis] = -0.01 if sign < 0 else way[:, axis].max() + 0.01
        return found

    monkeypatch.setattr(exact_room, "drawn_tight", drawn_tight)
    self: Any = SimpleNamespace(around=lambda low, high, points, diameter: (low, high))
    assert (ExactRoom.tightened(self, way, 1.0) == way).all()
    near, far = ([0.0, 0.0, 0.0], [8.0, 9.0, 9.0]), ([-math.inf] * 3, [math.inf] * 3)
    assert asked == ([near] if axis is None else [near, far])


@pytest.mark.parametrize("told", [0, 2])
def test_a_try_that_is_finished_is_one_no_more(told: int) -> None:
    """Trees are bounded, ways shortened and told anew: what was told of ways goes, what was before stays."""
    taken: list[Any] = []
    routing: Any = VehicleRouting.__new__(VehicleRouting)
    routing.__dict__.update(
        trying=True, _now=(["segments"], "laid", told), squeezes=["old"], gave_up=False, kept=(), tasks=[],
        notes=SimpleNamespace(unreached=["a", "b", "c"], hurried=False),
        joining=SimpleNamespace(bound_trees=lambda: taken.append("bounds")),
        _shortened=lambda segments, laid: f"shorter than {laid}",
        _take=lambda segments, laid: taken.append((segments, laid)),
    )  # fmt: skip
    assert routing.can_be_finished
    assert routing.finish() is routing
    assert (routing.trying, routing._now, routing.squeezes) == (False, None, [])
    assert routing.notes.unreached == ["a", "b", "c"][:told]
    assert taken == ["bounds", (["segments"], "shorter than laid")]
    assert not routing.can_be_finished
    # A try that was hurried, or one that is not begun, is run as a whole.
    for now, hurried in ((None, False), ((["segments"], "laid", 0), True)):
        ran: list[int] = []
        routing.__dict__.update(_now=now, run=lambda ran=ran: (ran.append(1), routing)[1])
        routing.notes.hurried = hurried
        assert routing.finish() is routing
        assert ran == [1]


@pytest.mark.parametrize("turns", range(4))
def test_a_way_that_the_kernel_keeps_no_more_of_stays_as_it_is(turns: int) -> None:
    """From whichever end it was pulled last, it is handed back from its start to its goal."""
    start, goal = (0.0, 0.0, 0.0), (9.0, 5.0, 0.0)
    held: dict[str, Any] = {"asked": 0}

    def call(name: str, count: int, *rest: Any) -> int:
        held["asked"] += 1
        return 0 if held["asked"] > turns else count

    self: Any = SimpleNamespace(
        _kernel=SimpleNamespace(call=call, view=lambda at, shape, kind: held["rows"] * 0.9), _half=1.0,
        _points_at=0, _put=lambda chain: (held.update(rows=chain.copy()), len(chain))[1],
    )  # fmt: skip
    chain = np.array([start, (4.0, 1.0, 0.0), goal])
    found = Tautener._pull(self, chain)
    assert held["asked"] == turns + 1
    assert found == pytest.approx(chain * 0.9**turns)


def test_a_walk_without_memory_is_told() -> None:
    self: Any = SimpleNamespace(
        _way_room=0, size=9, node_of=lambda voxel: 3, done=lambda answer: TreeMap.done(self, answer),
        kernel=SimpleNamespace(call=lambda *given: 0),
    )  # fmt: skip
    with pytest.raises(MemoryError, match="ran out of memory"):
        TreeMap.walk(self, 0, (1, 1, 1))


@pytest.mark.parametrize("patience", [1, 2, 4])
def test_rounds_in_which_nothing_grows_better_are_counted(patience: int) -> None:
    """Three wires in a channel for fewer: as many conflicts in each round, so it ends with its patience.

    Once its patience is at an end, all that is too narrow is shunned, and it has as much again.
    """
    free = np.zeros((30, 12, 12), bool)
    free[:, 4:8, 4:8] = True
    runs = tuple(Run(f"net {i}", ((1, 5, 4 + i),), ((28, 5, 4 + i),)) for i in range(3))
    for rounds in (1, 3, patience, 9):
        done = negotiate(free, runs, settings=NegotiationSettings(rounds=rounds, patience=patience))
        assert len(done.conflicts) == 1
        assert done.rounds == min(rounds, 1 + 2 * patience)
