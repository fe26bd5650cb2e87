"""Facts that are told in time or not at all, ways at the border of their map, chamfers in turn."""

from __future__ import annotations

import itertools
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from fitplan.lattice.frame import Frame
from fitplan.model.as_built import BuiltEnd, BuiltLeg, BuiltWire
from fitplan.model.nets import Net
from fitplan.routing.harness import facts, styles
from fitplan.routing.map.ends import NetEnd, ResolvedNet
from fitplan.routing.map.topology import Portal, Segment
from fitplan.routing.negotiation.kept_wires import _Standing
from fitplan.routing.negotiation.layout import LaidSegment
from fitplan.routing.negotiation.pulled import pull
from fitplan.routing.ways.bend_room import unchamfered

NOWHERE = np.zeros((0, 3), np.int32)


@pytest.mark.parametrize("late", [False, True])
def test_what_other_styles_take_is_told_in_time_or_not_at_all(
    monkeypatch: pytest.MonkeyPatch, late: bool
) -> None:
    """Branches as well; all else is told in either case, of legs that go anywhere."""
    stages: list[str] = []
    budget: Any = SimpleNamespace(over=lambda stage: (stages.append(stage), late)[1])
    for name in ("port_loads", "hidden_splices"):
        monkeypatch.setattr(facts, name, lambda *_, name=name: (name,))
    monkeypatch.setattr(facts, "_trunks", lambda questions: [f"trunk of {one}" for one in questions])
    monkeypatch.setattr(facts, "compare", lambda *given: () if given[-1].over("compare") else ("style",))
    monkeypatch.setattr(facts, "bends_of", lambda wire, leg: (wire.number, len(leg.points)))
    legs = [SimpleNamespace(points=[0] * count) for count in (1, 2, 5)]
    wires = (SimpleNamespace(number=3, legs=legs), SimpleNamespace(number=4, legs=legs[:1]))
    built: Any = SimpleNamespace(
        harness=SimpleNamespace(wires=wires, facts=SimpleNamespace(alike=(("n", "m", "RD"),)))
    )
    layout: Any = SimpleNamespace(maps={}, questions=["n"], shortages=["short"], unproved=["unproved"])
    told: Any = facts.wiring_facts(built, layout, budget)
    assert told.bends == ((3, 2), (3, 5))
    assert (told.ports, told.hidden_splices) == (("port_loads",), ("hidden_splices",))
    assert (told.shortages, told.unproved, told.alike) == (("short",), ("unproved",), (("n", "m", "RD"),))
    assert told.trunks == (() if late else ("trunk of n",))
    assert told.styles == (() if late else ("style",))
    assert stages[0] == "styles of wiring"


@pytest.mark.parametrize("time", [0, 1, 2, 9])
def test_styles_are_compared_of_nets_of_three_that_are_wired(
    monkeypatch: pytest.MonkeyPatch, time: int
) -> None:
    """All that there is time for; two pins, nets without a wire and those that lost a pin are left out."""
    left = iter([False] * time + [True] * 9)
    budget: Any = SimpleNamespace(over=lambda stage: next(left))
    asked: list[Any] = []

    def comparison(built: Any, harness: Any, layout: Any, net: Any, diameter: float) -> Any:
        asked.append((net.net.name, diameter))
        return SimpleNamespace(cost=lambda style: f"{net.net.name} {style}")

    monkeypatch.setattr(styles, "_Comparison", comparison)

    def net(name: str, count: int) -> ResolvedNet:
        ends = (NetEnd(name, f"p{k}", "p", "a", (0.0, 0.0, 0.0), "+x") for k in range(count))
        return ResolvedNet(Net(name, "signal", (), style="chain"), tuple(ends))

    layout: Any = SimpleNamespace(
        nets=[net("three", 3), net("two", 2), net("lost", 3), net("none", 3), net("four", 4)]
    )
    harness: Any = SimpleNamespace(
        wires=[
            SimpleNamespace(net=name, outer_mm=1.0 + len(name)) for name in ("three", "two", "lost", "four")
        ],
        unreached=[SimpleNamespace(net="lost")],
    )
    found = styles.compare(None, harness, layout, budget)  # type: ignore[arg-type]
    wanted = [("three", 3), ("four", 4)] if time == 9 else [("three", 3)] if time else []
    assert [(one.net, one.pins) for one in found] == wanted
    assert [one.costs for one in found] == [
        tuple(f"{name} {style}" for style in ("tree", "home-run", "chain")) for name, _ in wanted
    ]
    assert all(one.style == "chain" for one in found)
    assert asked == [(name, 1.0 + len(name)) for name, _ in wanted]


