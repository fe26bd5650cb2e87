"""Reset and boot pins, timers, the chip's current, the bus and resistors in series, on real parts."""

from __future__ import annotations

from dataclasses import replace
from itertools import permutations

import pytest

from fitplan.checks.pins import check_pins
from fitplan.circuit.resistors import E24, next_value, resistor_for, resistors_of
from fitplan.files.catalogue import read_catalogue
from fitplan.files.read import read_train
from fitplan.files.starter import write_starter
from fitplan.model.built import BuiltTrain
from fitplan.model.electrical import Controller, SeriesResistor
from fitplan.model.found import Finding
from fitplan.model.needed import Need
from fitplan.model.nets import Net
from fitplan.model.train import Train
from fitplan.model.wired import Harness
from fitplan.pins.matching import match_pins, serves, troubles
from fitplan.pins.wants import signal_pins, wants_of
from tests.circuit.sample_parts import need, net, train

CATALOGUE = read_catalogue()


def stops(made: Train, word: str) -> list[Finding]:
    outcome = check_pins(BuiltTrain(made, (), Harness(), ()))
    return [one for one in outcome.findings if one.severity == "stop" and word in one.message]


def simple(board: str, parts: dict[str, str], nets: list[Net]) -> Train:
    needs: list[Need] = [need("brain", CATALOGUE[board])]
    needs += [need(name, CATALOGUE[part]) for name, part in parts.items()]
    return train(needs, nets, catalogue=CATALOGUE)


def test_the_reset_pin_is_never_chosen() -> None:
    """An echo on the stamp-size board goes to a pin that does not restart it; fixed there it is a stop."""
    parts = {"eyes": "ranger-one-eyed"}
    free = simple("controller-stamp-5v", parts, [net("echo", "signal", "brain.*", "eyes.ECHO")])
    assert match_pins(free, {}).pin("brain", "echo") not in ("", "D5")
    assert not stops(free, "reset")
    fixed = simple("controller-stamp-5v", parts, [net("echo", "signal", "brain.D5", "eyes.ECHO")])
    assert stops(fixed, "reset pin")


def test_the_starter_keeps_off_the_reset_pin(tmp_path) -> None:  # type: ignore[no-untyped-def]
    """No net of the starter lies on a reset pin, whichever of its boards is taken."""
    made = read_train(write_starter(tmp_path / "train"))
    for board in made.need("brain").candidates:
        for use in match_pins(made, {"brain": board}).uses:
            assert "reset" not in board.pin(use.pin).care


@pytest.mark.parametrize(
    ("part", "pin", "board", "bad", "word"),
    [
        ("ranger-one-eyed", "ECHO", "controller-wireless-large", "D12", "how the board starts"),
        ("sensor-reflective", "OUT", "controller-wireless-large", "D14", "while the radio is on"),
        ("sensor-hall-switch", "OUT", "controller-wireless-large", "D34", "no pull-up inside"),
    ],
)
def test_pins_that_serve_only_in_part(part: str, pin: str, board: str, bad: str, word: str) -> None:
    """What is fixed to a pin that fails it is a stop; left to be chosen it goes elsewhere."""
    fixed = simple(board, {"thing": part}, [net("n", "signal", f"brain.{bad}", f"thing.{pin}")])
    assert stops(fixed, word)
    free = simple(board, {"thing": part}, [net("n", "signal", "brain.*", f"thing.{pin}")])
    assert match_pins(free, {}).pin("brain", "n") not in ("", bad)
    assert not stops(free, word)


def test_carrier_and_tone_and_pwm_share_no_timer_by_enumeration() -> None:
    """Emitter, sounder and one pin more with PWM: no timer twice, one of the ways that brute force finds."""
    for board in ("controller-compact-5v", "controller-small-5v", "controller-mid-5v"):
        made = simple(
            board,
            {"emitter": "emitter-5mm", "horn": "sounder-12mm", "fade": "driver-single"},
            [
                net("infrared", "signal", "brain.*", "emitter.IN"),
                net("horn", "signal", "brain.*", "horn.IN"),
                net("fade", "signal", "brain.*", "fade.AIN1"),
            ],
        )
        match = match_pins(made, {})
        part = CATALOGUE[board]
        figures = part.figure(Controller)
        assert figures is not None
        timers = {net: part.pin(match.pin("brain", net)).timer for net in ("infrared", "horn", "fade")}
        assert timers["infrared"] not in ("", figures.tone_timer, figures.clock_timer)
        assert timers["fade"] not in (timers["infrared"], figures.tone_timer)
        wants = wants_of(made, {}, "brain")
        able = [
            pins
            for pins in permutations([p for p in signal_pins(part) if "pwm" in p.can], 3)
            if all(serves(pin, want) for pin, want in zip(pins, wants, strict=True))
            and pins[0].timer not in (figures.tone_timer, figures.clock_timer)
            and pins[1].timer != pins[0].timer
            and pins[2].timer not in (pins[0].timer, figures.tone_timer)
        ]
        assert tuple(match.pin("brain", n) for n in timers) in {tuple(p.name for p in pins) for pins in able}


