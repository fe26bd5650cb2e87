"""Volts of cells over their charge, beside a general interpolation."""

from __future__ import annotations

import numpy as np
import pytest

from fitplan.circuit.cells import BEHAVIOURS, knots, open_volts
from fitplan.model.electrical import Chemistry


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
