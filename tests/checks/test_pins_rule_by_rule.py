"""Pins at the limits of each rule: levels, currents, timers, the bus; dividers against every other one."""

from __future__ import annotations

from dataclasses import replace

import pytest

from fitplan.checks.divider import TOLERANCE, divider, ohms
from fitplan.checks.pin_currents import current_faults, pin_draws
from fitplan.checks.pin_facts import (
    _data_line,
    _pull_ups,
    bare_diodes,
    bus_faults,
    cannot,
    cares,
    fixed_faults,
    resistor_table,
    timer_faults,
)
from fitplan.checks.pin_levels import (
    DEFAULTS,
    _in_its_lead,
    _level_of,
    _over_input,
    _too_high,
    _too_low,
    level_faults,
    supply_volts,
)
from fitplan.checks.pins import _console, _left_open, _only_high
from fitplan.circuit.net_ends import ResolvedEnd, ends_of
from fitplan.circuit.nodes import read_circuit
from fitplan.circuit.supply_tree import Link, Rail, RailLoad, Supply, SupplyTree
from fitplan.model.electrical import (
    BusDevice,
    CellPack,
    Controller,
    Emitter,
    Load,
    MotorDriver,
    Ranger,
    SeriesResistor,
)
from fitplan.model.found import Finding
from fitplan.model.nets import Net
from fitplan.model.part import Part, Pin
from fitplan.model.pins_used import PinUse, Resistor
from fitplan.model.train import Train
from fitplan.pins.matching import PinMatch, match_pins
from fitplan.pins.train_circuit import TrainCircuit
from tests.circuit.sample_parts import (
    LINEAR_5V,
    bank,
    board,
    cans,
    cells,
    driver,
    lamp,
    need,
    net,
    part,
    pin,
    ranger,
    step_up,
    train,
)

NO_MATCH = PinMatch(())


def made(parts: dict[str, Part], *nets: Net) -> Train:
    return train([need(name, one) for name, one in parts.items()], nets)


# -- dividers ----------------------------------------------------------------------------------------------

E24 = (10, 11, 12, 13, 15, 16, 18, 20, 22, 24, 27, 30, 33, 36, 39, 43, 47, 51, 56, 62, 68, 75, 82, 91)


@pytest.mark.parametrize(
    ("sent", "allowed"),
    [(5.0, 3.3), (5.0, 3.119), (5.0, 0.547), (5.0, 1.0), (12.0, 3.3), (5.0, 2.5), (9.0, 5.0), (3.3, 3.0)],
)
def test_no_divider_of_the_series_gives_more(sent: float, allowed: float) -> None:
    """Every pair of IEC 60063 values from 1 to 91 kΩ (and 100 Ω decades) of 5 to 30 kΩ in all, tried."""
    values = [base * scale for base in E24 for scale in (100, 1000)]
    able = [
        (-sent * low / (up + low), up + low, up, low)
        for up in values
        for low in values
        if 5000 <= up + low <= 30_000 and sent * low * 1.05 / (up * 0.95 + low * 1.05) <= allowed
    ]
    volts, total, *_ = min(able)
    found = divider(sent, allowed)
    assert found.volts == pytest.approx(-volts)
    assert found.upper_ohm + found.lower_ohm == total
    assert found.volts == pytest.approx(sent * found.lower_ohm / (found.upper_ohm + found.lower_ohm))
    low = found.lower_ohm * (1 + TOLERANCE)
    assert found.most_volts == pytest.approx(sent * low / (found.upper_ohm * (1 - TOLERANCE) + low))


def test_dividers_that_cannot_be() -> None:
    for sent, allowed in ((3.3, 3.3), (3.3, 0.0), (3.3, -1.0)):
        with pytest.raises(ValueError, match="need no divider"):
            divider(sent, allowed)
    with pytest.raises(ValueError, match=r"no two E24 values divide 1000 V to 0\.1 V"):
        divider(1000.0, 0.1)
    assert [ohms(one) for one in (5.1, 999, 1000, 5600, 91_000)] == [
        "5.1 Ω",
        "999 Ω",
        "1 kΩ",
        "5.6 kΩ",
        "91 kΩ",
    ]


# -- levels ------------------------------------------------------------------------------------------------