def test_lamps_together_against_the_chip() -> None:
    """Fourteen lamps of 20 mA ask 280 mA of a chip for 200: a stop; nine are none."""
    strong = CATALOGUE["lamp-board"]
    load = replace(strong.electrical[0], peak_ma=20.0)  # type: ignore[type-var]
    lamp = replace(strong, electrical=(load, *strong.electrical[1:]))
    for count, stopped in ((9, False), (14, True)):
        needs = [
            need("cells", CATALOGUE["cells-aa-2"]),
            need("lift", CATALOGUE["regulator-step-up-5v"]),
            need("brain", CATALOGUE["controller-compact-5v"]),
        ]
        needs += [need(f"lamp {i}", lamp) for i in range(count)]
        nets = [
            net("low", "supply", "cells.plus", "lift.in"),
            net("five", "supply", "lift.out", "brain.5v"),
            *(net(f"light {i}", "signal", "brain.*", f"lamp {i}.IN") for i in range(count)),
        ]
        found = stops(train(needs, nets), "its chip gives")
        assert bool(found) == stopped
        if stopped:
            assert (found[0].figure, found[0].limit) == (280.0, 200.0)


def lit(*pins: str, peak_ma: float = 20.0) -> Train:
    """A board with a lamp on each of these pins; ``*`` for one to choose."""
    strong = CATALOGUE["lamp-board"]
    load = replace(strong.electrical[0], peak_ma=peak_ma)  # type: ignore[type-var]
    lamp = replace(strong, electrical=(load, *strong.electrical[1:]))
    needs = [
        need("cells", CATALOGUE["cells-aa-2"]),
        need("lift", CATALOGUE["regulator-step-up-5v"]),
        need("brain", CATALOGUE["controller-compact-5v"]),
        *(need(f"lamp {i}", lamp) for i in range(len(pins))),
    ]
    nets = [
        net("low", "supply", "cells.plus", "lift.in"),
        net("five", "supply", "lift.out", "brain.5v"),
        *(net(f"light {i}", "signal", f"brain.{pin}", f"lamp {i}.IN") for i, pin in enumerate(pins)),
    ]
    return train(needs, nets)


def test_lamps_of_one_port_by_sums() -> None:
    """At 20 mA seven lamps of a port may be on, eight may not; free pins are spread so that none is over."""
    low = ("D0", "D1", "D2", "D3", "D4", "A0", "A1", "A2")
    assert not stops(lit(*low[:7]), "one port")
    found = stops(lit(*low), "one port")
    assert [(one.figure, one.limit) for one in found] == [(160.0, 150.0)]
    part = CATALOGUE["controller-compact-5v"]
    for fixed in range(8):
        made = lit(*low[:fixed], *["*"] * (9 - fixed))
        uses = match_pins(made, {}).uses
        drawn = {port: 20 * sum(part.pin(use.pin).port == port for use in uses) for port in ("low", "high")}
        assert sum(drawn.values()) == 180
        assert max(drawn.values()) <= 150
        assert not stops(made, "one port")


def test_what_shares_a_pin_is_added_up() -> None:
    """Two lamps of 10 mA may share a pin of 20 mA, three may not."""
    base = lit("D3", "D4", "D5", peak_ma=10.0)
    for count in (2, 3):
        shared = net("light 0", "signal", "brain.D3", *(f"lamp {i}.IN" for i in range(count)))
        rest = [one for one in base.nets if not one.name.startswith("light")]
        found = stops(replace(base, nets=(*rest, shared)), "together from a pin")
        assert [(one.figure, one.limit) for one in found] == ([(30.0, 20.0)] if count == 3 else [])


@pytest.mark.parametrize(
    ("part", "pin", "fixed", "word"),
    [
        ("lamp-5mm", "IN", "A6", "cannot serve as output"),
        ("driver-single", "AIN1", "D4", "cannot serve as pwm"),
        ("sensor-time-of-flight", "SCL", "A4", "cannot serve as clock"),
        ("sensor-light", "OUT", "A6", "no pull-up inside"),
    ],
)
def test_a_fixed_pin_that_cannot(part: str, pin: str, fixed: str, word: str) -> None:
    """What a pin lacks is said of that pin; left to be chosen the net has one, and nothing is said."""
    board = "controller-compact-5v"
    made = simple(board, {"thing": part}, [net("n", "signal", f"brain.{fixed}", f"thing.{pin}")])
    assert [one.where for one in stops(made, word)] == [f"brain.{fixed}"]
    assert not stops(made, "too few pins")
    free = simple(board, {"thing": part}, [net("n", "signal", "brain.*", f"thing.{pin}")])
    assert not stops(free, word)
    assert not stops(free, "too few pins")


