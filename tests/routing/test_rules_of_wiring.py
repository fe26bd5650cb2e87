"""Rules of wiring one by one: names, gauges, colours, pins, and what is given up without memory."""

from __future__ import annotations

import itertools
import math
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from fitplan.lattice.frame import Frame
from fitplan.model.as_built import BuiltEnd, BuiltLeg, BuiltWire
from fitplan.model.electrical import Conductor
from fitplan.model.solids import Box
from fitplan.routing.harness import gauges
from fitplan.routing.harness.colours import assign_colours
from fitplan.routing.map.bundles import _around_three
from fitplan.routing.map.ends import NetEnd
from fitplan.routing.map.narrow_places import CapacityPlace, Run
from fitplan.routing.map.topology import Portal, Reach, Segment
from fitplan.routing.map.vehicle_map import GRAZES_MM, VehicleMap
from fitplan.routing.negotiation.kept_wires import KeptWires, _Standing
from fitplan.routing.negotiation.negotiate import negotiate
from fitplan.routing.negotiation.vehicle_wiring import VehicleRouting
from fitplan.routing.trees.net_wiring import NetWiring
from fitplan.routing.trees.pieces import pins_given


def end(owner: str, **more: Any) -> NetEnd:
    return NetEnd("n", owner, "p0", "a", (0.0, 0.0, 0.0), "+x", **more)


# -- what stays ----------------------------------------------------------------------------------------------


def test_only_the_connector_that_a_wire_ends_in_is_named_by_it() -> None:
    """Through vehicles b to d over four couplings; its ends are in a cavity before b and in one behind d."""
    legs = tuple(
        BuiltLeg(name, ((0.0, 0.0, 0.0), (1.0, 0.0, 0.0)), f"{name} in", f"{name} out") for name in "bcd"
    )
    wire = BuiltWire(
        4, "n", "RD", 28, 9.0, BuiltEnd("connector", "J1", "2"), BuiltEnd("connector", "J7", "5"), legs
    )
    order = {name: k for k, name in enumerate("abcde")}

    def portal(wire: BuiltWire, place: int, leg: BuiltLeg, leaves: bool) -> Portal:
        return Portal("n", order[leg.vehicle] - (0 if leaves else 1), -8)

    self: Any = SimpleNamespace(
        _portal=portal, _ports=lambda *_: None, _diameters={"n": 1.0}, _images=frozenset({"c"}),
        _maps={name: SimpleNamespace(vehicle=SimpleNamespace(width=48.0)) for name in "bcd"},
        _node=None,
    )  # fmt: skip
    self._segments = lambda wire, portal: _Standing._segments(self, wire, portal)
    held: list[Portal] = []
    lanes: Any = SimpleNamespace(couplings={}, hold=lambda node, ports, thick: held.append(node))
    found = KeptWires()
    _Standing.take(self, wire, found, lanes)
    assert found.layout.couplings == {0: "J1", 3: "J7"}
    assert found.layout.cavities == {Portal("n", 0, -8): 2, Portal("n", 3, -8): 5}
    assert {node.coupling for node in held} == {0, 1, 2, 3}
    assert found.segments["b"][0].points == legs[0].points
    assert found.segments["c"][0].points == ((0.0, 48.0, 0.0), (1.0, 48.0, 0.0))