def end(
    wants: str, *figures: object, owner: str = "eye", feeds: bool = True, volts: float = 0.0
) -> ResolvedEnd:
    own = replace(pin("S", wants=cans(wants)), volts=volts)  # type: ignore[arg-type]
    pins = [own, *([pin("V", "supply")] if feeds else []), pin("G", "ground")]
    return ResolvedEnd("n", owner, "S", (own,), part("eye", *figures, pins=pins))  # type: ignore[arg-type]


def controller(logic: float = 3.3, tolerant: bool = False) -> Controller:
    found = board(logic=logic, tolerant=tolerant, regulator=None).figure(Controller)
    assert found is not None
    return found


@pytest.mark.parametrize(
    ("sent", "tolerant", "told"),
    [
        (3.3 + 0.3, False, False),
        (3.7, False, True),
        (5.5, True, False),
        (5.51, True, True),
        (5.0, False, True),
    ],
)
def test_a_signal_that_is_too_high(sent: float, tolerant: bool, told: bool) -> None:
    """0.3 V over the pin's own level; a tolerant pin stands 5.5 V."""
    found = _too_high("brain.D2", end("input"), sent, controller(tolerant=tolerant), DEFAULTS)
    assert bool(found) is told
    for one in found:
        assert (one.severity, one.figure) == ("stop", sent)
        assert one.limit == pytest.approx(3.6)
        made_ = divider(sent, 3.3)
        assert (
            f"put {ohms(made_.upper_ohm)} between eye.S and the pin and {ohms(made_.lower_ohm)} from"
            in one.remedy
        )
        assert [add.name for add in one.add] == [
            f"resistor {ohms(v)}, 0.25 W" for v in (made_.upper_ohm, made_.lower_ohm)
        ]
    for bus in ("data", "clock"):
        for one in _too_high("brain.D2", end(bus), sent, controller(tolerant=tolerant), DEFAULTS):
            assert one.remedy.startswith("feed eye with 3.3 V, or put a level shifter")
            assert [add.name for add in one.add] == ["level shifter for two lines"]


def wired_eye(load: Load, volts: float = 0.0, pack: Part | None = None, at: str = "raw") -> Train:
    own = end("input", load, volts=volts).part
    assert own is not None
    return made(
        {"cells": pack or cells(4), "eye": own, "brain": board()},
        net("p", "supply", "cells.plus", "eye.V", f"brain.{at}"),
        net("n", "signal", "eye.S", "brain.D2"),
        net("g", "ground", "cells.minus", "eye.G", "brain.GND"),
    )


@pytest.mark.parametrize(
    ("at", "volts", "told"),
    [("raw", 0.0, 1), ("5v", 0.0, 0), ("3v3", 0.0, 1), ("5v", 6.72, 1)],
)
def test_what_hangs_on_the_boards_own_rail_swings_with_it(at: str, volts: float, told: int) -> None:
    """At the rail of the board's logic its pins stand all that the sensor sends, at no other pin of it."""
    whole = wired_eye(Load(3.0, 9.0, 1.0, 1.0), volts, at=at)
    chosen = {need.name: need.candidates[0] for need in whole.needs}
    circuit = TrainCircuit.of(whole, {})
    found = level_faults(whole, chosen, circuit.pins, circuit)
    assert len([one for one in found if "sends up to 6.72 V" in one.message]) == told


@pytest.mark.parametrize(
    ("load", "volts", "level"),
    [
        (Load(3.0, 9.0, 1.0, 1.0), 0.0, 6.72),  # that of fresh cells
        (Load(3.0, 9.0, 1.0, 1.0, logic_v=3.3), 0.0, 3.3),
        (Load(3.0, 9.0, 1.0, 1.0, logic_v=3.3), 2.8, 2.8),
    ],
)
def test_the_level_that_a_part_sends(load: Load, volts: float, level: float) -> None:
    """Its pin's own, its own logic, or what feeds it, in this order."""
    whole = wired_eye(load, volts)
    own = next(one for one in ends_of(whole, {}, whole.nets[1]) if one.owner == "eye")
    assert _level_of(own, read_circuit(whole, {})) == pytest.approx(level)
    lost = replace(own, owner="other")
    assert _level_of(lost, read_circuit(whole, {})) == pytest.approx(volts or load.logic_v)


