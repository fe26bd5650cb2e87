"""Pins of parts by what they send, take and need to change: each rule at one pin of an invented part."""

from __future__ import annotations

from dataclasses import replace

import pytest

from fitplan.circuit.nodes import NetPin, signals_given, signals_taken, wants_change
from fitplan.model.electrical import Load, MotorDriver, Ranger
from fitplan.model.part import Can, Part
from tests.circuit.sample_parts import cans, net, part, pin

NET = net("x", "signal")
DRIVES = MotorDriver(2.7, 10.0, 1000.0, 2000.0, 0.5, 1)
HEARS = Ranger("sound", 15.0, 20.0, 4000.0, 60.0)
DRAWS = Load(3.0, 5.5, 9.0, 20.0)


def at(wants: Can, *figures: object, family: str = "part", optional: bool = False) -> NetPin:
    own = replace(pin("P", wants=cans(wants)), optional=optional)
    return NetPin(NET, "one", part("one", *figures, pins=[own], family=family), own, "P")  # type: ignore[arg-type]


@pytest.mark.parametrize("wants", ["pwm", "send", "data", "clock"])
def test_buses_and_tones_must_change(wants: Can) -> None:
    """A carrier, a bus, a line that is sent to: a level that stands is none; a lamp may just be lit."""
    assert wants_change(at(wants, DRAWS))
    assert wants_change(at(wants))
    assert not wants_change(at(wants, DRAWS, family="lamp"))
    assert not wants_change(at(wants, DRIVES))


@pytest.mark.parametrize("wants", ["output", "input", "analog", "receive"])
def test_of_plain_pins_a_rangers_trigger_alone_must_change(wants: Can) -> None:
    """Unless it may stay open; what a part sends itself is no pin that is held."""
    assert wants_change(at(wants, HEARS)) is (wants == "output")
    assert not wants_change(at(wants, HEARS, optional=True))
    assert not wants_change(at(wants, DRAWS))
    assert not wants_change(at(wants, DRIVES))


def test_what_is_to_be_chosen_or_built_in_must_not_change() -> None:
    """No pin, no part: nothing is known of it."""
    one: Part | None = part("one", HEARS)
    assert not wants_change(NetPin(NET, "one", one, None, "*"))
    assert not wants_change(NetPin(NET, "one", None, pin("P", wants=cans("output")), "P"))
    assert not signals_given(NetPin(NET, "one", one, None, "*"))
    assert not signals_taken(NetPin(NET, "one", one, None, "*"))


@pytest.mark.parametrize(
    ("wants", "given", "taken"),
    [
        ("input", True, False),
        ("analog", True, False),
        ("receive", True, False),
        ("output", False, True),
        ("pwm", False, True),
        ("send", False, True),
        ("data", False, False),
        ("clock", False, False),
    ],
)
def test_who_sends_and_who_listens(wants: Can, given: bool, taken: bool) -> None:
    """A pin that wants an input of the controller sends; a bus does both, and counts as neither."""
    assert (signals_given(at(wants)), signals_taken(at(wants))) == (given, taken)
