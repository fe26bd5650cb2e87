"""Which supply is taken: one that is emptied goes before one that stays full, where both serve."""

from __future__ import annotations

from dataclasses import replace

from fitplan.planning.suitability import Suitability
from tests.circuit.sample_parts import cells, shuttle


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