@pytest.mark.parametrize(
    ("load", "severity", "limit"),
    [
        (Load(3.0, 5.5, 1.0, 1.0, signal_max_v=5.0), None, 0.0),
        (Load(3.0, 5.5, 1.0, 1.0, signal_max_v=4.9), "stop", 4.9),
        (Load(3.0, 9.0, 1.0, 1.0), None, 0.0),  # fed with 6 V: 6.3 V
    ],
)
def test_what_a_pin_gives_against_what_an_input_stands(
    load: Load, severity: str | None, limit: float
) -> None:
    """5 V of the board; without a figure 0.3 V over what feeds the part by its label."""
    whole = wired_eye(load)
    base = next(one for one in ends_of(whole, {}, whole.nets[1]) if one.owner == "eye")
    own = replace(base, pins=end("output", load).pins, part=end("output", load).part)
    found = _over_input("brain.D2", own, controller(5.0), read_circuit(whole, {}))
    assert [one.severity for one in found] == ([severity] if severity else [])
    for one in found:
        assert (one.figure, one.limit) == (5.0, limit)
    low = wired_eye(Load(2.0, 9.0, 1.0, 1.0), pack=cells(3))  # 4.5 V and 0.3 V
    base = next(one for one in ends_of(low, {}, low.nets[1]) if one.owner == "eye")
    plain = Load(2.0, 9.0, 1.0, 1.0)
    own = replace(base, pins=end("output", plain).pins, part=end("output", plain).part)
    (one,) = _over_input("brain.D2", own, controller(5.0), read_circuit(low, {}))
    assert (one.severity, one.limit) == ("stop", 4.8)
    made_ = divider(5.0, 4.5)
    assert f"put {ohms(made_.upper_ohm)} between the pin and eye.S" in one.remedy
    assert _over_input("brain.D2", own, controller(4.8), read_circuit(low, {})) == []
    hears = replace(own, pins=end("input", plain).pins)
    assert _over_input("brain.D2", hears, controller(5.0), read_circuit(low, {})) == []


@pytest.mark.parametrize(
    ("most", "limit", "severity", "told"),
    [(5.0, 0.0, None, 0.0), (4.9, 5.2, "caution", 4.9), (4.0, 4.5, "stop", 4.5)],
)
def test_a_lamp_on_a_pin_beyond_its_volts(
    most: float, limit: float, severity: str | None, told: float
) -> None:
    """Out of its range a caution, beyond what it stands a stop; a resistor in its lead helps."""
    load = Load(2.0, most, 10.0, 20.0, limit_v=limit)
    own = end("output", load, feeds=False)
    found = _over_input("brain.D2", own, controller(5.0), read_circuit(made({}), {}))
    assert [one.severity for one in found] == ([severity] if severity else [])
    for one in found:
        assert (one.figure, one.limit, one.add) == (5.0, told, ())
        assert ("stands" in one.message) is (severity == "stop")
        # Ohm's law: what is too much over 20 mA, the next value of the series.
        assert f"solder {'5.1' if most == 4.9 else '51'} Ω into the lead" in one.remedy
    assert _in_its_lead("x", None, 5.0, 3.0) == "use one that stands 5 V, or a board of 3 V or less"
    assert _in_its_lead("x", replace(load, peak_ma=0.0), 5.0, 3.0).endswith("or a board of 3 V or less")
    assert _in_its_lead("x", load, 5.0, 3.0).startswith("solder 100 Ω into the lead of x for 20 mA")


@pytest.mark.parametrize(
    ("load", "fed", "severity", "limit"),
    [
        (Load(3.0, 5.5, 1.0, 1.0), 3.3 / 0.7, None, 0.0),
        (Load(3.0, 5.5, 1.0, 1.0), 4.8, "caution", 3.36),
        (Load(3.0, 4.7, 1.0, 1.0), 6.0, None, 0.0),  # no more than its own most counts
        (Load(3.0, 0.0, 1.0, 1.0), 6.0, "caution", 3.5),  # 5 V where that is unsaid
        (Load(3.0, 5.5, 1.0, 1.0, logic_v=3.3), 5.0, None, 0.0),
        (Load(3.0, 5.5, 1.0, 1.0, logic_v=5.0), 3.3, "caution", 3.5),
        (Load(4.5, 5.5, 1.0, 1.0), 5.0, "caution", 3.5),
        (Load(3.3, 5.5, 1.0, 1.0), 5.0, "caution", 3.5),
    ],
)
def test_a_level_that_may_not_be_taken_for_high(
    load: Load, fed: float, severity: str | None, limit: float
) -> None:
    """0.7 of what feeds the receiver, against 3.3 V of the board; fed with these where it works with them."""
    found = _too_low("brain.D2", end("output", load), controller(3.3), {"eye": fed}, DEFAULTS)
    assert [one.severity for one in found] == ([severity] if severity else [])
    for one in found:
        assert (one.figure, one.limit) == (3.3, limit)
        lower = load.min_v <= 3.3
        assert one.remedy.startswith(
            "feed eye with 3.3 V" if lower else "put a level shifter between the pin and eye.S"
        )
        assert bool(one.add) is not lower
    assert _too_low("brain.D2", end("output", Load(3.0, 5.5, 1.0, 1.0)), controller(3.3), {}, DEFAULTS) == []
    assert _too_low("brain.D2", end("output"), controller(3.3), {}, DEFAULTS) == []
    for least, told in ((3.3, 0), (3.4, 1)):
        lit = end("output", Load(least, 5.5, 1.0, 1.0), feeds=False)
        stops = _too_low("brain.D2", lit, controller(3.3), {}, DEFAULTS)
        assert [one.limit for one in stops] == [least] * told
        assert all(one.severity == "stop" for one in stops)


