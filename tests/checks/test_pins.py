"""Pin findings: clashes, console, levels and currents, each failing first and passing after its remedy."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fitplan.checks.divider import E24, TOLERANCE, divider
from fitplan.checks.pins import check_pins
from fitplan.model.built import BuiltTrain
from fitplan.model.electrical import Controller, Load
from fitplan.model.found import Finding
from fitplan.model.train import Train
from fitplan.model.wired import Harness
from tests.circuit.sample_parts import (
    LINEAR_5V,
    bank,
    board,
    cans,
    emitter,
    need,
    net,
    part,
    pin,
    shuttle,
    train,
)


def findings(train: Train, severity: str) -> list[Finding]:
    outcome = check_pins(BuiltTrain(train, (), Harness(), ()))
    return [one for one in outcome.findings if one.severity == severity]


def test_clash_and_the_shared_trigger() -> None:
    """A board that is one pin short is a stop that names the clash; joining the triggers makes it pass."""
    small = board(plain=3, pwm=1)
    small = replace(small, pins=tuple(p for p in small.pins if p.name not in ("D0", "D1", "A5")))
    train = shuttle(small)
    (stop,) = findings(train, "stop")
    assert stop.figure == 6
    assert stop.limit == 5
    assert "join front trigger and rear trigger" in stop.remedy
    assert "in all" not in stop.message
    shared = net("front trigger", "signal", "brain.*", "front eyes.TRIG", "rear eyes.TRIG")
    nets = tuple(shared if n.name == "front trigger" else n for n in train.nets if n.name != "rear trigger")
    assert findings(replace(train, nets=nets), "stop") == []


def test_more_wants_than_one_without_a_pin_are_all_told() -> None:
    """Three pins for six: the smallest clash is short of one, and three get none."""
    small = board(plain=1, pwm=1)
    small = replace(small, pins=tuple(p for p in small.pins if p.name not in ("D0", "D1", "A5")))
    (stop,) = (one for one in findings(shuttle(small), "stop") if "too few pins" in one.message)
    lost = stop.message.partition("; in all, ")[2].removesuffix(" get no pin")
    assert len(lost.replace(" and ", ", ").split(", ")) == 3


def test_console_caution_goes_with_a_bigger_board() -> None:
    """Console pins in use are a caution; a board with more pins keeps them free."""
    assert [one.figure for one in findings(shuttle(board(plain=1, pwm=1)), "caution")] == [2.0]
    assert findings(shuttle(board(plain=6)), "caution") == []


def test_a_5_v_echo_into_a_3_3_v_pin() -> None:
    """A 5 V echo into a 3.3 V pin is a stop with a divider in E24 values; a tolerant board passes."""
    small = board(plain=8, logic=3.3, tolerant=False, regulator=None)
    stops = findings(shuttle(small), "stop")
    assert {one.where.split(".")[0] for one in stops} == {"brain"}
    assert len(stops) == 2
    assert stops[0].figure == 5.0
    upper, lower = (float(x) for x in re.findall(r"([\d.]+) kΩ", stops[0].remedy))
    assert 5.0 * lower / (upper + lower) <= 3.3
    figures = small.figure(Controller)
    assert figures is not None
    tolerant = replace(small, electrical=(replace(figures, five_volt_tolerant=True),))
    assert findings(shuttle(tolerant), "stop") == []


@given(st.floats(3.0, 15.0), st.floats(0.3, 0.9))
@settings(max_examples=40, deadline=None)
def test_dividers_never_exceed_what_is_allowed(sent: float, share: float) -> None:
    """With both resistors off by 5 % in the worse sense the pin never sees more than allowed."""
    allowed = sent * share
    made = divider(sent, allowed)
    worst = max(
        sent * lower / (upper + lower)
        for upper in (made.upper_ohm * (1 - TOLERANCE), made.upper_ohm * (1 + TOLERANCE))
        for lower in (made.lower_ohm * (1 - TOLERANCE), made.lower_ohm * (1 + TOLERANCE))
    )
    assert worst == pytest.approx(made.most_volts)
    assert worst <= allowed + 1e-9
    assert made.volts > 0.8 * allowed
    for value in (made.upper_ohm, made.lower_ohm):
        assert int(str(value)[:2]) in E24


def test_e24_values_are_a_geometric_series() -> None:
    """The 24 values follow 10^(i/24) within the tolerance of 5 % that the series is made for."""
    for index, value in enumerate(E24):
        assert value == pytest.approx(10 * 10 ** (index / 24), rel=0.05)
    with pytest.raises(ValueError, match="need no divider"):
        divider(3.0, 3.3)


def test_an_emitter_too_strong_for_its_pin() -> None:
    """100 mA from a 20 mA pin is a stop; at 15 mA it passes."""
    (stop,) = findings(shuttle(emitter_ma=100.0, brain=board(plain=6)), "stop")
    assert (stop.figure, stop.limit, stop.unit) == (100.0, 20.0, "mA")
    assert findings(shuttle(emitter_ma=15.0, brain=board(plain=6)), "stop") == []


def test_a_weak_high_level_is_a_caution() -> None:
    """A 3.3 V board that triggers a 5 V ranger is a caution: 0.7 of 5 V is 3.5 V."""
    weak = board(plain=8, logic=3.3, regulator=None)
    train = shuttle(weak, bank(), raw=False)
    cautions = findings(train, "caution")
    assert {round(one.limit, 2) for one in cautions} == {3.5}
    assert findings(shuttle(board(plain=8), bank(), raw=False), "caution") == []


def test_open_signal_pins_are_named() -> None:
    """A part whose signal pin no net joins is a stop; with the net written it passes."""
    train = shuttle(board(plain=6))
    nets = tuple(one for one in train.nets if one.name != "rear echo")
    (stop,) = findings(replace(train, nets=nets), "stop")
    assert stop.where == "rear eyes"
    assert "rear eyes.ECHO is in no net" in stop.message
    assert findings(train, "stop") == findings(train, "caution") == []
    assert emitter().pins[0].wants == {"pwm"}


def test_pin_map_table_lists_every_use() -> None:
    """The table has a row for each net on the controller."""
    outcome = check_pins(BuiltTrain(shuttle(), (), Harness(), ()))
    assert [row[2] for row in outcome.tables[0].rows] == [
        "front trigger", "front echo", "rear trigger", "rear echo", "emitter", "lamp",
    ]  # fmt: skip
    assert need("x", board()).name == "x"


def test_a_5_v_bus_into_3_3_v_pins() -> None:
    """A bus at 5 V on a board that stands 3.3 V is a stop without a divider; fed with 3.3 V it passes."""
    sensor = part(
        "sensor",
        Load(2.8, 5.5, 20.0, 40.0),
        pins=[pin("VCC", "supply"), pin("SDA", wants=cans("data")), pin("SCL", wants=cans("clock"))],
    )
    brain = board(plain=4, logic=3.3, tolerant=False, regulator=replace(LINEAR_5V, out_v=3.3))

    def fed_at(rail: str) -> Train:
        nets = [
            net("usb", "supply", "bank.plus", "brain.5v", *(["sensor.VCC"] if rail == "5v" else [])),
            *([net("low", "supply", "brain.3v3", "sensor.VCC")] if rail == "3v3" else []),
            net("SDA", "signal", "brain.*", "sensor.SDA"),
            net("SCL", "signal", "brain.*", "sensor.SCL"),
        ]
        return train([need("brain", brain), need("bank", bank()), need("sensor", sensor)], nets)

    stops = findings(fed_at("5v"), "stop")
    assert len(stops) == 2
    assert "level shifter" in stops[0].remedy
    assert findings(fed_at("3v3"), "stop") == []
