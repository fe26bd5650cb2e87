"""From a placed train to its harness: wires, splices, crossings and what cannot be reached."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass, replace

import networkx as nx
import numpy as np
import pytest

from fitplan.files.catalogue import read_catalogue
from fitplan.model.built import BuiltTrain
from fitplan.model.needed import Need
from fitplan.model.nets import Net, PinRef, WiringStyle
from fitplan.model.part import Part
from fitplan.model.placed import Placement
from fitplan.model.solids import Place, poses
from fitplan.model.train import Train
from fitplan.model.wired import Harness, Wire
from fitplan.model.wiring import Allowances
from fitplan.routing.harness.harness import wire_train
from fitplan.routing.map.ends import NetEnd
from fitplan.routing.map.topology import SpliceSpot
from fitplan.routing.trees.pieces import NetEdge, one_sleeve
from tests.packing.small_trains import block, hollow, train_of

FLOOR = 19.2


@dataclass(frozen=True)
class Flow:
    """A current that flows all the time."""

    average_ma: float
    peak_ma: float


def built_of(
    spots: dict[str, tuple[str, float, float]],
    nets: dict[str, list[str]],
    *,
    style: WiringStyle = "tree",
    wires: int = 2,
    boards: dict[str, int] | None = None,
    studs: tuple[int, int, int] = (14, 6, 9),
) -> BuiltTrain:
    """Return a train of two hollow wagons with blocks at (vehicle, x, y) on the floor, and nets of pins.

    Pins take so many wires; boards have so many pins of one wire that are joined inside.
    """
    vehicles = (hollow("a", *studs, kind="loco"), hollow("b", *studs))
    parts: dict[str, Part] = {}
    for name in spots:
        part = block(name, (10.0, 8.0, 6.0), pins=(boards or {}).get(name, 2))
        joined = "rail" if name in (boards or {}) else ""
        pins = tuple(replace(pin, wires=1 if joined else wires, joined=joined) for pin in part.pins)
        parts[name] = replace(part, pins=pins, family="junction" if joined else part.family)
    base = train_of(vehicles, tuple(Need(name, (part,)) for name, part in parts.items()))
    train = replace(
        base,
        nets=tuple(
            Net(name, "signal", tuple(PinRef(*end.rsplit(".", 1)) for end in ends), style=style)
            for name, ends in nets.items()
        ),
        catalogue={**read_catalogue(), **parts},
    )
    placements = tuple(
        Placement(name, parts[name], vehicle, Place(poses()[0], (x, y, FLOOR)), "the body")
        for name, (vehicle, x, y) in spots.items()
    )
    return BuiltTrain(train, placements, Harness(), ())


def wired(built: BuiltTrain, milliamps: float = 10.0) -> Harness:
    """Return the harness with the same current in every net."""
    return wire_train(built, {net.name: Flow(milliamps, milliamps) for net in built.train.nets}).harness


def joined_ends(train: Train, harness: Harness, net: str) -> bool:
    """Return whether all pins of a net hang together through wires, splices and couplings."""
    graph: nx.Graph[object] = nx.Graph()
    for wire in harness.wires:
        if wire.net == net:
            graph.add_edge((wire.start.owner, wire.start.pin), (wire.end.owner, wire.end.pin))
    wanted = {(ref.owner, ref.pin) for entry in train.nets if entry.name == net for ref in entry.joins}
    return wanted <= set(graph) and nx.is_connected(graph)


def total(wires: tuple[Wire, ...]) -> float:
    """Return the bare length of all wires."""
    return sum(wire.bare_mm for wire in wires)


def test_two_pins_in_one_vehicle_are_one_wire() -> None:
    """A net of two pins is one wire whose bare way is at least the straight distance of its pins."""
    built = built_of({"p": ("a", 12, 10), "q": ("a", 80, 10)}, {"n": ["p.p0", "q.p0"]})
    harness = wired(built)
    (wire,) = harness.wires
    assert harness.unreached == ()
    assert {wire.start.owner, wire.end.owner} == {"p", "q"}
    assert 68.0 <= wire.bare_mm <= 68.0 * 1.25


def test_three_pins_of_one_wire_meet_in_a_splice() -> None:
    """A tree of three pins has one splice of three wires, and less wire than home runs from a pin of two."""
    spots = {"p": ("a", 12.0, 8.0), "q": ("a", 80.0, 8.0), "r": ("a", 46.0, 30.0)}
    nets = {"n": ["p.p0", "q.p0", "r.p0"]}
    tree = built_of(spots, nets, wires=1)
    harness = wired(tree)
    assert len(harness.splices) == 1
    assert len(harness.splices[0].wires) == 3
    assert joined_ends(tree.train, harness, "n")
    star = wired(built_of(spots, nets, style="home-run"))
    assert star.splices == ()
    assert len(star.wires) == 2
    assert total(harness.wires) < total(star.wires)


def test_a_chain_runs_from_neighbour_to_neighbour() -> None:
    """A daisy chain of three pins is two wires and joins the middle pin twice."""
    spots = {"p": ("a", 12.0, 8.0), "q": ("a", 80.0, 8.0), "r": ("a", 46.0, 8.0)}
    chain = wired(built_of(spots, {"n": ["p.p0", "q.p0", "r.p0"]}, style="chain"))
    assert len(chain.wires) == 2
    count: dict[str, int] = defaultdict(int)
    for wire in chain.wires:
        count[wire.start.owner] += 1
        count[wire.end.owner] += 1
    assert count == {"p": 1, "r": 2, "q": 1}


def ends_at(harness: Harness, owner: str) -> list[str]:
    """Return the pins of a part that wires end at, one for each wire."""
    ends = [end for wire in harness.wires for end in (wire.start, wire.end)]
    return sorted(end.pin for end in ends if end.kind == "pin" and end.owner == owner)


def test_a_chain_goes_past_pins_that_take_one_wire() -> None:
    """Where the middle pin takes one wire it hangs from the chain by a splice of three."""
    spots = {"p": ("a", 12.0, 8.0), "q": ("a", 80.0, 8.0), "r": ("a", 46.0, 8.0), "s": ("a", 64.0, 30.0)}
    built = built_of(spots, {"n": ["p.p0", "q.p0", "r.p0", "s.p0"]}, style="chain", wires=1)
    harness = wired(built)
    assert harness.unreached == ()
    assert [len(splice.wires) for splice in harness.splices] == [3, 3]
    assert all(len(ends_at(harness, owner)) == 1 for owner in spots)
    assert joined_ends(built.train, harness, "n")


def test_every_home_run_has_a_pin_of_the_board() -> None:
    """Home runs lead to the board that has a pin for each, wherever it stands in the list of joins."""
    spots = {"p": ("a", 12.0, 8.0), "q": ("a", 80.0, 8.0), "hub": ("a", 46.0, 24.0), "r": ("b", 30.0, 8.0)}
    nets = {"n": ["p.p0", "q.p0", "hub.p0", "r.p0"]}
    built = built_of(spots, nets, style="home-run", boards={"hub": 3})
    harness = wired(built)
    assert harness.splices == ()
    assert len(harness.wires) == 3
    assert ends_at(harness, "hub") == ["p0", "p1", "p2"]


def test_a_tree_uses_the_pins_of_a_board() -> None:
    """A board between three pins of one wire is where they meet: no splice is soldered."""
    spots = {"p": ("a", 12.0, 8.0), "q": ("a", 80.0, 8.0), "hub": ("a", 46.0, 16.0), "r": ("a", 48.0, 32.0)}
    built = built_of(spots, {"n": ["p.p0", "q.p0", "hub.p0", "r.p0"]}, wires=1, boards={"hub": 3})
    harness = wired(built)
    assert harness.splices == ()
    assert ends_at(harness, "hub") == ["p0", "p1", "p2"]


def test_home_runs_beyond_the_places_meet_in_a_splice() -> None:
    """Four home runs to a board of three pins: two have their own, the others share the last by a splice."""
    spots = {
        "p": ("a", 12.0, 8.0), "q": ("a", 80.0, 8.0), "hub": ("a", 46.0, 16.0), "r": ("a", 48.0, 32.0),
        "s": ("a", 26.0, 30.0),
    }  # fmt: skip
    nets = {"n": ["hub.p0", "p.p0", "q.p0", "r.p0", "s.p0"]}
    built = built_of(spots, nets, style="home-run", boards={"hub": 3})
    harness = wired(built)
    assert ends_at(harness, "hub") == ["p0", "p1", "p2"]
    assert [len(splice.wires) for splice in harness.splices] == [3]


def test_no_more_than_five_wires_meet_in_one_splice() -> None:
    """Eight home runs to a pin of one wire meet in splices in a row of at most five wires each."""
    spots = {f"p{i}": ("a", 10.0 + 12.0 * (i % 4), 8.0 if i < 4 else 30.0) for i in range(8)}
    spots["home"] = ("a", 80.0, 18.0)
    joins = ["home.p0", *(f"p{i}.p0" for i in range(8))]
    built = built_of(spots, {"n": joins}, style="home-run", wires=1)
    harness = wired(built)
    assert harness.unreached == ()
    assert len(ends_at(harness, "home")) == 1
    assert sorted(len(splice.wires) for splice in harness.splices) == [3, 5, 5]
    assert joined_ends(built.train, harness, "n")
    places = [np.array(splice.at) for splice in harness.splices]
    apart = [float(np.linalg.norm(a - b)) for i, a in enumerate(places) for b in places[:i]]
    assert min(apart) >= 3.2 - 1e-6


def test_two_nets_share_the_pins_of_a_board() -> None:
    """A pin that one net names is not given to another net that is joined to the same board."""
    spots = {"p": ("a", 12.0, 8.0), "q": ("a", 80.0, 8.0), "hub": ("a", 46.0, 16.0), "r": ("a", 48.0, 32.0)}
    built = built_of(spots, {"m": ["hub.p0", "p.p0", "q.p0"], "n": ["hub.p1", "r.p0"]}, boards={"hub": 3})
    harness = wired(built)
    by_net = defaultdict(set)
    for wire in harness.wires:
        by_net[wire.net] |= {end.pin for end in (wire.start, wire.end) if end.owner == "hub"}
    assert by_net["n"] == {"p1"}
    assert by_net["m"] <= {"p0", "p2"}


def test_a_wire_over_a_coupling_is_one_length() -> None:
    """Without a connector the wire runs through; its bare way holds the joint, the slack is added."""
    built = built_of({"p": ("a", 12, 10), "q": ("b", 40, 10)}, {"n": ["p.p0", "q.p0"]})
    harness = wired(built)
    (wire,) = harness.wires
    assert [leg.vehicle for leg in wire.legs] in (["a", "b"], ["b", "a"])
    (crossing,) = harness.crossings
    assert crossing.wires == (wire.number,)
    legs = sum(
        sum((p - q) ** 2 for p, q in zip(one, two, strict=True)) ** 0.5
        for leg in wire.legs
        for one, two in zip(leg.points, leg.points[1:], strict=False)
    )
    assert wire.bare_mm == pytest.approx(legs + crossing.straight_mm, abs=0.1)
    assert dict(wire.allowances)["slack at couplings"] > 0
    assert crossing.free_mm > crossing.straight_mm


def test_a_coupling_connector_parts_every_wire() -> None:
    """With a connector pair each conductor is two wires that end in cavities of the same number."""
    built = built_of({"p": ("a", 12, 10), "q": ("b", 40, 10)}, {"n": ["p.p0", "q.p0"]})
    wiring = replace(built.train.wiring, coupling_connector="connector-4-keyed")
    harness = wired(replace(built, train=replace(built.train, wiring=wiring)))
    ends = [end for wire in harness.wires for end in (wire.start, wire.end) if end.kind == "connector"]
    assert len(harness.wires) == 2
    assert {(end.owner, end.pin) for end in ends} == {("J1", "1")}
    assert harness.crossings[0].conductors == 1


def test_a_part_without_a_place_is_named() -> None:
    """A net whose part was not placed says so, and the rest of the net is wired all the same."""
    built = built_of(
        {"p": ("a", 12, 10), "q": ("a", 80, 10), "r": ("a", 50, 30)}, {"n": ["p.p0", "q.p0", "r.p0"]}
    )
    fewer = replace(built, placements=tuple(p for p in built.placements if p.need != "r"))
    harness = wired(fewer)
    assert [(lost.owner, lost.reason) for lost in harness.unreached] == [("r", "the part has no place")]
    assert len(harness.wires) == 1


def test_a_vehicle_without_a_port_says_which_end() -> None:
    """Where an end wall has no port, the net is unreached and the wall is named."""
    built = built_of({"p": ("a", 12, 10), "q": ("b", 40, 10)}, {"n": ["p.p0", "q.p0"]})
    closed = replace(built.train.vehicles[0].vehicle, ports=())
    vehicles = (replace(built.train.vehicles[0], vehicle=closed), built.train.vehicles[1])
    harness = wired(replace(built, train=replace(built.train, vehicles=vehicles)))
    assert "a has no wire port" in harness.unreached[0].reason


def test_a_heavy_current_takes_a_thicker_wire() -> None:
    """The gauge follows the current: 2 A in a net asks for a lower AWG number than 10 mA."""
    built = built_of({"p": ("a", 12, 10), "q": ("a", 80, 10)}, {"n": ["p.p0", "q.p0"]})
    assert wired(built, 900.0).wires[0].awg < wired(built, 10.0).wires[0].awg


def test_allowances_are_added_as_set() -> None:
    """With every allowance at nothing the cut length is the bare way, rounded up to the step."""
    built = built_of({"p": ("a", 12, 10), "q": ("a", 80, 10)}, {"n": ["p.p0", "q.p0"]})
    none = Allowances(0, 0, 0, 30.0, 0, 0, 0, 1.0)
    wiring = replace(built.train.wiring, allowances=none)
    (wire,) = wired(replace(built, train=replace(built.train, wiring=wiring))).wires
    assert wire.allowances == ()
    assert 0 <= wire.cut_mm - wire.bare_mm <= 1.0


def test_a_turned_train_needs_the_same_wire() -> None:
    """The same train seen from its other end has the same lengths, to a voxel step a wire."""
    spots = {"p": ("a", 12.0, 10.0), "q": ("b", 40.0, 22.0)}
    built = built_of(spots, {"n": ["p.p0", "q.p0"]})
    one = wired(built)
    turned = tuple(replace(entry, turned=True) for entry in reversed(built.train.vehicles))
    other = wired(replace(built, train=replace(built.train, vehicles=turned)))
    assert total(other.wires) == pytest.approx(total(one.wires), rel=0.02)


def test_splices_that_would_share_a_sleeve_are_one() -> None:
    """Two splices of a net closer than their sleeves become one of four wires; farther apart both stay."""
    near, far = (SpliceSpot("n", "a", (10, 10, z)) for z in (10, 12))
    pins = [NetEnd("n", name, "p0", "a", (0.0, 0.0, 0.0), "+z") for name in "pqrs"]
    way = np.zeros((9, 3), dtype=np.int32)
    way[:, 0] = np.arange(9)
    ends = [NetEdge(pin, spot, way) for pin, spot in zip(pins, (near, near, far, far), strict=True)]
    close = one_sleeve([*ends, NetEdge(near, far, way[:3])], 0.8)
    assert [piece.end for piece in close] == [near] * 4
    assert len(one_sleeve([*ends, NetEdge(near, far, way)], 0.8)) == 5