def test_volts_of_the_rail_that_feeds_each() -> None:
    pack = CellPack("alkaline", "LR6", 4, 2200.0, 0.15, 1000.0)
    five = Rail(
        "five",
        (RailLoad("a", 1.0, 1.0),),
        (Link("through", "s", step_up(), Rail("x", (RailLoad("b", 1.0, 1.0),))),),
    )
    root = Rail("raw", (RailLoad("c", 1.0, 1.0),), (Link("regulator", "r", step_up(), five, LINEAR_5V),))
    assert supply_volts(Supply((SupplyTree("cells", cells(4), pack, root),))) == {
        "c": 6.0,
        "a": 5.0,
        "b": 5.0,
    }


def test_levels_are_asked_at_pins_with_a_net_and_a_part() -> None:
    """A pin that is kept free, and one of what is no board, are passed over."""
    whole = wired_eye(Load(3.0, 9.0, 1.0, 1.0))
    circuit = TrainCircuit.of(whole, {})
    uses = (PinUse("brain", "D9", "", "", "kept"), PinUse("gone", "D1", "n", "", "x"), *circuit.pins.uses)
    chosen = {one.name: one.candidates[0] for one in whole.needs}
    found = level_faults(whole, chosen, PinMatch(uses), circuit)
    (one,) = found
    assert (one.where, round(one.figure, 2)) == ("brain.D2", 6.72)


# -- currents ----------------------------------------------------------------------------------------------


def lit(
    *lamps: tuple[str, str, float], chip: float = 0.0, port: float = 0.0, family: str = "lamp"
) -> list[Finding]:
    """Lamps (pin, port of that pin, mA) on a board whose pins give 20 mA."""
    brain = board()
    ports = {name: group for name, group, _ in lamps}
    own = brain.figure(Controller)
    assert own is not None
    brain = replace(
        brain,
        pins=tuple(replace(one, port=ports.get(one.name, "")) for one in brain.pins),
        electrical=(replace(own, chip_ma=chip, port_ma=port),),
    )
    parts = {
        f"l{i}": replace(lamp(ma), family=family, electrical=(Load(1.8, 5.5, ma, ma),))
        for i, (_, _, ma) in enumerate(lamps)
    }
    by_pin: dict[str, list[str]] = {}
    for i, (name, _, _) in enumerate(lamps):
        by_pin.setdefault(name, []).append(f"l{i}.IN")
    whole = made(
        {"cells": cells(4), "brain": brain, **parts},
        net("p", "supply", "cells.plus", "brain.raw"),
        *(net(f"n{name}", "signal", f"brain.{name}", *ends) for name, ends in by_pin.items()),
    )
    circuit = TrainCircuit.of(whole, {})
    chosen = {one.name: one.candidates[0] for one in whole.needs}
    return list(current_faults(whole, chosen, circuit.supply, circuit.pins))