# -- gauges --------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("role", ["signal", "supply", "ground"])
def test_only_signals_may_drop_what_they_like(role: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """The limit, the metres of all ways of the net in its vehicles, amperes, and the gauges no thinner."""
    asked: list[Any] = []

    def chosen(amps: float, metres: float, limit: float, stock: Any) -> int:
        asked.append((amps, round(metres, 6), limit, sorted(stock)))
        return 26

    have, thick, thin = Conductor(28, 1, 0.9, 7), Conductor(26, 1, 1.1, 7), Conductor(30, 1, 0.8, 7)
    monkeypatch.setattr(gauges, "choose_gauge", chosen)
    monkeypatch.setattr(gauges, "_singles", lambda built: [have, thick, thin])
    monkeypatch.setattr(gauges, "thick_as_own", lambda built, net, conductor: conductor)
    nets = [
        SimpleNamespace(net=SimpleNamespace(name=name, role=role, lead=lead))
        for name, lead in (("n", ""), ("sold", "a lead"))
    ]
    row = np.array([(k, 0, 0) for k in range(11)], np.int32)
    laid = [SimpleNamespace(voxels=row, segment=SimpleNamespace(net=net)) for net in ("n", "n", "sold")]
    built: Any = SimpleNamespace(train=SimpleNamespace(wiring=SimpleNamespace(drop_limit_v=0.2)))
    layout: Any = SimpleNamespace(laid=laid)
    wished = {"n": have, "sold": have}
    loads: Any = {name: SimpleNamespace(average_ma=250.0) for name in wished}
    metres = gauges.laid_metres(layout)
    found = gauges.thick_enough(built, nets, wished, loads, metres)  # type: ignore[arg-type]
    assert found == {"n": thick, "sold": have}
    assert asked == [(0.25, 2 * 10 * 0.8 / 1000, math.inf if role == "signal" else 0.2, [26, 28])]


# -- colours -------------------------------------------------------------------------------------------------


def test_colours_are_chosen_anew_only_where_two_would_share() -> None:
    """Signals that meet in pairs take the colour used least; only for want of others the liked one."""
    nets: Any = dict.fromkeys("abcd", "signal")
    plan = assign_colours(nets, [["a", "b"], ["c", "d"]])
    assert plan.colours == {"a": "YE", "b": "BU", "c": "YE", "d": "GN"}


# -- bundles -------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("a", "b"), [(2.0, 2.0), (3.0, 1.5), (2.2, 0.9)])
def test_a_third_wire_in_the_hollow_of_two_makes_no_thicker_bundle(a: float, b: float) -> None:
    """Beside two discs on a diameter fits one of ab(a + b)/(a² + ab + b²) (Descartes); a thicker one adds."""
    hollow = a * b * (a + b) / (a * a + a * b + b * b)
    for share in (0.3, 0.8, 0.999, 1.0 - 1e-12):
        assert _around_three(a, b, share * hollow) == a + b
    thicker = [_around_three(a, b, share * hollow) for share in (1.001, 1.01, 1.1) if share * hollow <= b]
    assert all(x < y for x, y in itertools.pairwise([a + b, *thicker]))
    assert all(found < (a + b) * 1.1 for found in thicker)


# -- pins ----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("farther", "pins"), [(3.9, ["G0", "G1"]), (4.1, ["G0", "G0"])])
def test_a_pin_with_a_wire_counts_as_four_millimetres_farther_off(farther: float, pins: list[str]) -> None:
    """Two wires from one point: the second goes to the next pin while that is less than 4 mm farther."""
    other = NetEnd("n", "board", "G1", "a", (farther, 0.0, 0.0), "+x", wires=2)
    first = NetEnd("n", "board", "G0", "a", (0.0, 0.0, 0.0), "+x", wires=2, others=(other,))
    found = pins_given(first, [np.array([-10.0, 0.0, 0.0])] * 2)
    assert sorted(one.pin for one in found) == pins


# -- styles --------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("count", [1, 2, 3, 4])
@pytest.mark.parametrize("home", [True, False])
def test_what_is_asked_for_the_other_styles(count: int, home: bool) -> None:
    """Tree and chain of more than two, each pair's way, home runs where they lead here; memory goes back."""
    asked: list[Any] = []
    reaches = [Reach(end(f"p{k}"), ((k, 0, 0),)) for k in range(count)]
    self: Any = SimpleNamespace(
        tree=lambda some: asked.append(("tree", len(some))),
        chain=lambda some: asked.append(("chain", len(some))),
        home_runs=lambda centre, some: asked.append(("home", centre, len(some))),
        let_go=lambda for_good: asked.append(("gone", for_good)),
        _ways=SimpleNamespace(way=lambda one, two: asked.append((one.voxels[0][0], two.voxels[0][0]))),
    )
    NetWiring.work_out_styles(self, reaches, reaches[0] if home else None, reaches[1:])
    wanted: list[Any] = [("tree", count), ("chain", count)] if count > 2 else []
    wanted += list(itertools.combinations(range(count), 2))
    wanted += [("home", reaches[0], count - 1)] if home else []
    assert asked == [*wanted, ("gone", True)]


# -- places --------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("shared", [0, 1])
def test_no_voxel_belongs_to_two_places(shared: int) -> None:
    """Whether the first or a later place has it; as many places as there are, none by another's name."""
    free = np.ones((6, 3, 3), bool)
    cells = [np.array([(k, 1, 1)]) for k in (2, 3)]
    places = [CapacityPlace(f"p{k}", one, 1) for k, one in enumerate(cells)]
    runs = (Run("r", ((0, 1, 1),), ((5, 1, 1),), 0.8),)
    with pytest.raises(ValueError, match="place 'third' shares a voxel"):
        negotiate(free, runs, places=(*places, CapacityPlace("third", cells[shared], 1)))
    assert negotiate(free, runs, places=places).settled


# -- without memory ------------------------------------------------------------------------------------------


@pytest.mark.parametrize("trying", [False, True])
def test_without_memory_nothing_is_laid_and_all_is_told(trying: bool) -> None:
    """Whether the nets are joined or a try is finished: what came of it goes, every net is not decided."""

    def fails(*_: Any) -> Any:
        raise MemoryError("too large")

    told: list[Any] = []
    task: Any = SimpleNamespace(
        net=SimpleNamespace(net=SimpleNamespace(name="n")), lanes=[[Reach(end("p"), ()), Reach(end("q"), ())]]
    )
    segment = Segment("n", "a", end("p"), end("q"))
    notes = SimpleNamespace(
        over=lambda stage: False, forget=lambda: told.append("forgotten"), unreached=[],
        lose=lambda *lost, **more: told.append((*lost, more)), cut=set(), hurried=False,
    )  # fmt: skip
    routing: Any = VehicleRouting.__new__(VehicleRouting)
    routing.__dict__.update(
        kept=(), tasks=[task], notes=notes, trying=trying, laid=[1], pulled={1: 1}, detours={1: 1},
        squeezes=[1], built={1: 1}, gave_up=False,
        joining=SimpleNamespace(segments_of=fails, bound_trees=fails),
        _from_here=lambda: "from here", _shortened=fails,
        _now=([segment], None, 0) if trying else None,
    )  # fmt: skip
    assert (routing.finish() if trying else routing.run()) is routing
    assert (routing.laid, routing.pulled, routing.detours, routing.squeezes, routing.built) == (
        [],
        {},
        {},
        [],
        {},
    )
    assert routing.gave_up
    assert routing.cut_short
    assert routing.joining == "from here"
    assert told == [
        "forgotten", ("n", [end("p"), end("q")], "not decided: too large", {"undecided": True})
    ]  # fmt: skip


# -- lead-outs -----------------------------------------------------------------------------------------------


@pytest.mark.parametrize("own", [True, False])
def test_a_lead_out_passes_none_of_the_boxes_of_a_part(own: bool) -> None:
    """One of two in the way is enough; a hair deep is none; its own part's boxes are passed unless told."""
    boxes = (Box((4.0, 0, 0), (5, 3, 3)), Box((4.0, 20, 0), (5, 23, 3)))
    hair = (Box((6.0, 0, 0), (6.0 + GRAZES_MM * 0.7, 9, 9)),)
    walls = np.zeros((12, 30, 12), bool)
    self: Any = SimpleNamespace(
        frame=Frame((0.0, 0.0, 0.0), walls.shape, 1.0), walls=walls,
        parts={"p" if own else "other": boxes, "thin": hair, "nothing": ()},
    )  # fmt: skip
    pin = NetEnd("n", "p", "p0", "a", (0.5, 1.5, 1.5), "+x")
    ends = np.array([(9, 1, 1), (9, 8, 1), (3, 1, 1)])
    assert VehicleMap._in_sight(self, pin, ends).tolist() == [own, True, True]
    assert VehicleMap._in_sight(self, pin, ends, past_own=False).tolist() == [False, True, True]
    walls[7, :4] = True
    assert VehicleMap._in_sight(self, pin, ends).tolist() == [False, True, True]
