"""Every figure of a wire by hand, and what it is wired with: the user's wish, leads, what is built."""

from __future__ import annotations

from dataclasses import dataclass, field
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from fitplan.model.as_built import BuiltEnd
from fitplan.model.copper import awg_ohm_per_m
from fitplan.model.electrical import Conductor, Lead, OwnLeads
from fitplan.model.nets import Net, PinRef
from fitplan.model.wired import Detour
from fitplan.model.wiring import Allowances
from fitplan.routing.harness.chains import PassedSegment
from fitplan.routing.harness.gauges import (
    _takes_leads,
    as_they_are,
    as_thick,
    thick_as_own,
    wished_wire,
)
from fitplan.routing.harness.harness import _meetings
from fitplan.routing.harness.wires import WireInputs, _comes_out, splices_of, wire_of
from fitplan.routing.map.ends import NetEnd, ResolvedNet
from fitplan.routing.map.topology import Portal, Segment, SpliceSpot
from fitplan.routing.negotiation.layout import LaidDetour, LaidSegment, Pulled

PIN = NetEnd("n", "board", "G1", "a", (5.0, 40.0, 9.0), "+x")
HOLE, SPLICE = Portal("n", 0, 1), SpliceSpot("n", "b", (4, 4, 4))
NOWHERE = np.zeros((0, 3), np.int32)


def laid(vehicle: str, start: Any, end: Any) -> LaidSegment:
    return LaidSegment(Segment("n", vehicle, start, end), NOWHERE, (), NOWHERE)


INSIDE = laid("a", PIN, HOLE)
BEYOND = laid("b", SPLICE, HOLE)
"""It is passed from its end to its start."""


def mirrored(vehicle: str, point: Any) -> Any:
    """Return a point as the vehicle has it; the second one is wired as its image, 48 mm wide."""
    x, y, z = point
    return (x, 48.0 - y, z) if vehicle == "b" else (x, y, z)


def inputs(*, connector: bool, often: bool, strands: int = 7) -> WireInputs:
    length = SimpleNamespace(straight_mm=20.0, free_mm=33.0, slack_mm=6.0)
    ports = SimpleNamespace(
        ahead="a",
        port_ahead=SimpleNamespace(name="rear hole"),
        port_behind=SimpleNamespace(name="front hole"),
    )
    coupling = SimpleNamespace(length=length, name="J2", cavity=lambda portal: 3)
    layout = SimpleNamespace(
        couplings={HOLE: ports},
        true_point=mirrored,
        true_points=lambda vehicle, points: tuple(mirrored(vehicle, point) for point in points),
        maps={"b": SimpleNamespace(frame=SimpleNamespace(center=lambda voxel: (1.00004, 8.0, 3.99996)))},
    )
    part = SimpleNamespace(access=[SimpleNamespace(often=often)])
    built: Any = SimpleNamespace(
        placement=lambda need: SimpleNamespace(part=part), exchanged=(),
        need_of=lambda placement: SimpleNamespace(exchange=SimpleNamespace(wanted=False)),
    )  # fmt: skip
    one = Pulled(((5.0, 40.0, 9.0), (50.0, 40.0, 9.0), (50.0, 20.0, 9.0)), 100.0, 110.0, (90.0, 20.0))
    two = Pulled(((10.0, 8.0, 4.0), (60.0, 8.0, 4.0)), 60.0, 60.0, (45.0,))
    return WireInputs(
        built=built,
        layout=layout,  # type: ignore[arg-type]
        pulled={id(INSIDE): one, id(BEYOND): two},
        detours={id(BEYOND): LaidDetour("beside others", 3.5, ((10.0, 8.0, 4.0), (60.0, 9.0, 4.0)))},
        couplings={HOLE: coupling} if connector else {},  # type: ignore[dict-item]
        splices={SPLICE: "S4"},
        nets={"n": Net("n", "ground", ())},
        gauges={"n": Conductor(26, 1, 1.3, strands)},
        colours={"n": "BK"},
        sleeved=frozenset({"n"}),
        average_ma={"n": 250.1234},
        allowances=Allowances(lead_out=5.0),
    )


ALONG = (PassedSegment(INSIDE, True), PassedSegment(BEYOND, False))