@pytest.mark.parametrize(
    ("lamps", "told"),
    [
        ([("D2", "", 20.0)], []),
        ([("D2", "", 21.0)], [("brain (nD2)", 21.0, 20.0)]),
        ([("D2", "", 10.0), ("D2", "", 10.0)], []),
        ([("D2", "", 12.0), ("D2", "", 10.0)], [("brain (nD2)", 22.0, 20.0)]),
        ([("D2", "", 20.0), ("D3", "", 25.0)], [("brain (nD3)", 25.0, 20.0)]),
    ],
)
def test_what_a_pin_gives(lamps: list[tuple[str, str, float]], told: list[tuple[str, float, float]]) -> None:
    """Just as much is enough; loads on one pin add up."""
    found = lit(*lamps)
    assert [(one.where, one.figure, one.limit) for one in found] == told
    for one in found:
        several = len(lamps) == 2 and lamps[0][0] == lamps[1][0]
        assert ("draw 22 mA together from" in one.message) is several
        assert one.remedy.startswith("give each a net" if several else "switch it with a transistor")
    for one in lit(*lamps, family="sounder"):
        assert one.remedy.startswith("use one on a board with its own transistor")


@pytest.mark.parametrize(
    ("chip", "port", "told"),
    [
        (40.0, 0.0, []),
        (39.0, 0.0, [(40.0, 39.0)]),
        (0.0, 25.0, []),
        (0.0, 24.0, [(25.0, 24.0)]),
        (39.0, 24.0, [(40.0, 39.0)]),  # the chip is told, not its ports as well
        (40.0, 24.0, [(25.0, 24.0)]),
    ],
)
def test_what_a_chip_and_a_port_give(chip: float, port: float, told: list[tuple[float, float]]) -> None:
    """15 and 10 mA on one port, 15 on another, 40 in all."""
    found = lit(("D2", "B", 15.0), ("D3", "B", 10.0), ("D4", "C", 15.0), chip=chip, port=port)
    assert [(one.figure, one.limit) for one in found] == told
    for one in found:
        assert ("D2, D3 of brain belong to one port" in one.message) is (one.limit == port)


def test_pins_that_are_not_matched_yet_are_starred() -> None:
    whole = made(
        {"cells": cells(4), "brain": board(), "lamp": lamp(8.0)},
        net("p", "supply", "cells.plus", "brain.raw"),
        net("light", "signal", "brain.*", "lamp.IN"),
    )
    chosen = {one.name: one.candidates[0] for one in whole.needs}
    supply = TrainCircuit.of(whole, {}).supply
    (one,) = pin_draws(whole, chosen, supply, NO_MATCH)
    assert (one.pin, one.net, one.owners, one.peak_ma) == ("*", "light", ("lamp",), 8.0)
    (one,) = pin_draws(whole, chosen, supply, match_pins(whole, {}))
    assert one.pin.startswith("D")


# -- what pins are -----------------------------------------------------------------------------------------

BOTH = cans("input", "output")


def minded(*pins: Pin, **figures: object) -> Part:
    own = replace(controller(5.0), **figures)  # type: ignore[arg-type]
    return part("brain", own, pins=[pin("GND", "ground"), *pins], family="controller")


CONTACT = part("contact", pins=[replace(pin("S", wants=cans("input")), care=frozenset({"wants pull-up"}))])
EAR = part("ear", pins=[pin("S", wants=cans("analog"))])
HORN = part("horn", pins=[pin("S", wants=cans("pwm"))], family="sounder")
SHINE = part("shine", Emitter(940.0, 17.0, 4000.0), pins=[pin("S", wants=cans("pwm"))])
DIM = part("dim", pins=[pin("S", wants=cans("pwm"))], family="lamp")
LIT = part("lit", pins=[pin("S", wants=cans("output"))], family="lamp")


def told(check: object, brain: Part, **joins: tuple[str, Part]) -> list[Finding]:
    """What a check says of parts joined to pins of a board, each by a net of its own name."""
    parts = {"brain": brain, **{name: one for name, (_, one) in joins.items()}}
    whole = made(
        parts, *(net(f"n {name}", "signal", f"brain.{at}", f"{name}.S") for name, (at, _) in joins.items())
    )
    return list(check(whole, parts, match_pins(whole, parts)))  # type: ignore[operator]


def cared(*care: str, can: object = BOTH | cans("analog")) -> Pin:
    return replace(pin("D2", can=can), care=frozenset(care))  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("care", "one", "words"),
    [
        ("reset", LIT, "is the reset pin"),
        ("boot", CONTACT, "decides at its level how the board starts"),
        ("boot", LIT, ""),
        ("not with radio", EAR, "measures nothing while the radio is on"),
        ("not with radio", CONTACT, ""),
        ("no pull-up", CONTACT, "has no pull-up inside"),
        ("no pull-up", EAR, ""),
    ],
)
def test_pins_that_must_be_minded(care: str, one: Part, words: str) -> None:
    found = told(cares, minded(cared(care)), x=("D2", one))
    assert [words in each.message for each in found] == ([True] if words else [])
    for each in found:
        assert (each.severity, each.where) == ("stop", "brain.D2")
        assert each.message.startswith("brain.D2, taken for n x, ")
    assert told(cares, minded(cared(care), pin("D3", can=BOTH | cans("analog"))), x=("D3", one)) == []


