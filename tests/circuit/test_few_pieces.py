"""Where only the end of a discharge is asked for, few pieces say what many do."""

from __future__ import annotations

import math

import pytest

from fitplan.circuit.discharge import discharge
from fitplan.circuit.supply import build_supply
from tests.circuit.sample_parts import cells, shuttle


@pytest.mark.parametrize("chemistry", ["alkaline", "nimh", "18650"])
@pytest.mark.parametrize("count", [2, 4, 6])
@pytest.mark.parametrize("ohm", [0.05, 0.5])
def test_the_end_is_found_with_few_pieces(chemistry: str, count: int, ohm: float) -> None:
    """Hours and charge left are those of 400 pieces to a hundred-thousandth, and the same thing gives up."""
    (tree,) = build_supply(shuttle(supply=cells(count, chemistry, 1200, ohm)), {}).trees
    many, few = discharge(tree, pieces=400), discharge(tree, course=False)
    assert math.isclose(few.hours, many.hours, rel_tol=1e-5)
    assert math.isclose(few.left, many.left, rel_tol=1e-5, abs_tol=1e-7)
    assert math.isclose(few.charge_mah, many.charge_mah, rel_tol=1e-5)
    assert (few.failed and few.failed.owner) == (many.failed and many.failed.owner)
