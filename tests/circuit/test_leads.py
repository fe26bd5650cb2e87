"""Wire resistance against published tables, and volts lost in wires against hand calculation."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fitplan.circuit.chain import flow_through
from fitplan.circuit.draws import by_flow, tree_draws
from fitplan.circuit.leads import lead_ohms, net_drop, wire_ohm
from fitplan.circuit.supply import build_supply
from fitplan.model.copper import awg_diameter, awg_ohm_per_m
from fitplan.model.wired import Harness, Wire, WireEnd
from tests.circuit.sample_parts import shuttle


def wire(
    number: int, net: str, start: str, end: str, cut: float = 1000.0, awg: int = 28, role: str = "supply"
) -> Wire:
    """A wire between ``owner.pin`` ends; an owner that begins with # is a splice."""

    def end_of(label: str) -> WireEnd:
        kind = "splice" if label.startswith("#") else "pin"
        owner, _, pin = label.partition(".")
        return WireEnd(kind, owner, pin, "shunter", (0.0, 0.0, 0.0), 3.0)  # type: ignore[arg-type]

    return Wire(
        number, net, role, "RD", awg, 1.0, end_of(start), end_of(end), (), cut, (), cut, 0.0, 0.0  # type: ignore[arg-type]
    )  # fmt: skip


# ASTM B258 as a secondary text quotes it: diameter in mm, Ω/km at 20 °C.
TABLE = [
    (22, 0.6438, 52.96), (24, 0.5106, 84.21), (26, 0.4049, 133.9),
    (28, 0.3211, 212.9), (30, 0.2546, 338.6), (32, 0.2019, 538.3),
]  # fmt: skip


@pytest.mark.parametrize(("awg", "diameter", "ohm_km"), TABLE)
def test_wire_table(awg: int, diameter: float, ohm_km: float) -> None:
    """Diameter and resistance of every gauge are those of the published table to its last digit."""
    assert awg_diameter(awg) == pytest.approx(diameter, abs=5.1e-5)
    assert 1000 * awg_ohm_per_m(awg) == pytest.approx(ohm_km, rel=5e-4)


def test_three_gauges_double_and_ten_are_tenfold() -> None:
    """Three numbers halve the section, within 0.3 %, ten make a tenth, within 2 % (the trade's rules)."""
    assert awg_ohm_per_m(27) / awg_ohm_per_m(24) == pytest.approx(2.0, rel=0.003)
    assert awg_ohm_per_m(32) / awg_ohm_per_m(22) == pytest.approx(10.0, rel=0.02)


def test_copper_warms() -> None:
    """At 60 °C the resistance is higher by 40 K times 0.00393 per K (published coefficient)."""
    assert awg_ohm_per_m(28, 60.0) / awg_ohm_per_m(28) == pytest.approx(1 + 40 * 0.00393)


@pytest.mark.parametrize(
    ("ohm_ft", "feet", "amps", "volts"),
    # FAA AC 43.13-1B Table 11-7, worked examples.
    [(0.00044, 107, 20, 0.942), (0.00028, 90, 20, 0.504), (0.00306, 100, 20, 6.12)],
)
def test_voltage_drop_examples(ohm_ft: float, feet: float, amps: float, volts: float) -> None:
    """A wire of the published resistance loses the published volts, when solved as a network."""
    ohm_m = ohm_ft / 0.3048
    length = feet * 0.3048 * ohm_m / awg_ohm_per_m(28) * 1000  # the length of 28 AWG with that resistance
    drop = net_drop([wire(1, "n", "cells.plus", "load.VCC", length)], "cells", {"load": amps * 1000})
    assert drop.drops["load"] == pytest.approx(volts, abs=0.001)
    assert drop.currents[1] == pytest.approx(amps * 1000)


def test_shared_wire_carries_both() -> None:
    """A tree with a splice: the shared length carries both currents, each branch its own."""
    wires = [
        wire(1, "n", "cells.plus", "#one", 500.0),
        wire(2, "n", "#one", "a.VCC", 200.0),
        wire(3, "n", "#one", "b.VCC", 300.0),
    ]
    drop = net_drop(wires, "cells", {"a": 100.0, "b": 50.0})
    r = awg_ohm_per_m(28) / 1000
    assert drop.drops["a"] == pytest.approx(r * (500 * 0.150 + 200 * 0.100))
    assert drop.drops["b"] == pytest.approx(r * (500 * 0.150 + 300 * 0.050))
    assert drop.currents == {1: pytest.approx(150.0), 2: pytest.approx(100.0), 3: pytest.approx(50.0)}


@given(st.lists(st.floats(10.0, 2000.0), min_size=3, max_size=3), st.floats(1.0, 500.0))
@settings(max_examples=30, deadline=None)
def test_a_ring_shares_the_current(lengths: list[float], current: float) -> None:
    """Two ways in parallel carry a load's current in inverse ratio of their lengths."""
    wires = [
        wire(1, "n", "cells.plus", "load.VCC", lengths[0]),
        wire(2, "n", "cells.plus", "#mid", lengths[1]),
        wire(3, "n", "#mid", "load.VCC", lengths[2]),
    ]
    drop = net_drop(wires, "cells", {"load": current})
    other = lengths[1] + lengths[2]
    assert drop.currents[1] == pytest.approx(current * other / (other + lengths[0]))
    assert drop.currents[1] + drop.currents[2] == pytest.approx(current)


def test_leads_of_a_shuttle() -> None:
    """The leads to the board count there and back; the volts lost match what flows in them."""
    train = shuttle()
    tree = build_supply(train, {}).trees[0]
    _, flow = flow_through(tree.root, 6.0, True, {})
    wires = (
        wire(1, "battery", "cells.plus", "brain.VIN", 400.0),
        wire(2, "ground", "cells.minus", "brain.GND", 400.0, role="ground"),
        wire(3, "five volts", "brain.5V", "front eyes.VCC", 200.0),
        wire(4, "ground", "brain.GND", "front eyes.GND", 200.0, role="ground"),
    )
    harness = Harness(wires)
    ohms = lead_ohms(train, harness, tree, flow)
    draws = {one.net: one.draws for one in tree_draws(tree, by_flow(flow), peak=True)}
    assert draws["battery"] == {"brain": pytest.approx(40 + 60 + 18 + 5)}
    r = wire_ohm(wires[0])
    # The ground current of the board, of its regulator and of the ranger on wire 4 flows back in wire 2; the
    # rear ranger, the lamp and the emitter are not wired here and drop out.
    back = 40 + 5 + 30
    assert ohms["brain"] == pytest.approx((r * 123 + r * back) / 123)
    # Its volts are measured from the ground of the board that feeds it.
    assert ohms["front eyes"] == pytest.approx(2 * wire_ohm(wires[2]))
    assert "rear eyes" not in ohms
    volts = flow_through(tree.root, 6.0, True, ohms)[1].volts
    assert volts["front eyes"] == pytest.approx(
        6.0 - ohms["brain"] * 0.123 - 1.0 - ohms["front eyes"] * 0.030, abs=1e-6
    )
