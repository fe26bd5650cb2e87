"""Ways out of a clash: each is tried, and mends what it says."""

from __future__ import annotations

from dataclasses import replace

from fitplan.model.part import Part
from fitplan.model.train import Train
from fitplan.pins.matching import match_pins
from fitplan.pins.remedies import Remedy, find_remedies
from tests.circuit.sample_parts import board, lamp, need, net, pin, shuttle


def remedies(train: Train) -> tuple[Remedy, ...]:
    return find_remedies(train, {}, match_pins(train, {}))


def short_of_one() -> Part:
    """A board with five signal pins for the six that a shuttle wants."""
    small = board("small", plain=4, pwm=1)
    pins = tuple(p for p in small.pins if p.name not in ("D0", "D1", "A4", "A5"))
    return replace(small, pins=pins)


def test_a_shared_trigger_comes_first() -> None:
    """A board that is one pin short is mended by one joint: both triggers on one pin."""
    found = remedies(shuttle(short_of_one()))
    assert found[0].kind == "share trigger"
    assert "front trigger and rear trigger" in found[0].text
    assert [one.kind for one in found] == ["share trigger", "read one ranger"]


def test_sharing_the_trigger_does_mend_it() -> None:
    """After the remedy is done in the train, every want has a pin."""
    train = shuttle(short_of_one())
    shared = net("front trigger", "signal", "brain.*", "front eyes.TRIG", "rear eyes.TRIG")
    nets = tuple(
        shared if one.name == "front trigger" else one for one in train.nets if one.name != "rear trigger"
    )
    assert not match_pins(train, {}).complete
    assert match_pins(replace(train, nets=nets), {}).complete


def test_a_bigger_board_is_found_in_the_catalogue() -> None:
    """Boards that serve all wants are proposed, the need's candidates before the rest, small before large."""
    large = board("large", plain=20, size=(100.0, 50.0, 12.0))
    middle = board("middle", plain=10, size=(70.0, 50.0, 12.0))
    train = shuttle(short_of_one(), catalogue={"large": large, "middle": middle})
    others = [one for one in remedies(train) if one.kind == "other controller"]
    assert [one.part.id for one in others if one.part] == ["middle", "large"]
    assert {one.effort for one in others} == {5}


def test_an_expander_takes_lamps_but_no_triggers() -> None:
    """Lamps move to an expander when the bus is free; what is timed stays on the board."""
    train = shuttle(short_of_one())
    bus = (pin("SDA", can=("input", "data")), pin("SCL", can=("input", "clock")))
    brain = replace(short_of_one(), pins=(*short_of_one().pins, *bus))
    extra = [need(f"lamp {i}", lamp()) for i in range(3)]
    nets = [net(f"lamp {i}", "signal", "brain.*", f"lamp {i}.IN") for i in range(3)]
    train = replace(train, needs=(need("brain", brain), *train.needs[1:], *extra), nets=(*train.nets, *nets))
    found = [one for one in remedies(train) if one.kind == "expander"]
    assert len(found) == 1
    assert "lamp 0" in found[0].text
    assert "trigger" not in found[0].text


def test_no_remedy_is_proposed_when_all_is_served() -> None:
    """A complete match has no remedies."""
    assert remedies(shuttle()) == ()
