"""Puzzles and whole trains against the models on a few seeds; the commands beside this run many."""

from __future__ import annotations

import pytest

from tests.attack import puzzles, trains


@pytest.mark.parametrize("seed", range(0, 60, 6))
def test_the_engine_agrees_with_an_integer_program(seed: int) -> None:
    """What is solved can be solved, what is refuted cannot, and both are confirmed."""
    engine, model, bad = puzzles.attack(seed)
    assert bad == []
    assert (engine, model) in (("fits", "solved"), ("cannot_fit", "refuted"))


@pytest.mark.parametrize("seed", range(3))
def test_the_joint_decision_agrees_with_an_enumeration(seed: int) -> None:
    """Verdict and least cost of a train are those of all ways to share its parts out."""
    verdict, bad = trains.attack(seed)
    assert bad == []
    assert verdict != "not decided"
