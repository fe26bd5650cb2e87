"""What a wire carries against what its copper bears: its net's current, or that of the load it leads to."""

from __future__ import annotations

from dataclasses import replace

import pytest

from fitplan.model.electrical import CellPack, Load
from fitplan.model.found import Finding
from fitplan.model.plan import Plan
from fitplan.verify.result import Tally
from fitplan.verify.wire_currents import check_bears
from tests.verify.lies import harness_with, placed_with
from tests.verify.two_vehicles import LAMP, plan

SMALL, LARGE = Load(4.5, 5.5, 20.0, 20.0), Load(4.5, 5.5, 300.0, 300.0)
CELLS = CellPack("li-ion", "18650", 1, 2500.0, 0.06, 5000.0)
AWG_28_BEARS_MA = 225.0
"""159 circular mils (ASTM B258) at 711 an ampere are 224 mA."""


def _told(made: Plan, findings: tuple[Finding, ...] = ()) -> list[str]:
    """Return what is said of the lamp's ground, whose net carries 320 mA."""
    sheet = Tally()
    for wire in made.built.harness.wires:
        if any((end.owner, end.pin) == ("lamp", "GND") for end in (wire.start, wire.end)):
            check_bears(made.built, replace(wire, current_ma=320.0, awg=28), findings, sheet)
    return [problem.message for problem in sheet.report().problems]


@pytest.mark.parametrize(
    ("figures", "carried"),
    [((SMALL,), 0.0), ((LARGE,), 300.0), ((), 320.0), ((SMALL, CELLS), 320.0)],
)
def test_what_leads_to_one_load_carries_what_that_draws(figures: tuple[object, ...], carried: float) -> None:
    """A lamp of 20 mA in a net of 320 strains no thin lead; one of 300 does, and what hands current on."""
    made = placed_with(plan(), "lamp", part=replace(LAMP, electrical=figures))
    told = _told(made)
    assert [f"carries {carried:.0f} mA" in one for one in told] == [True] * (carried > AWG_28_BEARS_MA)


def test_two_wires_at_a_pin_may_hand_current_on() -> None:
    """From a pin with a second wire the rest of the net may be fed; and what is told of is no lie."""
    made = placed_with(plan(), "lamp", part=replace(LAMP, electrical=(SMALL,)))
    (wire,) = (
        one
        for one in made.built.harness.wires
        if any((end.owner, end.pin) == ("lamp", "GND") for end in (one.start, one.end))
    )
    twice = harness_with(made, wires=(*made.built.harness.wires, replace(wire, number=99)))
    assert _told(twice)[0].startswith("carries 320 mA; AWG 28 bears 225 mA")
    stop = Finding("wire", "caution", "lamp", "thin", 320.0, 225.0, "mA", "take a thicker wire", "")
    assert not _told(twice, (stop,))
