"""Which parts are taken: what is emptied before what stays full, what no check stops before the rest."""

from __future__ import annotations

from dataclasses import replace

from fitplan.checks.of_parts import stops_of_parts
from fitplan.checks.registry import CHECKS, CheckInput
from fitplan.checks.settings import DEFAULTS
from fitplan.model.built import BuiltTrain
from fitplan.model.found import Finding
from fitplan.model.part import Part
from fitplan.model.wired import Harness
from fitplan.pins.train_circuit import TrainCircuit
from fitplan.planning.refusal import FAILS, RUINS, weight_of
from fitplan.planning.suitability import Suitability
from tests.circuit.sample_parts import LINEAR_5V, STEP_UP_5V, bank, board, cells, shuttle


def test_a_supply_that_stays_full_gives_way_to_one_that_is_emptied() -> None:
    """At the raw pin four AA leave most of their charge, six do not; alone, four are taken all the same."""
    base = shuttle()
    four, six = cells(4), cells(6)

    def why_not(*candidates: int) -> str:
        parts = {4: four, 6: six}
        needs = tuple(
            replace(one, candidates=tuple(parts[i] for i in candidates)) if one.name == "cells" else one
            for one in base.needs
        )
        made = replace(base, needs=needs)
        chosen = {one.name: one.candidates[0] for one in made.needs}
        return Suitability(made).why_not(chosen)

    assert "of its charge would be left; 6 aa alkaline leaves" in why_not(4, 6)
    assert why_not(6, 4) == ""
    assert why_not(4) == ""


def _with(name: str, *candidates: Part) -> Suitability:
    base = shuttle()
    needs = tuple(replace(one, candidates=candidates) if one.name == name else one for one in base.needs)
    return Suitability(replace(base, needs=needs))


def _first(name: str, part: Part) -> dict[str, Part]:
    return {one.name: part if one.name == name else one.candidates[0] for one in shuttle().needs}


def test_cells_that_peaks_are_too_much_for_give_way() -> None:
    """Cells that may give 100 mA are stopped by a check; they are taken only where no others are named."""
    weak, strong = replace(cells(6, max_ma=100.0), id="weak"), replace(cells(6), id="strong")
    assert "peaks of" in _with("cells", weak, strong).why_not(_first("cells", weak))
    assert "not with 6 aa alkaline as cells" in _with("cells", weak, strong).why_not(_first("cells", weak))
    assert _with("cells", weak, strong).why_not(_first("cells", strong)) == ""
    assert _with("cells", weak).why_not(_first("cells", weak)) == ""


def test_bare_lithium_cells_give_way_to_protected_ones() -> None:
    """Two cells without protection are a stop; with their own protection they are none."""
    bare, kept = cells(2, "18650"), replace(cells(2, "18650", protected=True), id="kept")
    assert "no protection circuit" in _with("cells", bare, kept).why_not(_first("cells", bare))
    assert _with("cells", bare, kept).why_not(_first("cells", kept)) == ""


def test_cells_that_strain_a_pin_give_way() -> None:
    """Six fresh cells, 9.6 V and more, at a raw pin made for 9 V that stands 12: five are taken if named."""
    six, five = cells(6), replace(cells(5), id="five")
    for most, told in ((9.0, True), (10.5, False)):
        regulator = replace(LINEAR_5V, in_max_v=most, in_limit_v=12.0)
        base = shuttle(brain=board(regulator=regulator), supply=six)
        for candidates in ((six, five), (six,)):
            needs = tuple(
                replace(one, candidates=candidates) if one.name == "cells" else one for one in base.needs
            )
            made = replace(base, needs=needs)
            why = Suitability(made).why_not({one.name: one.candidates[0] for one in needs})
            assert ("it is made for 9 V; not with 5 aa" in why) == (told and len(candidates) > 1), why
            taken = Suitability(made).why_not({one.name: one.candidates[-1] for one in needs})
            assert taken == ""


def test_parts_give_way_to_two_others_that_only_work_together() -> None:
    """Weak cells at a linear regulator are stopped; two and a step-up are not, but only both together."""
    weak, two = replace(cells(6, max_ma=100.0), id="weak"), cells(2)
    linear, step_up = board("linear"), board("step-up", regulator=STEP_UP_5V)
    base = shuttle()
    lists = {"brain": (linear, step_up), "cells": (weak, two)}
    needs = tuple(replace(one, candidates=lists.get(one.name, one.candidates)) for one in base.needs)
    suits = Suitability(replace(base, needs=needs))

    def why(brain: Part, supply: Part) -> str:
        there = {"brain": brain, "cells": supply}
        return suits.why_not({one.name: there.get(one.name, one.candidates[0]) for one in needs})

    assert why(step_up, two) == ""
    assert why(linear, weak).endswith("not with step up as brain and 2 aa alkaline as cells")
    assert weight_of(why(linear, weak)) < FAILS <= weight_of(why(linear, two)) < RUINS
    assert weight_of(why(step_up, weak)) >= RUINS


def test_cells_that_do_not_last_as_long_as_the_train_runs_give_way() -> None:
    """What runs for fewer hours than the train is to run is a stop, and larger cells are taken."""
    small, large = replace(cells(6, capacity=300.0), id="small"), replace(cells(6), id="large")
    base = shuttle()
    chosen = {one.name: small if one.name == "cells" else one.candidates[0] for one in base.needs}
    for hours, told in ((0.5, False), (3.0, True)):
        needs = tuple(
            replace(one, candidates=(small, large)) if one.name == "cells" else one for one in base.needs
        )
        made = replace(base, needs=needs, running=replace(base.running, hours=hours))
        assert ("runs for" in Suitability(made).why_not(chosen)) is told


def test_what_is_asked_of_parts_alone_is_what_the_checks_say() -> None:
    """The stops of parts are those of a whole run of checks about the same subjects, word for word."""
    told = 0
    for supply in (cells(6), cells(6, max_ma=100.0), cells(2, "18650"), cells(3), bank()):
        for brain in (board(), board(plain=4, current=400.0), board(tolerant=False, logic=3.3)):
            made = shuttle(brain=brain, supply=supply)
            circuit = TrainCircuit.of(made, {})
            asked = CheckInput(BuiltTrain(made, (), Harness(), circuit.pins.uses), (), DEFAULTS, circuit)
            every = [found for check in CHECKS for found in check.run(asked).findings]
            whole = {found for found in every if found.severity == "stop"}
            alone = set(stops_of_parts(made, circuit))
            told += len(alone)
            assert {_bare(f) for f in alone} <= {_bare(f) for f in whole}
            assert {_bare(f) for f in whole if f.subject == "pins"} <= {_bare(f) for f in alone}
    assert told > 8


def _bare(found: Finding) -> Finding:
    """Return a finding without what only a whole run knows: ways to feed the train, and what has a place."""
    return replace(found, remedy="", add=())