@pytest.mark.parametrize("axis", [0, 1, 2])
@pytest.mark.parametrize("upper", [False, True])
def test_a_way_along_the_border_is_pulled_there(axis: int, upper: bool) -> None:
    """In the outermost voxels on either side; nothing but two voxels round its own box is looked at."""
    shape = (12, 11, 10)
    at = shape[axis] - 1 if upper else 0
    along = (axis + 1) % 3
    aside = (axis + 2) % 3
    rows = []
    for k in range(7):
        row = [5, 5, 5]
        row[axis], row[along], row[aside] = at, k + 1, 4 + (k == 3)
        rows.append(row)
    asked: list[Any] = []

    def room(diameter: float, ends: Any, window: Any) -> Any:
        asked.append((diameter, ends, window))
        return np.ones(shape, bool)[window]

    map_: Any = SimpleNamespace(frame=Frame((10.0, -4.0, 2.0), shape, 0.8), room=room)
    pin = NetEnd("n", "p", "p0", "a", (0.0, 0.0, 0.0), "+x")
    voxels = np.array(rows, np.int32)
    for start, end in ((Portal("n", 0, 1), Portal("n", 1, 1)), (pin, Portal("n", 0, 1)), (pin, pin)):
        laid = LaidSegment(Segment("n", "a", start, end), voxels, ((1, 2, 3),), NOWHERE)
        found = pull(laid, map_, 1.3)
        middles = [map_.frame.center(tuple(rows[k])) for k in (0, -1)]
        points = [pin.at] * (start is pin) + middles + [pin.at] * (end is pin)
        assert found.points == tuple(tuple(round(c, 4) for c in point) for point in points)
        assert found.length_mm == pytest.approx(
            sum(float(np.linalg.norm(np.subtract(a, b))) for a, b in itertools.pairwise(points))
        )
        diameter, ends, window = asked.pop()
        assert (diameter, ends) == (1.3, ((1, 2, 3),))
        for k, part in enumerate(window):
            low, high = voxels[:, k].min(), voxels[:, k].max()
            assert part == slice(max(low - 2, 0), high + 3)


@pytest.mark.parametrize("first", [1.0, 1.1, 1.2, 1.3])
def test_of_two_chamfers_the_shorter_is_one_corner(first: float) -> None:
    """Three turns of 45° with 1.15 mm between the last two: either two of them could be one, but not all."""
    dirs, lengths = np.radians([0.0, 45.0, 90.0, 135.0]), [10.0, first, 1.15, 10.0]
    points = [np.zeros(3)]
    for turn, length in zip(dirs, lengths, strict=True):
        points.append(points[-1] + length * np.array([np.cos(turn), np.sin(turn), 0.0]))
    chain = np.array(points)
    found = unchamfered(chain, 0.5, 2.0)
    assert len(found) == 4
    kept = 3 if first < 1.15 else 1  # the corner that is left as it was
    assert np.abs(found - chain[kept]).max(axis=1).min() < 1e-9
    assert np.abs(found - chain[2]).max(axis=1).min() > 0.1
    back = unchamfered(chain[::-1].copy(), 0.5, 2.0)
    assert back[::-1] == pytest.approx(found)


