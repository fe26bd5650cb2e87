"""Volts of cells over their charge, beside a general interpolation."""

from __future__ import annotations

import numpy as np
import pytest

from fitplan.circuit.cells import BEHAVIOURS, knots, open_volts, source_of
from fitplan.model.electrical import Bank, CellPack, Chemistry


@pytest.mark.parametrize("chemistry", sorted(name for name, one in BEHAVIOURS.items() if one.charge))
def test_volts_between_bends_lie_on_straight_lines(chemistry) -> None:
    """At and between all bends the volts are those of numpy's interpolation; beyond the ends they stay."""
    known = BEHAVIOURS[chemistry]
    charge = np.unique(np.concatenate([np.linspace(-0.2, 1.2, 141), known.charge]))
    expected = np.interp(np.clip(charge, 0, 1), known.charge, known.volts)
    np.testing.assert_allclose([open_volts(chemistry, s) for s in charge], expected, rtol=1e-12)
    assert knots(chemistry) == known.charge
    assert (np.diff(expected) >= 0).all()


@pytest.mark.parametrize("chemistry", ["alkaline", "nimh", "li-ion"])
def test_beyond_full_and_empty_a_cell_is_full_and_empty(chemistry: Chemistry) -> None:
    """A state of charge outside 0 to 1 counts as the nearest that there is."""
    assert open_volts(chemistry, 1.3) == open_volts(chemistry, 1.0)
    assert open_volts(chemistry, 1.9) == open_volts(chemistry, 1.0)
    assert open_volts(chemistry, -0.2) == open_volts(chemistry, 0.0)


@pytest.mark.parametrize("chemistry", sorted(name for name, one in BEHAVIOURS.items() if one.charge))
def test_charge_falls_as_a_power_of_the_current_between_its_bounds(chemistry: Chemistry) -> None:
    """At the stated load by the stated hours; with the exponent about it; a trickle at the gentlest share."""
    known = BEHAVIOURS[chemistry]
    source = source_of(CellPack(chemistry, "AA", 2, 2000.0, 0.1, 2000.0))
    stated = 2000.0 / known.stated_hours
    assert source.fall(stated) == pytest.approx(1 / known.stated_hours)
    ratio = source.fall(2 * stated) / source.fall(stated)
    assert ratio == pytest.approx(2**known.exponent)
    for trickle in (0.2, 0.9, 1.0, 1.1):
        if (trickle / stated) ** (known.exponent - 1) < known.gentlest:
            assert source.fall(trickle) == pytest.approx(trickle * known.gentlest / 2000.0)
    assert source.fall(0.0) == source.fall(-5.0) == 0.0
    bank = source_of(Bank(5.0, 2000.0, 3.7, 0.85, 2000.0, 50.0))
    whole = 2000.0 * 3.7 * 0.85 / 5.0
    assert [bank.fall(ma) for ma in (-1.0, 0.0, 0.5, 100.0)] == pytest.approx(
        [0.0, 0.0, 0.5 / whole, 100.0 / whole]
    )
    assert bank.open_volts(0.3) == 5.0
    assert bank.resistance(0.3) == 0.0
