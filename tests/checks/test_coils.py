"""Receiver coils: what their charger takes and how far the sender is, each on both sides of its limit."""

from __future__ import annotations

from dataclasses import replace

import pytest

from fitplan.checks.coils import SENDER, coil_findings
from fitplan.circuit.nodes import read_circuit
from fitplan.model.built import BuiltTrain
from fitplan.model.electrical import Charger, Coil
from fitplan.model.found import Finding
from fitplan.model.needed import Need
from fitplan.model.placed import Placement
from fitplan.model.solids import Place, pose_named
from fitplan.model.wired import Harness
from tests.circuit.sample_parts import net, part, pin
from tests.packing.small_trains import hollow, train_of

COIL = Coil(5.0, 150.0, 3.0)


def told(charge_ma: float = 100.0, above_mm: float = 3.2, *, joined: bool = True) -> list[Finding]:
    """What is said of a coil so far above the underside of a wagon, and a charger that takes so much."""
    wagon = hollow("wagon", 20, 6, 9)
    charger = part("charger", Charger(5.0, charge_ma, True), pins=[pin("in", "charge"), pin("G", "ground")])
    coil = part("coil", COIL, pins=[pin("plus", "plus"), pin("minus", "ground")])
    nets = (
        net("coil", "supply", "coil.plus", "charger.in"),
        net("ground", "ground", "coil.minus", "charger.G"),
    )
    train = train_of((wagon,), tuple(Need(one.id, (one,)) for one in (charger, coil)))
    train = replace(train, nets=nets if joined else nets[1:])
    place = Place(pose_named("+x+y+z"), (40.0, 10.0, wagon.base + above_mm))
    built = BuiltTrain(train, (Placement("coil", coil, "wagon", place, "the body"),), Harness(), ())
    return list(coil_findings("supply", built, read_circuit(train, {})))


@pytest.mark.parametrize(("charge_ma", "too_much"), [(100.0, False), (150.0, False), (151.0, True)])
def test_a_coil_gives_what_its_charger_takes(charge_ma: float, too_much: bool) -> None:
    cautions = [one for one in told(charge_ma) if one.unit == "mA"]
    assert [(one.severity, one.figure, one.limit) for one in cautions] == (
        [("caution", charge_ma, 150.0)] if too_much else []
    )
    assert all("charging current to 150 mA or less" in one.remedy for one in cautions)


@pytest.mark.parametrize(("above_mm", "far"), [(0.0, False), (3.2, False), (3.6, True), (6.4, True)])
def test_a_coil_lies_near_the_underside(above_mm: float, far: bool) -> None:
    """Under it the sender is held: a plate of 3.2 mm lies between, a second one is too much for 3 mm."""
    (found,) = told(above_mm=above_mm)
    assert (found.severity, found.figure) == ("caution" if far else "note", above_mm)
    assert [asked.name for asked in found.add] == ([] if far else [SENDER])


def test_a_coil_that_charges_nothing_is_told_elsewhere() -> None:
    assert told(500.0, 20.0, joined=False) == []