def test_a_pin_that_cannot_is_told_once() -> None:
    """Reset and boot go before that it cannot; that it cannot goes before a missing pull-up."""
    weak = cared("no pull-up", can=cans("output"))
    assert told(cares, minded(weak), x=("D2", CONTACT)) == []
    (one,) = told(fixed_faults, minded(weak), x=("D2", CONTACT))
    assert (one.figure, one.limit, one.where) == (0.0, 1.0, "brain.D2")
    assert one.message == "brain.D2, taken for n x, cannot serve as input"
    assert one.remedy == "use a controller that has pins for input"
    reset = cared("reset", can=cans("output"))
    assert len(told(cares, minded(reset), x=("D2", CONTACT))) == 1
    assert told(fixed_faults, minded(reset), x=("D2", CONTACT)) == []
    more = [pin(f"D{i}", can=BOTH) for i in range(3, 9)]
    (one,) = told(fixed_faults, minded(cared(can=cans("output")), *more), x=("D2", CONTACT))
    assert one.remedy == "write * and one that can is chosen, or take D3 or D4 or D5 or D6"
    whole = made({"brain": minded(cared(can=cans("output")))}, net("n", "signal", "brain.D2"))
    assert [
        cannot({"brain": whole.needs[0].candidates[0]}, want) for want in match_pins(whole, {}).unmatched
    ] in ([], [()])


def timed(
    *pins: tuple[str, str], tone: str = "", clock: str = "", **joins: tuple[str, Part]
) -> list[tuple[str, float]]:
    brain = minded(
        *(replace(pin(name, can=BOTH | cans("pwm")), timer=timer) for name, timer in pins),
        tone_timer=tone, clock_timer=clock,
    )  # fmt: skip
    return [(one.message.split(" want timer")[0], one.figure) for one in told(timer_faults, brain, **joins)]


T1, T1_TOO, T2 = ("D2", "T1"), ("D3", "T1"), ("D4", "T2")


@pytest.mark.parametrize(
    ("tone", "clock", "joins", "expected"),
    [
        ("", "", {"a": ("D2", SHINE)}, []),
        ("", "T1", {"a": ("D2", SHINE)}, [("the carrier of n a at D2 and the clock", 2.0)]),
        ("", "T2", {"a": ("D2", SHINE)}, []),
        ("", "", {"a": ("D2", SHINE), "b": ("D3", DIM)}, [("the carrier of n a at D2 and n b at D3", 2.0)]),
        ("", "", {"a": ("D2", SHINE), "b": ("D4", DIM)}, []),
        ("", "", {"a": ("D2", SHINE), "b": ("D3", LIT)}, []),
        ("", "", {"a": ("D2", DIM), "b": ("D3", DIM)}, []),
        (
            "T1",
            "",
            {"a": ("D2", SHINE), "b": ("D4", HORN)},
            [("the carrier of n a at D2 and the tone of n b", 2.0)],
        ),
        ("T2", "", {"a": ("D2", SHINE), "b": ("D3", HORN)}, []),
        ("", "", {"a": ("D2", SHINE), "b": ("D3", HORN)}, []),
        ("T1", "", {"a": ("D2", DIM), "b": ("D4", HORN)}, [("the tone of n b and n a at D2", 2.0)]),
        (
            "T1",
            "T1",
            {"a": ("D2", DIM), "b": ("D3", HORN)},
            [("the tone of n b and n a at D2 and the clock", 3.0)],
        ),
        ("T1", "", {"b": ("D4", HORN)}, []),
    ],
)
def test_two_frequencies_of_one_timer(
    tone: str, clock: str, joins: dict[str, tuple[str, Part]], expected: list[tuple[str, float]]
) -> None:
    """A carrier takes the timer of its pin, a tone that of the tone call, whatever its pin; others share."""
    assert timed(T1, T1_TOO, T2, tone=tone, clock=clock, **joins) == expected


