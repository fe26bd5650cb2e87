"""Pins that serve a net already: they stay, but for what would set one timer to two frequencies."""

from __future__ import annotations

from dataclasses import replace

import pytest

from fitplan.checks.pin_facts import timer_faults
from fitplan.model.as_built import AsBuilt, BuiltPin
from fitplan.model.electrical import Controller, Emitter
from fitplan.model.part import Part
from fitplan.model.train import Train
from fitplan.pins.matching import match_pins
from tests.circuit.sample_parts import board, cans, need, net, part, pin, train

HORN = part("horn", pins=[pin("S", wants=cans("pwm"))], family="sounder")
SHINE = part("shine", Emitter(940.0, 17.0, 4000.0), pins=[pin("S", wants=cans("pwm"))])
DIM = part("dim", pins=[pin("S", wants=cans("pwm"))], family="lamp")
BOTH = cans("input", "output", "pwm")


def _board(**timers: str) -> Part:
    """Return a board whose pins have PWM by timers; its tone call takes T2, its clock T0."""
    figures = board(regulator=None).figure(Controller)
    assert figures is not None
    own = replace(figures, tone_timer="T2", clock_timer="T0")
    pins = [replace(pin(name, can=BOTH), timer=timer) for name, timer in timers.items()]
    return part("brain", own, pins=[pin("GND", "ground"), *pins], family="controller")


def _train(brain: Part, joined: dict[str, Part], wired: dict[str, str], fixed: str = "") -> Train:
    nets = [net(f"n {name}", "signal", f"brain.{fixed or '*'}", f"{name}.S") for name in joined]
    there = AsBuilt(pins=tuple(BuiltPin("brain", f"n {name}", own) for name, own in wired.items()))
    whole = train([need("brain", brain), *(need(name, one) for name, one in joined.items())], nets)
    return replace(whole, as_built=there)


def _stops(whole: Train) -> list[str]:
    parts = {one.name: one.candidates[0] for one in whole.needs}
    return [one.message for one in timer_faults(whole, parts, match_pins(whole, parts))]


@pytest.mark.parametrize(
    ("joined", "wired", "expected"),
    [
        # A carrier at a pin of the tone's timer makes way for the first horn.
        ({"a": SHINE, "b": HORN}, {"a": "D3"}, {"a": "D9"}),
        # A lamp that is dimmed there does, too; the carrier stays, whose timer is another.
        ({"a": SHINE, "b": HORN, "c": DIM}, {"a": "D9", "c": "D3"}, {"a": "D9", "c": "D5"}),
        # Nothing clashes: all stay, whatever the cheapest would be.
        ({"a": SHINE, "c": DIM}, {"a": "D10", "c": "D11"}, {"a": "D10", "c": "D11"}),
        ({"b": HORN, "c": DIM}, {"b": "D9", "c": "D5"}, {"b": "D9", "c": "D5"}),
        # A new carrier finds a timer that no lamp has, or the lamp makes way.
        ({"a": SHINE, "c": DIM}, {"c": "D9"}, {"c": "D9", "a": "D3"}),
        ({"a": SHINE, "b": HORN, "c": DIM}, {"c": "D9", "b": "D3"}, {"a": "D9", "b": "D3", "c": "D5"}),
    ],
)
def test_what_is_wired_keeps_its_pin_but_for_a_clash(
    joined: dict[str, Part], wired: dict[str, str], expected: dict[str, str]
) -> None:
    brain = _board(D3="T2", D5="T0", D9="T1", D10="T1", D11="T2")
    whole = _train(brain, joined, wired)
    parts = {one.name: one.candidates[0] for one in whole.needs}
    match = match_pins(whole, parts)
    assert match.complete
    assert _stops(whole) == []
    given = {name: match.pin("brain", f"n {name}") for name in expected}
    by_timer = {one.name: one.timer for one in brain.pins}
    for name, own in expected.items():
        if wired.get(name) == own:
            assert given[name] == own
        else:
            assert by_timer[given[name]] == by_timer[own]


def test_where_no_other_pin_is_left_it_stays_and_is_told() -> None:
    """The only other timer is the clock's: pins stay as they are wired, and the check stops."""
    brain = _board(D5="T0", D11="T2")
    whole = _train(brain, {"a": SHINE, "b": HORN}, {"a": "D11"})
    parts = {one.name: one.candidates[0] for one in whole.needs}
    assert match_pins(whole, parts).pin("brain", "n a") == "D11"
    assert len(_stops(whole)) == 1
