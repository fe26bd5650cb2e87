"""Wire findings: drops, currents, connectors and ports, failing first and passing after the remedy."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from fitplan.checks.ends import circuit_of
from fitplan.checks.safety import check_safety
from fitplan.checks.supply import check_supply
from fitplan.checks.wire import bundled_limit, check_wire, single_limit, wire_currents
from fitplan.circuit.leads import wire_ohm
from fitplan.model.built import BuiltTrain
from fitplan.model.copper import awg_diameter
from fitplan.model.electrical import Connector
from fitplan.model.found import Finding
from fitplan.model.solids import Box
from fitplan.model.train import Train
from fitplan.model.vehicle import Port
from fitplan.model.wired import Crossing, Harness, Unreached, Wire
from fitplan.model.wiring_facts import PortLoad, Through, WiringFacts
from tests.circuit.sample_parts import fuse, need, net, part, shuttle, switch
from tests.circuit.test_leads import wire


def run(harness: Harness, made: Train | None = None) -> list[Finding]:
    return list(check_wire(BuiltTrain(made or shuttle(), (), harness, ())).findings)


def holed() -> Train:
    """The common train with a hole of 4.8 × 8 mm in the rear of its shunter."""
    made = shuttle()
    entry = made.vehicle("shunter")
    hole = Port("rear hole", Box((0.0, 20.0, 20.0), (8.0, 24.8, 28.0)), "-x")
    holed = replace(entry, vehicle=replace(entry.vehicle, ports=(hole,)))
    return replace(made, vehicles=tuple(holed if one is entry else one for one in made.vehicles))


def picked(findings: list[Finding], severity: str, word: str = "") -> list[Finding]:
    return [one for one in findings if one.severity == severity and word in one.message]


def there_and_back(cut: float, awg: int) -> Harness:
    return Harness(
        (
            wire(1, "battery", "cells.plus", "brain.VIN", cut, awg),
            wire(2, "ground", "cells.minus", "brain.GND", cut, awg, "ground"),
        )
    )


@pytest.mark.parametrize(("awg", "careful"), [(22, 920), (24, 577), (26, 361), (28, 226), (30, 142)])
def test_careful_column_is_700_circular_mils_per_ampere(awg: int, careful: float) -> None:
    """The published column follows from the gauge: (diameter in mils)² over 700; ours is not above it."""
    mils = awg_diameter(awg) / 0.0254
    assert 0.97 * careful <= bundled_limit(awg) <= careful
    assert 1000 * mils**2 / 700 == pytest.approx(careful, rel=0.015)


@pytest.mark.parametrize(("awg", "amps"), [(22, 7.0), (24, 3.5), (26, 2.2), (28, 1.4), (30, 0.86)])
def test_single_wire_column(awg: int, amps: float) -> None:
    """The currents of short single wires are those of the handbook table (read in a secondary text)."""
    assert single_limit(awg) == 1000 * amps


def test_thin_long_leads_cost_volts_and_thicker_ones_do_not() -> None:
    """Two times 5 m of 32 AWG cost more than 5 %; thicker by as many gauges as the remedy says they pass."""
    (caution,) = picked(run(there_and_back(5000.0, 32)), "caution", "cost")
    assert caution.figure > caution.limit == pytest.approx(0.05 * 6.0)
    steps = int(caution.remedy.split("wire of ")[1].split(" ")[0])
    thicker = there_and_back(5000.0, 32 - steps)
    assert picked(run(thicker), "caution", "cost") == []
    back = 40 + 5  # what is wired to the ground here: the board with its regulator
    ohm = wire_ohm(wire(1, "battery", "a.x", "b.y", 5000.0, 32))
    assert caution.figure == pytest.approx(ohm * (123 + back) / 1000, rel=0.01)


def test_too_much_current_for_the_gauge() -> None:
    """400 mA on average on 28 AWG is a caution, on the gauge that the remedy names it is none."""
    made = shuttle()
    nets = tuple(replace(one, current_ma=400.0) if one.name == "front echo" else one for one in made.nets)
    made = replace(made, nets=nets)
    thin = Harness((wire(1, "front echo", "brain.D3", "front eyes.ECHO", 100.0, 28),))
    (caution,) = picked(run(thin, made), "caution", "carries")
    assert (caution.figure, caution.limit) == (400.0, pytest.approx(226.0, rel=0.03))
    gauge = int(caution.remedy.split("AWG ")[1])
    assert gauge == 24
    thick = Harness((wire(1, "front echo", "brain.D3", "front eyes.ECHO", 100.0, gauge),))
    assert picked(run(thick, made), "caution", "carries") == []


def test_currents_of_wires_follow_the_branches() -> None:
    """The wire to one ranger carries that ranger's current, not that of the whole net."""
    wires = (
        wire(1, "five volts", "brain.5V", "#one"),
        wire(2, "five volts", "#one", "front eyes.VCC"),
        wire(3, "five volts", "#one", "rear eyes.VCC"),
        wire(4, "front echo", "brain.D3", "front eyes.ECHO"),
    )
    built = BuiltTrain(shuttle(), (), Harness(wires), ())
    found = wire_currents(built, circuit_of(built))
    assert found[1] == pytest.approx((30.0, 60.0))
    assert found[2] == found[3] == pytest.approx((15.0, 30.0))
    assert found[4] == pytest.approx((1.0, 1.0))