@pytest.mark.parametrize("strands", [1, 7])
def test_a_wire_over_a_coupling_to_a_splice(strands: int) -> None:
    """What curves ask beyond straight track is added; the length to cut is the sum, on the step of 5 mm.

    160 in the vehicles and 20 between are 180; 13 less 6 of slack, 6 of slack, 5 lead-out at the pin, 4 %
    of 160, two turns above 30°, 4 stripped, 8 in the splice, 25 since the board comes out: 243.4.
    """
    wire = wire_of(7, ALONG, inputs(connector=True, often=True, strands=strands))
    assert (wire.number, wire.net, wire.role, wire.colour, wire.awg, wire.outer_mm, wire.sleeved) == (
        7, "n", "ground", "BK", 26, 1.3, True,
    )  # fmt: skip
    assert wire.bare_mm == 180.0
    assert dict(wire.allowances) == {
        "curves at couplings": 7.0, "slack at couplings": 6.0, "lead-out": 5.0, "not taut": 6.4,
        "bends": 2.0, "stripping": 4.0, "splice overlap": 8.0, "service loop": 25.0,
    }  # fmt: skip
    assert wire.cut_mm == 245.0
    # Ohm's law over the whole length to cut, one way, in copper of 40 °C.
    assert wire.drop_v == round(0.2501234 * awg_ohm_per_m(26, 40.0, stranded=strands > 1) * 0.245, 5)
    assert wire.current_ma == 250.123
    first, second = wire.legs
    assert (first.vehicle, first.enters, first.leaves) == ("a", "", "rear hole")
    assert (second.vehicle, second.enters, second.leaves) == ("b", "front hole", "")
    assert second.points == ((60.0, 40.0, 4.0), (10.0, 40.0, 4.0))
    assert wire.detours == (Detour("b", "beside others", 3.5, ((60.0, 39.0, 4.0), (10.0, 40.0, 4.0))),)
    start, end = wire.start, wire.end
    assert (start.kind, start.owner, start.pin, start.vehicle, start.at, start.strip_mm) == (
        "pin", "board", "G1", "a", (5.0, 40.0, 9.0), 4.0,
    )  # fmt: skip
    assert (end.kind, end.owner, end.pin, end.vehicle, end.at, end.strip_mm) == (
        "splice", "S4", "", "b", (10.0, 40.0, 4.0), 8.0,
    )  # fmt: skip
    # Turned round it is the same wire.
    back = tuple(PassedSegment(one.laid, not one.forwards) for one in ALONG[::-1])
    other = wire_of(7, back, inputs(connector=True, often=True, strands=strands))
    assert (other.start, other.end, other.cut_mm, other.bare_mm) == (end, start, 245.0, 180.0)
    assert [leg.points for leg in other.legs] == [leg.points[::-1] for leg in wire.legs[::-1]]


@pytest.mark.parametrize("forwards", [True, False])
@pytest.mark.parametrize("connector", [True, False])
def test_a_wire_into_a_coupling_has_half_of_what_lies_over_it(forwards: bool, connector: bool) -> None:
    """110 with its half of straight track, 3.5 for curves, 3 of slack, two lead-outs, 4 %, a bend, 2 × 4."""
    wire = wire_of(1, (PassedSegment(INSIDE, forwards),), inputs(connector=connector, often=False))
    told = {"lead-out": 10.0, "not taut": 4.0, "bends": 1.0, "stripping": 8.0}
    if connector:
        told = {"curves at couplings": 3.5, "slack at couplings": 3.0, **told}
    assert wire.bare_mm == (110.0 if connector else 100.0)
    assert dict(wire.allowances) == told
    assert wire.cut_mm == (140.0 if connector else 125.0)
    end = wire.end if forwards else wire.start
    assert (end.kind, end.owner, end.pin) == ("connector", *(("J2", "3") if connector else ("", "")))
    assert end.at == (50.0, 20.0, 9.0)
    assert wire.detours == ()