def test_sounders_take_turns() -> None:
    """The tone call gives one tone at a time, whichever pins they are at; beside a carrier it is a stop."""
    brain = minded(
        *(replace(pin(name, can=BOTH | cans("pwm")), timer=timer) for name, timer in (T1, T1_TOO, T2)),
        tone_timer="T1",
    )
    horns = {"b": ("D3", HORN), "c": ("D4", HORN)}
    (one,) = told(timer_faults, brain, **horns)
    assert (one.severity, one.figure, one.limit, one.where) == ("note", 2.0, 1.0, "brain")
    assert one.message == "n b and n c take turns: all tones come from timer T1 of brain, one at a time"
    (one,) = told(timer_faults, brain, a=("D2", SHINE), **horns)
    assert (one.severity, one.figure) == ("stop", 3.0)
    assert "the tone of n b and the tone of n c" in one.message


def test_emitters_have_one_carrier() -> None:
    """A timer has one frequency for all of its pins, alike for two emitters; not for a lamp beside them."""
    brain = minded(*(replace(pin(name, can=BOTH), timer=timer) for name, timer in (T1, T1_TOO, T2)))
    brain = replace(brain, pins=(*brain.pins, replace(pin("D5", can=BOTH), timer="T1")))
    shining = {"b": ("D2", SHINE), "c": ("D3", SHINE)}
    (one,) = told(timer_faults, brain, **shining)
    assert (one.severity, one.figure, one.limit, one.where) == ("note", 2.0, 1.0, "brain")
    assert (
        one.message == "n b and n c have one carrier: timer T1 of brain has one frequency for all of its pins"
    )
    assert told(timer_faults, brain, b=("D2", SHINE), c=("D4", SHINE)) == []
    (one,) = told(timer_faults, brain, a=("D5", DIM), **shining)
    assert (one.severity, one.figure) == ("stop", 3.0)


# -- the bus -----------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("pulls", "told_"),
    [
        ([12_000.0], None),
        ([12_001.0], ("no pull-ups that hold it", 12_001.0, 12_000.0)),
        ([1000.0], None),
        ([999.0], ("too many pull-ups", 999.0, 1000.0)),
        ([10_000.0, 10_000.0], None),
        ([4700.0, 2200.0, 1800.0], ("too many pull-ups", 818.0, 1000.0)),
        ([0.0], ("no pull-ups that hold it", 1e6, 12_000.0)),
        ([0.0, 4700.0], None),
        ([0.5], ("too many pull-ups", 0.0, 1000.0)),
    ],
)
def test_pull_ups_side_by_side(pulls: list[float], told_: tuple[str, float, float] | None) -> None:
    """Conductances add up: 1 to 12 kΩ on each line."""
    found = list(
        _pull_ups("brain", {f"d{i}": BusDevice("0x1", pull_up_ohm=ohm) for i, ohm in enumerate(pulls)})
    )
    assert [(one.message.split("has ")[1], one.figure, one.limit) for one in found] == (
        [told_] if told_ else []
    )
    for one in found:
        assert one.remedy.startswith("solder" if "no pull-ups" in one.message else "take the pull-ups off")


def test_which_bus_of_a_board_a_part_is_on() -> None:
    """One by its pin, by its net where that is to be chosen; a board with one bus has no need of a name."""
    data = [pin(f"S{i}", can=cans("data")) for i in (1, 2)]
    line = net("n", "signal")
    one, two = part("a", pins=data[:1]), part("b", pins=data)
    assert _data_line(ResolvedEnd("n", "x", "S1", (data[0],), one), line) == ""
    assert _data_line(ResolvedEnd("n", "x", "S1", (data[0],), two), line) == "S1"
    assert _data_line(ResolvedEnd("n", "x", "*", (), two, wild=True), line) == "net n"
    assert _data_line(ResolvedEnd("n", "x", "S1", (data[0],), None), line) == ""


def test_equal_addresses_on_two_buses_do_not_meet() -> None:
    """On one bus they do; by their addresses otherwise."""
    brain = minded(pin("S1", can=BOTH | cans("data")), pin("S2", can=BOTH | cans("data")))

    def device(address: str) -> Part:
        return part("d", BusDevice(address, pull_up_ohm=4700.0), pins=[pin("S", wants=cans("data"))])

    def found(first: str, second: str, at: str) -> list[str]:
        parts = {"brain": brain, "a": device(first), "b": device(second)}
        whole = made(parts, net("x", "signal", "brain.S1", "a.S"), net("y", "signal", f"brain.{at}", "b.S"))
        return [one.where for one in bus_faults(whole, parts)]

    assert found("0x1", "0x1", "S1") == ["a, b"]
    assert found("0x1", "0x1", "S2") == []
    assert found("0x1", "0x2", "S1") == []