def test_a_switch_and_a_fuse_too_small() -> None:
    """A 50 mA switch and a fuse that holds 50 mA are stops in a 73 mA line; larger ones pass."""

    def line(small: bool) -> Train:
        base = shuttle()
        nets = [one for one in base.nets if one.name != "battery"]
        nets += [
            net("battery", "supply", "cells.plus", "fuse.a"),
            net("fused", "supply", "fuse.b", "main switch.a"),
            net("switched", "supply", "main switch.b", "brain.raw"),
        ]
        one = switch()
        if small:
            one = replace(one, electrical=(replace(one.electrical[0], max_ma=50.0),))  # type: ignore[type-var]
        needs = (*base.needs, need("main switch", one), need("fuse", fuse(hold=50.0 if small else 200.0)))
        return replace(base, needs=needs, nets=tuple(nets))

    harness = Harness((wire(1, "battery", "cells.plus", "fuse.a", 100.0, 24),))
    for small, wrong in ((True, ["main switch", "fuse"]), (False, [])):
        built = BuiltTrain(line(small), (), harness, ())
        told = [*check_supply(built).findings, *check_safety(built).findings]
        assert [one.where for one in picked(told, "stop")] == wrong


def crossing(connector: str, count: int = 1) -> Crossing:
    return Crossing(
        "c",
        "shunter",
        "wagon",
        "p",
        "q",
        tuple(range(1, count + 1)),
        2.0,
        20.0,
        30.0,
        "curve",
        9.0,
        False,
        connector,
    )


@pytest.mark.parametrize(
    ("figures", "word"),
    [
        (Connector(4, 24, 30, 0.5, True), "cavity"),
        (Connector(1, 24, 30, 1000.0, True), "cavities"),
        (Connector(4, 20, 26, 1000.0, True), "does not take"),
        (Connector(4, 24, 30, 1000.0, False), "wrong way round"),
    ],
)
def test_connectors_at_a_coupling(figures: Connector, word: str) -> None:
    """A connector too weak, too small, for other gauges or without a key is found; a fitting one is not."""

    def with_connector(one: Connector) -> list[Finding]:
        made = replace(shuttle(), catalogue={"joint": part("joint", one)})
        wires: tuple[Wire, ...] = tuple(wire(i, "front echo", "brain.D3", "front eyes.ECHO") for i in (1, 2))
        return run(Harness(wires, crossings=(crossing("joint", 2),)), made)

    assert [one for one in with_connector(figures) if word in one.message]
    assert not [one for one in with_connector(Connector(4, 24, 30, 1000.0, True)) if one.severity != "note"]


