"""Pins that serve a net already: they stay, but for what would set one timer to two frequencies."""

from __future__ import annotations

import random
from dataclasses import replace

import pytest

from fitplan.checks.pin_facts import timer_faults
from fitplan.model.as_built import AsBuilt, BuiltPin
from fitplan.model.electrical import Controller, Emitter
from fitplan.model.part import Part
from fitplan.model.train import Train
from fitplan.pins.matching import match_pins
from fitplan.pins.timers import timers_in_use
from fitplan.pins.wants import wants_of
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


def test_two_emitters_take_one_timer_and_no_stop_is_told() -> None:
    """Pins that are chosen for two emitters share their timer: nothing asks for pins that cannot be had."""
    brain = _board(D3="T2", D5="T0", D9="T1", D10="T1", D11="T2")
    whole = _train(brain, {"a": SHINE, "b": SHINE, "c": HORN, "d": DIM}, {})
    parts = {one.name: one.candidates[0] for one in whole.needs}
    match = match_pins(whole, parts)
    assert {match.pin("brain", "n a"), match.pin("brain", "n b")} == {"D9", "D10"}
    assert match.pin("brain", "n d") == "D5"
    (one,) = timer_faults(whole, parts, match)
    assert (one.severity, one.figure) == ("note", 2.0)


@pytest.mark.parametrize("seed", range(30))
def test_what_makes_way_is_what_is_told(seed: int) -> None:
    """Without the wants that make way, no stop is left but what lies between tone and clock."""
    rng = random.Random(seed)
    brain = _board(D3="T2", D5="T0", D9="T1", D10="T1", D11="T2")
    kinds = {f"n{i}": rng.choice([SHINE, HORN, DIM]) for i in range(rng.randint(2, 5))}
    whole = _train(brain, kinds, {})
    parts = {one.name: one.candidates[0] for one in whole.needs}
    pins = [one.name for one in brain.pins if one.can]
    given = list(zip(wants_of(whole, parts, "brain"), rng.sample(pins, len(kinds)), strict=True))
    used = timers_in_use(brain, given)
    assert {one.timer for one in used if one.clashes} == {one.timer for one in used if one.makes_way}
    going = {want.name for one in used for want in one.makes_way}
    left = timers_in_use(brain, [(want, pin) for want, pin in given if want.name not in going])
    assert not any(one.clashes for one in left)