def test_splices_are_told_with_their_wires() -> None:
    """Where they are in the true vehicle, to four digits, with the number of each wire that ends there."""
    material = inputs(connector=True, often=False)
    wires = tuple(wire_of(number, ALONG, material) for number in (4, 9))
    (splice,) = splices_of(material, wires)
    assert (splice.name, splice.net, splice.vehicle, splice.wires) == ("S4", "n", "b", (4, 9))
    assert splice.at == (1.0, 40.0, 4.0)


@dataclass(frozen=True)
class Exchanged:
    """What is exchanged, and which parts must come out for it."""

    need: str
    often: bool = False
    itself: bool = False
    parts_out: tuple[str, ...] = ()


@pytest.mark.parametrize(
    ("often", "wanted", "exchanged", "comes_out"),
    [
        ([], False, [], False),
        ([True, False], False, [], True),
        ([False], False, [], False),
        ([], True, [], True),
        ([], False, [Exchanged("cell", True, False, ("p", "q"))], True),
        ([], False, [Exchanged("cell", False, False, ("p",))], False),
        ([], False, [Exchanged("cell", True, True, ("q",))], False),
        ([], False, [Exchanged("p", False, True)], True),
        ([], False, [Exchanged("p", True, False)], False),
        ([], False, [Exchanged("x", False, True), Exchanged("cell", True, False, ("p",))], True),
    ],
)
def test_a_part_comes_out_for_itself_or_for_what_is_used_often(
    often: Any, wanted: bool, exchanged: Any, comes_out: bool
) -> None:
    part = SimpleNamespace(access=[SimpleNamespace(often=one) for one in often])
    built: Any = SimpleNamespace(
        placement=lambda need: SimpleNamespace(part=part) if need == "p" else None, exchanged=exchanged,
        need_of=lambda placement: SimpleNamespace(exchange=SimpleNamespace(wanted=wanted)),
    )  # fmt: skip
    assert _comes_out("p", built) is comes_out
    assert not _comes_out("built in", built)


# -- what a net is wired with --------------------------------------------------------------------------------


def part(*figures: Any) -> Any:
    return SimpleNamespace(figure=lambda kind: next((one for one in figures if isinstance(one, kind)), None))


THIN, THICK = Conductor(28, 1, 0.9, 7), Conductor(22, 1, 1.7, 19)
LEADS = {
    name: Lead("socket", "socket", (200.0,), awg, outer, 6.0)  # type: ignore[arg-type]
    for name, awg, outer in (("short lead", 26, 1.4), ("other lead", 24, 1.6))
}
CATALOGUE = {
    "thin": part(THIN),
    "thick": part(THICK),
    "ribbon": part(Conductor(28, 10, 0.9, 7)),
    **{name: part(lead) for name, lead in LEADS.items()},
}


@dataclass
class Train:
    """What a net may be wired with, as far as it is asked."""

    wiring: Any
    as_built: Any = field(default_factory=lambda: SimpleNamespace(wires=(), released=frozenset()))
    catalogue: Any = field(default_factory=lambda: CATALOGUE)


def built_of(joints: dict[str, list[str]], leads: tuple[str, ...] = (), **more: Any) -> Any:
    """Return a train whose parts have pins joined like this."""
    pins = {
        owner: [
            SimpleNamespace(name=f"p{k}", role="ground" if k else "signal", joint=joint)
            for k, joint in enumerate(some)
        ]
        for owner, some in joints.items()
    }
    wiring = SimpleNamespace(leads=leads, signal_wire="thin", power_wire="thick")
    return SimpleNamespace(train=Train(wiring, **more), pins_of=lambda owner: pins[owner], placements=())


@pytest.mark.parametrize(
    ("joints", "fits"),
    [
        ([["header"], ["header"]], True),
        ([["header"], ["attached"]], True),
        ([["header"], ["solder"]], False),
        ([["plug"], ["header"]], True),
        ([["header", "solder"], ["header"]], True),
        ([], False),
    ],
)
@pytest.mark.parametrize("role", ["signal", "supply"])
def test_ready_made_leads_go_where_all_pins_take_their_sockets(joints: Any, fits: bool, role: Any) -> None:
    """The first of them; plugs are no hindrance, nor are pins that the net does not use."""
    owners = {f"o{k}": some for k, some in enumerate(joints)}
    net = Net("n", role, tuple(PinRef(owner, "p0") for owner in owners))
    built = built_of(owners, tuple(LEADS))
    assert _takes_leads(built, net) is fits
    wish = THIN if role == "signal" else THICK
    assert wished_wire(built, net) == (Conductor(26, 1, 1.4, 7) if fits else wish)
    assert wished_wire(built_of(owners), net) == wish
    # A lead that is bought as it is, whatever the pins.
    assert wished_wire(built, Net("n", role, net.joins, lead="other lead")) == Conductor(24, 1, 1.6, 7)


