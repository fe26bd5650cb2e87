"""Pins that only parts without a place would use are in no pin map: nobody is to program them."""

from __future__ import annotations

from fitplan.model.built import BuiltTrain
from fitplan.model.pins_used import PinUse
from fitplan.model.placed import Placement
from fitplan.model.solids import Place, pose_named
from fitplan.model.wired import Harness
from fitplan.planning.place_and_wire import _of_placed
from fitplan.verify.pin_map import check_pin_map
from fitplan.verify.result import Tally
from tests.circuit.sample_parts import board, lamp, need, net, train


def test_a_pin_for_what_has_no_place_is_left_out() -> None:
    """Of three lamps one has no place; two share a pin, and the checker misses no row."""
    needs = [need("brain", board()), *(need(name, lamp()) for name in ("near", "far", "lost"))]
    nets = [net("both", "signal", "brain.*", "near.IN", "lost.IN"), net("one", "signal", "brain.*", "far.IN"),
            net("none", "signal", "brain.*", "lost.IN")]  # fmt: skip
    uses = (
        PinUse("brain", "D2", "both", "near.IN, lost.IN", "output"),
        PinUse("brain", "D3", "one", "far.IN", "output"),
        PinUse("brain", "D4", "none", "lost.IN", "output"),
        PinUse("brain", "D5", "", "", "pwm"),
    )
    places = tuple(
        Placement(one.name, one.candidates[0], "v", Place(pose_named("+x+y+z"), (0.0, 0.0, 20.0)), "the body")
        for one in needs
        if one.name != "lost"
    )
    built = BuiltTrain(train(needs, nets), places, Harness(), uses)
    kept = _of_placed(built)
    assert [use.pin for use in kept] == ["D2", "D3", "D5"]
    sheet = Tally()
    check_pin_map(BuiltTrain(built.train, places, Harness(), kept), (), sheet)
    assert not [one for one in sheet.report().problems if "no pin for none" in one.message]
    check_pin_map(BuiltTrain(built.train, places, Harness(), kept[1:]), (), sheet)
    assert [one for one in sheet.report().problems if "has no pin for both" in one.message]
