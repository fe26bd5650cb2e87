"""What is wrong with a train when it is switched on is noticed without the checks, unless it is told."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

import pytest

from fitplan.checks.nets import check_nets
from fitplan.files.catalogue import read_catalogue
from fitplan.files.find import example_names
from fitplan.model.built import BuiltTrain
from fitplan.model.electrical import Charger
from fitplan.model.found import Finding
from fitplan.model.nets import Net, PinRef
from fitplan.model.train import Train
from fitplan.model.wired import Harness
from fitplan.surface import read_train
from fitplan.verify.nodes import Branch, switched_on
from fitplan.verify.result import Problem, Tally
from fitplan.verify.switched_on import check_switched_on
from tests.checks.test_nets import TOO_HIGH, WRONG, changed, part
from tests.circuit.sample_parts import net, train
from tests.files.usual_trains import wired_as_usual

CATALOGUE = read_catalogue()


def built(made: Train) -> BuiltTrain:
    return BuiltTrain(made, (), Harness(), ())


def problems(made: Train, findings: Iterable[Finding] = ()) -> tuple[Problem, ...]:
    sheet = Tally()
    check_switched_on(built(made), tuple(findings), sheet)
    return sheet.report().problems


@pytest.mark.parametrize("case", WRONG)
def test_each_wrong_train_is_noticed_and_holds_once_it_is_told(case: str) -> None:
    """A plan that keeps silent about a wrong net does not hold; one with the stops of the checks does."""
    made = WRONG[case][1]()
    assert problems(made)
    assert problems(made, check_nets(built(made)).findings) == ()


def test_what_has_no_place_is_not_switched_on() -> None:
    """A ranger that nothing feeds is let be when a stop says that it has no place, it alone."""
    made = changed(without=("five",))
    unfed = {one.where for one in problems(made) if one.message.startswith("is fed by nothing")}
    assert unfed
    for name in unfed:
        told = Finding("places", "stop", name, f"{name} has no place", 0.0, 1.0, "places", "", "")
        assert {one.where for one in problems(made, [told])} == {one.where for one in problems(made)} - {name}
        mild = replace(told, severity="caution")
        assert problems(made, [mild]) == problems(made)


@pytest.mark.parametrize(("supply", "board", "pin", "volts"), TOO_HIGH)
def test_too_many_volts_are_noticed(supply: str, board: str, pin: str, volts: float) -> None:
    """Node volts with fresh cells are the arithmetic's, and a pin that gets too many is noticed."""
    made = train(
        [part("cells", supply), part("brain", board)],
        [
            net("ground", "ground", "cells.minus", "brain.GND"),
            net("supply", "supply", "cells.plus", f"brain.{pin}"),
        ],
    )
    bench = switched_on(built(made))
    ground = next(node for node in bench.joined if node[1] == "GND")
    supplied = bench.volts["", "supply"] - bench.volts[ground]
    assert supplied == pytest.approx(volts, abs=0.02)
    assert problems(made)
    assert problems(made, check_nets(built(made)).findings) == ()


def test_rightly_wired_trains_are_let_be() -> None:
    """The good train and every example hold as they are: nothing has to be told."""
    assert problems(changed()) == ()
    for name in example_names():
        assert problems(read_train(name)) == (), name


@pytest.mark.parametrize("pack", ["cells-18650-1", "cells-18650-1-protected", "pouch-103450"])
@pytest.mark.parametrize("charger", sorted(one for one in CATALOGUE if CATALOGUE[one].figure(Charger)))
def test_a_charging_board_that_is_fed_through_its_socket_is_let_be(charger: str, pack: str) -> None:
    """Its pin beside the socket is open, and rightly so; joined to what gives nothing, it is told."""
    lift = {} if charger == "charger-step-up-5v" else {"lift": "regulator-step-up-5v"}
    named = {
        "brain": "controller-compact-5v",
        "cell": pack,
        "charger": charger,
        "switch": "switch-slide",
        **lift,
    }
    made = wired_as_usual({name: CATALOGUE[one] for name, one in named.items()})
    assert not any(PinRef("charger", "in") in one.joins for one in made.nets)
    assert problems(made) == ()
    idle = Net("charging", "supply", (PinRef("charger", "in"), PinRef("brain", "D2")))
    told = {one.message for one in problems(replace(made, nets=(*made.nets, idle))) if one.where == "charger"}
    assert "is fed by nothing, and no stop says so" in told


def test_node_volts_are_those_of_a_ladder() -> None:
    """Two cells in series behind a switch feed a regulator: 3.36 V before it, 5 V behind it, by hand."""
    made = changed(needs=[part("cells", "cells-aa-2"), part("lift", "regulator-step-up-5v")])
    bench = switched_on(built(made))
    ground = bench.volts["", "ground"]
    assert bench.volts["", "on"] - ground == pytest.approx(2 * 1.68, abs=0.01)
    assert bench.volts["", "five"] - ground == pytest.approx(5.0, abs=0.01)
    into: dict[tuple[str, str], float] = {}
    for branch in bench.branches:
        if branch.kind == "copper":
            flow = bench.current_ma(branch)
            into[branch.low] = into.get(branch.low, 0.0) + flow
    # Kirchhoff: what the wires of a net bring is nothing in all.
    assert all(abs(total) < 1e-4 for node, total in into.items() if node[0] == "")


def test_a_branch_of_a_source_gives_its_current() -> None:
    """3 V behind 1 Ω into 1.5 V give 1.5 A."""
    bench = switched_on(built(changed()))
    branch = Branch("x", "source", ("x", "plus"), ("x", "minus"), 1.0, 3.0)
    bench.volts |= {("x", "plus"): 1.5, ("x", "minus"): 0.0}
    assert bench.current_ma(branch) == pytest.approx(1500.0)