def test_fixed_pins_of_one_timer() -> None:
    """A carrier on the timer of the tone call, the clock or a dimmed lamp is a stop; alone it is not."""
    parts = {"emitter": "emitter-5mm", "horn": "sounder-12mm", "fade": "driver-single"}
    part = CATALOGUE["controller-compact-5v"]
    wide = [pin for pin in part.pins if "pwm" in pin.can]
    for carrier, fade in permutations(wide, 2):
        nets = [
            net("infrared", "signal", f"brain.{carrier.name}", "emitter.IN"),
            net("horn", "signal", "brain.*", "horn.IN"),
            net("fade", "signal", f"brain.{fade.name}", "fade.AIN1"),
        ]
        found = stops(simple("controller-compact-5v", parts, nets), "want timer")
        clash = carrier.timer in ("T0", "T2") or fade.timer in (carrier.timer, "T2")
        assert bool(found) == clash, (carrier.name, fade.name)


@pytest.mark.parametrize(("off", "stopped"), [(0, True), (1, False), (2, False)])
def test_two_parts_with_one_address(off: int, stopped: bool) -> None:
    """Two sensors at 0x29: at least one must have the pin wired that keeps it off."""
    nets = [
        net("clock", "signal", "brain.*", "front.SCL", "rear.SCL"),
        net("data", "signal", "brain.*", "front.SDA", "rear.SDA"),
        *(
            net(f"off {i}", "signal", "brain.*", f"{name}.OFF")
            for i, name in enumerate(("front", "rear")[:off])
        ),
    ]
    made = simple(
        "controller-compact-5v", {"front": "sensor-time-of-flight", "rear": "sensor-time-of-flight"}, nets
    )
    assert bool(stops(made, "answer at one address")) == stopped


@pytest.mark.parametrize(
    ("series", "volts", "ohm"),
    [
        (SeriesResistor(2.0, 0.0, 10.0, "lead"), 5.0, 300.0),  # (5 − 2) V / 10 mA
        (SeriesResistor(1.3, 0.0, 20.0, "lead"), 5.0, 200.0),  # 185 Ω, next value up
        (SeriesResistor(2.0, 0.0, 10.0, "lead"), 3.3, 130.0),
        (SeriesResistor(0.0, 42.0, 18.0, "lead"), 5.0, 240.0),  # 278 Ω less the coil's own 42
    ],
)
def test_resistors_by_ohms_law(series: SeriesResistor, volts: float, ohm: float) -> None:
    """The E24 value is the next above (V − Vf)/I − R, so the current stays below what is asked."""
    found, current, power = resistor_for(series, volts)
    assert found == ohm
    assert current <= series.current_ma
    assert power == pytest.approx((current / 1000) ** 2 * ohm)
    assert next_value(found * 0.999) == found


def test_the_series_e24() -> None:
    """The values are those of IEC 60063: roughly the 24th root of ten apart, each within 10 % of the last."""
    assert len(E24) == 24
    for number, value in enumerate(E24):
        assert value == pytest.approx(10 * 10 ** (number / 24), rel=0.06)


def test_every_lamp_and_emitter_of_the_catalogue_states_its_resistor() -> None:
    """What a pin feeds has a resistor in its lead or on its board that keeps it to the pin's current."""
    for part in CATALOGUE.values():
        pin = next((p for p in part.pins if p.wants & {"output", "pwm"}), None)
        if part.family not in ("lamp", "emitter") or pin is None:
            continue
        made = simple(
            "controller-compact-5v", {"it": part.id}, [net("n", "signal", "brain.*", f"it.{pin.name}")]
        )
        (one,) = resistors_of(made, {})
        assert one.current_ma <= 20.0
        assert one.power_w <= one.rated_w / 2


def test_troubles_need_a_reason() -> None:
    """A pin without cares troubles nothing."""
    part = CATALOGUE["controller-compact-5v"]
    made = simple(part.id, {"eyes": "ranger-one-eyed"}, [net("echo", "signal", "brain.*", "eyes.ECHO")])
    (want,) = wants_of(made, {}, "brain")
    assert all(troubles(pin, want) == () for pin in signal_pins(part))


@pytest.mark.parametrize(
    ("board", "stopped"), [("controller-wireless-thumb", False), ("controller-compact-5v", True)]
)
def test_two_buses_may_each_have_the_address(board: str, stopped: bool) -> None:
    """On data lines of their own two sensors do not meet; a board with one pin for data has one bus."""
    nets = [
        net(f"{line} {name}", "signal", "brain.*", f"{name}.{pin}")
        for name in ("front", "rear")
        for line, pin in (("clock", "SCL"), ("data", "SDA"))
    ]
    made = simple(board, {"front": "sensor-time-of-flight", "rear": "sensor-time-of-flight"}, nets)
    assert bool(stops(made, "answer at one address")) == stopped