@pytest.mark.parametrize("pair", [False, True])
def test_a_style_costs_what_lies_in_vehicles_and_over_couplings(
    monkeypatch: pytest.MonkeyPatch, pair: bool
) -> None:
    """Copper of each vehicle passed, straight track for each conductor, two joints more in a connector."""
    monkeypatch.setattr(styles, "lanes_of", lambda net, order: [(1, 3, "one"), (2, 3, "two")])
    net = ResolvedNet(Net("n", "signal", ()), ())
    inside = {"b": (10.25, 1), "c": (20.5, 2), "d": (40.125, 3)}
    asked: list[Any] = []

    def within(one: Any, vehicle: str, lanes: Any) -> Any:
        asked.append((one.net.style, vehicle, lanes))
        return inside[vehicle]

    ports = {
        k: SimpleNamespace(ahead=f"v{k}", behind=f"v{k + 1}", port_ahead=SimpleNamespace(name="rear"),
                           port_behind=SimpleNamespace(name="front"))
        for k in (1, 2)
    }  # fmt: skip
    self: Any = SimpleNamespace(
        _net=net, _order={}, _names=list("abcde"), _ports=ports, _straight={("v2", "rear", "front"): 7.0},
        _too_narrow=lambda coupling, conductors: "", _inside=within,
        _reaches=lambda number, *lane: (number, *lane),
        _built=SimpleNamespace(train=SimpleNamespace(pair_at=lambda ahead, behind: "pair" if pair else "")),
    )  # fmt: skip
    found = styles._Comparison.cost(self, "home-run")
    # One conductor over the first coupling, of which nothing is known; two over the second.
    assert found.copper_mm == round(10.25 + 20.5 + 40.125 + 2 * 7.0, 2)
    assert (found.style, found.joints, found.across) == ("home-run", 6 + (6 if pair else 0), 3)
    one, two = (1, 3, "one"), (2, 3, "two")
    assert asked == [
        ("home-run", "b", [(1, *one)]), ("home-run", "c", [(2, *one), (2, *two)]),
        ("home-run", "d", [(3, *one), (3, *two)]),
    ]  # fmt: skip
    inside["c"] = "no way"  # type: ignore[assignment]
    assert styles._Comparison.cost(self, "tree").reason == "no way"
    self._too_narrow = lambda coupling, conductors: f"{conductors} at {coupling}" if coupling == 2 else ""
    assert styles._Comparison.cost(self, "tree").reason == "2 at 2"


@pytest.mark.parametrize("lacks", ["", "beyond", "pair", "mate", "facing"])
@pytest.mark.parametrize("first", [False, True])
def test_a_wire_ends_in_a_connector_only_where_all_of_it_is_there(lacks: str, first: bool) -> None:
    """A vehicle beyond, a pair at that coupling, the wire that goes on, and a port that faces it."""
    asked: list[Any] = []
    leg = BuiltLeg("a", ((0.0, 0.0, 0.0), (1.0, 0.0, 0.0)))
    end = BuiltEnd("connector", "J1", "2")
    wire = BuiltWire(1, "n", "RD", 28, 9.0, end, end, (leg, leg, leg))

    def told(name: str, answer: Any) -> Any:
        def ask(*given: Any, **more: Any) -> Any:
            asked.append((name, given, more))
            return None if name == lacks else answer

        return ask

    self: Any = SimpleNamespace(
        _beyond=told("beyond", "b"), _pair=told("pair", "pair"), _mate=told("mate", ("leg", True)),
        _facing=told("facing", ("entry", "port")),
    )  # fmt: skip
    assert _Standing._end_there(self, wire, end, leg, first=first) is (lacks == "")
    place = 0 if first else 2
    every = [
        ("beyond", (leg,), {"leaves": not first}), ("pair", ("a", "b"), {}),
        ("mate", (wire, place, not first), {}), ("facing", (leg, not first, wire, place), {}),
    ]  # fmt: skip
    names = [name for name, *_ in every]
    assert asked == every[: names.index(lacks) + 1 if lacks else None]