# -- resistors, the console, open pins ---------------------------------------------------------------------


def test_the_table_of_resistors() -> None:
    rows = (
        Resistor("lamp", "IN", "light", 330.0, 9.09, 0.0273, 0.125, "lead"),
        Resistor("beam", "S", "ir", 1500.0, 2.0, 0.006, 0.125, "board"),
    )
    table = resistor_table(rows)
    assert table is not None
    assert table.rows == (
        ("lamp", "light", "330 Ω", "27 mW, rated 0.125 W", "in the lead of lamp.IN", 9.1),
        ("beam", "ir", "1.5 kΩ", "6 mW, rated 0.125 W", "on its board already", 2.0),
    )
    assert resistor_table(()) is None


def test_diodes_that_nothing_bounds() -> None:
    """Lamps and emitters on signal nets, without figures of a resistor; each told once for its pin."""
    bare = replace(lamp(), electrical=(Load(1.8, 5.5, 8.0, 8.0),))
    parts = {
        "brain": board(),
        "a": bare,
        "b": lamp(),
        "c": replace(bare, family="emitter"),
        "d": replace(bare, family="part"),
    }
    whole = made(
        parts,
        net("w", "supply", "a.IN"),
        *(net(f"n{name}", "signal", "brain.*", f"{name}.IN") for name in "abcd"),
        net("g", "signal", "a.GND"),
    )
    assert [one.where for one in bare_diodes(whole, parts, ())] == ["a", "c"]
    has = (Resistor("a", "IN", "na", 330.0, 9.0, 0.03, 0.125, "lead"),)
    assert [one.where for one in bare_diodes(whole, parts, has)] == ["c"]
    assert SeriesResistor(2.0, 0.0, 8.0, "lead") in lamp().electrical


def consoled(*joins: str, rangers: int) -> str:
    parts: dict[str, Part] = {"brain": board(), **{f"e{i}": ranger() for i in range(rangers)}}
    light = replace(ranger(), electrical=(Ranger("light", 15.0, 20.0, 4000.0, 60.0),))
    whole = made({**parts, "light": light}, *(net(f"n{i}", "signal", one) for i, one in enumerate(joins)))
    chosen = {one.name: one.candidates[0] for one in whole.needs}
    (one,) = _console(whole, chosen, PinMatch((), console=("brain.D0", "brain.D1")))
    assert (one.severity, one.where, one.figure) == ("caution", "brain", 2.0)
    return one.remedy.split(";")[0]


def test_what_frees_the_console() -> None:
    """Pins that were written give way; triggers of two that sound may be shared; else a larger board."""
    assert consoled("brain.D1", "brain.*", rangers=2) == "write * instead of brain.D1, and others are chosen"
    assert (
        consoled("brain.*", rangers=2)
        == "let both rangers share the net of their trigger or use a board with more pins"
    )
    assert consoled("brain.*", rangers=1) == "use a board with more pins"
    assert _console(made({}), {}, NO_MATCH) == []


def test_pins_that_are_left_open() -> None:
    """Of parts in some net; of a driver not where all are, which is told elsewhere; optional ones not."""
    two = part("two", pins=[pin("A", wants=cans("input")), pin("B", wants=cans("input")), pin("G", "ground")])
    spare = replace(two, pins=(replace(two.pins[0], optional=True), *two.pins[1:]))
    parts = {"two": two, "one": two, "spare": spare, "off": two, "driver": driver(), "half": driver()}
    whole = made(
        parts,
        net("g", "ground", "two.G", "one.G", "spare.G", "driver.GND", "half.GND"),
        net("x", "signal", "one.A", "spare.B", "half.PWM"),
    )
    found = _left_open(whole, parts)
    assert [(one.where, one.figure) for one in found] == [("two", 2.0), ("one", 1.0), ("half", 1.0)]
    assert found[0].message == "two.A and two.B are in no net: two does not work without them"
    assert found[1].message == "one.B is in no net: one does not work without it"
    assert ["only to be high" in one.remedy for one in found] == [False, False, True]
    assert [_only_high(one) for one in (driver(), LIT, two)] == [True, True, False]
    assert MotorDriver in {type(figure) for figure in driver().electrical}
    assert bank().figure(CellPack) is None
