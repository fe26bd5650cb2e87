"""Safety: the cautions that apply, and protection, fuses and room for cells before and after the remedy."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fitplan.checks.safety import TEXTS, check_safety, is_small
from fitplan.model.electrical import CellPack
from fitplan.model.part import Part
from fitplan.model.plan import BuiltTrain, Finding, Harness, Placement
from fitplan.model.solids import Place, pose_named
from fitplan.model.train import Train, TrainVehicle
from fitplan.model.vehicle import BodySolid
from tests.circuit.sample_parts import box, cells, fuse, need, net, part, shuttle, train, vehicle
from tests.circuit.test_leads import wire

HARNESS = Harness((wire(1, "battery", "cells.plus", "brain.VIN", 100.0, 24),))


def run(made: Train, harness: Harness = HARNESS) -> list[Finding]:
    return list(check_safety(BuiltTrain(made, (), harness, ())).findings)


def picked(findings: list[Finding], severity: str, word: str = "") -> list[Finding]:
    return [one for one in findings if one.severity == severity and word in one.message]


def lithium(protected: bool = True) -> Part:
    return cells(2, "li", 2600.0, 0.06, protected=protected)


def fused(made: Train, one: Part) -> Train:
    nets = [entry for entry in made.nets if entry.name != "battery"]
    nets += [net("battery", "supply", "cells.plus", "fuse.a"), net("fused", "supply", "fuse.b", "brain.raw")]
    return replace(made, needs=(*made.needs, need("fuse", one)), nets=tuple(nets))


@pytest.mark.parametrize("caution", [name for name in TEXTS if name != "small-parts"])
def test_each_caution_applies_where_its_part_is(caution: str) -> None:
    """A part with a caution brings that caution, named; without the part it is not there."""
    risky = replace(part("thing", size=(60, 60, 60)), cautions=(caution,))
    base = shuttle()
    plain = [one for one in base.needs if not one.candidates[0].cautions]
    base = replace(base, needs=tuple(plain))
    with_it = replace(base, needs=(*base.needs, need("thing", risky)))
    (found,) = [one for one in run(with_it) if one.message == TEXTS[caution][0]]
    assert found.where == "thing"
    assert not [one for one in run(base) if one.message == TEXTS[caution][0]]


def test_unprotected_lithium_is_a_stop() -> None:
    """Unprotected lithium cells are a stop, protected ones are none."""
    assert picked(run(shuttle(supply=lithium(False))), "stop", "no protection circuit")
    assert not picked(run(shuttle(supply=lithium())), "stop", "no protection circuit")


def test_a_fuse_sized_to_the_wire() -> None:
    """Lithium cells without a fuse are told which one to fit; that one passes, a larger one does not."""
    bare = shuttle(supply=lithium())
    (caution,) = picked(run(bare), "caution", "a short behind")
    assert caution.figure == pytest.approx(1000 * 8.4 / 0.12)
    hold = float(caution.remedy.split("holds ")[1].split(" mA")[0])
    trip = float(caution.remedy.split("trips at ")[1].split(" mA")[0])
    assert hold >= 73
    assert trip == 3500.0
    right = run(fused(bare, fuse(hold, trip)))
    assert not picked(right, "caution", "fuse")
    assert not picked(right, "caution", "a short behind")
    assert picked(run(fused(bare, fuse(hold, trip * 2))), "caution", "the fuse behind")
    assert picked(run(shuttle(supply=lithium(False))), "stop", "a short behind")


def test_a_fuse_after_a_branch_does_not_count() -> None:
    """A fuse that only one of two branches passes leaves the other unprotected."""
    made = fused(shuttle(supply=lithium()), fuse(200.0, 500.0))
    nets = tuple(
        net("battery", "supply", "cells.plus", "fuse.a", "front eyes.VCC") if one.name == "battery" else one
        for one in made.nets
    )
    assert picked(run(replace(made, nets=nets)), "caution", "a short behind")


@given(st.floats(1.0, 80.0), st.floats(1.0, 80.0), st.floats(1.0, 80.0))
@settings(max_examples=60, deadline=None)
def test_small_parts_cylinder(x: float, y: float, z: float) -> None:
    """What counts as small fits upright into a cylinder of 31.7 × 57.1 mm (EN 71-1), however turned."""
    one = part("thing", size=(x, y, z))
    a, b, c = sorted((x, y, z))
    assert is_small(one) == (math.hypot(a, b) <= 31.7 and c <= 57.1)
    assert is_small(one) == is_small(part("thing", size=(z, x, y)))


def test_a_squeezed_pouch_cell() -> None:
    """A pouch cell under a tight beam is a stop; with room to grow it passes."""
    pouch = replace(
        part(
            "pouch-cell", CellPack("li-ion", "pouch 503450", 1, 1000.0, 0.1, 1000.0, True), size=(50, 30, 5)
        ),
        family="pouch",
    )

    def under(height: float) -> list[Finding]:
        beam = BodySolid(box(60, 8, 19.2 + height, 120, 40, 60), "fixed")
        shape = vehicle(body=(*vehicle().body, beam))
        made = train([need("cell", pouch)], [], [TrainVehicle("v", shape)])
        place = Placement("cell", pouch, "v", Place(pose_named("+x+y+z"), (64.0, 9.0, 19.2)), "body")
        return list(check_safety(BuiltTrain(made, (place,), Harness(), ())).findings)

    (stop,) = picked(under(5.1), "stop", "room across")
    assert stop.figure == pytest.approx(0.1, abs=0.01)
    assert stop.limit == pytest.approx(0.4)
    assert not picked(under(5.5), "stop", "room across")
    assert picked(under(5.5), "note", "room across")