def test_pins_of_a_net_are_meant_by_name_by_role_or_all() -> None:
    built = built_of({"o": ["header", "solder"]}, tuple(LEADS))
    for pin, fits in (("p0", True), ("signal", True), ("ground", False), ("p1", False), ("*", False)):
        assert _takes_leads(built, Net("n", "signal", (PinRef("o", pin),))) is fits


@pytest.mark.parametrize(("awg", "found"), [(22, THICK), (24, None), (26, None), (28, None), (30, None)])
def test_what_is_built_goes_before_what_is_wished_where_it_is_thicker(awg: int, found: Any) -> None:
    """If such wire is in the catalogue; a wish that is as thick stays, with its own outer diameter."""
    wish = Conductor(26, 1, 2.2, 7)
    wires = (SimpleNamespace(net="n", awg=awg, number=1),)
    built = built_of({}, as_built=SimpleNamespace(wires=wires, released=frozenset()))
    assert as_they_are(built, {"n": wish, "m": THIN}) == {"n": found or wish, "m": THIN}


def test_of_what_is_built_wires_as_thick_as_wanted_stay_unless_released() -> None:
    end = BuiltEnd("splice", "S1")
    wires = tuple(
        SimpleNamespace(net=net, awg=awg, number=k, start=end, end=end)
        for k, (net, awg) in enumerate([("n", 22), ("n", 22), ("n", 26), ("m", 22), ("gone", 22)])
    )
    built = built_of({}, as_built=SimpleNamespace(wires=wires, released=frozenset({1})))
    assert [wire.number for wire in as_thick(built, {"n": THICK, "m": THIN})] == [0]


def test_a_wire_is_no_thinner_than_leads_that_its_parts_come_with() -> None:
    """Of all its parts; those of other nets do not count."""

    def placed(need: str, outer: float) -> Any:
        own = OwnLeads.__new__(OwnLeads)
        object.__setattr__(own, "outer_mm", outer)
        return SimpleNamespace(need=need, part=part(own) if outer else part())

    built: Any = SimpleNamespace(
        placements=[placed("lamp", 1.1), placed("motor", 2.0), placed("far", 9.0), placed("board", 0.0)]
    )

    def thick(*owners: str) -> float:
        ends = tuple(NetEnd("n", owner, "p", "a", (0.0,) * 3, "+x") for owner in owners)  # type: ignore[arg-type]
        return thick_as_own(built, ResolvedNet(Net("n", "signal", ()), ends), THIN).outer_mm

    assert thick("lamp", "motor") == 2.0
    assert thick("lamp", "board") == 1.1
    assert thick("board") == 0.9


def test_nets_that_meet_are_told_apart() -> None:
    """At one part, over one coupling, and all that are a voltage or ground."""
    nets = [
        ResolvedNet(
            Net(name, role, ()),  # type: ignore[arg-type]
            tuple(NetEnd(name, owner, "p", "a", (0.0, 0.0, 0.0), "+x") for owner in owners),
        )
        for name, role, owners in (
            ("n", "ground", "xy"), ("v", "supply", "xz"), ("s", "signal", "yw"), ("t", "signal", "uw"),
        )
    ]  # fmt: skip
    portals = {Portal("n", 0, 1): None, Portal("t", 0, 2): None, Portal("s", 1, 3): None}
    layout: Any = SimpleNamespace(couplings=portals)
    found = {frozenset(one) for one in _meetings(layout, nets) if len(one) > 1}
    assert found == {frozenset(pair) for pair in ("nv", "ns", "st", "nt")}
    assert {frozenset(one) for one in _meetings(layout, nets[2:])} >= {frozenset("s"), frozenset("st")}