@pytest.mark.parametrize(
    "figures",
    [Connector(4, 24, 30, 0.5, True), Connector(1, 24, 30, 1000.0, True), Connector(4, 20, 26, 1000.0, True)],
)
def test_a_connector_that_serves_is_named_beside_one_that_does_not(figures: Connector) -> None:
    """The smallest keyed one of the catalogue that takes gauges, wires and current; none where none does."""
    wires = tuple(wire(i, "front echo", "brain.D3", "front eyes.ECHO") for i in (1, 2))
    weak = part("weak", Connector(2, 24, 30, 0.5, True))
    serves = part("serves", Connector(2, 24, 30, 1000.0, True))
    for more, named in (({}, False), ({"weak": weak}, False), ({"weak": weak, "serves": serves}, True)):
        made = replace(shuttle(), catalogue={"joint": part("joint", figures), **more})
        found = run(Harness(wires, crossings=(crossing("joint", 2),)), made)
        (stop,) = [one for one in found if one.severity == "stop" and one.where == "shunter to wagon"]
        assert stop.remedy.startswith("use serves, or ") is named


def test_a_bundle_too_thick_for_its_port() -> None:
    """Proved not to go through is a stop, not decided and tight are cautions, room is a note."""

    def said(through: Through, share: float, proof: str = "") -> Finding:
        load = PortLoad("shunter", "rear hole", 4.8, 8.0, (1, 2), 6.0, through, proof, share)
        harness = Harness(
            (wire(1, "front echo", "brain.D3", "front eyes.ECHO"),), facts=WiringFacts(ports=(load,))
        )
        (finding,) = [one for one in run(harness, holed()) if "bundle" in one.message]
        return finding

    stop = said("cannot", math.inf, "at most 1 of 5 mm have room")
    assert (stop.severity, stop.figure, stop.limit) == ("stop", 1.0, 0.9)
    assert "at most 1 of 5 mm" in stop.message
    unknown = said("not decided", math.inf)
    assert unknown.severity == "caution"
    assert "not decided" in unknown.message
    assert said("goes through", 1.0).severity == "caution"
    assert said("goes through", 0.9).severity == "note"


def test_what_is_left_of_a_covered_port_is_told_beside_its_opening() -> None:
    """The opening by the vehicle, what is left of it by the harness; the share is of what is left."""

    def said(width: float, height: float, through: Through = "goes through", share: float = 0.5) -> Finding:
        load = PortLoad("shunter", "rear hole", width, height, (1, 2), 2.0, through, "", share)
        harness = Harness(
            (wire(1, "front echo", "brain.D3", "front eyes.ECHO"),), facts=WiringFacts(ports=(load,))
        )
        (finding,) = [one for one in run(harness, holed()) if "bundle" in one.message]
        return finding

    whole, part = said(4.8, 8.0), said(4.8, 2.4)
    assert whole.message.endswith("the port has 4.8 × 8.0 mm")
    assert part.message.endswith(
        "the port has 4.8 × 8.0 mm, and beside what stands close behind it 4.8 × 2.4 mm of it are left in one"
        " piece"
    )
    assert (whole.unit, part.unit) == ("of the opening's sides", "of the sides of what is left")
    assert (part.severity, part.figure) == ("note", 0.5)
    tight, none = said(4.8, 2.4, share=1.0), said(0.0, 0.0, "not decided", math.inf)
    assert tight.severity == none.severity == "caution"
    assert all("clear the room behind it" in one.remedy for one in (tight, none))
    assert "widen the port" in said(4.8, 8.0, share=1.0).remedy
    assert "nothing of it is left: whether they go through is not decided" in none.message


def test_what_no_wire_reaches() -> None:
    """A pin without a way is a stop with the reason."""
    unreached = Harness(unreached=(Unreached("front echo", "front eyes", "ECHO", "no port"),))
    (stop,) = picked(run(unreached), "stop")
    assert "no port" in stop.message
    assert run(Harness()) == []
